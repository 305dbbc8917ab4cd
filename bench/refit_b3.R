# refit_b3.R CSV OUT.json  -- checks the JSON that `guardrow-bench b3 --once OUT.json` wrote: lme4 is set to Guardrow's variances
# (no search) and its likelihood, means, standard errors and predictions are compared. One JSON line; exit code 1 beyond tolerance.
suppressPackageStartupMessages({ library(lme4); library(jsonlite) })
files <- commandArgs(TRUE)
d <- read.csv(files[1], colClasses = c("factor", "factor", "factor", "factor", "numeric"))
found <- fromJSON(files[2], simplifyVector = TRUE)
model <- yield ~ 0 + entry + (1|site) + (1|year) + (1|site:year) + (1|site:year:block) + (1|entry:site) + (1|entry:year) +
  (1|entry:site:year)
ours <- setNames(found$variances$variance, c("site", "year", "site:year", "site:year:block", "entry:site", "entry:year", "entry:site:year"))
f <- lFormula(model, data = d, REML = TRUE)
dev <- do.call(mkLmerDevfun, f)
theta <- sqrt(ours[names(f$reTrms$cnms)] / found$residual$variance)
m <- mkMerMod(environment(dev), list(par = theta, fval = dev(theta), conv = 0, message = ""), f$reTrms, f$fr)
V <- as.matrix(vcov(m)); entries <- sub("^entry", "", names(fixef(m)))
means <- do.call(rbind, found$means[entries]); order <- match(entries, found$entries)
sed <- sqrt(pmax(outer(diag(V), diag(V), "+") - 2 * V, 0))
effects <- ranef(m, condVar = FALSE)[["entry:site"]]
names <- as.vector(t(outer(found$entries, found$sites, paste, sep = ":")))
names <- names[names %in% rownames(effects)]   # combinations that occur, numbered by entry, then site
largest <- max(sqrt(diag(V)))
gap <- list(log_likelihood = found$reml_log_likelihood - as.numeric(logLik(m)), residual_sd = sqrt(found$residual$variance) / sigma(m) - 1,
  means = max(abs(means[, 1] - fixef(m))) / largest, se = max(abs(means[, 2] - sqrt(diag(V)))) / largest,
  difference_se = max(abs(found$difference_se[order, order] - sed)) / largest,
  entry_at_site = max(abs(found$entry_at_site - effects[names, 1])) / sqrt(ours[["entry:site"]]))
cat(toJSON(c(list(what = "Guardrow less lme4 at Guardrow's variances", tolerance = 1e-6), gap), auto_unbox = TRUE, digits = 6), "\n", sep = "")
quit("no", status = as.integer(any(abs(unlist(gap)) > 1e-6)))

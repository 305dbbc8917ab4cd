# Golden values for networks of trials: R 4.2.2, lme4, jsonlite. Run in this folder: Rscript make_values.R
# An invented network (written to invented.csv) and two published ones of the folders beside, fitted by lmer with its optimiser run to
# its end. lmer searches without derivatives over relative standard deviations; nothing is shared with crates/inference.
suppressPackageStartupMessages({ library(lme4); library(jsonlite) })
set.seed(20251126)
to_end <- lmerControl(calc.derivs = FALSE, check.conv.singular = "ignore",
  optCtrl = list(xtol_abs = 1e-11, ftol_abs = 0, xtol_rel = 0, ftol_rel = 0, maxeval = 1e5))

d <- expand.grid(entry = sprintf("e%02d", 1:12), block = 1:3, year = 2001:2004, site = paste0("s", 1:6))
effect <- function(sd, ...) { g <- interaction(..., drop = TRUE); rnorm(nlevels(g), 0, sd)[g] }
d$stand <- round(300 + rnorm(nrow(d), 0, 25))
d$yield <- round(5000 + 40 * as.integer(factor(d$entry)) + effect(600, d$site) + effect(300, d$year) + effect(400, d$site, d$year) +
  effect(120, d$site, d$year, d$block) + effect(110, d$entry, d$site) + effect(60, d$entry, d$year) + effect(160, d$entry, d$site, d$year) +
  3 * (d$stand - 300) + rnorm(nrow(d), 0, 250), 1)
# lost: 12 % anywhere, one entry at two sites only, one whole site-year
d <- d[runif(nrow(d)) > 0.12 & !(d$entry == "e07" & !d$site %in% c("s2", "s5")) & !(d$site == "s4" & d$year == 2003), ]
write.csv(d[c("site", "year", "block", "entry", "stand", "yield")], "invented.csv", row.names = FALSE, quote = FALSE)

values <- function(data, what, random, covariate = NULL) {
  data[[what]] <- factor(data[[what]])
  if (!is.null(covariate)) data[[covariate]] <- data[[covariate]] - mean(data[[covariate]])
  call <- paste("yield ~ 0 +", paste(c(what, covariate, paste0("(1|", random, ")")), collapse = " + "))
  m <- lmer(as.formula(call), data = data, REML = TRUE, control = to_end)
  V <- as.matrix(vcov(m)); k <- nlevels(data[[what]])
  sed <- function(a, b) sqrt(V[a, a] + V[b, b] - 2 * V[a, b])
  vc <- as.data.frame(VarCorr(m))
  list(call = call, n = nrow(data), log_likelihood = as.numeric(logLik(m)), evaluations = m@optinfo$feval,
    variances = as.list(setNames(vc$vcov, vc$grp))[c(random, "Residual")],
    classes = levels(data[[what]]), means = unname(fixef(m)[1:k]), se = unname(sqrt(diag(V))[1:k]),
    slope = if (is.null(covariate)) NULL else list(slope = unname(fixef(m)[k + 1]), se = sqrt(V[k + 1, k + 1])),
    difference_se = list(first_second = sed(1, 2), first_last = sed(1, k), second_last = sed(2, k)),
    effects = lapply(setNames(nm = random), function(r) { e <- ranef(m, condVar = FALSE)[[r]]; as.list(setNames(e[[1]], rownames(e))) }))
}
units <- c("site", "year", "site:year", "site:year:block", "entry:site", "entry:year", "entry:site:year")
maize <- read.csv("../maize-hybrids-six-counties/data.csv")
plain <- read.csv("../varieties-sites-years/data.csv")
out <- list(software = list(R = as.character(getRversion()), lme4 = as.character(packageVersion("lme4"))),
  invented = values(d, "entry", units),
  invented_with_stand = values(d, "entry", units, "stand"),
  maize = values(maize, "hybrid", c("county", "county:replicate", "county:replicate:incomplete_block", "hybrid:county")),
  varieties = values(plain, "variety", c("site", "year", "site:year", "site:year:block", "variety:site", "variety:year", "variety:site:year")))
write(toJSON(out, auto_unbox = TRUE, digits = NA, pretty = 1), "expected.json")
for (name in names(out)[-1]) { cat(name, out[[name]]$n, format(out[[name]]$log_likelihood, digits = 12), out[[name]]$evaluations, "\n"); print(unlist(out[[name]]$variances)) }

# Golden values of this folder, for the data of ../varieties-sites-years. R 4.2.2 with nlme: Rscript make_values.R
#
# Varieties in each of six places and seasons (all as they are), blocks within them random, plots with one variance, and with a variance of each site, of each
# year, and of each site in each year.
suppressMessages({library(nlme); library(jsonlite)})
d <- read.csv("../varieties-sites-years/data.csv")
d$e <- factor(paste(d$site, d$year)); d$b <- factor(paste(d$site, d$year, d$block)); d$cell <- factor(paste(d$e, d$variety)); d$s <- factor(d$site); d$yr <- factor(d$year)
control <- lmeControl(msTol = 1e-13, tolerance = 1e-11, msMaxIter = 1000, maxIter = 1000, opt = "nlminb", msMaxEval = 5000)
of <- function(weights, group) {
  m <- lme(yield ~ cell - 1, d, random = ~ 1 | b, weights = weights, method = "REML", control = control)
  w <- if (is.null(group)) 1 else coef(m$modelStruct$varStruct, unconstrained = FALSE, allCoef = TRUE)
  variances <- if (is.null(group)) list(all = m$sigma^2) else as.list((m$sigma * w[levels(d[[group]])])^2)
  b <- fixef(m); V <- vcov(m); v <- sort(unique(d$variety)); at <- function(name) as.numeric(grepl(paste0(" ", name, "$"), names(b))) / 6
  x <- at(v[1]) - at(v[2])
  list(block = as.numeric(getVarCov(m)), variances = variances, reml_loglik = as.numeric(logLik(m)), difference = sum(x * b), se = sqrt(drop(x %*% V %*% x)), between = v[1:2]) }
all <- list(one = of(NULL, NULL), site = of(varIdent(form = ~ 1 | s), "s"), year = of(varIdent(form = ~ 1 | yr), "yr"), both = of(varIdent(form = ~ 1 | e), "e"),
  software = list(R = as.character(getRversion()), nlme = as.character(packageVersion("nlme"))))
write_json(all, "expected.json", digits = 15, auto_unbox = TRUE, pretty = TRUE)

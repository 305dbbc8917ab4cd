# Golden values of this folder, for the data of the folder above. R 4.2.2 with lme4, pbkrtest, nlme: Rscript make_values.R
#
# Compound symmetry (a split plot in time) with lasting blocks, and with blocks that also have effects of their own on every occasion: lme4, with
# Kenward and Roger's tests by pbkrtest of equally weighted means (contrasts that sum to zero, each term against the model without it). Decay over days
# with a variance of each occasion and random blocks: nlme.
suppressMessages({library(lme4); library(pbkrtest); library(nlme); library(jsonlite)})
d <- read.csv("../data.csv"); d$b <- factor(d$block); d$p <- factor(d$plot); d$o <- factor(d$occasion); d$t <- factor(d$treatment)
contrasts(d$o) <- contr.sum(5); contrasts(d$t) <- contr.sum(4)
tight <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10, maxfun = 1e5), check.conv.singular = "ignore")
X <- model.matrix(~ o * t, d); columns <- attr(X, "assign")
cells <- expand.grid(t = levels(d$t), o = levels(d$o)); contrasts(cells$o) <- contr.sum(5); contrasts(cells$t) <- contr.sum(4)
C <- model.matrix(~ o * t, cells)
of <- function(random) {
  m <- lmer(as.formula(paste("y ~ o * t +", random)), d, control = tight)
  treatment_coded <- lmer(as.formula(paste("y ~ o * t +", random)), d, control = tight, contrasts = list(o = "contr.treatment", t = "contr.treatment"))
  test <- function(term) { L <- diag(ncol(X))[columns == term, , drop = FALSE]; k <- KRmodcomp(m, L)$stats; list(f = k$Fstat, den_df = k$ddf) }
  W <- C %*% as.matrix(vcovAdj(m)) %*% t(C); means <- t(sapply(1:4, function(k) as.numeric(as.integer(cells$t) == k) / 5)); M <- means %*% W %*% t(means)
  s <- c(); for (a in 1:3) for (b in (a + 1):4) s <- c(s, sqrt(M[a, a] + M[b, b] - 2 * M[a, b]))
  list(reml_loglik = as.numeric(logLik(treatment_coded)), tests = list(occasion = test(1), treatment = test(2), "occasion x treatment" = test(3)), sed = list(mean = mean(s)))
}
tightl <- lmeControl(msTol = 1e-13, tolerance = 1e-11, msMaxIter = 1000, maxIter = 1000, opt = "nlminb", msMaxEval = 5000)
d$cell <- factor(paste(d$o, d$t)); levels_in_order <- paste(cells$o, cells$t)
d$cell <- factor(d$cell, levels = levels_in_order)
m <- lme(y ~ cell - 1, d, random = ~ 1 | b, correlation = corExp(20, form = ~ day | b/p), weights = varIdent(form = ~ 1 | o), method = "REML", control = tightl)
beta <- unname(fixef(m)); days <- c(0, 7, 21, 35, 63); w <- (days - mean(days)) / sum((days - mean(days))^2)
slopes <- sapply(levels(d$t), function(t) sum(w * beta[cells$t == t]))
chosen <- list(reml_loglik = as.numeric(logLik(m)), means = beta, last_a_minus_d = beta[cells$o == 5 & cells$t == "a"] - beta[cells$o == 5 & cells$t == "d"], slopes = unname(slopes))
version <- function(p) as.character(packageVersion(p))
write_json(list(lasting_blocks = of("(1 | b) + (1 | p)"), blocks_by_occasion = of("(1 | b) + (1 | b:o) + (1 | p)"), chosen = chosen,
  software = list(R = as.character(getRversion()), lme4 = version("lme4"), pbkrtest = version("pbkrtest"), nlme = version("nlme"))),
  "expected.json", digits = 15, auto_unbox = TRUE, pretty = TRUE)

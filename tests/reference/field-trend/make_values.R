# Golden values of this folder. R 4.2.2 with lme4, pbkrtest, nlme: Rscript make_values.R
#
# The field of ../wheat-lattice-spatial with two further models of its ground: rows and columns of the whole field beside the replicates (lme4,
# Kenward and Roger's test by pbkrtest), and lines with cubic smoothing splines, all random (nlme, pdIdent). The spline is written here in
# the form of Green and Silverman's matrices Q and R (Verbyla et al. 1999), not by the integrated random walk that the program works with.
suppressMessages({library(lme4); library(pbkrtest); library(nlme); library(jsonlite)})
d <- read.csv("../wheat-lattice-spatial/data.csv")
d$v <- factor(d$variety); d$r <- factor(d$row); d$c <- factor(d$column); d$rep <- factor(d$replicate)
tight <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10, maxfun = 1e5), check.conv.singular = "ignore")
m <- lmer(yield ~ v + (1 | rep) + (1 | r) + (1 | c), d, control = tight)
m0 <- lmer(yield ~ 1 + (1 | rep) + (1 | r) + (1 | c), d, control = tight)
kr <- KRmodcomp(m, m0)$stats
beta <- c(0, fixef(m)[-1]); V <- as.matrix(vcov(m)); V <- rbind(0, cbind(0, V[-1, -1]))
sed <- function(V) { s <- c(); for (a in 1:24) for (b in (a + 1):25) s <- c(s, sqrt(V[a, a] + V[b, b] - 2 * V[a, b])); list(min = min(s), mean = mean(s), max = max(s)) }
variances <- sapply(VarCorr(m), function(x) x[1])
rows_columns <- list(replicate = unname(variances["rep"]), range = unname(variances["r"]), pass = unname(variances["c"]),
  residual = sigma(m)^2, reml_loglik = as.numeric(logLik(m)), sed = sed(V), sed_kr = sed({W <- as.matrix(vcovAdj(m)); rbind(0, cbind(0, W[-1, -1]))}),
  f = kr$Fstat, den_df = kr$ddf)

standard <- function(x) { x <- x - mean(x); x / sqrt(mean(x^2)) }
spline <- function(x) { n <- length(x); h <- diff(x); Q <- matrix(0, n, n - 2); R <- matrix(0, n - 2, n - 2)
  for (j in 2:(n - 1)) { k <- j - 1; Q[k, k] <- 1 / h[k]; Q[j, k] <- -1 / h[k] - 1 / h[j]; Q[j + 1, k] <- 1 / h[j]; R[k, k] <- (h[k] + h[j]) / 3
    if (k < n - 2) { R[k, k + 1] <- h[j] / 6; R[k + 1, k] <- R[k, k + 1] } }
  Z <- Q %*% solve(crossprod(Q)) %*% t(chol(R)); Z / sqrt(sum(Z^2) / n) }
d$all <- factor(1)
lr <- cbind(standard(1:15)[d$row]); lc <- cbind(standard(1:10)[d$column]); sr <- spline(1:15)[d$row, ]; sc <- spline(1:10)[d$column, ]
Zrep <- model.matrix(~ rep - 1, d)
d$lr <- lr; d$lc <- lc; d$sr <- sr; d$sc <- sc; d$zrep <- Zrep
control <- lmeControl(msTol = 1e-14, tolerance = 1e-12, msMaxIter = 1000, maxIter = 1000, opt = "nlminb", msMaxEval = 5000)
s <- lme(yield ~ v, d, random = list(all = pdBlocked(list(pdIdent(~ zrep - 1), pdIdent(~ lr - 1), pdIdent(~ sr - 1), pdIdent(~ lc - 1), pdIdent(~ sc - 1)))),
  method = "REML", control = control)
psi <- diag(as.matrix(getVarCov(s))); first <- function(k) unname(psi[k])
W <- vcov(s); W <- rbind(0, cbind(0, W[-1, -1]))
smooth <- list(replicate = first(1), line_range = first(7), curve_range = first(8), line_pass = first(21), curve_pass = first(22), residual = s$sigma^2,
  reml_loglik = as.numeric(logLik(s)), sed = sed(W), differences = unname(fixef(s)[-1]))
version <- function(p) as.character(packageVersion(p))
write_json(list(rows_columns = rows_columns, smooth = smooth,
  software = list(R = as.character(getRversion()), lme4 = version("lme4"), pbkrtest = version("pbkrtest"), nlme = version("nlme"))),
  "expected.json", digits = 15, auto_unbox = TRUE, pretty = TRUE)

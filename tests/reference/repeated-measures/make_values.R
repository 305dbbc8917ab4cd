# Data and golden values of this folder. R 4.2.2 with nlme and numDeriv: Rscript make_values.R
#
# An invented trial: four treatments in five blocks, plots visited on five days that are not equally spaced, seven values lost.
# Golden values: nlme with tight tolerances, and REML with dense matrices written out here, whose Kenward-Roger correction
# (1997; with the terms of a covariance that is curved in its parameters and of the bias of their estimates) rests on numerical
# derivatives in variances and correlations themselves, not in the coordinates that the program works in.
suppressMessages({library(nlme); library(numDeriv); library(jsonlite)})
set.seed(7)
days <- c(0, 7, 21, 35, 63)
d <- expand.grid(occasion = 1:5, plot = 1:20)
d$block <- (d$plot - 1) %/% 4 + 1
d$treatment <- c(sapply(1:5, function(b) rep(sample(letters[1:4]), each = 5)))
d$day <- days[d$occasion]
spread <- c(0.8, 1, 1.1, 1.4, 2)[d$occasion]
trend <- c(sapply(1:20, function(p) drop(crossprod(chol(0.97^abs(outer(days, days, "-"))), rnorm(5)))))
d$y <- round(10 + d$occasion * 0.6 + match(d$treatment, letters) * 0.1 * d$occasion + rnorm(5, 0, 0.7)[d$block] +
             spread * (0.8 * trend + rnorm(100, 0, 0.7)), 3)
d <- d[-c(8, 23, 41, 42, 66, 77, 99), ]
write.csv(d[c("block", "plot", "treatment", "occasion", "day", "y")], "data.csv", row.names = FALSE, quote = FALSE)
d$cell <- factor(paste(d$treatment, d$occasion, sep = ":")); d$b <- factor(d$block); d$p <- factor(d$plot); d$o <- factor(d$occasion)

# Comparisons of cell means: two treatments on the last day, two treatments over all days, two days of one treatment
cells <- levels(d$cell)
at <- function(name) as.numeric(cells == name)
over <- function(t) rowMeans(sapply(1:5, function(o) at(paste(t, o, sep = ":"))))
comparisons <- list(last_day = at("a:5") - at("d:5"), all_days = over("a") - over("d"), two_days = at("b:5") - at("b:1"))
of_fit <- function(beta, V) lapply(comparisons, function(w) { i <- seq_along(w); c(estimate = sum(w * beta[i]), plain_se = sqrt(drop(w %*% V[i, i] %*% w))) })

tight <- lmeControl(msTol = 1e-13, tolerance = 1e-11, msMaxIter = 500, maxIter = 500, opt = "nlminb")
tightg <- glsControl(msTol = 1e-13, tolerance = 1e-11, msMaxIter = 500, maxIter = 500)
lmefit <- function(...) lme(y ~ cell - 1, d, ..., method = "REML", control = tight)
m_ar1 <- lmefit(random = ~ 1 | b, correlation = corAR1(0.4, form = ~ occasion | b/p))
m_exp <- lmefit(random = ~ 1 | b, correlation = corExp(20, form = ~ day | b/p))
m_two <- lmefit(random = ~ 1 | b, weights = varIdent(form = ~ 1 | o))
m_both <- gls(y ~ cell - 1 + b, d, correlation = corAR1(0.4, form = ~ occasion | p), weights = varIdent(form = ~ 1 | o), method = "REML", control = tightg)
block_var <- function(m) as.numeric(getVarCov(m))
variances <- function(m) { w <- coef(m$modelStruct$varStruct, unconstrained = FALSE, allCoef = TRUE); as.numeric((m$sigma * w[as.character(1:5)])^2) }
by_nlme <- list(
  autoregression = c(list(block = block_var(m_ar1), variance = m_ar1$sigma^2, rho = unname(coef(m_ar1$modelStruct$corStruct, unconstrained = FALSE)), reml_loglik = as.numeric(logLik(m_ar1))), of_fit(fixef(m_ar1), vcov(m_ar1))),
  decay = c(list(block = block_var(m_exp), variance = m_exp$sigma^2, rho = unname(exp(-1 / coef(m_exp$modelStruct$corStruct, unconstrained = FALSE))), reml_loglik = as.numeric(logLik(m_exp))), of_fit(fixef(m_exp), vcov(m_exp))),
  variance_by_occasion = c(list(block = block_var(m_two), variances = variances(m_two), reml_loglik = as.numeric(logLik(m_two))), of_fit(fixef(m_two), vcov(m_two))),
  autoregression_and_variances = c(list(rho = unname(coef(m_both$modelStruct$corStruct, unconstrained = FALSE)), variances = variances(m_both), reml_loglik = as.numeric(logLik(m_both))), of_fit(coef(m_both), vcov(m_both))))

# REML with dense matrices: V(theta) in variances and correlations
Z <- outer(d$b, d$b, "=="); P <- outer(d$p, d$p, "=="); T <- abs(outer(d$day, d$day, "-")); O <- abs(outer(d$occasion, d$occasion, "-"))
n <- nrow(d)
reml <- function(V, X) { L <- chol(V); Xs <- backsolve(L, X, transpose = TRUE); ys <- backsolve(L, d$y, transpose = TRUE); q <- qr(Xs)
  -0.5 * ((n - ncol(X)) * log(2 * pi) + sum(qr.resid(q, ys)^2) + 2 * sum(log(diag(L))) + 2 * sum(log(abs(diag(qr.R(q)))))) }
kenward_roger <- function(theta, V_of, X) {
  k <- length(theta); V <- V_of(theta); Vi <- solve(V); Phi <- solve(t(X) %*% Vi %*% X); Pm <- Vi - Vi %*% X %*% Phi %*% t(X) %*% Vi
  J <- jacobian(function(z) as.vector(V_of(z)), theta); V1 <- lapply(1:k, function(i) matrix(J[, i], n))
  V2 <- function(i, j) { h <- 1e-4 * pmax(abs(theta), 0.01); e <- function(a, b) { z <- theta; z[i] <- z[i] + a * h[i]; z[j] <- z[j] + b * h[j]; V_of(z) }
    if (i == j) (-e(1, 1) + 16 * e(0.5, 0.5) - 30 * V + 16 * e(-0.5, -0.5) - e(-1, -1)) / (12 * h[i]^2) else (e(1, 1) - e(1, -1) - e(-1, 1) + e(-1, -1)) / (4 * h[i] * h[j]) }
  tr <- function(M) sum(diag(M))
  I <- matrix(0, k, k); for (i in 1:k) for (j in 1:k) I[i, j] <- 0.5 * tr(Pm %*% V1[[i]] %*% Pm %*% V1[[j]])
  W <- solve(I); B <- Vi %*% X; S <- lapply(V1, function(v) t(B) %*% v %*% B)
  inner <- 0; M <- 0
  for (i in 1:k) for (j in 1:k) { inner <- inner + W[i, j] * (t(B) %*% V1[[i]] %*% Vi %*% V1[[j]] %*% B - S[[i]] %*% Phi %*% S[[j]]); M <- M + W[i, j] * V2(i, j) }
  A <- Phi + 2 * Phi %*% inner %*% Phi - 0.5 * Phi %*% t(B) %*% M %*% B %*% Phi
  bias <- -0.25 * drop(W %*% sapply(V1, function(v) tr(Pm %*% v %*% Pm %*% M)))
  for (i in 1:k) A <- A - bias[i] * Phi %*% S[[i]] %*% Phi
  beta <- Phi %*% t(X) %*% Vi %*% d$y
  lapply(comparisons, function(w) { w <- c(w, rep(0, ncol(X) - length(w))); v <- drop(w %*% Phi %*% w); g <- sapply(S, function(s) drop(w %*% Phi %*% s %*% Phi %*% w))
    c(estimate = sum(w * beta), plain_se = sqrt(v), se = sqrt(drop(w %*% A %*% w)), df = 2 * v^2 / drop(g %*% W %*% g)) }) }
dense <- function(start, V_of, X, to, from) { f <- function(z) -reml(V_of(to(z)), X)
  o <- optim(from(start), f, control = list(reltol = 1e-15, maxit = 20000)); o <- nlminb(o$par, f, control = list(rel.tol = 1e-15, x.tol = 1e-12))
  z <- o$par; for (it in 1:4) z <- z - solve(hessian(f, z), grad(f, z))
  c(list(theta = to(z), reml_loglik = -f(z)), kenward_roger(to(z), V_of, X)) }
X <- model.matrix(~ cell - 1, d); Xb <- model.matrix(~ cell - 1 + b, d)
V_decay <- function(t) t[1] * Z + t[2] * P * t[3]^T + t[4] * diag(n)
decay <- dense(c(0.4, 0.6, 0.97, 0.3), V_decay, X, function(z) c(exp(z[1:2]), plogis(z[3]), exp(z[4])), function(t) c(log(t[1:2]), qlogis(t[3]), log(t[4])))
V_both <- function(t) P * t[6]^O * sqrt(outer(t[d$occasion], t[d$occasion]))
both <- dense(c(0.8, 1, 1, 2, 4, 0.4), V_both, Xb, function(z) c(exp(z[1:5]), tanh(z[6])), function(t) c(log(t[1:5]), atanh(t[6])))
stopifnot(abs(both$reml_loglik - by_nlme$autoregression_and_variances$reml_loglik) < 1e-7)
version <- function(p) as.character(packageVersion(p))
write_json(list(cells = cells, nlme = by_nlme, dense = list(decay_and_independent = decay, autoregression_and_variances = both),
  software = list(R = as.character(getRversion()), nlme = version("nlme"), numDeriv = version("numDeriv"))),
  "expected.json", digits = 15, auto_unbox = TRUE, pretty = TRUE)

# Makes the golden values of this folder:  Rscript make_values.R
# Trials are invented and written out below. Golden values: metafor (REML, its search run to its end), Knapp-Hartung not truncated.
suppressPackageStartupMessages({library(metafor); library(jsonlite)})
cases <- list(
  # invented differences of yield, kg/ha
  seven_seasons = list(estimate = c(210, 40, 330, -60, 155, 480, 90), se = c(80, 95, 90, 70, 120, 150, 60), df = c(15, 15, 9, 24, 6, 15, 30)),
  # agree better than their errors: variance at zero, no interval for it, Knapp-Hartung narrower than normal
  close_agreement = list(estimate = c(12.1, 14.9, 13.2, 12.8, 14.1), se = c(4.1, 5.2, 3.9, 4.4, 6.0), df = c(12, 12, 20, 16, 8)),
  # differ as their errors make them
  no_variance_between = list(estimate = c(5.1, 7.9, 3.2, 6.4, 7.8, 4.0), se = c(2.1, 2.4, 1.9, 2.8, 2.2, 2.0), df = c(15, 15, 21, 21, 10, 30)),
  three_sites = list(estimate = c(-3.1, -1.2, -4.9), se = c(0.6, 0.7, 0.9), df = c(18, 18, 18)),
  two_sites = list(estimate = c(1.9, 0.4), se = c(0.5, 0.6), df = c(9, 12)),
  # one trial is known a thousand times better than the rest
  one_exact_trial = list(estimate = c(1.0, 1.9, 0.2, 2.6, 1.4), se = c(0.001, 0.9, 1.1, 0.7, 1.3), df = c(400, 12, 12, 12, 12)),
  # far apart for their errors
  far_apart = list(estimate = c(5, -7, 22, 60, -31, 14, 2, 9, -12, 40), se = rep(c(0.5, 0.8), 5), df = rep(20, 10))
)
joined <- function(y, s, test) rma(y, sei = s, method = "REML", test = test, control = list(threshold = 1e-12 * var(y), maxiter = 100000))
golden <- function(case) {
  y <- case$estimate; s <- case$se; k <- length(y)
  hk <- joined(y, s, "knha"); z <- joined(y, s, "z"); common <- rma(y, sei = s, method = "FE")
  tau <- confint(hk, control = list(tol = 1e-13 * var(y), maxiter = 100000, tau2.max = 1e5 * var(y)))$random["tau^2", ]
  without <- function(i) {
    rest <- joined(y[-i], s[-i], "knha"); plain <- joined(y[-i], s[-i], "z")
    list(estimate = rest$beta[1], se = rest$se, lower = rest$ci.lb, upper = rest$ci.ub, variance = rest$tau2,
         distance = (y[i] - rest$beta[1]) / sqrt(s[i]^2 + rest$tau2 + plain$se^2))
  }
  p <- predict(hk)
  c(case, list(
    joined = list(estimate = hk$beta[1], se = hk$se, lower = hk$ci.lb, upper = hk$ci.ub, p = hk$pval),
    by_own_errors = list(estimate = z$beta[1], se = z$se, lower = z$ci.lb, upper = z$ci.ub),
    common = list(estimate = common$beta[1], se = common$se, lower = common$ci.lb, upper = common$ci.ub),
    # zero at the edge is an exact zero
    between = list(variance = hk$tau2, variance_se = if (hk$tau2 > 0) hk$se.tau2, lower = tau[["ci.lb"]], upper = tau[["ci.ub"]],
      q = hk$QE, q_df = k - 1, q_p = hk$QEp, percent = hk$I2, ratio = hk$H2),
    new_trial = if (k > 2) list(lower = p$pi.lb, upper = p$pi.ub),
    weight = as.numeric(weights(z)) / 100,
    # metafor adds half log|X'X|, which depends on coding
    log_likelihood = as.numeric(logLik(z)) - log(k) / 2,
    without = if (k > 2) lapply(seq_len(k), without)))
}
out <- c(list(software = list(R = as.character(getRversion()), metafor = as.character(packageVersion("metafor")))), lapply(cases, golden))
writeLines(toJSON(out, auto_unbox = TRUE, digits = I(15), null = "null", na = "null"), "expected.json")

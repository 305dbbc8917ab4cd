# ---- Mixed model, with lme4, pbkrtest and emmeans --------------------------------------------------------------------

# REML, searched to the last digit that can be had; a variance at zero is allowed. Remarks of the search are passed over (it
# says when its steps can become no smaller): whether it came to the maximum is seen when the numbers are compared.
fitted_by_reml <- function(formula, data) {
  suppressWarnings(suppressMessages(lmer(formula, data = data, REML = TRUE, control = lmerControl(
    optimizer = "bobyqa", optCtrl = list(rhobeg = 0.2, rhoend = 1e-10, maxfun = 1e5), check.nobs.vs.nlev = "ignore",
    check.nobs.vs.nRE = "ignore", check.nobs.vs.rankZ = "ignore", check.conv.grad = "ignore",
    check.conv.singular = "ignore", check.conv.hess = "ignore", calc.derivs = FALSE))))
}

# Kenward and Roger's F test; covariates have no part in the comparisons.
test_by_model <- function(model, weights) {
  wide <- cbind(weights, matrix(0, nrow(weights), length(fixef(model)) - ncol(weights)))
  found <- KRmodcomp(model, wide)$stats
  c(num_df = found$ndf, den_df = found$ddf, f = found$Fstat, p = found$p.value)
}

# Estimates by emmeans with Kenward and Roger's errors, at the mean of every covariate.
estimates_by_model <- function(cells, weights, level) {
  asked <- stats::setNames(lapply(seq_len(nrow(weights)), function(row) weights[row, ]), seq_len(nrow(weights)))
  found <- as.data.frame(summary(contrast(cells, method = asked), infer = c(FALSE, FALSE)))
  with_intervals(found$estimate, found$SE, found$df, level)
}

covariance_by_model <- function(cells, weights) weights %*% vcov(cells) %*% t(weights)

# The same without Kenward and Roger's correction.
plain_covariance_by_model <- function(model, cells, weights) {
  weights <- weights %*% cells@linfct
  as.matrix(weights %*% vcov(model) %*% t(weights))
}

slope_by_model <- function(model, column) {
  picked <- matrix(as.numeric(names(fixef(model)) == column), 1)
  found <- KRmodcomp(model, picked)$stats
  estimate <- fixef(model)[[column]]
  unlist(with_intervals(estimate, abs(estimate) / sqrt(found$Fstat), found$ddf, 0.05))
}

# ---- Against a control -----------------------------------------------------------------------------------------------

# Dunnett's p from the multivariate t, two-sided, for one number of degrees of freedom.
dunnett_p <- function(t, correlation, df) {
  vapply(abs(t), function(limit) {
    inside <- pmvt(lower = rep(-limit, length(t)), upper = rep(limit, length(t)), df = round(df), corr = correlation,
                   algorithm = GenzBretz(maxpts = 1e6, abseps = 1e-6))
    1 - as.numeric(inside)
  }, 0)
}

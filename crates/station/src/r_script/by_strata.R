# ---- Analysis by strata, in base R -----------------------------------------------------------------------------------

# y: the values; cell: the mean that each belongs to; units: the groups of plots, large ones first; x: covariates.
# A stratum is what the units of one kind have beyond all larger ones. Its error is what the means leave of it.
by_strata <- function(y, cell, units, x = NULL) {
  n <- length(y)
  means <- outer(as.integer(cell), seq_len(nlevels(cell)), "==") + 0
  groups <- c(units, list(Within = factor(seq_len(n))))
  members <- lapply(groups, function(group) outer(as.integer(group), seq_len(nlevels(group)), "==") + 0)
  base <- matrix(1 / sqrt(n), n, 1)
  parts <- list()
  for (name in names(groups)) {
    left <- members[[name]]
    for (twice_for_rounding in 1:2) left <- left - base %*% crossprod(base, left)
    left[abs(left) < 1e-9] <- 0
    divided <- qr(left)
    parts[[name]] <- qr.Q(divided)[, seq_len(divided$rank), drop = FALSE]
    base <- cbind(base, parts[[name]])
  }
  # What lies in a stratum, less what the means explain of it there. In an orthogonal layout the singular values are 0 or 1.
  scaled <- means %*% diag(1 / sqrt(colSums(means)), ncol(means))
  of_means <- lapply(parts, function(part) {
    within <- svd(crossprod(part, scaled))
    within$u[, within$d > 1e-6, drop = FALSE]
  })
  beyond_means <- function(name, values) {
    inside <- crossprod(parts[[name]], values)
    inside - of_means[[name]] %*% crossprod(of_means[[name]], inside)
  }
  slopes <- numeric(0)
  offset <- matrix(0, nlevels(cell), 0)
  spread <- matrix(0, 0, 0)
  if (!is.null(x)) {
    x <- sweep(as.matrix(x), 2, colMeans(x))
    offset <- crossprod(means, x) / colSums(means)
    left_x <- beyond_means("Within", x)
    spread <- solve(crossprod(left_x))
    slopes <- drop(spread %*% crossprod(left_x, beyond_means("Within", y)))
    y <- y - drop(x %*% slopes)
  }
  error <- vapply(names(parts), function(name) {
    df <- ncol(parts[[name]]) - ncol(of_means[[name]]) - if (name == "Within") length(slopes) else 0
    c(df = df, ss = sum(beyond_means(name, y)^2))
  }, c(df = 0, ss = 0))
  # What each mean square is expected to be, in the variances of the units.
  expectation <- vapply(members, function(member) {
    vapply(names(parts), function(name) {
      left <- if (error["df", name] > 0) beyond_means(name, member) else crossprod(parts[[name]], member)
      rank <- ncol(parts[[name]]) - if (error["df", name] > 0) ncol(of_means[[name]]) else 0
      sum(left^2) / rank
    }, 0)
  }, numeric(length(parts)))
  list(
    estimates = drop(crossprod(means, y)) / colSums(means), offset = offset, slopes = slopes, spread = spread,
    df = error["df", ], ss = error["ss", ], names = names(parts), at_means = means %*% diag(1 / colSums(means), ncol(means)),
    members = members, expectation = matrix(expectation, length(parts))
  )
}

# Estimates with their errors. The variance of a comparison is a sum of the strata's mean squares; where it takes more than
# one, its degrees of freedom are Satterthwaite's.
estimates_by_strata <- function(fit, weights, level) {
  squares <- fit$ss / fit$df
  at_plots <- fit$at_means %*% t(weights)
  of_units <- vapply(fit$members, function(member) colSums(crossprod(member, at_plots)^2), numeric(nrow(weights)))
  shares <- t(solve(t(fit$expectation), t(matrix(of_units, nrow(weights)))))
  shares[abs(shares) < 1e-9 * apply(abs(shares), 1, max)] <- 0
  moved <- weights %*% fit$offset
  if (ncol(moved) > 0) shares[, ncol(shares)] <- shares[, ncol(shares)] + rowSums((moved %*% fit$spread) * moved)
  # A stratum without degrees of freedom has no mean square; what needs it has no error.
  parts <- ifelse(shares == 0, 0, sweep(shares, 2, ifelse(fit$df > 0, squares, NA), "*"))
  parts <- matrix(parts, nrow(weights))
  variance <- rowSums(parts)
  df <- variance^2 / rowSums(ifelse(parts == 0, 0, sweep(parts^2, 2, fit$df, "/")))
  se <- sqrt(ifelse(variance > 0, variance, NA))
  with_intervals(drop(weights %*% fit$estimates), se, df, level)
}

# The F test of several comparisons that all have the same error.
test_by_strata <- function(fit, weights, level) {
  single <- estimates_by_strata(fit, weights, level)
  if (max(abs(single$df - single$df[1])) > 1e-6 * single$df[1]) stop("these comparisons lie in several strata")
  b <- single$estimate
  f <- drop(b %*% solve(covariance_by_strata(fit, weights), b)) / length(b)
  c(num_df = length(b), den_df = single$df[1], f = f, p = pf(f, length(b), single$df[1], lower.tail = FALSE))
}

# Covariances of comparisons, from the variances of the units (below zero too, where the mean squares put them there).
covariance_by_strata <- function(fit, weights) {
  at_plots <- fit$at_means %*% t(weights)
  variances <- solve(fit$expectation, ifelse(fit$df > 0, fit$ss / fit$df, 0))
  covariance <- matrix(0, nrow(weights), nrow(weights))
  for (unit in seq_along(fit$members)) {
    covariance <- covariance + variances[unit] * crossprod(crossprod(fit$members[[unit]], at_plots))
  }
  moved <- weights %*% fit$offset
  last <- length(fit$df)
  if (ncol(moved) > 0) covariance <- covariance + (fit$ss / fit$df)[last] * moved %*% fit$spread %*% t(moved)
  covariance
}

slope_by_strata <- function(fit, index) {
  last <- length(fit$df)
  se <- sqrt(fit$spread[index, index] * fit$ss[[last]] / fit$df[[last]])
  unlist(with_intervals(fit$slopes[[index]], se, fit$df[[last]], 0.05))
}

with_intervals <- function(estimate, se, df, level) {
  half <- qt(1 - level / 2, df) * se
  data.frame(estimate, se, df, lower = estimate - half, upper = estimate + half, p = 2 * pt(-abs(estimate / se), df))
}

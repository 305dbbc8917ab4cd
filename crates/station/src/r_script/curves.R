# ---- Curves over amounts, in base R ----------------------------------------------------------------------------------

# A curve goes through means by generalised least squares. Once its bend is fixed (a join, a rate, a midpoint and a scale) it is
# a weighted sum of columns, so that only the bend has to be searched: over a grid, then down to the last digit.

# Columns of a form at the amounts x; `low` is the lowest of them.
columns_of <- function(form, bend, x, low) {
  one <- rep(1, length(x))
  switch(form,
    "no response" = cbind(one),
    "linear" = cbind(one, x),
    "quadratic" = cbind(one, x, x^2),
    "linear-plateau" = cbind(one, pmin(x, bend)),
    "quadratic-plateau" = cbind(one, pmax(bend - x, 0)^2),
    "exponential (Mitscherlich)" = cbind(1 - exp(-bend * (x - low)), exp(-bend * (x - low))),
    "logistic" = cbind(1 - plogis((x - bend[1]) / bend[2]), plogis((x - bend[1]) / bend[2])),
    "logistic from zero" = cbind(plogis((x - bend[1]) / bend[2])),
    "broken line" = cbind(one, pmin(x - bend, 0), pmax(x - bend, 0)),
    stop("no such form: ", form)
  )
}

# Grids of bends in which each is sought, in amounts; the best lies between two neighbours of a grid.
bends_of <- function(form, amounts) {
  low <- min(amounts)
  width <- max(amounts) - low
  fine <- function(from, to) sort(unique(c(amounts[amounts >= from & amounts <= to], seq(from, to, length.out = 400))))
  switch(form,
    "linear-plateau" = list(fine(amounts[2], max(amounts))),
    "quadratic-plateau" = list(sort(low + 1 / seq(1 / (20 * width), 1 / (amounts[2] - low), length.out = 800))),
    "broken line" = list(fine(amounts[2], amounts[length(amounts) - 1])),
    "exponential (Mitscherlich)" = list(exp(seq(log(0.01), log(14 * width / (amounts[2] - low)), length.out = 400)) / width),
    "logistic" = , "logistic from zero" = list(
      seq(low - width / 2, max(amounts) + width / 2, length.out = 90),
      width * exp(seq(log(min(diff(amounts)) / width / 12), log(1.5), length.out = 60))
    ),
    list()
  )
}

# Derivatives of a form in its parameters, a join's from below it: those of the columns, and those of the bend.
slopes_of <- function(form, theta, x, low) {
  linear <- length(theta) - switch(form, "logistic" = , "logistic from zero" = 2, "no response" = , "linear" = ,
                                   "quadratic" = 0, 1)
  bend <- theta[-seq_len(linear)]
  at <- if (length(bend) == 2) (x - bend[1]) / bend[2]
  turn <- function(rise) rise * dlogis(at) / bend[2]
  cbind(columns_of(form, bend, x, low), switch(form,
    "linear-plateau" = ifelse(x <= bend, 0, theta[2]),
    "quadratic-plateau" = 2 * theta[2] * pmax(bend - x, 0),
    "exponential (Mitscherlich)" = (theta[1] - theta[2]) * (x - low) * exp(-bend * (x - low)),
    "logistic" = -turn(theta[2] - theta[1]) * cbind(1, at),
    "logistic from zero" = -turn(theta[1]) * cbind(1, at),
    "broken line" = -ifelse(x <= bend, theta[2], theta[3])
  ))
}

# One form through the means y at the amounts x, with the covariance v of the means.
# Gives its parameters, the weights of the means that each is made of, what is left and its sum of squares.
curve_through <- function(form, x, y, v) {
  inward <- backsolve(chol(v), diag(length(y)), transpose = TRUE)
  low <- min(x)
  weights_at <- function(bend) qr.coef(qr(inward %*% columns_of(form, bend, x, low)), inward %*% y)
  squares_at <- function(bend) sum(qr.resid(qr(inward %*% columns_of(form, bend, x, low)), inward %*% y)^2)
  grids <- bends_of(form, sort(unique(x)))
  bend <- numeric(0)
  if (length(grids) > 0) {
    at <- as.matrix(expand.grid(grids))
    best <- which.min(apply(at, 1, squares_at))
    bend <- unname(at[best, ])
    # Between two tested amounts the sum of squares is smooth; at one of them it may have its least, in a kink.
    for (side in list(c(best - 1, best), c(best, best + 1))) {
      if (length(grids) > 1 || side[1] < 1 || side[2] > nrow(at)) next
      found <- optimize(squares_at, at[side], tol = 1e-12 * diff(range(x)))
      if (found$objective < squares_at(bend)) bend <- found$minimum
    }
  }
  theta <- c(weights_at(bend), bend)
  left <- function(theta) {
    many <- length(theta) - length(bend)
    drop(inward %*% (y - columns_of(form, theta[-seq_len(many)], x, low) %*% theta[seq_len(many)]))
  }
  # Newton's steps of least squares find the last digits of a bend.
  for (step in seq_len(if (length(bend) > 0) 200 else 0)) {
    moved <- qr.coef(qr(inward %*% slopes_of(form, theta, x, low)), left(theta))
    size <- 1
    while (size > 1e-9 && !isTRUE(sum(left(theta + size * moved)^2) <= sum(left(theta)^2))) size <- size / 2
    if (size <= 1e-9) break
    theta <- theta + size * moved
  }
  slopes <- inward %*% slopes_of(form, theta, x, low)
  free <- qr.Q(qr(slopes), complete = TRUE)[, -seq_along(theta), drop = FALSE]
  list(form = form, low = low, theta = unname(theta), squares = sum(left(theta)^2), points = length(x),
       made_of = solve(crossprod(slopes), crossprod(slopes, inward)), left_of = crossprod(free, inward))
}

# The amount of which one unit more brings `ratio` units of the response, where the curve is highest.
best_amount <- function(form, theta, low, ratio) {
  upper_turn <- function(rise, midpoint, scale) {
    share <- 1 / 2 + sqrt(1 / 4 - ratio * scale / rise)
    midpoint + scale * log(share / (1 - share))
  }
  switch(form,
    "quadratic" = (ratio - theta[2]) / (2 * theta[3]),
    "linear-plateau" = theta[3],
    "quadratic-plateau" = theta[3] + ratio / (2 * theta[2]),
    "exponential (Mitscherlich)" = low + log((theta[1] - theta[2]) * theta[3] / ratio) / theta[3],
    "logistic" = upper_turn(theta[2] - theta[1], theta[3], theta[4]),
    "logistic from zero" = upper_turn(theta[1], theta[2], theta[3]),
    "broken line" = theta[4],
    stop("no best amount on a curve of the form ", form)
  )
}

# Derivatives of the best amount in the curve's parameters, by differences of four points.
best_amount_moves <- function(curve, ratio) {
  vapply(seq_along(curve$theta), function(of) {
    step <- 1e-3 * max(abs(curve$theta[of]), 1e-12)
    at <- function(times) best_amount(curve$form, replace(curve$theta, of, curve$theta[of] + times * step), curve$low, ratio)
    (8 * (at(1) - at(-1)) - (at(2) - at(-2))) / (12 * step)
  }, 0)
}

# `estimates` turns weights of cells into estimates with their errors; `weights` are those of the means that the curve goes through.
compare_curve <- function(measure, of, curve, weights, estimates, allowed) {
  part <- "curves"
  found <- estimates(curve$made_of %*% weights)
  compare(measure, part, of, "parameter", curve$theta, allowed, found$se)
  compare(measure, part, of, "SE", found$se, allowed)
  compare(measure, part, of, "df", found$df, 10 * allowed)
  compare(measure, part, of, "sum of squares about it", curve$squares, 10 * allowed, 1)
}

compare_best_amount <- function(measure, of, curve, ratio, weights, estimates, allowed) {
  part <- "best amounts"
  found <- estimates(matrix(best_amount_moves(curve, ratio), 1) %*% curve$made_of %*% weights)
  compare(measure, part, of, "amount", best_amount(curve$form, curve$theta, curve$low, ratio), allowed, found$se)
  compare(measure, part, of, "SE", found$se, allowed)
  compare(measure, part, of, "df", found$df, 10 * allowed)
}

# What a curve leaves of the differences between the means, which all have one error.
compare_lack_of_fit <- function(measure, of, curve, weights, estimates, allowed) {
  df <- estimates(curve$left_of %*% weights)$df
  left <- length(df)
  if (diff(range(df)) > 1e-6 * df[1]) stop("what is left of ", of, " lies in several strata")
  f <- curve$squares / left
  found <- c(num_df = left, den_df = df[1], f = f, p = pf(f, left, df[1], lower.tail = FALSE))
  compare_test(measure, "lack of fit of curves", of, found, allowed)
}

# Akaike's criterion corrected for few observations, up to what all curves through these means share.
compare_criterion <- function(measure, of, curve, weights, estimates, allowed) {
  df <- estimates(differences(weights))$df
  parameters <- length(curve$theta) + 1
  n <- df[1] + curve$points
  here <- n * log1p(curve$squares / df[1]) + 2 * parameters * n / (n - parameters - 1)
  compare(measure, "curves", of, "criterion", here, 10 * allowed, 1)
}

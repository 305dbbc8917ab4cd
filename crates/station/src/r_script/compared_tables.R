# ---- What is compared in a section -----------------------------------------------------------------------------------

# How far numbers may be apart. Sums of squares differ by rounding alone. What rests on variances by REML differs by how near
# the two searches came to the maximum, where the likelihood is flat: half as many digits. The multivariate t is integrated
# numerically, to an absolute error.
rounding <- 1e-8
search <- 1e-5
integration <- 1e-4
# A bend of a curve is searched for too, on a sum of squares that is flat at its least.
bending <- 1e-6
# range_p below is good to so much.
error_of_range_p <- 1e-9

# A small p takes up many times the relative difference of the F that it comes from. `error` is what R's own function for the
# p may be off by.
compare_p <- function(measure, part, of, number, here, allowed, error = 1e-15) {
  relative <- 20 * allowed * (1 + abs(log(pmax(here, 1e-300))))
  compare(measure, part, of, number, here, relative, error / relative)
}

compare_test <- function(measure, part, of, found, allowed) {
  compare(measure, part, of, "numerator df", found[["num_df"]], 1e-12)
  compare(measure, part, of, "denominator df", found[["den_df"]], 10 * allowed)
  compare(measure, part, of, "F", found[["f"]], allowed, 1e-6)
  compare_p(measure, part, of, "p", found[["p"]], allowed)
}

compare_estimates <- function(measure, part, of, found, allowed) {
  compare(measure, part, of, "estimate", found$estimate, allowed, found$se)
  compare(measure, part, of, "SE", found$se, allowed)
  compare(measure, part, of, "df", found$df, 10 * allowed)
  compare(measure, part, of, "lower", found$lower, allowed, found$se)
  compare(measure, part, of, "upper", found$upper, allowed, found$se)
}

compare_differences <- function(measure, of, found, means, allowed) {
  part <- "differences"
  compare_estimates(measure, part, of, found, allowed)
  compare_p(measure, part, of, "p", found$p, allowed)
  ranges <- abs(found$estimate / found$se) * sqrt(2)
  compare_p(measure, part, of, "p by Tukey", range_p(ranges, means, found$df), allowed, error_of_range_p)
  compare_p(measure, part, of, "p by Holm", p.adjust(found$p, "holm"), allowed)
  lsd <- (found$upper - found$lower) / 2
  compare(measure, part, of, "LSD", c(min(lsd), mean(lsd), max(lsd)), allowed)
}

compare_with_control <- function(measure, of, found, allowed) {
  part <- "against a control"
  compare(measure, part, of, "estimate", found$estimate, allowed, found$se)
  compare(measure, part, of, "SE", found$se, allowed)
  compare(measure, part, of, "df", found$df, 10 * allowed)
  compare_p(measure, part, of, "p", found$p, allowed)
}

compare_trend <- function(measure, of, found, allowed) {
  part <- "trends"
  compare(measure, part, of, "estimate", found$estimate, allowed, found$se)
  compare(measure, part, of, "SE", found$se, allowed)
  compare(measure, part, of, "df", found$df, 10 * allowed)
  compare_p(measure, part, of, "p", found$p, allowed)
}

compare_slope <- function(measure, of, found, allowed) {
  part <- "slopes"
  compare(measure, part, of, "slope", found[["estimate"]], allowed, found[["se"]])
  compare(measure, part, of, "SE", found[["se"]], allowed)
  compare(measure, part, of, "df", found[["df"]], 10 * allowed)
  compare_p(measure, part, of, "p", found[["p"]], allowed)
}

compare_rows <- function(measure, of, found, allowed) {
  part <- "analysis of variance"
  compare(measure, part, of, "df", found$df, 1e-12)
  compare(measure, part, of, "SS", found$ss, allowed, 1e-6 * sum(found$ss))
  compare(measure, part, of, "F", found$f, allowed, 1e-6)
  compare_p(measure, part, of, "p", found$p, allowed)
}

# Rows of one stratum of what summary(aov()) gives; R may name the parts of an interaction in another order.
rows_of <- function(anova, stratum, sources) {
  table <- if (inherits(anova, "summary.aov")) anova[[1]] else anova[[paste("Error:", stratum)]][[1]]
  in_order <- function(names) vapply(strsplit(trimws(names), ":"), function(it) paste(sort(it), collapse = ":"), "")
  rows <- match(in_order(sources), in_order(rownames(table)))
  if (anyNA(rows)) stop("aov has no row ", sources[is.na(rows)][1], " in ", stratum)
  column <- function(name) if (name %in% names(table)) table[rows, name] else rep(NA_real_, length(rows))
  data.frame(df = column("Df"), ss = column("Sum Sq"), f = column("F value"), p = column("Pr(>F)"))
}

test_of_row <- function(anova, source) {
  row <- anova[source, ]
  c(num_df = row[["Df"]], den_df = anova["Residuals", "Df"], f = row[["F value"]], p = row[["Pr(>F)"]])
}

# Plots with the same labels together, the groups in the order in which they are met.
together <- function(...) {
  code <- do.call(paste, c(lapply(list(...), as.integer), sep = "."))
  factor(code, levels = unique(code))
}

# The level of a factor or, for a control, which has none, the control itself.
or_control <- function(level, treatment) ifelse(is.na(level), nlevels(level) + as.integer(treatment), as.integer(level))

# Upper tail of the studentised range. R's own ptukey is off by up to some 1e-6 with few degrees of freedom or many means, so
# the two integrals are taken here by the trapezoidal rule, which for such smooth functions is good to the last digits: the
# range of normal values first, then over the distribution of their standard deviation on a scale of logarithms.
range_p <- function(ranges, means, df) {
  z <- seq(-8.6, 8.6, by = 0.04)
  width <- seq(0, 24, by = 0.01)
  below <- pnorm(z)^(means - 1)
  tail <- vapply(width, function(w) 0.04 * means * sum(dnorm(z) * (below - (pnorm(z) - pnorm(z - w))^(means - 1))), 0)
  of_normal <- splinefun(width, tail)
  mapply(function(range, df) {
    u <- seq(-36 / df - 9 / sqrt(2 * df), log(1 + 9 / sqrt(df)), length.out = 2000)
    density <- exp(log(2) + df / 2 * log(df / 2) - lgamma(df / 2) + df * u - df * exp(2 * u) / 2)
    reached <- range * exp(u)
    sum(density * ifelse(reached < 24, of_normal(pmin(reached, 24)), 0)) * (u[2] - u[1])
  }, ranges, df)
}

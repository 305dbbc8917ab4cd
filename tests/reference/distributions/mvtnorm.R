# Writes mvtnorm.csv: the largest absolute and the largest of t statistics, treatments against a control, in layouts whose correlations are
# not of product form, by mvtnorm's pmvt; and ptukey.csv: upper tails of the studentised range by R's own ptukey and, since that misses by up
# to 3e-7 for many means, by R's integrate() over the largest mean within integrate() over the deviation.
#
#     Rscript mvtnorm.R        # versions stand in the first line of either file
#
# The layouts: blocks as fixed, one plot of each of `treatments` treatments in each of some blocks, all but the named plots there. The
# correlations of the differences from treatment 1 follow by least squares. `error` is pmvt's own estimate (99 %).
library(mvtnorm)
set.seed(20311101)

correlations <- function(block, treatment) {
  x <- cbind(model.matrix(~ factor(treatment)), model.matrix(~ factor(block))[, -1])
  v <- solve(crossprod(x))
  k <- max(treatment)
  cov2cor(v[2:k, 2:k])
}

blocks <- function(b, k, lost) {
  layout <- expand.grid(treatment = 1:k, block = 1:b)
  layout[-lost, ]
}

layouts <- list(
  blocks(3, 4, c(1, 6, 11)),
  blocks(4, 6, c(2, 9, 10, 23)),
  data.frame(block = rep(1:10, each = 3), treatment = c(1,2,3, 4,5,6, 7,8,9, 1,4,7, 2,5,8, 3,6,9, 1,5,9, 2,6,7, 3,4,8, 1,2,9)),
  data.frame(block = rep(1:5, each = 3), treatment = c(1,2,3, 3,4,5, 5,6,1, 2,4,6, 1,3,6))
)

precise <- GenzBretz(maxpts = 4e6, abseps = 1e-6, releps = 0)
out <- data.frame()
for (layout in layouts) {
  r <- correlations(layout$block, layout$treatment)
  m <- nrow(r)
  lower <- paste(sprintf("%.17g", r[lower.tri(r)]), collapse = ";")
  for (df in c(7, 40)) for (t in c(1.4, 2.6)) for (two in c(TRUE, FALSE)) {
    p <- pmvt(lower = rep(if (two) -t else -Inf, m), upper = rep(t, m), df = df, corr = r, algorithm = precise)
    out <- rbind(out, data.frame(sides = if (two) 2 else 1, point = t, df = df, comparisons = m, lower_triangle = lower,
                                 upper = sprintf("%.17g", 1 - p), error = sprintf("%.3g", attr(p, "error"))))
  }
}
head <- sprintf("# made by mvtnorm.R with %s, mvtnorm %s", R.version.string, packageVersion("mvtnorm"))
writeLines(head, "mvtnorm.csv")
suppressWarnings(write.table(out, "mvtnorm.csv", append = TRUE, sep = ",", row.names = FALSE, quote = FALSE))

grid <- expand.grid(point = c(1.2, 2.9, 3.7, 4.8, 7), df = c(2, 5, 12.5, 60, Inf), means = c(3, 5, 10, 25, 60))
grid$upper <- sprintf("%.17g", mapply(function(q, d, k) ptukey(q, k, d, lower.tail = FALSE), grid$point, grid$df, grid$means))
over <- function(f, edges) {
  sum(mapply(function(a, b) integrate(f, a, b, rel.tol = 1e-10, abs.tol = 1e-14, stop.on.error = FALSE)$value, head(edges, -1), tail(edges, -1)))
}
known <- function(w, k) {
  one <- function(w) k * over(function(u) dnorm(u) * (pnorm(u)^(k - 1) - (pnorm(u) - pnorm(u - w))^(k - 1)), c(-8, 0, 2, 4, 9, max(10, w / 2 + 9)))
  vapply(w, one, 0)
}
integrated <- function(q, k, df) {
  if (is.infinite(df)) return(known(q, k))
  density <- function(s) exp(log(2) + df / 2 * log(df / 2) - lgamma(df / 2) + (df - 1) * log(s) - df * s^2 / 2)
  edges <- sqrt(qchisq(c(0, 1e-6, 0.05, 0.5, 0.95, 1 - 1e-6), df) / df)
  over(function(s) density(s) * known(q * s, k), c(edges, tail(edges, 1) + 6 / sqrt(df)))
}
grid$integrated <- sprintf("%.17g", mapply(integrated, grid$point, grid$means, grid$df))
writeLines(head, "ptukey.csv")
suppressWarnings(write.table(grid, "ptukey.csv", append = TRUE, sep = ",", row.names = FALSE, quote = FALSE))

# Intervals of fitted curves at single amounts. R 4.2.2 with jsonlite. Run in this folder: Rscript bands.R
# predict() gives them for lm(); for nls() they are the derivatives at the estimate with vcov(); for means of randomised blocks they
# are put together from the two mean squares of aov(), the level from blocks and the slope from plots within blocks.
suppressPackageStartupMessages(library(jsonlite))
uneven <- read.csv("uneven.csv")
at <- seq(0, 140, length.out = 5)
tight <- nls.control(maxiter = 500, tol = 3e-8, minFactor = 1e-12)
q <- predict(lm(yield ~ amount + I(amount^2), uneven), data.frame(amount = at), se.fit = TRUE, interval = "confidence")
quadratic <- data.frame(amount = at, value = q$fit[, "fit"], se = q$se.fit, lower = q$fit[, "lwr"], upper = q$fit[, "upr"])
of_nls <- function(model, gradient) {
  p <- coef(model); g <- gradient(at, p); se <- sqrt(rowSums((g %*% vcov(model)) * g)); t <- qt(0.975, df.residual(model))
  value <- predict(model, data.frame(amount = at))
  data.frame(amount = at, value = as.numeric(value), se = se, lower = as.numeric(value) - t * se, upper = as.numeric(value) + t * se)
}
expo <- deriv(~ A + (S - A) * exp(-k * x), c("A", "S", "k"), function(x, A, S, k) NULL)
e <- nls(yield ~ expo(amount, A, S, k), uneven, start = list(A = 9, S = 5, k = 0.03), control = tight)
exponential <- of_nls(e, function(x, p) cbind(1 - exp(-p[3] * x), exp(-p[3] * x), -x * (p[2] - p[1]) * exp(-p[3] * x)))
blocks <- read.csv("blocks.csv")
table <- summary(aov(plateau ~ amount + factor(amount) + Error(factor(block)), blocks))
ms_block <- table[[1]][[1]][["Mean Sq"]][1]
ms_plot <- tail(table[[2]][[1]][["Mean Sq"]], 1)
rates <- sort(unique(blocks$amount)); x <- seq(0, 180, length.out = 5)
means <- tapply(blocks$plateau, blocks$amount, mean)
linear <- data.frame(amount = x, value = as.numeric(predict(lm(means ~ rates), data.frame(rates = x))),
  se = sqrt(ms_block / nrow(blocks) + (x - mean(rates))^2 * ms_plot / (4 * sum((rates - mean(rates))^2))))
write_json(list(software = list(R = paste(R.version$major, R.version$minor, sep = ".")), quadratic = quadratic, exponential = exponential,
  linear_of_blocks = linear), "bands.json", digits = 15, auto_unbox = TRUE, pretty = TRUE)

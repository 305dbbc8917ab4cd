# Data and golden values for response curves. R 4.2.2 with nlme, lme4, pbkrtest, emmeans, jsonlite.
# Run in this folder: Rscript make_values.R
# Nothing here shares code or parametrisation with crates/inference: curves are fitted by nls() (self-starting where R has one) or by
# a fine scan with optimize(), intervals by profile with optimize() inside uniroot(), or along rays from the estimate.
suppressPackageStartupMessages({ library(nlme); library(lme4); library(emmeans); library(jsonlite) })
set.seed(20240611)
tight <- nls.control(maxiter = 500, tol = 3e-8, minFactor = 1e-12)
out <- list(software = list(R = paste(R.version$major, R.version$minor, sep = "."), nlme = as.character(packageVersion("nlme")),
  lme4 = as.character(packageVersion("lme4")), pbkrtest = as.character(packageVersion("pbkrtest")), emmeans = as.character(packageVersion("emmeans"))))
# curves with their derivatives, so that nls() can be driven to 3e-8
expo <- deriv(~ A + (S - A) * exp(-k * (x - x0)), c("A", "S", "k"), function(x, x0, A, S, k) NULL)
sigmoid <- deriv(~ L + (H - L) / (1 + exp((m - x) / w)), c("L", "H", "m", "w"), function(x, L, H, m, w) NULL)
from_zero <- deriv(~ H / (1 + exp((m - x) / w)), c("H", "m", "w"), function(x, H, m, w) NULL)
parabola <- function(x, P, q, j) { d <- pmax(j - x, 0); v <- P + q * d^2; attr(v, "gradient") <- cbind(P = 1, q = d^2, j = 2 * q * d); v }
with_blocks <- function(v, b1, b2, b3, s1, s2, s3) { g <- attr(v, "gradient"); v <- v + s1 * b1 + s2 * b2 + s3 * b3; attr(v, "gradient") <- cbind(g, s1 = b1, s2 = b2, s3 = b3); v }
table_of <- function(cc) setNames(lapply(seq_len(nrow(cc)), function(i) list(estimate = cc[i, 1], se = cc[i, 2])), rownames(cc))

# ---- invented data -------------------------------------------------------------------------------------------------------------
rates <- c(0, 30, 60, 90, 120, 150, 180)
blocks <- data.frame(block = rep(1:4, each = 7), amount = rep(rates, 4))
shift <- c(-0.9, 0.2, -0.1, 0.8)
blocks$plateau <- round(4.2 + 5 * (1 - exp(-0.021 * blocks$amount)) + shift[blocks$block] + rnorm(28, 0, 0.35), 2)
blocks$step <- round(2.5 + 5 / (1 + exp(-(blocks$amount - 78) / 17)) + shift[blocks$block] + rnorm(28, 0, 0.3), 2)
split <- expand.grid(rate = c(0, 40, 80, 120, 160), variety = c("early", "mid", "late"), block = 1:4)
main <- rnorm(12, 0, 0.6)[as.integer(interaction(split$variety, split$block))]
top <- c(early = 3.4, mid = 4.6, late = 5.6); speed <- c(early = 0.030, mid = 0.024, late = 0.020)
split$yield <- round(3 + top[as.character(split$variety)] * (1 - exp(-speed[as.character(split$variety)] * split$rate)) + main + rnorm(60, 0, 0.3), 2)
uneven <- data.frame(amount = rep(c(0, 20, 50, 90, 140), times = c(6, 3, 4, 3, 5)))
uneven$yield <- round(9 - 4 * exp(-0.03 * uneven$amount) + rnorm(nrow(uneven), 0, 0.4), 2)
stand <- data.frame(block = rep(1:4, each = 9), target = rep(c(20, 30, 40, 50, 60, 70, 80, 90, 100), 4))
stand$count <- round(stand$target * 0.92 + rnorm(36, 0, 4), 1)
stand$yield <- round(1.2 + 0.072 * pmin(stand$count, 85) - 0.00042 * pmin(stand$count, 85)^2 + c(-.2, .1, 0, .15)[stand$block] + rnorm(36, 0, 0.12), 2)
invisible(Map(function(d, f) write.csv(d, f, row.names = FALSE, quote = FALSE), list(blocks, split, uneven, stand),
  c("blocks.csv", "split_plot.csv", "uneven.csv", "stand.csv")))
loblolly <- data.frame(amount = Loblolly$age[Loblolly$Seed == 301], value = Loblolly$height[Loblolly$Seed == 301])
chick <- data.frame(amount = ChickWeight$Time[ChickWeight$Chick == 1], value = ChickWeight$weight[ChickWeight$Chick == 1])
write.csv(loblolly, "loblolly_301.csv", row.names = FALSE); write.csv(chick, "chick_1.csv", row.names = FALSE)

# ---- self-starting models on R's own data --------------------------------------------------------------------------------------
a <- nls(value ~ SSasymp(amount, Asym, R0, lrc), loblolly)
# the same with the curve's value at the lowest age and the rate itself
a2 <- nls(value ~ expo(amount, 3, A, S, k), loblolly, start = list(A = coef(a)[[1]], S = 5, k = exp(coef(a)[[3]])), control = tight)
l <- nls(value ~ SSlogis(amount, Asym, xmid, scal), chick); f <- nls(value ~ SSfpl(amount, low, high, xmid, scal), chick)
# started from there and driven on
l <- nls(value ~ from_zero(amount, H, m, w), chick, start = setNames(as.list(coef(l)), c("H", "m", "w")), control = tight)
f <- nls(value ~ sigmoid(amount, L, H, m, w), chick, start = setNames(as.list(coef(f)), c("L", "H", "m", "w")), control = tight)
fit <- function(m) list(parameters = table_of(coef(summary(m))), rss = deviance(m), df = df.residual(m))
out$self_starting <- list(loblolly_asymp = fit(a2), loblolly_asymp_deviance = deviance(a), chick_logis = fit(l), chick_fpl = fit(f))

# ---- randomised blocks: nls with block effects, and the plots' own error --------------------------------------------------------
B <- contr.sum(4)[blocks$block, ]
pure_of <- function(y) { t <- anova(lm(y ~ factor(block) + factor(amount), blocks)); list(ms = t["Residuals", "Mean Sq"], df = t["Residuals", "Df"]) }
shapes <- list(
  linear_plateau = list(f = function(x, p) p[1] + p[2] * pmin(x, p[3]), y = "plateau"),
  quadratic_plateau = list(f = function(x, p) p[1] + p[2] * pmax(p[3] - x, 0)^2, y = "plateau"),
  exponential = list(f = function(x, p) p[1] + (p[2] - p[1]) * exp(-p[3] * x), y = "plateau"),
  quadratic = list(f = function(x, p) p[1] + p[2] * x + p[3] * x^2, y = "plateau"),
  broken_line = list(f = function(x, p) p[1] + p[2] * pmin(x - p[4], 0) + p[3] * pmax(x - p[4], 0), y = "plateau"),
  logistic = list(f = function(x, p) p[1] + (p[2] - p[1]) / (1 + exp(-(x - p[3]) / p[4])), y = "step"))
# linear columns given the nonlinear parameter(s), for the scan
given <- list(linear_plateau = function(x, c) cbind(pmin(x, c)), quadratic_plateau = function(x, c) cbind(pmax(c - x, 0)^2),
  exponential = function(x, c) cbind(exp(-c * x)), broken_line = function(x, c) cbind(pmin(x - c, 0), pmax(x - c, 0)),
  quadratic = function(x, c) cbind(x, x^2), logistic = function(x, c) cbind(1 / (1 + exp(-(x - c[1]) / c[2]))))
scan_range <- list(linear_plateau = c(30, 180), quadratic_plateau = c(30.001, 180), exponential = c(1e-3, 0.2), broken_line = c(30, 150))
rss_given <- function(shape, c, y) deviance(lm(y ~ B + given[[shape]](blocks$amount, c)))
best_c <- function(shape, y) {
  if (shape == "quadratic") return(NULL)
  if (shape == "logistic") { o <- optim(c(80, log(15)), function(q) rss_given(shape, c(q[1], exp(q[2])), y), method = "BFGS", control = list(reltol = 1e-16, maxit = 2000))
    return(c(o$par[1], exp(o$par[2]))) }
  r <- scan_range[[shape]]; g <- seq(r[1], r[2], length.out = 800); v <- sapply(g, rss_given, shape = shape, y = y); i <- which.min(v)
  optimize(function(c) rss_given(shape, c, y), c(g[max(1, i - 1)], g[min(800, i + 1)]), tol = 1e-12)$minimum }
numeric_jacobian <- function(f, p, x) sapply(seq_along(p), function(j) { h <- 1e-5 * max(abs(p[j]), 1e-3); q <- p; q[j] <- p[j] + h; u <- f(x, q); q[j] <- p[j] - h; (u - f(x, q)) / (2 * h) })
level_first <- c(linear_plateau = 1, quadratic_plateau = 1, exponential = 1, quadratic = 1, broken_line = 1, logistic = 1)
natural <- function(shape, c, b) switch(shape, linear_plateau = c(b[1], b[2], c), quadratic_plateau = c(b[1], b[2], c),
  exponential = c(b[1], b[1] + b[2], c), quadratic = b, broken_line = c(b[1], b[2], b[3], c), logistic = c(b[1], b[1] + b[2], c))
out$blocks <- lapply(setNames(names(shapes), names(shapes)), function(shape) {
  y <- blocks[[shapes[[shape]]$y]]; c <- best_c(shape, y); m <- lm(y ~ B + given[[shape]](blocks$amount, c))
  p <- natural(shape, c, unname(coef(m)[c(1, 5:length(coef(m)))]))
  J <- cbind(B, numeric_jacobian(shapes[[shape]]$f, p, blocks$amount)); df <- 28 - ncol(J); s2 <- deviance(m) / df
  V <- solve(crossprod(J))[-(1:3), -(1:3)]; pure <- pure_of(y)
  lack_ss <- deviance(m) - pure$ms * pure$df; lack_df <- df - pure$df; F <- lack_ss / lack_df / pure$ms
  list(parameters = p, se_scatter = sqrt(diag(V) * s2), rss = deviance(m), df_scatter = df, se_shape_pure = sqrt(diag(V) * pure$ms), pure_ms = pure$ms,
    pure_df = pure$df, lack_of_fit = list(f = F, num_df = lack_df, den_df = pure$df, p = pf(F, lack_df, pure$df, lower.tail = FALSE))) })
# nls() itself where it converges
nb <- function(formula, start) fit(nls(formula, c(as.list(blocks), list(b1 = B[, 1], b2 = B[, 2], b3 = B[, 3])), start = c(start, list(s1 = -0.9, s2 = 0.2, s3 = -0.1)), control = tight))
out$blocks_nls <- list(
  exponential = nb(plateau ~ with_blocks(expo(amount, 0, A, S, k), b1, b2, b3, s1, s2, s3), list(A = 9, S = 4, k = 0.02)),
  quadratic_plateau = nb(plateau ~ with_blocks(parabola(amount, P, q, j), b1, b2, b3, s1, s2, s3), list(P = 9, q = -0.0003, j = 130)),
  logistic = nb(step ~ with_blocks(sigmoid(amount, L, H, m, w), b1, b2, b3, s1, s2, s3), list(L = 2.5, H = 7.5, m = 78, w = 17)))

# intervals by profile with the plots' own error: least RSS with the best amount held at x0, against the least of all
ratio <- 0.012
hold <- list( # residual sum of squares with the best amount at x0
  linear_plateau = function(x0, y) rss_given("linear_plateau", x0, y),
  broken_line = function(x0, y) rss_given("broken_line", x0, y),
  quadratic = function(x0, y) { x <- blocks$amount; deviance(lm(y - ratio * x ~ B + I((x - x0)^2))) },
  quadratic_plateau = function(x0, y) { x <- blocks$amount
    of <- function(d) { c <- x0 + exp(d); q <- -ratio / (2 * exp(d)); deviance(lm(y - q * pmax(c - x, 0)^2 ~ B)) }
    g <- seq(log(0.05), log(2000), length.out = 300); v <- sapply(g, of); i <- which.min(v); optimize(of, c(g[max(1, i - 1)], g[min(300, i + 1)]), tol = 1e-12)$objective },
  exponential = function(x0, y) { x <- blocks$amount
    of <- function(l) { k <- exp(l); deviance(lm(y + ratio / k * exp(-k * (x - x0)) ~ B)) }
    g <- seq(log(1e-3), log(0.3), length.out = 300); v <- sapply(g, of); i <- which.min(v); optimize(of, c(g[max(1, i - 1)], g[min(300, i + 1)]), tol = 1e-12)$objective },
  logistic = function(x0, y) { x <- blocks$amount
    of <- function(q) { m <- q[1]; w <- exp(q[2]); p <- 1 / (1 + exp(-(x0 - m) / w)); if (p <= 0.5 || p > 1 - 1e-9) return(1e6)
      deviance(lm(y - ratio * w / (p * (1 - p)) / (1 + exp(-(x - m) / w)) ~ B)) }
    min(sapply(c(10, 15, 20, 25), function(w) { o <- optim(c(78, log(w)), of, method = "Nelder-Mead", control = list(reltol = 1e-15, maxit = 5000)); optim(o$par, of, method = "Nelder-Mead", control = list(reltol = 1e-15, maxit = 5000))$value })) })
profile_of <- function(shape, from, to) { y <- blocks[[shapes[[shape]]$y]]; pure <- pure_of(y); limit <- out$blocks[[shape]]$rss + qt(0.975, pure$df)^2 * pure$ms
  h <- function(x0) hold[[shape]](x0, y) - limit; best <- optimize(h, c(from, to), tol = 1e-8)$minimum
  side <- function(a, b) if (sign(h(a)) == sign(h(b))) NA else uniroot(h, sort(c(a, b)), tol = 1e-9)$root
  list(lower = side(from, best), best = best, upper = side(best, to)) }
out$profile_of_best_amount <- list(price_ratio = ratio, linear_plateau = profile_of("linear_plateau", 40, 179), quadratic_plateau = profile_of("quadratic_plateau", 40, 300),
  exponential = profile_of("exponential", 20, 400), quadratic = profile_of("quadratic", 40, 400), logistic = profile_of("logistic", 90, 179.9), broken_line = profile_of("broken_line", 31, 149))

# what the best amount gains over 90 (net of cost), by profile: rays from the estimate in (amplitude, nonlinear parameter) to the edge of the region
gain_by_rays <- function(shape, over, gain) { y <- blocks[[shapes[[shape]]$y]]; x <- blocks$amount; pure <- pure_of(y); e <- out$blocks[[shape]]
  limit <- e$rss + qt(0.975, pure$df)^2 * pure$ms
  centre <- if (shape == "exponential") c(e$parameters[2] - e$parameters[1], log(e$parameters[3])) else c(e$parameters[2] * e$parameters[3]^2, log(e$parameters[3]))
  rss <- function(q) { k <- exp(q[2]); if (shape == "exponential") deviance(lm(y - q[1] * exp(-k * x) ~ B)) else deviance(lm(y - q[1] / k^2 * pmax(k - x, 0)^2 ~ B)) }
  at <- function(angle) { d <- c(cos(angle) * abs(centre[1]), sin(angle)); h <- function(r) rss(centre + r * d) - limit; centre + uniroot(h, c(0, 3), tol = 1e-13)$root * d }
  g <- function(angle) gain(at(angle)); angles <- seq(0, 2 * pi, length.out = 181); v <- sapply(angles, g)
  around <- function(i) angles[i] + c(-1, 1) * pi / 90
  c(lower = optimize(g, around(which.min(v)), tol = 1e-12)$objective, upper = optimize(g, around(which.max(v)), maximum = TRUE, tol = 1e-12)$objective) }
net_exponential <- function(q) { k <- exp(q[2]); best <- log(-q[1] * k / ratio) / k; v <- function(x) q[1] * exp(-k * x) - ratio * x; v(best) - v(over) }
net_plateau <- function(q) { j <- exp(q[2]); a <- q[1] / j^2; best <- j + ratio / (2 * a); v <- function(x) a * max(j - x, 0)^2 - ratio * x; v(best) - v(over) }
over <- 0
out$gain_over_0 <- list(exponential = as.list(gain_by_rays("exponential", 0, net_exponential)), quadratic_plateau = as.list(gain_by_rays("quadratic_plateau", 0, net_plateau)))

# ---- unequal replication, completely random: nls on the plots -------------------------------------------------------------------
u <- nls(yield ~ expo(amount, 0, A, S, k), uneven, start = list(A = 9, S = 5, k = 0.03), control = tight)
pure <- anova(lm(yield ~ factor(amount), uneven))["Residuals", ]
out$uneven <- c(fit(u), list(pure_ms = pure[["Mean Sq"]], pure_df = pure[["Df"]]))

# ---- amounts counted on the plots -----------------------------------------------------------------------------------------------
S <- contr.sum(4)[stand$block, ]
quad <- lm(yield ~ S + count + I(count^2), stand); cc <- coef(summary(quad))[c(1, 5, 6), ]; rownames(cc) <- c("intercept", "linear", "quadratic")
qp <- nls(yield ~ with_blocks(parabola(count, P, q, j), b1, b2, b3, s1, s2, s3), c(as.list(stand), list(b1 = S[, 1], b2 = S[, 2], b3 = S[, 3])), start = list(P = 4.2, q = -0.0004, j = 85, s1 = 0, s2 = 0, s3 = 0), control = tight)
out$stand <- list(quadratic = list(parameters = table_of(cc), rss = deviance(quad), df = df.residual(quad)), quadratic_plateau = fit(qp))

# ---- split-plot: generalised least squares with the strata's mean squares --------------------------------------------------------
t <- summary(aov(yield ~ variety * factor(rate) + Error(factor(block) / variety), split))
ms_block <- t[[1]][[1]]["Residuals", "Mean Sq"]; df_block <- t[[1]][[1]]["Residuals", "Df"]
ms_main <- t[[2]][[1]]["Residuals", "Mean Sq"]; df_main <- t[[2]][[1]]["Residuals", "Df"]; ms_sub <- t[[3]][[1]]["Residuals", "Mean Sq"]; df_sub <- t[[3]][[1]]["Residuals", "Df"]
s2 <- ms_sub; s2m <- (ms_main - ms_sub) / 5; s2b <- (ms_block - ms_main) / 15
means <- aggregate(yield ~ rate + variety, split, mean); G <- model.matrix(~ variety - 1, means)
V <- (s2 * diag(15) + s2m * tcrossprod(G) + s2b * matrix(1, 15, 15)) / 4; R <- solve(t(chol(V)))
ex <- function(k) exp(-k * means$rate)
gls_q <- function(X) { q <- lm.fit(R %*% X, R %*% means$yield); list(q = sum(q$residuals^2), b = q$coefficients) }
X_sep <- function(k) cbind(G, G * ex(k[as.integer(factor(means$variety))]))
X_bend <- function(k) cbind(G, G * ex(k)); X_shape <- function(k) cbind(G, ex(k)); X_one <- function(k) cbind(1, ex(k))
sep <- optim(log(c(0.03, 0.024, 0.02)), function(l) gls_q(X_sep(exp(l)))$q, method = "BFGS", control = list(reltol = 1e-16, maxit = 1000))
one_k <- function(X) { g <- seq(log(0.005), log(0.1), length.out = 300); h <- function(l) gls_q(X(exp(l)))$q; v <- sapply(g, h); i <- which.min(v); optimize(h, c(g[i - 1], g[i + 1]), tol = 1e-12) }
k <- exp(sep$par); b <- gls_q(X_sep(k))$b; Jr <- cbind(X_sep(k), -G * (b[4:6][as.integer(factor(means$variety))] * means$rate * ex(k[as.integer(factor(means$variety))])))
C <- solve(crossprod(R %*% Jr)); W <- C %*% t(Jr) %*% solve(V) # parameters as comparisons of means
parts <- list(sub = list(ms = ms_sub, df = df_sub, M = (diag(15) - tcrossprod(G) / 5) / 4), main = list(ms = ms_main, df = df_main, M = (tcrossprod(G) / 5 - matrix(1, 15, 15) / 15) / 4),
  block = list(ms = ms_block, df = df_block, M = matrix(1, 15, 15) / 60))
satterthwaite <- function(w) { v <- sapply(parts, function(p) p$ms * drop(t(w) %*% p$M %*% w)); sum(v)^2 / sum(v^2 / sapply(parts, function(p) p$df)) }
extra <- function(X, lost) { o <- one_k(X); F <- (o$objective - sep$value) / lost; list(k = exp(o$minimum), f = F, num_df = lost, den_df = df_sub, p = pf(F, lost, df_sub, lower.tail = FALSE)) }
out$split_plot <- list(levels = levels(factor(means$variety)), asymptote = unname(b[1:3]), start = unname(b[1:3] + b[4:6]), rate = k, se_rate = sqrt(diag(C)[7:9]), se_asymptote = sqrt(diag(C)[1:3]),
  df_rate = apply(W[7:9, ], 1, satterthwaite), df_asymptote = apply(W[1:3, ], 1, satterthwaite), squares = sep$value, same_bend = extra(X_bend, 2), same_shape = extra(X_shape, 4),
  squares_one = one_k(X_one)$objective)

# ---- oats (Yates): parabolas as comparisons of means by lme4 with Kenward-Roger ---------------------------------------------------
oats <- read.csv("../oats-variety-nitrogen-split-plot/data.csv"); oats$n <- factor(oats$nitrogen)
lm4 <- lmer(grain_yield ~ variety * n + (1 | block / variety), oats, control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10)))
x <- sort(unique(oats$nitrogen)); P <- solve(crossprod(cbind(1, x, x^2))) %*% t(cbind(1, x, x^2))
rows <- function(em) { cc <- as.data.frame(contrast(em, list(intercept = P[1, ], linear = P[2, ], quadratic = P[3, ]))); cc }
with_kr <- function(em) rows(em)[, c("contrast", "estimate", "SE", "df")]
by <- emmeans(lm4, ~ n | variety, lmer.df = "kenward-roger"); all <- emmeans(lm4, ~ n, lmer.df = "kenward-roger")
out$oats <- list(together = with_kr(all), by_variety = rows(by)[, c("variety", "contrast", "estimate", "SE", "df")])
write_json(out, "expected.json", digits = NA, auto_unbox = TRUE, pretty = TRUE)

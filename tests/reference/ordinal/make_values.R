# Makes the data and the golden values of this folder:  Rscript make_values.R
# Data are invented from a fixed seed. Golden values: ordinal (clm: Newton; clmm: Laplace), run to their end. Its thresholds are
# theta_k with the first treatment at zero; ours have the first threshold at zero and a mean for every treatment, so that
# mean_1 = -theta_1, mean_t = beta_t - theta_1, threshold_k = theta_k - theta_1. The script turns one into the other.
suppressPackageStartupMessages({library(ordinal); library(jsonlite)})
draw <- function(f, sd) { f <- factor(f); rnorm(nlevels(f), 0, sd)[as.integer(f)] }
out <- list()
golden <- function(name, m, treatments, sd = NULL) {
  theta <- m$alpha; k <- length(theta); b <- m$beta; n <- length(b); extra <- n - (treatments - 1)
  turn <- matrix(0, treatments + extra + k - 1, k + n)
  turn[seq_len(treatments), 1] <- -1
  if (treatments > 1) for (t in 2:treatments) turn[t, k + t - 1] <- 1
  if (extra > 0) for (e in seq_len(extra)) turn[treatments + e, k + treatments - 1 + e] <- 1
  if (k > 1) for (j in 2:k) { turn[treatments + extra + j - 1, j] <- 1; turn[treatments + extra + j - 1, 1] <- -1 }
  own <- seq_len(k + n)
  values <- drop(turn %*% c(theta, b)); covariance <- turn %*% vcov(m)[own, own] %*% t(turn)
  part <- function(at) values[at]
  out[[name]] <<- list(log_likelihood = as.numeric(logLik(m)), means = part(seq_len(treatments)),
    covariance = covariance[seq_len(treatments), seq_len(treatments)], columns = if (extra > 0) part(treatments + seq_len(extra)),
    thresholds = if (k > 1) part(treatments + extra + seq_len(k - 1)) else list(),
    threshold_se = if (k > 1) sqrt(diag(covariance))[treatments + extra + seq_len(k - 1)] else list(), sd = sd)
}
sds <- function(m) lapply(VarCorr(m), function(v) sqrt(v[1]))
# useMatrix: the shorter route for one grouping stops its inner search at 1e-4 and ends 2e-5 short
tight <- clmm.control(method = "nlminb", innerCtrl = "warnOnly", gradTol = 1e-8, maxIter = 500, useMatrix = TRUE)
tight$ctrl <- list(rel.tol = 1e-14, x.tol = 1e-10)

# disease scores 1 to 5 of plants in a split-plot of six blocks: five plants scored in each plot
set.seed(51)
d <- expand.grid(plant = 1:5, b = 1:2, a = 1:3, block = 1:6)
d$main <- interaction(d$block, d$a, drop = TRUE); d$plot <- interaction(d$main, d$b, drop = TRUE)
d$treatment <- factor(paste0("a", d$a, "b", d$b))
eta <- 0.5 * (d$a - 2) + 0.7 * (d$b - 1) + draw(d$block, 0.5) + draw(d$main, 0.5) + draw(d$plot, 0.6)
d$score <- findInterval(eta + rlogis(nrow(d)), c(-1.2, 0, 1, 2.2)) + 1
d$main <- as.integer(d$main); d$plot <- as.integer(d$plot)
write.csv(d[c("block", "main", "plot", "treatment", "score")], "disease.csv", row.names = FALSE)
for (n in c("block", "main", "plot")) d[[n]] <- factor(d[[n]]); d$score <- factor(d$score)
for (link in c("logit", "probit")) {
  m <- clmm(score ~ treatment + (1 | block) + (1 | main) + (1 | plot), data = d, link = link, control = tight)
  golden(paste0("disease_", link), m, 6, sds(m))
}
m <- clmm(score ~ treatment + (1 | plot), data = d, control = tight); golden("disease_plots", m, 6, sds(m))
golden("disease_fixed", clm(score ~ treatment, data = d, control = clm.control(gradTol = 1e-12)), 6)

# published: tubers damaged by lifting rods, all factors fixed
d <- read.csv("../potato-lifting-damage-scores/data.csv", stringsAsFactors = TRUE)
for (link in c("logit", "probit"))
  golden(paste0("lifting_", link), clm(damage_score ~ rod + energy + variety + weight_class, data = d, weights = tubers, link = link,
    control = clm.control(gradTol = 1e-10)), 8)
# and with combinations of energy, variety, weight and rod as units (the plots of that trial)
d$plot <- interaction(d$energy, d$variety, d$weight_class, d$rod, drop = TRUE)
m <- clmm(damage_score ~ rod + energy + variety + weight_class + (1 | plot), data = d, weights = tubers, control = tight)
golden("lifting_plots", m, 8, sds(m))
writeLines(toJSON(c(list(software = list(R = as.character(getRversion()), ordinal = as.character(packageVersion("ordinal")))), out),
  auto_unbox = TRUE, digits = I(15), null = "null"), "expected.json")

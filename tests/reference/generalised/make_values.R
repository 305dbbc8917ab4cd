# Makes the data and the golden values of this folder:  Rscript make_values.R
# Data are invented from fixed seeds. Golden values: glmmTMB (Laplace), its optimiser run to its end; lme4 where quadrature is
# asked for; ordinal for scores. Fixed part: one mean per treatment, so that coefficients are the means themselves.
suppressPackageStartupMessages({library(glmmTMB); library(lme4); library(ordinal); library(jsonlite)})
tight <- glmmTMBControl(optCtrl = list(iter.max = 1e4, eval.max = 1e4, rel.tol = 1e-15, x.tol = 1e-12))
units <- function(...) interaction(..., drop = TRUE)
draw <- function(f, sd) { f <- factor(f); rnorm(nlevels(f), 0, sd)[as.integer(f)] }
out <- list()
keep <- function(name, d) write.csv(d, paste0(name, ".csv"), row.names = FALSE)
golden <- function(name, m, extra = list()) {
  v <- VarCorr(m)$cond
  out[[name]] <<- c(list(log_likelihood = as.numeric(logLik(m)), fixed = unname(fixef(m)$cond), terms = names(fixef(m)$cond),
    covariance = unname(vcov(m)$cond), sd = lapply(v, function(x) sqrt(x[1]))), extra)
}

# split-plot in five blocks, seedlings emerged of 40 sown (three plots lost), a plot effect
set.seed(17)
d <- expand.grid(b = 1:3, a = 1:3, block = 1:5)
d$main <- as.integer(units(d$block, d$a)); d$treatment <- paste0("a", d$a, "b", d$b)
eta <- 0.6 + 0.3 * (d$a - 2) - 0.4 * (d$b - 2) + draw(d$block, 0.4) + draw(d$main, 0.5) + rnorm(45, 0, 0.5)
d$sown <- 40 - 5 * (d$b == 3); d$emerged <- rbinom(45, d$sown, plogis(eta)); d <- d[-c(7, 20, 33), ]; d$plot <- seq_len(nrow(d))
keep("split_plot", d[c("block", "main", "plot", "treatment", "sown", "emerged")])
for (link in c("logit", "probit", "cloglog"))
  golden(paste0("split_plot_", link), glmmTMB(cbind(emerged, sown - emerged) ~ 0 + treatment + (1 | block) + (1 | main) + (1 | plot),
    d, binomial(link), control = tight))
golden("split_plot_without_plots", glmmTMB(cbind(emerged, sown - emerged) ~ 0 + treatment + (1 | block) + (1 | main), d, binomial, control = tight))

# the same layout where main plots do not differ: their variance is at zero, and the golden values are of the model without them
set.seed(13)
d <- expand.grid(b = 1:3, a = 1:3, block = 1:5)
d$main <- as.integer(units(d$block, d$a)); d$treatment <- paste0("a", d$a, "b", d$b); d$sown <- 40; d$plot <- 1:45
eta <- 0.6 + 0.3 * (d$a - 2) - 0.4 * (d$b - 2) + draw(d$block, 0.4) + rnorm(45, 0, 0.4)
d$emerged <- rbinom(45, d$sown, plogis(eta))
keep("main_plots_alike", d[c("block", "main", "plot", "treatment", "sown", "emerged")])
golden("main_plots_alike", glmmTMB(cbind(emerged, sown - emerged) ~ 0 + treatment + (1 | block) + (1 | plot), d, binomial, control = tight),
  list(log_likelihood_with_main = as.numeric(logLik(glmmTMB(cbind(emerged, sown - emerged) ~ 0 + treatment + (1 | block) + (1 | main) + (1 | plot), d, binomial)))))

# rows and columns of a field, insects counted on areas of different size, soil moisture as a covariate
set.seed(22)
d <- expand.grid(column = 1:8, row = 1:6); d$treatment <- paste0("t", (d$row * 3 + d$column) %% 4 + 1)
d$area <- c(0.5, 1, 2)[(d$row + d$column) %% 3 + 1]; d$moisture <- round(18 + 3 * rnorm(48), 1); d$plot <- 1:48
d$insects <- rpois(48, d$area * exp(2 + c(0, 0.4, -0.5, 0.2)[as.integer(factor(d$treatment))] + 0.05 * (d$moisture - 18) +
  draw(d$row, 0.3) + draw(d$column, 0.4) + rnorm(48, 0, 0.3)))
keep("rows_and_columns", d)
rc <- insects ~ 0 + treatment + moisture + offset(log(area)) + (1 | row) + (1 | column)
golden("rows_and_columns", glmmTMB(rc, d, poisson, control = tight), list(average_moisture = mean(d$moisture)))
golden("rows_and_columns_plots", glmmTMB(update(rc, . ~ . + (1 | plot)), d, poisson, control = tight), list(average_moisture = mean(d$moisture)))

# weeds in blocks, clustered: negative binomial with variance mu + mu^2 / theta
set.seed(33)
d <- expand.grid(entry = 1:5, block = 1:8); d$treatment <- paste0("e", d$entry)
d$weeds <- rnbinom(40, size = 2.5, mu = exp(1.5 + 0.35 * (d$entry - 3) + draw(d$block, 0.5)))
keep("weeds", d[c("block", "treatment", "weeds")])
m <- glmmTMB(weeds ~ 0 + treatment + (1 | block), d, nbinom2, control = tight); golden("weeds", m, list(theta = sigma(m)))
m <- glmmTMB(weeds ~ 0 + treatment, d, nbinom2, control = tight); golden("weeds_no_blocks", m, list(theta = sigma(m)))

# single plants, diseased or not: one trial each, where Laplace is at its worst; and by quadrature
set.seed(44)
d <- expand.grid(plant = 1:4, entry = 1:3, block = 1:15); d$treatment <- paste0("e", d$entry)
d$diseased <- rbinom(180, 1, plogis(-0.3 + 0.6 * (d$entry - 2) + draw(d$block, 1)))
keep("single_plants", d[c("block", "treatment", "diseased")])
golden("single_plants", glmmTMB(diseased ~ 0 + treatment + (1 | block), d, binomial, control = tight))
q <- glmer(diseased ~ 0 + treatment + (1 | block), d, binomial, nAGQ = 25, control = glmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10)))
# lme4 leaves the constants out of a log-likelihood by quadrature; with one trial each they are zero
out$single_plants_quadrature <- list(points = 25, fixed = unname(fixef(q)), sd = sqrt(VarCorr(q)$block[1]), log_likelihood = as.numeric(logLik(q)))

# the published Latin square with rows and columns random: columns end at zero, so the golden values are of rows alone. glmer's
# own standard errors there are off by half a percent: its inner search stops early, and differences are taken of that.
d <- read.csv("../wireworm-latin-square/data.csv"); d$treatment <- d$fumigant
golden("wireworms", glmmTMB(wireworms ~ 0 + treatment + (1 | row), d, poisson, control = tight))

# published trials by glm run to its end; at its default stop standard errors are off by up to 5e-5
run_to_end <- glm.control(epsilon = 1e-15, maxit = 100)
of_glm <- function(m) list(log_likelihood = as.numeric(logLik(m)), terms = names(coef(m)), fixed = unname(coef(m)),
  se = unname(sqrt(diag(vcov(m)))), pearson = sum(resid(m, "pearson")^2), deviance = deviance(m))
d <- read.csv("../wireworm-latin-square/data.csv"); d$row <- factor(d$row); d$column <- factor(d$column)
out$wireworms_rows_columns_fixed <- of_glm(glm(wireworms ~ 0 + fumigant + row + column, poisson, d, control = run_to_end))
d <- read.csv("../seed-germination-temperature/data.csv"); d$concentration <- factor(d$concentration)
out$germination_additive <- of_glm(glm(cbind(germinated, seeds - germinated) ~ 0 + temperature_regime + concentration, binomial, d, control = run_to_end))
d <- read.csv("../beet-webworm-counts/data.csv"); d$treatment <- paste(d$contact_spray, "/", d$lead_arsenate)
m <- MASS::glm.nb(webworms ~ 0 + treatment, d, control = run_to_end)
out$webworms_no_blocks <- list(theta = m$theta, log_likelihood = as.numeric(logLik(m)))
golden("webworms", g <- glmmTMB(webworms ~ 0 + treatment + block, d, nbinom2, control = tight), list(theta = sigma(g)))

writeLines(toJSON(c(list(software = list(R = as.character(getRversion()), glmmTMB = as.character(packageVersion("glmmTMB")),
  lme4 = as.character(packageVersion("lme4")))), out), auto_unbox = TRUE, digits = I(15), pretty = TRUE), "expected.json")

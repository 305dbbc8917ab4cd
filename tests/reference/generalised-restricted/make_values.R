# Makes the golden values of this folder from data of other folders:  Rscript make_values.R
# glmmTMB with REML = TRUE: Laplace, fixed part integrated over a flat density. Its optimiser is run to its end, and once more by
# BFGS from there. Then the ordinary likelihood with the standard deviations (and the spread of counts) held at what was found.
# Fixed part: one mean per treatment. A variance at zero is left out of the golden model.
suppressPackageStartupMessages({library(glmmTMB); library(jsonlite)})
tight <- glmmTMBControl(optCtrl = list(iter.max = 1e4, eval.max = 1e4, rel.tol = 1e-15, x.tol = 1e-12))
out <- list()
golden <- function(name, formula, d, family) {
  m <- glmmTMB(formula, d, family, REML = TRUE, control = tight)
  end <- optim(m$fit$par, m$obj$fn, m$obj$gr, method = "BFGS", control = list(reltol = 1e-15, maxit = 1000))
  theta <- end$par[names(end$par) == "theta"]
  held <- list(); start <- list()
  if (length(theta)) { held$theta <- factor(rep(NA, length(theta))); start$theta <- unname(theta) }
  spread <- grep("^betad", names(end$par), value = TRUE)
  if (length(spread)) { held[[spread]] <- factor(NA); start[[spread]] <- unname(end$par[spread]) }
  at <- glmmTMB(formula, d, family, control = tight, start = start, map = held)
  groups <- names(ranef(m)$cond)
  out[[name]] <<- list(log_likelihood = -end$value, sd = as.list(setNames(exp(unname(theta)), groups)),
    theta = if (length(spread)) exp(unname(end$par[spread])), terms = names(fixef(at)$cond), fixed = unname(fixef(at)$cond),
    covariance = unname(vcov(at)$cond))
}
read <- function(...) read.csv(file.path("..", ...))
d <- read("generalised", "split_plot.csv")
split <- cbind(emerged, sown - emerged) ~ 0 + treatment + (1 | block) + (1 | main) + (1 | plot)
for (link in c("logit", "probit", "cloglog")) golden(paste0("split_plot_", link), split, d, binomial(link))
golden("blocks", cbind(emerged, sown - emerged) ~ 0 + treatment + (1 | block), d, binomial())
golden("main_plots_alike", update(split, . ~ . - (1 | main)), read("generalised", "main_plots_alike.csv"), binomial())
d <- read("generalised", "rows_and_columns.csv")
golden("rows_and_columns", insects ~ 0 + treatment + moisture + offset(log(area)) + (1 | row) + (1 | column) + (1 | plot), d, poisson())
out$rows_and_columns$average_moisture <- mean(d$moisture)
d <- read("generalised", "weeds.csv"); d$plot <- seq_len(nrow(d))
golden("weeds_poisson", weeds ~ 0 + treatment + (1 | block) + (1 | plot), d, poisson())
golden("weeds", weeds ~ 0 + treatment + (1 | block), d, nbinom2())
golden("weeds_no_blocks", weeds ~ 0 + treatment, d, nbinom2())
d <- read("wireworm-latin-square", "data.csv"); d$plot <- seq_len(nrow(d)); d$treatment <- d$fumigant
golden("wireworms", wireworms ~ 0 + treatment + (1 | row) + (1 | plot), d, poisson())
d <- read("beet-webworm-counts", "data.csv")
d$treatment <- paste(d$contact_spray, "/", d$lead_arsenate); d$plot <- paste(d$block, d$treatment)
golden("webworms", webworms ~ 0 + treatment + (1 | block) + (1 | plot), d, nbinom2())
writeLines(toJSON(c(list(software = list(R = as.character(getRversion()), glmmTMB = as.character(packageVersion("glmmTMB")))), out),
  auto_unbox = TRUE, digits = I(15), pretty = TRUE), "expected.json")

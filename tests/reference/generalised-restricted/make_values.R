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
  invisible(at)
}
# Means of all combinations and of each factor alone, on the link's scale and back (`times` 100: percent), all differences with
# errors (back: by the delta method), and Wald's F. `df`: those of the plots' stratum (common practice, no source).
tables <- function(name, at, levels, df, times = 1) {
  b <- unname(fixef(at)$cond); V <- unname(vcov(at)$cond); inverse <- family(at)$linkinv; slope <- times * family(at)$mu.eta(b)
  average <- function(own) Reduce(kronecker, Map(function(l, o) if (o) diag(length(l)) else t(rep(1 / length(l), length(l))), levels, own))
  vary <- function(own) Reduce(kronecker, Map(function(l, o) if (o) t(contr.sum(length(l))) else t(rep(1, length(l))), levels, own))
  one <- function(own) {
    W <- average(own); labels <- expand.grid(rev(levels[own]), stringsAsFactors = FALSE)
    labels <- apply(labels[, rev(seq_along(labels)), drop = FALSE], 1, paste, collapse = " / ")
    table <- function(value, C) {
      m <- drop(W %*% value); S <- W %*% C %*% t(W); at <- which(upper.tri(S), arr.ind = TRUE)
      d <- m[at[, 1]] - m[at[, 2]]; se <- sqrt(diag(S)[at[, 1]] + diag(S)[at[, 2]] - 2 * S[at]); lsd <- qt(0.975, df) * se
      list(means = data.frame(label = labels, mean = m, se = sqrt(diag(S))),
        pairs = data.frame(a = labels[at[, 1]], b = labels[at[, 2]], difference = d, se = se, df = df, p_raw = 2 * pt(-abs(d / se), df),
          p_tukey = ptukey(sqrt(2) * abs(d / se), length(m), df, lower.tail = FALSE)),
        sed = list(min = min(se), mean = mean(se), max = max(se)), lsd_5pct = list(min = min(lsd), mean = mean(lsd), max = max(lsd)))
    }
    L <- vary(own); f <- drop(t(L %*% b) %*% solve(L %*% V %*% t(L)) %*% L %*% b) / nrow(L)
    list(term = I(names(levels)[own]), link = table(b, V), back = table(times * inverse(b), outer(slope, slope) * V),
      test = list(num_df = nrow(L), den_df = df, f = f, p = pf(f, nrow(L), df, lower.tail = FALSE)))
  }
  kinds <- expand.grid(rep(list(c(TRUE, FALSE)), length(levels)))
  out[[name]]$tables <<- apply(kinds[rowSums(kinds) > 0, , drop = FALSE], 1, one, simplify = FALSE) |> unname()
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
at <- golden("wireworms", wireworms ~ 0 + treatment + (1 | row) + (1 | plot), d, poisson())
tables("wireworms", at, list(fumigant = c("K", "M", "N", "O", "P")), 12)
d <- read("seed-germination-temperature", "data.csv"); d$plot <- seq_len(nrow(d))
germination <- list(temperature_regime = paste0("T", 1:4), concentration = c("0", "0.1", "1", "10"))
d$treatment <- interaction(d$temperature_regime, d$concentration, lex.order = TRUE)
at <- golden("germination", cbind(germinated, seeds - germinated) ~ 0 + treatment + (1 | plot), d, binomial())
tables("germination", at, germination, 48, times = 100)
d <- read("beet-webworm-counts", "data.csv")
d$treatment <- paste(d$contact_spray, "/", d$lead_arsenate); d$plot <- paste(d$block, d$treatment)
spray <- list(contact_spray = c("no", "yes"), lead_arsenate = c("no", "yes")); d$area <- seq_len(nrow(d))
at <- golden("webworms", webworms ~ 0 + treatment + (1 | block) + (1 | plot), d, nbinom2())
tables("webworms", at, spray, 36)
at <- golden("webworms_poisson", webworms ~ 0 + treatment + (1 | block) + (1 | plot) + (1 | area), d, poisson())
tables("webworms_poisson", at, spray, 36)
writeLines(toJSON(c(list(software = list(R = as.character(getRversion()), glmmTMB = as.character(packageVersion("glmmTMB")))), out),
  auto_unbox = TRUE, digits = I(15), pretty = TRUE), "expected.json")

# Makes the golden values of scores in this folder from data of other folders:  Rscript make_scores.R
# No package of R fits scores by a restricted likelihood, so the model is written down here and given to TMB, which integrates
# units, means and slopes out by Laplace's method with derivatives of its own. Thresholds but the first, which is zero, stay
# parameters, as do the standard deviations. Then the ordinary likelihood with the standard deviations held at what was found.
suppressPackageStartupMessages({library(TMB); library(jsonlite)})
model <- "
#include <TMB.hpp>
template<class Type> Type objective_function<Type>::operator()() {
  DATA_IVECTOR(score); DATA_VECTOR(count); DATA_MATRIX(X); DATA_IMATRIX(unit); DATA_INTEGER(probit);
  PARAMETER_VECTOR(b); PARAMETER_VECTOR(u); PARAMETER_VECTOR(log_sd); PARAMETER_VECTOR(log_step);
  vector<Type> threshold(log_step.size() + 1);
  threshold(0) = 0;
  for (int k = 0; k < log_step.size(); k++) threshold(k + 1) = threshold(k) + exp(log_step(k));
  Type minus = -sum(dnorm(u, Type(0), Type(1), true));
  vector<Type> eta = X * b;
  for (int i = 0; i < score.size(); i++) {
    for (int g = 0; g < unit.cols(); g++) eta(i) += exp(log_sd(g)) * u(unit(i, g));
    auto below = [&](int k) { Type at = threshold(k) - eta(i); return probit ? pnorm(at) : invlogit(at); };
    Type up = score(i) < threshold.size() ? below(score(i)) : Type(1);
    Type low = score(i) > 0 ? below(score(i) - 1) : Type(0);
    minus -= count(i) * log(up - low);
  }
  return minus;
}"
folder <- tempfile(); dir.create(folder); file <- file.path(folder, "scores.cpp")
writeLines(model, file); compile(file, flags = "-w -O1"); dyn.load(dynlib(sub(".cpp", "", file)))
to_the_end <- function(f, start) {
  end <- nlminb(start, f$fn, f$gr, control = list(iter.max = 1e4, eval.max = 1e4, rel.tol = 1e-15, x.tol = 1e-12))
  optim(end$par, f$fn, f$gr, method = "BFGS", control = list(reltol = 1e-15, maxit = 1000))
}
out <- list()
golden <- function(name, d, X, treatments, groupings, probit = 0L) {
  unit <- sapply(groupings, function(g) as.integer(factor(d[[g]])))
  sizes <- apply(unit, 2, max); unit <- sweep(unit, 2, cumsum(c(0, sizes[-length(sizes)])), "+") - 1L
  storage.mode(unit) <- "integer"
  score <- as.integer(factor(d$score)) - 1L
  data <- list(score = score, count = d$count, X = X, unit = unit, probit = probit)
  start <- list(b = rep(0, ncol(X)), u = rep(0, sum(sizes)), log_sd = rep(-1, length(groupings)), log_step = rep(0, max(score) - 1))
  tight <- list(maxit = 1000, tol10 = 0, grad.tol = 1e-11)
  f <- MakeADFun(data, start, random = c("b", "u"), DLL = "scores", silent = TRUE, inner.control = tight)
  end <- to_the_end(f, f$par)
  start$log_sd <- unname(end$par[names(end$par) == "log_sd"])
  held <- MakeADFun(data, start, random = "u", map = list(log_sd = factor(rep(NA, length(groupings)))), DLL = "scores",
    silent = TRUE, inner.control = tight)
  at <- to_the_end(held, held$par)
  covariance <- solve(optimHess(at$par, held$fn, held$gr, control = list(ndeps = rep(1e-4, length(at$par)))))
  steps <- which(names(at$par) == "log_step"); turn <- outer(seq_along(steps), seq_along(steps), ">=") %*% diag(exp(at$par[steps]))
  own <- seq_len(treatments); slopes <- setdiff(seq_len(ncol(X)), own)
  out[[name]] <<- list(log_likelihood = -end$value, sd = as.list(setNames(exp(start$log_sd), groupings)),
    means = unname(at$par[own]), covariance = unname(covariance[own, own]), columns = unname(at$par[slopes]),
    thresholds = cumsum(exp(unname(at$par[steps]))), threshold_se = sqrt(diag(turn %*% covariance[steps, steps] %*% t(turn))))
}
d <- read.csv("../ordinal/disease.csv"); d$count <- 1
X <- model.matrix(~ 0 + treatment, d)
units <- c("block", "main", "plot")
golden("disease_logit", d, X, 6, units)
golden("disease_probit", d, X, 6, units, 1L)
golden("disease_plots", d, X, 6, "plot")
d <- read.csv("../potato-lifting-damage-scores/data.csv", stringsAsFactors = TRUE)
d$count <- d$tubers; d$score <- d$damage_score
for (n in c("rod", "energy", "variety", "weight_class")) d[[n]] <- factor(d[[n]])
d$plot <- interaction(d$energy, d$variety, d$weight_class, d$rod, drop = TRUE)
golden("lifting_plots", d, model.matrix(~ 0 + rod + energy + variety + weight_class, d), 8, "plot")
writeLines(toJSON(c(list(software = list(R = as.character(getRversion()), TMB = as.character(packageVersion("TMB")))), out),
  auto_unbox = TRUE, digits = I(15), pretty = TRUE), "scores.json")

# Golden values for effects of nitrogen within varieties and of varieties within nitrogen, and for own contrasts, in the oats
# split-plot and in rice at three sites. Run in this folder: Rscript expected.R
suppressPackageStartupMessages({ library(lme4); library(lmerTest); library(pbkrtest); library(emmeans) })
emm_options(msg.interaction = FALSE)
tight <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE, optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-12, xtol_rel = 1e-12, ftol_abs = 1e-13, ftol_rel = 1e-14, maxeval = 1e5))
num <- function(x) sprintf("%.17g", x)
row <- function(...) { x <- list(...); paste0("{", paste0("\"", names(x), "\": ", sapply(x, function(v) if (is.character(v)) paste0("\"", v, "\"") else num(v)), collapse = ", "), "}") }
oats <- read.csv("../oats-variety-nitrogen-split-plot/data.csv", stringsAsFactors = FALSE)
for (k in c("block", "variety", "nitrogen")) oats[[k]] <- factor(oats[[k]], levels = unique(oats[[k]]))
m <- lmer(grain_yield ~ variety * nitrogen + (1 | block) + (1 | block:variety), oats, control = tight)
within <- function(of, at) {
  e <- emmeans(m, c(of), by = at, lmer.df = "kenward-roger")
  f <- as.data.frame(joint_tests(e, by = at))
  p <- as.data.frame(summary(pairs(e), adjust = "tukey", infer = c(FALSE, TRUE)))
  list(tests = sapply(seq_len(nrow(f)), function(i) row(at = as.character(f[i, at]), num_df = f$df1[i], den_df = f$df2[i], f = f$F.ratio[i], p = f$p.value[i])),
       pairs = sapply(seq_len(nrow(p)), function(i) row(at = as.character(p[i, at]), contrast = gsub("nitrogen|variety", "", as.character(p$contrast[i])), estimate = p$estimate[i], se = p$SE[i], df = p$df[i], p_tukey = p$p.value[i])))
}
a <- within("nitrogen", "variety"); b <- within("variety", "nitrogen")
joined <- function(x) paste0("[\n    ", paste(x, collapse = ",\n    "), "]")
writeLines(c("{", paste(c(
  sprintf("  \"software\": \"R 4.2.2, lme4 %s, pbkrtest %s, emmeans %s\"", packageVersion("lme4"), packageVersion("pbkrtest"), packageVersion("emmeans")),
  paste0("  \"nitrogen_within_variety\": ", joined(a$tests)), paste0("  \"nitrogen_within_variety_pairs\": ", joined(a$pairs)),
  paste0("  \"variety_within_nitrogen\": ", joined(b$tests)), paste0("  \"variety_within_nitrogen_pairs\": ", joined(b$pairs))), collapse = ",\n"), "}"), "expected.json")

# Golden values for residuals and their spread. Run in this folder: Rscript expected.R
# Needs lme4. Writes expected.json with 17 significant digits.
suppressPackageStartupMessages(library(lme4))
number <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ", "), "]")
field <- function(name, value) sprintf("  \"%s\": %s", name, value)
brown_forsythe <- function(y, g) {
  z <- abs(y - ave(y, g, FUN = median))
  a <- anova(lm(z ~ g))
  c(a$Df[1], a$Df[2], a$`F value`[1], a$`Pr(>F)`[1])
}
read <- function(case) read.csv(file.path("..", case, "data.csv"), stringsAsFactors = TRUE)

beet <- read("beet-yield-adjusted-for-stand")
blocks <- lm(yield ~ block + fertilizer, beet)
adjusted <- lm(yield ~ block + fertilizer + plants, beet)
wheat <- droplevels(subset(read("wheat-row-column"), !is.na(yield)))
tight <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE, optCtrl = list(algorithm = "NLOPT_LN_BOBYQA", xtol_abs = 1e-12, xtol_rel = 1e-12, ftol_abs = 1e-13, ftol_rel = 1e-14, maxeval = 1e5))
model <- lmer(yield ~ variety + (1 | replicate) + (1 | replicate:row) + (1 | replicate:column), transform(wheat, row = factor(row), column = factor(column)), control = tight)
weight <- read("plant-dry-weight")
one_way <- lm(dry_weight ~ treatment, weight)
scab <- read("potato-scab-sulphur")

writeLines(c("{", paste(c(
  field("software", sprintf("\"R %s.%s, lme4 %s\"", R.version$major, R.version$minor, packageVersion("lme4"))),
  field("beet_leverage", number(hatvalues(blocks))),
  field("beet_internal", number(rstandard(blocks))),
  field("beet_external", number(rstudent(blocks))),
  field("beet_adjusted_leverage", number(hatvalues(adjusted))),
  field("beet_adjusted_external", number(rstudent(adjusted))),
  field("wheat_leverage", number(hatvalues(model))),
  field("wheat_residual", number(residuals(model))),
  field("wheat_sigma", number(sigma(model))),
  field("weight_brown_forsythe", number(brown_forsythe(weight$dry_weight, weight$treatment))),
  field("weight_bartlett", number(with(bartlett.test(dry_weight ~ treatment, weight), c(statistic, parameter, p.value)))),
  field("weight_normal_scores", number(qnorm((rank(residuals(one_way)) - 0.375) / (nrow(weight) + 0.25)))),
  field("scab_brown_forsythe", number(brown_forsythe(scab$scab, scab$treatment)))
), collapse = ",\n"), "}"), "expected.json")

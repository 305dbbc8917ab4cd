# Makes the golden values of this folder:  Rscript make_values.R
# Probabilities and quantiles by R's pt() and qt(); the decisions by comparing ends of intervals with the margin.
suppressPackageStartupMessages(library(jsonlite))
one <- function(estimate, se, df, margin, level) {
  half <- qt(1 - level / 2, df) * se; narrow <- qt(1 - level, df) * se
  list(estimate = estimate, se = se, df = if (is.finite(df)) df else "infinite", margin = margin, level = level,
    lower = estimate - half, upper = estimate + half, narrow_lower = estimate - narrow, narrow_upper = estimate + narrow,
    p_direction = 2 * pt(-abs(estimate / se), df),
    p_above_by_margin = pt((estimate - margin) / se, df, lower.tail = FALSE),
    p_below_by_margin = pt((estimate + margin) / se, df),
    p_no_loss = pt((estimate + margin) / se, df, lower.tail = FALSE),
    p_no_gain = pt((estimate - margin) / se, df))
}
rows <- list()
for (df in c(1, 2, 5.3, 27, Inf)) for (level in c(0.05, 0.2)) for (margin in c(0.5, 2)) for (estimate in c(-6, -1.1, -0.2, 0, 0.4, 2.5, 9))
  rows[[length(rows) + 1]] <- one(estimate, 0.8, df, margin, level)
writeLines(toJSON(list(software = list(R = as.character(getRversion())), rows = rows), auto_unbox = TRUE, digits = I(15)), "expected.json")

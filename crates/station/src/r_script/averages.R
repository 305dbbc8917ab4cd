# ---- Means as weights over the cells ---------------------------------------------------------------------------------

# One row of weights for each combination of the columns `by`, every cell weighted alike. A combination that has a cell
# without plots has no mean; cells with nothing in a column (controls have no levels) belong to none.
averages <- function(cells, by) {
  inside <- stats::complete.cases(cells[by])
  code <- do.call(paste, c(lapply(cells[by], function(column) as.integer(factor(column, levels = unique(column)))),
                           list(rep("", nrow(cells)))))
  wanted <- unique(code[inside])
  weights <- t(vapply(wanted, function(it) as.numeric(inside & code == it) / sum(inside & code == it),
                      numeric(nrow(cells))))
  known <- apply(weights, 1, function(row) all(cells$plots[row > 0] > 0))
  first <- match(wanted, code)
  list(weights = weights[known, cells$plots > 0, drop = FALSE], at = cells[first[known], by, drop = FALSE])
}

# The comparisons that make up a term: those among its means that no smaller term holds already.
comparisons <- function(cells, by, smaller) {
  means <- averages(cells, by)
  inside <- matrix(1, nrow(means$at), 1)
  for (of in smaller) {
    group <- do.call(paste, lapply(means$at[of], function(column) as.integer(factor(column))))
    inside <- cbind(inside, outer(group, unique(group), "==") + 0)
  }
  apart <- qr(inside)
  free <- qr.Q(apart, complete = TRUE)[, -seq_len(apart$rank), drop = FALSE]
  crossprod(free, means$weights)
}

# All differences between the means: the first with each later one, then the second, and so on.
differences <- function(weights) {
  pairs <- utils::combn(nrow(weights), 2)
  weights[pairs[1, ], , drop = FALSE] - weights[pairs[2, ], , drop = FALSE]
}

# Trends of length one over the amounts: linear, quadratic, and so on.
trend_weights <- function(weights, amounts) crossprod(contr.poly(length(amounts), scores = amounts), weights)

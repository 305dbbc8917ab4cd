# ---- Comparing -------------------------------------------------------------------------------------------------------

# Text is read as it stands, in UTF-8 on any machine; an empty cell is a missing one.
read_table <- function(file) {
  read.csv(file.path(folder, file), colClasses = "character", na.strings = "", encoding = "UTF-8", check.names = FALSE)
}

expected <- read_table("expected.csv")
expected$value <- as.numeric(expected$value)
for (column in c("of", "item")) expected[[column]][is.na(expected[[column]])] <- ""
expected$here <- NA_real_
expected$difference <- NA_real_
expected$allowed <- NA_real_
expected$done <- FALSE

# Sets numbers of this script against Guardrow's. The difference is relative; a number below `scale` is judged as if it were
# that large, since the difference of two means that are all but equal has no digits of its own.
compare <- function(measure, part, of, number, here, allowed, scale = 0) {
  rows <- which(expected$measure == measure & expected$part == part & expected$of == of & expected$number == number)
  here <- as.numeric(here)
  if (length(rows) != length(here)) {
    stop(sprintf("%s, %s of %s, %s: Guardrow has %d numbers and this script %d",
                 measure, part, of, number, length(rows), length(here)))
  }
  there <- expected$value[rows]
  expected$here[rows] <<- here
  expected$difference[rows] <<- abs(here - there) / pmax(abs(there), scale, 1e-300)
  expected$allowed[rows] <<- allowed
  expected$done[rows] <<- TRUE
  invisible(NULL)
}

# Prints every number and stops when one is further off than it may be.
judge <- function() {
  shown <- paste0(expected$part, ifelse(expected$of == "", "", ", "), expected$of, ": ", expected$item,
                  ifelse(expected$item == "", "", ", "), expected$number)
  for (measure in unique(expected$measure)) {
    rows <- which(expected$measure == measure)
    cat("\n", measure, ": Guardrow | this script | relative difference\n", sep = "")
    cat(sprintf("  %s | %.10g | %.10g | %.1e\n", shown[rows], expected$value[rows], expected$here[rows],
                expected$difference[rows]), sep = "")
  }
  left <- which(!expected$done)
  if (length(left) > 0) stop(length(left), " numbers of Guardrow were not compared, the first: ", shown[left[1]])
  known <- !is.na(expected$value)
  off <- which(known & (is.na(expected$difference) | expected$difference > expected$allowed))
  if (length(off) > 0) {
    stop(length(off), " of ", sum(known), " numbers differ by more than allowed, the first: ", shown[off[1]],
         " (", format(expected$value[off[1]], digits = 12), " and ", format(expected$here[off[1]], digits = 12), ")")
  }
  cat(sprintf("\n%d numbers compared, the largest relative difference %.1e: all agree.\n", sum(known),
              max(c(0, expected$difference[known]))))
}

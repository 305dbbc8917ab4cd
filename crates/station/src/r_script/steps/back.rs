//! Means after a transformation, transformed back.

use guardrow_inference::{BackTable, Transform, TransformKind, TransformedAnalysis};

use super::{BY_MODEL, BY_STRATA, Steps, mixed, tables};
use crate::r_script::section::Model;

const PART: &str = "transformed back";

/// What the transformation is in R, of what stands in `column`.
pub(in crate::r_script) fn of_values(transform: Transform, column: &str) -> String {
    let shifted = shifted(transform, &format!("trial${column}"));
    match transform.by {
        TransformKind::Logarithm => format!("log({shifted})"),
        TransformKind::SquareRoot => format!("sqrt({shifted})"),
        TransformKind::Angular => format!("asin(sqrt({shifted} / 100))"),
    }
}

fn shifted(transform: Transform, what: &str) -> String {
    if transform.added == 0.0 { what.to_owned() } else { format!("({what} + {})", transform.added) }
}

/// Writes the tables of means and intervals transformed back, after those of the transformed values.
pub(in crate::r_script) fn write(model: &Model<'_>, transformed: &TransformedAnalysis, steps: &mut Steps<'_>) {
    let back = match transformed.transform.by {
        TransformKind::Logarithm => "exp(it)",
        TransformKind::SquareRoot => "pmax(it, 0)^2",
        TransformKind::Angular => "100 * sin(pmin(pmax(it, 0), pi / 2))^2",
    };
    steps.blank();
    steps.comment("Means of the transformed values and the ends of their intervals, transformed back.");
    steps.line(&format!("back <- function(it) {back} - {}", transformed.transform.added));
    let allowed = if model.strata_lead() || !mixed::is_there(model) { BY_STRATA } else { BY_MODEL };
    for table in &transformed.back {
        let Some(means) = tables::means_of(model, &table.label) else { continue };
        steps.line(&format!("found <- estimates({means})"));
        one(table, steps, allowed);
    }
}

fn one(table: &BackTable, steps: &mut Steps<'_>, allowed: &str) {
    let of = table.label.as_str();
    let numbers = [("mean", "estimate"), ("lower", "lower"), ("upper", "upper")];
    for (number, own) in numbers {
        let value = |cell: &guardrow_inference::BackCell| match number {
            "mean" => Some(cell.mean),
            "lower" => cell.lower,
            _ => cell.upper,
        };
        steps.numbers.add(PART, of, number, table.cells.iter().map(|cell| (cell.label.clone(), value(cell))));
        // An end near nought has few digits of its own: what is judged is its distance from the other end.
        let here = format!("back(found${own})");
        steps.compare(
            PART,
            of,
            number,
            &here,
            &format!("10 * {allowed}"),
            "abs(back(found$upper) - back(found$lower))",
        );
    }
}

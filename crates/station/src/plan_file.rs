//! The plan file: a plan as TOML, for people, scripts and other stations. Documented in `docs/plan-file.md`.

use crate::error::ErrorKind;
use crate::{FORMAT, Plan, StationError};

/// Reads a plan file.
///
/// # Errors
/// [`ErrorKind::NotUnderstood`] with the line and column where the text is no plan.
pub fn read_plan_file(file: &str, text: &str) -> Result<Plan, StationError> {
    let plan: Plan = toml::from_str(text).map_err(|error| {
        let place = match error.span() {
            Some(span) => {
                let (line, column) = line_and_column(text, span.start);
                format!("{file}, line {line}, column {column}")
            }
            None => file.to_owned(),
        };
        StationError::new(
            ErrorKind::NotUnderstood,
            error.message().to_owned(),
            place,
            "docs/plan-file.md lists every field with an example",
        )
    })?;
    if plan.format != FORMAT {
        return Err(StationError::new(
            ErrorKind::NotUnderstood,
            format!("the file says format “{}”; this version reads “{FORMAT}”", plan.format),
            format!("{file}, field format"),
            "check that it is a plan file; one from a newer version needs that version",
        ));
    }
    Ok(plan)
}

/// Writes a plan as a plan file.
pub fn write_plan_file(plan: &Plan) -> String {
    let body = toml::to_string_pretty(plan).expect("a plan has only values that TOML can hold");
    format!(
        "# Plan of trial {}: what was decided before seeding. Format: docs/plan-file.md.\n\n{body}",
        plan.trial.code
    )
}

fn line_and_column(text: &str, at: usize) -> (usize, usize) {
    let before = &text[..at.min(text.len())];
    let line = before.matches('\n').count() + 1;
    let column = before.rsplit('\n').next().map_or(0, |tail| tail.chars().count()) + 1;
    (line, column)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plan_comes_back_from_its_file() {
        let plan = Plan { exclusion_rule: "plots under water for a day".to_owned(), ..Plan::default() };
        let text = write_plan_file(&plan);
        assert_eq!(read_plan_file("plan.toml", &text).expect("read back"), plan);
    }

    #[test]
    fn an_unknown_field_names_its_line_and_column() {
        let error =
            read_plan_file("p.toml", "format = \"guardrow plan 1\"\n[trial]\ncoode = \"A\"\n").expect_err("typo");
        assert_eq!(error.place, "p.toml, line 3, column 1");
        assert!(error.what.contains("coode"), "{}", error.what);
    }

    #[test]
    fn a_bare_margin_is_refused_where_it_stands() {
        let text = "format = \"guardrow plan 1\"\n[[question.claims]]\nstatement = \"s\"\nmargin = \"250\"\n";
        let error = read_plan_file("p.toml", text).expect_err("no unit");
        assert!(error.place.contains("line"), "{error:?}");
    }

    #[test]
    fn another_format_is_refused() {
        let error = read_plan_file("p.toml", "format = \"guardrow plan 9\"\n").expect_err("newer");
        assert_eq!(error.kind, ErrorKind::NotUnderstood);
        assert!(error.what.contains("guardrow plan 9"));
    }
}

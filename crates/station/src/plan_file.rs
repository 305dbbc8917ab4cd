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
    refuse_unknown_field(file, text, &plan)?;
    Ok(plan)
}

/// Refuses a field that no plan has, wherever it stands: a slip in a name would otherwise go unseen.
fn refuse_unknown_field(file: &str, text: &str, plan: &Plan) -> Result<(), StationError> {
    let given: toml::Table = toml::from_str(text).expect("the same text was read as a plan before");
    let known = toml::Table::try_from(plan).expect("a plan has only values that TOML can hold");
    match unknown_field(&toml::Value::Table(given), &toml::Value::Table(known)) {
        None => Ok(()),
        Some(field) => Err(StationError::new(
            ErrorKind::NotUnderstood,
            format!("a plan has no field “{field}”"),
            format!("{file}, field {field}"),
            "docs/plan-file.md lists every field with an example",
        )),
    }
}

/// The path of the first field of `given` that is lost in `known`; a field without content is not missed.
fn unknown_field(given: &toml::Value, known: &toml::Value) -> Option<String> {
    match (given, known) {
        (toml::Value::Table(given), toml::Value::Table(known)) => given.iter().find_map(|(name, value)| {
            let Some(inside) = known.get(name) else { return (!is_empty(value)).then(|| name.clone()) };
            unknown_field(value, inside).map(|path| match path.strip_prefix('[') {
                Some(_) => format!("{name}{path}"),
                None => format!("{name}.{path}"),
            })
        }),
        (toml::Value::Array(given), toml::Value::Array(known)) => given
            .iter()
            .zip(known)
            .enumerate()
            .find_map(|(index, (given, known))| unknown_field(given, known).map(|path| format!("[{index}].{path}"))),
        _ => None,
    }
}

fn is_empty(value: &toml::Value) -> bool {
    match value {
        toml::Value::Array(items) => items.is_empty(),
        toml::Value::Table(fields) => fields.is_empty(),
        _ => false,
    }
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
    fn an_unknown_field_is_refused_however_deep_it_stands() {
        let claim = "format = \"guardrow plan 1\"\n[[question.claims]]\nstatement = \"s\"\nmesure = \"yield\"\n";
        let level = "format = \"guardrow plan 1\"\n[[treatments.factors]]\nname = \"f\"\nlevels = [{ label = \"a\", amout = 1.0 }]\n";
        for (text, field) in [(claim, "question.claims[0].mesure"), (level, "treatments.factors[0].levels[0].amout")] {
            let error = read_plan_file("p.toml", text).expect_err(field);
            assert_eq!(error.place, format!("p.toml, field {field}"));
        }
    }

    #[test]
    fn another_format_is_refused() {
        let error = read_plan_file("p.toml", "format = \"guardrow plan 9\"\n").expect_err("newer");
        assert_eq!(error.kind, ErrorKind::NotUnderstood);
        assert!(error.what.contains("guardrow plan 9"));
    }
}

//! The analysis of variance by `aov`, where the layout is orthogonal.

use guardrow_inference::{AnovaRow, Notice, RESIDUAL, StratumRows};

use super::{BY_STRATA, Steps};
use crate::r_script::names::quoted;
use crate::r_script::section::Model;

const PART: &str = "analysis of variance";

/// Writes the table and compares its rows, where terms in sequence are the same as each given the others.
pub(in crate::r_script) fn write(model: &Model<'_>, steps: &mut Steps<'_>) {
    let Some(strata) = &steps.analysis.strata else { return };
    let terms: Vec<String> = model.parts.terms.iter().map(|term| model.by(term).join(":")).collect();
    let fixed: Vec<String> = model.covariates.iter().cloned().chain(terms).collect();
    let fixed = if fixed.is_empty() { "1".to_owned() } else { fixed.join(" + ") };
    let groups: Vec<&str> = model.groupings.iter().map(|it| it.column.as_str()).collect();
    let errors = if groups.is_empty() { String::new() } else { format!(" + Error({})", groups.join(" + ")) };
    steps.blank();
    steps.comment("Analysis of variance: every term in the stratum of the units that it was randomised to.");
    steps.line("laid <- d");
    if !model.section.trial.experiment.treatments.controls.is_empty() {
        steps.comment("Controls have no levels; what they are given here is taken up by `kind`.");
        for factor in &model.parts.fixed_factors {
            let column = model.section.columns.of(crate::r_script::names::Role::Factor, factor).unwrap_or_default();
            steps.line(&format!("laid${column}[is.na(laid${column})] <- levels(laid${column})[1]"));
        }
    }
    // aov remarks that smaller units lie within larger ones ("Error() model is singular"), which is so by intention.
    steps.line(&format!("anova <- suppressWarnings(summary(aov(y ~ {fixed}{errors}, data = laid)))"));
    steps.line("print(anova)");
    if !is_comparable(model, steps) {
        steps.comment(
            "Here a term's sum of squares depends on the terms before it, so the table is shown but not compared; the tests below, each given all other terms, are.",
        );
        return;
    }
    let last = strata.strata.len().saturating_sub(1);
    let strata = strata.strata.clone();
    for (index, stratum) in strata.iter().enumerate() {
        let grouping = model.groupings.iter().find(|it| it.name == stratum.stratum).map(|it| it.column.as_str());
        // Places that are fixed stand in the table of units that hold no error of their own; aov has no such stratum.
        let Some(name) = grouping.or_else(|| (index == last).then_some("Within")) else { continue };
        compare_stratum(model, steps, stratum, name);
    }
}

fn is_comparable(model: &Model<'_>, steps: &Steps<'_>) -> bool {
    let is_in_the_way = |notice: &Notice| {
        matches!(
            notice,
            Notice::UnequalReplication
                | Notice::TestedInPart { .. }
                | Notice::NotTestable { .. }
                | Notice::MeanNotEstimable { .. }
        )
    };
    model.covariates.is_empty() && !steps.analysis.notices.iter().any(is_in_the_way)
}

fn compare_stratum(model: &Model<'_>, steps: &mut Steps<'_>, stratum: &StratumRows, name: &str) {
    let source = |row: &AnovaRow| match row.source.as_str() {
        RESIDUAL => Some("Residuals".to_owned()),
        label => model.parts.terms.iter().find(|term| term.label == label).map(|term| model.by(term).join(":")),
    };
    let rows: Vec<(&AnovaRow, String)> = stratum.rows.iter().filter_map(|row| Some((row, source(row)?))).collect();
    if rows.is_empty() {
        return;
    }
    let of = stratum.stratum.as_str();
    let mut add = |number: &'static str, value: fn(&AnovaRow) -> Option<f64>| {
        steps.numbers.add(PART, of, number, rows.iter().map(|(row, _)| (row.source.clone(), value(row))));
    };
    add("df", |row| Some(row.df));
    add("SS", |row| Some(row.ss));
    add("F", |row| row.f);
    add("p", |row| row.p);
    let sources: Vec<String> = rows.iter().map(|(_, source)| quoted(source)).collect();
    steps.line(&format!(
        "compare_rows(measure, {}, rows_of(anova, {}, c({})), {BY_STRATA})",
        quoted(of),
        quoted(name),
        sources.join(", ")
    ));
}

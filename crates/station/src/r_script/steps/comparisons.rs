//! The tests of terms and what covariates did.

use guardrow_inference::{PartTerm, TermTest};

use super::{BY_MODEL, BY_STRATA, Steps, mixed};
use crate::r_script::names::quoted;
use crate::r_script::section::Model;

const STRATA: &str = "tests by strata";
const MODEL: &str = "tests by Kenward-Roger";

/// Writes the leading way to estimate and test, and the tests of all terms by it and by the other.
pub(in crate::r_script) fn write(model: &Model<'_>, steps: &mut Steps<'_>) {
    let by_strata = model.strata_lead() || !mixed::is_there(model);
    if by_strata {
        strata(model, steps);
    }
    let analysis = steps.analysis;
    steps.blank();
    steps.comment("The test of each term, its means weighted alike over everything else and given all other terms.");
    let (strata, by_model) = match model.strata_lead() {
        true => (&analysis.tests, &analysis.other_tests),
        false => (&analysis.other_tests, &analysis.tests),
    };
    for term in &model.parts.terms {
        let own =
            |tests: &[TermTest]| tests.iter().filter(|test| test.label == term.label).cloned().collect::<Vec<_>>();
        let in_strata = if by_strata { own(strata) } else { Vec::new() };
        let of_model = if mixed::is_there(model) { own(by_model) } else { Vec::new() };
        if in_strata.is_empty() && of_model.is_empty() {
            continue;
        }
        steps.line(&format!("weights <- {}", comparisons(model, term)));
        // A term that lies in several strata has a test in each; aov has compared these.
        if let [test] = in_strata.as_slice() {
            steps.compare_test(STRATA, test, "test_by_strata(fit, weights, level)", BY_STRATA);
        }
        if let [test] = of_model.as_slice() {
            steps.compare_test(MODEL, test, "test_by_model(model, weights)", BY_MODEL);
        }
    }
    covariates(model, steps);
}

fn strata(model: &Model<'_>, steps: &mut Steps<'_>) {
    let units: Vec<String> = model.groupings.iter().map(|it| quoted(&it.column)).collect();
    let units = if units.is_empty() { "list()".to_owned() } else { format!("d[c({})]", units.join(", ")) };
    let covariates: Vec<String> = model.covariates.iter().map(|it| quoted(it)).collect();
    let covariates = if covariates.is_empty() { String::new() } else { format!(", d[c({})]", covariates.join(", ")) };
    steps.blank();
    steps.comment("By strata: the error of every comparison from the mean squares of the strata that it lies in.");
    steps.line(&format!("fit <- by_strata(d$y, d$cell, {units}{covariates})"));
}

fn comparisons(model: &Model<'_>, term: &PartTerm) -> String {
    let by = model.by(term);
    let is_part = |other: &Vec<String>| other.len() < by.len() && other.iter().all(|it| by.contains(it));
    let smaller: Vec<String> =
        model.parts.terms.iter().map(|it| model.by(it)).filter(is_part).map(|it| columns(&it)).collect();
    format!("comparisons(cells, {}, list({}))", columns(&by), smaller.join(", "))
}

/// `c("a", "b")` of column names.
pub(super) fn columns(names: &[String]) -> String {
    let names: Vec<String> = names.iter().map(|it| quoted(it)).collect();
    format!("c({})", names.join(", "))
}

fn covariates(model: &Model<'_>, steps: &mut Steps<'_>) {
    let part = "slopes";
    for (index, result) in steps.analysis.covariates.iter().enumerate() {
        let Some(slope) = &result.slope else { continue };
        let of = result.name.as_str();
        steps.numbers.one(part, of, "slope", Some(slope.estimate));
        steps.numbers.one(part, of, "SE", Some(slope.se));
        steps.numbers.one(part, of, "df", Some(slope.df));
        steps.numbers.one(part, of, "p", result.p);
        let by_strata = model.strata_lead();
        let allowed = if by_strata { BY_STRATA } else { BY_MODEL };
        let here = match by_strata {
            true => format!("slope_by_strata(fit, {})", index + 1),
            false => format!("slope_by_model(model, {})", quoted(&model.covariates[index])),
        };
        steps.comment("The slope that all treatments share.");
        steps.line(&format!("compare_slope(measure, {}, {here}, {allowed})", quoted(of)));
    }
}

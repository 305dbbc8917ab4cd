//! Tables of means with all differences, comparisons with controls, and trends.

use guardrow_design::{Factor, Scale};
use guardrow_inference::{
    ALL_TREATMENTS, CONTROLS_AND_FACTORIAL, Compared, ControlTable, DunnettMethod, MeansTable, PairDifference,
    PartTerm, Trend,
};

use super::comparisons::columns;
use super::{BY_MODEL, BY_STRATA, Steps, mixed};
use crate::r_script::names::quoted;
use crate::r_script::section::Model;

/// Differences between more means than these are not listed one by one: their number grows with the square.
const MOST_PAIRED: usize = 60;
/// Polynomial degrees that are compared, as in the report.
const DEGREES: usize = 2;

const MEANS: &str = "means";
const DIFFERENCES: &str = "differences";

/// Writes every table of the analysis.
pub(in crate::r_script) fn write(model: &Model<'_>, steps: &mut Steps<'_>) {
    steps.blank();
    let by_strata = model.strata_lead() || !mixed::is_there(model);
    let (way, allowed) = match by_strata {
        true => ("estimates_by_strata(fit, weights, level)", BY_STRATA),
        false => ("estimates_by_model(cells_by_model, weights, level)", BY_MODEL),
    };
    steps.comment("Means, each with its error, and all their differences.");
    steps.line(&format!("estimates <- function(weights) {way}"));
    for table in &steps.analysis.tables {
        let Some(means) = means_of(model, &table.label) else { continue };
        one_table(model, steps, table, &means, allowed);
    }
    for factor in &model.section.trial.experiment.treatments.factors {
        trend(model, steps, factor, allowed);
    }
}

/// The means of a table as weights over the cells; nothing for a table whose term the script does not have.
pub(super) fn means_of(model: &Model<'_>, label: &str) -> Option<String> {
    let term = model.parts.terms.iter().find(|term| table_label(term) == label)?;
    Some(format!("averages(cells, {})$weights", columns(&model.by_in_table(term))))
}

fn table_label(term: &PartTerm) -> String {
    match term.compared {
        Compared::ControlsAndFactorial => term.label.replace(CONTROLS_AND_FACTORIAL, ALL_TREATMENTS),
        _ => term.label.clone(),
    }
}

fn one_table(model: &Model<'_>, steps: &mut Steps<'_>, table: &MeansTable, means: &str, allowed: &str) {
    steps.blank();
    steps.line(&format!("means <- {means}"));
    steps.compare_means(MEANS, &table.label, &table.cells, "estimates(means)", allowed);
    if is_same_by_model(model) {
        steps.comment("With no variance at zero the mixed model gives the same means and errors.");
        let here = "estimates_by_model(cells_by_model, means, level)";
        steps.compare_means("means by emmeans", &table.label, &table.cells, here, BY_MODEL);
    }
    if table.cells.len() <= MOST_PAIRED && table.pairs.len() == table.cells.len() * (table.cells.len() - 1) / 2 {
        differences(steps, table, allowed);
    }
    for control in &table.against_control {
        against_control(model, steps, table, control, allowed);
    }
}

/// Whether the strata lead and the mixed model comes to the same.
fn is_same_by_model(model: &Model<'_>) -> bool {
    let analysis = model.section.analysis;
    model.strata_lead()
        && model.covariates.is_empty()
        && analysis.difference_between_methods.is_none()
        && mixed::is_there(model)
        && analysis
            .mixed
            .as_ref()
            .is_some_and(|mixed| !mixed.evidence.singular && mixed.components.len() == model.groupings.len())
}

fn differences(steps: &mut Steps<'_>, table: &MeansTable, allowed: &str) {
    let of = table.label.as_str();
    let mut add = |number: &'static str, value: fn(&PairDifference) -> f64| {
        let label = |pair: &PairDifference| format!("{} - {}", table.cells[pair.a].label, table.cells[pair.b].label);
        steps.numbers.add(DIFFERENCES, of, number, table.pairs.iter().map(|pair| (label(pair), Some(value(pair)))));
    };
    add("estimate", |pair| pair.estimate);
    add("SE", |pair| pair.se);
    add("df", |pair| pair.df);
    add("lower", |pair| pair.lower);
    add("upper", |pair| pair.upper);
    add("p", |pair| pair.p);
    add("p by Tukey", |pair| pair.p_tukey);
    add("p by Holm", |pair| pair.p_holm);
    let lsd = [("smallest", table.lsd.min), ("mean", table.lsd.mean), ("largest", table.lsd.max)];
    steps.numbers.add(DIFFERENCES, of, "LSD", lsd.map(|(item, value)| (item.to_owned(), Some(value))));
    steps.line(&format!(
        "compare_differences(measure, {}, estimates(differences(means)), nrow(means), {allowed})",
        quoted(of)
    ));
}

fn against_control(
    model: &Model<'_>,
    steps: &mut Steps<'_>,
    table: &MeansTable,
    control: &ControlTable,
    allowed: &str,
) {
    let part = "against a control";
    let of = control.control.as_str();
    let Some(own) = table.cells.iter().position(|cell| cell.label == control.control) else { return };
    let exact = control.method == DunnettMethod::Exact;
    let of_all = |value: fn(&guardrow_inference::ControlComparison) -> f64| {
        control.comparisons.iter().map(|it| (it.label.clone(), Some(value(it)))).collect::<Vec<_>>()
    };
    steps.numbers.add(part, of, "estimate", of_all(|it| it.estimate));
    steps.numbers.add(part, of, "SE", of_all(|it| it.se));
    steps.numbers.add(part, of, "df", of_all(|it| it.df));
    steps.numbers.add(part, of, "p", of_all(|it| it.p));
    steps.line(&format!(
        "apart <- means[-{0}, , drop = FALSE] - means[rep({0}, nrow(means) - 1), , drop = FALSE]",
        own + 1
    ));
    steps.line("found <- estimates(apart)");
    steps.line(&format!("compare_with_control(measure, {}, found, {allowed})", quoted(of)));
    let whole_df = control.comparisons.iter().all(|it| (it.df - it.df.round()).abs() < 1e-6);
    if exact && whole_df {
        steps.numbers.add(part, of, "p by Dunnett", of_all(|it| it.p_dunnett));
        let covariance = match model.strata_lead() || !mixed::is_there(model) {
            true => "covariance_by_strata(fit, apart)",
            false => "covariance_by_model(cells_by_model, apart)",
        };
        let here = format!("dunnett_p(found$estimate / found$se, cov2cor({covariance}), found$df[1])");
        steps.compare(part, of, "p by Dunnett", &here, "integration", "1");
    } else {
        steps.comment(
            "Dunnett's p is an approximation here (degrees of freedom that differ or are no whole number), which R's multivariate t cannot follow.",
        );
    }
}

fn trend(model: &Model<'_>, steps: &mut Steps<'_>, factor: &Factor, allowed: &str) {
    let part = "trends";
    if !matches!(factor.scale, Scale::Quantitative { .. }) || factor.levels.len() < 3 {
        return;
    }
    let Ok(trend) = steps.analysis.trend(&factor.name, DEGREES) else { return };
    let Some(column) = model.section.columns.of(crate::r_script::names::Role::Factor, &factor.name) else { return };
    let of = factor.name.as_str();
    let amounts = crate::r_script::names::vector(trend.scores.iter().map(f64::to_string));
    steps.blank();
    steps.comment("Trends over the amounts, whatever their spacing, and what they leave of the differences.");
    steps.line(&format!("weights <- trend_weights(averages(cells, {})$weights, {amounts})", quoted(column)));
    let terms = |value: fn(&guardrow_inference::TrendTerm) -> f64| {
        trend.terms.iter().map(|term| (term.name.clone(), Some(value(term)))).collect::<Vec<_>>()
    };
    steps.numbers.add(part, of, "estimate", terms(|term| term.contrast.estimate));
    steps.numbers.add(part, of, "SE", terms(|term| term.contrast.se));
    steps.numbers.add(part, of, "df", terms(|term| term.contrast.df));
    steps.numbers.add(part, of, "p", terms(|term| term.p));
    let rows = trend.terms.len();
    steps.line(&format!(
        "compare_trend(measure, {}, estimates(weights[1:{rows}, , drop = FALSE]), {allowed})",
        quoted(of)
    ));
    lack_of_fit(model, steps, &trend, allowed);
}

fn lack_of_fit(model: &Model<'_>, steps: &mut Steps<'_>, trend: &Trend, allowed: &str) {
    let Some(lack) = trend.terms.last().and_then(|term| term.lack_of_fit) else { return };
    let (part, of, degrees) = ("lack of fit", trend.factor.as_str(), trend.terms.len());
    steps.numbers.one(part, of, "numerator df", Some(lack.num_df));
    steps.numbers.one(part, of, "denominator df", Some(lack.den_df));
    steps.numbers.one(part, of, "F", Some(lack.f));
    steps.numbers.one(part, of, "p", Some(lack.p));
    let rest = format!("weights[-(1:{degrees}), , drop = FALSE]");
    let here = match model.strata_lead() || !mixed::is_there(model) {
        true => format!("test_by_strata(fit, {rest}, level)"),
        false => format!("test_by_model(model, {rest})"),
    };
    steps.line(&format!("compare_test(measure, \"{part}\", {}, {here}, {allowed})", quoted(of)));
}

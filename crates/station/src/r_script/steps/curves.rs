//! Curves over the amounts of a factor, and the best amounts on them.

use guardrow_design::{Factor, Scale};
use guardrow_inference::{BestAmount, CurveFit, CurveNotice, CurveOptions, Form, GroupCurves};

use super::comparisons::columns;
use super::{BY_MODEL, BY_STRATA, Steps, mixed};
use crate::r_script::names::{Role, quoted, vector};
use crate::r_script::section::Model;
use crate::report::FEWEST_AMOUNTS;

const CURVES: &str = "curves";
const BEST: &str = "best amounts";
const LACK: &str = "lack of fit of curves";
/// What the place of a bend may differ by.
const BENDING: &str = "bending";

/// Writes, for every factor with enough amounts, the curves that fit about equally well: averaged over the other factors, and at
/// each level of each of them.
pub(in crate::r_script) fn write(model: &Model<'_>, steps: &mut Steps<'_>) {
    let factors = &model.section.trial.experiment.treatments.factors;
    for factor in factors.iter().filter(|factor| factor.levels.len() >= FEWEST_AMOUNTS) {
        let Scale::Quantitative { .. } = &factor.scale else { continue };
        let others = factors.iter().filter(|other| other.name != factor.name).map(Some);
        std::iter::once(None).chain(others).for_each(|by| over(model, steps, factor, by));
    }
}

/// Curves over one factor, one for each level of another where there is one.
fn over(model: &Model<'_>, steps: &mut Steps<'_>, factor: &Factor, by: Option<&Factor>) {
    let section = model.section;
    let price_ratio = section.price_ratio(factor);
    let options = CurveOptions { price_ratio, ..CurveOptions::default() };
    let asked = section.analysis.response_curves(&factor.name, by.map(|by| by.name.as_str()), &[], &[], &options);
    let Ok(curves) = asked else { return };
    let amounts: Option<Vec<f64>> = factor.levels.iter().map(|level| level.amount).collect();
    let column = |factor: &Factor| section.columns.of(Role::Factor, &factor.name).map(str::to_owned);
    let (Some(amounts), Some(own)) = (amounts, column(factor)) else { return };
    let of_by = by.and_then(column);
    let term: Vec<String> = of_by.iter().cloned().chain([own.clone()]).collect();
    steps.blank();
    steps.comment("Curves over the amounts, through the means.");
    steps.line(&format!("found <- averages(cells, {})", columns(&term)));
    steps.line(&format!("amounts <- {}[found$at${own}]", vector(amounts.iter().map(f64::to_string))));
    for group in &curves.groups {
        let level = by.and_then(|by| by.levels.iter().position(|level| level.label == group.label));
        let here = match (&of_by, level) {
            (Some(column), Some(level)) => format!("found$at${column} == {}", level + 1),
            _ => "rep(TRUE, length(amounts))".to_owned(),
        };
        steps.line(&format!("here <- {here}"));
        steps.line("means <- found$weights[here, , drop = FALSE]");
        let covariance = match by_strata(model) {
            true => "covariance_by_strata(fit, means)",
            false => "plain_covariance_by_model(model, cells_by_model, means)",
        };
        steps.line(&format!("spread <- {covariance}"));
        for curve in group.fit_equally.iter().filter_map(|form| group.curve(*form)) {
            let at = by.map(|by| format!(", {} {}", by.name, group.label)).unwrap_or_default();
            one(model, steps, &format!("{}{at}: {}", factor.name, curve.form.name()), curve, group);
        }
    }
}

fn by_strata(model: &Model<'_>) -> bool {
    model.strata_lead() || !mixed::is_there(model)
}

fn one(model: &Model<'_>, steps: &mut Steps<'_>, of: &str, curve: &CurveFit, group: &GroupCurves) {
    let has_kink = curve.notices.iter().any(|notice| matches!(notice, CurveNotice::JoinAtTestedAmount { .. }));
    if has_kink || curve.parameters.iter().any(|it| it.value.se.is_none()) {
        steps.comment(&format!("{of}: the join lies at a tested amount, or a parameter has no error; not reproduced."));
        return;
    }
    let allowed = match by_strata(model) {
        true if curve.form.is_bent() => BENDING,
        true => BY_STRATA,
        false => BY_MODEL,
    };
    let name = quoted(of);
    let of_all = |value: fn(&guardrow_inference::Quantity) -> Option<f64>| {
        curve.parameters.iter().map(|it| (it.name.clone(), value(&it.value))).collect::<Vec<_>>()
    };
    steps.numbers.add(CURVES, of, "parameter", of_all(|it| Some(it.estimate)));
    steps.numbers.add(CURVES, of, "SE", of_all(|it| it.se));
    steps.numbers.add(CURVES, of, "df", of_all(|it| it.df));
    steps.numbers.one(CURVES, of, "sum of squares about it", Some(curve.squares));
    steps.line(&format!(
        "curve <- curve_through({}, amounts[here], estimates(means)$estimate, spread)",
        quoted(curve.form.name())
    ));
    steps.line(&format!("compare_curve(measure, {name}, curve, means, estimates, {allowed})"));
    if by_strata(model) {
        // What is left beside a curve without a level of its own lies in the strata of the level too, and in one only where it
        // is a single comparison.
        if let Some(lack) = curve.lack_of_fit.filter(|lack| curve.form != Form::LogisticFromZero || lack.num_df == 1.0)
        {
            steps.numbers.one(LACK, of, "numerator df", Some(lack.num_df));
            steps.numbers.one(LACK, of, "denominator df", Some(lack.den_df));
            steps.numbers.one(LACK, of, "F", Some(lack.f));
            steps.numbers.one(LACK, of, "p", Some(lack.p));
            steps.line(&format!("compare_lack_of_fit(measure, {name}, curve, means, estimates, {allowed})"));
        }
        if group.response.is_some() && curve.aicc.is_some() {
            steps.numbers.one(CURVES, of, "criterion", curve.aicc);
            steps.line(&format!("compare_criterion(measure, {name}, curve, means, estimates, {allowed})"));
        }
    }
    let bests = [("highest response", Some(&curve.best)), ("highest return", curve.economic.as_ref())];
    for (words, best) in bests {
        let Some(BestAmount::Found(best)) = best else { continue };
        if best.amount.se.is_none() {
            continue;
        }
        let of = format!("{of}, {words}");
        steps.numbers.one(BEST, &of, "amount", Some(best.amount.estimate));
        steps.numbers.one(BEST, &of, "SE", best.amount.se);
        steps.numbers.one(BEST, &of, "df", best.amount.df);
        steps.line(&format!(
            "compare_best_amount(measure, {}, curve, {}, means, estimates, {allowed})",
            quoted(&of),
            best.price_ratio
        ));
    }
}

//! Curves through treatment means, with the error of the strata in which they were compared.

use super::groups::{GroupCurves, MeanOfAmount, ResponseCurves, all_sharing, group_curves};
use super::notice::CurveNotice;
use super::options::CurveOptions;
use super::points::{ErrorOf, Points};
use super::quantity::Quantity;
use crate::InferenceError;
use crate::fit::Fit;
use crate::matrix::{add_scaled, dot};

/// One treatment mean as a point of a curve.
#[derive(Debug, Clone, PartialEq)]
pub struct AmountMean {
    /// Index of its group.
    pub group: usize,
    /// The amount.
    pub amount: f64,
    /// Weights over all treatments of the trial, summing to one.
    pub weights: Vec<f64>,
}

/// Fits curves to treatment means by generalised least squares with the covariance that the strata (or the mixed model) give them.
///
/// Every parameter, optimum and test is judged as the comparison of means that it is: with the error and the degrees of freedom of
/// the units to which the amounts were randomised.
///
/// - `means`: in any order; those of treatments without values are left out, with a notice
/// - `labels`: one per group; a single empty one where there are no groups
///
/// # Errors
/// [`InferenceError::Setting`] for an option outside its range, [`InferenceError::Scores`] for amounts that are not finite or
/// stand twice in a group, [`InferenceError::Weights`], [`InferenceError::NoErrorInStratum`] where no error is known at all.
/// # Source
/// Seber & Wild (1989), Nonlinear Regression, sections 2.1 and 5.2; extra sum of squares as in Bates & Watts (1988), section 3.10.
/// Checked against R in `tests/curve/`; the method is told in `docs/numbers/response-curves.md`.
pub fn curves_of_means(
    fit: &Fit,
    means: &[AmountMean],
    labels: &[String],
    options: &CurveOptions,
) -> Result<ResponseCurves, InferenceError> {
    options.check()?;
    check_amounts(means, labels.len())?;
    let mut usable = Vec::new();
    for mean in means {
        match fit.over_cells(&mean.weights).and_then(|cells| fit.row(&cells)) {
            Ok(_) => usable.push(mean),
            Err(InferenceError::NotEstimable { .. }) => {}
            Err(other) => return Err(other),
        }
    }
    let mut groups = Vec::new();
    let mut own = Vec::new();
    for (group, label) in labels.iter().enumerate() {
        let of_group: Vec<&AmountMean> = usable.iter().copied().filter(|mean| mean.group == group).collect();
        let lost = means.iter().filter(|mean| mean.group == group).count() - of_group.len();
        let points = points(fit, &of_group)?;
        groups.push(curves(fit, points.as_ref(), label, &of_group, lost, options));
        own.extend(points);
    }
    let (mut together, mut sharing) = (None, Vec::new());
    if labels.len() > 1 {
        let averaged = averaged(&usable, labels.len());
        let averaged: Vec<&AmountMean> = averaged.iter().collect();
        let of_averaged = points(fit, &averaged)?;
        together = Some(curves(fit, of_averaged.as_ref(), "", &averaged, 0, options));
        if own.len() == labels.len()
            && let Some(all) = points(fit, &usable)?
        {
            sharing = all_sharing(&all, &own, options);
        }
    }
    Ok(ResponseCurves { level: options.level, groups, together, sharing })
}

fn check_amounts(means: &[AmountMean], groups: usize) -> Result<(), InferenceError> {
    let repeated = |index: usize| {
        let same = |other: &AmountMean| other.group == means[index].group && other.amount == means[index].amount;
        means[..index].iter().any(same)
    };
    let usable = |index: usize| means[index].amount.is_finite() && means[index].group < groups && !repeated(index);
    if means.is_empty() || !(0..means.len()).all(usable) {
        return Err(InferenceError::Scores { levels: means.len() });
    }
    Ok(())
}

/// Nothing for no means.
fn points(fit: &Fit, means: &[&AmountMean]) -> Result<Option<Points>, InferenceError> {
    if means.is_empty() {
        return Ok(None);
    }
    let rows: Vec<Vec<f64>> = means.iter().map(|mean| mean.weights.clone()).collect();
    let amounts = means.iter().map(|mean| mean.amount).collect();
    let groups = means.iter().map(|mean| mean.group).collect();
    Points::of_means(fit, amounts, groups, &rows).map(Some)
}

fn curves(
    fit: &Fit,
    points: Option<&Points>,
    label: &str,
    means: &[&AmountMean],
    lost: usize,
    options: &CurveOptions,
) -> GroupCurves {
    let of_amount = |mean: &&AmountMean| {
        let row = fit.over_cells(&mean.weights).and_then(|cells| fit.row(&cells)).ok()?;
        let error = fit.estimate_of_row(&row).ok().map(|it| ErrorOf { se: it.se, df: it.df, unit: 1.0 });
        let value = fit.grand_mean + dot(&row, &fit.estimates);
        Some(MeanOfAmount { amount: mean.amount, mean: Quantity::new(value, error, options.level) })
    };
    let mut told: Vec<MeanOfAmount> = means.iter().filter_map(of_amount).collect();
    told.sort_by(|a, b| a.amount.total_cmp(&b.amount));
    let notices = (lost > 0).then_some(CurveNotice::AmountsWithoutValues { amounts: lost });
    group_curves(points, label, told, notices.into_iter().collect(), options)
}

/// Means over the groups, at amounts that every group has.
fn averaged(means: &[&AmountMean], groups: usize) -> Vec<AmountMean> {
    let mut amounts: Vec<f64> = means.iter().map(|mean| mean.amount).collect();
    amounts.sort_by(f64::total_cmp);
    amounts.dedup();
    let of_amount = |amount: f64| {
        let here: Vec<&&AmountMean> = means.iter().filter(|mean| mean.amount == amount).collect();
        if here.len() < groups {
            return None;
        }
        let mut weights = vec![0.0; here[0].weights.len()];
        here.iter().for_each(|mean| add_scaled(&mut weights, 1.0 / groups as f64, &mean.weights));
        Some(AmountMean { group: 0, amount, weights })
    };
    amounts.into_iter().filter_map(of_amount).collect()
}

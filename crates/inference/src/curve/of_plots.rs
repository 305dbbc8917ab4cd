//! Curves through the plots themselves, with their units as fixed effects: for amounts that were counted on each plot, and for
//! values that come without replicates.

use super::groups::{GroupCurves, MeanOfAmount, ResponseCurves, all_sharing, group_curves};
use super::least_squares::further_directions;
use super::notice::CurveNotice;
use super::options::CurveOptions;
use super::points::Points;
use super::quantity::Quantity;
use crate::InferenceError;

/// Plots with an amount and a response each.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PlotAmounts {
    /// For each plot the amount; plots without one are left out.
    pub amount: Vec<Option<f64>>,
    /// For each plot the response; plots without one are left out.
    pub response: Vec<Option<f64>>,
    /// Units that the curve is fitted within: blocks, rows, columns, main plots.
    pub units: Vec<Grouping>,
    /// For each plot its group; empty where there are no groups.
    pub group: Vec<usize>,
    /// Labels of the groups; empty where there are none.
    pub groups: Vec<String>,
    /// Whether the amounts were counted or measured on the plots, instead of set.
    pub measured: bool,
}

/// Plots divided among units of one kind.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Grouping {
    /// What the units are.
    pub name: String,
    /// For each plot its unit, from 0.
    pub class: Vec<usize>,
    /// How many units there are.
    pub classes: usize,
}

/// Beyond this the square of a sum of squares could overflow.
const LARGEST: f64 = 1e60;

/// One usable plot.
struct Plot {
    amount: f64,
    response: f64,
    group: usize,
    index: usize,
}

/// Fits curves to plots by ordinary (nonlinear) least squares, with the effects of their units in the model.
///
/// The error is the scatter of the plots about the curve within their units. Each group's curves rest on its own plots; the tests of
/// what the groups share rest on all plots, with the units in common.
///
/// # Errors
/// [`InferenceError::Length`], [`InferenceError::NotFinite`], [`InferenceError::TooLarge`], [`InferenceError::UnknownUnit`] for a
/// class out of range, [`InferenceError::NoValues`], [`InferenceError::Setting`].
/// # Source
/// Bates & Watts (1988), Nonlinear Regression Analysis, chapters 2 and 3. Checked against R in `tests/curve/`.
pub fn curves_of_plots(plots: &PlotAmounts, options: &CurveOptions) -> Result<ResponseCurves, InferenceError> {
    options.check()?;
    let usable = usable(plots)?;
    let alone = vec![String::new()];
    let labels = if plots.groups.is_empty() { &alone } else { &plots.groups };
    let mut groups = Vec::new();
    let mut own = Vec::new();
    for (group, label) in labels.iter().enumerate() {
        let of_group: Vec<&Plot> = usable.iter().filter(|plot| plot.group == group).collect();
        let points = (!of_group.is_empty()).then(|| points(&of_group, &plots.units));
        groups.push(curves(points.as_ref(), label, &of_group, plots.measured, options));
        own.extend(points);
    }
    let mut sharing = Vec::new();
    if labels.len() > 1 && own.len() == labels.len() {
        let all: Vec<&Plot> = usable.iter().collect();
        sharing = all_sharing(&points(&all, &plots.units), &own, options);
    }
    Ok(ResponseCurves { level: options.level, groups, together: None, sharing })
}

fn usable(plots: &PlotAmounts) -> Result<Vec<Plot>, InferenceError> {
    let expected = plots.response.len();
    let units = plots.units.iter().map(|unit| (format!("the column of '{}'", unit.name), unit.class.len()));
    let groups = (!plots.group.is_empty()).then(|| ("the column of groups".to_owned(), plots.group.len()));
    let amounts = std::iter::once(("the column of amounts".to_owned(), plots.amount.len()));
    if let Some((list, found)) = amounts.chain(units).chain(groups).find(|&(_, found)| found != expected) {
        return Err(InferenceError::Length { list, found, expected });
    }
    if let Some(unit) = plots.units.iter().find(|unit| unit.class.iter().any(|&class| class >= unit.classes)) {
        return Err(InferenceError::UnknownUnit { unit: unit.name.clone() });
    }
    let known = plots.groups.len().max(1);
    if let Some((plot, &treatment)) = plots.group.iter().enumerate().find(|&(_, &group)| group >= known) {
        return Err(InferenceError::UnknownTreatment { plot, treatment, treatments: known });
    }
    let mut usable = Vec::new();
    for (index, (&amount, &response)) in plots.amount.iter().zip(&plots.response).enumerate() {
        for value in [amount, response].into_iter().flatten() {
            if !value.is_finite() {
                return Err(InferenceError::NotFinite { plot: index, value });
            }
            if value.abs() > LARGEST {
                return Err(InferenceError::TooLarge { plot: index, value });
            }
        }
        if let (Some(amount), Some(response)) = (amount, response) {
            usable.push(Plot { amount, response, group: plots.group.get(index).copied().unwrap_or(0), index });
        }
    }
    if usable.is_empty() { Err(InferenceError::NoValues) } else { Ok(usable) }
}

fn points(plots: &[&Plot], units: &[Grouping]) -> Points {
    let mut different: Vec<(usize, f64)> = plots.iter().map(|plot| (plot.group, plot.amount)).collect();
    different.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    different.dedup();
    let place = |plot: &&Plot| {
        different.iter().position(|&(group, amount)| group == plot.group && amount == plot.amount).unwrap_or(0)
    };
    let point: Vec<usize> = plots.iter().map(place).collect();
    let response: Vec<f64> = plots.iter().map(|plot| plot.response).collect();
    let level = vec![1.0 / (plots.len() as f64).sqrt(); plots.len()];
    let indicator = |unit: &Grouping, class: usize| {
        plots.iter().map(|plot| f64::from(u8::from(unit.class[plot.index] == class))).collect::<Vec<f64>>()
    };
    let columns: Vec<Vec<f64>> =
        units.iter().flat_map(|unit| (0..unit.classes).map(move |class| indicator(unit, class))).collect();
    let directions = further_directions(&[level], &columns);
    let (groups, amounts) = different.iter().copied().unzip();
    Points::of_plots(amounts, groups, &point, &response, &directions)
}

fn curves(
    points: Option<&Points>,
    label: &str,
    plots: &[&Plot],
    measured: bool,
    options: &CurveOptions,
) -> GroupCurves {
    let mut amounts: Vec<f64> = plots.iter().map(|plot| plot.amount).collect();
    amounts.sort_by(f64::total_cmp);
    amounts.dedup();
    let of_amount = |amount: f64| {
        let here: Vec<f64> = plots.iter().filter(|plot| plot.amount == amount).map(|plot| plot.response).collect();
        let mean = here.iter().sum::<f64>() / here.len() as f64;
        MeanOfAmount { amount, mean: Quantity::new(mean, None, options.level) }
    };
    let means = amounts.into_iter().map(of_amount).collect();
    let notices = measured.then_some(CurveNotice::AmountsMeasured);
    group_curves(points, label, means, notices.into_iter().collect(), options)
}

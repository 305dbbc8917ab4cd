//! Tables in the unit of what was counted, with intervals that stay within what is possible.

use super::DiscreteKind;
use crate::distribution::t_quantile;
use crate::fit::Fit;
use crate::generalised::{Link, TreatmentMean};
use crate::matrix::Matrix;
use crate::{MeanCell, MeansTable};

/// The means and their covariance times a factor.
pub(super) fn scaled(fit: Fit, factor: f64) -> Fit {
    let twice = |matrix: &Matrix| matrix.clone().scaled(factor * factor);
    Fit {
        estimates: fit.estimates.iter().map(|mean| factor * mean).collect(),
        covariance: twice(&fit.covariance),
        adjusted: twice(&fit.adjusted),
        slopes: fit.slopes.iter().map(twice).collect(),
        unknown: fit.unknown.iter().map(|(name, matrix)| (name.clone(), twice(matrix))).collect(),
        ..fit
    }
}

/// Intervals worked out on the link's scale of each mean, and transformed back; differences keep theirs.
pub(super) fn with_possible_intervals(tables: &mut [MeansTable], link: Link, kind: &DiscreteKind, level: f64) {
    for cell in tables.iter_mut().flat_map(|table| &mut table.cells) {
        interval(cell, link, kind.told_as(), level);
    }
}

fn interval(cell: &mut MeanCell, link: Link, told_as: f64, level: f64) {
    let (Some(se), Some(df)) = (cell.se, cell.df) else { return };
    let eta = link.of(cell.mean / told_as);
    let half = -t_quantile(0.5 * level, df) * se / told_as / link.slope(eta);
    if half.is_finite() {
        cell.lower = Some(told_as * link.natural(eta - half));
        cell.upper = Some(told_as * link.natural(eta + half));
    }
}

/// A treatment's own mean in the unit in which it is told.
pub(super) fn told(mean: TreatmentMean, told_as: f64) -> TreatmentMean {
    let times = |value: Option<f64>| value.map(|value| told_as * value);
    TreatmentMean {
        mean: times(mean.mean),
        se: times(mean.se),
        lower: times(mean.lower),
        upper: times(mean.upper),
        average: times(mean.average),
        ..mean
    }
}

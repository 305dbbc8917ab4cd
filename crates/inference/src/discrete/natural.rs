//! Tables in the unit of what was counted, with intervals that stay within what is possible.

use super::kind::ToldAs;
use crate::distribution::t_quantile;
use crate::fit::Fit;
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

/// Intervals worked out on a scale without ends and transformed back; differences keep theirs.
pub(super) fn with_possible_intervals(tables: &mut [MeansTable], told_as: ToldAs, level: f64) {
    tables.iter_mut().flat_map(|table| &mut table.cells).for_each(|cell| interval(cell, told_as, level));
}

fn interval(cell: &mut MeanCell, told_as: ToldAs, level: f64) {
    let (Some(se), Some(df)) = (cell.se, cell.df) else { return };
    let ToldAs { low, width, link } = told_as;
    let eta = link.of((cell.mean - low) / width);
    let half = -t_quantile(0.5 * level, df) * se / width / link.slope(eta);
    if half.is_finite() {
        cell.lower = Some(low + width * link.natural(eta - half));
        cell.upper = Some(low + width * link.natural(eta + half));
    }
}

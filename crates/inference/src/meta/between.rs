//! The variance between trials: where the restricted likelihood is highest, and which variances the trials allow.

use super::scaled::Scaled;
use super::surface::Point;
use crate::distribution::{chi_square_lower, chi_square_quantile, root_between};
use std::cell::Cell;

/// The top of the restricted likelihood.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Top {
    /// The variance between trials, in the scaled unit; exactly zero at the edge.
    pub between: f64,
    pub point: Point,
    /// How many tops there are.
    pub maxima: usize,
    /// How often the likelihood was worked out.
    pub evaluations: usize,
}

/// Finds the highest top.
///
/// The likelihood may have several. Its slope changes over distances of the trials' own variances, so it is looked at from a
/// sixteenth of the smallest of them upward in steps of half a doubling, and each change from rising to falling is followed to
/// the top by Newton's steps kept between the two. Beyond the largest variance and the squared range it always falls: there the
/// weights are within a factor of two, `tr P` is at least a third of the sum of weights, and `y'PPy` at most a quarter of it.
pub(crate) fn highest(scaled: &Scaled) -> Top {
    let smallest = scaled.variances.iter().copied().fold(f64::INFINITY, f64::min);
    let widest = scaled.variances.iter().copied().fold(0.0, f64::max);
    let range = |values: &[f64]| {
        values.iter().copied().fold(f64::NEG_INFINITY, f64::max) - values.iter().copied().fold(f64::INFINITY, f64::min)
    };
    let end = widest.max(range(&scaled.estimates).powi(2));
    let evaluations = Cell::new(0);
    let at = |between: f64| {
        evaluations.set(evaluations.get() + 1);
        Point::at(scaled, between)
    };
    let edge = at(0.0);
    let mut tops: Vec<(f64, Point)> = if edge.slope <= 0.0 { vec![(0.0, edge)] } else { Vec::new() };
    let (mut below, mut is_rising) = (0.0, edge.slope > 0.0);
    let mut next = smallest / 16.0;
    while below < end {
        next = next.min(end);
        let rises = at(next).slope > 0.0;
        if is_rising && !rises {
            let top = root_between(
                |between| {
                    let point = at(between);
                    (-point.slope, point.curvature)
                },
                below,
                next,
                0.5 * (below + next),
            );
            tops.push((top, at(top)));
        }
        (below, is_rising) = (next, rises);
        next *= std::f64::consts::SQRT_2;
    }
    let highest = tops.iter().copied().max_by(|a, b| a.1.log_likelihood.total_cmp(&b.1.log_likelihood));
    let (between, point) = highest.expect("the likelihood falls at the end, so it has a top before it");
    Top { between, point, maxima: tops.len(), evaluations: evaluations.get() }
}

/// The variances at which the trials' weighted squares are no rarer than `level` allows, in the scaled unit; `Err` with the
/// probability of trials so much alike when there are none.
///
/// # Source
/// Viechtbauer (2007), Stat. Med. 26:37-52.
pub(crate) fn allowed(scaled: &Scaled, level: f64) -> Result<(f64, f64), f64> {
    let df = (scaled.estimates.len() - 1) as f64;
    let at_zero = Point::at(scaled, 0.0).q;
    let (few, many) = (chi_square_quantile(0.5 * level, df), chi_square_quantile(1.0 - 0.5 * level, df));
    if at_zero < few {
        return Err(chi_square_lower(at_zero, df));
    }
    Ok((between_at(scaled, at_zero, many), between_at(scaled, at_zero, few)))
}

/// The variance at which the weighted squares fall to `q`.
fn between_at(scaled: &Scaled, at_zero: f64, q: f64) -> f64 {
    if at_zero <= q {
        return 0.0;
    }
    // squares about the plain mean, over the variance, are more than the weighted ones: there they are below q
    let plain = scaled.estimates.iter().sum::<f64>() / scaled.estimates.len() as f64;
    let squares: f64 = scaled.estimates.iter().map(|estimate| (estimate - plain).powi(2)).sum();
    let end = squares / q;
    root_between(
        |between| {
            let point = Point::at(scaled, between);
            (q - point.q, point.q_falls)
        },
        0.0,
        end,
        0.5 * end,
    )
}

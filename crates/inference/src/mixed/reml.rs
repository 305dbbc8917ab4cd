//! Residual maximum likelihood over the variance ratios, each at least zero.
//!
//! Newton's method with the exact second derivatives where the surface curves upward, else with the expected ones; steps
//! that leave the allowed region stop at its edge, and steps that do not improve are shortened.
//!
//! Source: Patterson & Thompson (1971), Biometrika 58:545-554; derivatives as in Lindstrom & Bates (1988), JASA 83:1014-1022.

use super::cross_products::{CrossProducts, Evaluation};
use super::model::StopReason;
use crate::InferenceError;
use crate::matrix::{Cholesky, Matrix};

const MOST_STEPS: usize = 200;
/// Predicted improvement of minus twice the log-likelihood below which it cannot be told from rounding.
const SETTLED: f64 = 1e-18;
/// Predicted improvement below which the surface is as good as its second derivatives say, and rounding hides the rest.
const SURE: f64 = 1e-7;
/// A ratio this small with the likelihood rising toward zero is zero.
const AT_ZERO: f64 = 1e-12;

/// Where the search ended.
#[derive(Debug, Clone)]
pub(crate) struct Optimum {
    pub ratios: Vec<f64>,
    pub evaluation: Evaluation,
    pub residual_variance: f64,
    /// Minus twice the profiled criterion, constants left out.
    pub criterion: f64,
    pub iterations: usize,
    /// Largest absolute gradient over the free ratios, each scaled by the ratio itself (or one).
    pub gradient: f64,
    pub stop: StopReason,
}

struct Point {
    ratios: Vec<f64>,
    evaluation: Evaluation,
    criterion: f64,
}

/// Searches from ratios of one, and again from a small and a large start if the first search ends at an edge.
pub(crate) fn maximise(cross: &CrossProducts) -> Result<Optimum, InferenceError> {
    let first = search(cross, vec![1.0; cross.terms()])?;
    if first.ratios.iter().all(|&ratio| ratio > 0.0) {
        return Ok(first);
    }
    let others = [0.05, 20.0].into_iter().filter_map(|start| search(cross, vec![start; cross.terms()]).ok());
    // A second maximum must be really higher to be preferred, so that rounding does not choose between equal ones.
    Ok(others.fold(first, |best, other| if other.criterion < best.criterion - 1e-9 { other } else { best }))
}

fn search(cross: &CrossProducts, start: Vec<f64>) -> Result<Optimum, InferenceError> {
    let mut point = evaluate(cross, start).ok_or(InferenceError::VariancesNotSeparable { plots: cross.plots })?;
    let mut gradient = gradient_at(cross, &point);
    let mut stop = StopReason::Steps;
    let mut iterations = 0;
    while iterations < MOST_STEPS {
        let free: Vec<usize> = (0..cross.terms()).filter(|&k| point.ratios[k] > 0.0 || gradient[k] < 0.0).collect();
        if free.is_empty() {
            stop = if cross.terms() == 0 { StopReason::Closed } else { StopReason::Edge };
            break;
        }
        let step = newton_step(cross, &point, &gradient, &free);
        let predicted: f64 = -free.iter().zip(&step).map(|(&k, step)| gradient[k] * step).sum::<f64>();
        if predicted.abs() <= SETTLED {
            stop = StopReason::Settled;
            break;
        }
        iterations += 1;
        let next = if predicted.abs() < SURE {
            surer_step(cross, &point, &gradient, &free, &step)
        } else {
            shortened_step(cross, &point, &free, &step)
        };
        let Some(next) = next else {
            stop = StopReason::Settled;
            break;
        };
        point = next;
        gradient = gradient_at(cross, &point);
    }
    finished(cross, point, &gradient, iterations, stop)
}

fn finished(
    cross: &CrossProducts,
    point: Point,
    gradient: &[f64],
    iterations: usize,
    stop: StopReason,
) -> Result<Optimum, InferenceError> {
    let free = (0..cross.terms()).filter(|&k| point.ratios[k] > 0.0);
    let largest = free.map(|k| (gradient[k] * point.ratios[k].min(1.0)).abs()).fold(0.0, f64::max);
    if stop == StopReason::Steps || largest > 1e-4 * cross.residual_df() {
        return Err(InferenceError::NotConverged { iterations, gradient: largest });
    }
    let residual_variance = point.evaluation.response / cross.residual_df();
    let Point { ratios, evaluation, criterion } = point;
    Ok(Optimum { ratios, evaluation, residual_variance, criterion, iterations, gradient: largest, stop })
}

fn evaluate(cross: &CrossProducts, ratios: Vec<f64>) -> Option<Point> {
    let evaluation = cross.at(&ratios)?;
    if evaluation.response <= 0.0 || !evaluation.response.is_finite() {
        return None;
    }
    let criterion = cross.residual_df() * evaluation.response.ln() + evaluation.log_det;
    criterion.is_finite().then_some(Point { ratios, evaluation, criterion })
}

fn gradient_at(cross: &CrossProducts, point: &Point) -> Vec<f64> {
    let variance = point.evaluation.response / cross.residual_df();
    let of = |&range: &(usize, usize)| {
        point.evaluation.trace_of(range) - point.evaluation.squares_of_response(range) / variance
    };
    cross.ranges.iter().map(of).collect()
}

fn newton_step(cross: &CrossProducts, point: &Point, gradient: &[f64], free: &[usize]) -> Vec<f64> {
    let down: Vec<f64> = free.iter().map(|&k| -gradient[k]).collect();
    let exact = curvature(cross, &point.evaluation, free);
    if let Some(factor) = Cholesky::of(&exact) {
        return factor.solve_vector(&down);
    }
    let expected = expected_curvature(cross, &point.evaluation, free);
    if let Some(factor) = Cholesky::of(&expected) {
        return factor.solve_vector(&down);
    }
    // Rounding has made two ratios one: each is moved on its own.
    down.iter().enumerate().map(|(index, down)| down / expected[(index, index)].abs().max(f64::MIN_POSITIVE)).collect()
}

fn curvature(cross: &CrossProducts, evaluation: &Evaluation, free: &[usize]) -> Matrix {
    let df = cross.residual_df();
    let variance = evaluation.response / df;
    over_pairs(cross, free, |a, b| {
        let explained = evaluation.squares_of_response(a) * evaluation.squares_of_response(b);
        2.0 * evaluation.response_through(a, b) / variance
            - evaluation.squares_where_meet(a, b)
            - explained / (df * variance * variance)
    })
}

/// What the curvature is on average over data with these variances.
fn expected_curvature(cross: &CrossProducts, evaluation: &Evaluation, free: &[usize]) -> Matrix {
    let df = cross.residual_df();
    over_pairs(cross, free, |a, b| {
        evaluation.squares_where_meet(a, b) - evaluation.trace_of(a) * evaluation.trace_of(b) / df
    })
}

fn over_pairs(cross: &CrossProducts, free: &[usize], entry: impl Fn((usize, usize), (usize, usize)) -> f64) -> Matrix {
    let mut matrix = Matrix::zeros(free.len(), free.len());
    for (row, &a) in free.iter().enumerate() {
        for (column, &b) in free.iter().enumerate().take(row + 1) {
            let value = entry(cross.ranges[a], cross.ranges[b]);
            (matrix[(row, column)], matrix[(column, row)]) = (value, value);
        }
    }
    matrix
}

fn moved(point: &Point, free: &[usize], step: &[f64], share: f64) -> Vec<f64> {
    let mut ratios = point.ratios.clone();
    for (&k, step) in free.iter().zip(step) {
        let next = ratios[k] + share * step;
        ratios[k] = if next < AT_ZERO { 0.0 } else { next };
    }
    ratios
}

fn shortened_step(cross: &CrossProducts, point: &Point, free: &[usize], step: &[f64]) -> Option<Point> {
    let shares = (0..30).map(|halvings| 0.5_f64.powi(halvings));
    let tried = shares.filter_map(|share| evaluate(cross, moved(point, free, step, share)));
    tried.into_iter().find(|next| next.criterion < point.criterion)
}

/// The whole step where the criterion can no longer show what it gains: taken when it halves the gradient at least.
fn surer_step(cross: &CrossProducts, point: &Point, gradient: &[f64], free: &[usize], step: &[f64]) -> Option<Point> {
    let size = |point: &Point, gradient: &[f64]| {
        free.iter().map(|&k| (gradient[k] * point.ratios[k].min(1.0)).abs()).fold(0.0, f64::max)
    };
    let next = evaluate(cross, moved(point, free, step, 1.0))?;
    (size(&next, &gradient_at(cross, &next)) < 0.5 * size(point, gradient)).then_some(next)
}

/// Strata whose variance the plots can tell apart from the treatments, the residual and each other, in order.
pub(crate) fn separable(cross: &CrossProducts) -> Option<Vec<usize>> {
    let evaluation = cross.at(&vec![1.0; cross.terms()])?;
    let all: Vec<usize> = (0..cross.terms()).collect();
    let information = expected_curvature(cross, &evaluation, &all);
    let mut kept: Vec<usize> = Vec::new();
    for candidate in all {
        let mut with = kept.clone();
        with.push(candidate);
        let mut part = Matrix::zeros(with.len(), with.len());
        for (row, &a) in with.iter().enumerate() {
            for (column, &b) in with.iter().enumerate() {
                let length = (information[(a, a)] * information[(b, b)]).sqrt();
                part[(row, column)] = if length > 0.0 { information[(a, b)] / length } else { 0.0 };
            }
        }
        let size = evaluation.trace_of(cross.ranges[candidate]).abs();
        let is_seen = information[(candidate, candidate)] > 1e-10 * size * size && size > 1e-9;
        if is_seen && well_conditioned(&part) {
            kept.push(candidate);
        }
    }
    Some(kept)
}

fn well_conditioned(correlation: &Matrix) -> bool {
    let (values, _) = crate::matrix::symmetric_eigen(correlation);
    values.iter().all(|&value| value > 1e-8)
}

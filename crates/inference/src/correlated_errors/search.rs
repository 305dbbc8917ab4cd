//! Residual maximum likelihood over the working coordinates of the covariance.
//!
//! Average information far from the top, exact second derivatives near it; a factor on the whole covariance is found exactly at
//! every point; steps that leave the allowed region stop at its edge, and steps that do not improve are shortened.
//!
//! Source: Gilmour, Thompson & Cullis (1995), Biometrics 51:1440-1450 (average information); Patterson & Thompson (1971), Biometrika
//! 58:545-554.

use super::axis_table::coordinate;
use super::evaluation::{Evaluation, Problem, Slopes};
use super::information::Information;
use super::part::Shape;
use super::structure::{Kind, Structure};
use crate::matrix::{Cholesky, Matrix, dot};
use crate::mixed::StopReason;

const MOST_STEPS: usize = 150;
/// Predicted gain in log-likelihood below which exact second derivatives are used.
const NEAR: f64 = 1e-3;
/// Predicted gain below which the search is over.
const SETTLED: f64 = 1e-12;
/// Predicted gain up to which a step that shows none is put down to rounding.
const ROUNDING: f64 = 1e-7;
/// A variance below this share of the whole, with the likelihood rising toward zero, is zero.
const AT_ZERO: f64 = 1e-10;
/// Longest step of a correlation's or of a logarithm's coordinate.
const LONGEST: f64 = 1.5;
/// Observations in one block up to which every start is followed to its end.
const EVERY_START: usize = 150;

/// Where the search ended.
#[derive(Debug, Clone)]
pub(crate) struct Optimum {
    pub coordinates: Vec<f64>,
    pub evaluation: Evaluation,
    pub slopes: Slopes,
    pub information: Information,
    /// `-2 log L`.
    pub minus_twice: f64,
    pub iterations: usize,
    /// Largest absolute score over the free coordinates, a variance's by its logarithm.
    pub gradient: f64,
    pub stop: StopReason,
    /// Correlations held at the edge of the search with the likelihood rising beyond it.
    pub at_cap: Vec<usize>,
}

struct Point {
    coordinates: Vec<f64>,
    evaluation: Evaluation,
    minus_twice: f64,
}

/// Searches from several starts and keeps the best end; `cap` is the largest correlation, in size, that is looked at.
pub(crate) fn maximise(problem: &Problem, cap: f64) -> Option<Optimum> {
    let structure = problem.structure;
    let has_correlation = structure.parameters.iter().any(|it| matches!(it.kind, Kind::Correlation(_)));
    let usual: &[(f64, f64)] = if has_correlation { &[(0.35, 1.0), (0.85, 1.0)] } else { &[(0.0, 1.0)] };
    let mut starts: Vec<Point> = usual.iter().filter_map(|&it| evaluate(problem, start(problem, it, cap))).collect();
    starts.sort_by(|a, b| a.minus_twice.total_cmp(&b.minus_twice));
    if structure.blocks.iter().any(|block| block.len() > EVERY_START) {
        starts.truncate(1);
    }
    let best = starts.into_iter().filter_map(|point| search(problem, point, cap)).reduce(better);
    let at_edge = |it: &Optimum| structure.parameters.iter().zip(&it.coordinates).any(|(p, c)| is_zero(p.kind, *c));
    if best.as_ref().is_some_and(|it| !at_edge(it)) {
        return best;
    }
    let others = [(0.6, 0.05), (0.6, 20.0)].into_iter();
    let others = others.filter_map(|it| search(problem, evaluate(problem, start(problem, it, cap))?, cap));
    best.into_iter().chain(others).reduce(better)
}

/// A second end must be really higher to be preferred, so that rounding does not choose between equal ones.
fn better(best: Optimum, other: Optimum) -> Optimum {
    if other.minus_twice < best.minus_twice - 1e-9 { other } else { best }
}

fn is_zero(kind: Kind, coordinate: f64) -> bool {
    kind == Kind::Variance && coordinate == 0.0
}

/// Coordinates from which anything may be looked at.
pub(crate) fn usual_start(problem: &Problem) -> Vec<f64> {
    start(problem, (0.35, 1.0), 1.0)
}

/// All correlations the same, and `weight` times as much variance in each part as in the residual.
fn start(problem: &Problem, (rho, weight): (f64, f64), cap: f64) -> Vec<f64> {
    let structure = problem.structure;
    let rho = rho.min(cap);
    let with_correlations = structure.parameters.iter().map(|parameter| match parameter.kind {
        Kind::Correlation(axis) => coordinate(structure.parts[parameter.part].axes[axis].shape, rho),
        Kind::Variance => 1.0,
        Kind::LogVariance => 0.0,
    });
    let mut coordinates: Vec<f64> = with_correlations.collect();
    let sizes: Vec<f64> = {
        let at = structure.at(&coordinates);
        (0..structure.parts.len()).map(|part| at.mean_diagonal(part)).collect()
    };
    for (coordinate, parameter) in coordinates.iter_mut().zip(&structure.parameters) {
        let is_residual = structure.parts[parameter.part].is_each();
        let variance = if is_residual { 1.0 } else { weight } * problem.fixed.variance_within() / sizes[parameter.part];
        match parameter.kind {
            Kind::Variance => *coordinate = variance,
            Kind::LogVariance => *coordinate = variance.ln(),
            Kind::Correlation(_) => {}
        }
    }
    coordinates
}

/// The point at these coordinates, all variances multiplied by the factor that is best there.
fn evaluate(problem: &Problem, mut coordinates: Vec<f64>) -> Option<Point> {
    let evaluation = problem.at(&problem.structure.at(&coordinates))?;
    let factor = evaluation.squares / problem.residual_df();
    for (coordinate, parameter) in coordinates.iter_mut().zip(&problem.structure.parameters) {
        match parameter.kind {
            Kind::Variance => *coordinate *= factor,
            Kind::LogVariance => *coordinate += factor.ln(),
            Kind::Correlation(_) => {}
        }
    }
    let evaluation = evaluation.rescaled(factor, problem.fixed.value.len() as f64)?;
    let minus_twice = problem.minus_twice_log_likelihood(&evaluation);
    minus_twice.is_finite().then_some(Point { coordinates, evaluation, minus_twice })
}

fn search(problem: &Problem, mut point: Point, cap: f64) -> Option<Optimum> {
    let mut iterations = 0;
    loop {
        let at = problem.structure.at(&point.coordinates);
        let slopes = problem.slopes(&at, &point.evaluation);
        let free = free(problem.structure, &point.coordinates, &slopes.score, cap);
        let step = newton_step(&slopes.average_information, &slopes.score, &free);
        let mut gain = predicted_gain(&slopes.score, &free, &step);
        let mut exact = None;
        let mut step = step;
        if gain <= NEAR || iterations >= MOST_STEPS {
            let information = Information::of(problem, &at, &point.evaluation, &slopes);
            if let Some(newton) = exact_step(&information.observed, &slopes.score, &free) {
                gain = predicted_gain(&slopes.score, &free, &newton);
                step = newton;
            }
            exact = Some(information);
        }
        drop(at);
        let next = if gain <= SETTLED || iterations >= MOST_STEPS {
            None
        } else {
            shortened_step(problem, &point, &free, &step, cap, gain).or_else(|| {
                // A variance at zero that the likelihood lifts may be pressed down by the others' steps: what is left of the step
                // then need not lead upward, but every coordinate by itself does.
                let alone = steps_alone(&slopes.average_information, &slopes.score, &free);
                (gain > ROUNDING).then(|| shortened_step(problem, &point, &free, &alone, cap, gain)).flatten()
            })
        };
        match (next, exact) {
            (Some(next), _) => {
                iterations += 1;
                point = next;
            }
            (None, information) => {
                let information = information.unwrap_or_else(|| {
                    let at = problem.structure.at(&point.coordinates);
                    Information::of(problem, &at, &point.evaluation, &slopes)
                });
                let has_settled = gain <= 1e-6;
                return Some(finished(problem.structure, point, slopes, information, &free, (iterations, has_settled)));
            }
        }
    }
}

fn finished(
    structure: &Structure,
    point: Point,
    slopes: Slopes,
    information: Information,
    free: &[usize],
    (iterations, has_settled): (usize, bool),
) -> Optimum {
    let scaled = |&k: &usize| match structure.parameters[k].kind {
        Kind::Variance => slopes.score[k] * point.coordinates[k],
        _ => slopes.score[k],
    };
    let gradient = free.iter().map(scaled).fold(0.0, |largest: f64, it| largest.max(it.abs()));
    let is_held = |&k: &usize| {
        let parameter = structure.parameters[k];
        matches!(parameter.kind, Kind::Correlation(_))
            && !free.contains(&k)
            && !structure.is_absent(k, &point.coordinates)
    };
    let at_cap = (0..structure.parameters.len()).filter(is_held).collect();
    let stop = if has_settled { StopReason::Settled } else { StopReason::Steps };
    let Point { coordinates, evaluation, minus_twice } = point;
    Optimum { coordinates, evaluation, slopes, information, minus_twice, iterations, gradient, stop, at_cap }
}

/// Coordinates that may move: not a variance at zero or a correlation at the cap that the likelihood holds there, nor a correlation
/// of a part that is not there.
fn free(structure: &Structure, coordinates: &[f64], score: &[f64], cap: f64) -> Vec<usize> {
    let may_move = |&k: &usize| match structure.parameters[k].kind {
        Kind::Variance => coordinates[k] > 0.0 || score[k] > 0.0,
        Kind::LogVariance => true,
        Kind::Correlation(axis) => {
            let edges = edges(structure.parts[structure.parameters[k].part].axes[axis].shape, cap);
            let is_held =
                (coordinates[k] >= edges.1 && score[k] > 0.0) || (coordinates[k] <= edges.0 && score[k] < 0.0);
            !structure.is_absent(k, coordinates) && !is_held
        }
    };
    (0..coordinates.len()).filter(may_move).collect()
}

/// The lowest and highest coordinate of a correlation.
fn edges(shape: Shape, cap: f64) -> (f64, f64) {
    match shape {
        Shape::Steps => (coordinate(shape, -cap), coordinate(shape, cap)),
        _ => (coordinate(shape, 1.0 - cap), coordinate(shape, cap)),
    }
}

fn predicted_gain(score: &[f64], free: &[usize], step: &[f64]) -> f64 {
    0.5 * free.iter().zip(step).map(|(&k, step)| score[k] * step).sum::<f64>()
}

/// The step by an information that is positive definite but for rounding; more of its diagonal is added until it is.
fn newton_step(information: &Matrix, score: &[f64], free: &[usize]) -> Vec<f64> {
    let up: Vec<f64> = free.iter().map(|&k| score[k]).collect();
    let size: Vec<f64> = free.iter().map(|&k| information[(k, k)].abs().max(f64::MIN_POSITIVE).sqrt()).collect();
    for ridge in [0.0, 1e-8, 1e-4, 1e-2, 1.0] {
        let mut scaled = Matrix::zeros(free.len(), free.len());
        for (row, &k) in free.iter().enumerate() {
            for (column, &l) in free.iter().enumerate() {
                scaled[(row, column)] = information[(k, l)] / (size[row] * size[column]);
            }
            scaled[(row, row)] += ridge;
        }
        if let Some(factor) = Cholesky::of(&scaled) {
            let right: Vec<f64> = up.iter().zip(&size).map(|(up, size)| up / size).collect();
            return factor.solve_vector(&right).iter().zip(&size).map(|(step, size)| step / size).collect();
        }
    }
    steps_alone(information, score, free)
}

/// Newton's step of each coordinate as if the others stood still: upward in every one of them.
fn steps_alone(information: &Matrix, score: &[f64], free: &[usize]) -> Vec<f64> {
    free.iter().map(|&k| score[k] / information[(k, k)].abs().max(f64::MIN_POSITIVE)).collect()
}

/// The step by exact second derivatives, where the surface curves the right way.
fn exact_step(observed: &Matrix, score: &[f64], free: &[usize]) -> Option<Vec<f64>> {
    let mut part = Matrix::zeros(free.len(), free.len());
    for (row, &k) in free.iter().enumerate() {
        for (column, &l) in free.iter().enumerate() {
            part[(row, column)] = observed[(k, l)];
        }
    }
    let up: Vec<f64> = free.iter().map(|&k| score[k]).collect();
    Cholesky::of(&part).map(|factor| factor.solve_vector(&up))
}

fn shortened_step(
    problem: &Problem,
    point: &Point,
    free: &[usize],
    step: &[f64],
    cap: f64,
    gain: f64,
) -> Option<Point> {
    let shares = (0..25).map(|halvings| 0.5_f64.powi(halvings));
    let mut tried =
        shares.filter_map(|share| evaluate(problem, moved(problem.structure, point, free, step, share, cap)));
    // Near the top the criterion cannot show the gain; the whole step then only gains digits.
    let allowed = if gain < ROUNDING { 1e-9 * point.minus_twice.abs().max(1.0) } else { 0.0 };
    if allowed > 0.0 {
        return tried.next().filter(|next| next.minus_twice < point.minus_twice + allowed);
    }
    tried.find(|next| next.minus_twice < point.minus_twice)
}

fn moved(structure: &Structure, point: &Point, free: &[usize], step: &[f64], share: f64, cap: f64) -> Vec<f64> {
    let mut coordinates = point.coordinates.clone();
    let whole: f64 =
        structure.parameters.iter().zip(&coordinates).filter(|(it, _)| it.kind == Kind::Variance).map(|(_, c)| c).sum();
    for (&k, step) in free.iter().zip(step) {
        let parameter = structure.parameters[k];
        match parameter.kind {
            Kind::Variance => {
                let next = coordinates[k] + share * step;
                coordinates[k] = if next < AT_ZERO * whole { 0.0 } else { next };
            }
            Kind::LogVariance => coordinates[k] += (share * step).clamp(-LONGEST, LONGEST),
            Kind::Correlation(axis) => {
                let (low, high) = edges(structure.parts[parameter.part].axes[axis].shape, cap);
                coordinates[k] = (coordinates[k] + (share * step).clamp(-LONGEST, LONGEST)).clamp(low, high);
            }
        }
    }
    coordinates
}

/// Whether the expected information tells these coordinates apart.
pub(crate) fn tells_apart(information: &Matrix, coordinates: &[usize]) -> bool {
    let mut part = Matrix::zeros(coordinates.len(), coordinates.len());
    for (row, &k) in coordinates.iter().enumerate() {
        for (column, &l) in coordinates.iter().enumerate() {
            let length = (information[(k, k)] * information[(l, l)]).sqrt();
            part[(row, column)] = if length > 0.0 { information[(k, l)] / length } else { 0.0 };
        }
    }
    let (values, _) = crate::matrix::symmetric_eigen(&part);
    values.iter().all(|&value| value > 1e-8)
}

/// How far a vector of the observations lies outside the fixed columns, as a share of its length.
pub(crate) fn outside_fixed(problem: &Problem, vector: &[f64]) -> f64 {
    let fixed = problem.fixed;
    let means = crate::covariates::cell_means(vector, &fixed.cell, &fixed.replication);
    let mut rest: Vec<f64> = fixed.cell.iter().zip(vector).map(|(&cell, value)| value - means[cell]).collect();
    let mut directions: Vec<Vec<f64>> = Vec::new();
    for column in &fixed.columns {
        let mut direction = column.within.clone();
        orthogonalise(&mut direction, &directions);
        let length = dot(&direction, &direction).sqrt();
        direction.iter_mut().for_each(|it| *it /= length);
        directions.push(direction);
    }
    orthogonalise(&mut rest, &directions);
    (dot(&rest, &rest) / dot(vector, vector)).sqrt()
}

fn orthogonalise(vector: &mut [f64], directions: &[Vec<f64>]) {
    for _twice_for_rounding in 0..2 {
        for direction in directions {
            let share = dot(direction, vector);
            crate::matrix::add_scaled(vector, -share, direction);
        }
    }
}

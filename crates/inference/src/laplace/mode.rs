//! The most likely effects of the units at given parameters, and Laplace's approximation there.

use super::factor::{Factor, Symmetric};
use super::likelihood::{Likelihood, Near};
use super::problem::Problem;

const MOST_STEPS: usize = 200;
/// Squared distance from the mode, in posterior standard deviations, that rounding cannot tell from zero.
const AT_MODE: f64 = 1e-18;

/// The mode of the units' effects.
#[derive(Debug, Clone)]
pub(crate) struct Mode {
    pub parameters: Vec<f64>,
    /// Effects in standard deviations, in the pattern's places.
    pub effects: Vec<f64>,
    /// Linear predictor of every observation, units included.
    pub predictor: Vec<f64>,
    pub weight: Vec<f64>,
    pub factor: Factor,
    /// Laplace's approximation to the log-likelihood, with the constants that the likelihood gives.
    pub log_likelihood: f64,
}

/// The observations at some effects.
struct Point {
    effects: Vec<f64>,
    predictor: Vec<f64>,
    near: Vec<Near>,
    /// Log-likelihood plus log-density of the effects.
    joint: f64,
}

/// Newton's method from `start`; the function is concave, so shortened steps always lead on.
///
/// Nothing when the parameters are out of range or so far out that no number can be had.
pub(crate) fn find<L: Likelihood>(problem: &mut Problem<L>, parameters: &[f64], start: &[f64]) -> Option<Mode> {
    let extras = problem.extras_range();
    if !problem.likelihood.set_extras(&parameters[extras]) {
        return None;
    }
    let problem = &*problem;
    let fixed = problem.fixed_predictor(parameters);
    let sd = &parameters[problem.sd_range()];
    let mut point =
        at(problem, sd, &fixed, start.to_vec()).or_else(|| at(problem, sd, &fixed, vec![0.0; problem.pattern.size]))?;
    for _ in 0..MOST_STEPS {
        let (factor, weight) = factored(problem, sd, &point);
        let mut step = uphill(problem, sd, &point);
        let slope = step.clone();
        factor.solve(&problem.pattern, &mut step);
        let distance: f64 = slope.iter().zip(&step).map(|(slope, step)| slope * step).sum();
        if distance <= AT_MODE {
            return finished(parameters, point, factor, weight);
        }
        match shortened(problem, sd, &fixed, &point, &step, distance) {
            Some(next) => point = next,
            // rounding hides any further gain
            None if distance < 1e-9 => return finished(parameters, point, factor, weight),
            None => return None,
        }
    }
    None
}

fn at<L: Likelihood>(problem: &Problem<L>, sd: &[f64], fixed: &[f64], effects: Vec<f64>) -> Option<Point> {
    let pattern = &problem.pattern;
    let (mut predictor, mut near) = (fixed.to_vec(), Vec::with_capacity(fixed.len()));
    let prior = |(place, effect): (usize, &f64)| pattern.precision(place) * effect * effect;
    let mut joint = -0.5 * effects.iter().enumerate().map(prior).sum::<f64>();
    for (i, predictor) in predictor.iter_mut().enumerate() {
        let loads = sd.iter().zip(pattern.along(i)).map(|(sd, along)| sd * along);
        *predictor += pattern.places(i).iter().zip(loads).map(|(&place, load)| load * effects[place]).sum::<f64>();
        let value = problem.likelihood.near(i, *predictor);
        joint += value.log;
        near.push(value);
    }
    joint.is_finite().then_some(Point { effects, predictor, near, joint })
}

fn factored<L: Likelihood>(problem: &Problem<L>, sd: &[f64], point: &Point) -> (Factor, Vec<f64>) {
    let weight: Vec<f64> = point.near.iter().map(|it| it.weight).collect();
    let precision = Symmetric::precision(&problem.pattern, sd, &weight);
    (Factor::of(&problem.pattern, precision), weight)
}

/// Slope of the joint log-density by every effect.
fn uphill<L: Likelihood>(problem: &Problem<L>, sd: &[f64], point: &Point) -> Vec<f64> {
    let pattern = &problem.pattern;
    let prior = |(place, effect): (usize, &f64)| -pattern.precision(place) * effect;
    let mut slope: Vec<f64> = point.effects.iter().enumerate().map(prior).collect();
    for (i, near) in point.near.iter().enumerate() {
        for ((&place, sd), along) in pattern.places(i).iter().zip(sd).zip(pattern.along(i)) {
            slope[place] += sd * along * near.slope;
        }
    }
    slope
}

fn shortened<L: Likelihood>(
    problem: &Problem<L>,
    sd: &[f64],
    fixed: &[f64],
    point: &Point,
    step: &[f64],
    distance: f64,
) -> Option<Point> {
    // near the mode the gain drowns in rounding, and the step is then safe
    let rounding = 1e-13 * point.joint.abs().max(1.0);
    (0..40).find_map(|halvings| {
        let share = 0.5_f64.powi(halvings);
        let effects = point.effects.iter().zip(step).map(|(effect, step)| effect + share * step).collect();
        let next = at(problem, sd, fixed, effects)?;
        let is_safe = distance < 1e-6 && next.joint >= point.joint - rounding;
        (next.joint > point.joint || is_safe).then_some(next)
    })
}

fn finished(parameters: &[f64], point: Point, factor: Factor, weight: Vec<f64>) -> Option<Mode> {
    let log_likelihood = point.joint - 0.5 * factor.log_determinant();
    let Point { effects, predictor, .. } = point;
    let mode = Mode { parameters: parameters.to_vec(), effects, predictor, weight, factor, log_likelihood };
    log_likelihood.is_finite().then_some(mode)
}

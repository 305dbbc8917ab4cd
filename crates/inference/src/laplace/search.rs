//! The parameters that make Laplace's likelihood largest.
//!
//! Newton's method with the exact curvature; where the surface does not curve downward, the diagonal is raised until it does.
//! Steps that do not improve are shortened. Standard deviations that run to zero are put there and the curvature is asked
//! whether the likelihood falls on both sides.

use super::likelihood::Likelihood;
use super::mode::{self, Mode};
use super::problem::Problem;
use super::start;
use super::surface::{Surface, surface};
use crate::matrix::{Cholesky, Matrix, dot};
use crate::{Evidence, InferenceError, StopReason};

const MOST_STEPS: usize = 100;
/// Predicted gain in log-likelihood that rounding cannot tell from nothing.
const SETTLED: f64 = 1e-16;
/// The same where a search has not come to rest: with counts of millions rounding moves the top by as much, a hundred-thousandth
/// of a standard error.
const SETTLED_BUT_FOR_ROUNDING: f64 = 1e-10;
/// A standard deviation below this is tried at zero.
const NEAR_ZERO: f64 = 1e-3;
/// Longest step of any parameter; on a logit or log scale a larger one leads nowhere.
const LONGEST: f64 = 4.0;

/// The likelihood's maximum and what is known around it.
#[derive(Debug, Clone)]
pub(crate) struct Maximum {
    pub mode: Mode,
    /// Inverse of minus the curvature; zero for parameters that are held or at zero.
    pub covariance: Matrix,
    /// Conditional variance of every effect, in standard deviations squared, at these parameters.
    pub effect_variances: Vec<f64>,
    pub evidence: Evidence,
}

/// Why there is no maximum to give.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Failure {
    /// The likelihood rises without end: this observation is foretold without error.
    Foretold { observation: usize },
    /// Units of this grouping (as given) hold all or nothing: their variance has no limit.
    AllOrNothing { grouping: usize },
    /// The curvature at the end is flat in some direction.
    Flat,
    /// The search did not end.
    NotConverged { iterations: usize, gradient: f64 },
}

impl Failure {
    /// In the words of an analysis.
    ///
    /// - `foretold`: tells which observation it was
    /// - `groupings`: names of the groupings as given
    pub fn named(
        self,
        observations: usize,
        foretold: impl FnOnce(usize) -> InferenceError,
        groupings: &[&str],
    ) -> InferenceError {
        match self {
            Self::Foretold { observation } => foretold(observation),
            Self::AllOrNothing { grouping } => InferenceError::AllOrNothing { stratum: groupings[grouping].to_owned() },
            Self::Flat => InferenceError::VariancesNotSeparable { plots: observations },
            Self::NotConverged { iterations, gradient } => InferenceError::NotConverged { iterations, gradient },
        }
    }
}

/// Searches from `fixed` (means and slopes) and `extras`, with standard deviations from moments.
pub(crate) fn maximise<L: Likelihood>(
    problem: &mut Problem<L>,
    fixed: &[f64],
    extras: &[f64],
) -> Result<Maximum, Failure> {
    let mut start = [fixed, &vec![0.0; problem.pattern.groupings], extras].concat();
    if !problem.likelihood.set_extras(extras) {
        return Err(not_converged(0, f64::INFINITY));
    }
    let sd = start::standard_deviations(problem, &start);
    start[problem.sd_range()].copy_from_slice(&sd);
    let no_effects = vec![0.0; problem.pattern.size];
    let first = search(problem, start.clone(), &no_effects)?;
    let ended_at_edge = problem.sd_range().any(|k| first.mode.parameters[k] == 0.0);
    if !ended_at_edge {
        return finished(problem, first);
    }
    // from the other side, so that an edge is not met by the choice of the start alone
    start[problem.sd_range()].fill(0.8);
    match search(problem, start, &no_effects) {
        Ok(second) if second.mode.log_likelihood > first.mode.log_likelihood + 1e-9 => finished(problem, second),
        _ => finished(problem, first),
    }
}

/// Where a search ended.
pub(super) struct End {
    pub mode: Mode,
    surface: Surface,
    steps: usize,
    stop: StopReason,
}

/// Searches from these parameters; `effects` need only be near the most likely ones.
pub(super) fn search<L: Likelihood>(
    problem: &mut Problem<L>,
    start: Vec<f64>,
    effects: &[f64],
) -> Result<End, Failure> {
    let mut mode = mode::find(problem, &start, effects).ok_or_else(|| not_converged(0, f64::INFINITY))?;
    let mut around = surface(problem, &mode);
    let mut steps = 0;
    while steps < MOST_STEPS {
        steps += 1;
        let free = free_parameters(problem, &mode.parameters);
        let step = uphill(&around, &free);
        let gain = 0.5 * dot(&around.gradient, &step);
        let is_settled = gain <= SETTLED;
        let next = if is_settled { None } else { shortened(problem, &mode, &around, &step, gain) };
        if let Some(next) = next {
            mode = next;
        } else if let Some(left) = leave_edge(problem, &mode, &around) {
            mode = left;
        } else if let Some(at_edge) = reach_edge(problem, &mode) {
            mode = at_edge;
        } else {
            restore_extras(problem, &mode);
            let stop = if problem.parameters() == problem.fixed() { StopReason::Closed } else { StopReason::Settled };
            return Ok(End { mode, surface: around, steps, stop });
        }
        restore_extras(problem, &mode);
        around = surface(problem, &mode);
    }
    check_limits(problem, &mode)?;
    let free = free_parameters(problem, &mode.parameters);
    if 0.5 * dot(&around.gradient, &uphill(&around, &free)) <= SETTLED_BUT_FOR_ROUNDING {
        return Ok(End { mode, surface: around, steps, stop: StopReason::Settled });
    }
    Err(not_converged(steps, largest_gradient(&around, &free)))
}

/// The likelihood keeps the parameters of the last trial, which may have been refused.
fn restore_extras<L: Likelihood>(problem: &mut Problem<L>, mode: &Mode) {
    let extras = problem.extras_range();
    problem.likelihood.set_extras(&mode.parameters[extras]);
}

/// All but those that are held and the spreads at zero, where the surface is level by symmetry.
fn free_parameters<L: Likelihood>(problem: &Problem<L>, parameters: &[f64]) -> Vec<usize> {
    let spreads = problem.spreads_range();
    let is_at_zero = |m: &usize| spreads.contains(m) && parameters[*m] == 0.0;
    let is_free = |m: &usize| !(is_at_zero(m) || problem.held.contains(m));
    (0..parameters.len()).filter(is_free).collect()
}

fn part(hessian: &Matrix, free: &[usize]) -> Matrix {
    let mut part = Matrix::zeros(free.len(), free.len());
    for (row, &m) in free.iter().enumerate() {
        for (column, &n) in free.iter().enumerate() {
            part[(row, column)] = -hessian[(m, n)];
        }
    }
    part
}

/// Newton's step, zero for parameters that are not free.
fn uphill(around: &Surface, free: &[usize]) -> Vec<f64> {
    let gradient: Vec<f64> = free.iter().map(|&m| around.gradient[m]).collect();
    let downward = part(&around.hessian, free);
    let scale = (0..free.len()).map(|m| downward[(m, m)].abs()).fold(0.0, f64::max).max(1e-300);
    let raised = |by: f64| {
        let mut raised = downward.clone();
        (0..free.len()).for_each(|m| raised[(m, m)] += by * (downward[(m, m)].abs() + 1e-6 * scale));
        Cholesky::of(&raised)
    };
    let raises = [0.0].into_iter().chain((-3..40).map(|power| 4.0_f64.powi(power)));
    let solution = raises.into_iter().find_map(raised).map_or(gradient.clone(), |it| it.solve_vector(&gradient));
    let longest = solution.iter().fold(0.0, |longest: f64, step| longest.max(step.abs()));
    let shrink = if longest > LONGEST { LONGEST / longest } else { 1.0 };
    let mut step = vec![0.0; around.gradient.len()];
    free.iter().zip(&solution).for_each(|(&m, value)| step[m] = shrink * value);
    step
}

/// The first of ever shorter steps that improves the likelihood; nothing when rounding hides any gain.
fn shortened<L: Likelihood>(
    problem: &mut Problem<L>,
    mode: &Mode,
    around: &Surface,
    step: &[f64],
    gain: f64,
) -> Option<Mode> {
    let rounding = 4e-14 * mode.log_likelihood.abs().max(1.0);
    for halvings in 0..30 {
        let share = 0.5_f64.powi(halvings);
        let next = moved(problem, mode, around, step, share);
        let Some(next) = next else { continue };
        let improved = next.log_likelihood - mode.log_likelihood;
        // a whole step whose gain cannot be seen still gains digits, if it loses nothing that can be seen
        if improved > 1e-4 * share * gain || (halvings == 0 && gain < rounding && improved > -rounding) {
            return Some(next);
        }
        if share * gain < rounding {
            return None;
        }
    }
    None
}

fn moved<L: Likelihood>(
    problem: &mut Problem<L>,
    mode: &Mode,
    around: &Surface,
    step: &[f64],
    share: f64,
) -> Option<Mode> {
    let width = step.len();
    let mut parameters: Vec<f64> = mode.parameters.iter().zip(step).map(|(value, step)| value + share * step).collect();
    let mut effects = mode.effects.clone();
    for (effect, slopes) in effects.iter_mut().zip(around.effect_slopes.chunks_exact(width)) {
        *effect += share * dot(slopes, step);
    }
    turn_positive(problem, &mut parameters, &mut effects);
    mode::find(problem, &parameters, &effects)
}

/// A standard deviation and its effects may change sign together.
fn turn_positive<L: Likelihood>(problem: &Problem<L>, parameters: &mut [f64], effects: &mut [f64]) {
    for (k, m) in problem.sd_range().enumerate().filter(|&(_, m)| parameters[m] < 0.0).collect::<Vec<_>>() {
        parameters[m] = -parameters[m];
        problem.pattern.effects(k).for_each(|place| effects[place] = -effects[place]);
    }
    problem.spreads_range().for_each(|m| parameters[m] = parameters[m].abs());
}

/// Puts a small spread at zero where that is no worse.
fn reach_edge<L: Likelihood>(problem: &mut Problem<L>, mode: &Mode) -> Option<Mode> {
    let small: Vec<usize> = problem
        .spreads_range()
        .filter(|m| {
            !problem.held.contains(m) && (0.0..NEAR_ZERO).contains(&mode.parameters[*m]) && mode.parameters[*m] > 0.0
        })
        .collect();
    let rounding = 1e-12 * mode.log_likelihood.abs().max(1.0);
    small.into_iter().find_map(|m| {
        let mut parameters = mode.parameters.clone();
        parameters[m] = 0.0;
        let at_zero = mode::find(problem, &parameters, &mode.effects)?;
        (at_zero.log_likelihood >= mode.log_likelihood - rounding).then_some(at_zero)
    })
}

/// Leaves zero with a spread whose likelihood rises from there.
fn leave_edge<L: Likelihood>(problem: &mut Problem<L>, mode: &Mode, around: &Surface) -> Option<Mode> {
    let rising = |m: &usize| mode.parameters[*m] == 0.0 && !problem.held.contains(m) && around.hessian[(*m, *m)] > 1e-9;
    let rising: Vec<usize> = problem.spreads_range().filter(rising).collect();
    rising.into_iter().find_map(|m| {
        [start::SMALLEST, 2e-3].into_iter().find_map(|spread| {
            let mut parameters = mode.parameters.clone();
            parameters[m] = spread;
            let left = mode::find(problem, &parameters, &mode.effects)?;
            (left.log_likelihood > mode.log_likelihood).then_some(left)
        })
    })
}

fn largest_gradient(around: &Surface, free: &[usize]) -> f64 {
    free.iter().map(|&m| around.gradient[m].abs()).fold(0.0, f64::max)
}

pub(super) fn finished<L: Likelihood>(problem: &mut Problem<L>, end: End) -> Result<Maximum, Failure> {
    let End { mode, surface, steps, stop } = end;
    restore_extras(problem, &mode);
    check_limits(problem, &mode)?;
    let free = free_parameters(problem, &mode.parameters);
    let factor = Cholesky::of(&part(&surface.hessian, &free)).ok_or(Failure::Flat)?;
    let inverse = factor.inverse();
    let mut covariance = Matrix::zeros(mode.parameters.len(), mode.parameters.len());
    for (row, &m) in free.iter().enumerate() {
        for (column, &n) in free.iter().enumerate() {
            covariance[(m, n)] = inverse[(row, column)];
        }
    }
    let singular = problem.spreads_range().any(|m| mode.parameters[m] == 0.0);
    let evidence = Evidence { iterations: steps, gradient: largest_gradient(&surface, &free), stop, singular };
    let effect_variances = mode.factor.inverse(&problem.pattern).diagonal;
    Ok(Maximum { mode, covariance, effect_variances, evidence })
}

/// Where the likelihood rises without end, Newton's steps stop at some point far out.
fn check_limits<L: Likelihood>(problem: &Problem<L>, mode: &Mode) -> Result<(), Failure> {
    /// On a logit or log scale: units two of these apart differ by a factor of ten million.
    const LARGEST_SD: f64 = 8.0;
    let is_endless = |m: usize| mode.parameters[m] >= LARGEST_SD && !problem.held.contains(&m);
    if let Some(k) = problem.sd_range().position(is_endless) {
        return Err(Failure::AllOrNothing { grouping: problem.pattern.given[k] });
    }
    let foretold = |&i: &usize| problem.likelihood.is_foretold(i, mode.predictor[i] - problem.offset(i));
    match (0..problem.observations()).find(foretold) {
        Some(observation) => Err(Failure::Foretold { observation }),
        None => Ok(()),
    }
}

fn not_converged(iterations: usize, gradient: f64) -> Failure {
    Failure::NotConverged { iterations, gradient }
}

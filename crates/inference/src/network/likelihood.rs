//! The restricted likelihood at given variances, its slope and its average information.
//!
//! With the equations `C`, their solution and the part of `C^-1` within the fronts:
//! - `-2 l = (n-p) log 2 pi + sum log R + sum q_k log v_k + log|C| + e'R^-1 e + sum u_k'u_k / v_k`
//! - slope by `log v_k`: `-(q_k - (u_k'u_k + tr_k) / v_k) / 2`, with `tr_k` the sum of the prediction error variances; the same for
//!   the residual variances with the residuals and the errors of the fitted values.
//! - average information of `log v_k` and `log v_l`: `v_k v_l y'P V_k P V_l P y / 2`, where `V_k P y` is the predicted effect over its
//!   variance, so that one more solution of the equations for each variance is all it needs.
//!
//! Source: Gilmour, Thompson & Cullis (1995), Biometrics 51:1440-1450; Johnson & Thompson (1995), J. Dairy Sci. 78:449-456 (from
//! memory; the formulas in centred form are ours and tested against plain matrix algebra).

use super::equations::Equations;
use super::factor::{Dependent, Factor, solve_lower, solve_upper};
use super::inverse::{Form, Inverse, inverse_within_fronts};
use super::prepared::Prepared;
use super::room::Rooms;
use crate::matrix::Matrix;
use std::rc::Rc;

/// Right sides that are solved for at once.
const TOGETHER: usize = 8;

/// The equations solved at some variances.
pub(super) struct Point {
    pub equations: Rc<Equations>,
    /// Of all random groupings (zero for those that are not in the equations), then of the residual groups.
    pub variances: Vec<f64>,
    pub factor: Factor,
    /// Solution for each unknown.
    pub solution: Vec<f64>,
    /// Predicted effects of each active grouping.
    pub effects: Vec<Vec<f64>>,
    /// Response minus fitted value, effects included.
    pub residuals: Vec<f64>,
    /// Sums of squares of the effects, then weighted ones of the residuals.
    pub squares: Vec<f64>,
    pub log_likelihood: f64,
}

/// How the likelihood changes with the logarithms of the variances: of the active groupings, then of the residual groups.
pub(super) struct Slope {
    pub scores: Vec<f64>,
    pub information: Matrix,
    /// Where the expectation-maximisation step goes: variances that are sure not to lower the likelihood.
    pub expected: Vec<f64>,
    /// Classes that the data tell something about: the number of classes less what the predictions leave open.
    pub effective: Vec<f64>,
    pub inverse: Inverse,
}

impl Point {
    /// Solves the equations.
    ///
    /// # Errors
    /// [`Dependent`] when some unknown follows from the others.
    pub fn at(
        data: &Prepared,
        equations: Rc<Equations>,
        variances: Vec<f64>,
        rooms: &Rooms,
        threads: usize,
    ) -> Result<Self, Dependent> {
        let precisions = precisions(data, &equations, &variances);
        let factor = Factor::of(&equations, &precisions, rooms, threads)?;
        let solution = solution(data, &equations, &precisions, &factor, threads);
        let residuals = residuals(data, &equations, &solution);
        let effects: Vec<Vec<f64>> =
            (0..equations.active.len()).map(|it| effects(data, &equations, &solution, it)).collect();
        let mut squares: Vec<f64> = effects.iter().map(|it| it.iter().map(|effect| effect * effect).sum()).collect();
        let mut of_groups = vec![0.0; data.residual.classes];
        for (observation, residual) in residuals.iter().enumerate() {
            of_groups[data.residual.class[observation] as usize] += data.weight(observation) * residual * residual;
        }
        squares.extend(of_groups);
        let log_likelihood = log_likelihood(data, &precisions, &counts(data, &equations), &squares, &factor);
        Ok(Self { equations, variances, factor, solution, effects, residuals, squares, log_likelihood })
    }

    /// Slope and information here.
    pub fn slope(&self, data: &Prepared, forms: &[Vec<Form>], rooms: &Rooms, threads: usize) -> Slope {
        let precisions = precisions(data, &self.equations, &self.variances);
        let inverse = inverse_within_fronts(&self.equations, &self.factor, precisions.len(), forms, rooms, threads);
        let counts = counts(data, &self.equations);
        let explained = |it: usize| self.squares[it] + inverse.traces[it];
        let scores = (0..counts.len()).map(|it| -0.5 * (counts[it] - precisions[it] * explained(it))).collect();
        let expected = (0..counts.len()).map(|it| explained(it) / counts[it]).collect();
        let effective = (0..counts.len()).map(|it| counts[it] - precisions[it] * inverse.traces[it]).collect();
        let information = self.information(data, &precisions, threads);
        Slope { scores, information, expected, effective, inverse }
    }

    /// Average information of the logarithms of the variances.
    fn information(&self, data: &Prepared, precisions: &[f64], threads: usize) -> Matrix {
        let count = precisions.len();
        let mut solved: Vec<Vec<[f64; TOGETHER]>> = Vec::new();
        for first in (0..count).step_by(TOGETHER) {
            let mut right = vec![[0.0; TOGETHER]; self.equations.unknowns];
            for lane in 0..TOGETHER.min(count - first) {
                self.working_variate(data, precisions, first + lane, lane, &mut right);
            }
            solve_lower(&self.equations.tree, &self.factor, &mut right, threads);
            solved.push(right);
        }
        let mut information = Matrix::zeros(count, count);
        for row in 0..count {
            for column in 0..=row {
                let (a, b) = (&solved[row / TOGETHER], &solved[column / TOGETHER]);
                let lanes = (row % TOGETHER, column % TOGETHER);
                let product: f64 = a.iter().zip(b).map(|(a, b)| a[lanes.0] * b[lanes.1]).sum();
                let own = if row == column { precisions[row] * self.squares[row] } else { 0.0 };
                let value = 0.5 * (own - product);
                (information[(row, column)], information[(column, row)]) = (value, value);
            }
        }
        information
    }

    /// The right side whose solution shows how far the data can tell one variance's share from all else.
    fn working_variate(
        &self,
        data: &Prepared,
        precisions: &[f64],
        parameter: usize,
        lane: usize,
        right: &mut [[f64; TOGETHER]],
    ) {
        let equations = &*self.equations;
        let position = |unknown: usize| equations.tree.position[unknown] as usize;
        let precision = precisions[parameter];
        if parameter < equations.active.len() {
            let start = equations.parts[parameter].start;
            let carried = equations.carried(data, parameter);
            for (class, effect) in self.effects[parameter].iter().enumerate() {
                right[position(start + class)][lane] -= precision * effect;
                for (outer, holder) in &carried {
                    right[position(outer + holder[class] as usize)][lane] += precision * effect;
                }
            }
            return;
        }
        let group = (parameter - equations.active.len()) as u32;
        let direct = equations.direct(data);
        for (observation, residual) in self.residuals.iter().enumerate() {
            if data.residual.class[observation] == group {
                let value = precision * data.weight(observation) * residual;
                for (start, class) in &direct {
                    right[position(start + class[observation] as usize)][lane] += value;
                }
                for (covariate, values) in data.covariates.iter().enumerate() {
                    right[position(equations.slopes + covariate)][lane] += value * values[observation];
                }
            }
        }
    }
}

/// One over the variances: of the active groupings, then of the residual groups.
fn precisions(data: &Prepared, equations: &Equations, variances: &[f64]) -> Vec<f64> {
    let active = equations.active.iter().map(|&it| variances[it]);
    active.chain(variances[data.random.len()..].iter().copied()).map(f64::recip).collect()
}

/// Classes of the active groupings, then observations of the residual groups.
fn counts(data: &Prepared, equations: &Equations) -> Vec<f64> {
    let mut counts: Vec<f64> = equations.active.iter().map(|&it| data.random[it].classes as f64).collect();
    let groups = counts.len();
    counts.resize(groups + data.residual.classes, 0.0);
    data.residual.class.iter().for_each(|&group| counts[groups + group as usize] += 1.0);
    counts
}

fn log_likelihood(data: &Prepared, precisions: &[f64], counts: &[f64], squares: &[f64], factor: &Factor) -> f64 {
    let two_pi = 2.0 * std::f64::consts::PI;
    let variances: f64 = precisions.iter().zip(counts).map(|(precision, count)| -count * precision.ln()).sum();
    let weights: f64 = data.weights.iter().flatten().map(|weight| weight.ln()).sum();
    let quadratic: f64 = precisions.iter().zip(squares).map(|(precision, square)| precision * square).sum();
    // what was divided out of the response and the covariates
    let scales = 2.0 * data.residual_df() * data.scale.ln() + 2.0 * data.log_covariate_scales;
    let minus_twice =
        data.residual_df() * two_pi.ln() + variances - weights + factor.log_determinant + quadratic + scales;
    -0.5 * minus_twice
}

fn solution(data: &Prepared, equations: &Equations, precisions: &[f64], factor: &Factor, threads: usize) -> Vec<f64> {
    let tree = &equations.tree;
    let direct = equations.direct(data);
    let groups = equations.active.len();
    let mut right = vec![[0.0]; equations.unknowns];
    let mut sums = vec![0.0; equations.unknowns];
    for (observation, response) in data.response.iter().enumerate() {
        let precision = precisions[groups + data.residual.class[observation] as usize];
        let value = precision * data.weight(observation) * response;
        direct.iter().for_each(|(start, class)| sums[start + class[observation] as usize] += value);
        for (covariate, values) in data.covariates.iter().enumerate() {
            sums[equations.slopes + covariate] += value * values[observation];
        }
    }
    sums.iter().zip(&tree.position).for_each(|(&sum, &position)| right[position as usize] = [sum]);
    solve_lower(tree, factor, &mut right, threads);
    let mut by_position: Vec<f64> = right.into_iter().map(|[value]| value).collect();
    solve_upper(tree, factor, &mut by_position);
    tree.position.iter().map(|&position| by_position[position as usize]).collect()
}

fn residuals(data: &Prepared, equations: &Equations, solution: &[f64]) -> Vec<f64> {
    let direct = equations.direct(data);
    let slopes = &solution[equations.slopes..equations.slopes + data.covariates.len()];
    let residual = |(observation, response): (usize, &f64)| {
        let carried: f64 = direct.iter().map(|(start, class)| solution[start + class[observation] as usize]).sum();
        let adjusted: f64 =
            slopes.iter().zip(&data.covariates).map(|(slope, values)| slope * values[observation]).sum();
        response - carried - adjusted
    };
    data.response.iter().enumerate().map(residual).collect()
}

/// A grouping's own effects: its unknowns less what they were centred on.
fn effects(data: &Prepared, equations: &Equations, solution: &[f64], part: usize) -> Vec<f64> {
    let start = equations.parts[part].start;
    let carried = equations.carried(data, part);
    let classes = data.random[equations.active[part]].classes;
    let effect = |class: usize| {
        let outer: f64 = carried.iter().map(|(outer, holder)| solution[outer + holder[class] as usize]).sum();
        solution[start + class] - outer
    };
    (0..classes).map(effect).collect()
}

//! Derivatives against differences, sparse against dense.

use super::factor::{Factor, Symmetric};
use super::mode;
use super::pattern::{Pattern, Units};
use super::surface::surface;
use super::{Likelihood, Problem};
use crate::generalised::ProportionLink;
use crate::generalised::likelihoods::{Binomial, NegativeBinomial, Poisson};
use crate::matrix::{Cholesky, Matrix};
use crate::ordinal::{Cumulative, ScoreLink};

const PLOTS: usize = 24;

/// Numbers between 0 and 1 without pattern, the same on every run.
fn scattered(index: usize) -> f64 {
    ((index * 7919 + 104_729) % 1013) as f64 / 1013.0
}

fn units(class: impl Fn(usize) -> usize) -> Units {
    let class: Vec<usize> = (0..PLOTS).map(class).collect();
    Units { classes: class.iter().max().unwrap() + 1, class }
}

/// Blocks, main plots in blocks, plots.
fn nested() -> Vec<Units> {
    vec![units(|plot| plot / 8), units(|plot| plot / 4), units(|plot| plot)]
}

/// Rows and columns of a field, columns given first, and plots.
fn crossed() -> Vec<Units> {
    vec![units(|plot| plot % 4), units(|plot| plot / 4), units(|plot| plot)]
}

fn problem<L: Likelihood>(likelihood: L, units: &[Units]) -> Problem<L> {
    let treatment = (0..PLOTS).map(|plot| (plot * 5 + plot / 6) % 3).collect();
    let covariate = (0..PLOTS).map(|plot| scattered(plot + 50) - 0.5).collect();
    let offset = (0..PLOTS).map(|plot| 0.2 * scattered(plot + 90)).collect();
    Problem::new(likelihood, treatment, &[covariate], offset, units)
}

fn counts(scale: f64) -> Vec<f64> {
    (0..PLOTS).map(|plot| (scale * scattered(plot).powi(2)).floor()).collect()
}

fn check_derivatives<L: Likelihood>(name: &str, mut problem: Problem<L>, parameters: &[f64]) {
    let start = vec![0.0; problem.pattern.size];
    let mut at = |parameters: &[f64]| {
        let mode = mode::find(&mut problem, parameters, &start).unwrap();
        let surface = surface(&problem, &mode);
        (mode.log_likelihood, surface.gradient, surface.hessian)
    };
    let (_, gradient, hessian) = at(parameters);
    const STEP: f64 = 1e-4;
    for m in 0..parameters.len() {
        let mut moved = |sign: f64| {
            let mut parameters = parameters.to_vec();
            parameters[m] += sign * STEP;
            at(&parameters)
        };
        let (up, down) = (moved(1.0), moved(-1.0));
        let slope = (up.0 - down.0) / (2.0 * STEP);
        assert!((slope - gradient[m]).abs() < 1e-5 * (1.0 + slope.abs()), "{name} {m}: {} not {slope}", gradient[m]);
        for n in 0..parameters.len() {
            let bend = (up.1[n] - down.1[n]) / (2.0 * STEP);
            let ours = hessian[(m, n)];
            assert!((bend - ours).abs() < 1e-5 * (1.0 + bend.abs()), "{name} ({m}, {n}): {ours} not {bend}");
        }
    }
}

#[test]
fn gradient_and_curvature_are_those_of_the_function() {
    for (shape, units) in [("nested", nested()), ("crossed", crossed()), ("none", Vec::new())] {
        let mut parameters = vec![0.3, -0.5, 0.8, 0.6];
        parameters.extend(&[0.7, 0.4, 0.5][..units.len()]);
        for link in [ProportionLink::Logit, ProportionLink::Probit, ProportionLink::ComplementaryLogLog] {
            let trials: Vec<f64> = (0..PLOTS).map(|plot| 5.0 + (plot % 4) as f64).collect();
            let successes = trials.iter().enumerate().map(|(plot, n)| (n * scattered(plot)).round()).collect();
            let likelihood = Binomial { successes, trials, link };
            check_derivatives(&format!("{shape} {link:?}"), problem(likelihood, &units), &parameters);
        }
        check_derivatives(&format!("{shape} Poisson"), problem(Poisson { counts: counts(9.0) }, &units), &parameters);
        parameters.push(0.6);
        let likelihood = NegativeBinomial::new(counts(12.0));
        check_derivatives(&format!("{shape} negative binomial"), problem(likelihood, &units), &parameters);
        // five scores: three thresholds beside the one at zero
        parameters.extend([1.1, 2.5]);
        for link in [ScoreLink::Logit, ScoreLink::Probit] {
            let score = (0..PLOTS).map(|plot| (5.0 * scattered(plot + 30)) as usize).collect();
            let count = (0..PLOTS).map(|plot| 1.0 + (plot % 3) as f64).collect();
            let likelihood = Cumulative::new(score, count, link, vec![0.0, 0.6, 1.1, 2.5]);
            check_derivatives(&format!("{shape} scores {link:?}"), problem(likelihood, &units), &parameters);
        }
    }
}

#[test]
fn the_surface_is_level_along_a_spread_of_zero() {
    let mut problem = problem(NegativeBinomial::new(counts(12.0)), &nested());
    let parameters = [0.3, -0.5, 0.8, 0.6, 0.0, 0.4, 0.0, 0.0];
    let start = vec![0.0; problem.pattern.size];
    let mode = mode::find(&mut problem, &parameters, &start).unwrap();
    let surface = surface(&problem, &mode);
    for spread in [4, 6, 7] {
        assert_eq!(surface.gradient[spread], 0.0);
        for other in (0..parameters.len()).filter(|&other| other != spread) {
            assert!(surface.hessian[(spread, other)].abs() < 1e-12);
        }
    }
    // and the curvature is that of the function on leaving zero
    for spread in [4, 6, 7] {
        let mut moved = parameters;
        moved[spread] = 0.01;
        let off = mode::find(&mut problem, &moved, &mode.effects).unwrap();
        let bend = 2.0 * (off.log_likelihood - mode.log_likelihood) / 1e-4;
        let ours = surface.hessian[(spread, spread)];
        assert!((bend - ours).abs() < 1e-2 * ours.abs(), "{spread}: {ours} not {bend}");
    }
}

#[test]
fn sparse_algebra_agrees_with_dense() {
    for units in [nested(), crossed()] {
        let pattern = Pattern::of(&units, PLOTS);
        let weight: Vec<f64> = (0..PLOTS).map(|plot| 1.0 + scattered(plot)).collect();
        let sd = [0.5, 0.9, 1.3];
        let mut dense = Matrix::from_diagonal(&vec![1.0; pattern.size]);
        for (i, weight) in weight.iter().enumerate() {
            for (a, &row) in pattern.places(i).iter().enumerate() {
                for (b, &column) in pattern.places(i).iter().enumerate() {
                    dense[(row, column)] += weight * sd[a] * sd[b];
                }
            }
        }
        let whole = Cholesky::of(&dense).unwrap();
        let factor = Factor::of(&pattern, Symmetric::precision(&pattern, &sd, &weight));
        assert!((factor.log_determinant() - whole.log_determinant()).abs() < 1e-10);
        let right: Vec<f64> = (0..pattern.size).map(scattered).collect();
        let mut solved = right.clone();
        factor.solve(&pattern, &mut solved);
        assert!(solved.iter().zip(whole.solve_vector(&right)).all(|(a, b)| (a - b).abs() < 1e-12));
        let (inverse, expected) = (factor.inverse(&pattern), whole.inverse());
        for column in 0..pattern.size {
            assert!((inverse.diagonal[column] - expected[(column, column)]).abs() < 1e-12);
            for entry in pattern.column(column) {
                assert!((inverse.below[entry] - expected[(pattern.row(entry), column)]).abs() < 1e-12);
            }
        }
    }
}

#[test]
fn nested_units_fill_nothing_in() {
    let pattern = Pattern::of(&nested(), PLOTS);
    // each plot meets its main plot and its block, each main plot its block
    assert_eq!(pattern.entries(), 2 * PLOTS + PLOTS / 4);
}

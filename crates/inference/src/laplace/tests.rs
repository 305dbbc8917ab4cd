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
    let classes = class.iter().max().unwrap() + 1;
    Units::normal(class, classes)
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
fn flat_means_and_slopes_have_the_same_derivatives() {
    for (shape, units) in [("nested", nested()), ("crossed", crossed()), ("none", Vec::new())] {
        // treatments and the covariate come last among those given, wherever they stand in the pattern
        let parameters = |flat: &dyn Fn(usize) -> usize| {
            let mut sd = vec![0.0; units.len() + 2];
            (0..units.len()).for_each(|index| sd[flat(index)] = [0.7, 0.4, 0.5][index]);
            (sd[flat(units.len())], sd[flat(units.len() + 1)]) = (1.0, 1.0);
            sd
        };
        let own = problem(Poisson { counts: counts(9.0) }, &units);
        let flat = own.with_flat_fixed_part(&units);
        let sd = parameters(&|index| flat.pattern.position_of(index));
        check_derivatives(&format!("{shape} flat Poisson"), flat, &sd);
        let own = problem(NegativeBinomial::new(counts(12.0)), &units);
        let flat = own.with_flat_fixed_part(&units);
        let mut sd = parameters(&|index| flat.pattern.position_of(index));
        sd.push(0.6);
        check_derivatives(&format!("{shape} flat negative binomial"), flat, &sd);
    }
}

#[test]
fn the_restricted_value_is_the_determinant_of_units_times_that_of_what_is_left_for_the_means() {
    let units = nested();
    let own = problem(Poisson { counts: counts(9.0) }, &units);
    let mut flat = own.with_flat_fixed_part(&units);
    let mut sd = vec![1.0; 5];
    (0..3).for_each(|index| sd[flat.pattern.position_of(index)] = [0.7, 0.4, 0.5][index]);
    let no_effects = vec![0.0; flat.pattern.size];
    let mode = mode::find(&mut flat, &sd, &no_effects).unwrap();
    // the same units around the means found, and dense algebra for the rest
    let place = |index: usize| flat.pattern.effects(flat.pattern.position_of(index));
    let mut parameters: Vec<f64> = place(3).chain(place(4)).map(|place| mode.effects[place]).collect();
    parameters.extend([0.0; 3]);
    let mut own = own;
    (0..3).for_each(|index| parameters[4 + own.pattern.position_of(index)] = [0.7, 0.4, 0.5][index]);
    let no_effects = vec![0.0; own.pattern.size];
    let around = mode::find(&mut own, &parameters, &no_effects).unwrap();
    let mut whole = Matrix::from_diagonal(&vec![1.0; own.pattern.size]);
    let mut left = Matrix::zeros(4, 4);
    let mut across = Matrix::zeros(own.pattern.size, 4);
    for (i, &weight) in around.weight.iter().enumerate() {
        let mut row = [0.0; 4];
        row[own.treatment[i]] = 1.0;
        row[3] = own.covariates(i)[0];
        let sd = &parameters[4..];
        for (a, &place) in own.pattern.places(i).iter().enumerate() {
            for (b, &other) in own.pattern.places(i).iter().enumerate() {
                whole[(place, other)] += weight * sd[a] * sd[b];
            }
            (0..4).for_each(|m| across[(place, m)] += weight * sd[a] * row[m]);
        }
        for m in 0..4 {
            (0..4).for_each(|n| left[(m, n)] += weight * row[m] * row[n]);
        }
    }
    let factor = Cholesky::of(&whole).unwrap();
    for n in 0..4 {
        let column: Vec<f64> = (0..own.pattern.size).map(|place| across[(place, n)]).collect();
        let solved = factor.solve_vector(&column);
        for m in 0..4 {
            left[(m, n)] -= (0..own.pattern.size).map(|place| across[(place, m)] * solved[place]).sum::<f64>();
        }
    }
    let expected = around.log_likelihood - 0.5 * Cholesky::of(&left).unwrap().log_determinant();
    // a mode is known to 1e-9 standard deviations of its effects, and the determinant with it
    assert!((mode.log_likelihood - expected).abs() < 1e-9, "{} not {expected}", mode.log_likelihood);
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

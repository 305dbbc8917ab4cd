//! The restricted likelihood and everything beside it by plain matrix algebra over all observations, without Henderson's equations.
//!
//! Source: Searle, Casella & McCulloch (1992), Variance Components, chapter 6, with `V = sum v_k Z_k Z_k' + R` as it stands.

use super::trials::{Numbers, Size, network};
use guardrow_inference::{Network, NetworkFit, NetworkGrouping, NetworkOptions, fit_network};

/// Rows of a dense matrix.
type Rows = Vec<Vec<f64>>;

/// Inverse and logarithm of the determinant of a positive definite matrix, by Gauss and Jordan.
fn inverse(matrix: &Rows) -> (Rows, f64) {
    let size = matrix.len();
    let mut rows: Rows = matrix.clone();
    rows.iter_mut().enumerate().for_each(|(index, row)| {
        row.extend((0..size).map(|column| f64::from(u8::from(column == index))));
    });
    let mut log_determinant = 0.0;
    for pivot in 0..size {
        let scale = rows[pivot][pivot];
        assert!(scale > 0.0, "the matrix is positive definite");
        log_determinant += scale.ln();
        rows[pivot].iter_mut().for_each(|value| *value /= scale);
        let known = rows[pivot].clone();
        for row in (0..size).filter(|&row| row != pivot) {
            let factor = rows[row][pivot];
            if factor != 0.0 {
                rows[row].iter_mut().zip(&known).for_each(|(value, known)| *value -= factor * known);
            }
        }
    }
    (rows.into_iter().map(|row| row[size..].to_vec()).collect(), log_determinant)
}

fn times(matrix: &Rows, vector: &[f64]) -> Vec<f64> {
    matrix.iter().map(|row| dot(row, vector)).collect()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// `X' M X` for `X` by columns.
fn between(columns: &Rows, matrix: &Rows) -> Rows {
    let products: Rows = columns.iter().map(|column| times(matrix, column)).collect();
    columns.iter().map(|column| products.iter().map(|product| dot(column, product)).collect()).collect()
}

/// What plain algebra says at some variances.
pub struct Plain {
    pub log_likelihood: f64,
    /// By variance, not its logarithm: random groupings, then residual groups.
    scores: Vec<f64>,
    /// Asymptotic standard errors of the variances above zero, by the average information.
    errors: Vec<f64>,
    /// Class means at the covariates' means, then slopes.
    estimates: Vec<f64>,
    covariance: Rows,
    effects: Rows,
    prediction_errors: Rows,
    residuals: Vec<f64>,
}

pub fn plain(network: &Network, variances: &[f64]) -> Plain {
    let count = network.response.len();
    let groups = network.residual.as_ref().map_or(1, NetworkGrouping::classes);
    let group_of = |at: usize| network.residual.as_ref().map_or(0, |it| it.class_of(at));
    let weight = |at: usize| network.weights.as_ref().map_or(1.0, |it| it[at]);
    let random = network.random.len();
    // how V changes with each variance
    let mut shares: Vec<Rows> = vec![vec![vec![0.0; count]; count]; random + groups];
    for (share, grouping) in shares.iter_mut().zip(&network.random) {
        for (a, row) in share.iter_mut().enumerate() {
            let is_same = |b: usize| f64::from(u8::from(grouping.class_of(a) == grouping.class_of(b)));
            row.iter_mut().enumerate().for_each(|(b, value)| *value = is_same(b));
        }
    }
    (0..count).for_each(|at| shares[random + group_of(at)][at][at] = 1.0 / weight(at));
    let mut whole = vec![vec![0.0; count]; count];
    for (share, variance) in shares.iter().zip(variances) {
        for (row, share) in whole.iter_mut().zip(share) {
            row.iter_mut().zip(share).for_each(|(value, share)| *value += variance * share);
        }
    }
    let (inner, log_whole) = inverse(&whole);
    let mut columns: Rows = (0..network.fixed.classes())
        .map(|class| (0..count).map(|at| f64::from(u8::from(network.fixed.class_of(at) == class))).collect())
        .collect();
    columns.extend(network.covariates.iter().map(|(_, values)| {
        let mean = values.iter().sum::<f64>() / count as f64;
        values.iter().map(|value| value - mean).collect::<Vec<f64>>()
    }));
    let (covariance, log_fixed) = inverse(&between(&columns, &inner));
    let weighted = times(&inner, &network.response);
    let right: Vec<f64> = columns.iter().map(|column| dot(column, &weighted)).collect();
    let estimates = times(&covariance, &right);
    // P = V^-1 - V^-1 X (X'V^-1X)^-1 X'V^-1
    let products: Rows = columns.iter().map(|column| times(&inner, column)).collect();
    let mut projection = inner.clone();
    for (a, first) in products.iter().enumerate() {
        for (b, second) in products.iter().enumerate() {
            for (row, value) in first.iter().enumerate() {
                let factor = covariance[a][b] * value;
                projection[row].iter_mut().zip(second).for_each(|(target, it)| *target -= factor * it);
            }
        }
    }
    let projected = times(&projection, &network.response);
    let working: Rows = shares.iter().map(|share| times(share, &projected)).collect();
    let scores = shares.iter().zip(&working).map(|(share, working)| {
        let trace: f64 = projection.iter().zip(share).map(|(a, b)| dot(a, b)).sum();
        -0.5 * (trace - dot(&projected, working))
    });
    let free: Vec<usize> = (0..variances.len()).filter(|&it| variances[it] > 0.0).collect();
    let free_working: Rows = free.iter().map(|&it| working[it].clone()).collect();
    let information = between(&free_working, &projection)
        .into_iter()
        .map(|row| row.into_iter().map(|it| it / 2.0).collect())
        .collect();
    let (inverse_information, _) = inverse(&information);
    let two_pi = 2.0 * std::f64::consts::PI;
    let df = (count - columns.len()) as f64;
    let log_likelihood = -0.5 * (df * two_pi.ln() + log_whole + log_fixed + dot(&network.response, &projected));
    let of_class = |grouping: &NetworkGrouping, class: usize| -> Vec<usize> {
        (0..count).filter(|&at| grouping.class_of(at) == class).collect()
    };
    let mut effects = Rows::new();
    let mut prediction_errors = Rows::new();
    for (grouping, &variance) in network.random.iter().zip(variances) {
        let classes: Vec<Vec<usize>> = (0..grouping.classes()).map(|class| of_class(grouping, class)).collect();
        effects.push(classes.iter().map(|it| variance * it.iter().map(|&at| projected[at]).sum::<f64>()).collect());
        let error = |plots: &Vec<usize>| {
            let explained: f64 =
                plots.iter().flat_map(|&a| plots.iter().map(move |&b| (a, b))).map(|(a, b)| projection[a][b]).sum();
            (variance - variance * variance * explained).max(0.0).sqrt()
        };
        prediction_errors.push(classes.iter().map(error).collect());
    }
    let residuals = (0..count).map(|at| variances[random + group_of(at)] / weight(at) * projected[at]).collect();
    Plain {
        log_likelihood,
        scores: scores.collect(),
        errors: (0..free.len()).map(|it| inverse_information[it][it].sqrt()).collect(),
        estimates,
        covariance,
        effects,
        prediction_errors,
        residuals,
    }
}

fn near(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance * expected.abs().max(1.0), "{what}: {found} instead of {expected}");
}

fn variances(fit: &NetworkFit) -> Vec<f64> {
    fit.components.iter().chain(fit.residual.iter().flatten()).map(|it| it.variance).collect()
}

/// Fits a network and compares all of the result with plain algebra at the same variances. Those above zero must have no slope,
/// those at zero none upwards.
pub fn check(network: &Network) -> NetworkFit {
    let options = NetworkOptions { threads: 2, predicted: (0..network.random.len()).collect() };
    let fit = fit_network(network, &options).expect("an invented network can be fitted");
    assert_eq!(fit.components.len(), network.random.len(), "{:?}", fit.notices);
    let found = variances(&fit);
    let plain = plain(network, &found);
    near(fit.reml_log_likelihood, plain.log_likelihood, 1e-9, "log-likelihood");
    for (variance, score) in found.iter().zip(&plain.scores) {
        if *variance > 0.0 {
            assert!((variance * score).abs() < 1e-6, "slope {score} at {variance}");
        } else {
            assert!(*score <= 1e-9, "slope {score} at zero");
        }
    }
    let components = fit.components.iter().chain(fit.residual.iter().flatten());
    let errors: Vec<f64> = components.filter(|it| !it.at_zero).filter_map(|it| it.se).collect();
    assert_eq!(errors.len(), plain.errors.len());
    errors
        .iter()
        .zip(&plain.errors)
        .for_each(|(found, expected)| near(found / expected, 1.0, 1e-7, "error of a variance"));
    for (class, mean) in fit.means.iter().enumerate() {
        let mean = mean.expect("all entries were observed");
        near(mean.mean, plain.estimates[class], 1e-9, "mean");
        near(mean.se, plain.covariance[class][class].sqrt(), 1e-8, "error of a mean");
        for other in (0..fit.means.len()).filter(|&other| other != class) {
            let covariance = &plain.covariance;
            let expected = covariance[class][class] + covariance[other][other] - 2.0 * covariance[class][other];
            near(fit.difference_se(class, other).unwrap(), expected.sqrt(), 1e-8, "error of a difference");
        }
    }
    for (index, slope) in fit.slopes.iter().enumerate() {
        let own = fit.means.len() + index;
        near(slope.slope, plain.estimates[own], 1e-8, "slope");
        near(slope.se, plain.covariance[own][own].sqrt(), 1e-8, "error of a slope");
    }
    for (grouping, prediction) in fit.predictions.iter().enumerate() {
        let errors = prediction.prediction_se.as_ref().expect("they were asked for");
        for (found, expected) in prediction.effects.iter().zip(&plain.effects[grouping]) {
            near(*found, *expected, 1e-8, "effect");
        }
        for (found, expected) in errors.iter().zip(&plain.prediction_errors[grouping]) {
            near(*found, *expected, 1e-6, "error of an effect");
        }
    }
    fit.residuals.iter().zip(&plain.residuals).for_each(|(found, expected)| near(*found, *expected, 1e-8, "residual"));
    fit
}

const SIZE: Size = Size { sites: 5, years: 3, blocks: 2, entries: 6, lost: 0.15 };
const DEVIATIONS: [f64; 7] = [6.0, 4.0, 4.0, 2.0, 2.0, 1.5, 2.0];

#[test]
fn crossed_and_nested_groupings_with_lost_plots() {
    (1..5).for_each(|seed| {
        check(&network(SIZE, DEVIATIONS, seed));
    });
}

#[test]
fn variances_at_zero() {
    let deviations = [6.0, 0.0, 0.0, 0.0, 2.0, 0.0, 0.0];
    let fits: Vec<NetworkFit> = (10..16).map(|seed| check(&network(SIZE, deviations, seed))).collect();
    let at_zero = |fit: &NetworkFit| fit.components.iter().filter(|it| it.at_zero).count();
    assert!(fits.iter().map(at_zero).sum::<usize>() > 6, "the case is there to meet the edge");
    assert!(fits.iter().all(|fit| fit.evidence.singular == (at_zero(fit) > 0)));
}

#[test]
fn covariates_weights_and_residual_groups() {
    let mut network = network(SIZE, DEVIATIONS, 20);
    let mut numbers = Numbers(7);
    let count = network.response.len();
    let stand: Vec<f64> = (0..count).map(|_| 300.0 + 20.0 * numbers.normal()).collect();
    let depth: Vec<f64> = (0..count).map(|_| 0.03 + 0.002 * numbers.normal()).collect();
    network.response.iter_mut().zip(&stand).for_each(|(value, stand)| *value += 0.05 * stand);
    check(&network);
    network.covariates = vec![("stand".into(), stand), ("depth".into(), depth)];
    check(&network);
    network.weights = Some((0..count).map(|_| 0.5 + 3.0 * numbers.uniform()).collect());
    check(&network);
    let mut residual = network.random[1].clone();
    residual.name = "year".into();
    network.residual = Some(residual);
    check(&network);
}

#[test]
fn an_entry_seen_at_one_site_only() {
    let mut network = network(SIZE, DEVIATIONS, 30);
    let keep: Vec<usize> = (0..network.response.len())
        .filter(|&at| network.fixed.class_of(at) != 2 || network.random[0].class_of(at) == 3)
        .collect();
    let kept = |it: &NetworkGrouping| {
        let class: Vec<usize> = keep.iter().map(|&at| it.class_of(at)).collect();
        let all = NetworkGrouping::new(&it.name, &class, it.classes());
        // numbered anew, since plain algebra does not expect classes without plots
        let whole = NetworkGrouping::new("", &vec![0; class.len()], 1);
        NetworkGrouping::crossed(&it.name, &whole, &all)
    };
    network.random = network.random.iter().map(kept).collect();
    network.fixed = kept(&network.fixed);
    network.response = keep.iter().map(|&at| network.response[at]).collect();
    check(&network);
}

//! The integral over the units by adaptive Gauss-Hermite quadrature, as a check on Laplace's approximation.
//!
//! One grouping, or two that nest: for every unit the rule is centred on the most likely effect and scaled by its standard
//! deviation; for a unit within another this is done anew at every point of the outer rule.
//!
//! Source: Pinheiro & Bates (1995), J. Comput. Graph. Stat. 4:12-35; nodes by Golub & Welsch (1969), Math. Comp. 23:221-230.

use super::likelihood::Likelihood;
use super::problem::Problem;
use super::search::Maximum;
use crate::matrix::{Cholesky, Matrix, dot, symmetric_eigen};

/// A rule for integrals of `f(x) exp(-x^2 / 2) / sqrt(2 pi)`: points, and logarithms of weights times `exp(x^2 / 2)`.
struct Rule {
    points: Vec<f64>,
    log_weights: Vec<f64>,
}

impl Rule {
    fn with_points(count: usize) -> Self {
        let mut jacobi = Matrix::zeros(count, count);
        for k in 1..count {
            (jacobi[(k - 1, k)], jacobi[(k, k - 1)]) = ((k as f64).sqrt(), (k as f64).sqrt());
        }
        let (points, vectors) = symmetric_eigen(&jacobi);
        let log_weights = (0..count).map(|k| 2.0 * vectors[(k, 0)].abs().ln() + 0.5 * points[k] * points[k]);
        Self { log_weights: log_weights.collect(), points }
    }
}

/// The maximum by quadrature.
#[derive(Debug, Clone)]
pub(crate) struct Refined {
    pub parameters: Vec<f64>,
    pub log_likelihood: f64,
}

/// Finds the maximum near Laplace's. Nothing where more than two groupings, or two that cross, make the integral one of many
/// dimensions, or where the search does not settle.
pub(crate) fn refine<L: Likelihood>(problem: &mut Problem<L>, laplace: &Maximum, points: usize) -> Option<Refined> {
    let rule = Rule::with_points(points);
    let nests = Nests::of(problem)?;
    let mut at = laplace.mode.parameters.clone();
    let mut value = log_likelihood(problem, &nests, &rule, &at, laplace)?;
    let free: Vec<usize> = (0..at.len()).filter(|&m| laplace.covariance[(m, m)] > 0.0).collect();
    for _ in 0..50 {
        let gradient = differences(problem, &nests, &rule, &at, laplace, &free)?;
        let curvature = curvature(laplace, &free)?;
        let step = curvature.times_vector(&gradient);
        let gain = 0.5 * dot(&gradient, &step);
        if gain < 1e-12 {
            return Some(Refined { parameters: at, log_likelihood: value });
        }
        let moved = (0..20).find_map(|halvings| {
            let share = 0.5_f64.powi(halvings);
            let mut next = at.clone();
            free.iter().zip(&step).for_each(|(&m, step)| next[m] += share * step);
            let higher = log_likelihood(problem, &nests, &rule, &next, laplace)?;
            (higher > value).then_some((next, higher))
        });
        match moved {
            Some((next, higher)) => (at, value) = (next, higher),
            // differences carry rounding of about 1e-9
            None => return (gain < 1e-8).then_some(Refined { parameters: at, log_likelihood: value }),
        }
    }
    None
}

/// Laplace's own covariance on the free parameters: what a step is measured by.
fn curvature(laplace: &Maximum, free: &[usize]) -> Option<Matrix> {
    let mut part = Matrix::zeros(free.len(), free.len());
    for (row, &m) in free.iter().enumerate() {
        for (column, &n) in free.iter().enumerate() {
            part[(row, column)] = laplace.covariance[(m, n)];
        }
    }
    Cholesky::of(&part).map(|_| part)
}

fn differences<L: Likelihood>(
    problem: &mut Problem<L>,
    nests: &Nests,
    rule: &Rule,
    at: &[f64],
    laplace: &Maximum,
    free: &[usize],
) -> Option<Vec<f64>> {
    let slope = |&m: &usize| {
        let width = 1e-3 * laplace.covariance[(m, m)].sqrt();
        let mut side = |sign: f64| {
            let mut moved = at.to_vec();
            moved[m] += sign * width;
            log_likelihood(problem, nests, rule, &moved, laplace)
        };
        Some((side(1.0)? - side(-1.0)?) / (2.0 * width))
    };
    free.iter().map(slope).collect()
}

/// Units as they nest: outer units with their inner units, inner units with their observations.
struct Nests {
    /// Place and inner units of every outer unit; empty for one grouping.
    outer: Vec<(usize, Vec<usize>)>,
    /// Observations of every inner unit.
    inner: Vec<Vec<usize>>,
}

impl Nests {
    fn of<L: Likelihood>(problem: &Problem<L>) -> Option<Self> {
        let pattern = &problem.pattern;
        if !(1..=2).contains(&pattern.groupings) {
            return None;
        }
        let mut inner = vec![Vec::new(); pattern.effects(0).len()];
        let mut holder = vec![None; inner.len()];
        for i in 0..problem.observations() {
            let places = pattern.places(i);
            inner[places[0]].push(i);
            if let Some(&outer) = places.get(1)
                && *holder[places[0]].get_or_insert(outer) != outer
            {
                return None;
            }
        }
        let mut outer = Vec::new();
        if pattern.groupings == 2 {
            outer.extend(pattern.effects(1).map(|place| (place, Vec::new())));
            let first = pattern.effects(1).start;
            for (unit, holder) in holder.iter().enumerate() {
                if let Some(holder) = holder {
                    outer[holder - first].1.push(unit);
                }
            }
        }
        Some(Self { outer, inner })
    }
}

fn log_likelihood<L: Likelihood>(
    problem: &mut Problem<L>,
    nests: &Nests,
    rule: &Rule,
    parameters: &[f64],
    laplace: &Maximum,
) -> Option<f64> {
    let extras = problem.extras_range();
    if !problem.likelihood.set_extras(&parameters[extras]) {
        return None;
    }
    let fixed = problem.fixed_predictor(parameters);
    let sd = &parameters[problem.sd_range()];
    let inner = |unit: usize, shift: f64| inner_integral(problem, &nests.inner[unit], &fixed, sd[0], shift, rule);
    let sum: f64 = if nests.outer.is_empty() {
        (0..nests.inner.len()).map(|unit| inner(unit, 0.0)).sum()
    } else {
        let of_outer = |(place, units): &(usize, Vec<usize>)| {
            let (centre, spread) = (laplace.mode.effects[*place], laplace.effect_variances[*place].sqrt());
            let within = |effect: f64| units.iter().map(|&unit| inner(unit, sd[1] * effect)).sum::<f64>();
            integral(rule, centre, spread, within)
        };
        nests.outer.iter().map(of_outer).sum()
    };
    sum.is_finite().then_some(sum)
}

/// `log` of the integral of `exp(log_value(u))` over a standard normal `u`, the rule moved to `centre` and stretched.
fn integral(rule: &Rule, centre: f64, spread: f64, log_value: impl Fn(f64) -> f64) -> f64 {
    let terms: Vec<f64> = rule
        .points
        .iter()
        .zip(&rule.log_weights)
        .map(|(point, log_weight)| {
            let effect = centre + spread * point;
            log_weight + log_value(effect) - 0.5 * effect * effect
        })
        .collect();
    let largest = terms.iter().fold(f64::NEG_INFINITY, |largest, &term| largest.max(term));
    largest + terms.iter().map(|term| (term - largest).exp()).sum::<f64>().ln() + spread.ln()
}

fn inner_integral<L: Likelihood>(
    problem: &Problem<L>,
    observations: &[usize],
    fixed: &[f64],
    sd: f64,
    shift: f64,
    rule: &Rule,
) -> f64 {
    let near = |effect: f64| {
        observations.iter().fold((0.0, -effect, 1.0), |(log, slope, weight), &i| {
            let near = problem.likelihood.near(i, fixed[i] + shift + sd * effect);
            (log + near.log, slope + sd * near.slope, weight + sd * sd * near.weight)
        })
    };
    let joint = |effect: f64| near(effect).0 - 0.5 * effect * effect;
    let mut centre = 0.0;
    for _ in 0..50 {
        let (_, slope, weight) = near(centre);
        let mut step = slope / weight;
        let here = joint(centre);
        while joint(centre + step) < here && step.abs() > 1e-9 {
            step *= 0.5;
        }
        centre += step;
        if step.abs() < 1e-9 {
            break;
        }
    }
    integral(rule, centre, near(centre).2.sqrt().recip(), |effect| near(effect).0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_integrates_polynomials_exactly() {
        let rule = Rule::with_points(9);
        let moment = |power: i32| {
            let term = |(x, w): (&f64, &f64)| (w - 0.5 * x * x).exp() * x.powi(power);
            rule.points.iter().zip(&rule.log_weights).map(term).sum::<f64>()
        };
        for (power, expected) in [(0, 1.0), (2, 1.0), (4, 3.0), (6, 15.0), (16, 2_027_025.0)] {
            assert!((moment(power) / expected - 1.0).abs() < 1e-12, "{power}");
        }
    }
}

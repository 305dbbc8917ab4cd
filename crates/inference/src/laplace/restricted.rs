//! Variances by a restricted likelihood: the means and slopes are integrated out as the units are.
//!
//! Maximum likelihood takes no account of the means having been estimated, and finds units too much alike where there are few of
//! them. Here the likelihood is integrated over all values of the fixed part `b` as well, each weighing the same, by one Laplace
//! approximation over `b` and the units' effects `u` together:
//!
//! ```text
//! R(sigma, phi) = sum_i l_i - u'u / 2 - log det(H) / 2 + p log(2 pi) / 2,   H = diag(0, I) + sum_i w_i g_i g_i',
//! ```
//!
//! taken at the `(b, u)` that makes `sum_i l_i - u'u / 2` largest; `g_i` holds the fixed part's row beside the `sigma_k`, and `p`
//! is the number of means and slopes. In the engine the fixed part is two more kinds of grouping without a prior of their own, so
//! that derivatives, search and the edge at zero are those of the ordinary likelihood. Further parameters stay parameters.
//! With `sigma` and `phi` found, the means are those that make the ordinary likelihood largest.
//!
//! Source: Patterson & Thompson (1971), Biometrika 58:545-554 for the idea; the form is that of R's glmmTMB with `REML = TRUE`,
//! against which it is tested.

use super::likelihood::Likelihood;
use super::pattern::Units;
use super::problem::Problem;
use super::search::{End, Failure, Maximum, finished, search};
use crate::Evidence;

/// Searches from `maximum`, that of the ordinary likelihood.
///
/// - `units`: the groupings of `problem` as given
///
/// Gives the maximum of the ordinary likelihood at the spreads of largest restricted likelihood, and `R` there. The covariance
/// of means, slopes and further parameters that are no spreads is that with spreads held; that of spreads is from `R`'s
/// curvature. Without any spread there is nothing to restrict: `maximum` is returned as it is.
pub(crate) fn restrict<L: Likelihood + Clone>(
    problem: &mut Problem<L>,
    units: &[Units],
    maximum: &Maximum,
) -> Result<(Maximum, f64), Failure> {
    let spreads: Vec<usize> = problem.spreads_range().collect();
    let mut flat = problem.with_flat_fixed_part(units);
    let places = Places::of(problem, &flat, units.len());
    flat.held = (flat.sd_range()).filter(|m| places.all.iter().all(|(_, other)| other != m)).collect();
    let (start, effects) = places.start(problem, &flat, maximum);
    let end = best_of_two_starts(&mut flat, start, &effects)?;
    let restricted_likelihood = end.mode.log_likelihood + 0.5 * problem.fixed() as f64 * std::f64::consts::TAU.ln();
    if spreads.is_empty() {
        return Ok((maximum.clone(), restricted_likelihood));
    }
    let restricted = finished(&mut flat, end)?;

    let mut parameters = maximum.mode.parameters.clone();
    for &(own, other) in &places.all {
        parameters[own] = restricted.mode.parameters[other];
    }
    problem.held.clone_from(&spreads);
    let found = search(problem, parameters, &maximum.mode.effects).and_then(|end| finished(problem, end));
    problem.held.clear();
    let mut found = found?;
    let of_spreads: Vec<_> = places.all.iter().filter(|(own, _)| spreads.contains(own)).collect();
    for &&(m, other) in &of_spreads {
        for &&(n, another) in &of_spreads {
            found.covariance[(m, n)] = restricted.covariance[(other, another)];
        }
    }
    found.evidence = Evidence {
        iterations: restricted.evidence.iterations + found.evidence.iterations,
        gradient: restricted.evidence.gradient.max(found.evidence.gradient),
        ..restricted.evidence
    };
    Ok((found, restricted_likelihood))
}

/// From the maximum of the ordinary likelihood, and where that ends at an edge also from far off it.
fn best_of_two_starts<L: Likelihood>(flat: &mut Problem<L>, start: Vec<f64>, effects: &[f64]) -> Result<End, Failure> {
    let mut far = start.clone();
    let first = search(flat, start, effects)?;
    if !flat.sd_range().any(|m| first.mode.parameters[m] == 0.0) {
        return Ok(first);
    }
    for m in flat.sd_range().filter(|m| !flat.held.contains(m)) {
        far[m] = 0.8;
    }
    match search(flat, far, effects) {
        Ok(second) if second.mode.log_likelihood > first.mode.log_likelihood + 1e-9 => Ok(second),
        _ => Ok(first),
    }
}

/// Where the parameters that both problems have stand in each: standard deviations and further parameters.
struct Places {
    all: Vec<(usize, usize)>,
    groupings: usize,
}

impl Places {
    fn of<L: Likelihood>(own: &Problem<L>, flat: &Problem<L>, groupings: usize) -> Self {
        let sd = (0..groupings).map(|index| {
            let place = |it: &Problem<L>| it.sd_range().start + it.pattern.position_of(index);
            (place(own), place(flat))
        });
        Self { all: sd.chain(own.extras_range().zip(flat.extras_range())).collect(), groupings }
    }

    /// Parameters and effects of the flat problem that are those of `maximum`.
    fn start<L: Likelihood>(&self, own: &Problem<L>, flat: &Problem<L>, maximum: &Maximum) -> (Vec<f64>, Vec<f64>) {
        let mode = &maximum.mode;
        let mut parameters = vec![1.0; flat.parameters()];
        self.all.iter().for_each(|&(own, other)| parameters[other] = mode.parameters[own]);
        let mut effects = vec![0.0; flat.pattern.size];
        let mut copy = |index: usize, values: &[f64]| {
            effects[flat.pattern.effects(flat.pattern.position_of(index))].copy_from_slice(values);
        };
        for index in 0..self.groupings {
            copy(index, &mode.effects[own.pattern.effects(own.pattern.position_of(index))]);
        }
        copy(self.groupings, &mode.parameters[..own.treatments]);
        for slope in 0..own.slopes {
            copy(self.groupings + 1 + slope, &mode.parameters[own.treatments + slope..][..1]);
        }
        (parameters, effects)
    }
}

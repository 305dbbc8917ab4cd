//! Gradient and curvature of Laplace's likelihood, exact.
//!
//! Notation: a dot with `m` is the derivative along parameter `m`, the mode's own movement included. `e_m` is the explicit
//! derivative of the linear predictor (a treatment's indicator, a covariate, a unit's effect for its standard deviation), and
//! `h_k` the explicit derivative of `g` by `sigma_k`. `udot_m' udot_n` runs over normal effects only. With
//! `v_i = g_i' H^-1 g_i`, `a_i = -l3 v_i`, `t = H^-1 sum_i a_i g_i`, `r_i = g_i' t`, and `l1..l4`, `l_phi`, ... the derivatives of
//! one observation's log-likelihood:
//!
//! ```text
//! H udot_m   = sum_i (l2 e_m + l1_phi) g_i + sum_i l1 h_m            etadot_m = e_m + g' udot_m
//! wdot_m     = -(l3 etadot_m + l2_phi)
//! L_m        = sum_i (l1 e_m + l_phi - wdot_m v / 2) - sum_i w h_m' H^-1 g
//! L_mn       = sum_i etadot_m etadot_n (l2 + l4 v / 2 - l3 r / 2) - udot_m' udot_n
//!            + sum_i (h_m' udot_n + h_n' udot_m) (l1 + l3 v / 2 - l2 r / 2)
//!            - sum_i (l1dot_m h_n' t + l1dot_n h_m' t) / 2
//!            - sum_i (wdot_m h_n' H^-1 g + wdot_n h_m' H^-1 g + w h_m' H^-1 h_n)
//!            - (sum_i wdot_m g' Zdot_n g) / 2 - sum_i w h_m' Zdot_n g
//!            + terms in phi, by the same rules
//! ```
//!
//! where `Zdot_n` is the derivative of `H^-1`, needed on the pattern only ([`Tangent`]).

use super::factor::Symmetric;
use super::likelihood::{Derivatives, ExtraDerivatives, Likelihood};
use super::mode::Mode;
use super::pattern::Pattern;
use super::problem::Problem;
use super::tangent::Tangent;
use crate::matrix::{Matrix, add_scaled};

/// The likelihood's first and second derivatives at a mode.
#[derive(Debug, Clone)]
pub(crate) struct Surface {
    pub gradient: Vec<f64>,
    pub hessian: Matrix,
    /// How the mode of every effect moves: one row per effect, one column per parameter.
    pub effect_slopes: Vec<f64>,
}

/// Derivatives at `mode`; the likelihood must hold the mode's own further parameters.
pub(crate) fn surface<L: Likelihood>(problem: &Problem<L>, mode: &Mode) -> Surface {
    let observed = (0..problem.observations()).map(|i| problem.likelihood.derivatives(i, mode.predictor[i]));
    let has_extras = problem.likelihood.extras() > 0;
    let by_extras = (0..if has_extras { problem.observations() } else { 0 })
        .map(|i| problem.likelihood.by_extras(i, mode.predictor[i]));
    let mut work = Work {
        problem,
        mode,
        width: problem.parameters(),
        loads: loads(problem, &mode.parameters[problem.sd_range()]),
        first_sd: problem.fixed(),
        first_extra: problem.extras_range().start,
        observed: observed.collect(),
        by_extras: by_extras.collect(),
        effect_slopes: Vec::new(),
        predictor_slopes: Vec::new(),
    };
    work.explicit_slopes();
    work.move_effects();
    work.move_predictors();
    let inverse = mode.factor.inverse(&problem.pattern);
    let of_inverse = work.precision_slopes().of_inverse(&problem.pattern, &mode.factor, &inverse);
    work.assemble(&inverse, &of_inverse)
}

/// `g`: what every observation's effects, in standard deviations, are multiplied by, one row per observation.
fn loads<L: Likelihood>(problem: &Problem<L>, sd: &[f64]) -> Vec<f64> {
    let of = |i: usize| problem.pattern.along(i).iter().zip(sd).map(|(along, sd)| along * sd);
    (0..problem.observations()).flat_map(of).collect()
}

struct Work<'a, L> {
    problem: &'a Problem<L>,
    mode: &'a Mode,
    width: usize,
    /// See [`loads`].
    loads: Vec<f64>,
    first_sd: usize,
    first_extra: usize,
    observed: Vec<Derivatives>,
    /// Empty when there are no further parameters.
    by_extras: Vec<ExtraDerivatives>,
    /// `udot`, one row per effect.
    effect_slopes: Vec<f64>,
    /// `e`, later `etadot`, one row per observation.
    predictor_slopes: Vec<f64>,
}

impl<L: Likelihood> Work<'_, L> {
    fn extras_of(&self, i: usize) -> ExtraDerivatives {
        self.by_extras.get(i).copied().unwrap_or_default()
    }

    fn loads(&self, i: usize) -> &[f64] {
        let groupings = self.problem.pattern.groupings;
        &self.loads[i * groupings..(i + 1) * groupings]
    }

    fn explicit_slopes(&mut self) {
        let problem = self.problem;
        self.predictor_slopes = vec![0.0; problem.observations() * self.width];
        for (i, row) in self.predictor_slopes.chunks_exact_mut(self.width).enumerate() {
            if let Some(&treatment) = problem.treatment.get(i) {
                row[treatment] = 1.0;
            }
            row[problem.treatments..self.first_sd].copy_from_slice(problem.covariates(i));
            let (places, along) = (problem.pattern.places(i), problem.pattern.along(i));
            for ((slope, &place), along) in row[self.first_sd..].iter_mut().zip(places).zip(along) {
                *slope = along * self.mode.effects[place];
            }
        }
    }

    fn move_effects(&mut self) {
        let pattern = &self.problem.pattern;
        let width = self.width;
        let mut right = vec![0.0; pattern.size * width];
        let mut change = vec![0.0; width];
        if pattern.size == 0 {
            return;
        }
        for (i, observed) in self.observed.iter().enumerate() {
            let explicit = &self.predictor_slopes[i * width..(i + 1) * width];
            for (change, explicit) in change.iter_mut().zip(explicit) {
                *change = observed.second * explicit;
            }
            for by in self.extras_of(i).once.iter().flatten() {
                change[self.first_extra + by.extra] += by.first;
            }
            for (k, &place) in pattern.places(i).iter().enumerate() {
                let row = &mut right[place * width..(place + 1) * width];
                add_scaled(row, self.loads(i)[k], &change);
                row[self.first_sd + k] += pattern.along(i)[k] * observed.first;
            }
        }
        self.mode.factor.solve_rows(pattern, &mut right, width);
        self.effect_slopes = right;
    }

    fn move_predictors(&mut self) {
        for (i, row) in self.predictor_slopes.chunks_exact_mut(self.width).enumerate() {
            let groupings = self.problem.pattern.groupings;
            let loads = &self.loads[i * groupings..(i + 1) * groupings];
            for (&place, &load) in self.problem.pattern.places(i).iter().zip(loads) {
                add_scaled(row, load, &self.effect_slopes[place * self.width..(place + 1) * self.width]);
            }
        }
    }

    fn predictor_slopes(&self, i: usize) -> &[f64] {
        &self.predictor_slopes[i * self.width..(i + 1) * self.width]
    }

    fn effect_slopes(&self, place: usize) -> &[f64] {
        &self.effect_slopes[place * self.width..(place + 1) * self.width]
    }

    /// `wdot` of one observation.
    fn weight_slopes(&self, i: usize, into: &mut [f64]) {
        let third = self.observed[i].third;
        for (slope, predictor) in into.iter_mut().zip(self.predictor_slopes(i)) {
            *slope = -third * predictor;
        }
        for by in self.extras_of(i).once.iter().flatten() {
            into[self.first_extra + by.extra] -= by.second;
        }
    }

    /// Derivatives of `H` in every direction.
    fn precision_slopes(&self) -> Tangent {
        let pattern = &self.problem.pattern;
        let mut slopes = Tangent::zeros(pattern, self.width);
        let mut of_weight = vec![0.0; self.width];
        for i in 0..self.problem.observations() {
            self.weight_slopes(i, &mut of_weight);
            let weight = self.mode.weight[i];
            let mut meetings = pattern.meetings(i).iter();
            let (loads, along) = (self.loads(i), pattern.along(i));
            for (b, &place) in pattern.places(i).iter().enumerate() {
                let row = slopes.diagonal_mut(place);
                add_scaled(row, loads[b] * loads[b], &of_weight);
                row[self.first_sd + b] += 2.0 * weight * along[b] * loads[b];
                for (a, &entry) in (0..b).zip(meetings.by_ref()) {
                    let row = slopes.below_mut(entry);
                    add_scaled(row, loads[a] * loads[b], &of_weight);
                    row[self.first_sd + a] += weight * along[a] * loads[b];
                    row[self.first_sd + b] += weight * along[b] * loads[a];
                }
            }
        }
        slopes
    }

    fn assemble(self, inverse: &Symmetric, of_inverse: &Tangent) -> Surface {
        let (problem, pattern, width) = (self.problem, &self.problem.pattern, self.width);
        let seen: Vec<Seen> =
            (0..problem.observations()).map(|i| Seen::of(pattern, inverse, self.loads(i), i)).collect();
        let mut through = vec![0.0; pattern.size];
        for (i, seen) in seen.iter().enumerate() {
            let pull = -self.observed[i].third * seen.variance;
            pattern.places(i).iter().zip(self.loads(i)).for_each(|(&place, load)| through[place] += load * pull);
        }
        self.mode.factor.solve(pattern, &mut through);

        let mut sums = Sums {
            gradient: vec![0.0; width],
            product: Matrix::zeros(width, width),
            cross: Matrix::zeros(width, width),
        };
        let mut rows = Rows::new(pattern.groupings, width);
        for (i, seen) in seen.iter().enumerate() {
            rows.fill(&self, of_inverse, i);
            self.add_observation(&mut sums, &rows, inverse, seen, &through, i);
        }
        for (place, slopes) in self.effect_slopes.chunks_exact(width).enumerate() {
            let precision = pattern.precision(place);
            for (m, &slope) in slopes.iter().enumerate() {
                add_scaled(&mut sums.product.row_mut(m)[..=m], -precision * slope, slopes);
            }
        }
        let mut hessian = sums.product;
        for m in 0..width {
            for n in 0..=m {
                let value = hessian[(m, n)] + sums.cross[(m, n)] + sums.cross[(n, m)];
                (hessian[(m, n)], hessian[(n, m)]) = (value, value);
            }
        }
        Surface { gradient: sums.gradient, hessian, effect_slopes: self.effect_slopes }
    }

    fn add_observation(
        &self,
        sums: &mut Sums,
        rows: &Rows,
        inverse: &Symmetric,
        seen: &Seen,
        through: &[f64],
        i: usize,
    ) {
        let (observed, weight, width) = (self.observed[i], self.mode.weight[i], self.width);
        let (slopes, places) = (self.predictor_slopes(i), self.problem.pattern.places(i));
        let half = 0.5 * seen.variance;
        let pulled: f64 =
            0.5 * places.iter().zip(self.loads(i)).map(|(&place, load)| load * through[place]).sum::<f64>();

        // terms in etadot_m: one row of products for each
        let own = observed.second + observed.fourth * half - observed.third * pulled;
        for m in 0..width {
            let slope = slopes[m];
            let row = &mut sums.product.row_mut(m)[..=m];
            for ((value, other), of_variance) in row.iter_mut().zip(slopes).zip(&rows.of_variance) {
                *value += slope * (own * other + 0.5 * observed.third * of_variance);
            }
            sums.gradient[m] -= rows.of_weight[m] * half;
        }
        if let Some(&treatment) = self.problem.treatment.get(i) {
            sums.gradient[treatment] += observed.first;
        }
        let covariates = self.problem.covariates(i);
        add_scaled(&mut sums.gradient[self.problem.treatments..self.first_sd], observed.first, covariates);

        // terms in h_k
        let by_effect = observed.first + observed.third * half - observed.second * pulled;
        let along = self.problem.pattern.along(i);
        for (k, &place) in places.iter().enumerate() {
            let m = self.first_sd + k;
            let row = sums.cross.row_mut(m);
            let (met, pull) = (along[k] * seen.covariance[k], -0.5 * along[k] * through[place]);
            let by_effect = along[k] * by_effect;
            for (n, value) in row.iter_mut().enumerate() {
                *value += by_effect * self.effect_slopes(place)[n] + pull * rows.of_slope[n] - met * rows.of_weight[n];
            }
            for (value, of_covariance) in sums.product.row_mut(m)[..=m].iter_mut().zip(&rows.of_covariance[k]) {
                *value -= weight * along[k] * of_covariance;
            }
            for (l, &other) in places[..=k].iter().enumerate() {
                let variance = if l == k { inverse.diagonal[place] } else { self.entry(inverse, i, l, k) };
                sums.product[(m, self.first_sd + l)] -= weight * along[k] * along[l] * variance;
                debug_assert!(other <= place);
            }
            sums.gradient[m] += observed.first * along[k] * self.mode.effects[place] - weight * met;
        }
        self.add_extras(sums, rows, half, pulled, i);
    }

    fn add_extras(&self, sums: &mut Sums, rows: &Rows, half: f64, pulled: f64, i: usize) {
        let extras = self.extras_of(i);
        for by in extras.once.iter().flatten() {
            let m = self.first_extra + by.extra;
            sums.gradient[m] += by.log;
            let factor = by.first + half * by.third - pulled * by.second;
            add_scaled(sums.cross.row_mut(m), factor, self.predictor_slopes(i));
            add_scaled(&mut sums.product.row_mut(m)[..=m], 0.5 * by.second, &rows.of_variance);
        }
        for by in extras.twice.iter().flatten() {
            let at = (self.first_extra + by.a, self.first_extra + by.b);
            sums.product[at] += by.log + half * by.second - pulled * by.first;
        }
    }

    fn entry(&self, matrix: &Symmetric, i: usize, a: usize, b: usize) -> f64 {
        matrix.below[self.problem.pattern.meetings(i)[Pattern::meeting_of(a, b)]]
    }
}

/// What `H^-1` says of one observation: the variance of its predictor, and its covariance with each of its effects.
struct Seen {
    variance: f64,
    covariance: Vec<f64>,
}

impl Seen {
    fn of(pattern: &Pattern, inverse: &Symmetric, loads: &[f64], i: usize) -> Self {
        let mut covariance: Vec<f64> =
            pattern.places(i).iter().zip(loads).map(|(&place, load)| load * inverse.diagonal[place]).collect();
        let mut meetings = pattern.meetings(i).iter();
        for b in 0..pattern.groupings {
            for (a, &entry) in (0..b).zip(meetings.by_ref()) {
                covariance[a] += loads[b] * inverse.below[entry];
                covariance[b] += loads[a] * inverse.below[entry];
            }
        }
        let variance = covariance.iter().zip(loads).map(|(covariance, load)| covariance * load).sum();
        Self { variance, covariance }
    }
}

struct Sums {
    gradient: Vec<f64>,
    /// Lower triangle.
    product: Matrix,
    /// To be added together with its transpose.
    cross: Matrix,
}

/// Derivatives, one per direction, of one observation's weight, score, and of what [`Seen`] holds.
struct Rows {
    of_weight: Vec<f64>,
    of_slope: Vec<f64>,
    of_variance: Vec<f64>,
    of_covariance: Vec<Vec<f64>>,
}

impl Rows {
    fn new(groupings: usize, width: usize) -> Self {
        let row = vec![0.0; width];
        Self {
            of_weight: row.clone(),
            of_slope: row.clone(),
            of_variance: row.clone(),
            of_covariance: vec![row; groupings],
        }
    }

    fn fill<L: Likelihood>(&mut self, work: &Work<L>, of_inverse: &Tangent, i: usize) {
        work.weight_slopes(i, &mut self.of_weight);
        let second = work.observed[i].second;
        for (slope, predictor) in self.of_slope.iter_mut().zip(work.predictor_slopes(i)) {
            *slope = second * predictor;
        }
        for by in work.extras_of(i).once.iter().flatten() {
            self.of_slope[work.first_extra + by.extra] += by.first;
        }
        let pattern = &work.problem.pattern;
        let mut meetings = pattern.meetings(i).iter();
        let loads = work.loads(i);
        self.of_variance.fill(0.0);
        for (b, &place) in pattern.places(i).iter().enumerate() {
            self.of_covariance[b].fill(0.0);
            add_scaled(&mut self.of_covariance[b], loads[b], of_inverse.diagonal(place));
            for (a, &entry) in (0..b).zip(meetings.by_ref()) {
                add_scaled(&mut self.of_covariance[a], loads[b], of_inverse.below(entry));
                add_scaled(&mut self.of_covariance[b], loads[a], of_inverse.below(entry));
            }
        }
        for (of_covariance, load) in self.of_covariance.iter().zip(loads) {
            add_scaled(&mut self.of_variance, *load, of_covariance);
        }
    }
}

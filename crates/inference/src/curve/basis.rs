//! Every form as a weighted sum of columns, once its few nonlinear coordinates are fixed.
//!
//! Only the coordinates have to be searched; the weights then follow by linear least squares (Golub & Pereyra 1973, SIAM J.
//! Numer. Anal. 10:413-432). Amounts run from 0 to 1 over the tested range here, and the columns are scaled so that each
//! tends to the straight line where its form does, instead of to a division of nothing by nothing.

use super::form::{Form, bell, sigmoid};

/// The tested range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Range {
    pub lowest: f64,
    pub width: f64,
}

impl Range {
    pub fn of(amounts: &[f64]) -> Self {
        let lowest = amounts.iter().copied().fold(f64::INFINITY, f64::min);
        let highest = amounts.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Self { lowest, width: highest - lowest }
    }

    pub fn highest(&self) -> f64 {
        self.lowest + self.width
    }

    pub fn scaled(&self, amount: f64) -> f64 {
        (amount - self.lowest) / self.width
    }
}

/// Joins further out than this many tested ranges are taken for "no join".
const FARTHEST_JOIN: f64 = 20.0;
/// Below this rate (per tested range) an exponential departs from a straight line by less than 0.2 % of its rise.
const SLOWEST: f64 = 0.01;
/// What an exponential may at least leave of its rise at the second amount.
const LEFT_AT_SECOND: f64 = 1e-6;
/// Midpoints of a logistic are sought up to half a tested range outside.
const OUTSIDE: f64 = 0.5;

/// Where a coordinate is sought.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Domain {
    /// Ascending; between two neighbours the sum of squares is smooth in the coordinate.
    pub breaks: Vec<f64>,
    /// Into how many steps each of those stretches is divided at the least.
    pub steps: usize,
    /// What it means that the best lies at the start, and at the end.
    pub ends: [End; 2],
}

/// What lies beyond an end of a domain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    /// The curve tends to one that has no bend within the tested amounts.
    NoBend,
    /// The bend lies before the second amount, where nothing tells its place.
    BeforeSecond,
    /// The bend lies beyond the last but one amount.
    AfterLastButOne,
    /// All happens between two neighbouring amounts.
    Step,
}

impl Form {
    /// Number of nonlinear coordinates: the join; the reciprocal of the join of a parabola; the logarithm of a rate; the
    /// logarithm of a scale and a midpoint.
    pub(super) fn coordinates(self) -> usize {
        match self {
            Self::Flat | Self::Linear | Self::Quadratic | Self::BrokenLineAt { .. } => 0,
            Self::LinearPlateau | Self::QuadraticPlateau | Self::Exponential | Self::BrokenLine => 1,
            Self::Logistic | Self::LogisticFromZero => 2,
        }
    }

    /// Whether the first column is the level, which every other column leaves free.
    pub(super) fn has_level(self) -> bool {
        self != Self::LogisticFromZero
    }

    /// The columns at scaled amounts `u`, for coordinates `at`.
    pub(super) fn columns(self, u: &[f64], at: &[f64], range: &Range) -> Vec<Vec<f64>> {
        let ones = || vec![1.0; u.len()];
        let each = |of: &dyn Fn(f64) -> f64| u.iter().map(|&u| of(u)).collect::<Vec<f64>>();
        match self {
            Self::Flat => vec![ones()],
            Self::Linear => vec![ones(), u.to_vec()],
            Self::Quadratic => vec![ones(), u.to_vec(), each(&|u| u * u)],
            Self::LinearPlateau => vec![ones(), each(&|u| u.min(at[0]) - at[0])],
            Self::QuadraticPlateau => vec![ones(), each(&|u| up_to_vertex(u, at[0]))],
            Self::Exponential => {
                let rate = at[0].exp();
                vec![ones(), each(&|u| (-rate * u).exp_m1() / (-rate).exp_m1())]
            }
            Self::Logistic => vec![ones(), each(&|u| sigmoid((u - at[1]) / at[0].exp()))],
            Self::LogisticFromZero => vec![each(&|u| sigmoid((u - at[1]) / at[0].exp()))],
            Self::BrokenLine => vec![ones(), each(&|u| (u - at[0]).min(0.0)), each(&|u| (u - at[0]).max(0.0))],
            Self::BrokenLineAt { join } => {
                let join = range.scaled(join);
                vec![ones(), each(&|u| (u - join).min(0.0)), each(&|u| (u - join).max(0.0))]
            }
        }
    }

    /// Derivative of the weighted sum of columns in each coordinate.
    pub(super) fn moves(self, u: &[f64], at: &[f64], weights: &[f64]) -> Vec<Vec<f64>> {
        let each = |of: &dyn Fn(f64) -> f64| u.iter().map(|&u| of(u)).collect::<Vec<f64>>();
        let logistic = |weight: f64| {
            let scale = at[0].exp();
            let place = move |u: f64| (u - at[1]) / scale;
            vec![each(&|u| -weight * bell(place(u)) * place(u)), each(&|u| -weight * bell(place(u)) / scale)]
        };
        match self {
            Self::Flat | Self::Linear | Self::Quadratic | Self::BrokenLineAt { .. } => Vec::new(),
            Self::LinearPlateau => vec![each(&|u| if u < at[0] { -weights[1] } else { 0.0 })],
            Self::QuadraticPlateau => vec![each(&|u| weights[1] * up_to_vertex_moved(u, at[0]))],
            Self::Exponential => vec![each(&|u| weights[1] * exponential_moved(u, at[0].exp()))],
            Self::BrokenLine => vec![each(&|u| if u < at[0] { -weights[1] } else { -weights[2] })],
            Self::Logistic => logistic(weights[1]),
            Self::LogisticFromZero => logistic(weights[0]),
        }
    }

    /// The parameters that a person reads, from coordinates and weights.
    pub(super) fn parameters_from(self, range: &Range, at: &[f64], weights: &[f64]) -> Vec<f64> {
        let (lowest, width) = (range.lowest, range.width);
        let place = |u: f64| lowest + width * u;
        match self {
            Self::Flat => weights.to_vec(),
            Self::Linear => vec![weights[0] - weights[1] * lowest / width, weights[1] / width],
            Self::Quadratic => {
                let (linear, quadratic) = (weights[1] / width, weights[2] / (width * width));
                let intercept = weights[0] - lowest * (linear - lowest * quadratic);
                vec![intercept, linear - 2.0 * lowest * quadratic, quadratic]
            }
            Self::LinearPlateau => {
                let (slope, join) = (weights[1] / width, place(at[0]));
                vec![weights[0] - slope * join, slope, join]
            }
            Self::QuadraticPlateau => {
                let plateau = weights[0] + weights[1] / (2.0 * at[0]);
                vec![plateau, -0.5 * weights[1] * at[0] / (width * width), place(1.0 / at[0])]
            }
            Self::Exponential => {
                let rate = at[0].exp();
                vec![weights[0] - weights[1] / (-rate).exp_m1(), weights[0], rate / width]
            }
            Self::Logistic => vec![weights[0], weights[0] + weights[1], place(at[1]), width * at[0].exp()],
            Self::LogisticFromZero => vec![weights[0], place(at[1]), width * at[0].exp()],
            Self::BrokenLine => vec![weights[0], weights[1] / width, weights[2] / width, place(at[0])],
            Self::BrokenLineAt { .. } => vec![weights[0], weights[1] / width, weights[2] / width],
        }
    }

    /// Where the coordinates are sought.
    ///
    /// - `u`: the different scaled amounts, ascending, as many as the form needs
    pub(super) fn domains(self, u: &[f64]) -> Vec<Domain> {
        let steps = (120 / u.len()).clamp(4, 12);
        // forms without coordinates may stand on one amount, and do not ask
        let (second, last_but_one) = (|| u[1], || u[u.len() - 2]);
        match self {
            Self::Flat | Self::Linear | Self::Quadratic | Self::BrokenLineAt { .. } => Vec::new(),
            Self::LinearPlateau => {
                vec![Domain { breaks: u[1..].to_vec(), steps, ends: [End::BeforeSecond, End::NoBend] }]
            }
            Self::QuadraticPlateau => {
                let mut breaks = vec![1.0 / FARTHEST_JOIN];
                breaks.extend(u[1..].iter().rev().map(|u| 1.0 / u));
                vec![Domain { breaks, steps, ends: [End::NoBend, End::BeforeSecond] }]
            }
            Self::Exponential => {
                let breaks = vec![SLOWEST.ln(), (-LEFT_AT_SECOND.ln() / second()).ln()];
                vec![Domain { breaks, steps: 48, ends: [End::NoBend, End::BeforeSecond] }]
            }
            Self::BrokenLine => {
                let breaks = u[1..].iter().copied().filter(|&u| u <= last_but_one()).collect();
                vec![Domain { breaks, steps, ends: [End::BeforeSecond, End::AfterLastButOne] }]
            }
            Self::Logistic | Self::LogisticFromZero => {
                let closest = u.windows(2).map(|pair| pair[1] - pair[0]).fold(f64::INFINITY, f64::min);
                let scales = vec![(closest / 12.0).ln(), 1.5_f64.ln()];
                vec![
                    Domain { breaks: scales, steps: 24, ends: [End::Step, End::NoBend] },
                    Domain { breaks: vec![-OUTSIDE, 1.0 + OUTSIDE], steps: 40, ends: [End::NoBend, End::NoBend] },
                ]
            }
        }
    }
}

/// `u - k u^2 / 2` up to the vertex at `1 / k`, level beyond it: slope one at the start, a straight line as `k` vanishes.
fn up_to_vertex(u: f64, k: f64) -> f64 {
    if u * k < 1.0 { u - 0.5 * k * u * u } else { 0.5 / k }
}

/// Derivative of [`up_to_vertex`] in `k`.
fn up_to_vertex_moved(u: f64, k: f64) -> f64 {
    if u * k < 1.0 { -0.5 * u * u } else { -0.5 / (k * k) }
}

/// Derivative of `(1 - exp(-k u)) / (1 - exp(-k))` in the logarithm of `k`.
fn exponential_moved(u: f64, k: f64) -> f64 {
    let (above, below) = ((-k * u).exp_m1(), (-k).exp_m1());
    let (above_moved, below_moved) = (-u * (-k * u).exp(), -(-k).exp());
    k * (above_moved * below - above * below_moved) / (below * below)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn examples() -> Vec<(Form, Vec<f64>, Vec<f64>)> {
        vec![
            (Form::Flat, vec![], vec![3.0]),
            (Form::Linear, vec![], vec![3.0, 2.0]),
            (Form::Quadratic, vec![], vec![3.0, 2.0, -1.5]),
            (Form::LinearPlateau, vec![0.63], vec![3.0, 2.0]),
            (Form::QuadraticPlateau, vec![1.0 / 0.63], vec![3.0, 2.0]),
            (Form::QuadraticPlateau, vec![0.4], vec![3.0, 2.0]),
            (Form::Exponential, vec![0.9], vec![3.0, 2.0]),
            (Form::Logistic, vec![-1.5, 0.4], vec![3.0, 2.0]),
            (Form::LogisticFromZero, vec![-1.5, 0.4], vec![3.0]),
            (Form::BrokenLine, vec![0.63], vec![3.0, 2.0, -0.5]),
            (Form::BrokenLineAt { join: 80.0 }, vec![], vec![3.0, 2.0, -0.5]),
        ]
    }

    fn sum(form: Form, u: f64, at: &[f64], weights: &[f64], range: &Range) -> f64 {
        form.columns(&[u], at, range).iter().zip(weights).map(|(column, weight)| column[0] * weight).sum()
    }

    #[test]
    fn columns_and_parameters_describe_one_curve() {
        let range = Range { lowest: 20.0, width: 150.0 };
        for (form, at, weights) in examples() {
            let theta = form.parameters_from(&range, &at, &weights);
            assert_eq!(theta.len(), form.parameters().len());
            for u in [0.0, 0.1, 0.5, 0.7, 1.0] {
                let by_columns = sum(form, u, &at, &weights, &range);
                let by_parameters = form.value(&theta, range.lowest, range.lowest + range.width * u);
                assert!((by_columns - by_parameters).abs() < 1e-12, "{}: {by_columns} {by_parameters}", form.name());
            }
        }
    }

    #[test]
    fn moves_are_derivatives_in_the_coordinates() {
        let range = Range { lowest: 20.0, width: 150.0 };
        for (form, at, weights) in examples() {
            for u in [0.0, 0.1, 0.5, 0.7, 1.0] {
                let moves = form.moves(&[u], &at, &weights);
                assert_eq!(moves.len(), form.coordinates());
                for (index, analytic) in moves.iter().map(|column| column[0]).enumerate() {
                    let step = 1e-6;
                    let moved = |by: f64| {
                        let mut at = at.clone();
                        at[index] += by;
                        sum(form, u, &at, &weights, &range)
                    };
                    let difference = (moved(step) - moved(-step)) / (2.0 * step);
                    assert!((analytic - difference).abs() < 1e-8, "{}: {analytic} {difference}", form.name());
                }
            }
        }
    }
}

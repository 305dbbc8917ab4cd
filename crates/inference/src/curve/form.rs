//! The forms of a response to an amount: value, slope and derivatives in the parameters that a person reads.

use serde::{Deserialize, Serialize};

/// How a response may run over the amounts of a factor.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// No response: one level.
    Flat,
    /// `intercept + slope x`.
    Linear,
    /// `intercept + linear x + quadratic x^2`.
    Quadratic,
    /// A straight line up to a join, level beyond it.
    LinearPlateau,
    /// A parabola up to its vertex (the join), level beyond it.
    QuadraticPlateau,
    /// Mitscherlich's law: `asymptote + (start - asymptote) exp(-rate (x - lowest amount))`.
    Exponential,
    /// A smooth step from one level to another: `low + (high - low) / (1 + exp(-(x - midpoint) / scale))`, with `low` and
    /// `high` the levels at low and at high amounts.
    Logistic,
    /// The same, rising from zero.
    LogisticFromZero,
    /// Two straight lines that meet at a join that is estimated.
    BrokenLine,
    /// Two straight lines that meet at a join that is given.
    BrokenLineAt {
        /// Where they meet.
        join: f64,
    },
}

impl Form {
    /// Every form without a choice of its own.
    pub const ALL: [Self; 9] = [
        Self::Flat,
        Self::Linear,
        Self::Quadratic,
        Self::LinearPlateau,
        Self::QuadraticPlateau,
        Self::Exponential,
        Self::Logistic,
        Self::LogisticFromZero,
        Self::BrokenLine,
    ];

    /// The form's name in a sentence.
    pub fn name(self) -> &'static str {
        match self {
            Self::Flat => "no response",
            Self::Linear => "linear",
            Self::Quadratic => "quadratic",
            Self::LinearPlateau => "linear-plateau",
            Self::QuadraticPlateau => "quadratic-plateau",
            Self::Exponential => "exponential (Mitscherlich)",
            Self::Logistic => "logistic",
            Self::LogisticFromZero => "logistic from zero",
            Self::BrokenLine => "broken line",
            Self::BrokenLineAt { .. } => "broken line at a given join",
        }
    }

    /// Names of the parameters, in the order of their estimates.
    pub fn parameters(self) -> &'static [&'static str] {
        match self {
            Self::Flat => &["level"],
            Self::Linear => &["intercept", "slope"],
            Self::Quadratic => &["intercept", "linear", "quadratic"],
            Self::LinearPlateau => &["intercept", "slope", "join"],
            Self::QuadraticPlateau => &["plateau", "curvature", "join"],
            Self::Exponential => &["asymptote", "value at the lowest amount", "rate"],
            Self::Logistic => &["level at low amounts", "level at high amounts", "midpoint", "scale"],
            Self::LogisticFromZero => &["level at high amounts", "midpoint", "scale"],
            Self::BrokenLine => &["value at the join", "slope below", "slope above", "join"],
            Self::BrokenLineAt { .. } => &["value at the join", "slope below", "slope above"],
        }
    }

    /// How many of the parameters, counted from the first, are multiplied when the response is.
    pub(super) fn in_units_of_the_response(self) -> usize {
        match self {
            Self::Flat | Self::LogisticFromZero => 1,
            Self::Linear | Self::LinearPlateau | Self::QuadraticPlateau | Self::Exponential | Self::Logistic => 2,
            Self::Quadratic | Self::BrokenLine | Self::BrokenLineAt { .. } => 3,
        }
    }

    /// A sum of parameters that tells of the curve's shape and not of its level.
    pub(super) fn shape_contrast(self) -> Vec<f64> {
        match self {
            Self::Flat => vec![1.0],
            Self::Linear => vec![0.0, 1.0],
            Self::Quadratic | Self::LinearPlateau | Self::QuadraticPlateau | Self::BrokenLineAt { .. } => {
                vec![0.0, 1.0, 0.0]
            }
            Self::Exponential => vec![1.0, -1.0, 0.0],
            Self::Logistic => vec![-1.0, 1.0, 0.0, 0.0],
            Self::LogisticFromZero => vec![1.0, 0.0, 0.0],
            Self::BrokenLine => vec![0.0, 1.0, 0.0, 0.0],
        }
    }

    /// Which parameters rise by one with the whole curve.
    pub(super) fn levels(self) -> std::ops::Range<usize> {
        match self {
            Self::Exponential | Self::Logistic => 0..2,
            Self::LogisticFromZero => 0..0,
            _ => 0..1,
        }
    }

    /// The parameter that tells where the curve bends, for a join or a rate.
    pub(super) fn bend(self) -> Option<usize> {
        match self {
            Self::LinearPlateau | Self::QuadraticPlateau | Self::Exponential => Some(2),
            Self::BrokenLine => Some(3),
            _ => None,
        }
    }

    /// Whether it has a bend whose place is estimated: a join, a rate, a midpoint with its scale.
    pub fn is_bent(self) -> bool {
        self.coordinates() > 0
    }

    /// Whether the curve is bent at a join, where its derivative in the join jumps.
    pub(super) fn has_kink(self) -> bool {
        matches!(self, Self::LinearPlateau | Self::BrokenLine)
    }

    /// Different amounts that are needed: as many as parameters, one more where the curve is not linear in them.
    pub(super) fn amounts_needed(self) -> usize {
        self.parameters().len() + usize::from(self.coordinates() > 0)
    }

    /// The curve at amount `x`.
    ///
    /// - `theta`: its parameters, in the order of [`Self::parameters`]
    /// - `lowest`: the lowest amount, where the exponential's first value stands
    pub fn value(self, theta: &[f64], lowest: f64, x: f64) -> f64 {
        match self {
            Self::Flat => theta[0],
            Self::Linear => theta[0] + theta[1] * x,
            Self::Quadratic => theta[0] + x * (theta[1] + x * theta[2]),
            Self::LinearPlateau => theta[0] + theta[1] * x.min(theta[2]),
            Self::QuadraticPlateau => theta[0] + theta[1] * (theta[2] - x).max(0.0).powi(2),
            Self::Exponential => theta[0] + (theta[1] - theta[0]) * (-theta[2] * (x - lowest)).exp(),
            Self::Logistic => theta[0] + (theta[1] - theta[0]) * sigmoid((x - theta[2]) / theta[3]),
            Self::LogisticFromZero => theta[0] * sigmoid((x - theta[1]) / theta[2]),
            Self::BrokenLine => broken(theta, theta[3], x),
            Self::BrokenLineAt { join } => broken(theta, join, x),
        }
    }

    /// Derivative of the curve in the amount; at a join the one from below.
    pub fn slope(self, theta: &[f64], lowest: f64, x: f64) -> f64 {
        match self {
            Self::Flat => 0.0,
            Self::Linear => theta[1],
            Self::Quadratic => theta[1] + 2.0 * x * theta[2],
            Self::LinearPlateau => below(x, theta[2]) * theta[1],
            Self::QuadraticPlateau => -2.0 * theta[1] * (theta[2] - x).max(0.0),
            Self::Exponential => -theta[2] * (theta[1] - theta[0]) * (-theta[2] * (x - lowest)).exp(),
            Self::Logistic => (theta[1] - theta[0]) * bell((x - theta[2]) / theta[3]) / theta[3],
            Self::LogisticFromZero => theta[0] * bell((x - theta[1]) / theta[2]) / theta[2],
            Self::BrokenLine => {
                if x <= theta[3] {
                    theta[1]
                } else {
                    theta[2]
                }
            }
            Self::BrokenLineAt { join } => {
                if x <= join {
                    theta[1]
                } else {
                    theta[2]
                }
            }
        }
    }

    /// Derivatives of the curve in its parameters; at a join those from below.
    pub(super) fn gradient(self, theta: &[f64], lowest: f64, x: f64) -> Vec<f64> {
        match self {
            Self::Flat => vec![1.0],
            Self::Linear => vec![1.0, x],
            Self::Quadratic => vec![1.0, x, x * x],
            Self::LinearPlateau => vec![1.0, x.min(theta[2]), (1.0 - below(x, theta[2])) * theta[1]],
            Self::QuadraticPlateau => {
                let short = (theta[2] - x).max(0.0);
                vec![1.0, short * short, 2.0 * theta[1] * short]
            }
            Self::Exponential => {
                let left = (-theta[2] * (x - lowest)).exp();
                vec![1.0 - left, left, -(theta[1] - theta[0]) * (x - lowest) * left]
            }
            Self::Logistic => {
                let at = (x - theta[2]) / theta[3];
                let (share, turn) = (sigmoid(at), (theta[1] - theta[0]) * bell(at) / theta[3]);
                vec![1.0 - share, share, -turn, -turn * at]
            }
            Self::LogisticFromZero => {
                let at = (x - theta[1]) / theta[2];
                let turn = theta[0] * bell(at) / theta[2];
                vec![sigmoid(at), -turn, -turn * at]
            }
            Self::BrokenLine => {
                let moved = -if x <= theta[3] { theta[1] } else { theta[2] };
                vec![1.0, (x - theta[3]).min(0.0), (x - theta[3]).max(0.0), moved]
            }
            Self::BrokenLineAt { join } => vec![1.0, (x - join).min(0.0), (x - join).max(0.0)],
        }
    }
}

fn broken(theta: &[f64], join: f64, x: f64) -> f64 {
    theta[0] + theta[1] * (x - join).min(0.0) + theta[2] * (x - join).max(0.0)
}

/// One up to and at the join, zero beyond.
fn below(x: f64, join: f64) -> f64 {
    f64::from(u8::from(x <= join))
}

/// `1 / (1 + exp(-z))`, without overflow.
pub(super) fn sigmoid(z: f64) -> f64 {
    if z >= 0.0 { 1.0 / (1.0 + (-z).exp()) } else { z.exp() / (1.0 + z.exp()) }
}

/// Derivative of [`sigmoid`].
pub(super) fn bell(z: f64) -> f64 {
    sigmoid(z) * sigmoid(-z)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Examples whose amounts lie away from joins.
    fn examples() -> Vec<(Form, Vec<f64>)> {
        vec![
            (Form::Flat, vec![4.0]),
            (Form::Linear, vec![4.0, 0.1]),
            (Form::Quadratic, vec![4.0, 0.1, -0.001]),
            (Form::LinearPlateau, vec![4.0, 0.1, 53.0]),
            (Form::QuadraticPlateau, vec![8.0, -0.002, 53.0]),
            (Form::Exponential, vec![9.0, 4.0, 0.03]),
            (Form::Logistic, vec![2.0, 9.0, 41.0, 11.0]),
            (Form::LogisticFromZero, vec![9.0, 41.0, 11.0]),
            (Form::BrokenLine, vec![7.0, 0.1, -0.02, 53.0]),
            (Form::BrokenLineAt { join: 47.0 }, vec![7.0, 0.1, -0.02]),
        ]
    }

    fn check_near(analytic: f64, forward: f64, backward: f64, step: f64, what: &str) {
        let difference = (forward - backward) / (2.0 * step);
        assert!((analytic - difference).abs() < 1e-7 * (1.0 + analytic.abs()), "{what}: {analytic} {difference}");
    }

    #[test]
    fn derivatives_are_those_of_the_curve() {
        for (form, theta) in examples() {
            for x in [3.0, 20.0, 52.0, 60.0, 95.0] {
                let step = 1e-5;
                let (up, down) = (form.value(&theta, 2.0, x + step), form.value(&theta, 2.0, x - step));
                check_near(form.slope(&theta, 2.0, x), up, down, step, form.name());
                for (index, analytic) in form.gradient(&theta, 2.0, x).into_iter().enumerate() {
                    let step = 1e-6 * theta[index].abs();
                    let moved = |by: f64| {
                        let mut theta = theta.clone();
                        theta[index] += by;
                        form.value(&theta, 2.0, x)
                    };
                    check_near(analytic, moved(step), moved(-step), step, form.parameters()[index]);
                }
            }
        }
    }

    #[test]
    fn raising_the_levels_raises_the_curve() {
        for (form, theta) in examples().into_iter().filter(|(form, _)| *form != Form::LogisticFromZero) {
            let mut raised = theta.clone();
            form.levels().for_each(|it| raised[it] += 1.5);
            for x in [3.0, 52.0, 95.0] {
                let (low, high) = (form.value(&theta, 2.0, x), form.value(&raised, 2.0, x));
                assert!((high - low - 1.5).abs() < 1e-12, "{}", form.name());
            }
        }
    }

    #[test]
    fn multiplying_the_response_multiplies_the_first_parameters_alone() {
        for (form, theta) in examples() {
            let mut doubled = theta.clone();
            doubled[..form.in_units_of_the_response()].iter_mut().for_each(|it| *it *= 2.0);
            for x in [3.0, 52.0, 95.0] {
                let (once, twice) = (form.value(&theta, 2.0, x), form.value(&doubled, 2.0, x));
                assert!((2.0 * once - twice).abs() < 1e-12, "{}", form.name());
            }
        }
    }
}

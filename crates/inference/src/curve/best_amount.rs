//! The amount at which a curve, less what the amount costs, is highest.

use super::form::{Form, bell};

/// What is sought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sought {
    /// One where a high response is wanted, minus one where a low one is.
    pub sign: f64,
    /// Cost of a unit of the amount, in units of the response.
    pub price_ratio: f64,
    /// The lowest tested amount.
    pub lowest: f64,
    /// Below this no amount exists: zero, or the lowest tested amount where that is negative.
    pub floor: f64,
}

/// The best amount.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Best {
    /// A highest point, with its derivatives in the curve's parameters.
    At { amount: f64, gradient: Vec<f64> },
    /// The lowest amount.
    Lowest,
    /// The more the better.
    NoEnd,
}

impl Sought {
    /// The response at `x` less its cost, up to a constant; higher is better.
    pub fn net(&self, form: Form, theta: &[f64], x: f64) -> f64 {
        self.sign * form.value(theta, self.lowest, x) - self.price_ratio * x
    }

    /// The best amount on the curve with parameters `theta`; nothing where all are alike.
    pub fn best(&self, form: Form, theta: &[f64]) -> Option<Best> {
        let linear = form.in_units_of_the_response();
        let mut turned = theta.to_vec();
        turned[..linear].iter_mut().for_each(|it| *it *= self.sign);
        let mut best = highest(form, &turned, self.lowest, self.price_ratio)?;
        if let Best::At { amount, gradient } = &mut best {
            gradient[..linear].iter_mut().for_each(|it| *it *= self.sign);
            let lowest_is_better = self.net(form, theta, self.lowest) > self.net(form, theta, *amount);
            if *amount < self.floor || lowest_is_better || !amount.is_finite() {
                best = Best::Lowest;
            }
        }
        Some(best)
    }
}

/// The highest point of the curve less `ratio` per unit of amount.
fn highest(form: Form, theta: &[f64], lowest: f64, ratio: f64) -> Option<Best> {
    let straight = |slope: f64| if slope > ratio { Best::NoEnd } else { Best::Lowest };
    let best = match form {
        Form::Flat => return None,
        Form::Linear => straight(theta[1]),
        Form::Quadratic if theta[2] > 0.0 => Best::NoEnd,
        Form::Quadratic if theta[2] == 0.0 => straight(theta[1]),
        Form::Quadratic => {
            let amount = (ratio - theta[1]) / (2.0 * theta[2]);
            Best::At { amount, gradient: vec![0.0, -0.5 / theta[2], -amount / theta[2]] }
        }
        Form::LinearPlateau if theta[1] <= ratio => Best::Lowest,
        Form::LinearPlateau => Best::At { amount: theta[2], gradient: vec![0.0, 0.0, 1.0] },
        Form::QuadraticPlateau if theta[1] >= 0.0 => Best::Lowest,
        Form::QuadraticPlateau => {
            let amount = theta[2] + 0.5 * ratio / theta[1];
            Best::At { amount, gradient: vec![0.0, -0.5 * ratio / (theta[1] * theta[1]), 1.0] }
        }
        Form::Exponential => exponential(theta, lowest, ratio),
        Form::Logistic => {
            let (best, [rise, midpoint, scale]) = logistic(theta[1] - theta[0], theta[2], theta[3], ratio);
            with_gradient(best, vec![-rise, rise, midpoint, scale])
        }
        Form::LogisticFromZero => {
            let (best, gradient) = logistic(theta[0], theta[1], theta[2], ratio);
            with_gradient(best, gradient.to_vec())
        }
        Form::BrokenLine => broken(theta, theta[3], ratio, vec![0.0, 0.0, 0.0, 1.0]),
        Form::BrokenLineAt { join } => broken(theta, join, ratio, vec![0.0; 3]),
    };
    Some(best)
}

fn exponential(theta: &[f64], lowest: f64, ratio: f64) -> Best {
    let (rise, rate) = (theta[0] - theta[1], theta[2]);
    if rise <= 0.0 || rise * rate <= ratio {
        return Best::Lowest;
    }
    if ratio == 0.0 {
        return Best::NoEnd;
    }
    let beyond = (rise * rate / ratio).ln() / rate;
    let of_rise = 1.0 / (rise * rate);
    Best::At { amount: lowest + beyond, gradient: vec![of_rise, -of_rise, (1.0 / rate - beyond) / rate] }
}

/// The upper of the two points of a logistic where its slope is `ratio`, with derivatives in rise, midpoint and scale.
fn logistic(rise: f64, midpoint: f64, scale: f64, ratio: f64) -> (Best, [f64; 3]) {
    let steepness = ratio * scale / rise;
    if rise <= 0.0 || steepness >= 0.25 {
        return (Best::Lowest, [0.0; 3]);
    }
    if ratio == 0.0 {
        return (Best::NoEnd, [0.0; 3]);
    }
    let root = (1.0 - 4.0 * steepness).sqrt();
    // ln(p / (1 - p)) for p = (1 + root) / 2, without the cancellation of 1 - p
    let logit = 2.0 * (0.5 * (1.0 + root)).ln() - steepness.ln();
    debug_assert!((bell(logit) - steepness).abs() < 1e-9);
    let amount = midpoint + scale * logit;
    (Best::At { amount, gradient: Vec::new() }, [scale / (rise * root), 1.0, logit - 1.0 / root])
}

fn with_gradient(best: Best, of_parameters: Vec<f64>) -> Best {
    match best {
        Best::At { amount, .. } => Best::At { amount, gradient: of_parameters },
        other => other,
    }
}

fn broken(theta: &[f64], join: f64, ratio: f64, gradient: Vec<f64>) -> Best {
    if theta[2] > ratio {
        Best::NoEnd
    } else if theta[1] > ratio {
        Best::At { amount: join, gradient }
    } else {
        Best::Lowest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sought(price_ratio: f64) -> Sought {
        Sought { sign: 1.0, price_ratio, lowest: 0.0, floor: 0.0 }
    }

    fn examples() -> Vec<(Form, Vec<f64>)> {
        vec![
            (Form::Quadratic, vec![4.0, 0.1, -0.001]),
            (Form::LinearPlateau, vec![4.0, 0.1, 53.0]),
            (Form::QuadraticPlateau, vec![8.0, -0.002, 53.0]),
            (Form::Exponential, vec![9.0, 4.0, 0.03]),
            (Form::Logistic, vec![2.0, 9.0, 41.0, 11.0]),
            (Form::LogisticFromZero, vec![9.0, 41.0, 11.0]),
            (Form::BrokenLine, vec![7.0, 0.1, -0.02, 53.0]),
            (Form::BrokenLineAt { join: 53.0 }, vec![7.0, 0.1, -0.02]),
        ]
    }

    #[test]
    fn nothing_near_or_far_is_better() {
        for (form, theta) in examples() {
            let sought = sought(0.03);
            let Some(Best::At { amount, .. }) = sought.best(form, &theta) else { panic!("{}", form.name()) };
            let best = sought.net(form, &theta, amount);
            for step in 0..=2000 {
                let there = f64::from(step) * 0.1;
                assert!(sought.net(form, &theta, there) <= best + 1e-12, "{} at {there}", form.name());
            }
        }
    }

    #[test]
    fn its_derivatives_are_those_of_the_amount() {
        for (form, theta) in examples() {
            let sought = sought(0.03);
            let Some(Best::At { gradient, .. }) = sought.best(form, &theta) else { panic!("{}", form.name()) };
            for (index, analytic) in gradient.into_iter().enumerate() {
                let step = 1e-6 * theta[index].abs();
                let moved = |by: f64| {
                    let mut theta = theta.clone();
                    theta[index] += by;
                    match sought.best(form, &theta) {
                        Some(Best::At { amount, .. }) => amount,
                        other => panic!("{other:?}"),
                    }
                };
                let difference = (moved(step) - moved(-step)) / (2.0 * step);
                let close = (analytic - difference).abs() < 1e-6 * (1.0 + analytic.abs());
                assert!(close, "{} {}: {analytic} {difference}", form.name(), form.parameters()[index]);
            }
        }
    }

    #[test]
    fn where_a_low_response_is_wanted_the_turned_curve_decides() {
        let low = Sought { sign: -1.0, ..sought(0.03) };
        let (form, theta) = (Form::Quadratic, [4.0, -0.1, 0.001]);
        let Some(Best::At { amount, gradient }) = low.best(form, &theta) else { panic!("a parabola with a least") };
        assert!((amount - 35.0).abs() < 1e-12);
        assert!((gradient[1] - -500.0).abs() < 1e-9 && (gradient[2] - -35_000.0).abs() < 1e-6);
        assert_eq!(low.best(form, &[4.0, 0.1, 0.001]), Some(Best::Lowest));
    }

    #[test]
    fn no_best_amount_is_made_up() {
        assert_eq!(sought(0.0).best(Form::Exponential, &[9.0, 4.0, 0.03]), Some(Best::NoEnd));
        assert_eq!(sought(0.2).best(Form::Exponential, &[9.0, 4.0, 0.03]), Some(Best::Lowest));
        assert_eq!(sought(0.0).best(Form::Quadratic, &[4.0, 0.1, 0.001]), Some(Best::NoEnd));
        assert_eq!(sought(0.2).best(Form::LinearPlateau, &[4.0, 0.1, 53.0]), Some(Best::Lowest));
        assert_eq!(sought(0.0).best(Form::Flat, &[4.0]), None);
    }
}

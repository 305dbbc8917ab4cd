//! A located curve with its tangent: what the error of its parameters, and of anything made of them, is.

use super::basis::Range;
use super::form::Form;
use super::least_squares::LeastSquares;
use super::points::{ErrorOf, Points};
use super::problem::{Located, Problem};
use super::quantity::Quantity;
use super::region::Region;
use crate::FTest;
use crate::distribution::t_quantile;

/// A curve at its best fit.
pub(super) struct Tangent<'a> {
    problem: &'a Problem<'a>,
    located: &'a Located,
    /// The parameters, the points' centre taken off the level.
    theta: Vec<f64>,
    /// Derivatives of the curve at the points, weighed.
    columns: Vec<Vec<f64>>,
    solved: LeastSquares,
    level: f64,
}

impl<'a> Tangent<'a> {
    /// Nothing when the parameters cannot be told apart at these amounts.
    pub fn of(problem: &'a Problem<'a>, located: &'a Located, level: f64) -> Option<Self> {
        let theta = problem.form.parameters_from(&problem.range, &located.at, &located.weights);
        let columns = weighed_derivatives(problem.points, problem.form, &theta, problem.range.lowest);
        let solved = LeastSquares::of(&columns, &problem.points.values_for(problem.form))?;
        Some(Self { problem, located, theta, columns, solved, level })
    }

    pub fn form(&self) -> Form {
        self.problem.form
    }

    pub fn range(&self) -> Range {
        self.problem.range
    }

    pub fn problem(&self) -> &'a Problem<'a> {
        self.problem
    }

    pub fn located(&self) -> &'a Located {
        self.located
    }

    pub fn level(&self) -> f64 {
        self.level
    }

    pub fn is_kink(&self) -> bool {
        self.located.kink
    }

    pub fn theta(&self) -> &[f64] {
        &self.theta
    }

    pub fn squares(&self) -> f64 {
        self.located.squares
    }

    /// The response at an amount.
    pub fn value(&self, amount: f64) -> f64 {
        self.form().value(&self.theta, self.range().lowest, amount) + self.problem.points.centre_for(self.form())
    }

    /// The error of a function of the parameters with these derivatives.
    pub fn error_of(&self, derivatives: &[f64]) -> Option<ErrorOf> {
        if derivatives.iter().all(|&it| it == 0.0) {
            return None;
        }
        self.problem.points.error_of(&self.solved, derivatives, self.squares())
    }

    pub fn quantity(&self, estimate: f64, derivatives: &[f64]) -> Quantity {
        Quantity::new(estimate, self.error_of(derivatives), self.level)
    }

    /// Test of what the curve leaves of the differences between the points.
    pub fn lack_of_fit(&self) -> Option<FTest> {
        self.problem.points.test(&self.columns, None, self.squares(), 0.0)
    }

    /// Test of the curve against one level.
    ///
    /// - `squares`: sum of squares about that level
    pub fn explained(&self, squares: f64) -> Option<FTest> {
        let points = self.problem.points;
        let level = [points.weighed(&vec![1.0; points.amounts.len()])];
        points.test(&level, Some(&self.columns), squares - self.squares(), self.squares())
    }

    /// Curves that are not contradicted; judged by the error of what is asked about, or else of the curve's shape.
    pub fn region(&self, error: Option<ErrorOf>) -> Option<Region<'a>> {
        let error = error.or_else(|| self.error_of(&self.form().shape_contrast()))?;
        if self.problem.shape_weights() == 0 {
            return None;
        }
        Some(Region::new(self.problem, self.located, self.threshold(error)))
    }

    /// The sum of squares up to which a curve is not contradicted.
    pub fn threshold(&self, error: ErrorOf) -> f64 {
        let t = t_quantile(1.0 - 0.5 * self.level, error.df);
        self.squares() + t * t * error.unit
    }

    /// Derivatives of a single parameter.
    pub fn unit(&self, parameter: usize) -> Vec<f64> {
        (0..self.theta.len()).map(|it| f64::from(u8::from(it == parameter))).collect()
    }
}

/// Derivatives of a curve in its parameters at the points, weighed like their values.
pub(super) fn weighed_derivatives(points: &Points, form: Form, theta: &[f64], lowest: f64) -> Vec<Vec<f64>> {
    let rows: Vec<Vec<f64>> = points.amounts.iter().map(|&amount| form.gradient(theta, lowest, amount)).collect();
    (0..theta.len())
        .map(|parameter| points.weighed(&rows.iter().map(|row| row[parameter]).collect::<Vec<f64>>()))
        .collect()
}

//! What a curve is fitted to: one point per amount (and group), with the error that is known of them.
//!
//! Means with a covariance from the strata, and plots with their units, come to the same thing: values `z` and weights `W` such
//! that the sum of squares about a curve `f` is `|z - W f|^2`, in units of the error's variance where that is known.

use super::form::Form;
use super::least_squares::{LeastSquares, further_directions};
use crate::fit::Fit;
use crate::matrix::{Cholesky, Matrix, add_scaled, dot};
use crate::{FTest, InferenceError, distribution};

/// Points with their error.
#[derive(Debug, Clone)]
pub(super) struct Points {
    /// The amount of each point.
    pub amounts: Vec<f64>,
    /// The group of each point.
    pub groups: Vec<usize>,
    /// What was taken off every value.
    centre: f64,
    /// `W`, one row per piece of information, one column per point.
    whitener: Matrix,
    /// `z`, of the values less the centre.
    values: Vec<f64>,
    error: PointError,
}

/// Where the error of the points comes from.
#[derive(Debug, Clone)]
enum PointError {
    /// Means whose covariance the strata (or the mixed model) give.
    Strata {
        /// The points as treatment means.
        fit: Box<Fit>,
        /// Their covariance, with a stand-in for strata without an error of their own.
        covariance: Matrix,
    },
    /// Plots in one stratum: the error is their scatter about the curve.
    Scatter {
        /// Sum of squares among plots of the same amount (and group) within their units.
        squares: f64,
        /// Its degrees of freedom.
        df: f64,
    },
}

/// Standard error and degrees of freedom of a function of the parameters, with what a unit of the sum of squares is worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ErrorOf {
    pub se: f64,
    pub df: f64,
    /// Squared standard error over that for values of variance one.
    pub unit: f64,
}

impl Points {
    /// Treatment means, each with its weights over the treatments (summing to one).
    pub fn of_means(
        fit: &Fit,
        amounts: Vec<f64>,
        groups: Vec<usize>,
        rows: &[Vec<f64>],
    ) -> Result<Self, InferenceError> {
        let fit = reduced(fit, rows)?;
        let covariance = with_unknown(&fit);
        let nowhere = || InferenceError::NoErrorInStratum { stratum: "all units".into() };
        let whitener = Cholesky::of(&covariance).ok_or_else(nowhere)?.solve_lower(&identity(rows.len()));
        let (centre, values) = (fit.grand_mean, whitener.times_vector(&fit.estimates));
        let error = PointError::Strata { fit: Box::new(fit), covariance };
        Ok(Self { amounts, groups, centre, whitener, values, error })
    }

    /// Plots, with directions (free of each other) along which their units differ.
    ///
    /// - `point`: for each plot its point
    pub fn of_plots(
        amounts: Vec<f64>,
        groups: Vec<usize>,
        point: &[usize],
        values: &[f64],
        units: &[Vec<f64>],
    ) -> Self {
        let centre = values.iter().sum::<f64>() / values.len() as f64;
        let within_units = |mut column: Vec<f64>| {
            for _twice_for_rounding in 0..2 {
                units.iter().for_each(|unit| {
                    let share = dot(unit, &column);
                    add_scaled(&mut column, -share, unit);
                });
            }
            column
        };
        let indicator = |of: usize| point.iter().map(|&it| f64::from(u8::from(it == of))).collect::<Vec<f64>>();
        let columns: Vec<Vec<f64>> = (0..amounts.len()).map(|of| within_units(indicator(of))).collect();
        let directions = further_directions(&[], &columns);
        let mut rest = within_units(values.iter().map(|value| value - centre).collect());
        let values: Vec<f64> = directions.iter().map(|direction| dot(direction, &rest)).collect();
        values.iter().zip(&directions).for_each(|(share, direction)| add_scaled(&mut rest, -share, direction));
        let rows: Vec<Vec<f64>> =
            directions.iter().map(|row| columns.iter().map(|column| dot(row, column)).collect()).collect();
        let df = (point.len() - units.len() - directions.len()) as f64;
        let error = PointError::Scatter { squares: dot(&rest, &rest), df };
        Self { amounts, groups, centre, whitener: Matrix::from_rows(&rows), values, error }
    }

    /// How many independent pieces of information the points hold.
    pub fn rank(&self) -> usize {
        self.values.len()
    }

    /// A column over the points, weighed like their values.
    pub fn weighed(&self, column: &[f64]) -> Vec<f64> {
        self.whitener.times_vector(column)
    }

    /// The points' values for a form: less the centre, unless the form has no free level.
    pub fn values_for(&self, form: Form) -> Vec<f64> {
        let mut values = self.values.clone();
        if !form.has_level() {
            add_scaled(&mut values, self.centre, &self.weighed(&vec![1.0; self.amounts.len()]));
        }
        values
    }

    /// What the level of a form lacks.
    pub fn centre_for(&self, form: Form) -> f64 {
        if form.has_level() { self.centre } else { 0.0 }
    }

    /// Sum of squares and degrees of freedom among plots of the same amount; none where the strata give the error.
    pub fn scatter(&self) -> Option<(f64, f64)> {
        match self.error {
            PointError::Scatter { squares, df } => Some((squares, df)),
            PointError::Strata { .. } => None,
        }
    }

    /// The error of a sum of parameters with weights `sum`, where `solved` is the least squares fit of the curve's derivatives.
    ///
    /// - `squares`: sum of squares about the curve
    pub fn error_of(&self, solved: &LeastSquares, sum: &[f64], squares: f64) -> Option<ErrorOf> {
        let made_up = solved.made_up_of(sum);
        let plain = dot(&made_up, &made_up);
        let error = match &self.error {
            PointError::Strata { fit, .. } => {
                let estimate = fit.contrast(&self.whitener.transposed().times_vector(&made_up)).ok()?;
                ErrorOf { se: estimate.se, df: estimate.df, unit: estimate.se * estimate.se / plain }
            }
            PointError::Scatter { .. } => {
                let (variance, df) = self.variance(squares, sum.len())?;
                ErrorOf { se: (plain * variance).sqrt(), df, unit: variance }
            }
        };
        (error.se > 0.0 && error.se.is_finite() && error.unit.is_finite() && error.df > 0.0).then_some(error)
    }

    /// Variance of a plot about the curve with its degrees of freedom, where plots give it.
    fn variance(&self, squares: f64, parameters: usize) -> Option<(f64, f64)> {
        let (among, df) = self.scatter()?;
        let df = df + self.rank() as f64 - parameters as f64;
        (df > 0.5).then(|| ((among + squares) / df, df))
    }

    /// Tests what a reduced curve leaves and a full one explains.
    ///
    /// - `reduced`, `full`: derivatives of both curves, weighed; no `full` for all differences between the points
    /// - `squares`: how much the sum of squares falls; `left`: what the full curve leaves; `parameters`: of the full curve
    pub fn test(&self, reduced: &[Vec<f64>], full: Option<&[Vec<f64>]>, squares: f64, left: f64) -> Option<FTest> {
        let known = further_directions(&[], reduced);
        let everything: Vec<Vec<f64>>;
        let full = match full {
            Some(full) => full,
            None => {
                let identity = identity(self.rank());
                everything = (0..self.rank()).map(|row| identity.row(row).to_vec()).collect();
                &everything
            }
        };
        let further = further_directions(&known, full);
        let num_df = further.len() as f64;
        let first = further.first()?;
        match &self.error {
            PointError::Strata { fit, covariance } => {
                let back = self.whitener.transposed();
                // means that differ from zero in these directions only, by as much as the sum of squares fell
                let mut means = covariance.times_vector(&back.times_vector(first));
                means.iter_mut().for_each(|mean| *mean *= squares.max(0.0).sqrt());
                let rows: Vec<Vec<f64>> = further.iter().map(|direction| back.times_vector(direction)).collect();
                Fit { estimates: means, grand_mean: 0.0, ..fit.as_ref().clone() }.f_test(&rows).ok()
            }
            PointError::Scatter { squares: among, df } => {
                let parameters = known.len() + further.len();
                let den_df = df + self.rank() as f64 - parameters as f64;
                let variance = (among + left) / den_df;
                let f = squares.max(0.0) / num_df / variance;
                let is_known = den_df > 0.5 && variance > 0.0;
                is_known.then(|| FTest { num_df, den_df, f, p: distribution::f_upper(f, num_df, den_df) })
            }
        }
    }
}

fn identity(size: usize) -> Matrix {
    Matrix::from_diagonal(&vec![1.0; size])
}

/// The fit of these means alone.
fn reduced(fit: &Fit, rows: &[Vec<f64>]) -> Result<Fit, InferenceError> {
    if let Some(row) = rows.iter().find(|row| (row.iter().sum::<f64>() - 1.0).abs() > 1e-9) {
        return Err(InferenceError::Weights { found: row.len(), expected: fit.of_treatment.len() });
    }
    let over_parameters: Vec<Vec<f64>> =
        rows.iter().map(|row| fit.row(&fit.over_cells(row)?)).collect::<Result<_, _>>()?;
    let rows = Matrix::from_rows(&over_parameters);
    let of_rows = |matrix: &Matrix| rows.times(matrix).times_transposed(&rows);
    Ok(Fit {
        present: (0..rows.rows).map(Some).collect(),
        labels: vec![String::new(); rows.rows],
        of_treatment: (0..rows.rows).map(|it| vec![it]).collect(),
        grand_mean: fit.grand_mean,
        estimates: rows.times_vector(&fit.estimates),
        offsets: Matrix::zeros(rows.rows, 0),
        covariance: of_rows(&fit.covariance),
        adjusted: of_rows(&fit.adjusted),
        slopes: fit.slopes.iter().map(of_rows).collect(),
        parameter_covariance: fit.parameter_covariance.clone(),
        observed_covariance: None,
        unknown: fit.unknown.iter().map(|(stratum, matrix)| (stratum.clone(), of_rows(matrix))).collect(),
        df_like: None,
    })
}

/// The covariance of the means, with the largest known variance standing in for each that is not known: what depends on it gets
/// no error, and nothing else is changed by it.
fn with_unknown(fit: &Fit) -> Matrix {
    let mut covariance = fit.covariance.clone();
    let largest = covariance.largest();
    for (_, matrix) in fit.unknown.iter().filter(|(_, matrix)| matrix.largest() > 0.0) {
        covariance.add_scaled(largest / matrix.largest(), matrix);
    }
    covariance
}

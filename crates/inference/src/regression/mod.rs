//! Linear least squares on columns as they are given: for calibrations, covariates outside a trial, and certified sets.
//!
//! The columns are made orthogonal by Gram and Schmidt, twice, in numbers of twice the usual length, so that columns which hardly
//! differ (powers of a rate, years beside prices) cost no digits that a reader would see.

mod doubled;

use crate::distribution::{f_upper, t_two_sided};
use crate::fit::FTest;
use crate::{Estimate, InferenceError};
use doubled::Doubled;
use serde::{Deserialize, Serialize};

/// Share of a column's length below which what the others leave of it is rounding.
const ROUNDING: f64 = 1e-14;

/// A fitted linear regression.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Regression {
    /// The constant first, where there is one, then one for each column.
    pub coefficients: Vec<Coefficient>,
    /// Sum of squares of what is left.
    pub residual_ss: f64,
    /// Its degrees of freedom.
    pub residual_df: f64,
    /// Its mean square's root.
    pub residual_sd: f64,
    /// Sum of squares of the columns: about the mean with a constant, about zero without.
    pub regression_ss: f64,
    /// Share of the sum of squares (about the mean, or about zero) that the columns take up.
    pub r_squared: f64,
    /// Test of all columns at once; none when nothing is left for error.
    pub test: Option<FTest>,
    /// Observed minus fitted.
    pub residuals: Vec<f64>,
}

/// One coefficient.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Coefficient {
    /// The estimate.
    pub estimate: f64,
    /// Its standard error.
    pub se: f64,
    /// Two-sided p; none when nothing is left for error.
    pub p: Option<f64>,
}

/// Fits `response` by the columns, with a constant or through the origin.
///
/// - `columns`: one list per explaining variable, each as long as `response`
///
/// # Errors
/// [`InferenceError::Length`], [`InferenceError::NotFinite`] (with the row as plot),
/// [`InferenceError::NoErrorDegreesOfFreedom`] when there are as many coefficients as rows,
/// [`InferenceError::ColumnFollowsOthers`] when a column follows from those before it.
/// # Source
/// Golub & Van Loan, Matrix Computations, 4th ed., section 5.2.8 (from memory). Checked against certified sets in
/// `tests/certified/`.
/// # Example
/// ```
/// let fit = guardrow_inference::regress(&[vec![0.0, 1.0, 2.0, 3.0]], &[1.0, 3.0, 5.0, 7.5], true)?;
/// assert!((fit.coefficients[1].estimate - 2.15).abs() < 1e-12);
/// # Ok::<(), guardrow_inference::InferenceError>(())
/// ```
pub fn regress(columns: &[Vec<f64>], response: &[f64], with_constant: bool) -> Result<Regression, InferenceError> {
    check(columns, response)?;
    let constant = with_constant.then(|| vec![1.0; response.len()]);
    let model: Vec<&[f64]> = constant.iter().map(Vec::as_slice).chain(columns.iter().map(Vec::as_slice)).collect();
    if model.len() >= response.len() {
        return Err(InferenceError::NoErrorDegreesOfFreedom { plots: response.len(), parameters: model.len() });
    }
    let basis = Basis::of(&model)?;
    let mut left: Vec<Doubled> = response.iter().map(|&value| value.into()).collect();
    let shares = basis.take_off(&mut left);
    let first = usize::from(with_constant);
    let df = (response.len() - model.len()) as f64;
    let residual_ss = sum_of_squares(&left);
    let regression_ss = sum_of_squares(&shares[first..]);
    let ms = residual_ss / Doubled::from(df);
    let estimates = basis.back(&shares);
    let errors = basis.inverse_lengths();
    let coefficient = |(estimate, length): (Doubled, Doubled)| {
        let (estimate, se) = (estimate.rounded(), (length * ms).sqrt().rounded());
        Coefficient { estimate, se, p: (se > 0.0).then(|| t_two_sided(estimate / se, df)) }
    };
    let num_df = (model.len() - first) as f64;
    let f = regression_ss / Doubled::from(num_df) / ms;
    let f = (num_df > 0.0 && ms.rounded() > 0.0).then(|| f.rounded());
    Ok(Regression {
        coefficients: estimates.into_iter().zip(errors).map(coefficient).collect(),
        residual_ss: residual_ss.rounded(),
        residual_df: df,
        residual_sd: ms.sqrt().rounded(),
        regression_ss: regression_ss.rounded(),
        r_squared: (regression_ss / (regression_ss + residual_ss)).rounded(),
        test: f.map(|f| FTest { num_df, den_df: df, f, p: f_upper(f, num_df, df) }),
        residuals: left.into_iter().map(Doubled::rounded).collect(),
    })
}

impl Regression {
    /// One coefficient with its error as an [`Estimate`].
    pub fn estimate(&self, coefficient: usize) -> Option<Estimate> {
        let it = self.coefficients.get(coefficient)?;
        Some(Estimate { estimate: it.estimate, se: it.se, df: self.residual_df })
    }
}

fn check(columns: &[Vec<f64>], response: &[f64]) -> Result<(), InferenceError> {
    let expected = response.len();
    if let Some((index, column)) = columns.iter().enumerate().find(|(_, column)| column.len() != expected) {
        let (list, found) = (format!("column {}", index + 1), column.len());
        return Err(InferenceError::Length { list, found, expected });
    }
    for values in std::iter::once(response).chain(columns.iter().map(Vec::as_slice)) {
        if let Some((plot, &value)) =
            values.iter().enumerate().find(|(_, value)| !value.is_finite() || value.abs() > 1e100)
        {
            return Err(InferenceError::NotFinite { plot, value });
        }
    }
    Ok(())
}

/// Columns of length one, orthogonal to one another, with the triangle that makes the model's columns of them.
struct Basis {
    directions: Vec<Vec<Doubled>>,
    /// For each column its shares of the directions up to its own.
    triangle: Vec<Vec<Doubled>>,
}

impl Basis {
    fn of(model: &[&[f64]]) -> Result<Self, InferenceError> {
        let mut basis = Self { directions: Vec::new(), triangle: Vec::new() };
        for (column, values) in model.iter().enumerate() {
            let mut left: Vec<Doubled> = values.iter().map(|&value| value.into()).collect();
            let before = sum_of_squares(&left).sqrt();
            let mut shares = basis.take_off(&mut left);
            let length = sum_of_squares(&left).sqrt();
            if length.rounded() <= ROUNDING * before.rounded() {
                return Err(InferenceError::ColumnFollowsOthers { column });
            }
            left.iter_mut().for_each(|value| *value = *value / length);
            shares.push(length);
            basis.directions.push(left);
            basis.triangle.push(shares);
        }
        Ok(basis)
    }

    /// Takes the directions out of the values, twice, so that rounding leaves nothing of them; returns their shares.
    fn take_off(&self, values: &mut [Doubled]) -> Vec<Doubled> {
        let mut shares = vec![Doubled::default(); self.directions.len()];
        for _twice_for_rounding in 0..2 {
            for (share, direction) in shares.iter_mut().zip(&self.directions) {
                let more = dot(direction, values);
                values.iter_mut().zip(direction).for_each(|(value, along)| *value = *value - more * *along);
                *share = *share + more;
            }
        }
        shares
    }

    /// The coefficients of the columns that have these shares of the directions.
    fn back(&self, shares: &[Doubled]) -> Vec<Doubled> {
        let mut coefficients = shares.to_vec();
        for row in (0..shares.len()).rev() {
            for column in row + 1..shares.len() {
                coefficients[row] = coefficients[row] - self.triangle[column][row] * coefficients[column];
            }
            coefficients[row] = coefficients[row] / self.triangle[row][row];
        }
        coefficients
    }

    /// For each coefficient its variance over the error's: the squared length of a row of the triangle's inverse.
    fn inverse_lengths(&self) -> Vec<Doubled> {
        let count = self.triangle.len();
        let unit =
            |index: usize| (0..count).map(|it| f64::from(u8::from(it == index)).into()).collect::<Vec<Doubled>>();
        let inverse: Vec<Vec<Doubled>> = (0..count).map(|column| self.back(&unit(column))).collect();
        let square = |row: usize| inverse.iter().map(move |column| column[row] * column[row]);
        (0..count).map(|row| square(row).fold(Doubled::default(), |sum, it| sum + it)).collect()
    }
}

fn dot(a: &[Doubled], b: &[Doubled]) -> Doubled {
    a.iter().zip(b).fold(Doubled::default(), |sum, (a, b)| sum + *a * *b)
}

fn sum_of_squares(values: &[Doubled]) -> Doubled {
    dot(values, values)
}

//! What is analysed: one response with its fixed part.

use crate::covariates::{CovariateColumn, columns};
use crate::matrix::Matrix;
use crate::plots::centred;
use crate::{Covariate, InferenceError};

/// One response with the cell (treatment, or treatment and occasion) of every observation.
///
/// All vectors that run over observations have the same length, in any one order.
#[derive(Debug, Clone, PartialEq)]
pub struct Observations {
    /// The values, in one unit.
    pub response: Vec<f64>,
    /// For each the index of its cell; each cell below `cells` has at least one.
    pub cell: Vec<usize>,
    /// Number of cells, each with a mean of its own.
    pub cells: usize,
    /// Further fixed columns: measures that the means are adjusted for, contrasts of fixed blocks, lines over the field.
    pub columns: Vec<Covariate>,
}

/// The observations checked, with values and columns centred.
#[derive(Debug, Clone)]
pub(crate) struct FixedPart {
    /// Values minus `mean`.
    pub value: Vec<f64>,
    pub mean: f64,
    pub cell: Vec<usize>,
    /// Observations of each cell.
    pub replication: Vec<f64>,
    pub columns: Vec<CovariateColumn>,
}

/// The fixed columns `X` over one block.
#[derive(Debug, Clone)]
pub(crate) struct BlockColumns {
    /// Indices of the columns that are not zero on it: its cells, then all others.
    pub columns: Vec<usize>,
    /// For each observation the place of its cell among `columns`.
    cell: Vec<usize>,
    /// Observations x columns other than cells.
    further: Matrix,
}

impl Observations {
    /// Observations without further columns.
    pub fn new(response: Vec<f64>, cell: Vec<usize>, cells: usize) -> Self {
        Self { response, cell, cells, columns: Vec::new() }
    }

    /// Checks everything and centres.
    pub(crate) fn fixed_part(&self) -> Result<FixedPart, InferenceError> {
        let expected = self.response.len();
        if self.cell.len() != expected {
            let list = "the treatment column".to_owned();
            return Err(InferenceError::Length { list, found: self.cell.len(), expected });
        }
        crate::covariates::check_columns(&self.columns, expected, crate::plots::LARGEST)?;
        for (plot, (&treatment, &value)) in self.cell.iter().zip(&self.response).enumerate() {
            if treatment >= self.cells {
                return Err(InferenceError::UnknownTreatment { plot, treatment, treatments: self.cells });
            }
            crate::plots::check_value(plot, value)?;
        }
        let mut replication = vec![0.0; self.cells];
        self.cell.iter().for_each(|&cell| replication[cell] += 1.0);
        if let Some(cell) = replication.iter().position(|&count| count == 0.0) {
            return Err(InferenceError::NotEstimable { treatment: format!("number {cell} (counted from 0)") });
        }
        let parameters = self.cells + self.columns.len();
        if expected <= parameters {
            return Err(InferenceError::NoErrorDegreesOfFreedom { plots: expected, parameters });
        }
        if let Some(column) = self.columns.iter().find(|it| it.values.iter().any(Option::is_none)) {
            let plot = column.values.iter().position(Option::is_none).unwrap_or_default();
            let covariate = column.name.clone();
            return Err(InferenceError::CovariateNotFinite { covariate, plot, value: f64::NAN });
        }
        let (mean, value) = centred(&self.response);
        crate::plots::check_spread(&self.response, &value)?;
        let used: Vec<usize> = (0..expected).collect();
        let columns = columns(&self.columns, &used, &self.cell, &replication)?;
        FixedPart { value, mean, cell: self.cell.clone(), replication, columns }.with_variation()
    }
}

impl FixedPart {
    /// Refuses values that do not vary within cells.
    pub fn with_variation(self) -> Result<Self, InferenceError> {
        let within = self.variance_within();
        let total = crate::matrix::dot(&self.value, &self.value) / self.value.len() as f64;
        if within <= 1e-26 * total { Err(InferenceError::NoVariation) } else { Ok(self) }
    }

    /// Number of fixed parameters: cells, then columns.
    pub fn parameters(&self) -> usize {
        self.replication.len() + self.columns.len()
    }

    /// Mean of each cell.
    pub fn cell_means(&self) -> Vec<f64> {
        crate::covariates::cell_means(&self.value, &self.cell, &self.replication)
    }

    /// Mean square of the values within cells.
    pub fn variance_within(&self) -> f64 {
        let means = self.cell_means();
        let squares: f64 = self.cell.iter().zip(&self.value).map(|(&cell, value)| (value - means[cell]).powi(2)).sum();
        squares / (self.value.len() - self.replication.len()).max(1) as f64
    }

    /// How far each column's mean in each cell lies below its overall mean: what [`crate::Fit`] adjusts with.
    pub fn offsets(&self) -> Matrix {
        let mut offsets = Matrix::zeros(self.replication.len(), self.columns.len());
        for (column, covariate) in self.columns.iter().enumerate() {
            covariate.of_cell.iter().enumerate().for_each(|(cell, mean)| offsets[(cell, column)] = -mean);
        }
        offsets
    }

    /// The columns over some observations.
    pub fn over(&self, members: &[usize]) -> BlockColumns {
        let mut columns: Vec<usize> = members.iter().map(|&it| self.cell[it]).collect();
        columns.sort_unstable();
        columns.dedup();
        let cell = members.iter().map(|&it| columns.partition_point(|&known| known < self.cell[it])).collect();
        columns.extend(self.replication.len()..self.parameters());
        let rows: Vec<Vec<f64>> =
            members.iter().map(|&it| self.columns.iter().map(|column| column.within[it]).collect()).collect();
        let mut further = Matrix::from_rows(&rows);
        (further.rows, further.columns) = (members.len(), self.columns.len());
        BlockColumns { columns, cell, further }
    }
}

impl BlockColumns {
    fn cells(&self) -> usize {
        self.columns.len() - self.further.columns
    }

    /// `matrix * X`.
    pub fn after(&self, matrix: &Matrix) -> Matrix {
        let mut product = Matrix::zeros(matrix.rows, self.columns.len());
        let cells = self.cells();
        for row in 0..matrix.rows {
            let target = product.row_mut(row);
            for (inner, &value) in matrix.row(row).iter().enumerate() {
                target[self.cell[inner]] += value;
                crate::matrix::add_scaled(&mut target[cells..], value, self.further.row(inner));
            }
        }
        product
    }

    /// `X' * matrix`.
    pub fn before(&self, matrix: &Matrix) -> Matrix {
        let mut product = Matrix::zeros(self.columns.len(), matrix.columns);
        let cells = self.cells();
        for row in 0..matrix.rows {
            crate::matrix::add_scaled(product.row_mut(self.cell[row]), 1.0, matrix.row(row));
            for (column, &value) in self.further.row(row).iter().enumerate() {
                crate::matrix::add_scaled(product.row_mut(cells + column), value, matrix.row(row));
            }
        }
        product
    }

    /// `X * coefficients`, the coefficients over `columns`.
    pub fn times(&self, coefficients: &[f64]) -> Vec<f64> {
        let (of_cell, slopes) = coefficients.split_at(self.cells());
        let value = |(row, &cell): (usize, &usize)| of_cell[cell] + crate::matrix::dot(self.further.row(row), slopes);
        self.cell.iter().enumerate().map(value).collect()
    }
}

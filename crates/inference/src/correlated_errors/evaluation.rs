//! What REML needs at given working coordinates: generalised least squares, the likelihood, its score and average information.
//!
//! With `V` the covariance, `X` the fixed columns and `W = V^-1 X`, all is expressed by `P = V^-1 - W (X'W)^-1 W'`. `V` is inverted
//! block by block; of `P` only the diagonal blocks are ever formed.

use super::dense;
use super::observations::{BlockColumns, FixedPart};
use super::structure::{At, Structure};
use crate::matrix::{Cholesky, Matrix, dot};

/// One model over its observations.
#[derive(Debug, Clone)]
pub(crate) struct Problem<'a> {
    pub fixed: &'a FixedPart,
    pub structure: &'a Structure,
    pub columns: Vec<BlockColumns>,
}

/// The model at one set of working coordinates.
#[derive(Debug, Clone)]
pub(crate) struct Evaluation {
    /// `V^-1` of each block.
    pub inverse: Vec<Matrix>,
    /// `W` of each block, over its own fixed columns.
    pub weighted: Vec<Matrix>,
    /// `X'W`, factored, and its inverse: the covariance of the fixed estimates.
    pub fixed: Cholesky,
    pub covariance: Matrix,
    /// Generalised least squares estimates: cell means minus the grand mean, slopes of the columns.
    pub estimates: Vec<f64>,
    /// `P y` of each block.
    pub projected: Vec<Vec<f64>>,
    /// `y'P y`.
    pub squares: f64,
    /// `log det V`.
    pub log_determinant: f64,
}

/// First derivatives at one set of working coordinates.
#[derive(Debug, Clone)]
pub(crate) struct Slopes {
    /// Of the log-likelihood by each coordinate.
    pub score: Vec<f64>,
    /// `tr(P V_k)` for the derivative `V_k` by each coordinate.
    pub traces: Vec<f64>,
    /// Average information: `y'P V_k P V_l P y / 2`.
    pub average_information: Matrix,
}

impl<'a> Problem<'a> {
    pub fn of(fixed: &'a FixedPart, structure: &'a Structure) -> Self {
        let columns = structure.blocks.iter().map(|members| fixed.over(members)).collect();
        Self { fixed, structure, columns }
    }

    /// Degrees of freedom left by the fixed part.
    pub fn residual_df(&self) -> f64 {
        (self.fixed.value.len() - self.fixed.parameters()) as f64
    }

    /// The model at these coordinates; nothing when the covariance is not positive definite there.
    pub fn at(&self, at: &At) -> Option<Evaluation> {
        let count = self.fixed.parameters();
        let (mut inverse, mut weighted) = (Vec::new(), Vec::new());
        let mut log_determinant = 0.0;
        let mut information = Matrix::zeros(count, count);
        for (block, columns) in self.columns.iter().enumerate() {
            let (block_inverse, block_determinant) = dense::inverse(at.block(block))?;
            log_determinant += block_determinant;
            let block_weighted = columns.after(&block_inverse);
            scatter(&mut information, &columns.columns, &columns.before(&block_weighted));
            inverse.push(block_inverse);
            weighted.push(block_weighted);
        }
        let fixed = Cholesky::of(&information)?;
        let covariance = fixed.inverse();
        let mut evaluation = Evaluation {
            inverse,
            weighted,
            fixed,
            covariance,
            estimates: Vec::new(),
            projected: Vec::new(),
            squares: 0.0,
            log_determinant,
        };
        self.project(&mut evaluation);
        (evaluation.squares > 0.0 && evaluation.squares.is_finite()).then_some(evaluation)
    }

    /// Estimates and `P y`, from deviations of the cell means so that digits shared by a whole cell cost nothing.
    fn project(&self, evaluation: &mut Evaluation) {
        let means = self.fixed.cell_means();
        let within: Vec<f64> =
            self.fixed.cell.iter().zip(&self.fixed.value).map(|(&cell, value)| value - means[cell]).collect();
        let blocks: Vec<Vec<f64>> = self.gathered(&within);
        let right = evaluation.weighted_sums(self, &blocks);
        let shift = evaluation.fixed.solve_vector(&right);
        for (block, values) in blocks.iter().enumerate() {
            let fitted = self.columns[block].times(&gather(&shift, &self.columns[block].columns));
            let residual: Vec<f64> = values.iter().zip(&fitted).map(|(value, fitted)| value - fitted).collect();
            let projected = evaluation.inverse[block].times_vector(&residual);
            evaluation.squares += dot(&residual, &projected);
            evaluation.projected.push(projected);
        }
        evaluation.estimates = shift;
        evaluation.estimates.iter_mut().zip(means).for_each(|(shift, mean)| *shift += mean);
    }

    /// A vector over the observations, block by block.
    pub fn gathered(&self, vector: &[f64]) -> Vec<Vec<f64>> {
        self.structure.blocks.iter().map(|members| gather(vector, members)).collect()
    }

    /// `-2 log L`, constants included.
    pub fn minus_twice_log_likelihood(&self, evaluation: &Evaluation) -> f64 {
        self.residual_df() * (2.0 * std::f64::consts::PI).ln()
            + evaluation.log_determinant
            + evaluation.fixed.log_determinant()
            + evaluation.squares
    }

    /// The diagonal block of `P`.
    pub fn projection(&self, evaluation: &Evaluation, block: usize) -> Matrix {
        let weighted = &evaluation.weighted[block];
        let covariance = submatrix(&evaluation.covariance, &self.columns[block].columns);
        let mut projection = evaluation.inverse[block].clone();
        projection.add_scaled(-1.0, &dense::product(&weighted.times(&covariance), &weighted.transposed()));
        projection
    }

    /// Score and average information.
    pub fn slopes(&self, at: &At, evaluation: &Evaluation) -> Slopes {
        let count = self.structure.parameters.len();
        let mut traces = vec![0.0; count];
        let mut images: Vec<Vec<Vec<f64>>> = vec![Vec::new(); count];
        for block in 0..self.columns.len() {
            let size = evaluation.projected[block].len();
            let mut of_block = vec![vec![0.0; size]; count];
            let projection = self.projection(evaluation, block);
            let sums = at.derivatives(block, &projection, &evaluation.projected[block], &mut of_block);
            traces.iter_mut().zip(sums).for_each(|(trace, sum)| *trace += sum);
            images.iter_mut().zip(of_block).for_each(|(image, part)| image.push(part));
        }
        let squares: Vec<f64> = images.iter().map(|image| blockwise_dot(image, &evaluation.projected)).collect();
        let score = traces.iter().zip(&squares).map(|(trace, squares)| 0.5 * (squares - trace)).collect();
        let through: Vec<Vec<Vec<f64>>> = images.iter().map(|image| evaluation.times_projection(self, image)).collect();
        let mut average_information = Matrix::zeros(count, count);
        for k in 0..count {
            for l in 0..=k {
                let value = 0.5 * blockwise_dot(&images[k], &through[l]);
                (average_information[(k, l)], average_information[(l, k)]) = (value, value);
            }
        }
        Slopes { score, traces, average_information }
    }
}

impl Evaluation {
    /// The same with the covariance multiplied by `factor`.
    pub fn rescaled(mut self, factor: f64, observations: f64) -> Option<Self> {
        let scale = |values: &mut [f64]| values.iter_mut().for_each(|value| *value /= factor);
        self.inverse.iter_mut().chain(self.weighted.iter_mut()).for_each(|matrix| scale(&mut matrix.values));
        self.projected.iter_mut().for_each(|block| scale(block));
        self.covariance = self.covariance.scaled(factor);
        self.fixed = self.fixed.scaled(1.0 / factor);
        self.squares /= factor;
        self.log_determinant += observations * factor.ln();
        self.log_determinant.is_finite().then_some(self)
    }

    /// `W'v` over all fixed columns.
    fn weighted_sums(&self, problem: &Problem, vector: &[Vec<f64>]) -> Vec<f64> {
        let mut sums = vec![0.0; problem.fixed.parameters()];
        for (block, BlockColumns { columns, .. }) in problem.columns.iter().enumerate() {
            for (row, &value) in vector[block].iter().enumerate() {
                for (&column, weight) in columns.iter().zip(self.weighted[block].row(row)) {
                    sums[column] += weight * value;
                }
            }
        }
        sums
    }

    /// `P v`.
    pub fn times_projection(&self, problem: &Problem, vector: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let shift = self.covariance.times_vector(&self.weighted_sums(problem, vector));
        let block = |(block, BlockColumns { columns, .. }): (usize, &BlockColumns)| {
            let mut image = self.inverse[block].times_vector(&vector[block]);
            let fitted = self.weighted[block].times_vector(&gather(&shift, columns));
            image.iter_mut().zip(fitted).for_each(|(value, fitted)| *value -= fitted);
            image
        };
        problem.columns.iter().enumerate().map(block).collect()
    }
}

pub(crate) fn blockwise_dot(one: &[Vec<f64>], other: &[Vec<f64>]) -> f64 {
    one.iter().zip(other).map(|(a, b)| dot(a, b)).sum()
}

fn gather(vector: &[f64], places: &[usize]) -> Vec<f64> {
    places.iter().map(|&place| vector[place]).collect()
}

/// Rows and columns of these places.
fn submatrix(matrix: &Matrix, places: &[usize]) -> Matrix {
    let mut part = Matrix::zeros(places.len(), places.len());
    for (row, &from) in places.iter().enumerate() {
        for (column, &other) in places.iter().enumerate() {
            part[(row, column)] = matrix[(from, other)];
        }
    }
    part
}

/// Adds a small matrix to the rows and columns of these places.
pub(crate) fn scatter(target: &mut Matrix, places: &[usize], part: &Matrix) {
    for (row, &to) in places.iter().enumerate() {
        for (column, &other) in places.iter().enumerate() {
            target[(to, other)] += part[(row, column)];
        }
    }
}

//! What REML and Kenward-Roger need of the plots, at given variance ratios.
//!
//! With fixed columns `X` (cell means, then covariates and others as deviations from the means of their cells), random classes
//! `Z` and `H^-1 = I + sum of ratio_k Z_k Z_k'`, everything depends on the cross products of `X`, `Z` and the response only. They
//! are counted once; each evaluation then works in the number of classes and columns, whatever the number of plots.

use crate::matrix::{Cholesky, Matrix, add_scaled, dot};
use crate::model::Partition;
use crate::plots::Plots;

/// Cross products of random classes, fixed columns and the response within cells.
#[derive(Debug, Clone)]
pub(crate) struct CrossProducts {
    /// Where each random term's classes stand among all: start and end.
    pub ranges: Vec<(usize, usize)>,
    /// Classes x (classes, fixed columns, response).
    random: Matrix,
    /// Fixed columns x (fixed columns, response).
    fixed: Matrix,
    /// Sum of squares of the response within cells.
    squares: f64,
    pub plots: usize,
}

/// The same after the random terms' variances were taken into account; every quantity is in units of the residual variance.
#[derive(Debug, Clone)]
pub(crate) struct Evaluation {
    /// `log det(I + Z' Z ratio)`.
    pub log_det_random: f64,
    /// `X' H X`, factored.
    pub fixed: Cholesky,
    /// `X' H Z`.
    pub fixed_random: Matrix,
    /// `X' H y`.
    pub fixed_response: Vec<f64>,
    /// `Z' P Z`, with `P` the projection that takes the fixed columns out.
    pub random: Matrix,
    /// `Z' P y`.
    pub random_response: Vec<f64>,
    /// `y' P y`.
    pub response: f64,
}

impl CrossProducts {
    /// Counts how the classes of the random terms and the cells meet; `columns` are further fixed columns over the plots, each
    /// as deviations from the means of the cells.
    pub fn of(plots: &Plots, terms: &[Partition], columns: &[&[f64]]) -> Self {
        let mut ranges = Vec::new();
        let mut total = 0;
        for term in terms {
            ranges.push((total, total + term.effects()));
            total += term.effects();
        }
        let cells = plots.cells.replication.len();
        let fixed_count = cells + columns.len();
        let response = plots.within_cells();
        let mut random = Matrix::zeros(total, total + fixed_count + 1);
        for plot in 0..plots.count() {
            for (one, &(start, end)) in terms.iter().zip(&ranges) {
                let row = start + one.division.class[plot];
                if row == end {
                    continue;
                }
                for (other, &(other_start, other_end)) in terms.iter().zip(&ranges) {
                    let column = other_start + other.division.class[plot];
                    if column < other_end {
                        random[(row, column)] += 1.0;
                    }
                }
                random[(row, total + plots.cell[plot])] += 1.0;
                columns.iter().enumerate().for_each(|(it, column)| random[(row, total + cells + it)] += column[plot]);
                random[(row, total + fixed_count)] += response[plot];
            }
        }
        let squares = dot(&response, &response);
        Self { ranges, random, fixed: fixed_products(plots, columns, &response), squares, plots: plots.count() }
    }

    /// Degrees of freedom left by the fixed columns.
    pub fn residual_df(&self) -> f64 {
        self.plots as f64 - self.fixed.rows as f64
    }

    /// Number of random terms.
    pub fn terms(&self) -> usize {
        self.ranges.len()
    }

    /// Takes random terms with these ratios (variance over residual variance, one per term) into account.
    pub fn at(&self, ratios: &[f64]) -> Option<Evaluation> {
        let total = self.random.rows;
        let fixed_count = self.fixed.rows;
        let (whitened, log_det_random) = self.whitened(&self.class_scales(ratios))?;
        // C = B'B - (L^-1 S Z'B)' (L^-1 S Z'B) for B = [Z X y], S the square roots of the ratios, L L' = I + S Z'Z S
        let width = total + fixed_count + 1;
        let mut cross = Matrix::zeros(width, width);
        for row in 0..total {
            cross.row_mut(row)[row..].copy_from_slice(&self.random.row(row)[row..]);
        }
        for row in 0..fixed_count {
            cross.row_mut(total + row)[total + row..].copy_from_slice(&self.fixed.row(row)[row..]);
        }
        cross[(width - 1, width - 1)] = self.squares;
        if let Some(whitened) = whitened {
            for inner in 0..whitened.rows {
                let known = whitened.row(inner);
                for row in 0..width {
                    if known[row] != 0.0 {
                        add_scaled(&mut cross.row_mut(row)[row..], -known[row], &known[row..]);
                    }
                }
            }
        }
        self.with_fixed_out(&cross, log_det_random)
    }

    /// Henderson's equations over the fixed columns and the classes of these terms, times the residual variance.
    pub fn henderson(&self, active: &[usize], ratios: &[f64]) -> Matrix {
        let fixed = self.fixed.rows;
        let total = self.random.rows;
        let classes: Vec<(usize, f64)> = active
            .iter()
            .flat_map(|&k| (self.ranges[k].0..self.ranges[k].1).map(move |it| (it, 1.0 / ratios[k])))
            .collect();
        let mut equations = Matrix::zeros(fixed + classes.len(), fixed + classes.len());
        for row in 0..fixed {
            equations.row_mut(row)[..fixed].copy_from_slice(&self.fixed.row(row)[..fixed]);
        }
        for (row, &(class, inverse_ratio)) in classes.iter().enumerate() {
            for column in 0..fixed {
                let value = self.random[(class, total + column)];
                (equations[(fixed + row, column)], equations[(column, fixed + row)]) = (value, value);
            }
            for (column, &(other, _)) in classes.iter().enumerate() {
                equations[(fixed + row, fixed + column)] = self.random[(class, other)];
            }
            equations[(fixed + row, fixed + row)] += inverse_ratio;
        }
        equations
    }

    fn class_scales(&self, ratios: &[f64]) -> Vec<f64> {
        let mut scales = Vec::with_capacity(self.random.rows);
        for (&(start, end), ratio) in self.ranges.iter().zip(ratios) {
            scales.resize(scales.len() + end - start, ratio.sqrt());
        }
        scales
    }

    /// `L^-1 S Z'B` over the classes whose ratio is not zero, and `log det (L L')`.
    fn whitened(&self, scale: &[f64]) -> Option<(Option<Matrix>, f64)> {
        let active: Vec<usize> = (0..scale.len()).filter(|&class| scale[class] > 0.0).collect();
        if active.is_empty() {
            return Some((None, 0.0));
        }
        let mut inner = Matrix::zeros(active.len(), active.len());
        let mut right = Matrix::zeros(active.len(), self.random.columns);
        for (row, &class) in active.iter().enumerate() {
            for (column, &other) in active.iter().enumerate() {
                inner[(row, column)] = scale[class] * scale[other] * self.random[(class, other)];
            }
            inner[(row, row)] += 1.0;
            for (value, source) in right.row_mut(row).iter_mut().zip(self.random.row(class)) {
                *value = scale[class] * source;
            }
        }
        let factor = Cholesky::of(&inner)?;
        Some((Some(factor.solve_lower(&right)), factor.log_determinant()))
    }

    /// `cross` has its upper triangle set, in the order random classes, fixed columns, response.
    fn with_fixed_out(&self, cross: &Matrix, log_det_random: f64) -> Option<Evaluation> {
        let total = self.random.rows;
        let size = self.fixed.rows;
        let width = cross.columns;
        let mut fixed = Matrix::zeros(size, size);
        let mut right = Matrix::zeros(size, total + 1);
        for row in 0..size {
            for column in row..size {
                let value = cross[(total + row, total + column)];
                (fixed[(row, column)], fixed[(column, row)]) = (value, value);
            }
            for class in 0..total {
                right[(row, class)] = cross[(class, total + row)];
            }
            right[(row, total)] = cross[(total + row, width - 1)];
        }
        let factor = Cholesky::of(&fixed)?;
        let reduced = factor.solve_lower(&right);
        let mut rest = Matrix::zeros(total + 1, total + 1);
        for row in 0..total {
            rest.row_mut(row)[row..total].copy_from_slice(&cross.row(row)[row..total]);
            rest[(row, total)] = cross[(row, width - 1)];
        }
        rest[(total, total)] = cross[(width - 1, width - 1)];
        for inner in 0..size {
            let known = reduced.row(inner);
            for row in 0..=total {
                if known[row] != 0.0 {
                    add_scaled(&mut rest.row_mut(row)[row..], -known[row], &known[row..]);
                }
            }
        }
        let mut random = Matrix::zeros(total, total);
        for row in 0..total {
            for column in row..total {
                let value = rest[(row, column)];
                (random[(row, column)], random[(column, row)]) = (value, value);
            }
        }
        Some(Evaluation {
            log_det_random,
            fixed_random: right.column_range(0, total),
            fixed_response: (0..size).map(|row| right[(row, total)]).collect(),
            random,
            random_response: (0..total).map(|row| rest[(row, total)]).collect(),
            response: rest[(total, total)],
            fixed: factor,
        })
    }
}

fn fixed_products(plots: &Plots, columns: &[&[f64]], response: &[f64]) -> Matrix {
    let cells = plots.cells.replication.len();
    let mut fixed = Matrix::zeros(cells + columns.len(), cells + columns.len() + 1);
    plots.cells.replication.iter().enumerate().for_each(|(cell, count)| fixed[(cell, cell)] = *count);
    for (row, one) in columns.iter().enumerate() {
        for (column, other) in columns.iter().enumerate() {
            fixed[(cells + row, cells + column)] = dot(one, other);
        }
        fixed[(cells + row, cells + columns.len())] = dot(one, response);
    }
    fixed
}

impl Evaluation {
    /// Sum of the squares of the block of `Z' P Z` where two terms meet.
    pub fn squares_where_meet(&self, a: (usize, usize), b: (usize, usize)) -> f64 {
        (a.0..a.1).map(|row| self.random.row(row)[b.0..b.1].iter().map(|value| value * value).sum::<f64>()).sum()
    }

    /// Trace of the block of `Z' P Z` of one term.
    pub fn trace_of(&self, range: (usize, usize)) -> f64 {
        (range.0..range.1).map(|index| self.random[(index, index)]).sum()
    }

    /// Sum of squares of `Z' P y` over one term.
    pub fn squares_of_response(&self, range: (usize, usize)) -> f64 {
        self.random_response[range.0..range.1].iter().map(|value| value * value).sum()
    }

    /// `y' P Z_a Z_a' P Z_b Z_b' P y`.
    pub fn response_through(&self, a: (usize, usize), b: (usize, usize)) -> f64 {
        (a.0..a.1)
            .map(|row| {
                self.random_response[row] * dot(&self.random.row(row)[b.0..b.1], &self.random_response[b.0..b.1])
            })
            .sum()
    }
}

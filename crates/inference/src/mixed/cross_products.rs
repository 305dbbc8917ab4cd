//! What REML and Kenward-Roger need of the plots, at given variance ratios.
//!
//! With fixed columns `X` (cell means, then covariates and others as deviations from the means of their cells), random classes
//! `Z` and `H^-1 = I + sum of ratio_k Z_k Z_k'`, everything depends on the cross products of `X`, `Z` and the response only. They
//! are counted once; each evaluation then works in the number of classes and columns, whatever the number of plots.

use crate::matrix::{Cholesky, Matrix, add_scaled, dot};
use crate::model::Partition;
use crate::plots::Plots;

/// With ratios above this, one minus an element of `A^-1` keeps 12 digits or more.
const LARGE_ENOUGH: f64 = 1e-3;

/// Cross products of random classes, fixed columns and the response within cells.
#[derive(Debug, Clone)]
pub(crate) struct CrossProducts {
    /// Where each random term's classes stand among all: start and end.
    pub ranges: Vec<(usize, usize)>,
    /// Classes x (classes, fixed columns, response).
    random: Matrix,
    /// Fixed columns x (fixed columns, response).
    fixed: Matrix,
    absorbed: Absorbed,
    pub plots: usize,
}

impl CrossProducts {
    /// Counts how the classes of the random terms and the cells meet; `columns` are further fixed columns over the plots, each
    /// as deviations from the means of the cells. Nothing when the columns depend on one another.
    pub fn of(plots: &Plots, terms: &[Partition], columns: &[&[f64]]) -> Option<Self> {
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
        let fixed = fixed_products(plots, columns, &response);
        let absorbed = Absorbed::of(&random, &fixed, dot(&response, &response))?;
        Some(Self { ranges, random, fixed, absorbed, plots: plots.count() })
    }

    /// Degrees of freedom left by the fixed columns.
    pub fn residual_df(&self) -> f64 {
        self.plots as f64 - self.fixed.rows as f64
    }

    /// Number of random terms.
    pub fn terms(&self) -> usize {
        self.ranges.len()
    }

    /// The random terms with these ratios (variance over residual variance, one per term).
    pub fn at(&self, ratios: &[f64]) -> Option<Evaluation> {
        self.absorbed.at(&self.ranges, ratios)
    }

    /// The fixed columns with the random terms at these ratios taken into account.
    pub fn fixed_part(&self, ratios: &[f64]) -> Option<FixedPart> {
        let (total, fixed) = (self.random.rows, self.fixed.rows);
        let scale = self.class_scales(ratios);
        let active: Vec<usize> = (0..total).filter(|&class| scale[class] > 0.0).collect();
        let mut inner = Matrix::zeros(active.len(), active.len());
        let mut right = Matrix::zeros(active.len(), total + fixed + 1);
        for (row, &class) in active.iter().enumerate() {
            for (column, &other) in active.iter().enumerate() {
                inner[(row, column)] = scale[class] * scale[other] * self.random[(class, other)];
            }
            inner[(row, row)] += 1.0;
            let scaled = right.row_mut(row).iter_mut().zip(self.random.row(class));
            scaled.for_each(|(value, source)| *value = scale[class] * source);
        }
        // B'B - (L^-1 S Z'B)' (L^-1 S Z'B) for B = [Z X y], S the square roots of the ratios, L L' = I + S Z'Z S
        let whitened = Cholesky::of(&inner)?.solve_lower(&right);
        let mut products = Matrix::zeros(fixed, fixed);
        let mut across = Matrix::zeros(fixed, total);
        for row in 0..fixed {
            products.row_mut(row).copy_from_slice(&self.fixed.row(row)[..fixed]);
            for class in 0..total {
                across[(row, class)] = self.random[(class, total + row)];
            }
        }
        let mut response: Vec<f64> = (0..fixed).map(|row| self.fixed[(row, fixed)]).collect();
        for inner in 0..whitened.rows {
            let (of_random, rest) = whitened.row(inner).split_at(total);
            let (of_fixed, of_response) = rest.split_at(fixed);
            for (row, &known) in of_fixed.iter().enumerate().filter(|(_, known)| **known != 0.0) {
                add_scaled(&mut products.row_mut(row)[row..], -known, &of_fixed[row..]);
                add_scaled(across.row_mut(row), -known, of_random);
                response[row] -= known * of_response[0];
            }
        }
        let products = Cholesky::of(&products.mirrored())?;
        Some(FixedPart { products, across, response })
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
}

/// What remains to be looked at while the variances are searched for: fixed columns take no part in that.
#[derive(Debug, Clone)]
struct Absorbed {
    /// `Z' M Z`, with `M` the projection that takes the fixed columns out.
    random: Matrix,
    /// `Z' M y`.
    random_response: Vec<f64>,
    /// `y' M y`.
    response: f64,
    /// `log det X'X`.
    log_det_fixed: f64,
}

/// The random terms' side of the model at given variance ratios, in units of the residual variance.
#[derive(Debug, Clone)]
pub(crate) struct Evaluation {
    /// `log det(V) + log det(X' V^-1 X)` with the residual variance taken out of both.
    pub log_det: f64,
    /// `Z' P Z`, with `P` the projection that takes fixed columns and random terms out.
    pub random: Matrix,
    /// `Z' P y`.
    pub random_response: Vec<f64>,
    /// `y' P y`.
    pub response: f64,
}

/// The fixed columns' side of the model.
#[derive(Debug, Clone)]
pub(crate) struct FixedPart {
    /// `X' H X`, factored.
    pub products: Cholesky,
    /// `X' H Z`.
    pub across: Matrix,
    /// `X' H y`.
    pub response: Vec<f64>,
}

impl Absorbed {
    /// Takes the fixed columns out of the classes' cross products and the response.
    fn of(random: &Matrix, fixed: &Matrix, squares: f64) -> Option<Self> {
        let (total, columns) = (random.rows, fixed.rows);
        let mut right = Matrix::zeros(columns, total + 1);
        for row in 0..columns {
            for class in 0..total {
                right[(row, class)] = random[(class, total + row)];
            }
            right[(row, total)] = fixed[(row, columns)];
        }
        let factor = Cholesky::of(&fixed.column_range(0, columns))?;
        let mut rest = Matrix::zeros(total + 1, total + 1);
        for row in 0..total {
            rest.row_mut(row)[..total].copy_from_slice(&random.row(row)[..total]);
            rest[(row, total)] = random[(row, total + columns)];
        }
        rest[(total, total)] = squares;
        take_squares_off(&mut rest, &factor.solve_lower(&right));
        let random_response = (0..total).map(|row| rest[(row, total)]).collect();
        let (response, random) = (rest[(total, total)], rest.leading(total).mirrored());
        Some(Self { random, random_response, response, log_det_fixed: factor.log_determinant() })
    }

    /// With `N = Z' M Z`, `S` the square roots of the ratios and `A = I + S N S`: `det V det(X' V^-1 X) = det A det X'X`, and
    /// `Z' P Z = N - N S A^-1 S N`.
    fn at(&self, ranges: &[(usize, usize)], ratios: &[f64]) -> Option<Evaluation> {
        let mut active: Vec<(usize, f64)> = Vec::with_capacity(self.random.rows);
        for (&(start, end), ratio) in ranges.iter().zip(ratios).filter(|(_, ratio)| **ratio > 0.0) {
            active.extend((start..end).map(|class| (class, ratio.sqrt())));
        }
        let mut inner = Matrix::zeros(active.len(), active.len());
        for (row, &(class, scale)) in active.iter().enumerate() {
            let source = self.random.row(class);
            for (value, &(other, other_scale)) in inner.row_mut(row).iter_mut().zip(&active) {
                *value = scale * other_scale * source[other];
            }
            inner[(row, row)] += 1.0;
        }
        let factor = Cholesky::of(&inner)?;
        let log_det = factor.log_determinant() + self.log_det_fixed;
        if ratios.iter().all(|&ratio| ratio > LARGE_ENOUGH) {
            Some(self.by_inverse(&active, &factor, log_det))
        } else {
            Some(self.by_difference(&active, &factor, log_det))
        }
    }

    /// `Z' P Z = S^-1 (I - A^-1) S^-1`: quicker, where no ratio is so small that the difference would lose digits.
    fn by_inverse(&self, active: &[(usize, f64)], factor: &Cholesky, log_det: f64) -> Evaluation {
        let scaled: Vec<f64> = active.iter().map(|&(class, scale)| scale * self.random_response[class]).collect();
        let solved = factor.solve_vector(&scaled);
        let mut random = factor.inverse();
        for (row, &(_, scale)) in active.iter().enumerate() {
            let entries = random.row_mut(row).iter_mut().zip(active);
            entries.for_each(|(entry, &(_, other))| *entry /= -scale * other);
            random[(row, row)] += 1.0 / (scale * scale);
        }
        Evaluation {
            log_det,
            random,
            random_response: solved.iter().zip(active).map(|(value, (_, scale))| value / scale).collect(),
            response: self.response - dot(&scaled, &solved),
        }
    }

    fn by_difference(&self, active: &[(usize, f64)], factor: &Cholesky, log_det: f64) -> Evaluation {
        let total = self.random.rows;
        let mut right = Matrix::zeros(active.len(), total + 1);
        for (row, &(class, scale)) in active.iter().enumerate() {
            let scaled = right.row_mut(row).iter_mut().zip(self.random.row(class));
            scaled.for_each(|(value, source)| *value = scale * source);
            right[(row, total)] = scale * self.random_response[class];
        }
        let mut rest = Matrix::zeros(total + 1, total + 1);
        for row in 0..total {
            rest.row_mut(row)[..total].copy_from_slice(self.random.row(row));
            rest[(row, total)] = self.random_response[row];
        }
        rest[(total, total)] = self.response;
        take_squares_off(&mut rest, &factor.solve_lower(&right));
        Evaluation {
            log_det,
            random_response: (0..total).map(|row| rest[(row, total)]).collect(),
            response: rest[(total, total)],
            random: rest.leading(total).mirrored(),
        }
    }
}

/// Takes `known' known` off the upper triangle.
fn take_squares_off(matrix: &mut Matrix, known: &Matrix) {
    for inner in 0..known.rows {
        let known = known.row(inner);
        for (row, &factor) in known.iter().enumerate().filter(|(_, factor)| **factor != 0.0) {
            add_scaled(&mut matrix.row_mut(row)[row..], -factor, &known[row..]);
        }
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

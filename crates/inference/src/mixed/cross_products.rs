//! What REML and Kenward-Roger need of the plots, at given variance ratios.
//!
//! With treatments as cell means `X`, units `Z` and `H^-1 = I + sum of ratio_k Z_k Z_k'`, everything depends on the cross
//! products of `X`, `Z` and the response only. They are counted once; each evaluation then works in the number of units and
//! treatments, whatever the number of plots.

use crate::matrix::{Cholesky, Matrix, dot};
use crate::plots::Plots;
use crate::strata::Partition;

/// Cross products of units, treatments and the response within treatments.
#[derive(Debug, Clone)]
pub(crate) struct CrossProducts {
    /// Where each random stratum's units stand among all units: start and end.
    pub ranges: Vec<(usize, usize)>,
    /// Units x (units, treatments, response).
    units: Matrix,
    /// Plots per treatment.
    replication: Vec<f64>,
    /// Sum of squares of the response within treatments.
    squares: f64,
    pub plots: usize,
}

/// The same after the units' variances were taken into account; every quantity is in units of the residual variance.
#[derive(Debug, Clone)]
pub(crate) struct Evaluation {
    /// `log det(I + Z' Z ratio)`.
    pub log_det_units: f64,
    /// `X' H X`, factored.
    pub treatments: Cholesky,
    /// `X' H Z`.
    pub treatments_units: Matrix,
    /// `X' H y`.
    pub treatments_response: Vec<f64>,
    /// `Z' P Z`, with `P` the projection that takes the treatments out.
    pub units: Matrix,
    /// `Z' P y`.
    pub units_response: Vec<f64>,
    /// `y' P y`.
    pub response: f64,
}

impl CrossProducts {
    /// Counts how units and treatments meet, for the strata further out than the plots.
    pub fn of(plots: &Plots, random: &[Partition]) -> Self {
        let treatments = plots.replication.len();
        let mut ranges = Vec::new();
        let mut total = 0;
        for partition in random {
            ranges.push((total, total + partition.classes));
            total += partition.classes;
        }
        let response = plots.within_treatments();
        let mut units = Matrix::zeros(total, total + treatments + 1);
        for plot in 0..plots.count() {
            for (one, &(start, _)) in random.iter().zip(&ranges) {
                let row = start + one.class[plot];
                for (other, &(other_start, _)) in random.iter().zip(&ranges) {
                    units[(row, other_start + other.class[plot])] += 1.0;
                }
                units[(row, total + plots.treatment[plot])] += 1.0;
                units[(row, total + treatments)] += response[plot];
            }
        }
        let squares = dot(&response, &response);
        Self { ranges, units, replication: plots.replication.clone(), squares, plots: plots.count() }
    }

    /// Degrees of freedom left by the treatments.
    pub fn residual_df(&self) -> f64 {
        (self.plots - self.replication.len()) as f64
    }

    /// Number of random strata.
    pub fn strata(&self) -> usize {
        self.ranges.len()
    }

    /// Takes units with these ratios (variance over residual variance, one per random stratum) into account.
    pub fn at(&self, ratios: &[f64]) -> Option<Evaluation> {
        let total = self.units.rows;
        let treatments = self.replication.len();
        let scale = self.unit_scales(ratios);
        let (whitened, log_det_units) = self.whitened(&scale)?;
        // C = B'B - (L^-1 S Z'B)' (L^-1 S Z'B) for B = [Z X y], S the square roots of the ratios, L L' = I + S Z'Z S
        let width = total + treatments + 1;
        let mut cross = Matrix::zeros(width, width);
        for row in 0..total {
            for column in 0..width {
                cross[(row, column)] = self.units[(row, column)];
            }
        }
        for (treatment, count) in self.replication.iter().enumerate() {
            cross[(total + treatment, total + treatment)] = *count;
        }
        cross[(width - 1, width - 1)] = self.squares;
        if let Some(whitened) = whitened {
            for inner in 0..whitened.rows {
                let known = whitened.row(inner);
                for row in 0..width {
                    if known[row] != 0.0 {
                        crate::matrix::add_scaled(&mut cross.row_mut(row)[row..], -known[row], &known[row..]);
                    }
                }
            }
        }
        self.with_treatments_out(&cross, log_det_units)
    }

    fn unit_scales(&self, ratios: &[f64]) -> Vec<f64> {
        let per_unit =
            self.ranges.iter().zip(ratios).flat_map(|(&(start, end), ratio)| vec![ratio.sqrt(); end - start]);
        per_unit.collect()
    }

    /// `L^-1 S Z'B` over the units whose ratio is not zero, and `log det (L L')`.
    fn whitened(&self, scale: &[f64]) -> Option<(Option<Matrix>, f64)> {
        let active: Vec<usize> = (0..scale.len()).filter(|&unit| scale[unit] > 0.0).collect();
        if active.is_empty() {
            return Some((None, 0.0));
        }
        let mut inner = Matrix::zeros(active.len(), active.len());
        let mut right = Matrix::zeros(active.len(), self.units.columns);
        for (row, &unit) in active.iter().enumerate() {
            for (column, &other) in active.iter().enumerate() {
                inner[(row, column)] = scale[unit] * scale[other] * self.units[(unit, other)];
            }
            inner[(row, row)] += 1.0;
            for (value, source) in right.row_mut(row).iter_mut().zip(self.units.row(unit)) {
                *value = scale[unit] * source;
            }
        }
        let factor = Cholesky::of(&inner)?;
        Some((Some(factor.solve_lower(&right)), factor.log_determinant()))
    }

    /// `cross` has its upper triangle set, in the order units, treatments, response.
    fn with_treatments_out(&self, cross: &Matrix, log_det_units: f64) -> Option<Evaluation> {
        let total = self.units.rows;
        let size = self.replication.len();
        let width = cross.columns;
        let mut treatments = Matrix::zeros(size, size);
        let mut right = Matrix::zeros(size, total + 1);
        for row in 0..size {
            for column in row..size {
                let value = cross[(total + row, total + column)];
                (treatments[(row, column)], treatments[(column, row)]) = (value, value);
            }
            for unit in 0..total {
                right[(row, unit)] = cross[(unit, total + row)];
            }
            right[(row, total)] = cross[(total + row, width - 1)];
        }
        let factor = Cholesky::of(&treatments)?;
        let reduced = factor.solve_lower(&right);
        let mut rest = Matrix::zeros(total + 1, total + 1);
        for row in 0..=total {
            for column in row..=total {
                let source = |index: usize| if index == total { width - 1 } else { index };
                rest[(row, column)] = cross[(source(row), source(column))];
            }
        }
        for inner in 0..size {
            let known = reduced.row(inner);
            for row in 0..=total {
                if known[row] != 0.0 {
                    crate::matrix::add_scaled(&mut rest.row_mut(row)[row..], -known[row], &known[row..]);
                }
            }
        }
        let mut units = Matrix::zeros(total, total);
        for row in 0..total {
            for column in row..total {
                let value = rest[(row, column)];
                (units[(row, column)], units[(column, row)]) = (value, value);
            }
        }
        Some(Evaluation {
            log_det_units,
            treatments_units: right.column_range(0, total),
            treatments_response: (0..size).map(|row| right[(row, total)]).collect(),
            units,
            units_response: (0..total).map(|row| rest[(row, total)]).collect(),
            response: rest[(total, total)],
            treatments: factor,
        })
    }
}

impl Evaluation {
    /// Sum of the squares of the block of `Z' P Z` where two strata meet.
    pub fn squares_where_meet(&self, a: (usize, usize), b: (usize, usize)) -> f64 {
        (a.0..a.1).map(|row| self.units.row(row)[b.0..b.1].iter().map(|value| value * value).sum::<f64>()).sum()
    }

    /// Trace of the block of `Z' P Z` of one stratum.
    pub fn trace_of(&self, range: (usize, usize)) -> f64 {
        (range.0..range.1).map(|index| self.units[(index, index)]).sum()
    }

    /// Sum of squares of `Z' P y` over one stratum.
    pub fn squares_of_response(&self, range: (usize, usize)) -> f64 {
        self.units_response[range.0..range.1].iter().map(|value| value * value).sum()
    }

    /// `y' P Z_a Z_a' P Z_b Z_b' P y`.
    pub fn response_through(&self, a: (usize, usize), b: (usize, usize)) -> f64 {
        (a.0..a.1)
            .map(|row| self.units_response[row] * dot(&self.units.row(row)[b.0..b.1], &self.units_response[b.0..b.1]))
            .sum()
    }
}

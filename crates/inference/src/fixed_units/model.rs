//! The fit, its tests and means.

use super::sequence::sequential_rows;
use crate::fit::Fit;
use crate::matrix::{Cholesky, Matrix, dot};
use crate::plots::Plots;
use crate::strata::{AnovaRow, Partition};
use crate::terms::Term;
use crate::{Experiment, MeansTable, Options};
use serde::{Deserialize, Serialize};

/// Analysis with every unit but the plot as a fixed effect.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct FixedUnits {
    /// Each source given those above it: units first, then the terms in order, then `residual`.
    pub sequential: Vec<AnovaRow>,
    /// Each term given everything else, its means weighted equally.
    pub marginal: Vec<AnovaRow>,
    /// All treatments given the units.
    pub treatments: AnovaRow,
    /// Error mean square.
    pub residual_ms: f64,
    /// Degrees of freedom for error.
    pub residual_df: f64,
    /// Means at the average over the units, which count as the only ones of interest.
    pub tables: Vec<MeansTable>,
    /// Least squares estimates of the missing plots.
    pub missing_plots: Vec<MissingPlotEstimate>,
}

/// What the model expects of a plot without a value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct MissingPlotEstimate {
    /// Index of the plot in the experiment.
    pub plot: usize,
    /// The estimate, in the response's unit.
    pub estimate: f64,
}

/// The analysis, where units other than plots do not nest and treatments can be compared within them.
pub(crate) fn fixed_units(
    experiment: &Experiment,
    plots: &Plots,
    partitions: &[Partition],
    terms: &[Term],
    options: &Options,
) -> Option<FixedUnits> {
    let outer = &partitions[..partitions.len() - 1];
    let nests = outer.iter().any(|unit| outer.iter().any(|other| other.is_coarser_than(unit)));
    if outer.is_empty() || nests {
        return None;
    }
    let solution = Solution::of(plots, outer)?;
    let fit = solution.fit(plots);
    let factors = &experiment.treatments.factors;
    let (ms, df) = (solution.residual_ms, solution.residual_df);
    let (sequential, treatments) = sequential_rows(plots, outer, terms, factors, ms, df);
    let marginal = terms.iter().filter_map(|term| marginal_row(term, &fit, factors, plots, ms)).collect();
    let (tables, _) = crate::means::tables(&experiment.treatments, terms, plots, &fit, options);
    Some(FixedUnits {
        sequential,
        marginal,
        treatments,
        residual_ms: ms,
        residual_df: df,
        tables,
        missing_plots: solution.missing_plots(experiment, plots, outer),
    })
}

fn marginal_row(
    term: &Term,
    fit: &Fit,
    factors: &[guardrow_design::Factor],
    plots: &Plots,
    residual_ms: f64,
) -> Option<AnovaRow> {
    let comparisons = term.comparisons(factors, plots);
    let test = fit.f_test(&comparisons.rows).ok()?;
    let ms = test.f * residual_ms;
    Some(AnovaRow {
        source: term.label.clone(),
        df: test.num_df,
        ss: ms * test.num_df,
        ms,
        f: Some(test.f),
        p: Some(test.p),
    })
}

/// Treatment means and unit effects (summing to zero over each kind of unit) by least squares.
struct Solution {
    coefficients: Vec<f64>,
    inverse: Matrix,
    residual_ms: f64,
    residual_df: f64,
}

impl Solution {
    fn of(plots: &Plots, outer: &[Partition]) -> Option<Self> {
        let rows: Vec<Vec<f64>> = (0..plots.count()).map(|plot| model_row(plots, outer, plot)).collect();
        let model = Matrix::from_rows(&rows);
        let across = model.transposed();
        let factor = Cholesky::of(&across.times_transposed(&across))?;
        let mut coefficients = factor.solve_vector(&across.times_vector(&plots.value));
        let mut left = rest(&plots.value, &model, &coefficients);
        // one step of refinement returns the digits that squaring the model costs
        let correction = factor.solve_vector(&across.times_vector(&left));
        crate::matrix::add_scaled(&mut coefficients, 1.0, &correction);
        left = rest(&plots.value, &model, &coefficients);
        let residual_df = plots.count() as f64 - model.columns as f64;
        if residual_df < 0.5 {
            return None;
        }
        let residual_ms = dot(&left, &left) / residual_df;
        (residual_ms > 0.0).then(|| Self { coefficients, inverse: factor.inverse(), residual_ms, residual_df })
    }

    fn fit(&self, plots: &Plots) -> Fit {
        let size = plots.replication.len();
        let mut covariance = Matrix::zeros(size, size);
        for row in 0..size {
            for column in 0..size {
                covariance[(row, column)] = self.inverse[(row, column)] * self.residual_ms;
            }
        }
        Fit {
            present: plots.present.clone(),
            labels: plots.treatments.iter().map(|treatment| treatment.label.clone()).collect(),
            grand_mean: plots.grand_mean,
            means: self.coefficients[..size].to_vec(),
            adjusted: covariance.clone(),
            slopes: vec![covariance.clone()],
            covariance,
            parameter_covariance: Matrix::from_diagonal(&[2.0 / self.residual_df]),
            unknown: Vec::new(),
        }
    }

    fn missing_plots(&self, experiment: &Experiment, plots: &Plots, outer: &[Partition]) -> Vec<MissingPlotEstimate> {
        let estimate = |&plot: &usize| {
            let treatment = plots.present[experiment.treatment[plot]]?;
            let classes: Vec<usize> =
                outer.iter().map(|unit| unit.class_of(experiment, plot, &plots.index)).collect::<Option<_>>()?;
            let row = row_of(treatment, &classes, plots.replication.len(), outer);
            Some(MissingPlotEstimate { plot, estimate: plots.grand_mean + dot(&row, &self.coefficients) })
        };
        plots.missing.iter().filter_map(estimate).collect()
    }
}

fn rest(values: &[f64], model: &Matrix, coefficients: &[f64]) -> Vec<f64> {
    values.iter().zip(model.times_vector(coefficients)).map(|(value, fitted)| value - fitted).collect()
}

fn model_row(plots: &Plots, outer: &[Partition], plot: usize) -> Vec<f64> {
    let classes: Vec<usize> = outer.iter().map(|unit| unit.class[plot]).collect();
    row_of(plots.treatment[plot], &classes, plots.replication.len(), outer)
}

/// One for the treatment; for each kind of unit one for the unit, or minus one everywhere for the last.
fn row_of(treatment: usize, classes: &[usize], treatments: usize, outer: &[Partition]) -> Vec<f64> {
    let mut row = vec![0.0; treatments];
    row[treatment] = 1.0;
    for (unit, &class) in outer.iter().zip(classes) {
        let last = unit.classes - 1;
        row.extend((0..last).map(|it| if class == last { -1.0 } else { f64::from(u8::from(it == class)) }));
    }
    row
}

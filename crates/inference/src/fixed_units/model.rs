//! The fit, its tests and means.

use super::sequence::sequential_rows;
use crate::fit::Fit;
use crate::matrix::{Cholesky, Matrix, dot};
use crate::model::{Division, Kind, Partition, unit_column};
use crate::plots::Plots;
use crate::strata::AnovaRow;
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

/// The analysis, where treatments can be compared within all units but the plots.
pub(crate) fn fixed_units(
    experiment: &Experiment,
    plots: &Plots,
    partitions: &[Partition],
    terms: &[Term],
    options: &Options,
) -> Option<FixedUnits> {
    let outer = &partitions[..partitions.len() - 1];
    if outer.is_empty() || outer.iter().any(|term| term.kind != Kind::Units) {
        return None;
    }
    let solution = Solution::of(plots, outer)?;
    let fit = solution.fit(plots);
    let (ms, df) = (solution.residual_ms, solution.residual_df);
    let (sequential, treatments) = sequential_rows(plots, outer, terms, ms, df);
    let marginal = terms.iter().filter_map(|term| marginal_row(term, &fit, plots, ms)).collect();
    let (tables, _) = crate::means::tables(terms, plots, &fit, options);
    Some(FixedUnits {
        sequential,
        marginal,
        treatments: treatments?,
        residual_ms: ms,
        residual_df: df,
        tables,
        missing_plots: solution.missing_plots(experiment, plots, outer),
    })
}

fn marginal_row(term: &Term, fit: &Fit, plots: &Plots, residual_ms: f64) -> Option<AnovaRow> {
    let test = fit.f_test_of_cells(&term.comparisons(&plots.cells).rows).ok()?;
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

/// Cell means, slopes and unit effects (summing to zero within each place and season and within each larger unit) by least
/// squares.
struct Solution {
    sides: Vec<Side>,
    coefficients: Vec<f64>,
    inverse: Matrix,
    residual_ms: f64,
    residual_df: f64,
}

impl Solution {
    fn of(plots: &Plots, outer: &[Partition]) -> Option<Self> {
        let sides: Vec<Side> = outer.iter().map(|unit| Side::of(unit, outer, &plots.cells.environment)).collect();
        let rows: Vec<Vec<f64>> = (0..plots.count()).map(|plot| model_row(plots, &sides, outer, plot)).collect();
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
        let inverse = factor.inverse();
        (residual_ms > 0.0).then_some(Self { sides, coefficients, inverse, residual_ms, residual_df })
    }

    fn fit(&self, plots: &Plots) -> Fit {
        let size = plots.parameters();
        let mut covariance = Matrix::zeros(size, size);
        for row in 0..size {
            let entries = covariance.row_mut(row).iter_mut().zip(self.inverse.row(row));
            entries.for_each(|(entry, inverse)| *entry = inverse * self.residual_ms);
        }
        Fit {
            estimates: self.coefficients[..size].to_vec(),
            adjusted: covariance.clone(),
            slopes: vec![covariance.clone()],
            covariance,
            parameter_covariance: Matrix::from_diagonal(&[2.0 / self.residual_df]),
            ..Fit::of_cells(plots)
        }
    }

    /// With covariates there is no such estimate: it would depend on what the covariate would have been.
    fn missing_plots(&self, experiment: &Experiment, plots: &Plots, outer: &[Partition]) -> Vec<MissingPlotEstimate> {
        if !plots.covariates.is_empty() {
            return Vec::new();
        }
        let estimate = |&plot: &usize| {
            let cell = plots.cells.present[cell_of_missing(experiment, plots, plot)?]?;
            let classes: Vec<usize> =
                outer.iter().map(|unit| unit.class_of(experiment, plot, plots)).collect::<Option<_>>()?;
            let row = row_of(cell, &[], &classes, plots.cells.replication.len(), &self.sides);
            Some(MissingPlotEstimate { plot, estimate: plots.grand_mean + dot(&row, &self.coefficients) })
        };
        plots.missing.iter().filter_map(estimate).collect()
    }
}

/// The cell that a plot without a value would have belonged to.
fn cell_of_missing(experiment: &Experiment, plots: &Plots, plot: usize) -> Option<usize> {
    let cells = &plots.cells;
    let treatment = cells.of_treatment[experiment.treatment[plot]];
    if cells.environments.count == 1 {
        return Some(treatment);
    }
    let columns: Vec<&[usize]> = experiment.environments.iter().filter_map(|it| unit_column(experiment, it)).collect();
    let same = |other: &usize| columns.iter().all(|column| column[plot] == column[*other]);
    let neighbour = plots.index.iter().position(same)?;
    Some(cells.environment[neighbour] * cells.treatments.len() + treatment)
}

fn rest(values: &[f64], model: &Matrix, coefficients: &[f64]) -> Vec<f64> {
    values.iter().zip(model.times_vector(coefficients)).map(|(value, fitted)| value - fitted).collect()
}

/// How the units of one kind are written as columns: for each unit its column, or for the last of each place and season, or of
/// each larger unit there, all the columns of the others beside it, negatively.
struct Side {
    column: Vec<Option<usize>>,
    group: Vec<usize>,
    columns: usize,
}

impl Side {
    fn of(unit: &Partition, outer: &[Partition], environment: &[usize]) -> Self {
        let larger = outer.iter().map(|other| &other.division).filter(|other| other.classes < unit.division.classes);
        let beside = larger
            .filter(|other| other.holds(&unit.division))
            .fold(Division::by(environment.iter().copied()), |beside, other| {
                beside.refined_by(other.class.iter().copied())
            });
        let group: Vec<usize> = unit.division.first_plots().into_iter().map(|plot| beside.class[plot]).collect();
        let is_last = |class: usize| !group[class + 1..].contains(&group[class]);
        let mut next = 0..;
        let column: Vec<Option<usize>> =
            (0..group.len()).map(|class| if is_last(class) { None } else { next.next() }).collect();
        Self { columns: column.iter().flatten().count(), column, group }
    }

    fn entries(&self, class: usize) -> Vec<f64> {
        let mut entries = vec![0.0; self.columns];
        match self.column[class] {
            Some(column) => entries[column] = 1.0,
            None => {
                let others = (0..self.group.len()).filter(|&other| self.group[other] == self.group[class]);
                others.filter_map(|other| self.column[other]).for_each(|column| entries[column] = -1.0);
            }
        }
        entries
    }
}

fn model_row(plots: &Plots, sides: &[Side], outer: &[Partition], plot: usize) -> Vec<f64> {
    let classes: Vec<usize> = outer.iter().map(|unit| unit.division.class[plot]).collect();
    let covariates: Vec<f64> = plots.covariates.iter().map(|it| it.within[plot]).collect();
    row_of(plots.cell[plot], &covariates, &classes, plots.cells.replication.len(), sides)
}

fn row_of(cell: usize, covariates: &[f64], classes: &[usize], cells: usize, sides: &[Side]) -> Vec<f64> {
    let mut row = vec![0.0; cells];
    row[cell] = 1.0;
    row.extend(covariates);
    sides.iter().zip(classes).for_each(|(side, &class)| row.extend(side.entries(class)));
    row
}

//! Sums of squares of each source given those before it.

use crate::matrix::{add_scaled, dot};
use crate::model::Partition;
use crate::plots::Plots;
use crate::strata::{AnovaRow, RESIDUAL, tested_row};
use crate::terms::{Part, Term};

/// Rows for places and seasons, units, covariates, terms and residual, and one row for all treatments together, if any can be
/// compared within units.
pub(crate) fn sequential_rows(
    plots: &Plots,
    outer: &[Partition],
    terms: &[Term],
    residual_ms: f64,
    residual_df: f64,
) -> (Vec<AnovaRow>, Option<AnovaRow>) {
    let mut known = Directions::beginning_with_the_mean(plots.count());
    let mut rows = Vec::new();
    // a source that adds nothing to those before it has no row: it has no mean square
    let mut add = |source: &str, columns: Vec<Vec<f64>>| {
        let (df, ss) = known.add(columns, &plots.value);
        if df > 0.0 {
            rows.push(tested_row(source.to_owned(), df, ss, Some(residual_ms), residual_df));
        }
        (df, ss)
    };
    let (places, terms): (Vec<&Term>, Vec<&Term>) = terms.iter().partition(|term| term.part == Part::Nothing);
    for term in places {
        add(&term.label, columns(term, plots));
    }
    for unit in outer {
        add(&unit.name, indicators(unit));
    }
    for covariate in &plots.covariates {
        add(&covariate.name, vec![covariate.value.clone()]);
    }
    let (mut treatment_df, mut treatment_ss) = (0.0, 0.0);
    for term in terms {
        let (df, ss) = add(&term.label, columns(term, plots));
        (treatment_df, treatment_ss) = (treatment_df + df, treatment_ss + ss);
    }
    let ss = residual_ms * residual_df;
    rows.push(AnovaRow { source: RESIDUAL.into(), df: residual_df, ss, ms: residual_ms, f: None, p: None });
    let treatments =
        tested_row(crate::ALL_TREATMENTS.into(), treatment_df, treatment_ss, Some(residual_ms), residual_df);
    (rows, (treatment_df > 0.0).then_some(treatments))
}

/// Indicators, over plots, of the classes of a partition.
pub(crate) fn indicators(partition: &Partition) -> Vec<Vec<f64>> {
    let class = &partition.division.class;
    let indicator = |it: usize| class.iter().map(|&class| f64::from(u8::from(class == it))).collect();
    (0..partition.effects()).map(indicator).collect()
}

/// Indicators, over plots, of the means that the term compares: with those of lower terms they span the term.
fn columns(term: &Term, plots: &Plots) -> Vec<Vec<f64>> {
    let indicator = |margin: crate::terms::Margin| {
        let present: Vec<usize> = margin.members.iter().filter_map(|&member| plots.cells.present[member]).collect();
        plots.cell.iter().map(|cell| f64::from(u8::from(present.contains(cell)))).collect()
    };
    term.compared(&plots.cells).into_iter().map(indicator).collect()
}

/// Orthonormal directions over the plots that are already accounted for.
pub(crate) struct Directions {
    known: Vec<Vec<f64>>,
}

impl Directions {
    pub fn beginning_with_the_mean(plots: usize) -> Self {
        Self { known: vec![vec![1.0 / (plots as f64).sqrt(); plots]] }
    }

    /// Adds what is new in the columns; returns how many dimensions that is and the sum of squares of `values` in them.
    pub fn add(&mut self, columns: Vec<Vec<f64>>, values: &[f64]) -> (f64, f64) {
        let (mut df, mut ss) = (0.0, 0.0);
        for mut column in columns {
            let before = dot(&column, &column).sqrt();
            for _twice_for_rounding in 0..2 {
                for known in &self.known {
                    let share = dot(known, &column);
                    add_scaled(&mut column, -share, known);
                }
            }
            let after = dot(&column, &column).sqrt();
            if after > 1e-9 * before {
                column.iter_mut().for_each(|value| *value /= after);
                (df, ss) = (df + 1.0, ss + dot(&column, values).powi(2));
                self.known.push(column);
            }
        }
        (df, ss)
    }

    /// Degrees of freedom and sum of squares of `values` outside all directions.
    pub fn left(&self, values: &[f64]) -> (f64, f64) {
        let mut left = values.to_vec();
        for _twice_for_rounding in 0..2 {
            for known in &self.known {
                let share = dot(known, &left);
                add_scaled(&mut left, -share, known);
            }
        }
        (values.len() as f64 - self.known.len() as f64, dot(&left, &left))
    }

    /// For each plot the share of its own value in its projection on all directions.
    pub fn squares(&self) -> Vec<f64> {
        let plots = self.known.first().map_or(0, Vec::len);
        (0..plots).map(|plot| self.known.iter().map(|known| known[plot] * known[plot]).sum()).collect()
    }
}

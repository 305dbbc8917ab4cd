//! Sums of squares of each source given those before it.

use crate::matrix::{add_scaled, dot};
use crate::plots::Plots;
use crate::strata::{AnovaRow, Partition, RESIDUAL, tested_row};
use crate::terms::Term;
use guardrow_design::Factor;

/// Rows for units, terms and residual, and one row for all treatments together.
pub(crate) fn sequential_rows(
    plots: &Plots,
    outer: &[Partition],
    terms: &[Term],
    factors: &[Factor],
    residual_ms: f64,
    residual_df: f64,
) -> (Vec<AnovaRow>, AnovaRow) {
    let mut known = Directions::beginning_with_the_mean(plots.count());
    let mut rows = Vec::new();
    for unit in outer {
        let indicator = |class: usize| unit.class.iter().map(|&it| f64::from(u8::from(it == class))).collect();
        let (df, ss) = known.add((0..unit.classes).map(indicator).collect(), &plots.value);
        rows.push(tested_row(unit.name.clone(), df, ss, Some(residual_ms), residual_df));
    }
    let (mut treatment_df, mut treatment_ss) = (0.0, 0.0);
    for term in terms {
        let (df, ss) = known.add(columns(term, factors, plots), &plots.value);
        (treatment_df, treatment_ss) = (treatment_df + df, treatment_ss + ss);
        if df > 0.0 {
            rows.push(tested_row(term.label.clone(), df, ss, Some(residual_ms), residual_df));
        }
    }
    let ss = residual_ms * residual_df;
    rows.push(AnovaRow { source: RESIDUAL.into(), df: residual_df, ss, ms: residual_ms, f: None, p: None });
    let treatments =
        tested_row(crate::ALL_TREATMENTS.into(), treatment_df, treatment_ss, Some(residual_ms), residual_df);
    (rows, treatments)
}

/// Indicators, over plots, of the means of the term's table: with those of lower terms they span the term.
fn columns(term: &Term, factors: &[Factor], plots: &Plots) -> Vec<Vec<f64>> {
    let margins = term.margins(factors, plots);
    let controls =
        margins.iter().filter(|it| it.members.iter().any(|&member| plots.treatments[member].levels.is_empty()));
    let chosen: Vec<_> = if term.factors.is_empty() { controls.collect() } else { margins.iter().collect() };
    let indicator = |members: &[usize]| {
        let present: Vec<usize> = members.iter().filter_map(|&member| plots.present[member]).collect();
        plots.treatment.iter().map(|treatment| f64::from(u8::from(present.contains(treatment)))).collect()
    };
    chosen.into_iter().map(|margin| indicator(&margin.members)).collect()
}

/// Orthonormal directions over the plots that are already accounted for.
struct Directions {
    known: Vec<Vec<f64>>,
}

impl Directions {
    fn beginning_with_the_mean(plots: usize) -> Self {
        Self { known: vec![vec![1.0 / (plots as f64).sqrt(); plots]] }
    }

    /// Adds what is new in the columns; returns how many dimensions that is and the sum of squares of `values` in them.
    fn add(&mut self, columns: Vec<Vec<f64>>, values: &[f64]) -> (f64, f64) {
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
}

//! Whether the slope on a covariate is the same for all treatments.

use crate::analysis::Kept;
use crate::distribution::f_upper;
use crate::fit::FTest;
use crate::fixed_units::{Directions, indicators};
use crate::plots::Plots;

/// The test by the leading method; none when too few plots are left, or only one treatment has plots that differ in it.
pub(crate) fn test(kept: &Kept, covariate: usize) -> Option<FTest> {
    let split = split_by_treatment(&kept.plots, covariate);
    if split.len() < 2 {
        return None;
    }
    match (&kept.layout, &kept.mixed) {
        (Some(_), _) => within_units(kept, split),
        (None, Some(mixed)) => {
            let others = kept.plots.covariates.iter().enumerate().filter(|(index, _)| *index != covariate);
            let first_split = kept.plots.cells.replication.len() + kept.plots.covariates.len() - 1;
            let columns: Vec<&[f64]> =
                others.map(|(_, it)| it.within.as_slice()).chain(split.iter().map(Vec::as_slice)).collect();
            let fit = mixed.with_columns(&kept.plots, &columns)?;
            let against_first = |other: usize| {
                let mut row = vec![0.0; first_split + split.len()];
                (row[first_split], row[first_split + other]) = (-1.0, 1.0);
                row
            };
            fit.f_test_of_rows((1..split.len()).map(against_first).collect()).ok()
        }
        (None, None) => None,
    }
}

/// The covariate's deviations within each treatment that has plots of different values, zero elsewhere.
fn split_by_treatment(plots: &Plots, covariate: usize) -> Vec<Vec<f64>> {
    let within = &plots.covariates[covariate].within;
    let treatment = |plot: usize| plots.cells.of_treatment[plots.treatment[plot]];
    let of = |wanted: usize| -> Vec<f64> {
        within.iter().enumerate().map(|(plot, &it)| if treatment(plot) == wanted { it } else { 0.0 }).collect()
    };
    let total = crate::matrix::dot(within, within);
    let varies = |column: &Vec<f64>| crate::matrix::dot(column, column) > 1e-18 * total;
    (0..plots.cells.treatments.len()).map(of).filter(varies).collect()
}

/// Least squares within all units: the extra sum of squares of separate slopes.
fn within_units(kept: &Kept, split: Vec<Vec<f64>>) -> Option<FTest> {
    let plots = &kept.plots;
    let mut known = Directions::beginning_with_the_mean(plots.count());
    let outer = &kept.partitions[..kept.partitions.len() - 1];
    for term in outer {
        known.add(indicators(term), &plots.value);
    }
    let of_cell = |cell: usize| plots.cell.iter().map(|&it| f64::from(u8::from(it == cell))).collect();
    known.add((0..plots.cells.replication.len()).map(of_cell).collect(), &plots.value);
    known.add(plots.covariates.iter().map(|it| it.within.clone()).collect(), &plots.value);
    let (num_df, ss) = known.add(split, &plots.value);
    let (den_df, left) = known.left(&plots.value);
    if num_df < 0.5 || den_df < 0.5 || left <= 0.0 {
        return None;
    }
    let f = (ss / num_df) / (left / den_df);
    Some(FTest { num_df, den_df, f, p: f_upper(f, num_df, den_df) })
}

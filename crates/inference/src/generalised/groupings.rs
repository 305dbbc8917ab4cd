//! Which groupings have a variance that the observations can show, and which columns say anything of their own.

use super::model::{FixedColumn, Grouping};
use crate::laplace::Units;
use crate::matrix::{Matrix, add_scaled, dot};
use crate::{InferenceError, Notice};

/// What is left of the groupings and columns as given.
#[derive(Debug, Default)]
pub(crate) struct SeparateGroupings {
    /// Indices of the groupings that stay.
    pub kept: Vec<usize>,
    pub units: Vec<Units>,
    /// Names of groupings that the treatments cannot be told apart from, with how the plain treatment means vary with the
    /// variance of each (over the treatments present).
    pub unknown: Vec<(String, Matrix)>,
    pub notices: Vec<Notice>,
}

/// Sorts out groupings of one unit, of the same units as another, and of units that differ only as the fixed part does.
///
/// - `treatment`: index among the treatments present
/// - `sees_plots`: whether one observation alone can show more variation than that of counting
///
/// # Errors
/// [`InferenceError::CollinearColumn`] when a column is a sum of treatments and earlier columns.
pub(crate) fn separate(
    groupings: &[Grouping],
    treatment: &[usize],
    columns: &[FixedColumn],
    sees_plots: bool,
) -> Result<SeparateGroupings, InferenceError> {
    let basis = within_treatments(treatment, columns)?;
    let mut found = SeparateGroupings::default();
    for (index, grouping) in groupings.iter().enumerate() {
        let (class, used) = renumbered(&grouping.class);
        let stratum = grouping.name.clone();
        let is_plots = used == treatment.len();
        if used == 1 {
            found.notices.push(Notice::OneUnit { stratum });
        } else if found.kept.iter().any(|&kept| renumbered(&groupings[kept].class).0 == class) {
            found.notices.push(Notice::SameUnits { stratum });
        } else if is_plots && !sees_plots {
            found.notices.push(Notice::PlotVarianceNotSeen { stratum });
        } else if is_told_by(&class, used, treatment, &basis) {
            found.unknown.push((stratum.clone(), direct_share(&class, used, treatment)));
            found.notices.push(Notice::VarianceNotSeparable { stratum });
        } else {
            found.kept.push(index);
            found.units.push(Units::normal(grouping.class.clone(), grouping.classes));
        }
    }
    Ok(found)
}

/// Units numbered in the order in which they are met, and how many there are.
fn renumbered(class: &[usize]) -> (Vec<usize>, usize) {
    let mut number = vec![None; class.iter().max().map_or(0, |last| last + 1)];
    let mut used = 0;
    let mut of = |class: usize| {
        *number[class].get_or_insert_with(|| {
            used += 1;
            used - 1
        })
    };
    let class = class.iter().map(|&class| of(class)).collect();
    (class, used)
}

/// The columns' deviations from their treatments' means, made orthonormal.
fn within_treatments(treatment: &[usize], columns: &[FixedColumn]) -> Result<Vec<Vec<f64>>, InferenceError> {
    let mut basis: Vec<Vec<f64>> = Vec::new();
    for column in columns {
        let length = dot(&column.values, &column.values).sqrt();
        let mut rest = centred(treatment, &column.values);
        // twice, since once may leave rounding of the size of what is left
        for _ in 0..2 {
            for earlier in &basis {
                let along = dot(earlier, &rest);
                add_scaled(&mut rest, -along, earlier);
            }
        }
        let left = dot(&rest, &rest).sqrt();
        if left.is_nan() || left <= 1e-9 * length {
            return Err(InferenceError::CollinearColumn { column: column.name.clone() });
        }
        basis.push(rest.iter().map(|value| value / left).collect());
    }
    Ok(basis)
}

fn centred(treatment: &[usize], values: &[f64]) -> Vec<f64> {
    let treatments = treatment.iter().max().map_or(0, |last| last + 1);
    let (mut sum, mut count) = (vec![0.0; treatments], vec![0.0; treatments]);
    for (&treatment, value) in treatment.iter().zip(values) {
        sum[treatment] += value;
        count[treatment] += 1.0;
    }
    treatment.iter().zip(values).map(|(&treatment, value)| value - sum[treatment] / count[treatment]).collect()
}

/// Whether every unit's indicator is a sum of columns of the fixed part, so that fixed effects take up all it could show.
fn is_told_by(class: &[usize], classes: usize, treatment: &[usize], basis: &[Vec<f64>]) -> bool {
    let treatments = treatment.iter().max().map_or(0, |last| last + 1);
    let mut shared = Matrix::zeros(classes, treatments);
    let mut replication = vec![0.0; treatments];
    for (&class, &treatment) in class.iter().zip(treatment) {
        shared[(class, treatment)] += 1.0;
        replication[treatment] += 1.0;
    }
    let mut left: Vec<f64> = (0..classes)
        .map(|unit| {
            let counts = shared.row(unit);
            let told = counts.iter().zip(&replication).map(|(count, total)| count * count / total).sum::<f64>();
            counts.iter().sum::<f64>() - told
        })
        .collect();
    for column in basis {
        let mut along = vec![0.0; classes];
        class.iter().zip(column).for_each(|(&class, value)| along[class] += value);
        left.iter_mut().zip(along).for_each(|(left, along)| *left -= along * along);
    }
    left.iter().all(|left| *left < 1e-9)
}

/// How plain treatment means vary with the variance of these units.
fn direct_share(class: &[usize], classes: usize, treatment: &[usize]) -> Matrix {
    let treatments = treatment.iter().max().map_or(0, |last| last + 1);
    let mut weights = Matrix::zeros(treatments, classes);
    let mut replication = vec![0.0; treatments];
    treatment.iter().for_each(|&treatment| replication[treatment] += 1.0);
    for (&class, &treatment) in class.iter().zip(treatment) {
        weights[(treatment, class)] += 1.0 / replication[treatment];
    }
    weights.times_transposed(&weights)
}

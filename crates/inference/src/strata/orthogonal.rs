//! Whether the layout is orthogonal, and the mean squares of its strata if it is.
//!
//! Source: Nelder (1965), Proc. R. Soc. A 283:147-178; Bailey (2008), Design of Comparative Experiments, chapter 10.

use super::Partition;
use crate::fit::Fit;
use crate::matrix::{Matrix, add_scaled, dot, symmetric_eigen};
use crate::plots::Plots;

/// How far a matrix may be from idempotent before the layout counts as not orthogonal.
const ROUNDING: f64 = 1e-8;

/// One stratum of an orthogonal layout.
#[derive(Debug, Clone)]
pub(crate) struct Stratum {
    pub name: String,
    /// Degrees of freedom for error.
    pub error_df: f64,
    /// Sum of squares for error.
    pub error_ss: f64,
    /// How a comparison of treatment means (weights `w`) varies with the stratum's variance: `w' share w`.
    share: Matrix,
    /// The stratum's part of every plot's deviation from its treatment mean.
    pub deviations: Vec<f64>,
}

impl Stratum {
    /// The error mean square, when there is one.
    pub fn error_ms(&self) -> Option<f64> {
        (self.error_df > 0.5).then(|| self.error_ss / self.error_df)
    }
}

/// A layout in which every treatment comparison can be divided over the strata without loss.
#[derive(Debug, Clone)]
pub(crate) struct OrthogonalLayout {
    pub strata: Vec<Stratum>,
    /// The error of the grand mean as a sum of the strata's mean squares.
    grand_mean_weights: Vec<f64>,
    /// Names of strata whose variance is estimated below zero.
    pub negative: Vec<String>,
}

/// The part of a term that lies in one stratum.
#[derive(Debug, Clone)]
pub(crate) struct StratumPart {
    /// Index of the stratum.
    pub stratum: usize,
    /// Comparisons, as rows of weights over all treatments.
    pub rows: Vec<Vec<f64>>,
    /// Sum of squares.
    pub ss: f64,
}

impl OrthogonalLayout {
    /// Divides the layout, or returns nothing when it is not orthogonal.
    pub fn of(plots: &Plots, partitions: &[Partition]) -> Option<Self> {
        let sizes: Vec<f64> = partitions.iter().map(Partition::uniform_size).collect::<Option<_>>()?;
        let coarser = coarser_strata(partitions);
        let ranks = ranks(partitions, &coarser)?;
        if !partitions_are_orthogonal(partitions, &coarser, plots.count()) {
            return None;
        }
        let shares = shares(plots, partitions, &coarser);
        if shares.iter().any(|share| !is_projection(share, &plots.replication)) {
            return None;
        }
        let deviations = deviations(&plots.within_treatments(), partitions, &coarser);
        let scale = dot(&plots.value, &plots.value);
        let strata: Vec<Stratum> = (0..partitions.len())
            .map(|index| {
                let treatment_df: f64 =
                    (0..plots.replication.len()).map(|t| shares[index][(t, t)] * plots.replication[t]).sum();
                let error_df = ranks[index] - treatment_df.round();
                let squares = dot(&deviations[index], &deviations[index]);
                let error_ss = if error_df > 0.5 && squares > 1e-28 * scale { squares } else { 0.0 };
                let (name, share) = (partitions[index].name.clone(), shares[index].clone());
                Stratum { name, error_df, error_ss, share, deviations: deviations[index].clone() }
            })
            .collect();
        let (grand_mean_weights, negative) = variance_structure(partitions, &coarser, &sizes, &strata);
        Some(Self { strata, grand_mean_weights, negative })
    }

    /// The innermost stratum.
    pub fn plot_stratum(&self) -> &Stratum {
        self.strata.last().expect("partitions() gives at least the plots")
    }

    /// Treatment means with the covariance that the strata's mean squares give them.
    pub fn fit(&self, plots: &Plots) -> Fit {
        let size = plots.replication.len();
        let mut covariance = Matrix::zeros(size, size);
        let (mut slopes, mut parameters, mut unknown) = (Vec::new(), Vec::new(), Vec::new());
        for (index, stratum) in self.strata.iter().enumerate() {
            let mut slope = stratum.share.clone();
            let of_grand_mean = self.grand_mean_weights[index] / plots.count() as f64;
            slope.values.iter_mut().for_each(|value| *value += of_grand_mean);
            match stratum.error_ms() {
                Some(ms) => {
                    covariance.add_scaled(ms, &slope);
                    parameters.push(2.0 * ms * ms / stratum.error_df);
                    slopes.push(slope);
                }
                None if slope.largest() > ROUNDING / plots.count() as f64 => {
                    unknown.push((stratum.name.clone(), slope))
                }
                None => {}
            }
        }
        Fit {
            present: plots.present.clone(),
            labels: plots.treatments.iter().map(|treatment| treatment.label.clone()).collect(),
            grand_mean: plots.grand_mean,
            means: plots.treatment_means(),
            adjusted: covariance.clone(),
            covariance,
            slopes,
            parameter_covariance: Matrix::from_diagonal(&parameters),
            unknown,
        }
    }

    /// Divides the comparisons of a term over the strata; nothing when they cannot be divided cleanly.
    pub fn divide(&self, rows: &[Vec<f64>], plots: &Plots) -> Option<Vec<StratumPart>> {
        let present: Vec<Vec<f64>> = rows.iter().map(|row| over_present(row, plots)).collect();
        let basis = orthonormal(&present, &plots.replication)?;
        let mut parts = Vec::new();
        for (index, stratum) in self.strata.iter().enumerate() {
            let within = basis.times(&stratum.share).times_transposed(&basis);
            let df = within.trace();
            if df < 0.5 {
                continue;
            }
            let here = if (df - rows.len() as f64).abs() < 1e-6 { basis.clone() } else { eigen_part(&within, &basis)? };
            let means = here.times_vector(&plots.treatment_means());
            parts.push(StratumPart { stratum: index, rows: over_all(&here, plots), ss: dot(&means, &means) });
        }
        let total: usize = parts.iter().map(|part| part.rows.len()).sum();
        (total == rows.len()).then_some(parts)
    }
}

/// For every stratum the strata further out that hold its units.
fn coarser_strata(partitions: &[Partition]) -> Vec<Vec<usize>> {
    let of = |index: usize| (0..index).filter(|&other| partitions[other].is_coarser_than(&partitions[index])).collect();
    (0..partitions.len()).map(of).collect()
}

/// Degrees of freedom of each stratum: its units less one and less what strata further out take.
fn ranks(partitions: &[Partition], coarser: &[Vec<usize>]) -> Option<Vec<f64>> {
    let mut ranks: Vec<f64> = Vec::new();
    for (index, partition) in partitions.iter().enumerate() {
        let taken: f64 = coarser[index].iter().map(|&other| ranks[other]).sum();
        ranks.push(partition.classes as f64 - 1.0 - taken);
    }
    ranks.iter().all(|&rank| rank > 0.5).then_some(ranks)
}

/// Two kinds of unit that cross are orthogonal when they meet equally often within whatever holds both.
fn partitions_are_orthogonal(partitions: &[Partition], coarser: &[Vec<usize>], plots: usize) -> bool {
    let crossed = |a: usize, b: usize| !coarser[b].contains(&a);
    let pairs = (0..partitions.len()).flat_map(|b| (0..b).map(move |a| (a, b)));
    pairs.filter(|&(a, b)| crossed(a, b)).all(|(a, b)| {
        let holders = || coarser[a].iter().filter(|other| coarser[b].contains(other));
        let closest = holders().max_by_key(|&&other| partitions[other].classes);
        let units = closest.map_or(1, |&other| partitions[other].classes);
        meet_equally(&partitions[a], &partitions[b], units, plots)
    })
}

fn meet_equally(a: &Partition, b: &Partition, holders: usize, plots: usize) -> bool {
    let mut met = std::collections::HashMap::new();
    a.class.iter().zip(&b.class).for_each(|pair| *met.entry(pair).or_insert(0_usize) += 1);
    // Within one holder a/h units meet b/h units; each meeting then has the same number of plots.
    let meetings = a.classes * b.classes / holders;
    met.len() == meetings && met.values().all(|&count| count * meetings == plots)
}

/// How the covariance of treatment means depends on each stratum's variance.
fn shares(plots: &Plots, partitions: &[Partition], coarser: &[Vec<usize>]) -> Vec<Matrix> {
    let size = plots.replication.len();
    let grand_mean = Matrix { rows: size, columns: size, values: vec![1.0 / plots.count() as f64; size * size] };
    let mut shares: Vec<Matrix> = Vec::new();
    for (index, partition) in partitions.iter().enumerate() {
        let mut share = if partition.classes == plots.count() {
            Matrix::from_diagonal(&plots.replication.iter().map(|count| 1.0 / count).collect::<Vec<_>>())
        } else {
            averaged_over_units(plots, partition)
        };
        share.add_scaled(-1.0, &grand_mean);
        coarser[index].iter().for_each(|&other| share.add_scaled(-1.0, &shares[other].clone()));
        shares.push(share);
    }
    shares
}

fn averaged_over_units(plots: &Plots, partition: &Partition) -> Matrix {
    let size = plots.replication.len();
    let mut weights = Matrix::zeros(partition.classes, size);
    for (&class, &treatment) in partition.class.iter().zip(&plots.treatment) {
        weights[(class, treatment)] += 1.0 / plots.replication[treatment];
    }
    let sizes = partition.sizes();
    let mut share = Matrix::zeros(size, size);
    for (class, unit_size) in sizes.iter().enumerate() {
        for treatment in 0..size {
            let weight = weights[(class, treatment)];
            if weight != 0.0 {
                add_scaled(share.row_mut(treatment), weight / unit_size, weights.row(class));
            }
        }
    }
    share
}

/// Whether the share, on the scale where treatment indicators have length one, is a projection.
fn is_projection(share: &Matrix, replication: &[f64]) -> bool {
    let mut scaled = share.clone();
    for row in 0..share.rows {
        for column in 0..share.columns {
            scaled[(row, column)] *= (replication[row] * replication[column]).sqrt();
        }
    }
    let mut excess = scaled.times(&scaled);
    excess.add_scaled(-1.0, &scaled);
    excess.largest() < ROUNDING
}

fn deviations(values: &[f64], partitions: &[Partition], coarser: &[Vec<usize>]) -> Vec<Vec<f64>> {
    let mut parts: Vec<Vec<f64>> = Vec::new();
    for (index, partition) in partitions.iter().enumerate() {
        let mut part = partition.averaged(values);
        coarser[index].iter().for_each(|&other| add_scaled(&mut part, -1.0, &parts[other].clone()));
        parts.push(part);
    }
    parts
}

/// How the grand mean's error follows from the strata, and the strata whose variance is estimated below zero.
///
/// A stratum's expected mean square is the sum, over itself and the strata inside it, of the unit size times the variance;
/// the grand mean has all of them.
fn variance_structure(
    partitions: &[Partition],
    coarser: &[Vec<usize>],
    sizes: &[f64],
    strata: &[Stratum],
) -> (Vec<f64>, Vec<String>) {
    let count = partitions.len();
    let mut components: Vec<Vec<f64>> = vec![vec![0.0; count]; count];
    let mut negative = Vec::new();
    for index in (0..count).rev() {
        let mut component = vec![0.0; count];
        component[index] = 1.0;
        for finer in (index + 1..count).filter(|&finer| coarser[finer].contains(&index)) {
            add_scaled(&mut component, -1.0, &components[finer].clone());
        }
        let estimate: Option<f64> =
            component.iter().zip(strata).filter(|(w, _)| **w != 0.0).map(|(w, s)| s.error_ms().map(|ms| w * ms)).sum();
        if estimate.is_some_and(|estimate| estimate < 0.0) && sizes[index] > 1.0 {
            negative.insert(0, partitions[index].name.clone());
        }
        components[index] = component;
    }
    let mut grand_mean = vec![0.0; count];
    components.iter().for_each(|component| add_scaled(&mut grand_mean, 1.0, component));
    (grand_mean, negative)
}

fn over_present(row: &[f64], plots: &Plots) -> Vec<f64> {
    let mut short = vec![0.0; plots.replication.len()];
    for (treatment, &weight) in row.iter().enumerate() {
        if let Some(index) = plots.present[treatment] {
            short[index] = weight;
        }
    }
    short
}

fn over_all(rows: &Matrix, plots: &Plots) -> Vec<Vec<f64>> {
    let spread =
        |row: usize| plots.present.iter().map(|present| present.map_or(0.0, |index| rows[(row, index)])).collect();
    (0..rows.rows).map(spread).collect()
}

/// Combines comparisons so that, with equal variances, their estimates are independent with variance one.
fn orthonormal(rows: &[Vec<f64>], replication: &[f64]) -> Option<Matrix> {
    let product = |a: &[f64], b: &[f64]| -> f64 { (0..replication.len()).map(|t| a[t] * b[t] / replication[t]).sum() };
    let mut basis: Vec<Vec<f64>> = Vec::new();
    for row in rows {
        let mut row = row.clone();
        let before = product(&row, &row);
        for _twice_for_rounding in 0..2 {
            for known in &basis {
                let share = product(known, &row);
                add_scaled(&mut row, -share, known);
            }
        }
        let after = product(&row, &row);
        if after <= 1e-18 * before {
            return None;
        }
        row.iter_mut().for_each(|value| *value /= after.sqrt());
        basis.push(row);
    }
    Some(Matrix::from_rows(&basis))
}

/// The comparisons that lie wholly in the stratum, when all lie wholly in or wholly out of it.
fn eigen_part(within: &Matrix, basis: &Matrix) -> Option<Matrix> {
    let (values, vectors) = symmetric_eigen(within);
    if values.iter().any(|value| (value - value.round()).abs() > 1e-6) {
        return None;
    }
    let chosen: Vec<Vec<f64>> =
        (0..values.len()).filter(|&index| values[index] > 0.5).map(|index| vectors.row(index).to_vec()).collect();
    Some(Matrix::from_rows(&chosen).times(basis))
}

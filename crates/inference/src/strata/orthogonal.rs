//! Whether the layout is orthogonal, and the mean squares of its strata if it is.
//!
//! Source: Nelder (1965), Proc. R. Soc. A 283:147-178; Bailey (2008), Design of Comparative Experiments, chapter 10.

use super::adjustment::Adjustment;
use super::expected::ExpectedMeanSquares;
use super::lattice::{Node, parts_of, strata};
use crate::fit::{Fit, rounded_df};
use crate::matrix::{Matrix, add_scaled, dot};
use crate::model::{Division, Partition};
use crate::plots::Plots;

/// How far a matrix may be from idempotent before the layout counts as not orthogonal.
const ROUNDING: f64 = 1e-8;

/// One stratum of an orthogonal layout.
#[derive(Debug, Clone)]
pub(crate) struct Stratum {
    pub name: String,
    /// Whether it has effects of its own, and so a mean square that is its error.
    pub has_effects: bool,
    /// Degrees of freedom for error.
    pub error_df: f64,
    /// Sum of squares for error.
    pub error_ss: f64,
    /// How a comparison of cell means (weights `w`) varies with the stratum's variance: `w' share w`.
    pub(super) share: Matrix,
    /// The stratum's part of every plot's deviation from its cell mean and from the covariates' slopes.
    pub deviations: Vec<f64>,
}

impl Stratum {
    /// The error mean square, when there is one.
    pub fn error_ms(&self) -> Option<f64> {
        (self.has_effects && self.error_df > 0.5).then(|| self.error_ss / self.error_df)
    }
}

/// What the comparisons of one stratum are judged by.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ErrorTerm {
    /// The stratum, or the sum of strata that stands for one without a mean square.
    pub name: String,
    /// Its size, per plot.
    pub ms: f64,
    /// Its degrees of freedom (Satterthwaite's, for a sum).
    pub df: f64,
    /// Whether it is a sum of mean squares.
    pub is_sum: bool,
}

/// A layout in which every comparison can be divided over the strata without loss.
#[derive(Debug, Clone)]
pub(crate) struct OrthogonalLayout {
    pub strata: Vec<Stratum>,
    expected: ExpectedMeanSquares,
    /// Names of strata whose variance is estimated below zero.
    pub negative: Vec<String>,
    /// What the covariates take off, where there are any.
    pub adjustment: Option<Adjustment>,
}

impl OrthogonalLayout {
    /// Divides the layout, or returns nothing when it is not orthogonal (or not in all that the covariates need).
    pub fn of(plots: &Plots, partitions: &[Partition]) -> Option<Self> {
        let nodes = strata(partitions)?;
        let shares = shares(plots, &nodes);
        if shares.iter().any(|share| !is_projection(share, &plots.cells.replication)) {
            return None;
        }
        let mut deviations = parts_of(&plots.within_cells(), &nodes);
        let adjustment = match plots.covariates.as_slice() {
            [] => None,
            _ => Some(Adjustment::of(plots, &nodes, &shares, &mut deviations)?),
        };
        let scale = dot(&plots.value, &plots.value);
        let last = nodes.len() - 1;
        let strata: Vec<Stratum> = nodes
            .iter()
            .zip(shares)
            .zip(deviations)
            .enumerate()
            .map(|(index, ((node, share), deviations))| {
                let fixed_df: f64 = (0..share.rows).map(|it| share[(it, it)] * plots.cells.replication[it]).sum();
                let slopes = if index == last { plots.covariates.len() as f64 } else { 0.0 };
                let error_df = node.rank - fixed_df.round() - slopes;
                let squares = dot(&deviations, &deviations);
                let error_ss = if error_df > 0.5 && squares > 1e-28 * scale { squares } else { 0.0 };
                let (name, has_effects) = (node.name.clone(), node.term.is_some());
                Stratum { name, has_effects, error_df, error_ss, share, deviations }
            })
            .collect();
        let expected = ExpectedMeanSquares::of(&nodes);
        let mut layout = Self { strata, expected, negative: Vec::new(), adjustment };
        layout.negative = layout.negative_variances(&nodes);
        Some(layout)
    }

    /// The innermost stratum.
    pub fn plot_stratum(&self) -> &Stratum {
        self.strata.last().expect("the plots are a random term of every experiment")
    }

    /// What comparisons in this stratum are judged by; none when that is not known or not above zero.
    pub fn error(&self, stratum: usize) -> Option<ErrorTerm> {
        let weights = &self.expected.of_stratum[stratum];
        let own = &self.strata[stratum];
        if own.has_effects {
            return own.error_ms().map(|ms| ErrorTerm { name: own.name.clone(), ms, df: own.error_df, is_sum: false });
        }
        self.summed(weights)
    }

    /// What the mean square of a stratum would estimate if its own classes did not vary; none for the innermost.
    pub fn inside(&self, stratum: usize) -> Option<ErrorTerm> {
        let mut weights = self.expected.of_stratum[stratum].clone();
        add_scaled(&mut weights, -1.0, &self.expected.own[stratum]);
        self.summed(&weights)
    }

    /// A sum of mean squares as an error; none when it is not known or not above zero.
    fn summed(&self, weights: &[f64]) -> Option<ErrorTerm> {
        let (ms, spread) = self.sum_of_mean_squares(weights)?;
        let is_useful = ms > 0.0 && spread > 0.0;
        let (name, df) = (self.words(weights), rounded_df(2.0 * ms * ms / spread));
        is_useful.then_some(ErrorTerm { name, ms, df, is_sum: true })
    }

    /// The sum and the variance of that sum; none when a mean square that it needs cannot be computed.
    fn sum_of_mean_squares(&self, weights: &[f64]) -> Option<(f64, f64)> {
        let mut sum = (0.0, 0.0);
        for (weight, stratum) in weights.iter().zip(&self.strata).filter(|(weight, _)| **weight != 0.0) {
            let part = weight * stratum.error_ms()?;
            sum = (sum.0 + part, sum.1 + 2.0 * part * part / stratum.error_df);
        }
        Some(sum)
    }

    fn words(&self, weights: &[f64]) -> String {
        let used = weights.iter().zip(&self.strata).filter(|(weight, _)| **weight != 0.0);
        let words = used.enumerate().map(|(position, (&weight, stratum))| {
            let sign = if weight < 0.0 {
                "- "
            } else if position > 0 {
                "+ "
            } else {
                ""
            };
            let times = if weight.abs() == 1.0 { String::new() } else { format!("{} ", weight.abs()) };
            format!("{sign}{times}{}", stratum.name)
        });
        words.collect::<Vec<_>>().join(" ")
    }

    fn negative_variances(&self, nodes: &[Node]) -> Vec<String> {
        let is_negative = |index: &usize| {
            let estimate = self.sum_of_mean_squares(&self.expected.own[*index]);
            nodes[*index].size > 1.0 && estimate.is_some_and(|(estimate, _)| estimate < 0.0)
        };
        (0..nodes.len()).filter(is_negative).map(|index| nodes[index].name.clone()).collect()
    }

    /// Cell means with the covariance that the strata's mean squares give them.
    pub fn fit(&self, plots: &Plots) -> Fit {
        let size = plots.parameters();
        let mut covariance = Matrix::zeros(size, size);
        let (mut slopes, mut parameters, mut unknown) = (Vec::new(), Vec::new(), Vec::new());
        for (index, stratum) in self.strata.iter().enumerate().filter(|(_, stratum)| stratum.has_effects) {
            let slope = self.slope(index, plots);
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
        let mut estimates = plots.cell_means();
        estimates.extend(self.adjustment.iter().flat_map(|it| it.slopes.clone()));
        Fit {
            estimates,
            adjusted: covariance.clone(),
            covariance,
            slopes,
            parameter_covariance: Matrix::from_diagonal(&parameters),
            unknown,
            ..Fit::of_cells(plots)
        }
    }

    /// How the covariance of cell means and slopes changes with the mean square of one stratum.
    fn slope(&self, index: usize, plots: &Plots) -> Matrix {
        let (size, cells) = (plots.parameters(), plots.cells.replication.len());
        let mut slope = Matrix::zeros(size, size);
        let of_grand_mean = self.expected.of_grand_mean[index] / plots.count() as f64;
        let weights: Vec<f64> = self.expected.of_stratum.iter().map(|weights| weights[index]).collect();
        for row in 0..cells {
            let entries = &mut slope.row_mut(row)[..cells];
            entries.iter_mut().for_each(|entry| *entry = of_grand_mean);
            for (stratum, &weight) in self.strata.iter().zip(&weights).filter(|(_, weight)| **weight != 0.0) {
                add_scaled(entries, weight, stratum.share.row(row));
            }
        }
        if let (Some(adjustment), true) = (&self.adjustment, index + 1 == self.strata.len()) {
            adjustment.add_variance_of_slopes(&mut slope, cells);
        }
        slope
    }
}

/// How the covariance of cell means depends on each stratum's variance.
fn shares(plots: &Plots, nodes: &[Node]) -> Vec<Matrix> {
    let replication = &plots.cells.replication;
    let size = replication.len();
    let grand_mean = Matrix { rows: size, columns: size, values: vec![1.0 / plots.count() as f64; size * size] };
    let mut shares: Vec<Matrix> = Vec::with_capacity(nodes.len());
    for node in nodes {
        let mut share = if node.division.classes == plots.count() {
            Matrix::from_diagonal(&replication.iter().map(|count| 1.0 / count).collect::<Vec<_>>())
        } else {
            averaged_over_classes(plots, &node.division)
        };
        share.add_scaled(-1.0, &grand_mean);
        node.coarser.iter().for_each(|&other| share.add_scaled(-1.0, &shares[other]));
        shares.push(share);
    }
    shares
}

fn averaged_over_classes(plots: &Plots, division: &Division) -> Matrix {
    let size = plots.cells.replication.len();
    let mut weights = Matrix::zeros(division.classes, size);
    for (&class, &cell) in division.class.iter().zip(&plots.cell) {
        weights[(class, cell)] += 1.0 / plots.cells.replication[cell];
    }
    let mut share = Matrix::zeros(size, size);
    for (class, class_size) in division.sizes().iter().enumerate() {
        for cell in 0..size {
            let weight = weights[(class, cell)];
            if weight != 0.0 {
                add_scaled(share.row_mut(cell), weight / class_size, weights.row(class));
            }
        }
    }
    share
}

/// Whether the share, on the scale where the cells' indicators have length one, is a projection.
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

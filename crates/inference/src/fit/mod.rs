//! The fixed means with all that is needed to judge any comparison among them.
//!
//! Every method ends here. The covariance of the estimates is a linear function of a few variance parameters; the classical
//! strata give those as mean squares with known degrees of freedom, REML as components with an information matrix.

mod f_test;
mod margins;

pub use f_test::FTest;
pub(crate) use margins::MarginErrors;

use crate::matrix::{Matrix, add_scaled, dot};
use crate::plots::Plots;
use crate::{Estimate, InferenceError};

/// Estimated cell means and slopes, and the uncertainty of any comparison among them.
///
/// The parameters are the means of the cells present (fixed treatments in fixed places and seasons, each where its own plots
/// have the covariates), minus the grand mean, and then one slope for each covariate.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fit {
    /// For every cell its index among those present.
    pub(crate) present: Vec<Option<usize>>,
    /// What the cells are called.
    pub(crate) labels: Vec<String>,
    /// For each treatment of the trial the cells over which its mean is taken, equally weighted.
    pub(crate) of_treatment: Vec<Vec<usize>>,
    /// What was taken off every value before fitting.
    pub(crate) grand_mean: f64,
    /// Cell means, then slopes.
    pub(crate) estimates: Vec<f64>,
    /// For each cell present and covariate how far the covariate's mean in the cell lies below its overall mean.
    pub(crate) offsets: Matrix,
    /// Covariance of the estimates at the estimated variances.
    pub(crate) covariance: Matrix,
    /// The same with Kenward and Roger's correction for having estimated the variances.
    pub(crate) adjusted: Matrix,
    /// For every variance parameter how the covariance of the estimates changes with it.
    pub(crate) slopes: Vec<Matrix>,
    /// Covariance of the estimated variance parameters, by their expected information.
    pub(crate) parameter_covariance: Matrix,
    /// The same by the observed information, variances at zero taken as known; none where it is the same or not to be had.
    pub(crate) observed_covariance: Option<Matrix>,
    /// Strata whose variance is not known, with how it would enter the covariance.
    pub(crate) unknown: Vec<(String, Matrix)>,
    /// Another fit of the same cells from which every comparison takes its degrees of freedom, where the method itself has none.
    pub(crate) df_like: Option<Box<Fit>>,
}

/// Stands for a stratum's name where the error cannot be put down to one.
const ALL_UNITS: &str = "all units";

impl Fit {
    /// What is known of the cells before anything is estimated.
    pub(crate) fn of_cells(plots: &Plots) -> Self {
        let cells = &plots.cells;
        let mut offsets = Matrix::zeros(cells.replication.len(), plots.covariates.len());
        for (column, covariate) in plots.covariates.iter().enumerate() {
            covariate.of_cell.iter().enumerate().for_each(|(cell, mean)| offsets[(cell, column)] = -mean);
        }
        Self {
            present: cells.present.clone(),
            labels: (0..cells.count()).map(|cell| cells.label(cell)).collect(),
            of_treatment: cells.of_treatment.iter().map(|&it| cells.of_fixed_treatment(it).collect()).collect(),
            grand_mean: plots.grand_mean,
            offsets,
            ..Self::default()
        }
    }

    /// Means of treatments by a method of its own: one cell for each treatment of the trial.
    ///
    /// - `labels`: of the treatments; `present`: for each its index among those with an estimate
    /// - `means`, `covariance`: of those with an estimate; `parameter_covariance` (of the variance parameters) and `slopes` (how
    ///   the covariance changes with each) give degrees of freedom: with none they are infinite
    pub fn of_treatments(
        labels: Vec<String>,
        present: Vec<Option<usize>>,
        means: Vec<f64>,
        covariance: Vec<Vec<f64>>,
        slopes: Vec<Vec<Vec<f64>>>,
        parameter_covariance: Vec<Vec<f64>>,
    ) -> Self {
        let covariance = Matrix::from_rows(&covariance);
        Self {
            of_treatment: (0..labels.len()).map(|treatment| vec![treatment]).collect(),
            offsets: Matrix::zeros(means.len(), 0),
            present,
            labels,
            estimates: means,
            adjusted: covariance.clone(),
            covariance,
            slopes: slopes.iter().map(|slope| Matrix::from_rows(slope)).collect(),
            parameter_covariance: Matrix::from_rows(&parameter_covariance),
            ..Self::default()
        }
    }

    /// The comparison of treatment means with these weights, one for each treatment of the trial in its own order.
    ///
    /// # Errors
    /// [`InferenceError::Weights`], [`InferenceError::NotEstimable`] when a treatment without values has weight,
    /// [`InferenceError::SampledLevels`] when levels are compared that are a sample, [`InferenceError::NoErrorInStratum`] when
    /// no error is known for it.
    pub fn contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        self.contrast_of_cells(&self.over_cells(weights)?)
    }

    /// Tests all comparisons (rows of weights over the treatments of the trial) at once.
    ///
    /// # Errors
    /// As [`Self::contrast`].
    /// # Source
    /// Kenward & Roger (1997), Biometrics 53:983-997. For one stratum this is the exact F test.
    pub fn f_test(&self, comparisons: &[Vec<f64>]) -> Result<FTest, InferenceError> {
        let rows: Vec<Vec<f64>> = comparisons.iter().map(|it| self.over_cells(it)).collect::<Result<_, _>>()?;
        self.f_test_of_cells(&rows)
    }

    /// A comparison by weights over the cells.
    pub(crate) fn contrast_of_cells(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        let row = self.row(weights)?;
        let constant = self.grand_mean * weights.iter().sum::<f64>();
        let known = self.estimate_of_row(&row)?;
        let df = match &self.df_like {
            Some(like) => like.contrast_of_cells(weights)?.df,
            None => known.df,
        };
        Ok(Estimate { estimate: known.estimate + constant, df, ..known })
    }

    /// A comparison by weights over the parameters.
    pub(crate) fn estimate_of_row(&self, row: &[f64]) -> Result<Estimate, InferenceError> {
        self.check_known(row)?;
        let variance = self.covariance.quadratic_form(row);
        let adjusted = self.adjusted.quadratic_form(row);
        if !(adjusted > 0.0 && variance > 0.0) {
            return Err(InferenceError::NoErrorInStratum { stratum: ALL_UNITS.into() });
        }
        let shares: Vec<f64> = self.slopes.iter().map(|slope| slope.quadratic_form(row) / variance).collect();
        let df = degrees_of_freedom(&shares, &self.parameter_covariance);
        Ok(Estimate { estimate: dot(row, &self.estimates), se: adjusted.sqrt(), df })
    }

    /// Weights over all cells as weights over the parameters: the means at the covariates' overall means.
    pub(crate) fn row(&self, weights: &[f64]) -> Result<Vec<f64>, InferenceError> {
        check_weights(weights, self.present.len())?;
        let cells = self.offsets.rows;
        let mut row = vec![0.0; self.estimates.len()];
        for (cell, &weight) in weights.iter().enumerate().filter(|(_, weight)| **weight != 0.0) {
            let Some(index) = self.present[cell] else {
                return Err(InferenceError::NotEstimable { treatment: self.labels[cell].clone() });
            };
            row[index] += weight;
            add_scaled(&mut row[cells..], weight, self.offsets.row(index));
        }
        Ok(row)
    }

    /// The parameter that is the slope of a covariate.
    pub(crate) fn slope_row(&self, covariate: usize) -> Vec<f64> {
        let mut row = vec![0.0; self.estimates.len()];
        row[self.offsets.rows + covariate] = 1.0;
        row
    }

    pub(crate) fn over_cells(&self, weights: &[f64]) -> Result<Vec<f64>, InferenceError> {
        check_weights(weights, self.of_treatment.len())?;
        let mut over = vec![0.0; self.present.len()];
        let mut of_first_cell: Vec<Option<f64>> = vec![None; self.present.len()];
        for (&weight, cells) in weights.iter().zip(&self.of_treatment) {
            let share = weight / cells.len() as f64;
            cells.iter().for_each(|&cell| over[cell] += share);
            // Treatments that are one here differ by sampled levels only.
            let known = of_first_cell[cells[0]].get_or_insert(weight);
            if *known != weight {
                return Err(InferenceError::SampledLevels);
            }
        }
        Ok(over)
    }

    fn check_known(&self, row: &[f64]) -> Result<(), InferenceError> {
        let size = dot(row, row);
        let depends = |matrix: &Matrix| matrix.quadratic_form(row).abs() > 1e-9 * size * matrix.largest();
        match self.unknown.iter().find(|(_, matrix)| depends(matrix)) {
            Some((stratum, _)) => Err(InferenceError::NoErrorInStratum { stratum: stratum.clone() }),
            None => Ok(()),
        }
    }
}

fn check_weights(weights: &[f64], expected: usize) -> Result<(), InferenceError> {
    let finite = weights.iter().filter(|weight| weight.is_finite()).count();
    if weights.len() != expected || finite != expected || weights.iter().all(|&weight| weight == 0.0) {
        return Err(InferenceError::Weights { found: finite, expected });
    }
    Ok(())
}

/// Satterthwaite's: twice the squared variance over its own variance; infinite when no variance was estimated.
pub(crate) fn degrees_of_freedom(shares: &[f64], parameter_covariance: &Matrix) -> f64 {
    let spread = parameter_covariance.quadratic_form(shares);
    if spread > 0.0 { rounded_df(2.0 / spread) } else { f64::INFINITY }
}

/// Degrees of freedom that differ from a whole number by rounding error only are that number.
pub(crate) fn rounded_df(df: f64) -> f64 {
    if (df - df.round()).abs() < 1e-8 * df { df.round() } else { df }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Two means with known variances: their difference is a normal deviate, and its square a chi-square on one degree of freedom.
    #[test]
    fn means_with_known_errors_have_infinite_degrees_of_freedom() {
        let labels = vec!["a".to_owned(), "b".into(), "c".into()];
        let covariance = vec![vec![0.5, 0.0], vec![0.0, 1.5]];
        let present = vec![Some(0), None, Some(1)];
        let fit = Fit::of_treatments(labels, present, vec![3.0, 1.0], covariance, Vec::new(), Vec::new());
        let difference = fit.contrast(&[1.0, 0.0, -1.0]).unwrap();
        assert_eq!((difference.estimate, difference.df), (2.0, f64::INFINITY));
        assert!((difference.se - 2.0_f64.sqrt()).abs() < 1e-15);
        let test = fit.f_test(&[vec![1.0, 0.0, 0.0], vec![0.0, 0.0, 1.0]]).unwrap();
        assert!(test.den_df.is_infinite() && (test.f - 0.5 * (9.0 / 0.5 + 1.0 / 1.5)).abs() < 1e-12);
        assert_eq!(fit.contrast(&[1.0, -1.0, 0.0]), Err(InferenceError::NotEstimable { treatment: "b".into() }));
    }
}

//! Means of treatments on the link's scale and in the unit of what was counted.

use super::fit::GeneralisedFit;
use super::model::Observed;
use crate::distribution::normal_quantile;
use crate::fit::Fit;
use crate::matrix::Matrix;
use crate::{Estimate, InferenceError};
use serde::{Deserialize, Serialize};

/// What can be said of a treatment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TreatmentState {
    /// Its mean is estimated by the model.
    Estimated,
    /// Every count is zero: no mean on the link's scale.
    NothingCounted,
    /// Every count is all there was: no mean on the link's scale.
    EverythingCounted,
    /// It has no observation.
    NoValues,
}

/// The mean of one treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct TreatmentMean {
    /// Its label.
    pub label: String,
    /// Whether the model estimates it; if not, `mean` is what was observed and the interval is the exact one of the counts
    /// taken together (Clopper & Pearson 1934; Garwood 1936), as if units did not differ.
    pub state: TreatmentState,
    /// Mean on the link's scale, columns at their averages, offset zero.
    pub link: Option<f64>,
    /// Its standard error; like the interval, none where units differ as the treatments do, so that nothing tells the error.
    pub link_se: Option<f64>,
    /// Proportion or count in a unit (plot, block) of middling effect: the link's mean transformed back.
    pub mean: Option<f64>,
    /// Standard error of `mean` by the delta method.
    pub se: Option<f64>,
    /// Lower end of the interval: the link interval's end transformed back.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Average proportion or count over all units like these; above `mean` for counts, nearer to a half for proportions.
    pub average: Option<f64>,
}

/// A combination of means, transformed back.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct BackTransformed {
    /// On the link's scale.
    pub link: Estimate,
    /// In the unit of what was counted.
    pub mean: f64,
    /// Standard error of `mean` by the delta method.
    pub se: f64,
    /// Lower end of the interval.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// How the link's scale changes with a column of the fixed part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ColumnSlope {
    /// Name of the column.
    pub name: String,
    /// Change per unit of the column.
    pub slope: f64,
    /// Its standard error.
    pub se: f64,
    /// Average of the column, at which the means are given.
    pub average: f64,
}

impl GeneralisedFit {
    /// Means of all treatments with intervals that leave out `level / 2` on either side.
    ///
    /// # Errors
    /// [`InferenceError::Setting`] for a level outside 0 to 0.5, [`InferenceError::FitNotKept`].
    pub fn means(&self, level: f64) -> Result<Vec<TreatmentMean>, InferenceError> {
        check_level(level)?;
        let kept = self.kept()?;
        (0..kept.states.len()).map(|treatment| self.treatment_mean(treatment, level)).collect()
    }

    fn treatment_mean(&self, treatment: usize, level: f64) -> Result<TreatmentMean, InferenceError> {
        let kept = self.kept()?;
        let (state, label) = (kept.states[treatment], kept.on_link.labels[treatment].clone());
        if state != TreatmentState::Estimated {
            let (mean, lower, upper) = kept.exact_interval(treatment, level);
            let none = None;
            return Ok(TreatmentMean {
                label,
                state,
                link: none,
                link_se: none,
                mean,
                se: none,
                lower,
                upper,
                average: mean,
            });
        }
        let mut weights = vec![0.0; kept.states.len()];
        weights[treatment] = 1.0;
        let back = match self.mean(&weights, level) {
            Ok(back) => back,
            // a unit that differs as the treatments do: the mean is known, its error is not
            Err(InferenceError::NoErrorInStratum { .. }) => return self.without_error(treatment),
            Err(error) => return Err(error),
        };
        Ok(TreatmentMean {
            label,
            state,
            link: Some(back.link.estimate),
            link_se: Some(back.link.se),
            mean: Some(back.mean),
            se: Some(back.se),
            lower: Some(back.lower),
            upper: Some(back.upper),
            average: Some(self.average_over_units(back.link.estimate)),
        })
    }

    fn without_error(&self, treatment: usize) -> Result<TreatmentMean, InferenceError> {
        let on_link = self.on_link()?;
        let link = on_link.present[treatment].map(|index| on_link.estimates[index]);
        Ok(TreatmentMean {
            label: on_link.labels[treatment].clone(),
            state: TreatmentState::Estimated,
            link,
            link_se: None,
            mean: link.map(|eta| self.link.natural(eta)),
            se: None,
            lower: None,
            upper: None,
            average: link.map(|eta| self.average_over_units(eta)),
        })
    }

    /// A combination of treatment means on the link's scale, such as a difference: a logarithm of an odds ratio or of a ratio
    /// of counts.
    ///
    /// # Errors
    /// As [`Fit::contrast`], and [`InferenceError::AtEdge`] when a treatment has weight that has no mean on this scale.
    pub fn contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        self.check_edge(weights)?;
        self.kept()?.on_link.contrast(weights)
    }

    /// A mean of treatments (weights adding to one), averaged on the link's scale and transformed back, the interval by its
    /// ends.
    ///
    /// # Errors
    /// As [`Self::contrast`]; [`InferenceError::Setting`] for a level outside 0 to 0.5.
    pub fn mean(&self, weights: &[f64], level: f64) -> Result<BackTransformed, InferenceError> {
        check_level(level)?;
        let link = self.contrast(weights)?;
        let half = -normal_quantile(0.5 * level) * link.se;
        let natural = |eta| self.link.natural(eta);
        Ok(BackTransformed {
            link,
            mean: natural(link.estimate),
            se: self.link.slope(link.estimate) * link.se,
            lower: natural(link.estimate - half),
            upper: natural(link.estimate + half),
        })
    }

    /// A combination of treatment means in the unit of what was counted, such as a difference of proportions: of the means of
    /// units of middling effect, by the delta method.
    ///
    /// # Errors
    /// As [`Self::contrast`].
    pub fn natural_contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        self.check_edge(weights)?;
        self.on_natural_scale()?.contrast(weights)
    }

    /// Means on the link's scale with their covariance, for tests and tables.
    ///
    /// # Errors
    /// [`InferenceError::FitNotKept`] when the result was read back from a file.
    pub fn on_link(&self) -> Result<&Fit, InferenceError> {
        Ok(&self.kept()?.on_link)
    }

    /// Means transformed back, with their covariance by the delta method.
    ///
    /// # Errors
    /// As [`Self::on_link`].
    pub fn on_natural_scale(&self) -> Result<Fit, InferenceError> {
        let on_link = &self.kept()?.on_link;
        let slopes =
            Matrix::from_diagonal(&on_link.estimates.iter().map(|&eta| self.link.slope(eta)).collect::<Vec<_>>());
        let turned = |matrix: &Matrix| slopes.times(matrix).times(&slopes);
        Ok(Fit {
            estimates: on_link.estimates.iter().map(|&eta| self.link.natural(eta)).collect(),
            covariance: turned(&on_link.covariance),
            adjusted: turned(&on_link.adjusted),
            slopes: on_link.slopes.iter().map(turned).collect(),
            unknown: on_link.unknown.iter().map(|(name, matrix)| (name.clone(), turned(matrix))).collect(),
            ..on_link.clone()
        })
    }

    /// Covariance of two treatments' means on the link's scale; nothing where one has no such mean.
    pub fn link_covariance(&self, a: usize, b: usize) -> Option<f64> {
        let on_link = &self.kept().ok()?.on_link;
        let at = |treatment: usize| on_link.present.get(treatment).copied().flatten();
        Some(on_link.covariance[(at(a)?, at(b)?)])
    }

    /// The proportion or count averaged over units whose effects have the estimated variances.
    fn average_over_units(&self, eta: f64) -> f64 {
        let sd = self.components.iter().map(|it| it.variance).sum::<f64>().sqrt();
        super::quadrature::average_of_natural(self.link, eta, sd)
    }

    /// Refuses weights on treatments that have no mean on the link's scale.
    pub(crate) fn check_edge(&self, weights: &[f64]) -> Result<(), InferenceError> {
        let kept = self.kept()?;
        let is_edge = |state| matches!(state, TreatmentState::NothingCounted | TreatmentState::EverythingCounted);
        let found = kept.states.iter().zip(weights).position(|(&state, &weight)| is_edge(state) && weight != 0.0);
        match found {
            Some(treatment) => Err(InferenceError::AtEdge { treatment: kept.on_link.labels[treatment].clone() }),
            None => Ok(()),
        }
    }
}

impl super::fit::Kept {
    /// What was observed of a treatment at the edge, with the exact interval.
    fn exact_interval(&self, treatment: usize, level: f64) -> (Option<f64>, Option<f64>, Option<f64>) {
        let own = || (0..self.treatment.len()).filter(|&i| self.treatment[i] == treatment);
        match (self.states[treatment], &self.observed) {
            (TreatmentState::NothingCounted, Observed::Proportions { trials, .. }) => {
                let trials: f64 = own().map(|i| trials[i]).sum();
                (Some(0.0), Some(0.0), Some(-((0.5 * level).ln() / trials).exp_m1()))
            }
            (TreatmentState::EverythingCounted, Observed::Proportions { trials, .. }) => {
                let trials: f64 = own().map(|i| trials[i]).sum();
                (Some(1.0), Some(((0.5 * level).ln() / trials).exp()), Some(1.0))
            }
            (TreatmentState::NothingCounted, Observed::Counts { .. }) => {
                let exposure: f64 = own().map(|i| self.offset.as_ref().map_or(1.0, |offset| offset[i].exp())).sum();
                (Some(0.0), Some(0.0), Some(-(0.5 * level).ln() / exposure))
            }
            _ => (None, None, None),
        }
    }
}

pub(crate) fn check_level(level: f64) -> Result<(), InferenceError> {
    if level > 0.0 && level < 0.5 {
        return Ok(());
    }
    let (what, expected) = ("the level".to_owned(), "above 0 and below 0.5".to_owned());
    Err(InferenceError::Setting { what, value: level, expected })
}

/// The first parameters as means of treatments: columns are centred before fitting, so that they are means at the averages.
pub(crate) fn fixed_means(present: Vec<Option<usize>>, labels: Vec<String>, fixed: &[f64], covariance: &Matrix) -> Fit {
    let count = present.iter().flatten().count();
    let own = (0..count).map(|row| covariance.row(row)[..count].to_vec()).collect();
    Fit::of_treatments(labels, present, fixed[..count].to_vec(), own, Vec::new(), Vec::new())
}

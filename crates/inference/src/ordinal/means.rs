//! Means of treatments on the hidden scale and as shares of the scores.

use super::fit::{Kept, OrdinalFit};
use crate::distribution::normal_quantile;
use crate::fit::Fit;
use crate::generalised::{ChiSquareTest, Compared, average_of_natural, check_level};
use crate::matrix::Matrix;
use crate::{Estimate, InferenceError};
use serde::{Deserialize, Serialize};

/// What can be said of a treatment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ScoreState {
    /// Its mean is estimated by the model.
    Estimated,
    /// It has the lowest score alone: no mean on the hidden scale.
    LowestOnly,
    /// It has the highest score alone: no mean on the hidden scale.
    HighestOnly,
    /// It has no scores.
    NoValues,
}

impl ScoreState {
    pub(crate) fn is_end(self) -> bool {
        matches!(self, Self::LowestOnly | Self::HighestOnly)
    }
}

/// One treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ScoreMean {
    /// Its label.
    pub label: String,
    /// Whether the model estimates it; if not, `shares` are those observed, without intervals.
    pub state: ScoreState,
    /// Mean on the hidden scale, columns at their averages: the logit (or normal deviate) of the share above the lowest score.
    pub link: Option<f64>,
    /// Its standard error; like those below, none where units differ as the treatments do, so that nothing tells the error.
    pub link_se: Option<f64>,
    /// Expected share of every score given, in a unit of middling effect.
    pub shares: Vec<ScoreShare>,
    /// Mean score, the lowest counted as 1, the next as 2 and so on; none without values.
    pub score: Option<f64>,
    /// Its standard error.
    pub score_se: Option<f64>,
}

/// The share of one score.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ScoreShare {
    /// The share, 0 to 1, in a unit of middling effect.
    pub share: f64,
    /// Its standard error, to first order.
    pub se: Option<f64>,
    /// Lower end of the interval, worked out on the logit scale.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// The share averaged over units whose effects have the estimated variances.
    pub average: f64,
}

impl OrdinalFit {
    /// Means of all treatments, with intervals that leave out `level / 2` on either side.
    ///
    /// # Errors
    /// [`InferenceError::Setting`] for a level outside 0 to 0.5, [`InferenceError::FitNotKept`].
    pub fn means(&self, level: f64) -> Result<Vec<ScoreMean>, InferenceError> {
        check_level(level)?;
        let kept = self.kept()?;
        (0..kept.states.len()).map(|treatment| self.score_mean(treatment, level)).collect()
    }

    fn score_mean(&self, treatment: usize, level: f64) -> Result<ScoreMean, InferenceError> {
        let kept = self.kept()?;
        let (state, label) = (kept.states[treatment], kept.on_link.labels[treatment].clone());
        let Some(index) = kept.on_link.present[treatment] else {
            let shares = kept.observed_shares(treatment);
            let score = (state != ScoreState::NoValues)
                .then(|| shares.iter().enumerate().map(|(score, it)| (score + 1) as f64 * it.share).sum());
            return Ok(ScoreMean { label, state, link: None, link_se: None, shares, score, score_se: None });
        };
        let mut weights = vec![0.0; kept.states.len()];
        weights[treatment] = 1.0;
        let link_se = match self.contrast(&weights) {
            Ok(estimate) => Some(estimate.se),
            // a unit that differs as the treatments do: the mean is known, its error is not
            Err(InferenceError::NoErrorInStratum { .. }) => None,
            Err(error) => return Err(error),
        };
        let mean = Shares::of(self, kept, index);
        let half = -normal_quantile(0.5 * level);
        let shares = (0..kept.labels.len()).map(|score| mean.share(score, half, link_se.is_some())).collect();
        let (score, se) = mean.score();
        Ok(ScoreMean {
            label,
            state,
            link: Some(kept.on_link.estimates[index]),
            link_se,
            shares,
            score: Some(score),
            score_se: link_se.map(|_| se),
        })
    }

    /// A combination of treatment means on the hidden scale, such as a difference: the logarithm of an odds ratio.
    ///
    /// # Errors
    /// As [`Fit::contrast`], and [`InferenceError::ScoresAtEnd`] when a treatment has weight that has no mean on this scale.
    pub fn contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        self.check_ends(weights)?;
        self.kept()?.on_link.contrast(weights)
    }

    /// Wald's test of all comparisons (rows of weights over the treatments) at once, on the hidden scale.
    ///
    /// # Errors
    /// As [`Self::contrast`]; [`InferenceError::Weights`] when the rows depend on each other.
    pub fn wald(&self, comparisons: &[Vec<f64>]) -> Result<ChiSquareTest, InferenceError> {
        comparisons.iter().try_for_each(|weights| self.check_ends(weights))?;
        ChiSquareTest::wald(self.on_link()?, comparisons)
    }

    /// Tests whether `reduced`, a special case of this model (the caller's part), fits worse: twice the difference of the
    /// log-likelihoods (Wilks 1938).
    ///
    /// # Errors
    /// As [`crate::generalised::likelihood_ratio`].
    pub fn likelihood_ratio(&self, reduced: &Self) -> Result<ChiSquareTest, InferenceError> {
        self.compared().likelihood_ratio(&reduced.compared())
    }

    fn compared(&self) -> Compared<'_> {
        Compared {
            likelihood: self.likelihood,
            log_likelihood: self.log_likelihood,
            parameters: self.parameters,
            observed: self.observations.iter().map(|it| (it.score as f64, it.count)).collect(),
            fixed_part: self.kept().ok().map(|kept| (kept.treatment.as_slice(), kept.columns.as_slice())),
        }
    }

    /// Means on the hidden scale with their covariance, for tests and tables.
    ///
    /// # Errors
    /// [`InferenceError::FitNotKept`] when the result was read back from a file.
    pub fn on_link(&self) -> Result<&Fit, InferenceError> {
        Ok(&self.kept()?.on_link)
    }

    /// Mean scores of the treatments, each score counted with a value of its own, with their covariance to first order.
    ///
    /// - `values`: one for each score of the model, rising
    ///
    /// # Errors
    /// [`InferenceError::Length`] for another number of values; as [`Self::on_link`].
    pub fn on_values(&self, values: &[f64]) -> Result<Fit, InferenceError> {
        let kept = self.kept()?;
        let (found, expected) = (values.len(), kept.labels.len());
        if found != expected {
            return Err(InferenceError::Length {
                list: "the list of values of the scores".to_owned(),
                found,
                expected,
            });
        }
        let count = kept.on_link.estimates.len();
        let (means, slopes): (Vec<f64>, Vec<Vec<f64>>) =
            (0..count).map(|index| Shares::of(self, kept, index).mean_of(values)).unzip();
        let slopes = Matrix::from_rows(&slopes);
        let covariance = slopes.times(&kept.covariance).times_transposed(&slopes);
        let turned = Matrix::from_diagonal(&(0..count).map(|index| slopes[(index, index)]).collect::<Vec<_>>());
        let unknown = kept.on_link.unknown.iter();
        Ok(Fit {
            estimates: means,
            adjusted: covariance.clone(),
            covariance,
            unknown: unknown.map(|(name, matrix)| (name.clone(), turned.times(matrix).times(&turned))).collect(),
            ..kept.on_link.clone()
        })
    }

    fn check_ends(&self, weights: &[f64]) -> Result<(), InferenceError> {
        let kept = self.kept()?;
        match kept.states.iter().zip(weights).position(|(state, &weight)| state.is_end() && weight != 0.0) {
            Some(treatment) => Err(InferenceError::ScoresAtEnd { treatment: kept.on_link.labels[treatment].clone() }),
            None => Ok(()),
        }
    }
}

impl Kept {
    fn observed_shares(&self, treatment: usize) -> Vec<ScoreShare> {
        let counts = &self.counts[treatment];
        let total: f64 = counts.iter().sum();
        let of = |count: &f64| {
            let share = if total > 0.0 { count / total } else { 0.0 };
            ScoreShare { share, se: None, lower: None, upper: None, average: share }
        };
        if total > 0.0 { counts.iter().map(of).collect() } else { Vec::new() }
    }
}

/// Shares of one treatment, with how they move with its mean and the thresholds.
struct Shares<'a> {
    fit: &'a OrdinalFit,
    kept: &'a Kept,
    /// Index of the treatment among those present.
    index: usize,
    eta: f64,
}

impl<'a> Shares<'a> {
    fn of(fit: &'a OrdinalFit, kept: &'a Kept, index: usize) -> Self {
        Self { fit, kept, index, eta: kept.on_link.estimates[index] }
    }

    /// Adds `factor` times the share below threshold `at` moves with its parameters to `slopes`.
    fn add_below(&self, slopes: &mut [f64], at: usize, factor: f64) {
        let density = factor * self.fit.link.link().slope(self.fit.thresholds[at].at - self.eta);
        slopes[self.index] -= density;
        slopes[self.kept.on_link.estimates.len() + at] += density;
    }

    fn share(&self, score: usize, half: f64, has_error: bool) -> ScoreShare {
        let kept = self.kept;
        let Ok(place) = kept.scores.binary_search(&score) else {
            return ScoreShare { share: 0.0, se: None, lower: None, upper: None, average: 0.0 };
        };
        let link = self.fit.link.link();
        let (above, below) = (self.fit.thresholds.get(place).map(|_| place), place.checked_sub(1));
        let mut slopes = vec![0.0; kept.covariance.rows];
        let distance = |at: usize| self.fit.thresholds[at].at - self.eta;
        // from the nearer end, so that a small share keeps its digits
        let between = |natural: &dyn Fn(f64) -> f64| match (above, below) {
            (Some(above), Some(below)) if distance(below) > 0.0 => {
                natural(-distance(below)) - natural(-distance(above))
            }
            (Some(above), Some(below)) => natural(distance(above)) - natural(distance(below)),
            (Some(above), None) => natural(distance(above)),
            (None, Some(below)) => natural(-distance(below)),
            (None, None) => 1.0,
        };
        let share = between(&|x| link.natural(x));
        let sd = self.fit.components.iter().map(|it| it.variance).sum::<f64>().sqrt();
        let average = between(&|x| average_of_natural(link, x, sd));
        above.into_iter().for_each(|at| self.add_below(&mut slopes, at, 1.0));
        below.into_iter().for_each(|at| self.add_below(&mut slopes, at, -1.0));
        if !has_error {
            return ScoreShare { share, se: None, lower: None, upper: None, average };
        }
        let se = kept.covariance.quadratic_form(&slopes).max(0.0).sqrt();
        let logit = share.ln() - (-share).ln_1p();
        let reach = half * se / (share * (1.0 - share));
        // a share that rounds to nothing or all has no place on the logit scale
        let natural = |x: f64| x.is_finite().then(|| 1.0 / (1.0 + (-x).exp()));
        ScoreShare { share, se: Some(se), lower: natural(logit - reach), upper: natural(logit + reach), average }
    }

    /// The mean score with its standard error, the lowest counted as 1.
    fn score(&self) -> (f64, f64) {
        let values: Vec<f64> = (0..self.kept.labels.len()).map(|score| (score + 1) as f64).collect();
        let (mean, slopes) = self.mean_of(&values);
        (mean, self.kept.covariance.quadratic_form(&slopes).max(0.0).sqrt())
    }

    /// The mean of the scores' values (the lowest, and the steps above every threshold, added) with how it moves with the
    /// parameters. Scores that nobody gave in between still count.
    fn mean_of(&self, values: &[f64]) -> (f64, Vec<f64>) {
        let kept = self.kept;
        let link = self.fit.link.link();
        let mut slopes = vec![0.0; kept.covariance.rows];
        let mut mean = values[kept.scores[0]];
        for (at, pair) in kept.scores.windows(2).enumerate() {
            let step = values[pair[1]] - values[pair[0]];
            mean += step * link.natural(self.eta - self.fit.thresholds[at].at);
            self.add_below(&mut slopes, at, -step);
        }
        (mean, slopes)
    }
}

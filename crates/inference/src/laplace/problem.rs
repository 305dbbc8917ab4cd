//! What is fitted: observations, fixed part, units.

use super::likelihood::Likelihood;
use super::pattern::{Pattern, Units};

/// A likelihood with its fixed part and its units.
///
/// Parameters stand in one list: a mean for every treatment, a slope for every covariate, a standard deviation for every
/// grouping (in the pattern's order), then the further parameters of the likelihood.
#[derive(Debug)]
pub(crate) struct Problem<L> {
    pub likelihood: L,
    /// The treatment of every observation, each of `0..treatments` at least once; empty when none is a parameter.
    pub treatment: Vec<usize>,
    pub treatments: usize,
    /// Covariates side by side for every observation.
    covariates: Vec<f64>,
    pub slopes: usize,
    offset: Vec<f64>,
    pub pattern: Pattern,
    /// Parameters that keep the value that they have.
    pub held: Vec<usize>,
}

impl<L: Likelihood> Problem<L> {
    /// - `covariates`: one list per covariate, each with one value per observation
    /// - `offset`: one value per observation
    pub fn new(
        likelihood: L,
        treatment: Vec<usize>,
        covariates: &[Vec<f64>],
        offset: Vec<f64>,
        units: &[Units],
    ) -> Self {
        let observations = treatment.len();
        let treatments = treatment.iter().max().map_or(0, |last| last + 1);
        let side_by_side = (0..observations).flat_map(|i| covariates.iter().map(move |covariate| covariate[i]));
        Self {
            covariates: side_by_side.collect(),
            slopes: covariates.len(),
            pattern: Pattern::of(units, observations),
            likelihood,
            treatment,
            treatments,
            offset,
            held: Vec::new(),
        }
    }

    /// The same observations with the treatments and each slope as one more grouping, given after `units`, whose effects may be
    /// anything; their standard deviations are to be held at one.
    pub fn with_flat_fixed_part(&self, units: &[Units]) -> Self
    where
        L: Clone,
    {
        let of_treatments = Units::flat(self.treatment.clone(), self.treatments);
        let covariate = |slope: usize| (0..self.observations()).map(|i| self.covariates(i)[slope]).collect();
        let of_slopes = (0..self.slopes).map(|slope| Units::flat_slope(covariate(slope)));
        let units: Vec<Units> = units.iter().cloned().chain([of_treatments]).chain(of_slopes).collect();
        Self {
            likelihood: self.likelihood.clone(),
            treatment: Vec::new(),
            treatments: 0,
            covariates: Vec::new(),
            slopes: 0,
            offset: self.offset.clone(),
            pattern: Pattern::of(&units, self.observations()),
            held: Vec::new(),
        }
    }

    pub fn observations(&self) -> usize {
        self.offset.len()
    }

    /// Covariates of one observation.
    pub fn covariates(&self, observation: usize) -> &[f64] {
        &self.covariates[observation * self.slopes..(observation + 1) * self.slopes]
    }

    pub fn offset(&self, observation: usize) -> f64 {
        self.offset[observation]
    }

    /// Number of means and slopes.
    pub fn fixed(&self) -> usize {
        self.treatments + self.slopes
    }

    /// Number of parameters.
    pub fn parameters(&self) -> usize {
        self.fixed() + self.pattern.groupings + self.likelihood.extras()
    }

    /// Where the standard deviations stand among the parameters.
    pub fn sd_range(&self) -> std::ops::Range<usize> {
        self.fixed()..self.fixed() + self.pattern.groupings
    }

    /// Where the further parameters stand.
    pub fn extras_range(&self) -> std::ops::Range<usize> {
        self.sd_range().end..self.parameters()
    }

    /// Parameters that enter by their squares only.
    pub fn spreads_range(&self) -> std::ops::Range<usize> {
        let end = if self.likelihood.extras_are_spreads() { self.parameters() } else { self.sd_range().end };
        self.fixed()..end
    }

    /// The linear predictor without the units.
    pub fn fixed_predictor(&self, parameters: &[f64]) -> Vec<f64> {
        let slopes = &parameters[self.treatments..self.fixed()];
        let of = |i: usize| {
            let covariates = self.covariates(i).iter().zip(slopes).map(|(x, slope)| x * slope);
            let mean = self.treatment.get(i).map_or(0.0, |&treatment| parameters[treatment]);
            mean + self.offset[i] + covariates.sum::<f64>()
        };
        (0..self.observations()).map(of).collect()
    }
}

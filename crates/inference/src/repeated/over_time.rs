//! Treatments within each occasion, and how each goes through the season.

use super::occasions::{OCCASION, Occasions};
use crate::error_models::Fixed;
use crate::fit::{FTest, Fit};
use crate::model::Cells;
use crate::terms::Margin;
use crate::trend::{Trend, trend};
use crate::{Estimate, SimpleEffect};
use serde::{Deserialize, Serialize};

/// Degrees of the polynomials over time.
const DEGREES: usize = 3;

/// What happens over time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct OverTime {
    /// What the trends run over: `day`, or `occasion` (its number) where no days were given.
    pub unit: String,
    /// Mean over all treatments first (where it can be estimated), then each treatment with values at two occasions or more.
    pub trends: Vec<TimeTrend>,
    /// Whether the linear trends of the treatments differ; none when some treatment lacks an occasion.
    pub slopes_differ: Option<FTest>,
}

/// The course of one treatment, or of the mean of all.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct TimeTrend {
    /// The treatment; none for the mean of all.
    pub treatment: Option<String>,
    /// Change for each day (or from one occasion to the next), by a straight line through the means.
    pub slope: Estimate,
    /// Polynomials with lack of fit.
    pub trend: Trend,
}

/// The cells of each occasion, treatment by treatment.
pub(super) struct ByOccasion<'a> {
    cells: &'a Cells,
    /// For each occasion met its index among all, with its environments.
    occasions: Vec<(usize, Vec<usize>)>,
}

impl<'a> ByOccasion<'a> {
    /// Sorts the cells of plots that were numbered by occasion.
    pub fn of(fixed: &'a Fixed, plots_per_occasion: usize) -> Self {
        let cells = &fixed.plots.cells;
        let mut occasions: Vec<(usize, Vec<usize>)> = Vec::new();
        for (&row, &environment) in fixed.plots.index.iter().zip(&cells.environment) {
            let occasion = row / plots_per_occasion;
            let place = occasions.iter().position(|it| it.0 == occasion).unwrap_or_else(|| {
                occasions.push((occasion, Vec::new()));
                occasions.len() - 1
            });
            if !occasions[place].1.contains(&environment) {
                occasions[place].1.push(environment);
            }
        }
        occasions.sort_unstable();
        Self { cells, occasions }
    }

    fn margin(&self, occasion: usize, treatments: &[usize]) -> Margin {
        let count = self.cells.treatments.len();
        let environments = &self.occasions[occasion].1;
        let members = environments.iter().flat_map(|it| treatments.iter().map(move |treatment| it * count + treatment));
        let label = |&treatment: &usize| self.cells.treatments[treatment].label.clone();
        Margin { levels: treatments.iter().map(label).collect(), members: members.collect() }
    }

    /// All differences between treatments within each occasion.
    pub fn differences(&self, fixed: &Fixed, fit: &Fit, occasions: &Occasions, level: f64) -> Vec<SimpleEffect> {
        let of = |place: usize| {
            let each = (0..self.cells.treatments.len()).map(|treatment| self.margin(place, &[treatment]));
            let margins: Vec<Margin> = each.filter(|it| it.is_estimable(self.cells)).collect();
            let label = occasions.visits[self.occasions[place].0].label.clone();
            (margins.len() > 1).then(|| SimpleEffect {
                of: self.cells.factors.iter().map(|it| it.name.clone()).collect(),
                at: vec![(OCCASION.to_owned(), label)],
                ..crate::analysis::effect_among(fit, &fixed.plots, &margins, level)
            })
        };
        (0..self.occasions.len()).filter_map(of).collect()
    }

    /// The courses over time.
    pub fn over_time(&self, fit: &Fit, occasions: &Occasions) -> OverTime {
        let by_cell = Fit { of_treatment: (0..self.cells.count()).map(|cell| vec![cell]).collect(), ..fit.clone() };
        let all: Vec<usize> = (0..self.cells.treatments.len()).collect();
        let name = |treatment: usize| Some(self.cells.treatments[treatment].label.clone());
        let mean = self.course(&by_cell, occasions, &all, None);
        let each = all.iter().filter_map(|&it| self.course(&by_cell, occasions, &[it], name(it)));
        let unit = if occasions.has_days() { "day" } else { OCCASION };
        OverTime {
            unit: unit.to_owned(),
            trends: mean.into_iter().chain(each).collect(),
            slopes_differ: self.slopes_differ(&by_cell, occasions),
        }
    }

    /// Times and weights over the cells at which the mean of some treatments can be estimated.
    fn means(&self, occasions: &Occasions, treatments: &[usize]) -> (Vec<f64>, Vec<Vec<f64>>) {
        let times = occasions.times();
        let met =
            (0..self.occasions.len()).map(|place| (times[self.occasions[place].0], self.margin(place, treatments)));
        let known = met.filter(|(_, margin)| margin.is_estimable(self.cells));
        known.map(|(time, margin)| (time, margin.weights(self.cells.count()))).unzip()
    }

    fn course(
        &self,
        fit: &Fit,
        occasions: &Occasions,
        treatments: &[usize],
        name: Option<String>,
    ) -> Option<TimeTrend> {
        let (times, means) = self.means(occasions, treatments);
        if times.len() < 2 {
            return None;
        }
        let slope = fit.contrast(&slope_weights(&times, &means)).ok()?;
        let trend = trend(fit, OCCASION, &times, &means, DEGREES.min(times.len() - 1)).ok()?;
        Some(TimeTrend { treatment: name, slope, trend })
    }

    fn slopes_differ(&self, fit: &Fit, occasions: &Occasions) -> Option<FTest> {
        let slope = |treatment: usize| {
            let (times, means) = self.means(occasions, &[treatment]);
            (times.len() == occasions.visits.len()).then(|| slope_weights(&times, &means))
        };
        let slopes: Option<Vec<Vec<f64>>> = (0..self.cells.treatments.len()).map(slope).collect();
        let slopes = slopes?;
        let against_first = |other: &Vec<f64>| other.iter().zip(&slopes[0]).map(|(a, b)| a - b).collect();
        let rows: Vec<Vec<f64>> = slopes[1..].iter().map(against_first).collect();
        if rows.is_empty() { None } else { fit.f_test(&rows).ok() }
    }
}

/// Weights over the cells of the least-squares slope through the means.
fn slope_weights(times: &[f64], means: &[Vec<f64>]) -> Vec<f64> {
    let middle = times.iter().sum::<f64>() / times.len() as f64;
    let size: f64 = times.iter().map(|it| (it - middle).powi(2)).sum();
    let mut weights = vec![0.0; means[0].len()];
    times
        .iter()
        .zip(means)
        .for_each(|(time, mean)| crate::matrix::add_scaled(&mut weights, (time - middle) / size, mean));
    weights
}

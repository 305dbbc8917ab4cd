//! Spread of the residuals by group.

use super::StudentisedResidual;
use crate::analysis::Kept;
use crate::distribution::f_upper;
use crate::fit::FTest;
use crate::model::Kind;
use serde::{Deserialize, Serialize};

/// Spread of the residuals by one kind of group.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct GroupSpread {
    /// What the groups are: `treatment`, or the name of the units.
    pub by: String,
    /// One for each group.
    pub rows: Vec<GroupRow>,
    /// Whether the spread differs between groups (Brown-Forsythe); none without two groups of three plots.
    pub brown_forsythe: Option<FTest>,
}

/// One group.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct GroupRow {
    /// Name for people.
    pub label: String,
    /// Number of plots.
    pub n: usize,
    /// Mean of the values.
    pub mean: f64,
    /// Standard deviation of the residuals about their own mean; none for a single plot.
    pub sd: Option<f64>,
}

/// By treatment first; then by units that stand in no others, by places and seasons.
pub(super) fn groups(kept: &Kept, residuals: &[StudentisedResidual]) -> Vec<GroupSpread> {
    let plots = &kept.plots;
    let treatments = &kept.experiment.treatments.treatments();
    let labels: Vec<String> = treatments.iter().map(|it| it.label.clone()).collect();
    let mut found = vec![spread("treatment".into(), &plots.treatment, &labels, residuals)];
    let outer = &kept.partitions[..kept.partitions.len() - 1];
    let stands_in = |it: &crate::model::Partition| {
        outer.iter().any(|other| other.name != it.name && other.division.holds(&it.division))
    };
    for unit in outer.iter().filter(|it| it.kind == Kind::Units && !stands_in(it)) {
        let labels: Vec<String> = unit.class_labels(&kept.experiment, plots).iter().map(|it| it.join(", ")).collect();
        found.push(spread(unit.name.clone(), &unit.division.class, &labels, residuals));
    }
    for place in
        plots.environments.iter().filter(|place| !found.iter().any(|it| it.by == place.name)).collect::<Vec<_>>()
    {
        let labels: Vec<String> =
            crate::model::levels(&kept.experiment, &plots.index, place).iter().map(|it| it.join(", ")).collect();
        found.push(spread(place.name.clone(), &place.division.class, &labels, residuals));
    }
    found
}

fn spread(by: String, class: &[usize], labels: &[String], residuals: &[StudentisedResidual]) -> GroupSpread {
    let mut members: Vec<Vec<usize>> = vec![Vec::new(); labels.len()];
    class.iter().enumerate().for_each(|(plot, &class)| members[class].push(plot));
    let of = |plots: &[usize]| plots.iter().map(|&plot| residuals[plot].residual).collect::<Vec<f64>>();
    let mut rows = Vec::new();
    for (label, plots) in labels.iter().zip(&members).filter(|(_, plots)| !plots.is_empty()) {
        let values = plots.iter().map(|&plot| residuals[plot].fitted + residuals[plot].residual);
        let mean = values.sum::<f64>() / plots.len() as f64;
        rows.push(GroupRow { label: label.clone(), n: plots.len(), mean, sd: standard_deviation(&of(plots)) });
    }
    let samples: Vec<Vec<f64>> = members.iter().filter(|plots| plots.len() >= 3).map(|plots| of(plots)).collect();
    GroupSpread { by, rows, brown_forsythe: brown_forsythe(&samples) }
}

fn standard_deviation(values: &[f64]) -> Option<f64> {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (values.len() > 1).then(|| (squares / (values.len() - 1) as f64).sqrt())
}

/// Analysis of variance of the distances from each group's median.
///
/// # Source
/// Brown & Forsythe (1974), JASA 69:364-367 (from memory); checked against scipy.
fn brown_forsythe(samples: &[Vec<f64>]) -> Option<FTest> {
    let count: usize = samples.iter().map(Vec::len).sum();
    if samples.len() < 2 {
        return None;
    }
    let distances: Vec<Vec<f64>> = samples
        .iter()
        .map(|sample| {
            let median = median(sample);
            sample.iter().map(|value| (value - median).abs()).collect()
        })
        .collect();
    let grand = distances.iter().flatten().sum::<f64>() / count as f64;
    let (mut between, mut within) = (0.0, 0.0);
    for distances in &distances {
        let mean = distances.iter().sum::<f64>() / distances.len() as f64;
        between += distances.len() as f64 * (mean - grand).powi(2);
        within += distances.iter().map(|it| (it - mean).powi(2)).sum::<f64>();
    }
    let (num_df, den_df) = ((samples.len() - 1) as f64, (count - samples.len()) as f64);
    let f = (between / num_df) / (within / den_df);
    (within > 0.0).then(|| FTest { num_df, den_df, f, p: f_upper(f, num_df, den_df) })
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    if sorted.len() % 2 == 1 { sorted[middle] } else { 0.5 * (sorted[middle - 1] + sorted[middle]) }
}

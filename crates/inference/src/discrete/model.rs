//! From the experiment to the model of counts, shares and scores.

use super::DiscreteKind;
use crate::generalised::{FixedColumn, GeneralisedModel, Grouping, Observed, check_count};
use crate::model::Partition;
use crate::ordinal::{OrdinalModel, ScoreLink};
use crate::plots::Plots;
use crate::{Covariate, Experiment, InferenceError};

/// Looks at every value where its plot is still known by its index in the experiment.
///
/// # Errors
/// What cannot have been counted is named with its plot.
pub(super) fn check_values(experiment: &Experiment, kind: &DiscreteKind) -> Result<(), InferenceError> {
    let expected = experiment.response.len();
    if let DiscreteKind::Counts { searched: Some(beside), .. } | DiscreteKind::Shares { of: beside, .. } = kind
        && beside.len() != expected
    {
        let list = "the list of numbers out of which was counted, or of what was searched".to_owned();
        return Err(InferenceError::Length { list, found: beside.len(), expected });
    }
    for (plot, value) in experiment.response.iter().enumerate() {
        let Some(value) = *value else { continue };
        match kind {
            DiscreteKind::Counts { searched, .. } => {
                check_count("count", plot, value)?;
                check_searched(plot, searched.as_ref().and_then(|it| it[plot]))?;
            }
            DiscreteKind::Shares { of, .. } => {
                check_count("count", plot, value)?;
                let Some(trials) = of[plot] else { continue };
                check_count("number out of which was counted", plot, trials)?;
                if trials == 0.0 {
                    return Err(InferenceError::NoTrials { plot });
                }
                if value > trials {
                    return Err(InferenceError::MoreThanAll { plot, successes: value, trials });
                }
            }
            DiscreteKind::Scores { .. } => {}
        }
    }
    Ok(())
}

fn check_searched(plot: usize, searched: Option<f64>) -> Result<(), InferenceError> {
    match searched {
        Some(size) if !(size > 0.0 && size.is_finite()) => Err(InferenceError::NothingSearched { plot, size }),
        _ => Ok(()),
    }
}

/// The parts that models of every kind share: one fixed mean for every cell, one effect for every unit.
pub(super) struct Parts {
    values: Vec<f64>,
    treatments: Vec<String>,
    treatment: Vec<usize>,
    columns: Vec<FixedColumn>,
    groupings: Vec<Grouping>,
}

impl Parts {
    pub fn of(experiment: &Experiment, plots: &Plots, partitions: &[Partition]) -> Self {
        let cells = &plots.cells;
        let mut cell_of = vec![0; cells.replication.len()];
        cells.present.iter().enumerate().for_each(|(cell, present)| {
            if let Some(index) = present {
                cell_of[*index] = cell;
            }
        });
        let column = |covariate: &Covariate| {
            let (name, values) = (covariate.name.clone(), used(plots, &covariate.values));
            FixedColumn { name, values }
        };
        Self {
            values: used(plots, &experiment.response),
            treatments: (0..cells.count()).map(|cell| cells.label(cell)).collect(),
            treatment: plots.cell.iter().map(|&index| cell_of[index]).collect(),
            columns: experiment.covariates.iter().map(column).collect(),
            groupings: partitions.iter().map(grouping).collect(),
        }
    }

    /// A model of counts or shares.
    pub fn counted(self, observed: impl FnOnce(Vec<f64>) -> Observed, offset: Option<Vec<f64>>) -> GeneralisedModel {
        let Self { values, treatments, treatment, columns, groupings } = self;
        GeneralisedModel { observed: observed(values), treatments, treatment, columns, offset, groupings }
    }

    /// A model of scores: the values that occur, lowest first, are the scores.
    ///
    /// # Errors
    /// [`InferenceError::TooManyScores`] when so many different values are no scores.
    pub fn scored(self, link: ScoreLink) -> Result<(OrdinalModel, Vec<f64>), InferenceError> {
        /// Scales of more steps are measured, not scored; common practice, no source.
        const MOST: usize = 30;
        let mut scores = self.values.clone();
        scores.sort_by(f64::total_cmp);
        scores.dedup();
        if scores.len() > MOST {
            return Err(InferenceError::TooManyScores { found: scores.len(), most: MOST });
        }
        let Self { values, treatments, treatment, columns, groupings } = self;
        let place = |value: &f64| scores.partition_point(|score| score < value);
        let model = OrdinalModel {
            scores: scores.iter().map(f64::to_string).collect(),
            score: values.iter().map(place).collect(),
            count: vec![1.0; values.len()],
            link,
            treatments,
            treatment,
            columns,
            groupings,
        };
        Ok((model, scores))
    }
}

/// The values of the plots that are used.
pub(super) fn used(plots: &Plots, values: &[Option<f64>]) -> Vec<f64> {
    plots.index.iter().filter_map(|&plot| values[plot]).collect()
}

fn grouping(partition: &Partition) -> Grouping {
    let division = &partition.division;
    Grouping { name: partition.name.clone(), class: division.class.clone(), classes: division.classes }
}

//! Input that cannot be what it says it is.

use super::model::{FixedColumn, GeneralisedModel, Grouping, Observed};
use crate::InferenceError;

/// A larger number was not counted one by one; a double holds whole numbers far beyond it.
const LARGEST_COUNT: f64 = 1e9;

/// Looks at everything that must be right before anything is computed.
pub(crate) fn check(model: &GeneralisedModel) -> Result<(), InferenceError> {
    let count = model.observed.count();
    check_lengths(count, &model.treatments, &model.treatment)?;
    match &model.observed {
        Observed::Proportions { successes, trials, .. } => check_proportions(successes, trials)?,
        Observed::Counts { counts, .. } => {
            counts.iter().enumerate().try_for_each(|(plot, &count)| check_count("count", plot, count))?;
        }
    }
    if let Some(offset) = &model.offset {
        check_column(count, "the offset", offset)?;
    }
    check_columns(count, &model.columns)?;
    check_groupings(count, &model.groupings)
}

/// The list of treatments against the number of observations.
pub(crate) fn check_lengths(count: usize, labels: &[String], treatment: &[usize]) -> Result<(), InferenceError> {
    if count == 0 {
        return Err(InferenceError::NoValues);
    }
    check_length("the list of treatments", treatment.len(), count)?;
    let treatments = labels.len();
    match treatment.iter().enumerate().find(|&(_, &treatment)| treatment >= treatments) {
        Some((plot, &treatment)) => Err(InferenceError::UnknownTreatment { plot, treatment, treatments }),
        None => Ok(()),
    }
}

/// Covariates and fixed units.
pub(crate) fn check_columns(count: usize, columns: &[FixedColumn]) -> Result<(), InferenceError> {
    columns.iter().try_for_each(|column| check_column(count, &format!("'{}'", column.name), &column.values))
}

/// Unit numbers.
pub(crate) fn check_groupings(count: usize, groupings: &[Grouping]) -> Result<(), InferenceError> {
    for grouping in groupings {
        check_length(&format!("the units of '{}'", grouping.name), grouping.class.len(), count)?;
        if let Some((plot, &class)) = grouping.class.iter().enumerate().find(|&(_, &class)| class >= grouping.classes) {
            let (unit, classes) = (grouping.name.clone(), grouping.classes);
            return Err(InferenceError::UnknownClass { unit, plot, class, classes });
        }
    }
    Ok(())
}

/// A whole number that is not negative and that somebody can have counted.
pub(crate) fn check_count(what: &str, plot: usize, value: f64) -> Result<(), InferenceError> {
    let what = what.to_owned();
    if !value.is_finite() {
        Err(InferenceError::NotFinite { plot, value })
    } else if value < 0.0 {
        Err(InferenceError::NegativeCount { what, plot, value })
    } else if value > LARGEST_COUNT {
        Err(InferenceError::CountTooLarge { what, plot, value })
    } else if value.fract() != 0.0 {
        Err(InferenceError::NotWhole { what, plot, value })
    } else {
        Ok(())
    }
}

fn check_proportions(successes: &[f64], trials: &[f64]) -> Result<(), InferenceError> {
    check_length("the list of trials", trials.len(), successes.len())?;
    for (plot, (&successes, &trials)) in successes.iter().zip(trials).enumerate() {
        check_count("number out of", plot, trials)?;
        check_count("count", plot, successes)?;
        if trials == 0.0 {
            return Err(InferenceError::NoTrials { plot });
        }
        if successes > trials {
            return Err(InferenceError::MoreThanAll { plot, successes, trials });
        }
    }
    Ok(())
}

fn check_column(count: usize, name: &str, values: &[f64]) -> Result<(), InferenceError> {
    /// On a logit or log scale nothing of use lies further out, and squares can still be held.
    const LARGEST: f64 = 1e100;
    check_length(name, values.len(), count)?;
    match values.iter().enumerate().find(|&(_, value)| value.is_nan() || value.abs() >= LARGEST) {
        Some((plot, &value)) if value.is_finite() => Err(InferenceError::TooLarge { plot, value }),
        Some((plot, &value)) => Err(InferenceError::NotFinite { plot, value }),
        None => Ok(()),
    }
}

/// A list against the number of observations.
pub(crate) fn check_length(list: &str, found: usize, expected: usize) -> Result<(), InferenceError> {
    if found == expected { Ok(()) } else { Err(InferenceError::Length { list: list.to_owned(), found, expected }) }
}

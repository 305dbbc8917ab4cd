//! Treatments with the lowest or the highest score alone, and scores that nobody gave.
//!
//! On the hidden scale such a treatment is infinitely far out. It says nothing about the others, so the model is fitted without
//! it; its scores may then be missing from the rest, which moves the ends of the scale, until no treatment is left at an end.

use super::means::ScoreState;
use super::model::OrdinalModel;
use crate::{InferenceError, Notice};

/// The rows as they enter the model.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sorted {
    /// The state of every treatment.
    pub states: Vec<ScoreState>,
    /// For every treatment its index among those that are estimated.
    pub present: Vec<Option<usize>>,
    /// Rows of estimated treatments that hold something.
    pub used: Vec<usize>,
    /// Scores that occur in those rows, lowest first.
    pub scores: Vec<usize>,
    /// Number of scores that occur anywhere.
    pub given: usize,
}

/// Sorts treatments and scores.
///
/// # Errors
/// [`InferenceError::OneScore`] when fewer than two scores, or no treatment, are left; [`InferenceError::ScoreNotCrossed`] when
/// the treatments fall into low and high ones with a score in between that none of them crosses.
pub(crate) fn sort(model: &OrdinalModel) -> Result<Sorted, InferenceError> {
    let counts = counts(model);
    let any = |treatment: usize| counts[treatment].iter().any(|&count| count > 0.0);
    let mut states: Vec<ScoreState> = (0..counts.len())
        .map(|treatment| if any(treatment) { ScoreState::Estimated } else { ScoreState::NoValues })
        .collect();
    let given = occurring(&counts, &states).len();
    loop {
        let scores = occurring(&counts, &states);
        let [lowest, .., highest] = scores[..] else {
            return Err(InferenceError::OneScore { rows: model.score.len() });
        };
        let mut changed = false;
        for (state, counts) in states.iter_mut().zip(&counts).filter(|(state, _)| **state == ScoreState::Estimated) {
            let only = |end: usize| counts.iter().enumerate().all(|(score, &count)| score == end || count == 0.0);
            let found = match (only(lowest), only(highest)) {
                (true, _) => ScoreState::LowestOnly,
                (_, true) => ScoreState::HighestOnly,
                _ => continue,
            };
            (*state, changed) = (found, true);
        }
        if !changed {
            let mut next = 0..;
            let present: Vec<Option<usize>> =
                states.iter().map(|state| (*state == ScoreState::Estimated).then(|| next.next()).flatten()).collect();
            if let Some(&score) =
                scores[1..scores.len() - 1].iter().find(|&&score| !is_crossed(score, &counts, &states))
            {
                return Err(InferenceError::ScoreNotCrossed { score: model.scores[score].clone() });
            }
            let is_used = |&i: &usize| present[model.treatment[i]].is_some() && model.count[i] > 0.0;
            let used = (0..model.score.len()).filter(is_used).collect();
            return Ok(Sorted { states, present, used, scores, given });
        }
    }
}

/// How many things of each treatment have each score.
pub(crate) fn counts(model: &OrdinalModel) -> Vec<Vec<f64>> {
    let mut counts = vec![vec![0.0; model.scores.len()]; model.treatments.len()];
    for ((&treatment, &score), &count) in model.treatment.iter().zip(&model.score).zip(&model.count) {
        counts[treatment][score] += count;
    }
    counts
}

/// Whether some treatment has scores on both sides of this one.
///
/// If none has, the thresholds on its two sides, each with its treatments, can drift apart for ever and the likelihood only
/// grows. Columns apart, that is the only way in which it has no maximum: every treatment with two scores ties the thresholds
/// between them together.
fn is_crossed(score: usize, counts: &[Vec<f64>], states: &[ScoreState]) -> bool {
    let any = |counts: &[f64]| counts.iter().any(|&count| count > 0.0);
    let mut own = counts.iter().zip(states).filter(|(_, state)| **state == ScoreState::Estimated);
    own.any(|(counts, _)| any(&counts[..score]) && any(&counts[score + 1..]))
}

fn occurring(counts: &[Vec<f64>], states: &[ScoreState]) -> Vec<usize> {
    let own = || counts.iter().zip(states).filter(|(_, state)| **state == ScoreState::Estimated);
    let scores = counts.first().map_or(0, Vec::len);
    (0..scores).filter(|&score| own().any(|(counts, _)| counts[score] > 0.0)).collect()
}

impl Sorted {
    /// What a reader must know about treatments that are not estimated and scores that do not occur.
    pub fn notices(&self, model: &OrdinalModel) -> Vec<Notice> {
        let of = |(state, label): (&ScoreState, &String)| {
            let treatment = label.clone();
            match state {
                ScoreState::Estimated => None,
                ScoreState::NoValues => Some(Notice::TreatmentWithoutValues { treatment }),
                ScoreState::LowestOnly => Some(Notice::LowestScoreOnly { treatment }),
                ScoreState::HighestOnly => Some(Notice::HighestScoreOnly { treatment }),
            }
        };
        let treatments = self.states.iter().zip(&model.treatments).filter_map(of);
        let absent = (0..model.scores.len()).filter(|score| !self.scores.contains(score));
        let absent = absent.map(|score| Notice::ScoreNotGiven { score: model.scores[score].clone() });
        treatments.chain(absent).collect()
    }
}

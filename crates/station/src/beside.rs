//! Models of the errors of a measure beside its analysis as randomised: of the ground, and of places and seasons that vary
//! unequally.

use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::{Arc, Mutex, PoisonError};

use guardrow_inference::{
    ErrorsByEnvironment, Experiment, FieldPositions, FieldTrend, InferenceError, Options, errors_by_environment,
    field_trend,
};

use crate::analysed::Analysed;
use crate::dossier::Laid;

/// With more plots than this, models of the ground take seconds and are not tried unasked.
pub(crate) const MOST_PLOTS: usize = 260;

/// Models of the errors of one measure.
#[derive(Debug, Clone, Default)]
pub(crate) struct Beside {
    /// Models of the ground, where the places of the plots are known; or why none could be fitted.
    pub ground: Option<Result<FieldTrend, InferenceError>>,
    /// Models with a variance for each place or season, where there are several.
    pub places: Option<Result<ErrorsByEnvironment, InferenceError>>,
}

/// What was worked out before: the same values on the same plots say the same.
#[derive(Debug, Default)]
pub(crate) struct Remembered(Mutex<HashMap<u64, Arc<Beside>>>);

impl Remembered {
    /// Enough for the measures of some seasons' trials.
    const MOST: usize = 200;

    /// The models of one measure, from memory where they are there.
    pub(crate) fn beside(&self, measure: &Analysed, laid: &Laid, places_are_known: bool) -> Arc<Beside> {
        let question = Question::of(measure, laid, places_are_known);
        let key = question.key();
        if let Some(found) = self.lock().get(&key) {
            return Arc::clone(found);
        }
        let found = Arc::new(question.answered());
        let mut kept = self.lock();
        if kept.len() >= Self::MOST {
            kept.clear();
        }
        kept.insert(key, Arc::clone(&found));
        found
    }

    /// Nothing that a panic elsewhere could leave half done is in it.
    fn lock(&self) -> std::sync::MutexGuard<'_, HashMap<u64, Arc<Beside>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// All that the models depend on.
struct Question<'a> {
    experiment: &'a Experiment,
    ground: Option<FieldPositions>,
}

impl<'a> Question<'a> {
    fn of(measure: &'a Analysed, laid: &Laid, places_are_known: bool) -> Self {
        let experiment = &measure.experiment;
        let plots = laid.layout.in_number_order();
        let is_one_field = experiment.environments.is_empty();
        let is_small = experiment.response.iter().flatten().count() <= MOST_PLOTS;
        let ground = (places_are_known && is_one_field && is_small).then(|| {
            FieldPositions::new(
                plots.iter().map(|plot| plot.range).collect(),
                plots.iter().map(|plot| plot.pass).collect(),
            )
        });
        Self { experiment, ground }
    }

    fn key(&self) -> u64 {
        let mut hasher = DefaultHasher::new();
        format!("{:?} {:?}", self.experiment, self.ground).hash(&mut hasher);
        hasher.finish()
    }

    fn answered(&self) -> Beside {
        let options = Options::default();
        let has_places = !self.experiment.environments.is_empty();
        Beside {
            ground: self.ground.as_ref().map(|ground| field_trend(self.experiment, ground, &options)),
            places: has_places.then(|| errors_by_environment(self.experiment, &options)),
        }
    }
}

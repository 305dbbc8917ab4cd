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

/// The same for models with an error of each place or season, which are of one covariance for all plots of a place.
pub(crate) const MOST_PLOTS_AT_PLACES: usize = 600;

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
        self.answer(&Question::of(measure, laid, places_are_known))
    }

    fn answer(&self, question: &Question<'_>) -> Arc<Beside> {
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
        let is_small = self.experiment.response.iter().flatten().count() <= MOST_PLOTS_AT_PLACES;
        let has_places = is_small && has_several_places(self.experiment);
        Beside {
            ground: self.ground.as_ref().map(|ground| field_trend(self.experiment, ground, &options)),
            places: has_places.then(|| errors_by_environment(self.experiment, &options)),
        }
    }
}

/// Whether values came from more than one place or season.
fn has_several_places(experiment: &Experiment) -> bool {
    let environments = experiment.units.iter().filter(|(unit, _)| experiment.environments.contains(unit));
    environments.into_iter().any(|(_, of_plots)| {
        let mut met = of_plots.iter().zip(&experiment.response).filter(|(_, value)| value.is_some()).map(|(it, _)| it);
        met.next().is_some_and(|first| met.any(|it| it != first))
    })
}

#[cfg(test)]
mod tests {
    use guardrow_design::{BlockStructure, Factor, Level, Scale, TreatmentStructure};

    use super::*;

    /// Two treatments in four blocks of a range each.
    fn experiment(values: [f64; 8]) -> Experiment {
        let levels = ["a", "b"].map(|label| Level { label: label.into(), amount: None }).to_vec();
        let factor = Factor { name: "dressing".into(), scale: Scale::Qualitative, levels };
        Experiment::new(
            BlockStructure::unit("block").nest(BlockStructure::unit("plot")),
            vec![("block".into(), (0..8).map(|plot| plot / 2).collect())],
            TreatmentStructure { factors: vec![factor], controls: Vec::new() },
            vec![0, 1, 1, 0, 0, 1, 1, 0],
            values.into_iter().map(Some).collect(),
        )
    }

    fn answer(remembered: &Remembered, experiment: &Experiment) -> Arc<Beside> {
        let ground =
            FieldPositions::new((0..8).map(|plot| 1 + plot / 2).collect(), (0..8).map(|it| 1 + it % 2).collect());
        remembered.answer(&Question { experiment, ground: Some(ground) })
    }

    #[test]
    fn the_same_values_are_answered_from_memory_and_others_anew() {
        let values = [3.1, 2.9, 3.6, 3.8, 2.7, 3.3, 3.0, 3.4];
        let remembered = Remembered::default();
        let first = answer(&remembered, &experiment(values));
        assert!(first.ground.is_some());
        assert!(Arc::ptr_eq(&first, &answer(&remembered, &experiment(values))));
        let mut other = values;
        other[3] += 1e-9;
        assert!(!Arc::ptr_eq(&first, &answer(&remembered, &experiment(other))));
    }

    #[test]
    fn places_are_several_only_where_values_came_from_several() {
        let mut both = experiment([3.1, 2.9, 3.6, 3.8, 2.7, 3.3, 3.0, 3.4]);
        both.environments = vec!["block".into()];
        assert!(has_several_places(&both));
        both.response[2..].fill(None);
        assert!(!has_several_places(&both));
    }
}

//! All that is stored about one trial's plan and layout, as the use cases need it.

use std::collections::HashMap;

use guardrow_agronomy::crop::Crop;
use guardrow_design::{Arrangement, Layout, Plot, PlotKind, Treatment, TreatmentStructure};
use uuid::Uuid;

use crate::error::ErrorKind;
use crate::{LayoutLine, Measure, Plan, StationError};

/// One trial: its latest plan and its current layout.
#[derive(Debug, Clone)]
pub(crate) struct Dossier {
    /// Identity in the store.
    pub id: Uuid,
    /// The latest plan.
    pub plan: Plan,
    /// Its version, from 1.
    pub plan_version: u32,
    /// All observed measures, those of the harvest included, as columns of every table.
    pub measures: Vec<Measure>,
    /// Treatments as they stand on the ground: those of the layout's plan, or of the latest plan before there is one.
    treatments: Vec<Treatment>,
    labels: Vec<String>,
    /// The current layout.
    pub laid: Option<Laid>,
}

/// A layout and the decisions that it was drawn from.
#[derive(Debug, Clone)]
pub(crate) struct Laid {
    /// Identity in the store.
    pub id: Uuid,
    /// Version, draw and lock.
    pub line: LayoutLine,
    /// Version of the plan that it was drawn from.
    pub plan_version: u32,
    /// Treatments at that time.
    pub treatments: TreatmentStructure,
    /// Arrangement at that time.
    pub arrangement: Arrangement,
    /// The plots.
    pub layout: Layout,
    by_number: HashMap<u32, usize>,
}

impl Laid {
    /// A layout with what it was drawn from.
    pub(crate) fn new(id: Uuid, line: LayoutLine, plan_version: u32, plan: &Plan, layout: Layout) -> Laid {
        let by_number =
            layout.plots.iter().enumerate().filter_map(|(index, plot)| Some((plot.number?, index))).collect();
        Laid {
            id,
            line,
            plan_version,
            treatments: plan.treatments.clone(),
            arrangement: plan.arrangement.clone(),
            layout,
            by_number,
        }
    }

    /// The plot with a number.
    pub(crate) fn plot(&self, number: u32) -> Option<&Plot> {
        self.by_number.get(&number).map(|&index| &self.layout.plots[index])
    }

    /// The numbered plots in walking order.
    pub(crate) fn walk(&self) -> impl Iterator<Item = &Plot> {
        self.layout.walking_order().into_iter().map(|index| &self.layout.plots[index])
    }

    /// The numbered plots in the order in which they are seeded.
    pub(crate) fn seeding(&self) -> Vec<&Plot> {
        let passes = self.layout.seeding_order();
        passes
            .iter()
            .flat_map(|pass| pass.plots.iter().map(|&index| &self.layout.plots[index]))
            .filter(|plot| plot.kind == PlotKind::Plot)
            .collect()
    }
}

impl Dossier {
    /// A trial from its latest plan and its current layout.
    pub(crate) fn new(id: Uuid, plan: Plan, plan_version: u32, laid: Option<Laid>) -> Dossier {
        let structure = laid.as_ref().map_or(&plan.treatments, |laid| &laid.treatments);
        let treatments = structure.treatments();
        let labels = treatments.iter().map(|treatment| treatment.label.clone()).collect();
        let measures = plan.observed_measures();
        Dossier { id, plan, plan_version, measures, treatments, labels, laid }
    }

    /// The trial's code.
    pub(crate) fn code(&self) -> &str {
        &self.plan.trial.code
    }

    /// The crop, when the plan names one of the crop table.
    pub(crate) fn crop(&self) -> Option<&'static Crop> {
        self.plan.crop()
    }

    /// Treatments by index.
    pub(crate) fn treatments(&self) -> &[Treatment] {
        &self.treatments
    }

    /// Labels of the treatments by index.
    pub(crate) fn treatment_labels(&self) -> &[String] {
        &self.labels
    }

    /// Index of the treatment on a numbered plot.
    pub(crate) fn treatment_of_plot(&self, number: u32) -> Option<usize> {
        self.laid.as_ref()?.plot(number)?.treatment
    }

    /// The layout.
    ///
    /// # Errors
    /// [`ErrorKind::Refused`] when the trial was not laid out yet.
    pub(crate) fn laid(&self) -> Result<&Laid, StationError> {
        self.laid.as_ref().ok_or_else(|| {
            StationError::new(
                ErrorKind::Refused,
                format!("trial {} has no layout yet", self.code()),
                "",
                "draw the layout first; then there are plots to pack, observe and analyse",
            )
        })
    }

    /// Index of a measure by its key.
    ///
    /// # Errors
    /// [`ErrorKind::NotThere`] with the near key.
    pub(crate) fn measure(&self, key: &str) -> Result<usize, StationError> {
        self.measures.iter().position(|measure| measure.key == key).ok_or_else(|| {
            let keys: Vec<String> = self.measures.iter().map(|measure| measure.key.clone()).collect();
            let try_this = crate::spelling::near(key, &keys).map_or_else(
                || format!("its measures are {}", keys.join(", ")),
                |near| format!("did you mean “{near}”?"),
            );
            StationError::new(ErrorKind::NotThere, format!("“{key}” is not a measure of this trial"), "", try_this)
        })
    }

    /// The events of the trial in the order in which the plan names them.
    pub(crate) fn events(&self) -> Vec<&str> {
        let mut events: Vec<&str> = Vec::new();
        for measure in &self.measures {
            if !events.contains(&measure.event.as_str()) {
                events.push(&measure.event);
            }
        }
        events
    }

    /// Indices of the measures of one event.
    pub(crate) fn measures_of(&self, event: &str) -> Vec<usize> {
        (0..self.measures.len()).filter(|&index| self.measures[index].event == event).collect()
    }

    /// The plot numbers, for a message: `the plots are 101 to 112, 201 to 212`.
    pub(crate) fn plot_numbers_in_words(&self) -> String {
        let Some(laid) = &self.laid else { return "the trial has no layout yet".to_owned() };
        let mut numbers: Vec<u32> = laid.by_number.keys().copied().collect();
        numbers.sort_unstable();
        let mut runs: Vec<(u32, u32)> = Vec::new();
        for number in numbers {
            match runs.last_mut() {
                Some((_, last)) if *last + 1 == number => *last = number,
                _ => runs.push((number, number)),
            }
        }
        let runs: Vec<String> = runs.iter().map(|(first, last)| format!("{first} to {last}")).collect();
        format!("the plots are {}", runs.join(", "))
    }
}

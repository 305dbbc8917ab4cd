//! The random part of the model: units of the ground, interactions with places and seasons like these, sampled levels.
//!
//! One rule makes them all. A term is a set of labels (units and factors); it is random when it is a stratum of units, when it
//! has a sampled factor in it, or when it joins treatments to places and seasons that stand for others.

use super::cells::is_sampled;
use super::unit_columns::{divided_by_units, unit_column, unit_label};
use super::{Division, EnvironmentStratum};
use crate::plots::Plots;
use crate::{Experiment, InferenceError, Notice, Scope};
use guardrow_design::{Factor, Stratum, Treatment};

/// One random term as a division of the plots.
#[derive(Debug, Clone)]
pub(crate) struct Partition {
    /// Name for people.
    pub name: String,
    /// Names of the units and factors that together label one class.
    pub labels: Vec<String>,
    /// What its classes are.
    pub kind: Kind,
    /// The class of each used plot.
    pub division: Division,
    /// Whether the last class holds plots that the term does not concern: controls beside sampled entries.
    pub has_outside: bool,
}

/// What the classes of a random term are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Units of the ground.
    Units,
    /// Treatments in places and seasons.
    Interaction,
    /// Levels of a sampled factor, alone or with other labels.
    Sample,
}

impl Partition {
    /// Number of classes that have an effect.
    pub fn effects(&self) -> usize {
        self.division.classes - usize::from(self.has_outside)
    }

    /// What each class is called: one label for each of the term's labels, a control's own alone.
    pub fn class_labels(&self, experiment: &Experiment, plots: &Plots) -> Vec<Vec<String>> {
        let treatments = experiment.treatments.treatments();
        let factors = &experiment.treatments.factors;
        let of = |position: usize| {
            let treatment = &treatments[plots.treatment[position]];
            let label = |name: &String| match factors.iter().position(|it| it.name == *name) {
                Some(factor) => match treatment.levels.get(factor) {
                    Some(&level) => factors[factor].levels[level].label.clone(),
                    None => treatment.label.clone(),
                },
                None => {
                    let column = unit_column(experiment, name);
                    unit_label(experiment, name, column.map_or(position, |column| column[plots.index[position]]))
                }
            };
            let mut labels: Vec<String> = self.labels.iter().map(label).collect();
            labels.dedup();
            labels
        };
        self.division.first_plots().into_iter().take(self.effects()).map(of).collect()
    }

    /// The class of a plot that is not among those used: that of a used plot in the same unit.
    pub fn class_of(&self, experiment: &Experiment, plot: usize, plots: &Plots) -> Option<usize> {
        let columns: Option<Vec<&[usize]>> = self.labels.iter().map(|unit| unit_column(experiment, unit)).collect();
        let columns = columns?;
        let same = |other: &usize| columns.iter().all(|column| column[plot] == column[*other]);
        plots.index.iter().position(same).map(|position| self.division.class[position])
    }
}

/// All random terms, coarser ones first, the plots last; with what was left out.
///
/// # Errors
/// [`InferenceError::PlotsShareUnit`] when two plots stand on the same innermost unit.
pub(crate) fn random_terms(
    experiment: &Experiment,
    plots: &Plots,
    environments: &[EnvironmentStratum],
) -> Result<(Vec<Partition>, Vec<Notice>), InferenceError> {
    let strata = experiment.blocks.strata();
    let innermost = strata.last().ok_or_else(|| InferenceError::UnitNotGiven { unit: "plot".into() })?;
    let ground = divided_by_units(experiment, &innermost.units, &plots.index);
    check_innermost(&ground, innermost, plots)?;
    let is_place = |stratum: &Stratum| stratum.units.iter().all(|unit| experiment.environments.contains(unit));
    let (places, within): (Vec<Stratum>, Vec<Stratum>) = strata.iter().cloned().partition(is_place);
    let mut found = Vec::new();
    if experiment.scope == Scope::EnvironmentsLikeThese {
        let met = |place: &&Stratum| environments.iter().any(|it| it.units == place.units);
        found.extend(places.iter().filter(met).map(|place| of_units(experiment, place, plots)));
    }
    found.extend(treatment_terms(experiment, plots, environments));
    found.extend(within.iter().map(|stratum| of_units(experiment, stratum, plots)));
    let mut notices = lost_units(experiment, &within[..within.len() - 1], plots);
    notices.extend(leave_out_empty(&mut found));
    Ok((coarser_first(found), notices))
}

fn of_units(experiment: &Experiment, stratum: &Stratum, plots: &Plots) -> Partition {
    let division = divided_by_units(experiment, &stratum.units, &plots.index);
    let (name, labels) = (stratum.name.clone(), stratum.units.clone());
    Partition { name, labels, kind: Kind::Units, division, has_outside: false }
}

fn check_innermost(ground: &Division, stratum: &Stratum, plots: &Plots) -> Result<(), InferenceError> {
    let mut holder = vec![None; ground.classes];
    for (position, &class) in ground.class.iter().enumerate() {
        if let Some(first) = holder[class].replace(plots.index[position]) {
            let (second, stratum) = (plots.index[position], stratum.name.clone());
            return Err(InferenceError::PlotsShareUnit { first, second, stratum });
        }
    }
    Ok(())
}

/// Sampled factors alone and with other labels; treatments in places and seasons that stand for others.
fn treatment_terms(experiment: &Experiment, plots: &Plots, environments: &[EnvironmentStratum]) -> Vec<Partition> {
    let factors = &experiment.treatments.factors;
    let places_are_random = experiment.scope == Scope::EnvironmentsLikeThese && !environments.is_empty();
    if experiment.random_factors.is_empty() && !places_are_random {
        return Vec::new();
    }
    let treatments = experiment.treatments.treatments();
    let places = std::iter::once(None).chain(environments.iter().map(Some));
    let mut terms = Vec::new();
    for place in places {
        for subset in crate::terms::subsets(factors.len()) {
            let is_sample = subset.iter().any(|&factor| is_sampled(experiment, &factors[factor]));
            if is_sample || (places_are_random && place.is_some()) {
                terms.push(treatment_term(plots, &treatments, factors, &subset, place, is_sample));
            }
        }
    }
    terms
}

fn treatment_term(
    plots: &Plots,
    treatments: &[Treatment],
    factors: &[Factor],
    subset: &[usize],
    place: Option<&EnvironmentStratum>,
    is_sample: bool,
) -> Partition {
    let names: Vec<String> = subset.iter().map(|&factor| factors[factor].name.clone()).collect();
    let (labels, name) = match place {
        Some(place) => ([place.units.as_slice(), &names].concat(), format!("{} x {}", place.name, names.join(" x "))),
        None => (names.clone(), names.join(" x ")),
    };
    let combinations: usize = factors.iter().map(|factor| factor.levels.len()).product();
    // A control meets places as any treatment does, each for itself; of a sample it is no part.
    let concerns_controls = !is_sample;
    let label = |&treatment: &usize| match treatments[treatment].levels.as_slice() {
        [] if concerns_controls => combinations + treatment,
        [] => usize::MAX,
        levels => subset.iter().fold(0, |label, &factor| label * factors[factor].levels.len() + levels[factor]),
    };
    let around = place.map_or_else(|| Division::whole(plots.count()), |place| place.division.clone());
    let (division, has_outside) = with_outside_last(&around, &plots.treatment.iter().map(label).collect::<Vec<_>>());
    let kind = if is_sample { Kind::Sample } else { Kind::Interaction };
    Partition { name, labels, kind, division, has_outside }
}

/// Divides by the labels; plots labelled with the largest number go into one last class.
fn with_outside_last(around: &Division, labels: &[usize]) -> (Division, bool) {
    let inside: Vec<usize> = (0..labels.len()).filter(|&plot| labels[plot] != usize::MAX).collect();
    let part = Division::by(inside.iter().map(|&plot| around.class[plot]));
    let part = part.refined_by(inside.iter().map(|&plot| labels[plot]));
    if inside.len() == labels.len() {
        return (part, false);
    }
    let mut class = vec![part.classes; labels.len()];
    inside.iter().zip(&part.class).for_each(|(&plot, &inner)| class[plot] = inner);
    (Division { class, classes: part.classes + 1 }, true)
}

fn lost_units(experiment: &Experiment, strata: &[Stratum], plots: &Plots) -> Vec<Notice> {
    let all: Vec<usize> = (0..experiment.response.len()).collect();
    let lost = strata.iter().filter_map(|stratum| {
        let had = divided_by_units(experiment, &stratum.units, &all).classes;
        let units = had - divided_by_units(experiment, &stratum.units, &plots.index).classes;
        (units > 0).then(|| Notice::UnitLost { stratum: stratum.name.clone(), units })
    });
    lost.collect()
}

/// Leaves out terms that compare nothing: one class only, or the same classes as another term or the plots.
fn leave_out_empty(found: &mut Vec<Partition>) -> Vec<Notice> {
    let mut notices = Vec::new();
    let mut position = 0;
    while position + 1 < found.len() {
        let term = &found[position];
        let name = term.name.clone();
        let twin =
            found.iter().enumerate().find(|(other, it)| *other != position && it.division.is_same_as(&term.division));
        match (term.kind, twin) {
            _ if term.division.classes == 1 => notices.push(Notice::OneUnit { stratum: name }),
            (_, None) => {
                position += 1;
                continue;
            }
            // A sample keeps its name: units that hold one level each are what its levels were tried on.
            (Kind::Sample, Some((other, twin))) if twin.kind != Kind::Sample && other + 1 < found.len() => {
                notices.push(Notice::SameUnits { stratum: twin.name.clone() });
                found.remove(other);
                position = position.saturating_sub(usize::from(other < position));
                continue;
            }
            (Kind::Units, Some(_)) => notices.push(Notice::SameUnits { stratum: name }),
            (_, Some((_, twin))) => {
                notices.push(Notice::InteractionIsUnits { term: name, stratum: twin.name.clone() });
            }
        }
        found.remove(position);
    }
    notices
}

/// In the given order as far as coarser terms come before finer ones.
fn coarser_first(mut left: Vec<Partition>) -> Vec<Partition> {
    let mut ordered: Vec<Partition> = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let ready = |index: &usize| {
            let term = &left[*index];
            left.iter().enumerate().all(|(other, it)| other == *index || !it.division.holds(&term.division))
        };
        // Divisions that hold one another are the same, and of the same only one was kept.
        let next = (0..left.len()).find(ready).unwrap_or(0);
        ordered.push(left.remove(next));
    }
    ordered
}

//! From two sides of a comparison to weights over the treatments.

use guardrow_design::{Treatment, TreatmentStructure};

use crate::{Comparison, FindingError, Side};

/// Names that share fewer letters than this with what was typed are not suggested (1 is the same name).
const NEAR_ENOUGH: f64 = 0.7;

/// A side as it is found in the treatments.
#[derive(Debug, Clone, PartialEq)]
enum Found {
    /// Every treatment with this level, by the indices of factor and level.
    Level { factor: usize, level: usize },
    /// One treatment, by its index.
    Treatment(usize),
}

/// A comparison whose sides were found among the treatments of a trial.
#[derive(Debug, Clone, PartialEq)]
pub struct Contrast {
    structure: TreatmentStructure,
    treatments: Vec<Treatment>,
    first: Found,
    second: Found,
}

/// Weights of the first minus the second side over the treatments, in their order; they sum to zero.
///
/// # Errors
/// As for [`Contrast::find`].
pub fn weights(comparison: &Comparison, structure: &TreatmentStructure) -> Result<Vec<f64>, FindingError> {
    Ok(Contrast::find(comparison, structure, "comparison")?.weights())
}

/// Factors at stated levels: indices of factor and level.
pub(crate) type Held = [(usize, usize)];

impl Contrast {
    /// Finds both sides among the treatments.
    ///
    /// - `place`: where the comparison stands in the question (`question.claims[0].comparison`), for messages
    ///
    /// # Errors
    /// Names that the trial does not have, with the nearest one; sides that are alike; levels of two factors.
    pub fn find(
        comparison: &Comparison,
        structure: &TreatmentStructure,
        place: &str,
    ) -> Result<Contrast, FindingError> {
        let treatments = structure.treatments();
        let first = find_side(&comparison.first, structure, &treatments, &format!("{place}.first"))?;
        let second = find_side(&comparison.second, structure, &treatments, &format!("{place}.second"))?;
        if let (Found::Level { factor: one, .. }, Found::Level { factor: other, .. }) = (&first, &second)
            && one != other
        {
            let name = |index: usize| structure.factors[index].name.clone();
            return Err(FindingError::SidesOfTwoFactors {
                place: place.into(),
                first: name(*one),
                second: name(*other),
            });
        }
        let contrast = Contrast { structure: structure.clone(), treatments, first, second };
        // In a trial of one factor a level and a treatment can be the same plots under two names.
        if contrast.weights().iter().all(|weight| *weight == 0.0) {
            return Err(FindingError::SidesAlike { place: place.into(), name: told(&comparison.first) });
        }
        Ok(contrast)
    }

    /// Weights of the first minus the second side over the treatments, in their order; they sum to zero.
    ///
    /// A side that is a level is the plain mean of the treatments with that level, controls left out.
    pub fn weights(&self) -> Vec<f64> {
        self.weights_at(&[])
    }

    /// The same difference among the treatments that hold some other factors at stated levels: a simple effect.
    pub(crate) fn weights_at(&self, held: &Held) -> Vec<f64> {
        let first = self.side_weights(&self.first, held);
        let second = self.side_weights(&self.second, held);
        first.iter().zip(&second).map(|(first, second)| first - second).collect()
    }

    /// The factor whose levels are compared, by index; none when two treatments are.
    fn compared(&self) -> Option<usize> {
        [&self.first, &self.second].into_iter().find_map(|side| match side {
            Found::Level { factor, .. } => Some(*factor),
            Found::Treatment(_) => None,
        })
    }

    /// Name of the factor whose levels are compared; none when two treatments are.
    pub fn factor(&self) -> Option<&str> {
        self.compared().map(|factor| self.structure.factors[factor].name.as_str())
    }

    /// The factors that the comparison averages over, by index: a side that is a level averages over every other factor.
    pub(crate) fn crossed(&self) -> Vec<usize> {
        match self.compared() {
            Some(compared) => (0..self.structure.factors.len()).filter(|&factor| factor != compared).collect(),
            None => Vec::new(),
        }
    }

    /// The treatments' factors.
    pub(crate) fn structure(&self) -> &TreatmentStructure {
        &self.structure
    }

    /// The first side in words: `seeding date early`, or the treatment's label.
    pub fn first_words(&self) -> String {
        self.words(&self.first)
    }

    /// The second side in words; the factor is left out when the first side has named it.
    pub fn second_words(&self) -> String {
        match (&self.first, &self.second) {
            (Found::Level { .. }, Found::Level { factor, level }) => {
                self.structure.factors[*factor].levels[*level].label.clone()
            }
            (_, second) => self.words(second),
        }
    }

    fn words(&self, side: &Found) -> String {
        match side {
            Found::Level { factor, level } => {
                let factor = &self.structure.factors[*factor];
                format!("{} {}", factor.name, factor.levels[*level].label)
            }
            Found::Treatment(index) => self.treatments[*index].label.clone(),
        }
    }

    fn side_weights(&self, side: &Found, held: &Held) -> Vec<f64> {
        let belongs = |index: usize, treatment: &Treatment| match side {
            Found::Treatment(only) => index == *only,
            Found::Level { factor, level } => {
                !treatment.levels.is_empty()
                    && treatment.levels[*factor] == *level
                    && held.iter().all(|&(factor, level)| treatment.levels[factor] == level)
            }
        };
        let members: Vec<bool> =
            self.treatments.iter().enumerate().map(|(index, treatment)| belongs(index, treatment)).collect();
        let count = members.iter().filter(|&&member| member).count();
        members.into_iter().map(|member| if member { 1.0 / count as f64 } else { 0.0 }).collect()
    }
}

fn find_side(
    side: &Side,
    structure: &TreatmentStructure,
    treatments: &[Treatment],
    place: &str,
) -> Result<Found, FindingError> {
    let factor_name = side.factor.as_deref().map(str::trim).filter(|name| !name.is_empty());
    if side.level.trim().is_empty() {
        return Err(FindingError::SideEmpty { place: place.to_owned() });
    }
    match factor_name {
        Some(factor) => find_level(factor, side.level.trim(), structure, place),
        None => find_treatment(side.level.trim(), structure, treatments, place),
    }
}

fn find_level(name: &str, label: &str, structure: &TreatmentStructure, place: &str) -> Result<Found, FindingError> {
    let names: Vec<&str> = structure.factors.iter().map(|factor| factor.name.as_str()).collect();
    let Some(factor) = position(name, &names) else {
        return Err(FindingError::UnknownFactor {
            place: format!("{place}.factor"),
            name: name.to_owned(),
            suggestion: nearest(name, &names),
            known: names.into_iter().map(str::to_owned).collect(),
        });
    };
    let labels: Vec<&str> = structure.factors[factor].levels.iter().map(|level| level.label.as_str()).collect();
    let Some(level) = position(label, &labels) else {
        return Err(FindingError::UnknownLevel {
            place: format!("{place}.level"),
            factor: names[factor].to_owned(),
            name: label.to_owned(),
            suggestion: nearest(label, &labels),
            known: labels.into_iter().map(str::to_owned).collect(),
        });
    };
    Ok(Found::Level { factor, level })
}

fn find_treatment(
    label: &str,
    structure: &TreatmentStructure,
    treatments: &[Treatment],
    place: &str,
) -> Result<Found, FindingError> {
    let labels: Vec<&str> = treatments.iter().map(|treatment| treatment.label.as_str()).collect();
    if let Some(index) = position(label, &labels) {
        return Ok(Found::Treatment(index));
    }
    let level_of = structure.factors.iter().find(|factor| {
        let levels: Vec<&str> = factor.levels.iter().map(|level| level.label.as_str()).collect();
        position(label, &levels).is_some()
    });
    Err(FindingError::UnknownTreatment {
        place: format!("{place}.level"),
        name: label.to_owned(),
        suggestion: nearest(label, &labels),
        level_of: level_of.map(|factor| factor.name.clone()),
    })
}

/// The name as it stands, or else the only one that differs in capitals and outer spaces.
fn position(name: &str, known: &[&str]) -> Option<usize> {
    let folded = |text: &str| text.trim().to_lowercase();
    known.iter().position(|candidate| *candidate == name).or_else(|| {
        let mut alike = (0..known.len()).filter(|&index| folded(known[index]) == folded(name));
        alike.next().filter(|_| alike.next().is_none())
    })
}

fn nearest(name: &str, known: &[&str]) -> Option<String> {
    let likeness = |candidate: &str| strsim::jaro_winkler(&name.to_lowercase(), &candidate.to_lowercase());
    known
        .iter()
        .map(|candidate| (likeness(candidate), *candidate))
        .filter(|(likeness, _)| *likeness >= NEAR_ENOUGH)
        .max_by(|one, other| one.0.total_cmp(&other.0))
        .map(|(_, candidate)| candidate.to_owned())
}

fn told(side: &Side) -> String {
    match &side.factor {
        Some(factor) => format!("{factor} {}", side.level),
        None => side.level.clone(),
    }
}

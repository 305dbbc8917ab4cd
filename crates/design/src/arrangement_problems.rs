//! What can be wrong with one kind of arrangement for these treatments.

use crate::stated_units::StatedUnits;
use crate::{Arrangement, DesignError, TreatmentStructure};

/// Everything that is wrong with arranging these treatments so, whatever is wrong with the treatments themselves.
pub(crate) fn of_kind(arrangement: &Arrangement, treatments: &TreatmentStructure) -> Vec<DesignError> {
    match arrangement {
        Arrangement::CompletelyRandom { .. }
        | Arrangement::RandomisedBlocks { .. }
        | Arrangement::FarmStrips { .. } => Vec::new(),
        Arrangement::LatinSquare { replicates } => latin_square(*replicates, treatments),
        Arrangement::SplitPlot { main_plot_factors, .. } => {
            Division { arrangement: "split-plot", parts: &[("main plots", main_plot_factors)], rest: true }
                .problems(treatments)
        }
        Arrangement::SplitSplitPlot { main_plot_factors, subplot_factors, .. } => {
            let parts: &[(&str, &[String])] = &[("main plots", main_plot_factors), ("subplots", subplot_factors)];
            Division { arrangement: "split-split-plot", parts, rest: true }.problems(treatments)
        }
        Arrangement::StripPlot { across_factors, along_factors, .. } => {
            let parts: &[(&str, &[String])] = &[("strips across", across_factors), ("strips along", along_factors)];
            Division { arrangement: "strip-plot", parts, rest: false }.problems(treatments)
        }
        Arrangement::IncompleteBlocks { block_size, .. } => incomplete_blocks(*block_size, treatments),
        Arrangement::RowColumn { rows, columns, .. } => row_column(*rows, *columns, treatments),
        Arrangement::AugmentedBlocks { checks, .. } => augmented(checks, treatments),
        Arrangement::Stated(stated) => stated_units(stated, treatments),
    }
}

fn latin_square(replicates: usize, treatments: &TreatmentStructure) -> Vec<DesignError> {
    let count = treatments.plots_per_replicate();
    let square = count > 0 && replicates.is_multiple_of(count);
    if square { Vec::new() } else { vec![DesignError::NotSquare { treatments: count, replicates }] }
}

fn incomplete_blocks(block_size: usize, treatments: &TreatmentStructure) -> Vec<DesignError> {
    let plots = treatments.plots_per_replicate();
    let fits = block_size >= 2 && block_size < plots && plots.is_multiple_of(block_size);
    if fits { Vec::new() } else { vec![DesignError::BlockSize { block_size, plots }] }
}

fn row_column(rows: usize, columns: usize, treatments: &TreatmentStructure) -> Vec<DesignError> {
    let plots = treatments.plots_per_replicate();
    let fits = rows >= 2 && columns >= 2 && rows.checked_mul(columns) == Some(plots);
    if fits { Vec::new() } else { vec![DesignError::RowsAndColumns { rows, columns, plots }] }
}

fn augmented(checks: &[String], treatments: &TreatmentStructure) -> Vec<DesignError> {
    if !treatments.problems().is_empty() {
        return Vec::new();
    }
    let labels: Vec<String> = treatments.treatments().into_iter().map(|treatment| treatment.label).collect();
    if checks.is_empty() {
        return vec![DesignError::NoChecks];
    }
    let mut problems = Vec::new();
    for (index, check) in checks.iter().enumerate() {
        if !labels.contains(check) {
            problems.push(DesignError::UnknownCheck { label: check.clone(), nearest: nearest(check, &labels) });
        } else if checks[..index].contains(check) {
            problems.push(DesignError::CheckTwice { label: check.clone() });
        }
    }
    if problems.is_empty() && checks.len() == labels.len() {
        problems.push(DesignError::OnlyChecks);
    }
    problems
}

fn stated_units(stated: &StatedUnits, treatments: &TreatmentStructure) -> Vec<DesignError> {
    let factors: Vec<String> = treatments.factors.iter().map(|factor| factor.name.clone()).collect();
    let units = stated.units.units();
    let no_factor = |name: &String, on: &str| {
        let (name, nearest) = (name.clone(), nearest(name, &factors));
        DesignError::UnknownFactor { name, on: on.to_owned(), known: factors.join(", "), nearest }
    };
    let no_unit = |unit: &String| {
        let nearest = nearest(unit, &units);
        DesignError::UnknownUnit { unit: unit.clone(), units: stated.units.to_string(), nearest }
    };
    let mut problems = Vec::new();
    for (factor, unit) in &stated.randomised_to {
        if !factors.contains(factor) {
            problems.push(no_factor(factor, &format!("{unit}s")));
        }
        if !units.contains(unit) {
            problems.push(no_unit(unit));
        }
    }
    problems.extend(stated.environments.iter().filter(|unit| !units.contains(unit)).map(no_unit));
    let unknown = stated.random_factors.iter().filter(|factor| !factors.contains(factor));
    problems.extend(unknown.map(|factor| no_factor(factor, "a sample of levels")));
    problems
}

/// Factors divided over kinds of unit.
struct Division<'a> {
    arrangement: &'static str,
    /// Each kind of unit with the factors on it.
    parts: &'a [(&'static str, &'a [String])],
    /// Whether some factor must be left for the smallest unit.
    rest: bool,
}

impl Division<'_> {
    fn problems(&self, treatments: &TreatmentStructure) -> Vec<DesignError> {
        let factors: Vec<String> = treatments.factors.iter().map(|factor| factor.name.clone()).collect();
        let mut problems = Vec::new();
        let mut named: Vec<&String> = Vec::new();
        for (units, names) in self.parts {
            if names.is_empty() {
                problems.push(DesignError::NoFactorOn { arrangement: self.arrangement, units });
            }
            for name in *names {
                if !factors.contains(name) {
                    let (known, nearest) = (factors.join(", "), nearest(name, &factors));
                    let (name, on) = (name.clone(), (*units).to_owned());
                    problems.push(DesignError::UnknownFactor { name, on, known, nearest });
                } else if named.contains(&name) {
                    problems.push(DesignError::FactorOnTwice { name: name.clone(), units });
                }
                named.push(name);
            }
        }
        if self.rest && !factors.is_empty() && factors.iter().all(|factor| named.contains(&factor)) {
            let (units, factors) = (self.parts.last().map_or("", |(units, _)| units), factors.join(", "));
            problems.push(DesignError::NoFactorWithin { factors, units });
        }
        let controls = treatments.controls.iter();
        problems.extend(controls.map(|control| DesignError::ControlInDivision {
            label: control.label.clone(),
            arrangement: self.arrangement,
        }));
        problems
    }
}

fn nearest(name: &str, known: &[String]) -> Option<String> {
    let likeness = |other: &str| strsim::jaro_winkler(&other.to_lowercase(), &name.trim().to_lowercase());
    let nearest = known.iter().max_by(|a, b| likeness(a).total_cmp(&likeness(b)));
    // 0.8: near enough for a slip of one or two letters in a short word; a wrong guess is only a question.
    nearest.filter(|other| likeness(other) >= 0.8).cloned()
}

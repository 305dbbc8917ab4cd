//! How the trial was laid out and analysed, in sentences.

use guardrow_design::{Arrangement, Scale, method_sentence};
use guardrow_publish::report::{Column, Method, Row, Table};

use crate::StationError;
use crate::dossier::{Dossier, Laid};
use crate::error::ErrorKind;

/// The method paragraph and the table of treatments.
pub(crate) fn method(trial: &Dossier, laid: &Laid) -> Result<Method, StationError> {
    let layout = method_sentence(&laid.treatments, &laid.arrangement)
        .map_err(|error| StationError::new(ErrorKind::Refused, error.to_string(), "arrangement", error.help()))?;
    let mut sentences = vec![layout];
    if laid.line.algorithm != 0 {
        let ground = &laid.layout.ground;
        sentences.push(format!(
            "Plots were {:.2} m wide and {:.2} m long; {:.2} m by {:.2} m of each were harvested.",
            ground.plot_width_m, ground.plot_length_m, ground.harvested_width_m, ground.harvested_length_m
        ));
    }
    sentences.push(analysis_sentence(&laid.arrangement));
    Ok(Method { sentences, treatments: treatments(trial, laid) })
}

fn analysis_sentence(arrangement: &Arrangement) -> String {
    let strata = match arrangement {
        Arrangement::CompletelyRandom { .. } => "Treatments were tested against the variation among plots",
        Arrangement::RandomisedBlocks { .. } => {
            "Treatments were tested against the variation among plots within replicates"
        }
        Arrangement::LatinSquare { .. } => {
            "Treatments were tested against the variation among plots that rows and columns leave"
        }
        Arrangement::SplitPlot { .. } => {
            "Main-plot factors were tested against the variation among main plots within replicates, everything else against the variation among plots within main plots"
        }
        Arrangement::SplitSplitPlot { .. } => {
            "Main-plot factors were tested against the variation among main plots, subplot factors and their interactions with those against the variation among subplots, everything else against the variation among plots within subplots"
        }
        Arrangement::StripPlot { .. } => {
            "The factors on strips were tested each against the variation among their own strips, their interaction against the variation among the plots where strips meet"
        }
        Arrangement::IncompleteBlocks { .. } | Arrangement::RowColumn { .. } => {
            "Treatments were tested against the variation among plots within the smallest units, with what differences between units tell recovered"
        }
        Arrangement::AugmentedBlocks { .. } => {
            "Treatments were adjusted for blocks by the checks and tested against the variation of the checks within blocks"
        }
        Arrangement::FarmStrips { .. } => {
            "Treatments were tested against how their differences varied from farm to farm"
        }
        Arrangement::Stated(_) => {
            "Each factor was tested against the variation among the units that it was randomised to"
        }
    };
    format!(
        "{strata}, as they were randomised; where values are missing, a mixed model with the same units (REML, Kenward-Roger) leads."
    )
}

fn treatments(trial: &Dossier, laid: &Laid) -> Table {
    let factors = &laid.treatments.factors;
    let mut columns = vec![Column::right("No."), Column::left("Treatment")];
    if factors.len() > 1 || factors.iter().any(|factor| matches!(factor.scale, Scale::Quantitative { .. })) {
        columns.extend(factors.iter().map(|factor| match &factor.scale {
            Scale::Qualitative => Column::left(factor.name.clone()),
            Scale::Quantitative { unit } => Column::right(factor.name.clone()).with_unit(unit.clone()),
        }));
    }
    let mut table = Table::new("Treatments", columns.clone());
    for treatment in trial.treatments() {
        let mut cells = vec![treatment.number.to_string(), treatment.label.clone()];
        if columns.len() > 2 {
            cells.extend(factors.iter().enumerate().map(|(index, factor)| match treatment.levels.get(index) {
                None => String::new(),
                Some(&level) => {
                    let level = &factor.levels[level];
                    level.amount.map_or_else(|| level.label.clone(), |amount| amount.to_string())
                }
            }));
        }
        table.push(Row::plain(cells));
    }
    table
}

//! The way out: a script for R that reproduces an analysis, with the data and Guardrow's numbers beside it.
//!
//! The formulas of the script follow from the same parts as the analysis (`Analysis::parts`): nobody types a model, neither here
//! nor there.

mod expected;
mod names;
mod read_me;
mod section;
mod steps;
mod table;

use guardrow_inference::{Analysis, Experiment};

use self::expected::{Expected, OfMeasure};
use self::names::{Columns, Role};
use self::section::Section;
use crate::analysed::{Analysed, analyse_all};
use crate::bring_in;
use crate::counted::raw;
use crate::dossier::Dossier;
use crate::error::ErrorKind;
use crate::experiment::{experiment, plot_numbers};
use crate::observation::Observed;
use crate::{Clock, IncomingFile, Plan, Station, StationError};

/// Name of the script among its files.
const SCRIPT: &str = "reproduce.R";

/// What every script holds: how numbers are compared, means as weights, both ways of estimating, and curves.
const SHARED: [&str; 6] = [
    include_str!("comparing.R"),
    include_str!("compared_tables.R"),
    include_str!("averages.R"),
    include_str!("by_strata.R"),
    include_str!("by_model.R"),
    include_str!("curves.R"),
];

/// A trial for R: the script, the plots, Guardrow's numbers and what to read first. All files belong into one folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RScript {
    /// Name and bytes of every file.
    pub files: Vec<(String, Vec<u8>)>,
    /// How many numbers the script compares.
    pub numbers: usize,
}

/// The trial as all measures share it.
struct Trial<'a> {
    dossier: &'a Dossier,
    /// The units and treatments of every plot; the response is that of any measure.
    experiment: Experiment,
    /// Plot numbers.
    plots: Vec<u32>,
}

/// One column of values.
struct Measured {
    key: String,
    name: String,
    unit: String,
    values: Vec<Option<f64>>,
}

impl Station {
    /// The analyses of a trial as a script for R, as they stand now.
    ///
    /// # Errors
    /// When there is no such trial, it has no layout, or no measure of it can be analysed yet.
    pub fn r_script(&self, code: &str) -> Result<RScript, StationError> {
        let trial = self.dossier(code)?;
        let observed = self.observed(&trial, None)?;
        write(&trial, &observed)
    }
}

/// The analyses of a trial that was laid out elsewhere as a script for R, without a station.
///
/// # Errors
/// With a remark for every field of the plan and every row of the table that cannot be right; when no measure can be analysed.
pub fn r_script_of_file(plan: &Plan, table: &IncomingFile, clock: Clock) -> Result<RScript, StationError> {
    let now = clock();
    let brought = bring_in::read(plan, table, now)?;
    write(&brought.trial, &brought.observed(&table.name, now))
}

pub(crate) fn write(dossier: &Dossier, observed: &Observed) -> Result<RScript, StationError> {
    let analysed = analyse_all(dossier, observed)?;
    let reproduced: Vec<(&Analysed, &Analysis)> =
        analysed.iter().filter_map(|measure| Some((measure, measure.outcome.as_ref().ok()?))).collect();
    let Some((first, _)) = reproduced.first() else { return Err(nothing_to_reproduce(&analysed)) };
    let laid = dossier.laid()?;
    let trial = Trial { dossier, experiment: experiment(laid, first.response.clone()), plots: plot_numbers(laid) };
    let measured = measured(dossier, observed, &reproduced)?;
    let columns = columns(&trial.experiment, &measured);
    let mut expected = Expected::default();
    let mut sections = Vec::new();
    for &(measure, analysis) in &reproduced {
        let transformed = measure.transformed.as_ref().and_then(|it| it.as_ref().ok());
        let plain = Section { trial: &trial, columns: &columns, measure, analysis, transformed: None };
        let after = transformed.map(|it| Section {
            trial: &trial,
            columns: &columns,
            measure,
            analysis: &it.analysis,
            transformed: Some(it),
        });
        for section in std::iter::once(plain).chain(after) {
            let numbers = OfMeasure { expected: &mut expected, measure: section.key() };
            sections.push(section.write(numbers)?);
        }
    }
    let script = [head(&trial, &columns, &measured), SHARED.join("\n"), sections.join("\n"), "judge()\n".to_owned()];
    let files = vec![
        ("README.txt".to_owned(), read_me::read_me(&trial, &columns, &measured, &analysed).into_bytes()),
        (SCRIPT.to_owned(), script.join("\n").into_bytes()),
        ("plots.csv".to_owned(), table::plots(&trial, &columns, &measured)),
        ("expected.csv".to_owned(), expected.csv()),
    ];
    Ok(RScript { files, numbers: expected.known() })
}

fn nothing_to_reproduce(analysed: &[Analysed]) -> StationError {
    let why = analysed.iter().find_map(|measure| {
        measure.outcome.as_ref().err().map(|error| format!(": {} cannot be analysed: {error}", measure.name))
    });
    StationError::new(
        ErrorKind::Refused,
        format!("there is no analysis to write a script for{}", why.unwrap_or_default()),
        "observations",
        "take in the values of a measure first",
    )
}

/// The columns of values that some analysis uses, as response or as covariate.
fn measured(
    dossier: &Dossier,
    observed: &Observed,
    analysed: &[(&Analysed, &Analysis)],
) -> Result<Vec<Measured>, StationError> {
    let mut found: Vec<Measured> = Vec::new();
    for (measure, _) in analysed {
        let by = dossier.plan.adjusted_by(&measure.key);
        for key in std::iter::once(measure.key.as_str()).chain(by) {
            if found.iter().any(|it| it.key == key) {
                continue;
            }
            let Some((name, unit)) = dossier.plan.measured(key) else { continue };
            let values = raw(dossier, observed, key)?.plain();
            found.push(Measured { key: key.to_owned(), name, unit: unit.symbol().to_owned(), values });
        }
    }
    Ok(found)
}

fn columns(experiment: &Experiment, measured: &[Measured]) -> Columns {
    let mut columns = Columns::default();
    experiment.units.iter().for_each(|(unit, _)| drop(columns.give(Role::Unit, unit)));
    experiment.treatments.factors.iter().for_each(|factor| drop(columns.give(Role::Factor, &factor.name)));
    measured.iter().for_each(|it| drop(columns.give(Role::Measure, &it.key)));
    columns
}

/// The head of the script: what it is, what it needs, and the plots with their factors.
fn head(trial: &Trial<'_>, columns: &Columns, measured: &[Measured]) -> String {
    let plan = &trial.dossier.plan.trial;
    let of = |role, name: &str| columns.of(role, name).unwrap_or_default();
    let treatments = trial.experiment.treatments.treatments();
    let mut text = format!(
        "# Trial {}: {}\n# Reproduces Guardrow's analyses from plots.csv and compares every number with expected.csv.\n# Run it with: Rscript {SCRIPT}\n\
         # It ends with an error when a number differs by more than it may.\n\n\
         suppressPackageStartupMessages({{\n  library(lme4)\n  library(pbkrtest)\n  library(emmeans)\n  library(mvtnorm)\n}})\n\
         emm_options(pbkrtest.limit = Inf, lmerTest.limit = Inf)\noptions(warn = 1, contrasts = c(\"contr.treatment\", \"contr.poly\"))\n\n\
         # The folder that this script is in.\nthis_file <- sub(\"^--file=\", \"\", grep(\"^--file=\", commandArgs(), value = TRUE))\n\
         folder <- if (length(this_file) == 1) dirname(gsub(\"~+~\", \" \", this_file, fixed = TRUE)) else \".\"\n\n",
        names::one_line(&plan.code),
        names::one_line(&plan.title),
    );
    text.push_str("read_plots <- function() {\n  trial <- read_table(\"plots.csv\")\n");
    for (unit, _) in &trial.experiment.units {
        let column = of(Role::Unit, unit);
        text.push_str(&format!("  trial${column} <- factor(as.integer(trial${column}))\n"));
    }
    let labels = names::texts(treatments.iter().map(|it| it.label.as_str()));
    text.push_str(&format!("  trial$treatment <- factor(trial$treatment, levels = {labels})\n"));
    for factor in &trial.experiment.treatments.factors {
        let column = of(Role::Factor, &factor.name);
        let levels = names::texts(factor.levels.iter().map(|level| level.label.as_str()));
        text.push_str(&format!("  trial${column} <- factor(trial${column}, levels = {levels})\n"));
    }
    for it in measured {
        let column = of(Role::Measure, &it.key);
        let words = names::one_line(&format!("{}, {}", it.name, it.unit));
        text.push_str(&format!("  trial${column} <- as.numeric(trial${column}) # {words}\n"));
    }
    text.push_str("  stopifnot(!anyNA(trial$treatment))\n  trial\n}\n");
    text
}

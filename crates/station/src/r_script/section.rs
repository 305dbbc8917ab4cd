//! The part of the script that analyses one measure.

use guardrow_design::Factor;
use guardrow_inference::{
    Analysis, Compared, Lead, ModelParts, Notice, PartRandom, PartTerm, PredictionKind, TransformedAnalysis,
};

use super::Trial;
use super::expected::OfMeasure;
use super::names::{Columns, Role, quoted, vector};
use super::steps::{Steps, aov, back, comparisons, curves, mixed, tables};
use crate::StationError;
use crate::analysed::Analysed;
use crate::error::ErrorKind;

/// One measure with all that its part of the script is written from.
pub(super) struct Section<'a> {
    pub trial: &'a Trial<'a>,
    pub columns: &'a Columns,
    pub measure: &'a Analysed,
    pub analysis: &'a Analysis,
    /// The transformation after which the values were analysed, where this is that analysis.
    pub transformed: Option<&'a TransformedAnalysis>,
}

/// A random term as the script has it.
pub(super) struct Grouping {
    /// Name of the term.
    pub name: String,
    /// Column of the plots that tells its classes apart.
    pub column: String,
    /// Whether it is in the mixed model, and there for the plots of the sample only.
    pub in_mixed: bool,
    pub of_sample: bool,
}

/// What the steps of a section share.
pub(super) struct Model<'a> {
    pub section: &'a Section<'a>,
    pub parts: ModelParts,
    pub groupings: Vec<Grouping>,
    /// Columns of the covariates.
    pub covariates: Vec<String>,
}

impl Section<'_> {
    /// The text; Guardrow's numbers that it compares go to `numbers`.
    pub(super) fn write(&self, numbers: OfMeasure<'_>) -> Result<String, StationError> {
        let model = self.model()?;
        let mut steps = Steps::new(numbers, self.analysis);
        self.start(&model, &mut steps);
        aov::write(&model, &mut steps);
        mixed::write(&model, &mut steps);
        comparisons::write(&model, &mut steps);
        tables::write(&model, &mut steps);
        match self.transformed {
            Some(transformed) => back::write(&model, transformed, &mut steps),
            None => curves::write(&model, &mut steps),
        }
        steps.line("invisible(NULL)");
        Ok(format!("local({{\n{}}})\n", steps.text()))
    }

    /// What the numbers of the section are listed under.
    pub(super) fn key(&self) -> String {
        let key = &self.measure.key;
        self.transformed.map_or_else(|| key.clone(), |it| format!("{key}, {}", it.transform.words()))
    }

    /// What a unit of a factor's amounts costs, in units of the measure.
    pub(super) fn price_ratio(&self, factor: &Factor) -> Option<f64> {
        self.trial.dossier.plan.paying(&self.measure.key, factor).map(|paying| paying.ratio)
    }

    fn model(&self) -> Result<Model<'_>, StationError> {
        let parts = self.analysis.parts().map_err(|error| self.not_written(&error.to_string()))?;
        let groupings = parts.random.iter().map(|term| self.grouping(term)).collect::<Option<Vec<_>>>();
        let groupings = groupings.ok_or_else(|| self.not_written("a random term has a label that no column holds"))?;
        let keys = self.trial.dossier.plan.adjusted_by(&self.measure.key);
        let covariates: Option<Vec<String>> =
            keys.into_iter().map(|key| Some(self.columns.of(Role::Measure, key)?.to_owned())).collect();
        let covariates = covariates.ok_or_else(|| self.not_written("a covariate has no column"))?;
        Ok(Model { section: self, parts, groupings, covariates })
    }

    fn not_written(&self, why: &str) -> StationError {
        let what = format!("the script for {} could not be written: {why}", self.measure.name);
        StationError::new(ErrorKind::Internal, what, self.measure.key.clone(), "report this; nothing was lost")
    }

    fn grouping(&self, term: &PartRandom) -> Option<Grouping> {
        let columns: Option<Vec<&str>> =
            term.labels.iter().map(|label| Some(self.columns.of_label(label)?.1)).collect();
        let of_sample = term.kind == PredictionKind::Sample && !self.trial.experiment.treatments.controls.is_empty();
        Some(Grouping { name: term.name.clone(), column: columns?.join("."), in_mixed: term.in_mixed, of_sample })
    }

    /// Values, cells and groups of plots.
    fn start(&self, model: &Model<'_>, steps: &mut Steps<'_>) {
        let measure = self.measure;
        let after = self.transformed.map(|it| format!(", {}", it.transform.words())).unwrap_or_default();
        steps.title(&format!("{} ({}){after}", measure.name, measure.unit.symbol()));
        if measure.discrete.is_some() && self.transformed.is_none() {
            steps.comment(
                "Guardrow leads with an analysis of these values as counts, shares or scores. What is reproduced here is the analysis of the same values as measurements, which it gives beside it.",
            );
        }
        for notice in self.notices_to_tell() {
            steps.comment(&notice);
        }
        let column = self.columns.of(Role::Measure, &measure.key).unwrap_or_default();
        steps.line(&format!("measure <- {}", quoted(&self.key())));
        steps.line(&format!("level <- {}", self.analysis.level));
        steps.line("trial <- read_plots()");
        let values = match self.transformed {
            Some(it) => back::of_values(it.transform, column),
            None => format!("trial${column}"),
        };
        steps.line(&format!("trial$y <- {values}"));
        self.cells(model, steps);
        self.groups(model, steps);
        let needed: Vec<String> =
            std::iter::once("y").chain(model.covariates.iter().map(String::as_str)).map(quoted).collect();
        steps.blank();
        steps.comment("Plots that have every value that is needed; the others are left out.");
        steps.line(&format!("used <- complete.cases(trial[c({})])", needed.join(", ")));
        steps.line("d <- droplevels(trial[used, ])");
        steps.line("stopifnot(all(table(d$cell) == cells$plots[cells$plots > 0]))");
    }

    fn cells(&self, model: &Model<'_>, steps: &mut Steps<'_>) {
        let parts = &model.parts;
        let treatments = self.trial.experiment.treatments.treatments();
        let fixed = fixed_number(model, &treatments);
        let count = parts.cells.len() / places(model).max(1);
        steps.blank();
        steps.comment(
            "The fixed part of the model: a mean for every combination below; `plots` counts those with a value.",
        );
        steps.line("cells <- data.frame(");
        for (position, (unit, _)) in parts.cells[0].place.iter().enumerate() {
            let column = self.columns.of(Role::Unit, unit).unwrap_or_default();
            let values = parts.cells.iter().map(|cell| cell.place[position].1.to_string());
            steps.line(&format!("  {column} = {},", vector(values)));
        }
        steps.line(&format!("  number = rep(1:{count}, {}),", places(model)));
        let factorial = parts.cells[..count].iter().filter(|cell| cell.levels.is_some()).count();
        if factorial < count {
            let values = parts
                .cells
                .iter()
                .enumerate()
                .map(|(index, _)| ((index % count + 1).saturating_sub(factorial)).to_string());
            steps.line(&format!("  kind = {},", vector(values)));
        }
        for (position, factor) in parts.fixed_factors.iter().enumerate() {
            let column = self.columns.of(Role::Factor, factor).unwrap_or_default();
            let level = |levels: &Vec<usize>| (levels[position] + 1).to_string();
            let values = parts.cells.iter().map(|cell| cell.levels.as_ref().map_or("NA".to_owned(), level));
            steps.line(&format!("  {column} = {},", vector(values)));
        }
        let plots = parts.cells.iter().map(|cell| cell.plots.to_string());
        steps.line(&format!("  plots = {}", vector(plots)));
        steps.line(")");
        let places: Vec<&str> =
            parts.cells[0].place.iter().filter_map(|(unit, _)| self.columns.of(Role::Unit, unit)).collect();
        let is_same = fixed.iter().enumerate().all(|(index, &number)| index + 1 == number);
        let number = match is_same {
            true => "as.integer(trial$treatment)".to_owned(),
            false => format!("{}[as.integer(trial$treatment)]", vector(fixed.iter().map(usize::to_string))),
        };
        let of_plot: Vec<String> = places.iter().map(|column| format!("trial${column}")).chain([number]).collect();
        let of_cell: Vec<String> =
            places.iter().map(|column| format!("cells${column}")).chain(["cells$number".to_owned()]).collect();
        steps.line(&format!("trial$cell <- match(paste({}), paste({}))", of_plot.join(", "), of_cell.join(", ")));
        if factorial < count {
            steps.line("trial$kind <- factor(cells$kind[trial$cell])");
            steps.line("trial$in_sample <- as.numeric(cells$kind[trial$cell] == 0)");
        }
        steps.line("trial$cell <- factor(trial$cell, levels = which(cells$plots > 0))");
    }

    fn groups(&self, model: &Model<'_>, steps: &mut Steps<'_>) {
        if model.groupings.is_empty() {
            return;
        }
        steps.blank();
        steps.comment("Units larger than plots (and other random terms): plots with the same labels belong together.");
        let has_controls = !self.trial.experiment.treatments.controls.is_empty();
        for (grouping, term) in model.groupings.iter().zip(&model.parts.random) {
            let labels = term.labels.iter().filter_map(|label| self.columns.of_label(label));
            let labels: Vec<String> = labels
                .map(|(role, column)| match role {
                    // Each control is met by places as a treatment of its own; of a sample it is no part.
                    Role::Factor if has_controls && !grouping.of_sample => {
                        format!("or_control(trial${column}, trial$treatment)")
                    }
                    _ => format!("trial${column}"),
                })
                .collect();
            steps.line(&format!("trial${} <- together({})", grouping.column, labels.join(", ")));
        }
    }

    /// Notices that say why numbers of two methods may differ.
    fn notices_to_tell(&self) -> Vec<String> {
        let is_of_numbers = |notice: &&Notice| {
            matches!(
                notice,
                Notice::MissingPlots { .. }
                    | Notice::NotOrthogonal
                    | Notice::UnequalReplication
                    | Notice::NegativeVariance { .. }
                    | Notice::VarianceAtZero { .. }
                    | Notice::VarianceNotSeparable { .. }
                    | Notice::Confounded { .. }
                    | Notice::SplitOverStrata { .. }
                    | Notice::ErrorIsSum { .. }
            )
        };
        let notices = self.analysis.notices.iter().filter(is_of_numbers).map(Notice::sentence);
        notices.chain(self.analysis.difference_between_methods.clone()).collect()
    }
}

impl Model<'_> {
    /// Whether means and tests are those of the strata.
    pub(super) fn strata_lead(&self) -> bool {
        self.section.analysis.lead == Lead::Strata
    }

    /// Columns of the cells that the means of a term run over.
    pub(super) fn by(&self, term: &PartTerm) -> Vec<String> {
        let columns = self.section.columns;
        let places = term.places.iter().filter_map(|unit| columns.of(Role::Unit, unit).map(str::to_owned));
        let compared: Vec<String> = match &term.compared {
            Compared::Nothing => Vec::new(),
            Compared::ControlsAndFactorial => vec!["kind".to_owned()],
            Compared::Factors(factors) => {
                factors.iter().filter_map(|factor| columns.of(Role::Factor, factor).map(str::to_owned)).collect()
            }
        };
        places.chain(compared).collect()
    }

    /// The same for the table of the term: all treatments, where controls are compared.
    pub(super) fn by_in_table(&self, term: &PartTerm) -> Vec<String> {
        self.by(term).into_iter().map(|it| if it == "kind" { "number".to_owned() } else { it }).collect()
    }
}

/// Number of places that the cells are spread over.
fn places(model: &Model<'_>) -> usize {
    let first = &model.parts.cells[0];
    model.parts.cells.iter().filter(|cell| cell.treatment == first.treatment).count()
}

/// For each treatment of the trial the fixed one that it is.
fn fixed_number(model: &Model<'_>, treatments: &[guardrow_design::Treatment]) -> Vec<usize> {
    let experiment = &model.section.trial.experiment;
    let fixed: Vec<usize> = experiment
        .treatments
        .factors
        .iter()
        .enumerate()
        .filter(|(_, factor)| model.parts.fixed_factors.contains(&factor.name))
        .map(|(index, _)| index)
        .collect();
    let sizes = |factor: usize| experiment.treatments.factors[factor].levels.len();
    let factorial: usize = fixed.iter().map(|&factor| sizes(factor)).product();
    let mut controls = factorial;
    let number = |treatment: &guardrow_design::Treatment| match treatment.levels.as_slice() {
        [] => {
            controls += 1;
            controls
        }
        levels => 1 + fixed.iter().fold(0, |number, &factor| number * sizes(factor) + levels[factor]),
    };
    treatments.iter().map(number).collect()
}

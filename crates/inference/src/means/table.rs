//! Means of one term with all their differences.

use super::against_control::{ControlTable, against_controls};
use super::by_df::Quantiles;
use super::letters::letters_from;
use super::pairs::{PairDifference, half_widths, pairs};
use super::spread::{Lsd, Spread};
use crate::fit::{Fit, MarginErrors};
use crate::plots::Plots;
use crate::terms::{ALL_TREATMENTS, CONTROLS_AND_FACTORIAL, Margin, Part, Term};
use crate::{Letters, Notice, Options};
use serde::{Deserialize, Serialize};

/// Beyond so many means their differences are summed up but not listed.
const MOST_PAIRED: usize = 320;

/// The means of one term, equally weighted over everything else, at the covariates' means.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct MeansTable {
    /// Names of the factors; empty for the table of all treatments with controls.
    pub term: Vec<String>,
    /// Name for people.
    pub label: String,
    /// The means that can be estimated, the first factor changing slowest.
    pub cells: Vec<MeanCell>,
    /// Standard errors of the differences.
    pub sed: Spread,
    /// Least significant differences, each with its own degrees of freedom.
    pub lsd: Lsd,
    /// All differences whose error is known, in the order of the cells; none in a table of more than 320 means.
    pub pairs: Vec<PairDifference>,
    /// Letters by Tukey-Kramer from each pair's own error, in the order of the cells.
    pub letters: Option<Vec<String>>,
    /// Why there are no letters, or what must be said beside them.
    pub letters_why_not: Option<String>,
    /// Comparisons with each control, in the table of all treatments.
    pub against_control: Vec<ControlTable>,
}

/// One mean.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct MeanCell {
    /// Labels of the levels, places and seasons first, then in factor order; a control's own label alone.
    pub levels: Vec<String>,
    /// Name for people.
    pub label: String,
    /// Number of plots with a value.
    pub n: usize,
    /// The mean, in the response's unit.
    pub mean: f64,
    /// Its standard error, the units being a sample; none where the error of some stratum is not known.
    pub se: Option<f64>,
    /// Degrees of freedom of the standard error.
    pub df: Option<f64>,
    /// Lower end of the interval at the analysis' level.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
}

/// Tables of all terms; the table of all treatments stands before those of factors when there are controls.
pub(crate) fn tables(terms: &[Term], plots: &Plots, fit: &Fit, options: &Options) -> (Vec<MeansTable>, Vec<Notice>) {
    let mut notices = Vec::new();
    let mut made = Vec::new();
    for term in terms {
        let margins = term.margins(&plots.cells);
        let (known, lost): (Vec<Margin>, Vec<Margin>) =
            margins.into_iter().partition(|margin| margin.is_estimable(&plots.cells));
        let table = table_label(term);
        let name = |it: &Margin| Notice::MeanNotEstimable { table: table.clone(), cell: it.levels.join(", ") };
        notices.extend(lost.iter().map(name));
        if known.len() > 1 {
            made.push(one_table(term, &known, plots, fit, options));
        }
    }
    notices.extend(made.iter().filter_map(hardly_known));
    (made, notices)
}

/// Kenward and Roger's degrees of freedom come near zero where variances are hardly told apart; intervals then have no end.
fn hardly_known(table: &MeansTable) -> Option<Notice> {
    let all = table.cells.iter().filter_map(|cell| cell.df).chain(table.pairs.iter().map(|pair| pair.df));
    let df = all.fold(f64::INFINITY, f64::min);
    (df < 1.0 - 1e-6).then(|| Notice::ErrorHardlyKnown { table: table.label.clone(), df })
}

fn table_label(term: &Term) -> String {
    match term.part {
        Part::Controls => term.label.replace(CONTROLS_AND_FACTORIAL, ALL_TREATMENTS),
        _ => term.label.clone(),
    }
}

fn one_table(term: &Term, margins: &[Margin], plots: &Plots, fit: &Fit, options: &Options) -> MeansTable {
    let errors = MarginErrors::of(fit, margins);
    let mut quantiles = Quantiles::at(options.level);
    let cells: Vec<MeanCell> =
        margins.iter().enumerate().map(|(index, margin)| cell(margin, index, plots, &errors, &mut quantiles)).collect();
    let is_listed = cells.len() <= MOST_PAIRED;
    let pairs = if is_listed { pairs(&errors, cells.len(), &mut quantiles) } else { Vec::new() };
    let (sed, lsd) = match is_listed {
        true => (
            Spread::of(pairs.iter().map(|pair| pair.se)),
            Lsd::of(options.level, pairs.iter().map(|pair| 0.5 * (pair.upper - pair.lower))),
        ),
        false => half_widths(&errors, cells.len(), options.level, &mut quantiles),
    };
    let (letters, letters_why_not) = letters(term, plots, &cells, &pairs, options);
    let is_all_treatments = term.part == Part::Controls && term.environment.is_none();
    let against_control =
        if is_all_treatments { against_controls(margins, plots, &errors, options.level) } else { Vec::new() };
    let (term, label) = (term.names.clone(), table_label(term));
    MeansTable { term, label, cells, sed, lsd, pairs, letters, letters_why_not, against_control }
}

/// The means of a table alone.
pub(crate) fn listed_means(margins: &[Margin], plots: &Plots, errors: &MarginErrors, level: f64) -> Vec<MeanCell> {
    let mut quantiles = Quantiles::at(level);
    margins.iter().enumerate().map(|(index, margin)| cell(margin, index, plots, errors, &mut quantiles)).collect()
}

/// The differences of a table alone.
pub(crate) fn pairs_of(errors: &MarginErrors, level: f64) -> Vec<PairDifference> {
    pairs(errors, errors.means.len(), &mut Quantiles::at(level))
}

fn cell(margin: &Margin, index: usize, plots: &Plots, errors: &MarginErrors, quantiles: &mut Quantiles) -> MeanCell {
    let present = margin.members.iter().filter_map(|&it| plots.cells.present[it]);
    let n: f64 = present.map(|it| plots.cells.replication[it]).sum();
    let estimate = errors.mean(index);
    let interval = estimate.map(|it| (it.estimate, quantiles.of(it.df) * it.se));
    MeanCell {
        levels: margin.levels.clone(),
        label: margin.levels.join(", "),
        n: n as usize,
        mean: errors.means[index],
        se: estimate.map(|it| it.se),
        df: estimate.map(|it| it.df),
        lower: interval.map(|(mean, half)| mean - half),
        upper: interval.map(|(mean, half)| mean + half),
    }
}

fn letters(
    term: &Term,
    plots: &Plots,
    cells: &[MeanCell],
    pairs: &[PairDifference],
    options: &Options,
) -> (Option<Vec<String>>, Option<String>) {
    let amounts = term.amounts(&plots.cells);
    let remark = (!amounts.is_empty()).then(|| amounts_remark(&amounts));
    match options.letters {
        Letters::Never => return (None, Some("Letters were switched off.".into())),
        Letters::Unstructured if !amounts.is_empty() => return (None, remark),
        _ => {}
    }
    if cells.len() > MOST_PAIRED {
        return (None, Some(format!("With {} means letters between them are of no use.", cells.len())));
    }
    if pairs.len() < cells.len() * (cells.len() - 1) / 2 {
        return (None, Some("Some differences have no known error, so letters would be incomplete.".into()));
    }
    let mut differs = vec![false; cells.len() * cells.len()];
    for pair in pairs.iter().filter(|pair| pair.p_tukey < options.level) {
        differs[pair.a * cells.len() + pair.b] = true;
        differs[pair.b * cells.len() + pair.a] = true;
    }
    let means: Vec<f64> = cells.iter().map(|cell| cell.mean).collect();
    (Some(letters_from(&means, |a, b| differs[a * cells.len() + b])), remark)
}

fn amounts_remark(names: &[String]) -> String {
    format!(
        "The levels of {} are amounts: a trend over them answers more than letters between them.",
        names.join(" and ")
    )
}

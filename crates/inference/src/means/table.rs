//! Means of one term with all their differences.

use super::against_control::{ControlTable, against_controls};
use super::letters::letters_from;
use crate::distribution::{StudentisedRange, t_quantile};
use crate::fit::Fit;
use crate::plots::Plots;
use crate::terms::{ALL_TREATMENTS, Margin, Term};
use crate::{Letters, Notice, Options};
use guardrow_design::TreatmentStructure;
use serde::{Deserialize, Serialize};

/// The means of one term, equally weighted over the other factors.
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
    /// All differences whose error is known, in the order of the cells.
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
    /// Labels of the levels in factor order; a control's own label alone.
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

/// Smallest, mean and largest over all differences of a table.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Spread {
    /// Smallest.
    pub min: f64,
    /// Mean.
    pub mean: f64,
    /// Largest.
    pub max: f64,
}

/// Least significant differences at a level.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Lsd {
    /// Two-sided level.
    pub level: f64,
    /// Smallest.
    pub min: f64,
    /// Mean.
    pub mean: f64,
    /// Largest.
    pub max: f64,
}

/// One difference between two means of a table.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PairDifference {
    /// Index of the first cell.
    pub a: usize,
    /// Index of the second cell.
    pub b: usize,
    /// First minus second.
    pub estimate: f64,
    /// Its standard error.
    pub se: f64,
    /// Degrees of freedom of the standard error.
    pub df: f64,
    /// Two-sided p of its own t, unadjusted.
    pub p: f64,
    /// p adjusted for all pairs of the table (Tukey-Kramer).
    pub p_tukey: f64,
    /// Lower end of its own interval at the analysis' level, unadjusted.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// Tables of all terms; the table of all treatments stands first when there are controls.
pub(crate) fn tables(
    structure: &TreatmentStructure,
    terms: &[Term],
    plots: &Plots,
    fit: &Fit,
    options: &Options,
) -> (Vec<MeansTable>, Vec<Notice>) {
    let mut notices = Vec::new();
    let mut made = Vec::new();
    for term in terms {
        let (known, lost): (Vec<Margin>, Vec<Margin>) =
            term.margins(&structure.factors, plots).into_iter().partition(|margin| margin.is_estimable(plots));
        let table = table_label(term);
        notices.extend(
            lost.iter().map(|it| Notice::MeanNotEstimable { table: table.clone(), cell: it.levels.join(", ") }),
        );
        if known.len() > 1 {
            made.push(one_table(structure, term, &known, plots, fit, options));
        }
    }
    (made, notices)
}

fn table_label(term: &Term) -> String {
    if term.factors.is_empty() { ALL_TREATMENTS.to_owned() } else { term.label.clone() }
}

fn one_table(
    structure: &TreatmentStructure,
    term: &Term,
    margins: &[Margin],
    plots: &Plots,
    fit: &Fit,
    options: &Options,
) -> MeansTable {
    let weights: Vec<Vec<f64>> = margins.iter().map(|margin| margin.weights(plots.treatments.len())).collect();
    let mut quantiles = Recent::new(|df| -t_quantile(0.5 * options.level, df));
    let cells: Vec<MeanCell> = margins
        .iter()
        .zip(&weights)
        .map(|(margin, weights)| cell(margin, weights, plots, fit, &mut quantiles))
        .collect();
    let pairs = pairs(&weights, fit, &mut quantiles);
    let (letters, letters_why_not) = letters(structure, term, &cells, &pairs, options);
    let against_control =
        if term.factors.is_empty() { against_controls(margins, plots, fit, options.level) } else { Vec::new() };
    MeansTable {
        term: term.names.clone(),
        label: table_label(term),
        sed: spread(pairs.iter().map(|pair| pair.se)),
        lsd: lsd(&pairs, options.level),
        cells,
        pairs,
        letters,
        letters_why_not,
        against_control,
    }
}

fn cell(margin: &Margin, weights: &[f64], plots: &Plots, fit: &Fit, quantiles: &mut Recent<f64>) -> MeanCell {
    let n = margin.members.iter().filter_map(|&it| plots.present[it]).map(|it| plots.replication[it]).sum::<f64>();
    let estimate = fit.contrast(weights).ok();
    let interval = estimate.map(|it| (it.estimate, *quantiles.of(it.df) * it.se));
    MeanCell {
        levels: margin.levels.clone(),
        label: margin.levels.join(", "),
        n: n as usize,
        mean: fit.mean(weights),
        se: estimate.map(|it| it.se),
        df: estimate.map(|it| it.df),
        lower: interval.map(|(mean, half)| mean - half),
        upper: interval.map(|(mean, half)| mean + half),
    }
}

fn pairs(weights: &[Vec<f64>], fit: &Fit, quantiles: &mut Recent<f64>) -> Vec<PairDifference> {
    let range = StudentisedRange::of(weights.len());
    let mut ranges = Recent::new(|df| range.with_df(df));
    let mut pairs = Vec::new();
    let mut difference = vec![0.0; weights.first().map_or(0, Vec::len)];
    for a in 0..weights.len() {
        for b in a + 1..weights.len() {
            difference.iter_mut().zip(weights[a].iter().zip(&weights[b])).for_each(|(it, (a, b))| *it = a - b);
            let Ok(it) = fit.contrast(&difference) else { continue };
            let half = quantiles.of(it.df) * it.se;
            pairs.push(PairDifference {
                a,
                b,
                estimate: it.estimate,
                se: it.se,
                df: it.df,
                p: it.p(),
                p_tukey: ranges.of(it.df).upper(it.t().abs() * std::f64::consts::SQRT_2),
                lower: it.estimate - half,
                upper: it.estimate + half,
            });
        }
    }
    pairs
}

/// What depends on degrees of freedom only, kept for the last few numbers of them: in a balanced table all differences share
/// one or two; where every pair has its own, older ones are of no more use.
struct Recent<'a, T> {
    make: Box<dyn Fn(f64) -> T + 'a>,
    kept: Vec<(f64, T)>,
}

impl<'a, T> Recent<'a, T> {
    const KEPT: usize = 8;

    fn new(make: impl Fn(f64) -> T + 'a) -> Self {
        Self { make: Box::new(make), kept: Vec::new() }
    }

    fn of(&mut self, df: f64) -> &T {
        let known = self.kept.iter().position(|(known, _)| (known - df).abs() <= 1e-12 * df);
        let position = known.unwrap_or_else(|| {
            if self.kept.len() == Self::KEPT {
                self.kept.remove(0);
            }
            self.kept.push((df, (self.make)(df)));
            self.kept.len() - 1
        });
        &self.kept[position].1
    }
}

fn spread(values: impl Iterator<Item = f64> + Clone) -> Spread {
    let count = values.clone().count();
    if count == 0 {
        return Spread::default();
    }
    let min = values.clone().fold(f64::INFINITY, f64::min);
    let max = values.clone().fold(f64::NEG_INFINITY, f64::max);
    Spread { min, mean: values.sum::<f64>() / count as f64, max }
}

fn lsd(pairs: &[PairDifference], level: f64) -> Lsd {
    let Spread { min, mean, max } = spread(pairs.iter().map(|pair| 0.5 * (pair.upper - pair.lower)));
    Lsd { level, min, mean, max }
}

fn letters(
    structure: &TreatmentStructure,
    term: &Term,
    cells: &[MeanCell],
    pairs: &[PairDifference],
    options: &Options,
) -> (Option<Vec<String>>, Option<String>) {
    let all = (0..structure.factors.len()).collect();
    let whole = Term { factors: all, names: Vec::new(), label: String::new() };
    let unstructured =
        if term.factors.is_empty() { whole.is_unstructured(structure) } else { term.is_unstructured(structure) };
    let remark = (!unstructured).then(|| amounts_remark(structure, term));
    match options.letters {
        Letters::Never => return (None, Some("Letters were switched off.".into())),
        Letters::Unstructured if !unstructured => return (None, remark),
        _ => {}
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

fn amounts_remark(structure: &TreatmentStructure, term: &Term) -> String {
    let chosen: Vec<usize> =
        if term.factors.is_empty() { (0..structure.factors.len()).collect() } else { term.factors.clone() };
    let amounts = chosen.iter().map(|&factor| &structure.factors[factor]);
    let names: Vec<&str> = amounts
        .filter(|factor| factor.scale != guardrow_design::Scale::Qualitative)
        .map(|factor| factor.name.as_str())
        .collect();
    format!(
        "The levels of {} are amounts: a trend over them answers more than letters between them.",
        names.join(" and ")
    )
}

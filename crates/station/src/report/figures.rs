//! Charts of one response.

use guardrow_design::{Factor, Scale};
use guardrow_findings::{Finding, Judgement, Verdict as FoundVerdict, mid_sentence};
use guardrow_inference::{Looking, MeansTable, Residual as Left, distribution};
use guardrow_publish::chart::{
    Axis, Chart, Difference, DifferencesChart, Figure, InteractionChart, InteractionLine, InteractionPoint, MeanPoint,
    MeansChart, Residual, ResidualChart,
};
use guardrow_publish::report::{Verdict, VerdictKind};

use super::numbers::{Decimals, df};
use crate::analysed::{Analysed, Leading};

/// The verdict of a finding as charts and pages mark it.
pub(crate) fn verdict(finding: &Finding) -> Verdict {
    Verdict { kind: verdict_kind(finding.verdict), word: finding.verdict_word.clone() }
}

fn verdict_kind(verdict: Option<FoundVerdict>) -> VerdictKind {
    match verdict {
        None => VerdictKind::NoVerdict,
        Some(FoundVerdict::Supported | FoundVerdict::FirstBetter) => VerdictKind::Supported,
        Some(FoundVerdict::Contradicted | FoundVerdict::SecondBetter) => VerdictKind::Contradicted,
        Some(FoundVerdict::NoDifferenceThatMatters) => VerdictKind::NoDifferenceThatMatters,
        Some(FoundVerdict::Undecided) => VerdictKind::Undecided,
        Some(FoundVerdict::NeverTested) => VerdictKind::NeverTested,
    }
}

/// The means: lines over two factors where there are two, else one row per treatment or level.
pub(crate) fn means(
    analysed: &Analysed,
    analysis: Leading<'_>,
    factors: &[Factor],
    decimals: Decimals,
) -> Option<Figure> {
    // With controls, only the table of all treatments shows what they are compared with.
    let all = analysis.tables.iter().find(|table| table.term.is_empty());
    let table = all.or_else(|| analysis.tables.iter().max_by_key(|table| (table.term.len(), table.cells.len())))?;
    let interval = format!("{} % confidence intervals", df(100.0 * (1.0 - analysis.level)));
    let chart = match &table.term[..] {
        [one, other] if all_known(table) => {
            let along = |name: &String| factors.iter().position(|factor| factor.name == *name);
            match (along(one), along(other)) {
                (Some(one), Some(other)) => {
                    Chart::Interaction(interaction(analysed, table, (one, other), factors, decimals, &interval))
                }
                _ => Chart::Means(rows(analysed, table, decimals, &interval)),
            }
        }
        _ => Chart::Means(rows(analysed, table, decimals, &interval)),
    };
    Some(Figure::new(format!("{} by {}. Bars: {interval}.", analysed.name, table.label), chart))
}

fn all_known(table: &MeansTable) -> bool {
    table.cells.iter().all(|cell| cell.lower.is_some() && cell.upper.is_some())
}

fn axis(analysed: &Analysed) -> Axis {
    Axis::new(analysed.name.clone(), analysed.unit.symbol())
}

fn rows(analysed: &Analysed, table: &MeansTable, decimals: Decimals, interval: &str) -> MeansChart {
    MeansChart {
        title: format!("{} by {}", analysed.name, table.label),
        description: describe(table, decimals, analysed.unit.symbol()),
        axis: axis(analysed),
        rows: table
            .cells
            .iter()
            .map(|cell| MeanPoint {
                label: cell.label.clone(),
                group: String::new(),
                mean: cell.mean,
                lower: cell.lower.unwrap_or(cell.mean),
                upper: cell.upper.unwrap_or(cell.mean),
                text: decimals.value(cell.mean),
            })
            .collect(),
        interval_text: format!("Bars: {interval}"),
    }
}

/// The quantitative factor, or else the one with more levels, runs along x.
fn interaction(
    analysed: &Analysed,
    table: &MeansTable,
    (one, other): (usize, usize),
    factors: &[Factor],
    decimals: Decimals,
    interval: &str,
) -> InteractionChart {
    let rank = |index: usize| (matches!(factors[index].scale, Scale::Quantitative { .. }), factors[index].levels.len());
    let (along, lines, along_place, lines_place) =
        if rank(one) > rank(other) { (one, other, 0, 1) } else { (other, one, 1, 0) };
    let along = &factors[along];
    let unit = match &along.scale {
        Scale::Quantitative { unit } => unit.clone(),
        Scale::Qualitative => String::new(),
    };
    let x_of = |label: &str| {
        let index = along.levels.iter().position(|level| level.label == label).unwrap_or(0);
        along.levels[index].amount.unwrap_or(index as f64)
    };
    let lines = factors[lines].levels.iter().map(|line| {
        let mut points: Vec<InteractionPoint> = table
            .cells
            .iter()
            .filter(|cell| cell.levels[lines_place] == line.label)
            .map(|cell| InteractionPoint {
                x: x_of(&cell.levels[along_place]),
                mean: cell.mean,
                lower: cell.lower.unwrap_or(cell.mean),
                upper: cell.upper.unwrap_or(cell.mean),
                text: decimals.value(cell.mean),
            })
            .collect();
        points.sort_by(|one, other| one.x.total_cmp(&other.x));
        InteractionLine { label: line.label.clone(), points }
    });
    InteractionChart {
        title: format!("{} by {}", analysed.name, table.label),
        description: describe(table, decimals, analysed.unit.symbol()),
        x_axis: Axis::new(along.name.clone(), unit.clone()),
        categories: if unit.is_empty() {
            along.levels.iter().map(|level| level.label.clone()).collect()
        } else {
            Vec::new()
        },
        y_axis: axis(analysed),
        lines: lines.collect(),
        interval_text: format!("Bars: {interval}"),
    }
}

fn describe(table: &MeansTable, decimals: Decimals, unit: &str) -> String {
    let cells: Vec<String> =
        table.cells.iter().map(|cell| format!("{} {} {unit}", cell.label, decimals.value(cell.mean))).collect();
    format!("Means: {}.", cells.join("; "))
}

/// The claims on one measure against their margins; a claim that the interaction gate shuts is shown by its simple effects.
pub(crate) fn differences(analysed: &Analysed, findings: &[&Finding], decimals: Decimals) -> Option<Figure> {
    let rows: Vec<Difference> = findings.iter().flat_map(|finding| difference_rows(finding, decimals)).collect();
    if rows.is_empty() {
        return None;
    }
    let margin = findings.iter().find_map(|finding| finding.margin.as_ref());
    let chart = DifferencesChart {
        title: format!("Differences in {} against the margin", mid_sentence(&analysed.name)),
        description: rows
            .iter()
            .map(|row| format!("{}: {}, {}.", row.label, row.text, row.verdict.word))
            .collect::<Vec<_>>()
            .join(" "),
        axis: Axis::new(format!("Difference in {}", mid_sentence(&analysed.name)), findings[0].unit.clone()),
        margin: margin.map(|margin| margin.value),
        margin_text: margin
            .map(|margin| format!("margin {} {}", decimals.value(margin.value), findings[0].unit))
            .unwrap_or_default(),
        below_zero: "against the claim".to_owned(),
        above_zero: "as claimed".to_owned(),
        rows,
        interval_text: "Thick bar: 90 % interval; thin bar: 95 % interval".to_owned(),
    };
    let caption = format!(
        "Differences in {}, turned so that positive is as claimed, against the margin.",
        mid_sentence(&analysed.name)
    );
    Some(Figure::new(caption, Chart::Differences(chart)))
}

fn difference_rows(finding: &Finding, decimals: Decimals) -> Vec<Difference> {
    let label = format!("{} − {}", finding.first, finding.second);
    match (&finding.gate, &finding.judgement) {
        (Some(gate), Some(judgement)) if gate.shut => {
            let lower_is_as_claimed = turned(finding, judgement);
            gate.crossings
                .iter()
                .filter(|crossing| crossing.shut)
                .flat_map(|crossing| &crossing.effects)
                .map(|effect| Difference {
                    label: format!("{label}, {}", effect.at),
                    ..row(effect.numbers.bounds(lower_is_as_claimed), decimals, Verdict::default())
                })
                .collect()
        }
        (_, Some(judgement)) => vec![Difference { label, ..row(judgement.bounds, decimals, verdict(finding)) }],
        _ => Vec::new(),
    }
}

/// True when the claim expects a lower value, so that its numbers were turned round.
fn turned(finding: &Finding, judgement: &Judgement) -> bool {
    finding.numbers.as_ref().is_some_and(|numbers| numbers.estimate != judgement.bounds.estimate)
}

fn row(bounds: guardrow_findings::Bounds, decimals: Decimals, verdict: Verdict) -> Difference {
    let (interval, equivalence) = (bounds.interval, bounds.equivalence);
    Difference {
        label: String::new(),
        estimate: bounds.estimate,
        lower_95: interval.lower,
        upper_95: interval.upper,
        lower_90: equivalence.lower,
        upper_90: equivalence.upper,
        text: format!(
            "{} ({})",
            decimals.difference(bounds.estimate),
            decimals.interval(interval.lower, interval.upper)
        ),
        verdict,
    }
}

/// Residuals over the root mean square of all beyond this are named where no test of them is known; a convention, no source: one
/// plot in 370 of a normal sample.
const FLAG: f64 = 3.0;

/// Residuals of a measurement against fitted values, and their normal plot; plots out of line are named.
pub(crate) fn residuals(analysed: &Analysed, looked: &Looking, unit: &str) -> Figure {
    let is_flagged = |plot: usize| looked.outliers.flagged.iter().any(|outlier| outlier.plot == plot);
    let points = looked
        .residuals
        .iter()
        .map(|residual| Residual {
            plot: analysed.plots[residual.plot].to_string(),
            fitted: residual.fitted,
            residual: residual.residual,
            normal_quantile: residual.normal_score,
            flagged: is_flagged(residual.plot),
        })
        .collect();
    residual_figure(analysed, points, "out of line", unit)
}

/// The same for counts, shares and scores, whose residuals are not tested one by one.
pub(crate) fn untested_residuals(analysed: &Analysed, residuals: &[Left], unit: &str) -> Figure {
    let mut order: Vec<usize> = (0..residuals.len()).collect();
    order.sort_by(|&one, &other| residuals[one].residual.total_cmp(&residuals[other].residual));
    let count = order.len() as f64;
    let mut quantiles = vec![0.0; order.len()];
    for (rank, &index) in order.iter().enumerate() {
        // Blom's plotting positions (Blom 1958, Statistical Estimates and Transformed Beta-Variables).
        quantiles[index] = distribution::normal_quantile((rank as f64 + 1.0 - 0.375) / (count + 0.25));
    }
    let point = |(residual, normal_quantile): (&Left, f64)| Residual {
        plot: analysed.plots[residual.plot].to_string(),
        fitted: residual.fitted,
        residual: residual.residual,
        normal_quantile,
        flagged: residual.standardised.abs() > FLAG,
    };
    let points = residuals.iter().zip(quantiles).map(point).collect();
    residual_figure(analysed, points, &format!("beyond {FLAG} standard deviations"), unit)
}

/// - `flag`: what flagged plots are
fn residual_figure(analysed: &Analysed, points: Vec<Residual>, flag: &str, unit: &str) -> Figure {
    let flagged = points.iter().filter(|point| point.flagged).count();
    let chart = ResidualChart {
        title: format!("Residuals of {}", mid_sentence(&analysed.name)),
        description: format!(
            "Residuals against fitted values and their normal plot; {flagged} of {} plots are {flag}.",
            points.len()
        ),
        unit: unit.to_owned(),
        points,
        flag_text: if flagged > 0 { format!("Named: plots {flag}.") } else { String::new() },
    };
    Figure::new(
        format!("Residuals of {} against fitted values, and their normal plot.", mid_sentence(&analysed.name)),
        Chart::Residuals(chart),
    )
}

//! From an experiment to the analysis of its counts, shares or scores.

use super::fitted::{fit, sentence};
use super::natural::with_possible_intervals;
use super::{DiscreteAnalysis, DiscreteKind, Kept};
use crate::fit::Fit;
use crate::model::{Cells, random_terms};
use crate::plots::Plots;
use crate::{Analysis, Experiment, InferenceError, Notice, Options};

/// Analyses counts, shares or scores with every unit of the layout as a random effect: variances by restricted, means by maximum
/// likelihood (Laplace's approximation).
///
/// Degrees of freedom are no part of that method; with few blocks or main plots its intervals would be too short if none were
/// used. So every comparison takes those that it has in `plain`, the analysis of the same plots' [`super::plain_values`]. Levels
/// of sampled factors are taken as fixed.
///
/// - `experiment`: its response holds the counts
///
/// # Errors
/// [`InferenceError`] when a value cannot have been counted, the input is inconsistent, or nothing is left to compare.
/// # Source
/// Breslow & Clayton (1993), JASA 88:9-25, for the model. The degrees of freedom: common practice, no source; how often the
/// intervals miss is in `docs/numbers/counts-and-proportions.md`.
pub fn analyse_discrete(
    experiment: &Experiment,
    kind: &DiscreteKind,
    plain: Option<&Analysis>,
    options: &Options,
) -> Result<DiscreteAnalysis, InferenceError> {
    options.check()?;
    super::model::check_values(experiment, kind)?;
    let experiment = &without_missing(experiment, kind);
    let (plots, mut notices) = Plots::of(experiment)?;
    let (partitions, of_terms) = random_terms(experiment, &plots, &plots.environments)?;
    notices.extend(of_terms);
    let fitted = fit(experiment, kind, &plots, &partitions, options.level)?;
    let like = plain.and_then(|plain| plain.fit().ok()).cloned();
    let on_link = of_layout(fitted.on_link.clone(), &plots, like.clone());
    let natural = of_layout(fitted.natural.clone(), &plots, like.clone());
    let estimated = Plots { cells: estimated_cells(&plots.cells, &on_link), ..plots.clone() };
    let terms = crate::terms::terms(&plots.cells);
    let (tests, untested) = super::tests_of_terms::tests(&on_link, &terms, &estimated.cells);
    let (link_tables, of_tables) = crate::means::tables(&terms, &estimated, &on_link, options);
    let (mut tables, _) = crate::means::tables(&terms, &estimated, &natural, options);
    with_possible_intervals(&mut tables, fitted.told_as, options.level);
    keep_tests_of_link(&mut tables, &link_tables);
    for notice in fitted.notices.iter().cloned().chain(untested).chain(of_tables) {
        if !notices.contains(&notice) {
            notices.push(notice);
        }
    }
    if like.is_none() {
        notices.push(Notice::NoErrorDfOfCounts);
    }
    Ok(DiscreteAnalysis {
        level: options.level,
        plots_used: plots.count(),
        plots_missing: plots.missing.clone(),
        link: fitted.link,
        model: sentence(&fitted, kind),
        tests,
        has_error_df: like.is_some(),
        tables,
        on_link: link_tables,
        at_edge: fitted.at_edge,
        components: fitted.components,
        log_likelihood: fitted.log_likelihood,
        evidence: fitted.evidence,
        fit: fitted.fit,
        notices,
        kept: Some(Box::new(Kept { natural, on_link })),
    })
}

/// The experiment without the plots on which something is missing, all factors fixed.
fn without_missing(experiment: &Experiment, kind: &DiscreteKind) -> Experiment {
    let values = experiment.response.iter().enumerate();
    Experiment {
        response: values.map(|(plot, value)| value.filter(|_| kind.has_all(plot))).collect(),
        random_factors: Vec::new(),
        ..experiment.clone()
    }
}

/// The means of cells as a fit of the trial: treatments averaged over places, degrees of freedom as in `like`.
fn of_layout(fit: Fit, plots: &Plots, like: Option<Fit>) -> Fit {
    let of_treatment = Fit::of_cells(plots).of_treatment;
    Fit { of_treatment, df_like: like.map(Box::new), ..fit }
}

/// The cells of which the model has a mean.
fn estimated_cells(cells: &Cells, fit: &Fit) -> Cells {
    let mut replication = vec![0.0; fit.estimates.len()];
    for (cell, index) in fit.present.iter().enumerate() {
        if let (Some(index), Some(of_all)) = (index, cells.present[cell]) {
            replication[*index] = cells.replication[of_all];
        }
    }
    Cells { present: fit.present.clone(), replication, ..cells.clone() }
}

/// In the unit of what was counted p and letters are those of the link's scale, where errors are nearer to normal.
fn keep_tests_of_link(tables: &mut [crate::MeansTable], on_link: &[crate::MeansTable]) {
    for (table, of_link) in tables.iter_mut().zip(on_link) {
        for (pair, of_link) in table.pairs.iter_mut().zip(&of_link.pairs) {
            (pair.p, pair.p_tukey, pair.p_holm) = (of_link.p, of_link.p_tukey, of_link.p_holm);
        }
        table.letters.clone_from(&of_link.letters);
        table.letters_why_not.clone_from(&of_link.letters_why_not);
        for (control, of_link) in table.against_control.iter_mut().zip(&of_link.against_control) {
            for (comparison, of_link) in control.comparisons.iter_mut().zip(&of_link.comparisons) {
                (comparison.p, comparison.p_dunnett) = (of_link.p, of_link.p_dunnett);
            }
        }
    }
}

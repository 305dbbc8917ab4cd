//! From an experiment to its analysis.

use super::leading::{cv, residuals};
use super::{Analysis, Kept, Lead};
use crate::fit::{FTest, Fit};
use crate::mixed::MixedAnalysis;
use crate::model::{Partition, random_terms};
use crate::plots::Plots;
use crate::strata::{ClassicalTests, OrthogonalLayout, StrataTable};
use crate::terms::Term;
use crate::{Experiment, FixedUnitsWhen, InferenceError, Method, Notice, Options, TermTest, TestMethod};

/// Analyses one response as its layout demands.
///
/// Where the layout as observed is orthogonal, each term is tested against the mean square of its own stratum, and REML with
/// Kenward-Roger is given beside it; where it is not, REML with Kenward-Roger leads. Places and seasons, sampled factors and
/// covariates enter as [`Experiment`] says.
///
/// # Errors
/// [`InferenceError`] when the input is inconsistent or leaves nothing to estimate error from.
/// # Source
/// Nelder (1965) for the strata; Patterson & Thompson (1971) and Kenward & Roger (1997) for the mixed model. Checked against
/// published trials and lme4 in `tests/reference/`.
/// # Example
/// ```
/// use guardrow_design::{BlockStructure, Factor, Level, Scale, TreatmentStructure};
/// use guardrow_inference::{Experiment, Options, analyse};
/// let level = |label: &str| Level { label: label.into(), amount: None };
/// let depth = Factor { name: "depth".into(), scale: Scale::Qualitative, levels: vec![level("shallow"), level("deep")] };
/// let trial = Experiment::new(
///     BlockStructure::unit("block").nest(BlockStructure::unit("plot")),
///     vec![("block".into(), vec![1, 1, 2, 2, 3, 3])],
///     TreatmentStructure { factors: vec![depth], controls: Vec::new() },
///     vec![0, 1, 1, 0, 0, 1],
///     vec![Some(4.1), Some(4.6), Some(5.2), Some(4.4), Some(3.9), Some(4.7)],
/// );
/// let analysis = analyse(&trial, &Options::default())?;
/// let deeper = analysis.contrast(&[-1.0, 1.0])?;
/// assert!((deeper.estimate - 0.7).abs() < 1e-12 && deeper.df == 2.0);
/// # Ok::<(), guardrow_inference::InferenceError>(())
/// ```
pub fn analyse(experiment: &Experiment, options: &Options) -> Result<Analysis, InferenceError> {
    options.check()?;
    let (plots, mut notices) = Plots::of(experiment)?;
    check_variation(&plots)?;
    let (partitions, of_terms) = random_terms(experiment, &plots, &plots.environments)?;
    notices.extend(of_terms);
    let terms = crate::terms::terms(&plots.cells);
    let classical = classical(&plots, &partitions, &terms)?;
    let mixed = mixed(&plots, &partitions, classical.is_some())?;
    let wanted = classical.is_none() || options.fixed_units == FixedUnitsWhen::Always;
    let fixed_units = wanted.then(|| crate::fixed_units::fixed_units(experiment, &plots, &partitions, &terms, options));
    let is_split = |it: &Classical| it.notices.iter().any(|notice| matches!(notice, Notice::SplitOverStrata { .. }));
    if classical.as_ref().is_none_or(is_split) {
        notices.extend(crate::connected::disconnected(&plots, &partitions));
    }
    let parts = Parts { experiment, options, plots, partitions, terms, classical, mixed, notices };
    let mut analysis = assemble(parts)?;
    analysis.fixed_units = fixed_units.flatten();
    crate::covariance::add_covariates(&mut analysis, experiment, options);
    Ok(analysis)
}

struct Classical {
    layout: OrthogonalLayout,
    fit: Fit,
    table: StrataTable,
    tests: Vec<TermTest>,
    notices: Vec<Notice>,
}

struct Parts<'a> {
    experiment: &'a Experiment,
    options: &'a Options,
    plots: Plots,
    partitions: Vec<Partition>,
    terms: Vec<Term>,
    classical: Option<Classical>,
    mixed: Option<Result<MixedAnalysis, InferenceError>>,
    notices: Vec<Notice>,
}

fn check_variation(plots: &Plots) -> Result<(), InferenceError> {
    let within = plots.within_cells();
    let (within, total) = (crate::matrix::dot(&within, &within), crate::matrix::dot(&plots.value, &plots.value));
    if within <= 1e-26 * total { Err(InferenceError::NoVariation) } else { Ok(()) }
}

fn classical(plots: &Plots, partitions: &[Partition], terms: &[Term]) -> Result<Option<Classical>, InferenceError> {
    let Some(layout) = OrthogonalLayout::of(plots, partitions) else { return Ok(None) };
    if layout.plot_stratum().error_df > 0.5 && layout.plot_stratum().error_ss == 0.0 {
        return Err(InferenceError::NoVariation);
    }
    if layout.strata.iter().all(|stratum| stratum.error_ms().is_none()) {
        return Err(no_error(plots));
    }
    let fit = layout.fit(plots);
    let Some(ClassicalTests { table, tests, mut notices }) =
        crate::strata::analysis_of_variance(&layout, terms, plots, &fit)
    else {
        return Ok(None);
    };
    notices.extend(layout.negative.iter().map(|name| Notice::NegativeVariance { stratum: name.clone() }));
    if plots.covariates.is_empty() && !sums_of_squares_add_up(&table, plots) {
        notices.push(Notice::UnequalReplication);
    }
    Ok(Some(Classical { layout, fit, table, tests, notices }))
}

fn no_error(plots: &Plots) -> InferenceError {
    InferenceError::NoErrorDegreesOfFreedom { plots: plots.count(), parameters: plots.parameters() }
}

fn sums_of_squares_add_up(table: &StrataTable, plots: &Plots) -> bool {
    let rows = table.strata.iter().flat_map(|stratum| &stratum.rows).filter(|row| row.source != crate::RESIDUAL);
    let listed: f64 = rows.map(|row| row.ss).sum();
    let between: f64 = plots.cell_means().iter().zip(&plots.cells.replication).map(|(mean, n)| n * mean * mean).sum();
    (listed - between).abs() <= 1e-8 * between
}

/// The mixed model, unless plots are the only units and the classical analysis already says the same.
fn mixed(
    plots: &Plots,
    partitions: &[Partition],
    is_orthogonal: bool,
) -> Result<Option<Result<MixedAnalysis, InferenceError>>, InferenceError> {
    if is_orthogonal && partitions.len() == 1 {
        return Ok(None);
    }
    let fitted = crate::mixed::fit(plots, partitions);
    if is_orthogonal { Ok(Some(fitted)) } else { fitted.map(|fitted| Some(Ok(fitted))) }
}

fn assemble(parts: Parts) -> Result<Analysis, InferenceError> {
    let Parts { experiment, options, plots, partitions, terms, classical, mixed, mut notices } = parts;
    let failed = |error: &InferenceError| Notice::SecondMethodFailed { reason: error.to_string() };
    let mixed = mixed.and_then(|fitted| fitted.map_err(|error| notices.push(failed(&error))).ok());
    let lead = lead(classical.is_some(), mixed.is_some(), options.method);
    let fit = match (lead, &classical, &mixed) {
        (Lead::Strata, Some(classical), _) => classical.fit.clone(),
        (_, _, Some(mixed)) => mixed.fit.clone(),
        _ => return Err(no_error(&plots)),
    };
    let by_model = mixed.as_ref().map(|it| mixed_tests(&it.fit, &terms, &plots)).unwrap_or_default();
    let (tables, table_notices) = crate::means::tables(&terms, &plots, &fit, options);
    let difference_between_methods = crate::two_methods::difference(
        classical.as_ref().map(|it| it.tests.as_slice()),
        &by_model.tests,
        mixed.as_ref().map(|it| &it.mixed),
    );
    notices.extend(mixed.iter().flat_map(|it| it.notices.clone()));
    match &classical {
        Some(classical) => notices.extend(classical.notices.clone()),
        None => notices.extend(std::iter::once(Notice::NotOrthogonal).chain(by_model.notices)),
    }
    notices.extend(table_notices);
    let layout = classical.as_ref().map(|it| &it.layout);
    let residuals = residuals(&plots, lead, layout, mixed.as_ref());
    let cv = cv(&plots, layout, mixed.as_ref());
    let predictions = mixed.iter().flat_map(|it| crate::mixed::predictions(experiment, &plots, it)).collect();
    let (layout, strata, by_strata) = match classical {
        Some(it) => (Some(it.layout), Some(it.table), it.tests),
        None => (None, None, Vec::new()),
    };
    let (tests, other_tests) =
        if lead == Lead::Strata { (by_strata, by_model.tests) } else { (by_model.tests, by_strata) };
    Ok(Analysis {
        level: options.level,
        plots_used: plots.count(),
        plots_missing: plots.missing.clone(),
        grand_mean: plots.grand_mean,
        orthogonal: strata.is_some(),
        lead,
        strata,
        mixed: mixed.as_ref().map(|it| it.mixed.clone()),
        tests,
        other_tests,
        tables,
        cv,
        residuals,
        notices,
        difference_between_methods,
        fixed_units: None,
        covariates: Vec::new(),
        predictions,
        kept: Some(Box::new(Kept {
            fit,
            experiment: experiment.clone(),
            plots,
            terms,
            partitions,
            layout: layout.filter(|_| lead == Lead::Strata),
            mixed,
        })),
    })
}

fn lead(has_strata: bool, has_model: bool, method: Method) -> Lead {
    match (has_strata, method) {
        (true, Method::ByLayout) => Lead::Strata,
        (true, Method::Mixed) if !has_model => Lead::Strata,
        _ => Lead::Mixed,
    }
}

/// The mixed model's tests with what could not be tested.
#[derive(Default)]
pub(crate) struct TestsByModel {
    pub tests: Vec<TermTest>,
    pub notices: Vec<Notice>,
}

/// Tests of all terms by Kenward and Roger.
pub(crate) fn mixed_tests(fit: &Fit, terms: &[Term], plots: &Plots) -> TestsByModel {
    let (mut tests, mut notices) = (Vec::new(), Vec::new());
    for term in terms {
        let comparisons = term.comparisons(&plots.cells);
        let label = term.label.clone();
        let (df, full_df) = (comparisons.rows.len() as f64, comparisons.full_df as f64);
        let test = if comparisons.rows.is_empty() { None } else { fit.f_test_of_cells(&comparisons.rows).ok() };
        match test {
            None => notices.push(Notice::NotTestable { term: label.clone() }),
            Some(_) if df < full_df => notices.push(Notice::TestedInPart { term: label.clone(), df, full_df }),
            Some(_) => {}
        }
        tests.extend(test.map(|test| model_test(term, test, TestMethod::KenwardRoger)));
    }
    TestsByModel { tests, notices }
}

/// A test by the mixed model.
pub(super) fn model_test(term: &Term, test: FTest, method: TestMethod) -> TermTest {
    let (term, label) = (term.names.clone(), term.label.clone());
    let FTest { num_df, den_df, f, p } = test;
    TermTest { term, label, stratum: None, num_df, den_df, f, p, method }
}

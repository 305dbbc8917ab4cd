//! The whole analysis of one response.

use crate::fit::{FTest, Fit};
use crate::mixed::{MixedAnalysis, MixedFit};
use crate::plots::Plots;
use crate::strata::{OrthogonalLayout, Partition, StrataTable};
use crate::terms::Term;
use crate::trend::Trend;
use crate::{
    Estimate, Experiment, FixedUnits, FixedUnitsWhen, InferenceError, MeansTable, Method, Notice, Options, TermTest,
    TestMethod,
};
use guardrow_design::{Factor, Scale, TreatmentStructure};
use serde::{Deserialize, Serialize};

/// Everything that one response says about the treatments.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Analysis {
    /// Level of tests, intervals and LSD.
    pub level: f64,
    /// Number of plots with a value.
    pub plots_used: usize,
    /// Indices of the plots without one.
    pub plots_missing: Vec<usize>,
    /// Mean of the plots used.
    pub grand_mean: f64,
    /// Whether the layout, as observed, divides every treatment comparison cleanly over the strata.
    pub orthogonal: bool,
    /// Which method the means, differences and leading tests come from.
    pub lead: Lead,
    /// The classical analysis, where the layout is orthogonal.
    pub strata: Option<StrataTable>,
    /// The mixed model; none where there are no units larger than plots, since it would be the same.
    pub mixed: Option<MixedFit>,
    /// Tests of all terms by the leading method: controls first, then main effects, then interactions.
    pub tests: Vec<TermTest>,
    /// The same by the other method, where there are two.
    pub other_tests: Vec<TermTest>,
    /// Means of every term; first of all treatments, where there are controls.
    pub tables: Vec<MeansTable>,
    /// Coefficients of variation.
    pub cv: Vec<StratumCv>,
    /// One entry per used plot.
    pub residuals: Vec<Residual>,
    /// What a reader must know.
    pub notices: Vec<Notice>,
    /// One sentence on why the two methods differ, if they do.
    pub difference_between_methods: Option<String>,
    /// Least squares with units as fixed effects, where asked for or where the layout is not orthogonal.
    pub fixed_units: Option<FixedUnits>,
    #[serde(skip)]
    fit: Option<Fit>,
    #[serde(skip)]
    factors: Vec<Factor>,
}

/// Which method leads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Lead {
    /// The classical strata.
    Strata,
    /// REML with Kenward-Roger.
    Mixed,
}

/// The coefficient of variation of one stratum's error.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct StratumCv {
    /// Name of the stratum.
    pub stratum: String,
    /// Square root of the error mean square (per plot) over the grand mean, in percent; none when the grand mean is zero.
    pub percent: Option<f64>,
}

/// What the model leaves of one plot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Residual {
    /// Index of the plot in the experiment.
    pub plot: usize,
    /// Treatment mean plus the effects of the plot's larger units.
    pub fitted: f64,
    /// Value minus fitted.
    pub residual: f64,
    /// Residual over the root mean square of all residuals.
    pub standardised: f64,
}

/// Analyses one response as its layout demands.
///
/// Where the layout as observed is orthogonal, each term is tested against the mean square of its own stratum, and REML with
/// Kenward-Roger is given beside it; where it is not, REML with Kenward-Roger leads.
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
    let plots = Plots::of(experiment)?;
    check_variation(&plots)?;
    let (partitions, mut notices) = crate::strata::partitions(experiment, &plots)?;
    notices.splice(0..0, missing_notices(&plots));
    let terms = crate::terms::terms(&experiment.treatments);
    let classical = classical(&plots, &partitions, &terms, &experiment.treatments.factors)?;
    let mixed = mixed(&plots, &partitions, classical.is_some())?;
    let wanted = classical.is_none() || options.fixed_units == FixedUnitsWhen::Always;
    let fixed_units = wanted.then(|| crate::fixed_units::fixed_units(experiment, &plots, &partitions, &terms, options));
    assemble(Parts { experiment, options, plots, terms, classical, mixed, fixed_units: fixed_units.flatten(), notices })
}

struct Classical {
    layout: OrthogonalLayout,
    table: StrataTable,
    tests: Vec<TermTest>,
    notices: Vec<Notice>,
}

struct Parts<'a> {
    experiment: &'a Experiment,
    options: &'a Options,
    plots: Plots,
    terms: Vec<Term>,
    classical: Option<Classical>,
    mixed: Option<Result<MixedAnalysis, InferenceError>>,
    fixed_units: Option<FixedUnits>,
    notices: Vec<Notice>,
}

fn check_variation(plots: &Plots) -> Result<(), InferenceError> {
    let within = plots.within_treatments();
    let (within, total) = (crate::matrix::dot(&within, &within), crate::matrix::dot(&plots.value, &plots.value));
    if within <= 1e-26 * total { Err(InferenceError::NoVariation) } else { Ok(()) }
}

fn missing_notices(plots: &Plots) -> Vec<Notice> {
    let missing = (!plots.missing.is_empty()).then_some(Notice::MissingPlots { plots: plots.missing.len() });
    let absent = plots.treatments.iter().zip(&plots.present).filter(|(_, present)| present.is_none());
    let absent = absent.map(|(it, _)| Notice::TreatmentWithoutValues { treatment: it.label.clone() });
    missing.into_iter().chain(absent).collect()
}

fn classical(
    plots: &Plots,
    partitions: &[Partition],
    terms: &[Term],
    factors: &[Factor],
) -> Result<Option<Classical>, InferenceError> {
    let Some(layout) = OrthogonalLayout::of(plots, partitions) else { return Ok(None) };
    if layout.plot_stratum().error_df > 0.5 && layout.plot_stratum().error_ss == 0.0 {
        return Err(InferenceError::NoVariation);
    }
    if layout.strata.iter().all(|stratum| stratum.error_ms().is_none()) {
        return Err(no_error(plots));
    }
    let Some((table, tests, mut notices)) = crate::strata::analysis_of_variance(&layout, terms, factors, plots) else {
        return Ok(None);
    };
    notices.extend(layout.negative.iter().map(|name| Notice::NegativeVariance { stratum: name.clone() }));
    if !sums_of_squares_add_up(&table, plots) {
        notices.push(Notice::UnequalReplication);
    }
    Ok(Some(Classical { layout, table, tests, notices }))
}

fn no_error(plots: &Plots) -> InferenceError {
    InferenceError::NoErrorDegreesOfFreedom { plots: plots.count(), parameters: plots.replication.len() }
}

fn sums_of_squares_add_up(table: &StrataTable, plots: &Plots) -> bool {
    let rows = table.strata.iter().flat_map(|stratum| &stratum.rows).filter(|row| row.source != crate::RESIDUAL);
    let listed: f64 = rows.map(|row| row.ss).sum();
    let between: f64 = plots.treatment_means().iter().zip(&plots.replication).map(|(mean, n)| n * mean * mean).sum();
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
    let Parts { experiment, options, plots, terms, classical, mixed, fixed_units, mut notices } = parts;
    let structure = &experiment.treatments;
    let mixed = mixed.and_then(|fitted| fitted.map_err(|error| notices.push(second_failed(&error))).ok());
    let lead = lead(classical.is_some(), mixed.is_some(), options.method);
    let fit = leading_fit(lead, &plots, classical.as_ref(), mixed.as_ref())?;
    let by_model = mixed.as_ref().map(|it| mixed_tests(&it.fit, &terms, structure, &plots)).unwrap_or_default();
    let (tables, table_notices) = crate::means::tables(structure, &terms, &plots, &fit, options);
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
    let residuals = residuals(&plots, lead, classical.as_ref(), mixed.as_ref());
    let cv = cv(&plots, classical.as_ref(), mixed.as_ref());
    let (strata, by_strata) = classical.map(|it| (it.table, it.tests)).unzip();
    let by_strata = by_strata.unwrap_or_default();
    let (tests, other_tests) =
        if lead == Lead::Strata { (by_strata, by_model.tests) } else { (by_model.tests, by_strata) };
    Ok(Analysis {
        level: options.level,
        plots_used: plots.count(),
        grand_mean: plots.grand_mean,
        orthogonal: strata.is_some(),
        lead,
        strata,
        mixed: mixed.map(|it| it.mixed),
        tests,
        other_tests,
        tables,
        cv,
        residuals,
        notices,
        difference_between_methods,
        fixed_units,
        fit: Some(fit),
        factors: structure.factors.clone(),
        plots_missing: plots.missing,
    })
}

fn second_failed(error: &InferenceError) -> Notice {
    Notice::SecondMethodFailed { reason: error.to_string() }
}

fn lead(has_strata: bool, has_model: bool, method: Method) -> Lead {
    match (has_strata, method) {
        (true, Method::ByLayout) => Lead::Strata,
        (true, Method::Mixed) if !has_model => Lead::Strata,
        _ => Lead::Mixed,
    }
}

fn leading_fit(
    lead: Lead,
    plots: &Plots,
    classical: Option<&Classical>,
    mixed: Option<&MixedAnalysis>,
) -> Result<Fit, InferenceError> {
    match (lead, classical, mixed) {
        (Lead::Strata, Some(classical), _) => Ok(classical.layout.fit(plots)),
        (_, _, Some(mixed)) => Ok(mixed.fit.clone()),
        _ => Err(no_error(plots)),
    }
}

/// The mixed model's tests with what could not be tested.
#[derive(Default)]
struct TestsByModel {
    tests: Vec<TermTest>,
    notices: Vec<Notice>,
}

fn mixed_tests(fit: &Fit, terms: &[Term], structure: &TreatmentStructure, plots: &Plots) -> TestsByModel {
    let (mut tests, mut notices) = (Vec::new(), Vec::new());
    for term in terms {
        let comparisons = term.comparisons(&structure.factors, plots);
        let label = term.label.clone();
        let (df, full_df) = (comparisons.rows.len() as f64, comparisons.full_df as f64);
        let test = if comparisons.rows.is_empty() { None } else { fit.f_test(&comparisons.rows).ok() };
        match test {
            None => notices.push(Notice::NotTestable { term: label.clone() }),
            Some(_) if df < full_df => notices.push(Notice::TestedInPart { term: label.clone(), df, full_df }),
            Some(_) => {}
        }
        tests.extend(test.map(|test| kenward_roger_test(term, test)));
    }
    TestsByModel { tests, notices }
}

fn kenward_roger_test(term: &Term, test: FTest) -> TermTest {
    let (term, label) = (term.names.clone(), term.label.clone());
    let FTest { num_df, den_df, f, p } = test;
    TermTest { term, label, stratum: None, num_df, den_df, f, p, method: TestMethod::KenwardRoger }
}

fn residuals(plots: &Plots, lead: Lead, classical: Option<&Classical>, mixed: Option<&MixedAnalysis>) -> Vec<Residual> {
    let left: Vec<f64> = match (lead, classical, mixed) {
        (Lead::Strata, Some(classical), _) => classical.layout.plot_stratum().deviations.clone(),
        (_, _, Some(mixed)) => plots.value.iter().zip(&mixed.fitted).map(|(value, fitted)| value - fitted).collect(),
        _ => plots.within_treatments(),
    };
    let root_mean_square = (crate::matrix::dot(&left, &left) / left.len() as f64).sqrt();
    let of = |(position, &residual): (usize, &f64)| Residual {
        plot: plots.index[position],
        fitted: plots.grand_mean + plots.value[position] - residual,
        residual,
        standardised: if root_mean_square > 0.0 { residual / root_mean_square } else { 0.0 },
    };
    left.iter().enumerate().map(of).collect()
}

fn cv(plots: &Plots, classical: Option<&Classical>, mixed: Option<&MixedAnalysis>) -> Vec<StratumCv> {
    let percent = |ms: f64| (plots.grand_mean != 0.0).then(|| 100.0 * ms.sqrt() / plots.grand_mean.abs());
    match (classical, mixed) {
        (Some(classical), _) => {
            let errors = classical.layout.strata.iter().filter_map(|it| it.error_ms().map(|ms| (it.name.clone(), ms)));
            errors.map(|(stratum, ms)| StratumCv { stratum, percent: percent(ms) }).collect()
        }
        (None, Some(mixed)) => {
            vec![StratumCv { stratum: "plot".into(), percent: percent(mixed.mixed.residual_variance) }]
        }
        (None, None) => Vec::new(),
    }
}

impl Analysis {
    /// Any linear comparison of treatment means, by the leading method.
    ///
    /// - `weights`: one per treatment, in the order of `TreatmentStructure::treatments()`; they need not sum to zero (a mean is a
    ///   comparison too)
    ///
    /// # Errors
    /// See [`Fit::contrast`]; [`InferenceError::FitNotKept`] when the analysis was read back from a file.
    pub fn contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        self.fit()?.contrast(weights)
    }

    /// Tests several comparisons at once, by the leading method.
    ///
    /// # Errors
    /// As [`Self::contrast`].
    pub fn f_test(&self, comparisons: &[Vec<f64>]) -> Result<FTest, InferenceError> {
        self.fit()?.f_test(comparisons)
    }

    /// The fit that comparisons are computed from.
    ///
    /// # Errors
    /// [`InferenceError::FitNotKept`] when the analysis was read back from a file.
    pub fn fit(&self) -> Result<&Fit, InferenceError> {
        self.fit.as_ref().ok_or(InferenceError::FitNotKept)
    }

    /// The table of these factors (empty: of all treatments).
    pub fn table(&self, term: &[&str]) -> Option<&MeansTable> {
        self.tables.iter().find(|table| table.term == term)
    }

    /// The leading test of these factors (empty: of controls and factorial).
    pub fn test(&self, term: &[&str]) -> Option<&TermTest> {
        self.tests.iter().find(|test| test.term == term)
    }

    /// Polynomial trend over a quantitative factor's amounts, averaged over the other factors.
    ///
    /// # Errors
    /// [`InferenceError::NotQuantitative`]; otherwise as [`Self::contrast`].
    pub fn trend(&self, factor: &str, most_degrees: usize) -> Result<Trend, InferenceError> {
        let scores = self.amounts(factor)?;
        self.trend_over(factor, &scores, &[], most_degrees)
    }

    /// Polynomial trend over scores that are given (such as logarithms of the amounts), at fixed levels of some other factors
    /// (pairs of factor and level label) and averaged over the rest.
    ///
    /// # Errors
    /// [`InferenceError::NotQuantitative`] for an unknown factor or level; otherwise as [`Self::contrast`].
    pub fn trend_over(
        &self,
        factor: &str,
        scores: &[f64],
        at: &[(&str, &str)],
        most_degrees: usize,
    ) -> Result<Trend, InferenceError> {
        let fit = self.fit()?;
        let position = self.position(factor)?;
        if scores.len() != self.factors[position].levels.len() {
            return Err(InferenceError::Scores { levels: self.factors[position].levels.len() });
        }
        let fixed = at.iter().map(|&(name, level)| self.fixed_level(name, level)).collect::<Result<Vec<_>, _>>()?;
        let means: Vec<Vec<f64>> = (0..scores.len())
            .map(|level| self.mean_at(fit, &[fixed.as_slice(), &[(position, level)]].concat()))
            .collect();
        crate::trend::trend(fit, factor, scores, &means, most_degrees)
    }

    fn position(&self, factor: &str) -> Result<usize, InferenceError> {
        let found = self.factors.iter().position(|it| it.name == factor);
        found.ok_or_else(|| InferenceError::NotQuantitative { factor: factor.to_owned() })
    }

    fn fixed_level(&self, factor: &str, level: &str) -> Result<(usize, usize), InferenceError> {
        let position = self.position(factor)?;
        let found = self.factors[position].levels.iter().position(|it| it.label == level);
        found
            .map(|level| (position, level))
            .ok_or_else(|| InferenceError::NotQuantitative { factor: format!("{factor}, {level}") })
    }

    fn amounts(&self, factor: &str) -> Result<Vec<f64>, InferenceError> {
        let found = &self.factors[self.position(factor)?];
        let amounts: Option<Vec<f64>> = found.levels.iter().map(|level| level.amount).collect();
        let amounts = amounts.filter(|_| matches!(found.scale, Scale::Quantitative { .. }));
        amounts.ok_or_else(|| InferenceError::NotQuantitative { factor: factor.to_owned() })
    }

    /// Weights of the mean over all treatments of the factorial that have these levels.
    fn mean_at(&self, fit: &Fit, levels: &[(usize, usize)]) -> Vec<f64> {
        let sizes: Vec<usize> = self.factors.iter().map(|factor| factor.levels.len()).collect();
        let mut weights: Vec<f64> = crate::terms::combinations(&sizes)
            .iter()
            .map(|combination| f64::from(u8::from(levels.iter().all(|&(factor, level)| combination[factor] == level))))
            .collect();
        weights.resize(fit.present.len(), 0.0);
        let members: f64 = weights.iter().sum();
        weights.iter_mut().for_each(|weight| *weight /= members);
        weights
    }
}

//! Analysis of covariance: what each covariate did, whether it did so alike for all treatments, and whether treatments moved it.

mod parallel;

use crate::fit::FTest;
use crate::{Analysis, Estimate, Experiment, Notice, Options, TermTest, analyse};
use serde::{Deserialize, Serialize};

/// One covariate in the analysis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct CovariateResult {
    /// Its name.
    pub name: String,
    /// Its unit, for people.
    pub unit: Option<String>,
    /// Its mean over the used plots, at which the treatments' means are given.
    pub mean: f64,
    /// Its smallest and largest value on a used plot.
    pub range: (f64, f64),
    /// Slope common to all treatments, in the response's unit per the covariate's; none when its error is not known.
    pub slope: Option<Estimate>,
    /// Two-sided p of the slope.
    pub p: Option<f64>,
    /// Whether the slopes differ between treatments; none when too few plots are left to tell.
    pub parallel: Option<FTest>,
    /// Tests of the treatments on the covariate itself, without adjustment.
    pub affected: Vec<TermTest>,
}

/// Adds what the covariates did to an analysis that has them as columns.
pub(crate) fn add_covariates(analysis: &mut Analysis, experiment: &Experiment, options: &Options) {
    let results: Vec<CovariateResult> =
        (0..experiment.covariates.len()).filter_map(|index| result(analysis, experiment, options, index)).collect();
    analysis.notices.extend(results.iter().flat_map(|result| notices(result, options.level)));
    analysis.covariates = results;
}

fn result(analysis: &Analysis, experiment: &Experiment, options: &Options, index: usize) -> Option<CovariateResult> {
    let kept = analysis.kept().ok()?;
    let column = kept.plots.covariates.get(index)?;
    let slope = kept.fit.estimate_of_row(&kept.fit.slope_row(index)).ok();
    let (low, high) = column.value.iter().fold((f64::MAX, f64::MIN), |(low, high), it| (low.min(*it), high.max(*it)));
    Some(CovariateResult {
        name: column.name.clone(),
        unit: column.unit.clone(),
        mean: column.mean,
        range: (column.mean + low, column.mean + high),
        slope,
        p: slope.as_ref().map(Estimate::p),
        parallel: parallel::test(kept, index),
        affected: affected(experiment, options, index),
    })
}

/// The covariate as a response of the same layout, on the plots that have both.
fn affected(experiment: &Experiment, options: &Options, index: usize) -> Vec<TermTest> {
    let covariate = &experiment.covariates[index];
    let used = |plot: usize| {
        experiment.response[plot].is_some() && experiment.covariates.iter().all(|it| it.values[plot].is_some())
    };
    let response = (0..experiment.response.len()).map(|plot| covariate.values[plot].filter(|_| used(plot))).collect();
    let alone = Experiment { response, covariates: Vec::new(), ..experiment.clone() };
    let tests = analyse(&alone, options).map(|analysis| analysis.tests).unwrap_or_default();
    let of_places = |test: &TermTest| test.term.iter().all(|name| experiment.environments.contains(name));
    tests.into_iter().filter(|test| test.term.is_empty() || !of_places(test)).collect()
}

fn notices(result: &CovariateResult, level: f64) -> Vec<Notice> {
    let clearest = result.affected.iter().filter(|test| test.p < level).min_by(|a, b| a.p.total_cmp(&b.p));
    let affected = clearest.map(|test| {
        let (covariate, term, p) = (result.name.clone(), test.label.clone(), test.p);
        Notice::CovariateAffected { covariate, term, p }
    });
    let differ = result.parallel.filter(|test| test.p < level);
    let differ = differ.map(|test| Notice::SlopesDiffer { covariate: result.name.clone(), p: test.p });
    affected.into_iter().chain(differ).collect()
}

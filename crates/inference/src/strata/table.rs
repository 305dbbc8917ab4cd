//! The analysis of variance, stratum by stratum.

use super::OrthogonalLayout;
use super::orthogonal::ErrorTerm;
use super::parts::StratumPart;
use crate::TermTest;
use crate::distribution::f_upper;
use crate::fit::Fit;
use crate::plots::Plots;
use crate::terms::{Part, Term};
use crate::{Notice, TestMethod};
use serde::{Deserialize, Serialize};

/// Source of the row that holds a stratum's error.
pub const RESIDUAL: &str = "residual";

/// The whole analysis of variance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct StrataTable {
    /// Outer strata first.
    pub strata: Vec<StratumRows>,
}

/// One stratum's rows; the row called `residual` is its error and comes last.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct StratumRows {
    /// Name of the stratum.
    pub stratum: String,
    /// Its rows.
    pub rows: Vec<AnovaRow>,
    /// Where the stratum has no error of its own: the sum of mean squares that stands for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub error_from: Option<String>,
    /// Whether the classes of the stratum vary at all beyond what is inside them; none for the innermost, and without error.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub variance_test: Option<VarianceTest>,
}

/// The F test of one stratum's own variance against what is inside it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct VarianceTest {
    /// The stratum inside whose mean square is expected without that variance, or the sum that stands for it.
    pub against: String,
    /// The variance ratio.
    pub f: f64,
    /// Degrees of freedom of the stratum's error.
    pub num_df: f64,
    /// Degrees of freedom of what it is set against.
    pub den_df: f64,
    /// Its upper tail.
    pub p: f64,
}

/// One source of variation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct AnovaRow {
    /// The term, or `residual`.
    pub source: String,
    /// Degrees of freedom.
    pub df: f64,
    /// Sum of squares.
    pub ss: f64,
    /// Mean square.
    pub ms: f64,
    /// Variance ratio against the stratum's error; none for the error itself or without error.
    pub f: Option<f64>,
    /// Its upper tail.
    pub p: Option<f64>,
}

impl StrataTable {
    /// The rows of one stratum.
    pub fn stratum(&self, name: &str) -> Option<&StratumRows> {
        self.strata.iter().find(|stratum| stratum.stratum == name)
    }
}

impl StratumRows {
    /// The row of one source.
    pub fn row(&self, source: &str) -> Option<&AnovaRow> {
        self.rows.iter().find(|row| row.source == source)
    }
}

/// The table, the tests in it and what must be said about them.
#[derive(Debug, Clone)]
pub(crate) struct ClassicalTests {
    pub table: StrataTable,
    pub tests: Vec<TermTest>,
    pub notices: Vec<Notice>,
}

/// Nothing when some term cannot be divided over the strata, or when the error that it needs is not above zero.
pub(crate) fn analysis_of_variance(
    layout: &OrthogonalLayout,
    terms: &[Term],
    plots: &Plots,
    fit: &Fit,
) -> Option<ClassicalTests> {
    let errors: Vec<Option<ErrorTerm>> = (0..layout.strata.len()).map(|index| layout.error(index)).collect();
    let mut rows: Vec<Vec<AnovaRow>> = vec![Vec::new(); layout.strata.len()];
    let (mut tests, mut notices, mut places) = (Vec::new(), Vec::new(), Vec::new());
    for term in terms {
        let comparisons = term.comparisons(&plots.cells);
        if comparisons.rows.is_empty() {
            notices.push(Notice::NotTestable { term: term.label.clone() });
            continue;
        }
        if comparisons.rows.len() < comparisons.full_df {
            let (df, full_df) = (comparisons.rows.len() as f64, comparisons.full_df as f64);
            notices.push(Notice::TestedInPart { term: term.label.clone(), df, full_df });
        }
        let parts = layout.divide(&comparisons.rows, plots)?;
        for part in &parts {
            let error = errors[part.stratum].as_ref();
            if error.is_none() && !layout.strata[part.stratum].has_effects {
                return None;
            }
            let row = part_row(layout, term, part, fit, error)?;
            tests.extend(error.and_then(|error| term_test(term, &row, error)));
            rows[part.stratum].push(row);
        }
        places.push((term, parts.iter().map(|part| part.stratum).collect()));
    }
    notices.extend(placement_notices(layout, &errors, &places));
    notices.extend(environment_notices(layout, &places));
    rows.last_mut()?.extend(covariate_rows(layout, plots, fit));
    let strata = layout.strata.iter().zip(rows).zip(&errors).enumerate();
    let strata = strata.filter_map(|(index, ((stratum, mut rows), error))| {
        if let Some(ms) = stratum.error_ms() {
            let (df, ss) = (stratum.error_df, stratum.error_ss);
            rows.push(AnovaRow { source: RESIDUAL.into(), df, ss, ms, f: None, p: None });
        }
        let error_from = error.as_ref().filter(|error| error.is_sum).map(|error| error.name.clone());
        let is_empty = rows.is_empty() && !stratum.has_effects;
        let (stratum, variance_test) = (stratum.name.clone(), variance_test(layout, index));
        (!is_empty).then_some(StratumRows { stratum, rows, error_from, variance_test })
    });
    Some(ClassicalTests { table: StrataTable { strata: strata.collect() }, tests, notices })
}

fn variance_test(layout: &OrthogonalLayout, stratum: usize) -> Option<VarianceTest> {
    let own = &layout.strata[stratum];
    let (ms, inside) = (own.error_ms()?, layout.inside(stratum)?);
    let (f, num_df, den_df) = (ms / inside.ms, own.error_df, inside.df);
    Some(VarianceTest { against: inside.name, f, num_df, den_df, p: f_upper(f, num_df, den_df) })
}

/// The row of a term in one stratum: adjusted for the covariates, where there are any.
fn part_row(
    layout: &OrthogonalLayout,
    term: &Term,
    part: &StratumPart,
    fit: &Fit,
    error: Option<&ErrorTerm>,
) -> Option<AnovaRow> {
    let (ms, df) = (error.map(|it| it.ms), error.map_or(f64::NAN, |it| it.df));
    if layout.adjustment.is_none() {
        return Some(tested_row(term.label.clone(), part.df, part.ss, ms, df));
    }
    let rows = (0..part.rows.rows).map(|row| with_offsets(part.rows.row(row), fit)).collect();
    let test = fit.f_test_of_rows(rows).ok()?;
    Some(tested_row(term.label.clone(), part.df, test.f * part.df * ms?, ms, df))
}

fn with_offsets(over_cells: &[f64], fit: &Fit) -> Vec<f64> {
    let mut row = over_cells.to_vec();
    row.resize(fit.estimates.len(), 0.0);
    for (cell, &weight) in over_cells.iter().enumerate() {
        crate::matrix::add_scaled(&mut row[over_cells.len()..], weight, fit.offsets.row(cell));
    }
    row
}

/// What each covariate takes off the error, given everything else.
fn covariate_rows(layout: &OrthogonalLayout, plots: &Plots, fit: &Fit) -> Vec<AnovaRow> {
    let error = layout.plot_stratum();
    let row = |(index, covariate): (usize, &crate::covariates::CovariateColumn)| {
        let slope = fit.estimate_of_row(&fit.slope_row(index)).ok()?;
        let ms = error.error_ms()?;
        Some(tested_row(covariate.name.clone(), 1.0, slope.t().powi(2) * ms, Some(ms), error.error_df))
    };
    plots.covariates.iter().enumerate().filter_map(row).collect()
}

pub(crate) fn tested_row(source: String, df: f64, ss: f64, error_ms: Option<f64>, error_df: f64) -> AnovaRow {
    let ms = ss / df;
    let f = error_ms.filter(|&error| error > 0.0).map(|error| ms / error);
    AnovaRow { source, df, ss, ms, f, p: f.map(|f| f_upper(f, df, error_df)) }
}

fn term_test(term: &Term, row: &AnovaRow, error: &ErrorTerm) -> Option<TermTest> {
    Some(TermTest {
        term: term.names.clone(),
        label: term.label.clone(),
        stratum: Some(error.name.clone()),
        num_df: row.df,
        den_df: error.df,
        f: row.f?,
        p: row.p?,
        method: TestMethod::Strata,
    })
}

/// Says where errors are weak or missing, and which interactions are confounded with larger units.
fn placement_notices(
    layout: &OrthogonalLayout,
    errors: &[Option<ErrorTerm>],
    places: &[(&Term, Vec<usize>)],
) -> Vec<Notice> {
    let mut notices = Vec::new();
    let name = |index: usize| layout.strata[index].name.clone();
    for (term, place) in places.iter().filter(|(term, _)| term.part != Part::Nothing) {
        if let [_, _, ..] = place.as_slice() {
            let strata = place.iter().map(|&index| name(index)).collect();
            notices.push(Notice::SplitOverStrata { term: term.label.clone(), strata });
        }
        let of_parts = places.iter().filter(|(part, _)| is_part(part, term)).filter_map(|(_, place)| place.last());
        if let (Some(&within), Some(&innermost)) = (of_parts.max(), place.last())
            && innermost < within
        {
            let (stratum, within) = (name(innermost), name(within));
            notices.push(Notice::Confounded { term: term.label.clone(), stratum, within });
        }
    }
    for (index, error) in errors.iter().enumerate() {
        let is_used = places.iter().any(|(_, place)| place.contains(&index));
        match error {
            _ if !is_used => {}
            None => notices.push(Notice::NoErrorDegreesOfFreedom { stratum: name(index) }),
            Some(error) if error.is_sum => {
                notices.push(Notice::ErrorIsSum { stratum: name(index), from: error.name.clone() })
            }
            Some(error) if error.df < 12.0 => {
                notices.push(Notice::FewErrorDegreesOfFreedom { stratum: error.name.clone(), df: error.df })
            }
            Some(_) => {}
        }
    }
    notices
}

/// Places and seasons were not drawn by lot: what their own differences are judged by is said.
fn environment_notices(layout: &OrthogonalLayout, places: &[(&Term, Vec<usize>)]) -> Vec<Notice> {
    let alone = places.iter().filter(|(term, _)| term.part == Part::Nothing);
    let notice = |(term, place): &(&Term, Vec<usize>)| {
        let stratum = *place.last()?;
        let (within, is_plots) = (layout.strata[stratum].name.clone(), stratum + 1 == layout.strata.len());
        Some(Notice::EnvironmentsNotDrawn { term: term.label.clone(), within, has_blocks: !is_plots })
    };
    alone.filter_map(notice).collect()
}

fn is_part(part: &Term, of: &Term) -> bool {
    !part.factors().is_empty()
        && part.names.len() < of.names.len()
        && part.environment.is_none_or(|place| of.environment == Some(place))
        && part.factors().iter().all(|it| of.factors().contains(it))
}

//! The analysis of variance, stratum by stratum.

use super::OrthogonalLayout;
use crate::TermTest;
use crate::distribution::f_upper;
use crate::plots::Plots;
use crate::terms::Term;
use crate::{Notice, TestMethod};
use guardrow_design::Factor;
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

/// The table, the tests in it and what must be said about them; nothing when some term cannot be divided over the strata.
pub(crate) fn analysis_of_variance(
    layout: &OrthogonalLayout,
    terms: &[Term],
    factors: &[Factor],
    plots: &Plots,
) -> Option<(StrataTable, Vec<TermTest>, Vec<Notice>)> {
    let mut strata: Vec<StratumRows> =
        layout.strata.iter().map(|stratum| StratumRows { stratum: stratum.name.clone(), rows: Vec::new() }).collect();
    let (mut tests, mut notices, mut places) = (Vec::new(), Vec::new(), Vec::new());
    for term in terms {
        let comparisons = term.comparisons(factors, plots);
        if comparisons.rows.is_empty() {
            notices.push(Notice::NotTestable { term: term.label.clone() });
            continue;
        }
        if comparisons.rows.len() < comparisons.full_df {
            let (df, full_df) = (comparisons.rows.len() as f64, comparisons.full_df as f64);
            notices.push(Notice::TestedInPart { term: term.label.clone(), df, full_df });
        }
        let parts = layout.divide(&comparisons.rows, plots)?;
        let place: Vec<usize> = parts.iter().map(|part| part.stratum).collect();
        for part in &parts {
            let error = &layout.strata[part.stratum];
            let df = part.rows.len() as f64;
            let row = tested_row(term.label.clone(), df, part.ss, error.error_ms(), error.error_df);
            tests.extend(term_test(term, &row, &error.name, error.error_df));
            strata[part.stratum].rows.push(row);
        }
        places.push((term, place));
    }
    notices.extend(placement_notices(layout, &places));
    for (rows, stratum) in strata.iter_mut().zip(&layout.strata) {
        if let Some(ms) = stratum.error_ms() {
            let (df, ss) = (stratum.error_df, stratum.error_ss);
            rows.rows.push(AnovaRow { source: RESIDUAL.into(), df, ss, ms, f: None, p: None });
        }
    }
    Some((StrataTable { strata }, tests, notices))
}

pub(crate) fn tested_row(source: String, df: f64, ss: f64, error_ms: Option<f64>, error_df: f64) -> AnovaRow {
    let ms = ss / df;
    let f = error_ms.filter(|&error| error > 0.0).map(|error| ms / error);
    AnovaRow { source, df, ss, ms, f, p: f.map(|f| f_upper(f, df, error_df)) }
}

fn term_test(term: &Term, row: &AnovaRow, stratum: &str, error_df: f64) -> Option<TermTest> {
    Some(TermTest {
        term: term.names.clone(),
        label: term.label.clone(),
        stratum: Some(stratum.to_owned()),
        num_df: row.df,
        den_df: error_df,
        f: row.f?,
        p: row.p?,
        method: TestMethod::Strata,
    })
}

/// Says where errors are weak or missing, and which interactions are confounded with larger units.
fn placement_notices(layout: &OrthogonalLayout, places: &[(&Term, Vec<usize>)]) -> Vec<Notice> {
    let mut notices = Vec::new();
    for (term, place) in places {
        if let [_, _, ..] = place.as_slice() {
            let strata = place.iter().map(|&index| layout.strata[index].name.clone()).collect();
            notices.push(Notice::SplitOverStrata { term: term.label.clone(), strata });
        }
        let of_parts = places.iter().filter(|(part, _)| is_part(part, term)).filter_map(|(_, place)| place.last());
        if let (Some(&within), Some(&innermost)) = (of_parts.max(), place.last())
            && innermost < within
        {
            let name = |index: usize| layout.strata[index].name.clone();
            notices.push(Notice::Confounded {
                term: term.label.clone(),
                stratum: name(innermost),
                within: name(within),
            });
        }
    }
    for (index, stratum) in layout.strata.iter().enumerate() {
        let is_used = places.iter().any(|(_, place)| place.contains(&index));
        let (name, df) = (stratum.name.clone(), stratum.error_df);
        match stratum.error_ms() {
            _ if !is_used => {}
            None => notices.push(Notice::NoErrorDegreesOfFreedom { stratum: name }),
            Some(_) if df < 12.0 => notices.push(Notice::FewErrorDegreesOfFreedom { stratum: name, df }),
            Some(_) => {}
        }
    }
    notices
}

fn is_part(part: &Term, of: &Term) -> bool {
    !part.factors.is_empty()
        && part.factors.len() < of.factors.len()
        && part.factors.iter().all(|it| of.factors.contains(it))
}

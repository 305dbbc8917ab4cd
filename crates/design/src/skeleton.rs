//! The degrees of freedom that a plan will give, before anything is seeded.

use crate::notice::{Notice, NoticeTopic};
use crate::{Arrangement, DesignError, TreatmentStructure};
use serde::{Deserialize, Serialize};

/// Below this many error degrees of freedom a comparison is weak and the plan says so.
///
/// Source: the European plant protection standard PP 1/152 on the design of trials asks for at least 12 (from memory).
pub const FEWEST_ERROR_DF: usize = 12;

/// Degrees of freedom by stratum, outermost first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Skeleton {
    /// One part for each stratum of the arrangement.
    pub strata: Vec<SkeletonStratum>,
    /// Number of plots less one.
    pub total_df: usize,
    /// What the person should know before seeding.
    pub notices: Vec<Notice>,
}

/// The degrees of freedom of one stratum.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct SkeletonStratum {
    /// Name of the stratum: `block`, `main plot`, `plot`.
    pub name: String,
    /// The treatment sources that are tested in this stratum.
    pub rows: Vec<SkeletonRow>,
    /// What is left for error; in a stratum without treatment sources, all of it.
    pub error_df: usize,
    /// Sources and error together.
    pub total_df: usize,
}

/// One treatment source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct SkeletonRow {
    /// Name for people: `variety`, `variety x nitrogen`, `controls and factorial`.
    pub source: String,
    /// The factors of the term; empty for the comparison of controls and factorial.
    pub factors: Vec<String>,
    /// Degrees of freedom.
    pub df: usize,
}

/// Works out the degrees of freedom of every source and of every error.
///
/// With controls beside the factorial the treatments are parted as a one-way set of all treatments: first the controls and
/// the factorial as a whole (as many degrees of freedom as there are controls), then the factorial's own terms.
///
/// Where blocks are incomplete, the treatments are counted in the innermost stratum whole.
///
/// # Errors
/// Whatever [`Arrangement::check`] finds; [`DesignError::UnitsNotCounted`] for stated units.
/// # Source
/// As any text on experiments, for example Cochran & Cox (1957) (from memory); the formulas are in `docs/numbers/arrangements.md`.
pub fn skeleton(treatments: &TreatmentStructure, arrangement: &Arrangement) -> Result<Skeleton, DesignError> {
    arrangement.check(treatments)?;
    let strata = strata(treatments, arrangement).ok_or(DesignError::UnitsNotCounted)?;
    let notices = strata.iter().filter_map(|stratum| few_error_df(stratum, treatments, arrangement)).collect();
    Ok(Skeleton { strata, total_df: arrangement.plot_count(treatments) - 1, notices })
}

fn strata(treatments: &TreatmentStructure, arrangement: &Arrangement) -> Option<Vec<SkeletonStratum>> {
    let sources = sources(treatments, arrangement);
    let strata = arrangement.block_structure(treatments).strata();
    let mut parts: Vec<SkeletonStratum> = Vec::new();
    for (stratum, units) in strata.iter().zip(arrangement.unit_counts(treatments)?) {
        let further_out = strata.iter().zip(&parts).filter(|(outer, _)| stratum.lies_within(outer));
        let total_df = units.saturating_sub(1).saturating_sub(further_out.map(|(_, part)| part.total_df).sum());
        let rows: Vec<SkeletonRow> =
            sources.iter().filter(|(unit, _)| *unit == stratum.name).map(|(_, row)| row.clone()).collect();
        let error_df = total_df.saturating_sub(rows.iter().map(|row| row.df).sum());
        parts.push(SkeletonStratum { name: stratum.name.clone(), rows, error_df, total_df });
    }
    Some(parts)
}

/// Every treatment source with the unit it is tested in: controls first, then the terms, main effects before interactions.
fn sources(treatments: &TreatmentStructure, arrangement: &Arrangement) -> Vec<(String, SkeletonRow)> {
    let innermost = || arrangement.stratum_of(&[], treatments).name;
    let controls = (!treatments.controls.is_empty()).then(|| (innermost(), controls_row(treatments)));
    let mut terms: Vec<Vec<usize>> = vec![Vec::new()];
    for factor in 0..treatments.factors.len() {
        let with_it: Vec<Vec<usize>> = terms.iter().map(|term| [term.as_slice(), &[factor]].concat()).collect();
        terms.extend(with_it);
    }
    terms.retain(|term| !term.is_empty());
    terms.sort_by(|a, b| a.len().cmp(&b.len()).then_with(|| a.cmp(b)));
    let terms = terms.iter().map(|term| (stratum_of_term(term, treatments, arrangement), term_row(term, treatments)));
    controls.into_iter().chain(terms).collect()
}

fn controls_row(treatments: &TreatmentStructure) -> SkeletonRow {
    let source = if treatments.controls.len() == 1 { "control against factorial" } else { "controls and factorial" };
    SkeletonRow { source: source.to_owned(), factors: Vec::new(), df: treatments.controls.len() }
}

fn term_row(term: &[usize], treatments: &TreatmentStructure) -> SkeletonRow {
    let factors: Vec<String> = term.iter().map(|&index| treatments.factors[index].name.clone()).collect();
    let df = term.iter().map(|&index| treatments.factors[index].levels.len() - 1).product();
    SkeletonRow { source: factors.join(" x "), factors, df }
}

fn stratum_of_term(term: &[usize], treatments: &TreatmentStructure, arrangement: &Arrangement) -> String {
    let factors: Vec<&str> = term.iter().map(|&index| treatments.factors[index].name.as_str()).collect();
    arrangement.stratum_of(&factors, treatments).name
}

fn few_error_df(
    stratum: &SkeletonStratum,
    treatments: &TreatmentStructure,
    arrangement: &Arrangement,
) -> Option<Notice> {
    if stratum.rows.is_empty() || stratum.error_df >= FEWEST_ERROR_DF {
        return None;
    }
    let tested: Vec<&str> = stratum.rows.iter().map(|row| row.source.as_str()).collect();
    let (tested, units) = (tested.join(", "), crate::description::units_in_words(&stratum.name));
    let remedy = match replicates_that_suffice(&stratum.name, treatments, arrangement) {
        Some(replicates) => format!("{replicates} replicates would give {FEWEST_ERROR_DF} or more."),
        None => "More replicates would help.".to_owned(),
    };
    let (topic, judged) = match stratum.error_df {
        0 => (
            NoticeTopic::NoErrorDf,
            format!("Between {units} no degrees of freedom are left for error, so nothing can be said about {tested}"),
        ),
        df => (NoticeTopic::FewErrorDf, few_between(&units, df, &tested)),
    };
    Some(Notice { topic, sentence: format!("{judged}. {remedy}") })
}

fn few_between(units: &str, df: usize, tested: &str) -> String {
    let left =
        if df == 1 { "only 1 degree of freedom is".to_owned() } else { format!("only {df} degrees of freedom are") };
    format!(
        "Between {units} {left} left for error to judge {tested}; fewer than {FEWEST_ERROR_DF} find only large differences"
    )
}

/// The fewest replicates with which this stratum has error degrees of freedom enough, if 100 or fewer do.
fn replicates_that_suffice(stratum: &str, treatments: &TreatmentStructure, arrangement: &Arrangement) -> Option<usize> {
    (arrangement.replicates() + 1..=100).find(|&replicates| {
        let larger = arrangement.with_replicates(replicates);
        let strata = larger.check(treatments).ok().and_then(|()| strata(treatments, &larger)).unwrap_or_default();
        strata.iter().any(|part| part.name == stratum && part.error_df >= FEWEST_ERROR_DF)
    })
}

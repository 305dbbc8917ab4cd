//! What was asked of a measure on top of its analysis, in full precision: trends, curves, effects within levels, the residuals.

use guardrow_design::{Factor, Scale};
use guardrow_inference::{
    Analysis, CurveOptions, Homogeneity, Lead, Looking, MeansTable, Method, Options, ResponseCurves, SimpleEffect,
    TermTest, Trend, analyse, homogeneity,
};
use serde::Serialize;

use super::curves::FEWEST_AMOUNTS;
use crate::Plan;
use crate::analysed::Analysed;
use crate::dossier::Laid;
use crate::experiment::experiment;

/// Polynomials of a higher degree say nothing of a crop.
const MOST_DEGREES: usize = 6;

/// Everything that the engine tells of one measure beside its analysis. Nothing is left out for being unclear or unimportant; the
/// report chooses from it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Further {
    /// Tests of all fixed terms by the mixed model with Satterthwaite's degrees of freedom, beside those by Kenward and Roger.
    pub satterthwaite: Vec<TermTest>,
    /// Means by the mixed model, where the strata lead and the two differ.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub means_by_model: Vec<MeansTable>,
    /// Polynomial trends over every quantitative factor, averaged over the other factors and at each level of each.
    pub trends: Vec<TrendAt>,
    /// Curves over every quantitative factor with four amounts or more, averaged over the other factors and by each.
    pub curves: Vec<CurvesOver>,
    /// The effect of every factor at each combination of levels of others (and of places), for all interactions.
    pub simple_effects: Vec<SimpleEffect>,
    /// The residuals: studentised, out of line, spread by group.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub looking: Option<Looking>,
    /// The errors of places and years, each analysed by itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub places: Option<Homogeneity>,
}

/// A polynomial trend at one level of another factor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrendAt {
    /// Factor and level that it holds at; none where it is averaged over all other factors.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<(String, String)>,
    /// The trend.
    pub trend: Trend,
}

/// Curves over the amounts of one factor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CurvesOver {
    /// The quantitative factor.
    pub factor: String,
    /// The factor that has a curve at each of its levels; none where one curve is averaged over the others.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The curves.
    pub curves: ResponseCurves,
}

/// Asks everything of an analysis.
pub(super) fn further(measure: &Analysed, analysis: &Analysis, laid: &Laid, plan: &Plan) -> Further {
    let factors = &laid.treatments.factors;
    let of_places = homogeneity(&experiment(laid, measure.response.clone()), &Options::default()).ok().flatten();
    Further {
        satterthwaite: analysis.mixed.as_ref().and_then(|_| analysis.satterthwaite_tests().ok()).unwrap_or_default(),
        means_by_model: means_by_model(measure, analysis),
        trends: factors.iter().flat_map(|factor| trends(analysis, factor, factors)).collect(),
        curves: factors.iter().flat_map(|factor| curves(measure, analysis, factor, factors, plan)).collect(),
        simple_effects: simple_effects(analysis, factors),
        looking: analysis.looking().ok(),
        places: of_places.filter(|places| places.environments.len() > 1),
    }
}

fn means_by_model(measure: &Analysed, analysis: &Analysis) -> Vec<MeansTable> {
    if analysis.lead != Lead::Strata || analysis.difference_between_methods.is_none() {
        return Vec::new();
    }
    let by_model = analyse(&measure.experiment, &Options { method: Method::Mixed, ..Options::default() });
    by_model.map(|it| it.tables).unwrap_or_default()
}

fn is_quantitative(factor: &Factor) -> bool {
    matches!(factor.scale, Scale::Quantitative { .. })
}

fn trends(analysis: &Analysis, factor: &Factor, factors: &[Factor]) -> Vec<TrendAt> {
    let amounts: Option<Vec<f64>> = factor.levels.iter().map(|level| level.amount).collect();
    let Some(amounts) = amounts.filter(|amounts| is_quantitative(factor) && amounts.len() > 2) else {
        return Vec::new();
    };
    let of_level =
        |other: &Factor| other.levels.iter().map(|it| (other.name.clone(), it.label.clone())).collect::<Vec<_>>();
    let others = factors.iter().filter(|other| other.name != factor.name);
    let places = std::iter::once(None).chain(others.flat_map(of_level).map(Some));
    let degrees = (amounts.len() - 1).min(MOST_DEGREES);
    let of = |at: Option<(String, String)>| {
        let fixed: Vec<(&str, &str)> = at.iter().map(|(name, level)| (name.as_str(), level.as_str())).collect();
        let trend = analysis.trend_over(&factor.name, &amounts, &fixed, degrees).ok()?;
        Some(TrendAt { at, trend })
    };
    places.filter_map(of).collect()
}

fn curves(
    measure: &Analysed,
    analysis: &Analysis,
    factor: &Factor,
    factors: &[Factor],
    plan: &Plan,
) -> Vec<CurvesOver> {
    if !is_quantitative(factor) || factor.levels.len() < FEWEST_AMOUNTS {
        return Vec::new();
    }
    let price_ratio = plan.paying(&measure.key, factor).map(|paying| paying.ratio);
    let options = CurveOptions { price_ratio, ..CurveOptions::default() };
    let others = factors.iter().filter(|other| other.name != factor.name).map(|other| Some(other.name.as_str()));
    let of = |by: Option<&str>| {
        let curves = analysis.response_curves(&factor.name, by, &[], &[], &options).ok()?;
        Some(CurvesOver { factor: factor.name.clone(), by: by.map(str::to_owned), curves })
    };
    std::iter::once(None).chain(others).filter_map(of).collect()
}

/// Of every term that joins a factor to others or to places: the effect of the factor at each of their combinations.
fn simple_effects(analysis: &Analysis, factors: &[Factor]) -> Vec<SimpleEffect> {
    let of_term = |test: &TermTest| {
        let own = factors.iter().filter(|factor| test.term.len() > 1 && test.term.contains(&factor.name));
        let of = |factor: &Factor| {
            let within: Vec<&str> = test.term.iter().map(String::as_str).filter(|name| *name != factor.name).collect();
            analysis.simple_effects(&[&factor.name], &within).unwrap_or_default()
        };
        own.flat_map(of).collect::<Vec<_>>()
    };
    analysis.tests.iter().flat_map(of_term).collect()
}

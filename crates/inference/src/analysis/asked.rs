//! Questions that a reader asks of an analysis: comparisons, trends, effects within levels.

use super::analyse::model_test;
use super::{Analysis, Kept};
use crate::fit::{FTest, Fit, MarginErrors};
use crate::means::{holm, listed_means, pairs_of};
use crate::plots::Plots;
use crate::terms::{Margin, Term};
use crate::trend::Trend;
use crate::{Estimate, InferenceError, MeanCell, MeansTable, PairDifference, TermTest, TestMethod};
use guardrow_design::{Factor, Scale};
use serde::{Deserialize, Serialize};

/// A comparison with a name, as weights over the treatments of the trial in its own order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct NamedContrast {
    /// What it is called.
    pub name: String,
    /// One weight for each treatment.
    pub weights: Vec<f64>,
}

/// Several comparisons that were asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ContrastTable {
    /// In the order in which they were asked for.
    pub rows: Vec<ContrastRow>,
    /// All of them at once; none when one follows from the others.
    pub together: Option<FTest>,
}

/// One comparison that was asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ContrastRow {
    /// What it is called.
    pub name: String,
    /// The estimate with its error.
    pub estimate: Estimate,
    /// Lower end of its own interval at the analysis' level.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Two-sided p, unadjusted: planned comparisons stand each for itself.
    pub p: f64,
    /// p adjusted for all comparisons of the table in steps (Holm).
    pub p_holm: f64,
}

/// The effect of some factors at one combination of levels of others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct SimpleEffect {
    /// The factors whose levels are compared.
    pub of: Vec<String>,
    /// Pairs of factor (or unit, such as a site) and level at which they are compared.
    pub at: Vec<(String, String)>,
    /// Whether the means differ at all; none when their error is not known.
    pub test: Option<FTest>,
    /// The means that can be estimated.
    pub cells: Vec<MeanCell>,
    /// All their differences, with Tukey and Holm adjusted for the pairs at these levels.
    pub pairs: Vec<PairDifference>,
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
        self.kept().map(|kept| &kept.fit)
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
        if scores.len() != self.factors()[position].levels.len() {
            return Err(InferenceError::Scores { levels: self.factors()[position].levels.len() });
        }
        let fixed = at.iter().map(|&(name, level)| self.fixed_level(name, level)).collect::<Result<Vec<_>, _>>()?;
        let means: Vec<Vec<f64>> = (0..scores.len())
            .map(|level| self.mean_at(fit, &[fixed.as_slice(), &[(position, level)]].concat()))
            .collect();
        crate::trend::trend(fit, factor, scores, &means, most_degrees)
    }

    pub(crate) fn kept(&self) -> Result<&Kept, InferenceError> {
        self.kept.as_deref().ok_or(InferenceError::FitNotKept)
    }

    pub(crate) fn factors(&self) -> &[Factor] {
        self.kept.as_ref().map_or(&[], |kept| &kept.experiment.treatments.factors)
    }

    pub(crate) fn position(&self, factor: &str) -> Result<usize, InferenceError> {
        let found = self.factors().iter().position(|it| it.name == factor);
        found.ok_or_else(|| InferenceError::NotQuantitative { factor: factor.to_owned() })
    }

    pub(crate) fn fixed_level(&self, factor: &str, level: &str) -> Result<(usize, usize), InferenceError> {
        let position = self.position(factor)?;
        let found = self.factors()[position].levels.iter().position(|it| it.label == level);
        found
            .map(|level| (position, level))
            .ok_or_else(|| InferenceError::NotQuantitative { factor: format!("{factor}, {level}") })
    }

    pub(crate) fn amounts(&self, factor: &str) -> Result<Vec<f64>, InferenceError> {
        let found = &self.factors()[self.position(factor)?];
        let amounts: Option<Vec<f64>> = found.levels.iter().map(|level| level.amount).collect();
        let amounts = amounts.filter(|_| matches!(found.scale, Scale::Quantitative { .. }));
        amounts.ok_or_else(|| InferenceError::NotQuantitative { factor: factor.to_owned() })
    }

    /// Weights of the mean over all treatments of the factorial that have these levels.
    pub(crate) fn mean_at(&self, fit: &Fit, levels: &[(usize, usize)]) -> Vec<f64> {
        let sizes: Vec<usize> = self.factors().iter().map(|factor| factor.levels.len()).collect();
        let mut weights: Vec<f64> = crate::terms::combinations(&sizes)
            .iter()
            .map(|combination| f64::from(u8::from(levels.iter().all(|&(factor, level)| combination[factor] == level))))
            .collect();
        weights.resize(fit.of_treatment.len(), 0.0);
        let members: f64 = weights.iter().sum();
        weights.iter_mut().for_each(|weight| *weight /= members);
        weights
    }

    /// Several named comparisons at once, by the leading method.
    ///
    /// # Errors
    /// As [`Self::contrast`], for the first that cannot be judged.
    pub fn contrasts(&self, asked: &[NamedContrast]) -> Result<ContrastTable, InferenceError> {
        let estimates: Vec<Estimate> = asked.iter().map(|it| self.contrast(&it.weights)).collect::<Result<_, _>>()?;
        let adjusted = holm(&estimates.iter().map(Estimate::p).collect::<Vec<_>>());
        let rows = asked.iter().zip(estimates).zip(adjusted).map(|((asked, estimate), p_holm)| {
            let (lower, upper) = estimate.interval(self.level);
            ContrastRow { name: asked.name.clone(), estimate, lower, upper, p: estimate.p(), p_holm }
        });
        let weights: Vec<Vec<f64>> = asked.iter().map(|it| it.weights.clone()).collect();
        Ok(ContrastTable { rows: rows.collect(), together: self.f_test(&weights).ok() })
    }

    /// The effects of some factors within each combination of levels of others (factors, or units such as sites, where they are
    /// part of the means), averaged over the rest.
    ///
    /// # Errors
    /// [`InferenceError::NoSuchTerm`] when the names together are no term of the analysis.
    pub fn simple_effects(&self, of: &[&str], within: &[&str]) -> Result<Vec<SimpleEffect>, InferenceError> {
        let kept = self.kept()?;
        let named = |term: &&Term| {
            term.names.len() == of.len() + within.len()
                && of.iter().chain(within).all(|name| term.names.iter().any(|it| it == name))
        };
        let no_such_term = || InferenceError::NoSuchTerm { names: [of, within].concat().join(" x ") };
        let term = kept.terms.iter().find(named).ok_or_else(no_such_term)?;
        let place = |name: &&str| term.names.iter().position(|it| it == name);
        let positions: Vec<usize> = within.iter().filter_map(place).collect();
        let mut groups: Vec<(Vec<String>, Vec<Margin>)> = Vec::new();
        for margin in term.margins(&kept.plots.cells).into_iter().filter(|it| it.is_estimable(&kept.plots.cells)) {
            let at: Vec<String> = positions.iter().map(|&position| margin.levels[position].clone()).collect();
            match groups.iter_mut().find(|(levels, _)| *levels == at) {
                Some((_, margins)) => margins.push(margin),
                None => groups.push((at, vec![margin])),
            }
        }
        let names = |names: &[&str]| names.iter().map(|&name| name.to_owned()).collect::<Vec<_>>();
        let effect = |(levels, margins): (Vec<String>, Vec<Margin>)| SimpleEffect {
            of: names(of),
            at: names(within).into_iter().zip(levels).collect(),
            ..effect_among(&kept.fit, &kept.plots, &margins, self.level)
        };
        Ok(groups.into_iter().filter(|(_, margins)| margins.len() > 1).map(effect).collect())
    }

    /// Tests of all fixed terms by the mixed model with Satterthwaite's degrees of freedom, beside those by Kenward and Roger.
    ///
    /// # Errors
    /// [`InferenceError::FitNotKept`] when the analysis was read back from a file.
    pub fn satterthwaite_tests(&self) -> Result<Vec<TermTest>, InferenceError> {
        let kept = self.kept()?;
        let fit = self.model_fit()?;
        let tests = kept.terms.iter().filter_map(|term| {
            let rows = term.sequential_comparisons(&kept.plots.cells);
            let test = if rows.is_empty() { None } else { fit.satterthwaite_of_cells(&rows).ok() };
            test.map(|test| model_test(term, test, TestMethod::Satterthwaite))
        });
        Ok(tests.collect())
    }

    /// As [`Self::contrast`], by the mixed model with the error as fitted (not corrected) and Satterthwaite's degrees of freedom.
    ///
    /// # Errors
    /// As [`Self::contrast`].
    pub fn satterthwaite_contrast(&self, weights: &[f64]) -> Result<Estimate, InferenceError> {
        let fit = self.model_fit()?;
        fit.satterthwaite_contrast(&fit.over_cells(weights)?)
    }

    /// The mixed model's fit; with plots as the only units the leading one, which is the same.
    fn model_fit(&self) -> Result<&Fit, InferenceError> {
        let kept = self.kept()?;
        Ok(kept.mixed.as_ref().map_or(&kept.fit, |mixed| &mixed.fit))
    }
}

/// Some means that can be estimated, tested together and compared in pairs.
pub(crate) fn effect_among(fit: &Fit, plots: &Plots, margins: &[Margin], level: f64) -> SimpleEffect {
    let errors = MarginErrors::of(fit, margins);
    let cells = plots.cells.count();
    let first = margins[0].weights(cells);
    let against_first = |margin: &Margin| margin.weights(cells).iter().zip(&first).map(|(a, b)| a - b).collect();
    let rows: Vec<Vec<f64>> = margins[1..].iter().map(against_first).collect();
    SimpleEffect {
        of: Vec::new(),
        at: Vec::new(),
        test: fit.f_test_of_cells(&rows).ok(),
        cells: listed_means(margins, plots, &errors, level),
        pairs: pairs_of(&errors, level),
    }
}

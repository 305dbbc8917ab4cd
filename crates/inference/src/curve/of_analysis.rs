//! Curves over a quantitative factor of an analysed trial.

use super::groups::ResponseCurves;
use super::of_means::{AmountMean, curves_of_means};
use super::options::CurveOptions;
use crate::{Analysis, InferenceError};

impl Analysis {
    /// Curves over the amounts of a quantitative factor, by the leading method's means and errors, averaged over the other
    /// factors: one, or one for each level of another factor.
    ///
    /// - `factor`: a quantitative factor
    /// - `by`: another factor, for a curve at each of its levels
    /// - `at`: fixed levels of further factors (pairs of factor and level label)
    /// - `controls`: treatments outside the factorial that stand for an amount, by label, such as an untreated control for
    ///   zero; not together with `by`, where one mean would stand on several curves
    ///
    /// # Errors
    /// [`InferenceError::NotQuantitative`] for an unknown factor, level or control; otherwise as [`curves_of_means`].
    pub fn response_curves(
        &self,
        factor: &str,
        by: Option<&str>,
        at: &[(&str, &str)],
        controls: &[(&str, f64)],
        options: &CurveOptions,
    ) -> Result<ResponseCurves, InferenceError> {
        let fit = self.fit()?;
        let (amounts, position) = (self.amounts(factor)?, self.position(factor)?);
        let fixed = at.iter().map(|&(name, level)| self.fixed_level(name, level)).collect::<Result<Vec<_>, _>>()?;
        let by = by.map(|by| self.position(by)).transpose()?.filter(|&by| by != position);
        let labels: Vec<String> = match by {
            Some(by) => self.factors()[by].levels.iter().map(|level| level.label.clone()).collect(),
            None => vec![String::new()],
        };
        let mut means = Vec::new();
        for group in 0..labels.len() {
            for (level, &amount) in amounts.iter().enumerate() {
                let mut levels = fixed.clone();
                levels.push((position, level));
                levels.extend(by.map(|by| (by, group)));
                means.push(AmountMean { group, amount, weights: self.mean_at(fit, &levels) });
            }
        }
        for &(label, amount) in controls.iter().filter(|_| by.is_none()) {
            let treatments = self.kept()?.experiment.treatments.treatments();
            let treatment = treatments.iter().position(|it| it.levels.is_empty() && it.label == label);
            let treatment = treatment.ok_or_else(|| InferenceError::NotQuantitative { factor: label.to_owned() })?;
            let mut weights = vec![0.0; treatments.len()];
            weights[treatment] = 1.0;
            means.push(AmountMean { group: 0, amount, weights });
        }
        curves_of_means(fit, &means, &labels, options)
    }
}

//! The curves of one group, set beside each other, and of several.

use super::basis::Range;
use super::fitted::{CurveFit, Response, fitted};
use super::form::Form;
use super::least_squares::LeastSquares;
use super::notice::{CurveNotice, WhyNot};
use super::optimum::BestAmount;
use super::options::CurveOptions;
use super::points::Points;
use super::problem::Problem;
use super::quantity::Quantity;
use super::sharing::{SharingTest, sharing};
use crate::FTest;
use serde::{Deserialize, Serialize};

/// The responses to the amounts of a factor, as curves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ResponseCurves {
    /// Two-sided level of tests and intervals.
    pub level: f64,
    /// Curves of each group; one without a label where there are no groups.
    pub groups: Vec<GroupCurves>,
    /// Curves of the means over the groups, where there are several.
    pub together: Option<GroupCurves>,
    /// Whether the groups share a curve, for every form that could be fitted to each.
    pub sharing: Vec<SharingTest>,
}

/// All forms fitted to one group.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct GroupCurves {
    /// The group; empty where there are none.
    pub label: String,
    /// Mean response at each amount.
    pub means: Vec<MeanOfAmount>,
    /// Test of all differences between the amounts.
    pub response: Option<FTest>,
    /// The forms that could be fitted, in the order asked for.
    pub curves: Vec<CurveFit>,
    /// The others, and why.
    pub not_fitted: Vec<NotFitted>,
    /// Forms that fit about equally well: no lack of fit at the level, and a criterion within 2 of the lowest such.
    pub fit_equally: Vec<Form>,
    /// What must be known about all of them.
    pub notices: Vec<CurveNotice>,
}

/// Mean response at an amount.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct MeanOfAmount {
    /// The amount.
    pub amount: f64,
    /// The mean, with its error where the strata give it.
    pub mean: Quantity,
}

/// A form that could not be fitted.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct NotFitted {
    /// The form.
    pub form: Form,
    /// Why.
    pub why: WhyNot,
}

/// Forms whose criterion is less than this above the lowest have "substantial support" (Burnham & Anderson 2002, Model
/// Selection and Multimodel Inference, section 2.6).
const EQUALLY: f64 = 2.0;

impl GroupCurves {
    /// The curve of a form.
    pub fn curve(&self, form: Form) -> Option<&CurveFit> {
        self.curves.iter().find(|curve| curve.form == form)
    }

    /// Which forms fit equally well, each with its best amount, in a sentence.
    ///
    /// - `best`: which of a curve's best amounts is told
    /// - `show`: writes an amount with its unit
    pub fn fit_equally_words(&self, best: impl Fn(&CurveFit) -> &BestAmount, show: impl Fn(f64) -> String) -> String {
        let told = |form: &Form| match self.curve(*form).and_then(|curve| best(curve).found()) {
            Some(best) => {
                let within = best.profile.map_or(String::new(), |it| format!(", {}", it.words(&show)));
                format!("{} (best at {}{within})", form.name(), show(best.amount.estimate))
            }
            None => format!("{} (no best amount)", form.name()),
        };
        let forms: Vec<String> = self.fit_equally.iter().map(told).collect();
        match forms.as_slice() {
            [] => "No form fits without lack of fit.".to_owned(),
            [one] => format!("Of the forms fitted, {one} fits best."),
            several => format!("Several forms fit equally well: {}.", several.join("; ")),
        }
    }
}

/// Fits every form that is asked for.
pub(super) fn group_curves(
    points: Option<&Points>,
    label: &str,
    means: Vec<MeanOfAmount>,
    notices: Vec<CurveNotice>,
    options: &CurveOptions,
) -> GroupCurves {
    let mut of_group = GroupCurves {
        label: label.to_owned(),
        means,
        response: None,
        curves: Vec::new(),
        not_fitted: Vec::new(),
        fit_equally: Vec::new(),
        notices,
    };
    let range = points.map(|points| Range::of(&points.amounts)).filter(|range| range.width > 0.0);
    let (Some(points), Some(range)) = (points, range) else {
        let found = usize::from(points.is_some());
        let why = |form: Form| WhyNot::TooFewAmounts { found, needed: form.amounts_needed().max(2) };
        of_group.not_fitted = options.forms.iter().map(|&form| NotFitted { form, why: why(form) }).collect();
        return of_group;
    };
    let ones = points.weighed(&vec![1.0; points.amounts.len()]);
    let flat = LeastSquares::of(std::slice::from_ref(&ones), &points.values_for(Form::Flat));
    let squares = flat.map_or(0.0, |flat| flat.squares);
    let response = Response { test: points.test(&[ones], None, squares, 0.0), squares };
    for &form in &options.forms {
        match fitted(points, form, range, options, &response) {
            Ok(curve) => of_group.curves.push(curve),
            Err(why) => of_group.not_fitted.push(NotFitted { form, why }),
        }
    }
    of_group.response = response.test;
    of_group.fit_equally = fit_equally(&of_group.curves, options.level);
    of_group
}

fn fit_equally(curves: &[CurveFit], level: f64) -> Vec<Form> {
    let corrected = curves.iter().any(|curve| curve.aicc.is_some());
    let criterion = |curve: &CurveFit| if corrected { curve.aicc } else { curve.aic };
    let fits = |curve: &&CurveFit| curve.lack_of_fit.is_none_or(|test| test.p >= level);
    let fitting: Vec<(Form, f64)> =
        curves.iter().filter(fits).filter_map(|curve| Some((curve.form, criterion(curve)?))).collect();
    let lowest = fitting.iter().map(|it| it.1).fold(f64::INFINITY, f64::min);
    let mut equal: Vec<(Form, f64)> = fitting.into_iter().filter(|it| it.1 < lowest + EQUALLY).collect();
    equal.sort_by(|a, b| a.1.total_cmp(&b.1));
    equal.into_iter().map(|it| it.0).collect()
}

/// Tests of what the groups share, for forms that were fitted to each of them.
///
/// - `own`: the points of each group alone
pub(super) fn all_sharing(points: &Points, own: &[Points], options: &CurveOptions) -> Vec<SharingTest> {
    let range = Range::of(&points.amounts);
    let of_form = |&form: &Form| {
        // coordinates on the range of all groups, so that one scale serves them
        let located: Option<Vec<Vec<f64>>> =
            own.iter().map(|points| Problem::new(points, form, range).locate().ok().map(|it| it.at)).collect();
        located.map(|located| sharing(points, form, range, &located)).unwrap_or_default()
    };
    options.forms.iter().flat_map(of_form).collect()
}

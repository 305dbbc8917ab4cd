//! A fitted curve as it is told: parameters, lack of fit, criterion, best amounts.

use super::basis::Range;
use super::best_amount::Sought;
use super::form::Form;
use super::notice::{CurveNotice, WhyNot};
use super::optimum::{BestAmount, optimum};
use super::options::CurveOptions;
use super::points::Points;
use super::problem::Problem;
use super::quantity::{AmountInterval, Quantity};
use super::tangent::Tangent;
use crate::{FTest, LackOfFit};
use serde::{Deserialize, Serialize};

/// A form fitted to the responses to the amounts of a factor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct CurveFit {
    /// Its form.
    pub form: Form,
    /// Its parameters, in the order of [`Form::parameters`].
    pub parameters: Vec<CurveParameter>,
    /// What follows from them: the plateau of a linear-plateau.
    pub derived: Vec<CurveParameter>,
    /// Lowest tested amount.
    pub lowest: f64,
    /// Highest tested amount.
    pub highest: f64,
    /// Sum of squares of the points about the curve: for means in units of their error variance, for plots in the response's
    /// unit squared (plots of the same amount included).
    pub squares: f64,
    /// Variance of a plot about the curve, where plots give the error.
    pub variance: Option<f64>,
    /// Test of the curve against one level for all amounts; none for a level itself. For a curve with a join or a rate it is an
    /// approximation.
    pub explained: Option<FTest>,
    /// Test of what the curve leaves of the differences between the amounts.
    pub lack_of_fit: Option<LackOfFit>,
    /// Akaike's criterion, up to what all forms share; lower is better.
    pub aic: Option<f64>,
    /// The same corrected for few observations.
    pub aicc: Option<f64>,
    /// Where the response is best whatever the amount costs.
    pub best: BestAmount,
    /// Where it is best at the given ratio of prices; none when no ratio was given.
    pub economic: Option<BestAmount>,
    /// Its course over the tested amounts and at its join, for drawing; as finely as [`CurveOptions::drawn_in`] asks.
    pub course: Vec<CoursePoint>,
    /// What must be known beside it.
    pub notices: Vec<CurveNotice>,
}

/// One parameter of a curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct CurveParameter {
    /// Its name.
    pub name: String,
    /// Its estimate with error and interval by the delta method.
    pub value: Quantity,
    /// For a join or a rate, its interval by profile.
    pub profile: Option<AmountInterval>,
}

/// The curve at one amount.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct CoursePoint {
    /// The amount.
    pub amount: f64,
    /// The response there; its interval (delta method) holds for this amount alone, not for the whole curve at once.
    pub response: Quantity,
}

impl CurveFit {
    /// The curve at an amount.
    pub fn value(&self, amount: f64) -> f64 {
        let theta: Vec<f64> = self.parameters.iter().map(|it| it.value.estimate).collect();
        self.form.value(&theta, self.lowest, amount)
    }

    /// The best amount at the ratio of prices that was given, or else whatever the amount costs.
    pub fn wanted(&self) -> &BestAmount {
        self.economic.as_ref().unwrap_or(&self.best)
    }
}

/// The differences between the amounts as a whole.
#[derive(Debug, Clone, Default)]
pub(super) struct Response {
    pub test: Option<FTest>,
    /// Sum of squares about one level, in the points' own units.
    pub squares: f64,
}

/// Fits one form.
///
/// - `response`: the test of all differences between the amounts, and the sum of squares about their common level
///
/// # Errors
/// Why the form cannot be told from a simpler one.
pub(super) fn fitted(
    points: &Points,
    form: Form,
    range: Range,
    options: &CurveOptions,
    response: &Response,
) -> Result<CurveFit, WhyNot> {
    let problem = Problem::new(points, form, range);
    let located = problem.locate()?;
    let tangent = Tangent::of(&problem, &located, options.level).ok_or(WhyNot::NotSeparable)?;
    let test = tangent.lack_of_fit();
    let (aic, aicc) = criteria(points, located.squares, form.parameters().len(), response.test.as_ref());
    let explained = explained(&tangent, response);
    let best_at = |price_ratio: f64| {
        let floor = if range.lowest >= 0.0 { 0.0 } else { range.lowest };
        let sought = Sought { sign: options.sign(), price_ratio, lowest: range.lowest, floor };
        optimum(&tangent, sought, options.compare_with)
    };
    let among = points.scatter().map_or(0.0, |(squares, _)| squares);
    Ok(CurveFit {
        form,
        parameters: parameters(&tangent),
        derived: derived(&tangent),
        lowest: range.lowest,
        highest: range.highest(),
        squares: among + located.squares,
        variance: points.scatter().and_then(|_| Some(tangent.error_of(&form.shape_contrast())?.unit)),
        explained,
        lack_of_fit: test.map(|it| LackOfFit { num_df: it.num_df, den_df: it.den_df, f: it.f, p: it.p }),
        aic,
        aicc,
        best: best_at(0.0),
        economic: options.price_ratio.map(best_at),
        course: course(&tangent, options.drawn_in),
        notices: notices(&tangent, options, explained.as_ref(), test.as_ref()),
    })
}

/// The curve in `steps` equal steps over the tested amounts, and at its join; nothing for no steps.
fn course(tangent: &Tangent<'_>, steps: usize) -> Vec<CoursePoint> {
    if steps == 0 {
        return Vec::new();
    }
    let (form, theta, range) = (tangent.form(), tangent.theta(), tangent.range());
    let mut amounts: Vec<f64> =
        (0..=steps).map(|step| range.lowest + range.width * step as f64 / steps as f64).collect();
    let join = match form {
        Form::BrokenLineAt { join } => Some(join),
        form => form.bend().filter(|_| form.has_kink()).map(|index| theta[index]),
    };
    amounts.extend(join.filter(|join| (range.lowest..=range.highest()).contains(join)));
    amounts.sort_by(f64::total_cmp);
    amounts.dedup();
    let at = |amount: f64| {
        let response = tangent.quantity(tangent.value(amount), &form.gradient(theta, range.lowest, amount));
        CoursePoint { amount, response }
    };
    amounts.into_iter().map(at).collect()
}

fn explained(tangent: &Tangent<'_>, response: &Response) -> Option<FTest> {
    match tangent.form() {
        Form::Flat => None,
        // a level is no special case of it, so that only the differences as a whole can be tested
        Form::LogisticFromZero => response.test,
        _ => tangent.explained(response.squares),
    }
}

fn parameters(tangent: &Tangent<'_>) -> Vec<CurveParameter> {
    let form = tangent.form();
    let centre = tangent.problem().points.centre_for(form);
    let parameter = |(index, name): (usize, &&str)| {
        let is_bend = form.bend() == Some(index);
        let error = if is_bend && tangent.is_kink() { None } else { tangent.error_of(&tangent.unit(index)) };
        let raised = if form.levels().contains(&index) { centre } else { 0.0 };
        let value = Quantity::new(tangent.theta()[index] + raised, error, tangent.level());
        CurveParameter {
            name: (*name).to_owned(),
            value,
            profile: if is_bend { profile_of_bend(tangent, error) } else { None },
        }
    };
    form.parameters().iter().enumerate().map(parameter).collect()
}

/// The interval of a join or a rate: the stretch of its coordinate that is not contradicted.
fn profile_of_bend(tangent: &Tangent<'_>, error: Option<super::points::ErrorOf>) -> Option<AmountInterval> {
    let pieces = tangent.region(error)?.pieces(&[]);
    let (first, last) = (pieces.first()?, pieces.last()?);
    let range = tangent.range();
    let (start, end) = ((!first.ends[0]).then_some(first.low), (!last.ends[1]).then_some(last.high));
    let place = |coordinate: f64| match tangent.form() {
        Form::QuadraticPlateau => range.lowest + range.width / coordinate,
        Form::Exponential => coordinate.exp() / range.width,
        _ => range.lowest + range.width * coordinate,
    };
    let (start, end) = (start.map(place), end.map(place));
    let turned = tangent.form() == Form::QuadraticPlateau;
    Some(if turned { AmountInterval { lower: end, upper: start } } else { AmountInterval { lower: start, upper: end } })
}

fn derived(tangent: &Tangent<'_>) -> Vec<CurveParameter> {
    if tangent.form() != Form::LinearPlateau {
        return Vec::new();
    }
    let (slope, join) = (tangent.theta()[1], tangent.theta()[2]);
    let value = tangent.quantity(tangent.value(join), &[1.0, join, slope]);
    vec![CurveParameter { name: "plateau".to_owned(), value, profile: None }]
}

/// Akaike's criterion, plain and corrected, from the error's degrees of freedom and the points: `n ln(1 + Q / df) + 2 K` with
/// `n = df + points` where the error is known apart from the curve, `n ln(squares / n) + 2 K` where it is not; `K` counts the
/// variance too.
fn criteria(points: &Points, squares: f64, parameters: usize, response: Option<&FTest>) -> (Option<f64>, Option<f64>) {
    let k = parameters as f64 + 1.0;
    let (n, misfit) = match points.scatter() {
        Some((among, df)) => {
            let n = df + points.rank() as f64;
            (n, n * ((among + squares) / n).ln())
        }
        None => {
            let Some(df) = response.map(|test| test.den_df) else { return (None, None) };
            let n = df + points.rank() as f64;
            // as the error's degrees of freedom grow the logarithm becomes the sum of squares itself
            (n, if df > 1e9 { squares } else { n * (squares / df).ln_1p() })
        }
    };
    let aic = misfit + 2.0 * k;
    if !aic.is_finite() {
        return (None, None);
    }
    let spare = n - k - 1.0;
    let corrected = if n.is_finite() { aic + 2.0 * k * (k + 1.0) / spare } else { aic };
    (Some(aic), (spare > 0.5).then_some(corrected))
}

fn notices(
    tangent: &Tangent<'_>,
    options: &CurveOptions,
    explained: Option<&FTest>,
    lack_of_fit: Option<&FTest>,
) -> Vec<CurveNotice> {
    let (form, located, range) = (tangent.form(), tangent.located(), tangent.range());
    let mut notices = Vec::new();
    let shape = tangent.error_of(&form.shape_contrast());
    if shape.is_none() {
        notices.push(CurveNotice::NoError);
    } else if tangent.error_of(&tangent.unit(0)).is_none() {
        notices.push(CurveNotice::LevelWithoutError);
    }
    if explained.is_some_and(|test| test.p >= options.level) {
        notices.push(CurveNotice::ResponseNotShown);
    }
    if lack_of_fit.is_some_and(|test| test.p < options.level) {
        notices.push(CurveNotice::LackOfFit);
    }
    let different = tangent.problem().different();
    if different.len() == form.parameters().len() {
        notices.push(CurveNotice::NoAmountsLeft);
    }
    let theta = tangent.theta();
    if let Some(bend) = form.bend().filter(|_| form != Form::Exponential) {
        if tangent.is_kink() {
            notices.push(CurveNotice::JoinAtTestedAmount { amount: theta[bend] });
        }
        if different.iter().filter(|&&u| u > range.scaled(theta[bend])).count() == 1 && form != Form::BrokenLine {
            notices.push(CurveNotice::OneAmountBeyondJoin);
        }
    }
    if let Some(shape) = shape {
        let threshold = tangent.threshold(shape);
        let others = located.leasts.iter().skip(1).filter(|least| least.squares <= threshold && !least.at.is_empty());
        let amounts: Vec<f64> = others.filter_map(|least| place_of(form, range, &least.at)).collect();
        if !amounts.is_empty() {
            notices.push(CurveNotice::OtherPlaces { amounts });
        }
    }
    notices
}

/// The amount at which a curve with these coordinates bends.
fn place_of(form: Form, range: Range, at: &[f64]) -> Option<f64> {
    match form {
        Form::QuadraticPlateau => Some(range.lowest + range.width / at[0]),
        Form::LinearPlateau | Form::BrokenLine => Some(range.lowest + range.width * at[0]),
        Form::Logistic | Form::LogisticFromZero => Some(range.lowest + range.width * at[1]),
        _ => None,
    }
}

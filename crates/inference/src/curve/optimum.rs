//! The best amount with its intervals, the response there, and what it gains over a given amount.

use super::basis::End;
use super::best_amount::{Best, Sought};
use super::fieller::{Fieller, fieller};
use super::form::Form;
use super::notice::CurveNotice;
use super::quantity::{AmountInterval, Quantity};
use super::region::{Member, Region};
use super::tangent::Tangent;
use serde::{Deserialize, Serialize};

/// The best amount on a curve, for one ratio of prices.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Optimum {
    /// Cost of a unit of the amount in units of the response; zero for the highest response whatever it costs.
    pub price_ratio: f64,
    /// The best amount with its interval by the delta method; no error where it is the lowest amount or a join at a tested one.
    pub amount: Quantity,
    /// Its interval by profile; the one to be told.
    pub profile: Option<AmountInterval>,
    /// For the quadratic, its interval by Fieller's theorem.
    pub fieller: Option<Fieller>,
    /// The response at the best amount.
    pub response: Quantity,
    /// What the best amount gains over a given one.
    pub gain: Option<Gain>,
    /// What must be known about it.
    pub notices: Vec<CurveNotice>,
}

/// The best amount, if there is one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BestAmount {
    /// There is one.
    Found(Box<Optimum>),
    /// There is none, for this reason.
    NoBest(CurveNotice),
}

impl BestAmount {
    /// The best amount, if there is one.
    pub fn found(&self) -> Option<&Optimum> {
        match self {
            Self::Found(optimum) => Some(optimum),
            Self::NoBest(_) => None,
        }
    }
}

/// How much better the best amount is than a given one, cost of the amount taken off, in units of the response.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Gain {
    /// The given amount.
    pub over: f64,
    /// The gain; never below zero, so its delta interval says little where the given amount is near the best.
    pub net: Quantity,
    /// Lower end by profile; zero where the given amount may itself be the best.
    pub lower: Option<f64>,
    /// Upper end by profile; none when nothing bounds it.
    pub upper: Option<f64>,
}

/// Bounds further outside the tested range than this many times its width count as open.
const FARTHEST: f64 = 10.0;

/// The best amount, or why there is none.
pub(super) fn optimum(tangent: &Tangent<'_>, sought: Sought, over: Option<f64>) -> BestAmount {
    match find(tangent, sought, over) {
        Ok(optimum) => BestAmount::Found(Box::new(optimum)),
        Err(why) => BestAmount::NoBest(why),
    }
}

fn find(tangent: &Tangent<'_>, sought: Sought, over: Option<f64>) -> Result<Optimum, CurveNotice> {
    let (form, theta, range) = (tangent.form(), tangent.theta(), tangent.range());
    let best = sought.best(form, theta).ok_or(CurveNotice::NoResponse)?;
    let parameters = theta.len();
    let (amount, gradient, is_lowest) = match best {
        Best::NoEnd if form == Form::Quadratic => return Err(CurveNotice::BendsTheOtherWay),
        Best::NoEnd => return Err(CurveNotice::KeepsRising),
        Best::Lowest => (range.lowest, vec![0.0; parameters], true),
        Best::At { amount, gradient } => (amount, gradient, false),
    };
    let has_error = gradient.iter().any(|&it| it != 0.0) && !(tangent.is_kink() && form.has_kink());
    let error = if has_error { tangent.error_of(&gradient) } else { None };
    let region = tangent.region(error);
    let profile = region.as_ref().and_then(|region| profile(region, tangent, &sought));
    let at_best = total_derivative(form, theta, &sought, amount, &gradient);
    let response = tangent.quantity(tangent.value(amount), &at_best);
    let gain = over.map(|over| gain(tangent, &sought, region.as_ref(), profile, over, amount, &gradient));
    let fieller = match (form, error) {
        (Form::Quadratic, Some(error)) => Some(fieller(tangent, &sought, amount, error.df)),
        _ => None,
    };
    let mut notices = Vec::new();
    if is_lowest {
        notices.push(CurveNotice::LowestIsBest);
    }
    if amount > range.highest() || amount < range.lowest {
        notices.push(CurveNotice::Extrapolated);
    }
    if let Some(interval) = profile {
        let no_lower = (interval.lower.is_none() && !is_lowest).then_some(CurveNotice::NoLowerBound);
        let no_upper = interval.upper.is_none().then_some(CurveNotice::NoUpperBound);
        notices.extend(no_lower.into_iter().chain(no_upper));
    }
    let amount = Quantity::new(amount, error, tangent.level());
    Ok(Optimum { price_ratio: sought.price_ratio, amount, profile, fieller, response, gain, notices })
}

/// Derivatives, in the parameters, of the response at an amount that moves with them.
fn total_derivative(form: Form, theta: &[f64], sought: &Sought, amount: f64, moves: &[f64]) -> Vec<f64> {
    let slope = form.slope(theta, sought.lowest, amount);
    let at_amount = form.gradient(theta, sought.lowest, amount);
    at_amount.iter().zip(moves).map(|(fixed, moved)| fixed + slope * moved).collect()
}

fn profile(region: &Region<'_>, tangent: &Tangent<'_>, sought: &Sought) -> Option<AmountInterval> {
    let form = tangent.form();
    let quantity = |member: &Member| match sought.best(form, &member.theta) {
        None => f64::NAN,
        Some(Best::Lowest) if sought.floor == sought.lowest => sought.lowest,
        Some(Best::Lowest) => f64::NEG_INFINITY,
        Some(Best::NoEnd) => f64::INFINITY,
        Some(Best::At { amount, .. }) => match open_end(form, member) {
            Some(End::BeforeSecond) => f64::NEG_INFINITY,
            Some(_) => f64::INFINITY,
            None => amount,
        },
    };
    let (lower, upper) = region.extremes(&quantity)?;
    let range = tangent.range();
    let reach = FARTHEST * range.width;
    Some(AmountInterval {
        lower: (lower >= range.lowest - reach).then_some(lower),
        upper: (upper <= range.highest() + reach).then_some(upper.max(range.lowest)),
    })
}

/// The end of a domain on which a member stands, where what lies beyond would move the optimum without bound (or as far as the
/// lowest amount). A logistic has its optimum on either side of such an end.
fn open_end(form: Form, member: &Member) -> Option<End> {
    member.end.filter(|_| !matches!(form, Form::Logistic | Form::LogisticFromZero))
}

fn gain(
    tangent: &Tangent<'_>,
    sought: &Sought,
    region: Option<&Region<'_>>,
    interval: Option<AmountInterval>,
    over: f64,
    amount: f64,
    moves: &[f64],
) -> Gain {
    let (form, theta) = (tangent.form(), tangent.theta());
    let difference = |theta: &[f64], amount: f64| sought.net(form, theta, amount) - sought.net(form, theta, over);
    let at_best = total_derivative(form, theta, sought, amount, moves);
    let at_given = form.gradient(theta, sought.lowest, over);
    let derivative: Vec<f64> = (0..theta.len())
        .map(|it| sought.sign * (at_best[it] - at_given[it]) - sought.price_ratio * moves[it])
        .collect();
    let net = tangent.quantity(difference(theta, amount), &derivative);
    let lowest = tangent.range().lowest;
    let of_member = |member: &Member| match sought.best(form, &member.theta) {
        None => f64::NAN,
        Some(Best::NoEnd) => f64::INFINITY,
        Some(Best::Lowest) => difference(&member.theta, lowest),
        Some(Best::At { amount, .. }) => match open_end(form, member) {
            // the bend may lie as low as the lowest amount, and the cost up to it be spared
            Some(End::BeforeSecond) => difference(&member.theta, amount) + sought.price_ratio * (amount - lowest),
            Some(_) => f64::INFINITY,
            None => difference(&member.theta, amount),
        },
    };
    let ends = region.and_then(|region| region.extremes(&of_member));
    let may_be_best = interval
        .is_some_and(|it| it.lower.is_none_or(|lower| lower <= over) && it.upper.is_none_or(|upper| over <= upper));
    let lower = ends.map(|(lower, _)| if may_be_best { 0.0 } else { lower.max(0.0) });
    Gain { over, net, lower, upper: ends.map(|(_, upper)| upper).filter(|upper| upper.is_finite()) }
}

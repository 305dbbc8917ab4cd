//! Fieller's interval for the extreme of a parabola.

use super::best_amount::Sought;
use super::tangent::Tangent;
use crate::distribution::t_quantile;
use serde::{Deserialize, Serialize};

/// Amounts at which the parabola's slope does not differ from the price ratio.
///
/// Exact for the quadratic, and the same as its interval by profile. Where the bend itself is not shown the set has no end, or
/// two parts; then only the part that holds the estimate is given, and its open end is left out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Fieller {
    /// Lower end.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
}

/// # Source
/// Fieller (1954), J. R. Statist. Soc. B 16:175-185: the ratio of two estimates, here slope at zero over twice the bend.
pub(super) fn fieller(tangent: &Tangent<'_>, sought: &Sought, estimate: f64, df: f64) -> Fieller {
    let theta = tangent.theta();
    let width = tangent.range().width;
    let variance = |linear: f64, quadratic: f64| tangent.error_of(&[0.0, linear, quadratic]).map(|it| it.se * it.se);
    let open = Fieller { lower: None, upper: None };
    let (Some(linear), Some(quadratic), Some(both)) = (variance(1.0, 0.0), variance(0.0, width), variance(1.0, width))
    else {
        return open;
    };
    // in units of the tested range, so that both estimates are of one size
    let covariance = 0.5 * (both - linear - quadratic);
    let t = t_quantile(1.0 - 0.5 * tangent.level(), df);
    let (slope, bend) = (theta[1] - sought.sign * sought.price_ratio, theta[2] * width);
    let a = 4.0 * (bend * bend - t * t * quadratic);
    let b = 4.0 * (slope * bend - t * t * covariance);
    let c = slope * slope - t * t * linear;
    // with hardly any degrees of freedom t is so large that products overflow; the roots do not depend on the scale
    let largest = a.abs().max(b.abs()).max(c.abs());
    if !largest.is_finite() || largest == 0.0 {
        return open;
    }
    let (a, b, c) = (a / largest, b / largest, c / largest);
    let inside = b * b - 4.0 * a * c;
    if inside <= 0.0 || a == 0.0 {
        return open;
    }
    // the root with the larger sum first, the other by their product
    let sum = -0.5 * (b + b.signum() * inside.sqrt());
    let (one, two) = (width * sum / a, width * c / sum);
    let (first, second) = (one.min(two), one.max(two));
    if a > 0.0 {
        Fieller { lower: Some(first), upper: Some(second) }
    } else if estimate >= second {
        Fieller { lower: Some(second), upper: None }
    } else {
        Fieller { lower: None, upper: Some(first) }
    }
}

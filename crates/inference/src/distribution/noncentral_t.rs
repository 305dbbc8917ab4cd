//! The noncentral t: a normal with mean `delta` over an independent estimated standard deviation.

use super::adaptive::log_integral_of_peak;
use super::deviation::LogDeviation;
use super::normal::{normal_log_lower, normal_log_upper};

/// Above this many degrees of freedom the estimated standard deviation is the true one, to rounding.
const KNOWN: f64 = 1e20;

/// Natural logarithm of the probability of a noncentral t above `t`.
///
/// - `df`: degrees of freedom, positive, may be infinite
/// - `delta`: noncentrality, the true difference over its standard error
///
/// # Source
/// The mean of `Phi(delta - t s)` over the estimated deviation `s`, by Gauss's rule over `ln s` around the peak of the
/// integrand: no series to stop too early, and both tails keep their digits. Checked against 34-digit values in the tests.
pub fn noncentral_t_log_upper(t: f64, df: f64, delta: f64) -> f64 {
    log_tail(t, df, delta)
}

/// Natural logarithm of the probability of a noncentral t of at most `t`.
pub fn noncentral_t_log_lower(t: f64, df: f64, delta: f64) -> f64 {
    log_tail(-t, df, -delta)
}

/// Probability of a noncentral t above `t`.
pub fn noncentral_t_upper(t: f64, df: f64, delta: f64) -> f64 {
    noncentral_t_log_upper(t, df, delta).exp()
}

/// Probability of a noncentral t of at most `t`.
pub fn noncentral_t_lower(t: f64, df: f64, delta: f64) -> f64 {
    noncentral_t_log_lower(t, df, delta).exp()
}

/// The noncentral t below which lies probability `p`.
pub fn noncentral_t_quantile(p: f64, df: f64, delta: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || df.is_nan() || df <= 0.0 || !delta.is_finite() {
        return f64::NAN;
    }
    if p == 0.0 || p == 1.0 {
        return if p == 0.0 { f64::NEG_INFINITY } else { f64::INFINITY };
    }
    if p > 0.5 {
        return -noncentral_t_quantile_of_lower((-p).ln_1p(), df, -delta);
    }
    noncentral_t_quantile_of_lower(p.ln(), df, delta)
}

fn noncentral_t_quantile_of_lower(log_p: f64, df: f64, delta: f64) -> f64 {
    super::solve::increasing_root(delta, 1.0 + 0.2 * delta.abs(), |t| noncentral_t_log_lower(t, df, delta) - log_p)
}

fn log_tail(t: f64, df: f64, delta: f64) -> f64 {
    if t.is_nan() || df.is_nan() || df <= 0.0 || !delta.is_finite() {
        return f64::NAN;
    }
    if t.is_infinite() {
        return if t > 0.0 { f64::NEG_INFINITY } else { 0.0 };
    }
    if t == 0.0 || df > KNOWN {
        return normal_log_upper(t - delta);
    }
    if delta == 0.0 {
        return super::t_log_upper(t, df);
    }
    let deviation = LogDeviation::with_df(df);
    let log_integrand = |x: f64| deviation.log_density(x) + normal_log_lower(delta - t * x.exp());
    let log = log_integral_of_peak(0.0, 2.0 * deviation.spread(), log_integrand);
    // Next to one the integral's rounding would hide the other tail.
    if log > -1e-3 { (-other_tail(t, delta, &deviation)).ln_1p() } else { log }
}

fn other_tail(t: f64, delta: f64, deviation: &LogDeviation) -> f64 {
    let log_integrand = |x: f64| deviation.log_density(x) + normal_log_lower(t * x.exp() - delta);
    log_integral_of_peak(0.0, 2.0 * deviation.spread(), log_integrand).exp()
}

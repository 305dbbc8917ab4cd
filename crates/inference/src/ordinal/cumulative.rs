//! The likelihood of scores: the share of the hidden scale between two thresholds.
//!
//! With `u` the upper threshold less the predictor and `l` the lower, the log-likelihood is `G(u, l) = log(F(u) - F(l))`. All
//! derivatives by predictor and thresholds are sums of derivatives of `G`. On the logistic scale
//! `F(u) - F(l) = F(u) (1 - F(l)) (1 - e^(l - u))`, so that `G` is a sum of three functions of one variable each; on the normal
//! scale the derivatives of `G` follow from those of `F(u) - F(l)` as cumulants follow from moments.

use super::model::ScoreLink;
use crate::distribution::{normal_density, normal_lower};
use crate::generalised::log_normal;
use crate::laplace::{ByExtra, ByTwoExtras, Derivatives, ExtraDerivatives, Likelihood, Near};

/// Scores, each with the number of things that have it.
#[derive(Debug, Clone)]
pub(crate) struct Cumulative {
    score: Vec<usize>,
    count: Vec<f64>,
    link: ScoreLink,
    /// One less than there are scores, rising; the first is zero.
    thresholds: Vec<f64>,
}

/// Derivatives of `G`: `part[i][j]` is the `i`-th by `u` and `j`-th by `l`, up to the fourth order together.
type Partials = [[f64; 5]; 5];

impl Cumulative {
    /// - `thresholds`: rising, the first zero
    pub fn new(score: Vec<usize>, count: Vec<f64>, link: ScoreLink, thresholds: Vec<f64>) -> Self {
        Self { score, count, link, thresholds }
    }

    /// Distances of the upper and lower threshold of a row's score from a predictor; infinite at the ends of the scale.
    fn limits(&self, i: usize, eta: f64) -> (f64, f64) {
        let score = self.score[i];
        let upper = self.thresholds.get(score).map_or(f64::INFINITY, |threshold| threshold - eta);
        let lower = if score == 0 { f64::NEG_INFINITY } else { self.thresholds[score - 1] - eta };
        (upper, lower)
    }

    fn partials(&self, i: usize, eta: f64) -> Partials {
        let (upper, lower) = self.limits(i, eta);
        match self.link {
            ScoreLink::Logit => logistic(upper, lower),
            ScoreLink::Probit => normal(upper, lower),
        }
    }
}

impl Likelihood for Cumulative {
    fn extras(&self) -> usize {
        self.thresholds.len() - 1
    }

    fn set_extras(&mut self, values: &[f64]) -> bool {
        let is_rising = values.iter().try_fold(0.0, |last, &next| (next > last).then_some(next)).is_some();
        let is_finite = values.iter().all(|value| value.is_finite());
        if is_rising && is_finite {
            self.thresholds[1..].copy_from_slice(values);
        }
        is_rising && is_finite
    }

    fn near(&self, i: usize, eta: f64) -> Near {
        let count = self.count[i];
        let (upper, lower) = self.limits(i, eta);
        if self.link == ScoreLink::Logit {
            let (above, below) = (logistic_parts(upper), logistic_parts(lower));
            let log = above.log_lower + below.log_upper + log_gap(upper - lower);
            return Near {
                log: count * log,
                slope: count * (below.lower - above.upper),
                weight: count * (above.lower * above.upper + below.lower * below.upper),
            };
        }
        let g = normal(upper, lower);
        let weight = -(g[2][0] + 2.0 * g[1][1] + g[0][2]);
        Near { log: count * g[0][0], slope: -count * (g[1][0] + g[0][1]), weight: count * weight }
    }

    fn is_foretold(&self, i: usize, eta: f64) -> bool {
        let far = self.link.far();
        let (upper, lower) = self.limits(i, eta);
        self.thresholds.iter().all(|threshold| (threshold - eta).abs() > far)
            || (upper.is_finite() && lower.is_finite() && upper - lower > 2.0 * far)
    }

    fn derivatives(&self, i: usize, eta: f64) -> Derivatives {
        let (g, count) = (self.partials(i, eta), self.count[i]);
        Derivatives {
            first: -count * (g[1][0] + g[0][1]),
            second: count * (g[2][0] + 2.0 * g[1][1] + g[0][2]),
            third: -count * (g[3][0] + 3.0 * (g[2][1] + g[1][2]) + g[0][3]),
            fourth: count * (g[4][0] + 4.0 * (g[3][1] + g[1][3]) + 6.0 * g[2][2] + g[0][4]),
        }
    }

    fn by_extras(&self, i: usize, eta: f64) -> ExtraDerivatives {
        let (g, count, score) = (self.partials(i, eta), self.count[i], self.score[i]);
        // the first threshold is no parameter: it is zero
        let upper = (score >= 1 && score < self.thresholds.len()).then(|| score - 1);
        let lower = (score >= 2).then(|| score - 2);
        let once = |a: usize, b: usize, extra: usize| ByExtra {
            extra,
            log: count * g[a][b],
            first: -count * (g[a + 1][b] + g[a][b + 1]),
            second: count * (g[a + 2][b] + 2.0 * g[a + 1][b + 1] + g[a][b + 2]),
            third: -count * (g[a + 3][b] + 3.0 * (g[a + 2][b + 1] + g[a + 1][b + 2]) + g[a][b + 3]),
        };
        let twice = |i: usize, j: usize, (a, b): (usize, usize)| ByTwoExtras {
            a,
            b,
            log: count * g[i][j],
            first: -count * (g[i + 1][j] + g[i][j + 1]),
            second: count * (g[i + 2][j] + 2.0 * g[i + 1][j + 1] + g[i][j + 2]),
        };
        ExtraDerivatives {
            once: [upper.map(|extra| once(1, 0, extra)), lower.map(|extra| once(0, 1, extra))],
            twice: [
                upper.map(|extra| twice(2, 0, (extra, extra))),
                lower.map(|extra| twice(0, 2, (extra, extra))),
                upper.zip(lower).map(|both| twice(1, 1, both)),
            ],
        }
    }
}

/// The logistic distribution function at `x` with its complement and the logarithms of both.
struct LogisticParts {
    lower: f64,
    upper: f64,
    log_lower: f64,
    log_upper: f64,
}

fn logistic_parts(x: f64) -> LogisticParts {
    if x == f64::INFINITY {
        return LogisticParts { lower: 1.0, upper: 0.0, log_lower: 0.0, log_upper: f64::NEG_INFINITY };
    }
    if x == f64::NEG_INFINITY {
        return LogisticParts { lower: 0.0, upper: 1.0, log_lower: f64::NEG_INFINITY, log_upper: 0.0 };
    }
    let small = (-x.abs()).exp();
    let (tail, rest, log) = (small / (1.0 + small), 1.0 / (1.0 + small), small.ln_1p());
    match x > 0.0 {
        true => LogisticParts { lower: rest, upper: tail, log_lower: -log, log_upper: -x - log },
        false => LogisticParts { lower: tail, upper: rest, log_lower: x - log, log_upper: -log },
    }
}

/// `log(1 - e^-gap)`.
fn log_gap(gap: f64) -> f64 {
    (-(-gap).exp_m1()).ln()
}

fn logistic(upper: f64, lower: f64) -> Partials {
    let (above, below) = (logistic_parts(upper), logistic_parts(lower));
    // h = 1 / (e^gap - 1), the slope of log(1 - e^-gap)
    let h = (upper - lower).exp_m1().recip();
    let both = h * (1.0 + h);
    let of_gap = [0.0, h, -both, both * (1.0 + 2.0 * h), -both * (1.0 + 6.0 * both)];
    let mut g = Partials::default();
    for (i, row) in g.iter_mut().enumerate() {
        for (j, value) in row.iter_mut().enumerate().take(5 - i) {
            *value = if j % 2 == 0 { of_gap[i + j] } else { -of_gap[i + j] };
        }
    }
    let bends = |it: &LogisticParts| {
        let both = it.lower * it.upper;
        [-both, -both * (it.upper - it.lower), -both * (1.0 - 6.0 * both)]
    };
    g[0][0] = above.log_lower + below.log_upper + log_gap(upper - lower);
    g[1][0] += above.upper;
    g[0][1] -= below.lower;
    for (order, (above, below)) in bends(&above).into_iter().zip(bends(&below)).enumerate() {
        g[order + 2][0] += above;
        g[0][order + 2] += below;
    }
    g
}

fn normal(upper: f64, lower: f64) -> Partials {
    let mut g = Partials::default();
    if lower == f64::NEG_INFINITY {
        log_normal(upper).into_iter().enumerate().for_each(|(i, value)| g[i][0] = value);
        return g;
    }
    if upper == f64::INFINITY {
        let signs = [1.0, -1.0, 1.0, -1.0, 1.0];
        log_normal(-lower).into_iter().zip(signs).enumerate().for_each(|(j, (value, sign))| g[0][j] = sign * value);
        return g;
    }
    // taken from the tail that is nearer, so that a small share keeps its digits
    let share = match lower > 0.0 {
        true => normal_lower(-lower) - normal_lower(-upper),
        false => normal_lower(upper) - normal_lower(lower),
    };
    let [r1, r2, r3, r4] = density_slopes(upper).map(|slope| slope / share);
    let [s1, s2, s3, s4] = density_slopes(lower).map(|slope| -slope / share);
    g[0][0] = share.ln();
    (g[1][0], g[0][1]) = (r1, s1);
    (g[2][0], g[1][1], g[0][2]) = (r2 - r1 * r1, -r1 * s1, s2 - s1 * s1);
    (g[3][0], g[0][3]) = (third_cumulant(r1, r2, r3), third_cumulant(s1, s2, s3));
    (g[2][1], g[1][2]) = (s1 * (2.0 * r1 * r1 - r2), r1 * (2.0 * s1 * s1 - s2));
    (g[4][0], g[0][4]) = (fourth_cumulant(r1, r2, r3, r4), fourth_cumulant(s1, s2, s3, s4));
    g[3][1] = s1 * (6.0 * r1 * r2 - r3 - 6.0 * r1 * r1 * r1);
    g[1][3] = r1 * (6.0 * s1 * s2 - s3 - 6.0 * s1 * s1 * s1);
    g[2][2] = 2.0 * r1 * r1 * s2 + 2.0 * r2 * s1 * s1 - r2 * s2 - 6.0 * r1 * r1 * s1 * s1;
    g
}

/// The normal density and its first three derivatives.
fn density_slopes(x: f64) -> [f64; 4] {
    let density = normal_density(x);
    [density, -x * density, (x * x - 1.0) * density, x * (3.0 - x * x) * density]
}

fn third_cumulant(m1: f64, m2: f64, m3: f64) -> f64 {
    m3 - 3.0 * m1 * m2 + 2.0 * m1 * m1 * m1
}

fn fourth_cumulant(m1: f64, m2: f64, m3: f64, m4: f64) -> f64 {
    m4 - 4.0 * m1 * m3 - 3.0 * m2 * m2 + 12.0 * m1 * m1 * m2 - 6.0 * m1 * m1 * m1 * m1
}

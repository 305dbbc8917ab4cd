//! Smooth functions read from a few points.
//!
//! Source: Berrut & Trefethen (2004), SIAM Review 46:501-517 (barycentric interpolation in Chebyshev points of the first kind).

/// Points of an interval between which a smooth function is interpolated.
#[derive(Debug, Clone)]
pub(super) struct Points {
    at: Vec<f64>,
    weights: Vec<f64>,
}

impl Points {
    /// So many points of `low..high`.
    pub fn between(low: f64, high: f64, count: usize) -> Self {
        let angle = |index: usize| (2 * index + 1) as f64 * std::f64::consts::PI / (2 * count) as f64;
        let at = |index: usize| 0.5 * (low + high) + 0.5 * (high - low) * angle(index).cos();
        let sign = |index: usize| if index.is_multiple_of(2) { 1.0 } else { -1.0 };
        Self {
            at: (0..count).map(at).collect(),
            weights: (0..count).map(|index| sign(index) * angle(index).sin()).collect(),
        }
    }

    /// The points.
    pub fn at(&self) -> &[f64] {
        &self.at
    }

    /// Shares of the values at the points in the value at `x`.
    pub fn shares(&self, x: f64) -> Vec<f64> {
        if let Some(hit) = self.at.iter().position(|&at| at == x) {
            return (0..self.at.len()).map(|index| f64::from(u8::from(index == hit))).collect();
        }
        let mut shares: Vec<f64> = self.at.iter().zip(&self.weights).map(|(at, weight)| weight / (x - at)).collect();
        let sum: f64 = shares.iter().sum();
        shares.iter_mut().for_each(|share| *share /= sum);
        shares
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn smooth_functions_are_met_between_the_points() {
        let points = Points::between(0.5, 2.0, 16);
        let values: Vec<f64> = points.at().iter().map(|x| x.exp()).collect();
        for x in [0.5, 0.9, 1.37, 2.0, points.at()[3]] {
            let read = crate::matrix::dot(&points.shares(x), &values);
            assert!((read / f64::exp(x) - 1.0).abs() < 1e-13, "{x}: {read}");
        }
    }
}

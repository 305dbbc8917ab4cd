//! The normal distribution read from tables, to about 1e-12 absolute: for sums over thousands of points.

use super::known_tail::{BEFORE, POINTS, Polynomial, polynomials, value};
use super::normal::{normal_lower, normal_quantile};
use std::sync::OnceLock;

/// The lower tail is tabled from minus to plus this.
const END: f64 = 9.0;
/// Steps per unit of the table of tails.
const PER_UNIT: f64 = 8.0;
/// Steps per unit of the table of quantiles.
const QUANTILES_PER_UNIT: f64 = 16.0;
/// Quantiles are tabled over `sqrt(-2 ln p)` up to this (probability 1e-21).
const FURTHEST: f64 = 10.0;

/// The tables.
pub(crate) struct QuickNormal {
    lower: Vec<Polynomial>,
    quantile: Vec<Polynomial>,
}

/// Where `sqrt(-2 ln p)` begins: at one half, less a step.
const NEAREST: f64 = 1.0;

impl QuickNormal {
    /// The tables, made once.
    pub fn tables() -> &'static Self {
        static TABLES: OnceLock<QuickNormal> = OnceLock::new();
        TABLES.get_or_init(|| Self {
            lower: tabled(-END, END, PER_UNIT, normal_lower),
            quantile: tabled(NEAREST, FURTHEST, QUANTILES_PER_UNIT, |root| normal_quantile((-0.5 * root * root).exp())),
        })
    }

    /// Probability of a value at most `z`.
    #[inline]
    pub fn lower(&self, z: f64) -> f64 {
        let cells = (z + END) * PER_UNIT;
        if cells < 0.0 {
            return 0.0;
        }
        let cell = cells as usize;
        self.lower.get(cell).map_or(1.0, |polynomial| value(polynomial, cells - cell as f64 - 0.5))
    }

    /// The value below which lies probability `p`, between 1e-21 and one minus 1e-16.
    #[inline]
    pub fn quantile(&self, p: f64) -> f64 {
        let (tail, sign) = if p < 0.5 { (p, 1.0) } else { (1.0 - p, -1.0) };
        let root = (-2.0 * tail.max(1e-21).ln()).sqrt();
        let cells = (root - NEAREST) * QUANTILES_PER_UNIT;
        let cell = (cells as usize).min(self.quantile.len() - 1);
        sign * value(&self.quantile[cell], cells - cell as f64 - 0.5)
    }
}

fn tabled(low: f64, high: f64, per_unit: f64, function: impl Fn(f64) -> f64) -> Vec<Polynomial> {
    let count = ((high - low) * per_unit) as usize + POINTS - 1;
    let values: Vec<f64> = (0..count).map(|index| function(low + (index as f64 - BEFORE as f64) / per_unit)).collect();
    polynomials(&values)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_read_as_the_functions() {
        let quick = QuickNormal::tables();
        for step in -9500..9500 {
            let z = f64::from(step) * 1e-3;
            assert!((quick.lower(z) - normal_lower(z)).abs() < 1e-12, "{z}");
            let p = normal_lower(z);
            if (1e-18..1.0 - 1e-9).contains(&p) {
                assert!((quick.quantile(p) - normal_quantile(p)).abs() < 1e-9, "{z}: {}", quick.quantile(p));
            }
        }
    }
}

//! The upper tail of a statistic for known deviation, tabled for fast reading.
//!
//! A statistic over an estimated deviation (studentised range, Dunnett's largest t) has the tail `mean of known(q s)` over the
//! deviation `s`. The function `known` of one argument is costly; its table is made once and read a hundred times per tail.

use std::sync::OnceLock;

/// Points of the polynomial that reads between tabled values.
pub(crate) const POINTS: usize = 12;
/// Points that lie before the cell which is read.
pub(crate) const BEFORE: usize = POINTS / 2 - 1;
/// Points of the polynomials for the logarithm of the far tail.
const FAR_POINTS: usize = 8;
/// Their step for a tail that falls like that of the standard normal.
const FAR_STEP: f64 = 0.5;
/// Cells of the far tail's table; where it ends probabilities are below 1e-290.
const FAR_CELLS: usize = 64;

/// Sharpness that every tail has, for what bends elsewhere than at its steepest.
const SHARPEST_SPARED: f64 = 20.0;
/// Sharpness of a function that is not tabled.
const UNTABLED_SHARPNESS: f64 = 60.0;

/// Coefficients by rising power of the distance from the middle of a cell, as a share of the cell.
pub(crate) type Polynomial = [f64; POINTS];

/// The table.
pub(crate) struct KnownTail {
    table: Option<Table>,
    sharpness: f64,
    exact: Box<dyn Fn(f64) -> f64 + Send + Sync>,
}

struct Table {
    /// The argument of the first cell's left edge.
    start: f64,
    per_unit: f64,
    /// One polynomial per cell.
    near: Vec<Polynomial>,
    /// The tail falls like `exp(-fall w^2)`.
    fall: f64,
    /// `ln tail + fall w^2` at equal steps from the end of the near table on, each made when it is first needed.
    far: [OnceLock<f64>; FAR_CELLS],
}

impl std::fmt::Debug for KnownTail {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("KnownTail").field("tabled", &self.table.is_some()).finish_non_exhaustive()
    }
}

impl KnownTail {
    /// Makes the table.
    ///
    /// - `values`: the tail at `start + (index - BEFORE) / per_unit`, enough on both sides for the polynomials
    /// - `fall`: how the logarithm of the tail falls with the square of its argument
    /// - `exact`: the tail with all its digits, also where it is small
    pub fn of(
        start: f64,
        per_unit: f64,
        values: &[f64],
        fall: f64,
        exact: impl Fn(f64) -> f64 + Send + Sync + 'static,
    ) -> Self {
        let steps = values.windows(2).enumerate().skip(BEFORE);
        let steepest = steps
            .map(|(index, pair)| (pair[1] - pair[0]).abs() * (start * per_unit + (index - BEFORE) as f64).abs())
            .fold(0.0, f64::max);
        let sharpness = SHARPEST_SPARED + 1.5 * 2.0 * std::f64::consts::PI * steepest * steepest;
        let table =
            Table { start, per_unit, near: polynomials(values), fall, far: [const { OnceLock::new() }; FAR_CELLS] };
        Self { table: Some(table), sharpness, exact: Box::new(exact) }
    }

    /// Without a table, for a function that a table of fixed steps would not follow.
    pub fn untabled(exact: impl Fn(f64) -> f64 + Send + Sync + 'static) -> Self {
        Self { table: None, sharpness: UNTABLED_SHARPNESS, exact: Box::new(exact) }
    }

    /// How sharply the tail falls on the scale of the logarithm of its argument: the inverse square of the spread of a normal
    /// distribution whose tail falls as fast at its steepest, and half as much again.
    pub fn sharpness(&self) -> f64 {
        self.sharpness
    }

    /// The tail at `w`; one below the table.
    #[inline]
    pub fn at(&self, w: f64) -> f64 {
        match &self.table {
            Some(table) => table.near_at(w).unwrap_or_else(|| table.log_far(w, &self.exact).exp()),
            None => (self.exact)(w),
        }
    }

    /// Natural logarithm of the tail at `w`.
    pub fn log_at(&self, w: f64) -> f64 {
        match &self.table {
            Some(table) => table.near_at(w).map_or_else(|| table.log_far(w, &self.exact), f64::ln),
            None => (self.exact)(w).ln(),
        }
    }
}

impl Table {
    /// Where the near table ends.
    fn end(&self) -> f64 {
        self.start + self.near.len() as f64 / self.per_unit
    }

    #[inline]
    fn near_at(&self, w: f64) -> Option<f64> {
        let cells = (w - self.start) * self.per_unit;
        if cells < 0.0 {
            return Some(1.0);
        }
        let cell = cells as usize;
        self.near.get(cell).map(|polynomial| value(polynomial, cells - cell as f64 - 0.5))
    }

    fn log_far(&self, w: f64, exact: &dyn Fn(f64) -> f64) -> f64 {
        let step = FAR_STEP / (2.0 * self.fall).sqrt();
        let first = self.end() - step;
        let at = (w - first) / step;
        if at >= FAR_CELLS as f64 || at.is_nan() {
            return f64::NEG_INFINITY;
        }
        let begin = (at as usize).saturating_sub(FAR_POINTS / 2 - 1).min(FAR_CELLS - FAR_POINTS);
        let values: [f64; FAR_POINTS] = std::array::from_fn(|index| {
            let place = first + step * (begin + index) as f64;
            *self.far[begin + index].get_or_init(|| exact(place).ln() + self.fall * place * place)
        });
        // some probability is too small for a number
        if values.iter().any(|value| !value.is_finite()) {
            return f64::NEG_INFINITY;
        }
        interpolated(&values, at - begin as f64) - self.fall * w * w
    }
}

/// For each cell between values at equal steps the polynomial through the values around it: `POINTS - 1` cells fewer than values.
pub(crate) fn polynomials(values: &[f64]) -> Vec<Polynomial> {
    let basis = basis();
    values.windows(POINTS).map(|window| through(window, basis)).collect()
}

#[inline]
pub(crate) fn value(polynomial: &Polynomial, at: f64) -> f64 {
    // even and odd powers apart: two short chains instead of one long
    let square = at * at;
    let (mut even, mut odd) = (polynomial[POINTS - 2], polynomial[POINTS - 1]);
    for power in (0..POINTS - 2).step_by(2).rev() {
        even = even * square + polynomial[power];
        odd = odd * square + polynomial[power + 1];
    }
    even + at * odd
}

/// Coefficients of the polynomial through the values of a window.
fn through(window: &[f64], basis: &[Polynomial; POINTS]) -> Polynomial {
    let mut polynomial = [0.0; POINTS];
    for (value, of_point) in window.iter().zip(basis) {
        for (coefficient, basis) in polynomial.iter_mut().zip(of_point) {
            *coefficient += value * basis;
        }
    }
    polynomial
}

/// For each point of the window the polynomial that is one there and zero at the others, around the middle of the cell.
fn basis() -> &'static [Polynomial; POINTS] {
    static BASIS: OnceLock<[Polynomial; POINTS]> = OnceLock::new();
    BASIS.get_or_init(|| {
        let place = |point: usize| point as f64 - BEFORE as f64 - 0.5;
        std::array::from_fn(|one| {
            let mut polynomial = [0.0; POINTS];
            polynomial[0] = 1.0;
            for other in (0..POINTS).filter(|&other| other != one) {
                let scale = 1.0 / (place(one) - place(other));
                for power in (0..POINTS).rev() {
                    let lower = if power > 0 { polynomial[power - 1] } else { 0.0 };
                    polynomial[power] = scale * (lower - place(other) * polynomial[power]);
                }
            }
            polynomial
        })
    })
}

/// Polynomial through values at 0, 1, 2, ... (barycentric form; Berrut & Trefethen 2004, SIAM Review 46:501-517).
fn interpolated(values: &[f64], at: f64) -> f64 {
    let (mut above, mut below, mut weight) = (0.0, 0.0, 1.0);
    for (index, value) in values.iter().enumerate() {
        let distance = at - index as f64;
        if distance == 0.0 {
            return *value;
        }
        above += weight / distance * value;
        below += weight / distance;
        // (-1)^i binomial(n - 1, i)
        weight *= -((values.len() - 1 - index) as f64) / (index + 1) as f64;
    }
    above / below
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::distribution::{normal_log_upper, normal_upper};

    #[test]
    fn a_normal_tail_is_read_with_its_digits_near_and_far() {
        let per_unit = 12.0;
        let count = (18.0 * per_unit) as usize + POINTS - 1;
        let values: Vec<f64> =
            (0..count).map(|index| normal_upper(-12.0 + (index as f64 - BEFORE as f64) / per_unit)).collect();
        let table = KnownTail::of(-12.0, per_unit, &values, 0.5, normal_upper);
        for step in -300..3000 {
            let w = f64::from(step) * 0.0123;
            if w < 6.0 {
                assert!((table.at(w) / normal_upper(w) - 1.0).abs() < 3e-9, "{w}");
            } else if w < 36.0 {
                assert!((table.log_at(w) - normal_log_upper(w)).abs() < 3e-8, "{w}");
            }
        }
    }
}

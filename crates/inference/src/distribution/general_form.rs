//! Joint probabilities of correlated normals, whatever the correlations.
//!
//! The probability to leave the limits is a sum over the first statistic to do so; each term is a product of conditional
//! probabilities, averaged over a lattice of points. Every term is positive, so that a small probability keeps its digits.
//!
//! # Source
//! Genz (1992), J. Comput. Graph. Stat. 1:141-149, and Genz & Bretz (2009), Computation of Multivariate Normal and t Probabilities
//! (from memory). Beyond them: what is averaged is the chance to leave the limits, not to stay; and between a few limits it is read by
//! its ratio to the probability for the nearest product form, which is exact and falls nearly alike.

use super::dunnett::{ProductForm, Sides};
use super::quick_normal::QuickNormal;
use crate::matrix::{Matrix, dot};
use std::sync::OnceLock;

/// Points of the lattices, then their components.
const LATTICES: &str = include_str!("lattice.txt");
/// More statistics than this have no lattice.
pub(crate) const MOST_STATISTICS: usize = 100;
/// The lattice for more than [`FEW`] statistics (to about 1e-5) and for limits far out, where fewer points do.
const COARSE: usize = 0;
/// The lattice for fewer (to about 1e-6; for more it would take minutes).
const FINE: usize = 1;
/// See [`FINE`].
const FEW: usize = 8;
/// The ratio to the product form is computed at so many Chebyshev points per unit of the limit.
const PLACES_PER_UNIT: f64 = 4.5;
/// A pivot of a correlation matrix below this means that a statistic follows from the others.
const DEPENDENT: f64 = 1e-10;

struct Lattice {
    points: usize,
    components: Vec<f64>,
}

fn lattices() -> &'static [Lattice] {
    static LIST: OnceLock<Vec<Lattice>> = OnceLock::new();
    LIST.get_or_init(|| {
        let rows = LATTICES
            .lines()
            .map(|line| line.split(' ').map(|it| it.parse::<f64>().expect("lattice.txt holds numbers")));
        rows.map(|mut row| Lattice { points: row.next().unwrap_or(1.0) as usize, components: row.collect() }).collect()
    })
}

impl Lattice {
    /// Point `index` in the unit cube, folded so that the average over the lattice converges for functions that are not periodic.
    fn fill(&self, index: usize, point: &mut [f64]) {
        let share = index as f64 / self.points as f64;
        for (place, (value, component)) in point.iter_mut().zip(&self.components).enumerate() {
            // shifted by multiples of the golden ratio, so that no point lies on the edge
            let shifted = share * component + (place + 1) as f64 * 0.618_033_988_749_894_9;
            *value = (2.0 * (shifted - shifted.floor()) - 1.0).abs();
        }
    }
}

/// Correlated standard normals and the correlations of product form next to theirs.
#[derive(Debug, Clone)]
pub(crate) struct GeneralForm {
    sides: Sides,
    product: ProductForm,
    /// For each statistic the lower triangle whose product with its transpose is the correlation matrix of it and, following it, of
    /// those before it.
    first: Vec<Matrix>,
}

impl GeneralForm {
    /// Takes the correlations and the factors of the nearest product form; nothing when a statistic follows from the others.
    pub fn of(correlation: &Matrix, lambda: &[f64], sides: Sides) -> Option<Self> {
        let size = correlation.rows;
        let first = (0..size)
            .map(|one| {
                let order: Vec<usize> = std::iter::once(one).chain(0..one).collect();
                triangle(correlation, &order)
            })
            .collect::<Option<_>>()?;
        Some(Self { sides, product: ProductForm::of(lambda, sides), first })
    }

    /// The function that gives the probability that some statistic is beyond a limit up to `high`. Below `low` it is one either way.
    pub fn some_outside(&self, low: f64, high: f64) -> impl Fn(f64) -> f64 + use<> {
        let count = (PLACES_PER_UNIT * (high - low)).ceil() as usize;
        let places: Vec<f64> = (0..count).map(|index| chebyshev(index, count, low, high)).collect();
        let lattice = &lattices()[if self.first.len() > FEW { COARSE } else { FINE }];
        let product = self.product.clone();
        let ratio = |&limit: &f64| (self.averaged(lattice, limit) / product.some_outside(limit)).ln();
        let ratios: Vec<f64> = places.iter().map(ratio).collect();
        move |limit| {
            let ratio = if limit < low { 0.0 } else { through_chebyshev(&places, &ratios, limit) };
            (product.some_outside(limit) * ratio.exp()).min(1.0)
        }
    }

    /// The same probability where it is small.
    pub fn some_far_outside(&self, limit: f64) -> f64 {
        self.averaged(&lattices()[COARSE], limit)
    }

    /// The sum, over the statistics, of the chance to be beyond the limit while those before are not.
    fn averaged(&self, lattice: &Lattice, limit: f64) -> f64 {
        let size = self.first.len();
        let (mut point, mut normals) = (vec![0.0; size], vec![0.0; size]);
        let tail = super::normal_upper(limit);
        let sides = if self.sides == Sides::Both { 2.0 } else { 1.0 };
        let mut sum = 0.0;
        for index in 0..lattice.points {
            lattice.fill(index, &mut point[..size]);
            // both signs of the statistic that is beyond are alike
            normals[0] = super::normal_quantile_of_upper(tail * point[0].max(1e-12));
            sum +=
                self.first.iter().map(|root| rest_inside(root, limit, self.sides, &point, &mut normals)).sum::<f64>();
        }
        sides * tail * sum / lattice.points as f64
    }
}

/// The probability that all but the first, whose value is given, are inside.
fn rest_inside(root: &Matrix, limit: f64, sides: Sides, point: &[f64], normals: &mut [f64]) -> f64 {
    let quick = QuickNormal::tables();
    let mut inside = 1.0;
    for row in 1..root.rows {
        let share = conditional(root, row, limit, sides, quick, normals);
        inside *= share.1 - share.0;
        if row + 1 < root.rows {
            normals[row] = quick.quantile(share.0 + point[row] * (share.1 - share.0));
        }
    }
    inside
}

/// Between which probabilities the own part of a statistic must lie, given the normals before.
fn conditional(
    root: &Matrix,
    row: usize,
    limit: f64,
    sides: Sides,
    quick: &QuickNormal,
    normals: &[f64],
) -> (f64, f64) {
    let shift = dot(&root.row(row)[..row], &normals[..row]);
    let own = root[(row, row)];
    let low = if sides == Sides::Both { quick.lower((-limit - shift) / own) } else { 0.0 };
    (low, quick.lower((limit - shift) / own))
}

/// Cholesky's triangle of the correlations taken in this order.
fn triangle(correlation: &Matrix, order: &[usize]) -> Option<Matrix> {
    let size = order.len();
    let mut root = Matrix::zeros(size, size);
    for row in 0..size {
        for column in 0..=row {
            let inner = dot(&root.row(row)[..column], &root.row(column)[..column]);
            let rest = correlation[(order[row], order[column])] - inner;
            if row > column {
                root[(row, column)] = rest / root[(column, column)];
            } else if rest > DEPENDENT {
                root[(row, row)] = rest.sqrt();
            } else {
                return None;
            }
        }
    }
    Some(root)
}

fn chebyshev(index: usize, count: usize, low: f64, high: f64) -> f64 {
    let angle = std::f64::consts::PI * index as f64 / (count - 1) as f64;
    0.5 * (low + high) + 0.5 * (high - low) * angle.cos()
}

/// The polynomial through values at Chebyshev's points of the second kind (Berrut & Trefethen 2004, SIAM Review 46:501-517).
fn through_chebyshev(places: &[f64], values: &[f64], at: f64) -> f64 {
    let (mut above, mut below) = (0.0, 0.0);
    for (index, (place, value)) in places.iter().zip(values).enumerate() {
        let distance = at - place;
        if distance == 0.0 {
            return *value;
        }
        let end = if index == 0 || index + 1 == places.len() { 0.5 } else { 1.0 };
        let weight = if index % 2 == 0 { end } else { -end } / distance;
        above += weight * value;
        below += weight;
    }
    above / below
}

#[cfg(test)]
mod tests {
    use super::super::factor_form::FactorForm;
    use super::*;

    // Correlations of exactly two factors, which the factor form integrates without a lattice.
    #[test]
    fn the_lattice_agrees_with_the_integral_over_two_factors() {
        let factors = [[0.5, 0.4], [0.6, -0.3], [0.3, 0.6], [-0.2, 0.5], [0.7, 0.1], [0.4, 0.4], [0.6, 0.6]];
        // measured: 2e-7 and 1.0e-6
        for (size, sides, tolerance) in [(4, Sides::Both, 5e-7), (4, Sides::Upper, 5e-7), (7, Sides::Both, 2e-6)] {
            let entry =
                |row: usize, column: usize| if row == column { 1.0 } else { dot(&factors[row], &factors[column]) };
            let rows: Vec<Vec<f64>> = (0..size).map(|row| (0..size).map(|it| entry(row, it)).collect()).collect();
            let correlation = Matrix::from_rows(&rows);
            let exact = FactorForm::fitted(&correlation, 2, sides);
            let lattice = GeneralForm::of(&correlation, &[0.5; 7][..size], sides).unwrap();
            let near = lattice.some_outside(if sides == Sides::Both { 0.0 } else { -6.5 }, 6.0);
            for limit in [0.3, 0.7, 1.1, 1.9, 2.6, 5.1] {
                let (found, expected) = (near(limit), exact.some_outside(limit).0);
                assert!((found / expected - 1.0).abs() < tolerance, "{size} {sides:?} {limit}: {found:e} {expected:e}");
            }
            for limit in [6.3, 9.0, 20.0] {
                let (found, expected) = (lattice.some_far_outside(limit), exact.some_outside(limit).0);
                assert!((found / expected - 1.0).abs() < 1e-8, "{size} {sides:?} {limit}: {found:e} {expected:e}");
            }
        }
    }
}

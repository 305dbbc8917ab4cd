//! Joint probabilities of correlated normals whose correlations are nearly those of a few common factors.
//!
//! Given the common factors the statistics are independent, so that their joint probability is a product, averaged over one or two
//! normals. What the factors leave of the correlations enters as a series: with `E` for what is left, the probability is
//! `exp(sum of E_ij d_i d_j)` applied to the product, `d_i` being the derivative by a shift of statistic `i`. Taken for the logarithm, the
//! series has one term for every way to connect statistics by `E`; those of up to three links are used.
//!
//! # Source
//! Plackett (1954), Biometrika 41:351-360, for the derivative by a correlation; the ordering of the series by connected links is that
//! of any expansion in cumulants (own derivation; checked against triple integrals in the tests).

use super::dunnett::Sides;
use super::normal::{normal_density, normal_lower, normal_upper};
use crate::matrix::{Matrix, dot, symmetric_eigen};

/// Factors are integrated this far beyond where the statistics reach the limit (probability 1e-17 beyond).
const END: f64 = 8.6;
/// Least part of a statistic that is its own.
const LEAST_OWN_PART: f64 = 0.15;

/// Correlations smaller than this are rounding.
const NOTHING_LEFT: f64 = 1e-12;

/// Factors, and what they leave.
#[derive(Debug, Clone)]
pub(crate) struct FactorForm {
    sides: Sides,
    /// One row of loadings per statistic.
    loadings: Vec<Vec<f64>>,
    own: Vec<f64>,
    /// Correlations less those of the factors; zeros on the diagonal.
    left: Matrix,
    /// Whether the factors leave anything, beyond rounding.
    is_left: bool,
}

/// How a statistic's chance to be inside changes with a shift, given the factors.
#[derive(Debug, Clone, Copy, Default)]
struct Inside {
    log: f64,
    /// First, second and third derivative of the logarithm.
    slope: f64,
    bend: f64,
    third: f64,
}

impl FactorForm {
    /// Fits `count` factors to the correlations.
    ///
    /// Each row of loadings in turn is set to its least-squares value given the others, from the leading eigenvectors.
    pub fn fitted(correlation: &Matrix, count: usize, sides: Sides) -> Self {
        let size = correlation.rows;
        let mut loadings = leading(correlation, count);
        for _ in 0..300 {
            let before = loadings.clone();
            for row in 0..size {
                loadings[row] = least_squares(correlation, &loadings, row);
                shorten(&mut loadings[row]);
            }
            let moved = before.iter().flatten().zip(loadings.iter().flatten()).map(|(a, b)| (a - b).abs());
            if moved.fold(0.0, f64::max) < 1e-13 {
                break;
            }
        }
        let own = loadings.iter().map(|row| (1.0 - dot(row, row)).sqrt()).collect();
        let mut left = Matrix::zeros(size, size);
        for row in 0..size {
            for column in (0..size).filter(|&column| column != row) {
                left[(row, column)] = correlation[(row, column)] - dot(&loadings[row], &loadings[column]);
            }
        }
        let is_left = (0..size).any(|row| left.row(row).iter().any(|it| it.abs() > NOTHING_LEFT));
        Self { sides, loadings, own, left, is_left }
    }

    /// Probability that some statistic is beyond the limit, and by how much the links of three changed it.
    pub fn some_outside(&self, limit: f64) -> (f64, f64) {
        let step = 0.3 * self.own.iter().fold(1.0_f64, |least, own| least.min(1.2 * own));
        let largest = self.loadings.iter().map(|row| dot(row, row).sqrt()).fold(0.0, f64::max);
        // What lies farther out is 1e-16 of one statistic's own tail.
        let radius = (END * END + limit.max(0.0).powi(2)).sqrt().min(END + largest * limit.max(0.0));
        let count = (radius / step).ceil() as i64;
        let mut inside = vec![Inside::default(); self.own.len()];
        let (mut sum, mut change) = (0.0, 0.0);
        let mut add = |point: &[f64], weight: f64| {
            let (outside, less) = self.given(point, limit, &mut inside);
            sum += weight * outside;
            change += weight * (outside - less);
        };
        // With both sides a point and its opposite are alike.
        let (first_step, opposite) = if self.sides == Sides::Both { (0, 2.0) } else { (-count, 1.0) };
        for first in first_step..=count {
            let a = step * first as f64;
            let weight = step * normal_density(a) * if first == 0 { 1.0 } else { opposite };
            if self.loadings[0].len() == 1 {
                add(&[a], weight);
                continue;
            }
            let reach = ((radius * radius - a * a).max(0.0).sqrt() / step) as i64;
            for second in -reach..=reach {
                let b = step * second as f64;
                add(&[a, b], weight * step * normal_density(b));
            }
        }
        (sum, change)
    }

    /// Given the factors, the same with links of up to three and of up to two.
    fn given(&self, point: &[f64], limit: f64, inside: &mut [Inside]) -> (f64, f64) {
        let mut log_product = 0.0;
        for ((inside, loadings), own) in inside.iter_mut().zip(&self.loadings).zip(&self.own) {
            let shift = dot(loadings, point);
            if self.is_left {
                *inside = shifted(shift, *own, limit, self.sides);
                log_product += inside.log;
            } else {
                log_product += (-outside_given(shift, *own, limit, self.sides)).ln_1p();
            }
        }
        // next to impossible that all are inside
        if log_product < -45.0 {
            return (1.0, 1.0);
        }
        if !self.is_left {
            let outside = -log_product.exp_m1();
            return (outside, outside);
        }
        let (two, three) = self.linked(inside);
        (-(log_product + two + three).exp_m1(), -(log_product + two).exp_m1())
    }

    /// Terms of one and two links, and of three.
    fn linked(&self, inside: &[Inside]) -> (f64, f64) {
        let size = inside.len();
        let (mut two, mut three) = (0.0, 0.0);
        // over the neighbours: E a, and E * E k
        let mut pull = [0.0; super::general_form::MOST_STATISTICS];
        for (row, pull) in pull.iter_mut().enumerate().take(size) {
            *pull = self.left.row(row).iter().zip(inside).map(|(link, it)| link * it.slope).sum();
        }
        for (row, it) in inside.iter().enumerate() {
            let links = self.left.row(row);
            let mut doubled = 0.0;
            for (column, other) in inside.iter().enumerate() {
                let link = links[column];
                doubled += link * link * other.bend;
                // chain of three, and three links between two
                three += 0.5 * pull[row] * it.bend * link * other.bend * pull[column];
                three += link * link * link * it.third * other.third / 12.0;
            }
            two += 0.5 * it.slope * pull[row] + 0.5 * it.bend * pull[row] * pull[row] + 0.25 * it.bend * doubled;
            // star, and a double link with a tail
            three += it.third * pull[row] * (pull[row] * pull[row] / 6.0 + 0.5 * doubled);
        }
        (two, three + self.triangles(inside))
    }

    fn triangles(&self, inside: &[Inside]) -> f64 {
        let size = inside.len();
        let mut sum = 0.0;
        for a in 2..size {
            for b in 1..a {
                let link = inside[a].bend * inside[b].bend * self.left[(a, b)];
                let others = self.left.row(a)[..b].iter().zip(&self.left.row(b)[..b]).zip(&inside[..b]);
                sum += link * others.map(|((x, y), it)| x * y * it.bend).sum::<f64>();
            }
        }
        sum
    }
}

/// The chance of `shift + own e` to be outside.
fn outside_given(shift: f64, own: f64, limit: f64, sides: Sides) -> f64 {
    let above = normal_upper((limit - shift) / own);
    if sides == Sides::Both { above + normal_lower((-limit - shift) / own) } else { above }
}

/// The chance of `shift + own e` to be inside, with its derivatives by the shift.
fn shifted(shift: f64, own: f64, limit: f64, sides: Sides) -> Inside {
    let outside = outside_given(shift, own, limit, sides);
    let high = (limit - shift) / own;
    let of_high = normal_density(high);
    let (mut low, mut of_low) = (0.0, 0.0);
    if sides == Sides::Both {
        low = (-limit - shift) / own;
        of_low = normal_density(low);
    }
    let log = (-outside).ln_1p();
    let scale = 1.0 / log.exp();
    let (first, second, third) = (
        scale * (of_low - of_high) / own,
        scale * (low * of_low - high * of_high) / (own * own),
        scale * ((low * low - 1.0) * of_low - (high * high - 1.0) * of_high) / (own * own * own),
    );
    let bend = second - first * first;
    Inside { log, slope: first, bend, third: third - 3.0 * first * second + 2.0 * first * first * first }
}

/// The leading eigenvectors, scaled, of the correlations with half of each variance taken as common.
fn leading(correlation: &Matrix, count: usize) -> Vec<Vec<f64>> {
    let mut common = correlation.clone();
    (0..common.rows).for_each(|it| common[(it, it)] = 0.5);
    let (values, vectors) = symmetric_eigen(&common);
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&a, &b| values[b].total_cmp(&values[a]));
    let scaled = |row: usize, factor: usize| values[order[factor]].max(1e-4).sqrt() * vectors[(order[factor], row)];
    (0..common.rows)
        .map(|row| {
            let mut loadings: Vec<f64> = (0..count).map(|factor| scaled(row, factor)).collect();
            shorten(&mut loadings);
            loadings
        })
        .collect()
}

/// The loadings of one statistic that come nearest to its correlations with the others.
fn least_squares(correlation: &Matrix, loadings: &[Vec<f64>], row: usize) -> Vec<f64> {
    let others = || loadings.iter().enumerate().filter(|&(other, _)| other != row);
    let with = |k: usize| others().map(|(other, it)| it[k] * correlation[(row, other)]).sum::<f64>();
    let cross = |k: usize, l: usize| others().map(|(_, it)| it[k] * it[l]).sum::<f64>();
    if loadings[row].len() == 1 {
        return vec![with(0) / cross(0, 0).max(1e-300)];
    }
    let (a, b, c) = (cross(0, 0), cross(0, 1), cross(1, 1));
    // a trace of a ridge keeps a factor that only this statistic would have from growing
    let ridge = 1e-9 * (a + c);
    let determinant = (a + ridge) * (c + ridge) - b * b;
    vec![((c + ridge) * with(0) - b * with(1)) / determinant, ((a + ridge) * with(1) - b * with(0)) / determinant]
}

fn shorten(loadings: &mut [f64]) {
    let length = dot(loadings, loadings).sqrt();
    let most = (1.0 - LEAST_OWN_PART * LEAST_OWN_PART).sqrt();
    if length > most {
        loadings.iter_mut().for_each(|it| *it *= most / length);
    }
}

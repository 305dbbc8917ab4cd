//! Where the search begins: variances from sums of squares of class totals.
//!
//! The sums of squares of the totals of each grouping, divided by their numbers of observations, have expectations that are linear
//! in the variances. The fixed classes are taken as if they were random. In balanced layouts the solution is that of the analysis
//! of variance; elsewhere it is near enough for the search to need few steps.
//!
//! Source: Henderson (1953), Biometrics 9:226-252, method 1 (from memory).

use super::grouping::NetworkGrouping;
use super::prepared::Prepared;
use crate::matrix::Matrix;

/// The least start, as a share of the variance of the response.
const LEAST: f64 = 1e-3;

/// Variances of the random groupings, then of the residual groups, all above zero. The response has variance one.
pub(super) fn start(data: &Prepared) -> Vec<f64> {
    let groupings: Vec<&NetworkGrouping> = std::iter::once(&data.fixed).chain(&data.random).collect();
    let equal = 1.0 / (data.random.len() + 1) as f64;
    let found = solve(data, &groupings).unwrap_or_else(|| vec![equal; groupings.len() + 1]);
    let at_least = |value: f64| if value.is_finite() { value.clamp(LEAST, 4.0) } else { equal };
    let residual = at_least(found[groupings.len()]).max(10.0 * LEAST);
    let random = found[1..groupings.len()].iter().map(|&value| at_least(value));
    random.chain(std::iter::repeat_n(residual, data.residual.classes)).collect()
}

fn solve(data: &Prepared, groupings: &[&NetworkGrouping]) -> Option<Vec<f64>> {
    let count = groupings.len();
    let observations = data.response.len() as f64;
    let sizes: Vec<Vec<f64>> = groupings.iter().map(|it| sizes(it)).collect();
    let of_whole: Vec<f64> =
        sizes.iter().map(|it| it.iter().map(|size| size * size).sum::<f64>() / observations).collect();
    let mut coefficients = Matrix::zeros(count + 1, count + 1);
    let mut sums = vec![0.0; count + 1];
    for row in 0..count {
        for column in 0..=row {
            let (a, b) = shared(data, groupings, &sizes, row, column);
            coefficients[(row, column)] = a - of_whole[column];
            coefficients[(column, row)] = b - of_whole[row];
        }
        coefficients[(row, count)] = groupings[row].classes as f64 - 1.0;
        coefficients[(count, row)] = observations - of_whole[row];
        sums[row] = square_of_totals(data, groupings[row], &sizes[row]);
    }
    coefficients[(count, count)] = observations - 1.0;
    sums[count] = data.response.iter().map(|value| value * value).sum();
    eliminated(coefficients, sums)
}

fn sizes(grouping: &NetworkGrouping) -> Vec<f64> {
    let mut sizes = vec![0.0; grouping.classes];
    grouping.class.iter().for_each(|&class| sizes[class as usize] += 1.0);
    sizes
}

fn square_of_totals(data: &Prepared, grouping: &NetworkGrouping, sizes: &[f64]) -> f64 {
    let mut totals = vec![0.0; grouping.classes];
    grouping.class.iter().zip(&data.response).for_each(|(&class, value)| totals[class as usize] += value);
    totals.iter().zip(sizes).map(|(total, size)| total * total / size).sum()
}

/// Sums over the combinations of two groupings of the squared number of observations there, divided by that in the class of the
/// first, and by that in the class of the second.
fn shared(
    data: &Prepared,
    groupings: &[&NetworkGrouping],
    sizes: &[Vec<f64>],
    first: usize,
    second: usize,
) -> (f64, f64) {
    let observations = data.response.len() as f64;
    // Squares of the finer classes' numbers over those of the classes they stand in.
    let over_outer = |fine: usize, coarse: usize| {
        let holder = data.nesting.classes(fine, coarse)?;
        Some(sizes[fine].iter().zip(holder).map(|(size, &outer)| size * size / sizes[coarse][outer as usize]).sum())
    };
    if first == second {
        return (observations, observations);
    }
    if let Some(sum) = over_outer(first, second) {
        return (observations, sum);
    }
    if let Some(sum) = over_outer(second, first) {
        return (sum, observations);
    }
    let (a, b) = (groupings[first], groupings[second]);
    let both = NetworkGrouping::crossed("", a, b);
    let numbers = self::sizes(&both);
    let mut sums = (0.0, 0.0);
    let mut is_met = vec![false; both.classes];
    for (observation, &class) in both.class.iter().enumerate() {
        if !std::mem::replace(&mut is_met[class as usize], true) {
            let square = numbers[class as usize].powi(2);
            sums.0 += square / sizes[first][a.class[observation] as usize];
            sums.1 += square / sizes[second][b.class[observation] as usize];
        }
    }
    sums
}

/// Solves by elimination with the largest pivots; nothing where some unknown follows from the others.
fn eliminated(mut matrix: Matrix, mut right: Vec<f64>) -> Option<Vec<f64>> {
    let size = right.len();
    for column in 0..size {
        let pivot = (column..size).max_by(|&a, &b| matrix[(a, column)].abs().total_cmp(&matrix[(b, column)].abs()))?;
        let largest = (0..size).map(|it| matrix[(pivot, it)].abs()).fold(0.0, f64::max);
        if matrix[(pivot, column)].abs() <= 1e-9 * largest {
            return None;
        }
        for it in 0..size {
            let kept = matrix[(pivot, it)];
            matrix[(pivot, it)] = matrix[(column, it)];
            matrix[(column, it)] = kept;
        }
        right.swap(pivot, column);
        for row in column + 1..size {
            let factor = matrix[(row, column)] / matrix[(column, column)];
            for it in column..size {
                let taken = factor * matrix[(column, it)];
                matrix[(row, it)] -= taken;
            }
            right[row] -= factor * right[column];
        }
    }
    for row in (0..size).rev() {
        let known: f64 = (row + 1..size).map(|it| matrix[(row, it)] * right[it]).sum();
        right[row] = (right[row] - known) / matrix[(row, row)];
    }
    Some(right)
}

//! Trends over the amounts of a quantitative factor: orthogonal polynomials for any spacing, with lack of fit.

use crate::fit::Fit;
use crate::matrix::{add_scaled, dot};
use crate::{Estimate, InferenceError};
use serde::{Deserialize, Serialize};

/// Polynomial trend over the levels of one factor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Trend {
    /// The factor.
    pub factor: String,
    /// The amounts (or scores) the trend runs over, in the order of the levels.
    pub scores: Vec<f64>,
    /// Linear first, each free of those before it.
    pub terms: Vec<TrendTerm>,
}

/// One polynomial term.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct TrendTerm {
    /// Degree of the polynomial.
    pub degree: usize,
    /// `linear`, `quadratic`, ...
    pub name: String,
    /// Estimate of the contrast with length one whose sign follows the highest power.
    pub contrast: Estimate,
    /// Its F on 1 degree of freedom.
    pub f: f64,
    /// Its p.
    pub p: f64,
    /// What polynomials up to this degree leave of the differences between the levels; none at the last degree.
    pub lack_of_fit: Option<LackOfFit>,
}

/// Test of what a polynomial leaves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct LackOfFit {
    /// Degrees of freedom.
    pub num_df: f64,
    /// Degrees of freedom of the error.
    pub den_df: f64,
    /// The variance ratio.
    pub f: f64,
    /// Its upper tail.
    pub p: f64,
}

/// Contrasts of length one over the scores, by degree, orthogonal to each other and to the mean.
///
/// # Errors
/// [`InferenceError::Scores`] when the scores are not finite and all different.
/// # Source
/// Gram-Schmidt on powers of the centred and scaled scores (Forsythe 1957, J. SIAM 5:74-88, for the idea).
pub fn polynomial_contrasts(scores: &[f64]) -> Result<Vec<Vec<f64>>, InferenceError> {
    let levels = scores.len();
    let repeated = |i: usize| scores[..i].contains(&scores[i]);
    if levels < 2 || scores.iter().any(|it| !it.is_finite()) || (0..levels).any(repeated) {
        return Err(InferenceError::Scores { levels });
    }
    let (low, high) = scores.iter().fold((f64::MAX, f64::MIN), |(low, high), it| (low.min(*it), high.max(*it)));
    let x: Vec<f64> = scores.iter().map(|it| (2.0 * it - low - high) / (high - low)).collect();
    let mut basis = vec![vec![1.0 / (levels as f64).sqrt(); levels]];
    for degree in 1..levels {
        // x times the previous polynomial has the right leading power and is far better conditioned than the power itself
        let mut next: Vec<f64> = basis[degree - 1].iter().zip(&x).map(|(value, x)| value * x).collect();
        for _twice_for_rounding in 0..2 {
            for known in &basis {
                let share = dot(known, &next);
                add_scaled(&mut next, -share, known);
            }
        }
        let length = dot(&next, &next).sqrt();
        next.iter_mut().for_each(|value| *value /= length);
        basis.push(next);
    }
    basis.remove(0);
    Ok(basis)
}

/// The trend of means that are given as weights over all treatments.
pub(crate) fn trend(
    fit: &Fit,
    factor: &str,
    scores: &[f64],
    means: &[Vec<f64>],
    most_degrees: usize,
) -> Result<Trend, InferenceError> {
    let contrasts: Vec<Vec<f64>> = polynomial_contrasts(scores)?
        .iter()
        .map(|contrast| {
            let mut weights = vec![0.0; means[0].len()];
            contrast.iter().zip(means).for_each(|(share, mean)| add_scaled(&mut weights, *share, mean));
            weights
        })
        .collect();
    let degrees = contrasts.len().min(most_degrees.max(1));
    let terms: Result<Vec<TrendTerm>, InferenceError> =
        (1..=degrees).map(|degree| trend_term(fit, degree, &contrasts)).collect();
    Ok(Trend { factor: factor.to_owned(), scores: scores.to_vec(), terms: terms? })
}

fn trend_term(fit: &Fit, degree: usize, contrasts: &[Vec<f64>]) -> Result<TrendTerm, InferenceError> {
    let contrast = fit.contrast(&contrasts[degree - 1])?;
    let lack_of_fit = match &contrasts[degree..] {
        [] => None,
        rest => {
            let test = fit.f_test(rest)?;
            Some(LackOfFit { num_df: test.num_df, den_df: test.den_df, f: test.f, p: test.p })
        }
    };
    Ok(TrendTerm { degree, name: degree_name(degree), f: contrast.t().powi(2), p: contrast.p(), contrast, lack_of_fit })
}

fn degree_name(degree: usize) -> String {
    match degree {
        1 => "linear".into(),
        2 => "quadratic".into(),
        3 => "cubic".into(),
        4 => "quartic".into(),
        5 => "quintic".into(),
        _ => format!("degree {degree}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: orthogonal polynomial coefficients for 4 equally spaced levels, in any table: -3 -1 1 3; 1 -1 -1 1; -1 3 -3 1.
    #[test]
    fn equal_spacing_gives_the_tabled_coefficients() {
        let contrasts = polynomial_contrasts(&[0.0, 60.0, 120.0, 180.0]).unwrap();
        let tabled = [[-3.0, -1.0, 1.0, 3.0], [1.0, -1.0, -1.0, 1.0], [-1.0, 3.0, -3.0, 1.0]];
        for (contrast, tabled) in contrasts.iter().zip(tabled) {
            let length = dot(&tabled, &tabled).sqrt();
            assert!(contrast.iter().zip(tabled).all(|(a, b)| (a - b / length).abs() < 1e-14));
        }
    }

    #[test]
    fn levels_that_coincide_are_refused() {
        assert_eq!(polynomial_contrasts(&[1.0, 1.0, 2.0]), Err(InferenceError::Scores { levels: 3 }));
    }
}

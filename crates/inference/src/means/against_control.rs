//! Every treatment against a control, judged together (Dunnett).

use crate::Estimate;
use crate::distribution::Dunnett;
use crate::fit::MarginErrors;
use crate::matrix::Matrix;
use crate::plots::Plots;
use crate::terms::Margin;
use serde::{Deserialize, Serialize};

/// Correlations further than this from a product form are called an approximation.
const PRODUCT_FORM: f64 = 1e-6;

/// All treatments against one control.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ControlTable {
    /// Label of the control.
    pub control: String,
    /// Whether the joint probabilities are exact.
    pub method: DunnettMethod,
    /// One comparison for each other treatment.
    pub comparisons: Vec<ControlComparison>,
}

/// Whether Dunnett's probabilities are exact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DunnettMethod {
    /// The correlations have product form and one number of degrees of freedom.
    Exact,
    /// The nearest product form, and each comparison's own degrees of freedom, were used.
    NearestProductForm,
}

/// One treatment minus the control.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ControlComparison {
    /// Index of the treatment's cell in the table.
    pub cell: usize,
    /// The treatment's label.
    pub label: String,
    /// Treatment minus control.
    pub estimate: f64,
    /// Its standard error.
    pub se: f64,
    /// Degrees of freedom of the standard error.
    pub df: f64,
    /// Two-sided p of its own t, unadjusted.
    pub p: f64,
    /// p adjusted for all comparisons with this control.
    pub p_dunnett: f64,
    /// Lower end of the joint interval at the analysis' level.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// One table per control; none for a control some of whose comparisons have no known error.
pub(crate) fn against_controls(
    margins: &[Margin],
    plots: &Plots,
    errors: &MarginErrors,
    level: f64,
) -> Vec<ControlTable> {
    let controls = (0..margins.len()).filter(|&cell| margins[cell].is_control(&plots.cells));
    controls.filter_map(|control| against(margins, control, errors, level)).collect()
}

fn against(margins: &[Margin], control: usize, errors: &MarginErrors, level: f64) -> Option<ControlTable> {
    let others: Vec<usize> = (0..margins.len()).filter(|&cell| cell != control).collect();
    let estimates: Vec<Estimate> = others.iter().map(|&it| errors.difference(it, control)).collect::<Option<_>>()?;
    let covariances = differences_from(control, &others, &errors.adjusted);
    let (lambda, misfit) = product_form(&covariances);
    let joint = Dunnett::with(&lambda);
    let one_df = estimates.iter().all(|it| (it.df - estimates[0].df).abs() <= 1e-9 * it.df);
    let exact = misfit < PRODUCT_FORM && one_df;
    let mut critical = (f64::NAN, f64::NAN);
    let comparisons = others.iter().zip(&estimates).map(|(&cell, it)| {
        if critical.0 != it.df {
            critical = (it.df, joint.quantile_of_upper(level, it.df));
        }
        let half = critical.1 * it.se;
        ControlComparison {
            cell,
            label: margins[cell].levels.join(", "),
            estimate: it.estimate,
            se: it.se,
            df: it.df,
            p: it.p(),
            p_dunnett: joint.upper(it.t(), it.df),
            lower: it.estimate - half,
            upper: it.estimate + half,
        }
    });
    Some(ControlTable {
        control: margins[control].levels.join(", "),
        comparisons: comparisons.collect(),
        method: if exact { DunnettMethod::Exact } else { DunnettMethod::NearestProductForm },
    })
}

/// Covariances of the differences between some means and one.
fn differences_from(one: usize, others: &[usize], covariance: &Matrix) -> Matrix {
    let mut differences = Matrix::zeros(others.len(), others.len());
    for (row, &a) in others.iter().enumerate() {
        for (column, &b) in others.iter().enumerate() {
            differences[(row, column)] =
                covariance[(a, b)] - covariance[(a, one)] - covariance[(b, one)] + covariance[(one, one)];
        }
    }
    differences
}

/// Factors `lambda` with correlations near `lambda_i lambda_j`, and the largest miss.
///
/// Start: all differences share the control's variance, so that their covariances are one number. Then each factor in turn
/// is set to its least-squares value given the others, which settles on the nearest product form.
fn product_form(covariances: &Matrix) -> (Vec<f64>, f64) {
    let size = covariances.rows;
    let correlation = |i: usize, j: usize| covariances[(i, j)] / (covariances[(i, i)] * covariances[(j, j)]).sqrt();
    if size == 1 {
        return (vec![0.0], 0.0);
    }
    let off = (0..size).flat_map(|i| (0..i).map(move |j| (i, j)));
    let shared = off.clone().map(|at| covariances[at]).sum::<f64>() / (size * (size - 1) / 2) as f64;
    let mut lambda: Vec<f64> =
        (0..size).map(|i| (shared.max(0.0) / covariances[(i, i)]).sqrt().clamp(0.01, 0.999)).collect();
    let miss = |lambda: &[f64]| {
        off.clone().map(|(i, j)| (correlation(i, j) - lambda[i] * lambda[j]).abs()).fold(0.0, f64::max)
    };
    for _ in 0..500 {
        let before = lambda.clone();
        if miss(&lambda) < 1e-12 {
            break;
        }
        for i in 0..size {
            let others = (0..size).filter(|&j| j != i);
            let (above, below) = others.fold((0.0, 0.0), |(above, below), j| {
                (above + correlation(i, j) * lambda[j], below + lambda[j] * lambda[j])
            });
            lambda[i] = (above / below).clamp(-0.999_999, 0.999_999);
        }
        if before.iter().zip(&lambda).all(|(a, b)| (a - b).abs() < 1e-14) {
            break;
        }
    }
    let misfit = miss(&lambda);
    (lambda, misfit)
}

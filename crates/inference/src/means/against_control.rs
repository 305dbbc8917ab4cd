//! Every treatment against a control, judged together (Dunnett).

use crate::Estimate;
use crate::distribution::{Dunnett, Sides};
use crate::fit::MarginErrors;
use crate::matrix::Matrix;
use crate::plots::Plots;
use crate::terms::Margin;
use serde::{Deserialize, Serialize};

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
    /// The differences' own correlations and their one number of degrees of freedom.
    Exact,
    /// Their own correlations, but each comparison with its own degrees of freedom, for which no joint distribution exists.
    OwnDegreesOfFreedom,
    /// One difference follows from others, or there are more than a hundred: the nearest correlations of product form.
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
    let correlations = correlations(&differences_from(control, &others, &errors.adjusted));
    let exact = Dunnett::with_correlations(&correlations, Sides::Both);
    let one_df = estimates.iter().all(|it| (it.df - estimates[0].df).abs() <= 1e-9 * it.df);
    let method = match (&exact, one_df) {
        (None, _) => DunnettMethod::NearestProductForm,
        (Some(_), false) => DunnettMethod::OwnDegreesOfFreedom,
        (Some(_), true) => DunnettMethod::Exact,
    };
    let joint = exact.unwrap_or_else(|| Dunnett::nearest_product_form(&correlations, Sides::Both));
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
    Some(ControlTable { control: margins[control].levels.join(", "), comparisons: comparisons.collect(), method })
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

fn correlations(covariances: &Matrix) -> Matrix {
    let mut correlations = covariances.clone();
    for row in 0..covariances.rows {
        for column in 0..covariances.columns {
            correlations[(row, column)] /= (covariances[(row, row)] * covariances[(column, column)]).sqrt();
        }
    }
    correlations
}

//! A certified set.

use crate::golden::close;
use guardrow_inference::{CurveOptions, Form, PlotAmounts, curves_of_plots};

// Source: NIST Statistical Reference Datasets, nonlinear regression, set Rat42 (pasture regrowth; Ratkowsky 1983, pp. 61 and 88):
// y = b1 / (1 + exp(b2 - b3 x)). Data, certified estimates and residual sum of squares as listed in the Eigen library's tests
// (unsupported/test/NonLinearOptimization.cpp), certified errors as listed in the GNU Scientific Library's (multifit tests); the
// two agree in all they share. Certified to 11 digits.
#[test]
fn pasture_regrowth_is_logistic_from_zero() {
    let days = [9.0, 14.0, 21.0, 28.0, 42.0, 57.0, 63.0, 70.0, 79.0];
    let growth = [8.93, 10.80, 18.59, 22.33, 39.35, 56.11, 61.73, 64.62, 67.08];
    let (b1, b2, b3) = (7.2462237576E+01, 2.6180768402E+00, 6.7359200066E-02);
    let (se_b1, se_b3) = (1.7340283401E+00, 3.4465663377E-03);
    let plots =
        PlotAmounts { amount: days.map(Some).to_vec(), response: growth.map(Some).to_vec(), ..PlotAmounts::default() };
    let options = CurveOptions { forms: vec![Form::LogisticFromZero], ..CurveOptions::default() };
    let curves = curves_of_plots(&plots, &options).unwrap();
    let fit = &curves.groups[0].curves[0];
    let value = |index: usize| fit.parameters[index].value;
    close(value(0).estimate, b1, 1e-9, "b1");
    close(value(1).estimate, b2 / b3, 1e-9, "b2 / b3");
    close(value(2).estimate, 1.0 / b3, 1e-9, "1 / b3");
    close(value(0).se.unwrap(), se_b1, 1e-9, "error of b1");
    close(value(2).se.unwrap(), se_b3 / (b3 * b3), 1e-9, "error of 1 / b3");
    close(fit.squares, 8.0565229338E+00, 1e-9, "residual sum of squares");
    assert_eq!(value(0).df, Some(6.0));
}

//! Intervals of curves at single amounts, as they are drawn.
//!
//! Source: `tests/reference/response-curves/bands.R` with R 4.2.2.

use crate::golden::{Golden, close, number};
use crate::trial::{analysed, blocks, full, numbered};
use guardrow_inference::{CoursePoint, CurveOptions, Form, InferenceError, PlotAmounts, curves_of_plots};
use serde_json::Value;

fn drawn(form: Form, steps: usize) -> CurveOptions {
    CurveOptions { forms: vec![form], drawn_in: steps, ..CurveOptions::default() }
}

fn golden(key: &str) -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/response-curves/bands.json");
    let text = std::fs::read_to_string(path).expect("golden values of bands");
    serde_json::from_str::<Value>(&text).expect("golden values are JSON")[key].clone()
}

fn check(course: &[CoursePoint], key: &str) {
    let golden = golden(key);
    let rows = golden.as_array().expect("one row for each amount");
    assert_eq!(course.len(), rows.len());
    for (ours, row) in course.iter().zip(rows) {
        close(ours.amount, number(row, "amount"), 1e-12, "amount");
        close(ours.response.estimate, number(row, "value"), 1e-8, "value");
        close(ours.response.se.unwrap(), number(row, "se"), 1e-6, "error");
        for (bound, name) in [(ours.response.lower, "lower"), (ours.response.upper, "upper")] {
            if row.get(name).is_some() {
                close(bound.unwrap(), number(row, name), 1e-7, name);
            }
        }
    }
}

fn uneven(form: Form, key: &str) {
    let case = Golden::open_table("response-curves", "uneven.csv");
    let plots = PlotAmounts { amount: case.column("amount"), response: case.column("yield"), ..PlotAmounts::default() };
    let curves = curves_of_plots(&plots, &drawn(form, 4)).unwrap();
    check(&curves.groups[0].curve(form).unwrap().course, key);
}

#[test]
fn of_a_parabola_through_plots() {
    uneven(Form::Quadratic, "quadratic");
}

#[test]
fn of_an_exponential_through_plots() {
    uneven(Form::Exponential, "exponential");
}

#[test]
fn of_a_line_through_means_of_blocks_level_and_slope_with_their_own_errors() {
    let case = Golden::open_table("response-curves", "blocks.csv");
    let analysis = analysed(&blocks(&numbered(&case, "block"), &full(&case, "amount"), &full(&case, "plateau")));
    let curves = analysis.response_curves("rate", None, &[], &[], &drawn(Form::Linear, 4)).unwrap();
    check(&curves.groups[0].curve(Form::Linear).unwrap().course, "linear_of_blocks");
}

#[test]
fn the_join_is_a_point_of_the_course() {
    let case = Golden::open_table("response-curves", "blocks.csv");
    let analysis = analysed(&blocks(&numbered(&case, "block"), &full(&case, "amount"), &full(&case, "plateau")));
    let curves = analysis.response_curves("rate", None, &[], &[], &drawn(Form::LinearPlateau, 10)).unwrap();
    let fit = curves.groups[0].curve(Form::LinearPlateau).unwrap();
    let join = fit.parameters[2].value.estimate;
    assert_eq!(fit.course.len(), 12);
    assert!(fit.course.iter().any(|point| point.amount == join));
    assert!(fit.course.windows(2).all(|pair| pair[0].amount < pair[1].amount));
}

#[test]
fn more_steps_than_a_drawing_shows_are_refused() {
    let plots = PlotAmounts::default();
    let refused = curves_of_plots(&plots, &drawn(Form::Linear, 1001));
    assert!(matches!(refused, Err(InferenceError::Setting { .. })), "{refused:?}");
}

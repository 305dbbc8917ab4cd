//! Randomised blocks: a lost plot, and a covariate.

use crate::{factor, near, run};
use guardrow_design::{BlockStructure, TreatmentStructure};
use guardrow_inference::{Covariate, Experiment};
use proptest::prelude::*;

const BLOCKS: usize = 5;
const TREATMENTS: usize = 4;
const PLOTS: usize = BLOCKS * TREATMENTS;

fn blocks(values: &[f64]) -> Experiment {
    let unit = BlockStructure::unit;
    Experiment::new(
        unit("block").nest(unit("plot")),
        vec![("block".into(), (0..PLOTS).map(|plot| plot / TREATMENTS).collect())],
        TreatmentStructure { factors: vec![factor("a", TREATMENTS)], controls: Vec::new() },
        (0..PLOTS).map(|plot| plot % TREATMENTS).collect(),
        values.iter().map(|&value| Some(value)).collect(),
    )
}

fn values() -> impl Strategy<Value = Vec<f64>> {
    proptest::collection::vec(20.0..60.0_f64, PLOTS)
}

fn with_covariate(values: &[f64], covariate: &[f64]) -> Experiment {
    let values_of = covariate.iter().map(|&it| Some(it)).collect();
    let mut experiment = blocks(values);
    experiment.covariates = vec![Covariate { name: "x".into(), unit: None, values: values_of }];
    experiment
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 80, failure_persistence: None, ..ProptestConfig::default() })]

    // A lost plot put in at its least squares estimate leaves the means and the residual sum of squares as they are without it
    // (Yates 1933, from memory).
    #[test]
    fn lost_plots_at_their_estimates_give_the_least_squares_solution(
        values in values(),
        lost in proptest::collection::hash_set(0..PLOTS, 1..4)
    ) {
        let mut gaps = blocks(&values);
        lost.iter().for_each(|&plot| gaps.response[plot] = None);
        let Some(fixed) = run(&gaps).fixed_units else { return Ok(()) };
        let mut filled = gaps.clone();
        for estimate in &fixed.missing_plots {
            filled.response[estimate.plot] = Some(estimate.estimate);
        }
        prop_assert!(filled.response.iter().all(Option::is_some));
        let whole = run(&filled);
        let residual = whole.strata.as_ref().unwrap().stratum("plot").unwrap().row("residual").unwrap().clone();
        prop_assert!(near(residual.ss, fixed.residual_ms * fixed.residual_df, 1e-9));
        prop_assert_eq!(residual.df, fixed.residual_df + lost.len() as f64);
        for (a, b) in whole.tables[0].cells.iter().zip(&fixed.tables[0].cells) {
            prop_assert!(near(a.mean, b.mean, 1e-10));
        }
    }

    #[test]
    fn shifting_and_scaling_a_covariate_changes_its_slope_and_no_mean(
        values in values(),
        covariate in values(),
        shift in -1e3..1e3_f64,
        scale in 1e-2..1e2_f64
    ) {
        let other: Vec<f64> = covariate.iter().map(|it| scale * (it + shift)).collect();
        let (plain, changed) = (run(&with_covariate(&values, &covariate)), run(&with_covariate(&values, &other)));
        let slope = |analysis: &guardrow_inference::Analysis| analysis.covariates[0].slope.unwrap();
        prop_assert!(near(slope(&plain).t(), slope(&changed).t(), 1e-6));
        prop_assert!(near(slope(&plain).estimate, scale * slope(&changed).estimate, 1e-6));
        for (a, b) in plain.tables[0].pairs.iter().zip(&changed.tables[0].pairs) {
            prop_assert!((a.estimate - b.estimate).abs() < 1e-7 && near(a.se, b.se, 1e-7));
        }
        for (a, b) in plain.tests.iter().zip(&changed.tests) {
            prop_assert!(near(a.f, b.f, 1e-6));
        }
    }

    // Adding a multiple of the covariate to the response adds it to the slope and to nothing else.
    #[test]
    fn what_is_added_along_the_covariate_is_adjusted_away(values in values(), covariate in values(), slope in -5.0..5.0_f64) {
        let along: Vec<f64> = values.iter().zip(&covariate).map(|(y, x)| y + slope * x).collect();
        let (plain, changed) = (run(&with_covariate(&values, &covariate)), run(&with_covariate(&along, &covariate)));
        let of = |analysis: &guardrow_inference::Analysis| analysis.covariates[0].slope.unwrap();
        prop_assert!((of(&plain).estimate + slope - of(&changed).estimate).abs() < 1e-8);
        for (a, b) in plain.tests.iter().zip(&changed.tests) {
            prop_assert!((a.f - b.f).abs() < 1e-7 * (1.0 + a.f));
        }
    }
}

//! What must hold of any field.

use crate::case::{close, near};
use crate::trial::{invented, model, run};
use guardrow_inference::{Experiment, FieldPositions, FieldTrend};
use proptest::prelude::*;

fn permuted<T: Clone>(values: &[T], order: &[usize]) -> Vec<T> {
    order.iter().map(|&it| values[it].clone()).collect()
}

fn in_order(experiment: &Experiment, places: &FieldPositions, order: &[usize]) -> (Experiment, FieldPositions) {
    let mut other = experiment.clone();
    other.units.iter_mut().for_each(|(_, unit)| *unit = permuted(unit, order));
    other.treatment = permuted(&experiment.treatment, order);
    other.response = permuted(&experiment.response, order);
    (other, FieldPositions::new(permuted(&places.range, order), permuted(&places.pass, order)))
}

/// Compares what two analyses say of treatments; the second of values `scale` times as large.
fn check_same(one: &FieldTrend, other: &FieldTrend, scale: f64) {
    assert_eq!(one.models.chosen, other.models.chosen);
    for (a, b) in one.models.models.iter().zip(&other.models.models) {
        assert_eq!((&a.name, a.why_not.is_some()), (&b.name, b.why_not.is_some()));
        let (Some(a), Some(b)) = (&a.fitted, &b.fitted) else { continue };
        let constant = a.residual_df * scale.ln();
        near(b.reml_log_likelihood + constant, a.reml_log_likelihood, 1e-6, "log-likelihood");
    }
    for (a, b) in one.tables[0].pairs.iter().zip(&other.tables[0].pairs) {
        near(b.estimate / scale, a.estimate, 2e-4 * a.se, "difference");
        close(b.se / scale, a.se, 2e-4, "SED");
    }
}

fn orders() -> impl Strategy<Value = Vec<usize>> {
    Just((0..32).collect::<Vec<usize>>()).prop_shuffle()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_plots_does_not_matter(order in orders(), seed in 0..1000_u64) {
        let (experiment, places) = invented(seed, 0.7);
        let (other, there) = in_order(&experiment, &places, &order);
        check_same(&run(&experiment, &places), &run(&other, &there), 1.0);
    }

    #[test]
    fn shift_and_scale_carry_over(seed in 0..1000_u64, scale in 0.01..100.0_f64, shift in -1000.0..1000.0_f64) {
        let (experiment, places) = invented(seed, 0.7);
        let mut other = experiment.clone();
        other.response.iter_mut().flatten().for_each(|value| *value = shift + scale * *value);
        check_same(&run(&experiment, &places), &run(&other, &places), scale);
    }

    #[test]
    fn the_field_may_be_looked_at_from_any_corner(seed in 0..1000_u64) {
        let (experiment, places) = invented(seed, 0.7);
        let other = FieldPositions::new(
            places.range.iter().map(|it| 20 - it).collect(),
            places.pass.iter().map(|it| 9 - it).collect(),
        );
        check_same(&run(&experiment, &places), &run(&experiment, &other), 1.0);
    }

    #[test]
    fn levels_may_be_named_otherwise(seed in 0..1000_u64) {
        let (experiment, places) = invented(seed, 0.7);
        let mut other = experiment.clone();
        other.treatments.factors[0].levels.reverse();
        other.treatment.iter_mut().for_each(|it| *it = 7 - *it);
        let (one, other) = (run(&experiment, &places), run(&other, &places));
        assert_eq!(one.models.chosen, other.models.chosen);
        for cell in &one.tables[0].cells {
            let same = other.tables[0].cells.iter().find(|it| it.label == cell.label).unwrap();
            near(same.mean, cell.mean, 2e-4 * cell.se.unwrap(), &cell.label);
        }
    }
}

// The first model is the mixed model of the plain analysis, by another route.
#[test]
fn the_model_as_randomised_is_the_plain_mixed_model() {
    for seed in 0..20 {
        let (mut experiment, places) = invented(seed, 0.5);
        experiment.response[usize::try_from(seed).unwrap()] = None;
        let result = run(&experiment, &places);
        let (plain, first) = (&result.as_randomised, &result.models.models[0]);
        let mixed = plain.mixed.as_ref().unwrap();
        near(first.fitted.as_ref().unwrap().reml_log_likelihood, mixed.reml_log_likelihood, 1e-6, "log-likelihood");
        close(first.tests[0].f, plain.tests[0].f, 1e-5, "F");
        close(first.sed.unwrap().mean, plain.tables[0].sed.mean, 1e-5, "SED");
    }
}

// On ground whose plots have nothing in common, correlations are near zero and the model is close to plots without any.
#[test]
fn without_correlation_autoregression_is_the_plain_model() {
    let (mut experiment, places) = invented(4, 0.0);
    experiment.blocks = crate::trial::unit("plot");
    experiment.units.clear();
    let result = run(&experiment, &places);
    let (first, with) = (model(&result, "as randomised"), model(&result, "autoregression"));
    let (first, with) = (first.fitted.as_ref().unwrap(), with.fitted.as_ref().unwrap());
    assert!(with.reml_log_likelihood >= first.reml_log_likelihood - 1e-9);
    assert!(with.reml_log_likelihood - first.reml_log_likelihood < 4.0, "two correlations of nothing");
    assert_eq!(result.models.chosen, 0);
}

#[test]
fn a_plot_is_its_mean_its_ground_and_a_residual() {
    for seed in [3, 5, 8] {
        let (experiment, places) = invented(seed, 0.9);
        let result = run(&experiment, &places);
        for plot in &result.plots {
            let mean = result.tables[0].cells[experiment.treatment[plot.plot]].mean;
            near(mean + plot.ground + plot.residual, plot.value, 1e-9, "value");
        }
    }
}

/// Fields, found among the first thousand, on which Newton's steps press a variance that the likelihood lifts onto zero.
#[test]
fn searches_settle_where_newtons_steps_are_blocked() {
    for seed in [145, 343, 375, 402, 432, 475, 518, 732, 918, 932] {
        let (experiment, places) = invented(seed, 0.7);
        for model in run(&experiment, &places).models.models {
            let fit = model.fitted.unwrap_or_else(|| panic!("seed {seed}, {}: {:?}", model.name, model.why_not));
            assert!(fit.evidence.gradient.abs() < 1e-3, "seed {seed}, {}: {:?}", model.name, fit.evidence);
        }
    }
}

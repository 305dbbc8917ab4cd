//! What must hold of any season.

use crate::case::{Case, close, near};
use crate::trial::{model, read, run};
use guardrow_inference::{Occasions, Options, Repeated, analyse};
use proptest::prelude::*;

fn check_same(one: &Repeated, other: &Repeated, scale: f64) {
    assert_eq!(one.models.chosen, other.models.chosen);
    for (a, b) in one.models.models.iter().zip(&other.models.models) {
        let (a, b) = (a.fitted.as_ref().unwrap(), b.fitted.as_ref().unwrap());
        near(b.reml_log_likelihood + a.residual_df * scale.ln(), a.reml_log_likelihood, 1e-6, "log-likelihood");
    }
    for (a, b) in one.within_occasions.iter().zip(&other.within_occasions) {
        assert_eq!(a.at, b.at);
        for (a, b) in a.pairs.iter().zip(&b.pairs) {
            near(b.estimate / scale, a.estimate, 2e-4 * a.se, "difference");
            close(b.se / scale, a.se, 2e-4, "SED");
        }
    }
}

fn changed(occasions: &Occasions, change: impl Fn(f64) -> f64) -> Occasions {
    let mut other = occasions.clone();
    other.visits.iter_mut().flat_map(|it| it.response.iter_mut().flatten()).for_each(|it| *it = change(*it));
    other
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_plots_does_not_matter(order in Just((0..20).collect::<Vec<usize>>()).prop_shuffle()) {
        let (experiment, occasions) = read(&Case::open("repeated-measures"));
        let (mut there, mut then) = (experiment.clone(), occasions.clone());
        there.units[0].1 = order.iter().map(|&it| experiment.units[0].1[it]).collect();
        there.treatment = order.iter().map(|&it| experiment.treatment[it]).collect();
        for (visit, from) in then.visits.iter_mut().zip(&occasions.visits) {
            visit.response = order.iter().map(|&it| from.response[it]).collect();
        }
        check_same(&run(&experiment, &occasions), &run(&there, &then), 1.0);
    }

    #[test]
    fn shift_and_scale_carry_over(scale in 0.01..100.0_f64, shift in -1000.0..1000.0_f64) {
        let (experiment, occasions) = read(&Case::open("repeated-measures"));
        let other = changed(&occasions, |it| shift + scale * it);
        check_same(&run(&experiment, &occasions), &run(&experiment, &other), scale);
    }

    #[test]
    fn days_may_be_counted_from_any_day_in_any_unit(start in -500.0..500.0_f64, unit in 0.1..24.0_f64) {
        let (experiment, occasions) = read(&Case::open("repeated-measures"));
        let mut other = occasions.clone();
        other.visits.iter_mut().for_each(|it| it.day = it.day.map(|day| start + unit * day));
        check_same(&run(&experiment, &occasions), &run(&experiment, &other), 1.0);
    }
}

// Where plots have nothing in common over time, blocks the same, the first model is the analysis of a factorial in one larger trial.
#[test]
fn independent_errors_are_the_plain_mixed_model_of_all_values() {
    let (experiment, occasions) = read(&Case::open("repeated-measures"));
    let result = run(&experiment, &occasions);
    let independent = model(&result, "independent");
    let mut long = experiment.clone();
    let visits = occasions.visits.len();
    let levels = |it: &usize| guardrow_design::Level { label: format!("{it}"), amount: None };
    let visit = guardrow_design::Factor {
        name: "visit".into(),
        scale: guardrow_design::Scale::Qualitative,
        levels: (0..visits).collect::<Vec<_>>().iter().map(levels).collect(),
    };
    long.treatments.factors.push(visit);
    long.units[0].1 = experiment.units[0].1.repeat(visits);
    long.treatment = (0..visits).flat_map(|at| experiment.treatment.iter().map(move |it| it * visits + at)).collect();
    long.response = occasions.visits.iter().flat_map(|it| it.response.clone()).collect();
    let plain = analyse(&long, &Options::default()).unwrap();
    let mixed = plain.mixed.as_ref().unwrap();
    let fitted = independent.fitted.as_ref().unwrap();
    near(fitted.reml_log_likelihood, mixed.reml_log_likelihood, 1e-6, "log-likelihood");
    let test = |label: &str| independent.tests.iter().find(|it| it.label == label).unwrap().f;
    close(test("treatment"), plain.test(&["treatment"]).unwrap().f, 1e-5, "F");
    close(test("occasion x treatment"), plain.test(&["treatment", "visit"]).unwrap().f, 1e-5, "F");
}

#[test]
fn the_plain_analyses_stand_beside() {
    let (experiment, occasions) = read(&Case::open("repeated-measures"));
    let result = run(&experiment, &occasions);
    assert_eq!(result.by_occasion.len(), 5);
    let mut alone = experiment.clone();
    alone.response = occasions.visits[3].response.clone();
    let expected = analyse(&alone, &Options::default()).unwrap();
    assert_eq!(result.by_occasion[3].analysis.as_ref(), Some(&expected));
    let mean = result.season_mean.analysis.as_ref().unwrap();
    assert_eq!(mean.plots_used + result.season_mean.plots_left_out.len(), 20);
    assert!(!result.season_mean.plots_left_out.is_empty(), "seven values are lost");
}

#[test]
fn controls_beside_a_factorial_meet_every_occasion() {
    let (mut experiment, occasions) = read(&Case::open("repeated-measures"));
    let last = experiment.treatments.factors[0].levels.pop().unwrap();
    experiment.treatments.controls = vec![guardrow_design::Control { label: last.label, plots_per_replicate: 1 }];
    let result = run(&experiment, &occasions);
    let (whole, occasions) = read(&Case::open("repeated-measures"));
    let whole = run(&whole, &occasions);
    assert_eq!(result.models.chosen, whole.models.chosen);
    for (a, b) in result.within_occasions.iter().zip(&whole.within_occasions) {
        near(a.test.unwrap().f, b.test.unwrap().f, 1e-6 * b.test.unwrap().f, "F within an occasion");
    }
    assert!(result.tests.iter().any(|it| it.label == "occasion x controls and factorial"));
}

//! Several places, whatever the scope.

use crate::{factor, near, reordered, run, same_tests};
use guardrow_design::{BlockStructure, TreatmentStructure};
use guardrow_inference::{Experiment, Method, Options, Scope, analyse};
use proptest::prelude::*;

const SITES: usize = 4;
const BLOCKS: usize = 3;
const TREATMENTS: usize = 4;
const PLOTS: usize = SITES * BLOCKS * TREATMENTS;

fn at_sites(values: &[f64], lost: &[usize], scope: Scope) -> Experiment {
    let unit = BlockStructure::unit;
    let response = values.iter().enumerate().map(|(plot, &value)| (!lost.contains(&plot)).then_some(value));
    let mut experiment = Experiment::new(
        unit("site").nest(unit("block").nest(unit("plot"))),
        vec![
            ("site".into(), (0..PLOTS).map(|plot| plot / (BLOCKS * TREATMENTS)).collect()),
            ("block".into(), (0..PLOTS).map(|plot| plot / TREATMENTS % BLOCKS).collect()),
        ],
        TreatmentStructure { factors: vec![factor("a", TREATMENTS)], controls: Vec::new() },
        (0..PLOTS).map(|plot| plot % TREATMENTS).collect(),
        response.collect(),
    );
    (experiment.environments, experiment.scope) = (vec!["site".into()], scope);
    experiment
}

fn values() -> impl Strategy<Value = Vec<f64>> {
    let effects = |count| proptest::collection::vec(-1.0..1.0_f64, count);
    (effects(SITES), effects(SITES * TREATMENTS), effects(SITES * BLOCKS), effects(PLOTS)).prop_map(
        |(site, interaction, block, plot)| {
            let value = |it: usize| {
                let site_of = it / (BLOCKS * TREATMENTS);
                let treatment = it % TREATMENTS;
                let units = 9.0 * site[site_of] + 4.0 * interaction[site_of * TREATMENTS + treatment];
                50.0 + units + 3.0 * block[it / TREATMENTS] + plot[it] + treatment as f64
            };
            (0..PLOTS).map(value).collect()
        },
    )
}

fn scope() -> impl Strategy<Value = Scope> {
    prop_oneof![Just(Scope::TheseEnvironments), Just(Scope::EnvironmentsLikeThese)]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_rows_does_not_matter(
        values in values(),
        scope in scope(),
        lost in proptest::collection::vec(0..PLOTS, 0..4),
        order in Just((0..PLOTS).collect::<Vec<_>>()).prop_shuffle()
    ) {
        let experiment = at_sites(&values, &lost, scope);
        let (plain, mixed_up) = (run(&experiment), run(&reordered(&experiment, &order)));
        let pairs = |analysis: &guardrow_inference::Analysis| {
            let table = analysis.table(&["a"]).cloned();
            table.map(|table| table.pairs.iter().map(|pair| (pair.estimate, pair.se)).collect::<Vec<_>>())
        };
        let by_label = |tests: &[guardrow_inference::TermTest]| {
            let mut tests = tests.to_vec();
            tests.sort_by(|a, b| a.label.cmp(&b.label));
            tests
        };
        prop_assert!(same_tests(&by_label(&plain.tests), &by_label(&mixed_up.tests), 1e-5), "{:?} {:?}", plain.tests, mixed_up.tests);
        for (a, b) in pairs(&plain).unwrap_or_default().iter().zip(pairs(&mixed_up).unwrap_or_default()) {
            prop_assert!((a.0 - b.0).abs() < 1e-5 && near(a.1, b.1, 1e-5));
        }
    }

    #[test]
    fn strata_and_mixed_model_agree_inside_the_boundary(values in values(), scope in scope()) {
        let analysis = run(&at_sites(&values, &[], scope));
        if !analysis.mixed.as_ref().unwrap().evidence.singular {
            prop_assert!(same_tests(&analysis.tests, &analysis.other_tests, 1e-6), "{:?} {:?}", analysis.tests, analysis.other_tests);
        }
    }

    #[test]
    fn a_difference_is_the_same_whichever_the_scope_and_its_error_is_not(values in values()) {
        let weights = [1.0, -1.0, 0.0, 0.0];
        let of = |scope| run(&at_sites(&values, &[], scope)).contrast(&weights).unwrap();
        let (these, like_these) = (of(Scope::TheseEnvironments), of(Scope::EnvironmentsLikeThese));
        prop_assert!(near(these.estimate, like_these.estimate, 1e-10));
        let plots = (SITES * (BLOCKS - 1) * (TREATMENTS - 1)) as f64;
        prop_assert_eq!((these.df, like_these.df), (plots, ((SITES - 1) * (TREATMENTS - 1)) as f64));
    }

    #[test]
    fn predictions_follow_their_labels(values in values(), order in Just((0..TREATMENTS).collect::<Vec<_>>()).prop_shuffle()) {
        let mut experiment = at_sites(&values, &[], Scope::EnvironmentsLikeThese);
        experiment.random_factors = vec!["a".into()];
        let mut renamed = experiment.clone();
        let levels = experiment.treatments.factors[0].levels.clone();
        renamed.treatments.factors[0].levels = order.iter().map(|&it| levels[it].clone()).collect();
        let place = |level: &usize| order.iter().position(|it| it == level).unwrap();
        renamed.treatment = experiment.treatment.iter().map(place).collect();
        let options = Options { method: Method::Mixed, ..Options::default() };
        let (plain, other) = (analyse(&experiment, &options).unwrap(), analyse(&renamed, &options).unwrap());
        let find = |analysis: &guardrow_inference::Analysis| {
            analysis.predictions.iter().find(|table| table.label == "a").cloned()
        };
        let (Some(plain), Some(other)) = (find(&plain), find(&other)) else { return Ok(()) };
        for row in &plain.rows {
            let twin = other.rows.iter().find(|it| it.label == row.label).unwrap();
            prop_assert!((row.effect - twin.effect).abs() < 1e-5 && (row.prediction_se - twin.prediction_se).abs() < 1e-5);
        }
    }
}

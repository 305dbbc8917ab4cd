//! What must hold for every data set: the analysis depends on the values and the layout, not on how they are written down.

mod blocks;
mod places;

use guardrow_design::{BlockStructure, Factor, Level, Scale, TreatmentStructure};
use guardrow_inference::{Analysis, Experiment, Lead, Notice, Options, TermTest, analyse};
use proptest::prelude::*;

const BLOCKS: usize = 4;
const A: usize = 3;
const B: usize = 3;
const PLOTS: usize = BLOCKS * A * B;

fn factor(name: &str, levels: usize) -> Factor {
    let levels = (1..=levels).map(|level| Level { label: format!("{name}{level}"), amount: None }).collect();
    Factor { name: name.into(), scale: Scale::Qualitative, levels }
}

/// A split-plot with these values; those in `lost` are missing.
fn split_plot(values: &[f64], lost: &[usize]) -> Experiment {
    let unit = BlockStructure::unit;
    let response = values.iter().enumerate().map(|(plot, &value)| (!lost.contains(&plot)).then_some(value));
    Experiment::new(
        unit("block").nest(unit("main plot").nest(unit("plot"))),
        vec![
            ("block".into(), (0..PLOTS).map(|plot| plot / (A * B)).collect()),
            ("main plot".into(), (0..PLOTS).map(|plot| plot / B % A).collect()),
        ],
        TreatmentStructure { factors: vec![factor("a", A), factor("b", B)], controls: Vec::new() },
        (0..PLOTS).map(|plot| plot % (A * B)).collect(),
        response.collect(),
    )
}

/// The same plots in another order.
fn reordered(experiment: &Experiment, order: &[usize]) -> Experiment {
    Experiment {
        units: experiment
            .units
            .iter()
            .map(|(unit, labels)| (unit.clone(), order.iter().map(|&plot| labels[plot]).collect()))
            .collect(),
        treatment: order.iter().map(|&plot| experiment.treatment[plot]).collect(),
        response: order.iter().map(|&plot| experiment.response[plot]).collect(),
        ..experiment.clone()
    }
}

fn run(experiment: &Experiment) -> Analysis {
    analyse(experiment, &Options::default()).expect("random values can be analysed")
}

fn values() -> impl Strategy<Value = Vec<f64>> {
    // units, main plots and blocks get their own variation, so that components are mostly inside their range
    let effects = |count| proptest::collection::vec(-1.0..1.0_f64, count);
    (effects(BLOCKS), effects(BLOCKS * A), effects(PLOTS)).prop_map(|(block, main, plot)| {
        (0..PLOTS)
            .map(|it| 50.0 + 6.0 * block[it / (A * B)] + 4.0 * main[it / B] + plot[it] + (it % B) as f64)
            .collect()
    })
}

fn lost() -> impl Strategy<Value = Vec<usize>> {
    proptest::collection::vec(0..PLOTS, 0..5)
}

fn near(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * a.abs().max(b.abs()).max(1e-9)
}

fn same_tests(a: &[TermTest], b: &[TermTest], relative: f64) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| near(a.f, b.f, relative) && near(a.den_df, b.den_df, relative))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_rows_does_not_matter(values in values(), lost in lost(), order in Just((0..PLOTS).collect::<Vec<_>>()).prop_shuffle()) {
        let experiment = split_plot(&values, &lost);
        let (one, other) = (run(&experiment), run(&reordered(&experiment, &order)));
        prop_assert!(same_tests(&one.tests, &other.tests, 1e-6), "{:?} {:?}", one.tests, other.tests);
        prop_assert!(one.tables.iter().zip(&other.tables).all(|(a, b)| near(a.sed.mean, b.sed.mean, 1e-6)));
        prop_assert_eq!(one.lead, other.lead);
    }

    #[test]
    fn the_labels_of_units_do_not_matter(values in values(), lost in lost(), shift in 1_usize..1000) {
        let experiment = split_plot(&values, &lost);
        let mut relabelled = experiment.clone();
        relabelled.units.iter_mut().for_each(|(_, labels)| labels.iter_mut().for_each(|label| *label = (100 - *label) * shift));
        prop_assert!(same_tests(&run(&experiment).tests, &run(&relabelled).tests, 1e-6));
    }

    #[test]
    fn the_order_of_levels_does_not_matter(values in values(), lost in lost()) {
        let experiment = split_plot(&values, &lost);
        let mut turned = experiment.clone();
        turned.treatments.factors[0].levels.reverse();
        turned.treatment.iter_mut().for_each(|it| *it = (A - 1 - *it / B) * B + *it % B);
        prop_assert!(same_tests(&run(&experiment).tests, &run(&turned).tests, 1e-6));
    }

    #[test]
    fn shifting_and_scaling_carry_over(values in values(), lost in lost(), shift in -1e4..1e4_f64, scale in 1e-3..1e3_f64) {
        let plain = run(&split_plot(&values, &lost));
        let moved: Vec<f64> = values.iter().map(|value| scale * (value + shift)).collect();
        let moved = run(&split_plot(&moved, &lost));
        prop_assert!(same_tests(&plain.tests, &moved.tests, 1e-5));
        for (a, b) in plain.tables.iter().zip(&moved.tables) {
            prop_assert!(near(scale * a.sed.max, b.sed.max, 1e-6));
            for (a, b) in a.cells.iter().zip(&b.cells) {
                prop_assert!((scale * (a.mean + shift) - b.mean).abs() <= 1e-7 * scale * (shift.abs() + 50.0));
            }
        }
    }

    #[test]
    fn sums_of_squares_and_degrees_of_freedom_add_up(values in values()) {
        let analysis = run(&split_plot(&values, &[]));
        let mean = values.iter().sum::<f64>() / PLOTS as f64;
        let total: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
        let strata = analysis.strata.unwrap();
        let rows = || strata.strata.iter().flat_map(|stratum| &stratum.rows);
        prop_assert!(near(rows().map(|row| row.ss).sum(), total, 1e-10));
        prop_assert_eq!(rows().map(|row| row.df).sum::<f64>(), (PLOTS - 1) as f64);
    }

    #[test]
    fn strata_and_mixed_model_agree_when_nothing_is_missing_and_no_variance_is_at_zero(values in values()) {
        let analysis = run(&split_plot(&values, &[]));
        prop_assert_eq!(analysis.lead, Lead::Strata);
        let singular = analysis.mixed.as_ref().unwrap().evidence.singular;
        if singular {
            let is_said = analysis.notices.iter().any(|it| matches!(it, Notice::VarianceAtZero { .. }));
            prop_assert!(is_said);
        } else {
            prop_assert!(same_tests(&analysis.tests, &analysis.other_tests, 1e-6), "{:?} {:?}", analysis.tests, analysis.other_tests);
            prop_assert_eq!(analysis.difference_between_methods, None);
        }
    }

    #[test]
    fn a_difference_is_the_same_by_table_and_by_contrast(values in values(), lost in lost()) {
        let analysis = run(&split_plot(&values, &lost));
        let Some(table) = analysis.table(&["a", "b"]) else { return Ok(()) };
        for pair in table.pairs.iter().step_by(5).filter(|_| table.cells.len() == A * B) {
            let mut weights = vec![0.0; A * B];
            (weights[pair.a], weights[pair.b]) = (1.0, -1.0);
            let estimate = analysis.contrast(&weights).unwrap();
            prop_assert!(near(estimate.se, pair.se, 1e-12) && near(estimate.df, pair.df, 1e-9));
            prop_assert!((estimate.estimate - (table.cells[pair.a].mean - table.cells[pair.b].mean)).abs() < 1e-9);
        }
    }

    #[test]
    fn residuals_add_to_the_values(values in values(), lost in lost()) {
        let analysis = run(&split_plot(&values, &lost));
        prop_assert_eq!(analysis.residuals.len(), analysis.plots_used);
        for it in &analysis.residuals {
            prop_assert!(near(it.fitted + it.residual, values[it.plot], 1e-12));
        }
    }

    #[test]
    fn heavy_losses_end_in_an_error_or_in_sound_numbers(values in values(), lost in proptest::collection::vec(0..PLOTS, 5..40)) {
        match analyse(&split_plot(&values, &lost), &Options::default()) {
            Err(error) => prop_assert!(!error.help().is_empty()),
            Ok(analysis) => check_sound(&analysis)?,
        }
    }
}

fn check_sound(analysis: &Analysis) -> Result<(), TestCaseError> {
    for test in analysis.tests.iter().chain(&analysis.other_tests) {
        prop_assert!(
            test.f >= 0.0 && test.f.is_finite() && test.den_df > 0.0 && (0.0..=1.0).contains(&test.p),
            "{:?}",
            test
        );
    }
    let fixed = analysis.fixed_units.iter().flat_map(|it| &it.tables);
    for table in analysis.tables.iter().chain(fixed) {
        for pair in &table.pairs {
            prop_assert!(pair.se > 0.0 && pair.se.is_finite() && pair.df > 0.0, "{:?}", pair);
            prop_assert!((0.0..=1.0).contains(&pair.p) && (0.0..=1.0).contains(&pair.p_tukey), "{:?}", pair);
            prop_assert!(pair.lower <= pair.estimate && pair.estimate <= pair.upper, "{:?}", pair);
        }
        prop_assert!(table.cells.iter().all(|cell| cell.mean.is_finite() && cell.se.is_none_or(|se| se > 0.0)));
    }
    let mixed = analysis.mixed.iter().flat_map(|it| &it.components);
    prop_assert!(
        mixed.into_iter().all(|it| it.variance >= 0.0 && it.variance.is_finite() && it.at_zero == (it.variance == 0.0))
    );
    Ok(())
}

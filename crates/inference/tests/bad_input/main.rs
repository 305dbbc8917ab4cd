//! Data that a person may well bring: each is met with a named error or notice, never a panic or a number without meaning.

mod covariates;
mod empty_cells;
mod nasty;
mod places;

use guardrow_design::{BlockStructure, Control, Factor, Level, Scale, TreatmentStructure};
use guardrow_inference::{Analysis, Experiment, InferenceError, Lead, Notice, Options, analyse};

fn factor(name: &str, levels: usize) -> Factor {
    let levels = (1..=levels).map(|level| Level { label: format!("{name}{level}"), amount: None }).collect();
    Factor { name: name.into(), scale: Scale::Qualitative, levels }
}

/// A factor with amounts 0, 10, 20, ...
fn factor_with_amounts(name: &str, levels: usize) -> Factor {
    let amounts: Vec<f64> = (0..levels).map(|level| 10.0 * level as f64).collect();
    Factor::quantitative(name, "kg/ha", &amounts)
}

fn structure(factors: &[(&str, usize)]) -> TreatmentStructure {
    TreatmentStructure {
        factors: factors.iter().map(|&(name, levels)| factor(name, levels)).collect(),
        controls: Vec::new(),
    }
}

/// Values without pattern, the same on every run.
fn value(index: usize) -> f64 {
    10.0 + ((index * 7919 + 13) % 101) as f64 / 10.0
}

fn completely_random(treatments: usize, replicates: usize) -> Experiment {
    let treatment: Vec<usize> = (0..treatments * replicates).map(|plot| plot % treatments).collect();
    let response = (0..treatment.len()).map(|plot| Some(value(plot))).collect();
    Experiment::new(BlockStructure::unit("plot"), Vec::new(), structure(&[("a", treatments)]), treatment, response)
}

fn randomised_blocks(treatments: usize, blocks: usize) -> Experiment {
    Experiment {
        blocks: BlockStructure::unit("block").nest(BlockStructure::unit("plot")),
        units: vec![("block".into(), (0..treatments * blocks).map(|plot| plot / treatments).collect())],
        ..completely_random(treatments, blocks)
    }
}

/// `blocks` x `a` main plots x `b` subplots.
fn split_plot(blocks: usize, a: usize, b: usize) -> Experiment {
    let plots = blocks * a * b;
    let unit = BlockStructure::unit;
    Experiment::new(
        unit("block").nest(unit("main plot").nest(unit("plot"))),
        vec![
            ("block".into(), (0..plots).map(|plot| plot / (a * b)).collect()),
            ("main plot".into(), (0..plots).map(|plot| plot / b % a).collect()),
        ],
        structure(&[("a", a), ("b", b)]),
        (0..plots).map(|plot| plot % (a * b)).collect(),
        (0..plots).map(|plot| Some(value(plot))).collect(),
    )
}

fn run(experiment: &Experiment) -> Result<Analysis, InferenceError> {
    let analysis = analyse(experiment, &Options::default());
    if let Ok(analysis) = &analysis {
        check_numbers(analysis);
    }
    if let Err(error) = &analysis {
        assert!(!error.help().is_empty() && !error.to_string().is_empty());
    }
    analysis
}

/// Every number that is given is a number, every p a probability.
fn check_numbers(analysis: &Analysis) {
    let json = serde_json::to_value(analysis).unwrap();
    let back: Analysis = serde_json::from_value(json).expect("no number was lost on the way");
    assert_eq!(back.tests, analysis.tests);
    for test in analysis.tests.iter().chain(&analysis.other_tests) {
        assert!((0.0..=1.0).contains(&test.p) && test.f >= 0.0 && test.den_df > 0.0, "{test:?}");
    }
    for pair in analysis.tables.iter().flat_map(|table| &table.pairs) {
        assert!((0.0..=1.0).contains(&pair.p) && (0.0..=1.0).contains(&pair.p_tukey) && pair.se > 0.0, "{pair:?}");
        assert!(pair.p_tukey >= pair.p - 1e-9, "{pair:?}");
    }
    for notice in &analysis.notices {
        assert!(notice.sentence().ends_with('.'), "{notice:?}");
    }
}

fn change(mut experiment: Experiment, change: impl FnOnce(&mut Experiment)) -> Experiment {
    change(&mut experiment);
    experiment
}

#[test]
fn a_constant_response_is_refused() {
    let flat = change(randomised_blocks(4, 3), |it| it.response = vec![Some(0.1 + 0.2); 12]);
    assert_eq!(run(&flat), Err(InferenceError::ConstantResponse { value: 0.1 + 0.2 }));
}

#[test]
fn plots_treated_alike_that_never_differ_are_refused() {
    let copied =
        change(completely_random(4, 3), |it| it.response = (0..12).map(|plot| Some(0.1 * (plot % 4) as f64)).collect());
    assert_eq!(run(&copied), Err(InferenceError::NoVariation));
    let additive = |plot: usize| Some(1.1 * (plot % 4) as f64 + 0.7 * (plot / 4) as f64);
    let exact = change(randomised_blocks(4, 3), |it| it.response = (0..12).map(additive).collect());
    assert_eq!(run(&exact), Err(InferenceError::NoVariation));
}

#[test]
fn one_replicate_leaves_no_error() {
    assert_eq!(run(&completely_random(5, 1)), Err(InferenceError::NoErrorDegreesOfFreedom { plots: 5, parameters: 5 }));
    assert!(matches!(run(&randomised_blocks(5, 1)), Err(InferenceError::NoErrorDegreesOfFreedom { .. })));
    assert!(matches!(run(&split_plot(1, 3, 4)), Err(InferenceError::NoErrorDegreesOfFreedom { .. })));
}

#[test]
fn values_that_are_no_numbers_name_their_plot() {
    for odd in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let experiment = change(completely_random(3, 3), |it| it.response[4] = Some(odd));
        assert!(matches!(run(&experiment), Err(InferenceError::NotFinite { plot: 4, .. })));
    }
    let huge = change(completely_random(3, 3), |it| it.response[7] = Some(1e300));
    assert_eq!(run(&huge), Err(InferenceError::TooLarge { plot: 7, value: 1e300 }));
}

#[test]
fn very_large_and_very_small_values_are_analysed_alike() {
    let plain = run(&split_plot(4, 3, 4)).unwrap();
    for scale in [1e-50, 1e-6, 1e6, 1e50] {
        let scaled =
            change(split_plot(4, 3, 4), |it| it.response.iter_mut().flatten().for_each(|value| *value *= scale));
        let scaled = run(&scaled).unwrap();
        for (a, b) in plain.tests.iter().zip(&scaled.tests) {
            assert!((a.f / b.f - 1.0).abs() < 1e-9, "{scale:e}: {a:?} {b:?}");
        }
    }
}

#[test]
fn differences_too_small_to_square_are_refused() {
    let tiny =
        change(completely_random(3, 3), |it| it.response.iter_mut().flatten().for_each(|value| *value *= 1e-200));
    assert!(matches!(run(&tiny), Err(InferenceError::TooSmall { .. })));
}

#[test]
fn no_values_or_one_treatment_are_refused() {
    let empty = change(completely_random(3, 3), |it| it.response = vec![None; 9]);
    assert_eq!(run(&empty), Err(InferenceError::NoValues));
    let one = change(completely_random(3, 3), |it| {
        (0..9).filter(|plot| plot % 3 != 1).for_each(|plot| it.response[plot] = None)
    });
    assert_eq!(run(&one), Err(InferenceError::OneTreatment));
}

#[test]
fn lists_of_the_wrong_length_are_refused() {
    let short = change(completely_random(3, 3), |it| it.treatment.truncate(5));
    assert!(matches!(run(&short), Err(InferenceError::Length { found: 5, expected: 9, .. })));
    let short = change(randomised_blocks(3, 3), |it| it.units[0].1.truncate(5));
    assert!(matches!(run(&short), Err(InferenceError::Length { found: 5, expected: 9, .. })));
}

#[test]
fn unknown_treatments_and_units_are_refused() {
    let strange = change(completely_random(3, 3), |it| it.treatment[2] = 9);
    assert_eq!(run(&strange), Err(InferenceError::UnknownTreatment { plot: 2, treatment: 9, treatments: 3 }));
    let without = change(randomised_blocks(3, 3), |it| it.units.clear());
    assert_eq!(run(&without), Err(InferenceError::UnitNotGiven { unit: "block".into() }));
    let misnamed = change(randomised_blocks(3, 3), |it| it.units[0].0 = "blok".into());
    assert_eq!(run(&misnamed), Err(InferenceError::UnknownUnit { unit: "blok".into() }));
    let twice = change(randomised_blocks(3, 3), |it| it.units.push(("plot".into(), vec![1; 9])));
    assert_eq!(run(&twice), Err(InferenceError::PlotsShareUnit { first: 0, second: 1, stratum: "plot".into() }));
    let only_controls = change(completely_random(3, 3), |it| {
        it.treatments.factors.clear();
        it.treatments.controls = vec![Control { label: "none".into(), plots_per_replicate: 1 }];
    });
    assert_eq!(run(&only_controls), Err(InferenceError::NoFactor));
}

#[test]
fn levels_outside_their_range_are_refused() {
    for level in [0.0, 0.5, -0.1, f64::NAN] {
        let found = analyse(&completely_random(3, 3), &Options { level, ..Options::default() });
        assert!(matches!(found, Err(InferenceError::Setting { .. })));
    }
}

#[test]
fn all_plots_of_a_main_plot_lost_is_said_and_analysed() {
    let lost = change(split_plot(4, 3, 4), |it| it.response[4..8].fill(None));
    let analysis = run(&lost).unwrap();
    assert_eq!(analysis.lead, Lead::Mixed);
    assert!(analysis.notices.contains(&Notice::UnitLost { stratum: "main plot".into(), units: 1 }));
    assert!(analysis.notices.contains(&Notice::NotOrthogonal));
    assert_eq!(analysis.tests.len(), 3);
}

#[test]
fn a_whole_block_lost_leaves_the_layout_orthogonal() {
    let lost = change(split_plot(4, 3, 4), |it| it.response[12..24].fill(None));
    let analysis = run(&lost).unwrap();
    assert_eq!((analysis.lead, analysis.orthogonal, analysis.plots_used), (Lead::Strata, true, 36));
    assert_eq!(analysis.tests[0].den_df, 4.0);
}

#[test]
fn an_empty_combination_is_named_and_the_rest_is_analysed() {
    // combination 5 (a2, b2) is lost everywhere
    let lost = change(split_plot(4, 3, 4), |it| {
        (0..48).filter(|plot| it.treatment[*plot] == 5).for_each(|plot| it.response[plot] = None);
    });
    let analysis = run(&lost).unwrap();
    assert!(analysis.notices.contains(&Notice::TreatmentWithoutValues { treatment: "a2, b2".into() }));
    assert!(analysis.notices.contains(&Notice::MeanNotEstimable { table: "a".into(), cell: "a2".into() }));
    let part = |term: &str, df: f64, full_df: f64| Notice::TestedInPart { term: term.into(), df, full_df };
    assert!(analysis.notices.contains(&part("a", 1.0, 2.0)), "{:?}", analysis.notices);
    assert!(analysis.notices.contains(&part("a x b", 5.0, 6.0)), "{:?}", analysis.notices);
    let mut weights = vec![0.0; 12];
    (weights[0], weights[5]) = (1.0, -1.0);
    assert_eq!(analysis.contrast(&weights), Err(InferenceError::NotEstimable { treatment: "a2, b2".into() }));
}

#[test]
fn more_parameters_than_plots_is_refused() {
    let sparse = change(split_plot(2, 3, 4), |it| it.response[12..].fill(None));
    assert_eq!(run(&sparse), Err(InferenceError::NoErrorDegreesOfFreedom { plots: 12, parameters: 12 }));
}

#[test]
fn blocks_that_are_treatments_are_said_to_be_inseparable() {
    // every block holds one treatment only: differences between treatments are differences between blocks
    let confounded = change(randomised_blocks(3, 6), |it| it.treatment = (0..18).map(|plot| plot / 3 % 3).collect());
    let analysis = run(&confounded).unwrap();
    let table = analysis.strata.unwrap();
    assert!(table.stratum("block").unwrap().row("a").is_some(), "{table:?}");
    let nothing_left = change(randomised_blocks(3, 3), |it| it.treatment = (0..9).map(|plot| plot / 3).collect());
    let analysis = run(&nothing_left).unwrap();
    assert!(
        analysis.notices.contains(&Notice::NoErrorDegreesOfFreedom { stratum: "block".into() }),
        "{:?}",
        analysis.notices
    );
    assert!(analysis.tests.is_empty() && analysis.tables[0].pairs.is_empty() && analysis.tables[0].letters.is_none());
    assert_eq!(analysis.contrast(&[1.0, -1.0, 0.0]), Err(InferenceError::NoErrorInStratum { stratum: "block".into() }));
}

#[test]
fn one_block_is_left_out_of_the_model() {
    let one = change(completely_random(3, 4), |it| {
        it.blocks = BlockStructure::unit("block").nest(BlockStructure::unit("plot"));
        it.units = vec![("block".into(), vec![7; 12])];
    });
    let analysis = run(&one).unwrap();
    assert!(analysis.notices.contains(&Notice::OneUnit { stratum: "block".into() }));
    assert_eq!(analysis.tests, run(&completely_random(3, 4)).unwrap().tests);
}

#[test]
fn contrasts_with_odd_weights_are_refused() {
    let analysis = run(&completely_random(3, 3)).unwrap();
    for weights in [vec![1.0, -1.0], vec![0.0; 3], vec![1.0, f64::NAN, 0.0], vec![f64::INFINITY, 0.0, 0.0]] {
        assert!(matches!(analysis.contrast(&weights), Err(InferenceError::Weights { expected: 3, .. })), "{weights:?}");
    }
    let back: Analysis = serde_json::from_str(&serde_json::to_string(&analysis).unwrap()).unwrap();
    assert_eq!(back.contrast(&[1.0, -1.0, 0.0]), Err(InferenceError::FitNotKept));
    let estimate = analysis.contrast(&[1.0, -1.0, 0.0]).unwrap();
    assert!(matches!(estimate.equivalence(-1.0, 0.05), Err(InferenceError::Setting { .. })));
    assert!(matches!(analysis.trend("a", 2), Err(InferenceError::NotQuantitative { .. })));
}

//! Places, seasons and samples that do not fit the layout.

use crate::{change, completely_random, factor, randomised_blocks, run, value};
use guardrow_design::{BlockStructure, TreatmentStructure};
use guardrow_inference::{Experiment, InferenceError, Lead, Notice, Scope};

/// `sites` x `blocks` x `treatments`.
fn at_sites(sites: usize, blocks: usize, treatments: usize) -> Experiment {
    let unit = BlockStructure::unit;
    let per_site = blocks * treatments;
    let mut experiment = Experiment::new(
        unit("site").nest(unit("block").nest(unit("plot"))),
        vec![
            ("site".into(), (0..sites * per_site).map(|plot| plot / per_site).collect()),
            ("block".into(), (0..sites * per_site).map(|plot| plot / treatments % blocks).collect()),
        ],
        TreatmentStructure { factors: vec![factor("a", treatments)], controls: Vec::new() },
        (0..sites * per_site).map(|plot| plot % treatments).collect(),
        (0..sites * per_site).map(|plot| Some(value(plot))).collect(),
    );
    experiment.environments = vec!["site".into()];
    experiment
}

#[test]
fn places_that_are_no_units_are_refused() {
    for name in ["farm", "plot"] {
        let odd = change(at_sites(2, 3, 3), |it| it.environments = vec![name.into()]);
        assert_eq!(run(&odd), Err(InferenceError::UnknownEnvironment { unit: name.into() }));
    }
    let odd = change(randomised_blocks(3, 3), |it| it.random_factors = vec!["b".into()]);
    assert_eq!(run(&odd), Err(InferenceError::UnknownFactor { factor: "b".into() }));
}

#[test]
fn one_site_speaks_of_itself_only() {
    for scope in [Scope::TheseEnvironments, Scope::EnvironmentsLikeThese] {
        let one = change(at_sites(1, 4, 3), |it| it.scope = scope);
        let analysis = run(&one).unwrap();
        assert!(analysis.notices.contains(&Notice::OneEnvironment { unit: "site".into() }));
        assert_eq!(analysis.tests, run(&randomised_blocks(3, 4)).unwrap().tests);
    }
}

#[test]
fn farms_with_one_strip_each_are_the_replicates() {
    let farms = change(at_sites(5, 1, 3), |it| {
        it.blocks = BlockStructure::unit("farm").nest(BlockStructure::unit("strip"));
        it.units = vec![("farm".into(), it.units[0].1.clone())];
        it.environments = vec!["farm".into()];
        it.scope = Scope::EnvironmentsLikeThese;
    });
    let analysis = run(&farms).unwrap();
    assert_eq!((analysis.tests[0].den_df, analysis.tests[0].stratum.as_deref()), (8.0, Some("strip")));
    let said = Notice::InteractionIsUnits { term: "farm x a".into(), stratum: "strip".into() };
    assert!(analysis.notices.contains(&said), "{:?}", analysis.notices);
    // of these very farms nothing can be said: one strip of each treatment on each leaves no error
    let these = change(farms, |it| it.scope = Scope::TheseEnvironments);
    assert!(matches!(run(&these), Err(InferenceError::NoErrorDegreesOfFreedom { .. })));
}

#[test]
fn places_without_blocks_have_no_error_of_their_own() {
    let unit = BlockStructure::unit;
    let plain = change(at_sites(3, 4, 3), |it| {
        it.blocks = unit("site").nest(unit("plot"));
        it.units.truncate(1);
    });
    let analysis = run(&plain).unwrap();
    let said = |it: &Notice| matches!(it, Notice::EnvironmentsNotDrawn { has_blocks: false, .. });
    assert!(analysis.notices.iter().any(said), "{:?}", analysis.notices);
}

#[test]
fn a_treatment_absent_at_one_site_is_named_and_the_rest_is_analysed() {
    let gap = change(at_sites(3, 3, 4), |it| {
        for plot in 0..12 {
            if it.treatment[plot] == 2 {
                it.response[plot] = None;
            }
        }
    });
    let analysis = run(&gap).unwrap();
    let lost = |it: &Notice| matches!(it, Notice::MeanNotEstimable { table, .. } if table == "a");
    assert!(analysis.notices.iter().any(lost), "{:?}", analysis.notices);
    let interaction = analysis.test(&["site", "a"]).unwrap();
    assert_eq!(interaction.num_df, 5.0);
    // as a sample of sites, every treatment can still be compared
    let sampled = change(gap, |it| it.scope = Scope::EnvironmentsLikeThese);
    let analysis = run(&sampled).unwrap();
    assert_eq!((analysis.lead, analysis.tables[0].pairs.len()), (Lead::Mixed, 6));
}

#[test]
fn entries_without_a_second_plot_cannot_be_told_from_plots() {
    let single = change(completely_random(6, 1), |it| it.random_factors = vec!["a".into()]);
    let analysis = run(&single).unwrap();
    let said = Notice::InteractionIsUnits { term: "a".into(), stratum: "plot".into() };
    assert!(analysis.notices.contains(&said), "{:?}", analysis.notices);
    assert!(analysis.tests.is_empty() && analysis.predictions.is_empty());
}

#[test]
fn sampled_levels_are_predicted_and_not_compared() {
    let sampled = change(randomised_blocks(6, 4), |it| it.random_factors = vec!["a".into()]);
    let analysis = run(&sampled).unwrap();
    assert_eq!(analysis.contrast(&[1.0, -1.0, 0.0, 0.0, 0.0, 0.0]), Err(InferenceError::SampledLevels));
    let mean = analysis.contrast(&[1.0 / 6.0; 6]).unwrap();
    assert!((mean.estimate - analysis.grand_mean).abs() < 1e-9);
    let entries = analysis.predictions.iter().find(|table| table.label == "a").unwrap();
    let sum: f64 = entries.rows.iter().map(|row| row.effect).sum();
    assert!(entries.rows.len() == 6 && sum.abs() < 1e-9);
}

#[test]
fn groups_of_treatments_that_never_meet_are_named() {
    // four treatments in blocks of two: the first two in blocks of their own, the others in others
    let apart = change(randomised_blocks(2, 8), |it| {
        it.treatments.factors = vec![factor("a", 4)];
        it.treatment = (0..16).map(|plot| plot % 2 + if plot < 8 { 0 } else { 2 }).collect();
        it.response[3] = None;
    });
    let analysis = run(&apart).unwrap();
    let groups = vec![vec!["a1".to_owned(), "a2".into()], vec!["a3".into(), "a4".into()]];
    assert!(analysis.notices.contains(&Notice::Disconnected { stratum: "block".into(), groups }));
    // the comparison between the groups rests on blocks: its error is that of blocks
    let within = analysis.contrast(&[1.0, -1.0, 0.0, 0.0]).unwrap();
    let between = analysis.contrast(&[0.5, 0.5, -0.5, -0.5]).unwrap();
    assert!(between.df < within.df, "{between:?} {within:?}");
}

#[test]
fn groups_of_treatments_in_blocks_of_their_own_lie_in_the_stratum_of_blocks() {
    let apart = change(randomised_blocks(2, 8), |it| {
        it.treatments.factors = vec![factor("a", 4)];
        it.treatment = (0..16).map(|plot| plot % 2 + if plot < 8 { 0 } else { 2 }).collect();
    });
    let analysis = run(&apart).unwrap();
    let strata = vec!["block".to_owned(), "plot".into()];
    assert!(analysis.notices.contains(&Notice::SplitOverStrata { term: "a".into(), strata }), "{:?}", analysis.notices);
    let groups = vec![vec!["a1".to_owned(), "a2".into()], vec!["a3".into(), "a4".into()]];
    assert!(analysis.notices.contains(&Notice::Disconnected { stratum: "block".into(), groups }));
    assert_eq!(analysis.contrast(&[0.5, 0.5, -0.5, -0.5]).unwrap().df, 6.0);
}

//! Plans that several tests draw and lay out.

#![allow(dead_code, reason = "each test file is a crate of its own and takes what it needs")]

use guardrow_design::{Arrangement, Control, Factor, Ground, Level, Scale, Seed, TreatmentStructure};
use proptest::prelude::*;

/// Factors `f1`, `f2`, ... with so many levels, and controls `c1`, `c2`, ... with so many plots in each replicate.
pub fn treatments(levels: &[usize], controls: &[usize]) -> TreatmentStructure {
    let level = |number: usize| Level { label: format!("l{number}"), amount: None };
    let factors = levels.iter().enumerate().map(|(index, &count)| Factor {
        name: format!("f{}", index + 1),
        scale: Scale::Qualitative,
        levels: (1..=count).map(level).collect(),
    });
    let controls = controls
        .iter()
        .enumerate()
        .map(|(index, &plots_per_replicate)| Control { label: format!("c{}", index + 1), plots_per_replicate });
    TreatmentStructure { factors: factors.collect(), controls: controls.collect() }
}

pub fn completely_random(replicates: usize) -> Arrangement {
    Arrangement::CompletelyRandom { replicates }
}

pub fn blocks(replicates: usize) -> Arrangement {
    Arrangement::RandomisedBlocks { replicates }
}

pub fn split_plot(replicates: usize, main_plot_factors: &[&str]) -> Arrangement {
    let main_plot_factors = main_plot_factors.iter().map(|name| (*name).to_owned()).collect();
    Arrangement::SplitPlot { replicates, main_plot_factors }
}

/// Plots 1.52 m by 9 m, of which 1.14 m by 7.5 m is harvested; alleys 2 m and 3 m; no guard plots.
pub fn ground(plots_per_range: usize) -> Ground {
    Ground {
        plot_length_m: 9.0,
        plot_width_m: 1.52,
        harvested_length_m: 7.5,
        harvested_width_m: 1.14,
        rows: Some(8),
        row_spacing_m: Some(0.19),
        plots_per_range,
        ranges_per_replicate: None,
        numbering: Default::default(),
        alley_between_ranges_m: 2.0,
        alley_between_replicates_m: 3.0,
        guards_at_range_ends: 0,
        guards_between_main_plots: 0,
        guard_ranges: 0,
        north_bearing_deg: 0.0,
        seeder_start: Default::default(),
    }
}

pub fn any_seed() -> impl Strategy<Value = Seed> {
    any::<[u8; 32]>().prop_map(Seed::from_bytes)
}

/// Completely random or randomised blocks with one to three factors and up to two controls.
pub fn any_unsplit_plan() -> impl Strategy<Value = (TreatmentStructure, Arrangement)> {
    let levels = prop::collection::vec(2..5usize, 1..4);
    let controls = prop::collection::vec(1..4usize, 0..3);
    (levels, controls, 1..6usize, any::<bool>()).prop_map(|(levels, controls, replicates, in_blocks)| {
        let arrangement = if in_blocks { blocks(replicates) } else { completely_random(replicates) };
        (treatments(&levels, &controls), arrangement)
    })
}

/// A split-plot with two or three factors, of which at least one but not all are on main plots.
pub fn any_split_plan() -> impl Strategy<Value = (TreatmentStructure, Arrangement)> {
    let shape = prop::collection::vec((2..5usize, any::<bool>()), 2..4);
    let mixed = shape.prop_filter("some on main plots, some not", |factors| {
        factors.iter().any(|(_, on_main)| *on_main) && factors.iter().any(|(_, on_main)| !on_main)
    });
    (mixed, 1..6usize).prop_map(|(factors, replicates)| {
        let levels: Vec<usize> = factors.iter().map(|(count, _)| *count).collect();
        let treatments = treatments(&levels, &[]);
        let on_main = treatments.factors.iter().zip(&factors).filter(|(_, (_, on_main))| *on_main);
        let names: Vec<&str> = on_main.map(|(factor, _)| factor.name.as_str()).collect();
        let arrangement = split_plot(replicates, &names);
        (treatments, arrangement)
    })
}

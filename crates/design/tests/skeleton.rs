//! Degrees of freedom against the formulas of texts on experiments, and the sentences that come with them.
//!
//! Source of the formulas: the analysis-of-variance outlines of any text on experiments, for example Cochran & Cox (1957),
//! chapters 4, 5 and 7 (from memory); they are written out beside each check.

mod plans;

use guardrow_design::{
    Arrangement, Control, Factor, Seed, Skeleton, TreatmentStructure, draw, draw_sentence, method_sentence, skeleton,
};
use plans::{any_split_plan, any_unsplit_plan, blocks, completely_random, split_plot, treatments};
use proptest::prelude::*;

/// Stratum, its sources with their degrees of freedom, error degrees of freedom.
type Expected<'a> = (&'a str, &'a [(&'a str, usize)], usize);
type Outline = Vec<(String, Vec<(String, usize)>, usize)>;

fn outline(skeleton: &Skeleton) -> Outline {
    let rows =
        |part: &guardrow_design::SkeletonStratum| part.rows.iter().map(|row| (row.source.clone(), row.df)).collect();
    skeleton.strata.iter().map(|part| (part.name.clone(), rows(part), part.error_df)).collect()
}

fn check(treatments: &TreatmentStructure, arrangement: &Arrangement, expected: &[Expected]) {
    let expected: Outline = expected
        .iter()
        .map(|(name, rows, error)| {
            ((*name).to_owned(), rows.iter().map(|(source, df)| ((*source).to_owned(), *df)).collect(), *error)
        })
        .collect();
    assert_eq!(outline(&skeleton(treatments, arrangement).expect("a good plan")), expected);
}

#[test]
fn outlines_of_common_plans() {
    // Completely random, t = 5, r = 4: treatments t - 1, error t (r - 1).
    check(&treatments(&[5], &[]), &completely_random(4), &[("plot", &[("f1", 4)], 15)]);
    // Randomised blocks, t = 7, r = 4: error (t - 1)(r - 1).
    check(&treatments(&[7], &[]), &blocks(4), &[("block", &[], 3), ("plot", &[("f1", 6)], 18)]);
    // Factorial 2 x 3 x 4 in 3 blocks: error 23 x 2.
    let terms = [("f1", 1), ("f2", 2), ("f3", 3), ("f1 x f2", 2), ("f1 x f3", 3), ("f2 x f3", 6), ("f1 x f2 x f3", 6)];
    check(&treatments(&[2, 3, 4], &[]), &blocks(3), &[("block", &[], 2), ("plot", &terms, 46)]);
    // Split-plot, r = 6, 3 on main plots, 4 within: blocks 5; main 2, error 2 x 5; sub 3, interaction 6, error 3 x 3 x 5.
    check(
        &treatments(&[3, 4], &[]),
        &split_plot(6, &["f1"]),
        &[("block", &[], 5), ("main plot", &[("f1", 2)], 10), ("plot", &[("f2", 3), ("f1 x f2", 6)], 45)],
    );
    // The same with the second factor on main plots: an interaction is tested where its innermost factor is.
    check(
        &treatments(&[3, 4], &[]),
        &split_plot(6, &["f2"]),
        &[("block", &[], 5), ("main plot", &[("f2", 3)], 15), ("plot", &[("f1", 2), ("f1 x f2", 6)], 40)],
    );
    // Two factors on main plots, r = 3, 2 x 2 main, 3 within: main error 3 x 2; plots 24, of which 2 + 2 + 2 + 2, error 16.
    let (main, within) =
        ([("f1", 1), ("f2", 1), ("f1 x f2", 1)], [("f3", 2), ("f1 x f3", 2), ("f2 x f3", 2), ("f1 x f2 x f3", 2)]);
    check(
        &treatments(&[2, 2, 3], &[]),
        &split_plot(3, &["f1", "f2"]),
        &[("block", &[], 2), ("main plot", &main, 6), ("plot", &within, 16)],
    );
}

#[test]
fn controls_take_one_degree_of_freedom_each() {
    // 2 x 3 factorial and one control, 4 blocks: 7 treatments, error 6 x 3 = 18.
    let terms = [("control against factorial", 1), ("f1", 1), ("f2", 2), ("f1 x f2", 2)];
    check(&treatments(&[2, 3], &[1]), &blocks(4), &[("block", &[], 3), ("plot", &terms, 18)]);
    // The control on 2 plots in each of 4 blocks: 32 plots, 31 - 3 - 6 = 22 for error.
    check(&treatments(&[2, 3], &[2]), &blocks(4), &[("block", &[], 3), ("plot", &terms, 22)]);
    // Two controls, completely random, 3 plots of each: 8 treatments, error 8 x 2.
    let terms = [("controls and factorial", 2), ("f1", 1), ("f2", 2), ("f1 x f2", 2)];
    check(&treatments(&[2, 3], &[1, 1]), &completely_random(3), &[("plot", &terms, 16)]);
}

proptest! {
    #[test]
    fn without_splits_sources_are_the_treatments_less_one((treatments, arrangement) in any_unsplit_plan()) {
        let found = skeleton(&treatments, &arrangement).unwrap();
        let plots = found.strata.last().unwrap();
        let (t, r) = (treatments.treatment_count(), arrangement.replicates());
        let n = treatments.plots_per_replicate() * r;
        let between = if found.strata.len() == 2 { r } else { 1 };
        prop_assert_eq!(plots.rows.iter().map(|row| row.df).sum::<usize>(), t - 1);
        prop_assert_eq!(plots.error_df, n - between - (t - 1));
        prop_assert_eq!(found.total_df, n - 1);
        prop_assert_eq!(found.strata.iter().map(|part| part.total_df).sum::<usize>(), n - 1);
    }

    #[test]
    fn in_split_plots_errors_follow_the_formulas((treatments, arrangement) in any_split_plan()) {
        let found = skeleton(&treatments, &arrangement).unwrap();
        let levels = |unit: &str| -> usize {
            let on = treatments.factors.iter().filter(|factor| arrangement.unit_of(&factor.name, &treatments) == unit);
            on.map(|factor| factor.levels.len()).product()
        };
        let (r, a, b) = (arrangement.replicates(), levels("main plot"), levels("plot"));
        let errors: Vec<usize> = found.strata.iter().map(|part| part.error_df).collect();
        prop_assert_eq!(errors, [r - 1, (a - 1) * (r - 1), a * (b - 1) * (r - 1)]);
        let sources: Vec<usize> = found.strata.iter().map(|part| part.rows.iter().map(|row| row.df).sum()).collect();
        prop_assert_eq!(sources, [0, a - 1, a * (b - 1)]);
    }
}

fn notices(treatments: &TreatmentStructure, arrangement: &Arrangement) -> Vec<String> {
    let found = skeleton(treatments, arrangement).expect("a good plan");
    found.notices.into_iter().map(|notice| notice.sentence).collect()
}

#[test]
fn few_error_degrees_of_freedom_are_pointed_out_with_a_remedy() {
    // Main plots: 2 x (r - 1), so 7 replicates give 12. Plots have 45 and are well off.
    assert_eq!(
        notices(&treatments(&[3, 4], &[]), &split_plot(6, &["f1"])),
        [
            "Between main plots only 10 degrees of freedom are left for error to judge f1; fewer than 12 find only large \
         differences. 7 replicates would give 12 or more."
        ]
    );
    assert_eq!(notices(&treatments(&[3, 4], &[]), &split_plot(7, &["f1"])), [] as [&str; 0]);
    // Blocks, t = 4: 3 (r - 1), 12 with 5 replicates; 11 and 12 are told apart (t = 12, r = 2: 11; t = 13: 12).
    assert_eq!(notices(&treatments(&[4], &[]), &blocks(5)), [] as [&str; 0]);
    assert_eq!(notices(&treatments(&[12], &[]), &blocks(2)).len(), 1);
    assert_eq!(notices(&treatments(&[13], &[]), &blocks(2)), [] as [&str; 0]);
    assert_eq!(
        notices(&treatments(&[4], &[]), &blocks(1)),
        ["Between plots no degrees of freedom are left for error, so nothing can be said about f1. \
         5 replicates would give 12 or more."]
    );
}

#[test]
fn method_sentences_read_as_a_person_would_write_them() {
    let variety = Factor::qualitative("variety", &["A", "B", "C"]);
    let nitrogen = Factor::quantitative("nitrogen", "kg/ha", &[0.0, 30.0, 60.0, 90.0]);
    let date = Factor::qualitative("seeding date", &["early", "late"]);
    let with = |factors: &[&Factor], controls: &[(&str, usize)]| TreatmentStructure {
        factors: factors.iter().map(|factor| (*factor).clone()).collect(),
        controls: controls
            .iter()
            .map(|(label, plots)| Control { label: (*label).to_owned(), plots_per_replicate: *plots })
            .collect(),
    };
    let told = |treatments: &TreatmentStructure, arrangement: &Arrangement| {
        method_sentence(treatments, arrangement).expect("good")
    };
    assert_eq!(
        told(&with(&[&date, &variety, &nitrogen], &[]), &split_plot(4, &["seeding date"])),
        "Two seeding dates on main plots and three varieties and four levels of nitrogen on plots within them were \
         randomised in 4 replicates (split-plot)."
    );
    assert_eq!(
        told(&with(&[&variety, &nitrogen], &[("bare ground", 2)]), &blocks(4)),
        "Three varieties and four levels of nitrogen in all 12 combinations were randomised in each of 4 replicates \
         (randomised blocks), with the control bare ground on 2 plots in each replicate."
    );
    assert_eq!(
        told(&with(&[&variety], &[("fallow", 1), ("old stand", 2)]), &completely_random(5)),
        "Three varieties were randomised over the whole trial without blocks, 5 plots to each treatment, with the control \
         fallow on 5 plots and the control old stand on 10 plots."
    );
    let thirteen = treatments(&[13], &[]);
    assert_eq!(told(&thirteen, &blocks(1)), "13 levels of f1 were randomised in 1 replicate (randomised blocks).");
}

#[test]
fn the_draw_is_told_so_that_it_can_be_made_again() {
    let drawn = draw(&treatments(&[2], &[]), &blocks(2), Seed::from_number(255)).expect("a good plan");
    let expected = format!("The layout was drawn with ChaCha20, algorithm 1, from the seed ff{}.", "0".repeat(62));
    assert_eq!(draw_sentence(&drawn), expected);
}

/// Strata as `name: sources with df | error df`.
fn written_outline(treatments: &TreatmentStructure, arrangement: &Arrangement) -> Vec<String> {
    let found = skeleton(treatments, arrangement).expect("a good plan");
    let told = found.strata.iter().map(|part| {
        let rows: Vec<String> = part.rows.iter().map(|row| format!("{} {}", row.source, row.df)).collect();
        format!("{}: {} | {}", part.name, rows.join(", "), part.error_df)
    });
    assert_eq!(found.strata.iter().map(|part| part.total_df).sum::<usize>(), found.total_df);
    told.collect()
}

// Source: the analysis-of-variance outlines of any text on experiments, such as Cochran & Cox (1957) (from memory): Latin
// square (t-1)(t-2) for error; split-split-plot errors (r-1)(a-1), a(r-1)(b-1), ab(r-1)(c-1); strip-plot (r-1)(a-1), (r-1)(b-1),
// (r-1)(a-1)(b-1); incomplete blocks N - b - t + 1.
#[test]
fn the_other_arrangements_have_the_outlines_of_the_texts() {
    let names = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
    let five = treatments(&[5], &[]);
    assert_eq!(
        written_outline(&five, &Arrangement::LatinSquare { replicates: 5 }),
        ["row:  | 4", "column:  | 4", "row x column: f1 4 | 12"]
    );
    assert_eq!(
        written_outline(&five, &Arrangement::LatinSquare { replicates: 10 }),
        ["square:  | 1", "row:  | 8", "column:  | 8", "row x column: f1 4 | 28"]
    );
    let three = treatments(&[5, 3, 3], &[]);
    let split_split = Arrangement::SplitSplitPlot {
        replicates: 3,
        main_plot_factors: names(&["f1"]),
        subplot_factors: names(&["f2"]),
    };
    assert_eq!(
        written_outline(&three, &split_split),
        [
            "block:  | 2",
            "main plot: f1 4 | 8",
            "subplot: f2 2, f1 x f2 8 | 20",
            "plot: f3 2, f1 x f3 8, f2 x f3 4, f1 x f2 x f3 16 | 60"
        ]
    );
    let strips = |count: &[usize]| {
        let arrangement =
            Arrangement::StripPlot { replicates: 3, across_factors: names(&["f1"]), along_factors: names(&["f2"]) };
        written_outline(&treatments(count, &[]), &arrangement)
    };
    let whole = ["block:  | 2", "strip across: f1 5 | 10", "strip along: f2 2 | 4"];
    assert_eq!(strips(&[6, 3]), [whole.as_slice(), &["strip across x strip along: f1 x f2 10 | 20"]].concat());
    // 36 plots in the 18 meetings of each of 3 blocks: 3 x 18 x (2 - 1) degrees within them, less those of f3's terms
    let split = "plot: f3 1, f1 x f3 5, f2 x f3 2, f1 x f2 x f3 10 | 36";
    let meeting = "strip across x strip along: f1 x f2 10 | 20";
    assert_eq!(strips(&[6, 3, 2]), [whole.as_slice(), &[meeting, split]].concat());
    let many = treatments(&[24], &[]);
    assert_eq!(
        written_outline(&many, &Arrangement::IncompleteBlocks { replicates: 3, block_size: 4 }),
        ["replicate:  | 2", "block:  | 15", "plot: f1 23 | 31"]
    );
    assert_eq!(
        written_outline(&many, &Arrangement::RowColumn { replicates: 2, rows: 4, columns: 6 }),
        ["replicate:  | 1", "row:  | 6", "column:  | 10", "row x column: f1 23 | 7"]
    );
    // 30 entries once and 3 checks in each of 6 blocks: 48 plots; error (checks - 1)(blocks - 1)
    let mut entries = treatments(&[33], &[]);
    entries.factors[0].name = "entry".into();
    let checks = entries.treatments()[..3].iter().map(|treatment| treatment.label.clone()).collect();
    let augmented = Arrangement::AugmentedBlocks { replicates: 6, checks };
    assert_eq!(augmented.plot_count(&entries), 48);
    assert_eq!(written_outline(&entries, &augmented), ["block:  | 5", "plot: entry 32 | 10"]);
    let farms = Arrangement::FarmStrips { replicates: 8 };
    assert_eq!(written_outline(&treatments(&[2], &[]), &farms), ["farm:  | 7", "strip: f1 1 | 7"]);
}

#[test]
fn stated_units_are_counted_by_the_table_only() {
    let stated = Arrangement::Stated(guardrow_design::StatedUnits {
        replicates: 4,
        units: "site / block / plot".parse().unwrap(),
        randomised_to: Default::default(),
        environments: vec!["site".into()],
        scope: Default::default(),
        random_factors: Vec::new(),
    });
    let refused = skeleton(&treatments(&[3], &[]), &stated).unwrap_err();
    assert_eq!(refused, guardrow_design::DesignError::UnitsNotCounted);
}

//! Every plan that cannot be: what is said about it, and what to do.

mod plans;

use guardrow_design::{
    Arrangement, Control, DesignError, Draw, Factor, Ground, Scale, Scope, Seed, StatedUnits, TreatmentStructure, draw,
    lay_out, method_sentence, skeleton,
};
use std::collections::BTreeMap;

use plans::{blocks, completely_random, ground, split_plot, treatments};

/// The plan is refused with this message by everything that takes it, and there is advice.
fn check(treatments: &TreatmentStructure, arrangement: &Arrangement, message: &str) {
    let refused = arrangement.check(treatments).expect_err(message);
    assert_eq!(refused.to_string(), message);
    assert!(refused.help().ends_with(['.', '?']), "advice for: {message}");
    // Compared as text, because an amount that is not a number equals nothing.
    let same = |error: DesignError| assert_eq!(error.to_string(), message);
    same(draw(treatments, arrangement, Seed::from_number(1)).expect_err(message));
    same(skeleton(treatments, arrangement).expect_err(message));
    same(method_sentence(treatments, arrangement).expect_err(message));
}

fn only(factor: Factor) -> TreatmentStructure {
    TreatmentStructure { factors: vec![factor], controls: Vec::new() }
}

#[test]
fn factors_that_cannot_be() {
    let check = |treatments: &TreatmentStructure, message| check(treatments, &blocks(4), message);
    check(&treatments(&[], &[]), "the trial has no factor, so there is nothing to compare");
    check(&treatments(&[], &[1, 1]), "the trial has no factor, so there is nothing to compare");
    check(&only(Factor::qualitative(" ", &["a", "b"])), "factor 1 has no name");
    let mut twice = treatments(&[2, 2], &[]);
    twice.factors[1].name = "F1 ".into();
    check(&twice, "two factors are called `F1 `");
    check(
        &only(Factor::qualitative("Block", &["a", "b"])),
        "a factor cannot be called `Block`: that is a unit of the ground",
    );
    check(&only(Factor::qualitative("rate", &["a"])), "factor `rate` needs at least 2 levels, but has 1");
    check(&only(Factor::qualitative("rate", &[])), "factor `rate` needs at least 2 levels, but has 0");
    check(&only(Factor::qualitative("rate", &["a", ""])), "level 2 of factor `rate` has no label");
    check(
        &only(Factor::qualitative("date", &["early", "Early "])),
        "factor `date` has the level `Early ` twice (capitals and outer spaces do not count)",
    );
    check(&treatments(&[71, 71], &[]), "the factors make 5041 treatments; at most 5000 can be handled");
}

#[test]
fn amounts_that_cannot_be() {
    let check = |factor: Factor, message| check(&only(factor), &blocks(4), message);
    let rates = Factor::quantitative("rate", "kg/ha", &[0.0, 50.0]);
    check(
        Factor { scale: Scale::Quantitative { unit: String::new() }, ..rates.clone() },
        "factor `rate` is an amount but has no unit",
    );
    let mut missing = rates.clone();
    missing.levels[1].amount = None;
    check(missing, "level `50` of factor `rate` has no amount in kg/ha");
    check(
        Factor { scale: Scale::Qualitative, ..rates },
        "level `0` of factor `rate` has the amount 0, but the factor's levels are names",
    );
    check(
        Factor::quantitative("rate", "kg/ha", &[0.0, f64::NAN]),
        "level `NaN` of factor `rate` has the amount NaN, which is not a number",
    );
    let mut same = Factor::quantitative("rate", "kg/ha", &[0.0, 50.0, 50.0]);
    same.levels[2].label = "fifty".into();
    check(same, "levels `50` and `fifty` of factor `rate` are both 50 kg/ha");
}

#[test]
fn controls_that_cannot_be() {
    let check = |label: &str, plots_per_replicate, message| {
        let controls = vec![Control { label: label.to_owned(), plots_per_replicate }];
        check(&TreatmentStructure { controls, ..treatments(&[2], &[]) }, &blocks(4), message);
    };
    check("", 1, "control 1 has no name");
    check("untreated", 0, "control `untreated` has 0 plots in each replicate");
    check("L2", 1, "two treatments are called `L2`");
    check("untreated", usize::MAX, "the trial has 18446744073709551615 plots; at most 50000 can be handled");
}

#[test]
fn two_combinations_that_read_alike_are_refused() {
    let factors = vec![Factor::qualitative("first", &["a", "a, b"]), Factor::qualitative("second", &["b, c", "c"])];
    check(&TreatmentStructure { factors, controls: vec![] }, &blocks(4), "two treatments are called `a, b, c`");
}

#[test]
fn arrangements_that_cannot_be() {
    check(&treatments(&[2], &[]), &blocks(0), "the trial has 0 replicates; at least 1 is needed");
    check(
        &treatments(&[2], &[]),
        &completely_random(30_000),
        "the trial has 60000 plots; at most 50000 can be handled",
    );
    let two = treatments(&[2, 3], &[]);
    check(&two, &split_plot(4, &[]), "the split-plot has no factor on its main plots");
    check(
        &two,
        &split_plot(4, &["seeder"]),
        "`seeder` is to be on main plots, but it is no factor of this trial (factors: f1, f2)",
    );
    check(
        &two,
        &split_plot(4, &["f1", "f1"]),
        "factor `f1` is named twice; the second time among the factors on main plots",
    );
    check(
        &two,
        &split_plot(4, &["f1", "f2"]),
        "all factors (f1, f2) are on larger units, so nothing is left for the plots within the main plots",
    );
    check(
        &treatments(&[2, 3], &[1]),
        &split_plot(4, &["f1"]),
        "the control `c1` stands outside the factorial, and in a split-plot it has no place",
    );
}

#[test]
fn a_misspelt_factor_is_met_with_the_near_one() {
    let factors = vec![Factor::qualitative("variety", &["a", "b"]), Factor::qualitative("seeding date", &["e", "l"])];
    let treatments = TreatmentStructure { factors, controls: vec![] };
    let help = |name: &str| split_plot(4, &[name]).check(&treatments).expect_err("no such factor").help();
    assert_eq!(help("vareity"), "Did you mean `variety`?");
    assert_eq!(help("Seeding Date"), "Did you mean `seeding date`?");
    assert_eq!(help("zzz"), "Use a factor's name exactly as the trial spells it.");
}

#[test]
fn all_problems_are_told_at_once() {
    let mut bad = treatments(&[1, 2], &[0]);
    bad.factors[1].name = String::new();
    let messages: Vec<String> = blocks(0).problems(&bad).iter().map(DesignError::to_string).collect();
    assert_eq!(
        messages,
        [
            "factor `f1` needs at least 2 levels, but has 1",
            "factor 2 has no name",
            "control `c1` has 0 plots in each replicate",
            "the trial has 0 replicates; at least 1 is needed"
        ]
    );
}

fn refused_ground(levels: &[usize], arrangement: &Arrangement, ground: Ground, message: &str) {
    let drawn = draw(&treatments(levels, &[]), arrangement, Seed::from_number(1)).expect("a good plan");
    let refused = lay_out(&drawn, &ground).expect_err(message);
    assert_eq!(refused.to_string(), message);
    assert!(refused.help().ends_with('.'), "advice for: {message}");
}

#[test]
fn sizes_that_cannot_be() {
    let check = |ground: Ground, message| refused_ground(&[4], &blocks(3), ground, message);
    let good = || ground(4);
    check(
        Ground { plot_length_m: -9.0, ..good() },
        "the plot length is -9 m; it must be more than 0 and at most 1000 m",
    );
    check(Ground { plot_width_m: 0.0, ..good() }, "the plot width is 0 m; it must be more than 0 and at most 1000 m");
    check(
        Ground { harvested_width_m: f64::NAN, ..good() },
        "the harvested width is NaN m; it must be more than 0 and at most 1000 m",
    );
    check(
        Ground { row_spacing_m: Some(f64::INFINITY), ..good() },
        "the row spacing is inf m; it must be more than 0 and at most 1000 m",
    );
    check(
        Ground { alley_between_ranges_m: -1.0, ..good() },
        "the alley between ranges is -1 m; it must be from 0 to 1000 m",
    );
    check(
        Ground { harvested_length_m: 9.5, ..good() },
        "the harvested length is 9.5 m, but the plot's length is only 9 m",
    );
    check(Ground { rows: Some(0), ..good() }, "a plot has 0 rows; at least 1 is needed");
    check(
        Ground { row_spacing_m: Some(0.25), ..good() },
        "8 rows 0.25 m apart take 2.00 m, but a plot is only 1.52 m wide",
    );
    check(
        Ground { north_bearing_deg: 360.0, ..good() },
        "the bearing is 360 degrees; it must be from 0 to less than 360",
    );
    check(
        Ground { guard_ranges: usize::MAX, ..good() },
        "there are to be 18446744073709551615 guard ranges at the front and at the back; at most 50 can be handled",
    );
}

#[test]
fn shapes_that_cannot_be() {
    let check = |ground: Ground, message| refused_ground(&[4], &blocks(3), ground, message);
    check(ground(0), "a range has 0 plots; at least 1 is needed");
    check(ground(5), "a range is to hold 5 plots, but a replicate has only 4 plots");
    check(
        Ground { ranges_per_replicate: Some(3), ..ground(2) },
        "ranges of a replicate: 3 given, but 4 plots with 2 in a range take 2",
    );
    check(
        Ground { guards_between_main_plots: 1, ..ground(4) },
        "guard plots between main plots are asked for (1), but no two main plots lie side by side in a range",
    );
    let split = split_plot(2, &["f1"]);
    refused_ground(
        &[3, 4],
        &split,
        ground(6),
        "a main plot has 4 plots and a range 6, so an alley would cut through main plots",
    );
    refused_ground(
        &[3, 4],
        &split,
        Ground { guards_between_main_plots: 2, ..ground(4) },
        "guard plots between main plots are asked for (2), but no two main plots lie side by side in a range",
    );
    refused_ground(
        &[100],
        &blocks(400),
        Ground { guards_at_range_ends: 50, ..ground(4) },
        "the trial has 1040000 plots; at most 50000 can be handled",
    );
}

fn main_plot(number: usize) -> BTreeMap<String, usize> {
    BTreeMap::from([("main plot".to_owned(), number)])
}

#[test]
fn arrangements_that_do_not_fit_the_treatments() {
    let six = treatments(&[2, 3], &[]);
    let names = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
    check(
        &six,
        &Arrangement::LatinSquare { replicates: 4 },
        "a Latin square of 6 treatments has 6 replicates, or a multiple of that; not 4",
    );
    check(
        &six,
        &Arrangement::IncompleteBlocks { replicates: 2, block_size: 4 },
        "a replicate of 6 plots cannot be cut into blocks of 4",
    );
    check(
        &six,
        &Arrangement::IncompleteBlocks { replicates: 2, block_size: 0 },
        "a replicate of 6 plots cannot be cut into blocks of 0",
    );
    check(
        &six,
        &Arrangement::RowColumn { replicates: 2, rows: 2, columns: 4 },
        "2 rows and 4 columns do not make a replicate of 6 plots",
    );
    let augmented = |checks: &[&str]| Arrangement::AugmentedBlocks { replicates: 3, checks: names(checks) };
    let one = only(Factor::qualitative("entry", &["e1", "e2", "check A"]));
    check(&one, &augmented(&[]), "no check is named that stands in every block");
    check(&one, &augmented(&["chek A"]), "`chek A` is to be a check, but it is no treatment of this trial");
    check(&one, &augmented(&["check A", "check A"]), "the check `check A` is named twice");
    check(
        &one,
        &augmented(&["e1", "e2", "check A"]),
        "all treatments are checks, so there is nothing to be compared with them",
    );
    let strips = |across: &[&str], along: &[&str]| Arrangement::StripPlot {
        replicates: 3,
        across_factors: names(across),
        along_factors: names(along),
    };
    check(&six, &strips(&["f1"], &[]), "the strip-plot has no factor on its strips along");
    check(
        &six,
        &strips(&["f1"], &["f1"]),
        "factor `f1` is named twice; the second time among the factors on strips along",
    );
    let split_split = Arrangement::SplitSplitPlot {
        replicates: 3,
        main_plot_factors: names(&["f1"]),
        subplot_factors: names(&["f2"]),
    };
    check(
        &six,
        &split_split,
        "all factors (f1, f2) are on larger units, so nothing is left for the plots within the subplots",
    );
    let stated = |on: &[(&str, &str)], environments: &[&str]| {
        Arrangement::Stated(StatedUnits {
            replicates: 3,
            units: "site / block / main plot / plot".parse().unwrap(),
            randomised_to: on.iter().map(|(factor, unit)| ((*factor).to_owned(), (*unit).to_owned())).collect(),
            environments: names(environments),
            scope: Scope::default(),
            random_factors: Vec::new(),
        })
    };
    check(
        &six,
        &stated(&[("f3", "main plot")], &[]),
        "`f3` is to be on main plots, but it is no factor of this trial (factors: f1, f2)",
    );
    let units = "is no unit of this arrangement (site / block / main plot / plot)";
    check(&six, &stated(&[("f1", "mainplot")], &[]), &format!("`mainplot` {units}"));
    check(&six, &stated(&[], &["year"]), &format!("`year` {units}"));
}

#[test]
fn what_cannot_be_drawn_yet_says_so() {
    let six = treatments(&[2, 3], &[]);
    let latin = Arrangement::LatinSquare { replicates: 6 };
    let refused = draw(&six, &latin, Seed::from_number(1)).unwrap_err();
    assert_eq!(refused.to_string(), "a Latin square cannot be drawn yet");
    assert!(refused.help().contains("bring it in"));
}

#[test]
fn a_draw_that_was_changed_by_hand_is_refused() {
    let good = draw(&treatments(&[2, 3], &[]), &split_plot(2, &["f1"]), Seed::from_number(1)).expect("a good plan");
    let check = |change: &dyn Fn(&mut Draw), message: &str| {
        let mut changed = good.clone();
        change(&mut changed);
        assert_eq!(
            lay_out(&changed, &ground(3)).expect_err(message).to_string(),
            format!("the draw is not whole: {message}")
        );
    };
    check(&|draw| draw.plots.clear(), "it has no plots");
    check(&|draw| draw.plots.truncate(11), "replicate 2 has 5 plots, replicate 1 has 6");
    check(
        &|draw| draw.plots[6..].iter_mut().for_each(|p| p.replicate = 7),
        "replicate 7 stands where replicate 2 should",
    );
    check(&|draw| draw.plots[1].position = 9, "the plot at place 2 of replicate 1 is out of order");
    check(&|draw| draw.plots[8].units = main_plot(2), "the plot at place 3 of replicate 2 is out of order");
    let in_both = |draw: &mut Draw, place: usize, number: usize| {
        draw.plots[place].units = main_plot(number);
        draw.plots[place + 6].units = main_plot(number);
    };
    check(&|draw| in_both(draw, 2, 2), "its main plots differ in size, or are not each in one piece");
    check(
        &|draw| draw.plots.iter_mut().for_each(|plot| plot.units = main_plot(usize::MAX)),
        "its main plots are not numbered 1, 2, 3 and so on",
    );
}

//! Plots on the ground: numbers, places, orders of work, sizes. Expected values are worked out by hand.

mod plans;

use guardrow_design::{
    Arrangement, Corner, Ground, Heading, Layout, Numbering, Plot, PlotKind, Seed, TreatmentStructure, draw, lay_out,
};
use plans::{any_seed, any_split_plan, any_unsplit_plan, blocks, completely_random, ground, split_plot, treatments};
use proptest::prelude::*;

fn laid_out(levels: &[usize], arrangement: &Arrangement, ground: &Ground) -> Layout {
    let drawn = draw(&treatments(levels, &[]), arrangement, Seed::from_number(1)).expect("a good plan");
    lay_out(&drawn, ground).expect("a good ground")
}

fn number(plot: &Plot) -> String {
    plot.number.map_or_else(String::new, |number| number.to_string())
}

fn check_map(layout: &Layout, expected_from_the_back: &[&str]) {
    assert_eq!(layout.drawing(number).lines().map(str::trim).collect::<Vec<_>>(), expected_from_the_back);
}

#[test]
fn serpentine_numbers_turn_at_every_second_range() {
    let one_range_each = laid_out(&[4], &blocks(3), &ground(4));
    check_map(&one_range_each, &["301 302 303 304", "204 203 202 201", "101 102 103 104"]);
    let two_ranges_each = laid_out(&[6], &blocks(2), &ground(3));
    check_map(&two_ranges_each, &["206 205 204", "201 202 203", "106 105 104", "101 102 103"]);
}

#[test]
fn straight_numbers_run_from_left_to_right() {
    let straight = Ground { numbering: Numbering::Straight, ..ground(3) };
    let layout = laid_out(&[6], &blocks(2), &straight);
    check_map(&layout, &["204 205 206", "201 202 203", "104 105 106", "101 102 103"]);
}

#[test]
fn a_range_that_is_not_full_is_filled_with_guards_where_the_numbers_stop() {
    let layout = laid_out(&[5], &blocks(2), &ground(3));
    check_map(&layout, &["  . 205 204", "201 202 203", "  . 105 104", "101 102 103"].map(str::trim));
    let fill: Vec<&Plot> = layout.plots.iter().filter(|plot| plot.kind == PlotKind::Guard).collect();
    assert_eq!(
        fill.iter().map(|plot| (plot.range, plot.pass, plot.replicate)).collect::<Vec<_>>(),
        [(2, 1, Some(1)), (4, 1, Some(2))]
    );
    assert!(fill.iter().all(|plot| plot.number.is_none() && plot.treatment.is_none() && plot.units.is_empty()));
}

#[test]
fn completely_random_trials_are_numbered_from_101_through() {
    check_map(&laid_out(&[3], &completely_random(2), &ground(3)), &["106 105 104", "101 102 103"]);
}

#[test]
fn replicates_of_a_hundred_plots_or_more_are_numbered_by_thousands() {
    let first_numbers = |levels: &[usize]| {
        let layout = laid_out(levels, &blocks(2), &ground(10));
        let numbers: Vec<u32> = layout.in_number_order().iter().filter_map(|plot| plot.number).collect();
        (numbers[0], numbers[numbers.len() / 2], numbers[numbers.len() - 1])
    };
    assert_eq!(first_numbers(&[99]), (101, 201, 299));
    assert_eq!(first_numbers(&[10, 10]), (1001, 2001, 2100));
}

#[test]
fn main_plots_side_by_side_are_guarded_from_one_another() {
    let guarded = Ground { guards_at_range_ends: 1, guards_between_main_plots: 1, guard_ranges: 1, ..ground(6) };
    let layout = laid_out(&[2, 3], &split_plot(2, &["f1"]), &guarded);
    check_map(
        &layout,
        &[
            ".   .   .   .   .   .   .   .   .",
            ". 206 205 204   . 203 202 201   .",
            ". 101 102 103   . 104 105 106   .",
            ".   .   .   .   .   .   .   .   .",
        ],
    );
    let main_plots: Vec<Option<usize>> =
        layout.in_number_order().iter().map(|plot| plot.units.get("main plot").copied()).collect();
    assert_eq!(main_plots, [1, 1, 1, 2, 2, 2, 1, 1, 1, 2, 2, 2].map(Some));
    let guard_range_replicates: Vec<_> =
        layout.plots.iter().filter(|plot| plot.range == 1).map(|p| p.replicate).collect();
    assert_eq!(guard_range_replicates, [None; 9]);
}

#[test]
fn every_pair_of_neighbouring_main_plots_has_its_guards() {
    let guarded = Ground { guards_between_main_plots: 2, ..ground(6) };
    let layout = laid_out(&[3, 2], &split_plot(1, &["f1"]), &guarded);
    check_map(&layout, &["101 102   .   . 103 104   .   . 105 106"]);
}

/// In binary, 3 x 0.1 is more than 0.3; on the ground it is not.
#[test]
fn rows_that_fill_the_plot_exactly_fit() {
    let filled = Ground {
        rows: Some(3),
        row_spacing_m: Some(0.1),
        plot_width_m: 0.3,
        harvested_width_m: 0.1 + 0.2,
        ..ground(4)
    };
    assert_eq!(filled.problems(), []);
}

#[test]
fn a_main_plot_may_take_whole_ranges() {
    let layout = laid_out(&[2, 4], &split_plot(1, &["f1"]), &ground(2));
    check_map(&layout, &["108 107", "105 106", "104 103", "101 102"]);
    let by_range: Vec<_> = layout.plots.iter().map(|plot| plot.units.get("main plot").copied()).collect();
    assert_eq!(by_range, [1, 1, 1, 1, 2, 2, 2, 2].map(Some));
}

/// By hand: 9 passes of 1.52 m are 13.68 m; ranges of 9 m at 0, 11 (alley 2), 23 (alley 3 between replicates), 34 (alley 2
/// before the guard range), so the back is at 43 m; 13.68 x 43 = 588.24 m2.
#[test]
fn distances_and_area_are_those_that_a_tape_finds() {
    let guarded = Ground { guards_at_range_ends: 1, guards_between_main_plots: 1, guard_ranges: 1, ..ground(6) };
    let layout = laid_out(&[2, 3], &split_plot(2, &["f1"]), &guarded);
    assert_eq!((layout.ranges, layout.passes), (4, 9));
    let near = |a: f64, b: f64| (a - b).abs() < 1e-9; // sums of a few lengths in metres
    assert!(near(layout.width_m, 13.68) && near(layout.length_m, 43.0) && near(layout.area_m2(), 588.24));
    for (range, y_m) in [(1, 0.0), (2, 11.0), (3, 23.0), (4, 34.0)] {
        assert!(
            layout.plots.iter().filter(|plot| plot.range == range).all(|plot| near(plot.y_m, y_m)),
            "range {range}"
        );
    }
    let first = layout.plot(101).expect("every trial has a plot 101");
    assert!(near(first.x_m, 1.52) && near(first.width_m, 1.52) && near(first.length_m, 9.0));
    let turn = layout.plot(201).expect("a second replicate has a plot 201");
    assert!(near(turn.x_m, 7.0 * 1.52), "201 is in the eighth pass");
}

/// Source: plot arithmetic, common practice: 6 of 8 rows of 0.19 m, 7.5 of 9 m: 13.68 m2 gross, 8.55 m2 harvested.
#[test]
fn plot_areas_are_rows_times_spacing_times_length() {
    let ground = ground(4);
    assert!((ground.plot_area_m2() - 13.68).abs() < 1e-12 && (ground.harvested_area_m2() - 8.55).abs() < 1e-12);
    assert_eq!(ground.notices(), []);
    let little = Ground { harvested_length_m: 4.0, ..ground };
    assert_eq!(
        little.notices()[0].sentence,
        "Only 33 % of each plot will be harvested (4.56 of 13.68 m2); check the harvested length and width."
    );
}

#[test]
fn the_seeder_drives_from_its_corner_and_turns_after_each_pass() {
    let driven = |seeder_start| {
        let layout = laid_out(&[4], &blocks(2), &Ground { seeder_start, ..ground(4) });
        let trips = layout.seeding_order();
        let numbers =
            |plots: &[usize]| plots.iter().map(|&index| layout.plots[index].number.unwrap()).collect::<Vec<_>>();
        trips.iter().map(|trip| (trip.pass, trip.heading, numbers(&trip.plots))).collect::<Vec<_>>()
    };
    let (back, front) = (Heading::ToBack, Heading::ToFront);
    // The map: 204 203 202 201 behind 101 102 103 104.
    assert_eq!(
        driven(Corner::FrontLeft),
        [(1, back, vec![101, 204]), (2, front, vec![203, 102]), (3, back, vec![103, 202]), (4, front, vec![201, 104])]
    );
    assert_eq!(driven(Corner::FrontRight)[..2], [(4, back, vec![104, 201]), (3, front, vec![202, 103])]);
    assert_eq!(driven(Corner::BackLeft)[..2], [(1, front, vec![204, 101]), (2, back, vec![102, 203])]);
    assert_eq!(driven(Corner::BackRight)[..2], [(4, front, vec![201, 104]), (3, back, vec![103, 202])]);
}

#[test]
fn walking_turns_at_the_end_of_each_range_and_leaves_guards_out() {
    let straight = Ground { numbering: Numbering::Straight, guards_at_range_ends: 1, guard_ranges: 2, ..ground(3) };
    let layout = laid_out(&[3], &blocks(2), &straight);
    let walked: Vec<u32> = layout.walking_order().iter().map(|&index| layout.plots[index].number.unwrap()).collect();
    assert_eq!(walked, [101, 102, 103, 203, 202, 201]);
}

#[test]
fn a_layout_is_read_back_as_it_was_written() {
    let layout = laid_out(&[2, 3], &split_plot(2, &["f1"]), &ground(6));
    let json = serde_json::to_string(&layout).expect("a layout is JSON");
    assert_eq!(serde_json::from_str::<Layout>(&json).expect("and back"), layout);
    assert!(json.contains(r#""x_m":4.56,"#), "no dust of binary sums: {json}");
    assert!(json.contains(r#""kind":"plot""#) && json.contains(r#""numbering":"serpentine""#));
}

#[test]
fn a_misspelt_decision_is_not_passed_over() {
    let mut json = serde_json::to_value(ground(3)).expect("a ground is JSON");
    json["guard_range"] = 1.into();
    let refused = serde_json::from_value::<Ground>(json).expect_err("no such field");
    assert!(refused.to_string().contains("unknown field `guard_range`"), "{refused}");
}

/// The largest trial that is accepted stays a matter of moments: work in proportion to the plots, not to their square.
#[test]
fn the_largest_trial_is_laid_out_and_walked() {
    let layout = laid_out(&[5_000], &blocks(10), &ground(5_000));
    assert_eq!((layout.walking_order().len(), layout.seeding_order().len()), (50_000, 5_000));
    let long = laid_out(&[2], &blocks(25_000), &ground(2));
    assert_eq!((long.walking_order().len(), long.drawing(number).lines().count()), (50_000, 25_000));
}

/// Any plan with a ground that can hold it.
fn any_layout() -> impl Strategy<Value = (TreatmentStructure, Arrangement, Ground, Seed)> {
    let plan = prop_oneof![any_unsplit_plan(), any_split_plan()];
    let corner =
        prop_oneof![Just(Corner::FrontLeft), Just(Corner::FrontRight), Just(Corner::BackLeft), Just(Corner::BackRight)];
    (plan, any::<prop::sample::Index>(), 0..3usize, 0..3usize, any::<bool>(), corner, any_seed()).prop_map(
        |((treatments, arrangement), width, guards, guard_ranges, straight, seeder_start, seed)| {
            let drawn = draw(&treatments, &arrangement, seed).unwrap();
            let first = &drawn.plots[0];
            let in_replicate = drawn.plots.iter().filter(|plot| plot.replicate == 1).count();
            let main_plot = drawn.plots.iter().filter(|p| p.replicate == 1 && p.units == first.units).count();
            let unit = if !first.units.is_empty() { main_plot } else { 1 };
            let plots_per_range = unit * (1 + width.index(in_replicate / unit));
            let numbering = if straight { Numbering::Straight } else { Numbering::Serpentine };
            let between = if !first.units.is_empty() && plots_per_range > unit { guards } else { 0 };
            let ground = Ground {
                numbering,
                seeder_start,
                guards_at_range_ends: guards,
                guard_ranges,
                guards_between_main_plots: between,
                ..ground(plots_per_range)
            };
            (treatments, arrangement, ground, seed)
        },
    )
}

proptest! {
    #[test]
    fn every_drawn_plot_has_its_own_place_and_number((treatments, arrangement, ground, seed) in any_layout()) {
        let drawn = draw(&treatments, &arrangement, seed).unwrap();
        let layout = lay_out(&drawn, &ground).unwrap();
        let numbered = layout.in_number_order();
        let kept: Vec<_> = numbered.iter().map(|p| (p.replicate.unwrap(), p.units.clone(), p.treatment.unwrap())).collect();
        let meant: Vec<_> = drawn.plots.iter().map(|p| (p.replicate, p.units.clone(), p.treatment)).collect();
        prop_assert_eq!(kept, meant, "numbers follow the draw");
        prop_assert!(numbered.windows(2).all(|pair| pair[0].number < pair[1].number));
        prop_assert!(numbered.iter().all(|plot| layout.plot(plot.number.unwrap()) == Some(*plot)));
        let places: Vec<_> = layout.plots.iter().map(|plot| (plot.range, plot.pass)).collect();
        let grid: Vec<_> = (1..=layout.ranges).flat_map(|r| (1..=layout.passes).map(move |p| (r, p))).collect();
        prop_assert_eq!(places, grid, "the ground is covered once");
    }

    #[test]
    fn plots_and_alleys_make_up_the_whole_ground((treatments, arrangement, ground, seed) in any_layout()) {
        let layout = lay_out(&draw(&treatments, &arrangement, seed).unwrap(), &ground).unwrap();
        let plots: f64 = layout.plots.iter().map(|plot| plot.width_m * plot.length_m).sum();
        let replicate_of = |range: usize| layout.plots[(range - 1) * layout.passes].replicate;
        let alleys: f64 = (1..layout.ranges)
            .map(|range| match (replicate_of(range), replicate_of(range + 1)) {
                (Some(a), Some(b)) if a != b => 3.0,
                _ => 2.0,
            })
            .sum();
        // Some hundred additions of doubles; sides given to the centimetre are not changed by rounding to the micrometre.
        let sum = plots + alleys * layout.width_m;
        prop_assert!((sum - layout.area_m2()).abs() < 1e-12 * sum, "{} against {}", sum, layout.area_m2());
        for plot in &layout.plots {
            prop_assert!(plot.x_m >= 0.0 && plot.x_m + plot.width_m <= layout.width_m + 1e-9);
            prop_assert!(plot.y_m >= 0.0 && plot.y_m + plot.length_m <= layout.length_m + 1e-9);
        }
    }

    #[test]
    fn main_plots_lie_in_one_piece((treatments, arrangement, ground, seed) in any_layout()) {
        let layout = lay_out(&draw(&treatments, &arrangement, seed).unwrap(), &ground).unwrap();
        let numbered = layout.in_number_order();
        for pair in numbered.windows(2).filter(|p| !p[0].units.is_empty()) {
            if (pair[0].replicate, &pair[0].units) == (pair[1].replicate, &pair[1].units) {
                prop_assert_eq!(pair[0].range, pair[1].range);
                prop_assert_eq!(pair[0].pass.abs_diff(pair[1].pass), 1);
            }
        }
    }

    #[test]
    fn the_seeder_passes_every_plot_once_and_the_walker_every_numbered_one((treatments, arrangement, ground, seed) in any_layout()) {
        let layout = lay_out(&draw(&treatments, &arrangement, seed).unwrap(), &ground).unwrap();
        let mut seeded: Vec<usize> = layout.seeding_order().into_iter().flat_map(|trip| trip.plots).collect();
        for pair in seeded.windows(2) {
            let (a, b) = (&layout.plots[pair[0]], &layout.plots[pair[1]]);
            prop_assert_eq!(a.pass.abs_diff(b.pass) + a.range.abs_diff(b.range), 1, "the seeder never jumps");
        }
        seeded.sort_unstable();
        prop_assert_eq!(seeded, (0..layout.plots.len()).collect::<Vec<_>>());
        let walked = layout.walking_order();
        if ground.numbering == Numbering::Serpentine {
            let numbers: Vec<_> = walked.iter().map(|&index| layout.plots[index].number).collect();
            prop_assert!(numbers.is_sorted());
        }
        prop_assert_eq!(walked.len(), arrangement.plot_count(&treatments));
    }
}

/// What programs see of a draw and a layout: a seed is a text, and places of work are words.
#[test]
fn schemas_say_how_values_are_written() {
    use utoipa::PartialSchema;
    let seed = serde_json::to_value(Seed::schema()).expect("a schema is JSON");
    assert_eq!(seed["type"], "string");
    let numbering = serde_json::to_value(Numbering::schema()).expect("a schema is JSON");
    assert_eq!(numbering["enum"], serde_json::json!(["straight", "serpentine"]));
    let plot = serde_json::to_value(Plot::schema()).expect("a schema is JSON");
    assert_eq!(plot["properties"]["number"]["type"], serde_json::json!(["integer", "null"]));
}

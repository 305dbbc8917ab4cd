//! What every draw must do, for every seed, and that draws are fair.

mod plans;

use guardrow_design::{ALGORITHM, Arrangement, Draw, RandomStream, Seed, TreatmentStructure, draw};
use plans::{any_seed, any_split_plan, any_unsplit_plan, blocks, completely_random, split_plot, treatments};
use proptest::prelude::*;

/// The treatments of each replicate in position order.
fn by_replicate(draw: &Draw) -> Vec<Vec<usize>> {
    let replicates = draw.plots.chunk_by(|a, b| a.replicate == b.replicate);
    replicates.map(|plots| plots.iter().map(|plot| plot.treatment).collect()).collect()
}

fn sorted(mut items: Vec<usize>) -> Vec<usize> {
    items.sort_unstable();
    items
}

proptest! {
    #[test]
    fn each_treatment_is_once_in_each_replicate(
        (treatments, arrangement) in any_unsplit_plan(), seed in any_seed()
    ) {
        let drawn = draw(&treatments, &arrangement, seed).unwrap();
        let times = if matches!(arrangement, Arrangement::CompletelyRandom { .. }) { arrangement.replicates() } else { 1 };
        let wanted: Vec<usize> = (0..treatments.treatment_count())
            .flat_map(|treatment| vec![treatment; treatments.plots_of(treatment) * times])
            .collect();
        let replicates = by_replicate(&drawn);
        prop_assert_eq!(replicates.len() * times, arrangement.replicates());
        for replicate in replicates {
            prop_assert_eq!(sorted(replicate), wanted.clone());
        }
        prop_assert_eq!(drawn.plots.len(), arrangement.plot_count(&treatments));
        prop_assert!(drawn.plots.iter().all(|plot| plot.units.is_empty()));
    }

    #[test]
    fn each_main_plot_holds_one_combination_of_its_factors_with_all_of_the_others(
        (treatments, arrangement) in any_split_plan(), seed in any_seed()
    ) {
        let drawn = draw(&treatments, &arrangement, seed).unwrap();
        let all = treatments.treatments();
        let parts = |treatment: usize| -> (Vec<usize>, Vec<usize>) {
            let on_main = |index: usize| arrangement.unit_of(&treatments.factors[index].name, &treatments) == "main plot";
            let (main, within): (Vec<_>, Vec<_>) = all[treatment].levels.iter().enumerate().partition(|(i, _)| on_main(*i));
            (main.into_iter().map(|(_, l)| *l).collect(), within.into_iter().map(|(_, l)| *l).collect())
        };
        let main_plots = drawn.plots.chunk_by(|a, b| (a.replicate, &a.units) == (b.replicate, &b.units));
        for main_plot in main_plots {
            let first = parts(main_plot[0].treatment).0;
            prop_assert!(main_plot.iter().all(|plot| parts(plot.treatment).0 == first));
            let mut within: Vec<Vec<usize>> = main_plot.iter().map(|plot| parts(plot.treatment).1).collect();
            within.sort();
            within.dedup();
            prop_assert_eq!(within.len(), main_plot.len());
        }
        for replicate in by_replicate(&drawn) {
            prop_assert_eq!(sorted(replicate), (0..all.len()).collect::<Vec<_>>());
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_draw((treatments, arrangement) in any_split_plan(), seed in any_seed()) {
        let again: Seed = seed.to_string().parse().unwrap();
        prop_assert_eq!(draw(&treatments, &arrangement, seed), draw(&treatments, &arrangement, again));
    }
}

/// Frozen draws. Source: `reference/draws.py`, an implementation in plain Python of `docs/numbers/randomisation.md`.
/// If this fails, layouts that stations have printed can no longer be drawn again: restore the old algorithm.
#[test]
fn draws_are_those_of_the_independent_implementation() {
    let cases: serde_json::Value =
        serde_json::from_str(include_str!("reference/draws.json")).expect("the file is JSON");
    let cases = cases.as_array().expect("a list of cases");
    assert_eq!(cases.len(), 6);
    for case in cases {
        let numbers = |key: &str| -> Vec<usize> { serde_json::from_value(case[key].clone()).expect(key) };
        let arrangement: Arrangement = serde_json::from_value(case["arrangement"].clone()).expect("an arrangement");
        let seed: Seed = serde_json::from_value(case["seed"].clone()).expect("a seed");
        let drawn =
            draw(&treatments(&numbers("levels"), &numbers("controls")), &arrangement, seed).expect("a good plan");
        assert_eq!(drawn.algorithm, 1);
        assert_eq!(serde_json::json!(by_replicate(&drawn)), case["replicates"], "{}", case["name"]);
    }
}

#[test]
fn the_draw_records_algorithm_and_seed() {
    let drawn = draw(&treatments(&[3], &[]), &blocks(2), Seed::from_number(9)).expect("a good plan");
    assert_eq!((drawn.algorithm, drawn.seed), (ALGORITHM, Seed::from_number(9)));
}

const SEEDS: u64 = 10_000;

/// Upper and lower 0.1 % points of chi-square.
/// Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.4 (from memory); confirmed with
/// scipy.stats.chi2.ppf to the digits given.
fn points(df: usize) -> (f64, f64) {
    match df {
        4 => (0.091, 18.467),
        9 => (1.152, 27.877),
        11 => (1.834, 31.264),
        16 => (3.942, 39.252),
        22 => (6.983, 48.268),
        24 => (8.085, 51.179),
        _ => panic!("no critical value for {df} degrees of freedom"),
    }
}

fn assert_fair(statistic: f64, df: usize, what: &str) {
    let (low, high) = points(df);
    assert!(
        low < statistic && statistic < high,
        "{what}: chi-square {statistic:.2} on {df} df, not within {low} to {high}"
    );
}

/// Chi-square of counts that should be equal, items (rows) on places (columns), when `times` plots of each item were
/// shuffled together onto all places.
///
/// A shuffle of n plots has covariance (I - J/n) x (I - J/n) / (n - 1); summed over the `times` plots of an item, the sum of
/// squared deviations times (n - 1) / (times x draws) is chi-square with (items - 1)(n - 1) degrees of freedom.
fn shuffle_statistic(counts: &[Vec<u32>], times: usize) -> f64 {
    let (items, places) = (counts.len() as f64, counts[0].len() as f64);
    let draws = f64::from(counts.iter().map(|row| row[0]).sum::<u32>());
    let expected = draws / items;
    let squares: f64 = counts.iter().flatten().map(|&count| (f64::from(count) - expected).powi(2)).sum();
    squares * (places - 1.0) / (times as f64 * draws)
}

/// Ordinary chi-square of counts that should all be equal.
fn equal_cells_statistic(counts: &[u32]) -> f64 {
    let expected = f64::from(counts.iter().sum::<u32>()) / counts.len() as f64;
    counts.iter().map(|&count| (f64::from(count) - expected).powi(2) / expected).sum()
}

fn draws_of(treatments: &TreatmentStructure, arrangement: &Arrangement) -> impl Iterator<Item = Vec<Vec<usize>>> {
    (0..SEEDS).map(move |number| {
        by_replicate(&draw(treatments, arrangement, Seed::from_number(number)).expect("a good plan"))
    })
}

#[test]
fn in_blocks_each_treatment_falls_on_each_plot_equally_often() {
    let mut counts = vec![vec![vec![0; 5]; 5]; 2];
    let mut together = vec![0; 25];
    for replicates in draws_of(&treatments(&[5], &[]), &blocks(2)) {
        for (replicate, order) in replicates.iter().enumerate() {
            order.iter().enumerate().for_each(|(place, &treatment)| counts[replicate][treatment][place] += 1);
        }
        together[replicates[0][0] * 5 + replicates[1][0]] += 1;
    }
    assert_fair(shuffle_statistic(&counts[0], 1), 16, "replicate 1");
    assert_fair(shuffle_statistic(&counts[1], 1), 16, "replicate 2");
    assert_fair(equal_cells_statistic(&together), 24, "first plot of replicate 1 with first plot of replicate 2");
}

#[test]
fn without_blocks_each_treatment_falls_on_each_plot_equally_often() {
    let mut counts = vec![vec![0; 12]; 3];
    for replicates in draws_of(&treatments(&[3], &[]), &completely_random(4)) {
        replicates[0].iter().enumerate().for_each(|(place, &treatment)| counts[treatment][place] += 1);
    }
    assert_fair(shuffle_statistic(&counts, 4), 22, "12 plots");
}

#[test]
fn in_split_plots_main_plots_and_plots_are_fair() {
    let (mut main, mut within) = (vec![vec![0; 3]; 3], vec![vec![vec![0; 4]; 4]; 3]);
    let mut on_plot = vec![vec![0; 12]; 12];
    for replicates in draws_of(&treatments(&[3, 4], &[]), &split_plot(1, &["f1"])) {
        for (place, &treatment) in replicates[0].iter().enumerate() {
            on_plot[place][treatment] += 1;
            within[place / 4][treatment % 4][place % 4] += 1;
            if place % 4 == 0 {
                main[treatment / 4][place / 4] += 1;
            }
        }
    }
    assert_fair(shuffle_statistic(&main, 1), 4, "main plots");
    within.iter().for_each(|counts| assert_fair(shuffle_statistic(counts, 1), 9, "plots in a main plot"));
    on_plot.iter().for_each(|counts| assert_fair(equal_cells_statistic(counts), 11, "all treatments on one plot"));
}

/// The check above can fail: exchanging every item with any other, a common mistake, is caught by it.
#[test]
fn an_unfair_shuffle_is_caught() {
    let mut counts = vec![vec![0; 5]; 5];
    for number in 0..SEEDS {
        let mut stream = RandomStream::new(&Seed::from_number(number));
        let mut order: Vec<usize> = (0..5).collect();
        (0..5).for_each(|place| order.swap(place, stream.below(5) as usize));
        order.iter().enumerate().for_each(|(place, &treatment)| counts[treatment][place] += 1);
    }
    assert!(shuffle_statistic(&counts, 1) > 10.0 * points(16).1);
}

//! How often tests and intervals of counts, shares and scores miss, by simulation with fixed seeds.
//!
//! Treatments do nothing, so a test at 5 % should reject in 5 of 100 trials and a 95 % interval of a difference hold zero in 95. The
//! long run (`cargo test --release -p guardrow-inference --test discrete -- --ignored --nocapture`) makes the tables of
//! `docs/numbers/counts-and-proportions.md` and `docs/numbers/scores.md` and checks them; `GUARDROW_REFRESH_TABLES=1` writes them anew.

use crate::trial::{analysed, binomial, blocks, counts, poisson, predictors, shares, split_plot, stream, uniform};
use guardrow_inference::ordinal::ScoreLink;
use guardrow_inference::{DiscreteKind, Experiment};
use std::collections::BTreeMap;
use std::path::Path;

/// Where scores are cut on the hidden scale.
const CUTS: [f64; 4] = [-2.0, -0.7, 0.7, 2.0];

struct Simulated {
    name: &'static str,
    trial: Experiment,
    kind: DiscreteKind,
    /// Mean of every treatment on the link's scale.
    level: f64,
    /// Standard deviations of the units, plots last.
    sd: Vec<f64>,
}

fn trials() -> Vec<Simulated> {
    let (split, wide, narrow) =
        (split_plot(4), blocks(4, &["1", "2", "3", "4", "5"]), blocks(3, &["1", "2", "3", "4"]));
    let of = |trial: &Experiment, of: f64| shares(of, trial.treatment.len());
    vec![
        Simulated {
            name: "split-plot, 35 of 50",
            kind: of(&split, 50.0),
            trial: split.clone(),
            level: 0.85,
            sd: vec![0.3, 0.4, 0.4],
        },
        Simulated {
            name: "split-plot, counts of 8",
            kind: counts(),
            trial: split,
            level: 2.08,
            sd: vec![0.3, 0.4, 0.4],
        },
        Simulated {
            name: "blocks, 35 of 50",
            kind: of(&wide, 50.0),
            trial: wide.clone(),
            level: 0.85,
            sd: vec![0.3, 0.4],
        },
        Simulated {
            name: "blocks, no variation but counting",
            kind: of(&wide, 50.0),
            trial: wide.clone(),
            level: 0.85,
            sd: vec![0.3, 0.0],
        },
        Simulated { name: "blocks, counts of 3", kind: counts(), trial: wide, level: 1.1, sd: vec![0.3, 0.4] },
        Simulated { name: "three blocks, counts of 20", kind: counts(), trial: narrow, level: 3.0, sd: vec![0.3, 0.4] },
    ]
}

/// One score of each plot: five steps, the logistic scale. What plots vary beyond it cannot be seen from one score.
fn scored_trials() -> Vec<Simulated> {
    let scores = || DiscreteKind::Scores { link: ScoreLink::Logit };
    let (split, wide) = (split_plot(6), blocks(8, &["1", "2", "3", "4", "5"]));
    let small = blocks(4, &["1", "2", "3", "4", "5"]);
    vec![
        Simulated {
            name: "split-plot in six blocks",
            kind: scores(),
            trial: split,
            level: 0.0,
            sd: vec![0.5, 0.5, 0.0],
        },
        Simulated { name: "eight blocks", kind: scores(), trial: wide, level: 0.0, sd: vec![0.5, 0.0] },
        Simulated { name: "four blocks", kind: scores(), trial: small, level: 0.0, sd: vec![0.5, 0.0] },
    ]
}

/// For each test and interval how often it missed, and of how many trials; and in how many trials there was no analysis.
fn simulate(it: &Simulated, runs: usize) -> (BTreeMap<String, (usize, usize)>, usize) {
    let mut refused = 0;
    let mut stream = stream(7);
    let treatments = it.trial.treatments.treatment_count();
    let mut missed: BTreeMap<String, (usize, usize)> = BTreeMap::new();
    let mut note = |name: String, is_missed: bool| {
        let entry = missed.entry(name).or_default();
        *entry = (entry.0 + usize::from(is_missed), entry.1 + 1);
    };
    for _ in 0..runs {
        let eta = predictors(&it.trial, &vec![it.level; treatments], &it.sd, &mut stream);
        let value = |eta: &f64| match &it.kind {
            DiscreteKind::Shares { .. } => binomial(&mut stream, 50, 1.0 / (1.0 + (-eta).exp())),
            DiscreteKind::Counts { .. } => poisson(&mut stream, eta.exp()),
            DiscreteKind::Scores { .. } => {
                let hidden = eta + (1.0 / uniform(&mut stream) - 1.0).ln();
                CUTS.iter().filter(|cut| hidden > **cut).count() as f64 + 1.0
            }
        };
        let response = eta.iter().map(value).map(Some).collect();
        let experiment = Experiment { response, ..it.trial.clone() };
        let Ok(analysis) = analysed(&experiment, &it.kind) else {
            refused += 1;
            continue;
        };
        for test in &analysis.tests {
            note(format!("F of {}", test.label), test.p < 0.05);
        }
        let mut weights = vec![0.0; treatments];
        (weights[0], weights[1]) = (1.0, -1.0);
        for (name, estimate) in [
            ("difference", analysis.contrast(&weights)),
            ("difference on the model's scale", analysis.link_contrast(&weights)),
        ] {
            if let Ok(estimate) = estimate {
                let (lower, upper) = estimate.interval(0.05);
                note(format!("interval of a {name}"), lower > 0.0 || upper < 0.0);
            }
        }
    }
    (missed, refused)
}

/// Simulates; a share above `worst` is not let pass. One far below 5 % is no fault of this kind: the page tells it.
fn table(trials: &[Simulated], runs: usize, worst: f64) -> Vec<String> {
    let mut lines = Vec::new();
    for it in trials {
        let (missed, refused) = simulate(it, runs);
        assert!(refused * 25 < runs, "{}: {refused} of {runs} trials without an analysis", it.name);
        for (what, (missed, of)) in missed {
            let share = 100.0 * missed as f64 / of as f64;
            lines.push(format!("| {} | {what} | {share:.1} | {of} |", it.name));
            println!("{}", lines[lines.len() - 1]);
            assert!(share < worst, "{}, {what}: {share} % missed", it.name);
        }
    }
    lines
}

/// The page holds what was found: the seeds are fixed, so that only rounding in the last place of a p may move a count.
fn check_page(name: &str, lines: &[String]) {
    const HEAD: &str = "| trial | what | missed, % | trials |\n|---|---|---|---|\n";
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/numbers").join(name);
    let text = std::fs::read_to_string(&page).expect("the page is there");
    let start = text.find(HEAD).expect("the page has the table") + HEAD.len();
    let end = start + text[start..].find("\n\n").expect("something stands below the table");
    if std::env::var_os("GUARDROW_REFRESH_TABLES").is_some() {
        let fresh = format!("{}{}{}", &text[..start], lines.join("\n"), &text[end..]);
        return std::fs::write(&page, fresh).expect("the page can be written");
    }
    let told: Vec<&str> = text[start..end].lines().collect();
    assert_eq!(told.len(), lines.len());
    let share = |line: &str| line.split('|').nth(3).and_then(|cell| cell.trim().parse::<f64>().ok()).unwrap();
    for (told, found) in told.iter().zip(lines) {
        assert!((share(told) - share(found)).abs() < 0.3, "the page says {told}, found {found}");
    }
}

#[test]
fn size_and_coverage_in_a_short_run() {
    table(&trials()[4..], 60, 18.0);
    table(&scored_trials()[1..2], 40, 20.0);
}

#[test]
#[ignore = "takes minutes; makes the table of docs/numbers/counts-and-proportions.md"]
fn size_and_coverage_of_counts_and_shares() {
    check_page("counts-and-proportions.md", &table(&trials(), 2000, 10.0));
}

#[test]
#[ignore = "takes minutes; makes the table of docs/numbers/scores.md"]
fn size_and_coverage_of_scores() {
    check_page("scores.md", &table(&scored_trials(), 2000, 10.0));
}

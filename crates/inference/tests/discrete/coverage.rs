//! How often tests and intervals of counts miss, by simulation with fixed seeds.

use crate::trial::{analysed, binomial, blocks, counts, poisson, predictors, shares, split_plot, stream};
use guardrow_inference::{DiscreteKind, Experiment};
use std::collections::BTreeMap;

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

/// For each test and interval how often it missed.
fn simulate(it: &Simulated, runs: usize) -> BTreeMap<String, (usize, usize)> {
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
            DiscreteKind::Scores { .. } => unreachable!("no scores are simulated"),
        };
        let response = eta.iter().map(value).map(Some).collect();
        let experiment = Experiment { response, ..it.trial.clone() };
        let Ok(analysis) = analysed(&experiment, &it.kind) else {
            note("no analysis".into(), true);
            continue;
        };
        for test in &analysis.tests {
            note(format!("F of {}", test.label), test.p < 0.05);
        }
        let mut weights = vec![0.0; treatments];
        (weights[0], weights[1]) = (1.0, -1.0);
        for (name, estimate) in [
            ("difference", analysis.contrast(&weights)),
            ("difference on the link's scale", analysis.link_contrast(&weights)),
        ] {
            if let Ok(estimate) = estimate {
                let (lower, upper) = estimate.interval(0.05);
                note(format!("interval of a {name}"), lower > 0.0 || upper < 0.0);
            }
        }
    }
    missed
}

#[test]
#[ignore = "long"]
fn table() {
    for it in trials() {
        for (name, (missed, runs)) in simulate(&it, 1000) {
            println!("| {} | {name} | {:.1} | {runs} |", it.name, 100.0 * missed as f64 / runs as f64);
        }
    }
}

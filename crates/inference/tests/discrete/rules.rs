//! What holds for counts, shares and scores of any trial.

use crate::trial::{analysed, binomial, blocks, counts, poisson, predictors, shares, split_plot, stream, uniform};
use guardrow_design::{BlockStructure, Scope};
use guardrow_inference::generalised::CountSpread;
use guardrow_inference::ordinal::ScoreLink;
use guardrow_inference::{DiscreteAnalysis, DiscreteKind, Experiment, Options, analyse, plain_values};

const SD: [f64; 3] = [0.3, 0.4, 0.4];

fn shared(seed: u64) -> (Experiment, DiscreteKind) {
    let trial = split_plot(4);
    let mut stream = stream(seed);
    let level: Vec<f64> = (0..12).map(|it| 0.2 * f64::from(it) - 1.0).collect();
    let eta = predictors(&trial, &level, &SD, &mut stream);
    let response = eta.iter().map(|eta| Some(binomial(&mut stream, 50, 1.0 / (1.0 + (-eta).exp())))).collect();
    let kind = shares(50.0, trial.treatment.len());
    (Experiment { response, ..trial }, kind)
}

fn counted(seed: u64) -> Experiment {
    let trial = split_plot(4);
    let mut stream = stream(seed);
    let level: Vec<f64> = (0..12).map(|it| 0.1 * f64::from(it) + 1.0).collect();
    let eta = predictors(&trial, &level, &SD, &mut stream);
    let response = eta.iter().map(|eta| Some(poisson(&mut stream, eta.exp()))).collect();
    Experiment { response, ..trial }
}

fn scored(seed: u64) -> (Experiment, DiscreteKind) {
    let trial = split_plot(6);
    let mut stream = stream(seed);
    let level: Vec<f64> = (0..12).map(|it| 0.3 * f64::from(it)).collect();
    let eta = predictors(&trial, &level, &SD, &mut stream);
    let score = |eta: &f64| {
        let hidden = eta + (1.0 / uniform(&mut stream) - 1.0).ln();
        Some([0.0, 1.2, 2.4, 3.6].iter().filter(|cut| hidden > **cut).count() as f64 * 2.0 + 1.0)
    };
    let response = eta.iter().map(score).collect();
    (Experiment { response, ..trial }, DiscreteKind::Scores { link: ScoreLink::Logit })
}

fn close(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance * expected.abs().max(1.0), "{what}: {found} instead of {expected}");
}

fn all() -> Vec<(Experiment, DiscreteKind)> {
    vec![shared(1), shared(2), (counted(3), counts()), scored(4)]
}

#[test]
fn differences_are_those_of_the_table_and_have_the_layouts_degrees_of_freedom() {
    for (trial, kind) in all() {
        let found = analysed(&trial, &kind).unwrap();
        let plain = Experiment { response: plain_values(&kind, &trial.response), ..trial.clone() };
        let plain = analyse(&plain, &Options::default()).unwrap();
        let table = found.table(&["a", "b"]).unwrap();
        for (a, b) in [(0, 1), (0, 4), (5, 11)] {
            let mut weights = vec![0.0; 12];
            (weights[a], weights[b]) = (1.0, -1.0);
            let difference = found.contrast(&weights).unwrap();
            close(difference.estimate, table.cells[a].mean - table.cells[b].mean, 1e-12, "difference");
            close(difference.df, plain.contrast(&weights).unwrap().df, 1e-12, "df");
            let pair = table.pairs.iter().find(|pair| (pair.a, pair.b) == (a, b)).unwrap();
            close(pair.se, difference.se, 1e-10, "SE");
            close(pair.p, found.link_contrast(&weights).unwrap().p(), 1e-9, "p");
        }
        for (test, plain) in found.tests.iter().zip(&plain.tests) {
            assert_eq!((&test.label, test.num_df), (&plain.label, plain.num_df));
            close(test.den_df, plain.den_df, 1e-9, "error df");
        }
    }
}

#[test]
fn averages_of_treatments_are_the_means_of_a_factor() {
    let (trial, kind) = shared(5);
    let found = analysed(&trial, &kind).unwrap();
    let all = found.table(&["a", "b"]).unwrap();
    for (index, cell) in found.table(&["a"]).unwrap().cells.iter().enumerate() {
        let mean = all.cells[4 * index..4 * index + 4].iter().map(|cell| cell.mean).sum::<f64>() / 4.0;
        close(cell.mean, mean, 1e-12, &cell.label);
    }
}

#[test]
fn intervals_stay_within_what_is_possible() {
    let inside = |found: &DiscreteAnalysis, low: f64, high: f64| {
        for cell in found.tables.iter().flat_map(|table| &table.cells) {
            let (lower, upper) = (cell.lower.unwrap(), cell.upper.unwrap());
            assert!(low < lower && lower < cell.mean && cell.mean < upper && upper < high, "{cell:?}");
        }
    };
    let (trial, kind) = shared(6);
    inside(&analysed(&trial, &kind).unwrap(), 0.0, 100.0);
    inside(&analysed(&counted(7), &counts()).unwrap(), 0.0, f64::INFINITY);
    let (trial, kind) = scored(8);
    inside(&analysed(&trial, &kind).unwrap(), 1.0, 9.0);
}

#[test]
fn the_order_of_plots_does_not_matter() {
    for (trial, kind) in all() {
        let count = trial.treatment.len();
        let order: Vec<usize> = (0..count).map(|plot| (plot * 7 + 3) % count).collect();
        let pick = |values: &[usize]| order.iter().map(|&plot| values[plot]).collect::<Vec<_>>();
        let turned = Experiment {
            units: trial.units.iter().map(|(name, units)| (name.clone(), pick(units))).collect(),
            treatment: pick(&trial.treatment),
            response: order.iter().map(|&plot| trial.response[plot]).collect(),
            ..trial.clone()
        };
        let (one, other) = (analysed(&trial, &kind).unwrap(), analysed(&turned, &kind).unwrap());
        close(one.log_likelihood, other.log_likelihood, 1e-8, "log-likelihood");
        for (one, other) in one.tests.iter().zip(&other.tests) {
            close(one.f, other.f, 1e-5, "F");
        }
    }
}

#[test]
fn twice_the_area_is_half_the_count_per_area() {
    let trial = counted(9);
    let plots = trial.treatment.len();
    let on = |area: f64| {
        let searched = (0..plots).map(|plot| Some(area * (1.0 + (plot % 3) as f64))).collect();
        let kind = DiscreteKind::Counts { searched: Some(searched), spread: CountSpread::Poisson };
        analysed(&trial, &kind).unwrap()
    };
    let (one, two) = (on(1.0), on(2.0));
    for (one, two) in one.tables.iter().zip(&two.tables).flat_map(|(one, two)| one.cells.iter().zip(&two.cells)) {
        close(two.mean, 0.5 * one.mean, 1e-7, "mean");
        close(two.upper.unwrap(), 0.5 * one.upper.unwrap(), 1e-6, "end of the interval");
    }
}

#[test]
fn a_treatment_in_which_nothing_came_up_is_told_apart() {
    let (mut trial, kind) = shared(10);
    for (value, &treatment) in trial.response.iter_mut().zip(&trial.treatment) {
        if treatment == 2 {
            *value = Some(0.0);
        }
    }
    let found = analysed(&trial, &kind).unwrap();
    let [edge] = found.at_edge.as_slice() else { panic!("{:?}", found.at_edge) };
    assert_eq!((edge.mean, edge.lower), (0.0, Some(0.0)));
    // none of 200: 1 - 0.025^(1/200), Clopper & Pearson (1934)
    close(edge.upper.unwrap(), 100.0 * (1.0 - 0.025_f64.powf(1.0 / 200.0)), 1e-12, "upper end");
    let table = found.table(&["a", "b"]).unwrap();
    assert_eq!(table.cells.len(), 11);
    let mut weights = vec![0.0; 12];
    (weights[2], weights[3]) = (1.0, -1.0);
    assert!(found.contrast(&weights).is_err());
    assert!(found.tests.iter().any(|test| test.label == "a x b" && test.num_df < 6.0));
}

#[test]
fn a_plot_without_the_number_sown_is_missing() {
    let (trial, _) = shared(11);
    let mut of = vec![Some(50.0); trial.treatment.len()];
    of[5] = None;
    let kind = DiscreteKind::Shares { of, link: Default::default() };
    let found = analysed(&trial, &kind).unwrap();
    assert_eq!((found.plots_used, found.plots_missing), (47, vec![5]));
}

#[test]
fn fixed_sites_have_means_of_their_own() {
    let one = blocks(8, &["x", "y", "z"]);
    let mut stream = stream(12);
    let site: Vec<usize> = one.units[0].1.iter().map(|block| block / 4).collect();
    let blocks = one.units[0].1.iter().map(|block| block % 4).collect();
    let response = site.iter().map(|&site| Some(poisson(&mut stream, 5.0 + 20.0 * site as f64))).collect();
    let trial = Experiment {
        blocks: BlockStructure::unit("site").nest(BlockStructure::unit("block")).nest(BlockStructure::unit("plot")),
        units: vec![("site".into(), site), ("block".into(), blocks)],
        environments: vec!["site".into()],
        scope: Scope::TheseEnvironments,
        response,
        ..one
    };
    let found = analysed(&trial, &counts()).unwrap();
    let sites = found.table(&["site"]).unwrap();
    assert!(sites.cells[1].mean > 3.0 * sites.cells[0].mean, "{sites:?}");
    assert_eq!(found.table(&["site", "a"]).unwrap().cells.len(), 6);
    assert!(found.tests.iter().any(|test| test.label == "site x a"));
}

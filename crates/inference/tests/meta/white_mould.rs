//! Published trials of white mould in soybean: correlation and slope of yield on incidence, from the plots' means of each trial.
//!
//! Source: Lehner et al. (2016), Plant Pathology, doi:10.1111/ppa.12590; golden values by metafor 3.8-1.

use crate::{close, golden, number, numbers};
use guardrow_inference::meta::{JoinedTrials, KnownErrors, TrialSummary, join_trials};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

/// Yield and incidence of every trial.
fn fields() -> BTreeMap<String, Vec<(f64, f64)>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/white-mould-trials-meta/data.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let heading = reader.headers().unwrap().clone();
    let at = |name: &str| heading.iter().position(|it| it == name).unwrap();
    let (trial, yields, incidence) = (at("trial"), at("yield"), at("mould_incidence"));
    let mut fields: BTreeMap<String, Vec<(f64, f64)>> = BTreeMap::new();
    for row in reader.records().map(Result::unwrap) {
        // a treatment without one of the two is left out
        if let (Ok(y), Ok(x)) = (row[yields].parse(), row[incidence].parse()) {
            fields.entry(row[trial].to_owned()).or_default().push((x, y));
        }
    }
    fields
}

struct Line {
    correlation: f64,
    slope: f64,
    se: f64,
}

fn line(points: &[(f64, f64)]) -> Line {
    let n = points.len() as f64;
    let (mx, my) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let sum = |of: &dyn Fn(f64, f64) -> f64| points.iter().map(|&(x, y)| of(x - mx, y - my)).sum::<f64>();
    let (xx, xy, yy) = (sum(&|x, _| x * x), sum(&|x, y| x * y), sum(&|_, y| y * y));
    let slope = xy / xx;
    let rest = sum(&|x, y| (y - slope * x).powi(2));
    Line { correlation: xy / (xx * yy).sqrt(), slope, se: (rest / (n - 2.0) / xx).sqrt() }
}

fn check_known(found: KnownErrors, expected: &Value, what: &str) {
    let (se, ends) = (number(expected, "se"), numbers(&expected["ci"]));
    close(found.estimate, number(expected, "estimate"), 1e-5 * se, what);
    close(found.se, se, 1e-5 * se, what);
    close(found.lower, ends[0], 1e-5 * se, what);
    close(found.upper, ends[1], 1e-5 * se, what);
}

fn check(trials: &[TrialSummary], expected: &Value, what: &str) -> JoinedTrials {
    let found = join_trials(trials, 0.05).unwrap();
    check_known(found.common, &expected["FE"], what);
    check_known(found.by_own_errors, &expected["REML"], what);
    let hartung_knapp = &expected["REML_knapp_hartung"];
    let (se, ends) = (number(hartung_knapp, "se"), numbers(&hartung_knapp["ci"]));
    close(found.joined.se, se, 1e-5 * se, what);
    close(found.lower, ends[0], 1e-5 * se, what);
    close(found.upper, ends[1], 1e-5 * se, what);
    close(found.p, number(hartung_knapp, "p"), 1e-3 * found.p, what);
    let ends = numbers(&hartung_knapp["prediction_interval"]);
    let new = found.new_trial.unwrap();
    close(new.lower, ends[0], 1e-5 * se, what);
    close(new.upper, ends[1], 1e-5 * se, what);
    let tau2 = number(hartung_knapp, "tau2");
    close(found.between.variance, tau2, 1e-5 * tau2, what);
    close(found.between.variance_se.unwrap(), number(hartung_knapp, "se_tau2"), 1e-5 * tau2, what);
    close(found.between.q, number(hartung_knapp, "Q"), 1e-8 * found.between.q, what);
    close(found.between.q_p, number(hartung_knapp, "Q_p"), 1e-7 * found.between.q_p, what);
    close(found.between.percent, number(hartung_knapp, "I2"), 1e-3, what);
    close(found.between.ratio, number(hartung_knapp, "H2"), 1e-5 * found.between.ratio, what);
    // metafor adds half log|X'X|
    let likelihood = found.log_likelihood + 0.5 * (trials.len() as f64).ln();
    close(likelihood, number(hartung_knapp, "loglik"), 1e-6, what);
    found
}

#[test]
fn correlations_on_fishers_scale() {
    let all = golden("white-mould-trials-meta");
    let fields = fields();
    assert_eq!(fields.len(), 35);
    let trial = |(name, points): (&String, &Vec<(f64, f64)>)| TrialSummary {
        name: name.clone(),
        estimate: line(points).correlation.atanh(),
        se: (1.0 / (points.len() as f64 - 3.0)).sqrt(),
        df: None,
    };
    let trials: Vec<_> = fields.iter().map(trial).collect();
    let computed = &all["computed"];
    let found = check(&trials, &computed["fisher_z"], "correlation");
    let ends = numbers(&computed["fisher_z"]["tau2_q_profile95"]);
    // R's search for these ends stops within 1.2e-4 (its default); `properties` holds ours to the definition
    close(found.between.lower.unwrap(), ends[0], 1.2e-4, "lower end");
    close(found.between.upper.unwrap(), ends[1], 1.2e-4, "upper end");
    close(found.joined.estimate.tanh(), number(&computed["fisher_z"], "back_transformed_REML"), 1e-7, "correlation");
    // here Hartung-Knapp is a little narrower than normal in its error, but not in its interval
    assert!(found.joined.se < found.by_own_errors.se);
    assert_eq!(found.cautious, None);
}

#[test]
fn slopes() {
    let all = golden("white-mould-trials-meta");
    let fields = fields();
    let trial = |(name, points): (&String, &Vec<(f64, f64)>)| {
        let Line { slope, se, .. } = line(points);
        TrialSummary { name: name.clone(), estimate: slope, se, df: Some(points.len() as f64 - 2.0) }
    };
    let trials: Vec<_> = fields.iter().map(trial).collect();
    for expected in all["computed"]["per_trial"].as_array().unwrap() {
        let ours = trials.iter().find(|it| expected["trial"] == it.name.as_str()).unwrap();
        close(ours.estimate, number(expected, "slope"), 1e-8 * ours.estimate.abs(), &ours.name);
        close(ours.se.powi(2), number(expected, "vslope"), 1e-8 * ours.se.powi(2), &ours.name);
    }
    let found = check(&trials, &all["computed"]["slope"], "slope");
    assert!(found.upper < 0.0 && found.new_trial.unwrap().upper < 0.0);
}

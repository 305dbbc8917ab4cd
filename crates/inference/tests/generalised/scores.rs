//! Scores against R's ordinal (see `tests/reference/ordinal/make_values.R`), the restricted likelihood against TMB, and the
//! published trial of lifting rods.

use crate::table::{Table, close, golden, golden_file, number, numbers};
use guardrow_inference::generalised::{
    FittedLikelihood, GeneralisedModel, Observed, ProportionLink, fit_restricted as fit_counts,
};
use guardrow_inference::ordinal::{OrdinalFit, OrdinalModel, ScoreLink, ScoreState, by_cuts, fit, fit_restricted};
use guardrow_inference::{InferenceError, Notice};
use serde_json::Value;

/// Standard errors by which an estimate may differ, and relative difference of a standard error: `clmm` ends by a general
/// optimiser, on a surface that is flat along the variances.
const ESTIMATE: f64 = 2e-4;
const SE: f64 = 5e-4;

fn scores(table: &Table, score: &str, count: Option<&str>, treatment: &str, groupings: &[&[&str]]) -> OrdinalModel {
    let (treatments, treatment) = table.labels(&[treatment]);
    let (scores, score) = table.labels(&[score]);
    OrdinalModel {
        scores,
        score,
        count: count.map_or_else(|| vec![1.0; treatment.len()], |count| table.numbers(count)),
        link: ScoreLink::Logit,
        treatments,
        treatment,
        columns: Vec::new(),
        groupings: groupings.iter().map(|names| table.grouping(names)).collect(),
    }
}

fn disease(groupings: &[&[&str]]) -> OrdinalModel {
    scores(&Table::open("ordinal", "disease.csv"), "score", None, "treatment", groupings)
}

fn lifting(groupings: &[&[&str]]) -> OrdinalModel {
    let table = Table::open("potato-lifting-damage-scores", "data.csv");
    let mut model = scores(&table, "damage_score", Some("tubers"), "rod", groupings);
    model.columns = ["energy", "variety", "weight_class"].map(|name| table.indicators(name)).concat();
    model
}

/// - `allowed`: standard errors by which estimates may differ, relative difference of standard errors
fn check(name: &str, model: &OrdinalModel, allowed: (f64, f64)) -> OrdinalFit {
    check_against(name, fit(model).unwrap(), &golden("ordinal")[name], allowed)
}

/// Variances by the restricted likelihood, against the model written out for TMB, run to its end
/// (`tests/reference/generalised-restricted/make_scores.R`).
fn check_restricted(name: &str, model: &OrdinalModel) {
    let expected = &golden_file("generalised-restricted", "scores.json")[name];
    let fitted = check_against(name, fit_restricted(model).unwrap(), expected, (1e-5, 1e-5));
    assert_eq!(fitted.likelihood, FittedLikelihood::Restricted);
}

fn check_against(name: &str, fitted: OrdinalFit, expected: &Value, allowed: (f64, f64)) -> OrdinalFit {
    let ahead = fitted.log_likelihood - number(expected, "log_likelihood");
    assert!((-1e-8 * fitted.log_likelihood.abs()..1e-5).contains(&ahead), "{name}: log-likelihood ahead by {ahead:e}");
    assert!(fitted.evidence.gradient < 1e-6, "{name}: {:?}", fitted.evidence);
    let slopes = expected["columns"].as_array().map_or(Vec::new(), |_| numbers(&expected["columns"]));
    assert_eq!(slopes.len(), fitted.columns.len());
    // golden means are at zero of every column, ours at their averages
    let shift: f64 = slopes.iter().zip(&fitted.columns).map(|(slope, column)| slope * column.average).sum();
    for (slope, column) in slopes.iter().zip(&fitted.columns) {
        close(column.slope, *slope, allowed.0 * column.se, &format!("{name}: {}", column.name));
    }
    let means = fitted.means(0.05).unwrap();
    let covariance: Vec<Vec<f64>> = expected["covariance"].as_array().unwrap().iter().map(numbers).collect();
    for (a, golden) in numbers(&expected["means"]).into_iter().enumerate() {
        let se = means[a].link_se.unwrap();
        close(means[a].link.unwrap(), golden + shift, allowed.0 * se, &format!("{name}: {}", means[a].label));
        if slopes.is_empty() {
            close(se, covariance[a][a].sqrt(), allowed.1 * se, &format!("{name}: se of {}", means[a].label));
        }
        for b in 0..a {
            let mut weights = vec![0.0; means.len()];
            (weights[a], weights[b]) = (1.0, -1.0);
            let ours = fitted.contrast(&weights).unwrap();
            let golden_se = (covariance[a][a] + covariance[b][b] - 2.0 * covariance[a][b]).sqrt();
            close(ours.se, golden_se, allowed.1 * golden_se, &format!("{name}: se of {a} - {b}"));
        }
    }
    let thresholds = numbers(&expected["thresholds"]).into_iter().zip(numbers(&expected["threshold_se"]));
    for (ours, (at, se)) in fitted.thresholds[1..].iter().zip(thresholds) {
        close(ours.at, at, allowed.0 * se, &format!("{name}: threshold below {}", ours.above));
        close(ours.se.unwrap(), se, allowed.1 * se, &format!("{name}: se of threshold below {}", ours.above));
    }
    for component in &fitted.components {
        let sd = number(&expected["sd"], &component.name);
        close(component.sd, sd, 1e-3 * sd, &format!("{name}: sd of {}", component.name));
    }
    fitted
}

#[test]
fn a_split_plot_of_disease_scores() {
    let units: &[&[&str]] = &[&["block"], &["main"], &["plot"]];
    let fitted = check("disease_logit", &disease(units), (ESTIMATE, SE));
    assert_eq!(fitted.notices, []);
    check("disease_probit", &OrdinalModel { link: ScoreLink::Probit, ..disease(units) }, (ESTIMATE, SE));
    check("disease_plots", &disease(&[&["plot"]]), (ESTIMATE, SE));
    check_restricted("disease_logit", &disease(units));
    check_restricted("disease_probit", &OrdinalModel { link: ScoreLink::Probit, ..disease(units) });
    check_restricted("disease_plots", &disease(&[&["plot"]]));
}

#[test]
fn without_units_the_maximum_is_met_closely() {
    check("disease_fixed", &disease(&[]), (1e-7, 1e-7));
    check("lifting_logit", &lifting(&[]), (1e-7, 1e-7));
    check("lifting_probit", &OrdinalModel { link: ScoreLink::Probit, ..lifting(&[]) }, (1e-7, 1e-7));
}

// Source: Keen & Engel (1997), Statistica Neerlandica 51:129-144, table 2; golden values by MASS::polr, at the tolerances that
// its file states.
#[test]
fn tubers_damaged_by_lifting_rods() {
    let all = golden("potato-lifting-damage-scores");
    let computed = &all["computed"];
    for (name, link) in [("cumulative_logit", ScoreLink::Logit), ("cumulative_probit", ScoreLink::Probit)] {
        let fitted = fit(&OrdinalModel { link, ..lifting(&[]) }).unwrap();
        close(fitted.log_likelihood, number(&computed[name], "loglik"), 1e-5, "log-likelihood");
        let coefficients = &computed[name]["coefficients"];
        let row = |term: &str| find(coefficients, "term", term);
        for (index, label) in (1..8).map(|index| (index, format!("rodR{}", index + 1))) {
            let mut weights = vec![0.0; 8];
            (weights[0], weights[index]) = (-1.0, 1.0);
            let ours = fitted.contrast(&weights).unwrap();
            close_to_row(ours.estimate, ours.se, row(&label));
        }
        for column in &fitted.columns {
            close_to_row(column.slope, column.se, row(&column.name));
        }
        // theta of R is at the first rod and zero of every column
        let means = fitted.means(0.05).unwrap();
        let base: f64 = means[0].link.unwrap() - fitted.columns.iter().map(|it| it.slope * it.average).sum::<f64>();
        for threshold in &fitted.thresholds {
            let golden = number(row(&format!("{}|{}", threshold.below, threshold.above)), "estimate");
            close(threshold.at - base, golden, 1e-4 * golden.abs(), "threshold");
        }
    }
    // rods by likelihood ratio
    let full = fit(&lifting(&[])).unwrap();
    let mut without = lifting(&[]);
    without.treatment.fill(0);
    let test = full.likelihood_ratio(&fit(&without).unwrap()).unwrap();
    let expected = &computed["likelihood_ratio_for_rod"];
    close(test.chi_square, number(expected, "chi2"), 1e-5, "chi-square");
    assert_eq!(test.df, number(expected, "df"));
    // published rod effects are of a mixed model on another scale: the order is the same but for rods that hardly differ
    let means = full.means(0.05).unwrap();
    let effects = numbers(&all["published"]["rod_effects"]);
    for (a, b) in (0..8).flat_map(|a| (0..a).map(move |b| (a, b))) {
        if (effects[a] - effects[b]).abs() > 0.1 {
            assert_eq!(effects[a] > effects[b], means[a].link > means[b].link, "rods {a} and {b}");
        }
    }
}

fn find<'a>(rows: &'a Value, key: &str, name: &str) -> &'a Value {
    rows.as_array().unwrap().iter().find(|row| row[key] == name).unwrap_or_else(|| panic!("no golden row {name}"))
}

fn close_to_row(estimate: f64, se: f64, row: &Value) {
    let (golden, golden_se) = (number(row, "estimate"), number(row, "se"));
    close(estimate, golden, 1e-4 * golden.abs(), &row.to_string());
    close(se, golden_se, 1e-4 * golden_se, &row.to_string());
}

#[test]
fn tubers_within_plots() {
    let model = lifting(&[&["energy", "variety", "weight_class", "rod"]]);
    let mut named = model;
    named.groupings[0].name = "plot".into();
    let fitted = check("lifting_plots", &named, (ESTIMATE, SE));
    check_restricted("lifting_plots", &named);
    // tubers of a plot resemble one another, so rods are less sure than tubers alone would make them
    let mut weights = vec![0.0; 8];
    (weights[0], weights[1]) = (-1.0, 1.0);
    let alone = fit(&lifting(&[])).unwrap();
    assert!(fitted.contrast(&weights).unwrap().se > 1.1 * alone.contrast(&weights).unwrap().se);
}

#[test]
fn shares_and_residuals_add_up() {
    let table = Table::open("potato-lifting-damage-scores", "data.csv");
    let model = scores(&table, "damage_score", Some("tubers"), "rod", &[]);
    let fitted = fit(&model).unwrap();
    let means = fitted.means(0.05).unwrap();
    for mean in &means {
        let total: f64 = mean.shares.iter().map(|it| it.share).sum();
        close(total, 1.0, 1e-12, "shares");
        let score: f64 = mean.shares.iter().enumerate().map(|(at, it)| (at + 1) as f64 * it.share).sum();
        close(mean.score.unwrap(), score, 1e-12, "mean score");
        for share in &mean.shares {
            assert!(share.lower.unwrap() < share.share && share.share < share.upper.unwrap());
            close(share.average, share.share, 1e-9, "no units, nothing to average over");
        }
    }
    // on the logistic scale the residual is the slope of a row's log-likelihood, so every treatment's add to zero at the maximum
    for rod in 0..8 {
        let own = |i: &usize| model.treatment[*i] == rod && model.count[*i] > 0.0;
        let rows = (0..model.score.len()).filter(own);
        let sum: f64 = rows.map(|i| model.count[i] * fitted.observations[i].residual.unwrap()).sum();
        close(sum, 0.0, 1e-7, "residuals");
    }
}

/// Two scores as counts of the second.
fn as_proportions(model: &OrdinalModel) -> GeneralisedModel {
    let successes = model.score.iter().zip(&model.count).map(|(&score, count)| score as f64 * count).collect();
    GeneralisedModel {
        observed: Observed::Proportions { successes, trials: model.count.clone(), link: ProportionLink::Logit },
        treatments: model.treatments.clone(),
        treatment: model.treatment.clone(),
        columns: Vec::new(),
        offset: None,
        groupings: model.groupings.clone(),
    }
}

#[test]
fn two_scores_are_a_proportion() {
    let mut model = disease(&[&["block"], &["plot"]]);
    model.score.iter_mut().for_each(|score| *score = usize::from(*score > 1));
    model.scores = vec!["healthy".into(), "diseased".into()];
    let scores = fit(&model).unwrap();
    let cuts = by_cuts(&model).unwrap();
    let proportions = cuts[0].fit.as_ref().unwrap();
    let (restricted, of_counts) = (fit_restricted(&model).unwrap(), fit_counts(&as_proportions(&model)).unwrap());
    close(restricted.log_likelihood, of_counts.log_likelihood, 1e-9, "restricted log-likelihood");
    for (a, b) in restricted.components.iter().zip(&of_counts.components) {
        close(a.sd, b.sd, 1e-7, &a.name);
    }
    close(scores.log_likelihood, proportions.log_likelihood, 1e-9, "log-likelihood");
    for (a, b) in scores.means(0.05).unwrap().iter().zip(proportions.means(0.05).unwrap()) {
        close(a.link.unwrap(), b.link.unwrap(), 1e-7, &a.label);
        close(a.link_se.unwrap(), b.link_se.unwrap(), 1e-7, &a.label);
        close(a.shares[1].share, b.mean.unwrap(), 1e-9, &a.label);
        close(a.shares[1].lower.unwrap(), b.lower.unwrap(), 1e-7, &a.label);
        close(a.shares[1].average, b.average.unwrap(), 1e-9, &a.label);
        close(a.score.unwrap(), 1.0 + b.mean.unwrap(), 1e-9, &a.label);
        close(a.score_se.unwrap(), b.se.unwrap(), 1e-7, &a.label);
    }
}

#[test]
fn a_scale_turned_over_turns_every_sign() {
    let model = disease(&[&["block"], &["plot"]]);
    for link in [ScoreLink::Logit, ScoreLink::Probit] {
        let straight = fit(&OrdinalModel { link, ..model.clone() }).unwrap();
        let score = model.score.iter().map(|score| 4 - score).collect();
        let turned = fit(&OrdinalModel { link, score, ..model.clone() }).unwrap();
        close(straight.log_likelihood, turned.log_likelihood, 1e-8, "log-likelihood");
        let weights = [1.0, 0.0, 0.0, -1.0, 0.0, 0.0];
        let (a, b) = (straight.contrast(&weights).unwrap(), turned.contrast(&weights).unwrap());
        close(a.estimate, -b.estimate, 1e-6 * a.se, "difference");
        close(a.se, b.se, 1e-6 * a.se, "its error");
    }
}

#[test]
fn rows_may_be_joined_and_turned_round() {
    let model = disease(&[&["block"], &["plot"]]);
    let plain = fit(&model).unwrap();
    // the same plants as counts: plants of a plot with equal scores in one row, rows in reverse
    let mut rows: Vec<(usize, usize)> = Vec::new();
    let mut joined = OrdinalModel { score: Vec::new(), count: Vec::new(), treatment: Vec::new(), ..model.clone() };
    joined.groupings.iter_mut().for_each(|grouping| grouping.class.clear());
    for i in (0..model.score.len()).rev() {
        let key = (model.groupings[1].class[i], model.score[i]);
        if let Some(at) = rows.iter().position(|row| *row == key) {
            joined.count[at] += 1.0;
            continue;
        }
        rows.push(key);
        joined.score.push(model.score[i]);
        joined.count.push(1.0);
        joined.treatment.push(model.treatment[i]);
        for (to, from) in joined.groupings.iter_mut().zip(&model.groupings) {
            to.class.push(from.class[i]);
        }
    }
    let joined = fit(&joined).unwrap();
    close(plain.log_likelihood, joined.log_likelihood, 1e-8, "log-likelihood");
    for (a, b) in plain.means(0.05).unwrap().iter().zip(joined.means(0.05).unwrap()) {
        close(a.link.unwrap(), b.link.unwrap(), 1e-6, &a.label);
    }
}

#[test]
fn a_treatment_without_damage_is_set_apart_and_the_rest_is_as_without_it() {
    let model = disease(&[&["block"]]);
    let alone = fit(&model).unwrap();
    let mut more = model.clone();
    more.treatments.push("untouched".into());
    more.scores.push("dead".into());
    for block in 0..6 {
        more.treatment.push(6);
        more.score.push(0);
        more.count.push(3.0);
        more.groupings[0].class.push(block);
    }
    let found = fit(&more).unwrap();
    close(found.log_likelihood, alone.log_likelihood, 1e-9, "log-likelihood");
    let means = found.means(0.05).unwrap();
    assert_eq!((means[6].state, means[6].link), (ScoreState::LowestOnly, None));
    assert_eq!((means[6].shares[0].share, means[6].score), (1.0, Some(1.0)));
    assert_eq!(means[0].shares.len(), 6);
    assert_eq!(means[0].shares[5].share, 0.0);
    assert_eq!(
        found.notices,
        [Notice::LowestScoreOnly { treatment: "untouched".into() }, Notice::ScoreNotGiven { score: "dead".into() }]
    );
    assert!(found.contrast(&[0.0, 0.0, 0.0, 0.0, 0.0, -1.0, 1.0]).is_err());
    assert_eq!(found.parameters, alone.parameters + 1);
}

#[test]
fn low_and_high_treatments_that_meet_in_one_score_are_named() {
    let labels = |names: [&str; 4]| names.map(str::to_owned).to_vec();
    let model = |score: Vec<usize>| OrdinalModel {
        scores: labels(["none", "some", "much", "all"]),
        count: vec![1.0; score.len()],
        link: ScoreLink::Logit,
        treatments: labels(["a", "b", "c", "d"]),
        treatment: (0..score.len()).map(|row| row % 4).collect(),
        columns: Vec::new(),
        groupings: Vec::new(),
        score,
    };
    let apart = model(vec![0, 1, 2, 3, 1, 0, 3, 2, 0, 1, 2, 2]);
    assert_eq!(fit(&apart), Err(InferenceError::ScoreNotCrossed { score: "some".into() }));
    // one plot that reaches over is enough
    let mut joined = apart;
    joined.score[11] = 0;
    assert!(fit(&joined).unwrap().means(0.05).unwrap().iter().all(|mean| mean.link_se.unwrap() < 10.0));
}

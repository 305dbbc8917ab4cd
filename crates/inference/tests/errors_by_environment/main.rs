//! Residual variances of places and seasons. Source: `tests/reference/errors-by-environment/make_values.R` with R 4.2.2, nlme 3.1-162.

#[path = "../correlated_errors/case.rs"]
#[allow(dead_code, reason = "the reader of cases serves several test programs")]
mod case;

use case::{Case, close, near};
use guardrow_design::{BlockStructure, Factor, Level, RandomStream, Scale, Seed, TreatmentStructure};
use guardrow_inference::distribution::normal_quantile;
use guardrow_inference::{ErrorsByEnvironment, Experiment, InferenceError, Options, Scope, errors_by_environment};

fn unit(name: &str) -> BlockStructure {
    BlockStructure::unit(name)
}

fn entries(labels: &[String]) -> TreatmentStructure {
    let levels = labels.iter().map(|label| Level { label: label.clone(), amount: None }).collect();
    let factor = Factor { name: "variety".into(), scale: Scale::Qualitative, levels };
    TreatmentStructure { factors: vec![factor], controls: Vec::new() }
}

fn run(experiment: &Experiment) -> ErrorsByEnvironment {
    errors_by_environment(experiment, &Options::default()).expect("the trial can be analysed")
}

// Source of the data: Sharma (1988), Statistical and Biometrical Techniques in Plant Breeding.
#[test]
fn variances_of_sites_and_years_are_those_of_nlme() {
    let case = Case::open("varieties-sites-years");
    let golden = Case::open_golden("errors-by-environment");
    let golden =
        |path: &str| golden.pointer(path).and_then(serde_json::Value::as_f64).unwrap_or_else(|| panic!("{path}"));
    let (labels, treatment) = case.classes(&["variety"]);
    let (sites, site) = case.classes(&["site"]);
    let (years, year) = case.classes(&["year"]);
    let mut experiment = Experiment::new(
        unit("site").cross(unit("year")).nest(unit("block").nest(unit("plot"))),
        vec![("site".into(), site), ("year".into(), year), ("block".into(), case.classes(&["block"]).1)],
        entries(&labels),
        treatment,
        case.values("yield"),
    );
    experiment.unit_labels = vec![("site".into(), sites), ("year".into(), years)];
    experiment.environments = vec!["site".into(), "year".into()];
    let result = run(&experiment);
    let expected = [("one variance", "one"), ("a variance of each site", "site"), ("a variance of each year", "year")];
    let expected = expected.into_iter().chain([("a variance of each site x year", "both")]);
    for (model, (name, path)) in result.models.models.iter().zip(expected) {
        assert_eq!(model.name, name);
        let fitted = model.fitted.as_ref().unwrap();
        near(fitted.reml_log_likelihood, golden(&format!("/{path}/reml_loglik")), 1e-6, name);
        let part = |name: &str| fitted.parts.iter().find(|it| it.name == name).unwrap();
        close(part("block").variances[0].variance, golden(&format!("/{path}/block")), 1e-3, "block");
        for variance in &part("residual").variances {
            let group = variance.group.as_ref().map_or("all".to_owned(), |it| it.replace(", ", " "));
            close(variance.variance, golden(&format!("/{path}/variances/{group}")), 1e-4, &group);
        }
    }
    // nothing speaks for more than one variance: the first stays, and says what the plain analysis says by its mixed model
    assert_eq!(result.models.chosen, 0);
    let weights: Vec<f64> = (0..labels.len()).map(|it| [1.0, -1.0].get(it).copied().unwrap_or(0.0)).collect();
    let (chosen, plain) = (result.contrast(&weights).unwrap(), result.with_one_variance.contrast(&weights).unwrap());
    near(chosen.estimate, golden("/one/difference"), 1e-6, "difference");
    close(chosen.se, plain.se, 1e-5, "its error");
    close(chosen.se, golden("/one/se"), 1e-5, "its error");
}

/// Four entries in four blocks at three sites, the last of which is noisy.
fn invented(scope: Scope) -> Experiment {
    let mut stream = RandomStream::new(&Seed::from_number(11));
    let mut normal = || normal_quantile((f64::from(stream.below(1 << 30)) + 0.5) / f64::from(1 << 30));
    let site: Vec<usize> = (0..48).map(|plot| plot / 16).collect();
    let treatment: Vec<usize> = (0..48).map(|plot| plot % 4).collect();
    let spread = [1.0, 1.0, 8.0];
    let response = site.iter().zip(&treatment).map(|(&it, &of)| Some(of as f64 + spread[it] * normal())).collect();
    let labels: Vec<String> = (1..=4).map(|it| format!("v{it}")).collect();
    let mut experiment = Experiment::new(
        unit("site").nest(unit("block").nest(unit("plot"))),
        vec![("site".into(), site), ("block".into(), (0..48).map(|plot| plot / 4 % 4).collect())],
        entries(&labels),
        treatment,
        response,
    );
    experiment.environments = vec!["site".into()];
    experiment.scope = scope;
    experiment
}

#[test]
fn a_noisy_site_gets_a_variance_of_its_own() {
    let result = run(&invented(Scope::TheseEnvironments));
    assert_eq!(result.models.models[result.models.chosen].name, "a variance of each site");
    let residual = result.models.models[1].fitted.as_ref().unwrap().parts.last().unwrap();
    assert!(residual.variances[2].variance > 10.0 * residual.variances[0].variance);
    // within the quiet sites differences are surer than one variance says, within the noisy one less sure
    let table = |tables: &[guardrow_inference::MeansTable]| {
        tables.iter().find(|it| it.label == "site x variety").unwrap().pairs.clone()
    };
    let (own, one) = (table(&result.tables), table(&result.with_one_variance.tables));
    assert!(own[0].se < 0.5 * one[0].se && own.last().unwrap().se > 1.2 * one.last().unwrap().se);
    // means over sites are the same, balanced as they are; the noisy site counts for less only where sites stand for others
    let like_these = run(&invented(Scope::EnvironmentsLikeThese));
    let weights = [1.0, 0.0, 0.0, -1.0];
    let fixed = result.contrast(&weights).unwrap();
    near(fixed.estimate, result.with_one_variance.contrast(&weights).unwrap().estimate, 1e-6, "balanced");
    assert!(like_these.contrast(&weights).unwrap().se < fixed.se);
}

#[test]
fn one_place_has_nothing_to_compare() {
    let mut experiment = invented(Scope::TheseEnvironments);
    experiment.environments.clear();
    let error = errors_by_environment(&experiment, &Options::default()).unwrap_err();
    assert!(matches!(error, InferenceError::Setting { value: 1.0, .. }), "{error}");
}

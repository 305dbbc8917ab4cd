//! The same trial in several places and seasons: fixed or standing for others, as the stated scope says.

use crate::case::{Case, Layout, amounts, names};
use crate::compare::{MIXED, check_means, check_pairs, check_row, check_strata, check_tests, close, close_p};
use crate::randomised_blocks::check_components;
use guardrow_design::BlockStructure;
use guardrow_inference::{Analysis, Experiment, Lead, Method, Notice, Options, Scope, analyse};

fn unit(name: &str) -> BlockStructure {
    BlockStructure::unit(name)
}

fn analysed(mut experiment: Experiment, places: &[&str], scope: Scope, options: &Options) -> Analysis {
    experiment.environments = places.iter().map(|&place| place.to_owned()).collect();
    experiment.scope = scope;
    analyse(&experiment, options).expect("the case can be analysed")
}

fn by_model() -> Options {
    Options { method: Method::Mixed, ..Options::default() }
}

fn varieties(case: &Case) -> Experiment {
    case.experiment(&Layout {
        blocks: unit("site").cross(unit("year")).nest(unit("block").nest(unit("plot"))),
        units: &[("site", &["site"]), ("year", &["year"]), ("block", &["block"])],
        factors: &[names("variety")],
        control: None,
        response: "yield",
    })
}

// Source: Sharma (1988); golden values R 4.2.2 (aov, lme4, pbkrtest, emmeans). Six places and seasons as they are.
#[test]
fn varieties_at_these_sites_in_these_years() {
    let case = Case::open("varieties-sites-years");
    let analysis = analysed(varieties(&case), &["site", "year"], Scope::TheseEnvironments, &Options::default());
    assert_eq!(analysis.lead, Lead::Strata);
    let strata = analysis.strata.as_ref().unwrap();
    let golden = case.computed("anova_all_fixed").as_array().unwrap();
    let rows = [
        ("site", "site", false),
        ("year", "year", false),
        ("variety", "variety", true),
        ("site x year", "site:year", false),
        ("site x variety", "site:variety", true),
        ("year x variety", "year:variety", true),
        ("site x year x variety", "site:year:variety", true),
    ];
    for (ours, theirs, against_plots) in rows {
        let golden = golden.iter().find(|row| row["source"] == theirs).unwrap();
        let stratum = strata.stratum(if against_plots { "plot" } else { "block" }).unwrap();
        let row = stratum.row(ours).unwrap();
        if against_plots {
            check_row(row, golden);
        } else {
            close(row.ss, golden["ss"].as_f64().unwrap(), 1e-8, ours);
        }
    }
    assert!(analysis.notices.iter().any(|it| matches!(it, Notice::EnvironmentsNotDrawn { has_blocks: true, .. })));
    check_means(analysis.table(&["variety"]).unwrap(), case.computed("means_environment_fixed"), &["variety"], MIXED);
    check_pairs(analysis.table(&["variety"]).unwrap(), case.computed("means_environment_fixed"), MIXED);
    check_components(&case, &analysis, "mixed_environment_fixed", &["env:block"]);
    assert_eq!(analysis.table(&["site", "year", "variety"]).unwrap().cells.len(), 42);
    // within one place and season the varieties are compared with the plots of all, so only the F can be told apart
    let effects = analysis.simple_effects(&["variety"], &["site", "year"]).unwrap();
    assert_eq!(effects.len(), 6);
    for (effect, golden) in effects.iter().zip(case.computed("per_environment").as_array().unwrap()) {
        let pooled = strata.stratum("plot").unwrap().row("residual").unwrap().ms;
        let expected = golden["f_variety"].as_f64().unwrap() * golden["residual_ms"].as_f64().unwrap() / pooled;
        close(effect.test.unwrap().f, expected, 1e-8, "simple effect");
    }
}

// Source: as above; six combinations as one kind of place, which is how the golden model was written.
#[test]
fn varieties_in_these_environments() {
    let case = Case::open("varieties-sites-years");
    let experiment = case.experiment(&Layout {
        blocks: unit("environment").nest(unit("block").nest(unit("plot"))),
        units: &[("environment", &["site", "year"]), ("block", &["block"])],
        factors: &[names("variety")],
        control: None,
        response: "yield",
    });
    let analysis = analysed(experiment, &["environment"], Scope::TheseEnvironments, &Options::default());
    let labels = ["variety", "environment", "environment x variety"];
    for tests in [&analysis.tests, &analysis.other_tests] {
        check_tests(tests, case.computed("mixed_environment_fixed/tests_kenward_roger"), &labels);
    }
    let satterthwaite = analysis.satterthwaite_tests().unwrap();
    check_tests(&satterthwaite, case.computed("mixed_environment_fixed/tests_satterthwaite"), &labels);
}

// Source: as above, sites and years standing for others; two variances are at zero.
#[test]
fn varieties_at_sites_and_in_years_like_these() {
    let case = Case::open("varieties-sites-years");
    let analysis = analysed(varieties(&case), &["site", "year"], Scope::EnvironmentsLikeThese, &by_model());
    let components =
        ["site", "year", "site:year", "variety:site", "variety:year", "variety:site:year", "site:year:block"];
    check_components(&case, &analysis, "mixed_all_random_but_variety", &components);
    check_tests(&analysis.tests, case.computed("mixed_all_random_but_variety/tests_kenward_roger"), &["variety"]);
    let satterthwaite = analysis.satterthwaite_tests().unwrap();
    check_tests(&satterthwaite, case.computed("mixed_all_random_but_variety/tests_satterthwaite"), &["variety"]);
    check_means(analysis.table(&["variety"]).unwrap(), case.computed("means_all_random"), &["variety"], MIXED);
    check_pairs(analysis.table(&["variety"]).unwrap(), case.computed("means_all_random"), MIXED);
    // By strata no mean square of its own judges the varieties: site x variety + year x variety - site x year x variety does.
    let golden = case.computed("anova_all_fixed").as_array().unwrap();
    let ms = |source: &str| golden.iter().find(|row| row["source"] == source).unwrap()["ms"].as_f64().unwrap();
    let (at_sites, in_years, both) = (ms("site:variety"), ms("year:variety"), ms("site:year:variety"));
    let error = at_sites + in_years - both;
    let df = error.powi(2) / (at_sites.powi(2) / 12.0 + in_years.powi(2) / 6.0 + both.powi(2) / 12.0);
    let by_strata = &analysis.other_tests[0];
    close(by_strata.f, ms("variety") / error, 1e-8, "F against a sum of mean squares");
    close(by_strata.den_df, df, 1e-8, "its df");
    assert!(analysis.notices.iter().any(|it| matches!(it, Notice::ErrorIsSum { .. })));
}

// Source: Gomez & Gomez (1984), p. 339; golden values R 4.2.2. Sites as places, which gives what sites as a factor gave.
#[test]
fn rice_at_these_three_sites() {
    let case = Case::open("rice-split-plot-three-sites");
    let split = unit("block").nest(unit("main plot").nest(unit("plot")));
    let experiment = case.experiment(&Layout {
        blocks: unit("site").nest(split),
        units: &[("site", &["site"]), ("block", &["block"]), ("main plot", &["nitrogen"])],
        factors: &[amounts("nitrogen", "kg/ha"), names("variety")],
        control: None,
        response: "grain_yield",
    });
    let analysis = analysed(experiment.clone(), &["site"], Scope::TheseEnvironments, &Options::default());
    let rows = [
        ("block", "site"),
        ("block", "residual"),
        ("main plot", "nitrogen"),
        ("main plot", "site x nitrogen"),
        ("main plot", "residual"),
        ("plot", "variety"),
        ("plot", "site x variety"),
        ("plot", "nitrogen x variety"),
        ("plot", "site x nitrogen x variety"),
        ("plot", "residual"),
    ];
    check_strata(analysis.strata.as_ref().unwrap(), case.computed("anova_strata"), &rows);
    check_components(&case, &analysis, "mixed", &["site:block", "site:block:nf"]);
    check_means(analysis.table(&["nitrogen"]).unwrap(), case.computed("means_nitrogen"), &["nf"], MIXED);
    check_pairs(analysis.table(&["nitrogen"]).unwrap(), case.computed("means_nitrogen"), MIXED);
    check_rice_at_sites_like_these(&case, experiment);
}

/// Each term is then tested against its own interaction with sites, by the same sums of squares.
fn check_rice_at_sites_like_these(case: &Case, experiment: Experiment) {
    let analysis = analysed(experiment, &["site"], Scope::EnvironmentsLikeThese, &Options::default());
    assert_eq!(analysis.lead, Lead::Strata);
    let golden = case.computed("anova_strata").as_array().unwrap();
    let row = |source: &str| golden.iter().find(|row| row["source"] == source).unwrap();
    for (term, against) in
        [("nitrogen", "site:nf"), ("variety", "site:variety"), ("nitrogen x variety", "site:nf:variety")]
    {
        let test = analysis.tests.iter().find(|test| test.label == term).unwrap();
        let (own, error) = (row(&term.replace("nitrogen", "nf").replace(" x ", ":")), row(against));
        let (own_ms, error_ms) = (own["ms"].as_f64().unwrap(), error["ms"].as_f64().unwrap());
        close(test.f, own_ms / error_ms, 1e-8, term);
        assert_eq!(test.den_df, error["df"].as_f64().unwrap(), "{term}");
        assert_eq!(test.stratum.as_deref(), Some(format!("site x {term}").as_str()));
    }
}

// Source: Jayaraman (1999), p. 170, FAO; golden values R 4.2.2. Six trees of every plot are subsamples; families first as
// they are, then as a sample of families.
#[test]
fn bamboo_families_at_two_sites() {
    let case = Case::open("bamboo-families-two-sites");
    let mut experiment = case.experiment(&Layout {
        blocks: unit("site").nest(unit("block").nest(unit("plot").nest(unit("tree")))),
        units: &[("site", &["site"]), ("block", &["block"]), ("plot", &["family"])],
        factors: &[names("family")],
        control: None,
        response: "height",
    });
    let analysis = analysed(experiment.clone(), &["site"], Scope::TheseEnvironments, &Options::default());
    let rows = [
        ("block", "site"),
        ("block", "residual"),
        ("plot", "family"),
        ("plot", "site x family"),
        ("plot", "residual"),
        ("tree", "residual"),
    ];
    check_strata(analysis.strata.as_ref().unwrap(), case.computed("anova_strata"), &rows);
    check_components(&case, &analysis, "mixed_family_fixed", &["site:block", "site:block:family"]);
    let labels = ["site", "family", "site x family"];
    check_tests(&analysis.other_tests, case.computed("mixed_family_fixed/tests_kenward_roger"), &labels);
    let satterthwaite = analysis.satterthwaite_tests().unwrap();
    check_tests(&satterthwaite, case.computed("mixed_family_fixed/tests_satterthwaite"), &labels);
    check_means(analysis.table(&["family"]).unwrap(), case.computed("means_family"), &["family"], MIXED);
    check_pairs(analysis.table(&["family"]).unwrap(), case.computed("means_family"), MIXED);
    experiment.random_factors = vec!["family".into()];
    check_families_as_a_sample(&case, experiment);
}

fn check_families_as_a_sample(case: &Case, experiment: Experiment) {
    let analysis = analysed(experiment, &["site"], Scope::TheseEnvironments, &by_model());
    let components = ["family", "site:family", "site:block", "site:block:family"];
    check_components(case, &analysis, "mixed_family_random", &components);
    check_tests(&analysis.tests, case.computed("mixed_family_random/tests_kenward_roger"), &["site"]);
    let satterthwaite = analysis.satterthwaite_tests().unwrap();
    check_tests(&satterthwaite, case.computed("mixed_family_random/tests_satterthwaite"), &["site"]);
    let families = analysis.predictions.iter().find(|table| table.label == "family").unwrap();
    for golden in case.computed("family_blup").as_array().unwrap() {
        let row = families.rows.iter().find(|row| row.label == golden["family"]).unwrap();
        // the golden fit was tightened, but its components still have only about six digits
        close(row.effect, golden["blup"].as_f64().unwrap(), 1e-4, &row.label);
    }
    // By strata families stand against families at sites, as the F of the two mean squares; trees are no replicates.
    let strata = analysis.strata.as_ref().unwrap();
    let golden = case.computed("anova_strata").as_array().unwrap();
    for (stratum, source) in [("family", "family"), ("site x family", "site:family")] {
        let golden = golden.iter().find(|row| row["source"] == source).unwrap();
        let ours = strata.stratum(stratum).unwrap().row("residual").unwrap();
        close(ours.ms, golden["ms"].as_f64().unwrap(), 1e-8, stratum);
    }
    close_p(
        analysis.tests[0].p,
        case.computed("mixed_family_random/tests_kenward_roger")[0]["p"].as_f64().unwrap(),
        1e-3,
        "p",
    );
}

//! Residuals, plots out of line and spread by group.
//!
//! Golden values: `tests/reference/looking/expected.R` (R 4.2.2, lme4); errors by place from the case's own golden values.

use crate::case::{Case, Layout, block_and_plot, names};
use crate::compare::{close, close_or, close_p};
use guardrow_design::BlockStructure;
use guardrow_inference::{
    Covariate, Experiment, Looking, Options, StudentisedResidual, analyse, bartlett, homogeneity,
};

struct Golden(serde_json::Value);

impl Golden {
    fn read() -> Self {
        Self(Case::open_golden("looking"))
    }

    fn numbers(&self, name: &str) -> Vec<f64> {
        self.0[name].as_array().expect("a list").iter().map(|it| it.as_f64().expect("a number")).collect()
    }
}

fn look(experiment: &Experiment) -> Looking {
    analyse(experiment, &Options::default()).expect("the case can be analysed").looking().expect("just analysed")
}

fn check(ours: &[StudentisedResidual], golden: &[f64], of: impl Fn(&StudentisedResidual) -> f64, tolerance: f64) {
    assert_eq!(ours.len(), golden.len());
    for (ours, golden) in ours.iter().zip(golden) {
        close_or(of(ours), *golden, tolerance, tolerance, &format!("plot {}", ours.plot));
    }
}

fn beets() -> (Case, Experiment) {
    let case = Case::open("beet-yield-adjusted-for-stand");
    let experiment = case.experiment(&Layout {
        blocks: block_and_plot(),
        units: &[("block", &["block"])],
        factors: &[names("fertilizer")],
        control: None,
        response: "yield",
    });
    (case, experiment)
}

#[test]
fn residuals_of_blocks_and_of_an_analysis_of_covariance() {
    let golden = Golden::read();
    let (case, mut experiment) = beets();
    let looking = look(&experiment);
    check(&looking.residuals, &golden.numbers("beet_leverage"), |it| it.leverage, 1e-10);
    check(&looking.residuals, &golden.numbers("beet_internal"), |it| it.internal.unwrap(), 1e-8);
    check(&looking.residuals, &golden.numbers("beet_external"), |it| it.external.unwrap(), 1e-8);
    let values = case.rows.iter().map(|row| row["plants"].parse().ok()).collect();
    experiment.covariates = vec![Covariate { name: "plants".into(), unit: None, values }];
    let adjusted = look(&experiment);
    check(&adjusted.residuals, &golden.numbers("beet_adjusted_leverage"), |it| it.leverage, 1e-10);
    check(&adjusted.residuals, &golden.numbers("beet_adjusted_external"), |it| it.external.unwrap(), 1e-8);
    let by: Vec<&str> = looking.groups.iter().map(|it| it.by.as_str()).collect();
    assert_eq!(by, ["treatment", "block"]);
}

#[test]
fn residuals_of_a_mixed_model() {
    let golden = Golden::read();
    let case = Case::open("wheat-row-column");
    let unit = BlockStructure::unit;
    let experiment = case.experiment(&Layout {
        blocks: unit("replicate").nest(unit("row").cross(unit("column"))),
        units: &[("replicate", &["replicate"]), ("row", &["row"]), ("column", &["column"])],
        factors: &[names("variety")],
        control: None,
        response: "yield",
    });
    let looking = look(&experiment);
    // the golden fit's variances have about seven digits
    check(&looking.residuals, &golden.numbers("wheat_leverage"), |it| it.leverage, 1e-5);
    check(&looking.residuals, &golden.numbers("wheat_residual"), |it| it.residual, 1e-5);
    let sigma = golden.0["wheat_sigma"][0].as_f64().unwrap();
    for it in looking.residuals.iter().filter(|it| it.leverage < 0.999) {
        close(it.internal.unwrap(), it.residual / (sigma * (1.0 - it.leverage).sqrt()), 1e-5, "internal");
    }
}

#[test]
fn spread_by_treatment() {
    let golden = Golden::read();
    for (case, response, name) in [
        ("plant-dry-weight", "dry_weight", "weight_brown_forsythe"),
        ("potato-scab-sulphur", "scab", "scab_brown_forsythe"),
    ] {
        let experiment = Case::open(case).experiment(&Layout {
            blocks: BlockStructure::unit("plot"),
            units: &[],
            factors: &[names("treatment")],
            control: None,
            response,
        });
        let looking = look(&experiment);
        let (ours, golden) = (looking.groups[0].brown_forsythe.unwrap(), golden.numbers(name));
        assert_eq!((ours.num_df, ours.den_df), (golden[0], golden[1]));
        close(ours.f, golden[2], 1e-8, name);
        close_p(ours.p, golden[3], 1e-7, name);
        if case == "plant-dry-weight" {
            check_bartlett_and_scores(&looking);
        }
    }
}

fn check_bartlett_and_scores(looking: &Looking) {
    let golden = Golden::read();
    let groups: Vec<(f64, f64)> =
        looking.groups[0].rows.iter().map(|row| (row.sd.unwrap().powi(2), (row.n - 1) as f64)).collect();
    let (ours, expected) = (bartlett(&groups).unwrap(), golden.numbers("weight_bartlett"));
    close(ours.chi_square, expected[0], 1e-8, "Bartlett");
    assert_eq!(ours.df, expected[1]);
    close_p(ours.p, expected[2], 1e-7, "its p");
    check(&looking.residuals, &golden.numbers("weight_normal_scores"), |it| it.normal_score, 1e-10);
    assert!(looking.outliers.flagged.is_empty() && looking.outliers.plots == 30);
}

// Source: Sharma (1988); golden values R 4.2.2 (lm for each place and season, Bartlett's test by formula).
#[test]
fn errors_of_six_places_and_seasons() {
    let case = Case::open("varieties-sites-years");
    let unit = BlockStructure::unit;
    let mut experiment = case.experiment(&Layout {
        blocks: unit("site").cross(unit("year")).nest(unit("block").nest(unit("plot"))),
        units: &[("site", &["site"]), ("year", &["year"]), ("block", &["block"])],
        factors: &[names("variety")],
        control: None,
        response: "yield",
    });
    experiment.environments = vec!["site".into(), "year".into()];
    experiment.unit_labels = vec![
        ("site".into(), ["L1", "L2", "L3"].map(String::from).to_vec()),
        ("year".into(), ["Y1", "Y2"].map(String::from).to_vec()),
    ];
    let found = homogeneity(&experiment, &Options::default()).unwrap().unwrap();
    let golden = case.computed("per_environment").as_array().unwrap();
    assert_eq!(found.environments.len(), golden.len());
    for golden in golden {
        let name = golden["environment"].as_str().unwrap().replace(' ', ", ");
        let ours = found.environments.iter().find(|it| it.label == name).unwrap();
        close(ours.error_ms, golden["residual_ms"].as_f64().unwrap(), 1e-8, &name);
        assert_eq!(ours.error_df, golden["residual_df"].as_f64().unwrap());
        close(ours.mean, golden["mean"].as_f64().unwrap(), 1e-10, &name);
    }
    let bartlett = found.bartlett.unwrap();
    close(bartlett.chi_square, case.number("bartlett_on_error_ms/chi2"), 1e-8, "Bartlett");
    close_p(bartlett.p, case.number("bartlett_on_error_ms/p"), 1e-7, "its p");
    close(found.largest_over_smallest.unwrap(), case.number("hartley_fmax"), 1e-8, "largest over smallest");
}

// A plot moved far out of line in blocks that are otherwise quiet is flagged, and no other.
#[test]
fn a_plot_out_of_line_is_flagged() {
    let (_, mut experiment) = beets();
    experiment.response[17] = experiment.response[17].map(|value| value + 9.0);
    let outliers = look(&experiment).outliers;
    assert_eq!(outliers.flagged.iter().map(|it| it.plot).collect::<Vec<_>>(), [17]);
    assert!(outliers.flagged[0].external > outliers.critical.unwrap());
}

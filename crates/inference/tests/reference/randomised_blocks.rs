//! Randomised blocks with nothing missing, and confounding.

use crate::case::{Case, Layout, amounts, block_and_plot, names};
use crate::compare::{
    CLASSICAL, MIXED, check_dunnett, check_means, check_pairs, check_row, check_strata, check_tests, close, close_or,
    close_p,
};
use guardrow_inference::{CONTROLS_AND_FACTORIAL, FixedUnits, FixedUnitsWhen, Notice, Options};

fn with_fixed_units() -> Options {
    Options { fixed_units: FixedUnitsWhen::Always, ..Options::default() }
}

fn sequential<'a>(fixed: &'a FixedUnits, source: &str) -> &'a guardrow_inference::AnovaRow {
    fixed.sequential.iter().find(|row| row.source == source).unwrap()
}

// Source: Gomez & Gomez (1984), p. 26; golden values R 4.2.2 (aov, lme4, emmeans, pbkrtest).
#[test]
fn rice_seeding_rate() {
    let case = Case::open("rice-seeding-rate");
    let factors = [amounts("seeding_rate", "kg/ha")];
    let layout = Layout {
        blocks: block_and_plot(),
        units: &[("block", &["block"])],
        factors: &factors,
        control: None,
        response: "grain_yield",
    };
    let analysis = case.analyse_with(&layout, &with_fixed_units());
    let rows = [("block", "residual"), ("plot", "seeding_rate"), ("plot", "residual")];
    check_strata(analysis.strata.as_ref().unwrap(), case.computed("anova_strata"), &rows);
    check_tests(&analysis.other_tests, case.computed("mixed/tests_kenward_roger"), &["seeding_rate"]);
    check_components(&case, &analysis, "mixed", &["block"]);
    let table = analysis.table(&["seeding_rate"]).unwrap();
    check_means(table, case.computed("means_mixed"), &["rf"], MIXED);
    check_pairs(table, case.computed("means"), CLASSICAL);
    let fixed = analysis.fixed_units.as_ref().unwrap();
    check_means(&fixed.tables[0], case.computed("means"), &["rf"], CLASSICAL);
    close(analysis.cv[1].percent.unwrap(), case.number("cv_pct"), 1e-8, "CV");
    assert!(table.letters.is_none() && table.letters_why_not.is_some());
    check_rice_trend(&case, &analysis);
    let equivalence = &case.computed("equivalence")["margin_500"];
    let estimate = analysis.contrast(&[0.0, 0.0, -1.0, 1.0, 0.0, 0.0]).unwrap();
    close(estimate.estimate, equivalence["difference"].as_f64().unwrap(), 1e-8, "difference");
    close_p(
        estimate.equivalence(500.0, 0.05).unwrap().p,
        equivalence["p_tost"].as_f64().unwrap(),
        1e-7,
        "p of equivalence",
    );
}

fn check_rice_trend(case: &Case, analysis: &guardrow_inference::Analysis) {
    let trend = analysis.trend("seeding_rate", 5).unwrap();
    let golden = case.computed("polynomial_partition").as_array().unwrap();
    assert_eq!(trend.terms.len(), golden.len());
    for (ours, golden) in trend.terms.iter().zip(golden) {
        let size = 1e-8 * ours.contrast.se;
        close_or(ours.contrast.estimate, golden["estimate_orthonormal"].as_f64().unwrap(), 1e-8, size, &ours.name);
        close(ours.contrast.se, golden["se"].as_f64().unwrap(), 1e-8, &ours.name);
        close_or(ours.f, golden["f"].as_f64().unwrap(), 1e-8, 1e-12, &ours.name);
        close_p(ours.p, golden["p"].as_f64().unwrap(), 1e-7, &ours.name);
    }
    let (ours, golden) = (trend.terms[0].lack_of_fit.unwrap(), case.computed("lack_of_fit_of_straight_line"));
    assert_eq!((ours.num_df, ours.den_df), (golden["df"].as_f64().unwrap(), case.number("residual_df")));
    close(ours.f, golden["f"].as_f64().unwrap(), 1e-8, "lack of fit");
    close_p(ours.p, golden["p"].as_f64().unwrap(), 1e-7, "lack of fit");
}

/// Components by golden name, residual and log-likelihood.
pub fn check_components(case: &Case, analysis: &guardrow_inference::Analysis, path: &str, names: &[&str]) {
    let mixed = analysis.mixed.as_ref().unwrap();
    let golden = case.computed(&format!("{path}/components")).as_array().unwrap();
    let variance = |term: &str| {
        let row = golden.iter().find(|row| row["term"] == term);
        row.unwrap_or_else(|| panic!("no golden component {term}"))["variance"].as_f64().unwrap()
    };
    assert_eq!(mixed.components.len(), names.len());
    for (component, name) in mixed.components.iter().zip(names) {
        let expected = variance(name);
        close_or(component.variance, expected, 1e-4, 1e-6 * mixed.residual_variance, name);
        assert_eq!(component.at_zero, expected == 0.0, "{name}");
    }
    close(mixed.residual_variance, variance("Residual"), 1e-4, "residual variance");
    close_or(mixed.reml_log_likelihood, case.number(&format!("{path}/reml_loglik")), 0.0, 1e-6, "log-likelihood");
}

// Source: McConway, Jones & Taylor as re-analysed by Lee et al. (2008); golden values R 4.2.2 (aov, lme4, emmeans).
#[test]
fn turnip_variety_date_density() {
    let case = Case::open("turnip-variety-date-density");
    let factors = [names("variety"), names("sowing_date"), amounts("density", "kg/ha")];
    let layout = Layout {
        blocks: block_and_plot(),
        units: &[("block", &["block"])],
        factors: &factors,
        control: None,
        response: "yield",
    };
    let analysis = case.analyse(&layout);
    let sources = [
        "variety",
        "sowing_date",
        "density",
        "variety x sowing_date",
        "variety x density",
        "sowing_date x density",
        "variety x sowing_date x density",
        "residual",
    ];
    let strata = analysis.strata.as_ref().unwrap();
    let golden = case.computed("anova").as_array().unwrap();
    for (source, golden) in sources.iter().zip(&golden[1..]) {
        check_row(strata.stratum("plot").unwrap().row(source).unwrap(), golden);
    }
    close(
        strata.stratum("block").unwrap().row("residual").unwrap().ss,
        golden[0]["ss"].as_f64().unwrap(),
        1e-8,
        "blocks",
    );
    check_published_turnip(&case, &analysis);
    check_tests(&analysis.other_tests, case.computed("mixed/tests_kenward_roger"), &sources[..7]);
    check_components(&case, &analysis, "mixed", &["block"]);
    check_pairs(
        analysis.table(&["variety", "sowing_date", "density"]).unwrap(),
        case.computed("means_three_way"),
        CLASSICAL,
    );
    let scores = [0.0, 1.0, 2.0, 3.0];
    for golden in case.computed("density_trends_within_date").as_array().unwrap() {
        let date = golden["sowing_date"].as_str().unwrap();
        let trend = analysis.trend_over("density", &scores, &[("sowing_date", date)], 3).unwrap();
        let ours = trend.terms.iter().find(|it| it.name == golden["contrast"].as_str().unwrap()).unwrap();
        close(ours.contrast.estimate, golden["estimate_orthonormal"].as_f64().unwrap(), 1e-8, &ours.name);
        close(ours.contrast.se, golden["se"].as_f64().unwrap(), 1e-8, &ours.name);
        close_p(ours.p, golden["p"].as_f64().unwrap(), 1e-7, &ours.name);
    }
}

// Source: the table printed in Lee et al. (2008), to its printed digits.
fn check_published_turnip(case: &Case, analysis: &guardrow_inference::Analysis) {
    let plots = analysis.strata.as_ref().unwrap().stratum("plot").unwrap();
    for (printed, source) in
        [("variety", "variety"), ("density", "density"), ("sowing_date", "sowing_date"), ("residual", "residual")]
    {
        let rows = case.expected["published"]["table"].as_array().unwrap();
        let row = rows.iter().find(|row| row["source"] == printed).unwrap();
        let ours = plots.row(source).unwrap();
        assert_eq!(ours.df, row["df"].as_f64().unwrap());
        close_or(ours.ss, row["ss"].as_f64().unwrap(), 0.0, 0.05 + 1e-9, printed);
        close_or(ours.ms, row["ms"].as_f64().unwrap(), 0.0, 0.005 + 1e-9, printed);
    }
}

// Source: Rothamsted Report 1934-36, pp. 191-192; golden values R 4.2.2 (aov, emmeans) and exact quadrature.
#[test]
fn sprouts_manure_beside_a_control_four_times_in_each_block() {
    let case = Case::open("sprouts-manure-plus-control");
    let factors = [names("material"), names("amount")];
    let layout = Layout {
        blocks: block_and_plot(),
        units: &[("block", &["block"])],
        factors: &factors,
        control: Some(("treatment", "none")),
        response: "sprouts",
    };
    let analysis = case.analyse(&layout);
    let strata = analysis.strata.as_ref().unwrap();
    let plots = strata.stratum("plot").unwrap();
    let sources = [CONTROLS_AND_FACTORIAL, "material", "amount", "material x amount"];
    for (source, golden) in sources.iter().zip(case.computed("partition_of_treatments").as_array().unwrap()) {
        check_row(plots.row(source).unwrap(), golden);
    }
    check_row(plots.row("residual").unwrap(), &case.computed("anova")[2]);
    let label = |code: &str| match case.rows.iter().find(|row| row["treatment"] == code).unwrap() {
        row if code == "none" => row["treatment"].clone(),
        row => format!("{}, {}", row["material"], row["amount"]),
    };
    let table = analysis.table(&[]).unwrap();
    check_dunnett(&table.against_control[0], case.computed("dunnett"), label);
    for golden in case.computed("means")["pairs"].as_array().unwrap() {
        let cell = |key: &str| {
            let label = label(golden[key].as_str().unwrap());
            table.cells.iter().position(|cell| cell.label == label).unwrap()
        };
        let (a, b) = (cell("a"), cell("b"));
        let pair = table.pairs.iter().find(|pair| (pair.a, pair.b) == (a.min(b), a.max(b))).unwrap();
        close(pair.se, golden["se"].as_f64().unwrap(), 1e-8, "se");
        close_p(pair.p, golden["p_raw"].as_f64().unwrap(), 1e-7, "p");
        close_or(pair.p_tukey, golden["p_tukey"].as_f64().unwrap(), 0.0, 1e-7, "p by Tukey");
    }
    check_components(&case, &analysis, "mixed", &["block"]);
    let means = case.computed("factorial_means_over_treated");
    for cell in &analysis.table(&["material"]).unwrap().cells {
        close(cell.mean, means["material"][&cell.label].as_f64().unwrap(), 1e-8, &cell.label);
    }
}

// Source: Venables & Ripley (2002), set npk; golden values R 4.2.2 (aov with Error strata, lme4).
#[test]
fn pea_with_its_three_factor_interaction_confounded_with_blocks() {
    let case = Case::open("pea-npk-confounded");
    let factors = [names("nitrogen"), names("phosphate"), names("potash")];
    let layout = Layout {
        blocks: block_and_plot(),
        units: &[("block", &["block"])],
        factors: &factors,
        control: None,
        response: "yield",
    };
    let analysis = case.analyse(&layout);
    let three = "nitrogen x phosphate x potash";
    let rows = [
        ("block", three),
        ("block", "residual"),
        ("plot", "nitrogen"),
        ("plot", "phosphate"),
        ("plot", "potash"),
        ("plot", "nitrogen x phosphate"),
        ("plot", "nitrogen x potash"),
        ("plot", "phosphate x potash"),
        ("plot", "residual"),
    ];
    check_strata(analysis.strata.as_ref().unwrap(), case.computed("anova_strata"), &rows);
    let confounded = Notice::Confounded { term: three.into(), stratum: "block".into(), within: "plot".into() };
    assert!(analysis.notices.contains(&confounded), "{:?}", analysis.notices);
    for factor in ["nitrogen", "phosphate", "potash"] {
        let golden = case.computed(&format!("main_effect_means/{factor}"));
        check_pairs(analysis.table(&[factor]).unwrap(), golden, CLASSICAL);
    }
}

// Source: Besag & Higdon (1999), table 1; golden values R 4.2.2 (lm), its randomised-block part.
#[test]
fn wheat_in_three_blocks_of_fifty() {
    let case = Case::open("wheat-trend-three-columns");
    let factors = [names("variety")];
    let layout = Layout {
        blocks: block_and_plot(),
        units: &[("block", &["column"])],
        factors: &factors,
        control: None,
        response: "yield",
    };
    let analysis = case.analyse_with(&layout, &with_fixed_units());
    let fixed = analysis.fixed_units.as_ref().unwrap();
    let golden = case.computed("rcb_anova").as_array().unwrap();
    for (source, golden) in ["block", "variety", "residual"].iter().zip(golden) {
        check_row(sequential(fixed, source), golden);
    }
    let table = analysis.table(&["variety"]).unwrap();
    close(table.sed.min, case.number("rcb_sed"), 1e-8, "SED");
    close(table.sed.max, case.number("rcb_sed"), 1e-8, "SED");
    for golden in case.computed("means").as_array().unwrap() {
        let cell = fixed.tables[0].cells.iter().find(|cell| cell.label == golden["variety"].as_str().unwrap()).unwrap();
        close(cell.mean, golden["rcb"].as_f64().unwrap(), 1e-8, &cell.label);
        close(cell.se.unwrap(), golden["rcb_se"].as_f64().unwrap(), 1e-8, &cell.label);
    }
}

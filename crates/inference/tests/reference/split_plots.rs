//! Split-plots and split-split-plots.

use crate::case::{Case, Layout, amounts, names, split_plot};
use crate::compare::{MIXED, check_means, check_pairs, check_strata, check_tests, close, close_or, close_p};
use crate::randomised_blocks::check_components;
use guardrow_design::BlockStructure;
use guardrow_inference::{Lead, Method, Notice, Options};

// Source: Yates (1935); golden values R 4.2.2 (aov with Error strata, lme4, pbkrtest, emmeans).
#[test]
fn oats_variety_nitrogen() {
    let case = Case::open("oats-variety-nitrogen-split-plot");
    let factors = [names("variety"), amounts("nitrogen", "cwt/ac")];
    let layout = Layout {
        blocks: split_plot(),
        units: &[("block", &["block"]), ("main plot", &["variety"])],
        factors: &factors,
        control: None,
        response: "grain_yield",
    };
    let analysis = case.analyse(&layout);
    let rows = [
        ("block", "residual"),
        ("main plot", "variety"),
        ("main plot", "residual"),
        ("plot", "nitrogen"),
        ("plot", "variety x nitrogen"),
        ("plot", "residual"),
    ];
    check_strata(analysis.strata.as_ref().unwrap(), case.computed("anova_strata"), &rows);
    let terms = ["variety", "nitrogen", "variety x nitrogen"];
    check_tests(&analysis.other_tests, case.computed("mixed/tests_kenward_roger"), &terms);
    check_tests(&analysis.tests, case.computed("mixed/tests_kenward_roger"), &terms);
    check_components(&case, &analysis, "mixed", &["block", "block:variety"]);
    assert_eq!((analysis.lead, analysis.difference_between_methods.as_ref()), (Lead::Strata, None));
    for (term, keys, golden) in [
        (&["variety"][..], &["variety"][..], "whole_plot_means"),
        (&["nitrogen"], &["nf"], "sub_plot_means"),
        (&["variety", "nitrogen"], &["variety", "nf"], "cell_means"),
    ] {
        let table = analysis.table(term).unwrap();
        check_means(table, case.computed(golden), keys, MIXED);
        check_pairs(table, case.computed(golden), MIXED);
    }
    close(analysis.cv[1].percent.unwrap(), case.number("cv_pct/whole_plot_per_subplot_basis"), 1e-8, "CV");
    close(analysis.cv[2].percent.unwrap(), case.number("cv_pct/sub_plot"), 1e-8, "CV");
    check_oats_differences(&case, &analysis);
}

/// The four kinds of difference in closed form, so at the classical tolerance.
fn check_oats_differences(case: &Case, analysis: &guardrow_inference::Analysis) {
    let cells = analysis.table(&["variety", "nitrogen"]).unwrap();
    let pair = |a: usize, b: usize| cells.pairs.iter().find(|pair| (pair.a, pair.b) == (a, b)).unwrap();
    close(analysis.table(&["variety"]).unwrap().sed.max, case.number("sed_kinds/variety_means"), 1e-8, "variety");
    close(analysis.table(&["nitrogen"]).unwrap().sed.max, case.number("sed_kinds/nitrogen_means"), 1e-8, "nitrogen");
    close(pair(0, 1).se, case.number("sed_kinds/nitrogen_within_variety"), 1e-8, "nitrogen within variety");
    let between = pair(0, 4);
    close(between.se, case.number("sed_kinds/variety_within_or_across_nitrogen"), 1e-8, "variety at one nitrogen");
    close(between.df, case.number("sed_kinds/satterthwaite_df_variety_at_same_nitrogen"), 1e-8, "its df");
    let lsd = 0.5 * (between.upper - between.lower);
    close(lsd, case.number("sed_kinds/lsd_variety_at_same_nitrogen_satterthwaite"), 1e-8, "its LSD");
    let trend = analysis.trend("nitrogen", 3).unwrap();
    for (ours, golden) in trend.terms.iter().zip(case.computed("nitrogen_trends").as_array().unwrap()) {
        close(ours.contrast.estimate, golden["estimate_orthonormal"].as_f64().unwrap(), 1e-8, &ours.name);
        close(ours.f, golden["f"].as_f64().unwrap(), 1e-8, &ours.name);
        close_p(ours.p, golden["p"].as_f64().unwrap(), 1e-7, &ours.name);
    }
}

// Source: invented data of a benchmark, 4 blocks x 3 x 4; golden values R 4.2.2 (lme4 with tight tolerances, pbkrtest,
// emmeans). The variances' roots and the F are those of the classical mean squares, since all estimates are positive.
#[test]
fn split_plot_of_48_plots() {
    let case = Case::open("split-plot-48");
    let factors = [names("a"), names("b")];
    let layout = Layout {
        blocks: split_plot(),
        units: &[("block", &["block"]), ("main plot", &["a"])],
        factors: &factors,
        control: None,
        response: "y",
    };
    let analysis = case.analyse(&layout);
    let mixed = analysis.mixed.as_ref().unwrap();
    // The golden value was made with contrasts that sum to zero; its X is ours times a matrix of determinant 3^4 x 4^3.
    let golden = case.expected["reml_loglik"].as_f64().unwrap() + f64::ln(81.0 * 64.0);
    close_or(mixed.reml_log_likelihood, golden, 0.0, 1e-6, "log-likelihood");
    let ratio = |index: usize| (mixed.components[index].variance / mixed.residual_variance).sqrt();
    close(ratio(1), 0.853973700413, 1e-9, "main plots");
    close(ratio(0), 0.854986621740, 1e-9, "blocks");
    for (label, f, den_df) in [("a", 6.15626986536, 6.0), ("b", 5.30773710274, 27.0), ("a x b", 1.07120806623, 27.0)] {
        for tests in [&analysis.tests, &analysis.other_tests] {
            let test = tests.iter().find(|test| test.label == label).unwrap();
            close(test.f, f, 1e-9, label);
            close(test.den_df, den_df, 1e-8, label);
        }
    }
    for (term, key) in [(&["a"][..], "a"), (&["b"], "b"), (&["a", "b"], "a:b")] {
        let table = analysis.table(term).unwrap();
        let golden = case.expected["terms"][key]["pairs"].as_array().unwrap();
        for golden in golden {
            let label = golden["contrast"].as_str().unwrap();
            let ours = |pair: &&guardrow_inference::PairDifference| {
                let levels = |cell: usize| table.cells[cell].levels.join(" ");
                label == format!("{} - {}", levels(pair.a), levels(pair.b))
                    || label == format!("{} - {}", levels(pair.b), levels(pair.a))
            };
            let pair = table.pairs.iter().find(ours).unwrap_or_else(|| panic!("no pair {label}"));
            close(pair.estimate.abs(), golden["estimate"].as_f64().unwrap().abs(), 1e-5, label);
            close(pair.se, golden["SE"].as_f64().unwrap(), 1e-5, label);
            close(pair.df, golden["df"].as_f64().unwrap(), 1e-4, label);
            close_or(pair.p_tukey, golden["p.value"].as_f64().unwrap(), 0.0, 1e-6, label);
        }
    }
}

fn split_split_plot() -> BlockStructure {
    let unit = BlockStructure::unit;
    unit("block").nest(unit("main plot").nest(unit("subplot").nest(unit("plot"))))
}

// Source: Gomez & Gomez (1984), pp. 143-153; golden values R 4.2.2 (aov with Error strata, lme4, pbkrtest, emmeans). Two
// variances are at zero: strata lead, and the mixed model keeps the degrees of freedom of the strata.
#[test]
fn rice_nitrogen_management_variety_with_variances_at_zero() {
    let case = Case::open("rice-nitrogen-management-variety-split-split");
    let factors = [amounts("nitrogen", "kg/ha"), names("management"), names("variety")];
    let layout = Layout {
        blocks: split_split_plot(),
        units: &[("block", &["block"]), ("main plot", &["nitrogen"]), ("subplot", &["management"])],
        factors: &factors,
        control: None,
        response: "grain_yield",
    };
    let analysis = case.analyse(&layout);
    let rows = [
        ("block", "residual"),
        ("main plot", "nitrogen"),
        ("main plot", "residual"),
        ("subplot", "management"),
        ("subplot", "nitrogen x management"),
        ("subplot", "residual"),
        ("plot", "variety"),
        ("plot", "nitrogen x variety"),
        ("plot", "management x variety"),
        ("plot", "nitrogen x management x variety"),
        ("plot", "residual"),
    ];
    check_strata(analysis.strata.as_ref().unwrap(), case.computed("anova_strata"), &rows);
    check_components(&case, &analysis, "mixed", &["block", "block:nf", "block:nf:management"]);
    let terms = [
        "nitrogen",
        "management",
        "variety",
        "nitrogen x management",
        "nitrogen x variety",
        "management x variety",
        "nitrogen x management x variety",
    ];
    check_tests(&analysis.other_tests, case.computed("mixed/tests_kenward_roger"), &terms);
    let mixed = analysis.mixed.as_ref().unwrap();
    assert!(mixed.evidence.singular && mixed.components.iter().all(|it| it.se.is_none()));
    for stratum in ["block", "subplot"] {
        assert!(analysis.notices.contains(&Notice::NegativeVariance { stratum: stratum.into() }));
        assert!(analysis.notices.contains(&Notice::VarianceAtZero { stratum: stratum.into() }));
    }
    let sentence = analysis.difference_between_methods.as_ref().unwrap();
    assert!(sentence.contains("block and subplot at zero"), "{sentence}");
    let by_model = case.analyse_with(&layout, &Options { method: Method::Mixed, ..Options::default() });
    for (term, keys, golden) in [
        (&["nitrogen"][..], &["nf"][..], "means_nitrogen"),
        (&["management"], &["management"], "means_management"),
        (&["variety"], &["variety"], "means_variety"),
        (&["nitrogen", "variety"], &["nf", "variety"], "means_nitrogen_by_variety"),
    ] {
        let table = by_model.table(term).unwrap();
        check_means(table, case.computed(golden), keys, MIXED);
        check_pairs(table, case.computed(golden), MIXED);
    }
}

// Source: Gomez & Gomez (1984), p. 339, with blocks relabelled as the golden file says; golden values R 4.2.2. Sites are a
// factor here: they were not drawn from any larger set.
#[test]
fn rice_at_three_sites() {
    let case = Case::open("rice-split-plot-three-sites");
    let factors = [names("site"), amounts("nitrogen", "kg/ha"), names("variety")];
    let layout = Layout {
        blocks: split_plot(),
        units: &[("block", &["site", "block"]), ("main plot", &["nitrogen"])],
        factors: &factors,
        control: None,
        response: "grain_yield",
    };
    let analysis = case.analyse(&layout);
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
    let trend = analysis.trend("nitrogen", 3).unwrap();
    for (ours, golden) in trend.terms.iter().zip(case.computed("nitrogen_trends_main").as_array().unwrap()) {
        close(ours.f, golden["f"].as_f64().unwrap(), 1e-8, &ours.name);
        close_p(ours.p, golden["p"].as_f64().unwrap(), 1e-7, &ours.name);
    }
}

// Source: Yates (1935); golden values `tests/reference/simple-effects/expected.R` (R 4.2.2, lme4, pbkrtest, emmeans), whose F are
// rounded to three places while their p are not.
#[test]
fn oats_effects_within_levels() {
    let case = Case::open("oats-variety-nitrogen-split-plot");
    let golden = Case::open_golden("simple-effects");
    let factors = [names("variety"), names("nitrogen")];
    let layout = Layout {
        blocks: split_plot(),
        units: &[("block", &["block"]), ("main plot", &["variety"])],
        factors: &factors,
        control: None,
        response: "grain_yield",
    };
    let analysis = case.analyse(&layout);
    let within_varieties = analysis.simple_effects(&["nitrogen"], &["variety"]).unwrap();
    for golden in golden["nitrogen_within_variety"].as_array().unwrap() {
        let ours = within_varieties.iter().find(|it| it.at[0].1 == golden["at"]).unwrap().test.unwrap();
        let number = |key: &str| golden[key].as_f64().unwrap();
        assert_eq!((ours.num_df, ours.den_df), (number("num_df"), number("den_df")));
        close_or(ours.f, number("f"), 0.0, 5e-4, "F of nitrogen within a variety");
        close_p(ours.p, number("p"), 1e-6, "its p");
    }
    for (of, within) in [("nitrogen", "variety"), ("variety", "nitrogen")] {
        let effects = analysis.simple_effects(&[of], &[within]).unwrap();
        let golden = golden[format!("{of}_within_{within}_pairs")].as_array().unwrap();
        assert_eq!(golden.len(), effects.iter().map(|it| it.pairs.len()).sum::<usize>());
        for golden in golden {
            let effect = effects.iter().find(|it| it.at[0].1 == golden["at"]).unwrap();
            let name = |a: usize, b: usize| {
                let level = |cell: usize| effect.cells[cell].levels.iter().find(|it| **it != effect.at[0].1).unwrap();
                format!("{} - {}", level(a), level(b))
            };
            let pair = effect.pairs.iter().find(|pair| golden["contrast"] == name(pair.a, pair.b)).unwrap();
            let number = |key: &str| golden[key].as_f64().unwrap();
            close(pair.estimate, number("estimate"), 1e-8, "difference");
            close(pair.se, number("se"), 1e-6, "its error");
            close(pair.df, number("df"), 1e-5, "its df");
            close_or(pair.p_tukey, number("p_tukey"), 0.0, 1e-7, "its p by Tukey");
        }
    }
    let refused = analysis.simple_effects(&["nitrogen"], &["season"]);
    assert!(matches!(refused, Err(guardrow_inference::InferenceError::NoSuchTerm { .. })));
}

// Comparisons that are orthogonal among the levels make up the term: the mean of their squared t is its F.
#[test]
fn oats_own_comparisons() {
    let case = Case::open("oats-variety-nitrogen-split-plot");
    let factors = [names("variety"), amounts("nitrogen", "cwt/ac")];
    let layout = Layout {
        blocks: split_plot(),
        units: &[("block", &["block"]), ("main plot", &["variety"])],
        factors: &factors,
        control: None,
        response: "grain_yield",
    };
    let analysis = case.analyse(&layout);
    let over_varieties = |row: [f64; 4]| (0..12).map(|it| row[it % 4] / 3.0).collect::<Vec<f64>>();
    let asked = [
        ("any nitrogen", [-1.0, 1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0]),
        ("more than the least", [0.0, -1.0, 0.5, 0.5]),
        ("the last step", [0.0, 0.0, -1.0, 1.0]),
    ];
    let asked: Vec<guardrow_inference::NamedContrast> = asked
        .into_iter()
        .map(|(name, row)| guardrow_inference::NamedContrast { name: name.into(), weights: over_varieties(row) })
        .collect();
    let table = analysis.contrasts(&asked).unwrap();
    let (together, term) = (table.together.unwrap(), analysis.test(&["nitrogen"]).unwrap());
    close(together.f, term.f, 1e-10, "F of all");
    let mean_of_squares = table.rows.iter().map(|row| row.estimate.t().powi(2)).sum::<f64>() / 3.0;
    close(mean_of_squares, term.f, 1e-10, "mean of squared t");
    let step = analysis.table(&["nitrogen"]).unwrap().pairs.iter().find(|pair| (pair.a, pair.b) == (2, 3)).unwrap();
    let last = &table.rows[2];
    close(last.estimate.estimate, -step.estimate, 1e-12, "the last step");
    close(last.p, step.p, 1e-12, "its p");
    assert!(table.rows.iter().all(|row| row.p_holm >= row.p));
}

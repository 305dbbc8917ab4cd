//! What polynomials leave, told by trends and by curves, is one and the same.

use crate::golden::{Golden, close};
use crate::trial::{amounts, analysed, blocks, full, level_of, names, numbered};
use guardrow_design::{BlockStructure, Control, TreatmentStructure};
use guardrow_inference::{
    Aim, Analysis, CurveNotice, CurveOptions, Experiment, Form, GroupCurves, LackOfFit, ResponseCurves,
};

fn rice() -> Analysis {
    let case = Golden::open("rice-seeding-rate");
    analysed(&blocks(&numbered(&case, "block"), &full(&case, "seeding_rate"), &full(&case, "grain_yield")))
}

/// Sulphur in two seasons beside an untreated control on twice the plots.
fn scab() -> Analysis {
    let case = Golden::open("potato-scab-sulphur");
    let treated: Vec<_> = case.rows.iter().filter(|row| row["treatment"] != "control").collect();
    let seasons: Vec<String> = treated.iter().map(|row| row["season"].clone()).collect();
    let rates: Vec<f64> = treated.iter().map(|row| row["sulphur_rate"].parse().unwrap()).collect();
    let factors = vec![names("season", &seasons), amounts("rate", &rates)];
    let treatment = |row: &std::collections::HashMap<String, String>| match row["treatment"].as_str() {
        "control" => 6,
        _ => level_of(&factors[0], &row["season"]) * 3 + level_of(&factors[1], &row["sulphur_rate"]),
    };
    let treatment = case.rows.iter().map(treatment).collect();
    let controls = vec![Control { label: "untreated".into(), plots_per_replicate: 2 }];
    let structure = TreatmentStructure { factors: factors.clone(), controls };
    let trial = Experiment::new(BlockStructure::unit("plot"), Vec::new(), structure, treatment, case.column("scab"));
    analysed(&trial)
}

fn polynomials(curves: &ResponseCurves) -> [(usize, LackOfFit); 2] {
    let group = curves.together.as_ref().unwrap_or(&curves.groups[0]);
    let of = |form: Form| group.curve(form).unwrap().lack_of_fit;
    [(1, Form::Linear), (2, Form::Quadratic)].map(|(degree, form)| (degree, of(form).expect("amounts are left")))
}

fn check_same_words(analysis: &Analysis, factor: &str, curves: &ResponseCurves) {
    let trend = analysis.trend(factor, 5).unwrap();
    for (degree, ours) in polynomials(curves) {
        let theirs = trend.terms[degree - 1].lack_of_fit.unwrap();
        assert_eq!((ours.num_df, ours.den_df), (theirs.num_df, theirs.den_df));
        close(ours.f, theirs.f, 1e-8, "lack of fit");
        close(ours.p, theirs.p, 1e-8, "p of lack of fit");
    }
}

// Source: Gomez & Gomez (1984), p. 26; lack of fit and slope of the straight line by R 4.2.2 (golden file of the case).
#[test]
fn rice_seeding_rate() {
    let analysis = rice();
    let options = CurveOptions { price_ratio: Some(2.0), ..CurveOptions::default() };
    let curves = analysis.response_curves("rate", None, &[], &[], &options).unwrap();
    check_same_words(&analysis, "rate", &curves);
    let case = Golden::open("rice-seeding-rate");
    let linear = curves.groups[0].curve(Form::Linear).unwrap();
    let golden = case.computed("straight_line");
    close(linear.parameters[1].value.estimate, golden["slope"].as_f64().unwrap(), 1e-10, "slope");
    // the golden error pools the lack of fit on 19 degrees of freedom; ours is that of the plots on 15
    let lack = linear.lack_of_fit.unwrap();
    close(lack.f, case.number("lack_of_fit_of_straight_line/f"), 1e-8, "lack of fit");
    let pooled = ((15.0 + 4.0 * lack.f) / 19.0).sqrt();
    close(linear.parameters[1].value.se.unwrap() * pooled, golden["se"].as_f64().unwrap(), 1e-8, "error of the slope");
    // F of the straight line on 1 and 15 degrees of freedom, as in the golden polynomial partition
    let explained = linear.explained.unwrap();
    close(explained.f, case.number("polynomial_partition/0/f"), 1e-8, "straight line");
    close(explained.p, case.number("polynomial_partition/0/p"), 1e-7, "p of the straight line");
    close(curves.groups[0].response.unwrap().f, case.number("anova/1/f"), 1e-8, "all differences");
    // yield falls with the rate, so that the lowest rate is best and no more can be said
    assert_eq!(curves.groups[0].fit_equally, [Form::Linear]);
    let best = linear.wanted().found().unwrap();
    assert_eq!((best.amount.estimate, best.amount.se), (25.0, None));
    assert!(best.notices.contains(&CurveNotice::LowestIsBest));
}

// Source: Cochran & Cox (1957). Polynomials over the three rates by this crate's own trends, which are checked against R; the
// untreated plots stand for a rate of zero.
#[test]
fn scab_under_sulphur_with_untreated_plots_as_zero() {
    let analysis = scab();
    let options = CurveOptions { aim: Aim::Low, forms: vec![Form::Flat, Form::Linear], ..CurveOptions::default() };
    let without = analysis.response_curves("rate", Some("season"), &[], &[], &options).unwrap();
    let trend = analysis.trend("rate", 1).unwrap();
    let ours = without.together.as_ref().unwrap().curve(Form::Linear).unwrap().lack_of_fit.unwrap();
    close(ours.f, trend.terms[0].lack_of_fit.unwrap().f, 1e-8, "lack of fit");
    let options = CurveOptions { aim: Aim::Low, ..CurveOptions::default() };
    let with = analysis.response_curves("rate", None, &[], &[("untreated", 0.0)], &options).unwrap();
    let group: &GroupCurves = &with.groups[0];
    assert_eq!(group.means.iter().map(|it| it.amount).collect::<Vec<_>>(), [0.0, 300.0, 600.0, 1200.0]);
    close(group.means[0].mean.estimate, 22.625, 1e-12, "mean of the untreated plots");
    close(group.means[0].mean.se.unwrap(), 2.369_467_239_697_564, 1e-8, "its error, from the golden file");
    // scab falls with sulphur: the straight line has no least, and a plateau would be the amount that is enough
    let linear = group.curve(Form::Linear).unwrap();
    assert!(linear.parameters[1].value.estimate < 0.0 && linear.best.found().is_none());
}

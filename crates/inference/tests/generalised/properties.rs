//! What must hold for every data set.

use guardrow_inference::generalised::{
    CountSpread, GeneralisedFit, GeneralisedModel, Grouping, Observed, ProportionLink, TreatmentState, by_quadrature,
    fit,
};
use guardrow_inference::{InferenceError, Notice};
use proptest::prelude::*;

const BLOCKS: usize = 5;
const MAIN: usize = 2;
const SUB: usize = 3;
const PLOTS: usize = BLOCKS * MAIN * SUB;
const TREATMENTS: usize = MAIN * SUB;

fn grouping(name: &str, classes: usize, class: impl Fn(usize) -> usize) -> Grouping {
    Grouping { name: name.into(), class: (0..PLOTS).map(class).collect(), classes }
}

/// A split-plot: blocks, main plots, plots.
pub fn split_plot(observed: Observed) -> GeneralisedModel {
    GeneralisedModel {
        observed,
        treatments: (0..TREATMENTS).map(|it| format!("t{it}")).collect(),
        treatment: (0..PLOTS).map(|plot| plot % TREATMENTS).collect(),
        columns: Vec::new(),
        offset: None,
        groupings: vec![
            grouping("block", BLOCKS, |plot| plot / TREATMENTS),
            grouping("main plot", BLOCKS * MAIN, |plot| plot / SUB),
            Grouping::each_observation("plot", PLOTS),
        ],
    }
}

fn proportions(successes: Vec<f64>) -> Observed {
    Observed::Proportions { trials: vec![40.0; successes.len()], successes, link: ProportionLink::Logit }
}

/// Rates that differ between blocks, main plots, plots and treatments, as counts of 40 tried and not at the edge.
pub fn successes() -> impl Strategy<Value = Vec<f64>> {
    let effects = |count| proptest::collection::vec(-1.0..1.0_f64, count);
    (effects(BLOCKS), effects(BLOCKS * MAIN), effects(PLOTS)).prop_map(|(block, main, plot)| {
        let eta = |it: usize| {
            0.3 + 0.3 * (it % SUB) as f64 + 0.6 * block[it / TREATMENTS] + 0.4 * main[it / SUB] + 0.7 * plot[it]
        };
        (0..PLOTS).map(|it| (40.0 / (1.0 + (-eta(it)).exp())).round().clamp(1.0, 39.0)).collect()
    })
}

fn near(a: f64, b: f64, allowed: f64) -> bool {
    (a - b).abs() <= allowed * a.abs().max(b.abs()).max(1.0)
}

pub fn picked(values: &[f64], order: &[usize]) -> Vec<f64> {
    order.iter().map(|&plot| values[plot]).collect()
}

pub fn reordered(model: &GeneralisedModel, order: &[usize]) -> GeneralisedModel {
    let observed = match &model.observed {
        Observed::Proportions { successes, trials, link } => {
            Observed::Proportions { successes: picked(successes, order), trials: picked(trials, order), link: *link }
        }
        Observed::Counts { counts, spread } => Observed::Counts { counts: picked(counts, order), spread: *spread },
    };
    let regrouped =
        |it: &Grouping| Grouping { class: order.iter().map(|&plot| it.class[plot]).collect(), ..it.clone() };
    GeneralisedModel {
        observed,
        treatment: order.iter().map(|&plot| model.treatment[plot]).collect(),
        groupings: model.groupings.iter().map(regrouped).collect(),
        ..model.clone()
    }
}

/// Same likelihood, variances, means and standard errors; the second model's treatment `to[i]` is the first's `i`.
pub fn same(one: &GeneralisedFit, other: &GeneralisedFit, to: impl Fn(usize) -> usize) -> bool {
    let (a, b) = (one.means(0.05).unwrap(), other.means(0.05).unwrap());
    let same_mean = |it: usize| {
        let (a, b) = (&a[it], &b[to(it)]);
        near(a.link.unwrap(), b.link.unwrap(), 1e-6) && near(a.link_se.unwrap(), b.link_se.unwrap(), 1e-6)
    };
    let sd = |fit: &GeneralisedFit, name: &str| fit.components.iter().find(|it| it.name == name).unwrap().sd;
    near(one.log_likelihood, other.log_likelihood, 1e-10)
        && (0..a.len()).all(same_mean)
        && one.components.iter().all(|it| near(it.sd, sd(other, &it.name), 1e-5))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_rows_does_not_matter(y in successes(), order in Just((0..PLOTS).collect::<Vec<_>>()).prop_shuffle()) {
        let model = split_plot(proportions(y));
        prop_assert!(same(&fit(&model).unwrap(), &fit(&reordered(&model, &order)).unwrap(), |it| it));
    }

    #[test]
    fn numbers_of_units_and_treatments_and_the_order_of_groupings_do_not_matter(y in successes()) {
        let model = split_plot(proportions(y));
        let mut turned = model.clone();
        turned.treatments.reverse();
        turned.treatment.iter_mut().for_each(|it| *it = TREATMENTS - 1 - *it);
        turned.groupings.reverse();
        turned.groupings.iter_mut().for_each(|grouping| {
            let last = grouping.classes - 1;
            grouping.class.iter_mut().for_each(|class| *class = last - *class);
        });
        prop_assert!(same(&fit(&model).unwrap(), &fit(&turned).unwrap(), |it| TREATMENTS - 1 - it));
    }

    #[test]
    fn counting_failures_turns_every_sign(y in successes()) {
        let model = split_plot(proportions(y.clone()));
        let failures = split_plot(proportions(y.iter().map(|y| 40.0 - y).collect()));
        let (one, other) = (fit(&model).unwrap(), fit(&failures).unwrap());
        prop_assert!(near(one.log_likelihood, other.log_likelihood, 1e-10));
        for (a, b) in one.means(0.05).unwrap().iter().zip(other.means(0.05).unwrap()) {
            prop_assert!(near(a.link.unwrap(), -b.link.unwrap(), 1e-6));
            prop_assert!(near(a.lower.unwrap(), 1.0 - b.upper.unwrap(), 1e-6));
            prop_assert!(near(a.average.unwrap(), 1.0 - b.average.unwrap(), 1e-6));
        }
    }

    #[test]
    fn single_trials_say_the_same_as_their_sums(y in successes()) {
        let mut grouped = split_plot(proportions(y.clone()));
        grouped.groupings.pop();
        let plot: Vec<usize> = (0..PLOTS).flat_map(|plot| std::iter::repeat_n(plot, 40)).collect();
        let mut single = reordered(&grouped, &plot);
        single.observed = Observed::Proportions {
            successes: y.iter().flat_map(|&y| (0..40).map(move |it| f64::from(u8::from(f64::from(it) < y)))).collect(),
            trials: vec![1.0; 40 * PLOTS],
            link: ProportionLink::Logit,
        };
        let (one, other) = (fit(&grouped).unwrap(), fit(&single).unwrap());
        let ways: f64 = y.iter().map(|&y| log_ways(40.0, y)).sum();
        prop_assert!(near(one.log_likelihood - ways, other.log_likelihood, 1e-9));
        for (a, b) in one.means(0.05).unwrap().iter().zip(other.means(0.05).unwrap()) {
            prop_assert!(near(a.link.unwrap(), b.link.unwrap(), 1e-6) && near(a.link_se.unwrap(), b.link_se.unwrap(), 1e-6));
        }
    }

    #[test]
    fn an_offset_shifts_the_means(y in successes(), shift in -3.0..3.0_f64) {
        let model = split_plot(Observed::Counts { counts: y, spread: CountSpread::Poisson });
        let moved = GeneralisedModel { offset: Some(vec![shift; PLOTS]), ..model.clone() };
        let (one, other) = (fit(&model).unwrap(), fit(&moved).unwrap());
        prop_assert!(near(one.log_likelihood, other.log_likelihood, 1e-10));
        for (a, b) in one.means(0.05).unwrap().iter().zip(other.means(0.05).unwrap()) {
            prop_assert!(near(a.link.unwrap(), b.link.unwrap() + shift, 1e-6));
        }
    }

    #[test]
    fn any_counts_end_in_an_error_or_in_sound_numbers(model in any_model()) {
        match fit(&model) {
            Err(error) => prop_assert!(!error.help().is_empty() && !error.to_string().is_empty()),
            Ok(fitted) => check_sound(&model, &fitted)?,
        }
    }
}

/// Small counts with many zeros, some treatments wholly at an edge, units in any pattern, plots lost.
fn any_model() -> impl Strategy<Value = GeneralisedModel> {
    let values = proptest::collection::vec((0..6_u8, 0..4_u8, any::<bool>()), 1..PLOTS);
    let classes = proptest::collection::vec((0..5_usize, 0..4_usize), PLOTS);
    (values, classes, 0..6_u8, any::<bool>(), any::<bool>()).prop_map(|(values, classes, kind, shared, plots)| {
        let count = values.len();
        let treatment: Vec<usize> = (0..count).map(|plot| (plot * 7 + usize::from(values[plot].1)) % 4).collect();
        let y = values.iter().zip(&treatment).map(|(it, &treatment)| match (treatment, it.2) {
            (0, _) if shared => 0.0,
            (_, true) => f64::from(it.0.min(5)),
            _ => f64::from(it.1),
        });
        let y: Vec<f64> = y.collect();
        let trials = |most: f64| y.iter().map(|y| y.max(most)).collect();
        let observed = match kind {
            0 => Observed::Counts { counts: y, spread: CountSpread::Poisson },
            1 => Observed::Counts { counts: y, spread: CountSpread::NegativeBinomial },
            2 => Observed::Proportions { trials: trials(1.0), successes: y, link: ProportionLink::Logit },
            3 => Observed::Proportions { trials: trials(9.0), successes: y, link: ProportionLink::Probit },
            4 => Observed::Proportions { trials: trials(5.0), successes: y, link: ProportionLink::ComplementaryLogLog },
            _ => Observed::Proportions { trials: trials(5.0), successes: y, link: ProportionLink::Logit },
        };
        let column = |at: fn(&(usize, usize)) -> usize| classes[..count].iter().map(at).collect();
        let mut groupings = vec![
            Grouping { name: "row".into(), class: column(|it| it.0), classes: 5 },
            Grouping { name: "column".into(), class: column(|it| it.1), classes: 4 },
        ];
        if plots {
            groupings.push(Grouping::each_observation("plot", count));
        }
        let treatments = (0..5).map(|it| format!("t{it}")).collect();
        GeneralisedModel { observed, treatments, treatment, columns: Vec::new(), offset: None, groupings }
    })
}

fn check_sound(model: &GeneralisedModel, fitted: &GeneralisedFit) -> Result<(), TestCaseError> {
    prop_assert!(fitted.log_likelihood.is_finite() && fitted.log_likelihood <= 1e-9, "{fitted:?}");
    prop_assert!(fitted.evidence.gradient < 1e-4, "{:?}", fitted.evidence);
    for component in &fitted.components {
        prop_assert!(
            component.sd >= 0.0 && component.sd < 8.0 && component.at_zero == (component.sd == 0.0),
            "{component:?} {:?}",
            fitted.observations
        );
        prop_assert!(component.sd_se.is_none_or(|se| se > 0.0 && se.is_finite()));
    }
    for mean in fitted.means(0.05).unwrap() {
        if mean.state == TreatmentState::NoValues {
            prop_assert!(mean.mean.is_none() && mean.lower.is_none());
            continue;
        }
        let is_unknown = fitted.notices.iter().any(|it| matches!(it, Notice::VarianceNotSeparable { .. }));
        if is_unknown && mean.state == TreatmentState::Estimated {
            prop_assert!(mean.mean.is_some() && mean.link_se.is_none() && mean.upper.is_none());
            continue;
        }
        let (natural, lower, upper) = (mean.mean.unwrap(), mean.lower.unwrap(), mean.upper.unwrap());
        prop_assert!(lower <= natural && natural <= upper, "{mean:?}");
        prop_assert!(lower >= 0.0 && (upper <= 1.0 || matches!(model.observed, Observed::Counts { .. })), "{mean:?}");
        prop_assert_eq!(mean.link.is_some(), mean.state == TreatmentState::Estimated);
    }
    let uniform = vec![0.5; fitted.observations.len()];
    let residuals = fitted.quantile_residuals(&uniform).unwrap();
    prop_assert!(residuals.iter().flatten().all(|residual| residual.is_finite()));
    prop_assert!(fitted.observations.iter().all(|it| it.pearson.is_finite() && it.deviance.is_finite()));
    let json = serde_json::to_string(fitted).unwrap();
    let back: GeneralisedFit = serde_json::from_str(&json).expect("no number was lost on the way");
    prop_assert_eq!(&back.observations, &fitted.observations);
    prop_assert_eq!(back.means(0.05), Err(InferenceError::FitNotKept));
    Ok(())
}

/// Logarithm of the number of ways to choose `k` of `n`, factor by factor.
fn log_ways(n: f64, k: f64) -> f64 {
    (0..k as u32).map(|it| ((n - f64::from(it)) / (f64::from(it) + 1.0)).ln()).sum()
}

#[test]
fn laplace_and_quadrature_come_together_as_units_say_more() {
    let shift = |trials: f64| {
        let rate = |plot: usize| 0.15 + 0.16 * (plot / TREATMENTS * 2 % BLOCKS) as f64 + 0.02 * (plot % 4) as f64;
        let successes = (0..PLOTS).map(|plot| (trials * rate(plot)).round()).collect();
        let mut model =
            split_plot(Observed::Proportions { successes, trials: vec![trials; PLOTS], link: ProportionLink::Logit });
        model.groupings.truncate(1);
        let (laplace, quadrature) = by_quadrature(&model, 15).unwrap();
        (laplace.log_likelihood - quadrature.unwrap().log_likelihood).abs()
    };
    let shifts: Vec<f64> = [3.0, 30.0, 300.0].into_iter().map(shift).collect();
    // Laplace's error falls as one over the trials of a unit
    assert!(shifts[0] > 2.0 * shifts[1] && shifts[1] > 5.0 * shifts[2] && shifts[2] > 0.0, "{shifts:?}");
}

#[test]
fn nested_units_by_quadrature_agree_with_many_points_and_with_few() {
    let successes = (0..PLOTS).map(|plot| 3.0 + ((plot * 7 + plot / 4) % 11) as f64).collect();
    let mut model =
        split_plot(Observed::Proportions { successes, trials: vec![15.0; PLOTS], link: ProportionLink::Logit });
    model.groupings.remove(1);
    let by = |points| by_quadrature(&model, points).unwrap().1.unwrap();
    let (few, many) = (by(9), by(31));
    assert!((few.log_likelihood - many.log_likelihood).abs() < 1e-5, "{few:?} {many:?}");
    assert!(few.means.iter().zip(&many.means).all(|(a, b)| (a.unwrap() - b.unwrap()).abs() < 1e-5));
    model.groupings.push(grouping("column", TREATMENTS, |plot| (plot + plot / TREATMENTS) % TREATMENTS));
    assert_eq!(by_quadrature(&model, 9).unwrap().1, None);
}

#[test]
fn quantile_residuals_of_the_models_own_draws_are_standard_normal() {
    // the residual's uniform number is spread evenly over each count's own probability, so that for any count
    // averaging over it gives the count's share of the normal distribution; with every count met they have variance one
    let counts: Vec<f64> = (0..PLOTS).map(|plot| ((plot * 5 + plot / 3) % 7) as f64).collect();
    let mut model = split_plot(Observed::Counts { counts, spread: CountSpread::Poisson });
    model.groupings.clear();
    let fitted = fit(&model).unwrap();
    let at = |uniform: f64| fitted.quantile_residuals(&[uniform; PLOTS]).unwrap();
    let (low, high) = (at(0.0), at(1.0));
    for (plot, it) in fitted.observations.iter().enumerate() {
        let probability =
            (-it.fitted).exp() * it.fitted.powf(it.observed) / (1..=it.observed as u32).map(f64::from).product::<f64>();
        let between = guardrow_inference::distribution::normal_lower(high[plot].unwrap())
            - guardrow_inference::distribution::normal_lower(low[plot].unwrap());
        assert!((between - probability).abs() < 1e-12, "{it:?}");
    }
    assert_eq!(fitted.notices, [] as [Notice; 0]);
}

//! Input that makes no sense ends in an error that says where and what to try, never in a panic or a nonsense number.

use super::trials::{Size, network};
use guardrow_inference::{
    InferenceError, Network, NetworkFit, NetworkGrouping, NetworkOptions, Notice, StopReason, fit_network,
};

const SIZE: Size = Size { sites: 4, years: 2, blocks: 2, entries: 5, lost: 0.1 };
const DEVIATIONS: [f64; 7] = [6.0, 4.0, 4.0, 2.0, 2.0, 1.5, 2.0];

fn sound() -> Network {
    network(SIZE, DEVIATIONS, 1)
}

fn run(network: &Network) -> Result<NetworkFit, InferenceError> {
    fit_network(network, &NetworkOptions::default())
}

/// The error of the sound network after a change to it; every error has a text and says what to try.
fn refused(change: impl Fn(&mut Network)) -> InferenceError {
    let mut changed = sound();
    change(&mut changed);
    let error = run(&changed).expect_err("the network makes no sense");
    assert!(!error.to_string().is_empty() && !error.help().is_empty());
    error
}

fn grouping(name: &str, count: usize, class: impl Fn(usize) -> usize, classes: usize) -> NetworkGrouping {
    NetworkGrouping::new(name, &(0..count).map(class).collect::<Vec<usize>>(), classes)
}

#[test]
fn lists_of_different_lengths() {
    let error = refused(|it| it.random[2] = grouping("site x year", 3, |_| 0, 1));
    assert!(matches!(error, InferenceError::Length { found: 3, .. }), "{error}");
    assert!(matches!(refused(|it| it.response.truncate(10)), InferenceError::Length { expected: 10, .. }));
    assert!(matches!(refused(|it| it.weights = Some(vec![1.0])), InferenceError::Length { found: 1, .. }));
    let short = |it: &mut Network| it.covariates = vec![("stand".into(), vec![1.0, 2.0])];
    assert!(matches!(refused(short), InferenceError::Length { found: 2, .. }));
}

#[test]
fn values_that_are_no_numbers_or_too_large() {
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(matches!(refused(|it| it.response[7] = value), InferenceError::NotFinite { plot: 7, .. }));
    }
    assert!(matches!(refused(|it| it.response[7] = 1e300), InferenceError::TooLarge { plot: 7, .. }));
    for weight in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e-300] {
        let weights = |it: &mut Network| {
            let mut weights = vec![1.0; it.response.len()];
            weights[4] = weight;
            it.weights = Some(weights);
        };
        assert!(matches!(refused(weights), InferenceError::WeightNotUsable { plot: 4, .. }));
    }
}

#[test]
fn classes_that_do_not_exist() {
    let beyond = |it: &mut Network| it.random[0] = grouping("site", it.response.len(), |at| at % 5, 4);
    assert!(matches!(refused(beyond), InferenceError::UnknownClass { plot: 4, class: 4, classes: 4, .. }));
    let far = |it: &mut Network| it.fixed = grouping("entry", it.response.len(), |_| usize::MAX, 4);
    assert!(matches!(refused(far), InferenceError::UnknownClass { plot: 0, .. }));
}

#[test]
fn nothing_to_compare_or_no_error() {
    let empty = Network::new(Vec::new(), grouping("entry", 0, |_| 0, 0), Vec::new());
    assert_eq!(run(&empty), Err(InferenceError::NoValues));
    let one_each = |it: &mut Network| it.fixed = grouping("entry", it.response.len(), |at| at, it.response.len());
    assert!(matches!(refused(one_each), InferenceError::NoErrorDegreesOfFreedom { .. }));
    let constant = refused(|it| it.response.fill(7.5));
    assert!(matches!(constant, InferenceError::ConstantResponse { value } if value == 7.5));
}

#[test]
fn responses_without_any_error() {
    let exact = |it: &mut Network| {
        let site = it.random[0].clone();
        let value = |at: usize| (it.fixed.class_of(at) * 3 + site.class_of(at) * 10) as f64;
        it.response = (0..it.response.len()).map(value).collect();
    };
    let error = refused(exact);
    assert!(matches!(error, InferenceError::NoVariation), "{error:?}");
}

#[test]
fn covariates_that_tell_nothing_of_their_own() {
    let with = |name: &'static str, value: fn(usize, usize) -> f64| {
        move |it: &mut Network| {
            let values = (0..it.response.len()).map(|at| value(at, it.fixed.class_of(at))).collect();
            it.covariates.push((name.into(), values));
        }
    };
    let nan = refused(with("stand", |at, _| if at == 3 { f64::NAN } else { at as f64 }));
    assert!(matches!(nan, InferenceError::CovariateNotFinite { plot: 3, .. }));
    assert!(matches!(refused(with("stand", |_, _| 3.0)), InferenceError::CovariateConstant { .. }));
    let by_entry = refused(with("stand", |_, entry| (entry * entry) as f64));
    assert!(matches!(by_entry, InferenceError::CovariateFollowsTreatments { .. }));
    let follows = refused(|it| {
        with("stand", |at, _| (at * at % 31) as f64)(it);
        with("twice", |at, entry| 2.0 * (at * at % 31) as f64 + entry as f64)(it);
    });
    assert!(matches!(follows, InferenceError::CovariateFollowsOthers { .. }), "{follows}");
    let same = refused(|it| {
        with("stand", |at, _| (at * at % 31) as f64)(it);
        with("stand", |at, _| (at * at % 37) as f64)(it);
    });
    assert!(matches!(same, InferenceError::CovariateTwice { .. }));
}

/// The sound network with further groupings.
fn with_random(more: impl Fn(usize) -> NetworkGrouping) -> NetworkFit {
    let mut network = sound();
    network.random.push(more(network.response.len()));
    run(&network).expect("a grouping that adds nothing is left out")
}

#[test]
fn groupings_that_add_nothing_are_left_out_with_a_notice() {
    let plain = run(&sound()).unwrap();
    let check = |fit: NetworkFit, notice: Notice| {
        assert!(fit.notices.contains(&notice), "{:?}", fit.notices);
        assert_eq!(fit.components.len(), plain.components.len());
        assert!((fit.reml_log_likelihood - plain.reml_log_likelihood).abs() < 1e-9);
        assert!((fit.difference_se(0, 1).unwrap() - plain.difference_se(0, 1).unwrap()).abs() < 1e-8);
    };
    check(with_random(|count| grouping("farm", count, |_| 0, 1)), Notice::OneUnit { stratum: "farm".into() });
    let again = sound().random[2].clone();
    let renamed = |count: usize| grouping("trial", count, |at| 7 - again.class_of(at), 8);
    check(with_random(renamed), Notice::SameUnits { stratum: "trial".into() });
    let entry = sound().fixed;
    let of_entry = |count: usize| grouping("lot", count, |at| entry.class_of(at), 5);
    check(with_random(of_entry), Notice::VarianceNotSeparable { stratum: "lot".into() });
    let own = |count: usize| grouping("plot", count, |at| at, count);
    check(with_random(own), Notice::VarianceNotSeparable { stratum: "plot".into() });
}

#[test]
fn entries_that_never_meet_are_said() {
    let mut network = sound();
    let site = network.random[0].clone();
    let entry = network.fixed.clone();
    // entries 0 and 1 at sites 0 and 1, the others at sites 2 and 3
    let keep: Vec<usize> =
        (0..network.response.len()).filter(|&at| (entry.class_of(at) < 2) == (site.class_of(at) < 2)).collect();
    let kept = |it: &NetworkGrouping| {
        let class: Vec<usize> = keep.iter().map(|&at| it.class_of(at)).collect();
        NetworkGrouping::new("", &class, it.classes())
    };
    network.response = keep.iter().map(|&at| network.response[at]).collect();
    network.fixed = kept(&entry);
    network.random =
        vec![NetworkGrouping::new("site", &keep.iter().map(|&at| site.class_of(at)).collect::<Vec<_>>(), 4)];
    let fit = run(&network).unwrap();
    let groups = vec![vec!["1".into(), "2".into()], vec!["3".into(), "4".into(), "5".into()]];
    assert!(fit.notices.contains(&Notice::Disconnected { stratum: "site".into(), groups }), "{:?}", fit.notices);
}

#[test]
fn without_random_groupings_it_is_a_one_way_analysis() {
    let mut network = sound();
    network.random.clear();
    let fit = run(&network).unwrap();
    let entries = network.fixed.classes();
    let (mut sums, mut squares) = (vec![(0.0, 0.0); entries], 0.0);
    for (at, value) in network.response.iter().enumerate() {
        let sum = &mut sums[network.fixed.class_of(at)];
        *sum = (sum.0 + value, sum.1 + 1.0);
    }
    for (at, value) in network.response.iter().enumerate() {
        let sum = sums[network.fixed.class_of(at)];
        squares += (value - sum.0 / sum.1).powi(2);
    }
    let mean_square = squares / (network.response.len() - entries) as f64;
    assert!((fit.residual[0].as_ref().unwrap().variance / mean_square - 1.0).abs() < 1e-9);
    assert!((fit.means[0].unwrap().mean - sums[0].0 / sums[0].1).abs() < 1e-10);
    assert_eq!(fit.evidence.stop, StopReason::Closed);
}

#[test]
fn classes_without_plots_have_no_mean_and_no_effect() {
    let mut network = sound();
    let wider = |it: &NetworkGrouping| {
        let class: Vec<usize> = (0..it.observations()).map(|at| it.class_of(at) + 1).collect();
        NetworkGrouping::new("wider", &class, it.classes() + 2)
    };
    let plain = run(&network).unwrap();
    network.fixed = wider(&network.fixed);
    network.random[0] = wider(&network.random[0]);
    let fit = run(&network).unwrap();
    assert!(fit.means[0].is_none() && fit.means[6].is_none());
    assert_eq!(fit.means[1], plain.means[0]);
    assert_eq!(fit.predictions[0].effects[0], 0.0);
    assert_eq!(fit.predictions[0].effects[1], plain.predictions[0].effects[0]);
    assert_eq!(fit.difference_se(0, 1), None);
    assert_eq!(fit.difference_se(1, 2), plain.difference_se(0, 1));
    assert_eq!(fit.difference_se(99, 1), None);
}

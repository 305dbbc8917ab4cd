//! The fit depends on what was observed, not on how it is written down or how many threads work on it.

use super::trials::{Size, network};
use guardrow_inference::{Network, NetworkFit, NetworkGrouping, NetworkOptions, fit_network};

const SIZE: Size = Size { sites: 12, years: 3, blocks: 2, entries: 10, lost: 0.2 };
const DEVIATIONS: [f64; 7] = [6.0, 4.0, 4.0, 2.0, 2.0, 1.5, 2.0];

fn run(network: &Network, threads: usize) -> NetworkFit {
    let options = NetworkOptions { threads, predicted: vec![0, 4] };
    fit_network(network, &options).expect("an invented network can be fitted")
}

fn reordered(network: &Network, order: &[usize], renamed: impl Fn(usize, usize) -> usize) -> Network {
    let grouping = |it: &NetworkGrouping| {
        let class: Vec<usize> = order.iter().map(|&at| renamed(it.class_of(at), it.classes())).collect();
        NetworkGrouping::new("renamed", &class, it.classes())
    };
    let response = order.iter().map(|&at| network.response[at]).collect();
    Network::new(response, grouping(&network.fixed), network.random.iter().map(grouping).collect())
}

/// Variances, then means, both divided by their standard errors' scale.
fn same(found: &NetworkFit, expected: &NetworkFit, factor: f64, shift: f64, class: impl Fn(usize) -> usize) {
    let near =
        |a: f64, b: f64| assert!((a - b).abs() <= 2e-7 * b.abs().max(1e-6 * factor * factor), "{a} instead of {b}");
    for (a, b) in found.components.iter().zip(&expected.components) {
        near(a.variance, factor * factor * b.variance);
    }
    for (index, mean) in expected.means.iter().enumerate() {
        let (found, expected) = (found.means[class(index)].unwrap(), mean.unwrap());
        near((found.mean - shift) / factor, expected.mean);
        near(found.se / factor, expected.se);
    }
}

#[test]
fn any_number_of_threads_gives_the_same_digits() {
    let network = network(SIZE, DEVIATIONS, 1);
    let alone = run(&network, 1);
    for threads in [0, 2, 3, 8] {
        assert_eq!(run(&network, threads), alone, "{threads} threads");
    }
}

#[test]
fn order_and_numbering_do_not_matter() {
    let network = network(SIZE, DEVIATIONS, 2);
    let plain = run(&network, 1);
    let count = network.response.len();
    // 997 is prime and does not divide the number of plots
    let order: Vec<usize> = (0..count).map(|at| at * 997 % count).collect();
    let backwards = |class: usize, classes: usize| classes - 1 - class;
    let turned = run(&reordered(&network, &order, backwards), 1);
    let entries = network.fixed.classes();
    same(&turned, &plain, 1.0, 0.0, |class| backwards(class, entries));
    assert!((turned.reml_log_likelihood - plain.reml_log_likelihood).abs() < 1e-7);
}

#[test]
fn random_groupings_may_come_in_any_order() {
    let network = network(SIZE, DEVIATIONS, 3);
    let plain = run(&network, 1);
    let mut turned = network.clone();
    turned.random.reverse();
    let mut fit = run(&turned, 1);
    fit.components.reverse();
    same(&fit, &plain, 1.0, 0.0, |class| class);
}

#[test]
fn shift_and_scale_carry_over() {
    let network = network(SIZE, DEVIATIONS, 4);
    let plain = run(&network, 1);
    for (factor, shift) in [(1e-9, 0.0), (1e9, 1e9), (1.0, 1e6)] {
        let mut moved = network.clone();
        moved.response.iter_mut().for_each(|value| *value = factor * *value + shift);
        same(&run(&moved, 1), &plain, factor, shift, |class| class);
    }
}

//! How the errors of one plot at several occasions may hang together.
//!
//! Source: the usual list, e.g. Littell, Henry & Ammerman (1998), J. Anim. Sci. 76:1216-1231 (from memory), without an unstructured matrix.

use super::occasions::{OCCASION, Occasions};
use crate::Experiment;
use crate::InferenceError;
use crate::correlated_errors::{Axis, Groups, Part, Unit};
use crate::error_models::{Candidate, Fixed, strata_parts};
use crate::model::{Kind, Partition};

/// The models, the plainest first.
///
/// # Errors
/// [`InferenceError::Setting`] when no plot has values at two occasions.
pub(super) fn candidates(
    experiment: &Experiment,
    fixed: &Fixed,
    occasions: &Occasions,
) -> Result<Vec<Candidate>, InferenceError> {
    let innermost = experiment.blocks.strata().pop().map(|it| it.units).unwrap_or_default();
    let is_plot = |it: &&Partition| it.kind == Kind::Units && it.labels == innermost;
    let (outer, _) = fixed.partitions.split_at(fixed.partitions.len() - 1);
    let Some(plot) = outer.iter().find(is_plot) else {
        let (what, expected) = ("the number of plots with values at two occasions".to_owned(), "at least 1".to_owned());
        return Err(InferenceError::Setting { what, value: 0.0, expected });
    };
    let stays = |it: &Partition| {
        it.labels != plot.labels && (occasions.units_by_occasion || !it.labels.iter().any(|it| it == OCCASION))
    };
    let strata: Vec<Partition> = outer.iter().filter(|it| stays(it)).cloned().collect();
    let visit: Vec<usize> = fixed.plots.index.iter().map(|&row| row / experiment.treatment.len()).collect();
    let groups = Groups { labels: occasions.visits.iter().map(|it| it.label.clone()).collect(), group: visit.clone() };
    let level = || Part::units("plot", plot.division.class.clone());
    let serial = || {
        let unit = Unit::Classes(plot.division.class.clone());
        Part::along("plot over time", unit, vec![axis(occasions, &visit)])
    };
    let with = |name: &'static str, describes: &str, own: Vec<Part>| {
        let describes = describes.to_owned();
        Candidate { name: name.to_owned(), describes, parts: strata_parts(&strata).into_iter().chain(own).collect() }
    };
    let decay = match occasions.is_even() {
        true => {
            "The errors of a plot are the more alike the fewer occasions lie between them (first-order autoregression)"
        }
        false => "The errors of a plot are the more alike the fewer days lie between them (exponential decay)",
    };
    let mut found = vec![
        with("independent", "The errors of a plot at two occasions have nothing in common.", vec![Part::residual()]),
        with(
            "compound symmetry",
            "A plot keeps its level: its errors at any two occasions are equally alike (a split plot in time).",
            vec![level(), Part::residual()],
        ),
        with("serial", &format!("{decay}."), vec![serial()]),
    ];
    if occasions.visits.len() > 2 {
        let describes = format!("{decay}, and every value has an independent error besides.");
        found.push(with("serial and independent errors", &describes, vec![serial(), Part::residual()]));
    }
    let own = |part: Part| part.with_variances_by(groups.clone());
    found.extend([
        with(
            "independent, variance of each occasion",
            "Nothing in common, and each occasion has its own variance.",
            vec![own(Part::residual())],
        ),
        with(
            "compound symmetry, variance of each occasion",
            "A plot keeps its level, and what comes on top has its own variance at each occasion.",
            vec![level(), own(Part::residual())],
        ),
        with(
            "serial, variance of each occasion",
            &format!("{decay}, and each occasion has its own variance."),
            vec![own(serial())],
        ),
    ]);
    Ok(found)
}

fn axis(occasions: &Occasions, visit: &[usize]) -> Axis {
    if occasions.is_even() {
        return Axis::steps(OCCASION, visit.iter().map(|&it| it as f64).collect());
    }
    let times = occasions.times();
    Axis::decay("day", visit.iter().map(|&it| times[it]).collect())
}

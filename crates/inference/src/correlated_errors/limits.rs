//! What becomes of a part whose correlation runs to one.
//!
//! With `c = s^2 rho^d` two things can happen. Either the variance `s^2` stays: the part is then the same all along the axis. Or `s^2`
//! grows without bound while `s^2 (1 - rho)` stays, which the likelihood allows when the fixed part takes up whatever is the same all
//! along the axis (columns that are fixed blocks, or one field whose mean is fixed). Then there is no largest likelihood; the limit
//! is `phi (longest - d)`, a walk with independent steps. Both are fitted; the one with the larger likelihood is taken if the
//! likelihood does not rise from there toward the inside.
//!
//! Source: Williams (1986), Biometrics 42:965-970, for the linear variance model; Besag & Higdon (1999), J. R. Statist. Soc. B
//! 61:691-746, for the limit. The inward derivative is worked out here: with `t = 1 / s^2`, `(exp(-t phi d) - 1) / t = -phi d + t (phi d)^2 / 2`.

use super::evaluation::{Evaluation, Problem};
use super::fitted::Edge;
use super::observations::FixedPart;
use super::part::{Part, Shape, Unit};
use super::search::{Optimum, maximise, outside_fixed};
use super::structure::{Kind, Structure};

/// Correlation up to which the search looks before limits are considered, and beyond if none holds.
const FIRST_CAP: f64 = 0.9995;
const LAST_CAP: f64 = 1.0 - 1e-7;
/// Correlation from which limits are considered.
const NEAR_ONE: f64 = 0.99;
/// Largest loss in `-2 log L` against the end of the search at which a limit is still the maximum.
const NO_WORSE: f64 = 1e-6;

/// A model at the maximum of its likelihood, with what it became on the way there.
pub(crate) struct Limit {
    pub parts: Vec<Part>,
    pub structure: Structure,
    pub optimum: Optimum,
    pub edges: Vec<Edge>,
}

/// Maximises the likelihood, in the limit where it has no maximum inside.
pub(crate) fn within_limits(fixed: &FixedPart, parts: Vec<Part>) -> Option<Limit> {
    let structure = Structure::of(&parts, fixed.value.len());
    let problem = Problem::of(fixed, &structure);
    let optimum = maximise(&problem, FIRST_CAP)?;
    let limits =
        near_one(&structure, &optimum).into_iter().flat_map(|(part, axes)| limits(&problem, &parts, part, &axes));
    let reached = limits.filter_map(|limit| reached(fixed, &limit, &optimum));
    let best = reached
        .reduce(|best, other| if other.0.optimum.minus_twice < best.0.optimum.minus_twice { other } else { best });
    if let Some((limit, edge)) = best {
        // another correlation may run to one in what is left
        let mut further = within_limits(fixed, limit.parts)?;
        further.edges.insert(0, edge);
        return Some(further);
    }
    let optimum = if optimum.at_cap.is_empty() { optimum } else { maximise(&problem, LAST_CAP)? };
    Some(Limit { parts, structure, optimum, edges: Vec::new() })
}

/// For each part the axes whose correlation is near one.
fn near_one(structure: &Structure, optimum: &Optimum) -> Vec<(usize, Vec<usize>)> {
    let mut found: Vec<(usize, Vec<usize>)> = Vec::new();
    for (k, parameter) in structure.parameters.iter().enumerate() {
        let Kind::Correlation(axis) = parameter.kind else { continue };
        let shape = structure.parts[parameter.part].axes[axis].shape;
        let rho = super::axis_table::correlation(shape, optimum.coordinates[k]).0;
        if rho < NEAR_ONE || structure.is_absent(k, &optimum.coordinates) {
            continue;
        }
        match found.last_mut() {
            Some((part, axes)) if *part == parameter.part => axes.push(axis),
            _ => found.push((parameter.part, vec![axis])),
        }
    }
    found
}

/// One way for a part to go on.
struct Way {
    parts: Vec<Part>,
    /// The parts that took the place of the one, and the axes in question.
    changed: std::ops::Range<usize>,
    axes: Vec<usize>,
    before: Part,
    is_walk: bool,
}

fn limits(problem: &Problem, parts: &[Part], part: usize, axes: &[usize]) -> Vec<Way> {
    let mut sets: Vec<Vec<usize>> = axes.iter().map(|&axis| vec![axis]).collect();
    if axes.len() > 1 {
        sets.push(axes.to_vec());
    }
    let before = &parts[part];
    let mut ways = Vec::new();
    for axes in sets {
        let way = |changed: Vec<Part>, is_walk: bool| {
            let range = part..part + changed.len();
            let all = parts[..part].iter().cloned().chain(changed).chain(parts[part + 1..].iter().cloned());
            Way { parts: all.collect(), changed: range, axes: axes.clone(), before: before.clone(), is_walk }
        };
        let mut constant = before.clone();
        constant.axes =
            before.axes.iter().enumerate().filter(|(it, _)| !axes.contains(it)).map(|(_, it)| it.clone()).collect();
        if !(constant.axes.is_empty() && constant.unit == Unit::All) {
            ways.push(way(vec![constant], false));
        }
        ways.extend(walk(problem, before, &axes).map(|changed| way(changed, true)));
    }
    ways
}

/// The part with walks along these axes, when the fixed part takes up all that is the same along them.
fn walk(problem: &Problem, before: &Part, axes: &[usize]) -> Option<Vec<Part>> {
    let is_all = axes.len() == before.axes.len();
    if before.groups.is_some() || !(is_all || axes.len() == 1) || !takes_up_lines(problem, before, axes) {
        return None;
    }
    let straight = |axis: usize| {
        let mut part = before.clone();
        part.axes[axis].shape = Shape::Straight;
        part
    };
    if axes.len() == 1 {
        return Some(vec![straight(axes[0])]);
    }
    let alone = |&axis: &usize| {
        let mut part = straight(axis);
        part.axes = vec![part.axes[axis].clone()];
        part.name = format!("{} along {}", before.name, part.axes[0].name);
        part
    };
    Some(axes.iter().map(alone).collect())
}

/// Whether the indicator of every set of observations that differ along these axes only is among the fixed columns.
fn takes_up_lines(problem: &Problem, part: &Part, axes: &[usize]) -> bool {
    let count = problem.fixed.value.len();
    let others: Vec<usize> = (0..part.axes.len()).filter(|axis| !axes.contains(axis)).collect();
    let mut lines: std::collections::BTreeMap<(usize, Vec<u64>), Vec<f64>> = std::collections::BTreeMap::new();
    for observation in 0..count {
        let place = others.iter().map(|&axis| part.axes[axis].position[observation].to_bits()).collect();
        lines.entry((part.unit.class(observation), place)).or_insert_with(|| vec![0.0; count])[observation] = 1.0;
    }
    lines.values().all(|line| outside_fixed(problem, line) < 1e-7)
}

/// The limit, fitted, if it is the maximum.
fn reached(fixed: &FixedPart, way: &Way, inside: &Optimum) -> Option<(Limit, Edge)> {
    let parts = way.parts.clone();
    let structure = Structure::of(&parts, fixed.value.len());
    let problem = Problem::of(fixed, &structure);
    let optimum = maximise(&problem, FIRST_CAP)?;
    let score = inward_score(&problem, way, &optimum);
    if optimum.minus_twice > inside.minus_twice + NO_WORSE || score > 0.0 {
        return None;
    }
    let part = way.before.name.clone();
    let names: Vec<String> = way.axes.iter().map(|&axis| way.before.axes[axis].name.clone()).collect();
    let edge = if way.is_walk {
        let approached_log_likelihood = -0.5 * inside.minus_twice;
        Edge::NoInteriorMaximum { part, axes: names, approached_log_likelihood, inward_score: score }
    } else {
        Edge::CorrelationAtOne { part, axis: names.join(" and ") }
    };
    Some((Limit { parts, structure, optimum, edges: Vec::new() }, edge))
}

/// Derivative of the log-likelihood from the limit toward correlations below one.
fn inward_score(problem: &Problem, way: &Way, optimum: &Optimum) -> f64 {
    let structure = problem.structure;
    let variance = |part: usize| optimum.coordinates[structure.parts[part].first];
    let at = structure.at(&optimum.coordinates);
    let distance = |axis: usize, one: usize, other: usize| {
        let position = &way.before.axes[axis].position;
        (position[one] - position[other]).abs()
    };
    let entry = |one: usize, other: usize| {
        if !way.before.joins(one, other) {
            return 0.0;
        }
        if !way.is_walk {
            let steps: f64 = way.axes.iter().map(|&axis| distance(axis, one, other)).sum();
            return -steps * at.covariance(way.changed.start, (one, other));
        }
        let steps = way.axes.iter().zip(way.changed.clone());
        let length: f64 = steps.map(|(&axis, part)| variance(part) * distance(axis, one, other)).sum();
        let walked = if way.changed.len() == 1 { way.axes[0] } else { 0 };
        0.5 * length * length * at.other_factors(way.changed.start, (one, other), walked)
    };
    score_of(problem, &optimum.evaluation, entry)
}

/// Half of `y'P E P y - tr(P E)` for a symmetric change `E` of the covariance within blocks.
fn score_of(problem: &Problem, evaluation: &Evaluation, entry: impl Fn(usize, usize) -> f64) -> f64 {
    let mut sum = 0.0;
    for (block, members) in problem.structure.blocks.iter().enumerate() {
        let projection = problem.projection(evaluation, block);
        let projected = &evaluation.projected[block];
        for (row, &one) in members.iter().enumerate() {
            for (column, &other) in members.iter().enumerate() {
                sum += (projected[row] * projected[column] - projection[(row, column)]) * entry(one, other);
            }
        }
    }
    0.5 * sum
}

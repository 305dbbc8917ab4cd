//! From observations and parts to the fitted model.

use super::axis_table::correlation;
use super::checks::check_parts;
use super::evaluation::Problem;
use super::fitted::{
    CorrelatedAnalysis, CorrelatedFit, Edge, FittedAxis, FittedPart, FittedVariance, ObservationFit, PartEffects,
};
use super::information::Information;
use super::kenward_roger::{FixedEstimates, fixed_estimates, informed};
use super::limits::{Limit, within_limits};
use super::observations::{FixedPart, Observations};
use super::part::{Part, Shape};
use super::search::{Optimum, tells_apart, usual_start};
use super::structure::{Kind, Structure};
use crate::InferenceError;
use crate::mixed::{Evidence, StopReason};

/// Fits the fixed part of the observations with a covariance that is the sum of the parts.
///
/// # Errors
/// [`InferenceError`] when lists do not fit together, when observations are joined in a block too large for a dense matrix, or when
/// nothing is left to estimate the covariance from.
/// # Source
/// See [`super::search`] and [`super::kenward_roger`]; checked against published trials, nlme and lme4 in `tests/correlated_errors/`.
/// # Example
/// ```
/// use guardrow_inference::correlated_errors::{Axis, Observations, Part, Unit, fit};
/// // two treatments on alternate plots of one row, errors that resemble those of the neighbours
/// let yields = vec![4.1, 4.6, 4.4, 5.0, 4.7, 5.1, 4.2, 4.5, 3.9, 4.4];
/// let treatment = vec![0, 1, 0, 1, 0, 1, 0, 1, 0, 1];
/// let along = Axis::steps("range", (0..10).map(f64::from).collect());
/// let errors = Part::along("trend", Unit::All, vec![along]);
/// let analysis = fit(&Observations::new(yields, treatment, 2), vec![errors])?;
/// let difference = analysis.fit(vec!["a".into(), "b".into()]).contrast(&[-1.0, 1.0])?;
/// assert!((difference.estimate - 0.43).abs() < 0.05);
/// # Ok::<(), guardrow_inference::InferenceError>(())
/// ```
pub fn fit(observations: &Observations, parts: Vec<Part>) -> Result<CorrelatedAnalysis, InferenceError> {
    fit_fixed(&observations.fixed_part()?, parts)
}

/// The same for a fixed part that was checked before.
pub(crate) fn fit_fixed(fixed: &FixedPart, parts: Vec<Part>) -> Result<CorrelatedAnalysis, InferenceError> {
    check_parts(&parts, fixed.value.len())?;
    let inseparable = || InferenceError::VariancesNotSeparable { plots: fixed.value.len() };
    let (parts, mut edges) = told_apart(fixed, parts)?;
    let asked = Structure::of(&parts, fixed.value.len()).parameters.len();
    let Limit { mut parts, mut structure, mut optimum, edges: limits } =
        within_limits(fixed, parts).ok_or_else(inseparable)?;
    edges.extend(limits);
    // A part that the data cannot tell from the others at the maximum: it goes when that costs nothing.
    while !tells_apart(&optimum.information.expected, &informed(&structure, &optimum)) {
        let simpler = without_one(fixed, &parts, optimum.minus_twice).ok_or_else(inseparable)?;
        let further;
        Limit { parts, structure, optimum, edges: further } = simpler;
        edges.extend(further);
    }
    if optimum.stop == StopReason::Steps {
        let (iterations, gradient) = (optimum.iterations, optimum.gradient);
        return Err(InferenceError::NotConverged { iterations, gradient });
    }
    let problem = Problem::of(fixed, &structure);
    let estimates = fixed_estimates(&problem, &optimum).ok_or_else(inseparable)?;
    edges.extend(own_edges(&parts, &structure, &optimum));
    Ok(described(&problem, &parts, &optimum, estimates, edges, asked))
}

/// The parts whose variances the observations can tell from the fixed part, the residual and each other.
///
/// # Errors
/// [`InferenceError::NoErrorInGroup`] when a group has a variance of its own and nothing to estimate it from.
fn told_apart(fixed: &FixedPart, parts: Vec<Part>) -> Result<(Vec<Part>, Vec<Edge>), InferenceError> {
    let inseparable = || InferenceError::VariancesNotSeparable { plots: fixed.value.len() };
    let structure = Structure::of(&parts, fixed.value.len());
    let problem = Problem::of(fixed, &structure);
    let coordinates = usual_start(&problem);
    let at = structure.at(&coordinates);
    let evaluation = problem.at(&at).ok_or_else(inseparable)?;
    let slopes = problem.slopes(&at, &evaluation);
    let information = Information::of(&problem, &at, &evaluation, &slopes);
    let is_seen = |k: usize| {
        let is_variance = structure.parameters[k].kind == Kind::Variance;
        slopes.traces[k] * if is_variance { coordinates[k] } else { 1.0 } > 1e-9
    };
    let (mut kept, mut chosen) = (Vec::new(), Vec::new());
    // the residual first: another part gives way to it
    let (mut order, others): (Vec<usize>, Vec<usize>) = (0..parts.len()).partition(|&it| parts[it].is_residual());
    order.extend(others);
    for part in order {
        let own = structure.parts[part].first..structure.parts[part].first + structure.parts[part].variances;
        let unseen = own.clone().find(|&k| !is_seen(k));
        if let (Some(k), Some(groups)) = (unseen, &parts[part].groups) {
            let group = groups.labels[k - own.start].clone();
            return Err(InferenceError::NoErrorInGroup { group });
        }
        let with: Vec<usize> = chosen.iter().copied().chain(own).collect();
        if unseen.is_none() && tells_apart(&information.expected, &with) {
            chosen = with;
            kept.push(part);
        }
    }
    let edges = (0..parts.len()).filter(|it| !kept.contains(it)).map(|it| not_told_apart(&parts[it])).collect();
    kept.sort_unstable();
    let kept: Vec<Part> = kept.into_iter().map(|it| parts[it].clone()).collect();
    if kept.is_empty() { Err(inseparable()) } else { Ok((kept, edges)) }
}

fn not_told_apart(part: &Part) -> Edge {
    Edge::NotToldApart { part: part.name.clone() }
}

/// The best of the models without one part, if leaving it out costs no likelihood.
fn without_one(fixed: &FixedPart, parts: &[Part], minus_twice: f64) -> Option<Limit> {
    let simpler = (0..parts.len()).filter_map(|left_out| {
        let rest: Vec<Part> =
            parts.iter().enumerate().filter(|(it, _)| *it != left_out).map(|(_, it)| it.clone()).collect();
        let mut limit = if rest.is_empty() { None } else { within_limits(fixed, rest) }?;
        limit.edges.insert(0, not_told_apart(&parts[left_out]));
        (limit.optimum.minus_twice <= minus_twice + 1e-6).then_some(limit)
    });
    simpler.reduce(|best, other| if other.optimum.minus_twice < best.optimum.minus_twice - 1e-9 { other } else { best })
}

fn own_edges(parts: &[Part], structure: &Structure, optimum: &Optimum) -> Vec<Edge> {
    let edge = |(k, parameter): (usize, &super::structure::Parameter)| {
        let part = &parts[parameter.part];
        let name = part.name.clone();
        match parameter.kind {
            Kind::Correlation(axis) if optimum.at_cap.contains(&k) => {
                let axis = part.axes[axis].name.clone();
                let is_positive = optimum.coordinates[k] > 0.0;
                Some(if is_positive {
                    Edge::CorrelationAtOne { part: name, axis }
                } else {
                    Edge::CorrelationAtMinusOne { part: name, axis }
                })
            }
            Kind::Correlation(_) => None,
            _ if is_zero(structure, optimum, k) => {
                let group = part.groups.as_ref().map(|it| it.labels[k - structure.parts[parameter.part].first].clone());
                Some(Edge::VarianceAtZero { part: name, group })
            }
            _ => None,
        }
    };
    structure.parameters.iter().enumerate().filter_map(edge).collect()
}

/// Share of the whole variance below which the logarithm of a variance has run away to zero.
const VANISHED: f64 = 1e-9;

fn is_zero(structure: &Structure, optimum: &Optimum, k: usize) -> bool {
    match structure.parameters[k].kind {
        Kind::Variance => optimum.coordinates[k] == 0.0,
        Kind::LogVariance => {
            let logarithms = structure.parameters.iter().zip(&optimum.coordinates);
            let largest = logarithms.filter(|(it, _)| it.kind == Kind::LogVariance).map(|(_, it)| *it);
            optimum.coordinates[k] < largest.fold(f64::MIN, f64::max) + VANISHED.ln()
        }
        Kind::Correlation(_) => false,
    }
}

fn described(
    problem: &Problem,
    parts: &[Part],
    optimum: &Optimum,
    fixed: FixedEstimates,
    edges: Vec<Edge>,
    counted: usize,
) -> CorrelatedAnalysis {
    let structure = problem.structure;
    let residual = parts.iter().position(Part::is_residual).unwrap_or(parts.len() - 1);
    let has_se = edges.is_empty();
    let effects = effects(problem, parts, optimum);
    let fitted_parts = (0..parts.len()).map(|part| {
        let of = OnePart { part: &parts[part], index: part, structure, optimum, fixed: &fixed, has_se };
        of.fitted(part == residual)
    });
    let residual_df = problem.residual_df();
    let (minus_twice, k) = (optimum.minus_twice, counted as f64);
    let evidence = Evidence {
        iterations: optimum.iterations,
        gradient: optimum.gradient,
        stop: optimum.stop,
        singular: !edges.is_empty(),
    };
    let model = CorrelatedFit {
        parts: fitted_parts.collect(),
        reml_log_likelihood: -0.5 * minus_twice,
        covariance_parameters: counted,
        residual_df,
        aic: minus_twice + 2.0 * k,
        bic: minus_twice + k * residual_df.ln(),
        edges,
        evidence,
    };
    let observations = observations(problem, optimum, &effects[residual]);
    let others = effects.into_iter().enumerate().filter(|(part, _)| *part != residual);
    let effects = others.map(|(part, effects)| PartEffects { part: parts[part].name.clone(), effects }).collect();
    let (mean, offsets) = (problem.fixed.mean, problem.fixed.offsets());
    CorrelatedAnalysis { model, observations, effects, mean, offsets, fixed }
}

/// `V_k P y` for each part.
fn effects(problem: &Problem, parts: &[Part], optimum: &Optimum) -> Vec<Vec<f64>> {
    let at = problem.structure.at(&optimum.coordinates);
    let of_part = |part: usize| {
        let mut effects = vec![0.0; problem.fixed.value.len()];
        for (block, members) in problem.structure.blocks.iter().enumerate() {
            let values = at.part_times(part, block, &optimum.evaluation.projected[block]);
            members.iter().zip(values).for_each(|(&member, value)| effects[member] = value);
        }
        effects
    };
    (0..parts.len()).map(of_part).collect()
}

fn observations(problem: &Problem, optimum: &Optimum, residuals: &[f64]) -> Vec<ObservationFit> {
    let mut studentised = vec![0.0; residuals.len()];
    for (block, members) in problem.structure.blocks.iter().enumerate() {
        let projection = problem.projection(&optimum.evaluation, block);
        for (row, &member) in members.iter().enumerate() {
            // an observation that alone determines its mean has nothing to be judged by
            let precision = projection[(row, row)];
            let is_judged = precision > 1e-9 * optimum.evaluation.inverse[block][(row, row)];
            studentised[member] =
                if is_judged { optimum.evaluation.projected[block][row] / precision.sqrt() } else { 0.0 };
        }
    }
    let of = |(observation, (&residual, studentised)): (usize, (&f64, f64))| ObservationFit {
        fitted: problem.fixed.mean + problem.fixed.value[observation] - residual,
        residual,
        studentised,
    };
    residuals.iter().zip(studentised).enumerate().map(of).collect()
}

/// One part with what its description is made from.
struct OnePart<'a> {
    part: &'a Part,
    index: usize,
    structure: &'a Structure,
    optimum: &'a Optimum,
    fixed: &'a FixedEstimates,
    has_se: bool,
}

impl OnePart<'_> {
    fn fitted(&self, is_residual: bool) -> FittedPart {
        let sorted = &self.structure.parts[self.index];
        let labels = self.part.groups.as_ref().map(|groups| groups.labels.as_slice());
        let variances =
            (0..sorted.variances).map(|group| self.variance(sorted.first + group, labels.map(|it| &it[group])));
        let mut correlations = sorted.correlations();
        let axes = self.part.axes.iter().zip(&sorted.axes).map(|(axis, positions)| {
            let name = axis.name.clone();
            let coordinate = if axis.shape.is_correlation() { correlations.next() } else { None };
            let (correlation, se) =
                coordinate.map_or((None, None), |k| self.correlation(k, axis.shape, positions.unit));
            FittedAxis { name, shape: axis.shape, correlation, se }
        });
        let at = self.structure.at(&self.optimum.coordinates);
        let mut with_variance = 0.0;
        let mut count = 0.0;
        for &member in self.structure.blocks.iter().flatten() {
            with_variance += at.covariance(self.index, (member, member));
            count += 1.0;
        }
        let own = sorted.first..sorted.first + sorted.variances;
        let worth = |k: usize| match self.structure.parameters[k].kind {
            Kind::Variance => self.optimum.slopes.traces[k] * self.optimum.coordinates[k],
            _ => self.optimum.slopes.traces[k],
        };
        FittedPart {
            name: self.part.name.clone(),
            variances: variances.collect(),
            axes: axes.collect(),
            mean_variance: with_variance / count,
            effective_parameters: (!is_residual).then(|| own.map(worth).sum()),
        }
    }

    fn variance(&self, k: usize, group: Option<&String>) -> FittedVariance {
        let coordinate = self.optimum.coordinates[k];
        let spread = self.fixed.parameter_covariance[(k, k)].sqrt();
        let is_logarithm = self.structure.parameters[k].kind == Kind::LogVariance;
        let (variance, se) =
            if is_logarithm { (coordinate.exp(), coordinate.exp() * spread) } else { (coordinate, spread) };
        let at_zero = is_zero(self.structure, self.optimum, k);
        FittedVariance { group: group.cloned(), variance, at_zero, se: self.has_se.then_some(se) }
    }

    /// The correlation over one unit of the positions: that over the inner unit of distance to the power of one over its length.
    fn correlation(&self, k: usize, shape: Shape, unit: f64) -> (Option<f64>, Option<f64>) {
        if self.structure.is_absent(k, &self.optimum.coordinates) {
            return (None, None);
        }
        let (inner, slope, _) = correlation(shape, self.optimum.coordinates[k]);
        let rho = if shape == Shape::Decay { inner.powf(1.0 / unit) } else { inner };
        let spread = self.fixed.parameter_covariance[(k, k)].sqrt();
        let se = spread * slope * if shape == Shape::Decay { rho / inner / unit } else { 1.0 };
        (Some(rho), self.has_se.then_some(se))
    }
}

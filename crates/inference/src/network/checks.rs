//! Observations that cannot be used, and groupings that add nothing.

use super::grouping::NetworkGrouping;
use super::nesting::Nesting;
use super::observed::Network;
use super::prepared::Prepared;
use crate::{InferenceError, Notice};

/// As for a single trial: beyond this the square of a mean square could overflow.
const LARGEST: f64 = 1e60;
const SMALLEST: f64 = 1e-60;
/// Most variances that can be asked for at once.
const MOST_VARIANCES: usize = 10_000;

/// The observations ready for fitting, and how they are numbered.
pub(super) struct Checked {
    pub data: Prepared,
    /// For each fixed class its number among those with observations.
    pub fixed_present: Vec<Option<u32>>,
    /// Index of each fitted random grouping in the network.
    pub random: Vec<usize>,
    /// The same as `fixed_present` for the classes of each fitted random grouping.
    pub random_present: Vec<Vec<Option<u32>>>,
    /// The same for the residual groups.
    pub residual_present: Vec<Option<u32>>,
    /// Mean of each covariate, and what its deviations were divided by.
    pub covariate_scales: Vec<(f64, f64)>,
    pub notices: Vec<Notice>,
}

/// Checks a network and brings it into the form that is fitted.
pub(super) fn check(network: &Network) -> Result<Checked, InferenceError> {
    let observations = network.response.len();
    check_lengths(network)?;
    check_values(network)?;
    if observations == 0 {
        return Err(InferenceError::NoValues);
    }
    let groupings = std::iter::once(&network.fixed).chain(&network.random).chain(&network.residual);
    groupings.clone().try_for_each(check_classes)?;
    let (mean, response) = crate::plots::centred(&network.response);
    let scale = spread(&network.response, &response)?;
    let (fixed, fixed_present) = without_gaps(&network.fixed);
    let parameters = fixed.classes + network.covariates.len();
    if observations <= parameters {
        return Err(InferenceError::NoErrorDegreesOfFreedom { plots: observations, parameters });
    }
    let (covariates, covariate_scales) = covariates(network, &fixed)?;
    let (random, kept, random_present, notices) = random_groupings(network);
    let whole = NetworkGrouping { name: String::new(), class: vec![0; observations], classes: 1 };
    let (residual, residual_present) = without_gaps(network.residual.as_ref().unwrap_or(&whole));
    let variances = random.len() + residual.classes;
    if variances > MOST_VARIANCES {
        let expected = format!("at most {MOST_VARIANCES}");
        return Err(InferenceError::Setting {
            what: "the number of variances".into(),
            value: variances as f64,
            expected,
        });
    }
    let nesting = Nesting::of(&std::iter::once(&fixed).chain(&random).collect::<Vec<_>>());
    let data = Prepared {
        response: response.into_iter().map(|value| value / scale).collect(),
        mean,
        scale,
        fixed,
        log_covariate_scales: covariate_scales.iter().map(|(_, scale)| scale.ln()).sum(),
        covariates,
        random,
        residual,
        weights: network.weights.clone(),
        nesting,
    };
    Ok(Checked { data, fixed_present, random: kept, random_present, residual_present, covariate_scales, notices })
}

fn check_lengths(network: &Network) -> Result<(), InferenceError> {
    let expected = network.response.len();
    let groupings = std::iter::once(&network.fixed).chain(&network.random).chain(&network.residual);
    let groupings = groupings.map(|it| (it.name.as_str(), it.class.len()));
    let covariates = network.covariates.iter().map(|(name, values)| (name.as_str(), values.len()));
    let weights = network.weights.iter().map(|it| ("weights", it.len()));
    match groupings.chain(covariates).chain(weights).find(|&(_, found)| found != expected) {
        Some((list, found)) => Err(InferenceError::Length { list: format!("the column of '{list}'"), found, expected }),
        None => Ok(()),
    }
}

fn check_values(network: &Network) -> Result<(), InferenceError> {
    for (plot, &value) in network.response.iter().enumerate() {
        if !value.is_finite() {
            return Err(InferenceError::NotFinite { plot, value });
        }
        if value.abs() > LARGEST {
            return Err(InferenceError::TooLarge { plot, value });
        }
    }
    for (covariate, values) in &network.covariates {
        if let Some((plot, &value)) = values.iter().enumerate().find(|(_, it)| !it.is_finite() || it.abs() > LARGEST) {
            return Err(InferenceError::CovariateNotFinite { covariate: covariate.clone(), plot, value });
        }
    }
    let weights = network.weights.iter().flatten().enumerate();
    let usable = 1e-12..=1e12;
    match weights.into_iter().find(|(_, it)| !usable.contains(*it)) {
        Some((plot, &value)) => Err(InferenceError::WeightNotUsable { plot, value }),
        None => Ok(()),
    }
}

fn check_classes(grouping: &NetworkGrouping) -> Result<(), InferenceError> {
    match grouping.class.iter().position(|&it| it as usize >= grouping.classes) {
        Some(plot) => Err(InferenceError::UnknownClass {
            unit: grouping.name.clone(),
            plot,
            class: grouping.class[plot] as usize,
            classes: grouping.classes,
        }),
        None => Ok(()),
    }
}

/// The standard deviation of the response, or why there is none.
fn spread(given: &[f64], centred: &[f64]) -> Result<f64, InferenceError> {
    if given.iter().all(|&value| value == given[0]) {
        return Err(InferenceError::ConstantResponse { value: given[0] });
    }
    let largest = centred.iter().fold(0.0, |largest: f64, it| largest.max(it.abs()));
    if largest < SMALLEST {
        return Err(InferenceError::TooSmall { largest });
    }
    let squares: f64 = centred.iter().map(|it| (it / largest).powi(2)).sum();
    Ok(largest * (squares / given.len() as f64).sqrt())
}

/// The grouping with its classes numbered without gaps, and the new number of each old class that occurs.
fn without_gaps(grouping: &NetworkGrouping) -> (NetworkGrouping, Vec<Option<u32>>) {
    let mut is_met = vec![false; grouping.classes];
    grouping.class.iter().for_each(|&it| is_met[it as usize] = true);
    let mut next = 0;
    let number = |met: &bool| {
        met.then(|| {
            next += 1;
            next - 1
        })
    };
    let present: Vec<Option<u32>> = is_met.iter().map(number).collect();
    let class = if next as usize == grouping.classes {
        grouping.class.clone()
    } else {
        grouping.class.iter().filter_map(|&it| present[it as usize]).collect()
    };
    (NetworkGrouping { name: grouping.name.clone(), class, classes: next as usize }, present)
}

type Random = (Vec<NetworkGrouping>, Vec<usize>, Vec<Vec<Option<u32>>>, Vec<Notice>);

/// The groupings that can have a variance: more than one class, and not the same classes as an earlier one.
fn random_groupings(network: &Network) -> Random {
    let (mut random, mut kept, mut present, mut notices) =
        (Vec::<NetworkGrouping>::new(), Vec::new(), Vec::new(), Vec::new());
    for (index, given) in network.random.iter().enumerate() {
        let (grouping, classes) = without_gaps(given);
        if grouping.classes < 2 {
            notices.push(Notice::OneUnit { stratum: given.name.clone() });
        } else if random.iter().any(|it| it.classes == grouping.classes && are_same(it, &grouping)) {
            notices.push(Notice::SameUnits { stratum: given.name.clone() });
        } else {
            random.push(grouping);
            kept.push(index);
            present.push(classes);
        }
    }
    (random, kept, present, notices)
}

/// Whether two groupings with equally many classes divide the observations alike.
fn are_same(one: &NetworkGrouping, other: &NetworkGrouping) -> bool {
    let mut partner = vec![u32::MAX; one.classes];
    one.class.iter().zip(&other.class).all(|(&a, &b)| {
        let known = &mut partner[a as usize];
        if *known == u32::MAX {
            *known = b;
        }
        *known == b
    })
}

type Covariates = (Vec<Vec<f64>>, Vec<(f64, f64)>);

/// Covariates as deviations in units of their spread; each must vary within the fixed classes, apart from the others.
fn covariates(network: &Network, fixed: &NetworkGrouping) -> Result<Covariates, InferenceError> {
    let mut columns = Vec::new();
    let mut scales = Vec::new();
    let mut within: Vec<Vec<f64>> = Vec::new();
    for (index, (name, given)) in network.covariates.iter().enumerate() {
        if network.covariates[..index].iter().any(|(other, _)| other == name) {
            return Err(InferenceError::CovariateTwice { covariate: name.clone() });
        }
        let (mean, deviations) = crate::plots::centred(given);
        let scale = match spread(given, &deviations) {
            Ok(scale) => scale,
            Err(_) => return Err(InferenceError::CovariateConstant { covariate: name.clone(), value: given[0] }),
        };
        let column: Vec<f64> = deviations.iter().map(|value| value / scale).collect();
        let mut left = deviations_within(fixed, &column);
        if sum_of_squares(&left) < 1e-18 * column.len() as f64 {
            return Err(InferenceError::CovariateFollowsTreatments { covariate: name.clone() });
        }
        let before = sum_of_squares(&left);
        for known in &within {
            let share = left.iter().zip(known).map(|(a, b)| a * b).sum::<f64>() / sum_of_squares(known);
            left.iter_mut().zip(known).for_each(|(value, known)| *value -= share * known);
        }
        if sum_of_squares(&left) < 1e-16 * before {
            let others = network.covariates[..index].iter().map(|(name, _)| name.clone()).collect();
            return Err(InferenceError::CovariateFollowsOthers { covariate: name.clone(), others });
        }
        within.push(left);
        columns.push(column);
        scales.push((mean, scale));
    }
    Ok((columns, scales))
}

fn sum_of_squares(values: &[f64]) -> f64 {
    values.iter().map(|value| value * value).sum()
}

fn deviations_within(fixed: &NetworkGrouping, column: &[f64]) -> Vec<f64> {
    let mut sums = vec![(0.0, 0.0); fixed.classes];
    for (&class, value) in fixed.class.iter().zip(column) {
        let sum = &mut sums[class as usize];
        *sum = (sum.0 + value, sum.1 + 1.0);
    }
    let mean = |class: u32| sums[class as usize].0 / sums[class as usize].1;
    fixed.class.iter().zip(column).map(|(&class, value)| value - mean(class)).collect()
}

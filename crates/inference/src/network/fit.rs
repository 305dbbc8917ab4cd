//! The fitted network, for people.

use super::checks::{Checked, check};
use super::connected;
use super::observed::{Network, NetworkOptions};
use super::room::Rooms;
use super::search::{Optimum, Search};
use crate::matrix::{Cholesky, Matrix};
use crate::mixed::{Evidence, StopReason, VarianceComponent};
use crate::{Fit, InferenceError, Notice};

/// Variances, means and predictions of a network of trials.
#[derive(Debug, Clone, PartialEq)]
pub struct NetworkFit {
    /// Variances of the random groupings in the order given, those left out (see the notices) missing. Standard errors are
    /// asymptotic, by the average information, with variances at zero held there.
    pub components: Vec<VarianceComponent>,
    /// Residual variance of each group, nothing for a group without observations; one for all when no groups were given.
    pub residual: Vec<Option<VarianceComponent>>,
    /// Restricted log-likelihood: `-2 log L = log|V| + log|X'V^-1X| + r'V^-1 r + (n-p) log(2 pi)` with `X` of class means and
    /// covariates as they are.
    pub reml_log_likelihood: f64,
    /// How the search went.
    pub evidence: Evidence,
    /// Mean of each fixed class at the covariates' means; nothing for a class without observations.
    pub means: Vec<Option<ClassMean>>,
    /// Slopes on the covariates, with their standard errors.
    pub slopes: Vec<Slope>,
    /// Predicted effects of the fitted random groupings, in the order of `components`.
    pub predictions: Vec<GroupingEffects>,
    /// Value minus fitted value, predicted effects included, of every observation.
    pub residuals: Vec<f64>,
    /// What a reader must know.
    pub notices: Vec<Notice>,
    /// Covariance of the means of the classes with observations, at the estimated variances.
    covariance: Matrix,
}

/// The estimated mean of a fixed class.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassMean {
    /// The mean, in the measure's unit.
    pub mean: f64,
    /// Its standard error by the model, the variances taken as known.
    pub se: f64,
}

/// The slope on a covariate.
#[derive(Debug, Clone, PartialEq)]
pub struct Slope {
    /// The covariate.
    pub covariate: String,
    /// Change of the response for one unit of the covariate.
    pub slope: f64,
    /// Its standard error by the model.
    pub se: f64,
}

/// Predicted effects (best linear unbiased predictions) of one random grouping.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupingEffects {
    /// The grouping.
    pub name: String,
    /// Effect of each class; zero for a class without observations.
    pub effects: Vec<f64>,
    /// Standard error of prediction of each class, where asked for.
    pub prediction_se: Option<Vec<f64>>,
}

/// Fits the mixed model of a network of trials by residual maximum likelihood.
///
/// # Errors
/// [`InferenceError`] for lists of different lengths, values, weights or classes that cannot be used, fewer observations than fixed
/// parameters, a constant response, covariates that follow from others, variances that cannot be told apart, plots
/// treated alike that do not differ, a search that does not end. Groupings that add nothing are left out with a notice.
/// # Source
/// Patterson & Thompson (1971), Biometrika 58:545-554; Gilmour, Thompson & Cullis (1995), Biometrics 51:1440-1450. Checked against
/// plain matrix algebra and lme4 in `tests/network/`.
/// # Example
/// ```
/// use guardrow_inference::{NetworkGrouping, Network, NetworkOptions, fit_network};
/// let site = NetworkGrouping::new("site", &[0, 0, 0, 1, 1, 1, 2, 2, 2], 3);
/// let entry = NetworkGrouping::new("entry", &[0, 1, 2, 0, 1, 2, 0, 1, 2], 3);
/// let yields = vec![31.0, 34.0, 36.0, 45.0, 47.0, 52.0, 39.0, 40.0, 45.0];
/// let fit = fit_network(&Network::new(yields, entry, vec![site]), &NetworkOptions::default())?;
/// assert!((fit.difference_se(0, 1).unwrap() - (2.0 * (5.0 / 6.0) / 3.0_f64).sqrt()).abs() < 1e-9); // mean square 5/6, 3 sites
/// # Ok::<(), guardrow_inference::InferenceError>(())
/// ```
pub fn fit_network(network: &Network, options: &NetworkOptions) -> Result<NetworkFit, InferenceError> {
    let checked = check(network)?;
    let wanted = |it: &usize| options.predicted.contains(&checked.random[*it]);
    let predicted: Vec<usize> = (0..checked.random.len()).filter(wanted).collect();
    let search =
        Search { data: &checked.data, threads: options.threads.max(1), predicted: &predicted, rooms: Rooms::default() };
    let optimum = search.run()?;
    Ok(described(network, &checked, &optimum, &predicted))
}

impl NetworkFit {
    /// Standard error of the difference between the means of two fixed classes; nothing when one has no observations or they are
    /// the same.
    pub fn difference_se(&self, first: usize, second: usize) -> Option<f64> {
        let (a, b) = (self.present(first)?, self.present(second)?);
        let covariance = &self.covariance;
        (a != b).then(|| (covariance[(a, a)] + covariance[(b, b)] - 2.0 * covariance[(a, b)]).max(0.0).sqrt())
    }

    /// Standard errors of all differences between class means, class by class; zero on the diagonal, nothing for classes without
    /// observations.
    pub fn difference_ses(&self) -> Vec<Vec<Option<f64>>> {
        let classes = self.means.len();
        let entry = |a: usize, b: usize| {
            if a == b { self.means[a].map(|_| 0.0) } else { self.difference_se(a, b) }
        };
        (0..classes).map(|a| (0..classes).map(|b| entry(a, b)).collect()).collect()
    }

    /// The class means in the form that comparisons are made from; degrees of freedom are infinite.
    ///
    /// - `labels`: of the fixed classes
    ///
    /// # Errors
    /// [`InferenceError::Length`] when the labels are not as many as the classes.
    pub fn comparisons(&self, labels: Vec<String>) -> Result<Fit, InferenceError> {
        if labels.len() != self.means.len() {
            let (found, expected) = (labels.len(), self.means.len());
            return Err(InferenceError::Length { list: "the list of labels".into(), found, expected });
        }
        let present = (0..labels.len()).map(|class| self.present(class)).collect();
        let means = self.means.iter().flatten().map(|it| it.mean).collect();
        let covariance = (0..self.covariance.rows).map(|row| self.covariance.row(row).to_vec()).collect();
        Ok(Fit::of_treatments(labels, present, means, covariance, Vec::new(), Vec::new()))
    }

    fn present(&self, class: usize) -> Option<usize> {
        self.means.get(class).copied().flatten()?;
        Some(self.means[..class].iter().flatten().count())
    }
}

fn described(network: &Network, checked: &Checked, optimum: &Optimum, predicted: &[usize]) -> NetworkFit {
    let data = &checked.data;
    let point = &optimum.point;
    let (equations, scale) = (&point.equations, data.scale);
    let mut notices = checked.notices.clone();
    notices.extend(connected::disconnected(data));
    let left_out = optimum.inseparable.iter().map(|&it| data.random[it].name.clone());
    notices.extend(left_out.map(|stratum| Notice::VarianceNotSeparable { stratum }));
    let fitted: Vec<usize> = (0..data.random.len()).filter(|it| !optimum.inseparable.contains(it)).collect();
    let errors = relative_errors(&optimum.slope.information);
    let component = |name: &str, variance: f64, error: Option<f64>| VarianceComponent {
        name: name.to_owned(),
        variance: variance * scale * scale,
        at_zero: variance == 0.0,
        se: error.map(|error| error * variance * scale * scale),
    };
    let components: Vec<VarianceComponent> = fitted
        .iter()
        .map(|&it| {
            let part = equations.active.iter().position(|active| *active == it);
            component(
                &data.random[it].name,
                point.variances[it],
                part.and_then(|part| errors.as_ref().map(|it| it[part])),
            )
        })
        .collect();
    let residual_name = network.residual.as_ref().map_or("residual", |it| it.name.as_str());
    let residual = checked.residual_present.iter().map(|number| {
        let group = (*number)? as usize;
        let error = errors.as_ref().map(|it| it[equations.active.len() + group]);
        Some(component(residual_name, point.variances[data.random.len() + group], error))
    });
    let at_zero = components.iter().filter(|it| it.at_zero);
    notices.extend(at_zero.map(|it| Notice::VarianceAtZero { stratum: it.name.clone() }));
    let covariance = fixed_covariance(optimum, data.fixed.classes + data.covariates.len());
    let fixed_effect = |class: usize| data.mean + scale * point.solution[equations.fixed.start + class];
    let mean = |number: &Option<u32>| {
        let class = (*number)? as usize;
        Some(ClassMean { mean: fixed_effect(class), se: scale * covariance[(class, class)].sqrt() })
    };
    let slope = |(index, (covariate, _)): (usize, &(String, Vec<f64>))| {
        let unit = scale / checked.covariate_scales[index].1;
        let own = equations.slopes + index;
        let se = unit * covariance[(own, own)].sqrt();
        Slope { covariate: covariate.clone(), slope: unit * point.solution[own], se }
    };
    let mut means_covariance = Matrix::zeros(data.fixed.classes, data.fixed.classes);
    for row in 0..data.fixed.classes {
        for column in 0..data.fixed.classes {
            means_covariance[(row, column)] = scale * scale * covariance[(row, column)];
        }
    }
    NetworkFit {
        evidence: Evidence {
            iterations: optimum.iterations,
            gradient: 2.0 * optimum.score,
            stop: if fitted.is_empty() { StopReason::Closed } else { StopReason::Settled },
            singular: components.iter().any(|it| it.at_zero),
        },
        residual: residual.collect(),
        reml_log_likelihood: point.log_likelihood,
        means: checked.fixed_present.iter().map(mean).collect(),
        slopes: network.covariates.iter().enumerate().map(slope).collect(),
        predictions: fitted.iter().map(|&it| predictions(checked, optimum, predicted, it)).collect(),
        residuals: point.residuals.iter().map(|residual| residual * scale).collect(),
        components,
        notices,
        covariance: means_covariance,
    }
}

/// Standard errors of the logarithms of the variances.
fn relative_errors(information: &Matrix) -> Option<Vec<f64>> {
    let inverse = Cholesky::of(information)?.inverse();
    Some((0..information.rows).map(|it| inverse[(it, it)].sqrt()).collect())
}

/// Covariance of the fixed unknowns: class means, then slopes.
fn fixed_covariance(optimum: &Optimum, fixed: usize) -> Matrix {
    let tree = &optimum.point.equations.tree;
    let root = tree.root();
    let place = |unknown: usize| tree.position[unknown] as usize - root.first;
    let mut covariance = Matrix::zeros(fixed, fixed);
    for row in 0..fixed {
        for column in 0..fixed {
            covariance[(row, column)] = optimum.slope.inverse.root[place(column) * root.size() + place(row)];
        }
    }
    covariance
}

fn predictions(checked: &Checked, optimum: &Optimum, predicted: &[usize], grouping: usize) -> GroupingEffects {
    let data = &checked.data;
    let (point, scale) = (&optimum.point, data.scale);
    let part = point.equations.active.iter().position(|it| *it == grouping);
    let present = &checked.random_present[grouping];
    let effect = |number: &Option<u32>| match (part, number) {
        (Some(part), Some(class)) => scale * point.effects[part][*class as usize],
        _ => 0.0,
    };
    let prior = scale * point.variances[grouping].sqrt();
    let is_active = |it: &&usize| point.equations.active.contains(it);
    let before = predicted.iter().take_while(|it| **it != grouping).filter(is_active);
    let start: usize = before.map(|&it| data.random[it].classes).sum();
    let error = |number: &Option<u32>| match (part, number) {
        (Some(_), Some(class)) => scale * optimum.slope.inverse.forms[start + *class as usize].max(0.0).sqrt(),
        _ => prior,
    };
    GroupingEffects {
        name: data.random[grouping].name.clone(),
        effects: present.iter().map(effect).collect(),
        prediction_se: predicted.contains(&grouping).then(|| present.iter().map(error).collect()),
    }
}

//! From summaries to the joined result.

use super::between::{Top, allowed, highest};
use super::joined::{BetweenTrials, JoinedTrial, JoinedTrials, KnownErrors, NewTrial, WithoutTrial};
use super::scaled::Scaled;
use super::surface::Point;
use super::trial::check;
use super::{JoinError, JoinNotice, TrialSummary};
use crate::distribution::{chi_square_upper, normal_quantile};
use crate::{Estimate, Evidence, StopReason};

/// Fewer trials than this say hardly anything about how trials differ (common practice, no source).
const FEW_TRIALS: usize = 5;
/// Below these degrees of freedom a standard error is itself poorly known, as in the analysis of one trial.
const FEW_DF: f64 = 12.0;
/// Below this, ends of intervals lie beyond what numbers hold.
const SMALLEST_LEVEL: f64 = 1e-9;
/// Weighted squares per degree of freedom below which estimates differ by rounding only.
const SAME: f64 = 1e-20;

/// Joins trials by random effects: each trial has an effect of its own, normal about the mean, and is known with its own error.
///
/// - `trials`: two or more that answer the same question; groups that do not are joined by calls of their own
/// - `level`: what intervals leave out on both sides together
///
/// The error of the mean is that of Hartung and Knapp, which replaces the errors that trials claim by how they agree. Where it makes
/// the interval narrower than the normal one from those errors (few trials that agree by luck do that), it is kept, a notice says so, and
/// [`JoinedTrials::cautious`] is the error that is not narrower (Röver, Knapp & Friede 2015, BMC Med. Res. Methodol. 15:99). Where all
/// estimates are the same it would be zero; the cautious one then leads.
///
/// # Errors
/// [`JoinError`] when there is nothing to join, or a number is no estimate or no standard error.
/// # Source
/// As in the module's head; interval of the variance by Viechtbauer (2007), Stat. Med. 26:37-52; the new trial's by Higgins, Thompson &
/// Spiegelhalter (2009), JRSS A 172:137-159, with the degrees of freedom of the mean. Checked against R's metafor in `tests/meta`.
/// # Example
/// ```
/// use guardrow_inference::meta::{TrialSummary, join_trials};
/// let trial = |name: &str, estimate: f64, se: f64| TrialSummary { name: name.into(), estimate, se, df: Some(15.0) };
/// let trials = [trial("first spring", 210.0, 80.0), trial("second spring", 40.0, 95.0), trial("third spring", 330.0, 90.0)];
/// let all = join_trials(&trials, 0.05)?;
/// assert!(all.joined.estimate > 40.0 && all.joined.estimate < 330.0 && all.joined.df == 2.0);
/// assert!(all.new_trial.unwrap().lower < all.lower);
/// # Ok::<(), guardrow_inference::meta::JoinError>(())
/// ```
pub fn join_trials(trials: &[TrialSummary], level: f64) -> Result<JoinedTrials, JoinError> {
    if !(SMALLEST_LEVEL..0.5).contains(&level) {
        return Err(JoinError::Level { level });
    }
    check(trials)?;
    let every: Vec<&TrialSummary> = trials.iter().collect();
    let all = Together::of(&every);
    let mut notices = all.notices();
    let between = match allowed(&all.scaled, level) {
        Ok(limits) => all.between(Some(limits)),
        Err(p) => {
            notices.push(JoinNotice::TooAlike { p });
            all.between(None)
        }
    };
    let by_own_errors = all.known(all.top.point, level);
    let joined = all.joined();
    let (lower, upper) = joined.interval(level);
    let cautious =
        (joined.half_width(level) < 0.5 * (by_own_errors.upper - by_own_errors.lower)).then(|| all.cautious());
    if cautious.is_some() {
        notices.push(JoinNotice::NarrowerThanOwnErrors);
    }
    let new_trial = (trials.len() > 2).then(|| all.new_trial(joined, level));
    let joined_trials: Vec<JoinedTrial> = (0..trials.len()).map(|index| all.trial(&every, index, level)).collect();
    notices.extend(of_degrees_of_freedom(trials));
    notices.extend(resting_on_one(&joined_trials, lower, upper));
    Ok(JoinedTrials {
        level,
        joined,
        lower,
        upper,
        p: joined.p(),
        by_own_errors,
        cautious,
        common: all.known(all.common, level),
        between,
        new_trial,
        trials: joined_trials,
        log_likelihood: all.top.point.log_likelihood - all.df() * all.scaled.unit.ln(),
        evidence: all.evidence(),
        notices,
    })
}

/// Some trials with the variance between them.
struct Together {
    scaled: Scaled,
    top: Top,
    /// With no variance between trials.
    common: Point,
}

impl Together {
    fn of(trials: &[&TrialSummary]) -> Self {
        let scaled = Scaled::of(trials);
        let (top, common) = (highest(&scaled), Point::at(&scaled, 0.0));
        Self { scaled, top, common }
    }

    fn df(&self) -> f64 {
        (self.scaled.estimates.len() - 1) as f64
    }

    fn are_the_same(&self) -> bool {
        self.top.point.q <= SAME * self.df()
    }

    fn mean(&self) -> f64 {
        self.scaled.origin + self.scaled.unit * self.top.point.mean
    }

    /// By Hartung and Knapp; by the trials' own errors where all estimates are the same.
    fn joined(&self) -> Estimate {
        if self.are_the_same() {
            return self.cautious();
        }
        let Point { q, weight, .. } = self.top.point;
        let se = self.scaled.unit * (q / self.df() / weight).sqrt();
        Estimate { estimate: self.mean(), se, df: self.df() }
    }

    fn cautious(&self) -> Estimate {
        let se = self.scaled.unit / self.top.point.weight.sqrt();
        Estimate { estimate: self.mean(), se, df: self.df() }
    }

    fn known(&self, point: Point, level: f64) -> KnownErrors {
        let estimate = self.scaled.origin + self.scaled.unit * point.mean;
        let se = self.scaled.unit / point.weight.sqrt();
        let half = -normal_quantile(0.5 * level) * se;
        KnownErrors { estimate, se, lower: estimate - half, upper: estimate + half }
    }

    fn between(&self, limits: Option<(f64, f64)>) -> BetweenTrials {
        let squared_unit = self.scaled.unit * self.scaled.unit;
        let Top { between, point, .. } = self.top;
        let typical = self.typical_variance();
        BetweenTrials {
            variance: squared_unit * between,
            sd: self.scaled.unit * between.sqrt(),
            variance_se: (between > 0.0).then(|| squared_unit / point.information.sqrt()),
            lower: limits.map(|(lower, _)| squared_unit * lower),
            upper: limits.map(|(_, upper)| squared_unit * upper),
            q: self.common.q,
            q_df: self.df(),
            q_p: chi_square_upper(self.common.q, self.df()),
            percent: 100.0 * between / (between + typical),
            ratio: 1.0 + between / typical,
        }
    }

    /// The one variance that trials with the same error would need to have for the same weight of Q; Higgins & Thompson (2002),
    /// Stat. Med. 21:1539-1558, equation 9.
    fn typical_variance(&self) -> f64 {
        let weights: Vec<f64> = self.scaled.variances.iter().map(|variance| 1.0 / variance).collect();
        let sum: f64 = weights.iter().sum();
        let pairs: f64 =
            super::surface::without_own(&weights).iter().zip(&weights).map(|(others, own)| own * (others / sum)).sum();
        self.df() / pairs
    }

    fn new_trial(&self, joined: Estimate, level: f64) -> NewTrial {
        let between = self.scaled.unit * self.top.between.sqrt();
        let (lower, upper) = Estimate { se: joined.se.hypot(between), ..joined }.interval(level);
        NewTrial { lower, upper }
    }

    fn trial(&self, trials: &[&TrialSummary], index: usize, level: f64) -> JoinedTrial {
        let TrialSummary { name, estimate, se, df } = trials[index].clone();
        let (lower, upper) = Estimate { estimate, se, df: df.unwrap_or(f64::INFINITY) }.interval(level);
        let weight = 1.0 / (self.scaled.variances[index] + self.top.between) / self.top.point.weight;
        let without = (trials.len() > 2).then(|| without(trials, index, level));
        JoinedTrial { name, estimate, se, df, lower, upper, weight, without }
    }

    fn evidence(&self) -> Evidence {
        let Top { between, point, evaluations, .. } = self.top;
        Evidence {
            iterations: evaluations,
            gradient: 2.0 * (point.slope * between).abs(),
            stop: if between > 0.0 { StopReason::Settled } else { StopReason::Edge },
            singular: between == 0.0,
        }
    }

    fn notices(&self) -> Vec<JoinNotice> {
        let (trials, maxima) = (self.scaled.estimates.len(), self.top.maxima);
        let mut notices = Vec::new();
        if trials < 3 {
            notices.push(JoinNotice::NoPrediction { trials });
        }
        if trials < FEW_TRIALS {
            notices.push(JoinNotice::FewTrials { trials });
        }
        if self.are_the_same() {
            notices.push(JoinNotice::EstimatesTheSame);
        }
        if self.top.between == 0.0 {
            notices.push(JoinNotice::BetweenAtZero);
        }
        if maxima > 1 {
            notices.push(JoinNotice::SeveralMaxima { maxima });
        }
        notices
    }
}

fn without(trials: &[&TrialSummary], index: usize, level: f64) -> WithoutTrial {
    let mut others = trials.to_vec();
    let TrialSummary { estimate, se, .. } = others.remove(index);
    let rest = Together::of(&others);
    let joined = rest.joined();
    let (lower, upper) = joined.interval(level);
    let sd = rest.scaled.unit * rest.top.between.sqrt();
    let expected = se.hypot(sd).hypot(rest.cautious().se);
    let distance = (estimate - joined.estimate) / expected;
    WithoutTrial { joined, lower, upper, variance: sd * sd, distance }
}

fn of_degrees_of_freedom(trials: &[TrialSummary]) -> Vec<JoinNotice> {
    let names = |is_so: &dyn Fn(Option<f64>) -> bool| -> Vec<String> {
        trials.iter().filter(|it| is_so(it.df)).map(|it| it.name.clone()).collect()
    };
    let least = trials.iter().filter_map(|it| it.df).fold(f64::INFINITY, f64::min);
    let few = names(&|df| df.is_some_and(|df| df < FEW_DF));
    let not_told = names(&|df| df.is_none());
    let mut notices = Vec::new();
    if !few.is_empty() {
        notices.push(JoinNotice::FewDegreesOfFreedom { trials: few, least });
    }
    if !not_told.is_empty() {
        notices.push(JoinNotice::DegreesOfFreedomNotTold { trials: not_told });
    }
    notices
}

/// Trials without any one of which the interval would reach over zero, though with all of them it does not.
fn resting_on_one(trials: &[JoinedTrial], lower: f64, upper: f64) -> Option<JoinNotice> {
    let is_sure = |lower: f64, upper: f64| lower > 0.0 || upper < 0.0;
    let needed = |it: &&JoinedTrial| it.without.is_some_and(|rest| !is_sure(rest.lower, rest.upper));
    let trials: Vec<String> = trials.iter().filter(needed).map(|it| it.name.clone()).collect();
    (is_sure(lower, upper) && !trials.is_empty()).then_some(JoinNotice::RestsOnOneTrial { trials })
}

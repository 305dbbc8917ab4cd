//! The search for the variances: steps by average information, shortened or replaced where they do not help.
//!
//! A variance that a step would make negative is put at zero, and its grouping leaves the equations. When all else has settled,
//! each of those is looked at again: the likelihood must fall when it leaves zero, else it comes back.

use super::equations::Equations;
use super::factor::Dependent;
use super::inverse::Form;
use super::likelihood::{Point, Slope};
use super::moments;
use super::prepared::Prepared;
use super::room::Rooms;
use crate::InferenceError;
use crate::matrix::{Cholesky, Matrix};
use std::rc::Rc;

const MOST_STEPS: usize = 100;
const MOST_HALVINGS: usize = 12;
/// Most that one step multiplies a variance by: where the information is nearly nil, steps have no measure.
const MOST_GROWTH: f64 = 100.0;
/// A relative step of every variance below which the search has settled.
const SETTLED: f64 = 1e-9;
/// Share of the smallest residual variance at which a variance at zero is looked at again.
const NEAR_ZERO: f64 = 1e-7;
/// Share of the residual variance below which a variance is zero.
const AT_ZERO: f64 = 1e-10;
/// Share of its classes that a grouping must show something of, and least part of a working variate that others do not explain.
const SEPARABLE: f64 = 1e-8;
/// Mean square of what the fit leaves of the plots, as a share of the variance of the response, below which it is rounding.
const NO_RESIDUAL: f64 = 1e-18;
/// Share of the variance of the response, and number of comparisons left to a residual variance, below which it is lost: the
/// likelihood then rises all the way to zero, ever more slowly, and at zero plots could not be told from their groupings.
const HIDDEN: (f64, f64) = (1e-4, 1e-2);

/// Where the search ended.
pub(super) struct Optimum {
    pub point: Point,
    pub slope: Slope,
    pub iterations: usize,
    /// Largest absolute slope of the log-likelihood by the logarithm of a variance.
    pub score: f64,
    /// Random groupings whose variance cannot be told from something else.
    pub inseparable: Vec<usize>,
}

/// The observations, the number of threads, and what is asked of the predictions.
pub(super) struct Search<'a> {
    pub data: &'a Prepared,
    pub threads: usize,
    /// Random groupings whose prediction errors are wanted.
    pub predicted: &'a [usize],
    /// Where the work is done.
    pub rooms: Rooms,
}

/// A point with its slope.
struct Place {
    point: Point,
    slope: Slope,
}

impl Search<'_> {
    /// Searches from the variances by moments.
    pub fn run(&self) -> Result<Optimum, InferenceError> {
        let mut variances = moments::start(self.data);
        let mut active: Vec<usize> = (0..self.data.random.len()).collect();
        let equations = Rc::new(Equations::of(self.data, &active, &variances));
        let mut place = self.place(equations, variances.clone())?;
        let inseparable = self.inseparable(&place);
        if !inseparable.is_empty() {
            active.retain(|it| !inseparable.contains(it));
            inseparable.iter().for_each(|&it| variances[it] = 0.0);
            let equations = Rc::new(Equations::of(self.data, &active, &variances));
            place = self.place(equations, variances)?;
        }
        self.climb(place, inseparable)
    }

    fn climb(&self, mut place: Place, inseparable: Vec<usize>) -> Result<Optimum, InferenceError> {
        let mut iterations = 0;
        loop {
            if self.is_exact(&place.point) {
                return Err(InferenceError::NoVariation);
            }
            if self.is_residual_hidden(&place) {
                return Err(InferenceError::VariancesNotSeparable { plots: self.data.response.len() });
            }
            let step = newton_step(&place.slope);
            let largest = step.iter().fold(0.0, |largest: f64, it| largest.max(it.abs()));
            let score = place.slope.scores.iter().fold(0.0, |largest: f64, it| largest.max(it.abs()));
            if largest <= SETTLED {
                match self.released(&place, &inseparable)? {
                    None => {
                        let Place { point, slope } = place;
                        return Ok(Optimum { point, slope, iterations, score, inseparable });
                    }
                    Some(next) => place = next,
                }
            }
            if iterations == MOST_STEPS {
                return Err(InferenceError::NotConverged { iterations, gradient: 2.0 * score });
            }
            iterations += 1;
            place = self.step(place, &step, largest)?;
        }
    }

    /// Whether plots do not vary at all within some residual group.
    fn is_exact(&self, point: &Point) -> bool {
        let mut counts = vec![0.0; self.data.residual.classes];
        self.data.residual.class.iter().for_each(|&group| counts[group as usize] += 1.0);
        let squares = &point.squares[point.equations.active.len()..];
        squares.iter().zip(&counts).any(|(square, count)| square / count < NO_RESIDUAL)
    }

    /// Whether a residual variance goes to zero because no comparison is free of larger variances.
    fn is_residual_hidden(&self, place: &Place) -> bool {
        let residual = &place.point.variances[self.data.random.len()..];
        let effective = &place.slope.effective[place.point.equations.active.len()..];
        residual.iter().zip(effective).any(|(&variance, &effective)| variance < HIDDEN.0 && effective < HIDDEN.1)
    }

    /// The next place, with a likelihood that is not lower but for rounding.
    fn step(&self, place: Place, step: &[f64], largest: f64) -> Result<Place, InferenceError> {
        let rounding = 1e-13 * (place.point.log_likelihood.abs() + self.data.response.len() as f64);
        let is_small = largest < 1e-5;
        for halvings in 0..MOST_HALVINGS {
            let variances = self.moved(&place.point, step, 0.5_f64.powi(halvings as i32));
            let Ok(next) = self.point(&place.point, variances) else { continue };
            if is_small || next.log_likelihood >= place.point.log_likelihood - rounding {
                self.leave(place.point);
                return Ok(self.with_slope(next));
            }
            self.leave(next);
        }
        let mut variances = place.point.variances.clone();
        for (parameter, value) in self.parameters(&place.point).into_iter().zip(&place.slope.expected) {
            variances[parameter] = *value;
        }
        self.point(&place.point, variances).map(|next| self.with_slope(next))
    }

    /// The room of a point's factor serves the next point.
    fn leave(&self, point: Point) {
        self.rooms.enter(|room| room.keep(point.factor.columns));
    }

    /// The smallest residual variance.
    fn least_residual(&self, variances: &[f64]) -> f64 {
        variances[self.data.random.len()..].iter().fold(f64::INFINITY, |least, it| least.min(*it))
    }

    /// Index among all variances of each variance in the equations.
    fn parameters(&self, point: &Point) -> Vec<usize> {
        let groups = self.data.random.len()..self.data.random.len() + self.data.residual.classes;
        point.equations.active.iter().copied().chain(groups).collect()
    }

    fn moved(&self, point: &Point, step: &[f64], share: f64) -> Vec<f64> {
        let mut variances = point.variances.clone();
        let random = self.data.random.len();
        for (parameter, step) in self.parameters(point).into_iter().zip(step) {
            let now = variances[parameter];
            let next = (now * (1.0 + share * step)).min(MOST_GROWTH * now);
            variances[parameter] = if parameter >= random { next.max(0.1 * now) } else { next };
        }
        let residual = self.least_residual(&variances);
        variances[..random].iter_mut().filter(|it| **it < AT_ZERO * residual).for_each(|it| *it = 0.0);
        variances
    }

    /// The equations are kept unless a grouping has come to zero.
    fn point(&self, from: &Point, variances: Vec<f64>) -> Result<Point, InferenceError> {
        let active: Vec<usize> = from.equations.active.iter().copied().filter(|&it| variances[it] > 0.0).collect();
        let is_same = active == from.equations.active && from.equations.can_stay(self.data, &variances);
        let equations =
            if is_same { from.equations.clone() } else { Rc::new(Equations::of(self.data, &active, &variances)) };
        self.solved(equations, variances)
    }

    fn solved(&self, equations: Rc<Equations>, variances: Vec<f64>) -> Result<Point, InferenceError> {
        let point = Point::at(self.data, equations.clone(), variances, &self.rooms, self.threads);
        let point = point.map_err(|Dependent { position }| {
            let unknown = equations.tree.position.iter().position(|&it| it as usize == position);
            let _ = unknown;
            InferenceError::VariancesNotSeparable { plots: self.data.response.len() }
        })?;
        if point.log_likelihood.is_finite() {
            Ok(point)
        } else {
            Err(InferenceError::VariancesNotSeparable { plots: self.data.response.len() })
        }
    }

    fn with_slope(&self, point: Point) -> Place {
        let forms = self.forms(&point.equations);
        let slope = point.slope(self.data, &forms, &self.rooms, self.threads);
        Place { point, slope }
    }

    fn place(&self, equations: Rc<Equations>, variances: Vec<f64>) -> Result<Place, InferenceError> {
        Ok(self.with_slope(self.solved(equations, variances)?))
    }

    fn forms(&self, equations: &Equations) -> Vec<Vec<Form>> {
        equations.prediction_forms(self.data, self.predicted)
    }

    /// Groupings of which the data show nothing, or nothing that others do not show as well.
    fn inseparable(&self, place: &Place) -> Vec<usize> {
        let active = &place.point.equations.active;
        let is_seen =
            |part: &usize| place.slope.effective[*part] > SEPARABLE * self.data.random[active[*part]].classes as f64;
        let seen: Vec<usize> = (0..active.len()).filter(is_seen).collect();
        let residual = active.len()..active.len() + self.data.residual.classes;
        let information = &place.slope.information;
        let mut kept: Vec<usize> = residual.filter(|&it| information[(it, it)] > 0.0).collect();
        for part in seen {
            // A grouping without any predicted effect takes nothing from the others.
            if information[(part, part)] <= 0.0 || !follows(information, &kept, part) {
                kept.push(part);
            }
        }
        (0..active.len()).filter(|it| !kept.contains(it)).map(|it| active[it]).collect()
    }

    /// With groupings at zero: the place just above zero where one of them rises; nothing when all of them fall.
    fn released(&self, place: &Place, inseparable: &[usize]) -> Result<Option<Place>, InferenceError> {
        let random = self.data.random.len();
        let variances = &place.point.variances;
        let at_zero: Vec<usize> = (0..random).filter(|it| variances[*it] == 0.0 && !inseparable.contains(it)).collect();
        if at_zero.is_empty() {
            return Ok(None);
        }
        let residual = self.least_residual(variances);
        let mut above = variances.clone();
        at_zero.iter().for_each(|&it| above[it] = NEAR_ZERO * residual);
        let active: Vec<usize> = (0..random).filter(|&it| above[it] > 0.0).collect();
        let looked = self.place(Rc::new(Equations::of(self.data, &active, &above)), above.clone())?;
        let rises = |it: &usize| {
            let part = active.iter().position(|active| active == it);
            // a slope by the logarithm is in proportion to the variance; what is below rounding does not rise
            part.is_some_and(|part| looked.slope.scores[part] > 1e-3 * NEAR_ZERO)
        };
        let rising: Vec<usize> = at_zero.iter().copied().filter(rises).collect();
        if rising.is_empty() {
            return Ok(None);
        }
        at_zero.iter().filter(|it| !rising.contains(it)).for_each(|&it| above[it] = 0.0);
        let active: Vec<usize> = (0..random).filter(|&it| above[it] > 0.0).collect();
        Ok(Some(self.place(Rc::new(Equations::of(self.data, &active, &above)), above)?))
    }
}

/// Relative change of each variance.
fn newton_step(slope: &Slope) -> Vec<f64> {
    let size = slope.scores.len();
    let mut scaled = slope.information.clone();
    let lengths: Vec<f64> = (0..size).map(|it| slope.information[(it, it)].max(0.0).sqrt()).collect();
    for row in 0..size {
        for column in 0..size {
            let length = lengths[row] * lengths[column];
            let value = if length > 0.0 { scaled[(row, column)] / length } else { f64::from(u8::from(row == column)) };
            scaled[(row, column)] = value + if row == column { 1e-14 } else { 0.0 };
        }
    }
    let right: Vec<f64> =
        slope.scores.iter().zip(&lengths).map(|(it, length)| if *length > 0.0 { it / length } else { 0.0 }).collect();
    match Cholesky::of(&scaled) {
        Some(factor) => {
            let solved = factor.solve_vector(&right);
            solved
                .iter()
                .zip(&lengths)
                .zip(&slope.scores)
                .map(|((it, length), score)| {
                    // Without any predicted effect the information is nil; then the grouping goes.
                    if *length > 0.0 { it / length } else { if *score < 0.0 { -1.0 } else { 0.0 } }
                })
                .collect()
        }
        None => slope
            .scores
            .iter()
            .zip(&lengths)
            .map(|(score, length)| score / (length * length).max(f64::MIN_POSITIVE))
            .collect(),
    }
}

/// Whether a working variate follows from those kept.
fn follows(information: &Matrix, kept: &[usize], candidate: usize) -> bool {
    let mut all = kept.to_vec();
    all.push(candidate);
    let mut matrix = Matrix::zeros(all.len(), all.len());
    for (row, &a) in all.iter().enumerate() {
        for (column, &b) in all.iter().enumerate() {
            matrix[(row, column)] = information[(a, b)] / (information[(a, a)] * information[(b, b)]).sqrt();
        }
    }
    match Cholesky::of(&matrix) {
        // The last pivot is one over the last element of the inverse.
        Some(factor) => factor.inverse()[(all.len() - 1, all.len() - 1)].recip() < SEPARABLE,
        None => true,
    }
}

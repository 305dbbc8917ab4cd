//! Intervals by profile: how far a quantity can move while the curve still fits as well as the level of confidence asks.
//!
//! The parameters that the data do not contradict are those with a sum of squares up to `least + t^2 unit`. Given the nonlinear
//! coordinates they are an ellipse of weights, known in closed form; so the region is walked along coordinates and around
//! ellipses, and the interval of a quantity is the range of its values there. That is the same interval as the set of values
//! whose best fit passes the profile F test (Bates & Watts 1988, Nonlinear Regression Analysis, chapter 6).

use super::basis::{Domain, End};
use super::pieces::{Piece, pieces};
use super::problem::{Located, Problem};
use std::cell::OnceCell;
use std::f64::consts::PI;

/// Curves that the data do not contradict.
pub(super) struct Region<'a> {
    problem: &'a Problem<'a>,
    domains: Vec<Domain>,
    /// First coordinates of the local leasts.
    leasts: Vec<f64>,
    threshold: f64,
    /// Places all over the region, with their curves; worked out when first asked for.
    lattice: OnceCell<Vec<(Spot, Member)>>,
}

/// A curve of the region.
pub(super) struct Member {
    /// Its parameters.
    pub theta: Vec<f64>,
    /// What lies beyond the end of a domain on which it stands, if it stands on one.
    pub end: Option<End>,
}

/// One place of the region.
#[derive(Debug, Clone, PartialEq)]
struct Spot {
    /// For each coordinate the piece that it lies in, and the angle along it: 0 at its start, pi at its end.
    along: Vec<(Piece, f64)>,
    /// Angle around the ellipse of weights.
    around: f64,
    /// How far out: 1 on the edge, 0 at the best weights.
    reach: f64,
}

impl Spot {
    fn coordinates(&self) -> Vec<f64> {
        let value = |(piece, angle): &(Piece, f64)| piece.low + (piece.high - piece.low) * 0.5 * (1.0 - angle.cos());
        self.along.iter().map(value).collect()
    }
}

/// Steps along a piece, where there is one coordinate and where there are two.
const ALONG: [usize; 2] = [48, 16];
/// Steps around an ellipse.
const AROUND: usize = 32;

impl<'a> Region<'a> {
    /// - `threshold`: largest sum of squares of a member
    pub fn new(problem: &'a Problem<'a>, located: &Located, threshold: f64) -> Self {
        let leasts = located.leasts.iter().filter_map(|least| least.at.first().copied()).collect();
        Self { problem, domains: problem.domains(), leasts, threshold, lattice: OnceCell::new() }
    }

    /// Stretches of the coordinate that follows those `given`.
    pub fn pieces(&self, given: &[f64]) -> Vec<Piece> {
        if given.is_empty() {
            return pieces(self.problem, given, &self.leasts, self.threshold);
        }
        let leasts = self.problem.leasts_over_last(given, &self.domains[given.len()]);
        let known: Vec<f64> = leasts.iter().filter_map(|least| least.at.first().copied()).collect();
        pieces(self.problem, given, &known, self.threshold)
    }

    /// Smallest and largest value of a quantity over the region, each infinite where it has no bound.
    pub fn extremes(&self, quantity: &dyn Fn(&Member) -> f64) -> Option<(f64, f64)> {
        let value = |spot: &Spot| self.member(spot).map(|member| quantity(&member)).filter(|value| !value.is_nan());
        let lattice = self.lattice.get_or_init(|| self.lattice());
        let valued = lattice.iter().map(|(spot, member)| (quantity(member), spot));
        let valued: Vec<(f64, &Spot)> = valued.filter(|it| !it.0.is_nan()).collect();
        let least = valued.iter().min_by(|a, b| a.0.total_cmp(&b.0))?;
        let most = valued.iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
        let lower = -self.climb(least.1, -least.0, &|spot| value(spot).map(|it| -it));
        Some((lower, self.climb(most.1, most.0, &value)))
    }

    fn steps(&self) -> usize {
        ALONG[usize::from(self.domains.len() > 1)]
    }

    fn lattice(&self) -> Vec<(Spot, Member)> {
        self.spots().into_iter().filter_map(|spot| Some((spot.clone(), self.member(&spot)?))).collect()
    }

    /// Places all over the region.
    fn spots(&self) -> Vec<Spot> {
        let mut all: Vec<Vec<(Piece, f64)>> = vec![Vec::new()];
        for _coordinate in &self.domains {
            let mut further = Vec::new();
            for along in &all {
                let given = Spot { along: along.clone(), around: 0.0, reach: 0.0 }.coordinates();
                for piece in self.pieces(&given) {
                    let angles = (0..=self.steps()).map(|step| PI * step as f64 / self.steps() as f64);
                    further.extend(angles.map(|angle| [along.as_slice(), &[(piece, angle)]].concat()));
                }
            }
            all = further;
        }
        let directions = if self.problem.shape_weights() == 1 { 2 } else { AROUND };
        let around = |step: usize| 2.0 * PI * step as f64 / directions as f64;
        let mut spots = Vec::new();
        for along in &all {
            spots.push(Spot { along: along.clone(), around: 0.0, reach: 0.0 });
            for step in 0..directions {
                let spot = |reach: f64| Spot { along: along.clone(), around: around(step), reach };
                spots.extend([1.0, 0.5].map(spot));
            }
        }
        spots
    }

    fn member(&self, spot: &Spot) -> Option<Member> {
        let at = spot.coordinates();
        let solved = self.problem.at(&at)?;
        // the ends of a piece are on the edge to rounding only
        let reach = spot.reach * (self.threshold - solved.squares).max(0.0).sqrt();
        let covariance = solved.covariance();
        let first = self.problem.first_shape_weight();
        let deviation = covariance[(first, first)].sqrt();
        let mut weights = solved.weights;
        weights[first] += reach * spot.around.cos() * deviation;
        if self.problem.shape_weights() == 2 {
            let along = covariance[(first + 1, first)] / deviation;
            let across = (covariance[(first + 1, first + 1)] - along * along).max(0.0).sqrt();
            weights[first + 1] += reach * (spot.around.cos() * along + spot.around.sin() * across);
        }
        let theta = self.problem.form.parameters_from(&self.problem.range, &at, &weights);
        Some(Member { theta, end: self.end(&spot.along) })
    }

    fn end(&self, along: &[(Piece, f64)]) -> Option<End> {
        along.iter().zip(&self.domains).find_map(|((piece, angle), domain)| {
            let (at_start, at_end) = (*angle == 0.0 && piece.ends[0], *angle == PI && piece.ends[1]);
            if at_start { Some(domain.ends[0]) } else { at_end.then_some(domain.ends[1]) }
        })
    }

    /// Improves a spot, one angle after the other, by golden sections.
    fn climb(&self, spot: &Spot, value: f64, quantity: &dyn Fn(&Spot) -> Option<f64>) -> f64 {
        let (mut best, mut highest) = (spot.clone(), value);
        if !value.is_finite() {
            return value;
        }
        let (along, around) = (PI / self.steps() as f64, 2.0 * PI / AROUND as f64);
        for _round in 0..3 {
            let before = highest;
            for coordinate in 0..self.domains.len() {
                let middle = best.along[coordinate].1;
                let at = |angle: f64| quantity(&self.moved(&best, coordinate, angle)?);
                let (low, high) = ((middle - along).max(0.0), (middle + along).min(PI));
                // where a later coordinate's piece has to follow, each look is dear; a peak is flat, so fewer do
                let sections = if coordinate + 1 < self.domains.len() { 16 } else { 32 };
                let (angle, there) = golden(low, high, sections, &|angle| at(angle).unwrap_or(f64::NEG_INFINITY));
                if there > highest
                    && let Some(moved) = self.moved(&best, coordinate, angle)
                {
                    (best, highest) = (moved, there);
                }
            }
            if self.problem.shape_weights() == 2 {
                let at = |angle: f64| quantity(&Spot { around: angle, ..best.clone() });
                let (low, high) = (best.around - around, best.around + around);
                let (angle, there) = golden(low, high, 32, &|angle| at(angle).unwrap_or(f64::NEG_INFINITY));
                if there > highest {
                    (best.around, highest) = (angle, there);
                }
            }
            if highest - before <= 1e-12 * highest.abs() {
                break;
            }
        }
        highest
    }

    /// The spot with another angle along one coordinate; pieces of later coordinates follow.
    fn moved(&self, spot: &Spot, coordinate: usize, angle: f64) -> Option<Spot> {
        let mut moved = spot.clone();
        moved.along[coordinate].1 = angle;
        for later in coordinate + 1..moved.along.len() {
            let given = &moved.coordinates()[..later];
            let was = moved.along[later].0;
            let apart = |piece: &Piece| (piece.low + piece.high - was.low - was.high).abs();
            moved.along[later].0 = self.pieces(given).into_iter().min_by(|a, b| apart(a).total_cmp(&apart(b)))?;
        }
        Some(moved)
    }
}

/// Where a function with one peak is highest, and how high.
fn golden(low: f64, high: f64, sections: usize, function: &dyn Fn(f64) -> f64) -> (f64, f64) {
    let share = 0.5 * (5.0_f64.sqrt() - 1.0);
    let (mut low, mut high) = (low, high);
    let (mut one, mut two) = (high - share * (high - low), low + share * (high - low));
    let (mut at_one, mut at_two) = (function(one), function(two));
    for _section in 0..sections {
        if at_one >= at_two {
            (high, two, at_two) = (two, one, at_one);
            one = high - share * (high - low);
            at_one = function(one);
        } else {
            (low, one, at_one) = (one, two, at_two);
            two = low + share * (high - low);
            at_two = function(two);
        }
    }
    if at_one >= at_two { (one, at_one) } else { (two, at_two) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn golden_sections_end_at_the_peak() {
        let (at, peak) = golden(0.0, 2.0, 40, &|x| 3.0 - (x - 1.3).powi(2));
        assert!((at - 1.3).abs() < 1e-7 && (peak - 3.0).abs() < 1e-14);
    }
}

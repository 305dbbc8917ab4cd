//! Stretches of a coordinate over which a curve still fits well enough.

use super::problem::Problem;

/// A stretch of a coordinate whose best sum of squares stays within a threshold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Piece {
    pub low: f64,
    pub high: f64,
    /// Whether it runs into the start or the end of the coordinate's domain.
    pub ends: [bool; 2],
}

/// Stretches of the coordinate that follows those `given`.
///
/// - `known`: values of the coordinate that must not be stepped over
pub(super) fn pieces(problem: &Problem<'_>, given: &[f64], known: &[f64], threshold: f64) -> Vec<Piece> {
    let domains = problem.domains();
    let domain = &domains[given.len()];
    let profile = |value: f64| {
        let at = [given, &[value]].concat();
        if at.len() == domains.len() {
            return problem.squares(&at);
        }
        let leasts = problem.leasts_over_last(&at, &domains[at.len()]);
        leasts.first().map_or(f64::INFINITY, |least| least.squares)
    };
    let mut places = domain.breaks.clone();
    for pair in domain.breaks.windows(2) {
        let step = (pair[1] - pair[0]) / domain.steps as f64;
        places.extend((1..domain.steps).map(|it| pair[0] + step * it as f64));
    }
    places.extend(known);
    places.sort_by(f64::total_cmp);
    places.dedup();
    let above = |value: f64| profile(value) - threshold;
    let excess: Vec<f64> = places.iter().map(|&place| above(place)).collect();
    let mut pieces = Vec::new();
    let mut index = 0;
    while index < places.len() {
        if excess[index] > 0.0 {
            index += 1;
            continue;
        }
        let last = index + excess[index..].iter().take_while(|&&excess| excess <= 0.0).count() - 1;
        let low = match index {
            0 => places[0],
            _ => edge([places[index - 1], places[index]], [excess[index - 1], excess[index]], &above),
        };
        let high = match last + 1 {
            after if after == places.len() => places[last],
            after => edge([places[after], places[last]], [excess[after], excess[last]], &above),
        };
        pieces.push(Piece { low, high, ends: [index == 0, last + 1 == places.len()] });
        index = last + 1;
    }
    pieces
}

/// The last place inside on the way from one outside: false position with the stale end's weight halved (the Illinois rule), or
/// halving where that is too slow.
///
/// - `excess`: how far the sum of squares lies above the threshold at either place
fn edge(places: [f64; 2], excess: [f64; 2], above: &dyn Fn(f64) -> f64) -> f64 {
    let ([mut outside, mut inside], [mut over, mut under]) = (places, excess);
    for round in 0..100 {
        if (outside - inside).abs() <= 1e-13 * outside.abs().max(inside.abs()) || under == 0.0 {
            break;
        }
        let share = under / (under - over);
        let share = if round % 4 == 3 || !(0.0..=1.0).contains(&share) { 0.5 } else { share };
        let middle = inside + share * (outside - inside);
        if middle == outside || middle == inside {
            break;
        }
        let there = above(middle);
        if there > 0.0 {
            (outside, over, under) = (middle, there, 0.5 * under);
        } else {
            (inside, under, over) = (middle, there, 0.5 * over);
        }
    }
    inside
}

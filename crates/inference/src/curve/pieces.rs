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
    let is_inside = |value: f64| profile(value) <= threshold;
    let inside: Vec<bool> = places.iter().map(|&place| is_inside(place)).collect();
    let mut pieces = Vec::new();
    let mut index = 0;
    while index < places.len() {
        if !inside[index] {
            index += 1;
            continue;
        }
        let length = inside[index..].iter().take_while(|&&inside| inside).count();
        let last = index + length - 1;
        let low = if index == 0 { places[0] } else { edge(places[index - 1], places[index], &is_inside) };
        let high =
            if last + 1 == places.len() { places[last] } else { edge(places[last + 1], places[last], &is_inside) };
        pieces.push(Piece { low, high, ends: [index == 0, last + 1 == places.len()] });
        index = last + 1;
    }
    pieces
}

/// The last place inside on the way from `inside` to `outside`, by halving.
fn edge(outside: f64, inside: f64, is_inside: &dyn Fn(f64) -> bool) -> f64 {
    let (mut outside, mut inside) = (outside, inside);
    while (outside - inside).abs() > 1e-13 * outside.abs().max(inside.abs()) {
        let middle = 0.5 * (outside + inside);
        if middle == outside || middle == inside {
            break;
        }
        if is_inside(middle) { inside = middle } else { outside = middle }
    }
    inside
}

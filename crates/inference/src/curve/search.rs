//! The least sum of squares over one or two nonlinear coordinates, with every local least on the way.
//!
//! A stretch between two amounts is stepped through and each fall that turns into a rise is closed in on by the sign of the
//! derivative, so that the best is found to rounding and no start has to be guessed. Where the derivative jumps from below
//! to above zero at an amount, the least lies at that amount itself.

use super::basis::Domain;
use crate::matrix::dot;

/// A local least.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Least {
    pub at: Vec<f64>,
    pub squares: f64,
    pub place: Place,
}

/// What kind of least it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    /// The derivative vanishes.
    Smooth,
    /// The derivative jumps.
    Kink,
    /// At the start (false) or the end (true) of the domain of a coordinate.
    End { coordinate: usize, upper: bool },
}

/// How close to a break its two sides are looked at, as a share of the stretch.
const BESIDE: f64 = 1e-9;

/// All local leasts over one coordinate, best first.
///
/// - `objective`: sum of squares and its derivative
pub(super) fn on_a_line(domain: &Domain, objective: &dyn Fn(f64) -> Option<(f64, f64)>) -> Vec<Least> {
    let mut found = Vec::new();
    let mut slope_before: Option<f64> = None;
    let (first, last) = (domain.breaks[0], domain.breaks[domain.breaks.len() - 1]);
    let end = |at: f64, upper: bool| {
        objective(at).map(|(squares, _)| Least { at: vec![at], squares, place: Place::End { coordinate: 0, upper } })
    };
    for pair in domain.breaks.windows(2) {
        let (low, width) = (pair[0], pair[1] - pair[0]);
        let share = |step: usize| match step {
            0 => BESIDE,
            step if step == domain.steps => 1.0 - BESIDE,
            step => step as f64 / domain.steps as f64,
        };
        let places: Vec<f64> = (0..=domain.steps).map(|step| low + width * share(step)).collect();
        let slopes: Vec<Option<f64>> = places.iter().map(|&at| objective(at).map(|it| it.1)).collect();
        match (slope_before, slopes[0]) {
            (None, Some(slope)) if low == first && slope >= 0.0 => found.extend(end(low, false)),
            (Some(before), Some(after)) if before < 0.0 && after > 0.0 => {
                let kink = objective(low).map(|it| Least { at: vec![low], squares: it.0, place: Place::Kink });
                found.extend(kink);
            }
            _ => {}
        }
        for (step, pair) in slopes.windows(2).enumerate() {
            if let [Some(falling), Some(rising)] = pair
                && *falling < 0.0
                && *rising >= 0.0
            {
                let at = turning(places[step], places[step + 1], *falling, *rising, objective);
                found.extend(objective(at).map(|it| Least { at: vec![at], squares: it.0, place: Place::Smooth }));
            }
        }
        slope_before = slopes[domain.steps];
    }
    if slope_before.is_some_and(|slope| slope < 0.0) {
        found.extend(end(last, true));
    }
    found.sort_by(|a, b| a.squares.total_cmp(&b.squares));
    found
}

/// Where the derivative turns from falling to rising: false position with the stale end's weight halved (the Illinois rule),
/// and halving whenever that is too slow.
fn turning(low: f64, high: f64, falling: f64, rising: f64, objective: &dyn Fn(f64) -> Option<(f64, f64)>) -> f64 {
    let (mut low, mut high, mut falling, mut rising) = (low, high, falling, rising);
    for round in 0..200 {
        let width = high - low;
        if width <= 4e-16 * low.abs().max(high.abs()) {
            break;
        }
        let proposed = high - rising * width / (rising - falling);
        let at = if round % 3 == 2 || !(proposed > low && proposed < high) { 0.5 * (low + high) } else { proposed };
        let Some((_, slope)) = objective(at) else { break };
        if slope == 0.0 {
            return at;
        }
        if slope > 0.0 {
            (high, rising, falling) = (at, slope, 0.5 * falling);
        } else {
            (low, falling, rising) = (at, slope, 0.5 * rising);
        }
    }
    0.5 * (low + high)
}

/// Sum of squares over two coordinates with what a step needs: residuals and their derivatives.
pub(super) struct Surface {
    pub squares: f64,
    /// What the curve leaves.
    pub left: Vec<f64>,
    /// How the weighed curve moves with each coordinate, free of what the weights of its columns make good.
    pub moves: [Vec<f64>; 2],
}

impl Surface {
    /// The larger cosine of the angles between what is left and the moves: zero at a least.
    fn slant(&self) -> f64 {
        let length = self.squares.sqrt();
        let cosine = |of: &Vec<f64>| dot(of, &self.left).abs() / (dot(of, of).sqrt() * length).max(f64::MIN_POSITIVE);
        cosine(&self.moves[0]).max(cosine(&self.moves[1]))
    }
}

/// All local leasts over two coordinates that a grid shows, the best few refined, best first.
pub(super) fn on_a_plane(domains: &[Domain], surface: &dyn Fn(&[f64]) -> Option<Surface>) -> Vec<Least> {
    /// How many low places of the grid are followed.
    const FOLLOWED: usize = 4;
    let places: Vec<Vec<f64>> = domains.iter().map(grid).collect();
    let squares: Vec<Vec<f64>> = places[0]
        .iter()
        .map(|&one| places[1].iter().map(|&two| surface(&[one, two]).map_or(f64::INFINITY, |it| it.squares)).collect())
        .collect();
    let mut low: Vec<(usize, usize)> = Vec::new();
    for one in 0..places[0].len() {
        for two in 0..places[1].len() {
            let ones = one.saturating_sub(1)..=(one + 1).min(places[0].len() - 1);
            let mut around =
                ones.flat_map(|a| (two.saturating_sub(1)..=(two + 1).min(places[1].len() - 1)).map(move |b| (a, b)));
            if squares[one][two].is_finite() && around.all(|(a, b)| squares[one][two] <= squares[a][b]) {
                low.push((one, two));
            }
        }
    }
    low.sort_by(|a, b| squares[a.0][a.1].total_cmp(&squares[b.0][b.1]));
    let starts = low.iter().take(FOLLOWED).map(|&(one, two)| vec![places[0][one], places[1][two]]);
    let mut found: Vec<Least> = starts.filter_map(|start| descend(domains, start, surface)).collect();
    found.sort_by(|a, b| a.squares.total_cmp(&b.squares));
    found
}

fn grid(domain: &Domain) -> Vec<f64> {
    let (first, last) = (domain.breaks[0], domain.breaks[domain.breaks.len() - 1]);
    (0..=domain.steps).map(|step| first + (last - first) * step as f64 / domain.steps as f64).collect()
}

/// Gauss-Newton steps with Marquardt's damping, kept within the domains; ends when the residuals are as good as
/// perpendicular to every move of the curve (Bates & Watts 1981, Technometrics 23:179-183).
fn descend(domains: &[Domain], start: Vec<f64>, surface: &dyn Fn(&[f64]) -> Option<Surface>) -> Option<Least> {
    const PERPENDICULAR: f64 = 1e-11;
    let bounds = |coordinate: usize| {
        let breaks = &domains[coordinate].breaks;
        (breaks[0], breaks[breaks.len() - 1])
    };
    let (mut at, mut here) = (start.clone(), surface(&start)?);
    let mut damping = 1e-3;
    for _step in 0..300 {
        if here.slant() < PERPENDICULAR {
            break;
        }
        let [one, two] = &here.moves;
        let slope = [dot(one, &here.left), dot(two, &here.left)];
        let (a, b, c) = (dot(one, one) * (1.0 + damping), dot(one, two), dot(two, two) * (1.0 + damping));
        let determinant = a * c - b * b;
        let step = [(c * slope[0] - b * slope[1]) / determinant, (a * slope[1] - b * slope[0]) / determinant];
        let next: Vec<f64> = (0..2).map(|it| (at[it] + step[it]).clamp(bounds(it).0, bounds(it).1)).collect();
        if next == at || next.iter().any(|it| !it.is_finite()) {
            break;
        }
        // near the least the sums of squares agree to rounding, and only the slant still tells which is better
        let is_better = |there: &Surface| {
            there.squares < here.squares * (1.0 - 1e-12)
                || (there.squares <= here.squares * (1.0 + 1e-12) && there.slant() < here.slant())
        };
        match surface(&next).filter(is_better) {
            Some(there) => {
                (at, here) = (next, there);
                damping = (damping * 0.1).max(1e-12);
            }
            None if damping > 1e12 => break,
            None => damping *= 10.0,
        }
    }
    let on_bound = |it: usize| [at[it] <= bounds(it).0, at[it] >= bounds(it).1];
    let place = (0..2)
        .find_map(|it| {
            let [lower, upper] = on_bound(it);
            (lower || upper).then_some(Place::End { coordinate: it, upper })
        })
        .unwrap_or(Place::Smooth);
    Some(Least { at, squares: here.squares, place })
}

#[cfg(test)]
mod tests {
    use super::super::basis::End;
    use super::*;

    fn domain(breaks: &[f64]) -> Domain {
        Domain { breaks: breaks.to_vec(), steps: 6, ends: [End::NoBend, End::NoBend] }
    }

    #[test]
    fn every_least_of_a_wave_is_found_to_rounding() {
        let wave = |at: f64| Some((at.cos() + 0.01 * at, -at.sin() + 0.01));
        let found = on_a_line(&domain(&[0.0, 4.0, 8.0, 12.0]), &wave);
        // both valleys, by arc sine, and the slope at the end still falls
        let valleys = [std::f64::consts::PI - 0.01_f64.asin(), 3.0 * std::f64::consts::PI - 0.01_f64.asin()];
        assert!(valleys.iter().all(|valley| found.iter().any(|it| (it.at[0] - valley).abs() < 1e-14)), "{found:?}");
        assert_eq!(found[0].place, Place::Smooth);
    }

    #[test]
    fn a_kink_and_the_ends_are_leasts_too() {
        let kink = |at: f64| Some(((at - 1.0).abs(), (at - 1.0).signum()));
        let found = on_a_line(&domain(&[0.0, 1.0, 2.0]), &kink);
        assert_eq!((found[0].at[0], found[0].place), (1.0, Place::Kink));
        let falling = on_a_line(&domain(&[0.0, 1.0, 2.0]), &|at| Some((-at, -1.0)));
        assert_eq!(falling[0].place, Place::End { coordinate: 0, upper: true });
        let rising = on_a_line(&domain(&[0.0, 1.0, 2.0]), &|at| Some((at, 1.0)));
        assert_eq!(rising[0].place, Place::End { coordinate: 0, upper: false });
    }
}

//! The models that are tried.
//!
//! - rows and columns, smooth trend: random, so that they share the fixed part of all others; a steep line is then as good as fixed
//! - smoothing splines as random effects: Verbyla, Cullis, Kenward & Welham (1999), Appl. Statist. 48:269-311
//! - separable first-order autoregression with and without independent errors: Cullis & Gleeson (1991), Biometrics 47:1449-1460;
//!   Gilmour, Cullis & Verbyla (1997), JABES 2:269-293

use super::positions::{Line, Places};
use crate::correlated_errors::{Axis, Part, Shape, Unit};
use crate::error_models::Candidate;
use crate::model::{Division, Partition};

/// Positions that a direction needs before a trend along it can be seen.
const SHORTEST: usize = 4;

/// The models for these plots, the one as randomised first.
pub(super) fn candidates(partitions: &[Partition], places: &Places) -> Vec<Candidate> {
    let strata = &partitions[..partitions.len() - 1];
    let with = |name: &'static str, describes: String, own: Vec<Part>| {
        let parts = crate::error_models::strata_parts(strata).into_iter().chain(own).collect();
        Candidate { name: name.to_owned(), describes, parts }
    };
    let alone = "Units as they were randomised, plots independent within them.".to_owned();
    let mut found = vec![with("as randomised", alone, vec![Part::residual()])];
    let lines = [&places.ranges, &places.passes];
    let crossing: Vec<&Line> = lines.into_iter().filter(|line| is_news(line, partitions)).collect();
    if !crossing.is_empty() {
        let describes = format!("Also a random effect of all {}.", plurals(&crossing, " and of all "));
        let effects = crossing.iter().map(|it| Part::units(it.name, it.position.clone()));
        found.push(with("rows and columns", describes, effects.chain([Part::residual()]).collect()));
    }
    let long: Vec<&Line> = lines.into_iter().filter(|line| line.count >= SHORTEST).collect();
    if long.is_empty() {
        return found;
    }
    let describes = format!(
        "Also a straight line and a smooth curve (cubic smoothing spline) along the {}, all as random effects.",
        plurals(&long, " and along the ")
    );
    let curves = long.iter().flat_map(|line| smooth(line));
    found.push(with("smooth trend", describes, curves.chain([Part::residual()]).collect()));
    found.extend(autoregressions(places, &long).into_iter().map(|(name, words, parts)| with(name, words, parts)));
    found
}

/// Whether the direction divides the plots in a way of its own.
fn is_news(line: &Line, partitions: &[Partition]) -> bool {
    let division = Division::by(line.position.iter().copied());
    line.count > 1 && line.count < line.position.len() && !partitions.iter().any(|it| it.division.is_same_as(&division))
}

fn plurals(lines: &[&Line], between: &str) -> String {
    lines.iter().map(|it| it.plural).collect::<Vec<_>>().join(between)
}

fn axis(line: &Line, shape: Shape) -> Axis {
    Axis { name: line.name.into(), position: line.position.iter().map(|&it| it as f64).collect(), shape }
}

fn smooth(line: &Line) -> [Part; 2] {
    let part = |what: &str, shape: Shape| {
        Part::along(format!("{what} along {}", line.plural), Unit::All, vec![axis(line, shape)])
    };
    [part("line", Shape::Line), part("curve", Shape::Spline)]
}

/// Along both directions, or along the long one within each line of the short one.
fn autoregressions(places: &Places, long: &[&Line]) -> Vec<(&'static str, String, Vec<Part>)> {
    let axes: Vec<Axis> = long.iter().map(|line| axis(line, Shape::Steps)).collect();
    let short = [&places.ranges, &places.passes].into_iter().find(|line| line.count < SHORTEST);
    let (unit, within) = match short {
        Some(short) if short.count > 1 => {
            (Unit::Classes(short.position.clone()), format!(", within each {}", short.name))
        }
        _ => (Unit::All, String::new()),
    };
    let trend = Part::along("trend", unit, axes);
    let words = format!(
        "Errors of neighbouring plots are alike (first-order autoregression along the {}{within}{})",
        plurals(long, " and the "),
        if long.len() > 1 { ", separable" } else { "" }
    );
    let mut found = Vec::new();
    if !places.is_sampled {
        found.push(("autoregression", format!("{words}."), vec![trend.clone()]));
    }
    let both = format!("{words}, and every plot has an independent error besides.");
    found.push(("autoregression and independent errors", both, vec![trend, Part::residual()]));
    found
}

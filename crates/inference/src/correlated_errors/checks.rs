//! Whether the parts fit the observations.

use super::part::{Part, Shape, Unit};
use super::structure::Structure;
use crate::InferenceError;

/// Observations that one dense matrix may join. Time grows with the third power, memory with the second.
pub const MOST_JOINED: usize = 2000;
/// Longest distance in steps: powers of a correlation beyond it are zero.
const MOST_STEPS: f64 = 1e6;

/// Checks lengths, positions and the size of the largest block.
pub(crate) fn check_parts(parts: &[Part], expected: usize) -> Result<(), InferenceError> {
    if parts.is_empty() {
        return Err(InferenceError::NoVariation);
    }
    for part in parts {
        let check = |what: &str, found: usize| {
            let list = format!("{what} of '{}'", part.name);
            if found == expected { Ok(()) } else { Err(InferenceError::Length { list, found, expected }) }
        };
        if let Unit::Classes(class) = &part.unit {
            check("the units", class.len())?;
        }
        if let Some(groups) = &part.groups {
            check("the groups", groups.group.len())?;
            if let Some(plot) = groups.group.iter().position(|&group| group >= groups.labels.len()) {
                let (what, expected) = (format!("the group of plot {plot}"), format!("below {}", groups.labels.len()));
                return Err(InferenceError::Setting { what, value: groups.group[plot] as f64, expected });
            }
            if let Some(group) = (0..groups.labels.len()).find(|group| !groups.group.contains(group)) {
                return Err(InferenceError::NoErrorInGroup { group: groups.labels[group].clone() });
            }
        }
        for axis in &part.axes {
            check(&format!("the positions along '{}'", axis.name), axis.position.len())?;
            check_positions(&axis.name, &axis.position, axis.shape)?;
        }
    }
    let joined = Structure::of(parts, expected).blocks.iter().map(Vec::len).max().unwrap_or(0);
    if joined > MOST_JOINED {
        return Err(InferenceError::TooManyJoined { joined, most: MOST_JOINED });
    }
    Ok(())
}

fn check_positions(axis: &str, positions: &[f64], shape: Shape) -> Result<(), InferenceError> {
    let low = positions.iter().fold(f64::INFINITY, |low, it| low.min(*it));
    let wrong = |&&position: &&f64| {
        let is_whole = shape != Shape::Steps || (position - low).fract() == 0.0;
        !(position.is_finite() && position.abs() < MOST_STEPS && is_whole)
    };
    match positions.iter().find(wrong) {
        Some(&value) => {
            let expected = match shape {
                Shape::Steps => "a whole number of steps, fewer than a million",
                _ => "a finite number below a million",
            };
            let what = format!("a position along '{axis}'");
            Err(InferenceError::Setting { what, value, expected: expected.into() })
        }
        None => Ok(()),
    }
}

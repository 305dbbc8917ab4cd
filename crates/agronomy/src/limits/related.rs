//! Limits that need more than one value.

use super::{Field, Level, Remark, check};
use crate::rounding::shown;

/// Remarks on the area that a yield is computed on, m2; it cannot exceed what was sown.
#[must_use]
pub fn check_yield_area(area_m2: f64, sown_m2: f64) -> Vec<Remark> {
    let mut remarks = check(Field::YieldArea, area_m2);
    // Room for lengths that were measured separately to the centimetre.
    if area_m2 > sown_m2 * (1.0 + 1e-9) {
        let sentence = format!(
            "The harvested area of {} m2 is larger than the sown area of {} m2.",
            shown(area_m2, 2),
            shown(sown_m2, 2)
        );
        remarks.push(Remark::new(Level::Refuse, sentence, "Check the harvested length, the rows and the row spacing."));
    }
    remarks
}

/// Remarks on a day's lowest and highest temperature, degC.
#[must_use]
pub fn check_temperatures(lowest: f64, highest: f64) -> Vec<Remark> {
    let mut remarks = check(Field::Temperature, lowest);
    remarks.extend(check(Field::Temperature, highest));
    if lowest > highest {
        let sentence =
            format!("The lowest temperature {} is above the highest {}.", shown(lowest, 1), shown(highest, 1));
        remarks.push(Remark::new(Level::Refuse, sentence, "Check whether the two columns were exchanged."));
    }
    remarks
}

/// Remarks on a span of days, as day numbers: it cannot end before it starts, and rarely exceeds 400 days.
#[must_use]
pub fn check_dates(start_day: i64, end_day: i64) -> Vec<Remark> {
    match end_day.saturating_sub(start_day) {
        days if days < 0 => {
            let sentence = format!("The end is {} days before the start.", days.unsigned_abs());
            vec![Remark::new(Level::Refuse, sentence, "Check the two dates and their years.")]
        }
        days if days > 400 => {
            vec![Remark::warn(format!("The two dates are {days} days apart."), "Check the years of the two dates.")]
        }
        _ => Vec::new(),
    }
}

/// Remarks on a fertiliser's analysis, % N, P2O5 and K2O: together at most 100.
#[must_use]
pub fn check_nutrient_sum(nitrogen: f64, phosphate: f64, potash: f64) -> Vec<Remark> {
    let parts = [nitrogen, phosphate, potash];
    if parts.iter().any(|part| !part.is_finite() || *part < 0.0) {
        let sentence = "A part of the analysis is not a number from 0 to 100.";
        return vec![Remark::new(Level::Refuse, sentence, "Enter the analysis as on the bag, such as 11-52-0.")];
    }
    let sum: f64 = parts.iter().sum();
    if sum > 100.0 {
        let sentence = format!("The analysis adds up to {} %.", shown(sum, 1));
        return vec![Remark::new(Level::Refuse, sentence, "N, P2O5 and K2O together are at most 100 %.")];
    }
    Vec::new()
}

/// Plots whose mass lies more than four robust standard deviations from the trial's median, with the remark for each.
///
/// - `masses`: one per plot, in one unit, finite
///
/// The robust standard deviation is 1.4826 times the median distance from the median. When it is zero (more than half
/// of the plots equal) nothing is said.
/// # Source
/// Handbook of plot arithmetic, 12; the factor makes the median distance estimate the standard deviation of a normal
/// distribution (1 / 0.674490, from memory; tested against the normal quantile).
#[must_use]
pub fn check_plot_masses(masses: &[f64]) -> Vec<(usize, Remark)> {
    let finite: Vec<f64> = masses.iter().copied().filter(|mass| mass.is_finite()).collect();
    let Some(centre) = median(&finite) else { return Vec::new() };
    let distances: Vec<f64> = finite.iter().map(|mass| (mass - centre).abs()).collect();
    let spread = 1.4826 * median(&distances).unwrap_or(0.0);
    if spread == 0.0 {
        return Vec::new();
    }
    let far = masses.iter().enumerate().filter(|(_, mass)| (**mass - centre).abs() > 4.0 * spread);
    far.map(|(plot, mass)| (plot, far_remark(*mass, centre, spread))).collect()
}

fn far_remark(mass: f64, centre: f64, spread: f64) -> Remark {
    let times = shown((mass - centre).abs() / spread, 1);
    let side = if mass < centre { "below" } else { "above" };
    let sentence = format!("The plot mass lies {times} robust standard deviations {side} the trial's median.");
    Remark::warn(
        sentence,
        "Look at the plot, its area and the scale before the value is used; keep it unless a cause is found.",
    )
}

fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    match sorted.len() {
        0 => None,
        count if count % 2 == 1 => Some(sorted[middle]),
        _ => Some(f64::midpoint(sorted[middle - 1], sorted[middle])),
    }
}

/// Remarks on scores against their declared scale: outside it is refused, all plots equal is doubted.
#[must_use]
pub fn check_scores(lowest: f64, highest: f64, scores: &[f64]) -> Vec<Remark> {
    let outside = scores.iter().filter(|score| !(lowest..=highest).contains(*score));
    let scale = format!("{} to {}", lowest + 0.0, highest + 0.0);
    let mut remarks: Vec<Remark> = outside
        .map(|score| {
            let sentence = format!("The score {score} is outside the scale {scale}.");
            Remark::new(
                Level::Refuse,
                sentence,
                "Enter a score of the scale; scores are never converted between scales.",
            )
        })
        .collect();
    if scores.len() > 1 && scores.iter().all(|score| *score == scores[0]) {
        let sentence = format!("All {} plots have the score {}.", scores.len(), scores[0]);
        remarks.push(Remark::warn(sentence, "Check that the plots were scored one by one."));
    }
    remarks
}

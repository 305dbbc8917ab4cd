//! Colours of charts: dark on white, told apart in grey and by colour-blind readers.

/// Text, axes that carry data, dots.
pub(super) const INK: &str = "#22262b";
/// Labels of axes and notes.
pub(super) const SOFT: &str = "#5b6168";
/// Thin rules and grid lines.
pub(super) const RULE: &str = "#d5d1c8";
/// The margin band and guards.
pub(super) const BAND: &str = "#ece8dd";
/// Edge of the margin band.
pub(super) const BAND_EDGE: &str = "#a29b8a";
/// The warm accent: only what needs a decision.
pub(super) const ACCENT: &str = "#a3431a";
/// Paper.
pub(super) const PAPER: &str = "#ffffff";

/// One line of an interaction chart: colour, dashes and marker differ together, so that grey is enough.
pub(super) struct Series {
    pub colour: &'static str,
    /// `stroke-dasharray`; empty for an unbroken line.
    pub dashes: &'static str,
    pub marker: Marker,
}

/// Shape of a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Marker {
    Disc,
    Square,
    Triangle,
    Ring,
    Diamond,
    Cross,
}

/// Okabe & Ito's colours (from memory), without yellow (too light on paper) and vermilion (near the accent).
const SERIES: [Series; 6] = [
    Series { colour: "#0072b2", dashes: "", marker: Marker::Disc },
    Series { colour: "#b87700", dashes: "7 3", marker: Marker::Square },
    Series { colour: "#00795a", dashes: "2 3", marker: Marker::Triangle },
    Series { colour: "#22262b", dashes: "9 3 2 3", marker: Marker::Ring },
    Series { colour: "#a8527f", dashes: "4 2", marker: Marker::Diamond },
    Series { colour: "#3d8fc4", dashes: "1 2", marker: Marker::Cross },
];

/// The style of line `index`; styles repeat after six.
pub(super) fn series(index: usize) -> &'static Series {
    &SERIES[index % SERIES.len()]
}

/// Pale fills for treatments in a map; the plots carry their treatment in words, so a repeat after eight is no loss.
const TINTS: [&str; 8] = ["#dbe9f4", "#fbe6bf", "#d2ebe1", "#f3dbe7", "#e4e0f2", "#e3ecc7", "#f7ddd0", "#dcdcdc"];

/// The fill of treatment `index`.
pub(super) fn tint(index: usize) -> &'static str {
    TINTS[index % TINTS.len()]
}

/// Fill for a share from 0 (lowest) to 1 (highest): pale sand to deep blue-green, even steps in grey.
pub(super) fn shade(share: f64) -> String {
    const LOW: [f64; 3] = [246.0, 240.0, 224.0];
    const HIGH: [f64; 3] = [24.0, 78.0, 96.0];
    let share = share.clamp(0.0, 1.0);
    let channel = |index: usize| (LOW[index] + (HIGH[index] - LOW[index]) * share).round() as u8;
    format!("#{:02x}{:02x}{:02x}", channel(0), channel(1), channel(2))
}

/// Fill for a residual from -1 (far below) over 0 (as fitted) to 1 (far above): brown, paper, blue; pale enough for ink on all
/// of it. Blue and orange-brown are told apart by colour-blind readers (Okabe & Ito, from memory); the sign has a mark too.
pub(super) fn above_below(share: f64) -> String {
    const BELOW: [f64; 3] = [214.0, 140.0, 60.0];
    const ABOVE: [f64; 3] = [86.0, 164.0, 214.0];
    let (end, share) = if share < 0.0 { (BELOW, (-share).min(1.0)) } else { (ABOVE, share.min(1.0)) };
    let channel = |index: usize| (255.0 + (end[index] - 255.0) * share).round() as u8;
    format!("#{:02x}{:02x}{:02x}", channel(0), channel(1), channel(2))
}

/// Text colour that reads on [`shade`]: black or white, whichever contrasts more; at the turn both reach 4.5 to 1.
pub(super) fn text_on_shade(share: f64) -> &'static str {
    if share > 0.71 { PAPER } else { "#000000" }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance of `#rrggbb`, WCAG 2 (formula from memory).
    fn luminance(colour: &str) -> f64 {
        let channel = |from: usize| {
            let value = u8::from_str_radix(&colour[from..from + 2], 16).expect("two hexadecimal digits");
            let value = f64::from(value) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    }

    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn text_reads_on_every_ground() {
        for step in 0..=100 {
            let share = f64::from(step) / 100.0;
            assert!(contrast(&shade(share), text_on_shade(share)) >= 4.5, "{share}");
        }
        for step in -100..=100 {
            assert!(contrast(&above_below(f64::from(step) / 100.0), INK) >= 4.5, "{step}");
        }
        for tint in TINTS.iter().chain(&[BAND, PAPER]) {
            assert!(contrast(tint, INK) >= 7.0, "{tint}");
            assert!(contrast(tint, ACCENT) >= 4.5 || *tint != PAPER);
        }
        for series in &SERIES {
            assert!(contrast(series.colour, PAPER) >= 3.0, "{}", series.colour);
        }
    }
}

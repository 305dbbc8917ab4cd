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

/// Text colour that reads on [`shade`].
pub(super) fn text_on_shade(share: f64) -> &'static str {
    if share > 0.5 { PAPER } else { INK }
}

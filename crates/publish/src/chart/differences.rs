//! Differences against the margin: thick bar 90 %, thin bar 95 %, the band of differences that do not matter, and the
//! verdict at the end of the row.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Axis;
use super::frame::{bottom_axis, notes, nothing_to_draw};
use super::palette::{ACCENT, BAND, BAND_EDGE, INK, PAPER, SOFT};
use super::scale::{Scale, drawable, extent};
use super::svg::{Anchor, Drawing, Ink, SMALL, Stroke, TEXT};
use crate::report::{Verdict, VerdictKind};
use crate::typeface::{Weight, shorten, text_width, wrap};

/// One difference, oriented so that positive means as claimed.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct Difference {
    /// What is compared: `early − late, sown thin`.
    pub label: String,
    /// The estimate.
    pub estimate: f64,
    /// Lower end of the 95 % interval.
    pub lower_95: f64,
    /// Upper end of the 95 % interval.
    pub upper_95: f64,
    /// Lower end of the 90 % interval.
    pub lower_90: f64,
    /// Upper end of the 90 % interval.
    pub upper_90: f64,
    /// Estimate and 95 % interval as printed: `+0.21 (0.05 to 0.37)`.
    pub text: String,
    /// The verdict.
    pub verdict: Verdict,
}

/// Differences against the margin.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct DifferencesChart {
    /// Names the chart.
    pub title: String,
    /// What it shows, for someone who cannot see it.
    #[serde(default)]
    pub description: String,
    /// The difference: `Difference in grain yield`, `t/ha`.
    pub axis: Axis,
    /// The margin, in the axis's unit; none when none was set.
    #[serde(default)]
    pub margin: Option<f64>,
    /// The margin as printed: `margin 0.15 t/ha`.
    #[serde(default)]
    pub margin_text: String,
    /// What a difference below zero means: `against the claim`.
    #[serde(default)]
    pub below_zero: String,
    /// What a difference above zero means: `as claimed`.
    #[serde(default)]
    pub above_zero: String,
    /// The differences.
    pub rows: Vec<Difference>,
    /// What the bars are: `Thick bar: 90 % interval; thin bar: 95 % interval`.
    pub interval_text: String,
}

const LINE: f64 = 15.0;
const HEAD: f64 = 40.0;

struct Columns {
    label_width: f64,
    verdict_width: f64,
    left: f64,
    right: f64,
    /// Labels and verdicts stand above the bar instead of beside it.
    stacked: bool,
    width: f64,
}

impl Columns {
    fn of(chart: &DifferencesChart, width: f64) -> Self {
        let widest = |size: f64, weight: Weight, text: &dyn Fn(&Difference) -> String| {
            chart.rows.iter().map(|row| text_width(&text(row), size, weight)).fold(0.0, f64::max)
        };
        if width < 400.0 {
            let room = width - 16.0;
            return Self {
                label_width: room,
                verdict_width: room,
                left: 16.0,
                right: width - 16.0,
                stacked: true,
                width,
            };
        }
        let label_width =
            widest(TEXT, Weight::Regular, &|row| row.label.clone())
                .max(widest(SMALL, Weight::Regular, &|row| row.text.clone()));
        let label_width = label_width.min(width * 0.30);
        let verdict_width = widest(TEXT, Weight::SemiBold, &|row| row.verdict.word.clone()).min(width * 0.20);
        let (left, right) = (label_width + 22.0, width - verdict_width - 24.0);
        Self { label_width, verdict_width, left, right, stacked: false, width }
    }

    fn label_lines(&self, row: &Difference) -> Vec<String> {
        wrap(&row.label, self.label_width, TEXT, Weight::Regular, 2)
    }

    fn verdict_lines(&self, row: &Difference) -> Vec<String> {
        wrap(&row.verdict.word, self.verdict_width, TEXT, Weight::SemiBold, 3)
    }

    fn text_lines(&self, row: &Difference) -> Vec<String> {
        wrap(&row.text, self.label_width, SMALL, Weight::Regular, 2)
    }

    fn height(&self, row: &Difference) -> f64 {
        let words = (self.label_lines(row).len() + self.text_lines(row).len()) as f64 * LINE;
        let verdict = self.verdict_lines(row).len() as f64 * LINE;
        if self.stacked { words + verdict + 30.0 } else { words.max(verdict).max(22.0) + 14.0 }
    }
}

/// Draws the chart.
pub(super) fn draw(chart: &DifferencesChart, width: f64) -> String {
    let margin = chart.margin.filter(|margin| drawable(*margin)).map(f64::abs);
    let ends = chart.rows.iter().flat_map(|row| [row.estimate, row.lower_95, row.upper_95, row.lower_90, row.upper_90]);
    if extent(ends.clone()).is_none() {
        return nothing_to_draw(width, &chart.title, &chart.description);
    }
    let wide_margin = margin.map_or([0.0, 0.0], |margin| [-margin * 1.25, margin * 1.25]);
    let range = extent(ends.chain(wide_margin)).unwrap_or((0.0, 0.0));
    let columns = Columns::of(chart, width);
    let scale = Scale::new(range, (columns.left, columns.right), if columns.stacked { 4 } else { 5 });
    let bottom = HEAD + chart.rows.iter().map(|row| columns.height(row)).sum::<f64>();

    let mut drawing = Drawing::new(width);
    draw_ground(&mut drawing, chart, margin, &scale, (width, bottom));
    let middle = (columns.left + columns.right) / 2.0;
    let below = bottom_axis(&mut drawing, &scale, (HEAD, bottom), &chart.axis.title(), middle);
    drawing.line((scale.px(0.0), HEAD - 4.0), (scale.px(0.0), bottom), Stroke::new("gr-zero", INK, 1.2));
    let mut top = HEAD;
    for row in &chart.rows {
        draw_row(&mut drawing, row, &columns, &scale, top);
        top += columns.height(row);
    }
    let band = if margin.is_some() { "Shaded: differences smaller than the margin." } else { "" };
    let below = notes(&mut drawing, (8.0, below), width - 16.0, &[&chart.interval_text, band]);
    drawing.finish(below + 6.0, &chart.title, &chart.description)
}

/// The margin band with its edges, and what either side of zero means.
fn draw_ground(
    drawing: &mut Drawing,
    chart: &DifferencesChart,
    margin: Option<f64>,
    scale: &Scale,
    (width, bottom): (f64, f64),
) {
    let zero = scale.px(0.0);
    let ink = Ink::LABEL.sized(SMALL).coloured(SOFT);
    if !chart.below_zero.is_empty() {
        let text = format!("← {}", chart.below_zero);
        let room = zero - 12.0;
        if text_width(&text, SMALL, Weight::Regular) <= room {
            drawing.text((zero - 8.0, 13.0), &text, ink.anchored(Anchor::End));
        } else {
            drawing.text((4.0, 13.0), &shorten(&text, room, SMALL, Weight::Regular), ink);
        }
    }
    if !chart.above_zero.is_empty() {
        let text = format!("{} →", chart.above_zero);
        drawing.text((zero + 8.0, 13.0), &shorten(&text, width - zero - 12.0, SMALL, Weight::Regular), ink);
    }
    if let Some(margin) = margin {
        let (from, to) = (scale.px(-margin), scale.px(margin));
        drawing.rect((from, HEAD), (to - from, bottom - HEAD), "gr-margin", BAND);
        for x in [from, to] {
            drawing.line((x, HEAD - 4.0), (x, bottom), Stroke::new("gr-margin-edge", BAND_EDGE, 1.0).dashed("4 3"));
        }
        drawing.text((to, HEAD - 9.0), &chart.margin_text, ink.anchored(Anchor::Middle));
    }
}

fn draw_row(drawing: &mut Drawing, row: &Difference, columns: &Columns, scale: &Scale, top: f64) {
    let height = columns.height(row);
    let (labels, texts, verdicts) = (columns.label_lines(row), columns.text_lines(row), columns.verdict_lines(row));
    let words = (labels.len() + texts.len()) as f64 * LINE;
    let (first, bar) = if columns.stacked {
        (top + 14.0, top + height - 13.0)
    } else {
        (top + (height - words) / 2.0 + 11.0, top + height / 2.0)
    };
    drawing.open(
        "gr-row",
        &[("data-label", &row.label)],
        &format!("{}: {}; {}", row.label, row.text, row.verdict.word),
    );
    if columns.stacked {
        // Words stand on paper, not on the margin band.
        drawing.rect((0.0, top), (columns.width, words + verdicts.len() as f64 * LINE + 4.0), "gr-paper", PAPER);
    }
    let mut y = first;
    for line in &labels {
        drawing.text((8.0, y), line, Ink::LABEL);
        y += LINE;
    }
    for line in &texts {
        drawing.text((8.0, y), line, Ink::LABEL.sized(SMALL).coloured(SOFT));
        y += LINE;
    }
    let (x, mut y) = if columns.stacked {
        (8.0, y)
    } else {
        (columns.width - columns.verdict_width - 8.0, bar + 4.5 - (verdicts.len() as f64 - 1.0) * LINE / 2.0)
    };
    for line in &verdicts {
        drawing.text((x, y), line, Ink::LABEL.bold().coloured(verdict_colour(row.verdict.kind)));
        y += LINE;
    }
    draw_bars(drawing, row, scale, bar);
    drawing.close();
}

fn draw_bars(drawing: &mut Drawing, row: &Difference, scale: &Scale, y: f64) {
    let mut bar = |(from, to): (f64, f64), height: f64| {
        if drawable(from) && drawable(to) {
            let (left, right) = (scale.px(from.min(to)), scale.px(from.max(to)));
            drawing.rect((left, y - height / 2.0), (right - left, height), "gr-interval", INK);
        }
    };
    bar((row.lower_95, row.upper_95), 1.8);
    bar((row.lower_90, row.upper_90), 7.0);
    if drawable(row.estimate) {
        drawing.disc((scale.px(row.estimate), y), 5.0, "gr-mark", PAPER, INK);
    }
}

/// A verdict that leaves the decision open wears the accent.
fn verdict_colour(kind: VerdictKind) -> &'static str {
    match kind {
        VerdictKind::Undecided | VerdictKind::NeverTested => ACCENT,
        _ => INK,
    }
}

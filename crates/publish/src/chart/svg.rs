//! Writes SVG: a handful of shapes, numbers to two decimals, text escaped.

use std::fmt::Write;

use super::palette::{ACCENT, INK, SOFT};
use crate::typeface::{SANS, Weight};

/// Size of ordinary chart text, px.
pub(super) const TEXT: f64 = 13.0;
/// Size of tick texts and notes, px.
pub(super) const SMALL: f64 = 11.5;

/// Where a text stands relative to its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// How a text looks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ink {
    pub size: f64,
    pub weight: Weight,
    pub colour: &'static str,
    pub anchor: Anchor,
}

impl Ink {
    pub const LABEL: Self = Self { size: TEXT, weight: Weight::Regular, colour: INK, anchor: Anchor::Start };
    pub const TICK: Self = Self { size: SMALL, weight: Weight::Regular, colour: SOFT, anchor: Anchor::Middle };

    pub fn anchored(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    pub fn bold(self) -> Self {
        Self { weight: Weight::SemiBold, ..self }
    }

    pub fn sized(self, size: f64) -> Self {
        Self { size, ..self }
    }

    pub fn coloured(self, colour: &'static str) -> Self {
        Self { colour, ..self }
    }
}

/// How a line looks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stroke<'a> {
    pub class: &'a str,
    pub colour: &'a str,
    pub width: f64,
    /// `stroke-dasharray`; empty for an unbroken line.
    pub dashes: &'a str,
}

impl<'a> Stroke<'a> {
    pub fn new(class: &'a str, colour: &'a str, width: f64) -> Self {
        Self { class, colour, width, dashes: "" }
    }

    pub fn dashed(self, dashes: &'a str) -> Self {
        Self { dashes, ..self }
    }
}

/// A drawing under way.
pub(super) struct Drawing {
    width: f64,
    body: String,
}

impl Drawing {
    /// An empty drawing of the given width; its height is told at the end.
    pub fn new(width: f64) -> Self {
        Self { width, body: String::new() }
    }

    pub fn width(&self) -> f64 {
        self.width
    }

    pub fn line(&mut self, (x1, y1): (f64, f64), (x2, y2): (f64, f64), stroke: Stroke<'_>) {
        let ends = format!(r#"x1="{}" y1="{}" x2="{}" y2="{}""#, num(x1), num(y1), num(x2), num(y2));
        self.stroked("line", &ends, stroke);
    }

    pub fn polyline(&mut self, points: &[(f64, f64)], stroke: Stroke<'_>) {
        let points: Vec<String> = points.iter().map(|&(x, y)| format!("{},{}", num(x), num(y))).collect();
        self.stroked("polyline", &format!(r#"fill="none" points="{}""#, points.join(" ")), stroke);
    }

    fn stroked(&mut self, element: &str, shape: &str, stroke: Stroke<'_>) {
        let Stroke { class, colour, width, dashes } = stroke;
        let dashes = if dashes.is_empty() { String::new() } else { format!(r#" stroke-dasharray="{dashes}""#) };
        let width = num(width);
        self.push(&format!(r#"<{element} class="{class}" {shape} stroke="{colour}" stroke-width="{width}"{dashes}/>"#));
    }

    pub fn rect(&mut self, (x, y): (f64, f64), (width, height): (f64, f64), class: &str, fill: &str) {
        let (x, y, width, height) = (num(x), num(y), num(width.max(0.0)), num(height.max(0.0)));
        self.push(&format!(
            r#"<rect class="{class}" x="{x}" y="{y}" width="{width}" height="{height}" fill="{fill}"/>"#
        ));
    }

    pub fn path(&mut self, shape: &str, class: &str, fill: &str) {
        self.push(&format!(r#"<path class="{class}" d="{shape}" fill="{fill}"/>"#));
    }

    pub fn disc(&mut self, (x, y): (f64, f64), radius: f64, class: &str, fill: &str, stroke: &str) {
        let (x, y, radius) = (num(x), num(y), num(radius));
        let circle =
            format!(r#"<circle class="{class}" cx="{x}" cy="{y}" r="{radius}" fill="{fill}" stroke="{stroke}" "#);
        self.push(&format!(r#"{circle}stroke-width="1.5"/>"#));
    }

    /// One line of text whose baseline is at `y`.
    pub fn text(&mut self, (x, y): (f64, f64), text: &str, ink: Ink) {
        self.placed_text(&format!(r#"x="{}" y="{}""#, num(x), num(y)), text, ink);
    }

    /// One line of text read from bottom to top, centred on the point.
    pub fn upward_text(&mut self, (x, y): (f64, f64), text: &str, ink: Ink) {
        self.placed_text(&format!(r#"transform="translate({} {}) rotate(-90)""#, num(x), num(y)), text, ink);
    }

    fn placed_text(&mut self, place: &str, text: &str, ink: Ink) {
        let anchor = match ink.anchor {
            Anchor::Start => "",
            Anchor::Middle => r#" text-anchor="middle""#,
            Anchor::End => r#" text-anchor="end""#,
        };
        let weight = if ink.weight == Weight::SemiBold { r#" font-weight="600""# } else { "" };
        let class = match ink.colour {
            INK => "gr-text",
            SOFT => "gr-soft",
            ACCENT => "gr-accent",
            _ => "gr-own",
        };
        let (size, colour, text) = (num(ink.size), ink.colour, escape(text));
        self.push(&format!(
            r#"<text class="{class}" {place} font-size="{size}" fill="{colour}"{anchor}{weight}>{text}</text>"#
        ));
    }

    /// Opens a group with a class, any data attributes (`data-plot`), and a title for pointers and screen readers.
    pub fn open(&mut self, class: &str, data: &[(&str, &str)], title: &str) {
        let mut group = format!(r#"<g class="{class}""#);
        for (name, value) in data {
            let _ = write!(group, r#" {name}="{}""#, escape(value));
        }
        group.push('>');
        if !title.is_empty() {
            let _ = write!(group, "<title>{}</title>", escape(title));
        }
        self.push(&group);
    }

    pub fn close(&mut self) {
        self.push("</g>");
    }

    fn push(&mut self, element: &str) {
        self.body.push_str(element);
        self.body.push('\n');
    }

    /// The finished drawing. `title` names it and `description` tells a screen reader what it shows.
    pub fn finish(self, height: f64, title: &str, description: &str) -> String {
        let (width, height) = (num(self.width), num(height));
        let (title, description) = (escape(title), escape(description));
        let size = format!(r#"viewBox="0 0 {width} {height}" width="{width}" height="{height}""#);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"gr-chart\" {size} role=\"img\" aria-label=\"{title}\" \
             font-family=\"'{SANS}', sans-serif\">\n<title>{title}</title>\n<desc>{description}</desc>\n{}</svg>\n",
            self.body
        )
    }
}

/// A coordinate: two decimals at most, never "-0".
pub(super) fn num(value: f64) -> String {
    let text = format!("{:.2}", value + 0.0);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_string() } else { text.to_string() }
}

/// Text for an element or an attribute; characters that XML cannot carry are dropped.
pub(super) fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\t' | '\n' | '\r' => escaped.push(' '),
            '\u{fffe}' | '\u{ffff}' => {}
            character if character.is_control() => {}
            character => escaped.push(character),
        }
    }
    escaped
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_are_short() {
        for (value, text) in [(1.0, "1"), (0.125, "0.12"), (-0.001, "0"), (-2.5, "-2.5"), (100.0, "100")] {
            assert_eq!(num(value), text);
        }
    }

    #[test]
    fn text_cannot_become_markup() {
        assert_eq!(escape("a<b & \"c\"\u{1}\n"), "a&lt;b &amp; &quot;c&quot; ");
    }
}

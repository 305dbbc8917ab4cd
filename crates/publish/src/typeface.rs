//! The embedded typefaces, and how wide a line of text is in them.

use std::sync::LazyLock;

use ttf_parser::Face;

macro_rules! face {
    ($file:literal) => {
        include_bytes!(concat!(env!("OUT_DIR"), "/fonts/", $file))
    };
}

/// The sans-serif family of text, tables and charts.
pub const SANS: &str = "Source Sans 3";
const SANS_REGULAR: &[u8] = face!("SourceSans3_400Regular.ttf");
const SANS_SEMI_BOLD: &[u8] = face!("SourceSans3_600SemiBold.ttf");

/// Every face that documents may use.
pub(crate) const FACES: [&[u8]; 6] = [
    SANS_REGULAR,
    face!("SourceSans3_400Regular_Italic.ttf"),
    SANS_SEMI_BOLD,
    face!("SourceSans3_700Bold.ttf"),
    face!("SourceSerif4_400Regular.ttf"),
    face!("SourceSerif4_600SemiBold.ttf"),
];

/// Weight of a line of text in a chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Weight {
    Regular,
    SemiBold,
}

/// Width of a glyph that the face does not have, in em: about that of the box drawn instead.
const MISSING_GLYPH_EM: f64 = 0.65;

/// Width of one line of text, in the unit of `size`, without kerning.
pub(crate) fn text_width(text: &str, size: f64, weight: Weight) -> f64 {
    static REGULAR: LazyLock<Option<Face<'static>>> = LazyLock::new(|| Face::parse(SANS_REGULAR, 0).ok());
    static SEMI_BOLD: LazyLock<Option<Face<'static>>> = LazyLock::new(|| Face::parse(SANS_SEMI_BOLD, 0).ok());
    let face = match weight {
        Weight::Regular => REGULAR.as_ref(),
        Weight::SemiBold => SEMI_BOLD.as_ref(),
    };
    text.chars()
        .map(|character| face.and_then(|face| advance(face, character)).unwrap_or(MISSING_GLYPH_EM))
        .sum::<f64>()
        * size
}

fn advance(face: &Face<'_>, character: char) -> Option<f64> {
    let glyph = face.glyph_index(character)?;
    Some(f64::from(face.glyph_hor_advance(glyph)?) / f64::from(face.units_per_em()))
}

/// The text cut to `width` with an ellipsis, or as it is when it fits.
pub(crate) fn shorten(text: &str, width: f64, size: f64, weight: Weight) -> String {
    if text_width(text, size, weight) <= width {
        return text.to_string();
    }
    let mut cut = String::new();
    let mut used = text_width("…", size, weight);
    for character in text.chars() {
        used += text_width(character.encode_utf8(&mut [0; 4]), size, weight);
        if used > width {
            break;
        }
        cut.push(character);
    }
    format!("{}…", cut.trim_end())
}

/// The text broken into at most `lines` lines of `width`, at spaces; what does not fit is cut with an ellipsis.
pub(crate) fn wrap(text: &str, width: f64, size: f64, weight: Weight, lines: usize) -> Vec<String> {
    let mut wrapped: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let longer = wrapped.last().map(|line| format!("{line} {word}"));
        match longer {
            Some(longer) if wrapped.len() >= lines || text_width(&longer, size, weight) <= width => {
                if let Some(last) = wrapped.last_mut() {
                    *last = longer;
                }
            }
            _ => wrapped.push(word.to_string()),
        }
    }
    wrapped.iter().map(|line| shorten(line, width, size, weight)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_add_up_and_scale() {
        let narrow = text_width("il", 12.0, Weight::Regular);
        let wide = text_width("MW", 12.0, Weight::Regular);
        assert!(narrow < wide);
        assert!((text_width("MW", 24.0, Weight::Regular) - 2.0 * wide).abs() < 1e-9);
        assert!(text_width("MW", 12.0, Weight::SemiBold) > wide);
    }

    #[test]
    fn cut_text_fits() {
        let cut = shorten("a treatment with a rather long label", 60.0, 12.0, Weight::Regular);
        assert!(cut.ends_with('…') && text_width(&cut, 12.0, Weight::Regular) <= 60.0);
        assert_eq!(shorten("short", 60.0, 12.0, Weight::Regular), "short");
        let lines = wrap("early May, 450 kernels per square metre, inoculated", 90.0, 12.0, Weight::Regular, 2);
        assert_eq!(lines.len(), 2);
        assert!(lines.iter().all(|line| text_width(line, 12.0, Weight::Regular) <= 90.0));
    }
}

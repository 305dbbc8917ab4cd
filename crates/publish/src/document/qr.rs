//! QR codes as drawings.

use std::fmt::Write;

use qrcode::{Color, EcLevel, QrCode};

/// The longest text that still makes a code which a phone reads off a 17 mm print, bytes.
const LONGEST: usize = 300;
/// Light modules around the code, as ISO/IEC 18004 asks (from memory).
const QUIET: usize = 4;

/// A QR code (error correction level M, quiet zone included) as SVG, one unit per module.
/// None if the text is longer than 300 bytes.
pub fn qr_svg(text: &str) -> Option<String> {
    if text.len() > LONGEST {
        return None;
    }
    let code = QrCode::with_error_correction_level(text, EcLevel::M).ok()?;
    let width = code.width();
    let side = width + 2 * QUIET;
    let mut dark = String::new();
    for (row, modules) in code.to_colors().chunks(width).enumerate() {
        let mut column = 0;
        while column < width {
            let run = modules[column..].iter().take_while(|module| **module == Color::Dark).count();
            if run > 0 {
                let _ = write!(dark, "M{} {}h{run}v1h-{run}z", column + QUIET, row + QUIET);
            }
            column += run.max(1);
        }
    }
    let shape = format!(r##"<rect width="{side}" height="{side}" fill="#fff"/><path d="{dark}" fill="#000"/>"##);
    let head =
        format!(r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" shape-rendering="crispEdges">"#);
    Some(format!("{head}{shape}</svg>"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_drawn_or_refused() {
        let svg = qr_svg("L31-04/2/101/1").expect("a short text fits");
        // 14 characters in byte mode at level M need version 1: 21 modules and twice 4 quiet ones.
        assert!(svg.contains(r#"viewBox="0 0 29 29""#), "{svg}");
        assert_eq!(qr_svg(&"x".repeat(301)), None);
    }
}

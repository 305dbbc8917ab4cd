//! Text that goes into cells and names of worksheets.

use rust_xlsxwriter::Format;

/// The longest text of a cell; the format allows 32 767.
const LONGEST: usize = 32_000;

/// The first `letters` characters.
pub(super) fn cut(text: &str, letters: usize) -> String {
    text.chars().take(letters).collect()
}

/// A text for a cell, of a length that the format allows.
pub(super) fn cell_text(text: &str) -> String {
    // The format counts UTF-16 units; no character takes more than two.
    if text.len() < LONGEST { text.to_string() } else { cut(text, LONGEST / 2) }
}

/// The format for a text: what a spreadsheet would take for a formula when the cell is edited is marked as text. The
/// value itself stays as it was, so that reading back is exact.
pub(super) fn safe_format(text: &str, format: &Format) -> Format {
    let looks_like_formula =
        text.trim_start().starts_with(['=', '+', '-', '@']) || text.starts_with(['\t', '\r', '\n']);
    if looks_like_formula { format.clone().set_quote_prefix() } else { format.clone() }
}

/// Names of worksheets for events: allowed characters, at most 31, all different.
pub(super) fn sheet_names<'a>(events: impl Iterator<Item = &'a str>) -> Vec<String> {
    let mut taken: Vec<String> = [super::METADATA_SHEET, super::LISTS_SHEET, "history"].map(String::from).to_vec();
    events
        .map(|event| {
            let name = free_name(&plain_name(event), &taken);
            taken.push(name.to_lowercase());
            name
        })
        .collect()
}

fn plain_name(event: &str) -> String {
    let plain: String = event
        .chars()
        .map(|character| if "[]:*?/\\".contains(character) || character.is_control() { ' ' } else { character })
        .collect();
    let words: Vec<&str> = plain.split_whitespace().collect();
    let joined = words.join(" ");
    let name = fit(joined.trim_matches('\''), 31);
    if name.is_empty() { "event".to_string() } else { name }
}

/// The start of the text that takes at most `units` UTF-16 units, which is how the format counts.
fn fit(text: &str, units: usize) -> String {
    let mut used = 0;
    let fitting = text.chars().take_while(|character| {
        used += character.len_utf16();
        used <= units
    });
    fitting.collect::<String>().trim().trim_matches('\'').to_string()
}

fn free_name(name: &str, taken: &[String]) -> String {
    let is_free = |name: &str| !taken.contains(&name.to_lowercase());
    if is_free(name) {
        return name.to_string();
    }
    (2..).map(|number| format!("{} {number}", fit(name, 26))).find(|name| is_free(name)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_allowed_and_different() {
        let events = ["Stand: 21 d / early?", "stand 21 d early", "guardrow", "", "'quoted'", &"long ".repeat(20)];
        let names = sheet_names(events.into_iter());
        assert_eq!(names[..5], ["Stand 21 d early", "stand 21 d early 2", "guardrow 2", "event", "quoted"]);
        assert!(names[5].chars().count() <= 31);
    }
}

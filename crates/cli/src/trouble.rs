//! Trouble on standard error: what, where, what to try, and a line for each row or field.

use std::fmt::Write as _;

use guardrow_station::{ErrorKind, Remark, StationError, Weight};

/// Tells of trouble on standard error.
pub(crate) fn tell(trouble: &StationError, as_json: bool) {
    if as_json {
        eprintln!("{}", json(trouble));
    } else {
        eprint!("{}", words(trouble));
    }
}

/// The trouble as one JSON object under `error`, with its exit code.
fn json(trouble: &StationError) -> String {
    let code = crate::exit::code(trouble.kind);
    serde_json::json!({ "error": trouble, "exit_code": code }).to_string()
}

/// The trouble in words, a line for each part.
fn words(trouble: &StationError) -> String {
    let mut text = format!("Trouble: {}\n", as_sentence(&trouble.what));
    if !trouble.place.is_empty() {
        let _ = writeln!(text, "  where: {}", trouble.place);
    }
    if !trouble.try_this.is_empty() {
        let _ = writeln!(text, "  try:   {}", as_sentence(&trouble.try_this));
    }
    for remark in &trouble.remarks {
        text.push_str(&remark_lines(remark));
    }
    text
}

/// A remark in two or three lines.
pub(crate) fn remark_lines(remark: &Remark) -> String {
    let mut text = format!("  - {}: {}\n", word(remark.weight), as_sentence(&remark.what));
    if !remark.place.is_empty() {
        let _ = writeln!(text, "      where: {}", remark.place);
    }
    if !remark.try_this.is_empty() {
        let _ = writeln!(text, "      try:   {}", as_sentence(&remark.try_this));
    }
    text
}

fn word(weight: Weight) -> &'static str {
    match weight {
        Weight::Note => "note",
        Weight::Warn => "look at this",
        Weight::Refuse => "refused",
    }
}

/// With a full stop, unless the text ends with a mark of its own.
fn as_sentence(text: &str) -> String {
    let text = text.trim_end();
    if text.ends_with(['.', '?', '!', ':']) { text.to_owned() } else { format!("{text}.") }
}

/// A fault of the program itself.
pub(crate) fn fault(what: impl Into<String>) -> StationError {
    StationError::new(ErrorKind::Internal, what, "", "report this with the command that was given")
}

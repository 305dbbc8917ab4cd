//! Names and texts that people chose, made safe for R.
//!
//! A name that stands in the code of a script is made of plain letters, digits and `_`; any other text stands between quotes with
//! everything escaped that could end it. So no text of a plan can become code.

/// Words that mean something in R or in the script itself.
const TAKEN: [&str; 32] = [
    "if",
    "else",
    "repeat",
    "while",
    "function",
    "for",
    "next",
    "break",
    "TRUE",
    "FALSE",
    "NULL",
    "Inf",
    "NaN",
    "NA",
    "in",
    "T",
    "F",
    "plot_number",
    "treatment",
    "cell",
    "cells",
    "kind",
    "number",
    "plots",
    "in_sample",
    "trial",
    "d",
    "y",
    "data",
    "Within",
    "Residuals",
    "measure",
];

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    Unit,
    Factor,
    Measure,
}

/// The columns of the table of plots by what they hold.
#[derive(Debug, Default)]
pub(super) struct Columns {
    known: Vec<(Role, String, String)>,
}

impl Columns {
    /// Gives a thing its column; the same thing gets the same one.
    pub(super) fn give(&mut self, role: Role, name: &str) -> String {
        if let Some((_, _, column)) = self.known.iter().find(|(of, it, _)| *of == role && it == name) {
            return column.clone();
        }
        let plain = plain_name(name, role);
        let is_free = |column: &String| {
            !TAKEN.contains(&column.as_str()) && self.known.iter().all(|(_, _, it)| !it.eq_ignore_ascii_case(column))
        };
        let numbered = (2..).map(|number| format!("{plain}_{number}"));
        let column = std::iter::once(plain.clone()).chain(numbered).find(is_free).expect("numbers do not end");
        self.known.push((role, name.to_owned(), column.clone()));
        column
    }

    /// The column that a thing was given.
    pub(super) fn of(&self, role: Role, name: &str) -> Option<&str> {
        self.known.iter().find(|(of, it, _)| *of == role && it == name).map(|(_, _, column)| column.as_str())
    }

    /// The column of a unit or, failing that, a factor: what the labels of a random term name.
    pub(super) fn of_label(&self, name: &str) -> Option<(Role, &str)> {
        [Role::Unit, Role::Factor].into_iter().find_map(|role| Some((role, self.of(role, name)?)))
    }
}

fn plain_name(name: &str, role: Role) -> String {
    let mut plain = String::new();
    for sign in name.trim().chars() {
        match sign {
            sign if sign.is_ascii_alphanumeric() => plain.push(sign),
            _ if plain.ends_with('_') || plain.is_empty() => {}
            _ => plain.push('_'),
        }
    }
    let plain = plain.trim_end_matches('_');
    let first = match role {
        Role::Unit => "unit",
        Role::Factor => "factor",
        Role::Measure => "measure",
    };
    match plain.chars().next() {
        None => first.to_owned(),
        Some(sign) if sign.is_ascii_digit() => format!("{first}_{plain}"),
        Some(_) => plain.to_owned(),
    }
}

/// A text with signs that no line can hold (line ends, tabs and their like) as blanks.
pub(super) fn one_line(text: &str) -> String {
    text.chars()
        .map(|sign| if sign.is_control() || matches!(sign, '\u{2028}' | '\u{2029}') { ' ' } else { sign })
        .collect()
}

/// A text as R writes one, in plain signs only, so that it means the same in every locale.
pub(super) fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for sign in one_line(text).chars() {
        match sign {
            '"' => quoted.push_str("\\\""),
            '\\' => quoted.push_str("\\\\"),
            sign if sign.is_ascii() => quoted.push(sign),
            sign if (sign as u32) <= 0xffff => quoted.push_str(&format!("\\u{:04x}", sign as u32)),
            sign => quoted.push_str(&format!("\\U{:08x}", sign as u32)),
        }
    }
    quoted.push('"');
    quoted
}

/// `c(...)` of texts, broken into lines.
pub(super) fn texts<'a>(values: impl IntoIterator<Item = &'a str>) -> String {
    vector(values.into_iter().map(quoted))
}

/// `c(...)` of anything that is written already, broken into lines.
pub(super) fn vector(values: impl IntoIterator<Item = String>) -> String {
    let mut text = String::from("c(");
    let mut width = text.len();
    for (at, value) in values.into_iter().enumerate() {
        let separator = if at == 0 { "" } else { ", " };
        if width + separator.len() + value.len() > 96 && at > 0 {
            text.push_str(",\n    ");
            width = 4;
        } else {
            text.push_str(separator);
            width += separator.len();
        }
        width += value.len();
        text.push_str(&value);
    }
    text.push(')');
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_cannot_leave_their_quotes() {
        assert_eq!(quoted(r#"a"); system("rm") #"#), r#""a\"); system(\"rm\") #""#);
        assert_eq!(quoted(r"back\slash\"), r#""back\\slash\\""#);
        assert_eq!(quoted("two\nlines\r\u{2028}\0"), "\"two lines   \"");
        assert_eq!(quoted("Rübe 🌱"), "\"R\\u00fcbe \\U0001f331\"");
    }

    #[test]
    fn columns_are_plain_names_and_told_apart() {
        let mut columns = Columns::default();
        assert_eq!(columns.give(Role::Unit, "main plot"), "main_plot");
        assert_eq!(columns.give(Role::Factor, "main plot"), "main_plot_2");
        assert_eq!(columns.give(Role::Factor, "Main-Plot"), "Main_Plot_3");
        assert_eq!(columns.give(Role::Unit, "main plot"), "main_plot");
        assert_eq!(columns.give(Role::Factor, "if"), "if_2");
        assert_eq!(columns.give(Role::Factor, "2,4-D `q()`"), "factor_2_4_D_q");
        assert_eq!(columns.give(Role::Measure, "Σ"), "measure_2");
        assert_eq!(columns.of(Role::Factor, "if"), Some("if_2"));
    }
}

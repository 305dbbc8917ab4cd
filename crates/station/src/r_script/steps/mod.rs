//! The steps of a section, one file each, and the text that they write to.

pub(super) mod aov;
pub(super) mod back;
pub(super) mod comparisons;
pub(super) mod curves;
pub(super) mod mixed;
pub(super) mod tables;

use guardrow_inference::{Analysis, MeanCell, TermTest};

use super::expected::OfMeasure;
use super::names::{one_line, quoted};

/// Part of the numbers whose digits are limited by rounding alone.
pub(super) const BY_STRATA: &str = "rounding";
/// Part of the numbers whose digits are limited by the search for the variances.
pub(super) const BY_MODEL: &str = "search";

/// Collects the lines of a section and Guardrow's numbers beside them.
pub(super) struct Steps<'a> {
    pub numbers: OfMeasure<'a>,
    pub analysis: &'a Analysis,
    text: String,
}

impl<'a> Steps<'a> {
    pub(super) fn new(numbers: OfMeasure<'a>, analysis: &'a Analysis) -> Self {
        Self { numbers, analysis, text: String::new() }
    }

    pub(super) fn text(&self) -> &str {
        &self.text
    }

    /// One line of code, which holds no text of a person but what was quoted or given a plain name.
    pub(super) fn line(&mut self, code: &str) {
        for line in code.lines() {
            self.text.push_str("  ");
            self.text.push_str(line);
            self.text.push('\n');
        }
    }

    pub(super) fn blank(&mut self) {
        self.text.push('\n');
    }

    /// A remark in plain words, broken into lines of which each is a comment.
    pub(super) fn comment(&mut self, words: &str) {
        let mut line = String::from("#");
        for word in one_line(words).split_whitespace() {
            if line.chars().count() + word.chars().count() > 110 {
                self.line(&line);
                line = String::from("#");
            }
            line.push(' ');
            line.push_str(word);
        }
        self.line(&line);
    }

    pub(super) fn title(&mut self, words: &str) {
        let words = one_line(words);
        let rule = "=".repeat(100_usize.saturating_sub(words.chars().count()));
        self.line(&format!("# ==== {words} {rule}"));
    }

    /// A line that compares one kind of number.
    pub(super) fn compare(&mut self, part: &str, of: &str, number: &str, here: &str, allowed: &str, scale: &str) {
        let of = quoted(of);
        self.line(&format!("compare(measure, {}, {of}, {}, {here}, {allowed}, {scale})", quoted(part), quoted(number)));
    }

    /// Guardrow's tests of terms, each to be compared with an expression that gives the same.
    pub(super) fn compare_test(&mut self, part: &'static str, test: &TermTest, here: &str, allowed: &str) {
        let of = test.label.as_str();
        self.numbers.one(part, of, "numerator df", Some(test.num_df));
        self.numbers.one(part, of, "denominator df", Some(test.den_df));
        self.numbers.one(part, of, "F", Some(test.f));
        self.numbers.one(part, of, "p", Some(test.p));
        self.line(&format!("compare_test(measure, {}, {}, {here}, {allowed})", quoted(part), quoted(of)));
    }

    /// Guardrow's means, to be compared with a table of estimates.
    pub(super) fn compare_means(
        &mut self,
        part: &'static str,
        of: &str,
        cells: &[MeanCell],
        here: &str,
        allowed: &str,
    ) {
        let label = |cell: &MeanCell| cell.label.clone();
        self.numbers.add(part, of, "estimate", cells.iter().map(|cell| (label(cell), Some(cell.mean))));
        self.numbers.add(part, of, "SE", cells.iter().map(|cell| (label(cell), cell.se)));
        self.numbers.add(part, of, "df", cells.iter().map(|cell| (label(cell), cell.df)));
        self.numbers.add(part, of, "lower", cells.iter().map(|cell| (label(cell), cell.lower)));
        self.numbers.add(part, of, "upper", cells.iter().map(|cell| (label(cell), cell.upper)));
        self.line(&format!("compare_estimates(measure, {}, {}, {here}, {allowed})", quoted(part), quoted(of)));
    }
}

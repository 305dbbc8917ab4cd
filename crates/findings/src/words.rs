//! The words of verdicts: what each is called, and what a text about it may not say.

use crate::Verdict;

/// What every text about a claim carries when equivalence was out of reach.
pub const NOT_REACHABLE: &str = "this trial could not have shown that there is no difference";

/// How a sentence ends when a rival explanation moved too.
pub const NOT_SEPARATED: &str = "cause not fully separated";

impl Verdict {
    /// The verdict in the words of tables and lists; `first` and `second` are the options compared.
    pub fn word(self, first: &str, second: &str) -> String {
        match self {
            Verdict::Supported => "supported".into(),
            Verdict::Contradicted => "contradicted".into(),
            Verdict::FirstBetter => format!("{first} better"),
            Verdict::SecondBetter => format!("{second} better"),
            Verdict::NoDifferenceThatMatters => "no difference that matters".into(),
            Verdict::Undecided => "undecided".into(),
            Verdict::NeverTested => "never tested".into(),
        }
    }

    /// Words that a text which tells this verdict may not use, in lower case.
    ///
    /// The sentence [`NOT_REACHABLE`] is not meant: it is carried by any verdict.
    pub fn may_not_say(self) -> &'static [&'static str] {
        match self {
            Verdict::Supported | Verdict::FirstBetter | Verdict::SecondBetter => &["proved", "always", "optimum"],
            Verdict::NoDifferenceThatMatters => &["the same", "no effect"],
            Verdict::Contradicted => &[],
            Verdict::Undecided => &["no difference", "not significant", "tended to"],
            Verdict::NeverTested => &[
                "raised",
                "lowered",
                "did not raise",
                "did not lower",
                "was better",
                "no difference",
                "cannot tell",
                "supported",
                "contradicted",
                "undecided",
            ],
        }
    }
}

/// Words that say or imply equality, which no text may use when equivalence was out of reach, in lower case.
pub const EQUALITY: &[&str] = &["the same", "no effect", "equal", "identical", "no difference", "made no difference"];

/// Persons whose names scales and methods carry, and names of that kind: they keep their capital. From memory.
const KEEP_THEIR_CAPITAL: &[&str] = &["brix", "dumas", "feekes", "hagberg", "haun", "kjeldahl", "zadoks", "zeleny"];

/// A name or sentence as it stands within another sentence: `Yield` becomes `yield`.
///
/// A single letter (`N uptake`) other than the article, a word with further capitals or digits (`NDVI`, `PhD`, `C3`) and the names of scales stay
/// as they are.
pub fn mid_sentence(text: &str) -> String {
    let word: String = text.chars().take_while(|sign| sign.is_alphanumeric()).collect();
    let mut signs = word.chars();
    let first = signs.next().filter(|first| first.is_uppercase());
    // A single capital is a symbol, as in `N uptake`, unless it is the article.
    let plain = signs.clone().count() > 0 && signs.all(char::is_lowercase) || word == "A";
    match first {
        Some(first) if plain && !KEEP_THEIR_CAPITAL.contains(&word.to_lowercase().as_str()) => {
            first.to_lowercase().chain(text.chars().skip(1)).collect()
        }
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_within_a_sentence_loses_only_the_capital_of_its_place() {
        for (text, expected) in [
            ("Yield", "yield"),
            ("Pods per plant", "pods per plant"),
            ("The deeper opener", "the deeper opener"),
            ("Überstand", "überstand"),
            ("pH of the soil", "pH of the soil"),
            ("NDVI at flowering", "NDVI at flowering"),
            ("N uptake", "N uptake"),
            ("A weed", "a weed"),
            ("Zadoks stage", "Zadoks stage"),
            ("C3 grasses", "C3 grasses"),
            ("", ""),
        ] {
            assert_eq!(mid_sentence(text), expected);
        }
    }
}

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

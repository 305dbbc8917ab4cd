//! What is true in the invented data: the effects that the generator was given, for checking the findings against.

use crate::{faba_bean, oat};

/// One claim of a trial with the true difference behind its data.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrueEffect {
    /// Code of the trial.
    pub trial: &'static str,
    /// Place of the claim in the question, from 0.
    pub claim: usize,
    /// The true difference, first option minus second, in the measure's unit.
    pub difference: f64,
    /// The margin in the same unit.
    pub margin: f64,
    /// The verdict word that must come out, where the truth is so plain that the trial hardly misses it.
    pub plain: Option<&'static str>,
}

/// Every claim of the finished trials.
pub fn effects() -> Vec<TrueEffect> {
    vec![
        TrueEffect {
            trial: "25-FB1",
            claim: 0,
            difference: faba_bean::DEEP_YIELD,
            margin: 0.25,
            plain: Some("supported"),
        },
        TrueEffect {
            trial: "25-FB1",
            claim: 1,
            difference: faba_bean::GRADE_YIELD[2] - faba_bean::GRADE_YIELD[0],
            // 84 EUR/ha over 0.26 EUR/kg, by hand: 323 kg/ha.
            margin: 0.3231,
            plain: None,
        },
        TrueEffect {
            trial: "25-OA1",
            claim: 0,
            difference: oat::YIELD[oat::MINERAL] - oat::YIELD[oat::NONE],
            // 96 EUR/ha over 0.19 EUR/kg, by hand: 505 kg/ha.
            margin: 0.5053,
            plain: Some("supported"),
        },
        TrueEffect {
            trial: "25-OA1",
            claim: 1,
            difference: oat::YIELD[oat::PELLETS] - oat::YIELD[oat::MINERAL],
            margin: 0.3,
            plain: Some("no difference that matters"),
        },
        TrueEffect {
            trial: "25-OA1",
            claim: 2,
            difference: oat::YIELD[oat::COMPOST] - oat::YIELD[oat::MINERAL],
            margin: 0.3,
            plain: None,
        },
    ]
}

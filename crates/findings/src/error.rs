//! What can be wrong with a question or an estimate: each error names what was found, and `help` says what to do.

/// Why a claim, link or rival cannot be judged as it stands.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FindingError {
    /// An estimate cannot carry an interval.
    #[error(
        "the difference {estimate} with standard error {se} on {df} degrees of freedom cannot be given an interval"
    )]
    NoInterval {
        /// The difference.
        estimate: f64,
        /// Its standard error.
        se: f64,
        /// Its degrees of freedom.
        df: f64,
    },
    /// A margin is zero, negative or not a number.
    #[error("the smallest difference that matters, {words}, is not above zero")]
    MarginNotPositive {
        /// Where in the question.
        place: String,
        /// The margin as it was given.
        words: String,
    },
    /// A margin is in another dimension than its measure.
    #[error("{words} cannot be told in {unit}, the unit of {measure}")]
    MarginOtherDimension {
        /// Where in the question.
        place: String,
        /// The margin as it was given.
        words: String,
        /// The measure's unit.
        unit: String,
        /// The measure's name.
        measure: String,
    },
    /// A margin from money whose cost is not money per area, or whose price is not money per mass, or in two currencies.
    #[error("{words} is not a cost per area over a price per mass in one currency ({why})")]
    MarginNotFromMoney {
        /// Where in the question.
        place: String,
        /// Cost and price as they were given.
        words: String,
        /// What does not fit.
        why: String,
    },
    /// A side of a comparison names nothing.
    #[error("a side of the comparison names nothing")]
    SideEmpty {
        /// Where in the question.
        place: String,
    },
    /// A side of a comparison names a factor that the trial does not have.
    #[error("the trial has no factor `{name}`{}", near(.suggestion))]
    UnknownFactor {
        /// Where in the question.
        place: String,
        /// The name that was given.
        name: String,
        /// The nearest name that the trial has.
        suggestion: Option<String>,
        /// All factors.
        known: Vec<String>,
    },
    /// A side of a comparison names a level that its factor does not have.
    #[error("factor `{factor}` has no level `{name}`{}", near(.suggestion))]
    UnknownLevel {
        /// Where in the question.
        place: String,
        /// The factor.
        factor: String,
        /// The label that was given.
        name: String,
        /// The nearest label that the factor has.
        suggestion: Option<String>,
        /// All levels of the factor.
        known: Vec<String>,
    },
    /// A side of a comparison names a treatment or control that the trial does not have.
    #[error("the trial has no treatment or control `{name}`{}", near(.suggestion))]
    UnknownTreatment {
        /// Where in the question.
        place: String,
        /// The label that was given.
        name: String,
        /// The nearest label that the trial has.
        suggestion: Option<String>,
        /// The factor that has a level of that label, when one does.
        level_of: Option<String>,
    },
    /// Both sides of a comparison are the same.
    #[error("both sides of the comparison are `{name}`")]
    SidesAlike {
        /// Where in the question.
        place: String,
        /// What both sides name.
        name: String,
    },
    /// The sides of a comparison are levels of two factors.
    #[error("a level of `{first}` is compared with a level of `{second}`")]
    SidesOfTwoFactors {
        /// Where in the question.
        place: String,
        /// Factor of the first side.
        first: String,
        /// Factor of the second side.
        second: String,
    },
    /// The plots at hand cannot tell a difference.
    #[error("the plots cannot tell {what}: {why}")]
    NotEstimable {
        /// The difference in words.
        what: String,
        /// Why, as the analysis says.
        why: String,
    },
}

fn near(suggestion: &Option<String>) -> String {
    suggestion.as_ref().map(|name| format!("; did you mean `{name}`?")).unwrap_or_default()
}

impl FindingError {
    /// Where in the question it is wrong (`question.claims[0].margin`); `None` when the results are the trouble.
    pub fn place(&self) -> Option<&str> {
        match self {
            FindingError::NoInterval { .. } | FindingError::NotEstimable { .. } => None,
            FindingError::MarginNotPositive { place, .. }
            | FindingError::MarginOtherDimension { place, .. }
            | FindingError::MarginNotFromMoney { place, .. }
            | FindingError::SideEmpty { place }
            | FindingError::UnknownFactor { place, .. }
            | FindingError::UnknownLevel { place, .. }
            | FindingError::UnknownTreatment { place, .. }
            | FindingError::SidesAlike { place, .. }
            | FindingError::SidesOfTwoFactors { place, .. } => Some(place),
        }
    }

    /// What to do about it, in one sentence.
    pub fn help(&self) -> String {
        match self {
            FindingError::NoInterval { .. } => {
                "at least one error degree of freedom is needed: more plots with a value".into()
            }
            FindingError::MarginNotPositive { .. } => {
                "give the smallest difference worth acting on, as an amount above zero with its unit".into()
            }
            FindingError::MarginOtherDimension { unit, .. } => format!("give it in {unit} or a unit of the same kind"),
            FindingError::MarginNotFromMoney { .. } => {
                "give the added cost like `45 EUR/ha` and the net price like `0.21 EUR/kg`".into()
            }
            FindingError::SideEmpty { .. } => {
                "name a factor and its level, or the label of a treatment or control".into()
            }
            FindingError::UnknownFactor { known, .. } if known.is_empty() => {
                "leave the factor out and name a treatment or control by its label".into()
            }
            FindingError::UnknownFactor { known, .. } => format!("name one of: {}", known.join("; ")),
            FindingError::UnknownLevel { known, .. } => format!("name one of: {}", known.join("; ")),
            FindingError::UnknownTreatment { level_of: Some(factor), .. } => {
                format!("it is a level of `{factor}`: name that factor beside it")
            }
            FindingError::UnknownTreatment { .. } => {
                "name a treatment as its label stands in the plan (levels joined by `, `), or a factor and its level"
                    .into()
            }
            FindingError::SidesAlike { .. } => "compare two different levels, treatments or controls".into(),
            FindingError::SidesOfTwoFactors { .. } => {
                "compare two levels of one factor, or name two treatments by their labels".into()
            }
            FindingError::NotEstimable { .. } => "look at which plots have no value for this measure".into(),
        }
    }
}

//! What a reader of the result must know although the analysis succeeded.

use serde::{Deserialize, Serialize};

/// Something about the data or the fit that changes how the result may be read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Notice {
    /// Plots without a value.
    MissingPlots {
        /// How many.
        plots: usize,
    },
    /// A treatment without any value.
    TreatmentWithoutValues {
        /// Its label.
        treatment: String,
    },
    /// Every plot of a larger unit is missing.
    UnitLost {
        /// The stratum of the unit.
        stratum: String,
        /// How many of its units have no value at all.
        units: usize,
    },
    /// The layout (as observed) is not orthogonal, so the mixed model leads.
    NotOrthogonal,
    /// Treatments have unequal numbers of plots: each term is tested with all others present; sums of squares do not add up.
    UnequalReplication,
    /// There is only one unit, so it adds nothing to compare.
    OneUnit {
        /// The stratum.
        stratum: String,
    },
    /// The units of a stratum are the same as those of another.
    SameUnits {
        /// The stratum that was left out.
        stratum: String,
    },
    /// A term is compared only between larger units, although the effects that make it up are compared within them.
    Confounded {
        /// The term.
        term: String,
        /// The stratum in which it is estimated.
        stratum: String,
        /// The stratum in which it cannot be estimated.
        within: String,
    },
    /// The comparisons of a term are divided over strata, each with its own error.
    SplitOverStrata {
        /// The term.
        term: String,
        /// The strata.
        strata: Vec<String>,
    },
    /// Nothing is left for error in a stratum in which a term is compared.
    NoErrorDegreesOfFreedom {
        /// The stratum.
        stratum: String,
    },
    /// Fewer than 12 degrees of freedom for an error that tests a term.
    FewErrorDegreesOfFreedom {
        /// The stratum.
        stratum: String,
        /// Its degrees of freedom for error.
        df: f64,
    },
    /// A variance estimate from the mean squares is negative; the strata tests do not need it.
    NegativeVariance {
        /// The stratum.
        stratum: String,
    },
    /// A variance component is held at zero in the mixed model.
    VarianceAtZero {
        /// The stratum.
        stratum: String,
    },
    /// A variance component cannot be told apart from the treatments or from another component.
    VarianceNotSeparable {
        /// The stratum.
        stratum: String,
    },
    /// A mean that cannot be estimated because a combination in it has no values.
    MeanNotEstimable {
        /// The table.
        table: String,
        /// The cell.
        cell: String,
    },
    /// A term that can be tested in part only, because combinations have no values.
    TestedInPart {
        /// The term.
        term: String,
        /// Degrees of freedom that could be tested.
        df: f64,
        /// Degrees of freedom of the full term.
        full_df: f64,
    },
    /// A term that cannot be tested at all.
    NotTestable {
        /// The term.
        term: String,
    },
    /// Only one place or season was met, so nothing can be said of others like it.
    OneEnvironment {
        /// The kind of place or season.
        unit: String,
    },
    /// Places or seasons were not drawn by lot; what their own differences are judged by.
    EnvironmentsNotDrawn {
        /// The term.
        term: String,
        /// The units within them that give the error.
        within: String,
        /// Whether these units are blocks, so that places were each repeated as a whole.
        has_blocks: bool,
    },
    /// A random interaction (or sample) has the same classes as units of the ground, whose variance then holds it.
    InteractionIsUnits {
        /// The term.
        term: String,
        /// The units.
        stratum: String,
    },
    /// A test's error is a sum of mean squares, so that F and its degrees of freedom are approximate.
    ErrorIsSum {
        /// The stratum without an error of its own.
        stratum: String,
        /// The sum.
        from: String,
    },
    /// Plots without a value of a covariate.
    CovariateMissing {
        /// The covariate.
        covariate: String,
        /// How many plots have a response but not the covariate.
        plots: usize,
    },
    /// The covariate itself differs between treatments.
    CovariateAffected {
        /// The covariate.
        covariate: String,
        /// The term by which it differs most clearly.
        term: String,
        /// Its p.
        p: f64,
    },
    /// The slope on the covariate differs between treatments.
    SlopesDiffer {
        /// The covariate.
        covariate: String,
        /// The p of all slopes being the same.
        p: f64,
    },
    /// Some treatments are never compared within the same unit.
    Disconnected {
        /// The stratum of the unit.
        stratum: String,
        /// Treatments that are compared among themselves only.
        groups: Vec<Vec<String>>,
    },
    /// Nothing was counted in any plot of a treatment.
    NothingCounted {
        /// Its label.
        treatment: String,
    },
    /// In every plot of a treatment all that could be counted was.
    EverythingCounted {
        /// Its label.
        treatment: String,
    },
    /// A treatment has the lowest score alone.
    LowestScoreOnly {
        /// Its label.
        treatment: String,
    },
    /// A treatment has the highest score alone.
    HighestScoreOnly {
        /// Its label.
        treatment: String,
    },
    /// A score of the scale does not occur (among treatments that are estimated).
    ScoreNotGiven {
        /// Its label.
        score: String,
    },
    /// What single plots vary beyond counting cannot be seen, or is in the model already.
    PlotVarianceNotSeen {
        /// The grouping.
        stratum: String,
    },
    /// A negative binomial was asked for, but the counts vary no more than Poisson counts.
    CountsVaryAsPoisson,
    /// Nothing is left to check whether plots vary more than counting makes them vary.
    OnlyCountingError,
    /// The plain values of the plots give no error degrees of freedom, so intervals of counts rest on large numbers alone.
    NoErrorDfOfCounts,
    /// The errors of means or differences rest on less than one degree of freedom.
    ErrorHardlyKnown {
        /// The table.
        table: String,
        /// The smallest degrees of freedom in it.
        df: f64,
    },
    /// The second method could not be fitted.
    SecondMethodFailed {
        /// Why.
        reason: String,
    },
}

impl Notice {
    /// The notice as one sentence.
    pub fn sentence(&self) -> String {
        match self {
            Self::MissingPlots { plots } => format!("{plots} plot(s) have no value and were left out."),
            Self::TreatmentWithoutValues { treatment } => {
                format!("Treatment '{treatment}' has no value, so nothing that involves it can be estimated.")
            }
            Self::UnitLost { stratum, units } => format!("{units} unit(s) of '{stratum}' have no value at all."),
            Self::NotOrthogonal => {
                "As observed, the layout is not balanced, so the mixed model (REML with Kenward-Roger) leads.".into()
            }
            Self::UnequalReplication => {
                "Treatments have unequal numbers of plots: each term is tested with the others present, and sums of squares do not add up.".into()
            }
            Self::OneUnit { stratum } => format!("There is only one unit of '{stratum}', so it was left out of the model."),
            Self::SameUnits { stratum } => {
                format!("The units of '{stratum}' are the same as those of another stratum, so it was left out of the model.")
            }
            Self::Confounded { term, stratum, within } => {
                format!("{term} is confounded with '{stratum}': it cannot be estimated within '{within}' and is compared between units of '{stratum}' only.")
            }
            Self::SplitOverStrata { term, strata } => {
                format!("{term} is compared in more than one stratum ({}), each with its own error.", strata.join(", "))
            }
            Self::NoErrorDegreesOfFreedom { stratum } => {
                format!("No degrees of freedom are left for error in '{stratum}': what is compared there has no test.")
            }
            Self::FewErrorDegreesOfFreedom { stratum, df } => {
                format!("The error of '{stratum}' has only {df} degrees of freedom (fewer than 12): it is itself poorly known.")
            }
            Self::NegativeVariance { stratum } => {
                format!("The estimate of the variance of '{stratum}' from the mean squares is negative; its mean square is still the error of its stratum.")
            }
            Self::VarianceAtZero { stratum } => format!("The variance of '{stratum}' is estimated at zero in the mixed model."),
            Self::VarianceNotSeparable { stratum } => {
                format!("The variance of '{stratum}' cannot be told apart from treatments or other units and was left out of the mixed model.")
            }
            Self::MeanNotEstimable { table, cell } => {
                format!("The mean of {cell} in the table of {table} cannot be estimated: a combination in it has no value.")
            }
            Self::TestedInPart { term, df, full_df } => {
                format!("{term} was tested on {df} of its {full_df} degrees of freedom, because combinations have no values.")
            }
            Self::NotTestable { term } => format!("{term} cannot be tested, because too many combinations have no values."),
            Self::OneEnvironment { unit } => {
                format!("There is only one {unit}, so the result speaks of this one and of no other.")
            }
            Self::EnvironmentsNotDrawn { term, within, has_blocks: true } => {
                format!("Differences by {term} are judged by how '{within}' vary within each; as places and seasons are not drawn by lot, this speaks of these very ones, not of why they differ.")
            }
            Self::EnvironmentsNotDrawn { term, within, has_blocks: false } => {
                format!("Differences by {term} have no proper error: there are no blocks within, so they are set against how '{within}' vary, which says nothing about places and seasons as such.")
            }
            Self::InteractionIsUnits { term, stratum } => {
                format!("{term} cannot be told from '{stratum}', so its variance is part of the variance of '{stratum}'.")
            }
            Self::ErrorIsSum { stratum, from } => {
                format!("What is compared in '{stratum}' is judged by a sum of mean squares ({from}), so F and its degrees of freedom are approximate.")
            }
            Self::CovariateMissing { covariate, plots } => {
                format!("{plots} plot(s) have no value of {covariate} and were left out.")
            }
            Self::CovariateAffected { covariate, term, p } => {
                format!("{covariate} itself differs by {term} ({}): means adjusted for it tell what treatments would do at equal {covariate}, and leave out what they do through it.", p_words(*p))
            }
            Self::SlopesDiffer { covariate, p } => {
                format!("The response to {covariate} is not the same for all treatments ({}): adjusted differences hold at the mean of {covariate} only.", p_words(*p))
            }
            Self::Disconnected { stratum, groups } => {
                let groups: Vec<String> = groups.iter().map(|group| format!("[{}]", group.join("; "))).collect();
                format!("Within units of '{stratum}' these groups of treatments are never compared with one another: {}. Differences between groups rest on differences between units alone.", groups.join(", "))
            }
            Self::NothingCounted { treatment } => {
                format!("Nothing was counted in any plot of '{treatment}': it has no mean on the model's scale and was left out of it; its interval is that of the counts alone.")
            }
            Self::EverythingCounted { treatment } => {
                format!("In every plot of '{treatment}' all were counted: it has no mean on the model's scale and was left out of it; its interval is that of the counts alone.")
            }
            Self::LowestScoreOnly { treatment } => {
                format!("'{treatment}' has no score above the lowest: it has no mean on the model's scale and was left out of it; its scores are shown as they are.")
            }
            Self::HighestScoreOnly { treatment } => {
                format!("'{treatment}' has no score below the highest: it has no mean on the model's scale and was left out of it; its scores are shown as they are.")
            }
            Self::ScoreNotGiven { score } => {
                format!("The score '{score}' does not occur (among the treatments that are compared), so its share is taken as zero.")
            }
            Self::PlotVarianceNotSeen { stratum } => {
                format!("The variance of '{stratum}' beyond that of counting cannot be seen from these values (or is in the model already) and was left out.")
            }
            Self::CountsVaryAsPoisson => {
                "The counts vary no more than independent events do: the negative binomial's spread is estimated at zero.".into()
            }
            Self::OnlyCountingError => {
                "There are as many means as plots: errors are those of counting alone, and nothing is left to check whether plots vary more.".into()
            }
            Self::NoErrorDfOfCounts => {
                "The plots give no degrees of freedom for error, so intervals and tests rest on the number of things counted alone.".into()
            }
            Self::ErrorHardlyKnown { table, df } => {
                format!("Errors in the table of {table} rest on less than one degree of freedom ({df:.2} at the least), as far as can be told: their intervals are too wide to mean anything.")
            }
            Self::SecondMethodFailed { reason } => format!("The second method could not be fitted beside the first: {reason}."),
        }
    }
}

/// A p value to three decimals, never as zero.
fn p_words(p: f64) -> String {
    if p < 0.001 { "p < 0.001".to_owned() } else { format!("p = {p:.3}") }
}

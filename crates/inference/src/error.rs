//! Why an experiment cannot be analysed, and what to do about it.

/// An experiment that cannot be analysed, or a comparison that it does not allow.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum InferenceError {
    /// A list that runs over plots has the wrong length.
    #[error("{list} has {found} entries where the trial has {expected} plots")]
    Length {
        /// What the list holds.
        list: String,
        /// Its length.
        found: usize,
        /// The number of plots.
        expected: usize,
    },
    /// There is no factor.
    #[error("there is no factor to compare: only controls, or nothing at all")]
    NoFactor,
    /// A factor has fewer than two levels.
    #[error("factor '{factor}' has fewer than two levels")]
    TooFewLevels {
        /// The factor's name.
        factor: String,
    },
    /// A plot has a treatment that the trial does not know.
    #[error("plot {plot} (counted from 0) has treatment {treatment}, but the trial has {treatments} treatments")]
    UnknownTreatment {
        /// Index of the plot.
        plot: usize,
        /// The index that was given.
        treatment: usize,
        /// How many treatments there are.
        treatments: usize,
    },
    /// The labels of a unit are missing.
    #[error("no column tells which '{unit}' each plot belongs to")]
    UnitNotGiven {
        /// Name of the unit.
        unit: String,
    },
    /// Labels were given for a unit that the arrangement does not have, or twice for one.
    #[error("units were given for '{unit}', which the arrangement does not have (or has only once)")]
    UnknownUnit {
        /// Name of the unit.
        unit: String,
    },
    /// A place or season that is no unit of the arrangement, or is the plot itself.
    #[error("'{unit}' is given as a place or season, but it is no unit that holds others in this arrangement")]
    UnknownEnvironment {
        /// Name of the unit.
        unit: String,
    },
    /// A factor that the trial does not have.
    #[error("'{factor}' is said to be a sample, but the trial has no such factor")]
    UnknownFactor {
        /// The factor's name.
        factor: String,
    },
    /// Two covariates have the same name.
    #[error("there are two covariates called '{covariate}'")]
    CovariateTwice {
        /// Its name.
        covariate: String,
    },
    /// A covariate's value is not a number that can be used.
    #[error(
        "plot {plot} (counted from 0) has the value {value:e} of '{covariate}', which is not a finite number or is too large"
    )]
    CovariateNotFinite {
        /// The covariate.
        covariate: String,
        /// Index of the plot.
        plot: usize,
        /// The value.
        value: f64,
    },
    /// A covariate never varies.
    #[error("'{covariate}' is {value} on every plot, so nothing can be adjusted for it")]
    CovariateConstant {
        /// The covariate.
        covariate: String,
        /// The value.
        value: f64,
    },
    /// A covariate is the same on all plots of each treatment.
    #[error("'{covariate}' is the same on all plots of each treatment, so its effect cannot be told from theirs")]
    CovariateFollowsTreatments {
        /// The covariate.
        covariate: String,
    },
    /// A covariate follows from the others.
    #[error("'{covariate}' follows exactly from {} within treatments, so their effects cannot be told apart", .others.join(" and "))]
    CovariateFollowsOthers {
        /// The covariate.
        covariate: String,
        /// Those given before it.
        others: Vec<String>,
    },
    /// A weight is not a number above zero that can be used.
    #[error("plot {plot} (counted from 0) has the weight {value:e}; a weight must lie between 1e-12 and 1e12")]
    WeightNotUsable {
        /// Index of the plot.
        plot: usize,
        /// The weight.
        value: f64,
    },
    /// A column of a regression follows from those before it.
    #[error("column {column} (counted from 0, the constant included) follows exactly from those before it")]
    ColumnFollowsOthers {
        /// Index of the column.
        column: usize,
    },
    /// Two plots stand on the same innermost unit.
    #[error("plots {first} and {second} (counted from 0) are the same unit of '{stratum}'")]
    PlotsShareUnit {
        /// Index of one plot.
        first: usize,
        /// Index of the other.
        second: usize,
        /// The innermost stratum.
        stratum: String,
    },
    /// A value is not a number.
    #[error("plot {plot} (counted from 0) has the value {value}, which is not a finite number")]
    NotFinite {
        /// Index of the plot.
        plot: usize,
        /// The value.
        value: f64,
    },
    /// A value is so large that its square cannot be held.
    #[error("plot {plot} (counted from 0) has the value {value:e}, which is too large to square")]
    TooLarge {
        /// Index of the plot.
        plot: usize,
        /// The value.
        value: f64,
    },
    /// The values differ by so little that the squares of their differences cannot be held.
    #[error("no value differs from the mean by more than {largest:e}, which is too small to square")]
    TooSmall {
        /// The largest difference from the mean.
        largest: f64,
    },
    /// No plot has a value.
    #[error("no plot has a value")]
    NoValues,
    /// Only one treatment has values.
    #[error("only one treatment has values, so there is nothing to compare")]
    OneTreatment,
    /// All values are the same.
    #[error("every plot has the same value, {value}")]
    ConstantResponse {
        /// The value.
        value: f64,
    },
    /// Plots that were treated alike do not differ at all.
    #[error(
        "plots that were treated alike do not differ, or only as their replicates and main plots do, so there is no error to compare with"
    )]
    NoVariation,
    /// Too little is left to tell the variances of the units apart.
    #[error("the {plots} values left cannot tell the variance between larger units from that between plots")]
    VariancesNotSeparable {
        /// Plots with a value.
        plots: usize,
    },
    /// As many means as values, or more.
    #[error("{plots} values for {parameters} treatment means leave no degrees of freedom for error")]
    NoErrorDegreesOfFreedom {
        /// Plots with a value.
        plots: usize,
        /// Quantities estimated.
        parameters: usize,
    },
    /// The comparison depends on a stratum in which nothing is left for error.
    #[error(
        "this comparison depends on differences between units of '{stratum}', where no degrees of freedom are left for error"
    )]
    NoErrorInStratum {
        /// The stratum.
        stratum: String,
    },
    /// The comparison involves a treatment without values.
    #[error("treatment '{treatment}' has no value, so what involves it cannot be estimated")]
    NotEstimable {
        /// The treatment's label.
        treatment: String,
    },
    /// The contrast has the wrong number of weights or weights that are not numbers.
    #[error("a contrast over {expected} treatments needs as many finite weights, not all zero; {found} were usable")]
    Weights {
        /// Finite weights found.
        found: usize,
        /// Number of treatments.
        expected: usize,
    },
    /// The comparison is between levels that are a sample.
    #[error("this comparison is between levels of a factor that is a sample; such levels are predicted, not estimated")]
    SampledLevels,
    /// The names that were asked for are no term of the analysis.
    #[error("'{names}' is no main effect or interaction of this analysis")]
    NoSuchTerm {
        /// The names.
        names: String,
    },
    /// A factor that is not there, or is not a scale of amounts.
    #[error("'{factor}' is not a factor with amounts in this trial")]
    NotQuantitative {
        /// The name that was asked for.
        factor: String,
    },
    /// Scores for a trend that cannot be used.
    #[error("a trend over {levels} levels needs {levels} different finite amounts")]
    Scores {
        /// Number of levels.
        levels: usize,
    },
    /// The level of significance or margin lies outside what makes sense.
    #[error("{what} is {value}; it must be {expected}")]
    Setting {
        /// Which setting.
        what: String,
        /// What it is.
        value: f64,
        /// What it may be.
        expected: String,
    },
    /// A group with a variance of its own that leaves nothing to estimate it from.
    #[error("the variance of '{group}' cannot be estimated: it has no plots, or none that were treated alike")]
    NoErrorInGroup {
        /// The group.
        group: String,
    },
    /// A sampled factor that some plots have no part in, in a model of the errors that cannot leave plots out of a term.
    #[error(
        "'{term}' is a sample that controls have no part in, which models of field trend and of occasions cannot hold"
    )]
    SampleBesideControls {
        /// The term.
        term: String,
    },
    /// Several places in an analysis of one field.
    #[error("the plots stand on more than one {unit}, but a trend over the field is that of one field")]
    SeveralFields {
        /// The kind of place.
        unit: String,
    },
    /// Occasions in a trial that is to speak of places like its own.
    #[error("the trial is to speak of each {unit} like its own, which the analysis of several occasions cannot do")]
    OccasionsInSampledPlaces {
        /// The kind of place.
        unit: String,
    },
    /// More plots hang together than a dense matrix can hold in reasonable time.
    #[error("{joined} plots hang together in this model of the errors; at most {most} can be worked out")]
    TooManyJoined {
        /// Plots in the largest group that hangs together.
        joined: usize,
        /// How many may.
        most: usize,
    },
    /// The search for the variance components did not end.
    #[error("the variance components did not settle in {iterations} steps (largest gradient {gradient:e})")]
    NotConverged {
        /// Steps taken.
        iterations: usize,
        /// Largest absolute gradient at the end.
        gradient: f64,
    },
    /// A count below zero.
    #[error("plot {plot} (counted from 0) has the {what} {value}, which is below zero")]
    NegativeCount {
        /// What the number is.
        what: String,
        /// Index of the plot.
        plot: usize,
        /// The value.
        value: f64,
    },
    /// A count that is not whole.
    #[error("plot {plot} (counted from 0) has the {what} {value}, which is not a whole number")]
    NotWhole {
        /// What the number is.
        what: String,
        /// Index of the plot.
        plot: usize,
        /// The value.
        value: f64,
    },
    /// A number that nobody counted.
    #[error("plot {plot} (counted from 0) has the {what} {value:e}, more than anybody counts")]
    CountTooLarge {
        /// What the number is.
        what: String,
        /// Index of the plot.
        plot: usize,
        /// The value.
        value: f64,
    },
    /// More were counted than there were.
    #[error("plot {plot} (counted from 0) has {successes} out of {trials}")]
    MoreThanAll {
        /// Index of the plot.
        plot: usize,
        /// How many were counted.
        successes: f64,
        /// Out of how many.
        trials: f64,
    },
    /// A proportion of nothing.
    #[error("plot {plot} (counted from 0) has a count out of 0")]
    NoTrials {
        /// Index of the plot.
        plot: usize,
    },
    /// A count on no area.
    #[error("plot {plot} (counted from 0) was counted on {size} of area or length")]
    NothingSearched {
        /// Index of the plot.
        plot: usize,
        /// What was searched.
        size: f64,
    },
    /// A value that a transformation does not take.
    #[error("plot {plot} (counted from 0) has the value {value}; the {words} needs values {needs}")]
    CannotTransform {
        /// Index of the plot.
        plot: usize,
        /// The value.
        value: f64,
        /// The transformation in words.
        words: String,
        /// What it takes.
        needs: String,
    },
    /// So many different values are no scores.
    #[error("{found} different scores occur; a scale of scores has at most {most} steps")]
    TooManyScores {
        /// How many occur.
        found: usize,
        /// How many can be scores.
        most: usize,
    },
    /// All counts are zero.
    #[error("nothing was counted in any of the {observations} plots")]
    NothingCounted {
        /// Number of observations.
        observations: usize,
    },
    /// All that could be counted was.
    #[error(
        "everything was counted in all {observations} plots (or nothing in some treatments and everything in the others)"
    )]
    EverythingCounted {
        /// Number of observations.
        observations: usize,
    },
    /// A comparison with a treatment whose mean is infinitely far out on the model's scale.
    #[error(
        "treatment '{treatment}' has nothing (or everything) counted in all its plots, so it has no mean on the model's scale"
    )]
    AtEdge {
        /// The treatment's label.
        treatment: String,
    },
    /// Some combination of columns tells counts of zero (or of all) apart without error.
    #[error(
        "the columns of the model foretell without error where nothing (or everything) is counted, first in plot {plot} (counted from 0) of '{treatment}'"
    )]
    Separated {
        /// The treatment's label.
        treatment: String,
        /// Index of the plot.
        plot: usize,
    },
    /// Units in which all or nothing is counted, so that their variance has no limit.
    #[error(
        "in nearly every unit of '{stratum}' either nothing or everything (or a great many) was counted, so that no variance describes them"
    )]
    AllOrNothing {
        /// Name of the grouping.
        stratum: String,
    },
    /// A row with a score that is not on the scale.
    #[error("row {row} (counted from 0) has score {score}, but there are {scores} scores, counted from 0")]
    UnknownScore {
        /// Index of the row.
        row: usize,
        /// The score's number.
        score: usize,
        /// How many scores there are.
        scores: usize,
    },
    /// Nothing differs in score.
    #[error("none of the {rows} rows tells scores apart: every treatment has the lowest or the highest score alone")]
    OneScore {
        /// Number of rows.
        rows: usize,
    },
    /// Low treatments and high ones that meet in one score at most.
    #[error(
        "no treatment has scores both below and above '{score}', so that nothing tells how far low and high treatments lie apart"
    )]
    ScoreNotCrossed {
        /// The score.
        score: String,
    },
    /// A comparison with a treatment whose mean is infinitely far out on the hidden scale.
    #[error(
        "treatment '{treatment}' has the lowest (or the highest) score alone, so it has no mean on the hidden scale"
    )]
    ScoresAtEnd {
        /// The treatment's label.
        treatment: String,
    },
    /// Some combination of treatments, columns and thresholds tells scores apart without error.
    #[error(
        "the treatments and columns of the model foretell scores without error, first in row {row} (counted from 0) of '{treatment}'"
    )]
    ScoresForetold {
        /// The treatment's label.
        treatment: String,
        /// Index of the row.
        row: usize,
    },
    /// Units that each hold one score, so that their variance has no limit.
    #[error("in nearly every unit of '{stratum}' all scores are the same, so that no variance describes the units")]
    OneScorePerUnit {
        /// Name of the grouping.
        stratum: String,
    },
    /// A column that others already tell.
    #[error("the column '{column}' is fully told by the treatments and the columns before it")]
    CollinearColumn {
        /// Name of the column.
        column: String,
    },
    /// A unit's number is out of range.
    #[error("plot {plot} (counted from 0) is in unit {class} of '{unit}', which has {classes} units")]
    UnknownClass {
        /// Name of the grouping.
        unit: String,
        /// Index of the plot.
        plot: usize,
        /// The unit that was given.
        class: usize,
        /// How many units there are.
        classes: usize,
    },
    /// Two fits whose log-likelihoods are not of the same thing.
    #[error("the log-likelihoods of these two models cannot be compared: {reason}")]
    LikelihoodsNotComparable {
        /// What differs.
        reason: String,
    },
    /// The analysis was read back from a file and no longer holds what contrasts are computed from.
    #[error("this analysis was read back without its fit, so no new comparison can be computed from it")]
    FitNotKept,
}

impl InferenceError {
    /// What a person can do about it.
    pub fn help(&self) -> &'static str {
        match self {
            Self::Length { .. } => "Give one entry for every plot, in the same order in every list.",
            Self::NoFactor => {
                "Declare at least one factor with two levels; a control stands beside a factor, not alone."
            }
            Self::TooFewLevels { .. } => {
                "Add a level, or leave the factor out: a factor with one level compares nothing."
            }
            Self::UnknownTreatment { .. } => "Check the treatment column against the list of treatments.",
            Self::UnitNotGiven { .. } => {
                "Add a column with the unit of every plot, or state an arrangement without it."
            }
            Self::UnknownUnit { .. } => {
                "Give one column for each unit that the arrangement names, under the same name."
            }
            Self::UnknownEnvironment { .. } => {
                "Name units that stand around the blocks, such as site or year, as the arrangement calls them."
            }
            Self::UnknownFactor { .. } => "Name a factor as the list of treatments does.",
            Self::CovariateTwice { .. } => "Give each covariate once, under its own name.",
            Self::CovariateNotFinite { .. } => "Leave the value empty if it is missing, or correct it.",
            Self::CovariateConstant { .. } => "Leave the covariate out, or check that the right column was read.",
            Self::CovariateFollowsTreatments { .. } => {
                "Leave the covariate out: it is a treatment by another name. A trend over it is a trend over the treatments."
            }
            Self::CovariateFollowsOthers { .. } => "Leave one of them out.",
            Self::WeightNotUsable { .. } => {
                "Give every plot a weight above zero, such as the number of values it is a mean of."
            }
            Self::ColumnFollowsOthers { .. } => "Leave the column out, or check that the right column was read.",
            Self::PlotsShareUnit { .. } => {
                "If there are several plots on that unit, say so in the arrangement; else correct the unit columns."
            }
            Self::NotFinite { .. } => "Leave the value empty if it is missing, or correct it.",
            Self::TooLarge { .. } => "Check the value and its unit; no measure of a plot is that large.",
            Self::TooSmall { .. } => "Check the values and their unit, or express them in a smaller unit.",
            Self::NoValues => "Enter values for this measure before it is analysed.",
            Self::OneTreatment => "Enter values for at least two treatments.",
            Self::ConstantResponse { .. } => {
                "Check that the right column was read; a measure that never varies needs no analysis, only its value."
            }
            Self::NoVariation => "Check whether treatment means were entered in place of the plots' own values.",
            Self::VariancesNotSeparable { .. } => {
                "Too many plots are missing for this arrangement; analyse fewer treatments, or replicates that are whole."
            }
            Self::NoErrorDegreesOfFreedom { .. } => {
                "At least one treatment needs a second plot with a value; more replicates, or fewer treatments."
            }
            Self::NoErrorInStratum { .. } => {
                "More replicates of those units are needed; comparisons within them are still available."
            }
            Self::NotEstimable { .. } => {
                "Compare treatments that have values, or means over levels that were all observed."
            }
            Self::Weights { .. } => "Give one weight per treatment, in the order of the treatment list.",
            Self::SampledLevels => "Look at the predictions of this factor, or declare its levels as fixed.",
            Self::NoSuchTerm { .. } => {
                "Name factors of the trial, and units only where they are places or seasons that are fixed."
            }
            Self::NotQuantitative { .. } => "Declare the factor as quantitative, with an amount for every level.",
            Self::Scores { .. } => "Give each level its own amount (or its logarithm, if the trend is on that scale).",
            Self::Setting { .. } => "Choose another value for this setting.",
            Self::NotConverged { .. } => {
                "Look for a unit column that hardly differs from another, or a value far out of line, and report the data."
            }
            Self::NegativeCount { .. } => "Correct the value; a count or a number sown is zero or more.",
            Self::NotWhole { .. } => {
                "Enter what was counted, not a rate or a mean; give the area counted beside it, or analyse the rate as a measured value."
            }
            Self::CountTooLarge { .. } => {
                "Check the value; numbers that large are measured, and their logarithms can be analysed."
            }
            Self::MoreThanAll { .. } => {
                "Check both numbers; if more can come up than were sown, analyse the number as a count."
            }
            Self::NoTrials { .. } => "Leave the plot out, or enter out of how many it was counted.",
            Self::CannotTransform { .. } => {
                "Add a number before the transformation (1 for counts with zeros), or choose another transformation."
            }
            Self::TooManyScores { .. } => "Take the values as measurements, or check that only scores were entered.",
            Self::NothingSearched { .. } => "Enter the area or length that was searched; it is above zero.",
            Self::NothingCounted { .. } => {
                "There is nothing to compare; report that nothing was found, and where it was looked for."
            }
            Self::EverythingCounted { .. } => {
                "There is nothing to compare but what the counts themselves say; report them."
            }
            Self::AtEdge { .. } => {
                "Report its counts with their exact interval; compare the other treatments, or test all treatments by the likelihood ratio."
            }
            Self::Separated { .. } => "Leave out the column or unit that tells them apart, or join it with another.",
            Self::AllOrNothing { .. } => {
                "Count each unit once, as one in which it happened or not, or leave the grouping out and say so."
            }
            Self::UnknownScore { .. } => "Give the score by its place on the scale, or add it to the scale.",
            Self::OneScore { .. } => "There is nothing to compare but the scores themselves; report them.",
            Self::ScoreNotCrossed { .. } => {
                "Join this score with one beside it, or report the scores themselves: the treatments are told apart already."
            }
            Self::ScoresAtEnd { .. } => {
                "Report its scores; compare the other treatments, or test all treatments by the likelihood ratio."
            }
            Self::ScoresForetold { .. } => {
                "Leave out the column that tells them apart, join neighbouring scores, or report the scores themselves."
            }
            Self::OneScorePerUnit { .. } => {
                "Count each unit once with its score, or leave the grouping out and say so."
            }
            Self::CollinearColumn { .. } => {
                "Leave the column out; of units taken as fixed, leave one out, and take units that treatments differ by as random."
            }
            Self::UnknownClass { .. } => "Number the units from 0 on without gaps, and give the number of units.",
            Self::NoErrorInGroup { .. } => "Join the group with another, or take one variance for all.",
            Self::SampleBesideControls { .. } => "Declare the factor as fixed, or leave the controls out.",
            Self::SeveralFields { .. } => "Take the plots of each place and season by themselves.",
            Self::OccasionsInSampledPlaces { .. } => {
                "Analyse each occasion, or a mean or slope over the season, as a measure of its own; or let the result speak of these places."
            }
            Self::TooManyJoined { .. } => {
                "Take each site or field by itself, or choose a model in which plots depend on their own block only."
            }
            Self::LikelihoodsNotComparable { .. } => {
                "Fit both models to the same plots: by maximum likelihood to test treatments or columns; by the restricted likelihood only where they differ in nothing but units."
            }
            Self::FitNotKept => "Analyse the plots again and ask the new analysis.",
        }
    }
}

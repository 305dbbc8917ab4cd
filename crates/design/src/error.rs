//! What can be wrong with a plan: each error names what was found, and `help` says what to do about it.

use crate::GroundError;
use crate::limits::{MOST_PLOTS, MOST_TREATMENTS};

/// Why treatments, an arrangement, a seed or the ground cannot be used as they stand.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DesignError {
    /// There is no factor at all.
    #[error("the trial has no factor, so there is nothing to compare")]
    NoFactor,
    /// A factor's name is empty.
    #[error("factor {position} has no name")]
    FactorWithoutName {
        /// Place of the factor in the list, from 1.
        position: usize,
    },
    /// Two factors have one name.
    #[error("two factors are called `{name}`")]
    FactorTwice {
        /// The name that stands twice.
        name: String,
    },
    /// A factor is called like a unit of the ground.
    #[error("a factor cannot be called `{name}`: that is a unit of the ground")]
    FactorNamedLikeUnit {
        /// The factor's name.
        name: String,
    },
    /// A factor has no or only one level.
    #[error("factor `{factor}` needs at least 2 levels, but has {levels}")]
    TooFewLevels {
        /// The factor's name.
        factor: String,
        /// How many levels it has.
        levels: usize,
    },
    /// A level has no label.
    #[error("level {position} of factor `{factor}` has no label")]
    LevelWithoutLabel {
        /// The factor's name.
        factor: String,
        /// Place of the level, from 1.
        position: usize,
    },
    /// Two levels of a factor have one label.
    #[error("factor `{factor}` has the level `{label}` twice (capitals and outer spaces do not count)")]
    LevelTwice {
        /// The factor's name.
        factor: String,
        /// The label that stands twice.
        label: String,
    },
    /// A quantitative factor has no unit.
    #[error("factor `{factor}` is an amount but has no unit")]
    UnitMissing {
        /// The factor's name.
        factor: String,
    },
    /// A level of a quantitative factor has no amount.
    #[error("level `{label}` of factor `{factor}` has no amount in {unit}")]
    AmountMissing {
        /// The factor's name.
        factor: String,
        /// The level's label.
        label: String,
        /// The factor's unit.
        unit: String,
    },
    /// A level of a factor of names has an amount.
    #[error("level `{label}` of factor `{factor}` has the amount {amount}, but the factor's levels are names")]
    AmountOnName {
        /// The factor's name.
        factor: String,
        /// The level's label.
        label: String,
        /// The amount that was given.
        amount: f64,
    },
    /// An amount is not a number.
    #[error("level `{label}` of factor `{factor}` has the amount {amount}, which is not a number")]
    AmountNotFinite {
        /// The factor's name.
        factor: String,
        /// The level's label.
        label: String,
        /// The amount that was given.
        amount: f64,
    },
    /// Two levels of a quantitative factor are the same amount.
    #[error("levels `{first}` and `{second}` of factor `{factor}` are both {amount} {unit}")]
    AmountTwice {
        /// The factor's name.
        factor: String,
        /// Label of the first of the two.
        first: String,
        /// Label of the second of the two.
        second: String,
        /// The shared amount.
        amount: f64,
        /// The factor's unit.
        unit: String,
    },
    /// A control has no label.
    #[error("control {position} has no name")]
    ControlWithoutLabel {
        /// Place of the control, from 1.
        position: usize,
    },
    /// A control has no plots.
    #[error("control `{label}` has 0 plots in each replicate")]
    ControlWithoutPlots {
        /// The control's label.
        label: String,
    },
    /// Two treatments have one label.
    #[error("two treatments are called `{label}`")]
    TreatmentTwice {
        /// The label that stands twice.
        label: String,
    },
    /// The factorial is too large to be a field trial.
    #[error("the factors make {treatments} treatments; at most {MOST_TREATMENTS} can be handled")]
    TooManyTreatments {
        /// Number of treatments, capped at the largest number that can be counted.
        treatments: usize,
    },
    /// The trial is too large to be a field trial.
    #[error("the trial has {plots} plots; at most {MOST_PLOTS} can be handled")]
    TooManyPlots {
        /// Number of plots, capped at the largest number that can be counted.
        plots: usize,
    },
    /// The number of replicates is zero.
    #[error("the trial has 0 replicates; at least 1 is needed")]
    NoReplicates,
    /// An arrangement of several kinds of unit has no factor on one of them.
    #[error("the {arrangement} has no factor on its {units}")]
    NoFactorOn {
        /// The arrangement.
        arrangement: &'static str,
        /// The units.
        units: &'static str,
    },
    /// A factor that is to be on certain units is not a factor of the trial.
    #[error("`{name}` is to be on {on}, but it is no factor of this trial (factors: {known})")]
    UnknownFactor {
        /// The name that was given.
        name: String,
        /// The units it is to be on.
        on: String,
        /// The factors that there are, for the message.
        known: String,
        /// The factor whose name is nearest, when one is near.
        nearest: Option<String>,
    },
    /// A factor is given a unit twice.
    #[error("factor `{name}` is named twice; the second time among the factors on {units}")]
    FactorOnTwice {
        /// The factor's name.
        name: String,
        /// The units it is on the second time.
        units: &'static str,
    },
    /// All factors are on larger units.
    #[error("all factors ({factors}) are on larger units, so nothing is left for the plots within the {units}")]
    NoFactorWithin {
        /// The factors, for the message.
        factors: String,
        /// The smallest of the larger units.
        units: &'static str,
    },
    /// An arrangement of several kinds of unit has a control outside the factorial.
    #[error("the control `{label}` stands outside the factorial, and in a {arrangement} it has no place")]
    ControlInDivision {
        /// The control's label.
        label: String,
        /// The arrangement.
        arrangement: &'static str,
    },
    /// A Latin square's replicates are no multiple of its treatments.
    #[error(
        "a Latin square of {treatments} treatments has {treatments} replicates, or a multiple of that; not {replicates}"
    )]
    NotSquare {
        /// Number of treatments.
        treatments: usize,
        /// Replicates that were asked for.
        replicates: usize,
    },
    /// A replicate cannot be cut into blocks of this size.
    #[error("a replicate of {plots} plots cannot be cut into blocks of {block_size}")]
    BlockSize {
        /// Plots in a block.
        block_size: usize,
        /// Plots in a replicate.
        plots: usize,
    },
    /// A replicate does not have this many rows and columns.
    #[error("{rows} rows and {columns} columns do not make a replicate of {plots} plots")]
    RowsAndColumns {
        /// Rows.
        rows: usize,
        /// Columns.
        columns: usize,
        /// Plots in a replicate.
        plots: usize,
    },
    /// Augmented blocks without a check.
    #[error("no check is named that stands in every block")]
    NoChecks,
    /// A check is no treatment of the trial.
    #[error("`{label}` is to be a check, but it is no treatment of this trial")]
    UnknownCheck {
        /// The label that was given.
        label: String,
        /// The treatment whose label is nearest, when one is near.
        nearest: Option<String>,
    },
    /// A check is named twice.
    #[error("the check `{label}` is named twice")]
    CheckTwice {
        /// The label.
        label: String,
    },
    /// All treatments are checks.
    #[error("all treatments are checks, so there is nothing to be compared with them")]
    OnlyChecks,
    /// The units of the ground cannot be read.
    #[error("the units `{text}` cannot be read: {fault}")]
    UnitsNotUnderstood {
        /// What was given.
        text: String,
        /// What is wrong with it.
        fault: String,
    },
    /// A unit stands twice among the units.
    #[error("the unit `{unit}` stands twice among the units")]
    UnitTwice {
        /// The unit.
        unit: String,
    },
    /// A unit is named that the arrangement does not have.
    #[error("`{unit}` is no unit of this arrangement ({units})")]
    UnknownUnit {
        /// The name that was given.
        unit: String,
        /// The units that there are, for the message.
        units: String,
        /// The unit whose name is nearest, when one is near.
        nearest: Option<String>,
    },
    /// Degrees of freedom are asked for of units that only a table tells.
    #[error("how many units there are is told by the table of plots, not by the plan")]
    UnitsNotCounted,
    /// An arrangement that cannot be drawn yet.
    #[error("{arrangement} cannot be drawn yet")]
    NotDrawn {
        /// The arrangement.
        arrangement: &'static str,
    },
    /// A text is no seed.
    #[error("`{text}` is not a seed")]
    Seed {
        /// What was given.
        text: String,
    },
    /// The ground cannot hold the plots so.
    #[error(transparent)]
    Ground(#[from] GroundError),
}

impl DesignError {
    /// What the person can do about it, in one or two sentences.
    pub fn help(&self) -> String {
        match self {
            Self::NoFactor => "Name at least one factor with two levels; a comparison with a control alone is one factor with the control as a level.".into(),
            Self::FactorWithoutName { .. } => "Give the factor the name that the tables shall show, for example `variety`.".into(),
            Self::FactorTwice { .. } => "Rename one of them, or put their levels into one factor.".into(),
            Self::FactorNamedLikeUnit { .. } => {
                "Blocks, main plots and plots come from the arrangement; leave them out of the factors, or rename the factor.".into()
            }
            Self::TooFewLevels { .. } => "Add a level, or leave the factor out: what is the same on every plot is not varied.".into(),
            Self::LevelWithoutLabel { .. } => "Give the level a short label for signs and tables.".into(),
            Self::LevelTwice { .. } => "Use labels that cannot be mistaken for one another on a field sign.".into(),
            Self::UnitMissing { .. } => "State the unit of the amounts, for example `kg/ha`, or make the levels names.".into(),
            Self::AmountMissing { .. } => "Type the amount as a number in the factor's unit; none applied is 0.".into(),
            Self::AmountOnName { .. } => "Take the amount away, or make the factor quantitative and state its unit.".into(),
            Self::AmountNotFinite { .. } => "Type an ordinary number.".into(),
            Self::AmountTwice { .. } => "Correct one of the amounts, or join the two levels into one.".into(),
            Self::ControlWithoutLabel { .. } => "Give the control a short name, for example `untreated`.".into(),
            Self::ControlWithoutPlots { .. } => "Give it at least 1 plot in each replicate, or leave it out.".into(),
            Self::TreatmentTwice { .. } => "Change a level's or the control's name so that every treatment has its own.".into(),
            Self::TooManyTreatments { .. } => "Use fewer factors or levels, or divide the question over two trials.".into(),
            Self::TooManyPlots { .. } => "Check the number of replicates and of plots per control, or divide the trial.".into(),
            Self::NoReplicates => "Give the number of replicates; with 1 there is no estimate of error, 4 or more are usual.".into(),
            Self::NoFactorOn { .. } => "Name the factor that needs those units, or choose an arrangement without them.".into(),
            Self::UnknownFactor { nearest: Some(near), .. }
            | Self::UnknownCheck { nearest: Some(near), .. }
            | Self::UnknownUnit { nearest: Some(near), .. } => format!("Did you mean `{near}`?"),
            Self::UnknownFactor { nearest: None, .. } => "Use a factor's name exactly as the trial spells it.".into(),
            Self::FactorOnTwice { .. } => "Name each factor once, for the units that it was randomised to.".into(),
            Self::NoFactorWithin { .. } => "Leave at least one factor off the larger units, or choose an arrangement with fewer kinds of unit.".into(),
            Self::ControlInDivision { .. } => {
                "Make the control a level of a factor (rate 0, or the untreated variety), or choose randomised blocks; whether such a control belongs to a larger unit or to a plot cannot be guessed.".into()
            }
            Self::NotSquare { .. } => "Change the number of replicates, or choose row-column or randomised blocks.".into(),
            Self::BlockSize { .. } => "Choose a block size that divides the plots of a replicate, from 2 to half of them.".into(),
            Self::RowsAndColumns { .. } => "Choose rows and columns, at least 2 of each, whose product is the plots of a replicate.".into(),
            Self::NoChecks => "Name at least one treatment that is repeated in every block; without it blocks cannot be compared.".into(),
            Self::UnknownCheck { nearest: None, .. } => "Use the treatment's label exactly as the trial spells it.".into(),
            Self::CheckTwice { .. } => "Name each check once.".into(),
            Self::OnlyChecks => "Add treatments that are not checks, or choose randomised blocks.".into(),
            Self::UnitsNotUnderstood { .. } => "Write the units from the largest to the smallest, `/` for nested in and ` x ` for crossed with, as in `site / block / plot` or `block / (row x column)`.".into(),
            Self::UnitTwice { .. } => "Give each kind of unit its own name.".into(),
            Self::UnknownUnit { nearest: None, .. } => "Use the name of a unit as the arrangement spells it.".into(),
            Self::UnitsNotCounted => "Bring in the table of plots; the analysis then shows the degrees of freedom.".into(),
            Self::NotDrawn { .. } => "Draw it elsewhere and bring it in with its table of plots, or choose randomised blocks or a split-plot.".into(),
            Self::Ground(error) => error.help(),
            Self::Seed { .. } => {
                "Type the 64 hexadecimal digits as they are printed on the plan, or a whole number from 0 to 18446744073709551615.".into()
            }
        }
    }
}

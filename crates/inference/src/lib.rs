//! Analysis of designed experiments, from the units and treatments as they were randomised.
//!
//! Pure: takes values and returns values. [`analyse`] is the way in; every comparison that a finding rests on comes from
//! [`Analysis::contrast`].

mod analysis;
mod comparisons;
mod connected;
pub mod correlated_errors;
mod covariance;
mod covariates;
mod curve;
mod decimal;
mod discrete;
pub mod distribution;
mod equivalence;
mod error;
mod error_models;
mod errors_by_environment;
mod estimate;
mod experiment;
mod field_trend;
mod fit;
mod fixed_units;
pub mod generalised;
mod laplace;
mod looking;
mod margin;
mod matrix;
mod means;
pub mod meta;
mod mixed;
mod model;
mod network;
mod notice;
mod options;
pub mod ordinal;
mod parallel;
mod plots;
mod regression;
mod repeated;
mod strata;
mod term_test;
mod terms;
mod transform;
mod trend;
mod two_methods;

pub use analysis::{
    Analysis, Compared, ContrastRow, ContrastTable, Lead, ModelParts, NamedContrast, PartCell, PartRandom, PartTerm,
    Residual, SimpleEffect, StratumCv, analyse,
};
pub use covariance::CovariateResult;
pub use curve::{
    Aim, AmountInterval, AmountMean, BestAmount, CoursePoint, CurveFit, CurveNotice, CurveOptions, CurveParameter,
    Fieller, Form, Gain, GroupCurves, Grouping, MeanOfAmount, NotFitted, Optimum, PlotAmounts, Quantity,
    ResponseCurves, SharedPart, SharingTest, WhyNot, curves_of_means, curves_of_plots,
};
pub use discrete::{DiscreteAnalysis, DiscreteFit, DiscreteKind, EdgeMean, analyse_discrete, plain_values};
pub use equivalence::Equivalence;
pub use error::InferenceError;
pub use error_models::{ErrorModel, ErrorModels};
pub use errors_by_environment::{ErrorsByEnvironment, errors_by_environment};
pub use estimate::Estimate;
pub use experiment::{Covariate, Experiment};
pub use field_trend::{FieldLead, FieldPositions, FieldTrend, PlotOnField, field_trend};
pub use fit::{FTest, Fit};
pub use fixed_units::{FixedUnits, MissingPlotEstimate};
pub use guardrow_design::Scope;
pub use looking::{
    Bartlett, EnvironmentError, GroupRow, GroupSpread, Homogeneity, Looking, Outlier, Outliers, StudentisedResidual,
    Suggestion, Transformation, bartlett, homogeneity,
};
pub use margin::{AgainstMargin, Direction};
pub use means::{
    ControlComparison, ControlTable, DunnettMethod, Lsd, MeanCell, MeansTable, PairDifference, Spread, holm,
    letters_from,
};
pub use mixed::{Evidence, MixedFit, Prediction, PredictionKind, PredictionTable, StopReason, VarianceComponent};
pub use network::{
    ClassMean, GroupingEffects, Network, NetworkFit, NetworkGrouping, NetworkOptions, Slope, fit_network,
};
pub use notice::Notice;
pub use options::{FixedUnitsWhen, Letters, Method, Options};
pub use regression::{Coefficient, Regression, regress};
pub use repeated::{
    OccasionAlone, Occasions, OverTime, PlotOnOccasion, Repeated, SeasonMean, TimeTrend, Visit, repeated,
};
pub use strata::{AnovaRow, RESIDUAL, StrataTable, StratumRows, VarianceTest};
pub use term_test::{TermTest, TestMethod};
pub use terms::{ALL_TREATMENTS, CONTROLS_AND_FACTORIAL};
pub use transform::{BackCell, BackTable, Transform, TransformKind, TransformedAnalysis, analyse_transformed};
pub use trend::{LackOfFit, Trend, TrendTerm, polynomial_contrasts};

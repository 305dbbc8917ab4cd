//! Responses to the amounts of a factor as curves, with the best amount and what is known of it.
//!
//! [`Analysis::response_curves`](crate::Analysis::response_curves) is the way in for a trial's means,
//! [`curves_of_plots`] for amounts that were counted on each plot. The method is told in `docs/numbers/response-curves.md`.

mod basis;
mod best_amount;
mod fieller;
mod fitted;
mod form;
mod groups;
mod least_squares;
mod notice;
mod of_analysis;
mod of_means;
mod of_plots;
mod optimum;
mod options;
mod pieces;
mod points;
mod problem;
mod quantity;
mod region;
mod search;
mod sharing;
mod tangent;

pub use fieller::Fieller;
pub use fitted::{CoursePoint, CurveFit, CurveParameter};
pub use form::Form;
pub use groups::{GroupCurves, MeanOfAmount, NotFitted, ResponseCurves};
pub use notice::{CurveNotice, WhyNot};
pub use of_means::{AmountMean, curves_of_means};
pub use of_plots::{Grouping, PlotAmounts, curves_of_plots};
pub use optimum::{BestAmount, Gain, Optimum};
pub use options::{Aim, CurveOptions};
pub use quantity::{AmountInterval, Quantity};
pub use sharing::{SharedPart, SharingTest};

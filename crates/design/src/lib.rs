//! Factors, treatments, arrangements, randomisation and layout on the ground.
//!
//! Pure: takes values and returns values. The only randomness is a generator that the caller seeds.

mod arrangement;
mod arrangement_problems;
mod block_structure;
mod description;
mod error;
mod factor;
mod ground;
mod ground_error;
mod lay_out;
mod layout;
mod limits;
mod notice;
mod random;
mod randomisation;
mod skeleton;
mod stated_units;
mod treatment;

pub use arrangement::{
    Arrangement, BLOCK, COLUMN, FARM, MAIN_PLOT, PLOT, REPLICATE, ROW, SQUARE, STRIP, STRIP_ACROSS, STRIP_ALONG,
    SUBPLOT,
};
pub use block_structure::{BlockStructure, Stratum};
pub use description::{draw_sentence, method_sentence};
pub use error::DesignError;
pub use factor::{Factor, Level, Scale};
pub use ground::{Corner, Ground, Numbering};
pub use ground_error::GroundError;
pub use lay_out::lay_out;
pub use layout::{Heading, Layout, Plot, PlotKind, SeederPass};
pub use limits::{MOST_PLOTS, MOST_TREATMENTS};
pub use notice::{Notice, NoticeTopic};
pub use random::{ALGORITHM, RandomStream, Seed};
pub use randomisation::{Draw, DrawnPlot, draw};
pub use skeleton::{FEWEST_ERROR_DF, Skeleton, SkeletonRow, SkeletonStratum, skeleton};
pub use stated_units::{Scope, StatedUnits};
pub use treatment::{Control, Treatment, TreatmentStructure};

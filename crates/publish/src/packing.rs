//! The packing list: every packet in seeding order, and what each lot must give.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::report::Table;

/// One packet of the list.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct PackingLine {
    /// Place in the seeding order, from 1.
    pub sequence: u32,
    /// Plot number as on the label.
    pub plot: String,
    /// Range; 0 for a spare.
    pub range: u32,
    /// Pass; 0 for a spare.
    pub pass: u32,
    /// Treatment's short label; empty on a blind list.
    #[serde(default)]
    pub treatment: String,
    /// Seed lot.
    pub lot: String,
    /// Target mass in g, one decimal.
    pub mass_g: String,
    /// Seed count.
    pub count: String,
    /// The seed is treated.
    #[serde(default)]
    pub treated: bool,
}

/// A packing list.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct PackingList {
    /// The trial's code.
    pub trial_code: String,
    /// Title of the trial.
    pub title: String,
    /// Station.
    pub station: String,
    /// Season.
    pub season: String,
    /// Site.
    pub site: String,
    /// Version of the layout.
    pub layout_version: u32,
    /// Day the list was made, as it is to be printed.
    pub prepared_on: String,
    /// How mass and count were computed, with the inputs and one packet worked out.
    pub arithmetic: Vec<String>,
    /// Need, stock and what is left, per lot.
    pub lots: Table,
    /// The packets, in seeding order.
    pub packets: Vec<PackingLine>,
    /// Cautions: treated seed, clean-down, inoculant.
    #[serde(default)]
    pub cautions: Vec<String>,
}

//! Packet labels: one per packet, in seeding order.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What is printed on one packet.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
pub struct PacketLabel {
    /// The trial's code.
    pub trial_code: String,
    /// Plot number, the largest text; `G` and a number for a guard, `spare` for a spare packet.
    pub plot: String,
    /// Place in the seeding order, from 1.
    pub sequence: u32,
    /// Packets in all.
    pub of: u32,
    /// Range of the plot; 0 for a spare.
    pub range: u32,
    /// Pass of the plot; 0 for a spare.
    pub pass: u32,
    /// Treatment's short label; none on a blind label.
    #[serde(default)]
    pub treatment: Option<String>,
    /// Seed lot. Leave empty on a blind label if the lot betrays the treatment.
    #[serde(default)]
    pub lot: String,
    /// Seed mass with unit: `38.4 g`.
    pub mass: String,
    /// Seed count: `620 seeds`; may be empty.
    #[serde(default)]
    pub count: String,
    /// The seed is treated: a caution line is printed.
    #[serde(default)]
    pub treated: bool,
    /// Text of the QR code; also printed in plain letters. Names trial, layout version, plot and sequence, never the
    /// treatment.
    pub code: String,
}

/// Size of a sheet of labels, all in mm.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LabelStock {
    /// Sheet width.
    pub sheet_width_mm: f64,
    /// Sheet height.
    pub sheet_height_mm: f64,
    /// Labels across.
    pub columns: u32,
    /// Labels down.
    pub rows: u32,
    /// Left edge of the first label from the sheet's left edge.
    pub left_mm: f64,
    /// Top edge of the first label from the sheet's top edge.
    pub top_mm: f64,
    /// Label width.
    pub width_mm: f64,
    /// Label height.
    pub height_mm: f64,
    /// Gap between columns.
    pub column_gap_mm: f64,
    /// Gap between rows.
    pub row_gap_mm: f64,
}

impl LabelStock {
    /// 3 × 8 labels of 70 × 37 mm on A4 without gaps. Common practice, no source.
    pub fn a4_3_by_8() -> Self {
        Self {
            sheet_width_mm: 210.0,
            sheet_height_mm: 297.0,
            columns: 3,
            rows: 8,
            left_mm: 0.0,
            top_mm: 0.5,
            width_mm: 70.0,
            height_mm: 37.0,
            column_gap_mm: 0.0,
            row_gap_mm: 0.0,
        }
    }

    /// 2 × 5 labels of 101.6 × 50.8 mm (4 × 2 in) on US letter. Common practice, no source.
    pub fn letter_2_by_5() -> Self {
        Self {
            sheet_width_mm: 215.9,
            sheet_height_mm: 279.4,
            columns: 2,
            rows: 5,
            left_mm: 3.96,
            top_mm: 12.7,
            width_mm: 101.6,
            height_mm: 50.8,
            column_gap_mm: 4.78,
            row_gap_mm: 0.0,
        }
    }
}

impl Default for LabelStock {
    fn default() -> Self {
        Self::a4_3_by_8()
    }
}

/// Labels and what they are printed on.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
pub struct LabelSheet {
    /// Document title: `Packet labels, trial L31-04, layout 2`.
    pub title: String,
    /// The stock.
    #[serde(default)]
    pub stock: LabelStock,
    /// Labels already used up on the first sheet, left to right and top to bottom.
    #[serde(default)]
    pub skip: u32,
    /// Thin lines round the labels, for plain paper that is cut.
    #[serde(default)]
    pub outlines: bool,
    /// Printed on labels of treated seed.
    pub treated_caution: String,
    /// The labels, in seeding order.
    pub labels: Vec<PacketLabel>,
}

/// The caution line used when a station has not written its own.
pub const TREATED_CAUTION: &str = "Treated seed: gloves; not for food or feed";

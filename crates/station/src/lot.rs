//! A seed lot and its papers.

use guardrow_agronomy::unit::Quantity;
use serde::{Deserialize, Serialize};

/// One bag or batch of seed with its papers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Lot {
    /// Code, unique in the station.
    pub code: String,
    /// Crop, as in the crop table.
    pub crop: String,
    /// Variety, or whatever names the seed.
    #[serde(default)]
    pub variety: String,
    /// Thousand-kernel weight in grams; nothing can be packed without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thousand_kernel_weight_g: Option<f64>,
    /// Laboratory germination in percent; nothing can be packed without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub germination_pct: Option<f64>,
    /// Day of the germination test (ISO 8601).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub germination_tested: Option<jiff::civil::Date>,
    /// Seed treatment or inoculant in words; empty when bare.
    #[serde(default)]
    pub treatment: String,
    /// Mass on hand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub on_hand: Option<Quantity>,
    /// Cautions from the product label that are printed with the packets.
    #[serde(default)]
    pub caution: String,
}

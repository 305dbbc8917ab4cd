//! `guardrow lot`

use guardrow_station::{ErrorKind, Lot, SaveLot, StationError};

use crate::arguments::StationFolder;

/// Enter a seed lot with its papers, or change them
#[derive(Debug, clap::Args)]
pub(crate) struct LotPapers {
    #[command(flatten)]
    at: StationFolder,
    /// Code on the bag
    #[arg(value_name = "LOT")]
    lot: String,
    /// Crop
    #[arg(long, value_name = "CROP")]
    crop: String,
    /// Variety, or whatever names the seed
    #[arg(long, value_name = "NAME", default_value = "")]
    variety: String,
    /// Thousand-kernel weight in grams
    #[arg(long, value_name = "GRAMS")]
    thousand_kernels: Option<f64>,
    /// Laboratory germination in percent
    #[arg(long, value_name = "PERCENT")]
    germination: Option<f64>,
    /// Day of the germination test: 2026-02-24
    #[arg(long, value_name = "DAY")]
    tested: Option<jiff::civil::Date>,
    /// Seed treatment or inoculant
    #[arg(long, value_name = "WORDS", default_value = "")]
    treatment: String,
    /// Mass on hand, with its unit: "12 kg"
    #[arg(long, value_name = "MASS")]
    on_hand: Option<String>,
    /// Caution from the product label, printed with the packets
    #[arg(long, value_name = "WORDS", default_value = "")]
    caution: String,
    /// Who enters it; every record says who
    #[arg(long, value_name = "NAME")]
    by: String,
    /// Why the papers change; needed when the lot is known
    #[arg(long, value_name = "REASON", default_value = "")]
    reason: String,
}

pub(crate) fn run(papers: &LotPapers) -> Result<String, StationError> {
    let on_hand = papers.on_hand.as_deref().map(quantity).transpose()?;
    let lot = Lot {
        code: papers.lot.clone(),
        crop: papers.crop.clone(),
        variety: papers.variety.clone(),
        thousand_kernel_weight_g: papers.thousand_kernels,
        germination_pct: papers.germination,
        germination_tested: papers.tested,
        treatment: papers.treatment.clone(),
        on_hand,
        caution: papers.caution.clone(),
    };
    let request = SaveLot { lot, by: papers.by.clone(), reason: papers.reason.clone() };
    let lot = super::open(&papers.at.station)?.save_lot(&request)?;
    Ok(format!("Seed lot {} is entered.\n", lot.code))
}

fn quantity(text: &str) -> Result<guardrow_agronomy::unit::Quantity, StationError> {
    text.parse().map_err(|error: guardrow_agronomy::unit::UnitError| {
        StationError::new(ErrorKind::NotUnderstood, error.to_string(), "--on-hand", error.help())
    })
}

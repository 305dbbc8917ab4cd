//! The plan of a trial: everything that a person decided before seeding.
//!
//! The same value is the body of a stored plan version, the JSON that the pages edit and the TOML plan file.
//! It may be incomplete while it is being written; [`crate::plan_check`] says what is still missing.

use guardrow_agronomy::unit::{Dimension, Quantity, Unit};
use guardrow_design::{Arrangement, Ground, TreatmentStructure};
use guardrow_findings::Question;
use guardrow_inference::Transform;

use crate::ValueKind;
use serde::{Deserialize, Serialize};

/// Everything that a person decided about one trial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Plan {
    /// Format of a plan file: `guardrow plan 1`.
    pub format: String,
    /// Name, place and people.
    pub trial: TrialHead,
    /// What the trial is to answer.
    pub question: Question,
    /// Factors and controls.
    pub treatments: TreatmentStructure,
    /// How they are put on the ground.
    pub arrangement: Arrangement,
    /// Plot sizes, numbering, alleys and guards.
    pub ground: Ground,
    /// What is to be observed.
    pub measures: Vec<Measure>,
    /// How plots are harvested; absent when the trial has no yield of its own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub harvest: Option<HarvestPlan>,
    /// Seed for the plots; absent when seed is not weighed by plot.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supply: Option<SupplyPlan>,
    /// Measures that are analysed adjusted for others (analysis of covariance).
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub adjustments: Vec<Adjustment>,
    /// Prices, for the amounts that pay best; absent when none are stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub money: Option<MoneyPlan>,
    /// By which rule a plot may be excluded, declared before yields are seen.
    pub exclusion_rule: String,
    /// Which columns of a table hold what, for a trial laid out elsewhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub table: Option<TableColumns>,
}

/// Name, place and people of a trial.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct TrialHead {
    /// Short code, unique in the station, printed on everything.
    pub code: String,
    /// Title in words.
    pub title: String,
    /// The crop year.
    pub season: i16,
    /// Piece of ground.
    pub site: String,
    /// Crop, as in the crop table; empty for a trial without one.
    pub crop: String,
    /// Currency of costs and prices, by its ISO 4217 code.
    pub currency: String,
    /// Who does what.
    pub people: Vec<Person>,
}

/// A person and the role in the trial.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Person {
    /// Name.
    pub name: String,
    /// Role.
    pub role: String,
}

/// What is observed: name, unit, when, method.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Measure {
    /// Short key, unique in the trial: the column name in every table (`stand_early`).
    pub key: String,
    /// Name for people.
    pub name: String,
    /// Unit of every value.
    #[schema(value_type = String)]
    pub unit: Unit,
    /// The event at which it is taken; measures of one event share a field sheet.
    pub event: String,
    /// How it is taken.
    #[serde(default)]
    pub method: String,
    /// Smallest and largest value that can be right; outside is refused.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range: Option<(f64, f64)>,
    /// What the values are; measurements when absent.
    #[serde(default, skip_serializing_if = "ValueKind::is_measured")]
    pub values: ValueKind,
    /// A transformation after which the values are analysed as well, beside the plain analysis.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub transformed: Option<Transform>,
    /// For a score: what the lowest and the highest value mean.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub anchors: Option<(String, String)>,
}

/// A measure whose treatment means are given as if all plots had been alike in others, such as yield for counted stand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Adjustment {
    /// Key of the measure that is adjusted.
    pub measure: String,
    /// Keys of the measures that it is adjusted for.
    pub by: Vec<String>,
}

/// Prices that a person stated: what the product brings and what amounts of factors cost.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct MoneyPlan {
    /// Key of the measure that is sold; the primary measure when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measure: Option<String>,
    /// What a mass of it brings, net of harvest and hauling; that of a claim's margin when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub price: Option<Quantity>,
    /// What amounts of factors cost.
    pub costs: Vec<AmountCost>,
}

/// What an amount of a factor costs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AmountCost {
    /// Name of the factor.
    pub factor: String,
    /// An amount of it, in the factor's own unit, above zero.
    pub amount: f64,
    /// What this amount costs more than none, per area.
    #[schema(value_type = String)]
    pub cost: Quantity,
}

/// How plots are harvested and quoted.
///
/// The measures of a harvest have fixed keys: `harvest_mass`, `harvest_moisture`, `harvested_length` and
/// `harvested_width`; the derived ones are `yield` (at standard moisture) and `yield_as_harvested`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HarvestPlan {
    /// Moisture, wet basis, that yields are quoted at, in percent; the crop's when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standard_moisture_pct: Option<f64>,
    /// Unit that yields are shown in: kg/ha, t/ha or bu/ac.
    #[schema(value_type = String)]
    pub yield_unit: Unit,
}

/// Seed for the plots.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SupplyPlan {
    /// Target stand; the first entry that fits a plot's treatment applies.
    pub stands: Vec<TargetStand>,
    /// Seed lot; the first entry that fits a plot's treatment applies.
    pub lots: Vec<LotUse>,
    /// Share of viable seeds expected to come up, in percent.
    pub emergence_pct: f64,
    /// Extra seed in each packet, in percent.
    #[serde(default)]
    pub overfill_pct: f64,
    /// Extra seed for each lot, in percent.
    #[serde(default)]
    pub reserve_pct: f64,
    /// Length that the seeder spreads one packet over, when it is not the gross plot length.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub sown_length: Option<Quantity>,
}

/// Target stand of some or all treatments.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TargetStand {
    /// Treatments that it holds for; all when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub only: Option<guardrow_findings::Side>,
    /// Plants per area.
    #[schema(value_type = String)]
    pub stand: Quantity,
}

/// The lot that some or all treatments are seeded from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LotUse {
    /// Treatments that it holds for; all when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub only: Option<guardrow_findings::Side>,
    /// Code of the lot in the station's register.
    pub lot: String,
}

/// Columns of a table that was laid out elsewhere.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(default, deny_unknown_fields)]
pub struct TableColumns {
    /// Column of the plot number; rows are numbered when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plot: Option<String>,
    /// Column of the replicate.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub replicate: Option<String>,
    /// Columns of the other units, by the unit's name; the unit's own name when absent. A unit that factors were randomised to
    /// can be told from their levels.
    #[serde(skip_serializing_if = "std::collections::BTreeMap::is_empty")]
    pub units: std::collections::BTreeMap<String, String>,
    /// Column of the treatment label, where one column holds the whole treatment (needed for controls).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub treatment: Option<String>,
    /// Column of each factor, by factor name; the factor's own name when absent.
    #[serde(skip_serializing_if = "std::collections::BTreeMap::is_empty")]
    pub factors: std::collections::BTreeMap<String, String>,
    /// Columns of range and pass.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub range: Option<String>,
    /// Column of the pass.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pass: Option<String>,
}

/// The format line of a plan file that this version writes.
pub const FORMAT: &str = "guardrow plan 1";

/// Where a new plan starts from: one seeder width of 1.5 m, 8 m long, four plots to a range. Everything is shown and can be
/// changed; common practice, no source.
fn usual_ground() -> Ground {
    Ground {
        plot_length_m: 8.0,
        plot_width_m: 1.5,
        harvested_length_m: 7.0,
        harvested_width_m: 1.5,
        rows: None,
        row_spacing_m: None,
        plots_per_range: 4,
        ranges_per_replicate: None,
        numbering: guardrow_design::Numbering::default(),
        alley_between_ranges_m: 1.0,
        alley_between_replicates_m: 1.0,
        guards_at_range_ends: 0,
        guards_between_main_plots: 0,
        guard_ranges: 0,
        north_bearing_deg: 0.0,
        seeder_start: guardrow_design::Corner::default(),
    }
}

impl Default for Plan {
    fn default() -> Plan {
        Plan {
            format: FORMAT.to_owned(),
            trial: TrialHead::default(),
            question: Question::default(),
            treatments: TreatmentStructure::default(),
            arrangement: Arrangement::RandomisedBlocks { replicates: 4 },
            ground: usual_ground(),
            measures: Vec::new(),
            harvest: None,
            supply: None,
            adjustments: Vec::new(),
            money: None,
            exclusion_rule: String::new(),
            table: None,
        }
    }
}

/// Keys of the measures that a harvest takes and makes.
pub(crate) mod harvest_key {
    pub(crate) const MASS: &str = "harvest_mass";
    pub(crate) const MOISTURE: &str = "harvest_moisture";
    pub(crate) const LENGTH: &str = "harvested_length";
    pub(crate) const WIDTH: &str = "harvested_width";
    pub(crate) const YIELD: &str = "yield";
    pub(crate) const AS_HARVESTED: &str = "yield_as_harvested";
}

/// The event at which plots are harvested.
pub(crate) const HARVEST_EVENT: &str = "Harvest";

impl Plan {
    /// The crop, when the plan names one of the crop table.
    pub fn crop(&self) -> Option<&'static guardrow_agronomy::crop::Crop> {
        guardrow_agronomy::crop::crop(&self.trial.crop).ok()
    }

    /// Currency of costs and prices; plain `money` when none is stated.
    pub(crate) fn currency(&self) -> &str {
        match self.trial.currency.trim() {
            "" => "money",
            currency => currency,
        }
    }

    /// The moisture that yields are quoted at, in percent: the plan's own, else the crop's.
    pub fn standard_moisture_pct(&self) -> Option<f64> {
        let own = self.harvest.as_ref().and_then(|harvest| harvest.standard_moisture_pct);
        own.or_else(|| self.crop()?.standard_moisture_pct.as_ref().map(|moisture| moisture.value))
    }

    /// All measures that are observed: the plan's, then those of the harvest.
    pub fn observed_measures(&self) -> Vec<Measure> {
        let mut measures = self.measures.clone();
        if self.harvest.is_some() {
            measures.extend(harvest_measures());
        }
        measures
    }

    /// Keys that a measure of the plan may not take.
    pub(crate) fn reserved_keys(&self) -> Vec<&'static str> {
        use harvest_key::*;
        match self.harvest {
            Some(_) => vec![MASS, MOISTURE, LENGTH, WIDTH, YIELD, AS_HARVESTED],
            None => Vec::new(),
        }
    }

    /// Name of a measure that can be analysed and the unit in which it is told, by its key: observed or derived. Shares are told
    /// in percent, counts per area or length that was searched where that differs.
    pub fn measured(&self, key: &str) -> Option<(String, Unit)> {
        if let Some(harvest) = &self.harvest
            && key == harvest_key::YIELD
        {
            return Some(("Yield".to_owned(), harvest.yield_unit));
        }
        self.observed_measures().into_iter().find(|measure| measure.key == key).map(|measure| {
            let unit = self.told_in(&measure);
            (measure.name, unit)
        })
    }

    fn told_in(&self, measure: &Measure) -> Unit {
        match &measure.values {
            ValueKind::Share { .. } => Unit::Percent,
            ValueKind::Counted { searched: Some(key), .. } => {
                let searched = self.measures.iter().find(|other| other.key == *key).map(|other| other.unit.dimension());
                match searched {
                    Some(Dimension::Area) => Unit::CountPerM2,
                    Some(Dimension::Length) => Unit::CountPerMetre,
                    _ => measure.unit,
                }
            }
            _ => measure.unit,
        }
    }

    /// Keys of all measures that can be analysed, the primary measure first.
    pub fn measured_keys(&self) -> Vec<String> {
        let mut keys = Vec::new();
        if self.harvest.is_some() {
            keys.push(harvest_key::YIELD.to_owned());
        }
        keys.extend(self.observed_measures().into_iter().map(|measure| measure.key));
        keys
    }

    /// Keys of the measures that this one is adjusted for.
    pub(crate) fn adjusted_by(&self, key: &str) -> Vec<&str> {
        let entries = self.adjustments.iter().filter(|entry| entry.measure == key);
        entries.flat_map(|entry| entry.by.iter().map(String::as_str)).collect()
    }

    /// The key of the measure that decides the main claim; without a claim the yield or the first measure.
    pub fn primary_measure(&self) -> Option<String> {
        let claimed = self.question.claims.first().map(|claim| claim.measure.clone());
        claimed.filter(|key| self.measured(key).is_some()).or_else(|| self.measured_keys().into_iter().next())
    }

    /// The target stand of a treatment.
    pub fn stand_of(&self, treatment: &guardrow_design::Treatment) -> Option<Quantity> {
        let supply = self.supply.as_ref()?;
        supply.stands.iter().find(|entry| self.fits(entry.only.as_ref(), treatment)).map(|entry| entry.stand)
    }

    /// The code of the lot that a treatment is seeded from.
    pub fn lot_of(&self, treatment: &guardrow_design::Treatment) -> Option<&str> {
        let supply = self.supply.as_ref()?;
        supply.lots.iter().find(|entry| self.fits(entry.only.as_ref(), treatment)).map(|entry| entry.lot.as_str())
    }

    fn fits(&self, only: Option<&guardrow_findings::Side>, treatment: &guardrow_design::Treatment) -> bool {
        let Some(side) = only else { return true };
        match &side.factor {
            None => treatment.label == side.level,
            Some(name) => self
                .treatments
                .factors
                .iter()
                .zip(&treatment.levels)
                .any(|(factor, &level)| factor.name == *name && factor.levels[level].label == side.level),
        }
    }
}

fn harvest_measures() -> Vec<Measure> {
    use harvest_key::*;
    let measure = |key: &str, name: &str, unit: Unit, method: &str, range: (f64, f64)| Measure {
        key: key.to_owned(),
        name: name.to_owned(),
        unit,
        event: HARVEST_EVENT.to_owned(),
        method: method.to_owned(),
        range: Some(range),
        values: ValueKind::Measured,
        transformed: None,
        anchors: None,
    };
    vec![
        measure(MASS, "Harvested mass", Unit::Kilogram, "Grain as it was weighed, tare taken off.", (0.0, 10_000.0)),
        measure(MOISTURE, "Grain moisture", Unit::Percent, "Wet basis, meter set to the crop.", (0.0, 99.9)),
        measure(LENGTH, "Harvested length", Unit::Metre, "Measured after the ends were trimmed.", (0.01, 10_000.0)),
        measure(WIDTH, "Harvested width", Unit::Metre, "Rows cut times row spacing.", (0.01, 1_000.0)),
    ]
}

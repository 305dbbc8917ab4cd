//! The trial of these tests: straw cover on main plots and seeding depth on plots, four replicates, in an invented place.

use guardrow_agronomy::unit::{Quantity, Unit};
use guardrow_design::{Arrangement, Factor, TreatmentStructure};
use guardrow_findings::{Claim, Comparison, Direction, Link, Margin, Premise, Rival, Side};
use guardrow_station::*;

/// Its code.
pub const CODE: &str = "HF-31-1";

pub fn quantity(text: &str) -> Quantity {
    Quantity::parse(text).expect("a quantity")
}

fn side(factor: &str, level: &str) -> Side {
    Side { factor: Some(factor.to_owned()), level: level.to_owned() }
}

pub fn measure(key: &str, name: &str, unit: Unit, event: &str) -> Measure {
    Measure {
        key: key.to_owned(),
        name: name.to_owned(),
        unit,
        event: event.to_owned(),
        method: String::new(),
        range: None,
        values: guardrow_station::ValueKind::Measured,
        transformed: None,
        anchors: None,
    }
}

pub fn plan() -> Plan {
    let comparison = Comparison { first: side("cover", "straw"), second: side("cover", "bare") };
    Plan {
        trial: TrialHead {
            code: CODE.to_owned(),
            title: "Straw cover and depth".to_owned(),
            season: 2031,
            site: "Low Field".to_owned(),
            crop: "faba bean".to_owned(),
            currency: "EUR".to_owned(),
            people: vec![Person { name: "A. Tester".to_owned(), role: "trial lead".to_owned() }],
        },
        question: guardrow_findings::Question {
            decision: "whether to leave the straw".to_owned(),
            who_acts: "growers of the valley".to_owned(),
            claims: vec![Claim {
                statement: "Straw cover raises the yield".to_owned(),
                measure: "yield".to_owned(),
                comparison,
                direction: Direction::Higher,
                margin: Some(Margin::Size(quantity("200 kg/ha"))),
            }],
            links: vec![Link {
                step: "more plants stand".to_owned(),
                measure: "stand".to_owned(),
                direction: Direction::Higher,
                smallest: Some(quantity("3 plants/m2")),
                when: "three weeks after seeding".to_owned(),
            }],
            rivals: vec![Rival { explanation: "fewer weeds".to_owned(), ..Rival::default() }],
            premise: Some(Premise { words: "the seedbed stayed moist".to_owned(), condition: None }),
        },
        treatments: TreatmentStructure {
            factors: vec![
                Factor::qualitative("cover", &["bare", "straw"]),
                Factor::quantitative("depth", "cm", &[4.0, 8.0]),
            ],
            controls: Vec::new(),
        },
        arrangement: Arrangement::SplitPlot { replicates: 4, main_plot_factors: vec!["cover".to_owned()] },
        measures: vec![measure("stand", "Stand", Unit::PlantsPerM2, "Stand count")],
        harvest: Some(HarvestPlan { standard_moisture_pct: None, yield_unit: Unit::KgPerHa }),
        supply: Some(SupplyPlan {
            stands: vec![TargetStand { only: None, stand: quantity("45 plants/m2") }],
            lots: vec![LotUse { only: None, lot: "B-1".to_owned() }],
            emergence_pct: 85.0,
            overfill_pct: 5.0,
            reserve_pct: 10.0,
            sown_length: None,
        }),
        exclusion_rule: "plots under water for a day".to_owned(),
        ..Plan::default()
    }
}

pub fn save(plan: Plan) -> SavePlan {
    SavePlan { plan, expected_version: None, by: "A. Tester".to_owned(), reason: String::new() }
}

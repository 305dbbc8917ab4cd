//! The trial of these tests.

use serde_json::{Value, json};

/// Who does everything in these tests.
pub const BY: &str = "R. Example";

/// A plan with two seeding dates in four blocks; the claim is about yield, the chain goes over the stand.
pub fn plan() -> Value {
    json!({
        "trial": {"code": "26-03", "title": "Early or late seeding of pea", "season": 2026, "site": "North field",
                  "crop": "field pea", "people": [{"name": BY, "role": "manager"}]},
        "question": {
            "decision": "Whether to seed pea before 10 May",
            "who_acts": "Pea growers of the district",
            "claims": [{"statement": "Early seeding raises yield", "measure": "yield", "direction": "higher",
                        "comparison": {"first": {"factor": "seeding", "level": "early"},
                                       "second": {"factor": "seeding", "level": "late"}},
                        "margin": "250 kg/ha"}],
            "links": [{"step": "Early seeding keeps the stand", "measure": "stand_early", "direction": "higher",
                       "smallest": "10 plants/m2", "when": "three weeks after seeding"}],
            "premise": {"words": "the seedbed was not cold"}
        },
        "treatments": {"factors": [{"name": "seeding", "levels": [{"label": "early"}, {"label": "late"}]}]},
        "arrangement": {"kind": "randomised_blocks", "replicates": 4},
        "ground": {"plot_length_m": 6.0, "plot_width_m": 1.5, "harvested_length_m": 5.0, "harvested_width_m": 1.2,
                   "plots_per_range": 2, "alley_between_ranges_m": 1.0, "alley_between_replicates_m": 2.0},
        "measures": [
            {"key": "stand_early", "name": "Stand", "unit": "plants/m2", "event": "stand count",
             "method": "two frames of 0.25 m2 in the inner rows"}
        ],
        "harvest": {"yield_unit": "kg/ha"},
        "supply": {"stands": [{"stand": "80 plants/m2"}], "lots": [{"lot": "PEA-1"}], "emergence_pct": 85.0},
        "exclusion_rule": "plots with more than a third lost to water"
    })
}

/// The lot that it is sown from.
pub fn lot() -> Value {
    json!({"lot": {"code": "PEA-1", "crop": "field pea", "variety": "unnamed line 1",
                   "thousand_kernel_weight_g": 230.0, "germination_pct": 94.0, "germination_tested": "2026-03-02",
                   "on_hand": "40 kg"}, "by": BY})
}

//! What is missing or wrong in a plan, each remark with the field that it stands at.

use guardrow_agronomy::crop::crop;
use guardrow_agronomy::unit::{Dimension, Unit};
use guardrow_design::{DesignError, Scale, method_sentence, skeleton};
use guardrow_findings::{Comparison, Margin, Trade, weights};
use guardrow_inference::TransformKind;

use crate::spelling::near;
use crate::{Measure, Plan, PlanCheck, Remark, ValueKind, Weight, Whole};

/// Looks a whole plan over. Remarks come gravest first; a plan without a remark of weight `Refuse` can be laid out.
pub fn check_plan(plan: &Plan) -> PlanCheck {
    let mut remarks = Remarks::default();
    check_head(plan, &mut remarks);
    check_treatments(plan, &mut remarks);
    check_ground(plan, &mut remarks);
    check_measures(plan, &mut remarks);
    check_adjustments(plan, &mut remarks);
    check_money(plan, &mut remarks);
    check_question(plan, &mut remarks);
    check_harvest(plan, &mut remarks);
    check_supply(plan, &mut remarks);
    let sound = plan.treatments.check().is_ok() && plan.arrangement.check(&plan.treatments).is_ok();
    let skeleton = sound.then(|| skeleton(&plan.treatments, &plan.arrangement)).and_then(Result::ok);
    if let Some(skeleton) = &skeleton {
        for notice in &skeleton.notices {
            remarks.warn(
                "arrangement",
                notice.sentence.clone(),
                "more replicates, fewer treatments, or an answer with wide intervals",
            );
        }
    }
    let labels = plan.treatments.treatments().into_iter().map(|treatment| treatment.label).collect();
    PlanCheck {
        margins: plan.question.claims.iter().map(|claim| margin_words(plan, claim)).collect(),
        method: sound.then(|| method_sentence(&plan.treatments, &plan.arrangement)).and_then(Result::ok),
        plots: if sound { plan.arrangement.plot_count(&plan.treatments) } else { 0 },
        treatments: if plan.treatments.check().is_ok() { labels } else { Vec::new() },
        remarks: remarks.gravest_first(),
        skeleton,
    }
}

#[derive(Default)]
struct Remarks(Vec<Remark>);

impl Remarks {
    fn add(&mut self, weight: Weight, place: impl Into<String>, what: impl Into<String>, try_this: impl Into<String>) {
        self.0.push(Remark { weight, place: place.into(), what: what.into(), try_this: try_this.into() });
    }

    fn refuse(&mut self, place: impl Into<String>, what: impl Into<String>, try_this: impl Into<String>) {
        self.add(Weight::Refuse, place, what, try_this);
    }

    fn warn(&mut self, place: impl Into<String>, what: impl Into<String>, try_this: impl Into<String>) {
        self.add(Weight::Warn, place, what, try_this);
    }

    fn note(&mut self, place: impl Into<String>, what: impl Into<String>, try_this: impl Into<String>) {
        self.add(Weight::Note, place, what, try_this);
    }

    fn gravest_first(mut self) -> Vec<Remark> {
        self.0.sort_by_key(|remark| std::cmp::Reverse(remark.weight));
        self.0
    }
}

fn check_head(plan: &Plan, remarks: &mut Remarks) {
    let head = &plan.trial;
    let fits = |sign: char| sign.is_ascii_alphanumeric() || sign == '-' || sign == '_';
    if head.code.is_empty() {
        remarks.refuse(
            "trial.code",
            "the trial has no code",
            "give it a short code such as 26-03; it is printed on everything",
        );
    } else if !head.code.chars().all(fits) || head.code.len() > 24 {
        remarks.refuse(
            "trial.code",
            format!("“{}” cannot be a code", head.code),
            "use letters without accents, digits, hyphens and underscores, at most 24",
        );
    }
    if head.title.trim().is_empty() {
        remarks.warn("trial.title", "the trial has no title", "say in a few words what is compared");
    }
    if !(1900..=2200).contains(&head.season) {
        remarks.refuse(
            "trial.season",
            format!("{} is not a crop year", head.season),
            "write the year of harvest, such as 2026",
        );
    }
    if !head.crop.is_empty()
        && let Err(error) = crop(&head.crop)
    {
        remarks.refuse("trial.crop", error.to_string(), error.help());
    }
}

fn check_treatments(plan: &Plan, remarks: &mut Remarks) {
    let treatments = plan.treatments.problems();
    for error in &treatments {
        design_remark("treatments", error, remarks);
    }
    if treatments.is_empty() {
        for error in plan.arrangement.problems(&plan.treatments) {
            design_remark("arrangement", &error, remarks);
        }
    }
}

fn check_ground(plan: &Plan, remarks: &mut Remarks) {
    for error in plan.ground.problems() {
        remarks.refuse("ground", error.to_string(), error.help());
    }
    for notice in plan.ground.notices() {
        remarks.note("ground", notice.sentence, "mend the sizes if that was not meant");
    }
}

fn design_remark(place: &str, error: &DesignError, remarks: &mut Remarks) {
    remarks.refuse(place, error.to_string(), error.help());
}

fn check_measures(plan: &Plan, remarks: &mut Remarks) {
    if plan.measures.is_empty() && plan.harvest.is_none() {
        remarks.warn("measures", "nothing is to be observed", "add the measures of the chain, or plan a harvest");
    }
    for (index, measure) in plan.measures.iter().enumerate() {
        let place = format!("measures[{index}]");
        check_key(plan, index, measure, &place, remarks);
        if measure.name.trim().is_empty() {
            remarks.warn(format!("{place}.name"), "a measure has no name", "name it as the crew calls it");
        }
        if measure.event.trim().is_empty() {
            remarks.refuse(
                format!("{place}.event"),
                format!("{} has no event", measure.key),
                "say on which walk it is taken; measures of one event share a sheet",
            );
        }
        if let Some((low, high)) = measure.range
            && (low > high || !low.is_finite() || !high.is_finite())
        {
            remarks.refuse(
                format!("{place}.range"),
                format!("the range of {} runs from {low} to {high}", measure.key),
                "write the smallest value first",
            );
        }
        check_values(plan, measure, &format!("{place}.values"), remarks);
    }
}

fn check_values(plan: &Plan, measure: &Measure, place: &str, remarks: &mut Remarks) {
    if let Some(key) = measure.values.beside() {
        let known = plan.measures.iter().any(|other| other.key == key);
        if key == measure.key || !known {
            remarks.refuse(
                place,
                format!("{} is counted against “{key}”, which is no other measure of this plan", measure.key),
                "name the measure that holds the number or the area of each plot, by its key",
            );
        }
    }
    let is_number = matches!(measure.unit.dimension(), Dimension::Count | Dimension::Score | Dimension::Index);
    if !measure.values.is_measured() && !is_number {
        remarks.refuse(
            place,
            format!("{} is in {}, which is not a number of things", measure.key, measure.unit.symbol()),
            "enter what was counted, in the unit “count” or the name of the things; or call the values measured",
        );
    }
    if measure.transformed.is_some_and(|it| it.by == TransformKind::Angular)
        && measure.unit != Unit::Percent
        && !matches!(measure.values, ValueKind::Share { .. })
    {
        remarks.refuse(
            place.replace(".values", ".transformed"),
            format!("the angle is for shares, and {} is in {}", measure.key, measure.unit.symbol()),
            "use the logarithm or the square root, or enter the share in percent",
        );
    }
    match &measure.values {
        ValueKind::Share { of: Whole::Number(0), .. } => {
            remarks.refuse(place, format!("{} is a share of 0", measure.key), "write out of how many was counted");
        }
        ValueKind::Share { of: Whole::Number(whole), .. }
            if measure.range.is_some_and(|(_, most)| most > f64::from(*whole)) =>
        {
            remarks.warn(
                place,
                format!("{} may be larger than the {whole} that it is a share of", measure.key),
                "let its range end at that number",
            );
        }
        ValueKind::Counted { searched: Some(key), .. } => check_searched(plan, measure, key, place, remarks),
        _ => {}
    }
}

fn check_searched(plan: &Plan, measure: &Measure, key: &str, place: &str, remarks: &mut Remarks) {
    let Some(searched) = plan.measures.iter().find(|other| other.key == key) else { return };
    if !matches!(searched.unit.dimension(), Dimension::Area | Dimension::Length) {
        remarks.refuse(
            place,
            format!("{} is searched for on {key}, which is in {}", measure.key, searched.unit.symbol()),
            "name a measure that is an area or a length",
        );
    }
}

fn check_key(plan: &Plan, index: usize, measure: &Measure, place: &str, remarks: &mut Remarks) {
    let key = &measure.key;
    let fits = key.chars().all(|sign| sign.is_ascii_lowercase() || sign.is_ascii_digit() || sign == '_')
        && key.starts_with(|sign: char| sign.is_ascii_lowercase());
    if !fits {
        remarks.refuse(
            format!("{place}.key"),
            format!("“{key}” cannot be the key of a measure"),
            "use small letters, digits and underscores, beginning with a letter: stand_early",
        );
    } else if plan.reserved_keys().contains(&key.as_str()) {
        remarks.refuse(
            format!("{place}.key"),
            format!("“{key}” is made by the harvest itself"),
            "use another key, or take the harvest out of the plan",
        );
    } else if plan.measures[..index].iter().any(|earlier| earlier.key == *key) {
        remarks.refuse(format!("{place}.key"), format!("two measures have the key “{key}”"), "give each its own key");
    }
}

fn check_adjustments(plan: &Plan, remarks: &mut Remarks) {
    for (index, entry) in plan.adjustments.iter().enumerate() {
        let place = format!("adjustments[{index}]");
        for key in std::iter::once(&entry.measure).chain(&entry.by) {
            if plan.measured(key).is_none() {
                unknown_measure(plan, &place, key, "an adjustment", remarks);
            }
        }
        if entry.by.is_empty() {
            remarks.refuse(
                format!("{place}.by"),
                format!("{} is adjusted for nothing", entry.measure),
                "name the measures that it is adjusted for, or take the entry out",
            );
        }
        for (at, key) in entry.by.iter().enumerate() {
            if *key == entry.measure || entry.by[..at].contains(key) {
                remarks.refuse(
                    format!("{place}.by"),
                    format!("{key} stands twice in one adjustment"),
                    "adjust a measure for others, each named once",
                );
            }
        }
        if plan.adjustments[..index].iter().any(|earlier| earlier.measure == entry.measure) {
            remarks.refuse(
                place,
                format!("{} is adjusted in two entries", entry.measure),
                "put all measures that it is adjusted for into one entry",
            );
        }
    }
}

fn check_money(plan: &Plan, remarks: &mut Remarks) {
    let Some(money) = &plan.money else { return };
    if let Some(key) = money.measure.as_ref().filter(|key| plan.measured(key).is_none()) {
        unknown_measure(plan, "money", key, "a price", remarks);
    }
    if !money.costs.is_empty() && plan.product_price().is_none() {
        remarks.warn(
            "money.price",
            "amounts have a cost, but the product has no price",
            "write what it brings, such as 0.21 EUR/kg; without it no amount that pays best is told",
        );
    }
    for (index, cost) in money.costs.iter().enumerate() {
        let place = format!("money.costs[{index}]");
        let factor = plan.treatments.factors.iter().find(|factor| factor.name == cost.factor);
        match factor.map(|factor| &factor.scale) {
            None => remarks.refuse(
                format!("{place}.factor"),
                format!("“{}” is not a factor of this trial", cost.factor),
                "name a factor whose levels have amounts",
            ),
            Some(Scale::Qualitative) => remarks.refuse(
                format!("{place}.factor"),
                format!("the levels of {} have no amounts", cost.factor),
                "give costs to factors whose levels have amounts",
            ),
            Some(Scale::Quantitative { .. }) => {}
        }
        if money.costs[..index].iter().any(|earlier| earlier.factor == cost.factor) {
            remarks.refuse(&place, format!("{} has two costs", cost.factor), "leave one of them");
        }
        if !(cost.amount > 0.0 && cost.amount.is_finite()) {
            remarks.refuse(
                format!("{place}.amount"),
                format!("{} is no amount that could cost anything", cost.amount),
                "write an amount above zero and what it costs per area",
            );
        } else if let Some(Err(error)) = plan.paying_for(cost) {
            remarks.refuse(place, error.to_string(), error.help());
        }
    }
}

fn check_question(plan: &Plan, remarks: &mut Remarks) {
    let question = &plan.question;
    if question.decision.trim().is_empty() {
        remarks.warn(
            "question.decision",
            "the question says no decision that it serves",
            "write what somebody will do differently when the answer is yes or no",
        );
    }
    if question.claims.is_empty() {
        remarks.warn(
            "question.claims",
            "there is no claim",
            "write what is claimed of which options, so that a verdict can be given",
        );
    }
    for (index, claim) in question.claims.iter().enumerate() {
        check_claim(plan, index, claim, remarks);
    }
    for (index, link) in question.links.iter().enumerate() {
        check_measured(plan, &format!("question.links[{index}]"), &link.measure, "link", &link.step, remarks);
    }
    for (index, rival) in question.rivals.iter().enumerate() {
        check_measured(
            plan,
            &format!("question.rivals[{index}]"),
            &rival.measure,
            "rival",
            &rival.explanation,
            remarks,
        );
    }
    if question.links.is_empty() && !question.claims.is_empty() {
        remarks.note(
            "question.links",
            "no chain is written",
            "write the measurable steps from the cause to the outcome, so that a surprise can be explained",
        );
    }
}

fn check_claim(plan: &Plan, index: usize, claim: &guardrow_findings::Claim, remarks: &mut Remarks) {
    let place = format!("question.claims[{index}]");
    match plan.measured(&claim.measure) {
        None => unknown_measure(plan, &format!("{place}.measure"), &claim.measure, "the claim", remarks),
        Some((name, unit)) => match &claim.margin {
            None => remarks.warn(
                format!("{place}.margin"),
                "the claim has no margin, so there will be no verdict",
                "write the smallest difference worth acting on, or what it costs and what the crop is worth",
            ),
            Some(margin) => {
                if let Err(error) = margin.in_unit(unit, &name, "margin", trade(plan)) {
                    remarks.refuse(format!("{place}.margin"), error.to_string(), error.help());
                }
            }
        },
    }
    if plan.treatments.check().is_ok() {
        check_comparison(plan, &claim.comparison, &place, remarks);
    }
}

fn check_comparison(plan: &Plan, comparison: &Comparison, place: &str, remarks: &mut Remarks) {
    if let Err(error) = weights(comparison, &plan.treatments) {
        remarks.refuse(format!("{place}.comparison"), error.to_string(), error.help());
    }
}

fn check_measured(plan: &Plan, place: &str, key: &str, kind: &str, words: &str, remarks: &mut Remarks) {
    if key.is_empty() {
        remarks.warn(
            format!("{place}.measure"),
            format!("the {kind} “{words}” has no planned measure"),
            "plan a measure for it, or be ready not to know whether it held",
        );
    } else if plan.measured(key).is_none() {
        unknown_measure(plan, &format!("{place}.measure"), key, &format!("the {kind} “{words}”"), remarks);
    }
}

fn unknown_measure(plan: &Plan, place: &str, key: &str, of: &str, remarks: &mut Remarks) {
    let keys = plan.measured_keys();
    if key.is_empty() {
        remarks.warn(place, format!("{of} names no measure"), "choose the measure that decides it");
        return;
    }
    let try_this = near(key, &keys)
        .map_or_else(|| format!("the measures are {}", keys.join(", ")), |near| format!("did you mean “{near}”?"));
    remarks.refuse(place, format!("{of} names “{key}”, which is not measured"), try_this);
}

fn check_harvest(plan: &Plan, remarks: &mut Remarks) {
    let Some(harvest) = &plan.harvest else { return };
    if plan.standard_moisture_pct().is_none() {
        remarks.refuse(
            "harvest.standard_moisture_pct",
            "no standard moisture is known for this crop",
            "write the moisture, wet basis, that yields are quoted at",
        );
    }
    if let Some(moisture) = harvest.standard_moisture_pct
        && !(0.0..100.0).contains(&moisture)
    {
        remarks.refuse(
            "harvest.standard_moisture_pct",
            format!("{moisture} % cannot be a standard moisture"),
            "write a percentage from 0 to under 100",
        );
    }
    let kg_ha = guardrow_agronomy::unit::Quantity { value: 1.0, unit: Unit::KgPerHa };
    let convertible = match plan.crop() {
        Some(crop) => kg_ha.to_for_crop(harvest.yield_unit, crop),
        None => kg_ha.to(harvest.yield_unit),
    };
    if let Err(error) = convertible {
        remarks.refuse("harvest.yield_unit", error.to_string(), error.help());
    }
}

fn check_supply(plan: &Plan, remarks: &mut Remarks) {
    let Some(supply) = &plan.supply else { return };
    for (field, value) in [
        ("emergence_pct", supply.emergence_pct),
        ("overfill_pct", supply.overfill_pct),
        ("reserve_pct", supply.reserve_pct),
    ] {
        let least = if field == "emergence_pct" { f64::MIN_POSITIVE } else { 0.0 };
        if !(least..=100.0).contains(&value) {
            remarks.refuse(format!("supply.{field}"), format!("{value} % is outside 0 to 100 %"), "write a percentage");
        }
    }
    if supply.emergence_pct > 0.0 && supply.emergence_pct <= 1.0 {
        remarks.warn(
            "supply.emergence_pct",
            format!("an emergence of {} is read as {} %", supply.emergence_pct, supply.emergence_pct),
            format!("write {} if {} % is meant", supply.emergence_pct * 100.0, supply.emergence_pct * 100.0),
        );
    }
    for (index, stand) in supply.stands.iter().enumerate() {
        let plants = stand.stand.to(Unit::PlantsPerM2);
        match plants {
            Ok(plants) if plants > 0.0 => {}
            Ok(_) => remarks.refuse(
                format!("supply.stands[{index}]"),
                "a target stand must be above zero",
                "write plants per area",
            ),
            Err(error) => remarks.refuse(format!("supply.stands[{index}]"), error.to_string(), error.help()),
        }
    }
    if !plan.treatments.treatments().is_empty() && plan.treatments.check().is_ok() {
        for treatment in plan.treatments.treatments() {
            if plan.stand_of(&treatment).is_none() {
                remarks.refuse(
                    "supply.stands",
                    format!("no target stand fits the treatment “{}”", treatment.label),
                    "add one for it, or one for all",
                );
            }
            if plan.lot_of(&treatment).is_none() {
                remarks.refuse(
                    "supply.lots",
                    format!("no seed lot fits the treatment “{}”", treatment.label),
                    "add one for it, or one for all",
                );
            }
        }
    }
}

fn margin_words(plan: &Plan, claim: &guardrow_findings::Claim) -> Option<String> {
    let (name, unit) = plan.measured(&claim.measure)?;
    let margin: &Margin = claim.margin.as_ref()?;
    margin.in_unit(unit, &name, "margin", trade(plan)).ok().map(|margin| margin.words)
}

/// What a margin needs to know of the trial.
fn trade(plan: &Plan) -> Trade<'_> {
    Trade { crop: plan.crop(), currency: plan.currency() }
}

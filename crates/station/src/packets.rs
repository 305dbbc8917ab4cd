//! The seed for each plot, and what each lot has to give.

use std::collections::BTreeMap;

use guardrow_agronomy::amount::GroundArea;
use guardrow_agronomy::limits::{Level, Remark as Finding};
use guardrow_agronomy::packet::{Fill, LotBalance, Packet, PacketPlan, packet_decimals};
use guardrow_agronomy::rounding::shown;
use guardrow_agronomy::seed::{FieldEmergence, Germination, Survival, TargetStand, ThousandKernelWeight};
use guardrow_agronomy::unit::Unit;
use guardrow_design::Treatment;

use crate::dossier::Dossier;
use crate::error::ErrorKind;
use crate::{Lot, LotNeed, PacketLine, PacketsView, Remark, Station, StationError, SupplyPlan, Weight};

/// A germination test older than this is remarked; common practice, no source.
const OLD_TEST_DAYS: i32 = 365;

impl Station {
    /// Packets in seeding order, and the need per lot.
    ///
    /// # Errors
    /// [`ErrorKind::Refused`] when seed is not planned, a lot is not registered, or its papers are incomplete.
    pub fn packets(&self, code: &str) -> Result<PacketsView, StationError> {
        let trial = self.dossier(code)?;
        let today = crate::station::date(self.now());
        packets(&trial, &self.lots()?, today)
    }
}

/// Works out all packets of a trial.
pub(crate) fn packets(trial: &Dossier, lots: &[Lot], today: jiff::civil::Date) -> Result<PacketsView, StationError> {
    let supply = trial.plan.supply.as_ref().ok_or_else(|| {
        refused(
            format!("seed is not planned for trial {}", trial.code()),
            "supply",
            "write target stand, expected emergence and lots into the plan",
        )
    })?;
    let laid = trial.laid()?;
    let mut remarks = Vec::new();
    let area = sown_area(trial, supply)?;
    let mut by_treatment: BTreeMap<usize, (Packet, Lot)> = BTreeMap::new();
    let mut lines = Vec::new();
    let mut per_lot: BTreeMap<String, Vec<Packet>> = BTreeMap::new();
    for (index, plot) in laid.seeding().into_iter().enumerate() {
        let (Some(number), Some(treatment)) = (plot.number, plot.treatment) else { continue };
        if let std::collections::btree_map::Entry::Vacant(vacant) = by_treatment.entry(treatment) {
            vacant.insert(packet_of(trial, supply, &trial.treatments()[treatment], lots, area)?);
        }
        let (packet, lot) = &by_treatment[&treatment];
        per_lot.entry(lot.code.clone()).or_default().push(packet.clone());
        lines.push(PacketLine {
            sequence: index + 1,
            plot: number,
            treatment: trial.treatment_labels()[treatment].clone(),
            lot: lot.code.clone(),
            seeds: u32::try_from(packet.seeds).unwrap_or(u32::MAX),
            grams: packet.grams,
            grams_shown: format!("{} g", shown(packet.grams, packet_decimals(packet.grams_exact))),
            how: packet.formula.clone(),
        });
    }
    for (treatment, (packet, _)) in &by_treatment {
        let place = format!("packets of {}", trial.treatment_labels()[*treatment]);
        remarks.extend(packet.remarks.iter().map(|finding| remark(&place, finding)));
    }
    let mut needs = Vec::new();
    for (code, packets) in &per_lot {
        let lot = lots.iter().find(|lot| lot.code == *code).expect("its packets were worked out from it");
        remarks.extend(test_age(lot, today));
        needs.push(need(lot, packets, supply, &mut remarks)?);
    }
    remarks.dedup();
    remarks.sort_by_key(|remark| std::cmp::Reverse(remark.weight));
    Ok(PacketsView { packets: lines, lots: needs, remarks })
}

fn sown_area(trial: &Dossier, supply: &SupplyPlan) -> Result<GroundArea, StationError> {
    let ground = &trial.plan.ground;
    let length = match supply.sown_length {
        None => ground.plot_length_m,
        Some(length) => {
            length.to(Unit::Metre).map_err(|error| refused(error.to_string(), "supply.sown_length", error.help()))?
        }
    };
    let width = match (ground.rows, ground.row_spacing_m) {
        (Some(rows), Some(spacing)) => f64::from(rows) * spacing,
        _ => ground.plot_width_m,
    };
    GroundArea::square_metres(length * width).map_err(|error| refused(error.to_string(), "ground", error.help()))
}

fn packet_of(
    trial: &Dossier,
    supply: &SupplyPlan,
    treatment: &Treatment,
    lots: &[Lot],
    sown_area: GroundArea,
) -> Result<(Packet, Lot), StationError> {
    let label = &treatment.label;
    let code = trial.plan.lot_of(treatment).ok_or_else(|| {
        refused(format!("no seed lot fits the treatment “{label}”"), "supply.lots", "add one for it, or one for all")
    })?;
    let stand = trial.plan.stand_of(treatment).ok_or_else(|| {
        refused(
            format!("no target stand fits the treatment “{label}”"),
            "supply.stands",
            "add one for it, or one for all",
        )
    })?;
    let lot = lots.iter().find(|lot| lot.code.eq_ignore_ascii_case(code)).ok_or_else(|| {
        refused(
            format!("lot {code} is not in the register"),
            "supply.lots",
            "enter the lot with its papers, or name another",
        )
    })?;
    let paper = |value: Option<f64>, name: &str| {
        value.ok_or_else(|| {
            refused(
                format!("lot {code} has no {name} on file, and no packet can be worked out without it"),
                format!("lot {code}"),
                "enter it from the seed test; it is never assumed",
            )
        })
    };
    let at =
        |error: guardrow_agronomy::limits::Refused| refused(error.to_string(), format!("lot {code}"), error.help());
    let germination = Germination::percent(paper(lot.germination_pct, "germination")?).map_err(at)?;
    let emergence = FieldEmergence::percent(supply.emergence_pct)
        .map_err(|error| refused(error.to_string(), "supply.emergence_pct", error.help()))?;
    let plan = PacketPlan {
        target_stand: TargetStand::of(stand)
            .map_err(|error| refused(error.to_string(), "supply.stands", error.help()))?,
        survival: Survival::product(germination, emergence),
        tkw: ThousandKernelWeight::grams(paper(lot.thousand_kernel_weight_g, "thousand-kernel weight")?).map_err(at)?,
        sown_area,
        overfill_pct: supply.overfill_pct,
        fill: Fill::Weight,
    };
    let packet = plan.packet().map_err(|error| refused(error.to_string(), "supply", error.help()))?;
    Ok((packet, lot.clone()))
}

fn need(
    lot: &Lot,
    packets: &[Packet],
    supply: &SupplyPlan,
    remarks: &mut Vec<Remark>,
) -> Result<LotNeed, StationError> {
    let place = format!("lot {}", lot.code);
    let weight = ThousandKernelWeight::grams(lot.thousand_kernel_weight_g.unwrap_or_default())
        .map_err(|error| refused(error.to_string(), place.clone(), error.help()))?;
    let on_hand_g = lot.on_hand.and_then(|mass| mass.to(Unit::Gram).ok());
    let balance = LotBalance::of(packets, supply.reserve_pct, on_hand_g.unwrap_or_default(), weight)
        .map_err(|error| refused(error.to_string(), place.clone(), error.help()))?;
    match on_hand_g {
        Some(_) => remarks.extend(balance.remarks.iter().map(|finding| remark(&place, finding))),
        None => remarks.push(Remark {
            weight: Weight::Note,
            place,
            what: format!("how much of lot {} is on hand is not entered", lot.code),
            try_this: "weigh it, and enter it in the register, so that a shortfall shows before packing".to_owned(),
        }),
    }
    Ok(LotNeed {
        lot: lot.code.clone(),
        need_g: balance.need_grams,
        on_hand_g,
        left_g: on_hand_g.map(|_| balance.left_grams),
    })
}

fn test_age(lot: &Lot, today: jiff::civil::Date) -> Option<Remark> {
    let place = format!("lot {}", lot.code);
    let warn = |what: String, try_this: &str| {
        Some(Remark { weight: Weight::Warn, place: place.clone(), what, try_this: try_this.to_owned() })
    };
    match lot.germination_tested {
        None => warn("the germination has no test date".to_owned(), "enter the date from the seed test"),
        Some(tested) => {
            let days = (today - tested).get_days();
            if days < 0 {
                return warn(format!("the germination test is dated {tested}, in the future"), "mend the date");
            }
            (days > OLD_TEST_DAYS)
                .then(|| warn(format!("the germination test is {days} days old"), "test again before packing"))
                .flatten()
        }
    }
}

fn remark(place: &str, finding: &Finding) -> Remark {
    Remark {
        weight: match finding.level {
            Level::Note => Weight::Note,
            Level::Warn => Weight::Warn,
            Level::Refuse => Weight::Refuse,
        },
        place: place.to_owned(),
        what: finding.sentence.clone(),
        try_this: finding.help.clone(),
    }
}

fn refused(what: impl Into<String>, place: impl Into<String>, try_this: impl Into<String>) -> StationError {
    StationError::new(ErrorKind::Refused, what, place, try_this)
}

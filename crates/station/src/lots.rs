//! Entering seed lots and their papers.

use guardrow_store::{NewLot, NewVersion, new_id};

use crate::error::ErrorKind;
use crate::station::{named, to_json};
use crate::{Lot, Remark, SaveLot, Station, StationError, Weight};

impl Station {
    /// Records a lot, or a new version of its papers.
    ///
    /// # Errors
    /// [`ErrorKind::Refused`] with the fields that cannot be right, or when a known lot changes without a reason.
    pub fn save_lot(&self, request: &SaveLot) -> Result<Lot, StationError> {
        let by = named(&request.by)?;
        let lot = &request.lot;
        refuse_bad_papers(lot)?;
        let now = self.now();
        let reason = request.reason.trim();
        let papers = NewVersion {
            body: to_json(lot),
            recorded_at: now,
            by: by.to_owned(),
            reason: Some(reason.to_owned()).filter(|reason| !reason.is_empty()),
        };
        self.store.write(|writing| {
            let (id, version) = match writing.lot_by_code(&lot.code)? {
                None => {
                    let id = new_id(now);
                    writing.create_lot(&NewLot { id, code: lot.code.clone(), created_at: now, by: by.to_owned() })?;
                    (id, 0)
                }
                Some(known) => {
                    let latest = writing.latest_lot_version(known.id)?;
                    if latest.as_ref().is_some_and(|latest| latest.body == papers.body) {
                        return Ok(());
                    }
                    if reason.is_empty() {
                        return Err(change_needs_reason(&lot.code));
                    }
                    (known.id, latest.map_or(0, |latest| latest.version))
                }
            };
            writing.append_lot_version(id, version, &papers)?;
            Ok::<_, StationError>(())
        })?;
        Ok(lot.clone())
    }
}

fn change_needs_reason(code: &str) -> StationError {
    StationError::new(
        ErrorKind::Refused,
        format!("lot {code} is known already, with other papers"),
        "field reason",
        "say why the papers change (a new germination test, a slip), or give another lot another code",
    )
}

/// Refuses papers that cannot be right; doubtful ones are remarked when packets are computed.
fn refuse_bad_papers(lot: &Lot) -> Result<(), StationError> {
    let mut remarks = Vec::new();
    let mut refuse = |place: &str, what: String, try_this: &str| {
        remarks.push(Remark {
            weight: Weight::Refuse,
            place: format!("lot.{place}"),
            what,
            try_this: try_this.to_owned(),
        });
    };
    if lot.code.trim().is_empty() {
        refuse("code", "the lot has no code".to_owned(), "write the code that stands on the bag");
    }
    if let Err(error) = guardrow_agronomy::crop::crop(&lot.crop) {
        refuse("crop", error.to_string(), &error.help());
    }
    if let Some(weight) = lot.thousand_kernel_weight_g
        && !(weight > 0.0 && weight.is_finite())
    {
        refuse(
            "thousand_kernel_weight_g",
            format!("a thousand-kernel weight of {weight} g cannot be"),
            "write grams per thousand kernels",
        );
    }
    if let Some(germination) = lot.germination_pct
        && !(germination > 0.0 && germination <= 100.0)
    {
        refuse(
            "germination_pct",
            format!("a germination of {germination} % cannot be"),
            "write a percentage above 0, at most 100",
        );
    }
    if let Some(mass) = lot.on_hand {
        match mass.to(guardrow_agronomy::unit::Unit::Gram) {
            Ok(grams) if grams >= 0.0 => {}
            Ok(_) => refuse(
                "on_hand",
                "the mass on hand is negative".to_owned(),
                "write the mass that is left, zero for none",
            ),
            Err(error) => refuse("on_hand", error.to_string(), &error.help()),
        }
    }
    if remarks.is_empty() {
        return Ok(());
    }
    Err(StationError::new(
        ErrorKind::Refused,
        format!("the papers of lot {} cannot be right", lot.code),
        "",
        "mend the fields that are named",
    )
    .with_remarks(remarks))
}

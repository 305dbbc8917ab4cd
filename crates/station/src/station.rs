//! A station that is open: the store, the clock, and how everything below is found.

use std::path::{Path, PathBuf};

use guardrow_store::{Info, Moment, Reading, Store};
use serde_json::json;

use crate::beside::Remembered;
use crate::dossier::{Dossier, Laid};
use crate::error::ErrorKind;
use crate::{LayoutLine, Lot, Plan, StationError, StationView};

/// Tells the time; handed in so that a demonstration or a test can set it.
pub type Clock = fn() -> jiff::Timestamp;

/// One research farm's data, open for reading and writing.
pub struct Station {
    pub(crate) store: Store,
    pub(crate) remembered: Remembered,
    clock: Clock,
}

const NAME: &str = "name";
const INVENTED: &str = "invented";

impl Station {
    /// Makes a new station in an empty folder.
    ///
    /// # Errors
    /// When the folder holds something else, or cannot be written.
    pub fn create(folder: &Path, name: &str, clock: Clock) -> Result<Station, StationError> {
        let station = Station { store: Store::create(folder)?, remembered: Remembered::default(), clock };
        station.tell(NAME, json!(name), "guardrow")?;
        Ok(station)
    }

    /// Opens the station of a folder.
    ///
    /// # Errors
    /// When it is no station, is in use, damaged, or was made by a newer version.
    pub fn open(folder: &Path, clock: Clock) -> Result<Station, StationError> {
        Ok(Station { store: Store::open(folder)?, remembered: Remembered::default(), clock })
    }

    /// Marks all data of the station as invented for demonstration; printed on everything.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn mark_invented(&self, by: &str) -> Result<(), StationError> {
        self.tell(INVENTED, json!(true), by)
    }

    /// Name, trials and lots.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn view(&self) -> Result<StationView, StationError> {
        Ok(StationView {
            name: self.name()?,
            invented: self.is_invented()?,
            trials: self.trial_lines()?,
            lots: self.lots()?,
        })
    }

    /// The folder of the station.
    pub fn folder(&self) -> &Path {
        self.store.folder().path()
    }

    /// The file of a publication.
    ///
    /// # Errors
    /// [`ErrorKind::NotThere`] when there is none of that name.
    pub fn publication(&self, file: &str) -> Result<PathBuf, StationError> {
        let plain = Path::new(file).components().all(|part| matches!(part, std::path::Component::Normal(_)));
        let path = self.store.folder().publications().join(file);
        if plain && path.is_file() {
            return Ok(path);
        }
        Err(StationError::new(
            ErrorKind::NotThere,
            format!("there is no publication “{file}”"),
            "",
            "look at the list of publications of the trial",
        ))
    }

    pub(crate) fn name(&self) -> Result<String, StationError> {
        let info = self.store.info(NAME)?;
        Ok(info.and_then(|info| info.value.as_str().map(str::to_owned)).unwrap_or_default())
    }

    pub(crate) fn is_invented(&self) -> Result<bool, StationError> {
        Ok(self.store.info(INVENTED)?.is_some_and(|info| info.value == json!(true)))
    }

    pub(crate) fn now(&self) -> Moment {
        (self.clock)()
    }

    fn tell(&self, key: &str, value: serde_json::Value, by: &str) -> Result<(), StationError> {
        let info = Info { key: key.to_owned(), value, recorded_at: self.now(), by: by.to_owned() };
        Ok(self.store.set_info(&info)?)
    }

    /// Everything stored about one trial's plan and current layout.
    pub(crate) fn dossier(&self, code: &str) -> Result<Dossier, StationError> {
        self.store.read(|reading| dossier(reading, code))
    }

    pub(crate) fn lots(&self) -> Result<Vec<Lot>, StationError> {
        self.store.read(lots)
    }
}

pub(crate) fn dossier(reading: &Reading<'_>, code: &str) -> Result<Dossier, StationError> {
    let trial = reading.trial_by_code(code)?.ok_or_else(|| no_such_trial(code))?;
    let stored = reading.latest_plan(trial.id)?.ok_or_else(|| no_such_trial(code))?;
    let plan = read_plan(&stored)?;
    let laid = match reading.latest_layout(trial.id)? {
        Some(layout) => Some(laid(reading, &layout)?),
        None => None,
    };
    Ok(Dossier::new(trial.id, plan, stored.version, laid))
}

/// The trial as it stood at a moment: the plan that was saved last by then, and the layout that was drawn last.
pub(crate) fn dossier_at(reading: &Reading<'_>, code: &str, moment: Moment) -> Result<Dossier, StationError> {
    let trial = reading.trial_by_code(code)?.ok_or_else(|| no_such_trial(code))?;
    let stored = reading.plan_as_of(trial.id, moment)?.ok_or_else(|| {
        let first = reading.plan_versions(trial.id).ok().and_then(|plans| Some(plans.first()?.recorded_at));
        let try_this = first.map_or_else(String::new, |first| format!("choose a time after {}", to_the_second(first)));
        let what = format!("trial {code} did not exist yet at {}", to_the_second(moment));
        StationError::new(ErrorKind::NotThere, what, "as_of", try_this)
    })?;
    let drawn = reading.layout_versions(trial.id)?.into_iter().rev().find(|layout| layout.drawn_at <= moment);
    let laid = drawn.map(|layout| laid(reading, &layout)).transpose()?;
    Ok(Dossier::new(trial.id, read_plan(&stored)?, stored.version, laid))
}

pub(crate) fn laid(reading: &Reading<'_>, stored: &guardrow_store::Layout) -> Result<Laid, StationError> {
    let plan = reading.plan(stored.trial_id, stored.plan_version)?;
    let plan = plan.ok_or_else(|| unreadable("layout", "its plan is gone"))?;
    let body = serde_json::from_value(stored.body.clone()).map_err(|error| unreadable("layout", error))?;
    Ok(Laid::new(stored.id, layout_line(reading, stored)?, stored.plan_version, &read_plan(&plan)?, body))
}

pub(crate) fn layout_line(reading: &Reading<'_>, stored: &guardrow_store::Layout) -> Result<LayoutLine, StationError> {
    let locks = reading.layout_locks(stored.id)?;
    Ok(LayoutLine {
        version: stored.version,
        seed: stored.seed.clone().unwrap_or_default(),
        algorithm: stored.algorithm.parse().unwrap_or(0),
        drawn_at: stored.drawn_at,
        by: stored.by.clone(),
        reason: stored.reason.clone().unwrap_or_default(),
        locked: locks.first().map(|lock| format!("{}, {}", lock.what, day(lock.locked_at))),
    })
}

pub(crate) fn lots(reading: &Reading<'_>) -> Result<Vec<Lot>, StationError> {
    let mut lots = Vec::new();
    for lot in reading.lots()? {
        if let Some(version) = reading.latest_lot_version(lot.id)? {
            lots.push(serde_json::from_value(version.body).map_err(|error| unreadable("lot", error))?);
        }
    }
    Ok(lots)
}

pub(crate) fn read_plan(stored: &guardrow_store::Plan) -> Result<Plan, StationError> {
    serde_json::from_value(stored.body.clone()).map_err(|error| unreadable("plan", error))
}

pub(crate) fn to_json<T: serde::Serialize>(value: &T) -> serde_json::Value {
    serde_json::to_value(value).expect("our own types have no keys or numbers that JSON cannot hold")
}

pub(crate) fn unreadable(what: &str, why: impl std::fmt::Display) -> StationError {
    StationError::new(
        ErrorKind::Damaged,
        format!("a stored {what} cannot be read: {why}"),
        "",
        "restore the station from its latest backup, and keep the damaged folder",
    )
}

fn no_such_trial(code: &str) -> StationError {
    StationError::new(
        ErrorKind::NotThere,
        format!("there is no trial “{code}”"),
        "",
        "look at the list of trials; a code is printed on every sheet",
    )
}

/// The calendar day of a moment, UTC.
pub(crate) fn date(moment: Moment) -> jiff::civil::Date {
    jiff::tz::TimeZone::UTC.to_datetime(moment).date()
}

/// The day of a moment, UTC, for people.
pub(crate) fn day(moment: Moment) -> String {
    moment.strftime("%Y-%m-%d").to_string()
}

/// A moment to the second, UTC, for people.
pub(crate) fn to_the_second(moment: Moment) -> String {
    moment.strftime("%Y-%m-%d %H:%M:%S UTC").to_string()
}

/// Who did something; refused when nobody is named, since every record says who.
pub(crate) fn named(by: &str) -> Result<&str, StationError> {
    match by.trim() {
        "" => Err(StationError::new(
            ErrorKind::Refused,
            "nobody is named for this record",
            "field by",
            "write who does it; every record says who",
        )),
        name => Ok(name),
    }
}

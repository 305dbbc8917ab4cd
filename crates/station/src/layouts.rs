//! Drawing a layout, looking at its versions, and locking it.

use guardrow_design::{ALGORITHM, Layout, PlotKind, Seed, draw, lay_out};
use guardrow_publish::chart::plot_map_to_touch;
use guardrow_store::{LayoutLock, NewLayout, Plot, new_id};

use crate::dossier::{Dossier, Laid};
use crate::error::ErrorKind;
use crate::experiment::plot_numbers;
use crate::harvest::response;
use crate::paper::map::{Shade, map_view};
use crate::report::numbers::Decimals;
use crate::station::{day, dossier, laid, layout_line, named, to_json};
use crate::{DrawLayout, LayoutLine, LayoutView, ShowMap, Station, StationError, Weight, check_plan};

impl Station {
    /// Draws the layout of a trial from its latest plan.
    ///
    /// # Errors
    /// [`ErrorKind::Refused`] when the plan cannot be laid out or a drawn layout is drawn again without a reason,
    /// [`ErrorKind::Locked`] when something was printed from it and no reason is given.
    pub fn draw_layout(&self, code: &str, request: &DrawLayout) -> Result<LayoutView, StationError> {
        let by = named(&request.by)?;
        let seed = self.seed(request.seed.as_deref())?;
        let now = self.now();
        self.store.write(|writing| {
            let trial = dossier(writing, code)?;
            refuse_unsound(&trial)?;
            refuse_redraw_without_reason(&trial, &request.reason)?;
            let layout = layout_from(&trial, seed)?;
            let reason = Some(request.reason.trim().to_owned()).filter(|reason| !reason.is_empty());
            let version = trial.laid.as_ref().map_or(0, |laid| laid.line.version);
            let stored = NewLayout {
                id: new_id(now),
                trial_id: trial.id,
                plan_version: trial.plan_version,
                plots: stored_plots(&layout, &trial),
                body: to_json(&layout),
                seed: Some(seed.to_string()),
                algorithm: ALGORITHM.to_string(),
                drawn_at: now,
                by: by.to_owned(),
                reason,
            };
            writing.append_layout(version, &stored)?;
            Ok::<_, StationError>(())
        })?;
        self.layout(code, None)
    }

    /// One version of a trial's layout; the latest when no version is named.
    ///
    /// # Errors
    /// [`ErrorKind::NotThere`] when there is no such version.
    pub fn layout(&self, code: &str, version: Option<u32>) -> Result<LayoutView, StationError> {
        let (_, laid) = self.laid_version(code, version)?;
        let treatments = laid.treatments.treatments().into_iter().map(|treatment| treatment.label).collect();
        Ok(LayoutView { line: laid.line, treatments, layout: laid.layout })
    }

    /// The plot map as a drawing for the screen; the same that is printed, its plots never narrower than a finger.
    ///
    /// # Errors
    /// When there is no such layout, or no such measure to shade by.
    pub fn map_svg(&self, code: &str, request: &ShowMap) -> Result<String, StationError> {
        let (trial, laid) = self.laid_version(code, request.version)?;
        let station = self.name()?;
        let today = day(self.now());
        let view = match &request.shade {
            None => map_view(&trial, &laid, &station, &today, None),
            Some(key) => {
                let column = self.shade_column(&trial, key)?;
                let value = |plot: u32| column.value(plot);
                map_view(&trial, &laid, &station, &today, Some(Shade { label: column.label.clone(), value: &value }))
            }
        };
        let view = if request.blind { view.blinded() } else { view };
        Ok(plot_map_to_touch(&view, request.width))
    }

    pub(crate) fn laid_version(&self, code: &str, version: Option<u32>) -> Result<(Dossier, Laid), StationError> {
        self.store.read(|reading| {
            let trial = dossier(reading, code)?;
            let Some(version) = version else {
                let current = trial.laid()?.clone();
                return Ok((trial, current));
            };
            let stored = reading.layout_versions(trial.id)?.into_iter().find(|layout| layout.version == version);
            let stored = stored.ok_or_else(|| {
                StationError::new(
                    ErrorKind::NotThere,
                    format!("trial {code} has no layout version {version}"),
                    "",
                    "look at the list of its layouts",
                )
            })?;
            let laid = laid(reading, &stored)?;
            Ok((Dossier::new(trial.id, trial.plan, trial.plan_version, Some(laid.clone())), laid))
        })
    }

    pub(crate) fn layout_lines(&self, trial: &Dossier) -> Result<Vec<LayoutLine>, StationError> {
        self.store.read(|reading| {
            reading.layout_versions(trial.id)?.iter().map(|stored| layout_line(reading, stored)).collect()
        })
    }

    /// Locks the current layout, once for each kind of thing that was made from it.
    pub(crate) fn lock_layout(&self, trial: &Dossier, what: &str, by: &str) -> Result<(), StationError> {
        let laid = trial.laid()?;
        self.store.write(|writing| {
            let known = writing.layout_locks(laid.id)?.iter().any(|lock| lock.what == what);
            if !known {
                let lock =
                    LayoutLock { layout_id: laid.id, what: what.to_owned(), locked_at: self.now(), by: by.to_owned() };
                writing.lock_layout(&lock)?;
            }
            Ok(())
        })
    }

    fn seed(&self, text: Option<&str>) -> Result<Seed, StationError> {
        match text.map(str::trim).filter(|text| !text.is_empty()) {
            Some(text) => text.parse().map_err(|error: guardrow_design::DesignError| {
                StationError::new(ErrorKind::NotUnderstood, error.to_string(), "field seed", error.help())
            }),
            None => Ok(fresh_seed()),
        }
    }
}

/// A seed from the system's randomness, by way of two random UUIDs.
fn fresh_seed() -> Seed {
    let mut bytes = [0; 32];
    bytes[..16].copy_from_slice(uuid::Uuid::new_v4().as_bytes());
    bytes[16..].copy_from_slice(uuid::Uuid::new_v4().as_bytes());
    Seed::from_bytes(bytes)
}

fn refuse_unsound(trial: &Dossier) -> Result<(), StationError> {
    let against: Vec<_> = check_plan(&trial.plan)
        .remarks
        .into_iter()
        .filter(|remark| remark.weight == Weight::Refuse)
        .filter(|remark| {
            ["trial", "treatments", "arrangement", "ground", "measures", "harvest"]
                .iter()
                .any(|part| remark.place.starts_with(part))
        })
        .collect();
    if against.is_empty() {
        return Ok(());
    }
    let what = format!("the plan of trial {} cannot be laid out yet", trial.code());
    Err(StationError::new(ErrorKind::Refused, what, "", "mend the fields that are named").with_remarks(against))
}

fn refuse_redraw_without_reason(trial: &Dossier, reason: &str) -> Result<(), StationError> {
    let Some(laid) = &trial.laid else { return Ok(()) };
    if !reason.trim().is_empty() {
        return Ok(());
    }
    let version = laid.line.version;
    Err(match &laid.line.locked {
        Some(locked) => StationError::new(
            ErrorKind::Locked,
            format!("layout version {version} is locked: {locked}"),
            "field reason",
            "say why it must be drawn again; it becomes a new version, and labels and sheets must be printed anew",
        ),
        None => StationError::new(
            ErrorKind::Refused,
            format!("trial {} has a layout already, version {version}", trial.code()),
            "field reason",
            "say why it is drawn again, so that nobody wonders whether a better draw was sought",
        ),
    })
}

fn layout_from(trial: &Dossier, seed: Seed) -> Result<Layout, StationError> {
    let plan = &trial.plan;
    let refused = |error: guardrow_design::DesignError| {
        StationError::new(ErrorKind::Refused, error.to_string(), "", error.help())
    };
    let draw = draw(&plan.treatments, &plan.arrangement, seed).map_err(refused)?;
    lay_out(&draw, &plan.ground)
        .map_err(|error| StationError::new(ErrorKind::Refused, error.to_string(), "ground", error.help()))
}

pub(crate) fn stored_plots(layout: &Layout, trial: &Dossier) -> Vec<Plot> {
    let treatments = trial.plan.treatments.treatments();
    layout
        .plots
        .iter()
        .map(|plot| Plot {
            number: plot.number,
            replicate: plot.replicate.map(|replicate| replicate as u32),
            units: plot.units.iter().map(|(unit, number)| (unit.clone(), *number as u32)).collect(),
            range: Some(plot.range as u32),
            pass: Some(plot.pass as u32),
            treatment: plot.treatment.map(|index| treatments[index].label.clone()),
            kind: match plot.kind {
                PlotKind::Plot => "plot".to_owned(),
                PlotKind::Guard => "guard".to_owned(),
            },
        })
        .collect()
}

/// Values of one measure by plot, for a map that is shaded by them.
struct ShadeColumn {
    label: String,
    values: std::collections::HashMap<u32, f64>,
    decimals: Decimals,
}

impl ShadeColumn {
    fn value(&self, plot: u32) -> Option<(f64, String)> {
        self.values.get(&plot).map(|&value| (value, self.decimals.value(value)))
    }
}

impl Station {
    fn shade_column(&self, trial: &Dossier, key: &str) -> Result<ShadeColumn, StationError> {
        let (name, unit) = trial.plan.measured(key).ok_or_else(|| {
            StationError::new(
                ErrorKind::NotThere,
                format!("“{key}” is not a measure of this trial"),
                "",
                format!("its measures are {}", trial.plan.measured_keys().join(", ")),
            )
        })?;
        let observed = self.observed(trial, None)?;
        let values = response(trial, &observed, key)?;
        let plots = plot_numbers(trial.laid()?);
        Ok(ShadeColumn {
            label: format!("{name} ({})", unit.symbol()),
            values: plots.into_iter().zip(values).filter_map(|(plot, value)| Some((plot, value?))).collect(),
            decimals: Decimals::earned(None, unit),
        })
    }
}

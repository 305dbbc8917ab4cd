//! The data package of a trial: plots, measures, every entry of the journal, yields, and the plan beside them.

use std::collections::BTreeSet;

use guardrow_publish::data_package::{
    Contributor, DataPackage, ExtraFile, Field, FieldType, ForeignKey, Resource, package_name,
};
use guardrow_store::{Entry, EntryFilter, EntryKind};

use crate::dossier::{Dossier, Laid};
use crate::error::ErrorKind;
use crate::experiment::plot_numbers;
use crate::harvest::harvest_view;
use crate::{Measure, SeasonNote, Station, StationError, write_plan_file};

/// All files of the package, by their paths in it.
pub(crate) fn files(station: &Station, trial: &Dossier) -> Result<Vec<(String, Vec<u8>)>, StationError> {
    let laid = trial.laid()?;
    let entries = station.store.all_entries(trial.id, &EntryFilter::kind(EntryKind::Observation))?;
    let head = &trial.plan.trial;
    let mut resources = vec![
        treatments(trial),
        plots(trial, laid),
        measures(&trial.measures),
        observations(&entries, laid),
        notes(&station.notes(trial)?),
    ];
    resources.extend(yields(station, trial)?);
    let invented = if station.is_invented()? { " All data were invented for demonstration." } else { "" };
    let package = DataPackage {
        name: package_name(&format!("{}-{}", head.season, head.code)),
        title: format!("{}: {}", head.code, head.title),
        description: format!(
            "Everything recorded for trial {} ({}, season {}): layout version {}, plan version {}.{invented}",
            head.code, head.site, head.season, laid.line.version, trial.plan_version
        ),
        created: station.now().to_string(),
        version: format!("{}.{}.0", trial.plan_version, laid.line.version),
        licence: None,
        contributors: head
            .people
            .iter()
            .map(|person| Contributor { title: person.name.clone(), role: "contributor".to_owned() })
            .collect(),
        resources,
        extra_files: vec![ExtraFile {
            name: "plan".to_owned(),
            path: "plan.toml".to_owned(),
            title: "The plan: question, treatments, arrangement, measures".to_owned(),
            mediatype: "application/toml".to_owned(),
            bytes: write_plan_file(&trial.plan).into_bytes(),
        }],
    };
    package.files().map_err(|error| {
        StationError::new(ErrorKind::Internal, error.to_string(), "data package", "report this; nothing was lost")
    })
}

fn field(name: &str, kind: FieldType, title: &str) -> Field {
    Field { name: name.to_owned(), kind, title: title.to_owned(), ..Field::default() }
}

fn required(field: Field) -> Field {
    Field { required: true, ..field }
}

fn plot_key() -> ForeignKey {
    ForeignKey { fields: vec!["plot".to_owned()], resource: "plots".to_owned(), reference: vec!["plot".to_owned()] }
}

fn treatments(trial: &Dossier) -> Resource {
    let factors = trial.laid.as_ref().map_or(&trial.plan.treatments.factors, |laid| &laid.treatments.factors);
    let mut fields = vec![
        required(field("treatment", FieldType::Integer, "Treatment number")),
        required(field("label", FieldType::String, "Treatment")),
    ];
    fields.extend(factors.iter().enumerate().map(|(index, factor)| Field {
        title: factor.name.clone(),
        description: format!("Level of {}; empty for a control.", factor.name),
        ..field(&format!("factor_{}", index + 1), FieldType::String, "")
    }));
    let rows = trial.treatments().iter().map(|treatment| {
        let mut row = vec![Some(treatment.number.to_string()), Some(treatment.label.clone())];
        row.extend(
            factors
                .iter()
                .enumerate()
                .map(|(index, factor)| treatment.levels.get(index).map(|&level| factor.levels[level].label.clone())),
        );
        row
    });
    Resource {
        name: "treatments".to_owned(),
        title: "Treatments".to_owned(),
        description: "One row per treatment.".to_owned(),
        rows: rows.collect(),
        fields,
        primary_key: vec!["treatment".to_owned()],
        foreign_keys: Vec::new(),
    }
}

fn plots(trial: &Dossier, laid: &Laid) -> Resource {
    let plots = laid.layout.in_number_order();
    let units: BTreeSet<&String> = plots.iter().flat_map(|plot| plot.units.keys()).collect();
    let of_unit = |unit: &&String| {
        let title = format!("Number of its {unit}, within the unit around it");
        field(&unit.replace(' ', "_"), FieldType::Integer, &title)
    };
    let head = [
        required(field("plot", FieldType::Integer, "Plot number")),
        field("replicate", FieldType::Integer, "Replicate"),
    ];
    let tail = [
        required(field("range", FieldType::Integer, "Range from the front")),
        required(field("pass", FieldType::Integer, "Pass from the left")),
        required(field("treatment", FieldType::Integer, "Treatment number")),
        required(field("label", FieldType::String, "Treatment")),
    ];
    let fields = head.into_iter().chain(units.iter().map(of_unit)).chain(tail).collect();
    let rows = plots.iter().filter_map(|plot| {
        let treatment = plot.treatment?;
        let mut row =
            vec![plot.number.map(|number| number.to_string()), plot.replicate.map(|replicate| replicate.to_string())];
        row.extend(units.iter().map(|unit| plot.unit(unit).map(|number| number.to_string())));
        row.extend([
            Some(plot.range.to_string()),
            Some(plot.pass.to_string()),
            Some((treatment + 1).to_string()),
            Some(trial.treatment_labels()[treatment].clone()),
        ]);
        Some(row)
    });
    Resource {
        name: "plots".to_owned(),
        title: "Plots".to_owned(),
        description: "One row per plot that carries a treatment; guard plots are left out.".to_owned(),
        rows: rows.collect(),
        fields,
        primary_key: vec!["plot".to_owned()],
        foreign_keys: vec![ForeignKey {
            fields: vec!["treatment".to_owned()],
            resource: "treatments".to_owned(),
            reference: vec!["treatment".to_owned()],
        }],
    }
}

fn measures(measures: &[Measure]) -> Resource {
    let fields = vec![
        required(field("measure", FieldType::String, "Key of the measure")),
        field("name", FieldType::String, "Name"),
        required(field("unit", FieldType::String, "Unit of every value")),
        field("event", FieldType::String, "Event at which it is taken"),
        field("method", FieldType::String, "Method"),
    ];
    let text = |text: &str| Some(text.to_owned()).filter(|text| !text.is_empty());
    let rows = measures.iter().map(|measure| {
        vec![
            text(&measure.key),
            text(&measure.name),
            text(measure.unit.symbol()),
            text(&measure.event),
            text(&measure.method),
        ]
    });
    Resource {
        name: "measures".to_owned(),
        title: "Measures".to_owned(),
        description: "What was observed, with its unit.".to_owned(),
        rows: rows.collect(),
        fields,
        primary_key: vec!["measure".to_owned()],
        foreign_keys: Vec::new(),
    }
}

fn observations(entries: &[Entry], laid: &Laid) -> Resource {
    let on_this_layout = |entry: &Entry| entry.layout_version == Some(laid.line.version);
    let statuses = guardrow_store::Status::ALL.iter().map(|status| status.word().to_owned()).collect();
    let fields = vec![
        required(field("entry", FieldType::String, "Identity of the entry")),
        required(field("plot", FieldType::Integer, "Plot number")),
        required(field("layout", FieldType::Integer, "Version of the layout on whose plot it was taken")),
        required(field("measure", FieldType::String, "Key of the measure")),
        Field {
            one_of: statuses,
            description: "A value (zero is one), or why there is none.".to_owned(),
            ..required(field("status", FieldType::String, "Value or kind of empty"))
        },
        field("value", FieldType::Number, "Value in the unit of the measure"),
        field("as_written", FieldType::String, "As it was typed or stood in the file"),
        field("unit", FieldType::String, "Unit"),
        field("observed", FieldType::String, "Day or moment of the observation"),
        required(field("recorded_at", FieldType::DateTime, "When it was recorded, UTC")),
        required(field("by", FieldType::String, "Who recorded it")),
        field("source", FieldType::String, "File, sheet and line, or how it came"),
        field("replaces", FieldType::String, "Entry that it corrects"),
        field("reason", FieldType::String, "Why it was corrected"),
        required(field(
            "current",
            FieldType::Boolean,
            "False when a later entry corrects it, or the layout is an older one",
        )),
    ];
    let replaced: std::collections::HashSet<_> = entries.iter().filter_map(|entry| entry.replaces).collect();
    let rows = entries.iter().filter(|entry| entry.plot_number.is_some()).map(|entry| {
        vec![
            Some(entry.id.to_string()),
            entry.plot_number.map(|plot| plot.to_string()),
            entry.layout_version.map(|version| version.to_string()),
            entry.measure.clone(),
            Some(entry.status.word().to_owned()),
            entry.number.map(|number| number.to_string()),
            entry.text.clone(),
            entry.unit.clone(),
            entry.observed_at.map(|observed| observed.to_string()),
            Some(entry.recorded_at.strftime("%Y-%m-%dT%H:%M:%SZ").to_string()),
            Some(entry.by.clone()),
            Some(crate::observations::source_in_words(&entry.source)),
            entry.replaces.map(|id| id.to_string()),
            entry.reason.clone(),
            Some((!replaced.contains(&entry.id) && on_this_layout(entry)).to_string()),
        ]
    });
    Resource {
        name: "observations".to_owned(),
        title: "Observations".to_owned(),
        description: "Every entry of the journal, corrected ones included; `current` tells which hold.".to_owned(),
        rows: rows.collect(),
        fields,
        primary_key: vec!["entry".to_owned()],
        // The table of plots holds those of this layout only.
        foreign_keys: if entries.iter().all(on_this_layout) { vec![plot_key()] } else { Vec::new() },
    }
}

fn notes(notes: &[SeasonNote]) -> Resource {
    let fields = vec![
        required(field("on", FieldType::Date, "Day")),
        required(field("kind", FieldType::String, "Operation, deviation, incident, weather or note")),
        required(field("text", FieldType::String, "What happened")),
        field("plots", FieldType::String, "Plots concerned, separated by spaces; empty for all"),
        field("by", FieldType::String, "Who wrote it"),
    ];
    let rows = notes.iter().map(|note| {
        let plots: Vec<String> = note.plots.iter().map(u32::to_string).collect();
        vec![
            Some(note.on.to_string()),
            Some(note.kind.clone()),
            Some(note.text.clone()),
            Some(plots.join(" ")).filter(|plots| !plots.is_empty()),
            Some(note.by.clone()).filter(|by| !by.is_empty()),
        ]
    });
    Resource {
        name: "season-notes".to_owned(),
        title: "Notes of the season".to_owned(),
        description: "Operations, deviations, incidents, weather and other notes.".to_owned(),
        rows: rows.collect(),
        fields,
        primary_key: Vec::new(),
        foreign_keys: Vec::new(),
    }
}

fn yields(station: &Station, trial: &Dossier) -> Result<Option<Resource>, StationError> {
    if trial.plan.harvest.is_none() {
        return Ok(None);
    }
    let view = harvest_view(trial, &station.observed(trial, None)?)?;
    let unit = view.unit.symbol();
    let number = |name: &str, title: &str| Field { unit: unit.to_owned(), ..field(name, FieldType::Number, title) };
    let fields = vec![
        required(field("plot", FieldType::Integer, "Plot number")),
        number("as_harvested", "Yield as harvested"),
        number("standardised", &format!("Yield at {} % moisture", view.standard_moisture_pct)),
        field("why_not", FieldType::String, "Why there is no yield"),
    ];
    debug_assert_eq!(view.lines.len(), plot_numbers(trial.laid()?).len());
    let rows = view.lines.iter().map(|line| {
        vec![
            Some(line.plot.to_string()),
            line.raw.map(|value| value.to_string()),
            line.standard.map(|value| value.to_string()),
            Some(line.why_not.clone()).filter(|why| !why.is_empty()),
        ]
    });
    Ok(Some(Resource {
        name: "yields".to_owned(),
        title: "Yields".to_owned(),
        description: "Computed from mass, moisture and measured area; see the observations for these.".to_owned(),
        rows: rows.collect(),
        fields,
        primary_key: vec!["plot".to_owned()],
        foreign_keys: vec![plot_key()],
    }))
}

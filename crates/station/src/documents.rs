//! Documents: made, kept in the publications folder, recorded, and locking the layout where they must.

use std::path::Path;

use guardrow_publish::document::{self, Paper};
use guardrow_publish::field_sheet::FieldSheet;
use guardrow_publish::workbook;
use guardrow_store::{NewPublication, Sha256, new_id};
use serde_json::json;

use crate::dossier::Dossier;
use crate::error::ErrorKind;
use crate::paper::field_sheet::field_sheet;
use crate::paper::labels::{label_sheet, packing_list};
use crate::paper::map::map_view;
use crate::station::{day, named};
use crate::{DocumentKind, DocumentOptions, PublicationLine, Station, StationError};

impl DocumentKind {
    /// The word in requests, file names and the list of publications.
    pub fn word(self) -> &'static str {
        match self {
            DocumentKind::Map => "map",
            DocumentKind::FieldSheet => "field-sheet",
            DocumentKind::FieldWorkbook => "field-workbook",
            DocumentKind::PacketLabels => "packet-labels",
            DocumentKind::PackingList => "packing-list",
            DocumentKind::Report => "report",
            DocumentKind::DataPackage => "data-package",
            DocumentKind::RScript => "r-script",
        }
    }

    /// What is said of a layout that was locked by this document; nothing when it does not lock.
    fn locks(self) -> Option<&'static str> {
        match self {
            DocumentKind::FieldSheet | DocumentKind::FieldWorkbook => Some("field sheets were printed"),
            DocumentKind::PacketLabels => Some("packet labels were printed"),
            DocumentKind::PackingList => Some("a packing list was printed"),
            DocumentKind::Map | DocumentKind::Report | DocumentKind::DataPackage | DocumentKind::RScript => None,
        }
    }
}

/// A file of a document, by its name in the publications folder.
struct Made {
    file: String,
    bytes: Vec<u8>,
}

impl Station {
    /// Makes a document of a trial and keeps it in the publications folder.
    ///
    /// # Errors
    /// When the trial has not come so far that it can be made; [`ErrorKind::NoRoom`] when it cannot be written.
    pub fn make_document(
        &self,
        code: &str,
        kind: DocumentKind,
        options: &DocumentOptions,
    ) -> Result<PublicationLine, StationError> {
        let by = named(&options.by)?;
        let trial = self.dossier(code)?;
        let made = match kind {
            DocumentKind::DataPackage => {
                folder_and_archive(&format!("{}-data", trial.code()), crate::paper::data_package::files(self, &trial)?)?
            }
            DocumentKind::RScript => {
                let written = crate::r_script::write(&trial, &self.observed(&trial, None)?)?;
                folder_and_archive(&format!("{}-r", trial.code()), written.files)?
            }
            kind => vec![self.printed(&trial, kind, options)?],
        };
        let folder = self.store.folder().publications();
        for document in &made {
            write_file(&folder.join(&document.file), &document.bytes)?;
        }
        let head = made.first().expect("every kind makes at least one file");
        let now = self.now();
        self.store.append_publication(&NewPublication {
            id: new_id(now),
            trial_id: Some(trial.id),
            kind: kind.word().to_owned(),
            file: head.file.clone(),
            sha256: Sha256::of(&head.bytes),
            made_at: now,
            by: by.to_owned(),
            inputs: json!({
                "program": env!("CARGO_PKG_VERSION"),
                "plan_version": trial.plan_version,
                "layout_version": trial.laid.as_ref().map(|laid| laid.line.version),
                "data_as_of": now,
                "event": options.event,
                "blind": options.blind,
            }),
        })?;
        if let Some(what) = kind.locks() {
            self.lock_layout(&trial, what, by)?;
        }
        Ok(PublicationLine { kind: kind.word().to_owned(), file: head.file.clone(), made_at: now })
    }

    pub(crate) fn publications_of(&self, trial: &Dossier) -> Result<Vec<PublicationLine>, StationError> {
        let mut lines: Vec<PublicationLine> = self
            .store
            .publications(trial.id)?
            .into_iter()
            .map(|publication| PublicationLine {
                kind: publication.kind,
                file: publication.file,
                made_at: publication.made_at,
            })
            .collect();
        lines.reverse();
        Ok(lines)
    }

    fn printed(&self, trial: &Dossier, kind: DocumentKind, options: &DocumentOptions) -> Result<Made, StationError> {
        let paper = paper(options)?;
        let station = self.name()?;
        let today = day(self.now());
        let (extension, bytes) = match kind {
            DocumentKind::Map => {
                let view = map_view(trial, trial.laid()?, &station, &today, None);
                ("pdf", document::map_pdf(&if options.blind { view.blinded() } else { view }, paper))
            }
            DocumentKind::FieldSheet => {
                ("pdf", document::field_sheet_pdf(&[self.sheet(trial, options, &station, &today)?], paper))
            }
            DocumentKind::FieldWorkbook => {
                ("xlsx", workbook::field_sheets_xlsx(&self.sheets(trial, options, &station, &today)?))
            }
            DocumentKind::PacketLabels => {
                let packets = self.packets(trial.code())?;
                ("pdf", document::labels_pdf(&label_sheet(trial, &packets, &self.lots()?, options.blind, paper)?))
            }
            DocumentKind::PackingList => {
                let packets = self.packets(trial.code())?;
                ("pdf", document::packing_pdf(&packing_list(trial, &packets, &self.lots()?, &station, &today)?, paper))
            }
            DocumentKind::Report => ("pdf", document::report_pdf(&self.report(trial.code())?, paper)),
            DocumentKind::DataPackage | DocumentKind::RScript => unreachable!("these are folders, made elsewhere"),
        };
        let bytes = bytes.map_err(|error| {
            StationError::new(ErrorKind::Internal, error.to_string(), kind.word(), "report this; nothing was lost")
        })?;
        Ok(Made { file: file_name(trial, kind, options, extension), bytes })
    }

    fn sheet(
        &self,
        trial: &Dossier,
        options: &DocumentOptions,
        station: &str,
        today: &str,
    ) -> Result<FieldSheet, StationError> {
        let event = options.event.as_deref().filter(|event| !event.is_empty()).ok_or_else(|| {
            StationError::new(
                ErrorKind::Refused,
                "no event is named for the field sheet",
                "field event",
                format!("name one of {}", trial.events().join(", ")),
            )
        })?;
        field_sheet(trial, event, options.blind, station, today)
    }

    /// One sheet for the named event, or one for each.
    fn sheets(
        &self,
        trial: &Dossier,
        options: &DocumentOptions,
        station: &str,
        today: &str,
    ) -> Result<Vec<FieldSheet>, StationError> {
        match options.event.as_deref().filter(|event| !event.is_empty()) {
            Some(_) => Ok(vec![self.sheet(trial, options, station, today)?]),
            None => trial
                .events()
                .into_iter()
                .map(|event| field_sheet(trial, event, options.blind, station, today))
                .collect(),
        }
    }
}

/// The files of a folder and, first, all of them in one archive.
fn folder_and_archive(folder: &str, files: Vec<(String, Vec<u8>)>) -> Result<Vec<Made>, StationError> {
    let whole = guardrow_publish::data_package::archive(&files)
        .map_err(|error| StationError::new(ErrorKind::Internal, error.to_string(), folder, error.help()))?;
    let mut made = vec![Made { file: format!("{folder}.zip"), bytes: whole }];
    made.extend(files.into_iter().map(|(name, bytes)| Made { file: format!("{folder}/{name}"), bytes }));
    Ok(made)
}

fn paper(options: &DocumentOptions) -> Result<Paper, StationError> {
    match options.paper.as_deref().unwrap_or("a4") {
        "a4" => Ok(Paper::A4),
        "letter" => Ok(Paper::Letter),
        other => Err(StationError::new(
            ErrorKind::Refused,
            format!("“{other}” is no paper size"),
            "field paper",
            "write a4 or letter",
        )),
    }
}

fn file_name(trial: &Dossier, kind: DocumentKind, options: &DocumentOptions, extension: &str) -> String {
    let mut name = format!("{}-{}", trial.code(), kind.word());
    if let Some(event) = options.event.as_deref().filter(|event| !event.is_empty()) {
        let plain: String = event
            .chars()
            .map(|sign| if sign.is_ascii_alphanumeric() { sign.to_ascii_lowercase() } else { '-' })
            .collect();
        name.push('-');
        name.push_str(&plain);
    }
    if let Some(laid) = trial.laid.as_ref().filter(|_| kind != DocumentKind::Report) {
        name.push_str(&format!("-layout-{}", laid.line.version));
    }
    if options.blind {
        name.push_str("-blind");
    }
    format!("{name}.{extension}")
}

/// Writes beside the final name first, so that a full disk leaves the earlier file whole.
fn write_file(path: &Path, bytes: &[u8]) -> Result<(), StationError> {
    let failed = |error: std::io::Error| {
        StationError::new(
            ErrorKind::NoRoom,
            format!("{} cannot be written: {error}", path.display()),
            path.display().to_string(),
            "make room on the disk, or check who may write to the folder",
        )
    };
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(failed)?;
    }
    let mut part = path.as_os_str().to_owned();
    part.push(".part");
    std::fs::write(&part, bytes).map_err(failed)?;
    std::fs::rename(&part, path).map_err(failed)
}

//! The report, and documents made and kept in the publications folder.

use std::io;
use std::sync::Arc;

use axum::extract::State;
use guardrow_station::{DocumentKind, DocumentOptions, PublicationLine, Report, Station};
use serde::Deserialize;
use serde::de::IntoDeserializer;
use serde::de::value::Error as NotAKind;

use crate::answer::{Answer, Document, apart, ask};
use crate::fault::{Fault, FaultKind};
use crate::reading::{Named, Told};

type Shared = State<Arc<Station>>;

/// Makes a document and keeps it; it is then at `/publications/FILE`.
#[utoipa::path(post, path = "/api/trials/{code}/documents/{kind}", tag = "publications",
    params(("code" = String, Path, description = "Code of the trial."),
        ("kind" = DocumentKind, Path, description = "Which document.")),
    request_body = DocumentOptions,
    responses((status = 200, description = "The publication.", body = PublicationLine)))]
pub async fn make(
    State(station): Shared,
    Named((code, kind)): Named<(String, String)>,
    Told(options): Told<DocumentOptions>,
) -> Result<Answer<PublicationLine>, Fault> {
    let kind = document_kind(&kind)?;
    ask(station, move |station| station.make_document(&code, kind, &options)).await.map(Answer)
}

fn document_kind(word: &str) -> Result<DocumentKind, Fault> {
    DocumentKind::deserialize(word.into_deserializer()).map_err(|error: NotAKind| {
        Fault::new(FaultKind::NotThere, format!("there is no such document: {error}"), "", "ask for one of these")
    })
}

/// The report of a trial: findings, tables and charts.
#[utoipa::path(get, path = "/api/trials/{code}/report", tag = "publications",
    params(("code" = String, Path, description = "Code of the trial.")),
    responses((status = 200, description = "The report.", body = Report)))]
pub async fn report(State(station): Shared, Named(code): Named<String>) -> Result<Answer<Report>, Fault> {
    ask(station, move |station| station.report(&code)).await.map(Answer)
}

/// A document that was made.
#[utoipa::path(get, path = "/publications/{*file}", tag = "publications",
    params(("file" = String, Path, description = "The file as a publication's line tells it; a data package's files lie in \
        a folder.")),
    responses((status = 200, description = "The document.", body = Vec<u8>, content_type = "application/octet-stream")))]
pub async fn publication(State(station): Shared, Named(file): Named<String>) -> Result<Document, Fault> {
    if !is_inside(&file) {
        return Err(no_publication(&file));
    }
    apart(move || {
        let path = station.publication(&file)?;
        let bytes = std::fs::read(path).map_err(|error| match error.kind() {
            io::ErrorKind::NotFound => no_publication(&file),
            _ => Fault::internal(&error.to_string()),
        })?;
        let (content_type, inline) = media(&file);
        let name = file.rsplit('/').next().unwrap_or_default().to_owned();
        Ok(Document { content_type, inline, name, bytes })
    })
    .await
}

fn no_publication(file: &str) -> Fault {
    let what = format!("there is no publication “{file}”");
    Fault::new(FaultKind::NotThere, what, "", "look at the list of publications of the trial, or make it again")
}

/// True for names one below the other that stay inside the folder: nothing hidden, nothing that a system reads otherwise.
/// The station checks the path again; this is the first of two locks.
fn is_inside(file: &str) -> bool {
    file.split('/').all(is_plain_name)
}

fn is_plain_name(name: &str) -> bool {
    let strange = |letter: char| letter.is_control() || "\\:".contains(letter);
    !name.is_empty() && !name.starts_with('.') && !name.contains(strange)
}

/// Media type of a publication, and whether a browser shows it rather than saves it.
fn media(file: &str) -> (&'static str, bool) {
    let ending = file.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase()).unwrap_or_default();
    match ending.as_str() {
        "pdf" => ("application/pdf", true),
        "svg" => ("image/svg+xml", true),
        "xlsx" => ("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", false),
        "zip" => ("application/zip", false),
        "csv" => ("text/csv; charset=utf-8", false),
        "json" => ("application/json", false),
        "toml" => ("application/toml", false),
        "txt" | "md" => ("text/plain; charset=utf-8", false),
        _ => ("application/octet-stream", false),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_leave_the_folder_are_no_publications() {
        for file in [
            "",
            ".",
            "..",
            "../station.db",
            "a/../../b.pdf",
            "a//b",
            "a/",
            "..\\x",
            "C:x",
            "/etc/hosts",
            ".hidden",
            "a/.b",
            "a\0.pdf",
        ] {
            assert!(!is_inside(file), "{file:?}");
        }
        for file in ["26-03-report.pdf", "läge 1.pdf", "a..b.zip", "26-03-data/datapackage.json"] {
            assert!(is_inside(file), "{file:?}");
        }
    }

    #[test]
    fn an_unknown_kind_names_the_kinds_there_are() {
        let fault = document_kind("poster").expect_err("there is no poster");
        assert_eq!(fault.kind, FaultKind::NotThere);
        assert!(fault.what.contains("packet-labels"), "{fault:?}");
        assert_eq!(document_kind("packet-labels").expect("it is a kind"), DocumentKind::PacketLabels);
    }
}

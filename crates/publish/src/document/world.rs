//! The closed world in which templates are set: they see the embedded templates, one data file and the embedded
//! typefaces, and nothing of the machine.

use std::sync::LazyLock;

use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration, Smart};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World, WorldExt};
use typst_layout::PagedDocument;
use typst_pdf::PdfOptions;

use crate::error::PublishError;
use crate::typeface::FACES;

/// A template that makes one kind of document.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Template {
    /// The document, as it is named to people.
    pub document: &'static str,
    /// Virtual path of the template.
    pub path: &'static str,
    /// A tagged PDF can be read aloud and reflowed; sheets of labels and boxes are smaller without.
    pub tagged: bool,
}

const TEMPLATES: [(&str, &str); 6] = [
    ("look.typ", include_str!("../../templates/look.typ")),
    ("report.typ", include_str!("../../templates/report.typ")),
    ("map.typ", include_str!("../../templates/map.typ")),
    ("field_sheet.typ", include_str!("../../templates/field_sheet.typ")),
    ("labels.typ", include_str!("../../templates/labels.typ")),
    ("packing.typ", include_str!("../../templates/packing.typ")),
];

struct Shelf {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
    sources: Vec<(&'static str, Source)>,
    data: FileId,
}

/// File ids are global and never freed: they are made once.
static SHELF: LazyLock<Shelf> = LazyLock::new(|| {
    let fonts: Vec<Font> = FACES.iter().flat_map(|face| Font::iter(Bytes::new(*face))).collect();
    let sources =
        TEMPLATES.iter().map(|(path, text)| (*path, Source::new(file_id(path), (*text).to_string()))).collect();
    Shelf {
        library: LazyHash::new(Library::default()),
        book: LazyHash::new(FontBook::from_fonts(&fonts)),
        fonts,
        sources,
        data: file_id("data.json"),
    }
});

fn file_id(path: &str) -> FileId {
    let path = VirtualPath::new(path).expect("the names above are plain file names");
    RootedPath::new(VirtualRoot::Project, path).intern()
}

/// One document's world.
struct Desk {
    shelf: &'static Shelf,
    main: FileId,
    data: Bytes,
}

impl World for Desk {
    fn library(&self) -> &LazyHash<Library> {
        &self.shelf.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &self.shelf.book
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        let found = self.shelf.sources.iter().find(|(_, source)| source.id() == id);
        found.map(|(_, source)| source.clone()).ok_or_else(|| not_here(id))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if id == self.shelf.data {
            return Ok(self.data.clone());
        }
        self.source(id).map(|source| Bytes::from_string(source.text().to_string()))
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.shelf.fonts.get(index).cloned()
    }

    /// Documents carry the dates they are given, never today's.
    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

fn not_here(id: FileId) -> FileError {
    FileError::NotFound(id.vpath().get_without_slash().into())
}

/// Documents that memoised pieces outlive.
const KEEP_FOR: usize = 3;

/// Sets `data` with a template and writes the PDF. The same data give the same bytes: no clock is read, and the
/// document's identifier is made from `identity`.
pub(super) fn set_pdf(template: Template, data: &serde_json::Value, identity: &str) -> Result<Vec<u8>, PublishError> {
    let shelf = &*SHELF;
    let fault = |message: String| PublishError::Template { document: template.document, message };
    let main = shelf
        .sources
        .iter()
        .find(|(path, _)| *path == template.path)
        .map(|(_, source)| source.id())
        .ok_or_else(|| fault(format!("there is no template {}", template.path)))?;
    let desk = Desk { shelf, main, data: Bytes::from_string(data.to_string()) };
    let compiled = typst::compile::<PagedDocument>(&desk).output;
    let document = compiled.map_err(|diagnostics| fault(explain(&desk, &diagnostics)))?;
    let options = PdfOptions {
        ident: Smart::Custom(format!("guardrow {} {identity}", template.document)),
        creator: Smart::Custom(Some("Guardrow".to_string())),
        tagged: template.tagged,
        ..PdfOptions::default()
    };
    let pdf = typst_pdf::pdf(&document, &options).map_err(|diagnostics| fault(explain(&desk, &diagnostics)));
    comemo::evict(KEEP_FOR);
    pdf
}

/// The typesetter's complaints with file and line.
fn explain(desk: &Desk, diagnostics: &[SourceDiagnostic]) -> String {
    let place = |diagnostic: &SourceDiagnostic| {
        let id = diagnostic.span.id()?;
        let range = desk.range(diagnostic.span)?;
        let source = desk.source(id).ok()?;
        let line = source.lines().byte_to_line(range.start)? + 1;
        Some(format!("{}, line {line}: ", id.vpath().get_without_slash()))
    };
    let said: Vec<String> = diagnostics
        .iter()
        .map(|diagnostic| format!("{}{}", place(diagnostic).unwrap_or_default(), diagnostic.message))
        .collect();
    said.join("; ")
}

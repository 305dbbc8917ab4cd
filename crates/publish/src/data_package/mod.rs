//! Data packages: CSV files beside one `datapackage.json` that says what stands in every column.
//!
//! Written to Data Package and Table Schema, version 1 (<https://specs.frictionlessdata.io>, read from memory and held
//! to the `frictionless` program in the tests of the whole). Values are written as they are: a reader that opens the
//! CSV in a spreadsheet sees data, not text made safe for it.

mod archive;
mod check;
mod descriptor;

pub use archive::archive;

use crate::error::PublishError;

/// Type of a field, by its Table Schema name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FieldType {
    /// Any text.
    #[default]
    String,
    /// A whole number.
    Integer,
    /// A number with a decimal point.
    Number,
    /// `true` or `false`.
    Boolean,
    /// A day: `2031-05-04`.
    Date,
    /// A moment in UTC: `2031-05-04T09:30:00Z`.
    DateTime,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Field {
    /// Name in the heading of the CSV file.
    pub name: String,
    /// Type.
    pub kind: FieldType,
    /// Title for people.
    pub title: String,
    /// What it means; the unit is added to it.
    pub description: String,
    /// Unit; empty for none.
    pub unit: String,
    /// Every row has a value.
    pub required: bool,
    /// The only values that occur; empty for any.
    pub one_of: Vec<String>,
}

/// Columns whose values are found in another table.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ForeignKey {
    /// Columns of this table.
    pub fields: Vec<String>,
    /// Name of the other table.
    pub resource: String,
    /// Its columns, in the same order.
    pub reference: Vec<String>,
}

/// One table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Resource {
    /// Name: small letters, digits, `.`, `_`, `-`. The file is `data/NAME.csv`.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// What one row is.
    pub description: String,
    /// Columns.
    pub fields: Vec<Field>,
    /// Rows; none is a missing value and written as nothing.
    pub rows: Vec<Vec<Option<String>>>,
    /// Columns that tell the rows apart; may be empty.
    pub primary_key: Vec<String>,
    /// Links to other tables.
    pub foreign_keys: Vec<ForeignKey>,
}

/// A file that is no table: the plan, a report.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ExtraFile {
    /// Name: small letters, digits, `.`, `_`, `-`.
    pub name: String,
    /// Path inside the package, with `/`.
    pub path: String,
    /// Title for people.
    pub title: String,
    /// Media type: `application/pdf`.
    pub mediatype: String,
    /// Content.
    pub bytes: Vec<u8>,
}

/// A licence.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Licence {
    /// Identifier: `CC-BY-4.0`.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// Address of its text.
    pub path: String,
}

/// Someone who contributed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Contributor {
    /// Name.
    pub title: String,
    /// `author`, `publisher`, `maintainer`, `wrangler` or `contributor`.
    pub role: String,
}

/// A data package.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DataPackage {
    /// Name: small letters, digits, `.`, `_`, `-`; [`package_name`] makes one from a trial's code.
    pub name: String,
    /// Title.
    pub title: String,
    /// What it holds, from which trial, in which state.
    pub description: String,
    /// When it was made, RFC 3339.
    pub created: String,
    /// Version of the data: `1.0.0`.
    pub version: String,
    /// Licence, when the owner of the data has chosen one.
    pub licence: Option<Licence>,
    /// Contributors.
    pub contributors: Vec<Contributor>,
    /// Tables.
    pub resources: Vec<Resource>,
    /// Other files.
    pub extra_files: Vec<ExtraFile>,
}

impl DataPackage {
    /// All files of the package as path and content, `datapackage.json` first. The same package gives the same bytes.
    ///
    /// # Errors
    /// [`PublishError::RowWidth`] for a row that does not fit its columns; [`PublishError::Descriptor`] for a name that
    /// the standard does not allow, a value that is not of its field's type, a key that is not unique, or a link that
    /// leads nowhere.
    pub fn files(&self) -> Result<Vec<(String, Vec<u8>)>, PublishError> {
        check::package(self)?;
        let mut files: Vec<(String, Vec<u8>)> =
            self.resources.iter().map(|resource| (csv_path(resource), csv_bytes(resource))).collect();
        let descriptor = descriptor::of(self, &files);
        files.insert(0, ("datapackage.json".to_string(), descriptor));
        files.extend(self.extra_files.iter().map(|file| (file.path.clone(), file.bytes.clone())));
        Ok(files)
    }
}

/// A name that the standard allows, from a trial's code: `BW-31/02 ä` becomes `bw-31-02`.
pub fn package_name(code: &str) -> String {
    let replaced: String = code
        .chars()
        .map(|character| {
            let character = character.to_ascii_lowercase();
            if character.is_ascii_alphanumeric() || matches!(character, '.' | '_') { character } else { '-' }
        })
        .collect();
    let words: Vec<&str> = replaced.split('-').filter(|word| !word.is_empty()).collect();
    if words.is_empty() { "trial".to_string() } else { words.join("-") }
}

fn csv_path(resource: &Resource) -> String {
    format!("data/{}.csv", resource.name)
}

/// The table as RFC 4180 text in UTF-8.
fn csv_bytes(resource: &Resource) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let heading: Vec<&str> = resource.fields.iter().map(|field| field.name.as_str()).collect();
    let rows = resource.rows.iter().map(|row| row.iter().map(|cell| cell.as_deref().unwrap_or("")).collect());
    for record in std::iter::once(heading).chain(rows) {
        writer.write_record(record).expect("writing to memory does not fail, and rows were checked for width");
    }
    writer.into_inner().expect("flushing to memory does not fail")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_made_fit() {
        for (code, name) in [("BW-31/02 ä", "bw-31-02"), ("  ", "trial"), ("Trial 7.b", "trial-7.b")] {
            assert_eq!(package_name(code), name);
        }
    }
}

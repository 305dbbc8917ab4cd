//! Everything Guardrow prints or hands over: charts, PDF documents, spreadsheets, labels and data packages.
//!
//! The crate takes plain view structs (already worded, already rounded) and returns text or bytes. It opens no
//! database, reads no clock and no file, and decides nothing about a trial: whoever fills a view has decided.
//!
//! | to make | fill | call |
//! |---|---|---|
//! | a trial report, page and PDF | [`report::Report`] | [`document::report_pdf`] |
//! | a plot map, open or blind | [`map::MapView`] | [`document::map_pdf`], [`chart::plot_map`] |
//! | packet labels | [`labels::LabelSheet`] | [`document::labels_pdf`] |
//! | a packing list | [`packing::PackingList`] | [`document::packing_pdf`] |
//! | a field sheet | [`field_sheet::FieldSheet`] | [`document::field_sheet_pdf`], [`workbook::field_sheets_xlsx`] |
//! | a data package | [`data_package::DataPackage`] | [`data_package::DataPackage::files`] |

pub mod chart;
pub mod data_package;
pub mod document;
mod error;
pub mod field_sheet;
pub mod labels;
pub mod map;
pub mod packing;
pub mod report;
pub mod typeface;
pub mod workbook;

pub use error::PublishError;

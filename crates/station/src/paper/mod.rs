//! Views of a trial for the documents that are printed or handed over.

pub(crate) mod data_package;
pub(crate) mod field_sheet;
pub(crate) mod labels;
pub(crate) mod map;

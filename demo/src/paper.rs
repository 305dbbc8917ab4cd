//! Which papers are printed while the station is made.

/// Which papers are printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Papers {
    /// Maps, labels, lists, sheets for every event, reports and data packages.
    All,
    /// One sheet per trial, which locks its layout as printing does; quicker, with the same data.
    Few,
}

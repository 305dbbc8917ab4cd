//! The one table of exit codes.

use guardrow_station::ErrorKind;

/// Every exit code with what it means, as `docs/commands.md` lists them.
pub(crate) const TABLE: [(u8, &str); 11] = [
    (0, "done"),
    (1, "a fault of the program"),
    (2, "the command line cannot be understood"),
    (3, "a file cannot be understood"),
    (4, "what was named is not there"),
    (5, "understood, and refused; the rows or fields are named"),
    (6, "changed by somebody else in the meantime, or locked since something was printed"),
    (7, "in use by another program"),
    (8, "made by a newer version"),
    (9, "no room, or the folder cannot be written"),
    (10, "the station's files are damaged"),
];

/// The exit code of a kind of trouble.
pub(crate) fn code(kind: ErrorKind) -> u8 {
    match kind {
        ErrorKind::Internal => 1,
        ErrorKind::NotUnderstood => 3,
        ErrorKind::NotThere => 4,
        ErrorKind::Refused => 5,
        ErrorKind::Stale | ErrorKind::Locked => 6,
        ErrorKind::InUse => 7,
        ErrorKind::Newer => 8,
        ErrorKind::NoRoom => 9,
        ErrorKind::Damaged => 10,
    }
}

/// The table as it stands under the help.
pub(crate) fn help() -> String {
    let lines = TABLE.iter().map(|(code, meaning)| format!("  {code:>2}  {meaning}"));
    format!("Exit codes:\n{}", lines.collect::<Vec<_>>().join("\n"))
}

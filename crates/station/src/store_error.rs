//! Errors of the store as a person meets them.

use guardrow_store::StoreError;

use crate::StationError;
use crate::error::ErrorKind;

impl From<StoreError> for StationError {
    fn from(error: StoreError) -> StationError {
        StationError::new(kind(&error), error.to_string(), "", error.help())
    }
}

fn kind(error: &StoreError) -> ErrorKind {
    match error {
        StoreError::NotAStation { .. } | StoreError::NoSuch { .. } => ErrorKind::NotThere,
        StoreError::InUse { .. } | StoreError::Busy { .. } => ErrorKind::InUse,
        StoreError::Newer { .. } => ErrorKind::Newer,
        StoreError::Stale { .. } | StoreError::Conflict { .. } => ErrorKind::Stale,
        StoreError::LayoutLocked { .. } => ErrorKind::Locked,
        StoreError::DiskFull { .. } | StoreError::NotWritable { .. } | StoreError::OpenedReadOnly { .. } => {
            ErrorKind::NoRoom
        }
        StoreError::Damaged { .. } | StoreError::NotADatabase { .. } => ErrorKind::Damaged,
        StoreError::ForeignDatabase { .. }
        | StoreError::Older { .. }
        | StoreError::AlreadyStation { .. }
        | StoreError::FolderNotEmpty { .. }
        | StoreError::CodeTaken { .. }
        | StoreError::AlreadyRecorded { .. }
        | StoreError::Invalid { .. }
        | StoreError::BadEntry { .. }
        | StoreError::SameFileAgain { .. } => ErrorKind::Refused,
        _ => ErrorKind::Internal,
    }
}

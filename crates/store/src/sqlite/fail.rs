//! Turns what SQLite and the system say into errors with a mend.

use std::path::Path;

use rusqlite::ErrorCode;

use crate::StoreError;

use super::BUSY_WAIT;

/// The named constraints that guard the chain.
const NEVER: [&str; 5] = [
    "entry_is_never_changed",
    "entry_is_never_removed",
    "entry_is_never_replaced",
    "site_is_never_removed",
    "site_head_never_goes_back",
];

/// Returns a function that names what was being done when SQLite failed.
pub(crate) fn while_doing(doing: &'static str) -> impl Fn(rusqlite::Error) -> StoreError {
    move |error| from_sqlite(doing, &error)
}

/// Maps a failure by its code, and a broken constraint by its name.
pub(crate) fn from_sqlite(doing: &'static str, error: &rusqlite::Error) -> StoreError {
    let unnamed = || StoreError::Database {
        doing,
        detail: error.to_string(),
    };
    let rusqlite::Error::SqliteFailure(failure, message) = error else {
        return unnamed();
    };
    let message = message.clone().unwrap_or_default();
    match failure.code {
        ErrorCode::DiskFull => StoreError::DiskFull,
        ErrorCode::ReadOnly => StoreError::ReadOnly { why: message },
        ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase => StoreError::Damaged { detail: message },
        ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => StoreError::Busy {
            waited_ms: BUSY_WAIT.as_millis() as u64,
        },
        ErrorCode::ConstraintViolation if NEVER.contains(&constraint_name(&message)) => {
            StoreError::NeverChanged { what: message }
        }
        _ => unnamed(),
    }
}

/// Tells whether an insert failed because the site has an entry with that id.
pub(crate) fn is_taken_id(error: &rusqlite::Error) -> bool {
    // For a unique constraint SQLite names the columns, not the constraint.
    matches!(error, rusqlite::Error::SqliteFailure(failure, Some(message))
        if failure.code == ErrorCode::ConstraintViolation
            && constraint_name(message) == "entry.site_key, entry.entry_id")
}

/// Returns the part of a constraint's message that names it.
fn constraint_name(message: &str) -> &str {
    message
        .split_once(" constraint failed: ")
        .map_or(message, |(_, name)| name)
}

/// Returns a function that names the file the system refused.
pub(crate) fn at_file(path: &Path) -> impl Fn(std::io::Error) -> StoreError + '_ {
    move |error| match error.kind() {
        std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => StoreError::DiskFull,
        std::io::ErrorKind::ReadOnlyFilesystem => StoreError::ReadOnly {
            why: format!("{}: {error}", path.display()),
        },
        _ => StoreError::File {
            path: path.to_owned(),
            detail: error.to_string(),
        },
    }
}

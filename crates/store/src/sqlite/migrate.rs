//! Brings a register's layout up to date, all numbered steps in one transaction.

use std::path::Path;

use rusqlite::Connection;

use crate::StoreError;

use super::fail::while_doing;

/// Marks a file as a register: "CvBk" in ASCII.
pub(crate) const APPLICATION_ID: i64 = 0x4376_426B;

/// The numbered steps; the layout's number is the count of those applied.
pub(crate) const MIGRATIONS: &[&str] = &[include_str!("../../../../migrations/001_journal.sql")];

/// What a file turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Layout {
    /// Nothing in it yet.
    Empty,
    /// A register with fewer steps applied than there are.
    Older(i64),
    /// A register with the layout of this program.
    Current,
}

/// Looks at the marks of a file without changing it.
pub(crate) fn look(connection: &Connection, path: &Path, steps: &[&str]) -> Result<Layout, StoreError> {
    let not_ours = |why: String| StoreError::NotARegister {
        path: path.to_owned(),
        why,
    };
    let number = |sql: &str| {
        connection
            .query_row(sql, [], |row| row.get::<_, i64>(0))
            .map_err(|error| match &error {
                rusqlite::Error::SqliteFailure(failure, _)
                    if failure.code == rusqlite::ErrorCode::NotADatabase =>
                {
                    not_ours("it is not an SQLite file".to_owned())
                }
                _ => while_doing("look at the file")(error),
            })
    };
    let application = number("pragma application_id")?;
    let found = number("pragma user_version")?;
    let known = steps.len() as i64;
    if application == 0 && found == 0 && number("select count(*) from sqlite_schema")? == 0 {
        return Ok(Layout::Empty);
    }
    if application != APPLICATION_ID || found < 1 {
        return Err(not_ours("it is an SQLite file of another program".to_owned()));
    }
    if found > known {
        return Err(StoreError::NewerRegister {
            path: path.to_owned(),
            found,
            known,
        });
    }
    Ok(if found < known {
        Layout::Older(found)
    } else {
        Layout::Current
    })
}

/// Applies the steps that a file lacks; a step that fails leaves the file as it was.
pub(crate) fn bring_up_to_date(
    connection: &Connection,
    path: &Path,
    steps: &[&str],
) -> Result<(), StoreError> {
    let failed = while_doing("bring the register's layout up to date");
    connection.execute_batch("begin immediate").map_err(&failed)?;
    let apply = || {
        // Looked at again under the lock: another process may have done it meanwhile.
        let applied = match look(connection, path, steps)? {
            Layout::Empty => 0,
            Layout::Older(found) => found as usize,
            Layout::Current => return Ok(()),
        };
        for step in &steps[applied..] {
            connection.execute_batch(step).map_err(&failed)?;
        }
        connection
            .pragma_update(None, "application_id", APPLICATION_ID)
            .map_err(&failed)?;
        connection
            .pragma_update(None, "user_version", steps.len() as i64)
            .map_err(&failed)
    };
    let result = apply().and_then(|()| connection.execute_batch("commit").map_err(&failed));
    if result.is_err() && !connection.is_autocommit() {
        // The first failure is the one to report.
        let _ = connection.execute_batch("rollback");
    }
    result
}

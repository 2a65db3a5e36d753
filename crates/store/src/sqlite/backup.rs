//! Copies a register whole, and brings one back.

use std::fs::{self, File};
use std::path::Path;

use rusqlite::Connection;
use rusqlite::backup::{Backup, StepResult};

use crate::{Access, BlobHash, Store, StoreError};

use super::SqliteStore;
use super::blobs::{BlobFolder, sync_folder, with_suffix};
use super::fail::{at_file, while_doing};

/// Copies the register and the blobs it names; the register's own file appears last, so it is never half there.
pub(crate) fn backup(store: &SqliteStore, to: &Path) -> Result<(), StoreError> {
    let blobs = BlobFolder::beside(to);
    for path in [to, blobs.folder(), &with_suffix(to, "-wal")] {
        if path.exists() {
            return Err(StoreError::AlreadyExists {
                path: path.to_owned(),
            });
        }
    }
    let draft = with_suffix(to, &format!(".{}.part", uuid::Uuid::now_v7()));
    let copied = copy(store, to, &draft, &blobs);
    if copied.is_err() {
        // What was copied is of no use, and failing to remove it changes nothing.
        let _ = fs::remove_file(&draft);
        let _ = fs::remove_dir_all(blobs.folder());
    }
    copied
}

/// Brings a backup back to a new place, after looking for damage in it.
///
/// # Errors
/// [`StoreError::Damaged`] with the first thing found; [`StoreError::AlreadyExists`] when something is at
/// `to`: a register is never overwritten.
pub fn restore(from: &Path, to: &Path) -> Result<(), StoreError> {
    let store = SqliteStore::open(from, Access::Read)?;
    if let Some(first) = store.integrity_check()?.into_iter().next() {
        return Err(StoreError::Damaged { detail: first });
    }
    store.backup(to)
}

fn copy(store: &SqliteStore, to: &Path, draft: &Path, blobs: &BlobFolder) -> Result<(), StoreError> {
    store.readers.with(|from| copy_file(from, draft))?;
    // The copy says which blobs it needs: each was on the disk before an entry named it.
    for hash in needed(draft)? {
        let bytes = store.blobs.get(hash, store.limits.max_blob_bytes)?;
        blobs.put(hash, &bytes)?;
    }
    File::options()
        .write(true)
        .open(draft)
        .and_then(|file| file.sync_all())
        .map_err(at_file(draft))?;
    fs::rename(draft, to).map_err(at_file(to))?;
    to.parent().map_or(Ok(()), sync_folder)
}

fn copy_file(from: &Connection, draft: &Path) -> Result<(), StoreError> {
    let failed = while_doing("copy the register");
    let mut into = Connection::open(draft).map_err(&failed)?;
    let step = Backup::new(from, &mut into)
        .and_then(|backup| backup.step(-1))
        .map_err(&failed)?;
    if step != StepResult::Done {
        return Err(StoreError::Busy {
            waited_ms: super::BUSY_WAIT.as_millis() as u64,
        });
    }
    // A copy without a log is one file, and can be read where nothing can be written.
    into.query_row("pragma journal_mode = delete", [], |_| Ok(()))
        .map_err(&failed)?;
    into.close().map_err(|(_, error)| failed(error))
}

fn needed(draft: &Path) -> Result<Vec<BlobHash>, StoreError> {
    let failed = while_doing("read the copy");
    let copy = Connection::open(draft).map_err(&failed)?;
    let read = || -> rusqlite::Result<Vec<BlobHash>> {
        copy.prepare("select distinct hash from blob_use except select hash from blob_erased")?
            .query_map([], |row| row.get(0))?
            .collect()
    };
    read().map_err(&failed)
}

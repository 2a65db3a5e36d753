//! Writes one batch inside the group's transaction.

use std::collections::HashSet;

use rusqlite::{Connection, OptionalExtension, params};

use crate::{Appended, Batch, EntryRow, Head, MAX_BODY_BYTES, RunChange, SiteId, StoreError};

use super::fail::{is_taken_id, while_doing};
use super::{blobs, boxes, read};

/// How far the site's key is shifted up to make room for the number.
pub(crate) const NUMBERS_PER_SITE: i64 = 1 << 40;

/// Adds a site without entries.
pub(crate) fn create_site(connection: &Connection, site: SiteId, head0: [u8; 32]) -> Result<(), StoreError> {
    let added = connection
        .prepare_cached("insert into site (site, n, head) values (?1, 0, ?2) on conflict (site) do nothing")
        .and_then(|mut insert| insert.execute(params![site, head0]))
        .map_err(while_doing("create a site"))?;
    if added == 1 {
        Ok(())
    } else {
        Err(StoreError::SiteExists { site })
    }
}

/// Checks what can be checked without the file.
pub(crate) fn check(site: SiteId, expected: Head, batch: &Batch) -> Result<(), StoreError> {
    for (entry, wanted) in batch.entries.iter().zip(expected.n + 1..) {
        if entry.n != wanted || entry.site != site {
            return Err(StoreError::Misnumbered {
                expected: wanted,
                found: entry.n,
            });
        }
        if entry.body.len() > MAX_BODY_BYTES {
            let bytes = entry.body.len();
            return Err(StoreError::BodyTooLarge {
                n: entry.n,
                bytes,
                limit: MAX_BODY_BYTES,
            });
        }
    }
    let mut ids = HashSet::with_capacity(batch.entries.len());
    if let Some(twice) = batch.entries.iter().find(|entry| !ids.insert(entry.entry_id)) {
        return Err(StoreError::TwiceInBatch {
            entry_id: twice.entry_id,
        });
    }
    for change in &batch.runs {
        if let RunChange::Put { run, boxes, .. } = change {
            boxes::check(run, boxes)?;
        }
    }
    Ok(())
}

/// Writes a checked batch, or says why it cannot stand where it was meant to.
pub(crate) fn append(
    connection: &Connection,
    site: SiteId,
    expected: Head,
    batch: &Batch,
) -> Result<Appended, StoreError> {
    let (site_key, actual) = read::head(connection, site)?;
    if actual != expected {
        // A batch sent twice usually comes with an old head, or with numbers made on the new one.
        return match already_there(connection, site_key, actual.n, &batch.entries)? {
            Some(appended) => Ok(appended),
            None => Err(StoreError::StaleHead { actual }),
        };
    }
    if !insert_entries(connection, site_key, &batch.entries)? {
        let there = already_there(connection, site_key, actual.n, &batch.entries)?;
        return there.ok_or_else(|| StoreError::Database {
            doing: "add entries",
            detail: "an id was taken and then was not".to_owned(),
        });
    }
    if let Some(last) = batch.entries.last() {
        connection
            .prepare_cached("update site set n = ?2, head = ?3 where site_key = ?1")
            .and_then(|mut update| update.execute(params![site_key, last.n, last.head]))
            .map_err(while_doing("move the head"))?;
    }
    for change in &batch.runs {
        match change {
            RunChange::Put { run, bytes, boxes } => boxes::put_run(connection, site_key, run, bytes, boxes),
            RunChange::Drop { run } => boxes::drop_run(connection, site_key, run),
        }
        .map_err(while_doing("write a run"))?;
    }
    blobs::note_use(connection, site_key, expected.n, batch)?;
    Ok(Appended::Written)
}

/// Inserts the entries; returns false when an id is taken.
fn insert_entries(connection: &Connection, site_key: i64, entries: &[EntryRow]) -> Result<bool, StoreError> {
    if entries.is_empty() {
        return Ok(true);
    }
    let failed = while_doing("add entries");
    let mut insert = connection
        .prepare_cached(
            "insert into entry (entry_key, site_key, n, tag, entry_id, recorded_at, body_hash, head, body)
             values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        )
        .map_err(&failed)?;
    for entry in entries {
        let inserted = insert.execute(params![
            read::entry_key(site_key, entry.n),
            site_key,
            entry.n,
            entry.tag,
            entry.entry_id,
            entry.recorded_at,
            entry.body_hash,
            entry.head,
            entry.body,
        ]);
        match inserted {
            Ok(_) => {}
            Err(error) if is_taken_id(&error) => return Ok(false),
            Err(error) => return Err(failed(error)),
        }
    }
    Ok(true)
}

/// Looks for the entries among those up to number `up_to`: all there, none there, or an error in between.
fn already_there(
    connection: &Connection,
    site_key: i64,
    up_to: u64,
    entries: &[EntryRow],
) -> Result<Option<Appended>, StoreError> {
    let mut find = connection
        .prepare_cached("select n, body_hash from entry where site_key = ?1 and entry_id = ?2 and n <= ?3")
        .map_err(while_doing("look for entries"))?;
    let mut there = Vec::new();
    for (place, entry) in entries.iter().enumerate() {
        let found: Option<(u64, [u8; 32])> = find
            .query_row(params![site_key, entry.entry_id, up_to], |row| {
                Ok((row.get(0)?, row.get(1)?))
            })
            .optional()
            .map_err(while_doing("look for entries"))?;
        match found {
            None => {}
            Some((n, body_hash)) if body_hash == entry.body_hash => there.push((place, n)),
            Some((n, _)) => {
                return Err(StoreError::SameIdOtherBytes {
                    entry_id: entry.entry_id,
                    n,
                });
            }
        }
    }
    if there.is_empty() {
        Ok(None)
    } else if there.len() == entries.len() {
        Ok(Some(Appended::AlreadyThere {
            n: there.into_iter().map(|(_, n)| n).collect(),
        }))
    } else {
        Err(StoreError::PartlyThere { there })
    }
}

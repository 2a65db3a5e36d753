//! Reading connections, and the queries that run on them.

use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};

use rusqlite::{Connection, OptionalExtension, Row, params};

use crate::{EntryRow, Head, SiteId, SiteRow, StoreError};

use super::append::NUMBERS_PER_SITE;
use super::fail::while_doing;
use super::open;

/// Most idle connections kept open.
const KEPT: usize = 4;

const ENTRY_COLUMNS: &str = "n, tag, entry_id, recorded_at, body_hash, head, body";

/// Reading connections, opened as needed and kept for the next reader.
#[derive(Debug)]
pub(crate) struct Readers {
    path: PathBuf,
    idle: Mutex<Vec<Connection>>,
}

impl Readers {
    pub(crate) fn new(path: PathBuf, first: Connection) -> Readers {
        Readers {
            path,
            idle: Mutex::new(vec![first]),
        }
    }

    /// Runs `read` on a connection of its own, so it may nest.
    pub(crate) fn with<T>(
        &self,
        read: impl FnOnce(&Connection) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let idle = self.idle.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let connection = match idle {
            Some(connection) => connection,
            None => open::reading_connection(&self.path)?,
        };
        let result = read(&connection);
        let mut idle = self.idle.lock().unwrap_or_else(PoisonError::into_inner);
        if idle.len() < KEPT && connection.is_autocommit() {
            idle.push(connection);
        }
        result
    }
}

/// Returns the key of an entry; numbers past the layout's limit give one that the table refuses.
pub(crate) fn entry_key(site_key: i64, n: u64) -> i64 {
    let n = i64::try_from(n).unwrap_or(i64::MAX).min(NUMBERS_PER_SITE);
    site_key * NUMBERS_PER_SITE + n
}

pub(crate) fn sites(connection: &Connection) -> Result<Vec<SiteRow>, StoreError> {
    let read = || {
        connection
            .prepare_cached("select site, n, head from site order by site_key")?
            .query_map([], |row| {
                Ok(SiteRow {
                    site: row.get(0)?,
                    head: Head {
                        n: row.get(1)?,
                        hash: row.get(2)?,
                    },
                })
            })?
            .collect::<Result<_, _>>()
    };
    read().map_err(while_doing("list the sites"))
}

/// Returns a site's key and where its chain stands.
pub(crate) fn head(connection: &Connection, site: SiteId) -> Result<(i64, Head), StoreError> {
    connection
        .prepare_cached("select site_key, n, head from site where site = ?1")
        .and_then(|mut find| {
            find.query_row([site], |row| {
                Ok((
                    row.get(0)?,
                    Head {
                        n: row.get(1)?,
                        hash: row.get(2)?,
                    },
                ))
            })
            .optional()
        })
        .map_err(while_doing("find the site"))?
        .ok_or(StoreError::NoSuchSite { site })
}

pub(crate) fn for_each_entry(
    connection: &Connection,
    site: SiteId,
    from_n: u64,
    each: &mut dyn FnMut(EntryRow) -> ControlFlow<()>,
) -> Result<(), StoreError> {
    let (site_key, _) = head(connection, site)?;
    let read = |each: &mut dyn FnMut(EntryRow) -> ControlFlow<()>| {
        let sql = format!(
            "select {ENTRY_COLUMNS} from entry where entry_key >= ?1 and entry_key < ?2 order by entry_key"
        );
        let mut find = connection.prepare_cached(&sql)?;
        let mut rows = find.query(params![entry_key(site_key, from_n), entry_key(site_key + 1, 0)])?;
        while let Some(row) = rows.next()? {
            if each(entry(site, row)?).is_break() {
                break;
            }
        }
        Ok(())
    };
    read(each).map_err(while_doing("read entries"))
}

pub(crate) fn entries_tagged(
    connection: &Connection,
    site: SiteId,
    tags: &[&str],
) -> Result<Vec<EntryRow>, StoreError> {
    let failed = while_doing("read entries by kind");
    // One moment for all tags.
    let moment = connection.unchecked_transaction().map_err(&failed)?;
    let (site_key, _) = head(&moment, site)?;
    let mut tags = tags.to_vec();
    tags.sort_unstable();
    tags.dedup();
    let mut found: Vec<EntryRow> = Vec::new();
    for tag in tags {
        let sql = format!("select {ENTRY_COLUMNS} from entry where site_key = ?1 and tag = ?2 order by n");
        let mut find = moment.prepare_cached(&sql).map_err(&failed)?;
        let rows = find
            .query_map(params![site_key, tag], |row| entry(site, row))
            .map_err(&failed)?;
        for row in rows {
            found.push(row.map_err(&failed)?);
        }
    }
    moment.commit().map_err(&failed)?;
    found.sort_by_key(|entry| entry.n);
    Ok(found)
}

pub(crate) fn tags(connection: &Connection, site: SiteId) -> Result<Vec<String>, StoreError> {
    let (site_key, _) = head(connection, site)?;
    let read = || {
        // Leaps from tag to tag in the index, so that a million entries cost no more than their few tags.
        connection
            .prepare_cached(
                "with recursive each (tag) as (
                     select min(tag) from entry where site_key = ?1
                     union all
                     select (select min(tag) from entry where site_key = ?1 and tag > each.tag)
                     from each where each.tag is not null)
                 select tag from each where tag is not null",
            )?
            .query_map([site_key], |row| row.get(0))?
            .collect::<Result<_, _>>()
    };
    read().map_err(while_doing("read the kinds of entries"))
}

pub(crate) fn entry_by_id(
    connection: &Connection,
    site: SiteId,
    entry_id: [u8; 16],
) -> Result<Option<EntryRow>, StoreError> {
    let (site_key, _) = head(connection, site)?;
    let sql = format!("select {ENTRY_COLUMNS} from entry where site_key = ?1 and entry_id = ?2");
    connection
        .prepare_cached(&sql)
        .and_then(|mut find| {
            find.query_row(params![site_key, entry_id], |row| entry(site, row))
                .optional()
        })
        .map_err(while_doing("find an entry"))
}

pub(crate) fn run_bytes(
    connection: &Connection,
    site: SiteId,
    run: &str,
) -> Result<Option<Vec<u8>>, StoreError> {
    let (site_key, _) = head(connection, site)?;
    connection
        .prepare_cached("select bytes from run where site_key = ?1 and run = ?2")
        .and_then(|mut find| {
            find.query_row(params![site_key, run], |row| row.get(0))
                .optional()
        })
        .map_err(while_doing("read a run"))
}

pub(crate) fn for_each_run(
    connection: &Connection,
    site: SiteId,
    each: &mut dyn FnMut(&str, &[u8]) -> ControlFlow<()>,
) -> Result<(), StoreError> {
    let (site_key, _) = head(connection, site)?;
    let read = |each: &mut dyn FnMut(&str, &[u8]) -> ControlFlow<()>| {
        let mut find =
            connection.prepare_cached("select run, bytes from run where site_key = ?1 order by run")?;
        let mut rows = find.query([site_key])?;
        while let Some(row) = rows.next()? {
            if each(row.get_ref(0)?.as_str()?, row.get_ref(1)?.as_blob()?).is_break() {
                break;
            }
        }
        Ok(())
    };
    read(each).map_err(while_doing("read runs"))
}

fn entry(site: SiteId, row: &Row<'_>) -> rusqlite::Result<EntryRow> {
    Ok(EntryRow {
        site,
        n: row.get(0)?,
        tag: row.get(1)?,
        entry_id: row.get(2)?,
        recorded_at: row.get(3)?,
        body_hash: row.get(4)?,
        head: row.get(5)?,
        body: row.get(6)?,
    })
}

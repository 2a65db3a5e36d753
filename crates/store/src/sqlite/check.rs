//! Looks for damage in the file, the index and the blobs.

use rusqlite::{Connection, OptionalExtension, params};

use crate::error::hex;
use crate::{BlobHash, StoreError};

use super::blobs::BlobFolder;
use super::boxes::{box_key, decode};
use super::fail::while_doing;

/// Most sentences about one kind of damage; one is enough to restore a backup.
const MOST: usize = 20;

pub(crate) fn integrity_check(
    connection: &Connection,
    blobs: &BlobFolder,
) -> Result<Vec<String>, StoreError> {
    let failed = while_doing("check the register");
    let mut found = Vec::new();
    for (what, sql) in [
        ("file", "pragma integrity_check(20)"),
        ("index of boxes", "select rtreecheck('run_box')"),
        (
            "foreign key",
            "select 'row ' || rowid || ' of ' || \"table\" from pragma_foreign_key_check limit 20",
        ),
        (
            "journal",
            "select 'site ' || lower(hex(site)) || ' says ' || s.n || ' entries and holds ' || count(e.n)
             from site s left join entry e
               on e.entry_key > s.site_key * 1099511627776 and e.entry_key < (s.site_key + 1) * 1099511627776
             group by s.site_key
             having count(e.n) <> s.n or coalesce(max(e.n), 0) <> s.n limit 20",
        ),
        (
            "journal",
            "select 'the head of site ' || lower(hex(site)) || ' is not that of entry ' || s.n
             from site s join entry e on e.entry_key = s.site_key * 1099511627776 + s.n
             where e.head <> s.head limit 20",
        ),
    ] {
        match sentences(connection, sql) {
            Ok(lines) => found.extend(lines.into_iter().map(|line| format!("{what}: {line}"))),
            // A file too damaged for the question is itself an answer.
            Err(error) => match failed(error) {
                StoreError::Damaged { detail } => found.push(format!("{what}: {detail}")),
                other => return Err(other),
            },
        }
    }
    if found.is_empty() {
        found.extend(index_against_boxes(connection).map_err(&failed)?);
    }
    found.extend(blob_files(connection, blobs)?);
    Ok(found)
}

fn sentences(connection: &Connection, sql: &str) -> rusqlite::Result<Vec<String>> {
    let mut question = connection.prepare(sql)?;
    let lines = question.query_map([], |row| row.get::<_, String>(0))?;
    lines
        .filter(|line| line.as_ref().map_or(true, |line| line != "ok"))
        .collect()
}

/// Checks that the index holds each box of each run, rounded outward, and nothing else.
fn index_against_boxes(connection: &Connection) -> rusqlite::Result<Vec<String>> {
    let mut found = Vec::new();
    let mut count = 0;
    let mut runs = connection.prepare("select run_key, site_key, run, boxes from run")?;
    let mut find = connection
        .prepare("select min_e, min_n, max_e, max_n, min_site, max_site from run_box where box_key = ?1")?;
    let mut rows = runs.query([])?;
    while let Some(row) = rows.next()? {
        let (run_key, site_key): (i64, f64) = (row.get(0)?, row.get::<_, i64>(1)? as f64);
        let boxes = decode(row.get_ref(3)?.as_blob()?);
        count += boxes.len() as i64;
        for (place, b) in boxes.iter().enumerate() {
            let indexed = find
                .query_row([box_key(run_key, place)], |row| {
                    let mut six = [0.0; 6];
                    for (at, value) in six.iter_mut().enumerate() {
                        *value = row.get(at)?;
                    }
                    Ok(six)
                })
                .optional()?;
            let right = indexed.is_some_and(|[min_e, min_n, max_e, max_n, min_site, max_site]: [f64; 6]| {
                outward(b.min_e, min_e, -1.0)
                    && outward(b.min_n, min_n, -1.0)
                    && outward(b.max_e, max_e, 1.0)
                    && outward(b.max_n, max_n, 1.0)
                    && [min_site, max_site] == [2.0 * site_key, 2.0 * site_key + 1.0]
            });
            if !right && found.len() < MOST {
                let run: String = row.get(2)?;
                found.push(format!(
                    "index of boxes: box {place} of run {run} is not in it, or not as written"
                ));
            }
        }
    }
    let indexed: i64 = connection.query_row("select count(*) from run_box", [], |row| row.get(0))?;
    if indexed != count {
        found.push(format!(
            "index of boxes: holds {indexed} boxes where the runs have {count}"
        ));
    }
    Ok(found)
}

/// Tells whether a side lies where outward rounding to a 32-bit float may put it, and no further.
fn outward(exact: f64, indexed: f64, away: f64) -> bool {
    let by = (indexed - exact) * away;
    // Two steps of a 32-bit float, and its least normal value near zero.
    by >= 0.0 && by <= exact.abs() * 2.0 * f64::from(f32::EPSILON) + f64::from(f32::MIN_POSITIVE)
}

fn blob_files(connection: &Connection, blobs: &BlobFolder) -> Result<Vec<String>, StoreError> {
    let failed = while_doing("check the blobs");
    let mut found = Vec::new();
    let hashes = |sql: &str| -> rusqlite::Result<Vec<BlobHash>> {
        connection
            .prepare(sql)?
            .query_map(params![], |row| row.get(0))?
            .collect()
    };
    let used = "select distinct hash from blob_use except select hash from blob_erased";
    for hash in hashes(used).map_err(&failed)? {
        if let Err(error) = blobs.check_whole(hash) {
            found.push(format!("blob: {error}"));
        }
    }
    for hash in hashes("select hash from blob_erased").map_err(&failed)? {
        if blobs.file(hash).exists() {
            found.push(format!(
                "blob: {} was erased and its file is still there; erase it again",
                hex(&hash)
            ));
        }
    }
    Ok(found)
}

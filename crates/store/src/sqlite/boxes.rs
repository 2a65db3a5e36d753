//! Cached runs and the R*Tree over their boxes.
//!
//! The tree finds candidates among boxes rounded outward to 32-bit floats; the boxes kept exactly beside
//! the run then decide, so a run is handed over when, and only when, one of its boxes meets the box asked about.

use rusqlite::{Connection, OptionalExtension, params};

use crate::{EachHit, MAX_BOXES_PER_RUN, PlanBox, SiteId, StoreError};

use super::fail::while_doing;
use super::read;

/// Bytes of one box as stored.
pub(crate) const BOX_BYTES: usize = 36;

/// Refuses boxes that the index could not find again.
pub(crate) fn check(run: &str, boxes: &[PlanBox]) -> Result<(), StoreError> {
    let bad = |index, why| {
        Err(StoreError::BadBox {
            run: run.to_owned(),
            index,
            why,
        })
    };
    if boxes.len() > MAX_BOXES_PER_RUN {
        return bad(MAX_BOXES_PER_RUN, "is one too many for a run");
    }
    for (index, b) in boxes.iter().enumerate() {
        let fits = |v: f64| v.abs() <= f64::from(f32::MAX);
        if ![b.min_e, b.min_n, b.max_e, b.max_n].into_iter().all(fits) {
            return bad(index, "has a position that is not a finite number");
        }
        if b.min_e > b.max_e || b.min_n > b.max_n {
            return bad(index, "has its least position above its greatest");
        }
    }
    Ok(())
}

/// Writes a run with checked boxes; boxes that have not changed are left in the index as they are.
pub(crate) fn put_run(
    connection: &Connection,
    site_key: i64,
    run: &str,
    bytes: &[u8],
    boxes: &[PlanBox],
) -> rusqlite::Result<()> {
    let encoded = encode(boxes);
    let there: Option<(i64, Vec<u8>)> = connection
        .prepare_cached("select run_key, boxes from run where site_key = ?1 and run = ?2")?
        .query_row(params![site_key, run], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    let run_key = match there {
        None => {
            connection
                .prepare_cached("insert into run (site_key, run, boxes, bytes) values (?1, ?2, ?3, ?4)")?
                .execute(params![site_key, run, encoded, bytes])?;
            connection.last_insert_rowid()
        }
        Some((run_key, old)) => {
            connection
                .prepare_cached("update run set boxes = ?2, bytes = ?3 where run_key = ?1")?
                .execute(params![run_key, encoded, bytes])?;
            if old == encoded {
                return Ok(());
            }
            take_out(connection, run_key, old.len() / BOX_BYTES)?;
            run_key
        }
    };
    let mut insert = connection.prepare_cached("insert into run_box values (?1, ?2, ?3, ?4, ?5, ?6, ?7)")?;
    for (place, b) in boxes.iter().enumerate() {
        insert.execute(params![
            box_key(run_key, place),
            b.min_e,
            b.max_e,
            b.min_n,
            b.max_n,
            2 * site_key,
            2 * site_key + 1,
        ])?;
    }
    Ok(())
}

/// Removes a run and its boxes, if it is there.
pub(crate) fn drop_run(connection: &Connection, site_key: i64, run: &str) -> rusqlite::Result<()> {
    let there: Option<(i64, usize)> = connection
        .prepare_cached("select run_key, length(boxes) from run where site_key = ?1 and run = ?2")?
        .query_row(params![site_key, run], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    let Some((run_key, length)) = there else {
        return Ok(());
    };
    take_out(connection, run_key, length / BOX_BYTES)?;
    connection
        .prepare_cached("delete from run where run_key = ?1")?
        .execute([run_key])?;
    Ok(())
}

pub(crate) fn runs_in_boxes(
    connection: &Connection,
    site: SiteId,
    within: &PlanBox,
    each: &mut EachHit<'_>,
) -> Result<(), StoreError> {
    check("asked about", std::slice::from_ref(within))?;
    let failed = while_doing("find runs in a box");
    // One moment for the index and the runs.
    let moment = connection.unchecked_transaction().map_err(&failed)?;
    let (site_key, _) = read::head(&moment, site)?;
    let read = |each: &mut EachHit<'_>| {
        let mut run_keys: Vec<i64> = moment
            .prepare_cached(
                "select box_key from run_box
                 where max_e >= ?1 and min_e <= ?2 and max_n >= ?3 and min_n <= ?4
                   and min_site <= ?5 and max_site >= ?5",
            )?
            .query_map(
                params![
                    within.min_e,
                    within.max_e,
                    within.min_n,
                    within.max_n,
                    2.0 * site_key as f64 + 0.5
                ],
                |row| Ok(row.get::<_, i64>(0)? / MAX_BOXES_PER_RUN as i64),
            )?
            .collect::<Result<_, _>>()?;
        run_keys.sort_unstable();
        run_keys.dedup();
        let mut find = moment.prepare_cached("select run, boxes, bytes from run where run_key = ?1")?;
        for run_key in run_keys {
            let mut rows = find.query([run_key])?;
            let Some(row) = rows.next()? else { continue };
            let boxes = decode(row.get_ref(1)?.as_blob()?);
            let mut chunks: Vec<u32> = boxes
                .iter()
                .filter(|b| b.meets(within))
                .map(|b| b.chunk)
                .collect();
            chunks.sort_unstable();
            chunks.dedup();
            if !chunks.is_empty()
                && each(row.get_ref(0)?.as_str()?, row.get_ref(2)?.as_blob()?, &chunks).is_break()
            {
                break;
            }
        }
        Ok(())
    };
    read(each).map_err(&failed)?;
    moment.commit().map_err(&failed)
}

pub(crate) fn boxes(
    connection: &Connection,
    site: SiteId,
) -> Result<Vec<(String, Vec<PlanBox>)>, StoreError> {
    let (site_key, _) = read::head(connection, site)?;
    let read = || {
        connection
            .prepare_cached("select run, boxes from run where site_key = ?1 order by run")?
            .query_map([site_key], |row| {
                Ok((row.get(0)?, decode(row.get_ref(1)?.as_blob()?)))
            })?
            .collect::<Result<_, _>>()
    };
    read().map_err(while_doing("read boxes"))
}

/// Returns the key of a box; `place` is below [`MAX_BOXES_PER_RUN`].
pub(crate) fn box_key(run_key: i64, place: usize) -> i64 {
    run_key * MAX_BOXES_PER_RUN as i64 + place as i64
}

fn take_out(connection: &Connection, run_key: i64, count: usize) -> rusqlite::Result<()> {
    let mut delete = connection.prepare_cached("delete from run_box where box_key = ?1")?;
    for place in 0..count {
        delete.execute([box_key(run_key, place)])?;
    }
    Ok(())
}

fn encode(boxes: &[PlanBox]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(boxes.len() * BOX_BYTES);
    for b in boxes {
        for v in [b.min_e, b.min_n, b.max_e, b.max_n] {
            bytes.extend_from_slice(&v.to_le_bytes());
        }
        bytes.extend_from_slice(&b.chunk.to_le_bytes());
    }
    bytes
}

/// Reads boxes back; a constraint keeps the length a multiple of [`BOX_BYTES`].
pub(crate) fn decode(bytes: &[u8]) -> Vec<PlanBox> {
    let (boxes, _) = bytes.as_chunks::<BOX_BYTES>();
    let float = |b: &[u8; BOX_BYTES], at: usize| {
        let mut eight = [0; 8];
        eight.copy_from_slice(&b[at..at + 8]);
        f64::from_le_bytes(eight)
    };
    boxes
        .iter()
        .map(|b| PlanBox {
            min_e: float(b, 0),
            min_n: float(b, 8),
            max_e: float(b, 16),
            max_n: float(b, 24),
            chunk: u32::from_le_bytes([b[32], b[33], b[34], b[35]]),
        })
        .collect()
}

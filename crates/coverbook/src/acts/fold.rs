//! Reads a site from its journal: the one fold, fed with stored entries and the blobs they hang on.

use super::ActError;
use super::near::NearRuns;
use register::body::{Act, Body, SurfaceShape};
use register::chain;
use register::entry::{Attached, Entry, read_body};
use register::site::Site;
use std::collections::BTreeSet;
use std::ops::ControlFlow;
use std::sync::Arc;
use store::{EntryRow, Store};
use uuid::Uuid;

/// A site as its journal tells it, and who wrote in it.
#[derive(Debug, Clone)]
pub(crate) struct Book {
    /// The fold.
    pub(crate) site: Arc<Site>,
    /// The ids of everybody who made an entry.
    pub(crate) people: BTreeSet<Uuid>,
    /// Its runs by their boxes, once a dig has asked for them.
    pub(crate) near: Option<Arc<NearRuns>>,
}

impl Book {
    /// Returns the book of an empty journal.
    pub(crate) fn empty(site: Uuid) -> Book {
        Book {
            site: Arc::new(Site::empty(site)),
            people: BTreeSet::new(),
            near: None,
        }
    }

    /// Reads on from the newest entry that was applied.
    pub(crate) fn read_on(&mut self, store: &dyn Store) -> Result<(), ActError> {
        self.read_until(store, u64::MAX)
    }

    /// Reads on up to an entry, that one included: what the book knew then.
    pub(crate) fn read_until(&mut self, store: &dyn Store, last: u64) -> Result<(), ActError> {
        // Read on, it is packed anew when a dig next asks.
        self.near = None;
        let site = Arc::make_mut(&mut self.site);
        let mut failed = None;
        store.for_each_entry(site.id.into_bytes(), site.n + 1, &mut |row| {
            if row.n > last {
                return ControlFlow::Break(());
            }
            let applied = entry_of(store, &row).and_then(|entry| {
                if let Ok(body) = &entry.body {
                    self.people.insert(body.by);
                }
                site.apply(&entry).map_err(|refusal| ActError::Journal {
                    n: row.n,
                    why: refusal.says,
                })
            });
            match applied {
                Ok(_) => ControlFlow::Continue(()),
                Err(error) => {
                    failed = Some(error);
                    ControlFlow::Break(())
                }
            }
        })?;
        failed.map_or(Ok(()), Err)
    }
}

/// Reads what a planned dig needs besides runs, and nothing else of the journal.
pub(crate) fn frame_of(store: &dyn Store, id: Uuid) -> Result<Site, ActError> {
    let mut site = Site::empty_frame(id);
    for row in store.entries_tagged(id.into_bytes(), &Act::FRAME_KINDS)? {
        let entry = entry_of(store, &row)?;
        site.apply(&entry).map_err(|refusal| ActError::Journal {
            n: row.n,
            why: refusal.says,
        })?;
    }
    Ok(site)
}

/// Returns a stored row as an entry, with the blobs that the fold needs.
pub(crate) fn entry_of(store: &dyn Store, row: &EntryRow) -> Result<Entry, ActError> {
    if chain::body_hash(&row.body) != row.body_hash {
        return Err(ActError::Journal {
            n: row.n,
            why: "its body is not the one that was hashed; nothing is answered from it".into(),
        });
    }
    entry_as_stored(store, row)
}

/// Returns a stored row as an entry, without asking whether it is what was hashed: for verifying alone.
pub(crate) fn entry_as_stored(store: &dyn Store, row: &EntryRow) -> Result<Entry, ActError> {
    let body = read_body(&row.body);
    let attached = match &body {
        Ok(body) => blobs_for(store, body)?,
        Err(_) => Attached::new(),
    };
    Ok(Entry {
        n: row.n,
        recorded_at: row.recorded_at.clone(),
        head: row.head,
        body,
        attached,
    })
}

/// Returns a stored row as an entry to be read, not folded.
pub(crate) fn entry_without_files(row: &EntryRow) -> Entry {
    Entry {
        n: row.n,
        recorded_at: row.recorded_at.clone(),
        head: row.head,
        body: read_body(&row.body),
        attached: Attached::new(),
    }
}

fn blobs_for(store: &dyn Store, body: &Body) -> Result<Attached, ActError> {
    let mut attached = Attached::new();
    if let Act::SurfaceRecorded(surface) = &body.act
        && let SurfaceShape::Tin { sha256, .. } = &surface.shape
        && let Some(hash) = chain::from_hex(sha256)
    {
        attached.insert(sha256.clone(), store.get_blob(hash)?.into());
    }
    Ok(attached)
}

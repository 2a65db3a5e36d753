//! The store on one SQLite file, with blobs in a folder beside it.

mod append;
mod backup;
mod blobs;
mod boxes;
mod check;
mod fail;
mod group;
mod migrate;
mod open;
mod people;
mod read;
#[cfg(test)]
mod tests;

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::{
    Access, Appended, Batch, BlobHash, BlobUse, EachHit, EntryRow, Head, Person, PlanBox, SiteId, SiteRow,
    Store, StoreError, Ticket,
};

pub use backup::restore;
pub use open::{Limits, Opening};

/// How long a connection waits for another process's lock.
const BUSY_WAIT: Duration = Duration::from_secs(10);

/// A register on one SQLite file.
///
/// Files beside `<register>`: `<register>-wal` and `-shm` while it is open, `<register>.blobs/` and
/// `<register>.lock`. Copy a register with [`Store::backup`], not file by file.
///
/// One connection writes, in write-ahead mode with a full sync at each commit; threads that append at the
/// same time share a commit, each in its own savepoint. Readers have connections of their own and neither
/// wait for the writer nor hold it up.
#[derive(Debug)]
pub struct SqliteStore {
    path: PathBuf,
    access: Access,
    limits: Limits,
    readers: read::Readers,
    writer: Option<group::GroupCommit>,
    blobs: blobs::BlobFolder,
    /// Held by a server until it ends; never read.
    _serving: Option<std::fs::File>,
}

impl SqliteStore {
    /// Opens the register at `path`.
    ///
    /// # Errors
    /// [`StoreError::NoSuchRegister`], [`StoreError::NotARegister`], [`StoreError::NewerRegister`],
    /// [`StoreError::InUse`]; nothing is created or changed by a refusal.
    pub fn open(path: &Path, access: Access) -> Result<SqliteStore, StoreError> {
        SqliteStore::open_with(path, &Opening::new(access))
    }

    /// Opens the register at `path`, or begins an empty one there.
    ///
    /// # Errors
    /// As [`SqliteStore::open`].
    pub fn open_or_create(path: &Path, access: Access) -> Result<SqliteStore, StoreError> {
        SqliteStore::open_with(
            path,
            &Opening {
                create: true,
                ..Opening::new(access)
            },
        )
    }

    /// Opens the register at `path` as told.
    ///
    /// # Errors
    /// As [`SqliteStore::open`].
    pub fn open_with(path: &Path, opening: &Opening) -> Result<SqliteStore, StoreError> {
        open::open(path, opening)
    }

    /// Returns the file of the register, with links resolved.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Returns how the register was opened.
    pub fn access(&self) -> Access {
        self.access
    }

    fn writer(&self) -> Result<&group::GroupCommit, StoreError> {
        self.writer.as_ref().ok_or_else(|| StoreError::ReadOnly {
            why: "it was opened for reading only".to_owned(),
        })
    }
}

impl Store for SqliteStore {
    fn create_site(&self, site: SiteId, head0: [u8; 32]) -> Result<(), StoreError> {
        self.writer()?
            .write_and_settle(|connection| append::create_site(connection, site, head0))
    }

    fn sites(&self) -> Result<Vec<SiteRow>, StoreError> {
        self.readers.with(read::sites)
    }

    fn head(&self, site: SiteId) -> Result<Head, StoreError> {
        self.readers
            .with(|connection| read::head(connection, site).map(|(_, head)| head))
    }

    fn append(&self, site: SiteId, expected: Head, batch: &Batch) -> Result<Appended, StoreError> {
        let writer = self.writer()?;
        append::check(site, expected, batch)?;
        self.blobs.check_there(&batch.blobs)?;
        writer.write_and_settle(|connection| append::append(connection, site, expected, batch))
    }

    fn submit(&self, site: SiteId, expected: Head, batch: &Batch) -> Result<Ticket, StoreError> {
        let writer = self.writer()?;
        append::check(site, expected, batch)?;
        self.blobs.check_there(&batch.blobs)?;
        let (group, outcome) =
            writer.write(|connection| append::append(connection, site, expected, batch))?;
        Ok(Ticket { group, outcome })
    }

    fn settle(&self, ticket: Ticket) -> Result<Appended, StoreError> {
        self.writer()?.settle(ticket.group)?;
        Ok(ticket.outcome)
    }

    fn entries(&self, site: SiteId, from_n: u64, limit: usize) -> Result<Vec<EntryRow>, StoreError> {
        let mut found = Vec::new();
        if limit == 0 {
            return self.head(site).map(|_| found);
        }
        self.for_each_entry(site, from_n, &mut |entry| {
            found.push(entry);
            if found.len() < limit {
                ControlFlow::Continue(())
            } else {
                ControlFlow::Break(())
            }
        })?;
        Ok(found)
    }

    fn entries_tagged(&self, site: SiteId, tags: &[&str]) -> Result<Vec<EntryRow>, StoreError> {
        self.readers
            .with(|connection| read::entries_tagged(connection, site, tags))
    }

    fn tags(&self, site: SiteId) -> Result<Vec<String>, StoreError> {
        self.readers.with(|connection| read::tags(connection, site))
    }

    fn entry_by_id(&self, site: SiteId, entry_id: [u8; 16]) -> Result<Option<EntryRow>, StoreError> {
        self.readers
            .with(|connection| read::entry_by_id(connection, site, entry_id))
    }

    fn for_each_entry(
        &self,
        site: SiteId,
        from_n: u64,
        each: &mut dyn FnMut(EntryRow) -> ControlFlow<()>,
    ) -> Result<(), StoreError> {
        self.readers
            .with(|connection| read::for_each_entry(connection, site, from_n, each))
    }

    fn runs_in_boxes(
        &self,
        site: SiteId,
        within: &PlanBox,
        each: &mut EachHit<'_>,
    ) -> Result<(), StoreError> {
        self.readers
            .with(|connection| boxes::runs_in_boxes(connection, site, within, each))
    }

    fn run_bytes(&self, site: SiteId, run: &str) -> Result<Option<Vec<u8>>, StoreError> {
        self.readers
            .with(|connection| read::run_bytes(connection, site, run))
    }

    fn boxes(&self, site: SiteId) -> Result<Vec<(String, Vec<PlanBox>)>, StoreError> {
        self.readers.with(|connection| boxes::boxes(connection, site))
    }

    fn for_each_run(
        &self,
        site: SiteId,
        each: &mut dyn FnMut(&str, &[u8]) -> ControlFlow<()>,
    ) -> Result<(), StoreError> {
        self.readers
            .with(|connection| read::for_each_run(connection, site, each))
    }

    fn put_blob(&self, bytes: &[u8]) -> Result<BlobHash, StoreError> {
        self.writer()?;
        let limit = self.limits.max_blob_bytes;
        if bytes.len() as u64 > limit {
            return Err(StoreError::BlobTooLarge {
                bytes: bytes.len() as u64,
                limit,
            });
        }
        let hash = blobs::sha256(bytes);
        if self
            .readers
            .with(|connection| blobs::is_erased(connection, hash))?
        {
            return Err(StoreError::BlobErased { hash });
        }
        self.blobs.put(hash, bytes)?;
        Ok(hash)
    }

    fn get_blob(&self, hash: BlobHash) -> Result<Vec<u8>, StoreError> {
        if self
            .readers
            .with(|connection| blobs::is_erased(connection, hash))?
        {
            return Err(StoreError::BlobErased { hash });
        }
        self.blobs.get(hash, self.limits.max_blob_bytes)
    }

    fn erase_blob(&self, hash: BlobHash) -> Result<(), StoreError> {
        let writer = self.writer()?;
        if !self
            .readers
            .with(|connection| blobs::is_erased(connection, hash))?
        {
            self.blobs.check_there(&[hash])?;
            writer.write_and_settle(|connection| blobs::mark_erased(connection, hash))?;
        }
        self.blobs.remove(hash)
    }

    fn blobs(&self, site: SiteId) -> Result<Vec<BlobUse>, StoreError> {
        self.readers.with(|connection| blobs::blobs(connection, site))
    }

    fn put_person(&self, id: [u8; 16], name: &str, phone: &str) -> Result<(), StoreError> {
        self.writer()?
            .write_and_settle(|connection| people::put(connection, id, name, phone))
    }

    fn person(&self, id: [u8; 16]) -> Result<Option<Person>, StoreError> {
        self.readers.with(|connection| people::get(connection, id))
    }

    fn erase_person(&self, id: [u8; 16]) -> Result<(), StoreError> {
        let writer = self.writer()?;
        writer.write_and_settle(|connection| people::erase(connection, id))?;
        writer.empty_the_log()
    }

    fn backup(&self, to: &Path) -> Result<(), StoreError> {
        backup::backup(self, to)
    }

    fn integrity_check(&self) -> Result<Vec<String>, StoreError> {
        self.readers
            .with(|connection| check::integrity_check(connection, &self.blobs))
    }
}

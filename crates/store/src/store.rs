//! The trait that every store stands behind.

use std::ops::ControlFlow;
use std::path::Path;

use crate::{
    Appended, Batch, BlobHash, BlobUse, EntryRow, Head, Person, PlanBox, SiteId, SiteRow, StoreError, Ticket,
};

/// Most bytes that the body of one entry may have: 1 MiB.
pub const MAX_BODY_BYTES: usize = 1 << 20;

/// Most boxes that one run may have.
pub const MAX_BOXES_PER_RUN: usize = 1 << 20;

/// Takes a run's key, its bytes and the chunks of its boxes that meet the box asked about, rising.
pub type EachHit<'a> = dyn FnMut(&str, &[u8], &[u32]) -> ControlFlow<()> + 'a;

/// Keeps chains of entries, the cached rows they imply, blobs and people.
///
/// Every call blocks until it is done, so call it off the async threads. All of it may be called from many
/// threads at once. A callback may call the store again; it should not append to it from within.
///
/// Another process may append to the same register (see the access modes of the SQLite store), so a caller
/// that keeps state in memory compares [`Store::head`] with its own before it answers, and reads on from
/// its own `n + 1` when the two differ.
pub trait Store: Send + Sync {
    /// Creates a site whose chain stands at `n = 0` with the hash `head0`.
    ///
    /// # Errors
    /// [`StoreError::SiteExists`] when the site is there already.
    fn create_site(&self, site: SiteId, head0: [u8; 32]) -> Result<(), StoreError>;

    /// Returns every site, in the order of creation.
    fn sites(&self) -> Result<Vec<SiteRow>, StoreError>;

    /// Returns where the chain of a site stands on the disk, or [`StoreError::NoSuchSite`].
    fn head(&self, site: SiteId) -> Result<Head, StoreError>;

    /// Writes a batch on top of the expected head and returns once it is on the disk.
    ///
    /// One transaction: either all of the batch is kept or none of it. Appends from several threads share
    /// one sync of the disk where they can. Sending the same entries again, whatever head is expected,
    /// returns [`Appended::AlreadyThere`] with the numbers they already have.
    ///
    /// # Errors
    /// [`StoreError::StaleHead`] when the chain has moved on; [`StoreError::SameIdOtherBytes`] when an id is
    /// taken by an entry with another body hash; [`StoreError::PartlyThere`] when only some of the entries
    /// are there already; [`StoreError::Misnumbered`], [`StoreError::BodyTooLarge`], [`StoreError::BadBox`],
    /// [`StoreError::NoSuchBlob`] for a batch that cannot be kept; [`StoreError::DiskFull`] and the like.
    fn append(&self, site: SiteId, expected: Head, batch: &Batch) -> Result<Appended, StoreError> {
        let ticket = self.submit(site, expected, batch)?;
        self.settle(ticket)
    }

    /// Puts a batch in its place in the chain without waiting for the disk.
    ///
    /// For callers that number entries under a lock of their own: submit under the lock, let go of it, then
    /// settle, and the next caller's batch for the same site shares the sync. A later batch may build on
    /// one that is submitted but not settled; if the sync fails, both are gone and both settles say so, and
    /// the caller reads its state again. Nothing submitted is visible to any reader until it is settled.
    /// Every ticket must be settled soon, since other processes cannot write until then.
    ///
    /// # Errors
    /// As [`Store::append`]. The head in a `StaleHead` may be one that is not on the disk yet.
    fn submit(&self, site: SiteId, expected: Head, batch: &Batch) -> Result<Ticket, StoreError>;

    /// Waits until a submitted batch is on the disk and returns how it ended.
    ///
    /// # Errors
    /// The reason why the disk could not take it; nothing of the batch was then kept.
    fn settle(&self, ticket: Ticket) -> Result<Appended, StoreError>;

    /// Returns up to `limit` entries of a site from number `from_n` on, in order.
    fn entries(&self, site: SiteId, from_n: u64, limit: usize) -> Result<Vec<EntryRow>, StoreError>;

    /// Returns the entries of a site that carry one of the tags, in order of number.
    fn entries_tagged(&self, site: SiteId, tags: &[&str]) -> Result<Vec<EntryRow>, StoreError>;

    /// Returns every tag that the entries of a site carry, each once, rising.
    fn tags(&self, site: SiteId) -> Result<Vec<String>, StoreError>;

    /// Returns the entry of a site with an id, if it is there.
    fn entry_by_id(&self, site: SiteId, entry_id: [u8; 16]) -> Result<Option<EntryRow>, StoreError>;

    /// Hands over the entries of a site from number `from_n` on, in order, until `each` breaks.
    ///
    /// All are read as at one moment, one at a time.
    fn for_each_entry(
        &self,
        site: SiteId,
        from_n: u64,
        each: &mut dyn FnMut(EntryRow) -> ControlFlow<()>,
    ) -> Result<(), StoreError>;

    /// Hands over each run of a site with a box that meets `within`: its key, its bytes and the chunks of the
    /// boxes that meet, rising. Each run comes once.
    ///
    /// Only boxes are compared (touching ones meet). Testing the run itself is the caller's part, and so is
    /// growing `within` by every radius and uncertainty that the boxes leave out. The `chunk` of `within` is not read.
    fn runs_in_boxes(&self, site: SiteId, within: &PlanBox, each: &mut EachHit<'_>)
    -> Result<(), StoreError>;

    /// Returns the bytes of a run, if it is there.
    fn run_bytes(&self, site: SiteId, run: &str) -> Result<Option<Vec<u8>>, StoreError>;

    /// Returns every run of a site with its boxes as they were written, in order of the run's key.
    fn boxes(&self, site: SiteId) -> Result<Vec<(String, Vec<PlanBox>)>, StoreError>;

    /// Hands over every run of a site and its bytes, in order of the run's key, until `each` breaks.
    fn for_each_run(
        &self,
        site: SiteId,
        each: &mut dyn FnMut(&str, &[u8]) -> ControlFlow<()>,
    ) -> Result<(), StoreError>;

    /// Keeps a blob and returns its SHA-256 once it is on the disk; putting it again changes nothing.
    ///
    /// # Errors
    /// [`StoreError::BlobTooLarge`]; [`StoreError::BlobErased`] when these bytes were erased on purpose.
    fn put_blob(&self, bytes: &[u8]) -> Result<BlobHash, StoreError>;

    /// Returns the bytes of a blob after checking them against its hash.
    ///
    /// # Errors
    /// [`StoreError::NoSuchBlob`], [`StoreError::BlobErased`], [`StoreError::BlobDamaged`].
    fn get_blob(&self, hash: BlobHash) -> Result<Vec<u8>, StoreError>;

    /// Erases the bytes of a blob for good; the entries that name it stay as they are.
    fn erase_blob(&self, hash: BlobHash) -> Result<(), StoreError>;

    /// Returns the blobs that the entries of a site name, in order of the first entry.
    fn blobs(&self, site: SiteId) -> Result<Vec<BlobUse>, StoreError>;

    /// Writes a person's name and phone number beside the chain, replacing what was there.
    ///
    /// # Errors
    /// [`StoreError::PersonErased`] when the id was erased.
    fn put_person(&self, id: [u8; 16], name: &str, phone: &str) -> Result<(), StoreError>;

    /// Returns what is kept about a person, if the id was ever written.
    fn person(&self, id: [u8; 16]) -> Result<Option<Person>, StoreError>;

    /// Erases a person's name and phone number for good; the id stays and reads [`Person::Erased`].
    ///
    /// Copies made by an earlier backup are not reached.
    fn erase_person(&self, id: [u8; 16]) -> Result<(), StoreError>;

    /// Copies the register as at one moment, with its blobs, to a new file.
    ///
    /// # Errors
    /// [`StoreError::AlreadyExists`] when something is there; [`StoreError::BlobDamaged`] and
    /// [`StoreError::NoSuchBlob`] when a blob cannot be copied whole.
    fn backup(&self, to: &Path) -> Result<(), StoreError>;

    /// Looks for damage in the store itself and returns a sentence for each thing found; none means none found.
    ///
    /// Checks the file's structure, the numbering and the heads' places, the index against the boxes and every
    /// blob against its hash. It cannot check the chain's hashes, whose making it does not know.
    fn integrity_check(&self) -> Result<Vec<String>, StoreError>;
}

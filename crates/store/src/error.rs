//! What can go wrong in a store, with the mend in the message.

use std::path::PathBuf;

use crate::Head;

/// Why a store refused or failed; whatever was asked changed nothing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The chain no longer stands where the caller expected.
    #[error(
        "the site's journal has moved on to entry {} ({}); read the newer entries and try again",
        actual.n, hex(&actual.hash[..8])
    )]
    StaleHead {
        /// Where the chain stands.
        actual: Head,
    },
    /// An entry with this id is there with other bytes.
    #[error(
        "entry id {} is taken by entry {n} with other bytes; give the new entry an id of its own",
        uuid::Uuid::from_bytes(*entry_id)
    )]
    SameIdOtherBytes {
        /// The id.
        entry_id: [u8; 16],
        /// Number of the entry that has it.
        n: u64,
    },
    /// Some of the batch's entries are there already and others are not.
    #[error(
        "{} of the batch's entries are there already and others are not; send again only those that are not",
        there.len()
    )]
    PartlyThere {
        /// Place in the batch and number in the site of each that is there, with the same bytes.
        there: Vec<(usize, u64)>,
    },
    /// One id stands twice in a batch.
    #[error("entry id {} comes twice in the batch; send each entry once", uuid::Uuid::from_bytes(*entry_id))]
    TwiceInBatch {
        /// The id.
        entry_id: [u8; 16],
    },
    /// An entry does not follow the one before it, or belongs to another site.
    #[error("entry {found} was sent where entry {expected} of this site belongs; number the batch again")]
    Misnumbered {
        /// The number that belongs there.
        expected: u64,
        /// The number found.
        found: u64,
    },
    /// A body is larger than [`crate::MAX_BODY_BYTES`].
    #[error(
        "the body of entry {n} has {bytes} bytes, over the limit of {limit}; split it into several entries or attach the data as a file"
    )]
    BodyTooLarge {
        /// Number of the entry.
        n: u64,
        /// Its size in bytes.
        bytes: usize,
        /// The limit in bytes.
        limit: usize,
    },
    /// A box is not finite, is turned inside out, or there are too many.
    #[error("run {run}: box {index} {why}; leave the run out or mend its positions")]
    BadBox {
        /// Key of the run.
        run: String,
        /// Place of the box in the run's list.
        index: usize,
        /// What is wrong with it.
        why: &'static str,
    },
    /// The site is not in this register.
    #[error("site {} is not in this register; list the sites it holds, or open the site first", uuid::Uuid::from_bytes(*site))]
    NoSuchSite {
        /// The site asked for.
        site: [u8; 16],
    },
    /// The site is there already.
    #[error("site {} is in this register already; use it, or give the new site another id", uuid::Uuid::from_bytes(*site))]
    SiteExists {
        /// The site.
        site: [u8; 16],
    },
    /// A blob was never put here, or its file is gone.
    #[error(
        "file {} is not in this register's blobs; attach it again or restore it from a backup",
        hex(hash)
    )]
    NoSuchBlob {
        /// SHA-256 of the blob.
        hash: [u8; 32],
    },
    /// A blob's bytes no longer have its hash.
    #[error(
        "file {} has been damaged on the disk: its bytes no longer match its hash; restore it from a backup or attach the original again",
        hex(hash)
    )]
    BlobDamaged {
        /// SHA-256 the blob should have.
        hash: [u8; 32],
    },
    /// A blob was erased on purpose.
    #[error("file {} was erased on purpose and cannot be had or put again", hex(hash))]
    BlobErased {
        /// SHA-256 of the blob.
        hash: [u8; 32],
    },
    /// A blob is larger than the store takes.
    #[error("the file has {bytes} bytes, over the limit of {limit}; make it smaller or split it")]
    BlobTooLarge {
        /// Its size in bytes.
        bytes: u64,
        /// The limit in bytes.
        limit: u64,
    },
    /// The person's id was erased.
    #[error("person {} was erased; give the person a new id", uuid::Uuid::from_bytes(*id))]
    PersonErased {
        /// The id.
        id: [u8; 16],
    },
    /// Nobody has this id.
    #[error("person {} is not in this register; check the id", uuid::Uuid::from_bytes(*id))]
    NoSuchPerson {
        /// The id.
        id: [u8; 16],
    },
    /// Something tried to change or remove an entry.
    #[error("the journal is only added to: {what}; record a correction instead")]
    NeverChanged {
        /// Which rule of the file refused it.
        what: String,
    },
    /// There is no register at the path.
    #[error("{}: no register there; check the path, or open a site to begin one", path.display())]
    NoSuchRegister {
        /// The path.
        path: PathBuf,
    },
    /// The file is something else.
    #[error("{}: not a coverbook register ({why}); name the register's own file", path.display())]
    NotARegister {
        /// The path.
        path: PathBuf,
        /// How that was seen.
        why: String,
    },
    /// The file was written by a newer version.
    #[error("{}: written by a newer version (layout {found}, this one knows up to {known}); use that version or a newer one", path.display())]
    NewerRegister {
        /// The path.
        path: PathBuf,
        /// Layout of the file.
        found: i64,
        /// Newest layout this program knows.
        known: i64,
    },
    /// The file was written by an older version and was opened for reading only.
    #[error("{}: written by an older version (layout {found}, this one writes {known}); open it once for writing to bring it up to date", path.display())]
    OlderRegister {
        /// The path.
        path: PathBuf,
        /// Layout of the file.
        found: i64,
        /// Layout that this program writes.
        known: i64,
    },
    /// Another process serves the register.
    #[error("{}: another server has this register open; stop it first, or use that one", path.display())]
    InUse {
        /// The path.
        path: PathBuf,
    },
    /// Another process kept the register locked for too long.
    #[error(
        "the register is being written by another program and did not become free in {waited_ms} ms; try again when that has finished"
    )]
    Busy {
        /// How long the store waited.
        waited_ms: u64,
    },
    /// The register was opened for reading, or its file cannot be written.
    #[error(
        "the register cannot be written ({why}); open it for writing, or give the file and its folder write permission"
    )]
    ReadOnly {
        /// How that was seen.
        why: String,
    },
    /// The disk, or the space the register may use, is full.
    #[error(
        "no space left to write the register; free some disk space (or raise its size limit) and try again, nothing was kept"
    )]
    DiskFull,
    /// The file's structure is damaged.
    #[error(
        "the register's file is damaged ({detail}); keep a copy of it as it is, then restore the last backup"
    )]
    Damaged {
        /// What the database said.
        detail: String,
    },
    /// A copy would overwrite something.
    #[error("{}: something is there already; choose a new name or move it away first", path.display())]
    AlreadyExists {
        /// The path.
        path: PathBuf,
    },
    /// The operating system refused to read or write a file.
    #[error("{}: {detail}; check that the folder exists, has space and may be written", path.display())]
    File {
        /// The path.
        path: PathBuf,
        /// What the system said.
        detail: String,
    },
    /// The database failed in a way that has no name here.
    #[error(
        "the database failed while it tried to {doing}: {detail}; try again, and check the disk if it goes on"
    )]
    Database {
        /// What was being done.
        doing: &'static str,
        /// What the database said.
        detail: String,
    },
}

/// Returns bytes as lower-case hexadecimal digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

//! The rows that cross the boundary of a store.

/// The sixteen bytes of a site's UUID.
pub type SiteId = [u8; 16];

/// The SHA-256 of a blob's bytes, which is also its name.
pub type BlobHash = [u8; 32];

/// The place a chain has reached: the number of its last entry and the hash there.
///
/// A site without entries stands at `n = 0` with the hash it was created with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    /// Number of the last entry; 0 when there is none.
    pub n: u64,
    /// Hash of the chain up to and including that entry.
    pub hash: [u8; 32],
}

/// One site and where its chain stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SiteRow {
    /// The site.
    pub site: SiteId,
    /// Where its chain stands.
    pub head: Head,
}

/// One journal entry as stored: numbered, hashed and timed by the caller.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryRow {
    /// The site whose chain holds the entry.
    pub site: SiteId,
    /// Number within the site, from 1 without gaps.
    pub n: u64,
    /// Kind of the entry; the store only compares it.
    pub tag: String,
    /// Id given by the author's device; unique within the site.
    pub entry_id: [u8; 16],
    /// Time of recording as the text that was hashed.
    pub recorded_at: String,
    /// The bytes that were hashed.
    pub body: Vec<u8>,
    /// Hash of the body.
    pub body_hash: [u8; 32],
    /// Hash of the chain up to and including this entry.
    pub head: [u8; 32],
}

/// A box in plan around a piece of a run, in metres from the site's own origin; easting before northing.
///
/// Boxes are kept exactly and indexed as 32-bit floats rounded outward, so the index stays sharp only for
/// coordinates local to the site: at 430 000 m a float steps by 0.03 m, at 5 400 000 m by 0.5 m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanBox {
    /// Least easting, m.
    pub min_e: f64,
    /// Least northing, m.
    pub min_n: f64,
    /// Greatest easting, m.
    pub max_e: f64,
    /// Greatest northing, m.
    pub max_n: f64,
    /// What the box stands for within its run, for the caller to read; for example a piece of 16 legs.
    pub chunk: u32,
}

impl PlanBox {
    /// Tells whether two boxes share a point; boxes that only touch do.
    pub fn meets(&self, other: &PlanBox) -> bool {
        self.min_e <= other.max_e
            && self.max_e >= other.min_e
            && self.min_n <= other.max_n
            && self.max_n >= other.min_n
    }
}

/// What a batch does to the cached row of one run.
#[derive(Debug, Clone, PartialEq)]
pub enum RunChange {
    /// Writes the run, replacing its bytes and all its boxes.
    Put {
        /// Key of the run within the site; opaque to the store.
        run: String,
        /// The encoded run.
        bytes: Vec<u8>,
        /// Its boxes; none at all leaves the run out of [`crate::Store::runs_in_boxes`].
        boxes: Vec<PlanBox>,
    },
    /// Removes the run and its boxes; removing one that is not there is no error.
    Drop {
        /// Key of the run within the site.
        run: String,
    },
}

/// What one append writes, in one transaction.
///
/// A batch without entries only rewrites cached rows, as a rebuild from the journal does.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Batch {
    /// Entries in order, already numbered and hashed by the caller.
    pub entries: Vec<EntryRow>,
    /// Cached rows that the entries imply, applied in order.
    pub runs: Vec<RunChange>,
    /// Blobs that the entries name; each must have been put before.
    pub blobs: Vec<BlobHash>,
}

/// How an append that was not refused ended.
#[derive(Debug, Clone, PartialEq, Eq)]
#[must_use]
pub enum Appended {
    /// Everything in the batch was written.
    Written,
    /// Every entry was there already, with the same bytes; nothing was written.
    AlreadyThere {
        /// The numbers they have, in the batch's order.
        n: Vec<u64>,
    },
}

/// A batch that is in its place in the chain but not yet known to be on the disk; see [`crate::Store::submit`].
#[derive(Debug)]
#[must_use = "nothing is acknowledged until the ticket is settled"]
pub struct Ticket {
    pub(crate) group: u64,
    pub(crate) outcome: Appended,
}

impl Ticket {
    /// Makes a ticket for a store that finished the work in `submit`.
    pub fn settled(outcome: Appended) -> Ticket {
        Ticket { group: 0, outcome }
    }

    /// Returns how the append ends once the ticket is settled.
    pub fn outcome(&self) -> &Appended {
        &self.outcome
    }
}

/// A blob that the entries of a site name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BlobUse {
    /// SHA-256 of its bytes.
    pub hash: BlobHash,
    /// Number of the first entry whose batch named it.
    pub first_n: u64,
    /// Whether its bytes were erased on purpose.
    pub erased: bool,
}

/// What is kept beside the chain about a person, under a random id.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Person {
    /// The person as last written.
    Known {
        /// Name as given.
        name: String,
        /// Phone number as given; empty when none was.
        phone: String,
    },
    /// The person was erased; only the id is left.
    Erased,
}

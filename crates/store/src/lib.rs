//! Keeps bytes, heads, boxes and blobs on disk, and knows none of the register's rules or types.
//!
//! An entry is a number, a tag, an id, a time as text, bytes and two hashes: all of them are made by the
//! caller and kept as given. What this crate promises is that they are kept: [`Store::append`] returns once
//! the batch is on the disk, whole, on top of the head that the caller expected, or it changes nothing.
//! It must not know what a tag means, how a hash is made, or what a run looks like.

mod access;
#[cfg(any(test, feature = "conformance"))]
pub mod conformance;
mod error;
mod rows;
mod sqlite;
mod store;

pub use access::Access;
pub use error::StoreError;
pub use rows::{
    Appended, Batch, BlobHash, BlobUse, EntryRow, Head, Person, PlanBox, RunChange, SiteId, SiteRow, Ticket,
};
pub use sqlite::{Limits, Opening, SqliteStore, restore};
pub use store::{EachHit, MAX_BODY_BYTES, MAX_BOXES_PER_RUN, Store};

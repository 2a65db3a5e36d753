//! Exchange: files in and out, as bytes.
//!
//! Readers take bytes and return drafts made of the register's own body types, with findings that name file, row
//! and column. Writers take the register's views. Nothing here opens a file, asks the time or keeps anything.

pub mod options;
pub mod reading;

pub mod drafts;
pub mod geojson_writer;

pub use drafts::{ControlDraft, ExpectedDraft, PointsDraft, SearchedArea, SearchedDraft, SurfaceDraft};
pub use options::{DEFAULT_LIMIT_BYTES, KnownPoint, ReadOptions, SiteFrame, Stated};
pub use reading::{Preview, Reading};

/// How many findings a reading shows; the rest are counted.
pub const FINDINGS_SHOWN: usize = 200;
/// How many points a preview draws.
pub const PREVIEW_POINTS: usize = 5_000;

//! The book: entries as a person reads them, and what verifying it proves.

use super::HeadView;
use serde::Serialize;
use utoipa::ToSchema;

/// A stretch of the journal.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct JournalView {
    /// `coverbook.journal/1`.
    pub format: String,
    /// Head.
    pub head: HeadView,
    /// Entries, newest first.
    pub entries: Vec<EntryView>,
}

/// One entry.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct EntryView {
    /// Number.
    pub n: u64,
    /// Its id, made by the author's device.
    pub id: String,
    /// Kind.
    pub kind: String,
    /// When the server recorded it.
    pub recorded_at: String,
    /// When its author says it was done or observed.
    pub observed_at: String,
    /// Who: the name, or `erased`.
    pub by: String,
    /// On what device.
    pub device: String,
    /// The entry in a sentence.
    pub says: String,
    /// Head after it, hexadecimal.
    pub head: String,
    /// Set when a later entry took it back: number and reason.
    pub withdrawn: Option<String>,
    /// The body as stored, for those who want it all.
    #[schema(value_type = Object)]
    pub body: serde_json::Value,
}

/// What verifying found.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct VerifyView {
    /// `coverbook.verify/1`.
    pub format: String,
    /// Site name.
    pub site: String,
    /// Head of the chain as recomputed.
    pub head: HeadView,
    /// True when nothing was found wrong.
    pub holds: bool,
    /// What was found wrong, each with its entry or row.
    pub faults: Vec<String>,
    /// What is proven, in plain words.
    pub proven: Vec<String>,
    /// What is not.
    pub not_proven: Vec<String>,
}

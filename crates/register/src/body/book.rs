//! Files, results as issued, remarks, corrections and withdrawals.

use super::PointRow;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A file kept beside the journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FileAttached {
    /// Its name.
    pub file: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// How many bytes.
    pub bytes: u64,
    /// What it belongs to: a run, a point, an area.
    pub about: String,
}

/// An answer as issued, kept with what it rested on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ResultIssued {
    /// The question, JSON text.
    pub question: String,
    /// The answer as issued, JSON text.
    pub answer: String,
    /// Version of the program that worked it out.
    pub engine: String,
    /// SHA-256 of the rule set's text; absent when none was adopted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rules_sha256: Option<String>,
    /// The head it rested on, `n:hex`.
    pub head: String,
}

/// A sheet that left the office.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetIssued {
    /// Which kind of sheet.
    pub sheet: String,
    /// SHA-256 of its file, hexadecimal.
    pub sha256: String,
    /// Version of the program that laid it out.
    pub engine: String,
    /// SHA-256 of the rule set's text; absent when none was adopted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rules_sha256: Option<String>,
    /// The head it rested on, `n:hex`.
    pub head: String,
}

/// A remark in the book.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NoteAdded {
    /// What it is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
    /// The remark.
    pub text: String,
}

/// Recorded points put right; the first reading stays readable.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EntryCorrected {
    /// The entry that recorded them.
    pub entry: Uuid,
    /// Why.
    pub reason: String,
    /// The points as they are to be; each label must be one of that entry's.
    pub points: Vec<PointRow>,
}

/// An entry taken back, with the reason; it stays readable.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EntryWithdrawn {
    /// Which entry.
    pub entry: Uuid,
    /// Why.
    pub reason: String,
}

/// Something kept beside the chain that was erased by right: a person's name, a blob.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ContentErased {
    /// The person's id or the blob's hash.
    pub content: String,
    /// Why.
    pub reason: String,
}

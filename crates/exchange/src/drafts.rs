//! What the readers return: the content of entries, before anybody has recorded it.

use register::body::{AreaSearched, ControlRow, ExpectedRow, ImportRef, PointRow, RunLaid, TinBlob};
use survey::Decimal;

/// Measured points, and the runs their rows make.
#[derive(Debug, Clone, PartialEq)]
pub struct PointsDraft {
    /// The import they come with.
    pub import: ImportRef,
    /// Points in file order.
    pub points: Vec<PointRow>,
    /// Runs in the order of their first rows; empty when the file names none.
    pub runs: Vec<RunLaid>,
}

/// Control points.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlDraft {
    /// The import they come with.
    pub import: ImportRef,
    /// Points in file order.
    pub points: Vec<ControlRow>,
}

/// A surface's points and breaklines; its name, kind and date are given with the import.
#[derive(Debug, Clone, PartialEq)]
pub struct SurfaceDraft {
    /// The import it comes with.
    pub import: ImportRef,
    /// The blob's content.
    pub blob: TinBlob,
    /// Largest standard deviation of all rows; `None` unless every row states one.
    pub sigma_v_mm: Option<Decimal>,
}

/// Searched areas.
#[derive(Debug, Clone, PartialEq)]
pub struct SearchedDraft {
    /// Areas in the order of their first rows.
    pub areas: Vec<SearchedArea>,
}

/// One searched area and when it was searched.
#[derive(Debug, Clone, PartialEq)]
pub struct SearchedArea {
    /// The act.
    pub searched: AreaSearched,
    /// When, RFC 3339, for the entry; `None` when neither the file nor the person says.
    pub observed_at: Option<String>,
    /// First row of it in the file.
    pub row: u64,
}

/// Expected runs.
#[derive(Debug, Clone, PartialEq)]
pub struct ExpectedDraft {
    /// The import they come with.
    pub import: ImportRef,
    /// Runs in file order.
    pub runs: Vec<ExpectedRow>,
}

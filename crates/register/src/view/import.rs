//! What an import would do, before anything is recorded.

use super::Near;
use serde::Serialize;
use utoipa::ToSchema;

/// Most findings that are shown; what there is beyond them is counted.
pub const FINDINGS_SHOWN: usize = 200;

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// Look before you record.
    Doubt,
    /// Nothing can be recorded until it is mended.
    Refusal,
}

/// Something found in a file.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FindingView {
    /// Short code.
    pub code: String,
    /// Weight.
    pub severity: Severity,
    /// File name.
    pub file: String,
    /// Row, counted from 1, the header included; null for the file as a whole.
    pub row: Option<u64>,
    /// Column name or number; null for the row as a whole.
    pub column: Option<String>,
    /// What is wrong and how to mend it.
    pub says: String,
}

/// A column of the file and what it was read as.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ColumnChoice {
    /// Header text, or `column 3` in a headerless file.
    pub header: String,
    /// What it was read as; null when kept as a note.
    pub read_as: Option<String>,
    /// First values, as written.
    pub samples: Vec<String>,
}

/// What an import would record.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ImportPreview {
    /// `coverbook.import/1`.
    pub format: String,
    /// What the file is read as.
    pub kind: String,
    /// File name.
    pub file: String,
    /// SHA-256 of its bytes.
    pub sha256: String,
    /// True when it can be recorded as it stands.
    pub accepted: bool,
    /// What happened or would happen, in a sentence.
    pub says: String,
    /// Columns.
    pub columns: Vec<ColumnChoice>,
    /// True when the file has no header and the order still has to be confirmed.
    pub order_needed: bool,
    /// Rows read.
    pub rows: u64,
    /// Corner of the extent: easting, northing, level; null when no row could be read.
    pub min: Option<[Near; 3]>,
    /// Opposite corner.
    pub max: Option<[Near; 3]>,
    /// The first rows as points on the map (at most 5,000).
    pub points: Vec<PreviewPoint>,
    /// Runs the rows would make.
    pub runs: Vec<PreviewRun>,
    /// Everything found, refusals first (at most [`FINDINGS_SHOWN`]).
    pub findings: Vec<FindingView>,
    /// How many more findings there were.
    pub findings_left_off: u64,
    /// How many refusals there were, those left off among them.
    pub refusals: u64,
    /// How many doubts there were, those left off among them.
    pub doubts: u64,
    /// For observations: the first station that does not pass, else the first of the file.
    pub station: Option<super::StationView>,
    /// For a level book: as reduced.
    pub levels: Option<super::LevelsView>,
    /// The import's id, once recorded.
    pub import_id: Option<String>,
    /// Entries written, once recorded.
    pub entries: u64,
}

impl ImportPreview {
    /// Puts a finding among the others, the gravest first, and says what that makes of the import.
    pub fn add(&mut self, finding: FindingView) {
        match finding.severity {
            Severity::Refusal => {
                self.refusals += 1;
                self.accepted = false;
            }
            Severity::Doubt => self.doubts += 1,
            Severity::Note => {}
        }
        let at = self.findings.partition_point(|f| f.severity >= finding.severity);
        self.findings.insert(at, finding);
        if self.findings.len() > FINDINGS_SHOWN {
            self.findings.truncate(FINDINGS_SHOWN);
            self.findings_left_off += 1;
        }
        self.says = self.sentence();
    }

    /// Returns what would be recorded, in a sentence; what stands against it is counted whole.
    pub fn sentence(&self) -> String {
        let rows = self.rows;
        match (self.order_needed, self.accepted, self.doubts) {
            (true, _, _) => format!("{rows} rows without column names: say which column is which"),
            (_, false, _) => format!(
                "refused: {} to mend before anything can be recorded",
                self.refusals
            ),
            (_, _, 0) => format!("{rows} rows can be recorded"),
            (_, _, 1) => format!("{rows} rows can be recorded; look at 1 doubt first"),
            (_, _, doubts) => format!("{rows} rows can be recorded; look at {doubts} doubts first"),
        }
    }
}

/// A row as a point on the map.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PreviewPoint {
    /// Label.
    pub point: String,
    /// Easting, northing, level.
    pub at: [Near; 3],
    /// Row in the file.
    pub row: u64,
    /// What was touched, as read; null when not stated.
    pub touched: Option<String>,
    /// The run it would join.
    pub run: Option<String>,
}

/// A run the rows would make.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PreviewRun {
    /// Name.
    pub run: String,
    /// Service slug; null when not stated.
    pub service: Option<String>,
    /// How many points.
    pub points: u64,
    /// Easting, northing, level of each (at most 5,000 over all runs).
    pub line: Vec<[Near; 3]>,
}

//! What came of reading a file: a draft to record, or the reasons why not.

use register::body::ImportRef;
use register::view::{ColumnChoice, FindingView, ImportPreview, Near, PreviewPoint, PreviewRun};

/// What came of reading a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading<T> {
    /// What would be recorded; `None` when a finding is a refusal.
    pub draft: Option<T>,
    /// Columns and what they were read as. While `order_needed`, `read_as` is only a proposal.
    pub columns: Vec<ColumnChoice>,
    /// True when the file has no header and its order still has to be confirmed by a person.
    pub order_needed: bool,
    /// The order to confirm, when one reading alone fits the site.
    pub proposed_order: Option<Vec<String>>,
    /// Rows read, header and blank lines apart.
    pub rows: u64,
    /// Refusals first, then by row; at most [`register::view::FINDINGS_SHOWN`].
    pub findings: Vec<FindingView>,
    /// How many more findings there were.
    pub findings_left_off: u64,
    /// How many refusals there were, those left off among them.
    pub refusals: u64,
    /// How many doubts there were, those left off among them.
    pub doubts: u64,
    /// What can be drawn, also of a file that is refused.
    pub preview: Preview,
}

/// What can be drawn of a file before anything is recorded.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Preview {
    /// Corner of the extent: easting, northing, level.
    pub min: Option<[Near; 3]>,
    /// Opposite corner.
    pub max: Option<[Near; 3]>,
    /// The first rows as points (at most [`crate::PREVIEW_POINTS`]).
    pub points: Vec<PreviewPoint>,
    /// Runs the rows would make (at most [`crate::PREVIEW_POINTS`] points over all).
    pub runs: Vec<PreviewRun>,
}

impl<T> Reading<T> {
    /// Returns true when something stands against recording the file.
    pub fn is_refused(&self) -> bool {
        self.draft.is_none()
    }

    /// Returns the reading as the answer that leaves the program, with nothing recorded yet.
    ///
    /// `kind` is what the file was read as: `points`, `control`, `surface`, `searched` or `expected`.
    pub fn to_view(&self, kind: &str, import: &ImportRef) -> ImportPreview {
        let mut view = ImportPreview {
            format: "coverbook.import/1".into(),
            kind: kind.into(),
            file: import.file.clone(),
            sha256: import.sha256.clone(),
            accepted: !self.is_refused(),
            says: String::new(),
            columns: self.columns.clone(),
            order_needed: self.order_needed,
            rows: self.rows,
            min: self.preview.min,
            max: self.preview.max,
            points: self.preview.points.clone(),
            runs: self.preview.runs.clone(),
            findings: self.findings.clone(),
            findings_left_off: self.findings_left_off,
            refusals: self.refusals,
            doubts: self.doubts,
            station: None,
            levels: None,
            import_id: None,
            entries: 0,
        };
        view.says = view.sentence();
        view
    }
}

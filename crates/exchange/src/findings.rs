//! Findings as they are gathered: the gravest and first are kept, all are counted.

use register::view::{FINDINGS_SHOWN, FindingView, Severity};

/// How many findings pile up before the lightest and last are let go.
const PILE: usize = 20 * FINDINGS_SHOWN;

/// Findings of one file.
#[derive(Debug)]
pub(crate) struct Findings {
    file: String,
    pile: Vec<FindingView>,
    refusals: u64,
    doubts: u64,
    notes: u64,
}

/// Findings to show, and how many there were.
pub(crate) struct Found {
    /// Refusals first and then by row.
    pub(crate) shown: Vec<FindingView>,
    /// How many are not shown.
    pub(crate) left_off: u64,
    /// How many refusals there were.
    pub(crate) refusals: u64,
    /// How many doubts there were.
    pub(crate) doubts: u64,
}

impl Findings {
    pub(crate) fn new(file: &str) -> Findings {
        Findings {
            file: file.to_owned(),
            pile: Vec::new(),
            refusals: 0,
            doubts: 0,
            notes: 0,
        }
    }

    pub(crate) fn refuse(
        &mut self,
        code: &str,
        row: Option<u64>,
        column: Option<&str>,
        says: impl Into<String>,
    ) {
        self.add(Severity::Refusal, code, row, column, says.into());
    }
    pub(crate) fn doubt(
        &mut self,
        code: &str,
        row: Option<u64>,
        column: Option<&str>,
        says: impl Into<String>,
    ) {
        self.add(Severity::Doubt, code, row, column, says.into());
    }
    pub(crate) fn note(
        &mut self,
        code: &str,
        row: Option<u64>,
        column: Option<&str>,
        says: impl Into<String>,
    ) {
        self.add(Severity::Note, code, row, column, says.into());
    }

    /// Returns true once anything was refused.
    pub(crate) fn refused(&self) -> bool {
        self.refusals > 0
    }

    /// Returns the findings to show.
    pub(crate) fn finish(mut self) -> Found {
        self.prune();
        Found {
            left_off: self.refusals + self.doubts + self.notes - self.pile.len() as u64,
            shown: self.pile,
            refusals: self.refusals,
            doubts: self.doubts,
        }
    }

    fn add(&mut self, severity: Severity, code: &str, row: Option<u64>, column: Option<&str>, says: String) {
        match severity {
            Severity::Refusal => self.refusals += 1,
            Severity::Doubt => self.doubts += 1,
            Severity::Note => self.notes += 1,
        }
        self.pile.push(FindingView {
            code: code.to_owned(),
            severity,
            file: self.file.clone(),
            row,
            column: column.map(str::to_owned),
            says,
        });
        if self.pile.len() >= PILE {
            self.prune();
        }
    }

    fn prune(&mut self) {
        self.pile.sort_by(|a, b| {
            (b.severity, a.row, &a.column, &a.code).cmp(&(a.severity, b.row, &b.column, &b.code))
        });
        self.pile.truncate(FINDINGS_SHOWN);
    }
}

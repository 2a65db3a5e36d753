//! Findings as they are gathered: the gravest and first are kept, all are counted.

use crate::FINDINGS_SHOWN;
use register::view::{FindingView, Severity};

/// How many findings pile up before the lightest and last are let go.
const PILE: usize = 20 * FINDINGS_SHOWN;

/// Findings of one file.
#[derive(Debug)]
pub(crate) struct Findings {
    file: String,
    pile: Vec<FindingView>,
    counted: u64,
    refused: bool,
}

impl Findings {
    pub(crate) fn new(file: &str) -> Findings {
        Findings {
            file: file.to_owned(),
            pile: Vec::new(),
            counted: 0,
            refused: false,
        }
    }

    pub(crate) fn refuse(
        &mut self,
        code: &str,
        row: Option<u64>,
        column: Option<&str>,
        says: impl Into<String>,
    ) {
        self.refused = true;
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
        self.refused
    }

    /// Returns the findings to show, refusals first and then by row, and how many were left off.
    pub(crate) fn finish(mut self) -> (Vec<FindingView>, u64) {
        self.prune();
        let left_off = self.counted - self.pile.len() as u64;
        (self.pile, left_off)
    }

    fn add(&mut self, severity: Severity, code: &str, row: Option<u64>, column: Option<&str>, says: String) {
        self.counted += 1;
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

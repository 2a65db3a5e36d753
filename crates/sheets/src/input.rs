//! What a dig plan is made from: answers of the register, and who issues the sheet.

use register::view::{DigAnswer, RunCard, SiteMap, SiteView};

/// Everything a dig plan shows. Nothing is computed again: figures are printed as the answer gives them.
#[derive(Debug, Clone, Copy)]
pub struct DigPlanInput<'a> {
    /// The answer to the planned dig.
    pub answer: &'a DigAnswer,
    /// The site: grid, level datum, contact.
    pub site: &'a SiteView,
    /// What the plan draws: runs, searched areas, control.
    pub map: &'a SiteMap,
    /// Cards of the runs near the dig: a level and a cover is printed at each vertex.
    pub cards: &'a [RunCard],
    /// Hand-dig zones; empty prints "zone not set".
    pub zones: &'a [HandDigZone],
    /// Who issues the sheet, and when.
    pub issued: &'a IssueInfo,
    /// Version of the engine that gave the answer.
    pub engine: &'a str,
}

/// How far from a run machines stop and hands begin.
#[derive(Debug, Clone, PartialEq)]
pub struct HandDigZone {
    /// Run, named as in the answer.
    pub run: String,
    /// Distance each side in metres, from the outside of the run at 95 %.
    pub each_side_m: f64,
    /// The rule that says so, with its source.
    pub source: String,
}

/// Who issues a sheet. What is not known is left blank on the sheet, never guessed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct IssueInfo {
    /// Number of the sheet, as it can be typed in again.
    pub sheet_id: String,
    /// When it was issued, as printed.
    pub issued_at: String,
    /// Who issued it.
    pub issued_by: String,
    /// When to ask again; `None` prints a blank rule.
    pub recheck_by: Option<String>,
    /// Emergency services, as dialled on this site; `None` prints a blank rule.
    pub emergency: Option<String>,
}

//! Drafts as entries: parted so that each stays small enough for the journal.

use crate::drafts::{ControlDraft, ExpectedDraft, PointsDraft};
use register::body::{Act, ControlRecorded, ImportRef, PointsRecorded, RunsExpected};
use serde::Serialize;

/// Largest canonical JSON of one entry's act, bytes: 900 KiB, well under the journal's 1 MiB for a whole entry.
pub const FULL_ENTRY_BYTES: usize = 900 * 1024;

/// Returns the acts that record a points file: its points first, then the runs through them.
///
/// Every act's canonical JSON stays under [`FULL_ENTRY_BYTES`]; a run that does not is refused by the reader.
pub fn split_points(draft: PointsDraft) -> Vec<Act> {
    let import = draft.import;
    let mut acts = split(draft.points, &import, |points| {
        Act::PointsRecorded(PointsRecorded {
            import: Some(import.clone()),
            points,
            checks: Vec::new(),
        })
    });
    acts.extend(draft.runs.into_iter().map(Act::RunLaid));
    acts
}

/// Returns the acts that record a control file.
pub fn split_control(draft: ControlDraft) -> Vec<Act> {
    let import = draft.import;
    split(draft.points, &import, |points| {
        Act::ControlRecorded(ControlRecorded {
            import: Some(import.clone()),
            points,
        })
    })
}

/// Returns the acts that record a file of expected runs.
pub fn split_expected(draft: ExpectedDraft) -> Vec<Act> {
    let import = draft.import;
    split(draft.runs, &import, |runs| {
        Act::RunsExpected(RunsExpected {
            import: Some(import.clone()),
            runs,
        })
    })
}

fn json_bytes(value: &impl Serialize) -> usize {
    // Canonical JSON sorts the members and keeps their bytes: bodies hold no fractional numbers.
    serde_json::to_string(value).map_or(FULL_ENTRY_BYTES, |json| json.len())
}

fn split<T: Serialize>(items: Vec<T>, import: &ImportRef, act: impl Fn(Vec<T>) -> Act) -> Vec<Act> {
    let frame = json_bytes(import) + 200;
    let mut acts = Vec::new();
    let mut chunk = Vec::new();
    let mut size = frame;
    for item in items {
        let bytes = json_bytes(&item) + 1;
        if !chunk.is_empty() && size + bytes > FULL_ENTRY_BYTES {
            acts.push(act(std::mem::take(&mut chunk)));
            size = frame;
        }
        size += bytes;
        chunk.push(item);
    }
    if !chunk.is_empty() {
        acts.push(act(chunk));
    }
    acts
}

//! Drafts as entries: parted so that each stays small enough for the journal.

use crate::drafts::{ControlDraft, ExpectedDraft, PointsDraft};
use crate::observations::SetUpDraft;
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

/// Returns the acts that record a set-up: the station unless it stands already, then its shots and the checks between
/// them, each check after the shots that it followed.
pub fn split_set_up(setup: SetUpDraft, stands_already: bool, import: &ImportRef) -> Vec<Act> {
    let mut acts = Vec::new();
    if !stands_already {
        acts.push(Act::StationSet(Box::new(setup.station)));
    }
    let empty = PointsRecorded {
        import: Some(import.clone()),
        points: Vec::new(),
        checks: Vec::new(),
    };
    let mut recorded = empty.clone();
    let mut room = Room::beside(import);
    let mut make_room = |recorded: &mut PointsRecorded, bytes: usize| {
        if !room.takes(bytes) {
            acts.push(Act::PointsRecorded(std::mem::replace(recorded, empty.clone())));
            room = Room::beside(import);
            room.takes(bytes);
        }
    };
    let mut checks = setup.checks.into_iter().peekable();
    let mut points = setup.points.into_iter();
    let mut done = 0;
    loop {
        while let Some(mut check) = checks.next_if(|check| check.after as usize <= done) {
            make_room(&mut recorded, json_bytes(&check) + 1);
            check.after = recorded.points.len() as u32;
            recorded.checks.push(check);
        }
        let Some(point) = points.next() else { break };
        make_room(&mut recorded, json_bytes(&point) + 1);
        recorded.points.push(point);
        done += 1;
    }
    if !recorded.points.is_empty() || !recorded.checks.is_empty() {
        acts.push(Act::PointsRecorded(recorded));
    }
    acts
}

pub(crate) fn json_bytes(value: &impl Serialize) -> usize {
    // Canonical JSON sorts the members and keeps their bytes: bodies hold no fractional numbers.
    serde_json::to_string(value).map_or(usize::MAX / 2, |json| json.len())
}

/// What is left of an entry.
struct Room {
    left: usize,
    is_fresh: bool,
}

impl Room {
    fn beside(import: &ImportRef) -> Room {
        Room {
            left: FULL_ENTRY_BYTES - json_bytes(import) - 200,
            is_fresh: true,
        }
    }

    /// Takes the room for one more item; an entry holds one item at least.
    fn takes(&mut self, bytes: usize) -> bool {
        let fits = self.is_fresh || bytes <= self.left;
        if fits {
            self.left = self.left.saturating_sub(bytes);
            self.is_fresh = false;
        }
        fits
    }
}

fn split<T: Serialize>(items: Vec<T>, import: &ImportRef, act: impl Fn(Vec<T>) -> Act) -> Vec<Act> {
    let mut acts = Vec::new();
    let mut chunk = Vec::new();
    let mut room = Room::beside(import);
    for item in items {
        let bytes = json_bytes(&item) + 1;
        if !room.takes(bytes) {
            acts.push(act(std::mem::take(&mut chunk)));
            room = Room::beside(import);
            room.takes(bytes);
        }
        chunk.push(item);
    }
    if !chunk.is_empty() {
        acts.push(act(chunk));
    }
    acts
}

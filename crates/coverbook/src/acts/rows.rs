//! The cached rows of a run: its record as bytes, and plan boxes for the index.

use super::ActError;
use ground::bow::K95_PLAN;
use ground::tube::Section;
use register::run_record::{RECORD_VERSION, RunRecord};
use store::{PlanBox, RunChange};

/// Legs in one box.
const LEGS_PER_BOX: usize = 16;

/// How far beyond its recorded place a run is looked for when no uncertainty was stated for it. Metres.
///
/// The program's own figure: such a run is told as not placed within this distance of a dig.
const UNPLACED_REACH_M: f64 = 30.0;

/// Returns the row that a run's record implies.
///
/// A box holds the tube and its stated uncertainty over up to 16 legs, in the site's frame; class defaults of the
/// rule set are left to the search, since adopting another set must not rewrite every box.
pub(crate) fn row_of(record: &RunRecord) -> Result<RunChange, ActError> {
    let bytes =
        serde_json::to_vec(record).map_err(|e| ActError::Fault(format!("run {}: {e}", record.key)))?;
    Ok(RunChange::Put {
        run: record.key.clone(),
        bytes,
        boxes: boxes_of(record)?,
    })
}

/// Returns the boxes of a run's record.
pub(crate) fn boxes_of(record: &RunRecord) -> Result<Vec<PlanBox>, ActError> {
    let laid = record
        .lay(None)
        .map_err(|e| ActError::Fault(format!("run {}: {e}", record.key)))?;
    let half = match laid.tube.section {
        Section::Round { radius_m } => radius_m,
        Section::Bank {
            half_width_m,
            half_height_m,
        } => half_width_m.hypot(half_height_m),
    };
    // Where the level's uncertainty is not stated there is no growth, and the plan's may be stated all the same.
    let stated = record
        .shots
        .iter()
        .filter_map(|shot| shot.sigma_h_m)
        .fold(0.0, f64::max)
        * K95_PLAN;
    let nowhere_stated = record.shots.iter().any(|shot| shot.sigma_h_m.is_none());
    let without_growth = stated + record.bow_m + if nowhere_stated { UNPLACED_REACH_M } else { 0.0 };
    let vertices = &laid.tube.vertices;
    let legs = vertices.len().saturating_sub(1);
    let boxes = (0..legs.div_ceil(LEGS_PER_BOX)).map(|chunk| {
        let first = chunk * LEGS_PER_BOX;
        let last = (first + LEGS_PER_BOX).min(legs);
        let mut around = PlanBox {
            min_e: f64::INFINITY,
            min_n: f64::INFINITY,
            max_e: f64::NEG_INFINITY,
            max_n: f64::NEG_INFINITY,
            chunk: chunk as u32,
        };
        for vertex in &vertices[first..=last] {
            let grown = half + vertex.growth.map_or(without_growth, |growth| growth.horizontal_m);
            around.min_e = around.min_e.min(vertex.axis.x - grown);
            around.min_n = around.min_n.min(vertex.axis.y - grown);
            around.max_e = around.max_e.max(vertex.axis.x + grown);
            around.max_n = around.max_n.max(vertex.axis.y + grown);
        }
        around
    });
    Ok(boxes.collect())
}

/// Reads a record back from a cached row.
///
/// # Errors
/// A row that does not read: an answer without it could be short of a service.
pub(crate) fn read_row(key: &str, bytes: &[u8]) -> Result<RunRecord, ActError> {
    let stale = |why: String| {
        ActError::Fault(format!(
            "the cached row of run {key} {why}; make the rows again from the journal with verify --rebuild"
        ))
    };
    let record: RunRecord =
        serde_json::from_slice(bytes).map_err(|e| stale(format!("does not read ({e})")))?;
    if record.record_version != RECORD_VERSION {
        return Err(stale(format!(
            "is of version {}, and this program's is {RECORD_VERSION}",
            record.record_version
        )));
    }
    Ok(record)
}

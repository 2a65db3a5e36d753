//! The cached rows of a run: its record as bytes, and plan boxes for the index.

use super::ActError;
use register::run_record::{RECORD_VERSION, RunRecord};
use store::{PlanBox, RunChange};

/// Returns the row that a run's record implies.
///
pub(crate) fn row_of(record: &RunRecord) -> Result<RunChange, ActError> {
    let bytes =
        serde_json::to_vec(record).map_err(|e| ActError::Fault(format!("run {}: {e}", record.key)))?;
    Ok(RunChange::Put {
        run: record.key.clone(),
        bytes,
        boxes: boxes_of(record)?,
    })
}

/// Returns the boxes of a run's record, each with its number.
pub(crate) fn boxes_of(record: &RunRecord) -> Result<Vec<PlanBox>, ActError> {
    let boxes = record
        .plan_boxes()
        .map_err(|e| ActError::Fault(format!("run {}: {e}", record.key)))?;
    let numbered = (0..).zip(boxes).map(|(chunk, of)| PlanBox {
        min_e: of.min.x,
        min_n: of.min.y,
        max_e: of.max.x,
        max_n: of.max.y,
        chunk,
    });
    Ok(numbered.collect())
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

//! Measured points in the fold.

use super::{Change, Refusal, Site};
use crate::body::{Body, PointRow, PointsRecorded};
use std::collections::HashSet;
use survey::Decimal;
use uuid::Uuid;

/// A measured point.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// As recorded, or as last corrected.
    pub row: PointRow,
    /// When the entry says it was observed.
    pub observed_at: String,
    /// Who recorded it.
    pub by: Uuid,
    /// The entry that recorded it.
    pub entry: u64,
    /// Entries that corrected it, oldest first.
    pub corrected: Vec<u64>,
}

/// Refuses a row whose figures cannot be.
pub(super) fn check_row(row: &PointRow) -> Result<(), Refusal> {
    let refuse =
        |says: String| Err(Refusal::about("point", &format!("point {}", row.point), says).at_row(row.row));
    if row.point.trim().is_empty() {
        return refuse("it has no label; give every point one".into());
    }
    for (name, value) in [("sigma_h_mm", &row.sigma_h_mm), ("sigma_v_mm", &row.sigma_v_mm)] {
        if let Some(mm) = value.as_ref().map(Decimal::to_f64)
            && !(mm > 0.0 && mm <= 100_000.0)
        {
            return refuse(format!(
                "{name} is {mm}; a standard deviation is more than 0 and at most 100000 mm, or left out"
            ));
        }
    }
    if let Some(radius) = row.bend_radius_mm.as_ref().map(Decimal::to_f64)
        && radius <= 0.0
    {
        return refuse(format!("bend_radius_mm is {radius}; it must be more than 0"));
    }
    Ok(())
}

impl Site {
    pub(super) fn record_points(
        &mut self,
        recorded: &PointsRecorded,
        body: &Body,
        n: u64,
    ) -> Result<Vec<Change>, Refusal> {
        let frame = self.frame()?;
        let mut fresh = HashSet::with_capacity(recorded.points.len());
        for row in &recorded.points {
            let what = format!("point {}", row.point);
            check_row(row)?;
            frame
                .check(&what, &row.easting_m, &row.northing_m, Some(&row.level_m))
                .map_err(|refusal| refusal.at_row(row.row))?;
            if let Some(there) = self.points.get(&row.point) {
                let says = format!(
                    "the label is taken by a point of entry {}; import with a prefix, or correct that point",
                    there.entry
                );
                return Err(Refusal::about("label-taken", &what, says).at_row(row.row));
            }
            if !fresh.insert(row.point.as_str()) {
                let says = "the label stands twice in this import; give each point its own";
                return Err(Refusal::about("label-twice", &what, says).at_row(row.row));
            }
        }
        self.points.reserve(recorded.points.len());
        for row in &recorded.points {
            let point = Point {
                row: row.clone(),
                observed_at: body.observed_at.clone(),
                by: body.by,
                entry: n,
                corrected: Vec::new(),
            };
            self.points.insert(row.point.clone(), point);
        }
        Ok(Vec::new())
    }
}

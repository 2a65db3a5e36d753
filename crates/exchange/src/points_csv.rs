//! Points and runs as our own CSV, which [`crate::read_points`] reads back.

use crate::columns::written_name;
use crate::points::{
    BEND_RADIUS, BOW, COLUMNS, EASTING, END, FITTING, KNOWN, LEVEL, MATERIAL, NORTHING, NOTE, OBSERVED_AT,
    ORDER, OUTSIDE, OWNER, POINT, POINT_COLUMNS, ROWS, RUN, RUN_NOTE, SAME_AS, SERVICE, SIDE_BEARING,
    SIGMA_H, SIGMA_V, SIZE, SPACING, TOUCHED, WALL,
};
use register::body::{PointRow, RunEnd, RunLaid};
use register::words::{Fitting, Known};
use std::collections::HashMap;
use std::io::Write;
use survey::Decimal;

/// CSV could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PointsCsvError {
    /// A run goes through a point that was not given.
    #[error(
        "run {run} goes through point {point}, which is not among the points; give all points of the site"
    )]
    PointMissing {
        /// The run.
        run: String,
        /// The point's label.
        point: String,
    },
    /// The bytes could not be written out.
    #[error("the file could not be written: {0}")]
    Write(#[from] csv::Error),
    /// The last bytes could not be written out.
    #[error("the file could not be written: {0}")]
    Flush(#[from] std::io::Error),
}

/// Writes points in their order, one row for each run that a point is on, decimals digit for digit.
///
/// Text is written as it is: a label such as `=A1` stays itself, and a spreadsheet may take it for a formula.
///
/// # Errors
/// [`PointsCsvError::PointMissing`] when a run names a label that `points` lacks; nothing is written then.
pub fn write_points_csv<W: Write>(
    out: W,
    points: &[PointRow],
    runs: &[RunLaid],
) -> Result<(), PointsCsvError> {
    let by_label: HashMap<&str, usize> = points
        .iter()
        .enumerate()
        .map(|(i, p)| (p.point.as_str(), i))
        .collect();
    let mut on_runs: Vec<Vec<(usize, usize)>> = vec![Vec::new(); points.len()];
    for (at, run) in runs.iter().enumerate() {
        for (order, label) in run.points.iter().enumerate() {
            let point = by_label
                .get(label.as_str())
                .ok_or_else(|| PointsCsvError::PointMissing {
                    run: run.run.clone(),
                    point: label.clone(),
                })?;
            on_runs[*point].push((at, order));
        }
    }
    let mut writer = csv::Writer::from_writer(out);
    // Names of people are not exported: `by` is read and left out.
    let written: Vec<usize> = (0..POINT_COLUMNS.len())
        .filter(|&f| POINT_COLUMNS[f].name != "by")
        .collect();
    writer.write_record(written.iter().map(|&field| written_name(&POINT_COLUMNS[field])))?;
    let mut write = |point: &PointRow, run: Option<(&RunLaid, usize)>| {
        writer.write_record(written.iter().map(|&field| value(field, point, run)))
    };
    for (point, on) in points.iter().zip(&on_runs) {
        for &(at, order) in on {
            write(point, Some((&runs[at], order)))?;
        }
        if on.is_empty() {
            write(point, None)?;
        }
    }
    writer.flush()?;
    Ok(())
}

fn value(field: usize, point: &PointRow, run: Option<(&RunLaid, usize)>) -> String {
    let decimal = |value: &Option<Decimal>| value.as_ref().map(Decimal::to_string).unwrap_or_default();
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    let of_run = |value: &dyn Fn(&RunLaid) -> String| run.map(|(run, _)| value(run)).unwrap_or_default();
    match field {
        POINT => point.point.clone(),
        EASTING => point.easting_m.to_string(),
        NORTHING => point.northing_m.to_string(),
        LEVEL => point.level_m.to_string(),
        TOUCHED => point.touched.slug().to_owned(),
        SIDE_BEARING => decimal(&point.side_bearing_deg),
        FITTING => point.fitting.map(Fitting::slug).unwrap_or_default().to_owned(),
        BEND_RADIUS => decimal(&point.bend_radius_mm),
        SIGMA_H => decimal(&point.sigma_h_mm),
        SIGMA_V => decimal(&point.sigma_v_mm),
        KNOWN => point.known.map(Known::slug).unwrap_or_default().to_owned(),
        OBSERVED_AT => text(&point.observed_at),
        NOTE => text(&point.note),
        RUN => of_run(&|run| run.run.clone()),
        ORDER => run.map(|(_, order)| (order + 1).to_string()).unwrap_or_default(),
        SERVICE => of_run(&|run| run.service.style().slug.to_owned()),
        SIZE => of_run(&|run| decimal(&run.section.size_mm)),
        OUTSIDE => of_run(&|run| decimal(&run.section.outside_mm)),
        WALL => of_run(&|run| decimal(&run.section.wall_mm)),
        SPACING => of_run(&|run| decimal(&run.section.spacing_mm)),
        BOW => of_run(&|run| decimal(&run.bow_mm)),
        MATERIAL => of_run(&|run| text(&run.section.material)),
        ROWS => of_run(&|run| run.section.rows.map(|n| n.to_string()).unwrap_or_default()),
        COLUMNS => of_run(&|run| run.section.columns.map(|n| n.to_string()).unwrap_or_default()),
        OWNER => of_run(&|run| text(&run.owner)),
        SAME_AS => text(&point.same_as),
        RUN_NOTE => of_run(&|run| text(&run.note)),
        END => run
            .and_then(|(run, order)| end_at(run, order))
            .unwrap_or_default(),
        _ => String::new(),
    }
}

/// Returns how a run ends at one of its points; nothing for the points in between.
fn end_at(run: &RunLaid, order: usize) -> Option<String> {
    let end = match order {
        0 => &run.ends[0],
        last if last + 1 == run.points.len() => &run.ends[1],
        _ => return None,
    };
    (*end != RunEnd::NotStated).then(|| end.to_string())
}

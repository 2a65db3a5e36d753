//! A station: where the instrument stood, how sure, and whether it may be used.

use super::{GeometryView, Near, RevisionView, Up, Why};
use crate::words::CheckOutcome;
use serde::Serialize;
use utoipa::ToSchema;

/// A solved station.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StationView {
    /// `coverbook.station/1`.
    pub format: String,
    /// Name.
    pub station: String,
    /// The verdict in a sentence, read first.
    pub says: String,
    /// True when the readings agree with each other and with the control.
    pub fits: bool,
    /// What the last check says.
    pub check: CheckOutcome,
    /// Why it is used without a passed check; null when it passed or nobody said.
    pub unchecked_reason: Option<String>,
    /// Easting, northing, level of the station; the level null when only the plan was solved.
    pub at: [Near; 2],
    /// Level of the station mark.
    pub level_m: Option<Near>,
    /// 95 % in plan, radial.
    pub u95_h_m: Up,
    /// 95 % of the level.
    pub u95_v_m: Option<Up>,
    /// The plan ellipse at 95 %.
    pub ellipse: EllipseView,
    /// What the zero of the circle points to, degrees clockwise from grid north.
    pub orientation_deg: Option<f64>,
    /// Checks, in the order they were made.
    pub checks: Vec<CheckView>,
    /// Control points, with how they fit.
    pub control: Vec<ControlView>,
    /// Readings, with their residuals.
    pub readings: Vec<ReadingView>,
    /// The test of the whole; null when nothing is left over to test.
    pub global: Option<GlobalView>,
    /// Scale left free once, for diagnosis only: ppm and its standard deviation.
    pub free_scale_ppm: Option<[f64; 2]>,
    /// Grid distance over ground distance that was used.
    pub grid_scale: f64,
    /// What was added to every distance for the air, ppm.
    pub air_ppm: f64,
    /// Where that comes from, or what the instrument did itself, in a sentence.
    pub air_says: String,
    /// Likely causes of what does not fit, likeliest first.
    pub causes: Vec<String>,
    /// What deserves a look.
    pub findings: Vec<String>,
    /// Labels of points that a failed check leaves suspect.
    pub suspect: Vec<String>,
    /// Entries that set it, newest last; empty for one that was only tried.
    pub entries: Vec<u64>,
    /// Every setting of it, oldest first; the last one stands. Empty for one that was only tried.
    pub revisions: Vec<RevisionView>,
    /// How its control lies about it.
    pub geometry: GeometryView,
    /// Reasons for nulls.
    pub why: Why,
}

/// An error ellipse at 95 %.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct EllipseView {
    /// Semi-major axis.
    pub semi_major_m: Up,
    /// Semi-minor axis.
    pub semi_minor_m: Up,
    /// Direction of the major axis, degrees clockwise from grid north; null for a circle.
    pub azimuth_deg: Option<f64>,
}

/// A check shot.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CheckView {
    /// The known point.
    pub point: String,
    /// Difference in plan.
    pub plan_m: Up,
    /// 95 % bound of that difference.
    pub plan_u95_m: Up,
    /// Difference in level, up positive; null when either level is not known.
    pub level_m: Option<Near>,
    /// 95 % bound of that difference.
    pub level_u95_m: Option<Up>,
    /// Tolerance in plan.
    pub tolerance_m: Near,
    /// Passed or failed.
    pub outcome: CheckOutcome,
    /// In a sentence.
    pub says: String,
}

/// A control point sighted.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ControlView {
    /// Name.
    pub point: String,
    /// Easting, northing, level.
    pub at: [Near; 3],
    /// True when the test calls it wrong.
    pub rejected: bool,
    /// What to add to its coordinates to make it fit: east, north, level; null when it cannot be tested.
    pub shift_m: Option<[Near; 3]>,
}

/// One reading of the adjustment.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReadingView {
    /// The point sighted.
    pub point: String,
    /// `direction | zenith angle | slope distance | horizontal distance`.
    pub what: String,
    /// Adjusted minus observed: millimetres for a length, seconds of arc for an angle.
    pub residual: f64,
    /// `mm` or `sec`.
    pub unit: String,
    /// Share of an error that shows in the reading's own residual, 0 to 1.
    pub redundancy: f64,
    /// Standardised residual; null when nothing checks the reading.
    pub w: Option<f64>,
    /// Least error that would be found four times in five, in the same unit; null when nothing checks the reading.
    pub detectable: Option<f64>,
    /// How far such an error would move the station in plan.
    pub plan_effect_m: Option<Up>,
    /// True when the test calls it a blunder.
    pub rejected: bool,
}

/// The chi-square test of the whole.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct GlobalView {
    /// Weighted sum of squares of the residuals.
    pub statistic: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: u64,
    /// Lower and upper limit of the 95 % interval.
    pub interval: [f64; 2],
    /// True when the statistic lies inside.
    pub accepted: bool,
}

/// A reduced level book.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LevelsView {
    /// `coverbook.levels/1`.
    pub format: String,
    /// Name.
    pub book: String,
    /// The verdict in a sentence.
    pub says: String,
    /// True when it closed within its limit.
    pub closes: bool,
    /// Misclosure, millimetres; null for an open run.
    pub misclosure_mm: Option<f64>,
    /// Limit, millimetres; null when none was given.
    pub allowable_mm: Option<f64>,
    /// True when the arithmetic checks of both reductions hold.
    pub checks_hold: bool,
    /// Sum of back sights, fore sights, rises, falls, and last less first, as exact decimals.
    pub sums: [String; 5],
    /// Rows.
    pub rows: Vec<LevelRowView>,
    /// What deserves a look.
    pub findings: Vec<String>,
    /// The entry; null for one that was only tried.
    pub entry: Option<u64>,
}

/// One row of a reduced book.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LevelRowView {
    /// Row in the file.
    pub row: u64,
    /// The point.
    pub point: String,
    /// Rise, exact; null for a fall.
    pub rise: Option<String>,
    /// Fall, exact; null for a rise.
    pub fall: Option<String>,
    /// Line of sight, exact.
    pub collimation: String,
    /// Level as reduced, exact.
    pub level: String,
    /// Level known beforehand, exact.
    pub known_level: Option<String>,
    /// Level with the misclosure spread.
    pub adjusted_m: Option<Near>,
    /// 95 % of the level; null when not known.
    pub u95_m: Option<Up>,
}

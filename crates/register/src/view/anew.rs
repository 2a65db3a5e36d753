//! A station set anew: what it said before, what it says now, and everything that moves with it.

use super::{Near, StationView, Up, Why};
use crate::words::CheckOutcome;
use serde::Serialize;
use utoipa::ToSchema;

/// What setting a station anew moves; nothing of it is recorded.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AnewView {
    /// `coverbook.station-anew/1`.
    pub format: String,
    /// What moves, in a sentence, read first.
    pub says: String,
    /// What is different from the setting that stands, as sentences.
    pub changed: Vec<String>,
    /// The station as it stands.
    pub before: StationView,
    /// The station as it would stand.
    pub after: StationView,
    /// How far the station itself moves in plan.
    pub station_plan_m: Up,
    /// How far it moves in level, up positive; null when either level is not known.
    pub station_level_m: Option<Near>,
    /// How many points hang on it: shots from it, and points taped from those or from corrected control.
    pub points: u64,
    /// How many of them come to lie elsewhere, by a tenth of a millimetre or more.
    pub moved: u64,
    /// The point that moves most in plan; null when none does.
    pub largest_plan: Option<MoveView>,
    /// The point that moves most in level; null when none does.
    pub largest_level: Option<MoveView>,
    /// Runs through moved points, the one that moves most first.
    pub runs: Vec<RunMoveView>,
    /// Reasons for nulls.
    pub why: Why,
}

/// How far a point moves.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MoveView {
    /// Its label.
    pub point: String,
    /// In plan.
    pub plan_m: Up,
    /// In level, up positive.
    pub level_m: Near,
}

/// How far a run moves.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RunMoveView {
    /// The run.
    pub run: String,
    /// How many of its points move.
    pub points: u64,
    /// The most that one of them moves in plan.
    pub plan_m: Up,
    /// The most that one of them moves in level, up positive.
    pub level_m: Near,
}

/// One setting of a station; every one stays.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RevisionView {
    /// The entry that set it.
    pub entry: u64,
    /// Where it stood.
    pub at: [Near; 2],
    /// Its level; null when only the plan was solved.
    pub level_m: Option<Near>,
    /// 95 % in plan, radial.
    pub u95_h_m: Up,
    /// 95 % of the level; null where it has none.
    pub u95_v_m: Option<Up>,
    /// True when its readings agreed.
    pub fits: bool,
    /// What its last check said when it was set.
    pub check: CheckOutcome,
    /// The control that took part.
    pub control: Vec<String>,
    /// What is different from the setting before it, as sentences; empty for the first.
    pub changed: Vec<String>,
    /// How far it stands in plan from the setting before it; null for the first.
    pub moved_plan_m: Option<Up>,
    /// How far it stands in level from the setting before it, up positive; null for the first, or without a level.
    pub moved_level_m: Option<Near>,
    /// Reasons for nulls.
    pub why: Why,
}

/// How control lies about a station, where that makes it weak.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct GeometryView {
    /// The smallest angle at the station that holds all its control, degrees.
    pub sector_deg: f64,
    /// True when that angle is so small that the station is weak across it.
    pub narrow: bool,
    /// True when all control lies on one side.
    pub one_side: bool,
    /// True when control lies nearly on one line.
    pub on_one_line: bool,
    /// The circle on which directions alone do not fix the station; null where no one circle holds the control.
    pub circle: Option<CircleView>,
    /// Reasons for nulls.
    pub why: Why,
}

/// The circle through the control: from any place on it directions alone say the same.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CircleView {
    /// Its centre: easting, northing.
    pub centre: [Near; 2],
    /// Its radius.
    pub radius_m: Near,
    /// How far the station lies from it, outside positive.
    pub off_m: Near,
    /// True when the station lies so near to it that directions alone would not fix it.
    pub near: bool,
    /// True when no distance was measured, so that it matters.
    pub directions_only: bool,
}

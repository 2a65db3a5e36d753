//! A point's card: where it is, how sure, and how that came about.

use super::{Near, Up, Why};
use serde::Serialize;
use utoipa::ToSchema;

/// One measured point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PointCard {
    /// `coverbook.point/1`.
    pub format: String,
    /// Label.
    pub point: String,
    /// Easting, northing, level as reckoned now.
    pub at: [Near; 3],
    /// What was touched.
    pub touched: String,
    /// How it is known: as stated, and never better than its source allows; not stated counts as assumed.
    pub known: String,
    /// 95 % in plan; null with a why.
    pub u95_h_m: Option<Up>,
    /// 95 % in level; null with a why.
    pub u95_v_m: Option<Up>,
    /// How it was measured, with its readings.
    pub how: String,
    /// The known points that it was measured from.
    pub measured_from: Vec<String>,
    /// What is doubtful about where it is.
    pub doubts: Vec<String>,
    /// True when a failed check leaves it suspect.
    pub suspect: bool,
    /// When it was measured.
    pub observed_at: String,
    /// The entry that recorded it; null while it is only tried.
    pub entry: Option<u64>,
    /// Reasons for nulls.
    pub why: Why,
}

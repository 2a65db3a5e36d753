//! A run's card: every vertex and leg, and how each figure came about.

use super::{CoverLeg, EllipseView, Near, Up, Why};
use serde::Serialize;
use utoipa::ToSchema;

/// One run, whole.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RunCard {
    /// `coverbook.run/1`.
    pub format: String,
    /// Name.
    pub run: String,
    /// Service slug.
    pub service: String,
    /// Letters on the line.
    pub letters: String,
    /// Section in words: `110 mm outside, 3.2 mm wall, PVC`.
    pub section: String,
    /// Outside height of the section, for drawing.
    pub outside_m: Near,
    /// True when an outside diameter was taken from the nominal size.
    pub section_assumed: bool,
    /// `in-use | abandoned | removed | superseded | held`.
    pub status: String,
    /// Lowest of how its legs are known.
    pub known: String,
    /// How it begins and ends, in words.
    pub ends: [String; 2],
    /// Owner, when stated.
    pub owner: Option<String>,
    /// Note, when stated.
    pub note: Option<String>,
    /// Surface that depths hang on, as `NAME, KIND, DATE`; null with a why.
    pub below: Option<String>,
    /// Vertices in order.
    pub vertices: Vec<RunCardVertex>,
    /// Legs in order.
    pub legs: Vec<RunCardLeg>,
    /// Length along the axis in plan.
    pub length_m: Near,
    /// How far a leg may bow off the line between its shots, as stated; null with a why that says what is taken.
    pub bow_m: Option<Up>,
    /// What deserves a look.
    pub findings: Vec<String>,
    /// Entries that made it what it is, newest first.
    pub entries: Vec<u64>,
    /// Hold points that it stood in, newest first: what was decided, and what was changed since.
    pub releases: Vec<String>,
    /// Reasons for nulls.
    pub why: Why,
}

/// One recorded vertex.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RunCardVertex {
    /// Point label.
    pub point: String,
    /// As measured: easting, northing, level, digit for digit.
    pub measured: [String; 3],
    /// How it was measured, with its readings.
    pub how: String,
    /// What was touched.
    pub touched: String,
    /// Chainage.
    pub chainage_m: Near,
    /// Axis position.
    pub axis: [Near; 3],
    /// Level of the outside top.
    pub top_level_m: Near,
    /// Level of the invert; null with a why when the wall is unknown.
    pub invert_level_m: Option<Near>,
    /// 95 % in plan, radial, of the point itself: 2.4477 x the semi-major sigma.
    pub u95_h_m: Option<Up>,
    /// Its 95 % ellipse in plan; null with a why.
    pub ellipse: Option<EllipseView>,
    /// 95 % in level.
    pub u95_v_m: Option<Up>,
    /// True when the uncertainty is a class default, not stated for the point.
    pub u95_assumed: bool,
    /// What is doubtful about where it is: an unchecked station, a failed check, levels that disagree.
    pub doubts: Vec<String>,
    /// How it is known.
    pub known: String,
    /// Surface level above it; null with a why.
    pub surface_level_m: Option<Near>,
    /// Cover to the outside top here; null with a why.
    pub cover_m: Option<super::Down>,
    /// 95 % of that cover: point and surface together.
    pub cover_u95_m: Option<Up>,
    /// Depth to invert; null with a why.
    pub depth_to_invert_m: Option<Up>,
    /// When it was measured.
    pub observed_at: String,
    /// Who recorded it: name, or `erased`.
    pub by: String,
    /// Entry that recorded it.
    pub entry: u64,
    /// Reasons for nulls.
    pub why: Why,
}

/// One leg.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RunCardLeg {
    /// Its cover and fall.
    #[serde(flatten)]
    pub cover: CoverLeg,
    /// How it is known: the worse of its ends.
    pub known: String,
}

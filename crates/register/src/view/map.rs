//! What the plan view draws: light arrays for many thousands of legs.

use super::{EllipseView, HeadView, Near, Up, Why};
use serde::Serialize;
use utoipa::ToSchema;

/// Everything the plan draws.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SiteMap {
    /// `coverbook.map/1`.
    pub format: String,
    /// Head.
    pub head: HeadView,
    /// Corner of the extent: easting, northing; null when nothing is recorded.
    pub min: Option<[Near; 2]>,
    /// Opposite corner.
    pub max: Option<[Near; 2]>,
    /// Runs.
    pub runs: Vec<MapRun>,
    /// Searched areas.
    pub searched: Vec<MapArea>,
    /// Control points.
    pub control: Vec<MapControl>,
    /// Measured points.
    pub points: Vec<MapPoint>,
    /// Outlines of surfaces.
    pub surfaces: Vec<MapSurface>,
}

/// One run.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MapRun {
    /// Name; a held amendment is drawn as a run of its own, named `RUN (held N)`.
    pub run: String,
    /// Service.
    pub service: String,
    /// Axis with the level of the outside top: easting, northing, level, for each vertex.
    pub line: Vec<[Near; 3]>,
    /// Outside width in plan.
    pub width_m: Near,
    /// 95 % in plan at each vertex; empty when no uncertainty is known.
    pub u95_h_m: Vec<Up>,
    /// Lowest of how its legs are known.
    pub known: String,
    /// `in-use | abandoned | held`.
    pub status: String,
    /// What is doubtful about its points, each sentence once.
    pub doubts: Vec<String>,
    /// How it begins and ends.
    pub ends: [String; 2],
}

/// A searched area.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MapArea {
    /// Name.
    pub area: String,
    /// Ring, easting, northing.
    pub ring: Vec<[Near; 2]>,
    /// Services; empty for all.
    pub services: Vec<String>,
    /// True when its outcome lets it count.
    pub counts: bool,
    /// How, how deep, when, by whom, with what outcome: a sentence.
    pub says: String,
}

/// A control point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MapControl {
    /// Label.
    pub point: String,
    /// Easting, northing, level.
    pub at: [Near; 3],
    /// Its 95 % ellipse in plan; null with a why.
    pub ellipse: Option<EllipseView>,
    /// 95 % in level; null with a why.
    pub u95_v_m: Option<Up>,
    /// Reasons for nulls.
    pub why: Why,
}

/// A measured point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MapPoint {
    /// Label.
    pub point: String,
    /// Easting, northing, level of what was touched.
    pub at: [Near; 3],
    /// Its 95 % ellipse in plan; null with a why.
    pub ellipse: Option<EllipseView>,
    /// 95 % in level; null with a why.
    pub u95_v_m: Option<Up>,
    /// True when either is a class default of the rule set.
    pub assumed: bool,
    /// Reasons for nulls.
    pub why: Why,
}

/// A surface's outline.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MapSurface {
    /// Name.
    pub name: String,
    /// Ring, easting, northing; empty when it holds everywhere.
    pub ring: Vec<[Near; 2]>,
}

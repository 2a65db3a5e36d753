//! A site as it stands: grid, datum, head, rules, surfaces.

use super::Near;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The head of a chain: entry number and hash.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct HeadView {
    /// Number of the newest entry; 0 for an empty chain.
    pub n: u64,
    /// The head, 64 hexadecimal digits.
    pub hex: String,
    /// When the newest entry was recorded; absent for an empty chain.
    pub recorded_at: Option<String>,
}

/// The site's grid and datum.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct GridView {
    /// EPSG code; null for an untied grid, which has no longitude and latitude.
    pub epsg: Option<u32>,
    /// The grid's name.
    pub name: String,
    /// `grid` or `ground`.
    pub distances: String,
    /// Named level datum.
    pub level_datum: String,
    /// Bench mark the levels hang on.
    pub bench_mark: String,
}

/// One line of the list of sites.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SiteSummary {
    /// UUID.
    pub id: String,
    /// Name.
    pub name: String,
    /// Head.
    pub head: HeadView,
}

/// A recorded surface, in a line.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SurfaceView {
    /// Name.
    pub name: String,
    /// `existing | stripped | formation | finished-design | finished-built`.
    pub kind: String,
    /// `level | plane | tin`.
    pub shape: String,
    /// Date it was observed.
    pub observed_at: String,
    /// 95 % of its level; null when not stated.
    pub u95_m: Option<super::Up>,
    /// How many points it was made of.
    pub points: u64,
    /// The level, for one flat level.
    pub level_m: Option<Near>,
    /// Largest residual of a fitted plane.
    pub largest_residual_m: Option<super::Up>,
    /// Entry that recorded it.
    pub entry: u64,
}

/// A site as it stands.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SiteView {
    /// `coverbook.site/1`.
    pub format: String,
    /// UUID.
    pub id: String,
    /// Name.
    pub name: String,
    /// Head.
    pub head: HeadView,
    /// Grid and datum.
    pub grid: GridView,
    /// Origin that positions are reckoned from: easting, northing.
    pub origin: [Near; 2],
    /// Whom to ring; null when nobody was named.
    pub contact: Option<String>,
    /// The adopted rule set; null when none is.
    pub rules: Option<super::RulesInForce>,
    /// Set when the site is read-only, and why.
    pub read_only: Option<String>,
    /// Surfaces, newest state of each.
    pub surfaces: Vec<SurfaceView>,
    /// How many points, runs, expected runs, searched areas, control points.
    pub counts: Counts,
    /// Cautions to show.
    pub cautions: Vec<String>,
}

/// How much a site holds.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
#[expect(missing_docs, reason = "names say it")]
pub struct Counts {
    pub points: u64,
    pub runs: u64,
    pub legs: u64,
    pub expected: u64,
    pub searched: u64,
    pub control: u64,
    pub stations: u64,
}

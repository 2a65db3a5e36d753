//! The answer to a planned dig.

use super::{Down, HeadView, Near, Percent, Up, Why};
use crate::words::{DigVerdict, Known};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// What is there, how deep, how sure, and where nobody looked.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DigAnswer {
    /// `coverbook.dig/1`.
    pub format: String,
    /// Site asked first: its name.
    pub site: String,
    /// Its head.
    pub head: HeadView,
    /// The state of the ground that is answered for, RFC 3339.
    pub as_at: String,
    /// The dig as understood.
    pub dig: DigEcho,
    /// The first sentence to read: what is not known.
    pub says: String,
    /// How much of the dig was searched.
    pub searched: SearchedShare,
    /// Area of the dig whose floor hangs on a surface that does not reach there.
    pub floor_unknown_area_m2: Up,
    /// Runs, worst verdict first, then nearest. Empty says nothing but "nothing recorded in what was searched".
    pub runs: Vec<DigRun>,
    /// Sites of the register that could not be asked, and why.
    pub not_compared: Vec<NotCompared>,
    /// The rule set; null when none is adopted.
    pub rules: Option<RulesInForce>,
    /// Cautions, this dig's own first.
    pub cautions: Vec<String>,
    /// Reasons for nulls.
    pub why: Why,
}

/// The dig as understood.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DigEcho {
    /// `open | bore | point`.
    pub kind: String,
    /// Plan of the dig as asked: rings of polygons (outer first), easting, northing.
    pub plan: Vec<Vec<[Near; 2]>>,
    /// The line, when one was given with a width.
    pub line: Option<Vec<[Near; 2]>>,
    /// Its width.
    pub width_m: Option<Near>,
    /// Depth asked for, below the surface.
    pub depth_m: Option<Near>,
    /// Floor level, when one was asked for.
    pub floor_level_m: Option<Near>,
    /// Lowest and highest level of the floor; null where unknown.
    pub floor_levels_m: Option<LevelRange>,
    /// The surface: `NAME, KIND, DATE`; null when the floor is a level and none was named.
    pub surface: Option<String>,
    /// Lowest and highest level of the surface over the dig; null with a why.
    pub surface_levels_m: Option<LevelRange>,
    /// 95 % of the surface; null when not stated.
    pub surface_u95_m: Option<Up>,
    /// Batter, horizontal per vertical.
    pub batter: Option<Near>,
    /// Allowance for over-digging.
    pub over_dig_m: Near,
    /// Allowance for setting out.
    pub set_out_m: Near,
    /// True when the allowances are the program's defaults and no rule's or person's.
    pub allowances_assumed: bool,
    /// Area of the plan.
    pub area_m2: Up,
    /// Reasons for nulls.
    pub why: Why,
}

/// How much of the dig was searched.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SearchedShare {
    /// Whole percent searched for every service that counts, rounded down.
    pub share: Percent,
    /// By service.
    pub by_service: BTreeMap<String, ServiceShare>,
    /// The rest: polygons, each rings (outer first), easting, northing.
    pub unsearched: Vec<Vec<Vec<[Near; 2]>>>,
    /// Searches that touch the dig but do not count, and why.
    pub not_counted: Vec<String>,
}

/// One service's share.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ServiceShare {
    /// Whole percent, rounded down.
    pub share: Percent,
    /// The oldest search that counts toward it.
    pub oldest: Option<String>,
    /// What to know: works recorded later inside it, and the like.
    pub says: Vec<String>,
}

/// A run near the dig.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DigRun {
    /// Site's name.
    pub site: String,
    /// That site's head.
    pub head: String,
    /// Run's name; a held amendment is `RUN (held N)`.
    pub run: String,
    /// Service slug.
    pub service: String,
    /// Letters on the line.
    pub letters: String,
    /// Section in words.
    pub section: String,
    /// Outside height of the section, for drawing to scale.
    pub outside_m: Near,
    /// `in-use | abandoned | held`.
    pub status: String,
    /// Verdict; null with a why when no rule set is adopted.
    pub verdict: Option<DigVerdict>,
    /// Lowest of how the part near the dig is known.
    pub known: Known,
    /// Distance between tube and dig; 0 when they touch.
    pub gap_m: Down,
    /// The same at 95 %; null with a why when not placed.
    pub worst_gap_m: Option<Down>,
    /// Distance in plan.
    pub horizontal_gap_m: Down,
    /// The same at 95 %.
    pub worst_horizontal_gap_m: Option<Down>,
    /// Ground left between floor and tube, signed; null with a why.
    pub vertical_gap_m: Option<Down>,
    /// The same at 95 %.
    pub worst_vertical_gap_m: Option<Down>,
    /// Axis length inside the dig.
    pub overlap_m: Up,
    /// Cover over the part near the dig.
    pub cover_m: CoverRange,
    /// Level of the outside top over the part near the dig.
    pub top_level_m: LevelRange,
    /// 95 % in plan, largest over the part; null when not known.
    pub u95_h_m: Option<Up>,
    /// 95 % in level, largest over the part; null when not known.
    pub u95_v_m: Option<Up>,
    /// Within both, the largest hard bound for what was not shot over the part; 0 where nothing was left open, null with a
    /// why where no bound exists.
    pub unshot_m: Option<Up>,
    /// How much of the plus-or-minus comes from it, why, and the mend; null where nothing was left open.
    pub unshot_says: Option<String>,
    /// How far a leg may bow off the line between its shots, as stated; null with a why that says what is taken.
    pub bow_m: Option<Up>,
    /// Where each number was found.
    pub at: BTreeMap<String, At>,
    /// The rule that gave the verdict.
    pub rule: Option<super::RuleSpoken>,
    /// When the part was measured: earliest.
    pub observed_at: String,
    /// The part near the dig.
    pub part: Vec<DigPart>,
    /// What to know about this run.
    pub cautions: Vec<String>,
    /// The run in a sentence.
    pub says: String,
    /// Reasons for nulls.
    pub why: Why,
}

/// Where a number was found.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct At {
    /// On the tube.
    pub on_run: [Near; 3],
    /// On the dig.
    pub on_dig: [Near; 3],
    /// Along the run.
    pub chainage_m: Near,
}

/// A stretch of axis near the dig.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DigPart {
    /// From this chainage.
    pub from_m: Near,
    /// To this one.
    pub to_m: Near,
    /// Axis in plan with the level of the outside top.
    pub line: Vec<[Near; 3]>,
}

/// Least and greatest cover.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CoverRange {
    /// Least; null with a why.
    pub min: Option<Down>,
    /// Greatest, rounded up; null with a why.
    pub max: Option<Up>,
}

/// Lowest and highest level.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LevelRange {
    /// Lowest.
    pub min: Near,
    /// Highest.
    pub max: Near,
}

/// A site that could not be asked.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NotCompared {
    /// Its name.
    pub site: String,
    /// Why.
    pub why: String,
}

/// The rule set in force.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RulesInForce {
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// SHA-256 of its text.
    pub sha256: String,
    /// Entry that adopted it.
    pub entry: u64,
    /// Who vouched for what, and that local codes and licensed practice govern.
    pub says: String,
}

//! The hold point: what is checked before something is covered, item by item, and what was released.

use super::{HeadView, Near, RulesInForce, Why};
use crate::words::{HoldState, HoldVerdict, ReleaseOutcome};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The list of a hold point, as it stands now.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct HoldAnswer {
    /// `coverbook.hold/1`.
    pub format: String,
    /// Site name.
    pub site: String,
    /// Head it rests on.
    pub head: HeadView,
    /// When it was asked.
    pub as_at: String,
    /// The area of work.
    pub area: String,
    /// Its outline, easting, northing; empty where runs are named alone.
    pub ring: Vec<[Near; 2]>,
    /// The runs that it is about.
    pub runs: Vec<String>,
    /// The surface that covers hang on, as `NAME, KIND, DATE`; null with a why.
    pub below: Option<String>,
    /// The rule set; null when none is adopted.
    pub rules: Option<RulesInForce>,
    /// The list in a word.
    pub verdict: HoldVerdict,
    /// The list in a sentence.
    pub says: String,
    /// Failing items first, then those that need a reason, then those that pass.
    pub items: Vec<HoldItem>,
    /// Earlier decisions about this area or its runs, newest first.
    pub releases: Vec<ReleaseView>,
    /// Reasons for nulls.
    pub why: Why,
    /// Cautions to show.
    pub cautions: Vec<String>,
}

/// One item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct HoldItem {
    /// Names the item when a person accepts it: `CODE` or `CODE:ABOUT`.
    pub key: String,
    /// `expected | cover | fall | end | gap | uncertainty | known | held | station | recheck | suspect | readings |
    /// levels | photo | surface | rules | searched | runs`.
    pub code: String,
    /// The run, station or book it is about; empty for the area as a whole.
    pub about: String,
    /// Whether it passes.
    pub state: HoldState,
    /// What was found: where, and by how much.
    pub says: String,
    /// Where to look: easting, northing.
    pub at: Option<[Near; 2]>,
    /// The reason of the person who accepted it.
    pub accepted: Option<String>,
}

/// A decision at a hold point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReleaseView {
    /// The entry's number.
    pub entry: u64,
    /// The entry's id.
    pub id: String,
    /// The area of work.
    pub area: String,
    /// Its outline, easting, northing; empty where runs are named alone.
    pub ring: Vec<[Near; 2]>,
    /// The runs it is about.
    pub runs: Vec<String>,
    /// What was decided.
    pub outcome: ReleaseOutcome,
    /// By whom.
    pub by: String,
    /// When, as stated.
    pub observed_at: String,
    /// How many open items were accepted with a reason.
    pub accepted: u32,
    /// The decision in a sentence.
    pub says: String,
    /// What was changed since: each an amendment that the release did not see.
    pub changed: Vec<String>,
    /// Why it was withdrawn; null while it stands.
    pub withdrawn: Option<String>,
}

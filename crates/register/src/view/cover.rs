//! The cover check: is it met, short, not proved or missing, leg by leg, and by which rule.

use super::{Down, HeadView, Near, Up, Why};
use crate::words::CheckVerdict;
use serde::Serialize;
use utoipa::ToSchema;

/// The answer of a cover check.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CoverAnswer {
    /// `coverbook.cover/1`.
    pub format: String,
    /// Site name.
    pub site: String,
    /// Head it rests on.
    pub head: HeadView,
    /// The surface that covers hang on, as `NAME, KIND, DATE`; null with a why.
    pub below: Option<String>,
    /// The rule set; null when none is adopted.
    pub rules: Option<super::RulesInForce>,
    /// Worst verdict of all: the answer in a word.
    pub verdict: CheckVerdict,
    /// The answer in a sentence.
    pub says: String,
    /// How many runs by verdict.
    pub summary: CoverSummary,
    /// Runs, worst verdict first.
    pub runs: Vec<CoverRun>,
    /// Expected runs and whether they are recorded.
    pub expected: Vec<ExpectedRun>,
    /// What is not complete.
    pub gaps: Vec<CompletenessGap>,
    /// Inverts of gravity runs in flow order.
    pub inverts: Vec<InvertRow>,
    /// Separation between runs.
    pub separation: super::SeparationAnswer,
    /// Cautions to show.
    pub cautions: Vec<String>,
    /// Reasons for nulls.
    pub why: Why,
}

/// How many runs have each verdict.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
#[expect(missing_docs, reason = "names say it")]
pub struct CoverSummary {
    pub met: u32,
    pub short: u32,
    pub not_proved: u32,
    pub missing: u32,
}

/// A rule that spoke, or the absence of one.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RuleSpoken {
    /// Figure id in the rule set; null when no rule applies.
    pub id: Option<String>,
    /// The figure in metres (or metres a metre, for a fall); null when no rule applies.
    pub minimum: Option<f64>,
    /// Source, edition and clause; or `no rule adopted`.
    pub source: String,
    /// `seen | second-hand | from memory`, and who confirmed it.
    pub status: String,
}

/// One run.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CoverRun {
    /// Name.
    pub run: String,
    /// Service slug.
    pub service: String,
    /// Letters.
    pub letters: String,
    /// Worst of cover and fall.
    pub verdict: CheckVerdict,
    /// The verdict in a sentence.
    pub says: String,
    /// Verdict on cover alone.
    pub cover_verdict: CheckVerdict,
    /// Verdict on fall alone; null for services that do not flow by gravity.
    pub fall_verdict: Option<CheckVerdict>,
    /// Least cover; null with a why.
    pub least_cover_m: Option<Down>,
    /// 95 % worst cover; null with a why.
    pub worst_cover_m: Option<Down>,
    /// Chainage of the least cover.
    pub at_chainage_m: Option<Near>,
    /// Where: easting, northing.
    pub at: Option<[Near; 2]>,
    /// Length of axis with no surface above.
    pub cover_unknown_m: Up,
    /// Rule on cover.
    pub rule: RuleSpoken,
    /// Rule on fall; null for services that do not flow by gravity.
    pub fall_rule: Option<RuleSpoken>,
    /// Legs in order.
    pub legs: Vec<CoverLeg>,
    /// Where it comes up: chainages left out of the cover rule.
    pub emerges_at_m: Vec<Near>,
    /// Longest distance between shots.
    pub longest_leg_m: Up,
    /// How far a leg may bow off the line between its shots, as stated; null with a why that says what is taken.
    pub bow_m: Option<Up>,
    /// What deserves a look.
    pub findings: Vec<String>,
    /// Reasons for nulls.
    pub why: Why,
}

/// One leg's cover and fall.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CoverLeg {
    /// Point it starts from.
    pub from: String,
    /// Point it goes to.
    pub to: String,
    /// Plan length.
    pub length_m: Near,
    /// Least cover along it; null with a why.
    pub least_cover_m: Option<Down>,
    /// 95 % worst cover along it.
    pub worst_cover_m: Option<Down>,
    /// Where along the run the least cover is.
    pub at_chainage_m: Option<Near>,
    /// True when it is steeper than 45 degrees and left out of the cover rule.
    pub riser: bool,
    /// How far it may stand off what was laid because that was not shot: a hard bound, within the worst cover and not
    /// within the figures of its points; 0 where nothing was left open, null with a why where no bound exists.
    pub unshot_m: Option<Up>,
    /// Why, with the mend; null where nothing was left open.
    pub unshot_says: Option<String>,
    /// Its fall, for gravity services; else null.
    pub fall: Option<FallView>,
    /// Verdict on cover.
    pub cover_verdict: CheckVerdict,
    /// Reasons for nulls.
    pub why: Why,
}

/// The fall of a leg in its direction of flow.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FallView {
    /// Drop of the invert, down positive.
    pub drop_m: Near,
    /// 95 % of the drop; null when an uncertainty is unknown.
    pub drop_u95_m: Option<Up>,
    /// Percent, rounded down.
    pub percent: f64,
    /// 95 % of the percent, rounded up; null when an uncertainty is unknown.
    pub percent_u95: Option<f64>,
    /// 1 in this, rounded up (flatter); null when level or falling the wrong way.
    pub one_in: Option<f64>,
    /// True when it falls the wrong way.
    pub wrong_way: bool,
    /// Verdict against the rule.
    pub verdict: CheckVerdict,
    /// The fall in words: `1:60 (1.66 %) ± 0.05 %`.
    pub says: String,
}

/// An expected run.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ExpectedRun {
    /// Name.
    pub run: String,
    /// Service slug.
    pub service: String,
    /// From and to, as expected.
    pub from: Option<String>,
    /// To.
    pub to: Option<String>,
    /// True when a run of that name, service and size is recorded.
    pub recorded: bool,
    /// What differs, or what is missing.
    pub says: String,
}

/// Something the record lacks.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CompletenessGap {
    /// `end-not-stated | bend-not-shot | bend-without-turn | radius-disagrees | wall-not-stated | point-on-no-run |
    /// missing-run | no-surface | no-uncertainty | size-assumed`.
    pub code: String,
    /// The run or point.
    pub about: String,
    /// The gap in a sentence, with the mend.
    pub says: String,
}

/// One row of the invert schedule.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct InvertRow {
    /// Run.
    pub run: String,
    /// Point label.
    pub point: String,
    /// Chainage.
    pub chainage_m: Near,
    /// Invert level; null with a why.
    pub invert_level_m: Option<Near>,
    /// 95 % of it.
    pub u95_m: Option<Up>,
    /// Depth to invert below the surface; null with a why.
    pub depth_to_invert_m: Option<Up>,
    /// Fall of the leg that follows; null at the last point.
    pub fall_to_next: Option<FallView>,
    /// Reasons for nulls.
    pub why: Why,
}

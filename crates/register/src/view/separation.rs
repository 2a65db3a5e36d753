//! Separation: the places where two runs meet, how far apart they are there, and by which rule.

use super::{Down, Near, RuleSpoken, Why};
use crate::words::SeparationVerdict;
use serde::Serialize;
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// The separation of all runs, or of one from the others.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SeparationAnswer {
    /// Worst verdict of all places and of what could not be placed.
    pub verdict: SeparationVerdict,
    /// The answer in a sentence.
    pub says: String,
    /// How many places have each verdict.
    pub summary: SeparationSummary,
    /// The places, worst verdict first, then the least against its figure.
    pub places: Vec<SeparationPlace>,
    /// Places counted above and not listed, because there are very many.
    pub not_listed: u32,
    /// Runs for which no uncertainty is known: they may come near others unseen.
    pub not_placed: Vec<String>,
    /// Pairs of different services in the ground on which no figure counts: not proved at any distance.
    pub without_figure: Vec<Vec<String>>,
    /// Within this distance of a joint, along each, runs of one service that join are no conflict.
    pub joint_m: f64,
    /// Side by side, a place is listed when nearer than its figure and this; without a figure, when nearer than this.
    pub beyond_m: f64,
}

/// How many places have each verdict.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
#[expect(missing_docs, reason = "names say it")]
pub struct SeparationSummary {
    pub met: u32,
    pub joins: u32,
    pub not_proved: u32,
    pub short: u32,
}

/// One place where two runs meet.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SeparationPlace {
    /// Names of the two.
    pub runs: Vec<String>,
    /// Their service slugs.
    pub services: Vec<String>,
    /// Their letters.
    pub letters: Vec<String>,
    /// `crossing | side-by-side`.
    pub kind: String,
    /// Verdict.
    pub verdict: SeparationVerdict,
    /// The verdict in a sentence.
    pub says: String,
    /// The one above all over a crossing; null with a why.
    pub above: Option<String>,
    /// Shortest distance between the outsides.
    pub gap_m: Down,
    /// The same at 95 % of both; null with a why.
    pub worst_gap_m: Option<Down>,
    /// Distance in plan between the outsides; 0 is one over the other.
    pub horizontal_gap_m: Down,
    /// The same at 95 % of both; null with a why.
    pub worst_horizontal_gap_m: Option<Down>,
    /// Underside of the upper over the top of the lower, negative where they share levels; null with a why.
    pub vertical_gap_m: Option<Down>,
    /// The same at 95 % of both; null with a why.
    pub worst_vertical_gap_m: Option<Down>,
    /// `3d | horizontal | vertical-crossing`: what the rule measures; null when none spoke.
    pub measure: Option<String>,
    /// The rule that governed.
    pub rule: RuleSpoken,
    /// Exceptions of that rule that need a person's word.
    pub unless: Vec<String>,
    /// Where: easting, northing, level of the place that decided, on the first run.
    pub place: [Near; 3],
    /// Where each number was found, by its name.
    pub at: BTreeMap<String, SeparationAt>,
    /// From where to where along each run, chainages.
    pub along_m: Vec<[Near; 2]>,
    /// Reasons for nulls.
    pub why: Why,
}

/// Where a gap between two runs was found.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SeparationAt {
    /// The point on each run's outside: easting, northing, level.
    pub points: Vec<[Near; 3]>,
    /// Its chainage on each.
    pub chainage_m: Vec<Near>,
}

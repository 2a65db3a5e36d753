//! The answers that leave the program: one JSON contract for command line, HTTP, sheets and page.
//!
//! Plain structs, already rounded to the safe side. Lengths and levels are in metres with three decimals;
//! positions are easting, northing, level in the site's grid. A `null` figure always comes with a reason in the
//! `why` beside it, keyed by the field's name.

pub mod rounding;

mod anew;
mod cover;
mod dig;
mod hold;
mod import;
mod journal;
mod map;
mod point;
mod run;
mod separation;
mod site;
mod station;

pub use anew::{AnewView, CircleView, GeometryView, MoveView, RevisionView, RunMoveView};
pub use cover::{
    CompletenessGap, CoverAnswer, CoverLeg, CoverRun, CoverSummary, ExpectedRun, FallView, InvertRow,
    RuleSpoken,
};
pub use dig::{
    At, CoverRange, DigAnswer, DigEcho, DigPart, DigRun, LevelRange, NotCompared, RulesInForce,
    SearchedShare, ServiceShare,
};
pub use hold::{HoldAnswer, HoldItem, ReleaseView};
pub use import::{
    ColumnChoice, FINDINGS_SHOWN, FindingView, ImportPreview, PreviewPoint, PreviewRun, Severity,
};
pub use journal::{EntryView, JournalView, VerifyView};
pub use map::{MapArea, MapControl, MapPoint, MapRun, MapSurface, SiteMap};
pub use point::PointCard;
pub use rounding::{Down, Near, Percent, Up};
pub use run::{RunCard, RunCardLeg, RunCardVertex};
pub use separation::{SeparationAnswer, SeparationAt, SeparationPlace, SeparationSummary};
pub use site::{Counts, GridView, HeadView, SiteSummary, SiteView, SurfaceView};
pub use station::{
    CheckView, ControlView, EllipseView, GlobalView, LevelRowView, LevelsView, ReadingView, StationView,
};

use std::collections::BTreeMap;

/// Why a figure is null: field name to sentence.
pub type Why = BTreeMap<String, String>;

/// The caution that says what a record is, and is not.
pub const CAUTION_RECORDED: &str = "Shows only what was measured and entered. Nothing drawn is not proof of nothing there; outside the searched area nothing is known.";
/// The caution that says positions are of their day.
pub const CAUTION_AS_MEASURED: &str = "Positions are as measured on the dates and control shown. Ground, slabs and services may have changed since.";
/// The caution that says what plus-or-minus means.
pub const CAUTION_95: &str = "Plus-or-minus figures are 95 % at each point; about 1 in 20 may be worse, and blunders are not in them. Between measured points the line is assumed.";
/// The caution that says treat all as live.
pub const CAUTION_LIVE: &str =
    "Treat every service as live, pressurised and in use: abandoned, empty and unknown ones too.";

/// The cautions that every answer, screen and sheet carries, in the order they are shown.
pub const CAUTIONS: [&str; 10] = [
    CAUTION_RECORDED,
    CAUTION_AS_MEASURED,
    "Measure down from a level, not from today's dirt: each depth is below the surface and date named with it.",
    CAUTION_95,
    "This is not an official enquiry. Make the enquiries your law and the service owners require, and follow their conditions.",
    "Detect on site, then expose by hand or vacuum and see the service before any machine works in the zone.",
    CAUTION_LIVE,
    "In slabs: do not core, cut or chase before checking for conduits, heating and tendons.",
    "Found something different? Stop, make the place secure, record it, and report to the contact shown.",
    "If struck: stop, keep everyone away, treat it as live, do not try to repair or rebury it, call the emergency services and then the owner. Local codes and licensed practice govern.",
];

//! The bodies of journal entries: one struct for each act of a person, as written by the author's device.
//!
//! A body holds no fractional JSON numbers: readings and coordinates are decimals as read, digit for digit,
//! with the unit in the field's name. A field that does not apply is left out, never zero or blank.

mod book;
mod ground;
mod measured;
mod opening;
mod points;
mod release;
mod runs;
mod stations;

pub use book::*;
pub use ground::*;
pub use measured::*;
pub use opening::*;
pub use points::*;
pub use release::*;
pub use runs::*;
pub use stations::*;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A whole body: what was done, by whom, on what, when.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Body {
    /// The act.
    #[serde(flatten)]
    pub act: Act,
    /// Version of this kind of body; 1 for all kinds so far.
    pub v: u32,
    /// UUIDv7 made by the author's device; sending the same body twice changes nothing.
    pub id: Uuid,
    /// The person, by the random id under which the name is kept beside the chain.
    pub by: Uuid,
    /// The device or program the body was made on.
    pub device: String,
    /// When it was done or observed, RFC 3339.
    pub observed_at: String,
}

/// One act of a person, tagged with its kind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind")]
#[expect(missing_docs, reason = "each variant is its struct")]
pub enum Act {
    SiteOpened(SiteOpened),
    RulesAdopted(RulesAdopted),
    ControlRecorded(ControlRecorded),
    StationSet(Box<StationSet>),
    LevelsBooked(LevelsBooked),
    GridTied(GridTied),
    PointsRecorded(PointsRecorded),
    RunsExpected(RunsExpected),
    RunLaid(RunLaid),
    RunAmended(RunAmended),
    RunRetired(RunRetired),
    SurfaceRecorded(SurfaceRecorded),
    AreaSearched(AreaSearched),
    FileAttached(FileAttached),
    CoverChecked(ResultIssued),
    CoverReleased(Box<CoverReleased>),
    ReleaseWithdrawn(ReleaseWithdrawn),
    DigPlanned(ResultIssued),
    SheetIssued(SheetIssued),
    NoteAdded(NoteAdded),
    EntryCorrected(EntryCorrected),
    EntryWithdrawn(EntryWithdrawn),
    ContentErased(ContentErased),
}

impl Act {
    /// Returns the kind as written in the journal.
    pub fn kind(&self) -> &'static str {
        match self {
            Act::SiteOpened(_) => "SiteOpened",
            Act::RulesAdopted(_) => "RulesAdopted",
            Act::ControlRecorded(_) => "ControlRecorded",
            Act::StationSet(_) => "StationSet",
            Act::LevelsBooked(_) => "LevelsBooked",
            Act::GridTied(_) => "GridTied",
            Act::PointsRecorded(_) => "PointsRecorded",
            Act::RunsExpected(_) => "RunsExpected",
            Act::RunLaid(_) => "RunLaid",
            Act::RunAmended(_) => "RunAmended",
            Act::RunRetired(_) => "RunRetired",
            Act::SurfaceRecorded(_) => "SurfaceRecorded",
            Act::AreaSearched(_) => "AreaSearched",
            Act::FileAttached(_) => "FileAttached",
            Act::CoverChecked(_) => "CoverChecked",
            Act::CoverReleased(_) => "CoverReleased",
            Act::ReleaseWithdrawn(_) => "ReleaseWithdrawn",
            Act::DigPlanned(_) => "DigPlanned",
            Act::SheetIssued(_) => "SheetIssued",
            Act::NoteAdded(_) => "NoteAdded",
            Act::EntryCorrected(_) => "EntryCorrected",
            Act::EntryWithdrawn(_) => "EntryWithdrawn",
            Act::ContentErased(_) => "ContentErased",
        }
    }

    /// The kinds that a planned dig needs besides the runs themselves: what a site is, its rules, surfaces and
    /// searched areas. Folding these alone gives a site without points and runs.
    pub const FRAME_KINDS: [&'static str; 6] = [
        "SiteOpened",
        "RulesAdopted",
        "GridTied",
        "SurfaceRecorded",
        "AreaSearched",
        "EntryWithdrawn",
    ];
}

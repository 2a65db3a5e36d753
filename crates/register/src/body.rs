//! The bodies of journal entries: one struct for each act of a person, as written by the author's device.
//!
//! A body holds no fractional JSON numbers: readings and coordinates are decimals as read, digit for digit,
//! with the unit in the field's name. A field that does not apply is left out, never zero or blank.

use crate::service::Service;
use crate::words::{
    AngleRead, FaceRead, Fitting, Known, Retirement, SearchOutcome, SightKind, Spread, SurfaceKind, Touched,
};
use serde::{Deserialize, Serialize};
use survey::Decimal;
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

/// Whether distances of the site are on the grid or on the ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Distances {
    /// Coordinates are on the projected grid.
    Grid,
    /// Coordinates are on the ground, related by a combined factor.
    Ground,
}

/// A site's grid, datum and rough place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SiteOpened {
    /// The site's identity in its chain.
    pub site: Uuid,
    /// Its name.
    pub name: String,
    /// EPSG code of the projected grid; absent for a grid tied to nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub epsg: Option<u32>,
    /// The named level datum.
    pub level_datum: String,
    /// The bench mark the levels hang on.
    pub bench_mark: String,
    /// Grid or ground distances.
    pub distances: Distances,
    /// Roughly where: the origin that positions are reckoned from, and the middle that imports are checked by.
    pub near_easting_m: Decimal,
    /// Roughly where, northing.
    pub near_northing_m: Decimal,
    /// Roughly at what level.
    pub near_level_m: Decimal,
    /// How far from there a point may lie before an import is refused.
    pub reach_m: Decimal,
    /// How far above or below there a level may lie before an import is refused.
    pub level_reach_m: Decimal,
    /// Whom to ring: printed on sheets.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub contact: Option<String>,
}

/// A rule set, with its whole text, and which figures the adopter vouches for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RulesAdopted {
    /// The TOML, whole.
    pub text: String,
    /// Ids of the figures not marked `seen` which the adopting person confirms.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub confirmed: Vec<String>,
    /// Ids of the figures which the adopting person says do not apply on this site.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub left_out: Vec<String>,
}

/// The file an import came from; its entries share the id and are committed together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ImportRef {
    /// Shared by all entries of the import.
    pub import_id: Uuid,
    /// The file's name, as given.
    pub file: String,
    /// SHA-256 of the file's bytes, hexadecimal; the file itself is kept under it.
    pub sha256: String,
}

/// Control points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ControlRecorded {
    /// Where they came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub import: Option<ImportRef>,
    /// The points.
    pub points: Vec<ControlRow>,
}

/// One control point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "fields are the columns of the control file")]
pub struct ControlRow {
    pub point: String,
    pub easting_m: Decimal,
    pub northing_m: Decimal,
    pub level_m: Decimal,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sigma_h_mm: Option<Decimal>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sigma_v_mm: Option<Decimal>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Measured points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PointsRecorded {
    /// Where they came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub import: Option<ImportRef>,
    /// The points; labels are unique in the site.
    pub points: Vec<PointRow>,
    /// Checks of the station made between them.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub checks: Vec<CheckRow>,
}

/// The readings that a point was reckoned from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "by", rename_all = "kebab-case")]
pub enum MeasuredFrom {
    /// Sights from a station.
    Station {
        /// Its name.
        station: String,
        /// One sight, or one on each face.
        sights: Vec<SightRow>,
    },
    /// Taped distances from known points; the first two fix it, the rest check it.
    Ties {
        /// The distances.
        ties: Vec<TieRow>,
        /// `left` or `right` of the line from the first known point to the second.
        side: String,
    },
}

/// A taped distance, level, from a known point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TieRow {
    /// The known point: a control point or a recorded one.
    pub from: String,
    /// The distance as read.
    pub distance_m: Decimal,
    /// Standard deviation of the distance.
    pub sigma_mm: Decimal,
}

/// One sight, digit for digit. Angles are in the unit stated for the station.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SightRow {
    /// Horizontal circle reading.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub direction: Option<String>,
    /// Zenith angle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub zenith: Option<String>,
    /// Slope distance as displayed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slope_m: Option<Decimal>,
    /// Height of the target above the point touched.
    pub target_height_m: Decimal,
    /// What is to be added to the displayed distance for the prism.
    pub prism_mm: Decimal,
    /// Face, where it was booked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub face: Option<FaceRead>,
    /// Row in the file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub row: Option<u64>,
}

/// A check of a station between two shots.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CheckRow {
    /// The station.
    pub station: String,
    /// How many points of this entry were shot before it.
    pub after: u32,
    /// The known point.
    pub target: String,
    /// The sights.
    pub sights: Vec<SightRow>,
}

/// A station: where the instrument stood, by sights to known points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StationSet {
    /// Its name, unique in the site.
    pub station: String,
    /// The entry that set it before, when this one sets it anew.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub saw: Option<u64>,
    /// The instrument.
    pub instrument: InstrumentRow,
    /// How angles were read.
    pub angles: AngleRead,
    /// Height of the instrument's axis above the station mark; 0 where nothing is marked.
    pub instrument_height_m: Decimal,
    /// The air, where the instrument did not reckon with it itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub air: Option<AirRow>,
    /// Sights to control and checks, in the order they were made.
    pub sights: Vec<KnownSight>,
    /// The largest difference that the site accepts at a check, in plan and in level.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tolerance_mm: Option<Decimal>,
    /// Why the station is used without a passed check.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unchecked_reason: Option<String>,
    /// Where it came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub import: Option<ImportRef>,
}

/// What the maker of an instrument states, one sigma.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InstrumentRow {
    /// Kind and serial number, as its owner calls it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Constant part of a distance's standard deviation.
    pub distance_mm: Decimal,
    /// Part that grows with the distance.
    pub distance_ppm: Decimal,
    /// A direction, seconds of arc.
    pub direction_sec: Decimal,
    /// A zenith angle, seconds of arc.
    pub zenith_sec: Decimal,
    /// Height of the target.
    pub target_height_sigma_mm: Decimal,
    /// Centring of the target over the point, each axis.
    pub centring_sigma_mm: Decimal,
}

/// The air along the sights.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AirRow {
    /// Temperature, degrees Celsius.
    pub temperature_c: Decimal,
    /// Pressure at the instrument, hectopascals.
    pub pressure_hpa: Decimal,
    /// Relative humidity, percent.
    pub humidity_pct: Decimal,
    /// Carrier wavelength, micrometres.
    pub wavelength_um: Decimal,
    /// The refractivity that the instrument is set to, ppm.
    pub reference_ppm: Decimal,
}

/// A sight to a known point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KnownSight {
    /// The known point.
    pub target: String,
    /// Control or check. (Named so because `kind` is the body's own.)
    pub sighted_as: SightKind,
    /// The sight.
    #[serde(flatten)]
    pub sight: SightRow,
}

/// A level book: back, intermediate and fore sights, digit for digit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LevelsBooked {
    /// Its name, unique in the site.
    pub book: String,
    /// The rows in order.
    pub rows: Vec<LevelRowBooked>,
    /// k of the allowable misclosure, millimetres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub allowable_k_mm: Option<Decimal>,
    /// True when k is for each root of a set-up; else for each root of a kilometre.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub allowable_by_setups: bool,
    /// How the misclosure is spread.
    pub spread: Spread,
    /// Standard deviation of one set-up's height difference.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub setup_sigma_mm: Option<Decimal>,
    /// Where it came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub import: Option<ImportRef>,
}

/// One row of a level book; metres.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LevelRowBooked {
    /// The point.
    pub point: String,
    /// Back sight.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub back_m: Option<Decimal>,
    /// Intermediate sight.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inter_m: Option<Decimal>,
    /// Fore sight.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fore_m: Option<Decimal>,
    /// A level known beforehand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub known_level_m: Option<Decimal>,
    /// Length levelled since the change point before, on a fore sight's row.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub distance_m: Option<Decimal>,
    /// What the staff stood on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub touched: Option<Touched>,
    /// Remarks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Row in the file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub row: Option<u64>,
}

/// A local grid tied to a projected one by common points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GridTied {
    /// EPSG code of the projected grid.
    pub epsg: u32,
    /// The common points.
    pub common: Vec<CommonRow>,
    /// The scale held fixed; absent: fitted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scale_held: Option<Decimal>,
}

/// A point known on both grids.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "names say it")]
pub struct CommonRow {
    pub point: String,
    pub local_easting_m: Decimal,
    pub local_northing_m: Decimal,
    pub grid_easting_m: Decimal,
    pub grid_northing_m: Decimal,
}

/// One measured point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PointRow {
    /// Its label, unique in the site.
    pub point: String,
    /// Easting, metres.
    pub easting_m: Decimal,
    /// Northing, metres.
    pub northing_m: Decimal,
    /// Level of what was touched, metres above the site's datum.
    pub level_m: Decimal,
    /// What was touched.
    pub touched: Touched,
    /// For a side: horizontal direction from the axis to the point touched, degrees from grid north.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub side_bearing_deg: Option<Decimal>,
    /// Standard deviation in plan, each axis.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sigma_h_mm: Option<Decimal>,
    /// Standard deviation of the level.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sigma_v_mm: Option<Decimal>,
    /// How it is known; not stated counts as assumed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub known: Option<Known>,
    /// What it is on the run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fitting: Option<Fitting>,
    /// Radius of the bend it belongs to, to the axis.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bend_radius_mm: Option<Decimal>,
    /// When it was measured, where the file says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub observed_at: Option<String>,
    /// Unknown columns and remarks, as read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The readings it was reckoned from. Position and uncertainty are then reckoned again from them; the ones
    /// above are as reckoned when it was recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured: Option<MeasuredFrom>,
    /// Row in the file, counted from 1, the header included.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub row: Option<u64>,
}

/// Runs that somebody expects to be recorded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunsExpected {
    /// Where they came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub import: Option<ImportRef>,
    /// The expected runs.
    pub runs: Vec<ExpectedRow>,
}

/// One expected run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "fields are the columns of the expected file")]
pub struct ExpectedRow {
    pub run: String,
    pub service: Service,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size_mm: Option<Decimal>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
}

/// Size and arrangement of a run, as stated.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct SectionRow {
    /// Nominal size: a name, not a measurement.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size_mm: Option<Decimal>,
    /// Outside diameter, sleeve or insulation included.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outside_mm: Option<Decimal>,
    /// Wall thickness.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wall_mm: Option<Decimal>,
    /// Material or family, as stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub material: Option<String>,
    /// Rows of a bank.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rows: Option<u32>,
    /// Columns of a bank.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub columns: Option<u32>,
    /// Centre spacing of a bank.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spacing_mm: Option<Decimal>,
}

/// How a run ends.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(tag = "how", rename_all = "kebab-case")]
pub enum RunEnd {
    /// Closed with a cap.
    Capped,
    /// Joins another recorded run.
    Joins {
        /// That run.
        run: String,
    },
    /// Enters a building, pit, board or other structure.
    Enters {
        /// That structure.
        structure: String,
    },
    /// Goes on beyond what was recorded.
    ContinuesUnrecorded,
    /// Nobody said.
    NotStated,
}

impl std::fmt::Display for RunEnd {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            RunEnd::Capped => f.write_str("capped"),
            RunEnd::Joins { run } => write!(f, "joins {run}"),
            RunEnd::Enters { structure } => write!(f, "enters {structure}"),
            RunEnd::ContinuesUnrecorded => f.write_str("continues-unrecorded"),
            RunEnd::NotStated => f.write_str("not-stated"),
        }
    }
}

impl RunEnd {
    /// True when the run may go on beyond its recorded end.
    pub fn is_open(&self) -> bool {
        matches!(self, RunEnd::ContinuesUnrecorded | RunEnd::NotStated)
    }
}

/// A run through recorded points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunLaid {
    /// Its name, unique in the site.
    pub run: String,
    /// What it carries.
    pub service: Service,
    /// Labels of its points in order; for a gravity service in the direction of flow.
    pub points: Vec<String>,
    /// Size and arrangement.
    pub section: SectionRow,
    /// How it begins and ends.
    pub ends: [RunEnd; 2],
    /// How far a leg may bow off its chord.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bow_mm: Option<Decimal>,
    /// Whose it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub owner: Option<String>,
    /// Remarks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The import it came with.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub import_id: Option<Uuid>,
}

/// A new revision of a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunAmended {
    /// The entry number of the revision the author saw; another one now makes this amendment held.
    pub saw: u64,
    /// Why.
    pub reason: String,
    /// The run as it is to be.
    #[serde(rename = "as")]
    pub becomes: RunLaid,
}

/// A run that is no longer in use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunRetired {
    /// Which.
    pub run: String,
    /// How.
    pub how: Retirement,
    /// True when the author saw it taken out of the ground.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub removal_seen: bool,
    /// The runs that take its place.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub successors: Vec<String>,
    /// Why.
    pub reason: String,
}

/// The shape of a recorded surface.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "shape", rename_all = "kebab-case")]
pub enum SurfaceShape {
    /// One level everywhere.
    Level {
        /// That level.
        level_m: Decimal,
    },
    /// The best-fitting plane of three or more points: easting, northing, level.
    Plane {
        /// The points.
        points: Vec<[Decimal; 3]>,
    },
    /// A triangulation of points and breaklines, kept as a blob.
    Tin {
        /// SHA-256 of the blob, hexadecimal.
        sha256: String,
        /// How many points.
        points: u64,
    },
}

/// A surface as at a date.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SurfaceRecorded {
    /// Its name; a later entry of the same name and kind is a new state of it.
    pub surface: String,
    /// What it is.
    pub surface_kind: SurfaceKind,
    /// Its shape.
    #[serde(flatten)]
    pub shape: SurfaceShape,
    /// Standard deviation of its level anywhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sigma_v_mm: Option<Decimal>,
    /// The ring within which it holds, easting, northing; absent: everywhere (or a triangulation's own edge).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub within: Option<Vec<[Decimal; 2]>>,
    /// Where it came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub import: Option<ImportRef>,
}

/// The content of a triangulated surface's blob, as JSON.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TinBlob {
    /// Easting, northing, level.
    pub points: Vec<[Decimal; 3]>,
    /// Chains of point indices that triangle edges must follow.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub breaklines: Vec<Vec<u32>>,
}

/// How deep a search looked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "down_to", rename_all = "kebab-case")]
pub enum DownTo {
    /// To a depth below a named surface.
    Depth {
        /// How deep.
        depth_m: Decimal,
        /// Below which surface.
        surface: String,
    },
    /// To a level.
    Level {
        /// That level.
        level_m: Decimal,
    },
}

/// Where somebody looked, for what, how deep, and with what outcome.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AreaSearched {
    /// Its name.
    pub area: String,
    /// The ring, easting, northing, not repeated at the end.
    pub ring: Vec<[Decimal; 2]>,
    /// The services looked for; `None` is all of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub services: Option<Vec<Service>>,
    /// How it was searched, in words.
    pub method: String,
    /// How deep.
    #[serde(flatten)]
    pub down_to: DownTo,
    /// How it ended.
    pub outcome: SearchOutcome,
    /// Standard deviation of the ring, each axis; unknown shrinks it by a declared default.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sigma_h_mm: Option<Decimal>,
    /// The import it came with.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub import: Option<ImportRef>,
}

/// A file kept beside the journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FileAttached {
    /// Its name.
    pub file: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// How many bytes.
    pub bytes: u64,
    /// What it belongs to: a run, a point, an area.
    pub about: String,
}

/// An answer as issued, kept with what it rested on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ResultIssued {
    /// The question, JSON text.
    pub question: String,
    /// The answer as issued, JSON text.
    pub answer: String,
    /// Version of the program that worked it out.
    pub engine: String,
    /// SHA-256 of the rule set's text; absent when none was adopted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rules_sha256: Option<String>,
    /// The head it rested on, `n:hex`.
    pub head: String,
}

/// A sheet that left the office.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetIssued {
    /// Which kind of sheet.
    pub sheet: String,
    /// SHA-256 of its file, hexadecimal.
    pub sha256: String,
    /// Version of the program that laid it out.
    pub engine: String,
    /// SHA-256 of the rule set's text; absent when none was adopted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rules_sha256: Option<String>,
    /// The head it rested on, `n:hex`.
    pub head: String,
}

/// A remark in the book.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NoteAdded {
    /// What it is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
    /// The remark.
    pub text: String,
}

/// Recorded points put right; the first reading stays readable.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EntryCorrected {
    /// The entry that recorded them.
    pub entry: Uuid,
    /// Why.
    pub reason: String,
    /// The points as they are to be; each label must be one of that entry's.
    pub points: Vec<PointRow>,
}

/// An entry taken back, with the reason; it stays readable.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EntryWithdrawn {
    /// Which entry.
    pub entry: Uuid,
    /// Why.
    pub reason: String,
}

/// Something kept beside the chain that was erased by right: a person's name, a blob.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ContentErased {
    /// The person's id or the blob's hash.
    pub content: String,
    /// Why.
    pub reason: String,
}

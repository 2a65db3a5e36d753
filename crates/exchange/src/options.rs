//! What a person says about a file beside its bytes: where the site lies, columns, units, and what holds for all rows.

use register::body::{ImportRef, SectionRow};
use register::service::Service;
use register::words::{Known, SurfaceKind, Touched};
use survey::{Decimal, LengthUnit};

/// Roughly where the site lies, and how far from there a row is still believed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SiteFrame {
    /// Middle of the site, easting, metres.
    pub near_easting_m: f64,
    /// Middle of the site, northing, metres.
    pub near_northing_m: f64,
    /// Usual level, metres above the site's datum.
    pub near_level_m: f64,
    /// How far in plan from the middle a position may lie before it is refused, metres.
    pub reach_m: f64,
    /// How far above or below the usual level a level may lie before it is refused, metres.
    pub level_reach_m: f64,
}

/// A point the site already knows, by which a file that names it again can be checked.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownPoint {
    /// Its label.
    pub point: String,
    /// Easting, metres.
    pub easting_m: f64,
    /// Northing, metres.
    pub northing_m: f64,
}

/// What a person states for every row that does not say so itself. A value in a row always wins.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Stated {
    /// What was touched.
    pub touched: Option<Touched>,
    /// How the points are known.
    pub known: Option<Known>,
    /// The run that all rows without a run belong to.
    pub run: Option<String>,
    /// What the runs carry.
    pub service: Option<Service>,
    /// Size and arrangement of the runs.
    pub section: SectionRow,
    /// How far a leg may bow off its chord.
    pub bow_mm: Option<Decimal>,
    /// Standard deviation in plan, each axis.
    pub sigma_h_mm: Option<Decimal>,
    /// Standard deviation of the level.
    pub sigma_v_mm: Option<Decimal>,
    /// Whose the runs are.
    pub owner: Option<String>,
}

/// The largest file read unless told otherwise: 256 MiB.
pub const DEFAULT_LIMIT_BYTES: u64 = 256 * 1024 * 1024;

/// How a file is to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadOptions {
    /// The file's name, for findings.
    pub file: String,
    /// Columns of a headerless file in order, such as `point, easting, northing, level`; `-` skips one.
    pub order: Option<Vec<String>>,
    /// Unit of easting, northing and level columns without a suffix; metres when nobody says.
    pub unit: Option<LengthUnit>,
    /// What holds for all rows.
    pub stated: Stated,
    /// Put before every point label and run name, so that two files with the same labels do not meet.
    pub prefix: Option<String>,
    /// When the rows were measured, RFC 3339, for rows that do not say so; kept by the entry, not by the row.
    pub observed_at: Option<String>,
    /// Where the site lies.
    pub frame: SiteFrame,
    /// The import that the entries will share.
    pub import: ImportRef,
    /// Control of the site: a file that measures three or more of them again is tested for a mirror image.
    pub control: Vec<KnownPoint>,
    /// Surfaces of the site, by name and kind, that a depth can be below.
    pub surfaces: Vec<(String, SurfaceKind)>,
    /// Largest file that is read.
    pub limit_bytes: u64,
}

impl ReadOptions {
    /// Returns options that state nothing beyond where the site lies.
    pub fn new(file: impl Into<String>, frame: SiteFrame, import: ImportRef) -> ReadOptions {
        ReadOptions {
            file: file.into(),
            order: None,
            unit: None,
            stated: Stated::default(),
            prefix: None,
            observed_at: None,
            frame,
            import,
            control: Vec::new(),
            surfaces: Vec::new(),
            limit_bytes: DEFAULT_LIMIT_BYTES,
        }
    }
}

impl ReadOptions {
    /// Returns a label with the prefix of this import before it.
    pub(crate) fn prefixed(&self, label: &str) -> String {
        match &self.prefix {
            Some(prefix) => format!("{prefix}{label}"),
            None => label.to_owned(),
        }
    }
}

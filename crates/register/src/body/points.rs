//! Control and measured points, with the readings they were reckoned from.

use super::MeasuredFrom;
use crate::words::{FaceRead, Fitting, Known, Touched};
use serde::{Deserialize, Serialize};
use survey::Decimal;
use uuid::Uuid;

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
    /// The recorded point that this one measures again, under a label of its own; the two are compared, and combined
    /// where they agree.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub same_as: Option<String>,
    /// The readings it was reckoned from. Position and uncertainty are then reckoned again from them; the ones
    /// above are as reckoned when it was recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured: Option<MeasuredFrom>,
    /// Row in the file, counted from 1, the header included.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub row: Option<u64>,
}

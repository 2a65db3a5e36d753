//! Stations and level books, digit for digit.

use super::{ImportRef, SightRow};
use crate::words::{AngleRead, SightKind, Spread, Touched};
use serde::{Deserialize, Serialize};
use survey::Decimal;

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
    /// What was entered in the instrument, where it reckoned with the air itself; nothing is applied again then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub air_in_instrument: Option<String>,
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
    /// The refractivity that the instrument's display is scaled for at 0 ppm, from its manual.
    pub reference_ppm: Decimal,
    /// The ppm that was set in the instrument, which its displayed distances hold already; taken off again, so that
    /// the air is not reckoned with twice. None is 0 ppm, stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub entered_ppm: Option<Decimal>,
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

//! The readings that a point was reckoned from: where it lies in plan, and where its level comes from.

use super::SightRow;
use crate::words::{DetectorMethod, FigureMeans, HeightAbove, SatelliteFix, SurfaceKind};
use serde::{Deserialize, Serialize};
use survey::Decimal;

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
        /// Where the level comes from. Without it the level is as written, and the distances are grid distances;
        /// with it they are ground distances, as a tape reads them.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        level: Option<Box<LevelFrom>>,
    },
    /// Chainage along a line between two known points, and an offset square to it.
    Offset(Box<OffsetRow>),
    /// Satellites.
    Satellite(Box<SatelliteRow>),
    /// A plan position found otherwise and stated, with a level of its own.
    Coordinates(Box<CoordinatesRow>),
}

/// A taped distance from a known point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TieRow {
    /// The known point: a control point or a recorded one.
    pub from: String,
    /// The distance as read.
    pub distance_m: Decimal,
    /// Standard deviation of the distance.
    pub sigma_mm: Decimal,
    /// Height between the ends of a tape held along a slope; left out for a tape held level.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rise_m: Option<Decimal>,
    /// Standard deviation of that height; one is assumed, and said, where it is not stated.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rise_sigma_mm: Option<Decimal>,
}

/// Chainage and offset from a line between two known points, taped on the ground.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OffsetRow {
    /// Where the line begins: a control point or a recorded one.
    pub from: String,
    /// Where it ends.
    pub to: String,
    /// Distance along the line from its beginning.
    pub chainage_m: Decimal,
    /// Standard deviation of the chainage.
    pub chainage_sigma_mm: Decimal,
    /// Distance square to the line, never negative.
    pub offset_m: Decimal,
    /// Standard deviation of the offset.
    pub offset_sigma_mm: Decimal,
    /// `left` or `right`, looking from the beginning of the line to its end; `on-line` for no offset.
    pub side: String,
    /// Standard deviation of the right angle; set by eye when it is not stated.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub square_sigma_deg: Option<Decimal>,
    /// Where the level comes from.
    pub level: LevelFrom,
}

/// A position from satellites, in the site's grid, as the receiver shows it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SatelliteRow {
    /// Easting.
    pub easting_m: Decimal,
    /// Northing.
    pub northing_m: Decimal,
    /// The kind of solution.
    pub fix: SatelliteFix,
    /// What the receiver states of its plan position.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub horizontal_mm: Option<Decimal>,
    /// What it states of its height.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub vertical_mm: Option<Decimal>,
    /// What those figures mean; there must be one with either.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub means: Option<FigureMeans>,
    /// Where the level comes from.
    pub level: LevelFrom,
}

/// A plan position that was found otherwise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CoordinatesRow {
    /// Easting.
    pub easting_m: Decimal,
    /// Northing.
    pub northing_m: Decimal,
    /// Standard deviation, each axis; not placed without it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub sigma_h_mm: Option<Decimal>,
    /// Where the level comes from.
    pub level: LevelFrom,
}

/// Where a level comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "by", rename_all = "kebab-case")]
pub enum LevelFrom {
    /// A level read or reckoned otherwise.
    Stated {
        /// Level of what was touched.
        level_m: Decimal,
        /// Its standard deviation.
        sigma_mm: Decimal,
    },
    /// A staff read on a known point and on what was touched.
    Staff {
        /// The known point, with a level.
        mark: String,
        /// Staff on the known point.
        back_m: Decimal,
        /// Staff on what was touched; negative for a staff held upside down.
        fore_m: Decimal,
        /// Standard deviation of the difference of the two.
        sigma_mm: Decimal,
    },
    /// A tape straight down from a recorded surface, as it stood that day.
    Depth {
        /// Its name.
        surface: String,
        /// What it is.
        surface_kind: SurfaceKind,
        /// How far below it, straight down.
        depth_m: Decimal,
        /// Standard deviation of the tape.
        sigma_mm: Decimal,
    },
    /// Found with a detector and not seen: depth below a recorded surface, as displayed.
    Detector(Box<DetectorRow>),
    /// The receiver of satellites itself.
    Receiver {
        /// The height as shown.
        height_m: Decimal,
        /// What it is above.
        above: HeightAbove,
        /// Height of the antenna above the point that is still to be taken off; 0 where the receiver has done so.
        antenna_m: Decimal,
    },
}

/// What a detector showed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DetectorRow {
    /// Name of the surface that it stood on.
    pub surface: String,
    /// What that surface is.
    pub surface_kind: SurfaceKind,
    /// The depth as displayed.
    pub depth_m: Decimal,
    /// How it was found.
    pub method: DetectorMethod,
    /// Stated accuracy of the depth: so many per cent of it,
    pub percent: Decimal,
    /// and so much besides.
    pub constant_mm: Decimal,
    /// Stated accuracy of the position across the line.
    pub across_mm: Decimal,
    /// What these figures mean.
    pub means: FigureMeans,
}

impl MeasuredFrom {
    /// Returns where the level comes from, unless it is written beside the readings or sighted with them.
    pub fn level(&self) -> Option<&LevelFrom> {
        match self {
            MeasuredFrom::Station { .. } => None,
            MeasuredFrom::Ties { level, .. } => level.as_deref(),
            MeasuredFrom::Offset(row) => Some(&row.level),
            MeasuredFrom::Satellite(row) => Some(&row.level),
            MeasuredFrom::Coordinates(row) => Some(&row.level),
        }
    }

    /// Returns the known points that it hangs on, by name.
    pub fn hangs_on(&self) -> impl Iterator<Item = &str> {
        let ends = match self {
            MeasuredFrom::Offset(row) => [Some(row.from.as_str()), Some(row.to.as_str())],
            _ => [None, None],
        };
        let ties = match self {
            MeasuredFrom::Ties { ties, .. } => ties.as_slice(),
            _ => &[],
        };
        let mark = match self.level() {
            Some(LevelFrom::Staff { mark, .. }) => Some(mark.as_str()),
            _ => None,
        };
        let ties = ties.iter().map(|tie| tie.from.as_str());
        ends.into_iter().flatten().chain(ties).chain(mark)
    }

    /// Returns the surface that it hangs on, by name and kind.
    pub fn below(&self) -> Option<(&str, SurfaceKind)> {
        match self.level()? {
            LevelFrom::Depth {
                surface,
                surface_kind,
                ..
            } => Some((surface, *surface_kind)),
            LevelFrom::Detector(row) => Some((&row.surface, row.surface_kind)),
            _ => None,
        }
    }
}

//! Surfaces, and where somebody looked.

use super::ImportRef;
use crate::service::Service;
use crate::words::{SearchOutcome, SurfaceKind};
use serde::{Deserialize, Serialize};
use survey::Decimal;

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
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct TinBlob {
    /// Easting, northing, level.
    pub points: Vec<[Decimal; 3]>,
    /// Chains of point indices that triangle edges must follow.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub breaklines: Vec<Vec<u32>>,
    /// Triangles as a file gave them, by point indices; when there are any, nothing is triangulated.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub faces: Vec<[u32; 3]>,
    /// Rings, easting and northing, outside which there is no surface; none: the edge of the triangles.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub outlines: Vec<Vec<[Decimal; 2]>>,
    /// Rings in which there is no surface.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub holes: Vec<Vec<[Decimal; 2]>>,
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

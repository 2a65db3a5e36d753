//! Opening a site: its grid, datum and rules.

use serde::{Deserialize, Serialize};
use survey::Decimal;
use uuid::Uuid;

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

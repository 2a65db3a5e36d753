//! GeoJSON (RFC 7946) out of the views, feature by feature.

use register::view::{GridView, HeadView};

/// What the whole collection says about itself.
#[derive(Debug, Clone, Copy)]
pub struct GeoJsonSite<'a> {
    /// Site name.
    pub site: &'a str,
    /// Head it rests on.
    pub head: &'a HeadView,
    /// The site's grid.
    pub grid: &'a GridView,
    /// How longitude and latitude came about: reference system, operation, accuracy, and what they are for.
    pub position_basis: &'a str,
}

/// Takes easting and northing (metres) to longitude and latitude (degrees, WGS 84); `None` outside its range.
pub type ToLonLat<'a> = &'a dyn Fn(f64, f64) -> Option<[f64; 2]>;

/// How many features were written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
#[expect(missing_docs, reason = "names say it")]
pub struct Written {
    pub runs: u64,
    pub points: u64,
    pub areas: u64,
}

//! Ground: surfaces, tubes, dig solids, and the exact distances between them.
//!
//! Knows no service words, no files, no clock. Frame: easting, northing, level in metres, minus the site's
//! origin, so that millimetres keep their digits. The project's DEVELOPERS.md gives the definitions in full.

pub mod axis;
pub mod bend;
pub mod bow;
pub mod cover;
mod disc_cover;
pub mod domain;
pub mod facet;
mod facet_grid;
pub mod fall;
pub mod lay;
mod leg_cover;
pub mod plane_fit;
pub mod surface;
pub mod tin;
pub mod tube;
pub mod unshot;

mod batter;
mod convex;
pub mod dig;
mod dig_plan;
pub mod gap;
pub mod index;
mod leg;
pub mod leg_pairs;
pub mod meeting;
mod near;
mod packed_tree;
mod pieces;
mod plumb;
pub mod searched;
pub mod segment;
pub mod separation;
mod simplex;
pub mod solid;

/// A position or direction in the site frame: easting, northing, level, in metres.
pub type Vec3 = nalgebra::Vector3<f64>;
/// A plan position or direction in the site frame: easting, northing, in metres.
pub type Vec2 = nalgebra::Vector2<f64>;

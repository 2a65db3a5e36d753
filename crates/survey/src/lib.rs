//! Survey: quantities, uncertainty and grids, as a small textbook of the trade's measuring.
//!
//! Knows no files, clock, network or services. Order is always easting, northing, level.

pub mod sources;

pub mod angle_text;
pub mod decimal;
pub mod quantity;
pub mod uncertainty;

pub mod finding;

pub mod level_book;
pub mod level_closure;
pub mod pipe_levels;

pub mod taped_offset;
pub mod ties;

pub mod satellite;
pub mod stated_accuracy;

pub mod epsg;
pub mod geodetic_base;
pub mod projection;
pub mod similarity;

pub mod edm;
pub mod reduction;

pub mod observation;
pub mod sight;

pub mod resection;
pub mod start;

mod adjustment;
pub mod station;
pub mod station_geometry;
pub mod station_report;

pub mod blunder;
mod blunder_words;

pub mod check_shot;
pub mod shot;

pub use decimal::{Decimal, Exact};
pub use finding::Finding;
pub use quantity::{Angle, Depth, Length, LengthUnit, Level, NotFinite};
pub use uncertainty::{ErrorEllipse, PlanCovariance, PointCovariance};

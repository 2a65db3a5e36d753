//! Survey: quantities, uncertainty and grids, as a small textbook of the trade's measuring.
//!
//! Knows no files, clock, network or services. Order is always easting, northing, level.

pub mod quantity;

pub use quantity::{Angle, Depth, Length, Level, NotFinite};

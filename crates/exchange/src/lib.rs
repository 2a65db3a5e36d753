//! Exchange: files in and out, as bytes.
//!
//! Readers take bytes and return drafts made of the register's own body types, with findings that name file, row
//! and column. Writers take the register's views. Nothing here opens a file, asks the time or keeps anything.

mod columns;
mod findings;
mod near_twins;
mod numbers;
mod order;
mod plausibility;
mod point_runs;
mod ring;
mod row;
mod said;
mod sights;
mod table;
mod text;

pub mod options;
pub mod reading;

pub mod control;
pub mod drafts;
pub mod expected;
pub mod geojson_writer;
pub mod levels;
pub mod observations;
pub mod points;
pub mod points_csv;
pub mod searched;
pub mod split;
pub mod surface;
pub mod taped;

pub use control::read_control;
pub use drafts::{ControlDraft, ExpectedDraft, PointsDraft, SearchedArea, SearchedDraft, SurfaceDraft};
pub use expected::read_expected;
pub use geojson_writer::{GeoJsonError, GeoJsonSite, GeoJsonWriter, ToLonLat, Written, write_geojson};
pub use levels::{LevelOptions, LevelsDraft, read_levels};
pub use observations::{ObservationOptions, ObservationsDraft, SetUpDraft, read_observations};
pub use options::{DEFAULT_LIMIT_BYTES, KnownPoint, ReadOptions, SiteFrame, Stated};
pub use points::read_points;
pub use points_csv::{PointsCsvError, write_points_csv};
pub use reading::{Preview, Reading};
pub use searched::read_searched;
pub use split::{FULL_ENTRY_BYTES, split_control, split_expected, split_points, split_set_up};
pub use surface::read_surface;
pub use taped::{TapedKind, read_taped};

/// How many points a preview draws.
pub const PREVIEW_POINTS: usize = 5_000;

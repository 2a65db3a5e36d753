//! Projection: between a grid's easting and northing and latitude and longitude, and what the grid does to
//! a bearing and a distance on the way.
//!
//! Eastings and northings are in metres here even where the system is published in feet
//! ([`ProjectedCrs::unit`]): convert once, at the rim. The projections themselves are proj4rs's; the table
//! of systems, the checks and the scale factors are ours.
//!
//! **Sign of the convergence.** It is positive where grid north lies east of true north, so that grid
//! bearing = true bearing - convergence. Some manuals print the opposite sign, to be added.

use std::fmt;

use proj4rs::Proj;
use proj4rs::transform::transform;

use crate::epsg::{ProjectedCrs, UnknownCrs, projected_crs};
use crate::geodetic_base::ToWgs84;

/// How far outside a system's area of use a position may lie before it is refused.
pub const AREA_MARGIN_DEG: f64 = 5.0;
/// How closely a position must come back through the projection to be believed, m.
pub const ROUND_TRIP_M: f64 = 0.001;
/// The step in latitude over which the scale factor and the convergence are taken, radians.
const STEP_RAD: f64 = 1e-3;

/// A latitude and a longitude on the system's own geodetic base, which need not be WGS 84.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Geodetic {
    /// North positive, degrees.
    pub latitude_deg: f64,
    /// East positive, degrees.
    pub longitude_deg: f64,
}

/// A longitude and a latitude on WGS 84, in the order GeoJSON writes them.
///
/// For finding the place. How good it is, says the [`PositionBasis`] of the projection that made it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LonLat {
    /// East positive, degrees.
    pub longitude_deg: f64,
    /// North positive, degrees.
    pub latitude_deg: f64,
}

/// How a longitude and latitude were come by, to be written beside them wherever they go.
#[derive(Debug, Clone, PartialEq)]
pub struct PositionBasis {
    /// The projected system, `EPSG:code name`.
    pub crs: String,
    /// What was done from its base to WGS 84.
    pub operation: String,
    /// How far off the place may be by that, m, as the register states it.
    pub accuracy_m: f64,
    /// What the figure leaves out, and what the position must not be used for.
    pub note: String,
}

/// What a grid does to bearings and distances at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GridFactors {
    /// Positive where grid north lies east of true north: grid bearing = true bearing - convergence.
    pub convergence_rad: f64,
    /// Grid distance over ellipsoid distance.
    pub point_scale: f64,
}

/// A position could not be brought through a projection.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ProjectionError {
    /// The code names no system of the table.
    #[error(transparent)]
    Unknown(#[from] UnknownCrs),
    /// A coordinate is not a finite number.
    #[error("({first}, {second}) is not a position: both must be finite numbers")]
    NotFinite {
        /// The first coordinate given.
        first: f64,
        /// The second coordinate given.
        second: f64,
    },
    /// The position lies where the system is not meant to be used.
    #[error(
        "{place} lies far outside where {crs} is used; check the code, the zone, the unit and the order of easting and northing"
    )]
    OutsideArea {
        /// The system.
        crs: String,
        /// The position as it was given.
        place: String,
    },
    /// The projection has no answer there, or one that does not come back.
    #[error("{place} cannot be projected in {crs}; check the code, the zone and the unit")]
    NoAnswer {
        /// The system.
        crs: String,
        /// The position as it was given.
        place: String,
    },
    /// WGS 84 cannot be reached from the base of this system.
    #[error("{crs} cannot be brought to longitude and latitude here: {note}")]
    NeedsGrid {
        /// The system.
        crs: String,
        /// What a person should do instead.
        note: String,
    },
    /// No single scale factor exists because the projection is not conformal.
    #[error(
        "{crs} does not keep shapes, so no one scale factor holds; set out on a conformal system and convert for mapping only"
    )]
    NotConformal {
        /// The system.
        crs: String,
    },
    /// The projection string of the table was not understood, which is our own fault.
    #[error("{crs} is wrong in the table: {reason}; this is a fault of the program")]
    Table {
        /// The system.
        crs: String,
        /// What the projection library said.
        reason: String,
    },
}

/// A projected system made ready to compute with.
#[derive(Clone)]
pub struct Projection {
    crs: ProjectedCrs,
    grid: Proj,
    base: Proj,
    /// The same grid with its shift, and WGS 84; none where the base is taken as WGS 84.
    shifted: Option<(Proj, Proj)>,
}

impl fmt::Debug for Projection {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Projection({})", self.title())
    }
}

impl Projection {
    /// Makes the projection of an EPSG code ready.
    ///
    /// # Errors
    /// [`ProjectionError::Unknown`] for a code that is not in [`crate::epsg`]'s table.
    pub fn of(code: u32) -> Result<Projection, ProjectionError> {
        let crs = projected_crs(code)?;
        let title = title(&crs);
        let read = |text: &str| {
            Proj::from_proj_string(text).map_err(|error| ProjectionError::Table {
                crs: title.clone(),
                reason: error.to_string(),
            })
        };
        let grid = read(&crs.proj)?;
        let base = read(&format!("+proj=longlat {}", crs.base.ellipsoid))?;
        let shifted = match &crs.base.to_wgs84 {
            ToWgs84::Helmert { parameters, .. } => {
                let list = parameters.map(|p| p.to_string()).join(",");
                let shifted = read(&format!("{} +towgs84={list}", crs.proj))?;
                Some((shifted, read("+proj=longlat +datum=WGS84")?))
            }
            ToWgs84::Same { .. } | ToWgs84::NeedsGrid { .. } => None,
        };
        Ok(Projection {
            crs,
            grid,
            base,
            shifted,
        })
    }

    /// Returns the system it was made of.
    pub fn crs(&self) -> &ProjectedCrs {
        &self.crs
    }

    /// Returns the code and name, `EPSG:27700 OSGB36 / British National Grid`.
    pub fn title(&self) -> String {
        title(&self.crs)
    }

    /// Returns easting and northing (m) of a latitude and longitude on the system's own base.
    ///
    /// # Accuracy
    /// Within 0.1 mm of PROJ 9.5.1 over the area of use (`tests/projection.rs`).
    /// # Errors
    /// [`ProjectionError::OutsideArea`] more than [`AREA_MARGIN_DEG`] outside the area of use.
    pub fn to_grid(&self, place: Geodetic) -> Result<(f64, f64), ProjectionError> {
        let (latitude, longitude) = (place.latitude_deg, place.longitude_deg);
        finite(latitude, longitude)?;
        self.within_area(place, || format!("latitude {latitude}, longitude {longitude}"))?;
        self.project(latitude.to_radians(), longitude.to_radians())
            .ok_or_else(|| self.no_answer(format!("latitude {latitude}, longitude {longitude}")))
    }

    /// Returns the latitude and longitude on the system's own base of an easting and northing (m).
    ///
    /// # Accuracy
    /// Within 1e-9 degrees of PROJ 9.5.1 over the area of use; and every answer is projected back and must
    /// meet the easting and northing within [`ROUND_TRIP_M`].
    /// # Errors
    /// [`ProjectionError::OutsideArea`] and [`ProjectionError::NoAnswer`]; a swapped easting and northing
    /// or a wrong zone usually ends in one of them.
    pub fn to_geodetic(&self, easting_m: f64, northing_m: f64) -> Result<Geodetic, ProjectionError> {
        finite(easting_m, northing_m)?;
        let name = || format!("easting {easting_m}, northing {northing_m}");
        let mut place = (easting_m, northing_m);
        let done = transform(&self.grid, &self.base, &mut place);
        if done.is_err() || !place.0.is_finite() || !place.1.is_finite() {
            return Err(self.no_answer(name()));
        }
        let geodetic = Geodetic {
            latitude_deg: place.1.to_degrees(),
            longitude_deg: place.0.to_degrees(),
        };
        self.within_area(geodetic, name)?;
        let back = self
            .project(place.1, place.0)
            .ok_or_else(|| self.no_answer(name()))?;
        if (back.0 - easting_m).hypot(back.1 - northing_m) > ROUND_TRIP_M {
            return Err(self.no_answer(name()));
        }
        Ok(geodetic)
    }

    /// Returns the WGS 84 longitude and latitude of an easting and northing (m), for finding the place.
    ///
    /// How good it is, says [`Projection::position_basis`]; a metre or more is usual.
    /// # Errors
    /// As [`Projection::to_geodetic`], and [`ProjectionError::NeedsGrid`] where WGS 84 cannot be reached.
    pub fn to_lonlat(&self, easting_m: f64, northing_m: f64) -> Result<LonLat, ProjectionError> {
        if let ToWgs84::NeedsGrid { note } = &self.crs.base.to_wgs84 {
            return Err(self.needs_grid(note));
        }
        let own = self.to_geodetic(easting_m, northing_m)?;
        let Some((grid, wgs84)) = &self.shifted else {
            return Ok(LonLat {
                longitude_deg: own.longitude_deg,
                latitude_deg: own.latitude_deg,
            });
        };
        let mut place = (easting_m, northing_m);
        let done = transform(grid, wgs84, &mut place);
        if done.is_err() || !place.0.is_finite() || !place.1.is_finite() {
            return Err(self.no_answer(format!("easting {easting_m}, northing {northing_m}")));
        }
        Ok(LonLat {
            longitude_deg: place.0.to_degrees(),
            latitude_deg: place.1.to_degrees(),
        })
    }

    /// Returns what has to be said beside every longitude and latitude this projection makes.
    ///
    /// # Errors
    /// [`ProjectionError::NeedsGrid`] where WGS 84 cannot be reached.
    pub fn position_basis(&self) -> Result<PositionBasis, ProjectionError> {
        let base = self.crs.base.name;
        let (operation, accuracy_m, note) = match &self.crs.base.to_wgs84 {
            ToWgs84::Same { accuracy_m, note } => {
                let operation = if base == "WGS 84" {
                    "inverse projection".to_owned()
                } else {
                    format!("inverse projection, {base} taken as WGS 84")
                };
                (operation, *accuracy_m, *note)
            }
            ToWgs84::Helmert { accuracy_m, note, .. } => (
                format!("inverse projection, {base} to WGS 84 by stated parameters"),
                *accuracy_m,
                *note,
            ),
            ToWgs84::NeedsGrid { note } => {
                return Err(self.needs_grid(note));
            }
        };
        Ok(PositionBasis {
            crs: self.title(),
            operation,
            accuracy_m,
            note: format!("{note}; for finding the place, set out from easting, northing and level only"),
        })
    }

    /// Returns whether a place lies inside the system's area of use.
    pub fn is_in_area(&self, place: Geodetic) -> bool {
        let area = &self.crs.area;
        area.contains(place.longitude_deg, place.latitude_deg, 0.0)
    }

    /// Returns the convergence and the point scale factor at an easting and northing (m).
    ///
    /// Both come from projecting four points of the meridian through the place: the derivative by the
    /// central difference of fourth order, against the ellipsoid's radius of curvature in the meridian.
    ///
    /// # Accuracy
    /// Within 1e-7 degrees and 1e-9 of PROJ 9.5.1 (`tests/projection.rs`).
    /// # Errors
    /// [`ProjectionError::NotConformal`] for an equal-area system; else as [`Projection::to_geodetic`].
    pub fn grid_factors(&self, easting_m: f64, northing_m: f64) -> Result<GridFactors, ProjectionError> {
        if !self.crs.conformal {
            return Err(ProjectionError::NotConformal { crs: self.title() });
        }
        let place = self.to_geodetic(easting_m, northing_m)?;
        let latitude = place.latitude_deg.to_radians();
        let longitude = place.longitude_deg.to_radians();
        let at = |steps: f64| {
            self.project(latitude + steps * STEP_RAD, longitude)
                .ok_or_else(|| self.no_answer(format!("easting {easting_m}, northing {northing_m}")))
        };
        let (far_south, south, north, far_north) = (at(-2.0)?, at(-1.0)?, at(1.0)?, at(2.0)?);
        let slope = |a: f64, b: f64, c: f64, d: f64| (a - 8.0 * b + 8.0 * c - d) / (12.0 * STEP_RAD);
        let d_easting = slope(far_south.0, south.0, north.0, far_north.0);
        let d_northing = slope(far_south.1, south.1, north.1, far_north.1);
        Ok(GridFactors {
            convergence_rad: -d_easting.atan2(d_northing),
            point_scale: d_easting.hypot(d_northing) / self.radii_m(latitude).0,
        })
    }

    /// Returns grid distance over distance on the ground at an easting, northing and height (m).
    ///
    /// The height is above the ellipsoid; a level in its place is off by the geoid separation, which makes
    /// 1 ppm for every 6.4 m. The earth's radius is the Gaussian mean one at the place.
    /// # Errors
    /// As [`Projection::grid_factors`].
    pub fn combined_factor(
        &self,
        easting_m: f64,
        northing_m: f64,
        ellipsoidal_height_m: f64,
    ) -> Result<f64, ProjectionError> {
        finite(ellipsoidal_height_m, 0.0)?;
        let factors = self.grid_factors(easting_m, northing_m)?;
        let place = self.to_geodetic(easting_m, northing_m)?;
        let (meridian_m, normal_m) = self.radii_m(place.latitude_deg.to_radians());
        Ok(combined_scale_factor(
            factors.point_scale,
            ellipsoidal_height_m,
            (meridian_m * normal_m).sqrt(),
        ))
    }

    /// Returns the ellipsoid's radii of curvature in the meridian and in the prime vertical, m.
    fn radii_m(&self, latitude_rad: f64) -> (f64, f64) {
        let f = 1.0 / self.crs.base.ellipsoid.inverse_flattening;
        let e2 = f * (2.0 - f);
        let w2 = 1.0 - e2 * latitude_rad.sin().powi(2);
        let a = self.crs.base.ellipsoid.semi_major_m;
        (a * (1.0 - e2) / (w2 * w2.sqrt()), a / w2.sqrt())
    }

    fn project(&self, latitude_rad: f64, longitude_rad: f64) -> Option<(f64, f64)> {
        let mut place = (longitude_rad, latitude_rad);
        transform(&self.base, &self.grid, &mut place).ok()?;
        (place.0.is_finite() && place.1.is_finite()).then_some(place)
    }

    fn within_area(&self, place: Geodetic, name: impl FnOnce() -> String) -> Result<(), ProjectionError> {
        let area = &self.crs.area;
        if area.contains(place.longitude_deg, place.latitude_deg, AREA_MARGIN_DEG) {
            Ok(())
        } else {
            Err(ProjectionError::OutsideArea {
                crs: self.title(),
                place: name(),
            })
        }
    }

    fn needs_grid(&self, note: &str) -> ProjectionError {
        ProjectionError::NeedsGrid {
            crs: self.title(),
            note: note.to_owned(),
        }
    }

    fn no_answer(&self, place: String) -> ProjectionError {
        ProjectionError::NoAnswer {
            crs: self.title(),
            place,
        }
    }
}

/// Returns grid distance over ground distance: the point scale factor times R / (R + h).
///
/// Valid at one place and, to a part in ten million, over a building site.
pub fn combined_scale_factor(point_scale: f64, ellipsoidal_height_m: f64, radius_m: f64) -> f64 {
    point_scale * radius_m / (radius_m + ellipsoidal_height_m)
}

fn title(crs: &ProjectedCrs) -> String {
    format!("EPSG:{} {}", crs.code, crs.name)
}

fn finite(first: f64, second: f64) -> Result<(), ProjectionError> {
    if first.is_finite() && second.is_finite() {
        Ok(())
    } else {
        Err(ProjectionError::NotFinite { first, second })
    }
}

//! Control points and the observations that tie a station to them.
//!
//! An observation here is what the least squares sees: one reading, already a mean of its faces and corrected for
//! prism and air, with one standard deviation. `sight.rs` makes them from readings as booked.

use crate::reduction::Curvature;
use crate::uncertainty::{CovarianceError, PlanCovariance, PointCovariance};

/// A point with trusted coordinates.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlPoint {
    /// The name painted beside the mark.
    pub id: String,
    /// Easting on the site grid, in metres.
    pub easting_m: f64,
    /// Northing on the site grid, in metres.
    pub northing_m: f64,
    /// Level above the site's datum, in metres; `None` when only the plan position is known.
    pub level_m: Option<f64>,
    /// Uncertainty of the coordinates (one sigma); all zero means "taken as exact", which the report says.
    pub covariance: PointCovariance,
}

impl ControlPoint {
    /// Returns a point taken as exact: every figure that follows is then relative to the control.
    pub fn exact(id: impl Into<String>, easting_m: f64, northing_m: f64, level_m: Option<f64>) -> Self {
        Self {
            id: id.into(),
            easting_m,
            northing_m,
            level_m,
            covariance: PointCovariance::default(),
        }
    }
    /// Returns the point with one sigma for each plan axis and one for the level.
    pub fn with_sigmas(self, sigma_h_m: f64, sigma_v_m: f64) -> Result<Self, CovarianceError> {
        let covariance = PointCovariance::from_sigmas(sigma_h_m, sigma_v_m)?;
        Ok(Self { covariance, ..self })
    }
    fn check_covariance(&self) -> Result<(), CovarianceError> {
        let c = &self.covariance;
        PlanCovariance::new(c.ee_m2, c.en_m2, c.nn_m2)?;
        PlanCovariance::new(c.ee_m2, c.eh_m2, c.hh_m2)?;
        PlanCovariance::new(c.nn_m2, c.nh_m2, c.hh_m2)?;
        Ok(())
    }
}

/// What was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Quantity {
    /// A horizontal circle reading, clockwise, in radians; azimuth = orientation + direction.
    Direction,
    /// A zenith angle from the instrument's axis to the target, in radians.
    Zenith,
    /// A slope distance from axis to target, in metres.
    SlopeDistance,
    /// A horizontal distance on the ground, in metres.
    HorizontalDistance,
}

impl Quantity {
    /// Returns the trade word for it.
    pub fn word(self) -> &'static str {
        match self {
            Quantity::Direction => "direction",
            Quantity::Zenith => "zenith angle",
            Quantity::SlopeDistance => "slope distance",
            Quantity::HorizontalDistance => "horizontal distance",
        }
    }
    /// Whether the value is a length (metres) and not an angle (radians).
    pub fn is_length(self) -> bool {
        matches!(self, Quantity::SlopeDistance | Quantity::HorizontalDistance)
    }
}

/// One observation of one control point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Which control point: its place in [`SetUp::control`].
    pub to: usize,
    /// What was read.
    pub quantity: Quantity,
    /// The value, in radians or metres.
    pub value: f64,
    /// Its standard deviation, in the same unit.
    pub sigma: f64,
    /// Height of the target above the control mark, in metres.
    pub target_height_m: f64,
    /// Which round of directions it belongs to, from 0; each round has an orientation of its own.
    pub round: usize,
}

/// One set-up of the instrument: what it saw, and under which conditions.
#[derive(Debug, Clone, PartialEq)]
pub struct SetUp {
    /// The control points.
    pub control: Vec<ControlPoint>,
    /// The observations.
    pub observations: Vec<Observation>,
    /// Height of the instrument's axis above the station mark (0 when no mark), in metres.
    pub instrument_height_m: f64,
    /// How the earth and the sights bend.
    pub curvature: Curvature,
    /// Grid distance = ground distance times this; 1 on a plane site grid.
    pub grid_scale: f64,
}

/// Why the observations cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ObservationError {
    /// A number is not one.
    #[error("{place}: the {what} is not a finite number; read it again")]
    NotFinite {
        /// The target or set-up.
        place: String,
        /// Which figure.
        what: &'static str,
    },
    /// A sigma is zero, negative or not a number.
    #[error("{place}: a standard deviation of {sigma} for the {what} cannot be used; give one above zero")]
    Sigma {
        /// The target.
        place: String,
        /// Which figure.
        what: &'static str,
        /// The value given.
        sigma: f64,
    },
    /// A target has no control point.
    #[error("{target}: no control point of this name; correct the name or add the point to the control")]
    UnknownTarget {
        /// The name given.
        target: String,
    },
    /// Two control points bear one name.
    #[error("{id}: two control points bear this name; rename or remove one")]
    DuplicateControl {
        /// The name.
        id: String,
    },
    /// A length is out of reason.
    #[error("{place}: a {what} of {value_m} m cannot be; check the figure and its unit")]
    Length {
        /// The target or set-up.
        place: String,
        /// Which figure.
        what: &'static str,
        /// The value, in metres.
        value_m: f64,
    },
    /// A slope distance came without the zenith angle that would level it.
    #[error(
        "{target}: the slope distance has no zenith angle and cannot be levelled; read the zenith angle too"
    )]
    SlopeWithoutZenith {
        /// The target.
        target: String,
    },
    /// A zenith angle or slope distance to a point whose level is not known.
    #[error(
        "{target}: a {what} was given, but the point has no level; reduce it to a horizontal distance or give the level"
    )]
    NoLevel {
        /// The control point.
        target: String,
        /// What was read.
        what: &'static str,
    },
    /// A control point's covariance is impossible.
    #[error("{id}: {source}")]
    Covariance {
        /// The control point.
        id: String,
        /// What is wrong with it.
        source: CovarianceError,
    },
    /// A scale that turns no distance into another.
    #[error("a grid scale of {scale} cannot be; give the combined factor, near 1")]
    Scale {
        /// The scale given.
        scale: f64,
    },
    /// More rounds of directions than one set-up can hold.
    #[error("{rounds} rounds of directions in one set-up, {limit} at most; adjust them apart")]
    Rounds {
        /// How many were given.
        rounds: usize,
        /// How many can be held.
        limit: usize,
    },
    /// The face that was booked and the zenith angle contradict each other.
    #[error(
        "{target}: face {booked} is booked and a zenith angle of {zenith_deg:.4} degrees is of the other face; write both \
         circles as they were read, or leave the face out"
    )]
    FaceAgainstZenith {
        /// The target.
        target: String,
        /// The face booked.
        booked: &'static str,
        /// The zenith angle, in degrees.
        zenith_deg: f64,
    },
    /// Repeated readings of one target are too far apart to be of one place.
    #[error(
        "{target}: two {what}s are {apart} apart, which no two readings of one place are; put the wrong one right, or \
         give the second place a name of its own"
    )]
    RepeatsApart {
        /// The target.
        target: String,
        /// What was read.
        what: &'static str,
        /// How far apart, with its unit.
        apart: String,
    },
    /// A reading of the two faces that cannot be told apart.
    #[error(
        "{target}: a zenith angle of {zenith_deg:.4} degrees is not between 0 and 360; check the reading and its unit"
    )]
    ZenithRange {
        /// The target.
        target: String,
        /// The reading, in degrees.
        zenith_deg: f64,
    },
}

/// How many rounds of directions one set-up may hold.
pub const MAX_ROUNDS: usize = 4;

impl SetUp {
    /// Returns a plane set-up: flat earth, scale 1, the axis on the mark.
    pub fn plane(control: Vec<ControlPoint>, observations: Vec<Observation>) -> Self {
        Self {
            control,
            observations,
            instrument_height_m: 0.0,
            curvature: Curvature::none(),
            grid_scale: 1.0,
        }
    }

    /// Checks every figure before anything is computed from it.
    pub fn check(&self) -> Result<(), ObservationError> {
        if !self.instrument_height_m.is_finite() {
            return Err(ObservationError::NotFinite {
                place: "set-up".into(),
                what: "instrument height",
            });
        }
        if !(self.grid_scale > 0.5 && self.grid_scale < 2.0) {
            return Err(ObservationError::Scale {
                scale: self.grid_scale,
            });
        }
        for point in &self.control {
            let figures = [
                (point.easting_m, "easting"),
                (point.northing_m, "northing"),
                (point.level_m.unwrap_or(0.0), "level"),
            ];
            for (value, what) in figures {
                if !value.is_finite() {
                    return Err(ObservationError::NotFinite {
                        place: point.id.clone(),
                        what,
                    });
                }
            }
        }
        for point in &self.control {
            point
                .check_covariance()
                .map_err(|source| ObservationError::Covariance {
                    id: point.id.clone(),
                    source,
                })?;
        }
        for observation in &self.observations {
            self.check_observation(observation)?;
        }
        let levelled = self.observations.iter().any(|o| o.quantity == Quantity::Zenith);
        let slope = self
            .observations
            .iter()
            .find(|o| o.quantity == Quantity::SlopeDistance);
        if let (false, Some(slope)) = (levelled, slope) {
            return Err(ObservationError::SlopeWithoutZenith {
                target: self.control[slope.to].id.clone(),
            });
        }
        Ok(())
    }

    fn check_observation(&self, observation: &Observation) -> Result<(), ObservationError> {
        let Some(point) = self.control.get(observation.to) else {
            return Err(ObservationError::UnknownTarget {
                target: format!("control point number {}", observation.to + 1),
            });
        };
        let place = || point.id.clone();
        let what = observation.quantity.word();
        if !observation.value.is_finite() {
            return Err(ObservationError::NotFinite { place: place(), what });
        }
        if !observation.target_height_m.is_finite() {
            return Err(ObservationError::NotFinite {
                place: place(),
                what: "target height",
            });
        }
        if !(observation.sigma > 0.0 && observation.sigma.is_finite()) {
            return Err(ObservationError::Sigma {
                place: place(),
                what,
                sigma: observation.sigma,
            });
        }
        let needs_level = matches!(observation.quantity, Quantity::Zenith | Quantity::SlopeDistance);
        if needs_level && point.level_m.is_none() {
            return Err(ObservationError::NoLevel {
                target: place(),
                what,
            });
        }
        if observation.quantity.is_length() && observation.value <= 0.0 {
            return Err(ObservationError::Length {
                place: place(),
                what,
                value_m: observation.value,
            });
        }
        if observation.round >= MAX_ROUNDS {
            return Err(ObservationError::Rounds {
                rounds: observation.round + 1,
                limit: MAX_ROUNDS,
            });
        }
        Ok(())
    }
}

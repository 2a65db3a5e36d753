//! The levels of a pipe's section: invert, obvert, centre and outside top, each from any other.
//!
//! `half` sizes measured square to a sloping pipe are longer plumb by 1 / cos(slope). The words: *invert* is
//! the lowest point of the inside, *obvert* the highest of the inside, *outside top* the highest of all.
//! This is the section at one place; the axis of a run with joints is `ground`'s business.

/// The feature of a section that a level belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SectionFeature {
    /// The lowest point of the inside.
    Invert,
    /// The highest point of the inside.
    Obvert,
    /// The middle.
    Centre,
    /// The highest point of the outside.
    OutsideTop,
    /// The lowest point of the outside.
    OutsideBottom,
}

/// A round pipe's size and how steeply it lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PipeSection {
    /// Outside diameter, m.
    pub outside_m: f64,
    /// Wall thickness, m; none when it is not known.
    pub wall_m: Option<f64>,
    /// Angle above or below the horizontal, radians.
    pub slope_rad: f64,
}

/// A level on a pipe could not be computed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SectionError {
    /// The wall is wanted and not known.
    #[error("the wall thickness is not known, so the {0} cannot be computed; measure the wall or look it up")]
    NoWall(&'static str),
    /// The pipe is steeper than 45 degrees.
    #[error(
        "a pipe at {slope_deg:.1} degrees has no invert or top to level on; shoot its centre or side instead"
    )]
    TooSteep {
        /// The slope, degrees.
        slope_deg: f64,
    },
    /// Sizes that no pipe has.
    #[error("an outside diameter of {outside_m} m with a wall of {wall_m} m is no pipe")]
    NoPipe {
        /// The outside diameter, m.
        outside_m: f64,
        /// The wall, m.
        wall_m: f64,
    },
}

impl PipeSection {
    /// Returns the level (m) of a wanted feature from that of a known one, plumb above or below it.
    ///
    /// # Errors
    /// [`SectionError`]: an unknown wall between inside and outside is never taken as nought.
    pub fn level_m(
        &self,
        known: SectionFeature,
        known_level_m: f64,
        wanted: SectionFeature,
    ) -> Result<f64, SectionError> {
        if known == wanted {
            return Ok(known_level_m);
        }
        Ok(known_level_m - self.above_centre_m(known)? + self.above_centre_m(wanted)?)
    }

    /// Returns how far a feature lies plumb above the centre, m.
    fn above_centre_m(&self, feature: SectionFeature) -> Result<f64, SectionError> {
        let wall_m = self.wall_m.unwrap_or(0.0);
        let is_pipe = self.outside_m > 0.0 && wall_m >= 0.0 && 2.0 * wall_m < self.outside_m;
        if !is_pipe || !self.outside_m.is_finite() {
            return Err(SectionError::NoPipe {
                outside_m: self.outside_m,
                wall_m,
            });
        }
        let slope_deg = self.slope_rad.to_degrees();
        if slope_deg.abs() > 45.0 || slope_deg.is_nan() {
            return Err(SectionError::TooSteep { slope_deg });
        }
        let outside = self.outside_m / 2.0;
        let inside = |name| match self.wall_m {
            Some(wall_m) => Ok(outside - wall_m),
            None => Err(SectionError::NoWall(name)),
        };
        let square = match feature {
            SectionFeature::Centre => 0.0,
            SectionFeature::OutsideTop => outside,
            SectionFeature::OutsideBottom => -outside,
            SectionFeature::Invert => -inside("invert")?,
            SectionFeature::Obvert => inside("obvert")?,
        };
        Ok(square / self.slope_rad.cos())
    }
}

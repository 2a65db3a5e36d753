//! Lengths, levels, depths and angles that cannot be mixed up.
//!
//! Each is a newtype over one stored unit (metres or radians), made by a constructor that names the unit it
//! is given and refuses what is not a number. Inner loops use bare `f64` whose name carries the unit.

use std::f64::consts::PI;
use std::fmt;
use std::ops::{Add, Neg, Sub};

/// A value that is not a finite number was given where a quantity was wanted.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{0} is not a finite number")]
pub struct NotFinite(pub f64);

/// The international foot, exactly.
pub const INTERNATIONAL_FOOT_M: f64 = 0.3048;
/// The US survey foot, exactly 1200/3937 m; retired for new work after 2022 and alive in old data.
pub const US_SURVEY_FOOT_M: f64 = 1200.0 / 3937.0;

/// A unit that lengths are booked in. Which foot is meant is asked, never guessed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LengthUnit {
    /// The metre.
    Metre,
    /// The millimetre.
    Millimetre,
    /// The international inch, 25.4 mm exactly.
    Inch,
    /// The international foot, 0.3048 m exactly.
    InternationalFoot,
    /// The US survey foot, 1200/3937 m exactly.
    UsSurveyFoot,
}

impl LengthUnit {
    /// Returns how many metres one such unit is.
    pub fn metres(self) -> f64 {
        let (numerator, denominator) = self.metres_as_fraction();
        numerator as f64 / denominator as f64
    }
    /// Returns how many metres one such unit is, as an exact fraction (numerator, denominator).
    pub fn metres_as_fraction(self) -> (i128, i128) {
        match self {
            LengthUnit::Metre => (1, 1),
            LengthUnit::Millimetre => (1, 1000),
            LengthUnit::Inch => (254, 10_000),
            LengthUnit::InternationalFoot => (3048, 10_000),
            LengthUnit::UsSurveyFoot => (1200, 3937),
        }
    }
    /// Returns the sign written after a figure in this unit, and after `_` in a column name.
    pub fn symbol(self) -> &'static str {
        match self {
            LengthUnit::Metre => "m",
            LengthUnit::Millimetre => "mm",
            LengthUnit::Inch => "in",
            LengthUnit::InternationalFoot => "ft",
            LengthUnit::UsSurveyFoot => "usft",
        }
    }
}

fn finite(value: f64) -> Result<f64, NotFinite> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(NotFinite(value))
    }
}

macro_rules! metre_quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// From metres.
            pub fn metres(value: f64) -> Result<Self, NotFinite> {
                finite(value).map(Self)
            }
            /// From millimetres.
            pub fn millimetres(value: f64) -> Result<Self, NotFinite> {
                finite(value / 1000.0).map(Self)
            }
            /// From international feet (0.3048 m).
            pub fn international_feet(value: f64) -> Result<Self, NotFinite> {
                finite(value * INTERNATIONAL_FOOT_M).map(Self)
            }
            /// From US survey feet (1200/3937 m).
            pub fn us_survey_feet(value: f64) -> Result<Self, NotFinite> {
                finite(value * US_SURVEY_FOOT_M).map(Self)
            }
            /// In metres.
            pub fn to_metres(self) -> f64 {
                self.0
            }
            /// In millimetres.
            pub fn to_millimetres(self) -> f64 {
                self.0 * 1000.0
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{} {} m", stringify!($name), self.0)
            }
        }
    };
}

metre_quantity! {
    /// A length, a thickness or a difference of two levels (up positive).
    Length
}
metre_quantity! {
    /// A level: the height of a point above the site's named level datum.
    Level
}
metre_quantity! {
    /// A depth: how far below a named surface a point lies, down positive.
    Depth
}

impl Add for Length {
    type Output = Length;
    fn add(self, other: Length) -> Length {
        Length(self.0 + other.0)
    }
}
impl Sub for Length {
    type Output = Length;
    fn sub(self, other: Length) -> Length {
        Length(self.0 - other.0)
    }
}
impl Neg for Length {
    type Output = Length;
    fn neg(self) -> Length {
        Length(-self.0)
    }
}
/// Two levels give a difference; two levels cannot be added.
impl Sub for Level {
    type Output = Length;
    fn sub(self, other: Level) -> Length {
        Length(self.0 - other.0)
    }
}
impl Add<Length> for Level {
    type Output = Level;
    fn add(self, up: Length) -> Level {
        Level(self.0 + up.0)
    }
}
impl Sub<Length> for Level {
    type Output = Level;
    fn sub(self, down: Length) -> Level {
        Level(self.0 - down.0)
    }
}
impl Level {
    /// Returns how far this level lies below a surface level, down positive.
    pub fn depth_below(self, surface: Level) -> Depth {
        Depth(surface.0 - self.0)
    }
    /// Returns the level that lies `depth` below this one.
    pub fn down(self, depth: Depth) -> Level {
        Level(self.0 - depth.0)
    }
}

/// An angle. Stored in radians. An azimuth is clockwise from grid north, a zenith angle from straight up.
#[derive(Clone, Copy, PartialEq, PartialOrd)]
pub struct Angle(f64);

impl Angle {
    /// From radians.
    pub fn radians(value: f64) -> Result<Self, NotFinite> {
        finite(value).map(Self)
    }
    /// From decimal degrees.
    pub fn degrees(value: f64) -> Result<Self, NotFinite> {
        finite(value * PI / 180.0).map(Self)
    }
    /// From gon (400 to the circle).
    pub fn gon(value: f64) -> Result<Self, NotFinite> {
        finite(value * PI / 200.0).map(Self)
    }
    /// In radians.
    pub fn to_radians(self) -> f64 {
        self.0
    }
    /// In decimal degrees.
    pub fn to_degrees(self) -> f64 {
        self.0 * 180.0 / PI
    }
}

impl fmt::Debug for Angle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} rad", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_two_feet_differ_by_two_parts_in_a_million() {
        // Definitions: international foot 0.3048 m, US survey foot 1200/3937 m (both exact).
        let international = Length::international_feet(2_000_000.0).unwrap();
        let us = Length::us_survey_feet(2_000_000.0).unwrap();
        assert!(((us - international).to_metres() - 1.219_202_4).abs() < 1e-6);
    }

    #[test]
    fn nothing_that_is_not_a_number_becomes_a_quantity() {
        assert!(Length::metres(f64::NAN).is_err());
        assert_eq!(Level::metres(f64::INFINITY), Err(NotFinite(f64::INFINITY)));
        assert!(Angle::gon(f64::NEG_INFINITY).is_err());
    }

    #[test]
    fn a_level_below_a_surface_is_a_positive_depth() {
        let top = Level::metres(12.340).unwrap();
        let surface = Level::metres(12.790).unwrap();
        assert!((top.depth_below(surface).to_millimetres() - 450.0).abs() < 1e-9);
        assert_eq!(surface.down(top.depth_below(surface)).to_metres(), 12.340);
    }
}

//! Angles as they were read: decimal degrees, gon, degrees-minutes-seconds, or packed `ddd.mmss`.
//!
//! The four look alike (`123.4506` may be any of three), so the unit is stated and never guessed.

use crate::quantity::Angle;

/// How an angle is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AngleUnit {
    /// Decimal degrees: `123.7519`.
    Degrees,
    /// Gon, 400 to the circle: `137.5021`.
    Gon,
    /// Degrees, minutes, seconds, with anything but digits and a point between: `123-45-06.7`.
    DegreesMinutesSeconds,
    /// Packed `ddd.mmss`: `123.45067` is 123 degrees 45 minutes 6.7 seconds.
    PackedDms,
}

/// Text that is no angle in the stated unit.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum AngleTextError {
    /// Not digits and a point.
    #[error("{text:?} is not an angle in {unit}; write it like {example}")]
    NotAnAngle {
        /// As read.
        text: String,
        /// The unit stated.
        unit: &'static str,
        /// What it looks like.
        example: &'static str,
    },
    /// Minutes or seconds of 60 or more.
    #[error(
        "{text:?} has {what} of 60 or more; it may be decimal degrees or gon: state the unit it was read in"
    )]
    NotSexagesimal {
        /// As read.
        text: String,
        /// `minutes` or `seconds`.
        what: &'static str,
    },
    /// Beyond the circle.
    #[error("{text:?} is beyond the circle in {unit}; state the unit it was read in")]
    BeyondCircle {
        /// As read.
        text: String,
        /// The unit stated.
        unit: &'static str,
    },
}

impl AngleUnit {
    /// Returns its name and an example.
    pub fn words(self) -> (&'static str, &'static str) {
        match self {
            AngleUnit::Degrees => ("decimal degrees", "123.7519"),
            AngleUnit::Gon => ("gon", "137.5021"),
            AngleUnit::DegreesMinutesSeconds => ("degrees minutes seconds", "123-45-06.7"),
            AngleUnit::PackedDms => ("packed degrees ddd.mmss", "123.45067"),
        }
    }

    /// Reads an angle of 0 to a full circle.
    ///
    /// ```
    /// use coverbook_survey::angle_text::AngleUnit;
    /// let a = AngleUnit::DegreesMinutesSeconds.read("123-45-06.7").unwrap();
    /// let b = AngleUnit::PackedDms.read("123.45067").unwrap();
    /// assert!((a.to_degrees() - 123.751_861_111).abs() < 1e-9 && (a.to_degrees() - b.to_degrees()).abs() < 1e-12);
    /// assert!(AngleUnit::PackedDms.read("123.75").is_err());
    /// ```
    /// # Errors
    /// [`AngleTextError`], with what to write instead.
    pub fn read(self, text: &str) -> Result<Angle, AngleTextError> {
        let (unit, example) = self.words();
        let not = || AngleTextError::NotAnAngle {
            text: text.to_string(),
            unit,
            example,
        };
        let plain = |part: &str| -> Result<f64, AngleTextError> {
            let is_plain = !part.is_empty()
                && part.chars().all(|c| c.is_ascii_digit() || c == '.')
                && part.matches('.').count() <= 1
                && part.chars().any(|c| c.is_ascii_digit());
            if is_plain {
                part.parse().ok().ok_or_else(not)
            } else {
                Err(not())
            }
        };
        let trimmed = text.trim();
        let (value, circle) = match self {
            AngleUnit::Degrees => (plain(trimmed)?, 360.0),
            AngleUnit::Gon => (plain(trimmed)?, 400.0),
            AngleUnit::DegreesMinutesSeconds => {
                if trimmed.contains(',') || trimmed.starts_with('-') {
                    return Err(not());
                }
                let parts: Vec<&str> = trimmed
                    .split(|c: char| !c.is_ascii_digit() && c != '.')
                    .filter(|p| !p.is_empty())
                    .collect();
                let [degrees, minutes, seconds] = parts.as_slice() else {
                    return Err(not());
                };
                if degrees.contains('.') || minutes.contains('.') {
                    return Err(not());
                }
                (
                    sexagesimal(text, plain(degrees)?, plain(minutes)?, plain(seconds)?)?,
                    360.0,
                )
            }
            AngleUnit::PackedDms => {
                plain(trimmed)?;
                let (degrees, rest) = trimmed.split_once('.').unwrap_or((trimmed, ""));
                let digits = format!("{rest:0<4}");
                let minutes = plain(&digits[..2])?;
                let seconds = plain(&format!("{}.{}", &digits[2..4], &digits[4..]))?;
                let degrees = if degrees.is_empty() { 0.0 } else { plain(degrees)? };
                (sexagesimal(text, degrees, minutes, seconds)?, 360.0)
            }
        };
        if !(0.0..=circle).contains(&value) {
            return Err(AngleTextError::BeyondCircle {
                text: text.to_string(),
                unit,
            });
        }
        let angle = if circle == 400.0 {
            Angle::gon(value)
        } else {
            Angle::degrees(value)
        };
        angle.ok().ok_or_else(not)
    }
}

fn sexagesimal(text: &str, degrees: f64, minutes: f64, seconds: f64) -> Result<f64, AngleTextError> {
    for (what, part) in [("minutes", minutes), ("seconds", seconds)] {
        if part >= 60.0 {
            return Err(AngleTextError::NotSexagesimal {
                text: text.to_string(),
                what,
            });
        }
    }
    Ok(degrees + minutes / 60.0 + seconds / 3600.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn reads(unit: AngleUnit, text: &str, degrees: f64) {
        let read = unit.read(text).unwrap().to_degrees();
        assert!((read - degrees).abs() < 1e-12 * 360.0, "{read}");
    }

    #[test]
    fn the_same_digits_are_four_angles_in_four_units() {
        reads(AngleUnit::Degrees, "123.4506", 123.4506);
        reads(AngleUnit::Gon, "123.4506", 111.10554);
        reads(
            AngleUnit::PackedDms,
            "123.4506",
            123.0 + 45.0 / 60.0 + 6.0 / 3600.0,
        );
        reads(
            AngleUnit::DegreesMinutesSeconds,
            "123\u{b0}45'06.0\"",
            123.0 + 45.0 / 60.0 + 6.0 / 3600.0,
        );
        reads(AngleUnit::PackedDms, "5", 5.0);
        reads(AngleUnit::PackedDms, "5.3", 5.5);
        reads(AngleUnit::Degrees, "360", 360.0);
    }

    #[track_caller]
    fn refuses(unit: AngleUnit, text: &str, expected: &str) {
        let error = unit.read(text).unwrap_err().to_string();
        assert!(error.contains(expected), "{error}");
    }

    #[test]
    fn what_cannot_be_in_the_stated_unit_is_refused_with_the_mend() {
        refuses(AngleUnit::PackedDms, "123.75", "minutes of 60 or more");
        refuses(AngleUnit::PackedDms, "123.4575", "seconds of 60 or more");
        refuses(
            AngleUnit::DegreesMinutesSeconds,
            "123.4506",
            "write it like 123-45-06.7",
        );
        refuses(
            AngleUnit::Degrees,
            "380.5",
            "beyond the circle in decimal degrees",
        );
        refuses(AngleUnit::Gon, "400.1", "beyond the circle in gon");
        for text in ["", "NaN", "-5", "1e2", "12,5", "."] {
            refuses(AngleUnit::Degrees, text, "is not an angle");
        }
    }
}

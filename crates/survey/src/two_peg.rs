//! The two-peg test: whether a level's line of sight is level.
//!
//! From midway between two pegs an inclined line of sight cancels and the true difference is read; from a
//! set-up with unequal sights what is off is the inclination times the inequality
//! ([`crate::sources::LEVELLING_PRACTICE`]). Curvature is left out: 0.1 mm at 35 m.

use crate::decimal::Exact;

/// Staff readings on two pegs from one set-up, with the distances to them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PegReadings {
    /// The reading on the first peg, m.
    pub first_m: Exact,
    /// The reading on the second peg, m.
    pub second_m: Exact,
    /// The distance to the first peg, m.
    pub first_distance_m: f64,
    /// The distance to the second peg, m.
    pub second_distance_m: f64,
}

/// The two set-ups cannot show an inclination.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TwoPegError {
    /// A distance is not a positive number.
    #[error("a sight of {0} m is not a distance; measure from the level to each peg")]
    BadDistance(f64),
    /// Both set-ups have equally unequal sights.
    #[error(
        "the two set-ups differ by only {0:.1} m in their sights; set up midway first and then close to one peg"
    )]
    SameInequality(f64),
}

/// Returns how much the line of sight climbs, mm per metre: positive reads too high.
///
/// # Errors
/// [`TwoPegError::SameInequality`] where the sights of the two set-ups differ alike, within 5 m.
pub fn collimation_error_mm_per_m(midway: PegReadings, at_one_end: PegReadings) -> Result<f64, TwoPegError> {
    for readings in [midway, at_one_end] {
        for distance in [readings.first_distance_m, readings.second_distance_m] {
            if !(distance.is_finite() && distance > 0.0) {
                return Err(TwoPegError::BadDistance(distance));
            }
        }
    }
    let unequal = |r: PegReadings| r.first_distance_m - r.second_distance_m;
    let inequality_m = unequal(at_one_end) - unequal(midway);
    if inequality_m.abs() < 5.0 {
        return Err(TwoPegError::SameInequality(inequality_m.abs()));
    }
    let difference = |r: PegReadings| r.first_m - r.second_m;
    let off_m = difference(at_one_end) - difference(midway);
    Ok(off_m.to_f64() * 1000.0 / inequality_m)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decimal::Decimal;

    /// Readings of a level whose line climbs 0.05 mm/m, on pegs of which the second is 0.234 m higher.
    fn readings(line_m: &str, first_distance_m: f64, second_distance_m: f64) -> PegReadings {
        let exact = |text: &str| text.parse::<Decimal>().unwrap().exact();
        let climb = |distance_m: f64| exact(&format!("{:.5}", 0.000_05 * distance_m));
        PegReadings {
            first_m: exact(line_m) + climb(first_distance_m),
            second_m: exact(line_m) - exact("0.234") + climb(second_distance_m),
            first_distance_m,
            second_distance_m,
        }
    }

    #[test]
    fn a_line_of_sight_that_climbs_is_found_with_its_sign() {
        // Oracle: the readings were made from the inclination.
        let midway = readings("1.512", 30.0, 30.0);
        let near_second = readings("1.304", 58.0, 2.0);
        let error = collimation_error_mm_per_m(midway, near_second).unwrap();
        assert!((error - 0.05).abs() < 1e-9, "{error}");
        let near_first = readings("1.421", 2.0, 58.0);
        let error = collimation_error_mm_per_m(midway, near_first).unwrap();
        assert!((error - 0.05).abs() < 1e-9, "{error}");
    }

    #[test]
    fn set_ups_that_show_nothing_are_refused() {
        let midway = readings("1.512", 30.0, 30.0);
        assert!(collimation_error_mm_per_m(midway, readings("1.3", 31.0, 29.0)).is_err());
        let nowhere = PegReadings {
            first_distance_m: f64::NAN,
            ..midway
        };
        assert!(collimation_error_mm_per_m(midway, nowhere).is_err());
    }
}

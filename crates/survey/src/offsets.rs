//! Offsets from a line, and setting a point out again: chainage, offset, turn and distance.
//!
//! *Chainage* runs along the line from its start; *offset* is square to it, positive to the right looking
//! up the chainage: `dE uN - dN uE`. An azimuth is clockwise from grid north.

use std::f64::consts::TAU;

/// A straight line that others are measured from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BaseLine {
    start_m: [f64; 2],
    along: [f64; 2],
    length_m: f64,
}

/// Where a point lies against a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChainageOffset {
    /// Distance along the line from its start, m; below nought or past its length outside its ends.
    pub chainage_m: f64,
    /// Distance square to the line, m, right positive.
    pub offset_m: f64,
    /// Whether the foot lies beyond either end, on the line's extension.
    pub is_extension: bool,
}

/// How to find a point from an instrument set over one mark and sighted on another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetOut {
    /// The turn from the back sight, clockwise, radians, from 0 to 2 pi.
    pub turn_rad: f64,
    /// The azimuth of the point, radians, from 0 to 2 pi.
    pub azimuth_rad: f64,
    /// The distance in plan, m.
    pub plan_distance_m: f64,
}

/// A line or a direction could not be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum OffsetError {
    /// Its two points are one place.
    #[error("{0} are one place, so they give no direction; choose two points apart")]
    OnePlace(&'static str),
    /// A coordinate is not a finite number.
    #[error("{0} is not a finite number, so no line can be drawn through it")]
    NotFinite(f64),
}

impl BaseLine {
    /// Returns the line from a start to an end (easting, northing, m).
    pub fn new(start_m: [f64; 2], end_m: [f64; 2]) -> Result<BaseLine, OffsetError> {
        let (along, length_m) = direction(start_m, end_m, "the two ends of the line")?;
        Ok(BaseLine {
            start_m,
            along,
            length_m,
        })
    }
    /// Returns its length, m.
    pub fn length_m(&self) -> f64 {
        self.length_m
    }
    /// Returns chainage and offset of a point.
    pub fn chainage_offset(&self, point_m: [f64; 2]) -> ChainageOffset {
        let (de, dn) = (point_m[0] - self.start_m[0], point_m[1] - self.start_m[1]);
        let [ue, un] = self.along;
        let chainage_m = de * ue + dn * un;
        ChainageOffset {
            chainage_m,
            offset_m: de * un - dn * ue,
            is_extension: !(0.0..=self.length_m).contains(&chainage_m),
        }
    }
    /// Returns easting and northing (m) of a chainage and an offset, right positive.
    pub fn point_at_m(&self, chainage_m: f64, offset_m: f64) -> [f64; 2] {
        let [ue, un] = self.along;
        [
            self.start_m[0] + chainage_m * ue + offset_m * un,
            self.start_m[1] + chainage_m * un - offset_m * ue,
        ]
    }
}

/// Returns turn, azimuth and distance to a point from an instrument and its back sight.
///
/// # Errors
/// [`OffsetError::OnePlace`] where the instrument stands on the back sight or on the point.
pub fn set_out(
    instrument_m: [f64; 2],
    back_sight_m: [f64; 2],
    point_m: [f64; 2],
) -> Result<SetOut, OffsetError> {
    let (back, _) = direction(instrument_m, back_sight_m, "instrument and back sight")?;
    let (ahead, plan_distance_m) = direction(instrument_m, point_m, "instrument and point")?;
    let azimuth = |[e, n]: [f64; 2]| e.atan2(n).rem_euclid(TAU);
    let azimuth_rad = azimuth(ahead);
    Ok(SetOut {
        turn_rad: (azimuth_rad - azimuth(back)).rem_euclid(TAU),
        azimuth_rad,
        plan_distance_m,
    })
}

fn direction(from_m: [f64; 2], to_m: [f64; 2], names: &'static str) -> Result<([f64; 2], f64), OffsetError> {
    if let Some(odd) = from_m.into_iter().chain(to_m).find(|c| !c.is_finite()) {
        return Err(OffsetError::NotFinite(odd));
    }
    let (e, n) = (to_m[0] - from_m[0], to_m[1] - from_m[1]);
    let length_m = e.hypot(n);
    if length_m <= 0.0 {
        return Err(OffsetError::OnePlace(names));
    }
    Ok(([e / length_m, n / length_m], length_m))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn east_of_a_line_that_runs_north_is_right_and_positive() {
        // Common practice: right is positive, so 5 m east of a line that runs north is +5.
        let line = BaseLine::new([100.0, 200.0], [100.0, 230.0]).unwrap();
        let at = line.chainage_offset([105.0, 212.0]);
        assert_eq!((at.chainage_m, at.offset_m), (12.0, 5.0));
        assert!(!at.is_extension);
        assert!(line.chainage_offset([95.0, 199.0]).is_extension);
        assert_eq!(line.chainage_offset([95.0, 199.0]).offset_m, -5.0);
    }

    #[test]
    fn a_turn_is_clockwise_from_the_back_sight() {
        let to = |point_m| set_out([0.0, 0.0], [0.0, 10.0], point_m).unwrap();
        assert!((to([5.0, 0.0]).turn_rad.to_degrees() - 90.0).abs() < 1e-12);
        assert!((to([-5.0, 0.0]).turn_rad.to_degrees() - 270.0).abs() < 1e-12);
        // The 3-4-5 triangle, from a back sight in the west.
        let west = set_out([0.0, 0.0], [-10.0, 0.0], [3.0, 4.0]).unwrap();
        assert!((west.plan_distance_m - 5.0).abs() < 1e-12);
        let expected = 3f64.atan2(4.0).to_degrees() + 90.0;
        assert!((west.turn_rad.to_degrees() - expected).abs() < 1e-9);
    }

    #[test]
    fn lines_without_a_direction_are_refused() {
        assert!(BaseLine::new([1.0, 1.0], [1.0, 1.0]).is_err());
        assert!(BaseLine::new([1.0, f64::NAN], [1.0, 1.0]).is_err());
        assert!(set_out([0.0, 0.0], [0.0, 0.0], [1.0, 1.0]).is_err());
    }

    proptest! {
        #[test]
        fn a_chainage_and_offset_lead_back_to_the_point(
            a in -500.0f64..500.0, b in -500.0f64..500.0, e in -500.0f64..500.0, n in -500.0f64..500.0
        ) {
            let line = BaseLine::new([a, b], [a + 30.0, b - 40.0]).unwrap();
            let at = line.chainage_offset([e, n]);
            let [back_e, back_n] = line.point_at_m(at.chainage_m, at.offset_m);
            prop_assert!((back_e - e).abs() < 1e-9 && (back_n - n).abs() < 1e-9);
            // Second method: the chainage and offset are legs of a right triangle on the start.
            let from_start = (e - a).hypot(n - b);
            prop_assert!((at.chainage_m.hypot(at.offset_m) - from_start).abs() < 1e-9);
        }
    }
}

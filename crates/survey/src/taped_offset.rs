//! A point taped from a line: chainage along it and an offset square to it, with the covariance of both and of the
//! line's own ends.
//!
//! `P = A + c u + o n`, u the unit vector from A to B and n square to it, to the right. Each error goes in by its
//! derivative: the chainage along u, the offset along n, an offset that is not quite square by `o` along u for each
//! radian, and the ends by `dP/dB = (c I + o R)(I - u u') / |AB|`, `dP/dA = I - dP/dB`, R the right turn.
//! Source: the line's equation, differentiated; propagation of uncertainty as in [`crate::sources::GUM`].

use crate::uncertainty::PlanCovariance;
use nalgebra::{Matrix2, Vector2};

/// One sigma of the right angle of an offset set square by eye, degrees (common practice, from memory).
pub const SQUARE_BY_EYE_DEG: f64 = 1.0;

/// Turns a direction (easting, northing) to its right.
const RIGHT_TURN: Matrix2<f64> = Matrix2::new(0.0, 1.0, -1.0, 0.0);

/// An end of the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineEnd {
    /// Easting and northing, m.
    pub at_m: [f64; 2],
    /// Its covariance; none when it is not known.
    pub covariance: Option<PlanCovariance>,
}

/// What was taped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TapedOffset {
    /// Distance along the line from its start, m.
    pub chainage_m: f64,
    /// One sigma of the chainage, m.
    pub chainage_sigma_m: f64,
    /// Distance square to the line, m, right positive.
    pub offset_m: f64,
    /// One sigma of the offset, m.
    pub offset_sigma_m: f64,
    /// One sigma of its right angle, radians.
    pub square_sigma_rad: f64,
}

/// Whether the errors of the two ends may be one error in part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ends {
    /// Each was found apart from the other.
    Independent,
    /// They may hang on one station: nothing is gained by having two of them.
    MayShare,
}

/// A point could not be laid off from its line.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum OffsetError {
    /// The ends of the line are one place.
    #[error("the two ends of the line are one place, so they give no direction; choose two points apart")]
    OnePlace,
    /// A coordinate, a reading or a sigma is not a finite number.
    #[error("{0} is not a finite number, so nothing can be laid off by it")]
    NotFinite(f64),
}

/// Returns the point, and its covariance unless that of an end is not known.
///
/// With [`Ends::MayShare`] the covariance is a bound for every correlation of the two ends:
/// `(1 + k) Ja Ca Ja' + (1 + 1/k) Jb Cb Jb'`, k the root of the ratio of the traces.
///
/// # Errors
/// [`OffsetError`]: the ends are one place, or a figure is not a number.
pub fn fix_by_offset(
    start: &LineEnd,
    end: &LineEnd,
    taped: &TapedOffset,
    ends: Ends,
) -> Result<([f64; 2], Option<PlanCovariance>), OffsetError> {
    for figure in [
        start.at_m[0],
        start.at_m[1],
        end.at_m[0],
        end.at_m[1],
        taped.chainage_m,
        taped.chainage_sigma_m,
        taped.offset_m,
        taped.offset_sigma_m,
        taped.square_sigma_rad,
    ] {
        if !figure.is_finite() {
            return Err(OffsetError::NotFinite(figure));
        }
    }
    let along = Vector2::new(end.at_m[0] - start.at_m[0], end.at_m[1] - start.at_m[1]);
    let length_m = along.norm();
    if length_m <= 0.0 {
        return Err(OffsetError::OnePlace);
    }
    let u = along / length_m;
    let n = RIGHT_TURN * u;
    let at = Vector2::from(start.at_m) + u * taped.chainage_m + n * taped.offset_m;
    let position_m = [at.x, at.y];
    let covariance = start
        .covariance
        .zip(end.covariance)
        .map(|(a, b)| covariance(u, length_m, taped, [a, b], ends));
    Ok((position_m, covariance))
}

fn covariance(
    u: Vector2<f64>,
    length_m: f64,
    taped: &TapedOffset,
    of_ends: [PlanCovariance; 2],
    ends: Ends,
) -> PlanCovariance {
    let n = RIGHT_TURN * u;
    let identity = Matrix2::identity();
    let by_end = (identity * taped.chainage_m + RIGHT_TURN * taped.offset_m) * (identity - u * u.transpose())
        / length_m;
    let by_start = identity - by_end;
    let [a, b] = of_ends.map(|c| Matrix2::new(c.ee_m2, c.en_m2, c.en_m2, c.nn_m2));
    let from_start = by_start * a * by_start.transpose();
    let from_end = by_end * b * by_end.transpose();
    let from_ends = match ends {
        Ends::Independent => from_start + from_end,
        Ends::MayShare => {
            let (first, second) = (from_start.trace(), from_end.trace());
            if first <= 0.0 || second <= 0.0 {
                from_start + from_end
            } else {
                let k = (second / first).sqrt();
                from_start * (1.0 + k) + from_end * (1.0 + 1.0 / k)
            }
        }
    };
    let askew_m = taped.offset_m * taped.square_sigma_rad;
    let along_m2 = taped.chainage_sigma_m.powi(2) + askew_m.powi(2);
    let sum = from_ends + u * u.transpose() * along_m2 + n * n.transpose() * taped.offset_sigma_m.powi(2);
    PlanCovariance {
        ee_m2: sum[(0, 0)],
        en_m2: sum[(0, 1)],
        nn_m2: sum[(1, 1)],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn end(at_m: [f64; 2], sigma_m: f64) -> LineEnd {
        LineEnd {
            at_m,
            covariance: Some(PlanCovariance::circle(sigma_m).unwrap()),
        }
    }

    fn taped(chainage_m: f64, offset_m: f64) -> TapedOffset {
        TapedOffset {
            chainage_m,
            chainage_sigma_m: 0.005,
            offset_m,
            offset_sigma_m: 0.003,
            square_sigma_rad: 0.0,
        }
    }

    #[test]
    fn right_of_a_line_that_runs_north_is_east() {
        // Textbook offsets (common practice): chainage is the northing and the offset the easting.
        let (at_m, covariance) = fix_by_offset(
            &end([100.0, 200.0], 0.0),
            &end([100.0, 220.0], 0.0),
            &taped(8.0, 2.5),
            Ends::Independent,
        )
        .unwrap();
        assert_eq!(at_m, [102.5, 208.0]);
        let covariance = covariance.unwrap();
        // Exact ends leave each tape along its own axis.
        assert!((covariance.ee_m2.sqrt() - 0.003).abs() < 1e-15);
        assert!((covariance.nn_m2.sqrt() - 0.005).abs() < 1e-15);
        assert_eq!(covariance.en_m2, 0.0);
    }

    #[test]
    fn an_offset_that_is_not_square_errs_along_the_line() {
        // By hand: 5 m out at 1 degree is 87 mm along the line (5 m x 0.017453).
        let skew = TapedOffset {
            square_sigma_rad: SQUARE_BY_EYE_DEG.to_radians(),
            ..taped(8.0, -5.0)
        };
        let (start, far) = (end([0.0, 0.0], 0.0), end([0.0, 20.0], 0.0));
        let (_, covariance) = fix_by_offset(&start, &far, &skew, Ends::Independent).unwrap();
        let along_m = covariance.unwrap().nn_m2.sqrt();
        assert!((along_m - 0.087_27f64.hypot(0.005)).abs() < 1e-5);
    }

    #[test]
    fn ends_that_may_share_an_error_are_no_better_than_one() {
        // By hand: both ends off by one and the same shift move every point of the line by it. Found apart, the
        // middle would come out better by the root of two.
        let none = TapedOffset {
            chainage_sigma_m: 0.0,
            offset_sigma_m: 0.0,
            ..taped(10.0, 0.0)
        };
        let (start, far) = (end([0.0, 0.0], 0.01), end([20.0, 0.0], 0.01));
        let across = |ends| {
            let (_, covariance) = fix_by_offset(&start, &far, &none, ends).unwrap();
            covariance.unwrap().nn_m2.sqrt()
        };
        assert!((across(Ends::Independent) - 0.01 / 2f64.sqrt()).abs() < 1e-12);
        assert!(across(Ends::MayShare) >= 0.01 - 1e-12);
    }

    #[test]
    fn an_end_without_a_covariance_leaves_the_point_without_one() {
        let unknown = LineEnd {
            covariance: None,
            ..end([20.0, 0.0], 0.0)
        };
        let fixed = fix_by_offset(
            &end([0.0, 0.0], 0.0),
            &unknown,
            &taped(3.0, 1.0),
            Ends::Independent,
        );
        assert_eq!(fixed.unwrap().1, None);
        let here = end([1.0, 1.0], 0.0);
        assert!(fix_by_offset(&here, &here, &taped(1.0, 1.0), Ends::Independent).is_err());
        let odd = taped(f64::NAN, 1.0);
        assert!(fix_by_offset(&here, &end([2.0, 1.0], 0.0), &odd, Ends::Independent).is_err());
    }

    /// A small generator of normal deviates (Lehmer's with the Box-Muller pair), so that the draw is the same everywhere.
    struct Normal(u64);

    impl Normal {
        fn uniform(&mut self) -> f64 {
            self.0 = self.0 * 48_271 % 2_147_483_647;
            self.0 as f64 / 2_147_483_647.0
        }
        fn next(&mut self) -> f64 {
            let (a, b) = (self.uniform(), self.uniform());
            (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
        }
    }

    #[test]
    fn the_covariance_is_the_scatter_of_many_drawn_errors() {
        // Oracle: Monte Carlo (as in GUM supplement 1), 40 000 draws; the sample's own variance is known to 0.7 %
        // of itself at one sigma, so 4 % is more than five sigma.
        let mut normal = Normal(20_310_503);
        let (a, b) = ([3.0, 4.0], [15.0, 13.0]);
        let ca = PlanCovariance::new(4e-4, 1e-4, 1e-4).unwrap();
        let cb = PlanCovariance::circle(0.012).unwrap();
        let taped = TapedOffset {
            chainage_m: 6.0,
            chainage_sigma_m: 0.008,
            offset_m: -2.4,
            offset_sigma_m: 0.006,
            square_sigma_rad: 0.02,
        };
        let start = LineEnd {
            at_m: a,
            covariance: Some(ca),
        };
        let far = LineEnd {
            at_m: b,
            covariance: Some(cb),
        };
        let (at_m, formula) = fix_by_offset(&start, &far, &taped, Ends::Independent).unwrap();
        let formula = formula.unwrap();
        // Cholesky factor of ca by hand: [0.02, 0; 0.005, sqrt(1e-4 - 2.5e-5)].
        let low = (1e-4f64 - 2.5e-5).sqrt();
        let (mut ee, mut en, mut nn, draws) = (0.0, 0.0, 0.0, 40_000);
        for _ in 0..draws {
            let (x, y) = (normal.next(), normal.next());
            let a = [a[0] + 0.02 * x, a[1] + 0.005 * x + low * y];
            let b = [b[0] + 0.012 * normal.next(), b[1] + 0.012 * normal.next()];
            // Walked, not by the formula: along the line, then off at a right angle that is not quite one.
            let azimuth = (b[0] - a[0]).atan2(b[1] - a[1]);
            let c = taped.chainage_m + taped.chainage_sigma_m * normal.next();
            let o = taped.offset_m + taped.offset_sigma_m * normal.next();
            let off = azimuth + std::f64::consts::FRAC_PI_2 + taped.square_sigma_rad * normal.next();
            let p = [
                a[0] + c * azimuth.sin() + o * off.sin(),
                a[1] + c * azimuth.cos() + o * off.cos(),
            ];
            let (de, dn) = (p[0] - at_m[0], p[1] - at_m[1]);
            ee += de * de;
            en += de * dn;
            nn += dn * dn;
        }
        let size = (formula.ee_m2 * formula.nn_m2).sqrt();
        for (sum, formula, scale) in [
            (ee, formula.ee_m2, formula.ee_m2),
            (nn, formula.nn_m2, formula.nn_m2),
            (en, formula.en_m2, size),
        ] {
            let drawn = sum / f64::from(draws);
            assert!(
                (drawn - formula).abs() < 0.04 * scale,
                "{drawn:e} against {formula:e}"
            );
        }
    }

    proptest! {
        #[test]
        fn every_covariance_is_positive_definite_and_the_bound_is_never_smaller(
            turn in -3.0f64..3.0, length in 0.5f64..80.0, c in -20.0f64..100.0, o in -30.0f64..30.0,
            sa in 0.0f64..0.2, sb in 0.0f64..0.2, tape in 0.000_5f64..0.05, skew in 0.0f64..0.05
        ) {
            let far = [500.0 + length * turn.sin(), 900.0 + length * turn.cos()];
            let taped = TapedOffset {
                chainage_m: c, chainage_sigma_m: tape, offset_m: o, offset_sigma_m: tape, square_sigma_rad: skew,
            };
            let fix = |ends| {
                fix_by_offset(&end([500.0, 900.0], sa), &end(far, sb), &taped, ends).unwrap().1.unwrap()
            };
            let (apart, bound) = (fix(Ends::Independent), fix(Ends::MayShare));
            for of in [apart, bound] {
                prop_assert!(of.ellipse().semi_minor_sigma_m >= tape * 0.999_999);
                prop_assert!(PlanCovariance::new(of.ee_m2, of.en_m2, of.nn_m2).is_ok());
            }
            prop_assert!(bound.distance_rms_m() >= apart.distance_rms_m() * 0.999_999);
        }
    }
}

//! Uncertainty: covariances, their ellipses, and the 95 % figure a person reads.
//!
//! Inside the program a position carries a covariance (m²); a sigma is one standard deviation along one
//! axis; only what a person reads is at 95 %. A figure that is not known is `None`, and stays so through
//! every sum: what is missing never acts as zero.
//! The factors are square roots of chi-square quantiles with as many degrees of freedom as dimensions
//! ([`crate::sources::FGDC_STD_007_3`] prints them as 1.9600 and 2.4477).

use std::f64::consts::PI;

use nalgebra::{Matrix3, SymmetricEigen};

/// The factor from one sigma to 95 % in one dimension (a level): 1.960.
pub const FACTOR_95_1D: f64 = 1.959_963_984_540_054;
/// The factor from one sigma to 95 % in two dimensions (a plan position): 2.4477.
pub const FACTOR_95_2D: f64 = 2.447_746_830_680_816;
/// The factor from one sigma to 95 % in three dimensions: 2.7955.
pub const FACTOR_95_3D: f64 = 2.795_483_482_915_108;

/// Variances and covariances that cannot belong to any position were given.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CovarianceError {
    /// A part is not a finite number.
    #[error("a covariance of {0} is not a finite number")]
    NotFinite(f64),
    /// A variance lies below nought.
    #[error("a variance of {0} m² is negative; a sigma is given as a positive length")]
    Negative(f64),
    /// The covariance is larger than its variances allow.
    #[error("a covariance of {covariance_m2} m² is larger than its variances allow ({limit_m2} m²)")]
    NotPossible {
        /// The covariance that was given, m².
        covariance_m2: f64,
        /// The largest one that its two variances allow, m².
        limit_m2: f64,
    },
}

/// The covariance of a plan position, in square metres: easting, northing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PlanCovariance {
    /// Variance of the easting.
    pub ee_m2: f64,
    /// Covariance of easting and northing.
    pub en_m2: f64,
    /// Variance of the northing.
    pub nn_m2: f64,
}

impl PlanCovariance {
    /// Returns the covariance with these parts, refusing one that no position can have.
    pub fn new(ee_m2: f64, en_m2: f64, nn_m2: f64) -> Result<PlanCovariance, CovarianceError> {
        check_pair(ee_m2, en_m2, nn_m2)?;
        Ok(PlanCovariance { ee_m2, en_m2, nn_m2 })
    }
    /// Returns the covariance of a position known equally well in every direction (`sigma_m` on each axis).
    pub fn circle(sigma_m: f64) -> Result<PlanCovariance, CovarianceError> {
        non_negative(sigma_m)?;
        PlanCovariance::new(sigma_m * sigma_m, 0.0, sigma_m * sigma_m)
    }
    /// Returns the covariance of the sum of two independent errors.
    pub fn plus(self, other: PlanCovariance) -> PlanCovariance {
        PlanCovariance {
            ee_m2: self.ee_m2 + other.ee_m2,
            en_m2: self.en_m2 + other.en_m2,
            nn_m2: self.nn_m2 + other.nn_m2,
        }
    }
    /// Returns the covariance after a turn by `angle_rad` anticlockwise and a scale.
    pub fn turned(self, angle_rad: f64, scale: f64) -> PlanCovariance {
        let (s, c) = angle_rad.sin_cos();
        let (ee, en, nn) = (self.ee_m2, self.en_m2, self.nn_m2);
        let k = scale * scale;
        PlanCovariance {
            ee_m2: k * (c * c * ee - 2.0 * c * s * en + s * s * nn),
            en_m2: k * (c * s * (ee - nn) + (c * c - s * s) * en),
            nn_m2: k * (s * s * ee + 2.0 * c * s * en + c * c * nn),
        }
    }
    /// Returns the ellipse of one sigma.
    ///
    /// Source: eigenvalues of a symmetric 2 by 2 matrix in closed form
    /// ([`crate::sources::GHILANI`], chapter 19).
    pub fn ellipse(self) -> ErrorEllipse {
        let mean = 0.5 * (self.ee_m2 + self.nn_m2);
        let half_difference = 0.5 * (self.nn_m2 - self.ee_m2);
        let spread = half_difference.hypot(self.en_m2);
        // A spread that is rounding of the mean belongs to a circle, and a circle has no direction.
        let is_circle = spread <= 1e-12 * mean;
        let azimuth = 0.5 * self.en_m2.atan2(half_difference);
        ErrorEllipse {
            semi_major_sigma_m: (mean + spread).max(0.0).sqrt(),
            semi_minor_sigma_m: (mean - spread).max(0.0).sqrt(),
            major_azimuth_rad: (!is_circle).then_some(azimuth.rem_euclid(PI)),
        }
    }
    /// Returns the 95 % radial figure (m): 2.4477 times the semi-major sigma, the safe side of the ellipse.
    pub fn radial_u95_m(self) -> f64 {
        radial95(self.ellipse().semi_major_sigma_m)
    }
    /// Returns the root of the mean squared plan error (m), one sigma of both axes together.
    pub fn distance_rms_m(self) -> f64 {
        (self.ee_m2 + self.nn_m2).sqrt()
    }
}

/// An error ellipse of one sigma.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ErrorEllipse {
    /// The longer half-axis.
    pub semi_major_sigma_m: f64,
    /// The shorter half-axis.
    pub semi_minor_sigma_m: f64,
    /// The direction of the longer axis, clockwise from grid north, from 0 to pi; none for a circle.
    pub major_azimuth_rad: Option<f64>,
}

impl ErrorEllipse {
    /// Returns the two half-axes of the ellipse that holds 95 %, the longer first.
    pub fn semi_axes_u95_m(&self) -> (f64, f64) {
        (
            FACTOR_95_2D * self.semi_major_sigma_m,
            FACTOR_95_2D * self.semi_minor_sigma_m,
        )
    }
}

/// The covariance of a position in space, in square metres: easting, northing, level (h).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PointCovariance {
    /// Variance of the easting.
    pub ee_m2: f64,
    /// Covariance of easting and northing.
    pub en_m2: f64,
    /// Covariance of easting and level.
    pub eh_m2: f64,
    /// Variance of the northing.
    pub nn_m2: f64,
    /// Covariance of northing and level.
    pub nh_m2: f64,
    /// Variance of the level.
    pub hh_m2: f64,
}

impl PointCovariance {
    /// Returns the covariance of a plan position and a level that owe nothing to each other.
    pub fn from_parts(plan: PlanCovariance, level_sigma_m: f64) -> Result<PointCovariance, CovarianceError> {
        non_negative(level_sigma_m)?;
        check_pair(plan.ee_m2, plan.en_m2, plan.nn_m2)?;
        Ok(PointCovariance {
            ee_m2: plan.ee_m2,
            en_m2: plan.en_m2,
            nn_m2: plan.nn_m2,
            hh_m2: level_sigma_m * level_sigma_m,
            ..PointCovariance::default()
        })
    }
    /// Returns the covariance declared as one sigma per plan axis and one for the level.
    pub fn from_sigmas(sigma_h_m: f64, sigma_v_m: f64) -> Result<PointCovariance, CovarianceError> {
        PointCovariance::from_parts(PlanCovariance::circle(sigma_h_m)?, sigma_v_m)
    }
    /// Returns the covariance whose upper triangle a 3 by 3 matrix (easting, northing, level) holds.
    pub fn from_matrix(matrix: &Matrix3<f64>) -> PointCovariance {
        PointCovariance {
            ee_m2: matrix[(0, 0)],
            en_m2: matrix[(0, 1)],
            eh_m2: matrix[(0, 2)],
            nn_m2: matrix[(1, 1)],
            nh_m2: matrix[(1, 2)],
            hh_m2: matrix[(2, 2)],
        }
    }
    /// Returns it as a symmetric 3 by 3 matrix (easting, northing, level).
    pub fn to_matrix(self) -> Matrix3<f64> {
        Matrix3::new(
            self.ee_m2, self.en_m2, self.eh_m2, //
            self.en_m2, self.nn_m2, self.nh_m2, //
            self.eh_m2, self.nh_m2, self.hh_m2,
        )
    }
    /// Returns the covariance of the sum of two independent errors.
    pub fn plus(self, other: PointCovariance) -> PointCovariance {
        PointCovariance {
            ee_m2: self.ee_m2 + other.ee_m2,
            en_m2: self.en_m2 + other.en_m2,
            eh_m2: self.eh_m2 + other.eh_m2,
            nn_m2: self.nn_m2 + other.nn_m2,
            nh_m2: self.nh_m2 + other.nh_m2,
            hh_m2: self.hh_m2 + other.hh_m2,
        }
    }
    /// Returns the plan part.
    pub fn plan(self) -> PlanCovariance {
        PlanCovariance {
            ee_m2: self.ee_m2,
            en_m2: self.en_m2,
            nn_m2: self.nn_m2,
        }
    }
    /// Returns the sigma of the level, m.
    pub fn level_sigma_m(self) -> f64 {
        self.hh_m2.max(0.0).sqrt()
    }
    /// Returns the 95 % figure of the level, m.
    pub fn level_u95_m(self) -> f64 {
        u95_from_sigma(self.level_sigma_m())
    }
    /// Returns the three axes of the ellipsoid of one sigma, the longest first.
    pub fn ellipsoid(self) -> [EllipsoidAxis; 3] {
        let eigen = SymmetricEigen::new(self.to_matrix());
        let mut axes = [0, 1, 2].map(|i| {
            let column = eigen.eigenvectors.column(i);
            let up = if column[2] < 0.0 { -1.0 } else { 1.0 };
            let (e, n, h) = (up * column[0], up * column[1], up * column[2]);
            EllipsoidAxis {
                semi_axis_sigma_m: eigen.eigenvalues[i].max(0.0).sqrt(),
                azimuth_rad: e.atan2(n).rem_euclid(2.0 * PI),
                elevation_rad: h.atan2(e.hypot(n)),
            }
        });
        axes.sort_by(|a, b| b.semi_axis_sigma_m.total_cmp(&a.semi_axis_sigma_m));
        axes
    }
}

/// One half-axis of an error ellipsoid of one sigma, taken upwards.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EllipsoidAxis {
    /// Its length.
    pub semi_axis_sigma_m: f64,
    /// Its direction in plan, clockwise from grid north.
    pub azimuth_rad: f64,
    /// Its direction above the horizontal.
    pub elevation_rad: f64,
}

/// Returns the 95 % half-width of one figure (a level, a distance) from its sigma.
pub fn u95_from_sigma(sigma_m: f64) -> f64 {
    FACTOR_95_1D * sigma_m
}

/// Returns the 95 % radial figure of a plan position from the sigma along its worst direction.
///
/// The circle it draws holds at least 95 %, and more the thinner the ellipse is.
pub fn radial95(semi_major_sigma_m: f64) -> f64 {
    FACTOR_95_2D * semi_major_sigma_m
}

/// Returns the sigma of the sum of independent errors: the root of the sum of squares.
pub fn quadrature(sigmas: &[f64]) -> f64 {
    sigmas.iter().fold(0.0, |sum: f64, sigma| sum.hypot(*sigma))
}

/// Returns the sigma of the sum of independent errors, unknown as soon as one of them is.
pub fn combine(sigmas: &[Option<f64>]) -> Option<f64> {
    let known: Option<Vec<f64>> = sigmas.iter().copied().collect();
    known.map(|sigmas| quadrature(&sigmas))
}

fn non_negative(value: f64) -> Result<(), CovarianceError> {
    if !value.is_finite() {
        Err(CovarianceError::NotFinite(value))
    } else if value < 0.0 {
        Err(CovarianceError::Negative(value))
    } else {
        Ok(())
    }
}

fn check_pair(first_m2: f64, covariance_m2: f64, second_m2: f64) -> Result<(), CovarianceError> {
    non_negative(first_m2)?;
    non_negative(second_m2)?;
    if !covariance_m2.is_finite() {
        return Err(CovarianceError::NotFinite(covariance_m2));
    }
    let limit_m2 = (first_m2 * second_m2).sqrt();
    // A part in a thousand million is left to rounding of figures that were printed.
    if covariance_m2.abs() > limit_m2 * (1.0 + 1e-9) {
        return Err(CovarianceError::NotPossible {
            covariance_m2,
            limit_m2,
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn an_unknown_part_makes_the_sum_unknown() {
        assert_eq!(combine(&[Some(0.003), None, Some(0.0)]), None);
        assert!((combine(&[Some(0.003), Some(0.004)]).unwrap() - 0.005).abs() < 1e-15);
    }

    #[test]
    fn impossible_covariances_are_refused() {
        assert!(PlanCovariance::new(-1e-6, 0.0, 1e-6).is_err());
        assert!(PlanCovariance::new(1e-6, 2e-6, 1e-6).is_err());
        assert!(PlanCovariance::new(f64::NAN, 0.0, 1e-6).is_err());
        assert!(PlanCovariance::circle(-0.002).is_err());
        assert!(PointCovariance::from_sigmas(0.002, f64::INFINITY).is_err());
        assert!(PlanCovariance::new(1e-6, -1e-6, 1e-6).is_ok());
    }

    proptest! {
        #[test]
        fn turning_a_covariance_turns_its_ellipse(
            major in 0.002f64..0.1, minor in 0.000_1f64..0.001, start in 0.0f64..3.1, turn in -3.0f64..3.0
        ) {
            // A long axis along east, turned so that it points at the azimuth `start`.
            let along_east = PlanCovariance::new(major * major, 0.0, minor * minor).unwrap();
            let first = along_east.turned(PI / 2.0 - start, 1.0);
            let second = first.turned(turn, 2.0).ellipse();
            let expected = (start - turn).rem_euclid(PI);
            let got = second.major_azimuth_rad.unwrap();
            let off = (got - expected + PI / 2.0).rem_euclid(PI) - PI / 2.0;
            prop_assert!(off.abs() < 1e-9, "{got} against {expected}");
            prop_assert!((second.semi_major_sigma_m - 2.0 * major).abs() < 1e-12);
            prop_assert!((second.semi_minor_sigma_m - 2.0 * minor).abs() < 1e-12);
        }
    }
}

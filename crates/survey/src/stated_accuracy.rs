//! What an instrument states of its own accuracy, brought to one sigma by what its figure means.
//!
//! A figure without its meaning is worth nothing: 20 mm may be one sigma, the radius that holds half of all
//! positions, or the one that holds 95 %. The factors are those of normal errors, equal on both plan axes:
//! square roots of chi-square quantiles with one degree of freedom (a level) or two (a plan radius); for two they
//! are `sqrt(-2 ln(1 - p))` in closed form.

use crate::uncertainty::{FACTOR_95_1D, FACTOR_95_2D};

/// The factor from one sigma to the half of all errors in one dimension: 0.6745.
pub const FACTOR_50_1D: f64 = 0.674_489_750_196_081_7;
/// The factor from one sigma on each axis to the radius that holds half of all plan errors: `sqrt(2 ln 2)`, 1.1774.
pub const FACTOR_50_2D: f64 = 1.177_410_022_515_474_6;

/// What a stated figure means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StatedMeans {
    /// One standard deviation: of a level, or on each plan axis.
    Sigma,
    /// 95 in 100 errors are smaller.
    P95,
    /// Half of all errors are smaller; in plan the circular error probable.
    P50,
}

/// Returns one sigma on each plan axis (m) of a stated radius.
pub fn plan_sigma_m(figure_m: f64, means: StatedMeans) -> f64 {
    match means {
        StatedMeans::Sigma => figure_m,
        StatedMeans::P95 => figure_m / FACTOR_95_2D,
        StatedMeans::P50 => figure_m / FACTOR_50_2D,
    }
}

/// Returns one sigma (m) of a stated figure along one line: a level, a depth, a distance across.
pub fn line_sigma_m(figure_m: f64, means: StatedMeans) -> f64 {
    match means {
        StatedMeans::Sigma => figure_m,
        StatedMeans::P95 => figure_m / FACTOR_95_1D,
        StatedMeans::P50 => figure_m / FACTOR_50_1D,
    }
}

/// Returns the figure (m) of an accuracy stated as a share of the depth and a constant, at a depth.
///
/// The two are added as they are: makers state a limit that grows with depth, not two errors apart.
pub fn accuracy_at_depth_m(percent: f64, constant_m: f64, depth_m: f64) -> f64 {
    percent / 100.0 * depth_m + constant_m
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{ChiSquared, ContinuousCDF};

    #[test]
    fn the_factors_are_the_quantiles_of_chi_square() {
        // Oracle: the chi-square distribution of another library.
        let root = |freedom: f64, p: f64| ChiSquared::new(freedom).unwrap().inverse_cdf(p).sqrt();
        assert!((FACTOR_50_1D - root(1.0, 0.5)).abs() < 1e-9);
        assert!((FACTOR_50_2D - root(2.0, 0.5)).abs() < 1e-9);
        assert!((FACTOR_95_1D - root(1.0, 0.95)).abs() < 1e-9);
        assert!((FACTOR_95_2D - root(2.0, 0.95)).abs() < 1e-9);
        // And in closed form.
        assert!((FACTOR_50_2D - (2.0 * 2f64.ln()).sqrt()).abs() < 1e-15);
    }

    #[test]
    fn one_figure_means_three_things() {
        // 20 mm: 20 as one sigma, 8.2 as a 95 % radius (20 / 2.4477), 17.0 as a circular error probable (20 / 1.1774).
        let mm = |means| plan_sigma_m(0.020, means) * 1000.0;
        assert!((mm(StatedMeans::Sigma) - 20.0).abs() < 1e-9);
        assert!((mm(StatedMeans::P95) - 8.171).abs() < 5e-4);
        assert!((mm(StatedMeans::P50) - 16.986).abs() < 5e-4);
        // A level: 40 mm at 95 % is 20.4 as one sigma (40 / 1.96).
        assert!((line_sigma_m(0.040, StatedMeans::P95) * 1000.0 - 20.409).abs() < 5e-4);
        assert!((line_sigma_m(0.040, StatedMeans::P50) * 1000.0 - 59.304).abs() < 5e-4);
    }

    #[test]
    fn a_share_of_the_depth_and_a_constant_are_added() {
        // By hand: 5 % of 1.200 m is 60 mm, and 25 mm more.
        assert!((accuracy_at_depth_m(5.0, 0.025, 1.2) - 0.085).abs() < 1e-12);
    }
}

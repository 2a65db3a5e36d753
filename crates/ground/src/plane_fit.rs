//! The plane that fits measured points best, with how far each point lies off it.

use crate::facet::Affine;
use crate::{Vec2, Vec3};

/// Points spread across their own line by less than this share of their spread along it fix no plane.
const THINNEST: f64 = 1e-3;

/// Points that fix no plane.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlaneFitError {
    /// Fewer than three points.
    #[error("a plane needs three points and {found} were given; shoot more of the surface")]
    TooFew {
        /// How many were given.
        found: usize,
    },
    /// The points lie in one line in plan.
    #[error(
        "the points lie in one line: {across_m:.3} m across it for {along_m:.3} m along it; add a point well off the line"
    )]
    InOneLine {
        /// Root-mean-square spread along the line, metres.
        along_m: f64,
        /// Root-mean-square spread across it, metres.
        across_m: f64,
    },
    /// A coordinate is not a finite number.
    #[error("point {point} is not a finite position; give its easting, northing and level in metres")]
    NotFinite {
        /// Point, counted from 1 in the order given.
        point: usize,
    },
}

/// A fitted plane and what it leaves over.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaneFit {
    /// The plane, anchored at the points' centroid.
    pub plane: Affine,
    /// For each point, its level less the plane's there, metres, in the order given.
    pub residuals_m: Vec<f64>,
    /// Standard deviation of one level about the plane, n - 3 degrees of freedom; `None` for three points, which check nothing.
    pub sigma_m: Option<f64>,
}

/// Fits a plane to points by least squares of their levels; three points give the plane through them.
///
/// Unknowns: level at the centroid and two gradients; eastings and northings are taken as free of error.
/// # Errors
/// [`PlaneFitError`] with fewer than three points, points in one line in plan, or a value that is not finite.
/// # Source
/// Linear least squares on centred coordinates, the textbook normal equations.
pub fn fit_plane(points: &[Vec3]) -> Result<PlaneFit, PlaneFitError> {
    if let Some(bad) = points.iter().position(|p| !p.iter().all(|c| c.is_finite())) {
        return Err(PlaneFitError::NotFinite { point: bad + 1 });
    }
    if points.len() < 3 {
        return Err(PlaneFitError::TooFew { found: points.len() });
    }
    let count = points.len() as f64;
    let centroid = points.iter().sum::<Vec3>() / count;
    let (mut ee, mut en, mut nn, mut ez, mut nz) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for d in points.iter().map(|p| p - centroid) {
        ee += d.x * d.x;
        en += d.x * d.y;
        nn += d.y * d.y;
        ez += d.x * d.z;
        nz += d.y * d.z;
    }
    let (half_sum, half_difference) = ((ee + nn) / 2.0, ((ee - nn) / 2.0).hypot(en));
    let largest = half_sum + half_difference;
    let determinant = ee * nn - en * en;
    // The smaller eigenvalue as determinant over larger: no cancellation when it is tiny.
    let smallest = if largest > 0.0 {
        (determinant / largest).max(0.0)
    } else {
        0.0
    };
    let (along_m, across_m) = ((largest / count).sqrt(), (smallest / count).sqrt());
    if across_m <= along_m * THINNEST {
        return Err(PlaneFitError::InOneLine { along_m, across_m });
    }
    let gradient = Vec2::new(
        (ez * nn - nz * en) / determinant,
        (nz * ee - ez * en) / determinant,
    );
    let plane = Affine {
        anchor: centroid,
        gradient,
    };
    let residuals_m: Vec<f64> = points.iter().map(|p| p.z - plane.at(p.xy())).collect();
    let sigma_m =
        (points.len() > 3).then(|| (residuals_m.iter().map(|r| r * r).sum::<f64>() / (count - 3.0)).sqrt());
    Ok(PlaneFit {
        plane,
        residuals_m,
        sigma_m,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_points_give_the_plane_through_them_and_check_nothing() {
        // Closed form, surface triangle of a 1 in 20 by 1 in 40 plane.
        let fit = fit_plane(&[
            Vec3::new(0.0, 0.0, 100.0),
            Vec3::new(20.0, 0.0, 101.0),
            Vec3::new(0.0, 20.0, 100.5),
        ])
        .unwrap();
        assert!((fit.plane.at(Vec2::new(5.0, 4.0)) - 100.35).abs() < 1e-12);
        assert_eq!(fit.sigma_m, None);
        assert!(fit.residuals_m.iter().all(|r| r.abs() < 1e-12));
    }

    #[test]
    fn a_twisted_square_leaves_its_twist_as_residuals() {
        // Closed form: corners of a square at levels +d, -d, +d, -d fit the level plane 0; residuals are the levels.
        let corners = [(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)];
        let twist = [0.01, -0.01, 0.01, -0.01];
        let points: Vec<Vec3> = corners
            .iter()
            .zip(twist)
            .map(|(&(e, n), z)| Vec3::new(e + 9_000.0, n - 7_000.0, z))
            .collect();
        let fit = fit_plane(&points).unwrap();
        assert!(fit.plane.gradient.norm() < 1e-12);
        for (residual, level) in fit.residuals_m.iter().zip(twist) {
            assert!((residual - level).abs() < 1e-12);
        }
        assert!((fit.sigma_m.unwrap() - 0.02).abs() < 1e-12);
    }

    #[test]
    fn points_in_one_line_are_refused_with_their_spread() {
        let points: Vec<Vec3> = (0..9)
            .map(|i| Vec3::new(f64::from(i), 2.0 * f64::from(i), 1.0))
            .collect();
        assert!(matches!(fit_plane(&points), Err(PlaneFitError::InOneLine { .. })));
        assert_eq!(fit_plane(&points[..2]), Err(PlaneFitError::TooFew { found: 2 }));
    }
}

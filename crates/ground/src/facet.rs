//! Plan boxes, affine levels and convex facets: the pieces a surface is made of.

use crate::{Vec2, Vec3};

/// An upright box in plan, edges along easting and northing, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanBox {
    /// The south-west corner.
    pub min: Vec2,
    /// The north-east corner.
    pub max: Vec2,
}

impl PlanBox {
    /// Returns the smallest box round some plan points, `None` when there are none.
    pub fn around(points: impl IntoIterator<Item = Vec2>) -> Option<PlanBox> {
        let mut points = points.into_iter();
        let first = points.next()?;
        let start = PlanBox {
            min: first,
            max: first,
        };
        Some(points.fold(start, |grown, p| PlanBox {
            min: grown.min.inf(&p),
            max: grown.max.sup(&p),
        }))
    }

    /// Returns this box moved out by `margin_m` on every side.
    pub fn grown(&self, margin_m: f64) -> PlanBox {
        let margin = Vec2::new(margin_m, margin_m);
        PlanBox {
            min: self.min - margin,
            max: self.max + margin,
        }
    }

    /// Tells whether two boxes share a point; touching counts.
    pub fn meets(&self, other: &PlanBox) -> bool {
        self.min.x <= other.max.x
            && other.min.x <= self.max.x
            && self.min.y <= other.max.y
            && other.min.y <= self.max.y
    }

    /// Returns the four corners, counter-clockwise from the south-west.
    pub fn corners(&self) -> [Vec2; 4] {
        [
            self.min,
            Vec2::new(self.max.x, self.min.y),
            self.max,
            Vec2::new(self.min.x, self.max.y),
        ]
    }
}

/// A level that changes evenly with easting and northing.
///
/// `level = anchor.z + gradient . (p - anchor_xy)`; the anchor is a point near by, so that a steep piece far
/// from the origin keeps its digits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Affine {
    /// A point on the plane.
    pub anchor: Vec3,
    /// Rise per metre east and per metre north.
    pub gradient: Vec2,
}

impl Affine {
    /// Returns the plane that is level everywhere.
    pub fn level(level_m: f64) -> Affine {
        Affine {
            anchor: Vec3::new(0.0, 0.0, level_m),
            gradient: Vec2::zeros(),
        }
    }

    /// Returns the plane through three points, `None` when they lie in one line in plan.
    pub fn through(a: Vec3, b: Vec3, c: Vec3) -> Option<Affine> {
        let (u, v) = (b - a, c - a);
        let twice_area = u.x * v.y - u.y * v.x;
        let gradient = Vec2::new(
            (u.z * v.y - v.z * u.y) / twice_area,
            (v.z * u.x - u.z * v.x) / twice_area,
        );
        (gradient.x.is_finite() && gradient.y.is_finite()).then_some(Affine { anchor: a, gradient })
    }

    /// Returns the level at a plan position, metres.
    pub fn at(&self, p: Vec2) -> f64 {
        self.anchor.z + self.gradient.dot(&(p - self.anchor.xy()))
    }

    /// Returns this plane moved up by `rise_m` (down when negative).
    pub fn raised(&self, rise_m: f64) -> Affine {
        Affine {
            anchor: self.anchor + Vec3::new(0.0, 0.0, rise_m),
            gradient: self.gradient,
        }
    }

    /// Returns `sqrt(1 + |g|^2)`: how much longer a metre along the normal is when measured plumb.
    pub fn plumb_factor(&self) -> f64 {
        self.gradient.norm_squared().sqrt().hypot(1.0)
    }
}

/// One convex piece of a surface, affine over its plan polygon.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facet<'a> {
    /// The plan polygon, convex, counter-clockwise, at least three corners.
    pub corners: &'a [Vec2],
    /// The level over it.
    pub plane: Affine,
}

impl Facet<'_> {
    /// Tells whether a plan position lies in the facet or within `slack_m` of it.
    pub fn holds(&self, p: Vec2, slack_m: f64) -> bool {
        edges(self.corners).all(|(a, b)| {
            // Evaluated from the same end whichever facet asks, so that two facets that share an edge never
            // both lose a point on it.
            let (sign, a, b) = if (a.x, a.y) <= (b.x, b.y) {
                (1.0, a, b)
            } else {
                (-1.0, b, a)
            };
            let along = b - a;
            sign * along.perp(&(p - a)) >= -slack_m * along.norm()
        })
    }
}

/// Returns the edges of a closed plan ring in order.
pub fn edges(ring: &[Vec2]) -> impl Iterator<Item = (Vec2, Vec2)> + '_ {
    (0..ring.len()).map(|i| (ring[i], ring[(i + 1) % ring.len()]))
}

/// Returns twice the signed area of a plan ring, positive when it runs counter-clockwise, square metres.
pub fn twice_signed_area(ring: &[Vec2]) -> f64 {
    let Some(&first) = ring.first() else {
        return 0.0;
    };
    edges(ring).map(|(a, b)| (a - first).perp(&(b - first))).sum()
}

/// Clips a convex plan polygon to the side of a line where `inward . (p - at) >= 0`.
///
/// The result is empty when nothing, or no more than an edge, is left.
pub fn clip_to_side(corners: &[Vec2], at: Vec2, inward: Vec2) -> Vec<Vec2> {
    let mut kept = Vec::with_capacity(corners.len() + 1);
    for (a, b) in edges(corners) {
        let (from, to) = (inward.dot(&(a - at)), inward.dot(&(b - at)));
        if from >= 0.0 {
            kept.push(a);
        }
        if (from > 0.0 && to < 0.0) || (from < 0.0 && to > 0.0) {
            kept.push(a + (b - a) * (from / (from - to)));
        }
    }
    if kept.len() < 3 || twice_signed_area(&kept) <= 0.0 {
        kept.clear();
    }
    kept
}

/// Clips one convex plan polygon by another; both counter-clockwise. Empty when they share no area.
pub fn clip_convex(subject: &[Vec2], clip: &[Vec2]) -> Vec<Vec2> {
    let mut left = subject.to_vec();
    for (a, b) in edges(clip) {
        let along = b - a;
        left = clip_to_side(&left, a, Vec2::new(-along.y, along.x));
        if left.is_empty() {
            break;
        }
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plane_through_three_points_returns_their_levels() {
        // Closed form: the plane z = 3 + 0.1 e - 0.2 n, far from the origin.
        let point = |e: f64, n: f64| Vec3::new(e, n, 3.0 + 0.1 * e - 0.2 * n);
        let plane = Affine::through(
            point(9_000.0, 8_000.0),
            point(9_010.0, 8_001.0),
            point(9_003.0, 8_020.0),
        )
        .unwrap();
        assert!((plane.gradient - Vec2::new(0.1, -0.2)).norm() < 1e-12);
        assert!((plane.at(Vec2::new(9_004.0, 8_004.0)) - point(9_004.0, 8_004.0).z).abs() < 1e-10);
    }

    #[test]
    fn points_in_one_line_have_no_plane() {
        let p = |t: f64| Vec3::new(t, 2.0 * t, t * t);
        assert!(Affine::through(p(0.0), p(1.0), p(2.0)).is_none());
    }

    #[test]
    fn two_crossing_squares_share_an_octagon() {
        // Closed form: a square of side 2 and the same turned by 45 degrees share 8 (sqrt 2 - 1).
        let square = PlanBox {
            min: Vec2::new(-1.0, -1.0),
            max: Vec2::new(1.0, 1.0),
        }
        .corners();
        let half = 2f64.sqrt();
        let turned = [
            Vec2::new(half, 0.0),
            Vec2::new(0.0, half),
            Vec2::new(-half, 0.0),
            Vec2::new(0.0, -half),
        ];
        let shared = clip_convex(&square, &turned);
        assert_eq!(shared.len(), 8);
        assert!((twice_signed_area(&shared) / 2.0 - 8.0 * (half - 1.0)).abs() < 1e-12);
    }
}

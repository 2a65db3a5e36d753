//! Convex solids: pieces of an excavation, open upward, and legs of a tube, each by its support.
//!
//! The support of a solid in a direction is its farthest point that way. A ball about the whole solid is kept
//! apart as `ball_m`: distances are taken between the cores and the balls subtracted, which is exact.

use crate::facet::PlanBox;
use crate::{Vec2, Vec3};

/// One convex piece of an excavation: what lies above an affine floor over a convex plan polygon.
///
/// In the project's words it is `C_k + K`, with `C_k` grown in plan by a disc. Everything above counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Pit {
    /// The corners of the plan polygon, each at its floor level; one or two corners make a disc or a slot.
    pub corners: Vec<Vec3>,
    /// Radius of a disc about every corner that lies in the floor's own plane, metres.
    pub disc_m: f64,
    /// Rise of the floor per metre east and north; read for the disc only.
    pub gradient: Vec2,
    /// How far the piece is moved out in plan on every side, metres.
    pub out_m: f64,
    /// Batter: metres out for each metre up.
    pub batter: f64,
    /// Height above the floor up to which the batter runs; plumb above. Metres.
    pub batter_height_m: f64,
    /// Whether the floor is known. If not, there is no bottom, and the levels of the corners mean nothing.
    pub floor_known: bool,
}

/// The convex hull of two bodies at the ends of a leg; the core of one, its ball kept apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    /// The axis at both ends.
    pub ends: [Vec3; 2],
    /// Growth in plan at both ends, metres.
    pub out_m: [f64; 2],
    /// Growth in level at both ends, either way, metres.
    pub up_m: [f64; 2],
    /// Radius of the ball about the whole, metres.
    pub ball_m: f64,
    /// A box about the axis instead of a ball: half its width and half its height, as vectors.
    pub half: Option<[Vec3; 2]>,
}

/// A solid of an excavation.
#[derive(Debug, Clone, PartialEq)]
pub enum Solid {
    /// Open upward.
    Pit(Pit),
    /// Bounded: a leg of a bore.
    Leg(Body),
}

impl Pit {
    /// Returns how far the top of the piece stands out in plan from its corners, metres.
    pub fn reach_m(&self) -> f64 {
        self.disc_m + self.out_m + self.batter * self.batter_height_m
    }

    /// Returns the lowest level of the floor, metres; minus infinity where the floor is not known.
    pub fn lowest_m(&self) -> f64 {
        if !self.floor_known {
            return f64::NEG_INFINITY;
        }
        let lowest = self.corners.iter().fold(f64::INFINITY, |low, p| low.min(p.z));
        lowest - self.disc_m * self.gradient.norm()
    }

    /// Tells whether a plan position lies within the floor's own polygon, where that is level all over.
    pub(crate) fn level_floor_holds(&self, p: Vec2) -> bool {
        let count = self.corners.len();
        count > 2
            && self.corners.iter().all(|corner| corner.z == self.corners[0].z)
            && (0..count).all(|i| {
                let (a, b) = (self.corners[i].xy(), self.corners[(i + 1) % count].xy());
                (b - a).perp(&(p - a)) >= 0.0
            })
    }

    /// Returns the box round the plan of the piece at its top.
    pub fn plan_box(&self) -> PlanBox {
        let around = PlanBox::around(self.corners.iter().map(|p| p.xy()));
        around.map_or(
            PlanBox {
                min: Vec2::zeros(),
                max: Vec2::zeros(),
            },
            |b| b.grown(self.reach_m()),
        )
    }

    /// Returns the farthest point in a direction, of the piece cut off level `rise_m` above its batter.
    ///
    /// For directions that do not point up the cut changes nothing.
    pub(crate) fn support(&self, d: Vec3, rise_m: f64) -> Vec3 {
        let mut point = self.corners[0];
        let mut best = point.dot(&d);
        for p in &self.corners[1..] {
            let along = p.dot(&d);
            if along > best {
                best = along;
                point = *p;
            }
        }
        if self.disc_m > 0.0 {
            let n = Vec2::new(d.x + d.z * self.gradient.x, d.y + d.z * self.gradient.y);
            let out = scaled_to(n, self.disc_m);
            point += Vec3::new(out.x, out.y, out.dot(&self.gradient));
        }
        let flat = (d.x * d.x + d.y * d.y).sqrt();
        if self.out_m > 0.0 && flat > 0.0 {
            point.x += d.x / flat * self.out_m;
            point.y += d.y / flat * self.out_m;
        }
        if self.batter_height_m > 0.0 && self.batter * flat + d.z > 0.0 {
            if flat > 0.0 {
                point.x += d.x / flat * self.batter * self.batter_height_m;
                point.y += d.y / flat * self.batter * self.batter_height_m;
            }
            point.z += self.batter_height_m;
        }
        if d.z > 0.0 {
            point.z += rise_m;
        }
        point
    }
}

impl Body {
    /// Returns the farthest point of the core in a direction, and the end it belongs to.
    pub(crate) fn support(&self, d: Vec3) -> (Vec3, usize) {
        let flat = (d.x * d.x + d.y * d.y).sqrt();
        let far = |i: usize| self.ends[i].dot(&d) + self.out_m[i] * flat + self.up_m[i] * d.z.abs();
        let end = usize::from(far(1) > far(0));
        let mut point = self.ends[end];
        if flat > 0.0 {
            point.x += d.x / flat * self.out_m[end];
            point.y += d.y / flat * self.out_m[end];
        }
        if d.z != 0.0 {
            point.z += self.up_m[end].copysign(d.z);
        }
        if let Some(half) = &self.half {
            for side in half {
                let along = side.dot(&d);
                if along > 0.0 {
                    point += side;
                } else if along < 0.0 {
                    point -= side;
                }
            }
        }
        (point, end)
    }

    /// Returns how far the body stands out from its axis in plan, at most, metres.
    pub fn reach_m(&self) -> f64 {
        let side = self
            .half
            .map_or(0.0, |half| half[0].xy().norm() + half[1].xy().norm());
        self.out_m[0].max(self.out_m[1]) + self.ball_m + side
    }

    /// Returns the lowest and the highest level of the body, metres.
    pub fn levels_m(&self) -> (f64, f64) {
        let side = self.half.map_or(0.0, |half| half[0].z.abs() + half[1].z.abs());
        let out = |i: usize| self.up_m[i] + self.ball_m + side;
        let [a, b] = &self.ends;
        ((a.z - out(0)).min(b.z - out(1)), (a.z + out(0)).max(b.z + out(1)))
    }

    /// Returns the box round the plan of the body.
    pub fn plan_box(&self) -> PlanBox {
        let [a, b] = &self.ends;
        PlanBox {
            min: a.xy().inf(&b.xy()),
            max: a.xy().sup(&b.xy()),
        }
        .grown(self.reach_m())
    }
}

impl Solid {
    /// Returns the box round the plan of the solid at its top.
    pub fn plan_box(&self) -> PlanBox {
        match self {
            Solid::Pit(pit) => pit.plan_box(),
            Solid::Leg(leg) => leg.plan_box(),
        }
    }

    /// Returns the lowest level, metres; minus infinity where the floor is not known.
    pub fn lowest_m(&self) -> f64 {
        match self {
            Solid::Pit(pit) => pit.lowest_m(),
            Solid::Leg(leg) => leg.levels_m().0,
        }
    }

    /// Tells whether the floor is known; a bore's always is.
    pub fn floor_known(&self) -> bool {
        !matches!(
            self,
            Solid::Pit(Pit {
                floor_known: false,
                ..
            })
        )
    }

    /// Returns the radius of the ball that its core lacks, metres.
    pub(crate) fn ball_m(&self) -> f64 {
        match self {
            Solid::Pit(_) => 0.0,
            Solid::Leg(leg) => leg.ball_m,
        }
    }

    /// Returns the farthest point of the core in a direction.
    pub(crate) fn support(&self, d: Vec3, rise_m: f64) -> Vec3 {
        match self {
            Solid::Pit(pit) => pit.support(d, rise_m),
            Solid::Leg(leg) => leg.support(d).0,
        }
    }
}

fn scaled_to(v: Vec2, length: f64) -> Vec2 {
    let norm = v.norm();
    if norm > 0.0 {
        v * (length / norm)
    } else {
        Vec2::zeros()
    }
}

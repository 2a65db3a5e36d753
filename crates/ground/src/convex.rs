//! The distance between two convex solids, as a proven lower and an attained upper bound.
//!
//! The two are apart by the distance from the origin to their Minkowski difference `M = solid - leg`. Every point
//! of `M` gives an upper bound; every direction `d` gives the lower bound `min over y in M of y . d / |d|`, read
//! off the supports. The nearest point is found by the iteration of Gilbert, Johnson and Keerthi, "A fast
//! procedure for computing the distance between complex objects in three-dimensional space", IEEE Journal of
//! Robotics and Automation 4(2), 1988 (from memory): a simplex of at most four points of `M`, reduced to the
//! face nearest the origin, then joined by the support against that face.

use crate::Vec3;
use crate::simplex::{Atom, Simplex};
use crate::solid::{Body, Pit, Solid};

/// The bounds agree in plan when they differ by less than this, metres.
const AGREED_IN_PLAN_M: f64 = 1e-8;
/// The bounds agree in space when they differ by less than this, metres: a hundredth of what is promised.
const AGREED_IN_SPACE_M: f64 = 1e-6;
/// Far more steps than any case has been seen to need.
const MOST_STEPS: usize = 200;

/// How far two cores are apart.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Apart {
    /// A proven lower bound, metres.
    pub(crate) lower_m: f64,
    /// An attained upper bound, metres.
    pub(crate) upper_m: f64,
    /// The point on the leg's core.
    pub(crate) on_leg: Vec3,
    /// The point on the solid's core.
    pub(crate) on_solid: Vec3,
    /// Where on the leg, from 0 to 1.
    pub(crate) along: f64,
}

/// When to stop before the bounds agree.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stop {
    /// Stop once the cores are known to be this near: they touch. Metres.
    pub(crate) touching_m: f64,
    /// Stop once the cores are known to be this far apart. Metres.
    pub(crate) beyond_m: f64,
}

/// Measures the cores of a leg and a solid in space; the solid's floor must be known.
pub(crate) fn apart_in_space(leg: &Body, solid: &Solid, stop: Stop) -> Apart {
    apart_in_space_from(start(leg, solid), leg, solid, stop)
}

/// The same, from a first guess of the way from leg to solid: a good one saves most of the steps.
pub(crate) fn apart_in_space_from(guess: Vec3, leg: &Body, solid: &Solid, stop: Stop) -> Apart {
    // An open solid is cut off level above everything of the leg, which changes no distance.
    let rise_m = match solid {
        Solid::Pit(pit) => (leg.levels_m().1 - pit.lowest_m()).max(0.0) + 1.0,
        Solid::Leg(_) => 0.0,
    };
    nearest(guess, AGREED_IN_SPACE_M, stop, |d| {
        let on_solid = solid.support(d, rise_m);
        let (on_leg, end) = leg.support(-d);
        Atom {
            y: on_solid - on_leg,
            on_solid,
            on_leg,
            along: end as f64,
        }
    })
}

/// Measures the cores of a leg and a solid in plan, without the discs that each has all round.
///
/// The levels of the points found are the axis's and the floor's there. Subtract [`disc_of_leg_m`] and
/// [`disc_of_solid_m`].
pub(crate) fn apart_in_plan(leg: &Body, solid: &Solid, stop: Stop) -> Apart {
    let common = leg.out_m[0].min(leg.out_m[1]);
    let bare = Body {
        out_m: [leg.out_m[0] - common, leg.out_m[1] - common],
        up_m: [0.0; 2],
        ..*leg
    };
    let first = start(leg, solid);
    nearest(Vec3::new(first.x, first.y, 0.0), AGREED_IN_PLAN_M, stop, |d| {
        let on_solid = bare_plan_support(solid, d);
        let (on_leg, end) = bare.support(-d);
        let mut y = on_solid - on_leg;
        y.z = 0.0;
        Atom {
            y,
            on_solid,
            on_leg,
            along: end as f64,
        }
    })
}

/// Returns the disc that a leg has all along in plan, metres.
pub(crate) fn disc_of_leg_m(leg: &Body) -> f64 {
    leg.out_m[0].min(leg.out_m[1]) + leg.ball_m
}

/// Returns the disc that a solid has all round in plan at its top, metres.
pub(crate) fn disc_of_solid_m(solid: &Solid) -> f64 {
    match solid {
        Solid::Pit(pit) => pit.reach_m(),
        Solid::Leg(leg) => disc_of_leg_m(leg),
    }
}

fn bare_plan_support(solid: &Solid, d: Vec3) -> Vec3 {
    match solid {
        Solid::Pit(Pit { corners, .. }) => {
            let mut point = corners[0];
            let mut best = point.x * d.x + point.y * d.y;
            for p in &corners[1..] {
                let along = p.x * d.x + p.y * d.y;
                if along > best {
                    best = along;
                    point = *p;
                }
            }
            point
        }
        Solid::Leg(leg) => {
            let common = leg.out_m[0].min(leg.out_m[1]);
            let bare = Body {
                out_m: [leg.out_m[0] - common, leg.out_m[1] - common],
                up_m: [0.0; 2],
                ..*leg
            };
            bare.support(d).0
        }
    }
}

/// A first direction: from the middle of the leg to a corner of the solid.
fn start(leg: &Body, solid: &Solid) -> Vec3 {
    let middle = (leg.ends[0] + leg.ends[1]) / 2.0;
    match solid {
        Solid::Pit(pit) => pit.corners[0] - middle,
        Solid::Leg(other) => (other.ends[0] + other.ends[1]) / 2.0 - middle,
    }
}

fn nearest(first: Vec3, agreed_m: f64, stop: Stop, support: impl Fn(Vec3) -> Atom) -> Apart {
    let mut simplex = Simplex::of(support(-first));
    let mut lower_m: f64 = 0.0;
    let mut seen = simplex.nearest();
    let mut fresh = true;
    for _ in 0..MOST_STEPS {
        let upper_m = seen.norm();
        if upper_m <= stop.touching_m.max(1e-12) || upper_m - lower_m <= agreed_m || lower_m >= stop.beyond_m
        {
            break;
        }
        let atom = support(-seen);
        lower_m = lower_m.max(atom.y.dot(&seen) / upper_m);
        if upper_m - lower_m <= agreed_m {
            break;
        }
        let mut trial = simplex;
        let found = trial.join(atom);
        if found.norm() < upper_m {
            simplex = trial;
            seen = found;
            fresh = false;
        } else if !fresh {
            // A flat simplex and rounding can stop the descent: go on from the nearest point alone, which is a
            // point of the difference like any other.
            simplex.collapse();
            fresh = true;
        } else {
            break;
        }
    }
    let (on_solid, on_leg, along) = simplex.points();
    Apart {
        lower_m: lower_m.min(seen.norm()),
        upper_m: seen.norm(),
        on_leg,
        on_solid,
        along,
    }
}

//! The least height of an excavation's floor above a tube's top, where the two lie over one another in plan.
//!
//! With `M = solid - leg` the height is that of the lowest point of `M` plumb over the origin. Every `q` in the
//! plan gives the proven lower bound `min over y in M of y_z - q . y_xy`; every triangle of points of `M` round the
//! origin gives an upper bound. The triangle is pivoted as in the simplex method of linear programming: the
//! support against its plane comes in, the corner that keeps the origin inside goes out.

use crate::simplex::Atom;
use crate::solid::{Body, Solid};
use crate::{Vec2, Vec3};

/// The bounds agree when they differ by less than this, metres.
const AGREED_M: f64 = 1e-6;
const MOST_STEPS: usize = 300;
/// The solid is taken this much larger in plan, so that two that only touch still share a triangle. Metres.
const SKIN_M: f64 = 1e-9;

/// The height found.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Plumb {
    /// A proven lower bound, metres; the exact height is less than 0.1 mm above it.
    pub(crate) lower_m: f64,
    /// An attained upper bound, metres.
    pub(crate) upper_m: f64,
    /// The point on the tube.
    pub(crate) on_leg: Vec3,
    /// The point of the floor over or under it.
    pub(crate) on_solid: Vec3,
    /// Where on the leg, from 0 to 1.
    pub(crate) along: f64,
}

/// Measures the height of the floor above the leg's top; `None` when they are apart in plan.
///
/// Stops early, with `lower_m` at least `beyond_m`, once the height is known to be that great.
pub(crate) fn plumb_height(leg: &Body, solid: &Solid, beyond_m: f64) -> Option<Plumb> {
    let support = |d: Vec3| {
        let mut on_solid = solid.support(d, 0.0);
        let (mut on_leg, end) = leg.support(-d);
        let norm = d.norm();
        on_solid += d * (solid.ball_m() / norm);
        on_leg -= d * (leg.ball_m / norm);
        let flat = (d.x * d.x + d.y * d.y).sqrt();
        if flat > 0.0 {
            on_solid.x += d.x / flat * SKIN_M;
            on_solid.y += d.y / flat * SKIN_M;
        }
        Atom {
            y: on_solid - on_leg,
            on_solid,
            on_leg,
            along: end as f64,
        }
    };
    let mut corners = enclose(&support)?;
    let lowest = support(Vec3::new(0.0, 0.0, -1.0));
    let mut best = Plumb {
        lower_m: lowest.y.z,
        upper_m: f64::INFINITY,
        on_leg: lowest.on_leg,
        on_solid: lowest.on_solid,
        along: lowest.along,
    };
    for _ in 0..MOST_STEPS {
        let Some((weights, q)) = plane(&corners) else {
            break;
        };
        let upper_m = (0..3).map(|i| corners[i].y.z * weights[i]).sum::<f64>();
        let atom = support(Vec3::new(q.x, q.y, -1.0));
        let lower_m = atom.y.z - q.dot(&atom.y.xy());
        let mut now = Plumb {
            lower_m,
            upper_m,
            on_leg: Vec3::zeros(),
            on_solid: Vec3::zeros(),
            along: 0.0,
        };
        for i in 0..3 {
            now.on_leg += corners[i].on_leg * weights[i];
            now.on_solid += corners[i].on_solid * weights[i];
            now.along += corners[i].along * weights[i];
        }
        // Both bounds hold for good, whichever step found them.
        now.lower_m = now.lower_m.max(best.lower_m);
        if best.upper_m < now.upper_m {
            now = Plumb {
                lower_m: now.lower_m,
                ..best
            };
        }
        best = now;
        if now.upper_m - now.lower_m <= AGREED_M || now.lower_m >= beyond_m {
            break;
        }
        pivot(&mut corners, &weights, atom);
    }
    Some(best)
}

/// Returns the weights of the origin in the triangle, and the slope of the plane through its corners.
fn plane(corners: &[Atom; 3]) -> Option<([f64; 3], Vec2)> {
    let [a, b, c] = corners.map(|atom| atom.y);
    let area = (b - a).xy().perp(&(c - a).xy());
    if area == 0.0 {
        return None;
    }
    let weights = [
        b.xy().perp(&c.xy()) / area,
        c.xy().perp(&a.xy()) / area,
        a.xy().perp(&b.xy()) / area,
    ];
    let (u, v) = (b - a, c - a);
    let q = Vec2::new((u.z * v.y - v.z * u.y) / area, (v.z * u.x - u.z * v.x) / area);
    Some((weights.map(|w| w.max(0.0)), q))
}

/// Puts an atom into the triangle in place of the corner that keeps the origin inside.
fn pivot(corners: &mut [Atom; 3], weights: &[f64; 3], atom: Atom) {
    let [a, b, c] = corners.map(|corner| corner.y.xy());
    let p = atom.y.xy();
    let area = (b - a).perp(&(c - a));
    let share = [
        (b - p).perp(&(c - p)) / area,
        (c - p).perp(&(a - p)) / area,
        (a - p).perp(&(b - p)) / area,
    ];
    let mut out = None;
    let mut least = f64::INFINITY;
    for i in 0..3 {
        if share[i] > 0.0 {
            let ratio = weights[i] / share[i];
            // Of equal ratios the larger share keeps the triangle fatter.
            if ratio < least || (ratio == least && out.is_some_and(|o: usize| share[i] > share[o])) {
                least = ratio;
                out = Some(i);
            }
        }
    }
    if let Some(out) = out {
        corners[out] = atom;
    }
}

/// Finds three points of the difference round the origin in plan; `None` when a direction parts it from them.
fn enclose(support: &impl Fn(Vec3) -> Atom) -> Option<[Atom; 3]> {
    let toward = |n: Vec2| support(Vec3::new(n.x, n.y, 0.0));
    let parted = |n: Vec2, atom: &Atom| n.dot(&atom.y.xy()) < 0.0;
    let mut n = Vec2::new(1.0, 0.0);
    let mut a = toward(n);
    if parted(n, &a) {
        return None;
    }
    n = unit(-a.y.xy()).unwrap_or(-n);
    let mut b = toward(n);
    if parted(n, &b) {
        return None;
    }
    // From the side of a, b on which the origin lies; on the line either side will do.
    let along = b.y.xy() - a.y.xy();
    n = unit(Vec2::new(-along.y, along.x))?;
    if n.dot(&a.y.xy()) > 0.0 {
        n = -n;
    }
    for _ in 0..MOST_STEPS {
        let c = toward(n);
        if parted(n, &c) {
            return None;
        }
        // Is the origin outside a, c or outside b, c?
        let outer = |p: &Atom, other: &Atom| {
            let side = c.y.xy() - p.y.xy();
            let mut out = Vec2::new(-side.y, side.x);
            if out.dot(&(other.y.xy() - p.y.xy())) > 0.0 {
                out = -out;
            }
            (out.dot(&p.y.xy()) < 0.0).then_some(out)
        };
        if let Some(out) = outer(&a, &b) {
            b = c;
            n = unit(out)?;
        } else if let Some(out) = outer(&b, &a) {
            a = c;
            n = unit(out)?;
        } else {
            return Some([a, b, c]);
        }
    }
    None
}

fn unit(v: Vec2) -> Option<Vec2> {
    let norm = v.norm();
    (norm > 0.0).then(|| v / norm)
}

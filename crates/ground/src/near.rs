//! Which part of a leg lies near an excavation in plan, and which part reaches into it.

use crate::convex::{Stop, apart_in_plan, apart_in_space, disc_of_leg_m, disc_of_solid_m};
use crate::facet::edges;
use crate::solid::{Body, Solid};
use crate::{Vec2, Vec3};

/// Returns the part of a leg whose plan is within `near_m` of the plan of a solid at its top.
///
/// From 0 to 1 along the leg; `None` when no part is. Exact for a round leg; the box of a bank counts by the
/// disc about it. The distance less the linear growth is convex along the leg, so the part is one stretch: the
/// least and the greatest of the stretches that each edge, each corner and the inside give in closed form.
pub(crate) fn near_part(leg: &Body, solid: &Solid, near_m: f64) -> Option<(f64, f64)> {
    let side = leg.half.map_or(0.0, |half| half[0].norm().hypot(half[1].norm()));
    let reach = disc_of_solid_m(solid) + leg.ball_m + side + near_m;
    let (r0, slope) = (reach + leg.out_m[0], leg.out_m[1] - leg.out_m[0]);
    let a = leg.ends[0].xy();
    let u = leg.ends[1].xy() - a;
    let corners: Vec<Vec2> = match solid {
        Solid::Pit(pit) => pit.corners.iter().map(|p| p.xy()).collect(),
        Solid::Leg(other) => other.ends.iter().map(|p| p.xy()).collect(),
    };
    let mut part = Part { found: None };
    for &p in &corners {
        part.add_disc(a - p, u, r0, slope);
    }
    if corners.len() > 1 {
        for (p, q) in edges(&corners) {
            let Some(way) = (q - p).try_normalize(0.0) else {
                continue;
            };
            let left = Vec2::new(-way.y, way.x);
            let (off, drift) = (left.dot(&(a - p)), left.dot(&u));
            let (on, run) = (way.dot(&(a - p)), way.dot(&u));
            part.add_where(&[
                (r0 - off, slope - drift),
                (r0 + off, slope + drift),
                (on, run),
                ((q - p).norm() - on, -run),
            ]);
        }
    }
    if corners.len() > 2 {
        let inside: Vec<_> = edges(&corners)
            .map(|(p, q)| ((q - p).perp(&(a - p)), (q - p).perp(&u)))
            .collect();
        part.add_where(&inside);
    }
    part.found
}

struct Part {
    found: Option<(f64, f64)>,
}

impl Part {
    fn add(&mut self, from: f64, to: f64) {
        let (from, to) = (from.max(0.0), to.min(1.0));
        if from <= to {
            self.found = Some(self.found.map_or((from, to), |(f, t)| (f.min(from), t.max(to))));
        }
    }

    /// Adds where every `c + m t` is not negative.
    fn add_where(&mut self, conditions: &[(f64, f64)]) {
        let (mut from, mut to) = (0.0_f64, 1.0_f64);
        for &(c, m) in conditions {
            if m > 0.0 {
                from = from.max(-c / m);
            } else if m < 0.0 {
                to = to.min(-c / m);
            } else if c < 0.0 {
                return;
            }
        }
        self.add(from, to);
    }

    /// Adds where `|d + u t| <= r0 + slope t`; the right side is not negative on the leg.
    fn add_disc(&mut self, d: Vec2, u: Vec2, r0: f64, slope: f64) {
        let (qa, qb, qc) = (
            u.norm_squared() - slope * slope,
            d.dot(&u) - r0 * slope,
            d.norm_squared() - r0 * r0,
        );
        if qc <= 0.0 {
            self.add(0.0, 0.0);
        }
        if (d + u).norm() <= r0 + slope {
            self.add(1.0, 1.0);
        }
        let root = qb * qb - qa * qc;
        if root < 0.0 {
            return;
        }
        let root = root.sqrt();
        // The roots of qa t^2 + 2 qb t + qc, without cancellation.
        let far = -(qb + root.copysign(qb));
        for t in [far / qa, qc / far] {
            if (0.0..=1.0).contains(&t) {
                self.add(t, t);
            }
        }
    }
}

/// Returns the part of a leg, from 0 to 1, from whose axis the leg reaches into a solid: the slice there meets it.
///
/// The distance of the slice is convex along the leg, so Newton's steps from an end run up to the first contact and
/// never past it: the part is never too short.
pub(crate) fn overlapping_part(leg: &Body, solid: &Solid) -> Option<(f64, f64)> {
    if lies_beside(leg, solid) {
        return near_part(leg, solid, 0.0);
    }
    let from = first_contact(leg, solid, 0.0, 1.0)?;
    let to = first_contact(leg, solid, 1.0, 0.0)?;
    (from <= to).then_some((from, to))
}

/// Tells whether a round leg's axis stays above the batter of an open solid: then the plan alone decides.
fn lies_beside(leg: &Body, solid: &Solid) -> bool {
    let Solid::Pit(pit) = solid else { return false };
    let top_m = pit.corners.iter().fold(f64::NEG_INFINITY, |top, p| top.max(p.z));
    let slope_m = pit.disc_m * pit.gradient.norm();
    let axis_m = leg.ends[0].z.min(leg.ends[1].z);
    leg.half.is_none() && (!pit.floor_known || axis_m >= top_m + slope_m + pit.batter_height_m)
}

const CONTACT_M: f64 = 1e-7;
const MOST_STEPS: usize = 100;

fn first_contact(leg: &Body, solid: &Solid, start: f64, end: f64) -> Option<f64> {
    let whole = leg.ends[1] - leg.ends[0];
    let mut t: f64 = start;
    for _ in 0..MOST_STEPS {
        let at = leg.ends[0] + whole * t;
        let slice = Body {
            ends: [at, at],
            ..*leg
        };
        let stop = Stop {
            touching_m: 0.0,
            beyond_m: f64::INFINITY,
        };
        let (apart, discs) = if solid.floor_known() {
            (apart_in_space(&slice, solid, stop), slice.ball_m + solid.ball_m())
        } else {
            (
                apart_in_plan(&slice, solid, stop),
                disc_of_leg_m(&slice) + disc_of_solid_m(solid),
            )
        };
        let gap = apart.lower_m - discs;
        if gap <= CONTACT_M {
            return Some(t);
        }
        let mut toward: Vec3 = apart.on_solid - apart.on_leg;
        if !solid.floor_known() {
            toward.z = 0.0;
        }
        let closing = toward.dot(&whole) / toward.norm() * (end - start);
        if closing <= 0.0 {
            return None;
        }
        t += gap / closing * (end - start);
        if (t - start).abs() > 1.0 {
            return None;
        }
    }
    Some(t)
}

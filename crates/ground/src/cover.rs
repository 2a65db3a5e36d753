//! Cover: how much ground lies over a tube, measured and at worst, and where nobody knows.
//!
//! `cover(t) = inf over q in the section at t, q in dom S, of S(q_xy) - q_z`: plumb, signed, from the outside of the
//! tube, and over the whole section and not only above the axis. Negative sticks out. Risers (legs steeper than 45
//! degrees) are left out of every figure here and listed; the elbow below one is the end of the leg before it and counts.

use crate::convex::{Stop, apart_in_space};
use crate::disc_cover::shares_outside;
use crate::gap::GapError;
use crate::leg::{Leg, legs_of};
use crate::leg_cover::{Found, greatest, ground_over, least};
use crate::solid::Body;
use crate::surface::{Surface, distance_to_segment};
use crate::tube::{Section, Tube, TubeVertex};
use crate::{Vec2, Vec3};

/// Why a cover has no number. Missing never acts as zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoCover {
    /// No surface lies over any part that counts.
    NoSurface,
    /// Every leg is a riser.
    OnlyRisers,
    /// A leg that counts has an end without a known uncertainty. Legs are counted from 0.
    NotPlaced {
        /// The first such leg.
        leg: usize,
    },
    /// The greatest cover was not asked for.
    NotMeasured,
    /// The surface's own uncertainty is not known.
    SurfaceNotSure,
}

/// A cover, and where it was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoverAt {
    /// The cover, metres; negative sticks out.
    pub cover_m: f64,
    /// Where along the tube, metres.
    pub chainage_m: f64,
    /// The point of the tube (of the grown tube for a worst cover) that it was measured from.
    pub on_tube: Vec3,
}

/// The cover over one leg of a tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegCover {
    /// Whether the leg is a riser, and so counts in none of the figures of the whole.
    pub riser: bool,
    /// Least cover along it; `None` when no surface lies over any of it.
    pub least: Option<CoverAt>,
    /// Greatest cover along it: a proven upper bound within 0.1 mm.
    pub greatest: Option<CoverAt>,
    /// Least cover of the grown leg, the surface's 95 % taken off; `None` also when either is not known.
    pub worst: Option<CoverAt>,
    /// Shortest distance from the leg to the surface, 0 where it comes through.
    pub shortest: Option<CoverAt>,
    /// The same for the grown leg, the surface's 95 % taken off.
    pub worst_shortest: Option<CoverAt>,
    /// Length of axis whose section is not wholly under the surface's domain, metres.
    pub unknown_m: f64,
    /// The same for the grown section; `None` when the growth is not known.
    pub worst_unknown_m: Option<f64>,
    /// Whether the edge of the surface is nearer in plan than the shortest distance, so that ground nobody measured
    /// could be nearer.
    pub shortest_at_edge: bool,
}

/// A stretch of risers, left out of the cover.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Riser {
    /// First leg, counted from 0.
    pub first_leg: usize,
    /// Last leg.
    pub last_leg: usize,
    /// The axis at its lower end.
    pub foot: Vec3,
    /// The axis at its upper end.
    pub head: Vec3,
    /// Chainage of its first vertex, metres.
    pub from_m: f64,
    /// Chainage of its last vertex, metres.
    pub to_m: f64,
}

/// A place where the axis comes through the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Emergence {
    /// The leg, counted from 0.
    pub leg: usize,
    /// Where, on the axis.
    pub at: Vec3,
    /// Its chainage, metres.
    pub chainage_m: f64,
}

/// The cover over a whole tube; risers are left out of all but their own lists.
#[derive(Debug, Clone, PartialEq)]
pub struct Cover {
    /// Each leg in order.
    pub legs: Vec<LegCover>,
    /// Least cover.
    pub least: Result<CoverAt, NoCover>,
    /// Greatest cover.
    pub greatest: Result<CoverAt, NoCover>,
    /// Least cover of the grown tube, the surface's 95 % taken off.
    pub worst: Result<CoverAt, NoCover>,
    /// Shortest distance from tube to surface.
    pub shortest: Result<CoverAt, NoCover>,
    /// The same for the grown tube, the surface's 95 % taken off.
    pub worst_shortest: Result<CoverAt, NoCover>,
    /// Length of axis with any part of its section outside the surface's domain, metres; risers not counted.
    pub unknown_m: f64,
    /// The same for the grown section.
    pub worst_unknown_m: Result<f64, NoCover>,
    /// Whether the shortest distance of some leg may be shorter beyond the edge of the surface.
    pub shortest_at_edge: bool,
    /// Stretches of risers.
    pub risers: Vec<Riser>,
    /// Where the axis comes through the surface, on risers and elsewhere; one a leg, found between its ends.
    pub emerges: Vec<Emergence>,
}

/// How a rule measures cover.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoverMeasure {
    /// Plumb.
    Vertical,
    /// The shortest way in space.
    Shortest,
}

/// Whether a cover proves a minimum.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoverVerdict {
    /// The worst cover is at least the minimum, and all of it is known.
    Met,
    /// The measured cover is below the minimum.
    Short,
    /// Between, or part of it is not known.
    NotProved,
}

impl Cover {
    /// Judges the cover against a minimum, unrounded.
    pub fn judge(&self, minimum_m: f64, measure: CoverMeasure) -> CoverVerdict {
        let (measured, worst) = match measure {
            CoverMeasure::Vertical => (self.least, self.worst),
            CoverMeasure::Shortest => (self.shortest, self.worst_shortest),
        };
        if measured.is_ok_and(|at| at.cover_m < minimum_m) {
            return CoverVerdict::Short;
        }
        let whole =
            self.worst_unknown_m == Ok(0.0) && !(measure == CoverMeasure::Shortest && self.shortest_at_edge);
        if whole && worst.is_ok_and(|at| at.cover_m >= minimum_m) {
            CoverVerdict::Met
        } else {
            CoverVerdict::NotProved
        }
    }
}

/// Measures the cover over a tube.
///
/// `surface_u95_m` is the surface's 95 % in level; without it, or without a vertex's growth, there is no worst cover.
/// # Accuracy
/// Least and worst are proven from below and greatest from above, each within 0.1 mm of the exact value (tests in
/// `tests/cover_oracle.rs`). A bank's section counts as out of the domain with its farthest point in plan.
/// # Errors
/// [`GapError`] for a tube with no leg or a size that is not finite.
pub fn cover(tube: &Tube, surface: &Surface, surface_u95_m: Option<f64>) -> Result<Cover, GapError> {
    measure(tube, surface, surface_u95_m, greatest_over)
}

/// As [`cover`], without the greatest cover, which costs the most and which no minimum asks for.
///
/// # Errors
/// As [`cover`].
pub fn least_cover(tube: &Tube, surface: &Surface, surface_u95_m: Option<f64>) -> Result<Cover, GapError> {
    let found = measure(tube, surface, surface_u95_m, |_, _| None)?;
    Ok(Cover {
        greatest: Err(NoCover::NotMeasured),
        ..found
    })
}

fn measure(
    tube: &Tube,
    surface: &Surface,
    surface_u95_m: Option<f64>,
    greatest_over: fn(&Leg, &Surface) -> Option<CoverAt>,
) -> Result<Cover, GapError> {
    let ends: Vec<(&TubeVertex, &TubeVertex)> = tube.legs().collect();
    let risers: Vec<bool> = tube.risers().collect();
    let mut legs: Vec<LegCover> = Vec::with_capacity(ends.len());
    let mut joints = Vec::new();
    for body in legs_of(tube)? {
        if body.joint {
            // The ball at a joint belongs to the leg before it, or to the one after it when only that one counts.
            let before = legs.len() - 1;
            let after_only = risers[before] && risers.get(before + 1) == Some(&false);
            joints.push((
                before + usize::from(after_only),
                over_body(&body, surface, surface_u95_m),
            ));
        } else {
            let mut found = over_body(&body, surface, surface_u95_m);
            found.greatest = greatest_over(&body, surface);
            found.riser = risers[legs.len()];
            measure_unknown(&mut found, tube, surface, ends[legs.len()]);
            legs.push(found);
        }
    }
    for (leg, joint) in joints {
        legs[leg].take_joint(&joint);
    }
    Ok(summarise(tube, surface, legs, surface_u95_m))
}

fn place(body: &Leg, found: Found) -> CoverAt {
    CoverAt {
        cover_m: found.cover_m,
        chainage_m: body.chainage_at(found.along),
        on_tube: found.on_body,
    }
}

fn greatest_over(body: &Leg, surface: &Surface) -> Option<CoverAt> {
    greatest(&ground_over(surface, &body.stated, 0.0), &body.stated).map(|found| place(body, found))
}

fn over_body(body: &Leg, surface: &Surface, surface_u95_m: Option<f64>) -> LegCover {
    let place = |found: Found| place(body, found);
    let ground = ground_over(surface, &body.stated, 0.0);
    let least_found = least(&ground, &body.stated);
    let less = |found: Option<CoverAt>| {
        found.zip(surface_u95_m).map(|(at, u95)| CoverAt {
            cover_m: at.cover_m - u95,
            ..at
        })
    };
    let (worst, worst_shortest) = match &body.grown {
        Some(grown) => {
            let under = least(&ground_over(surface, grown, 0.0), grown).map(place);
            (under, under.and_then(|at| shortest(body, grown, surface, at)))
        }
        None => (None, None),
    };
    let least_at = least_found.map(place);
    let shortest_at = least_at.and_then(|at| shortest(body, &body.stated, surface, at));
    let widest = worst_shortest.or(shortest_at);
    LegCover {
        riser: false,
        least: least_at,
        greatest: None,
        worst: less(worst),
        shortest: shortest_at,
        worst_shortest: less(worst_shortest).map(|at| CoverAt {
            cover_m: at.cover_m.max(0.0),
            ..at
        }),
        unknown_m: 0.0,
        worst_unknown_m: None,
        shortest_at_edge: widest
            .is_some_and(|at| edge_within(body.grown.as_ref().unwrap_or(&body.stated), surface, at.cover_m)),
    }
}

impl LegCover {
    fn take_joint(&mut self, joint: &LegCover) {
        let lesser = |a: Option<CoverAt>, b: Option<CoverAt>| match (a, b) {
            (Some(a), Some(b)) if b.cover_m < a.cover_m => Some(b),
            (None, b) => b,
            (a, _) => a,
        };
        self.least = lesser(self.least, joint.least);
        self.shortest = lesser(self.shortest, joint.shortest);
        self.worst = self.worst.and(lesser(self.worst, joint.worst));
        self.worst_shortest = self
            .worst_shortest
            .and(lesser(self.worst_shortest, joint.worst_shortest));
        self.shortest_at_edge |= joint.shortest_at_edge;
    }
}

/// The distance in space from a body to what lies above the surface; it is at most the plumb cover.
fn shortest(leg: &Leg, body: &Body, surface: &Surface, plumb: CoverAt) -> Option<CoverAt> {
    if plumb.cover_m <= 0.0 {
        return Some(CoverAt {
            cover_m: 0.0,
            ..plumb
        });
    }
    let mut found = plumb;
    for ground in ground_over(surface, body, plumb.cover_m) {
        let stop = Stop {
            touching_m: body.ball_m,
            beyond_m: found.cover_m + body.ball_m,
        };
        let apart = apart_in_space(body, ground.solid(), stop);
        let distance_m = (apart.lower_m - body.ball_m).max(0.0);
        if distance_m < found.cover_m {
            let way = apart.on_solid - apart.on_leg;
            let on_tube = apart.on_leg + way * (body.ball_m / way.norm().max(body.ball_m));
            found = CoverAt {
                cover_m: distance_m,
                chainage_m: leg.chainage_at(apart.along),
                on_tube,
            };
        }
    }
    Some(found)
}

/// Tells whether the edge of the surface comes nearer to a body in plan than a distance.
fn edge_within(body: &Body, surface: &Surface, distance_m: f64) -> bool {
    let mut near = false;
    let reach_m = body.reach_m() + distance_m;
    let (a, b) = (body.ends[0].xy(), body.ends[1].xy());
    surface.rims_in(&body.plan_box().grown(distance_m), |c, d| {
        near |= plan_distance((a, b), (c, d)) < reach_m
    });
    near
}

/// The distance between two plan segments, metres.
fn plan_distance(one: (Vec2, Vec2), two: (Vec2, Vec2)) -> f64 {
    let side = |of: (Vec2, Vec2), p: Vec2| (of.1 - of.0).perp(&(p - of.0));
    let apart = |of: (Vec2, Vec2), by: (Vec2, Vec2)| side(of, by.0) * side(of, by.1) < 0.0;
    if apart(one, two) && apart(two, one) {
        return 0.0;
    }
    distance_to_segment(one.0, two.0, two.1)
        .min(distance_to_segment(one.1, two.0, two.1))
        .min(distance_to_segment(two.0, one.0, one.1))
        .min(distance_to_segment(two.1, one.0, one.1))
}

fn measure_unknown(found: &mut LegCover, tube: &Tube, surface: &Surface, (a, b): (&TubeVertex, &TubeVertex)) {
    let ends = [a.axis.xy(), b.axis.xy()];
    let along = b.axis - a.axis;
    let length_m = along.norm();
    let reach_m = match tube.section {
        Section::Round { radius_m } => radius_m,
        // A section that leans reaches less far with its height; the diagonal is never too little.
        Section::Bank {
            half_width_m,
            half_height_m,
        } => half_width_m.hypot(half_height_m * along.z.abs() / length_m),
    };
    let length_of =
        |shares: Vec<(f64, f64)>| shares.iter().map(|(from, to)| to - from).sum::<f64>() * length_m;
    found.unknown_m = length_of(shares_outside(surface, ends, [reach_m; 2]));
    found.worst_unknown_m = a.growth.zip(b.growth).map(|(at_a, at_b)| {
        length_of(shares_outside(
            surface,
            ends,
            [reach_m + at_a.horizontal_m, reach_m + at_b.horizontal_m],
        ))
    });
}

fn summarise(tube: &Tube, surface: &Surface, legs: Vec<LegCover>, surface_u95_m: Option<f64>) -> Cover {
    let counted = || legs.iter().filter(|leg| !leg.riser);
    let none = if counted().next().is_none() {
        NoCover::OnlyRisers
    } else {
        NoCover::NoSurface
    };
    let extreme = |part: fn(&LegCover) -> Option<CoverAt>, sign: f64| {
        counted()
            .filter_map(part)
            .reduce(|a, b| if b.cover_m * sign < a.cover_m * sign { b } else { a })
            .ok_or(none)
    };
    let not_placed = tube
        .legs()
        .zip(tube.risers())
        .position(|((a, b), riser)| !riser && (a.growth.is_none() || b.growth.is_none()))
        .map(|leg| NoCover::NotPlaced { leg });
    let not_sure = surface_u95_m.is_none().then_some(NoCover::SurfaceNotSure);
    let worst = |part| match not_placed.or(not_sure) {
        Some(why) => Err(why),
        None => extreme(part, 1.0),
    };
    Cover {
        least: extreme(|leg| leg.least, 1.0),
        greatest: extreme(|leg| leg.greatest, -1.0),
        worst: worst(|leg| leg.worst),
        shortest: extreme(|leg| leg.shortest, 1.0),
        worst_shortest: worst(|leg| leg.worst_shortest),
        unknown_m: counted().map(|leg| leg.unknown_m).sum(),
        worst_unknown_m: match not_placed {
            Some(why) => Err(why),
            None => Ok(counted().filter_map(|leg| leg.worst_unknown_m).sum()),
        },
        shortest_at_edge: counted().any(|leg| leg.shortest_at_edge),
        risers: risers(tube),
        emerges: emergences(tube, surface),
        legs,
    }
}

fn risers(tube: &Tube) -> Vec<Riser> {
    let mut found: Vec<Riser> = Vec::new();
    for (leg, ((a, b), riser)) in tube.legs().zip(tube.risers()).enumerate() {
        if !riser {
            continue;
        }
        let (foot, head) = if a.axis.z <= b.axis.z {
            (a.axis, b.axis)
        } else {
            (b.axis, a.axis)
        };
        match found.last_mut() {
            Some(last) if last.last_leg + 1 == leg => {
                last.last_leg = leg;
                last.to_m = b.chainage_m;
                if foot.z < last.foot.z {
                    last.foot = foot;
                }
                if head.z > last.head.z {
                    last.head = head;
                }
            }
            _ => found.push(Riser {
                first_leg: leg,
                last_leg: leg,
                foot,
                head,
                from_m: a.chainage_m,
                to_m: b.chainage_m,
            }),
        }
    }
    found
}

fn emergences(tube: &Tube, surface: &Surface) -> Vec<Emergence> {
    let buried = |p: Vec3| surface.level_at(p.xy()).map(|level| level > p.z);
    tube.legs()
        .enumerate()
        .filter_map(|(leg, (a, b))| {
            let start = buried(a.axis)?;
            if buried(b.axis)? == start {
                return None;
            }
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..60 {
                let middle = (low + high) / 2.0;
                if buried(a.axis + (b.axis - a.axis) * middle)? == start {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            let at = a.axis + (b.axis - a.axis) * high;
            Some(Emergence {
                leg,
                at,
                chainage_m: a.chainage_m + (b.chainage_m - a.chainage_m) * high,
            })
        })
        .collect()
}

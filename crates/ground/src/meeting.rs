//! The places where two tubes meet: crossings, each its own, and stretches side by side.
//!
//! Frame: take a place on each axis, `s` along the one and `t` along the other. Where the two places are within a
//! distance of one another in plan is the *free space* of the two lines (Alt and Godau, "Computing the Fréchet
//! distance between two polygonal curves", 1995, from memory); on each pair of legs it is convex. Two pairs of legs
//! belong to one place when their parts of it touch, so it falls into as many pieces as there are places.
//!
//! - A **crossing** is a piece of the space within the sum of both half-widths as recorded: one tube lies over the
//!   other there, seen in plan. Two that lie over one another along a stretch make one crossing, said to run together.
//! - **Side by side** is a piece of the space within the distance asked for (both grown by their uncertainty in plan)
//!   that holds no crossing, or what of it runs within 45 degrees of parallel beside its crossings. It is one finding
//!   with its nearest place. What approaches a crossing at a steeper angle belongs to that crossing.
//!
//! Two runs shot from one station share its error. Here each is grown by the whole of its own bound and both are
//! taken off: the sum of both bounds holds whatever the correlation, and errs to the safe side.

use std::ops::Range;

use crate::convex::{Stop, apart_in_plan, apart_in_space_from, disc_of_leg_m};
use crate::gap::{GapError, NoNumber, Stretch};
use crate::leg::{Leg, Legs};
use crate::near::near_part;
use crate::pieces::pieces;
use crate::plumb::plumb_height;
use crate::segment::segments_apart;
use crate::solid::{Body, Solid};
use crate::tube::{Section, Tube};
use crate::{Vec2, Vec3};

/// What kind of place it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeetingKind {
    /// One lies over the other, seen in plan.
    Crossing,
    /// They come near one another and neither lies over the other.
    SideBySide,
}

/// One of two tubes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// The first.
    First,
    /// The second.
    Second,
}

/// A gap between two tubes, and the two points it is measured between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Between {
    /// Metres; a proven lower bound within 0.1 mm of the exact value.
    pub gap_m: f64,
    /// The point on the outside of each; of the grown tubes for a worst gap.
    pub at: [Vec3; 2],
    /// The chainages of that place on each, metres.
    pub chainage_m: [f64; 2],
}

/// One place where two tubes meet.
#[derive(Debug, Clone, PartialEq)]
pub struct Meeting {
    /// What kind of place.
    pub kind: MeetingKind,
    /// Whether any legs here run within 45 degrees of parallel in plan; a plumb leg counts as such.
    pub together: bool,
    /// Shortest distance between the outsides; 0 exactly when they touch.
    pub shortest: Between,
    /// The same, both grown.
    pub worst_shortest: Result<Between, NoNumber>,
    /// Distance in plan between the outsides; 0 is one over the other.
    pub horizontal: Between,
    /// The same, both grown.
    pub worst_horizontal: Result<Between, NoNumber>,
    /// Least height of the upper one's underside over the lower one's top where one lies over the other; negative
    /// where they share levels. The order is the one that leaves more.
    pub vertical: Result<Between, NoNumber>,
    /// The same in the same order, both grown.
    pub worst_vertical: Result<Between, NoNumber>,
    /// Which one is above all over the crossing; `None` beside one another, or when neither is.
    pub above: Option<Which>,
    /// From where to where on each: of a crossing the part over or under the other, else the part within the distance.
    pub stretch: [Stretch; 2],
}

/// Returns the meetings of two tubes that come within a distance in plan, both grown, at any depth.
///
/// In the order of the first one's chainage.
/// # Accuracy
/// As [`crate::gap::tube_gaps`]: every gap is a proven lower bound within 0.1 mm. Where tubes with square sections lie
/// over one another is told by their half-widths.
/// # Errors
/// [`GapError`] when a tube has no leg or a size that is not finite.
pub fn meetings(first: &Tube, second: &Tube, within_m: f64) -> Result<Vec<Meeting>, GapError> {
    let pair = PairOfTubes::of(first, second, within_m)?;
    let near = pair.near_legs();
    Ok(pair.meetings(&near))
}

/// Two tubes, and what is asked of them.
pub(crate) struct PairOfTubes<'a> {
    tubes: [&'a Tube; 2],
    bodies: [Legs<'a>; 2],
    /// For each leg its bodies, the balls at its joints included.
    bodies_of_leg: [Vec<Range<usize>>; 2],
    half_m: [f64; 2],
    within_m: f64,
}

/// Returns how far a tube's section reaches out of its axis in plan, metres.
pub(crate) fn half_width_m(section: &Section) -> f64 {
    match *section {
        Section::Round { radius_m } => radius_m,
        Section::Bank { half_width_m, .. } => half_width_m,
    }
}

/// Returns how far a tube's section reaches out of its axis at most, metres.
pub(crate) fn section_reach_m(section: &Section) -> f64 {
    match *section {
        Section::Round { radius_m } => radius_m,
        Section::Bank {
            half_width_m,
            half_height_m,
        } => half_width_m.hypot(half_height_m),
    }
}

/// Returns the growth in plan at the ends of a leg, at most, metres; none where it is not known.
pub(crate) fn leg_growth_m(tube: &Tube, leg: usize) -> f64 {
    vertex_growth_m(tube, leg).max(vertex_growth_m(tube, leg + 1))
}

fn vertex_growth_m(tube: &Tube, vertex: usize) -> f64 {
    tube.vertices[vertex]
        .growth
        .map_or(0.0, |growth| growth.horizontal_m)
}

/// A leg of each tube.
pub(crate) type LegsMet = [usize; 2];

impl<'a> PairOfTubes<'a> {
    pub(crate) fn of(first: &'a Tube, second: &'a Tube, within_m: f64) -> Result<Self, GapError> {
        let bodies = [Legs::of(first)?, Legs::of(second)?];
        Ok(PairOfTubes {
            bodies_of_leg: [0, 1].map(|k| bodies_of_legs(&bodies[k])),
            bodies,
            half_m: [first, second].map(|tube| half_width_m(&tube.section)),
            tubes: [first, second],
            within_m,
        })
    }

    fn plan(&self, which: usize, leg: usize) -> [Vec3; 2] {
        [leg, leg + 1].map(|v| {
            let p = self.tubes[which].vertices[v].axis;
            Vec3::new(p.x, p.y, 0.0)
        })
    }

    /// How near axes must come in plan to count as near: bank corners counted, growth the larger of each leg's ends.
    fn near_m(&self, met: LegsMet) -> f64 {
        self.within_m + self.out_m(0, met[0]) + self.out_m(1, met[1])
    }

    /// How far a leg reaches out of its axis in plan, grown, at most.
    fn out_m(&self, k: usize, leg: usize) -> f64 {
        section_reach_m(&self.tubes[k].section) + leg_growth_m(self.tubes[k], leg)
    }

    /// Finds the pairs of legs that are near, by their boxes first.
    pub(crate) fn near_legs(&self) -> Vec<LegsMet> {
        let boxes = |k: usize| -> Vec<[Vec2; 2]> {
            (0..self.tubes[k].vertices.len() - 1)
                .map(|leg| {
                    let [a, b] = self.plan(k, leg).map(|p| p.xy());
                    let share = if k == 0 { self.within_m } else { 0.0 };
                    let out =
                        section_reach_m(&self.tubes[k].section) + leg_growth_m(self.tubes[k], leg) + share;
                    let out = Vec2::new(out, out);
                    [a.inf(&b) - out, a.sup(&b) + out]
                })
                .collect()
        };
        let meets = |a: &[Vec2; 2], b: &[Vec2; 2]| {
            a[0].x <= b[1].x && b[0].x <= a[1].x && a[0].y <= b[1].y && b[0].y <= a[1].y
        };
        let (ours, theirs) = (boxes(0), boxes(1));
        let whole = |all: &[[Vec2; 2]]| {
            all.iter()
                .skip(1)
                .fold(all[0], |w, b| [w[0].inf(&b[0]), w[1].sup(&b[1])])
        };
        let around = whole(&theirs);
        let mut near = Vec::new();
        for (i, own) in ours.iter().enumerate().filter(|(_, own)| meets(own, &around)) {
            for (j, _) in theirs.iter().enumerate().filter(|(_, their)| meets(own, their)) {
                if self.axes_m([i, j]) - self.out_m(0, i) - self.out_m(1, j) <= self.within_m {
                    near.push([i, j]);
                }
            }
        }
        near
    }

    /// Distance of two axes in plan, metres.
    fn axes_m(&self, [i, j]: LegsMet) -> f64 {
        segments_apart(self.plan(0, i), self.plan(1, j)).lower_m
    }

    fn vertex_to_leg_m(&self, (k, vertex): (usize, usize), leg: usize) -> f64 {
        let p = self.tubes[k].vertices[vertex].axis;
        let p = Vec3::new(p.x, p.y, 0.0);
        segments_apart([p, p], self.plan(1 - k, leg)).lower_m
    }

    /// Returns the meetings, given every pair of legs that is near.
    pub(crate) fn meetings(&self, near: &[LegsMet]) -> Vec<Meeting> {
        // A hair less than touching is side by side.
        let overlap_m = self.half_m[0] + self.half_m[1] - 1e-6;
        let over: Vec<LegsMet> = (near.iter().copied())
            .filter(|&met| self.axes_m(met) < overlap_m)
            .collect();
        let crossings = pieces(&over, |k, vertex, leg| {
            self.vertex_to_leg_m((k, vertex), leg) < overlap_m
        });
        let places = pieces(near, |k, vertex, leg| {
            let other = 1 - k;
            let out = section_reach_m(&self.tubes[0].section) + section_reach_m(&self.tubes[1].section);
            let growth = vertex_growth_m(self.tubes[k], vertex) + leg_growth_m(self.tubes[other], leg);
            self.vertex_to_leg_m((k, vertex), leg) <= self.within_m + out + growth
        });
        let mut found = Vec::new();
        for place in places {
            let mut mine: Vec<(Vec<LegsMet>, Vec<LegsMet>)> = crossings
                .iter()
                .filter(|crossing| place.binary_search(&crossing[0]).is_ok())
                .map(|crossing| (crossing.clone(), Vec::new()))
                .collect();
            if mine.is_empty() {
                found.push(self.meeting(MeetingKind::SideBySide, &place, &[]));
                continue;
            }
            let mut beside = Vec::new();
            for met in place {
                if mine
                    .iter()
                    .any(|(crossing, _)| crossing.binary_search(&met).is_ok())
                {
                    continue;
                }
                if self.run_together(met) {
                    beside.push(met);
                    continue;
                }
                let steps = |one: &LegsMet| one[0].abs_diff(met[0]).max(one[1].abs_diff(met[1]));
                let nearest = mine
                    .iter_mut()
                    .min_by_key(|(crossing, _)| crossing.iter().map(steps).min());
                if let Some((_, approach)) = nearest {
                    approach.push(met);
                }
            }
            for (crossing, approach) in mine {
                found.push(self.meeting(MeetingKind::Crossing, &crossing, &approach));
            }
            if !beside.is_empty() {
                found.push(self.meeting(MeetingKind::SideBySide, &beside, &[]));
            }
        }
        found.sort_by(|a, b| {
            let from = |m: &Meeting| m.stretch[0].from_m;
            from(a)
                .total_cmp(&from(b))
                .then(a.stretch[1].from_m.total_cmp(&b.stretch[1].from_m))
        });
        found
    }

    /// Tells whether two legs run within 45 degrees of parallel in plan.
    fn run_together(&self, [i, j]: LegsMet) -> bool {
        let way = |k: usize, leg: usize| {
            let [a, b] = self.plan(k, leg);
            (b - a).xy()
        };
        let (u, v) = (way(0, i), way(1, j));
        u.dot(&v).abs() >= (std::f64::consts::FRAC_1_SQRT_2 - 1e-9) * u.norm() * v.norm()
    }

    fn meeting(&self, kind: MeetingKind, legs: &[LegsMet], approach: &[LegsMet]) -> Meeting {
        let mut measure = Measure::default();
        for &met in legs.iter().chain(approach) {
            for one in self.bodies_of(0, met[0]) {
                for two in self.bodies_of(1, met[1]) {
                    measure.pair(&one, &two);
                }
            }
        }
        let placed = |k: usize| self.tubes[k].vertices.iter().all(|v| v.growth.is_some());
        let placed = placed(0) && placed(1);
        let worst = |of: Option<Between>| of.filter(|_| placed).ok_or(NoNumber::NotPlaced);
        // A crossing of bodies of square section may not overlap after all, and then has no order.
        let as_recorded = measure.best_order(false);
        let order = as_recorded.map(|(order, _)| order);
        let vertical = as_recorded.map(|(_, height)| height);
        let above = match (order, vertical) {
            (Some(order), Some(height)) if height.gap_m >= 0.0 && kind == MeetingKind::Crossing => {
                Some([Which::First, Which::Second][order])
            }
            _ => None,
        };
        // Without an order as recorded the worst is that of the order that leaves more.
        let worst_vertical = match order {
            _ if !placed => None,
            Some(order) => measure.height(order, true),
            None => measure.best_order(true).map(|(_, height)| height),
        };
        let nowhere = Between {
            gap_m: f64::INFINITY,
            at: [Vec3::zeros(); 2],
            chainage_m: [0.0; 2],
        };
        Meeting {
            kind,
            together: legs.iter().any(|&met| self.run_together(met)),
            shortest: measure.shortest.unwrap_or(nowhere),
            worst_shortest: worst(measure.worst_shortest),
            horizontal: measure.horizontal.unwrap_or(nowhere),
            worst_horizontal: worst(measure.worst_horizontal),
            vertical: vertical.ok_or(NoNumber::NotUnder),
            worst_vertical: if placed {
                worst_vertical.ok_or(NoNumber::NotUnder)
            } else {
                Err(NoNumber::NotPlaced)
            },
            above,
            stretch: self.stretches(kind, legs),
        }
    }

    /// Returns the bodies of a leg, the joints at its ends included.
    fn bodies_of(&self, k: usize, leg: usize) -> impl Iterator<Item = Leg> + '_ {
        let all = self.bodies_of_leg[k].get(leg).cloned().unwrap_or(0..0);
        all.map(move |i| self.bodies[k].get(i))
    }

    fn stretches(&self, kind: MeetingKind, legs: &[LegsMet]) -> [Stretch; 2] {
        [0, 1].map(|k| {
            let mut whole: Option<Stretch> = None;
            for &met in legs {
                let reach_m = match kind {
                    MeetingKind::Crossing => self.half_m[0] + self.half_m[1],
                    MeetingKind::SideBySide => self.near_m(met),
                };
                let line = |k: usize, ball_m: f64| Body {
                    ends: self.plan(k, met[k]),
                    out_m: [0.0; 2],
                    up_m: [0.0; 2],
                    ball_m,
                    half: None,
                };
                let Some((from, to)) = near_part(&line(k, reach_m), &Solid::Leg(line(1 - k, 0.0)), 0.0)
                else {
                    continue;
                };
                let [a, b] = [met[k], met[k] + 1].map(|v| self.tubes[k].vertices[v].chainage_m);
                let (from_m, to_m) = (a + from * (b - a), a + to * (b - a));
                let so_far = whole.get_or_insert(Stretch { from_m, to_m });
                so_far.from_m = so_far.from_m.min(from_m);
                so_far.to_m = so_far.to_m.max(to_m);
            }
            whole.unwrap_or(Stretch {
                from_m: 0.0,
                to_m: 0.0,
            })
        })
    }
}

/// Finds for each leg its bodies: its own, and the balls that fill the mitres before and after it.
fn bodies_of_legs(bodies: &Legs<'_>) -> Vec<Range<usize>> {
    let mut found: Vec<Range<usize>> = Vec::new();
    let mut before = 0;
    for (i, body) in bodies.iter().enumerate() {
        if body.joint {
            if let Some(last) = found.last_mut() {
                last.end = i + 1;
            }
            continue;
        }
        // From the joint just before it, if there is one.
        let start = if before < i { i - 1 } else { i };
        found.push(start..i + 1);
        before = i + 1;
    }
    found
}

/// The least of each number over the pairs of bodies seen so far.
#[derive(Default)]
struct Measure {
    shortest: Option<Between>,
    worst_shortest: Option<Between>,
    horizontal: Option<Between>,
    worst_horizontal: Option<Between>,
    /// The pairs that lie over one another in plan, as recorded and grown.
    over: [Vec<[Leg; 2]>; 2],
}

const NO_STOP: Stop = Stop {
    touching_m: 0.0,
    beyond_m: f64::INFINITY,
};

fn offer(least: &mut Option<Between>, own: Between) {
    if least.is_none_or(|so_far| own.gap_m < so_far.gap_m) {
        *least = Some(own);
    }
}

fn beyond(least: Option<Between>, bound_m: f64) -> bool {
    least.is_some_and(|so_far| bound_m >= so_far.gap_m)
}

impl Measure {
    fn pair(&mut self, one: &Leg, two: &Leg) {
        let bodies = [one, two].map(|leg| leg.stated);
        let axes = segments_apart(bodies[0].ends, bodies[1].ends);
        let on_axes =
            [0, 1].map(|k| bodies[k].ends[0] + (bodies[k].ends[1] - bodies[k].ends[0]) * axes.along[k]);
        // The way between the axes is a good first guess at the way between what lies about them.
        let guess = on_axes[1] - on_axes[0];
        let round = bodies.iter().all(|body| body.half.is_none());
        if round {
            let gap_m = zero_or(axes.lower_m - bodies[0].ball_m - bodies[1].ball_m);
            if !beyond(self.shortest, gap_m) {
                let out = bodies.map(|body| body.ball_m);
                offer(
                    &mut self.shortest,
                    between([one, two], axes.along, outside(on_axes, out, gap_m), gap_m),
                );
            }
        } else if let Some(own) = in_space(guess, [one, two], bodies, self.shortest) {
            offer(&mut self.shortest, own);
        }
        let plan = in_plan([one, two], bodies);
        offer(&mut self.horizontal, plan);
        if plan.gap_m <= 0.0 {
            self.over[0].push([*one, *two]);
        }
        let (Some(grown_one), Some(grown_two)) = (one.grown, two.grown) else {
            return;
        };
        let grown = [grown_one, grown_two];
        let reach = |body: &Body| {
            let out = |i: usize| body.out_m[i].hypot(body.up_m[i]);
            let side = body.half.map_or(0.0, |half| half[0].norm() + half[1].norm());
            body.ball_m + out(0).max(out(1)) + side
        };
        if !beyond(
            self.worst_shortest,
            axes.lower_m - reach(&grown[0]) - reach(&grown[1]),
        ) && let Some(own) = in_space(guess, [one, two], grown, self.worst_shortest)
        {
            offer(&mut self.worst_shortest, own);
        }
        let out = grown.map(|body| body.out_m[0].max(body.out_m[1]));
        if plan.gap_m - out[0] - out[1] <= 0.0 || !beyond(self.worst_horizontal, plan.gap_m - out[0] - out[1])
        {
            let worst = in_plan([one, two], grown);
            offer(&mut self.worst_horizontal, worst);
            if worst.gap_m <= 0.0 {
                self.over[1].push([*one, *two]);
            }
        }
    }

    /// Returns the least height of the one over the other, as recorded or grown; `over` 0 is the first over the second.
    fn height(&self, over: usize, grown: bool) -> Option<Between> {
        let mut least = None;
        for [one, two] in &self.over[usize::from(grown)] {
            let bodies = match (one.grown, two.grown) {
                (Some(a), Some(b)) if grown => [a, b],
                _ => [one.stated, two.stated],
            };
            height([one, two], bodies, over, &mut least);
        }
        least
    }

    /// Returns the order that leaves more between the two, and how much.
    ///
    /// Where one order leaves nought or more at every place, the other leaves nought or less at every one of them.
    fn best_order(&self, grown: bool) -> Option<(usize, Between)> {
        let [one, two] = self.over[usize::from(grown)].first()?;
        let level = |leg: &Leg| leg.stated.ends[0].z + leg.stated.ends[1].z;
        let likely = usize::from(level(two) > level(one));
        let first = self.height(likely, grown).map(|height| (likely, height));
        if first.is_some_and(|(_, height)| height.gap_m >= 0.0) {
            return first;
        }
        let second = self.height(1 - likely, grown).map(|height| (1 - likely, height));
        match (first, second) {
            (Some(a), Some(b)) if b.1.gap_m > a.1.gap_m => second,
            (Some(_), _) => first,
            (None, _) => second,
        }
    }
}

/// Returns a gap of zero for what is zero but for rounding.
fn zero_or(value_m: f64) -> f64 {
    if value_m < 1e-9 { 0.0 } else { value_m }
}

/// Moves two points of the axes to the outsides, toward one another; touching ones meet half-way in what they share.
fn outside(at: [Vec3; 2], out_m: [f64; 2], gap_m: f64) -> [Vec3; 2] {
    let across = at[1] - at[0];
    let way = across.try_normalize(0.0).unwrap_or_default();
    if gap_m > 0.0 {
        [at[0] + way * out_m[0], at[1] - way * out_m[1]]
    } else {
        let shared = at[0] + way * out_m[0].min(across.norm());
        [shared; 2]
    }
}

fn between(legs: [&Leg; 2], along: [f64; 2], at: [Vec3; 2], gap_m: f64) -> Between {
    Between {
        gap_m,
        at,
        chainage_m: [0, 1].map(|k| legs[k].chainage_at(along[k])),
    }
}

/// Returns where along a leg's axis a point lies, from 0 to 1.
fn along_axis(body: &Body, p: Vec3, in_plan: bool) -> f64 {
    let flat = |v: Vec3| if in_plan { Vec3::new(v.x, v.y, 0.0) } else { v };
    let u = flat(body.ends[1] - body.ends[0]);
    let size = u.norm_squared();
    if size > 0.0 {
        (flat(p - body.ends[0]).dot(&u) / size).clamp(0.0, 1.0)
    } else {
        0.0
    }
}

/// Measures two bodies in space; `None` once they are known to be no nearer than what is in hand.
fn in_space(guess: Vec3, legs: [&Leg; 2], bodies: [Body; 2], in_hand: Option<Between>) -> Option<Between> {
    let balls = bodies[0].ball_m + bodies[1].ball_m;
    let stop = Stop {
        touching_m: balls,
        beyond_m: in_hand.map_or(f64::INFINITY, |so_far| so_far.gap_m + balls),
    };
    let space = apart_in_space_from(guess, &bodies[0], &Solid::Leg(bodies[1]), stop);
    let gap_m = if space.upper_m <= balls {
        0.0
    } else {
        zero_or(space.lower_m - balls)
    };
    if beyond(in_hand, gap_m) {
        return None;
    }
    let at = outside(
        [space.on_leg, space.on_solid],
        bodies.map(|body| body.ball_m),
        gap_m,
    );
    let along = [space.along, along_axis(&bodies[1], space.on_solid, false)];
    Some(between(legs, along, at, gap_m))
}

/// Measures two bodies in plan; the levels of the points are the axes'.
fn in_plan(legs: [&Leg; 2], bodies: [Body; 2]) -> Between {
    let flat = |body: &Body| body.ends.map(|p| Vec3::new(p.x, p.y, 0.0));
    let swept = |body: &Body| body.half.is_none() && body.out_m[0] == body.out_m[1];
    let discs = [disc_of_leg_m(&bodies[0]), disc_of_leg_m(&bodies[1])];
    let (lower_m, along, cores) = if bodies.iter().all(swept) {
        let axes = segments_apart(flat(&bodies[0]), flat(&bodies[1]));
        let at = [0, 1].map(|k| bodies[k].ends[0] + (bodies[k].ends[1] - bodies[k].ends[0]) * axes.along[k]);
        (axes.lower_m, axes.along, at)
    } else {
        let plan = apart_in_plan(&bodies[0], &Solid::Leg(bodies[1]), NO_STOP);
        let along = [plan.along, along_axis(&bodies[1], plan.on_solid, true)];
        (plan.lower_m, along, [plan.on_leg, plan.on_solid])
    };
    let gap_m = zero_or(lower_m - discs[0] - discs[1]);
    let level = cores.map(|p| p.z);
    let mut at = outside(cores.map(|p| Vec3::new(p.x, p.y, 0.0)), discs, gap_m);
    for k in 0..2 {
        at[k].z = level[k];
    }
    between(legs, along, at, gap_m)
}

/// Measures how high one of two bodies lies over the other, where they share plan.
fn height(legs: [&Leg; 2], bodies: [Body; 2], over: usize, least: &mut Option<Between>) {
    let under = 1 - over;
    let beyond_m = least.map_or(f64::INFINITY, |so_far| so_far.gap_m);
    let Some(plumb) = plumb_height(&bodies[under], &Solid::Leg(bodies[over]), beyond_m) else {
        return;
    };
    let mut at = [plumb.on_leg; 2];
    at[over] = plumb.on_solid;
    let mut along = [plumb.along; 2];
    along[over] = along_axis(&bodies[over], plumb.on_solid, true);
    offer(least, between(legs, along, at, plumb.lower_m));
}

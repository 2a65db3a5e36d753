//! The gaps between one tube and one excavation, measured and at worst.
//!
//! Both are unions of convex pieces, so each number is the least over the pairs. A pair is looked at closely only
//! when the boxes round it leave room for a smaller number than the one in hand.

use crate::Vec3;
use crate::convex::{Apart, Stop, apart_in_plan, apart_in_space_from, disc_of_leg_m, disc_of_solid_m};
use crate::dig::{Dig, Form};
use crate::facet::PlanBox;
use crate::leg::{Leg, Legs};
use crate::near::{near_part, overlapping_part};
use crate::plumb::plumb_height;
use crate::solid::{Body, Solid};
use crate::tube::Tube;

/// Why a gap has no number. Missing never acts as zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoNumber {
    /// The tube has a vertex without a known uncertainty.
    NotPlaced,
    /// No part of the tube lies over, in or under the excavation, seen in plan.
    NotUnder,
    /// Part of the tube lies, in plan, where the floor of the excavation is not known.
    FloorUnknown,
}

/// A gap, and where it was found: two points a person can check it by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// The gap, metres; a proven lower bound within 0.1 mm of the exact value.
    pub gap_m: f64,
    /// The point on the tube (on the grown tube for a worst gap).
    pub on_run: Vec3,
    /// The point on the excavation (on the grown one for a worst gap).
    pub on_dig: Vec3,
    /// The chainage of that place on the tube, metres.
    pub chainage_m: f64,
}

/// A stretch of a tube between two chainages, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Where it starts.
    pub from_m: f64,
    /// Where it ends.
    pub to_m: f64,
}

/// Everything measured between one tube and one excavation.
#[derive(Debug, Clone, PartialEq)]
pub struct TubeGaps {
    /// Shortest distance from tube to excavation; 0 exactly when they touch.
    pub shortest: Gap,
    /// The same from the grown tube to the grown excavation; never more than `shortest`.
    pub worst_shortest: Result<Gap, NoNumber>,
    /// Distance in plan from the tube to the excavation at its top; 0 is under, through or over it.
    pub horizontal: Gap,
    /// The same, both grown.
    pub worst_horizontal: Result<Gap, NoNumber>,
    /// Least height of the floor above the tube's top where they lie over one another; negative when the tube
    /// stands above the floor.
    pub vertical: Result<Gap, NoNumber>,
    /// The same, both grown.
    pub worst_vertical: Result<Gap, NoNumber>,
    /// Length of axis, metres, from which the tube reaches into the excavation.
    pub overlap_m: f64,
    /// The stretches of the grown tube within the asked distance, in plan, of the grown excavation at its top.
    ///
    /// A leg that is not placed counts whole.
    pub near: Vec<Stretch>,
    /// Lowest and highest level of the tube's top along `near`; `None` when nothing is near.
    pub top_level_m: Option<(f64, f64)>,
}

/// A tube whose gaps cannot be taken.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GapError {
    /// Fewer than two vertices.
    #[error("the tube has no leg; give at least two different vertices")]
    NoLeg,
    /// A coordinate, radius or growth is not a finite number, or is negative where it cannot be.
    #[error(
        "vertex {vertex} of the tube, its section or its growth is not a finite size; measure it again or withdraw it"
    )]
    NotFinite {
        /// Vertex, counted from 1.
        vertex: usize,
    },
}

/// Measures everything between a tube and an excavation.
///
/// `near_m` is the plan distance, grown tube to grown excavation, within which a stretch of the tube counts as near.
/// # Accuracy
/// Each gap is a proven lower bound, within 0.1 mm of the exact value (tests in `tests/gap_oracle.rs`). Stretches are
/// exact for round tubes; a bank's are those of the round tube about it.
/// # Errors
/// [`GapError`] when the tube has no leg or a size that is not finite.
pub fn tube_gaps(tube: &Tube, dig: &Dig, near_m: f64) -> Result<TubeGaps, GapError> {
    let legs = Legs::of(tube)?;
    let parts = near_parts(&legs, dig, near_m);
    Ok(gaps_of(tube, &legs, dig, &parts))
}

/// The same for a tube of which some part is near, and `None` for one that is nowhere near: at little cost.
///
/// # Errors
/// As [`tube_gaps`].
pub fn tube_gaps_if_near(tube: &Tube, dig: &Dig, near_m: f64) -> Result<Option<TubeGaps>, GapError> {
    let legs = Legs::of(tube)?;
    let parts = near_parts(&legs, dig, near_m);
    Ok((!parts.is_empty()).then(|| gaps_of(tube, &legs, dig, &parts)))
}

fn gaps_of(tube: &Tube, legs: &Legs<'_>, dig: &Dig, parts: &[NearPart]) -> TubeGaps {
    let mut away = Vec::with_capacity(legs.count());
    let stated = least_gaps(legs, dig, Form::Stated, Least::nothing_yet(), &mut away);
    let overlap_m = if stated.shortest.gap_m > 0.0 {
        0.0
    } else {
        overlap_m(legs, dig, &away)
    };
    let placed = tube.vertices.iter().all(|vertex| vertex.growth.is_some());
    // Grown contains stated: what is found for the one is never exceeded by the other.
    let grown = placed.then(|| least_gaps(legs, dig, Form::Grown, stated, &mut away));
    let top_level_m = top_level(legs, parts);
    let worst = |gap: fn(&Least) -> Gap| grown.as_ref().map(gap).ok_or(NoNumber::NotPlaced);
    TubeGaps {
        worst_shortest: worst(|g| g.shortest),
        worst_horizontal: worst(|g| g.horizontal),
        worst_vertical: grown.as_ref().map_or(Err(NoNumber::NotPlaced), |g| g.vertical),
        shortest: stated.shortest,
        horizontal: stated.horizontal,
        vertical: stated.vertical,
        overlap_m,
        near: stretches(legs, parts),
        top_level_m,
    }
}

/// The least of each number over the pairs seen so far.
#[derive(Debug, Clone, Copy)]
struct Least {
    shortest: Gap,
    horizontal: Gap,
    vertical: Result<Gap, NoNumber>,
}

impl Least {
    fn nothing_yet() -> Least {
        Least {
            shortest: NOWHERE,
            horizontal: NOWHERE,
            vertical: Err(NoNumber::NotUnder),
        }
    }
}

const NOWHERE: Gap = Gap {
    gap_m: f64::INFINITY,
    on_run: Vec3::new(0.0, 0.0, 0.0),
    on_dig: Vec3::new(0.0, 0.0, 0.0),
    chainage_m: 0.0,
};

/// Finds the least of each number, no more than what is in hand; `away` is left with each leg's distance in plan from the box round it all, at
/// least.
fn least_gaps(legs: &Legs<'_>, dig: &Dig, form: Form, mut least: Least, away: &mut Vec<f64>) -> Least {
    let body_of = |leg: &Leg| match form {
        Form::Stated => Some(leg.stated),
        Form::Grown => leg.grown,
    };
    let around = dig.plan_box(form);
    away.clear();
    away.extend((0..legs.count()).map(|i| {
        legs.plan_box(i, form == Form::Grown)
            .map_or(f64::INFINITY, |own| plan_box_gap(&own, &around))
    }));
    // The likeliest leg first: what it gives rules most of the others out.
    let first = (0..away.len())
        .min_by(|&i, &j| away[i].total_cmp(&away[j]))
        .unwrap_or(0);
    let rest = (0..away.len()).filter(|&i| i != first);
    for i in std::iter::once(first).chain(rest) {
        if away[i] > 0.0 && away[i] >= least.shortest.gap_m {
            continue;
        }
        let leg = legs.get(i);
        let Some(body) = body_of(&leg) else { continue };
        let (plan, levels) = (body.plan_box(), body.levels_m());
        for (solid, bounds) in dig.solids(form).iter().zip(dig.bounds(form)) {
            let horizontal_m = plan_box_gap(&plan, &bounds.plan);
            let upright_m = (bounds.lowest_m - levels.1)
                .max(levels.0 - bounds.highest_m)
                .max(0.0);
            let pair = Pair {
                horizontal_m,
                shortest_m: (horizontal_m * horizontal_m + upright_m * upright_m).sqrt(),
                lowest_m: bounds.lowest_m - levels.1,
            };
            measure(&leg, &body, solid, &pair, &mut least);
        }
    }
    least
}

/// What the boxes of a pair prove about its numbers, metres.
struct Pair {
    horizontal_m: f64,
    shortest_m: f64,
    lowest_m: f64,
}

fn measure(leg: &Leg, body: &Body, solid: &Solid, pair: &Pair, least: &mut Least) {
    let wants_horizontal = pair.horizontal_m < least.horizontal.gap_m;
    let wants_shortest = pair.shortest_m < least.shortest.gap_m;
    let may_lie_over = pair.horizontal_m <= 0.0
        && match least.vertical {
            Ok(gap) => pair.lowest_m < gap.gap_m,
            Err(NoNumber::FloorUnknown) => false,
            Err(_) => true,
        };
    if !(wants_horizontal || wants_shortest || may_lie_over) {
        return;
    }
    let discs = disc_of_leg_m(body) + disc_of_solid_m(solid);
    let stop = Stop {
        touching_m: 0.0,
        beyond_m: f64::INFINITY,
    };
    let plan = apart_in_plan(body, solid, stop);
    let horizontal_m = gap_of(plan.lower_m - discs);
    if horizontal_m < least.horizontal.gap_m {
        least.horizontal = plan_gap(leg, body, solid, &plan, horizontal_m);
    }
    if wants_shortest {
        shortest(leg, body, solid, &plan, horizontal_m, least);
    }
    if horizontal_m > 0.0 {
        return;
    }
    if !solid.floor_known() {
        least.vertical = Err(NoNumber::FloorUnknown);
    } else if least.vertical != Err(NoNumber::FloorUnknown) {
        let beyond_m = least.vertical.map_or(f64::INFINITY, |gap| gap.gap_m);
        if pair.lowest_m >= beyond_m {
            return;
        }
        if let Some(gap) = height_over_end(leg, body, solid) {
            least.vertical = Ok(gap);
            return;
        }
        if let Some(plumb) = plumb_height(body, solid, beyond_m)
            && plumb.lower_m < beyond_m
        {
            least.vertical = Ok(Gap {
                gap_m: plumb.lower_m,
                on_run: plumb.on_leg,
                on_dig: plumb.on_solid,
                chainage_m: leg.chainage_at(plumb.along),
            });
        }
    }
}

/// Returns the height of a level floor over the higher end of a leg, when that end lies within the floor's outline:
/// nothing of the leg stands higher, and no floor lies lower.
fn height_over_end(leg: &Leg, body: &Body, solid: &Solid) -> Option<Gap> {
    let Solid::Pit(pit) = solid else { return None };
    let top_m = |i: usize| body.ends[i].z + body.up_m[i] + body.ball_m;
    let end = usize::from(top_m(1) > top_m(0));
    let at = body.ends[end].xy();
    if body.half.is_some() || !pit.level_floor_holds(at) {
        return None;
    }
    let floor_m = pit.corners[0].z;
    Some(Gap {
        gap_m: floor_m - top_m(end),
        on_run: Vec3::new(at.x, at.y, top_m(end)),
        on_dig: Vec3::new(at.x, at.y, floor_m),
        chainage_m: leg.chainage_m[end],
    })
}

fn shortest(leg: &Leg, body: &Body, solid: &Solid, plan: &Apart, horizontal_m: f64, least: &mut Least) {
    // Level with the plumb side of an open solid, or beside one without a bottom, the plan tells it all.
    if let Solid::Pit(pit) = solid {
        let up_m = body.up_m[0] + plan.along * (body.up_m[1] - body.up_m[0]);
        let high_m = plan.on_leg.z + up_m;
        // Within the floor's own outline the top of the ball counts, and no batter does.
        let within = plan.upper_m <= 1e-12 && high_m + body.ball_m >= plan.on_solid.z;
        let beside = pit.disc_m == 0.0 && (within || high_m >= plan.on_solid.z + pit.batter_height_m);
        if beside || !pit.floor_known {
            if horizontal_m < least.shortest.gap_m {
                least.shortest = plan_gap(leg, body, solid, plan, horizontal_m);
                if horizontal_m <= 0.0 {
                    let side_m = if within { 0.0 } else { pit.batter_height_m };
                    let floor_m = if pit.floor_known {
                        plan.on_solid.z + side_m
                    } else {
                        f64::NEG_INFINITY
                    };
                    least.shortest.on_run.z = plan.on_leg.z.max(floor_m);
                    least.shortest.on_dig = least.shortest.on_run;
                }
            }
            return;
        }
    }
    if horizontal_m >= least.shortest.gap_m {
        return;
    }
    let balls = body.ball_m + solid.ball_m();
    let stop = Stop {
        touching_m: balls,
        beyond_m: least.shortest.gap_m + balls,
    };
    let space = apart_in_space_from(plan.on_solid - plan.on_leg, body, solid, stop);
    let gap_m = if space.upper_m <= balls {
        0.0
    } else {
        gap_of(space.lower_m - balls)
    };
    if gap_m < least.shortest.gap_m {
        let way = (space.on_solid - space.on_leg)
            .try_normalize(0.0)
            .unwrap_or_default();
        let on_run = space.on_leg + way * body.ball_m.min(space.upper_m);
        let on_dig = if gap_m > 0.0 {
            space.on_solid - way * solid.ball_m()
        } else {
            on_run
        };
        least.shortest = Gap {
            gap_m,
            on_run,
            on_dig,
            chainage_m: leg.chainage_at(space.along),
        };
    }
}

/// Returns the gap in plan with its two points: on the axis's level, and on the side or at the top of the solid.
fn plan_gap(leg: &Leg, body: &Body, solid: &Solid, plan: &Apart, gap_m: f64) -> Gap {
    let toward = Vec3::new(
        plan.on_solid.x - plan.on_leg.x,
        plan.on_solid.y - plan.on_leg.y,
        0.0,
    );
    let way = toward.try_normalize(0.0).unwrap_or_default();
    let mut on_run = plan.on_leg + way * disc_of_leg_m(body).min(plan.upper_m);
    let mut on_dig = if gap_m > 0.0 {
        plan.on_solid - way * disc_of_solid_m(solid)
    } else {
        on_run
    };
    on_dig.z = match solid {
        Solid::Pit(pit) if pit.floor_known => {
            // A grown tube reaches up and down: its point is taken as near level with the side as it goes.
            let up_m = body.up_m[0] + plan.along * (body.up_m[1] - body.up_m[0]);
            let top_m = plan.on_solid.z + pit.batter_height_m;
            on_run.z = on_run.z.max(top_m.min(on_run.z + up_m));
            on_run.z.max(top_m)
        }
        Solid::Pit(_) => on_run.z,
        Solid::Leg(_) => plan.on_solid.z,
    };
    Gap {
        gap_m,
        on_run,
        on_dig,
        chainage_m: leg.chainage_at(plan.along),
    }
}

/// Returns a gap of zero for what is zero but for rounding.
fn gap_of(value_m: f64) -> f64 {
    if value_m < 1e-9 { 0.0 } else { value_m }
}

fn plan_box_gap(one: &PlanBox, two: &PlanBox) -> f64 {
    let dx = (two.min.x - one.max.x).max(one.min.x - two.max.x).max(0.0);
    let dy = (two.min.y - one.max.y).max(one.min.y - two.max.y).max(0.0);
    (dx * dx + dy * dy).sqrt()
}

/// Returns the length of axis from which the tube reaches into any of the solids.
fn overlap_m(legs: &Legs<'_>, dig: &Dig, away: &[f64]) -> f64 {
    let mut total_m = 0.0;
    for leg in (0..legs.count())
        .filter(|&i| away[i] <= 0.0)
        .map(|i| legs.get(i))
        .filter(|leg| !leg.joint)
    {
        let plan = leg.stated.plan_box();
        let solids = dig.solids(Form::Stated).iter().zip(dig.bounds(Form::Stated));
        let mut parts: Vec<(f64, f64)> = solids
            .filter(|(_, bounds)| plan_box_gap(&plan, &bounds.plan) <= 0.0)
            .filter_map(|(solid, _)| overlapping_part(&leg.stated, solid))
            .collect();
        join(&mut parts, 0.0);
        let length_m = (leg.stated.ends[1] - leg.stated.ends[0]).norm();
        total_m += parts.iter().map(|(from, to)| to - from).sum::<f64>() * length_m;
    }
    total_m
}

/// A leg by its number, and a part of it from 0 to 1.
type NearPart = (usize, (f64, f64));

/// Returns the parts of legs that lie near any of the solids, in the order of the legs.
fn near_parts(legs: &Legs<'_>, dig: &Dig, near_m: f64) -> Vec<NearPart> {
    let mut all = Vec::new();
    let mut parts = Vec::new();
    let around = dig.plan_box(Form::Grown);
    for i in 0..legs.count() {
        let Some(plan) = legs.plan_box(i, true) else {
            all.push((i, (0.0, 1.0)));
            continue;
        };
        if plan_box_gap(&plan, &around) > near_m {
            continue;
        }
        let Some(body) = legs.get(i).grown else { continue };
        parts.clear();
        let solids = dig.solids(Form::Grown).iter().zip(dig.bounds(Form::Grown));
        parts.extend(
            solids
                .filter(|(_, bounds)| plan_box_gap(&plan, &bounds.plan) <= near_m)
                .filter_map(|(solid, _)| near_part(&body, solid, near_m)),
        );
        join(&mut parts, 0.0);
        all.extend(parts.iter().map(|&part| (i, part)));
    }
    all
}

fn stretches(legs: &Legs<'_>, parts: &[NearPart]) -> Vec<Stretch> {
    let chainages = |&(i, (from, to)): &NearPart| {
        let leg = legs.get(i);
        (leg.chainage_at(from), leg.chainage_at(to))
    };
    let mut all: Vec<(f64, f64)> = parts.iter().map(chainages).collect();
    join(&mut all, 1e-9);
    all.into_iter()
        .map(|(from_m, to_m)| Stretch { from_m, to_m })
        .collect()
}

fn top_level(legs: &Legs<'_>, parts: &[NearPart]) -> Option<(f64, f64)> {
    let mut levels: Option<(f64, f64)> = None;
    for &(i, (from, to)) in parts {
        let body = legs.get(i).stated;
        let [a, b] = body.ends;
        let side = body.half.map_or(0.0, |half| half[0].z.abs() + half[1].z.abs());
        for t in [from, to] {
            let top = a.z + t * (b.z - a.z) + body.ball_m + side;
            levels = Some(levels.map_or((top, top), |(low, high)| (low.min(top), high.max(top))));
        }
    }
    levels
}

/// Sorts stretches and joins those that overlap or lie within `slack` of one another.
fn join(parts: &mut Vec<(f64, f64)>, slack: f64) {
    parts.sort_by(|one, two| one.0.total_cmp(&two.0));
    parts.dedup_by(|next, kept| {
        let joined = next.0 <= kept.1 + slack;
        if joined {
            kept.1 = kept.1.max(next.1);
        }
        joined
    });
}

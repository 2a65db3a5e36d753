//! Gaps against a second method that shares no code with the first: the grown tube is the union of upright
//! slices `a(t) + ball + cylinder`, the pit the union of its floor points with the batter's profile over each; both
//! are searched through. A sample is a pair of points, so it can only be too far apart.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

extern crate coverbook_ground as ground;

mod cases;

use cases::{Dice, least, random_case, random_tube};
use ground::Vec2;
use ground::dig::{Dig, Form};
use ground::gap::{NoNumber, tube_gaps};
use ground::solid::{Body, Pit, Solid};
use ground::tube::{Section, Tube};

/// Distance in the upright half-plane from a slice (`flat_m` away at its nearest, its top `high` above the floor
/// point) to the profile of a pit over that floor point: only the top of the slice matters, the profile being wider
/// the higher; from there to the nearest place on the batter's line, or straight across or up.
fn profile_distance(flat_m: f64, high: f64, pit: &Pit) -> f64 {
    let at = |y: f64| {
        let aside = (flat_m - pit.batter * y.min(pit.batter_height_m)).max(0.0);
        aside.hypot((y - high).max(0.0))
    };
    let across = high.max(0.0);
    let foot = (high + pit.batter * flat_m) / (1.0 + pit.batter * pit.batter);
    let top = pit.batter_height_m.max(across);
    at(across).min(at(foot.clamp(across, top)))
}

/// The sampled distance from a round body to a pit with a known floor.
fn sampled_distance(body: &Body, pit: &Pit) -> f64 {
    let mut best = f64::INFINITY;
    let corner = |i: usize| pit.corners[i % pit.corners.len()];
    let fans = pit.corners.len().saturating_sub(2).max(1);
    for k in 0..fans {
        let (a, b, c) = (corner(0), corner(k + 1), corner(k + 2));
        let eval = |t: f64, s: f64, w: f64| {
            let p = a + (b - a) * s + (c - a) * w;
            let axis = body.ends[0] + (body.ends[1] - body.ends[0]) * t;
            let mix = |pair: [f64; 2]| pair[0] + (pair[1] - pair[0]) * t;
            let plan = (axis - p).xy().norm();
            // A disc in the floor's plane only occurs here on level floors.
            let flat = (plan - mix(body.out_m) - pit.out_m - pit.disc_m).max(0.0);
            let up = mix(body.up_m);
            (profile_distance(flat, axis.z + up - p.z, pit) - body.ball_m).max(0.0)
        };
        // Convex in the three together, hence in each after the rest are searched out.
        best = best.min(least(1.0, |t| least(1.0, |s| least(1.0 - s, |w| eval(t, s, w)))));
    }
    best
}

fn grown_bodies(tube: &Tube, grown: bool) -> Vec<Body> {
    let Section::Round { radius_m } = tube.section else {
        panic!("round tubes only")
    };
    tube.legs()
        .map(|(a, b)| {
            let (ga, gb) = (a.growth.unwrap(), b.growth.unwrap());
            let on = f64::from(u8::from(grown));
            Body {
                ends: [a.axis, b.axis],
                out_m: [ga.horizontal_m * on, gb.horizontal_m * on],
                up_m: [ga.vertical_m * on, gb.vertical_m * on],
                ball_m: radius_m,
                half: None,
            }
        })
        .collect()
}

fn oracle(tube: &Tube, dig: &Dig, form: Form) -> f64 {
    let mut best = f64::INFINITY;
    for body in grown_bodies(tube, form == Form::Grown) {
        for solid in dig.solids(form) {
            if let Solid::Pit(pit) = solid {
                best = best.min(sampled_distance(&body, pit));
            }
        }
    }
    best
}

#[test]
fn shortest_gaps_agree_with_sampled_solids() {
    let mut dice = Dice(7);
    let (mut apart, mut touching) = (0, 0);
    for case in 0..120 {
        let dig = random_case(&mut dice).dig();
        let tube = random_tube(&mut dice);
        let gaps = tube_gaps(&tube, &dig, 2.0).unwrap();
        for (form, ours) in [
            (Form::Stated, gaps.shortest),
            (Form::Grown, gaps.worst_shortest.unwrap()),
        ] {
            let sampled = oracle(&tube, &dig, form);
            // Ours is a proven lower bound: it may never exceed a pair of points.
            assert!(
                ours.gap_m <= sampled + 1e-9,
                "case {case} {form:?}: {} > {sampled}",
                ours.gap_m
            );
            // Golden sections end 3e-8 of a side of about 10 m apart in each parameter.
            assert!(
                ours.gap_m >= sampled - 1e-4,
                "case {case} {form:?}: {} < {sampled}",
                ours.gap_m
            );
            // The two points named are as far apart as the gap says.
            let apart_m = (ours.on_run - ours.on_dig).norm();
            assert!(
                (apart_m - ours.gap_m).abs() < 3e-6,
                "case {case} {form:?}: {ours:?} {apart_m}"
            );
            if ours.gap_m > 0.0 {
                apart += 1
            } else {
                touching += 1
            }
        }
    }
    assert!(apart > 40 && touching > 40, "{apart} {touching}");
}

/// Sampled lower envelope of a pit over a plan position, and sampled top of a body.
fn sampled_floor(x: Vec2, pit: &Pit) -> f64 {
    let mut lowest = f64::INFINITY;
    let corner = |i: usize| pit.corners[i % pit.corners.len()];
    const N: i32 = 40;
    for k in 0..pit.corners.len().saturating_sub(2).max(1) {
        let (a, b, c) = (corner(0), corner(k + 1), corner(k + 2));
        for i in 0..=N {
            for j in 0..=N - i {
                let p = a + (b - a) * (f64::from(i) / f64::from(N)) + (c - a) * (f64::from(j) / f64::from(N));
                let off = (x - p.xy()).norm() - pit.out_m - pit.disc_m;
                if off <= 0.0 {
                    lowest = lowest.min(p.z);
                } else if pit.batter > 0.0 && off <= pit.batter * pit.batter_height_m {
                    lowest = lowest.min(p.z + off / pit.batter);
                }
            }
        }
    }
    lowest
}

fn sampled_top(x: Vec2, body: &Body) -> f64 {
    let mut highest = f64::NEG_INFINITY;
    for i in 0..=200 {
        let t = f64::from(i) / 200.0;
        let axis = body.ends[0] + (body.ends[1] - body.ends[0]) * t;
        let mix = |pair: [f64; 2]| pair[0] + (pair[1] - pair[0]) * t;
        let off = ((x - axis.xy()).norm() - mix(body.out_m)).max(0.0);
        if off <= body.ball_m {
            highest = highest.max(axis.z + mix(body.up_m) + (body.ball_m.powi(2) - off * off).sqrt());
        }
    }
    highest
}

#[test]
fn vertical_gaps_agree_with_sampled_floors_and_tops() {
    let mut dice = Dice(11);
    let mut found = 0;
    for case in 0..60 {
        let dig = random_case(&mut dice).dig();
        let tube = random_tube(&mut dice);
        let gaps = tube_gaps(&tube, &dig, 2.0).unwrap();
        for (form, ours) in [(Form::Stated, gaps.vertical), (Form::Grown, gaps.worst_vertical)] {
            let mut sampled = f64::INFINITY;
            for body in grown_bodies(&tube, form == Form::Grown) {
                for solid in dig.solids(form) {
                    let Solid::Pit(pit) = solid else { continue };
                    let (b, p) = (body.plan_box(), pit.plan_box());
                    let (low, high) = (b.min.sup(&p.min), b.max.inf(&p.max));
                    if low.x > high.x || low.y > high.y {
                        continue;
                    }
                    for i in 0..=30 {
                        for j in 0..=30 {
                            let x = Vec2::new(
                                low.x + (high.x - low.x) * f64::from(i) / 30.0,
                                low.y + (high.y - low.y) * f64::from(j) / 30.0,
                            );
                            let height = sampled_floor(x, pit) - sampled_top(x, &body);
                            if height.is_finite() {
                                sampled = sampled.min(height);
                            }
                        }
                    }
                }
            }
            match ours {
                Ok(ours) => {
                    assert!(
                        ours.gap_m <= sampled + 1e-9,
                        "case {case} {form:?}: {} > {sampled}",
                        ours.gap_m
                    );
                    let plumb = ours.on_dig - ours.on_run;
                    assert!(plumb.xy().norm() < 1e-6, "case {case} {form:?}: {ours:?}");
                    assert!(
                        (plumb.z - ours.gap_m).abs() < 1e-4,
                        "case {case} {form:?}: {ours:?}"
                    );
                    found += 1;
                }
                Err(why) => {
                    assert_eq!(why, NoNumber::NotUnder);
                    assert_eq!(sampled, f64::INFINITY, "case {case} {form:?}");
                }
            }
        }
    }
    assert!(found > 40, "{found}");
}

//! A tube widened by what was not shot holds every run that could lie there.
//!
//! Oracle: brute force. Runs are made at random (straights and a true arc; chains of straights that bend one way; legs
//! with slack), a few places on them are shot without error, a tube is laid through those, and every other place of
//! the run must lie within it. Whether it does is asked of the definition of the grown leg itself: the hull of two
//! upright cylinders is the union of the cylinders between them, whose sizes go linearly. Each test also asks that some
//! run comes close to the outside, so that a bound that is merely wide does not pass for a proven one.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use std::f64::consts::PI;

use coverbook_ground::Vec3;
use coverbook_ground::axis::{AxisFinding, Shot, Sizes, Touched};
use coverbook_ground::bend::{BendMark, BendPart};
use coverbook_ground::bow::bow_m;
use coverbook_ground::lay::{LaidTube, lay_tube};
use coverbook_ground::tube::Section;
use coverbook_ground::unshot::{unshot_arc_m, unshot_bend_m};

/// Places within this of the outside count as inside: chords of arcs leave them by 0.05 mm, which is in the radius.
const ROUNDING_M: f64 = 6e-5;

/// A small generator with a fixed seed (xorshift64*, constants from memory), so that the same runs are made everywhere.
struct Dice(u64);

impl Dice {
    fn share(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 11) as f64 / (1u64 << 53) as f64
    }
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }
    /// A plane through the site, tilted any way: two directions square to each other.
    fn plane(&mut self) -> (Vec3, Vec3) {
        let mut any = || {
            Vec3::new(
                self.between(-1.0, 1.0),
                self.between(-1.0, 1.0),
                self.between(-1.0, 1.0),
            )
        };
        let u = any().normalize();
        let w = any();
        (u, (w - u * w.dot(&u)).normalize())
    }
}

fn shot(at: Vec3, part: Option<BendPart>, radius_m: Option<f64>) -> Shot {
    Shot {
        position: at,
        touched: Touched::Centre,
        bend: part.map(|part| BendMark { part, radius_m }),
        sigma_h_m: Some(0.0),
        sigma_v_m: Some(0.0),
    }
}

fn lay(shots: &[Shot], bows_m: &[f64]) -> LaidTube {
    let sizes = Sizes {
        section: Section::Round { radius_m: 0.05 },
        inside_radius_m: None,
    };
    lay_tube(shots, &sizes, bows_m).unwrap()
}

/// How far a place of the axis lies outside the growth of a laid tube, metres; negative inside.
fn outside_m(laid: &LaidTube, p: Vec3) -> f64 {
    let mut least = f64::INFINITY;
    for (a, b) in laid.tube.legs() {
        let (at_a, at_b) = (a.growth.unwrap(), b.growth.unwrap());
        let over = |t: f64| {
            let off = p - (a.axis + (b.axis - a.axis) * t);
            let mix = |x: f64, y: f64| x + (y - x) * t;
            let flat = off.xy().norm() - mix(at_a.horizontal_m, at_b.horizontal_m);
            flat.max(off.z.abs() - mix(at_a.vertical_m, at_b.vertical_m))
        };
        // Convex along the leg: thirds close in on the least.
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let (one, two) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
            if over(one) <= over(two) {
                high = two
            } else {
                low = one
            }
        }
        least = least.min(over((low + high) / 2.0));
    }
    least
}

/// A run of straights and one arc in a plane, by distance along it.
struct Swept {
    plane: (Vec3, Vec3),
    before_m: f64,
    radius_m: f64,
    turn_rad: f64,
}

impl Swept {
    fn arc_m(&self) -> f64 {
        self.radius_m * self.turn_rad
    }
    fn at(&self, along_m: f64) -> Vec3 {
        let (x, y) = if along_m <= self.before_m {
            (along_m, 0.0)
        } else {
            let angle = ((along_m - self.before_m) / self.radius_m).min(self.turn_rad);
            let rest = (along_m - self.before_m - self.arc_m()).max(0.0);
            (
                self.before_m + self.radius_m * angle.sin() + rest * angle.cos(),
                self.radius_m * (1.0 - angle.cos()) + rest * angle.sin(),
            )
        };
        Vec3::new(20.0, -7.0, 3.0) + self.plane.0 * x + self.plane.1 * y
    }
}

/// Walks a run and gives the farthest that it comes outside the tube.
fn farthest_outside(laid: &LaidTube, run: impl Fn(f64) -> Vec3, from_m: f64, to_m: f64) -> f64 {
    (0..=160)
        .map(|k| outside_m(laid, run(from_m + (to_m - from_m) * f64::from(k) / 160.0)))
        .fold(f64::NEG_INFINITY, f64::max)
}

#[test]
fn an_arc_shot_anywhere_and_marked_nowhere_lies_within_the_widened_tube() {
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
    let (mut marked_legs, mut small_turns) = (0, 0);
    for trial in 0..600 {
        let run = Swept {
            plane: dice.plane(),
            before_m: dice.between(0.0, 8.0),
            radius_m: dice.between(0.1, 6.0),
            turn_rad: if trial % 3 == 0 {
                dice.between(0.02, 0.4)
            } else {
                dice.between(0.4, 2.4)
            },
        };
        let to_m = run.before_m + run.arc_m() + dice.between(0.0, 8.0);
        // One shot somewhere on the arc, and one on each side of it wherever it falls.
        let on_arc = run.before_m + run.arc_m() * dice.between(0.02, 0.98);
        let first = on_arc * dice.between(0.0, 0.95);
        let last = on_arc + (to_m - on_arc) * dice.between(0.05, 1.0);
        let places = [first, on_arc, last].map(|s| shot(run.at(s), None, None));
        if places
            .windows(2)
            .any(|p| (p[0].position - p[1].position).norm() < 0.02)
        {
            continue;
        }
        let laid = lay(&places, &[0.0, 0.0]);
        let [back, on] = [0, 1].map(|k| places[k + 1].position - places[k].position);
        let shown = back.cross(&on).norm().atan2(back.dot(&on));
        let expected = back.norm().max(on.norm()) / 2.0 * (shown / 2.0).tan();
        let widest = laid.unshot_m.iter().fold(0.0, |a: f64, b| a.max(*b));
        assert!((widest - expected).abs() <= 1e-6, "{widest} for {expected}");
        // Above 15 degrees it is shown back too; below, the run is widened all the same.
        match laid.findings[..] {
            [
                AxisFinding::UnmarkedTurn {
                    shot: 2,
                    off_m,
                    turn_rad,
                },
            ] => {
                marked_legs += 1;
                assert!((off_m - expected).abs() < 1e-9 && turn_rad > 15f64.to_radians());
            }
            _ => {
                small_turns += 1;
                assert!(laid.findings.is_empty() && shown <= 15f64.to_radians());
            }
        }
        let over = farthest_outside(&laid, |s| run.at(s), first, last);
        assert!(over <= ROUNDING_M, "{over} m outside, turn {shown}, {expected}");
    }
    assert!(
        marked_legs > 100 && small_turns > 50,
        "{marked_legs}, {small_turns}"
    );
}

/// A chain of straights from the origin to `(chord, 0)` that bends one way by `turn` in all: its sides by direction.
fn one_way_chain(dice: &mut Dice, chord_m: f64, turn_rad: f64) -> Vec<(f64, f64)> {
    let sides = 2 + (dice.share() * 5.0) as usize;
    let mut angles: Vec<f64> = (0..sides).map(|_| dice.between(0.0, turn_rad)).collect();
    angles.sort_by(f64::total_cmp);
    (angles[0], angles[sides - 1]) = (0.0, turn_rad);
    let lengths: Vec<f64> = (0..sides).map(|_| dice.share() + 0.01).collect();
    let mut at = (0.0, 0.0);
    let mut corners = vec![at];
    for (angle, length) in angles.iter().zip(&lengths) {
        at = (at.0 + length * angle.cos(), at.1 + length * angle.sin());
        corners.push(at);
    }
    let whole = at.0.hypot(at.1);
    let (cos, sin) = (at.0 / whole, at.1 / whole);
    let scale = chord_m / whole;
    // Turned so that its ends lie on the chord; it then bulges to the negative side.
    corners
        .iter()
        .map(|(x, y)| ((x * cos + y * sin) * scale, (y * cos - x * sin) * scale))
        .collect()
}

#[test]
fn a_leg_that_bends_one_way_by_the_turn_at_its_end_lies_within_the_widened_tube() {
    let mut dice = Dice(0x1234_5678_9abc_def1);
    let mut closest = f64::NEG_INFINITY;
    for _ in 0..400 {
        let (u, v) = dice.plane();
        let (chord, next) = (dice.between(0.3, 12.0), dice.between(0.3, 12.0));
        let turn = dice.between(0.01, 2.4);
        let corner = Vec3::new(4.0, 5.0, 6.0) + u * chord;
        let onward = corner + (u * turn.cos() + v * turn.sin()) * next;
        let laid = lay(
            &[
                shot(corner - u * chord, None, None),
                shot(corner, None, None),
                shot(onward, None, None),
            ],
            &[0.0, 0.0],
        );
        let mut chain = one_way_chain(&mut dice, chord, turn);
        if dice.share() < 0.3 {
            // The worst of all: two sides of the same length.
            chain = vec![
                (0.0, 0.0),
                (chord / 2.0, -chord / 2.0 * (turn / 2.0).tan()),
                (chord, 0.0),
            ];
        }
        for pair in chain.windows(2) {
            for k in 0..=20 {
                let t = f64::from(k) / 20.0;
                let (x, y) = (
                    pair[0].0 + (pair[1].0 - pair[0].0) * t,
                    pair[0].1 + (pair[1].1 - pair[0].1) * t,
                );
                let over = outside_m(&laid, corner - u * chord + u * x + v * y);
                assert!(
                    over <= 1e-9,
                    "{over} m outside at {x}, {y} of {chord}, turn {turn}"
                );
                if (v.z.abs() < 0.05 || v.z.abs() > 0.98) && over > closest {
                    closest = over;
                }
            }
        }
    }
    assert!(closest > -0.02, "no run came near the outside: {closest}");
}

#[test]
fn a_bend_shot_at_its_ends_alone_lies_within_the_widened_arc() {
    let mut dice = Dice(0x0dd0_feed_5eed_0001);
    let mut closest = f64::NEG_INFINITY;
    for trial in 0..300 {
        let (u, v) = if trial % 2 == 0 {
            (Vec3::x(), Vec3::y())
        } else {
            dice.plane()
        };
        let chord = dice.between(0.1, 6.0);
        let turn = dice.between(0.1, 2.5);
        let mut chain = one_way_chain(&mut dice, chord, turn);
        if trial % 3 == 0 {
            chain = vec![
                (0.0, 0.0),
                (chord / 2.0, -chord / 2.0 * (turn / 2.0).tan()),
                (chord, 0.0),
            ];
        }
        let at = |(x, y): (f64, f64)| Vec3::new(-3.0, 8.0, 1.0) + u * x + v * y;
        let along = |a: (f64, f64), b: (f64, f64)| (at(b) - at(a)).normalize();
        let (start, end) = (at(chain[0]), at(chain[chain.len() - 1]));
        let back = along(chain[0], chain[1]);
        let on = along(chain[chain.len() - 2], chain[chain.len() - 1]);
        let laid = lay(
            &[
                shot(start - back * 3.0, None, None),
                shot(start, Some(BendPart::Start), None),
                shot(end, Some(BendPart::End), None),
                shot(end + on * 2.0, None, None),
            ],
            &[0.0; 3],
        );
        let bound = chord / 2.0 * ((turn / 2.0).tan() - (turn / 4.0).tan());
        assert!((laid.unshot[1].turn_m - bound).abs() < 1e-9 * (1.0 + bound));
        assert_eq!((laid.unshot[0].turn_m, laid.unshot[2].turn_m), (0.0, 0.0));
        for pair in chain.windows(2) {
            for k in 0..=20 {
                let t = f64::from(k) / 20.0;
                let p = (
                    pair[0].0 + (pair[1].0 - pair[0].0) * t,
                    pair[0].1 + (pair[1].1 - pair[0].1) * t,
                );
                let over = outside_m(&laid, at(p));
                assert!(over <= ROUNDING_M, "{over} m outside, chord {chord}, turn {turn}");
                closest = closest.max(over);
            }
        }
    }
    assert!(closest > -1e-4, "no bend came near the outside: {closest}");
}

#[test]
fn a_bend_is_as_wide_as_what_was_not_shot_and_the_straight_beside_it_is_not() {
    // Closed form: a right angle of radius 0.9 m; (L/2) tan(A/2) is 0.9 m / sqrt 2 off the chord, 0.3728 m off the arc.
    let end = Vec3::new(0.9, 0.9, 0.0);
    let marked = |radius| {
        lay(
            &[
                shot(Vec3::new(-6.0, 0.0, 0.0), None, None),
                shot(Vec3::zeros(), Some(BendPart::Start), radius),
                shot(end, Some(BendPart::End), None),
                shot(end + Vec3::y() * 6.0, None, None),
            ],
            &[0.0; 3],
        )
    };
    let laid = marked(None);
    assert!(
        matches!(laid.findings[..], [AxisFinding::BendNotShot { shot: 2, off_m, .. }] if (off_m - 0.372_8).abs() < 1e-4)
    );
    assert!((unshot_bend_m(0.9 * 2f64.sqrt(), PI / 2.0) - 0.9 / 2f64.sqrt()).abs() < 1e-12);
    for (vertex, unshot_m) in laid.tube.vertices.iter().zip(&laid.unshot_m) {
        assert_eq!(vertex.growth.unwrap().horizontal_m, *unshot_m);
        let on_bend = vertex.axis.x > -1e-9 && vertex.axis.y < 0.9 + 1e-9;
        let beside = vertex.axis.x < -1.5e-3 || vertex.axis.y > 0.9 + 1.5e-3;
        assert!(!on_bend || (unshot_m - 0.372_8).abs() < 1e-4, "{vertex:?}");
        assert!(!beside || *unshot_m == 0.0, "{vertex:?}");
    }
    // Its radius says how it runs, and so does its middle.
    assert!(marked(Some(0.9)).unshot_m.iter().all(|c| *c < 1e-9));
    // 5 % off: the two arcs over the chord differ by 0.0117 m: R - sqrt(R^2 - L^2 / 4) for 0.945 and 0.9 m.
    let near = marked(Some(0.945)).unshot[1].turn_m;
    let sagitta = |r: f64| r - (r * r - 0.405).sqrt();
    assert!(
        (near - (sagitta(0.9) - sagitta(0.945))).abs() < 1e-12 && near > 0.01,
        "{near}"
    );
    // A radius that cannot be is no radius.
    assert_eq!(
        marked(Some(0.2)).unshot[1].turn_m,
        unshot_arc_m(0.9, PI / 2.0, None)
    );
}

#[test]
fn a_turn_in_a_pit_leaves_nothing_open_and_one_right_back_has_no_bound() {
    let legs = |part| {
        lay(
            &[
                shot(Vec3::zeros(), None, None),
                shot(Vec3::new(20.0, 0.0, 0.0), part, None),
                shot(Vec3::new(20.0, 20.0, 0.0), None, None),
            ],
            &[0.0; 2],
        )
    };
    assert!(legs(Some(BendPart::Corner)).unshot_m.iter().all(|c| *c == 0.0));
    assert!(legs(Some(BendPart::Corner)).findings.is_empty());
    // 20 m and a right angle nobody shot: up to 10 m.
    assert!((legs(None).unshot[0].turn_m - 10.0).abs() < 1e-9);
    // A loop that comes back on itself may have gone any distance.
    let back = lay(
        &[
            shot(Vec3::zeros(), None, None),
            shot(Vec3::new(5.0, 0.0, 0.0), Some(BendPart::Start), None),
            shot(Vec3::new(5.0, 1.0, 0.0), Some(BendPart::End), None),
            shot(Vec3::new(0.0, 1.2, 0.0), None, None),
        ],
        &[0.0; 3],
    );
    assert_eq!(back.unshot[1].turn_m, f64::INFINITY);
    assert!(back.tube.vertices.iter().any(|v| v.growth.is_none()));
    assert!(back.tube.vertices[0].growth.is_some());
}

/// A leg with slack goes out and comes back by any way no longer than it is: two straights over a random point of the
/// spheroid, and a smooth wave of the same length.
#[test]
fn a_leg_with_slack_lies_within_the_bowed_tube_and_the_shots_stay_sharp() {
    let mut dice = Dice(0xb0b5_1ac4_0000_0003);
    let mut closest = f64::NEG_INFINITY;
    for trial in 0..400 {
        let (u, v) = if trial % 2 == 0 {
            (Vec3::x(), Vec3::z())
        } else {
            dice.plane()
        };
        let (chord, slack) = (dice.between(1.0, 30.0), dice.between(0.000_2, 0.01));
        let bow = bow_m(chord, slack);
        let from = Vec3::new(1.0, 2.0, 3.0);
        let laid = lay(
            &[
                shot(from, None, None),
                shot(from + u * chord, None, None),
                shot(from + u * chord * 2.0, None, None),
            ],
            &[bow, bow],
        );
        let whole = chord * (1.0 + slack);
        // A point of the spheroid: its distances to the two shots make up the whole length.
        let angle = if trial % 4 == 0 {
            PI / 2.0
        } else {
            dice.between(0.0, PI)
        };
        let tip = (chord / 2.0 + whole / 2.0 * angle.cos(), bow * angle.sin());
        assert!((tip.0.hypot(tip.1) + (chord - tip.0).hypot(tip.1) - whole).abs() < 1e-9);
        for k in 0..=40 {
            let t = f64::from(k) / 20.0;
            let (x, y) = if t <= 1.0 {
                (tip.0 * t, tip.1 * t)
            } else {
                (tip.0 + (chord - tip.0) * (t - 1.0), tip.1 * (2.0 - t))
            };
            let over = outside_m(&laid, from + u * x + v * y);
            assert!(
                over <= 1e-9,
                "{over} m outside at {x}, {y}, chord {chord}, bow {bow}"
            );
            closest = closest.max(over);
        }
        // At a shot the leg is narrow: c^2 / hypot(c, L/2), the half-width of the spheroid at its focus.
        let at_shot = laid.unshot_m[0];
        assert!((at_shot - slack * (2.0 + slack) / (1.0 + slack) * chord / 2.0).abs() < 1e-9);
        assert!(at_shot < bow && laid.unshot_m.iter().any(|c| (c - bow).abs() < 1e-12));
        assert_eq!(laid.shot_chainage_m.len(), 3);
    }
    assert!(closest > -1e-9, "no leg came near the outside: {closest}");
}

#[test]
fn a_rigid_leg_kinked_within_its_allowance_lies_within_the_bowed_tube() {
    let mut dice = Dice(0x0123_4567_89ab_cdef);
    for _ in 0..300 {
        let (u, v) = dice.plane();
        let (chord, bow) = (dice.between(0.5, 12.0), dice.between(0.002, 0.2));
        let laid = lay(
            &[shot(Vec3::zeros(), None, None), shot(u * chord, None, None)],
            &[bow],
        );
        // Kinks at random, none beyond the allowance nor steeper than 45 degrees from the shot.
        for _ in 0..40 {
            let x = dice.between(0.0, chord);
            let y = dice.between(-1.0, 1.0) * bow.min(x).min(chord - x);
            assert!(outside_m(&laid, u * x + v * y) <= 1e-9);
        }
    }
}

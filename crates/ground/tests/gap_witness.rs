//! Banks and bores: the two points named with a gap lie in the two solids, so the gap is no smaller than it must be;
//! and no pair of points thrown into the solids is nearer, so it is no larger.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

extern crate coverbook_ground as ground;

mod cases;

use cases::{Dice, random_case, random_tube};
use ground::Vec3;
use ground::dig::{Dig, DigShape, DigSpec, Form};
use ground::gap::tube_gaps;
use ground::solid::{Pit, Solid};
use ground::tube::{Section, Tube};

/// Points named by an answer lie in their solids to this, metres.
const NAMED_M: f64 = 1e-5;

struct Slab {
    from: Vec3,
    way: Vec3,
    across: Vec3,
    up: Vec3,
    length_m: f64,
}

/// The boxes of a bank, worked out afresh: level across, square to the axis.
fn slabs(tube: &Tube) -> Vec<Slab> {
    let mut across = tube
        .legs()
        .map(|(a, b)| Vec3::z().cross(&(b.axis - a.axis)))
        .find(|side| side.norm() > 1e-3)
        .unwrap();
    tube.legs()
        .map(|(a, b)| {
            let whole = b.axis - a.axis;
            let side = Vec3::z().cross(&whole);
            if side.norm() > 1e-3 {
                across = side;
            }
            let (way, across) = (whole.normalize(), across.normalize());
            Slab {
                from: a.axis,
                way,
                across,
                up: way.cross(&across),
                length_m: whole.norm(),
            }
        })
        .collect()
}

fn in_bank(p: Vec3, tube: &Tube, half: [f64; 2]) -> bool {
    let in_box = slabs(tube).iter().any(|slab| {
        let d = p - slab.from;
        let along = d.dot(&slab.way);
        along > -NAMED_M
            && along < slab.length_m + NAMED_M
            && d.dot(&slab.across).abs() < half[0] + NAMED_M
            && d.dot(&slab.up).abs() < half[1] + NAMED_M
    });
    let joints = &tube.vertices[1..tube.vertices.len() - 1];
    in_box
        || joints
            .iter()
            .any(|joint| (p - joint.axis).norm() < half[0].hypot(half[1]) + NAMED_M)
}

fn in_pit(p: Vec3, pit: &Pit) -> bool {
    let c = &pit.corners;
    let inside = (0..c.len()).all(|i| {
        let (a, b) = (c[i].xy(), c[(i + 1) % c.len()].xy());
        (b - a).perp(&(p.xy() - a)) >= -NAMED_M * (b - a).norm()
    });
    // The corners lie in one plane.
    let normal = (c[1] - c[0]).cross(&(c[2] - c[0]));
    inside && normal.dot(&(p - c[0])) >= -NAMED_M * normal.norm()
}

fn pits(dig: &Dig) -> Vec<&Pit> {
    dig.solids(Form::Stated)
        .iter()
        .filter_map(|solid| match solid {
            Solid::Pit(pit) => Some(pit),
            Solid::Leg(_) => None,
        })
        .collect()
}

#[test]
fn the_points_named_for_a_bank_are_its_own_and_none_are_nearer() {
    let mut dice = Dice(31);
    let (mut apart, mut touching) = (0, 0);
    for case in 0..300 {
        let mut stated = random_case(&mut dice);
        stated.batter = None;
        if matches!(stated.shape, DigShape::Point { .. }) {
            continue;
        }
        let dig = stated.dig();
        let mut tube = random_tube(&mut dice);
        let half = [dice.between(0.05, 0.8), dice.between(0.05, 0.5)];
        tube.section = Section::Bank {
            half_width_m: half[0],
            half_height_m: half[1],
        };
        if tube.legs().all(|(a, b)| (b.axis - a.axis).xy().norm() < 1e-3) {
            continue;
        }
        let gap = tube_gaps(&tube, &dig, 2.0).unwrap().shortest;
        assert!(in_bank(gap.on_run, &tube, half), "case {case}: {gap:?}");
        assert!(
            pits(&dig).iter().any(|pit| in_pit(gap.on_dig, pit)),
            "case {case}: {gap:?}"
        );
        assert!(
            ((gap.on_run - gap.on_dig).norm() - gap.gap_m).abs() < NAMED_M,
            "case {case}: {gap:?}"
        );
        for slab in slabs(&tube) {
            for pit in pits(&dig) {
                for _ in 0..200 {
                    let p = slab.from
                        + slab.way * (slab.length_m * dice.roll())
                        + slab.across * dice.between(-half[0], half[0])
                        + slab.up * dice.between(-half[1], half[1]);
                    let (a, b, c) = (pit.corners[0], pit.corners[1], pit.corners[2]);
                    let (s, t) = (dice.roll(), dice.roll());
                    let (s, t) = if s + t > 1.0 { (1.0 - s, 1.0 - t) } else { (s, t) };
                    let mut q = a + (b - a) * s + (c - a) * t;
                    q.z = q.z.max(p.z);
                    assert!(
                        (p - q).norm() >= gap.gap_m - 1e-9,
                        "case {case}: {gap:?} {p:?} {q:?}"
                    );
                }
            }
        }
        if gap.gap_m > 0.0 {
            apart += 1
        } else {
            touching += 1
        }
    }
    assert!(apart > 80 && touching > 30, "{apart} {touching}");
}

fn nearest_on_axis(p: Vec3, axis: &[Vec3]) -> f64 {
    axis.windows(2)
        .map(|pair| {
            let d = pair[1] - pair[0];
            let t = ((p - pair[0]).dot(&d) / d.norm_squared()).clamp(0.0, 1.0);
            (p - pair[0] - d * t).norm()
        })
        .fold(f64::INFINITY, f64::min)
}

#[test]
fn a_bore_is_as_far_as_the_two_axes_less_the_two_radii() {
    let mut dice = Dice(37);
    for case in 0..200 {
        let tube = random_tube(&mut dice);
        let Section::Round { radius_m: own } = tube.section else {
            panic!("round tubes only")
        };
        let place = |dice: &mut Dice| {
            Vec3::new(
                dice.between(-6.0, 9.0),
                dice.between(-6.0, 9.0),
                dice.between(4.0, 11.0),
            )
        };
        let axis = vec![place(&mut dice), place(&mut dice), place(&mut dice)];
        let radius_m = dice.between(0.05, 0.6);
        let dig = Dig::new(&DigSpec {
            shape: DigShape::Bore {
                axis: axis.clone(),
                radius_m,
                deviation_m: 0.3,
            },
            floor: None,
            surface: None,
            batter: None,
            set_out_m: 0.1,
            over_dig_m: 0.0,
            surface_u95_m: 0.0,
        });
        let gaps = tube_gaps(&tube, &dig.unwrap(), 2.0).unwrap();
        let gap = gaps.shortest;
        let tube_axis: Vec<Vec3> = tube.vertices.iter().map(|vertex| vertex.axis).collect();
        assert!(
            nearest_on_axis(gap.on_run, &tube_axis) < own + NAMED_M,
            "case {case}: {gap:?}"
        );
        assert!(
            nearest_on_axis(gap.on_dig, &axis) < radius_m + NAMED_M,
            "case {case}: {gap:?}"
        );
        assert!(
            ((gap.on_run - gap.on_dig).norm() - gap.gap_m).abs() < NAMED_M,
            "case {case}: {gap:?}"
        );
        for pair in tube_axis.windows(2) {
            for i in 0..=400 {
                let p = pair[0] + (pair[1] - pair[0]) * (f64::from(i) / 400.0);
                let there = (nearest_on_axis(p, &axis) - own - radius_m).max(0.0);
                assert!(there >= gap.gap_m - 1e-9, "case {case}: {gap:?} {there}");
            }
        }
        assert!(gaps.worst_shortest.unwrap().gap_m <= gap.gap_m);
    }
}

//! Meetings of two tubes against dense sampling that shares no code with them, closed forms, and one another.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

extern crate coverbook_ground as ground;

mod cases;

use cases::{Dice, least};
use ground::Vec3;
use ground::gap::NoNumber;
use ground::meeting::{Meeting, MeetingKind, Which, meetings};
use ground::separation::{all_meetings, leg_boxes, meetings_of_one};
use ground::tube::{Growth, Section, Tube, TubeVertex};

fn tube(points: &[[f64; 3]], radius_m: f64, grown: Option<(f64, f64)>) -> Tube {
    let mut chainage_m = 0.0;
    let vertices = points.iter().enumerate().map(|(i, &p)| {
        let axis = Vec3::from(p);
        if i > 0 {
            chainage_m += (axis - Vec3::from(points[i - 1])).xy().norm();
        }
        TubeVertex {
            axis,
            chainage_m,
            growth: grown.map(|(horizontal_m, vertical_m)| Growth {
                horizontal_m,
                vertical_m,
            }),
        }
    });
    Tube {
        vertices: vertices.collect(),
        section: Section::Round { radius_m },
    }
}

fn bank(points: &[[f64; 3]], half_width_m: f64, half_height_m: f64) -> Tube {
    Tube {
        section: Section::Bank {
            half_width_m,
            half_height_m,
        },
        ..tube(points, 0.0, Some((0.0, 0.0)))
    }
}

/// A short chain of legs in a crowded 8 m cube, each vertex with a growth of its own; some legs level, parallel to an
/// axis, plumb, or a hair long.
fn random_tube(dice: &mut Dice) -> Tube {
    let mut at = Vec3::new(
        dice.between(0.0, 6.0),
        dice.between(0.0, 6.0),
        dice.between(0.0, 1.5),
    );
    let mut chainage_m = 0.0;
    let count = 2 + (dice.roll() * 4.0) as usize;
    let vertices = (0..count).map(|_| {
        let vertex = TubeVertex {
            axis: at,
            chainage_m,
            growth: Some(Growth {
                horizontal_m: dice.between(0.0, 0.2),
                vertical_m: dice.between(0.0, 0.2),
            }),
        };
        let mut step = Vec3::new(
            dice.between(-4.0, 4.0),
            dice.between(-4.0, 4.0),
            dice.between(-0.5, 0.5),
        );
        if dice.one_in(4) {
            step = Vec3::new(dice.between(1.0, 4.0), 0.0, 0.0);
        } else if dice.one_in(8) {
            step = Vec3::new(0.0, 0.0, dice.between(0.3, 1.5));
        } else if dice.one_in(8) {
            step *= 1e-6;
        }
        chainage_m += step.xy().norm();
        at += step;
        vertex
    });
    Tube {
        vertices: vertices.collect(),
        section: Section::Round {
            radius_m: dice.between(0.01, 0.3),
        },
    }
}

#[derive(Clone, Copy)]
enum Numbers {
    Shortest,
    WorstShortest,
    Horizontal,
    WorstHorizontal,
}

/// The grown leg is the union of upright slices `a(t) + ball + cylinder`: the least distance over two slices is convex
/// along both legs, and is searched through; a pair of slices can only be too far apart.
fn sampled(one: &Tube, two: &Tube, number: Numbers) -> f64 {
    let radius = |tube: &Tube| match tube.section {
        Section::Round { radius_m } => radius_m,
        Section::Bank { .. } => panic!("round tubes only"),
    };
    let balls = radius(one) + radius(two);
    let grown = f64::from(u8::from(matches!(
        number,
        Numbers::WorstShortest | Numbers::WorstHorizontal
    )));
    let in_plan = matches!(number, Numbers::Horizontal | Numbers::WorstHorizontal);
    let slice = |(a, b): (&TubeVertex, &TubeVertex), t: f64| {
        let (ga, gb) = (a.growth.unwrap(), b.growth.unwrap());
        let mix = |x: f64, y: f64| (x + (y - x) * t) * grown;
        let axis = a.axis + (b.axis - a.axis) * t;
        (
            axis,
            mix(ga.horizontal_m, gb.horizontal_m),
            mix(ga.vertical_m, gb.vertical_m),
        )
    };
    let mut best = f64::INFINITY;
    for leg in one.legs() {
        for other in two.legs() {
            let apart = |s: f64, t: f64| {
                let ((a, ha, va), (b, hb, vb)) = (slice(leg, s), slice(other, t));
                let flat = ((a - b).xy().norm() - ha - hb).max(0.0);
                let up = ((a.z - b.z).abs() - va - vb).max(0.0);
                if in_plan { flat } else { flat.hypot(up) }
            };
            best = best.min(least(1.0, |s| least(1.0, |t| apart(s, t))));
        }
    }
    (best - balls).max(0.0)
}

fn smallest(met: &[Meeting], of: impl Fn(&Meeting) -> f64) -> f64 {
    met.iter().map(of).fold(f64::INFINITY, f64::min)
}

#[test]
fn gaps_agree_with_sampled_slices_and_their_points() {
    let mut dice = Dice(41);
    let (mut apart, mut touching) = (0, 0);
    for case in 0..60 {
        let (one, two) = (random_tube(&mut dice), random_tube(&mut dice));
        // Everything is within 40 m.
        let met = meetings(&one, &two, 40.0).unwrap();
        for (number, ours) in [
            (Numbers::Shortest, smallest(&met, |m| m.shortest.gap_m)),
            (
                Numbers::WorstShortest,
                smallest(&met, |m| m.worst_shortest.unwrap().gap_m),
            ),
            (Numbers::Horizontal, smallest(&met, |m| m.horizontal.gap_m)),
            (
                Numbers::WorstHorizontal,
                smallest(&met, |m| m.worst_horizontal.unwrap().gap_m),
            ),
        ] {
            let theirs = sampled(&one, &two, number);
            // Ours is a proven lower bound: it may never exceed a pair of slices. Golden sections leave 1e-7 m.
            assert!(ours <= theirs + 1e-9, "case {case}: {ours} > {theirs}");
            assert!(ours >= theirs - 1e-4, "case {case}: {ours} < {theirs}");
            if ours > 0.0 { apart += 1 } else { touching += 1 }
        }
        for m in &met {
            for gap in [m.shortest, m.worst_shortest.unwrap()] {
                let between_m = (gap.at[0] - gap.at[1]).norm();
                assert!((between_m - gap.gap_m).abs() < 5e-6, "case {case}: {gap:?}");
            }
            for gap in [m.horizontal, m.worst_horizontal.unwrap()] {
                let between_m = (gap.at[0] - gap.at[1]).xy().norm();
                assert!((between_m - gap.gap_m).abs() < 5e-6, "case {case}: {gap:?}");
            }
        }
    }
    assert!(apart > 60 && touching > 30, "{apart} {touching}");
}

/// Top (`up` 1) or underside (`up` -1) of a tube over a plan position, sampled along every leg.
fn sampled_side(tube: &Tube, e: f64, n: f64, up: f64, grown: f64) -> Option<f64> {
    let Section::Round { radius_m } = tube.section else {
        panic!("round tubes only")
    };
    let mut most: Option<f64> = None;
    for (a, b) in tube.legs() {
        let (ga, gb) = (a.growth.unwrap(), b.growth.unwrap());
        for i in 0..=160 {
            let t = f64::from(i) / 160.0;
            let mix = |x: f64, y: f64| (x + (y - x) * t) * grown;
            let axis = a.axis + (b.axis - a.axis) * t;
            let off = ((axis.x - e).hypot(axis.y - n) - mix(ga.horizontal_m, gb.horizontal_m)).max(0.0);
            if off <= radius_m {
                let side = up * axis.z
                    + mix(ga.vertical_m, gb.vertical_m)
                    + (radius_m * radius_m - off * off).sqrt();
                most = Some(most.map_or(side, |m: f64| m.max(side)));
            }
        }
    }
    most.map(|m| up * m)
}

#[test]
fn heights_at_crossings_agree_with_sampled_tops_and_undersides() {
    let mut dice = Dice(5);
    let mut seen = 0;
    for case in 0..24 {
        let growth = (dice.between(0.0, 0.1), dice.between(0.0, 0.1));
        let turn = dice.between(0.5, 2.6);
        let (slope, rise) = (dice.between(-0.1, 0.1), dice.between(-0.1, 0.1));
        let high = dice.between(0.0, 1.2);
        let lower = tube(
            &[[-4.0, 0.0, 4.0 * slope], [4.0, 0.0, -4.0 * slope]],
            dice.between(0.03, 0.25),
            Some(growth),
        );
        let (c, s) = (4.0 * turn.cos(), 4.0 * turn.sin());
        let upper = tube(
            &[[-c, -s, high - 4.0 * rise], [c, s, high + 4.0 * rise]],
            dice.between(0.03, 0.25),
            Some(growth),
        );
        let met = meetings(&lower, &upper, 0.5).unwrap();
        assert_eq!(met.len(), 1, "case {case}");
        assert_eq!(met[0].kind, MeetingKind::Crossing);
        for (grown, ours) in [
            (0.0, met[0].vertical.unwrap()),
            (1.0, met[0].worst_vertical.unwrap()),
        ] {
            // The order that leaves more as recorded is that of the levels here, unless they share them.
            let mut sampled_m = f64::INFINITY;
            for i in -36..=36 {
                for j in -36..=36 {
                    let (e, n) = (f64::from(i) * 0.015, f64::from(j) * 0.015);
                    if let (Some(top), Some(under)) = (
                        sampled_side(&lower, e, n, 1.0, grown),
                        sampled_side(&upper, e, n, -1.0, grown),
                    ) {
                        sampled_m = sampled_m.min(under - top);
                    }
                }
            }
            if high < 0.05 {
                continue; // either may be the upper one
            }
            assert!(
                ours.gap_m <= sampled_m + 1e-9,
                "case {case}: {} > {sampled_m}",
                ours.gap_m
            );
            // Samples 1.5 cm and 5 cm apart on slopes of up to 1 in 10, and two rounds meeting.
            assert!(
                ours.gap_m >= sampled_m - 4e-3,
                "case {case}: {} < {sampled_m}",
                ours.gap_m
            );
            assert!((ours.at[0] - ours.at[1]).xy().norm() < 1e-6);
            assert!((ours.at[1].z - ours.at[0].z - ours.gap_m).abs() < 1e-4);
            seen += 1;
        }
    }
    assert!(seen > 30, "{seen}");
}

/// Closed forms: level tubes square to one another leave the levels' difference less both radii; 95 % takes both off.
#[test]
fn a_level_crossing_leaves_the_difference_of_level_less_both_radii() {
    let sewer = tube(&[[0.0, -5.0, 10.0], [0.0, 5.0, 10.0]], 0.08, Some((0.05, 0.02)));
    let water = tube(&[[-5.0, 0.0, 10.6], [5.0, 0.0, 10.6]], 0.0315, Some((0.05, 0.03)));
    let met = meetings(&sewer, &water, 0.3).unwrap();
    assert_eq!(met.len(), 1);
    let crossing = &met[0];
    assert_eq!(
        (crossing.kind, crossing.above, crossing.together),
        (MeetingKind::Crossing, Some(Which::Second), false)
    );
    let clear = 0.6 - 0.08 - 0.0315;
    let close = |ours: f64, expected: f64| {
        assert!(
            ours <= expected + 1e-9 && ours > expected - 1e-5,
            "{ours} for {expected}"
        )
    };
    close(crossing.vertical.unwrap().gap_m, clear);
    close(crossing.worst_vertical.unwrap().gap_m, clear - 0.05);
    close(crossing.shortest.gap_m, clear);
    close(crossing.worst_shortest.unwrap().gap_m, clear - 0.05);
    assert_eq!(crossing.horizontal.gap_m, 0.0);
    assert!(
        (crossing.shortest.chainage_m[0] - 5.0).abs() < 1e-6
            && (crossing.shortest.chainage_m[1] - 5.0).abs() < 1e-6
    );
    // Over the sewer for the sum of both radii each way.
    for stretch in crossing.stretch {
        assert!((stretch.from_m - (5.0 - 0.1115)).abs() < 1e-9 && (stretch.to_m - 5.1115).abs() < 1e-9);
    }
    let swapped = meetings(&water, &sewer, 0.3).unwrap();
    assert_eq!(swapped[0].above, Some(Which::First));
    close(swapped[0].worst_vertical.unwrap().gap_m, clear - 0.05);
}

#[test]
fn two_that_share_levels_have_neither_above() {
    let one = tube(&[[0.0, -5.0, 10.0], [0.0, 5.0, 10.0]], 0.1, Some((0.0, 0.0)));
    let two = tube(&[[-5.0, 0.0, 10.15], [5.0, 0.0, 10.15]], 0.1, Some((0.0, 0.0)));
    let met = meetings(&one, &two, 0.3).unwrap();
    assert_eq!((met[0].above, met[0].shortest.gap_m), (None, 0.0));
    assert!((met[0].vertical.unwrap().gap_m + 0.05).abs() < 1e-5);
}

/// A vee whose corner is 8 m away crosses twice: its legs are neighbours by number, the places are not.
#[test]
fn every_crossing_is_its_own_and_a_stretch_side_by_side_is_one() {
    let main = tube(&[[0.0, 0.0, 0.0], [40.0, 0.0, 0.0]], 0.1, Some((0.02, 0.02)));
    let vee = tube(
        &[[10.0, -8.0, 1.0], [15.0, 8.0, 1.0], [20.0, -8.0, 1.0]],
        0.1,
        Some((0.02, 0.02)),
    );
    let met = meetings(&main, &vee, 1.0).unwrap();
    assert_eq!(met.len(), 2, "{met:#?}");
    assert!(
        met.iter()
            .all(|m| m.kind == MeetingKind::Crossing && m.above == Some(Which::Second))
    );
    assert!((met[0].shortest.chainage_m[0] - 12.5).abs() < 1e-6);
    assert!((met[1].shortest.chainage_m[0] - 17.5).abs() < 1e-6);
    // In many legs, now nearer, now farther, along one side: nearest at chainage 20.
    let many: Vec<[f64; 3]> = (0..=20)
        .map(|i| {
            [
                2.0 * f64::from(i),
                0.5 + 0.02 * (2.0 * f64::from(i) - 20.0).abs(),
                0.0,
            ]
        })
        .collect();
    let beside = meetings(&main, &tube(&many, 0.1, Some((0.02, 0.02))), 1.0).unwrap();
    assert_eq!(beside.len(), 1, "{beside:#?}");
    assert_eq!(
        (beside[0].kind, beside[0].together),
        (MeetingKind::SideBySide, true)
    );
    assert!((beside[0].shortest.gap_m - 0.3).abs() < 1e-9);
    assert!((beside[0].shortest.chainage_m[0] - 20.0).abs() < 1e-6);
    assert!((beside[0].worst_shortest.unwrap().gap_m - 0.26).abs() < 1e-5);
    assert!(beside[0].stretch[0].from_m < 1e-9 && beside[0].stretch[0].to_m > 39.999);
    assert_eq!(beside[0].vertical, Err(NoNumber::NotUnder));
}

/// It comes square over the main, turns and runs along it: a crossing, and a stretch side by side of its own.
#[test]
fn one_that_crosses_and_then_runs_along_makes_two_findings() {
    let main = tube(&[[0.0, 0.0, 0.0], [60.0, 0.0, 0.0]], 0.1, Some((0.02, 0.02)));
    let other = tube(
        &[[5.0, -6.0, 0.8], [5.0, 0.6, 0.8], [50.0, 0.6, 0.8]],
        0.1,
        Some((0.02, 0.02)),
    );
    let met = meetings(&main, &other, 1.0).unwrap();
    // The stretch is within the distance a little before the crossing begins.
    let kinds: Vec<_> = met.iter().map(|m| (m.kind, m.together)).collect();
    assert_eq!(
        kinds,
        [(MeetingKind::SideBySide, true), (MeetingKind::Crossing, false)]
    );
    assert!((met[0].horizontal.gap_m - 0.4).abs() < 1e-9);
    assert!((met[1].vertical.unwrap().gap_m - 0.6).abs() < 1e-5);
}

#[test]
fn touching_tubes_have_a_gap_of_nought_and_are_found_without_any_distance() {
    let one = tube(&[[0.0, 0.0, 0.0], [9.0, 0.0, 0.0]], 0.1, Some((0.0, 0.0)));
    let two = tube(&[[0.0, 0.25, 0.0], [9.0, 0.25, 0.0]], 0.15, Some((0.0, 0.0)));
    let met = meetings(&one, &two, 0.0).unwrap();
    assert_eq!(met.len(), 1);
    assert_eq!(
        (met[0].kind, met[0].shortest.gap_m),
        (MeetingKind::SideBySide, 0.0)
    );
    let end_on = tube(&[[9.25, 0.0, 0.0], [9.25, 7.0, 0.0]], 0.15, Some((0.0, 0.0)));
    let met = meetings(&one, &end_on, 0.0).unwrap();
    assert_eq!((met.len(), met[0].shortest.gap_m), (1, 0.0));
}

#[test]
fn what_is_not_placed_has_no_worst_and_keeps_its_recorded_numbers() {
    let one = tube(&[[0.0, -5.0, 10.0], [0.0, 5.0, 10.0]], 0.1, Some((0.01, 0.01)));
    let two = tube(&[[-5.0, 0.0, 11.0], [5.0, 0.0, 11.0]], 0.1, None);
    let met = meetings(&one, &two, 0.5).unwrap();
    assert!((met[0].shortest.gap_m - 0.8).abs() < 1e-9);
    assert_eq!(met[0].worst_shortest, Err(NoNumber::NotPlaced));
    assert_eq!(met[0].worst_vertical, Err(NoNumber::NotPlaced));
}

/// Closed form: boxes level with one another, 0.4 m wide and 0.2 m high, 1 m between axes: 0.6 m clear; one over the
/// other square across with 0.7 m between axes: 0.5 m.
#[test]
fn banks_are_measured_from_the_faces_of_their_boxes() {
    let one = bank(&[[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [20.0, 0.0, 0.0]], 0.2, 0.1);
    let beside = bank(&[[0.0, 1.0, 0.0], [20.0, 1.0, 0.0]], 0.2, 0.1);
    let met = meetings(&one, &beside, 2.0).unwrap();
    assert_eq!(met.len(), 1);
    // The joint is straight, so no ball fills a mitre there.
    let expected = 0.6;
    assert!(
        (met[0].shortest.gap_m - expected).abs() < 1e-5,
        "{:?}",
        met[0].shortest
    );
    let across = bank(&[[5.0, -5.0, 0.7], [5.0, 5.0, 0.7]], 0.2, 0.1);
    let met = meetings(&one, &across, 0.1).unwrap();
    assert_eq!((met.len(), met[0].kind), (1, MeetingKind::Crossing));
    assert!((met[0].vertical.unwrap().gap_m - 0.5).abs() < 1e-5);
    assert!((met[0].shortest.gap_m - 0.5).abs() < 1e-5);
}

/// 10 km from the origin a double holds 2e-12 m: no number moves by more than a micrometre, and no place is lost.
#[test]
fn moving_the_site_ten_kilometres_or_turning_it_changes_nothing() {
    let mut dice = Dice(77);
    for case in 0..40 {
        let (one, two) = (random_tube(&mut dice), random_tube(&mut dice));
        let here = meetings(&one, &two, 1.0).unwrap();
        let turn = dice.between(0.0, 6.0);
        let moved = |tube: &Tube| {
            let mut tube = tube.clone();
            for vertex in &mut tube.vertices {
                let p = vertex.axis;
                vertex.axis = Vec3::new(
                    turn.cos() * p.x - turn.sin() * p.y + 10_000.0,
                    turn.sin() * p.x + turn.cos() * p.y - 10_000.0,
                    p.z + 300.0,
                );
            }
            tube
        };
        let there = meetings(&moved(&one), &moved(&two), 1.0).unwrap();
        assert_eq!(here.len(), there.len(), "case {case}");
        for (a, b) in here.iter().zip(&there) {
            assert_eq!((a.kind, a.above), (b.kind, b.above), "case {case}");
            for (x, y) in [
                (a.shortest, b.shortest),
                (a.worst_shortest.unwrap(), b.worst_shortest.unwrap()),
                (a.horizontal, b.horizontal),
                (a.worst_horizontal.unwrap(), b.worst_horizontal.unwrap()),
            ] {
                // Both are bounds within a hundredth of the 0.1 mm promised.
                assert!((x.gap_m - y.gap_m).abs() < 2e-6, "case {case}: {x:?} {y:?}");
            }
        }
    }
}

#[test]
fn all_runs_at_once_give_what_every_two_give() {
    let mut dice = Dice(9);
    let tubes: Vec<Tube> = (0..60)
        .map(|_| {
            let mut tube = random_tube(&mut dice);
            let shift = Vec3::new(dice.between(0.0, 25.0), dice.between(0.0, 25.0), 0.0);
            tube.vertices.iter_mut().for_each(|v| v.axis += shift);
            tube
        })
        .collect();
    let within_m = 0.8;
    let all = all_meetings(&tubes.iter().collect::<Vec<_>>(), within_m, 2).unwrap();
    let mut one_by_one = Vec::new();
    for (i, one) in tubes.iter().enumerate() {
        for (j, two) in tubes.iter().enumerate().skip(i + 1) {
            let met = meetings(one, two, within_m).unwrap();
            if !met.is_empty() {
                one_by_one.push(([i, j], met));
            }
        }
    }
    assert!(one_by_one.len() > 30, "{}", one_by_one.len());
    assert_eq!(all.len(), one_by_one.len());
    for (ours, (tubes, met)) in all.iter().zip(&one_by_one) {
        assert_eq!((&ours.tubes, &ours.meetings), (tubes, met));
    }
    let index = ground::index::LegIndex::build(tubes.iter().enumerate().flat_map(|(run, tube)| {
        leg_boxes(tube).map(move |(leg, around)| {
            let run = run as u32;
            (ground::index::LegKey { run, leg }, around)
        })
    }));
    for (own, tube) in tubes.iter().enumerate() {
        let found = meetings_of_one(
            (own as u32, tube),
            &index,
            |run| tubes.get(run as usize),
            within_m,
        )
        .unwrap();
        let partners: Vec<usize> = found.iter().map(|(run, _)| *run as usize).collect();
        let expected: Vec<usize> = all
            .iter()
            .filter(|met| met.tubes.contains(&own))
            .map(|met| met.tubes[0] + met.tubes[1] - own)
            .collect();
        assert_eq!(partners, expected, "run {own}");
    }
}

//! What must hold for every excavation and tube, whatever the figures.

extern crate coverbook_ground as ground;

mod cases;

use cases::{Case, Dice, random_case, random_tube};
use ground::dig::{DigShape, Floor};
use ground::gap::{Gap, NoNumber, TubeGaps, tube_gaps};
use ground::tube::{Growth, Tube};
use ground::{Vec2, Vec3};

/// Both bounds of a gap are within this of the exact value, metres; the promise is 0.1 mm.
const SETTLED_M: f64 = 3e-6;

fn measure(tube: &Tube, case: &Case) -> TubeGaps {
    tube_gaps(tube, &case.dig(), 2.0).expect("a sound tube")
}

/// The six gaps; a vertical one that is not there counts as never reached.
fn six(gaps: &TubeGaps) -> [f64; 6] {
    let or_far = |gap: Result<Gap, NoNumber>| gap.map_or(f64::INFINITY, |g| g.gap_m);
    [
        gaps.shortest.gap_m,
        or_far(gaps.worst_shortest),
        gaps.horizontal.gap_m,
        or_far(gaps.worst_horizontal),
        or_far(gaps.vertical),
        or_far(gaps.worst_vertical),
    ]
}

#[track_caller]
fn never_farther(larger: &TubeGaps, smaller: &TubeGaps, what: &str) {
    for (n, (l, s)) in six(larger).into_iter().zip(six(smaller)).enumerate() {
        assert!(l <= s + SETTLED_M, "{what}, number {n}: {l} > {s}");
    }
    assert!(larger.overlap_m >= smaller.overlap_m - 1e-4, "{what}");
}

#[test]
fn worst_is_never_more_than_measured() {
    let mut dice = Dice(3);
    for _ in 0..400 {
        let (case, tube) = (random_case(&mut dice), random_tube(&mut dice));
        let gaps = measure(&tube, &case);
        let [gap, worst, horizontal, worst_horizontal, vertical, worst_vertical] = six(&gaps);
        assert!(0.0 <= worst && worst <= gap);
        assert!(0.0 <= worst_horizontal && worst_horizontal <= horizontal);
        assert!(worst_vertical <= vertical);
        assert!(
            horizontal <= gap + SETTLED_M,
            "the distance in plan is never more than that in space"
        );
        assert_eq!(gaps.overlap_m > 0.0, gap == 0.0, "{gaps:?}");
    }
}

fn turned(p: Vec3, angle: f64, shift: Vec3) -> Vec3 {
    let (sin, cos) = angle.sin_cos();
    Vec3::new(cos * p.x - sin * p.y, sin * p.x + cos * p.y, p.z) + shift
}

fn turned_case(case: &Case, angle: f64, shift: Vec3) -> Case {
    let point = |p: &Vec2| turned(Vec3::new(p.x, p.y, 0.0), angle, shift).xy();
    let way = |v: &Vec2| turned(Vec3::new(v.x, v.y, 0.0), angle, Vec3::zeros()).xy();
    let mut case = case.clone();
    case.shape = match &case.shape {
        DigShape::Area { outline, holes } => DigShape::Area {
            outline: outline.iter().map(point).collect(),
            holes: holes
                .iter()
                .map(|hole| hole.iter().map(point).collect())
                .collect(),
        },
        DigShape::Line { points, width_m } => DigShape::Line {
            points: points.iter().map(point).collect(),
            width_m: *width_m,
        },
        DigShape::Point { centre, radius_m } => DigShape::Point {
            centre: point(centre),
            radius_m: *radius_m,
        },
        DigShape::Bore {
            axis,
            radius_m,
            deviation_m,
        } => DigShape::Bore {
            axis: axis.iter().map(|&p| turned(p, angle, shift)).collect(),
            radius_m: *radius_m,
            deviation_m: *deviation_m,
        },
    };
    case.floor = match case.floor {
        Floor::Level(level_m) => Floor::Level(level_m + shift.z),
        Floor::Gradient { at, level_m, rise } => Floor::Gradient {
            at: point(&at),
            level_m: level_m + shift.z,
            rise: way(&rise),
        },
        below => below,
    };
    case.plane.anchor = turned(case.plane.anchor, angle, shift);
    case.plane.gradient = way(&case.plane.gradient);
    case
}

#[test]
fn moving_and_turning_the_site_changes_no_gap() {
    let mut dice = Dice(5);
    for number in 0..300 {
        let (case, tube) = (random_case(&mut dice), random_tube(&mut dice));
        let angle = dice.between(0.0, 6.3);
        let shift = Vec3::new(
            dice.between(-1e4, 1e4),
            dice.between(-1e4, 1e4),
            dice.between(-500.0, 500.0),
        );
        let mut moved = tube.clone();
        for vertex in &mut moved.vertices {
            vertex.axis = turned(vertex.axis, angle, shift);
        }
        let before = six(&measure(&tube, &case));
        let after = six(&measure(&moved, &turned_case(&case, angle, shift)));
        for (n, (b, a)) in before.into_iter().zip(after).enumerate() {
            // A tube that only just reaches under may be found a hair beside after the turn.
            let same = (b - a).abs() < SETTLED_M || (b.is_infinite() && a.is_infinite());
            assert!(same, "case {number}, number {n}: {b} then {a}");
        }
    }
}

#[test]
fn more_allowance_never_brings_a_larger_gap() {
    let mut dice = Dice(9);
    for _ in 0..250 {
        let (case, tube) = (random_case(&mut dice), random_tube(&mut dice));
        let gaps = measure(&tube, &case);
        let more = dice.between(0.0, 0.4);
        let wider = Case {
            set_out_m: case.set_out_m + more,
            ..case.clone()
        };
        never_farther(&measure(&tube, &wider), &gaps, "set out farther");
        let deeper = Case {
            over_dig_m: case.over_dig_m + more,
            ..case.clone()
        };
        never_farther(&measure(&tube, &deeper), &gaps, "dug deeper");
        let mut unsure = tube.clone();
        for vertex in &mut unsure.vertices {
            vertex.growth = vertex.growth.map(|g| Growth {
                horizontal_m: g.horizontal_m + more,
                vertical_m: g.vertical_m + more / 2.0,
            });
        }
        never_farther(&measure(&unsure, &case), &gaps, "less sure");
    }
}

#[test]
fn a_larger_excavation_never_has_a_larger_gap() {
    let mut dice = Dice(13);
    for _ in 0..250 {
        let (mut case, tube) = (random_case(&mut dice), random_tube(&mut dice));
        // Over a level surface, so that the batter's top does not hang on how the plan is cut into pieces.
        case.plane.gradient = Vec2::zeros();
        let gaps = measure(&tube, &case);
        let mut larger = case.clone();
        larger.floor = match case.floor {
            Floor::Level(level_m) => Floor::Level(level_m - 0.2),
            Floor::Gradient { at, level_m, rise } => Floor::Gradient {
                at,
                level_m: level_m - 0.2,
                rise,
            },
            below => below,
        };
        larger.shape = match case.shape.clone() {
            DigShape::Line { points, width_m } => DigShape::Line {
                points,
                width_m: width_m + 0.3,
            },
            DigShape::Point { centre, radius_m } => DigShape::Point {
                centre,
                radius_m: radius_m + 0.3,
            },
            // A notch filled, or the same outline.
            DigShape::Area { mut outline, holes } => {
                if outline.len() == 6 {
                    outline.remove(3);
                }
                DigShape::Area { outline, holes }
            }
            bore => bore,
        };
        if matches!(case.floor, Floor::Gradient { .. }) && case.batter.is_some() {
            continue; // a piece's height runs from its own lowest floor, which joining pieces lowers
        }
        never_farther(&measure(&tube, &larger), &gaps, "larger");
    }
}

/// The two points named are a gap apart: so the proven lower bound is attained, whatever the figures.
#[track_caller]
fn is_attained(gaps: &TubeGaps, what: &str) {
    for gap in [gaps.shortest, gaps.worst_shortest.expect("placed")] {
        let apart_m = (gap.on_run - gap.on_dig).norm();
        assert!(
            (apart_m - gap.gap_m).abs() < 1e-4,
            "{what}: {gap:?} but {apart_m}"
        );
    }
    for gap in [gaps.vertical, gaps.worst_vertical].into_iter().flatten() {
        let up = gap.on_dig - gap.on_run;
        assert!(
            (up.z - gap.gap_m).abs() < 1e-4 && up.xy().norm() < 1e-6,
            "{what}: {gap:?}"
        );
    }
}

#[test]
fn parallel_touching_and_lined_up_figures_settle_too() {
    // Everything on a half-metre lattice: sides in line with legs, ends on corners, legs along floors.
    let mut dice = Dice(41);
    let half = |dice: &mut Dice, low: f64, high: f64| (dice.between(low, high) * 2.0).round() / 2.0;
    for number in 0..1_500 {
        let mut case = random_case(&mut dice);
        let (w, h) = (half(&mut dice, 1.0, 8.0), half(&mut dice, 1.0, 8.0));
        case.shape = match number % 3 {
            0 => DigShape::Line {
                points: vec![Vec2::zeros(), Vec2::new(w, 0.0), Vec2::new(w, h)],
                width_m: 1.0,
            },
            1 => DigShape::Area {
                outline: vec![
                    Vec2::zeros(),
                    Vec2::new(w, 0.0),
                    Vec2::new(w, 1e-4),
                    Vec2::new(0.0, 1e-4),
                ],
                holes: vec![],
            },
            _ => DigShape::Area {
                outline: vec![
                    Vec2::zeros(),
                    Vec2::new(w, 0.0),
                    Vec2::new(w, h),
                    Vec2::new(0.0, h),
                ],
                holes: vec![],
            },
        };
        case.floor = match case.floor {
            Floor::Gradient { at, .. } => Floor::Gradient {
                at,
                level_m: 8.0,
                rise: Vec2::new(0.0, 0.5),
            },
            _ => Floor::Level(half(&mut dice, 7.0, 9.0)),
        };
        case.batter = case.batter.map(|_| 1.0);
        case.plane.gradient = Vec2::zeros();
        case.set_out_m = half(&mut dice, 0.0, 0.6);
        case.over_dig_m = half(&mut dice, 0.0, 0.6);
        let mut tube = random_tube(&mut dice);
        let mut before = Vec3::zeros();
        for vertex in &mut tube.vertices {
            vertex.axis = vertex.axis.map(|v| (v * 2.0).round() / 2.0);
            if vertex.axis == before {
                vertex.axis.x += 0.5;
            }
            before = vertex.axis;
            vertex.growth = Some(Growth {
                horizontal_m: half(&mut dice, 0.0, 0.6),
                vertical_m: 0.0,
            });
        }
        is_attained(&measure(&tube, &case), &format!("figure {number}"));
    }
}

#[test]
fn very_long_and_very_short_legs_settle_too() {
    let mut dice = Dice(43);
    for number in 0..400 {
        let case = random_case(&mut dice);
        let mut tube = random_tube(&mut dice);
        let scale = if dice.one_in(2) { 2_000.0 } else { 1e-3 };
        let from = tube.vertices[0].axis;
        for vertex in &mut tube.vertices[1..] {
            vertex.axis = from + (vertex.axis - from) * scale;
        }
        is_attained(&measure(&tube, &case), &format!("figure {number}"));
    }
}

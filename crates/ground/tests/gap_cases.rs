//! Gaps whose figures follow from school geometry, written out beside each.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

extern crate coverbook_ground as ground;

use ground::dig::{Dig, DigError, DigShape, DigSpec, Floor, Form};
use ground::domain::Domain;
use ground::facet::Affine;
use ground::gap::{GapError, NoNumber, TubeGaps, tube_gaps};
use ground::surface::Surface;
use ground::tube::{Growth, Section, Tube, TubeVertex};
use ground::{Vec2, Vec3};

const MM: f64 = 1e-3;

fn v(e: f64, n: f64) -> Vec2 {
    Vec2::new(e, n)
}

/// A 10 by 4 m rectangle from the origin.
fn rectangle() -> DigShape {
    DigShape::Area {
        outline: vec![v(0.0, 0.0), v(10.0, 0.0), v(10.0, 4.0), v(0.0, 4.0)],
        holes: vec![],
    }
}

fn plain(shape: DigShape, floor: Floor) -> DigSpec<'static> {
    DigSpec {
        shape,
        floor: Some(floor),
        surface: None,
        batter: None,
        set_out_m: 0.0,
        over_dig_m: 0.0,
        surface_u95_m: 0.0,
    }
}

fn tube(points: &[(f64, f64, f64)], section: Section, growth: Option<Growth>) -> Tube {
    let mut chainage_m = 0.0;
    let mut before: Option<Vec3> = None;
    let vertices = points.iter().map(|&(e, n, z)| {
        let axis = Vec3::new(e, n, z);
        chainage_m += before.map_or(0.0, |b| (axis - b).xy().norm());
        before = Some(axis);
        TubeVertex {
            axis,
            chainage_m,
            growth,
        }
    });
    Tube {
        vertices: vertices.collect(),
        section,
    }
}

fn round(points: &[(f64, f64, f64)], radius_m: f64) -> Tube {
    let growth = Growth {
        horizontal_m: 0.05,
        vertical_m: 0.02,
    };
    tube(points, Section::Round { radius_m }, Some(growth))
}

fn measure(tube: &Tube, spec: &DigSpec<'_>) -> TubeGaps {
    tube_gaps(tube, &Dig::new(spec).unwrap(), 2.0).unwrap()
}

#[track_caller]
fn is(ours: f64, expected: f64) {
    assert!((ours - expected).abs() < 0.01 * MM, "{ours} is not {expected}");
}

#[test]
fn a_level_tube_under_a_level_floor_is_as_deep_as_the_levels_say() {
    let spec = DigSpec {
        set_out_m: 0.3,
        over_dig_m: 0.25,
        ..plain(rectangle(), Floor::Level(8.0))
    };
    let gaps = measure(&round(&[(-20.0, 2.0, 7.0), (30.0, 2.0, 7.0)], 0.1), &spec);
    is(gaps.shortest.gap_m, 0.9); // 8.0 - (7.0 + 0.1)
    is(gaps.vertical.unwrap().gap_m, 0.9);
    is(gaps.horizontal.gap_m, 0.0);
    is(gaps.worst_shortest.unwrap().gap_m, 0.63); // less 0.25 over-dig and 0.02
    is(gaps.worst_vertical.unwrap().gap_m, 0.63);
    is(gaps.overlap_m, 0.0);
    // Near: the rectangle, 2.0 m and the growth, the set-out and the radius, at both ends.
    assert_eq!(gaps.near.len(), 1);
    is(gaps.near[0].from_m, 20.0 - 2.45);
    is(gaps.near[0].to_m, 30.0 + 2.45);
    let (low, high) = gaps.top_level_m.unwrap();
    is(low, 7.1);
    is(high, 7.1);
}

#[test]
fn a_tube_beside_a_trench_is_as_far_as_the_plan_says_at_any_level_above_the_floor() {
    let spec = DigSpec {
        set_out_m: 0.3,
        over_dig_m: 0.25,
        ..plain(rectangle(), Floor::Level(8.0))
    };
    for level in [8.0, 8.5, 60.0] {
        let gaps = measure(&round(&[(-5.0, 5.0, level), (15.0, 5.0, level)], 0.1), &spec);
        is(gaps.shortest.gap_m, 0.9);
        is(gaps.horizontal.gap_m, 0.9);
        is(gaps.worst_shortest.unwrap().gap_m, 0.55); // less 0.3 set-out and 0.05
        assert_eq!(gaps.vertical, Err(NoNumber::NotUnder));
    }
    // Half a metre below the floor: to the bottom edge. At worst: 0.65 across, 0.5 - 0.25 - 0.02 down.
    let gaps = measure(&round(&[(-5.0, 5.0, 7.5), (15.0, 5.0, 7.5)], 0.1), &spec);
    is(gaps.shortest.gap_m, 1.0_f64.hypot(0.5) - 0.1);
    is(gaps.worst_shortest.unwrap().gap_m, 0.65_f64.hypot(0.23) - 0.1);
}

#[test]
fn over_a_foot_on_a_sloping_floor_the_radius_counts_square_to_the_floor() {
    // The floor falls 1 in 2 square to the tube: vertical gap (f - a_z) - r sqrt(1 + g^2), shortest that over
    // sqrt(1 + g^2) before the radius.
    let floor = Floor::Gradient {
        at: v(5.0, 2.0),
        level_m: 8.0,
        rise: v(0.0, 0.5),
    };
    let gaps = measure(
        &round(&[(-1.0, 2.0, 7.2), (11.0, 2.0, 7.2)], 0.1),
        &plain(rectangle(), floor),
    );
    let along = 1.0_f64.hypot(0.5);
    is(gaps.vertical.unwrap().gap_m, 0.8 - 0.1 * along);
    is(gaps.shortest.gap_m, 0.8 / along - 0.1);
}

#[test]
fn a_depth_below_a_slope_is_plumb_and_not_square_to_it() {
    let surface = Surface::plane(Affine {
        anchor: Vec3::new(0.0, 0.0, 10.0),
        gradient: v(0.0, 0.5),
    });
    let spec = DigSpec {
        surface: Some(&surface),
        ..plain(rectangle(), Floor::Below { depth_m: 1.5 })
    };
    // At n = 2 the surface is at 11.0 and the floor at 9.5.
    let gaps = measure(&round(&[(-1.0, 2.0, 8.7), (11.0, 2.0, 8.7)], 0.0), &spec);
    is(gaps.vertical.unwrap().gap_m, 0.8);
    is(gaps.shortest.gap_m, 0.8 / 1.0_f64.hypot(0.5));
}

#[test]
fn a_battered_side_is_nearer_than_its_foot() {
    // Floor 8, ground 11, batter 1 out for 2 up: the side runs from (4, 8) to (5.5, 11), then plumb.
    let surface = Surface::level(11.0);
    let spec = DigSpec {
        surface: Some(&surface),
        batter: Some(0.5),
        set_out_m: 0.3,
        over_dig_m: 0.2,
        ..plain(rectangle(), Floor::Level(8.0))
    };
    let gaps = measure(&round(&[(-1.0, 6.5, 9.0), (11.0, 6.5, 9.0)], 0.1), &spec);
    let along = 1.0_f64.hypot(0.5);
    is(gaps.shortest.gap_m, (2.5 - 0.5 * 1.0) / along - 0.1);
    is(gaps.horizontal.gap_m, 6.5 - 5.5 - 0.1);
    // Grown: the foot 0.3 out and 0.2 down, the tube 0.05 toward and 0.02 up.
    is(
        gaps.worst_shortest.unwrap().gap_m,
        (2.5 - 0.3 - 0.05 - 0.5 * (1.0 + 0.2 + 0.02)) / along - 0.1,
    );
    is(
        gaps.worst_horizontal.unwrap().gap_m,
        6.5 - (4.0 + 0.3 + 0.5 * 3.2) - 0.05 - 0.1,
    );
    // Far above the ground the side stands plumb over its top.
    is(
        measure(&round(&[(-1.0, 6.5, 30.0), (11.0, 6.5, 30.0)], 0.1), &spec)
            .shortest
            .gap_m,
        0.9,
    );
    // Under the batter: at n = 5 the side is at 10, and 1 out for 2 up takes sqrt(1 + 2^2) of the radius.
    let under = measure(&round(&[(-1.0, 5.0, 9.0), (11.0, 5.0, 9.0)], 0.1), &spec);
    is(under.vertical.unwrap().gap_m, 1.0 - 0.1 * 1.0_f64.hypot(2.0));
}

#[test]
fn a_batter_on_a_rising_plane_ends_where_it_meets_it() {
    // Ground 10 + 0.5 n over a floor at 8: from the far edge (n = 4, ground 12) the side, 1 out for 1 up, meets the
    // ground after H = 4 + 0.5 H, so H = 8.
    let surface = Surface::plane(Affine {
        anchor: Vec3::new(0.0, 0.0, 10.0),
        gradient: v(0.0, 0.5),
    });
    let spec = DigSpec {
        surface: Some(&surface),
        batter: Some(1.0),
        ..plain(rectangle(), Floor::Level(8.0))
    };
    let plan = Dig::new(&spec).unwrap().plan_box(Form::Stated);
    is(plan.max.y, 4.0 + 8.0);
    let steep = Surface::plane(Affine {
        anchor: Vec3::new(0.0, 0.0, 10.0),
        gradient: v(0.0, 1.0),
    });
    let refused = Dig::new(&DigSpec {
        surface: Some(&steep),
        ..spec
    });
    assert_eq!(refused, Err(DigError::NeverDaylights { batter: 1.0 }));
}

#[test]
fn a_batter_on_a_surface_of_limited_reach_ends_at_its_highest() {
    let reach = Domain::new(&[vec![
        v(-100.0, -100.0),
        v(100.0, -100.0),
        v(100.0, 100.0),
        v(-100.0, 100.0),
    ]])
    .unwrap();
    let plane = Affine {
        anchor: Vec3::new(0.0, 0.0, 10.0),
        gradient: v(0.0, 0.5),
    };
    let surface = Surface::plane_within(plane, &reach);
    let spec = DigSpec {
        surface: Some(&surface),
        batter: Some(1.0),
        ..plain(rectangle(), Floor::Level(8.0))
    };
    let dig = Dig::new(&spec).unwrap();
    // As on the endless plane, but the rounded corner is a 32-sided polygon about the round: up to 0.5 % higher.
    let top = dig.plan_box(Form::Stated).max.y;
    assert!((12.0..12.1).contains(&top), "{top}");
    assert!(!dig.batter_beyond_surface);
}

#[test]
fn a_tube_through_the_side_of_a_trench_overlaps_by_the_width_and_its_own_radius_at_both_sides() {
    let gaps = measure(
        &round(&[(5.0, -6.0, 9.0), (5.0, 10.0, 9.0)], 0.1),
        &plain(rectangle(), Floor::Level(8.0)),
    );
    is(gaps.shortest.gap_m, 0.0);
    is(gaps.vertical.unwrap().gap_m, 8.0 - 9.1);
    assert!((gaps.overlap_m - 4.2).abs() < 0.1 * MM, "{}", gaps.overlap_m);
    // Axis 60 mm under the floor: the ball of 100 mm reaches sqrt(0.1^2 - 0.06^2) = 80 mm past each edge.
    let gaps = measure(
        &round(&[(5.0, -6.0, 7.94), (5.0, 10.0, 7.94)], 0.1),
        &plain(rectangle(), Floor::Level(8.0)),
    );
    assert!((gaps.overlap_m - 4.16).abs() < 0.1 * MM, "{}", gaps.overlap_m);
}

#[test]
fn touching_is_zero_and_a_hair_apart_is_not() {
    let floor = Floor::Level(8.0);
    let touching = measure(
        &round(&[(-1.0, 2.0, 7.75), (11.0, 2.0, 7.75)], 0.25),
        &plain(rectangle(), floor),
    );
    assert_eq!(touching.shortest.gap_m, 0.0);
    let apart = measure(
        &round(&[(-1.0, 2.0, 7.7499), (11.0, 2.0, 7.7499)], 0.25),
        &plain(rectangle(), floor),
    );
    is(apart.shortest.gap_m, 0.0001);
    assert!(apart.shortest.gap_m > 0.0);
}

#[test]
fn a_riser_counts_in_every_gap() {
    // A stand pipe 0.5 m beside the trench, from 2 m below the floor to 3 m above it.
    let gaps = measure(
        &round(&[(5.0, 4.5, 6.0), (5.0, 4.5, 11.0)], 0.05),
        &plain(rectangle(), Floor::Level(8.0)),
    );
    is(gaps.shortest.gap_m, 0.45);
    is(gaps.horizontal.gap_m, 0.45);
    // And one that ends under the floor.
    let gaps = measure(
        &round(&[(5.0, 2.0, 4.0), (5.0, 2.0, 7.0)], 0.05),
        &plain(rectangle(), Floor::Level(8.0)),
    );
    is(gaps.vertical.unwrap().gap_m, 0.95);
    is(gaps.shortest.gap_m, 0.95);
}

#[test]
fn a_post_hole_is_a_disc() {
    let hole = DigShape::Point {
        centre: v(3.0, 4.0),
        radius_m: 0.2,
    };
    let gaps = measure(
        &round(&[(0.0, 0.0, 9.0), (0.0, 0.1, 9.0)], 0.1),
        &plain(hole.clone(), Floor::Level(8.0)),
    );
    is(gaps.horizontal.gap_m, 3.0_f64.hypot(3.9) - 0.3);
    is(gaps.shortest.gap_m, 3.0_f64.hypot(3.9) - 0.3);
    // A metre below: to the rim of its bottom.
    let gaps = measure(
        &round(&[(0.0, 4.0, 7.0), (-1.0, 4.0, 7.0)], 0.1),
        &plain(hole, Floor::Level(8.0)),
    );
    is(gaps.shortest.gap_m, 2.8_f64.hypot(1.0) - 0.1);
}

#[test]
fn what_lies_over_a_bore_is_not_in_its_way() {
    let bore = DigShape::Bore {
        axis: vec![Vec3::new(0.0, 0.0, 5.0), Vec3::new(20.0, 0.0, 5.0)],
        radius_m: 0.15,
        deviation_m: 0.2,
    };
    let spec = DigSpec {
        floor: None,
        set_out_m: 0.1,
        ..plain(bore, Floor::Level(0.0))
    };
    let gaps = measure(&round(&[(10.0, -5.0, 7.0), (10.0, 5.0, 7.0)], 0.1), &spec);
    is(gaps.shortest.gap_m, 2.0 - 0.25);
    is(gaps.worst_shortest.unwrap().gap_m, 2.0 - 0.25 - 0.2 - 0.02);
    is(gaps.horizontal.gap_m, 0.0);
    is(gaps.vertical.unwrap().gap_m, 5.0 - 0.15 - 7.1);
    // Side by side: set-out counts too.
    let gaps = measure(&round(&[(0.0, 3.0, 5.0), (20.0, 3.0, 5.0)], 0.1), &spec);
    is(gaps.worst_shortest.unwrap().gap_m, 3.0 - 0.25 - 0.2 - 0.1 - 0.05);
}

#[test]
fn a_bank_is_a_box_and_not_a_tube() {
    let bank = Section::Bank {
        half_width_m: 0.3,
        half_height_m: 0.2,
    };
    let growth = Some(Growth {
        horizontal_m: 0.05,
        vertical_m: 0.02,
    });
    let spec = plain(rectangle(), Floor::Level(8.0));
    let beside = measure(&tube(&[(-5.0, 5.0, 9.0), (15.0, 5.0, 9.0)], bank, growth), &spec);
    is(beside.shortest.gap_m, 0.7);
    is(beside.horizontal.gap_m, 0.7);
    is(beside.worst_horizontal.unwrap().gap_m, 0.65);
    let under = measure(&tube(&[(-5.0, 2.0, 7.0), (15.0, 2.0, 7.0)], bank, growth), &spec);
    is(under.vertical.unwrap().gap_m, 0.8);
    is(under.shortest.gap_m, 0.8);
    // Free ends are flat: end on to the trench.
    let end_on = measure(&tube(&[(-5.0, 2.0, 9.0), (-1.0, 2.0, 9.0)], bank, growth), &spec);
    is(end_on.shortest.gap_m, 1.0);
    // Below and beside: from the trench's bottom edge to the box's own edge.
    let corner = measure(&tube(&[(-5.0, 5.0, 7.0), (15.0, 5.0, 7.0)], bank, growth), &spec);
    is(corner.shortest.gap_m, 0.7_f64.hypot(0.8));
    // At an inner joint a ball of half the diagonal (0.3606) fills the mitre.
    let bent = measure(
        &tube(
            &[(-5.0, 6.0, 9.0), (5.0, 5.0, 9.0), (15.0, 6.0, 9.0)],
            bank,
            growth,
        ),
        &spec,
    );
    is(bent.shortest.gap_m, 1.0 - 0.3_f64.hypot(0.2));
    // Through the side: width of the trench, by the flat of the box.
    let through = measure(&tube(&[(5.0, -6.0, 9.0), (5.0, 10.0, 9.0)], bank, growth), &spec);
    assert!(
        (through.overlap_m - 4.0).abs() < 0.1 * MM,
        "{}",
        through.overlap_m
    );
}

#[test]
fn where_the_floor_is_not_known_only_the_plan_counts() {
    // The surface ends at e = 6; the trench runs on to 10.
    let reach = Domain::new(&[vec![v(-50.0, -50.0), v(6.0, -50.0), v(6.0, 50.0), v(-50.0, 50.0)]]).unwrap();
    let surface = Surface::level_within(10.0, &reach);
    let spec = DigSpec {
        surface: Some(&surface),
        set_out_m: 0.3,
        over_dig_m: 0.3,
        ..plain(rectangle(), Floor::Below { depth_m: 1.0 })
    };
    let dig = Dig::new(&spec).unwrap();
    is(dig.floor_unknown_area_m2, 16.0);
    assert_eq!(dig.lowest_level_m(Form::Grown), None);
    // 100 m under the unknown part: in the way for all anybody knows.
    let under = measure(&round(&[(8.0, -5.0, -90.0), (8.0, 9.0, -90.0)], 0.1), &spec);
    is(under.shortest.gap_m, 0.0);
    assert_eq!(under.vertical, Err(NoNumber::FloorUnknown));
    assert!((under.overlap_m - 4.2).abs() < 0.1 * MM, "{}", under.overlap_m);
    // Beside it, as deep: the distance in plan.
    let beside = measure(&round(&[(12.0, -5.0, -90.0), (12.0, 9.0, -90.0)], 0.1), &spec);
    is(beside.shortest.gap_m, 1.9);
    is(beside.worst_shortest.unwrap().gap_m, 1.9 - 0.3 - 0.05);
    // Under the known part the depth still counts, save that the unknown part lies 2 m off.
    let known = measure(&round(&[(4.0, -5.0, 8.0), (4.0, 9.0, 8.0)], 0.1), &spec);
    is(known.shortest.gap_m, 0.9);
    is(known.vertical.unwrap().gap_m, 0.9);
}

#[test]
fn a_tube_without_uncertainty_has_no_worst() {
    let unplaced = tube(
        &[(-5.0, 2.0, 7.0), (15.0, 2.0, 7.0)],
        Section::Round { radius_m: 0.1 },
        None,
    );
    let gaps = measure(&unplaced, &plain(rectangle(), Floor::Level(8.0)));
    is(gaps.shortest.gap_m, 0.9);
    assert_eq!(gaps.worst_shortest, Err(NoNumber::NotPlaced));
    assert_eq!(gaps.worst_horizontal, Err(NoNumber::NotPlaced));
    assert_eq!(gaps.worst_vertical, Err(NoNumber::NotPlaced));
    // It may lie anywhere, so all of it counts as near.
    is(gaps.near[0].to_m - gaps.near[0].from_m, 20.0);
}

#[test]
fn ten_kilometres_of_tube_lose_no_tenth_of_a_millimetre() {
    let spec = plain(rectangle(), Floor::Level(8.0));
    let gaps = measure(&round(&[(-9_000.0, 5.0, 7.0), (9_000.0, 5.0, 7.0)], 0.1), &spec);
    is(gaps.shortest.gap_m, 2.0_f64.sqrt() - 0.1);
    let far = measure(
        &round(&[(-9_000.0, 9_000.0, 7.0), (-8_000.0, 9_000.0, 7.0)], 0.1),
        &spec,
    );
    is(far.horizontal.gap_m, 8_000.0_f64.hypot(8_996.0) - 0.1);
}

#[test]
fn excavations_that_are_none_are_refused_with_a_mend() {
    let refused = |spec: DigSpec<'_>| Dig::new(&spec).unwrap_err();
    let floor = Floor::Level(8.0);
    let area = |outline: Vec<Vec2>| DigShape::Area {
        outline,
        holes: vec![],
    };
    let line = |points: Vec<Vec2>, width_m| DigShape::Line { points, width_m };
    let bow_tie = area(vec![v(0.0, 0.0), v(4.0, 4.0), v(4.0, 0.0), v(0.0, 4.0)]);
    assert!(matches!(refused(plain(bow_tie, floor)), DigError::Outline(_)));
    assert!(matches!(
        refused(plain(area(vec![v(0.0, 0.0), v(4.0, 4.0), v(2.0, 2.0)]), floor)),
        DigError::Outline(_)
    ));
    assert!(matches!(
        refused(plain(area(vec![]), floor)),
        DigError::Outline(_)
    ));
    let not_finite = area(vec![v(0.0, 0.0), v(4.0, f64::NAN), v(2.0, 2.0)]);
    assert_eq!(
        refused(plain(not_finite, floor)),
        DigError::NotFinite { corner: 2 }
    );
    let thin = refused(plain(line(vec![v(0.0, 0.0), v(4.0, 0.0)], 0.0), floor));
    assert_eq!(thin.to_string(), "the width is 0; give it in metres, more than 0");
    assert_eq!(
        refused(plain(line(vec![v(1.0, 1.0), v(1.0, 1.0)], 0.5), floor)),
        DigError::NoLength
    );
    let below = Floor::Below { depth_m: 1.0 };
    assert_eq!(
        refused(plain(rectangle(), below)),
        DigError::NoSurface { what: "floor" }
    );
    let battered = DigSpec {
        batter: Some(0.5),
        ..plain(rectangle(), floor)
    };
    assert_eq!(refused(battered), DigError::NoSurface { what: "batter" });
    let no_floor = DigSpec {
        floor: None,
        ..plain(rectangle(), floor)
    };
    assert_eq!(refused(no_floor), DigError::NoFloor);
    let lost = Floor::Level(f64::NAN);
    assert!(matches!(
        refused(plain(rectangle(), lost)),
        DigError::BadNumber { .. }
    ));
    let missing = DigSpec {
        set_out_m: f64::NAN,
        ..plain(rectangle(), floor)
    };
    assert!(matches!(refused(missing), DigError::BadNumber { .. }));
}

#[test]
fn tubes_that_are_none_are_refused() {
    let dig = Dig::new(&plain(rectangle(), Floor::Level(8.0))).unwrap();
    let gaps = |tube: &Tube| tube_gaps(tube, &dig, 2.0);
    assert_eq!(gaps(&round(&[(0.0, 0.0, 1.0)], 0.1)), Err(GapError::NoLeg));
    let lost = round(&[(0.0, 0.0, 1.0), (1.0, f64::NAN, 1.0)], 0.1);
    assert_eq!(gaps(&lost), Err(GapError::NotFinite { vertex: 2 }));
}

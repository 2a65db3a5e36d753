//! The pieces of an excavation against its own statement: each place of the plan under the right floor.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

extern crate coverbook_ground as ground;

mod cases;

use cases::{Dice, random_tube};
use ground::dig::{Dig, DigShape, DigSpec, Floor, Form};
use ground::domain::Domain;
use ground::gap::tube_gaps;
use ground::solid::{Pit, Solid};
use ground::surface::Surface;
use ground::tin::triangulate;
use ground::{Vec2, Vec3};

fn v(e: f64, n: f64) -> Vec2 {
    Vec2::new(e, n)
}

/// A rough surface over about 9 by 9 m round the origin.
fn rough(dice: &mut Dice, count: usize) -> Surface {
    let points: Vec<Vec3> = (0..count)
        .map(|_| {
            Vec3::new(
                dice.between(-4.5, 4.5),
                dice.between(-4.5, 4.5),
                dice.between(9.0, 11.0),
            )
        })
        .collect();
    triangulate(&points, &[], None).unwrap().0
}

fn outline(dice: &mut Dice) -> Vec<Vec2> {
    // A star about a point: simple, and rarely convex.
    let (e, n, corners) = (
        dice.between(-3.0, 3.0),
        dice.between(-3.0, 3.0),
        4 + (dice.roll() * 9.0) as usize,
    );
    (0..corners)
        .map(|i| {
            let angle = std::f64::consts::TAU * (i as f64 + dice.between(-0.3, 0.3)) / corners as f64;
            let out = dice.between(1.0, 5.0);
            v(e + out * angle.cos(), n + out * angle.sin())
        })
        .collect()
}

fn below<'a>(shape: DigShape, surface: &'a Surface, depth_m: f64) -> DigSpec<'a> {
    DigSpec {
        shape,
        floor: Some(Floor::Below { depth_m }),
        surface: Some(surface),
        batter: None,
        set_out_m: 0.0,
        over_dig_m: 0.0,
        surface_u95_m: 0.0,
    }
}

/// Level of a piece's floor at a plan position, `None` outside it: by the fan of triangles from its first corner.
fn floor_of(pit: &Pit, p: Vec2) -> Option<f64> {
    let c = &pit.corners;
    (1..c.len() - 1).find_map(|k| {
        let (a, u, w) = (c[0], c[k] - c[0], c[k + 1] - c[0]);
        let whole = u.xy().perp(&w.xy());
        let s = (p - a.xy()).perp(&w.xy()) / whole;
        let t = u.xy().perp(&(p - a.xy())) / whole;
        (s >= 0.0 && t >= 0.0 && s + t <= 1.0).then(|| a.z + s * u.z + t * w.z)
    })
}

fn pits(dig: &Dig) -> impl Iterator<Item = &Pit> {
    dig.solids(Form::Stated).iter().filter_map(|solid| match solid {
        Solid::Pit(pit) => Some(pit),
        Solid::Leg(_) => None,
    })
}

fn area_m2(pit: &Pit) -> f64 {
    let c = &pit.corners;
    (1..c.len() - 1)
        .map(|k| (c[k] - c[0]).xy().perp(&(c[k + 1] - c[0]).xy()) / 2.0)
        .sum()
}

#[test]
fn every_place_of_the_plan_is_so_deep_below_the_surface_or_unknown() {
    let mut dice = Dice(17);
    let (mut known, mut unknown) = (0, 0);
    for case in 0..60 {
        let surface = rough(&mut dice, 12 + case);
        let ring = outline(&mut dice);
        let domain = Domain::new(std::slice::from_ref(&ring)).unwrap();
        let dig = Dig::new(&below(
            DigShape::Area {
                outline: ring,
                holes: vec![],
            },
            &surface,
            1.2,
        ))
        .unwrap();
        // The pieces fill the outline once.
        let (mut with_floor, mut without) = (0.0, 0.0);
        for pit in pits(&dig) {
            *(if pit.floor_known {
                &mut with_floor
            } else {
                &mut without
            }) += area_m2(pit);
        }
        assert!(
            (with_floor + without - domain.area_m2()).abs() < 1e-5,
            "case {case}"
        );
        assert!((without - dig.floor_unknown_area_m2).abs() < 1e-4, "case {case}");
        for _ in 0..300 {
            let p = v(dice.between(-8.0, 8.0), dice.between(-8.0, 8.0));
            let floors: Vec<_> = pits(&dig)
                .filter_map(|pit| floor_of(pit, p).map(|z| (pit.floor_known, z)))
                .collect();
            assert_eq!(domain.contains(p), !floors.is_empty(), "case {case} {p:?}");
            let Some(&(floor_known, level_m)) = floors.first() else {
                continue;
            };
            match surface.level_at(p) {
                Some(ground_m) => {
                    assert!(floor_known, "case {case} {p:?}");
                    assert!((level_m - (ground_m - 1.2)).abs() < 1e-7, "case {case} {p:?}");
                    known += 1;
                }
                None => {
                    assert!(!floor_known, "case {case} {p:?}");
                    unknown += 1;
                }
            }
        }
    }
    assert!(known > 1_000 && unknown > 100, "{known} {unknown}");
}

#[test]
fn a_hole_stays_standing() {
    let hole = vec![v(2.0, 2.0), v(4.0, 2.0), v(4.0, 3.0), v(2.0, 3.0)];
    let shape = DigShape::Area {
        outline: vec![v(0.0, 0.0), v(6.0, 0.0), v(6.0, 5.0), v(0.0, 5.0)],
        holes: vec![hole],
    };
    let surface = Surface::level(10.0);
    let dig = Dig::new(&below(shape, &surface, 1.0)).unwrap();
    let whole: f64 = pits(&dig).map(area_m2).sum();
    assert!((whole - 28.0).abs() < 1e-9);
    assert!(pits(&dig).all(|pit| floor_of(pit, v(3.0, 2.5)).is_none()));
}

#[test]
fn a_trench_runs_on_by_half_its_width_and_fills_its_corners() {
    let shape = DigShape::Line {
        points: vec![v(0.0, 0.0), v(5.0, 0.0), v(5.0, 4.0)],
        width_m: 1.0,
    };
    let surface = Surface::level(10.0);
    let dig = Dig::new(&below(shape, &surface, 1.0)).unwrap();
    let inside = |e: f64, n: f64| pits(&dig).any(|pit| floor_of(pit, v(e, n)).is_some());
    assert!(inside(-0.49, 0.49) && inside(5.49, -0.49) && inside(5.49, 4.49));
    assert!(!inside(-0.51, 0.0) && !inside(5.51, 0.0) && !inside(4.0, 0.51));
}

#[test]
fn walls_and_overlaps_take_the_lower_ground() {
    // Two levels over one place: where two facets overlap the lower is the surface, so the floor is the lower too.
    let points = [
        Vec3::new(0.0, 0.0, 10.0),
        Vec3::new(6.0, 0.0, 10.0),
        Vec3::new(0.0, 6.0, 10.0),
        Vec3::new(0.0, 0.0, 8.0),
        Vec3::new(3.0, 0.0, 8.0),
        Vec3::new(0.0, 3.0, 8.0),
    ];
    let surface = ground::tin::from_triangles(&points, &[[0, 1, 2], [3, 4, 5]], None).unwrap();
    let shape = DigShape::Area {
        outline: vec![v(0.2, 0.2), v(2.0, 0.2), v(2.0, 2.0), v(0.2, 2.0)],
        holes: vec![],
    };
    let dig = Dig::new(&below(shape, &surface, 1.0)).unwrap();
    let floor = |p: Vec2| {
        pits(&dig)
            .filter_map(|pit| floor_of(pit, p))
            .fold(f64::INFINITY, f64::min)
    };
    assert!((floor(v(0.5, 0.5)) - 7.0).abs() < 1e-9);
    assert!((floor(v(1.9, 1.9)) - 9.0).abs() < 1e-9);
    assert_eq!(dig.floor_unknown_area_m2, 0.0);
}

#[test]
fn a_surface_cut_finer_changes_no_gap() {
    // One plane as one facet, and as many: the same ground, so the same excavation and the same gaps.
    let mut dice = Dice(23);
    let level = |p: Vec2| 10.0 + 0.08 * p.x - 0.05 * p.y;
    let corners = [v(-40.0, -40.0), v(40.0, -40.0), v(40.0, 40.0), v(-40.0, 40.0)];
    for case in 0..40 {
        let mut points: Vec<Vec3> = corners.iter().map(|p| Vec3::new(p.x, p.y, level(*p))).collect();
        let (coarse, _) = triangulate(&points, &[], None).unwrap();
        for _ in 0..60 {
            let p = v(dice.between(-8.0, 8.0), dice.between(-8.0, 8.0));
            points.push(Vec3::new(p.x, p.y, level(p)));
        }
        let (fine, _) = triangulate(&points, &[], None).unwrap();
        let shape = DigShape::Area {
            outline: outline(&mut dice),
            holes: vec![],
        };
        let tube = random_tube(&mut dice);
        let gaps = |surface: &Surface| {
            let dig = Dig::new(&DigSpec {
                set_out_m: 0.3,
                over_dig_m: 0.2,
                ..below(shape.clone(), surface, 1.0)
            });
            tube_gaps(&tube, &dig.unwrap(), 2.0).unwrap()
        };
        let (one, many) = (gaps(&coarse), gaps(&fine));
        let same = |a: f64, b: f64| assert!((a - b).abs() < 1e-6, "case {case}: {a} {b}");
        same(one.shortest.gap_m, many.shortest.gap_m);
        same(
            one.worst_shortest.unwrap().gap_m,
            many.worst_shortest.unwrap().gap_m,
        );
        same(one.horizontal.gap_m, many.horizontal.gap_m);
        assert_eq!(one.vertical.is_ok(), many.vertical.is_ok());
        if let (Ok(a), Ok(b)) = (one.vertical, many.vertical) {
            same(a.gap_m, b.gap_m);
        }
        assert!((one.overlap_m - many.overlap_m).abs() < 1e-4, "case {case}");
    }
}

//! Searched shares against areas by hand and against points thrown at the plan.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

extern crate coverbook_ground as ground;

mod cases;

use cases::Dice;
use geo::{Area, Contains, MultiPolygon, Point};
use ground::Vec2;
use ground::dig::{Dig, DigShape, DigSpec, Floor, Form};
use ground::searched::{SearchedArea, SearchedError, plan_at_top, searched_in_all, searched_share};

fn v(e: f64, n: f64) -> Vec2 {
    Vec2::new(e, n)
}

fn block(e: f64, n: f64, width: f64, height: f64) -> Vec<Vec2> {
    vec![
        v(e, n),
        v(e + width, n),
        v(e + width, n + height),
        v(e, n + height),
    ]
}

fn plan(shape: DigShape, set_out_m: f64) -> MultiPolygon<f64> {
    let dig = Dig::new(&DigSpec {
        shape,
        floor: Some(Floor::Level(8.0)),
        surface: None,
        batter: None,
        set_out_m,
        over_dig_m: 0.3,
        surface_u95_m: 0.0,
    });
    plan_at_top(&dig.unwrap(), Form::Grown)
}

fn square_plan() -> MultiPolygon<f64> {
    plan(
        DigShape::Area {
            outline: block(0.0, 0.0, 10.0, 10.0),
            holes: vec![],
        },
        0.0,
    )
}

fn area(ring: Vec<Vec2>, shrink_m: f64) -> SearchedArea {
    SearchedArea {
        rings: vec![ring],
        shrink_m,
    }
}

/// The share is at most the exact one and less than a hundredth of a percent under it.
#[track_caller]
fn is_share(ours: f64, exact: f64) {
    assert!(
        ours <= exact && ours > exact - 1e-4,
        "{ours} is not just under {exact}"
    );
}

#[test]
fn a_search_counts_less_its_own_uncertainty() {
    let share = |areas: &[SearchedArea]| searched_share(&square_plan(), areas).unwrap();
    is_share(share(&[area(block(-5.0, -5.0, 10.0, 20.0), 0.5)]).share, 0.45);
    is_share(share(&[area(block(-5.0, -5.0, 30.0, 20.0), 0.5)]).share, 1.0);
    // Two that overlap count once; two that meet leave a strip of twice the uncertainty between them.
    let two = [
        area(block(-5.0, -5.0, 10.0, 20.0), 0.5),
        area(block(3.0, -5.0, 20.0, 20.0), 0.5),
    ];
    is_share(share(&two).share, 1.0);
    let two = [
        area(block(-5.0, -5.0, 10.0, 20.0), 0.5),
        area(block(5.0, -5.0, 20.0, 20.0), 0.5),
    ];
    is_share(share(&two).share, 0.9);
    // One that is narrower than its uncertainty counts for nothing.
    assert_eq!(share(&[area(block(4.0, -5.0, 0.9, 20.0), 0.5)]).share, 0.0);
    assert_eq!(share(&[]).share, 0.0);
    let none = share(&[]);
    assert!((none.unsearched.unsigned_area() - 100.0).abs() < 1e-6 && (none.area_m2 - 100.0).abs() < 1e-6);
}

#[test]
fn a_hole_in_a_search_grows_by_the_uncertainty() {
    let ring = SearchedArea {
        rings: vec![block(-5.0, -5.0, 20.0, 20.0), block(4.0, 4.0, 2.0, 2.0)],
        shrink_m: 0.5,
    };
    let share = searched_share(&square_plan(), &[ring]).unwrap();
    let rounded = 2.0 * 2.0 + 4.0 * 2.0 * 0.5 + std::f64::consts::PI * 0.25;
    is_share(share.share, 1.0 - rounded / 100.0);
}

#[test]
fn slivers_go_to_the_unsearched() {
    // 4 mm of searched ground along one side, from an area that all but misses the plan.
    let share = searched_share(&square_plan(), &[area(block(-5.0, -5.0, 5.004, 20.0), 0.0)]).unwrap();
    assert_eq!(share.share, 0.0);
    assert!((share.unsearched.unsigned_area() - 100.0).abs() < 1e-6);
}

#[test]
fn the_headline_counts_only_what_was_searched_for_every_service() {
    let plan = square_plan();
    let one = searched_share(&plan, &[area(block(-5.0, -5.0, 10.0, 20.0), 0.0)]).unwrap();
    let two = searched_share(&plan, &[area(block(-5.0, -5.0, 20.0, 8.0), 0.0)]).unwrap();
    is_share(searched_in_all(&plan, &[one.clone(), two]).share, 0.15);
    is_share(
        searched_in_all(&plan, std::slice::from_ref(&one)).share,
        one.share + 1e-9,
    );
    assert_eq!(searched_in_all(&plan, &[]).share, 0.0);
}

#[test]
fn the_plan_of_a_grown_excavation_holds_its_rounded_corners() {
    let plan = plan(
        DigShape::Area {
            outline: block(0.0, 0.0, 10.0, 4.0),
            holes: vec![],
        },
        0.5,
    );
    let exact = 40.0 + 28.0 * 0.5 + std::f64::consts::PI * 0.25;
    let ours = plan.unsigned_area();
    assert!(ours >= exact - 1e-6 && ours < exact + 0.01, "{ours} {exact}");
}

#[test]
fn no_point_is_called_searched_that_might_lie_outside_the_search() {
    let mut dice = Dice(29);
    for case in 0..30 {
        let star = |dice: &mut Dice, out: f64| -> Vec<Vec2> {
            let (e, n) = (dice.between(-3.0, 3.0), dice.between(-3.0, 3.0));
            (0..9)
                .map(|i| {
                    let angle = std::f64::consts::TAU * f64::from(i) / 9.0;
                    let out = out * dice.between(0.3, 1.0);
                    v(e + out * angle.cos(), n + out * angle.sin())
                })
                .collect()
        };
        let plan = plan(
            DigShape::Area {
                outline: star(&mut dice, 5.0),
                holes: vec![],
            },
            0.3,
        );
        let areas: Vec<_> = (0..3).map(|_| area(star(&mut dice, 6.0), 0.25)).collect();
        let share = searched_share(&plan, &areas).unwrap();
        let certain = |p: Vec2, ring: &[Vec2]| {
            let mut inside = false;
            let mut edge_m = f64::INFINITY;
            for i in 0..ring.len() {
                let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
                if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) {
                    inside = !inside;
                }
                let t = ((p - a).dot(&(b - a)) / (b - a).norm_squared()).clamp(0.0, 1.0);
                edge_m = edge_m.min((p - a - (b - a) * t).norm());
            }
            if inside { edge_m } else { -edge_m }
        };
        for _ in 0..400 {
            let p = v(dice.between(-9.0, 9.0), dice.between(-9.0, 9.0));
            let point = Point::new(p.x, p.y);
            if !plan.contains(&point) {
                continue;
            }
            let searched = !share.unsearched.contains(&point);
            let depth_m = areas
                .iter()
                .map(|a| certain(p, &a.rings[0]))
                .fold(f64::NEG_INFINITY, f64::max);
            if searched {
                assert!(depth_m >= 0.25 - 1e-6, "case {case} {p:?} {depth_m}");
            } else {
                // Where two searches cross, thin necks may be given up; a place well inside one may not.
                assert!(depth_m < 0.30, "case {case} {p:?} {depth_m}");
            }
        }
    }
}

#[test]
fn a_search_that_is_none_is_refused() {
    let refused = |area| searched_share(&square_plan(), &[area]).unwrap_err();
    let bow_tie = area(vec![v(0.0, 0.0), v(4.0, 4.0), v(4.0, 0.0), v(0.0, 4.0)], 0.1);
    assert!(matches!(refused(bow_tie), SearchedError::Outline { area: 1, .. }));
    let unsure = refused(area(block(0.0, 0.0, 5.0, 5.0), f64::NAN));
    assert!(matches!(unsure, SearchedError::BadShrink { area: 1, .. }));
}

#[test]
fn a_dig_well_inside_a_search_is_searched_whole_and_leaves_no_rounding_behind() {
    // Turned rectangles with rounded corners, and several searches that overlap under them.
    for step in 0..48 {
        let turn = f64::from(step) * 0.131;
        let corner = |e: f64, n: f64| {
            v(
                e * turn.cos() - n * turn.sin() + 37.3,
                e * turn.sin() + n * turn.cos() - 81.7,
            )
        };
        let outline = vec![
            corner(0.0, 0.0),
            corner(7.13, 0.0),
            corner(7.13, 1.37),
            corner(0.0, 1.37),
        ];
        let plan = plan(
            DigShape::Area {
                outline,
                holes: Vec::new(),
            },
            0.3,
        );
        let left = area(block(0.0, -120.0, 38.0, 100.0), 0.02);
        let right = area(block(35.0, -120.0, 60.0, 100.0), 0.03);
        let whole = area(block(-50.0, -200.0, 200.0, 300.0), 0.01);
        let each = [
            vec![left, right.clone()],
            vec![whole],
            vec![right, area(block(-60.0, -130.0, 97.0, 120.0), 0.0)],
        ]
        .map(|areas| searched_share(&plan, &areas).unwrap());
        for share in each.iter().chain([&searched_in_all(&plan, &each)]) {
            assert_eq!((share.share, share.unsearched.0.len()), (1.0, 0), "turned {turn}");
        }
    }
}

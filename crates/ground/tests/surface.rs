//! Surfaces against closed forms and a plain scan of the triangles.

use coverbook_ground::domain::Domain;
use coverbook_ground::facet::{PlanBox, twice_signed_area};
use coverbook_ground::surface::Surface;
use coverbook_ground::tin::{TinError, from_triangles, triangulate};
use coverbook_ground::{Vec2, Vec3};
use proptest::prelude::*;

fn grid(across: u32, level: impl Fn(f64, f64) -> f64) -> Vec<Vec3> {
    (0..across * across)
        .map(|i| {
            let (e, n) = (f64::from(i % across), f64::from(i / across));
            // Moved off the lattice so that the triangulation is unique.
            let (e, n) = (e + 0.2 * (7.3 * n + e).sin(), n + 0.2 * (5.1 * e - n).cos());
            Vec3::new(e, n, level(e, n))
        })
        .collect()
}

/// Closed form: a plane stays a plane whatever its triangles, to the edge of the hull and not beyond.
#[test]
fn a_triangulated_plane_returns_its_levels() {
    let plane = |e: f64, n: f64| 40.0 + 0.03 * e - 0.07 * n;
    let (surface, report) = triangulate(&grid(20, plane), &[], None).unwrap();
    assert_eq!(report.repeated_points, 0);
    for i in 0..400 {
        let p = Vec2::new(
            1.0 + 17.0 * f64::from(i % 20) / 19.0,
            1.0 + 17.0 * f64::from(i / 20) / 19.0,
        );
        assert!((surface.level_at(p).unwrap() - plane(p.x, p.y)).abs() < 1e-11);
        assert!((surface.plane_at(p).unwrap().gradient - Vec2::new(0.03, -0.07)).norm() < 1e-9);
    }
    for outside in [Vec2::new(-1.0, 5.0), Vec2::new(5.0, 20.5), Vec2::new(400.0, 5.0)] {
        assert_eq!(surface.level_at(outside), None);
    }
}

/// Every measured point is on the surface, corners of the hull too, at its own level.
#[test]
fn measured_points_keep_their_levels() {
    let points: Vec<Vec3> = grid(30, |e, n| 3.0 * (0.7 * e).sin() + (1.3 * n).cos())
        .iter()
        .map(|p| p + Vec3::new(9_500.0, -8_200.0, 0.0))
        .collect();
    let (surface, _) = triangulate(&points, &[], None).unwrap();
    for p in &points {
        assert!((surface.level_at(p.xy()).unwrap() - p.z).abs() < 1e-9, "{p}");
    }
}

/// Closed form: a square with its two diagonals at different levels; the breakline says which one is the edge.
#[test]
fn a_breakline_is_an_edge_of_the_surface() {
    let corners = [(0.0, 0.0, 0.0), (4.0, 0.1, 1.0), (4.2, 4.0, 0.0), (0.0, 4.1, 1.0)]
        .map(|(e, n, z)| Vec3::new(e, n, z));
    for (line, level) in [(vec![0, 2], 0.0), (vec![1, 3], 1.0)] {
        let (surface, report) = triangulate(&corners, std::slice::from_ref(&line), None).unwrap();
        assert!(report.dropped_breaklines.is_empty());
        let middle = (corners[line[0]] + corners[line[1]]) / 2.0;
        assert!((surface.level_at(middle.xy()).unwrap() - level).abs() < 1e-12);
    }
    let (_, report) = triangulate(&corners, &[vec![0, 2], vec![1, 3]], None).unwrap();
    assert_eq!(report.dropped_breaklines.len(), 1, "{report:?}");
    let dropped = report.dropped_breaklines[0];
    assert!(dropped == (1, 1, 3) || dropped == (2, 2, 4), "{dropped:?}");
}

#[test]
fn two_levels_in_one_place_are_refused_with_both_rows() {
    let mut points = grid(5, |_, _| 2.0);
    points.push(points[7] + Vec3::new(0.0, 0.0, 0.25));
    let refused = triangulate(&points, &[], None).unwrap_err();
    assert!(
        matches!(
            refused,
            TinError::TwoLevels {
                first: 8,
                second: 26,
                ..
            }
        ),
        "{refused}"
    );
    points.pop();
    points.push(points[7]);
    let (_, report) = triangulate(&points, &[], None).unwrap();
    assert_eq!(report.repeated_points, 1);
}

#[test]
fn points_that_make_no_surface_are_refused() {
    let line: Vec<Vec3> = (0..100)
        .map(|i| Vec3::new(0.1 * f64::from(i), 0.3 * f64::from(i), 1.0))
        .collect();
    assert!(matches!(
        triangulate(&line, &[], None),
        Err(TinError::NoTriangles { points: 100 })
    ));
    assert!(matches!(
        triangulate(&[], &[], None),
        Err(TinError::NoTriangles { points: 0 })
    ));
    let mut bad = grid(3, |_, _| 0.0);
    bad[4].z = f64::NAN;
    assert_eq!(
        triangulate(&bad, &[], None).unwrap_err(),
        TinError::NotFinite { point: 5 }
    );
    let unknown = triangulate(&grid(3, |_, _| 0.0), &[vec![0, 9]], None).unwrap_err();
    assert!(matches!(
        unknown,
        TinError::NoSuchPoint {
            what: "breakline",
            index: 1,
            point: 10,
            points: 9
        }
    ));
}

/// Points along a straight kerb, each read to the millimetre, would make slivers with levels of their own along the hull.
#[test]
fn slivers_along_the_hull_are_taken_off() {
    let mut points = vec![Vec3::new(5.0, 6.0, 3.0)];
    for i in 0..=20 {
        let e = f64::from(i) / 2.0;
        points.push(Vec3::new(
            e,
            if i % 2 == 0 { 0.0 } else { 0.0003 },
            f64::from(i % 5),
        ));
    }
    let (surface, report) = triangulate(&points, &[], None).unwrap();
    assert!(report.thin_hull_triangles > 0);
    assert_eq!(surface.level_at(Vec2::new(5.25, -0.0005)), None);
    assert!(surface.level_at(Vec2::new(5.0, 3.0)).is_some());
}

/// Closed form: an L with a hole in it cut out of a plane; the area left, and levels inside and out.
#[test]
fn a_boundary_cuts_the_surface_and_its_holes() {
    let plane = |e: f64, n: f64| 0.1 * e + 0.2 * n;
    let outline = [
        (3.0, 3.0),
        (15.0, 3.0),
        (15.0, 8.0),
        (9.0, 8.0),
        (9.0, 16.0),
        (3.0, 16.0),
    ]
    .map(|(e, n)| Vec2::new(e, n))
    .to_vec();
    let hole = [(4.0, 4.0), (6.0, 4.0), (6.0, 6.5), (4.0, 6.5)]
        .map(|(e, n)| Vec2::new(e, n))
        .to_vec();
    let domain = Domain::new(&[outline, hole]).unwrap();
    let (surface, _) = triangulate(&grid(20, plane), &[], Some(&domain)).unwrap();
    let mut area = 0.0;
    surface.facets_in(
        &PlanBox {
            min: Vec2::new(-5.0, -5.0),
            max: Vec2::new(30.0, 30.0),
        },
        |facet| {
            area += twice_signed_area(facet.corners) / 2.0;
        },
    );
    assert!(
        (area - (12.0 * 5.0 + 6.0 * 8.0 - 2.0 * 2.5)).abs() < 1e-9,
        "{area}"
    );
    let mut dice = 1u64;
    for _ in 0..4_000 {
        dice = dice
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let p = Vec2::new(
            (dice >> 40) as f64 / (1 << 24) as f64 * 18.0,
            (dice >> 16 & 0xff_ffff) as f64 / (1 << 24) as f64 * 18.0,
        );
        let level = surface.level_at(p);
        assert_eq!(level.is_some(), domain.contains(p), "{p}");
        if let Some(level) = level {
            assert!((level - plane(p.x, p.y)).abs() < 1e-10);
        }
    }
    let away = Domain::new(&[[(300.0, 3.0), (315.0, 3.0), (315.0, 8.0)]
        .map(|(e, n)| Vec2::new(e, n))
        .to_vec()])
    .unwrap();
    assert_eq!(
        triangulate(&grid(20, plane), &[], Some(&away)).unwrap_err(),
        TinError::BoundaryOutside
    );
}

/// Closed form: a wall of no thickness, foot at 0 and head at 1; the lower value is the surface, and the wall is no edge of it.
#[test]
fn at_a_wall_the_lower_level_counts() {
    let points = [
        (0.0, 0.0, 0.0),
        (5.0, 0.0, 0.0),
        (5.0, 5.0, 0.0),
        (0.0, 5.0, 0.0),
        (5.0, 0.0, 1.0),
        (9.0, 0.0, 1.0),
        (9.0, 5.0, 1.0),
        (5.0, 5.0, 1.0),
    ]
    .map(|(e, n, z)| Vec3::new(e, n, z));
    let surface = from_triangles(&points, &[[0, 1, 2], [0, 3, 2], [4, 5, 6], [4, 6, 7]], None).unwrap();
    assert_eq!(surface.level_at(Vec2::new(5.0, 2.0)), Some(0.0));
    assert_eq!(surface.level_at(Vec2::new(5.001, 2.0)), Some(1.0));
    assert!(surface.covers_disc(Vec2::new(5.0, 2.5), 2.0));
    assert!(!surface.covers_disc(Vec2::new(5.0, 2.5), 2.6));
    assert_eq!(surface.max_level(), Some(1.0));
}

/// Published volumes between triangulated surfaces start from levels; the two pyramids below are closed forms.
#[test]
fn given_triangles_of_either_sense_make_a_pyramid() {
    let points = [
        (0.0, 0.0, 0.0),
        (10.0, 0.0, 0.0),
        (10.0, 10.0, 0.0),
        (0.0, 10.0, 0.0),
        (5.0, 5.0, 3.0),
    ]
    .map(|(e, n, z)| Vec3::new(e, n, z));
    let surface = from_triangles(&points, &[[0, 1, 4], [4, 2, 1], [2, 3, 4], [4, 0, 3]], None).unwrap();
    let mut volume = 0.0;
    surface.facets_in(
        &PlanBox {
            min: Vec2::zeros(),
            max: Vec2::new(10.0, 10.0),
        },
        |facet| {
            let mean = facet.corners.iter().map(|p| facet.plane.at(*p)).sum::<f64>() / 3.0;
            volume += mean * twice_signed_area(facet.corners) / 2.0;
        },
    );
    // A h / 3.
    assert!((volume - 100.0).abs() < 1e-9, "{volume}");
    assert!((surface.level_at(Vec2::new(5.0, 2.5)).unwrap() - 1.5).abs() < 1e-12);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// The grid finds what a scan of all facets finds, on edges and corners too.
    #[test]
    fn the_grid_finds_what_a_scan_finds(seed in 0u64..10_000, on_edge in any::<bool>()) {
        let mut dice = seed;
        let mut roll = || {
            dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (dice >> 11) as f64 / (1u64 << 53) as f64
        };
        let points: Vec<Vec3> = (0..60).map(|_| Vec3::new(100.0 * roll(), 3.0 * roll(), roll())).collect();
        let (surface, _) = triangulate(&points, &[], None).unwrap();
        let everything = PlanBox { min: Vec2::new(-1e3, -1e3), max: Vec2::new(1e3, 1e3) };
        let mut facets = Vec::new();
        surface.facets_in(&everything, |facet| facets.push((facet.corners.to_vec(), facet.plane)));
        prop_assert_eq!(facets.len(), surface.facet_count());
        for _ in 0..50 {
            let p = if on_edge {
                let (corners, _) = &facets[(roll() * facets.len() as f64) as usize];
                corners[0] + (corners[1] - corners[0]) * (roll() * 1.2).min(1.0)
            } else {
                Vec2::new(100.0 * roll(), 3.0 * roll())
            };
            let scanned = facets
                .iter()
                .filter(|(corners, plane)| coverbook_ground::facet::Facet { corners, plane: *plane }.holds(p, 1e-9))
                .map(|(_, plane)| plane.at(p))
                .fold(f64::INFINITY, f64::min);
            match surface.level_at(p) {
                Some(level) => prop_assert!((level - scanned).abs() < 1e-5, "{} {} at {}", level, scanned, p),
                None => prop_assert!(scanned.is_infinite()),
            }
            prop_assert!(!on_edge || surface.level_at(p).is_some());
        }
    }
}

#[test]
fn a_level_everywhere_hands_out_the_box_asked_for() {
    let surface = Surface::level(12.5);
    let asked = PlanBox {
        min: Vec2::new(3.0, 4.0),
        max: Vec2::new(5.0, 9.0),
    };
    let mut seen = 0;
    surface.facets_in(&asked, |facet| {
        seen += 1;
        assert_eq!(facet.corners, asked.corners());
        assert_eq!(facet.plane.at(Vec2::new(4.0, 5.0)), 12.5);
    });
    assert_eq!(seen, 1);
    assert_eq!(surface.level_at(Vec2::new(1e6, -1e6)), Some(12.5));
    assert_eq!(surface.bounds(), None);
}

//! Triangulated surfaces with boundaries and holes, against closed forms and the textbook's point in polygon.

use coverbook_ground::domain::{Domain, DomainError};
use coverbook_ground::tin::{TinError, faces, from_triangles, triangulate};
use coverbook_ground::{Vec2, Vec3};
use proptest::prelude::*;

/// The level of a plane that every test can reckon by hand.
fn plane(e: f64, n: f64) -> f64 {
    12.0 + 0.02 * e - 0.05 * n
}

fn lift(p: Vec2) -> Vec3 {
    Vec3::new(p.x, p.y, plane(p.x, p.y))
}

fn ring(corners: &[(f64, f64)]) -> Vec<Vec2> {
    corners.iter().map(|&(e, n)| Vec2::new(e, n)).collect()
}

fn square(at: f64, side: f64) -> Vec<Vec2> {
    ring(&[(at, at), (at + side, at), (at + side, at + side), (at, at + side)])
}

/// Points of a field, with the corners of the rings among them.
fn field(rings: &[&[Vec2]]) -> Vec<Vec3> {
    let inner = (0..144).map(|i| {
        let (e, n) = (f64::from(i % 12), f64::from(i / 12));
        Vec2::new(e + 0.21 * (3.7 * n + e).sin(), n + 0.19 * (2.9 * e - n).cos())
    });
    inner
        .chain(rings.iter().flat_map(|ring| ring.iter().copied()))
        .map(lift)
        .collect()
}

/// Crossing number by the textbook (a ray to the east), written apart from the code under test; common practice.
fn in_polygon(ring: &[Vec2], p: Vec2) -> bool {
    let mut crossings = 0;
    let mut j = ring.len() - 1;
    for i in 0..ring.len() {
        let (a, b) = (ring[j], ring[i]);
        let (low, high) = if a.y < b.y { (a, b) } else { (b, a) };
        if low.y <= p.y && p.y < high.y {
            let cross = (high.x - low.x) * (p.y - low.y) - (high.y - low.y) * (p.x - low.x);
            // To the left of the side that goes up: the ray meets it.
            crossings += usize::from(cross > 0.0);
        }
        j = i;
    }
    crossings % 2 == 1
}

/// Closed form: areas of squares, and the plane's level wherever there is one.
#[test]
fn outside_the_boundary_and_inside_a_hole_there_is_no_surface() {
    let (outer, hole) = (square(1.0, 8.0), square(3.0, 2.5));
    let domain = Domain::with_holes(std::slice::from_ref(&outer), std::slice::from_ref(&hole)).unwrap();
    let points = field(&[&outer, &hole]);
    let (surface, _) = triangulate(&points, &[], Some(&domain)).unwrap();
    for (e, n) in [(2.0, 2.0), (8.5, 8.5), (6.0, 4.0), (2.9, 4.0)] {
        assert!((surface.level_at(Vec2::new(e, n)).unwrap() - plane(e, n)).abs() < 1e-12);
    }
    for (e, n) in [(0.5, 5.0), (9.5, 5.0), (4.0, 4.0), (3.1, 5.4), (11.0, 11.0)] {
        assert_eq!(surface.level_at(Vec2::new(e, n)), None, "{e} {n}");
    }
    // The rings are measured lines: on them there is a level, and a micrometre beyond there is none.
    for t in 0..=20 {
        let at = |from: f64, side: f64| from + side * f64::from(t) / 20.0;
        let on_hole = Vec2::new(3.0, at(3.0, 2.5));
        assert!((surface.level_at(on_hole).unwrap() - plane(on_hole.x, on_hole.y)).abs() < 1e-12);
        let on_outer = Vec2::new(at(1.0, 8.0), 9.0);
        assert!((surface.level_at(on_outer).unwrap() - plane(on_outer.x, on_outer.y)).abs() < 1e-12);
        assert_eq!(surface.level_at(on_outer + Vec2::new(0.0, 1e-6)), None);
        if (1..20).contains(&t) {
            assert_eq!(surface.level_at(on_hole + Vec2::new(1e-6, 0.0)), None);
        }
        // Nothing as wide as a pipe is covered where it reaches over the edge: in doubt, there is no surface.
        assert!(!surface.covers_disc(on_hole - Vec2::new(0.049, 0.0), 0.05));
        assert!(!surface.covers_disc(on_outer - Vec2::new(0.0, 0.049), 0.05));
    }
    assert!(
        surface.covers_disc(Vec2::new(2.0, 5.0), 0.99) && !surface.covers_disc(Vec2::new(2.0, 5.0), 1.01)
    );
    // Triangles that follow the rings add up to exactly what the rings leave: 64 - 6.25.
    let given = faces(&points, &[], Some(&domain)).unwrap();
    assert_eq!(given.len(), surface.facet_count());
    let area: f64 = given
        .iter()
        .map(|f| {
            let [a, b, c] = f.map(|i| points[i].xy());
            (b - a).perp(&(c - a)) / 2.0
        })
        .sum();
    assert!((area - 57.75).abs() < 1e-9, "{area}");
}

/// A ring of points is an edge of the triangles: the level along it is its own, not one from across it.
///
/// Closed form: a kerb line at level 1 between ground at 0 on both sides; without the ring the level there dips.
#[test]
fn the_level_along_a_ring_of_points_is_the_rings_own() {
    let kerb = ring(&[(0.0, 0.0), (10.0, 0.0), (10.0, 6.0), (0.0, 6.0)]);
    let mut points: Vec<Vec3> = kerb.iter().map(|p| Vec3::new(p.x, p.y, 1.0)).collect();
    for e in 0..=10 {
        for n in [-0.4, 0.4, 5.6, 6.4] {
            points.push(Vec3::new(f64::from(e), n, 0.0));
        }
    }
    let domain = Domain::with_holes(&[kerb], &[]).unwrap();
    let (bounded, report) = triangulate(&points, &[], Some(&domain)).unwrap();
    assert!(report.dropped_breaklines.is_empty());
    for e in 1..10 {
        let p = Vec2::new(f64::from(e), 0.0);
        assert!((bounded.level_at(p).unwrap() - 1.0).abs() < 1e-12);
    }
    let (open, _) = triangulate(&points, &[], None).unwrap();
    assert!(open.level_at(Vec2::new(5.0, 0.0)).unwrap() < 0.5);
}

#[test]
fn a_breakline_over_the_boundary_is_refused_and_one_that_ends_on_it_is_not() {
    let outer = square(1.0, 8.0);
    let mut points = field(&[&outer]);
    let first = points.len();
    let line = ring(&[(2.0, 5.0), (10.5, 5.25), (9.0, 5.0)]);
    points.extend(line.into_iter().map(lift));
    let domain = Domain::with_holes(&[outer], &[]).unwrap();
    let refused = triangulate(&points, &[vec![0, 1], vec![first, first + 1]], Some(&domain)).map(|_| ());
    let Err(TinError::BreaklineCrosses {
        line,
        from,
        to,
        easting,
        ..
    }) = refused
    else {
        panic!("{refused:?}");
    };
    assert_eq!((line, from, to, easting), (2, first + 1, first + 2, 9.0));
    assert!(triangulate(&points, &[vec![first, first + 2]], Some(&domain)).is_ok());
    // Without a boundary, the same line is no fault.
    assert!(triangulate(&points, &[vec![first, first + 1]], None).is_ok());
}

#[test]
fn rings_that_bound_nothing_are_refused() {
    let points = field(&[]);
    let away = Domain::with_holes(&[square(100.0, 5.0)], &[]).unwrap();
    assert!(matches!(
        triangulate(&points, &[], Some(&away)),
        Err(TinError::BoundaryOutside)
    ));
    assert!(matches!(
        faces(&points, &[], Some(&away)),
        Err(TinError::BoundaryOutside)
    ));
    let tie = ring(&[(0.0, 0.0), (4.0, 4.0), (4.0, 0.0), (0.0, 5.0)]);
    assert!(matches!(
        Domain::with_holes(&[tie], &[]),
        Err(DomainError::Crosses { ring: 1, .. })
    ));
}

/// Given triangles are the surface as they are: the other diagonal of a square would answer another level.
///
/// Closed form: corners 0, 1, 0, 1 in turn; the diagonal drawn decides whether the middle is 0 or 1.
#[test]
fn given_faces_are_not_triangulated_anew() {
    let points = [(0.0, 0.0, 0.0), (4.0, 0.0, 1.0), (4.0, 4.0, 0.0), (0.0, 4.0, 1.0)]
        .map(|(e, n, z)| Vec3::new(e, n, z));
    for (given, level) in [([[0, 1, 2], [0, 2, 3]], 0.0), ([[0, 1, 3], [1, 2, 3]], 1.0)] {
        let surface = from_triangles(&points, &given, None).unwrap();
        assert_eq!(surface.facet_count(), 2);
        assert!((surface.level_at(Vec2::new(2.0, 2.0)).unwrap() - level).abs() < 1e-12);
    }
}

/// Corners of a star-shaped ring, counter-clockwise about a middle.
fn star(middle: Vec2, reaches: &[f64]) -> Vec<Vec2> {
    let step = std::f64::consts::TAU / reaches.len() as f64;
    (0..)
        .zip(reaches)
        .map(|(i, r)| middle + Vec2::new((step * f64::from(i)).cos(), (step * f64::from(i)).sin()) * *r)
        .collect()
}

/// Distance to the nearest side, so that only positions clear of rounding are compared.
fn off_sides(rings: &[&[Vec2]], p: Vec2) -> f64 {
    let mut least = f64::INFINITY;
    for ring in rings {
        for i in 0..ring.len() {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            let t = ((p - a).dot(&(b - a)) / (b - a).norm_squared()).clamp(0.0, 1.0);
            least = least.min((p - a - (b - a) * t).norm());
        }
    }
    least
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// Brute force: a level is there exactly where the textbook's test finds the outline around and no hole around,
    /// whether the rings are points of the surface or cut through its triangles.
    #[test]
    fn a_level_is_there_exactly_inside_the_outline_and_outside_the_holes(
        outer in prop::collection::vec(3.0f64..5.0, 5..14),
        first in prop::collection::vec(0.3f64..1.0, 3..9),
        second in prop::collection::vec(0.3f64..1.0, 3..9),
        asked in prop::collection::vec((0.0f64..11.0, 0.0f64..11.0), 60),
        of_points in any::<bool>(),
        backwards in any::<bool>(),
    ) {
        let outer = star(Vec2::new(5.5, 5.5), &outer);
        let mut first = star(Vec2::new(4.4, 5.5), &first);
        let second = star(Vec2::new(6.6, 5.5), &second);
        if backwards {
            first.reverse();
        }
        let domain = Domain::with_holes(std::slice::from_ref(&outer), &[first.clone(), second.clone()]).unwrap();
        let points = if of_points { field(&[&outer, &first, &second]) } else { field(&[]) };
        let (surface, _) = triangulate(&points, &[], Some(&domain)).unwrap();
        for &(e, n) in &asked {
            let p = Vec2::new(e, n);
            // The field reaches from 0.2 to 10.8 with room to spare around every ring.
            if off_sides(&[&outer, &first, &second], p) < 1e-8 {
                continue;
            }
            let expected = in_polygon(&outer, p) && !in_polygon(&first, p) && !in_polygon(&second, p);
            let level = surface.level_at(p);
            prop_assert_eq!(level.is_some(), expected, "{} {}", e, n);
            prop_assert_eq!(domain.contains(p), expected);
            if let Some(level) = level {
                prop_assert!((level - plane(e, n)).abs() < 1e-9);
            }
        }
        // The triangles given out make the same surface again, cut by the same rings.
        let given = faces(&points, &[], Some(&domain)).unwrap();
        let again = from_triangles(&points, &given, Some(&domain)).unwrap();
        if of_points {
            prop_assert_eq!(given.len(), surface.facet_count());
        }
        for &(e, n) in &asked {
            let p = Vec2::new(e, n);
            if off_sides(&[&outer, &first, &second], p) >= 1e-8 {
                prop_assert_eq!(surface.level_at(p).is_some(), again.level_at(p).is_some());
            }
        }
    }
}

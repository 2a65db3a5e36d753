//! Cover against closed forms.

use coverbook_ground::cover::{CoverMeasure, CoverVerdict, NoCover, cover};
use coverbook_ground::domain::Domain;
use coverbook_ground::facet::Affine;
use coverbook_ground::surface::Surface;
use coverbook_ground::tin::triangulate;
use coverbook_ground::tube::{Growth, Section, Tube, TubeVertex};
use coverbook_ground::{Vec2, Vec3};

const PLACED: Option<Growth> = Some(Growth {
    horizontal_m: 0.03,
    vertical_m: 0.02,
});

fn tube(radius_m: f64, axis: &[(f64, f64, f64)], growth: Option<Growth>) -> Tube {
    sectioned(Section::Round { radius_m }, axis, growth)
}

fn sectioned(section: Section, axis: &[(f64, f64, f64)], growth: Option<Growth>) -> Tube {
    let mut chainage_m = 0.0;
    let mut vertices: Vec<TubeVertex> = Vec::new();
    for &(e, n, z) in axis {
        let at = Vec3::new(e, n, z);
        if let Some(last) = vertices.last() {
            chainage_m += (at - last.axis).xy().norm();
        }
        vertices.push(TubeVertex {
            axis: at,
            chainage_m,
            growth,
        });
    }
    Tube { section, vertices }
}

fn plane(e: f64, n: f64, level: f64, gradient: (f64, f64)) -> Surface {
    Surface::plane(Affine {
        anchor: Vec3::new(e, n, level),
        gradient: Vec2::new(gradient.0, gradient.1),
    })
}

#[track_caller]
fn close(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "found {found}, expected {expected} within {tolerance}"
    );
}

/// Closed forms, recomputed independently: three surface triangles, a level pipe centre, its outside diameter; the level
/// above the centre, plumb cover to the centre, shortest distance to the outside. (The published cases print the cover to the
/// crown under the centre only; here the whole section counts, so the plumb figure is centre less r sqrt(1 + g^2).)
#[test]
fn cover_under_a_triangle() {
    for (triangle, centre, diameter, level, to_centre, slope_percent, shortest) in [
        (
            [(0.0, 0.0, 100.0), (20.0, 0.0, 101.0), (0.0, 20.0, 100.5)],
            (5.0, 4.0, 99.2),
            0.05,
            100.35,
            1.15,
            5.59016994375,
            1.12320732549,
        ),
        (
            [(500.0, 200.0, 32.1), (540.0, 205.0, 30.9), (515.0, 240.0, 31.4)],
            (515.0, 215.0, 30.65),
            0.11,
            31.5639344262,
            0.91393442623,
            2.99080378544,
            0.858525947309,
        ),
        (
            [(0.0, 0.0, 10.0), (5.0, 0.0, 10.0), (0.0, 5.0, 10.0)],
            (1.0, 1.0, 9.925),
            0.032,
            10.0,
            0.075,
            0.0,
            0.059,
        ),
    ] {
        let points: Vec<Vec3> = triangle.iter().map(|&(e, n, z)| Vec3::new(e, n, z)).collect();
        let (surface, _) = triangulate(&points, &[], None).unwrap();
        let (e, n, z) = centre;
        close(surface.level_at(Vec2::new(e, n)).unwrap(), level, 1e-9);
        close(
            surface.plane_at(Vec2::new(e, n)).unwrap().gradient.norm() * 100.0,
            slope_percent,
            1e-9,
        );
        // A leg along the contour through the centre keeps its cover: the figures of the point are those of the leg.
        let g = surface.plane_at(Vec2::new(e, n)).unwrap().gradient;
        let contour = if g.norm() > 0.0 {
            Vec2::new(-g.y, g.x).normalize()
        } else {
            Vec2::x()
        };
        let pipe = tube(
            diameter / 2.0,
            &[(e, n, z), (e + contour.x * 0.3, n + contour.y * 0.3, z)],
            None,
        );
        let found = cover(&pipe, &surface, None).unwrap();
        let plumb = to_centre - diameter / 2.0 * (slope_percent / 100.0_f64).hypot(1.0);
        close(found.least.unwrap().cover_m, plumb, 1e-9);
        close(found.greatest.unwrap().cover_m, plumb, 1e-4);
        close(found.shortest.unwrap().cover_m, shortest, 1e-6);
        assert_eq!(found.unknown_m, 0.0);
        assert_eq!(found.worst, Err(NoCover::NotPlaced { leg: 0 }));
    }
}

/// Closed form: on a slope of 2 to 1, 0.60 m plumb is 0.54 m the shortest way (0.60 cos(atan 1/2) = 0.5367).
#[test]
fn a_rule_must_say_which_way_it_measures() {
    let radius = 0.05;
    let bank = plane(0.0, 0.0, 10.0, (0.5, 0.0));
    let depth = 0.6 + radius * 1.25f64.sqrt();
    let pipe = tube(
        radius,
        &[(0.0, 0.0, 10.0 - depth), (0.0, 8.0, 10.0 - depth)],
        PLACED,
    );
    let found = cover(&pipe, &bank, Some(0.0)).unwrap();
    close(found.least.unwrap().cover_m, 0.6, 1e-9);
    close(found.shortest.unwrap().cover_m, 0.536_656_3, 1e-6);
    assert_eq!(found.judge(0.55, CoverMeasure::Shortest), CoverVerdict::Short);
    assert_eq!(found.judge(0.55, CoverMeasure::Vertical), CoverVerdict::Met);
}

/// Closed form for a grown tube under a plane: centre less r sqrt(1 + g^2), less h g, less v, less the surface's 95 %.
#[test]
fn the_worst_cover_takes_everything_off() {
    let surface = plane(9_000.0, 8_000.0, 50.0, (0.3, 0.4));
    let pipe = tube(
        0.11,
        &[(9_000.0, 8_000.0, 48.0), (9_006.0, 8_004.5, 50.4)],
        PLACED,
    );
    let found = cover(&pipe, &surface, Some(0.015)).unwrap();
    let slope = 0.5f64;
    let measured = 2.0 - 0.11 * slope.hypot(1.0);
    // The far end rises 2.4 m, the ground 0.3 x 6 + 0.4 x 4.5 = 3.6 m: the start is the least.
    close(found.least.unwrap().cover_m, measured, 1e-9);
    close(found.least.unwrap().chainage_m, 0.0, 1e-12);
    close(found.greatest.unwrap().cover_m, measured + 1.2, 1e-4);
    close(
        found.worst.unwrap().cover_m,
        measured - 0.03 * slope - 0.02 - 0.015,
        1e-9,
    );
    assert_eq!(
        found.judge(measured - 0.01, CoverMeasure::Vertical),
        CoverVerdict::NotProved
    );
    assert_eq!(
        found.judge(measured - 0.06, CoverMeasure::Vertical),
        CoverVerdict::Met
    );
    assert_eq!(
        found.judge(measured + 0.01, CoverMeasure::Vertical),
        CoverVerdict::Short
    );
    let unsure = cover(&pipe, &surface, None).unwrap();
    assert_eq!(unsure.worst, Err(NoCover::SurfaceNotSure));
    assert_eq!(unsure.judge(0.1, CoverMeasure::Vertical), CoverVerdict::NotProved);
}

/// Closed form: a pipe beside the foot of a ditch. The ground falls away beside the axis, and the ball reaches it.
#[test]
fn the_section_reaches_over_an_edge_that_the_axis_does_not_cross() {
    let points: Vec<Vec3> = [(-5.0, 2.0), (0.0, 2.0), (1.0, 0.0), (5.0, 0.0)]
        .iter()
        .flat_map(|&(e, z)| [Vec3::new(e, -5.0, z), Vec3::new(e, 15.0, z)])
        .collect();
    let (surface, report) = triangulate(&points, &[vec![2, 3], vec![4, 5]], None).unwrap();
    assert!(report.dropped_breaklines.is_empty());
    // Axis 0.1 m back from the edge of a slope of 2 down to 1, radius 0.3 m, centre 1 m under the flat: along the slope
    // z = 2 - 2 x the least of 2 - 2 x - 1 - sqrt(0.09 - (x + 0.1)^2) is at x + 0.1 = 0.3 x 2 / sqrt 5.
    let pipe = tube(0.3, &[(-0.1, 0.0, 1.0), (-0.1, 10.0, 1.0)], None);
    let found = cover(&pipe, &surface, None).unwrap();
    close(found.least.unwrap().cover_m, 1.0 + 0.2 - 0.3 * 5f64.sqrt(), 1e-7);
    assert!(found.least.unwrap().on_tube.x > 0.0);
}

/// Closed form: the highest cover lies under a ridge between the ends of the leg.
#[test]
fn the_greatest_cover_is_found_between_the_ends() {
    let points: Vec<Vec3> = [(0.0, 1.0), (3.7, 2.0), (10.0, 1.0)]
        .iter()
        .flat_map(|&(e, z)| [Vec3::new(e, -5.0, z), Vec3::new(e, 5.0, z)])
        .collect();
    let (surface, _) = triangulate(&points, &[vec![2, 3]], None).unwrap();
    let pipe = tube(0.05, &[(1.0, 0.0, 0.0), (9.0, 0.0, 0.0)], None);
    let found = cover(&pipe, &surface, None).unwrap();
    // Under a ridge with slopes p up and q down: the two sides' covers are p s - r sqrt(1+p^2) and -q s - r sqrt(1+q^2)
    // about the ridge as long as the whole section may reach each side; they meet a hair to the side of it.
    let (p, q) = (1.0 / 3.7f64, 1.0 / 6.3f64);
    let (up, down) = (0.05 * p.hypot(1.0), 0.05 * q.hypot(1.0));
    let s = (up - down) / (p + q);
    close(found.greatest.unwrap().cover_m, 2.0 + p * s - up, 1e-4);
    close(found.greatest.unwrap().chainage_m, 2.7, 0.01);
}

#[test]
fn ground_that_nobody_measured_is_neither_nought_nor_left_out() {
    let ring = [(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0)]
        .map(|(e, n)| Vec2::new(e, n))
        .to_vec();
    let slab = Surface::level_within(5.0, &Domain::new(&[ring]).unwrap());
    let pipe = tube(0.1, &[(1.0, 4.0, 4.0), (13.0, 4.0, 4.0)], PLACED);
    let found = cover(&pipe, &slab, Some(0.0)).unwrap();
    close(found.least.unwrap().cover_m, 0.9, 1e-9);
    close(found.unknown_m, 13.0 - 9.9, 1e-7);
    close(found.worst_unknown_m.unwrap(), 13.0 - 9.87, 1e-7);
    assert_eq!(found.judge(0.5, CoverMeasure::Vertical), CoverVerdict::NotProved);
    assert_eq!(found.judge(1.0, CoverMeasure::Vertical), CoverVerdict::Short);
    let inside = cover(
        &tube(0.1, &[(1.0, 4.0, 4.0), (9.0, 4.0, 4.0)], PLACED),
        &slab,
        Some(0.0),
    )
    .unwrap();
    assert_eq!(inside.unknown_m, 0.0);
    assert_eq!(inside.judge(0.5, CoverMeasure::Vertical), CoverVerdict::Met);
    let away = cover(
        &tube(0.1, &[(21.0, 4.0, 4.0), (29.0, 4.0, 4.0)], PLACED),
        &slab,
        Some(0.0),
    )
    .unwrap();
    assert_eq!(away.least, Err(NoCover::NoSurface));
    close(away.unknown_m, 8.0, 1e-9);
    // 0.2 m inside the edge of the slab, 0.9 m under it: ground beyond the edge could be nearer than the slab.
    let edge = cover(
        &tube(0.1, &[(1.0, 0.4, 4.0), (9.0, 0.4, 4.0)], PLACED),
        &slab,
        Some(0.0),
    )
    .unwrap();
    assert!(edge.shortest_at_edge);
    assert_eq!(edge.judge(0.5, CoverMeasure::Shortest), CoverVerdict::NotProved);
}

#[test]
fn a_riser_is_listed_and_its_elbow_counts() {
    let pipe = tube(
        0.05,
        &[(0.0, 0.0, 9.0), (6.0, 0.0, 9.4), (6.0, 0.0, 10.5)],
        PLACED,
    );
    let found = cover(&pipe, &Surface::level(10.0), Some(0.0)).unwrap();
    // Closed form: the elbow's ball is the least that counts.
    close(found.least.unwrap().cover_m, 0.55, 1e-9);
    close(found.least.unwrap().chainage_m, 6.0, 1e-9);
    close(found.legs[1].least.unwrap().cover_m, -0.55, 1e-9);
    assert!(found.legs[1].riser && !found.legs[0].riser);
    assert_eq!(found.risers.len(), 1);
    assert_eq!(
        (
            found.risers[0].first_leg,
            found.risers[0].foot.z,
            found.risers[0].head.z
        ),
        (1, 9.4, 10.5)
    );
    assert_eq!(found.emerges.len(), 1);
    close(found.emerges[0].at.z, 10.0, 1e-9);
    // A leg of 45 degrees exactly is no riser and counts with all its length.
    let sloping = cover(
        &tube(0.05, &[(0.0, 0.0, 8.0), (1.5, 0.0, 9.5)], PLACED),
        &Surface::level(10.0),
        Some(0.0),
    )
    .unwrap();
    close(sloping.least.unwrap().cover_m, 0.45, 1e-9);
    let only = cover(
        &tube(0.05, &[(0.0, 0.0, 8.0), (0.0, 0.0, 9.5)], PLACED),
        &Surface::level(10.0),
        Some(0.0),
    )
    .unwrap();
    assert_eq!(only.least, Err(NoCover::OnlyRisers));
    assert_eq!(only.judge(0.1, CoverMeasure::Vertical), CoverVerdict::NotProved);
}

/// Closed form: a level bank under a plane that leans across it: the upper edge on the low side is nearest.
#[test]
fn a_bank_is_measured_from_the_edge_of_its_box() {
    let surface = plane(0.0, 0.0, 5.0, (0.2, 0.0));
    let bank = sectioned(
        Section::Bank {
            half_width_m: 0.4,
            half_height_m: 0.25,
        },
        &[(0.0, 0.0, 4.0), (0.0, 7.0, 4.0)],
        PLACED,
    );
    let found = cover(&bank, &surface, Some(0.01)).unwrap();
    close(found.least.unwrap().cover_m, 1.0 - 0.25 - 0.4 * 0.2, 1e-9);
    close(found.greatest.unwrap().cover_m, 1.0 - 0.25 - 0.4 * 0.2, 1e-4);
    close(
        found.worst.unwrap().cover_m,
        1.0 - 0.25 - 0.4 * 0.2 - 0.03 * 0.2 - 0.02 - 0.01,
        1e-9,
    );
    // A free end is flat: a bank that stops 0.1 m short of the slab's edge is under it as far as its box goes.
    let bent = sectioned(
        Section::Bank {
            half_width_m: 0.4,
            half_height_m: 0.3,
        },
        &[(0.0, 0.0, 4.0), (0.0, 7.0, 4.0), (5.0, 7.0, 4.0)],
        PLACED,
    );
    // The ball that fills the mitre at an inner joint has half the diagonal, 0.5 m, and stands above the box.
    close(
        cover(&bent, &Surface::level(5.0), Some(0.0))
            .unwrap()
            .least
            .unwrap()
            .cover_m,
        0.5,
        1e-9,
    );
}

#[test]
fn a_tube_without_a_leg_is_refused() {
    assert!(cover(&tube(0.1, &[(0.0, 0.0, 0.0)], None), &Surface::level(1.0), None).is_err());
}

//! Bends as arcs, and tubes laid through them, against closed forms and the trade's worked sums.

use std::f64::consts::FRAC_PI_2;

use coverbook_ground::Vec3;
use coverbook_ground::axis::{AxisError, AxisFinding, Shot, Sizes, Touched};
use coverbook_ground::bend::{BendMark, BendPart, CHORD_SAGITTA_M, chords_needed, corner_m, sagitta_m};
use coverbook_ground::lay::{LaidTube, lay_tube};
use coverbook_ground::tube::Section;
use coverbook_ground::unshot::unshot_bend_m;

const SIZES: Sizes = Sizes {
    section: Section::Round { radius_m: 0.055 },
    inside_radius_m: None,
};

fn shot(at: Vec3, part: Option<(BendPart, Option<f64>)>) -> Shot {
    Shot {
        position: at,
        touched: Touched::Centre,
        bend: part.map(|(part, radius_m)| BendMark { part, radius_m }),
        sigma_h_m: Some(0.01),
        sigma_v_m: Some(0.005),
    }
}

fn lay(shots: &[Shot]) -> Result<LaidTube, AxisError> {
    lay_tube(shots, &SIZES, &vec![0.0; shots.len() - 1])
}

/// Distance from a point to the laid axis, by every leg.
fn off_axis(laid: &LaidTube, p: Vec3) -> f64 {
    laid.tube
        .legs()
        .map(|(a, b)| {
            let along = b.axis - a.axis;
            let share = ((p - a.axis).dot(&along) / along.norm_squared()).clamp(0.0, 1.0);
            (a.axis + along * share - p).norm()
        })
        .fold(f64::INFINITY, f64::min)
}

/// Trade brief 4.8, millimetres, 90 degrees, radius 300, 600 and 900.
#[test]
fn chords_and_corners_miss_a_bend_by_the_trades_figures() {
    for (radius, ends, one_mid, three_mids, corner, chords) in [
        (0.3, 88.0, 23.0, 6.0, 124.0, 4),
        (0.6, 176.0, 46.0, 12.0, 249.0, 5),
        (0.9, 264.0, 69.0, 17.0, 373.0, 6),
    ] {
        for (turns, expected) in [(1.0, ends), (2.0, one_mid), (4.0, three_mids)] {
            assert_eq!((sagitta_m(radius, FRAC_PI_2 / turns) * 1000.0).round(), expected);
        }
        assert_eq!((corner_m(radius, FRAC_PI_2) * 1000.0).round(), corner);
        assert_eq!(chords_needed(radius, FRAC_PI_2, 0.010), chords);
    }
    // Closed form: a right angle hidden over a chord of 2 m may stand 1 m off it.
    assert!((unshot_bend_m(2.0, FRAC_PI_2) - 1.0).abs() < 1e-12);
}

/// A quarter turn of 0.9 m in a plane tilted any way: `frame` gives its straight and its side.
fn quarter(frame: (Vec3, Vec3), angle: f64) -> Vec3 {
    Vec3::new(120.0, 340.0, 8.0) + frame.0 * (0.9 * angle.sin()) + frame.1 * (0.9 * (1.0 - angle.cos()))
}

fn frames() -> Vec<(Vec3, Vec3)> {
    let tilted = Vec3::new(0.6, 0.7, 0.2).normalize();
    let side = tilted.cross(&Vec3::new(0.1, -0.3, 1.0)).normalize();
    vec![(Vec3::x(), Vec3::y()), (Vec3::y(), Vec3::z()), (tilted, side)]
}

#[track_caller]
fn is_the_quarter(laid: &LaidTube, frame: (Vec3, Vec3)) {
    for k in 0..=997 {
        let p = quarter(frame, FRAC_PI_2 * f64::from(k) / 997.0);
        let off = off_axis(laid, p);
        assert!(off <= CHORD_SAGITTA_M + 1e-9, "{off}");
    }
    let Section::Round { radius_m } = laid.tube.section else {
        panic!("round stays round")
    };
    assert!(
        radius_m > 0.055 && radius_m <= 0.055 + CHORD_SAGITTA_M + 1e-12,
        "{radius_m}"
    );
    assert!(laid.findings.is_empty(), "{:?}", laid.findings);
}

#[test]
fn a_bend_by_start_and_end_is_the_true_arc() {
    for frame in frames() {
        let (start, end) = (quarter(frame, 0.0), quarter(frame, FRAC_PI_2));
        let laid = lay(&[
            shot(start - frame.0 * 4.0, None),
            shot(start, Some((BendPart::Start, Some(0.9)))),
            shot(end, Some((BendPart::End, None))),
            shot(end + frame.1 * 3.0, None),
        ])
        .unwrap();
        is_the_quarter(&laid, frame);
        // A run that ends with its bend has one straight only, and that one fixes the arc.
        let last = lay(&[
            shot(start - frame.0 * 4.0, None),
            shot(start, Some((BendPart::Start, Some(0.9)))),
            shot(end, Some((BendPart::End, None))),
        ])
        .unwrap();
        is_the_quarter(&last, frame);
    }
}

#[test]
fn a_bend_by_its_middle_needs_no_straight() {
    for frame in frames() {
        let at = |degrees: f64, part| shot(quarter(frame, degrees.to_radians()), Some((part, None)));
        is_the_quarter(
            &lay(&[
                at(0.0, BendPart::Start),
                at(40.0, BendPart::Mid),
                at(90.0, BendPart::End),
            ])
            .unwrap(),
            frame,
        );
        let laid = lay(&[
            at(0.0, BendPart::Start),
            at(20.0, BendPart::Mid),
            at(45.0, BendPart::Mid),
            at(80.0, BendPart::Mid),
            at(90.0, BendPart::End),
        ])
        .unwrap();
        is_the_quarter(&laid, frame);
    }
}

#[test]
fn a_bend_by_its_meeting_point_is_the_true_arc_and_not_the_corner() {
    for frame in frames() {
        let start = quarter(frame, 0.0);
        let corner = start + frame.0 * 0.9;
        let laid = lay(&[
            shot(start - frame.0 * 4.0, None),
            shot(corner, Some((BendPart::Pi, Some(0.9)))),
            shot(corner + frame.1 * 3.0, None),
        ])
        .unwrap();
        is_the_quarter(&laid, frame);
        // Trade brief 4.8: the corner itself is 373 mm outside the arc.
        assert!((off_axis(&laid, corner) - 0.3728).abs() < 1e-4);
    }
}

#[test]
fn growth_and_chainage_run_through_a_bend() {
    let frame = (Vec3::x(), Vec3::y());
    let corner = quarter(frame, 0.0) + frame.0 * 0.9;
    let mut shots = [
        shot(corner - frame.0 * 4.9, None),
        shot(corner, Some((BendPart::Pi, Some(0.9)))),
        shot(corner + frame.1 * 3.0, None),
    ];
    shots[1].sigma_h_m = Some(0.03);
    let laid = lay(&shots).unwrap();
    // Closed form: 4.0 m, a quarter of a circle of 0.9 m, 2.1 m; the chords lack under a tenth of a millimetre a metre.
    let length = 4.0 + 0.9 * FRAC_PI_2 + 2.1;
    assert!((laid.shot_chainage_m[2] - length).abs() < 1e-3);
    assert!((laid.shot_chainage_m[1] - (4.0 + 0.45 * FRAC_PI_2)).abs() < 1e-3);
    let most = laid
        .tube
        .vertices
        .iter()
        .filter_map(|v| v.growth)
        .map(|g| g.horizontal_m)
        .fold(0.0, f64::max);
    assert!((most - 2.447_746_830_680_816 * 0.03).abs() < 1e-12);
    shots[2].sigma_v_m = None;
    let laid = lay(&shots).unwrap();
    assert!(laid.tube.vertices.last().unwrap().growth.is_none());
    assert!(laid.tube.vertices[0].growth.is_some());
}

#[test]
fn doubtful_bends_are_shown_back() {
    let p = Vec3::new;
    let turned = lay(&[
        shot(p(0.0, 0.0, 0.0), None),
        shot(p(5.0, 0.0, 0.0), None),
        shot(p(9.0, 1.2, 0.0), None),
    ])
    .unwrap();
    assert!(
        matches!(turned.findings[..], [AxisFinding::UnmarkedTurn { shot: 2, turn_rad, .. }] if (turn_rad - 0.3f64.atan()).abs() < 1e-12)
    );
    let shallow = lay(&[
        shot(p(0.0, 0.0, 0.0), None),
        shot(p(5.0, 0.0, 0.0), None),
        shot(p(9.0, 1.0, 0.0), None),
    ])
    .unwrap();
    assert!(shallow.findings.is_empty(), "14 degrees: {:?}", shallow.findings);
    let straight = lay(&[
        shot(p(0.0, 0.0, 0.0), None),
        shot(p(5.0, 0.0, 0.0), Some((BendPart::Start, None))),
        shot(p(6.0, 0.0, 0.0), Some((BendPart::End, None))),
        shot(p(9.0, 0.0, 0.0), None),
    ])
    .unwrap();
    assert!(matches!(
        straight.findings[..],
        [AxisFinding::BendWithoutTurn { shot: 2, .. }]
    ));
    let frame = (Vec3::x(), Vec3::y());
    let (start, end) = (quarter(frame, 0.0), quarter(frame, FRAC_PI_2));
    let wrong = lay(&[
        shot(start - frame.0 * 4.0, None),
        shot(start, Some((BendPart::Start, Some(0.6)))),
        shot(end, Some((BendPart::End, None))),
        shot(end + frame.1 * 3.0, None),
    ])
    .unwrap();
    assert!(
        matches!(wrong.findings[..], [AxisFinding::BendNotShot { shot: 2, .. }, AxisFinding::RadiusDisagrees { shot: 2, found_m, .. }] if (found_m - 0.9).abs() < 1e-9)
    );
}

#[test]
fn bends_that_cannot_be_laid_are_refused() {
    let p = Vec3::new;
    let ends = |part, radius| {
        [
            shot(p(0.0, 0.0, 0.0), None),
            shot(p(5.0, 0.0, 0.0), Some((part, radius))),
            shot(p(5.0, 2.0, 0.0), None),
        ]
    };
    assert_eq!(
        lay(&ends(BendPart::Pi, None)),
        Err(AxisError::CornerWithoutRadius { shot: 2 })
    );
    assert_eq!(
        lay(&ends(BendPart::Start, None)),
        Err(AxisError::BendWithoutEnd { shot: 2 })
    );
    assert_eq!(
        lay(&ends(BendPart::End, None)),
        Err(AxisError::BendWithoutStart { shot: 2 })
    );
    let tight = lay(&ends(BendPart::Pi, Some(2.5))).unwrap_err();
    assert!(
        matches!(tight, AxisError::RadiusTooLarge { shot: 2, room_m, .. } if (room_m - 2.0).abs() < 1e-9),
        "{tight}"
    );
    // Two corners share one straight of 3 m and want 2 m of it each.
    let shared = lay(&[
        shot(p(0.0, 0.0, 0.0), None),
        shot(p(5.0, 0.0, 0.0), Some((BendPart::Pi, Some(2.0)))),
        shot(p(5.0, 3.0, 0.0), Some((BendPart::Pi, Some(2.0)))),
        shot(p(9.0, 3.0, 0.0), None),
    ]);
    assert!(
        matches!(shared, Err(AxisError::RadiusTooLarge { shot: 3, .. })),
        "{shared:?}"
    );
    let alone = lay(&[
        shot(p(0.0, 0.0, 0.0), Some((BendPart::Start, Some(0.9)))),
        shot(p(1.0, 1.0, 0.0), Some((BendPart::End, None))),
    ]);
    assert_eq!(alone, Err(AxisError::BendWithoutStraight { shot: 1 }));
}

/// A sweep in a vertical plane shot on its outside top at start, middle and end: every offset is along the circle's
/// own normal (closed form: shots on the circle of radius R + r).
#[test]
fn a_vertical_sweep_shot_on_top_offsets_along_its_own_circle() {
    let (bend, outside) = (3.0, 0.055);
    let on = |degrees: f64, radius: f64| {
        let a = degrees.to_radians();
        // Over a crest: from rising to falling, centre at level 0.
        Vec3::new(radius * a.sin(), 0.0, radius * a.cos())
    };
    let top = |degrees: f64, part| Shot {
        touched: Touched::OutsideTop,
        ..shot(on(degrees, bend + outside), Some((part, None)))
    };
    let laid = lay(&[
        top(-30.0, BendPart::Start),
        top(5.0, BendPart::Mid),
        top(30.0, BendPart::End),
    ])
    .unwrap();
    for (vertex, degrees) in laid.shot_axis.iter().zip([-30.0, 5.0, 30.0]) {
        assert!((vertex - on(degrees, bend)).norm() < 1e-6, "{vertex}");
    }
}

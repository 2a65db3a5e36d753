//! The axis from what was touched, against closed forms and the trade's worked sums.

use coverbook_ground::Vec3;
use coverbook_ground::axis::{AxisError, AxisFinding, Shot, Sizes, Touched, axis_of};
use coverbook_ground::tube::Section;

fn shot(e: f64, n: f64, z: f64, touched: Touched) -> Shot {
    Shot {
        position: Vec3::new(e, n, z),
        touched,
        bend: None,
        sigma_h_m: None,
        sigma_v_m: None,
    }
}

fn round(radius_m: f64, inside_radius_m: Option<f64>) -> Sizes {
    Sizes {
        section: Section::Round { radius_m },
        inside_radius_m,
    }
}

#[track_caller]
fn close(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "found {found}, expected {expected} within {tolerance}"
    );
}

/// Worked sum of the trade brief, section 4.2: OD 0.1102, wall 0.0032, level: top 10.000, centre 9.9449, invert 9.8930.
#[test]
fn a_level_pipe_gives_one_axis_whatever_was_touched() {
    let sizes = round(0.0551, Some(0.0519));
    for (touched, level) in [
        (Touched::OutsideTop, 10.000),
        (Touched::Centre, 9.9449),
        (Touched::Invert, 9.8930),
        (Touched::OutsideBottom, 10.000 - 0.1102),
    ] {
        let (axis, findings) = axis_of(
            &[shot(5.0, 5.0, level, touched), shot(9.0, 7.0, level, touched)],
            &sizes,
        )
        .unwrap();
        for vertex in &axis {
            close(vertex.z, 9.9449, 1e-9);
        }
        assert!(findings.is_empty());
    }
}

/// Trade brief 4.2: on a slope of angle a the axis lies plumb below the outside top by (OD/2) / cos a.
#[test]
fn on_a_slope_the_axis_is_square_to_the_leg_and_not_plumb() {
    for degrees in [1.0_f64, 10.0, 30.0, 44.9] {
        let slope = degrees.to_radians();
        let at = |d: f64| {
            shot(
                100.0 + d * 0.6,
                200.0 + d * 0.8,
                50.0 - d * slope.tan(),
                Touched::OutsideTop,
            )
        };
        let (axis, _) = axis_of(&[at(0.0), at(7.0), at(12.0)], &round(0.15, None)).unwrap();
        let direction = (axis[2] - axis[0]).normalize();
        for (vertex, d) in axis.iter().zip([0.0, 7.0, 12.0]) {
            // Distance of the shot from the axis line is the radius, and the shot is above it.
            let off = at(d).position - vertex;
            close((off - direction * off.dot(&direction)).norm(), 0.15, 1e-8);
            // The plumb distance from the axis line up to the shot's line.
            let run_m = (vertex.xy() - at(0.0).position.xy()).dot(&coverbook_ground::Vec2::new(0.6, 0.8));
            close(50.0 - run_m * slope.tan() - vertex.z, 0.15 / slope.cos(), 1e-8);
        }
    }
}

/// Closed form: the axes of two straights meet in a point as far from both shot lines as the radius, whatever the fall.
#[test]
fn at_a_joint_the_mitre_keeps_both_legs_at_the_radius() {
    let top = Touched::OutsideTop;
    let shots = [
        shot(0.0, 0.0, 10.0, top),
        shot(6.0, 0.0, 9.0, top),
        shot(10.0, 0.0, 11.0, top),
        shot(18.0, 0.0, 11.0, top),
    ];
    let (axis, _) = axis_of(&shots, &round(0.2, None)).unwrap();
    for leg in 0..3 {
        let direction = (axis[leg + 1] - axis[leg]).normalize();
        let along = (shots[leg + 1].position - shots[leg].position).normalize();
        close(direction.dot(&along), 1.0, 1e-9);
        for end in [leg, leg + 1] {
            let off = shots[end].position - axis[leg];
            close((off - direction * off.dot(&direction)).norm(), 0.2, 1e-7);
        }
    }
}

/// Mixed touches on one straight pipe: every one names the same axis (closed form, 1 in 8 fall).
#[test]
fn mixed_touches_on_one_pipe_agree() {
    let (radius, inside) = (0.11, 0.10);
    let direction = Vec3::new(8.0, 0.0, -1.0).normalize();
    let up = Vec3::new(direction.x * -direction.z, 0.0, 1.0 - direction.z * direction.z).normalize();
    let axis_at = |d: f64| Vec3::new(1_000.0, 2_000.0, 30.0) + direction * d;
    let put = |d: f64, off: Vec3, touched| Shot {
        position: axis_at(d) + off,
        touched,
        bend: None,
        sigma_h_m: None,
        sigma_v_m: None,
    };
    let south = 180f64.to_radians();
    let shots = [
        put(0.0, up * radius, Touched::OutsideTop),
        put(3.0, up * -inside, Touched::Invert),
        put(7.0, Vec3::zeros(), Touched::Centre),
        put(9.0, up * -radius, Touched::OutsideBottom),
        put(
            14.0,
            Vec3::new(0.0, -radius, 0.0),
            Touched::Side { bearing_rad: south },
        ),
    ];
    let (axis, _) = axis_of(&shots, &round(radius, Some(inside))).unwrap();
    for (vertex, d) in axis.iter().zip([0.0, 3.0, 7.0, 9.0, 14.0]) {
        assert!((vertex - axis_at(d)).norm() < 1e-5, "{vertex} {d}");
    }
}

#[test]
fn a_riser_refuses_top_and_invert_and_takes_the_side() {
    let sizes = round(0.05, None);
    let riser = |touched| {
        axis_of(
            &[
                shot(0.0, 0.0, 9.0, Touched::Centre),
                shot(0.0, 0.0, 10.0, touched),
            ],
            &sizes,
        )
    };
    for touched in [Touched::OutsideTop, Touched::Invert, Touched::OutsideBottom] {
        let refused = riser(touched).unwrap_err();
        assert!(
            matches!(refused, AxisError::TooSteep { shot: 2, .. }),
            "{refused}"
        );
        assert!(refused.to_string().contains("side with its bearing"), "{refused}");
    }
    // The east face touched: the axis is a radius to the west of it.
    let east = Touched::Side {
        bearing_rad: 90f64.to_radians(),
    };
    let (axis, _) = axis_of(&[shot(3.0, 4.0, 9.0, east), shot(3.0, 4.0, 12.0, east)], &sizes).unwrap();
    for vertex in &axis {
        close(vertex.x, 2.95, 1e-12);
        close(vertex.y, 4.0, 1e-12);
    }
}

#[test]
fn an_unknown_wall_lifts_the_axis_and_is_shown_back() {
    let level = |touched| [shot(0.0, 0.0, 5.0, touched), shot(8.0, 0.0, 5.0, touched)];
    let (axis, findings) = axis_of(&level(Touched::Invert), &round(0.08, None)).unwrap();
    close(axis[0].z, 5.08, 1e-12);
    assert_eq!(findings, vec![AxisFinding::WallUnknown { shot: 1 }]);
}

#[test]
fn a_bank_is_shot_by_its_box_and_has_no_invert() {
    let sizes = Sizes {
        section: Section::Bank {
            half_width_m: 0.3,
            half_height_m: 0.2,
        },
        inside_radius_m: None,
    };
    let level = |touched| [shot(0.0, 0.0, 5.0, touched), shot(0.0, 8.0, 5.0, touched)];
    let (axis, _) = axis_of(&level(Touched::OutsideTop), &sizes).unwrap();
    close(axis[1].z, 4.8, 1e-12);
    let (axis, _) = axis_of(
        &level(Touched::Side {
            bearing_rad: 90f64.to_radians(),
        }),
        &sizes,
    )
    .unwrap();
    close(axis[1].x, -0.3, 1e-12);
    assert_eq!(
        axis_of(&level(Touched::Invert), &sizes),
        Err(AxisError::InvertOfBank { shot: 1 })
    );
}

#[test]
fn shots_that_give_no_axis_name_the_shot() {
    let sizes = round(0.05, None);
    let centre = |e: f64| shot(e, 0.0, 0.0, Touched::Centre);
    assert_eq!(
        axis_of(&[centre(0.0)], &sizes),
        Err(AxisError::TooFewShots { found: 1 })
    );
    assert_eq!(
        axis_of(&[centre(0.0), centre(1.0), centre(1.0)], &sizes),
        Err(AxisError::SamePlace { shot: 2, next: 3 })
    );
    assert_eq!(
        axis_of(&[centre(0.0), centre(f64::NAN)], &sizes),
        Err(AxisError::NotANumber {
            shot: 2,
            what: "position"
        })
    );
    let along = Touched::Side {
        bearing_rad: 90f64.to_radians(),
    };
    assert_eq!(
        axis_of(&[centre(0.0), shot(4.0, 0.0, 0.0, along)], &sizes),
        Err(AxisError::SideAlong { shot: 2 })
    );
    assert!(matches!(
        axis_of(&[centre(0.0), centre(1.0)], &round(0.05, Some(0.06))),
        Err(AxisError::BadSize { .. })
    ));
}

//! From sights as booked to a station, a check and shots: the whole way, on an invented site.
//!
//! Oracle: the invented truth, which errorless readings must return, and the half-circle rule of the second face.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod support;

use coverbook_survey::check_shot::{CheckTolerance, CheckVerdict, check_shot};
use coverbook_survey::observation::{ControlPoint, ObservationError, Quantity};
use coverbook_survey::reduction::{Curvature, ReducedSight, expand_sight};
use coverbook_survey::shot::{ShotError, ShotSetUp, reduce_shot, shot_from_sights};
use coverbook_survey::sight::{Conditions, Face, InstrumentSpec, Sight, TargetSpec, set_up_from_sights};
use coverbook_survey::station::adjust_station;
use coverbook_survey::station_report::station_report;
use proptest::prelude::*;
use support::Noise;

const STATION: [f64; 3] = [500.0, 800.0, 20.0];
const TURN: f64 = 0.4;
const AIR_PPM: f64 = 12.0;
const PRISM_M: f64 = -0.0175;
/// The instrument's own errors, which two faces cancel: collimation and index, in radians.
const COLLIMATION: f64 = 8e-5;
const INDEX: f64 = 5e-5;

fn conditions() -> Conditions {
    Conditions {
        instrument_height_m: 1.55,
        curvature: Curvature::standard(),
        grid_scale: 0.9998,
        air_ppm: AIR_PPM,
    }
}

fn control() -> Vec<ControlPoint> {
    [
        ("K1", 541.0, 833.0, Some(21.4)),
        ("K2", 466.0, 841.0, Some(19.2)),
        ("K3", 470.0, 752.0, Some(20.3)),
        ("K4", 547.0, 771.0, Some(22.8)),
        ("P9", 431.0, 800.5, None),
    ]
    .map(|(id, e, n, z)| {
        ControlPoint::exact(id, e, n, z)
            .with_sigmas(0.001, 0.001)
            .unwrap()
    })
    .to_vec()
}

/// What the instrument shows on one face when it points at a target without error of pointing.
fn shown(point: &ControlPoint, level_m: f64, height: f64, face: Face) -> Sight {
    let c = conditions();
    let (de, dn) = (point.easting_m - STATION[0], point.northing_m - STATION[1]);
    let sight = ReducedSight {
        horizontal_distance_m: de.hypot(dn) / c.grid_scale,
        rise_m: level_m + height - STATION[2] - c.instrument_height_m,
    };
    let (slope, zenith) = expand_sight(sight, c.curvature);
    let direction = de.atan2(dn) - TURN;
    let (direction, zenith) = match face {
        Face::Left => (direction + COLLIMATION, zenith + INDEX),
        Face::Right => (
            direction + std::f64::consts::PI - COLLIMATION,
            std::f64::consts::TAU - zenith + INDEX,
        ),
    };
    Sight {
        target: point.id.clone(),
        face: Some(face),
        direction_rad: Some(direction.rem_euclid(std::f64::consts::TAU)),
        zenith_rad: Some(zenith),
        slope_m: Some((slope - PRISM_M) / (1.0 + AIR_PPM * 1e-6)),
        target_height_m: height,
        prism_constant_m: PRISM_M,
        round: 0,
    }
}

fn both_faces(point: &ControlPoint, height: f64) -> Vec<Sight> {
    let level = point.level_m.unwrap_or(20.7);
    [Face::Left, Face::Right]
        .map(|face| shown(point, level, height, face))
        .to_vec()
}

#[test]
fn booked_sights_return_the_station_the_check_and_the_shot() {
    let control = control();
    // K4 is kept for the check; P9 has no level and helps in plan only.
    let sights: Vec<Sight> = [0, 1, 2, 4]
        .iter()
        .flat_map(|k| both_faces(&control[*k], 1.4))
        .collect();
    let instrument = InstrumentSpec::from_data_sheet(0.8, 1.0, 1.0, 1.0);
    let target = TargetSpec {
        sigma_height_m: 0.0005,
        ..TargetSpec::default()
    };
    let (set_up, findings) =
        set_up_from_sights(&control, &sights, &instrument, &target, &conditions()).unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(set_up.observations.len(), 3 * 3 + 2);
    assert_eq!(
        set_up.observations.last().unwrap().quantity,
        Quantity::HorizontalDistance
    );
    let report = station_report(&set_up).unwrap();
    let fix = report.solution.fix;
    assert!((fix.easting_m - STATION[0]).abs() < 1e-6, "{fix:?}");
    assert!((fix.northing_m - STATION[1]).abs() < 1e-6);
    assert!((fix.level_m.unwrap() - STATION[2]).abs() < 1e-6);
    assert!((fix.orientation_rad.unwrap() - TURN).abs() < 1e-9);

    let shots = ShotSetUp {
        fix,
        conditions: conditions(),
        instrument,
        target,
        sigma_instrument_height_m: 0.0,
    };
    let sights = both_faces(&control[3], 1.4);
    let faces: Vec<&Sight> = sights.iter().collect();
    let mut shot = shot_from_sights(&faces, &conditions()).unwrap();
    assert!(shot.both_faces);
    let check = check_shot(
        &control[3],
        &reduce_shot(&shots, &shot).unwrap(),
        &CheckTolerance::default(),
    );
    assert!(
        check.plan_m < 1e-6 && check.level_m.unwrap().abs() < 1e-6,
        "{check:?}"
    );
    assert_eq!(check.verdict, CheckVerdict::Passed, "{check:?}");
    // The pole was raised by 200 mm and not booked anew.
    shot.target_height_m = 1.2;
    let check = check_shot(
        &control[3],
        &reduce_shot(&shots, &shot).unwrap(),
        &CheckTolerance::default(),
    );
    assert_eq!(check.verdict, CheckVerdict::Failed);
    assert!((check.level_m.unwrap() - 0.2).abs() < 1e-6);
}

#[test]
fn faces_and_repeats_that_disagree_are_shown_back() {
    let control = control();
    let instrument = InstrumentSpec::from_data_sheet(0.8, 1.0, 1.0, 1.0);
    let mut sights: Vec<Sight> = control[..3].iter().flat_map(|p| both_faces(p, 1.4)).collect();
    sights[1].direction_rad = sights[1].direction_rad.map(|d| d + 0.001);
    sights[3].slope_m = sights[3].slope_m.map(|s| s + 0.02);
    let target = TargetSpec::default();
    let (_, findings) = set_up_from_sights(&control, &sights, &instrument, &target, &conditions()).unwrap();
    let seen: Vec<_> = findings.iter().map(|f| (f.code, f.place.as_str())).collect();
    assert_eq!(
        seen,
        [("faces-disagree-direction", "K1"), ("distances-disagree", "K2")]
    );
}

#[test]
fn readings_that_cannot_be_of_one_place_are_never_averaged() {
    let pair = || both_faces(&control()[2], 1.4);
    let refused = |sights: &[Sight]| {
        let faces: Vec<&Sight> = sights.iter().collect();
        shot_from_sights(&faces, &conditions()).unwrap_err().to_string()
    };
    // A face-right circle with the zenith angle turned to face left: the mean would lie a quarter circle away.
    let mut turned = pair();
    turned[1].zenith_rad = turned[1].zenith_rad.map(|z| std::f64::consts::TAU - z);
    turned[1].face = Some(Face::Right);
    let says = refused(&turned);
    assert!(
        says.contains("K3: face right is booked and a zenith angle of"),
        "{says}"
    );
    turned[1].face = None;
    let says = refused(&turned);
    assert!(says.contains("two directions are 180.0 degrees apart"), "{says}");
    // A neighbour shot under the same name, half a metre farther.
    let mut farther = pair();
    farther[1].slope_m = farther[1].slope_m.map(|s| s + 0.5);
    let says = refused(&farther);
    assert!(says.contains("two slope distances are 0.50 m apart"), "{says}");
    let mut lower = pair();
    lower[1].zenith_rad = lower[1].zenith_rad.map(|z| z + 0.05);
    let says = refused(&lower);
    assert!(says.contains("two zenith angles are 2.9 degrees apart"), "{says}");
    // Straight up, a turn of the circle is a small step to the side.
    let mut steep = pair();
    for sight in &mut steep {
        let right = sight.zenith_rad.unwrap() > std::f64::consts::PI;
        sight.zenith_rad = Some(if right {
            std::f64::consts::TAU - 0.002
        } else {
            0.002
        });
    }
    steep[1].direction_rad = steep[1].direction_rad.map(|d| d + 0.5);
    assert!(shot_from_sights(&[&steep[0], &steep[1]], &conditions()).is_ok());
}

#[test]
fn names_that_lead_nowhere_are_refused() {
    let control = control();
    let instrument = InstrumentSpec::from_data_sheet(0.8, 1.0, 1.0, 1.0);
    let target = TargetSpec::default();
    let mut sight = shown(&control[0], 21.4, 1.4, Face::Left);
    sight.target = "K7".into();
    let error = set_up_from_sights(&control, &[sight], &instrument, &target, &conditions()).unwrap_err();
    assert_eq!(error, ObservationError::UnknownTarget { target: "K7".into() });
    let mut twice = control.clone();
    twice.push(control[0].clone());
    let error = set_up_from_sights(&twice, &[], &instrument, &target, &conditions()).unwrap_err();
    assert_eq!(error, ObservationError::DuplicateControl { id: "K1".into() });
    let mut flat = shown(&control[4], 20.7, 1.4, Face::Left);
    flat.zenith_rad = None;
    let error = set_up_from_sights(&control, &[flat], &instrument, &target, &conditions()).unwrap_err();
    assert!(
        error
            .to_string()
            .starts_with("P9: the slope distance has no zenith angle"),
        "{error}"
    );
}

#[test]
fn a_shot_without_a_distance_or_with_two_pole_heights_is_refused() {
    let point = &control()[0];
    let mut sights = both_faces(point, 1.4);
    sights[1].target_height_m = 1.6;
    let mixed = shot_from_sights(&[&sights[0], &sights[1]], &conditions()).unwrap_err();
    assert_eq!(mixed, ShotError::Mixed { target: "K1".into() });
    sights[0].slope_m = None;
    let error = shot_from_sights(&[&sights[0]], &conditions()).unwrap_err();
    assert!(
        error.to_string().starts_with("K1: no slope distance was read"),
        "{error}"
    );
    assert!(shot_from_sights(&[], &conditions()).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn any_readings_give_a_finite_answer_or_a_refusal(seed in 0u64..1_000_000, count in 0usize..14) {
        let mut noise = Noise::seeded(seed);
        let control = control();
        let mut observations = Vec::new();
        for _ in 0..count {
            let quantity = [
                Quantity::Direction,
                Quantity::Zenith,
                Quantity::SlopeDistance,
                Quantity::HorizontalDistance,
            ][(noise.even() * 4.0) as usize % 4];
            observations.push(coverbook_survey::observation::Observation {
                to: (noise.even() * 5.0) as usize % 5,
                quantity,
                value: noise.normal() * 10f64.powf(4.0 * noise.even() - 2.0),
                sigma: 0.001,
                target_height_m: noise.normal(),
                round: (noise.even() * 3.0) as usize,
            });
        }
        let mut set_up = coverbook_survey::observation::SetUp::plane(control, observations);
        if let Ok(solution) = adjust_station(&set_up) {
            prop_assert!(solution.fix.easting_m.is_finite());
            prop_assert!(solution.fix.covariance.iter().all(|v| v.is_finite()));
        }
        // The station on top of a control point is no reason to fall over either.
        set_up.control[1] = set_up.control[0].clone();
        let _ = coverbook_survey::blunder::find_blunders(&set_up, 2);
    }
}

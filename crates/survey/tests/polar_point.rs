//! The covariance of a polar shot against independent figures, and repeats against their own rules.
//!
//! Data: `data/polar-point.json`: closed form and numpy agree, Jacobians checked by finite differences, one case by Monte
//! Carlo. Both readings of "a mm + b ppm" are tested.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use coverbook_survey::PointCovariance;
use coverbook_survey::reduction::Curvature;
use coverbook_survey::shot::{Shot, ShotSetUp, SightLimits, compare_shots, reduce_shot, sight_findings};
use coverbook_survey::sight::{Conditions, EdmSum, InstrumentSpec, TargetSpec};
use coverbook_survey::station::StationFix;
use nalgebra::Matrix4;
use serde_json::Value;

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("not a number: {value}"))
}

fn seconds(value: f64) -> f64 {
    (value / 3600.0).to_radians()
}

fn set_up(case: &Value, edm_sum: EdmSum) -> ShotSetUp {
    let station = &case["station_covariance_m2"];
    let mut covariance = Matrix4::zeros();
    covariance[(0, 0)] = number(&station["ee"]);
    covariance[(0, 1)] = number(&station["en"]);
    covariance[(1, 0)] = number(&station["en"]);
    covariance[(1, 1)] = number(&station["nn"]);
    covariance[(2, 2)] = number(&station["hh"]);
    covariance[(3, 3)] = seconds(number(&case["sigma_orientation_arcsec"])).powi(2);
    ShotSetUp {
        fix: StationFix {
            easting_m: 0.0,
            northing_m: 0.0,
            level_m: Some(0.0),
            orientation_rad: Some(0.0),
            covariance,
        },
        conditions: Conditions {
            curvature: Curvature::none(),
            ..Conditions::default()
        },
        instrument: InstrumentSpec {
            edm_constant_m: number(&case["edm_constant_mm"]) / 1000.0,
            edm_ppm: number(&case["edm_ppm"]),
            edm_sum,
            sigma_direction_rad: seconds(number(&case["sigma_direction_arcsec"])),
            sigma_zenith_rad: seconds(number(&case["sigma_zenith_arcsec"])),
            one_face_factor: 1.0,
        },
        target: TargetSpec {
            sigma_height_m: number(&case["sigma_target_height_m"]),
            ..TargetSpec::default()
        },
        sigma_instrument_height_m: number(&case["sigma_instrument_height_m"]),
    }
}

fn shot(case: &Value) -> Shot {
    Shot {
        direction_rad: number(&case["azimuth_deg"]).to_radians(),
        zenith_rad: number(&case["zenith_deg"]).to_radians(),
        slope_m: number(&case["slope_distance_m"]),
        target_height_m: 0.0,
        both_faces: true,
    }
}

fn cases() -> Vec<Value> {
    let file: Value = serde_json::from_str(include_str!("data/polar-point.json")).unwrap();
    file["polar_point"].as_array().unwrap().clone()
}

#[test]
fn polar_points_have_the_published_covariance() {
    let mut seen = 0;
    for case in cases() {
        for (sum, name) in [
            (EdmSum::Linear, "linear_sum"),
            (EdmSum::RootSumSquare, "root_sum_square"),
        ] {
            let expected = &case["expected"][name];
            let got = reduce_shot(&set_up(&case, sum), &shot(&case)).unwrap();
            let c = got.covariance;
            for (value, key) in [
                (c.ee_m2, "ee"),
                (c.en_m2, "en"),
                (c.eh_m2, "eh"),
                (c.nn_m2, "nn"),
                (c.nh_m2, "nh"),
                (c.hh_m2, "hh"),
            ] {
                let expected = number(&expected["covariance_m2"][key]);
                assert!(
                    (value - expected).abs() < 1e-14,
                    "{} {name} {key}: {value} {expected}",
                    case["id"]
                );
            }
            let ellipse = c.plan().ellipse();
            let (major, minor) = ellipse.semi_axes_u95_m();
            let e = &expected["ellipse"];
            assert!((major - number(&e["semi_major_95_m"])).abs() < 1e-9);
            assert!((minor - number(&e["semi_minor_95_m"])).abs() < 1e-9);
            // A direction of 180 degrees is one of 0.
            let off = ellipse.major_azimuth_rad.unwrap().to_degrees() - number(&e["major_axis_azimuth_deg"]);
            assert!(((off + 90.0).rem_euclid(180.0) - 90.0).abs() < 1e-5, "{off}");
            seen += 1;
        }
    }
    assert_eq!(seen, 8);
}

#[test]
fn the_station_turns_and_lifts_the_shots_with_it() {
    let case = &cases()[0];
    let mut turned = set_up(case, EdmSum::Linear);
    let plain = reduce_shot(&turned, &shot(case)).unwrap();
    turned.fix.orientation_rad = Some(0.5);
    turned.fix.level_m = Some(10.0);
    turned.conditions.instrument_height_m = 1.6;
    let back = Shot {
        direction_rad: shot(case).direction_rad - 0.5,
        target_height_m: 1.5,
        ..shot(case)
    };
    let moved = reduce_shot(&turned, &back).unwrap();
    assert!((moved.easting_m - plain.easting_m).abs() < 1e-12);
    assert!((moved.level_m.unwrap() - plain.level_m.unwrap() - 10.1).abs() < 1e-12);
}

#[test]
fn a_leaning_pole_costs_what_its_height_says() {
    // 35 mm sideways for one degree on a 2 m pole (trade figure, 2 m times the tangent).
    let case = &cases()[3];
    let mut with = set_up(case, EdmSum::Linear);
    let high = Shot {
        target_height_m: 2.0,
        ..shot(case)
    };
    let before = reduce_shot(&with, &high).unwrap().covariance.ee_m2;
    with.target.sigma_tilt_rad = 1f64.to_radians();
    let after = reduce_shot(&with, &high).unwrap().covariance.ee_m2;
    assert!(((after - before).sqrt() - 0.035).abs() < 0.0005);
}

#[test]
fn two_shots_of_one_set_up_share_the_stations_error() {
    let case = &cases()[1];
    let set_up = set_up(case, EdmSum::Linear);
    let first = reduce_shot(&set_up, &shot(case)).unwrap();
    let second = reduce_shot(
        &set_up,
        &Shot {
            slope_m: 120.001,
            ..shot(case)
        },
    )
    .unwrap();
    let same = compare_shots(&first, &second, true).unwrap();
    let apart = compare_shots(&first, &second, false).unwrap();
    assert!(same.agrees && apart.agrees);
    // The mean of two equal shots halves their own variance and leaves the station's (textbook rule).
    let (own, all) = (first.own_covariance.ee_m2, first.covariance.ee_m2);
    let mean = same.combined.unwrap();
    assert!((mean.covariance.ee_m2 - (all - own / 2.0)).abs() < 1e-4 * all);
    assert!((apart.combined.unwrap().covariance.ee_m2 - all / 2.0).abs() < 1e-4 * all);
    let middle = 0.5 * (first.easting_m + second.easting_m);
    assert!((mean.easting_m - middle).abs() < 1e-6);
}

#[test]
fn two_shots_that_disagree_are_not_combined() {
    let case = &cases()[1];
    let set_up = set_up(case, EdmSum::Linear);
    let first = reduce_shot(&set_up, &shot(case)).unwrap();
    let second = reduce_shot(
        &set_up,
        &Shot {
            slope_m: 120.05,
            ..shot(case)
        },
    )
    .unwrap();
    let repeat = compare_shots(&first, &second, true).unwrap();
    assert!(!repeat.agrees);
    assert_eq!(repeat.combined, None);
    let exact = PointCovariance::default();
    let zero = coverbook_survey::shot::ShotPosition {
        own_covariance: exact,
        covariance: exact,
        ..first
    };
    assert!(compare_shots(&zero, &zero, true).is_none());
}

#[test]
fn long_and_steep_sights_are_warned_of() {
    let limits = SightLimits::default();
    let codes = |slope: f64, zenith_deg: f64| -> Vec<&str> {
        sight_findings("P1", slope, zenith_deg.to_radians(), &limits)
            .iter()
            .map(|f| f.code)
            .collect()
    };
    assert!(codes(135.0, 90.0).is_empty());
    assert_eq!(codes(135.1, 90.0), ["sight-too-long"]);
    assert_eq!(codes(10.0, 44.0), ["sight-too-steep"]);
    assert_eq!(codes(200.0, 140.0), ["sight-too-long", "sight-too-steep"]);
}

#[test]
fn a_shot_that_no_instrument_reads_is_refused() {
    let case = &cases()[0];
    let mut set_up = set_up(case, EdmSum::Linear);
    let bad = Shot {
        zenith_rad: 4.7,
        ..shot(case)
    };
    assert!(
        reduce_shot(&set_up, &bad)
            .unwrap_err()
            .to_string()
            .contains("zenith angle of 4.7")
    );
    assert!(
        reduce_shot(
            &set_up,
            &Shot {
                slope_m: f64::NAN,
                ..shot(case)
            }
        )
        .is_err()
    );
    set_up.fix.orientation_rad = None;
    assert!(reduce_shot(&set_up, &shot(case)).is_err());
}

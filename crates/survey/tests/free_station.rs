//! Free stations against two independent programs, and a textbook's example.
//!
//! Data: `data/free-station.json` (simulated readings, adjusted by numpy Gauss-Newton and by GNU Gama 2.33, which agree;
//! one example of C. D. Ghilani, *Adjustment Computations*, 15.5, seen in a transcription). Each case names its source.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use std::collections::HashMap;

use coverbook_survey::observation::{ControlPoint, Observation, Quantity, SetUp};
use coverbook_survey::station_report::{StationReport, station_report};
use serde_json::Value;

/// The issue's own limits: 0.01 mm and 0.01 seconds.
const LIMIT_M: f64 = 1e-5;
const LIMIT_ARCSEC: f64 = 0.01;

fn arcsec(radians: f64) -> f64 {
    radians.to_degrees() * 3600.0
}

fn cases() -> Vec<Value> {
    let file: Value = serde_json::from_str(include_str!("data/free-station.json")).unwrap();
    file["cases"].as_array().unwrap().clone()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("not a number: {value}"))
}

fn control(case: &Value) -> Vec<ControlPoint> {
    case["control"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| {
            ControlPoint::exact(
                c["id"].as_str().unwrap(),
                number(&c["e_m"]),
                number(&c["n_m"]),
                c["h_m"].as_f64(),
            )
        })
        .collect()
}

fn place(control: &[ControlPoint], id: &Value) -> usize {
    control.iter().position(|c| c.id == id.as_str().unwrap()).unwrap()
}

const READINGS: [(&str, &str, Quantity); 4] = [
    ("direction_deg", "sigma_direction_arcsec", Quantity::Direction),
    ("zenith_deg", "sigma_zenith_arcsec", Quantity::Zenith),
    ("slope_distance_m", "sigma_distance_m", Quantity::SlopeDistance),
    (
        "horizontal_distance_m",
        "sigma_distance_m",
        Quantity::HorizontalDistance,
    ),
];

fn set_up(case: &Value) -> SetUp {
    let control = control(case);
    let mut observations = Vec::new();
    for sight in case["observations"].as_array().into_iter().flatten() {
        for (name, sigma, quantity) in READINGS {
            let Some(value) = sight[name].as_f64() else {
                continue;
            };
            let sigma = number(&sight[sigma]);
            let (value, sigma) = if quantity.is_length() {
                (value, sigma)
            } else {
                (value.to_radians(), (sigma / 3600.0).to_radians())
            };
            observations.push(Observation {
                to: place(&control, &sight["to"]),
                quantity,
                value,
                sigma,
                target_height_m: sight["target_height_m"].as_f64().unwrap_or(0.0),
                round: 0,
            });
        }
    }
    // An angle is a round of its own: two directions, each with half of the angle's variance.
    for (round, angle) in case["angles"].as_array().into_iter().flatten().enumerate() {
        let sigma = (number(&angle["sigma_arcsec"]) / 3600.0).to_radians() / 2f64.sqrt();
        for (to, value) in [("backsight", 0.0), ("foresight", number(&angle["angle_deg"]))] {
            observations.push(Observation {
                to: place(&control, &angle[to]),
                quantity: Quantity::Direction,
                value: value.to_radians(),
                sigma,
                target_height_m: 0.0,
                round,
            });
        }
    }
    SetUp {
        instrument_height_m: case["instrument_height_m"].as_f64().unwrap_or(0.0),
        ..SetUp::plane(control, observations)
    }
}

#[track_caller]
fn near(id: &str, what: &str, got: f64, expected: &Value, limit: f64) {
    let expected = number(expected);
    assert!(
        (got - expected).abs() <= limit,
        "{id}: {what} is {got}, expected {expected} within {limit}"
    );
}

fn check_figures(id: &str, case: &Value, report: &StationReport) {
    let expected = &case["expected"];
    let fix = &report.solution.fix;
    let c = fix.covariance;
    near(id, "easting", fix.easting_m, &expected["station"]["e_m"], LIMIT_M);
    near(
        id,
        "northing",
        fix.northing_m,
        &expected["station"]["n_m"],
        LIMIT_M,
    );
    // The standard deviations are held to the tolerance of the file, 0.001 mm (0.01 mm for the textbook's case).
    let limit = number(&case["tolerance"]["stdev_m"]);
    let sigmas = &expected["stdev_apriori"];
    near(id, "sigma e", c[(0, 0)].sqrt(), &sigmas["sigma_e_m"], limit);
    near(id, "sigma n", c[(1, 1)].sqrt(), &sigmas["sigma_n_m"], limit);
    if expected["station"]["h_m"].is_number() {
        near(
            id,
            "level",
            fix.level_m.unwrap(),
            &expected["station"]["h_m"],
            LIMIT_M,
        );
        near(id, "sigma h", c[(2, 2)].sqrt(), &sigmas["sigma_h_m"], limit);
    } else {
        assert_eq!(fix.level_m, None, "{id}");
    }
    if expected["station"]["orientation_deg"].is_number() {
        let turn = (number(&expected["station"]["orientation_deg"])).to_radians();
        let off = arcsec(fix.orientation_rad.unwrap() - turn);
        assert!(off.abs() < LIMIT_ARCSEC, "{id}: orientation off by {off}\"");
        let sigma = arcsec(fix.orientation_sigma_rad());
        near(
            id,
            "sigma o",
            sigma,
            &sigmas["sigma_orientation_arcsec"],
            LIMIT_ARCSEC,
        );
    }
    let names = [
        ("ee", 0, 0),
        ("en", 0, 1),
        ("eh", 0, 2),
        ("nn", 1, 1),
        ("nh", 1, 2),
        ("hh", 2, 2),
    ];
    for (name, i, j) in names {
        if let Some(value) = expected["covariance_apriori_m2"].get(name) {
            // Sharper than the standard deviations: 1e-5 of the size.
            let size = (c[(i, i)] * c[(j, j)]).sqrt();
            near(id, name, c[(i, j)], value, 1e-5 * size);
        }
    }
    let global = report.global.unwrap();
    let vtpv = number(&expected["vtpv"]);
    near(id, "vtpv", global.vtpv, &expected["vtpv"], 1e-4 * vtpv);
    assert_eq!(
        Some(global.degrees_of_freedom as u64),
        expected["degrees_of_freedom"].as_u64()
    );
}

#[test]
fn published_stations_are_met_to_a_hundredth_of_a_millimetre_and_second() {
    let mut seen = 0;
    for case in cases() {
        let id = case["id"].as_str().unwrap();
        let report = station_report(&set_up(&case)).unwrap_or_else(|e| panic!("{id}: {e}"));
        check_figures(id, &case, &report);
        seen += 1;
    }
    assert_eq!(seen, 10);
}

#[test]
fn residuals_redundancy_and_w_agree_reading_by_reading() {
    let mut seen = 0;
    for case in cases() {
        let id = case["id"].as_str().unwrap();
        let Some(expected) = case["expected"]["residuals_adjusted_minus_observed"].as_array() else {
            continue;
        };
        let set_up = set_up(&case);
        let report = station_report(&set_up).unwrap();
        let w_limit = number(&case["tolerance"]["w"]);
        let mut found = HashMap::new();
        for residual in &report.residuals {
            let o = &set_up.observations[residual.observation];
            let kind = o.quantity.word().split(' ').next().unwrap();
            found.insert((set_up.control[o.to].id.clone(), kind), residual);
        }
        assert_eq!(expected.len(), found.len());
        for row in expected {
            let kind = row["kind"].as_str().unwrap();
            let key = (
                row["to"].as_str().unwrap().to_owned(),
                kind.split('_').next().unwrap(),
            );
            let residual = found[&key];
            let what = format!("{} {kind}", key.0);
            if row["residual_m"].is_number() {
                near(id, &what, residual.residual, &row["residual_m"], LIMIT_M);
            } else {
                near(
                    id,
                    &what,
                    arcsec(residual.residual),
                    &row["residual_arcsec"],
                    LIMIT_ARCSEC,
                );
            }
            near(id, &what, residual.redundancy, &row["redundancy"], 1e-5);
            near(id, &what, residual.w.unwrap(), &row["w"], w_limit);
            seen += 1;
        }
        let sum: f64 = report.residuals.iter().map(|r| r.redundancy).sum();
        assert!(
            (sum - report.solution.degrees_of_freedom() as f64).abs() < 1e-9,
            "{id}"
        );
    }
    assert!(seen >= 60, "{seen}");
}

#[test]
fn the_tests_of_the_whole_of_readings_and_of_control_agree() {
    let mut control_tests = 0;
    for case in cases() {
        let id = case["id"].as_str().unwrap();
        let expected = &case["expected"];
        if expected["global_test"].is_null() {
            continue;
        }
        let set_up = set_up(&case);
        let report = station_report(&set_up).unwrap();
        let global = report.global.unwrap();
        let (low, high) = global.interval();
        near(id, "lower", low, &expected["global_test"]["chi2_lower"], 1e-6);
        near(id, "upper", high, &expected["global_test"]["chi2_upper"], 1e-6);
        assert_eq!(
            Some(global.is_accepted()),
            expected["global_test"]["accepted"].as_bool(),
            "{id}"
        );
        let one_sided = expected["global_test"]["one_sided_accepted"].as_bool().unwrap();
        assert_eq!(global.is_too_large(), !one_sided, "{id}");
        let rejected = report.residuals.iter().any(|r| r.is_rejected());
        assert_eq!(
            Some(rejected),
            expected["w_test"]["any_rejected"].as_bool(),
            "{id}"
        );
        let worst = report.worst().unwrap();
        near(
            id,
            "worst w",
            worst.w.unwrap().abs(),
            &expected["w_test"]["max_abs_w"],
            0.002,
        );

        let tests = expected["control_point_test"].as_array().unwrap();
        let made: Vec<_> = report
            .control
            .iter()
            .filter_map(|c| Some((c.control, c.test?)))
            .collect();
        assert_eq!(made.len(), tests.len(), "{id}");
        for row in tests {
            let at = place(&set_up.control, &row["id"]);
            let (_, test) = made.iter().find(|m| m.0 == at).unwrap();
            let shift = row["estimated_shift_m"].as_array().unwrap();
            assert_eq!(test.dimensions, shift.len(), "{id}");
            for (got, value) in test.shift_m.iter().zip(shift) {
                near(id, "shift", *got, value, LIMIT_M);
            }
            let t = number(&row["t_statistic"]);
            near(id, "T", test.statistic, &row["t_statistic"], 1e-4 * t.max(0.1));
            near(
                id,
                "T limit",
                test.critical(),
                &row["t_critical_alpha_0_001"],
                1e-6,
            );
            control_tests += 1;
        }
    }
    assert!(control_tests >= 25, "{control_tests}");
}

#[test]
fn the_textbook_example_is_met_as_printed() {
    // Ghilani 15.5: E 999.999, N 1000.025, S 0.0206 and 0.0427 (a-posteriori), S0 0.603; the printed figures from memory.
    let case = cases().remove(0);
    let report = station_report(&set_up(&case)).unwrap();
    let s0 = report.global.unwrap().variance_factor().sqrt();
    let c = report.solution.fix.covariance;
    assert!((s0 - 0.603).abs() < 5e-4);
    assert!((c[(0, 0)].sqrt() * s0 - 0.0206).abs() < 5e-5);
    assert!((c[(1, 1)].sqrt() * s0 - 0.0427).abs() < 5e-5);
    let e = &case["expected"];
    near(
        "ghilani",
        "a-post e",
        c[(0, 0)].sqrt() * s0,
        &e["stdev_aposteriori"]["sigma_e_m"],
        1e-5,
    );
    // The residual of an angle is the difference of those of its two directions.
    for (k, expected) in e["residuals_arcsec"].as_array().unwrap().iter().enumerate() {
        let angle = report.residuals[2 * k + 1].residual - report.residuals[2 * k].residual;
        near("ghilani", "angle residual", arcsec(angle), expected, LIMIT_ARCSEC);
    }
}

//! Three-point resections from directions alone, and the two that must be refused.
//!
//! Data: `data/three-point-resection.json`: Tienstra's closed form and an independent Newton solution, which agree; no
//! published numeric example was found.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use coverbook_survey::observation::{ControlPoint, Observation, Quantity, SetUp};
use coverbook_survey::resection::{ResectionError, danger_circle, resect_three_points, tienstra_weights};
use coverbook_survey::start::StartError;
use coverbook_survey::station::{StationError, adjust_station};
use serde_json::Value;

fn data() -> Value {
    serde_json::from_str(include_str!("data/three-point-resection.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("not a number: {value}"))
}

fn inputs(case: &Value) -> ([[f64; 2]; 3], [f64; 3]) {
    let points = [0, 1, 2].map(|i| {
        let c = &case["control"][i];
        [number(&c["e_m"]), number(&c["n_m"])]
    });
    let directions = [0, 1, 2].map(|i| number(&case["direction_deg"][i]).to_radians());
    (points, directions)
}

fn set_up(points: [[f64; 2]; 3], directions: [f64; 3]) -> SetUp {
    let control = points
        .iter()
        .zip(["A", "B", "C"])
        .map(|(p, id)| ControlPoint::exact(id, p[0], p[1], None))
        .collect();
    let observations = directions
        .iter()
        .enumerate()
        .map(|(to, value)| Observation {
            to,
            quantity: Quantity::Direction,
            value: *value,
            sigma: 1.5e-5,
            target_height_m: 0.0,
            round: 0,
        })
        .collect();
    SetUp::plane(control, observations)
}

#[test]
fn the_closed_form_and_the_adjustment_find_the_place() {
    let data = data();
    let cases = data["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 5);
    for case in cases {
        let id = case["id"].as_str().unwrap();
        let (points, directions) = inputs(case);
        let [e, n] = [&case["expected"]["e_m"], &case["expected"]["n_m"]].map(number);
        let turn = number(&case["expected"]["orientation_deg"]);
        let found = resect_three_points(points, directions).unwrap();
        assert!(
            (found.place[0] - e).hypot(found.place[1] - n) < 1e-6,
            "{id}: {found:?}"
        );
        assert!(
            (found.orientation_rad.to_degrees() - turn).abs() < 1e-8,
            "{id}: {found:?}"
        );
        let fix = adjust_station(&set_up(points, directions)).unwrap().fix;
        assert!(
            (fix.easting_m - e).hypot(fix.northing_m - n) < 1e-6,
            "{id}: {fix:?}"
        );

        let circle = danger_circle(points).unwrap();
        let c = &case["danger_circle"];
        for (got, name) in [
            (circle.centre_m[0], "centre_e_m"),
            (circle.centre_m[1], "centre_n_m"),
            (circle.radius_m, "radius_m"),
            (circle.distance_from_m([e, n]), "station_distance_from_circle_m"),
        ] {
            assert!((got - number(&c[name])).abs() < 1e-6, "{id}: {name} {got}");
        }
    }
}

#[test]
fn the_weights_of_the_hand_check_are_met() {
    for case in data()["cases"].as_array().unwrap() {
        let (points, directions) = inputs(case);
        let weights = tienstra_weights(points, directions);
        for (got, expected) in weights
            .iter()
            .zip(case["expected"]["tienstra_weights"].as_array().unwrap())
        {
            assert!(
                (got - number(expected)).abs() < 1e-9,
                "{}: {weights:?}",
                case["id"]
            );
        }
    }
}

#[test]
fn a_station_on_the_danger_circle_or_the_line_is_refused() {
    let data = data();
    let refused = data["must_be_refused"].as_array().unwrap();
    let (points, directions) = inputs(&refused[0]);
    assert_eq!(
        resect_three_points(points, directions),
        Err(ResectionError::DangerCircle)
    );
    let error = adjust_station(&set_up(points, directions)).unwrap_err();
    assert_eq!(error, StationError::Start(StartError::CircleOrLine));
    assert!(error.to_string().contains("measure distances"), "{error}");

    let (points, directions) = inputs(&refused[1]);
    assert_eq!(
        resect_three_points(points, directions),
        Err(ResectionError::OneLine)
    );
    assert!(adjust_station(&set_up(points, directions)).is_err());
}

#[test]
fn near_the_danger_circle_the_adjustment_refuses_what_the_closed_form_still_gives() {
    // The circle of the refused case has radius 10 about the origin; 1 mm off it a second of arc moves the station by metres.
    let points = [[0.0, 10.0], [10.0, 0.0], [0.0, -10.0]];
    let station = [-10.001, 0.0];
    let directions = points.map(|p: [f64; 2]| (p[0] - station[0]).atan2(p[1] - station[1]));
    let found = resect_three_points(points, directions).unwrap();
    assert!((found.place[0] - station[0]).abs() < 1e-6);
    let error = adjust_station(&set_up(points, directions)).unwrap_err();
    assert!(matches!(error, StationError::Undetermined { .. }), "{error}");
}

#[test]
fn points_on_one_line_are_no_trouble_when_the_station_is_off_it() {
    let points = [[0.0, 0.0], [30.0, 0.0], [70.0, 0.0]];
    let station = [25.0, -40.0];
    let directions = points.map(|p: [f64; 2]| (p[0] - station[0]).atan2(p[1] - station[1]) - 0.7);
    let found = resect_three_points(points, directions).unwrap();
    assert!((found.place[0] - 25.0).hypot(found.place[1] + 40.0) < 1e-9);
    assert!((found.orientation_rad - 0.7).abs() < 1e-12);
}

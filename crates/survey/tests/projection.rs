//! Projections against published worked examples and PROJ.
//!
//! `data/projection.json`: published examples (IOGP Guidance Note 7-2, GDA technical manual, both seen
//! quoted) and 25 points computed with PROJ 9.5.1. `data/crs-table.json`: every system of our table, name,
//! unit, forward, inverse and WGS 84, from the same PROJ. Each row of the files says where it came from.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use coverbook_survey::epsg::{UnknownCrs, known_codes, projected_crs};
use coverbook_survey::geodetic_base::ToWgs84;
use coverbook_survey::projection::{Geodetic, Projection, ProjectionError, combined_scale_factor};
use serde_json::Value;

fn published() -> Value {
    serde_json::from_str(include_str!("data/projection.json")).unwrap()
}

fn table() -> Value {
    serde_json::from_str(include_str!("data/crs-table.json")).unwrap()
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap()
}

#[track_caller]
fn close(name: &str, got: f64, expected: f64, tolerance: f64) {
    let off = got - expected;
    assert!(
        off.abs() <= tolerance,
        "{name}: {got} against {expected}, off by {off:e}"
    );
}

fn code(text: &str) -> u32 {
    let digits = text.trim_start_matches("EPSG:");
    let digits = digits.split(' ').next().unwrap();
    digits.parse().unwrap()
}

fn place(case: &Value) -> Geodetic {
    Geodetic {
        latitude_deg: number(case, "latitude_deg"),
        longitude_deg: number(case, "longitude_deg"),
    }
}

#[test]
fn forward_inverse_convergence_and_scale_agree_with_proj() {
    let data = published();
    let tolerance = &data["tolerance"];
    let cases = data["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 25);
    for case in cases {
        let id = case["id"].as_str().unwrap();
        let expected = &case["expected"];
        let projection = Projection::of(code(case["crs"].as_str().unwrap())).unwrap();
        let (e, n) = projection.to_grid(place(case)).unwrap();
        let metre = number(tolerance, "coordinate_m");
        close(id, e, number(expected, "easting_m"), metre);
        close(id, n, number(expected, "northing_m"), metre);
        let given = (number(expected, "easting_m"), number(expected, "northing_m"));
        let back = projection.to_geodetic(given.0, given.1).unwrap();
        let degree = number(tolerance, "latlon_deg");
        close(
            id,
            back.latitude_deg,
            number(expected, "inverse_latitude_deg"),
            degree,
        );
        close(
            id,
            back.longitude_deg,
            number(expected, "inverse_longitude_deg"),
            degree,
        );
        let factors = projection.grid_factors(given.0, given.1).unwrap();
        close(
            id,
            factors.convergence_rad.to_degrees(),
            number(expected, "grid_convergence_deg"),
            number(tolerance, "convergence_deg"),
        );
        let scale = number(tolerance, "scale");
        close(
            id,
            factors.point_scale,
            number(expected, "point_scale_factor"),
            scale,
        );
    }
}

#[test]
fn published_worked_examples_hold() {
    let data = published();
    let rows = data["published"].as_array().unwrap();
    assert_eq!(rows.len(), 3);
    for row in rows {
        let id = row["id"].as_str().unwrap();
        let projection = Projection::of(code(row["crs"].as_str().unwrap())).unwrap();
        let (e, n) = projection.to_grid(place(row)).unwrap();
        let printed = &row["published"];
        if id == "epsg-gn7-2-lcc2sp" {
            let unit = projection.crs().unit.metres();
            let feet = number(row, "tolerance_us_survey_ft");
            close(id, e / unit, number(printed, "easting_us_survey_ft"), feet);
            close(id, n / unit, number(printed, "northing_us_survey_ft"), feet);
            let proj = &row["proj_value"];
            close(id, e / unit, number(proj, "easting_us_survey_ft"), 1e-5);
            close(id, n / unit, number(proj, "northing_us_survey_ft"), 1e-5);
        } else {
            let metre = number(row, "tolerance_m");
            close(id, e, number(printed, "easting_m"), metre);
            close(id, n, number(printed, "northing_m"), metre);
            close(id, e, number(&row["proj_value"], "easting_m"), 1e-4);
            close(id, n, number(&row["proj_value"], "northing_m"), 1e-4);
        }
    }
}

#[test]
fn the_convergence_of_flinders_peak_has_the_sign_that_is_taken_from_a_true_bearing() {
    // GDA technical manual, seen quoted: -1 35 03.65, to be ADDED to a true bearing. Ours is subtracted.
    let projection = Projection::of(7855).unwrap();
    let factors = projection.grid_factors(273_741.297, 5_796_489.777).unwrap();
    let printed = -(1.0 + 35.0 / 60.0 + 3.65 / 3600.0);
    let arc_second = 1.0 / 3600.0;
    close(
        "convergence",
        -factors.convergence_rad.to_degrees(),
        printed,
        0.01 * arc_second,
    );
    close("scale", factors.point_scale, 1.000_230_56, 5e-9);
}

#[test]
fn every_system_of_the_table_agrees_with_the_register_and_with_proj() {
    let data = table();
    let tolerance = &data["tolerance"];
    let rows = data["rows"].as_array().unwrap();
    let listed: Vec<u32> = rows
        .iter()
        .map(|row| row["code"].as_u64().unwrap() as u32)
        .collect();
    assert_eq!(listed, known_codes());
    for row in rows {
        let projection = Projection::of(row["code"].as_u64().unwrap() as u32).unwrap();
        let crs = projection.crs();
        assert_eq!(crs.name, row["name"].as_str().unwrap());
        assert_eq!(crs.base.name, row["base"].as_str().unwrap());
        let is_feet = crs.unit.symbol() == "usft";
        assert_eq!(is_feet, row["unit"] == "US survey foot", "{}", crs.name);
        for point in row["points"].as_array().unwrap() {
            let at = |column: usize| point[column].as_f64();
            let (latitude_deg, longitude_deg) = (at(0).unwrap(), at(1).unwrap());
            let unit = crs.unit.metres();
            let (e_m, n_m) = (at(2).unwrap() * unit, at(3).unwrap() * unit);
            let name = projection.title();
            let own = Geodetic {
                latitude_deg,
                longitude_deg,
            };
            assert!(projection.is_in_area(own), "{name} {own:?}");
            let (e, n) = projection.to_grid(own).unwrap();
            let metre = number(tolerance, "coordinate_m");
            close(&name, e, e_m, metre);
            close(&name, n, n_m, metre);
            let back = projection.to_geodetic(e_m, n_m).unwrap();
            // A place 1e-9 degrees off is 0.1 mm off: the grid values are printed to a micrometre.
            let degree = number(tolerance, "latlon_deg");
            close(&name, back.latitude_deg, latitude_deg, degree);
            close(&name, back.longitude_deg, longitude_deg, degree);
            match (at(4), projection.grid_factors(e_m, n_m)) {
                (None, factors) => {
                    assert!(matches!(factors, Err(ProjectionError::NotConformal { .. })));
                }
                (Some(convergence), factors) => {
                    let factors = factors.unwrap();
                    let degree = number(tolerance, "convergence_deg");
                    close(&name, factors.convergence_rad.to_degrees(), convergence, degree);
                    close(
                        &name,
                        factors.point_scale,
                        at(5).unwrap(),
                        number(tolerance, "scale"),
                    );
                }
            }
            match (at(6), projection.to_lonlat(e_m, n_m)) {
                (None, lonlat) => {
                    assert!(matches!(lonlat, Err(ProjectionError::NeedsGrid { .. })));
                    assert!(projection.position_basis().is_err());
                }
                (Some(longitude), lonlat) => {
                    let lonlat = lonlat.unwrap();
                    let degree = number(tolerance, "wgs84_deg");
                    close(&name, lonlat.longitude_deg, longitude, degree);
                    close(&name, lonlat.latitude_deg, at(7).unwrap(), degree);
                }
            }
        }
        if let Some(accuracy) = row["operation_accuracy_m"].as_f64() {
            let basis = projection.position_basis().unwrap();
            assert_eq!(basis.accuracy_m, accuracy, "{}", basis.crs);
        }
    }
}

#[test]
fn ground_to_grid_takes_the_scale_and_the_height() {
    let data: Value = serde_json::from_str(include_str!("data/grid-and-height-scale.json")).unwrap();
    let cases = data["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 5);
    for case in cases {
        let factor = combined_scale_factor(
            number(case, "grid_scale_factor"),
            number(case, "mean_ellipsoidal_height_m"),
            number(case, "earth_radius_m"),
        );
        let expected = number(&case["expected"], "combined_scale_factor");
        close("combined factor", factor, expected, 1e-11);
        let grid_m = number(case, "horizontal_distance_ground_m") * factor;
        close(
            "grid distance",
            grid_m,
            number(&case["expected"], "grid_distance_m"),
            1e-6,
        );
    }
    // The radius at the place is within 0.4 % of the mean one: 1 ppm at 1,500 m.
    let projection = Projection::of(25832).unwrap();
    let at_place = projection
        .combined_factor(500_000.0, 5_761_038.2, 1500.0)
        .unwrap();
    close(
        "at a place",
        at_place,
        combined_scale_factor(0.9996, 1500.0, 6_371_000.0),
        1e-6,
    );
}

#[test]
fn a_swapped_or_mistyped_position_is_refused_with_what_to_look_at() {
    let projection = Projection::of(25832).unwrap();
    let swapped = projection.to_lonlat(5_333_000.0, 690_000.0).unwrap_err();
    let message = swapped.to_string();
    assert!(message.contains("order of easting and northing"), "{message}");
    assert!(message.contains("EPSG:25832 ETRS89 / UTM zone 32N"), "{message}");
    assert!(projection.to_geodetic(f64::NAN, 0.0).is_err());
    // Feet given as metres land in another country.
    let california = Projection::of(2229).unwrap();
    assert!(california.to_lonlat(6_480_000.0, 1_840_000.0).is_err());
    let unit = california.crs().unit.metres();
    assert!(
        california
            .to_lonlat(6_480_000.0 * unit, 1_840_000.0 * unit)
            .is_ok()
    );
}

#[test]
fn unknown_codes_say_what_to_do() {
    assert_eq!(projected_crs(1).unwrap_err(), UnknownCrs::NotInTable(1));
    assert_eq!(projected_crs(4326).unwrap_err(), UnknownCrs::Geographic(4326));
    assert_eq!(projected_crs(3857).unwrap_err(), UnknownCrs::MapTiles(3857));
    let message = Projection::of(1).unwrap_err().to_string();
    assert!(message.contains("leave the site untied"), "{message}");
}

#[test]
fn every_longitude_says_what_it_is_for() {
    for code in known_codes() {
        let projection = Projection::of(code).unwrap();
        let needs_grid = matches!(projection.crs().base.to_wgs84, ToWgs84::NeedsGrid { .. });
        match projection.position_basis() {
            Err(_) => assert!(needs_grid),
            Ok(basis) => {
                assert!(basis.note.contains("for finding the place"), "{basis:?}");
                assert!(basis.accuracy_m >= 1.0, "{basis:?}");
            }
        }
    }
}

#[test]
fn a_projection_may_be_shared_between_threads() {
    fn shared<T: Send + Sync>(_: &T) {}
    shared(&Projection::of(27700).unwrap());
}

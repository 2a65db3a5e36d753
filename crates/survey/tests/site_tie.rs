//! Ties of a site grid to a map grid against `data/site-tie.json`.
//!
//! Published: C. D. Ghilani, Adjustment Computations, example 18.1 (numbers seen in public programs). The
//! rest is simulated and solved independently with numpy, as each row of the file says. The field failures
//! (feet, swapped columns, a missed grid factor) are made from those points.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use coverbook_survey::similarity::{
    CommonPoint, GridTie, Scale, TieError, TieOptions, suspect_point, tie_grid,
};
use serde_json::Value;

fn data() -> Value {
    serde_json::from_str(include_str!("data/site-tie.json")).unwrap()
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap()
}

fn pair(value: &Value) -> [f64; 2] {
    [value[0].as_f64().unwrap(), value[1].as_f64().unwrap()]
}

fn points(case: &Value) -> Vec<CommonPoint> {
    let local = case["local_xy_m"].as_array().unwrap();
    let grid = case["grid_en_m"].as_array().unwrap();
    local
        .iter()
        .zip(grid)
        .enumerate()
        .map(|(i, (local, grid))| CommonPoint {
            name: format!("P{i}"),
            local_m: pair(local),
            grid_m: pair(grid),
        })
        .collect()
}

fn case(id: &str) -> Vec<CommonPoint> {
    let data = data();
    let cases = data["cases"].as_array().unwrap();
    points(cases.iter().find(|case| case["id"] == id).unwrap())
}

fn free() -> TieOptions {
    TieOptions::default()
}

fn held(scale: f64) -> TieOptions {
    TieOptions {
        scale: Scale::Held(scale),
        ..free()
    }
}

#[track_caller]
fn close(name: &str, got: f64, expected: f64, tolerance: f64) {
    let off = got - expected;
    assert!(off.abs() <= tolerance, "{name}: {got} against {expected}");
}

#[track_caller]
fn check(id: &str, tie: &GridTie, expected: &Value, tolerance: &Value) {
    let metre = number(tolerance, "coordinate_m");
    let similarity = &tie.similarity;
    if let Some(a) = expected["a"].as_f64() {
        close(id, similarity.a, a, number(tolerance, "a_b"));
        close(id, similarity.b, number(expected, "b"), number(tolerance, "a_b"));
        close(id, similarity.scale(), number(expected, "scale"), 1e-9);
        close(id, similarity.scale_ppm(), number(expected, "scale_ppm"), 1e-3);
    }
    let turn = similarity.rotation_rad().to_degrees();
    close(id, turn, number(expected, "rotation_anticlockwise_deg"), 1e-7);
    let [tx, ty] = similarity.translation_m();
    // The published coordinates have twelve digits, so tx of 1757000.00025 says no more than 0.01 mm.
    close(id, tx, number(expected, "tx_m"), metre.max(1e-11 * tx.abs()));
    close(id, ty, number(expected, "ty_m"), metre.max(1e-11 * ty.abs()));
    let residuals = expected["residuals_transformed_minus_given_m"]
        .as_array()
        .unwrap();
    assert_eq!(residuals.len(), tie.residuals.len());
    for (got, row) in tie.residuals.iter().zip(residuals) {
        let [e, n] = pair(row);
        close(id, got.d_easting_m, e, number(tolerance, "residual_m"));
        close(id, got.d_northing_m, n, number(tolerance, "residual_m"));
    }
    let freedom = expected["degrees_of_freedom"].as_u64().unwrap();
    assert_eq!(tie.degrees_of_freedom as u64, freedom, "{id}");
    match expected["s0_m"].as_f64() {
        Some(s0) => close(id, tie.sigma0_m.unwrap(), s0, 1e-8),
        None => assert_eq!(tie.sigma0_m, None, "{id}"),
    }
    if let Some(ppm) = expected["sigma_scale_ppm"].as_f64() {
        close(id, tie.sigma_scale_ppm.unwrap(), ppm, 1e-3);
        close(id, tie.rms_m, number(expected, "rms_m"), 1e-8);
    }
}

#[test]
fn ghilani_18_1_has_the_published_parameters_and_points() {
    let data = data();
    let row = &data["published"][0];
    let (tie, _) = tie_grid(&points(row), &free()).unwrap();
    check("hel-ghilani-18-1", &tie, &row["expected"], &data["tolerance"]);
    let printed = &row["published_parameters"];
    let ab = number(&row["tolerance_published"], "a_b");
    close("a", tie.similarity.a, number(printed, "a"), ab);
    close("b", tie.similarity.b, number(printed, "b"), ab);
    let metre = number(&row["tolerance_published"], "coordinate");
    close(
        "tx",
        tie.similarity.translation_m()[0],
        number(printed, "tx"),
        metre,
    );
    close(
        "ty",
        tie.similarity.translation_m()[1],
        number(printed, "ty"),
        metre,
    );
    for point in row["published_transformed_points"].as_array().unwrap() {
        let [e, n] = tie.similarity.to_grid(pair(&point["local_xy_m"]));
        let [expected_e, expected_n] = pair(&point["grid_en_m"]);
        close("published easting", e, expected_e, metre);
        close("published northing", n, expected_n, metre);
    }
}

#[test]
fn free_and_rigid_ties_agree_with_an_independent_solution() {
    let data = data();
    let cases = data["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 4);
    for case in cases {
        let id = case["id"].as_str().unwrap();
        let points = points(case);
        let (tie, _) = tie_grid(&points, &free()).unwrap();
        check(id, &tie, &case["expected"], &data["tolerance"]);
        for point in case["transformed_check_points"].as_array().unwrap() {
            let local = pair(&point["local_xy_m"]);
            let grid = pair(&point["grid_en_m"]);
            let [e, n] = tie.similarity.to_grid(local);
            // Twelve digits are given: half a unit of the last is 5 micrometres at 5,920,000 m.
            close(id, e, grid[0], 1e-6f64.max(1e-12 * grid[0].abs() * 5.0));
            close(id, n, grid[1], 1e-6f64.max(1e-12 * grid[1].abs() * 5.0));
            let [x, y] = tie.similarity.to_local([e, n]);
            close(id, x, local[0], 1e-8);
            close(id, y, local[1], 1e-8);
        }
        let (rigid, _) = tie_grid(&points, &held(1.0)).unwrap();
        check(id, &rigid, &case["rigid_scale_1"], &data["tolerance"]);
        close(id, rigid.similarity.scale(), 1.0, 1e-15);
        assert_eq!(rigid.sigma_scale_ppm, None);
    }
}

fn codes(points: &[CommonPoint], options: &TieOptions) -> Vec<(String, String)> {
    let (_, findings) = tie_grid(points, options).unwrap();
    let code = |f: &coverbook_survey::Finding| (f.code.to_owned(), f.place.clone());
    findings.iter().map(code).collect()
}

fn has(points: &[CommonPoint], options: &TieOptions, code: &str) -> bool {
    codes(points, options).iter().any(|(c, _)| c == code)
}

#[test]
fn two_points_say_unchecked() {
    let points = case("hel-2pt-exact");
    assert!(has(&points, &free(), "two-points-unchecked"));
    let (tie, _) = tie_grid(&points, &free()).unwrap();
    assert!(!tie.is_checked());
    assert_eq!(tie.sigma_at_m([0.0, 0.0]), None);
    assert!(!has(&case("hel-3pt"), &free(), "two-points-unchecked"));
}

#[test]
fn the_deliberately_wrong_point_is_named_and_no_other() {
    let data = data();
    let row = data["cases"].as_array().unwrap();
    let row = row.iter().find(|c| c["id"] == "hel-4pt-outlier").unwrap();
    let points = points(row);
    let wrong = row["deliberate_error"]["index"].as_u64().unwrap() as usize;
    let suspect = suspect_point(&points, Scale::Free).unwrap();
    assert_eq!(suspect.index, wrong);
    // Second method: the point's given residual over one minus its leverage, 1/n + r^2 / sum of r^2.
    let residual = pair(&row["expected"]["residuals_transformed_minus_given_m"][wrong]);
    let mean = |axis: usize| points.iter().map(|p| p.local_m[axis]).sum::<f64>() / 4.0;
    let squared = |p: &CommonPoint| (p.local_m[0] - mean(0)).powi(2) + (p.local_m[1] - mean(1)).powi(2);
    let leverage = 0.25 + squared(&points[wrong]) / points.iter().map(squared).sum::<f64>();
    let expected = residual[0].hypot(residual[1]) / (1.0 - leverage);
    close("misfit", suspect.misfit_m, expected, 1e-6);
    for left_out in row["leave_one_out"].as_array().unwrap() {
        let mut others = points.clone();
        others.remove(left_out["left_out_index"].as_u64().unwrap() as usize);
        let (tie, _) = tie_grid(&others, &free()).unwrap();
        close("s0", tie.sigma0_m.unwrap(), number(left_out, "s0_m"), 1e-8);
    }
    for options in [free(), held(1.0)] {
        let named: Vec<_> = codes(&points, &options)
            .into_iter()
            .filter(|(code, _)| code == "point-suspect")
            .collect();
        assert_eq!(named, [("point-suspect".to_owned(), format!("P{wrong}"))]);
    }
    // Points that only have their ordinary errors are left alone.
    for id in ["hel-3pt", "hel-5pt"] {
        assert!(!has(&case(id), &free(), "point-suspect"), "{id}");
        assert!(!has(&case(id), &held(1.0), "point-suspect"), "{id}");
    }
}

#[test]
fn swapped_columns_are_found_by_the_mirrored_fit() {
    // A common field failure: swapped columns make a mirror image.
    for id in ["hel-3pt", "hel-5pt", "hel-4pt-outlier"] {
        let mut points = case(id);
        assert!(!has(&points, &free(), "columns-swapped"), "{id}");
        for point in &mut points {
            point.local_m.swap(0, 1);
        }
        assert!(has(&points, &free(), "columns-swapped"), "{id}");
        assert!(has(&points, &held(1.0), "columns-swapped"), "{id}");
    }
}

fn scaled(points: &[CommonPoint], factor: f64) -> Vec<CommonPoint> {
    let scale = |p: &CommonPoint| CommonPoint {
        local_m: [p.local_m[0] * factor, p.local_m[1] * factor],
        ..p.clone()
    };
    points.iter().map(scale).collect()
}

#[test]
fn feet_against_metres_are_found_in_both_directions_and_with_a_held_scale() {
    // A common field failure: feet for metres. Ratios by definition: 0.3048 and 1200/3937.
    let points = case("hel-5pt");
    for foot in [0.3048, 1200.0 / 3937.0] {
        for options in [free(), held(1.0)] {
            assert!(has(&scaled(&points, 1.0 / foot), &options, "feet-against-metres"));
            assert!(has(&scaled(&points, foot), &options, "feet-against-metres"));
        }
    }
    assert!(has(
        &scaled(&points, 1000.0),
        &free(),
        "millimetres-against-metres"
    ));
    assert!(!has(&points, &free(), "feet-against-metres"));
}

/// A tidy square of 100 m, turned by the 3-4-5 triangle, at a scale.
fn square(scale: f64) -> Vec<CommonPoint> {
    let corners = [[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]];
    let grid = |[x, y]: [f64; 2]| {
        [
            7000.0 + scale * (0.8 * x - 0.6 * y),
            9000.0 + scale * (0.6 * x + 0.8 * y),
        ]
    };
    let point = |(i, local_m)| CommonPoint {
        name: format!("S{i}"),
        local_m,
        grid_m: grid(local_m),
    };
    corners.into_iter().enumerate().map(point).collect()
}

#[test]
fn a_missed_grid_factor_stops_a_person() {
    // A common field failure: 0.9996 left out makes 54 mm in 135 m.
    let points = square(0.9996);
    assert!(has(&points, &free(), "scale-off"));
    assert!(has(&points, &held(1.0), "scale-off"));
    let knows = TieOptions {
        expected_scale: 0.9996,
        ..free()
    };
    assert_eq!(codes(&points, &knows), []);
    assert!(has(&square(1.0), &knows, "scale-off"));
    assert_eq!(codes(&square(1.0), &free()), []);
    assert_eq!(codes(&square(1.000_04), &free()), []);
    assert!(has(&case("hel-5pt"), &free(), "scale-not-proved"));
}

#[test]
fn the_tie_adds_least_at_the_middle_of_its_points() {
    let points = case("hel-5pt");
    let (tie, _) = tie_grid(&points, &free()).unwrap();
    let middle = tie.sigma_at_m(tie.similarity.local_origin_m).unwrap();
    close(
        "at the middle",
        middle,
        tie.sigma0_m.unwrap() / 5f64.sqrt(),
        1e-12,
    );
    assert!(tie.sigma_at_m([200.0, 0.0]).unwrap() > 3.0 * middle);
}

#[test]
fn ties_that_cannot_be_are_refused() {
    let points = case("hel-3pt");
    let one = tie_grid(&points[..1], &free()).unwrap_err();
    assert_eq!(one, TieError::TooFewPoints { count: 1 });
    let mut twice = points.clone();
    twice[2].name = "P0".to_owned();
    assert!(matches!(
        tie_grid(&twice, &free()),
        Err(TieError::NameTwice { .. })
    ));
    let mut one_place = points.clone();
    for point in &mut one_place {
        point.local_m = [3.0, 4.0];
    }
    assert!(matches!(
        tie_grid(&one_place, &free()),
        Err(TieError::OnePlace { .. })
    ));
    let mut broken = points.clone();
    broken[1].grid_m[0] = f64::NAN;
    assert!(matches!(
        tie_grid(&broken, &free()),
        Err(TieError::NotFinite { .. })
    ));
    assert_eq!(tie_grid(&points, &held(0.0)), Err(TieError::BadScale(0.0)));
}

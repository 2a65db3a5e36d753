//! Ellipses, ellipsoids and 95 % factors against `data/error-ellipses.json`.
//!
//! Oracle: eigenvalues by numpy and quantiles by scipy 1.17.1, as each row of the file says; the figures
//! 1.9600 and 2.4477 are the factors commonly printed (FGDC-STD-007.3, from memory).

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use coverbook_survey::uncertainty::{
    ErrorEllipse, FACTOR_95_1D, FACTOR_95_2D, FACTOR_95_3D, PlanCovariance, PointCovariance, radial95,
    u95_from_sigma,
};
use serde_json::Value;

fn data() -> Value {
    serde_json::from_str(include_str!("data/error-ellipses.json")).unwrap()
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap()
}

#[track_caller]
fn close(name: &str, got: f64, expected: f64, tolerance: f64) {
    let off = got - expected;
    assert!(off.abs() <= tolerance, "{name}: {got} against {expected}");
}

fn check_ellipse(id: &str, ellipse: ErrorEllipse, expected: &Value, m: f64, deg: f64) {
    let (major_95, minor_95) = ellipse.semi_axes_u95_m();
    let lengths = [
        ("semi_major_1sigma_m", ellipse.semi_major_sigma_m),
        ("semi_minor_1sigma_m", ellipse.semi_minor_sigma_m),
        ("semi_major_95_m", major_95),
        ("semi_minor_95_m", minor_95),
    ];
    for (key, got) in lengths {
        close(&format!("{id} {key}"), got, number(expected, key), m);
    }
    match expected["major_axis_azimuth_deg"].as_f64() {
        None => assert_eq!(ellipse.major_azimuth_rad, None, "{id}"),
        Some(azimuth) => {
            // An axis at 180 degrees is the one at 0 degrees.
            let off = ellipse.major_azimuth_rad.unwrap().to_degrees() - azimuth;
            let off = (off + 90.0).rem_euclid(180.0) - 90.0;
            close(&format!("{id} azimuth"), off, 0.0, deg);
        }
    }
}

fn plan(c: &Value) -> PlanCovariance {
    PlanCovariance::new(number(c, "ee"), number(c, "en"), number(c, "nn")).unwrap()
}

#[test]
fn the_factors_are_chi_square_quantiles() {
    let data = data();
    let factors = data["confidence_factors"]["values"].as_array().unwrap();
    let at_95 = |dimension: u64| {
        let row = factors
            .iter()
            .find(|f| f["dimension"] == dimension && f["confidence"] == 0.95);
        number(row.unwrap(), "factor")
    };
    close("1D", FACTOR_95_1D, at_95(1), 1e-10);
    close("2D", FACTOR_95_2D, at_95(2), 1e-10);
    close("3D", FACTOR_95_3D, at_95(3), 1e-10);
    // As printed in the trade.
    close("level", u95_from_sigma(1.0), 1.9600, 0.000_05);
    close("radial", radial95(1.0), 2.4477, 0.000_05);
}

#[test]
fn plan_ellipses_have_the_published_axes_and_directions() {
    let data = data();
    let cases = data["ellipse_2d"].as_array().unwrap();
    let polar = data["polar_point_ellipses"].as_array().unwrap();
    assert_eq!((cases.len(), polar.len()), (8, 8));
    for case in cases.iter().chain(polar) {
        let id = case["id"].as_str().unwrap();
        let covariance = plan(&case["covariance_m2"]);
        let (m, deg) = (number(&case["tolerance"], "m"), number(&case["tolerance"], "deg"));
        check_ellipse(id, covariance.ellipse(), &case["expected"], m, deg);
        let rms = number(&case["expected"], "drms_m");
        close(&format!("{id} rms"), covariance.distance_rms_m(), rms, m);
        let radial = number(&case["expected"], "semi_major_95_m");
        close(&format!("{id} radial"), covariance.radial_u95_m(), radial, m);
    }
}

#[test]
fn ellipsoids_have_the_published_axes_and_directions() {
    let data = data();
    let cases = data["ellipsoid_3d"].as_array().unwrap();
    assert_eq!(cases.len(), 3);
    for case in cases {
        let id = case["id"].as_str().unwrap();
        let c = &case["covariance_m2"];
        let covariance = PointCovariance {
            ee_m2: number(c, "ee"),
            en_m2: number(c, "en"),
            eh_m2: number(c, "eh"),
            nn_m2: number(c, "nn"),
            nh_m2: number(c, "nh"),
            hh_m2: number(c, "hh"),
        };
        let (m, deg) = (number(&case["tolerance"], "m"), number(&case["tolerance"], "deg"));
        let expected = &case["expected"];
        let axes = expected["axes_longest_first"].as_array().unwrap();
        for (axis, row) in covariance.ellipsoid().iter().zip(axes) {
            close(id, axis.semi_axis_sigma_m, number(row, "semi_axis_1sigma_m"), m);
            let u95 = FACTOR_95_3D * axis.semi_axis_sigma_m;
            close(id, u95, number(row, "semi_axis_95_m"), m);
            close(id, axis.azimuth_rad.to_degrees(), number(row, "azimuth_deg"), deg);
            close(
                id,
                axis.elevation_rad.to_degrees(),
                number(row, "elevation_deg"),
                deg,
            );
        }
        check_ellipse(
            id,
            covariance.plan().ellipse(),
            &expected["horizontal_95"],
            m,
            deg,
        );
        close(id, covariance.level_u95_m(), number(expected, "height_95_m"), m);
        assert_eq!(PointCovariance::from_matrix(&covariance.to_matrix()), covariance);
    }
}

/// A covariance with axes and direction of its own, by a fixed walk through the cases.
fn walk() -> impl Iterator<Item = PlanCovariance> {
    (1..200).map(|k| {
        let k = f64::from(k);
        let (major, minor) = (
            0.001 + 0.0004 * k,
            (0.001 + 0.0004 * k) * (0.05 + (k * 0.37).fract() * 0.9),
        );
        PlanCovariance::new(major * major, 0.0, minor * minor)
            .unwrap()
            .turned(k * 0.61, 1.0)
    })
}

/// Oracle: nalgebra's eigen-decomposition, which the closed form does not use.
#[test]
fn the_axes_are_the_eigenvectors_of_the_covariance() {
    for covariance in walk() {
        let PlanCovariance { ee_m2, en_m2, nn_m2 } = covariance;
        let eigen = nalgebra::SymmetricEigen::new(nalgebra::Matrix2::new(ee_m2, en_m2, en_m2, nn_m2));
        let long = usize::from(eigen.eigenvalues[1] > eigen.eigenvalues[0]);
        let ellipse = covariance.ellipse();
        let (major_95, minor_95) = ellipse.semi_axes_u95_m();
        // sqrt of the chi-square quantile at 95 % with two degrees of freedom: sqrt(-2 ln 0.05).
        let factor = (-2.0 * 0.05f64.ln()).sqrt();
        close("major", major_95, factor * eigen.eigenvalues[long].sqrt(), 1e-12);
        close(
            "minor",
            minor_95,
            factor * eigen.eigenvalues[1 - long].sqrt(),
            1e-12,
        );
        let axis = eigen.eigenvectors.column(long);
        let azimuth = ellipse.major_azimuth_rad.unwrap();
        let across = axis[0] * azimuth.cos() - axis[1] * azimuth.sin();
        close("direction", across, 0.0, 1e-9);
    }
}

/// Oracle: the handbook's rotation of a cofactor matrix (Ghilani, Adjustment Computations, chapter 19, from memory):
/// `tan 2t = 2 q_en / (q_nn - q_ee)` with t clockwise from north in the quadrant of both signs, and
/// `S_u^2 = ee sin^2 t + 2 en sin t cos t + nn cos^2 t`, `S_v^2 = ee cos^2 t - 2 en sin t cos t + nn sin^2 t`.
#[test]
fn the_axes_follow_the_handbook_rotation_and_no_direction_is_worse() {
    for PlanCovariance { ee_m2, en_m2, nn_m2 } in walk() {
        let double = (2.0 * en_m2).atan2(nn_m2 - ee_m2);
        let along = |t: f64| {
            let (s, c) = t.sin_cos();
            ee_m2 * s * s + 2.0 * en_m2 * s * c + nn_m2 * c * c
        };
        let t = double / 2.0;
        let ellipse = PlanCovariance { ee_m2, en_m2, nn_m2 }.ellipse();
        close("S_u", ellipse.semi_major_sigma_m, along(t).sqrt(), 1e-12);
        let square = along(t + std::f64::consts::FRAC_PI_2).max(0.0);
        close("S_v", ellipse.semi_minor_sigma_m, square.sqrt(), 1e-9);
        let off = (ellipse.major_azimuth_rad.unwrap() - t).sin();
        close("t", off, 0.0, 1e-9);
        let worst = (0..3600).map(|k| along(f64::from(k) * std::f64::consts::PI / 3600.0));
        let worst = worst.fold(0.0, f64::max).sqrt();
        assert!(worst <= ellipse.semi_major_sigma_m + 1e-12 && worst > 0.999 * ellipse.semi_major_sigma_m);
    }
}

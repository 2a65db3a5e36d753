//! Three-point resection from directions alone, and the circle on which it fails.
//!
//! Plan only. Directions are clockwise circle readings in radians; azimuth = orientation + direction.

use std::f64::consts::{PI, TAU};

/// A place in plan: easting, northing (m).
pub type Plan = [f64; 2];

/// A circle in plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    /// Its centre (easting, northing), in metres.
    pub centre_m: Plan,
    /// Its radius, in metres.
    pub radius_m: f64,
}

impl Circle {
    /// Returns how far a place lies from the circle: negative inside, positive outside, in metres.
    pub fn distance_from_m(&self, place: Plan) -> f64 {
        (place[0] - self.centre_m[0]).hypot(place[1] - self.centre_m[1]) - self.radius_m
    }
}

/// Returns the circle through three points, or `None` when they lie on one line.
///
/// From any place on it the angles between the three points are the same: the danger circle of a resection.
pub fn danger_circle(points: [Plan; 3]) -> Option<Circle> {
    let [a, b, c] = points;
    let (p, q) = ([b[0] - a[0], b[1] - a[1]], [c[0] - a[0], c[1] - a[1]]);
    let twice_area = p[0] * q[1] - p[1] * q[0];
    let (pp, qq) = (p[0] * p[0] + p[1] * p[1], q[0] * q[0] + q[1] * q[1]);
    if twice_area.abs() <= 1e-9 * (pp * qq).sqrt() {
        return None;
    }
    let e = (pp * q[1] - qq * p[1]) / (2.0 * twice_area);
    let n = (qq * p[0] - pp * q[0]) / (2.0 * twice_area);
    Some(Circle {
        centre_m: [a[0] + e, a[1] + n],
        radius_m: e.hypot(n),
    })
}

/// Why three directions give no place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ResectionError {
    /// Station and points lie on one circle: every place on that arc fits.
    #[error(
        "the station and the three points lie on one circle, so every place on it fits; measure distances or another point"
    )]
    DangerCircle,
    /// Station and points lie on one line.
    #[error(
        "the station and the three points lie on one line, so the distance along it is open; measure distances or another point"
    )]
    OneLine,
}

/// A place and the turn of the circle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resection {
    /// Easting, northing (m).
    pub place: Plan,
    /// Orientation (radians, 0 to 2 pi).
    pub orientation_rad: f64,
}

/// Finds the place from which three points are seen under the given directions.
///
/// Each pair of points puts the station on a circle through both; with the middle point as origin two such circles
/// are `s|P|^2 + l.P = 0`, and their other meeting point follows without a guess. Points on one line are allowed.
/// # Errors
/// [`ResectionError`] where the circles fall together or vanish.
pub fn resect_three_points(points: [Plan; 3], directions_rad: [f64; 3]) -> Result<Resection, ResectionError> {
    let [a, b, c] = points;
    let (sin1, cos1) = (directions_rad[1] - directions_rad[0]).sin_cos();
    let (sin2, cos2) = (directions_rad[2] - directions_rad[1]).sin_cos();
    let a = [a[0] - b[0], a[1] - b[1]];
    let c = [c[0] - b[0], c[1] - b[1]];
    let line1 = [-sin1 * a[0] + cos1 * a[1], -sin1 * a[1] - cos1 * a[0]];
    let line2 = [-sin2 * c[0] - cos2 * c[1], -sin2 * c[1] + cos2 * c[0]];
    let radical = [
        sin2 * line1[0] - sin1 * line2[0],
        sin2 * line1[1] - sin1 * line2[1],
    ];
    if sin1.abs().max(sin2.abs()) < 1e-7 {
        return Err(ResectionError::OneLine);
    }
    let size = radical[0].hypot(radical[1]);
    let scale = (sin2 * a[0].hypot(a[1])).hypot(sin1 * c[0].hypot(c[1]));
    if size <= 1e-6 * scale {
        return Err(ResectionError::DangerCircle);
    }
    let along = [-radical[1] / size, radical[0] / size];
    let (line, sine) = if sin1.abs() >= sin2.abs() {
        (line1, sin1)
    } else {
        (line2, sin2)
    };
    let t = -(line[0] * along[0] + line[1] * along[1]) / sine;
    let place = [b[0] + t * along[0], b[1] + t * along[1]];
    // Every direction should name the same orientation; the mean is taken on the circle.
    let (mut sum_sin, mut sum_cos) = (0.0, 0.0);
    for (point, direction) in points.iter().zip(directions_rad) {
        let azimuth = (point[0] - place[0]).atan2(point[1] - place[1]);
        let (s, c) = (azimuth - direction).sin_cos();
        sum_sin += s;
        sum_cos += c;
    }
    Ok(Resection {
        place,
        orientation_rad: sum_sin.atan2(sum_cos).rem_euclid(TAU),
    })
}

/// Returns Tienstra's weights of the three points: the station is their weighted mean.
///
/// `1 / (cot A - cot alpha)`, A the clockwise inner angle at A from B to C, alpha the clockwise angle from B to C at
/// the station. Fails for points on one line; a hand check, not the way the program resects.
pub fn tienstra_weights(points: [Plan; 3], directions_rad: [f64; 3]) -> [f64; 3] {
    let azimuth = |from: Plan, to: Plan| (to[0] - from[0]).atan2(to[1] - from[1]);
    let cot = |angle: f64| angle.cos() / angle.sin();
    [0, 1, 2].map(|i| {
        let (j, k) = ((i + 1) % 3, (i + 2) % 3);
        let inner = azimuth(points[i], points[k]) - azimuth(points[i], points[j]);
        let seen = directions_rad[k] - directions_rad[j];
        1.0 / (cot(inner) - cot(seen))
    })
}

/// Returns the angle turned into -pi to pi.
pub(crate) fn half_turn(angle_rad: f64) -> f64 {
    if (-PI..=PI).contains(&angle_rad) {
        return angle_rad;
    }
    (angle_rad + PI).rem_euclid(TAU) - PI
}

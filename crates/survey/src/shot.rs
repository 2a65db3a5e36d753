//! Polar shots from a known station to positions with their full covariance.
//!
//! Axes east, north, level; azimuth = orientation + direction, clockwise from grid north.
//! Propagation of variances in closed form ([`crate::sources::GHILANI`], from memory), checked against
//! independent figures and a simulation in `tests/polar_point.rs`.

use nalgebra::{Matrix3, Matrix3x4, Vector3};

use crate::finding::Finding;
use crate::observation::ObservationError;
use crate::reduction::{corrected_slope, reduce_slope};
use crate::sight::{Conditions, InstrumentSpec, Sight, TargetSpec, check_sight, mean_faces};
use crate::station::StationFix;
use crate::uncertainty::PointCovariance;

/// One shot, faces already meant and the distance corrected for prism and air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shot {
    /// Horizontal circle reading, in radians.
    pub direction_rad: f64,
    /// Zenith angle, in radians (below pi).
    pub zenith_rad: f64,
    /// Slope distance, in metres.
    pub slope_m: f64,
    /// Height of the target above the point touched, in metres.
    pub target_height_m: f64,
    /// Whether both faces were read.
    pub both_faces: bool,
}

/// Everything that the shots of one set-up share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShotSetUp {
    /// The station.
    pub fix: StationFix,
    /// Instrument height, curvature, grid scale.
    pub conditions: Conditions,
    /// What the maker states.
    pub instrument: InstrumentSpec,
    /// How well the target stands.
    pub target: TargetSpec,
    /// Standard deviation of the instrument height, in metres.
    ///
    /// 0 for a free station: there the height was the same for control and shots and cancels.
    pub sigma_instrument_height_m: f64,
}

/// A measured position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShotPosition {
    /// Easting, in metres.
    pub easting_m: f64,
    /// Northing, in metres.
    pub northing_m: f64,
    /// Level, in metres; `None` when the station has none.
    pub level_m: Option<f64>,
    /// Full covariance: station, orientation, instrument, target. The level's part is zero without a level.
    pub covariance: PointCovariance,
    /// The part that is this shot's own, without the station's: what two shots of one set-up do not share.
    pub own_covariance: PointCovariance,
}

/// Why a shot gives no position.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ShotError {
    /// A figure that a polar shot needs was not read.
    #[error("{target}: no {what} was read; a shot needs direction, zenith angle and slope distance")]
    Missing {
        /// The target.
        target: String,
        /// Which figure.
        what: &'static str,
    },
    /// The sights cannot be meant.
    #[error(transparent)]
    Sight(#[from] ObservationError),
    /// Sights of one shot with different target heights or prisms.
    #[error("{target}: the sights of one shot differ in target height or prism; book them apart")]
    Mixed {
        /// The target.
        target: String,
    },
    /// The station has no orientation.
    #[error(
        "the station was solved without directions and cannot turn a shot into a position; read a direction to control"
    )]
    NoOrientation,
    /// A figure is not finite or out of reason.
    #[error("a {what} of {value} cannot be; read it again and check its unit")]
    Reading {
        /// Which figure.
        what: &'static str,
        /// The value, in radians or metres.
        value: f64,
    },
}

/// Means the sights of one target into a shot: faces meant, the distance corrected for prism and air.
///
/// # Errors
/// [`ShotError`]: a figure missing or out of reason, or sights that do not belong together.
pub fn shot_from_sights(sights: &[&Sight], conditions: &Conditions) -> Result<Shot, ShotError> {
    let first = sights.first().copied();
    let target = first.map_or(String::new(), |s| s.target.clone());
    let missing = |what| ShotError::Missing {
        target: target.clone(),
        what,
    };
    let first = first.ok_or_else(|| missing("sight"))?;
    let alike = |s: &&Sight| {
        s.target_height_m == first.target_height_m && s.prism_constant_m == first.prism_constant_m
    };
    if !sights.iter().all(alike) {
        return Err(ShotError::Mixed { target });
    }
    for sight in sights {
        check_sight(sight)?;
    }
    let mean = mean_faces(sights)?;
    let slope = mean.slope_m.ok_or_else(|| missing("slope distance"))?;
    Ok(Shot {
        direction_rad: mean.direction_rad.ok_or_else(|| missing("direction"))?,
        zenith_rad: mean.zenith_rad.ok_or_else(|| missing("zenith angle"))?,
        slope_m: corrected_slope(slope, conditions.air_ppm, first.prism_constant_m),
        target_height_m: first.target_height_m,
        both_faces: mean.both_faces,
    })
}

fn check_shot_figures(shot: &Shot) -> Result<(), ShotError> {
    let refuse = |what, value| Err(ShotError::Reading { what, value });
    if !shot.direction_rad.is_finite() {
        return refuse("direction", shot.direction_rad);
    }
    if !(shot.zenith_rad > 0.0 && shot.zenith_rad < std::f64::consts::PI) {
        return refuse("zenith angle", shot.zenith_rad);
    }
    if !(shot.slope_m > 0.0 && shot.slope_m.is_finite()) {
        return refuse("slope distance", shot.slope_m);
    }
    if !shot.target_height_m.is_finite() {
        return refuse("target height", shot.target_height_m);
    }
    Ok(())
}

/// Reduces one shot.
///
/// # Errors
/// [`ShotError`]: no orientation, or a figure that no instrument reads.
pub fn reduce_shot(set_up: &ShotSetUp, shot: &Shot) -> Result<ShotPosition, ShotError> {
    check_shot_figures(shot)?;
    let orientation = set_up.fix.orientation_rad.ok_or(ShotError::NoOrientation)?;
    let scale = set_up.conditions.grid_scale;
    let sight = reduce_slope(shot.slope_m, shot.zenith_rad, set_up.conditions.curvature);
    let (sin_a, cos_a) = (orientation + shot.direction_rad).sin_cos();
    let (sin_z, cos_z) = shot.zenith_rad.sin_cos();
    let far = sight.horizontal_distance_m * scale;
    let (de, dn) = (far * sin_a, far * cos_a);

    // How the position moves with the station's four figures, then with the shot's own three.
    let by_station = Matrix3x4::new(
        1.0, 0.0, 0.0, dn, //
        0.0, 1.0, 0.0, -de, //
        0.0, 0.0, 1.0, 0.0,
    );
    let spec = &set_up.instrument;
    let factor = spec.face_factor(shot.both_faces);
    let sigma_s = spec.sigma_distance_m(shot.slope_m);
    let sigma_d = spec.sigma_direction_rad * factor;
    let sigma_z = spec.sigma_zenith_rad * factor;
    let s = shot.slope_m;
    let along = Vector3::new(sin_z * sin_a * scale, sin_z * cos_a * scale, cos_z) * sigma_s;
    let across = Vector3::new(dn, -de, 0.0) * sigma_d;
    let up = Vector3::new(cos_z * sin_a * scale, cos_z * cos_a * scale, -sin_z) * (s * sigma_z);
    let mut own = along * along.transpose() + across * across.transpose() + up * up.transpose();
    let plan = set_up.target.plan_variance_m2(shot.target_height_m);
    own[(0, 0)] += plan;
    own[(1, 1)] += plan;
    own[(2, 2)] += set_up.target.sigma_height_m.powi(2);
    let mut shared = by_station * set_up.fix.covariance * by_station.transpose();
    shared[(2, 2)] += set_up.sigma_instrument_height_m.powi(2);

    let level_m = set_up
        .fix
        .level_m
        .map(|level| level + set_up.conditions.instrument_height_m + sight.rise_m - shot.target_height_m);
    if level_m.is_none() {
        without_level(&mut own);
        without_level(&mut shared);
    }
    Ok(ShotPosition {
        easting_m: set_up.fix.easting_m + de,
        northing_m: set_up.fix.northing_m + dn,
        level_m,
        covariance: PointCovariance::from_matrix(&(own + shared)),
        own_covariance: PointCovariance::from_matrix(&own),
    })
}

fn without_level(covariance: &mut Matrix3<f64>) {
    for i in 0..3 {
        covariance[(i, 2)] = 0.0;
        covariance[(2, i)] = 0.0;
    }
}

/// Reduces many shots; the first that cannot be reduced is named by its place.
///
/// # Errors
/// The place of the shot and its [`ShotError`].
pub fn reduce_shots(set_up: &ShotSetUp, shots: &[Shot]) -> Result<Vec<ShotPosition>, (usize, ShotError)> {
    shots
        .iter()
        .enumerate()
        .map(|(k, shot)| reduce_shot(set_up, shot).map_err(|e| (k, e)))
        .collect()
}

/// Limits beyond which a sight is warned of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SightLimits {
    /// Longest sight, in metres.
    pub range_m: f64,
    /// Steepest sight above or below the horizontal, in radians.
    pub steep_rad: f64,
}

impl Default for SightLimits {
    /// 135 m (the range that millimetre work is expected to hold, common practice) and 45 degrees.
    fn default() -> Self {
        Self {
            range_m: 135.0,
            steep_rad: std::f64::consts::FRAC_PI_4,
        }
    }
}

/// Returns what is doubtful about a sight's range and steepness.
pub fn sight_findings(place: &str, slope_m: f64, zenith_rad: f64, limits: &SightLimits) -> Vec<Finding> {
    let mut findings = Vec::new();
    if slope_m > limits.range_m {
        findings.push(Finding::new(
            "sight-too-long",
            place,
            format!(
                "a sight of {slope_m:.1} m is beyond {:.0} m, where air and pointing cost millimetres; set up nearer",
                limits.range_m
            ),
        ));
    }
    let steep = (std::f64::consts::FRAC_PI_2 - zenith_rad).abs();
    if steep > limits.steep_rad {
        findings.push(Finding::new(
            "sight-too-steep",
            place,
            format!(
                "a sight {:.0} degrees from the horizontal magnifies tilt and target-height errors; read both faces or set up farther away",
                steep.to_degrees()
            ),
        ));
    }
    findings
}

/// Two measurements of one point, compared and combined.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeat {
    /// Second less first: east, north, level, in metres (level 0 when either has none).
    pub difference_m: [f64; 3],
    /// Covariance of that difference.
    pub covariance: PointCovariance,
    /// Chi-square of the difference.
    pub statistic: f64,
    /// Its degrees of freedom: 2 or 3.
    pub dimensions: usize,
    /// Whether the difference lies inside its own 95 % region.
    pub agrees: bool,
    /// The weighted mean, when they agree.
    pub combined: Option<ShotPosition>,
}

/// Chi-square at 95 % with 2 and 3 degrees of freedom.
const CHI_95: [f64; 2] = [5.991_464_547_107_98, 7.814_727_903_251_18];

/// Compares two measurements of one point and combines them when they agree.
///
/// From one set-up they share the station's error, which then neither shows in the difference nor shrinks in the mean.
/// `None` when a covariance is zero, so that there is nothing to weigh by.
pub fn compare_shots(first: &ShotPosition, second: &ShotPosition, same_set_up: bool) -> Option<Repeat> {
    let levels = first.level_m.zip(second.level_m);
    let pick = |p: &ShotPosition| {
        let c = if same_set_up {
            p.own_covariance
        } else {
            p.covariance
        };
        let mut m = c.to_matrix();
        if levels.is_none() {
            // The level takes no part: a unit in its place keeps the inverse.
            without_level(&mut m);
            m[(2, 2)] = 1.0;
        }
        m
    };
    let (a, b) = (pick(first), pick(second));
    let sum = a + b;
    let d = Vector3::new(
        second.easting_m - first.easting_m,
        second.northing_m - first.northing_m,
        levels.map_or(0.0, |(l, m)| m - l),
    );
    let inverse = sum.cholesky()?.inverse();
    let statistic = d.dot(&(inverse * d));
    let dimensions = if levels.is_some() { 3 } else { 2 };
    let agrees = statistic <= CHI_95[dimensions - 2];
    let gain = a * inverse;
    let moved = gain * d;
    let mut own = a - gain * a;
    let mut difference = sum;
    if levels.is_none() {
        without_level(&mut own);
        without_level(&mut difference);
    }
    let own = PointCovariance::from_matrix(&((own + own.transpose()) * 0.5));
    let combined = agrees.then(|| {
        let covariance = if same_set_up {
            let shared = first.covariance.to_matrix() - first.own_covariance.to_matrix();
            own.plus(PointCovariance::from_matrix(&shared))
        } else {
            own
        };
        ShotPosition {
            easting_m: first.easting_m + moved[0],
            northing_m: first.northing_m + moved[1],
            level_m: levels.map(|(l, _)| l + moved[2]),
            covariance,
            own_covariance: own,
        }
    });
    Some(Repeat {
        difference_m: d.into(),
        covariance: PointCovariance::from_matrix(&difference),
        statistic,
        dimensions,
        agrees,
        combined,
    })
}

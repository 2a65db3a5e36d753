//! From sights as booked to observations: faces meant, distances corrected, standard deviations from the instrument.
//!
//! Raw readings stay as they were read; everything here can be done again from them.

use std::f64::consts::{FRAC_1_SQRT_2, PI, SQRT_2, TAU};

use crate::finding::Finding;
use crate::observation::{ControlPoint, MAX_ROUNDS, Observation, ObservationError, Quantity, SetUp};
use crate::reduction::{Curvature, corrected_slope};
use crate::resection::half_turn;

/// Which side of the telescope the vertical circle stood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Face {
    /// Zenith angles below 180 degrees.
    Left,
    /// Zenith angles above 180 degrees; directions differ by half a circle.
    Right,
}

impl Face {
    /// Returns the word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Face::Left => "left",
            Face::Right => "right",
        }
    }
}

/// One sight as booked.
#[derive(Debug, Clone, PartialEq)]
pub struct Sight {
    /// The target's name.
    pub target: String,
    /// The face, when it was booked; it must agree with a zenith angle, which tells it otherwise. With neither it is
    /// face left.
    pub face: Option<Face>,
    /// Horizontal circle reading, clockwise, in radians.
    pub direction_rad: Option<f64>,
    /// Vertical circle reading from the zenith, in radians (above pi on face right).
    pub zenith_rad: Option<f64>,
    /// Slope distance as displayed, in metres.
    pub slope_m: Option<f64>,
    /// Height of the target above the mark, in metres.
    pub target_height_m: f64,
    /// What is to be added to the displayed distance for the prism, in metres.
    pub prism_constant_m: f64,
    /// Round of directions, from 0; a new one whenever the circle was turned.
    pub round: usize,
}

/// How the two parts of a distance's standard deviation add up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EdmSum {
    /// `a + b D`: the safe reading of "a mm + b ppm".
    Linear,
    /// `sqrt(a^2 + (b D)^2)`.
    RootSumSquare,
}

/// What the instrument's maker states, one sigma.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InstrumentSpec {
    /// Constant part of the distance's standard deviation, in metres.
    pub edm_constant_m: f64,
    /// Part that grows with the distance, in ppm.
    pub edm_ppm: f64,
    /// How the two add up.
    pub edm_sum: EdmSum,
    /// Standard deviation of a direction read once on both faces, in radians.
    pub sigma_direction_rad: f64,
    /// Standard deviation of a zenith angle read once on both faces, in radians.
    pub sigma_zenith_rad: f64,
    /// What a reading on one face only is worse by: the square root of two where the maker's figure is that of a field
    /// test on both faces ([`crate::sources::ISO_17123_3`]).
    pub one_face_factor: f64,
}

impl InstrumentSpec {
    /// Returns the specification from millimetres, ppm and seconds as a data sheet prints them.
    pub fn from_data_sheet(mm: f64, ppm: f64, direction_arcsec: f64, zenith_arcsec: f64) -> Self {
        Self {
            edm_constant_m: mm / 1000.0,
            edm_ppm: ppm,
            edm_sum: EdmSum::Linear,
            sigma_direction_rad: (direction_arcsec / 3600.0).to_radians(),
            sigma_zenith_rad: (zenith_arcsec / 3600.0).to_radians(),
            one_face_factor: SQRT_2,
        }
    }
    /// Returns the standard deviation of a distance, in metres.
    pub fn sigma_distance_m(&self, distance_m: f64) -> f64 {
        let grown = self.edm_ppm * 1e-6 * distance_m;
        match self.edm_sum {
            EdmSum::Linear => self.edm_constant_m + grown,
            EdmSum::RootSumSquare => self.edm_constant_m.hypot(grown),
        }
    }
    /// Returns what angles are worse by when read on one face only.
    pub fn face_factor(&self, both_faces: bool) -> f64 {
        if both_faces { 1.0 } else { self.one_face_factor }
    }
}

/// How well the target stands over its mark, one sigma.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TargetSpec {
    /// Height of the target, in metres.
    pub sigma_height_m: f64,
    /// Centring over the mark, for each plan axis, in metres.
    pub sigma_centring_m: f64,
    /// Lean of the pole, in radians for each plan axis; its effect grows with the target height.
    pub sigma_tilt_rad: f64,
}

impl TargetSpec {
    /// Returns the variance of the target's plan position on each axis for a pole this high, in square metres.
    pub fn plan_variance_m2(&self, target_height_m: f64) -> f64 {
        self.sigma_centring_m.powi(2) + (self.sigma_tilt_rad * target_height_m).powi(2)
    }
}

/// The conditions of a set-up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// Height of the instrument's axis above the station mark, in metres.
    pub instrument_height_m: f64,
    /// How the earth and the sights bend.
    pub curvature: Curvature,
    /// Grid distance = ground distance times this.
    pub grid_scale: f64,
    /// The air's correction, in ppm, unless the instrument applied it itself (then 0).
    pub air_ppm: f64,
}

impl Default for Conditions {
    fn default() -> Self {
        Self {
            instrument_height_m: 0.0,
            curvature: Curvature::standard(),
            grid_scale: 1.0,
            air_ppm: 0.0,
        }
    }
}

/// The mean of one or two faces, turned to face left.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FaceMean {
    /// Direction, in radians.
    pub direction_rad: Option<f64>,
    /// Zenith angle, in radians.
    pub zenith_rad: Option<f64>,
    /// Slope distance as displayed, in metres.
    pub slope_m: Option<f64>,
    /// Whether both faces were read, for every angle there is.
    pub both_faces: bool,
    /// How many directions on the poorer face, or on the only one.
    pub direction_repeats: usize,
    /// How many zenith angles on the poorer face, or on the only one.
    pub zenith_repeats: usize,
    /// Half the difference left minus right of the directions, in radians.
    pub collimation_rad: Option<f64>,
    /// Half of what the two zenith angles miss a full circle by, in radians.
    pub index_rad: Option<f64>,
    /// Largest less smallest distance, in metres.
    pub slope_spread_m: f64,
}

/// Returns which face a sight was on: what the zenith angle says, then what was booked, then left.
pub fn face_of(sight: &Sight) -> Face {
    match sight.zenith_rad {
        Some(z) if z > PI => Face::Right,
        Some(_) => Face::Left,
        None => sight.face.unwrap_or(Face::Left),
    }
}

/// Two angles to one place are never this far apart, in radians across the line of sight: a degree, far beyond any
/// collimation or index error that an instrument can be worked with.
const ANGLES_APART_RAD: f64 = PI / 180.0;
/// Two distances to one place are never this far apart, in metres.
const SLOPES_APART_M: f64 = 0.1;

/// Means the sights of one target, both faces turned to face left.
///
/// Each face is meant alone and then the two: collimation and index errors cancel.
/// # Errors
/// [`ObservationError::ZenithRange`] for a zenith angle that no circle shows, [`ObservationError::FaceAgainstZenith`]
/// where the booked face is not the one that the zenith angle tells, [`ObservationError::RepeatsApart`] for readings
/// that cannot be of one place: their mean would lie where nothing was sighted.
pub fn mean_faces(sights: &[&Sight]) -> Result<FaceMean, ObservationError> {
    let mut mean = FaceMean::default();
    let mut directions = [(0.0, 0usize); 2];
    let mut zeniths = [(0.0, 0usize); 2];
    let mut first = None;
    let (mut slope, mut slopes, mut least, mut most) = (0.0, 0usize, f64::INFINITY, 0.0f64);
    for sight in sights {
        if let Some(z) = sight.zenith_rad
            && !(z > 0.0 && z < TAU)
        {
            return Err(ObservationError::ZenithRange {
                target: sight.target.clone(),
                zenith_deg: z.to_degrees(),
            });
        }
        if let (Some(booked), Some(z)) = (sight.face, sight.zenith_rad)
            && booked != face_of(sight)
        {
            return Err(ObservationError::FaceAgainstZenith {
                target: sight.target.clone(),
                booked: booked.word(),
                zenith_deg: z.to_degrees(),
            });
        }
        let right = face_of(sight) == Face::Right;
        let side = usize::from(right);
        if let Some(direction) = sight.direction_rad {
            let turned = if right { direction - PI } else { direction };
            // Meant as small differences from the first, so that readings about zero do not cancel.
            let reference = *first.get_or_insert(turned);
            directions[side].0 += half_turn(turned - reference);
            directions[side].1 += 1;
        }
        if let Some(zenith) = sight.zenith_rad {
            zeniths[side].0 += if right { TAU - zenith } else { zenith };
            zeniths[side].1 += 1;
        }
        if let Some(s) = sight.slope_m {
            slope += s;
            slopes += 1;
            least = least.min(s);
            most = most.max(s);
        }
    }
    check_repeats(sights)?;
    let side_mean = |sides: [(f64, usize); 2]| -> (Option<f64>, Option<f64>) {
        let [left, right] = sides.map(|(sum, n)| (n > 0).then(|| sum / n as f64));
        match (left, right) {
            (Some(l), Some(r)) => (Some(0.5 * (l + r)), Some(0.5 * (l - r))),
            (one, other) => (one.or(other), None),
        }
    };
    let (direction, collimation) = side_mean(directions);
    let (zenith, index) = side_mean(zeniths);
    mean.direction_rad = direction.zip(first).map(|(d, f)| (f + d).rem_euclid(TAU));
    mean.collimation_rad = collimation;
    mean.zenith_rad = zenith;
    mean.index_rad = index;
    mean.slope_m = (slopes > 0).then(|| slope / slopes as f64);
    mean.slope_spread_m = if slopes > 1 { most - least } else { 0.0 };
    mean.both_faces = (direction.is_some() || zenith.is_some())
        && direction.is_some() == collimation.is_some()
        && zenith.is_some() == index.is_some();
    let repeats = |sides: [(f64, usize); 2]| match sides.map(|s| s.1) {
        [0, n] | [n, 0] => n,
        [l, r] => l.min(r),
    };
    mean.direction_repeats = repeats(directions);
    mean.zenith_repeats = repeats(zeniths);
    Ok(mean)
}

/// Refuses repeats that cannot be of one place, each held against the first reading of its kind, turned to face left.
fn check_repeats(sights: &[&Sight]) -> Result<(), ObservationError> {
    let apart = |target: &str, what, apart: String| {
        Err(ObservationError::RepeatsApart {
            target: target.to_owned(),
            what,
            apart,
        })
    };
    let (mut direction, mut zenith, mut slope) = (None, None, None);
    for sight in sights {
        let right = face_of(sight) == Face::Right;
        if let Some(z) = sight.zenith_rad {
            let turned = if right { TAU - z } else { z };
            let off = (turned - *zenith.get_or_insert(turned)).abs();
            if off > ANGLES_APART_RAD {
                return apart(
                    &sight.target,
                    "zenith angle",
                    format!("{:.1} degrees", off.to_degrees()),
                );
            }
        }
        if let Some(d) = sight.direction_rad {
            let turned = if right { d - PI } else { d };
            let off = half_turn(turned - *direction.get_or_insert(turned)).abs();
            // Near the zenith a small step to the side is a large turn.
            if off * sight.zenith_rad.map_or(1.0, |z| z.sin().abs()) > ANGLES_APART_RAD {
                return apart(
                    &sight.target,
                    "direction",
                    format!("{:.1} degrees", off.to_degrees()),
                );
            }
        }
        if let Some(s) = sight.slope_m {
            let off = (s - *slope.get_or_insert(s)).abs();
            if off > SLOPES_APART_M {
                return apart(&sight.target, "slope distance", format!("{off:.2} m"));
            }
        }
    }
    Ok(())
}

/// Makes a set-up from control and sights as booked.
///
/// Sights of one target with the same round, target height and prism are meant. Repeats sharpen angles; a distance
/// keeps the instrument's figure, because its constant part does not average out. Target height and centring widen the
/// control point's own covariance. To a point without level, slope and zenith become a horizontal distance.
/// # Errors
/// [`ObservationError`]: unknown names, impossible figures.
pub fn set_up_from_sights(
    control: &[ControlPoint],
    sights: &[Sight],
    instrument: &InstrumentSpec,
    target: &TargetSpec,
    conditions: &Conditions,
) -> Result<(SetUp, Vec<Finding>), ObservationError> {
    for (k, point) in control.iter().enumerate() {
        if control[..k].iter().any(|p| p.id == point.id) {
            return Err(ObservationError::DuplicateControl { id: point.id.clone() });
        }
    }
    let mut groups: Vec<(usize, Vec<&Sight>)> = Vec::new();
    for sight in sights {
        check_sight(sight)?;
        let to = control.iter().position(|p| p.id == sight.target).ok_or_else(|| {
            ObservationError::UnknownTarget {
                target: sight.target.clone(),
            }
        })?;
        let alike = |s: &Sight| {
            s.round == sight.round
                && s.target_height_m == sight.target_height_m
                && s.prism_constant_m == sight.prism_constant_m
        };
        match groups.iter_mut().find(|(t, g)| *t == to && alike(g[0])) {
            Some((_, group)) => group.push(sight),
            None => groups.push((to, vec![sight])),
        }
    }
    let mut findings = Vec::new();
    let mut observations = Vec::new();
    let mut control = control.to_vec();
    let mut widened = vec![false; control.len()];
    for (to, group) in &groups {
        let mean = mean_faces(group)?;
        findings.extend(repeat_findings(group, &mean, instrument));
        let point = &mut control[*to];
        if !widened[*to] {
            widened[*to] = true;
            let height = sights
                .iter()
                .filter(|s| s.target == point.id)
                .fold(0.0, |h: f64, s| h.max(s.target_height_m));
            let plan = target.plan_variance_m2(height);
            point.covariance.ee_m2 += plan;
            point.covariance.nn_m2 += plan;
            point.covariance.hh_m2 += target.sigma_height_m.powi(2);
        }
        observe(
            *to,
            point,
            group[0],
            &mean,
            instrument,
            conditions,
            &mut observations,
        )?;
    }
    let set_up = SetUp {
        control,
        observations,
        instrument_height_m: conditions.instrument_height_m,
        curvature: conditions.curvature,
        grid_scale: conditions.grid_scale,
    };
    set_up.check()?;
    Ok((set_up, findings))
}

pub(crate) fn check_sight(sight: &Sight) -> Result<(), ObservationError> {
    let figures = [
        (sight.direction_rad, "direction"),
        (sight.zenith_rad, "zenith angle"),
        (sight.slope_m, "slope distance"),
        (Some(sight.target_height_m), "target height"),
        (Some(sight.prism_constant_m), "prism constant"),
    ];
    for (value, what) in figures {
        if value.is_some_and(|v| !v.is_finite()) {
            return Err(ObservationError::NotFinite {
                place: sight.target.clone(),
                what,
            });
        }
    }
    // A prism constant is centimetres at most; metres here mean that millimetres were taken for metres.
    if sight.prism_constant_m.abs() > 0.5 {
        return Err(ObservationError::Length {
            place: sight.target.clone(),
            what: "prism constant",
            value_m: sight.prism_constant_m,
        });
    }
    if sight.round >= MAX_ROUNDS {
        return Err(ObservationError::Rounds {
            rounds: sight.round + 1,
            limit: MAX_ROUNDS,
        });
    }
    Ok(())
}

fn observe(
    to: usize,
    point: &ControlPoint,
    sight: &Sight,
    mean: &FaceMean,
    instrument: &InstrumentSpec,
    conditions: &Conditions,
    observations: &mut Vec<Observation>,
) -> Result<(), ObservationError> {
    let mut add = |quantity, value, sigma| {
        observations.push(Observation {
            to,
            quantity,
            value,
            sigma,
            target_height_m: sight.target_height_m,
            round: sight.round,
        });
    };
    let factor = |both: bool, repeats: usize| instrument.face_factor(both) / (repeats.max(1) as f64).sqrt();
    let sigma_direction =
        instrument.sigma_direction_rad * factor(mean.collimation_rad.is_some(), mean.direction_repeats);
    let sigma_zenith = instrument.sigma_zenith_rad * factor(mean.index_rad.is_some(), mean.zenith_repeats);
    if let Some(direction) = mean.direction_rad {
        add(Quantity::Direction, direction, sigma_direction);
    }
    let slope = mean
        .slope_m
        .map(|s| corrected_slope(s, conditions.air_ppm, sight.prism_constant_m));
    let sigma_slope = slope.map_or(0.0, |s| instrument.sigma_distance_m(s));
    match (mean.zenith_rad, slope, point.level_m) {
        (Some(zenith), Some(slope), None) => {
            let level = crate::reduction::reduce_slope(slope, zenith, conditions.curvature);
            let (sin_z, cos_z) = zenith.sin_cos();
            let sigma = (sin_z * sigma_slope).hypot(slope * cos_z * sigma_zenith);
            add(Quantity::HorizontalDistance, level.horizontal_distance_m, sigma);
        }
        (None, Some(_), None) => {
            return Err(ObservationError::SlopeWithoutZenith {
                target: sight.target.clone(),
            });
        }
        // A zenith angle alone to a point without level says nothing.
        (Some(_), None, None) | (None, None, _) => {}
        (zenith, slope, Some(_)) => {
            if let Some(zenith) = zenith {
                add(Quantity::Zenith, zenith, sigma_zenith);
            }
            if let Some(slope) = slope {
                add(Quantity::SlopeDistance, slope, sigma_slope);
            }
        }
    }
    Ok(())
}

/// Beyond this many sigmas two readings of one thing are called different.
const REPEAT_SIGMAS: f64 = 4.0;

/// Returns what is doubtful about the repeats of one target: faces and distances that disagree.
pub fn repeat_findings(group: &[&Sight], mean: &FaceMean, instrument: &InstrumentSpec) -> Vec<Finding> {
    let mut findings = Vec::new();
    let Some(target) = group.first().map(|s| &s.target) else {
        return findings;
    };
    // Half a difference of two one-face readings has the sigma of their mean.
    let seconds = |radians: f64| radians.to_degrees() * 3600.0;
    let limit = 30.0f64.max(REPEAT_SIGMAS * seconds(instrument.sigma_direction_rad));
    for (error, word, code) in [
        (mean.collimation_rad, "directions", "faces-disagree-direction"),
        (mean.index_rad, "zenith angles", "faces-disagree-zenith"),
    ] {
        if let Some(error) = error.map(seconds)
            && error.abs() > limit
        {
            findings.push(Finding::new(
                code,
                target.clone(),
                format!(
                    "the two faces' {word} differ by {:.0} seconds; read again, or have the instrument adjusted if every target shows it",
                    2.0 * error.abs()
                ),
            ));
        }
    }
    let slope = mean.slope_m.unwrap_or(0.0);
    let spread = REPEAT_SIGMAS * instrument.sigma_distance_m(slope) / FRAC_1_SQRT_2;
    if mean.slope_spread_m > spread {
        findings.push(Finding::new(
            "distances-disagree",
            target.clone(),
            format!(
                "repeated distances differ by {:.1} mm; measure again",
                mean.slope_spread_m * 1000.0
            ),
        ));
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sight(direction_deg: f64, zenith_deg: f64, slope_m: f64) -> Sight {
        Sight {
            target: "C1".into(),
            face: None,
            direction_rad: Some(direction_deg.to_radians()),
            zenith_rad: Some(zenith_deg.to_radians()),
            slope_m: Some(slope_m),
            target_height_m: 1.5,
            prism_constant_m: 0.0,
            round: 0,
        }
    }

    #[test]
    fn collimation_and_index_errors_cancel_in_the_mean_of_two_faces() {
        // True direction 0.0010, zenith 88.0; collimation 0.004, index 0.002 degrees: worked by hand.
        let left = sight(0.005, 88.002, 50.001);
        let right = sight(179.997, 272.002, 49.999);
        let mean = mean_faces(&[&left, &right]).unwrap();
        assert!((mean.direction_rad.unwrap().to_degrees() - 0.001).abs() < 1e-10);
        assert!((mean.zenith_rad.unwrap().to_degrees() - 88.0).abs() < 1e-10);
        assert!((mean.slope_m.unwrap() - 50.0).abs() < 1e-12);
        assert!((mean.collimation_rad.unwrap().to_degrees() - 0.004).abs() < 1e-10);
        assert!((mean.index_rad.unwrap().to_degrees() - 0.002).abs() < 1e-10);
        assert!(mean.both_faces);
    }

    #[test]
    fn readings_about_zero_do_not_mean_to_half_a_circle() {
        let (a, b) = (sight(359.999, 90.0, 10.0), sight(0.001, 90.0, 10.0));
        let mean = mean_faces(&[&a, &b]).unwrap().direction_rad.unwrap();
        assert!(half_turn(mean).abs() < 1e-12, "{mean}");
    }

    #[test]
    fn a_prism_constant_in_millimetres_is_refused() {
        let control = [ControlPoint::exact("C1", 0.0, 0.0, Some(0.0))];
        let wrong = Sight {
            prism_constant_m: -30.0,
            ..sight(1.0, 90.0, 10.0)
        };
        let spec = InstrumentSpec::from_data_sheet(1.0, 1.5, 1.0, 1.0);
        let error = set_up_from_sights(
            &control,
            &[wrong],
            &spec,
            &TargetSpec::default(),
            &Conditions::default(),
        )
        .unwrap_err();
        assert!(error.to_string().contains("prism constant of -30 m"), "{error}");
    }

    #[test]
    fn one_face_is_worse_than_two_and_the_prism_constant_is_added() {
        let control = [ControlPoint::exact("C1", 0.0, 0.0, Some(0.0))];
        let spec = InstrumentSpec::from_data_sheet(1.0, 1.5, 2.0, 2.0);
        let conditions = Conditions::default();
        let left = Sight {
            prism_constant_m: 0.0175,
            ..sight(10.0, 88.0, 50.0)
        };
        let right = Sight {
            prism_constant_m: 0.0175,
            ..sight(190.0, 272.0, 50.0)
        };
        let sigma = |sights: &[Sight]| {
            let target = TargetSpec::default();
            let (set_up, _) = set_up_from_sights(&control, sights, &spec, &target, &conditions).unwrap();
            assert!((set_up.observations[2].value - 50.0175).abs() < 1e-12);
            set_up.observations[0].sigma
        };
        let (one, two) = (sigma(std::slice::from_ref(&left)), sigma(&[left.clone(), right]));
        assert!((one / two - SQRT_2).abs() < 1e-12);
    }
}

//! Do the stated 95 % regions hold the truth 95 times in a hundred?
//!
//! Oracle: the definition of a 95 % region, by seeded simulation: 2,000 set-ups with normal errors in every reading and
//! in the control itself; the share must be 95 % within 1.5 % (three standard deviations of the share itself).
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod support;

use coverbook_survey::PointCovariance;
use coverbook_survey::observation::SetUp;
use coverbook_survey::reduction::Curvature;
use coverbook_survey::shot::{Shot, ShotSetUp, compare_shots, reduce_shot};
use coverbook_survey::sight::{Conditions, EdmSum, InstrumentSpec, TargetSpec};
use coverbook_survey::station_report::station_report;
use nalgebra::{Vector2, Vector3};
use support::{DIRECTION_SIGMA, DISTANCE_SIGMA, Noise, Truth, ZENITH_SIGMA, disturb, errorless};

const TRIALS: usize = 2000;
/// Published 95 % factors, squared: 1, 2 and 3 dimensions.
const CHI_95: [f64; 3] = [3.841_458_8, 5.991_464_5, 7.814_727_9];

const TRUTH: Truth = Truth {
    station: [345_678.9, 5_812_345.6, 34.2],
    orientation_rad: 2.0,
    instrument_height_m: 1.612,
    curvature: Curvature::standard(),
    grid_scale: 0.99987,
};

#[track_caller]
fn holds_95(what: &str, held: usize) {
    let share = held as f64 / TRIALS as f64;
    assert!(
        (share - 0.95).abs() <= 0.015,
        "{what}: {held} of {TRIALS} held the truth"
    );
}

/// One set-up of four points, with errors in readings and control.
fn trial(noise: &mut Noise, control_sigma: (f64, f64)) -> SetUp {
    let offsets = [
        [-38.0, 45.0, 1.2],
        [52.0, 26.0, -1.0],
        [40.0, -44.0, 6.0],
        [-48.0, -37.0, 0.4],
    ];
    let mut set_up = errorless(&TRUTH, &offsets, 1.5);
    disturb(&mut set_up, noise);
    for point in &mut set_up.control {
        let (h, v) = control_sigma;
        point.easting_m += h * noise.normal();
        point.northing_m += h * noise.normal();
        point.level_m = point.level_m.map(|z| z + v * noise.normal());
        point.covariance = PointCovariance::from_sigmas(h, v).unwrap();
    }
    set_up
}

fn covered(control_sigma: (f64, f64), seed: u64) {
    let mut noise = Noise::seeded(seed);
    let (mut plan, mut level, mut space, mut turn, mut global) = (0, 0, 0, 0, 0);
    for _ in 0..TRIALS {
        let report = station_report(&trial(&mut noise, control_sigma)).unwrap();
        let fix = report.solution.fix;
        let d = Vector3::new(
            fix.easting_m - TRUTH.station[0],
            fix.northing_m - TRUTH.station[1],
            fix.level_m.unwrap() - TRUTH.station[2],
        );
        let c = fix.position_covariance();
        let c3 = c.to_matrix();
        let c2 = c3.fixed_view::<2, 2>(0, 0).into_owned();
        let d2 = Vector2::new(d[0], d[1]);
        plan += usize::from(d2.dot(&(c2.try_inverse().unwrap() * d2)) <= CHI_95[1]);
        space += usize::from(d.dot(&(c3.try_inverse().unwrap() * d)) <= CHI_95[2]);
        level += usize::from(d[2].abs() <= report.level_u95_m().unwrap());
        let off = fix.orientation_rad.unwrap() - TRUTH.orientation_rad;
        turn += usize::from(off * off <= CHI_95[0] * fix.covariance[(3, 3)]);
        global += usize::from(report.global.unwrap().is_accepted());
    }
    holds_95("plan ellipse", plan);
    holds_95("level", level);
    holds_95("position in space", space);
    holds_95("orientation", turn);
    holds_95("test of the whole", global);
}

#[test]
fn station_regions_hold_the_truth_with_exact_control() {
    covered((0.0, 0.0), 11);
}

#[test]
fn station_regions_hold_the_truth_when_the_control_is_uncertain_too() {
    covered((0.003, 0.002), 12);
}

#[test]
fn shot_regions_hold_the_truth() {
    let mut noise = Noise::seeded(13);
    let instrument = InstrumentSpec {
        edm_constant_m: DISTANCE_SIGMA,
        edm_ppm: 0.0,
        edm_sum: EdmSum::Linear,
        sigma_direction_rad: DIRECTION_SIGMA,
        sigma_zenith_rad: ZENITH_SIGMA,
        one_face_factor: 1.0,
    };
    let target = TargetSpec {
        sigma_height_m: 0.001,
        sigma_centring_m: 0.0015,
        sigma_tilt_rad: 0.001,
    };
    let point = [21.0, -33.0, -2.5];
    let exact = errorless(&TRUTH, &[point], 1.3);
    let (mut plan, mut level, mut agree, mut mean) = (0, 0, 0, 0);
    let mut combined = 0;
    for _ in 0..TRIALS {
        let report = station_report(&trial(&mut noise, (0.002, 0.002))).unwrap();
        let set_up = ShotSetUp {
            fix: report.solution.fix,
            conditions: Conditions {
                instrument_height_m: TRUTH.instrument_height_m,
                curvature: TRUTH.curvature,
                grid_scale: TRUTH.grid_scale,
                air_ppm: 0.0,
            },
            instrument,
            target,
            sigma_instrument_height_m: 0.0,
        };
        // The pole leans and stands off by as much as its specification says, for each shot anew.
        let mut shoot = || {
            let off = target.plan_variance_m2(1.3).sqrt();
            let stood = [
                point[0] + off * noise.normal(),
                point[1] + off * noise.normal(),
                point[2] + target.sigma_height_m * noise.normal(),
            ];
            let mut sight = errorless(&TRUTH, &[stood], 1.3);
            disturb(&mut sight, &mut noise);
            let value = |k: usize| sight.observations[k].value;
            let shot = Shot {
                direction_rad: value(0),
                zenith_rad: value(1),
                slope_m: value(2),
                target_height_m: 1.3,
                both_faces: true,
            };
            reduce_shot(&set_up, &shot).unwrap()
        };
        let (first, second) = (shoot(), shoot());
        let truth = &exact.control[0];
        let inside = |p: &coverbook_survey::shot::ShotPosition| {
            let d = Vector2::new(p.easting_m - truth.easting_m, p.northing_m - truth.northing_m);
            let c2 = p.covariance.to_matrix().fixed_view::<2, 2>(0, 0).into_owned();
            d.dot(&(c2.try_inverse().unwrap() * d)) <= CHI_95[1]
        };
        plan += usize::from(inside(&first));
        let up = first.level_m.unwrap() - truth.level_m.unwrap();
        level += usize::from(up.abs() <= first.covariance.level_u95_m());
        let repeat = compare_shots(&first, &second, true).unwrap();
        agree += usize::from(repeat.agrees);
        if let Some(both) = repeat.combined {
            combined += 1;
            mean += usize::from(inside(&both));
        }
    }
    holds_95("shot in plan", plan);
    holds_95("shot in level", level);
    holds_95("two shots agree", agree);
    let share = mean as f64 / f64::from(combined);
    assert!((share - 0.95).abs() <= 0.015, "combined: {mean} of {combined}");
}

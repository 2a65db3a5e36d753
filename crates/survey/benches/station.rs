//! Times a station's full report against a bare least-squares loop, and 100,000 shots reduced.
//!
//! The bare loop is what one writes with nalgebra on one page: Gauss-Newton from a guess 1 m off, a 4 by 4 normal
//! matrix, no checks, no residual tests, no start. Goal: full report within 3 times of it, same answer.
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use std::hint::black_box;
use std::time::Instant;

use coverbook_survey::observation::{ControlPoint, Observation, Quantity, SetUp};
use coverbook_survey::shot::{Shot, ShotSetUp, reduce_shots};
use coverbook_survey::sight::{Conditions, InstrumentSpec, TargetSpec};
use coverbook_survey::station::adjust_station;
use coverbook_survey::station_report::station_report;
use nalgebra::{Matrix4, Vector4};

const STATION: [f64; 3] = [345_678.9, 5_812_345.6, 34.2];
const ORIENTATION: f64 = 2.1;

/// A set-up of `n` control points around the station, with small made-up reading errors.
fn set_up(n: usize) -> SetUp {
    let mut seed = 0x2545_F491_4F6C_DD1D_u64;
    let mut noise = move || {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        (seed >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    };
    let mut control = Vec::new();
    let mut observations = Vec::new();
    for to in 0..n {
        let azimuth = to as f64 * std::f64::consts::TAU / n as f64 + 0.3;
        let far = 40.0 + 40.0 * (noise() + 0.5);
        let (de, dn, dh) = (far * azimuth.sin(), far * azimuth.cos(), 4.0 * noise());
        let [e, nn, h] = [STATION[0] + de, STATION[1] + dn, STATION[2] + dh];
        control.push(ControlPoint::exact(format!("C{to}"), e, nn, Some(h)));
        let slope = far.hypot(dh);
        let values = [
            (Quantity::Direction, azimuth - ORIENTATION, 1.5e-5),
            (Quantity::Zenith, far.atan2(dh), 2e-5),
            (Quantity::SlopeDistance, slope, 2e-3),
        ];
        for (quantity, value, sigma) in values {
            observations.push(Observation {
                to,
                quantity,
                value: value + 2.0 * sigma * noise(),
                sigma,
                target_height_m: 0.0,
                round: 0,
            });
        }
    }
    SetUp::plane(control, observations)
}

/// The bare loop: no start, no checks, no report.
fn bare_loop(set_up: &SetUp) -> Vector4<f64> {
    let mut x = Vector4::new(
        STATION[0] + 1.0,
        STATION[1] - 1.0,
        STATION[2] + 0.5,
        ORIENTATION + 0.01,
    );
    for _ in 0..20 {
        let mut normal = Matrix4::zeros();
        let mut right = Vector4::zeros();
        for o in &set_up.observations {
            let c = &set_up.control[o.to];
            let (de, dn) = (c.easting_m - x[0], c.northing_m - x[1]);
            let dh = c.level_m.unwrap_or(0.0) - x[2];
            let d = de.hypot(dn);
            let s = d.hypot(dh);
            let (a, mut misfit) = match o.quantity {
                Quantity::Direction => {
                    let t = (de.atan2(dn) - x[3] - o.value).rem_euclid(std::f64::consts::TAU);
                    let t = if t > std::f64::consts::PI {
                        t - std::f64::consts::TAU
                    } else {
                        t
                    };
                    (Vector4::new(-dn / (d * d), de / (d * d), 0.0, -1.0), -t)
                }
                Quantity::Zenith => {
                    let k = -dh / (s * s * d);
                    (
                        Vector4::new(k * de, k * dn, d / (s * s), 0.0),
                        o.value - d.atan2(dh),
                    )
                }
                _ => (Vector4::new(-de / s, -dn / s, -dh / s, 0.0), o.value - s),
            };
            let p = 1.0 / (o.sigma * o.sigma);
            misfit *= p;
            normal += a * (a * p).transpose();
            right += a * misfit;
        }
        let Some(cholesky) = normal.cholesky() else {
            return x;
        };
        let step = cholesky.solve(&right);
        x += step;
        if step.amax() < 1e-6 {
            black_box(cholesky.inverse());
            break;
        }
    }
    x
}

fn median_us(mut run: impl FnMut()) -> f64 {
    let mut times: Vec<f64> = (0..31)
        .map(|_| {
            let start = Instant::now();
            for _ in 0..200 {
                run();
            }
            start.elapsed().as_secs_f64() * 1e6 / 200.0
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[15]
}

fn main() {
    println!("controls  bare loop us  solved us  full report us  report / bare");
    for n in [4, 10, 12, 50] {
        let set_up = set_up(n);
        let bare = bare_loop(&set_up);
        let report = station_report(&set_up).expect("the set-up is sound");
        let fix = &report.solution.fix;
        assert!((bare[0] - fix.easting_m).abs() < 1e-8 && (bare[1] - fix.northing_m).abs() < 1e-8);
        let loop_us = median_us(|| {
            black_box(bare_loop(black_box(&set_up)));
        });
        let solve_us = median_us(|| {
            black_box(adjust_station(black_box(&set_up)).ok());
        });
        let report_us = median_us(|| {
            black_box(station_report(black_box(&set_up)).ok());
        });
        println!(
            "{n:8}  {loop_us:12.2}  {solve_us:9.2}  {report_us:14.2}  {:13.2}",
            report_us / loop_us
        );
    }
    let fix = station_report(&set_up(10))
        .expect("the set-up is sound")
        .solution
        .fix;
    let shots: Vec<Shot> = (0..100_000)
        .map(|k| Shot {
            direction_rad: f64::from(k) * 1e-4,
            zenith_rad: 1.4 + f64::from(k % 1000) * 3e-4,
            slope_m: 5.0 + f64::from(k % 130),
            target_height_m: 1.5,
            both_faces: k % 2 == 0,
        })
        .collect();
    let shot_set_up = ShotSetUp {
        fix,
        conditions: Conditions::default(),
        instrument: InstrumentSpec::from_data_sheet(1.0, 1.5, 1.0, 1.0),
        target: TargetSpec::default(),
        sigma_instrument_height_m: 0.0,
    };
    let start = Instant::now();
    let positions = reduce_shots(&shot_set_up, &shots).expect("the shots are sound");
    let ms = start.elapsed().as_secs_f64() * 1e3;
    black_box(&positions);
    println!("{} shots reduced with covariance in {ms:.1} ms", positions.len());
}

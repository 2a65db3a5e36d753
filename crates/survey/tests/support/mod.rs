//! Seeded noise and made-up set-ups for the simulations.
#![allow(dead_code, reason = "each test file uses its own part")]

use coverbook_survey::observation::{ControlPoint, Observation, Quantity, SetUp};
use coverbook_survey::reduction::{Curvature, ReducedSight, expand_sight};

/// A small seeded generator (xorshift and the Box-Muller transform).
pub struct Noise(u64);

impl Noise {
    pub fn seeded(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }
    /// Even between 0 and 1, never 0.
    pub fn even(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 11) as f64 + 1.0) / (1u64 << 53) as f64
    }
    /// Normal with standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.even().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.even()).cos()
    }
}

/// The truth of a set-up.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub station: [f64; 3],
    pub orientation_rad: f64,
    pub instrument_height_m: f64,
    pub curvature: Curvature,
    pub grid_scale: f64,
}

pub const DIRECTION_SIGMA: f64 = 3.0 / 3600.0 * std::f64::consts::PI / 180.0;
pub const ZENITH_SIGMA: f64 = 4.0 / 3600.0 * std::f64::consts::PI / 180.0;
pub const DISTANCE_SIGMA: f64 = 0.002;

/// Sets up over the truth: errorless readings to points at the given offsets (east, north, up) from the station.
pub fn errorless(truth: &Truth, offsets: &[[f64; 3]], target_height_m: f64) -> SetUp {
    let [e, n, z] = truth.station;
    let mut control = Vec::new();
    let mut observations = Vec::new();
    for (to, [de, dn, dh]) in offsets.iter().enumerate() {
        control.push(ControlPoint::exact(
            format!("C{}", to + 1),
            e + de,
            n + dn,
            Some(z + dh),
        ));
        let sight = ReducedSight {
            horizontal_distance_m: de.hypot(*dn) / truth.grid_scale,
            rise_m: dh + target_height_m - truth.instrument_height_m,
        };
        let (slope, zenith) = expand_sight(sight, truth.curvature);
        for (quantity, value, sigma) in [
            (
                Quantity::Direction,
                de.atan2(*dn) - truth.orientation_rad,
                DIRECTION_SIGMA,
            ),
            (Quantity::Zenith, zenith, ZENITH_SIGMA),
            (Quantity::SlopeDistance, slope, DISTANCE_SIGMA),
        ] {
            observations.push(Observation {
                to,
                quantity,
                value,
                sigma,
                target_height_m,
                round: 0,
            });
        }
    }
    SetUp {
        control,
        observations,
        instrument_height_m: truth.instrument_height_m,
        curvature: truth.curvature,
        grid_scale: truth.grid_scale,
    }
}

/// Adds normal reading errors.
pub fn disturb(set_up: &mut SetUp, noise: &mut Noise) {
    for o in &mut set_up.observations {
        o.value += o.sigma * noise.normal();
    }
}

//! The synthetic register that the benches are run on.

use ground::Vec3;
use ground::tube::{Growth, Section, Tube, TubeVertex};

pub struct Dice(pub u64);

impl Dice {
    pub fn roll(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) as f64 / u64::MAX as f64
    }
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.roll()
    }
    pub fn whole(&mut self, low: usize, high: usize) -> usize {
        low + (self.roll() * (high - low + 1) as f64) as usize
    }
}

pub fn surface_m(e: f64, n: f64) -> f64 {
    50.0 + 3.0 * (e / 400.0).sin() + 2.0 * (n / 300.0).cos()
}

pub fn to_mm(v: f64) -> f64 {
    (v * 1000.0).round() / 1000.0
}

/// Streets 100 m apart with six services side by side, and connections square off them; 16,000 legs a km2.
pub fn register(count: usize, dice: &mut Dice) -> (Vec<Tube>, f64) {
    let side_m = (count as f64 / 16_000.0).sqrt() * 1000.0;
    let half = side_m / 2.0;
    let mut tubes: Vec<Tube> = Vec::new();
    let mut legs = 0;
    while legs < count {
        let radius_m = dice.between(0.01, 0.12) * if dice.roll() < 0.1 { 6.0 } else { 1.0 };
        let growth = Growth {
            horizontal_m: dice.between(0.02, 0.15),
            vertical_m: dice.between(0.02, 0.1),
        };
        let depth_m = dice.between(0.3, 3.0);
        let street = (dice.roll() * (side_m / 100.0).max(1.0)).floor() * 100.0 - half;
        let across = dice.roll() < 0.5;
        let connection = dice.roll() < 0.25;
        let parts = dice.whole(5, 40).min(count - legs).max(1);
        let mut along = dice.between(-half, half);
        let off = street + (dice.whole(0, 5) as f64) * 0.9;
        let (mut chainage_m, mut vertices) = (0.0, Vec::with_capacity(parts + 1));
        let mut aside = 0.0;
        for _ in 0..=parts {
            let curve = 4.0 * (along / 170.0).sin();
            let (s, t) = (along, off + curve + aside);
            let (e, n) = if across {
                (to_mm(s), to_mm(t))
            } else {
                (to_mm(t), to_mm(s))
            };
            let axis = Vec3::new(e, n, to_mm(surface_m(e, n) - depth_m - radius_m));
            vertices.push(TubeVertex {
                axis,
                chainage_m,
                growth: Some(growth),
            });
            let step = dice.between(0.8, 14.0);
            chainage_m += step;
            if connection {
                aside += step.min(3.0)
            } else {
                along += step
            }
        }
        legs += parts;
        tubes.push(Tube {
            section: Section::Round { radius_m },
            vertices,
        });
    }
    // As recorded over the years: in no order.
    for i in (1..tubes.len()).rev() {
        let j = dice.whole(0, i);
        tubes.swap(i, j);
    }
    (tubes, half)
}

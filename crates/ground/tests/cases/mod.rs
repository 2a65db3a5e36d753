//! Random excavations and tubes, the same in every run, for the checks that need many of them.

#![allow(dead_code, reason = "each check uses the part it needs")]

use crate::ground::dig::{Dig, DigShape, DigSpec, Floor};
use crate::ground::facet::Affine;
use crate::ground::surface::Surface;
use crate::ground::tube::{Growth, Section, Tube, TubeVertex};
use crate::ground::{Vec2, Vec3};

/// Splitmix64, so that every run tries the same cases.
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
    pub fn one_in(&mut self, n: u32) -> bool {
        self.roll() * f64::from(n) < 1.0
    }
}

/// An excavation as it would be stated, with a plane for a surface.
#[derive(Debug, Clone)]
pub struct Case {
    pub shape: DigShape,
    pub floor: Floor,
    pub plane: Affine,
    pub batter: Option<f64>,
    pub set_out_m: f64,
    pub over_dig_m: f64,
}

impl Case {
    pub fn dig(&self) -> Dig {
        Dig::new(&DigSpec {
            shape: self.shape.clone(),
            floor: Some(self.floor),
            surface: Some(&Surface::plane(self.plane)),
            batter: self.batter,
            set_out_m: self.set_out_m,
            over_dig_m: self.over_dig_m,
            surface_u95_m: 0.05,
        })
        .expect("a sound excavation")
    }
}

pub fn random_case(dice: &mut Dice) -> Case {
    let shape = random_shape(dice);
    let disc = matches!(shape, DigShape::Point { .. });
    let plane = Affine {
        anchor: Vec3::new(0.0, 0.0, dice.between(9.0, 11.0)),
        gradient: Vec2::new(dice.between(-0.1, 0.1), dice.between(-0.1, 0.1)),
    };
    Case {
        batter: dice.one_in(2).then(|| dice.between(0.2, 1.5)),
        floor: random_floor(dice, disc),
        shape,
        plane,
        set_out_m: dice.between(0.0, 0.5),
        over_dig_m: dice.between(0.0, 0.5),
    }
}

pub fn random_shape(dice: &mut Dice) -> DigShape {
    let v = |e: f64, n: f64| Vec2::new(e, n);
    match (dice.roll() * 5.0) as u32 {
        0 => DigShape::Area {
            outline: vec![
                v(0.0, 0.0),
                v(dice.between(2.0, 9.0), 0.3),
                v(4.0, dice.between(2.0, 6.0)),
            ],
            holes: vec![],
        },
        1 => {
            let (w, h) = (dice.between(3.0, 9.0), dice.between(3.0, 9.0));
            DigShape::Area {
                outline: vec![
                    v(0.0, 0.0),
                    v(w, 0.0),
                    v(w, 1.0),
                    v(1.2, 1.0),
                    v(1.2, h),
                    v(0.0, h),
                ],
                holes: vec![],
            }
        }
        2 => DigShape::Line {
            points: vec![
                v(0.0, 0.0),
                v(dice.between(3.0, 8.0), 1.0),
                v(7.0, dice.between(2.0, 8.0)),
            ],
            width_m: dice.between(0.3, 1.5),
        },
        3 => DigShape::Point {
            centre: v(3.0, 2.0),
            radius_m: dice.between(0.1, 1.0),
        },
        _ => {
            let (w, h) = (dice.between(1.0, 9.0), dice.between(1.0, 9.0));
            DigShape::Area {
                outline: vec![v(0.0, 0.0), v(w, 0.0), v(w, h), v(0.0, h)],
                holes: vec![],
            }
        }
    }
}

pub fn random_tube(dice: &mut Dice) -> Tube {
    let mut at = Vec3::new(
        dice.between(-5.0, 10.0),
        dice.between(-5.0, 10.0),
        dice.between(5.0, 10.0),
    );
    let mut chainage_m = 0.0;
    let count = 2 + (dice.roll() * 3.0) as usize;
    let grown = (dice.between(0.0, 0.4), dice.between(0.0, 0.3));
    let vertices = (0..count)
        .map(|_| {
            let growth = Growth {
                horizontal_m: grown.0 * dice.between(0.5, 1.5),
                vertical_m: grown.1 * dice.between(0.5, 1.5),
            };
            let vertex = TubeVertex {
                axis: at,
                chainage_m,
                growth: Some(growth),
            };
            let mut step = Vec3::new(
                dice.between(-6.0, 6.0),
                dice.between(-6.0, 6.0),
                dice.between(-0.5, 0.5),
            );
            if dice.one_in(6) {
                step = Vec3::new(0.0, 0.0, dice.between(0.5, 3.0)); // a riser
            } else if dice.one_in(5) {
                step = Vec3::new(dice.between(2.0, 6.0), 0.0, 0.0); // level and along a side
            }
            chainage_m += step.xy().norm();
            at += step;
            vertex
        })
        .collect();
    Tube {
        section: Section::Round {
            radius_m: dice.between(0.01, 0.6),
        },
        vertices,
    }
}

pub fn random_floor(dice: &mut Dice, disc: bool) -> Floor {
    if disc || dice.one_in(2) {
        Floor::Level(dice.between(7.5, 9.0))
    } else {
        let rise = Vec2::new(dice.between(-0.4, 0.4), dice.between(-0.4, 0.4));
        Floor::Gradient {
            at: Vec2::new(3.0, 3.0),
            level_m: 8.0,
            rise,
        }
    }
}

/// The least value of a convex function from 0 to `end`, by golden sections.
pub fn least(end: f64, f: impl Fn(f64) -> f64) -> f64 {
    let golden = (5f64.sqrt() - 1.0) / 2.0;
    let (mut a, mut b) = (0.0, end);
    let (mut p, mut q) = (b - golden * (b - a), a + golden * (b - a));
    let (mut fp, mut fq) = (f(p), f(q));
    let mut best = fp.min(fq).min(f(0.0)).min(f(end));
    for _ in 0..40 {
        if best == 0.0 {
            break;
        }
        if fp <= fq {
            (b, q, fq) = (q, p, fp);
            p = b - golden * (b - a);
            fp = f(p);
        } else {
            (a, p, fp) = (p, q, fq);
            q = a + golden * (b - a);
            fq = f(q);
        }
        best = best.min(fp).min(fq);
    }
    best
}

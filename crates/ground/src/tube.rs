//! A tube: the outside of one run, as a chain of straight legs about an axis.

use std::f64::consts::FRAC_1_SQRT_2;

use crate::Vec3;

/// The outside of a run, square to its axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Section {
    /// A round tube, by its *outside* radius (sleeve, insulation or encasement included).
    Round {
        /// Outside radius, metres.
        radius_m: f64,
    },
    /// A bank of ways in its enclosing box: level across, upright otherwise, square to the axis.
    Bank {
        /// Half the width, metres.
        half_width_m: f64,
        /// Half the height, metres.
        half_height_m: f64,
    },
}

/// How far a vertex may lie from where it is recorded: 95 % at this point, bow included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Growth {
    /// In plan, radial: 2.4477 x the semi-major standard deviation, plus the bow. Metres.
    pub horizontal_m: f64,
    /// In level, either way: 1.960 x the standard deviation, plus the bow. Metres.
    pub vertical_m: f64,
}

/// One vertex of a tube's axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TubeVertex {
    /// Where the axis is.
    pub axis: Vec3,
    /// Distance along the axis from its start, in plan, metres.
    pub chainage_m: f64,
    /// The growth; `None` when no uncertainty is known, which never acts as zero.
    pub growth: Option<Growth>,
}

/// A run's outside: capsules (or boxes) about a chain of axis vertices.
///
/// With `W` the same tube grown by its uncertainty: between vertices the growth is linear, so a grown leg is
/// exactly the convex hull of the grown bodies at its ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Tube {
    /// The section, the same all along.
    pub section: Section,
    /// The axis; at least two vertices, no two neighbours the same.
    pub vertices: Vec<TubeVertex>,
}

impl Tube {
    /// Returns the legs in order, each as its two end vertices.
    pub fn legs(&self) -> impl ExactSizeIterator<Item = (&TubeVertex, &TubeVertex)> {
        self.vertices.windows(2).map(|pair| (&pair[0], &pair[1]))
    }

    /// Tells for each leg whether it is a riser: steeper than 45 degrees.
    pub fn risers(&self) -> impl ExactSizeIterator<Item = bool> {
        self.legs().map(|(a, b)| is_steep(b.axis - a.axis))
    }

    /// Returns the frame of each leg's section: level across and upright, but turned as little as can be through risers.
    ///
    /// A riser takes its frame from the nearest leg before it that is none, or else from the nearest after it; in a
    /// tube of risers only, from the plan direction of the leg, or from east.
    pub fn frames(&self) -> Vec<Frame> {
        let directions: Vec<Vec3> = self.legs().map(|(a, b)| (b.axis - a.axis).normalize()).collect();
        let mut frames: Vec<Option<Frame>> = directions
            .iter()
            .map(|d| (!is_steep(*d)).then(|| Frame::level(*d)))
            .collect();
        for i in 1..frames.len() {
            if let (Some(before), None) = (frames[i - 1], frames[i]) {
                frames[i] = Some(before.turned(directions[i - 1], directions[i]));
            }
        }
        for i in (1..frames.len()).rev() {
            if let (None, Some(after)) = (frames[i - 1], frames[i]) {
                frames[i - 1] = Some(after.turned(directions[i], directions[i - 1]));
            }
        }
        if let (Some(None), Some(first)) = (frames.first(), directions.first()) {
            let mut frame = Frame::level(*first);
            for (i, d) in directions.iter().enumerate() {
                if i > 0 {
                    frame = frame.turned(directions[i - 1], *d);
                }
                frames[i] = Some(frame);
            }
        }
        frames.into_iter().flatten().collect()
    }
}

/// The frame of a leg's section, both of unit length and square to the leg and to each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Along the width of a bank.
    pub across: Vec3,
    /// Along the height of a bank.
    pub upright: Vec3,
}

impl Frame {
    fn level(direction: Vec3) -> Frame {
        let across = Vec3::new(direction.y, -direction.x, 0.0);
        let across = if across.norm() > 1e-9 {
            across.normalize()
        } else {
            Vec3::x()
        };
        Frame {
            across,
            upright: across.cross(&direction).normalize(),
        }
    }

    /// The same frame carried by the smallest rotation that takes one unit direction to another.
    fn turned(self, from: Vec3, to: Vec3) -> Frame {
        let cosine = from.dot(&to);
        if cosine < -1.0 + 1e-12 {
            return Frame {
                across: self.across,
                upright: -self.upright,
            };
        }
        let axis = from.cross(&to);
        let turn = |v: Vec3| v * cosine + axis.cross(&v) + axis * (axis.dot(&v) / (1.0 + cosine));
        Frame {
            across: turn(self.across),
            upright: turn(self.upright),
        }
    }
}

/// Tells whether a direction is steeper than 45 degrees; a hair above is rounding and does not count.
fn is_steep(direction: Vec3) -> bool {
    direction.z.abs() > (FRAC_1_SQRT_2 + 1e-9) * direction.norm()
}

impl Section {
    /// Returns the section larger by `margin_m` on every side.
    pub fn grown(self, margin_m: f64) -> Section {
        match self {
            Section::Round { radius_m } => Section::Round {
                radius_m: radius_m + margin_m,
            },
            Section::Bank {
                half_width_m,
                half_height_m,
            } => Section::Bank {
                half_width_m: half_width_m + margin_m,
                half_height_m: half_height_m + margin_m,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tube(axis: &[(f64, f64, f64)]) -> Tube {
        let vertices = axis
            .iter()
            .map(|&(e, n, z)| TubeVertex {
                axis: Vec3::new(e, n, z),
                chainage_m: 0.0,
                growth: None,
            })
            .collect();
        Tube {
            section: Section::Bank {
                half_width_m: 0.3,
                half_height_m: 0.2,
            },
            vertices,
        }
    }

    #[test]
    fn frames_are_level_across_and_carried_up_a_riser() {
        // Closed form: east, up, north, up again. The riser keeps east's width (south) and tips its height to west.
        let frames = tube(&[
            (0.0, 0.0, 0.0),
            (5.0, 0.0, 0.0),
            (5.0, 0.0, 3.0),
            (5.0, 4.0, 3.0),
            (5.0, 4.0, 6.0),
        ])
        .frames();
        assert!((frames[0].across - Vec3::new(0.0, -1.0, 0.0)).norm() < 1e-12);
        assert!((frames[0].upright - Vec3::z()).norm() < 1e-12);
        assert!((frames[1].across - Vec3::new(0.0, -1.0, 0.0)).norm() < 1e-12);
        assert!((frames[1].upright - Vec3::new(-1.0, 0.0, 0.0)).norm() < 1e-12);
        assert!((frames[2].across - Vec3::x()).norm() < 1e-12);
        assert!((frames[3].across - Vec3::x()).norm() < 1e-12);
    }

    #[test]
    fn a_riser_at_the_start_takes_the_frame_of_the_leg_after_it() {
        let frames = tube(&[(0.0, 0.0, 0.0), (0.0, 0.0, -3.0), (0.0, 4.0, -3.0)]).frames();
        assert!((frames[0].across - frames[1].across).norm() < 1e-12);
        let alone = tube(&[(0.0, 0.0, 0.0), (0.0, 0.0, 2.0), (0.0, 0.0, 5.0)]).frames();
        assert_eq!(alone.len(), 2);
        assert!(
            alone
                .iter()
                .all(|f| f.across.dot(&f.upright).abs() < 1e-12 && f.across.z == 0.0)
        );
    }

    #[test]
    fn only_legs_above_45_degrees_are_risers() {
        let legs = tube(&[
            (0.0, 0.0, 0.0),
            (2.0, 0.0, 2.0),
            (3.0, 0.0, 3.001),
            (3.0, 0.0, 1.0),
        ]);
        assert_eq!(legs.risers().collect::<Vec<_>>(), vec![false, true, true]);
    }
}

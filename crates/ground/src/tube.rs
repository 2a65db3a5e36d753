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

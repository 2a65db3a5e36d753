//! Laying a tube through the shots on a run: axis, bends, bow and growth brought together.

use crate::Vec3;
use crate::axis::{AxisError, AxisFinding, Shot, Sizes, axis_of};
use crate::bend::{BendMark, BentVertex, lay_bends};
use crate::bow::growth;
use crate::tube::{Growth, Tube, TubeVertex};
use crate::unshot::{Unshot, widen};

/// A tube laid from shots, and how it hangs together with them.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidTube {
    /// The tube; its section is larger than the one given by what the chords of bends leave out.
    pub tube: Tube,
    /// The axis at each shot; for a `bend-pi` the meeting point of the straights, off the tube.
    pub shot_axis: Vec<Vec3>,
    /// Chainage of each shot, metres; for a `bend-pi` that of the middle of its bend.
    pub shot_chainage_m: Vec<f64>,
    /// For each vertex of the tube, where it lies among the shots: 2.5 is half-way from shot 2 to 3, counted from 0.
    pub among_shots: Vec<f64>,
    /// For each leg of the tube, whether it is a chord of a bend.
    pub on_bend: Vec<bool>,
    /// For each leg between shots, what was not shot of it.
    pub unshot: Vec<Unshot>,
    /// For each vertex of the tube, the hard bound within its growth for what was not shot, metres; infinite where no
    /// bound exists, and there is no growth then.
    pub unshot_m: Vec<f64>,
    /// What should be shown back.
    pub findings: Vec<AxisFinding>,
}

impl LaidTube {
    /// Returns the shot, counted from 0, from which a leg of the tube sets out: its shot-to-shot leg.
    pub fn shot_leg(&self, leg: usize) -> usize {
        let middle = (self.among_shots[leg] + self.among_shots[leg + 1]) / 2.0;
        (middle as usize).min(self.shot_axis.len().saturating_sub(2))
    }
}

/// Lays a tube through shots: axis, bends as arcs, and growth.
///
/// `bows_m` is the bow of each leg between shots (one fewer than the shots; see [`crate::bow`]). A shot without both
/// standard deviations has no growth, and neither have the vertices laid beside it. Between shots the tube is wider by
/// what was not shot ([`crate::unshot`]): for that, vertices are put in.
/// # Errors
/// [`AxisError`], naming the shot and how to mend it.
pub fn lay_tube(shots: &[Shot], sizes: &Sizes, bows_m: &[f64]) -> Result<LaidTube, AxisError> {
    let (shot_axis, mut findings) = axis_of(shots, sizes)?;
    if bows_m.len() + 1 != shots.len() {
        return Err(AxisError::BowsDoNotMatch {
            bows: bows_m.len(),
            legs: shots.len() - 1,
        });
    }
    if let Some(leg) = bows_m.iter().position(|c| !(c.is_finite() && *c >= 0.0)) {
        return Err(AxisError::NotANumber {
            shot: leg + 1,
            what: "leg allowance",
        });
    }
    let marks: Vec<Option<BendMark>> = shots.iter().map(|s| s.bend).collect();
    let bent = lay_bends(&shot_axis, &marks, &mut findings)?;
    let shot_growth: Vec<Option<Growth>> = shots
        .iter()
        .map(|shot| growth(shot.sigma_h_m, shot.sigma_v_m, 0.0))
        .collect();
    let unshot: Vec<Unshot> = bows_m
        .iter()
        .zip(&bent.unshot_m)
        .map(|(&bow_m, &turn_m)| Unshot { bow_m, turn_m })
        .collect();
    let widened = widen(&bent, &shot_growth, &unshot);
    let mut vertices: Vec<TubeVertex> = Vec::with_capacity(widened.len());
    for at in &widened {
        let chainage_m = vertices.last().map_or(0.0, |last: &TubeVertex| {
            last.chainage_m + (at.vertex.axis.xy() - last.axis.xy()).norm()
        });
        vertices.push(TubeVertex {
            axis: at.vertex.axis,
            chainage_m,
            growth: at.growth,
        });
    }
    let laid: Vec<BentVertex> = widened.iter().map(|at| at.vertex).collect();
    let shot_chainage_m = (0..shots.len())
        .map(|shot| chainage_of(&laid, &vertices, shot as f64))
        .collect();
    Ok(LaidTube {
        tube: Tube {
            section: sizes.section.grown(bent.sagitta_m),
            vertices,
        },
        shot_axis,
        shot_chainage_m,
        among_shots: laid.iter().map(|v| v.among_shots).collect(),
        unshot,
        unshot_m: widened.iter().map(|at| at.unshot_m).collect(),
        on_bend: laid.split_last().map_or(Vec::new(), |(_, legs)| {
            legs.iter().map(|v| v.bend_follows).collect()
        }),
        findings,
    })
}

fn chainage_of(bent: &[BentVertex], vertices: &[TubeVertex], shot: f64) -> f64 {
    let next = bent
        .partition_point(|v| v.among_shots < shot)
        .clamp(1, bent.len() - 1);
    let (from, to) = (bent[next - 1].among_shots, bent[next].among_shots);
    let share = if to > from {
        ((shot - from) / (to - from)).clamp(0.0, 1.0)
    } else {
        0.0
    };
    vertices[next - 1].chainage_m + (vertices[next].chainage_m - vertices[next - 1].chainage_m) * share
}

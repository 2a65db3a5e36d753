//! Runs of one service that join: where, and what is left to judge beyond the joint.

use super::{JOINT_M, Laid};
use crate::body::RunEnd;
use crate::dig::clipped;
use ground::gap::Stretch;
use ground::meeting::Meeting;
use ground::tube::Tube;

/// A joint: its chainage on each of the two.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Joint(pub(super) [f64; 2]);

/// Finds the joints of two runs of one service: an end that joins the other, a shared point, one structure entered.
///
/// An end said to join counts where it truly comes to the other, within [`JOINT_M`] of its outside; one that does not is
/// no joint. Runs of different services have none.
pub(super) fn joints(one: &Laid<'_>, two: &Laid<'_>) -> Vec<Joint> {
    if one.record.service != two.record.service {
        return Vec::new();
    }
    let mut found = Vec::new();
    let ends = |laid: &Laid<'_>| [0.0, super::super::length_m(laid.laid)];
    for (i, end) in one.record.ends.iter().enumerate() {
        if matches!(end, RunEnd::Joins { run } if *run == two.record.run)
            && let Some(there) = nearest_chainage(one, i, two)
        {
            found.push(Joint([ends(one)[i], there]));
        }
        for (j, other) in two.record.ends.iter().enumerate() {
            if let (RunEnd::Enters { structure: a }, RunEnd::Enters { structure: b }) = (end, other)
                && a == b
            {
                found.push(Joint([ends(one)[i], ends(two)[j]]));
            }
        }
    }
    for (j, end) in two.record.ends.iter().enumerate() {
        if matches!(end, RunEnd::Joins { run } if *run == one.record.run)
            && let Some(there) = nearest_chainage(two, j, one)
        {
            found.push(Joint([there, ends(two)[j]]));
        }
    }
    for (i, shot) in one.record.shots.iter().enumerate() {
        for (j, other) in two.record.shots.iter().enumerate() {
            if shot.point == other.point {
                found.push(Joint([one.laid.shot_chainage_m[i], two.laid.shot_chainage_m[j]]));
            }
        }
    }
    found
}

/// The chainage on `other` nearest to an end of a run, when it is near enough to be a joint.
fn nearest_chainage(run: &Laid<'_>, end: usize, other: &Laid<'_>) -> Option<f64> {
    let vertices = &run.laid.tube.vertices;
    let at = vertices[if end == 0 { 0 } else { vertices.len() - 1 }].axis;
    let reach = |laid: &Laid<'_>| laid.record.section.width_m.hypot(laid.record.section.height_m) / 2.0;
    let nearest = other.laid.tube.legs().map(|(a, b)| {
        let apart = ground::segment::segments_apart([at, at], [a.axis, b.axis]);
        let chainage_m = a.chainage_m + apart.along[1] * (b.chainage_m - a.chainage_m);
        (apart.lower_m, chainage_m)
    });
    nearest
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(apart_m, _)| *apart_m <= JOINT_M + reach(run) + reach(other))
        .map(|(_, chainage_m)| chainage_m)
}

/// Tells whether a place holds a joint, or comes within [`JOINT_M`] of it on both runs.
pub(super) fn holds(met: &Meeting, joint: &Joint) -> bool {
    (0..2).all(|k| {
        let stretch = met.stretch[k];
        joint.0[k] >= stretch.from_m - JOINT_M && joint.0[k] <= stretch.to_m + JOINT_M
    })
}

/// Returns the parts of two tubes to judge beyond their joints: every two parts that are not both within [`JOINT_M`] of
/// one and the same joint along each.
pub(super) fn beyond(tubes: [&Tube; 2], joints: &[Joint]) -> Vec<[Tube; 2]> {
    let parts = [0, 1].map(|k| {
        let end_m = tubes[k].vertices.last().map_or(0.0, |v| v.chainage_m);
        let mut cuts: Vec<f64> = joints
            .iter()
            .flat_map(|joint| [joint.0[k] - JOINT_M, joint.0[k] + JOINT_M])
            .map(|cut| cut.clamp(0.0, end_m))
            .chain([0.0, end_m])
            .collect();
        cuts.sort_by(f64::total_cmp);
        cuts.dedup_by(|b, a| *b - *a < 1e-6);
        let parts = cuts.windows(2).filter_map(|cut| {
            let (from_m, to_m) = (cut[0], cut[1]);
            let middle_m = (from_m + to_m) / 2.0;
            let mine: Vec<usize> = (0..joints.len())
                .filter(|&j| (middle_m - joints[j].0[k]).abs() < JOINT_M)
                .collect();
            clipped(tubes[k], Stretch { from_m, to_m }).map(|tube| (tube, mine))
        });
        parts.collect::<Vec<_>>()
    });
    let mut pairs = Vec::new();
    for (one, near_one) in &parts[0] {
        for (two, near_two) in &parts[1] {
            if !near_one.iter().any(|joint| near_two.contains(joint)) {
                pairs.push([one.clone(), two.clone()]);
            }
        }
    }
    pairs
}

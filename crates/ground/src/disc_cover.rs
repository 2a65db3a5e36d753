//! Where along a leg a disc about its axis leaves the domain of a surface.

use crate::Vec2;
use crate::facet::PlanBox;
use crate::surface::{Surface, distance_to_segment};

/// Touching the rim of the domain from inside is not leaving it. Metres.
const TOUCH_M: f64 = 1e-9;

/// Returns the shares of a leg, from 0 to 1, at which the disc about the axis is not wholly in the domain.
///
/// The radius runs evenly from one end to the other. The stretches are in order and apart.
pub(crate) fn shares_outside(surface: &Surface, ends: [Vec2; 2], radii_m: [f64; 2]) -> Vec<(f64, f64)> {
    if surface.everywhere().is_some() {
        return Vec::new();
    }
    let at = |t: f64| ends[0] + (ends[1] - ends[0]) * t;
    let radius = |t: f64| radii_m[0] + (radii_m[1] - radii_m[0]) * t;
    let reach = PlanBox {
        min: ends[0].inf(&ends[1]),
        max: ends[0].sup(&ends[1]),
    }
    .grown(radii_m[0].max(radii_m[1]));
    let mut cut = Vec::new();
    surface.rims_in(&reach, |a, b| {
        // The distance to a segment is convex along the leg and the radius even, so one stretch is too near.
        let room = |t: f64| distance_to_segment(at(t), a, b) - radius(t) + TOUCH_M;
        cut.extend(below_nought(room));
    });
    cut.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let mut outside: Vec<(f64, f64)> = Vec::new();
    let mut reached = 0.0;
    for (from, to) in cut.into_iter().chain([(1.0, 1.0)]) {
        // Between two stretches the disc touches no rim: it lies wholly inside or wholly outside.
        if from > reached && surface.level_at(at((reached + from) / 2.0)).is_none() {
            push(&mut outside, (reached, from));
        }
        if to > from {
            push(&mut outside, (from.max(reached).min(to), to));
        }
        reached = to.max(reached);
    }
    if ends[0] == ends[1] && outside.is_empty() && surface.level_at(ends[0]).is_none() {
        return vec![(0.0, 1.0)];
    }
    outside
}

fn push(stretches: &mut Vec<(f64, f64)>, (from, to): (f64, f64)) {
    match stretches.last_mut() {
        Some(last) if from <= last.1 => last.1 = last.1.max(to),
        _ => stretches.push((from, to)),
    }
}

/// Returns the stretch of 0 to 1 on which a convex function is below nought, if any.
pub(crate) fn below_nought(f: impl Fn(f64) -> f64) -> Option<(f64, f64)> {
    let golden = (5f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (0.0, 1.0);
    let mut bottom = [0.0, 1.0].into_iter().find(|&t| f(t) < 0.0);
    let (mut left, mut right) = (high - golden * (high - low), low + golden * (high - low));
    let (mut at_left, mut at_right) = (f(left), f(right));
    for _ in 0..80 {
        if bottom.is_some() {
            break;
        }
        bottom = [(left, at_left), (right, at_right)]
            .into_iter()
            .find(|one| one.1 < 0.0)
            .map(|one| one.0);
        if at_left < at_right {
            high = right;
            (right, at_right) = (left, at_left);
            left = high - golden * (high - low);
            at_left = f(left);
        } else {
            low = left;
            (left, at_left) = (right, at_right);
            right = low + golden * (high - low);
            at_right = f(right);
        }
    }
    let bottom = bottom?;
    let edge = |end: f64| {
        let (mut inside, mut outside) = (bottom, end);
        if f(end) < 0.0 {
            return end;
        }
        for _ in 0..60 {
            let middle = (inside + outside) / 2.0;
            if f(middle) < 0.0 {
                inside = middle
            } else {
                outside = middle
            }
        }
        outside
    };
    Some((edge(0.0), edge(1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Domain;

    #[test]
    fn a_leg_over_the_edge_of_a_slab_is_outside_from_a_radius_before_it() {
        // Closed form: a slab from 0 to 10 m, a leg from 2 to 12 m, radius 0.5 m: outside from 9.5 m, share 0.75.
        let ring = [(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0)]
            .map(|(e, n)| Vec2::new(e, n))
            .to_vec();
        let slab = Surface::level_within(1.0, &Domain::new(&[ring]).unwrap());
        let leg = [Vec2::new(2.0, 4.0), Vec2::new(12.0, 4.0)];
        let outside = shares_outside(&slab, leg, [0.5, 0.5]);
        assert_eq!(outside.len(), 1);
        assert!(
            (outside[0].0 - 0.75).abs() < 1e-8 && outside[0].1 == 1.0,
            "{outside:?}"
        );
        // A radius that grows from 0 to 2 m along it: 2 + 10 t + 2 t = 10 at t = 2/3.
        let outside = shares_outside(&slab, leg, [0.0, 2.0]);
        assert!((outside[0].0 - 2.0 / 3.0).abs() < 1e-8, "{outside:?}");
        let inside = [Vec2::new(0.5, 0.5), Vec2::new(9.5, 7.5)];
        assert!(shares_outside(&slab, inside, [0.5, 0.5]).is_empty());
        let away = [Vec2::new(20.0, 0.5), Vec2::new(21.0, 7.5)];
        assert_eq!(shares_outside(&slab, away, [0.5, 0.5]), vec![(0.0, 1.0)]);
        let plumb = [Vec2::new(20.0, 0.5); 2];
        assert_eq!(shares_outside(&slab, plumb, [0.5, 0.5]), vec![(0.0, 1.0)]);
    }
}

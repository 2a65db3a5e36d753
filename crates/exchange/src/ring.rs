//! Whether a ring meets itself.

use crate::plausibility::Place;

/// Returns the first two sides of a ring that meet other than at a shared corner, by their first corners.
///
/// Compares every pair of sides, so its work grows with the square of the corners; callers bound those.
pub(crate) fn crossing(ring: &[Place]) -> Option<(usize, usize)> {
    let count = ring.len();
    let corner = |index: usize| [ring[index % count].at[0], ring[index % count].at[1]];
    for first in 0..count {
        for second in first + 1..count {
            let (a, b) = (corner(first), corner(first + 1));
            let (c, d) = (corner(second), corner(second + 1));
            let neighbours = second == first + 1 || (first == 0 && second == count - 1);
            let meet = if neighbours {
                // Neighbours share a corner; they meet again only when one turns back along the other.
                let (tip, from, to) = if second == first + 1 { (b, a, d) } else { (a, b, c) };
                side(from, tip, to) == 0.0
                    && (from[0] - tip[0]) * (to[0] - tip[0]) + (from[1] - tip[1]) * (to[1] - tip[1]) >= 0.0
            } else {
                cross(a, b, c, d)
            };
            if meet {
                return Some((first, second));
            }
        }
    }
    None
}

/// Returns twice the signed area of a triangle: which side of a-b the point c lies on.
fn side(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

fn cross(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> bool {
    let apart = |axis: usize| {
        a[axis].max(b[axis]) < c[axis].min(d[axis]) || c[axis].max(d[axis]) < a[axis].min(b[axis])
    };
    if apart(0) || apart(1) {
        return false;
    }
    side(a, b, c) * side(a, b, d) <= 0.0 && side(c, d, a) * side(c, d, b) <= 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(ring: &[[f64; 2]], expected: Option<(usize, usize)>) {
        let place = |at: &[f64; 2]| Place {
            row: 0,
            at: [at[0], at[1], 0.0],
        };
        assert_eq!(crossing(&ring.iter().map(place).collect::<Vec<_>>()), expected);
    }

    #[test]
    fn a_square_does_not_meet_itself_and_a_bow_tie_does() {
        check(&[[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]], None);
        check(&[[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0]], Some((0, 2)));
    }

    #[test]
    fn a_spike_and_a_corner_given_twice_meet() {
        check(&[[0.0, 0.0], [2.0, 0.0], [1.0, 0.0], [1.0, 1.0]], Some((0, 1)));
        check(&[[0.0, 0.0], [2.0, 0.0], [2.0, 0.0], [1.0, 1.0]], Some((0, 1)));
    }
}

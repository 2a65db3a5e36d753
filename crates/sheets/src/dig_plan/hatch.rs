//! The one hatch: "not recorded here".

use crate::page::{Pt, Rect, pt};

/// Distance between strokes in millimetres.
pub const SPACING_MM: f64 = 3.0;

/// What decides where the hatch goes. All in millimetres on the paper; rings count by even and odd.
#[derive(Debug, Default)]
pub struct Ground {
    /// The dig.
    pub dig: Vec<Vec<Pt>>,
    /// Inside the dig: not searched.
    pub unsearched: Vec<Vec<Vec<Pt>>>,
    /// Areas searched for every service, counted outside the dig.
    pub searched: Vec<Vec<Pt>>,
}

/// Returns the strokes of the hatch inside `view`: all that no search covers.
///
/// Inside the dig the answer's own unsearched polygons decide; outside it, the outlines of the searched areas.
pub fn strokes(ground: &Ground, view: &Rect) -> Vec<[Pt; 2]> {
    let step = SPACING_MM * std::f64::consts::SQRT_2;
    let (low, high) = (view.x + view.y, view.right() + view.bottom());
    let mut out = Vec::new();
    for k in (low / step).ceil() as i64..=(high / step).floor() as i64 {
        // Stroke x + y = c, told by its x.
        let c = k as f64 * step;
        let whole = (view.x.max(c - view.bottom()), view.right().min(c - view.y));
        if whole.0 >= whole.1 {
            continue;
        }
        let dig = crossings(&ground.dig, c);
        let mut outside = without(&[whole], &dig);
        for ring in &ground.searched {
            outside = without(&outside, &crossings(std::slice::from_ref(ring), c));
        }
        let mut inside = Vec::new();
        for polygon in &ground.unsearched {
            inside.extend(within(&crossings(polygon, c), whole));
        }
        for (a, b) in outside.into_iter().chain(inside) {
            if b - a > 1e-6 {
                out.push([pt(a, c - a), pt(b, c - b)]);
            }
        }
    }
    out
}

/// True when the place is hatched.
pub fn covers(ground: &Ground, at: Pt) -> bool {
    let inside = |rings: &[Vec<Pt>]| rings.iter().filter(|ring| holds(ring, at)).count() % 2 == 1;
    if inside(&ground.dig) {
        return ground.unsearched.iter().any(|polygon| inside(polygon));
    }
    !ground.searched.iter().any(|ring| holds(ring, at))
}

/// True when the place lies in the ring.
pub fn holds(ring: &[Pt], at: Pt) -> bool {
    let mut inside = false;
    for i in 0..ring.len() {
        let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
        if (a.y > at.y) != (b.y > at.y) && at.x < a.x + (b.x - a.x) * (at.y - a.y) / (b.y - a.y) {
            inside = !inside;
        }
    }
    inside
}

/// Returns the spans of x where the line x + y = c lies inside the rings.
fn crossings(rings: &[Vec<Pt>], c: f64) -> Vec<(f64, f64)> {
    let mut at = Vec::new();
    for ring in rings {
        for i in 0..ring.len() {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            let (fa, fb) = (a.x + a.y - c, b.x + b.y - c);
            if (fa < 0.0) != (fb < 0.0) {
                at.push(a.x + (b.x - a.x) * fa / (fa - fb));
            }
        }
    }
    at.sort_by(f64::total_cmp);
    at.chunks_exact(2).map(|p| (p[0], p[1])).collect()
}

fn within(spans: &[(f64, f64)], whole: (f64, f64)) -> Vec<(f64, f64)> {
    spans
        .iter()
        .map(|s| (s.0.max(whole.0), s.1.min(whole.1)))
        .filter(|s| s.0 < s.1)
        .collect()
}

fn without(spans: &[(f64, f64)], holes: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut left = spans.to_vec();
    for hole in holes {
        left = left
            .iter()
            .flat_map(|s| [(s.0, s.1.min(hole.0)), (s.0.max(hole.1), s.1)])
            .filter(|s| s.0 < s.1)
            .collect();
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, side: f64) -> Vec<Pt> {
        Rect::new(x, y, side, side).corners().to_vec()
    }

    fn hatched(strokes: &[[Pt; 2]], at: Pt) -> bool {
        // Nearest stroke no farther than half the spacing, measured across.
        strokes.iter().any(|s| {
            let c = s[0].x + s[0].y;
            let off = (at.x + at.y - c) / 2.0;
            off.abs() <= SPACING_MM / std::f64::consts::SQRT_2 && at.x - off >= s[0].x && at.x - off <= s[1].x
        })
    }

    #[test]
    fn all_is_hatched_but_what_was_searched() {
        let ground = Ground {
            dig: vec![square(40.0, 40.0, 20.0)],
            unsearched: vec![vec![square(40.0, 40.0, 10.0)]],
            searched: vec![square(30.0, 30.0, 40.0)],
        };
        let strokes = strokes(&ground, &Rect::new(0.0, 0.0, 100.0, 100.0));
        for at in [pt(10.0, 10.0), pt(34.0, 50.0), pt(45.0, 45.0), pt(56.0, 56.0)] {
            assert_eq!(covers(&ground, at), hatched(&strokes, at), "{at:?}");
        }
        assert!(hatched(&strokes, pt(10.0, 10.0)), "outside every search");
        assert!(!hatched(&strokes, pt(34.0, 50.0)), "searched, outside the dig");
        assert!(hatched(&strokes, pt(45.0, 45.0)), "unsearched part of the dig");
        assert!(!hatched(&strokes, pt(56.0, 56.0)), "searched part of the dig");
    }
}

//! From the site's grid to the paper: scale, part of the plan, clipping.

use crate::page::{Pt, Rect, pt};
use register::view::Near;

/// Standard scales, largest first.
pub const SCALES: [u32; 7] = [10, 20, 50, 100, 200, 250, 500];

/// A box of the site's grid in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// Least easting and northing.
    pub min: [f64; 2],
    /// Greatest easting and northing.
    pub max: [f64; 2],
}

impl Extent {
    /// Returns the box round places; nothing for none.
    pub fn of<'a>(places: impl IntoIterator<Item = &'a [Near; 2]>) -> Option<Extent> {
        let mut places = places.into_iter();
        let first = places.next()?;
        let start = Extent {
            min: [first[0].0, first[1].0],
            max: [first[0].0, first[1].0],
        };
        Some(places.fold(start, |e, p| Extent {
            min: [e.min[0].min(p[0].0), e.min[1].min(p[1].0)],
            max: [e.max[0].max(p[0].0), e.max[1].max(p[1].0)],
        }))
    }
    /// Returns it grown by `metres` on every side.
    pub fn grown(self, metres: f64) -> Extent {
        Extent {
            min: self.min.map(|v| v - metres),
            max: self.max.map(|v| v + metres),
        }
    }
    /// Returns its size: east-west, north-south.
    pub fn size(&self) -> [f64; 2] {
        [self.max[0] - self.min[0], self.max[1] - self.min[1]]
    }
    /// Returns its middle.
    pub fn middle(&self) -> [f64; 2] {
        [
            (self.min[0] + self.max[0]) / 2.0,
            (self.min[1] + self.max[1]) / 2.0,
        ]
    }
}

/// Places the site's grid on the paper; grid north is up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Where the plan may be drawn.
    pub view: Rect,
    /// 50 for 1:50.
    pub scale: u32,
    /// Easting and northing in the middle of the view.
    pub centre: [f64; 2],
}

impl Frame {
    /// Returns how many millimetres of paper `metres` are.
    pub fn mm(&self, metres: f64) -> f64 {
        metres * 1000.0 / f64::from(self.scale)
    }
    /// Returns the place of easting and northing.
    pub fn place(&self, easting: f64, northing: f64) -> Pt {
        let middle = self.view.middle();
        pt(
            middle.x + self.mm(easting - self.centre[0]),
            middle.y - self.mm(northing - self.centre[1]),
        )
    }
    /// Returns the places of a plan ring or line.
    pub fn places(&self, line: &[[Near; 2]]) -> Vec<Pt> {
        line.iter().map(|p| self.place(p[0].0, p[1].0)).collect()
    }
    /// Returns the places of a line with levels.
    pub fn places_3d(&self, line: &[[Near; 3]]) -> Vec<Pt> {
        line.iter().map(|p| self.place(p[0].0, p[1].0)).collect()
    }
    /// Returns the grid box seen.
    pub fn seen(&self) -> Extent {
        let half = |mm: f64| mm / 2.0 * f64::from(self.scale) / 1000.0;
        let (e, n) = (half(self.view.w), half(self.view.h));
        Extent {
            min: [self.centre[0] - e, self.centre[1] - n],
            max: [self.centre[0] + e, self.centre[1] + n],
        }
    }
}

/// Returns the part of a segment inside `view`, if any.
pub fn clip_segment(a: Pt, b: Pt, view: &Rect) -> Option<[Pt; 2]> {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let (mut t0, mut t1) = (0.0_f64, 1.0_f64);
    // Liang and Barsky (1984): the segment against each side in turn.
    for (p, q) in [
        (-dx, a.x - view.x),
        (dx, view.right() - a.x),
        (-dy, a.y - view.y),
        (dy, view.bottom() - a.y),
    ] {
        if p == 0.0 {
            if q < 0.0 {
                return None;
            }
        } else if p < 0.0 {
            t0 = t0.max(q / p);
        } else {
            t1 = t1.min(q / p);
        }
    }
    // An end that is inside is kept exactly.
    let at = |t: f64| pt(a.x + t * dx, a.y + t * dy);
    let end = if t1 == 1.0 { b } else { at(t1) };
    (t0 <= t1).then(|| [at(t0), end])
}

/// Returns the pieces of a line inside `view`.
pub fn clip_line(points: &[Pt], view: &Rect) -> Vec<Vec<Pt>> {
    let mut pieces: Vec<Vec<Pt>> = Vec::new();
    for pair in points.windows(2) {
        let Some([a, b]) = clip_segment(pair[0], pair[1], view) else {
            continue;
        };
        match pieces.last_mut() {
            Some(piece) if piece.last().is_some_and(|end| end.distance(a) < 1e-9) => piece.push(b),
            _ => pieces.push(vec![a, b]),
        }
    }
    pieces
}

/// Returns a ring as a line that ends where it began.
pub fn closed(ring: &[Pt]) -> Vec<Pt> {
    let mut line = ring.to_vec();
    if let (Some(first), Some(last)) = (ring.first(), ring.last())
        && first.distance(*last) > 1e-9
    {
        line.push(*first);
    }
    line
}

/// Returns the line without places that repeat the one before (risers in plan).
pub fn without_repeats(points: &[Pt]) -> Vec<Pt> {
    let mut out: Vec<Pt> = Vec::with_capacity(points.len());
    for p in points {
        if out.last().is_none_or(|last| last.distance(*p) > 0.01) {
            out.push(*p);
        }
    }
    out
}

/// Returns a line beside `points` (left of travel when positive), `off[i]` millimetres away at place `i`.
///
/// For drawing only: corners are mitred up to twice the distance.
pub fn beside(points: &[Pt], off: &[f64], side: f64) -> Vec<Pt> {
    let normal = |a: Pt, b: Pt| {
        let length = a.distance(b).max(1e-12);
        // y runs down: left of travel is (dy, -dx).
        pt((b.y - a.y) / length, -(b.x - a.x) / length)
    };
    (0..points.len())
        .map(|i| {
            let before = (i > 0).then(|| normal(points[i - 1], points[i]));
            let after = (i + 1 < points.len()).then(|| normal(points[i], points[i + 1]));
            let n = match (before, after) {
                (Some(a), Some(b)) => {
                    let sum = pt(a.x + b.x, a.y + b.y);
                    let square = (sum.x * sum.x + sum.y * sum.y).max(1e-9);
                    // 2 / |sum|^2 times the sum has unit distance to both edges.
                    let stretch = (2.0 / square).min(2.0 / square.sqrt());
                    pt(sum.x * stretch, sum.y * stretch)
                }
                (Some(n), None) | (None, Some(n)) => n,
                (None, None) => pt(0.0, 0.0),
            };
            let by = side * off.get(i).copied().unwrap_or(0.0);
            pt(points[i].x + by * n.x, points[i].y + by * n.y)
        })
        .collect()
}

/// Returns a ring round a place.
pub fn circle(at: Pt, radius: f64) -> Vec<Pt> {
    (0..32)
        .map(|k| {
            let (sin, cos) = (f64::from(k) * std::f64::consts::TAU / 32.0).sin_cos();
            pt(at.x + radius * cos, at.y + radius * sin)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_beside_a_square_corner_keeps_its_distance_to_both_legs() {
        let line = [pt(0.0, 0.0), pt(10.0, 0.0), pt(10.0, 10.0)];
        let beside = beside(&line, &[2.0; 3], 1.0);
        // Travelling right then down the sheet, left is up, then right.
        assert!(beside[0].distance(pt(0.0, -2.0)) < 1e-9);
        assert!(beside[1].distance(pt(12.0, -2.0)) < 1e-9);
        assert!(beside[2].distance(pt(12.0, 10.0)) < 1e-9);
    }

    #[test]
    fn a_clipped_line_keeps_its_vertices_inside_exactly() {
        let view = Rect::new(0.0, 0.0, 10.0, 10.0);
        let pieces = clip_line(&[pt(-5.0, 5.0), pt(0.1, 5.3), pt(3.0, 30.0)], &view);
        assert_eq!(pieces.len(), 1);
        assert_eq!(pieces[0][1], pt(0.1, 5.3));
        assert!(pieces[0].iter().all(|p| view.grown(1e-9).has(*p)));
    }
}

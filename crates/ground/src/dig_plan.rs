//! The plan of an excavation as convex pieces, and their overlay with a surface.

use std::f64::consts::TAU;

use crate::Vec2;
use crate::dig::{DigError, DigShape, check_number};
use crate::domain::Domain;
use crate::facet::{Affine, PlanBox, clip_to_side, edges, twice_signed_area};
use crate::surface::Surface;

/// What is left of a piece after the overlay counts when it is wider than this; less is rounding. Metres.
const CRACK_M: f64 = 1e-7;
/// Corners of the polygon about a disc.
const DISC_CORNERS: usize = 64;
/// Outlines with more triangles than this are not merged: it would cost more than it saves.
const MOST_MERGED: usize = 400;

/// A convex plan polygon, counter-clockwise, and a disc about every point of it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PlanPiece {
    pub(crate) corners: Vec<Vec2>,
    pub(crate) disc_m: f64,
}

/// Cuts the plan of a shape into convex pieces that together are exactly that plan.
pub(crate) fn plan_pieces(shape: &DigShape) -> Result<Vec<PlanPiece>, DigError> {
    let plain = |corners| PlanPiece { corners, disc_m: 0.0 };
    match shape {
        DigShape::Area { outline, holes } => {
            Ok(area_pieces(outline, holes)?.into_iter().map(plain).collect())
        }
        DigShape::Line { points, width_m } => {
            check_number("the width", *width_m, true)?;
            check_corners(points)?;
            let straights = points.windows(2).filter(|pair| pair[0] != pair[1]);
            let pieces: Vec<_> = straights
                .map(|pair| plain(straight(pair[0], pair[1], width_m / 2.0)))
                .collect();
            if pieces.is_empty() {
                Err(DigError::NoLength)
            } else {
                Ok(pieces)
            }
        }
        DigShape::Point { centre, radius_m } => {
            check_number("the radius", *radius_m, true)?;
            check_corners(&[*centre])?;
            Ok(vec![PlanPiece {
                corners: vec![*centre],
                disc_m: *radius_m,
            }])
        }
        DigShape::Bore { .. } => Err(DigError::NoFloor),
    }
}

/// Cuts pieces by a surface's facets: each part with its floor, and the parts that no facet reaches.
pub(crate) fn overlay(
    pieces: Vec<PlanPiece>,
    surface: &Surface,
    depth_m: f64,
) -> (Vec<(PlanPiece, Affine)>, Vec<PlanPiece>) {
    let mut floored = Vec::new();
    let mut unknown = Vec::new();
    for piece in pieces {
        let corners = if piece.disc_m > 0.0 {
            grown_polygon(&piece.corners, piece.disc_m, DISC_CORNERS)
        } else {
            piece.corners
        };
        let Some(around) = PlanBox::around(corners.iter().copied()) else {
            continue;
        };
        let mut left = vec![corners.clone()];
        surface.facets_in(&around, |facet| {
            let mut inside = corners.clone();
            for (a, b) in edges(facet.corners) {
                inside = clip_to_side(&inside, a, left_of(b - a));
                if inside.is_empty() {
                    return;
                }
            }
            floored.push((
                PlanPiece {
                    corners: inside,
                    disc_m: 0.0,
                },
                facet.plane.raised(-depth_m),
            ));
            left = left
                .iter()
                .flat_map(|part| outside_of(part, facet.corners))
                .collect();
        });
        unknown.extend(
            left.into_iter()
                .filter(|part| !is_crack(part))
                .map(|corners| PlanPiece { corners, disc_m: 0.0 }),
        );
    }
    (floored, unknown)
}

/// Returns the area that pieces cover together, square metres; overlaps count once.
pub(crate) fn joint_area_m2(pieces: &[PlanPiece]) -> f64 {
    use geo::Area;
    let polygons: Vec<_> = pieces
        .iter()
        .map(|piece| crate::searched::polygon_of(&piece.corners))
        .collect();
    geo::algorithm::unary_union(&polygons).unsigned_area()
}

/// Returns the convex polygon about a convex one (or a point, or a segment) moved out by `radius_m`.
///
/// Sides move out exactly; each rounded corner becomes tangents to its arc, `sides` of them to a full turn, so that
/// nothing of the rounded one is left out.
pub(crate) fn grown_polygon(corners: &[Vec2], radius_m: f64, sides: usize) -> Vec<Vec2> {
    let mut kept = corners.to_vec();
    kept.dedup();
    while kept.len() > 1 && kept.first() == kept.last() {
        kept.pop();
    }
    let count = kept.len();
    let step = TAU / sides as f64;
    let mut ring = Vec::with_capacity(sides + 2 * count);
    for i in 0..count {
        // Outward of a side is to its right.
        let outward = |from: Vec2, to: Vec2| (from.x - to.x).atan2(to.y - from.y);
        let (before, after) = (kept[(i + count - 1) % count], kept[(i + 1) % count]);
        let (first, turn) = if count == 1 {
            (0.0, TAU)
        } else {
            let first = outward(before, kept[i]);
            (first, (outward(kept[i], after) - first).rem_euclid(TAU))
        };
        // A corner that is straight but for rounding may seem to turn all the way round.
        let turn = if count > 2 && turn > 0.75 * TAU { 0.0 } else { turn };
        let parts = (turn / step).ceil().max(1.0);
        let out_m = radius_m / (turn / (2.0 * parts)).cos();
        for k in 0..parts as usize {
            let angle = first + (k as f64 + 0.5) * turn / parts;
            ring.push(kept[i] + Vec2::new(angle.cos(), angle.sin()) * out_m);
        }
    }
    ring
}

/// Returns the convex hull, counter-clockwise, by the monotone chain.
pub(crate) fn convex_hull(mut points: Vec<Vec2>) -> Vec<Vec2> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let chain = |points: &mut dyn Iterator<Item = &Vec2>| {
        let mut hull: Vec<Vec2> = Vec::new();
        for &p in points {
            while hull.len() >= 2
                && (hull[hull.len() - 1] - hull[hull.len() - 2]).perp(&(p - hull[hull.len() - 1])) <= 0.0
            {
                hull.pop();
            }
            hull.push(p);
        }
        hull.pop();
        hull
    };
    let mut hull = chain(&mut points.iter());
    hull.extend(chain(&mut points.iter().rev()));
    hull
}

fn check_corners(points: &[Vec2]) -> Result<(), DigError> {
    match points.iter().position(|p| !(p.x.is_finite() && p.y.is_finite())) {
        Some(corner) => Err(DigError::NotFinite { corner: corner + 1 }),
        None => Ok(()),
    }
}

fn left_of(v: Vec2) -> Vec2 {
    Vec2::new(-v.y, v.x)
}

fn straight(a: Vec2, b: Vec2, half_m: f64) -> Vec<Vec2> {
    let along = (b - a).normalize() * half_m;
    let left = left_of(along);
    vec![
        a - along - left,
        b + along - left,
        b + along + left,
        a - along + left,
    ]
}

fn area_pieces(outline: &[Vec2], holes: &[Vec<Vec2>]) -> Result<Vec<Vec<Vec2>>, DigError> {
    check_corners(outline)?;
    if holes.is_empty()
        && let Some(ring) = as_convex(outline)
    {
        return Ok(vec![ring]);
    }
    let bounds = Domain::new(&[outline.to_vec()])?;
    let mut rings = vec![outline.to_vec()];
    for (h, hole) in holes.iter().enumerate() {
        check_corners(hole)?;
        let inside = hole
            .first()
            .is_some_and(|&p| bounds.contains(p) || on_ring(outline, p));
        if !inside {
            return Err(DigError::HoleOutside { hole: h + 1 });
        }
        rings.push(hole.clone());
    }
    let domain = Domain::new(&rings)?;
    Ok(merge_convex(
        domain.triangles().iter().map(|t| t.to_vec()).collect(),
    ))
}

fn on_ring(ring: &[Vec2], p: Vec2) -> bool {
    edges(ring).any(|(a, b)| a != b && (b - a).perp(&(p - a)) == 0.0 && (p - a).dot(&(p - b)) <= 0.0)
}

/// Returns the ring counter-clockwise and without repeats if it is convex and runs round once.
fn as_convex(ring: &[Vec2]) -> Option<Vec<Vec2>> {
    let mut kept: Vec<Vec2> = Vec::with_capacity(ring.len());
    for &p in ring {
        if kept.last() != Some(&p) {
            kept.push(p);
        }
    }
    while kept.len() > 1 && kept.first() == kept.last() {
        kept.pop();
    }
    let area = twice_signed_area(&kept);
    if kept.len() < 3 || area == 0.0 {
        return None;
    }
    if area < 0.0 {
        kept.reverse();
    }
    let count = kept.len();
    let mut turns = 0;
    let mut was_east = None;
    for i in 0..count {
        let (into, out) = (
            kept[(i + 1) % count] - kept[i],
            kept[(i + 2) % count] - kept[(i + 1) % count],
        );
        if into.perp(&out) < 0.0 || (into.perp(&out) == 0.0 && into.dot(&out) < 0.0) {
            return None;
        }
        if into.x != 0.0 {
            turns += usize::from(was_east.is_some_and(|east| east != (into.x > 0.0)));
            was_east = Some(into.x > 0.0);
        }
    }
    (turns <= 2).then_some(kept)
}

/// Joins triangles over shared edges while the result stays convex: fewer pieces, the same area.
fn merge_convex(mut parts: Vec<Vec<Vec2>>) -> Vec<Vec<Vec2>> {
    if parts.len() > MOST_MERGED {
        return parts;
    }
    let mut i = 0;
    while i < parts.len() {
        let joined =
            (i + 1..parts.len()).find_map(|j| join_convex(&parts[i], &parts[j]).map(|ring| (j, ring)));
        match joined {
            Some((j, ring)) => {
                parts[i] = ring;
                parts.swap_remove(j);
            }
            None => i += 1,
        }
    }
    parts
}

fn join_convex(one: &[Vec2], two: &[Vec2]) -> Option<Vec<Vec2>> {
    let (n, m) = (one.len(), two.len());
    for i in 0..n {
        let (a, b) = (one[i], one[(i + 1) % n]);
        for j in 0..m {
            if two[j] == b && two[(j + 1) % m] == a {
                // Walk round `one` from b to a, then round `two` from a to b.
                let mut ring: Vec<Vec2> = (0..n).map(|k| one[(i + 1 + k) % n]).collect();
                ring.extend((2..m).map(|k| two[(j + k) % m]));
                let count = ring.len();
                let convex = (0..count).all(|k| {
                    let (p, q, r) = (ring[k], ring[(k + 1) % count], ring[(k + 2) % count]);
                    (q - p).perp(&(r - q)) >= 0.0
                });
                return convex.then_some(ring);
            }
        }
    }
    None
}

/// Cuts what lies outside a convex polygon off a convex part, as convex parts.
fn outside_of(part: &[Vec2], clip: &[Vec2]) -> Vec<Vec<Vec2>> {
    let mut cut = Vec::new();
    let mut rest = part.to_vec();
    for (a, b) in edges(clip) {
        let inward = left_of(b - a);
        let off = clip_to_side(&rest, a, -inward);
        if !off.is_empty() && !is_crack(&off) {
            cut.push(off);
        }
        rest = clip_to_side(&rest, a, inward);
        if rest.is_empty() {
            // Nothing of the part lies inside: keep it whole.
            return vec![part.to_vec()];
        }
    }
    cut
}

fn is_crack(part: &[Vec2]) -> bool {
    let around: f64 = edges(part).map(|(a, b)| (b - a).norm()).sum();
    twice_signed_area(part) <= CRACK_M * around
}

#[cfg(test)]
mod tests {
    use super::*;

    fn v(e: f64, n: f64) -> Vec2 {
        Vec2::new(e, n)
    }

    fn area(pieces: &[Vec<Vec2>]) -> f64 {
        pieces.iter().map(|ring| twice_signed_area(ring) / 2.0).sum()
    }

    #[test]
    fn an_l_shape_is_two_or_three_pieces_of_the_same_area() {
        let outline = [
            v(0.0, 0.0),
            v(6.0, 0.0),
            v(6.0, 2.0),
            v(2.0, 2.0),
            v(2.0, 5.0),
            v(0.0, 5.0),
        ];
        let pieces = area_pieces(&outline, &[]).unwrap();
        assert!(pieces.len() <= 3, "{pieces:?}");
        assert!((area(&pieces) - 18.0).abs() < 1e-12);
    }

    #[test]
    fn a_star_of_five_points_is_not_taken_for_convex() {
        // A pentagram turns left at every corner but runs round twice.
        let corner = |i: usize| {
            v(
                (TAU * (2 * i) as f64 / 5.0).cos(),
                (TAU * (2 * i) as f64 / 5.0).sin(),
            )
        };
        let star: Vec<Vec2> = (0..5).map(corner).collect();
        assert!(as_convex(&star).is_none());
        assert!(matches!(area_pieces(&star, &[]), Err(DigError::Outline(_))));
    }

    #[test]
    fn a_polygon_about_a_disc_holds_the_disc() {
        let ring = grown_polygon(&[v(3.0, 4.0)], 0.5, 64);
        let nearest = edges(&ring)
            .map(|(a, b)| (b - a).perp(&(v(3.0, 4.0) - a)) / (b - a).norm())
            .fold(f64::INFINITY, f64::min);
        assert!((nearest - 0.5).abs() < 1e-12, "{nearest}");
    }

    #[test]
    fn a_hole_that_lies_outside_is_refused() {
        let outline = [v(0.0, 0.0), v(6.0, 0.0), v(6.0, 6.0), v(0.0, 6.0)];
        let hole = vec![v(8.0, 1.0), v(9.0, 1.0), v(9.0, 2.0)];
        assert_eq!(
            area_pieces(&outline, &[hole]),
            Err(DigError::HoleOutside { hole: 1 })
        );
    }
}

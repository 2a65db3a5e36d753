//! A domain: the part of the plan over which a surface is known, as closed rings.

use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};

use crate::Vec2;
use crate::facet::{PlanBox, edges, twice_signed_area};

/// A ring that cannot bound an area.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DomainError {
    /// Fewer than three different corners, or no area between them.
    #[error(
        "boundary ring {ring}: its corners enclose no area; give at least three corners that do not lie in one line"
    )]
    NoArea {
        /// Ring, counted from 1.
        ring: usize,
    },
    /// Two sides cross or lie upon one another.
    #[error(
        "boundary ring {ring}: the side from corner {corner} ({easting:.3}, {northing:.3}) crosses another side; check the order of the corners"
    )]
    Crosses {
        /// Ring, counted from 1.
        ring: usize,
        /// Corner where the side starts, counted from 1.
        corner: usize,
        /// Its easting, metres.
        easting: f64,
        /// Its northing, metres.
        northing: f64,
    },
    /// A coordinate is not a finite number.
    #[error(
        "boundary ring {ring}: corner {corner} is not a finite position; give its easting and northing in metres"
    )]
    NotFinite {
        /// Ring, counted from 1.
        ring: usize,
        /// Corner, counted from 1.
        corner: usize,
    },
    /// An outline lies inside another one, where it bounds nothing.
    #[error(
        "boundary ring {ring} lies inside another boundary ring; name it as a hole if there is no surface in it, or leave it out"
    )]
    OutlineInside {
        /// Ring, counted from 1.
        ring: usize,
    },
    /// A hole takes nothing from any outline.
    #[error(
        "ring {ring}, a hole, lies outside every boundary ring; check its order of easting and northing, or leave it out"
    )]
    HoleOutside {
        /// Ring, counted from 1, the outlines first.
        ring: usize,
    },
    /// The holes take everything.
    #[error("the holes leave nothing of the boundary rings; check which rings are holes")]
    NothingLeft,
}

/// An area in plan: outlines and the holes in them.
#[derive(Debug, Clone, PartialEq)]
pub struct Domain {
    rings: Vec<Vec<Vec2>>,
    /// How many rings are outlines, where that is known; the others are holes. Otherwise the even-odd rule holds.
    outlines: Option<usize>,
    triangles: Vec<[Vec2; 3]>,
}

impl Domain {
    /// Makes a domain of closed rings, outlines and holes in any order and sense, by the even-odd rule.
    ///
    /// A ring may repeat its first corner at its end or not. Rings may touch at corners.
    /// # Errors
    /// [`DomainError`] when a ring has no area, a side crosses another, or a corner is not finite.
    pub fn new(rings: &[Vec<Vec2>]) -> Result<Domain, DomainError> {
        Domain::of_rings(rings, None)
    }

    /// Makes a domain of what lies in an outline and in no hole.
    ///
    /// Rings may touch at corners. Errors count the outlines first, then the holes.
    /// # Errors
    /// [`DomainError`]: as for [`Domain::new`]; an outline inside another, a hole outside all of them, or holes that
    /// leave nothing.
    pub fn with_holes(outlines: &[Vec<Vec2>], holes: &[Vec<Vec2>]) -> Result<Domain, DomainError> {
        let rings: Vec<Vec<Vec2>> = outlines.iter().chain(holes).cloned().collect();
        let domain = Domain::of_rings(&rings, Some(outlines.len()))?;
        let (outlines, holes) = domain.rings.split_at(outlines.len());
        // No two sides cross, so a ring lies inside another with a point of its inside, or not at all.
        for (r, ring) in outlines.iter().enumerate() {
            let others: Vec<&Vec<Vec2>> = outlines
                .iter()
                .enumerate()
                .filter(|(other, _)| *other != r)
                .map(|(_, other)| other)
                .collect();
            if others.is_empty() {
                break;
            }
            let inner = point_within(ring).ok_or(DomainError::NoArea { ring: r + 1 })?;
            if others
                .iter()
                .any(|other| even_odd(std::slice::from_ref(*other), inner))
            {
                return Err(DomainError::OutlineInside { ring: r + 1 });
            }
        }
        if domain.triangles.is_empty() {
            return Err(DomainError::NothingLeft);
        }
        for (h, hole) in holes.iter().enumerate() {
            let ring = outlines.len() + h + 1;
            let inner = point_within(hole).ok_or(DomainError::NoArea { ring })?;
            if !outlines
                .iter()
                .any(|outline| even_odd(std::slice::from_ref(outline), inner))
            {
                return Err(DomainError::HoleOutside { ring });
            }
        }
        Ok(domain)
    }

    fn of_rings(rings: &[Vec<Vec2>], outlines: Option<usize>) -> Result<Domain, DomainError> {
        let rings: Vec<Vec<Vec2>> = rings.iter().map(|ring| without_repeats(ring)).collect();
        let mut points = Vec::new();
        let mut sides = Vec::new();
        for (r, ring) in rings.iter().enumerate() {
            if let Some(c) = ring.iter().position(|p| !(p.x.is_finite() && p.y.is_finite())) {
                return Err(DomainError::NotFinite {
                    ring: r + 1,
                    corner: c + 1,
                });
            }
            if ring.len() < 3 || twice_signed_area(ring) == 0.0 {
                return Err(DomainError::NoArea { ring: r + 1 });
            }
            for c in 0..ring.len() {
                sides.push((r, c));
            }
            points.extend_from_slice(ring);
        }
        let mut domain = Domain {
            triangles: Vec::new(),
            rings,
            outlines,
        };
        domain.triangles = triangulate(&domain.rings, &sides)?
            .into_iter()
            .filter(|t| domain.contains((t[0] + t[1] + t[2]) / 3.0))
            .collect();
        Ok(domain)
    }

    /// Returns the rings, without the repeated last corner.
    pub fn rings(&self) -> &[Vec<Vec2>] {
        &self.rings
    }

    /// Returns triangles, counter-clockwise, that fill the domain without overlap.
    pub fn triangles(&self) -> &[[Vec2; 3]] {
        &self.triangles
    }

    /// Returns the box round the domain, `None` when it has no rings.
    pub fn bounds(&self) -> Option<PlanBox> {
        PlanBox::around(self.rings.iter().flatten().copied())
    }

    /// Tells whether a plan position lies inside; on the boundary either answer may come.
    pub fn contains(&self, p: Vec2) -> bool {
        match self.outlines {
            None => even_odd(&self.rings, p),
            Some(outlines) => {
                let in_one =
                    |rings: &[Vec<Vec2>]| rings.iter().any(|ring| even_odd(std::slice::from_ref(ring), p));
                let (outlines, holes) = self.rings.split_at(outlines);
                in_one(outlines) && !in_one(holes)
            }
        }
    }

    /// Returns the area, square metres.
    pub fn area_m2(&self) -> f64 {
        self.triangles.iter().map(|t| twice_signed_area(t) / 2.0).sum()
    }
}

fn without_repeats(ring: &[Vec2]) -> Vec<Vec2> {
    let mut kept: Vec<Vec2> = Vec::with_capacity(ring.len());
    for &p in ring {
        if kept.last() != Some(&p) {
            kept.push(p);
        }
    }
    while kept.len() > 1 && kept.first() == kept.last() {
        kept.pop();
    }
    kept
}

fn even_odd(rings: &[Vec<Vec2>], p: Vec2) -> bool {
    let mut inside = false;
    for (a, b) in rings.iter().flat_map(|ring| edges(ring)) {
        if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) {
            inside = !inside;
        }
    }
    inside
}

fn triangulate(rings: &[Vec<Vec2>], sides: &[(usize, usize)]) -> Result<Vec<[Vec2; 3]>, DomainError> {
    let mut mesh: ConstrainedDelaunayTriangulation<Point2<f64>> = ConstrainedDelaunayTriangulation::new();
    let mut handles = Vec::with_capacity(rings.len());
    for (r, ring) in rings.iter().enumerate() {
        let mut ring_handles = Vec::with_capacity(ring.len());
        for (c, p) in ring.iter().enumerate() {
            let handle = mesh
                .insert(Point2::new(
                    spade::mitigate_underflow(Point2::new(p.x, 0.0)).x,
                    spade::mitigate_underflow(Point2::new(p.y, 0.0)).x,
                ))
                .map_err(|_cause| DomainError::NotFinite {
                    ring: r + 1,
                    corner: c + 1,
                })?;
            ring_handles.push(handle);
        }
        handles.push(ring_handles);
    }
    for &(r, c) in sides {
        let (from, to) = (handles[r][c], handles[r][(c + 1) % handles[r].len()]);
        // A side already there is a side that lies upon another one: the ring runs back over itself.
        let doubled = mesh.exists_constraint(from, to);
        if from == to || doubled || mesh.try_add_constraint(from, to).is_empty() {
            let p = rings[r][c];
            return Err(DomainError::Crosses {
                ring: r + 1,
                corner: c + 1,
                easting: p.x,
                northing: p.y,
            });
        }
    }
    Ok(mesh
        .inner_faces()
        .map(|face| face.positions().map(|p| Vec2::new(p.x, p.y)))
        .collect())
}

/// Returns a point well inside a ring that does not cross itself: the middle of the largest triangle in it.
fn point_within(ring: &[Vec2]) -> Option<Vec2> {
    let sides: Vec<(usize, usize)> = (0..ring.len()).map(|c| (0, c)).collect();
    let rings = [ring.to_vec()];
    let largest = triangulate(&rings, &sides)
        .ok()?
        .into_iter()
        .filter(|t| even_odd(&rings, (t[0] + t[1] + t[2]) / 3.0))
        .max_by(|a, b| twice_signed_area(a).total_cmp(&twice_signed_area(b)))?;
    Some((largest[0] + largest[1] + largest[2]) / 3.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(corners: &[(f64, f64)]) -> Vec<Vec2> {
        corners.iter().map(|&(e, n)| Vec2::new(e, n)).collect()
    }

    #[test]
    fn a_hole_is_not_part_of_the_domain() {
        let outline = ring(&[(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0), (0.0, 0.0)]);
        let hole = ring(&[(2.0, 2.0), (4.0, 2.0), (4.0, 5.0), (2.0, 5.0)]);
        let domain = Domain::new(&[outline, hole]).unwrap();
        assert!((domain.area_m2() - 74.0).abs() < 1e-12);
        assert!(domain.contains(Vec2::new(1.0, 1.0)) && !domain.contains(Vec2::new(3.0, 3.0)));
    }

    #[test]
    fn a_bow_tie_is_refused_and_says_which_side() {
        let refused = Domain::new(&[ring(&[(0.0, 0.0), (4.0, 4.0), (4.0, 0.0), (0.0, 5.0)])]);
        assert!(
            matches!(refused, Err(DomainError::Crosses { ring: 1, .. })),
            "{refused:?}"
        );
    }

    #[test]
    fn rings_named_as_what_they_are_not_are_refused_and_not_taken_by_turns() {
        let square =
            |at: f64, side: f64| ring(&[(at, at), (at + side, at), (at + side, at + side), (at, at + side)]);
        let (outer, inner, apart) = (square(0.0, 10.0), square(2.0, 3.0), square(20.0, 2.0));
        // Areas of squares: 100 - 9.
        let of = |outlines: &[&Vec<Vec2>], holes: &[&Vec<Vec2>]| {
            let owned = |rings: &[&Vec<Vec2>]| rings.iter().map(|ring| (*ring).clone()).collect::<Vec<_>>();
            Domain::with_holes(&owned(outlines), &owned(holes))
        };
        let domain = of(&[&outer], &[&inner]).unwrap();
        assert!((domain.area_m2() - 91.0).abs() < 1e-12);
        assert!(!domain.contains(Vec2::new(3.0, 3.0)) && domain.contains(Vec2::new(1.0, 1.0)));
        // Two outlines apart: 100 + 4.
        let two = of(&[&outer, &apart], &[]).unwrap();
        assert!((two.area_m2() - 104.0).abs() < 1e-12);
        assert_eq!(
            of(&[&outer, &inner], &[]),
            Err(DomainError::OutlineInside { ring: 2 })
        );
        assert_eq!(
            of(&[&outer], &[&inner, &apart]),
            Err(DomainError::HoleOutside { ring: 3 })
        );
        assert_eq!(of(&[&inner], &[&outer]), Err(DomainError::NothingLeft));
        let across = ring(&[(8.0, 4.0), (12.0, 4.0), (12.0, 6.0), (8.0, 6.0)]);
        let refused = of(&[&outer], &[&across]);
        assert!(matches!(refused, Err(DomainError::Crosses { .. })), "{refused:?}");
    }

    #[test]
    fn a_line_or_nothing_is_refused() {
        assert_eq!(
            Domain::new(&[ring(&[(0.0, 0.0), (4.0, 4.0), (2.0, 2.0)])]),
            Err(DomainError::NoArea { ring: 1 })
        );
        assert_eq!(
            Domain::new(&[ring(&[(0.0, f64::NAN), (4.0, 4.0), (2.0, 0.0)])]),
            Err(DomainError::NotFinite { ring: 1, corner: 1 })
        );
    }
}

//! A surface: levels over a plan domain, as convex facets that are each affine.
//!
//! A level or a plane may reach everywhere or only over a [`Domain`]; a triangulation ([`crate::tin`]) reaches
//! over its own triangles. Outside its domain a surface has no level, and nothing here makes one up.

use crate::domain::Domain;
use crate::facet::{Affine, Facet, PlanBox, clip_convex, edges};
use crate::facet_grid::FacetGrid;
use crate::{Vec2, Vec3};

/// How far outside a facet a position still counts as on it, when no facet holds it exactly. Metres.
///
/// Only so that rounding opens no cracks between facets.
const CRACK_M: f64 = 1e-9;

/// A surface of levels, in the site frame.
///
/// Where two values meet or facets overlap (a wall, a kerb, zones), the lower one is the surface.
#[derive(Debug, Clone)]
pub struct Surface {
    everywhere: Option<Affine>,
    points: Vec<Vec3>,
    triangles: Vec<[u32; 3]>,
    pieces: Vec<Piece>,
    grid: FacetGrid,
    rims: Vec<[Vec2; 2]>,
    rim_grid: FacetGrid,
    bounds: Option<PlanBox>,
}

/// A facet that is not a plain triangle between surface points: it keeps its plane.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    pub(crate) corners: Vec<Vec2>,
    pub(crate) plane: Affine,
}

impl Surface {
    /// Returns the surface that is the same plane everywhere.
    pub fn plane(plane: Affine) -> Surface {
        let mut surface = Surface::of_parts(Vec::new(), Vec::new(), Vec::new(), Vec::new());
        surface.everywhere = Some(plane);
        surface
    }

    /// Returns the surface at one level everywhere.
    pub fn level(level_m: f64) -> Surface {
        Surface::plane(Affine::level(level_m))
    }

    /// Returns a plane over a domain only.
    pub fn plane_within(plane: Affine, domain: &Domain) -> Surface {
        let pieces = domain
            .triangles()
            .iter()
            .map(|t| Piece {
                corners: t.to_vec(),
                plane,
            })
            .collect();
        let rims = domain
            .rings()
            .iter()
            .flat_map(|ring| edges(ring).map(|(a, b)| [a, b]))
            .collect();
        Surface::of_parts(Vec::new(), Vec::new(), pieces, rims)
    }

    /// Returns one level over a domain only.
    pub fn level_within(level_m: f64, domain: &Domain) -> Surface {
        Surface::plane_within(Affine::level(level_m), domain)
    }

    /// Makes a surface of facets; `rims` must hold at least every edge of the domain's boundary, and nothing that
    /// runs through its inside.
    pub(crate) fn of_parts(
        points: Vec<Vec3>,
        triangles: Vec<[u32; 3]>,
        pieces: Vec<Piece>,
        rims: Vec<[Vec2; 2]>,
    ) -> Surface {
        let bounds = PlanBox::around(
            triangles
                .iter()
                .flatten()
                .map(|&i| points[i as usize].xy())
                .chain(pieces.iter().flat_map(|piece| piece.corners.iter().copied())),
        );
        let grid = FacetGrid::build(triangles.len() + pieces.len(), |id, corners| {
            corners.clear();
            match triangles.get(id) {
                Some(triangle) => corners.extend(triangle.iter().map(|&i| points[i as usize].xy())),
                None => corners.extend_from_slice(&pieces[id - triangles.len()].corners),
            }
        });
        let rim_grid = FacetGrid::build(rims.len(), |id, corners| {
            corners.clear();
            corners.extend_from_slice(&rims[id]);
        });
        Surface {
            everywhere: None,
            points,
            triangles,
            pieces,
            grid,
            rims,
            rim_grid,
            bounds,
        }
    }

    /// Returns the plane when this surface is one plane everywhere.
    pub fn everywhere(&self) -> Option<Affine> {
        self.everywhere
    }

    /// Returns the box round the domain; `None` for a surface that reaches everywhere.
    pub fn bounds(&self) -> Option<PlanBox> {
        self.bounds
    }

    /// Returns how many facets the surface has; 0 for one that reaches everywhere.
    pub fn facet_count(&self) -> usize {
        self.triangles.len() + self.pieces.len()
    }

    /// Returns the level at a plan position, metres; `None` is "no surface here".
    ///
    /// The domain is closed: its boundary, and positions within a nanometre of it, have a level.
    pub fn level_at(&self, p: Vec2) -> Option<f64> {
        self.lowest_plane_at(p).map(|(level, _)| level)
    }

    /// Returns the plane of the facet that gives the level at a position, hence the gradient there.
    pub fn plane_at(&self, p: Vec2) -> Option<Affine> {
        self.lowest_plane_at(p).map(|(_, plane)| plane)
    }

    /// Visits, once each, every facet whose plan box touches the box (a plane everywhere: the box itself).
    ///
    /// Facets are whole, not clipped to the box. Found through a grid; the cost follows the facets near the box.
    pub fn facets_in(&self, within: &PlanBox, mut visit: impl FnMut(&Facet<'_>)) {
        if let Some(plane) = self.everywhere {
            visit(&Facet {
                corners: &within.corners(),
                plane,
            });
            return;
        }
        let mut found = Vec::new();
        self.grid.collect(within, &mut found);
        for id in found {
            self.with_facet(id, |facet| {
                if PlanBox::around(facet.corners.iter().copied()).is_some_and(|own| own.meets(within)) {
                    visit(facet);
                }
            });
        }
    }

    /// Returns the highest level over the part of the domain inside a box, `None` when there is no such part.
    ///
    /// Where facets overlap the higher counts: never below the surface's own highest.
    pub fn max_level_in(&self, within: &PlanBox) -> Option<f64> {
        let mut highest: Option<f64> = None;
        self.facets_in(within, |facet| {
            for corner in clip_convex(facet.corners, &within.corners()) {
                let level = facet.plane.at(corner);
                highest = Some(highest.map_or(level, |h| h.max(level)));
            }
        });
        highest
    }

    /// Returns the highest level of the whole surface; `None` for one that reaches everywhere and slopes.
    pub fn max_level(&self) -> Option<f64> {
        match (self.everywhere, self.bounds) {
            (Some(plane), _) => (plane.gradient == Vec2::zeros()).then_some(plane.anchor.z),
            (None, Some(bounds)) => self.max_level_in(&bounds.grown(1.0)),
            (None, None) => None,
        }
    }

    /// Tells whether the whole disc lies in the domain; touching the boundary from inside does.
    pub fn covers_disc(&self, centre: Vec2, radius_m: f64) -> bool {
        if self.everywhere.is_some() {
            return true;
        }
        if self.level_at(centre).is_none() {
            return false;
        }
        let mut whole = true;
        self.rims_in(
            &PlanBox {
                min: centre,
                max: centre,
            }
            .grown(radius_m),
            |a, b| {
                whole &= distance_to_segment(centre, a, b) >= radius_m - CRACK_M;
            },
        );
        whole
    }

    /// Visits every boundary edge that may touch a box. An edge of a clipping ring may also lie outside the domain.
    pub fn rims_in(&self, within: &PlanBox, mut visit: impl FnMut(Vec2, Vec2)) {
        let mut found = Vec::new();
        self.rim_grid.collect(within, &mut found);
        for id in found {
            let [a, b] = self.rims[id as usize];
            visit(a, b);
        }
    }

    fn with_facet<T>(&self, id: u32, act: impl FnOnce(&Facet<'_>) -> T) -> T {
        let id = id as usize;
        match self.triangles.get(id) {
            Some(&[a, b, c]) => {
                let (a, b, c) = (
                    self.points[a as usize],
                    self.points[b as usize],
                    self.points[c as usize],
                );
                // A triangle that has no plane is never stored; a level at its lowest corner stays on the safe side.
                let plane = Affine::through(a, b, c).unwrap_or(Affine::level(a.z.min(b.z).min(c.z)));
                act(&Facet {
                    corners: &[a.xy(), b.xy(), c.xy()],
                    plane,
                })
            }
            None => {
                let piece = &self.pieces[id - self.triangles.len()];
                act(&Facet {
                    corners: &piece.corners,
                    plane: piece.plane,
                })
            }
        }
    }

    fn lowest_plane_at(&self, p: Vec2) -> Option<(f64, Affine)> {
        if let Some(plane) = self.everywhere {
            return Some((plane.at(p), plane));
        }
        self.lowest_within(p, 0.0)
            .or_else(|| self.lowest_within(p, CRACK_M))
    }

    fn lowest_within(&self, p: Vec2, slack_m: f64) -> Option<(f64, Affine)> {
        let mut lowest: Option<(f64, Affine)> = None;
        for &id in self.grid.at(p) {
            self.with_facet(id, |facet| {
                if facet.holds(p, slack_m) {
                    let level = facet.plane.at(p);
                    if lowest.is_none_or(|(low, _)| level < low) {
                        lowest = Some((level, facet.plane));
                    }
                }
            });
        }
        lowest
    }
}

/// Returns the plan distance from a position to a segment, metres.
pub(crate) fn distance_to_segment(p: Vec2, a: Vec2, b: Vec2) -> f64 {
    let along = b - a;
    let length2 = along.norm_squared();
    let share = if length2 > 0.0 {
        ((p - a).dot(&along) / length2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (a + along * share - p).norm()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(side: f64) -> Domain {
        Domain::new(&[vec![
            Vec2::zeros(),
            Vec2::new(side, 0.0),
            Vec2::new(side, side),
            Vec2::new(0.0, side),
        ]])
        .unwrap()
    }

    #[test]
    fn a_level_over_a_domain_has_no_level_outside_it() {
        let slab = Surface::level_within(10.0, &square(5.0));
        assert_eq!(slab.level_at(Vec2::new(1.0, 4.0)), Some(10.0));
        assert_eq!(slab.level_at(Vec2::new(5.0, 5.0)), Some(10.0));
        assert_eq!(slab.level_at(Vec2::new(5.001, 4.0)), None);
    }

    #[test]
    fn a_disc_that_pokes_over_the_edge_is_not_covered() {
        let slab = Surface::level_within(10.0, &square(5.0));
        assert!(slab.covers_disc(Vec2::new(1.0, 2.0), 1.0));
        assert!(!slab.covers_disc(Vec2::new(1.0, 2.0), 1.001));
        assert!(!slab.covers_disc(Vec2::new(-1.0, 2.0), 0.1));
        assert!(Surface::level(3.0).covers_disc(Vec2::new(1e5, 1e5), 1e3));
    }

    #[test]
    fn the_highest_level_in_a_box_is_at_a_corner_of_the_shared_part() {
        // Closed form: z = 0.1 e over a 5 m square, asked from 2 m to 9 m: highest at the square's edge, e = 5.
        let plane = Affine {
            anchor: Vec3::zeros(),
            gradient: Vec2::new(0.1, 0.0),
        };
        let ramp = Surface::plane_within(plane, &square(5.0));
        let asked = PlanBox {
            min: Vec2::new(2.0, 1.0),
            max: Vec2::new(9.0, 2.0),
        };
        assert!((ramp.max_level_in(&asked).unwrap() - 0.5).abs() < 1e-12);
        assert_eq!(
            ramp.max_level_in(&PlanBox {
                min: Vec2::new(6.0, 6.0),
                max: Vec2::new(7.0, 7.0)
            }),
            None
        );
    }
}

//! The cover over one convex body of a tube: least, greatest and shortest.

use crate::disc_cover::below_nought;
use crate::facet::{Affine, Facet, PlanBox, edges};
use crate::plumb::plumb_height;
use crate::solid::{Body, Pit, Solid};
use crate::surface::{Surface, distance_to_segment};
use crate::{Vec2, Vec3};

/// The greatest cover is proven to within this. Metres.
const GREATEST_M: f64 = 5e-5;
/// Stretches of axis shorter than this are not split further; met only beside the edge of the domain. Metres.
const SHORTEST_STRETCH_M: f64 = 1e-4;

/// A cover, where along the body it is (0 to 1), and the point of the body under it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Found {
    pub(crate) cover_m: f64,
    pub(crate) along: f64,
    pub(crate) on_body: Vec3,
}

/// One facet of the surface, kept as the solid that stands on it.
pub(crate) struct Ground {
    corners: Vec<Vec2>,
    plane: Affine,
    own: PlanBox,
    solid: Solid,
}

impl Ground {
    fn of(facet: &Facet<'_>) -> Option<Ground> {
        Some(Ground {
            corners: facet.corners.to_vec(),
            plane: facet.plane,
            own: PlanBox::around(facet.corners.iter().copied())?,
            solid: Solid::Pit(Pit {
                corners: facet
                    .corners
                    .iter()
                    .map(|p| Vec3::new(p.x, p.y, facet.plane.at(*p)))
                    .collect(),
                disc_m: 0.0,
                gradient: Vec2::zeros(),
                out_m: 0.0,
                batter: 0.0,
                batter_height_m: 0.0,
                floor_known: true,
            }),
        })
    }

    /// What stands on the facet.
    pub(crate) fn solid(&self) -> &Solid {
        &self.solid
    }

    /// The cover as if the facet's plane went on for ever: never more than over the facet itself.
    fn under_plane(&self, body: &Body) -> Found {
        let d = Vec3::new(-self.plane.gradient.x, -self.plane.gradient.y, 1.0);
        let (core, end) = body.support(d);
        let on_body = core + d * (body.ball_m / d.norm());
        Found {
            cover_m: self.plane.at(on_body.xy()) - on_body.z,
            along: end as f64,
            on_body,
        }
    }

    fn holds(&self, p: Vec2) -> bool {
        Facet {
            corners: &self.corners,
            plane: self.plane,
        }
        .holds(p, 0.0)
    }

    /// The shares of a body at which its section may lie under this facet.
    fn shares_under(&self, body: &Body) -> Option<(f64, f64)> {
        let reach_m = body.reach_m();
        below_nought(|t| {
            let p = (body.ends[0] + (body.ends[1] - body.ends[0]) * t).xy();
            let apart_m = if self.holds(p) {
                0.0
            } else {
                edges(&self.corners)
                    .map(|(a, b)| distance_to_segment(p, a, b))
                    .fold(f64::INFINITY, f64::min)
            };
            apart_m - reach_m
        })
    }

    /// The cover under this facet, or `None` when the body is nowhere under it; not followed beyond `beyond_m`.
    fn cover(&self, body: &Body, under_plane: Found, beyond_m: f64) -> Option<Found> {
        if self.holds(under_plane.on_body.xy()) {
            return Some(under_plane);
        }
        let height = plumb_height(body, &self.solid, beyond_m)?;
        Some(Found {
            // Both are proven; the larger is the nearer to the exact one.
            cover_m: height.lower_m.max(under_plane.cover_m),
            along: height.along,
            on_body: height.on_leg,
        })
    }
}

/// Collects the facets whose boxes touch the plan of a body moved out by `margin_m`.
pub(crate) fn ground_over(surface: &Surface, body: &Body, margin_m: f64) -> Vec<Ground> {
    let mut ground = Vec::new();
    let mut within = body.plan_box().grown(margin_m);
    if surface.everywhere().is_some() {
        within = within.grown(1.0);
    }
    surface.facets_in(&within, |facet| ground.extend(Ground::of(facet)));
    ground
}

/// Returns the least cover over a whole body; `None` when no surface lies over it.
pub(crate) fn least(ground: &[Ground], body: &Body) -> Option<Found> {
    let mut order: Vec<(Found, &Ground)> = ground.iter().map(|one| (one.under_plane(body), one)).collect();
    order.sort_by(|a, b| a.0.cover_m.total_cmp(&b.0.cover_m));
    let mut least: Option<Found> = None;
    for (under_plane, one) in order {
        let beyond_m = least.map_or(f64::INFINITY, |found| found.cover_m);
        if under_plane.cover_m >= beyond_m {
            break;
        }
        if let Some(found) = one.cover(body, under_plane, beyond_m)
            && found.cover_m < beyond_m
        {
            least = Some(found);
        }
    }
    least
}

/// Returns the greatest of the covers at the positions along a body, proven from above.
///
/// Under each facet the cover is convex along the body, so between two positions it is at most the larger of its
/// values at both; the least of these over the facets bounds the cover between them.
pub(crate) fn greatest(ground: &[Ground], body: &Body) -> Option<Found> {
    let at = |t: f64| {
        let section = at_share(body, t);
        let reach = section.plan_box();
        let covers: Vec<Option<Found>> = ground
            .iter()
            .map(|one| {
                if !one.own.meets(&reach) {
                    return None;
                }
                one.cover(&section, one.under_plane(&section), f64::INFINITY)
            })
            .collect();
        let least = covers
            .iter()
            .flatten()
            .copied()
            .reduce(|a, b| if b.cover_m < a.cover_m { b } else { a });
        (t, covers, least.map(|found| Found { along: t, ..found }))
    };
    let length_m = (body.ends[1] - body.ends[0]).norm();
    // Between these shares the same facets lie over the section all along.
    let mut cuts = vec![0.0, 1.0];
    let under: Vec<(f64, f64)> = ground.iter().filter_map(|one| one.shares_under(body)).collect();
    cuts.extend(under.iter().flat_map(|&(from, to)| [from, to]));
    cuts.sort_unstable_by(f64::total_cmp);
    cuts.dedup();
    let mut open = Vec::with_capacity(cuts.len());
    let mut best: Option<Found> = None;
    let mut before = at(0.0);
    for pair in cuts.windows(2) {
        let after = at(pair[1]);
        for found in [before.2, after.2].into_iter().flatten() {
            if best.is_none_or(|b| found.cover_m > b.cover_m) {
                best = Some(found);
            }
        }
        let middle = (pair[0] + pair[1]) / 2.0;
        if under.iter().any(|&(from, to)| from <= middle && middle <= to) {
            open.push((before, after.clone()));
        }
        before = after;
    }
    let mut proven_m = f64::NEG_INFINITY;
    while let Some((a, b)) = open.pop() {
        let bound_m =
            a.1.iter()
                .zip(&b.1)
                .filter_map(|(at_a, at_b)| Some(at_a.as_ref()?.cover_m.max(at_b.as_ref()?.cover_m)))
                .fold(f64::INFINITY, f64::min);
        let reached_m = best.map_or(f64::NEG_INFINITY, |found| found.cover_m);
        if bound_m <= reached_m + GREATEST_M {
            proven_m = proven_m.max(bound_m);
            continue;
        }
        if (b.0 - a.0) * length_m <= SHORTEST_STRETCH_M {
            continue;
        }
        let middle = at((a.0 + b.0) / 2.0);
        if let Some(found) = middle.2
            && found.cover_m > reached_m
        {
            best = Some(found);
        }
        open.push((middle.clone(), b));
        open.push((a, middle));
    }
    best.map(|found| Found {
        cover_m: found.cover_m.max(proven_m),
        ..found
    })
}

/// The body's section at a share of its length.
fn at_share(body: &Body, t: f64) -> Body {
    let mix = |pair: [f64; 2]| [pair[0] + (pair[1] - pair[0]) * t; 2];
    let axis = body.ends[0] + (body.ends[1] - body.ends[0]) * t;
    Body {
        ends: [axis; 2],
        out_m: mix(body.out_m),
        up_m: mix(body.up_m),
        ..*body
    }
}

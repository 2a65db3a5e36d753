//! How high a battered side runs: from a piece's lowest floor to the surface over the piece and its own batter.

use crate::Vec2;
use crate::dig::DigError;
use crate::dig_plan::grown_polygon;
use crate::facet::{PlanBox, clip_convex};
use crate::solid::Pit;
use crate::surface::Surface;

/// Where a batter ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct BatterTop {
    /// Height above the piece's lowest floor, metres.
    pub(crate) height_m: f64,
    /// Whether the surface does not reach all of the ground that the batter cuts.
    pub(crate) beyond: bool,
}

/// Corners of the polygon that stands for a rounded one; it is the larger, so a batter never ends too low.
const SIDES: usize = 32;
/// The height is found when it grows by less than this, metres; then this much is added.
const SETTLED_M: f64 = 1e-6;
const MOST_STEPS: usize = 200;

/// Finds the height up to which a piece's batter runs: the least one that meets its own definition.
///
/// Starting from the piece itself, the height can only grow, and the highest level of the surface caps it.
/// # Errors
/// [`DigError::NeverDaylights`] on a plane that rises as fast as the batter runs out.
pub(crate) fn batter_top(pit: &Pit, batter: f64, surface: &Surface) -> Result<BatterTop, DigError> {
    let floor_m = pit.lowest_m();
    let plan: Vec<Vec2> = pit.corners.iter().map(|p| p.xy()).collect();
    if let Some(plane) = surface.everywhere() {
        let slope = plane.gradient.norm();
        if batter * slope >= 1.0 {
            return Err(DigError::NeverDaylights { batter });
        }
        let over = plan
            .iter()
            .map(|&p| plane.at(p))
            .fold(f64::NEG_INFINITY, f64::max)
            + pit.disc_m * slope;
        return Ok(BatterTop {
            height_m: ((over - floor_m) / (1.0 - batter * slope)).max(0.0),
            beyond: false,
        });
    }
    let cap = surface.max_level().map_or(0.0, |top| (top - floor_m).max(0.0));
    let mut height_m: f64 = 0.0;
    for _ in 0..MOST_STEPS {
        let cut = if plan.len() >= 3 && pit.disc_m + batter * height_m == 0.0 {
            plan.clone()
        } else {
            grown_polygon(&plan, pit.disc_m + batter * height_m, SIDES)
        };
        let beyond = cut.iter().any(|&p| surface.level_at(p).is_none());
        let Some(top) = highest_over(&cut, surface) else {
            // The surface reaches nowhere over the piece: the safe side is its highest level.
            return Ok(BatterTop {
                height_m: cap,
                beyond: true,
            });
        };
        let next = (top - floor_m).clamp(0.0, cap);
        if next <= height_m + SETTLED_M {
            return Ok(BatterTop {
                height_m: (next.max(height_m) + SETTLED_M).min(cap),
                beyond,
            });
        }
        height_m = next;
    }
    Ok(BatterTop {
        height_m: cap,
        beyond: true,
    })
}

/// Returns the highest level of a surface over a convex plan polygon.
fn highest_over(polygon: &[Vec2], surface: &Surface) -> Option<f64> {
    let mut highest: Option<f64> = None;
    let around = PlanBox::around(polygon.iter().copied())?;
    surface.facets_in(&around, |facet| {
        for corner in clip_convex(facet.corners, polygon) {
            let level = facet.plane.at(corner);
            highest = Some(highest.map_or(level, |h| h.max(level)));
        }
    });
    highest
}

//! Searched areas in plan: which share of an excavation somebody looked at, and which part nobody did.
//!
//! Plan geometry only: which searches count, for what and how deep, is for the caller to decide. Every rounding
//! goes one way: a search is never taken for larger than it was, an excavation never for smaller.

use geo::algorithm::unary_union;
use geo::{Area, BooleanOps, LineString, MultiPolygon, Polygon};

use crate::Vec2;
use crate::dig::{Dig, Form};
use crate::dig_plan::{convex_hull, grown_polygon};
use crate::domain::{Domain, DomainError};
use crate::facet::edges;
use crate::solid::Solid;

/// Overlaying works on a fine grid; searches shrink by this much more than their own 95 %, metres.
const GRID_M: f64 = 2e-5;
/// An unsearched part thinner than this, by area over half its perimeter, is only the overlay's rounding: less than
/// what every search was shrunk by for it. Metres.
const ROUNDING_M: f64 = 1e-5;
/// A searched part thinner than this, by area over half its perimeter, is a sliver. Metres.
const SLIVER_M: f64 = 0.01;
/// Corners of the polygon about a rounded corner.
const SIDES: usize = 64;

/// An area that was searched.
#[derive(Debug, Clone, PartialEq)]
pub struct SearchedArea {
    /// The outline and any holes, each ring open or closed, in either sense.
    pub rings: Vec<Vec<Vec2>>,
    /// How far inside its own edge the area certainly was searched: its own 95 %, metres.
    pub shrink_m: f64,
}

/// How much of a plan was searched.
#[derive(Debug, Clone, PartialEq)]
pub struct SearchedShare {
    /// Share of the area, from 0 to 1.
    pub share: f64,
    /// The whole area, square metres.
    pub area_m2: f64,
    /// The part that nobody searched.
    pub unsearched: MultiPolygon<f64>,
}

/// A searched area that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SearchedError {
    /// Its outline crosses itself or encloses nothing.
    #[error("searched area {area}: {cause}")]
    Outline {
        /// Area, counted from 1.
        area: usize,
        /// What is wrong with it.
        cause: DomainError,
    },
    /// Its 95 % is no finite number or below zero.
    #[error("searched area {area}: its 95 % is {value}; give it in metres, 0 or more")]
    BadShrink {
        /// Area, counted from 1.
        area: usize,
        /// The value.
        value: f64,
    },
}

/// Returns the plan of an excavation at its top, batter included.
///
/// Rounded corners become polygons about them: at most 0.13 % farther out than the round.
pub fn plan_at_top(dig: &Dig, form: Form) -> MultiPolygon<f64> {
    let pieces: Vec<_> = dig
        .solids(form)
        .iter()
        .filter_map(plan_of)
        .map(|ring| polygon_of(&ring))
        .collect();
    unary_union(&pieces)
}

/// Returns which share of a plan lies in at least one searched area, and what remains.
///
/// # Errors
/// [`SearchedError`] when an area's outline or its 95 % cannot be used.
pub fn searched_share(
    plan: &MultiPolygon<f64>,
    areas: &[SearchedArea],
) -> Result<SearchedShare, SearchedError> {
    let mut searched = Vec::new();
    for (a, area) in areas.iter().enumerate() {
        searched.extend(shrunk(area, a + 1)?.0);
    }
    let searched = unary_union(&searched);
    let met: Vec<_> = plan
        .intersection(&searched)
        .0
        .into_iter()
        .filter(|part| !is_thinner(part, SLIVER_M))
        .collect();
    Ok(share_of(plan, plan.difference(&MultiPolygon(met))))
}

/// Returns the share that is searched in every one of several answers about the same plan.
///
/// The headline over several services: a place counts only where all of them were searched for.
pub fn searched_in_all(plan: &MultiPolygon<f64>, answers: &[SearchedShare]) -> SearchedShare {
    if answers.is_empty() {
        // Nobody asked is nobody looked.
        return share_of(plan, plan.clone());
    }
    let missed: Vec<_> = answers
        .iter()
        .flat_map(|answer| answer.unsearched.0.iter().cloned())
        .collect();
    share_of(plan, plan.intersection(&unary_union(&missed)))
}

/// Returns a searched area moved in by its own 95 %; never more than the exact inside of it.
fn shrunk(area: &SearchedArea, number: usize) -> Result<MultiPolygon<f64>, SearchedError> {
    if !(area.shrink_m.is_finite() && area.shrink_m >= 0.0) {
        return Err(SearchedError::BadShrink {
            area: number,
            value: area.shrink_m,
        });
    }
    let domain = Domain::new(&area.rings).map_err(|cause| SearchedError::Outline { area: number, cause })?;
    let whole = unary_union(
        &domain
            .triangles()
            .iter()
            .map(|t| polygon_of(t))
            .collect::<Vec<_>>(),
    );
    let margin_m = area.shrink_m + GRID_M;
    let rims: Vec<_> = domain
        .rings()
        .iter()
        .flat_map(|ring| edges(ring).map(|(a, b)| polygon_of(&grown_polygon(&[a, b], margin_m, SIDES))))
        .collect();
    Ok(whole.difference(&unary_union(&rims)))
}

fn share_of(plan: &MultiPolygon<f64>, unsearched: MultiPolygon<f64>) -> SearchedShare {
    let area_m2 = plan.unsigned_area();
    let unsearched = MultiPolygon(
        unsearched
            .0
            .into_iter()
            .filter(|part| !is_thinner(part, ROUNDING_M))
            .collect(),
    );
    let left_m2 = unsearched.unsigned_area();
    let share = if area_m2 > 0.0 {
        (1.0 - left_m2 / area_m2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    SearchedShare {
        share,
        area_m2,
        unsearched,
    }
}

fn is_thinner(part: &Polygon<f64>, width_m: f64) -> bool {
    let around: f64 = std::iter::once(part.exterior())
        .chain(part.interiors())
        .flat_map(|ring| ring.lines())
        .map(|line| line.dx().hypot(line.dy()))
        .sum();
    part.unsigned_area() < width_m * around / 2.0
}

fn plan_of(solid: &Solid) -> Option<Vec<Vec2>> {
    let ring = match solid {
        Solid::Pit(pit) => {
            let corners: Vec<Vec2> = pit.corners.iter().map(|p| p.xy()).collect();
            if pit.reach_m() > 0.0 {
                grown_polygon(&corners, pit.reach_m(), SIDES)
            } else {
                corners
            }
        }
        Solid::Leg(leg) => {
            let discs =
                (0..2).flat_map(|i| grown_polygon(&[leg.ends[i].xy()], leg.out_m[i] + leg.ball_m, SIDES));
            convex_hull(discs.collect())
        }
    };
    (ring.len() >= 3).then_some(ring)
}

/// Returns a plan ring as a polygon.
pub(crate) fn polygon_of(ring: &[Vec2]) -> Polygon<f64> {
    Polygon::new(
        ring.iter().map(|p| (p.x, p.y)).collect::<LineString<f64>>(),
        Vec::new(),
    )
}

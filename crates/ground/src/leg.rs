//! The legs of a tube as convex bodies, as recorded and grown.

use crate::Vec3;
use crate::facet::PlanBox;
use crate::gap::GapError;
use crate::solid::Body;
use crate::tube::{Section, Tube, TubeVertex};

/// A direction whose plan part is less than this share of it has no way of its own to lie across.
const PLUMB: f64 = 1e-6;

/// One convex body of a tube.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Leg {
    /// As recorded.
    pub(crate) stated: Body,
    /// Grown by its uncertainty; `None` when that is not known.
    pub(crate) grown: Option<Body>,
    /// The chainages of its ends, metres.
    pub(crate) chainage_m: [f64; 2],
    /// Whether it only fills the mitre at a joint of a bank.
    pub(crate) joint: bool,
}

impl Leg {
    pub(crate) fn chainage_at(&self, along: f64) -> f64 {
        self.chainage_m[0] + along * (self.chainage_m[1] - self.chainage_m[0])
    }
}

/// The convex bodies that together are a tube, each made when asked for.
///
/// A bank has a box for each leg, its width level, and a ball of half the diagonal at each inner joint. Through a
/// plumb leg the width stays as it was in the leg before (or after, at the start); a bank that is plumb all along
/// has no known turn and is taken as the round tube about it.
pub(crate) enum Legs<'a> {
    /// A round tube and its radius.
    Round(&'a Tube, f64),
    /// The boxes and joints of a bank.
    Bank(Vec<Leg>),
}

impl<'a> Legs<'a> {
    /// # Errors
    /// [`GapError`] for a tube with no leg or a size that is not finite.
    pub(crate) fn of(tube: &'a Tube) -> Result<Legs<'a>, GapError> {
        if tube.vertices.len() < 2 {
            return Err(GapError::NoLeg);
        }
        if let Some(v) = tube.vertices.iter().position(|v| !is_sound(v, &tube.section)) {
            return Err(GapError::NotFinite { vertex: v + 1 });
        }
        Ok(match tube.section {
            Section::Round { radius_m } => Legs::Round(tube, radius_m),
            Section::Bank {
                half_width_m,
                half_height_m,
            } => Legs::Bank(bank(tube, half_width_m, half_height_m)),
        })
    }

    pub(crate) fn count(&self) -> usize {
        match self {
            Legs::Round(tube, _) => tube.vertices.len() - 1,
            Legs::Bank(legs) => legs.len(),
        }
    }

    pub(crate) fn get(&self, i: usize) -> Leg {
        match self {
            Legs::Round(tube, radius_m) => {
                leg(&tube.vertices[i], &tube.vertices[i + 1], *radius_m, None, false)
            }
            Legs::Bank(legs) => legs[i],
        }
    }

    /// Returns the box round the plan of one body, as stated or grown; `None` when the growth is not known.
    pub(crate) fn plan_box(&self, i: usize, grown: bool) -> Option<PlanBox> {
        match self {
            Legs::Round(tube, radius_m) => {
                let [a, b] = [&tube.vertices[i], &tube.vertices[i + 1]];
                let out_m = if grown {
                    a.growth?.horizontal_m.max(b.growth?.horizontal_m)
                } else {
                    0.0
                };
                let (p, q) = (a.axis.xy(), b.axis.xy());
                Some(
                    PlanBox {
                        min: p.inf(&q),
                        max: p.sup(&q),
                    }
                    .grown(radius_m + out_m),
                )
            }
            Legs::Bank(legs) => {
                if grown {
                    legs[i].grown.map(|body| body.plan_box())
                } else {
                    Some(legs[i].stated.plan_box())
                }
            }
        }
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = Leg> + '_ {
        (0..self.count()).map(|i| self.get(i))
    }
}

/// Returns all the bodies of a tube at once.
///
/// # Errors
/// [`GapError`] for a tube with no leg or a size that is not finite.
pub(crate) fn legs_of(tube: &Tube) -> Result<Vec<Leg>, GapError> {
    Ok(Legs::of(tube)?.iter().collect())
}

fn bank(tube: &Tube, half_width: f64, half_height: f64) -> Vec<Leg> {
    let half_diagonal = half_width.hypot(half_height);
    let Some(mut across) = tube.legs().find_map(|(a, b)| level_across(b.axis - a.axis)) else {
        return tube
            .legs()
            .map(|(a, b)| leg(a, b, half_diagonal, None, false))
            .collect();
    };
    let count = tube.vertices.len();
    let mut legs = Vec::with_capacity(2 * count);
    for (i, (a, b)) in tube.legs().enumerate() {
        let way = (b.axis - a.axis).try_normalize(0.0);
        across = level_across(b.axis - a.axis).unwrap_or(across);
        let half = way.map(|way| [across * half_width, way.cross(&across) * half_height]);
        legs.push(leg(
            a,
            b,
            if half.is_some() { 0.0 } else { half_diagonal },
            half,
            false,
        ));
        // Where the next leg goes straight on there is no mitre to fill.
        if i + 2 < count && turns(b.axis - a.axis, tube.vertices[i + 2].axis - b.axis) {
            legs.push(leg(b, b, half_diagonal, None, true));
        }
    }
    legs
}

/// Tells whether two legs differ in direction by more than rounding.
fn turns(a: Vec3, b: Vec3) -> bool {
    a.cross(&b).norm() > 1e-9 * a.norm() * b.norm() || a.dot(&b) < 0.0
}

/// Returns the level direction square to a leg; `None` for a plumb one.
fn level_across(way: Vec3) -> Option<Vec3> {
    let flat = way.x.hypot(way.y);
    (flat > PLUMB * way.norm()).then(|| Vec3::new(-way.y / flat, way.x / flat, 0.0))
}

fn is_sound(vertex: &TubeVertex, section: &Section) -> bool {
    let size = |v: f64| v.is_finite() && v >= 0.0;
    let section = match *section {
        Section::Round { radius_m } => size(radius_m),
        Section::Bank {
            half_width_m,
            half_height_m,
        } => size(half_width_m) && size(half_height_m),
    };
    let growth = vertex
        .growth
        .is_none_or(|g| size(g.horizontal_m) && size(g.vertical_m));
    section && growth && vertex.axis.iter().all(|v| v.is_finite()) && vertex.chainage_m.is_finite()
}

fn leg(a: &TubeVertex, b: &TubeVertex, ball_m: f64, half: Option<[Vec3; 2]>, joint: bool) -> Leg {
    let stated = Body {
        ends: [a.axis, b.axis],
        out_m: [0.0; 2],
        up_m: [0.0; 2],
        ball_m,
        half,
    };
    let grown = a.growth.zip(b.growth).map(|(at_a, at_b)| Body {
        out_m: [at_a.horizontal_m, at_b.horizontal_m],
        up_m: [at_a.vertical_m, at_b.vertical_m],
        ..stated
    });
    Leg {
        stated,
        grown,
        chainage_m: [a.chainage_m, b.chainage_m],
        joint,
    }
}

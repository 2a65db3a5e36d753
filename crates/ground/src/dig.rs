//! A planned excavation: what a person states about it, and the convex solids that this makes.
//!
//! `D` is the excavation as stated, `D+` the same grown by what setting out, the bucket and the surface may add.

use crate::batter::{self, BatterTop};
use crate::dig_plan::{self, PlanPiece};
use crate::facet::{Affine, PlanBox};
use crate::solid::{Body, Pit, Solid};
use crate::surface::Surface;
use crate::{Vec2, Vec3};

/// The shape of an excavation in plan, or of a bore in space.
#[derive(Debug, Clone, PartialEq)]
pub enum DigShape {
    /// An area: an outline and the holes in it, each ring open or closed, in either sense.
    Area {
        /// The outline.
        outline: Vec<Vec2>,
        /// Islands that stay.
        holes: Vec<Vec<Vec2>>,
    },
    /// A trench about a line. Each straight is a rectangle that runs on by half the width at both of its ends:
    /// more than round ends, and more than a mitre at any turn up to a right angle.
    Line {
        /// The line, at least two different points.
        points: Vec<Vec2>,
        /// The width of the trench, metres.
        width_m: f64,
    },
    /// A post hole, a pile, a rod or a core. Exactly a disc, unless its floor hangs on a surface of facets: then
    /// the 64-sided polygon about that disc.
    Point {
        /// The centre.
        centre: Vec2,
        /// The radius, metres.
        radius_m: f64,
    },
    /// A bore or a drive: a tube of its own, with nothing above it disturbed.
    ///
    /// Its grown form is farther out in plan by `deviation_m + set_out_m`, and up and down by
    /// `deviation_m + over_dig_m`.
    Bore {
        /// The axis, at least two different points.
        axis: Vec<Vec3>,
        /// Outside radius, reaming included, metres.
        radius_m: f64,
        /// How far the bore may stray from its line, metres.
        deviation_m: f64,
    },
}

/// The floor of an excavation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Floor {
    /// Level everywhere.
    Level(f64),
    /// So far plumb below the surface, metres; not square to the slope.
    Below {
        /// The depth, metres.
        depth_m: f64,
    },
    /// An even fall: a level at a place, and the rise per metre east and per metre north.
    Gradient {
        /// The place.
        at: Vec2,
        /// The level there, metres.
        level_m: f64,
        /// Rise per metre east and north.
        rise: Vec2,
    },
}

/// What a person states about an excavation.
#[derive(Debug, Clone)]
pub struct DigSpec<'a> {
    /// Its shape.
    pub shape: DigShape,
    /// Its floor; `None` for a bore, whose axis has levels of its own.
    pub floor: Option<Floor>,
    /// The named surface; needed by a floor below it and by a batter.
    pub surface: Option<&'a Surface>,
    /// Batter of the sides: metres out for each metre up; `None` is plumb.
    pub batter: Option<f64>,
    /// How far the sides may be set out too far, metres.
    pub set_out_m: f64,
    /// How far the floor may be dug too deep, metres.
    pub over_dig_m: f64,
    /// 95 % of the surface's levels, metres; read when floor or batter hangs on the surface.
    pub surface_u95_m: f64,
}

/// Which of the two forms of an excavation is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// As stated: `D`.
    Stated,
    /// Grown by what setting out, the bucket and the surface may add: `D+`.
    Grown,
}

/// An excavation as convex solids.
#[derive(Debug, Clone, PartialEq)]
pub struct Dig {
    stated: Vec<Solid>,
    grown: Vec<Solid>,
    stated_bounds: Vec<Bounds>,
    grown_bounds: Vec<Bounds>,
    stated_box: PlanBox,
    grown_box: PlanBox,
    /// The area over which the floor is not known, because the surface does not reach there. Square metres.
    pub floor_unknown_area_m2: f64,
    /// Whether a batter runs out beyond the surface, so that its top was taken from the part that is known.
    pub batter_beyond_surface: bool,
}

/// The box round one solid: its plan at its top, and its levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bounds {
    pub(crate) plan: PlanBox,
    pub(crate) lowest_m: f64,
    pub(crate) highest_m: f64,
}

/// An excavation that cannot be answered.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DigError {
    /// A number that is no finite number, or is below what it can be.
    #[error("{what} is {value}; give it in metres, {least}")]
    BadNumber {
        /// The quantity.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What it must be.
        least: &'static str,
    },
    /// A coordinate is not a finite number.
    #[error(
        "corner {corner} of the excavation is not a finite position; give its easting and northing in metres"
    )]
    NotFinite {
        /// Corner, counted from 1 over all rings.
        corner: usize,
    },
    /// The outline or a hole crosses itself or another, or encloses nothing.
    #[error("the excavation's outline cannot be used: {0}")]
    Outline(#[from] crate::domain::DomainError),
    /// A hole lies outside the outline.
    #[error("hole {hole} lies outside the outline; leave it out or move it inside")]
    HoleOutside {
        /// Hole, counted from 1.
        hole: usize,
    },
    /// A line or an axis with no length.
    #[error("the line has no length; give at least two different points")]
    NoLength,
    /// No floor was stated.
    #[error("the excavation has no floor; give its level, its depth below a named surface or its gradient")]
    NoFloor,
    /// A bore was given a floor or a batter.
    #[error("a bore has no {what} of its own; leave it out, the levels of its axis count")]
    NotForABore {
        /// `floor` or `batter`.
        what: &'static str,
    },
    /// The floor or the batter hangs on a surface, and none is named.
    #[error("the {what} needs a surface; name one, or give the floor as a level and the sides plumb")]
    NoSurface {
        /// `floor` or `batter`.
        what: &'static str,
    },
    /// The surface rises as fast as the batter runs out.
    #[error(
        "a batter of {batter} never reaches the surface, which rises as fast; give a steeper side or the outline at its top"
    )]
    NeverDaylights {
        /// Metres out for each metre up.
        batter: f64,
    },
}

impl Dig {
    /// Makes the solids of an excavation.
    ///
    /// # Errors
    /// [`DigError`], saying what is wrong and how to mend it.
    pub fn new(spec: &DigSpec<'_>) -> Result<Dig, DigError> {
        check_number("the set-out allowance", spec.set_out_m, false)?;
        check_number("the over-dig allowance", spec.over_dig_m, false)?;
        check_number("the surface's 95 %", spec.surface_u95_m, false)?;
        if let Some(batter) = spec.batter {
            check_number("the batter", batter, false)?;
        }
        if let DigShape::Bore {
            axis,
            radius_m,
            deviation_m,
        } = &spec.shape
        {
            return bore(spec, axis, *radius_m, *deviation_m);
        }
        let pieces = dig_plan::plan_pieces(&spec.shape)?;
        let hangs = matches!(spec.floor, Some(Floor::Below { .. }));
        let (floored, unknown) = lay_floor(spec, pieces)?;
        let floor_unknown_area_m2 = dig_plan::joint_area_m2(&unknown);
        let mut stated = Vec::with_capacity(floored.len() + unknown.len());
        let mut grown = Vec::with_capacity(floored.len() + unknown.len());
        let lower_m = spec.over_dig_m + if hangs { spec.surface_u95_m } else { 0.0 };
        let mut batter_beyond_surface = false;
        for (piece, floor) in floored {
            let mut pit = Pit {
                corners: piece
                    .corners
                    .iter()
                    .map(|&p| Vec3::new(p.x, p.y, floor.at(p)))
                    .collect(),
                disc_m: piece.disc_m,
                gradient: floor.gradient,
                out_m: 0.0,
                batter: 0.0,
                batter_height_m: 0.0,
                floor_known: true,
            };
            let mut raise_m = 0.0;
            if let Some(batter) = spec.batter.filter(|&b| b > 0.0) {
                let surface = spec.surface.ok_or(DigError::NoSurface { what: "batter" })?;
                let BatterTop { height_m, beyond } = batter::batter_top(&pit, batter, surface)?;
                batter_beyond_surface |= beyond;
                pit.batter = batter;
                pit.batter_height_m = height_m;
                raise_m = spec.over_dig_m + spec.surface_u95_m;
            }
            let mut worst = pit.clone();
            worst.out_m = spec.set_out_m;
            worst.batter_height_m += raise_m;
            for corner in &mut worst.corners {
                corner.z -= lower_m;
            }
            stated.push(Solid::Pit(pit));
            grown.push(Solid::Pit(worst));
        }
        for piece in unknown {
            let pit = Pit {
                corners: piece.corners.iter().map(|&p| Vec3::new(p.x, p.y, 0.0)).collect(),
                disc_m: piece.disc_m,
                gradient: Vec2::zeros(),
                out_m: 0.0,
                batter: 0.0,
                batter_height_m: 0.0,
                floor_known: false,
            };
            grown.push(Solid::Pit(Pit {
                out_m: spec.set_out_m,
                ..pit.clone()
            }));
            stated.push(Solid::Pit(pit));
        }
        Ok(Dig {
            floor_unknown_area_m2,
            batter_beyond_surface,
            ..Dig::of_solids(stated, grown)
        })
    }

    fn of_solids(stated: Vec<Solid>, grown: Vec<Solid>) -> Dig {
        let bounds = |solids: &[Solid]| -> Vec<Bounds> {
            let of_one = |solid: &Solid| Bounds {
                plan: solid.plan_box(),
                lowest_m: solid.lowest_m(),
                highest_m: match solid {
                    Solid::Pit(_) => f64::INFINITY,
                    Solid::Leg(leg) => leg.levels_m().1,
                },
            };
            solids.iter().map(of_one).collect()
        };
        let round = |bounds: &[Bounds]| {
            PlanBox::around(bounds.iter().flat_map(|b| [b.plan.min, b.plan.max])).unwrap_or(PlanBox {
                min: Vec2::zeros(),
                max: Vec2::zeros(),
            })
        };
        let (stated_bounds, grown_bounds) = (bounds(&stated), bounds(&grown));
        Dig {
            stated_box: round(&stated_bounds),
            grown_box: round(&grown_bounds),
            stated,
            grown,
            stated_bounds,
            grown_bounds,
            floor_unknown_area_m2: 0.0,
            batter_beyond_surface: false,
        }
    }

    pub(crate) fn bounds(&self, form: Form) -> &[Bounds] {
        match form {
            Form::Stated => &self.stated_bounds,
            Form::Grown => &self.grown_bounds,
        }
    }

    /// Returns the convex solids of one form; both forms list them in the same order.
    pub fn solids(&self, form: Form) -> &[Solid] {
        match form {
            Form::Stated => &self.stated,
            Form::Grown => &self.grown,
        }
    }

    /// Returns the box round the plan of one form at its top.
    pub fn plan_box(&self, form: Form) -> PlanBox {
        match form {
            Form::Stated => self.stated_box,
            Form::Grown => self.grown_box,
        }
    }

    /// Returns the lowest level of one form, metres; `None` when part of the floor is not known.
    pub fn lowest_level_m(&self, form: Form) -> Option<f64> {
        let lowest = self
            .solids(form)
            .iter()
            .fold(f64::INFINITY, |low, solid| low.min(solid.lowest_m()));
        lowest.is_finite().then_some(lowest)
    }
}

pub(crate) fn check_number(what: &'static str, value: f64, above_zero: bool) -> Result<(), DigError> {
    let least = if above_zero { "more than 0" } else { "0 or more" };
    let enough = if above_zero { value > 0.0 } else { value >= 0.0 };
    if value.is_finite() && enough {
        Ok(())
    } else {
        Err(DigError::BadNumber { what, value, least })
    }
}

/// Gives every plan piece its floor; the second list holds what the surface does not reach.
#[expect(clippy::type_complexity, reason = "a pair of lists, used once")]
fn lay_floor(
    spec: &DigSpec<'_>,
    pieces: Vec<PlanPiece>,
) -> Result<(Vec<(PlanPiece, Affine)>, Vec<PlanPiece>), DigError> {
    let finite = |value: f64, what| {
        if value.is_finite() {
            Ok(value)
        } else {
            Err(DigError::BadNumber {
                what,
                value,
                least: "a finite number",
            })
        }
    };
    let floor = match spec.floor {
        None => return Err(DigError::NoFloor),
        Some(Floor::Level(level_m)) => Affine::level(finite(level_m, "the floor's level")?),
        Some(Floor::Gradient { at, level_m, rise }) => {
            for value in [at.x, at.y, rise.x, rise.y] {
                finite(value, "the floor's gradient")?;
            }
            Affine {
                anchor: Vec3::new(at.x, at.y, finite(level_m, "the floor's level")?),
                gradient: rise,
            }
        }
        Some(Floor::Below { depth_m }) => {
            check_number("the depth", depth_m, false)?;
            let surface = spec.surface.ok_or(DigError::NoSurface { what: "floor" })?;
            if let Some(plane) = surface.everywhere() {
                plane.raised(-depth_m)
            } else {
                return Ok(dig_plan::overlay(pieces, surface, depth_m));
            }
        }
    };
    Ok((
        pieces.into_iter().map(|piece| (piece, floor)).collect(),
        Vec::new(),
    ))
}

fn bore(spec: &DigSpec<'_>, axis: &[Vec3], radius_m: f64, deviation_m: f64) -> Result<Dig, DigError> {
    check_number("the bore's radius", radius_m, true)?;
    check_number("the bore's deviation", deviation_m, false)?;
    if spec.floor.is_some() {
        return Err(DigError::NotForABore { what: "floor" });
    }
    if spec.batter.is_some() {
        return Err(DigError::NotForABore { what: "batter" });
    }
    if let Some(c) = axis.iter().position(|p| !p.iter().all(|v| v.is_finite())) {
        return Err(DigError::NotFinite { corner: c + 1 });
    }
    let leg = |a: Vec3, b: Vec3, out_m: f64, up_m: f64| {
        Solid::Leg(Body {
            ends: [a, b],
            out_m: [out_m; 2],
            up_m: [up_m; 2],
            ball_m: radius_m,
            half: None,
        })
    };
    let straights = || axis.windows(2).filter(|pair| pair[0] != pair[1]);
    if straights().next().is_none() {
        return Err(DigError::NoLength);
    }
    let (out_m, up_m) = (deviation_m + spec.set_out_m, deviation_m + spec.over_dig_m);
    let stated = straights().map(|pair| leg(pair[0], pair[1], 0.0, 0.0)).collect();
    let grown = straights()
        .map(|pair| leg(pair[0], pair[1], out_m, up_m))
        .collect();
    Ok(Dig::of_solids(stated, grown))
}

//! The axis of a run from shots on its outside: what was touched, moved by the radius square to the run.
//!
//! The offset is square to the leg and not plumb, which would be wrong on a steep leg. At a joint it runs along the
//! mitre of both legs. Legs and offsets depend on each other, so they are taken in turn until the axis stands still.

use std::f64::consts::FRAC_1_SQRT_2;

use crate::Vec3;
use crate::bend::{BendMark, BendPart, end_of_bend, tangent_at, tangent_at_first};
use crate::tube::Section;

/// The axis counts as found when a further pass moves no vertex by more than this. Metres.
const STILL_M: f64 = 1e-8;
/// Passes before the axis is given up as one that never stands still.
const MOST_PASSES: usize = 200;
/// Two shots closer than this are one place. Metres.
const SAME_PLACE_M: f64 = 1e-3;

/// What the point touched. Asked for, never defaulted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Touched {
    /// The highest point of the outside.
    OutsideTop,
    /// The lowest point of the inside.
    Invert,
    /// The centre line itself.
    Centre,
    /// The lowest point of the outside.
    OutsideBottom,
    /// The side.
    Side {
        /// The horizontal direction from the axis to the point touched, clockwise from grid north, radians.
        bearing_rad: f64,
    },
}

/// One shot on a run, in order along it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shot {
    /// Where the shot is: the point touched.
    pub position: Vec3,
    /// What it touched.
    pub touched: Touched,
    /// What it marks of a bend, if anything.
    pub bend: Option<BendMark>,
    /// One standard deviation per plan axis, metres, relative to site control.
    pub sigma_h_m: Option<f64>,
    /// One standard deviation in level, metres, relative to site control.
    pub sigma_v_m: Option<f64>,
}

/// The sizes of a run, as the axis needs them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sizes {
    /// The outside.
    pub section: Section,
    /// Inside radius of a round run, metres; `None` when the wall is not known.
    pub inside_radius_m: Option<f64>,
}

/// Shots that give no axis. Shots are counted from 1 along the run.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AxisError {
    /// Fewer than two shots.
    #[error("a run needs at least two shots and has {found}; shoot its other end")]
    TooFewShots {
        /// How many there are.
        found: usize,
    },
    /// A coordinate, sigma, radius or bow that is not a usable number.
    #[error("shot {shot}: its {what} is not a usable number; enter it again")]
    NotANumber {
        /// The shot.
        shot: usize,
        /// What is wrong.
        what: &'static str,
    },
    /// An outside size that is not a positive number, or an inside larger than the outside.
    #[error(
        "the {what} of the run is not a usable size ({value_m} m); give the outside size, and a wall thinner than half of it"
    )]
    BadSize {
        /// Which size.
        what: &'static str,
        /// The value, metres.
        value_m: f64,
    },
    /// The number of bows does not match the legs.
    #[error("{bows} leg allowances were given for {legs} legs; give one for each leg between shots")]
    BowsDoNotMatch {
        /// How many bows.
        bows: usize,
        /// How many legs.
        legs: usize,
    },
    /// Two neighbouring shots in one place.
    #[error("shots {shot} and {next} are less than 1 mm apart; leave one out, or check their order")]
    SamePlace {
        /// The earlier shot.
        shot: usize,
        /// The one after it.
        next: usize,
    },
    /// Top, bottom or invert touched where the run is steeper than 45 degrees.
    #[error(
        "shot {shot}: the run is steeper than 45 degrees here ({slope_deg:.1}), so {touched} gives no axis; shoot the centre, or the side with its bearing"
    )]
    TooSteep {
        /// The shot.
        shot: usize,
        /// What it touched, in words.
        touched: &'static str,
        /// Slope of the steepest leg there, degrees.
        slope_deg: f64,
    },
    /// A side bearing that runs along the leg.
    #[error(
        "shot {shot}: its side bearing runs along the run and not away from it; give the direction from the axis to the point touched"
    )]
    SideAlong {
        /// The shot.
        shot: usize,
    },
    /// The invert of a bank.
    #[error("shot {shot}: a bank of ways has no invert; shoot the outside top of its enclosing box")]
    InvertOfBank {
        /// The shot.
        shot: usize,
    },
    /// The run doubles back on itself at a shot, so that no mitre exists.
    #[error(
        "shot {shot}: the run turns back on itself here ({turn_deg:.0} degrees); check the order of the shots"
    )]
    TurnsBack {
        /// The shot.
        shot: usize,
        /// The turn, degrees.
        turn_deg: f64,
    },
    /// The axis never stands still: legs too short for the radius.
    #[error(
        "shot {shot}: the legs here are too short for the size of the run; leave out shots closer together than its radius"
    )]
    NeverStill {
        /// The shot that still moved most.
        shot: usize,
    },
    /// A bend that starts and does not end.
    #[error(
        "shot {shot}: a bend starts here and no bend-end follows; mark where the bend ends, or mark this shot bend-pi with its radius"
    )]
    BendWithoutEnd {
        /// Where it starts.
        shot: usize,
    },
    /// A middle or end of a bend that never started.
    #[error(
        "shot {shot}: part of a bend is marked here and no bend-start comes before it; mark where the bend starts"
    )]
    BendWithoutStart {
        /// The shot.
        shot: usize,
    },
    /// A bend with no straight on either side and no middle.
    #[error(
        "shot {shot}: this bend has neither a straight beside it nor a bend-mid, so its plane is not known; shoot its middle"
    )]
    BendWithoutStraight {
        /// Where the bend starts.
        shot: usize,
    },
    /// A meeting point of straights without a radius.
    #[error("shot {shot}: bend-pi needs the radius of the bend; give bend_radius_mm")]
    CornerWithoutRadius {
        /// The shot.
        shot: usize,
    },
    /// A meeting point of straights at the end of a run.
    #[error(
        "shot {shot}: bend-pi stands at the end of the run, so one of its straights is missing; shoot the end of the run"
    )]
    CornerAtEnd {
        /// The shot.
        shot: usize,
    },
    /// A bend that does not fit between its neighbours.
    #[error(
        "shot {shot}: a bend of radius {radius_m:.3} m takes {needs_m:.3} m of each straight and only {room_m:.3} m is there; check the radius, or shoot bend-start and bend-end"
    )]
    RadiusTooLarge {
        /// The shot.
        shot: usize,
        /// Stated radius, metres.
        radius_m: f64,
        /// Length of straight that it takes on each side, metres.
        needs_m: f64,
        /// Length of straight that is left, metres.
        room_m: f64,
    },
}

impl AxisError {
    /// Returns the shot it is about, counted from 1; `None` when it is about the run as a whole.
    pub fn shot(&self) -> Option<usize> {
        match self {
            AxisError::NotANumber { shot, .. }
            | AxisError::SamePlace { shot, .. }
            | AxisError::TooSteep { shot, .. }
            | AxisError::SideAlong { shot, .. }
            | AxisError::InvertOfBank { shot, .. }
            | AxisError::TurnsBack { shot, .. }
            | AxisError::NeverStill { shot, .. }
            | AxisError::BendWithoutEnd { shot, .. }
            | AxisError::BendWithoutStart { shot, .. }
            | AxisError::BendWithoutStraight { shot, .. }
            | AxisError::CornerWithoutRadius { shot, .. }
            | AxisError::CornerAtEnd { shot, .. }
            | AxisError::RadiusTooLarge { shot, .. } => Some(*shot),
            AxisError::TooFewShots { .. } | AxisError::BadSize { .. } | AxisError::BowsDoNotMatch { .. } => {
                None
            }
        }
    }
}

/// Something about the shots that a person should look at. Shots are counted from 1 along the run.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum AxisFinding {
    /// A turn above 15 degrees at a shot that is not marked as a bend.
    UnmarkedTurn {
        /// The shot.
        shot: usize,
        /// The turn, radians.
        turn_rad: f64,
        /// How far the run may stand off the legs beside it because of that, metres; infinite where no bound exists.
        off_m: f64,
    },
    /// A bend marked by its start and end alone, and no radius that fits it: how it runs between them was not shot.
    BendNotShot {
        /// Where it starts.
        shot: usize,
        /// The turn, radians.
        turn_rad: f64,
        /// How far the run may stand off the arc laid, metres; infinite where no bound exists.
        off_m: f64,
    },
    /// A marked bend that does not turn.
    BendWithoutTurn {
        /// The shot, or the bend's start.
        shot: usize,
        /// The turn found, radians.
        turn_rad: f64,
    },
    /// A stated radius far from the one that the shots give; the shots were used.
    RadiusDisagrees {
        /// The shot at which the arc starts.
        shot: usize,
        /// Stated radius, metres.
        stated_m: f64,
        /// Radius of the arc laid, metres.
        found_m: f64,
    },
    /// An invert was shot and the wall is not known: the outside radius was used for the inside one, so the axis may
    /// lie higher than it is, which is the safe side for a dig.
    WallUnknown {
        /// The first such shot.
        shot: usize,
    },
}

impl Touched {
    fn words(self) -> &'static str {
        match self {
            Touched::OutsideTop => "outside-top",
            Touched::Invert => "invert",
            Touched::Centre => "centre",
            Touched::OutsideBottom => "outside-bottom",
            Touched::Side { .. } => "side",
        }
    }
}

/// Finds the axis position under, over or beside each shot.
///
/// Returns one position a shot, in order, and what should be shown back. For a `bend-pi` it is the meeting point of
/// the straights' axes, which the run does not pass through.
/// # Errors
/// [`AxisError`], naming the shot and how to mend it.
/// # Accuracy
/// The last pass moved no vertex by more than 1e-8 m.
pub fn axis_of(shots: &[Shot], sizes: &Sizes) -> Result<(Vec<Vec3>, Vec<AxisFinding>), AxisError> {
    check(shots, sizes)?;
    let marks: Vec<Option<BendMark>> = shots.iter().map(|s| s.bend).collect();
    let mut findings = Vec::new();
    if let (Section::Round { .. }, None) = (sizes.section, sizes.inside_radius_m)
        && let Some(first) = shots.iter().position(|s| s.touched == Touched::Invert)
    {
        findings.push(AxisFinding::WallUnknown { shot: first + 1 });
    }
    let mut axis: Vec<Vec3> = shots.iter().map(|s| s.position).collect();
    let mut worst = 0;
    for _ in 0..MOST_PASSES {
        let mut moved = Vec::with_capacity(axis.len());
        for (i, shot) in shots.iter().enumerate() {
            let offset = offset_at(&axis, &marks, i, shot, sizes)?;
            moved.push(shot.position + offset);
        }
        let (at, step) = axis
            .iter()
            .zip(&moved)
            .map(|(a, b)| (a - b).norm())
            .enumerate()
            .fold((0, 0.0), |most, one| if one.1 > most.1 { one } else { most });
        axis = moved;
        worst = at;
        if step <= STILL_M {
            return Ok((axis, findings));
        }
    }
    Err(AxisError::NeverStill { shot: worst + 1 })
}

fn check(shots: &[Shot], sizes: &Sizes) -> Result<(), AxisError> {
    if shots.len() < 2 {
        return Err(AxisError::TooFewShots { found: shots.len() });
    }
    let positive = |what, value_m: f64| {
        if value_m.is_finite() && value_m > 0.0 {
            Ok(())
        } else {
            Err(AxisError::BadSize { what, value_m })
        }
    };
    match sizes.section {
        Section::Round { radius_m } => {
            positive("outside radius", radius_m)?;
            if let Some(inside_m) = sizes.inside_radius_m {
                positive("inside radius", inside_m)?;
                if inside_m > radius_m {
                    return Err(AxisError::BadSize {
                        what: "inside radius",
                        value_m: inside_m,
                    });
                }
            }
        }
        Section::Bank {
            half_width_m,
            half_height_m,
        } => {
            positive("half width", half_width_m)?;
            positive("half height", half_height_m)?;
        }
    }
    for (i, shot) in shots.iter().enumerate() {
        let bad = |what| Err(AxisError::NotANumber { shot: i + 1, what });
        if !shot.position.iter().all(|c| c.is_finite()) {
            return bad("position");
        }
        if matches!(shot.touched, Touched::Side { bearing_rad } if !bearing_rad.is_finite()) {
            return bad("side bearing");
        }
        if [shot.sigma_h_m, shot.sigma_v_m]
            .iter()
            .flatten()
            .any(|s| !(s.is_finite() && *s >= 0.0))
        {
            return bad("standard deviation");
        }
        if shot
            .bend
            .and_then(|b| b.radius_m)
            .is_some_and(|r| !(r.is_finite() && r > 0.0))
        {
            return bad("bend radius");
        }
        if i > 0 && (shot.position - shots[i - 1].position).norm() < SAME_PLACE_M {
            return Err(AxisError::SamePlace { shot: i, next: i + 1 });
        }
    }
    Ok(())
}

/// Returns the directions, forward and of unit length, in which the run passes a shot: one or two.
fn directions(axis: &[Vec3], marks: &[Option<BendMark>], i: usize) -> Result<Vec<Vec3>, AxisError> {
    let leg = |from: usize| axis[from + 1] - axis[from];
    let last = axis.len() - 1;
    let raw = match marks[i].map(|m| m.part) {
        // On the tangent point of a bend the straight says the direction, not the chord across the bend.
        Some(BendPart::Start) if i > 0 => vec![leg(i - 1)],
        Some(BendPart::End) if i < last => vec![leg(i)],
        Some(BendPart::Start) => {
            let end = end_of_bend(marks, i)?;
            if end >= i + 2 {
                vec![tangent_at_first(axis[i], axis[i + 1], axis[i + 2])]
            } else if end < last {
                vec![mirrored(leg(end), leg(i))]
            } else {
                vec![leg(i)]
            }
        }
        Some(BendPart::End)
            if i >= 2
                && matches!(
                    marks[i - 1],
                    Some(BendMark {
                        part: BendPart::Mid,
                        ..
                    })
                ) =>
        {
            vec![-tangent_at_first(axis[i], axis[i - 1], axis[i - 2])]
        }
        Some(BendPart::End) if i >= 2 => vec![mirrored(leg(i - 2), leg(i - 1))],
        Some(BendPart::Mid) if i > 0 && i < last => vec![tangent_at(axis[i - 1], axis[i], axis[i + 1])],
        _ => {
            let before = (i > 0).then(|| leg(i - 1));
            let after = (i < last).then(|| leg(i));
            before.into_iter().chain(after).collect()
        }
    };
    Ok(raw.into_iter().map(|d| d.normalize()).collect())
}

/// The tangent at the far end of an arc, from the one at its near end and the chord between them.
fn mirrored(tangent: Vec3, chord: Vec3) -> Vec3 {
    let along = chord.normalize();
    along * (2.0 * tangent.dot(&along)) - tangent
}

fn offset_at(
    axis: &[Vec3],
    marks: &[Option<BendMark>],
    i: usize,
    shot: &Shot,
    sizes: &Sizes,
) -> Result<Vec3, AxisError> {
    let directions = directions(axis, marks, i)?;
    let (half_width_m, half_height_m, invert_m) = match sizes.section {
        Section::Round { radius_m } => (
            radius_m,
            radius_m,
            Some(sizes.inside_radius_m.unwrap_or(radius_m)),
        ),
        Section::Bank {
            half_width_m,
            half_height_m,
        } => (half_width_m, half_height_m, None),
    };
    let up_m = match shot.touched {
        Touched::Centre => return Ok(Vec3::zeros()),
        Touched::Side { bearing_rad } => {
            let out = Vec3::new(bearing_rad.sin(), bearing_rad.cos(), 0.0);
            let mut normals = Vec::with_capacity(2);
            for d in &directions {
                let square = out - d * out.dot(d);
                if square.norm() < 0.5 {
                    return Err(AxisError::SideAlong { shot: i + 1 });
                }
                normals.push(square.normalize());
            }
            return Ok(mitre(&normals, i)? * -half_width_m);
        }
        Touched::OutsideTop => -half_height_m,
        Touched::OutsideBottom => half_height_m,
        Touched::Invert => invert_m.ok_or(AxisError::InvertOfBank { shot: i + 1 })?,
    };
    let mut normals = Vec::with_capacity(2);
    for d in &directions {
        // A hair above 45 degrees is rounding, not slope.
        if d.z.abs() > FRAC_1_SQRT_2 + 1e-9 {
            let slope_deg = d.z.abs().min(1.0).asin().to_degrees();
            return Err(AxisError::TooSteep {
                shot: i + 1,
                touched: shot.touched.words(),
                slope_deg,
            });
        }
        normals.push((Vec3::z() - d * d.z).normalize());
    }
    Ok(mitre(&normals, i)? * up_m)
}

/// Returns the offset of unit radius along the mitre: `(n1 + n2) / (1 + n1.n2)`, or the one normal there is.
fn mitre(normals: &[Vec3], i: usize) -> Result<Vec3, AxisError> {
    match normals {
        [n] => Ok(*n),
        [a, b, ..] => {
            let cosine = a.dot(b);
            if cosine < -0.9 {
                return Err(AxisError::TurnsBack {
                    shot: i + 1,
                    turn_deg: cosine.max(-1.0).acos().to_degrees(),
                });
            }
            Ok((a + b) / (1.0 + cosine))
        }
        [] => Ok(Vec3::zeros()),
    }
}

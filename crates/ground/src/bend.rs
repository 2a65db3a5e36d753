//! Bends: true arcs through the shots marked on them, cut to chords.
//!
//! A chord cuts the corner of a bend; how far is in [`sagitta_m`] and [`corner_m`]. So a bend is laid as the arc
//! itself, cut into chords so short that none leaves the arc by more than [`CHORD_SAGITTA_M`]; the tube's radius
//! takes that up.

use std::f64::consts::PI;

use crate::Vec3;
use crate::axis::{AxisError, AxisFinding};
use crate::unshot::{unshot_arc_m, unshot_bend_m};

/// Chords of an arc leave it by no more than this, which is added to the outside radius. Metres.
pub const CHORD_SAGITTA_M: f64 = 0.000_05;
/// A turn above this at a shot that is not marked as a bend is shown back. Radians.
pub const UNMARKED_TURN_RAD: f64 = 15.0 * PI / 180.0;
/// A marked bend that turns less than this is shown back. Radians.
pub const NO_TURN_RAD: f64 = 3.0 * PI / 180.0;
/// A turn that leaves less than this open is only the rounding of coordinates, metres.
const ROUNDING_M: f64 = 1e-6;
/// A radius found from the shots that differs from the stated one by more than this share is shown back.
const RADIUS_DISAGREES: f64 = 0.1;
/// A bend that was not shot is shown back when it may stand off by at least this. Metres.
const WORTH_SAYING_M: f64 = 0.001;

/// What a shot marks of a bend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BendMark {
    /// Which part.
    pub part: BendPart,
    /// Stated radius of the bend's axis, metres.
    pub radius_m: Option<f64>,
}

/// The part of a bend that a shot was taken on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BendPart {
    /// Where the straight before the bend ends.
    Start,
    /// Somewhere between start and end, on the bend.
    Mid,
    /// Where the straight after the bend begins.
    End,
    /// Where the two straights would meet; not on the bend itself.
    Pi,
    /// A pit or branch in which the run turns: its legs leave it straight, and nothing of the turn was left out.
    Corner,
}

/// One vertex of the axis with its bends laid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BentVertex {
    /// Where it is.
    pub axis: Vec3,
    /// Where it lies among the shots: 2.5 is half-way from shot 2 to shot 3, counted from 0.
    pub among_shots: f64,
    /// Whether the leg from here to the next vertex is a chord of a bend.
    pub bend_follows: bool,
}

/// An axis with its bends laid.
#[derive(Debug, Clone, PartialEq)]
pub struct BentAxis {
    /// The vertices in order.
    pub vertices: Vec<BentVertex>,
    /// The most by which a chord leaves its arc, metres; 0 without bends.
    pub sagitta_m: f64,
    /// For each leg between shots, how far the run may stand off what was laid because its turn was not shot, metres:
    /// a hard bound ([`crate::unshot`]). Infinite where no bound exists.
    pub unshot_m: Vec<f64>,
}

/// Returns how far the chord of an arc leaves it: `R (1 - cos(A/2))`, metres.
pub fn sagitta_m(radius_m: f64, turn_rad: f64) -> f64 {
    // As 2 sin^2(A/4), which keeps its digits for a small turn.
    2.0 * radius_m * (turn_rad / 4.0).sin().powi(2)
}

/// Returns how far the meeting point of the straights leaves the arc: `R (1/cos(A/2) - 1)`, metres.
pub fn corner_m(radius_m: f64, turn_rad: f64) -> f64 {
    radius_m * (1.0 / (turn_rad / 2.0).cos() - 1.0)
}

/// Returns how many chords an arc needs so that none leaves it by more than `tolerance_m`.
pub fn chords_needed(radius_m: f64, turn_rad: f64, tolerance_m: f64) -> usize {
    if radius_m <= 2.0 * tolerance_m {
        return 2;
    }
    let widest = 2.0 * (1.0 - tolerance_m / radius_m).acos();
    ((turn_rad.abs() / widest - 1e-9).ceil() as usize).max(1)
}

/// Returns the angle between two directions, radians, exact for small ones too.
pub fn turn_between(a: Vec3, b: Vec3) -> f64 {
    a.cross(&b).norm().atan2(a.dot(&b))
}

/// Lays straights and arcs through axis positions by their marks; one position and mark a shot.
///
/// `bend-start`, any `bend-mid`, `bend-end`: the arc through them. Without a mid, the arc that leaves the straight before and
/// joins the straight after; the turn gives its radius, and a stated radius that disagrees is shown back. With mids, the circle
/// through each three neighbours. `bend-pi`: the arc of the stated radius that touches both straights. What a turn without a
/// shot or a radius leaves open is told in `unshot_m`.
/// # Errors
/// [`AxisError`]: a bend that starts and does not end (or the other way), a `bend-pi` without a radius or at the end of the
/// run, a radius too large for the straights, a bend with neither a straight nor a mid.
pub fn lay_bends(
    axis: &[Vec3],
    marks: &[Option<BendMark>],
    findings: &mut Vec<AxisFinding>,
) -> Result<BentAxis, AxisError> {
    let mut laid = BentAxis {
        vertices: Vec::with_capacity(axis.len()),
        sagitta_m: 0.0,
        unshot_m: vec![0.0; axis.len().saturating_sub(1)],
    };
    // How much of the straight before the next shot is already taken by a bend laid at the shot before.
    let mut taken_m = 0.0;
    let mut i = 0;
    while i < axis.len() {
        match marks[i].map(|m| m.part) {
            None => {
                laid.push(axis[i], i as f64, false);
                if i > 0 && i + 1 < axis.len() {
                    let (back, on) = (axis[i] - axis[i - 1], axis[i + 1] - axis[i]);
                    let turn_rad = turn_between(back, on);
                    // However small the turn, what lies between the shots may leave the chord by this.
                    let mut off_m: f64 = 0.0;
                    for (leg, chord) in [(i - 1, back), (i, on)] {
                        let leg_off_m = unshot_bend_m(chord.norm(), turn_rad);
                        // Shots in one line turn by their last digits alone.
                        if leg_off_m <= ROUNDING_M {
                            continue;
                        }
                        laid.unshot_m[leg] = laid.unshot_m[leg].max(leg_off_m);
                        off_m = off_m.max(leg_off_m);
                    }
                    if turn_rad > UNMARKED_TURN_RAD {
                        findings.push(AxisFinding::UnmarkedTurn {
                            shot: i + 1,
                            turn_rad,
                            off_m,
                        });
                    }
                }
                taken_m = 0.0;
                i += 1;
            }
            Some(BendPart::Corner) => {
                laid.push(axis[i], i as f64, false);
                taken_m = 0.0;
                i += 1;
            }
            Some(BendPart::Pi) => {
                taken_m = laid.lay_corner(axis, i, marks[i].and_then(|m| m.radius_m), taken_m, findings)?;
                i += 1;
            }
            Some(BendPart::Start) => {
                let end = end_of_bend(marks, i)?;
                laid.lay_between(axis, i, end, stated_radius(&marks[i..=end]), findings)?;
                taken_m = 0.0;
                i = end + 1;
            }
            Some(BendPart::Mid | BendPart::End) => return Err(AxisError::BendWithoutStart { shot: i + 1 }),
        }
    }
    Ok(laid)
}

/// Returns the shot on which the bend that starts at shot `start` ends, both counted from 0.
pub(crate) fn end_of_bend(marks: &[Option<BendMark>], start: usize) -> Result<usize, AxisError> {
    let mut at = start + 1;
    while let Some(Some(BendMark {
        part: BendPart::Mid, ..
    })) = marks.get(at)
    {
        at += 1;
    }
    match marks.get(at) {
        Some(Some(BendMark {
            part: BendPart::End, ..
        })) => Ok(at),
        _ => Err(AxisError::BendWithoutEnd { shot: start + 1 }),
    }
}

/// Returns the forward tangent at `at` of the circle through three points in order, `at` being one of them.
///
/// By inversion about the point: the other two come to lie on a line along the tangent.
pub(crate) fn tangent_at(before: Vec3, at: Vec3, after: Vec3) -> Vec3 {
    let (u, v) = (at - before, after - at);
    u / u.norm_squared() + v / v.norm_squared()
}

/// As [`tangent_at`], at the first of three points in order.
pub(crate) fn tangent_at_first(at: Vec3, next: Vec3, last: Vec3) -> Vec3 {
    let (u, v) = (next - at, last - at);
    u / u.norm_squared() - v / v.norm_squared()
}

fn stated_radius(marks: &[Option<BendMark>]) -> Option<f64> {
    marks.iter().flatten().find_map(|m| m.radius_m)
}

fn agrees(arc: &Arc, stated_m: f64) -> bool {
    (arc.radius_m - stated_m).abs() <= RADIUS_DISAGREES * stated_m
}

/// An arc: from a point, along a unit tangent, bending towards a unit normal.
struct Arc {
    from: Vec3,
    tangent: Vec3,
    inward: Vec3,
    radius_m: f64,
    turn_rad: f64,
}

impl Arc {
    fn at(&self, angle_rad: f64) -> Vec3 {
        self.from
            + (self.tangent * angle_rad.sin() + self.inward * (2.0 * (angle_rad / 2.0).sin().powi(2)))
                * self.radius_m
    }

    /// The arc from `from` to `to` that bulges towards `bulge` and turns by `turn_rad`; `None` when nearly straight.
    fn over_chord(from: Vec3, to: Vec3, bulge: Vec3, turn_rad: f64) -> Option<Arc> {
        let chord = to - from;
        let along = chord.normalize();
        let out = bulge - along * bulge.dot(&along);
        let radius_m = chord.norm() / (2.0 * (turn_rad / 2.0).sin());
        if out.norm() < 1e-9 * bulge.norm() || turn_rad < 1e-4 || !radius_m.is_finite() {
            return None;
        }
        let out = out.normalize();
        let (sin, cos) = (turn_rad / 2.0).sin_cos();
        Some(Arc {
            from,
            tangent: along * cos + out * sin,
            inward: along * sin - out * cos,
            radius_m,
            turn_rad,
        })
    }
}

impl BentAxis {
    fn push(&mut self, axis: Vec3, among_shots: f64, bend_follows: bool) {
        // The end of one bend may be the start of the next.
        if let Some(last) = self.vertices.last_mut()
            && (last.axis - axis).norm() < 1e-7
        {
            last.bend_follows = bend_follows;
            return;
        }
        self.vertices.push(BentVertex {
            axis,
            among_shots,
            bend_follows,
        });
    }

    fn push_arc(&mut self, arc: &Arc, to: Vec3, from_shot: f64, to_shot: f64) {
        let chords = chords_needed(arc.radius_m, arc.turn_rad, CHORD_SAGITTA_M);
        self.sagitta_m = self
            .sagitta_m
            .max(sagitta_m(arc.radius_m, arc.turn_rad / chords as f64));
        for k in 0..chords {
            let share = k as f64 / chords as f64;
            self.push(
                arc.at(arc.turn_rad * share),
                from_shot + (to_shot - from_shot) * share,
                true,
            );
        }
        self.push(to, to_shot, false);
    }

    fn lay_corner(
        &mut self,
        axis: &[Vec3],
        i: usize,
        radius_m: Option<f64>,
        taken_m: f64,
        findings: &mut Vec<AxisFinding>,
    ) -> Result<f64, AxisError> {
        let shot = i + 1;
        if i == 0 || i + 1 == axis.len() {
            return Err(AxisError::CornerAtEnd { shot });
        }
        let radius_m = radius_m.ok_or(AxisError::CornerWithoutRadius { shot })?;
        let (back, on) = (axis[i] - axis[i - 1], axis[i + 1] - axis[i]);
        let (before_m, after_m) = (back.norm(), on.norm());
        let turn_rad = turn_between(back, on);
        if turn_rad < NO_TURN_RAD {
            findings.push(AxisFinding::BendWithoutTurn { shot, turn_rad });
        }
        if turn_rad < 1e-4 {
            self.push(axis[i], i as f64, false);
            return Ok(0.0);
        }
        let tangent_m = radius_m * (turn_rad / 2.0).tan();
        let room_m = (before_m - taken_m).min(after_m);
        if tangent_m > room_m + 1e-9 {
            return Err(AxisError::RadiusTooLarge {
                shot,
                radius_m,
                needs_m: tangent_m,
                room_m,
            });
        }
        let (u, v) = (back / before_m, on / after_m);
        let inward = (v - u * u.dot(&v)).normalize();
        let arc = Arc {
            from: axis[i] - u * tangent_m,
            tangent: u,
            inward,
            radius_m,
            turn_rad,
        };
        let (from_shot, to_shot) = (i as f64 - tangent_m / before_m, i as f64 + tangent_m / after_m);
        // In two halves, so that the growth of the shot itself is met in the middle of its bend.
        let middle = arc.at(turn_rad / 2.0);
        let half = turn_rad / 2.0;
        self.push_arc(
            &Arc {
                turn_rad: half,
                ..arc
            },
            middle,
            from_shot,
            i as f64,
        );
        let (sin, cos) = half.sin_cos();
        let second = Arc {
            from: middle,
            tangent: u * cos + inward * sin,
            inward: inward * cos - u * sin,
            radius_m,
            turn_rad: half,
        };
        self.push_arc(&second, axis[i] + v * tangent_m, i as f64, to_shot);
        Ok(tangent_m)
    }

    fn lay_between(
        &mut self,
        axis: &[Vec3],
        start: usize,
        end: usize,
        stated_m: Option<f64>,
        findings: &mut Vec<AxisFinding>,
    ) -> Result<(), AxisError> {
        let before = (start > 0).then(|| axis[start] - axis[start - 1]);
        let after = (end + 1 < axis.len()).then(|| axis[end + 1] - axis[end]);
        let mut whole_turn_rad = 0.0;
        for from in start..end {
            let (a, b) = (axis[from], axis[from + 1]);
            let chord = b - a;
            let arc = if end - start > 1 {
                // The circle through three neighbours; the turn over the chord from the angle at the third.
                let first = if from > start { from - 1 } else { from };
                let [p, q, r] = [axis[first], axis[first + 1], axis[first + 2]];
                let tangent = if from == first {
                    tangent_at_first(p, q, r)
                } else {
                    tangent_at(p, q, r)
                };
                Arc::over_chord(a, b, tangent, 2.0 * turn_between(tangent, chord))
            } else {
                let (bulge, turn_rad) = match (before, after) {
                    (Some(d), Some(e)) => (d.normalize() - e.normalize(), turn_between(d, e)),
                    (Some(d), None) => (d, 2.0 * turn_between(d, chord)),
                    (None, Some(e)) => (-e, 2.0 * turn_between(chord, e)),
                    (None, None) => return Err(AxisError::BendWithoutStraight { shot: start + 1 }),
                };
                let arc = Arc::over_chord(a, b, bulge, turn_rad);
                let off_m = match &arc {
                    Some(arc) => {
                        unshot_arc_m(arc.radius_m, arc.turn_rad, stated_m.filter(|r| agrees(arc, *r)))
                    }
                    None => unshot_bend_m(chord.norm(), turn_rad),
                };
                self.unshot_m[from] = off_m;
                if off_m >= WORTH_SAYING_M
                    && !arc.as_ref().zip(stated_m).is_some_and(|(arc, r)| agrees(arc, r))
                {
                    findings.push(AxisFinding::BendNotShot {
                        shot: start + 1,
                        turn_rad,
                        off_m,
                    });
                }
                arc
            };
            match arc {
                Some(arc) => {
                    whole_turn_rad += arc.turn_rad;
                    if let Some(stated_m) = stated_m.filter(|stated| !agrees(&arc, *stated)) {
                        findings.push(AxisFinding::RadiusDisagrees {
                            shot: from + 1,
                            stated_m,
                            found_m: arc.radius_m,
                        });
                    }
                    self.push_arc(&arc, b, from as f64, (from + 1) as f64);
                }
                None => {
                    self.push(a, from as f64, true);
                    self.push(b, (from + 1) as f64, false);
                }
            }
        }
        if whole_turn_rad < NO_TURN_RAD {
            findings.push(AxisFinding::BendWithoutTurn {
                shot: start + 1,
                turn_rad: whole_turn_rad,
            });
        }
        Ok(())
    }
}

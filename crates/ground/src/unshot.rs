//! What was not shot: how far a run may stand off the line laid between two well-measured shots.
//!
//! Hard bounds and no sigmas: they are added to a growth as they are. Three things are bounded.
//!
//! - *A turn within a leg.* A run that bends one way only, by at most `A` in all, over a chord `L` lies within the
//!   triangles on that chord whose sides turn by `A`. All their tips stand on one circle through the ends of the chord,
//!   `(L/2) tan(A/2)` off it at most. The same bound holds for both legs beside a shot at which the chords turn by `A`
//!   when the run is straights and one true arc, wherever on it the shot lies: the arc's tangent there is no more than
//!   `A` off either chord, so the arc stays within the segment of height `(L/2) tan(A/2)`.
//! - *A bend laid as its arc.* The arc stands `(L/2) tan(A/4)` off the chord on the same side, so off the arc the bound
//!   is the difference, which is how far the corner stands outside it: the outside of the grown tube is then exactly
//!   `(L/2) tan(A/2)` off the chord.
//! - *A bow.* A leg of `(1 + e) L` lies within the spheroid with the shots as its foci and half its width `c`. Beside a
//!   shot that is only `p = c^2 / hypot(c, L/2)` wide, and it widens by less than a metre a metre, so
//!   `min(c, p + x)` holds it at `x` from the shot. It holds as well whatever stays within `c` of the chord and sets
//!   out from the shot at no more than 45 degrees: a rigid leg with its joint allowance.

use crate::bend::{BentAxis, BentVertex, corner_m, sagitta_m};
use crate::tube::Growth;

/// A turn from this on has no bound: a run may go out and come back as far as it likes. Radians.
pub const NO_BOUND_RAD: f64 = 150.0 * std::f64::consts::PI / 180.0;
/// A leg without such a bound widens beside one with it within this distance. Metres.
const STEP_M: f64 = 0.001;

/// How far a run may stand off one leg between shots, by cause. Hard bounds, metres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Unshot {
    /// Because the leg may bow.
    pub bow_m: f64,
    /// Because it turns and the turn was not shot; infinite where no bound exists.
    pub turn_m: f64,
}

impl Unshot {
    /// Returns both together, metres.
    pub fn all_m(&self) -> f64 {
        self.bow_m + self.turn_m
    }
}

/// Returns how far a bend without any shot may leave the chord over it: `(L/2) tan(A/2)`, metres; infinite from
/// [`NO_BOUND_RAD`] on.
pub fn unshot_bend_m(chord_m: f64, turn_rad: f64) -> f64 {
    if turn_rad >= NO_BOUND_RAD {
        return f64::INFINITY;
    }
    chord_m / 2.0 * (turn_rad / 2.0).tan()
}

/// Returns how far a bend marked by its ends alone may leave the arc laid through them, metres.
///
/// With a radius stated, the difference of the two arcs over the chord; a radius too small for the chord counts as none.
pub fn unshot_arc_m(radius_m: f64, turn_rad: f64, stated_m: Option<f64>) -> f64 {
    if turn_rad >= NO_BOUND_RAD {
        return f64::INFINITY;
    }
    let open_m = corner_m(radius_m, turn_rad);
    let half_chord_m = radius_m * (turn_rad / 2.0).sin();
    match stated_m {
        Some(stated_m) if stated_m >= half_chord_m => {
            let stated_turn_rad = 2.0 * (half_chord_m / stated_m).asin();
            (sagitta_m(stated_m, stated_turn_rad) - sagitta_m(radius_m, turn_rad))
                .abs()
                .min(open_m)
        }
        _ => open_m,
    }
}

/// A vertex of a tube with what was not shot there.
pub(crate) struct Widened {
    pub(crate) vertex: BentVertex,
    pub(crate) growth: Option<Growth>,
    /// The hard bound within the growth, metres; infinite where there is none.
    pub(crate) unshot_m: f64,
}

/// Widens a bent axis by what was not shot: at each vertex, and at vertices put in where the widening begins and ends.
///
/// `shots` holds the growth of each shot on its own. A straight leg that may only bow widens from its shots on; any
/// other leg is as wide at its shots as along it, and the leg beside it loses that within a millimetre.
pub(crate) fn widen(bent: &BentAxis, shots: &[Option<Growth>], unshot: &[Unshot]) -> Vec<Widened> {
    let vertices = &bent.vertices;
    let spans = spans_of(vertices, unshot);
    let mut out: Vec<Widened> = Vec::with_capacity(vertices.len());
    let mut push = |vertex: BentVertex, unshot_m: f64| {
        let own = growth_among(shots, vertex.among_shots);
        out.push(Widened {
            vertex,
            growth: own.filter(|_| unshot_m.is_finite()).map(|own| Growth {
                horizontal_m: own.horizontal_m + unshot_m,
                vertical_m: own.vertical_m + unshot_m,
            }),
            unshot_m,
        });
    };
    for (i, vertex) in vertices.iter().enumerate() {
        let before = i.checked_sub(1).map(|leg| &spans[leg]);
        let after = spans.get(i);
        let here_m = before
            .map_or(0.0, |s| s.end_m)
            .max(after.map_or(0.0, |s| s.start_m));
        push(*vertex, here_m);
        let Some(span) = after else { break };
        let next = &vertices[i + 1];
        let next_m = span.end_m.max(spans.get(i + 1).map_or(0.0, |s| s.start_m));
        let (length_m, spilled) = (
            (next.axis - vertex.axis).norm(),
            [here_m > span.start_m, next_m > span.end_m],
        );
        for (at_m, unshot_m) in span.breaks(length_m, spilled) {
            let share = at_m / length_m;
            let between = BentVertex {
                axis: vertex.axis + (next.axis - vertex.axis) * share,
                among_shots: vertex.among_shots + (next.among_shots - vertex.among_shots) * share,
                bend_follows: vertex.bend_follows,
            };
            push(between, unshot_m);
        }
    }
    out
}

/// The widening of one leg of the bent axis.
struct Span {
    /// At its first vertex, metres.
    start_m: f64,
    /// At its last vertex, metres.
    end_m: f64,
    /// In between, metres.
    most_m: f64,
}

impl Span {
    /// Returns where along the leg vertices are put in, and the widening there.
    fn breaks(&self, length_m: f64, [spilled_in, spilled_out]: [bool; 2]) -> Vec<(f64, f64)> {
        if length_m < 8.0 * STEP_M {
            return Vec::new();
        }
        // No steeper than 45 degrees, and at a shot beside a wider leg from a millimetre on.
        let rise_m = |from_m: f64| self.most_m - from_m;
        let mut breaks = Vec::new();
        if spilled_in {
            breaks.push((STEP_M, (self.start_m + STEP_M).min(self.most_m)));
        }
        if rise_m(self.start_m) > 0.0 {
            breaks.push((rise_m(self.start_m), self.most_m));
        }
        if rise_m(self.end_m) > 0.0 {
            breaks.push((length_m - rise_m(self.end_m), self.most_m));
        }
        if spilled_out {
            breaks.push((length_m - STEP_M, (self.end_m + STEP_M).min(self.most_m)));
        }
        breaks
    }
}

fn spans_of(vertices: &[BentVertex], unshot: &[Unshot]) -> Vec<Span> {
    let is_shot = |v: &BentVertex| v.among_shots.fract() == 0.0;
    let legs = vertices.windows(2);
    legs.map(|pair| {
        let middle = (pair[0].among_shots + pair[1].among_shots) / 2.0;
        let of = unshot[(middle as usize).min(unshot.len() - 1)];
        let most_m = of.all_m();
        let flat = Span {
            start_m: most_m,
            end_m: most_m,
            most_m,
        };
        let whole_leg = is_shot(&pair[0]) && is_shot(&pair[1]) && !pair[0].bend_follows;
        let length_m = (pair[1].axis - pair[0].axis).norm();
        let at_shot_m = most_m * most_m / most_m.hypot(length_m / 2.0);
        let widens = whole_leg && of.turn_m == 0.0 && most_m - at_shot_m > STEP_M;
        // Where the leg is too short to widen and narrow again, it is wide all along.
        if !widens || 2.0 * most_m >= length_m - 8.0 * STEP_M {
            return flat;
        }
        Span {
            start_m: at_shot_m,
            end_m: at_shot_m,
            most_m,
        }
    })
    .collect()
}

fn growth_among(shots: &[Option<Growth>], among: f64) -> Option<Growth> {
    let from = among.floor() as usize;
    let share = among - from as f64;
    let a = shots[from]?;
    if share == 0.0 {
        return Some(a);
    }
    let b = shots[from + 1]?;
    let mix = |a: f64, b: f64| a + (b - a) * share;
    Some(Growth {
        horizontal_m: mix(a.horizontal_m, b.horizontal_m),
        vertical_m: mix(a.vertical_m, b.vertical_m),
    })
}

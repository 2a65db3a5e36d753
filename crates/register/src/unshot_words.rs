//! What was not shot of a run, in words: how much of a plus-or-minus comes from it, and how to mend that.

use crate::run_record::RunRecord;
use crate::view::{Up, Why};
use crate::words::Fitting;
use ground::bend::turn_between;
use ground::lay::LaidTube;
use ground::unshot::{Unshot, unshot_bend_m};

/// Said wherever a bound is missing because a run turns right back.
pub(crate) const NO_BOUND: &str = "it turns right back and the turn was not shot: no bound can be given";

/// What was not shot widens a run by less than this and is not spoken of. Metres.
const WORTH_SAYING_M: f64 = 0.005;

fn is_told(bow_m: f64, turn_m: f64) -> bool {
    bow_m > 0.0 || turn_m >= WORTH_SAYING_M
}

impl RunRecord {
    /// Returns the stated bow, or says in `why` that none was stated and what is taken.
    ///
    /// None is assumed: how far a leg may bow hangs on what it is made of and how it was laid, and a run's material
    /// is a free word. So the line is taken as straight, and that is said with the longest distance it holds for.
    pub(crate) fn stated_bow(&self, longest_m: f64, why: &mut Why) -> Option<Up> {
        if self.bow_m.is_none() {
            let says = format!(
                "no bow was stated: between shots it is taken as straight, for {} m at most; state bow_mm where it may bend, or shoot more often",
                Up(longest_m).text()
            );
            why.insert("bow_m".into(), says);
        }
        self.bow_m.map(Up)
    }

    /// Tells why the run may stand off a leg between shots that was not shot, with the mend; `None` where nothing
    /// worth saying was left open.
    pub(crate) fn unshot_leg(&self, laid: &LaidTube, leg: usize) -> Option<String> {
        let unshot = laid.unshot[leg];
        is_told(unshot.bow_m, unshot.turn_m).then(|| self.because(laid, leg))
    }

    /// Tells why a leg is wider than its shots, with the mend.
    fn because(&self, laid: &LaidTube, leg: usize) -> String {
        let unshot = laid.unshot[leg];
        let mut parts = Vec::new();
        if unshot.turn_m >= WORTH_SAYING_M {
            let [from, to] = [&self.shots[leg], &self.shots[leg + 1]];
            let marked = from.fitting == Some(Fitting::BendStart) && to.fitting == Some(Fitting::BendEnd);
            let axis = &laid.shot_axis;
            let chord_m = (axis[leg + 1] - axis[leg]).norm();
            let turns = |shot: usize| {
                shot > 0 && shot + 1 < axis.len() && {
                    let turn = turn_between(axis[shot] - axis[shot - 1], axis[shot + 1] - axis[shot]);
                    unshot_bend_m(chord_m, turn) >= WORTH_SAYING_M
                }
            };
            parts.push(if marked && from.bend_radius_m.or(to.bend_radius_m).is_some() {
                format!(
                    "the bend from {} to {} was not shot, and its stated radius does not fit its ends; shoot its middle",
                    from.point, to.point
                )
            } else if marked {
                format!(
                    "the bend from {} to {} was not shot; shoot its middle or state its radius",
                    from.point, to.point
                )
            } else {
                let at: Vec<&str> = [leg, leg + 1]
                    .into_iter()
                    .filter(|shot| turns(*shot))
                    .map(|shot| self.shots[shot].point.as_str())
                    .collect();
                format!(
                    "the turn at {} was not shot; shoot the bend, or mark the corner bend-pi with its radius",
                    at.join(" and ")
                )
            });
        }
        if unshot.bow_m > 0.0 {
            parts.push(format!(
                "it may bow {} m off the line between shots, as stated",
                Up(unshot.bow_m).text()
            ));
        }
        parts.join("; and because ")
    }

    /// Tells how much of the plus-or-minus over part of a tube comes from what was not shot, why, and the mend.
    ///
    /// `vertices` are the first and last vertex of the part.
    pub(crate) fn unshot_part(&self, laid: &LaidTube, vertices: (usize, usize)) -> Option<String> {
        let widest =
            (vertices.0..=vertices.1).max_by(|a, b| laid.unshot_m[*a].total_cmp(&laid.unshot_m[*b]))?;
        let bound_m = laid.unshot_m[widest];
        let last_leg = laid.unshot.len() - 1;
        let among = laid.among_shots[widest];
        let beside =
            [(among.ceil() as usize).saturating_sub(1), among.floor() as usize].map(|leg| leg.min(last_leg));
        let leg = beside
            .into_iter()
            .max_by(|a, b| laid.unshot[*a].all_m().total_cmp(&laid.unshot[*b].all_m()))?;
        let Unshot { bow_m, turn_m } = laid.unshot[leg];
        if !is_told(bow_m, turn_m) {
            return None;
        }
        let because = self.because(laid, leg);
        let says = match laid.tube.vertices[widest].growth {
            _ if !bound_m.is_finite() => format!("no \u{b1} can be given because {because}"),
            Some(growth) => format!(
                "\u{b1} {} m in plan, of which {} m because {because}",
                Up(growth.horizontal_m).text(),
                Up(bound_m).text()
            ),
            None => format!(
                "up to {} m off the line drawn because {because}",
                Up(bound_m).text()
            ),
        };
        Some(says)
    }
}

#[cfg(test)]
#[path = "unshot_tests.rs"]
mod tests;

//! One place where two runs meet, judged by the figures that speak of it.
//!
//! - `3d`: the shortest way, wherever they meet.
//! - `horizontal`: side by side, or at a crossing where they run together along a stretch. A crossing at a steeper angle
//!   comes within any distance in plan and is left to the other measures.
//! - `vertical-crossing`: where one lies over the other, in the order that the figure asks. Side by side it speaks only
//!   when the two may lie over one another at 95 %, and then proves nothing.

use super::BEYOND_M;
use crate::rules::{Adopted, SeparationMeasure, SeparationRule, Side};
use crate::service::Service;
use crate::words::SeparationVerdict;
use ground::gap::NoNumber;
use ground::meeting::{Between, Meeting, MeetingKind, Which};

/// What was decided on a place.
#[derive(Debug)]
pub(super) struct Judged<'r> {
    pub(super) verdict: SeparationVerdict,
    /// The figure that governed.
    pub(super) figure: Option<Spoken<'r>>,
    /// Why there is none, when there is none.
    pub(super) no_figure: String,
}

/// A figure, and what it measured.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spoken<'r> {
    pub(super) rule: &'r SeparationRule,
    pub(super) gap: Option<Between>,
    pub(super) worst: Result<Between, NoNumber>,
    pub(super) verdict: SeparationVerdict,
}

impl Spoken<'_> {
    /// How much is left over the minimum, at worst if that is known: the least is the most severe.
    pub(super) fn margin_m(&self) -> f64 {
        let nearest = self.worst.ok().or(self.gap);
        nearest.map_or(f64::NEG_INFINITY, |gap| gap.gap_m - self.rule.minimum_m)
    }
}

/// Judges a place; `None` when it is too far from every figure to be told.
pub(super) fn judge<'r>(
    met: &Meeting,
    services: [Service; 2],
    rules: Option<&'r Adopted>,
    suspect: bool,
) -> Option<Judged<'r>> {
    let nearest_m = met.worst_shortest.map_or(met.shortest.gap_m, |worst| worst.gap_m);
    let crossing = met.kind == MeetingKind::Crossing;
    let mut governing: Option<Spoken<'r>> = None;
    let (mut spoke, mut unconfirmed) = (false, Vec::new());
    for (rules, (rule, first)) in rules
        .into_iter()
        .flat_map(|r| r.separations(services[0], services[1]).map(move |s| (r, s)))
    {
        if !rules.counts(&rule.cited) {
            if !rules.left_out.contains(&rule.cited.id) {
                unconfirmed.push(rule.cited.id.as_str());
            }
            continue;
        }
        let Some(own) = speaks(rule, first, met, suspect) else {
            continue;
        };
        spoke = true;
        if !crossing && own.verdict == SeparationVerdict::Met && own.margin_m() >= BEYOND_M {
            continue;
        }
        let severity = |s: &Spoken<'_>| (s.verdict, -s.margin_m());
        if governing.is_none_or(|so_far| severity(&own) > severity(&so_far)) {
            governing = Some(own);
        }
    }
    if let Some(figure) = governing {
        return Some(Judged {
            verdict: figure.verdict,
            figure: Some(figure),
            no_figure: String::new(),
        });
    }
    if spoke || !(crossing || nearest_m < BEYOND_M) {
        return None;
    }
    let no_figure = if rules.is_none() {
        "no rule adopted".into()
    } else if unconfirmed.is_empty() {
        "no figure of the adopted rule set speaks of it".into()
    } else {
        unconfirmed.sort_unstable();
        unconfirmed.dedup();
        format!(
            "no figure that counts speaks of it; confirm {} by name if it holds here",
            unconfirmed.join(", ")
        )
    };
    Some(Judged {
        verdict: SeparationVerdict::NotProved,
        figure: None,
        no_figure,
    })
}

/// Measures what a figure asks; `None` when it does not speak of such a place. `first` tells which of the figure's two
/// sides the first run is.
fn speaks<'r>(rule: &'r SeparationRule, first: Side, met: &Meeting, suspect: bool) -> Option<Spoken<'r>> {
    let crossing = met.kind == MeetingKind::Crossing;
    let (gap, worst) = match rule.measure {
        SeparationMeasure::Shortest => (Some(met.shortest), met.worst_shortest),
        SeparationMeasure::Horizontal => {
            if crossing && !met.together {
                return None;
            }
            (Some(met.horizontal), met.worst_horizontal)
        }
        SeparationMeasure::VerticalCrossing if crossing => {
            let above = met.above.map(|which| match (which, first) {
                (Which::First, side) => side,
                (Which::Second, Side::First) => Side::Second,
                (Which::Second, Side::Second) => Side::First,
            });
            // Neither above: either order may be meant.
            if let (Some(asked), Some(above)) = (rule.above, above)
                && asked != above
            {
                return None;
            }
            (met.vertical.ok(), met.worst_vertical)
        }
        SeparationMeasure::VerticalCrossing => {
            let may_cross = met
                .worst_horizontal
                .map_or(met.horizontal.gap_m < BEYOND_M, |worst| worst.gap_m <= 0.0);
            if !may_cross {
                return None;
            }
            (None, Err(NoNumber::NotUnder))
        }
    };
    let verdict = if gap.is_some_and(|gap| gap.gap_m < rule.minimum_m) {
        SeparationVerdict::Short
    } else if gap.is_some() && worst.is_ok_and(|worst| worst.gap_m >= rule.minimum_m) {
        SeparationVerdict::Met
    } else {
        SeparationVerdict::NotProved
    };
    // What a failed or missing check leaves suspect, and what a figure asks besides, can never be met.
    let verdict = match verdict {
        SeparationVerdict::Met if suspect || !rule.also.is_empty() => SeparationVerdict::NotProved,
        verdict => verdict,
    };
    Some(Spoken {
        rule,
        gap,
        worst,
        verdict,
    })
}

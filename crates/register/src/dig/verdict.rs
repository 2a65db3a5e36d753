//! From worst gaps to a verdict, by the rule set's own measure.

use crate::rules::{DigRule, ZoneMeasure};
use crate::words::{DigVerdict, Known};
use ground::gap::{NoNumber, TubeGaps};

/// Returns the most severe verdict of all the rule's measures, from unrounded worst gaps.
///
/// Touching at 95 % is in the way whatever the measure. What is known worse than seen has a wider `near`.
pub(super) fn verdict_of(gaps: &TubeGaps, rule: &DigRule, known: Known) -> DigVerdict {
    let (Ok(shortest), Ok(horizontal)) = (&gaps.worst_shortest, &gaps.worst_horizontal) else {
        return DigVerdict::NotPlaced;
    };
    if shortest.gap_m <= 0.0 {
        return DigVerdict::InTheWay;
    }
    let near_m = if known.is_seen() {
        rule.near_m
    } else {
        rule.near_m * rule.near_unseen_factor
    };
    let by_distance = |gap_m: f64| {
        if gap_m <= rule.hand_dig_m {
            DigVerdict::HandDig
        } else if gap_m <= near_m {
            DigVerdict::Near
        } else {
            DigVerdict::Beyond
        }
    };
    let measured = rule.measure.iter().map(|measure| match measure {
        ZoneMeasure::Horizontal => by_distance(horizontal.gap_m),
        ZoneMeasure::Shortest => by_distance(shortest.gap_m),
        ZoneMeasure::VerticalBelow => match &gaps.worst_vertical {
            Ok(gap) => by_distance(gap.gap_m),
            Err(NoNumber::NotUnder) => DigVerdict::Beyond,
            // An unknown floor may be at any depth.
            Err(NoNumber::FloorUnknown) => DigVerdict::InTheWay,
            Err(NoNumber::NotPlaced) => DigVerdict::NotPlaced,
        },
    });
    measured.min().unwrap_or(DigVerdict::NotPlaced)
}

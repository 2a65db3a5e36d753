//! A blunder in words that a person can act on.

use crate::blunder::{Suspect, Trial, displaced, mend};
use crate::finding::Finding;
use crate::observation::{Quantity, SetUp};
use crate::resection::half_turn;
use crate::station::{StationFix, computed_value};

/// Returns the finding of a blunder: the likeliest cause first, then what cannot be told from it.
pub(crate) fn describe(set_up: &SetUp, best: &Trial, also: &[Trial]) -> Finding {
    let (code, place, mut sentence) = words(set_up, best);
    let mut others: Vec<String> = also.iter().map(|t| words(set_up, t).2).collect();
    others.dedup();
    if !others.is_empty() {
        sentence = format!(
            "{sentence} (the readings fit as well if {})",
            others.join(", or if ")
        );
    }
    if !best.explains() {
        sentence.push_str("; this does not explain everything, more than one thing is wrong");
    }
    Finding::new(code, place, sentence)
}

/// How far a reading lies from what the mended station computes.
fn misses(set_up: &SetUp, fix: &StationFix, target: usize, wanted: fn(Quantity) -> bool) -> f64 {
    set_up
        .observations
        .iter()
        .find(|o| o.to == target && wanted(o.quantity))
        .and_then(|o| {
            let computed = computed_value(set_up, fix, o)?;
            Some(if o.quantity.is_length() {
                o.value - computed
            } else {
                half_turn(o.value - computed)
            })
        })
        .unwrap_or(0.0)
}

fn mm(metres: f64) -> String {
    let size = metres.abs();
    if size < 10.0 {
        format!("{:.0} mm", size * 1000.0)
    } else {
        format!("{size:.1} m")
    }
}

fn first_length(set_up: &SetUp) -> f64 {
    let mut lengths = set_up.observations.iter().filter(|o| o.quantity.is_length());
    lengths.next().map_or(f64::NAN, |o| o.value)
}

fn mended_length(set_up: &SetUp, suspect: Suspect) -> f64 {
    mend(set_up, suspect).map_or(f64::NAN, |(mended, _)| first_length(&mended))
}

/// Steps between usual prism constants lie in this range (trade figure), in metres.
const PRISM_STEP_M: std::ops::RangeInclusive<f64> = 0.016..=0.041;

/// Returns the code, the place and the words of a hypothesis.
fn words(set_up: &SetUp, trial: &Trial) -> (&'static str, String, String) {
    let id = |target: usize| set_up.control[target].id.clone();
    let fix = &trial.fix;
    let seconds = |radians: f64| format!("{:.0} seconds", radians.abs().to_degrees() * 3600.0);
    match trial.suspect {
        Suspect::Distance { target } => {
            let off = misses(set_up, fix, target, Quantity::is_length);
            let cause = if PRISM_STEP_M.contains(&off.abs()) {
                "wrong prism constant (the size fits), or wrong point?"
            } else {
                "wrong prism constant or wrong point?"
            };
            let text = format!("the distance to {} disagrees by {}: {cause}", id(target), mm(off));
            ("blunder-distance", id(target), text)
        }
        Suspect::Direction { target } => {
            let off = misses(set_up, fix, target, |q| q == Quantity::Direction);
            let text = format!(
                "the direction to {} disagrees by {}: misread, mispointed or wrong point?",
                id(target),
                seconds(off)
            );
            ("blunder-direction", id(target), text)
        }
        Suspect::Zenith { target } => {
            let off = misses(set_up, fix, target, |q| q == Quantity::Zenith);
            let text = format!(
                "the zenith angle to {} disagrees by {}: misread or mispointed?",
                id(target),
                seconds(off)
            );
            ("blunder-zenith", id(target), text)
        }
        Suspect::TargetHeight { target } => {
            let up = displaced(set_up, fix, target).map_or(0.0, |d| d[2]);
            let text = format!(
                "the level of {} disagrees by {}: wrong target height, or wrong level of the point?",
                id(target),
                mm(up)
            );
            ("blunder-target-height", id(target), text)
        }
        Suspect::PlanPosition { target } | Suspect::Point { target } => {
            let place = displaced(set_up, fix, target).map_or(String::new(), |d| {
                format!(
                    ": it is measured {} {} and {} {} of where it is given",
                    mm(d[0]),
                    if d[0] >= 0.0 { "east" } else { "west" },
                    mm(d[1]),
                    if d[1] >= 0.0 { "north" } else { "south" },
                )
            });
            let text = format!(
                "{} does not fit the others{place}; disturbed, mistyped, or another mark?",
                id(target)
            );
            ("blunder-point", id(target), text)
        }
        Suspect::Swapped { first, second } => (
            "blunder-swapped",
            id(first),
            format!("{} and {} are swapped", id(first), id(second)),
        ),
        Suspect::OtherPoint { target, actually } => (
            "blunder-other-point",
            id(target),
            format!("the point booked as {} is {}", id(target), id(actually)),
        ),
        Suspect::Face { target } => (
            "blunder-face",
            id(target),
            format!(
                "the direction to {} is half a circle out: read on the other face",
                id(target)
            ),
        ),
        Suspect::DistanceInFeet { target } => (
            "blunder-feet",
            id(target),
            format!("the distance to {} is in feet", id(target)),
        ),
        Suspect::AllDistancesInFeet => (
            "blunder-feet",
            "station".into(),
            "all distances are in feet and the control is in metres".into(),
        ),
        Suspect::ControlInFeet => (
            "blunder-feet",
            "station".into(),
            "the control is in feet and the distances are in metres".into(),
        ),
        Suspect::CommonConstant => {
            let size = first_length(set_up) - mended_length(set_up, trial.suspect);
            let text = format!(
                "all distances are {} too {}: wrong prism constant?",
                mm(size),
                if size > 0.0 { "long" } else { "short" }
            );
            ("blunder-prism-constant", "station".into(), text)
        }
        Suspect::CommonScale => {
            let size = (mended_length(set_up, trial.suspect) / first_length(set_up) - 1.0) * 1e6;
            let text = format!(
                "all distances want a scale of {size:+.0} ppm: wrong grid factor, air correction, unit or datum?"
            );
            ("blunder-scale", "station".into(), text)
        }
    }
}

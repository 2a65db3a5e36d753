//! What laying a run's axis found, in words, with the labels of its points.

use crate::run_record::RunRecord;
use crate::view::Up;
use ground::axis::AxisFinding;

fn off_words(off_m: f64, from: &str) -> String {
    if off_m.is_finite() {
        format!("it may lie up to {} m off {from}", Up(off_m).text())
    } else {
        "no bound can be given for where it lies there".into()
    }
}

impl RunRecord {
    /// Returns a finding as a sentence with its mend; shots are named by their labels.
    pub(crate) fn says_of(&self, finding: &AxisFinding) -> String {
        let label = |shot: usize| {
            self.shots
                .get(shot.wrapping_sub(1))
                .map_or("?", |s| s.point.as_str())
        };
        match finding {
            AxisFinding::UnmarkedTurn {
                shot,
                turn_rad,
                off_m,
            } => format!(
                "turns {:.0} degrees at {} without a bend mark, so {}: shoot the bend, or mark the corner bend-pi with its radius",
                turn_rad.to_degrees(),
                label(*shot),
                off_words(*off_m, "the legs beside it")
            ),
            AxisFinding::BendNotShot { shot, off_m, .. } => format!(
                "the bend at {} was shot at its ends alone, so {}: shoot the middle of the bend, or state its radius",
                label(*shot),
                off_words(*off_m, "the arc drawn")
            ),
            AxisFinding::BendWithoutTurn { shot, turn_rad } => format!(
                "marked as a bend at {}, and turns only {:.1} degrees: check the mark",
                label(*shot),
                turn_rad.to_degrees()
            ),
            AxisFinding::RadiusDisagrees {
                shot,
                stated_m,
                found_m,
            } => format!(
                "the bend at {} is stated with radius {stated_m:.3} m and measures {found_m:.3} m: the shots were used",
                label(*shot)
            ),
            AxisFinding::WallUnknown { shot } => format!(
                "an invert was touched at {} and the wall is not stated: the axis may lie higher than it is; give wall_mm",
                label(*shot)
            ),
            other => format!("{other:?}"),
        }
    }

    /// Returns the short code of a finding.
    pub(crate) fn code_of(finding: &AxisFinding) -> &'static str {
        match finding {
            AxisFinding::UnmarkedTurn { .. } | AxisFinding::BendNotShot { .. } => "bend-not-shot",
            AxisFinding::BendWithoutTurn { .. } => "bend-without-turn",
            AxisFinding::RadiusDisagrees { .. } => "radius-disagrees",
            AxisFinding::WallUnknown { .. } => "wall-not-stated",
            _ => "axis",
        }
    }
}

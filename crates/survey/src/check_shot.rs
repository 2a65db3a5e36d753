//! The check shot: a known point that took no part in the station, measured from it.
//!
//! Its misfit is the honest number of a set-up. A station without a passed check is usable only with a recorded reason.

use std::collections::{BTreeMap, BTreeSet};

use crate::finding::Finding;
use crate::observation::ControlPoint;
use crate::shot::ShotPosition;
use crate::uncertainty::PointCovariance;

/// The largest difference that a site accepts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CheckTolerance {
    /// In plan, in metres.
    pub plan_m: f64,
    /// In level, in metres.
    pub level_m: f64,
}

impl Default for CheckTolerance {
    /// 3 mm each: what is expected of an instrument for millimetre work ([`crate::sources::SET_UP_PRACTICE`]).
    fn default() -> Self {
        Self {
            plan_m: 0.003,
            level_m: 0.003,
        }
    }
}

/// What a check says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CheckVerdict {
    /// Inside the tolerance and its own 95 % bound, in plan and level.
    Passed,
    /// Outside one of them.
    Failed,
    /// No check was made.
    NotDone,
}

/// A check shot against its known point.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckShot {
    /// The known point.
    pub point: String,
    /// Measured less known: east, north, in metres.
    pub plan_difference_m: [f64; 2],
    /// Length of the plan difference, in metres.
    pub plan_m: f64,
    /// 95 % bound of the plan difference (radial), in metres.
    pub plan_u95_m: f64,
    /// Measured less known level, in metres; `None` when either is not known.
    pub level_m: Option<f64>,
    /// 95 % bound of the level difference, in metres.
    pub level_u95_m: Option<f64>,
    /// The tolerance it was held to.
    pub tolerance: CheckTolerance,
    /// Passed or failed.
    pub verdict: CheckVerdict,
    /// What a person should know about it.
    pub findings: Vec<Finding>,
}

/// Compares a shot to a known point with the point's coordinates.
///
/// The bound joins the shot's covariance and the known point's own. A plan difference may hide along a thin
/// ellipse; the radial bound is its widest, so a fault is told from noise late rather than early, and the
/// tolerance stands beside it. A level that cannot be compared leaves the check to the plan and says so.
pub fn check_shot(known: &ControlPoint, shot: &ShotPosition, tolerance: &CheckTolerance) -> CheckShot {
    let difference = [
        shot.easting_m - known.easting_m,
        shot.northing_m - known.northing_m,
    ];
    let covariance: PointCovariance = shot.covariance.plus(known.covariance);
    let plan_m = difference[0].hypot(difference[1]);
    let plan_u95_m = covariance.plan().radial_u95_m();
    let level_m = known.level_m.zip(shot.level_m).map(|(k, s)| s - k);
    let level_u95_m = level_m.map(|_| covariance.level_u95_m());
    let mut findings = Vec::new();
    let mut failed = false;
    let mut compare = |word: &'static str, off: f64, bound: f64, allowed: f64| {
        // NaN fails: nothing that is not a number passes.
        let inside_tolerance = off <= allowed;
        let inside_bound = off <= bound;
        failed |= !(inside_tolerance && inside_bound);
        if !inside_tolerance {
            findings.push(Finding::new(
                "check-outside-tolerance",
                known.id.clone(),
                format!(
                    "the check differs by {:.1} mm in {word}, the site allows {:.1} mm; shoot it again, then look for a moved tripod, a wrong target height or a wrong point",
                    off * 1000.0,
                    allowed * 1000.0
                ),
            ));
        }
        if !inside_bound {
            findings.push(Finding::new(
                "check-outside-own-bound",
                known.id.clone(),
                format!(
                    "the check differs by {:.1} mm in {word}, more than the {:.1} mm (95 %) that its uncertainty explains; shoot it again: one good check in twenty does this",
                    off * 1000.0,
                    bound * 1000.0
                ),
            ));
        } else if bound > allowed {
            findings.push(Finding::new(
                "check-weaker-than-tolerance",
                known.id.clone(),
                format!(
                    "the check itself is only good to {:.1} mm (95 %) in {word}, so it cannot prove {:.1} mm; use a nearer or better known point",
                    bound * 1000.0,
                    allowed * 1000.0
                ),
            ));
        }
    };
    compare("plan", plan_m, plan_u95_m, tolerance.plan_m);
    match level_m.zip(level_u95_m) {
        Some((off, bound)) => compare("level", off.abs(), bound, tolerance.level_m),
        None => findings.push(Finding::new(
            "check-without-level",
            known.id.clone(),
            "the level was not checked: the station or the known point has none",
        )),
    }
    CheckShot {
        point: known.id.clone(),
        plan_difference_m: difference,
        plan_m,
        plan_u95_m,
        level_m,
        level_u95_m,
        tolerance: *tolerance,
        verdict: if failed {
            CheckVerdict::Failed
        } else {
            CheckVerdict::Passed
        },
        findings,
    }
}

/// Returns what the checks of a set-up say together: the last one made to each point counts, and all must pass.
///
/// A check shot again after a fault was mended takes the place of the first; another point that agrees does not.
pub fn verdict_of(checks: &[CheckShot]) -> CheckVerdict {
    let mut latest: BTreeMap<&str, CheckVerdict> = BTreeMap::new();
    latest.extend(checks.iter().map(|check| (check.point.as_str(), check.verdict)));
    let passed = |verdict: &CheckVerdict| *verdict == CheckVerdict::Passed;
    match latest.len() {
        0 => CheckVerdict::NotDone,
        _ if latest.values().all(passed) => CheckVerdict::Passed,
        _ => CheckVerdict::Failed,
    }
}

/// What happened at a set-up, in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SetUpEvent<'a> {
    /// A point was shot.
    Shot,
    /// A check shot was made.
    Check {
        /// The known point that was checked.
        target: &'a str,
        /// What it said.
        verdict: CheckVerdict,
    },
}

/// Returns the places of the shots that a failed check leaves suspect.
///
/// A failed check makes suspect every shot since the last check that passed while no point stood failed, and every
/// later shot until each failed point has passed again: as in [`verdict_of`], another point that agrees cures nothing.
pub fn suspect_shots(events: &[SetUpEvent<'_>]) -> Vec<usize> {
    let mut suspect = Vec::new();
    let mut since_good = Vec::new();
    let mut failed: BTreeSet<&str> = BTreeSet::new();
    for (k, event) in events.iter().enumerate() {
        match *event {
            SetUpEvent::Shot if failed.is_empty() => since_good.push(k),
            SetUpEvent::Shot => suspect.push(k),
            SetUpEvent::Check {
                target,
                verdict: CheckVerdict::Passed,
            } => {
                // While another point stands failed nothing waits here: its check took it all.
                failed.remove(target);
                since_good.clear();
            }
            SetUpEvent::Check {
                target,
                verdict: CheckVerdict::Failed,
            } => {
                failed.insert(target);
                suspect.append(&mut since_good);
            }
            SetUpEvent::Check {
                verdict: CheckVerdict::NotDone,
                ..
            } => {}
        }
    }
    suspect.sort_unstable();
    suspect
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shot(e: f64, n: f64, level: Option<f64>) -> ShotPosition {
        let covariance = PointCovariance::from_sigmas(0.001, 0.001).unwrap();
        ShotPosition {
            easting_m: e,
            northing_m: n,
            level_m: level,
            covariance,
            own_covariance: covariance,
        }
    }

    fn known() -> ControlPoint {
        ControlPoint::exact("K4", 10.0, 20.0, Some(5.0))
            .with_sigmas(0.0005, 0.0005)
            .unwrap()
    }

    use SetUpEvent::Shot;

    fn passed(target: &str) -> SetUpEvent<'_> {
        let verdict = CheckVerdict::Passed;
        SetUpEvent::Check { target, verdict }
    }

    fn failed(target: &str) -> SetUpEvent<'_> {
        let verdict = CheckVerdict::Failed;
        SetUpEvent::Check { target, verdict }
    }

    fn verdict(e: f64, level: Option<f64>) -> CheckVerdict {
        check_shot(&known(), &shot(10.0 + e, 20.0, level), &CheckTolerance::default()).verdict
    }

    #[test]
    fn a_check_passes_only_inside_tolerance_and_its_own_bound() {
        // 1.118 mm joined: 2.74 mm in plan, 2.19 mm in level at 95 % (2.4477 and 1.960, published factors).
        assert_eq!(verdict(0.0026, Some(5.0)), CheckVerdict::Passed);
        assert_eq!(verdict(0.0029, Some(5.0)), CheckVerdict::Failed);
        assert_eq!(verdict(0.0, Some(5.0021)), CheckVerdict::Passed);
        assert_eq!(verdict(0.0, Some(4.9977)), CheckVerdict::Failed);
        assert_eq!(verdict(f64::NAN, Some(5.0)), CheckVerdict::Failed);
    }

    #[test]
    fn a_wide_bound_does_not_excuse_a_difference_beyond_the_tolerance() {
        let poor = known().with_sigmas(0.05, 0.05).unwrap();
        let check = check_shot(&poor, &shot(10.02, 20.0, None), &CheckTolerance::default());
        assert_eq!(check.verdict, CheckVerdict::Failed);
        let codes: Vec<_> = check.findings.iter().map(|f| f.code).collect();
        assert!(codes.contains(&"check-outside-tolerance"), "{codes:?}");
        assert!(codes.contains(&"check-without-level"), "{codes:?}");
        assert!(codes.contains(&"check-weaker-than-tolerance"), "{codes:?}");
    }

    #[test]
    fn a_failed_recheck_makes_every_shot_since_the_last_good_one_suspect() {
        let day = [
            passed("K4"),
            Shot,
            Shot,
            passed("K4"),
            Shot,
            Shot,
            failed("K4"),
            Shot,
            passed("K4"),
            Shot,
        ];
        assert_eq!(suspect_shots(&day), [4, 5, 7]);
    }

    /// The rule of [`verdict_of`] along the day (the project's own): each failed point must pass again itself.
    #[test]
    fn another_point_that_agrees_does_not_end_the_suspicion() {
        assert_eq!(suspect_shots(&[failed("K1"), passed("K5"), Shot, Shot]), [2, 3]);
        let day = [
            Shot,
            passed("K5"), // nothing stands failed: the shot before is good
            Shot,
            failed("K1"),
            Shot,
            failed("K5"),
            Shot,
            passed("K1"),
            Shot, // K5 has not passed again
            passed("K2"),
            Shot,
            passed("K5"), // both have
            Shot,
            failed("K2"),
        ];
        assert_eq!(suspect_shots(&day), [2, 4, 6, 8, 10, 12]);
        let not_done = SetUpEvent::Check {
            target: "K1",
            verdict: CheckVerdict::NotDone,
        };
        assert_eq!(suspect_shots(&[failed("K1"), not_done, Shot]), [2]);
    }

    #[test]
    fn a_check_shot_again_replaces_its_own_point_and_no_other() {
        let check = |point: &str, e: f64| {
            let known = ControlPoint {
                id: point.into(),
                ..known()
            };
            check_shot(
                &known,
                &shot(10.0 + e, 20.0, Some(5.0)),
                &CheckTolerance::default(),
            )
        };
        let (good, bad) = (check("K4", 0.0), check("K4", 0.02));
        assert_eq!(verdict_of(&[]), CheckVerdict::NotDone);
        assert_eq!(verdict_of(&[bad.clone(), good.clone()]), CheckVerdict::Passed);
        assert_eq!(verdict_of(&[good, bad.clone()]), CheckVerdict::Failed);
        assert_eq!(verdict_of(&[bad, check("K5", 0.0)]), CheckVerdict::Failed);
    }
}

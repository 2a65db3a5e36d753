//! Swing ties: a point fixed by tape from objects that will still stand, with a third tie as its check.
//!
//! With baseline c from A to B: `a = (r1^2 - r2^2 + c^2) / 2c`, `h = sqrt(r1^2 - a^2)`, and the point is
//! `A + a u +- h n`; the side is stated, never guessed. Distances are level: a tape along a slope is reduced
//! first ([`level_distance_m`]). The precision is `sqrt(s1^2 + s2^2) / sin(angle of cut)`.
//! Source: two circles' section and its first-order propagation, closed form.

use crate::finding::Finding;
use crate::uncertainty::{PlanCovariance, combine, u95_from_sigma};

/// The sharpest angle of cut that is taken, degrees (common practice, from memory).
pub const LEAST_CUT_DEG: f64 = 30.0;
/// The bluntest angle of cut that is taken, degrees (common practice, from memory).
pub const GREATEST_CUT_DEG: f64 = 150.0;
/// The longest tie a tape takes in one pull, m (common practice, from memory).
pub const LONGEST_TIE_M: f64 = 15.0;

/// A distance taped from an object to the point.
#[derive(Debug, Clone, PartialEq)]
pub struct SwingTie {
    /// What was taped from.
    pub object: String,
    /// Easting and northing of the object, m.
    pub at_m: [f64; 2],
    /// One sigma of the object's place along either axis, m.
    pub object_sigma_m: Option<f64>,
    /// The level distance, m.
    pub distance_m: f64,
    /// One sigma of the distance, m.
    pub sigma_m: Option<f64>,
}

/// The side of the line from the first object to the second, looking along it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// To the left of it.
    Left,
    /// To the right of it.
    Right,
}

/// A point fixed by two ties and checked by any others.
#[derive(Debug, Clone, PartialEq)]
pub struct TiedPoint {
    /// Easting and northing, m.
    pub position_m: [f64; 2],
    /// The angle at which the two ties cut, radians.
    pub cut_rad: f64,
    /// Its covariance; none where a sigma of the two ties or their objects is not known.
    pub covariance: Option<PlanCovariance>,
    /// What each further tie says.
    pub checks: Vec<TieCheck>,
}

/// What a further tie says about a point.
#[derive(Debug, Clone, PartialEq)]
pub struct TieCheck {
    /// The object it was taped from.
    pub object: String,
    /// Computed distance less taped one, m.
    pub misfit_m: f64,
    /// The misfit that 95 in 100 good ties stay under, m; none where a sigma is not known.
    pub limit_u95_m: Option<f64>,
}

/// A point could not be fixed by its ties.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SwingTieError {
    /// Fewer than two ties.
    #[error("{count} tie(s) do not fix a point; tape from two objects, and from a third as a check")]
    TooFew {
        /// How many were given.
        count: usize,
    },
    /// A figure that is not a number, or a distance or sigma below nought.
    #[error("tie from {object}: {value} is not a length to work with")]
    BadLength {
        /// The object.
        object: String,
        /// The figure.
        value: f64,
    },
    /// Both objects are one place.
    #[error("{first} and {second} stand in one place; tape from another object")]
    OnePlace {
        /// The first object.
        first: String,
        /// The second object.
        second: String,
    },
    /// The two circles do not meet.
    #[error(
        "the ties from {first} and {second} miss each other by {gap_m:.3} m; look for a wrong object, a wrong tape end or a misread metre"
    )]
    DoNotMeet {
        /// The first object.
        first: String,
        /// The second object.
        second: String,
        /// How much is missing, m.
        gap_m: f64,
    },
    /// They cut too sharply or too bluntly.
    #[error(
        "the ties from {first} and {second} cut at {cut_deg:.0} degrees; choose objects whose ties cut between {LEAST_CUT_DEG:.0} and {GREATEST_CUT_DEG:.0}, best at 90"
    )]
    BadCut {
        /// The first object.
        first: String,
        /// The second object.
        second: String,
        /// The angle of cut, degrees.
        cut_deg: f64,
    },
    /// A tape along a slope shorter than the height it overcame.
    #[error("a tape of {tape_m} m cannot overcome a height of {height_m} m; look for a swapped figure")]
    SteeperThanPlumb {
        /// The taped length, m.
        tape_m: f64,
        /// The height difference, m.
        height_m: f64,
    },
}

/// Returns the level distance (m) of a tape held along a slope: `sqrt(tape^2 - dh^2)`.
///
/// # Errors
/// [`SwingTieError::SteeperThanPlumb`] when the height is not below the tape.
pub fn level_distance_m(tape_m: f64, height_m: f64) -> Result<f64, SwingTieError> {
    let reduced = (tape_m - height_m.abs()) * (tape_m + height_m.abs());
    if tape_m > 0.0 && reduced > 0.0 && reduced.is_finite() {
        Ok(reduced.sqrt())
    } else {
        Err(SwingTieError::SteeperThanPlumb { tape_m, height_m })
    }
}

/// One sigma of the height between the ends of a sloping tape where it is not stated, m (the program's own figure).
pub const RISE_SIGMA_M: f64 = 0.02;

/// Returns one sigma (m) of the level distance of a tape held along a slope: `hypot(tape/level s_t, dh/level s_h)`.
///
/// # Errors
/// As [`level_distance_m`].
pub fn level_sigma_m(
    [tape_m, tape_sigma_m]: [f64; 2],
    [height_m, height_sigma_m]: [f64; 2],
) -> Result<f64, SwingTieError> {
    let level_m = level_distance_m(tape_m, height_m)?;
    Ok((tape_m / level_m * tape_sigma_m).hypot(height_m / level_m * height_sigma_m))
}

/// Fixes a point by its first two ties on the stated side, and checks it by the others.
///
/// Findings: `no-third-tie`, `third-tie-off`, `third-tie-not-judged`, `wrong-side`, `tie-long`.
/// # Errors
/// [`SwingTieError`]; a point is never forced where the ties do not meet.
pub fn fix_by_ties(ties: &[SwingTie], side: Side) -> Result<(TiedPoint, Vec<Finding>), SwingTieError> {
    for tie in ties {
        check(tie)?;
    }
    let [first, second, further @ ..] = ties else {
        return Err(SwingTieError::TooFew { count: ties.len() });
    };
    let (position_m, cut_rad) = cut(first, second, side)?;
    let covariance = covariance(position_m, first, second);
    let checks: Vec<TieCheck> = further
        .iter()
        .map(|tie| check_tie(position_m, covariance, tie))
        .collect();
    let mut findings = Vec::new();
    if further.is_empty() {
        findings.push(Finding::new(
            "no-third-tie",
            first.object.clone(),
            "two ties fix the point and nothing checks it; tape from a third object",
        ));
    }
    for (check, tie) in checks.iter().zip(further) {
        check_findings(check, tie, [first, second], side, &mut findings);
    }
    for tie in ties.iter().filter(|tie| tie.distance_m > LONGEST_TIE_M) {
        findings.push(Finding::new(
            "tie-long",
            tie.object.clone(),
            format!(
                "a tie of {:.2} m is more than a tape takes in one pull; choose a nearer object",
                tie.distance_m
            ),
        ));
    }
    let point = TiedPoint {
        position_m,
        cut_rad,
        covariance,
        checks,
    };
    Ok((point, findings))
}

fn check(tie: &SwingTie) -> Result<(), SwingTieError> {
    let bad = |value: f64| SwingTieError::BadLength {
        object: tie.object.clone(),
        value,
    };
    if !(tie.distance_m.is_finite() && tie.distance_m > 0.0) {
        return Err(bad(tie.distance_m));
    }
    if let Some(odd) = tie.at_m.into_iter().find(|c| !c.is_finite()) {
        return Err(bad(odd));
    }
    let sigmas = [tie.object_sigma_m, tie.sigma_m];
    match sigmas
        .into_iter()
        .flatten()
        .find(|s| !(s.is_finite() && *s >= 0.0))
    {
        Some(odd) => Err(bad(odd)),
        None => Ok(()),
    }
}

fn cut(first: &SwingTie, second: &SwingTie, side: Side) -> Result<([f64; 2], f64), SwingTieError> {
    let (r1, r2) = (first.distance_m, second.distance_m);
    let along = [second.at_m[0] - first.at_m[0], second.at_m[1] - first.at_m[1]];
    let c = along[0].hypot(along[1]);
    let names = || (first.object.clone(), second.object.clone());
    if c <= 0.0 {
        let (first, second) = names();
        return Err(SwingTieError::OnePlace { first, second });
    }
    let gap_m = (c - (r1 + r2)).max((r1 - r2).abs() - c);
    if gap_m > 0.0 {
        let (first, second) = names();
        return Err(SwingTieError::DoNotMeet { first, second, gap_m });
    }
    let cosine = (r1 * r1 + r2 * r2 - c * c) / (2.0 * r1 * r2);
    let cut_rad = cosine.clamp(-1.0, 1.0).acos();
    let cut_deg = cut_rad.to_degrees();
    if !(LEAST_CUT_DEG..=GREATEST_CUT_DEG).contains(&cut_deg) {
        let (first, second) = names();
        return Err(SwingTieError::BadCut {
            first,
            second,
            cut_deg,
        });
    }
    let a = (r1 * r1 - r2 * r2 + c * c) / (2.0 * c);
    let h = (r1 * r1 - a * a).max(0.0).sqrt();
    let [ue, un] = [along[0] / c, along[1] / c];
    // Left of a line that points (ue, un) is (-un, ue).
    let h = match side {
        Side::Left => h,
        Side::Right => -h,
    };
    let position_m = [first.at_m[0] + a * ue - h * un, first.at_m[1] + a * un + h * ue];
    Ok((position_m, cut_rad))
}

fn direction(from_m: [f64; 2], to_m: [f64; 2]) -> [f64; 2] {
    let (e, n) = (to_m[0] - from_m[0], to_m[1] - from_m[1]);
    let length = e.hypot(n);
    [e / length, n / length]
}

/// The sigma along a tie: of the tape and of the object it hangs on.
fn along_sigma_m(tie: &SwingTie) -> Option<f64> {
    combine(&[tie.sigma_m, tie.object_sigma_m])
}

/// Solves `u1 . dP = d1`, `u2 . dP = d2` for dP and carries the two sigmas through.
fn covariance(position_m: [f64; 2], first: &SwingTie, second: &SwingTie) -> Option<PlanCovariance> {
    let v1 = along_sigma_m(first)?.powi(2);
    let v2 = along_sigma_m(second)?.powi(2);
    let u1 = direction(first.at_m, position_m);
    let u2 = direction(second.at_m, position_m);
    let d2 = (u1[0] * u2[1] - u1[1] * u2[0]).powi(2);
    Some(PlanCovariance {
        ee_m2: (u2[1] * u2[1] * v1 + u1[1] * u1[1] * v2) / d2,
        en_m2: -(u2[0] * u2[1] * v1 + u1[0] * u1[1] * v2) / d2,
        nn_m2: (u2[0] * u2[0] * v1 + u1[0] * u1[0] * v2) / d2,
    })
}

fn misfit_m(position_m: [f64; 2], tie: &SwingTie) -> f64 {
    let [e, n] = position_m;
    (e - tie.at_m[0]).hypot(n - tie.at_m[1]) - tie.distance_m
}

fn check_tie(position_m: [f64; 2], covariance: Option<PlanCovariance>, tie: &SwingTie) -> TieCheck {
    let point_sigma_m = covariance.map(|c| {
        let [e, n] = direction(tie.at_m, position_m);
        let variance_m2 = e * e * c.ee_m2 + 2.0 * e * n * c.en_m2 + n * n * c.nn_m2;
        variance_m2.max(0.0).sqrt()
    });
    TieCheck {
        object: tie.object.clone(),
        misfit_m: misfit_m(position_m, tie),
        limit_u95_m: combine(&[point_sigma_m, along_sigma_m(tie)]).map(u95_from_sigma),
    }
}

fn check_findings(
    check: &TieCheck,
    tie: &SwingTie,
    fixing: [&SwingTie; 2],
    side: Side,
    findings: &mut Vec<Finding>,
) {
    let misfit_mm = check.misfit_m * 1000.0;
    let Some(limit_m) = check.limit_u95_m else {
        findings.push(Finding::new(
            "third-tie-not-judged",
            check.object.clone(),
            format!("the check tie misses by {misfit_mm:+.0} mm and a sigma is missing to judge it by; say how well the tape and the objects are known"),
        ));
        return;
    };
    if check.misfit_m.abs() <= limit_m {
        return;
    }
    let other_side = match side {
        Side::Left => Side::Right,
        Side::Right => Side::Left,
    };
    let mirrored = cut(fixing[0], fixing[1], other_side);
    if mirrored.is_ok_and(|(position_m, _)| misfit_m(position_m, tie).abs() <= limit_m) {
        findings.push(Finding::new(
            "wrong-side",
            check.object.clone(),
            format!(
                "the check tie misses by {misfit_mm:+.0} mm, and fits on the other side of the line from {} to {}; say the side again",
                fixing[0].object, fixing[1].object
            ),
        ));
        return;
    }
    let hint = match [1.0, 0.1]
        .into_iter()
        .find(|size| (check.misfit_m.abs() - size).abs() <= limit_m)
    {
        Some(size) => format!(
            ", close to {:.0} mm: a tape misread or held at its wrong end",
            size * 1000.0
        ),
        None => String::new(),
    };
    findings.push(Finding::new(
        "third-tie-off",
        check.object.clone(),
        format!(
            "the check tie misses by {misfit_mm:+.0} mm where {:.0} mm could be (95 %){hint}; tape all three again",
            limit_m * 1000.0
        ),
    ));
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn tie(object: &str, at_m: [f64; 2], distance_m: f64) -> SwingTie {
        SwingTie {
            object: object.to_owned(),
            at_m,
            object_sigma_m: Some(0.0),
            distance_m,
            sigma_m: Some(0.005),
        }
    }

    fn codes(findings: &[Finding]) -> Vec<&str> {
        findings.iter().map(|f| f.code).collect()
    }

    #[test]
    fn two_ties_fix_a_point_that_was_chosen_beforehand() {
        // By Pythagoras: A(0,0), B(6,0), 4.888 and 5.467 give (2.500, 4.200), cut at
        // 70.6 degrees, and 5 mm ties give 7.5 mm. Exact: r1^2 = 2.5^2 + 4.2^2, r2^2 = 3.5^2 + 4.2^2.
        let ties = [tie("A", [0.0, 0.0], 4.888), tie("B", [6.0, 0.0], 5.467)];
        let (point, findings) = fix_by_ties(&ties, Side::Left).unwrap();
        assert!((point.position_m[0] - 2.500).abs() < 0.000_5);
        assert!((point.position_m[1] - 4.200).abs() < 0.000_5);
        assert!((point.cut_rad.to_degrees() - 70.6).abs() < 0.05);
        let sigma_m = point.covariance.unwrap().distance_rms_m();
        assert!((sigma_m - 0.0075).abs() < 0.000_05);
        let formula = 0.005 * 2f64.sqrt() / point.cut_rad.sin();
        assert!((sigma_m - formula).abs() < 1e-12);
        assert_eq!(codes(&findings), ["no-third-tie"]);
        let (mirrored, _) = fix_by_ties(&ties, Side::Right).unwrap();
        assert!((mirrored.position_m[1] + point.position_m[1]).abs() < 1e-12);
    }

    #[test]
    fn a_third_tie_catches_a_misread_metre_and_a_wrong_side() {
        let a = tie("A", [0.0, 0.0], 4.888);
        let b = tie("B", [6.0, 0.0], 5.467);
        // From C(1, 8) to (2.5, 4.2) is sqrt(1.5^2 + 3.8^2) = 4.085 m.
        let c = |distance_m| tie("C", [1.0, 8.0], distance_m);
        let run = |third: SwingTie, side| {
            let (point, findings) = fix_by_ties(&[a.clone(), b.clone(), third], side).unwrap();
            (point.checks[0].misfit_m, findings)
        };
        let (misfit_m, findings) = run(c(4.085), Side::Left);
        assert!(misfit_m.abs() < 0.001);
        assert_eq!(findings, []);
        let (misfit_m, findings) = run(c(5.085), Side::Left);
        assert!((misfit_m + 1.0).abs() < 0.001);
        assert!(findings[0].sentence.contains("close to 1000 mm"));
        let (_, findings) = run(c(4.085), Side::Right);
        assert_eq!(codes(&findings), ["wrong-side"]);
        let unknown = SwingTie {
            sigma_m: None,
            ..c(4.085)
        };
        let (_, findings) = run(unknown, Side::Left);
        assert_eq!(codes(&findings), ["third-tie-not-judged"]);
    }

    #[test]
    fn an_unknown_sigma_leaves_the_point_without_a_covariance() {
        let mut ties = [tie("A", [0.0, 0.0], 4.888), tie("B", [6.0, 0.0], 5.467)];
        ties[1].object_sigma_m = None;
        let (point, _) = fix_by_ties(&ties, Side::Left).unwrap();
        assert_eq!(point.covariance, None);
    }

    #[test]
    fn ties_that_do_not_meet_or_cut_badly_are_refused() {
        let fix = |r1: f64, r2: f64| {
            let ties = [tie("A", [0.0, 0.0], r1), tie("B", [6.0, 0.0], r2)];
            fix_by_ties(&ties, Side::Left)
        };
        let message = fix(2.0, 3.5).unwrap_err().to_string();
        assert!(message.contains("miss each other by 0.500 m"), "{message}");
        assert!(matches!(fix(9.0, 2.0), Err(SwingTieError::DoNotMeet { .. })));
        assert!(matches!(fix(3.05, 3.05), Err(SwingTieError::BadCut { .. })));
        assert!(matches!(fix(15.0, 15.0), Err(SwingTieError::BadCut { .. })));
        assert!(matches!(fix(f64::NAN, 3.0), Err(SwingTieError::BadLength { .. })));
        assert!(matches!(fix(0.0, 6.0), Err(SwingTieError::BadLength { .. })));
        let one_place = [tie("A", [1.0, 1.0], 3.0), tie("B", [1.0, 1.0], 3.0)];
        assert!(matches!(
            fix_by_ties(&one_place, Side::Left),
            Err(SwingTieError::OnePlace { .. })
        ));
        assert!(matches!(
            fix_by_ties(&one_place[..1], Side::Left),
            Err(SwingTieError::TooFew { count: 1 })
        ));
    }

    #[test]
    fn a_sloping_tape_is_made_level() {
        // The 3-4-5 triangle.
        assert!((level_distance_m(5.0, -3.0).unwrap() - 4.0).abs() < 1e-12);
        assert!(level_distance_m(3.0, 5.0).is_err());
        assert!(level_distance_m(f64::NAN, 0.0).is_err());
    }

    #[test]
    fn a_sloping_tape_errs_by_its_rise_too() {
        // By hand: 5 m over 4 m is 3 m level; 20 mm of rise are 20 x 4 / 3 = 26.667, 5 mm of tape 5 x 5 / 3 = 8.333.
        let both = level_sigma_m([5.0, 0.005], [4.0, 0.02]).unwrap();
        assert!((both - 0.026_667f64.hypot(0.008_333)).abs() < 1e-6);
        // From first principles: the tape and the rise moved by their sigmas, and their effects squared and added.
        for (tape_m, height_m) in [(5.0, 4.0), (5.0, -4.0), (12.3, 0.7), (2.0, 1.9)] {
            let (s_t, s_h, step) = (0.004, 0.015, 1e-6);
            let level = |t: f64, h: f64| (t * t - h * h).sqrt();
            let by_tape = (level(tape_m + step, height_m) - level(tape_m - step, height_m)) / (2.0 * step);
            let by_rise = (level(tape_m, height_m + step) - level(tape_m, height_m - step)) / (2.0 * step);
            let sigma = level_sigma_m([tape_m, s_t], [height_m, s_h]).unwrap();
            assert!((sigma - (by_tape * s_t).hypot(by_rise * s_h)).abs() < 1e-7);
        }
        assert!(level_sigma_m([3.0, 0.005], [5.0, 0.02]).is_err());
    }

    proptest! {
        /// Oracle: distances taken from a known point lead back to it, and moving each tie by its sigma
        /// moves the point as the covariance says.
        #[test]
        fn taped_from_a_point_the_ties_return_it(
            e in -8.0f64..8.0, n in 0.5f64..8.0, turn in -3.0f64..3.0, shift in -1e6f64..1e6
        ) {
            let place = |x: f64, y: f64| {
                [shift + x * turn.cos() - y * turn.sin(), x * turn.sin() + y * turn.cos()]
            };
            let (a, b, p) = (place(0.0, 0.0), place(6.0, 0.0), place(e, n));
            let between = |q: [f64; 2]| (q[0] - p[0]).hypot(q[1] - p[1]);
            let ties = [tie("A", a, between(a)), tie("B", b, between(b))];
            if let Ok((point, _)) = fix_by_ties(&ties, Side::Left) {
                prop_assert!((point.position_m[0] - p[0]).hypot(point.position_m[1] - p[1]) < 1e-7);
                let mut by_hand = [[0.0; 2]; 2];
                for index in 0..2 {
                    let step = 1e-4;
                    let mut moved = ties.clone();
                    moved[index].distance_m += step;
                    let Ok((other, _)) = fix_by_ties(&moved, Side::Left) else { return Ok(()) };
                    for axis in 0..2 {
                        by_hand[index][axis] = (other.position_m[axis] - p[axis]) / step * 0.005;
                    }
                }
                let c = point.covariance.unwrap();
                let sum = |i: usize, j: usize| by_hand[0][i] * by_hand[0][j] + by_hand[1][i] * by_hand[1][j];
                let size = c.ee_m2 + c.nn_m2;
                prop_assert!((c.ee_m2 - sum(0, 0)).abs() < 2e-3 * size);
                prop_assert!((c.en_m2 - sum(0, 1)).abs() < 2e-3 * size);
                prop_assert!((c.nn_m2 - sum(1, 1)).abs() < 2e-3 * size);
            } else {
                let cut = (between(a).powi(2) + between(b).powi(2) - 36.0)
                    / (2.0 * between(a) * between(b));
                let cut_deg = cut.clamp(-1.0, 1.0).acos().to_degrees();
                prop_assert!(!(30.1..149.9).contains(&cut_deg));
            }
        }
    }
}

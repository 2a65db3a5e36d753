//! What is doubtful about a station, said in words: weak geometry, missing checks, readings that do not fit.

use std::f64::consts::TAU;

use crate::finding::Finding;
use crate::observation::{Quantity, SetUp};
use crate::resection::{Plan, danger_circle};
use crate::shot::{SightLimits, sight_findings};
use crate::station_report::{StationReport, W_CRITICAL};

/// Limits beyond which a station is warned of ([`crate::sources::SET_UP_PRACTICE`]).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StationLimits {
    /// Control seen within a smaller angle than this is a narrow sector, in radians.
    pub narrow_rad: f64,
    /// Control seen within a smaller angle than this lies on one side, in radians.
    pub one_side_rad: f64,
    /// Control whose spread across its line is less than this share of that along it is on one line.
    pub line_share: f64,
    /// A station nearer to the danger circle than this share of its radius is on it, with directions alone.
    pub circle_share: f64,
    /// A free scale beyond this means units, prism or datum trouble, in ppm.
    pub scale_ppm: f64,
    /// A station less certain than this (95 %, plan or level) is weak, in metres.
    pub weak_u95_m: f64,
    /// Ranges and steepness of sights.
    pub sights: SightLimits,
}

impl Default for StationLimits {
    fn default() -> Self {
        Self {
            narrow_rad: 30f64.to_radians(),
            one_side_rad: 90f64.to_radians(),
            line_share: 0.05,
            circle_share: 0.1,
            scale_ppm: 50.0,
            weak_u95_m: 0.010,
            sights: SightLimits::default(),
        }
    }
}

/// How the control lies about the station, in plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Geometry {
    /// How many control points are seen.
    pub points: usize,
    /// The smallest angle at the station that holds all control, in radians.
    pub sector_rad: f64,
    /// Spread of the control across its own best line, as a share of that along it.
    pub line_share: f64,
    /// How near the station lies to a circle through all control, as a share of the radius; `None` without such a circle.
    pub circle_share: Option<f64>,
}

/// Describes how the control that a set-up sights lies about a place.
pub fn geometry(set_up: &SetUp, station: Plan) -> Geometry {
    let mut seen = vec![false; set_up.control.len()];
    for observation in &set_up.observations {
        // A zenith angle alone does nothing for the plan.
        if observation.quantity != Quantity::Zenith {
            seen[observation.to] = true;
        }
    }
    let points: Vec<Plan> = set_up
        .control
        .iter()
        .zip(&seen)
        .filter(|(_, seen)| **seen)
        .map(|(p, _)| [p.easting_m, p.northing_m])
        .collect();
    Geometry {
        points: points.len(),
        sector_rad: sector(&points, station),
        line_share: line_share(&points),
        circle_share: circle_share(&points, station),
    }
}

fn sector(points: &[Plan], station: Plan) -> f64 {
    let mut azimuths: Vec<f64> = points
        .iter()
        .map(|p| (p[0] - station[0]).atan2(p[1] - station[1]))
        .collect();
    azimuths.sort_by(f64::total_cmp);
    let (Some(first), Some(last)) = (azimuths.first(), azimuths.last()) else {
        return 0.0;
    };
    let widest = azimuths
        .windows(2)
        .map(|w| w[1] - w[0])
        .fold(first + TAU - last, f64::max);
    TAU - widest
}

fn line_share(points: &[Plan]) -> f64 {
    let n = points.len() as f64;
    let mean = |k: usize| points.iter().map(|p| p[k]).sum::<f64>() / n;
    let (me, mn) = (mean(0), mean(1));
    let (mut ee, mut en, mut nn) = (0.0, 0.0, 0.0);
    for p in points {
        let (e, n) = (p[0] - me, p[1] - mn);
        ee += e * e;
        en += e * n;
        nn += n * n;
    }
    let half = 0.5 * (ee + nn);
    let spread = (0.5 * (ee - nn)).hypot(en);
    if half + spread == 0.0 {
        return 0.0;
    }
    ((half - spread).max(0.0) / (half + spread)).sqrt()
}

/// The largest miss of the station from the circles through three points: small only when one circle holds all.
fn circle_share(points: &[Plan], station: Plan) -> Option<f64> {
    let mut largest: Option<f64> = None;
    // Twelve points give 220 circles; more would not change the word.
    let points = &points[..points.len().min(12)];
    for i in 0..points.len() {
        for j in i + 1..points.len() {
            for k in j + 1..points.len() {
                let circle = danger_circle([points[i], points[j], points[k]])?;
                let share = circle.distance_from_m(station).abs() / circle.radius_m;
                largest = Some(largest.map_or(share, |l| l.max(share)));
            }
        }
    }
    largest
}

/// Returns everything doubtful about a solved station, the gravest first.
pub fn station_findings(set_up: &SetUp, report: &StationReport, limits: &StationLimits) -> Vec<Finding> {
    let mut findings = Vec::new();
    fit_findings(set_up, report, limits, &mut findings);
    geometry_findings(set_up, report, limits, &mut findings);
    check_findings(set_up, report, limits, &mut findings);
    long_sights(set_up, limits, &mut findings);
    findings
}

const STATION: &str = "station";

fn fit_findings(set_up: &SetUp, report: &StationReport, limits: &StationLimits, findings: &mut Vec<Finding>) {
    if let Some(global) = &report.global {
        if global.is_too_large() {
            findings.push(Finding::new(
                "readings-disagree",
                STATION,
                format!(
                    "the readings disagree {:.1} times more than the instrument and control explain; look for the cause before using the station",
                    global.variance_factor().sqrt()
                ),
            ));
        } else if global.is_too_small() {
            findings.push(Finding::new(
                "readings-agree-too-well",
                STATION,
                "the readings agree better than their stated standard deviations allow; those may be too wide, or readings were copied",
            ));
        }
    }
    for residual in report.residuals.iter().filter(|r| r.is_rejected()) {
        let o = &set_up.observations[residual.observation];
        let size = if o.quantity.is_length() {
            format!("{:.1} mm", residual.residual.abs() * 1000.0)
        } else {
            format!("{:.0} seconds", residual.residual.abs().to_degrees() * 3600.0)
        };
        findings.push(Finding::new(
            "reading-rejected",
            set_up.control[o.to].id.clone(),
            format!(
                "the {} misses by {size}, {:.1} times its standard deviation; read it again",
                o.quantity.word(),
                residual.w.unwrap_or(0.0).abs()
            ),
        ));
    }
    for fit in &report.control {
        if let Some(test) = fit.test.filter(|t| t.is_rejected()) {
            let [e, n, h] = test.shift_m.map(|s| s * 1000.0);
            let level = if test.dimensions == 3 {
                format!(" and {h:+.1} mm in level")
            } else {
                String::new()
            };
            findings.push(Finding::new(
                "control-rejected",
                set_up.control[fit.control].id.clone(),
                format!(
                    "the point fits only if moved {e:+.1} mm east, {n:+.1} mm north{level}; it may be disturbed, or another mark was sighted"
                ),
            ));
        }
    }
    if let Some(scale) = report.free_scale_ppm
        && scale.size.abs() > limits.scale_ppm
        && scale.w().abs() > W_CRITICAL
    {
        findings.push(Finding::new(
            "scale-out-of-reason",
            STATION,
            format!(
                "the distances would fit better scaled by {:+.0} ppm; look for a wrong prism constant, unit, grid factor or datum (the scale was not applied)",
                scale.size
            ),
        ));
    }
    if let Some(constant) = report.free_constant_m
        && constant.w().abs() > W_CRITICAL
    {
        findings.push(Finding::new(
            "distances-share-an-error",
            STATION,
            format!(
                "all distances read about {:.1} mm too {}; look for a wrong prism constant",
                constant.size.abs() * 1000.0,
                if constant.size > 0.0 { "long" } else { "short" }
            ),
        ));
    }
}

fn geometry_findings(
    set_up: &SetUp,
    report: &StationReport,
    limits: &StationLimits,
    findings: &mut Vec<Finding>,
) {
    let fix = &report.solution.fix;
    let geometry = geometry(set_up, [fix.easting_m, fix.northing_m]);
    let degrees = geometry.sector_rad.to_degrees();
    if geometry.sector_rad < limits.narrow_rad {
        findings.push(Finding::new(
            "narrow-sector",
            STATION,
            format!(
                "all control lies within {degrees:.0} degrees as seen from here, so the station is weak across it; add a point in another direction"
            ),
        ));
    } else if geometry.points > 2 && geometry.sector_rad < limits.one_side_rad {
        findings.push(Finding::new(
            "control-on-one-side",
            STATION,
            format!(
                "all control lies on one side, within {degrees:.0} degrees; errors grow behind the instrument, add a point there"
            ),
        ));
    }
    if geometry.points > 2 && geometry.line_share < limits.line_share {
        findings.push(Finding::new(
            "control-on-one-line",
            STATION,
            "the control points lie nearly on one line; a point off that line makes the station and its checks stronger",
        ));
    }
    let any_distance = set_up.observations.iter().any(|o| o.quantity.is_length());
    if let Some(share) = geometry.circle_share
        && !any_distance
        && share < limits.circle_share
    {
        findings.push(Finding::new(
            "danger-circle",
            STATION,
            "the station lies near the circle through the control points, where directions alone do not fix it; measure distances",
        ));
    }
    let level = report.level_u95_m().unwrap_or(0.0);
    for (u95, word) in [(report.plan_u95_m(), "plan"), (level, "level")] {
        if u95 > limits.weak_u95_m {
            findings.push(Finding::new(
                "station-weak",
                STATION,
                format!(
                    "the station is only known to {:.1} mm (95 %) in {word}; everything measured from it is at best that good",
                    u95 * 1000.0
                ),
            ));
        }
    }
}

fn check_findings(
    set_up: &SetUp,
    report: &StationReport,
    limits: &StationLimits,
    findings: &mut Vec<Finding>,
) {
    if report.global.is_none() {
        findings.push(Finding::new(
            "no-check",
            STATION,
            format!(
                "{} readings for {} unknowns leave no check; observe another control point",
                report.solution.observations, report.solution.unknowns
            ),
        ));
    } else if report.control.len() == 2 {
        findings.push(Finding::new(
            "two-control-points",
            STATION,
            "two control points show that something is wrong, but not which; a third names it",
        ));
    }
    if report.global.is_some() {
        let unchecked: Vec<String> = report
            .residuals
            .iter()
            .filter(|r| r.w.is_none())
            .map(|r| {
                let o = &set_up.observations[r.observation];
                format!("{} to {}", o.quantity.word(), set_up.control[o.to].id)
            })
            .collect();
        if !unchecked.is_empty() {
            findings.push(Finding::new(
                "reading-unchecked",
                STATION,
                format!("nothing checks the {}", unchecked.join(", the ")),
            ));
        }
        if let Some(effect) = report.reliability().and_then(|r| r.plan_effect_m)
            && effect > limits.weak_u95_m
        {
            findings.push(Finding::new(
                "hidden-error-possible",
                STATION,
                format!(
                    "an error that the tests miss could move the station {:.0} mm; more control makes that less",
                    effect * 1000.0
                ),
            ));
        }
    }
    let exact = report
        .control
        .iter()
        .all(|c| set_up.control[c.control].covariance == crate::PointCovariance::default());
    if exact {
        findings.push(Finding::new(
            "control-taken-as-exact",
            STATION,
            "no uncertainty was given for the control, so every figure is relative to it",
        ));
    }
}

fn long_sights(set_up: &SetUp, limits: &StationLimits, findings: &mut Vec<Finding>) {
    for observation in &set_up.observations {
        if !observation.quantity.is_length() {
            continue;
        }
        let zenith = set_up
            .observations
            .iter()
            .find(|z| z.quantity == Quantity::Zenith && z.to == observation.to)
            .map_or(std::f64::consts::FRAC_PI_2, |z| z.value);
        let place = &set_up.control[observation.to].id;
        findings.extend(sight_findings(place, observation.value, zenith, &limits.sights));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sector_goes_round_through_north() {
        // Azimuths 350, 5 and 20 degrees: a sector of 30 degrees, by hand.
        let points = [350f64, 5.0, 20.0].map(|a| [a.to_radians().sin(), a.to_radians().cos()]);
        assert!((sector(&points, [0.0, 0.0]).to_degrees() - 30.0).abs() < 1e-9);
    }

    #[test]
    fn a_square_has_no_line_and_a_row_has_one() {
        let square = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        assert!((line_share(&square) - 1.0).abs() < 1e-12);
        assert!(line_share(&[[0.0, 0.0], [5.0, 5.0], [9.0, 9.0]]) < 1e-6);
        assert!(circle_share(&square, [0.0, 0.5]).unwrap() > 0.1);
        assert!(circle_share(&square, [0.5, 0.5 - 0.5f64.sqrt()]).unwrap() < 1e-12);
    }
}

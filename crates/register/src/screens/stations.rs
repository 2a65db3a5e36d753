//! Stations and level books for a screen.

use super::anew::{geometry_view, revisions};
use super::ellipse::ellipse_view;
use crate::levels::ReducedLevels;
use crate::site::{Frame, Site};
use crate::station::{SolvedStation, outcome};
use crate::view::{
    CheckView, ControlView, GlobalView, LevelRowView, LevelsView, Near, ReadingView, StationView, Up, Why,
};
use crate::words::CheckOutcome;
use ground::{Vec2, Vec3};
use survey::level_closure::{Closure, ClosureVerdict};

impl Site {
    /// Returns every station, by name.
    pub fn station_views(&self) -> Vec<StationView> {
        let Ok(frame) = self.frame() else {
            return Vec::new();
        };
        let view = |station: &crate::site::Station| StationView {
            suspect: station.suspect.iter().cloned().collect(),
            entries: station.entries.clone(),
            revisions: revisions(station, &frame),
            ..station_view(&station.solved, &frame)
        };
        self.stations.values().map(view).collect()
    }

    /// Returns every level book, by name.
    pub fn levels_views(&self) -> Vec<LevelsView> {
        self.level_books.values().map(|book| levels_view(book)).collect()
    }
}

/// Returns a solved station for a screen; `frame` is the one its control was given in.
pub fn station_view(solved: &SolvedStation, frame: &Frame) -> StationView {
    let report = &solved.report;
    let fix = &report.solution.fix;
    let at = frame.grid_plan(Vec2::new(fix.easting_m, fix.northing_m));
    let mut why = Why::new();
    if fix.level_m.is_none() {
        why.insert(
            "level_m".into(),
            "no control point with a level was sighted with a zenith angle".into(),
        );
        why.insert("u95_v_m".into(), "the station has no level".into());
    }
    if report.global.is_none() {
        why.insert(
            "global".into(),
            "no reading is left over to test the others by".into(),
        );
    }
    let fits = report.passes();
    StationView {
        format: "coverbook.station/1".into(),
        station: solved.set.station.clone(),
        says: sentence(solved, fits),
        fits,
        check: solved.check,
        unchecked_reason: solved.set.unchecked_reason.clone(),
        at: [Near(at.x), Near(at.y)],
        level_m: fix.level_m.map(Near),
        u95_h_m: Up(report.plan_u95_m()),
        u95_v_m: report.level_u95_m().map(Up),
        ellipse: ellipse_view(report.ellipse),
        orientation_deg: fix
            .orientation_rad
            .map(|o| (o.to_degrees().rem_euclid(360.0) * 1e6).round() / 1e6),
        checks: solved.checks.iter().map(check_view).collect(),
        control: report
            .control
            .iter()
            .map(|fit| {
                let point = &solved.set_up.control[fit.control];
                let at = frame.grid(Vec3::new(
                    point.easting_m,
                    point.northing_m,
                    point.level_m.unwrap_or_default(),
                ));
                ControlView {
                    point: point.id.clone(),
                    at: [Near(at.x), Near(at.y), Near(at.z)],
                    rejected: fit.test.is_some_and(|test| test.is_rejected()),
                    shift_m: fit.test.map(|test| test.shift_m.map(Near)),
                }
            })
            .collect(),
        readings: report
            .residuals
            .iter()
            .map(|residual| reading_view(solved, residual))
            .collect(),
        global: report.global.as_ref().map(|test| {
            let (low, high) = test.interval();
            GlobalView {
                statistic: thousandths(test.vtpv),
                degrees_of_freedom: test.degrees_of_freedom as u64,
                interval: [thousandths(low), thousandths(high)],
                accepted: test.is_accepted(),
            }
        }),
        free_scale_ppm: report.free_scale_ppm.map(|d| [tenths(d.size), tenths(d.sigma)]),
        grid_scale: solved.grid_scale,
        air_ppm: tenths(solved.air_ppm),
        air_says: air_sentence(solved),
        causes: solved.causes.clone(),
        findings: solved.findings.clone(),
        suspect: Vec::new(),
        entries: Vec::new(),
        revisions: Vec::new(),
        geometry: geometry_view(solved, frame),
        why,
    }
}

pub(super) fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn thousandths(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

fn sentence(solved: &SolvedStation, fits: bool) -> String {
    let u95 = Up(solved.report.plan_u95_m()).text();
    let fit = if fits {
        format!("The readings agree; the station is known to {u95} m in plan at 95 %.")
    } else if solved.report.global.is_none() && solved.causes.is_empty() {
        format!(
            "Nothing is left over to test the readings by; as they stand the station is known to {u95} m in plan at 95 %."
        )
    } else {
        let cause = solved
            .causes
            .first()
            .map(|c| format!(" Likely: {c}."))
            .unwrap_or_default();
        format!("The readings do not agree.{cause}")
    };
    let check = match solved.check {
        CheckOutcome::Passed => {
            let last = solved
                .checks
                .last()
                .map(|c| format!("{} by {} m", c.point, Up(c.plan_m).text()));
            format!("The check passed ({}).", last.unwrap_or_default())
        }
        CheckOutcome::Failed => {
            let last = solved
                .checks
                .last()
                .map(|c| format!("{} is off by {} m", c.point, Up(c.plan_m).text()));
            format!("The check failed: {}.", last.unwrap_or_default())
        }
        CheckOutcome::NotDone => "No check was made.".into(),
    };
    format!("{fit} {check}")
}

fn air_sentence(solved: &SolvedStation) -> String {
    let set = &solved.set;
    match (&set.air, &set.air_in_instrument) {
        (Some(air), _) => {
            let entered = match &air.entered_ppm {
                Some(ppm) => format!(", less {ppm} ppm set in the instrument already"),
                None => String::new(),
            };
            format!(
                "{:+.1} ppm applied to every distance, for {} \u{b0}C, {} hPa and {} % humidity{entered}.",
                solved.air_ppm, air.temperature_c, air.pressure_hpa, air.humidity_pct
            )
        }
        (None, Some(entered)) => {
            format!("The instrument reckoned with the air itself ({entered}); nothing is applied again.")
        }
        (None, None) => {
            "Nobody said what the instrument did about the air; distances are taken as displayed.".into()
        }
    }
}

fn check_view(check: &survey::check_shot::CheckShot) -> CheckView {
    let outcome = outcome(check.verdict);
    let why = check
        .findings
        .first()
        .map(|f| format!(": {}", f.sentence))
        .unwrap_or_default();
    CheckView {
        point: check.point.clone(),
        plan_m: Up(check.plan_m),
        plan_u95_m: Up(check.plan_u95_m),
        level_m: check.level_m.map(Near),
        level_u95_m: check.level_u95_m.map(Up),
        tolerance_m: Near(check.tolerance.plan_m),
        outcome,
        says: format!("{outcome}{why}"),
    }
}

fn reading_view(solved: &SolvedStation, residual: &survey::station_report::Residual) -> ReadingView {
    let observation = &solved.set_up.observations[residual.observation];
    let length = observation.quantity.is_length();
    let scale = if length {
        1000.0
    } else {
        180.0 / std::f64::consts::PI * 3600.0
    };
    let shown = |value: f64| (value * scale * 100.0).round() / 100.0;
    ReadingView {
        point: solved.set_up.control[observation.to].id.clone(),
        what: observation.quantity.word().into(),
        residual: shown(residual.residual),
        unit: if length { "mm" } else { "sec" }.into(),
        redundancy: thousandths(residual.redundancy),
        w: residual.w.map(|w| (w * 100.0).round() / 100.0),
        detectable: residual.detectable.map(shown),
        plan_effect_m: residual.plan_effect_m.map(Up),
        rejected: residual.is_rejected(),
    }
}

/// Returns a reduced level book for a screen.
pub fn levels_view(book: &ReducedLevels) -> LevelsView {
    let reduced = &book.reduced;
    let text = |exact: &survey::Exact| {
        exact
            .to_decimal()
            .map_or_else(|_| exact.to_f64().to_string(), |d| d.to_string())
    };
    let (closes, misclosure_mm, allowable_mm, says) = match &reduced.closure {
        Closure::Open => (
            false,
            None,
            None,
            "It ends on no known level: nothing checks it.".to_string(),
        ),
        Closure::Closed(m) => {
            let limit = m
                .allowable_mm
                .map(|mm| format!(" against {mm:.1} mm"))
                .unwrap_or_default();
            let words = match m.verdict {
                ClosureVerdict::Within => "It closes",
                ClosureVerdict::Over => "It does not close: its levels prove nothing",
                ClosureVerdict::NotJudged => "It closes to something known, and no limit was given",
            };
            let says = format!("{words} (misclosure {:.1} mm{limit}).", m.misclosure_mm);
            (
                m.verdict == ClosureVerdict::Within,
                Some(m.misclosure_mm),
                m.allowable_mm,
                says,
            )
        }
    };
    let checks = &reduced.checks;
    LevelsView {
        format: "coverbook.levels/1".into(),
        book: book.booked.book.clone(),
        says,
        closes,
        misclosure_mm,
        allowable_mm,
        checks_hold: checks.hold(),
        sums: [
            &checks.sum_back,
            &checks.sum_fore,
            &checks.sum_rise,
            &checks.sum_fall,
            &checks.last_minus_first,
        ]
        .map(text),
        rows: reduced
            .rows
            .iter()
            .map(|row| LevelRowView {
                row: row.row as u64,
                point: row.point.clone(),
                rise: row.rise.as_ref().map(text),
                fall: row.fall.as_ref().map(text),
                collimation: text(&row.collimation),
                level: text(&row.level),
                known_level: row.known_level.as_ref().map(text),
                adjusted_m: row.adjusted.map(Near),
                u95_m: row
                    .sigma_m
                    .map(|sigma| Up(survey::uncertainty::u95_from_sigma(sigma))),
            })
            .collect(),
        findings: book.findings.clone(),
        entry: (book.entry > 0).then_some(book.entry),
    }
}

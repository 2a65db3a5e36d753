//! Readings made from known places, read from a file, come back to those places.
//!
//! The readings are plane trigonometry, worked here: over the 45 m of these sights the earth and the air bend a line by
//! less than 0.14 mm (0.87 s^2 / 2 R, R 6371 km; common practice), so a place must come back within 0.2 mm.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

mod common;

use common::{check_refusal, observed, options};
use coverbook_exchange::{ObservationsDraft, ReadOptions, Reading, read_observations};
use register::body::PointRow;
use register::site::Frame;
use register::station::{SolvedStation, fill_positions, solve_station};
use register::words::{AngleRead, CheckOutcome};
use survey::observation::ControlPoint;

const ORIGIN: [f64; 2] = [432_100.0, 5_811_000.0];
const AXIS: [f64; 3] = [432_110.0, 5_811_010.0, 13.6];
const KNOWN: [(&str, [f64; 3]); 4] = [
    ("C1", [432_080.0, 5_811_035.0, 12.0]),
    ("C2", [432_140.0, 5_811_030.0, 11.2]),
    ("C3", [432_115.0, 5_810_975.0, 12.6]),
    ("C4", [432_078.0, 5_810_996.0, 12.9]),
];
const SHOT: [(&str, [f64; 3]); 2] = [
    ("P1", [432_121.5, 5_811_004.25, 11.35]),
    ("P2", [432_125.0, 5_811_001.0, 11.3]),
];
const HEAD: &str =
    "target,kind,direction,zenith,slope,target_height,prism_mm,touched,run,service,outside_mm,station";

/// The row of a sight: target 1.5 m above the place, prism -30 mm, circle turned by 211 degrees.
fn sight(label: &str, kind: &str, to: [f64; 3], right: bool, gon: bool, ft: bool, rest: &str) -> String {
    let (e, n, up) = (to[0] - AXIS[0], to[1] - AXIS[1], to[2] + 1.5 - AXIS[2]);
    let mut direction = (e.atan2(n).to_degrees() - 211.0).rem_euclid(360.0);
    let mut zenith = e.hypot(n).atan2(up).to_degrees();
    if right {
        (direction, zenith) = ((direction + 180.0).rem_euclid(360.0), 360.0 - zenith);
    }
    let turn = if gon { 400.0 / 360.0 } else { 1.0 };
    let slope = (e.hypot(n).hypot(up) + 0.030) / if ft { 0.3048 } else { 1.0 };
    let height = if ft { "4.92125984" } else { "1.500" };
    format!(
        "{label},{kind},{:.6},{:.6},{slope:.4},{height},-30,{rest}",
        direction * turn,
        zenith * turn
    )
}

fn file(gon: bool, ft: bool) -> String {
    let head = if ft {
        HEAD.replace("slope,target_height", "slope_ft,target_height_ft")
    } else {
        HEAD.to_owned()
    };
    let known = |k: usize, kind: &str| sight(KNOWN[k].0, kind, KNOWN[k].1, false, gon, ft, ",,,,S1");
    let shot = |k: usize, right: bool, rest: &str| sight(SHOT[k].0, "shot", SHOT[k].1, right, gon, ft, rest);
    [
        head,
        known(0, "control"),
        known(1, "control"),
        known(2, "control"),
        known(3, "check"),
        shot(0, false, "outside-top,E1,electric-lv,50,S1"),
        shot(0, true, ",,,,S1"),
        shot(1, false, "outside-top,E1,,,S1"),
        known(3, "check"),
    ]
    .join("\n")
}

fn read(text: &str, angles: AngleRead, options: &ReadOptions) -> Reading<ObservationsDraft> {
    read_observations(text.as_bytes(), options, &observed(angles), &mut |_| {})
}

fn solved(draft: &ObservationsDraft) -> SolvedStation {
    let known = |name: &str| {
        let (id, at) = KNOWN.iter().find(|(id, _)| *id == name)?;
        Some(ControlPoint::exact(
            *id,
            at[0] - ORIGIN[0],
            at[1] - ORIGIN[1],
            Some(at[2]),
        ))
    };
    solve_station(&draft.setups[0].station, 0, &known, 1.0).unwrap()
}

fn places(points: &mut [PointRow], solved: &SolvedStation) -> Vec<[f64; 3]> {
    let frame = Frame {
        origin: ORIGIN.into(),
        near_level_m: 12.0,
        reach_m: 500.0,
        level_reach_m: 20.0,
    };
    fill_positions(points, solved, &frame).unwrap();
    let at = |row: &PointRow| [&row.easting_m, &row.northing_m, &row.level_m].map(|d| d.to_f64());
    points.iter().map(at).collect()
}

#[test]
fn shots_come_back_to_the_places_they_were_made_from_in_every_unit() {
    for (gon, ft) in [(false, false), (true, false), (false, true), (true, true)] {
        let angles = if gon { AngleRead::Gon } else { AngleRead::Degrees };
        let reading = read(&file(gon, ft), angles, &options());
        let mut draft = reading.draft.unwrap_or_else(|| panic!("{:#?}", reading.findings));
        let solved = solved(&draft);
        assert_eq!(solved.check, CheckOutcome::Passed);
        let setup = &mut draft.setups[0];
        assert_eq!(setup.checks[0].after, 2);
        for (at, (label, known)) in places(&mut setup.points, &solved).into_iter().zip(SHOT) {
            for axis in 0..3 {
                let off = at[axis] - known[axis];
                assert!(
                    off.abs() < 0.0002,
                    "{label} axis {axis}: {off:.5} m (gon {gon}, feet {ft})"
                );
            }
        }
        assert_eq!(setup.points[0].easting_m.exact().places(), 4);
        assert_eq!(draft.runs[0].points, ["P1", "P2"]);
    }
}

#[test]
fn a_file_read_in_the_wrong_angle_unit_does_not_pass_for_a_station() {
    // Degrees taken for gon: every angle is nine tenths of what was read.
    let reading = read(&file(false, false), AngleRead::Gon, &options());
    let draft = reading.draft.unwrap();
    let known = |name: &str| {
        let (id, at) = KNOWN.iter().find(|(id, _)| *id == name)?;
        Some(ControlPoint::exact(
            *id,
            at[0] - ORIGIN[0],
            at[1] - ORIGIN[1],
            Some(at[2]),
        ))
    };
    let solved = solve_station(&draft.setups[0].station, 0, &known, 1.0);
    assert!(solved.is_err() || solved.is_ok_and(|s| !s.report.passes() && s.check != CheckOutcome::Passed));
}

#[test]
fn a_station_whose_rows_stand_apart_is_refused() {
    let text = file(false, false);
    let second = text.lines().skip(1).map(|line| {
        line.replace(",S1", ",S2")
            .replace("P1", "Q1")
            .replace("P2", "Q2")
            .replace("E1", "E2")
    });
    let second = second.collect::<Vec<_>>().join("\n");
    let both = format!("{text}\n{second}");
    let draft = read(&both, AngleRead::Degrees, &options()).draft.unwrap();
    assert_eq!((draft.setups.len(), draft.runs.len()), (2, 2));
    let late = sight("P3", "shot", SHOT[0].1, false, false, false, "centre,,,,S1");
    let reading = read(&format!("{both}\n{late}"), AngleRead::Degrees, &options());
    check_refusal(
        &reading,
        "station-apart",
        Some(18),
        Some("station"),
        "a name of its own",
    );
}

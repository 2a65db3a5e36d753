//! Observations files: what makes one point, what makes two, and what is refused with its row.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

extern crate coverbook_exchange as exchange;

use exchange::{ObservationOptions, ObservationsDraft, ReadOptions, Reading, SiteFrame, read_observations};
use register::body::{ImportRef, InstrumentRow, MeasuredFrom};
use register::words::AngleRead;

const HEAD: &str =
    "target,kind,direction,zenith,slope,target_height,prism_mm,touched,run,service,outside_mm,face\n";
const STATION: &str = "C1,control,10.0,90.0,30.0,1.5,0,,,,,\nC2,control,100.0,90.0,30.0,1.5,0,,,,,\n";

fn read(rows: &str) -> Reading<ObservationsDraft> {
    read_text(&format!("{HEAD}{rows}"))
}

fn read_text(text: &str) -> Reading<ObservationsDraft> {
    let frame = SiteFrame {
        near_easting_m: 0.0,
        near_northing_m: 0.0,
        near_level_m: 0.0,
        reach_m: 1e6,
        level_reach_m: 1e3,
    };
    let import = ImportRef {
        import_id: uuid::Uuid::nil(),
        file: "o.csv".into(),
        sha256: String::new(),
    };
    let decimal = |text: &str| text.parse().unwrap();
    let stated = ObservationOptions {
        station: Some("S1".into()),
        angles: AngleRead::Degrees,
        instrument: InstrumentRow {
            name: None,
            distance_mm: decimal("2"),
            distance_ppm: decimal("2"),
            direction_sec: decimal("5"),
            zenith_sec: decimal("5"),
            target_height_sigma_mm: decimal("1"),
            centring_sigma_mm: decimal("1"),
        },
        air: None,
        air_in_instrument: None,
        tolerance_mm: None,
        unchecked_reason: None,
        set_already: Vec::new(),
    };
    read_observations(
        text.as_bytes(),
        &ReadOptions::new("o.csv", frame, import),
        &stated,
        &mut |_| {},
    )
}

#[track_caller]
fn refused(rows: &str, row: Option<u64>, says: &str) {
    let reading = read(rows);
    assert!(reading.draft.is_none(), "it was accepted");
    let found = reading.findings.iter().find(|f| f.says.contains(says));
    let found = found.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    assert_eq!(found.row, row);
}

#[test]
fn two_shots_of_one_label_on_one_face_are_never_one_point() {
    let rows = format!(
        "{STATION}P1,shot,20.0,92.0,10.0,1.3,0,outside-top,,,,\nP1,shot,40.0,92.0,10.0,1.3,0,outside-top,,,,\n"
    );
    refused(&rows, Some(5), "stands in row 4 and again in row 5");
}

#[test]
fn both_faces_of_one_shot_are_one_point() {
    let rows = format!(
        "{STATION}P1,shot,20.0,92.0,10.0,1.3,0,outside-top,,,,\nP1,shot,200.0,268.0,10.0,1.3,0,outside-top,,,,\n"
    );
    let draft = read(&rows).draft.unwrap();
    let Some(MeasuredFrom::Station { sights, .. }) = &draft.setups[0].points[0].measured else {
        panic!()
    };
    assert_eq!((draft.setups[0].points.len(), sights.len()), (1, 2));
    let third = format!("{rows}P1,shot,20.0,92.0,10.0,1.3,0,outside-top,,,,\n");
    refused(&third, Some(6), "again in row 6");
}

#[test]
fn the_same_shot_named_by_two_runs_serves_both() {
    let shot = "P1,shot,20.0,92.0,10.0,1.3,0,outside-top,";
    let rows = format!(
        "{STATION}A0,shot,19.0,92.0,11.0,1.3,0,outside-top,RA,gas,63,\n{shot}RA,,,\n{shot}RB,water,32,\n\
         B1,shot,21.0,92.0,11.0,1.3,0,outside-top,RB,,,\n"
    );
    let reading = read(&rows);
    let draft = reading.draft.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    let runs: Vec<_> = draft
        .runs
        .iter()
        .map(|run| (run.run.as_str(), run.points.join(" ")))
        .collect();
    assert_eq!(runs, [("RA", "A0 P1".to_owned()), ("RB", "P1 B1".to_owned())]);
    assert_eq!(draft.setups[0].points.len(), 3);
}

#[test]
fn what_is_missing_is_refused_at_its_row_and_never_defaulted() {
    refused(
        "C1,control,10.0,90.0,30.0,,0,,,,,\n",
        Some(2),
        "the target_height is missing",
    );
    refused(
        "C1,control,10.0,90.0,30.0,1.5,,,,,,\n",
        Some(2),
        "the prism is missing",
    );
    refused(
        "C1,,10.0,90.0,30.0,1.5,0,,,,,\n",
        Some(2),
        "write control, check or shot",
    );
    refused(
        "C1,control,370.5,90.0,30.0,1.5,0,,,,,\n",
        Some(2),
        "beyond the circle",
    );
    refused(
        "C1,control,10.0,90.0,-30.0,1.5,0,,,,,\n",
        Some(2),
        "not above nought",
    );
    refused(
        &format!("{STATION}P1,shot,20.0,92.0,10.0,1.3,0,,,,,\n"),
        Some(4),
        "it is not said what was touched",
    );
    refused(
        "P1,shot,20.0,92.0,10.0,1.3,0,outside-top,,,,\n",
        Some(2),
        "no row of kind control",
    );
    let late = format!(
        "{STATION}P1,shot,20.0,92.0,10.0,1.3,0,outside-top,,,,\nC3,control,1.0,90.0,9.0,1.5,0,,,,,\n"
    );
    refused(&late, Some(5), "after it, write check");
}

#[test]
fn a_check_between_shots_keeps_its_place() {
    let rows = format!(
        "{STATION}C3,check,50.0,90.0,20.0,1.5,0,,,,,\nP1,shot,20.0,92.0,10.0,1.3,0,outside-top,,,,\n\
         C3,check,50.0,90.0,20.0,1.5,0,,,,,\nP2,shot,21.0,92.0,10.0,1.3,0,outside-top,,,,\n"
    );
    let draft = read(&rows).draft.unwrap();
    let setup = &draft.setups[0];
    assert_eq!((setup.station.sights.len(), setup.points.len()), (3, 2));
    assert_eq!(
        setup
            .checks
            .iter()
            .map(|c| (c.after, c.target.as_str()))
            .collect::<Vec<_>>(),
        [(1, "C3")]
    );
}

#[test]
fn a_service_on_a_row_without_a_run_is_kept_and_doubted() {
    let rows = format!("{STATION}P1,shot,20.0,92.0,10.0,1.3,0,outside-top,,gas,,\n");
    let reading = read(&rows);
    assert!(reading.findings.iter().any(|f| f.code == "no-run"));
    assert!(
        reading.draft.unwrap().setups[0].points[0]
            .note
            .as_ref()
            .unwrap()
            .contains("gas")
    );
}

#[test]
fn a_booked_face_that_the_zenith_angle_denies_is_refused() {
    // Both would be taken for face left by their zenith angles, and directions half a circle apart have no mean.
    let rows = format!(
        "{STATION}P1,shot,20.0,92.0,10.0,1.3,0,outside-top,,,,left\nP1,shot,200.0,92.0,10.0,1.3,0,outside-top,,,,right\n"
    );
    refused(
        &rows,
        Some(5),
        "face right is booked and the zenith angle 92.0 is of face left",
    );
}

#[test]
fn the_second_face_says_what_the_first_said_or_nothing() {
    let first = "P1,shot,20.0,92.0,10.0,1.3,0,outside-top,RA,gas,63,left\n";
    let file =
        |second: &str| format!("{STATION}{first}{second}\nP2,shot,25.0,92.0,10.0,1.3,0,centre,RA,,,\n");
    for (second, says) in [
        (
            "P1,shot,200.0,268.0,10.0,1.3,0,invert,,,,right",
            "outside-top in row 4 and invert here",
        ),
        (
            "P1,shot,200.0,268.0,10.0,1.3,0,,RB,,,right",
            "RA in row 4 and RB here",
        ),
        (
            "P1,shot,200.0,268.0,10.0,1.3,0,,,,75,right",
            "63 in row 4 and 75 here",
        ),
        (
            "P1,shot,200.0,268.0,10.0,1.5,0,,,,,right",
            "1.3 in row 4 and 1.5 here",
        ),
        (
            "P1,shot,200.0,268.0,10.0,1.3,-30,,,,,right",
            "0 in row 4 and -30 here",
        ),
    ] {
        refused(&file(second), Some(5), says);
    }
    let reading = read(&file("P1,shot,200.0,268.0,10.0,1.30,0,,,,,right"));
    let draft = reading.draft.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    assert_eq!(draft.setups[0].points.len(), 2);
    assert_eq!(draft.runs[0].points, ["P1", "P2"]);
}

#[test]
fn a_shot_or_check_without_a_reading_and_a_height_beyond_belief_are_refused() {
    for (shot, says) in [
        ("P1,shot,,92.0,10.0,1.3,0,centre,,,,", "the direction is missing"),
        ("P1,shot,20.0,,10.0,1.3,0,centre,,,,", "the zenith is missing"),
        ("P1,shot,20.0,92.0,,1.3,0,centre,,,,", "the slope is missing"),
        ("P1,check,20.0,92.0,,1.3,0,,,,,", "the slope is missing"),
        ("C3,control,,,,1.3,0,,,,,", "no reading"),
        (
            "P1,shot,20.0,92.0,10.0,1300,0,centre,,,,",
            "a target height of 1300 m is not believed",
        ),
    ] {
        let rows = format!("{STATION}{shot}\n");
        refused(&rows, Some(4), says);
    }
    let metres = read(&format!("{STATION}P1,shot,20.0,92.0,10.0,1.3,0.034,centre,,,,\n"));
    let found = metres.findings.iter().find(|f| f.code == "small-prism").unwrap();
    assert!(found.says.contains("looks like metres"));
}

#[test]
fn two_checks_on_one_face_are_two_checks() {
    let check = "C3,check,50.0,90.0,20.0,1.5,0,,,,,\n";
    let other = "C3,check,230.0,270.0,20.0,1.5,0,,,,,\n";
    let shot = "P1,shot,20.0,92.0,10.0,1.3,0,outside-top,,,,\n";
    let sights = |checks: String| {
        let draft = read(&format!("{STATION}{shot}{checks}")).draft.unwrap();
        let checks = draft.setups[0].checks.iter();
        checks.map(|check| check.sights.len()).collect::<Vec<_>>()
    };
    assert_eq!(sights(format!("{check}{check}")), [1, 1]);
    assert_eq!(sights(format!("{check}{other}")), [2]);
    assert_eq!(sights(format!("{check}{other}{check}")), [2, 1]);
}

#[test]
fn an_instrument_height_may_stand_in_any_row_of_its_set_up_and_only_one_may() {
    let head = HEAD.trim_end();
    let rows = |heights: [&str; 3]| {
        let text = STATION.to_owned() + "P1,shot,20.0,92.0,10.0,1.3,0,outside-top,,,,\n";
        let rows = text.lines().zip(heights);
        let rows: Vec<String> = rows.map(|(row, height)| format!("{row},{height}")).collect();
        read_text(&format!("{head},instrument_height\n{}\n", rows.join("\n")))
    };
    let draft = rows(["", "1.552", ""]).draft.unwrap();
    assert_eq!(draft.setups[0].station.instrument_height_m.as_str(), "1.552");
    let reading = rows(["1.552", "", "1.525"]);
    assert!(reading.draft.is_none());
    let found = reading
        .findings
        .iter()
        .find(|f| f.code == "instrument-height-changed");
    assert!(found.unwrap().says.contains("1.525 here and 1.552 before"));
}

#[test]
fn a_run_on_a_sight_to_control_and_a_stated_sigma_are_told() {
    let reading = read(&format!("{STATION}C3,check,50.0,90.0,20.0,1.5,0,,RA,,,\n"));
    let found = reading
        .findings
        .iter()
        .find(|f| f.code == "run-on-sight")
        .unwrap();
    assert_eq!(found.row, Some(4));
    assert!(reading.draft.is_some());
}

#[test]
fn a_radius_at_a_shot_that_is_no_part_of_a_bend_is_shown_back_as_in_a_points_file() {
    let text = "target,kind,direction,zenith,slope,target_height,prism_mm,touched,fitting,bend_radius_mm\n\
                C1,control,10.0,90.0,30.0,1.5,0,,,\nC2,control,100.0,90.0,30.0,1.5,0,,,\n\
                P1,shot,20.0,92.0,10.0,1.3,0,outside-top,bend-start,900\n\
                P2,shot,40.0,92.0,10.0,1.3,0,outside-top,tee,900\n";
    let reading = read_text(text);
    assert!(reading.draft.is_some(), "{:#?}", reading.findings);
    let doubts = reading
        .findings
        .iter()
        .filter(|f| f.code == "radius-without-bend");
    assert_eq!(doubts.map(|f| f.row).collect::<Vec<_>>(), [Some(5)]);
}

/// The prefix is put before the shots and their runs, and before no control.
#[test]
fn names_of_shots_stations_and_runs_are_kept_whole_or_refused() {
    let long = "n".repeat(201);
    let shot = |target: &str, run: &str| {
        format!("{STATION}{target},shot,20.0,92.0,10.0,1.3,0,outside-top,{run},,,\n")
    };
    let says = "longer than 200 characters";
    refused(&shot(&long, ""), Some(4), says);
    refused(&shot("P1", &long), Some(4), says);
    refused(&STATION.replace("C2", &long), Some(3), says);
    assert!(read(&shot(&long[1..], "")).draft.is_some());
    let stations = format!("station,{HEAD}{long},C1,control,10.0,90.0,30.0,1.5,0,,,,,\n");
    let reading = read_text(&stations);
    let found = reading.findings.iter().find(|f| f.says.contains(says)).unwrap();
    assert_eq!((found.row, found.column.as_deref()), (Some(2), Some("station")));
}

//! Every refusal and doubt of a points file, as data: the file, and where the finding stands.

mod common;

use common::{check_refusal, finding, options, points};
use coverbook_exchange::{KnownPoint, ReadOptions, read_points};
use register::view::Severity;

const HEADER: &str = "point,easting,northing,level,touched";

fn file(rows: &str) -> String {
    format!("{HEADER}\n{rows}\n")
}

/// (code, row, column, phrase of the sentence, file)
type Case<'a> = (&'a str, Option<u64>, Option<&'a str>, &'a str, &'a str);

#[test]
fn a_row_that_does_not_hold_is_refused_with_its_place_and_the_mend() {
    let cases: &[Case<'_>] = &[
        (
            "not-a-number",
            Some(2),
            Some("easting"),
            "not a number",
            "A,NaN,5811000,12,centre",
        ),
        (
            "not-a-number",
            Some(2),
            Some("northing"),
            "not a number",
            "A,432100,inf,12,centre",
        ),
        (
            "not-a-number",
            Some(2),
            Some("level"),
            "not a number",
            "A,432100,5811000,-Infinity,centre",
        ),
        (
            "not-a-number",
            Some(2),
            Some("level"),
            "plain decimal",
            "A,432100,5811000,1.2e1,centre",
        ),
        (
            "not-a-number",
            Some(2),
            Some("level"),
            "plain decimal",
            "A,432100,5811000,\u{2212}1,centre",
        ),
        (
            "not-a-number",
            Some(2),
            Some("level"),
            "too many digits",
            "A,432100,5811000,12.0000000000000000,centre",
        ),
        (
            "comma-in-number",
            Some(2),
            Some("easting"),
            "one point",
            "A,\"432,100\",5811000,12,centre",
        ),
        (
            "value-missing",
            Some(2),
            Some("level"),
            "the level is missing",
            "A,432100,5811000,,centre",
        ),
        (
            "value-missing",
            Some(3),
            Some("point"),
            "the point is missing",
            "A,432100,5811000,12,centre\n ,432101,5811000,12,centre",
        ),
        (
            "touched-missing",
            Some(2),
            Some("touched"),
            "outside-top, invert, centre",
            "A,432100,5811000,12,",
        ),
        (
            "unknown-word",
            Some(2),
            Some("touched"),
            "outside-top, invert, centre",
            "A,432100,5811000,12,crown",
        ),
        (
            "label-twice",
            Some(3),
            Some("point"),
            "stands in row 2 and again in row 3",
            "A,432100,5811000,12,centre\nA,432109,5811000,12,centre",
        ),
        (
            "label-twice",
            Some(3),
            Some("point"),
            "stands in row 2 and again in row 3",
            "A,432100,5811000,12,centre\nA,432100,5811000,12,centre",
        ),
        (
            "side-bearing-missing",
            Some(2),
            Some("side_bearing_deg"),
            "degrees",
            "A,432100,5811000,12,side",
        ),
        (
            "ragged-row",
            Some(3),
            None,
            "4 values where 5 are named",
            "A,432100,5811000,12,centre\nB,432101,5811000,12",
        ),
        (
            "ragged-row",
            Some(2),
            None,
            "6 values where 5 are named",
            "A,432100,5811000,12,centre,13",
        ),
        (
            "open-quote",
            Some(3),
            None,
            "never closed",
            "A,432100,5811000,12,centre\n\"B,432101,5811000,12,centre\nC,432102,5811000,12,centre",
        ),
        ("empty-file", None, None, "no row", ""),
        ("empty-file", None, None, "no row", ",,,,\n,,,,"),
        (
            "out-of-reach",
            Some(2),
            Some("easting"),
            "1000 m from the middle",
            "A,433100,5811000,12,centre",
        ),
        (
            "level-out-of-reach",
            Some(2),
            Some("level"),
            "reach 20.000 m",
            "A,432100,5811000,62.5,centre",
        ),
        (
            "level-out-of-reach",
            Some(2),
            Some("level"),
            "ellipsoid",
            "A,432100,5811000,-9999,centre",
        ),
        (
            "level-out-of-reach",
            Some(2),
            Some("level"),
            "_ft",
            "A,432100,5811000,39.370,centre",
        ),
        (
            "level-out-of-reach",
            Some(2),
            Some("level"),
            "_mm",
            "A,432100,5811000,12000,centre",
        ),
    ];
    for &(code, row, column, phrase, rows) in cases {
        check_refusal(&points(file(rows)), code, row, column, phrase);
    }
}

#[test]
fn other_columns_are_held_to_what_can_be() {
    let cases: &[Case<'_>] = &[
        (
            "absurd-size",
            Some(2),
            Some("sigma_h_mm"),
            "above nought",
            "sigma_h_mm|0",
        ),
        (
            "absurd-size",
            Some(2),
            Some("sigma_v_mm"),
            "above nought",
            "sigma_v_mm|-5",
        ),
        (
            "absurd-size",
            Some(2),
            Some("sigma_v_mm"),
            "not believed",
            "sigma_v_mm|1000000",
        ),
        (
            "absurd-size",
            Some(2),
            Some("bend_radius_mm"),
            "above nought",
            "bend_radius_mm|0",
        ),
        (
            "absurd-size",
            Some(2),
            Some("outside_mm"),
            "not believed",
            "outside_mm|99999",
        ),
        (
            "absurd-size",
            Some(2),
            Some("rows"),
            "whole number from 1",
            "rows|2.5",
        ),
        (
            "absurd-size",
            Some(2),
            Some("columns"),
            "whole number from 1",
            "columns|0",
        ),
        (
            "absurd-size",
            Some(2),
            Some("side_bearing_deg"),
            "0 to 360",
            "side_bearing_deg|400",
        ),
        (
            "unit-missing",
            Some(1),
            Some("outside"),
            "outside_mm or outside_in",
            "outside|40",
        ),
        (
            "unknown-word",
            Some(2),
            Some("known"),
            "seen-checked, seen",
            "known|good",
        ),
        (
            "unknown-word",
            Some(2),
            Some("fitting"),
            "bend-start, bend-mid",
            "fitting|elbow",
        ),
        (
            "unknown-word",
            Some(2),
            Some("service"),
            "electric-lv, electric-hv",
            "service|telephone",
        ),
        ("unknown-word", Some(2), Some("end"), "joins RUN", "end|joins"),
        (
            "not-a-time",
            Some(2),
            Some("observed_at"),
            "offset",
            "observed_at|03/04/2026",
        ),
        (
            "too-many-digits",
            Some(2),
            Some("level_usft"),
            "leave some out",
            "level_usft|12.12345678901234",
        ),
        (
            "column-twice",
            Some(1),
            Some("Level"),
            "both mean level",
            "Level|12",
        ),
        (
            "text-too-long",
            Some(2),
            Some("column 6"),
            "shorten",
            "remark|LONG",
        ),
    ];
    for &(code, row, column, phrase, pair) in cases {
        let (header, value) = pair.split_once('|').unwrap();
        let long = "x".repeat(9_000);
        let value = if value == "LONG" { &long } else { value };
        let text = if header == "level_usft" {
            format!("point,easting,northing,touched,{header}\nA,432100,5811000,centre,{value}\n")
        } else {
            format!("{HEADER},{header}\nA,432100,5811000,12,centre,{value}\n")
        };
        check_refusal(&points(text), code, row, column, phrase);
    }
}

#[test]
fn columns_that_are_missing_are_named_together_with_those_that_are_there() {
    let reading = points("Nr,Y,X,Z\nA,432100,5811000,12\n");
    for column in ["point", "easting", "northing", "level", "touched"] {
        let found = reading
            .findings
            .iter()
            .find(|f| f.column.as_deref() == Some(column))
            .unwrap();
        assert_eq!((found.code.as_str(), found.row), ("column-missing", Some(1)));
        assert!(found.says.contains("the file has Nr, Y, X, Z"), "{found:?}");
    }
    assert!(reading.draft.is_none() && !reading.order_needed);
}

#[test]
fn a_run_that_does_not_hold_together_is_refused_with_both_rows() {
    let cases: &[Case<'_>] = &[
        (
            "run-disagrees",
            Some(3),
            Some("service"),
            "water in row 2 and gas in row 3",
            "A,432100,,R,1,water,40,\nB,432101,,R,2,gas,40,",
        ),
        (
            "run-disagrees",
            Some(3),
            Some("outside_mm"),
            "40 in row 2 and 50 in row 3",
            "A,432100,,R,1,gas,40,\nB,432101,,R,2,,50,",
        ),
        (
            "service-missing",
            Some(2),
            Some("service"),
            "unknown",
            "A,432100,,R,1,,40,\nB,432101,,R,2,,,",
        ),
        (
            "order-missing",
            Some(3),
            Some("order"),
            "in row 2 and none in row 3",
            "A,432100,,R,1,gas,40,\nB,432101,,R,,,,",
        ),
        (
            "order-twice",
            Some(3),
            Some("order"),
            "row 2 and row 3",
            "A,432100,,R,1,gas,40,\nB,432101,,R,1.0,,,",
        ),
        (
            "run-too-short",
            Some(2),
            Some("run"),
            "needs two",
            "A,432100,,R,1,gas,40,",
        ),
        (
            "end-in-the-middle",
            Some(3),
            Some("end"),
            "ends (capped)",
            "A,432100,,R,1,gas,40,\nB,432101,,R,2,,,capped\nC,432102,,R,3,,,",
        ),
        (
            "ground-on-run",
            Some(3),
            Some("touched"),
            "ground",
            "A,432100,,R,1,gas,40,\nB,432101,ground,R,2,,,",
        ),
    ];
    for &(code, row, column, phrase, rows) in cases {
        let mut text = format!("{HEADER},run,order,service,outside_mm,end\n");
        for row in rows.lines() {
            let values: Vec<&str> = row.split(',').collect();
            let touched = if values[2].is_empty() { "centre" } else { values[2] };
            text += &format!(
                "{},{},5811000,12,{touched},{}\n",
                values[0],
                values[1],
                values[3..].join(",")
            );
        }
        check_refusal(&points(text), code, row, column, phrase);
    }
    let wall = "point,easting,northing,level,touched,run,service,outside_mm,wall_mm\n\
                A,432100,5811000,12,centre,R,gas,40,20\nB,432101,5811000,12,centre,R,gas,40,20\n";
    check_refusal(
        &points(wall),
        "absurd-size",
        Some(2),
        Some("wall_mm"),
        "wall of 20 mm",
    );
}

#[test]
fn a_run_longer_than_an_entry_is_refused() {
    let mut text = format!("{HEADER},run,service\n");
    let label = "L".repeat(190);
    for row in 0..5_000 {
        text += &format!(
            "{label}{row},{}.{:03},5811000,12,centre,R,gas\n",
            432_000 + row / 100,
            10 * (row % 100)
        );
    }
    check_refusal(&points(text), "run-too-long", Some(2), Some("run"), "part it");
}

#[test]
fn bytes_that_are_no_text_are_refused_with_their_place() {
    let good = file("A,432100,5811000,12,centre");
    let cases: &[(&str, Option<u64>, &str, Vec<u8>)] = &[
        (
            "not-utf8",
            Some(3),
            "byte 64 (0xe9)",
            [good.as_bytes(), b"\xe9,432101,5811000,12,centre\n"].concat(),
        ),
        (
            "not-utf8",
            Some(3),
            "byte 67 (0xe9)",
            [b"\xef\xbb\xbf", good.as_bytes(), b"\xe9,1\n"].concat(),
        ),
        (
            "nul-byte",
            Some(3),
            "byte 64 is a NUL",
            [good.as_bytes(), b"\0\n"].concat(),
        ),
        ("not-utf8", None, "UTF-16", b"\xff\xfep\0o\0".to_vec()),
        ("not-text", None, "CSV", b"PK\x03\x04sheet".to_vec()),
        ("empty-file", None, "no rows", b"".to_vec()),
        ("empty-file", None, "no rows", b"\xef\xbb\xbf\r\n \r\n".to_vec()),
    ];
    assert_eq!(good.len(), 64);
    for (code, row, phrase, bytes) in cases {
        check_refusal(&points(bytes), code, *row, None, phrase);
    }
}

#[test]
fn a_file_beyond_the_limit_or_with_absurdly_many_columns_is_refused() {
    let mut small = options();
    small.limit_bytes = 10;
    let reading = read_points(file("A,432100,5811000,12,centre").as_bytes(), &small, &mut |_| {});
    check_refusal(&reading, "file-too-large", None, None, "at most 10");
    check_refusal(
        &points(",".repeat(600)),
        "too-many-columns",
        Some(1),
        None,
        "at most 500",
    );
}

#[test]
fn two_decimal_marks_in_one_file_are_refused() {
    let text =
        "point;easting;northing;level;touched\nA;432100.5;5811000;12;centre\nB;432101,5;5811000;12;centre\n";
    check_refusal(
        &points(text),
        "two-decimal-marks",
        Some(3),
        None,
        "row 2 writes 432100.5 with a point",
    );
    let thousands = "point;easting;northing;level;touched\nA;432,100.5;5811000;12;centre\n";
    check_refusal(
        &points(thousands),
        "comma-in-number",
        Some(2),
        Some("easting"),
        "thousands",
    );
}

#[test]
fn positions_that_come_right_by_one_slip_are_refused_with_that_slip() {
    // 1 ft = 0.3048 m exactly (definition): 432100 m is 1417650.919 ft, 5811000 m is 19064960.630 ft.
    let cases: &[(&str, &str, [&str; 3])] = &[
        (
            "swapped",
            "easting and northing swapped",
            ["5811000,432100", "5811001,432101", "5811002,432102"],
        ),
        (
            "feet",
            "_ft or _usft",
            [
                "1417650.9,19064960.6",
                "1417660.9,19064960.6",
                "1417670.9,19064960.6",
            ],
        ),
        (
            "feet-swapped",
            "swapped",
            [
                "19064960.6,1417650.9",
                "19064961.6,1417650.9",
                "19064962.6,1417650.9",
            ],
        ),
        (
            "millimetres",
            "_mm",
            [
                "432100000,5811000000",
                "432101000,5811000000",
                "432102000,5811000000",
            ],
        ),
        (
            "mirrored",
            "mirror image",
            ["-432100,5811000", "-432101,5811000", "-432102,5811000"],
        ),
        (
            "mirrored",
            "southings",
            ["432100,-5811000", "432101,-5811000", "432102,-5811000"],
        ),
        (
            "turned",
            "both signs",
            ["-432100,-5811000", "-432101,-5811000", "-432102,-5811000"],
        ),
        (
            "degrees",
            "longitude and latitude",
            [
                "144.22871,-37.84441",
                "144.22872,-37.84442",
                "144.22873,-37.84443",
            ],
        ),
        (
            "degrees",
            "longitude and latitude",
            [
                "-37.84441,144.22871",
                "-37.84442,144.22872",
                "-37.84443,144.22873",
            ],
        ),
    ];
    for (code, phrase, places) in cases {
        let rows: Vec<String> = places
            .iter()
            .enumerate()
            .map(|(i, at)| format!("P{i},{at},12,centre"))
            .collect();
        let reading = points(file(&rows.join("\n")));
        check_refusal(&reading, code, Some(2), Some("easting"), phrase);
        let refusals = reading.refusals;
        assert_eq!(refusals, 1, "one slip is one refusal: {:#?}", reading.findings);
    }
    let metres = "point,easting_ft,northing_ft,level,touched\nA,432100,5811000,12,centre\n";
    check_refusal(
        &points(metres),
        "metres-as-feet",
        Some(2),
        Some("easting_ft"),
        "take _ft off",
    );
}

#[test]
fn one_swapped_row_among_good_ones_is_named() {
    let text = file(
        "A,432100,5811000,12,centre\nB,432101,5811000,12,centre\nC,5811000,432102,12,centre\nD,432103,5811000,12,centre",
    );
    check_refusal(&points(text), "swapped", Some(4), Some("easting"), "swapped");
}

fn with_control(reach: f64) -> ReadOptions {
    let mut options = options();
    options.frame.near_easting_m = 1000.0;
    options.frame.near_northing_m = 1000.0;
    options.frame.reach_m = reach;
    let known = |point: &str, easting_m: f64, northing_m: f64| KnownPoint {
        point: point.into(),
        easting_m,
        northing_m,
    };
    options.control = vec![
        known("C1", 1000.0, 1000.0),
        known("C2", 1080.0, 1010.0),
        known("C3", 1020.0, 1060.0),
    ];
    options
}

#[test]
fn a_mirror_image_is_seen_by_control_where_the_reach_cannot() {
    // Swapped axes on a grid whose middle has equal easting and northing: every row is still within reach.
    let swapped = file("C1,1000,1000,12,centre\nC2,1010,1080,12,centre\nC3,1060,1020,12,centre");
    let reading = read_points(swapped.as_bytes(), &with_control(500.0), &mut |_| {});
    check_refusal(&reading, "mirrored", Some(2), Some("easting"), "mirror image");
    let good = file("C1,1000,1000.01,12,centre\nC2,1080,1010,12,centre\nC3,1020,1060,12,centre");
    let reading = read_points(good.as_bytes(), &with_control(500.0), &mut |_| {});
    assert!(
        reading.draft.is_some() && reading.findings.is_empty(),
        "{:#?}",
        reading.findings
    );
    let moved = file("C1,1000,1000,12,centre\nC2,1080.3,1010,12,centre");
    let reading = read_points(moved.as_bytes(), &with_control(500.0), &mut |_| {});
    assert_eq!(finding(&reading.findings, "control-moved").row, Some(3));
}

#[test]
fn doubts_are_shown_and_do_not_stand_in_the_way() {
    let twice = file(
        "A,432100,5811000,12,centre\nB,432100.003,5811000.004,12,centre\nC,432100.003,5811000.003,12.007,centre",
    );
    let reading = points(twice);
    // 3 mm and 4 mm make 5 mm; C lies 8 mm from A and 7 mm from B.
    let doubts: Vec<_> = reading
        .findings
        .iter()
        .map(|f| (f.code.as_str(), f.row))
        .collect();
    assert_eq!(doubts, [("place-twice", Some(3))]);
    assert!(reading.draft.is_some());

    let cases: &[(&str, &str)] = &[
        ("small-size", "run,service,size_mm|R,gas,4"),
        ("sizes-disagree", "run,service,size_mm,outside_mm|R,gas,100,60"),
        ("spacing-without-bank", "run,service,spacing_mm|R,gas,60"),
        ("no-run", "service,size_mm|gas,100"),
        ("radius-without-bend", "bend_radius_mm|900"),
    ];
    for (code, pair) in cases {
        let (header, values) = pair.split_once('|').unwrap();
        let text = format!(
            "{HEADER},{header}\nA,432100,5811000,12,centre,{values}\nB,432101,5811000,12,centre,{values}\n"
        );
        let reading = points(text);
        assert_eq!(finding(&reading.findings, code).severity, Severity::Doubt);
        assert!(reading.draft.is_some(), "{code} refused");
    }
}

#[test]
fn an_order_that_does_not_fit_the_file_is_refused() {
    let read = |order: &[&str], text: &str| {
        let mut options = options();
        options.order = Some(order.iter().map(|&name| name.to_owned()).collect());
        options.stated.touched = Some(register::words::Touched::Centre);
        read_points(text.as_bytes(), &options, &mut |_| {})
    };
    let row = "A,432100,5811000,12\n";
    check_refusal(
        &read(&["point", "easting", "northing"], row),
        "order-length",
        Some(1),
        None,
        "names 3 columns",
    );
    check_refusal(
        &read(&["point", "east", "northing", "level"], row),
        "order-unknown",
        None,
        Some("column 2"),
        "use one of point, easting",
    );
    let wrong = read(
        &["point", "northing", "easting", "level"],
        &format!("point,easting,northing,level\n{row}"),
    );
    check_refusal(
        &wrong,
        "order-against-header",
        Some(1),
        Some("column 2"),
        "own header says easting",
    );
    let skipped = read(
        &["point", "easting", "northing", "level"],
        &format!("Nr,Ost,Nord,Hoehe\n{row}"),
    );
    assert_eq!(
        finding(&skipped.findings, "header-skipped").severity,
        Severity::Note
    );
    assert_eq!(skipped.draft.unwrap().points.len(), 1);
    let missing = read(&["-", "easting", "northing", "level"], row);
    check_refusal(
        &missing,
        "column-missing",
        Some(1),
        Some("point"),
        "no column point",
    );
}

#[test]
fn what_a_person_states_must_make_sense_too() {
    let text = "point,easting,northing,level\nA,432100,5811000,12\n";
    let read = |change: fn(&mut ReadOptions)| {
        let mut options = options();
        options.stated.touched = Some(register::words::Touched::Centre);
        change(&mut options);
        read_points(text.as_bytes(), &options, &mut |_| {})
    };
    assert!(read(|_| {}).draft.is_some());
    let nought = read(|options| options.stated.sigma_h_mm = Some("0.0".parse().unwrap()));
    check_refusal(&nought, "absurd-size", None, Some("sigma_h_mm"), "above nought");
    let time = read(|options| options.observed_at = Some("yesterday".into()));
    check_refusal(&time, "not-a-time", None, None, "offset");
    let side = read(|options| options.stated.touched = Some(register::words::Touched::Side));
    check_refusal(&side, "side-bearing-missing", None, None, "its own direction");
}

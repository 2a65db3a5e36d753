//! What a points file becomes when nothing is wrong with it.

mod common;

use common::{finding, options, points};
use coverbook_exchange::{ReadOptions, Reading, read_points};
use register::body::RunEnd;
use register::service::Service;
use register::view::Severity;
use register::words::{Fitting, Known, Touched};
use survey::LengthUnit;

const TWO_RUNS: &str = "\
Point,Easting,Northing,Level,Touched,Run,Order,Service,Outside_mm,End,Sigma_H_mm,Known,Fitting,Remark
P1,432100.120,5811000.50,12.340,outside-top,E1,1,electric-lv,40,enters board MSB,5,seen,,under kerb
P3,432104.000,5811000.500,12.300,outside-top,E1,3,,,capped,5,seen-checked,bend-pi,
P2,432102.1,5811000.5,12.3,OUTSIDE-TOP,E1,2,,,,5,seen,,
S1,432110.00,5811010.00,11.00,invert,S1,,sewer,110,,,,,
S2,432110.00,5811020.00,10.90,invert,S1,,sewer,110,joins S9,,,,
G1,432120,5811020,12.9,ground,,,,,,,,,
";

fn draft(text: &str, options: &ReadOptions) -> coverbook_exchange::PointsDraft {
    let reading: Reading<_> = read_points(text.as_bytes(), options, &mut |_| {});
    reading
        .draft
        .unwrap_or_else(|| panic!("refused: {:#?}", reading.findings))
}

#[test]
fn rows_become_points_digit_for_digit_and_runs_in_their_order() {
    let draft = draft(TWO_RUNS, &options());
    let first = &draft.points[0];
    assert_eq!(
        (first.point.as_str(), first.easting_m.as_str()),
        ("P1", "432100.120")
    );
    assert_eq!(
        (first.northing_m.as_str(), first.level_m.as_str()),
        ("5811000.50", "12.340")
    );
    assert_eq!(
        (first.touched, first.known, first.row),
        (Touched::OutsideTop, Some(Known::Seen), Some(2))
    );
    assert_eq!(first.note.as_deref(), Some("Remark=under kerb"));
    assert_eq!(draft.points[1].fitting, Some(Fitting::BendPi));
    assert_eq!(draft.points[3].sigma_h_mm, None);
    assert_eq!(draft.points[3].known, None);

    assert_eq!(draft.runs.len(), 2);
    let run = &draft.runs[0];
    assert_eq!(run.points, ["P1", "P2", "P3"]);
    assert_eq!((run.run.as_str(), run.service), ("E1", Service::ElectricLv));
    assert_eq!(run.section.outside_mm.as_ref().unwrap().as_str(), "40");
    let structure = "board MSB".to_owned();
    assert_eq!(run.ends, [RunEnd::Enters { structure }, RunEnd::Capped]);
    assert_eq!(run.import_id, Some(options().import.import_id));
    assert_eq!(
        draft.runs[1].ends,
        [RunEnd::NotStated, RunEnd::Joins { run: "S9".into() }]
    );
}

#[test]
fn a_file_without_runs_makes_points_only() {
    let draft = draft(
        "point,easting,northing,level,touched\nA,432100,5811000,12,centre\n",
        &options(),
    );
    assert_eq!((draft.points.len(), draft.runs.len()), (1, 0));
}

#[test]
fn byte_order_mark_crlf_semicolons_and_decimal_commas_are_read() {
    let text = "\u{feff}point;easting;northing;level;touched\r\n\r\nA;432100,10;5811000,00;-0,500;centre\r\n;;;;\r\n";
    let reading = points(text);
    let draft = reading.draft.unwrap();
    assert_eq!(draft.points[0].easting_m.as_str(), "432100.10");
    assert_eq!(draft.points[0].level_m.as_str(), "-0.500");
    // The blank line is a row of the sheet and no row of the table.
    assert_eq!((draft.points[0].row, reading.rows), (Some(3), 1));
    let tabs = "point\teasting\tnorthing\tlevel\ttouched\nA\t432100,10\t5811000\t1\tcentre";
    assert!(points(tabs).draft.is_some());
}

#[test]
fn rows_are_numbered_as_a_sheet_numbers_them() {
    let text = "point,easting,northing,level,touched,note\n\"A\nB\",432100,5811000,12,centre,\"two\r\nlines\"\n\nC,432101,5811000,12,centre,\n";
    let draft = draft(text, &options());
    assert_eq!(draft.points[0].point, "A\nB");
    assert_eq!(draft.points[0].note.as_deref(), Some("two\r\nlines"));
    assert_eq!(
        draft.points.iter().map(|p| p.row.unwrap()).collect::<Vec<_>>(),
        [2, 4]
    );
}

#[test]
fn strange_text_stays_text() {
    let text = "point,easting,northing,level,touched,note\n=cmd|' /C calc'!A0,432100,5811000,12,centre,<b>bold</b>\n\"say \"\"hi\"\"\",432101,5811000,12,centre,\"a,b\"\n";
    let draft = draft(text, &options());
    assert_eq!(draft.points[0].point, "=cmd|' /C calc'!A0");
    assert_eq!(draft.points[0].note.as_deref(), Some("<b>bold</b>"));
    assert_eq!(draft.points[1].point, "say \"hi\"");
}

#[test]
fn feet_are_brought_to_metres_and_the_reading_is_kept() {
    // 1 ft = 0.3048 m exactly (definition of the international foot).
    let text = "point,easting_ft,northing_ft,level_ft,touched,outside_in,run,service\n\
                A,1417650.92,19064960.63,40.00,centre,4,R,water\nB,1417651.92,19064960.63,40.00,centre,,R,\n";
    let draft = draft(text, &options());
    assert_eq!(draft.points[0].easting_m.as_str(), "432100.000416");
    assert_eq!(draft.points[0].level_m.as_str(), "12.192000");
    let note = draft.points[0].note.as_deref().unwrap();
    assert_eq!(
        note,
        "easting_ft=1417650.92; northing_ft=19064960.63; level_ft=40.00; outside_in=4"
    );
    assert_eq!(
        draft.runs[0].section.outside_mm.as_ref().unwrap().as_str(),
        "101.6"
    );
}

#[test]
fn a_stated_unit_is_that_of_columns_without_a_suffix() {
    let mut options = options();
    options.unit = Some(LengthUnit::UsSurveyFoot);
    let text = "point,easting,northing,level_m,touched\nA,1417648.08,19064922.50,12.000,centre\n";
    let draft = draft(text, &options);
    // 1 m = 3937/1200 US survey feet: 1417648.08 ft is 432 100 m to the millimetre.
    assert!(
        (draft.points[0].easting_m.to_f64() - 432_100.0).abs() < 0.002,
        "{}",
        draft.points[0].easting_m
    );
    assert_eq!(draft.points[0].level_m.as_str(), "12.000");
}

#[test]
fn what_a_person_states_holds_where_a_row_is_silent() {
    let mut options = options();
    options.stated.touched = Some(Touched::OutsideTop);
    options.stated.run = Some("R1".into());
    options.stated.service = Some(Service::Gas);
    options.stated.known = Some(Known::Seen);
    options.stated.sigma_h_mm = Some("10".parse().unwrap());
    options.prefix = Some("day2-".into());
    let text = "point,easting,northing,level,touched,known,sigma_h_mm,end\n\
                A,432100,5811000,12,,,,\nB,432101,5811000,12,centre,traced,30,joins R1\n";
    let draft = draft(text, &options);
    assert_eq!(
        (draft.points[0].touched, draft.points[1].touched),
        (Touched::OutsideTop, Touched::Centre)
    );
    assert_eq!(
        (draft.points[0].known, draft.points[1].known),
        (Some(Known::Seen), Some(Known::Traced))
    );
    assert_eq!(draft.points[1].sigma_h_mm.as_ref().unwrap().as_str(), "30");
    assert_eq!(draft.runs[0].points, ["day2-A", "day2-B"]);
    assert_eq!(
        (draft.runs[0].run.as_str(), draft.runs[0].service),
        ("day2-R1", Service::Gas)
    );
    assert_eq!(
        draft.runs[0].ends[1],
        RunEnd::Joins {
            run: "day2-R1".into()
        }
    );
}

#[test]
fn one_shot_may_belong_to_two_runs() {
    let text = "point,easting,northing,level,touched,run,service\n\
                A,432100,5811000,12,centre,R1,water\nT,432101,5811000,12,centre,R1,water\n\
                T,432101,5811000,12,centre,R2,water\nB,432101,5811005,12,centre,R2,water\n";
    let draft = draft(text, &options());
    assert_eq!(draft.points.len(), 3);
    assert_eq!(draft.runs[1].points, ["T", "B"]);
}

#[test]
fn names_of_people_are_not_copied() {
    let reading = points("point,easting,northing,level,touched,by\nA,432100,5811000,12,centre,Jo Doe\n");
    let left_out = finding(&reading.findings, "names-left-out");
    assert_eq!(left_out.severity, Severity::Note);
    assert_eq!(reading.draft.unwrap().points[0].note, None);
}

#[test]
fn a_headerless_file_is_shown_back_and_read_once_its_order_is_confirmed() {
    let text = "P1,5811000.50,432100.12,12.34,KERB\nP2,5811001.50,432101.12,12.30,KERB\n";
    let reading = points(text);
    assert!(reading.draft.is_none() && reading.order_needed);
    let proposed = reading.proposed_order.clone().unwrap();
    assert_eq!(proposed, ["point", "northing", "easting", "level", "-"]);
    assert_eq!(reading.columns[1].header, "column 2");
    assert_eq!(reading.columns[1].read_as.as_deref(), Some("northing"));
    assert_eq!(reading.columns[1].samples, ["5811000.50", "5811001.50"]);
    assert_eq!(reading.columns[4].read_as, None);

    let mut options = options();
    options.order = Some(proposed);
    options.stated.touched = Some(Touched::OutsideTop);
    let draft = draft(text, &options);
    assert_eq!(draft.points[0].easting_m.as_str(), "432100.12");
    assert_eq!(
        (draft.points[0].row, draft.points[0].note.as_deref()),
        (Some(1), None)
    );
}

#[test]
fn two_orders_that_both_fit_are_never_chosen_between() {
    let mut options = options();
    options.frame.near_easting_m = 1000.0;
    options.frame.near_northing_m = 1000.0;
    let reading = read_points(
        b"P1,1010.0,1020.0,12.0\nP2,1011.0,1021.0,12.0\n",
        &options,
        &mut |_| {},
    );
    assert!(reading.draft.is_none() && reading.order_needed);
    assert_eq!(reading.proposed_order, None);
    assert!(reading.columns.iter().all(|column| column.read_as.is_none()));
    let says = &finding(&reading.findings, "order-needed").says;
    assert!(
        says.contains("point,easting,northing,level or point,northing,easting,level"),
        "{says}"
    );
}

#[test]
fn findings_are_sorted_and_what_does_not_fit_is_counted() {
    let mut text = "point,easting,northing,level,touched,remark\n".to_owned();
    for row in 0..10_000 {
        text += &format!("P{row},{}.5,5811000,12,crown,\n", 432_000 + row % 200);
    }
    let reading = points(text);
    assert!(reading.draft.is_none());
    assert_eq!(reading.findings.len(), 200);
    assert!(
        reading
            .findings
            .iter()
            .all(|finding| finding.severity == Severity::Refusal)
    );
    let rows: Vec<_> = reading
        .findings
        .iter()
        .map(|finding| finding.row.unwrap())
        .collect();
    assert_eq!(rows, (2..202).collect::<Vec<_>>());
    // 10,000 unknown words, one unknown column, and 9,800 places used before.
    assert_eq!(reading.findings_left_off, 10_000 + 1 + 9_800 - 200);
    // Every one of the words has to be mended, not only those that are shown.
    assert_eq!(reading.refusals, 10_000);
    let view = reading.to_view("points", &options().import);
    assert_eq!(
        view.says,
        "refused: 10000 to mend before anything can be recorded"
    );
}

#[test]
fn a_refused_file_can_still_be_drawn() {
    let reading =
        points("point,easting,northing,level,touched,run\nA,432100,5811000,12,,R\nB,432101,5811002,11,,R\n");
    assert!(reading.is_refused());
    assert_eq!(reading.preview.points.len(), 2);
    assert_eq!(reading.preview.points[0].touched, None);
    assert_eq!(reading.preview.runs[0].service, None);
    assert_eq!(reading.preview.max.unwrap()[1].text(), "5811002.000");
    let view = reading.to_view("points", &options().import);
    assert!(!view.accepted && view.says.starts_with("refused"));
}

#[test]
fn progress_ends_at_the_last_byte() {
    let mut text = "point,easting,northing,level,touched\n".to_owned();
    for row in 0..5_000 {
        text += &format!(
            "P{row},{}.{:02},5811000.{:03},12,centre\n",
            432_000 + row / 100,
            row % 100,
            row % 1000
        );
    }
    let mut told = Vec::new();
    read_points(text.as_bytes(), &options(), &mut |bytes| told.push(bytes));
    assert_eq!(told.last(), Some(&(text.len() as u64)));
    assert!(told.len() >= 3 && told.is_sorted());
}

/// As with an import: a date alone is its beginning in UTC, and a time stays as it was written.
#[test]
fn a_row_may_give_a_date_alone() {
    let file = "point,easting,northing,level,touched,observed_at\n\
                A,432100,5811000,12,centre,2031-05-03\nB,432101,5811000,12,centre,2031-05-03T07:30:00+02:00\n";
    let draft = points(file).draft.unwrap();
    let times: Vec<_> = draft.points.iter().map(|p| p.observed_at.as_deref()).collect();
    assert_eq!(
        times,
        [Some("2031-05-03T00:00:00Z"), Some("2031-05-03T07:30:00+02:00")]
    );
}

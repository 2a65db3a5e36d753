//! The command line as a program sees it: exit codes, where words go, and the same answers as over HTTP.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

mod common;

use common::Desk;
use coverbook::acts::{Register, system_clock};
use coverbook::http::{App, Hosts, app};
use serde_json::Value;
use std::sync::Arc;
use store::{Access, SqliteStore};
use tower::ServiceExt;

const TRENCH: &str = "--area=431044.5,5093029 431050,5093029 431050,5093033 431044.5,5093033";
const SURFACE: &str = "--surface=Finished surface";

#[test]
fn usage_is_64_and_help_is_done() {
    let desk = Desk::empty();
    desk.exits(64, &["dig", "--nonsense"]);
    desk.exits(64, &["conjure"]);
    desk.exits(64, &["import"]);
    let help = desk.exits(0, &["--help"]);
    assert!(String::from_utf8_lossy(&help.stdout).contains("verify"));
}

#[test]
fn a_refusal_is_2_and_says_so_on_stderr_alone() {
    let desk = Desk::with_demo();
    for refused in [
        vec!["dig", TRENCH, "--depth=0.9"],
        vec!["dig", "--area=1,2 3", "--depth=0.9"],
        vec!["site", "show", "--site=nowhere"],
        vec!["note", "by nobody"],
        vec!["export", "--to=docx", "-o=x"],
        vec!["run", "show", "none"],
        vec!["verify", "--head=12"],
        vec!["--register=none.db", "site", "list"],
    ] {
        let output = desk.exits(2, &refused);
        assert!(output.stdout.is_empty(), "{refused:?}");
        assert!(
            String::from_utf8_lossy(&output.stderr).starts_with("coverbook: "),
            "{refused:?}"
        );
    }
}

#[test]
fn a_check_that_does_not_pass_is_1() {
    let desk = Desk::with_demo();
    let output = desk.exits(1, &["cover", SURFACE]);
    assert!(String::from_utf8_lossy(&output.stdout).starts_with("Of 30 runs"));
    desk.exits(0, &["cover", SURFACE, "--run=G1"]);
    desk.exits(0, &["verify"]);
    let other = format!("--head=3:{}", "a".repeat(64));
    desk.exits(1, &["verify", &other]);
}

#[tokio::test]
async fn a_dig_is_answered_alike_on_the_command_line_and_over_http() {
    let desk = Desk::with_demo();
    let mut by_command = desk.json(&["dig", TRENCH, "--depth=0.9", SURFACE]);
    let store = SqliteStore::open(&desk.register(), Access::Serve).unwrap();
    let register = Arc::new(Register::new(Arc::new(store), system_clock()));
    let site = register.sites().unwrap()[0].id.clone();
    // Folded whole, as a server has it: the command line above read only frames and boxes.
    register.warm().unwrap();
    let (_, stopping) = tokio::sync::watch::channel(false);
    let hosts = Arc::new(Hosts::of(([127, 0, 0, 1], 8017).into(), &[]));
    let question = serde_json::json!({
        "area": [[431044.5, 5093029.0], [431050.0, 5093029.0], [431050.0, 5093033.0], [431044.5, 5093033.0]],
        "depth_m": 0.9, "surface": "Finished surface"
    });
    let request = axum::http::Request::post(format!("/api/sites/{site}/dig"))
        .header("host", "localhost:8017")
        .header("content-type", "application/json")
        .body(axum::body::Body::from(question.to_string()))
        .unwrap();
    let response = app(App {
        register,
        hosts,
        limits: coverbook::http::Limits::default(),
        stopping,
    })
    .oneshot(request)
    .await
    .unwrap();
    let bytes = axum::body::to_bytes(response.into_body(), usize::MAX)
        .await
        .unwrap();
    let mut by_http: Value = serde_json::from_slice(&bytes).unwrap();
    // Only the moment of asking may differ.
    by_command["as_at"].take();
    by_http["as_at"].take();
    assert_eq!(by_command, by_http);
    assert!(!by_http["runs"].as_array().unwrap().is_empty());
}

#[test]
fn a_site_is_opened_recorded_checked_and_dug_from_the_command_line() {
    let desk = Desk::empty();
    let by = "--by=Tess Ting";
    desk.exits(
        0,
        &[
            "site",
            "open",
            "--name=Yard",
            "--level-datum=yard datum",
            "--bench-mark=bolt",
            "--near=1000,2000,10",
            by,
        ],
    );
    desk.file(
        "run.csv",
        "point,easting,northing,level,touched,run,service,outside_mm,sigma_h_mm,sigma_v_mm,known,observed_at\n\
         A1,1000.000,2000.000,9.400,outside-top,A,gas,63,5,2,seen,2031-05-03T07:00:00Z\n\
         A2,1010.000,2000.000,9.400,outside-top,A,gas,63,5,2,seen,2031-05-03T07:01:00Z\n",
    );
    desk.exits(0, &["import", "run.csv", "--as=points", "--dry-run"]);
    desk.exits(0, &["import", "run.csv", "--as=points", by]);
    desk.exits(
        0,
        &[
            "surface",
            "level",
            "10.000",
            "--name=Ground",
            "--kind=finished-built",
            "--observed-at=2031-06-01",
            "--sigma-v-mm=2",
            by,
        ],
    );
    // No rule set is adopted, so nothing is proved.
    desk.exits(1, &["cover"]);
    desk.file(
        "own.toml",
        "format = \"coverbook.rules/1\"\nid = \"own\"\ntitle = \"Own\"\njurisdiction = \"here\"\n\
         [[cover]]\nid = \"gas\"\nservices = [\"gas\"]\nwhere = \"anywhere\"\nminimum_m = 0.5\n\
         source = \"site decision\"\nedition = \"1\"\nclause = \"1\"\nstatus = \"seen\"\n",
    );
    desk.exits(0, &["rules", "adopt", "own.toml", by]);
    let cover = desk.json(&["cover"]);
    // 10.000 - 9.400, vertical and level.
    assert_eq!(cover["runs"][0]["least_cover_m"], 0.6);
    let dig = desk.json(&[
        "dig",
        "--area=1004,1999 1006,1999 1006,2001 1004,2001",
        "--depth=0.3",
        "--over-dig=0",
        "--set-out=0",
    ]);
    // The floor at 9.700 leaves 0.300 m over the outside top; the solver proves it to 0.1 mm from below.
    let gap = dig["runs"][0]["vertical_gap_m"].as_f64().unwrap();
    assert!((0.299..=0.300).contains(&gap), "{gap}");
    let trench = desk.json(&["dig", "--area=1005,1990 1005,2010", "--width=0.6", "--floor=9.0"]);
    assert_eq!(trench["runs"][0]["gap_m"], 0.0);
    desk.exits(
        0,
        &[
            "run",
            "retire",
            "A",
            "--how=abandoned",
            "--reason=capped at the main",
            by,
        ],
    );
    let dig = desk.json(&[
        "dig",
        "--area=1004,1999 1006,1999 1006,2001 1004,2001",
        "--floor=9.7",
    ]);
    assert_eq!(
        dig["runs"][0]["status"], "abandoned",
        "an abandoned run stays in every answer"
    );
    desk.exits(
        0,
        &["run", "amend", "A", "--outside-mm=90", "--reason=measured", by],
    );
    assert_eq!(desk.json(&["run", "show", "A"])["outside_m"], 0.09);
    desk.exits(0, &["verify"]);
}

#[test]
fn a_refused_import_changes_nothing() {
    let desk = Desk::with_demo();
    let before = desk.json(&["site", "list"])[0]["head"].clone();
    desk.file(
        "bad.csv",
        "point,easting,northing,level,touched\nX1,431040,5093010,3.2,top\n",
    );
    let output = desk.exits(2, &["import", "bad.csv", "--as=points", "--by=Tess"]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("bad.csv, row 2, column touched"), "{said}");
    assert_eq!(desk.json(&["site", "list"])[0]["head"], before);
}

#[test]
fn a_backup_restores_to_the_same_head() {
    let desk = Desk::with_demo();
    let before = desk.json(&["site", "list"]);
    desk.exits(0, &["backup", "b.db"]);
    desk.exits(2, &["backup", "b.db"]);
    desk.exits(0, &["--register=again.db", "restore", "b.db"]);
    assert_eq!(desk.json(&["--register=again.db", "site", "list"]), before);
    desk.exits(0, &["verify", "again.db"]);
    desk.exits(2, &["--register=again.db", "restore", "b.db"]);
}

#[test]
fn a_sheet_is_written_and_entered_when_somebody_issues_it() {
    let desk = Desk::with_demo();
    desk.exits(
        0,
        &["sheet", "--kind=dig", TRENCH, "--depth=0.9", SURFACE, "-o=s.pdf"],
    );
    assert!(
        std::fs::read(desk.folder.path().join("s.pdf"))
            .unwrap()
            .starts_with(b"%PDF-")
    );
    let before = desk.json(&["site", "list"])[0]["head"]["n"].as_u64().unwrap();
    desk.exits(
        0,
        &["sheet", TRENCH, "--depth=0.9", SURFACE, "-o=t.pdf", "--by=Tess"],
    );
    let book = desk.json(&["book", "--limit=1"]);
    assert_eq!(
        (
            book["entries"][0]["n"].as_u64(),
            book["entries"][0]["kind"].as_str()
        ),
        (Some(before + 1), Some("SheetIssued"))
    );
    desk.exits(0, &["verify"]);
}

#[test]
fn two_programs_write_the_same_book_in_turn() {
    let desk = Desk::with_demo();
    let store = SqliteStore::open(&desk.register(), Access::Serve).unwrap();
    let server = Register::new(Arc::new(store), system_clock());
    let site = server.sites().unwrap()[0].id.parse().unwrap();
    let n = server.site(site).unwrap().n;
    desk.exits(0, &["note", "from the command line", "--by=Tess"]);
    let author = coverbook::acts::Author {
        by: "Tess".into(),
        device: "test".into(),
    };
    let receipt = server.note(site, "from the server", None, &author, None).unwrap();
    assert_eq!(receipt.entries, [n + 2]);
    let book = desk.json(&["book", "--limit=2"]);
    assert_eq!(book["entries"][0]["by"], book["entries"][1]["by"]);
    assert_eq!(
        book["entries"][0]["body"]["by"], book["entries"][1]["body"]["by"],
        "one person, one id"
    );
    desk.exits(0, &["verify"]);
}

/// What the program and a server that follows the same register answer to one dig, without their clocks.
fn both_answers(desk: &Desk, server: &Arc<Register>, site: uuid::Uuid) -> [Value; 2] {
    let asked = "--area=431034,5093002 431035,5093002 431035,5093027 431034,5093027";
    let mut alone = desk.json(&["dig", asked, "--depth=0.9", SURFACE]);
    let question = register::dig::DigQuestion {
        area: Some(vec![
            [431_034.0, 5_093_002.0],
            [431_035.0, 5_093_002.0],
            [431_035.0, 5_093_027.0],
            [431_034.0, 5_093_027.0],
        ]),
        depth_m: Some(0.9),
        surface: Some("Finished surface".into()),
        ..register::dig::DigQuestion::default()
    };
    let mut served = serde_json::to_value(server.dig(site, &question).unwrap()).unwrap();
    for answer in [&mut alone, &mut served] {
        answer["as_at"] = Value::Null;
    }
    [alone, served]
}

#[test]
fn a_dig_alone_and_a_dig_of_a_server_agree_through_every_change_of_a_run() {
    let desk = Desk::with_demo();
    let store = Arc::new(SqliteStore::open(&desk.register(), Access::Read).unwrap());
    let server = Arc::new(Register::new(store, system_clock()));
    server.warm().unwrap();
    let site = server.find_site("Gull Quay workshop").unwrap();
    let by = "--by=Tess Ting";
    let mut answers = Vec::new();
    for change in [
        &["note", "nothing changes", by][..],
        &[
            "run",
            "amend",
            "D2",
            "--outside-mm=200",
            "--reason=measured again",
            by,
        ],
        // Having seen an entry long past, this one is held beside the other.
        &[
            "run",
            "amend",
            "D2",
            "--outside-mm=250",
            "--saw=1",
            "--reason=stale",
            by,
        ],
        &[
            "run",
            "retire",
            "HV1",
            "--how=removed",
            "--reason=somebody said so",
            by,
        ],
        &[
            "run",
            "retire",
            "S2",
            "--how=removed",
            "--removal-seen",
            "--reason=dug out today",
            by,
        ],
        &["run", "retire", "C1", "--how=abandoned", "--reason=cut off", by],
        &[
            "run",
            "lay",
            "X9",
            "--points=D2-3,D2-4,D2-5",
            "--service=gas",
            "--outside-mm=63",
            by,
        ],
        // None of that number: it stands for the newest entry, which laid the run.
        &["withdraw", "NEWEST", "--reason=another trench", by],
    ] {
        let newest = desk.json(&["book", "--limit=1"])["entries"][0]["n"].to_string();
        let change: Vec<&str> = change
            .iter()
            .map(|word| if *word == "NEWEST" { newest.as_str() } else { word })
            .collect();
        let change = change.as_slice();
        desk.exits(0, change);
        let [alone, served] = both_answers(&desk, &server, site);
        assert_eq!(alone, served, "after {change:?}");
        answers.push(alone["runs"].clone());
    }
    let names = |runs: &Value| -> Vec<String> {
        runs.as_array()
            .unwrap()
            .iter()
            .map(|r| r["run"].as_str().unwrap().to_owned())
            .collect()
    };
    assert!(
        names(&answers[2])
            .iter()
            .any(|name| name.starts_with("D2 (held "))
    );
    assert!(names(&answers[3]).contains(&"HV1".into()), "nobody saw it go");
    assert!(!names(&answers[4]).contains(&"S2".into()), "it was seen to go");
    assert!(names(&answers[6]).contains(&"X9".into()));
    assert!(!names(&answers[7]).contains(&"X9".into()), "it was withdrawn");
    // A server that packs its runs now, from the journal alone, says the same.
    let store = Arc::new(SqliteStore::open(&desk.register(), Access::Read).unwrap());
    let fresh = Arc::new(Register::new(store, system_clock()));
    fresh.warm().unwrap();
    let [alone, served] = both_answers(&desk, &fresh, site);
    assert_eq!(alone, served);
}

#[test]
fn rows_of_an_older_program_are_never_answered_from_and_can_be_made_again() {
    let desk = Desk::with_demo();
    let dig = [
        "dig",
        "--area=431034,5093002 431035,5093002 431035,5093027 431034,5093027",
        "--depth=0.9",
        SURFACE,
    ];
    let before = desk.json(&dig);
    let file = rusqlite::Connection::open(desk.register()).unwrap();
    let old = "update run set bytes = cast(replace(cast(bytes as text), ?1, '\"record_version\":0') as blob)";
    let ours = format!("\"record_version\":{}", register::run_record::RECORD_VERSION);
    assert!(file.execute(old, [ours]).unwrap() > 20);
    drop(file);
    let refused = desk.exits(70, &dig);
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(
        said.contains("is of version 0") && said.contains("verify --rebuild"),
        "{said}"
    );
    desk.exits(1, &["verify"]);
    desk.exits(0, &["verify", "--rebuild"]);
    let after = desk.json(&dig);
    assert_eq!(before["runs"], after["runs"]);
}

#[test]
fn a_refused_entry_leaves_no_name_behind() {
    let desk = Desk::with_demo();
    let count = || -> i64 {
        let file = rusqlite::Connection::open(desk.register()).unwrap();
        file.query_row(
            "select count(*) from person where name = 'Nobody Else'",
            [],
            |row| row.get(0),
        )
        .unwrap()
    };
    desk.exits(
        2,
        &[
            "run",
            "retire",
            "no such run",
            "--how=removed",
            "--reason=x",
            "--by=Nobody Else",
        ],
    );
    assert_eq!(count(), 0);
    desk.exits(0, &["note", "here I am", "--by=Nobody Else"]);
    assert_eq!(count(), 1);
}

const OBSERVATIONS: &str = include_str!("../../../demo-data/observations.csv");
const CONTROL: &str = include_str!("../../../demo-data/control.csv");

#[test]
fn a_set_up_is_adjusted_alone_and_as_the_site_solves_it() {
    let desk = Desk::with_demo();
    desk.file("o.csv", OBSERVATIONS);
    desk.file("c.csv", CONTROL);
    let store = SqliteStore::open(&desk.register(), Access::Read).unwrap();
    let site = Register::new(Arc::new(store), system_clock());
    let site = site.site(site.find_site("Gull Quay workshop").unwrap()).unwrap();
    let scale = format!("--grid-scale={}", site.grid_scale());
    let alone = desk.json(&[
        "station",
        "o.csv",
        "--control=c.csv",
        "--angles=dms",
        "--instrument=1,1.5,1,1",
        "--station=ST1",
        &scale,
    ]);
    let recorded = serde_json::to_value(&site.station_views()[0]).unwrap();
    for field in [
        "at", "level_m", "u95_h_m", "u95_v_m", "fits", "check", "readings", "checks", "control",
    ] {
        assert_eq!(alone[field], recorded[field], "{field}");
    }
    // Where the invented instrument stood when the file was made: 431047.318, 5093034.852, axis at 5.412.
    for (is, was) in [
        (&alone["at"][0], 431_047.318),
        (&alone["at"][1], 5_093_034.852),
        (&alone["level_m"], 5.412),
    ] {
        assert!((is.as_f64().unwrap() - was).abs() < 0.003, "{is} {was}");
    }
}

#[test]
fn a_wrong_prism_constant_at_one_point_is_found_and_named() {
    let desk = Desk::empty();
    desk.file("c.csv", CONTROL);
    // The prism at SK3 was one of 0 mm and booked as -30: its distance is 30 mm short. Tight control shows it.
    let exact = CONTROL
        .replace(",2,1,", ",0.5,0.5,")
        .replace(",2,1.5,", ",0.5,0.5,")
        .replace(",2.5,1.5,", ",0.5,0.5,");
    desk.file("c.csv", &exact);
    desk.file("o.csv", &OBSERVATIONS.replace("28.8673", "28.8373"));
    let asked = [
        "station",
        "o.csv",
        "--control=c.csv",
        "--angles=dms",
        "--instrument=1,1.5,1,1",
        "--station=ST1",
        "--grid-scale=0.999657",
    ];
    let refused = desk.exits(1, &[&asked[..], &["--json"]].concat());
    let view: Value = serde_json::from_slice(&refused.stdout).unwrap();
    assert_eq!(view["fits"], false);
    let cause = view["causes"][0].as_str().unwrap();
    assert!(cause.contains("SK3") && cause.contains("prism"), "{cause}");
    assert!(
        cause.contains("30 mm") || cause.contains("29 mm") || cause.contains("31 mm"),
        "{cause}"
    );
}

#[test]
fn the_air_is_reckoned_with_once_and_only_when_all_of_it_is_said() {
    let desk = Desk::empty();
    desk.file("c.csv", CONTROL);
    desk.file("o.csv", OBSERVATIONS);
    let ask = |more: &[&str]| {
        let asked = [
            "station",
            "o.csv",
            "--control=c.csv",
            "--angles=dms",
            "--instrument=1,1.5,1,1",
            "--station=ST1",
            "--grid-scale=0.999657",
        ];
        desk.run(&[&asked[..], more, &["--json"]].concat())
    };
    let view = |output: &std::process::Output| -> Value { serde_json::from_slice(&output.stdout).unwrap() };
    let ppm = |air: &str| view(&ask(&[air]))["air_ppm"].as_f64().unwrap();
    // Air 10 C warmer: about 1 ppm a degree (common practice). 6 ppm set in the instrument are taken off again.
    let mild = ppm("--air=12,1013.25,60,0.658,281.8");
    let warm = ppm("--air=22,1013.25,60,0.658,281.8");
    let set = ppm("--air=22,1013.25,60,0.658,281.8,6");
    assert!((warm - mild - 10.0).abs() < 1.0, "{mild}, {warm}");
    assert!((warm - set - 6.0).abs() < 0.11, "{warm}, {set}");
    let entered = view(&ask(&["--air-in-instrument=22 C, 1013 hPa"]));
    assert_eq!(entered["air_ppm"].as_f64(), Some(0.0));
    assert!(entered["air_says"].as_str().unwrap().contains("22 C, 1013 hPa"));
    let short = ask(&["--air=22,1013"]);
    assert_eq!(short.status.code(), Some(2));
    let both = ask(&["--air=22,1013,60,0.658,281.8", "--air-in-instrument=22 C"]);
    assert_eq!(both.status.code(), Some(64));
}

#[test]
fn a_set_up_is_refused_with_row_column_and_mend() {
    let desk = Desk::with_demo();
    let refuses = |change: (&str, &str), options: &[&str], expected: &str| {
        assert!(OBSERVATIONS.contains(change.0));
        desk.file(
            "o.csv",
            &OBSERVATIONS.replacen(change.0, change.1, 1).replace("W2", "W3"),
        );
        let by = ["import", "o.csv", "--as=observations", "--by=Tess Ting"];
        let output = desk.exits(2, &[&by[..], options].concat());
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(said.contains(expected), "{said}");
    };
    let dms = ["--angles=dms", "--station=ST2", "--instrument=1,1.5,1,1"];
    refuses(
        ("SK1", "SK1"),
        &["--station=ST2"],
        "nothing says how the angles were read",
    );
    refuses(
        ("SK1", "SK1"),
        &["--angles=gon", "--station=ST2"],
        "row 2, column direction",
    );
    refuses(
        ("SK1,control,180-00-35.0", "SK1,control,180-75-35.0"),
        &dms,
        "minutes of 60 or more",
    );
    refuses(
        ("1.500,-30,,", "1.500,,,"),
        &dms,
        "column prism_mm: the prism is missing; nothing stands in for it",
    );
    refuses(
        ("SK1,control", "SK1,contrl"),
        &dms,
        "is not one of control, check, shot",
    );
    refuses(
        ("SK1,control", "SK9,control"),
        &dms,
        "SK9 is not a control point; import the control list first",
    );
    refuses(
        ("SK1", "SK1"),
        &["--angles=dms", "--station=ST1", "--instrument=1,1.5,1,1"],
        "it was set by entry",
    );
    refuses(
        ("outside-top,W2,1", ",W2,1"),
        &dms,
        "it is not said what was touched",
    );
    // The check 40 mm off: used only with a reason.
    refuses(
        (
            "SK4,check,121-54-28.9,89-51-48.2,53.1699",
            "SK4,check,121-54-28.9,89-51-48.2,53.2099",
        ),
        &dms,
        "its check failed",
    );
}

#[test]
fn a_level_book_is_reduced_alone_and_does_not_close_when_a_reading_is_wrong() {
    let desk = Desk::empty();
    let book = include_str!("../../../demo-data/levels.csv");
    desk.file("l.csv", book);
    let options = [
        "levels",
        "l.csv",
        "--allowable-k-mm=3",
        "--by-setups",
        "--spread=by-setups",
        "--setup-sigma-mm=0.7",
    ];
    let view = desk.json(&options);
    assert_eq!(
        (view["closes"].as_bool(), view["checks_hold"].as_bool()),
        (Some(true), Some(true))
    );
    // By hand: 3.786 + 1.642 - 2.027 = 3.401; one of two set-ups takes half of the misclosure of -1.0 mm.
    assert_eq!(view["rows"][1]["level"], "3.401");
    desk.file("l.csv", &book.replace("1.584", "1.684"));
    desk.exits(1, &options);
    desk.file("l.csv", &book.replace("2.158", "2,158,"));
    desk.exits(2, &options);
}

#[test]
fn shots_are_added_to_a_station_that_stands_and_a_bad_check_makes_the_earlier_ones_suspect() {
    let desk = Desk::with_demo();
    let mut rows: Vec<&str> = OBSERVATIONS.lines().collect();
    let head = rows.remove(0);
    let shot = rows[4]
        .replace("W2", "W3")
        .replace("enters workshop wall", "capped");
    let check = rows[8].replace("53.1693", "53.2093");
    let other = rows[5].replace("W2", "W3").replace(",seen,,", ",seen,capped,");
    desk.file("more.csv", &format!("{head}\n{shot}\n{other}\n{check}\n"));
    let ask = [
        "import",
        "more.csv",
        "--as=observations",
        "--angles=dms",
        "--station=ST1",
        "--by=Tess Ting",
    ];
    desk.exits(0, &ask);
    let card = desk.json(&["run", "show", "W3", SURFACE]);
    let doubts = card["vertices"][0]["doubts"].to_string();
    assert!(
        doubts.contains("ST1 failed a check, and this was shot after"),
        "{doubts}"
    );
    // The shots of the day before were followed by a good check, and stand.
    let earlier = desk.json(&["run", "show", "W2", SURFACE]);
    assert!(
        !earlier["vertices"][0]["doubts"]
            .to_string()
            .contains("failed a check")
    );
    desk.exits(0, &["verify"]);
}

#[test]
fn every_label_that_is_taken_is_named_with_row_and_column() {
    let desk = Desk::with_demo();
    desk.file("again.csv", include_str!("../../../demo-data/drains.csv"));
    let output = desk.exits(2, &["import", "again.csv", "--as=points", "--by=Tess Ting"]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        said.contains("again.csv, row 2, column point: point S1-1: the label is taken by a point of entry"),
        "{said}"
    );
    assert!(said.contains("again.csv, row 9, column point"), "{said}");
}

/// More is wrong than is shown: what has to be mended is counted whole.
#[test]
fn what_is_refused_is_counted_whole_though_not_all_of_it_is_shown() {
    let desk = Desk::with_demo();
    let mut text = "point,easting,northing,level,touched\n".to_owned();
    for row in 0..300 {
        text += &format!(
            "Q{row},4310{}.{row:03},5093028.498,3.050,outside-top\n",
            20 + row % 50
        );
    }
    desk.file("many.csv", &text);
    desk.exits(0, &["import", "many.csv", "--as=points", "--by=Tess Ting"]);
    let output = desk.exits(2, &["import", "many.csv", "--as=points", "--by=Tess Ting"]);
    let said = [output.stdout, output.stderr].concat();
    let said = String::from_utf8_lossy(&said);
    assert!(said.contains("refused: 300 to mend"), "{said}");
    // Two hundred are shown; a hundred refusals and the doubt that no row says when are left.
    assert!(said.contains("and 101 more"), "{said}");
}

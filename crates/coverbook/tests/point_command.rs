//! `point`: a point by tape, satellite or detector on the command line.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

mod common;

use common::Desk;

const OFFSET: [&str; 6] = [
    "--line=SK1,SK2",
    "--chainage=50.535",
    "--offset=7.115",
    "--side=left",
    "--tape-sigma-mm=8",
    "--touched=outside-top",
];
const DEPTH: [&str; 3] = ["--depth=0.45", "--below=Finished surface", "--sigma-v-mm=5"];

fn out(output: &std::process::Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn err(output: &std::process::Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn a_taped_point_is_tried_recorded_and_shown() {
    let desk = Desk::with_demo();
    let with = |rest: &[&'static str]| [&["point", "measure", "T1"], &OFFSET[..], &DEPTH[..], rest].concat();
    let tried = desk.exits(0, &with(&["--dry-run"]));
    assert!(out(&tried).contains("not recorded"), "{}", out(&tried));
    desk.exits(2, &["point", "show", "T1"]);
    let recorded = desk.exits(0, &with(&["--by=Tess"]));
    assert!(
        out(&recorded).contains("7.115 m to the left; taped 0.45 m below Finished surface"),
        "{}",
        out(&recorded)
    );
    assert!(
        out(&recorded).contains("! how square the offset was set is not stated"),
        "{}",
        out(&recorded)
    );
    let shown = desk.exits(0, &["point", "show", "T1", "--json"]);
    let card: serde_json::Value = serde_json::from_slice(&shown.stdout).unwrap();
    assert_eq!(
        (card["point"].as_str(), card["format"].as_str()),
        (Some("T1"), Some("coverbook.point/1"))
    );
    desk.exits(0, &["verify"]);
}

#[test]
fn what_is_missing_is_asked_for_and_never_made_up() {
    let desk = Desk::with_demo();
    let says = |args: &[&'static str], phrase: &str| {
        let all = [&["point", "measure", "T1", "--by=Tess"], args].concat();
        let output = desk.exits(2, &all);
        assert!(err(&output).contains(phrase), "{}", err(&output));
    };
    says(&OFFSET, "nothing says its level");
    says(&[&OFFSET[..], &DEPTH[..2]].concat(), "nothing says --sigma-v-mm");
    says(
        &[&["--touched=centre"], &DEPTH[..]].concat(),
        "nothing says where the point is",
    );
    says(
        &[&OFFSET[..], &DEPTH[..], &["--level=3"]].concat(),
        "several ways (--level, --depth)",
    );
    says(
        &[&OFFSET[..4], &OFFSET[5..], &DEPTH[..]].concat(),
        "nothing says --tape-sigma-mm",
    );
    says(
        &[&OFFSET[..], &["--depth=0.45", "--below=Roof", "--sigma-v-mm=5"]].concat(),
        "no surface is named",
    );
    says(
        &[
            "--touched=centre",
            "--at=431047,5093031",
            "--sigma-h-mm=30",
            "--known=seen",
            "--depth=0.8",
            "--below=Finished surface",
            "--method=active",
            "--percent=5",
            "--constant-mm=25",
            "--across-mm=100",
            "--means=95",
        ],
        "traced and never seen",
    );
    desk.exits(2, &["point", "show", "T1"]);
}

#[test]
fn ties_a_satellite_position_and_a_detected_depth_are_recorded() {
    let desk = Desk::with_demo();
    // By Pythagoras, from SK1 (431003.912, 5093058.347) and SK3 (431067.731, 5093055.206) to (431047, 5093031).
    let ties = desk.exits(
        0,
        &[
            "point",
            "measure",
            "T1",
            "--by=Tess",
            "--touched=outside-top",
            "--tie=SK1=51.051",
            "--tie=SK3=31.881",
            "--side=right",
            "--tape-sigma-mm=10",
            "--level=3.2",
            "--sigma-v-mm=5",
        ],
    );
    assert!(
        out(&ties).contains("taped 51.051 m from SK1, 31.881 m from SK3, right of SK1 to SK3"),
        "{}",
        out(&ties)
    );
    let satellite = desk.exits(
        0,
        &[
            "point",
            "measure",
            "T2",
            "--by=Tess",
            "--touched=outside-top",
            "--at=431047.01,5093031.02",
            "--fix=fixed",
            "--horizontal-mm=14",
            "--vertical-mm=22",
            "--means=95",
            "--height=5.2",
            "--height-above=site-datum",
            "--antenna=2.0",
        ],
    );
    assert!(out(&satellite).contains("level 3.200 m"), "{}", out(&satellite));
    let detected = desk.exits(
        0,
        &[
            "point",
            "measure",
            "T3",
            "--by=Tess",
            "--touched=centre",
            "--at=431047,5093031",
            "--sigma-h-mm=30",
            "--depth=0.8",
            "--below=Finished surface",
            "--method=active",
            "--percent=5",
            "--constant-mm=25",
            "--across-mm=100",
            "--means=95",
        ],
    );
    assert!(out(&detected).contains("(95 %); traced"), "{}", out(&detected));
    desk.exits(0, &["verify"]);
}

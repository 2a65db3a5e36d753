//! `coverbook set-anew`: tried, then recorded; the old setting stays readable.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

use coverbook::acts::{Register, system_clock};
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};
use std::sync::Arc;
use store::{Access, SqliteStore};

fn run(register: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_coverbook"))
        .args(arguments)
        .env("COVERBOOK_REGISTER", register)
        .env_remove("COVERBOOK_BY")
        .output()
        .unwrap()
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn a_higher_target_lifts_the_station_first_on_trial_and_then_for_good() {
    let folder = tempfile::tempdir().unwrap();
    let register = folder.path().join("r.db");
    let store = SqliteStore::open_or_create(&register, Access::Append).unwrap();
    coverbook::demo::load(&Register::new(Arc::new(store), system_clock()), &mut |_| {}).unwrap();
    // Every target 50 mm higher than booked lifts the station as much (closed
    // form); the check is put right with the others.
    let heights: Vec<String> = ["SK1", "SK2", "SK3", "SK4"]
        .iter()
        .map(|point| format!("--target-height={point}={}", higher(&register, point)))
        .collect();
    let mut said = vec!["set-anew", "ST1", "--json"];
    said.extend(heights.iter().map(String::as_str));
    // demo-data/control.csv, eastings and 50 mm; what is blank stays as recorded.
    let east = [
        "SK1,431003.962",
        "SK2,431065.530,,",
        "SK3,431067.781",
        "SK4,431001.214,,",
    ];
    said.extend(east.iter().flat_map(|text| ["--control", text]));
    let tried = run(&register, &[said.as_slice(), &["--dry-run"]].concat());
    assert_eq!(
        tried.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&tried.stderr)
    );
    let view = json(&tried);
    assert_eq!(view["station_level_m"], 0.05, "{}", view["says"]);
    // Control carried 50 mm east carries everything measured from the station along (closed form).
    assert_eq!(view["station_plan_m"], 0.05, "{}", view["says"]);
    assert_eq!(view["largest_plan"]["plan_m"], 0.05, "{}", view["says"]);
    assert!(view["moved"].as_u64().unwrap() > 0, "{}", view["says"]);
    let book = |limit: &str| json(&run(&register, &["book", "--limit", limit, "--json"]));
    let n = book("1")["entries"][0]["n"].as_u64().unwrap();
    assert_ne!(
        book("1")["entries"][0]["kind"],
        "StationSet",
        "a trial was recorded"
    );

    let nobody = run(&register, &said);
    assert_eq!(nobody.status.code(), Some(2), "recorded without a name");
    let done = run(&register, &[said.as_slice(), &["--by", "Ada Quill"]].concat());
    assert_eq!(
        done.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    assert_eq!(json(&done)["after"], view["after"]);
    let newest = &book("1")["entries"][0];
    // The control put right and the station: two entries, written together.
    assert_eq!(newest["n"].as_u64(), Some(n + 2));
    assert!(
        newest["says"].as_str().unwrap().contains("Set again station ST1"),
        "{newest}"
    );

    let wrong = run(&register, &["set-anew", "ST1", "--prism", "SK9=0", "--dry-run"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&wrong.stderr).contains("SK9 was not sighted"));
    let gone = run(&register, &["set-anew", "ST7", "--dry-run"]);
    assert_ne!(gone.status.code(), Some(0));
}

/// The height of the target as the book has it, and 50 mm more.
fn higher(register: &Path, point: &str) -> String {
    let book = json(&run(register, &["book", "--limit", "200", "--json"]));
    let entries = book["entries"].as_array().unwrap();
    let set = entries.iter().find(|e| e["kind"] == "StationSet").unwrap();
    let sights = set["body"]["sights"].as_array().unwrap();
    let sight = sights.iter().find(|s| s["target"] == point).unwrap();
    let metres: f64 = sight["target_height_m"].as_str().unwrap().parse().unwrap();
    format!("{:.3}", metres + 0.05)
}

//! The same network through the program itself: files in, JSON out, rounded to the safe side.

use crate::{RULES, both};
use serde_json::Value;
use std::path::Path;
use std::process::Command;

/// Rounding down takes at most a millimetre; the bound of the geometry is added on both sides.
const MILLIMETRE: f64 = 1e-3;

/// Runs the program on one register and returns its JSON; only an exit with `code` will do.
fn program(folder: &Path, code: i32, arguments: &[&str]) -> Value {
    let mut command = Command::new(env!("CARGO"));
    command.env("COVERBOOK_BY", "Checker").args([
        "run",
        "--quiet",
        "--package",
        "coverbook",
        "--manifest-path",
    ]);
    command.arg(concat!(env!("CARGO_MANIFEST_DIR"), "/../Cargo.toml"));
    command
        .args(["--", "--json", "--register"])
        .arg(folder.join("register.db"));
    let output = command.args(arguments).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{arguments:?}: {said}");
    serde_json::from_slice(&output.stdout).unwrap_or_else(|e| panic!("{arguments:?}: {e}; {said}"))
}

#[track_caller]
fn rounded_down(what: &str, printed: &Value, expected: f64) {
    let off = expected - printed.as_f64().unwrap();
    assert!(
        (-crate::BOUND_M..=MILLIMETRE + crate::BOUND_M).contains(&off),
        "{what}: {printed} printed for {expected}"
    );
}

#[test]
fn the_program_prints_what_the_oracle_finds() {
    let oracle = &both().oracle;
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let (rims, pipes) = (both().model.surface_csv(), both().model.points_csv());
    let (rims, pipes, rules) = (
        file("rims.csv", &rims),
        file("pipes.csv", &pipes),
        file("own.toml", RULES),
    );
    let site = "Sample network";
    let ask = |code: i32, arguments: &[&str]| program(folder.path(), code, arguments);
    ask(
        0,
        &[
            "site",
            "open",
            "--name",
            site,
            "--level-datum",
            "the model's own",
            "--bench-mark",
            "none",
            "--near",
            "837438,341193.12,297",
            "--reach",
            "2000",
            "--level-reach",
            "60",
        ],
    );
    ask(0, &["rules", "adopt", &rules, "--site", site]);
    let at = ["--observed-at", "2031-05-03T07:00:00Z"];
    let surface = [
        "import",
        &rims,
        "--site",
        site,
        "--as",
        "surface",
        "--name",
        "rims",
        "--kind-of-surface",
        "existing",
    ];
    ask(0, &[&surface[..], &at].concat());
    ask(
        0,
        &[&["import", &pipes, "--site", site, "--as", "points"][..], &at].concat(),
    );

    // Some pipes are short of the rules, so the check does not pass.
    let answer = ask(1, &["cover", "--site", site, "--surface", "rims"]);
    let runs = answer["runs"].as_array().unwrap();
    assert_eq!(runs.len(), 44);
    for run in runs {
        let name = run["run"].as_str().unwrap();
        let expected = oracle["runs"][name]["legs"].as_array().unwrap();
        for (leg, expected) in run["legs"].as_array().unwrap().iter().zip(expected) {
            let off = leg["length_m"].as_f64().unwrap() - expected["length_m"].as_f64().unwrap();
            assert!(off.abs() <= MILLIMETRE / 2.0 + crate::EXACT_M, "{name}: {off}");
            match expected["least_cover_m"].as_f64() {
                Some(least) => rounded_down(name, &leg["least_cover_m"], least),
                None => assert!(leg["least_cover_m"].is_null(), "{name}"),
            }
        }
    }

    let digs: Value = serde_json::from_str(include_str!("digs.json")).unwrap();
    let digs = digs.as_array().unwrap();
    let mut found = 0;
    for (dig, expected) in digs.iter().zip(oracle["digs"].as_array().unwrap()) {
        let corner = |p: &Value| {
            let metres = |axis: usize| p[axis].as_str().unwrap().parse::<f64>().unwrap() * 0.3048;
            format!("{},{}", metres(0), metres(1))
        };
        let corners = dig["outline_ft"].as_array().unwrap().iter().map(corner);
        let area = corners.collect::<Vec<_>>().join(" ");
        let floor = match (dig["depth_m"].as_str(), dig["floor_level_m"].as_str()) {
            (Some(depth), _) => ["--depth", depth],
            (None, level) => ["--floor", level.unwrap()],
        };
        let set_out = ["--set-out", dig["set_out_m"].as_str().unwrap()];
        let question = ["dig", "--site", site, "--area", &area];
        let answer = ask(0, &[&question[..], &floor, &set_out].concat());
        let answered = answer["runs"].as_array().unwrap();
        for (name, expected) in expected["runs"].as_object().unwrap() {
            let what = format!("{}, {name}", dig["name"]);
            let gap_m = expected["horizontal_gap_m"].as_f64().unwrap();
            let Some(run) = answered.iter().find(|run| run["run"] == *name) else {
                // Without dig rules what lies within 2 m of a dig is near it.
                assert!(gap_m > 2.0, "{what}: {gap_m} m away, and not in the answer");
                continue;
            };
            rounded_down(&what, &run["horizontal_gap_m"], gap_m);
            rounded_down(
                &what,
                &run["worst_horizontal_gap_m"],
                expected["worst_horizontal_gap_m"].as_f64().unwrap(),
            );
            match expected["vertical_gap_m"].as_f64() {
                Some(gap_m) => rounded_down(&what, &run["vertical_gap_m"], gap_m),
                None => assert!(run["vertical_gap_m"].is_null(), "{what}"),
            }
            found += 1;
        }
    }
    assert!(found >= 10, "{found}");
}

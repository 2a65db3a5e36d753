//! A hold point from the command line: the list, reasons, a release, what comes after it, and its end.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

mod common;

use common::Desk;
use serde_json::Value;

const ASK: [&str; 4] = ["hold", "--area=Pour 1", "--run=E01", "--surface=Finished surface"];
const REASONS: [&str; 3] = [
    "--accept=expected:E12=comes with the second pour",
    "--accept=readings=the set-up sheet is in the site office, folder 4",
    "--accept=searched=the slab was searched whole, entry 40",
];

fn with<'a>(more: &[&'a str]) -> Vec<&'a str> {
    [&ASK, more].concat()
}

fn item<'a>(answer: &'a Value, key: &str) -> &'a Value {
    let items = answer["items"].as_array().unwrap();
    let keys: Vec<&str> = items.iter().filter_map(|item| item["key"].as_str()).collect();
    let found = items.iter().find(|item| item["key"] == key);
    found.unwrap_or_else(|| panic!("{key} of {keys:?}"))
}

fn said(output: &std::process::Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn a_pour_is_released_with_its_exceptions_and_later_changes_stand_beside_it() {
    let desk = Desk::with_demo();
    let shown = desk.exits(1, &with(&["--json"]));
    let answer: Value = serde_json::from_slice(&shown.stdout).unwrap();
    assert_eq!(answer["verdict"], "open");
    assert_eq!(item(&answer, "cover:E01")["state"], "passes");
    assert_eq!(item(&answer, "photo:E01")["state"], "needs-reason");
    assert_eq!(item(&answer, "expected:E12")["state"], "fails");

    // A photo mends one item; its bytes are kept.
    desk.file("pour 1.jpg", "not a picture");
    let no_picture = desk.exits(2, &["attach", "pour 1.jpg", "--about=E01", "--by=Tamsin Orrel"]);
    assert!(
        said(&no_picture).contains("named like a picture and holds none"),
        "{}",
        said(&no_picture)
    );
    let picture = [&[0xff, 0xd8, 0xff, 0xe0][..], b"the rest is kept as it is"].concat();
    std::fs::write(desk.folder.path().join("pour 1.jpg"), picture).unwrap();
    let lost = desk.exits(2, &["attach", "pour 1.jpg", "--about=E0l", "--by=Tamsin Orrel"]);
    assert!(said(&lost).contains("no run, point, station or searched area is named \"E0l\""));
    desk.exits(0, &["attach", "pour 1.jpg", "--about=E01", "--by=Tamsin Orrel"]);

    // Released only as the list stands now, by somebody, and with a reason for every open item.
    desk.exits(64, &with(&["--release"]));
    let old = format!(
        "--head={}:{}",
        answer["head"]["n"],
        answer["head"]["hex"].as_str().unwrap()
    );
    let shown = desk.exits(1, &with(&["--json"]));
    let answer: Value = serde_json::from_slice(&shown.stdout).unwrap();
    let head = format!(
        "--head={}:{}",
        answer["head"]["n"],
        answer["head"]["hex"].as_str().unwrap()
    );
    let stale = [&["--release", &old, "--by=Ines Vandaal"], REASONS.as_slice()].concat();
    let stale = desk.exits(2, &with(&stale));
    assert!(
        said(&stale).contains("look at the list as it is now"),
        "{}",
        said(&stale)
    );
    let unnamed = desk.exits(2, &with(&["--release", &head]));
    assert!(said(&unnamed).contains("nobody is named"), "{}", said(&unnamed));
    let open = desk.exits(
        2,
        &with(&["--release", &head, "--by=Ines Vandaal", REASONS[0], REASONS[1]]),
    );
    assert!(
        said(&open).contains("1 item is open: searched"),
        "{}",
        said(&open)
    );
    let wrong = desk.exits(2, &with(&["--accept=cover:E01=why not"]));
    assert!(said(&wrong).contains("no item of that name is open"));

    let release = [&["--release", &head, "--by=Ines Vandaal"], REASONS.as_slice()].concat();
    let issued = desk.json(&with(&release));
    assert_eq!(issued["verdict"], "with-reasons");
    let after = desk.json(&with(&REASONS));
    let decided = &after["releases"][0];
    assert_eq!(decided["outcome"], "released-with-exceptions");
    assert_eq!(decided["by"], "Ines Vandaal");
    assert_eq!(decided["changed"], serde_json::json!([]));

    desk.exits(
        0,
        &[
            "run",
            "retire",
            "E01",
            "--how=abandoned",
            "--reason=never energised",
            "--by=Tamsin Orrel",
        ],
    );
    let after = desk.json(&with(&REASONS));
    let entry = after["releases"][0]["entry"].as_u64().unwrap();
    let changed = after["releases"][0]["changed"][0].as_str().unwrap();
    assert_eq!(changed, format!("run E01 was changed by entry {}", entry + 1));

    let entry = entry.to_string();
    desk.exits(
        0,
        &[
            "withdraw",
            &entry,
            "--reason=E01 is to be moved",
            "--by=Ines Vandaal",
        ],
    );
    let after = desk.json(&with(&REASONS));
    assert_eq!(after["releases"][0]["withdrawn"], "E01 is to be moved");
    desk.exits(0, &["verify"]);
}

#[test]
fn a_refusal_to_release_needs_no_reasons_and_stands_in_the_book() {
    let desk = Desk::with_demo();
    desk.exits(
        0,
        &with(&["--refuse", "--by=Ines Vandaal", "--statement=E12 is missing"]),
    );
    let shown = desk.exits(1, &with(&["--json"]));
    let answer: Value = serde_json::from_slice(&shown.stdout).unwrap();
    assert_eq!(answer["releases"][0]["outcome"], "not-released");
    desk.exits(64, &with(&["--refuse", "--release"]));
}

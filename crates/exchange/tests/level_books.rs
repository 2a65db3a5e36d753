//! Level books out of a table, and what they reduce to.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

mod common;

use common::{check_refusal, options};
use coverbook_exchange::{LevelOptions, LevelsDraft, Reading, read_levels};
use register::levels::{Closes, reduce_book};
use register::words::{Spread, Touched};

fn stated() -> LevelOptions {
    LevelOptions {
        book: "B1".into(),
        allowable_k_mm: Some("12".parse().unwrap()),
        by_setups: false,
        spread: Spread::BySetups,
        setup_sigma_mm: None,
    }
}

/// Reads a book on a site whose reach in level is 0 to 60 m.
fn read(text: &str, prefix: Option<&str>, stated: &LevelOptions) -> Reading<LevelsDraft> {
    let mut options = options();
    options.frame.near_level_m = 30.0;
    options.frame.level_reach_m = 30.0;
    options.prefix = prefix.map(str::to_owned);
    read_levels(text.as_bytes(), &options, stated, &mut |_| {})
}

fn draft(text: &str, prefix: Option<&str>) -> LevelsDraft {
    let reading = read(text, prefix, &stated());
    reading
        .draft
        .unwrap_or_else(|| panic!("refused: {:#?}", reading.findings))
}

/// Made up for this project, recomputed with exact decimals by both booking methods: levels, and levels with the
/// misclosure of 5 mm spread over four set-ups (limit 12 mm for each root of a kilometre).
const CLOSED: &str = "\
Point,Back,Inter,Fore,Known_level,Distance,Touched,Remark
BM1,1.463,,,52.170,,,
A,,1.102,,,,outside-top,by the gate
B,,0.874,,,,outside-top,
CP1,1.927,,0.561,,100,,
C,,2.304,,,,invert,
CP2,0.418,,1.785,,120,,
D,,1.530,,,,,
E,,2.097,,,,,
CP3,1.200,,2.466,,100,,
BM2,,,0.914,51.447,100,,
";

#[test]
fn a_book_reduces_to_the_levels_worked_out_beside_it() {
    let draft = draft(CLOSED, None);
    let first = &draft.booked.rows[0];
    assert_eq!(first.back_m.as_ref().unwrap().as_str(), "1.463");
    assert_eq!(first.known_level_m.as_ref().unwrap().as_str(), "52.170");
    let a = &draft.booked.rows[1];
    assert_eq!((a.touched, a.row), (Some(Touched::OutsideTop), Some(3)));
    assert_eq!(a.note.as_deref(), Some("Remark=by the gate"));
    let book = reduce_book(&draft.booked, 0).unwrap();
    let expected = [
        ("A", 52.52975),
        ("B", 52.75775),
        ("CP1", 53.07075),
        ("C", 52.6925),
        ("CP2", 53.2115),
        ("D", 52.09825),
        ("E", 51.53125),
        ("CP3", 51.16225),
    ];
    assert_eq!(book.levels.len(), expected.len());
    for (level, (point, metres)) in book.levels.iter().zip(expected) {
        assert_eq!(level.point, point);
        assert!(
            (level.level_m - metres).abs() < 1e-9,
            "{point}: {}",
            level.level_m
        );
        assert_eq!(level.closes, Closes::Within);
    }
}

#[test]
fn an_inverted_staff_is_booked_negative() {
    // Made up for this project, recomputed with exact decimals.
    let text = "point;back;inter;fore;known_level\nTBM;1,250;;;10,000\nfloor;;1,585;;\nsoffit;;-2,310;;\n\
                crown overhead;;-1,975;;\nCP;-1,640;;-2,005;\nTBM2;;;1,405;\n";
    let book = reduce_book(&draft(text, None).booked, 0).unwrap();
    let levels: Vec<String> = book.levels.iter().map(|l| format!("{:.3}", l.level_m)).collect();
    assert_eq!(levels, ["9.665", "13.560", "13.225", "13.255", "10.210"]);
    assert_eq!(book.levels[0].closes, Closes::NotChecked);
}

#[test]
fn a_book_in_feet_is_the_same_book() {
    // The international foot is 0.3048 m exactly.
    let text = "point,back_ft,inter_ft,fore_ft,known_level_ft,distance_ft\nBM1,5.00,,,100.00,\nA,,2.50,,,\nBM1,,,5.00,100.00,400\n";
    let draft = draft(text, None);
    let row = &draft.booked.rows[0];
    assert_eq!(row.back_m.as_ref().unwrap().as_str(), "1.524000");
    assert_eq!(row.known_level_m.as_ref().unwrap().as_str(), "30.480000");
    assert!(row.note.as_ref().unwrap().contains("back_ft=5.00"));
    let book = reduce_book(&draft.booked, 0).unwrap();
    assert!((book.levels[0].level_m - 102.5 * 0.3048).abs() < 1e-9);
}

#[test]
fn a_bench_mark_keeps_its_name_wherever_it_stands_and_measured_points_take_the_prefix() {
    let text = "point,back,inter,fore,known_level,distance\nBM1,1.500,,,20.000,\nP1,,1.200,,,\nCP,1.400,,1.300,,50\n\
                BM1,,,1.600,,50\n";
    let draft = draft(text, Some("mon-"));
    let labels: Vec<&str> = draft.booked.rows.iter().map(|row| row.point.as_str()).collect();
    assert_eq!(labels, ["BM1", "mon-P1", "mon-CP", "BM1"]);
    // It comes back to the mark it began with, so it closes: 1.5 - 1.3 + 1.4 - 1.6 = 0.
    let book = reduce_book(&draft.booked, 0).unwrap();
    assert_eq!(book.levels[0].closes, Closes::Within);
}

#[test]
fn what_cannot_be_a_level_book_is_refused_with_its_place() {
    let head = "point,back,inter,fore,known_level,distance,touched\nBM1,1.463,,,52.170,,\n";
    let cases = [
        (
            "value-missing",
            Some(3),
            Some("point"),
            "point is missing",
            ",,1.1,,,,",
        ),
        ("value-missing", Some(3), Some("back"), "no reading", "A,,,,,,"),
        (
            "not-a-number",
            Some(3),
            Some("inter"),
            "plain decimal",
            "A,,1.1x,,,,",
        ),
        (
            "unknown-word",
            Some(3),
            Some("touched"),
            "not one of",
            "A,,1.1,,,,top",
        ),
        (
            "absurd-size",
            Some(3),
            Some("distance"),
            "not above nought",
            "A,,,1.1,,0,",
        ),
        ("absurd-size", Some(3), Some("inter"), "in _mm", "A,,1102,,,,"),
        (
            "absurd-size",
            Some(3),
            Some("fore"),
            "not believed",
            "A,,,-10.5,,,",
        ),
        (
            "level-out-of-reach",
            Some(3),
            Some("known_level"),
            "as millimetres",
            "A,,,1.1,51447,,",
        ),
    ];
    for (code, row, column, phrase, line) in cases {
        let reading = read(&format!("{head}{line}\n"), None, &stated());
        check_refusal(&reading, code, row, column, phrase);
    }
    let long = format!("{head}{},,1.1,,,,\n", "x".repeat(201));
    check_refusal(
        &read(&long, None, &stated()),
        "text-too-long",
        Some(3),
        Some("point"),
        "shorten",
    );
    let reading = read("back,inter,fore\n1.0,,\n", None, &stated());
    check_refusal(
        &reading,
        "column-missing",
        Some(1),
        Some("point"),
        "no column point",
    );
    let nameless = LevelOptions {
        book: " ".into(),
        ..stated()
    };
    check_refusal(
        &read(CLOSED, None, &nameless),
        "book-missing",
        None,
        None,
        "give it one",
    );
    for limit in ["0", "-12"] {
        let none = LevelOptions {
            allowable_k_mm: Some(limit.parse().unwrap()),
            ..stated()
        };
        check_refusal(
            &read(CLOSED, None, &none),
            "absurd-size",
            None,
            Some("allowable_k_mm"),
            "above nought",
        );
    }
}

/// A whole entry is at most 1 MiB: the register refuses more.
#[test]
fn a_book_that_no_entry_holds_is_refused_with_the_mend() {
    let book = |rows: usize| {
        let mut text = "point,back,inter,fore,known_level\nBM,1.500,,,10.000\n".to_owned();
        for row in 0..rows {
            text += &format!("a{row:05},,1.250,,\n");
        }
        text + "BM,,,1.500,10.000\n"
    };
    assert!(read(&book(1_000), None, &stated()).draft.is_some());
    let long = read(&book(20_000), None, &stated());
    check_refusal(
        &long,
        "book-too-long",
        None,
        None,
        "20002 readings, more than one entry holds; part it",
    );
}

//! What ends a suspicion at a station: the point that failed has to pass again itself. The rule is the project's own;
//! readings are made as in the tests of stations.

use super::station_tests::{known, set, shoot, shot, sight, with_control, with_station};
use super::*;
use crate::body::{Act, CheckRow, PointRow, StationSet};
use crate::words::CheckOutcome;

fn check_of(site: &Site, target: &str, after: u32, long_m: f64) -> CheckRow {
    CheckRow {
        station: "S1".into(),
        after,
        target: target.into(),
        sights: vec![sight(site, known(target), long_m)],
    }
}

fn row(site: &Site, label: &str) -> Vec<PointRow> {
    vec![shot(site, label, [431_030.0, 5_712_000.0, 9.5])]
}

fn suspect(site: &Site) -> Vec<&str> {
    let of_points = site.points.iter().filter(|(_, p)| p.placed.suspect);
    let mut labels: Vec<&str> = of_points.map(|(label, _)| label.as_str()).collect();
    labels.sort_unstable();
    let of_station: Vec<&str> = site.stations["S1"].suspect.iter().map(String::as_str).collect();
    assert_eq!(labels, of_station);
    labels
}

#[test]
fn a_passing_check_of_another_point_ends_no_suspicion() {
    let mut book = with_station();
    let (first, good) = (row(&book.site, "a"), check_of(&book.site, "C1", 1, 0.0));
    shoot(&mut book, first, vec![good]).unwrap();
    // C4 is 20 mm off before the first of these shots, and C1 agrees.
    let second = row(&book.site, "b");
    let checks = vec![
        check_of(&book.site, "C4", 0, 0.02),
        check_of(&book.site, "C1", 0, 0.0),
    ];
    shoot(&mut book, second, checks).unwrap();
    assert_eq!(suspect(&book.site), ["b"]);
    assert!(
        book.site.points["b"].placed.doubts[0].contains("S1 failed a check"),
        "{:?}",
        book.site.points["b"].placed.doubts
    );
    // Nor does it later; C4 itself does, and for what comes after alone.
    let (third, good) = (row(&book.site, "c"), check_of(&book.site, "C1", 1, 0.0));
    shoot(&mut book, third, vec![good]).unwrap();
    let (fourth, good) = (row(&book.site, "d"), check_of(&book.site, "C4", 0, 0.0));
    shoot(&mut book, fourth, vec![good]).unwrap();
    assert_eq!(suspect(&book.site), ["b", "c"]);
}

#[test]
fn a_set_up_whose_own_check_failed_stays_suspect_whatever_is_checked_later() {
    let mut book = with_control();
    let reasoned: StationSet = set(&book.site, 0.02, Some("C4 was knocked"));
    book.write(Act::StationSet(Box::new(reasoned))).unwrap();
    assert_eq!(book.site.stations["S1"].solved.check, CheckOutcome::Failed);
    let rows = row(&book.site, "a");
    let good = ["C1", "C4"].map(|target| check_of(&book.site, target, 0, 0.0));
    shoot(&mut book, rows, good.to_vec()).unwrap();
    let placed = &book.site.points["a"].placed;
    assert!(placed.suspect && placed.doubts[0].contains("C4 was knocked"));
}

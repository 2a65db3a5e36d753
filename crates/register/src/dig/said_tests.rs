//! What an answer says in words, against the figures it says it of; the site is that of [`Book::with_a_run`].

use super::tests::{across, ask, rectangle, without_sigmas};
use super::*;
use crate::body::Act;
use crate::service::Service;
use crate::site::tests::{Book, point, run};
use crate::words::{SearchOutcome, Touched};

/// The sentence carries what its figures carry: the worst case at 95 %, rounded down, or that there is none.
#[test]
fn a_run_under_the_dig_is_said_with_its_worst_case_or_as_not_placed() {
    let placed = Book::with_a_run();
    // 9.8 less the top at 9.5; the worst is 0.3 - 1.959964 x 0.002 = 0.29608, which is told as 0.296.
    assert!(
        ask(&placed, &across(9.8)).runs[0]
            .says
            .contains("passes 0.300 m below the floor of the dig, 0.296 m at 95 %,"),
    );
    let through = &ask(&placed, &across(9.4)).runs[0].says;
    assert!(
        through.contains("passes through the dig, outside top"),
        "{through}"
    );
    let mut unplaced = Book::opened();
    unplaced
        .points(vec![
            without_sigmas("1", "431000", "5712000"),
            without_sigmas("2", "431010", "5712000"),
        ])
        .unwrap();
    unplaced
        .write(Act::RunLaid(run("E1", Service::ElectricLv, &["1", "2"], "50")))
        .unwrap();
    for (floor, expected) in [
        (9.8, "passes 0.275 m below the floor of the dig, not placed,"),
        (9.4, "passes through the dig, not placed,"),
    ] {
        let says = &ask(&unplaced, &across(floor)).runs[0].says;
        assert!(says.contains(expected), "{says}");
    }
}

#[test]
fn a_run_under_a_bore_is_said_to_be_below_the_bore() {
    let bore = DigQuestion {
        area: None,
        bore: Some(vec![[431005.0, 5711990.0, 10.0005], [431005.0, 5712010.0, 10.0]]),
        radius_m: Some(0.1),
        deviation_m: Some(0.05),
        floor_level_m: None,
        ..across(0.0)
    };
    let says = &ask(&Book::with_a_run(), &bore).runs[0].says;
    // The bore's underside is at 9.9005 and the run's top at 9.5; the bore may stray by 50 mm, the run by 3.92 mm.
    assert!(
        says.contains("passes 0.400 m below the bore, 0.346 m at 95 %,"),
        "{says}"
    );
}

/// Near is 2 m for what was seen and 4 m for what was not: this run, 2.975 m off, was seen and is not near.
#[test]
fn runs_that_are_not_near_are_told_by_the_nearest() {
    let beside = DigQuestion {
        area: Some(rectangle([431002.0, 5712003.0], [431008.0, 5712005.0])),
        ..across(9.0)
    };
    let mut book = Book::with_a_run();
    book.points(vec![
        point("3", "431000", "5712010", "9.5", Touched::Centre),
        point("4", "431010", "5712010", "9.5", Touched::Centre),
    ])
    .unwrap();
    // 3 m less the radius of 25 mm less 2.447747 x 3 mm is 2.96766, rounded down.
    says_last(
        &book,
        &beside,
        "1 recorded run is not near it, the nearest 2.967 m off in plan at 95 %.",
    );
    book.write(Act::RunLaid(run("G1", Service::Gas, &["3", "4"], "63")))
        .unwrap();
    says_last(
        &book,
        &beside,
        "2 recorded runs are not near it, the nearest 2.967 m off in plan at 95 %.",
    );
}

#[test]
fn what_is_not_placed_is_told_apart_from_what_is_near_however_far_off_it_is_recorded() {
    let mut book = Book::opened();
    book.points(vec![
        without_sigmas("3", "431000", "5712030"),
        without_sigmas("4", "431010", "5712030"),
    ])
    .unwrap();
    book.write(Act::RunLaid(run("G1", Service::Gas, &["3", "4"], "63")))
        .unwrap();
    says_last(&book, &across(9.8), "unknown. 1 recorded run is not placed.");
    book.points(vec![
        point("1", "431000", "5712000", "9.5", Touched::Centre),
        point("2", "431010", "5712000", "9.5", Touched::Centre),
    ])
    .unwrap();
    book.write(Act::RunLaid(run("E1", Service::ElectricLv, &["1", "2"], "50")))
        .unwrap();
    says_last(
        &book,
        &across(9.8),
        "1 recorded run is near it, and 1 is not placed.",
    );
}

#[track_caller]
fn says_last(book: &Book, question: &DigQuestion, expected: &str) {
    let says = ask(book, question).says;
    assert!(says.ends_with(expected), "{says}");
}

#[test]
fn nothing_searched_and_nothing_recorded_never_reads_as_nothing_there() {
    let mut book = Book::opened();
    let nothing = ask(&book, &across(9.8));
    assert!(nothing.runs.is_empty());
    assert_eq!(nothing.searched.share.whole(), 0);
    assert_eq!(
        nothing.says,
        "None of this dig was ever searched: what is not recorded here is unknown. Nothing is recorded here, and nobody looked."
    );
    let square = [
        ["430900", "5711900"],
        ["431005", "5711900"],
        ["431005", "5712100"],
        ["430900", "5712100"],
    ];
    book.search(square, "9.0", SearchOutcome::AllFoundRecorded);
    let half = ask(&book, &across(9.8));
    // The search stops in the middle of the 2 m, less its own 95 % of 24.5 mm: 48.7 % is 48.
    assert_eq!(half.searched.share.whole(), 48);
    assert_eq!(
        half.says,
        "52 % of this dig was never searched: what lies there is unknown. Nothing is recorded in the 48 % that was searched."
    );
    assert_eq!(half.searched.unsearched.len(), 1);
}

//! Points measured again: compared, combined, and told when they differ.

use super::tests::{Book, point, run};
use super::*;
use crate::body::{Act, EntryWithdrawn, PointRow};
use crate::service::Service;
use crate::words::{Known, Touched};

fn again(label: &str, e: &str, level: &str) -> PointRow {
    PointRow {
        same_as: Some("1".into()),
        ..point(label, e, "5712000.000", level, Touched::OutsideTop)
    }
}

fn placed(book: &Book) -> Placed {
    book.site.points["1"].placed.clone()
}

#[test]
fn one_that_agrees_is_combined_and_checks_the_first() {
    let mut book = Book::with_a_run();
    assert_eq!(placed(&book).known, Some(Known::Seen));
    // 3 mm in plan and 2 mm in level each, 4 mm and 2 mm apart: the mean of two equals lies half way, its sigmas smaller
    // by the root of two.
    book.points(vec![again("1b", "431000.004", "9.502")]).unwrap();
    let found = placed(&book);
    assert_eq!(found.known, Some(Known::SeenChecked));
    assert!(
        (found.at.x - 0.002).abs() < 1e-9 && (found.at.z - 9.501).abs() < 1e-9,
        "{:?}",
        found.at
    );
    let root = std::f64::consts::SQRT_2;
    assert!((found.sigma_h_m.unwrap() - 0.003 / root).abs() < 1e-9);
    assert!((found.sigma_v_m.unwrap() - 0.002 / root).abs() < 1e-9);
    assert!(!found.suspect && found.doubts.is_empty());
    // The run through it follows, and the point says how.
    let shot = &book.site.runs["E1"].record.shots[0];
    assert!((shot.at[0] - 0.002).abs() < 1e-9);
    let how = book.site.how(&book.site.points["1"]);
    assert!(
        how.contains("measured again as 1b: 4.0 mm apart in plan and 2.0 mm in level"),
        "{how}"
    );
    let entry = book.newest();
    // Measured a third time it is compared, and the mean of the first two stays.
    book.points(vec![again("1c", "431000.004", "9.502")]).unwrap();
    assert!((placed(&book).at.x - 0.002).abs() < 1e-9);
    // Taken back, the first stands by the third alone.
    let withdrawn = EntryWithdrawn {
        entry,
        reason: "another conduit".into(),
    };
    book.write(Act::EntryWithdrawn(withdrawn)).unwrap();
    assert!(
        placed(&book).again.iter().all(|says| says.contains("1c")),
        "{:?}",
        placed(&book).again
    );
}

#[test]
fn one_that_differs_leaves_the_first_suspect_and_moves_nothing() {
    let mut book = Book::with_a_run();
    // 30 mm apart where 2.447747 x sqrt(2) x 3 mm = 10.4 mm is the 95 % circle of the difference.
    book.points(vec![again("1b", "431000.030", "9.500")]).unwrap();
    let found = placed(&book);
    assert!(found.suspect && found.at.x.abs() < 1e-9);
    assert!(
        found.doubts[0].contains("measured again as 1b: 30.0 mm apart"),
        "{:?}",
        found.doubts
    );
    assert!(book.site.runs["E1"].record.shots[0].suspect);
}

#[test]
fn what_measures_nothing_again_is_refused() {
    let mut book = Book::with_a_run();
    let refused = |book: &mut Book, row: PointRow, says: &str| {
        let refusal = book.points(vec![row]).unwrap_err();
        assert!(refusal.says.contains(says), "{refusal}");
    };
    let nobody = PointRow {
        same_as: Some("9".into()),
        ..again("1b", "431000.000", "9.500")
    };
    refused(&mut book, nobody, "no such point is recorded before it");
    let other = PointRow {
        touched: Touched::Invert,
        ..again("1b", "431000.000", "9.500")
    };
    refused(&mut book, other, "it touched invert and 1 touched outside-top");
    book.points(vec![again("1b", "431000.001", "9.500")]).unwrap();
    let chain = PointRow {
        same_as: Some("1b".into()),
        ..again("1c", "431000.000", "9.500")
    };
    refused(&mut book, chain, "measures another point again itself");
    // A point that others measure again stays until they go.
    let mut book = Book::opened();
    book.points(vec![point("1", "431000", "5712000", "9.5", Touched::OutsideTop)])
        .unwrap();
    let first = book.newest();
    book.points(vec![again("1b", "431000.001", "9.500")]).unwrap();
    let withdrawn = EntryWithdrawn {
        entry: first,
        reason: "wrong".into(),
    };
    let refusal = book.write(Act::EntryWithdrawn(withdrawn)).unwrap_err();
    assert!(refusal.says.contains("point 1b measures a point"), "{refusal}");
}

#[test]
fn a_point_and_its_repeat_may_come_in_one_entry_and_hold_no_run_up() {
    let mut book = Book::opened();
    book.points(vec![
        point("1", "431000.000", "5712000.000", "9.500", Touched::OutsideTop),
        again("1b", "431000.002", "9.500"),
        point("2", "431010.000", "5712000.000", "9.500", Touched::OutsideTop),
    ])
    .unwrap();
    assert!((placed(&book).at.x - 0.001).abs() < 1e-9);
    book.write(Act::RunLaid(run("E1", Service::ElectricLv, &["1", "2"], "50.0")))
        .unwrap();
    let gaps = book.site.check_cover(None, None).unwrap().gaps;
    assert!(gaps.iter().all(|gap| gap.code != "point-on-no-run"), "{gaps:?}");
}

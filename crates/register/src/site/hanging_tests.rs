//! What hangs on what: moved, refused in a circle, shown, and written as documented.

use super::detected_tests::{detected, detector};
use super::measured_tests::*;
use super::tests::{Book, decimal, run};
use super::*;
use crate::body::{EntryCorrected, EntryWithdrawn, MeasuredFrom, OffsetRow};
use crate::service::Service;
use ground::Vec2;

/// A square of taped points: P on control, Q and R on P, S on Q and R.
fn chain(book: &mut Book) {
    let on = |label: &str, from: &str, to: &str, chainage: &str| {
        let row = OffsetRow {
            from: from.into(),
            to: to.into(),
            ..offset(chainage, "1", "left", stated("9.5"))
        };
        by_offset(label, row)
    };
    let rows = vec![
        on("P", "A", "B", "10"),
        on("Q", "P", "B", "10"),
        on("R", "P", "Q", "10"),
        on("S", "Q", "R", "2"),
    ];
    record(book, rows).unwrap();
}

#[test]
fn what_hangs_on_a_moved_point_follows_in_order_however_far() {
    let mut book = with_control();
    chain(&mut book);
    let before: Vec<_> = ["P", "Q", "R", "S"]
        .map(|l| book.site.points[l].placed.at)
        .to_vec();
    // Both control points moved by one and the same shift: the whole figure moves by it (a shift keeps every shape).
    control(
        &mut book,
        &[
            ("A", "431000.500", "5712000.250", "10.000"),
            ("B", "431030.500", "5712040.250", "10.500"),
        ],
    );
    for (label, was) in ["P", "Q", "R", "S"].iter().zip(before) {
        let moved = book.site.points[*label].placed.at - was;
        assert!(
            (moved.xy() - Vec2::new(0.5, 0.25)).norm() < 1e-9,
            "{label} {moved}"
        );
    }
}

#[test]
fn points_that_would_hang_on_each_other_in_a_circle_are_refused() {
    let mut book = with_control();
    chain(&mut book);
    let entry = book.newest();
    let mut row = book.site.points["P"].row.clone();
    if let Some(MeasuredFrom::Offset(taped)) = &mut row.measured {
        taped.to = "S".into();
    }
    let before = book.site.points["P"].clone();
    let refusal = book
        .write(Act::EntryCorrected(EntryCorrected {
            entry,
            reason: "taped from S".into(),
            points: vec![row],
        }))
        .unwrap_err();
    assert_eq!(refusal.code, "circle");
    assert!(refusal.says.contains("P, Q, R, S"), "{}", refusal.says);
    assert_eq!(book.site.points["P"], before);
    let own = OffsetRow {
        to: "X".into(),
        ..offset("1", "1", "left", stated("9.5"))
    };
    refused(&mut book, by_offset("X", own), "not-known", "X is neither");
}

#[test]
fn control_that_something_is_taped_from_stays() {
    let mut book = with_control();
    let entry = book.newest();
    chain(&mut book);
    let refusal = book
        .write(Act::EntryWithdrawn(EntryWithdrawn {
            entry,
            reason: "another grid".into(),
        }))
        .unwrap_err();
    assert_eq!(refusal.code, "in-use");
    assert!(book.site.control_point("A").is_some());
}

#[test]
fn a_written_position_that_its_readings_do_not_give_is_refused() {
    let mut book = with_control();
    slab(&mut book, "10.000", Some("5"), "2031-05-01").unwrap();
    let mut rows = vec![
        by_offset("P", offset("20", "5", "right", depth("0.45"))),
        detected("D", detector("1.2")),
    ];
    book.site.fill_measured(&mut rows, DAY).unwrap();
    for at in 0..rows.len() {
        let mut wrong = rows.clone();
        wrong[at].level_m = decimal(&format!("{:.4}", wrong[at].level_m.to_f64() + 0.002));
        assert_eq!(book.points(wrong).unwrap_err().code, "does-not-agree");
    }
    book.points(rows).unwrap();
}

#[test]
fn what_hangs_on_a_suspect_point_is_suspect() {
    let mut book = Book::opened();
    control(
        &mut book,
        &[
            ("A", "431000.000", "5712000.000", "10"),
            ("B", "431006.000", "5712000.000", "10"),
            ("C", "431001.000", "5712008.000", "10"),
        ],
    );
    let off = measured(
        "P",
        MeasuredFrom::Ties {
            ties: vec![tie("A", "4.890"), tie("B", "5.469"), tie("C", "4.586")],
            side: "left".into(),
            level: Some(Box::new(stated("9.5"))),
        },
    );
    let next = OffsetRow {
        to: "P".into(),
        ..offset("1", "1", "left", stated("9.5"))
    };
    record(&mut book, vec![off, by_offset("Q", next)]).unwrap();
    let placed = &book.site.points["Q"].placed;
    assert!(
        placed.suspect
            && placed
                .doubts
                .iter()
                .any(|d| d.contains("measured from P, which is suspect"))
    );
}

#[test]
fn ties_written_before_levels_had_a_source_still_read() {
    // The shape as first written; it must read for ever, and be written again as the same bytes.
    let old = r#"{"by":"ties","side":"left","ties":[{"distance_m":"4.888","from":"A","sigma_mm":"5"}]}"#;
    let read: MeasuredFrom = serde_json::from_str(old).unwrap();
    assert!(matches!(&read, MeasuredFrom::Ties { level: None, ties, .. } if ties[0].rise_m.is_none()));
    assert_eq!(
        serde_json::to_value(&read).unwrap(),
        serde_json::from_str::<serde_json::Value>(old).unwrap()
    );
}

#[test]
fn every_source_is_written_and_read_as_documented() {
    // The shapes of README, DEVELOPERS and the page; a changed name is a broken journal.
    for text in [
        r#"{"by":"offset","from":"A","to":"B","chainage_m":"3.20","chainage_sigma_mm":"5","offset_m":"1.10","offset_sigma_mm":"5","side":"right","square_sigma_deg":"0.5","level":{"by":"stated","level_m":"9.5","sigma_mm":"4"}}"#,
        r#"{"by":"ties","ties":[{"from":"A","distance_m":"4.9","sigma_mm":"5","rise_m":"0.4"}],"side":"left","level":{"by":"depth","surface":"slab","surface_kind":"finished-built","depth_m":"0.45","sigma_mm":"4"}}"#,
        r#"{"by":"satellite","easting_m":"1","northing_m":"2","fix":"fixed","horizontal_mm":"14","vertical_mm":"22","means":"95","level":{"by":"receiver","height_m":"11.5","above":"site-datum","antenna_m":"2.0"}}"#,
        r#"{"by":"coordinates","easting_m":"1","northing_m":"2","sigma_h_mm":"30","level":{"by":"detector","surface":"yard","surface_kind":"existing","depth_m":"1.2","method":"radar","percent":"5","constant_mm":"20","across_mm":"80","means":"sigma"}}"#,
        r#"{"by":"coordinates","easting_m":"1","northing_m":"2","level":{"by":"staff","mark":"A","back_m":"1.4","fore_m":"2.3","sigma_mm":"4"}}"#,
    ] {
        let read: MeasuredFrom = serde_json::from_str(text).unwrap();
        assert_eq!(
            serde_json::to_value(&read).unwrap(),
            serde_json::from_str::<serde_json::Value>(text).unwrap()
        );
    }
}

#[test]
fn a_point_is_shown_before_it_is_recorded_as_it_is_shown_after() {
    let mut book = with_control();
    slab(&mut book, "10.000", Some("5"), "2031-05-01").unwrap();
    let mut rows = vec![
        by_offset("P", offset("20", "5", "right", depth("0.45"))),
        detected("D", detector("1.2")),
    ];
    let tried = book.site.try_points(&mut rows, DAY).unwrap();
    assert_eq!(tried[0].entry, None);
    assert!(tried[0].why["entry"].contains("not recorded"));
    assert!(book.site.point_card("P").is_err());
    book.points(rows).unwrap();
    for mut tried in tried {
        let recorded = book.site.point_card(&tried.point).unwrap();
        assert_eq!(recorded.entry, Some(book.site.n));
        (tried.entry, tried.why) = (recorded.entry, recorded.why.clone());
        assert_eq!(tried, recorded);
    }
    let card = book.site.point_card("D").unwrap();
    // 40.817 and 5 mm make 41.12; times 1.96 that is 80.6, rounded up.
    assert_eq!(
        (card.known.as_str(), card.u95_v_m.unwrap().text()),
        ("traced", "0.081".into())
    );
    assert_eq!(book.site.point_card("P").unwrap().measured_from, ["A", "B"]);
    book.write(Act::RunLaid(run("E1", Service::ElectricLv, &["P", "D"], "50")))
        .unwrap();
    let run = book.site.run_card("E1", None, &|_| "somebody".into()).unwrap();
    assert_eq!(
        (run.vertices[1].how.as_str(), run.known.as_str()),
        (card.how.as_str(), "traced")
    );
}

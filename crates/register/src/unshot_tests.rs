//! A run of two straights and a right angle of radius 0.9 m, marked by its ends: centre at level 9, 50 mm outside, sigma
//! 3 mm in plan. Expected figures are closed forms: the corner of such a bend stands 0.9 (sqrt 2 - 1) = 0.3728 m outside
//! its arc, and the plan growth of a shot is 2.447747 x 3 mm = 7.34 mm.

use crate::body::{Act, PointRow, RunLaid};
use crate::check::check_run;
use crate::dig::{Asked, DigQuestion, PlannedDig};
use crate::service::Service;
use crate::site::tests::{Book, decimal, point, run};
use crate::view::{DigRun, RunCard, Up};
use crate::words::{Fitting, Touched};

const CORNER_M: f64 = 0.9 * (std::f64::consts::SQRT_2 - 1.0);

fn centre(label: &str, e: &str, n: &str, fitting: Option<Fitting>) -> PointRow {
    PointRow {
        fitting,
        ..point(label, e, n, "9.000", Touched::Centre)
    }
}

/// The run, its bend marked so.
fn bent(start: Option<Fitting>, end: Option<Fitting>, change: impl Fn(&mut PointRow, &mut RunLaid)) -> Book {
    let mut book = Book::opened();
    let mut laid = run("E2", Service::ElectricLv, &["B1", "B2", "B3", "B4"], "50.0");
    let mut second = centre("B2", "431005.000", "5712000.000", start);
    change(&mut second, &mut laid);
    book.points(vec![
        centre("B1", "431000.000", "5712000.000", None),
        second,
        centre("B3", "431005.900", "5712000.900", end),
        centre("B4", "431005.900", "5712006.000", None),
    ])
    .unwrap();
    book.write(Act::RunLaid(laid)).unwrap();
    book
}

fn marked(change: impl Fn(&mut PointRow, &mut RunLaid)) -> Book {
    bent(Some(Fitting::BendStart), Some(Fitting::BendEnd), change)
}

/// A dig outside the corner: its nearest place is on the bisector, 1.5 sqrt 2 from the centre of the arc.
fn dig(book: &Book) -> DigRun {
    let (west, east, south, north) = (431_006.5, 431_008.0, 5_711_998.0, 5_711_999.4);
    let question = DigQuestion {
        area: Some(vec![[west, south], [east, south], [east, north], [west, north]]),
        floor_level_m: Some(8.0),
        over_dig_m: Some(0.0),
        set_out_m: Some(0.0),
        ..DigQuestion::default()
    };
    let planned = PlannedDig::of(&book.site, &question).unwrap();
    let runs = book.site.runs.values().flat_map(|r| r.in_the_ground().cloned());
    let asked = Asked {
        site: &book.site,
        head: book.site.head_view(),
        runs: runs.collect(),
    };
    let answer = planned.answer(&[asked], vec![], "2031-06-01T00:00:00Z").unwrap();
    answer.runs[0].clone()
}

fn card(book: &Book) -> RunCard {
    book.site.run_card("E2", None, &|_| "Ada Quill".into()).unwrap()
}

#[track_caller]
fn gap_is(run: &DigRun, expected_m: f64) {
    let worst_m = run.worst_horizontal_gap_m.unwrap().0;
    // Chords of the arc add up to 0.05 mm to the radius, and the solver proves its bound within 0.1 mm.
    assert!(
        worst_m <= expected_m + 1e-9 && worst_m > expected_m - 2e-4,
        "{worst_m} is not {expected_m}"
    );
}

const ARC_GAP_M: f64 = 1.5 * std::f64::consts::SQRT_2 - 0.9 - 0.025;

#[test]
fn a_dig_is_told_how_much_of_the_plus_or_minus_was_not_shot() {
    let run = dig(&marked(|_, _| ()));
    gap_is(&run, ARC_GAP_M - 2.447_747 * 0.003 - CORNER_M);
    assert_eq!(run.u95_h_m.map(Up::text), Some("0.381".into()));
    assert_eq!(run.unshot_m.map(Up::text), Some("0.373".into()));
    let says = "\u{b1} 0.381 m in plan, of which 0.373 m because the bend from B2 to B3 was not shot; shoot its middle or state its radius";
    assert_eq!(run.unshot_says.as_deref(), Some(says));
    assert!(run.cautions.iter().any(|c| c == says), "{:?}", run.cautions);
    // And once its radius is stated nothing is left open.
    let stated = dig(&marked(|row, _| row.bend_radius_mm = Some(decimal("900"))));
    gap_is(&stated, ARC_GAP_M - 2.447_747 * 0.003);
    assert_eq!(stated.unshot_m.map(Up::text), Some("0.000".into()));
    assert_eq!(stated.unshot_says, None);
}

#[test]
fn the_card_keeps_the_points_sharp_and_tells_the_leg_between_them() {
    let book = marked(|_, _| ());
    let card = card(&book);
    for vertex in &card.vertices {
        assert_eq!(
            vertex.u95_h_m.map(Up::text),
            Some("0.008".into()),
            "{}",
            vertex.point
        );
    }
    let bounds: Vec<String> = card
        .legs
        .iter()
        .map(|leg| leg.cover.unshot_m.unwrap().text())
        .collect();
    assert_eq!(bounds, ["0.000", "0.373", "0.000"]);
    let because = card.legs[1].cover.unshot_says.clone().unwrap();
    assert!(
        because.starts_with("the bend from B2 to B3 was not shot"),
        "{because}"
    );
    assert!(
        card.findings
            .iter()
            .any(|f| f.contains("up to 0.373 m off the arc drawn"))
    );
    // The plan draws the bend as wide as it may be.
    let map = book.site.map_view().unwrap();
    let widest = map.runs[0].u95_h_m.iter().map(|u| u.0).fold(0.0, f64::max);
    assert!((widest - CORNER_M - 2.447_747 * 0.003).abs() < 1e-6, "{widest}");
    assert_eq!(map.runs[0].u95_h_m[0].text(), "0.008");
}

#[test]
fn what_was_not_shot_is_a_gap_of_the_record_with_figure_and_mend() {
    let gap = |book: &Book| {
        let answer = book.site.check_cover(None, None).unwrap();
        let found = answer.gaps.into_iter().find(|gap| gap.code == "bend-not-shot");
        found.map(|gap| gap.says)
    };
    let says = gap(&marked(|_, _| ())).unwrap();
    assert!(
        says.contains("0.373 m") && says.contains("state its radius"),
        "{says}"
    );
    // 45 degrees at B2 and at B3, unmarked: the longest leg beside is 5.1 m, and 2.55 tan 22.5 is 1.0563.
    let says = gap(&bent(None, None, |_, _| ())).unwrap();
    assert!(
        says.contains("up to 1.036 m") && says.contains("bend-pi"),
        "{says}"
    );
    assert_eq!(
        gap(&marked(|row, _| row.bend_radius_mm = Some(decimal("900")))),
        None
    );
    // A pit is a corner in itself.
    assert_eq!(
        gap(&bent(Some(Fitting::Pit), Some(Fitting::Pit), |_, _| ())),
        None
    );
}

#[test]
fn a_bow_not_stated_is_said_and_one_stated_widens_between_the_shots() {
    let card_of = |bow: Option<&str>| card(&marked(|_, laid| laid.bow_mm = bow.map(decimal)));
    let silent = card_of(None);
    assert_eq!(silent.bow_m, None);
    assert!(
        silent.why["bow_m"].contains("taken as straight, for 5.100 m at most"),
        "{:?}",
        silent.why
    );
    let stated = card_of(Some("20"));
    assert_eq!(stated.bow_m.map(Up::text), Some("0.020".into()));
    assert_eq!(stated.legs[0].cover.unshot_m.map(Up::text), Some("0.020".into()));
    let because = stated.legs[1].cover.unshot_says.clone().unwrap();
    assert!(
        because.contains("was not shot") && because.contains("may bow 0.020 m"),
        "{because}"
    );
    assert_eq!(stated.vertices[0].u95_h_m.map(Up::text), Some("0.008".into()));
    let zero = card_of(Some("0"));
    assert_eq!(zero.bow_m.map(Up::text), Some("0.000".into()));
    assert!(!zero.why.contains_key("bow_m"));
}

/// Worst cover lies where the tube is widest: surface 10.000, top 9.025, 2 mm of level at 95 % and the bound, upright.
#[test]
fn the_worst_cover_counts_what_was_not_shot() {
    use crate::body::{SurfaceRecorded, SurfaceShape};
    let mut book = marked(|_, _| ());
    book.write(Act::SurfaceRecorded(SurfaceRecorded {
        surface: "yard".into(),
        surface_kind: crate::words::SurfaceKind::Existing,
        shape: SurfaceShape::Level {
            level_m: decimal("10.000"),
        },
        sigma_v_mm: Some(decimal("5")),
        within: None,
        import: None,
    }))
    .unwrap();
    let below = book.site.surface_for(None, None, false).unwrap();
    let record = &book.site.runs["E2"].record;
    let checked = check_run(record, Some(below), None, None).unwrap();
    let worst_m = checked.run.worst_cover_m.unwrap().0;
    let expected_m = 0.975 - 1.959_964 * 0.002 - CORNER_M - 1.959_964 * 0.005;
    assert!(
        (worst_m - expected_m).abs() < 2e-4,
        "{worst_m} is not {expected_m}"
    );
}

#[test]
fn a_run_that_turns_right_back_unseen_is_not_placed_there() {
    let mut book = Book::opened();
    book.points(vec![
        centre("B1", "431000.000", "5712000.000", None),
        centre("B2", "431005.000", "5712000.000", Some(Fitting::BendStart)),
        centre("B3", "431005.000", "5712001.000", Some(Fitting::BendEnd)),
        centre("B4", "431000.000", "5712001.100", None),
    ])
    .unwrap();
    book.write(Act::RunLaid(run(
        "E2",
        Service::ElectricLv,
        &["B1", "B2", "B3", "B4"],
        "50.0",
    )))
    .unwrap();
    let run = dig(&book);
    assert_eq!((run.worst_gap_m, run.unshot_m), (None, None));
    assert!(run.why["unshot_m"].contains("no bound"), "{:?}", run.why);
    assert!(run.unshot_says.unwrap().contains("no \u{b1} can be given"));
}

//! The site is that of [`Book::with_a_run`]: E1, 50 mm outside, outside top at level 9.500, from easting 431000 to
//! 431010 on northing 5712000, sigma 3 mm in plan and 2 mm in level. Expected figures are closed forms.

use super::*;
use crate::body::{Act, DownTo, RulesAdopted, RunEnd, RunLaid};
use crate::service::Service;
use crate::site::tests::{Book, decimal, point, run};
use crate::view::{DigAnswer, Down};
use crate::words::{DigVerdict, Known, SearchOutcome, SurfaceKind, Touched};
use std::sync::Arc;

/// A ring of 200 m by 200 m about the run and every dig.
const ALL_ROUND: [[&str; 2]; 4] = [
    ["430900", "5711900"],
    ["431100", "5711900"],
    ["431100", "5712100"],
    ["430900", "5712100"],
];

pub(super) fn rectangle(from: [f64; 2], to: [f64; 2]) -> Vec<[f64; 2]> {
    vec![from, [to[0], from[1]], to, [from[0], to[1]]]
}

/// A rectangle across the run, 2 m by 2 m, without allowances.
pub(super) fn across(floor_level_m: f64) -> DigQuestion {
    DigQuestion {
        area: Some(rectangle([431004.0, 5711999.0], [431006.0, 5712001.0])),
        floor_level_m: Some(floor_level_m),
        over_dig_m: Some(0.0),
        set_out_m: Some(0.0),
        ..DigQuestion::default()
    }
}

pub(super) fn ask(book: &Book, question: &DigQuestion) -> DigAnswer {
    let planned = PlannedDig::of(&book.site, question).unwrap();
    let runs = book
        .site
        .runs
        .values()
        .flat_map(|r| r.in_the_ground().cloned().collect::<Vec<_>>())
        .collect();
    let asked = Asked {
        site: &book.site,
        head: book.site.head_view(),
        runs,
    };
    planned.answer(&[asked], vec![], "2031-06-01T00:00:00Z").unwrap()
}

/// A point on the axis at level 9.5 for which no uncertainty is stated.
pub(super) fn without_sigmas(label: &str, e: &str, n: &str) -> crate::body::PointRow {
    crate::body::PointRow {
        sigma_h_mm: None,
        sigma_v_mm: None,
        ..point(label, e, n, "9.5", Touched::Centre)
    }
}

#[track_caller]
fn close(is: Option<Down>, expected: f64) {
    let is = is.expect("a figure").0;
    // The solver proves its lower bound to within 0.1 mm; site coordinates of 5.7e6 m have noise of 1e-9 m.
    assert!(
        is <= expected + 1e-9 && is > expected - 1e-4,
        "{is} is not {expected}"
    );
}

/// The site's own rules: by hand within half a metre in plan, near within two.
fn with_rules(book: &mut Book, measure: &str) {
    let text = format!(
        r#"
format = "coverbook.rules/1"
id = "own"
title = "The site's own figures"
jurisdiction = "this site"
[dig]
id = "zone"
measure = ["{measure}"]
hand_dig_m = 0.5
near_m = 2.0
set_out_m = 0.0
over_dig_m = 0.0
services = ["electric-lv", "gas"]
source = "site decision"
edition = "1"
clause = "dig"
status = "seen"
[[uncertainty]]
id = "drawn-default"
known = "drawn"
sigma_h_mm = 300.0
sigma_v_mm = 200.0
source = "site decision"
edition = "1"
clause = "defaults"
status = "seen"
"#
    );
    book.write(Act::RulesAdopted(RulesAdopted {
        text,
        confirmed: vec![],
        left_out: vec![],
    }))
    .unwrap();
}

#[test]
fn a_run_under_the_dig_is_told_by_what_is_left_over_it() {
    let book = Book::with_a_run();
    let answer = ask(&book, &across(9.8));
    let e1 = &answer.runs[0];
    close(Some(e1.gap_m), 0.3);
    close(e1.vertical_gap_m, 0.3);
    assert_eq!(e1.horizontal_gap_m.0, 0.0);
    // 95 % of the level: 1.959964 x 2 mm.
    close(e1.worst_vertical_gap_m, 0.3 - 1.959_963_984_540_054 * 0.002);
    close(e1.worst_gap_m, 0.3 - 1.959_963_984_540_054 * 0.002);
    assert_eq!(e1.overlap_m.0, 0.0);
    assert_eq!(
        (e1.top_level_m.min.text(), e1.top_level_m.max.text()),
        ("9.500".into(), "9.500".into())
    );
    assert_eq!(e1.at["gap_m"].on_run[2].text(), "9.500");
}

#[test]
fn a_run_beside_the_dig_is_told_by_its_distance_in_plan() {
    let book = Book::with_a_run();
    let question = DigQuestion {
        area: Some(rectangle([431002.0, 5712001.0], [431008.0, 5712003.0])),
        ..across(9.0)
    };
    let e1 = &ask(&book, &question).runs[0];
    // 1 m from the axis less the radius of 25 mm; 95 % radial is 2.447747 x 3 mm.
    close(Some(e1.horizontal_gap_m), 0.975);
    close(e1.worst_horizontal_gap_m, 0.975 - 2.447_746_830_680_816 * 0.003);
    assert!(e1.vertical_gap_m.is_none());
    assert!(e1.why["vertical_gap_m"].contains("no part of it lies over or under"));
}

#[test]
fn a_dig_through_a_run_is_in_the_way_and_says_how_much_of_it() {
    let mut book = Book::with_a_run();
    with_rules(&mut book, "horizontal");
    let e1 = &ask(&book, &across(9.475)).runs[0];
    assert_eq!(e1.gap_m.0, 0.0);
    assert_eq!(e1.verdict, Some(DigVerdict::InTheWay));
    // Every ball of the axis within the 2 m, and those whose edge reaches in from either side, 25 mm each: the floor
    // is level with the axis. To the 0.1 mm of every gap.
    assert!((e1.overlap_m.0 - 2.05).abs() < 1e-4, "{}", e1.overlap_m.0);
}

#[test]
fn the_measure_of_the_rules_decides_what_deep_runs_mean() {
    // 1.5 m of ground left under the bucket: in plan it is right there, in space it is far.
    let verdict = |measure: &str| {
        let mut book = Book::with_a_run();
        with_rules(&mut book, measure);
        ask(&book, &across(11.0)).runs[0].verdict
    };
    assert_eq!(verdict("horizontal"), Some(DigVerdict::HandDig));
    assert_eq!(verdict("shortest"), Some(DigVerdict::Near));
    assert_eq!(verdict("vertical-below"), Some(DigVerdict::Near));
}

#[test]
fn without_rules_there_is_no_verdict_and_the_nearest_comes_first() {
    let mut book = Book::with_a_run();
    book.points(vec![
        point("3", "431000", "5712001.5", "9.5", Touched::Centre),
        point("4", "431010", "5712001.5", "9.5", Touched::Centre),
    ])
    .unwrap();
    book.write(Act::RunLaid(run("G1", Service::Gas, &["3", "4"], "63")))
        .unwrap();
    let answer = ask(&book, &across(9.8));
    let order: Vec<_> = answer.runs.iter().map(|r| r.run.as_str()).collect();
    assert_eq!(order, ["E1", "G1"]);
    assert!(
        answer
            .runs
            .iter()
            .all(|r| r.verdict.is_none() && r.why["verdict"].contains("no rule set"))
    );
    assert!(answer.rules.is_none() && answer.why["rules"].contains("no rule set"));
}

#[test]
fn a_run_without_uncertainty_is_not_placed_and_never_far() {
    let mut book = Book::with_a_run();
    with_rules(&mut book, "horizontal");
    book.points(vec![
        without_sigmas("3", "431000", "5712001.9"),
        without_sigmas("4", "431010", "5712001.9"),
    ])
    .unwrap();
    book.write(Act::RunLaid(run("G1", Service::Gas, &["3", "4"], "63")))
        .unwrap();
    let answer = ask(&book, &across(9.8));
    let g1 = answer.runs.iter().find(|r| r.run == "G1").unwrap();
    assert_eq!(g1.verdict, Some(DigVerdict::NotPlaced));
    assert!(g1.worst_gap_m.is_none() && g1.why["worst_gap_m"].contains("no uncertainty is known"));
    assert!(g1.cautions[0].contains("find it by hand"));
}

#[test]
fn a_class_default_is_used_where_the_rules_have_one_and_is_marked() {
    let mut book = Book::with_a_run();
    with_rules(&mut book, "horizontal");
    let drawn = |label: &str, e: &str| crate::body::PointRow {
        sigma_h_mm: None,
        sigma_v_mm: None,
        known: Some(Known::Drawn),
        ..point(label, e, "5712003.0", "9.5", Touched::Centre)
    };
    book.points(vec![drawn("3", "431000"), drawn("4", "431010")])
        .unwrap();
    book.write(Act::RunLaid(run("G1", Service::Gas, &["3", "4"], "60")))
        .unwrap();
    let answer = ask(&book, &across(9.8));
    let g1 = answer.runs.iter().find(|r| r.run == "G1").unwrap();
    // 2 m less the radius of 30 mm less 2.447747 x 300 mm; near is twice as wide for what was not seen.
    close(g1.worst_horizontal_gap_m, 1.97 - 2.447_746_830_680_816 * 0.3);
    assert_eq!((g1.verdict, g1.known), (Some(DigVerdict::Near), Known::Drawn));
    assert!(g1.cautions.iter().any(|c| c.contains("class default")));
    assert!(
        g1.cautions
            .iter()
            .any(|c| c.contains("not seen when recorded (drawn)"))
    );
}

#[track_caller]
fn not_counted(down_to: &str, outcome: SearchOutcome, expected: &str) {
    let mut book = Book::opened();
    book.search(ALL_ROUND, down_to, outcome);
    let answer = ask(&book, &across(9.8));
    assert_eq!(answer.searched.share.whole(), 0);
    assert!(
        answer.searched.not_counted[0].contains(expected),
        "{:?}",
        answer.searched.not_counted
    );
}

#[test]
fn a_search_that_stopped_above_the_floor_or_left_something_does_not_count() {
    not_counted(
        "9.801",
        SearchOutcome::AllFoundRecorded,
        "it looked down to level 9.801",
    );
    not_counted("9.0", SearchOutcome::SomeNotRecorded, "was not recorded");
    not_counted("9.0", SearchOutcome::Unable, "could not be carried out");
}

#[test]
fn a_search_by_depth_counts_when_it_goes_deeper_than_the_dig_and_its_allowances() {
    let mut book = Book::opened();
    book.level_surface("yard", SurfaceKind::Existing, "10.500");
    book.search(ALL_ROUND, "0", SearchOutcome::AllFoundRecorded);
    let last = book.site.searched.len() - 1;
    book.site.searched[last].area.down_to = DownTo::Depth {
        depth_m: decimal("0.80"),
        surface: "yard".into(),
    };
    let dig = |depth_m| DigQuestion {
        floor_level_m: None,
        depth_m: Some(depth_m),
        ..across(0.0)
    };
    // The surface has no stated uncertainty: 0.100 m is assumed and must be searched too.
    assert_eq!(ask(&book, &dig(0.70)).searched.share.whole(), 100);
    assert_eq!(ask(&book, &dig(0.71)).searched.share.whole(), 0);
    assert!(
        ask(&book, &dig(0.7))
            .cautions
            .iter()
            .any(|c| c.contains("0.100 m is assumed"))
    );
}

#[test]
fn works_after_the_search_are_told() {
    let mut book = Book::with_a_run();
    book.search(ALL_ROUND, "9.0", SearchOutcome::AllFoundRecorded);
    book.site.searched[0].observed_at = "2031-05-01T00:00:00Z".into();
    let answer = ask(&book, &across(9.8));
    assert!(
        answer.searched.by_service["electric-lv"].says[0].contains("searched before later works: run E1")
    );
}

#[test]
fn a_run_that_may_go_on_is_told_when_it_would_reach_the_dig() {
    let mut book = Book::with_a_run();
    let open = RunLaid {
        ends: [RunEnd::NotStated, RunEnd::ContinuesUnrecorded],
        ..run("E2", Service::ElectricLv, &["1", "2"], "50")
    };
    book.write(Act::RunLaid(open)).unwrap();
    let beyond = DigQuestion {
        area: Some(rectangle([431013.0, 5711999.0], [431014.0, 5712001.0])),
        ..across(9.4)
    };
    let answer = ask(&book, &beyond);
    let of = |name: &str| answer.runs.iter().find(|r| r.run == name).unwrap();
    assert!(
        of("E2")
            .cautions
            .iter()
            .any(|c| c.starts_with("its end (2) is continues-unrecorded"))
    );
    assert!(
        !of("E1")
            .cautions
            .iter()
            .any(|c| c.contains("carried on straight"))
    );
}

#[test]
fn a_depth_hangs_on_the_only_surface_and_tells_its_name() {
    let mut book = Book::with_a_run();
    book.level_surface("yard", SurfaceKind::FinishedBuilt, "10.000");
    let question = DigQuestion {
        floor_level_m: None,
        depth_m: Some(0.4),
        ..across(0.0)
    };
    let answer = ask(&book, &question);
    assert_eq!(
        answer.dig.surface.as_deref(),
        Some("yard, finished-built, 2031-05-03")
    );
    assert_eq!(
        answer.dig.floor_levels_m.as_ref().map(|r| r.min.text()),
        Some("9.600".into())
    );
    close(answer.runs[0].vertical_gap_m, 0.1);
    assert_eq!(answer.runs[0].cover_m.min.map(|c| c.text()), Some("0.500".into()));
}

#[track_caller]
fn refused(question: &DigQuestion, expected: &str) {
    let book = Book::with_a_run();
    let refusal = PlannedDig::of(&book.site, question).unwrap_err();
    assert!(refusal.says.contains(expected), "{}", refusal.says);
}

#[test]
fn a_question_that_leaves_something_open_is_refused_with_the_mend() {
    refused(
        &DigQuestion {
            area: None,
            ..across(9.0)
        },
        "no place is given",
    );
    refused(
        &DigQuestion {
            line: Some(vec![]),
            ..across(9.0)
        },
        "area and line are given together",
    );
    refused(
        &DigQuestion {
            floor_level_m: None,
            ..across(9.0)
        },
        "give a depth or a floor level",
    );
    refused(
        &DigQuestion {
            depth_m: Some(0.4),
            floor_level_m: None,
            ..across(9.0)
        },
        "no surface is recorded",
    );
    refused(
        &DigQuestion {
            depth_m: Some(0.4),
            ..across(9.0)
        },
        "both a depth and a floor level",
    );
    refused(
        &DigQuestion {
            surface: Some("lawn".into()),
            ..across(9.0)
        },
        "no surface is named",
    );
    refused(&across(900.0), "check datum and unit");
    let swapped = DigQuestion {
        area: Some(vec![[5712000.0, 431000.0]; 3]),
        ..across(9.0)
    };
    refused(&swapped, "easting and northing look swapped");
    let flat = DigQuestion {
        area: Some(vec![
            [431000.0, 5712000.0],
            [431001.0, 5712000.0],
            [431002.0, 5712000.0],
        ]),
        ..across(9.0)
    };
    refused(&flat, "area");
    let line = DigQuestion {
        area: None,
        line: Some(vec![[431000.0, 5712000.0], [431001.0, 5712000.0]]),
        ..across(9.0)
    };
    refused(&line, "no width_m is given");
    refused(
        &DigQuestion {
            over_dig_m: Some(-1.0),
            ..across(9.0)
        },
        "out of reason",
    );
    refused(
        &DigQuestion {
            floor_level_m: Some(f64::NAN),
            ..across(9.0)
        },
        "check datum and unit",
    );
}

#[test]
fn another_site_on_the_same_grid_and_datum_is_asked_and_others_are_named() {
    let home = Book::opened();
    let neighbour = Book::with_a_run();
    let planned = PlannedDig::of(&home.site, &across(9.8)).unwrap();
    let mut other = neighbour.site.clone();
    other.id = uuid::Uuid::from_u128(9);
    assert_eq!(planned.cannot_compare(&other), None);
    let runs = vec![Arc::clone(&other.runs["E1"].record)];
    let asked = [Asked {
        site: &other,
        head: other.head_view(),
        runs,
    }];
    let answer = planned.answer(&asked, vec![], "2031-06-01T00:00:00Z").unwrap();
    close(answer.runs[0].vertical_gap_m, 0.3);
    let mut opened = other.opened.clone().unwrap();
    opened.level_datum = "Mean sea level, mainland".into();
    other.opened = Some(opened.clone());
    assert!(
        planned
            .cannot_compare(&other)
            .unwrap()
            .contains("its levels are on Mean sea level")
    );
    other.opened = Some(crate::body::SiteOpened {
        epsg: Some(32631),
        ..opened
    });
    assert!(planned.cannot_compare(&other).unwrap().contains("EPSG:32631"));
}

#[test]
fn a_search_is_measured_from_the_ground_of_its_own_day() {
    let mut book = Book::opened();
    book.level_surface("yard", SurfaceKind::Existing, "10.500");
    book.search(ALL_ROUND, "0", SearchOutcome::AllFoundRecorded);
    book.site.searched[0].area.down_to = DownTo::Depth {
        depth_m: decimal("1.00"),
        surface: "yard".into(),
    };
    book.site.searched[0].observed_at = "2031-05-04T00:00:00Z".into();
    let dig = DigQuestion {
        floor_level_m: None,
        depth_m: Some(0.6),
        ..across(0.0)
    };
    assert_eq!(ask(&book, &dig).searched.share.whole(), 100);
    // The yard is stripped by 0.8 m: 0.6 m below it is 1.4 m below what was searched from.
    book.level_surface("yard", SurfaceKind::Existing, "9.700");
    let stripped = book.site.surfaces.len() - 1;
    book.site.surfaces[stripped].observed_at = "2031-06-01T00:00:00Z".into();
    let answer = ask(&book, &dig);
    assert_eq!(answer.searched.share.whole(), 0);
    assert!(
        answer.searched.not_counted[0].contains("1 m below yard, existing, 2031-05-03"),
        "{:?}",
        answer.searched.not_counted
    );
}

#[test]
fn a_neighbour_with_wider_rules_is_searched_as_wide() {
    let home = Book::opened();
    let mut neighbour = Book::with_a_run();
    with_rules(&mut neighbour, "horizontal");
    let mut other = neighbour.site.clone();
    other.id = uuid::Uuid::from_u128(9);
    let planned = PlannedDig::of(&home.site, &across(9.8)).unwrap();
    let own = planned.search_box(&home.site).unwrap();
    let theirs = planned.search_box(&other).unwrap();
    // Their class default of 300 mm is 0.734 m at 95 %.
    assert!((own.min.x - theirs.min.x - 2.447_746_830_680_816 * 0.3).abs() < 1e-9);
    let mut opened = other.opened.clone().unwrap();
    opened.distances = crate::body::Distances::Ground;
    other.opened = Some(opened);
    assert!(planned.cannot_compare(&other).unwrap().contains("on the ground"));
}

#[test]
fn cover_is_told_over_the_part_near_the_dig_and_what_has_no_surface_is_said() {
    let mut book = Book::with_a_run();
    // The yard ends at easting 431009: the last metre of E1 has no surface, and lies 3 m from the dig.
    let ring = [
        ["430990", "5711990"],
        ["431009", "5711990"],
        ["431009", "5712010"],
        ["430990", "5712010"],
    ];
    let yard = crate::body::SurfaceRecorded {
        surface: "yard".into(),
        surface_kind: SurfaceKind::Existing,
        shape: crate::body::SurfaceShape::Level {
            level_m: decimal("10.000"),
        },
        sigma_v_mm: Some(decimal("5")),
        within: Some(ring.iter().map(|[e, n]| [decimal(e), decimal(n)]).collect()),
        import: None,
    };
    book.write(Act::SurfaceRecorded(yard)).unwrap();
    let whole = ask(&book, &across(9.8));
    assert_eq!(whole.runs[0].cover_m.min.map(|c| c.text()), Some("0.500".into()));
    assert!(
        !whole.runs[0]
            .cautions
            .iter()
            .any(|c| c.contains("no surface here"))
    );
    let east = DigQuestion {
        area: Some(rectangle([431006.0, 5711999.0], [431008.0, 5712001.0])),
        ..across(9.8)
    };
    let part = ask(&book, &east);
    assert_eq!(part.runs[0].cover_m.min.map(|c| c.text()), Some("0.500".into()));
    // From 25 mm before the edge, where the tube first reaches out, to the end of the near part at the run's end.
    let said = part.runs[0]
        .cautions
        .iter()
        .find(|c| c.contains("no surface here"))
        .unwrap();
    assert!(
        said.contains("over 1.025 m") || said.contains("over 1.026 m"),
        "{said}"
    );
}

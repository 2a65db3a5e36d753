//! Stations, checks, suspects and level books in the fold. Readings are made from a known place by the textbook's
//! own inverse and rounded as an instrument shows them.

use super::tests::{Book, decimal, point, run};
use super::*;
use crate::body::{
    Act, CheckRow, CommonRow, ControlRecorded, ControlRow, EntryWithdrawn, GridTied, InstrumentRow,
    KnownSight, LevelRowBooked, LevelsBooked, MeasuredFrom, PointRow, PointsRecorded, SightRow, StationSet,
    TieRow,
};
use crate::service::Service;
use crate::words::{AngleRead, CheckOutcome, FaceRead, SightKind, Spread, SurfaceKind, Touched};
use survey::reduction::{Curvature, ReducedSight, expand_sight};

const STATION: [f64; 3] = [431_020.0, 5_712_015.0, 11.5];
pub(super) const CONTROL: [(&str, [f64; 3]); 4] = [
    ("C1", [430_990.0, 5_712_050.0, 12.0]),
    ("C2", [431_060.0, 5_712_040.0, 11.0]),
    ("C3", [431_030.0, 5_711_970.0, 10.5]),
    ("C4", [430_970.0, 5_712_000.0, 11.8]),
];
const ORIENTATION_DEG: f64 = 37.0;

/// The reading that an instrument at the station shows of a place, target 1.5 m above it, off by some error.
pub(super) fn sight(site: &Site, to: [f64; 3], long_m: f64) -> SightRow {
    let (de, dn) = (to[0] - STATION[0], to[1] - STATION[1]);
    let ground_m = de.hypot(dn) / site.grid_scale();
    let (slope_m, zenith) = expand_sight(
        ReducedSight {
            horizontal_distance_m: ground_m,
            rise_m: to[2] + 1.5 - STATION[2],
        },
        Curvature::standard(),
    );
    let azimuth = de.atan2(dn).to_degrees();
    SightRow {
        direction: Some(format!("{:.6}", (azimuth - ORIENTATION_DEG).rem_euclid(360.0))),
        zenith: Some(format!("{:.6}", zenith.to_degrees())),
        slope_m: Some(decimal(&format!("{:.4}", slope_m + long_m))),
        target_height_m: decimal("1.500"),
        prism_mm: decimal("0"),
        face: None,
        row: Some(7),
    }
}

pub(super) fn known(name: &str) -> [f64; 3] {
    CONTROL.iter().find(|(n, _)| *n == name).unwrap().1
}

pub(super) fn set(site: &Site, check_long_m: f64, unchecked_reason: Option<&str>) -> StationSet {
    let sights = ["C1", "C2", "C3"].map(|name| KnownSight {
        target: name.into(),
        sighted_as: SightKind::Control,
        sight: sight(site, known(name), 0.0),
    });
    let check = KnownSight {
        target: "C4".into(),
        sighted_as: SightKind::Check,
        sight: sight(site, known("C4"), check_long_m),
    };
    StationSet {
        station: "S1".into(),
        saw: None,
        instrument: InstrumentRow {
            name: None,
            distance_mm: decimal("1"),
            distance_ppm: decimal("1.5"),
            direction_sec: decimal("1"),
            zenith_sec: decimal("1"),
            target_height_sigma_mm: decimal("0.5"),
            centring_sigma_mm: decimal("0.5"),
        },
        angles: AngleRead::Degrees,
        instrument_height_m: decimal("0"),
        air: None,
        air_in_instrument: None,
        sights: sights.into_iter().chain([check]).collect(),
        tolerance_mm: None,
        unchecked_reason: unchecked_reason.map(String::from),
        import: None,
    }
}

pub(super) fn with_control() -> Book {
    let mut book = Book::opened();
    let row = |(name, at): (&str, [f64; 3])| ControlRow {
        point: name.into(),
        easting_m: decimal(&format!("{:.3}", at[0])),
        northing_m: decimal(&format!("{:.3}", at[1])),
        level_m: decimal(&format!("{:.3}", at[2])),
        sigma_h_mm: Some(decimal("1")),
        sigma_v_mm: Some(decimal("1")),
        note: None,
    };
    book.write(Act::ControlRecorded(ControlRecorded {
        import: None,
        points: CONTROL.map(row).to_vec(),
    }))
    .unwrap();
    book
}

pub(crate) fn with_station() -> Book {
    let mut book = with_control();
    let set = set(&book.site, 0.0, None);
    book.write(Act::StationSet(Box::new(set))).unwrap();
    book
}

pub(crate) fn shot(site: &Site, label: &str, at: [f64; 3]) -> PointRow {
    PointRow {
        sigma_h_mm: None,
        sigma_v_mm: None,
        measured: Some(MeasuredFrom::Station {
            station: "S1".into(),
            sights: vec![sight(site, at, 0.0)],
        }),
        ..point(
            label,
            &format!("{:.4}", at[0]),
            &format!("{:.4}", at[1]),
            &format!("{:.4}", at[2]),
            Touched::OutsideTop,
        )
    }
}

pub(crate) fn shoot(
    book: &mut Book,
    rows: Vec<PointRow>,
    checks: Vec<CheckRow>,
) -> Result<Vec<Change>, Refusal> {
    book.write(Act::PointsRecorded(PointsRecorded {
        import: None,
        points: rows,
        checks,
    }))
}

pub(crate) fn check_of_c4(site: &Site, after: u32, long_m: f64) -> CheckRow {
    CheckRow {
        station: "S1".into(),
        after,
        target: "C4".into(),
        sights: vec![sight(site, known("C4"), long_m)],
    }
}

#[test]
fn a_station_is_found_where_the_instrument_stood_and_its_check_passes() {
    let book = with_station();
    let view = &book.site.station_views()[0];
    assert_eq!(
        (view.at[0].text(), view.at[1].text()),
        ("431020.000".into(), "5712015.000".into())
    );
    assert_eq!(view.level_m.map(|l| l.text()), Some("11.500".into()));
    assert!((view.orientation_deg.unwrap() - ORIENTATION_DEG).abs() < 1e-4);
    assert!(view.fits && view.check == CheckOutcome::Passed, "{}", view.says);
    assert!(view.u95_h_m.0 > 0.0005 && view.u95_h_m.0 < 0.004);
    assert_eq!(view.readings.len(), 9);
}

#[test]
fn a_shot_is_reckoned_again_from_its_readings_with_its_uncertainty() {
    let mut book = with_station();
    let row = shot(&book.site, "P1", [431_040.0, 5_712_000.0, 9.5]);
    shoot(&mut book, vec![row.clone()], vec![]).unwrap();
    let placed = &book.site.points["P1"].placed;
    let frame = book.site.frame().unwrap();
    let at = frame.grid(placed.at);
    assert!(
        (at.x - 431_040.0).abs() < 2e-4 && (at.y - 5_712_000.0).abs() < 2e-4 && (at.z - 9.5).abs() < 2e-4
    );
    assert!(placed.sigma_h_m.unwrap() > 0.0003 && placed.sigma_h_m.unwrap() < 0.002);
    assert!(placed.doubts.is_empty());
    let lies = PointRow {
        point: "P2".into(),
        level_m: decimal("9.600"),
        ..row
    };
    let refusal = shoot(&mut book, vec![lies], vec![]).unwrap_err();
    assert!(
        refusal.says.contains("-100.0 mm in level from the one written"),
        "{}",
        refusal.says
    );
}

#[test]
fn a_station_without_a_passed_check_needs_a_reason_and_its_points_say_so() {
    let mut book = with_control();
    let bad = set(&book.site, 0.012, None);
    let refusal = book.write(Act::StationSet(Box::new(bad))).unwrap_err();
    assert!(
        refusal.says.contains("its check failed") && refusal.says.contains("say why"),
        "{}",
        refusal.says
    );
    assert!(book.site.stations.is_empty());
    let reasoned = set(&book.site, 0.012, Some("C4 was knocked this morning"));
    book.write(Act::StationSet(Box::new(reasoned))).unwrap();
    let row = shot(&book.site, "P1", [431_040.0, 5_712_000.0, 9.5]);
    shoot(&mut book, vec![row], vec![]).unwrap();
    assert!(book.site.points["P1"].placed.doubts[0].contains("C4 was knocked"));
}

#[test]
fn checks_on_one_face_are_never_averaged_and_two_faces_are_one_check() {
    let mut book = with_control();
    // 8 mm long and then 8 mm short on the same face: their mean would pass.
    let mut twice = set(&book.site, 0.008, None);
    twice.sights.push(KnownSight {
        sight: sight(&book.site, known("C4"), -0.008),
        ..twice.sights[3].clone()
    });
    let refusal = book.write(Act::StationSet(Box::new(twice.clone()))).unwrap_err();
    assert!(refusal.says.contains("check"), "{refusal}");
    assert_eq!(book.site.try_station(&twice, 0).unwrap().checks.len(), 2);
    let mut faces = set(&book.site, 0.0, None);
    let turn = |text: &Option<String>, from: f64| {
        let degrees: f64 = text.as_ref().unwrap().parse().unwrap();
        Some(format!("{:.6}", (from + degrees).rem_euclid(360.0)))
    };
    let left = faces.sights[3].sight.clone();
    let zenith: f64 = left.zenith.as_ref().unwrap().parse().unwrap();
    let right = SightRow {
        direction: turn(&left.direction, 180.0),
        zenith: Some(format!("{:.6}", 360.0 - zenith)),
        ..left
    };
    faces.sights.push(KnownSight {
        sight: right.clone(),
        ..faces.sights[3].clone()
    });
    assert_eq!(book.site.try_station(&faces, 0).unwrap().checks.len(), 1);
    // Booked on the left with a zenith angle of the right: no average of the two is anything.
    faces.sights[4].sight.face = Some(FaceRead::Left);
    let refusal = book.write(Act::StationSet(Box::new(faces))).unwrap_err();
    assert!(refusal.says.contains("C4: face left is booked"), "{refusal}");
}

#[test]
fn a_blunder_at_control_is_named_with_its_size() {
    let book = with_control();
    let mut wrong = set(&book.site, 0.0, None);
    wrong.sights[1].sight.slope_m = Some(decimal(&format!(
        "{:.4}",
        wrong.sights[1].sight.slope_m.as_ref().unwrap().to_f64() + 0.098
    )));
    let solved = book.site.try_station(&wrong, 0).unwrap();
    let view = crate::screens::station_view(&solved, &book.site.frame().unwrap());
    assert!(!view.fits);
    assert!(
        view.causes[0].contains("C2") && view.causes[0].contains("98 mm"),
        "{:?}",
        view.causes
    );
}

#[test]
fn a_failed_check_leaves_every_shot_since_the_last_good_one_suspect() {
    let mut book = with_station();
    let rows = |site: &Site, names: [&str; 2], north: f64| {
        names
            .map(|n| {
                shot(
                    site,
                    n,
                    [431_030.0 + if n.ends_with('a') { 0.0 } else { 10.0 }, north, 9.5],
                )
            })
            .to_vec()
    };
    let first = rows(&book.site, ["1a", "1b"], 5_712_000.0);
    let good = check_of_c4(&book.site, 2, 0.0);
    shoot(&mut book, first, vec![good]).unwrap();
    book.write(Act::RunLaid(run("E1", Service::ElectricLv, &["1a", "1b"], "50")))
        .unwrap();
    let second = rows(&book.site, ["2a", "2b"], 5_712_001.0);
    shoot(&mut book, second, vec![]).unwrap();
    book.write(Act::RunLaid(run("E2", Service::ElectricLv, &["2a", "2b"], "50")))
        .unwrap();
    let bad = check_of_c4(&book.site, 0, 0.02);
    let changes = shoot(&mut book, vec![], vec![bad]).unwrap();
    assert!(matches!(&changes[..], [Change::RunRecorded(record)] if record.key == "E2"));
    assert!(!book.site.points["1a"].placed.suspect && book.site.points["2a"].placed.suspect);
    assert_eq!(book.site.station_views()[0].suspect, ["2a", "2b"]);
    book.level_surface("yard", SurfaceKind::Existing, "10.5");
    let map = book.site.map_view().unwrap();
    assert!(map.runs[0].doubts.is_empty() && map.runs[1].doubts[0].contains("failed a check"));
}

#[test]
fn a_station_set_anew_moves_every_point_measured_from_it_and_the_runs_through_them() {
    let mut book = with_station();
    let rows = vec![
        shot(&book.site, "a", [431_030.0, 5_712_000.0, 9.5]),
        shot(&book.site, "b", [431_040.0, 5_712_000.0, 9.5]),
    ];
    shoot(&mut book, rows, vec![]).unwrap();
    book.write(Act::RunLaid(run("E1", Service::ElectricLv, &["a", "b"], "50")))
        .unwrap();
    // Better control: every point 20 mm higher.
    let higher = CONTROL.map(|(name, at)| ControlRow {
        point: name.into(),
        easting_m: decimal(&format!("{:.3}", at[0])),
        northing_m: decimal(&format!("{:.3}", at[1])),
        level_m: decimal(&format!("{:.3}", at[2] + 0.02)),
        sigma_h_mm: None,
        sigma_v_mm: None,
        note: None,
    });
    book.write(Act::ControlRecorded(ControlRecorded {
        import: None,
        points: higher.to_vec(),
    }))
    .unwrap();
    assert!((book.site.points["a"].placed.at.z - 9.5).abs() < 3e-4);
    let taken = set(&book.site, 0.0, None);
    assert!(
        book.write(Act::StationSet(Box::new(taken.clone())))
            .unwrap_err()
            .says
            .contains("having seen that entry")
    );
    let saw = *book.site.stations["S1"].entries.last().unwrap();
    let changes = book
        .write(Act::StationSet(Box::new(StationSet {
            saw: Some(saw),
            ..taken
        })))
        .unwrap();
    assert!(matches!(&changes[..], [Change::RunRecorded(record)] if record.key == "E1"));
    assert!((book.site.points["a"].placed.at.z - 9.52).abs() < 3e-4);
    assert!((book.site.runs["E1"].record.shots[0].at[2] - 9.52).abs() < 3e-4);
    assert_eq!(book.site.points["a"].row.level_m.as_str(), "9.5000");
}

#[test]
fn a_reading_in_another_unit_is_refused_with_its_row() {
    let book = with_control();
    let mut gon = set(&book.site, 0.0, None);
    gon.sights[2].sight.direction = Some("399.5".into());
    let refusal = book.site.try_station(&gon, 0).unwrap_err();
    assert!(
        refusal.says.contains("direction to C3") && refusal.says.contains("beyond the circle"),
        "{}",
        refusal.says
    );
    assert_eq!(refusal.row, Some(7));
    let mut unknown = set(&book.site, 0.0, None);
    unknown.sights[0].target = "C9".into();
    assert!(
        book.site
            .try_station(&unknown, 0)
            .unwrap_err()
            .says
            .contains("C9 is not a control point")
    );
}

fn level_row(point: &str, back: &str, inter: &str, fore: &str, known: &str) -> LevelRowBooked {
    let given = |text: &str| (!text.is_empty()).then(|| decimal(text));
    LevelRowBooked {
        point: point.into(),
        back_m: given(back),
        inter_m: given(inter),
        fore_m: given(fore),
        known_level_m: given(known),
        distance_m: None,
        touched: (point != "BM").then_some(Touched::Invert),
        note: None,
        row: None,
    }
}

/// Back sight 1.500 on a bench mark at 10.000: line of sight 11.500. Worked by hand.
fn levels(closing: &str) -> LevelsBooked {
    LevelsBooked {
        book: "L1".into(),
        rows: vec![
            level_row("BM", "1.500", "", "", "10.000"),
            level_row("a", "", "2.010", "", ""),
            level_row("b", "", "2.020", "", ""),
            level_row("BM", "", "", closing, "10.000"),
        ],
        allowable_k_mm: Some(decimal("5")),
        allowable_by_setups: true,
        spread: Spread::NotSpread,
        setup_sigma_mm: Some(decimal("0.7")),
        import: None,
    }
}

#[test]
fn a_level_book_gives_its_points_their_levels_and_runs_follow() {
    let mut book = Book::with_a_run();
    book.points(vec![
        point("a", "431000", "5712005", "9.500", Touched::Invert),
        point("b", "431010", "5712005", "9.470", Touched::Invert),
    ])
    .unwrap();
    book.write(Act::RunLaid(run("S1", Service::Sewer, &["a", "b"], "110")))
        .unwrap();
    let changes = book.write(Act::LevelsBooked(levels("1.500"))).unwrap();
    assert!(matches!(&changes[..], [Change::RunRecorded(record)] if record.key == "S1"));
    assert!((book.site.points["a"].placed.at.z - 9.490).abs() < 1e-9);
    assert!((book.site.points["b"].placed.at.z - 9.480).abs() < 1e-9);
    assert!(book.site.points["a"].placed.doubts[0].contains("10 mm from the level measured otherwise"));
    assert!(book.site.points["a"].placed.sigma_v_m.unwrap() < 0.001);
    let view = &book.site.levels_views()[0];
    assert!(view.closes && view.checks_hold);
    let booked = book.newest();
    book.write(Act::EntryWithdrawn(EntryWithdrawn {
        entry: booked,
        reason: "wrong staff".into(),
    }))
    .unwrap();
    assert!((book.site.points["a"].placed.at.z - 9.500).abs() < 1e-9);
}

#[test]
fn a_book_that_does_not_close_moves_nothing_and_says_so() {
    let mut book = Book::opened();
    book.points(vec![point("a", "431000", "5712005", "9.500", Touched::Invert)])
        .unwrap();
    book.write(Act::LevelsBooked(levels("1.540"))).unwrap();
    assert!((book.site.points["a"].placed.at.z - 9.500).abs() < 1e-9);
    assert!(book.site.points["a"].placed.doubts[0].contains("does not close"));
    assert!(!book.site.levels_views()[0].closes);
}

#[test]
fn two_tapes_fix_a_point_and_a_third_that_disagrees_is_told() {
    // Worked example of the trade (common practice): marks 6 m apart, 4.888 and 5.467 give (2.500, 4.200).
    let mut book = Book::opened();
    book.points(vec![
        point("A", "431000.000", "5712000.000", "10", Touched::Other),
        point("B", "431006.000", "5712000.000", "10", Touched::Other),
        point("C", "431000.000", "5712008.000", "10", Touched::Other),
    ])
    .unwrap();
    let tie = |from: &str, m: &str| TieRow {
        from: from.into(),
        distance_m: decimal(m),
        sigma_mm: decimal("5"),
        rise_m: None,
        rise_sigma_mm: None,
    };
    let tied = |label: &str, ties| PointRow {
        measured: Some(MeasuredFrom::Ties {
            ties,
            side: "left".into(),
            level: None,
        }),
        ..point(label, "431002.500", "5712004.200", "9.5", Touched::OutsideTop)
    };
    shoot(
        &mut book,
        vec![tied("P", vec![tie("A", "4.888"), tie("B", "5.467")])],
        vec![],
    )
    .unwrap();
    let placed = &book.site.points["P"].placed;
    assert!(
        (placed.at.x - 2.5).abs() < 1e-3 && (placed.at.y - 4.2).abs() < 1e-3,
        "{:?}",
        placed.at
    );
    assert!(placed.sigma_h_m.unwrap() > 0.005);
    assert!(
        placed.doubts[0].contains("nothing checks it"),
        "{:?}",
        placed.doubts
    );
    // From (0, 8) to (2.5, 4.2), by Pythagoras: 4.549. Read as 4.649 it is told, and the point stays where two put it.
    for (label, third, told) in [("Q", "4.549", false), ("R", "4.649", true)] {
        let ties = vec![tie("A", "4.888"), tie("B", "5.467"), tie("C", third)];
        shoot(&mut book, vec![tied(label, ties)], vec![]).unwrap();
        let placed = &book.site.points[label].placed;
        let off = placed
            .doubts
            .iter()
            .any(|d| d.contains("the check tie misses by") && d.contains("100 mm"));
        assert_eq!(off, told, "{:?}", placed.doubts);
        assert!((placed.at.x - 2.5).abs() < 1e-3 && (placed.at.y - 4.2).abs() < 1e-3);
    }
}

#[test]
fn a_local_grid_is_tied_by_common_points_and_a_projected_one_is_not() {
    let mut book = Book::opened();
    let common = |name: &str, e: f64, n: f64| CommonRow {
        point: name.into(),
        local_easting_m: decimal(&format!("{:.3}", e - 431_000.0)),
        local_northing_m: decimal(&format!("{:.3}", n - 5_712_000.0)),
        grid_easting_m: decimal(&format!("{e:.3}")),
        grid_northing_m: decimal(&format!("{n:.3}")),
    };
    let tied = GridTied {
        epsg: 32630,
        common: vec![
            common("C1", 430_990.0, 5_712_050.0),
            common("C2", 431_060.0, 5_712_040.0),
            common("C3", 431_030.0, 5_711_970.0),
        ],
        scale_held: None,
    };
    assert!(
        book.write(Act::GridTied(tied.clone()))
            .unwrap_err()
            .says
            .contains("only a local grid is tied")
    );
    book.site.opened.as_mut().unwrap().epsg = None;
    book.write(Act::GridTied(tied)).unwrap();
    let to = book
        .site
        .tied
        .as_ref()
        .unwrap()
        .tie
        .similarity
        .to_grid([10.0, 20.0]);
    assert!((to[0] - 431_010.0).abs() < 1e-6 && (to[1] - 5_712_020.0).abs() < 1e-6);
}

#[test]
fn nothing_that_hangs_on_a_station_without_a_passed_check_can_be_met() {
    let mut book = with_control();
    let mut unchecked = set(&book.site, 0.0, Some("only three marks are left"));
    unchecked.sights.pop();
    book.write(Act::StationSet(Box::new(unchecked))).unwrap();
    let rows = vec![
        shot(&book.site, "a", [431_030.0, 5_712_000.0, 9.0]),
        shot(&book.site, "b", [431_040.0, 5_712_000.0, 8.5]),
    ];
    shoot(&mut book, rows, vec![]).unwrap();
    book.write(Act::RunLaid(run("S1", Service::Sewer, &["a", "b"], "110")))
        .unwrap();
    let text = "format = \"coverbook.rules/1\"\nid = \"own\"\ntitle = \"own\"\njurisdiction = \"here\"\n\
        [[cover]]\nid = \"c\"\nservices = [\"sewer\"]\nwhere = \"x\"\nminimum_m = 0.3\nsource = \"s\"\nedition = \"1\"\nclause = \"c\"\nstatus = \"seen\"\n\
        [[fall]]\nid = \"f\"\nservices = [\"sewer\"]\nminimum = 0.01\nsource = \"s\"\nedition = \"1\"\nclause = \"c\"\nstatus = \"seen\"\n";
    let rules = crate::body::RulesAdopted {
        text: text.into(),
        confirmed: vec![],
        left_out: vec![],
    };
    book.write(Act::RulesAdopted(rules)).unwrap();
    let floor = crate::body::SurfaceRecorded {
        surface: "yard".into(),
        surface_kind: SurfaceKind::Existing,
        shape: crate::body::SurfaceShape::Level {
            level_m: decimal("10"),
        },
        sigma_v_mm: Some(decimal("1")),
        within: None,
        import: None,
    };
    book.write(Act::SurfaceRecorded(floor)).unwrap();
    let answer = book.site.check_cover(None, None).unwrap();
    let checked = &answer.runs[0];
    assert_eq!(checked.cover_verdict, crate::words::CheckVerdict::NotProved);
    assert_eq!(checked.fall_verdict, Some(crate::words::CheckVerdict::NotProved));
    assert_eq!(
        checked.legs[0].cover_verdict,
        crate::words::CheckVerdict::NotProved
    );
    assert!(
        checked
            .findings
            .iter()
            .any(|f| f.contains("never checked: only three marks are left"))
    );
    // The same from a checked station is met.
    let mut book = with_station();
    let rows = vec![
        shot(&book.site, "a", [431_030.0, 5_712_000.0, 9.0]),
        shot(&book.site, "b", [431_040.0, 5_712_000.0, 8.5]),
    ];
    shoot(&mut book, rows, vec![]).unwrap();
    book.write(Act::RunLaid(run("S1", Service::Sewer, &["a", "b"], "110")))
        .unwrap();
    book.write(Act::RulesAdopted(crate::body::RulesAdopted {
        text: text.into(),
        confirmed: vec![],
        left_out: vec![],
    }))
    .unwrap();
    book.write(Act::SurfaceRecorded(crate::body::SurfaceRecorded {
        surface: "yard".into(),
        surface_kind: SurfaceKind::Existing,
        shape: crate::body::SurfaceShape::Level {
            level_m: decimal("10"),
        },
        sigma_v_mm: Some(decimal("1")),
        within: None,
        import: None,
    }))
    .unwrap();
    let answer = book.site.check_cover(None, None).unwrap();
    assert_eq!(
        answer.runs[0].verdict,
        crate::words::CheckVerdict::Met,
        "{}",
        answer.runs[0].says
    );
}

#[test]
fn withdrawing_points_takes_their_checks_back_too() {
    let mut book = with_station();
    let first = vec![shot(&book.site, "a", [431_030.0, 5_712_000.0, 9.5])];
    shoot(&mut book, first, vec![]).unwrap();
    let good = check_of_c4(&book.site, 1, 0.0);
    let second = vec![shot(&book.site, "b", [431_040.0, 5_712_000.0, 9.5])];
    shoot(&mut book, second, vec![good]).unwrap();
    let second_entry = book.newest();
    let bad = check_of_c4(&book.site, 0, 0.02);
    shoot(&mut book, vec![], vec![bad]).unwrap();
    assert!(!book.site.points["a"].placed.suspect);
    book.write(Act::EntryWithdrawn(EntryWithdrawn {
        entry: second_entry,
        reason: "another job".into(),
    }))
    .unwrap();
    assert!(
        book.site.points["a"].placed.suspect,
        "the good check between went with its entry"
    );
}

#[test]
fn control_that_a_station_stands_on_is_not_withdrawn_and_must_have_a_real_sigma() {
    let mut book = with_control();
    let control = book.newest();
    let set = set(&book.site, 0.0, None);
    book.write(Act::StationSet(Box::new(set))).unwrap();
    let refusal = book
        .write(Act::EntryWithdrawn(EntryWithdrawn {
            entry: control,
            reason: "old list".into(),
        }))
        .unwrap_err();
    assert!(
        refusal.says.contains("station S1 was set by a point of entry 2"),
        "{}",
        refusal.says
    );
    let zero = ControlRow {
        sigma_h_mm: Some(decimal("0")),
        ..book.site.control_point("C1").unwrap().row.clone()
    };
    let refusal = book
        .write(Act::ControlRecorded(ControlRecorded {
            import: None,
            points: vec![zero],
        }))
        .unwrap_err();
    assert!(refusal.says.contains("sigma_h_mm is 0"), "{}", refusal.says);
}

#[test]
fn a_book_that_closes_on_nothing_gives_levels_that_prove_nothing() {
    let mut book = Book::opened();
    book.points(vec![point("a", "431000", "5712005", "9.500", Touched::Invert)])
        .unwrap();
    let mut open = levels("1.500");
    open.rows.truncate(3);
    open.rows[2].inter_m = None;
    open.rows[2].fore_m = Some(decimal("2.020"));
    book.write(Act::LevelsBooked(open)).unwrap();
    let placed = &book.site.points["a"].placed;
    assert!((placed.at.z - 9.490).abs() < 1e-9 && placed.suspect);
    assert!(placed.doubts.iter().any(|d| d.contains("not checked")));
}

#[test]
fn a_staff_that_stood_on_something_else_moves_nothing() {
    let mut book = Book::opened();
    book.points(vec![point(
        "a",
        "431000",
        "5712005",
        "9.500",
        Touched::OutsideTop,
    )])
    .unwrap();
    book.write(Act::LevelsBooked(levels("1.500"))).unwrap();
    let placed = &book.site.points["a"].placed;
    assert!((placed.at.z - 9.500).abs() < 1e-9);
    assert!(placed.doubts[0].contains("staff on its invert, and the point touched outside-top"));
}

#[test]
fn what_is_taped_from_a_point_follows_it() {
    let mut book = Book::opened();
    book.points(vec![
        point("A", "431000.000", "5712000.000", "10", Touched::Other),
        point("B", "431006.000", "5712000.000", "10", Touched::Other),
    ])
    .unwrap();
    let marks = book.newest();
    let tie = |from: &str, m: &str| TieRow {
        from: from.into(),
        distance_m: decimal(m),
        sigma_mm: decimal("5"),
        rise_m: None,
        rise_sigma_mm: None,
    };
    let tied = PointRow {
        measured: Some(MeasuredFrom::Ties {
            ties: vec![tie("A", "4.888"), tie("B", "5.467")],
            side: "left".into(),
            level: None,
        }),
        ..point("P", "431002.500", "5712004.200", "9.5", Touched::OutsideTop)
    };
    shoot(&mut book, vec![tied], vec![]).unwrap();
    let moved = crate::body::EntryCorrected {
        entry: marks,
        reason: "both marks were read 1 m short in easting".into(),
        points: vec![
            point("A", "431001.000", "5712000.000", "10", Touched::Other),
            point("B", "431007.000", "5712000.000", "10", Touched::Other),
        ],
    };
    book.write(Act::EntryCorrected(moved)).unwrap();
    assert!((book.site.points["P"].placed.at.x - 3.5).abs() < 1e-3);
}

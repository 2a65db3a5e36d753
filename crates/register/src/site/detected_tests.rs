//! Points by satellite and by detector in the fold. Oracles: factors of normal errors by hand, sums in quadrature.

use super::measured_tests::*;
use super::tests::{Book, decimal, run};
use super::*;
use crate::body::{CoordinatesRow, DetectorRow, LevelFrom, MeasuredFrom, PointRow, SatelliteRow};
use crate::service::Service;
use crate::words::{DetectorMethod, FigureMeans, HeightAbove, Known, SatelliteFix, SurfaceKind, Touched};

pub(super) fn satellite(
    fix: SatelliteFix,
    h: Option<&str>,
    means: Option<FigureMeans>,
    level: LevelFrom,
) -> SatelliteRow {
    SatelliteRow {
        easting_m: decimal("431010.012"),
        northing_m: decimal("5712005.034"),
        fix,
        horizontal_mm: h.map(decimal),
        vertical_mm: h.map(decimal),
        means,
        level,
    }
}

pub(super) fn by_satellite(label: &str, row: SatelliteRow) -> PointRow {
    measured(label, MeasuredFrom::Satellite(Box::new(row)))
}

pub(super) fn receiver(above: HeightAbove) -> LevelFrom {
    LevelFrom::Receiver {
        height_m: decimal("11.500"),
        above,
        antenna_m: decimal("2.000"),
    }
}

#[test]
fn a_satellite_position_is_as_good_as_stated_and_never_better_than_its_kind() {
    let mut book = Book::opened();
    let level = || receiver(HeightAbove::SiteDatum);
    let fixed = |h, means| satellite(SatelliteFix::Fixed, h, means, level());
    let rows = vec![
        by_satellite("sigma", fixed(Some("20"), Some(FigureMeans::Sigma))),
        by_satellite("p95", fixed(Some("40"), Some(FigureMeans::P95))),
        by_satellite("p50", fixed(Some("20"), Some(FigureMeans::P50))),
        by_satellite("bold", fixed(Some("1"), Some(FigureMeans::Sigma))),
        by_satellite("kind", fixed(None, None)),
        by_satellite(
            "bold float",
            satellite(SatelliteFix::Float, Some("8"), Some(FigureMeans::Sigma), level()),
        ),
    ];
    record(&mut book, rows).unwrap();
    // By hand: 40 / 2.4477 and 40 / 1.96; 20 / 1.1774 and 20 / 0.6745.
    for (label, h, v) in [
        ("sigma", 20.0, 20.0),
        ("p95", 16.342, 20.409),
        ("p50", 16.986, 29.652),
        ("bold", 5.0, 10.0),
        ("kind", 30.0, 50.0),
        ("bold float", 100.0, 200.0),
    ] {
        let placed = &book.site.points[label].placed;
        assert!(
            (placed.sigma_h_m.unwrap() * 1000.0 - h).abs() < 1e-3,
            "{label} {placed:?}"
        );
        assert!(
            (placed.sigma_v_m.unwrap() * 1000.0 - v).abs() < 1e-3,
            "{label} {placed:?}"
        );
        assert!((placed.at.z - 9.5).abs() < 1e-9);
        let said = placed
            .doubts
            .iter()
            .any(|d| d.contains("is assumed") || d.contains("can promise"));
        assert_eq!(
            said,
            ["bold", "kind", "bold float"].contains(&label),
            "{label} {placed:?}"
        );
    }
}

#[test]
fn a_satellite_position_of_no_stated_kind_is_never_better_than_the_best_kind() {
    let mut book = Book::opened();
    let of = |label: &str, fix, mm| {
        let row = satellite(fix, Some(mm), Some(FigureMeans::Sigma), stated("9.5"));
        by_satellite(label, row)
    };
    let rows = vec![
        of("bold", SatelliteFix::NotStated, "1"),
        of("bold fixed", SatelliteFix::Fixed, "1"),
        of("modest", SatelliteFix::NotStated, "800"),
    ];
    record(&mut book, rows).unwrap();
    let placed = |label: &str| book.site.points[label].placed.clone();
    // What is not known of a position cannot make it better than the same figure with more known.
    assert!(placed("bold").sigma_h_m.unwrap() >= placed("bold fixed").sigma_h_m.unwrap() - 1e-12);
    assert!((placed("modest").sigma_h_m.unwrap() - 0.8).abs() < 1e-12);
    for (label, said) in [("bold", true), ("bold fixed", false), ("modest", true)] {
        let doubts = placed(label).doubts;
        let says = doubts
            .iter()
            .any(|d| d.contains("the kind of satellite solution is not stated"));
        assert_eq!(says, said, "{label} {doubts:?}");
    }
    assert!(placed("bold").doubts.iter().any(|d| d.contains("5 mm is taken")));
}

#[test]
fn a_satellite_height_that_is_no_level_is_refused() {
    let mut book = Book::opened();
    let p = |fix, means, level| by_satellite("P", satellite(fix, Some("20"), means, level));
    let sigma = Some(FigureMeans::Sigma);
    let site = || receiver(HeightAbove::SiteDatum);
    let ellipsoid = p(SatelliteFix::Fixed, sigma, receiver(HeightAbove::Ellipsoid));
    refused(
        &mut book,
        ellipsoid,
        "ellipsoid",
        "not a level of this site's datum",
    );
    for fix in [
        SatelliteFix::Differential,
        SatelliteFix::Single,
        SatelliteFix::NotStated,
    ] {
        refused(
            &mut book,
            p(fix, sigma, site()),
            "no-level",
            "tape down from a recorded surface",
        );
    }
    refused(
        &mut book,
        p(SatelliteFix::Fixed, None, site()),
        "means",
        "sigma, 95 or 50",
    );
    let elsewhere = by_offset("P", offset("1", "1", "left", site()));
    control(
        &mut book,
        &[("A", "431000", "5712000", "10"), ("B", "431030", "5712040", "10")],
    );
    refused(&mut book, elsewhere, "no-level", "read a staff on it");
}

/// Rules with a class default of 20 mm for one way of knowing.
fn default_of(known: &str) -> crate::body::RulesAdopted {
    let text = format!(
        r#"
format = "coverbook.rules/1"
id = "own"
title = "own"
jurisdiction = "this site"
note = "invented for this test"

[[uncertainty]]
id = "own-default"
known = "{known}"
sigma_h_mm = 20.0
sigma_v_mm = 20.0
source = "this test"
edition = "1"
clause = "1"
status = "seen"
"#
    );
    crate::body::RulesAdopted {
        text,
        confirmed: Vec::new(),
        left_out: Vec::new(),
    }
}

#[test]
fn the_plan_draws_a_class_default_only_where_one_may_stand() {
    // Nothing is stated of a telephone: no class stands for it.
    let mut book = Book::opened();
    let row = satellite(SatelliteFix::NotStated, None, None, stated("9.5"));
    record(&mut book, vec![by_satellite("P", row)]).unwrap();
    book.write(Act::RulesAdopted(default_of("seen"))).unwrap();
    let drawn = &book.site.map_view().unwrap().points[0];
    assert!(drawn.ellipse.is_none() && !drawn.assumed, "{drawn:?}");
    // Nothing checks an offset, so it is not of the class that its row claims; its ends state no uncertainty.
    let mut book = Book::opened();
    let end = |name: &str, e: &str| crate::body::ControlRow {
        point: name.into(),
        easting_m: decimal(e),
        northing_m: decimal("5712000"),
        level_m: decimal("10"),
        sigma_h_mm: None,
        sigma_v_mm: None,
        note: None,
    };
    book.write(Act::ControlRecorded(crate::body::ControlRecorded {
        import: None,
        points: vec![end("A", "431000"), end("B", "431030")],
    }))
    .unwrap();
    let claimed = PointRow {
        known: Some(Known::SeenChecked),
        ..by_offset("P", offset("20", "5", "left", stated("9.5")))
    };
    record(&mut book, vec![claimed]).unwrap();
    for (class, is_drawn) in [("seen-checked", false), ("seen", true)] {
        book.write(Act::RulesAdopted(default_of(class))).unwrap();
        let drawn = &book.site.map_view().unwrap().points[0];
        assert_eq!(
            (drawn.ellipse.is_some(), drawn.assumed),
            (is_drawn, is_drawn),
            "{class} {drawn:?}"
        );
    }
}

#[test]
fn a_satellite_position_of_no_stated_quality_is_not_placed_by_any_class_default() {
    let mut book = Book::opened();
    let of = |label: &str, fix| by_satellite(label, satellite(fix, None, None, stated("9.5")));
    let far = SatelliteRow {
        easting_m: decimal("431020"),
        ..satellite(SatelliteFix::NotStated, None, None, stated("9.5"))
    };
    record(
        &mut book,
        vec![of("P", SatelliteFix::NotStated), by_satellite("Q", far)],
    )
    .unwrap();
    book.write(Act::RunLaid(run("W1", Service::Water, &["P", "Q"], "63")))
        .unwrap();
    let record = &book.site.runs["W1"].record;
    // The rule set states 20 mm for what was seen; it says nothing of a telephone.
    let rules = Adopted::read(&default_of("seen"), 1).unwrap();
    assert_eq!(rules.sigma_m(Known::Seen), Some((0.02, 0.02)));
    for shot in &record.shots {
        let (sigma_h, _, assumed) = shot.sigmas_m(Some(&rules));
        assert_eq!((sigma_h, assumed), (None, false));
    }
    assert!(
        record
            .lay(Some(&rules))
            .unwrap()
            .tube
            .vertices
            .iter()
            .all(|v| v.growth.is_none())
    );
}

pub(super) fn detector(depth: &str) -> DetectorRow {
    DetectorRow {
        surface: "slab".into(),
        surface_kind: SurfaceKind::FinishedBuilt,
        depth_m: decimal(depth),
        method: DetectorMethod::Active,
        percent: decimal("5"),
        constant_mm: decimal("20"),
        across_mm: decimal("98"),
        means: FigureMeans::P95,
    }
}

pub(super) fn detected(label: &str, row: DetectorRow) -> PointRow {
    let marked = CoordinatesRow {
        easting_m: decimal("431010"),
        northing_m: decimal("5712010"),
        sigma_h_mm: Some(decimal("30")),
        level: LevelFrom::Detector(Box::new(row)),
    };
    PointRow {
        known: None,
        touched: Touched::Centre,
        ..measured(label, MeasuredFrom::Coordinates(Box::new(marked)))
    }
}

#[test]
fn what_a_detector_finds_is_traced_with_what_its_maker_states() {
    let mut book = Book::opened();
    slab(&mut book, "10.000", Some("5"), "2031-05-01").unwrap();
    record(&mut book, vec![detected("P", detector("1.200"))]).unwrap();
    let placed = &book.site.points["P"].placed;
    assert!((placed.at.z - 8.8).abs() < 1e-9);
    assert_eq!(placed.known, Some(Known::Traced));
    // By hand: 5 % of 1.2 m and 20 mm are 80 mm at 95 %, 40.817 as one sigma (80 / 1.95996), with 5 mm of surface;
    // across 98 mm at 95 % are 50.001, with 30 mm of the mark.
    assert!(
        (placed.sigma_v_m.unwrap() * 1000.0 - 40.817f64.hypot(5.0)).abs() < 1e-2,
        "{placed:?}"
    );
    assert!(
        (placed.sigma_h_m.unwrap() * 1000.0 - 50.001f64.hypot(30.0)).abs() < 1e-2,
        "{placed:?}"
    );
    let how = book.site.how(&book.site.points["P"]);
    assert!(
        how.contains("detected (active), not seen, 1.200 m below slab, finished-built, 2031-05-01"),
        "{how}"
    );
}

#[test]
fn a_detector_never_sees_and_never_touches_an_invert() {
    let mut book = Book::opened();
    slab(&mut book, "10.000", Some("5"), "2031-05-01").unwrap();
    for known in [Known::Seen, Known::SeenChecked] {
        let row = PointRow {
            known: Some(known),
            ..detected("P", detector("1.2"))
        };
        refused(&mut book, row, "detected-not-seen", "traced and never seen");
    }
    for touched in [
        Touched::Invert,
        Touched::OutsideBottom,
        Touched::Ground,
        Touched::Other,
    ] {
        let row = PointRow {
            touched,
            ..detected("P", detector("1.2"))
        };
        refused(
            &mut book,
            row,
            "detected-touched",
            "the centre of a line or its outside-top",
        );
    }
    let exact = DetectorRow {
        percent: decimal("0"),
        constant_mm: decimal("0"),
        ..detector("1.2")
    };
    refused(&mut book, detected("P", exact), "figure", "no detector is exact");
    let worse = PointRow {
        known: Some(Known::Assumed),
        ..detected("P", detector("1.2"))
    };
    record(&mut book, vec![worse]).unwrap();
    assert_eq!(book.site.points["P"].placed.known, Some(Known::Assumed));
}

#[test]
fn what_is_detected_below_a_drawing_is_drawn_whether_or_not_it_says_how_it_is_known() {
    let mut book = Book::opened();
    book.level_surface("drawn", SurfaceKind::FinishedDesign, "10.0");
    let below = || DetectorRow {
        surface: "drawn".into(),
        surface_kind: SurfaceKind::FinishedDesign,
        ..detector("1.2")
    };
    let stated = PointRow {
        known: Some(Known::Traced),
        ..detected("said", below())
    };
    record(&mut book, vec![detected("unsaid", below()), stated]).unwrap();
    for label in ["said", "unsaid"] {
        let placed = &book.site.points[label].placed;
        assert_eq!(placed.known, Some(Known::Drawn), "{label}");
        assert!(
            placed.doubts.iter().any(|d| d.contains("counted as drawn")),
            "{placed:?}"
        );
    }
}

//! Points by tape, satellite and detector in the fold. Oracles: right triangles by hand, sums in quadrature (JCGM 100),
//! and the scale of the grid by its textbook series.

use super::tests::{Book, decimal, point, run};
use super::*;
use crate::body::{
    Body, ControlRecorded, ControlRow, CoordinatesRow, EntryWithdrawn, LevelFrom, MeasuredFrom, OffsetRow,
    PointRow, SurfaceRecorded, SurfaceShape, TieRow,
};
use crate::entry::{Attached, seal};
use crate::service::Service;
use crate::words::{Known, SurfaceKind, Touched};
use ground::Vec2;

pub(super) const DAY: &str = "2031-05-03T07:00:00Z";

pub(super) fn control(book: &mut Book, points: &[(&str, &str, &str, &str)]) {
    let points = points
        .iter()
        .map(|(name, e, n, level)| ControlRow {
            point: (*name).into(),
            easting_m: decimal(e),
            northing_m: decimal(n),
            level_m: decimal(level),
            sigma_h_mm: Some(decimal("4")),
            sigma_v_mm: Some(decimal("3")),
            note: None,
        })
        .collect();
    book.write(Act::ControlRecorded(ControlRecorded { import: None, points }))
        .unwrap();
}

/// A, B on a 3-4-5 line 50 m long.
pub(super) fn with_control() -> Book {
    let mut book = Book::opened();
    control(
        &mut book,
        &[
            ("A", "431000.000", "5712000.000", "10.000"),
            ("B", "431030.000", "5712040.000", "10.500"),
        ],
    );
    book
}

pub(super) fn stated(level: &str) -> LevelFrom {
    LevelFrom::Stated {
        level_m: decimal(level),
        sigma_mm: decimal("5"),
    }
}

pub(super) fn depth(depth: &str) -> LevelFrom {
    LevelFrom::Depth {
        surface: "slab".into(),
        surface_kind: SurfaceKind::FinishedBuilt,
        depth_m: decimal(depth),
        sigma_mm: decimal("4"),
    }
}

pub(super) fn offset(chainage: &str, off: &str, side: &str, level: LevelFrom) -> OffsetRow {
    OffsetRow {
        from: "A".into(),
        to: "B".into(),
        chainage_m: decimal(chainage),
        chainage_sigma_mm: decimal("10"),
        offset_m: decimal(off),
        offset_sigma_mm: decimal("6"),
        side: side.into(),
        square_sigma_deg: None,
        level,
    }
}

pub(super) fn by_offset(label: &str, row: OffsetRow) -> PointRow {
    measured(label, MeasuredFrom::Offset(Box::new(row)))
}

pub(super) fn measured(label: &str, measured: MeasuredFrom) -> PointRow {
    PointRow {
        measured: Some(measured),
        sigma_h_mm: None,
        sigma_v_mm: None,
        ..point(label, "431000", "5712000", "10", Touched::OutsideTop)
    }
}

pub(super) fn tie(from: &str, m: &str) -> TieRow {
    TieRow {
        from: from.into(),
        distance_m: decimal(m),
        sigma_mm: decimal("5"),
        rise_m: None,
        rise_sigma_mm: None,
    }
}

/// Reckons the positions and records the points.
pub(super) fn record(book: &mut Book, mut rows: Vec<PointRow>) -> Result<Vec<Change>, Refusal> {
    book.site
        .fill_measured(&mut rows, DAY)
        .map_err(|mut refusals| refusals.remove(0))?;
    book.points(rows)
}

pub(super) fn refused(book: &mut Book, row: PointRow, code: &str, says: &str) {
    let before = (book.site.n, book.site.points.len());
    let refusal = record(book, vec![row]).unwrap_err();
    assert_eq!(refusal.code, code, "{}", refusal.says);
    assert!(refusal.says.contains(says), "{}", refusal.says);
    assert_eq!((book.site.n, book.site.points.len()), before);
}

pub(super) fn slab(
    book: &mut Book,
    level: &str,
    sigma_mm: Option<&str>,
    observed_at: &str,
) -> Result<Vec<Change>, Refusal> {
    let act = Act::SurfaceRecorded(SurfaceRecorded {
        surface: "slab".into(),
        surface_kind: SurfaceKind::FinishedBuilt,
        shape: SurfaceShape::Level {
            level_m: decimal(level),
        },
        sigma_v_mm: sigma_mm.map(decimal),
        within: None,
        import: None,
    });
    let body = Body {
        observed_at: observed_at.into(),
        ..book.body(act)
    };
    let (id, n, head) = (book.site.id, book.site.n + 1, book.site.head);
    let sealed = seal(
        id,
        n,
        &head,
        format!("2031-06-01T08:00:{n:02}.000Z"),
        body,
        Attached::new(),
    )
    .unwrap();
    book.site.apply(&sealed.entry)
}

#[test]
fn an_offset_is_laid_off_square_to_its_line() {
    let mut book = with_control();
    let rows = vec![
        by_offset("P", offset("20.000", "5.000", "right", stated("9.500"))),
        by_offset("Q", offset("20.000", "5.000", "left", stated("9.500"))),
    ];
    record(&mut book, rows).unwrap();
    // By hand: along (0.6, 0.8), right (0.8, -0.6), so 20 along and 5 to the right is (16, 13), and left (8, 19).
    // A tape reads ground distances. Scale of the grid by its series (textbook, from memory): 0.9996 (1 + x^2 / 2 R^2),
    // x 69 km from the middle meridian, R 6380 km.
    let scale = 0.9996 * (1.0 + (69.0f64 / 6380.0).powi(2) / 2.0);
    for (label, [e, n]) in [("P", [16.0, 13.0]), ("Q", [8.0, 19.0])] {
        let at = book.site.points[label].placed.at;
        assert!(
            (at.x - e * scale).abs() < 2e-4 && (at.y - n * scale).abs() < 2e-4,
            "{label} {at}"
        );
        assert_eq!(at.z, 9.5);
    }
    let placed = &book.site.points["P"].placed;
    // By hand: along the line 10 mm of tape and 5 m x 1 degree = 87.3 mm of an angle set by eye; the ends' 4 mm,
    // weighed by 0.6 and 0.4 across, change that by less than a millimetre.
    let along = 0.010f64.hypot(5.0 * 1f64.to_radians());
    assert!((placed.sigma_h_m.unwrap() - along).abs() < 1e-3, "{placed:?}");
    assert!(placed.doubts.iter().any(|d| d.contains("by eye")), "{placed:?}");
    assert_eq!(placed.known, Some(Known::Seen));
    let how = book.site.how(&book.site.points["P"]);
    assert_eq!(
        how,
        "taped 20.000 m along the line from A to B, 5.000 m to the right; level 9.500 m, stated"
    );
}

#[test]
fn an_offset_says_its_side_in_words() {
    let mut book = with_control();
    let p = |side: &str, off: &str| by_offset("P", offset("20", off, side, stated("9.5")));
    refused(&mut book, p("right", "-5"), "figure", "the side in words");
    refused(
        &mut book,
        p("on-line", "5"),
        "offset",
        "write left or right, looking from A to B",
    );
    refused(&mut book, p("starboard", "5"), "offset", "starboard");
    let unknown = OffsetRow {
        to: "Z".into(),
        ..offset("20", "5", "left", stated("9.5"))
    };
    refused(
        &mut book,
        by_offset("P", unknown),
        "not-known",
        "Z is neither control nor a recorded point",
    );
    let no_sigma = OffsetRow {
        offset_sigma_mm: decimal("0"),
        ..offset("20", "5", "left", stated("9.5"))
    };
    refused(
        &mut book,
        by_offset("P", no_sigma),
        "figure",
        "offset_sigma_mm is 0",
    );
    record(&mut book, vec![p("on-line", "0")]).unwrap();
}

#[test]
fn two_ties_cap_what_is_known_and_a_third_that_fits_does_not() {
    let mut book = Book::opened();
    control(
        &mut book,
        &[
            ("A", "431000.000", "5712000.000", "10"),
            ("B", "431006.000", "5712000.000", "10"),
            ("C", "431001.000", "5712008.000", "10"),
        ],
    );
    // Distances on the ground of a point at (2.5, 4.2), by Pythagoras: 4.888, 5.467, 4.085 (and 0.34 per mille more).
    let taped = |label: &str, ties: Vec<TieRow>| PointRow {
        known: Some(Known::SeenChecked),
        ..measured(
            label,
            MeasuredFrom::Ties {
                ties,
                side: "left".into(),
                level: Some(Box::new(stated("9.5"))),
            },
        )
    };
    let two = vec![tie("A", "4.890"), tie("B", "5.469")];
    let three = [two.clone(), vec![tie("C", "4.086")]].concat();
    let off = [two.clone(), vec![tie("C", "4.586")]].concat();
    record(
        &mut book,
        vec![taped("P2", two), taped("P3", three), taped("P4", off)],
    )
    .unwrap();
    let placed = |label: &str| book.site.points[label].placed.clone();
    assert!(
        (placed("P3").at.xy() - Vec2::new(2.5, 4.2)).norm() < 1.5e-3,
        "{}",
        placed("P3").at
    );
    assert_eq!(placed("P2").known, Some(Known::Seen));
    assert!(
        placed("P2")
            .doubts
            .iter()
            .any(|d| d.contains("no third tie checks it"))
    );
    assert_eq!(
        (placed("P3").known, placed("P3").suspect),
        (Some(Known::SeenChecked), false)
    );
    assert_eq!(
        (placed("P4").known, placed("P4").suspect),
        (Some(Known::Seen), true)
    );
    assert!(
        placed("P4")
            .doubts
            .iter()
            .any(|d| d.contains("close to") || d.contains("misses by"))
    );
}

#[test]
fn a_tape_along_a_slope_is_made_level_with_its_sigma() {
    let mut book = Book::opened();
    control(
        &mut book,
        &[
            ("A", "431000.000", "5712000.000", "10"),
            ("B", "431005.000", "5712000.000", "10"),
        ],
    );
    // The 3-4-5 triangle: 5 m of tape over 3 m of rise is 4 m; 3 m level from B; 5 m between them: a right angle.
    let sloping = TieRow {
        rise_m: Some(decimal("3.000")),
        rise_sigma_mm: Some(decimal("4")),
        ..tie("A", "5.000")
    };
    let row = |label: &str, first: &TieRow| {
        let ties = MeasuredFrom::Ties {
            ties: vec![first.clone(), tie("B", "3.001")],
            side: "right".into(),
            level: Some(Box::new(stated("9.5"))),
        };
        measured(label, ties)
    };
    let unsaid = TieRow {
        rise_sigma_mm: None,
        ..sloping.clone()
    };
    record(&mut book, vec![row("P", &sloping), row("Q", &unsaid)]).unwrap();
    let placed = &book.site.points["P"].placed;
    // By hand: 4^2 / 5 = 3.2 along, 2.4 off.
    assert!(
        (placed.at.xy() - Vec2::new(3.2, -2.4)).norm() < 3e-3,
        "{}",
        placed.at
    );
    // 5 mm along the slope are 5 x 5 / 4 on the level and 4 mm of rise 4 x 3 / 4, with 4 mm of the mark: the larger
    // of the two ties.
    let sigma = 0.006_25f64.hypot(0.003).hypot(0.004);
    assert!((placed.sigma_h_m.unwrap() - sigma).abs() < 2e-4, "{placed:?}");
    assert!(!placed.doubts.iter().any(|d| d.contains("rise")), "{placed:?}");
    // Not stated, 20 mm of rise are 15 on the level, and that is told.
    let placed = &book.site.points["Q"].placed;
    let sigma = 0.006_25f64.hypot(0.015).hypot(0.004);
    assert!((placed.sigma_h_m.unwrap() - sigma).abs() < 2e-4, "{placed:?}");
    assert!(
        placed
            .doubts
            .iter()
            .any(|d| d.contains("20 mm (1 sigma) is assumed")),
        "{placed:?}"
    );
    let no_rise = TieRow {
        rise_m: None,
        ..sloping
    };
    refused(&mut book, row("R", &no_rise), "ties", "no rise");
}

#[test]
fn a_level_by_staff_hangs_on_its_mark() {
    let mut book = with_control();
    let staff = LevelFrom::Staff {
        mark: "A".into(),
        back_m: decimal("1.425"),
        fore_m: decimal("2.310"),
        sigma_mm: decimal("4"),
    };
    record(&mut book, vec![by_offset("P", offset("20", "5", "left", staff))]).unwrap();
    let placed = &book.site.points["P"].placed;
    // By hand: 10.000 + 1.425 - 2.310; 3 mm of the mark and 4 of the reading make 5.
    assert!((placed.at.z - 9.115).abs() < 1e-9);
    assert!((placed.sigma_v_m.unwrap() - 0.005).abs() < 1e-9);
    control(&mut book, &[("A", "431000.000", "5712000.000", "10.020")]);
    let placed = &book.site.points["P"].placed;
    assert!((placed.at.z - 9.135).abs() < 1e-9, "{}", placed.at);
    assert!(
        placed.doubts.iter().any(|d| d.contains("+20 mm in level")),
        "{placed:?}"
    );
}

#[test]
fn a_depth_hangs_on_its_surface_as_it_stood_that_day() {
    let mut book = with_control();
    slab(&mut book, "10.000", Some("5"), "2031-05-01").unwrap();
    let rows = vec![
        by_offset("P", offset("10", "2", "left", depth("0.450"))),
        by_offset("Q", offset("30", "2", "left", depth("0.500"))),
    ];
    record(&mut book, rows).unwrap();
    book.write(Act::RunLaid(run("E1", Service::ElectricLv, &["P", "Q"], "50")))
        .unwrap();
    let z = |book: &Book, label: &str| book.site.points[label].placed.at.z;
    assert!((z(&book, "P") - 9.550).abs() < 1e-9 && (z(&book, "Q") - 9.500).abs() < 1e-9);
    // 4 mm of tape and 5 mm of surface: root of 41.
    let sigma = book.site.points["P"].placed.sigma_v_m.unwrap();
    assert!((sigma - 41f64.sqrt() / 1000.0).abs() < 1e-9);
    assert!(
        book.site
            .how(&book.site.points["P"])
            .ends_with("taped 0.450 m below slab, finished-built, 2031-05-01")
    );
    // Later works leave the level where it was.
    assert!(
        slab(&mut book, "11.000", Some("5"), "2031-05-20")
            .unwrap()
            .is_empty()
    );
    assert!((z(&book, "P") - 9.550).abs() < 1e-9);
    // A better survey of the surface that the tape hung from moves it, and the run through it.
    let changes = slab(&mut book, "10.030", Some("2"), "2031-05-02").unwrap();
    assert!(matches!(&changes[..], [Change::RunRecorded(record)] if record.key == "E1"));
    assert!((z(&book, "P") - 9.580).abs() < 1e-9);
    assert!(
        book.site.points["P"]
            .placed
            .doubts
            .iter()
            .any(|d| d.contains("+30 mm in level"))
    );
    // Taken back, the state before answers again; the last one stands as long as a depth hangs on it.
    let newest = book.newest();
    book.write(Act::EntryWithdrawn(EntryWithdrawn {
        entry: newest,
        reason: "wrong staff".into(),
    }))
    .unwrap();
    assert!((z(&book, "P") - 9.550).abs() < 1e-9);
    let first = book
        .site
        .entries
        .iter()
        .find(|(_, m)| m.kind == "SurfaceRecorded" && m.n == 3)
        .map(|(id, _)| *id);
    let refusal = book
        .write(Act::EntryWithdrawn(EntryWithdrawn {
            entry: first.unwrap(),
            reason: "never was".into(),
        }))
        .unwrap_err();
    assert_eq!(refusal.code, "in-use");
    assert!(
        refusal.says.contains("record what is right first"),
        "{}",
        refusal.says
    );
    assert_eq!(book.site.surfaces.len(), 2);
}

#[test]
fn a_depth_below_an_uncertain_a_drawn_or_a_missing_surface_says_so() {
    let mut book = with_control();
    let p = |level| by_offset("P", offset("10", "2", "left", level));
    refused(
        &mut book,
        p(depth("0.45")),
        "surface",
        "no surface is named slab, finished-built; record it first",
    );
    slab(&mut book, "10.000", None, "2031-05-04").unwrap();
    refused(
        &mut book,
        p(depth("0.45")),
        "surface",
        "was first observed on 2031-05-04",
    );
    slab(&mut book, "10.000", None, "2031-05-03T16:00:00Z").unwrap();
    refused(&mut book, p(depth("-0.45")), "figure", "straight down");
    record(&mut book, vec![p(depth("0.45"))]).unwrap();
    let placed = &book.site.points["P"].placed;
    // 0.1 m at 95 % is 51.02 mm (0.1 / 1.95996), with 4 mm of tape.
    assert!((placed.sigma_v_m.unwrap() - 0.051_021f64.hypot(0.004)).abs() < 1e-6);
    assert!(
        placed.doubts.iter().any(|d| d.contains("0.1 m at 95 % is taken")),
        "{placed:?}"
    );
    book.level_surface("drawn", SurfaceKind::FinishedDesign, "10.0");
    let below_drawing = LevelFrom::Depth {
        surface: "drawn".into(),
        surface_kind: SurfaceKind::FinishedDesign,
        depth_m: decimal("0.3"),
        sigma_mm: decimal("4"),
    };
    record(
        &mut book,
        vec![by_offset("R", offset("12", "2", "left", below_drawing))],
    )
    .unwrap();
    assert_eq!(book.site.points["R"].placed.known, Some(Known::Drawn));
}

#[test]
fn a_depth_outside_its_surface_is_refused_and_a_slope_adds_the_plan() {
    let mut book = with_control();
    let ring = [
        ["431000", "5712000"],
        ["431020", "5712000"],
        ["431020", "5712030"],
        ["431000", "5712030"],
    ];
    book.write(Act::SurfaceRecorded(SurfaceRecorded {
        surface: "slab".into(),
        surface_kind: SurfaceKind::FinishedBuilt,
        // Falls 1 in 10 to the east.
        shape: SurfaceShape::Plane {
            points: [
                ["431000", "5712000", "10"],
                ["431010", "5712000", "9"],
                ["431000", "5712010", "10"],
            ]
            .map(|p| p.map(decimal))
            .to_vec(),
        },
        sigma_v_mm: Some(decimal("5")),
        within: Some(ring.map(|[e, n]| [decimal(e), decimal(n)]).to_vec()),
        import: None,
    }))
    .unwrap();
    let at = |label: &str, e: &str| {
        measured(
            label,
            MeasuredFrom::Coordinates(Box::new(CoordinatesRow {
                easting_m: decimal(e),
                northing_m: decimal("5712010"),
                sigma_h_mm: Some(decimal("100")),
                level: depth("0.400"),
            })),
        )
    };
    refused(
        &mut book,
        at("far", "431025"),
        "outside-surface",
        "record the surface as far as here",
    );
    record(&mut book, vec![at("P", "431010")]).unwrap();
    let placed = &book.site.points["P"].placed;
    assert!((placed.at.z - 8.6).abs() < 1e-9);
    // 100 mm in plan are 10 mm of level on a slope of 1 in 10; 5 of the surface, 4 of the tape: root of 141.
    assert!((placed.sigma_v_m.unwrap() - 141f64.sqrt() / 1000.0).abs() < 1e-9);
    assert!((placed.sigma_h_m.unwrap() - 0.1).abs() < 1e-12);
}

use super::entry_view;
use crate::body::{Act, EntryWithdrawn, NoteAdded};
use crate::entry::{Attached, seal, write_body};
use crate::service::Service;
use crate::site::tests::{Book, decimal, point, run};
use crate::words::{SearchOutcome, SurfaceKind, Touched};
use uuid::Uuid;

fn nobody(_: Uuid) -> String {
    "Ada Quill".into()
}

#[test]
fn the_state_counts_what_is_recorded_and_names_grid_and_datum() {
    let mut book = Book::with_a_run();
    book.level_surface("yard", SurfaceKind::Existing, "10.000");
    book.level_surface("yard", SurfaceKind::Existing, "10.100");
    let view = book.site.site_view();
    assert_eq!(
        (view.counts.points, view.counts.runs, view.counts.legs),
        (2, 1, 1)
    );
    assert_eq!(view.grid.epsg, Some(32630));
    assert!(view.grid.name.contains("30N"), "{}", view.grid.name);
    assert_eq!(view.surfaces.len(), 1);
    assert_eq!(view.surfaces[0].level_m.map(|l| l.text()), Some("10.100".into()));
    assert_eq!(view.cautions.len(), 10);
    assert!(view.rules.is_none());
}

#[test]
fn the_plan_holds_the_outside_top_and_its_uncertainty_on_the_grid() {
    let mut book = Book::with_a_run();
    let square = [
        ["430990", "5711990"],
        ["431020", "5711990"],
        ["431020", "5712010"],
        ["430990", "5712010"],
    ];
    book.search(square, "8.0", SearchOutcome::AllFoundRecorded);
    let map = book.site.map_view().unwrap();
    let line: Vec<String> = map.runs[0].line[1].iter().map(|n| n.text()).collect();
    assert_eq!(line, ["431010.000", "5712000.000", "9.500"]);
    // 2.447747 x 3 mm, rounded up.
    assert_eq!(map.runs[0].u95_h_m[0].text(), "0.008");
    assert!(map.searched[0].counts);
    assert_eq!(map.min.map(|m| m[0].text()), Some("430990.000".into()));
}

#[test]
fn a_card_keeps_the_reading_digit_for_digit_beside_what_was_reckoned() {
    let mut book = Book::with_a_run();
    let bare = book.site.run_card("E1", None, &nobody).unwrap();
    assert!(bare.vertices[0].cover_m.is_none() && bare.vertices[0].why["cover_m"].contains("no surface"));
    book.level_surface("yard", SurfaceKind::Existing, "10.000");
    let card = book.site.run_card("E1", None, &nobody).unwrap();
    let vertex = &card.vertices[0];
    assert_eq!(vertex.measured, ["431000.000", "5712000.000", "9.500"]);
    assert_eq!(
        (vertex.top_level_m.text(), vertex.axis[2].text()),
        ("9.500".into(), "9.475".into())
    );
    assert_eq!(vertex.cover_m.map(|c| c.text()), Some("0.500".into()));
    // Outside 50 mm, wall 3 mm: the invert lies 47 mm below the outside top.
    assert_eq!(vertex.invert_level_m.map(|l| l.text()), Some("9.453".into()));
    assert_eq!(vertex.depth_to_invert_m.map(|d| d.text()), Some("0.547".into()));
    assert_eq!(vertex.by, "Ada Quill");
    assert!(vertex.cover_u95_m.is_none() && vertex.why["cover_u95_m"].contains("not stated"));
    assert_eq!(card.below.as_deref(), Some("yard, existing, 2031-05-03"));
    assert_eq!(card.entries, vec![3, 2]);
    assert!(book.site.run_card("E9", None, &nobody).is_err());
}

#[test]
fn a_cover_under_a_slope_is_measured_from_beside_the_top() {
    let mut book = Book::opened();
    book.points(vec![
        point("1", "431000", "5712000", "9.000", Touched::Centre),
        point("2", "431010", "5712000", "9.000", Touched::Centre),
    ])
    .unwrap();
    book.write(Act::RunLaid(run("E1", Service::ElectricLv, &["1", "2"], "200")))
        .unwrap();
    // A plane that rises 1 in 2 to the north and stands at 10.000 over the run.
    let corner = |e: &str, n: &str, level: &str| [decimal(e), decimal(n), decimal(level)];
    let points = vec![
        corner("431000", "5712000", "10"),
        corner("431010", "5712000", "10"),
        corner("431000", "5712010", "15"),
    ];
    let plane = crate::body::SurfaceRecorded {
        surface: "bank".into(),
        surface_kind: SurfaceKind::Existing,
        shape: crate::body::SurfaceShape::Plane { points },
        sigma_v_mm: None,
        within: None,
        import: None,
    };
    book.write(Act::SurfaceRecorded(plane)).unwrap();
    let card = book.site.run_card("E1", None, &nobody).unwrap();
    // Closed form: 1 m less the radius of 0.1 m times sqrt(1 + 0.25): 0.888197, rounded down.
    assert_eq!(card.vertices[0].cover_m.map(|c| c.text()), Some("0.888".into()));
    assert!((card.legs[0].cover.least_cover_m.unwrap().0 - 0.888_197).abs() < 1.1e-4);
}

#[test]
fn the_book_tells_an_entry_as_a_sentence_and_shows_what_took_it_back() {
    let mut book = Book::with_a_run();
    book.write(Act::NoteAdded(NoteAdded {
        about: Some("E1".into()),
        text: "lid <b>loose</b>".into(),
    }))
    .unwrap();
    let note_id = book.newest();
    book.write(Act::EntryWithdrawn(EntryWithdrawn {
        entry: note_id,
        reason: "it was another lid".into(),
    }))
    .unwrap();
    let body = crate::body::Body {
        act: Act::NoteAdded(NoteAdded {
            about: Some("E1".into()),
            text: "lid <b>loose</b>".into(),
        }),
        v: 1,
        id: note_id,
        by: Uuid::from_u128(2),
        device: "test".into(),
        observed_at: "2031-05-03T07:00:00Z".into(),
    };
    let bytes = write_body(&body).unwrap();
    let sealed = seal(
        book.site.id,
        4,
        &[0; 32],
        "2031-05-03T08:00:00.000Z".into(),
        body,
        Attached::new(),
    )
    .unwrap();
    let view = entry_view(&book.site, &sealed.entry, &bytes, &nobody);
    assert_eq!(view.says, "E1: lid <b>loose</b>");
    assert_eq!(view.withdrawn.as_deref(), Some("by entry 5: it was another lid"));
}

/// Two tapes at a right angle from control that is as good as exact: the ellipse lies along them (closed form), one sigma 3 mm along the one
/// and 4 mm along the other. Axes and direction also by nalgebra's eigen-decomposition of the covariance.
#[test]
fn a_tied_point_has_the_ellipse_of_its_tapes_on_plan_and_card() {
    use crate::body::{ControlRecorded, ControlRow, MeasuredFrom, TieRow};
    let mut book = Book::opened();
    let control = |label: &str, e: &str, n: &str, sigma: Option<&str>| ControlRow {
        point: label.into(),
        easting_m: decimal(e),
        northing_m: decimal(n),
        level_m: decimal("10.000"),
        sigma_h_mm: sigma.map(decimal),
        sigma_v_mm: None,
        note: None,
    };
    book.write(Act::ControlRecorded(ControlRecorded {
        import: None,
        points: vec![
            control("C1", "431000.000", "5711996.000", Some("0.01")),
            control("C2", "431005.000", "5712000.000", Some("0.01")),
            control("C3", "431050.000", "5712050.000", Some("2")),
            control("C4", "431060.000", "5712050.000", None),
        ],
    }))
    .unwrap();
    let tie = |from: &str, distance: &str, sigma: &str| TieRow {
        from: from.into(),
        distance_m: decimal(distance),
        sigma_mm: decimal(sigma),
        rise_m: None,
        rise_sigma_mm: None,
    };
    let mut tied = point("1", "431000.000", "5712000.000", "9.500", Touched::OutsideTop);
    tied.measured = Some(MeasuredFrom::Ties {
        ties: vec![tie("C1", "4.000", "4"), tie("C2", "5.000", "3")],
        side: "left".into(),
        level: None,
    });
    book.points(vec![
        tied,
        point("2", "431010.000", "5712000.000", "9.500", Touched::OutsideTop),
    ])
    .unwrap();
    book.write(Act::RunLaid(run("E1", Service::ElectricLv, &["1", "2"], "50.0")))
        .unwrap();
    let map = book.site.map_view().unwrap();
    let ellipse = map.points[0].ellipse.clone().unwrap();
    // 2.447747 x 4 mm and x 3 mm, rounded up; the longer lies along the tape from the south.
    assert_eq!(
        (ellipse.semi_major_m.text(), ellipse.semi_minor_m.text()),
        ("0.010".into(), "0.008".into())
    );
    assert_eq!(ellipse.azimuth_deg, Some(0.0));
    let plan = book.site.points["1"].placed.plan.unwrap();
    let matrix = nalgebra::Matrix2::new(plan.ee_m2, plan.en_m2, plan.en_m2, plan.nn_m2);
    let eigen = nalgebra::SymmetricEigen::new(matrix);
    let largest = eigen.eigenvalues.max().sqrt();
    assert!((ellipse.semi_major_m.0 - 2.447_746_830_680_816 * largest).abs() < 1e-12);
    let card = book.site.run_card("E1", None, &nobody).unwrap();
    assert_eq!(card.vertices[0].ellipse, Some(ellipse.clone()));
    // The radial figure stays the longer axis.
    assert_eq!(card.vertices[0].u95_h_m, Some(ellipse.semi_major_m));
    // A sigma alike on both axes is a circle and has no direction.
    assert_eq!(card.vertices[1].ellipse.as_ref().unwrap().azimuth_deg, None);
    let stated = |label: &str| map.control.iter().find(|c| c.point == label).unwrap().clone();
    assert_eq!(stated("C3").ellipse.unwrap().semi_major_m.text(), "0.005");
    assert!(stated("C4").ellipse.is_none() && stated("C4").why["ellipse"].contains("not stated"));
}

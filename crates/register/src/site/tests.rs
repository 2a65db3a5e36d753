use super::*;
use crate::body::{
    Act, AreaSearched, Distances, DownTo, EntryCorrected, EntryWithdrawn, PointRow, PointsRecorded,
    RunAmended, RunEnd, RunLaid, RunRetired, SectionRow, SurfaceRecorded, SurfaceShape,
};
use crate::entry::{Attached, Unreadable, seal};
use crate::run_record::RunStatus;
use crate::service::Service;
use crate::words::{Retirement, SearchOutcome, SurfaceKind, Touched};
use survey::Decimal;

/// A journal under test: an invented site, and entries sealed one after another.
pub(crate) struct Book {
    pub(crate) site: Site,
    made: u128,
}

pub(crate) fn decimal(text: &str) -> Decimal {
    text.parse().unwrap()
}

pub(crate) fn point(label: &str, e: &str, n: &str, level: &str, touched: Touched) -> PointRow {
    PointRow {
        point: label.into(),
        easting_m: decimal(e),
        northing_m: decimal(n),
        level_m: decimal(level),
        touched,
        side_bearing_deg: None,
        sigma_h_mm: Some(decimal("3")),
        sigma_v_mm: Some(decimal("2")),
        known: Some(crate::words::Known::Seen),
        fitting: None,
        bend_radius_mm: None,
        observed_at: None,
        note: None,
        same_as: None,
        measured: None,
        row: None,
    }
}

pub(crate) fn run(name: &str, service: Service, points: &[&str], outside_mm: &str) -> RunLaid {
    RunLaid {
        run: name.into(),
        service,
        points: points.iter().map(|p| p.to_string()).collect(),
        section: SectionRow {
            outside_mm: Some(decimal(outside_mm)),
            wall_mm: Some(decimal("3.0")),
            ..SectionRow::default()
        },
        ends: [RunEnd::Capped, RunEnd::Capped],
        bow_mm: None,
        owner: None,
        note: None,
        import_id: None,
    }
}

impl Book {
    pub(crate) fn opened() -> Book {
        let id = Uuid::from_u128(1);
        let mut book = Book {
            site: Site::empty(id),
            made: 100,
        };
        book.write(Act::SiteOpened(SiteOpened {
            site: id,
            name: "Skerry Quay".into(),
            epsg: Some(32630),
            level_datum: "Skerry harbour datum".into(),
            bench_mark: "bolt on the quay wall, 4.216".into(),
            distances: Distances::Grid,
            near_easting_m: decimal("431000"),
            near_northing_m: decimal("5712000"),
            near_level_m: decimal("10"),
            reach_m: decimal("5000"),
            level_reach_m: decimal("200"),
            contact: None,
        }))
        .unwrap();
        book
    }

    pub(crate) fn body(&mut self, act: Act) -> Body {
        self.made += 1;
        Body {
            act,
            v: 1,
            id: Uuid::from_u128(self.made),
            by: Uuid::from_u128(2),
            device: "test".into(),
            observed_at: "2031-05-03T07:00:00Z".into(),
        }
    }

    pub(crate) fn write(&mut self, act: Act) -> Result<Vec<Change>, Refusal> {
        self.write_with(act, Attached::new())
    }

    pub(crate) fn write_with(&mut self, act: Act, attached: Attached) -> Result<Vec<Change>, Refusal> {
        let body = self.body(act);
        let recorded_at = format!("2031-05-03T08:{:02}:00.000Z", self.site.n % 60);
        let sealed = seal(
            self.site.id,
            self.site.n + 1,
            &self.site.head,
            recorded_at,
            body,
            attached,
        )
        .unwrap();
        self.site.apply(&sealed.entry)
    }

    /// The id of the newest entry.
    pub(crate) fn newest(&self) -> Uuid {
        Uuid::from_u128(self.made)
    }

    pub(crate) fn points(&mut self, points: Vec<PointRow>) -> Result<Vec<Change>, Refusal> {
        self.write(Act::PointsRecorded(PointsRecorded {
            import: None,
            points,
            checks: Vec::new(),
        }))
    }

    /// A run of two points, 10 m due east, outside top at level 9.500.
    pub(crate) fn with_a_run() -> Book {
        let mut book = Book::opened();
        book.points(vec![
            point("1", "431000.000", "5712000.000", "9.500", Touched::OutsideTop),
            point("2", "431010.000", "5712000.000", "9.500", Touched::OutsideTop),
        ])
        .unwrap();
        book.write(Act::RunLaid(run("E1", Service::ElectricLv, &["1", "2"], "50.0")))
            .unwrap();
        book
    }

    pub(crate) fn level_surface(&mut self, name: &str, kind: SurfaceKind, level: &str) {
        self.write(Act::SurfaceRecorded(SurfaceRecorded {
            surface: name.into(),
            surface_kind: kind,
            shape: SurfaceShape::Level {
                level_m: decimal(level),
            },
            sigma_v_mm: None,
            within: None,
            import: None,
        }))
        .unwrap();
    }

    pub(crate) fn search(&mut self, ring: [[&str; 2]; 4], down_to: &str, outcome: SearchOutcome) {
        self.write(Act::AreaSearched(AreaSearched {
            area: "A".into(),
            ring: ring.iter().map(|[e, n]| [decimal(e), decimal(n)]).collect(),
            services: None,
            method: "trench open, everything seen was shot".into(),
            down_to: DownTo::Level {
                level_m: decimal(down_to),
            },
            outcome,
            sigma_h_mm: Some(decimal("10")),
            import: None,
        }))
        .unwrap();
    }
}

#[test]
fn the_axis_lies_a_radius_below_an_outside_top() {
    let book = Book::with_a_run();
    let record = &book.site.runs["E1"].record;
    let laid = record.lay(None).unwrap();
    for vertex in &laid.tube.vertices {
        assert!((vertex.axis.z - 9.475).abs() < 1e-9);
    }
}

#[track_caller]
fn refused(book: &mut Book, act: Act, expected: &str) {
    let (n, head, points, runs) = (
        book.site.n,
        book.site.head,
        book.site.points.clone(),
        book.site.runs.len(),
    );
    let refusal = book.write(act).unwrap_err();
    assert!(refusal.says.contains(expected), "{}", refusal.says);
    assert_eq!(
        (book.site.n, book.site.head),
        (n, head),
        "a refused entry moved the head"
    );
    assert_eq!(
        (&book.site.points, book.site.runs.len()),
        (&points, runs),
        "a refused entry changed something"
    );
}

#[test]
fn a_refused_entry_changes_nothing_and_says_how_to_mend_it() {
    let mut book = Book::with_a_run();
    let rows = |rows: Vec<PointRow>| {
        Act::PointsRecorded(PointsRecorded {
            import: None,
            points: rows,
            checks: Vec::new(),
        })
    };
    let fresh = point("3", "431005", "5712003", "9", Touched::Centre);
    let taken = point("1", "431005", "5712003", "9", Touched::Centre);
    refused(
        &mut book,
        rows(vec![fresh.clone(), taken]),
        "taken by a point of entry 2; import with a prefix",
    );
    refused(
        &mut book,
        rows(vec![fresh.clone(), fresh]),
        "stands twice in this import",
    );
    let swapped = point("4", "5712003", "431005", "9", Touched::Centre);
    refused(
        &mut book,
        rows(vec![swapped]),
        "easting and northing look swapped",
    );
    let feet = point("4", "1414058.4", "18740167.3", "9", Touched::Centre);
    refused(&mut book, rows(vec![feet]), "looks like feet");
    let high = point("4", "431005", "5712003", "900", Touched::Centre);
    refused(&mut book, rows(vec![high]), "check datum, unit and columns");
    refused(
        &mut book,
        Act::RunLaid(run("E1", Service::Gas, &["1", "2"], "50")),
        "amend it, or choose another name",
    );
    refused(
        &mut book,
        Act::RunLaid(run("E2", Service::Gas, &["1", "9"], "50")),
        "point 9 is not recorded",
    );
    refused(
        &mut book,
        Act::RunLaid(run("E2", Service::Gas, &["1", "2"], "7000")),
        "out of reason",
    );
    let withdraw = EntryWithdrawn {
        entry: Uuid::from_u128(102),
        reason: "wrong job".into(),
    };
    refused(
        &mut book,
        Act::EntryWithdrawn(withdraw),
        "run E1 passes through points of entry 2",
    );
}

#[test]
fn a_run_cannot_stand_on_a_point_that_touched_the_ground() {
    let mut book = Book::with_a_run();
    book.points(vec![point("g", "431020", "5712000", "10", Touched::Ground)])
        .unwrap();
    refused(
        &mut book,
        Act::RunLaid(run("E2", Service::Gas, &["1", "g"], "50")),
        "point g touched ground",
    );
}

#[test]
fn correcting_a_point_moves_the_runs_through_it() {
    let mut book = Book::with_a_run();
    let entry = Uuid::from_u128(102);
    let as_centre = point("2", "431010.000", "5712000.000", "9.475", Touched::Centre);
    let correction = EntryCorrected {
        entry,
        reason: "the pole stood on the joint".into(),
        points: vec![as_centre],
    };
    let changes = book.write(Act::EntryCorrected(correction)).unwrap();
    assert!(matches!(&changes[..], [Change::RunRecorded(record)] if record.key == "E1"));
    assert_eq!(book.site.runs["E1"].record.shots[1].touched, Touched::Centre);
    assert_eq!(book.site.points["2"].corrected, vec![4]);
}

#[test]
fn a_correction_that_breaks_a_run_is_refused_whole() {
    let mut book = Book::with_a_run();
    let entry = Uuid::from_u128(102);
    let onto_the_other = point("2", "431000.000", "5712000.000", "9.500", Touched::OutsideTop);
    let correction = EntryCorrected {
        entry,
        reason: "typed wrong".into(),
        points: vec![onto_the_other],
    };
    refused(&mut book, Act::EntryCorrected(correction), "E1");
}

#[test]
fn a_stale_amendment_is_held_beside_the_standing_revision_until_settled() {
    let mut book = Book::with_a_run();
    let saw = book.site.runs["E1"].revision();
    let amend = |saw, outside: &str| {
        Act::RunAmended(RunAmended {
            saw,
            reason: "measured again".into(),
            becomes: run("E1", Service::ElectricLv, &["1", "2"], outside),
        })
    };
    book.write(amend(saw, "63.0")).unwrap();
    book.write(amend(saw, "75.0")).unwrap();
    let keys = |book: &Book| {
        book.site.runs["E1"]
            .in_the_ground()
            .map(|r| (r.key.clone(), r.section.width_m))
            .collect::<Vec<_>>()
    };
    assert_eq!(
        keys(&book),
        vec![("E1".into(), 0.063), ("E1 (held 5)".into(), 0.075)]
    );
    let newest = book.site.runs["E1"].revision();
    let changes = book.write(amend(newest, "75.0")).unwrap();
    assert!(
        changes
            .iter()
            .any(|c| matches!(c, Change::RunGone(key) if key == "E1 (held 5)"))
    );
    assert_eq!(keys(&book), vec![("E1".into(), 0.075)]);
}

#[test]
fn only_a_removal_that_was_seen_takes_a_run_out_of_the_ground() {
    for (how, removal_seen, stays) in [
        (Retirement::Abandoned, false, Some(RunStatus::Abandoned)),
        (Retirement::Removed, false, Some(RunStatus::RemovalNotSeen)),
        (Retirement::Removed, true, None),
    ] {
        let mut book = Book::with_a_run();
        let retired = RunRetired {
            run: "E1".into(),
            how,
            removal_seen,
            successors: vec![],
            reason: "new board".into(),
        };
        book.write(Act::RunRetired(retired)).unwrap();
        assert_eq!(
            book.site.runs["E1"]
                .in_the_ground()
                .next()
                .map(|r| r.status.clone()),
            stays
        );
    }
}

#[test]
fn an_entry_that_cannot_be_read_makes_the_site_read_only() {
    let mut book = Book::with_a_run();
    let body = book.body(Act::NoteAdded(crate::body::NoteAdded {
        about: None,
        text: "x".into(),
    }));
    let mut sealed = seal(
        book.site.id,
        book.site.n + 1,
        &book.site.head,
        "2031-05-03T09:00:00.000Z".into(),
        body,
        Attached::new(),
    )
    .unwrap();
    sealed.entry.body = Err(Unreadable::NewerKind {
        kind: "TunnelBored".into(),
        v: 1,
    });
    book.site.apply(&sealed.entry).unwrap();
    assert!(book.site.read_only.as_deref().unwrap().contains("TunnelBored"));
}

#[test]
fn one_surface_answers_unnamed_and_several_must_be_named() {
    let mut book = Book::with_a_run();
    assert!(!book.site.surface_for(None, None, true).unwrap_err().refused);
    book.level_surface("yard", SurfaceKind::FinishedDesign, "10.000");
    let design = book.site.surface_for(None, None, true).unwrap_err();
    assert!(design.says.contains("only design surfaces"), "{}", design.says);
    assert_eq!(book.site.surface_for(None, None, false).unwrap().name, "yard");
    book.level_surface("yard as built", SurfaceKind::FinishedBuilt, "10.020");
    assert_eq!(
        book.site.surface_for(None, None, true).unwrap().level_m,
        Some(10.02)
    );
    assert!(
        book.site
            .surface_for(None, None, false)
            .unwrap_err()
            .says
            .contains("name one of")
    );
    assert_eq!(
        book.site.surface_for(Some("yard"), None, true).unwrap().level_m,
        Some(10.0)
    );
}

#[test]
fn withdrawing_a_run_takes_its_record_away_and_frees_its_points() {
    let mut book = Book::with_a_run();
    let laid = book.newest();
    let withdraw = |entry| {
        Act::EntryWithdrawn(EntryWithdrawn {
            entry,
            reason: "wrong site".into(),
        })
    };
    let changes = book.write(withdraw(laid)).unwrap();
    assert!(matches!(&changes[..], [Change::RunGone(key)] if key == "E1"));
    book.write(withdraw(Uuid::from_u128(102))).unwrap();
    assert!(book.site.points.is_empty());
    refused(&mut book, withdraw(laid), "was withdrawn by entry 4");
}

#[test]
fn the_frame_alone_knows_surfaces_and_searches_but_no_runs() {
    let mut book = Book::with_a_run();
    book.level_surface("yard", SurfaceKind::Existing, "10.000");
    let square = [
        ["430990", "5711990"],
        ["431020", "5711990"],
        ["431020", "5712010"],
        ["430990", "5712010"],
    ];
    book.search(square, "8.0", SearchOutcome::AllFoundRecorded);
    let mut other = Book::opened();
    let mut frame = Site::empty_frame(other.site.id);
    let opening = other.body(Act::SiteOpened(book.site.opened.clone().unwrap()));
    let sealed = seal(
        frame.id,
        1,
        &frame.head,
        "2031-05-03T08:00:00.000Z".into(),
        opening,
        Attached::new(),
    )
    .unwrap();
    frame.apply(&sealed.entry).unwrap();
    let surface = other.body(Act::EntryWithdrawn(EntryWithdrawn {
        entry: Uuid::from_u128(999),
        reason: "x".into(),
    }));
    let sealed = seal(
        frame.id,
        9,
        &frame.head,
        "2031-05-03T08:00:00.000Z".into(),
        surface,
        Attached::new(),
    )
    .unwrap();
    assert!(frame.apply(&sealed.entry).unwrap().is_empty());
    assert_eq!(frame.n, 9);
}

#[test]
fn a_run_with_a_history_is_not_withdrawn_and_one_seen_removed_is_not_amended() {
    let mut book = Book::with_a_run();
    let laid = book.newest();
    let saw = book.site.runs["E1"].revision();
    let becomes = run("E1", Service::ElectricLv, &["1", "2"], "63.0");
    book.write(Act::RunAmended(RunAmended {
        saw,
        reason: "measured".into(),
        becomes: becomes.clone(),
    }))
    .unwrap();
    let withdraw = EntryWithdrawn {
        entry: laid,
        reason: "mistake".into(),
    };
    refused(
        &mut book,
        Act::EntryWithdrawn(withdraw),
        "amend or retire it instead",
    );
    let gone = RunRetired {
        run: "E1".into(),
        how: Retirement::Removed,
        removal_seen: true,
        successors: vec![],
        reason: "dug out".into(),
    };
    book.write(Act::RunRetired(gone)).unwrap();
    let saw = book.site.runs["E1"].revision();
    refused(
        &mut book,
        Act::RunAmended(RunAmended {
            saw,
            reason: "x".into(),
            becomes,
        }),
        "lay a new run instead",
    );
}

#[test]
fn a_run_cannot_take_the_name_of_a_held_amendment() {
    let mut book = Book::with_a_run();
    refused(
        &mut book,
        Act::RunLaid(run("E1 (held 5)", Service::Gas, &["1", "2"], "50")),
        "choose another",
    );
    refused(
        &mut book,
        Act::RunLaid(run(" E2", Service::Gas, &["1", "2"], "50")),
        "choose another",
    );
}

#[test]
fn a_later_list_taken_back_leaves_the_earlier_expectation() {
    let mut book = Book::with_a_run();
    let expect = |service| {
        let row = crate::body::ExpectedRow {
            run: "E9".into(),
            service,
            from: None,
            to: None,
            size_mm: None,
            count: None,
        };
        Act::RunsExpected(crate::body::RunsExpected {
            import: None,
            runs: vec![row],
        })
    };
    book.write(expect(Service::ElectricLv)).unwrap();
    book.write(expect(Service::Gas)).unwrap();
    let later = book.newest();
    book.write(Act::EntryWithdrawn(EntryWithdrawn {
        entry: later,
        reason: "wrong list".into(),
    }))
    .unwrap();
    let expected = book.site.check_cover(None, None).unwrap().expected;
    assert_eq!(
        expected
            .iter()
            .map(|e| (e.run.as_str(), e.service.as_str()))
            .collect::<Vec<_>>(),
        [("E9", "electric-lv")]
    );
}

#[test]
fn a_time_that_is_none_is_refused_and_offsets_are_compared_as_instants() {
    let mut book = Book::with_a_run();
    let mut at = |time: &str, level: &str| {
        let act = Act::SurfaceRecorded(SurfaceRecorded {
            surface: "yard".into(),
            surface_kind: SurfaceKind::Existing,
            shape: SurfaceShape::Level {
                level_m: decimal(level),
            },
            sigma_v_mm: None,
            within: None,
            import: None,
        });
        let body = Body {
            observed_at: time.into(),
            ..book.body(act)
        };
        let recorded_at = "2031-05-09T08:00:00.000Z".into();
        let sealed = seal(
            book.site.id,
            book.site.n + 1,
            &book.site.head,
            recorded_at,
            body,
            Attached::new(),
        )
        .unwrap();
        book.site.apply(&sealed.entry)
    };
    // 22:30 on the 2nd in UTC, though its date reads later than the next one's.
    at("2031-05-03T08:30:00+10:00", "10.100").unwrap();
    at("2031-05-02T23:00:00Z", "10.200").unwrap();
    assert!(at("3 May", "10.300").unwrap_err().says.contains("is no time"));
    assert_eq!(
        book.site.surface_for(None, None, true).unwrap().level_m,
        Some(10.2)
    );
}

#[test]
fn a_run_too_steep_for_what_was_touched_is_refused_at_its_row() {
    let mut book = Book::opened();
    let at_row = |row: u64, label: &str, e: &str, level: &str| PointRow {
        row: Some(row),
        ..point(label, e, "5712000", level, Touched::OutsideTop)
    };
    book.points(vec![
        at_row(2, "1", "431000", "9"),
        at_row(3, "2", "431001", "12"),
        at_row(4, "3", "431009", "12"),
    ])
    .unwrap();
    let refusal = book
        .write(Act::RunLaid(run("E1", Service::Gas, &["1", "2", "3"], "50")))
        .unwrap_err();
    assert!(
        refusal.says.contains("steeper than 45 degrees") && refusal.says.contains("1 is 1"),
        "{}",
        refusal.says
    );
    assert_eq!(refusal.row, Some(2));
}

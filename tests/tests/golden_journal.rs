//! The journal of release 0.1 is kept for ever: its bytes, its heads and what they fold to.
//!
//! `tests/golden/journal-0.1.jsonl` holds one line an entry: number, time, head and the body's bytes as text. Later
//! programs must read it to the same state. To accept a deliberate change before release, run this test with
//! `COVERBOOK_ACCEPT_GOLDEN=1` and read the difference.
#![allow(clippy::unwrap_used, reason = "the whole file is a test")]

use register::body::*;
use register::chain;
use register::entry::{Attached, Entry, read_body, seal};
use register::service::Service;
use register::site::Site;
use register::words::*;
use serde_json::{Value, json};
use std::path::PathBuf;
use std::sync::Arc;
use uuid::Uuid;

fn kept() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("golden/journal-0.1.jsonl")
}

fn decimal(text: &str) -> survey::Decimal {
    text.parse().unwrap()
}

fn point(label: &str, e: &str, n: &str, level: &str, touched: Touched) -> PointRow {
    PointRow {
        point: label.into(),
        easting_m: decimal(e),
        northing_m: decimal(n),
        level_m: decimal(level),
        touched,
        side_bearing_deg: None,
        sigma_h_mm: Some(decimal("2.5")),
        sigma_v_mm: None,
        known: Some(Known::SeenChecked),
        fitting: Some(Fitting::Joint),
        bend_radius_mm: None,
        observed_at: Some("2031-05-03T06:00:00+01:00".into()),
        note: Some("stood on the collar; \"quoted\" \u{d8}".into()),
        same_as: None,
        measured: None,
        row: Some(2),
    }
}

fn tin() -> Vec<u8> {
    let rows = [
        ["431000", "5712000", "10.0"],
        ["431100", "5712000", "10.5"],
        ["431000", "5712100", "10.2"],
    ];
    serde_json::to_vec(&TinBlob {
        points: rows.map(|r| r.map(decimal)).to_vec(),
        breaklines: vec![vec![0, 1]],
        ..TinBlob::default()
    })
    .unwrap()
}

/// One entry of every kind that release 0.1 writes.
fn acts() -> Vec<Act> {
    let site = Uuid::from_u128(0xC0);
    let import = || {
        Some(ImportRef {
            import_id: Uuid::from_u128(5),
            file: "day 1.csv".into(),
            sha256: "ab".repeat(32),
        })
    };
    let laid = |run: &str, points: [&str; 2]| RunLaid {
        run: run.into(),
        service: Service::Sewer,
        points: points.map(String::from).to_vec(),
        section: SectionRow {
            size_mm: Some(decimal("110")),
            outside_mm: Some(decimal("110.2")),
            wall_mm: Some(decimal("3.2")),
            material: Some("PVC".into()),
            rows: None,
            columns: None,
            spacing_mm: None,
        },
        ends: [
            RunEnd::Enters {
                structure: "pit 1".into(),
            },
            RunEnd::NotStated,
        ],
        bow_mm: Some(decimal("20")),
        owner: Some("the harbour".into()),
        note: None,
        import_id: Some(Uuid::from_u128(5)),
    };
    let issued = || ResultIssued {
        question: "{}".into(),
        answer: "{}".into(),
        engine: "0.1.0".into(),
        rules_sha256: None,
        head: "1:00".into(),
    };
    let rules = register::rules::SHIPPED[0].text.to_string();
    let flat = |name: &str| SurfaceRecorded {
        surface: name.into(),
        surface_kind: SurfaceKind::FinishedDesign,
        shape: SurfaceShape::Level {
            level_m: decimal("10.250"),
        },
        sigma_v_mm: Some(decimal("5")),
        within: Some(
            [
                ["431000", "5712000"],
                ["431010", "5712000"],
                ["431010", "5712010"],
            ]
            .map(|p| p.map(decimal))
            .to_vec(),
        ),
        import: None,
    };
    let plane_points = [
        ["431000", "5712000", "10"],
        ["431010", "5712000", "10.1"],
        ["431000", "5712010", "10"],
    ];
    vec![
        Act::SiteOpened(SiteOpened {
            site,
            name: "Skerry Quay".into(),
            epsg: Some(32630),
            level_datum: "Skerry harbour datum".into(),
            bench_mark: "bolt, 4.216".into(),
            distances: Distances::Grid,
            near_easting_m: decimal("431000"),
            near_northing_m: decimal("5712000"),
            near_level_m: decimal("10"),
            reach_m: decimal("5000"),
            level_reach_m: decimal("200"),
            contact: Some("harbour office".into()),
        }),
        Act::RulesAdopted(RulesAdopted {
            text: rules,
            confirmed: vec![],
            left_out: vec!["nec-c-street".into()],
        }),
        Act::ControlRecorded(ControlRecorded {
            import: import(),
            points: vec![ControlRow {
                point: "C1".into(),
                easting_m: decimal("431050.000"),
                northing_m: decimal("5712050.000"),
                level_m: decimal("11.002"),
                sigma_h_mm: Some(decimal("2")),
                sigma_v_mm: Some(decimal("1")),
                note: None,
            }],
        }),
        Act::PointsRecorded(PointsRecorded {
            import: import(),
            checks: Vec::new(),
            points: vec![
                point("P1", "431001.000", "5712005.000", "9.000", Touched::OutsideTop),
                point("P2", "431009.500", "5712005.000", "8.900", Touched::Invert),
                point("P3", "431009.500", "5712025.000", "8.900", Touched::Centre),
            ],
        }),
        Act::RunsExpected(RunsExpected {
            import: None,
            runs: vec![ExpectedRow {
                run: "S1".into(),
                service: Service::Sewer,
                from: Some("pit 1".into()),
                to: None,
                size_mm: Some(decimal("110")),
                count: Some(1),
            }],
        }),
        Act::RunLaid(laid("S1", ["P1", "P2"])),
        Act::RunLaid(laid("S2", ["P1", "P3"])),
        Act::RunAmended(RunAmended {
            saw: 6,
            reason: "ends were swapped".into(),
            becomes: laid("S1", ["P2", "P1"]),
        }),
        Act::RunAmended(RunAmended {
            saw: 6,
            reason: "stale".into(),
            becomes: laid("S1", ["P1", "P3"]),
        }),
        Act::RunRetired(RunRetired {
            run: "S2".into(),
            how: Retirement::Abandoned,
            removal_seen: false,
            successors: vec!["S1".into()],
            reason: "cut and capped".into(),
        }),
        Act::SurfaceRecorded(flat("slab")),
        Act::SurfaceRecorded(SurfaceRecorded {
            shape: SurfaceShape::Plane {
                points: plane_points.map(|p| p.map(decimal)).to_vec(),
            },
            within: None,
            ..flat("ramp")
        }),
        Act::SurfaceRecorded(SurfaceRecorded {
            shape: SurfaceShape::Tin {
                sha256: chain::sha256_hex(&tin()),
                points: 3,
            },
            surface_kind: SurfaceKind::FinishedBuilt,
            within: None,
            ..flat("yard")
        }),
        Act::AreaSearched(AreaSearched {
            area: "trench A".into(),
            ring: [
                ["431000", "5712000"],
                ["431020", "5712000"],
                ["431020", "5712010"],
            ]
            .map(|p| p.map(decimal))
            .to_vec(),
            services: Some(vec![Service::ElectricLv, Service::Gas]),
            method: "open trench".into(),
            down_to: DownTo::Depth {
                depth_m: decimal("1.2"),
                surface: "yard".into(),
            },
            outcome: SearchOutcome::AllFoundRecorded,
            sigma_h_mm: Some(decimal("10")),
            import: None,
        }),
        Act::FileAttached(FileAttached {
            file: "photo.jpg".into(),
            sha256: "cd".repeat(32),
            bytes: 12,
            about: "S1".into(),
        }),
        Act::CoverChecked(issued()),
        Act::DigPlanned(issued()),
        Act::SheetIssued(SheetIssued {
            sheet: "dig".into(),
            sha256: "ef".repeat(32),
            engine: "0.1.0".into(),
            rules_sha256: Some("12".repeat(32)),
            head: "17:ab".into(),
        }),
        Act::NoteAdded(NoteAdded {
            about: None,
            text: "lid is loose".into(),
        }),
        Act::EntryCorrected(EntryCorrected {
            entry: Uuid::from_u128(1004),
            reason: "typed 9.000 for 9.010".into(),
            points: vec![point(
                "P1",
                "431001.000",
                "5712005.000",
                "9.010",
                Touched::OutsideTop,
            )],
        }),
        Act::EntryWithdrawn(EntryWithdrawn {
            entry: Uuid::from_u128(1019),
            reason: "another lid".into(),
        }),
        Act::ContentErased(ContentErased {
            content: Uuid::from_u128(2).to_string(),
            reason: "asked for".into(),
        }),
        Act::ControlRecorded(ControlRecorded {
            import: None,
            points: [
                ("C2", "431060.000", "5712000.000", "11.000"),
                ("C3", "430990.000", "5711990.000", "10.500"),
            ]
            .map(|(point, e, n, level)| ControlRow {
                point: point.into(),
                easting_m: decimal(e),
                northing_m: decimal(n),
                level_m: decimal(level),
                sigma_h_mm: None,
                sigma_v_mm: None,
                note: Some("steel pin".into()),
            })
            .to_vec(),
        }),
        Act::StationSet(Box::new(StationSet {
            station: "S1".into(),
            saw: None,
            instrument: InstrumentRow {
                name: Some("the blue one".into()),
                distance_mm: decimal("1"),
                distance_ppm: decimal("1.5"),
                direction_sec: decimal("1"),
                zenith_sec: decimal("1"),
                target_height_sigma_mm: decimal("1"),
                centring_sigma_mm: decimal("1"),
            },
            angles: AngleRead::Degrees,
            instrument_height_m: decimal("0"),
            air: None,
            air_in_instrument: None,
            sights: vec![
                known("C1", "3.60129", "88.75540", "46.1244"),
                known("C2", "73.55605", "88.65968", "42.7464"),
                known("C3", "193.19443", "89.26685", "39.0678"),
            ],
            tolerance_mm: Some(decimal("3")),
            unchecked_reason: Some("only three marks are left".into()),
            import: None,
        })),
        Act::PointsRecorded(PointsRecorded {
            import: None,
            points: vec![PointRow {
                sigma_h_mm: None,
                fitting: None,
                measured: Some(MeasuredFrom::Station {
                    station: "S1".into(),
                    sights: vec![sight("26.43495", "95.10939", "11.2288")],
                }),
                ..point("Q1", "431030.0000", "5712020.0000", "9.0000", Touched::Invert)
            }],
            checks: vec![CheckRow {
                station: "S1".into(),
                after: 1,
                target: "C2".into(),
                sights: vec![sight("73.55605", "88.65968", "42.7464")],
            }],
        }),
        Act::LevelsBooked(LevelsBooked {
            book: "L1".into(),
            rows: vec![
                level("BM", Some("1.500"), None, None, Some("10.000")),
                level("Q1", None, Some("2.498"), None, None),
                level("BM", None, None, Some("1.501"), Some("10.000")),
            ],
            allowable_k_mm: Some(decimal("5")),
            allowable_by_setups: true,
            spread: Spread::BySetups,
            setup_sigma_mm: Some(decimal("0.7")),
            import: import(),
        }),
        Act::PointsRecorded(PointsRecorded {
            import: None,
            points: by_other_ways(),
            checks: Vec::new(),
        }),
        Act::CoverReleased(Box::new(CoverReleased {
            area: "pour 1".into(),
            ring: Some(
                [
                    ["431000", "5712000"],
                    ["431010", "5712000"],
                    ["431010", "5712010"],
                ]
                .map(|p| p.map(decimal))
                .to_vec(),
            ),
            runs: vec!["S1".into()],
            outcome: ReleaseOutcome::WithExceptions,
            accepted: vec![Accepted {
                item: "photo:S1".into(),
                reason: "taken on film".into(),
            }],
            statement: Some("poured in one lift".into()),
            result: issued(),
        })),
        Act::ReleaseWithdrawn(ReleaseWithdrawn {
            release: Uuid::from_u128(1028),
            reason: "the run is to be moved".into(),
        }),
    ]
}

/// Points by an offset, a satellite receiver and a detector, and one measured again.
fn by_other_ways() -> Vec<PointRow> {
    let bare = |label: &str, e: &str, n: &str, z: &str, measured: MeasuredFrom| PointRow {
        sigma_h_mm: None,
        known: None,
        fitting: None,
        observed_at: None,
        measured: Some(measured),
        ..point(label, e, n, z, Touched::OutsideTop)
    };
    let offset = OffsetRow {
        from: "C1".into(),
        to: "C2".into(),
        chainage_m: decimal("0.500"),
        chainage_sigma_mm: decimal("5"),
        offset_m: decimal("0.300"),
        offset_sigma_mm: decimal("5"),
        side: "right".into(),
        square_sigma_deg: Some(decimal("0.5")),
        level: LevelFrom::Staff {
            mark: "C1".into(),
            back_m: decimal("1.000"),
            fore_m: decimal("2.502"),
            sigma_mm: decimal("2"),
        },
    };
    let satellite = SatelliteRow {
        easting_m: decimal("431005.000"),
        northing_m: decimal("5712006.000"),
        fix: SatelliteFix::Fixed,
        horizontal_mm: Some(decimal("20")),
        vertical_mm: Some(decimal("30")),
        means: Some(FigureMeans::Sigma),
        level: LevelFrom::Receiver {
            height_m: decimal("9.500"),
            above: HeightAbove::SiteDatum,
            antenna_m: decimal("0"),
        },
    };
    let detected = CoordinatesRow {
        easting_m: decimal("431010.000"),
        northing_m: decimal("5712010.000"),
        sigma_h_mm: Some(decimal("50")),
        level: LevelFrom::Detector(Box::new(DetectorRow {
            surface: "yard".into(),
            surface_kind: SurfaceKind::FinishedBuilt,
            depth_m: decimal("1.000"),
            method: DetectorMethod::Active,
            percent: decimal("10"),
            constant_mm: decimal("50"),
            across_mm: decimal("100"),
            means: FigureMeans::Sigma,
        })),
    };
    let again = PointRow {
        same_as: Some("P1".into()),
        ..point("P1b", "431001.002", "5712005.000", "9.010", Touched::OutsideTop)
    };
    vec![
        bare(
            "O1",
            "431049.8039",
            "5712049.4509",
            "9.5000",
            MeasuredFrom::Offset(Box::new(offset)),
        ),
        bare(
            "G1",
            "431005.0000",
            "5712006.0000",
            "9.5000",
            MeasuredFrom::Satellite(Box::new(satellite)),
        ),
        bare(
            "D1",
            "431010.0000",
            "5712010.0000",
            "9.0700",
            MeasuredFrom::Coordinates(Box::new(detected)),
        ),
        again,
    ]
}

fn sight(direction: &str, zenith: &str, slope: &str) -> SightRow {
    SightRow {
        direction: Some(direction.into()),
        zenith: Some(zenith.into()),
        slope_m: Some(decimal(slope)),
        target_height_m: decimal("1.500"),
        prism_mm: decimal("0"),
        face: Some(FaceRead::Left),
        row: Some(3),
    }
}

fn known(target: &str, direction: &str, zenith: &str, slope: &str) -> KnownSight {
    KnownSight {
        target: target.into(),
        sighted_as: SightKind::Control,
        sight: sight(direction, zenith, slope),
    }
}

fn level(
    point: &str,
    back: Option<&str>,
    inter: Option<&str>,
    fore: Option<&str>,
    known: Option<&str>,
) -> LevelRowBooked {
    LevelRowBooked {
        point: point.into(),
        back_m: back.map(decimal),
        inter_m: inter.map(decimal),
        fore_m: fore.map(decimal),
        known_level_m: known.map(decimal),
        distance_m: None,
        touched: Some(if point == "BM" {
            Touched::Other
        } else {
            Touched::Invert
        }),
        note: None,
        row: None,
    }
}

fn write() -> String {
    let site = Uuid::from_u128(0xC0);
    let mut head = chain::head_of_nothing(site);
    let mut lines = String::new();
    for (i, act) in acts().into_iter().enumerate() {
        let n = i as u64 + 1;
        let act = match act {
            // A release rests on the head before it.
            Act::CoverReleased(mut released) => {
                released.result.head = format!("{}:{}", n - 1, chain::hex(&head));
                Act::CoverReleased(released)
            }
            act => act,
        };
        let body = Body {
            act,
            v: 1,
            id: Uuid::from_u128(1000 + u128::from(n)),
            by: Uuid::from_u128(2),
            device: "golden".into(),
            observed_at: "2031-05-03T07:00:00Z".into(),
        };
        let recorded_at = format!("2031-05-03T08:00:{n:02}.000Z");
        let sealed = seal(site, n, &head, recorded_at, body, Attached::new()).unwrap();
        head = sealed.entry.head;
        let bytes = String::from_utf8(sealed.bytes).unwrap();
        let line = json!({"n": n, "recorded_at": sealed.entry.recorded_at, "head": chain::hex(&head), "body": bytes});
        lines += &format!("{line}\n");
    }
    lines
}

#[test]
fn this_program_still_writes_the_bytes_of_release_0_1() {
    let written = write();
    if std::env::var_os("COVERBOOK_ACCEPT_GOLDEN").is_some() {
        std::fs::create_dir_all(kept().parent().unwrap()).unwrap();
        std::fs::write(kept(), &written).unwrap();
    }
    let golden = std::fs::read_to_string(kept()).unwrap();
    for (n, (is, was)) in written.lines().zip(golden.lines()).enumerate() {
        assert_eq!(
            is,
            was,
            "entry {} is written otherwise than by release 0.1",
            n + 1
        );
    }
    assert_eq!(written.lines().count(), golden.lines().count());
}

fn replay(change: impl Fn(u64, &mut String)) -> (Site, bool) {
    let id = Uuid::from_u128(0xC0);
    let mut site = Site::empty(id);
    let mut chain_holds = true;
    for line in std::fs::read_to_string(kept()).unwrap().lines() {
        let line: Value = serde_json::from_str(line).unwrap();
        let n = line["n"].as_u64().unwrap();
        let recorded_at = line["recorded_at"].as_str().unwrap().to_string();
        let mut bytes = line["body"].as_str().unwrap().to_string();
        change(n, &mut bytes);
        let head = chain::next_head(
            id,
            n,
            &site.head,
            &recorded_at,
            &chain::body_hash(bytes.as_bytes()),
        );
        chain_holds &= chain::hex(&head) == line["head"].as_str().unwrap();
        let attached = Attached::from([(chain::sha256_hex(&tin()), Arc::from(tin()))]);
        let entry = Entry {
            n,
            recorded_at,
            head,
            body: read_body(bytes.as_bytes()),
            attached,
        };
        if let Err(refusal) = site.apply(&entry) {
            // A release is refused on any head but the one it saw: a broken chain shows there too.
            assert!(!chain_holds, "entry {n}: {refusal}");
            return (site, false);
        }
    }
    (site, chain_holds)
}

#[test]
fn the_journal_of_release_0_1_folds_to_the_same_site() {
    let (site, chain_holds) = replay(|_, _| {});
    assert!(chain_holds);
    assert_eq!(site.read_only, None);
    let view = site.site_view();
    assert_eq!(
        (view.counts.points, view.counts.legs, view.counts.control),
        (8, 3, 3)
    );
    assert_eq!(
        site.station_views()[0].at.map(|c| c.text()),
        ["431020.000", "5712015.000"]
    );
    // By hand: 10.000 + 1.500 - 2.498 = 9.002, less what the misclosure of 1 mm takes off on the way.
    assert!((site.points["Q1"].placed.at.z - 9.002).abs() < 0.001);
    assert_eq!((view.counts.expected, view.counts.searched), (1, 1));
    assert_eq!(view.surfaces.len(), 3);
    assert_eq!(site.points["P1"].row.level_m.as_str(), "9.010");
    // By hand: 11.002 + 1.000 - 2.502 and 10.000 + 0.05 + 0.02 - 1.000. P1 and P1b state no uncertainty of their levels.
    assert!((site.points["O1"].placed.at.z - 9.5).abs() < 1e-9);
    assert!((site.points["D1"].placed.at.z - 9.07).abs() < 1e-9);
    assert_eq!(site.points["D1"].placed.known, Some(Known::Traced));
    assert!(site.points["P1"].placed.doubts[0].contains("measured again as P1b, and not compared"));
    assert_eq!(
        site.releases[0].withdrawn,
        Some((29, "the run is to be moved".into()))
    );
    let keys: Vec<_> = site.runs["S1"].in_the_ground().map(|r| r.key.clone()).collect();
    assert_eq!(keys, ["S1", "S1 (held 9)"]);
    assert_eq!(site.runs["S2"].record.status.words(), "abandoned");
    assert!(site.rules.as_ref().unwrap().left_out.contains("nec-c-street"));
    // Closed form: the triangle through (0, 0, 10.0), (100, 0, 10.5), (0, 100, 10.2) at (20, 10).
    let frame = site.frame().unwrap();
    let yard = site.surface_for(Some("yard"), None, true).unwrap();
    let level = yard
        .surface
        .level_at(frame.local_plan(431_020.0, 5_712_010.0))
        .unwrap();
    assert!((level - (10.0 + 0.2 * 0.5 + 0.1 * 0.2)).abs() < 1e-9);
}

#[test]
fn one_changed_character_anywhere_breaks_the_chain() {
    for changed in 1..=29 {
        let (_, holds) = replay(|n, bytes| {
            if n == changed {
                *bytes = bytes.replacen("golden", "goldem", 1);
            }
        });
        assert!(!holds, "entry {changed} was changed and the chain still holds");
    }
}

//! A network of real pipes, taken through the whole path and compared with a computation of another kind.
//!
//! The pipes are the sample data of a package of general hydraulics: see `real_network/model.rs` for its name,
//! version, licence and hash. It is fetched when the test runs and is no part of this repository. The oracle is
//! `real_network/check.py`, which reads the same model and shares no method with the program; besides, the
//! model's own stated lengths and depths are compared.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

#[path = "real_network/model.rs"]
mod model;
#[path = "real_network/program.rs"]
mod program;

use exchange::{ReadOptions, SiteFrame, read_points, read_surface, split_points};
use model::{Model, SIGMA_MM, metres};
use register::body::{
    Act, Body, Distances, ImportRef, RulesAdopted, SiteOpened, SurfaceRecorded, SurfaceShape,
};
use register::chain::sha256_hex;
use register::dig::{Asked, DigQuestion, PlannedDig};
use register::entry::{Attached, Entry, read_body, seal};
use register::site::Site;
use register::view::{CoverAnswer, DigAnswer};
use register::words::SurfaceKind;
use serde_json::Value;
use std::process::Command;
use std::sync::{Arc, OnceLock};
use uuid::Uuid;

/// Lengths, drops and plan gaps: both sides reckon in doubles from the same decimals, and the axis of a bent pipe
/// settles within 0.01 mm.
const EXACT_M: f64 = 2e-6;
/// Least covers and gaps to a floor: the program's stated bound is 0.1 mm, and both sides' reckoning as above.
const BOUND_M: f64 = 1e-4 + EXACT_M;
/// The rules, invented: a cover and a fall that some pipes keep and others do not.
const LEAST_COVER_M: f64 = 0.75;
const RULES: &str = r#"
format = "coverbook.rules/1"
id = "own"
title = "Site decision"
jurisdiction = "this site"
[[cover]]
id = "cover"
services = ["stormwater"]
where = "anywhere"
minimum_m = 0.75
source = "site decision"
edition = "1"
clause = "1"
status = "seen"
[[fall]]
id = "fall"
services = ["stormwater"]
minimum = 0.005
source = "site decision"
edition = "1"
clause = "2"
status = "seen"
"#;

/// The answers of both sides.
struct Both {
    model: Model,
    site: Site,
    oracle: Value,
}

fn both() -> &'static Both {
    static BOTH: OnceLock<Both> = OnceLock::new();
    BOTH.get_or_init(|| {
        let path = model::fetched();
        let here = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/real_network");
        let mut check = Command::new("python3");
        check
            .arg(format!("{here}/check.py"))
            .arg(&path)
            .arg(format!("{here}/digs.json"));
        let oracle = serde_json::from_str(&model::run(&mut check)).unwrap();
        let model = Model::read(&std::fs::read_to_string(&path).unwrap());
        let site = recorded(&model);
        Both { model, site, oracle }
    })
}

/// Reads both files and records them: bodies sealed, written, read back and folded.
fn recorded(model: &Model) -> Site {
    let id = Uuid::from_u128(0x1001);
    let mut site = Site::empty(id);
    let decimal = |text: &str| text.parse().unwrap();
    let opened = SiteOpened {
        site: id,
        name: "Sample network".into(),
        // The model names a grid in metres and gives feet, so it is tied to nothing.
        epsg: None,
        level_datum: "the model's own".into(),
        bench_mark: "none; the levels are the model's".into(),
        distances: Distances::Grid,
        near_easting_m: decimal("837438"),
        near_northing_m: decimal("341193.12"),
        near_level_m: decimal("297"),
        reach_m: decimal("2000"),
        level_reach_m: decimal("60"),
        contact: None,
    };
    apply(&mut site, Act::SiteOpened(opened), Attached::new());
    let rules = RulesAdopted {
        text: RULES.into(),
        confirmed: vec![],
        left_out: vec![],
    };
    apply(&mut site, Act::RulesAdopted(rules), Attached::new());

    let csv = model.surface_csv();
    let reading = read_surface(csv.as_bytes(), &options("rims.csv", &csv), &mut |_| ());
    let draft = reading.draft.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    assert_eq!(draft.sigma_v_mm, Some(decimal(SIGMA_MM)));
    let blob = serde_json::to_vec(&draft.blob).unwrap();
    let sha256 = sha256_hex(&blob);
    let surface = SurfaceRecorded {
        surface: "rims".into(),
        surface_kind: SurfaceKind::Existing,
        shape: SurfaceShape::Tin {
            sha256: sha256.clone(),
            points: draft.blob.points.len() as u64,
        },
        sigma_v_mm: draft.sigma_v_mm,
        within: None,
        import: Some(draft.import),
    };
    apply(
        &mut site,
        Act::SurfaceRecorded(surface),
        Attached::from([(sha256, Arc::from(blob))]),
    );

    let csv = model.points_csv();
    let reading = read_points(csv.as_bytes(), &options("pipes.csv", &csv), &mut |_| ());
    assert_eq!(reading.refusals, 0, "{:#?}", reading.findings);
    for act in split_points(reading.draft.unwrap()) {
        apply(&mut site, act, Attached::new());
    }
    site
}

fn options(file: &str, csv: &str) -> ReadOptions {
    let frame = SiteFrame {
        near_easting_m: 837_438.0,
        near_northing_m: 341_193.12,
        near_level_m: 297.0,
        reach_m: 2000.0,
        level_reach_m: 60.0,
    };
    let import = ImportRef {
        import_id: Uuid::from_u128(0x2000 + csv.len() as u128),
        file: file.into(),
        sha256: sha256_hex(csv.as_bytes()),
    };
    ReadOptions::new(file, frame, import)
}

fn apply(site: &mut Site, act: Act, attached: Attached) {
    let body = Body {
        act,
        v: 1,
        id: Uuid::from_u128(0x3000 + u128::from(site.n)),
        by: Uuid::from_u128(0x4000),
        device: "test".into(),
        observed_at: "2031-05-03T07:00:00Z".into(),
    };
    let recorded_at = "2031-05-03T08:00:00.000Z".to_string();
    let sealed = seal(site.id, site.n + 1, &site.head, recorded_at, body, attached).unwrap();
    let read_back = read_body(&sealed.bytes);
    let entry = Entry {
        body: read_back,
        ..sealed.entry
    };
    site.apply(&entry).unwrap();
    assert_eq!(site.read_only, None);
}

fn checked() -> CoverAnswer {
    both().site.check_cover(Some("rims"), None).unwrap()
}

#[track_caller]
fn close(what: &str, ours: f64, expected: f64, tolerance: f64) {
    assert!(
        (ours - expected).abs() <= tolerance,
        "{what}: {ours}, and {expected} was expected"
    );
}

#[test]
fn every_pipe_has_the_length_the_model_states_and_the_oracle_finds() {
    let both = both();
    let answer = checked();
    assert_eq!(answer.runs.len(), 44);
    for run in &answer.runs {
        let expected = &both.oracle["runs"][&run.run];
        let legs = expected["legs"].as_array().unwrap();
        assert_eq!(run.legs.len(), legs.len(), "{}", run.run);
        for (leg, expected) in run.legs.iter().zip(legs) {
            close(
                &run.run,
                leg.length_m.0,
                expected["length_m"].as_f64().unwrap(),
                EXACT_M,
            );
        }
        // The model's own figure, to a thousandth of a foot like its coordinates: half of one for the figure, and
        // 0.7 of one for each of its places; a pipe with corners has up to four more.
        let pipe = both.model.pipes.iter().find(|p| p.name == run.run).unwrap();
        let rounding_ft = 0.0005 + 0.000_707 * 2.0 * (1.0 + pipe.corners.len() as f64);
        let length: f64 = run.legs.iter().map(|l| l.length_m.0).sum();
        close(&run.run, length, metres(pipe.stated_length), 0.3048 * rounding_ft);
    }
}

#[test]
fn every_pipe_falls_as_the_oracle_finds() {
    let answer = checked();
    let mut count = [0; 3];
    for run in &answer.runs {
        let legs = both().oracle["runs"][&run.run]["legs"].as_array().unwrap();
        for (leg, expected) in run.legs.iter().zip(legs) {
            let fall = leg.fall.as_ref().unwrap();
            let expected = &expected["fall"];
            let of = |name: &str| expected[name].as_f64().unwrap();
            close(&run.run, fall.drop_m.0, of("drop_m"), EXACT_M);
            close(&run.run, fall.drop_u95_m.unwrap().0, of("drop_u95_m"), 1e-9);
            // Flatter is the safe side: percent is rounded down, 1 in N up.
            assert!(
                (0.0..0.01 + 1e-5).contains(&(of("percent") + 1e-5 - fall.percent)),
                "{}",
                fall.says
            );
            let off = fall.one_in.unwrap() - of("one_in");
            assert!(
                (-1e-3..0.1 + 1e-3).contains(&off),
                "{}: {} for {}",
                run.run,
                fall.says,
                of("one_in")
            );
            let verdict = serde_json::to_value(fall.verdict).unwrap();
            assert_eq!(verdict, expected["verdict"], "{}: {}", run.run, fall.says);
            count[["met", "short", "not-proved"]
                .iter()
                .position(|v| verdict == *v)
                .unwrap()] += 1;
        }
    }
    // Both answers come up, so the comparison of verdicts says something.
    assert!(count[0] > 20 && count[1] > 5, "{count:?}");
}

#[test]
fn every_least_cover_is_what_the_oracle_finds_on_its_own_triangles() {
    let oracle = &both().oracle;
    let (surface_u95, plan_u95, level_u95) = (
        oracle["surface_u95_m"].as_f64().unwrap(),
        oracle["u95_plan_m"].as_f64().unwrap(),
        oracle["u95_level_m"].as_f64().unwrap(),
    );
    let (mut compared, mut unknown, mut short) = (0, 0, 0);
    for run in &checked().runs {
        let legs = oracle["runs"][&run.run]["legs"].as_array().unwrap();
        let mut unknown_m = 0.0;
        for (leg, expected) in run.legs.iter().zip(legs) {
            let what = format!("{} {}", run.run, leg.from);
            unknown_m += expected["unknown_m"].as_f64().unwrap();
            let Some(least) = expected["least_cover_m"].as_f64() else {
                assert_eq!(leg.least_cover_m, None, "{what}");
                continue;
            };
            let ours = leg.least_cover_m.unwrap().0;
            close(&what, ours, least, BOUND_M);
            compared += 1;
            let all_known = expected["unknown_m"] == 0.0;
            if let Some(worst) = leg.worst_cover_m {
                // Growing a pipe by v up and h sideways costs v and, on the steepest triangle at most, h times its
                // gradient; then the surface's own 95 % comes off.
                let least_worst = least - level_u95 - surface_u95;
                let steepest = expected["steepest"].as_f64().unwrap();
                assert!(
                    worst.0 <= least_worst + BOUND_M,
                    "{what}: {} over {least_worst}",
                    worst.0
                );
                assert!(
                    worst.0 >= least_worst - plan_u95 * steepest - BOUND_M,
                    "{what}: {}",
                    worst.0
                );
                assert!(
                    all_known,
                    "{what}: a worst cover where part lies beyond the surface"
                );
            } else {
                unknown += 1;
            }
            let verdict = serde_json::to_value(leg.cover_verdict).unwrap();
            assert_eq!(
                verdict == "short",
                least < LEAST_COVER_M,
                "{what}: {verdict} at {least}"
            );
            short += i32::from(verdict == "short");
        }
        close(&run.run, run.cover_unknown_m.0, unknown_m, 1e-3);
    }
    assert!(
        compared > 40 && unknown > 5 && short > 10,
        "{compared} {unknown} {short}"
    );
}

#[test]
fn inverts_and_depths_at_the_ends_are_the_models() {
    let both = both();
    let answer = checked();
    let mut stated = 0;
    for run in &answer.runs {
        let rows: Vec<_> = answer.inverts.iter().filter(|row| row.run == run.run).collect();
        let expected = &both.oracle["runs"][&run.run];
        let (inverts, depths) = (&expected["inverts_m"], &expected["depths_m"]);
        assert_eq!(rows.len(), inverts.as_array().unwrap().len());
        for (i, row) in rows.iter().enumerate() {
            close(
                &row.point,
                row.invert_level_m.unwrap().0,
                inverts[i].as_f64().unwrap(),
                EXACT_M,
            );
            match (&depths[i], row.depth_to_invert_m) {
                (Value::String(edge), _) => assert_eq!(edge, "edge"),
                (Value::Null, depth) => assert_eq!(depth, None, "{}", row.point),
                (depth, ours) => close(&row.point, ours.unwrap().0, depth.as_f64().unwrap(), EXACT_M),
            }
        }
        // The model states each node's depth, and that is the depth where the pipe was touched.
        let pipe = both.model.pipes.iter().find(|p| p.name == run.run).unwrap();
        for (end, row) in [(0, rows[0]), (1, rows[rows.len() - 1])] {
            let (Some(depth), Some(ours)) = (both.model.depth.get(&pipe.nodes[end]), row.depth_to_invert_m)
            else {
                continue;
            };
            close(&row.point, ours.0, metres(depth - pipe.offsets[end]), EXACT_M);
            stated += 1;
        }
    }
    assert!(stated > 75, "{stated}");
}

fn dug(dig: &Value) -> DigAnswer {
    let site = &both().site;
    let number = |name: &str| dig[name].as_str().map(|text| text.parse::<f64>().unwrap());
    let corner = |p: &Value| [0, 1].map(|axis| p[axis].as_str().unwrap().parse::<f64>().unwrap() * 0.3048);
    let question = DigQuestion {
        area: Some(dig["outline_ft"].as_array().unwrap().iter().map(corner).collect()),
        depth_m: number("depth_m"),
        floor_level_m: number("floor_level_m"),
        set_out_m: number("set_out_m"),
        over_dig_m: Some(0.2),
        ..DigQuestion::default()
    };
    let planned = PlannedDig::of(site, &question).unwrap();
    let runs = site
        .runs
        .values()
        .flat_map(|run| run.in_the_ground().cloned())
        .collect();
    let asked = Asked {
        site,
        head: site.head_view(),
        runs,
    };
    planned.answer(&[asked], vec![], "2031-05-04T07:00:00Z").unwrap()
}

#[test]
fn every_gap_to_every_planned_dig_is_what_the_oracle_finds() {
    let digs: Value = serde_json::from_str(include_str!("real_network/digs.json")).unwrap();
    let (mut beside, mut over) = (0, 0);
    for (dig, expected) in digs
        .as_array()
        .unwrap()
        .iter()
        .zip(both().oracle["digs"].as_array().unwrap())
    {
        let answer = dug(dig);
        close(
            "area",
            answer.dig.area_m2.0,
            expected["area_m2"].as_f64().unwrap(),
            1e-4,
        );
        assert_eq!(answer.runs.len(), 44);
        for run in &answer.runs {
            let what = format!("{}, {}", dig["name"], run.run);
            let expected = &expected["runs"][&run.run];
            let of = |name: &str| expected[name].as_f64();
            close(
                &what,
                run.horizontal_gap_m.0,
                of("horizontal_gap_m").unwrap(),
                BOUND_M,
            );
            let worst = run.worst_horizontal_gap_m.unwrap().0;
            close(&what, worst, of("worst_horizontal_gap_m").unwrap(), BOUND_M);
            beside += 1;
            if let Some(gap_m) = of("gap_m") {
                close(&what, run.gap_m.0, gap_m, BOUND_M);
            }
            match of("vertical_gap_m") {
                Some(gap_m) => {
                    close(&what, run.vertical_gap_m.unwrap().0, gap_m, BOUND_M);
                    over += 1;
                }
                None => assert_eq!(run.vertical_gap_m, None, "{what}"),
            }
            // What holds of any answer: the worst is never the better.
            assert!(run.worst_gap_m.unwrap().0 <= run.gap_m.0, "{what}");
            assert!(run.gap_m.0 >= run.horizontal_gap_m.0 - BOUND_M, "{what}");
        }
        // Nobody searched here, and the answer leads with it.
        assert_eq!(answer.searched.share.whole(), 0);
    }
    assert!(beside == 6 * 44 && over >= 8, "{beside} {over}");
}

//! Control, surfaces, searched areas and expected runs: what is read, and what is refused.

mod common;

use common::{check_refusal, finding, options};
use coverbook_exchange::{read_control, read_expected, read_searched, read_surface};
use register::body::DownTo;
use register::service::Service;
use register::words::SearchOutcome;

#[test]
fn control_is_read_with_its_deviations() {
    let text = "point,easting,northing,level,sigma_h_mm,sigma_v_in,note\nC1,432100.000,5811000,12.5,2,0.1,nail in kerb\n";
    let reading = read_control(text.as_bytes(), &options(), &mut |_| {});
    let point = &reading.draft.unwrap().points[0];
    assert_eq!(point.easting_m.as_str(), "432100.000");
    // 1 in = 25.4 mm exactly (definition).
    assert_eq!(point.sigma_v_mm.as_ref().unwrap().as_str(), "2.54");
    assert_eq!(point.note.as_deref(), Some("nail in kerb; sigma_v_in=0.1"));
    assert_eq!(reading.preview.points[0].point, "C1");
}

#[test]
fn control_with_slips_is_refused() {
    let read = |rows: &str| {
        let text = format!("point,easting,northing,level\n{rows}\n");
        read_control(text.as_bytes(), &options(), &mut |_| {})
    };
    check_refusal(
        &read("C1,5811000,432100,12"),
        "swapped",
        Some(2),
        Some("easting"),
        "swapped",
    );
    check_refusal(
        &read("C1,432100,5811000,12\nC1,432101,5811000,12"),
        "label-twice",
        Some(3),
        Some("point"),
        "row 2",
    );
    check_refusal(
        &read("C1,432100,5811000,999"),
        "level-out-of-reach",
        Some(2),
        Some("level"),
        "datum",
    );
    check_refusal(
        &read("C1,432100,,12"),
        "value-missing",
        Some(2),
        Some("northing"),
        "missing",
    );
    let headerless = read_control(b"C1,5811000,432100,12\n", &options(), &mut |_| {});
    assert!(headerless.order_needed);
    assert_eq!(
        headerless.proposed_order.unwrap(),
        ["point", "northing", "easting", "level"]
    );
}

const SURFACE: &str = "easting,northing,level,sigma_v_mm,breakline
432100,5811000,12.5,10,
432110,5811000,12.5,10,kerb
432110,5811010,12.6,15,kerb
432100,5811010,12.6,10,kerb
432110.0,5811000.00,12.50,10,kerb
";

#[test]
fn a_surface_keeps_its_points_and_closed_breaklines() {
    let draft = read_surface(SURFACE.as_bytes(), &options(), &mut |_| {})
        .draft
        .unwrap();
    assert_eq!(draft.blob.points.len(), 4);
    assert_eq!(draft.blob.breaklines, [[1, 2, 3, 1]]);
    // The largest of its rows: the safe side.
    assert_eq!(draft.sigma_v_mm.unwrap().as_str(), "15");
    let some_silent = SURFACE.replace("12.5,10,\n", "12.5,,\n");
    let reading = read_surface(some_silent.as_bytes(), &options(), &mut |_| {});
    assert_eq!(finding(&reading.findings, "sigma-not-everywhere").row, Some(2));
    assert_eq!(reading.draft.unwrap().sigma_v_mm, None);
}

#[test]
fn a_surface_with_slips_is_refused() {
    let read = |rows: &str| {
        let text =
            format!("easting,northing,level,breakline\n432100,5811000,12,\n432110,5811000,12,\n{rows}\n");
        read_surface(text.as_bytes(), &options(), &mut |_| {})
    };
    check_refusal(
        &read("432100.0,5811000,12.000,\n432100,5811010,12,"),
        "place-twice",
        Some(4),
        Some("easting"),
        "row 2 and row 4",
    );
    check_refusal(
        &read("432100,5811000,12.1,\n432100,5811010,12,"),
        "two-levels",
        Some(4),
        Some("level"),
        "row 2 has level 12",
    );
    check_refusal(
        &read("432120,5811000,12,"),
        "no-area",
        None,
        None,
        "not in one line",
    );
    check_refusal(
        &read("432100,5811010,12,kerb"),
        "breakline-too-short",
        Some(4),
        Some("breakline"),
        "needs two",
    );
    check_refusal(
        &read("432100,5811010,inf,"),
        "not-a-number",
        Some(4),
        Some("level"),
        "not a number",
    );
}

#[test]
fn a_surfaces_boundaries_and_holes_are_rings_of_its_points() {
    let text = "easting,northing,level,boundary,hole,breakline
432100,5811000,12.5,yard,,
432110,5811000,12.5,yard,,kerb
432110,5811010,12.6,yard,,kerb
432100,5811010,12.6,yard,,
432100.0,5811000,12.50,yard,,
432103,5811003,12.5,,pit,
432105,5811003,12.5,,pit,
432104,5811006,12.5,,pit,
";
    let reading = read_surface(text.as_bytes(), &options(), &mut |_| {});
    let blob = reading.draft.unwrap().blob;
    assert_eq!((blob.points.len(), blob.breaklines), (7, vec![vec![1, 2]]));
    let written = |rings: &[Vec<[survey::Decimal; 2]>]| -> Vec<Vec<String>> {
        let corner = |[e, n]: &[survey::Decimal; 2]| format!("{e} {n}");
        rings
            .iter()
            .map(|ring| ring.iter().map(corner).collect())
            .collect()
    };
    // The first corner given again at the end is no corner more.
    assert_eq!(
        written(&blob.outlines),
        [[
            "432100 5811000",
            "432110 5811000",
            "432110 5811010",
            "432100 5811010"
        ]]
    );
    assert_eq!(
        written(&blob.holes),
        [["432103 5811003", "432105 5811003", "432104 5811006"]]
    );
    assert!(blob.faces.is_empty());
    let short = text.replace("432104,5811006,12.5,,pit,\n", "");
    check_refusal(
        &read_surface(short.as_bytes(), &options(), &mut |_| {}),
        "hole-too-short",
        Some(7),
        Some("hole"),
        "needs three",
    );
}

const SEARCHED: &str =
    "area,easting,northing,services,method,down_to_depth,surface,down_to_level,outcome,sigma_h_mm,observed_at
A1,432090,5810990,gas; electric-lv,detector sweep,1.50,Yard,,all-found-recorded,50,2026-05-04T14:30:00+10:00
A1,432120,5810990,,,,,,,,
A1,432120,5811010,gas; electric-lv,detector sweep,1.5,Yard,,all-found-recorded,50,2026-05-04T14:30:00+10:00
A1,432090,5811010,,,,,,,,
A1,432090.0,5810990,,,,,,,,
A2,432000,5811000,all,trial holes,,,11.20,unable,,
A2,432010,5811000,,,,,,,,
A2,432010,5811010,,,,,,,,
";

#[test]
fn searched_areas_are_read_ring_by_ring() {
    let mut options = options();
    options.observed_at = Some("2026-06-01T09:00:00Z".into());
    let draft = read_searched(SEARCHED.as_bytes(), &options, &mut |_| {})
        .draft
        .unwrap();
    let first = &draft.areas[0];
    assert_eq!(first.searched.ring.len(), 4);
    assert_eq!(
        first.searched.services,
        Some(vec![Service::ElectricLv, Service::Gas])
    );
    let depth_m = "1.50".parse().unwrap();
    let surface = "Yard".into();
    assert_eq!(first.searched.down_to, DownTo::Depth { depth_m, surface });
    assert_eq!(first.observed_at.as_deref(), Some("2026-05-04T14:30:00+10:00"));
    let second = &draft.areas[1];
    assert_eq!((second.searched.services.clone(), second.row), (None, 7));
    assert_eq!(second.searched.outcome, SearchOutcome::Unable);
    assert_eq!(second.observed_at.as_deref(), Some("2026-06-01T09:00:00Z"));
}

#[test]
fn nothing_is_assumed_of_a_search() {
    let read = |from: &str, to: &str| {
        let text = SEARCHED.replace(from, to);
        assert_ne!(text, SEARCHED, "{from} is not in the file");
        read_searched(text.as_bytes(), &options(), &mut |_| {})
    };
    check_refusal(
        &read("all,trial", ",trial"),
        "value-missing",
        Some(7),
        Some("services"),
        "or all",
    );
    check_refusal(
        &read("all,trial", ";,trial"),
        "value-missing",
        Some(7),
        Some("services"),
        "names no service",
    );
    check_refusal(
        &read("all,trial", "gas;phone,trial"),
        "unknown-word",
        Some(7),
        Some("services"),
        "all, electric-lv",
    );
    check_refusal(
        &read("trial holes", ""),
        "value-missing",
        Some(7),
        Some("method"),
        "how it was searched",
    );
    check_refusal(
        &read("unable", ""),
        "value-missing",
        Some(7),
        Some("outcome"),
        "how the search ended",
    );
    check_refusal(
        &read("unable", "fine"),
        "unknown-word",
        Some(7),
        Some("outcome"),
        "all-found-recorded",
    );
    check_refusal(
        &read("11.20", ""),
        "value-missing",
        Some(7),
        Some("down_to_level"),
        "how deep",
    );
    check_refusal(
        &read(",,,11.20", ",1.5,,"),
        "value-missing",
        Some(7),
        Some("surface"),
        "below which surface",
    );
    check_refusal(
        &read(",,,11.20", ",1.5,Yard,11.20"),
        "area-disagrees",
        Some(7),
        Some("down_to_level"),
        "a depth and a level",
    );
    check_refusal(
        &read("1.5,Yard", "1.6,Yard"),
        "area-disagrees",
        Some(4),
        Some("down_to_depth"),
        "1.50 in row 2 and 1.6 in row 4",
    );
    check_refusal(
        &read("432010,5811010", "432005,5811000"),
        "ring-crosses",
        Some(8),
        Some("easting"),
        "meets itself",
    );
    check_refusal(
        &read("A2,432010,5811010,,,,,,,,\n", ""),
        "no-area",
        Some(7),
        Some("easting"),
        "needs three",
    );
    check_refusal(
        &read("432010,5811010", "5811010,432010"),
        "swapped",
        Some(9),
        Some("easting"),
        "swapped",
    );
}

#[test]
fn expected_runs_are_read_and_held_to_their_words() {
    let text = "run,service,from,to,size_mm,count\nE1,electric-lv,board,pump,40,2\nE2,WATER,,,,\n";
    let draft = read_expected(text.as_bytes(), &options(), &mut |_| {})
        .draft
        .unwrap();
    assert_eq!(
        (draft.runs[0].service, draft.runs[0].count),
        (Service::ElectricLv, Some(2))
    );
    assert_eq!(
        (draft.runs[1].service, draft.runs[1].from.clone()),
        (Service::Water, None)
    );
    let read = |rows: &str| {
        let text = format!("run,service,size_mm,count\n{rows}\n");
        read_expected(text.as_bytes(), &options(), &mut |_| {})
    };
    check_refusal(
        &read("E1,gas,,\nE1,gas,,"),
        "label-twice",
        Some(3),
        Some("run"),
        "row 2",
    );
    check_refusal(
        &read("E1,,,"),
        "service-missing",
        Some(2),
        Some("service"),
        "unknown when nobody knows",
    );
    check_refusal(
        &read("E1,gas,-4,"),
        "absurd-size",
        Some(2),
        Some("size_mm"),
        "above nought",
    );
    check_refusal(
        &read("E1,gas,,0"),
        "absurd-size",
        Some(2),
        Some("count"),
        "whole number",
    );
    check_refusal(&read(",gas,,"), "value-missing", Some(2), Some("run"), "missing");
}

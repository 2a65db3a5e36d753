//! Files of ties, offsets, satellite positions and detected depths: what is read digit for digit, and what is refused.

mod common;

use common::{check_refusal, options};
use coverbook_exchange::{PointsDraft, ReadOptions, Reading, TapedKind, read_taped};
use register::body::{LevelFrom, MeasuredFrom};
use register::words::{DetectorMethod, FigureMeans, HeightAbove, SatelliteFix, SurfaceKind};

fn with_surfaces() -> ReadOptions {
    ReadOptions {
        surfaces: vec![
            ("slab".into(), SurfaceKind::FinishedBuilt),
            ("yard".into(), SurfaceKind::Existing),
            ("yard".into(), SurfaceKind::FinishedDesign),
        ],
        ..options()
    }
}

fn read(kind: TapedKind, text: &str) -> Reading<PointsDraft> {
    read_taped(text.as_bytes(), &with_surfaces(), kind, &mut |_| {})
}

const TIES: &str = "point,touched,from_1,distance_1,from_2,distance_2,from_3,distance_3,rise_1,side,tape_sigma_mm,depth,below,sigma_v_mm,run,service,outside_mm,material,note\n";

#[test]
fn ties_and_a_depth_are_read_digit_for_digit() {
    let rows = "P1,outside-top,C1,4.880,C2,5.467,C3,4.08,0.45,left,5,0.450,slab,4,W1,water,63,PE,by the door\n\
        P2,outside-top,C1,6.1,P1,3.05,,,,Right,5,18in,slab,4,W1,water,63,PE,\n";
    let feet = rows.replace("18in", "0.46");
    let reading = read(TapedKind::Ties, &format!("{TIES}{feet}"));
    let draft = reading.draft.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    let Some(MeasuredFrom::Ties { ties, side, level }) = &draft.points[0].measured else {
        panic!("{:?}", draft.points[0]);
    };
    let taped: Vec<_> = ties
        .iter()
        .map(|t| (t.from.as_str(), t.distance_m.as_str()))
        .collect();
    assert_eq!(taped, [("C1", "4.880"), ("C2", "5.467"), ("C3", "4.08")]);
    assert_eq!(ties[0].rise_m.as_ref().map(|d| d.as_str()), Some("0.45"));
    assert_eq!(side, "left");
    let Some(LevelFrom::Depth {
        surface,
        surface_kind,
        depth_m,
        sigma_mm,
    }) = level.as_deref()
    else {
        panic!("{level:?}");
    };
    assert_eq!(
        (surface.as_str(), *surface_kind),
        ("slab", SurfaceKind::FinishedBuilt)
    );
    assert_eq!((depth_m.as_str(), sigma_mm.as_str()), ("0.450", "4"));
    assert_eq!(draft.points[0].note.as_deref(), Some("by the door"));
    let MeasuredFrom::Ties { ties, side, .. } = draft.points[1].measured.as_ref().unwrap() else {
        panic!("{:?}", draft.points[1]);
    };
    assert_eq!((ties.len(), side.as_str()), (2, "right"));
    assert_eq!(draft.runs[0].points, ["P1", "P2"]);
}

#[test]
fn how_well_a_rise_is_known_goes_with_the_tapes_that_rise() {
    let text = "point,touched,from_1,distance_1,rise_1,from_2,distance_2,rise_sigma_mm,side,tape_sigma_mm,level,sigma_v_mm\n\
        P1,outside-top,C1,4.880,0.45,C2,5.467,12,left,5,9.5,4\n";
    let reading = read(TapedKind::Ties, text);
    let draft = reading.draft.unwrap_or_else(|| panic!("{:#?}", reading.findings));
    let Some(MeasuredFrom::Ties { ties, .. }) = &draft.points[0].measured else {
        panic!("{:?}", draft.points[0]);
    };
    let known: Vec<_> = ties
        .iter()
        .map(|t| t.rise_sigma_mm.as_ref().map(|d| d.as_str()))
        .collect();
    assert_eq!(known, [Some("12"), None]);
}

#[test]
fn a_prefix_goes_before_the_points_of_the_file_and_not_before_control() {
    let rows = "P1,outside-top,C1,4.88,C2,5.46,,,,left,5,0.45,slab,4,,,,,\nP2,outside-top,C1,6.1,P1,3.05,,,,left,5,0.45,slab,4,,,,,\n";
    let prefixed = ReadOptions {
        prefix: Some("d2-".into()),
        ..with_surfaces()
    };
    let reading = read_taped(
        format!("{TIES}{rows}").as_bytes(),
        &prefixed,
        TapedKind::Ties,
        &mut |_| {},
    );
    let draft = reading.draft.unwrap();
    let from: Vec<_> = draft.points[1].measured.as_ref().unwrap().hangs_on().collect();
    assert_eq!(
        (draft.points[1].point.as_str(), from),
        ("d2-P2", vec!["C1", "d2-P1"])
    );
}

#[test]
fn offsets_say_their_side_in_words() {
    let header =
        "point,touched,line_from,line_to,chainage_ft,offset_ft,side,tape_sigma_mm,level,sigma_v_mm\n";
    let reading = read(
        TapedKind::Offsets,
        &format!("{header}P1,invert,C1,C2,10,2,left,5,11.250,4\n"),
    );
    let draft = reading.draft.unwrap();
    let Some(MeasuredFrom::Offset(taped)) = &draft.points[0].measured else {
        panic!("{:?}", draft.points[0]);
    };
    // The international foot is 0.3048 m exactly (definition); what was read stays in the note.
    assert_eq!(
        (taped.chainage_m.as_str(), taped.offset_m.as_str()),
        ("3.0480", "0.6096")
    );
    assert_eq!(
        draft.points[0].note.as_deref(),
        Some("chainage_ft=10; offset_ft=2")
    );
    assert!(matches!(&taped.level, LevelFrom::Stated { level_m, .. } if level_m.as_str() == "11.250"));
    check_refusal(
        &read(
            TapedKind::Offsets,
            &format!("{header}P1,invert,C1,C2,10,-2,left,5,11.250,4\n"),
        ),
        "absurd-size",
        Some(2),
        Some("offset_ft"),
        "left or right in side",
    );
    check_refusal(
        &read(
            TapedKind::Offsets,
            &format!("{header}P1,invert,C1,C2,10,2,,5,11.250,4\n"),
        ),
        "value-missing",
        Some(2),
        Some("side"),
        "missing",
    );
    check_refusal(
        &read(
            TapedKind::Offsets,
            &format!("{header}P1,invert,C1,C2,10,2,left,0,11.250,4\n"),
        ),
        "absurd-size",
        Some(2),
        Some("tape_sigma_mm"),
        "not above nought",
    );
}

#[test]
fn a_level_is_given_in_one_way_with_how_well_it_was_read() {
    let header = "point,touched,line_from,line_to,chainage,offset,side,tape_sigma_mm,level,staff_mark,staff_back,staff_fore,depth,below,sigma_v_mm\n";
    let row = |level: &str| {
        read(
            TapedKind::Offsets,
            &format!("{header}P1,invert,C1,C2,3,2,left,5,{level}\n"),
        )
    };
    check_refusal(
        &row(",,,,,,4"),
        "level-missing",
        Some(2),
        Some("level"),
        "nothing says its level",
    );
    check_refusal(
        &row("11.2,,,,0.4,slab,4"),
        "level-missing",
        Some(2),
        Some("level"),
        "several ways (level, depth)",
    );
    check_refusal(
        &row("11.2,,,,,,"),
        "value-missing",
        Some(2),
        Some("sigma_v_mm"),
        "how well its level was read",
    );
    check_refusal(
        &row(",C1,1.2,,,,4"),
        "value-missing",
        Some(2),
        Some("staff_fore"),
        "missing",
    );
    check_refusal(
        &row(",,,,0.4,yard,4"),
        "no-such-surface",
        Some(2),
        Some("below"),
        "several kinds",
    );
    check_refusal(
        &row(",,,,0.4,roof,4"),
        "no-such-surface",
        Some(2),
        Some("below"),
        "slab, finished-built",
    );
    let draft = row(",C1,1.425,2.310,,,4").draft.unwrap();
    let level = draft.points[0].measured.as_ref().unwrap().level().unwrap();
    assert!(
        matches!(level, LevelFrom::Staff { mark, fore_m, .. } if mark == "C1" && fore_m.as_str() == "2.310")
    );
    let named = row(",,,,0.4,\"yard, existing\",4").draft.unwrap();
    assert_eq!(
        named.points[0].measured.as_ref().unwrap().below(),
        Some(("yard", SurfaceKind::Existing))
    );
}

#[test]
fn a_satellite_position_keeps_what_the_receiver_states_and_what_it_means() {
    let header =
        "point,touched,easting,northing,height,height_above,antenna,fix,horizontal_mm,vertical_mm,means\n";
    let row = |rest: &str| {
        read(
            TapedKind::Satellite,
            &format!("{header}P1,outside-top,432100.012,5811000.034,{rest}\n"),
        )
    };
    let draft = row("13.500,site-datum,2.000,fixed,14,22,95").draft.unwrap();
    let Some(MeasuredFrom::Satellite(shown)) = &draft.points[0].measured else {
        panic!("{:?}", draft.points[0]);
    };
    assert_eq!(
        (shown.fix, shown.means),
        (SatelliteFix::Fixed, Some(FigureMeans::P95))
    );
    assert_eq!(shown.horizontal_mm.as_ref().map(|d| d.as_str()), Some("14"));
    assert!(matches!(
        &shown.level,
        LevelFrom::Receiver { above: HeightAbove::SiteDatum, antenna_m, .. } if antenna_m.as_str() == "2.000"
    ));
    check_refusal(
        &row("13.5,site-datum,2,fixed,14,22,"),
        "value-missing",
        Some(2),
        Some("means"),
        "sigma, 95 or 50",
    );
    check_refusal(
        &row("13.5,site-datum,,fixed,14,22,95"),
        "value-missing",
        Some(2),
        Some("antenna"),
        "nothing stands in",
    );
    check_refusal(
        &row("13.5,,2,fixed,14,22,95"),
        "value-missing",
        Some(2),
        Some("height_above"),
        "missing",
    );
    check_refusal(
        &row("13.5,site-datum,2,good,14,22,95"),
        "unknown-word",
        Some(2),
        Some("fix"),
        "not-stated",
    );
}

#[test]
fn a_detected_depth_asks_for_all_that_its_maker_states() {
    let header =
        "point,touched,easting,northing,sigma_h_mm,depth,below,method,percent,constant_mm,across_mm,means\n";
    let row = |rest: &str| read(TapedKind::Detected, &format!("{header}P1,{rest}\n"));
    let draft = row("centre,432100,5811000,30,1.20,slab,active,5,20,80,95")
        .draft
        .unwrap();
    let Some(MeasuredFrom::Coordinates(marked)) = &draft.points[0].measured else {
        panic!("{:?}", draft.points[0]);
    };
    let LevelFrom::Detector(shown) = &marked.level else {
        panic!("{marked:?}");
    };
    assert_eq!(
        (shown.method, shown.means),
        (DetectorMethod::Active, FigureMeans::P95)
    );
    assert_eq!((shown.percent.as_str(), shown.constant_mm.as_str()), ("5", "20"));
    assert_eq!(draft.points[0].known, None);
    let touched = row(",432100,5811000,30,1.20,slab,active,5,20,80,95");
    check_refusal(
        &touched,
        "touched-missing",
        Some(2),
        Some("touched"),
        "nothing stands in",
    );
    for (rest, column) in [
        ("centre,432100,5811000,30,1.20,slab,,5,20,80,95", "method"),
        ("centre,432100,5811000,30,1.20,slab,active,,20,80,95", "percent"),
        (
            "centre,432100,5811000,30,1.20,slab,active,5,,80,95",
            "constant_mm",
        ),
        ("centre,432100,5811000,30,1.20,slab,active,5,20,,95", "across_mm"),
        ("centre,432100,5811000,30,1.20,slab,active,5,20,80,", "means"),
    ] {
        check_refusal(&row(rest), "value-missing", Some(2), Some(column), "missing");
    }
    // The mark above by an offset: the columns that are filled say so.
    let header = "point,touched,line_from,line_to,chainage,offset,side,tape_sigma_mm,depth,below,method,percent,constant_mm,across_mm,means\n";
    let text = format!("{header}P1,centre,C1,C2,3,2,left,5,1.20,slab,radar,10,0,80,sigma\n");
    let draft = read(TapedKind::Detected, &text).draft.unwrap();
    assert!(matches!(
        &draft.points[0].measured,
        Some(MeasuredFrom::Offset(taped)) if matches!(taped.level, LevelFrom::Detector(_))
    ));
}

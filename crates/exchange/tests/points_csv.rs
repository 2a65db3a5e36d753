//! Points out as CSV and in again: nothing is lost, whatever the text.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

mod common;

use common::options;
use coverbook_exchange::{PointsCsvError, PointsDraft, read_points, write_points_csv};
use proptest::prelude::*;
use register::body::{PointRow, RunEnd, RunLaid, SectionRow};
use register::service::Service;
use register::words::{Fitting, Known, Touched};
use survey::Decimal;

fn back(points: &[PointRow], runs: &[RunLaid]) -> PointsDraft {
    let mut out = Vec::new();
    write_points_csv(&mut out, points, runs).unwrap();
    let reading = read_points(&out, &options(), &mut |_| {});
    let mut draft = reading
        .draft
        .unwrap_or_else(|| panic!("{}\n{:#?}", String::from_utf8_lossy(&out), reading.findings));
    draft.points.iter_mut().for_each(|point| point.row = None);
    draft.runs.sort_by(|a, b| a.run.cmp(&b.run));
    draft
}

fn decimal(text: String) -> Decimal {
    text.parse().unwrap()
}

prop_compose! {
    /// Text without blanks at its ends: those are not kept in labels.
    fn label()(text in "[=+@\"',;<>&a-zA-Z0-9\u{e9}\u{1f6b0}]([ -~\n\r\t]{0,8}[=\"'<>a-z0-9])?") -> String { text }
}

prop_compose! {
    fn point(index: usize)(
        label in label(),
        (east, north, level) in (0u32..400_000, 0u32..400_000, 0u32..9_999),
        places in 3usize..6,
        touched in proptest::sample::select(&[Touched::OutsideTop, Touched::Invert, Touched::Centre, Touched::OutsideBottom, Touched::Side][..]),
        bearing in 0u32..3600,
        known in proptest::option::of(proptest::sample::select(Known::ALL)),
        fitting in proptest::option::of(proptest::sample::select(Fitting::ALL)),
        (sigma_h, sigma_v, radius) in (proptest::option::of(1u32..900), proptest::option::of(1u32..900), proptest::option::of(1u32..9_000)),
        note in proptest::option::of("[ -~\n\r\u{e9}]{1,30}"),
        timed in any::<bool>(),
    ) -> PointRow {
        let fine = |whole: u32, mm: u32| format!("{}.{:03}{}", whole + mm / 1000, mm % 1000, "0".repeat(places - 3));
        PointRow {
            point: format!("{label}{index}"),
            easting_m: decimal(fine(431_900, east)),
            northing_m: decimal(fine(5_810_800, north)),
            level_m: decimal(fine(5, level)),
            touched,
            side_bearing_deg: (touched == Touched::Side).then(|| decimal(format!("{}.{}", bearing / 10, bearing % 10))),
            sigma_h_mm: sigma_h.map(|mm| decimal(format!("{mm}.50"))),
            sigma_v_mm: sigma_v.map(|mm| decimal(mm.to_string())),
            known,
            fitting,
            bend_radius_mm: radius.map(|mm| decimal(mm.to_string())),
            observed_at: timed.then(|| "2026-05-04T14:30:00+10:00".to_owned()),
            note,
            same_as: None,
            measured: None,
            row: None,
        }
    }
}

prop_compose! {
    fn run(name: String)(
        service in proptest::sample::select(&Service::ALL[..]),
        (size, outside, spacing) in (proptest::option::of(10u32..300), proptest::option::of(10u32..300), proptest::option::of(10u32..300)),
        (rows, columns) in (proptest::option::of(1u32..9), proptest::option::of(1u32..9)),
        (material, owner, note) in (proptest::option::of(label()), proptest::option::of(label()), proptest::option::of(label())),
        begins in proptest::sample::select(vec![RunEnd::Capped, RunEnd::NotStated, RunEnd::ContinuesUnrecorded]),
        structure in label(),
    ) -> RunLaid {
        RunLaid {
            run: name.clone(),
            service,
            points: vec![],
            section: SectionRow {
                size_mm: size.map(|mm| decimal(mm.to_string())),
                outside_mm: outside.map(|mm| decimal(format!("{mm}.0"))),
                wall_mm: outside.map(|_| decimal("1.8".to_owned())),
                material,
                rows,
                columns,
                spacing_mm: spacing.map(|mm| decimal(mm.to_string())),
            },
            ends: [begins, RunEnd::Enters { structure }],
            bow_mm: size.map(|_| decimal("50".to_owned())),
            owner,
            note,
            import_id: Some(options().import.import_id),
        }
    }
}

fn site() -> impl Strategy<Value = (Vec<PointRow>, Vec<RunLaid>)> {
    let points: Vec<_> = (0..9).map(point).collect();
    (points, run("A".into()), run("B \"=1\"".into())).prop_map(|(points, mut first, mut second)| {
        let label = |index: usize| points[index].point.clone();
        // Point 3 is on both runs and point 8 on none; the second run goes against the order of the file.
        first.points = [0, 1, 2, 3].map(label).to_vec();
        second.points = [7, 6, 5, 3, 4].map(label).to_vec();
        (points, vec![first, second])
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn points_and_runs_come_back_as_they_were((points, runs) in site()) {
        let draft = back(&points, &runs);
        prop_assert_eq!(draft.points, points);
        prop_assert_eq!(draft.runs, runs);
    }
}

#[test]
fn a_run_through_a_point_that_is_not_given_is_refused() {
    let run = RunLaid {
        run: "R".into(),
        service: Service::Gas,
        points: vec!["P9".into()],
        section: SectionRow::default(),
        ends: [RunEnd::NotStated, RunEnd::NotStated],
        bow_mm: None,
        owner: None,
        note: None,
        import_id: None,
    };
    let mut out = Vec::new();
    let error = write_points_csv(&mut out, &[], &[run]).unwrap_err();
    assert!(matches!(error, PointsCsvError::PointMissing { .. }) && error.to_string().contains("point P9"));
    assert!(out.is_empty());
}

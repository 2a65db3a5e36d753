//! Every name that a file gives is kept whole or refused: 200 characters, prefix included, are the most.

mod common;

use common::{check_refusal, options};
use coverbook_exchange::{
    LevelOptions, ReadOptions, Reading, read_control, read_expected, read_levels, read_points, read_searched,
};
use register::words::Spread;

fn named(most: usize, prefix: &str) -> (String, ReadOptions) {
    let mut options = options();
    options.prefix = Some(prefix.to_owned());
    ("n".repeat(most - prefix.len()), options)
}

#[track_caller]
fn check<T>(column: &str, read: impl Fn(&str, &ReadOptions) -> Reading<T>) {
    for prefix in ["", "day-2-"] {
        let (name, options) = named(200, prefix);
        let reading = read(&name, &options);
        assert!(reading.draft.is_some(), "{:#?}", reading.findings);
        let (name, options) = named(201, prefix);
        let reading = read(&name, &options);
        let row = Some(2);
        check_refusal(
            &reading,
            "text-too-long",
            row,
            Some(column),
            "longer than 200 characters",
        );
    }
}

#[test]
fn the_names_of_points_runs_areas_and_marks_are_kept_whole_or_refused() {
    let points = |text: String, options: &ReadOptions| read_points(text.as_bytes(), options, &mut |_| {});
    check("point", |name, options| {
        let head = "point,easting,northing,level,touched";
        points(format!("{head}\n{name},432100,5811000,12,centre\n"), options)
    });
    check("run", |name, options| {
        let head = "point,easting,northing,level,touched,run,service";
        let rows = format!("A,432100,5811000,12,centre,{name},gas\nB,432101,5811000,12,centre,{name},gas\n");
        points(format!("{head}\n{rows}"), options)
    });
    check("area", |name, options| {
        let corners = [(0, 0), (9, 0), (9, 9)].map(|(e, n)| {
            let place = format!("{},{}", 432_100 + e, 5_811_000 + n);
            format!("{name},{place},all,trench open,11.0,all-found-recorded\n")
        });
        let text = format!(
            "area,easting,northing,services,method,down_to_level,outcome\n{}",
            corners.concat()
        );
        read_searched(text.as_bytes(), options, &mut |_| {})
    });
    check("run", |name, options| {
        let text = format!("run,service\n{name},gas\n");
        read_expected(text.as_bytes(), options, &mut |_| {})
    });
    check("point", |name, options| {
        let text = format!("point,back,fore,known_level\n{name},1.5,,\nBM,,1.5,12\n");
        let stated = LevelOptions {
            book: "B1".into(),
            allowable_k_mm: None,
            by_setups: false,
            spread: Spread::NotSpread,
            setup_sigma_mm: None,
        };
        read_levels(text.as_bytes(), options, &stated, &mut |_| {})
    });
}

/// Control keeps its labels: no prefix is put before them.
#[test]
fn the_label_of_a_control_point_is_counted_without_a_prefix() {
    for (most, is_kept) in [(200, true), (201, false)] {
        let (name, mut options) = named(most, "");
        options.prefix = Some("day-2-".into());
        let text = format!("point,easting,northing,level\n{name},432100,5811000,12\n");
        let reading = read_control(text.as_bytes(), &options, &mut |_| {});
        assert_eq!(reading.draft.is_some(), is_kept, "{:#?}", reading.findings);
    }
}

//! Times canonical JSON of a body of 1,000 points against the library that writes all of RFC 8785.
//!
//! Goal: at least 1.3 times as fast, or the quick way is not worth its lines.
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use coverbook_register::body::{Act, MeasuredFrom, PointRow, PointsRecorded, SightRow};
use coverbook_register::canonical;
use coverbook_register::words::{Fitting, Known, Touched};
use std::hint::black_box;
use std::time::{Duration, Instant};
use survey::Decimal;

fn decimal(text: &str) -> Decimal {
    text.parse().expect("a literal number reads")
}

/// Half by coordinates, half by a station: what a day's book holds.
fn points() -> Act {
    let point = |i: u32| PointRow {
        point: format!("S1-{i}"),
        easting_m: decimal(&format!("431029.{:03}", i % 1000)),
        northing_m: decimal(&format!("5093028.{:03}", i % 997)),
        level_m: decimal(&format!("3.{:03}", i % 991)),
        touched: Touched::OutsideTop,
        side_bearing_deg: None,
        sigma_h_mm: Some(decimal("4")),
        sigma_v_mm: Some(decimal("2")),
        known: Some(Known::Seen),
        fitting: i.is_multiple_of(7).then_some(Fitting::Joint),
        bend_radius_mm: None,
        observed_at: Some("2031-05-03T08:05:34Z".into()),
        note: i.is_multiple_of(5).then(|| "by the gate".into()),
        same_as: None,
        measured: i.is_multiple_of(2).then(|| MeasuredFrom::Station {
            station: "ST1".into(),
            sights: vec![SightRow {
                direction: Some("123.4507".into()),
                zenith: Some("91.1532".into()),
                slope_m: Some(decimal("23.456")),
                target_height_m: decimal("1.300"),
                prism_mm: decimal("0"),
                face: None,
                row: Some(u64::from(i) + 2),
            }],
        }),
        row: Some(u64::from(i) + 2),
    };
    Act::PointsRecorded(PointsRecorded {
        import: None,
        points: (0..1_000).map(point).collect(),
        checks: Vec::new(),
    })
}

fn median(mut run: impl FnMut()) -> Duration {
    let mut times: Vec<Duration> = (0..101)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed()
        })
        .collect();
    times.sort();
    times[times.len() / 2]
}

fn main() {
    let act = points();
    let ours = canonical::to_vec(&act).expect("it is written");
    assert_eq!(ours, serde_jcs::to_vec(&act).expect("it is written"));
    let quick = median(|| drop(black_box(canonical::to_vec(black_box(&act)))));
    let library = median(|| drop(black_box(serde_jcs::to_vec(black_box(&act)))));
    println!(
        "1,000 points, {} KB: {quick:?}; serde_jcs {library:?}; {:.1} times as fast",
        ours.len() / 1000,
        library.as_secs_f64() / quick.as_secs_f64()
    );
}

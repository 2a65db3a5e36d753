//! The columns that the README documents for taped, satellite and detected files are those that are read.

mod common;

use common::options;
use coverbook_exchange::{TapedKind, read_taped};

#[test]
fn every_column_of_a_taped_file_is_in_the_readme() {
    let readme = include_str!("../../../README.md");
    // A file with a nonsense header is refused with what is missing; every kind's columns must be told of.
    let columns = [
        "from_1",
        "distance_1",
        "rise_1",
        "from_4",
        "distance_4",
        "rise_4",
        "side",
        "tape_sigma_mm",
        "line_from",
        "line_to",
        "chainage",
        "offset",
        "square_sigma_deg",
        "staff_mark",
        "staff_back",
        "staff_fore",
        "depth",
        "below",
        "fix",
        "horizontal_mm",
        "vertical_mm",
        "means",
        "height",
        "height_above",
        "antenna",
        "method",
        "percent",
        "constant_mm",
        "across_mm",
    ];
    let header = format!("point,touched,easting,northing,{}\n", columns.join(","));
    for kind in [
        TapedKind::Ties,
        TapedKind::Offsets,
        TapedKind::Satellite,
        TapedKind::Detected,
    ] {
        let reading = read_taped(header.as_bytes(), &options(), kind, &mut |_| {});
        for column in columns {
            assert!(readme.contains(&format!("`{column}`")), "README lacks {column}");
            let read = reading.columns.iter().find(|c| c.header == column);
            assert!(read.is_some_and(|c| c.read_as.is_some()), "{column} is not read");
        }
    }
}

#[test]
fn the_readmes_example_reads() {
    let readme = include_str!("../../../README.md");
    let mut lines = readme
        .lines()
        .skip_while(|line| !line.starts_with("    point,touched,from_1"));
    let text = format!(
        "{}\n{}\n",
        lines.next().unwrap().trim(),
        lines.next().unwrap().trim()
    );
    let mut options = options();
    options.surfaces = vec![(
        "Finished surface".into(),
        register::words::SurfaceKind::FinishedBuilt,
    )];
    let reading = read_taped(text.as_bytes(), &options, TapedKind::Ties, &mut |_| {});
    assert!(reading.draft.is_some(), "{:#?}", reading.findings);
}

//! GeoJSON as another program sees it: GDAL opens our file, counts its features and takes them back to the grid.
//!
//! A machine without GDAL's command-line programs fails these tests; it does not skip them.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

use exchange::{GeoJsonSite, write_geojson};
use register::view::{Down, GridView, HeadView, MapArea, Near, RunCard, RunCardVertex, Up, Why};
use std::path::Path;
use std::process::Command;
use survey::projection::Projection;

/// WGS 84 / UTM zone 55S: the same ellipsoid and datum as GeoJSON's, so that GDAL shifts nothing.
const EPSG: u32 = 32755;

fn vertex(point: &str, measured: [&str; 3]) -> RunCardVertex {
    let at = measured.map(|text| Near(text.parse().unwrap()));
    RunCardVertex {
        point: point.into(),
        measured: measured.map(str::to_owned),
        how: "sighted from station S1".into(),
        touched: "outside-top".into(),
        chainage_m: Near(0.0),
        axis: at,
        top_level_m: at[2],
        invert_level_m: None,
        u95_h_m: Some(Up(0.012)),
        ellipse: None,
        u95_v_m: None,
        u95_assumed: false,
        doubts: Vec::new(),
        known: "seen".into(),
        surface_level_m: None,
        cover_m: Some(Down(0.598)),
        cover_u95_m: None,
        depth_to_invert_m: None,
        observed_at: "2026-05-04T14:30:00+10:00".into(),
        by: "Person 1".into(),
        entry: 4,
        why: Why::new(),
    }
}

fn run(name: &str, vertices: Vec<RunCardVertex>) -> RunCard {
    RunCard {
        format: "coverbook.run/1".into(),
        run: name.into(),
        service: "water".into(),
        letters: "W".into(),
        section: "63 mm outside".into(),
        outside_m: Near(0.063),
        section_assumed: false,
        status: "in-use".into(),
        known: "seen".into(),
        ends: ["capped".into(), "not-stated".into()],
        owner: None,
        note: None,
        below: None,
        vertices,
        legs: vec![],
        length_m: Near(25.0),
        bow_m: None,
        findings: vec![],
        entries: vec![5],
        releases: Vec::new(),
        why: Why::new(),
    }
}

/// Writes an invented site and returns the folder that holds it.
fn site() -> tempfile::TempDir {
    let runs = [
        run(
            "W1 \"<b>\" =A1, č",
            vec![
                vertex("P1", ["432100.120", "5811000.500", "12.340"]),
                vertex("P2", ["432125.121", "5811000.501", "12.300"]),
            ],
        ),
        run(
            "W2",
            vec![
                vertex("P3", ["431999.999", "5810900.001", "11.000"]),
                vertex("P4", ["432001.000", "5810950.000", "11.100"]),
                vertex("P5", ["432002.000", "5810999.000", "11.200"]),
            ],
        ),
    ];
    let corner = |easting: f64, northing: f64| [Near(easting), Near(northing)];
    let areas = [MapArea {
        area: "A1".into(),
        // Clockwise on purpose.
        ring: vec![
            corner(432_000.0, 5_810_900.0),
            corner(432_000.0, 5_811_000.0),
            corner(432_120.0, 5_811_000.0),
            corner(432_120.0, 5_810_900.0),
        ],
        services: vec!["gas".into(), "water".into()],
        counts: true,
        says: "trial holes".into(),
    }];
    let projection = Projection::of(EPSG).unwrap();
    let to_lonlat = |easting: f64, northing: f64| {
        let place = projection.to_lonlat(easting, northing).ok()?;
        Some([place.longitude_deg, place.latitude_deg])
    };
    let grid = GridView {
        epsg: Some(EPSG),
        name: projection.title(),
        distances: "grid".into(),
        level_datum: "site datum".into(),
        bench_mark: "BM1".into(),
    };
    let head = HeadView {
        n: 5,
        hex: "0f".repeat(32),
        recorded_at: None,
    };
    let site = GeoJsonSite {
        site: "Yard 7",
        head: &head,
        grid: &grid,
        position_basis: "for finding the place; set out from E, N, level only",
    };
    let mut bytes = Vec::new();
    let runs = runs.iter().map(|card| (card, None));
    let written = write_geojson(&mut bytes, site, runs, &areas, &to_lonlat).unwrap();
    assert_eq!((written.runs, written.points, written.areas), (2, 5, 1));
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("site.geojson"), bytes).unwrap();
    folder
}

#[track_caller]
fn gdal(program: &str, arguments: &[&str], folder: &Path) -> String {
    let output = Command::new(program)
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap_or_else(|error| panic!("{program} cannot be run ({error}); install GDAL (Debian: gdal-bin)"));
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(
        output.status.success() && errors.is_empty(),
        "{program} {arguments:?}: {errors}"
    );
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn gdal_opens_the_file_and_finds_every_feature() {
    let folder = site();
    let seen = gdal("ogrinfo", &["-ro", "-al", "site.geojson"], folder.path());
    assert!(seen.contains("using driver `GeoJSON' successful"), "{seen}");
    assert!(seen.contains("Feature Count: 8"), "{seen}");
    for (kind, count) in [("  LINESTRING (", 2), ("  POINT (", 5), ("  POLYGON ((", 1)] {
        assert_eq!(seen.matches(kind).count(), count, "{kind} in {seen}");
    }
    for text in [
        "run (String) = W1 \"<b>\" =A1, č",
        "touched (String) = outside-top",
        "level_m (Real) = 12.34",
        "cover_m (Real) = 0.598",
        "vertex_level_m (RealList) = (2:12.34,12.3)",
        "GEOGCRS[\"WGS 84\"",
        "position_basis (String) = for finding the place",
    ] {
        assert!(seen.contains(text), "{text} in {seen}");
    }
}

#[test]
fn gdal_takes_the_points_back_to_where_they_were_measured() {
    let folder = site();
    let epsg = format!("EPSG:{EPSG}");
    let query = "select point, cast(easting_m as real) as e, cast(northing_m as real) as n, geometry from site where \
                 feature = 'point'";
    let arguments = [
        "-f",
        "CSV",
        "/vsistdout/",
        "site.geojson",
        "-dialect",
        "SQLite",
        "-sql",
        query,
        "-t_srs",
        &epsg,
        "-lco",
        "GEOMETRY=AS_XY",
    ];
    let text = gdal("ogr2ogr", &arguments, folder.path());
    let measured = [
        ("P1", 432_100.120, 5_811_000.500),
        ("P2", 432_125.121, 5_811_000.501),
        ("P3", 431_999.999, 5_810_900.001),
        ("P4", 432_001.000, 5_810_950.000),
        ("P5", 432_002.000, 5_810_999.000),
    ];
    let rows: Vec<Vec<&str>> = text
        .lines()
        .skip(1)
        .map(|line| line.split(',').collect())
        .collect();
    assert_eq!(rows.len(), measured.len(), "{text}");
    for (row, (point, easting, northing)) in rows.iter().zip(measured) {
        let number = |index: usize| row[index].trim_matches('"').parse::<f64>().unwrap();
        assert_eq!(row[2].trim_matches('"'), point);
        // The ninth decimal of a degree is a tenth of a millimetre; the projections agree far better.
        assert!((number(0) - easting).abs() < 0.0002, "{row:?}");
        assert!((number(1) - northing).abs() < 0.0002, "{row:?}");
    }
}

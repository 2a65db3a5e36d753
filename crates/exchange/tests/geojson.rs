//! GeoJSON held to RFC 7946: a checker proved on the RFC's own rules, then turned on what we write.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

#[path = "common/cards.rs"]
mod cards;

use cards::{area, card, drawn, grid, head, plain_card, vertex};
use coverbook_exchange::{GeoJsonError, GeoJsonSite, ToLonLat, write_geojson};
use register::view::{MapArea, MapRun, RunCard};
use serde_json::Value;

/// Lists what RFC 7946 says against a document as output.
fn faults(document: &Value) -> Vec<String> {
    let mut found = Vec::new();
    match document["type"].as_str() {
        Some("FeatureCollection") => {
            if document.get("crs").is_some() {
                found.push("a crs member (section 4)".to_owned());
            }
            match document["features"].as_array() {
                Some(features) => found.extend(features.iter().flat_map(faults)),
                None => found.push("no features (3.3)".to_owned()),
            }
        }
        Some("Feature") => {
            if !document
                .get("properties")
                .is_some_and(|p| p.is_object() || p.is_null())
            {
                found.push("no properties (3.2)".to_owned());
            }
            if !document
                .get("id")
                .is_none_or(|id| id.is_string() || id.is_number())
            {
                found.push("an id that is neither text nor number (3.2)".to_owned());
            }
            match document.get("geometry") {
                Some(Value::Null) => {}
                Some(geometry) => found.extend(faults(geometry)),
                None => found.push("no geometry (3.2)".to_owned()),
            }
        }
        Some("Point") => found.extend(position_fault(&document["coordinates"])),
        Some("LineString") => found.extend(line_faults(&document["coordinates"])),
        Some("MultiLineString") => {
            let lines = document["coordinates"].as_array().unwrap();
            found.extend(lines.iter().flat_map(line_faults));
        }
        Some("Polygon") => {
            for (index, ring) in document["coordinates"].as_array().unwrap().iter().enumerate() {
                found.extend(ring_faults(ring, index == 0));
            }
        }
        other => found.push(format!("a type {other:?}")),
    }
    found
}

fn position_fault(position: &Value) -> Option<String> {
    let numbers: Vec<f64> = position.as_array()?.iter().filter_map(Value::as_f64).collect();
    match numbers.as_slice() {
        [lon, lat] | [lon, lat, _] if lon.abs() <= 180.0 && lat.abs() <= 90.0 => None,
        _ => Some(format!("{position} is no longitude and latitude (3.1.1, 4)")),
    }
}

fn line_faults(line: &Value) -> Vec<String> {
    let positions = line.as_array().unwrap();
    let mut found: Vec<String> = positions.iter().filter_map(position_fault).collect();
    if positions.len() < 2 {
        found.push("a line of one position (3.1.4)".to_owned());
    }
    let lon = |position: &Value| position[0].as_f64().unwrap();
    if positions
        .windows(2)
        .any(|pair| (lon(&pair[1]) - lon(&pair[0])).abs() > 180.0)
    {
        found.push("a line over the 180th meridian that is not cut (3.1.9)".to_owned());
    }
    found
}

fn ring_faults(ring: &Value, exterior: bool) -> Vec<String> {
    let positions = ring.as_array().unwrap();
    let mut found: Vec<String> = positions.iter().filter_map(position_fault).collect();
    if positions.len() < 4 || positions.first() != positions.last() {
        found.push("a ring that is not closed, or has fewer than four positions (3.1.6)".to_owned());
    }
    let at = |index: usize, axis: usize| {
        positions[index][axis].as_f64().unwrap() - positions[0][axis].as_f64().unwrap()
    };
    let area: f64 = (1..positions.len())
        .map(|i| at(i - 1, 0) * at(i, 1) - at(i, 0) * at(i - 1, 1))
        .sum();
    if (area > 0.0) != exterior {
        found.push("a ring that runs the wrong way round (3.1.6)".to_owned());
    }
    found
}

#[test]
fn the_checker_agrees_with_the_rules_of_the_rfc() {
    // RFC 7946, as listed with its sections in tests/data/rfc7946.json.
    let rules: Value = serde_json::from_str(include_str!("data/rfc7946.json")).unwrap();
    let cases = rules["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 13);
    for case in cases {
        let acceptable = case["acceptable_as_output"].as_bool().unwrap();
        let found = faults(&case["document"]);
        assert_eq!(found.is_empty(), acceptable, "{}: {found:?}", case["id"]);
    }
}

/// An invented map from grid to degrees, fit for testing what is done with its figures.
fn to_degrees(easting: f64, northing: f64) -> Option<[f64; 2]> {
    Some([
        146.2 + (easting - 432_100.0) / 88_000.0,
        -37.8 + (northing - 5_811_000.0) / 111_000.0,
    ])
}

fn write(
    runs: &[(RunCard, Option<MapRun>)],
    areas: &[MapArea],
    to_lonlat: ToLonLat<'_>,
) -> Result<Value, GeoJsonError> {
    let (grid, head) = (grid(), head());
    let site = GeoJsonSite {
        site: "Yard \"<b>\" 7",
        head: &head,
        grid: &grid,
        position_basis: "invented; for finding the place, set out from E, N, level only",
    };
    let mut out = Vec::new();
    let runs = runs.iter().map(|(card, drawn)| (card, drawn.as_ref()));
    write_geojson(&mut out, site, runs, areas, to_lonlat)?;
    let document: Value = serde_json::from_slice(&out).unwrap();
    assert_eq!(faults(&document), Vec::<String>::new());
    // The crate that other programs read GeoJSON with takes it too.
    String::from_utf8(out)
        .unwrap()
        .parse::<geojson::GeoJson>()
        .unwrap();
    Ok(document)
}

const CLOCKWISE: [[f64; 2]; 4] = [
    [432_090.0, 5_810_990.0],
    [432_090.0, 5_811_010.0],
    [432_120.0, 5_811_010.0],
    [432_120.0, 5_810_990.0],
];

#[test]
fn a_site_is_written_as_lines_points_and_polygons() {
    let document = write(&[(plain_card("S1"), None)], &[area(&CLOCKWISE)], &to_degrees).unwrap();
    let features = document["features"].as_array().unwrap();
    let kinds: Vec<&str> = features
        .iter()
        .map(|f| f["geometry"]["type"].as_str().unwrap())
        .collect();
    assert_eq!(kinds, ["LineString", "Point", "Point", "Polygon"]);
    assert_eq!(document["format"], "coverbook.geojson/1");
    assert_eq!(document["site"], "Yard \"<b>\" 7");
    assert_eq!(document["head"], format!("12:{}", "ab".repeat(32)));
    assert_eq!(
        document["cautions"].as_array().unwrap().len(),
        register::view::CAUTIONS.len()
    );

    let line = &features[0]["properties"];
    assert_eq!(
        (&line["run"], &line["letters"], &line["size"]),
        (&"S1".into(), &"S".into(), &"110 mm outside".into())
    );
    assert_eq!(line["vertex_point"], serde_json::json!(["P1", "P2"]));
    assert_eq!(line["vertex_cover_m"], serde_json::json!([0.598, 0.598]));
    assert_eq!(
        line["why"]["vertex_invert_level_m at P2"],
        "the wall thickness is not known"
    );

    let point = &features[1]["properties"];
    assert_eq!(
        (&point["easting_m"], &point["northing_m"]),
        (&432100.12.into(), &5811000.5.into())
    );
    assert_eq!(
        (&point["level_m"], &point["top_level_m"]),
        (&12.34.into(), &12.34.into())
    );
    assert_eq!(
        point["as_measured"],
        serde_json::json!(["432100.120", "5811000.50", "12.340"])
    );
    // Covers are rounded down and uncertainties up, to the millimetre.
    assert_eq!(
        (&point["cover_m"], &point["u95_h_m"]),
        (&0.598.into(), &0.013.into())
    );
    assert_eq!(
        (&point["depth_to_invert_m"], &point["touched"]),
        (&Value::Null, &"outside-top".into())
    );
    assert_eq!(
        point["why"]["depth_to_invert_m"],
        "the wall thickness is not known"
    );
    assert_eq!(point["surface_name"], "Yard, north");
    assert_eq!(
        (&point["surface_kind"], &point["surface_date"]),
        (&"finished-built".into(), &"2026-04-01".into())
    );
    assert_eq!(
        (&point["by"], &point["known"]),
        (&"Person 1".into(), &"seen".into())
    );
    for feature in features {
        assert!(
            feature["properties"]["position_basis"]
                .as_str()
                .unwrap()
                .contains("E, N, level only")
        );
    }
}

#[test]
fn every_null_has_a_reason() {
    let mut card = plain_card("S1");
    card.below = None;
    card.why = cards::why(&[("below", "no surface is recorded")]);
    for vertex in &mut card.vertices {
        vertex.cover_m = None;
        vertex.u95_v_m = None;
        vertex.surface_level_m = None;
    }
    let document = write(&[(card, None)], &[], &to_degrees).unwrap();
    for feature in document["features"].as_array().unwrap() {
        let properties = feature["properties"].as_object().unwrap();
        for (name, value) in properties {
            if value.is_null() {
                let reason = properties["why"][name].as_str();
                assert!(
                    reason.is_some_and(|r| !r.is_empty()),
                    "{name} is null without a reason"
                );
            }
            for (at, _) in value
                .as_array()
                .into_iter()
                .flatten()
                .enumerate()
                .filter(|(_, v)| v.is_null())
            {
                let key = format!("{name} at P{}", at + 1);
                assert!(
                    properties["why"][&key].is_string(),
                    "{key} is null without a reason"
                );
            }
        }
        assert_eq!(properties["why"]["surface_name"], "no surface is recorded");
    }
}

#[test]
fn positions_have_nine_decimals_and_no_height() {
    let document = write(&[(plain_card("S1"), None)], &[], &|_, _| {
        Some([146.123_456_789_49, -37.000_000_000_4])
    })
    .unwrap();
    assert_eq!(
        document["features"][1]["geometry"]["coordinates"],
        serde_json::json!([146.123456789, -37.0])
    );
}

#[test]
fn a_drawn_axis_gives_the_line_its_bends() {
    let line = [
        [432_100.12, 5_811_000.5, 12.0],
        [432_105.0, 5_811_000.6, 12.0],
        [432_110.12, 5_811_000.5, 12.0],
    ];
    let document = write(&[(plain_card("S1"), Some(drawn("S1", &line)))], &[], &to_degrees).unwrap();
    let feature = &document["features"][0];
    assert_eq!(feature["geometry"]["coordinates"].as_array().unwrap().len(), 3);
    assert_eq!(feature["properties"]["line"], "axis with its bends");
}

#[test]
fn a_line_over_the_180th_meridian_is_cut_as_in_the_rfc() {
    // RFC 7946, section 3.1.9: from 170 E to 170 W at 45 N.
    let over = |easting: f64, _: f64| Some([if easting < 432_105.0 { 170.0 } else { -170.0 }, 45.0]);
    let document = write(&[(plain_card("S1"), None)], &[], &over).unwrap();
    let geometry = &document["features"][0]["geometry"];
    let expected = serde_json::json!([[[170.0, 45.0], [180.0, 45.0]], [[-180.0, 45.0], [-170.0, 45.0]]]);
    assert_eq!(
        (&geometry["type"], &geometry["coordinates"]),
        (&"MultiLineString".into(), &expected)
    );
    let ring = [
        [432_100.0, 5_811_000.0],
        [432_110.0, 5_811_000.0],
        [432_110.0, 5_811_010.0],
    ];
    let error = write(&[], &[area(&ring)], &over).unwrap_err();
    assert!(
        matches!(error, GeoJsonError::AcrossAntimeridian { .. }),
        "{error}"
    );
}

#[test]
fn nothing_recorded_is_a_collection_without_features() {
    let document = write(&[], &[], &to_degrees).unwrap();
    assert_eq!(document["features"], serde_json::json!([]));
}

#[test]
fn text_of_any_kind_survives() {
    let name = "=cmd|' /C'!A0 \"<b>\u{1f6b0}\n\u{0}";
    let mut card = plain_card(name);
    card.note = Some("a\u{2028}b".into());
    let document = write(&[(card, None)], &[], &to_degrees).unwrap();
    assert_eq!(document["features"][0]["properties"]["run"], name);
    assert_eq!(document["features"][0]["properties"]["note"], "a\u{2028}b");
}

#[test]
fn what_cannot_be_placed_is_refused_and_leaves_no_whole_file() {
    let (tied, head) = (grid(), head());
    let mut untied = grid();
    untied.epsg = None;
    let site = |grid| GeoJsonSite {
        site: "Yard",
        head: &head,
        grid,
        position_basis: "",
    };
    let mut out = Vec::new();
    let error = write_geojson(&mut out, site(&untied), [], [], &to_degrees).unwrap_err();
    assert!(
        matches!(error, GeoJsonError::Untied { .. }) && error.to_string().contains("export CSV"),
        "{error}"
    );
    assert!(out.is_empty());

    let first = plain_card("S1");
    let second = plain_card("S2");
    for broken in [None, Some([-37.8, 146.2]), Some([f64::NAN, 0.0])] {
        let nowhere = |easting: f64, northing: f64| {
            if easting > 432_105.0 {
                broken
            } else {
                to_degrees(easting, northing)
            }
        };
        let mut out = Vec::new();
        let runs = [(&first, None), (&second, None)];
        let error = write_geojson(&mut out, site(&tied), runs, [], &nowhere).unwrap_err();
        assert!(
            error.to_string().starts_with("run S1: easting 432110.120"),
            "{error}"
        );
        assert!(
            serde_json::from_slice::<Value>(&out).is_err(),
            "half a file parses"
        );
    }
    let short = card("S3", vec![vertex("P1", ["432100.120", "5811000.50", "12.340"])]);
    let error = write(&[(short, None)], &[], &to_degrees).unwrap_err();
    assert_eq!(
        error.to_string(),
        "run S3 has 1 positions and needs 2; look at it in the record"
    );
    let error = write(&[], &[area(&CLOCKWISE[..2])], &to_degrees).unwrap_err();
    assert!(matches!(error, GeoJsonError::TooFew { needed: 3, .. }), "{error}");
}

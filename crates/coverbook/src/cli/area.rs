//! Where a dig is, as given: corners, a file of corners, or standard input.

use crate::acts::ActError;
use serde_json::Value;
use std::io::Read;
use std::path::Path;

/// Reads corners, easting, northing: `E,N E,N ...`, a file, or `-` for standard input.
///
/// # Errors
/// A text that is none of these, naming the corner or row.
pub(crate) fn corners(given: &str) -> Result<Vec<[f64; 2]>, ActError> {
    if given == "-" {
        let mut text = String::new();
        std::io::stdin()
            .lock()
            .read_to_string(&mut text)
            .map_err(|e| refused(format!("standard input: {e}")))?;
        return from_text(&text, "standard input");
    }
    if let Some(corners) = inline(given) {
        return corners;
    }
    if Path::new(given).exists() {
        let text = std::fs::read_to_string(given).map_err(|e| ActError::File {
            file: given.into(),
            why: format!("{e}; give a text file"),
        })?;
        return from_text(&text, given);
    }
    Err(refused(format!(
        "{given:?} is neither corners nor a file that is there; write corners as \"E,N E,N E,N\""
    )))
}

/// Reads positions of `count` numbers: `a,b a,b ...`.
pub(crate) fn positions<const N: usize>(given: &str, form: &str) -> Result<Vec<[f64; N]>, ActError> {
    let position = |(i, text): (usize, &str)| {
        let numbers: Vec<f64> = text
            .split(',')
            .map_while(|n| n.trim().parse().ok())
            .filter(|n: &f64| n.is_finite())
            .collect();
        <[f64; N]>::try_from(numbers)
            .ok()
            .filter(|_| text.split(',').count() == N)
            .ok_or_else(|| refused(format!("position {} is {text:?}; write {form}", i + 1)))
    };
    given.split_whitespace().enumerate().map(position).collect()
}

fn inline(given: &str) -> Option<Result<Vec<[f64; 2]>, ActError>> {
    let looks_so = given.split_whitespace().all(|corner| {
        corner.contains(',') && corner.chars().all(|c| c.is_ascii_digit() || "+-.,eE".contains(c))
    });
    (looks_so && !given.trim().is_empty())
        .then(|| positions(given, "easting,northing, such as 431004.0,5711999.0"))
}

fn from_text(text: &str, file: &str) -> Result<Vec<[f64; 2]>, ActError> {
    let text = text.trim_start_matches('\u{feff}').trim();
    if text.starts_with('{') {
        return geojson(text, file);
    }
    if let Some(corners) = inline(text) {
        return corners;
    }
    csv(text, file)
}

fn geojson(text: &str, file: &str) -> Result<Vec<[f64; 2]>, ActError> {
    let refuse = |says: &str| refused(format!("{file}: {says}"));
    let value: Value =
        serde_json::from_str(text).map_err(|e| refuse(&format!("it does not read as GeoJSON: {e}")))?;
    let mut geometry = &value;
    loop {
        let of_type = geometry.get("type").and_then(Value::as_str).unwrap_or_default();
        match of_type {
            "FeatureCollection" => match geometry
                .get("features")
                .and_then(Value::as_array)
                .map(Vec::as_slice)
            {
                Some([only]) => geometry = only,
                _ => {
                    return Err(refuse(
                        "it holds several features, or none; give one dig at a time",
                    ));
                }
            },
            "Feature" => geometry = geometry.get("geometry").unwrap_or(&Value::Null),
            "Polygon" => {
                let rings = geometry
                    .get("coordinates")
                    .and_then(Value::as_array)
                    .map(Vec::as_slice);
                let mut ring = match rings {
                    Some([only]) => ring_of(only, file)?,
                    Some([_, _, ..]) => {
                        return Err(refuse("the area has a hole; give the outline alone, or two digs"));
                    }
                    _ => return Err(refuse("the polygon has no ring")),
                };
                if ring.len() > 1 && ring.first() == ring.last() {
                    ring.pop();
                }
                return Ok(ring);
            }
            "LineString" => return ring_of(geometry.get("coordinates").unwrap_or(&Value::Null), file),
            _ => {
                return Err(refuse(
                    "it holds no polygon and no line; give one, in the site's own grid",
                ));
            }
        }
    }
}

fn ring_of(value: &Value, file: &str) -> Result<Vec<[f64; 2]>, ActError> {
    let corners = value.as_array().map(Vec::as_slice).unwrap_or_default();
    let corner = |(i, corner): (usize, &Value)| {
        let number = |at: usize| corner.get(at).and_then(Value::as_f64);
        match (number(0), number(1)) {
            (Some(easting), Some(northing)) => Ok([easting, northing]),
            _ => Err(refused(format!("{file}: corner {} is not two numbers", i + 1))),
        }
    };
    corners.iter().enumerate().map(corner).collect()
}

fn csv(text: &str, file: &str) -> Result<Vec<[f64; 2]>, ActError> {
    let mut corners = Vec::new();
    for (i, line) in text.lines().enumerate() {
        if line.trim().is_empty() {
            continue;
        }
        let cells: Vec<&str> = line.split([',', ';', '\t']).map(str::trim).collect();
        let number = |at: usize| {
            cells
                .get(at)
                .and_then(|cell| cell.parse::<f64>().ok())
                .filter(|n| n.is_finite())
        };
        match (number(0), number(1)) {
            (Some(easting), Some(northing)) => corners.push([easting, northing]),
            _ if i == 0 => {
                let names: Vec<String> = cells.iter().map(|cell| cell.to_ascii_lowercase()).collect();
                let is_ours = matches!(
                    names
                        .first()
                        .map(String::as_str)
                        .zip(names.get(1).map(String::as_str)),
                    Some(("easting" | "easting_m" | "e", "northing" | "northing_m" | "n"))
                );
                if !is_ours {
                    return Err(refused(format!(
                        "{file}, row 1: columns are {line:?}; write easting,northing in that order"
                    )));
                }
            }
            _ => {
                return Err(refused(format!(
                    "{file}, row {}: {line:?} is not easting,northing",
                    i + 1
                )));
            }
        }
    }
    Ok(corners)
}

fn refused(says: String) -> ActError {
    ActError::asked("area", says)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_are_read_as_typed_as_csv_and_as_geojson() {
        let expected = vec![[1.0, 2.0], [3.5, 2.0], [3.5, -4.0]];
        assert_eq!(corners("1,2 3.5,2 3.5,-4").unwrap(), expected);
        assert_eq!(
            from_text("easting,northing\n1,2\n3.5,2\n3.5,-4\n", "f").unwrap(),
            expected
        );
        let polygon = r#"{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[1,2],[3.5,2],[3.5,-4],[1,2]]]}}"#;
        assert_eq!(from_text(polygon, "f").unwrap(), expected);
    }

    #[test]
    fn what_is_no_corner_is_refused_by_its_place() {
        let says = |text: &str| from_text(text, "f").unwrap_err().to_string();
        assert!(says("1,2\n3,x\n").contains("row 2"));
        assert!(says("northing,easting\n1,2\n").contains("in that order"));
        assert!(
            corners("1,2 3")
                .unwrap_err()
                .to_string()
                .contains("neither corners nor a file")
        );
        assert!(
            corners("1,2 3,4,5")
                .unwrap_err()
                .to_string()
                .contains("position 2")
        );
    }
}

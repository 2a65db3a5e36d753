//! GeoJSON (RFC 7946) out of the views, feature by feature, so that a big site needs no more memory than a run.
//!
//! Longitude, latitude and nothing third: a height in GeoJSON is above the WGS 84 ellipsoid (RFC 7946, section 4) and
//! a site's level is not. Easting, northing and level are repeated in the properties, for setting out.

use geojson::{Feature, Geometry, feature::Id};
use register::view::{CAUTIONS, GridView, HeadView, MapArea, MapRun, Near, RunCard, RunCardVertex, Why};
use serde::Serialize;
use serde_json::{Map, Value, json};
use std::io::Write;

/// Name and version of what is written, as a member of the collection.
pub const GEOJSON_FORMAT: &str = "coverbook.geojson/1";

/// Stands in for the reason of a null that the view gives none for.
const NOT_SAID: &str = "the record does not say";

/// What the whole collection says about itself.
#[derive(Debug, Clone, Copy)]
pub struct GeoJsonSite<'a> {
    /// Site name.
    pub site: &'a str,
    /// Head it rests on.
    pub head: &'a HeadView,
    /// The site's grid.
    pub grid: &'a GridView,
    /// How longitude and latitude came about: reference system, operation, accuracy, and what they are for.
    pub position_basis: &'a str,
}

/// Takes easting and northing (metres) to longitude and latitude (degrees, WGS 84); `None` outside its range.
pub type ToLonLat<'a> = &'a dyn Fn(f64, f64) -> Option<[f64; 2]>;

/// How many features were written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
#[expect(missing_docs, reason = "names say it")]
pub struct Written {
    pub runs: u64,
    pub points: u64,
    pub areas: u64,
}

/// GeoJSON could not be written; what was written so far is not whole and does not parse.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum GeoJsonError {
    /// The grid is tied to nothing.
    #[error(
        "the grid of site {site} is tied to no reference system, so its points have no longitude and latitude; tie the \
         grid, or export CSV with easting, northing and level"
    )]
    Untied {
        /// The site.
        site: String,
    },
    /// A position has no longitude and latitude.
    #[error(
        "{what}: easting {easting:.3}, northing {northing:.3} has no longitude and latitude in the site's grid; look \
         at the point and at the grid, or export CSV"
    )]
    NoPosition {
        /// The feature.
        what: String,
        /// Easting, metres.
        easting: f64,
        /// Northing, metres.
        northing: f64,
    },
    /// Fewer positions than its geometry needs.
    #[error("{what} has {found} positions and needs {needed}; look at it in the record")]
    TooFew {
        /// The feature.
        what: String,
        /// How many there are.
        found: usize,
        /// How many there must be.
        needed: usize,
    },
    /// A ring over the 180th meridian, which RFC 7946 (3.1.9) wants cut.
    #[error("{what} crosses the 180th meridian and cannot be written in one piece; part it into two areas")]
    AcrossAntimeridian {
        /// The feature.
        what: String,
    },
    /// The bytes could not be written out.
    #[error("the file could not be written: {0}")]
    Write(#[from] std::io::Error),
    /// A value could not be put as JSON.
    #[error("a value could not be put as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

/// Writes a whole site: runs (each with its drawn axis, if there is one) and searched areas.
pub fn write_geojson<'a, W: Write>(
    out: W,
    site: GeoJsonSite<'_>,
    runs: impl IntoIterator<Item = (&'a RunCard, Option<&'a MapRun>)>,
    areas: impl IntoIterator<Item = &'a MapArea>,
    to_lonlat: ToLonLat<'_>,
) -> Result<Written, GeoJsonError> {
    let mut writer = GeoJsonWriter::new(out, site, to_lonlat)?;
    for (card, drawn) in runs {
        writer.run(card, drawn)?;
    }
    for area in areas {
        writer.area(area)?;
    }
    writer.finish()
}

/// Writes a collection feature by feature. It is closed by [`GeoJsonWriter::finish`] only, so that half a file does
/// not look like a whole one.
pub struct GeoJsonWriter<'a, W: Write> {
    out: W,
    position_basis: &'a str,
    to_lonlat: ToLonLat<'a>,
    written: Written,
    first: bool,
}

impl<'a, W: Write> GeoJsonWriter<'a, W> {
    /// Begins a collection: its own members, the cautions among them, come before its features.
    ///
    /// # Errors
    /// [`GeoJsonError::Untied`] for a grid without an EPSG code.
    pub fn new(mut out: W, site: GeoJsonSite<'a>, to_lonlat: ToLonLat<'a>) -> Result<Self, GeoJsonError> {
        if site.grid.epsg.is_none() {
            return Err(GeoJsonError::Untied {
                site: site.site.to_owned(),
            });
        }
        let members = json!({
            "format": GEOJSON_FORMAT,
            "site": site.site,
            "head": format!("{}:{}", site.head.n, site.head.hex),
            "grid": site.grid,
            "position_basis": site.position_basis,
            "cautions": CAUTIONS,
        });
        // A brace less: the features follow as one more member.
        let members = members.to_string();
        write!(
            out,
            "{{\"type\":\"FeatureCollection\",{},\"features\":[",
            &members[1..members.len() - 1]
        )?;
        Ok(GeoJsonWriter {
            out,
            position_basis: site.position_basis,
            to_lonlat,
            written: Written::default(),
            first: true,
        })
    }

    /// Writes a run as a line and each of its recorded points as a point.
    ///
    /// The line's arrays are named `vertex_...`, so that no property is a list in one feature and a number in another:
    /// readers that make one table of them need one type for each name.
    ///
    /// The line follows `drawn` (bends as arcs) when it is given, and the axis from point to point otherwise; the
    /// arrays in its properties go by recorded point either way.
    pub fn run(&mut self, card: &RunCard, drawn: Option<&MapRun>) -> Result<(), GeoJsonError> {
        let what = format!("run {}", card.run);
        let axis: Vec<[f64; 2]> = match drawn {
            Some(drawn) => drawn.line.iter().map(|at| [at[0].0, at[1].0]).collect(),
            None => card.vertices.iter().map(|v| [v.axis[0].0, v.axis[1].0]).collect(),
        };
        if axis.len() < 2 {
            return Err(GeoJsonError::TooFew {
                what,
                found: axis.len(),
                needed: 2,
            });
        }
        let positions = axis
            .iter()
            .map(|&at| self.position(at, &what))
            .collect::<Result<Vec<_>, _>>()?;
        let mut parts = cut_at_antimeridian(&positions);
        let geometry = match parts.len() {
            1 => Geometry::new_line_string(parts.remove(0)),
            _ => Geometry::new_multi_line_string(parts),
        };
        self.feature(
            format!("run/{}", card.run),
            geometry,
            run_properties(card, drawn.is_some())?,
        )?;
        self.written.runs += 1;
        for vertex in &card.vertices {
            self.vertex(card, vertex)?;
        }
        Ok(())
    }

    fn vertex(&mut self, card: &RunCard, vertex: &RunCardVertex) -> Result<(), GeoJsonError> {
        let what = format!("point {} of run {}", vertex.point, card.run);
        let measured = measured_m(vertex);
        // What was measured; where that is not a number, the axis.
        let at = match measured {
            [Some(easting), Some(northing), _] => [easting, northing],
            _ => [vertex.axis[0].0, vertex.axis[1].0],
        };
        let position = self.position(at, &what)?;
        let id = format!("point/{}/{}", card.run, vertex.point);
        self.feature(
            id,
            Geometry::new_point(position),
            point_properties(card, vertex, measured)?,
        )?;
        self.written.points += 1;
        Ok(())
    }

    /// Writes a searched area as a polygon, its ring anticlockwise and closed (RFC 7946, 3.1.6).
    pub fn area(&mut self, area: &MapArea) -> Result<(), GeoJsonError> {
        let what = format!("searched area {}", area.area);
        let ring = area
            .ring
            .iter()
            .map(|at| self.position([at[0].0, at[1].0], &what));
        let mut ring = ring.collect::<Result<Vec<_>, _>>()?;
        if ring.len() > 1 && ring.first() == ring.last() {
            ring.pop();
        }
        if ring.len() < 3 {
            return Err(GeoJsonError::TooFew {
                what,
                found: ring.len(),
                needed: 3,
            });
        }
        ring.push(ring[0]);
        if ring
            .windows(2)
            .any(|side| (side[1][0] - side[0][0]).abs() > 180.0)
        {
            return Err(GeoJsonError::AcrossAntimeridian { what });
        }
        if twice_area(&ring) < 0.0 {
            ring.reverse();
        }
        let services = match area.services.is_empty() {
            true => vec!["all".to_owned()],
            false => area.services.clone(),
        };
        let properties = json!({
            "feature": "searched-area",
            "area": area.area,
            "services": services,
            "counts": area.counts,
            "says": area.says,
        });
        self.feature(
            format!("area/{}", area.area),
            Geometry::new_polygon([ring]),
            object(properties),
        )?;
        self.written.areas += 1;
        Ok(())
    }

    /// Closes the collection and returns what was written.
    pub fn finish(mut self) -> Result<Written, GeoJsonError> {
        self.out.write_all(b"\n]}\n")?;
        self.out.flush()?;
        Ok(self.written)
    }

    fn feature(
        &mut self,
        id: String,
        geometry: Geometry,
        mut properties: Map<String, Value>,
    ) -> Result<(), GeoJsonError> {
        properties.insert("position_basis".into(), self.position_basis.into());
        let feature = Feature {
            bbox: None,
            geometry: Some(geometry),
            id: Some(Id::String(id)),
            properties: Some(properties),
            foreign_members: None,
        };
        let before: &[u8] = if std::mem::take(&mut self.first) {
            b"\n"
        } else {
            b",\n"
        };
        self.out.write_all(before)?;
        serde_json::to_writer(&mut self.out, &feature)?;
        Ok(())
    }

    /// Longitude and latitude with nine decimals: a tenth of a millimetre.
    fn position(&self, [easting, northing]: [f64; 2], what: &str) -> Result<[f64; 2], GeoJsonError> {
        let on_earth = |[lon, lat]: &[f64; 2]| lon.abs() <= 180.0 && lat.abs() <= 90.0;
        let position = (self.to_lonlat)(easting, northing).filter(on_earth);
        let position = position.ok_or_else(|| GeoJsonError::NoPosition {
            what: what.to_owned(),
            easting,
            northing,
        })?;
        Ok(position.map(|degrees| (degrees * 1e9).round() / 1e9 + 0.0))
    }
}

/// Cuts a line wherever it crosses the 180th meridian (RFC 7946, 3.1.9).
fn cut_at_antimeridian(line: &[[f64; 2]]) -> Vec<Vec<[f64; 2]>> {
    let mut parts = vec![vec![line[0]]];
    for side in line.windows(2) {
        let ([lon, lat], [next_lon, next_lat]) = (side[0], side[1]);
        if (next_lon - lon).abs() > 180.0 {
            let edge = if lon > 0.0 { 180.0 } else { -180.0 };
            let along = (edge - lon) / (next_lon + 2.0 * edge - lon);
            let cut = ((lat + along * (next_lat - lat)) * 1e9).round() / 1e9;
            if let Some(part) = parts.last_mut() {
                part.push([edge, cut]);
            }
            parts.push(vec![[-edge, cut]]);
        }
        if let Some(part) = parts.last_mut() {
            part.push(side[1]);
        }
    }
    parts
}

/// Twice the signed area of a closed ring, positive when anticlockwise, reckoned from its first corner.
fn twice_area(ring: &[[f64; 2]]) -> f64 {
    let [east, north] = ring[0];
    let sides = ring.windows(2);
    sides
        .map(|side| (side[0][0] - east) * (side[1][1] - north) - (side[1][0] - east) * (side[0][1] - north))
        .sum()
}

fn measured_m(vertex: &RunCardVertex) -> [Option<f64>; 3] {
    std::array::from_fn(|axis| {
        vertex.measured[axis]
            .parse()
            .ok()
            .filter(|value: &f64| value.is_finite())
    })
}

/// Parts `NAME, KIND, DATE` from the back: a name may hold a comma.
fn surface_parts(below: Option<&str>) -> [Option<&str>; 3] {
    let Some(below) = below else { return [None; 3] };
    let mut parts = below.rsplitn(3, ", ");
    let (date, kind, name) = (parts.next(), parts.next(), parts.next());
    if name.is_some() {
        [name, kind, date]
    } else {
        [Some(below), None, None]
    }
}

fn run_properties(card: &RunCard, with_bends: bool) -> Result<Map<String, Value>, GeoJsonError> {
    let vertices = &card.vertices;
    let measured: Vec<[Option<f64>; 3]> = vertices.iter().map(measured_m).collect();
    let [surface_name, surface_kind, surface_date] = surface_parts(card.below.as_deref());
    let mut properties = object(json!({
        "feature": "run",
        "run": card.run,
        "service": card.service,
        "letters": card.letters,
        "size": card.section,
        "outside_m": card.outside_m,
        "size_assumed": card.section_assumed,
        "known": card.known,
        "status": card.status,
        "begins": card.ends[0],
        "ends": card.ends[1],
        "length_m": card.length_m,
        "line": if with_bends { "axis with its bends" } else { "axis from point to point" },
        "surface": card.below,
        "surface_name": surface_name,
        "surface_kind": surface_kind,
        "surface_date": surface_date,
        "findings": card.findings,
        "vertex_point": each(vertices, |v| &v.point)?,
        "vertex_chainage_m": each(vertices, |v| v.chainage_m)?,
        "vertex_easting_m": each(&measured, |m| m[0])?,
        "vertex_northing_m": each(&measured, |m| m[1])?,
        "vertex_level_m": each(&measured, |m| m[2])?,
        "vertex_touched": each(vertices, |v| &v.touched)?,
        "vertex_top_level_m": each(vertices, |v| v.top_level_m)?,
        "vertex_invert_level_m": each(vertices, |v| v.invert_level_m)?,
        "vertex_cover_m": each(vertices, |v| v.cover_m)?,
        "vertex_depth_to_invert_m": each(vertices, |v| v.depth_to_invert_m)?,
        "vertex_u95_h_m": each(vertices, |v| v.u95_h_m)?,
        "vertex_u95_v_m": each(vertices, |v| v.u95_v_m)?,
        "vertex_known": each(vertices, |v| &v.known)?,
        "vertex_observed_at": each(vertices, |v| &v.observed_at)?,
    }));
    for (name, value) in [("owner", &card.owner), ("note", &card.note)] {
        if let Some(value) = value {
            properties.insert(name.into(), value.as_str().into());
        }
    }
    let mut why = card.why.clone();
    if let Some(reason) = card.why.get("below").cloned() {
        why.insert("surface".into(), reason);
    }
    for name in [
        "easting_m",
        "northing_m",
        "level_m",
        "invert_level_m",
        "cover_m",
        "depth_to_invert_m",
        "u95_h_m",
        "u95_v_m",
    ] {
        let values = properties
            .get(&format!("vertex_{name}"))
            .and_then(Value::as_array);
        let nulls = values
            .into_iter()
            .flatten()
            .zip(vertices)
            .filter(|(value, _)| value.is_null());
        for (_, vertex) in nulls {
            let reason = vertex.why.get(name).map_or(NOT_SAID, String::as_str);
            why.insert(format!("vertex_{name} at {}", vertex.point), reason.to_owned());
        }
    }
    give_reasons(&mut properties, why);
    Ok(properties)
}

fn point_properties(
    card: &RunCard,
    vertex: &RunCardVertex,
    measured: [Option<f64>; 3],
) -> Result<Map<String, Value>, GeoJsonError> {
    let [surface_name, surface_kind, surface_date] = surface_parts(card.below.as_deref());
    let axis = vertex.axis.map(Near::rounded_m);
    let mut properties = object(json!({
        "feature": "point",
        "point": vertex.point,
        "run": card.run,
        "service": card.service,
        "letters": card.letters,
        "size": card.section,
        "status": card.status,
        "easting_m": measured[0],
        "northing_m": measured[1],
        "level_m": measured[2],
        "as_measured": vertex.measured,
        "touched": vertex.touched,
        "chainage_m": vertex.chainage_m,
        "axis_easting_m": axis[0],
        "axis_northing_m": axis[1],
        "axis_level_m": axis[2],
        "top_level_m": vertex.top_level_m,
        "invert_level_m": vertex.invert_level_m,
        "surface": card.below,
        "surface_name": surface_name,
        "surface_kind": surface_kind,
        "surface_date": surface_date,
        "surface_level_m": vertex.surface_level_m,
        "cover_m": vertex.cover_m,
        "cover_u95_m": vertex.cover_u95_m,
        "depth_to_invert_m": vertex.depth_to_invert_m,
        "u95_h_m": vertex.u95_h_m,
        "u95_v_m": vertex.u95_v_m,
        "u95_assumed": vertex.u95_assumed,
        "known": vertex.known,
        "observed_at": vertex.observed_at,
        "by": vertex.by,
        "entry": vertex.entry,
    }));
    let mut why = vertex.why.clone();
    if let Some(reason) = card.why.get("below") {
        why.insert("surface".into(), reason.clone());
    }
    give_reasons(&mut properties, why);
    Ok(properties)
}

/// Gives every null a reason, and puts the reasons beside it.
fn give_reasons(properties: &mut Map<String, Value>, mut why: Why) {
    let of_surface = why.get("surface").cloned();
    let nulls = properties.iter().filter(|(_, value)| value.is_null());
    for (name, _) in nulls {
        let reason = match (&of_surface, name.starts_with("surface_")) {
            (Some(reason), true) => reason.clone(),
            _ => NOT_SAID.to_owned(),
        };
        why.entry(name.clone()).or_insert(reason);
    }
    if !why.is_empty() {
        properties.insert("why".into(), json!(why));
    }
}

fn each<'a, T, V: Serialize>(items: &'a [T], value: impl Fn(&'a T) -> V) -> Result<Value, serde_json::Error> {
    let values = items.iter().map(|item| serde_json::to_value(value(item)));
    Ok(Value::Array(values.collect::<Result<_, _>>()?))
}

fn object(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(members) => members,
        // Only ever called on an object literal.
        _ => Map::new(),
    }
}

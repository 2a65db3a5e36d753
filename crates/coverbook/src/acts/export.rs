//! Exports: the record in open formats.

use super::people::Names;
use super::{ActError, Register};
use exchange::geojson_writer::{GeoJsonError, GeoJsonSite, GeoJsonWriter};
use register::body::Distances;
use std::collections::HashMap;
use survey::projection::Projection;
use uuid::Uuid;

/// What to export to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportKind {
    /// GeoJSON (RFC 7946), longitude and latitude.
    GeoJson,
    /// Our own points file.
    Csv,
}

impl ExportKind {
    /// Returns the format of that name.
    ///
    /// # Errors
    /// None has it.
    pub fn named(name: &str) -> Result<ExportKind, ActError> {
        match name.trim().to_ascii_lowercase().as_str() {
            "geojson" => Ok(ExportKind::GeoJson),
            "csv" => Ok(ExportKind::Csv),
            other => Err(ActError::asked(
                "format",
                format!("{other:?} cannot be written; choose geojson or csv"),
            )),
        }
    }

    /// Returns its media type.
    pub fn media_type(self) -> &'static str {
        match self {
            ExportKind::GeoJson => "application/geo+json",
            ExportKind::Csv => "text/csv; charset=utf-8",
        }
    }

    /// Returns the usual ending of its files.
    pub fn ending(self) -> &'static str {
        match self {
            ExportKind::GeoJson => "geojson",
            ExportKind::Csv => "csv",
        }
    }
}

impl Register {
    /// Writes a site out.
    ///
    /// # Errors
    /// GeoJSON of a site whose grid has no longitude and latitude.
    pub fn export(
        &self,
        site: Uuid,
        to: ExportKind,
        progress: &mut dyn FnMut(u64, u64),
    ) -> Result<Vec<u8>, ActError> {
        match to {
            ExportKind::GeoJson => self.geojson(site, progress),
            ExportKind::Csv => {
                let (points, runs) = self.points_and_runs(site)?;
                let mut out = Vec::new();
                exchange::points_csv::write_points_csv(&mut out, &points, &runs)
                    .map_err(|e| ActError::Fault(e.to_string()))?;
                progress(runs.len() as u64, runs.len() as u64);
                Ok(out)
            }
        }
    }

    fn geojson(&self, id: Uuid, progress: &mut dyn FnMut(u64, u64)) -> Result<Vec<u8>, ActError> {
        let site = self.site(id)?;
        let view = site.site_view();
        let refuse = |says: String| ActError::asked("export", says);
        let tied = site.tied.as_ref();
        let Some(code) = view.grid.epsg.or(tied.map(|tied| tied.epsg)) else {
            return Err(refuse(format!(
                "the grid of site {} is tied to no reference system, so its points have no longitude and latitude; export csv",
                view.name
            )));
        };
        if site
            .opened
            .as_ref()
            .is_some_and(|opened| opened.distances == Distances::Ground)
        {
            return Err(refuse(format!(
                "distances of site {} are on the ground, and the factor to its grid is not recorded, so its points have no longitude and latitude; export csv",
                view.name
            )));
        }
        let projection = Projection::of(code).map_err(|e| refuse(e.to_string()))?;
        let basis = projection.position_basis().map_err(|e| refuse(e.to_string()))?;
        let basis = format!(
            "{}; {}; accuracy {} m; {}; for finding the place, set out from E, N, level only",
            basis.crs, basis.operation, basis.accuracy_m, basis.note
        );
        let basis = match tied {
            None => basis,
            Some(tied) => format!("{basis}; through the local grid's tie to it: {}", tied.says()),
        };
        let to_lonlat = |easting: f64, northing: f64| {
            let [easting, northing] = match tied {
                None => [easting, northing],
                Some(tied) => tied.tie.similarity.to_grid([easting, northing]),
            };
            let at = projection.to_lonlat(easting, northing).ok()?;
            Some([at.longitude_deg, at.latitude_deg])
        };
        let map = site.map_view()?;
        let names = Names::of(self.store.as_ref());
        let drawn: HashMap<&str, _> = map.runs.iter().map(|run| (run.run.as_str(), run)).collect();
        let about = GeoJsonSite {
            site: &view.name,
            head: &view.head,
            grid: &view.grid,
            position_basis: &basis,
        };
        let refused = |error: GeoJsonError| refuse(error.to_string());
        let mut out = Vec::new();
        let mut writer = GeoJsonWriter::new(&mut out, about, &to_lonlat).map_err(refused)?;
        let total = map.runs.len() as u64;
        for (done, run) in map.runs.iter().enumerate() {
            let card = site.run_card(&run.run, None, &|id| names.name(id))?;
            writer
                .run(&card, drawn.get(run.run.as_str()).copied())
                .map_err(refused)?;
            progress(done as u64 + 1, total);
        }
        for area in &map.searched {
            writer.area(area).map_err(refused)?;
        }
        writer.finish().map_err(refused)?;
        Ok(out)
    }
}

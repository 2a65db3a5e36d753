//! The state of a site in one view.

use crate::body::Distances;
use crate::site::{RecordedSurface, Site};
use crate::view::{CAUTIONS, Counts, GridView, Near, SiteSummary, SiteView, SurfaceView, Up};

impl Site {
    /// Returns the site as one line of a list.
    pub fn summary(&self) -> SiteSummary {
        SiteSummary {
            id: self.id.to_string(),
            name: self.opened.as_ref().map(|o| o.name.clone()).unwrap_or_default(),
            head: self.head_view(),
        }
    }

    /// Returns the state of the site.
    pub fn site_view(&self) -> SiteView {
        let opened = self.opened.as_ref();
        let epsg = opened.and_then(|o| o.epsg);
        let grid_name = match epsg {
            Some(code) => {
                survey::epsg::projected_crs(code).map_or_else(|e| e.to_string(), |crs| crs.name.to_string())
            }
            None => match &self.tied {
                Some(tied) => format!("local, tied to EPSG:{} by {}", tied.epsg, tied.says()),
                None => "untied: no longitude and latitude".into(),
            },
        };
        let distances = match opened.map(|o| o.distances) {
            Some(Distances::Ground) => "ground",
            _ => "grid",
        };
        let origin = self
            .frame()
            .map(|f| [Near(f.origin.x), Near(f.origin.y)])
            .unwrap_or_default();
        let in_the_ground = || self.runs.values().flat_map(|run| run.in_the_ground());
        SiteView {
            format: "coverbook.site/1".into(),
            id: self.id.to_string(),
            name: opened.map(|o| o.name.clone()).unwrap_or_default(),
            head: self.head_view(),
            grid: GridView {
                epsg,
                name: grid_name,
                distances: distances.into(),
                level_datum: opened.map(|o| o.level_datum.clone()).unwrap_or_default(),
                bench_mark: opened.map(|o| o.bench_mark.clone()).unwrap_or_default(),
            },
            origin,
            contact: opened.and_then(|o| o.contact.clone()),
            rules: self.rules_in_force(),
            read_only: self.read_only.clone(),
            surfaces: self.standing_surfaces().map(surface_view).collect(),
            counts: Counts {
                points: self.points.len() as u64,
                runs: in_the_ground().count() as u64,
                legs: in_the_ground().map(|record| record.shots.len() as u64 - 1).sum(),
                expected: self.expected.len() as u64,
                searched: self.searched.len() as u64,
                control: self.control.len() as u64,
                stations: self.stations.len() as u64,
            },
            cautions: CAUTIONS.iter().map(|c| c.to_string()).collect(),
        }
    }

    /// Returns the newest state of each surface, in the order they were first recorded.
    pub(super) fn standing_surfaces(&self) -> impl Iterator<Item = &RecordedSurface> {
        self.surfaces.iter().filter(|surface| {
            let same = |s: &&RecordedSurface| s.name == surface.name && s.kind == surface.kind;
            let newest = self.surfaces.iter().filter(same).max_by(|a, b| {
                crate::time::earlier_first(&a.observed_at, &b.observed_at).then(a.entry.cmp(&b.entry))
            });
            newest.is_some_and(|newest| newest.entry == surface.entry)
        })
    }
}

fn surface_view(surface: &RecordedSurface) -> SurfaceView {
    SurfaceView {
        name: surface.name.clone(),
        kind: surface.kind.slug().into(),
        shape: surface.shape.into(),
        observed_at: surface.observed_at.clone(),
        u95_m: surface.u95_m.map(Up),
        points: surface.points,
        level_m: surface.level_m.map(Near),
        largest_residual_m: surface.largest_residual_m.map(Up),
        entry: surface.entry,
    }
}

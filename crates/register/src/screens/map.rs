//! What the plan draws.

use super::ellipse::map_control;
use crate::body::DownTo;
use crate::run_record::RunRecord;
use crate::site::{Frame, Refusal, Searched, Site};
use crate::time::date_of;
use crate::view::{MapArea, MapControl, MapPoint, MapRun, MapSurface, Near, SiteMap, Up};
use crate::words::SearchOutcome;
use ground::{Vec2, Vec3};
use survey::Decimal;

impl Site {
    /// Returns what the plan draws.
    ///
    /// # Errors
    /// Before the site is opened; or a run whose axis cannot be laid any more.
    pub fn map_view(&self) -> Result<SiteMap, Refusal> {
        let frame = self.frame()?;
        let rules = self.rules.as_deref();
        let mut runs = Vec::with_capacity(self.runs.len());
        for record in self.runs.values().flat_map(|run| run.in_the_ground()) {
            let laid = record
                .lay(rules)
                .map_err(|e| Refusal::about("run", &record.key, e.to_string()))?;
            let up = record.section.height_m / 2.0;
            let growth: Option<Vec<Up>> = laid
                .tube
                .vertices
                .iter()
                .map(|v| v.growth.map(|g| Up(g.horizontal_m)))
                .collect();
            let line = laid
                .tube
                .vertices
                .iter()
                .map(|v| on_grid(&frame, v.axis + Vec3::new(0.0, 0.0, up)));
            runs.push(map_run(record, line.collect(), growth.unwrap_or_default()));
        }
        let searched: Vec<MapArea> = self.searched.iter().map(|area| map_area(area, &frame)).collect();
        let control: Vec<MapControl> = self
            .control
            .values()
            .filter_map(|states| states.last())
            .map(|control| map_control(&control.row))
            .collect();
        let mut points: Vec<MapPoint> = self
            .points
            .iter()
            .map(|(label, point)| self.map_point(label, point, &frame))
            .collect();
        points.sort_unstable_by(|a, b| a.point.cmp(&b.point));
        let (mut min, mut max) = (None::<[Near; 2]>, None::<[Near; 2]>);
        let mut reach = |e: Near, n: Near| {
            let low = min.get_or_insert([e, n]);
            *low = [Near(low[0].0.min(e.0)), Near(low[1].0.min(n.0))];
            let high = max.get_or_insert([e, n]);
            *high = [Near(high[0].0.max(e.0)), Near(high[1].0.max(n.0))];
        };
        runs.iter()
            .flat_map(|run| &run.line)
            .for_each(|p| reach(p[0], p[1]));
        searched
            .iter()
            .flat_map(|area| &area.ring)
            .for_each(|p| reach(p[0], p[1]));
        control.iter().for_each(|c| reach(c.at[0], c.at[1]));
        Ok(SiteMap {
            format: "coverbook.map/1".into(),
            head: self.head_view(),
            min,
            max,
            runs,
            searched,
            control,
            points,
            surfaces: self
                .standing_surfaces()
                .map(|surface| MapSurface {
                    name: surface.name.clone(),
                    ring: surface.outline.iter().map(|p| plan_on_grid(&frame, *p)).collect(),
                })
                .collect(),
        })
    }
}

fn map_run(record: &RunRecord, line: Vec<[Near; 3]>, u95_h_m: Vec<Up>) -> MapRun {
    MapRun {
        run: record.key.clone(),
        service: record.service.style().slug.into(),
        line,
        width_m: Near(record.section.width_m),
        u95_h_m,
        known: record.known().slug().into(),
        status: record.status.words().into(),
        doubts: {
            let mut doubts: Vec<String> = record
                .shots
                .iter()
                .flat_map(|s| s.doubts.iter().cloned())
                .collect();
            doubts.sort();
            doubts.dedup();
            doubts
        },
        ends: record.ends.clone().map(|end| end.to_string()),
    }
}

fn map_area(searched: &Searched, frame: &Frame) -> MapArea {
    let area = &searched.area;
    let how_deep = match &area.down_to {
        DownTo::Depth { depth_m, surface } => format!("{depth_m} m below {surface}"),
        DownTo::Level { level_m } => format!("level {level_m}"),
    };
    let services: Vec<String> = area
        .services
        .iter()
        .flatten()
        .map(|s| s.style().slug.to_string())
        .collect();
    let for_what = if area.services.is_none() {
        "all services".into()
    } else {
        services.join(", ")
    };
    let sure = area.sigma_h_mm.as_ref().map(Decimal::to_f64);
    let edge = sure.map_or("edge not stated how well known".into(), |mm| {
        format!(
            "edge \u{b1} {} m",
            Up(survey::uncertainty::radial95(mm / 1000.0)).text()
        )
    });
    MapArea {
        area: area.area.clone(),
        ring: searched.ring.iter().map(|p| plan_on_grid(frame, *p)).collect(),
        services,
        counts: area.outcome == SearchOutcome::AllFoundRecorded,
        says: format!(
            "{}: searched for {for_what} down to {how_deep} on {} ({}), {}; {edge}",
            area.area,
            date_of(&searched.observed_at),
            area.method,
            area.outcome
        ),
    }
}

pub(super) fn on_grid(frame: &Frame, local: Vec3) -> [Near; 3] {
    let p = frame.grid(local);
    [Near(p.x), Near(p.y), Near(p.z)]
}

fn plan_on_grid(frame: &Frame, local: Vec2) -> [Near; 2] {
    let p = frame.grid_plan(local);
    [Near(p.x), Near(p.y)]
}

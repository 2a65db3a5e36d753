//! A run's card: every vertex and leg, and how each figure came about.

use super::Who;
use super::map::on_grid;
use crate::check::{Checked, check_run, length_m};
use crate::run_record::RunRecord;
use crate::site::{RecordedSurface, Refusal, Site};
use crate::view::{Down, Near, RunCard, RunCardLeg, RunCardVertex, Up, Why};
use survey::uncertainty::quadrature;

impl Site {
    /// Returns the card of a run, by its name or the key of a held amendment.
    ///
    /// Depths hang on the surface named, or on the only one; `who` tells the name behind a person's id.
    ///
    /// # Errors
    /// A run or a surface that is not recorded.
    pub fn run_card(&self, key: &str, surface: Option<&str>, who: Who<'_>) -> Result<RunCard, Refusal> {
        let name = key.split(" (held ").next().unwrap_or(key);
        let run = self.known_run(name)?;
        let held = run
            .held
            .iter()
            .map(|held| &held.record)
            .find(|record| record.key == key);
        let record = held.unwrap_or(&run.record);
        let (below, no_surface) = match self.surface_for(surface, None, false) {
            Ok(below) => (Some(below), None),
            Err(choice) if surface.is_some() => return Err(Refusal::new("surface", choice.says)),
            Err(choice) => (None, Some(choice.says)),
        };
        let checked = check_run(record, below, no_surface.as_deref(), self.rules.as_deref())?;
        let vertices = (0..record.shots.len())
            .map(|i| self.card_vertex(record, &checked, i, below, no_surface.as_deref(), who))
            .collect::<Result<_, _>>()?;
        let mut why = Why::new();
        if let Some(says) = &no_surface {
            why.insert("below".into(), says.clone());
        }
        let style = record.service.style();
        let mut entries = run.entries.clone();
        entries.extend(
            record
                .shots
                .iter()
                .filter_map(|s| self.points.get(&s.point))
                .map(|p| p.entry),
        );
        entries.sort_unstable_by(|a, b| b.cmp(a));
        entries.dedup();
        let legs = checked.run.legs.iter().enumerate();
        Ok(RunCard {
            format: "coverbook.run/1".into(),
            run: record.key.clone(),
            service: style.slug.into(),
            letters: style.letters.into(),
            section: record.section.words.clone(),
            outside_m: Near(record.section.height_m),
            section_assumed: record.section.assumed,
            status: record.status.words().into(),
            known: record.known().slug().into(),
            ends: record.ends.clone().map(|end| end.to_string()),
            owner: record.owner.clone(),
            note: record.note.clone(),
            below: below.map(RecordedSurface::says),
            vertices,
            legs: legs
                .map(|(i, leg)| RunCardLeg {
                    cover: leg.clone(),
                    known: record.known_between(i, i + 1).slug().into(),
                })
                .collect(),
            length_m: Near(length_m(&checked.laid)),
            bow_m: record.stated_bow(checked.run.longest_leg_m.0, &mut why),
            findings: checked.run.findings.clone(),
            entries,
            releases: self.release_says(&record.key),
            why,
        })
    }

    fn card_vertex(
        &self,
        record: &RunRecord,
        checked: &Checked,
        i: usize,
        below: Option<&RecordedSurface>,
        no_surface: Option<&str>,
        who: Who<'_>,
    ) -> Result<RunCardVertex, Refusal> {
        let frame = self.frame()?;
        let shot = &record.shots[i];
        let axis = checked.laid.shot_axis[i];
        let mut why = Why::new();
        let mut missing = |fields: &[&str], says: &str| {
            for field in fields {
                why.entry((*field).to_string())
                    .or_insert_with(|| says.to_string());
            }
        };
        let point = self.points.get(&shot.point);
        let top = axis.z + record.section.height_m / 2.0;
        let invert = match &checked.inverts[i].level_m {
            Ok(level) => Some(*level),
            Err(says) => {
                missing(&["invert_level_m", "depth_to_invert_m"], says);
                None
            }
        };
        let growth = {
            let (sigma_h, sigma_v, _) = shot.sigmas_m(self.rules.as_deref());
            ground::bow::growth(sigma_h, sigma_v, 0.0)
        };
        if growth.is_none() {
            let says = "no uncertainty was stated, and no class default counts";
            missing(&["u95_h_m", "u95_v_m", "cover_u95_m"], says);
        }
        let plane = below.and_then(|below| below.surface.plane_at(axis.xy()));
        let surface_level = plane.map(|plane| plane.at(axis.xy()));
        // Straight up from the outside's nearest point: on a slope that is beside the top.
        let radius_m = record.section.height_m / 2.0;
        let cover = plane.map(|plane| plane.at(axis.xy()) - axis.z - radius_m * plane.plumb_factor());
        if surface_level.is_none() {
            let says = no_surface.unwrap_or("no surface here");
            missing(
                &["surface_level_m", "cover_m", "cover_u95_m", "depth_to_invert_m"],
                says,
            );
        }
        let surface_u95 = below.and_then(|below| below.u95_m);
        if surface_level.is_some() && surface_u95.is_none() {
            missing(&["cover_u95_m"], "the surface's uncertainty is not stated");
        }
        let cover_u95 = growth
            .zip(surface_u95)
            .zip(surface_level)
            .map(|((growth, surface), _)| Up(quadrature(&[growth.vertical_m, surface])));
        let ellipse = self.ellipse_of(shot);
        if ellipse.is_none() {
            missing(
                &["ellipse"],
                "no uncertainty in plan was stated, and no class default counts",
            );
        }
        Ok(RunCardVertex {
            point: shot.point.clone(),
            measured: point
                .map(|p| {
                    [&p.row.easting_m, &p.row.northing_m, &p.row.level_m].map(|d| d.as_str().to_string())
                })
                .unwrap_or_default(),
            how: point.map(|p| self.how(p)).unwrap_or_default(),
            touched: shot.touched.slug().into(),
            chainage_m: Near(checked.laid.shot_chainage_m[i]),
            axis: on_grid(&frame, axis),
            top_level_m: Near(top),
            invert_level_m: invert.map(Near),
            u95_h_m: growth.map(|g| Up(g.horizontal_m)),
            ellipse,
            u95_v_m: growth.map(|g| Up(g.vertical_m)),
            u95_assumed: shot.sigmas_m(self.rules.as_deref()).2,
            doubts: shot.doubts.clone(),
            known: shot.known_or_assumed().slug().into(),
            surface_level_m: surface_level.map(Near),
            cover_m: cover.map(Down),
            cover_u95_m: cover_u95,
            depth_to_invert_m: surface_level
                .zip(invert)
                .map(|(surface, invert)| Up(surface - invert)),
            observed_at: shot.observed_at.clone(),
            by: point.map_or_else(|| "not known".into(), |p| who(p.by)),
            entry: point.map_or(record.entry, |p| p.entry),
            why,
        })
    }
}

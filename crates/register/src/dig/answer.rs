//! The whole answer: what is not known first, then runs, worst first.

use super::PlannedDig;
use super::one_run::Measured;
use crate::run_record::RunRecord;
use crate::service::Service;
use crate::site::{Refusal, Site};
use crate::time::earlier_first;
use crate::view::{
    CAUTIONS, DigAnswer, DigEcho, DigRun, Down, HeadView, LevelRange, Near, NotCompared, RulesInForce,
    SearchedShare, Up, Why,
};
use ground::dig::Form;
use ground::searched::plan_at_top;
use ground::{Vec2, Vec3};
use std::sync::Arc;

/// A site that was asked, and its run records that meet [`PlannedDig::search_box`].
#[derive(Debug)]
pub struct Asked<'s> {
    /// The site; told of [`crate::body::Act::FRAME_KINDS`] at least.
    pub site: &'s Site,
    /// Its head, as the store has it.
    pub head: HeadView,
    /// The records.
    pub runs: Vec<Arc<RunRecord>>,
}

impl PlannedDig<'_> {
    /// Measures every run of the sites asked and says what is not known.
    ///
    /// # Errors
    /// A run record that does not lay any more, or a site on another frame: the answer would be short of a
    /// service, so there is none.
    pub fn answer(
        &self,
        asked: &[Asked<'_>],
        not_compared: Vec<NotCompared>,
        as_at: &str,
    ) -> Result<DigAnswer, Refusal> {
        let mut measured: Vec<Measured> = Vec::new();
        let mut head = HeadView {
            n: self.site.n,
            hex: crate::chain::hex(&self.site.head),
            recorded_at: None,
        };
        for site in asked {
            if site.site.id == self.site.id {
                head = site.head.clone();
            }
            let shift = site.site.frame()?.origin - self.frame.origin;
            let shift = Vec3::new(shift.x, shift.y, 0.0);
            for record in &site.runs {
                let mut one = self.measure(record, site.site, shift)?;
                one.view.head = format!("{}:{}", site.head.n, site.head.hex);
                measured.push(one);
            }
        }
        measured.sort_by(|a, b| {
            let by_verdict = a.order.0.cmp(&b.order.0);
            by_verdict
                .then(a.order.1.total_cmp(&b.order.1))
                .then(a.view.run.cmp(&b.view.run))
        });
        let newest = measured
            .iter()
            .filter(|m| m.near)
            .max_by(|a, b| earlier_first(&a.newest, &b.newest));
        let searched = self.searched(newest.map(|m| (m.view.run.as_str(), m.newest.as_str())));
        let runs: Vec<_> = measured.into_iter().map(|m| m.view).collect();
        let says = self.first_sentence(&searched, &runs);
        let mut cautions = self.own_cautions(&not_compared);
        cautions.extend(
            searched
                .not_counted
                .iter()
                .map(|why| format!("a search does not count: {why}")),
        );
        cautions.extend(said_of_services(&searched));
        cautions.extend(CAUTIONS.iter().map(|c| c.to_string()));
        let mut why = Why::new();
        if self.site.rules.is_none() {
            why.insert(
                "rules".into(),
                "no rule set is adopted: distances are told, and no verdicts".into(),
            );
        }
        Ok(DigAnswer {
            format: "coverbook.dig/1".into(),
            site: self
                .site
                .opened
                .as_ref()
                .map(|o| o.name.clone())
                .unwrap_or_default(),
            head,
            as_at: as_at.into(),
            dig: self.echo(),
            says,
            searched,
            floor_unknown_area_m2: Up(self.dig.floor_unknown_area_m2),
            runs,
            not_compared,
            rules: self.site.rules_in_force(),
            cautions,
            why,
        })
    }

    fn first_sentence(&self, searched: &SearchedShare, runs: &[DigRun]) -> String {
        let share = searched.share.whole();
        let some_looked = searched.by_service.values().any(|of| of.share.whole() > share);
        let not_searched = 100 - share;
        let unknown = match share {
            100 => "All of this dig was searched for the services that count.".to_string(),
            _ if some_looked => format!(
                "{not_searched} % of this dig was never searched for every service that counts: what lies there is unknown."
            ),
            0 => "None of this dig was ever searched: what is not recorded here is unknown.".to_string(),
            _ => format!("{not_searched} % of this dig was never searched: what lies there is unknown."),
        };
        let recorded = match runs {
            [] if share == 0 => "Nothing is recorded here, and nobody looked.".to_string(),
            [] => format!("Nothing is recorded in the {share} % that was searched."),
            _ => said_of_runs(runs),
        };
        let floor = if self.dig.floor_unknown_area_m2 > 0.0 {
            let name = self.surface.map(|s| s.name.as_str()).unwrap_or_default();
            format!(
                " Over {} m2 there is no surface here ({name}): the floor is unknown.",
                Up(self.dig.floor_unknown_area_m2).text()
            )
        } else {
            String::new()
        };
        format!("{unknown}{floor} {recorded}")
    }

    fn own_cautions(&self, not_compared: &[NotCompared]) -> Vec<String> {
        let mut own = Vec::new();
        if self.dig.floor_unknown_area_m2 > 0.0 {
            own.push(format!(
                "the surface does not reach over {} m2 of this dig: there the floor is unknown and only plan distances count",
                Up(self.dig.floor_unknown_area_m2).text()
            ));
        }
        if self.dig.batter_beyond_surface {
            own.push(
                "the battered sides run out beyond the surface: their top was taken from what is known"
                    .into(),
            );
        }
        if self.surface_u95_assumed {
            own.push(format!(
                "the surface's uncertainty is not stated: {} m is assumed",
                Up(self.surface_u95_m).text()
            ));
        }
        if self.allowances_assumed {
            own.push(format!(
                "allowances for setting out ({} m) and over-digging ({} m) are assumed",
                Up(self.set_out_m).text(),
                Up(self.over_dig_m).text()
            ));
        }
        if !not_compared.is_empty() {
            own.push(format!(
                "{} other sites of this register could not be asked",
                not_compared.len()
            ));
        }
        own
    }

    fn echo(&self) -> DigEcho {
        let mut why = Why::new();
        let plan = plan_at_top(&self.dig, Form::Stated);
        let area: f64 = geo::Area::unsigned_area(&plan);
        let grid = |e: f64, n: f64| {
            let p = self.frame.grid_plan(Vec2::new(e, n));
            [Near(p.x), Near(p.y)]
        };
        let rings = plan
            .0
            .iter()
            .flat_map(|polygon| std::iter::once(polygon.exterior()).chain(polygon.interiors()));
        let plan = rings
            .map(|ring| ring.coords().map(|c| grid(c.x, c.y)).collect())
            .collect();
        let (surface_levels_m, floor_levels_m) = self.levels(&mut why);
        let question = &self.question;
        if self.surface.is_none() {
            why.insert("surface".into(), self.surface_why_not.clone().unwrap_or_default());
        }
        DigEcho {
            kind: if question.bore.is_some() {
                "bore"
            } else if question.point.is_some() {
                "point"
            } else {
                "open"
            }
            .into(),
            plan,
            line: question
                .line
                .as_ref()
                .map(|line| line.iter().map(|&[e, n]| [Near(e), Near(n)]).collect()),
            width_m: question.line.as_ref().and(question.width_m).map(Near),
            depth_m: question.depth_m.map(Near),
            floor_level_m: question.floor_level_m.map(Near),
            floor_levels_m,
            surface: self.surface.map(|s| s.says()),
            surface_levels_m,
            surface_u95_m: self.surface.and_then(|s| s.u95_m).map(Up),
            batter: question.batter.map(Near),
            over_dig_m: Near(self.over_dig_m),
            set_out_m: Near(self.set_out_m),
            allowances_assumed: self.allowances_assumed,
            area_m2: Up(area),
            why,
        }
    }

    /// Lowest and highest level of the surface over the dig's own plan, and of its floor.
    fn levels(&self, why: &mut Why) -> (Option<LevelRange>, Option<LevelRange>) {
        let range = |levels: &[f64]| {
            let low = levels.iter().copied().reduce(f64::min)?;
            let high = levels.iter().copied().reduce(f64::max)?;
            Some(LevelRange {
                min: Near(low),
                max: Near(high),
            })
        };
        let mut floors = Vec::new();
        for solid in self.dig.solids(Form::Stated) {
            if let ground::solid::Solid::Pit(pit) = solid {
                if !pit.floor_known {
                    floors.clear();
                    break;
                }
                let spread = pit.disc_m * pit.gradient.norm();
                floors.extend(pit.corners.iter().flat_map(|c| [c.z - spread, c.z + spread]));
            }
        }
        let floor = range(&floors);
        if floor.is_none() {
            why.insert(
                "floor_levels_m".into(),
                "the floor is not known everywhere, or a bore has none".into(),
            );
        }
        let surface = self.surface.and_then(|surface| {
            if self.dig.floor_unknown_area_m2 > 0.0 {
                return None;
            }
            if let (Some(depth), Some(floor)) = (self.question.depth_m, &floor) {
                return Some(LevelRange {
                    min: Near(floor.min.0 + depth),
                    max: Near(floor.max.0 + depth),
                });
            }
            let corners: Option<Vec<f64>> = plan_at_top(&self.dig, Form::Stated)
                .0
                .iter()
                .flat_map(|polygon| polygon.exterior().coords())
                .map(|c| surface.surface.level_at(Vec2::new(c.x, c.y)))
                .collect();
            range(&corners?)
        });
        if surface.is_none() {
            let says = match self.surface {
                None => self.surface_why_not.clone().unwrap_or_default(),
                Some(surface) => format!(
                    "no surface here: {} does not reach over all of the dig",
                    surface.name
                ),
            };
            why.insert("surface_levels_m".into(), says);
        }
        (surface, floor)
    }
}

/// How many runs are near and how many not placed, or how far off the nearest is. What is not placed is never far.
fn said_of_runs(runs: &[DigRun]) -> String {
    let of = |near: bool, placed: bool| {
        let is = move |run: &&DigRun| {
            run.part.is_empty() != near && run.worst_horizontal_gap_m.is_some() == placed
        };
        runs.iter().filter(is).count()
    };
    let recorded = |many: usize| match many {
        1 => "1 recorded run is".to_string(),
        many => format!("{many} recorded runs are"),
    };
    match (of(true, true), of(true, false) + of(false, false)) {
        (0, 0) => {
            let worst = runs.iter().filter_map(|run| run.worst_horizontal_gap_m);
            let nearest_m = worst.map(|gap| gap.0).fold(f64::INFINITY, f64::min);
            format!(
                "{} not near it, the nearest {} m off in plan at 95 %.",
                recorded(runs.len()),
                Down(nearest_m).text()
            )
        }
        (0, unplaced) => format!("{} not placed.", recorded(unplaced)),
        (near, 0) => format!("{} near it.", recorded(near)),
        (near, 1) => format!("{} near it, and 1 is not placed.", recorded(near)),
        (near, unplaced) => format!("{} near it, and {unplaced} are not placed.", recorded(near)),
    }
}

/// What is to be known of the searches, each sentence once, with the services it is true of.
fn said_of_services(searched: &SearchedShare) -> Vec<String> {
    let mut said: Vec<(&str, Vec<&str>)> = Vec::new();
    for (slug, share) in &searched.by_service {
        let name = Service::from_slug(slug).map_or(slug.as_str(), |s| s.style().name);
        for says in &share.says {
            match said.iter_mut().find(|(known, _)| known == says) {
                Some((_, names)) => names.push(name),
                None => said.push((says, vec![name])),
            }
        }
    }
    let all = searched.by_service.len();
    let of = |names: Vec<&str>| {
        if names.len() == all {
            "every service".into()
        } else {
            names.join(", ")
        }
    };
    said.into_iter()
        .map(|(says, names)| format!("{}: {says}", of(names)))
        .collect()
}

impl Site {
    /// Returns the adopted rule set, for a screen.
    pub fn rules_in_force(&self) -> Option<RulesInForce> {
        let rules = self.rules.as_ref()?;
        let unconfirmed = rules.set.citations().filter(|cited| !rules.counts(cited)).count();
        let mut says = format!(
            "{}. Default figures, not legal advice: local codes and licensed practice govern.",
            rules.set.jurisdiction
        );
        if unconfirmed > 0 {
            says += &format!(
                " {unconfirmed} of its figures are not confirmed or were left out, and do not count."
            );
        }
        Some(RulesInForce {
            id: rules.set.id.clone(),
            title: rules.set.title.clone(),
            sha256: rules.sha256.clone(),
            entry: rules.entry,
            says,
        })
    }
}

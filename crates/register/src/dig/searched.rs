//! Which searches count toward a dig, for which services, and what of it nobody searched.

use super::{ASSUMED_SURFACE_U95_M, PlannedDig};
use crate::body::DownTo;
use crate::service::Service;
use crate::site::Searched;
use crate::time::{date_of, earlier_first};
use crate::view::{Near, Percent, SearchedShare, ServiceShare};
use crate::words::SearchOutcome;
use ground::Vec2;
use ground::dig::Form;
use ground::searched::{SearchedArea, plan_at_top, searched_in_all, searched_share};
use std::cmp::Ordering;
use std::collections::BTreeMap;
use survey::Decimal;

/// How far a searched area shrinks when nobody stated how well its edge is known. Metres.
const UNSTATED_SHRINK_M: f64 = 0.5;

/// The services asked for when no rule set names them: every one that somebody could be hurt by.
fn services_without_rules() -> Vec<Service> {
    let is_asked = |s: &Service| !matches!(s, Service::Spare | Service::Unknown | Service::PostTension);
    Service::ALL.into_iter().filter(is_asked).collect()
}

impl PlannedDig<'_> {
    /// Returns the shares. `newest_work` is the newest date on which a run near the dig was measured, with the run.
    pub(super) fn searched(&self, newest_work: Option<(&str, &str)>) -> SearchedShare {
        let plan = plan_at_top(&self.dig, Form::Grown);
        let rule = self.site.rules.as_ref().and_then(|rules| rules.dig());
        let services = rule.map_or_else(services_without_rules, |rule| rule.services.clone());
        let mut not_counted = Vec::new();
        let touching: Vec<&Searched> = self
            .site
            .searched
            .iter()
            .filter(|area| self.touches(area))
            .collect();
        let mut counting = Vec::new();
        for area in touching {
            match self.why_not(area) {
                Some(why) => not_counted.push(format!("{}: {why}", area.area.area)),
                None => counting.push(area),
            }
        }
        let mut by_service = BTreeMap::new();
        let mut shares = Vec::new();
        for service in services {
            let for_it = |area: &&&Searched| area.area.services.as_ref().is_none_or(|s| s.contains(&service));
            let areas: Vec<&&Searched> = counting.iter().filter(for_it).collect();
            let outlines: Vec<SearchedArea> = areas.iter().map(|area| outline(area)).collect();
            // The fold refused every outline that does not enclose an area, so only an empty answer is left.
            let share = searched_share(&plan, &outlines).or_else(|_| searched_share(&plan, &[]));
            let Ok(share) = share else { continue };
            let oldest = areas
                .iter()
                .min_by(|a, b| earlier_first(&a.observed_at, &b.observed_at));
            let mut says = Vec::new();
            if areas.iter().any(|area| area.area.sigma_h_mm.is_none()) {
                says.push(format!(
                    "an area's edge has no stated uncertainty: {UNSTATED_SHRINK_M} m is assumed"
                ));
            }
            if let Some((run, date)) = newest_work {
                let since = |area: &&&&Searched| earlier_first(&area.observed_at, date) != Ordering::Less;
                let after: Vec<SearchedArea> = areas.iter().filter(since).map(|area| outline(area)).collect();
                let again = searched_share(&plan, &after).map_or(0.0, |after| after.share);
                if again < share.share {
                    says.push(format!(
                        "searched before later works: run {run} of {}",
                        date_of(date)
                    ));
                }
            }
            by_service.insert(
                service.style().slug.to_string(),
                ServiceShare {
                    share: Percent(share.share),
                    oldest: oldest.map(|area| area.observed_at.clone()),
                    says,
                },
            );
            shares.push(share);
        }
        let all = searched_in_all(&plan, &shares);
        let ring = |ring: &geo::LineString<f64>| -> Vec<[Near; 2]> {
            ring.coords()
                .map(|c| self.frame.grid_plan(Vec2::new(c.x, c.y)))
                .map(|p| [Near(p.x), Near(p.y)])
                .collect()
        };
        let rings = |polygon: &geo::Polygon<f64>| {
            std::iter::once(polygon.exterior())
                .chain(polygon.interiors())
                .map(ring)
                .collect()
        };
        SearchedShare {
            share: Percent(all.share),
            by_service,
            unsearched: all.unsearched.0.iter().map(rings).collect(),
            not_counted,
        }
    }

    fn touches(&self, area: &Searched) -> bool {
        ground::facet::PlanBox::around(area.ring.iter().copied())
            .is_some_and(|bounds| bounds.meets(&self.dig.plan_box(Form::Grown)))
    }

    /// Why a search does not count toward this dig.
    fn why_not(&self, area: &Searched) -> Option<String> {
        match area.area.outcome {
            SearchOutcome::AllFoundRecorded => {}
            SearchOutcome::SomeNotRecorded => return Some("something found there was not recorded".into()),
            SearchOutcome::Unable => return Some("the search could not be carried out".into()),
        }
        let Some(floor_m) = self.dig.lowest_level_m(Form::Grown) else {
            return Some(
                "the floor of the dig is not known everywhere, so no search is known to reach below it"
                    .into(),
            );
        };
        match &area.area.down_to {
            DownTo::Level { level_m } => {
                let level = level_m.to_f64();
                (level > floor_m).then(|| {
                    format!("it looked down to level {level_m}, and the dig with its allowances goes to {floor_m:.3}")
                })
            }
            DownTo::Depth { depth_m, surface } => {
                let searched_m = depth_m.to_f64();
                // The ground it was measured from is the one of its own day.
                let below = match self
                    .site
                    .surface_for(Some(surface), Some(&area.observed_at), true)
                {
                    Ok(below) => below,
                    Err(choice) => return Some(format!("how deep it looked is not known: {}", choice.says)),
                };
                let same_surface = self.surface.is_some_and(|mine| mine.entry == below.entry);
                if let (true, Some(dig_depth)) = (same_surface, self.question.depth_m) {
                    let needed = dig_depth + self.over_dig_m + self.surface_u95_m;
                    return (searched_m < needed).then(|| {
                        format!("it looked {searched_m} m down, and the dig with its allowances goes {needed:.3} m")
                    });
                }
                let within = self.dig.plan_box(Form::Grown);
                let highest = match below.surface.everywhere() {
                    Some(plane) => within.corners().iter().map(|c| plane.at(*c)).reduce(f64::max),
                    None => {
                        let radius_m = (within.max - within.min).norm() / 2.0;
                        let covers = below
                            .surface
                            .covers_disc((within.min + within.max) / 2.0, radius_m);
                        if covers {
                            below.surface.max_level_in(&within)
                        } else {
                            None
                        }
                    }
                };
                let u95_m = below.u95_m.unwrap_or(ASSUMED_SURFACE_U95_M);
                match highest {
                    None => Some(format!("{} does not reach over all of the dig", below.says())),
                    Some(highest) if highest + u95_m - searched_m > floor_m => Some(format!(
                        "it looked {searched_m} m below {}, and the dig with its allowances goes to level {floor_m:.3}",
                        below.says()
                    )),
                    Some(_) => None,
                }
            }
        }
    }
}

/// Returns where an area certainly was searched.
pub(crate) fn outline(area: &Searched) -> SearchedArea {
    let sigma_m = area
        .area
        .sigma_h_mm
        .as_ref()
        .map(|mm| Decimal::to_f64(mm) / 1000.0);
    SearchedArea {
        rings: vec![area.ring.clone()],
        shrink_m: sigma_m.map_or(UNSTATED_SHRINK_M, survey::uncertainty::radial95),
    }
}

//! The hold point: can it be covered? A list worked out from the record, and what a person decided on it.
//!
//! Each item passes, fails with where and by how much, or needs a person's reason. Nothing is left out for want of a
//! figure: what cannot be told needs a reason.

mod items;

use crate::body::Accepted;
use crate::run_record::RunRecord;
use crate::site::{Refusal, Site};
use crate::view::{CAUTIONS, HoldAnswer, HoldItem, Near, Why};
use crate::words::{HoldState, HoldVerdict};
use geo::{Distance, Euclidean, LineString, Polygon};
use ground::Vec2;
use ground::domain::Domain;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Arc;
use survey::Decimal;
use uuid::Uuid;

/// What is about to be covered.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HoldQuestion {
    /// Name of the pour, trench length or other area of work.
    pub area: String,
    /// Its outline, easting, northing, not repeated at the end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ring: Option<Vec<[Decimal; 2]>>,
    /// Runs named beside those that the outline meets; with no outline and none named, every run of the site.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub runs: Vec<String>,
    /// The surface that covers hang on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surface: Option<String>,
}

/// Tells a person's name by the id it stands under.
pub type Names<'a> = &'a dyn Fn(Uuid) -> String;

/// The area of work, read.
pub(crate) struct Area {
    pub(crate) name: String,
    pub(crate) ring: Option<Vec<Vec2>>,
    /// Runs in the ground that belong to it, held amendments included.
    pub(crate) records: Vec<Arc<RunRecord>>,
}

impl Site {
    /// Returns the list of a hold point as it stands, with the reasons given for open items.
    ///
    /// # Errors
    /// A read-only site, an outline that encloses nothing, a run or surface that is not recorded, a reason for an item
    /// that is not open.
    pub fn hold(
        &self,
        question: &HoldQuestion,
        accepted: &[Accepted],
        as_at: &str,
        names: Names<'_>,
    ) -> Result<HoldAnswer, Refusal> {
        if let Some(why) = &self.read_only {
            let says = format!("the site is read-only and answers no check: {why}");
            return Err(Refusal::new("read-only", says));
        }
        let area = self.area_of(question)?;
        let (below, no_surface) = match self.surface_for(question.surface.as_deref(), None, false) {
            Ok(below) => (Some(below), None),
            Err(choice) if choice.refused => return Err(Refusal::new("surface", choice.says)),
            Err(choice) => (None, Some(choice.says)),
        };
        let mut items = self.hold_items(&area, below, no_surface.as_deref())?;
        take_reasons(&mut items, accepted)?;
        items.sort_by(|a, b| b.state.cmp(&a.state).then_with(|| a.key.cmp(&b.key)));
        let open = |item: &&HoldItem| item.state != HoldState::Passes && item.accepted.is_none();
        let verdict = if items.iter().any(|item| open(&item)) {
            HoldVerdict::Open
        } else if items.iter().any(|item| item.accepted.is_some()) {
            HoldVerdict::WithReasons
        } else {
            HoldVerdict::AllMet
        };
        let mut why = Why::new();
        if let Some(says) = &no_surface {
            why.insert("below".into(), says.clone());
        }
        if self.rules.is_none() {
            why.insert(
                "rules".into(),
                "no rule set is adopted: no cover or fall can be met".into(),
            );
        }
        let runs: Vec<String> = area.records.iter().map(|record| record.key.clone()).collect();
        let ring = question.ring.iter().flatten();
        Ok(HoldAnswer {
            format: "coverbook.hold/1".into(),
            site: self.opened.as_ref().map(|o| o.name.clone()).unwrap_or_default(),
            head: self.head_view(),
            as_at: as_at.into(),
            area: question.area.trim().into(),
            ring: ring
                .map(|corner| [&corner[0], &corner[1]].map(|d| Near(d.to_f64())))
                .collect(),
            releases: self.releases_about(&area, names),
            below: below.map(crate::site::RecordedSurface::says),
            rules: self.rules_in_force(),
            verdict,
            says: sentence(&items, &runs),
            items,
            runs,
            why,
            cautions: CAUTIONS.iter().map(|c| c.to_string()).collect(),
        })
    }

    /// Reads the area of work and finds the runs that belong to it.
    pub(crate) fn area_of(&self, question: &HoldQuestion) -> Result<Area, Refusal> {
        if question.area.trim().is_empty() {
            let says = "the area of work has no name; name the pour or the trench length";
            return Err(Refusal::new("blank", says));
        }
        let frame = self.frame()?;
        let what = format!("area {}", question.area.trim());
        let ring = match &question.ring {
            None => None,
            Some(corners) => {
                for [e, n] in corners {
                    frame.check(&what, e, n, None)?;
                }
                let ring: Vec<Vec2> = corners
                    .iter()
                    .map(|[e, n]| frame.local_plan(e.to_f64(), n.to_f64()))
                    .collect();
                Domain::new(std::slice::from_ref(&ring))
                    .map_err(|error| Refusal::about("ring", &what, error.to_string()))?;
                Some(ring)
            }
        };
        for name in &question.runs {
            self.known_run(name)?;
        }
        let everything = ring.is_none() && question.runs.is_empty();
        let mut records = Vec::new();
        for (name, run) in &self.runs {
            let named = everything || question.runs.contains(name);
            for record in run.in_the_ground() {
                if named || self.meets(record, ring.as_deref())? {
                    records.push(Arc::clone(record));
                }
            }
        }
        Ok(Area {
            name: question.area.trim().into(),
            ring,
            records,
        })
    }

    /// Returns whether a run may lie in an outline, its tube and uncertainty included.
    fn meets(&self, record: &RunRecord, ring: Option<&[Vec2]>) -> Result<bool, Refusal> {
        let Some(ring) = ring else { return Ok(false) };
        let laid = record
            .lay(self.rules.as_deref())
            .map_err(|e| Refusal::about("run", &record.key, e.to_string()))?;
        let vertices = &laid.tube.vertices;
        let line = LineString::from_iter(vertices.iter().map(|v| (v.axis.x, v.axis.y)));
        let reach = record.reach_m(&laid).into_iter().fold(0.0, f64::max);
        Ok(Euclidean.distance(&line, &polygon_of(ring)) <= reach)
    }
}

pub(crate) fn polygon_of(ring: &[Vec2]) -> Polygon<f64> {
    Polygon::new(LineString::from_iter(ring.iter().map(|p| (p.x, p.y))), Vec::new())
}

/// Sets a person's reasons beside the open items that they accept.
fn take_reasons(items: &mut [HoldItem], accepted: &[Accepted]) -> Result<(), Refusal> {
    let mut reasons: BTreeMap<&str, &str> = BTreeMap::new();
    for one in accepted {
        let (item, reason) = (one.item.trim(), one.reason.trim());
        if reason.is_empty() {
            let says = format!("the reason for {item} is blank; say why it may be covered all the same");
            return Err(Refusal::about("no-reason", item, says));
        }
        if reasons.insert(item, reason).is_some() {
            return Err(Refusal::about(
                "item-twice",
                item,
                "two reasons are given for it; give one",
            ));
        }
    }
    for item in items.iter_mut().filter(|item| item.state != HoldState::Passes) {
        item.accepted = reasons.remove(item.key.as_str()).map(str::to_owned);
    }
    match reasons.into_keys().next() {
        None => Ok(()),
        Some(item) => {
            let open: Vec<&str> = items
                .iter()
                .filter(|i| i.state != HoldState::Passes)
                .map(|i| i.key.as_str())
                .collect();
            let says = if open.is_empty() {
                "no item of that name is open; nothing needs a reason".to_owned()
            } else {
                format!(
                    "no item of that name is open; the open ones are {}",
                    open.join(", ")
                )
            };
            Err(Refusal::about("no-such-item", item, says))
        }
    }
}

fn sentence(items: &[HoldItem], runs: &[String]) -> String {
    let (mut fails, mut needs, mut reasoned, mut passes) = (0, 0, 0, 0);
    for item in items {
        match (item.state, &item.accepted) {
            (HoldState::Passes, _) => passes += 1,
            (_, Some(_)) => reasoned += 1,
            (HoldState::Fails, None) => fails += 1,
            (HoldState::NeedsReason, None) => needs += 1,
        }
    }
    let runs = match runs.len() {
        0 => "No run is recorded here".to_owned(),
        1 => "1 run".to_owned(),
        n => format!("{n} runs"),
    };
    let mut parts = Vec::new();
    for (count, one, more) in [
        (fails, "item fails", "items fail"),
        (needs, "item needs a reason", "items need a reason"),
        (reasoned, "item stands on a reason", "items stand on a reason"),
        (passes, "item passes", "items pass"),
    ] {
        match count {
            0 => {}
            1 => parts.push(format!("1 {one}")),
            n => parts.push(format!("{n} {more}")),
        }
    }
    format!("{runs}: {}.", parts.join(", "))
}

#[cfg(test)]
mod tests;

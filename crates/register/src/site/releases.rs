//! Decisions at hold points in the fold, and what was changed after them.

use super::{Change, Refusal, Site};
use crate::body::{Body, CoverReleased, ReleaseWithdrawn};
use crate::hold::{Area, HoldQuestion, Names};
use crate::station::station_of;
use crate::time::date_of;
use crate::view::{Near, ReleaseView};
use crate::words::ReleaseOutcome;
use std::collections::BTreeSet;
use survey::Decimal;
use uuid::Uuid;

/// A decision at a hold point.
#[derive(Debug, Clone, PartialEq)]
pub struct Release {
    /// As its author wrote it.
    pub released: CoverReleased,
    /// The entry's id.
    pub id: Uuid,
    /// The entry's number.
    pub entry: u64,
    /// Who decided.
    pub by: Uuid,
    /// When, as stated.
    pub observed_at: String,
    /// The entry that withdrew it, and the reason.
    pub withdrawn: Option<(u64, String)>,
}

impl Site {
    pub(super) fn release(
        &mut self,
        released: &CoverReleased,
        body: &Body,
        n: u64,
    ) -> Result<Vec<Change>, Refusal> {
        let what = format!("hold point of {}", released.area);
        let question = HoldQuestion {
            area: released.area.clone(),
            ring: released.ring.clone(),
            runs: Vec::new(),
            surface: None,
        };
        self.area_of(&question)?;
        // What was decided holds for the record that was looked at, and for no other.
        if released.result.head != self.head_text() {
            let says = format!(
                "it rests on head {}, and the book stands at {}; look at the list as it is now",
                released.result.head,
                self.head_text()
            );
            return Err(Refusal::about("stale", &what, says));
        }
        for run in &released.runs {
            self.known_run(run.split(" (held ").next().unwrap_or(run))?;
        }
        if let Some(blank) = released.accepted.iter().find(|a| a.reason.trim().is_empty()) {
            let says = format!("the reason for {} is blank; say why it is accepted", blank.item);
            return Err(Refusal::about("no-reason", &what, says));
        }
        if released.outcome == ReleaseOutcome::Released && !released.accepted.is_empty() {
            let says = "items were accepted with a reason, so it is released with exceptions";
            return Err(Refusal::about("outcome", &what, says));
        }
        self.releases.push(Release {
            released: released.clone(),
            id: body.id,
            entry: n,
            by: body.by,
            observed_at: body.observed_at.clone(),
            withdrawn: None,
        });
        Ok(Vec::new())
    }

    pub(super) fn withdraw_release(
        &mut self,
        withdrawn: &ReleaseWithdrawn,
        n: u64,
    ) -> Result<Vec<Change>, Refusal> {
        if withdrawn.reason.trim().is_empty() {
            let says = "the reason is blank; say why, for whoever reads the book later";
            return Err(Refusal::new("no-reason", says));
        }
        let release = self.releases.iter_mut().find(|r| r.id == withdrawn.release);
        let release = release.ok_or_else(|| {
            let says = format!(
                "no release has the id {}; take it from the book",
                withdrawn.release
            );
            Refusal::new("no-such-entry", says)
        })?;
        if let Some((by, _)) = release.withdrawn {
            let says = format!("release {} was withdrawn by entry {by}", release.entry);
            return Err(Refusal::new("withdrawn-already", says));
        }
        release.withdrawn = Some((n, withdrawn.reason.clone()));
        Ok(Vec::new())
    }

    /// Returns the decisions about an area of that name, or about any run of it, newest first.
    pub(crate) fn releases_about(&self, area: &Area, names: Names<'_>) -> Vec<ReleaseView> {
        let here: BTreeSet<&str> = area.records.iter().map(|r| r.key.as_str()).collect();
        let about = |release: &&Release| {
            release.released.area == area.name
                || release
                    .released
                    .runs
                    .iter()
                    .any(|run| here.contains(run.as_str()))
        };
        let found = self.releases.iter().filter(about);
        found
            .rev()
            .map(|release| self.release_view(release, names))
            .collect()
    }

    /// Returns every decision at a hold point, newest first.
    pub fn release_views(&self, names: Names<'_>) -> Vec<ReleaseView> {
        let all = self.releases.iter().rev();
        all.map(|release| self.release_view(release, names)).collect()
    }

    /// Returns the decisions about a run, newest first, each as a sentence with what was changed since.
    pub(crate) fn release_says(&self, run: &str) -> Vec<String> {
        let about = |release: &&Release| release.released.runs.iter().any(|r| r == run);
        let says = |release: &Release| {
            let date = date_of(&release.observed_at);
            let decided = format!(
                "{} {} on {date} (entry {})",
                release.released.area,
                words_of(release.released.outcome),
                release.entry
            );
            if let Some((by, why)) = &release.withdrawn {
                return format!("{decided}, withdrawn by entry {by}: {why}");
            }
            match self.changed_since(release).as_slice() {
                [] => decided,
                changed => format!("{decided}; changed since: {}", changed.join("; ")),
            }
        };
        self.releases.iter().filter(about).rev().map(says).collect()
    }

    fn release_view(&self, release: &Release, names: Names<'_>) -> ReleaseView {
        let released = &release.released;
        let ring = released.ring.iter().flatten();
        let by = names(release.by);
        let date = date_of(&release.observed_at);
        let reasons = match released.accepted.len() {
            0 => String::new(),
            1 => ", 1 open item accepted with a reason".into(),
            n => format!(", {n} open items accepted with a reason each"),
        };
        ReleaseView {
            entry: release.entry,
            id: release.id.to_string(),
            area: released.area.clone(),
            ring: ring
                .map(|corner| [&corner[0], &corner[1]].map(|d| Near(Decimal::to_f64(d))))
                .collect(),
            runs: released.runs.clone(),
            outcome: released.outcome,
            says: format!("{} by {by} on {date}{reasons}", words_of(released.outcome)),
            by,
            observed_at: release.observed_at.clone(),
            accepted: released.accepted.len() as u32,
            changed: self.changed_since(release),
            withdrawn: release.withdrawn.as_ref().map(|(_, why)| why.clone()),
        }
    }

    /// Returns what was changed after a decision: amendments that it did not see, each as a sentence.
    fn changed_since(&self, release: &Release) -> Vec<String> {
        let mut changed = Vec::new();
        let mut stations = BTreeSet::new();
        for name in &release.released.runs {
            let standing = name.split(" (held ").next().unwrap_or(name);
            let Some(run) = self.runs.get(standing) else {
                changed.push(format!("run {name} was withdrawn"));
                continue;
            };
            if run.revision() > release.entry {
                changed.push(format!("run {standing} was changed by entry {}", run.revision()));
            }
            for label in &run.laid.points {
                let Some(point) = self.points.get(label) else {
                    continue;
                };
                if let Some(entry) = point.corrected.iter().find(|entry| **entry > release.entry) {
                    changed.push(format!("point {label} was corrected by entry {entry}"));
                }
                if point.placed.suspect {
                    changed.push(format!("point {label} is suspect: a check of its station failed"));
                }
                stations.extend(station_of(&point.row.measured));
            }
        }
        for name in stations {
            if let Some(station) = self.stations.get(name)
                && let Some(entry) = station.entries.iter().find(|entry| **entry > release.entry)
            {
                changed.push(format!("station {name} was set anew by entry {entry}"));
            }
        }
        if let Some(ring) = &release.released.ring
            && let Ok(area) = self.area_of(&HoldQuestion {
                area: release.released.area.clone(),
                ring: Some(ring.clone()),
                ..HoldQuestion::default()
            })
        {
            for record in area.records {
                if !release.released.runs.contains(&record.key) {
                    changed.push(format!(
                        "run {} came into the area by entry {}",
                        record.key, record.entry
                    ));
                }
            }
        }
        for surface in self.surfaces.iter().filter(|s| s.entry > release.entry) {
            changed.push(format!(
                "a surface was recorded by entry {}: {}",
                surface.entry,
                surface.says()
            ));
        }
        changed
    }
}

/// Returns an outcome as a sentence has it.
fn words_of(outcome: ReleaseOutcome) -> String {
    outcome.slug().replace('-', " ")
}

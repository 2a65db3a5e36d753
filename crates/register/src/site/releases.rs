//! Decisions at hold points in the fold, and what was changed after them.

use super::{Change, Refusal, Site};
use crate::body::{Body, CoverReleased, ReleaseWithdrawn};
use crate::hold::{Area, HoldQuestion, Names};
use crate::run_record::RunRecord;
use crate::time::date_of;
use crate::view::{Near, ReleaseView, Up};
use crate::words::ReleaseOutcome;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
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
    /// The runs as they lay then, by key.
    pub records: BTreeMap<String, Arc<RunRecord>>,
    /// The points that were suspect then.
    pub suspect: BTreeSet<String>,
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
        let records: BTreeMap<String, Arc<RunRecord>> = (self.runs.values())
            .flat_map(super::Run::in_the_ground)
            .filter(|record| released.runs.contains(&record.key))
            .map(|record| (record.key.clone(), Arc::clone(record)))
            .collect();
        let shots = records.values().flat_map(|record| &record.shots);
        let suspect = shots.filter(|shot| shot.suspect).map(|shot| shot.point.clone());
        self.releases.push(Release {
            released: released.clone(),
            id: body.id,
            entry: n,
            by: body.by,
            observed_at: body.observed_at.clone(),
            withdrawn: None,
            suspect: suspect.collect(),
            records,
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

    /// Returns what was changed after a decision, and it did not see: each as a sentence.
    fn changed_since(&self, release: &Release) -> Vec<String> {
        let mut changed = Vec::new();
        for (key, then) in &release.records {
            changed.extend(self.run_changed(key, then, release));
        }
        changed.extend(self.came_since(release));
        let newest = |entries: &mut dyn Iterator<Item = u64>| entries.filter(|n| *n > release.entry).max();
        for surface in self.surfaces.iter().filter(|s| s.entry > release.entry) {
            changed.push(format!(
                "a surface was recorded by entry {}: {}",
                surface.entry,
                surface.says()
            ));
        }
        let rules = self.rules.as_deref().map(|rules| rules.sha256.as_str());
        if rules != release.released.result.rules_sha256.as_deref() {
            let by = self.rules.as_deref().map(|rules| rules.entry);
            changed.push(match by.filter(|entry| *entry > release.entry) {
                Some(entry) => format!("another rule set was adopted by entry {entry}"),
                None => "the rule set that it was judged by is in force no more".into(),
            });
        }
        let mut expected = self.expected.values().flatten().map(|(_, entry)| *entry);
        if let Some(entry) = newest(&mut expected) {
            changed.push(format!("the runs expected were stated anew by entry {entry}"));
        }
        let mut withdrawn: Vec<(u64, String)> = (self.entries.values())
            .filter(|mark| mark.n < release.entry)
            .filter_map(|mark| {
                let (by, why) = mark.withdrawn.as_ref()?;
                let says = format!(
                    "entry {} ({}) was withdrawn by entry {by}: {why}",
                    mark.n, mark.kind
                );
                (*by > release.entry && mark.kind != "NoteAdded").then_some((*by, says))
            })
            .collect();
        withdrawn.sort();
        changed.extend(withdrawn.into_iter().map(|(_, says)| says));
        changed
    }

    /// Tells what became of one run after a decision.
    fn run_changed(&self, key: &str, then: &RunRecord, release: &Release) -> Vec<String> {
        let standing = key.split(" (held ").next().unwrap_or(key);
        let Some(run) = self.runs.get(standing) else {
            return vec![format!("run {key} was withdrawn")];
        };
        let mut says = Vec::new();
        let Some(now) = run.in_the_ground().find(|record| record.key == key) else {
            let entry = run.revision();
            return vec![format!("run {key} stands no more as it was, since entry {entry}")];
        };
        if run.revision() > release.entry {
            says.push(format!("run {standing} was changed by entry {}", run.revision()));
        }
        let places: BTreeMap<&str, [f64; 3]> = then.shots.iter().map(|s| (s.point.as_str(), s.at)).collect();
        let (mut moved, mut plan_m, mut level_m) = (0, 0.0f64, 0.0f64);
        for shot in &now.shots {
            if let Some(was) = places.get(shot.point.as_str())
                && *was != shot.at
            {
                moved += 1;
                plan_m = plan_m.max((shot.at[0] - was[0]).hypot(shot.at[1] - was[1]));
                level_m = level_m.max((shot.at[2] - was[2]).abs());
            }
            if shot.suspect && !release.suspect.contains(&shot.point) {
                says.push(format!("point {} is suspect now: a check failed", shot.point));
            }
        }
        if moved > 0 {
            let points = if moved == 1 {
                "1 point".to_owned()
            } else {
                format!("{moved} points")
            };
            says.push(format!(
                "{points} of run {standing} moved, by {} m in plan and {} m in level at most",
                Up(plan_m).text(),
                Up(level_m).text()
            ));
        }
        if says.is_empty() && **now != *then && now.entry != then.entry {
            says.push(format!("run {standing} is recorded anew by entry {}", now.entry));
        }
        says
    }

    /// Tells which runs came into the area after a decision.
    fn came_since(&self, release: &Release) -> Vec<String> {
        let asked: HoldQuestion = serde_json::from_str(&release.released.result.question).unwrap_or_default();
        let question = HoldQuestion {
            area: release.released.area.clone(),
            ring: release.released.ring.clone(),
            // A run that is gone since is told as such, and would be refused here.
            runs: (asked.runs.into_iter())
                .filter(|run| self.runs.contains_key(run))
                .collect(),
            surface: None,
        };
        if question.ring.is_none() && question.runs.is_empty() && !release.released.runs.is_empty() {
            // Runs were named, and none of them is left.
            let whole = serde_json::from_str::<HoldQuestion>(&release.released.result.question);
            if whole.is_ok_and(|asked| !asked.runs.is_empty()) {
                return Vec::new();
            }
        }
        let Ok(area) = self.area_of(&question) else {
            return Vec::new();
        };
        (area.records.iter())
            .filter(|record| !release.released.runs.contains(&record.key))
            .map(|record| format!("run {} came into the area by entry {}", record.key, record.entry))
            .collect()
    }
}

/// Returns an outcome as a sentence has it.
fn words_of(outcome: ReleaseOutcome) -> String {
    outcome.slug().replace('-', " ")
}

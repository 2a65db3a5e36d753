//! Runs in the fold: laid, amended, retired; two versions stand while a stale amendment is unsettled.

use super::{Change, Refusal, Site};
use crate::body::{RunAmended, RunLaid, RunRetired};
use crate::run_record::{RunRecord, RunStatus};
use crate::words::Retirement;
use std::sync::Arc;

/// A run.
#[derive(Debug, Clone)]
pub struct Run {
    /// The standing revision, as its author wrote it.
    pub laid: RunLaid,
    /// Its record.
    pub record: Arc<RunRecord>,
    /// Stale amendments that nobody has settled yet, as records of their own.
    pub held: Vec<Held>,
    /// How it was retired, and the entry.
    pub retired: Option<(RunRetired, u64)>,
    /// Every entry that touched it, oldest first.
    pub entries: Vec<u64>,
}

/// An amendment whose author did not see the newest revision.
#[derive(Debug, Clone)]
pub struct Held {
    /// As its author wrote it.
    pub laid: RunLaid,
    /// Its record.
    pub record: Arc<RunRecord>,
}

impl Run {
    /// Returns the records that a dig must reckon with.
    ///
    /// A run leaves the answers only when it was seen to be removed.
    pub fn in_the_ground(&self) -> impl Iterator<Item = &Arc<RunRecord>> {
        let gone = self
            .retired
            .as_ref()
            .is_some_and(|(r, _)| r.how == Retirement::Removed && r.removal_seen);
        let standing = (!gone).then_some(&self.record);
        standing
            .into_iter()
            .chain(self.held.iter().map(|held| &held.record))
    }

    /// The newest entry that touched it: what an amendment must have seen.
    pub fn revision(&self) -> u64 {
        self.entries.last().copied().unwrap_or(0)
    }
}

impl Site {
    pub(super) fn make_record(&self, laid: &RunLaid, key: String, n: u64) -> Result<RunRecord, Refusal> {
        if laid.run.trim().is_empty() {
            return Err(Refusal::new("blank", "a run has no name; give every run one"));
        }
        if laid.run.trim() != laid.run || laid.run.contains(" (held ") {
            let says = "a name has no blanks around it and no \" (held \" in it; choose another";
            return Err(Refusal::about("run-name", &laid.run, says));
        }
        RunRecord::of(laid, key, n, |label| self.points.get(label).cloned())
    }

    pub(super) fn lay_run(&mut self, laid: &RunLaid, n: u64) -> Result<Vec<Change>, Refusal> {
        if let Some(there) = self.runs.get(&laid.run) {
            let says = format!(
                "a run of that name was laid by entry {}; amend it, or choose another name",
                there.record.entry
            );
            return Err(Refusal::about("run-taken", &laid.run, says));
        }
        let record = Arc::new(self.make_record(laid, laid.run.clone(), n)?);
        let run = Run {
            laid: laid.clone(),
            record: Arc::clone(&record),
            held: Vec::new(),
            retired: None,
            entries: vec![n],
        };
        self.runs.insert(laid.run.clone(), run);
        Ok(vec![Change::RunRecorded(record)])
    }

    pub(super) fn amend_run(&mut self, amended: &RunAmended, n: u64) -> Result<Vec<Change>, Refusal> {
        let name = &amended.becomes.run;
        let run = self.known_run(name)?;
        if run.in_the_ground().next().is_none() {
            return Err(Refusal::about(
                "removed",
                name,
                "it was seen to be removed; lay a new run instead",
            ));
        }
        if amended.saw != run.revision() {
            let mut record = self.make_record(&amended.becomes, format!("{name} (held {n})"), n)?;
            record.status = RunStatus::Held;
            record.status_says = Some(format!(
                "this amendment saw entry {} and entry {} came between",
                amended.saw,
                run.revision()
            ));
            let record = Arc::new(record);
            let held = Held {
                laid: amended.becomes.clone(),
                record: Arc::clone(&record),
            };
            if let Some(run) = self.runs.get_mut(name) {
                run.held.push(held);
                run.entries.push(n);
            }
            return Ok(vec![Change::RunRecorded(record)]);
        }
        let mut record = self.make_record(&amended.becomes, name.clone(), n)?;
        record.status = run.record.status.clone();
        record.status_says = run.record.status_says.clone();
        let record = Arc::new(record);
        let mut changes = vec![Change::RunRecorded(Arc::clone(&record))];
        if let Some(run) = self.runs.get_mut(name) {
            changes.extend(
                run.held
                    .drain(..)
                    .map(|held| Change::RunGone(held.record.key.clone())),
            );
            run.laid = amended.becomes.clone();
            run.record = record;
            run.entries.push(n);
        }
        Ok(changes)
    }

    pub(super) fn retire_run(&mut self, retired: &RunRetired, n: u64) -> Result<Vec<Change>, Refusal> {
        let run = self.known_run(&retired.run)?;
        let (status, says) = match retired.how {
            Retirement::Abandoned => (RunStatus::Abandoned, "abandoned: treat as live".to_string()),
            Retirement::Removed if retired.removal_seen => (RunStatus::InUse, String::new()),
            Retirement::Removed => (
                RunStatus::RemovalNotSeen,
                "said to be removed, and nobody saw it go".into(),
            ),
            Retirement::Superseded => {
                if retired.successors.is_empty() {
                    let says = "superseded by nothing; name the runs that take its place";
                    return Err(Refusal::about("no-successor", &retired.run, says));
                }
                for successor in &retired.successors {
                    self.known_run(successor)?;
                }
                let says = format!("superseded by {}: treat as live", retired.successors.join(", "));
                (RunStatus::Superseded, says)
            }
        };
        let mut record = RunRecord::clone(&run.record);
        record.status = status;
        record.status_says = Some(says).filter(|s| !s.is_empty());
        let record = Arc::new(record);
        let gone = retired.how == Retirement::Removed && retired.removal_seen;
        if let Some(run) = self.runs.get_mut(&retired.run) {
            run.record = Arc::clone(&record);
            run.retired = Some((retired.clone(), n));
            run.entries.push(n);
        }
        Ok(vec![if gone {
            Change::RunGone(retired.run.clone())
        } else {
            Change::RunRecorded(record)
        }])
    }

    pub(crate) fn known_run(&self, name: &str) -> Result<&Run, Refusal> {
        self.runs.get(name).ok_or_else(|| {
            Refusal::about(
                "no-such-run",
                name,
                "no run of that name is recorded; check the name",
            )
        })
    }

    /// Makes the records of every run through any of the points again.
    ///
    /// Returns the new records without putting them in place, so that a refusal changes nothing.
    pub(super) fn remake_runs_through(
        &self,
        changed: &Site,
        labels: &[&str],
    ) -> Result<Vec<(String, Remade)>, Refusal> {
        let through = |laid: &RunLaid| laid.points.iter().any(|p| labels.contains(&p.as_str()));
        let mut remade = Vec::new();
        for (name, run) in &self.runs {
            let again = |laid: &RunLaid, old: &RunRecord| -> Result<Arc<RunRecord>, Refusal> {
                let mut record = changed.make_record(laid, old.key.clone(), old.entry)?;
                record.status = old.status.clone();
                record.status_says = old.status_says.clone();
                Ok(Arc::new(record))
            };
            let standing = through(&run.laid)
                .then(|| again(&run.laid, &run.record))
                .transpose()?;
            let held: Vec<_> = run
                .held
                .iter()
                .enumerate()
                .filter(|(_, held)| through(&held.laid))
                .map(|(i, held)| again(&held.laid, &held.record).map(|record| (i, record)))
                .collect::<Result<_, _>>()?;
            if standing.is_some() || !held.is_empty() {
                remade.push((name.clone(), Remade { standing, held }));
            }
        }
        Ok(remade)
    }

    pub(super) fn put_remade(&mut self, remade: Vec<(String, Remade)>, n: u64) -> Vec<Change> {
        let mut changes = Vec::new();
        for (name, new) in remade {
            let Some(run) = self.runs.get_mut(&name) else {
                continue;
            };
            run.entries.push(n);
            if let Some(record) = new.standing {
                run.record = Arc::clone(&record);
                if run.in_the_ground().any(|r| Arc::ptr_eq(r, &record)) {
                    changes.push(Change::RunRecorded(record));
                }
            }
            for (i, record) in new.held {
                run.held[i].record = Arc::clone(&record);
                changes.push(Change::RunRecorded(record));
            }
        }
        changes
    }
}

/// The new records of one run.
pub(super) struct Remade {
    standing: Option<Arc<RunRecord>>,
    held: Vec<(usize, Arc<RunRecord>)>,
}

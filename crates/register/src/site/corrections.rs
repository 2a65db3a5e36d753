//! Corrections and withdrawals: entries with reasons; what they touch stays readable in the journal.

use super::stations::suspects;
use super::{Change, Refusal, Site, points};
use crate::body::{EntryCorrected, EntryWithdrawn};
use std::collections::HashMap;

impl Site {
    pub(super) fn correct_points(
        &mut self,
        corrected: &EntryCorrected,
        n: u64,
    ) -> Result<Vec<Change>, Refusal> {
        reason_given(&corrected.reason)?;
        let Some(mark) = self.entries.get(&corrected.entry) else {
            return Err(no_such_entry(&corrected.entry));
        };
        let (entry, frame) = (mark.n, self.frame()?);
        for row in &corrected.points {
            let same = self.points.get(&row.point).map(|there| &there.row.same_as);
            if same.is_some_and(|same| *same != row.same_as) {
                let says = "a correction cannot change which point it measures again; withdraw it, and record it anew";
                return Err(Refusal::about("same-as", &format!("point {}", row.point), says));
            }
            points::check_row(row)?;
            let what = format!("point {}", row.point);
            frame.check(&what, &row.easting_m, &row.northing_m, Some(&row.level_m))?;
            if self
                .points
                .get(&row.point)
                .is_none_or(|there| there.entry != entry)
            {
                let says =
                    format!("entry {entry} recorded no point of that label; correct the entry that did");
                return Err(Refusal::about("no-such-point", &what, says));
            }
        }
        let before: Vec<_> = corrected
            .points
            .iter()
            .filter_map(|row| self.points.get(&row.point).cloned())
            .collect();
        for row in &corrected.points {
            if let Some(point) = self.points.get_mut(&row.point) {
                point.row = row.clone();
                point.corrected.push(n);
            }
        }
        let labels: Vec<String> = corrected.points.iter().map(|row| row.point.clone()).collect();
        let agreeing = corrected.points.iter().map(|row| row.point.as_str()).collect();
        self.place_again_agreeing(&labels, &agreeing, n).inspect_err(|_| {
            for point in before {
                self.points.insert(point.row.point.clone(), point);
            }
        })
    }

    pub(super) fn withdraw(&mut self, withdrawn: &EntryWithdrawn, n: u64) -> Result<Vec<Change>, Refusal> {
        reason_given(&withdrawn.reason)?;
        let mark = match self.entries.get(&withdrawn.entry) {
            Some(mark) => mark.clone(),
            // Told only of some kinds, the entry meant may be of another.
            None if self.frame_only => return Ok(Vec::new()),
            None => return Err(no_such_entry(&withdrawn.entry)),
        };
        if let Some((by, _)) = mark.withdrawn {
            return Err(Refusal::new(
                "withdrawn-already",
                format!("entry {} was withdrawn by entry {by}", mark.n),
            ));
        }
        let changes = match mark.kind {
            "PointsRecorded" => self.withdraw_points(mark.n, n)?,
            "RunLaid" => {
                let run = self
                    .runs
                    .iter()
                    .find(|(_, run)| run.entries.first() == Some(&mark.n));
                let Some((name, run)) = run.map(|(name, run)| (name.clone(), run.clone())) else {
                    return Err(Refusal::new(
                        "not-withdrawable",
                        format!("no run of entry {} stands", mark.n),
                    ));
                };
                if run.entries.len() > 1 {
                    let says = format!(
                        "run {name} was amended, corrected or retired since; amend or retire it instead"
                    );
                    return Err(Refusal::new("in-use", says));
                }
                self.runs.remove(&name);
                vec![Change::RunGone(run.record.key.clone())]
            }
            "SurfaceRecorded" => self.withdraw_surface(mark.n, n)?,
            "AreaSearched" => {
                self.searched.retain(|area| area.entry != mark.n);
                Vec::new()
            }
            "ControlRecorded" => {
                let of_it: Vec<String> = self
                    .control
                    .iter()
                    .filter(|(_, states)| states.iter().any(|c| c.entry == mark.n))
                    .map(|(name, _)| name.clone())
                    .collect();
                let in_use = self
                    .stations
                    .values()
                    .find(|s| s.solved.set.sights.iter().any(|k| of_it.contains(&k.target)));
                if let Some(station) = in_use {
                    let name = &station.solved.set.station;
                    let says = format!(
                        "station {name} was set by a point of entry {}; record better control instead",
                        mark.n
                    );
                    return Err(Refusal::new("in-use", says));
                }
                let before = self.control.clone();
                for states in self.control.values_mut() {
                    states.retain(|control| control.entry != mark.n);
                }
                self.control.retain(|_, states| !states.is_empty());
                // Measured from an older state where one stands; refused where none does.
                self.place_again(&of_it, n)
                    .inspect_err(|_| self.control = before)
                    .map_err(|refusal| measured_from_it(mark.n, &refusal))?
            }
            "RunsExpected" => {
                for states in self.expected.values_mut() {
                    states.retain(|(_, entry)| *entry != mark.n);
                }
                self.expected.retain(|_, states| !states.is_empty());
                Vec::new()
            }
            "RulesAdopted" => {
                self.rules_adopted.retain(|rules| rules.entry != mark.n);
                self.rules = self.rules_adopted.last().cloned();
                Vec::new()
            }
            "StationSet" => {
                let station = self
                    .stations
                    .iter()
                    .find(|(_, s)| s.entries.last() == Some(&mark.n));
                let Some((name, station)) = station.map(|(name, s)| (name.clone(), s.clone())) else {
                    let says = format!(
                        "entry {} is not the newest setting of its station; set it anew",
                        mark.n
                    );
                    return Err(Refusal::new("not-withdrawable", says));
                };
                if station.entries.len() > 1 || !station.events.is_empty() {
                    let says = format!(
                        "station {name} was set more than once, or points hang on it; set it anew instead"
                    );
                    return Err(Refusal::new("in-use", says));
                }
                self.stations.remove(&name);
                Vec::new()
            }
            "LevelsBooked" => {
                let before = (self.level_books.clone(), self.booked.clone());
                self.level_books.retain(|_, book| book.entry != mark.n);
                let mut labels: Vec<String> = self.booked.keys().cloned().collect();
                self.booked = HashMap::new();
                let mut books: Vec<_> = self.level_books.iter().collect();
                books.sort_by_key(|(_, book)| book.entry);
                for (name, book) in books {
                    for level in &book.levels {
                        self.booked
                            .insert(level.point.clone(), (level.clone(), name.clone()));
                    }
                }
                labels.retain(|label| self.points.contains_key(label));
                match self.place_again(&labels, n) {
                    Ok(changes) => changes,
                    Err(refusal) => {
                        (self.level_books, self.booked) = before;
                        return Err(refusal);
                    }
                }
            }
            "GridTied" => {
                self.tied = None;
                Vec::new()
            }
            "FileAttached" => {
                self.files.retain(|(_, entry)| *entry != mark.n);
                Vec::new()
            }
            "NoteAdded" => Vec::new(),
            kind => {
                let says = format!(
                    "entry {} is a {kind}, which cannot be withdrawn; record a new entry that puts it right",
                    mark.n
                );
                return Err(Refusal::new("not-withdrawable", says));
            }
        };
        if let Some(mark) = self.entries.get_mut(&withdrawn.entry) {
            mark.withdrawn = Some((n, withdrawn.reason.clone()));
        }
        Ok(changes)
    }
}

impl Site {
    /// Takes back a state of a surface; depths below it hang on the state before, or stand against it.
    fn withdraw_surface(&mut self, entry: u64, n: u64) -> Result<Vec<Change>, Refusal> {
        let gone = self.surfaces.iter().find(|surface| surface.entry == entry);
        let Some((name, kind)) = gone.map(|surface| (surface.name.clone(), surface.kind)) else {
            return Ok(Vec::new());
        };
        let mut below = self.below_surface(&name, kind);
        below.retain(|label| {
            let day = self.points.get(label).map_or("", |point| point.observed_at());
            let state = self.surface_on_day(&name, kind, day);
            state.is_ok_and(|state| state.entry == entry)
        });
        let before = self.surfaces.clone();
        self.surfaces.retain(|surface| surface.entry != entry);
        self.place_again(&below, n)
            .inspect_err(|_| self.surfaces = before)
            .map_err(|refusal| measured_from_it(entry, &refusal))
    }

    /// Takes back the points of an entry, with the shots and checks it added to stations.
    fn withdraw_points(&mut self, entry: u64, n: u64) -> Result<Vec<Change>, Refusal> {
        let of_it = self.points.iter().filter(|(_, p)| p.entry == entry);
        let labels: Vec<String> = of_it.map(|(label, _)| label.clone()).collect();
        let uses = |run: &super::Run| {
            let held = run.held.iter().flat_map(|h| &h.laid.points);
            run.laid.points.iter().chain(held).any(|p| labels.contains(p))
        };
        if let Some((name, _)) = self.runs.iter().find(|(_, run)| uses(run)) {
            let says =
                format!("run {name} passes through points of entry {entry}; withdraw or amend the run first");
            return Err(Refusal::new("in-use", says));
        }
        let again = |point: &&super::Point| {
            let same = point.row.same_as.as_ref();
            point.entry != entry && same.is_some_and(|first| labels.contains(first))
        };
        if let Some(again) = self.points.values().find(again) {
            let says = format!(
                "point {} measures a point of entry {entry} again; withdraw it first",
                again.row.point
            );
            return Err(Refusal::new("in-use", says));
        }
        // What was measured again of others goes, and they stand by themselves once more.
        let same_before = self.same.clone();
        let lost: Vec<String> = (self.points.values())
            .filter(|point| point.entry == entry)
            .filter_map(|point| point.row.same_as.clone())
            .filter(|first| !labels.contains(first))
            .collect();
        self.same = Site::same_points(self.points.values().filter(|point| point.entry != entry));
        let hanging_on = self.with_hanging_on(&labels);
        let hanging_on = hanging_on.inspect_err(|_| self.same = same_before.clone())?;
        if let Some(hanging) = hanging_on.iter().find(|label| !labels.contains(label)) {
            self.same = same_before;
            let says = format!(
                "point {hanging} is measured from a point of entry {entry}; correct or withdraw it first"
            );
            return Err(Refusal::new("in-use", says));
        }
        let (stations, points) = (self.stations.clone(), self.points.clone());
        let mut changed: Vec<String> = Vec::new();
        for station in self.stations.values_mut() {
            station.events.retain(|event| event.entry() != entry);
            let now = suspects(&station.events);
            changed.extend(station.suspect.symmetric_difference(&now).cloned());
            station.suspect = now;
        }
        self.points.retain(|_, point| point.entry != entry);
        changed.extend(lost);
        self.place_again(&changed, n).inspect_err(|_| {
            (self.stations, self.points) = (stations, points);
            self.same = same_before;
        })
    }
}

fn measured_from_it(entry: u64, refusal: &Refusal) -> Refusal {
    let says = format!(
        "points are measured from what entry {entry} recorded; record what is right first, then withdraw it ({})",
        refusal.says
    );
    Refusal::new("in-use", says)
}

fn reason_given(reason: &str) -> Result<(), Refusal> {
    if reason.trim().is_empty() {
        return Err(Refusal::new(
            "no-reason",
            "the reason is blank; say why, for whoever reads the book later",
        ));
    }
    Ok(())
}

fn no_such_entry(id: &uuid::Uuid) -> Refusal {
    Refusal::new(
        "no-such-entry",
        format!("no entry has the id {id}; take it from the book"),
    )
}

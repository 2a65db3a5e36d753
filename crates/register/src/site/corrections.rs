//! Corrections and withdrawals: entries with reasons; what they touch stays readable in the journal.

use super::{Change, Refusal, Site, points};
use crate::body::{Body, EntryCorrected, EntryWithdrawn};
use std::collections::HashMap;

impl Site {
    pub(super) fn correct_points(
        &mut self,
        corrected: &EntryCorrected,
        _body: &Body,
        n: u64,
    ) -> Result<Vec<Change>, Refusal> {
        reason_given(&corrected.reason)?;
        let Some(mark) = self.entries.get(&corrected.entry) else {
            return Err(no_such_entry(&corrected.entry));
        };
        let (entry, frame) = (mark.n, self.frame()?);
        for row in &corrected.points {
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
        let placed: Vec<_> = corrected
            .points
            .iter()
            .map(|row| {
                self.place(row)
                    .and_then(|placed| self.agrees(row, &placed).map(|()| placed))
            })
            .collect::<Result<_, _>>()?;
        for (row, placed) in corrected.points.iter().zip(placed) {
            if let Some(point) = self.points.get_mut(&row.point) {
                point.row = row.clone();
                point.placed = placed;
                point.corrected.push(n);
            }
        }
        let labels: Vec<&str> = corrected.points.iter().map(|row| row.point.as_str()).collect();
        match self.remake_runs_through(self, &labels) {
            Ok(remade) => Ok(self.put_remade(remade, n)),
            Err(refusal) => {
                for point in before {
                    self.points.insert(point.row.point.clone(), point);
                }
                Err(refusal)
            }
        }
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
            "PointsRecorded" => {
                let labels: Vec<String> = self
                    .points
                    .iter()
                    .filter(|(_, p)| p.entry == mark.n)
                    .map(|(label, _)| label.clone())
                    .collect();
                let uses = |run: &super::Run| {
                    let held = run.held.iter().flat_map(|h| &h.laid.points);
                    run.laid.points.iter().chain(held).any(|p| labels.contains(p))
                };
                if let Some((name, _)) = self.runs.iter().find(|(_, run)| uses(run)) {
                    let says = format!(
                        "run {name} passes through points of entry {}; withdraw or amend the run first",
                        mark.n
                    );
                    return Err(Refusal::new("in-use", says));
                }
                for label in labels {
                    self.points.remove(&label);
                }
                Vec::new()
            }
            "RunLaid" => {
                let name = self
                    .runs
                    .iter()
                    .find(|(_, run)| run.entries.first() == Some(&mark.n))
                    .map(|(k, _)| k.clone());
                let run = name.and_then(|name| self.runs.remove(&name));
                let keys = run.into_iter().flat_map(|run| {
                    let held: Vec<_> = run.held.iter().map(|h| h.record.key.clone()).collect();
                    std::iter::once(run.record.key.clone()).chain(held)
                });
                keys.map(Change::RunGone).collect()
            }
            "SurfaceRecorded" => {
                self.surfaces.retain(|surface| surface.entry != mark.n);
                Vec::new()
            }
            "AreaSearched" => {
                self.searched.retain(|area| area.entry != mark.n);
                Vec::new()
            }
            "ControlRecorded" => {
                self.control.retain(|_, control| control.entry != mark.n);
                Vec::new()
            }
            "RunsExpected" => {
                self.expected.retain(|_, (_, entry)| *entry != mark.n);
                Vec::new()
            }
            "RulesAdopted" => {
                if self.rules.as_ref().is_some_and(|rules| rules.entry == mark.n) {
                    self.rules = None;
                }
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
                for (name, book) in &self.level_books {
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
            "NoteAdded" | "FileAttached" => Vec::new(),
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

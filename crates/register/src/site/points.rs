//! Measured points in the fold.

use super::stations::{StationEvent, suspects};
use super::{Change, Placed, Refusal, Site};
use crate::body::{Body, PointRow, PointsRecorded};
use std::collections::{BTreeMap, HashMap, HashSet};
use survey::Decimal;
use uuid::Uuid;

/// A measured point.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// As recorded, or as last corrected.
    pub row: PointRow,
    /// Where it is and how sure: by its coordinates, or reckoned again from its readings.
    pub placed: Placed,
    /// When the entry says it was observed.
    pub observed_at: String,
    /// Who recorded it.
    pub by: Uuid,
    /// The entry that recorded it.
    pub entry: u64,
    /// Entries that corrected it, oldest first.
    pub corrected: Vec<u64>,
}

impl Point {
    /// When it was measured: as its row says, else as its entry does.
    pub fn observed_at(&self) -> &str {
        self.row.observed_at.as_deref().unwrap_or(&self.observed_at)
    }
}

/// Refuses a row whose figures cannot be.
pub(super) fn check_row(row: &PointRow) -> Result<(), Refusal> {
    let refuse =
        |says: String| Err(Refusal::about("point", &format!("point {}", row.point), says).at_row(row.row));
    if row.point.trim().is_empty() {
        return refuse("it has no label; give every point one".into());
    }
    for (name, value) in [("sigma_h_mm", &row.sigma_h_mm), ("sigma_v_mm", &row.sigma_v_mm)] {
        if let Some(mm) = value.as_ref().map(Decimal::to_f64)
            && !(mm > 0.0 && mm <= 100_000.0)
        {
            return refuse(format!(
                "{name} is {mm}; a standard deviation is more than 0 and at most 100000 mm, or left out"
            ));
        }
    }
    if let Some(time) = &row.observed_at
        && crate::time::instant(time).is_none()
    {
        return refuse(format!("observed_at {}", crate::time::NotATime(time.clone())));
    }
    if let Some(radius) = row.bend_radius_mm.as_ref().map(Decimal::to_f64)
        && radius <= 0.0
    {
        return refuse(format!("bend_radius_mm is {radius}; it must be more than 0"));
    }
    Ok(())
}

impl Site {
    /// Refuses each row whose label a recorded point has already.
    pub fn taken<'a>(&'a self, rows: &'a [PointRow]) -> impl Iterator<Item = Refusal> + 'a {
        rows.iter().filter_map(|row| {
            let there = self.points.get(&row.point)?;
            let says = format!(
                "the label is taken by a point of entry {}; import with a prefix, or correct that point",
                there.entry
            );
            Some(Refusal::about("label-taken", &format!("point {}", row.point), says).at_row(row.row))
        })
    }

    pub(super) fn record_points(
        &mut self,
        recorded: &PointsRecorded,
        body: &Body,
        n: u64,
    ) -> Result<Vec<Change>, Refusal> {
        let frame = self.frame()?;
        if let Some(refusal) = self.taken(&recorded.points).next() {
            return Err(refusal);
        }
        let mut fresh = HashSet::with_capacity(recorded.points.len());
        for row in &recorded.points {
            let what = format!("point {}", row.point);
            check_row(row)?;
            frame
                .check(&what, &row.easting_m, &row.northing_m, Some(&row.level_m))
                .map_err(|refusal| refusal.at_row(row.row))?;
            if !fresh.insert(row.point.as_str()) {
                let says = "the label stands twice in this import; give each point its own";
                return Err(Refusal::about("label-twice", &what, says).at_row(row.row));
            }
        }
        self.check_same(&recorded.points)?;
        let events = self.station_events(recorded, n)?;
        let mut stations = self.stations.clone();
        let mut changed: Vec<String> = Vec::new();
        for (name, events) in events {
            if let Some(station) = stations.get_mut(&name) {
                station.events.extend(events);
                let now = suspects(&station.events);
                changed.extend(station.suspect.symmetric_difference(&now).cloned());
                station.suspect = now;
            }
        }
        let old = std::mem::replace(&mut self.stations, stations);
        let same: Vec<String> = recorded
            .points
            .iter()
            .filter_map(|row| row.same_as.clone())
            .collect();
        let placed = self.place_all(&recorded.points, &body.observed_at);
        changed.retain(|label| self.points.contains_key(label));
        let placed_and_changes =
            placed.and_then(|placed| self.place_again(&changed, n).map(|changes| (placed, changes)));
        let stations_before = if same.is_empty() {
            BTreeMap::new()
        } else {
            old.clone()
        };
        let (placed, changes) = placed_and_changes.inspect_err(|_| self.stations = old)?;
        self.points.reserve(recorded.points.len());
        for (row, placed) in recorded.points.iter().zip(placed) {
            let point = Point {
                row: row.clone(),
                placed,
                observed_at: body.observed_at.clone(),
                by: body.by,
                entry: n,
                corrected: Vec::new(),
            };
            self.points.insert(row.point.clone(), point);
        }
        if same.is_empty() {
            return Ok(changes);
        }
        let before = std::mem::replace(&mut self.same, Site::same_points(self.points.values()));
        match self.place_again(&same, n) {
            Ok(more) => Ok(changes.into_iter().chain(more).collect()),
            Err(refusal) => {
                self.same = before;
                for row in &recorded.points {
                    self.points.remove(&row.point);
                }
                self.stations = stations_before;
                // What a failed check moved is placed as it was, which was accepted before.
                self.place_again(&changed, n)?;
                Err(refusal)
            }
        }
    }

    /// Places the points of a new entry; one may hang on those before it.
    fn place_all(&self, rows: &[PointRow], observed_at: &str) -> Result<Vec<Placed>, Refusal> {
        let hang = rows.iter().any(|row| {
            row.measured
                .as_ref()
                .is_some_and(|m| m.hangs_on().next().is_some())
        });
        let mut before: HashMap<&str, usize> = HashMap::new();
        let mut placed: Vec<Placed> = Vec::with_capacity(rows.len());
        for row in rows {
            let at = row.observed_at.as_deref().unwrap_or(observed_at);
            let fresh = |name: &str| before.get(name).map(|&i| placed[i].clone());
            let made = self.place_new(row, at, &fresh)?;
            if hang {
                before.insert(&row.point, placed.len());
            }
            placed.push(made);
        }
        Ok(placed)
    }

    /// Returns what an entry adds to each station: shots and checks in the order they were made.
    fn station_events(
        &self,
        recorded: &PointsRecorded,
        n: u64,
    ) -> Result<BTreeMap<String, Vec<StationEvent>>, Refusal> {
        let mut events: BTreeMap<String, Vec<StationEvent>> = BTreeMap::new();
        let mut checks = recorded.checks.iter().peekable();
        for made in 0..=recorded.points.len() {
            while let Some(check) = checks.next_if(|check| check.after as usize <= made) {
                let refuse =
                    |says: String| Refusal::about("check", &format!("check of {}", check.target), says);
                let station = self.stations.get(&check.station);
                let station = station
                    .ok_or_else(|| refuse(format!("station {} is not set; set it first", check.station)))?;
                let known = self.known_point(&check.target);
                let known = known.ok_or_else(|| {
                    refuse("it is not a control point; import the control list first".into())
                })?;
                let checked = station.solved.check_again(&known, &check.sights)?;
                events
                    .entry(check.station.clone())
                    .or_default()
                    .push(StationEvent::Check {
                        target: check.target.clone(),
                        sights: check.sights.clone(),
                        outcome: crate::station::outcome(checked.verdict),
                        entry: n,
                    });
            }
            if let Some(row) = recorded.points.get(made)
                && let Some(station) = crate::station::station_of(&row.measured)
            {
                events
                    .entry(station.to_string())
                    .or_default()
                    .push(StationEvent::Shot {
                        label: row.point.clone(),
                        entry: n,
                    });
            }
        }
        if let Some(check) = checks.next() {
            let says = format!(
                "it stands after {} points, and the entry has {}",
                check.after,
                recorded.points.len()
            );
            return Err(Refusal::about(
                "check",
                &format!("check of {}", check.target),
                says,
            ));
        }
        Ok(events)
    }
}

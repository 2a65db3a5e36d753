//! Stations and level books in the fold: where points come from, and which of them a failed check leaves suspect.

use super::{Change, Frame, Refusal, Site};
use crate::body::{GridTied, LevelsBooked, MeasuredFrom, PointRow, SightRow, StationSet, TieRow};
use crate::levels::{BookedLevel, Closes, reduce_book};
use crate::station::{SolvedStation, outcome, solve_station, station_of};
use crate::words::{CheckOutcome, Touched};
use ground::Vec3;
use std::collections::BTreeSet;
use std::sync::Arc;
use survey::Decimal;
use survey::check_shot::{CheckVerdict, SetUpEvent, suspect_shots};
use survey::observation::ControlPoint;
use survey::similarity::{CommonPoint, GridTie, Scale, TieOptions, tie_grid};
use survey::ties::{Side, SwingTie, fix_by_ties};
use survey::uncertainty::PlanCovariance;

/// How far a position reckoned again may lie from the one written when it was recorded. Metres.
const AGREES_M: f64 = 0.001;

/// A station in the fold.
#[derive(Debug, Clone)]
pub struct Station {
    /// As solved last.
    pub solved: Arc<SolvedStation>,
    /// As it was solved by each entry before the one that stands, oldest first.
    pub earlier: Vec<Arc<SolvedStation>>,
    /// Every entry that set it, oldest first.
    pub entries: Vec<u64>,
    /// What happened at it, in order: shots by label, checks by outcome.
    pub events: Vec<StationEvent>,
    /// Labels of the shots that a failed check leaves suspect.
    pub suspect: BTreeSet<String>,
}

/// Something that happened at a station.
#[derive(Debug, Clone, PartialEq)]
pub enum StationEvent {
    /// A point was shot.
    Shot {
        /// Its label.
        label: String,
        /// The entry.
        entry: u64,
    },
    /// A check was made of a known point.
    Check {
        /// The point.
        target: String,
        /// The sights, by which the check is judged again when the station is set anew.
        sights: Vec<SightRow>,
        /// What it said.
        outcome: CheckOutcome,
        /// The entry.
        entry: u64,
    },
}

impl StationEvent {
    /// Returns the entry it came with.
    pub(super) fn entry(&self) -> u64 {
        match self {
            StationEvent::Shot { entry, .. } | StationEvent::Check { entry, .. } => *entry,
        }
    }
}

/// A local grid tied to a projected one.
#[derive(Debug, Clone)]
pub struct Tied {
    /// EPSG code of the projected grid.
    pub epsg: u32,
    /// The tie, from this site's eastings and northings.
    pub tie: GridTie,
    /// What deserves a look.
    pub findings: Vec<String>,
    /// The entry.
    pub entry: u64,
}

impl Tied {
    /// Returns the tie in a sentence: by how many points, its scale, and how well it fits.
    pub fn says(&self) -> String {
        let points = self.tie.residuals.len();
        let fit = if self.tie.is_checked() {
            format!("residuals {:.3} m root mean square", self.tie.rms_m)
        } else {
            "unchecked, since two points fit perfectly and prove nothing".into()
        };
        format!(
            "{points} common points, scale {:+.1} ppm, {fit}",
            self.tie.similarity.scale_ppm()
        )
    }
}

/// Where a point is, how sure, and what is doubtful about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// In the site frame.
    pub at: Vec3,
    /// Covariance in plan, relative to site control, when known.
    pub plan: Option<PlanCovariance>,
    /// Standard deviation in plan: the semi-major one.
    pub sigma_h_m: Option<f64>,
    /// Standard deviation in level.
    pub sigma_v_m: Option<f64>,
    /// What is doubtful about it.
    pub doubts: Vec<String>,
    /// True when a failed check leaves it suspect.
    pub suspect: bool,
}

impl Site {
    /// Returns a control point in the site frame.
    pub(crate) fn known_point(&self, name: &str) -> Option<ControlPoint> {
        let frame = self.frame().ok()?;
        let row = &self.control_point(name)?.row;
        let at = frame.local(&row.easting_m, &row.northing_m, &row.level_m);
        let exact = ControlPoint::exact(name, at.x, at.y, Some(at.z));
        // What is not stated is left to the report, which says that control was taken as exact.
        let variance = |mm: &Option<Decimal>| mm.as_ref().map_or(0.0, |mm| (mm.to_f64() / 1000.0).powi(2));
        let (plan, level) = (variance(&row.sigma_h_mm), variance(&row.sigma_v_mm));
        let matrix = nalgebra::Matrix3::from_diagonal(&Vec3::new(plan, plan, level));
        Some(ControlPoint {
            covariance: survey::PointCovariance::from_matrix(&matrix),
            ..exact
        })
    }

    /// Grid distance over ground distance here; 1 where distances are on the ground or the grid is tied to nothing.
    pub fn grid_scale(&self) -> f64 {
        let Some(opened) = &self.opened else { return 1.0 };
        let (Some(epsg), crate::body::Distances::Grid) = (opened.epsg, opened.distances) else {
            return 1.0;
        };
        let factor = survey::projection::Projection::of(epsg).and_then(|projection| {
            projection.combined_factor(
                opened.near_easting_m.to_f64(),
                opened.near_northing_m.to_f64(),
                opened.near_level_m.to_f64(),
            )
        });
        factor.unwrap_or(1.0)
    }

    /// Solves a station by this site's control, without recording it.
    ///
    /// # Errors
    /// As [`solve_station`].
    pub fn try_station(&self, set: &StationSet, entry: u64) -> Result<SolvedStation, Refusal> {
        solve_station(set, entry, &|name| self.known_point(name), self.grid_scale())
    }

    pub(super) fn set_station(&mut self, set: &StationSet, n: u64) -> Result<Vec<Change>, Refusal> {
        if set.station.trim().is_empty() {
            return Err(Refusal::new("blank", "a station has no name; give it one"));
        }
        let what = format!("station {}", set.station);
        let before = self
            .stations
            .get(&set.station)
            .and_then(|s| s.entries.last().copied());
        match (before, set.saw) {
            (Some(before), saw) if saw != Some(before) => {
                let says = format!(
                    "it was set by entry {before}; choose another name, or set it anew having seen that entry"
                );
                return Err(Refusal::about("station-taken", &what, says));
            }
            (None, Some(saw)) => {
                return Err(Refusal::about(
                    "no-such-station",
                    &what,
                    format!("entry {saw} set no station of that name"),
                ));
            }
            _ => {}
        }
        let solved = self.try_station(set, n)?;
        if solved.check != CheckOutcome::Passed
            && set
                .unchecked_reason
                .as_deref()
                .is_none_or(|r| r.trim().is_empty())
        {
            let why = match solved.check {
                CheckOutcome::Failed => solved.checks.last().and_then(|c| c.findings.first()).map_or_else(
                    || "its check failed".to_string(),
                    |finding| format!("its check failed: {}", finding.sentence),
                ),
                _ => "no check was made; sight a known point that took no part".to_string(),
            };
            let says = format!("{why}; mend it, or say why it is used all the same");
            return Err(Refusal::about("station-unchecked", &what, says));
        }
        let station = Station {
            solved: Arc::new(solved),
            earlier: Vec::new(),
            entries: vec![n],
            events: Vec::new(),
            suspect: BTreeSet::new(),
        };
        let old = self.stations.get(&set.station).cloned();
        let mut station = match &old {
            None => station,
            Some(old) => {
                let mut entries = old.entries.clone();
                entries.push(n);
                let mut earlier = old.earlier.clone();
                earlier.push(Arc::clone(&old.solved));
                Station {
                    earlier,
                    entries,
                    events: old.events.clone(),
                    suspect: old.suspect.clone(),
                    ..station
                }
            }
        };
        if old.is_some() {
            self.judge_again(&mut station)?;
        }
        let labels: Vec<String> = self.measured_from(&set.station);
        self.stations.insert(set.station.clone(), station);
        self.place_again(&labels, n).inspect_err(|_| {
            match old.clone() {
                Some(old) => self.stations.insert(set.station.clone(), old),
                None => self.stations.remove(&set.station),
            };
        })
    }

    pub(crate) fn measured_from(&self, station: &str) -> Vec<String> {
        let of_it = self
            .points
            .iter()
            .filter(|(_, p)| station_of(&p.row.measured) == Some(station));
        of_it.map(|(label, _)| label.clone()).collect()
    }

    /// Judges the later checks of a station set anew by its new place.
    fn judge_again(&self, station: &mut Station) -> Result<(), Refusal> {
        let solved = Arc::clone(&station.solved);
        for event in &mut station.events {
            if let StationEvent::Check {
                target,
                sights,
                outcome: said,
                ..
            } = event
            {
                let known = self.known_point(target);
                let known = known
                    .ok_or_else(|| Refusal::about("check", target, "it is not a control point any more"))?;
                *said = outcome(solved.check_again(&known, sights)?.verdict);
            }
        }
        station.suspect = suspects(&station.events);
        Ok(())
    }

    /// Places points again and makes the runs through them again; on refusal all is as it was.
    ///
    /// Points tied by tape from any of them follow.
    pub(super) fn place_again(&mut self, labels: &[String], n: u64) -> Result<Vec<Change>, Refusal> {
        let labels = &self.with_tied_from(labels);
        if labels.is_empty() {
            return Ok(Vec::new());
        }
        let before: Vec<_> = labels
            .iter()
            .filter_map(|l| self.points.get(l).map(|p| (l.clone(), p.placed.clone())))
            .collect();
        let restore = |site: &mut Site| {
            for (label, placed) in &before {
                if let Some(point) = site.points.get_mut(label) {
                    point.placed = placed.clone();
                }
            }
        };
        for label in labels {
            let Some(point) = self.points.get(label) else {
                continue;
            };
            match self.place(&point.row) {
                Ok(placed) => {
                    if let Some(point) = self.points.get_mut(label) {
                        point.placed = placed;
                    }
                }
                Err(refusal) => {
                    restore(self);
                    return Err(refusal);
                }
            }
        }
        let labels: Vec<&str> = labels.iter().map(String::as_str).collect();
        match self.remake_runs_through(self, &labels) {
            Ok(remade) => Ok(self.put_remade(remade, n)),
            Err(refusal) => {
                restore(self);
                Err(refusal)
            }
        }
    }

    /// Returns the labels, and those of every point tied by tape from one of them, in an order that places each
    /// after what it hangs on.
    pub(crate) fn with_tied_from(&self, labels: &[String]) -> Vec<String> {
        let mut all: Vec<String> = labels.to_vec();
        let mut next = 0;
        while next < all.len() {
            let from = all[next].clone();
            let hangs = |p: &super::Point| matches!(&p.row.measured, Some(MeasuredFrom::Ties { ties, .. }) if ties.iter().any(|t| t.from == from));
            let mut tied: Vec<String> = self
                .points
                .iter()
                .filter(|(_, p)| hangs(p))
                .map(|(l, _)| l.clone())
                .collect();
            tied.sort_unstable();
            tied.retain(|label| !all.contains(label));
            all.extend(tied);
            next += 1;
        }
        all.retain(|label| self.points.contains_key(label));
        all
    }

    /// Places a point by its coordinates or its readings, and by a level book where one holds it.
    ///
    /// # Errors
    /// Readings that do not read, or that give another position than the one written.
    pub(super) fn place(&self, row: &PointRow) -> Result<Placed, Refusal> {
        let mut placed = self.place_by_readings(row)?;
        if let Some((level, book)) = self.booked.get(&row.point) {
            take_level(&mut placed, level, book, row.touched);
        }
        Ok(placed)
    }

    fn place_by_readings(&self, row: &PointRow) -> Result<Placed, Refusal> {
        let frame = self.frame()?;
        let placed = match &row.measured {
            None => by_coordinates(row, &frame),
            Some(MeasuredFrom::Station { station, sights }) => {
                let what = format!("point {}", row.point);
                let found = self.stations.get(station).ok_or_else(|| {
                    Refusal::about(
                        "no-such-station",
                        &what,
                        format!("station {station} is not set; set it first"),
                    )
                    .at_row(row.row)
                })?;
                let (shot, doubts) = found.solved.shoot(&row.point, sights)?;
                let Some(level) = shot.level_m else {
                    let says = format!("station {station} has no level; give its control levels");
                    return Err(Refusal::about("no-level", &what, says).at_row(row.row));
                };
                let since_failed = found.suspect.contains(&row.point);
                // Nothing that hangs on a station without a passed check can prove anything.
                let suspect = since_failed || found.solved.check != CheckOutcome::Passed;
                let mut doubts: Vec<String> = found.solved.unchecked().into_iter().chain(doubts).collect();
                if since_failed {
                    doubts.push(format!(
                        "suspect: station {station} failed a check after its last good one"
                    ));
                }
                Placed {
                    at: Vec3::new(shot.easting_m, shot.northing_m, level),
                    plan: Some(shot.covariance.plan()),
                    sigma_h_m: Some(shot.covariance.plan().ellipse().semi_major_sigma_m),
                    sigma_v_m: Some(shot.covariance.level_sigma_m()),
                    doubts,
                    suspect,
                }
            }
            Some(MeasuredFrom::Ties { ties, side }) => self.by_ties(row, ties, side, &frame)?,
        };
        Ok(placed)
    }

    fn by_ties(&self, row: &PointRow, ties: &[TieRow], side: &str, frame: &Frame) -> Result<Placed, Refusal> {
        let refuse =
            |says: String| Refusal::about("ties", &format!("point {}", row.point), says).at_row(row.row);
        let side = match side {
            "left" => Side::Left,
            "right" => Side::Right,
            other => {
                return Err(refuse(format!(
                    "side is {other:?}; write left or right of the line from the first mark to the second"
                )));
            }
        };
        let mut swing = Vec::new();
        for tie in ties {
            let sigma = |of: &survey::PointCovariance| of.plan().ellipse().semi_major_sigma_m;
            let control = self.known_point(&tie.from);
            let control = control.map(|c| {
                (
                    [c.easting_m, c.northing_m],
                    Some(sigma(&c.covariance)).filter(|s| *s > 0.0),
                )
            });
            let recorded = || {
                self.points
                    .get(&tie.from)
                    .map(|p| ([p.placed.at.x, p.placed.at.y], p.placed.sigma_h_m))
            };
            let Some((at_m, object_sigma_m)) = control.or_else(recorded) else {
                return Err(refuse(format!(
                    "{} is neither control nor a recorded point",
                    tie.from
                )));
            };
            swing.push(SwingTie {
                object: tie.from.clone(),
                at_m,
                object_sigma_m,
                distance_m: tie.distance_m.to_f64(),
                sigma_m: Some(tie.sigma_mm.to_f64() / 1000.0),
            });
        }
        let (tied, findings) = fix_by_ties(&swing, side).map_err(|e| refuse(e.to_string()))?;
        let stated = by_coordinates(row, frame);
        Ok(Placed {
            at: Vec3::new(tied.position_m[0], tied.position_m[1], stated.at.z),
            plan: tied.covariance,
            sigma_h_m: tied.covariance.map(|c| c.ellipse().semi_major_sigma_m),
            doubts: findings.into_iter().map(|f| f.sentence).collect(),
            ..stated
        })
    }

    /// Refuses a point whose written position is not the one its readings give.
    pub(super) fn agrees(&self, row: &PointRow) -> Result<(), Refusal> {
        if row.measured.is_none() {
            return Ok(());
        }
        let written = self.frame()?.local(&row.easting_m, &row.northing_m, &row.level_m);
        let off = self.place_by_readings(row)?.at - written;
        if off.xy().norm() > AGREES_M || off.z.abs() > AGREES_M {
            let says = format!(
                "its readings give a position {:.1} mm in plan and {:.1} mm in level from the one written; reckon it again",
                off.xy().norm() * 1000.0,
                off.z * 1000.0
            );
            return Err(
                Refusal::about("does-not-agree", &format!("point {}", row.point), says).at_row(row.row),
            );
        }
        Ok(())
    }

    pub(super) fn book_levels(&mut self, booked: &LevelsBooked, n: u64) -> Result<Vec<Change>, Refusal> {
        if self.level_books.contains_key(&booked.book) {
            let says = "a book of that name is recorded; give this one another name";
            return Err(Refusal::about(
                "book-taken",
                &format!("level book {}", booked.book),
                says,
            ));
        }
        let book = reduce_book(booked, n)?;
        let before = self.booked.clone();
        let labels: Vec<String> = book.levels.iter().map(|l| l.point.clone()).collect();
        for level in &book.levels {
            self.booked
                .insert(level.point.clone(), (level.clone(), booked.book.clone()));
        }
        let known: Vec<String> = labels
            .into_iter()
            .filter(|l| self.points.contains_key(l))
            .collect();
        let changes = match self.place_again(&known, n) {
            Ok(changes) => changes,
            Err(refusal) => {
                self.booked = before;
                return Err(refusal);
            }
        };
        self.level_books.insert(booked.book.clone(), Arc::new(book));
        Ok(changes)
    }

    pub(super) fn tie_grid(&mut self, tied: &GridTied, n: u64) -> Result<Vec<Change>, Refusal> {
        let refuse = |says: String| Refusal::new("grid-tie", says);
        if let Some(epsg) = self.opened.as_ref().and_then(|o| o.epsg) {
            return Err(refuse(format!(
                "this site is on EPSG:{epsg} already; only a local grid is tied"
            )));
        }
        survey::epsg::projected_crs(tied.epsg).map_err(|e| refuse(e.to_string()))?;
        let common: Vec<CommonPoint> = tied
            .common
            .iter()
            .map(|row| CommonPoint {
                name: row.point.clone(),
                local_m: [row.local_easting_m.to_f64(), row.local_northing_m.to_f64()],
                grid_m: [row.grid_easting_m.to_f64(), row.grid_northing_m.to_f64()],
            })
            .collect();
        let scale = tied
            .scale_held
            .as_ref()
            .map_or(Scale::Free, |held| Scale::Held(held.to_f64()));
        let (tie, findings) = tie_grid(
            &common,
            &TieOptions {
                scale,
                ..TieOptions::default()
            },
        )
        .map_err(|e| refuse(e.to_string()))?;
        let findings = findings
            .iter()
            .map(|f| format!("{}: {}", f.place, f.sentence))
            .collect();
        self.tied = Some(Tied {
            epsg: tied.epsg,
            tie,
            findings,
            entry: n,
        });
        Ok(Vec::new())
    }
}

/// Returns the labels of the shots that failed checks leave suspect.
pub(super) fn suspects(events: &[StationEvent]) -> BTreeSet<String> {
    let plain: Vec<SetUpEvent> = events
        .iter()
        .map(|event| match event {
            StationEvent::Shot { .. } => SetUpEvent::Shot,
            StationEvent::Check { outcome, .. } => SetUpEvent::Check(match outcome {
                CheckOutcome::Passed => CheckVerdict::Passed,
                CheckOutcome::Failed => CheckVerdict::Failed,
                CheckOutcome::NotDone => CheckVerdict::NotDone,
            }),
        })
        .collect();
    let labels = suspect_shots(&plain)
        .into_iter()
        .filter_map(|k| match &events[k] {
            StationEvent::Shot { label, .. } => Some(label.clone()),
            StationEvent::Check { .. } => None,
        });
    labels.collect()
}

fn by_coordinates(row: &PointRow, frame: &Frame) -> Placed {
    let metres = |mm: &Option<Decimal>| mm.as_ref().map(|v| v.to_f64() / 1000.0);
    let sigma_h_m = metres(&row.sigma_h_mm);
    Placed {
        at: frame.local(&row.easting_m, &row.northing_m, &row.level_m),
        plan: sigma_h_m.and_then(|sigma| PlanCovariance::circle(sigma).ok()),
        sigma_h_m,
        sigma_v_m: metres(&row.sigma_v_mm),
        doubts: Vec::new(),
        suspect: false,
    }
}

/// Takes a level from a book, and tells when it disagrees with the one the point had.
fn take_level(placed: &mut Placed, level: &BookedLevel, book: &str, touched: Touched) {
    match level.touched {
        Some(staff) if staff == touched => {}
        Some(staff) => {
            let says = format!(
                "level book {book} has the staff on its {staff}, and the point touched {touched}: not used"
            );
            placed.doubts.push(says);
            return;
        }
        None => {
            placed.doubts.push(format!(
                "level book {book} does not say what the staff stood on: not used"
            ));
            return;
        }
    }
    match level.closes {
        Closes::Within => {}
        Closes::Over => {
            placed.doubts.push(format!(
                "level book {book} does not close within its limit: its levels are not used"
            ));
            return;
        }
        Closes::NotChecked => {
            placed.doubts.push(format!(
                "level book {book} closes on nothing, or against no limit: its level is not checked"
            ));
            placed.suspect = true;
        }
    }
    let off = placed.at.z - level.level_m;
    let sigma = survey::uncertainty::combine(&[placed.sigma_v_m, level.sigma_m]);
    let limit = sigma.map(survey::uncertainty::u95_from_sigma);
    if limit.is_none_or(|limit| off.abs() > limit) && off.abs() > 0.001 {
        placed.doubts.push(format!(
            "level book {book} gives {:.3}, {:.0} mm from the level measured otherwise; the book's is used",
            level.level_m,
            (off * 1000.0).abs()
        ));
    }
    placed.at.z = level.level_m;
    placed.sigma_v_m = level.sigma_m;
}

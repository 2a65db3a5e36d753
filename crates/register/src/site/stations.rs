//! Stations and level books in the fold: where points come from, and which of them a failed check leaves suspect.

use super::{Change, Placed, Refusal, Site};
use crate::body::{GridTied, LevelsBooked, SightRow, StationSet};
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
///
/// The checks of the set-up itself are not among the events: they stand before every shot, and one that did not pass
/// makes all that hangs on the station suspect by itself ([`SolvedStation::unchecked`]).
pub(super) fn suspects(events: &[StationEvent]) -> BTreeSet<String> {
    let plain: Vec<SetUpEvent> = events
        .iter()
        .map(|event| match event {
            StationEvent::Shot { .. } => SetUpEvent::Shot,
            StationEvent::Check { target, outcome, .. } => SetUpEvent::Check {
                target,
                verdict: match outcome {
                    CheckOutcome::Passed => CheckVerdict::Passed,
                    CheckOutcome::Failed => CheckVerdict::Failed,
                    CheckOutcome::NotDone => CheckVerdict::NotDone,
                },
            },
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

/// Takes a level from a book, and tells when it disagrees with the one the point had.
pub(super) fn take_level(placed: &mut Placed, level: &BookedLevel, book: &str, touched: Touched) {
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

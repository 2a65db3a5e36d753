//! A site: the one fold over its journal.
//!
//! [`Site::apply`] is the only way that state changes. It changes everything an entry says or, when it refuses
//! the entry, nothing.

mod corrections;
mod hanging;
mod how;
mod measured;
mod measured_level;
mod places;
mod placing;
mod points;
mod releases;
mod runs;
mod same_point;
mod stations;
mod surfaces;
mod tin;

use crate::body::{Act, Body, ExpectedRow, SiteOpened};
use crate::chain::{self, Hash};
use crate::entry::Entry;
use crate::rules::Adopted;
use crate::run_record::RunRecord;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use uuid::Uuid;

pub use places::{ControlPoint, Frame, Searched};
pub use placing::Placed;
pub use points::Point;
pub use releases::Release;
pub use runs::Run;
pub use stations::{Station, StationEvent, Tied};
pub use surfaces::{RecordedSurface, SurfaceChoice};

/// What an accepted entry changes outside the fold: the cached rows of runs.
#[derive(Debug, Clone)]
pub enum Change {
    /// A run's record is new or different.
    RunRecorded(Arc<RunRecord>),
    /// No record of this key stands any more.
    RunGone(String),
}

/// An entry that cannot be accepted: what is wrong, where, and how to mend it. Nothing was changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{says}")]
pub struct Refusal {
    /// Short code.
    pub code: &'static str,
    /// What is wrong and how to mend it.
    pub says: String,
    /// The point, run, surface or area it is about.
    pub about: Option<String>,
    /// The row of the file it came from.
    pub row: Option<u64>,
}

impl Refusal {
    pub(crate) fn new(code: &'static str, says: impl Into<String>) -> Refusal {
        Refusal {
            code,
            says: says.into(),
            about: None,
            row: None,
        }
    }
    pub(crate) fn about(code: &'static str, about: &str, says: impl AsRef<str>) -> Refusal {
        Refusal {
            code,
            says: format!("{about}: {}", says.as_ref()),
            about: Some(about.into()),
            row: None,
        }
    }
    pub(crate) fn at_row(self, row: Option<u64>) -> Refusal {
        Refusal { row, ..self }
    }
}

/// What the book keeps at hand of each entry.
#[derive(Debug, Clone)]
pub struct EntryMark {
    /// Its number.
    pub n: u64,
    /// Its kind.
    pub kind: &'static str,
    /// The entry that withdrew it, and the reason.
    pub withdrawn: Option<(u64, String)>,
}

/// A site as its journal tells it.
#[derive(Debug, Clone)]
pub struct Site {
    /// Its identity.
    pub id: Uuid,
    /// Number of the newest entry applied.
    pub n: u64,
    /// The head after it.
    pub head: Hash,
    /// When it was recorded.
    pub recorded_at: Option<String>,
    /// Set when an entry could not be read: no dig, no cover, no new entry, since skipping could hide a service.
    pub read_only: Option<String>,
    /// Grid, datum and place, once opened.
    pub opened: Option<SiteOpened>,
    /// The adopted rule set.
    pub rules: Option<Arc<Adopted>>,
    /// Every rule set adopted and not withdrawn, oldest first; the last one is in force.
    pub rules_adopted: Vec<Arc<Adopted>>,
    /// Every recorded state of each control point, oldest first; the last one stands.
    pub control: BTreeMap<String, Vec<ControlPoint>>,
    /// Measured points by label.
    pub points: HashMap<String, Point>,
    /// Labels under which points were measured again, by the point's own.
    pub same: BTreeMap<String, std::collections::BTreeSet<String>>,
    /// Stations by name.
    pub stations: BTreeMap<String, Station>,
    /// Level books by name.
    pub level_books: BTreeMap<String, Arc<crate::levels::ReducedLevels>>,
    /// The newest booked level of each point, with its book.
    pub booked: HashMap<String, (crate::levels::BookedLevel, String)>,
    /// The tie of a local grid.
    pub tied: Option<Tied>,
    /// Runs by name.
    pub runs: BTreeMap<String, Run>,
    /// Every expectation of each run, with its entry, oldest first; the last one stands.
    pub expected: BTreeMap<String, Vec<(ExpectedRow, u64)>>,
    /// Every recorded state of every surface, oldest first.
    pub surfaces: Vec<RecordedSurface>,
    /// Searched areas, oldest first.
    pub searched: Vec<Searched>,
    /// Files kept beside the journal, with their entries, oldest first.
    pub files: Vec<(crate::body::FileAttached, u64)>,
    /// Decisions at hold points, oldest first.
    pub releases: Vec<Release>,
    /// Every entry by its author's id.
    pub entries: HashMap<Uuid, EntryMark>,
    frame_only: bool,
}

impl Site {
    /// Returns the site of an empty journal.
    pub fn empty(id: Uuid) -> Site {
        Site {
            id,
            n: 0,
            head: chain::head_of_nothing(id),
            recorded_at: None,
            read_only: None,
            opened: None,
            rules: None,
            rules_adopted: Vec::new(),
            control: BTreeMap::new(),
            points: HashMap::new(),
            same: BTreeMap::new(),
            stations: BTreeMap::new(),
            level_books: BTreeMap::new(),
            booked: HashMap::new(),
            tied: None,
            runs: BTreeMap::new(),
            expected: BTreeMap::new(),
            surfaces: Vec::new(),
            searched: Vec::new(),
            files: Vec::new(),
            releases: Vec::new(),
            entries: HashMap::new(),
            frame_only: false,
        }
    }

    /// Returns a site that is told only of the entries a planned dig needs besides runs
    /// ([`Act::FRAME_KINDS`]); entry numbers may then leap.
    pub fn empty_frame(id: Uuid) -> Site {
        Site {
            frame_only: true,
            ..Site::empty(id)
        }
    }

    /// Returns the grid, datum and place.
    ///
    /// # Errors
    /// Before the site is opened.
    pub fn frame(&self) -> Result<Frame, Refusal> {
        let opened = self.opened.as_ref();
        let opened = opened
            .ok_or_else(|| Refusal::new("not-opened", "the site has no opening entry; open it first"))?;
        Ok(Frame::of(opened))
    }

    /// Refuses when the site takes no entries.
    ///
    /// # Errors
    /// An entry could not be read, and skipping it could hide a service.
    pub fn writable(&self) -> Result<(), Refusal> {
        match &self.read_only {
            None => Ok(()),
            Some(why) => Err(Refusal::new(
                "read-only",
                format!("the site is read-only and takes no entry: {why}"),
            )),
        }
    }

    /// Applies the next entry: the only way that state changes.
    ///
    /// # Errors
    /// [`Refusal`]; the site is then as it was. An entry that cannot be read is not refused: it makes the site
    /// read-only.
    pub fn apply(&mut self, entry: &Entry) -> Result<Vec<Change>, Refusal> {
        if !self.frame_only && entry.n != self.n + 1 {
            let says = format!(
                "entry {} does not follow entry {}; read the journal again",
                entry.n, self.n
            );
            return Err(Refusal::new("out-of-order", says));
        }
        let changes = match &entry.body {
            Err(unreadable) => {
                self.read_only
                    .get_or_insert_with(|| format!("entry {}: {unreadable}", entry.n));
                Vec::new()
            }
            Ok(body) => self.apply_body(entry, body)?,
        };
        self.n = entry.n;
        self.head = entry.head;
        self.recorded_at = Some(entry.recorded_at.clone());
        Ok(changes)
    }

    fn apply_body(&mut self, entry: &Entry, body: &Body) -> Result<Vec<Change>, Refusal> {
        if self.entries.contains_key(&body.id) {
            return Err(Refusal::new(
                "same-id",
                format!("entry id {} is in the journal already", body.id),
            ));
        }
        if self.opened.is_none() && !matches!(body.act, Act::SiteOpened(_)) {
            return Err(Refusal::new(
                "not-opened",
                "the first entry of a site opens it; open the site first",
            ));
        }
        if crate::time::instant(&body.observed_at).is_none() {
            let not_a_time = crate::time::NotATime(body.observed_at.clone());
            return Err(Refusal::new("observed-at", format!("observed_at {not_a_time}")));
        }
        let n = entry.n;
        let changes = match &body.act {
            Act::SiteOpened(opened) => self.open(opened)?,
            Act::RulesAdopted(adopted) => {
                let adopted = Adopted::read(adopted, n).map_err(|e| Refusal::new("rules", e.to_string()))?;
                let adopted = Arc::new(adopted);
                self.rules_adopted.push(Arc::clone(&adopted));
                self.rules = Some(adopted);
                Vec::new()
            }
            Act::ControlRecorded(control) => self.record_control(control, n)?,
            Act::PointsRecorded(points) => self.record_points(points, body, n)?,
            Act::StationSet(set) => self.set_station(set, n)?,
            Act::LevelsBooked(booked) => self.book_levels(booked, n)?,
            Act::GridTied(tied) => self.tie_grid(tied, n)?,
            Act::RunsExpected(expected) => {
                for row in &expected.runs {
                    self.expected
                        .entry(row.run.clone())
                        .or_default()
                        .push((row.clone(), n));
                }
                Vec::new()
            }
            Act::RunLaid(laid) => self.lay_run(laid, n)?,
            Act::RunAmended(amended) => self.amend_run(amended, n)?,
            Act::RunRetired(retired) => self.retire_run(retired, n)?,
            Act::SurfaceRecorded(surface) => self.record_surface(surface, body, entry)?,
            Act::AreaSearched(area) => self.record_search(area, body, n)?,
            Act::EntryCorrected(corrected) => self.correct_points(corrected, n)?,
            Act::EntryWithdrawn(withdrawn) => self.withdraw(withdrawn, n)?,
            Act::CoverReleased(released) => self.release(released, body, n)?,
            Act::ReleaseWithdrawn(withdrawn) => self.withdraw_release(withdrawn, n)?,
            Act::FileAttached(file) => {
                self.files.push((file.clone(), n));
                Vec::new()
            }
            Act::CoverChecked(_)
            | Act::DigPlanned(_)
            | Act::SheetIssued(_)
            | Act::NoteAdded(_)
            | Act::ContentErased(_) => Vec::new(),
        };
        self.entries.insert(
            body.id,
            EntryMark {
                n,
                kind: body.act.kind(),
                withdrawn: None,
            },
        );
        Ok(changes)
    }

    fn open(&mut self, opened: &SiteOpened) -> Result<Vec<Change>, Refusal> {
        if self.opened.is_some() {
            return Err(Refusal::new(
                "opened-twice",
                "the site is open already; open another one",
            ));
        }
        if opened.site != self.id {
            return Err(Refusal::new(
                "another-site",
                format!("this body opens site {}, not {}", opened.site, self.id),
            ));
        }
        for (name, text) in [
            ("name", &opened.name),
            ("level_datum", &opened.level_datum),
            ("bench_mark", &opened.bench_mark),
        ] {
            if text.trim().is_empty() {
                return Err(Refusal::new("blank", format!("{name} is blank; a site needs it")));
            }
        }
        if let Some(code) = opened.epsg {
            survey::epsg::projected_crs(code).map_err(|e| Refusal::new("grid", e.to_string()))?;
        }
        for (name, reach) in [
            ("reach_m", &opened.reach_m),
            ("level_reach_m", &opened.level_reach_m),
        ] {
            if reach.to_f64() <= 0.0 {
                return Err(Refusal::new(
                    "reach",
                    format!("{name} is {reach}; it must be more than 0"),
                ));
            }
        }
        self.opened = Some(opened.clone());
        Ok(Vec::new())
    }

    /// Returns the standing state of a control point.
    pub fn control_point(&self, name: &str) -> Option<&ControlPoint> {
        self.control.get(name).and_then(|states| states.last())
    }

    /// Returns the head as `n:hex`.
    pub fn head_text(&self) -> String {
        format!("{}:{}", self.n, chain::hex(&self.head))
    }
}

#[cfg(test)]
pub(crate) mod tests;

#[cfg(test)]
mod anew_tests;

#[cfg(test)]
mod same_point_tests;
#[cfg(test)]
pub(crate) mod station_tests;

#[cfg(test)]
mod suspect_tests;

#[cfg(test)]
mod measured_tests;

#[cfg(test)]
mod detected_tests;

#[cfg(test)]
mod hanging_tests;

//! Acts that need little more than their body: surfaces, searches, withdrawals, notes.

use super::{ActError, Author, NewEntry, Receipt, Register};
use register::body::{
    Act, AreaSearched, DownTo, EntryWithdrawn, NoteAdded, ReleaseWithdrawn, SurfaceRecorded, SurfaceShape,
};
use register::service::Service;
use register::words::{SearchOutcome, SurfaceKind};
use survey::Decimal;
use uuid::Uuid;

/// A surface of one level, or the plane through three or more points.
#[derive(Debug, Clone, PartialEq)]
pub struct SurfaceAsk {
    /// Its name.
    pub name: String,
    /// What it is.
    pub kind: SurfaceKind,
    /// Its entry's id, when the author's device made one: sending it twice then changes nothing.
    pub id: Option<Uuid>,
    /// When it was observed.
    pub observed_at: Option<String>,
    /// One level everywhere.
    pub level_m: Option<Decimal>,
    /// Points of a plane: easting, northing, level.
    pub points: Vec<[Decimal; 3]>,
    /// The ring within which it holds, easting, northing; everywhere when none is given.
    pub within: Option<Vec<[Decimal; 2]>>,
    /// Standard deviation of its level.
    pub sigma_v_mm: Option<Decimal>,
}

/// Where somebody looked.
#[derive(Debug, Clone, PartialEq)]
pub struct SearchAsk {
    /// Its name.
    pub area: String,
    /// The ring, easting, northing.
    pub ring: Vec<[Decimal; 2]>,
    /// The services looked for; `None` is all of them.
    pub services: Option<Vec<Service>>,
    /// How it was searched.
    pub method: String,
    /// How deep below which surface.
    pub depth_m: Option<Decimal>,
    /// That surface.
    pub surface: Option<String>,
    /// Or down to which level.
    pub level_m: Option<Decimal>,
    /// How it ended.
    pub outcome: SearchOutcome,
    /// Standard deviation of the ring.
    pub sigma_h_mm: Option<Decimal>,
    /// Its entry's id, when the author's device made one.
    pub id: Option<Uuid>,
    /// When.
    pub observed_at: Option<String>,
}

impl Register {
    /// Records a surface of one level or of a plane.
    ///
    /// # Errors
    /// Neither or both of level and points; points that make no plane.
    pub fn record_surface(&self, site: Uuid, ask: SurfaceAsk, author: &Author) -> Result<Receipt, ActError> {
        let shape = match (ask.level_m, ask.points.is_empty()) {
            (Some(level_m), true) => SurfaceShape::Level { level_m },
            (None, false) => SurfaceShape::Plane { points: ask.points },
            (Some(_), false) => {
                return Err(ActError::asked(
                    "surface",
                    "both a level and points are given; give one",
                ));
            }
            (None, true) => {
                let says = "neither a level nor points are given; give level_m, or three or more points";
                return Err(ActError::asked("surface", says));
            }
        };
        let act = Act::SurfaceRecorded(SurfaceRecorded {
            surface: ask.name.trim().to_owned(),
            surface_kind: ask.kind,
            shape,
            sigma_v_mm: ask.sigma_v_mm,
            within: ask.within,
            import: None,
        });
        let entry = NewEntry {
            act,
            id: ask.id,
            observed_at: ask.observed_at,
        };
        self.append(site, author, vec![entry])
    }

    /// Records where somebody looked.
    ///
    /// # Errors
    /// Nothing that says how deep, or two things that do; a ring that is none.
    pub fn record_search(&self, site: Uuid, ask: SearchAsk, author: &Author) -> Result<Receipt, ActError> {
        let refuse = |says: &str| {
            Err(ActError::asked(
                "searched",
                format!("searched area {}: {says}", ask.area),
            ))
        };
        let down_to = match (ask.depth_m, ask.surface, ask.level_m) {
            (Some(depth_m), Some(surface), None) => DownTo::Depth { depth_m, surface },
            (None, _, Some(level_m)) => DownTo::Level { level_m },
            (Some(_), None, None) => return refuse("a depth needs the surface it is below; name it"),
            (Some(_), _, Some(_)) => return refuse("both a depth and a level are given; give one"),
            (None, _, None) => {
                return refuse("nothing says how deep; give depth_m with a surface, or level_m");
            }
        };
        if ask.area.trim().is_empty() {
            return refuse("it has no name; give it one");
        }
        if ask.method.trim().is_empty() {
            return refuse("nothing says how it was searched; give the method");
        }
        let act = Act::AreaSearched(AreaSearched {
            area: ask.area.trim().to_owned(),
            ring: ask.ring,
            services: ask.services,
            method: ask.method.trim().to_owned(),
            down_to,
            outcome: ask.outcome,
            sigma_h_mm: ask.sigma_h_mm,
            import: None,
        });
        let entry = NewEntry {
            act,
            id: ask.id,
            observed_at: ask.observed_at,
        };
        self.append(site, author, vec![entry])
    }

    /// Takes an entry back, with the reason; it stays readable.
    ///
    /// # Errors
    /// No such entry, no reason, or something that hangs on it.
    pub fn withdraw(
        &self,
        site: Uuid,
        entry: &str,
        reason: &str,
        author: &Author,
        id: Option<Uuid>,
    ) -> Result<Receipt, ActError> {
        let entry = self.entry_id(site, entry)?;
        let reason = reason.trim().to_owned();
        let is_release = self
            .site(site)?
            .releases
            .iter()
            .any(|release| release.id == entry);
        let act = if is_release {
            Act::ReleaseWithdrawn(ReleaseWithdrawn {
                release: entry,
                reason,
            })
        } else {
            Act::EntryWithdrawn(EntryWithdrawn { entry, reason })
        };
        self.append(site, author, vec![NewEntry { id, ..act.into() }])
    }

    /// Writes a remark in the book.
    ///
    /// # Errors
    /// A blank remark.
    pub fn note(
        &self,
        site: Uuid,
        text: &str,
        about: Option<&str>,
        author: &Author,
        id: Option<Uuid>,
    ) -> Result<Receipt, ActError> {
        let text = text.trim();
        if text.is_empty() {
            return Err(ActError::asked("blank", "the note is blank; write something"));
        }
        let about = about
            .map(|about| about.trim().to_owned())
            .filter(|about| !about.is_empty());
        let act = Act::NoteAdded(NoteAdded {
            about,
            text: text.to_owned(),
        });
        self.append(site, author, vec![NewEntry { id, ..act.into() }])
    }
}

//! What a site looks like: its state, its plan, its runs, its book.

use super::people::Names;
use super::{ActError, Register, fold, head_of};
use register::screens::entry_view;
use register::view::{CoverAnswer, JournalView, RunCard, SiteMap, SiteView};
use uuid::Uuid;

/// Most entries shown at once.
pub const MOST_ENTRIES: u64 = 1000;

impl Register {
    /// Returns a site as it stands.
    pub fn site_view(&self, site: Uuid) -> Result<SiteView, ActError> {
        Ok(self.site(site)?.site_view())
    }

    /// Returns what the plan draws.
    pub fn map(&self, site: Uuid) -> Result<SiteMap, ActError> {
        Ok(self.site(site)?.map_view()?)
    }

    /// Returns one run, whole.
    pub fn run_card(&self, site: Uuid, run: &str, surface: Option<&str>) -> Result<RunCard, ActError> {
        let names = Names::of(self.store.as_ref());
        Ok(self.site(site)?.run_card(run, surface, &|id| names.name(id))?)
    }

    /// Checks cover, fall and completeness.
    pub fn cover(
        &self,
        site: Uuid,
        surface: Option<&str>,
        run: Option<&str>,
    ) -> Result<CoverAnswer, ActError> {
        Ok(self.site(site)?.check_cover(surface, run)?)
    }

    /// Returns up to `limit` entries before number `before`, newest first.
    pub fn journal(&self, id: Uuid, before: Option<u64>, limit: u64) -> Result<JournalView, ActError> {
        let site = self.site(id)?;
        let names = Names::of(self.store.as_ref());
        let limit = limit.clamp(1, MOST_ENTRIES);
        let end = before.unwrap_or(u64::MAX).min(site.n + 1).max(1);
        let first = end.saturating_sub(limit).max(1);
        let rows = match end - first {
            0 => Vec::new(),
            count => self.store.entries(id.into_bytes(), first, count as usize)?,
        };
        let mut entries = Vec::with_capacity(rows.len());
        for row in rows.iter().rev() {
            let entry = fold::entry_without_files(row);
            entries.push(entry_view(&site, &entry, &row.body, &|id| names.name(id)));
        }
        Ok(JournalView {
            format: "coverbook.journal/1".into(),
            head: head_of(&site),
            entries,
        })
    }

    /// Returns the id of an entry given by number or by id.
    ///
    /// # Errors
    /// No entry of that number.
    pub fn entry_id(&self, site: Uuid, given: &str) -> Result<Uuid, ActError> {
        if let Ok(id) = given.parse::<Uuid>() {
            return Ok(id);
        }
        let number = given.trim().parse::<u64>().map_err(|error| {
            ActError::asked(
                "entry",
                format!("{given:?} is neither an entry's number nor its id ({error})"),
            )
        })?;
        let row = self
            .store
            .entries(site.into_bytes(), number.max(1), 1)?
            .into_iter()
            .next();
        match row.filter(|row| row.n == number) {
            Some(row) => Ok(Uuid::from_bytes(row.entry_id)),
            None => Err(ActError::NotThere(format!("the book has no entry {number}"))),
        }
    }

    /// Returns the entry that laid a run's newest revision, as an amendment must have seen it, and the run as laid.
    pub fn run_as_laid(&self, site: Uuid, run: &str) -> Result<(u64, register::body::RunLaid), ActError> {
        let site = self.site(site)?;
        let found = site.runs.get(run).ok_or_else(|| {
            ActError::NotThere(format!("{run}: no run of that name is recorded; check the name"))
        })?;
        Ok((found.revision(), found.laid.clone()))
    }

    /// Returns every measured point and every run, as recorded, in order of entry.
    pub(crate) fn points_and_runs(
        &self,
        id: Uuid,
    ) -> Result<(Vec<register::body::PointRow>, Vec<register::body::RunLaid>), ActError> {
        let site = self.site(id)?;
        let mut points: Vec<_> = site.points.values().collect();
        points.sort_by(|a, b| (a.entry, a.row.row, &a.row.point).cmp(&(b.entry, b.row.row, &b.row.point)));
        let points = points.into_iter().map(|p| p.row.clone()).collect();
        Ok((points, site.runs.values().map(|run| run.laid.clone()).collect()))
    }
}

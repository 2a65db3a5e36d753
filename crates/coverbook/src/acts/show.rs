//! What a site looks like: its state, its plan, its runs, its book.

use super::people::Names;
use super::{ActError, Register, fold};
use register::body::{PointRow, RunLaid};
use register::screens::entry_view;
use register::site::{Frame, Point, Run};
use register::view::{CoverAnswer, JournalView, RunCard, SeparationAnswer, SiteMap, SiteView};
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

    /// Checks cover, fall, separation and completeness.
    pub fn cover(
        &self,
        site: Uuid,
        surface: Option<&str>,
        run: Option<&str>,
    ) -> Result<CoverAnswer, ActError> {
        Ok(self.site(site)?.check_cover(surface, run)?)
    }

    /// Checks how far one run lies from the others: from memory where a server holds the runs there.
    pub fn separation(&self, id: Uuid, run: &str) -> Result<SeparationAnswer, ActError> {
        let Some((site, near)) = self.at_hand(id)? else {
            return Ok(self.site(id)?.check_separation(run, None)?);
        };
        let mut others = Vec::new();
        for within in site.separation_boxes(run)? {
            others.extend(near.within(&within));
        }
        Ok(site.check_separation(run, Some(&others))?)
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
            head: site.head_view(),
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

    /// Returns every measured point and every run as digs use them, in order of entry.
    ///
    /// What was reckoned from readings or taken from a level book stands in place of what was written; a run that is
    /// not simply in use says so in its note.
    pub(crate) fn points_and_runs(
        &self,
        id: Uuid,
    ) -> Result<(Vec<register::body::PointRow>, Vec<register::body::RunLaid>), ActError> {
        let site = self.site(id)?;
        let mut points: Vec<_> = site.points.values().collect();
        points.sort_by(|a, b| (a.entry, a.row.row, &a.row.point).cmp(&(b.entry, b.row.row, &b.row.point)));
        let frame = site.frame()?;
        let points = points
            .into_iter()
            .map(|point| as_used(point, &frame))
            .collect::<Result<_, _>>()?;
        Ok((points, site.runs.values().map(as_standing).collect()))
    }
}

fn as_used(point: &Point, frame: &Frame) -> Result<PointRow, ActError> {
    let mut row = point.row.clone();
    let written = frame.local(&row.easting_m, &row.northing_m, &row.level_m);
    let decimal = |value: f64, places: usize| {
        let text = format!("{value:.places$}");
        text.parse().map_err(|e| ActError::Fault(format!("{text}: {e}")))
    };
    let at = frame.grid(point.placed.at);
    // Digit for digit where nothing was reckoned.
    if (point.placed.at - written).norm() > 0.0 {
        row.easting_m = decimal(at.x, 4)?;
        row.northing_m = decimal(at.y, 4)?;
        row.level_m = decimal(at.z, 4)?;
    }
    if row.measured.is_some() || point.placed.at.z != written.z {
        let sigma = |metres: Option<f64>| metres.map(|m| decimal(m * 1000.0, 2)).transpose();
        row.sigma_h_mm = sigma(point.placed.sigma_h_m)?;
        row.sigma_v_mm = sigma(point.placed.sigma_v_m)?;
    }
    row.known = point.placed.known;
    if !point.placed.doubts.is_empty() {
        let doubts = point.placed.doubts.join("; ");
        row.note = Some(
            row.note
                .map_or(doubts.clone(), |note| format!("{note}; {doubts}")),
        );
    }
    Ok(row)
}

fn as_standing(run: &Run) -> RunLaid {
    let mut laid = run.laid.clone();
    let mut says: Vec<String> = laid.note.take().into_iter().collect();
    if let Some((retired, n)) = &run.retired {
        says.push(format!("{} by entry {n}: {}", retired.how, retired.reason));
    }
    says.extend(run.held.iter().filter_map(|held| {
        held.record
            .status_says
            .as_ref()
            .map(|s| format!("{}: {s}", held.record.key))
    }));
    laid.note = (!says.is_empty()).then(|| says.join("; "));
    laid
}

//! Points by their readings: tried and shown, then recorded; what a file of them would record.

use super::append::NewEntry;
use super::import::{ImportAsk, ImportKind, derived_id, doubt, refuse};
use super::{ActError, Author, Receipt, Register, clock};
use exchange::{ReadOptions, TapedKind};
use register::body::{Act, MeasuredFrom, PointRow, PointsRecorded};
use register::site::{Refusal, Site};
use register::view::{FindingView, ImportPreview, Near, PointCard, PreviewPoint};
use register::words::{Fitting, Known, SurfaceKind, Touched};
use serde::{Deserialize, Serialize};
use survey::Decimal;
use uuid::Uuid;

/// A point by its readings; where it is follows from them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MeasuredPoint {
    /// Its label, unique in the site.
    pub point: String,
    /// What was touched.
    pub touched: Touched,
    /// The readings.
    pub measured: MeasuredFrom,
    /// How it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub known: Option<Known>,
    /// For a side: horizontal direction from the axis to the point touched, degrees from grid north.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side_bearing_deg: Option<Decimal>,
    /// What it is on its run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fitting: Option<Fitting>,
    /// Radius of the bend it belongs to, to the axis.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bend_radius_mm: Option<Decimal>,
    /// The recorded point that this one measures again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub same_as: Option<String>,
    /// A remark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl MeasuredPoint {
    fn row(&self) -> Result<PointRow, ActError> {
        let nought: Decimal = "0"
            .parse()
            .map_err(|e: survey::decimal::DecimalError| ActError::Fault(e.to_string()))?;
        let taped_level = self.measured.level().is_some();
        if !taped_level {
            let says = format!(
                "point {}: nothing says its level, or it is sighted from a station; give measured.level, or import the \
                 observations",
                self.point
            );
            return Err(ActError::asked("level-missing", says));
        }
        Ok(PointRow {
            point: self.point.clone(),
            easting_m: nought.clone(),
            northing_m: nought.clone(),
            level_m: nought,
            touched: self.touched,
            side_bearing_deg: self.side_bearing_deg.clone(),
            sigma_h_mm: None,
            sigma_v_mm: None,
            known: self.known,
            fitting: self.fitting,
            bend_radius_mm: self.bend_radius_mm.clone(),
            observed_at: None,
            note: self.note.clone(),
            same_as: self.same_as.clone(),
            measured: Some(self.measured.clone()),
            row: None,
        })
    }
}

impl Register {
    /// Returns the card of a recorded point.
    ///
    /// # Errors
    /// No point of that label.
    pub fn point_card(&self, site: Uuid, label: &str) -> Result<PointCard, ActError> {
        let site = self.site(site)?;
        if !site.points.contains_key(label) {
            let says = format!("{label}: no point of that label is recorded; check the label");
            return Err(ActError::NotThere(says));
        }
        Ok(site.point_card(label)?)
    }

    /// Reckons points from their readings and shows them; nothing is recorded.
    ///
    /// # Errors
    /// What the record would refuse.
    pub fn try_points(
        &self,
        site: Uuid,
        points: &[MeasuredPoint],
        observed_at: Option<&str>,
    ) -> Result<Vec<PointCard>, ActError> {
        let site = self.site(site)?;
        let at = self.observed(observed_at)?;
        let mut rows = rows_of(points)?;
        let cards = site.try_points(&mut rows, &at).map_err(first)?;
        let trial = super::trial::trial(&site, recorded(rows), at, &Default::default());
        Site::clone(&site).apply(&trial)?;
        Ok(cards)
    }

    /// Records points by their readings.
    ///
    /// # Errors
    /// As [`Register::try_points`]; nothing is recorded then.
    pub fn record_points(
        &self,
        site: Uuid,
        points: &[MeasuredPoint],
        author: &Author,
        id: Option<Uuid>,
        observed_at: Option<String>,
    ) -> Result<Receipt, ActError> {
        let at = self.observed(observed_at.as_deref())?;
        let mut rows = rows_of(points)?;
        let folded = self.site(site)?;
        if id.is_some_and(|id| folded.entries.contains_key(&id)) {
            recall(&folded, &mut rows);
        } else {
            folded.fill_measured(&mut rows, &at).map_err(first)?;
        }
        // Let go of, so that writing need not copy it.
        drop(folded);
        let entry = NewEntry {
            act: recorded(rows),
            id,
            observed_at,
        };
        self.append(site, author, vec![entry])
    }

    /// Returns name and kind of the surface that a text names.
    ///
    /// # Errors
    /// None of that name, or several kinds.
    pub fn surface_named(&self, site: Uuid, text: &str) -> Result<(String, SurfaceKind), ActError> {
        let site = self.site(site)?;
        let surface = site.surface_for(Some(text), None, false);
        surface
            .map(|surface| (surface.name.clone(), surface.kind))
            .map_err(|choice| ActError::asked("surface", choice.says))
    }

    fn observed(&self, given: Option<&str>) -> Result<String, ActError> {
        given.map_or_else(|| Ok(self.now()), clock::observed_at)
    }

    /// Reads a file of points by tape, satellite or detector.
    pub(super) fn draft_taped(
        &self,
        site: &Site,
        bytes: &[u8],
        ask: &ImportAsk,
        options: &ReadOptions,
        read: &mut dyn FnMut(u64),
    ) -> Result<(ImportPreview, Vec<NewEntry>), ActError> {
        let reading = exchange::read_taped(bytes, options, taped_kind(ask.kind), read);
        let mut preview = reading.to_view(ask.kind.slug(), &options.import);
        let Some(mut draft) = reading.draft else {
            return Ok((preview, Vec::new()));
        };
        let at = options.observed_at.clone().unwrap_or_else(|| self.now());
        let first = derived_id(options.import.import_id, 0);
        if ask.import_id.is_some() && site.entries.contains_key(&first) {
            recall(site, &mut draft.points);
        } else {
            match site.try_points(&mut draft.points, &at) {
                Ok(cards) => {
                    for card in &cards {
                        for says in &card.doubts {
                            let row = draft
                                .points
                                .iter()
                                .find(|p| p.point == card.point)
                                .and_then(|p| p.row);
                            let says = format!("{}: {says}", card.point);
                            preview.add(FindingView {
                                row,
                                ..doubt("measured", &ask.file, &says)
                            });
                        }
                    }
                }
                Err(refusals) => {
                    refuse(&mut preview, refusals);
                    return Ok((preview, Vec::new()));
                }
            }
        }
        let at = |row: &PointRow| [&row.easting_m, &row.northing_m, &row.level_m].map(|d| Near(d.to_f64()));
        for row in draft.points.iter().take(exchange::PREVIEW_POINTS) {
            preview.points.push(PreviewPoint {
                point: row.point.clone(),
                at: at(row),
                row: row.row.unwrap_or(0),
                touched: Some(row.touched.slug().into()),
                run: None,
            });
        }
        let corner = |pick: fn(f64, f64) -> f64| {
            let all = draft.points.iter().map(|row| at(row).map(|near| near.0));
            let corner = all.reduce(|a, b| std::array::from_fn(|axis| pick(a[axis], b[axis])))?;
            Some(corner.map(Near))
        };
        (preview.min, preview.max) = (corner(f64::min), corner(f64::max));
        let entries = exchange::split_points(draft)
            .into_iter()
            .map(NewEntry::from)
            .collect();
        Ok((preview, entries))
    }
}

fn taped_kind(kind: ImportKind) -> TapedKind {
    match kind {
        ImportKind::Offsets => TapedKind::Offsets,
        ImportKind::Satellite => TapedKind::Satellite,
        ImportKind::Detected => TapedKind::Detected,
        _ => TapedKind::Ties,
    }
}

fn rows_of(points: &[MeasuredPoint]) -> Result<Vec<PointRow>, ActError> {
    if points.is_empty() {
        return Err(ActError::asked(
            "no-points",
            "there is no point; give at least one",
        ));
    }
    points.iter().map(MeasuredPoint::row).collect()
}

fn recorded(points: Vec<PointRow>) -> Act {
    Act::PointsRecorded(PointsRecorded {
        import: None,
        points,
        checks: Vec::new(),
    })
}

fn first(refusals: Vec<Refusal>) -> ActError {
    match refusals.into_iter().next() {
        Some(refusal) => refusal.into(),
        None => ActError::Fault("points were refused and nothing says why".into()),
    }
}

/// Fills in positions as they were recorded, for what is sent again: what they hang on may have moved since.
fn recall(site: &Site, rows: &mut [PointRow]) {
    for row in rows {
        let there = site.points.get(&row.point).map(|point| &point.row);
        if let Some(there) = there.filter(|there| there.measured == row.measured) {
            row.easting_m = there.easting_m.clone();
            row.northing_m = there.northing_m.clone();
            row.level_m = there.level_m.clone();
            row.sigma_h_mm = there.sigma_h_mm.clone();
            row.sigma_v_mm = there.sigma_v_mm.clone();
        }
    }
}

//! Imports: a file read, tried on a copy of the site, shown, and only then recorded.

use super::append::{NewEntry, Writing};
use super::measured::{MeasuredAsk, draft_levels};
use super::trial::trial;
use super::{ActError, Author, Register, clock};
use exchange::{KnownPoint, ReadOptions, Reading, SiteFrame, Stated, SurfaceDraft};
use register::body::{Act, FileAttached, ImportRef, SurfaceRecorded, SurfaceShape};
use register::chain;
use register::entry::Attached;
use register::site::{Refusal, Site};
use register::view::{FindingView, ImportPreview, Severity};
use register::words::SurfaceKind;
use std::sync::Arc;
use survey::LengthUnit;
use uuid::Uuid;

/// What a file is read as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "names say it")]
pub enum ImportKind {
    Points,
    Control,
    Surface,
    Runs,
    Searched,
    Expected,
    Observations,
    Levels,
    Ties,
    Offsets,
    Satellite,
    Detected,
}

impl ImportKind {
    /// Every kind.
    pub const ALL: [ImportKind; 12] = [
        ImportKind::Points,
        ImportKind::Control,
        ImportKind::Surface,
        ImportKind::Runs,
        ImportKind::Searched,
        ImportKind::Expected,
        ImportKind::Observations,
        ImportKind::Levels,
        ImportKind::Ties,
        ImportKind::Offsets,
        ImportKind::Satellite,
        ImportKind::Detected,
    ];

    /// Returns the word for it.
    pub fn slug(self) -> &'static str {
        match self {
            ImportKind::Points => "points",
            ImportKind::Control => "control",
            ImportKind::Surface => "surface",
            ImportKind::Runs => "runs",
            ImportKind::Searched => "searched",
            ImportKind::Expected => "expected",
            ImportKind::Observations => "observations",
            ImportKind::Levels => "levels",
            ImportKind::Ties => "ties",
            ImportKind::Offsets => "offsets",
            ImportKind::Satellite => "satellite",
            ImportKind::Detected => "detected",
        }
    }

    /// Returns the kind of that name.
    ///
    /// # Errors
    /// None has it.
    pub fn named(name: &str) -> Result<ImportKind, ActError> {
        let wanted = name.trim().to_ascii_lowercase();
        ImportKind::ALL
            .into_iter()
            .find(|kind| kind.slug() == wanted)
            .ok_or_else(|| {
                let known: Vec<_> = ImportKind::ALL.iter().map(|kind| kind.slug()).collect();
                ActError::asked(
                    "import-kind",
                    format!("{name:?} is no kind of file; choose one of {}", known.join(", ")),
                )
            })
    }
}

/// Returns the unit of a sign: m, mm, in, ft or usft, in any case.
pub fn unit_of(sign: &str) -> Option<LengthUnit> {
    let all = [
        LengthUnit::Metre,
        LengthUnit::Millimetre,
        LengthUnit::Inch,
        LengthUnit::InternationalFoot,
        LengthUnit::UsSurveyFoot,
    ];
    let wanted = sign.trim().to_ascii_lowercase();
    all.into_iter().find(|unit| unit.symbol() == wanted)
}

/// What a person says about a file.
#[derive(Debug, Clone)]
pub struct ImportAsk {
    /// What it is read as.
    pub kind: ImportKind,
    /// Its name.
    pub file: String,
    /// Columns of a headerless file.
    pub order: Option<Vec<String>>,
    /// Unit of columns without a suffix.
    pub unit: Option<LengthUnit>,
    /// What holds for all rows.
    pub stated: Stated,
    /// Put before every label.
    pub prefix: Option<String>,
    /// When it was observed.
    pub observed_at: Option<String>,
    /// Name of the surface.
    pub surface_name: Option<String>,
    /// What the surface is.
    pub surface_kind: Option<SurfaceKind>,
    /// What is said of a set-up or a level book.
    pub measured: MeasuredAsk,
    /// An id by which sending the same import twice changes nothing.
    pub import_id: Option<Uuid>,
}

impl ImportAsk {
    /// Says nothing about a file but what it is.
    pub fn new(kind: ImportKind, file: impl Into<String>) -> ImportAsk {
        ImportAsk {
            kind,
            file: file.into(),
            order: None,
            unit: None,
            stated: Stated::default(),
            prefix: None,
            observed_at: None,
            surface_name: None,
            surface_kind: None,
            measured: MeasuredAsk::default(),
            import_id: None,
        }
    }
}

/// How far an import is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ImportProgress {
    /// Bytes read.
    Reading(u64),
    /// Being tried and written.
    Writing,
}

/// What a file would record.
struct Drafted {
    preview: ImportPreview,
    entries: Vec<NewEntry>,
    attached: Attached,
}

impl Register {
    /// Reads a file and says what recording it would do; nothing is recorded.
    ///
    /// # Errors
    /// A site that cannot be read. What is wrong with the file is in the preview.
    pub fn preview_import(
        &self,
        id: Uuid,
        bytes: &[u8],
        ask: &ImportAsk,
        progress: &mut dyn FnMut(ImportProgress),
    ) -> Result<ImportPreview, ActError> {
        let site = self.writable(id)?;
        let Drafted {
            mut preview,
            entries,
            attached,
        } = self.draft(&site, bytes, ask, progress)?;
        if preview.accepted {
            progress(ImportProgress::Writing);
            let refusals = try_on(&site, &entries, &attached, &self.now());
            refuse(&mut preview, refusals);
        }
        Ok(preview)
    }

    /// Reads a file and records it: all of it, or nothing when anything in it is refused.
    ///
    /// # Errors
    /// As [`Register::preview_import`]; a store that cannot take it. A file that is refused comes back as a preview
    /// that is not accepted.
    pub fn import(
        &self,
        id: Uuid,
        bytes: &[u8],
        ask: &ImportAsk,
        author: &Author,
        progress: &mut dyn FnMut(ImportProgress),
    ) -> Result<ImportPreview, ActError> {
        let site = self.writable(id)?;
        let Drafted {
            mut preview,
            entries,
            attached,
        } = self.draft(&site, bytes, ask, progress)?;
        if !preview.accepted {
            return Ok(preview);
        }
        let import_id = import_id_of(&entries);
        // Let go of, so that writing need not copy it.
        drop(site);
        progress(ImportProgress::Writing);
        let writing = Writing {
            entries,
            files: vec![bytes.into()],
            attached,
        };
        match self.write(id, author, writing) {
            Ok(receipt) => {
                let rows = preview.rows;
                preview.import_id = import_id.map(|id| id.to_string());
                preview.entries = receipt.entries.len() as u64;
                preview.says = if receipt.was_there {
                    "this import is in the book already; nothing was changed".to_owned()
                } else {
                    format!("{rows} rows recorded in {} entries", preview.entries)
                };
                Ok(preview)
            }
            Err(ActError::Refused { refusal, .. }) => {
                // Read again and tried on a copy, so that everything that stands against it is told at once.
                let site = self.site(id)?;
                let Drafted {
                    entries, attached, ..
                } = self.draft(&site, bytes, ask, progress)?;
                let mut refusals = try_on(&site, &entries, &attached, &self.now());
                if refusals.is_empty() {
                    refusals.push(refusal);
                }
                refuse(&mut preview, refusals);
                Ok(preview)
            }
            Err(error) => Err(error),
        }
    }

    fn writable(&self, id: Uuid) -> Result<Arc<Site>, ActError> {
        let site = self.site(id)?;
        site.writable()?;
        Ok(site)
    }

    fn draft(
        &self,
        site: &Site,
        bytes: &[u8],
        ask: &ImportAsk,
        progress: &mut dyn FnMut(ImportProgress),
    ) -> Result<Drafted, ActError> {
        let import = ImportRef {
            import_id: ask.import_id.unwrap_or_else(Uuid::now_v7),
            file: ask.file.clone(),
            sha256: chain::sha256_hex(bytes),
        };
        let observed_at = ask.observed_at.as_deref().map(clock::observed_at).transpose()?;
        let options = self.options(site, ask, &import, observed_at.clone())?;
        let mut read = |done: u64| progress(ImportProgress::Reading(done));
        let kind = ask.kind.slug();
        let mut attached = Attached::new();
        let (mut preview, mut entries): (ImportPreview, Vec<NewEntry>) = match ask.kind {
            ImportKind::Points | ImportKind::Runs => {
                let reading = exchange::read_points(bytes, &options, &mut read);
                let mut preview = reading.to_view(kind, &import);
                let draft = reading.draft;
                if ask.kind == ImportKind::Runs && draft.as_ref().is_some_and(|draft| draft.runs.is_empty()) {
                    let says = "no row names a run; fill the run column, or import the file as points";
                    preview.add(refusal("no-run", &ask.file, None, says));
                }
                if draft
                    .as_ref()
                    .is_some_and(|d| d.points.iter().any(|p| p.observed_at.is_none()))
                {
                    note_time(&mut preview, ask, &observed_at);
                }
                (preview, plain(draft.map(exchange::split_points)))
            }
            ImportKind::Control => {
                let reading = exchange::read_control(bytes, &options, &mut read);
                (
                    reading.to_view(kind, &import),
                    plain(reading.draft.map(exchange::split_control)),
                )
            }
            ImportKind::Expected => {
                let reading = exchange::read_expected(bytes, &options, &mut read);
                (
                    reading.to_view(kind, &import),
                    plain(reading.draft.map(exchange::split_expected)),
                )
            }
            ImportKind::Searched => {
                let reading = exchange::read_searched(bytes, &options, &mut read);
                let mut preview = reading.to_view(kind, &import);
                let mut entries = Vec::new();
                for area in reading.draft.map(|draft| draft.areas).unwrap_or_default() {
                    if area.observed_at.is_none() {
                        let says = format!(
                            "area {} does not say when it was searched; fill observed_at, or say it with the import",
                            area.searched.area
                        );
                        preview.add(refusal("value-missing", &ask.file, Some(area.row), &says));
                    }
                    entries.push(NewEntry {
                        act: Act::AreaSearched(area.searched),
                        id: None,
                        observed_at: area.observed_at,
                    });
                }
                (preview, entries)
            }
            ImportKind::Observations => self.draft_observations(site, bytes, ask, &options, &mut read)?,
            ImportKind::Levels => draft_levels(bytes, ask, &options, &mut read)?,
            ImportKind::Ties | ImportKind::Offsets | ImportKind::Satellite | ImportKind::Detected => {
                let (mut preview, entries) = self.draft_taped(site, bytes, ask, &options, &mut read)?;
                note_time(&mut preview, ask, &observed_at);
                (preview, entries)
            }
            ImportKind::Surface => {
                let reading = exchange::read_surface(bytes, &options, &mut read);
                self.draft_surface(reading, ask, &import, &mut attached)?
            }
        };
        for entry in &mut entries {
            entry.observed_at = entry.observed_at.take().or_else(|| observed_at.clone());
        }
        let has_file = entries.iter().any(|entry| import_of(&entry.act).is_some());
        if !entries.is_empty() && !has_file {
            entries.push(NewEntry::from(Act::FileAttached(FileAttached {
                file: ask.file.clone(),
                sha256: import.sha256.clone(),
                bytes: bytes.len() as u64,
                about: format!("import {}", import.import_id),
            })));
        }
        if ask.import_id.is_some() {
            for (at, entry) in entries.iter_mut().enumerate() {
                entry.id = Some(derived_id(import.import_id, at));
            }
        }
        if preview.order_needed {
            // A proposal stands in the finding; a column is read as nothing until a person has said so.
            for column in &mut preview.columns {
                column.read_as = None;
            }
        }
        Ok(Drafted {
            preview,
            entries,
            attached,
        })
    }

    fn options(
        &self,
        site: &Site,
        ask: &ImportAsk,
        import: &ImportRef,
        observed_at: Option<String>,
    ) -> Result<ReadOptions, ActError> {
        let frame = site.frame()?;
        let frame = SiteFrame {
            near_easting_m: frame.origin.x,
            near_northing_m: frame.origin.y,
            near_level_m: frame.near_level_m,
            reach_m: frame.reach_m,
            level_reach_m: frame.level_reach_m,
        };
        let mut options = ReadOptions::new(ask.file.clone(), frame, import.clone());
        options.order = ask.order.clone();
        options.unit = ask.unit;
        options.stated = ask.stated.clone();
        options.prefix = ask.prefix.clone();
        options.observed_at = observed_at;
        options.control = site
            .control
            .values()
            .filter_map(|states| states.last())
            .map(|control| KnownPoint {
                point: control.row.point.clone(),
                easting_m: control.row.easting_m.to_f64(),
                northing_m: control.row.northing_m.to_f64(),
            })
            .collect();
        for surface in &site.surfaces {
            let named = (surface.name.clone(), surface.kind);
            if !options.surfaces.contains(&named) {
                options.surfaces.push(named);
            }
        }
        Ok(options)
    }

    fn draft_surface(
        &self,
        reading: Reading<SurfaceDraft>,
        ask: &ImportAsk,
        import: &ImportRef,
        attached: &mut Attached,
    ) -> Result<(ImportPreview, Vec<NewEntry>), ActError> {
        let mut preview = reading.to_view(ask.kind.slug(), import);
        let Some(draft) = reading.draft else {
            return Ok((preview, Vec::new()));
        };
        let name = ask
            .surface_name
            .as_deref()
            .map(str::trim)
            .filter(|name| !name.is_empty());
        for (is_missing, says) in [
            (
                name.is_none(),
                "the surface has no name yet; name it, since every depth is given below one",
            ),
            (
                ask.surface_kind.is_none(),
                "nothing says what the surface is; say existing, stripped, formation, finished-design or finished-built",
            ),
            (
                ask.observed_at.is_none(),
                "nothing says when the surface was observed; give observed_at",
            ),
        ] {
            if is_missing {
                preview.add(refusal("surface-not-said", &ask.file, None, says));
            }
        }
        let (Some(name), Some(surface_kind)) = (name, ask.surface_kind) else {
            return Ok((preview, Vec::new()));
        };
        let blob = serde_json::to_vec(&draft.blob).map_err(|e| ActError::Fault(e.to_string()))?;
        let sha256 = chain::sha256_hex(&blob);
        let points = draft.blob.points.len() as u64;
        attached.insert(sha256.clone(), blob.into());
        let act = Act::SurfaceRecorded(SurfaceRecorded {
            surface: name.to_owned(),
            surface_kind,
            shape: SurfaceShape::Tin { sha256, points },
            sigma_v_mm: draft.sigma_v_mm,
            within: None,
            import: Some(draft.import),
        });
        Ok((preview, vec![act.into()]))
    }
}

/// Applies the entries to a copy of the site and returns everything that is refused.
fn try_on(site: &Site, entries: &[NewEntry], attached: &Attached, now: &str) -> Vec<Refusal> {
    let mut copy = site.clone();
    let mut refusals = Vec::new();
    let mut points_missing = false;
    for entry in entries {
        if let Act::PointsRecorded(recorded) = &entry.act {
            let before = refusals.len();
            refusals.extend(copy.taken(&recorded.points));
            points_missing |= refusals.len() > before;
        }
        // Runs through points that were refused would only repeat it.
        if points_missing && matches!(entry.act, Act::RunLaid(_) | Act::PointsRecorded(_)) {
            continue;
        }
        let is_points = matches!(entry.act, Act::PointsRecorded(_) | Act::StationSet(_));
        let observed_at = entry.observed_at.as_deref().unwrap_or(now).to_owned();
        let tried = trial(&copy, entry.act.clone(), observed_at, attached);
        if let Err(refusal) = copy.apply(&tried) {
            points_missing |= is_points;
            refusals.push(refusal);
        }
    }
    refusals
}

fn plain(acts: Option<Vec<Act>>) -> Vec<NewEntry> {
    acts.unwrap_or_default().into_iter().map(NewEntry::from).collect()
}

pub(super) fn refusal(code: &str, file: &str, row: Option<u64>, says: &str) -> FindingView {
    FindingView {
        code: code.to_owned(),
        severity: Severity::Refusal,
        file: file.to_owned(),
        row,
        column: None,
        says: says.to_owned(),
    }
}

pub(super) fn doubt(code: &str, file: &str, says: &str) -> FindingView {
    FindingView {
        severity: Severity::Doubt,
        ..refusal(code, file, None, says)
    }
}

pub(super) fn refuse(preview: &mut ImportPreview, refusals: Vec<Refusal>) {
    let file = preview.file.clone();
    for refused in refusals {
        preview.add(FindingView {
            // A row of points is refused for its label.
            column: (refused.code == "label-taken").then(|| "point".to_owned()),
            ..refusal(refused.code, &file, refused.row, &refused.says)
        });
    }
}

fn note_time(preview: &mut ImportPreview, ask: &ImportAsk, observed_at: &Option<String>) {
    if observed_at.is_none() && preview.accepted {
        let says = "some rows do not say when they were measured; they will carry the time of recording";
        preview.add(FindingView {
            column: Some("observed_at".into()),
            ..doubt("time-not-said", &ask.file, says)
        });
    }
}

fn import_of(act: &Act) -> Option<&ImportRef> {
    match act {
        Act::PointsRecorded(of) => of.import.as_ref(),
        Act::ControlRecorded(of) => of.import.as_ref(),
        Act::RunsExpected(of) => of.import.as_ref(),
        Act::SurfaceRecorded(of) => of.import.as_ref(),
        Act::AreaSearched(of) => of.import.as_ref(),
        Act::StationSet(of) => of.import.as_ref(),
        Act::LevelsBooked(of) => of.import.as_ref(),
        _ => None,
    }
}

fn import_id_of(entries: &[NewEntry]) -> Option<Uuid> {
    entries
        .iter()
        .find_map(|entry| import_of(&entry.act))
        .map(|import| import.import_id)
}

/// Makes the id of an import's entry from the import's own: the same time, and the rest from the digest.
pub(super) fn derived_id(import: Uuid, at: usize) -> Uuid {
    let digest = chain::sha256(format!("{import} {at}").as_bytes());
    let mut bytes = import.into_bytes();
    bytes[6..].copy_from_slice(&digest[..10]);
    uuid::Builder::from_bytes(bytes)
        .with_variant(uuid::Variant::RFC4122)
        .with_version(uuid::Version::SortRand)
        .into_uuid()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked out beside it with another program's SHA-256, and set together by hand after RFC 9562, section 5.7.
    #[test]
    fn the_ids_of_an_imports_entries_do_not_change_from_one_version_to_the_next() {
        let import = Uuid::parse_str("01900000-1234-7abc-8def-0123456789ab").unwrap();
        assert_eq!(
            derived_id(import, 0).to_string(),
            "01900000-1234-7624-b73b-dbd284b9dd8d"
        );
        assert_eq!(
            derived_id(import, 41).to_string(),
            "01900000-1234-74c1-afbf-157054483f0a"
        );
    }
}

//! Surfaces in the fold, and the choice of the one that answers.

use super::{Change, Frame, Refusal, Site};
use crate::body::{Body, SurfaceRecorded, SurfaceShape, TinBlob};
use crate::entry::Entry;
use crate::time::{date_of, earlier_first};
use crate::words::SurfaceKind;
use ground::domain::Domain;
use ground::surface::Surface;
use ground::{Vec2, Vec3};
use std::cmp::Ordering;
use std::sync::Arc;
use survey::Decimal;

/// A surface as at a date.
#[derive(Debug, Clone)]
pub struct RecordedSurface {
    /// Its name.
    pub name: String,
    /// What it is.
    pub kind: SurfaceKind,
    /// When it was observed.
    pub observed_at: String,
    /// The surface in the site frame.
    pub surface: Arc<Surface>,
    /// `level | plane | tin`.
    pub shape: &'static str,
    /// The level, of one flat level.
    pub level_m: Option<f64>,
    /// 95 % of its level anywhere, where it was stated.
    pub u95_m: Option<f64>,
    /// SHA-256 of the points of a triangulation, hexadecimal.
    pub blob: Option<String>,
    /// How many points made it.
    pub points: u64,
    /// Largest residual of a fitted plane.
    pub largest_residual_m: Option<f64>,
    /// The outline of its stated domain, in the site frame.
    pub outline: Vec<Vec2>,
    /// The entry.
    pub entry: u64,
}

impl RecordedSurface {
    /// Returns `NAME, KIND, DATE`, which follows every depth below it.
    pub fn says(&self) -> String {
        format!("{}, {}, {}", self.name, self.kind, date_of(&self.observed_at))
    }
}

/// Why no surface was chosen: the sentence says what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SurfaceChoice {
    /// The sentence.
    pub says: String,
    /// True when a surface was asked for and is not there, or several could be meant: the question is refused.
    pub refused: bool,
}

impl Site {
    /// Returns the surface that answers: the one named, or the only candidate.
    ///
    /// Of several states of one name the newest observed by `as_at` answers. With `for_dig` a design surface
    /// answers only when it is named.
    ///
    /// # Errors
    /// None recorded, several and none named, or none of that name.
    pub fn surface_for(
        &self,
        name: Option<&str>,
        as_at: Option<&str>,
        for_dig: bool,
    ) -> Result<&RecordedSurface, SurfaceChoice> {
        let in_time = |s: &&RecordedSurface| {
            as_at.is_none_or(|at| earlier_first(&s.observed_at, at) != Ordering::Greater)
        };
        let mut candidates: Vec<&RecordedSurface> = Vec::new();
        for surface in self.surfaces.iter().filter(in_time) {
            match candidates
                .iter_mut()
                .find(|c| c.name == surface.name && c.kind == surface.kind)
            {
                None => candidates.push(surface),
                Some(newest) => {
                    let order = earlier_first(&newest.observed_at, &surface.observed_at);
                    if order.then(newest.entry.cmp(&surface.entry)) == Ordering::Less {
                        *newest = surface;
                    }
                }
            }
        }
        let list = |of: &[&RecordedSurface]| of.iter().map(|s| s.says()).collect::<Vec<_>>().join("; ");
        let refused = |says: String| Err(SurfaceChoice { says, refused: true });
        if let Some(name) = name {
            let meant = |s: &&&RecordedSurface| {
                s.name == name || format!("{}, {}", s.name, s.kind) == name || s.says() == name
            };
            let named: Vec<_> = candidates.iter().filter(meant).copied().collect();
            return match named.as_slice() {
                [one] => Ok(one),
                [] => refused(format!(
                    "no surface is named {name:?}; recorded: {}",
                    or_none(list(&candidates))
                )),
                several => refused(format!(
                    "{name:?} names several kinds; write one of: {}",
                    list(several)
                )),
            };
        }
        if for_dig {
            candidates.retain(|s| s.kind != SurfaceKind::FinishedDesign);
        }
        match candidates.as_slice() {
            [one] => Ok(one),
            [] => Err(SurfaceChoice {
                says: if for_dig && !self.surfaces.is_empty() {
                    "only design surfaces are recorded; name one, or record the ground as it is".into()
                } else {
                    "no surface is recorded; record the finished surface first".into()
                },
                refused: false,
            }),
            several => refused(format!(
                "several surfaces could be meant; name one of: {}",
                list(several)
            )),
        }
    }

    pub(super) fn record_surface(
        &mut self,
        recorded: &SurfaceRecorded,
        body: &Body,
        entry: &Entry,
    ) -> Result<Vec<Change>, Refusal> {
        let frame = self.frame()?;
        let refuse = |says: String| Refusal::about("surface", &format!("surface {}", recorded.surface), says);
        if recorded.surface.trim().is_empty() {
            return Err(Refusal::new("blank", "a surface has no name; give it one"));
        }
        let domain = match &recorded.within {
            None => None,
            Some(ring) => {
                let ring: Vec<Vec2> = ring
                    .iter()
                    .map(|[e, n]| frame.local_plan(e.to_f64(), n.to_f64()))
                    .collect();
                Some(Domain::new(&[ring]).map_err(|e| refuse(e.to_string()))?)
            }
        };
        let made = make_surface(recorded, &frame, entry, domain.as_ref()).map_err(refuse)?;
        let u95_m = match recorded.sigma_v_mm.as_ref().map(Decimal::to_f64) {
            Some(mm) if mm > 0.0 => Some(survey::uncertainty::u95_from_sigma(mm / 1000.0)),
            Some(mm) => {
                return Err(refuse(format!(
                    "sigma_v_mm is {mm}; it must be more than 0, or left out"
                )));
            }
            None => None,
        };
        self.surfaces.push(RecordedSurface {
            name: recorded.surface.clone(),
            kind: recorded.surface_kind,
            observed_at: body.observed_at.clone(),
            surface: Arc::new(made.surface),
            shape: made.shape,
            level_m: made.level_m,
            u95_m,
            blob: match &recorded.shape {
                SurfaceShape::Tin { sha256, .. } => Some(sha256.clone()),
                SurfaceShape::Level { .. } | SurfaceShape::Plane { .. } => None,
            },
            points: made.points,
            largest_residual_m: made.largest_residual_m,
            outline: domain
                .and_then(|d| d.rings().first().cloned())
                .or(made.outline)
                .unwrap_or_default(),
            entry: entry.n,
        });
        // Depths taken while this state stood are levels below it from now on; others stay as they are.
        let mut below = self.below_surface(&recorded.surface, recorded.surface_kind);
        below.retain(|label| {
            let day = self.points.get(label).map_or("", |point| point.observed_at());
            let state = self.surface_on_day(&recorded.surface, recorded.surface_kind, day);
            state.is_ok_and(|state| state.entry == entry.n)
        });
        self.place_again(&below, entry.n).inspect_err(|_| {
            self.surfaces.pop();
        })
    }
}

fn or_none(text: String) -> String {
    if text.is_empty() { "none".into() } else { text }
}

struct Made {
    surface: Surface,
    shape: &'static str,
    level_m: Option<f64>,
    points: u64,
    largest_residual_m: Option<f64>,
    /// The first ring of its own.
    outline: Option<Vec<Vec2>>,
}

fn make_surface(
    recorded: &SurfaceRecorded,
    frame: &Frame,
    entry: &Entry,
    domain: Option<&Domain>,
) -> Result<Made, String> {
    let local = |points: &[[Decimal; 3]]| -> Result<Vec<Vec3>, String> {
        for [e, n, level] in points {
            frame
                .check("a point of it", e, n, Some(level))
                .map_err(|refusal| refusal.says)?;
        }
        Ok(points
            .iter()
            .map(|[e, n, level]| frame.local(e, n, level))
            .collect())
    };
    match &recorded.shape {
        SurfaceShape::Level { level_m } => {
            let level = level_m.to_f64();
            if (level - frame.near_level_m).abs() > frame.level_reach_m {
                return Err(format!(
                    "level {level_m} is more than {} m from the site's level of about {} m; check datum and unit",
                    frame.level_reach_m, frame.near_level_m
                ));
            }
            let surface = domain.map_or_else(|| Surface::level(level), |d| Surface::level_within(level, d));
            Ok(Made {
                surface,
                shape: "level",
                level_m: Some(level),
                points: 1,
                largest_residual_m: None,
                outline: None,
            })
        }
        SurfaceShape::Plane { points } => {
            let fit = ground::plane_fit::fit_plane(&local(points)?).map_err(|e| e.to_string())?;
            let surface = domain.map_or_else(
                || Surface::plane(fit.plane),
                |d| Surface::plane_within(fit.plane, d),
            );
            let largest = fit.residuals_m.iter().map(|r| r.abs()).fold(0.0, f64::max);
            let count = points.len() as u64;
            Ok(Made {
                surface,
                shape: "plane",
                level_m: None,
                points: count,
                largest_residual_m: Some(largest),
                outline: None,
            })
        }
        SurfaceShape::Tin { sha256, points } => {
            let bytes = entry.attached.get(sha256);
            let bytes =
                bytes.ok_or_else(|| format!("its points ({sha256}) are not at hand; restore the blob"))?;
            if &crate::chain::sha256_hex(bytes) != sha256 {
                return Err(format!(
                    "its points are not the ones recorded as {sha256}; restore the blob"
                ));
            }
            let blob: TinBlob =
                serde_json::from_slice(bytes).map_err(|e| format!("its points do not read: {e}"))?;
            if blob.points.len() as u64 != *points {
                return Err(format!(
                    "{points} points are stated, and the blob holds {}",
                    blob.points.len()
                ));
            }
            let surface = super::tin::surface_of(&blob, &local(&blob.points)?, frame, domain)?;
            Ok(Made {
                surface,
                shape: "tin",
                level_m: None,
                points: *points,
                largest_residual_m: None,
                outline: super::tin::outline_of(&blob, frame),
            })
        }
    }
}

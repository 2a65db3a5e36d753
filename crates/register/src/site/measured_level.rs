//! The level of a measured point: stated, by staff, by depth below a surface, by detector, by satellite.

use super::measured::{Plan, Refuse, Sure, believed, solution_of};
use super::placing::Fresh;
use super::{RecordedSurface, Refusal, Site};
use crate::body::{DetectorRow, LevelFrom, SatelliteRow};
use crate::dig::ASSUMED_SURFACE_U95_M;
use crate::time::{date_of, earlier_first};
use crate::words::{HeightAbove, Known, SurfaceKind};
use std::cmp::Ordering;
use survey::stated_accuracy::{accuracy_at_depth_m, line_sigma_m};
use survey::uncertainty::{FACTOR_95_1D, combine};

/// A level from one source.
pub(super) struct Level {
    pub(super) level_m: f64,
    pub(super) sigma_m: Option<f64>,
    /// What a detector adds to the plan position, one sigma.
    pub(super) across_sigma_m: Option<f64>,
    pub(super) sure: Sure,
}

/// How to give a level when none can be had from what was given.
const GIVE_A_LEVEL: &str = "read a staff on it (level by staff), tape down from a recorded surface (level by depth), or state a level";

impl Site {
    pub(super) fn level_from(
        &self,
        from: &LevelFrom,
        plan: &Plan,
        satellite: Option<&SatelliteRow>,
        observed_at: &str,
        fresh: Fresh<'_>,
        refuse: &Refuse<'_>,
    ) -> Result<Level, Refusal> {
        match from {
            LevelFrom::Stated { level_m, sigma_mm } => Ok(Level {
                level_m: level_m.to_f64(),
                sigma_m: Some(refuse.sigma_m("sigma_mm of the level", sigma_mm)?),
                across_sigma_m: None,
                sure: Sure::default(),
            }),
            LevelFrom::Staff {
                mark,
                back_m,
                fore_m,
                sigma_mm,
            } => {
                let known = self.need_known(mark, fresh, refuse)?;
                let mend = "a staff reading lies between -10 and 10 m";
                let back_m = refuse.within("back_m", back_m, -10.0, 10.0, mend)?;
                let fore_m = refuse.within("fore_m", fore_m, -10.0, 10.0, mend)?;
                let mut sure = Sure::default();
                sure.hang_on(mark, &known);
                if known.sigma_v_m.is_none() {
                    sure.doubts.push(format!(
                        "the level of {mark} has no stated uncertainty, so the level read from it has none; state its \
                         sigma_v_mm"
                    ));
                }
                let read_m = refuse.sigma_m("sigma_mm of the staff", sigma_mm)?;
                Ok(Level {
                    level_m: known.at.z + back_m - fore_m,
                    sigma_m: combine(&[known.sigma_v_m, Some(read_m)]),
                    across_sigma_m: None,
                    sure,
                })
            }
            LevelFrom::Depth {
                surface,
                surface_kind,
                depth_m,
                sigma_mm,
            } => {
                let mend = "a depth is straight down, 0 to 100 m; what lies above the surface needs a level";
                let depth_m = refuse.within("depth_m", depth_m, 0.0, 100.0, mend)?;
                let tape_m = refuse.sigma_m("sigma_mm of the depth", sigma_mm)?;
                self.below_a_surface(
                    (surface, *surface_kind),
                    depth_m,
                    tape_m,
                    plan,
                    observed_at,
                    refuse,
                )
            }
            LevelFrom::Detector(shown) => self.by_detector(shown, plan, observed_at, refuse),
            LevelFrom::Receiver {
                height_m,
                above,
                antenna_m,
            } => {
                let Some(satellite) = satellite else {
                    let says = format!(
                        "its level is to come from a receiver of satellites and its position does not; {GIVE_A_LEVEL}"
                    );
                    return Err(refuse.says("no-level", says));
                };
                if *above == HeightAbove::Ellipsoid {
                    let says = format!(
                        "a height above the ellipsoid is not a level of this site's datum; have the receiver show \
                         levels of the datum, or {GIVE_A_LEVEL}"
                    );
                    return Err(refuse.says("ellipsoid", says));
                }
                let Some(solution) = solution_of(satellite.fix).filter(|s| s.gives_a_level()) else {
                    let says = format!(
                        "a level from a {} solution is not used: it may be wrong by metres; {GIVE_A_LEVEL}",
                        satellite.fix
                    );
                    return Err(refuse.says("no-level", says));
                };
                let mend = "give the height still to be taken off, 0 to 10 m";
                let antenna_m = refuse.within("antenna_m", antenna_m, 0.0, 10.0, mend)?;
                let stated = match (&satellite.vertical_mm, satellite.means) {
                    (Some(mm), Some(means)) => {
                        Some(line_sigma_m(refuse.sigma_m("vertical_mm", mm)?, means.stated()))
                    }
                    _ => None,
                };
                let mut sure = Sure::default();
                let sigma_m = believed(
                    stated,
                    solution.least().level_m,
                    solution.assumed().level_m,
                    ("in level", satellite.fix),
                    &mut sure,
                );
                Ok(Level {
                    level_m: height_m.to_f64() - antenna_m,
                    sigma_m: Some(sigma_m),
                    across_sigma_m: None,
                    sure,
                })
            }
        }
    }

    fn by_detector(
        &self,
        shown: &DetectorRow,
        plan: &Plan,
        observed_at: &str,
        refuse: &Refuse<'_>,
    ) -> Result<Level, Refusal> {
        let mend = "a detected depth is more than 0 and at most 30 m";
        let depth_m = refuse.within("depth_m", &shown.depth_m, f64::MIN_POSITIVE, 30.0, mend)?;
        let mend = "give 0 to 100 per cent of the depth";
        let percent = refuse.within("percent", &shown.percent, 0.0, 100.0, mend)?;
        let mend = "give 0 to 10000 mm";
        let constant_m = refuse.within("constant_mm", &shown.constant_mm, 0.0, 10_000.0, mend)? / 1000.0;
        let across_m = refuse.sigma_m("across_mm", &shown.across_mm)?;
        let accuracy_m = accuracy_at_depth_m(percent, constant_m, depth_m);
        if accuracy_m <= 0.0 {
            let says = "percent and constant_mm are both 0; no detector is exact: give what its maker states";
            return Err(refuse.says("figure", says));
        }
        let means = shown.means.stated();
        let below = (shown.surface.as_str(), shown.surface_kind);
        let sigma_m = line_sigma_m(accuracy_m, means);
        let mut level = self.below_a_surface(below, depth_m, sigma_m, plan, observed_at, refuse)?;
        level.across_sigma_m = Some(line_sigma_m(across_m, means));
        level
            .sure
            .cap(Known::Traced, "found with a detector and not seen");
        Ok(level)
    }

    /// Returns the level a depth below a surface. On a slope the plan position's own uncertainty counts.
    fn below_a_surface(
        &self,
        (name, kind): (&str, SurfaceKind),
        depth_m: f64,
        depth_sigma_m: f64,
        plan: &Plan,
        observed_at: &str,
        refuse: &Refuse<'_>,
    ) -> Result<Level, Refusal> {
        let surface = self
            .surface_on_day(name, kind, observed_at)
            .map_err(|says| refuse.says("surface", says))?;
        let Some(plane) = surface.surface.plane_at(plan.at) else {
            let says = format!(
                "it lies outside surface {}, so a depth below it is no level; record the surface as far as here, or \
                 give the level by staff",
                surface.says()
            );
            return Err(refuse.says("outside-surface", says));
        };
        let mut sure = Sure::default();
        let u95_m = surface.u95_m.unwrap_or_else(|| {
            sure.doubts.push(format!(
                "surface {} states no uncertainty: {ASSUMED_SURFACE_U95_M} m at 95 % is taken",
                surface.says()
            ));
            ASSUMED_SURFACE_U95_M
        });
        if kind == SurfaceKind::FinishedDesign {
            sure.cap(Known::Drawn, "its level hangs on a drawn surface");
        }
        let g = plane.gradient;
        let by_slope = if g.norm() <= 0.0 {
            Some(0.0)
        } else {
            let c = plan.covariance;
            c.map(|c| {
                (g.x * g.x * c.ee_m2 + 2.0 * g.x * g.y * c.en_m2 + g.y * g.y * c.nn_m2)
                    .max(0.0)
                    .sqrt()
            })
        };
        Ok(Level {
            level_m: plane.at(plan.at) - depth_m,
            sigma_m: combine(&[Some(depth_sigma_m), Some(u95_m / FACTOR_95_1D), by_slope]),
            across_sigma_m: None,
            sure,
        })
    }

    /// Returns a surface as it stood on a day: the newest state observed by then.
    pub(super) fn surface_on_day(
        &self,
        name: &str,
        kind: SurfaceKind,
        day: &str,
    ) -> Result<&RecordedSurface, String> {
        let states = || self.surfaces.iter().filter(|s| s.name == name && s.kind == kind);
        let by_then = states().filter(|s| {
            // Observed later the same day is as it stood that day.
            date_of(&s.observed_at) == date_of(day) || earlier_first(&s.observed_at, day) != Ordering::Greater
        });
        let newest = by_then.reduce(|a, b| {
            let order = earlier_first(&a.observed_at, &b.observed_at);
            if order.then(a.entry.cmp(&b.entry)) == Ordering::Less {
                b
            } else {
                a
            }
        });
        newest.ok_or_else(|| match states().next() {
            Some(later) => format!(
                "surface {name}, {kind}, was first observed on {} and the depth was taken on {}; record the surface as \
                 it stood that day, or give the level by staff",
                date_of(&later.observed_at),
                date_of(day)
            ),
            None => {
                let mut known: Vec<String> = self.surfaces.iter().map(RecordedSurface::says).collect();
                known.dedup();
                let known = if known.is_empty() { "none".to_owned() } else { known.join("; ") };
                format!("no surface is named {name}, {kind}; record it first (recorded: {known})")
            }
        })
    }
}

//! A planned dig: the question, and the answer by the project's exact definitions.
//!
//! [`PlannedDig::of`] turns a question into solids and says which box to look in; whoever holds the index brings
//! the run records that meet the box; [`PlannedDig::answer`] measures each and says what is not known.

mod answer;
mod one_run;
mod searched;
mod verdict;

pub use answer::Asked;
pub(crate) use one_run::{clipped, spoken};
pub(crate) use searched::outline;

use crate::body::Distances;
use crate::rules::{Adopted, DigRule};
use crate::site::{Frame, RecordedSurface, Refusal, Site};
use ground::dig::{Dig, DigShape, DigSpec, Floor, Form};
use ground::facet::PlanBox;
use ground::{Vec2, Vec3};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Near distance when no rule says one, metres.
pub const NEAR_WITHOUT_RULES_M: f64 = 2.0;
/// How much wider `near` is, without rules, for what is known worse than seen.
pub const UNSEEN_FACTOR_WITHOUT_RULES: f64 = 2.0;
/// Allowances for setting out and over-digging when nobody stated any, metres; marked as assumed.
pub const ASSUMED_ALLOWANCE_M: f64 = 0.3;
/// 95 % of a surface whose uncertainty nobody stated, metres; marked as assumed.
pub const ASSUMED_SURFACE_U95_M: f64 = 0.1;
/// How far a run with an open end is carried on, straight, to see whether it would reach the dig. Metres.
pub const OPEN_END_M: f64 = 5.0;

/// What a person asks: where, and how deep. Positions are easting, northing in the site's grid.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct DigQuestion {
    /// An area, by its corners in order.
    pub area: Option<Vec<[f64; 2]>>,
    /// A trench along a line; needs `width_m`.
    pub line: Option<Vec<[f64; 2]>>,
    /// Width of the trench.
    pub width_m: Option<f64>,
    /// A post, pile, rod or core by its centre; needs `radius_m`.
    pub point: Option<[f64; 2]>,
    /// Radius of the post, or outside radius of the bore.
    pub radius_m: Option<f64>,
    /// A bore along an axis of easting, northing, level; needs `radius_m` and `deviation_m`.
    pub bore: Option<Vec<[f64; 3]>>,
    /// How far the bore may stray from its axis.
    pub deviation_m: Option<f64>,
    /// Depth below the surface, straight down.
    pub depth_m: Option<f64>,
    /// Level of the floor.
    pub floor_level_m: Option<f64>,
    /// The surface, by name; without a name the only candidate answers.
    pub surface: Option<String>,
    /// Batter of the sides, horizontal per vertical.
    pub batter: Option<f64>,
    /// Allowance for digging too deep.
    pub over_dig_m: Option<f64>,
    /// Allowance for setting out.
    pub set_out_m: Option<f64>,
}

/// A question turned into solids, in the frame of the site asked first.
#[derive(Debug)]
pub struct PlannedDig<'a> {
    pub(crate) site: &'a Site,
    pub(crate) frame: Frame,
    pub(crate) question: DigQuestion,
    pub(crate) dig: Dig,
    pub(crate) surface: Option<&'a RecordedSurface>,
    pub(crate) surface_why_not: Option<String>,
    pub(crate) surface_u95_assumed: bool,
    pub(crate) surface_u95_m: f64,
    pub(crate) over_dig_m: f64,
    pub(crate) set_out_m: f64,
    pub(crate) allowances_assumed: bool,
    pub(crate) near_m: f64,
    pub(crate) near_unseen_m: f64,
}

impl<'a> PlannedDig<'a> {
    /// Turns a question into solids.
    ///
    /// # Errors
    /// [`Refusal`] when the shape, the floor or the surface leaves open what is asked; nothing is guessed.
    pub fn of(site: &'a Site, question: &DigQuestion) -> Result<PlannedDig<'a>, Refusal> {
        let refuse = |says: String| Refusal::new("dig", says);
        if let Some(why) = &site.read_only {
            return Err(Refusal::new(
                "read-only",
                format!("the site is read-only and answers no dig: {why}"),
            ));
        }
        let frame = site.frame()?;
        let shape = shape_of(question, &frame).map_err(refuse)?;
        let is_bore = matches!(shape, DigShape::Bore { .. });
        let (surface, surface_why_not) = match site.surface_for(question.surface.as_deref(), None, true) {
            Ok(surface) => (Some(surface), None),
            Err(choice) if question.surface.is_some() => return Err(refuse(choice.says)),
            Err(choice) => (None, Some(choice.says)),
        };
        if question.depth_m.is_some() && question.floor_level_m.is_some() {
            return Err(refuse(
                "both a depth and a floor level are given; give one".into(),
            ));
        }
        let hangs_on_surface = question.depth_m.is_some() || question.batter.is_some();
        if hangs_on_surface && surface.is_none() {
            return Err(refuse(format!(
                "a depth or a batter hangs on a surface: {}; or give the floor as a level",
                surface_why_not.unwrap_or_default()
            )));
        }
        let floor = match (question.depth_m, question.floor_level_m) {
            (Some(depth_m), _) if depth_m > 0.0 && depth_m <= 100.0 => Some(Floor::Below { depth_m }),
            (Some(depth), _) => {
                return Err(refuse(format!(
                    "a depth of {depth} m is out of reason; give metres down, more than 0"
                )));
            }
            (None, Some(level_m)) => {
                let away_m = (level_m - frame.near_level_m).abs();
                if !away_m.is_finite() || away_m > frame.level_reach_m {
                    return Err(refuse(format!(
                        "a floor at level {level_m} is more than {} m from the site's level of about {} m; check datum and unit",
                        frame.level_reach_m, frame.near_level_m
                    )));
                }
                Some(Floor::Level(level_m))
            }
            (None, None) if is_bore => None,
            (None, None) => return Err(refuse("no floor; give a depth or a floor level".into())),
        };
        let rule = site.rules.as_ref().and_then(|rules| rules.dig());
        let allowance = |stated: Option<f64>, ruled: Option<f64>, what: &str| match stated {
            Some(m) if (0.0..=10.0).contains(&m) => Ok(m),
            Some(m) => Err(refuse(format!(
                "{what} of {m} m is out of reason; give metres from 0 to 10"
            ))),
            None => Ok(ruled.unwrap_or(ASSUMED_ALLOWANCE_M)),
        };
        let over_dig_m = allowance(
            question.over_dig_m,
            rule.map(|r| r.over_dig_m),
            "an over-dig allowance",
        )?;
        let set_out_m = allowance(
            question.set_out_m,
            rule.map(|r| r.set_out_m),
            "a set-out allowance",
        )?;
        let (surface_u95_m, surface_u95_assumed) = match surface.and_then(|s| s.u95_m) {
            Some(u95) => (u95, false),
            None if hangs_on_surface => (ASSUMED_SURFACE_U95_M, true),
            None => (0.0, false),
        };
        let spec = DigSpec {
            shape,
            floor,
            surface: surface.map(|s| s.surface.as_ref()),
            batter: question.batter,
            set_out_m,
            over_dig_m,
            surface_u95_m,
        };
        let dig = Dig::new(&spec).map_err(|e| refuse(e.to_string()))?;
        let near_m = rule.map_or(NEAR_WITHOUT_RULES_M, |r| r.near_m);
        let factor = rule.map_or(UNSEEN_FACTOR_WITHOUT_RULES, |r| r.near_unseen_factor);
        let unstated = |stated: Option<f64>, ruled: bool| stated.is_none() && !ruled;
        Ok(PlannedDig {
            site,
            frame,
            question: question.clone(),
            dig,
            surface,
            surface_why_not,
            surface_u95_assumed,
            surface_u95_m,
            over_dig_m,
            set_out_m,
            allowances_assumed: unstated(question.over_dig_m, rule.is_some())
                || unstated(question.set_out_m, rule.is_some()),
            near_m,
            near_unseen_m: near_m * factor,
        })
    }

    /// Returns the box to look in, in the frame of the site asked: this one, or another on the same grid.
    ///
    /// The boxes of the index hold a run's tube and its stated uncertainty; this one is grown by what they do not
    /// hold: the near distance, an open end carried on, and the largest class default of the asked site's rules.
    pub fn search_box(&self, asked: &Site) -> Result<PlanBox, Refusal> {
        let shift = self.frame.origin - asked.frame()?.origin;
        let class_sigma_h_m = self
            .rules_for(asked)
            .map_or(0.0, |rules| rules.largest_sigma_h_m());
        let reach_m = self.near_for(asked).1 + OPEN_END_M + survey::uncertainty::radial95(class_sigma_h_m);
        let here = self.dig.plan_box(Form::Grown).grown(reach_m);
        Ok(PlanBox {
            min: here.min + shift,
            max: here.max + shift,
        })
    }

    /// Another site's runs get the class defaults of its own rules where it has any, and of this site's otherwise.
    fn rules_for<'s>(&'s self, asked: &'s Site) -> Option<&'s Adopted> {
        asked.rules.as_deref().or(self.site.rules.as_deref())
    }

    /// Another site's runs are judged by its own dig figures where any count, and by this site's otherwise.
    fn dig_rule_for<'s>(&'s self, asked: &'s Site) -> Option<(&'s Adopted, &'s DigRule)> {
        let sets = [asked.rules.as_deref(), self.site.rules.as_deref()];
        sets.into_iter()
            .flatten()
            .find_map(|rules| rules.dig().map(|dig| (rules, dig)))
    }

    /// Returns how near counts as near for a site's runs, seen and not seen: never less than for this site's.
    fn near_for(&self, asked: &Site) -> (f64, f64) {
        let theirs = self
            .dig_rule_for(asked)
            .map(|(_, dig)| (dig.near_m, dig.near_m * dig.near_unseen_factor));
        let (seen_m, unseen_m) = theirs.unwrap_or_default();
        (seen_m.max(self.near_m), unseen_m.max(self.near_unseen_m))
    }

    /// Returns why another site cannot be brought into this dig's grid, if it cannot.
    pub fn cannot_compare(&self, other: &Site) -> Option<String> {
        if other.id == self.site.id {
            return None;
        }
        if let Some(why) = &other.read_only {
            return Some(format!("the site is read-only: {why}"));
        }
        let (Some(mine), Some(theirs)) = (&self.site.opened, &other.opened) else {
            return Some("the site has no opening entry".into());
        };
        match (mine.epsg, theirs.epsg) {
            (Some(a), Some(b)) if a == b => {}
            (Some(a), Some(b)) => return Some(format!("its grid is EPSG:{b}, and this dig's is EPSG:{a}")),
            _ => {
                return Some(
                    "its grid or this one's is a local one, which is not brought into others yet".into(),
                );
            }
        }
        if [mine.distances, theirs.distances].contains(&Distances::Ground) {
            return Some("distances on the ground are reckoned for each site by a factor of its own".into());
        }
        if mine.level_datum.trim().to_lowercase() != theirs.level_datum.trim().to_lowercase() {
            return Some(format!(
                "its levels are on {}, and this dig's on {}",
                theirs.level_datum, mine.level_datum
            ));
        }
        None
    }
}

fn shape_of(question: &DigQuestion, frame: &Frame) -> Result<DigShape, String> {
    let plan = |points: &[[f64; 2]]| -> Result<Vec<Vec2>, String> {
        points
            .iter()
            .enumerate()
            .map(|(i, &[e, n])| on_site(frame, e, n, i + 1))
            .collect()
    };
    let given = [
        ("area", question.area.is_some()),
        ("line", question.line.is_some()),
        ("point", question.point.is_some()),
        ("bore", question.bore.is_some()),
    ];
    let given: Vec<&str> = given
        .iter()
        .filter(|(_, is)| *is)
        .map(|(name, _)| *name)
        .collect();
    let ["area" | "line" | "point" | "bore"] = given.as_slice() else {
        return Err(match given.len() {
            0 => "no place is given; give an area, a line with a width, a point or a bore".into(),
            _ => format!(
                "{} are given together; ask for one dig at a time",
                given.join(" and ")
            ),
        });
    };
    let needed = |value: Option<f64>, what: &str| {
        value.ok_or_else(|| format!("no {what} is given; give it in metres"))
    };
    if let Some(area) = &question.area {
        return Ok(DigShape::Area {
            outline: plan(area)?,
            holes: Vec::new(),
        });
    }
    if let Some(line) = &question.line {
        return Ok(DigShape::Line {
            points: plan(line)?,
            width_m: needed(question.width_m, "width_m")?,
        });
    }
    if let Some(centre) = question.point {
        return Ok(DigShape::Point {
            centre: plan(&[centre])?[0],
            radius_m: needed(question.radius_m, "radius_m")?,
        });
    }
    let bore = question.bore.as_deref().unwrap_or_default();
    let axis = bore.iter().enumerate().map(|(i, &[e, n, level])| {
        let p = on_site(frame, e, n, i + 1)?;
        Ok(Vec3::new(p.x, p.y, level))
    });
    Ok(DigShape::Bore {
        axis: axis.collect::<Result<_, String>>()?,
        radius_m: needed(question.radius_m, "radius_m")?,
        deviation_m: needed(question.deviation_m, "deviation_m")?,
    })
}

fn on_site(frame: &Frame, e: f64, n: f64, corner: usize) -> Result<Vec2, String> {
    let local = frame.local_plan(e, n);
    if !local.x.is_finite() || !local.y.is_finite() {
        return Err(format!(
            "corner {corner} is not a number; give easting and northing in metres"
        ));
    }
    if local.norm() > frame.reach_m {
        let swapped = frame.local_plan(n, e).norm() <= frame.reach_m;
        let likely = if swapped {
            "easting and northing look swapped"
        } else {
            "check the grid and the figures"
        };
        return Err(format!(
            "corner {corner} (easting {e}, northing {n}) lies {:.1} km from the site; {likely}",
            local.norm() / 1000.0
        ));
    }
    Ok(local)
}

#[cfg(test)]
mod said_tests;
#[cfg(test)]
mod tests;

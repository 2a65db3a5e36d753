//! The site's frame, its control, and where somebody looked.

use super::{Change, Refusal, Site};
use crate::body::{AreaSearched, Body, ControlRecorded, ControlRow, SiteOpened};
use ground::{Vec2, Vec3};
use survey::Decimal;

/// The site frame: positions are reckoned from here, so that millimetres keep their digits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Easting and northing of the origin.
    pub origin: Vec2,
    /// Rough level.
    pub near_level_m: f64,
    /// How far from the origin a point may lie.
    pub reach_m: f64,
    /// How far from the rough level a level may lie.
    pub level_reach_m: f64,
}

impl Frame {
    pub(crate) fn of(opened: &SiteOpened) -> Frame {
        // Rounded, so that frame positions are short decimals too.
        let round = |value: &Decimal| (value.to_f64() / 100.0).round() * 100.0;
        Frame {
            origin: Vec2::new(round(&opened.near_easting_m), round(&opened.near_northing_m)),
            near_level_m: opened.near_level_m.to_f64(),
            reach_m: opened.reach_m.to_f64(),
            level_reach_m: opened.level_reach_m.to_f64(),
        }
    }

    /// Brings a position into the site frame.
    pub fn local(&self, easting: &Decimal, northing: &Decimal, level: &Decimal) -> Vec3 {
        let plan = self.local_plan(easting.to_f64(), northing.to_f64());
        Vec3::new(plan.x, plan.y, level.to_f64())
    }

    /// Brings a plan position into the site frame.
    pub fn local_plan(&self, easting: f64, northing: f64) -> Vec2 {
        Vec2::new(easting - self.origin.x, northing - self.origin.y)
    }

    /// Brings a plan position back onto the grid.
    pub fn grid_plan(&self, local: Vec2) -> Vec2 {
        local + self.origin
    }

    /// Brings a position back onto the grid.
    pub fn grid(&self, local: Vec3) -> Vec3 {
        Vec3::new(local.x + self.origin.x, local.y + self.origin.y, local.z)
    }

    /// Refuses a position that cannot be on this site.
    pub(crate) fn check(
        &self,
        what: &str,
        e: &Decimal,
        n: &Decimal,
        level: Option<&Decimal>,
    ) -> Result<(), Refusal> {
        let away = self.local_plan(e.to_f64(), n.to_f64());
        if away.norm() > self.reach_m {
            let swapped = self.local_plan(n.to_f64(), e.to_f64()).norm() <= self.reach_m;
            let feet = self.local_plan(e.to_f64() * 0.3048, n.to_f64() * 0.3048).norm() <= self.reach_m;
            let likely = if swapped {
                "easting and northing look swapped"
            } else if feet {
                "it looks like feet; name the unit"
            } else {
                "check the grid, or the file"
            };
            let says = format!(
                "{what}: easting {e}, northing {n} lies {:.1} km from where the site is, and its reach is {:.1} km; {likely}",
                away.norm() / 1000.0,
                self.reach_m / 1000.0
            );
            return Err(Refusal {
                about: Some(what.into()),
                ..Refusal::new("out-of-reach", says)
            });
        }
        if let Some(level) = level
            && (level.to_f64() - self.near_level_m).abs() > self.level_reach_m
        {
            let says = format!(
                "{what}: level {level} is more than {} m from the site's level of about {} m; check datum, unit and columns",
                self.level_reach_m, self.near_level_m
            );
            return Err(Refusal {
                about: Some(what.into()),
                ..Refusal::new("level-out-of-reach", says)
            });
        }
        Ok(())
    }
}

/// A control point.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlPoint {
    /// As recorded.
    pub row: ControlRow,
    /// The entry.
    pub entry: u64,
}

/// Where somebody looked.
#[derive(Debug, Clone, PartialEq)]
pub struct Searched {
    /// As recorded.
    pub area: AreaSearched,
    /// The ring in the site frame.
    pub ring: Vec<Vec2>,
    /// When.
    pub observed_at: String,
    /// The entry.
    pub entry: u64,
}

impl Site {
    pub(super) fn record_control(
        &mut self,
        control: &ControlRecorded,
        n: u64,
    ) -> Result<Vec<Change>, Refusal> {
        let frame = self.frame()?;
        for row in &control.points {
            for (name, sigma) in [("sigma_h_mm", &row.sigma_h_mm), ("sigma_v_mm", &row.sigma_v_mm)] {
                if let Some(mm) = sigma.as_ref().map(Decimal::to_f64)
                    && !(mm > 0.0 && mm <= 10_000.0)
                {
                    let says = format!(
                        "{name} is {mm}; a standard deviation is more than 0 and at most 10000 mm, or left out"
                    );
                    return Err(Refusal::about("control", &format!("control {}", row.point), says));
                }
            }
        }
        for row in &control.points {
            frame.check(
                &format!("control {}", row.point),
                &row.easting_m,
                &row.northing_m,
                Some(&row.level_m),
            )?;
        }
        for row in &control.points {
            let state = ControlPoint {
                row: row.clone(),
                entry: n,
            };
            self.control.entry(row.point.clone()).or_default().push(state);
        }
        // Stations stand as they were solved until somebody sets them anew; tapes follow at once.
        let tied: Vec<String> = control.points.iter().map(|row| row.point.clone()).collect();
        self.place_again(&tied, n).inspect_err(|_| {
            for states in self.control.values_mut() {
                states.retain(|state| state.entry != n);
            }
            self.control.retain(|_, states| !states.is_empty());
        })
    }

    pub(super) fn record_search(
        &mut self,
        area: &AreaSearched,
        body: &Body,
        n: u64,
    ) -> Result<Vec<Change>, Refusal> {
        let frame = self.frame()?;
        let what = format!("searched area {}", area.area);
        for [e, north] in &area.ring {
            frame.check(&what, e, north, None)?;
        }
        let ring: Vec<Vec2> = area
            .ring
            .iter()
            .map(|[e, n]| frame.local_plan(e.to_f64(), n.to_f64()))
            .collect();
        if let Err(error) = ground::domain::Domain::new(std::slice::from_ref(&ring)) {
            return Err(Refusal::about("ring", &what, error.to_string()));
        }
        self.searched.push(Searched {
            area: area.clone(),
            ring,
            observed_at: body.observed_at.clone(),
            entry: n,
        });
        Ok(Vec::new())
    }
}

//! Where a point is: by its coordinates or its readings, and by a level book where one holds it.

use super::stations::take_level;
use super::{Frame, Refusal, Site};
use crate::body::{MeasuredFrom, PointRow};
use crate::words::{CheckOutcome, Known};
use ground::Vec3;
use std::collections::HashMap;
use survey::{Decimal, PlanCovariance};

/// How far a position reckoned again may lie from the one written when it was recorded. Metres.
const AGREES_M: f64 = 0.001;

/// Where a point is, how sure, and what is doubtful about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// In the site frame.
    pub at: Vec3,
    /// Covariance in plan, relative to site control, when known.
    pub plan: Option<PlanCovariance>,
    /// Standard deviation in plan: the semi-major one.
    pub sigma_h_m: Option<f64>,
    /// Standard deviation in level.
    pub sigma_v_m: Option<f64>,
    /// How it is known: as stated, and never better than its source allows.
    pub known: Option<Known>,
    /// True when no class default may stand in for a missing uncertainty: it may be worse than any class.
    pub not_defaulted: bool,
    /// What was measured again of it, and agrees.
    pub again: Vec<String>,
    /// What is doubtful about it.
    pub doubts: Vec<String>,
    /// True when a failed check leaves it suspect.
    pub suspect: bool,
}

/// Tells where points of the same entry are, which the site does not hold yet.
pub(super) type Fresh<'a> = &'a dyn Fn(&str) -> Option<Placed>;

impl Site {
    /// Places a point of a new entry.
    ///
    /// # Errors
    /// As [`Site::place`]; and readings that give another position than the one written.
    pub(super) fn place_new(
        &self,
        row: &PointRow,
        observed_at: &str,
        fresh: Fresh<'_>,
    ) -> Result<Placed, Refusal> {
        let mut placed = self.place_by_readings(row, observed_at, fresh)?;
        let off = self.off_written(row, &placed)?;
        if off.xy().norm() > AGREES_M || off.z.abs() > AGREES_M {
            let says = format!(
                "its readings give a position {:.1} mm in plan and {:.1} mm in level from the one written; reckon it again",
                off.xy().norm() * 1000.0,
                off.z * 1000.0
            );
            return Err(
                Refusal::about("does-not-agree", &format!("point {}", row.point), says).at_row(row.row),
            );
        }
        self.take_same(row, &mut placed);
        self.take_booked(row, &mut placed);
        Ok(placed)
    }

    /// Places a point by its coordinates or its readings, and by a level book where one holds it.
    ///
    /// # Errors
    /// Readings that do not read, or that hang on something that is not there.
    pub(super) fn place(
        &self,
        row: &PointRow,
        observed_at: &str,
        fresh: Fresh<'_>,
    ) -> Result<Placed, Refusal> {
        let mut placed = self.place_by_readings(row, observed_at, fresh)?;
        let hangs = row
            .measured
            .as_ref()
            .is_some_and(|measured| measured.below().is_some() || measured.hangs_on().next().is_some());
        if hangs {
            let off = self.off_written(row, &placed)?;
            if off.xy().norm() > AGREES_M || off.z.abs() > AGREES_M {
                placed.doubts.push(format!(
                    "moved by {:.0} mm in plan and {:+.0} mm in level since it was recorded, with what it was measured from",
                    off.xy().norm() * 1000.0,
                    off.z * 1000.0
                ));
            }
        }
        self.take_same(row, &mut placed);
        self.take_booked(row, &mut placed);
        Ok(placed)
    }

    /// Fills in positions (to a tenth of a millimetre) and standard deviations of points of one entry, from their
    /// readings.
    ///
    /// `observed_at` is the entry's. Returns where each is. Points sighted from a station, or without readings, are left as they are.
    ///
    /// # Errors
    /// As the fold would refuse the points: every one that is wrong.
    pub fn fill_measured(
        &self,
        points: &mut [PointRow],
        observed_at: &str,
    ) -> Result<Vec<Placed>, Vec<Refusal>> {
        let frame = self.frame().map_err(|refusal| vec![refusal])?;
        let mut fresh: HashMap<String, usize> = HashMap::new();
        let mut all: Vec<Placed> = Vec::with_capacity(points.len());
        let mut refusals = Vec::new();
        for row in points {
            let at = row.observed_at.clone().unwrap_or_else(|| observed_at.to_owned());
            let placed = super::points::check_row(row).and_then(|()| {
                self.place_by_readings(row, &at, &|name| fresh.get(name).map(|&i| all[i].clone()))
            });
            let placed = match placed {
                Ok(placed) => placed,
                Err(refusal) => {
                    refusals.push(refusal.at_row(row.row));
                    continue;
                }
            };
            if !matches!(row.measured, None | Some(MeasuredFrom::Station { .. })) {
                let at = frame.grid(placed.at);
                let decimals = [at.x, at.y, at.z].map(|value| format!("{value:.4}").parse::<Decimal>());
                let [Ok(easting), Ok(northing), Ok(level)] = decimals else {
                    let says = "its readings give no position; look at them";
                    refusals
                        .push(Refusal::about("point", &format!("point {}", row.point), says).at_row(row.row));
                    continue;
                };
                (row.easting_m, row.northing_m, row.level_m) = (easting, northing, level);
                let mm = |sigma_m: Option<f64>| {
                    sigma_m.and_then(|m| format!("{:.2}", (m * 1000.0).max(0.01)).parse().ok())
                };
                (row.sigma_h_mm, row.sigma_v_mm) = (mm(placed.sigma_h_m), mm(placed.sigma_v_m));
            }
            fresh.insert(row.point.clone(), all.len());
            all.push(placed);
        }
        if refusals.is_empty() {
            Ok(all)
        } else {
            Err(refusals)
        }
    }

    fn off_written(&self, row: &PointRow, placed: &Placed) -> Result<Vec3, Refusal> {
        let written = self.frame()?.local(&row.easting_m, &row.northing_m, &row.level_m);
        Ok(placed.at - written)
    }

    fn take_booked(&self, row: &PointRow, placed: &mut Placed) {
        if let Some((level, book)) = self.booked.get(&row.point) {
            take_level(placed, level, book, row.touched);
        }
    }

    fn place_by_readings(
        &self,
        row: &PointRow,
        observed_at: &str,
        fresh: Fresh<'_>,
    ) -> Result<Placed, Refusal> {
        let frame = self.frame()?;
        match &row.measured {
            None => Ok(by_coordinates(row, &frame)),
            Some(MeasuredFrom::Station { station, sights }) => {
                let what = format!("point {}", row.point);
                let found = self.stations.get(station).ok_or_else(|| {
                    Refusal::about(
                        "no-such-station",
                        &what,
                        format!("station {station} is not set; set it first"),
                    )
                    .at_row(row.row)
                })?;
                let (shot, doubts) = found.solved.shoot(&row.point, sights)?;
                let Some(level) = shot.level_m else {
                    let says = format!("station {station} has no level; give its control levels");
                    return Err(Refusal::about("no-level", &what, says).at_row(row.row));
                };
                let since_failed = found.suspect.contains(&row.point);
                // Nothing that hangs on a station without a passed check can prove anything.
                let suspect = since_failed || found.solved.check != CheckOutcome::Passed;
                let mut doubts: Vec<String> = found.solved.unchecked().into_iter().chain(doubts).collect();
                if since_failed {
                    doubts.push(format!(
                        "suspect: station {station} failed a check, and this was shot after its checks last all passed \
                         and before they did again"
                    ));
                }
                Ok(Placed {
                    at: Vec3::new(shot.easting_m, shot.northing_m, level),
                    plan: Some(shot.covariance.plan()),
                    sigma_h_m: Some(shot.covariance.plan().ellipse().semi_major_sigma_m),
                    sigma_v_m: Some(shot.covariance.level_sigma_m()),
                    known: row.known,
                    not_defaulted: false,
                    again: Vec::new(),
                    doubts,
                    suspect,
                })
            }
            Some(measured) => self.by_sources(row, measured, observed_at, fresh),
        }
    }
}

pub(super) fn by_coordinates(row: &PointRow, frame: &Frame) -> Placed {
    let metres = |mm: &Option<Decimal>| mm.as_ref().map(|v| v.to_f64() / 1000.0);
    let sigma_h_m = metres(&row.sigma_h_mm);
    Placed {
        at: frame.local(&row.easting_m, &row.northing_m, &row.level_m),
        plan: sigma_h_m.and_then(|sigma| PlanCovariance::circle(sigma).ok()),
        sigma_h_m,
        sigma_v_m: metres(&row.sigma_v_mm),
        known: row.known,
        not_defaulted: false,
        again: Vec::new(),
        doubts: Vec::new(),
        suspect: false,
    }
}

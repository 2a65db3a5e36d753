//! A point measured again under a label of its own: the two compared, and combined where they agree.

use super::placing::Placed;
use super::{Point, Refusal, Site};
use crate::body::{MeasuredFrom, PointRow};
use crate::words::Known;
use std::collections::{BTreeMap, BTreeSet};
use survey::PointCovariance;
use survey::shot::{Repeat, ShotPosition, compare_shots};

/// Where a point is by one way of measuring it, and the station where it was shot from one.
struct Way<'a> {
    shot: ShotPosition,
    station: Option<&'a str>,
}

impl Site {
    /// Refuses rows that say they measure another point again where that cannot be.
    pub(super) fn check_same(&self, rows: &[PointRow]) -> Result<(), Refusal> {
        let mut before: BTreeMap<&str, &PointRow> = BTreeMap::new();
        for row in rows {
            if let Some(same) = &row.same_as {
                let refuse = |says: String| {
                    Err(Refusal::about("same-as", &format!("point {}", row.point), says).at_row(row.row))
                };
                let first = before
                    .get(same.as_str())
                    .copied()
                    .or_else(|| self.points.get(same).map(|point| &point.row));
                let Some(first) = first else {
                    return refuse(format!(
                        "it says that it measures {same} again, and no such point is recorded before it; look at the label"
                    ));
                };
                if first.same_as.is_some() {
                    return refuse(format!(
                        "{same} measures another point again itself; name that one"
                    ));
                }
                if first.touched != row.touched {
                    return refuse(format!(
                        "it touched {} and {same} touched {}: two places, which cannot be compared",
                        row.touched, first.touched
                    ));
                }
            }
            before.insert(&row.point, row);
        }
        Ok(())
    }

    /// Returns the labels that each point was measured again under.
    pub(super) fn same_points<'a>(
        points: impl Iterator<Item = &'a Point>,
    ) -> BTreeMap<String, BTreeSet<String>> {
        let mut same: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for point in points {
            if let Some(first) = &point.row.same_as {
                same.entry(first.clone())
                    .or_default()
                    .insert(point.row.point.clone());
            }
        }
        same
    }

    /// Compares a point with what was measured again of it, and takes the mean where the first of them agrees.
    ///
    /// One that does not agree leaves the point suspect: nobody knows which of the two is wrong.
    pub(super) fn take_same(&self, row: &PointRow, placed: &mut Placed) {
        let Some(labels) = self.same.get(&row.point) else {
            return;
        };
        let own = self.way(row, placed);
        let mut mean: Option<ShotPosition> = None;
        for label in labels {
            let Some(other) = self.points.get(label) else {
                continue;
            };
            if other.placed.suspect {
                placed
                    .doubts
                    .push(format!("measured again as {label}, which is suspect: not used"));
                continue;
            }
            let theirs = self.way(&other.row, &other.placed);
            let (Some(own), Some(theirs)) = (&own, theirs) else {
                placed.doubts.push(format!(
                    "measured again as {label}, and not compared: an uncertainty is not known"
                ));
                continue;
            };
            let same_set_up = own.station.is_some() && own.station == theirs.station;
            let Some(repeat) = compare_shots(&own.shot, &theirs.shot, same_set_up) else {
                continue;
            };
            let apart = apart(&repeat);
            if !repeat.agrees {
                placed.doubts.push(format!(
                    "measured again as {label}: {apart}, more than their 95 % allows; measure it once more"
                ));
                placed.suspect = true;
                continue;
            }
            placed.again.push(format!("measured again as {label}: {apart}"));
            let seen = |known: Option<Known>| known.is_some_and(Known::is_seen);
            if !same_set_up && placed.known == Some(Known::Seen) && seen(other.placed.known) {
                placed.known = Some(Known::SeenChecked);
            }
            // A third may share a station with one of the two: it is compared, and takes no part in the mean.
            if mean.is_none() {
                mean = repeat.combined;
            }
        }
        if let Some(mean) = mean
            && let Some(level_m) = mean.level_m
        {
            placed.at = ground::Vec3::new(mean.easting_m, mean.northing_m, level_m);
            let plan = mean.covariance.plan();
            placed.sigma_h_m = Some(plan.ellipse().semi_major_sigma_m);
            placed.plan = Some(plan);
            placed.sigma_v_m = Some(mean.covariance.level_sigma_m());
        }
    }

    fn way<'a>(&'a self, row: &'a PointRow, placed: &Placed) -> Option<Way<'a>> {
        if let Some(MeasuredFrom::Station { station, sights }) = &row.measured {
            let found = self.stations.get(station)?;
            let (shot, _) = found.solved.shoot(&row.point, sights).ok()?;
            return Some(Way {
                shot,
                station: Some(station),
            });
        }
        let (plan, sigma_v_m) = (placed.plan?, placed.sigma_v_m?);
        let covariance = PointCovariance {
            ee_m2: plan.ee_m2,
            en_m2: plan.en_m2,
            eh_m2: 0.0,
            nn_m2: plan.nn_m2,
            nh_m2: 0.0,
            hh_m2: sigma_v_m * sigma_v_m,
        };
        Some(Way {
            shot: ShotPosition {
                easting_m: placed.at.x,
                northing_m: placed.at.y,
                level_m: Some(placed.at.z),
                covariance,
                own_covariance: covariance,
            },
            station: None,
        })
    }
}

fn apart(repeat: &Repeat) -> String {
    let [de, dn, dz] = repeat.difference_m;
    format!(
        "{:.1} mm apart in plan and {:.1} mm in level",
        de.hypot(dn) * 1000.0,
        dz.abs() * 1000.0
    )
}

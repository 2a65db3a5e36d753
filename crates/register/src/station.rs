//! A station solved from its entry: position, checks, doubts, and the shots that hang on it.
//!
//! Works on the entry's readings digit for digit. Positions are in the site frame.

use crate::body::{MeasuredFrom, PointRow, SightRow, StationSet};
use crate::faces::pair_faces;
use crate::site::{Frame, Refusal};
use crate::words::{CheckOutcome, FaceRead, SightKind};
use ground::Vec3;
use survey::Decimal;
use survey::blunder::find_blunders;
use survey::check_shot::{CheckShot, CheckTolerance, CheckVerdict, check_shot};
use survey::edm::{Air, first_velocity_ppm};
use survey::observation::{ControlPoint, SetUp};
use survey::reduction::Curvature;
use survey::shot::{ShotPosition, ShotSetUp, SightLimits, reduce_shot, shot_from_sights, sight_findings};
use survey::sight::{
    Conditions, Face, InstrumentSpec, Sight, TargetSpec, mean_faces, repeat_findings, set_up_from_sights,
};
use survey::station_geometry::{StationLimits, station_findings};
use survey::station_report::{StationReport, station_report};

/// Most causes named for a set-up that does not fit.
const MOST_CAUSES: usize = 3;

/// A solved station.
#[derive(Debug, Clone)]
pub struct SolvedStation {
    /// As its author wrote it.
    pub set: StationSet,
    /// The entry.
    pub entry: u64,
    /// The observations of the adjustment.
    pub set_up: SetUp,
    /// The adjustment and its tests.
    pub report: StationReport,
    /// What shots need.
    pub shots: ShotSetUp,
    /// The checks, in the order they were made.
    pub checks: Vec<CheckShot>,
    /// What the checks say together: the last one made counts.
    pub check: CheckOutcome,
    /// What deserves a look, as sentences.
    pub findings: Vec<String>,
    /// Likely causes of what does not fit, as sentences.
    pub causes: Vec<String>,
    /// Grid distance over ground distance.
    pub grid_scale: f64,
    /// What was added to every distance for the air, ppm.
    pub air_ppm: f64,
}

/// Tells a known point by its name; positions in the site frame.
pub type KnownPoints<'a> = &'a dyn Fn(&str) -> Option<ControlPoint>;

fn tolerance_of(set: &StationSet) -> CheckTolerance {
    set.tolerance_mm
        .as_ref()
        .map_or_else(CheckTolerance::default, |mm| {
            let metres = mm.to_f64() / 1000.0;
            CheckTolerance {
                plan_m: metres,
                level_m: metres,
            }
        })
}

pub(crate) fn outcome(verdict: CheckVerdict) -> CheckOutcome {
    match verdict {
        CheckVerdict::Passed => CheckOutcome::Passed,
        CheckVerdict::Failed => CheckOutcome::Failed,
        CheckVerdict::NotDone => CheckOutcome::NotDone,
    }
}

/// Solves a station.
///
/// `grid_scale` is grid distance over ground distance at the site.
///
/// # Errors
/// A reading that does not read, a point that is not control, or control that does not fix the station; with the
/// row and the mend. A station that fits badly is solved and its causes are named.
pub fn solve_station(
    set: &StationSet,
    entry: u64,
    known: KnownPoints<'_>,
    grid_scale: f64,
) -> Result<SolvedStation, Refusal> {
    let refuse = |says: String| Refusal::about("station", &format!("station {}", set.station), says);
    let figure = |name: &str, value: &Decimal, least: f64, most: f64| -> Result<f64, Refusal> {
        let number = value.to_f64();
        if (least..=most).contains(&number) {
            Ok(number)
        } else {
            Err(refuse(format!("{name} is {value}; give {least} to {most}")))
        }
    };
    let i = &set.instrument;
    let instrument = InstrumentSpec::from_data_sheet(
        figure("distance_mm", &i.distance_mm, 0.1, 100.0)?,
        figure("distance_ppm", &i.distance_ppm, 0.0, 100.0)?,
        figure("direction_sec", &i.direction_sec, 0.1, 600.0)?,
        figure("zenith_sec", &i.zenith_sec, 0.1, 600.0)?,
    );
    let target = TargetSpec {
        sigma_height_m: figure("target_height_sigma_mm", &i.target_height_sigma_mm, 0.0, 100.0)? / 1000.0,
        sigma_centring_m: figure("centring_sigma_mm", &i.centring_sigma_mm, 0.0, 100.0)? / 1000.0,
        sigma_tilt_rad: 0.0,
    };
    let air_ppm = match &set.air {
        None => 0.0,
        Some(air) => {
            let read = Air {
                wavelength_um: air.wavelength_um.to_f64(),
                temperature_c: air.temperature_c.to_f64(),
                pressure_hpa: air.pressure_hpa.to_f64(),
                relative_humidity_pct: air.humidity_pct.to_f64(),
            };
            if set.air_in_instrument.is_some() {
                let says = "the air was entered in the instrument and is to be applied too; that would count it twice, state one";
                return Err(refuse(says.into()));
            }
            let reference = figure("reference_ppm", &air.reference_ppm, 200.0, 400.0)?;
            let entered = match &air.entered_ppm {
                None => 0.0,
                Some(ppm) => figure("entered_ppm", ppm, -300.0, 300.0)?,
            };
            first_velocity_ppm(&read, reference).map_err(|e| refuse(e.to_string()))? - entered
        }
    };
    let conditions = Conditions {
        instrument_height_m: figure("instrument_height_m", &set.instrument_height_m, 0.0, 10.0)?,
        curvature: Curvature::standard(),
        grid_scale,
        air_ppm,
    };
    let point = |name: &str| {
        known(name).ok_or_else(|| {
            refuse(format!(
                "{name} is not a control point; import the control list first"
            ))
        })
    };
    let mut control: Vec<ControlPoint> = Vec::new();
    let mut sights = Vec::new();
    for sight in set.sights.iter().filter(|s| s.sighted_as == SightKind::Control) {
        if !control.iter().any(|c| c.id == sight.target) {
            control.push(point(&sight.target)?);
        }
        sights.push(sight_of(&sight.target, &sight.sight, set)?);
    }
    let (set_up, mut findings) = set_up_from_sights(&control, &sights, &instrument, &target, &conditions)
        .map_err(|e| refuse(e.to_string()))?;
    let report = station_report(&set_up).map_err(|error| {
        let causes = find_blunders(&set_up, MOST_CAUSES);
        let causes: Vec<String> = causes.into_iter().map(|b| b.finding.sentence).collect();
        if causes.is_empty() {
            refuse(error.to_string())
        } else {
            refuse(format!("{error}. Likely: {}", causes.join("; ")))
        }
    })?;
    findings.extend(station_findings(&set_up, &report, &StationLimits::default()));
    let shots = ShotSetUp {
        fix: report.solution.fix,
        conditions,
        instrument,
        target,
        // A free station's level comes through the same instrument height, which cancels.
        sigma_instrument_height_m: 0.0,
    };
    let causes = if report.passes() {
        Vec::new()
    } else {
        find_blunders(&set_up, MOST_CAUSES)
    };
    let causes = causes
        .into_iter()
        .map(|blunder| blunder.finding.sentence)
        .collect();
    let checked = set.sights.iter().filter(|s| s.sighted_as == SightKind::Check);
    let checked = pair_faces(checked.map(|s| (s.target.as_str(), &s.sight)), set.angles);
    let tolerance = tolerance_of(set);
    let mut checks = Vec::new();
    for (name, rows) in checked {
        if control.iter().any(|c| c.id == name) {
            let says =
                format!("{name} is both control and check; a check must take no part in finding the station");
            return Err(refuse(says));
        }
        let known = point(name)?;
        let shot = shoot(&shots, name, &rows, set)?;
        checks.push(check_shot(&known, &shot, &tolerance));
    }
    findings.extend(checks.iter().flat_map(|check| check.findings.iter().cloned()));
    let check = outcome(survey::check_shot::verdict_of(&checks));
    Ok(SolvedStation {
        set: set.clone(),
        entry,
        set_up,
        report,
        shots,
        checks,
        check,
        findings: findings
            .iter()
            .map(|f| format!("{}: {}", f.place, f.sentence))
            .collect(),
        causes,
        grid_scale,
        air_ppm,
    })
}

impl SolvedStation {
    /// Reduces the sights of one point to a position in the site frame, with what is doubtful about them.
    ///
    /// # Errors
    /// A reading that does not read, with the row and the mend.
    pub fn shoot(&self, label: &str, rows: &[SightRow]) -> Result<(ShotPosition, Vec<String>), Refusal> {
        let position = shoot(&self.shots, label, rows, &self.set)?;
        let mut doubts = Vec::new();
        let sights: Vec<Sight> = rows
            .iter()
            .map(|row| sight_of(label, row, &self.set))
            .collect::<Result<_, _>>()?;
        let sights: Vec<&Sight> = sights.iter().collect();
        if let Ok(mean) = mean_faces(&sights) {
            let found = repeat_findings(&sights, &mean, &self.shots.instrument);
            doubts.extend(found.into_iter().map(|f| f.sentence));
        }
        for sight in sights {
            if let (Some(slope), Some(zenith)) = (sight.slope_m, sight.zenith_rad) {
                let found = sight_findings(label, slope, zenith, &SightLimits::default());
                doubts.extend(found.into_iter().map(|f| f.sentence));
            }
        }
        doubts.dedup();
        Ok((position, doubts))
    }

    /// Checks the station once more against a known point.
    ///
    /// # Errors
    /// As [`SolvedStation::shoot`].
    pub fn check_again(&self, known: &ControlPoint, rows: &[SightRow]) -> Result<CheckShot, Refusal> {
        let position = shoot(&self.shots, &known.id, rows, &self.set)?;
        Ok(check_shot(known, &position, &tolerance_of(&self.set)))
    }

    /// What everything measured from this station has to say, when it was not checked.
    pub fn unchecked(&self) -> Option<String> {
        let name = &self.set.station;
        let reason = self.set.unchecked_reason.as_deref().unwrap_or("no reason given");
        match self.check {
            CheckOutcome::Passed => None,
            CheckOutcome::Failed => Some(format!(
                "station {name} failed its check and was used all the same: {reason}"
            )),
            CheckOutcome::NotDone => Some(format!("station {name} was never checked: {reason}")),
        }
    }
}

fn shoot(
    shots: &ShotSetUp,
    label: &str,
    rows: &[SightRow],
    set: &StationSet,
) -> Result<ShotPosition, Refusal> {
    let row = rows.first().and_then(|r| r.row);
    let refuse = |says: String| Refusal::about("sight", &format!("sight to {label}"), says).at_row(row);
    let sights: Vec<Sight> = rows
        .iter()
        .map(|row| sight_of(label, row, set))
        .collect::<Result<_, _>>()?;
    let shot = shot_from_sights(&sights.iter().collect::<Vec<_>>(), &shots.conditions)
        .map_err(|e| refuse(e.to_string()))?;
    reduce_shot(shots, &shot).map_err(|e| refuse(e.to_string()))
}

fn sight_of(target: &str, row: &SightRow, set: &StationSet) -> Result<Sight, Refusal> {
    let refuse = |what: &str, says: String| {
        Refusal::about("reading", &format!("{what} to {target}"), says).at_row(row.row)
    };
    let angle = |what: &str, text: &Option<String>| match text {
        None => Ok(None),
        Some(text) => match set.angles.unit().read(text) {
            Ok(angle) => Ok(Some(angle.to_radians())),
            Err(error) => Err(refuse(what, error.to_string())),
        },
    };
    Ok(Sight {
        target: target.to_string(),
        face: row.face.map(|face| match face {
            FaceRead::Left => Face::Left,
            FaceRead::Right => Face::Right,
        }),
        direction_rad: angle("direction", &row.direction)?,
        zenith_rad: angle("zenith angle", &row.zenith)?,
        slope_m: row.slope_m.as_ref().map(Decimal::to_f64),
        target_height_m: row.target_height_m.to_f64(),
        prism_constant_m: row.prism_mm.to_f64() / 1000.0,
        round: 0,
    })
}

/// Fills in the positions of shots, to a tenth of a millimetre, from the station they were measured from.
///
/// # Errors
/// A reading that does not read, or a station without a level; with the row and the mend.
pub fn fill_positions(points: &mut [PointRow], solved: &SolvedStation, frame: &Frame) -> Result<(), Refusal> {
    for point in points {
        let Some(MeasuredFrom::Station { sights, .. }) = &point.measured else {
            continue;
        };
        let refuse = |says: String| {
            Refusal::about("no-level", &format!("point {}", point.point), says).at_row(point.row)
        };
        let (shot, _) = solved.shoot(&point.point, sights)?;
        let level = shot
            .level_m
            .ok_or_else(|| refuse("the station has no level; give its control levels".into()))?;
        let at = frame.grid(Vec3::new(shot.easting_m, shot.northing_m, level));
        let decimal = |value: f64| {
            format!("{value:.4}")
                .parse::<Decimal>()
                .map_err(|e| refuse(e.to_string()))
        };
        let (easting_m, northing_m, level_m) = (decimal(at.x)?, decimal(at.y)?, decimal(at.z)?);
        (point.easting_m, point.northing_m, point.level_m) = (easting_m, northing_m, level_m);
    }
    Ok(())
}

/// Returns the station that a point was measured from.
pub(crate) fn station_of(measured: &Option<MeasuredFrom>) -> Option<&str> {
    match measured {
        Some(MeasuredFrom::Station { station, .. }) => Some(station),
        _ => None,
    }
}

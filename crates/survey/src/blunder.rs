//! A wrong reading located, and its usual cause named.
//!
//! Each hypothesis (a distance wrong, two points swapped, feet for metres, ...) is mended in a copy of the set-up, which
//! is then solved afresh: the hypothesis that brings the sum of squares down farthest for the freedom it takes is
//! named, together with those that the readings cannot tell from it. Nothing is mended in the set-up itself.
//! The price of each freedom is our own choice, above the chi-square limits at 0.001 so that a simple cause is not
//! outdone by chance.

use std::f64::consts::PI;

use crate::blunder_words::describe;
use crate::finding::Finding;
use crate::observation::{Quantity, SetUp};
use crate::quantity::INTERNATIONAL_FOOT_M;
use crate::reduction::reduce_slope;
use crate::resection::half_turn;
use crate::start::find_start;
use crate::station::{StationError, StationFix, adjust_station, adjust_station_from, middle_turn};
use crate::station_report::{chi_square, station_report};

/// What may be wrong. Targets are places in [`SetUp::control`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Suspect {
    /// The distance to a point: prism constant, or another reflector.
    Distance {
        /// The point.
        target: usize,
    },
    /// The direction to a point: misread or mispointed.
    Direction {
        /// The point.
        target: usize,
    },
    /// The zenith angle to a point.
    Zenith {
        /// The point.
        target: usize,
    },
    /// The target height at a point, or the point's level.
    TargetHeight {
        /// The point.
        target: usize,
    },
    /// The plan position of a point: disturbed, mistyped, or another mark.
    PlanPosition {
        /// The point.
        target: usize,
    },
    /// A point in plan and level alike.
    Point {
        /// The point.
        target: usize,
    },
    /// Two points' names exchanged.
    Swapped {
        /// One of them.
        first: usize,
        /// The other.
        second: usize,
    },
    /// Another control point was sighted than the one booked.
    OtherPoint {
        /// The point booked.
        target: usize,
        /// The point that fits.
        actually: usize,
    },
    /// A direction read on the other face.
    Face {
        /// The point.
        target: usize,
    },
    /// One distance in feet, booked as metres.
    DistanceInFeet {
        /// The point.
        target: usize,
    },
    /// Every distance in feet against control in metres.
    AllDistancesInFeet,
    /// Every distance in metres against control in feet.
    ControlInFeet,
    /// Every distance off by one length: the prism constant.
    CommonConstant,
    /// Every distance off by one factor: air, grid factor or datum.
    CommonScale,
}

impl Suspect {
    /// Returns the control points it accuses; none when it accuses all alike.
    pub fn targets(&self) -> Vec<usize> {
        match *self {
            Suspect::Distance { target }
            | Suspect::Direction { target }
            | Suspect::Zenith { target }
            | Suspect::TargetHeight { target }
            | Suspect::PlanPosition { target }
            | Suspect::Point { target }
            | Suspect::OtherPoint { target, .. }
            | Suspect::Face { target }
            | Suspect::DistanceInFeet { target } => vec![target],
            Suspect::Swapped { first, second } => vec![first, second],
            Suspect::AllDistancesInFeet
            | Suspect::ControlInFeet
            | Suspect::CommonConstant
            | Suspect::CommonScale => Vec::new(),
        }
    }

    /// What the sum of squares must fall by before the hypothesis is worth its freedom.
    fn price(&self) -> f64 {
        match self {
            // A discrete cause fits by chance only if it hardly changes anything.
            Suspect::Face { .. }
            | Suspect::DistanceInFeet { .. }
            | Suspect::AllDistancesInFeet
            | Suspect::ControlInFeet => 7.0,
            Suspect::Swapped { .. } | Suspect::OtherPoint { .. } => 9.0,
            Suspect::Distance { .. }
            | Suspect::Direction { .. }
            | Suspect::Zenith { .. }
            | Suspect::TargetHeight { .. }
            | Suspect::CommonConstant => 11.0,
            Suspect::CommonScale => 13.0,
            Suspect::PlanPosition { .. } => 19.0,
            Suspect::Point { .. } => 27.0,
        }
    }
}

/// A hypothesis tried, and how well the readings fit once it is mended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trial {
    /// The hypothesis.
    pub suspect: Suspect,
    /// The sum of squares once mended.
    pub vtpv: f64,
    /// Degrees of freedom once mended.
    pub degrees_of_freedom: usize,
    /// The station once mended.
    pub fix: StationFix,
}

impl Trial {
    fn score(&self) -> f64 {
        self.vtpv + self.suspect.price()
    }
    /// Whether the rest of the readings agree once this is mended (chance 0.001).
    pub fn explains(&self) -> bool {
        chi_square(self.degrees_of_freedom).is_some_and(|chi| {
            use statrs::distribution::ContinuousCDF;
            chi.sf(self.vtpv) > 0.001
        })
    }
}

/// One blunder: the likeliest cause, and what cannot be told from it.
#[derive(Debug, Clone, PartialEq)]
pub struct Blunder {
    /// The likeliest hypothesis.
    pub best: Trial,
    /// Hypotheses that fit nearly as well: the readings do not tell them apart.
    pub also: Vec<Trial>,
    /// The sentence for a person.
    pub finding: Finding,
}

impl Blunder {
    /// Returns everything named: the best and what cannot be told from it.
    pub fn named(&self) -> impl Iterator<Item = Suspect> {
        std::iter::once(self.best.suspect).chain(self.also.iter().map(|t| t.suspect))
    }
}

/// Hypotheses within this much of the best are not told apart (odds of twenty to one).
const TELL_APART: f64 = 6.0;
/// Gross causes are tried only when the sum of squares says something gross happened.
const GROSS_VTPV: f64 = 100.0;
/// A variance that leaves a control level free, in square metres.
const FREE_LEVEL_M2: f64 = 1e4;

/// Looks for what is wrong with a set-up, one blunder after another.
///
/// Empty when the readings agree, or when nothing tried explains them better. A blunder that leaves the rest
/// disagreeing is followed by the next, up to `at_most`.
pub fn find_blunders(set_up: &SetUp, at_most: usize) -> Vec<Blunder> {
    let mut found: Vec<Blunder> = Vec::new();
    let mut current = set_up.clone();
    while found.len() < at_most {
        let Some((blunder, mended)) = find_one(&current) else {
            break;
        };
        let explained = blunder.best.explains();
        found.push(blunder);
        if explained {
            break;
        }
        current = mended;
    }
    // The first was found while the others still disturbed: look again with the others mended.
    if found.len() > 1 {
        for k in 0..found.len() {
            let mut others = set_up.clone();
            for blunder in found.iter().enumerate().filter(|(j, _)| *j != k) {
                if let Some((mended, _)) = mend(&others, blunder.1.best.suspect) {
                    others = mended;
                }
            }
            if let Some((again, _)) = find_one(&others) {
                found[k] = again;
            }
        }
    }
    found
}

/// Finds the likeliest cause and returns the set-up with it mended; `None` when the readings agree or nothing explains them.
fn find_one(set_up: &SetUp) -> Option<(Blunder, SetUp)> {
    let report = station_report(set_up).ok();
    if report.as_ref().is_some_and(|r| r.passes()) {
        return None;
    }
    let before = report.map_or(f64::INFINITY, |r| r.solution.vtpv);
    let mut trials: Vec<Trial> = hypotheses(set_up, before)
        .into_iter()
        .filter_map(|suspect| try_one(set_up, suspect))
        .filter(|trial| trial.degrees_of_freedom > 0 && trial.score() < before)
        .collect();
    trials.sort_by(|a, b| a.score().total_cmp(&b.score()));
    let best = *trials.first()?;
    let also: Vec<Trial> = trials[1..]
        .iter()
        .copied()
        .filter(|t| t.score() < best.score() + TELL_APART && !contains(t, &best))
        .collect();
    let finding = describe(set_up, &best, &also);
    let (mended, _) = mend(set_up, best.suspect)?;
    Some((Blunder { best, also, finding }, mended))
}

/// Whether a trial frees all that the best one frees and more, and so says nothing new.
fn contains(wider: &Trial, best: &Trial) -> bool {
    match (wider.suspect, best.suspect) {
        (Suspect::Point { target }, other) => other.targets() == [target],
        (
            Suspect::PlanPosition { target },
            Suspect::Distance { target: t } | Suspect::Direction { target: t },
        ) => target == t,
        _ => false,
    }
}

fn hypotheses(set_up: &SetUp, before: f64) -> Vec<Suspect> {
    let mut all = vec![Suspect::CommonConstant, Suspect::CommonScale];
    let targets: Vec<usize> = (0..set_up.control.len())
        .filter(|t| set_up.observations.iter().any(|o| o.to == *t))
        .collect();
    let gross = before > GROSS_VTPV;
    let places = if gross && set_up.control.len() > ALL_PAIRS_UP_TO {
        measured_places(set_up)
    } else {
        Vec::new()
    };
    if gross {
        all.extend([Suspect::AllDistancesInFeet, Suspect::ControlInFeet]);
    }
    for (k, target) in targets.iter().copied().enumerate() {
        all.extend([
            Suspect::Distance { target },
            Suspect::Direction { target },
            Suspect::Zenith { target },
            Suspect::TargetHeight { target },
            Suspect::PlanPosition { target },
            Suspect::Point { target },
        ]);
        if gross {
            all.extend([Suspect::Face { target }, Suspect::DistanceInFeet { target }]);
            let swaps = targets[k + 1..].iter().map(|second| Suspect::Swapped {
                first: target,
                second: *second,
            });
            let others = (0..set_up.control.len())
                .filter(|other| *other != target)
                .map(|actually| Suspect::OtherPoint { target, actually });
            all.extend(
                swaps
                    .chain(others)
                    .filter(|s| names_may_differ(&places, set_up, s)),
            );
        }
    }
    all
}

/// With more control than this, exchanged names are tried only where a measured place falls near the other point.
const ALL_PAIRS_UP_TO: usize = 12;
/// How near, in metres.
const NEAR_M: f64 = 1.0;

/// Whether two names are worth exchanging: with much control the majority places the station, and says so.
fn names_may_differ(places: &[Option<[f64; 2]>], set_up: &SetUp, suspect: &Suspect) -> bool {
    if set_up.control.len() <= ALL_PAIRS_UP_TO {
        return true;
    }
    let falls_on = |booked: usize, other: usize| {
        let point = &set_up.control[other];
        places[booked].is_none_or(|p| (p[0] - point.easting_m).hypot(p[1] - point.northing_m) < NEAR_M)
    };
    match *suspect {
        Suspect::Swapped { first, second } => falls_on(first, second) && falls_on(second, first),
        Suspect::OtherPoint { target, actually } => falls_on(target, actually),
        _ => true,
    }
}

/// Where the readings put each target from the place that most of them agree on.
fn measured_places(set_up: &SetUp) -> Vec<Option<[f64; 2]>> {
    let fix = find_start(set_up).ok().map(|start| {
        let turns: Vec<f64> = set_up
            .observations
            .iter()
            .filter(|o| o.quantity == Quantity::Direction && o.round == 0)
            .map(|o| {
                let p = &set_up.control[o.to];
                let (e, n) = (p.easting_m - start.place_m[0], p.northing_m - start.place_m[1]);
                e.atan2(n) - o.value
            })
            .collect();
        StationFix {
            easting_m: start.place_m[0],
            northing_m: start.place_m[1],
            level_m: start.level_m,
            orientation_rad: Some(middle_turn(&turns)),
            covariance: nalgebra::Matrix4::zeros(),
        }
    });
    (0..set_up.control.len())
        .map(|target| {
            let point = &set_up.control[target];
            let d = displaced(set_up, fix.as_ref()?, target)?;
            Some([point.easting_m + d[0], point.northing_m + d[1]])
        })
        .collect()
}

fn try_one(set_up: &SetUp, suspect: Suspect) -> Option<Trial> {
    let (mended, freed) = mend(set_up, suspect)?;
    let solution = match adjust_station(&mended) {
        // What is left may fit two places; the one where the whole set-up stands is meant.
        Err(StationError::Start(_)) => adjust_station_from(&mended, &find_start(set_up).ok()?).ok()?,
        other => other.ok()?,
    };
    Some(Trial {
        suspect,
        vtpv: solution.vtpv,
        degrees_of_freedom: solution.degrees_of_freedom().checked_sub(freed)?,
        fix: solution.fix,
    })
}

/// Returns the set-up with a hypothesis mended, and the freedom taken besides dropped readings.
pub(crate) fn mend(set_up: &SetUp, suspect: Suspect) -> Option<(SetUp, usize)> {
    let mut mended = set_up.clone();
    let readings = mended.observations.len();
    let mut freed = 0;
    let scale_lengths = |set_up: &mut SetUp, only: Option<usize>, factor: f64| {
        for o in &mut set_up.observations {
            if o.quantity.is_length() && only.is_none_or(|t| t == o.to) {
                o.value *= factor;
            }
        }
    };
    match suspect {
        Suspect::Distance { target } => mended
            .observations
            .retain(|o| o.to != target || !o.quantity.is_length()),
        Suspect::Direction { target } => mended
            .observations
            .retain(|o| o.to != target || o.quantity != Quantity::Direction),
        Suspect::Zenith { target } => mended
            .observations
            .retain(|o| o.to != target || o.quantity != Quantity::Zenith),
        Suspect::PlanPosition { target } => mended
            .observations
            .retain(|o| o.to != target || o.quantity == Quantity::Zenith),
        Suspect::Point { target } => mended.observations.retain(|o| o.to != target),
        Suspect::TargetHeight { target } => {
            if !set_up
                .observations
                .iter()
                .any(|o| o.to == target && o.quantity == Quantity::Zenith)
            {
                return None;
            }
            mended.control[target].covariance.hh_m2 += FREE_LEVEL_M2;
            freed = 1;
            // Its size is put in, so that a large one is not left to the linear model.
            let fix = adjust_station(&mended).ok()?.fix;
            let up = displaced(&mended, &fix, target).map_or(0.0, |d| d[2]);
            for o in mended.observations.iter_mut().filter(|o| o.to == target) {
                o.target_height_m += up;
            }
        }
        Suspect::Swapped { first, second } => {
            for o in &mut mended.observations {
                if o.to == first {
                    o.to = second;
                } else if o.to == second {
                    o.to = first;
                }
            }
        }
        Suspect::OtherPoint { target, actually } => {
            for o in mended.observations.iter_mut().filter(|o| o.to == target) {
                o.to = actually;
            }
        }
        Suspect::Face { target } => {
            for o in &mut mended.observations {
                if o.to == target && o.quantity == Quantity::Direction {
                    o.value = half_turn(o.value + PI);
                }
            }
        }
        Suspect::DistanceInFeet { target } => {
            scale_lengths(&mut mended, Some(target), INTERNATIONAL_FOOT_M);
        }
        Suspect::AllDistancesInFeet => scale_lengths(&mut mended, None, INTERNATIONAL_FOOT_M),
        Suspect::ControlInFeet => scale_lengths(&mut mended, None, 1.0 / INTERNATIONAL_FOOT_M),
        Suspect::CommonConstant | Suspect::CommonScale => {
            freed = 1;
            // Twice, because the size is estimated about a station that the error itself has moved.
            for _ in 0..2 {
                let report = station_report(&mended).ok()?;
                if suspect == Suspect::CommonScale {
                    scale_lengths(&mut mended, None, 1.0 + report.free_scale_ppm?.size * 1e-6);
                } else {
                    let constant = report.free_constant_m?.size;
                    for o in &mut mended.observations {
                        if o.quantity.is_length() {
                            o.value -= constant;
                        }
                    }
                }
            }
        }
    }
    let changed = mended != *set_up;
    let drops = matches!(
        suspect,
        Suspect::Distance { .. }
            | Suspect::Direction { .. }
            | Suspect::Zenith { .. }
            | Suspect::PlanPosition { .. }
            | Suspect::Point { .. }
    );
    let left_out = readings - mended.observations.len();
    (changed && (!drops || left_out > 0)).then_some((mended, freed))
}

/// Where the readings put a target, less where it is given: east, north, up (m).
pub(crate) fn displaced(set_up: &SetUp, fix: &StationFix, target: usize) -> Option<[f64; 3]> {
    let find = |wanted: fn(Quantity) -> bool| {
        set_up
            .observations
            .iter()
            .find(|o| o.to == target && wanted(o.quantity))
    };
    let point = &set_up.control[target];
    let direction = find(|q| q == Quantity::Direction)?;
    let length = find(Quantity::is_length)?;
    let zenith = find(|q| q == Quantity::Zenith);
    let (far, rise) = match (length.quantity, zenith) {
        (Quantity::SlopeDistance, Some(z)) => {
            let sight = reduce_slope(length.value, z.value, set_up.curvature);
            (sight.horizontal_distance_m, Some(sight.rise_m))
        }
        _ => (length.value, None),
    };
    let azimuth = fix.orientation_rad? + direction.value;
    let far = far * set_up.grid_scale;
    let up = rise
        .zip(fix.level_m)
        .zip(point.level_m)
        .map(|((r, z), h)| z + set_up.instrument_height_m + r - length.target_height_m - h);
    Some([
        fix.easting_m + far * azimuth.sin() - point.easting_m,
        fix.northing_m + far * azimuth.cos() - point.northing_m,
        up.unwrap_or(0.0),
    ])
}

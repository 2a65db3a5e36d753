//! The place of the instrument by weighted least squares: the free station.
//!
//! Unknowns: easting, northing (m), level of the station mark (m) when zenith angles to levelled control were read,
//! and one orientation (rad) for each round of directions. The scale is held fixed.
//! Directions are clockwise; azimuth(station to target) = orientation + direction. A zenith angle runs from the
//! instrument's axis (mark + instrument height) to the target (control + target height).
//! Source: the observation equations of any textbook on adjustment ([`crate::sources::GHILANI`]), from memory; checked against independent solutions in `tests/free_station.rs`.

use nalgebra::{Matrix4, SVector, Vector3};

use crate::adjustment::{Group, Linear, Row, covariance_root};
use crate::observation::{MAX_ROUNDS, Observation, ObservationError, Quantity, SetUp};
use crate::reduction::instrument_frame;
use crate::resection::half_turn;
use crate::start::{Start, StartError, find_start};
use crate::uncertainty::PointCovariance;

/// Why a station was not solved.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StationError {
    /// A figure cannot be used.
    #[error(transparent)]
    Observation(#[from] ObservationError),
    /// No first place was found.
    #[error(transparent)]
    Start(#[from] StartError),
    /// Fewer readings than unknowns.
    #[error("{observations} readings for {unknowns} unknowns; observe another control point")]
    TooFew {
        /// How many readings.
        observations: usize,
        /// How many unknowns.
        unknowns: usize,
    },
    /// The readings do not determine the unknowns.
    #[error(
        "the control points as seen from here do not fix the station: {why}; add a control point in another direction or measure distances"
    )]
    Undetermined {
        /// What about the geometry.
        why: &'static str,
    },
    /// The iteration did not settle.
    #[error("the adjustment did not settle; a reading or a point name is grossly wrong: look at each")]
    NotConverged,
}

/// The place of the instrument, its turn, and how well both are known.
///
/// All that a shot needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StationFix {
    /// Easting of the station mark, in metres.
    pub easting_m: f64,
    /// Northing of the station mark, in metres.
    pub northing_m: f64,
    /// Level of the station mark, in metres; `None` when only the plan was solved.
    pub level_m: Option<f64>,
    /// Turn of the first round's circle, in radians (0 to 2 pi); `None` without directions.
    pub orientation_rad: Option<f64>,
    /// Covariance of easting, northing, level, orientation (m, m, m, rad); zero rows where not solved.
    ///
    /// From the standard deviations as given (variance factor 1), not scaled by the residuals.
    pub covariance: Matrix4<f64>,
}

impl StationFix {
    /// Returns the covariance of the position alone.
    pub fn position_covariance(&self) -> PointCovariance {
        PointCovariance::from_matrix(&self.covariance.fixed_view::<3, 3>(0, 0).into_owned())
    }
    /// Returns the standard deviation of the orientation, in radians.
    pub fn orientation_sigma_rad(&self) -> f64 {
        self.covariance[(3, 3)].max(0.0).sqrt()
    }
}

/// A station with the sums that say how the readings fit.
#[derive(Debug, Clone, PartialEq)]
pub struct StationSolution {
    /// Place, turn and covariance.
    pub fix: StationFix,
    /// Turns of further rounds, in radians.
    pub further_orientations_rad: Vec<f64>,
    /// How many readings.
    pub observations: usize,
    /// How many unknowns.
    pub unknowns: usize,
    /// Weighted sum of squared residuals, the control's own included.
    pub vtpv: f64,
    /// How many steps it took.
    pub iterations: usize,
}

impl StationSolution {
    /// Returns the degrees of freedom.
    pub fn degrees_of_freedom(&self) -> usize {
        self.observations - self.unknowns
    }
}

/// Which unknowns there are, and where each stands.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Layout {
    pub space: bool,
    /// Place of each round's orientation among the unknowns.
    pub orientation: [Option<usize>; MAX_ROUNDS],
    pub unknowns: usize,
}

impl Layout {
    fn of(observations: &[Observation]) -> Self {
        let space = observations.iter().any(|o| o.quantity == Quantity::Zenith);
        let mut unknowns = if space { 3 } else { 2 };
        let mut orientation = [None; MAX_ROUNDS];
        for observation in observations {
            if observation.quantity == Quantity::Direction {
                orientation[observation.round] = Some(0);
            }
        }
        for place in orientation.iter_mut().flatten() {
            *place = unknowns;
            unknowns += 1;
        }
        Self {
            space,
            orientation,
            unknowns,
        }
    }
}

/// A solved adjustment with its linear system, from which the report is drawn.
#[derive(Debug, Clone)]
pub(crate) struct Solved<const U: usize> {
    pub linear: Linear<U>,
    pub layout: Layout,
    pub solution: StationSolution,
}

/// Runs a generic function for as many unknowns as the layout has.
macro_rules! with_unknowns {
    ($count:expr, $function:ident, $($argument:expr),*) => {
        match $count {
            2 => $function::<2>($($argument),*),
            3 => $function::<3>($($argument),*),
            4 => $function::<4>($($argument),*),
            5 => $function::<5>($($argument),*),
            6 => $function::<6>($($argument),*),
            _ => $function::<7>($($argument),*),
        }
    };
}
pub(crate) use with_unknowns;

/// Solves the station of a set-up; `station_report` also says how good it is.
///
/// # Accuracy
/// Agrees with two independent programs within 0.01 mm and 0.01 seconds (test `published_stations`).
/// # Errors
/// [`StationError`]; nothing is returned from a solution that did not settle.
pub fn adjust_station(set_up: &SetUp) -> Result<StationSolution, StationError> {
    set_up.check()?;
    let start = find_start(set_up)?;
    adjust_station_from(set_up, &start)
}

/// Solves the station from a given first place, where the readings alone leave two.
///
/// # Errors
/// [`StationError`].
pub fn adjust_station_from(set_up: &SetUp, start: &Start) -> Result<StationSolution, StationError> {
    set_up.check()?;
    let layout = checked_layout(set_up)?;
    with_unknowns!(layout.unknowns, solution_only, set_up, start, layout)
}

fn solution_only<const U: usize>(
    set_up: &SetUp,
    start: &Start,
    layout: Layout,
) -> Result<StationSolution, StationError> {
    solve::<U>(set_up, start, layout).map(|s| s.solution)
}

/// Returns which unknowns the readings call for, when there are enough of them.
pub(crate) fn checked_layout(set_up: &SetUp) -> Result<Layout, StationError> {
    let layout = Layout::of(&set_up.observations);
    let observations = set_up.observations.len();
    if observations < layout.unknowns {
        return Err(StationError::TooFew {
            observations,
            unknowns: layout.unknowns,
        });
    }
    Ok(layout)
}

/// Returns what a reading should be from a solved station, in its own unit; `None` when the station lacks what it needs.
///
/// A direction comes out between -pi and pi, of the first round.
pub fn computed_value(set_up: &SetUp, fix: &StationFix, observation: &Observation) -> Option<f64> {
    let point = set_up.control.get(observation.to)?;
    let (de, dn) = (point.easting_m - fix.easting_m, point.northing_m - fix.northing_m);
    let ground_distance = de.hypot(dn) / set_up.grid_scale;
    if observation.quantity == Quantity::HorizontalDistance {
        return Some(ground_distance);
    }
    if observation.quantity == Quantity::Direction {
        return Some(half_turn(de.atan2(dn) - fix.orientation_rad?));
    }
    let axis = fix.level_m? + set_up.instrument_height_m;
    let rise = point.level_m? + observation.target_height_m - axis;
    let (arm, up) = instrument_frame(ground_distance, rise, set_up.curvature);
    Some(if observation.quantity == Quantity::Zenith {
        arm.atan2(up)
    } else {
        arm.hypot(up)
    })
}

/// The most steps before the adjustment is called unsettled.
const MOST_STEPS: usize = 40;

pub(crate) fn solve<const U: usize>(
    set_up: &SetUp,
    start: &Start,
    layout: Layout,
) -> Result<Solved<U>, StationError> {
    let mut order: Vec<usize> = (0..set_up.observations.len()).collect();
    order.sort_by_key(|k| set_up.observations[*k].to);
    let mut linear = Linear::<U>::empty();
    lay_out_groups(set_up, &order, &mut linear);
    let mut x = first_unknowns::<U>(set_up, start, layout);
    let reach = reach(set_up, &order, start);
    let mut last: Option<(SVector<f64, U>, f64)> = None;
    let mut iterations = 0;
    loop {
        iterations += 1;
        if iterations > MOST_STEPS {
            return Err(StationError::NotConverged);
        }
        fill_rows(set_up, layout, &x, &mut linear);
        let step = linear.step().ok_or(undetermined(set_up))?;
        if let Some((before, vtpv)) = last
            && linear.vtpv > vtpv * (1.0 + 1e-6) + 1e-9
        {
            // Overshot: go back half the way.
            let half = (x - before) * 0.5;
            if half.amax() < 1e-9 {
                return Err(StationError::NotConverged);
            }
            x = before + half;
            continue;
        }
        last = Some((x, linear.vtpv));
        let mut step = step;
        let moved = step[0].hypot(step[1]);
        if moved > reach {
            // A step longer than the longest sight says nothing but its direction.
            step *= reach / moved;
        }
        x += step;
        let small = (0..U).all(|i| {
            let limit = if i < 2 || (layout.space && i == 2) {
                1e-6
            } else {
                1e-8
            };
            step[i].abs() < limit
        });
        if small {
            linear.apply(&step);
            break;
        }
    }
    linear.finish();
    let solution = solution(&linear, layout, &x, iterations);
    let position = solution.fix.position_covariance().plan().ellipse();
    if !x.iter().all(|v| v.is_finite()) || position.semi_major_sigma_m > 0.02 * reach {
        return Err(undetermined(set_up));
    }
    Ok(Solved {
        linear,
        layout,
        solution,
    })
}

/// The longest sight from the start, in metres.
fn reach(set_up: &SetUp, order: &[usize], start: &Start) -> f64 {
    order.iter().fold(0.0, |far: f64, k| {
        let point = &set_up.control[set_up.observations[*k].to];
        far.max((point.easting_m - start.place_m[0]).hypot(point.northing_m - start.place_m[1]))
    })
}

fn undetermined(set_up: &SetUp) -> StationError {
    let any_distance = set_up.observations.iter().any(|o| o.quantity.is_length());
    StationError::Undetermined {
        why: if any_distance {
            "they lie too nearly in one line or one narrow sector"
        } else {
            "with directions alone, station and control lie too nearly on one circle or line"
        },
    }
}

fn lay_out_groups<const U: usize>(set_up: &SetUp, order: &[usize], linear: &mut Linear<U>) {
    linear.rows.reserve(order.len());
    for (k, index) in order.iter().enumerate() {
        let observation = &set_up.observations[*index];
        match linear.groups.last_mut() {
            Some(group) if group.control == observation.to => group.end = k + 1,
            _ => {
                let root = covariance_root(&set_up.control[observation.to].covariance);
                linear.groups.push(Group::new(observation.to, k, k + 1, root));
            }
        }
        linear.rows.push(Row {
            a: SVector::zeros(),
            b: Vector3::zeros(),
            misfit: 0.0,
            weight: 1.0 / (observation.sigma * observation.sigma),
            rooted: Vector3::zeros(),
            observation: *index,
            is_length: observation.quantity.is_length(),
        });
    }
}

fn first_unknowns<const U: usize>(set_up: &SetUp, start: &Start, layout: Layout) -> SVector<f64, U> {
    let mut x = SVector::zeros();
    x[0] = start.place_m[0];
    x[1] = start.place_m[1];
    if layout.space {
        x[2] = start.level_m.unwrap_or(0.0);
    }
    for (round, place) in layout.orientation.iter().enumerate() {
        let Some(place) = *place else { continue };
        let turns: Vec<f64> = set_up
            .observations
            .iter()
            .filter(|o| o.quantity == Quantity::Direction && o.round == round)
            .map(|o| {
                let point = &set_up.control[o.to];
                (point.easting_m - x[0]).atan2(point.northing_m - x[1]) - o.value
            })
            .collect();
        x[place] = middle_turn(&turns);
    }
    x
}

/// The turn that the others lie nearest to, by the sum of differences: one wrong direction does not move it.
pub(crate) fn middle_turn(turns: &[f64]) -> f64 {
    let mut best = (f64::INFINITY, 0.0);
    for trial in turns {
        let sum: f64 = turns.iter().map(|t| half_turn(t - trial).abs()).sum();
        if sum < best.0 {
            best = (sum, *trial);
        }
    }
    best.1
}

/// Fills each row with its misfit and slopes at the place `x`.
fn fill_rows<const U: usize>(set_up: &SetUp, layout: Layout, x: &SVector<f64, U>, linear: &mut Linear<U>) {
    let inverse_scale = 1.0 / set_up.grid_scale;
    for group in &linear.groups {
        let point = &set_up.control[group.control];
        let (de, dn) = (point.easting_m - x[0], point.northing_m - x[1]);
        let square = de * de + dn * dn;
        let grid_distance = square.sqrt();
        let (ue, un) = (de / grid_distance, dn / grid_distance);
        let ground_distance = grid_distance * inverse_scale;
        for row in &mut linear.rows[group.start..group.end] {
            let observation = &set_up.observations[row.observation];
            let (computed, b) = match observation.quantity {
                Quantity::Direction => {
                    let place = layout.orientation[observation.round].unwrap_or(0);
                    row.a[place] = -1.0;
                    let b = Vector3::new(un / grid_distance, -ue / grid_distance, 0.0);
                    (de.atan2(dn) - x[place], b)
                }
                Quantity::HorizontalDistance => (
                    ground_distance,
                    Vector3::new(ue * inverse_scale, un * inverse_scale, 0.0),
                ),
                Quantity::Zenith | Quantity::SlopeDistance => {
                    let rise = point.level_m.unwrap_or(0.0) + observation.target_height_m
                        - x[2]
                        - set_up.instrument_height_m;
                    let (arm, up) = instrument_frame(ground_distance, rise, set_up.curvature);
                    let slope = arm.hypot(up);
                    let (sin_z, cos_z) = (arm / slope, up / slope);
                    if observation.quantity == Quantity::Zenith {
                        let k = cos_z / slope * inverse_scale;
                        (arm.atan2(up), Vector3::new(k * ue, k * un, -sin_z / slope))
                    } else {
                        let k = sin_z * inverse_scale;
                        (slope, Vector3::new(k * ue, k * un, cos_z))
                    }
                }
            };
            row.misfit = observation.value - computed;
            if !row.is_length {
                row.misfit = half_turn(row.misfit);
            }
            // The station moves a reading the opposite way from the control point.
            row.a[0] = -b[0];
            row.a[1] = -b[1];
            if layout.space {
                row.a[2] = -b[2];
            }
            row.b = b;
            if group.uncertain {
                row.rooted = group.root.transpose() * b;
            }
        }
    }
}

fn solution<const U: usize>(
    linear: &Linear<U>,
    layout: Layout,
    x: &SVector<f64, U>,
    iterations: usize,
) -> StationSolution {
    // Where each of easting, northing, level, orientation stands among the unknowns.
    let first_round = layout.orientation.iter().flatten().next().copied();
    let places = [Some(0), Some(1), layout.space.then_some(2), first_round];
    let mut covariance = Matrix4::zeros();
    for (i, pi) in places.iter().enumerate() {
        for (j, pj) in places.iter().enumerate() {
            if let (Some(pi), Some(pj)) = (pi, pj) {
                covariance[(i, j)] = linear.cofactor[(*pi, *pj)];
            }
        }
    }
    let turn = |place: usize| x[place].rem_euclid(std::f64::consts::TAU);
    StationSolution {
        fix: StationFix {
            easting_m: x[0],
            northing_m: x[1],
            level_m: layout.space.then(|| x[2]),
            orientation_rad: first_round.map(turn),
            covariance,
        },
        further_orientations_rad: layout
            .orientation
            .iter()
            .flatten()
            .skip(1)
            .map(|p| turn(*p))
            .collect(),
        observations: linear.rows.len(),
        unknowns: layout.unknowns,
        vtpv: linear.vtpv,
        iterations,
    }
}

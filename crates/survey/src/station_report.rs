//! How good a station is: residuals, tests, reliability and the 95 % figures.
//!
//! Standard deviations are a-priori (variance factor 1): a station whose readings happen to agree is not called better
//! than its instrument.
//! Redundancy numbers, standardized residuals (w-test) and reliability: [`crate::sources::BAARDA_1968`]; tests and their usual
//! levels from memory of the textbooks, the values checked against two independent programs.

use nalgebra::{Matrix2, Vector2, Vector3};
use statrs::distribution::{ChiSquared, ContinuousCDF};

use crate::adjustment::{Group, Linear};
use crate::observation::{Observation, SetUp};
use crate::start::{Start, find_start};
use crate::station::{Layout, Solved, StationError, StationSolution, checked_layout, solve, with_unknowns};
use crate::uncertainty::ErrorEllipse;

/// Chance of calling a good set of readings bad in the test of the whole.
pub const GLOBAL_ALPHA: f64 = 0.05;
/// A standardized residual beyond this is a blunder (chance 0.001 for a good reading).
pub const W_CRITICAL: f64 = 3.290_526_731_491_9;
/// Chi-square at 0.001 with 1, 2 and 3 degrees of freedom: beyond it a control point is called wrong.
pub const CONTROL_CRITICAL: [f64; 3] = [10.827_566_170_662_7, 13.815_510_557_964_3, 16.266_236_196_238_1];
/// How many sigmas an error must have to be found four times in five by the w-test at 0.001: 3.2905 + 0.8416.
pub const DETECTABLE_SIGMAS: f64 = 4.132_147_965_2;

/// The test of the whole: does the sum of squares fit the standard deviations that were given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GlobalTest {
    /// Weighted sum of squared residuals.
    pub vtpv: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Chance that good readings give a smaller sum.
    pub chance_below: f64,
}

impl GlobalTest {
    fn new(vtpv: f64, degrees_of_freedom: usize) -> Option<Self> {
        let chance_below = chi_square(degrees_of_freedom)?.cdf(vtpv);
        Some(Self {
            vtpv,
            degrees_of_freedom,
            chance_below,
        })
    }
    /// Whether the sum lies within the two-sided 95 % interval.
    pub fn is_accepted(&self) -> bool {
        self.chance_below > GLOBAL_ALPHA / 2.0 && self.chance_below < 1.0 - GLOBAL_ALPHA / 2.0
    }
    /// Whether the readings disagree more than they should (one-sided, 95 %).
    pub fn is_too_large(&self) -> bool {
        self.chance_below > 1.0 - GLOBAL_ALPHA
    }
    /// Whether they agree better than they should (two-sided, 95 %): the standard deviations may be too wide.
    pub fn is_too_small(&self) -> bool {
        self.chance_below <= GLOBAL_ALPHA / 2.0
    }
    /// Returns the two-sided 95 % interval of the sum of squares.
    pub fn interval(&self) -> (f64, f64) {
        chi_square(self.degrees_of_freedom).map_or((0.0, 0.0), |chi| {
            (
                chi.inverse_cdf(GLOBAL_ALPHA / 2.0),
                chi.inverse_cdf(1.0 - GLOBAL_ALPHA / 2.0),
            )
        })
    }
    /// Returns the a-posteriori variance factor.
    pub fn variance_factor(&self) -> f64 {
        self.vtpv / self.degrees_of_freedom as f64
    }
}

/// The chi-square distribution, or `None` for no freedom.
pub(crate) fn chi_square(degrees_of_freedom: usize) -> Option<ChiSquared> {
    ChiSquared::new(degrees_of_freedom as f64).ok()
}

/// How one reading fits, and how far an unseen error in it could move the station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// Which observation of the set-up.
    pub observation: usize,
    /// Adjusted minus observed, in radians or metres.
    pub residual: f64,
    /// Share of an error that shows in the reading's own residual, 0 to 1.
    pub redundancy: f64,
    /// Residual over its own standard deviation; `None` when nothing checks the reading.
    pub w: Option<f64>,
    /// Least error found four times in five, in radians or metres; `None` when nothing checks the reading.
    pub detectable: Option<f64>,
    /// How far that error would move the station in plan, in metres; `None` when there is no bound.
    pub plan_effect_m: Option<f64>,
    /// How far it would move the station's level, in metres.
    pub level_effect_m: Option<f64>,
}

impl Residual {
    /// Whether the w-test calls the reading a blunder.
    pub fn is_rejected(&self) -> bool {
        self.w.is_some_and(|w| w.abs() > W_CRITICAL)
    }
}

/// How a control point's coordinates fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ControlFit {
    /// Which control point of the set-up.
    pub control: usize,
    /// What the adjustment adds to its coordinates within their uncertainty (east, north, level), in metres.
    pub residual_m: [f64; 3],
    /// The test of its coordinates against all other readings; `None` when they cannot be checked.
    pub test: Option<ControlTest>,
}

/// The test of one control point against everything else.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ControlTest {
    /// What to add to the given coordinates (east, north, level) to make the point fit, in metres.
    pub shift_m: [f64; 3],
    /// Chi-square of that shift.
    pub statistic: f64,
    /// Its degrees of freedom: 2 in plan, 3 with level.
    pub dimensions: usize,
}

impl ControlTest {
    /// Returns the limit beyond which the point is called wrong.
    pub fn critical(&self) -> f64 {
        CONTROL_CRITICAL[self.dimensions.clamp(1, 3) - 1]
    }
    /// Whether the point is called wrong.
    pub fn is_rejected(&self) -> bool {
        self.statistic > self.critical()
    }
}

/// A figure that was left free once, for diagnosis only.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Diagnosis {
    /// Its size: ppm or metres.
    pub size: f64,
    /// Its standard deviation.
    pub sigma: f64,
}

impl Diagnosis {
    /// Returns the size in sigmas.
    pub fn w(&self) -> f64 {
        self.size / self.sigma
    }
}

/// A solved station with everything that says how good it is.
#[derive(Debug, Clone, PartialEq)]
pub struct StationReport {
    /// The station.
    pub solution: StationSolution,
    /// The test of the whole; `None` when no reading is left over.
    pub global: Option<GlobalTest>,
    /// One for each observation, in the set-up's order.
    pub residuals: Vec<Residual>,
    /// One for each control point that was sighted, in the set-up's order.
    pub control: Vec<ControlFit>,
    /// The station's plan ellipse, of one sigma.
    pub ellipse: ErrorEllipse,
    /// The scale that would fit best, less one, in ppm: below zero when the distances read too long.
    ///
    /// Never applied: it hides errors.
    pub free_scale_ppm: Option<Diagnosis>,
    /// The length that all distances together seem to read too long by, in metres. Never applied.
    pub free_constant_m: Option<Diagnosis>,
}

impl StationReport {
    /// Returns the 95 % radial figure of the station in plan, in metres.
    pub fn plan_u95_m(&self) -> f64 {
        crate::uncertainty::radial95(self.ellipse.semi_major_sigma_m)
    }
    /// Returns the 95 % figure of the station's level, in metres.
    pub fn level_u95_m(&self) -> Option<f64> {
        let sigma = self.solution.fix.position_covariance().level_sigma_m();
        self.solution
            .fix
            .level_m
            .map(|_| crate::uncertainty::u95_from_sigma(sigma))
    }
    /// Returns the residual of the largest standardized size.
    pub fn worst(&self) -> Option<&Residual> {
        self.residuals.iter().filter(|r| r.w.is_some()).max_by(|a, b| {
            let size = |r: &Residual| r.w.unwrap_or(0.0).abs();
            size(a).total_cmp(&size(b))
        })
    }
    /// Returns the reading whose unseen error could move the station farthest in plan, `None` when one has no bound.
    ///
    /// The external reliability of the station.
    pub fn reliability(&self) -> Option<&Residual> {
        if self.residuals.iter().any(|r| r.plan_effect_m.is_none()) {
            return None;
        }
        self.residuals.iter().max_by(|a, b| {
            let size = |r: &Residual| r.plan_effect_m.unwrap_or(0.0);
            size(a).total_cmp(&size(b))
        })
    }
    /// Whether no test found anything: the whole, every reading and every control point.
    pub fn passes(&self) -> bool {
        self.global.is_some_and(|g| !g.is_too_large())
            && !self.residuals.iter().any(Residual::is_rejected)
            && !self
                .control
                .iter()
                .any(|c| c.test.is_some_and(|t| t.is_rejected()))
    }
}

/// Solves a station and reports on it.
///
/// # Errors
/// [`StationError`]; nothing is returned from a solution that did not settle.
pub fn station_report(set_up: &SetUp) -> Result<StationReport, StationError> {
    set_up.check()?;
    let start = find_start(set_up)?;
    let layout = checked_layout(set_up)?;
    with_unknowns!(layout.unknowns, report, set_up, &start, layout)
}

fn report<const U: usize>(
    set_up: &SetUp,
    start: &Start,
    layout: Layout,
) -> Result<StationReport, StationError> {
    let Solved {
        linear,
        layout,
        solution,
    } = solve::<U>(set_up, start, layout)?;
    let mut residuals = Vec::with_capacity(linear.rows.len());
    let mut control = Vec::with_capacity(linear.groups.len());
    for group in &linear.groups {
        for k in group.start..group.end {
            residuals.push(residual(&linear, group, k, layout.space));
        }
        control.push(control_fit(
            &linear,
            group,
            layout.space,
            solution.degrees_of_freedom(),
        ));
    }
    residuals.sort_unstable_by_key(|r| r.observation);
    let computed = |o: &Observation| o.value;
    let scale = linear.one_error(|row, _| {
        if row.is_length {
            computed(&set_up.observations[row.observation]) * 1e-6
        } else {
            0.0
        }
    });
    let constant = linear.one_error(|row, _| if row.is_length { 1.0 } else { 0.0 });
    Ok(StationReport {
        global: GlobalTest::new(solution.vtpv, solution.degrees_of_freedom()),
        ellipse: solution.fix.position_covariance().plan().ellipse(),
        solution,
        residuals,
        control,
        free_scale_ppm: diagnosis(scale).map(|d| Diagnosis {
            // A distance that reads m too long asks for a scale of 1/(1 + m).
            size: (1.0 / (1.0 + d.size * 1e-6) - 1.0) * 1e6,
            ..d
        }),
        free_constant_m: diagnosis(constant),
    })
}

/// Below this share of its own weight an error cannot be seen: nothing checks it but rounding.
const SEEN_SHARE: f64 = 1e-7;

fn diagnosis((seen, checked, own): (f64, f64, f64)) -> Option<Diagnosis> {
    (checked > SEEN_SHARE * own && own > 0.0).then(|| Diagnosis {
        size: seen / checked,
        sigma: 1.0 / checked.sqrt(),
    })
}

fn residual<const U: usize>(linear: &Linear<U>, group: &Group<U>, k: usize, space: bool) -> Residual {
    let row = &linear.rows[k];
    let m = linear.m_diagonal(group, k);
    let redundancy = (m / row.weight).max(0.0);
    let checked = redundancy > SEEN_SHARE;
    let residual = -linear.me[k] / row.weight;
    let detectable = checked.then(|| DETECTABLE_SIGMAS / m.sqrt());
    let moved = linear.cofactor * linear.wa[k];
    Residual {
        observation: row.observation,
        residual,
        redundancy,
        w: checked.then(|| -linear.me[k] / m.sqrt()),
        detectable,
        plan_effect_m: detectable.map(|d| d * moved[0].hypot(moved[1])),
        level_effect_m: detectable.filter(|_| space).map(|d| d * moved[2].abs()),
    }
}

fn control_fit<const U: usize>(
    linear: &Linear<U>,
    group: &Group<U>,
    space: bool,
    degrees_of_freedom: usize,
) -> ControlFit {
    let (seen, checked, own) = linear.control_error(group);
    let residual = if group.uncertain {
        group.root * (group.root.transpose() * seen)
    } else {
        Vector3::zeros()
    };
    // A flat slope distance alone says next to nothing about a level.
    let levelled = space
        && linear.rows[group.start..group.end]
            .iter()
            .any(|r| !r.is_length && r.b[2] != 0.0);
    let test = if degrees_of_freedom < 2 {
        None
    } else if levelled {
        checked.cholesky().and_then(|c| {
            let l = c.l_dirty();
            let firm = (0..3).all(|i| l[(i, i)].powi(2) > SEEN_SHARE * own[(i, i)]);
            firm.then(|| {
                let shift = c.solve(&seen);
                ControlTest {
                    shift_m: shift.into(),
                    statistic: shift.dot(&seen),
                    dimensions: 3,
                }
            })
        })
    } else {
        let plan: Matrix2<f64> = checked.fixed_view::<2, 2>(0, 0).into_owned();
        let seen = Vector2::new(seen[0], seen[1]);
        plan.cholesky().and_then(|c| {
            let l = c.l_dirty();
            let firm = (0..2).all(|i| l[(i, i)].powi(2) > SEEN_SHARE * own[(i, i)]);
            firm.then(|| {
                let shift = c.solve(&seen);
                ControlTest {
                    shift_m: [shift[0], shift[1], 0.0],
                    statistic: shift.dot(&seen),
                    dimensions: 2,
                }
            })
        })
    };
    ControlFit {
        control: group.control,
        residual_m: residual.into(),
        test,
    }
}

//! The tie of a site grid to a map grid: a plane similarity through points known in both.
//!
//! Model, with a = s cos(theta), b = s sin(theta), theta anticlockwise:
//! `E = a x - b y + tx`, `N = b x + a y + ty` ([`crate::sources::GHILANI`], chapter 18). Levels are not
//! tied with it. Two points fit perfectly and prove nothing.

use crate::finding::Finding;
use crate::quantity::{INTERNATIONAL_FOOT_M, US_SURVEY_FOOT_M};

/// How far a scale may lie from the one expected before a person is asked, parts per million.
pub const SCALE_LIMIT_PPM: f64 = 50.0;
/// A misfit below this is rounding of coordinates and names nobody, m.
pub const MISFIT_WORTH_NAMING_M: f64 = 0.002;
/// How improbable a misfit must be among good points before its point is named, over all points together.
pub const OUTLIER_PROBABILITY: f64 = 0.01;

/// A point known in both grids, easting and northing.
#[derive(Debug, Clone, PartialEq)]
pub struct CommonPoint {
    /// The point's name, the same in both lists.
    pub name: String,
    /// Easting and northing on the site grid, m.
    pub local_m: [f64; 2],
    /// Easting and northing on the map grid, m.
    pub grid_m: [f64; 2],
}

/// Whether the scale is found by the fit or held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scale {
    /// Found by the fit.
    Free,
    /// Held at this value: 1, or the combined factor of the place.
    Held(f64),
}

/// What the person who ties a grid knows beforehand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TieOptions {
    /// Whether the scale is found or held.
    pub scale: Scale,
    /// The scale that should come out: 1 for grid distances, the combined factor for ground distances.
    pub expected_scale: f64,
    /// The residual above which a point is pointed out, m.
    pub residual_limit_m: f64,
}

impl Default for TieOptions {
    /// Scale free, 1 expected, residuals shown above 20 mm (common practice, from memory).
    fn default() -> TieOptions {
        TieOptions {
            scale: Scale::Free,
            expected_scale: 1.0,
            residual_limit_m: 0.020,
        }
    }
}

/// A plane similarity from site grid to map grid: turn, one scale, shift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Similarity {
    /// s cos(theta).
    pub a: f64,
    /// s sin(theta).
    pub b: f64,
    /// A place on the site grid, m, that is carried to `grid_origin_m`; kept apart so that no digit is lost.
    pub local_origin_m: [f64; 2],
    /// Where that place lies on the map grid, m.
    pub grid_origin_m: [f64; 2],
}

impl Similarity {
    /// Returns map grid easting and northing of a place on the site grid, m.
    pub fn to_grid(&self, local_m: [f64; 2]) -> [f64; 2] {
        let x = local_m[0] - self.local_origin_m[0];
        let y = local_m[1] - self.local_origin_m[1];
        [
            self.grid_origin_m[0] + self.a * x - self.b * y,
            self.grid_origin_m[1] + self.b * x + self.a * y,
        ]
    }
    /// Returns site grid easting and northing of a place on the map grid, m.
    pub fn to_local(&self, grid_m: [f64; 2]) -> [f64; 2] {
        let s2 = self.a * self.a + self.b * self.b;
        let e = grid_m[0] - self.grid_origin_m[0];
        let n = grid_m[1] - self.grid_origin_m[1];
        [
            self.local_origin_m[0] + (self.a * e + self.b * n) / s2,
            self.local_origin_m[1] + (self.a * n - self.b * e) / s2,
        ]
    }
    /// Returns the scale: map grid length over site grid length.
    pub fn scale(&self) -> f64 {
        self.a.hypot(self.b)
    }
    /// Returns the scale's excess over one, parts per million.
    pub fn scale_ppm(&self) -> f64 {
        (self.scale() - 1.0) * 1e6
    }
    /// Returns the turn from site to map grid, anticlockwise, radians.
    pub fn rotation_rad(&self) -> f64 {
        self.b.atan2(self.a)
    }
    /// Returns where the site grid's nought lies on the map grid, m: tx and ty of the model.
    pub fn translation_m(&self) -> [f64; 2] {
        self.to_grid([0.0, 0.0])
    }
}

/// What is left over at one common point: transformed minus given.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanResidual {
    /// The point.
    pub name: String,
    /// Easting, m.
    pub d_easting_m: f64,
    /// Northing, m.
    pub d_northing_m: f64,
}

impl PlanResidual {
    /// Returns its length in plan, m.
    pub fn plan_m(&self) -> f64 {
        self.d_easting_m.hypot(self.d_northing_m)
    }
}

/// A fitted tie with everything that shows how good it is.
#[derive(Debug, Clone, PartialEq)]
pub struct GridTie {
    /// The tie itself.
    pub similarity: Similarity,
    /// One residual a point, in the order given.
    pub residuals: Vec<PlanResidual>,
    /// Coordinates beyond those needed; 0 means that nothing was checked.
    pub degrees_of_freedom: usize,
    /// Root of the residuals' sum of squares over the number of points, m.
    pub rms_m: f64,
    /// Standard deviation of one coordinate, m; none when nothing was checked.
    pub sigma0_m: Option<f64>,
    /// Standard deviation of the scale, ppm; none when it was held or nothing was checked.
    pub sigma_scale_ppm: Option<f64>,
    spread_m2: f64,
}

impl GridTie {
    /// Returns the standard deviation along each axis that the tie adds at a place on the site grid, m.
    ///
    /// None when nothing was checked. It grows with the distance from the points' middle; outside their
    /// hull it is an extrapolation.
    pub fn sigma_at_m(&self, local_m: [f64; 2]) -> Option<f64> {
        let [x, y] = self.similarity.local_origin_m;
        let r2 = (local_m[0] - x).powi(2) + (local_m[1] - y).powi(2);
        let points = self.residuals.len() as f64;
        let sigma0_m = self.sigma0_m?;
        Some(sigma0_m * (1.0 / points + r2 / self.spread_m2).sqrt())
    }
    /// Returns whether the fit could have shown a wrong point.
    pub fn is_checked(&self) -> bool {
        self.degrees_of_freedom > 0
    }
}

/// A tie could not be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TieError {
    /// Fewer than two common points.
    #[error("{count} common point(s) do not tie a grid; give two, or three and more to check the tie")]
    TooFewPoints {
        /// How many were given.
        count: usize,
    },
    /// A name stands twice.
    #[error("point {name} is given twice; keep the right one or rename the other")]
    NameTwice {
        /// The name.
        name: String,
    },
    /// A coordinate is not a finite number.
    #[error("point {name}: a coordinate is not a finite number")]
    NotFinite {
        /// The point.
        name: String,
    },
    /// All points lie in one place, so no turn can be found.
    #[error(
        "the common points of the {list} list lie within {spread_m} m of each other; no turn can be found from them"
    )]
    OnePlace {
        /// Which list: `site` or `map`.
        list: &'static str,
        /// The root of their mean squared distance from the middle, m.
        spread_m: f64,
    },
    /// The scale to hold, or the one expected, is not a positive number.
    #[error("a scale of {0} cannot be held or expected; give a positive number near 1")]
    BadScale(f64),
}

/// Ties a site grid to a map grid through two or more common points by least squares.
///
/// All coordinates weigh alike. Findings: `two-points-unchecked`, `feet-against-metres`,
/// `scale-off`, `scale-not-proved`, `columns-swapped`, `point-suspect`, `residual-over-limit`.
///
/// # Accuracy
/// Parameters within 1e-9 and residuals within 1e-6 m of an independent solution (`tests/site_tie.rs`).
/// # Errors
/// [`TieError`]; nothing is fitted.
pub fn tie_grid(points: &[CommonPoint], options: &TieOptions) -> Result<(GridTie, Vec<Finding>), TieError> {
    check(points, options)?;
    let tie = fit(points, options.scale);
    let mut findings = Vec::new();
    if points.len() == 2 {
        findings.push(Finding::new(
            "two-points-unchecked",
            "grid tie",
            "two points fit whatever they are, so nothing is checked: not the names, the order of easting and northing, nor the turn; observe a third",
        ));
    }
    let feet = scale_findings(points, options, &mut findings);
    if tie.is_checked() && points.len() > 2 {
        let swapped = is_better_swapped(points, &tie, options.scale);
        if swapped {
            findings.push(Finding::new(
                "columns-swapped",
                "grid tie",
                "with easting and northing of the site list exchanged the points fit better: one list has its columns swapped, or the plan is a mirror image",
            ));
        } else if !feet {
            point_findings(points, &tie, options, &mut findings);
        }
    }
    Ok((tie, findings))
}

/// Returns the point whose leaving out mends the tie, with the probability of such a misfit by chance.
///
/// Leaving out one point takes two coordinates away, so with d degrees of freedom left the drop follows F
/// with 2 and d, whose tail is `(SS_without / SS_all)^(d / 2)` ([`crate::sources::F_TWO_DEGREES`]); it is
/// counted once for each point tried. None where the others would
/// be checked by less than two coordinates: one distance that happens to agree accuses nobody.
pub fn suspect_point(points: &[CommonPoint], scale: Scale) -> Option<Suspect> {
    let all = fit(points, scale);
    let left = all.degrees_of_freedom.checked_sub(2).filter(|d| *d > 1)?;
    let sum_all = sum_of_squares(&all);
    let mut suspect: Option<Suspect> = None;
    for (index, point) in points.iter().enumerate() {
        let mut others = points.to_vec();
        others.remove(index);
        if spread_m2(&others, |p| p.local_m) <= 0.0 {
            continue;
        }
        let tie = fit(&others, scale);
        let sigma0_m = tie.sigma0_m?;
        if suspect.as_ref().is_some_and(|s| s.sigma0_without_m <= sigma0_m) {
            continue;
        }
        let expected = tie.similarity.to_grid(point.local_m);
        let ratio = if sum_all > 0.0 {
            sum_of_squares(&tie) / sum_all
        } else {
            1.0
        };
        suspect = Some(Suspect {
            index,
            name: point.name.clone(),
            misfit_m: (expected[0] - point.grid_m[0]).hypot(expected[1] - point.grid_m[1]),
            sigma0_without_m: sigma0_m,
            probability: (points.len() as f64 * ratio.powf(left as f64 / 2.0)).min(1.0),
        });
    }
    suspect
}

/// The point that fits the others worst.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspect {
    /// Its place in the list.
    pub index: usize,
    /// Its name.
    pub name: String,
    /// How far it lies from where the others put it, m.
    pub misfit_m: f64,
    /// Standard deviation of one coordinate without it, m.
    pub sigma0_without_m: f64,
    /// The chance of as large a drop among good points, over all points tried.
    pub probability: f64,
}

fn check(points: &[CommonPoint], options: &TieOptions) -> Result<(), TieError> {
    if points.len() < 2 {
        return Err(TieError::TooFewPoints { count: points.len() });
    }
    for (index, point) in points.iter().enumerate() {
        if !point.local_m.iter().chain(&point.grid_m).all(|c| c.is_finite()) {
            return Err(TieError::NotFinite {
                name: point.name.clone(),
            });
        }
        if points[..index].iter().any(|other| other.name == point.name) {
            return Err(TieError::NameTwice {
                name: point.name.clone(),
            });
        }
    }
    let held = match options.scale {
        Scale::Free => 1.0,
        Scale::Held(scale) => scale,
    };
    for scale in [held, options.expected_scale] {
        if !(scale.is_finite() && scale > 0.0) {
            return Err(TieError::BadScale(scale));
        }
    }
    for (list, spread) in [
        ("site", spread_m2(points, |p| p.local_m)),
        ("map", spread_m2(points, |p| p.grid_m)),
    ] {
        let spread_m = (spread / points.len() as f64).sqrt();
        if spread_m < MISFIT_WORTH_NAMING_M {
            return Err(TieError::OnePlace { list, spread_m });
        }
    }
    Ok(())
}

fn middle(points: &[CommonPoint], of: impl Fn(&CommonPoint) -> [f64; 2]) -> [f64; 2] {
    // Taken from the first point, so that far-off origins cost no digits.
    let first = of(&points[0]);
    let count = points.len() as f64;
    let mean = |axis: usize| points.iter().map(|p| of(p)[axis] - first[axis]).sum::<f64>() / count;
    [first[0] + mean(0), first[1] + mean(1)]
}

fn spread_m2(points: &[CommonPoint], of: impl Fn(&CommonPoint) -> [f64; 2]) -> f64 {
    let centre = middle(points, &of);
    let squared = |p: &CommonPoint| {
        let [x, y] = of(p);
        (x - centre[0]).powi(2) + (y - centre[1]).powi(2)
    };
    points.iter().map(squared).sum()
}

fn fit(points: &[CommonPoint], scale: Scale) -> GridTie {
    let local_origin_m = middle(points, |p| p.local_m);
    let grid_origin_m = middle(points, |p| p.grid_m);
    let (mut along, mut across, mut spread_m2) = (0.0, 0.0, 0.0);
    for point in points {
        let x = point.local_m[0] - local_origin_m[0];
        let y = point.local_m[1] - local_origin_m[1];
        let e = point.grid_m[0] - grid_origin_m[0];
        let n = point.grid_m[1] - grid_origin_m[1];
        along += x * e + y * n;
        across += x * n - y * e;
        spread_m2 += x * x + y * y;
    }
    let (a, b) = match scale {
        Scale::Free => (along / spread_m2, across / spread_m2),
        // The best turn does not depend on the scale.
        Scale::Held(s) => {
            let (sin, cos) = across.atan2(along).sin_cos();
            (s * cos, s * sin)
        }
    };
    let similarity = Similarity {
        a,
        b,
        local_origin_m,
        grid_origin_m,
    };
    let residuals: Vec<PlanResidual> = points
        .iter()
        .map(|point| {
            let [e, n] = similarity.to_grid(point.local_m);
            PlanResidual {
                name: point.name.clone(),
                d_easting_m: e - point.grid_m[0],
                d_northing_m: n - point.grid_m[1],
            }
        })
        .collect();
    let unknowns = match scale {
        Scale::Free => 4,
        Scale::Held(_) => 3,
    };
    let degrees_of_freedom = 2 * points.len() - unknowns;
    let sum: f64 = residuals.iter().map(|r| r.plan_m().powi(2)).sum();
    let sigma0_m = (degrees_of_freedom > 0).then(|| (sum / degrees_of_freedom as f64).sqrt());
    let sigma_scale_ppm = match scale {
        Scale::Free => sigma0_m.map(|sigma0| 1e6 * sigma0 / spread_m2.sqrt()),
        Scale::Held(_) => None,
    };
    GridTie {
        similarity,
        rms_m: (sum / points.len() as f64).sqrt(),
        residuals,
        degrees_of_freedom,
        sigma0_m,
        sigma_scale_ppm,
        spread_m2,
    }
}

fn sum_of_squares(tie: &GridTie) -> f64 {
    tie.rms_m * tie.rms_m * tie.residuals.len() as f64
}

fn is_better_swapped(points: &[CommonPoint], tie: &GridTie, scale: Scale) -> bool {
    let swapped: Vec<CommonPoint> = points
        .iter()
        .map(|point| CommonPoint {
            local_m: [point.local_m[1], point.local_m[0]],
            ..point.clone()
        })
        .collect();
    fit(&swapped, scale).rms_m < tie.rms_m
}

/// Returns whether the two lists look to be in different units.
fn scale_findings(points: &[CommonPoint], options: &TieOptions, findings: &mut Vec<Finding>) -> bool {
    // A held scale hides a wrong unit, so the free one is looked at either way.
    let free = fit(points, Scale::Free);
    let scale = free.similarity.scale();
    let off_ppm = (scale / options.expected_scale - 1.0) * 1e6;
    let near = |ratio: f64| (scale / options.expected_scale / ratio - 1.0).abs() < 1e-3;
    for (ratio, sentence) in [
        (
            INTERNATIONAL_FOOT_M,
            "the site list is in feet and the map list in metres; which foot, the scale cannot tell",
        ),
        (
            1.0 / US_SURVEY_FOOT_M,
            "the site list is in metres and the map list in feet; which foot, the scale cannot tell",
        ),
        (
            0.001,
            "the site list is in millimetres and the map list in metres",
        ),
        (
            1000.0,
            "the site list is in metres and the map list in millimetres",
        ),
    ] {
        if near(ratio) {
            let code = if (0.01..100.0).contains(&ratio) {
                "feet-against-metres"
            } else {
                "millimetres-against-metres"
            };
            let sentence = format!("the scale is {scale:.6}: {sentence}");
            findings.push(Finding::new(code, "grid tie", sentence));
            return true;
        }
    }
    // With two points no sigma exists, and the scale stands as it is.
    let sigma_ppm = free.sigma_scale_ppm.unwrap_or(0.0);
    if off_ppm.abs() > SCALE_LIMIT_PPM && off_ppm.abs() > 3.0 * sigma_ppm {
        findings.push(Finding::new(
            "scale-off",
            "grid tie",
            format!(
                "the points want a scale {off_ppm:+.0} ppm off the {:.6} expected, and more than {SCALE_LIMIT_PPM:.0} ppm means a missed grid factor, a prism constant, a wrong point or a wrong system; find out which before using the tie",
                options.expected_scale
            ),
        ));
    } else if 3.0 * sigma_ppm > SCALE_LIMIT_PPM {
        findings.push(Finding::new(
            "scale-not-proved",
            "grid tie",
            format!(
                "the points fix the scale only to {sigma_ppm:.0} ppm (one sigma), too loosely to check it against {:.6}; tie points farther apart, or hold the scale",
                options.expected_scale
            ),
        ));
    }
    false
}

fn point_findings(points: &[CommonPoint], tie: &GridTie, options: &TieOptions, findings: &mut Vec<Finding>) {
    let suspect = suspect_point(points, options.scale).filter(|suspect| {
        suspect.probability < OUTLIER_PROBABILITY && suspect.misfit_m > MISFIT_WORTH_NAMING_M
    });
    if let Some(suspect) = suspect {
        let misfit_mm = suspect.misfit_m * 1000.0;
        findings.push(Finding::new(
            "point-suspect",
            suspect.name,
            format!(
                "lies {misfit_mm:.0} mm from where the other points put it, and they agree without it; check it was the right mark, then leave it out or observe it again"
            ),
        ));
    }
    for residual in &tie.residuals {
        if residual.plan_m() > options.residual_limit_m {
            let plan_mm = residual.plan_m() * 1000.0;
            let limit_mm = options.residual_limit_m * 1000.0;
            findings.push(Finding::new(
                "residual-over-limit",
                residual.name.clone(),
                format!("a residual of {plan_mm:.0} mm is over the limit of {limit_mm:.0} mm; one of the points is wrong, and this need not be the one"),
            ));
        }
    }
}

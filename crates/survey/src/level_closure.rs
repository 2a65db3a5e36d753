//! How a levelling run closes: its misclosure against a limit, the spreading of it, and what each level is
//! then worth.
//!
//! The limit is `k sqrt(K)`, K in kilometres, or `k sqrt(n)`, n set-ups; k is the person's own (published
//! and customary figures differ by a factor of five). Whether a misclosure is within its limit is decided
//! on exact numbers: exactly on the limit is within. Source: [`crate::sources::LEVELLING_PRACTICE`].

use crate::decimal::{Decimal, Exact};
use crate::finding::Finding;
use crate::level_book::{LevelBook, LevelBookError, ReducedBook};

/// What a misclosure may amount to.
#[derive(Debug, Clone, PartialEq)]
pub enum Allowable {
    /// `k sqrt(K)`, K the length of the run in kilometres.
    PerRootKilometre {
        /// k, mm.
        k_mm: Decimal,
    },
    /// `k sqrt(n)`, n the number of set-ups.
    PerRootSetup {
        /// k, mm.
        k_mm: Decimal,
    },
}

/// How a misclosure within its limit is spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Distribution {
    /// Not at all: levels stay as read.
    NotSpread,
    /// In proportion to the set-ups passed.
    BySetups,
    /// In proportion to the distance passed.
    ByDistance,
}

/// How good one step of the levelling is, one sigma, as declared by the person or for the instrument.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LevelPrecision {
    /// Of the height difference found in one set-up, mm.
    PerSetup {
        /// One sigma, mm.
        sigma_mm: f64,
    },
    /// Of a kilometre levelled once, mm.
    PerRootKilometre {
        /// One sigma, mm.
        sigma_mm: f64,
    },
}

/// What the person decides about a run.
#[derive(Debug, Clone, PartialEq)]
pub struct LevellingOptions {
    /// The limit; without one a misclosure is shown and not judged.
    pub allowable: Option<Allowable>,
    /// The length of the run in kilometres, where not every distance was booked.
    pub length_km: Option<Decimal>,
    /// How a misclosure within its limit is spread.
    pub distribution: Distribution,
    /// How good a step is; without it no level has an uncertainty.
    pub precision: Option<LevelPrecision>,
}

impl Default for LevellingOptions {
    /// Nothing decided: not judged, not spread, precision not known.
    fn default() -> LevellingOptions {
        LevellingOptions {
            allowable: None,
            length_km: None,
            distribution: Distribution::NotSpread,
            precision: None,
        }
    }
}

/// Whether a run came back to something known, and how well.
#[derive(Debug, Clone, PartialEq)]
pub enum Closure {
    /// It ended on a point of unknown level: nothing is checked.
    Open,
    /// It ended on a known level.
    Closed(Misclosure),
}

/// What a run closed with.
#[derive(Debug, Clone, PartialEq)]
pub struct Misclosure {
    /// Computed less known, in the book's unit, exact.
    pub misclosure: Exact,
    /// The same in mm, for reading.
    pub misclosure_mm: f64,
    /// The limit in mm; none where it was not judged.
    pub allowable_mm: Option<f64>,
    /// The verdict.
    pub verdict: ClosureVerdict,
    /// How it was spread.
    pub spread: Distribution,
}

/// What the limit says about a misclosure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClosureVerdict {
    /// Within, or exactly on, the limit.
    Within,
    /// Over the limit: the levels prove nothing until the run is found right.
    Over,
    /// No limit, or no length to take it over, was given.
    NotJudged,
}

/// Returns every level with the misclosure spread, in the book's unit, whatever the verdict was.
///
/// Level less misclosure times the share of the run passed; an intermediate sight shares with its set-up.
/// For looking at: [`crate::level_book::reduce_level_book`] uses it only within the limit.
/// # Errors
/// [`LevelBookError::DistanceMissing`] when spreading by distance without every distance.
pub fn spread_misclosure(
    reduced: &ReducedBook,
    misclosure: Exact,
    distribution: Distribution,
) -> Result<Vec<f64>, LevelBookError> {
    let shares = shares(reduced, distribution)?;
    let spread = |(row, share): (&crate::level_book::ReducedRow, &(Exact, Exact))| {
        let (part, whole) = *share;
        let exactly = || {
            let level = row.level.checked_mul(whole)?;
            level.checked_sub(misclosure.checked_mul(part)?)
        };
        match exactly() {
            // Over one denominator the only rounding is the last division.
            Some(numerator) => numerator.to_f64() / whole.to_f64(),
            None => row.level.to_f64() - misclosure.to_f64() * part.to_f64() / whole.to_f64(),
        }
    };
    Ok(reduced.rows.iter().zip(&shares).map(spread).collect())
}

pub(crate) fn close(
    reduced: &mut ReducedBook,
    book: &LevelBook,
    options: &LevellingOptions,
    findings: &mut Vec<Finding>,
) -> Result<(), LevelBookError> {
    check_options(options)?;
    let length = Length::of(reduced, options);
    let unit = reduced.unit;
    let first = &book.rows[0];
    let last = reduced.rows.len() - 1;
    let closes_on = reduced.rows[last].known_level.or_else(|| {
        let returns = reduced.rows[last].point == first.point;
        returns.then_some(reduced.rows[0].level)
    });
    let misclosure = closes_on.map(|known| {
        let misclosure = reduced.rows[last].level - known;
        let (allowable_mm, verdict) = judge(misclosure, reduced, options, &length);
        Misclosure {
            misclosure,
            misclosure_mm: misclosure.to_f64() * unit.metres() * 1000.0,
            allowable_mm,
            verdict,
            spread: Distribution::NotSpread,
        }
    });
    let place = format!("row {}", reduced.rows[last].row);
    match misclosure {
        None => findings.push(Finding::new(
            "run-not-closed",
            place,
            format!("the run ends on {} whose level is not known, so a misread staff would not show; level back to a bench mark", reduced.rows[last].point),
        )),
        Some(mut closed) => {
            closing_finding(&closed, place, findings);
            if closed.verdict == ClosureVerdict::Within
                && options.distribution != Distribution::NotSpread
            {
                let adjusted = spread_misclosure(reduced, closed.misclosure, options.distribution)?;
                for (row, adjusted) in reduced.rows.iter_mut().zip(adjusted) {
                    row.adjusted = Some(adjusted);
                    row.level_m = adjusted * unit.metres();
                }
                closed.spread = options.distribution;
            }
            reduced.closure = Closure::Closed(closed);
        }
    }
    let limit_mm = match &reduced.closure {
        Closure::Closed(closed) => closed.allowable_mm,
        Closure::Open => None,
    };
    for row in 1..last {
        let Some(known) = reduced.rows[row].known_level else {
            continue;
        };
        let off = reduced.rows[row].level - known;
        let off_mm = off.to_f64() * unit.metres() * 1000.0;
        if off_mm.abs() > limit_mm.unwrap_or(crate::level_book::REPEAT_LIMIT_M * 1000.0) {
            findings.push(Finding::new(
                "known-level-differs",
                format!("row {}", reduced.rows[row].row),
                format!("{} comes out {off_mm:+.1} mm from its known level; the mark, its level or a reading is wrong", reduced.rows[row].point),
            ));
        }
    }
    give_sigmas(reduced, options, &length, findings)
}

/// The length of a run as an exact number of kilometres times a fraction.
struct Length {
    number: Exact,
    numerator: i128,
    denominator: i128,
}

impl Length {
    fn of(reduced: &ReducedBook, options: &LevellingOptions) -> Option<Length> {
        if let Some(km) = &options.length_km {
            return Some(Length {
                number: km.exact(),
                numerator: 1,
                denominator: 1,
            });
        }
        let (numerator, denominator) = reduced.unit.metres_as_fraction();
        let legs = reduced.leg_lengths.as_ref()?;
        Some(Length {
            number: legs.iter().copied().sum(),
            numerator,
            denominator: denominator * 1000,
        })
    }
    fn km(&self) -> f64 {
        self.number.to_f64() * self.numerator as f64 / self.denominator as f64
    }
}

fn check_options(options: &LevellingOptions) -> Result<(), LevelBookError> {
    let bad = |what: &'static str, value: String| LevelBookError::BadOption { what, value };
    if let Some(Allowable::PerRootKilometre { k_mm } | Allowable::PerRootSetup { k_mm }) = &options.allowable
        && k_mm.exact().signum() <= 0
    {
        return Err(bad("a limit k", k_mm.to_string()));
    }
    if let Some(km) = &options.length_km
        && km.exact().signum() <= 0
    {
        return Err(bad("a length", km.to_string()));
    }
    if let Some(LevelPrecision::PerSetup { sigma_mm } | LevelPrecision::PerRootKilometre { sigma_mm }) =
        options.precision
        && !(sigma_mm.is_finite() && sigma_mm > 0.0)
    {
        return Err(bad("a sigma", sigma_mm.to_string()));
    }
    Ok(())
}

fn judge(
    misclosure: Exact,
    reduced: &ReducedBook,
    options: &LevellingOptions,
    length: &Option<Length>,
) -> (Option<f64>, ClosureVerdict) {
    let setups = Length {
        number: Exact::whole(reduced.setups as i64),
        numerator: 1,
        denominator: 1,
    };
    let (k_mm, over) = match (&options.allowable, length) {
        (Some(Allowable::PerRootSetup { k_mm }), _) => (k_mm, &setups),
        (Some(Allowable::PerRootKilometre { k_mm }), Some(length)) => (k_mm, length),
        _ => return (None, ClosureVerdict::NotJudged),
    };
    let allowable_mm = k_mm.to_f64() * over.km().sqrt();
    let (metre, per) = reduced.unit.metres_as_fraction();
    // |m| <= k sqrt(K), squared and cleared of fractions so that it is decided exactly.
    let exactly = || {
        let whole = |n: i128| i64::try_from(n).ok().map(Exact::whole);
        let mm = misclosure.checked_mul(whole(metre * 1000)?)?;
        let left = mm.checked_mul(mm)?.checked_mul(whole(over.denominator)?)?;
        let k = k_mm.exact();
        let right = k.checked_mul(k)?.checked_mul(over.number)?;
        let right = right.checked_mul(whole(over.numerator)?)?;
        left.checked_le(right.checked_mul(whole(per * per)?)?)
    };
    let misclosure_mm = misclosure.to_f64().abs() * reduced.unit.metres() * 1000.0;
    // Numbers too long for that are no field readings; on the limit they then count as over it.
    let within = exactly().unwrap_or(misclosure_mm < allowable_mm * (1.0 - 1e-12));
    let verdict = if within {
        ClosureVerdict::Within
    } else {
        ClosureVerdict::Over
    };
    (Some(allowable_mm), verdict)
}

fn closing_finding(closed: &Misclosure, place: String, findings: &mut Vec<Finding>) {
    let off_mm = closed.misclosure_mm;
    match (closed.verdict, closed.allowable_mm) {
        (ClosureVerdict::Over, Some(limit_mm)) => {
            let near = |size_mm: f64| (off_mm.abs() - size_mm).abs() <= limit_mm;
            let hint = match [1000.0, 100.0].into_iter().find(|size| near(*size)) {
                Some(size) => {
                    format!("; it is close to {size:.0} mm, so look for a staff misread by that")
                }
                None => String::new(),
            };
            findings.push(Finding::new(
                "misclosure-over-limit",
                place,
                format!("the run closes {off_mm:+.1} mm against {limit_mm:.1} mm allowed, so it is not spread and no level is proved; level it again{hint}"),
            ));
        }
        (ClosureVerdict::NotJudged, _) => findings.push(Finding::new(
            "misclosure-not-judged",
            place,
            format!("the run closes {off_mm:+.1} mm and nothing says whether that is allowed; give a limit, and for a limit over kilometres the length"),
        )),
        _ => {}
    }
}

/// Returns for each row which part of which whole of the run is passed at it.
fn shares(reduced: &ReducedBook, distribution: Distribution) -> Result<Vec<(Exact, Exact)>, LevelBookError> {
    let whole = |n: usize| Exact::whole(n as i64);
    let rows = reduced.rows.iter();
    match (distribution, &reduced.leg_lengths) {
        (Distribution::NotSpread, _) => Ok(rows.map(|_| (Exact::ZERO, whole(1))).collect()),
        (Distribution::BySetups, _) => Ok(rows
            .map(|row| (whole(row.setup), whole(reduced.setups)))
            .collect()),
        (Distribution::ByDistance, Some(legs)) => {
            let total = legs.iter().copied().sum();
            let passed = |setup: usize| legs[..setup].iter().copied().sum();
            Ok(rows.map(|row| (passed(row.setup), total)).collect())
        }
        (Distribution::ByDistance, None) => {
            let last = reduced.rows.last().map_or(0, |row| row.row);
            Err(LevelBookError::DistanceMissing {
                row: reduced.missing_distance_row.unwrap_or(last),
            })
        }
    }
}

/// Gives every level its sigma, by propagation through the set-ups.
///
/// With w_j the variance of set-up j, and r the share of the misclosure taken off at a point reached in
/// set-up i: a change point has `(1-r)^2 sum(w_j, j<=i) + r^2 sum(w_j, j>i)`; an intermediate sight, whose
/// own reading takes no part in the misclosure, `(1-r)^2 sum(w_j, j<i) + w_i + r^2 sum(w_j, j>=i)`.
/// A misclosure that stays in the levels adds its share as if it were one more sigma.
fn give_sigmas(
    reduced: &mut ReducedBook,
    options: &LevellingOptions,
    length: &Option<Length>,
    findings: &mut Vec<Finding>,
) -> Result<(), LevelBookError> {
    let (spread, left_m, over) = match &reduced.closure {
        Closure::Open => (Distribution::NotSpread, 0.0, false),
        Closure::Closed(closed) => {
            let left = closed.spread == Distribution::NotSpread;
            let left_m = if left { closed.misclosure_mm / 1000.0 } else { 0.0 };
            (closed.spread, left_m, closed.verdict == ClosureVerdict::Over)
        }
    };
    let variances_m2 = match options.precision {
        _ if over => None,
        None => None,
        Some(LevelPrecision::PerSetup { sigma_mm }) => {
            Some(vec![(sigma_mm / 1000.0).powi(2); reduced.setups])
        }
        Some(LevelPrecision::PerRootKilometre { sigma_mm }) => {
            let per_km_m2 = (sigma_mm / 1000.0).powi(2);
            match (&reduced.leg_lengths, length) {
                (Some(legs), _) => {
                    let km = reduced.unit.metres() / 1000.0;
                    Some(legs.iter().map(|l| per_km_m2 * l.to_f64() * km).collect())
                }
                // Only the whole is known: the set-ups are taken as equal.
                (None, Some(length)) => {
                    let each_m2 = per_km_m2 * length.km() / reduced.setups as f64;
                    Some(vec![each_m2; reduced.setups])
                }
                (None, None) => None,
            }
        }
    };
    let Some(variances_m2) = variances_m2 else {
        if !over {
            let sentence = if options.precision.is_none() {
                "no precision was declared, so the levels have no uncertainty and prove nothing; give one sigma for a set-up or a kilometre"
            } else {
                "the precision is for a kilometre and no length is known, so the levels have no uncertainty; give the distances or the length"
            };
            findings.push(Finding::new("sigma-not-known", "level book", sentence));
        }
        return Ok(());
    };
    let shares = shares(reduced, spread)?;
    for (row, (part, whole)) in reduced.rows.iter_mut().zip(shares) {
        let r = part.to_f64() / whole.to_f64();
        let passed = if row.on_the_run || row.setup == 0 {
            row.setup
        } else {
            row.setup - 1
        };
        let own_m2 = if passed == row.setup {
            0.0
        } else {
            variances_m2[row.setup - 1]
        };
        let before_m2: f64 = variances_m2[..passed].iter().sum();
        let after_m2: f64 = variances_m2[passed..].iter().sum();
        let left_here_m = left_m * row.setup as f64 / reduced.setups as f64;
        let variance_m2 = (1.0 - r).powi(2) * before_m2 + own_m2 + r * r * after_m2;
        row.sigma_m = Some(variance_m2.sqrt().hypot(left_here_m));
    }
    Ok(())
}

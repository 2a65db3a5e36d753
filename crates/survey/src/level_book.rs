//! A level book: back, intermediate and fore sights, reduced by rise and fall and by height of collimation.
//!
//! Both bookings are computed apart from each other and must meet to the last digit, so the sums are exact
//! decimals in the unit that was booked ([`crate::decimal`]). A staff held upside down on a soffit is booked
//! negative, and everything else stays the same. Source: [`crate::sources::LEVELLING_PRACTICE`].

use crate::decimal::{Decimal, Exact};
use crate::finding::Finding;
use crate::level_closure::{self, Closure, LevellingOptions};
use crate::quantity::LengthUnit;

/// A reading longer than any staff is shown back, m.
pub const LONGEST_STAFF_M: f64 = 5.0;
/// A point read twice whose levels differ by more is shown back, m (common practice, from memory).
pub const REPEAT_LIMIT_M: f64 = 0.005;

/// One line of a level book, as it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelRow {
    /// The line's number in its file, for messages.
    pub row: usize,
    /// The point the staff stood on, or hung from.
    pub point: String,
    /// The first reading of a set-up, on a point of known level.
    pub back: Option<Decimal>,
    /// A reading between.
    pub inter: Option<Decimal>,
    /// The last reading before the level moves.
    pub fore: Option<Decimal>,
    /// The level of a bench mark.
    pub known_level: Option<Decimal>,
    /// On a fore sight's line: the length levelled since the change point before, in the book's unit.
    pub distance: Option<Decimal>,
    /// The level somebody worked out by hand, to be compared.
    pub booked_level: Option<Decimal>,
}

/// A level book: rows in the order they were read, all in one unit. The first row's level is known.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelBook {
    /// The unit of every figure in it.
    pub unit: LengthUnit,
    /// Its lines.
    pub rows: Vec<LevelRow>,
}

/// One point of a reduced book. Figures are exact and in the book's unit unless the name says otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct ReducedRow {
    /// The line's number in its file; of a change point on two lines, the fore sight's.
    pub row: usize,
    /// The point.
    pub point: String,
    /// The set-up that gave its level, from 1; 0 for the start.
    pub setup: usize,
    /// Whether the run goes on through it (start, change point, end), not an intermediate sight.
    pub on_the_run: bool,
    /// How far it lies above the point read before.
    pub rise: Option<Exact>,
    /// How far it lies below the point read before.
    pub fall: Option<Exact>,
    /// The line of sight: after a change point the new one.
    pub collimation: Exact,
    /// Its level as computed, before any misclosure is spread.
    pub level: Exact,
    /// Its level as known beforehand, where it is a bench mark.
    pub known_level: Option<Exact>,
    /// Its level after spreading the misclosure; none where it was not spread.
    pub adjusted: Option<f64>,
    /// The level to be used, m: adjusted where spread.
    pub level_m: f64,
    /// One sigma, m, relative to the bench marks that the book hangs on (where it is nought); none where
    /// no precision was declared or the misclosure is over its limit.
    pub sigma_m: Option<f64>,
}

/// The sums that close a page. Where the last reading is an intermediate sight, it counts as a fore sight.
#[derive(Debug, Clone, PartialEq)]
pub struct ArithmeticChecks {
    /// Sum of the back sights.
    pub sum_back: Exact,
    /// Sum of the fore sights.
    pub sum_fore: Exact,
    /// Sum of the rises.
    pub sum_rise: Exact,
    /// Sum of the falls.
    pub sum_fall: Exact,
    /// Last level less first.
    pub last_minus_first: Exact,
    /// Sum of all levels but the first, and of all intermediate and fore sights.
    pub sum_levels_and_readings: Exact,
    /// Sum, over intermediate and fore sights, of the line of sight each was read from.
    pub sum_collimations: Exact,
}

impl ArithmeticChecks {
    /// Returns whether all four differences are one and the collimation sums meet.
    pub fn hold(&self) -> bool {
        self.sum_back - self.sum_fore == self.last_minus_first
            && self.sum_rise - self.sum_fall == self.last_minus_first
            && self.sum_levels_and_readings == self.sum_collimations
    }
}

/// A level book, reduced and checked.
#[derive(Debug, Clone, PartialEq)]
pub struct ReducedBook {
    /// The unit of its exact figures.
    pub unit: LengthUnit,
    /// Its points in the order they were read.
    pub rows: Vec<ReducedRow>,
    /// Its sums, which hold.
    pub checks: ArithmeticChecks,
    /// How many times the level was set up.
    pub setups: usize,
    /// How it closed.
    pub closure: Closure,
    /// The length of each set-up in the book's unit, where every one was booked.
    pub(crate) leg_lengths: Option<Vec<Exact>>,
    /// The first row whose distance is wanted and missing.
    pub(crate) missing_distance_row: Option<usize>,
}

/// A level book could not be reduced. Every message names the row.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LevelBookError {
    /// Fewer than two lines.
    #[error("a level book needs a back sight and one more reading; {rows} row(s) were given")]
    TooShort {
        /// How many lines were given.
        rows: usize,
    },
    /// The first line gives no level to start from.
    #[error(
        "row {row}: {point} starts the book but its known level is missing; give the bench mark's level there"
    )]
    NoStartLevel {
        /// The line.
        row: usize,
        /// The point.
        point: String,
    },
    /// The first line is not a back sight alone.
    #[error("row {row}: {point} starts the book and must have a back sight and no other reading")]
    StartIsNotABackSight {
        /// The line.
        row: usize,
        /// The point.
        point: String,
    },
    /// A line without a point's name.
    #[error("row {row}: the point has no name")]
    NoPoint {
        /// The line.
        row: usize,
    },
    /// A line without a reading.
    #[error(
        "row {row}: {point} has no reading; book a back, intermediate or fore sight or leave the row out"
    )]
    NoReading {
        /// The line.
        row: usize,
        /// The point.
        point: String,
    },
    /// An intermediate sight beside another reading.
    #[error(
        "row {row}: {point} has an intermediate sight beside another reading; an intermediate sight stands alone, a change point has a fore and a back sight"
    )]
    InterBesideOther {
        /// The line.
        row: usize,
        /// The point.
        point: String,
    },
    /// A back sight that no fore sight leads to.
    #[error(
        "row {row}: {point} has a back sight but no fore sight before it, so its level is not known; book the fore sight on the same point"
    )]
    BackWithoutFore {
        /// The line.
        row: usize,
        /// The point.
        point: String,
    },
    /// A reading after a fore sight with no new back sight.
    #[error(
        "row {row}: {point} was read after the fore sight of row {fore_row} without a new back sight; book the back sight of the new set-up first"
    )]
    NoBackAfterFore {
        /// The line.
        row: usize,
        /// The point.
        point: String,
        /// The line of the fore sight.
        fore_row: usize,
    },
    /// The misclosure is to be spread by distance and a distance is missing.
    #[error(
        "row {row}: the distance of this fore sight is missing, so the misclosure cannot be spread by distance; give it or spread by set-ups"
    )]
    DistanceMissing {
        /// The line.
        row: usize,
    },
    /// A distance that is not positive.
    #[error(
        "row {row}: a distance of {distance} is not a length; give the metres or feet levelled in this set-up"
    )]
    BadDistance {
        /// The line.
        row: usize,
        /// What was read.
        distance: Decimal,
    },
    /// A limit, length or precision that is not positive.
    #[error("{what} of {value} must be above nought")]
    BadOption {
        /// Which figure.
        what: &'static str,
        /// What was given.
        value: String,
    },
    /// The two bookings differ, which is our own fault.
    #[error("rise and fall and height of collimation differ; this is a fault of the program")]
    BookingsDiffer,
}

/// Reduces a level book by both bookings, checks the sums, judges the misclosure and spreads it if asked.
///
/// A book closes where its last reading is on a point with a known level, or on the point it began with.
/// Findings: `booked-level-differs`, `reading-beyond-staff`, `repeat-differs`, `known-level-differs`,
/// `run-not-closed`, `misclosure-over-limit`, `misclosure-not-judged`, `sigma-not-known`.
///
/// # Accuracy
/// Levels and sums are exact; adjusted levels are within 1e-9 (`tests/level_book.rs`).
/// # Errors
/// [`LevelBookError`], naming the row; nothing is reduced.
pub fn reduce_level_book(
    book: &LevelBook,
    options: &LevellingOptions,
) -> Result<(ReducedBook, Vec<Finding>), LevelBookError> {
    let sights = sights(book)?;
    let start_level = start_level(book)?;
    let by_rise_and_fall = rise_and_fall(&sights, start_level);
    let by_collimation = height_of_collimation(&sights, start_level);
    let checks = checks(&sights, &by_rise_and_fall, &by_collimation, start_level);
    let levels_meet = by_rise_and_fall
        .iter()
        .zip(&by_collimation)
        .all(|(a, b)| a.level == b.level);
    if !levels_meet || !checks.hold() {
        return Err(LevelBookError::BookingsDiffer);
    }
    let setups = sights.iter().map(|s| s.setup).max().unwrap_or(0);
    let metre = book.unit.metres();
    let mut rows = vec![ReducedRow {
        row: book.rows[0].row,
        point: book.rows[0].point.clone(),
        setup: 0,
        on_the_run: true,
        rise: None,
        fall: None,
        collimation: start_level + sights[0].back,
        level: start_level,
        known_level: Some(start_level),
        adjusted: None,
        level_m: start_level.to_f64() * metre,
        sigma_m: None,
    }];
    for ((sight, step), sighted) in sights.iter().zip(&by_rise_and_fall).zip(&by_collimation) {
        rows.push(ReducedRow {
            row: sight.row.row,
            point: sight.row.point.clone(),
            setup: sight.setup,
            on_the_run: sight.is_fore,
            rise: (step.change.signum() >= 0).then_some(step.change),
            fall: (step.change.signum() < 0).then_some(-step.change),
            collimation: sighted.collimation_after,
            level: step.level,
            known_level: sight.known_level,
            adjusted: None,
            level_m: step.level.to_f64() * metre,
            sigma_m: None,
        });
    }
    let (leg_lengths, missing_distance_row) = leg_lengths(&sights)?;
    let mut reduced = ReducedBook {
        unit: book.unit,
        rows,
        checks,
        setups,
        closure: Closure::Open,
        leg_lengths,
        missing_distance_row,
    };
    let mut findings = Vec::new();
    booking_findings(book, &reduced, &sights, &mut findings);
    level_closure::close(&mut reduced, book, options, &mut findings)?;
    Ok((reduced, findings))
}

/// One sight onward from a back sight: an intermediate or a fore sight.
struct Sight<'a> {
    row: &'a LevelRow,
    setup: usize,
    /// The back sight of its set-up.
    back: Exact,
    /// The reading before it, by which rise or fall is taken.
    before: Exact,
    reading: Exact,
    is_fore: bool,
    /// The back sight taken on it afterwards.
    next_back: Option<Exact>,
    known_level: Option<Exact>,
}

fn start_level(book: &LevelBook) -> Result<Exact, LevelBookError> {
    let first = &book.rows[0];
    let known = first.known_level.as_ref().map(Decimal::exact);
    known.ok_or_else(|| LevelBookError::NoStartLevel {
        row: first.row,
        point: first.point.clone(),
    })
}

fn sights(book: &LevelBook) -> Result<Vec<Sight<'_>>, LevelBookError> {
    if book.rows.len() < 2 {
        return Err(LevelBookError::TooShort {
            rows: book.rows.len(),
        });
    }
    if let Some(nameless) = book.rows.iter().find(|r| r.point.trim().is_empty()) {
        return Err(LevelBookError::NoPoint { row: nameless.row });
    }
    let first = &book.rows[0];
    let mut back = match (&first.back, &first.inter, &first.fore) {
        (Some(back), None, None) => back.exact(),
        _ => {
            return Err(LevelBookError::StartIsNotABackSight {
                row: first.row,
                point: first.point.clone(),
            });
        }
    };
    let mut before = back;
    let mut setup = 1;
    let mut sights: Vec<Sight<'_>> = Vec::new();
    for row in &book.rows[1..] {
        let point = row.point.clone();
        let row_number = row.row;
        let ended = sights.last().filter(|s| s.is_fore && s.next_back.is_none());
        let (reading, is_fore, next_back) = match (&row.back, &row.inter, &row.fore) {
            (None, None, None) => {
                return Err(LevelBookError::NoReading {
                    row: row_number,
                    point,
                });
            }
            (Some(next), None, None) => {
                // The second line of a change point that was booked on two.
                match sights.last_mut() {
                    Some(last) if last.is_fore && last.next_back.is_none() && last.row.point == point => {
                        last.next_back = Some(next.exact());
                        let known = row.known_level.as_ref().map(Decimal::exact);
                        last.known_level = last.known_level.or(known);
                    }
                    _ => {
                        return Err(LevelBookError::BackWithoutFore {
                            row: row_number,
                            point,
                        });
                    }
                }
                back = next.exact();
                before = back;
                setup += 1;
                continue;
            }
            (None, Some(inter), None) => (inter.exact(), false, None),
            (next, None, Some(fore)) => (fore.exact(), true, next.as_ref().map(Decimal::exact)),
            _ => {
                return Err(LevelBookError::InterBesideOther {
                    row: row_number,
                    point,
                });
            }
        };
        if let Some(fore) = ended {
            return Err(LevelBookError::NoBackAfterFore {
                row: row_number,
                point,
                fore_row: fore.row.row,
            });
        }
        sights.push(Sight {
            row,
            setup,
            back,
            before,
            reading,
            is_fore,
            next_back,
            known_level: row.known_level.as_ref().map(Decimal::exact),
        });
        before = reading;
        if let Some(next) = next_back {
            back = next;
            before = next;
            setup += 1;
        }
    }
    match sights.last() {
        // A back sight that nothing was read after leaves a set-up without a point.
        Some(last) if last.next_back.is_some() => Err(LevelBookError::NoReading {
            row: last.row.row,
            point: format!("the set-up after {}", last.row.point),
        }),
        Some(_) => Ok(sights),
        None => Err(LevelBookError::TooShort {
            rows: book.rows.len(),
        }),
    }
}

struct Step {
    change: Exact,
    level: Exact,
}

fn rise_and_fall(sights: &[Sight<'_>], start_level: Exact) -> Vec<Step> {
    let mut level = start_level;
    let step = |sight: &Sight<'_>| {
        let change = sight.before - sight.reading;
        level = level + change;
        Step { change, level }
    };
    sights.iter().map(step).collect()
}

struct Sighted {
    collimation: Exact,
    collimation_after: Exact,
    level: Exact,
}

fn height_of_collimation(sights: &[Sight<'_>], start_level: Exact) -> Vec<Sighted> {
    let mut collimation = start_level + sights[0].back;
    let sighted = |sight: &Sight<'_>| {
        let level = collimation - sight.reading;
        let read_from = collimation;
        if let Some(back) = sight.next_back {
            collimation = level + back;
        }
        Sighted {
            collimation: read_from,
            collimation_after: collimation,
            level,
        }
    };
    sights.iter().map(sighted).collect()
}

fn checks(sights: &[Sight<'_>], steps: &[Step], sighted: &[Sighted], start_level: Exact) -> ArithmeticChecks {
    let last = sights.len() - 1;
    let is_fore = |i: usize| sights[i].is_fore || i == last;
    let fores = (0..sights.len()).filter(|i| is_fore(*i));
    let signed = |rising: bool| {
        let changes = steps.iter().map(|step| step.change);
        let wanted = changes.filter(move |c| (c.signum() > 0) == rising);
        wanted.map(Exact::abs).sum()
    };
    let levels: Exact = steps.iter().map(|step| step.level).sum();
    let readings: Exact = sights.iter().map(|sight| sight.reading).sum();
    let next_backs: Exact = sights.iter().filter_map(|s| s.next_back).sum();
    ArithmeticChecks {
        sum_back: sights[0].back + next_backs,
        sum_fore: fores.map(|i| sights[i].reading).sum(),
        sum_rise: signed(true),
        sum_fall: signed(false),
        last_minus_first: sighted[last].level - start_level,
        sum_levels_and_readings: levels + readings,
        sum_collimations: sighted.iter().map(|s| s.collimation).sum(),
    }
}

type LegLengths = (Option<Vec<Exact>>, Option<usize>);

fn leg_lengths(sights: &[Sight<'_>]) -> Result<LegLengths, LevelBookError> {
    let last = sights.len() - 1;
    let mut lengths = Vec::new();
    let mut missing = None;
    for (i, sight) in sights.iter().enumerate() {
        if let Some(distance) = &sight.row.distance
            && distance.exact().signum() <= 0
        {
            return Err(LevelBookError::BadDistance {
                row: sight.row.row,
                distance: distance.clone(),
            });
        }
        if sight.is_fore || i == last {
            match &sight.row.distance {
                Some(distance) => lengths.push(distance.exact()),
                None => missing = missing.or(Some(sight.row.row)),
            }
        }
    }
    Ok((missing.is_none().then_some(lengths), missing))
}

fn booking_findings(
    book: &LevelBook,
    reduced: &ReducedBook,
    sights: &[Sight<'_>],
    findings: &mut Vec<Finding>,
) {
    let metre = book.unit.metres();
    let unit = book.unit.symbol();
    for row in &book.rows {
        for reading in [&row.back, &row.inter, &row.fore].into_iter().flatten() {
            if reading.to_f64().abs() * metre > LONGEST_STAFF_M {
                findings.push(Finding::new(
                    "reading-beyond-staff",
                    format!("row {}", row.row),
                    format!("a reading of {reading} {unit} on {} is longer than a staff; look for a lost point or another unit", row.point),
                ));
            }
        }
    }
    for (sight, reduced_row) in sights.iter().zip(&reduced.rows[1..]) {
        if let Some(booked) = &sight.row.booked_level
            && booked.exact() != reduced_row.level
        {
            findings.push(Finding::new(
                "booked-level-differs",
                format!("row {}", reduced_row.row),
                format!(
                    "{} is booked at {booked} {unit} and comes to {} {unit}; look for a rise booked as a fall",
                    reduced_row.point, reduced_row.level
                ),
            ));
        }
    }
    let last = reduced.rows.len() - 1;
    for (i, row) in reduced.rows.iter().enumerate().skip(1) {
        let earlier = reduced.rows[..i].iter().find(|other| other.point == row.point);
        let Some(earlier) = earlier else { continue };
        let closes_on_the_start = i == last && earlier.setup == 0;
        let apart = row.level - earlier.level;
        if !closes_on_the_start && apart.to_f64().abs() * metre > REPEAT_LIMIT_M {
            findings.push(Finding::new(
                "repeat-differs",
                format!("row {}", row.row),
                format!(
                    "{} was read before on row {} and its two levels are {apart} {unit} apart; read it again or name the two points apart",
                    row.point, earlier.row
                ),
            ));
        }
    }
}

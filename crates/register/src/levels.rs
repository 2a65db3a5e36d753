//! A level book of the journal, reduced: levels by point, and whether it closes.

use crate::body::LevelsBooked;
use crate::site::Refusal;
use crate::words::{Spread, Touched};
use survey::LengthUnit;
use survey::level_book::{LevelBook, LevelRow, ReducedBook, reduce_level_book};
use survey::level_closure::{
    Allowable, Closure, ClosureVerdict, Distribution, LevelPrecision, LevellingOptions,
};

/// A reduced book.
#[derive(Debug, Clone)]
pub struct ReducedLevels {
    /// As its author wrote it.
    pub booked: LevelsBooked,
    /// The entry.
    pub entry: u64,
    /// The reduction and its arithmetic checks.
    pub reduced: ReducedBook,
    /// The level of each point, bench marks left out.
    pub levels: Vec<BookedLevel>,
    /// What deserves a look.
    pub findings: Vec<String>,
}

/// The level of one point.
#[derive(Debug, Clone, PartialEq)]
pub struct BookedLevel {
    /// The point.
    pub point: String,
    /// Its level, spread misclosure included.
    pub level_m: f64,
    /// Its standard deviation relative to the bench marks, when known.
    pub sigma_m: Option<f64>,
    /// What the staff stood on.
    pub touched: Option<Touched>,
    /// Whether the book closes.
    pub closes: Closes,
}

/// Whether a level book closes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Closes {
    /// Within its limit.
    Within,
    /// Over its limit: it proves nothing.
    Over,
    /// On nothing known, or against no limit.
    NotChecked,
}

/// Reduces a level book by rise and fall and by height of collimation.
///
/// # Errors
/// A row that does not read, named, with the mend.
pub fn reduce_book(booked: &LevelsBooked, entry: u64) -> Result<ReducedLevels, Refusal> {
    let refuse = |says: String| Refusal::about("level-book", &format!("level book {}", booked.book), says);
    let rows = booked.rows.iter().enumerate();
    let book = LevelBook {
        unit: LengthUnit::Metre,
        rows: rows
            .map(|(i, row)| LevelRow {
                row: row.row.map_or(i + 1, |row| row as usize),
                point: row.point.clone(),
                back: row.back_m.clone(),
                inter: row.inter_m.clone(),
                fore: row.fore_m.clone(),
                known_level: row.known_level_m.clone(),
                distance: row.distance_m.clone(),
                booked_level: None,
            })
            .collect(),
    };
    let options = LevellingOptions {
        allowable: booked.allowable_k_mm.clone().map(|k_mm| {
            if booked.allowable_by_setups {
                Allowable::PerRootSetup { k_mm }
            } else {
                Allowable::PerRootKilometre { k_mm }
            }
        }),
        length_km: None,
        distribution: match booked.spread {
            Spread::NotSpread => Distribution::NotSpread,
            Spread::BySetups => Distribution::BySetups,
            Spread::ByDistance => Distribution::ByDistance,
        },
        precision: booked.setup_sigma_mm.as_ref().map(|mm| LevelPrecision::PerSetup {
            sigma_mm: mm.to_f64(),
        }),
    };
    let (reduced, findings) = reduce_level_book(&book, &options).map_err(|e| refuse(e.to_string()))?;
    let closes = match &reduced.closure {
        Closure::Closed(m) if m.verdict == ClosureVerdict::Within => Closes::Within,
        Closure::Closed(m) if m.verdict == ClosureVerdict::Over => Closes::Over,
        _ => Closes::NotChecked,
    };
    let levels = reduced
        .rows
        .iter()
        .filter(|row| row.known_level.is_none())
        .map(|row| BookedLevel {
            point: row.point.clone(),
            level_m: row.adjusted.unwrap_or(row.level_m),
            sigma_m: row.sigma_m,
            touched: booked
                .rows
                .iter()
                .find(|b| b.point == row.point && b.touched.is_some())
                .and_then(|b| b.touched),
            closes,
        })
        .collect();
    let findings = findings
        .iter()
        .map(|f| format!("{}: {}", f.place, f.sentence))
        .collect();
    Ok(ReducedLevels {
        booked: booked.clone(),
        entry,
        reduced,
        levels,
        findings,
    })
}

//! A level book out of a table: readings digit for digit, in the order of the rows.

use crate::columns::{ColumnSpec, Holds, spec};
use crate::findings::Findings;
use crate::numbers::NumberStyle;
use crate::options::ReadOptions;
use crate::plausibility::{Place, check_levels};
use crate::points::slugs;
use crate::reading::{Preview, Reading};
use crate::row::Row;
use crate::split::{FULL_ENTRY_BYTES, json_bytes};
use crate::table::{Kind, open};
use register::body::{ImportRef, LevelRowBooked, LevelsBooked};
use register::words::{Spread, Touched};
use std::collections::HashSet;
use survey::Decimal;

const POINT: usize = 0;
const BACK: usize = 1;
const INTER: usize = 2;
const FORE: usize = 3;
const KNOWN_LEVEL: usize = 4;
const DISTANCE: usize = 5;
const TOUCHED: usize = 6;
const NOTE: usize = 7;

const LEVEL_COLUMNS: &[ColumnSpec] = &[
    spec("point", Holds::Text),
    spec("back", Holds::Metres),
    spec("inter", Holds::Metres),
    spec("fore", Holds::Metres),
    spec("known_level", Holds::Metres),
    spec("distance", Holds::Metres),
    spec("touched", Holds::Text),
    spec("note", Holds::Text),
];

/// What a person states of a level book.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelOptions {
    /// Its name.
    pub book: String,
    /// k of the allowable misclosure, millimetres.
    pub allowable_k_mm: Option<Decimal>,
    /// True when k is for each root of a set-up.
    pub by_setups: bool,
    /// How the misclosure is spread.
    pub spread: Spread,
    /// Standard deviation of one set-up's height difference.
    pub setup_sigma_mm: Option<Decimal>,
}

/// A level book, ready to be recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelsDraft {
    /// The import it comes with.
    pub import: ImportRef,
    /// The book.
    pub booked: LevelsBooked,
}

/// Longest staff reading believed, metres.
const MOST_READING_M: f64 = 10.0;
/// Longest way to a staff believed, metres.
const MOST_DISTANCE_M: f64 = 100_000.0;

/// Reads a level book. A negative reading is an inverted staff.
///
/// A point that has a known level in any row is a bench mark and keeps its name; measured points carry the import's
/// prefix, as their other readings do.
pub fn read_levels(
    bytes: &[u8],
    options: &ReadOptions,
    stated: &LevelOptions,
    progress: &mut dyn FnMut(u64),
) -> Reading<LevelsDraft> {
    let kind = Kind {
        specs: LEVEL_COLUMNS,
        required: &[POINT],
        position: None,
    };
    let mut opened = open(bytes, options, kind);
    let findings = &mut opened.findings;
    check_book(stated, findings);
    let mut booked: Vec<LevelRowBooked> = Vec::new();
    let mut rows = 0;
    if let Some(table) = opened.table.take() {
        rows = table.read_rows(findings, progress, |row, numbers, findings| {
            booked.extend(level_row(row, options, numbers, findings));
        });
        let known: Vec<Place> = booked
            .iter()
            .filter_map(|row| {
                let level = row.known_level_m.as_ref()?.to_f64();
                let at = [options.frame.near_easting_m, options.frame.near_northing_m, level];
                Some(Place { row: row.row?, at })
            })
            .collect();
        let header = table.columns.header(KNOWN_LEVEL);
        check_levels(&known, &options.frame, [header; 3], findings);
    }
    let marks: HashSet<String> = booked
        .iter()
        .filter(|row| row.known_level_m.is_some())
        .map(|row| row.point.clone())
        .collect();
    for row in booked.iter_mut().filter(|row| !marks.contains(&row.point)) {
        row.point = options.prefixed(&row.point);
    }
    let draft = LevelsDraft {
        import: options.import.clone(),
        booked: LevelsBooked {
            book: stated.book.clone(),
            rows: booked,
            allowable_k_mm: stated.allowable_k_mm.clone(),
            allowable_by_setups: stated.by_setups,
            spread: stated.spread,
            setup_sigma_mm: stated.setup_sigma_mm.clone(),
            import: Some(options.import.clone()),
        },
    };
    if json_bytes(&draft.booked) > FULL_ENTRY_BYTES {
        let says = format!(
            "the level book has {} readings, more than one entry holds; part it at a bench mark into books that each close",
            draft.booked.rows.len()
        );
        opened.findings.refuse("book-too-long", None, None, says);
    }
    let preview = Preview {
        min: None,
        max: None,
        points: Vec::new(),
        runs: Vec::new(),
    };
    opened.close(rows, preview, draft)
}

/// Refuses what a person states of the book and cannot mean.
fn check_book(stated: &LevelOptions, findings: &mut Findings) {
    if stated.book.trim().is_empty() {
        findings.refuse(
            "book-missing",
            None,
            None,
            "the level book has no name; give it one",
        );
    }
    for (name, mm) in [
        ("allowable_k_mm", &stated.allowable_k_mm),
        ("setup_sigma_mm", &stated.setup_sigma_mm),
    ] {
        if let Some(mm) = mm.as_ref().filter(|mm| mm.exact().signum() <= 0) {
            let says =
                format!("{name} is stated as {mm} and must be above nought; leave it out when not known");
            findings.refuse("absurd-size", None, Some(name), says);
        }
    }
}

fn level_row(
    row: &Row<'_>,
    options: &ReadOptions,
    numbers: &mut NumberStyle,
    findings: &mut Findings,
) -> Option<LevelRowBooked> {
    let mut notes: Vec<String> = row.whole_text(NOTE).map(str::to_owned).into_iter().collect();
    let point = row.need_text(POINT, findings)?;
    // A measured point will carry the prefix.
    row.label(POINT, Some(options.prefixed(point)), findings);
    let mut reading = |field: usize| {
        let metres = row.decimal(field, numbers, &mut notes, findings)?;
        if metres.to_f64().abs() > MOST_READING_M {
            let says = format!(
                "a staff reading of {metres} m is not believed; for millimetres end the column's name in _mm"
            );
            row.refuse(field, "absurd-size", says, findings);
        }
        Some(metres)
    };
    let (back_m, inter_m, fore_m) = (reading(BACK), reading(INTER), reading(FORE));
    if [BACK, INTER, FORE].iter().all(|field| row.text(*field).is_none()) {
        let says = "the row has no reading; fill in back, inter or fore, or leave the row out";
        row.refuse(BACK, "value-missing", says, findings);
    }
    let known_level_m = row.decimal(KNOWN_LEVEL, numbers, &mut notes, findings);
    let distance_m = row.positive(DISTANCE, MOST_DISTANCE_M, numbers, &mut notes, findings);
    let allowed = || slugs(Touched::ALL, Touched::slug);
    let touched = row
        .word(TOUCHED, Touched::from_slug, allowed, findings)
        .or(options.stated.touched);
    notes.extend(row.notes());
    Some(LevelRowBooked {
        point: point.to_owned(),
        back_m,
        inter_m,
        fore_m,
        known_level_m,
        distance_m,
        touched,
        note: (!notes.is_empty()).then(|| notes.join("; ")),
        row: Some(row.number),
    })
}

//! A level book out of a table: readings digit for digit, in the order of the rows.

use crate::columns::{ColumnSpec, Holds, spec};
use crate::findings::Findings;
use crate::numbers::NumberStyle;
use crate::options::ReadOptions;
use crate::points::slugs;
use crate::reading::{Preview, Reading};
use crate::row::Row;
use crate::table::{Kind, open};
use register::body::{ImportRef, LevelRowBooked, LevelsBooked};
use register::words::{Spread, Touched};
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

/// Reads a level book. A negative reading is an inverted staff.
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
    let mut booked = Vec::new();
    let mut rows = 0;
    if let Some(table) = opened.table.take() {
        let mut numbers = NumberStyle::new(table.separator());
        rows = table.each_row(findings, progress, |row, findings| {
            booked.extend(level_row(row, options, &mut numbers, findings));
        });
        numbers.settle(findings);
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
    let preview = Preview {
        min: None,
        max: None,
        points: Vec::new(),
        runs: Vec::new(),
    };
    opened.close(rows, preview, draft)
}

fn level_row(
    row: &Row<'_>,
    options: &ReadOptions,
    numbers: &mut NumberStyle,
    findings: &mut Findings,
) -> Option<LevelRowBooked> {
    let mut notes: Vec<String> = row.whole_text(NOTE).map(str::to_owned).into_iter().collect();
    let point = row.need_text(POINT, findings)?;
    let back_m = row.decimal(BACK, numbers, &mut notes, findings);
    let inter_m = row.decimal(INTER, numbers, &mut notes, findings);
    let fore_m = row.decimal(FORE, numbers, &mut notes, findings);
    if [BACK, INTER, FORE].iter().all(|field| row.text(*field).is_none()) {
        let says = "the row has no reading; fill in back, inter or fore, or leave the row out";
        row.refuse(BACK, "value-missing", says, findings);
    }
    let known_level_m = row.decimal(KNOWN_LEVEL, numbers, &mut notes, findings);
    let distance_m = row.positive(DISTANCE, 100_000.0, numbers, &mut notes, findings);
    let allowed = || slugs(Touched::ALL, Touched::slug);
    let touched = row
        .word(TOUCHED, Touched::from_slug, allowed, findings)
        .or(options.stated.touched);
    notes.extend(row.notes());
    // A bench mark keeps its own name; measured points carry the import's prefix, as their other readings do.
    let label = if known_level_m.is_some() {
        point.to_owned()
    } else {
        options.prefixed(point)
    };
    Some(LevelRowBooked {
        point: label,
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

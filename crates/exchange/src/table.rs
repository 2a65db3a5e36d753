//! A file as rows of named columns: separators, headers, row numbers, and rows that do not fit.

use crate::columns::{ColumnSpec, Columns, Meaning, meaning, names, written_name};
use crate::findings::Findings;
use crate::numbers::NumberStyle;
use crate::options::ReadOptions;
use crate::order::propose;
use crate::reading::{Preview, Reading};
use crate::row::Row;
use crate::text::{decode, line_ends};
use csv::StringRecord;
use register::view::ColumnChoice;

/// More columns than any sheet of measurements has.
const MOST_COLUMNS: usize = 500;
/// Longest text of a single value, bytes.
const LONGEST_VALUE: usize = 8_000;
/// How many rows pass between two reports of progress.
const ROWS_A_REPORT: u64 = 2_048;

/// A kind of file: its columns and which of them it cannot do without.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kind {
    pub specs: &'static [ColumnSpec],
    pub required: &'static [usize],
    /// Which columns are easting, northing and level, for a kind that has all three.
    pub position: Option<[usize; 3]>,
}

/// What was made of a file before its rows are read.
#[derive(Debug)]
pub(crate) struct Table<'a> {
    text: &'a str,
    separator: u8,
    /// True when the first record is a header.
    has_header: bool,
    pub columns: Columns,
}

/// A file opened, or what can be said of one that cannot be read.
#[derive(Debug)]
pub(crate) struct Opened<'a> {
    pub findings: Findings,
    pub table: Option<Table<'a>>,
    pub choices: Vec<ColumnChoice>,
    pub order_needed: bool,
    pub proposed_order: Option<Vec<String>>,
}

/// Opens a file and settles what its columns are.
pub(crate) fn open<'a>(bytes: &'a [u8], options: &ReadOptions, kind: Kind) -> Opened<'a> {
    let mut opened = Opened {
        findings: Findings::new(&options.file),
        table: None,
        choices: Vec::new(),
        order_needed: false,
        proposed_order: None,
    };
    let Some(text) = decode(bytes, options.limit_bytes, &mut opened.findings) else {
        return opened;
    };
    let separator = separator_of(text);
    let head = first_records(text, separator, 500);
    let Some(first) = head.first() else {
        let says = "the file holds no rows; choose another file";
        opened.findings.refuse("empty-file", None, None, says);
        return opened;
    };
    if first.len() > MOST_COLUMNS {
        let says = format!(
            "the first row has {} columns and at most {MOST_COLUMNS} are read",
            first.len()
        );
        opened.findings.refuse("too-many-columns", Some(1), None, says);
        return opened;
    }
    let numeric = first.iter().filter(|value| is_number(value, separator)).count();
    let recognised = first
        .iter()
        .filter(|value| meaning(kind.specs, value) != Meaning::Unknown)
        .count();
    let (has_header, headers) = match &options.order {
        Some(order) => {
            let has_header = numeric == 0 && head.len() > 1;
            check_order(
                order,
                has_header.then_some(first),
                first.len(),
                kind,
                &mut opened.findings,
            );
            (has_header, order.clone())
        }
        None if numeric == 0 || recognised >= 2 => (true, first.iter().map(str::to_owned).collect()),
        None => {
            opened.order_needed = true;
            let (proposed, says) = propose(&head, separator, options, kind);
            opened.choices = choices(&head, proposed.as_deref().unwrap_or(&[]), kind);
            opened.findings.refuse("order-needed", Some(1), None, says);
            opened.proposed_order = proposed;
            return opened;
        }
    };
    if options.order.is_some() {
        opened.choices = choices(&head[usize::from(has_header)..], &headers, kind);
    } else {
        opened.choices = choices(&head[1..], &headers, kind);
        for (choice, header) in opened.choices.iter_mut().zip(&headers) {
            choice.header = header.trim().to_owned();
        }
    }
    if opened.findings.refused() {
        return opened;
    }
    let findings = &mut opened.findings;
    let mut columns = Columns::from_headers(kind.specs, kind.required, &headers, options.unit, findings);
    if options.order.is_some() {
        for located in columns.at.iter_mut().flatten() {
            located.header = format!("column {} ({})", located.index + 1, located.header);
        }
    }
    if !opened.findings.refused() {
        opened.table = Some(Table {
            text,
            separator,
            has_header,
            columns,
        });
    }
    opened
}

impl Opened<'_> {
    /// Closes a file: the draft is handed out only when nothing was refused.
    pub(crate) fn close<T>(self, rows: u64, preview: Preview, draft: T) -> Reading<T> {
        let draft = (!self.findings.refused()).then_some(draft);
        let found = self.findings.finish();
        Reading {
            draft,
            columns: self.choices,
            order_needed: self.order_needed,
            proposed_order: self.proposed_order,
            rows,
            findings: found.shown,
            findings_left_off: found.left_off,
            refusals: found.refusals,
            doubts: found.doubts,
            preview,
        }
    }
}

impl Table<'_> {
    /// Goes through the rows with one way of writing numbers, settles what that was, and returns how many rows there
    /// were.
    pub(crate) fn read_rows(
        &self,
        findings: &mut Findings,
        progress: &mut dyn FnMut(u64),
        mut act: impl FnMut(&Row<'_>, &mut NumberStyle, &mut Findings),
    ) -> u64 {
        let mut numbers = NumberStyle::new(self.separator);
        self.note_names_left_out(findings);
        let rows = self.each_row(findings, progress, |row, findings| {
            act(row, &mut numbers, findings)
        });
        numbers.settle(findings);
        rows
    }

    /// Notes that a column `by` stays in the kept file: names are never put where they cannot be erased.
    pub(crate) fn note_names_left_out(&self, findings: &mut Findings) {
        let by = self.columns.specs.iter().position(|spec| spec.name == "by");
        if by.is_some_and(|by| self.columns.at[by].is_some()) {
            let says = "names in the column by stay in the kept file and are not copied into the book, where they \
                        could never be erased; the entries carry the person who records them";
            findings.note("names-left-out", Some(1), Some("by"), says);
        }
    }

    /// How values are separated.
    pub(crate) fn separator(&self) -> u8 {
        self.separator
    }

    /// Goes through the rows below the header and returns how many there were. Blank rows are passed over; rows
    /// with too few or too many values, and quotes that are never closed, are refused.
    pub(crate) fn each_row(
        &self,
        findings: &mut Findings,
        progress: &mut dyn FnMut(u64),
        mut act: impl FnMut(&Row<'_>, &mut Findings),
    ) -> u64 {
        let bytes = self.text.as_bytes();
        let mut reader = reader(self.text, self.separator);
        let mut record = StringRecord::new();
        let (mut rows, mut number, mut counted_to, mut inside) = (0, 1, 0, 0);
        let mut last_start = 0;
        let mut first = true;
        loop {
            let before = reader.position().byte() as usize;
            match reader.read_record(&mut record) {
                Ok(true) => {}
                Ok(false) => break,
                Err(error) => {
                    let says = format!("the row cannot be taken apart: {error}; save the file again as CSV");
                    findings.refuse("broken-row", Some(number), None, says);
                    break;
                }
            }
            let start = before
                + bytes[before..]
                    .iter()
                    .take_while(|b| matches!(b, b'\r' | b'\n'))
                    .count();
            number += line_ends(&bytes[counted_to..start]).saturating_sub(inside);
            counted_to = start;
            last_start = start;
            let row = number;
            // A line end inside a quoted value does not begin a row: it is taken off at the next.
            inside = record.iter().map(|value| line_ends(value.as_bytes())).sum();
            let skip = std::mem::take(&mut first) && self.has_header;
            if skip || record.iter().all(|value| value.trim().is_empty()) {
                continue;
            }
            rows += 1;
            if rows % ROWS_A_REPORT == 0 {
                progress(start as u64);
            }
            if self.fits(&record, row, findings) {
                act(&Row::new(&record, row, &self.columns), findings);
            }
        }
        if open_quote(&self.text[last_start..], self.separator) {
            let says = "a quotation mark opens here and is never closed; close it, or double a quotation mark that \
                        is part of the text";
            findings.refuse("open-quote", Some(number), None, says);
        }
        if rows == 0 {
            findings.refuse(
                "empty-file",
                None,
                None,
                "there is no row below the header; choose another file",
            );
        }
        progress(bytes.len() as u64);
        rows
    }

    fn fits(&self, record: &StringRecord, row: u64, findings: &mut Findings) -> bool {
        let width = self.columns.width;
        let beyond = record.iter().skip(width).any(|value| !value.trim().is_empty());
        if record.len() < width || beyond {
            let says = format!(
                "the row has {} values where {width} are named; put quotation marks round a value that holds the \
                 separator, and leave none out",
                record.len()
            );
            findings.refuse("ragged-row", Some(row), None, says);
            return false;
        }
        if let Some(index) = record.iter().position(|value| value.len() > LONGEST_VALUE) {
            let says = format!(
                "the value has {} bytes and at most {LONGEST_VALUE} are read; shorten it",
                record[index].len()
            );
            findings.refuse(
                "text-too-long",
                Some(row),
                Some(&format!("column {}", index + 1)),
                says,
            );
            return false;
        }
        true
    }
}

fn reader(text: &str, separator: u8) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .from_reader(text.as_bytes())
}

fn first_records(text: &str, separator: u8, most: usize) -> Vec<StringRecord> {
    reader(text, separator)
        .into_records()
        .take(most)
        .map_while(Result::ok)
        .collect()
}

/// Picks tab, semicolon or comma by the first line that is not blank. Two semicolons outweigh any number of commas,
/// which may be decimal.
fn separator_of(text: &str) -> u8 {
    let line = text.lines().find(|line| !line.trim().is_empty()).unwrap_or("");
    let mut quoted = false;
    let (mut tabs, mut semicolons, mut commas) = (0, 0, 0);
    for byte in line.bytes() {
        match byte {
            b'"' => quoted = !quoted,
            b'\t' if !quoted => tabs += 1,
            b';' if !quoted => semicolons += 1,
            b',' if !quoted => commas += 1,
            _ => {}
        }
    }
    if tabs >= 2 || (tabs == 1 && commas == 0) {
        b'\t'
    } else if semicolons >= 2 || (semicolons == 1 && commas == 0) {
        b';'
    } else {
        b','
    }
}

/// Returns true when a quotation mark that begins in `tail`, the last record, is never closed: then a line put
/// after it would still belong to it.
fn open_quote(tail: &str, separator: u8) -> bool {
    if !tail.contains('"') {
        return false;
    }
    let probe = format!("{}\nx", tail.trim_end_matches(['\r', '\n']));
    reader(&probe, separator).into_records().count() < 2
}

/// Returns true for what may be a number, in whichever way it is written.
pub(crate) fn is_number(value: &str, separator: u8) -> bool {
    number(value, separator).is_some()
}

/// Returns the number that a value may be, for looking at only.
pub(crate) fn number(value: &str, separator: u8) -> Option<f64> {
    let value = value.trim();
    let holds_digit = value.bytes().any(|b| b.is_ascii_digit());
    let read: f64 = if separator == b',' {
        value.parse().ok()?
    } else {
        value.replace(',', ".").parse().ok()?
    };
    (holds_digit && read.is_finite()).then_some(read)
}

fn check_order(
    order: &[String],
    header: Option<&StringRecord>,
    width: usize,
    kind: Kind,
    findings: &mut Findings,
) {
    if order.len() != width {
        let says = format!(
            "the order names {} columns and the first row has {width}; name each, with - for one to skip",
            order.len()
        );
        findings.refuse("order-length", Some(1), None, says);
    }
    for (index, name) in order.iter().enumerate() {
        let column = format!("column {}", index + 1);
        if name.trim() != "-" && meaning(kind.specs, name) == Meaning::Unknown {
            let says = format!(
                "the order names a column {name:?}; use one of {}, or - to skip it",
                names(kind.specs)
            );
            findings.refuse("order-unknown", None, Some(&column), says);
        }
        let Some(Meaning::Known(at, _)) = header.and_then(|h| h.get(index)).map(|h| meaning(kind.specs, h))
        else {
            continue;
        };
        if !matches!(meaning(kind.specs, name), Meaning::Known(named, _) if named == at) {
            let says = format!(
                "the order says {name} and the file's own header says {}; leave the order out, or put it right",
                written_name(&kind.specs[at])
            );
            findings.refuse("order-against-header", Some(1), Some(&column), says);
        }
    }
    if header.is_some() {
        let says = "the first row holds no number and is taken for a header; the order given is used";
        findings.note("header-skipped", Some(1), None, says);
    }
}

fn choices(head: &[StringRecord], read_as: &[String], kind: Kind) -> Vec<ColumnChoice> {
    let width = head.first().map_or(0, StringRecord::len).max(read_as.len());
    let samples = |index: usize| {
        let values = head.iter().filter_map(|record| record.get(index));
        let values = values.map(str::trim).filter(|value| !value.is_empty());
        values
            .take(3)
            .map(|value| value.chars().take(60).collect())
            .collect()
    };
    let choice = |index: usize| ColumnChoice {
        header: format!("column {}", index + 1),
        read_as: read_as
            .get(index)
            .and_then(|name| match meaning(kind.specs, name) {
                Meaning::Known(at, _) | Meaning::NeedsUnit(at) => Some(written_name(&kind.specs[at])),
                Meaning::Unknown => None,
            }),
        samples: samples(index),
    };
    (0..width).map(choice).collect()
}

//! Expected runs out of a table.

use crate::columns::{ColumnSpec, Holds, spec};
use crate::drafts::ExpectedDraft;
use crate::findings::Findings;
use crate::numbers::NumberStyle;
use crate::options::ReadOptions;
use crate::point_runs::MOST_SIZE_MM;
use crate::points::{check_stated, slugs};
use crate::reading::{Preview, Reading};
use crate::row::Row;
use crate::table::{Kind, open};
use register::body::ExpectedRow;
use register::service::Service;
use std::collections::HashMap;

const RUN: usize = 0;
const SERVICE: usize = 1;
const FROM: usize = 2;
const TO: usize = 3;
const SIZE: usize = 4;
const COUNT: usize = 5;

/// Most runs expected in one row.
const MOST_EXPECTED: u32 = 10_000;

const EXPECTED_COLUMNS: &[ColumnSpec] = &[
    spec("run", Holds::Text),
    spec("service", Holds::Text),
    spec("from", Holds::Text),
    spec("to", Holds::Text),
    spec("size", Holds::Millimetres),
    spec("count", Holds::Number),
];

/// Reads the runs that somebody expects to be recorded.
pub fn read_expected(
    bytes: &[u8],
    options: &ReadOptions,
    progress: &mut dyn FnMut(u64),
) -> Reading<ExpectedDraft> {
    let required: &[usize] = if options.stated.service.is_some() {
        &[RUN]
    } else {
        &[RUN, SERVICE]
    };
    let kind = Kind {
        specs: EXPECTED_COLUMNS,
        required,
        position: None,
    };
    let mut opened = open(bytes, options, kind);
    let findings = &mut opened.findings;
    check_stated(options, findings);
    let mut runs = Vec::new();
    let mut rows_by_run = HashMap::new();
    let mut rows = 0;
    if let Some(table) = opened.table.take() {
        rows = table.read_rows(findings, progress, |row, numbers, findings| {
            runs.extend(take(row, options, &mut rows_by_run, numbers, findings));
        });
    }
    let draft = ExpectedDraft {
        import: options.import.clone(),
        runs,
    };
    opened.close(rows, Preview::default(), draft)
}

fn take(
    row: &Row<'_>,
    options: &ReadOptions,
    rows_by_run: &mut HashMap<String, u64>,
    numbers: &mut NumberStyle,
    findings: &mut Findings,
) -> Option<ExpectedRow> {
    let services = || slugs(&Service::ALL, |service: Service| service.style().slug);
    let run = row.need_text(RUN, findings).map(|run| options.prefixed(run));
    let run = row.label(RUN, run, findings);
    let service = match row.text(SERVICE) {
        Some(_) => row.word(SERVICE, Service::from_slug, services, findings),
        None if options.stated.service.is_some() => options.stated.service,
        None => {
            let says = "it is not said what this run carries; write a service, or unknown when nobody knows";
            row.refuse(SERVICE, "service-missing", says, findings);
            None
        }
    };
    let size_mm = row.positive(SIZE, MOST_SIZE_MM, numbers, &mut Vec::new(), findings);
    let count = row.count(COUNT, MOST_EXPECTED, findings);
    let (run, service) = (run?, service?);
    if let Some(first) = rows_by_run.insert(run.clone(), row.number) {
        let says = format!(
            "run {run:?} stands in row {first} and again in row {}; leave one, or give each a name of its own",
            row.number
        );
        row.refuse(RUN, "label-twice", says, findings);
        return None;
    }
    Some(ExpectedRow {
        run,
        service,
        from: row.text(FROM).map(str::to_owned),
        to: row.text(TO).map(str::to_owned),
        size_mm,
        count,
    })
}

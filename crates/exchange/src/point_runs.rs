//! Runs out of the rows of a points file: grouped by name, put in order, with one value for each thing said.

use crate::PREVIEW_POINTS;
use crate::findings::Findings;
use crate::numbers::NumberStyle;
use crate::options::{ReadOptions, Stated};
use crate::plausibility::Place;
use crate::points::{
    BOW, COLUMNS, END, MATERIAL, ORDER, OUTSIDE, OWNER, ROWS, RUN_NOTE, SERVICE, SIZE, SPACING, WALL, slugs,
};
use crate::row::Row;
use crate::said::{Said, Speaker};
use crate::split::{FULL_ENTRY_BYTES, json_bytes};
use register::body::{PointRow, RunEnd, RunLaid, SectionRow};
use register::service::Service;
use register::view::{Near, PreviewRun};
use register::words::Touched;
use std::collections::{HashMap, HashSet};
use survey::Decimal;
use uuid::Uuid;

/// Largest outside size believed, millimetres.
pub(crate) const MOST_SIZE_MM: f64 = 20_000.0;
/// Most rows or columns of a bank.
const MOST_WAYS: u32 = 100;

/// What one row says of its run.
#[derive(Debug, Default)]
pub(crate) struct RunValues {
    order: Option<Decimal>,
    service: Option<Service>,
    section: SectionRow,
    bow_mm: Option<Decimal>,
    owner: Option<String>,
    note: Option<String>,
    end: Option<RunEnd>,
}

impl RunValues {
    /// Reads the columns that speak of a run.
    pub(crate) fn read(
        row: &Row<'_>,
        numbers: &mut NumberStyle,
        converted: &mut Vec<String>,
        findings: &mut Findings,
    ) -> RunValues {
        let services = || slugs(&Service::ALL, |service: Service| service.style().slug);
        let mut size = |field: usize, findings: &mut Findings| {
            row.positive(field, MOST_SIZE_MM, numbers, converted, findings)
        };
        let section = SectionRow {
            size_mm: size(SIZE, findings),
            outside_mm: size(OUTSIDE, findings),
            wall_mm: size(WALL, findings),
            material: row.text(MATERIAL).map(str::to_owned),
            rows: row.count(ROWS, MOST_WAYS, findings),
            columns: row.count(COLUMNS, MOST_WAYS, findings),
            spacing_mm: size(SPACING, findings),
        };
        RunValues {
            bow_mm: size(BOW, findings),
            section,
            order: row.decimal(ORDER, numbers, &mut Vec::new(), findings),
            service: row.word(SERVICE, Service::from_slug, services, findings),
            owner: row.text(OWNER).map(str::to_owned),
            note: row.whole_text(RUN_NOTE).map(str::to_owned),
            end: read_end(row, findings),
        }
    }

    /// Returns what a row says of a run that it does not name, for its note.
    pub(crate) fn take_as_notes(&mut self, row: &Row<'_>) -> Vec<String> {
        let fields = [
            SERVICE, SIZE, OUTSIDE, WALL, MATERIAL, ROWS, COLUMNS, SPACING, BOW, OWNER, END, RUN_NOTE,
        ];
        let said = fields
            .iter()
            .filter_map(|&field| Some((row.header(field), row.text(field)?)));
        said.map(|(header, value)| format!("{header}={value}")).collect()
    }
}

fn read_end(row: &Row<'_>, findings: &mut Findings) -> Option<RunEnd> {
    let text = row.text(END)?;
    let (word, rest) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
    let rest = rest.trim().to_owned();
    match (word.to_ascii_lowercase().as_str(), rest.is_empty()) {
        ("capped", true) => Some(RunEnd::Capped),
        ("joins", false) => Some(RunEnd::Joins { run: rest }),
        ("enters", false) => Some(RunEnd::Enters { structure: rest }),
        ("continues-unrecorded", true) => Some(RunEnd::ContinuesUnrecorded),
        ("not-stated", true) => Some(RunEnd::NotStated),
        _ => {
            let says = format!(
                "{text:?} is not how a run ends; write capped, joins RUN, enters STRUCTURE, continues-unrecorded or \
                 not-stated"
            );
            row.refuse(END, "unknown-word", says, findings);
            None
        }
    }
}

#[derive(Debug)]
struct Member {
    point: usize,
    row: u64,
    order: Option<Decimal>,
    end: Option<RunEnd>,
}

#[derive(Debug, Default)]
struct Run {
    name: String,
    members: Vec<Member>,
    points: HashSet<usize>,
    service: Option<Said<Service>>,
    size_mm: Option<Said<Decimal>>,
    outside_mm: Option<Said<Decimal>>,
    wall_mm: Option<Said<Decimal>>,
    material: Option<Said<String>>,
    rows: Option<Said<u32>>,
    columns: Option<Said<u32>>,
    spacing_mm: Option<Said<Decimal>>,
    bow_mm: Option<Said<Decimal>>,
    owner: Option<Said<String>>,
    note: Option<Said<String>>,
}

/// Runs as they are gathered.
#[derive(Debug)]
pub(crate) struct Runs {
    stated: Stated,
    prefix: Option<String>,
    import_id: Uuid,
    runs: Vec<Run>,
    by_name: HashMap<String, usize>,
    used: HashSet<usize>,
}

impl Runs {
    pub(crate) fn new(options: &ReadOptions) -> Runs {
        Runs {
            stated: options.stated.clone(),
            prefix: options.prefix.clone(),
            import_id: options.import.import_id,
            runs: Vec::new(),
            by_name: HashMap::new(),
            used: HashSet::new(),
        }
    }

    /// Returns true when a run holds a point already.
    pub(crate) fn holds(&self, run: &str, point: usize) -> bool {
        self.by_name
            .get(run)
            .is_some_and(|&at| self.runs[at].points.contains(&point))
    }

    /// Returns true when any run holds a point.
    pub(crate) fn uses(&self, point: usize) -> bool {
        self.used.contains(&point)
    }

    /// Adds a row to its run.
    pub(crate) fn add(
        &mut self,
        name: String,
        point: usize,
        row: &Row<'_>,
        values: RunValues,
        findings: &mut Findings,
    ) {
        let at = *self.by_name.entry(name).or_insert_with_key(|name| {
            self.runs.push(Run {
                name: name.clone(),
                ..Run::default()
            });
            self.runs.len() - 1
        });
        let run = &mut self.runs[at];
        self.used.insert(point);
        run.points.insert(point);
        let name = run.name.clone();
        let speaker = Speaker {
            kind: "run",
            name: &name,
            row,
        };
        let section = values.section;
        speaker.says(SERVICE, &mut run.service, values.service, findings);
        for (field, said, value) in [
            (SIZE, &mut run.size_mm, section.size_mm),
            (OUTSIDE, &mut run.outside_mm, section.outside_mm),
            (WALL, &mut run.wall_mm, section.wall_mm),
            (SPACING, &mut run.spacing_mm, section.spacing_mm),
            (BOW, &mut run.bow_mm, values.bow_mm),
        ] {
            speaker.says(field, said, value, findings);
        }
        for (field, said, value) in [
            (MATERIAL, &mut run.material, section.material),
            (OWNER, &mut run.owner, values.owner),
            (RUN_NOTE, &mut run.note, values.note),
        ] {
            speaker.says(field, said, value, findings);
        }
        speaker.says(ROWS, &mut run.rows, section.rows, findings);
        speaker.says(COLUMNS, &mut run.columns, section.columns, findings);
        run.members.push(Member {
            point,
            row: row.number,
            order: values.order,
            end: values.end,
        });
    }

    /// Returns the runs in order, and what the preview draws of them.
    pub(crate) fn finish(
        mut self,
        points: &[PointRow],
        places: &[Place],
        findings: &mut Findings,
    ) -> (Vec<RunLaid>, Vec<PreviewRun>) {
        let mut laid = Vec::new();
        let mut drawn = Vec::new();
        let mut left = PREVIEW_POINTS;
        for mut run in std::mem::take(&mut self.runs) {
            put_in_order(&mut run, findings);
            drawn.push(PreviewRun {
                run: run.name.clone(),
                service: run
                    .service
                    .as_ref()
                    .map(|said| said.value)
                    .or(self.stated.service)
                    .map(|service| service.style().slug.to_owned()),
                points: run.members.len() as u64,
                line: run
                    .members
                    .iter()
                    .take(left)
                    .map(|member| places[member.point].at.map(Near))
                    .collect(),
            });
            left = left.saturating_sub(run.members.len());
            if let Some(run) = self.lay(run, points, findings) {
                laid.push(run);
            }
        }
        (laid, drawn)
    }

    fn lay(&self, run: Run, points: &[PointRow], findings: &mut Findings) -> Option<RunLaid> {
        let first_row = run.members.first()?.row;
        let name = run.name.clone();
        if run.members.len() < 2 {
            let says =
                format!("run {name} has one point and a run needs two; add a row, or leave its run blank");
            findings.refuse("run-too-short", Some(first_row), Some("run"), says);
            return None;
        }
        for member in &run.members {
            let touched = points[member.point].touched;
            if touched == Touched::Ground {
                let says = format!(
                    "run {name} goes through a point where the ground was touched, which tells nothing of where the \
                     run lies; leave the run of that row blank"
                );
                findings.refuse("ground-on-run", Some(member.row), Some("touched"), says);
            }
        }
        let ends = self.ends(&run, findings);
        let stated = &self.stated;
        let service = run.service.map(|said| said.value).or(stated.service);
        if service.is_none() {
            let says = format!(
                "it is not said what run {name} carries; add a column service, or write unknown when nobody knows"
            );
            findings.refuse("service-missing", Some(first_row), Some("service"), says);
        }
        let value = |said: Option<Said<Decimal>>, stated: &Option<Decimal>| {
            said.map(|said| said.value).or_else(|| stated.clone())
        };
        let section = SectionRow {
            size_mm: value(run.size_mm, &stated.section.size_mm),
            outside_mm: value(run.outside_mm, &stated.section.outside_mm),
            wall_mm: value(run.wall_mm, &stated.section.wall_mm),
            material: run
                .material
                .map(|said| said.value)
                .or_else(|| stated.section.material.clone()),
            rows: run.rows.map(|said| said.value).or(stated.section.rows),
            columns: run.columns.map(|said| said.value).or(stated.section.columns),
            spacing_mm: value(run.spacing_mm, &stated.section.spacing_mm),
        };
        check_section(&name, &section, first_row, findings);
        let laid = RunLaid {
            run: name,
            service: service?,
            points: run
                .members
                .iter()
                .map(|member| points[member.point].point.clone())
                .collect(),
            section,
            ends,
            bow_mm: value(run.bow_mm, &stated.bow_mm),
            owner: run.owner.map(|said| said.value).or_else(|| stated.owner.clone()),
            note: run.note.map(|said| said.value),
            import_id: Some(self.import_id),
        };
        if json_bytes(&laid) > FULL_ENTRY_BYTES {
            let says = format!(
                "run {} has {} points, more than one entry holds; part it into runs that join",
                laid.run,
                laid.points.len()
            );
            findings.refuse("run-too-long", Some(first_row), Some("run"), says);
        }
        Some(laid)
    }

    /// Takes a run's ends from its first and last row. An end in between is refused: the order is wrong, or two
    /// runs share a name.
    fn ends(&self, run: &Run, findings: &mut Findings) -> [RunEnd; 2] {
        let last = run.members.len() - 1;
        for member in &run.members[1..last] {
            if let Some(end) = member.end.as_ref().filter(|end| **end != RunEnd::NotStated) {
                let says = format!(
                    "run {} ends ({end}) in the middle of its rows; put its rows in order, or make two runs",
                    run.name
                );
                findings.refuse("end-in-the-middle", Some(member.row), Some("end"), says);
            }
        }
        let end = |member: &Member| match &member.end {
            None => RunEnd::NotStated,
            Some(RunEnd::Joins { run }) => RunEnd::Joins {
                run: self.joined_name(run),
            },
            Some(end) => end.clone(),
        };
        [end(&run.members[0]), end(&run.members[last])]
    }

    /// A run of this file carries the import's prefix; any other is taken for one that the site has.
    fn joined_name(&self, name: &str) -> String {
        let prefixed = format!("{}{name}", self.prefix.as_deref().unwrap_or(""));
        if self.by_name.contains_key(&prefixed) {
            prefixed
        } else {
            name.to_owned()
        }
    }
}

fn put_in_order(run: &mut Run, findings: &mut Findings) {
    let with = run.members.iter().find(|member| member.order.is_some());
    let without = run.members.iter().find(|member| member.order.is_none());
    match (with, without) {
        (None, _) => return,
        (Some(with), Some(without)) => {
            let says = format!(
                "run {} has an order in row {} and none in row {}; number all its rows or none",
                run.name, with.row, without.row
            );
            findings.refuse("order-missing", Some(without.row), Some("order"), says);
            return;
        }
        (Some(_), None) => {}
    }
    let key = |member: &Member| member.order.as_ref().map(Decimal::exact);
    run.members.sort_by_key(key);
    for pair in run.members.windows(2) {
        if key(&pair[0]) == key(&pair[1]) {
            let says = format!(
                "run {} has the same order in row {} and row {}; give each row its own",
                run.name, pair[0].row, pair[1].row
            );
            findings.refuse("order-twice", Some(pair[1].row), Some("order"), says);
        }
    }
}

fn check_section(run: &str, section: &SectionRow, row: u64, findings: &mut Findings) {
    let mm = |value: &Option<Decimal>| value.as_ref().map(Decimal::to_f64);
    let outside = mm(&section.outside_mm);
    if let (Some(outside), Some(wall)) = (outside, mm(&section.wall_mm))
        && 2.0 * wall >= outside
    {
        let says =
            format!("run {run} has a wall of {wall} mm in an outside size of {outside} mm; look at both");
        findings.refuse("absurd-size", Some(row), Some("wall_mm"), says);
    }
    if let (Some(outside), Some(size)) = (outside, mm(&section.size_mm))
        && outside < 0.8 * size
    {
        let says = format!(
            "run {run} has an outside size of {outside} mm and a nominal size of {size} mm; look at both"
        );
        findings.doubt("sizes-disagree", Some(row), Some("outside_mm"), says);
    }
    for (name, value) in [("size_mm", mm(&section.size_mm)), ("outside_mm", outside)] {
        if let Some(value) = value.filter(|value| *value < 8.0) {
            let says = format!(
                "run {run} has {name} {value}, which looks like inches; name the column with _in if so"
            );
            findings.doubt("small-size", Some(row), Some(name), says);
        }
    }
    let bank = section
        .rows
        .unwrap_or(1)
        .saturating_mul(section.columns.unwrap_or(1))
        > 1;
    if section.spacing_mm.is_some() && !bank {
        let says = format!("run {run} has a spacing and is no bank; give rows and columns");
        findings.doubt("spacing-without-bank", Some(row), Some("spacing_mm"), says);
    }
}

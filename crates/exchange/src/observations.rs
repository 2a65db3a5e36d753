//! Observations out of a table: sights to control, checks and shots of one or several set-ups, in the order made.

use crate::columns::{ColumnSpec, Holds, spec};
use crate::findings::Findings;
use crate::numbers::NumberStyle;
use crate::options::ReadOptions;
use crate::plausibility::Place;
use crate::point_runs::{RunValues, Runs};
use crate::points::{
    BEND_RADIUS, BOW, COLUMNS, END, FITTING, KNOWN, MATERIAL, NOTE, OBSERVED_AT, ORDER, OUTSIDE, OWNER,
    POINT, ROWS, RUN, RUN_NOTE, SAME_AS, SERVICE, SIDE_BEARING, SIGMA_H, SIGMA_V, SIZE, SPACING, TOUCHED,
    WALL, check_stated, read_bearing, read_bend, read_known, read_touched,
};
use crate::reading::{Preview, Reading};
use crate::row::Row;
use crate::sights::{RowKind, read_sight};
use crate::table::{Kind, open};
use register::body::{
    AirRow, CheckRow, ImportRef, InstrumentRow, KnownSight, MeasuredFrom, PointRow, RunLaid, SightRow,
    StationSet,
};
use register::faces::{are_opposite, are_two_faces};
use register::words::{AngleRead, SightKind, Touched};
use std::collections::HashMap;
use survey::Decimal;

pub(crate) const DIRECTION: usize = 1;
pub(crate) const ZENITH: usize = 2;
pub(crate) const SLOPE: usize = 3;
const KIND: usize = 29;
pub(crate) const TARGET_HEIGHT: usize = 30;
const INSTRUMENT_HEIGHT: usize = 31;
pub(crate) const PRISM: usize = 32;
pub(crate) const FACE: usize = 33;
const STATION: usize = 34;

/// The columns of an observations file. Those of a points file keep their places, so that runs are read alike.
const OBSERVATION_COLUMNS: &[ColumnSpec] = &[
    spec("target", Holds::Text),
    spec("direction", Holds::Text),
    spec("zenith", Holds::Text),
    spec("slope", Holds::Metres),
    spec("touched", Holds::Text),
    spec("side_bearing_deg", Holds::Number),
    spec("run", Holds::Text),
    spec("order", Holds::Number),
    spec("service", Holds::Text),
    spec("fitting", Holds::Text),
    spec("bend_radius", Holds::Millimetres),
    spec("size", Holds::Millimetres),
    spec("outside", Holds::Millimetres),
    spec("wall", Holds::Millimetres),
    spec("material", Holds::Text),
    spec("rows", Holds::Number),
    spec("columns", Holds::Number),
    spec("spacing", Holds::Millimetres),
    spec("bow", Holds::Millimetres),
    spec("owner", Holds::Text),
    spec("sigma_h", Holds::Millimetres),
    spec("sigma_v", Holds::Millimetres),
    spec("known", Holds::Text),
    spec("end", Holds::Text),
    spec("observed_at", Holds::Text),
    spec("by", Holds::Text),
    spec("note", Holds::Text),
    spec("run_note", Holds::Text),
    spec("same_as", Holds::Text),
    spec("kind", Holds::Text),
    spec("target_height", Holds::Metres),
    spec("instrument_height", Holds::Metres),
    spec("prism", Holds::Millimetres),
    spec("face", Holds::Text),
    spec("station", Holds::Text),
];

/// The columns that speak of a shot's point or its run; a second face leaves them blank or says the same.
const OF_A_POINT: [usize; 22] = [
    TOUCHED,
    SIDE_BEARING,
    RUN,
    ORDER,
    SERVICE,
    FITTING,
    BEND_RADIUS,
    SIZE,
    OUTSIDE,
    WALL,
    MATERIAL,
    ROWS,
    COLUMNS,
    SPACING,
    BOW,
    OWNER,
    SIGMA_H,
    SIGMA_V,
    KNOWN,
    END,
    RUN_NOTE,
    SAME_AS,
];

/// What a person states of the set-ups of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct ObservationOptions {
    /// Name of the station, for a file without a station column.
    pub station: Option<String>,
    /// How angles were read; asked for, never guessed.
    pub angles: AngleRead,
    /// The instrument.
    pub instrument: InstrumentRow,
    /// The air, where the instrument did not reckon with it itself.
    pub air: Option<AirRow>,
    /// What the instrument reckoned with itself, as it was set.
    pub air_in_instrument: Option<String>,
    /// The largest difference that is accepted at a check.
    pub tolerance_mm: Option<Decimal>,
    /// Why the station is used without a passed check.
    pub unchecked_reason: Option<String>,
    /// Stations that the site holds: shots from them need no control in the file.
    pub set_already: Vec<String>,
}

/// Everything measured from one station.
#[derive(Debug, Clone, PartialEq)]
pub struct SetUpDraft {
    /// The station: sights to control, and checks made before the first shot.
    pub station: StationSet,
    /// Shots in file order; easting, northing and level are nought until the station is solved.
    pub points: Vec<PointRow>,
    /// Checks made after the first shot.
    pub checks: Vec<CheckRow>,
}

/// The set-ups of a file, and the runs its shots make.
#[derive(Debug, Clone, PartialEq)]
pub struct ObservationsDraft {
    /// The import they come with.
    pub import: ImportRef,
    /// Set-ups in file order.
    pub setups: Vec<SetUpDraft>,
    /// Runs in the order of their first rows.
    pub runs: Vec<RunLaid>,
}

/// Reads observations.
///
/// Rows are `control`, `check` or `shot`. Control and checks before the first shot make the station; later checks
/// stand between shots. Neighbouring rows of one target on both faces are one point. Target height and prism are
/// never defaulted.
pub fn read_observations(
    bytes: &[u8],
    options: &ReadOptions,
    stated: &ObservationOptions,
    progress: &mut dyn FnMut(u64),
) -> Reading<ObservationsDraft> {
    let kind = Kind {
        specs: OBSERVATION_COLUMNS,
        required: &[POINT, KIND, DIRECTION, ZENITH, SLOPE, TARGET_HEIGHT, PRISM],
        position: None,
    };
    let mut opened = open(bytes, options, kind);
    check_stated(options, &mut opened.findings);
    let mut book = Book {
        options,
        stated,
        numbers: NumberStyle::new(b','),
        setups: Vec::new(),
        shots: Vec::new(),
        labels: HashMap::new(),
        runs: Runs::new(options),
        last: None,
        said: Vec::new(),
        height_given: false,
        told_notes: false,
    };
    let mut rows = 0;
    let findings = &mut opened.findings;
    if let Some(table) = opened.table.take() {
        book.numbers = NumberStyle::new(table.separator());
        table.note_names_left_out(findings);
        rows = table.each_row(findings, progress, |row, findings| book.take(row, findings));
        book.numbers.settle(findings);
        for setup in &book.setups {
            if stated.set_already.contains(&setup.station.station) {
                continue;
            }
            if setup
                .station
                .sights
                .iter()
                .all(|s| s.sighted_as != SightKind::Control)
            {
                let says = format!(
                    "station {} has no row of kind control before its shots; add the sights that it was set up by",
                    setup.station.station
                );
                let sighted = setup.station.sights.first().and_then(|s| s.sight.row);
                let first = sighted.or_else(|| setup.points.first().and_then(|p| p.row));
                findings.refuse("no-control", first, Some("kind"), says);
            }
        }
    }
    let places: Vec<Place> = book
        .shots
        .iter()
        .map(|shot| Place {
            row: shot.row.unwrap_or(0),
            at: [0.0; 3],
        })
        .collect();
    let (runs, _) = book.runs.finish(&book.shots, &places, findings);
    let draft = ObservationsDraft {
        import: options.import.clone(),
        setups: book.setups,
        runs,
    };
    let preview = Preview {
        min: None,
        max: None,
        points: Vec::new(),
        runs: Vec::new(),
    };
    opened.close(rows, preview, draft)
}

struct Book<'a> {
    options: &'a ReadOptions,
    stated: &'a ObservationOptions,
    numbers: NumberStyle,
    setups: Vec<SetUpDraft>,
    /// Every shot of the file, as the runs see them.
    shots: Vec<PointRow>,
    /// Place of each label among the shots.
    labels: HashMap<String, usize>,
    runs: Runs,
    /// Set-up, kind and target of the row before.
    last: Option<(usize, RowKind, String)>,
    /// What the newest point's own row says of it, by column.
    said: Vec<Option<String>>,
    /// True once a row of the newest set-up gave the height of the instrument.
    height_given: bool,
    /// True once it was told that remarks beside sights to known points are left out.
    told_notes: bool,
}

impl Book<'_> {
    fn take(&mut self, row: &Row<'_>, findings: &mut Findings) {
        let mut converted = Vec::new();
        if row.text(KIND).is_none() {
            row.refuse(
                KIND,
                "value-missing",
                "the kind is missing; write control, check or shot",
                findings,
            );
        }
        let kind = row.word(KIND, RowKind::from_slug, || RowKind::SLUGS.to_vec(), findings);
        let target = row.need_text(POINT, findings);
        let angles = self.stated.angles;
        let sight = read_sight(row, kind, angles, &mut self.numbers, &mut converted, findings);
        let instrument_height = row.decimal(INSTRUMENT_HEIGHT, &mut self.numbers, &mut converted, findings);
        let station = row
            .text(STATION)
            .map(str::to_owned)
            .or_else(|| self.stated.station.clone());
        if station.is_none() {
            let says = "the station has no name; add a column station, or name it with the import";
            row.refuse(STATION, "station-missing", says, findings);
        }
        let station = row.label(STATION, station, findings);
        let (Some(kind), Some(target), Some(sight), Some(station)) = (kind, target, sight, station) else {
            return;
        };
        let recorded_as = match kind {
            RowKind::Shot => self.options.prefixed(target),
            RowKind::Control | RowKind::Check => target.to_owned(),
        };
        if row.label(POINT, Some(recorded_as), findings).is_none() {
            return;
        }
        let Some(at) = self.setup(&station, instrument_height, row, findings) else {
            return;
        };
        let again = self
            .last
            .as_ref()
            .is_some_and(|(s, k, t)| (*s, *k) == (at, kind) && t == target);
        self.last = Some((at, kind, target.to_owned()));
        if kind != RowKind::Shot {
            self.tell_left_out(row, findings);
        }
        match kind {
            RowKind::Control | RowKind::Check if self.setups[at].points.is_empty() => {
                let sighted_as = if kind == RowKind::Control {
                    SightKind::Control
                } else {
                    SightKind::Check
                };
                let known = KnownSight {
                    target: target.to_owned(),
                    sighted_as,
                    sight,
                };
                self.setups[at].station.sights.push(known);
            }
            RowKind::Control => {
                let says = "control is sighted before the first shot of its station; after it, write check";
                row.refuse(KIND, "control-after-shot", says, findings);
            }
            RowKind::Check => {
                let setup = &mut self.setups[at];
                let after = setup.points.len() as u32;
                match setup.checks.last_mut() {
                    Some(check)
                        if again
                            && check.after == after
                            && check.sights.len() == 1
                            && are_two_faces(&check.sights[0], &sight, angles) =>
                    {
                        check.sights.push(sight);
                    }
                    _ => setup.checks.push(CheckRow {
                        station,
                        after,
                        target: target.to_owned(),
                        sights: vec![sight],
                    }),
                }
            }
            RowKind::Shot => self.shot(at, target, sight, again, converted, row, findings),
        }
    }

    /// Tells what stands on a sight to a known point and is not recorded with it.
    fn tell_left_out(&mut self, row: &Row<'_>, findings: &mut Findings) {
        if let Some(run) = row.text(RUN) {
            let says = format!(
                "run {run} is named by a sight to a known point and goes through shots only; look at the kind"
            );
            findings.doubt("run-on-sight", Some(row.number), Some(row.header(RUN)), says);
        }
        let noted = row.text(NOTE).is_some() || row.notes().next().is_some();
        if noted && !std::mem::replace(&mut self.told_notes, true) {
            let says = "remarks beside sights to known points stay in the kept file and are not copied into the book";
            findings.note("remark-left-out", Some(row.number), Some(row.header(NOTE)), says);
        }
    }

    /// Returns the set-up of a station's name, beginning it with its first row.
    fn setup(
        &mut self,
        station: &str,
        instrument_height: Option<Decimal>,
        row: &Row<'_>,
        findings: &mut Findings,
    ) -> Option<usize> {
        if let Some(at) = self.setups.iter().position(|s| s.station.station == station) {
            if at + 1 != self.setups.len() {
                let says = format!(
                    "rows of station {station} stand apart, with another station between; an instrument set up again \
                     needs a name of its own and its own control, and rows of one set-up follow one another"
                );
                row.refuse(STATION, "station-apart", says, findings);
                return None;
            }
            let known = &mut self.setups[at].station.instrument_height_m;
            match instrument_height {
                Some(height) if !std::mem::replace(&mut self.height_given, true) => *known = height,
                Some(height) if height.exact() != known.exact() => {
                    let says = format!(
                        "the instrument height is {height} here and {known} before; give a station set anew another name"
                    );
                    row.refuse(INSTRUMENT_HEIGHT, "instrument-height-changed", says, findings);
                    return None;
                }
                _ => {}
            }
            return Some(at);
        }
        let stated = self.stated;
        self.height_given = instrument_height.is_some();
        self.setups.push(SetUpDraft {
            station: StationSet {
                station: station.to_owned(),
                saw: None,
                instrument: stated.instrument.clone(),
                angles: stated.angles,
                // A free station whose axis is what is found.
                instrument_height_m: instrument_height.or_else(|| "0".parse().ok())?,
                air: stated.air.clone(),
                air_in_instrument: stated.air_in_instrument.clone(),
                sights: Vec::new(),
                tolerance_mm: stated.tolerance_mm.clone(),
                unchecked_reason: stated.unchecked_reason.clone(),
                import: Some(self.options.import.clone()),
            },
            points: Vec::new(),
            checks: Vec::new(),
        });
        Some(self.setups.len() - 1)
    }

    /// Takes a row whose label was read before: the other face of the shot above it, or the very same shot named again
    /// by another run. Anything else would make one point of two.
    #[expect(clippy::too_many_arguments, reason = "one row, taken apart")]
    fn seen_again(
        &mut self,
        at: usize,
        known: usize,
        sight: SightRow,
        again: bool,
        run: Option<&str>,
        converted: Vec<String>,
        row: &Row<'_>,
        findings: &mut Findings,
    ) {
        let first_row = self.shots[known].row.unwrap_or(0);
        let first = match &self.shots[known].measured {
            Some(MeasuredFrom::Station { sights, .. }) => sights.first().cloned(),
            _ => None,
        };
        let touched = row
            .text(TOUCHED)
            .and_then(Touched::from_slug)
            .or(self.options.stated.touched);
        let same_shot = first.as_ref().is_some_and(|first| {
            SightRow {
                row: first.row,
                ..sight.clone()
            } == *first
        }) && touched == Some(self.shots[known].touched);
        if let (true, Some(run)) = (same_shot, run)
            && !self.runs.holds(run, known)
            && self.runs.uses(known)
        {
            let mut converted = Vec::new();
            let values = RunValues::read(row, &mut self.numbers, &mut converted, findings);
            self.runs.add(run.to_owned(), known, row, values, findings);
            return;
        }
        let angles = self.stated.angles;
        if again
            && first
                .as_ref()
                .is_some_and(|first| are_opposite(first, &sight, angles))
            && let Some(point) = self.setups[at].points.last()
            && let Some(MeasuredFrom::Station { sights, .. }) = &point.measured
            && sights.len() == 1
        {
            self.second_face(at, sight, converted, row, findings);
            return;
        }
        let says = format!(
            "the label {:?} stands in row {first_row} and again in row {}; give each point a label of its own (the two \
             faces of one shot stand in neighbouring rows, one left and one right)",
            self.shots[known].point, row.number
        );
        row.refuse(POINT, "label-twice", says, findings);
    }

    /// Adds the other face to the newest point. It says of the point what the first said, or nothing.
    fn second_face(
        &mut self,
        at: usize,
        sight: SightRow,
        converted: Vec<String>,
        row: &Row<'_>,
        findings: &mut Findings,
    ) {
        let Some(point) = self.setups[at].points.last_mut() else {
            return;
        };
        let Some(MeasuredFrom::Station { sights, .. }) = &mut point.measured else {
            return;
        };
        let first_row = point.row.unwrap_or(0);
        let disagree = |field: usize, first: &str, here: &str, findings: &mut Findings| {
            let says = format!(
                "both faces of one shot are to say the same and it is {first} in row {first_row} and {here} here; put \
                 one right, or give two shots two labels"
            );
            row.refuse(field, "faces-disagree", says, findings);
        };
        for (first, here, field) in [
            (&sights[0].target_height_m, &sight.target_height_m, TARGET_HEIGHT),
            (&sights[0].prism_mm, &sight.prism_mm, PRISM),
        ] {
            if first.exact() != here.exact() {
                disagree(field, first.as_str(), here.as_str(), findings);
            }
        }
        for (field, first) in OF_A_POINT.iter().zip(&self.said) {
            if let Some(here) = row.text(*field)
                && first
                    .as_deref()
                    .is_none_or(|first| !first.eq_ignore_ascii_case(here))
            {
                disagree(*field, first.as_deref().unwrap_or("blank"), here, findings);
            }
        }
        sights.push(sight);
        let more = row.whole_text(NOTE).map(str::to_owned).into_iter();
        for more in more.chain(converted).chain(row.notes()) {
            match &mut point.note {
                Some(note) if note.split("; ").any(|noted| noted == more) => {}
                Some(note) => *note = format!("{note}; {more}"),
                None => point.note = Some(more),
            }
        }
    }

    #[expect(clippy::too_many_arguments, reason = "one row, taken apart")]
    fn shot(
        &mut self,
        at: usize,
        target: &str,
        sight: SightRow,
        again: bool,
        converted: Vec<String>,
        row: &Row<'_>,
        findings: &mut Findings,
    ) {
        let label = self.options.prefixed(target);
        let stated = &self.options.stated;
        let run = row
            .text(RUN)
            .or(stated.run.as_deref())
            .map(|run| self.options.prefixed(run));
        let run = row.label(RUN, run, findings);
        if let Some(&known) = self.labels.get(&label) {
            self.seen_again(at, known, sight, again, run.as_deref(), converted, row, findings);
            return;
        }
        self.labels.insert(label.clone(), self.shots.len());
        self.said = OF_A_POINT
            .iter()
            .map(|&field| row.text(field).map(str::to_owned))
            .collect();
        let mut notes: Vec<String> = row.whole_text(NOTE).map(str::to_owned).into_iter().collect();
        let mut converted = converted;
        let touched = read_touched(row, stated.touched, findings);
        let side_bearing_deg = read_bearing(row, touched, &mut self.numbers, findings);
        let known = read_known(row, findings);
        let (fitting, bend_radius_mm) = read_bend(row, &mut self.numbers, &mut converted, findings);
        let observed_at = row.time(OBSERVED_AT, findings);
        let mut values = RunValues::read(row, &mut self.numbers, &mut converted, findings);
        if run.is_none() {
            let stray = values.take_as_notes(row);
            if let Some(first) = stray.first() {
                let says = format!("{first} belongs to a run and the row names none; it is kept as a note");
                findings.doubt("no-run", Some(row.number), Some("run"), says);
            }
            notes.extend(stray);
        }
        notes.extend(converted);
        // Uncertainty is reckoned from the station and the sight; what the file states is kept as a remark.
        let stated_sigmas = [SIGMA_H, SIGMA_V].map(|field| Some((row.header(field), row.text(field)?)));
        notes.extend(
            stated_sigmas
                .into_iter()
                .flatten()
                .map(|(header, value)| format!("{header}={value}")),
        );
        notes.extend(row.notes());
        let Ok(nought) = "0".parse::<Decimal>() else {
            return;
        };
        let point = PointRow {
            point: label,
            easting_m: nought.clone(),
            northing_m: nought.clone(),
            level_m: nought,
            touched: touched.unwrap_or(Touched::Other),
            side_bearing_deg,
            sigma_h_mm: None,
            sigma_v_mm: None,
            known: known.or(stated.known),
            fitting,
            bend_radius_mm,
            observed_at,
            note: (!notes.is_empty()).then(|| notes.join("; ")),
            same_as: row.text(SAME_AS).map(str::to_owned),
            measured: Some(MeasuredFrom::Station {
                station: self.setups[at].station.station.clone(),
                sights: vec![sight],
            }),
            row: Some(row.number),
        };
        self.setups[at].points.push(point.clone());
        let index = self.shots.len();
        self.shots.push(point);
        if let Some(run) = run {
            self.runs.add(run, index, row, values, findings);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::points::POINT_COLUMNS;

    /// What both files hold is read by one set of places.
    #[test]
    fn the_columns_of_a_point_stand_where_they_stand_in_a_points_file() {
        for field in OF_A_POINT.into_iter().chain([OBSERVED_AT, NOTE]) {
            assert_eq!(OBSERVATION_COLUMNS[field], POINT_COLUMNS[field]);
        }
    }
}

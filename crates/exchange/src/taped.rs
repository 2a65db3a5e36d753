//! Points by tape, satellite and detector out of a table: raw readings, and the runs that the rows make.

use crate::columns::{ColumnSpec, Holds, spec};
use crate::drafts::PointsDraft;
use crate::findings::Findings;
use crate::numbers::NumberStyle;
use crate::options::ReadOptions;
use crate::plausibility::Place;
use crate::point_runs::{RunValues, Runs};
use crate::points::{
    EASTING, LEVEL, MOST_SIGMA_MM, NORTHING, NOTE, OBSERVED_AT, POINT, RUN, SIGMA_H, SIGMA_V, check_stated,
    read_bearing, read_bend, read_known, read_touched, slugs,
};
use crate::reading::{Preview, Reading};
use crate::row::Row;
use crate::table::{Kind, open};
use register::body::{
    CoordinatesRow, DetectorRow, LevelFrom, MeasuredFrom, OffsetRow, PointRow, SatelliteRow, TieRow,
};
use register::words::{DetectorMethod, FigureMeans, HeightAbove, SatelliteFix, SurfaceKind, Touched};
use std::collections::HashMap;
use survey::Decimal;

const SIDE: usize = 29;
const TAPE_SIGMA: usize = 30;
const LINE_FROM: usize = 31;
const LINE_TO: usize = 32;
const CHAINAGE: usize = 33;
const OFFSET: usize = 34;
const SQUARE_SIGMA: usize = 35;
const STAFF_MARK: usize = 36;
const STAFF_BACK: usize = 37;
const STAFF_FORE: usize = 38;
const DEPTH: usize = 39;
const BELOW: usize = 40;
const FIX: usize = 41;
const HORIZONTAL: usize = 42;
const VERTICAL: usize = 43;
const MEANS: usize = 44;
const HEIGHT: usize = 45;
const HEIGHT_ABOVE: usize = 46;
const ANTENNA: usize = 47;
const METHOD: usize = 48;
const PERCENT: usize = 49;
const CONSTANT: usize = 50;
const ACROSS: usize = 51;
/// The first of four ties; each has from, distance and rise.
const TIES: usize = 52;
const MOST_TIES: usize = 4;
const RISE_SIGMA: usize = TIES + 3 * MOST_TIES;

/// The columns of a taped, satellite or detected file. Those of a points file keep their places, so that runs are
/// read alike.
const TAPED_COLUMNS: &[ColumnSpec] = &[
    spec("point", Holds::Text),
    spec("easting", Holds::Metres),
    spec("northing", Holds::Metres),
    spec("level", Holds::Metres),
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
    spec("side", Holds::Text),
    spec("tape_sigma", Holds::Millimetres),
    spec("line_from", Holds::Text),
    spec("line_to", Holds::Text),
    spec("chainage", Holds::Metres),
    spec("offset", Holds::Metres),
    spec("square_sigma_deg", Holds::Number),
    spec("staff_mark", Holds::Text),
    spec("staff_back", Holds::Metres),
    spec("staff_fore", Holds::Metres),
    spec("depth", Holds::Metres),
    spec("below", Holds::Text),
    spec("fix", Holds::Text),
    spec("horizontal", Holds::Millimetres),
    spec("vertical", Holds::Millimetres),
    spec("means", Holds::Text),
    spec("height", Holds::Metres),
    spec("height_above", Holds::Text),
    spec("antenna", Holds::Metres),
    spec("method", Holds::Text),
    spec("percent", Holds::Number),
    spec("constant", Holds::Millimetres),
    spec("across", Holds::Millimetres),
    spec("from_1", Holds::Text),
    spec("distance_1", Holds::Metres),
    spec("rise_1", Holds::Metres),
    spec("from_2", Holds::Text),
    spec("distance_2", Holds::Metres),
    spec("rise_2", Holds::Metres),
    spec("from_3", Holds::Text),
    spec("distance_3", Holds::Metres),
    spec("rise_3", Holds::Metres),
    spec("from_4", Holds::Text),
    spec("distance_4", Holds::Metres),
    spec("rise_4", Holds::Metres),
    spec("rise_sigma", Holds::Millimetres),
];

/// What the rows of a file are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TapedKind {
    /// Distances from two known points or more.
    Ties,
    /// Chainage and offset from a line between two known points.
    Offsets,
    /// Satellites.
    Satellite,
    /// Found with a detector and not seen; the mark above by coordinates, ties or an offset.
    Detected,
}

impl TapedKind {
    fn required(self) -> &'static [usize] {
        const SECOND: usize = TIES + 3;
        match self {
            TapedKind::Ties => &[POINT, TIES, TIES + 1, SECOND, SECOND + 1, SIDE, TAPE_SIGMA],
            TapedKind::Offsets => &[POINT, LINE_FROM, LINE_TO, CHAINAGE, OFFSET, SIDE, TAPE_SIGMA],
            TapedKind::Satellite => &[POINT, EASTING, NORTHING, FIX],
            TapedKind::Detected => &[POINT, DEPTH, BELOW, METHOD, PERCENT, CONSTANT, ACROSS, MEANS],
        }
    }
}

/// Reads points by tape, satellite or detector; positions are nought until they are reckoned.
///
/// Each row says its level in one way: `level`, a staff, a depth below a recorded surface, or the receiver's height.
pub fn read_taped(
    bytes: &[u8],
    options: &ReadOptions,
    taped: TapedKind,
    progress: &mut dyn FnMut(u64),
) -> Reading<PointsDraft> {
    let kind = Kind {
        specs: TAPED_COLUMNS,
        required: taped.required(),
        position: None,
    };
    let mut opened = open(bytes, options, kind);
    check_stated(options, &mut opened.findings);
    let mut book = Book {
        options,
        taped,
        numbers: NumberStyle::new(b','),
        rows: Vec::new(),
        labels: HashMap::new(),
        runs: Runs::new(options),
    };
    let mut rows = 0;
    let findings = &mut opened.findings;
    if let Some(table) = opened.table.take() {
        book.numbers = NumberStyle::new(table.separator());
        table.note_names_left_out(findings);
        rows = table.each_row(findings, progress, |row, findings| book.take(row, findings));
        book.numbers.settle(findings);
    }
    let place = |row: &PointRow| Place {
        row: row.row.unwrap_or(0),
        at: [0.0; 3],
    };
    let places: Vec<Place> = book.rows.iter().map(place).collect();
    let (runs, _) = book.runs.finish(&book.rows, &places, findings);
    let draft = PointsDraft {
        import: options.import.clone(),
        points: book.rows,
        runs,
    };
    opened.close(rows, Preview::default(), draft)
}

struct Book<'a> {
    options: &'a ReadOptions,
    taped: TapedKind,
    numbers: NumberStyle,
    rows: Vec<PointRow>,
    labels: HashMap<String, usize>,
    runs: Runs,
}

impl Book<'_> {
    fn take(&mut self, row: &Row<'_>, findings: &mut Findings) {
        let stated = &self.options.stated;
        let mut notes: Vec<String> = row.whole_text(NOTE).map(str::to_owned).into_iter().collect();
        let mut converted = Vec::new();
        let label = row
            .need_text(POINT, findings)
            .map(|label| self.options.prefixed(label));
        let label = row.label(POINT, label, findings);
        let touched = read_touched(row, stated.touched, findings);
        let side_bearing_deg = read_bearing(row, touched, &mut self.numbers, findings);
        let known = read_known(row, findings);
        let (fitting, bend_radius_mm) = read_bend(row, &mut self.numbers, &mut converted, findings);
        let observed_at = row.time(OBSERVED_AT, findings);
        let measured = self.measured(row, &mut converted, findings);
        let run = row.text(RUN).or(stated.run.as_deref());
        let run = run.map(|run| self.options.prefixed(run));
        let run = row.label(RUN, run, findings);
        let mut values = RunValues::read(row, &mut self.numbers, &mut converted, findings);
        let (Some(label), Some(measured), Ok(nought)) = (label, measured, "0".parse::<Decimal>()) else {
            return;
        };
        notes.extend(converted);
        notes.extend(row.notes());
        if run.is_none() {
            let stray = values.take_as_notes(row);
            if let Some(first) = stray.first() {
                let says = format!("{first} belongs to a run and the row names none; it is kept as a note");
                findings.doubt("no-run", Some(row.number), Some("run"), says);
            }
            notes.extend(stray);
        }
        let point = PointRow {
            point: label,
            easting_m: nought.clone(),
            northing_m: nought.clone(),
            level_m: nought,
            // A row without it was refused above, so the draft is never handed out.
            touched: touched.unwrap_or(Touched::Other),
            side_bearing_deg,
            sigma_h_mm: None,
            sigma_v_mm: None,
            known: known.or(stated.known),
            fitting,
            bend_radius_mm,
            observed_at,
            note: (!notes.is_empty()).then(|| notes.join("; ")),
            same_as: row.text(crate::points::SAME_AS).map(str::to_owned),
            measured: Some(measured),
            row: Some(row.number),
        };
        let Some(index) = self.place(point, row, run.as_deref(), findings) else {
            return;
        };
        if let Some(run) = run {
            self.runs.add(run, index, row, values, findings);
        }
    }

    /// Puts a point among the others; a label used before is refused unless the very same readings are on another run.
    fn place(
        &mut self,
        point: PointRow,
        row: &Row<'_>,
        run: Option<&str>,
        findings: &mut Findings,
    ) -> Option<usize> {
        if let Some(&earlier) = self.labels.get(&point.point) {
            let first = &self.rows[earlier];
            let same = first.measured == point.measured && first.touched == point.touched;
            if same && run.is_some_and(|run| !self.runs.holds(run, earlier)) && self.runs.uses(earlier) {
                return Some(earlier);
            }
            let says = format!(
                "the label {:?} stands in row {} and again in row {}; give each point a label of its own",
                point.point,
                first.row.unwrap_or(0),
                row.number
            );
            row.refuse(POINT, "label-twice", says, findings);
            return None;
        }
        self.labels.insert(point.point.clone(), self.rows.len());
        self.rows.push(point);
        Some(self.rows.len() - 1)
    }

    /// Returns the name of a known point: of this file where a row before has it, else as written.
    fn known_point(&self, name: &str) -> String {
        let own = self.options.prefixed(name);
        if self.labels.contains_key(&own) {
            own
        } else {
            name.to_owned()
        }
    }

    fn measured(
        &mut self,
        row: &Row<'_>,
        converted: &mut Vec<String>,
        findings: &mut Findings,
    ) -> Option<MeasuredFrom> {
        let level = if self.taped == TapedKind::Detected {
            self.detector(row, converted, findings)
        } else {
            self.level(row, converted, findings)
        };
        let plan = match self.taped {
            TapedKind::Detected if row.text(TIES).is_some() => TapedKind::Ties,
            TapedKind::Detected if row.text(LINE_FROM).is_some() => TapedKind::Offsets,
            other => other,
        };
        match plan {
            TapedKind::Ties => self.ties(level, row, converted, findings),
            TapedKind::Offsets => self.offset(level, row, converted, findings),
            TapedKind::Satellite => self.satellite(level, row, converted, findings),
            TapedKind::Detected => {
                let easting_m = row.need_decimal(EASTING, &mut self.numbers, converted, findings);
                let northing_m = row.need_decimal(NORTHING, &mut self.numbers, converted, findings);
                let sigma = row.positive(SIGMA_H, MOST_SIGMA_MM, &mut self.numbers, converted, findings);
                Some(MeasuredFrom::Coordinates(Box::new(CoordinatesRow {
                    easting_m: easting_m?,
                    northing_m: northing_m?,
                    sigma_h_mm: sigma.or_else(|| self.options.stated.sigma_h_mm.clone()),
                    level: level?,
                })))
            }
        }
    }

    fn ties(
        &mut self,
        level: Option<LevelFrom>,
        row: &Row<'_>,
        converted: &mut Vec<String>,
        findings: &mut Findings,
    ) -> Option<MeasuredFrom> {
        let sigma = self.tape_sigma(row, converted, findings);
        let side = row.need_text(SIDE, findings).map(str::to_ascii_lowercase);
        let rise_sigma = row.positive(RISE_SIGMA, MOST_SIGMA_MM, &mut self.numbers, converted, findings);
        let mut ties = Vec::new();
        for k in 0..MOST_TIES {
            let (from, distance, rise) = (TIES + 3 * k, TIES + 3 * k + 1, TIES + 3 * k + 2);
            let asked = k < 2
                || [from, distance, rise]
                    .iter()
                    .any(|field| row.text(*field).is_some());
            if !asked {
                continue;
            }
            let name = row.need_text(from, findings).map(|name| self.known_point(name));
            let distance_m = row.need_decimal(distance, &mut self.numbers, converted, findings);
            let rise_m = row.decimal(rise, &mut self.numbers, converted, findings);
            if let (Some(from), Some(distance_m), Some(sigma)) = (name, distance_m, &sigma) {
                ties.push(TieRow {
                    from,
                    distance_m,
                    sigma_mm: sigma.clone(),
                    rise_sigma_mm: rise_sigma.clone().filter(|_| rise_m.is_some()),
                    rise_m,
                });
            }
        }
        Some(MeasuredFrom::Ties {
            ties: (ties.len() >= 2).then_some(ties)?,
            side: side?,
            level: Some(Box::new(level?)),
        })
    }

    fn offset(
        &mut self,
        level: Option<LevelFrom>,
        row: &Row<'_>,
        converted: &mut Vec<String>,
        findings: &mut Findings,
    ) -> Option<MeasuredFrom> {
        let sigma = self.tape_sigma(row, converted, findings);
        let side = row.need_text(SIDE, findings).map(str::to_ascii_lowercase);
        let from = row
            .need_text(LINE_FROM, findings)
            .map(|name| self.known_point(name));
        let to = row
            .need_text(LINE_TO, findings)
            .map(|name| self.known_point(name));
        let chainage_m = row.need_decimal(CHAINAGE, &mut self.numbers, converted, findings);
        let offset_m = row.need_decimal(OFFSET, &mut self.numbers, converted, findings);
        let square_sigma_deg = row.decimal(SQUARE_SIGMA, &mut self.numbers, converted, findings);
        if let Some(offset) = offset_m.as_ref().filter(|offset| offset.exact().signum() < 0) {
            let says = format!(
                "an offset of {offset} says its side by a sign; write the length, and left or right in side"
            );
            row.refuse(OFFSET, "absurd-size", says, findings);
            return None;
        }
        Some(MeasuredFrom::Offset(Box::new(OffsetRow {
            from: from?,
            to: to?,
            chainage_m: chainage_m?,
            chainage_sigma_mm: sigma.clone()?,
            offset_m: offset_m?,
            offset_sigma_mm: sigma?,
            side: side?,
            square_sigma_deg,
            level: level?,
        })))
    }

    fn satellite(
        &mut self,
        level: Option<LevelFrom>,
        row: &Row<'_>,
        converted: &mut Vec<String>,
        findings: &mut Findings,
    ) -> Option<MeasuredFrom> {
        let easting_m = row.need_decimal(EASTING, &mut self.numbers, converted, findings);
        let northing_m = row.need_decimal(NORTHING, &mut self.numbers, converted, findings);
        row.need_text(FIX, findings);
        let allowed = || slugs(SatelliteFix::ALL, SatelliteFix::slug);
        let fix = row.word(FIX, SatelliteFix::from_slug, allowed, findings);
        let mut figure = |field: usize, findings: &mut Findings| {
            row.positive(field, MOST_SIGMA_MM, &mut self.numbers, converted, findings)
        };
        let horizontal_mm = figure(HORIZONTAL, findings);
        let vertical_mm = figure(VERTICAL, findings);
        let means = read_means(row, findings);
        if (horizontal_mm.is_some() || vertical_mm.is_some()) && row.text(MEANS).is_none() {
            let says = "the receiver's figures are given and not what they mean; write sigma, 95 or 50";
            row.refuse(MEANS, "value-missing", says, findings);
            return None;
        }
        Some(MeasuredFrom::Satellite(Box::new(SatelliteRow {
            easting_m: easting_m?,
            northing_m: northing_m?,
            fix: fix?,
            horizontal_mm,
            vertical_mm,
            means,
            level: level?,
        })))
    }

    fn detector(
        &mut self,
        row: &Row<'_>,
        converted: &mut Vec<String>,
        findings: &mut Findings,
    ) -> Option<LevelFrom> {
        let depth_m = row.need_decimal(DEPTH, &mut self.numbers, converted, findings);
        let below = self.below(row, findings);
        row.need_text(METHOD, findings);
        let allowed = || slugs(DetectorMethod::ALL, DetectorMethod::slug);
        let method = row.word(METHOD, DetectorMethod::from_slug, allowed, findings);
        let percent = row.need_decimal(PERCENT, &mut self.numbers, converted, findings);
        let constant_mm = row.need_decimal(CONSTANT, &mut self.numbers, converted, findings);
        let across_mm = row.need_decimal(ACROSS, &mut self.numbers, converted, findings);
        row.need_text(MEANS, findings);
        let means = read_means(row, findings);
        let (surface, surface_kind) = below?;
        Some(LevelFrom::Detector(Box::new(DetectorRow {
            surface,
            surface_kind,
            depth_m: depth_m?,
            method: method?,
            percent: percent?,
            constant_mm: constant_mm?,
            across_mm: across_mm?,
            means: means?,
        })))
    }

    fn level(
        &mut self,
        row: &Row<'_>,
        converted: &mut Vec<String>,
        findings: &mut Findings,
    ) -> Option<LevelFrom> {
        let ways: Vec<usize> = [LEVEL, STAFF_MARK, DEPTH, HEIGHT]
            .into_iter()
            .filter(|field| row.text(*field).is_some())
            .collect();
        let [way] = ways.as_slice() else {
            let says = if ways.is_empty() {
                "nothing says its level; fill level, or staff_mark with staff_back and staff_fore, or depth and below (a \
                 satellite's: height, height_above and antenna)"
                    .to_owned()
            } else {
                let filled: Vec<&str> = ways.iter().map(|field| row.header(*field)).collect();
                format!(
                    "its level is given in several ways ({}); leave one",
                    filled.join(", ")
                )
            };
            row.refuse(LEVEL, "level-missing", says, findings);
            return None;
        };
        if *way == HEIGHT {
            let height_m = row.need_decimal(HEIGHT, &mut self.numbers, converted, findings);
            row.need_text(HEIGHT_ABOVE, findings);
            let allowed = || slugs(HeightAbove::ALL, HeightAbove::slug);
            let above = row.word(HEIGHT_ABOVE, HeightAbove::from_slug, allowed, findings);
            let antenna_m = row.need_decimal(ANTENNA, &mut self.numbers, converted, findings);
            return Some(LevelFrom::Receiver {
                height_m: height_m?,
                above: above?,
                antenna_m: antenna_m?,
            });
        }
        let sigma = row.positive(SIGMA_V, MOST_SIGMA_MM, &mut self.numbers, converted, findings);
        let sigma = sigma.or_else(|| self.options.stated.sigma_v_mm.clone());
        if sigma.is_none() && row.text(SIGMA_V).is_none() {
            let says = "how well its level was read is not said; give sigma_v_mm, the standard deviation of the reading";
            row.refuse(SIGMA_V, "value-missing", says, findings);
        }
        match *way {
            LEVEL => Some(LevelFrom::Stated {
                level_m: row.decimal(LEVEL, &mut self.numbers, converted, findings)?,
                sigma_mm: sigma?,
            }),
            STAFF_MARK => {
                let mark = row.text(STAFF_MARK).map(|name| self.known_point(name));
                let back_m = row.need_decimal(STAFF_BACK, &mut self.numbers, converted, findings);
                let fore_m = row.need_decimal(STAFF_FORE, &mut self.numbers, converted, findings);
                Some(LevelFrom::Staff {
                    mark: mark?,
                    back_m: back_m?,
                    fore_m: fore_m?,
                    sigma_mm: sigma?,
                })
            }
            _ => {
                let depth_m = row.decimal(DEPTH, &mut self.numbers, converted, findings);
                let (surface, surface_kind) = self.below(row, findings)?;
                Some(LevelFrom::Depth {
                    surface,
                    surface_kind,
                    depth_m: depth_m?,
                    sigma_mm: sigma?,
                })
            }
        }
    }

    /// Reads the surface that a depth is below: its name, or name and kind with a comma between.
    fn below(&self, row: &Row<'_>, findings: &mut Findings) -> Option<(String, SurfaceKind)> {
        let text = row.need_text(BELOW, findings)?;
        let surfaces = &self.options.surfaces;
        let named: Vec<_> = surfaces
            .iter()
            .filter(|(name, kind)| name == text || format!("{name}, {kind}") == text)
            .collect();
        let list = |of: &mut dyn Iterator<Item = &(String, SurfaceKind)>| {
            of.map(|(name, kind)| format!("{name}, {kind}"))
                .collect::<Vec<_>>()
                .join("; ")
        };
        let says = match named.as_slice() {
            [one] => return Some((*one).clone()),
            [] if surfaces.is_empty() => {
                format!(
                    "no surface is recorded, so nothing lies a depth below {text:?}; import the surface first"
                )
            }
            [] => format!(
                "no surface is named {text:?}; recorded: {}",
                list(&mut surfaces.iter())
            ),
            several => format!(
                "{text:?} names several kinds; write one of: {}",
                list(&mut several.iter().copied())
            ),
        };
        row.refuse(BELOW, "no-such-surface", says, findings);
        None
    }

    fn tape_sigma(
        &mut self,
        row: &Row<'_>,
        converted: &mut Vec<String>,
        findings: &mut Findings,
    ) -> Option<Decimal> {
        row.need_text(TAPE_SIGMA, findings)?;
        row.positive(TAPE_SIGMA, MOST_SIGMA_MM, &mut self.numbers, converted, findings)
    }
}

fn read_means(row: &Row<'_>, findings: &mut Findings) -> Option<FigureMeans> {
    let allowed = || slugs(FigureMeans::ALL, FigureMeans::slug);
    row.word(MEANS, FigureMeans::from_slug, allowed, findings)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::points::{POINT_COLUMNS, TOUCHED};

    #[test]
    fn the_columns_of_a_points_file_keep_their_places() {
        for (at, spec) in POINT_COLUMNS.iter().enumerate() {
            assert_eq!(
                (TAPED_COLUMNS[at].name, TAPED_COLUMNS[at].holds),
                (spec.name, spec.holds)
            );
        }
        for (at, name) in [
            (TOUCHED, "touched"),
            (SIDE, "side"),
            (BELOW, "below"),
            (ANTENNA, "antenna"),
            (ACROSS, "across"),
            (TIES, "from_1"),
            (TIES + 3 * MOST_TIES - 1, "rise_4"),
        ] {
            assert_eq!(TAPED_COLUMNS[at].name, name);
        }
    }
}

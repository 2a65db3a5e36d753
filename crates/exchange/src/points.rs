//! Measured points out of a table, and the runs that its rows make.

use crate::columns::{ColumnSpec, Holds};
use crate::drafts::PointsDraft;
use crate::findings::Findings;
use crate::near_twins::near_twins;
use crate::numbers::NumberStyle;
use crate::options::ReadOptions;
use crate::plausibility::{Place, check_control, check_levels, check_plan, corners};
use crate::point_runs::{RunValues, Runs};
use crate::reading::{Preview, Reading};
use crate::row::Row;
use crate::table::{Kind, open};
use register::body::PointRow;
use register::view::{Near, PreviewPoint};
use register::words::{Fitting, Known, Touched};
use std::collections::HashMap;
use survey::Decimal;

macro_rules! columns {
    ($($number:literal $constant:ident $name:literal $holds:ident),+ $(,)?) => {
        $(pub(crate) const $constant: usize = $number;)+
        /// The columns of a points file, in the order they are written.
        pub(crate) const POINT_COLUMNS: &[ColumnSpec] = &[
            $(ColumnSpec { name: $name, holds: Holds::$holds }),+
        ];
    };
}

columns! {
    0 POINT "point" Text,
    1 EASTING "easting" Metres,
    2 NORTHING "northing" Metres,
    3 LEVEL "level" Metres,
    4 TOUCHED "touched" Text,
    5 SIDE_BEARING "side_bearing_deg" Number,
    6 RUN "run" Text,
    7 ORDER "order" Number,
    8 SERVICE "service" Text,
    9 FITTING "fitting" Text,
    10 BEND_RADIUS "bend_radius" Millimetres,
    11 SIZE "size" Millimetres,
    12 OUTSIDE "outside" Millimetres,
    13 WALL "wall" Millimetres,
    14 MATERIAL "material" Text,
    15 ROWS "rows" Number,
    16 COLUMNS "columns" Number,
    17 SPACING "spacing" Millimetres,
    18 BOW "bow" Millimetres,
    19 OWNER "owner" Text,
    20 SIGMA_H "sigma_h" Millimetres,
    21 SIGMA_V "sigma_v" Millimetres,
    22 KNOWN "known" Text,
    23 END "end" Text,
    24 OBSERVED_AT "observed_at" Text,
    25 _BY "by" Text,
    26 NOTE "note" Text,
    27 RUN_NOTE "run_note" Text,
    28 SAME_AS "same_as" Text,
}

/// Largest bend radius believed, millimetres.
const MOST_RADIUS_MM: f64 = 10_000_000.0;
/// Largest standard deviation believed, millimetres.
pub(crate) const MOST_SIGMA_MM: f64 = 100_000.0;

/// Reads measured points.
///
/// Columns are those of our own points file; unknown ones and readings converted from other units are kept as
/// notes, `header=value`, parted by `; `. What was touched is never defaulted: it comes from the row, or from a person
/// through `options.stated`. A label that comes twice is refused, except where the very same shot is named again by another run.
///
/// `progress` is told now and then how many bytes have been read, and once at the end.
pub fn read_points(
    bytes: &[u8],
    options: &ReadOptions,
    progress: &mut dyn FnMut(u64),
) -> Reading<PointsDraft> {
    let touched_stated = options.stated.touched.is_some();
    let kind = Kind {
        specs: POINT_COLUMNS,
        required: if touched_stated {
            &[POINT, EASTING, NORTHING, LEVEL]
        } else {
            &[POINT, EASTING, NORTHING, LEVEL, TOUCHED]
        },
        position: Some([EASTING, NORTHING, LEVEL]),
    };
    let mut opened = open(bytes, options, kind);
    check_stated(options, &mut opened.findings);
    let mut points = Points {
        options,
        rows: Vec::new(),
        places: Vec::new(),
        labels: HashMap::new(),
        runs: Runs::new(options),
        preview: Vec::new(),
        runless: None,
    };
    let mut rows = 0;
    let findings = &mut opened.findings;
    if let Some(table) = opened.table.take() {
        rows = table.read_rows(findings, progress, |row, numbers, findings| {
            points.take(row, numbers, findings);
        });
        let headers = [EASTING, NORTHING, LEVEL].map(|field| table.columns.header(field));
        points.look_over(headers, findings);
    }
    let (runs, preview_runs) = points.runs.finish(&points.rows, &points.places, findings);
    let [min, max] = corners(&points.places);
    let preview = Preview {
        min,
        max,
        points: points.preview,
        runs: preview_runs,
    };
    let draft = PointsDraft {
        import: options.import.clone(),
        points: points.rows,
        runs,
    };
    opened.close(rows, preview, draft)
}

/// Refuses what a person states for the whole file and cannot mean.
pub(crate) fn check_stated(options: &ReadOptions, findings: &mut Findings) {
    if let Some(Err(e)) = options.observed_at.as_deref().map(register::time::observed) {
        findings.refuse("not-a-time", None, None, e.to_string());
    }
    if options.stated.touched == Some(Touched::Side) {
        let says = "a side cannot be stated for a whole file: each needs its own direction from the axis; add the \
                    columns touched and side_bearing_deg";
        findings.refuse("side-bearing-missing", None, None, says);
    }
    let stated = &options.stated;
    let section = &stated.section;
    let lengths = [
        ("sigma_h_mm", &stated.sigma_h_mm),
        ("sigma_v_mm", &stated.sigma_v_mm),
        ("bow_mm", &stated.bow_mm),
        ("size_mm", &section.size_mm),
        ("outside_mm", &section.outside_mm),
        ("wall_mm", &section.wall_mm),
        ("spacing_mm", &section.spacing_mm),
    ];
    for (name, length) in lengths {
        if let Some(length) = length.as_ref().filter(|length| length.exact().signum() <= 0) {
            let says =
                format!("{name} is stated as {length} and must be above nought; leave it out when not known");
            findings.refuse("absurd-size", None, Some(name), says);
        }
    }
}

struct Points<'a> {
    options: &'a ReadOptions,
    rows: Vec<PointRow>,
    places: Vec<Place>,
    labels: HashMap<String, usize>,
    runs: Runs,
    preview: Vec<PreviewPoint>,
    /// First row that says something of a run and names none.
    runless: Option<(u64, String)>,
}

impl Points<'_> {
    fn take(&mut self, row: &Row<'_>, numbers: &mut NumberStyle, findings: &mut Findings) {
        let stated = &self.options.stated;
        let mut converted = Vec::new();
        let label = row
            .need_text(POINT, findings)
            .map(|label| self.options.prefixed(label));
        let label = row.label(POINT, label, findings);
        let easting = row.need_decimal(EASTING, numbers, &mut converted, findings);
        let northing = row.need_decimal(NORTHING, numbers, &mut converted, findings);
        let level = row.need_decimal(LEVEL, numbers, &mut converted, findings);
        let touched = read_touched(row, stated.touched, findings);
        let side_bearing_deg = read_bearing(row, touched, numbers, findings);
        let sigma_h_mm = row.positive(SIGMA_H, MOST_SIGMA_MM, numbers, &mut converted, findings);
        let sigma_v_mm = row.positive(SIGMA_V, MOST_SIGMA_MM, numbers, &mut converted, findings);
        let known = read_known(row, findings);
        let (fitting, bend_radius_mm) = read_bend(row, numbers, &mut converted, findings);
        let observed_at = row.time(OBSERVED_AT, findings);
        let run = row
            .text(RUN)
            .or(stated.run.as_deref())
            .map(|run| self.options.prefixed(run));
        let run = row.label(RUN, run, findings);
        let mut values = RunValues::read(row, numbers, &mut converted, findings);
        let (Some(label), Some(easting), Some(northing), Some(level)) = (label, easting, northing, level)
        else {
            return;
        };
        let at = [easting.to_f64(), northing.to_f64(), level.to_f64()];
        self.preview_point(row, &label, at, touched, run.as_deref());
        let mut notes: Vec<String> = row.whole_text(NOTE).map(str::to_owned).into_iter().collect();
        notes.extend(converted);
        notes.extend(row.notes());
        if run.is_none() {
            let stray = values.take_as_notes(row);
            if let (None, Some(first)) = (&self.runless, stray.first()) {
                self.runless = Some((row.number, first.clone()));
            }
            notes.extend(stray);
        }
        let point = PointRow {
            point: label,
            easting_m: easting,
            northing_m: northing,
            level_m: level,
            // A row without it was refused above, so the draft is never handed out.
            touched: touched.unwrap_or(Touched::Other),
            side_bearing_deg,
            sigma_h_mm: sigma_h_mm.or_else(|| stated.sigma_h_mm.clone()),
            sigma_v_mm: sigma_v_mm.or_else(|| stated.sigma_v_mm.clone()),
            known: known.or(stated.known),
            fitting,
            bend_radius_mm,
            observed_at,
            note: (!notes.is_empty()).then(|| notes.join("; ")),
            same_as: row.text(SAME_AS).map(str::to_owned),
            measured: None,
            row: Some(row.number),
        };
        let Some(index) = self.place(point, at, row, run.as_deref(), findings) else {
            return;
        };
        if let Some(run) = run {
            self.runs.add(run, index, row, values, findings);
        }
    }

    /// Puts a point among the others and returns where; a label used before is refused unless it is the same shot
    /// on another run.
    fn place(
        &mut self,
        point: PointRow,
        at: [f64; 3],
        row: &Row<'_>,
        run: Option<&str>,
        findings: &mut Findings,
    ) -> Option<usize> {
        let index = self.rows.len();
        if let Some(&earlier) = self.labels.get(&point.point) {
            let first = &self.rows[earlier];
            let same_shot = first.easting_m == point.easting_m
                && first.northing_m == point.northing_m
                && first.level_m == point.level_m
                && first.touched == point.touched;
            if same_shot && run.is_some_and(|run| !self.runs.holds(run, earlier)) && self.runs.uses(earlier) {
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
        self.labels.insert(point.point.clone(), index);
        self.places.push(Place { row: row.number, at });
        self.rows.push(point);
        Some(index)
    }

    fn preview_point(
        &mut self,
        row: &Row<'_>,
        label: &str,
        at: [f64; 3],
        touched: Option<Touched>,
        run: Option<&str>,
    ) {
        if self.preview.len() < crate::PREVIEW_POINTS {
            self.preview.push(PreviewPoint {
                point: label.to_owned(),
                at: at.map(Near),
                row: row.number,
                touched: touched.map(|t| t.slug().to_owned()),
                run: run.map(str::to_owned),
            });
        }
    }

    /// Looks at all points together.
    fn look_over(&self, headers: [&str; 3], findings: &mut Findings) {
        check_plan(&self.places, &self.options.frame, headers, findings);
        check_levels(&self.places, &self.options.frame, headers, findings);
        if !self.options.control.is_empty() {
            let prefix = self.options.prefix.as_deref().unwrap_or("");
            let bare = |row: &PointRow| {
                row.point
                    .strip_prefix(prefix)
                    .map_or(0, |rest| row.point.len() - rest.len())
            };
            let labelled: Vec<(&str, Place)> = self
                .rows
                .iter()
                .zip(&self.places)
                .map(|(row, place)| (&row.point[bare(row)..], *place))
                .collect();
            check_control(&labelled, &self.options.control, headers, findings);
        }
        for (first, second) in near_twins(&self.places) {
            let says = format!(
                "{} lies within 5 mm of {} in row {}; if it is one point, leave one row",
                self.rows[second].point, self.rows[first].point, self.places[first].row
            );
            findings.doubt(
                "place-twice",
                Some(self.places[second].row),
                Some(headers[0]),
                says,
            );
        }
        if let Some((row, what)) = &self.runless {
            let says = format!("{what} belongs to a run and the row names none; it is kept as a note");
            findings.doubt("no-run", Some(*row), Some("run"), says);
        }
    }
}

pub(crate) fn read_touched(
    row: &Row<'_>,
    stated: Option<Touched>,
    findings: &mut Findings,
) -> Option<Touched> {
    let allowed = || slugs(Touched::ALL, Touched::slug);
    if row.text(TOUCHED).is_some() {
        return row.word(TOUCHED, Touched::from_slug, allowed, findings);
    }
    if stated.is_none() {
        let says = format!(
            "it is not said what was touched, and nothing stands in for that; write one of {}",
            allowed().join(", ")
        );
        row.refuse(TOUCHED, "touched-missing", says, findings);
    }
    stated
}

pub(crate) fn read_known(row: &Row<'_>, findings: &mut Findings) -> Option<Known> {
    let allowed = || slugs(Known::ALL, Known::slug);
    row.word(KNOWN, Known::from_slug, allowed, findings)
}

/// Reads what is fitted at a point and the radius of a bend; a radius at what is no part of a bend is shown back.
pub(crate) fn read_bend(
    row: &Row<'_>,
    numbers: &mut NumberStyle,
    converted: &mut Vec<String>,
    findings: &mut Findings,
) -> (Option<Fitting>, Option<Decimal>) {
    let allowed = || slugs(Fitting::ALL, Fitting::slug);
    let fitting = row.word(FITTING, Fitting::from_slug, allowed, findings);
    let radius_mm = row.positive(BEND_RADIUS, MOST_RADIUS_MM, numbers, converted, findings);
    if let (
        Some(_),
        None | Some(Fitting::Joint | Fitting::Tee | Fitting::Pit | Fitting::Valve | Fitting::Cap),
    ) = (&radius_mm, fitting)
    {
        let says = "a bend radius is given at a point that is not marked as part of a bend; fill in fitting";
        findings.doubt(
            "radius-without-bend",
            Some(row.number),
            Some(row.header(BEND_RADIUS)),
            says,
        );
    }
    (fitting, radius_mm)
}

pub(crate) fn read_bearing(
    row: &Row<'_>,
    touched: Option<Touched>,
    numbers: &mut NumberStyle,
    findings: &mut Findings,
) -> Option<Decimal> {
    let bearing = row.decimal(SIDE_BEARING, numbers, &mut Vec::new(), findings);
    if touched == Some(Touched::Side) && row.text(SIDE_BEARING).is_none() {
        let says = "a side was touched and the direction from the axis to it is missing; give side_bearing_deg, degrees \
                    from grid north";
        row.refuse(SIDE_BEARING, "side-bearing-missing", says, findings);
    }
    if let Some(degrees) = bearing.as_ref().map(Decimal::to_f64)
        && !(0.0..=360.0).contains(&degrees)
    {
        let says =
            format!("{degrees} is not a direction; give degrees from 0 to 360, clockwise from grid north");
        row.refuse(SIDE_BEARING, "absurd-size", says, findings);
    }
    bearing
}

/// Returns the words of a closed list.
pub(crate) fn slugs<T: Copy>(all: &[T], slug: impl Fn(T) -> &'static str) -> Vec<&'static str> {
    all.iter().map(|&word| slug(word)).collect()
}

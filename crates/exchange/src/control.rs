//! Control points out of a table.

use crate::columns::{ColumnSpec, Holds, spec};
use crate::drafts::ControlDraft;
use crate::findings::Findings;
use crate::numbers::NumberStyle;
use crate::options::ReadOptions;
use crate::plausibility::{Place, check_control, check_levels, check_plan, corners};
use crate::points::{MOST_SIGMA_MM, check_stated};
use crate::reading::{Preview, Reading};
use crate::row::Row;
use crate::table::{Kind, open};
use register::body::ControlRow;
use register::view::{Near, PreviewPoint};
use std::collections::HashMap;

const POINT: usize = 0;
const EASTING: usize = 1;
const NORTHING: usize = 2;
const LEVEL: usize = 3;
const SIGMA_H: usize = 4;
const SIGMA_V: usize = 5;
const NOTE: usize = 6;

const CONTROL_COLUMNS: &[ColumnSpec] = &[
    spec("point", Holds::Text),
    spec("easting", Holds::Metres),
    spec("northing", Holds::Metres),
    spec("level", Holds::Metres),
    spec("sigma_h", Holds::Millimetres),
    spec("sigma_v", Holds::Millimetres),
    spec("note", Holds::Text),
];

/// Reads control points. Labels are kept as they are: a prefix is not put before them.
pub fn read_control(
    bytes: &[u8],
    options: &ReadOptions,
    progress: &mut dyn FnMut(u64),
) -> Reading<ControlDraft> {
    let kind = Kind {
        specs: CONTROL_COLUMNS,
        required: &[POINT, EASTING, NORTHING, LEVEL],
        position: Some([EASTING, NORTHING, LEVEL]),
    };
    let mut opened = open(bytes, options, kind);
    let findings = &mut opened.findings;
    check_stated(options, findings);
    let mut control = Control::default();
    let mut rows = 0;
    if let Some(table) = opened.table.take() {
        rows = table.read_rows(findings, progress, |row, numbers, findings| {
            control.take(row, options, numbers, findings);
        });
        let headers = [EASTING, NORTHING, LEVEL].map(|field| table.columns.header(field));
        check_plan(&control.places, &options.frame, headers, findings);
        check_levels(&control.places, &options.frame, headers, findings);
        let labels = control.points.iter().map(|point| point.point.as_str());
        let labelled: Vec<(&str, Place)> = labels.zip(control.places.iter().copied()).collect();
        check_control(&labelled, &options.control, headers, findings);
    }
    let [min, max] = corners(&control.places);
    let drawn = control
        .points
        .iter()
        .zip(&control.places)
        .take(crate::PREVIEW_POINTS);
    let preview = Preview {
        min,
        max,
        points: drawn
            .map(|(point, place)| PreviewPoint {
                point: point.point.clone(),
                at: place.at.map(Near),
                row: place.row,
                touched: None,
                run: None,
            })
            .collect(),
        runs: Vec::new(),
    };
    let draft = ControlDraft {
        import: options.import.clone(),
        points: control.points,
    };
    opened.close(rows, preview, draft)
}

#[derive(Default)]
struct Control {
    points: Vec<ControlRow>,
    places: Vec<Place>,
    rows_by_label: HashMap<String, u64>,
}

impl Control {
    fn take(
        &mut self,
        row: &Row<'_>,
        options: &ReadOptions,
        numbers: &mut NumberStyle,
        findings: &mut Findings,
    ) {
        let mut notes: Vec<String> = row.whole_text(NOTE).map(str::to_owned).into_iter().collect();
        let label = row.need_text(POINT, findings).map(str::to_owned);
        let label = row.label(POINT, label, findings);
        let easting = row.need_decimal(EASTING, numbers, &mut notes, findings);
        let northing = row.need_decimal(NORTHING, numbers, &mut notes, findings);
        let level = row.need_decimal(LEVEL, numbers, &mut notes, findings);
        let sigma_h_mm = row.positive(SIGMA_H, MOST_SIGMA_MM, numbers, &mut notes, findings);
        let sigma_v_mm = row.positive(SIGMA_V, MOST_SIGMA_MM, numbers, &mut notes, findings);
        notes.extend(row.notes());
        let (Some(label), Some(easting_m), Some(northing_m), Some(level_m)) =
            (label, easting, northing, level)
        else {
            return;
        };
        if let Some(first) = self.rows_by_label.insert(label.clone(), row.number) {
            let says = format!(
                "the label {label:?} stands in row {first} and again in row {}; give each point a label of its own",
                row.number
            );
            row.refuse(POINT, "label-twice", says, findings);
            return;
        }
        self.places.push(Place {
            row: row.number,
            at: [easting_m.to_f64(), northing_m.to_f64(), level_m.to_f64()],
        });
        self.points.push(ControlRow {
            point: label,
            easting_m,
            northing_m,
            level_m,
            sigma_h_mm: sigma_h_mm.or_else(|| options.stated.sigma_h_mm.clone()),
            sigma_v_mm: sigma_v_mm.or_else(|| options.stated.sigma_v_mm.clone()),
            note: (!notes.is_empty()).then(|| notes.join("; ")),
        });
    }
}

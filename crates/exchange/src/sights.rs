//! Sights out of rows: readings digit for digit, and the side of the circle they were read on.

use crate::findings::Findings;
use crate::numbers::NumberStyle;
use crate::observations::{DIRECTION, FACE, PRISM, SLOPE, TARGET_HEIGHT, ZENITH};
use crate::points::slugs;
use crate::row::Row;
use register::body::SightRow;
use register::faces::side_by_zenith;
use register::words::{AngleRead, FaceRead};
use survey::Decimal;

/// Longest sight believed, metres.
const MOST_SLOPE_M: f64 = 10_000.0;
/// Highest target believed, above or below the point touched, metres.
const MOST_TARGET_HEIGHT_M: f64 = 10.0;
/// Largest prism constant believed, millimetres.
const MOST_PRISM_MM: f64 = 200.0;

/// What a row was sighted for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum RowKind {
    Control,
    Check,
    Shot,
}

impl RowKind {
    pub(crate) const SLUGS: [&'static str; 3] = ["control", "check", "shot"];

    pub(crate) fn from_slug(text: &str) -> Option<RowKind> {
        match text.trim().to_ascii_lowercase().as_str() {
            "control" => Some(RowKind::Control),
            "check" => Some(RowKind::Check),
            "shot" => Some(RowKind::Shot),
            _ => None,
        }
    }
}

/// Reads the sight of a row; `None` after a refusal. Target height and prism are never defaulted, and a shot or a
/// check needs direction, zenith angle and slope distance.
pub(crate) fn read_sight(
    row: &Row<'_>,
    kind: Option<RowKind>,
    angles: AngleRead,
    numbers: &mut NumberStyle,
    converted: &mut Vec<String>,
    findings: &mut Findings,
) -> Option<SightRow> {
    let readings = [DIRECTION, ZENITH, SLOPE];
    match kind {
        Some(RowKind::Shot | RowKind::Check) => {
            for field in readings {
                row.need_text(field, findings);
            }
        }
        Some(RowKind::Control) if readings.iter().all(|&field| row.text(field).is_none()) => {
            let says = "the row has no reading; fill in direction, zenith or slope, or leave the row out";
            row.refuse(DIRECTION, "value-missing", says, findings);
        }
        _ => {}
    }
    let angle = |field: usize, findings: &mut Findings| -> Option<Option<String>> {
        let Some(text) = row.text(field) else {
            return Some(None);
        };
        match angles.unit().read(text) {
            Ok(_) => Some(Some(text.to_owned())),
            Err(error) => {
                row.refuse(field, "not-an-angle", error.to_string(), findings);
                None
            }
        }
    };
    let (direction, zenith) = (angle(DIRECTION, findings), angle(ZENITH, findings));
    let slope_m = row.decimal(SLOPE, numbers, converted, findings);
    if let Some(slope) = &slope_m {
        let says = if slope.exact().signum() <= 0 {
            format!("a slope distance of {slope} is not above nought; leave it blank when none was read")
        } else {
            format!("a slope distance of {slope} m is not believed; look at its unit")
        };
        if slope.exact().signum() <= 0 || slope.to_f64() > MOST_SLOPE_M {
            row.refuse(SLOPE, "absurd-size", says, findings);
        }
    }
    let target_height_m = row.need_decimal(TARGET_HEIGHT, numbers, converted, findings);
    if let Some(height) = target_height_m
        .as_ref()
        .filter(|height| height.to_f64().abs() > MOST_TARGET_HEIGHT_M)
    {
        let says = format!("a target height of {height} m is not believed; look at its unit");
        row.refuse(TARGET_HEIGHT, "absurd-size", says, findings);
    }
    let prism_mm = row.need_decimal(PRISM, numbers, converted, findings);
    check_prism(row, prism_mm.as_ref(), findings);
    let faces = || slugs(FaceRead::ALL, FaceRead::slug);
    let face = row.word(FACE, FaceRead::from_slug, faces, findings);
    let sight = SightRow {
        direction: direction?,
        zenith: zenith?,
        slope_m,
        target_height_m: target_height_m?,
        prism_mm: prism_mm?,
        face,
        row: Some(row.number),
    };
    if let (Some(booked), Some(told), Some(zenith)) =
        (sight.face, side_by_zenith(&sight, angles), &sight.zenith)
        && booked != told
    {
        let says = format!(
            "face {booked} is booked and the zenith angle {zenith} is of face {told}; write both circles as they were \
             read, or leave face blank"
        );
        row.refuse(FACE, "face-against-zenith", says, findings);
    }
    Some(sight)
}

fn check_prism(row: &Row<'_>, prism_mm: Option<&Decimal>, findings: &mut Findings) {
    let Some(mm) = prism_mm else { return };
    let size = mm.to_f64().abs();
    if size > MOST_PRISM_MM {
        let says = format!("a prism constant of {mm} mm is not believed; give millimetres, such as 0 or -30");
        row.refuse(PRISM, "absurd-size", says, findings);
    } else if size > 0.0 && size < 1.0 {
        let says =
            format!("a prism constant of {mm} mm looks like metres; give millimetres, such as 0 or -30");
        findings.doubt("small-prism", Some(row.number), Some(row.header(PRISM)), says);
    }
}

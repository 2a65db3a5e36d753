//! What the tests of this crate share: a site, and short ways to read.
#![allow(dead_code, reason = "each test file uses its own part")]

use coverbook_exchange::{ObservationOptions, PointsDraft, ReadOptions, Reading, SiteFrame, read_points};
use register::body::{ImportRef, InstrumentRow};
use register::view::{FindingView, Severity};
use register::words::AngleRead;

/// An invented site.
pub fn options() -> ReadOptions {
    let frame = SiteFrame {
        near_easting_m: 432_100.0,
        near_northing_m: 5_811_000.0,
        near_level_m: 12.0,
        reach_m: 500.0,
        level_reach_m: 20.0,
    };
    let import = ImportRef {
        import_id: uuid::Uuid::from_u128(7),
        file: "shots.csv".into(),
        sha256: "00".repeat(32),
    };
    ReadOptions::new("shots.csv", frame, import)
}

/// An invented instrument, stations named by the file.
#[expect(clippy::unwrap_used, reason = "a panic is how a check fails")]
pub fn observed(angles: AngleRead) -> ObservationOptions {
    let decimal = |text: &str| text.parse().unwrap();
    ObservationOptions {
        station: None,
        angles,
        instrument: InstrumentRow {
            name: None,
            distance_mm: decimal("1"),
            distance_ppm: decimal("1.5"),
            direction_sec: decimal("1"),
            zenith_sec: decimal("1"),
            target_height_sigma_mm: decimal("0.5"),
            centring_sigma_mm: decimal("0.5"),
        },
        air: None,
        air_in_instrument: None,
        tolerance_mm: None,
        unchecked_reason: None,
        set_already: Vec::new(),
    }
}

/// Reads points on the invented site.
pub fn points(bytes: impl AsRef<[u8]>) -> Reading<PointsDraft> {
    read_points(bytes.as_ref(), &options(), &mut |_| {})
}

/// Returns the gravest first finding with this code.
#[track_caller]
pub fn finding<'a>(findings: &'a [FindingView], code: &str) -> &'a FindingView {
    let found = findings.iter().find(|finding| finding.code == code);
    found.unwrap_or_else(|| panic!("no {code} among {findings:#?}"))
}

/// Asserts a refusal at a place, and that its sentence holds a phrase and reads like one of ours.
#[track_caller]
pub fn check_refusal<T>(
    reading: &Reading<T>,
    code: &str,
    row: Option<u64>,
    column: Option<&str>,
    phrase: &str,
) {
    assert!(reading.draft.is_none(), "{code} was recorded");
    let found = finding(&reading.findings, code);
    assert_eq!(found.severity, Severity::Refusal, "{found:?}");
    assert_eq!(found.file, "shots.csv");
    assert_eq!((found.row, found.column.as_deref()), (row, column), "{found:?}");
    assert!(
        found.says.contains(phrase),
        "{phrase:?} is not in {:?}",
        found.says
    );
    assert!(
        !found.says.ends_with('.') && !found.says.contains('\n'),
        "{found:?}"
    );
}

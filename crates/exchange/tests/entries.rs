//! Drafts as entries: small enough, whole, and in an order that can be folded.

mod common;

use common::points;
use coverbook_exchange::{FULL_ENTRY_BYTES, split_points};
use register::body::Act;

#[test]
fn a_big_file_is_parted_and_nothing_is_lost() {
    let mut text = "point,easting,northing,level,touched,run,service,note\n".to_owned();
    for row in 0..20_000 {
        let (east, north) = (row % 200, row / 200);
        text += &format!(
            "P{row},{}.5,{}.25,12,centre,R{north},gas,\"\u{e9} \"\"quoted\"\"\t{row}\"\n",
            432_000 + east,
            5_811_000 + north
        );
    }
    let draft = points(text).draft.unwrap();
    let (all, runs) = (draft.points.clone(), draft.runs.clone());
    let acts = split_points(draft);
    let mut points_back = Vec::new();
    let mut runs_back = Vec::new();
    let mut sizes = Vec::new();
    for act in acts {
        sizes.push(serde_jcs::to_vec(&act).unwrap().len());
        match act {
            Act::PointsRecorded(recorded) => {
                assert!(runs_back.is_empty(), "points come before runs");
                points_back.extend(recorded.points);
            }
            Act::RunLaid(run) => runs_back.push(run),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!((points_back, runs_back), (all, runs));
    assert!(sizes.iter().all(|&size| size <= FULL_ENTRY_BYTES), "{sizes:?}");
    let points_entries = sizes.iter().filter(|&&size| size > FULL_ENTRY_BYTES / 2).count();
    assert!(points_entries >= 2, "the file was not parted at all: {sizes:?}");
}

//! Drafts as entries: small enough, whole, and in an order that can be folded.

mod common;

use common::{observed, options, points};
use coverbook_exchange::{FULL_ENTRY_BYTES, read_observations, split_points, split_set_up};
use register::body::Act;
use register::words::AngleRead;

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

/// Every third of a full entry's rows a check is made; each must stay behind the shot it followed in the file.
#[test]
fn a_long_set_up_is_parted_by_bytes_and_each_check_stays_behind_its_shot() {
    let mut text = "target,kind,direction,zenith,slope,target_height,prism_mm,touched,note\n\
                    C1,control,10.0,90.0,30.0,1.5,0,,\nC2,control,100.0,90.0,30.0,1.5,0,,\n"
        .to_owned();
    let mut in_file = Vec::new();
    for row in 0..2_000 {
        if row > 0 && row % 100 == 0 {
            text += "C1,check,10.0,90.0,30.0,1.5,0,,\n";
            in_file.push("check".to_owned());
        }
        text += &format!(
            "P{row},shot,20.0,92.0,10.0,1.3,0,outside-top,{}\n",
            "long note ".repeat(60)
        );
        in_file.push(format!("P{row}"));
    }
    let options = options();
    let stated = coverbook_exchange::ObservationOptions {
        station: Some("S1".into()),
        ..observed(AngleRead::Degrees)
    };
    let reading = read_observations(text.as_bytes(), &options, &stated, &mut |_| {});
    let setup = reading.draft.unwrap().setups.remove(0);
    for stands_already in [false, true] {
        let mut back = Vec::new();
        let mut acts = split_set_up(setup.clone(), stands_already, &options.import);
        for act in &acts {
            let bytes = serde_jcs::to_vec(act).unwrap().len();
            assert!(bytes <= FULL_ENTRY_BYTES, "{bytes}");
        }
        if !stands_already {
            assert!(matches!(acts.remove(0), Act::StationSet(_)));
        }
        assert!(acts.len() > 1, "it was not parted at all");
        for act in acts {
            let Act::PointsRecorded(recorded) = act else {
                panic!("{act:?}")
            };
            let mut checks = recorded.checks.iter().peekable();
            for made in 0..=recorded.points.len() {
                while checks.next_if(|check| check.after as usize <= made).is_some() {
                    back.push("check".to_owned());
                }
                back.extend(recorded.points.get(made).map(|point| point.point.clone()));
            }
            assert!(checks.next().is_none());
        }
        assert_eq!(back, in_file);
    }
}

//! All pairs of near legs against a full scan, whatever mixture of legs there is.

extern crate coverbook_ground as ground;

use ground::Vec3;
use ground::leg_pairs::{Apart, LegPair, SweptLeg, leg_gap_m, near_pairs};
use proptest::prelude::*;

/// Short legs in a crowd, points, long legs over many cells, and strays far away; on a lattice of 1/8 m now and then,
/// so that touching and gaps of exactly the distance asked for come up.
fn leg() -> impl Strategy<Value = SweptLeg> {
    let place = prop_oneof![
        6 => (-160i32..160, -160i32..160, -12i32..12).prop_map(|(e, n, z)| [e, n, z].map(|v| f64::from(v) / 8.0)),
        3 => (-20.0..20.0, -20.0..20.0, -1.5..1.5).prop_map(|(e, n, z)| [e, n, z]),
        1 => (-9e5..9e5, -9e5..9e5, -50.0..50.0).prop_map(|(e, n, z)| [e, n, z]),
    ];
    let way = prop_oneof![
        6 => (-32i32..32, -32i32..32, -4i32..4).prop_map(|(e, n, z)| [e, n, z].map(|v| f64::from(v) / 8.0)),
        1 => Just([0.0; 3]),
        1 => (-1e-6..1e-6, -1e-6..1e-6, -1e-6..1e-6).prop_map(|(e, n, z)| [e, n, z]),
        1 => (-3e3..3e3, -3e3..3e3, -5.0..5.0).prop_map(|(e, n, z)| [e, n, z]),
    ];
    (place, way, 0i32..5, 0u32..12).prop_map(|(at, way, reach, run)| {
        let at = Vec3::from(at);
        SweptLeg {
            ends: [at, at + Vec3::from(way)],
            reach_m: f64::from(reach) / 8.0,
            run,
        }
    })
}

fn scan(legs: &[SweptLeg], within_m: f64, apart: Apart) -> Vec<[u32; 2]> {
    let mut found = Vec::new();
    for (i, one) in legs.iter().enumerate() {
        for (j, two) in legs.iter().enumerate().skip(i + 1) {
            let gap_m = leg_gap_m(one, two, apart);
            if one.run != two.run && gap_m <= within_m {
                found.push([i as u32, j as u32]);
            }
        }
    }
    found
}

fn sorted(found: &[LegPair]) -> Vec<[u32; 2]> {
    let mut legs: Vec<_> = found.iter().map(|pair| pair.legs).collect();
    legs.sort_unstable();
    legs
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn every_pair_is_found_as_by_a_full_scan(
        legs in prop::collection::vec(leg(), 0..160),
        within in prop_oneof![Just(0.0), Just(0.5), Just(3.0), 0.0..8.0],
        in_plan in any::<bool>(),
        threads in 1usize..4,
    ) {
        let apart = if in_plan { Apart::InPlan } else { Apart::InSpace };
        let found = near_pairs(&legs, within, apart, threads);
        prop_assert_eq!(sorted(&found), scan(&legs, within, apart));
        for pair in &found {
            let [a, b] = pair.legs.map(|leg| legs[leg as usize]);
            prop_assert_eq!(pair.gap_m, leg_gap_m(&a, &b, apart));
        }
    }
}

#[test]
fn a_stray_leg_and_a_long_one_do_not_hide_the_crowd() {
    let row = |run: u32, n: f64| SweptLeg {
        ends: [Vec3::new(0.0, n, 0.0), Vec3::new(5.0, n, 0.0)],
        reach_m: 0.25,
        run,
    };
    // 0.5 m apart and 0.25 m thick each: all neighbours touch and no others do.
    let mut legs: Vec<SweptLeg> = (0..40).map(|run| row(run, f64::from(run) / 2.0)).collect();
    legs.push(row(77, 4.0e6));
    legs.push(SweptLeg {
        ends: [Vec3::new(2.5, -1e5, 1.0), Vec3::new(2.5, 1e5, 1.0)],
        reach_m: 0.75,
        run: 99,
    });
    let found = near_pairs(&legs, 0.0, Apart::InSpace, 1);
    assert_eq!(found.len(), 39 + 40);
    assert!(found.iter().all(|pair| pair.gap_m.abs() < 1e-12));
}

#[test]
fn nothing_and_one_leg_make_no_pair() {
    assert!(near_pairs(&[], 1.0, Apart::InSpace, 4).is_empty());
    let alone = SweptLeg {
        ends: [Vec3::zeros(); 2],
        reach_m: 1.0,
        run: 1,
    };
    assert!(near_pairs(&[alone], 1.0, Apart::InPlan, 4).is_empty());
    assert!(near_pairs(&[alone, alone], 1.0, Apart::InPlan, 1).is_empty());
}

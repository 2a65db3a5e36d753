//! The index against a full scan of the same boxes, after any mixture of additions, replacements and removals.

extern crate coverbook_ground as ground;

use std::collections::BTreeMap;

use ground::Vec2;
use ground::facet::PlanBox;
use ground::index::{LegIndex, LegKey};
use proptest::prelude::*;

fn plan_box() -> impl Strategy<Value = PlanBox> {
    (-9_000.0..9_000.0, -50.0..50.0, 0.0..30.0, 0.0..30.0).prop_map(|(e, n, w, h)| PlanBox {
        min: Vec2::new(e, n),
        max: Vec2::new(e + w, n + h),
    })
}

/// A box in numbers that 32-bit floats hold exactly, so that the scan below can be held to equality.
fn exact_box() -> impl Strategy<Value = PlanBox> {
    (-800i32..800, -50i32..50, 0i32..60, 0i32..60).prop_map(|(e, n, w, h)| PlanBox {
        min: Vec2::new(f64::from(e) / 4.0, f64::from(n) / 4.0),
        max: Vec2::new(f64::from(e + w) / 4.0, f64::from(n + h) / 4.0),
    })
}

#[derive(Debug, Clone)]
enum Act {
    Put(u32, Vec<PlanBox>),
    Remove(u32),
    Repack,
}

fn act() -> impl Strategy<Value = Act> {
    prop_oneof![
        6 => (0..40u32, prop::collection::vec(exact_box(), 0..40)).prop_map(|(run, boxes)| Act::Put(run, boxes)),
        2 => (0..40u32).prop_map(Act::Remove),
        1 => Just(Act::Repack),
    ]
}

fn found(index: &LegIndex, within: &PlanBox) -> Vec<LegKey> {
    let mut keys = Vec::new();
    index.visit(within, |key| keys.push(key));
    keys.sort_unstable();
    keys
}

fn key_of(run: u32, leg: usize) -> LegKey {
    LegKey {
        run,
        leg: u32::try_from(leg).expect("few legs"),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn every_query_answers_as_a_full_scan(
        first in prop::collection::vec((0..40u32, exact_box()), 0..300),
        acts in prop::collection::vec(act(), 0..60),
        queries in prop::collection::vec(exact_box(), 1..20),
    ) {
        let mut all: BTreeMap<u32, Vec<PlanBox>> = BTreeMap::new();
        for (run, b) in first {
            all.entry(run).or_default().push(b);
        }
        let legs: Vec<_> = all
            .iter()
            .flat_map(|(&run, boxes)| boxes.iter().enumerate().map(move |(leg, b)| (key_of(run, leg), *b)))
            .collect();
        let mut index = LegIndex::build(legs);
        for act in acts {
            match act {
                Act::Put(run, boxes) => {
                    index.put_run(run, boxes.iter().enumerate().map(|(leg, b)| (key_of(run, leg).leg, *b)));
                    all.insert(run, boxes);
                }
                Act::Remove(run) => {
                    index.remove_run(run);
                    all.remove(&run);
                }
                Act::Repack => index.repack(),
            }
        }
        for within in &queries {
            let scan: Vec<LegKey> = all
                .iter()
                .flat_map(|(&run, boxes)| boxes.iter().enumerate().map(move |(leg, b)| (key_of(run, leg), b)))
                .filter(|(_, b)| b.meets(within))
                .map(|(key, _)| key)
                .collect();
            prop_assert_eq!(found(&index, within), scan);
        }
    }

    #[test]
    fn no_box_is_missed_for_rounding(
        boxes in prop::collection::vec(plan_box(), 1..200),
        within in plan_box(),
    ) {
        let index = LegIndex::build(boxes.iter().enumerate().map(|(leg, b)| (key_of(7, leg), *b)));
        let keys = found(&index, &within);
        for (leg, b) in boxes.iter().enumerate() {
            if b.meets(&within) {
                prop_assert!(keys.contains(&key_of(7, leg)));
            } else if !b.grown(0.002).meets(&within) {
                prop_assert!(!keys.contains(&key_of(7, leg)));
            }
        }
    }
}

#[test]
fn thousands_of_runs_added_one_by_one_are_all_found() {
    let box_at = |i: u32| {
        let at = Vec2::new(f64::from(i % 100), f64::from(i / 100));
        PlanBox { min: at, max: at }.grown(0.25)
    };
    let mut index = LegIndex::build(Vec::new());
    for run in 0..3_000 {
        index.put_run(run, (0..10).map(|leg| (leg, box_at(run))));
    }
    for run in (0..3_000).step_by(3) {
        index.remove_run(run);
    }
    for run in 0..3_000 {
        let keys = found(&index, &box_at(run));
        assert_eq!(keys.len(), if run % 3 == 0 { 0 } else { 10 }, "run {run}");
    }
    index.repack();
    assert_eq!(index.loose_count(), 0);
    assert_eq!(index.runs_in(&box_at(1).grown(1.0)), vec![1, 2, 100, 101]);
}

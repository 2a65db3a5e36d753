//! Times all pairs of near legs on the synthetic register, beside the self-join of a dynamic R-tree from a crate.
//!
//! `cargo bench -p coverbook-ground --bench separation -- 100000 1000000`. Rule of both: legs of different runs whose
//! distance in space less both outside radii is at most 0.5 m; the pairs are returned with their gaps, from legs in
//! memory in the order recorded, index included. Both must return the same pairs and gaps.

#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a bench prints, and a panic is how a check fails"
)]

extern crate coverbook_ground as ground;

mod streets;

use std::hint::black_box;
use std::time::Instant;

use ground::index::{LegIndex, LegKey};
use ground::leg_pairs::{Apart, LegPair, SweptLeg, leg_gap_m, near_pairs};
use ground::separation::{all_meetings, leg_boxes, meetings_of_one};
use ground::tube::{Section, Tube};
use rstar::{AABB, RTree, RTreeObject};
use streets::{Dice, register};

const WITHIN_M: f64 = 0.5;

struct PeerLeg {
    leg: u32,
    around: AABB<[f64; 3]>,
}

impl RTreeObject for PeerLeg {
    type Envelope = AABB<[f64; 3]>;
    fn envelope(&self) -> Self::Envelope {
        self.around
    }
}

/// The peer: boxes grown by half the distance in a bulk-loaded tree, joined with itself, then the same exact test.
fn peer_pairs(legs: &[SweptLeg]) -> Vec<LegPair> {
    let objects = legs.iter().enumerate().map(|(i, leg)| {
        let out = leg.reach_m + WITHIN_M / 2.0 + 1e-9;
        let (low, high) = (leg.ends[0].inf(&leg.ends[1]), leg.ends[0].sup(&leg.ends[1]));
        PeerLeg {
            leg: i as u32,
            around: AABB::from_corners(
                [low.x - out, low.y - out, low.z - out],
                [high.x + out, high.y + out, high.z + out],
            ),
        }
    });
    let tree = RTree::bulk_load(objects.collect());
    let mut found = Vec::new();
    for (one, two) in tree.intersection_candidates_with_other_tree(&tree) {
        let (a, b) = (&legs[one.leg as usize], &legs[two.leg as usize]);
        if one.leg < two.leg && a.run != b.run {
            let gap_m = leg_gap_m(a, b, Apart::InSpace);
            if gap_m <= WITHIN_M {
                found.push(LegPair {
                    legs: [one.leg, two.leg],
                    gap_m,
                });
            }
        }
    }
    found
}

fn legs_of(tubes: &[Tube]) -> Vec<SweptLeg> {
    let mut legs = Vec::new();
    for (run, tube) in tubes.iter().enumerate() {
        let Section::Round { radius_m } = tube.section else {
            panic!("round tubes only")
        };
        legs.extend(tube.legs().map(|(a, b)| SweptLeg {
            ends: [a.axis, b.axis],
            reach_m: radius_m,
            run: run as u32,
        }));
    }
    legs
}

/// Runs each in turn, so that both meet the same neighbours on the machine, and returns the medians in milliseconds.
fn medians(rounds: usize, tasks: &mut [&mut dyn FnMut()]) -> Vec<f64> {
    let mut times = vec![Vec::new(); tasks.len()];
    for _ in 0..rounds {
        for (task, times) in tasks.iter_mut().zip(&mut times) {
            let start = Instant::now();
            task();
            times.push(start.elapsed().as_secs_f64() * 1e3);
        }
    }
    times.iter_mut().for_each(|t| t.sort_by(f64::total_cmp));
    times.iter().map(|t| t[t.len() / 2]).collect()
}

fn bench(count: usize) {
    let (tubes, _) = register(count, &mut Dice(2024));
    let legs = legs_of(&tubes);
    let sorted = |mut pairs: Vec<LegPair>| {
        pairs.sort_by_key(|pair| pair.legs);
        pairs
    };
    let ours = sorted(near_pairs(&legs, WITHIN_M, Apart::InSpace, 1));
    assert!(ours == sorted(peer_pairs(&legs)), "the two disagree");
    assert!(ours == sorted(near_pairs(&legs, WITHIN_M, Apart::InSpace, 2)));
    println!(
        "{} legs of {} runs: {} pairs",
        legs.len(),
        tubes.len(),
        ours.len()
    );
    let took = medians(
        5,
        &mut [
            &mut || drop(black_box(near_pairs(&legs, WITHIN_M, Apart::InSpace, 1))),
            &mut || drop(black_box(near_pairs(&legs, WITHIN_M, Apart::InSpace, 2))),
            &mut || drop(black_box(peer_pairs(&legs))),
        ],
    );
    let words = [
        "all pairs, one thread",
        "all pairs, two threads",
        "all pairs, rstar self-join",
    ];
    for (word, ms) in words.iter().zip(&took) {
        println!("  {word:<46} {ms:9.1} ms   {:.2} of the peer", ms / took[2]);
    }
    one_run(&tubes);
}

/// One changed run of 40 legs against the whole register, every number and place of every meeting included.
fn one_run(tubes: &[Tube]) {
    let boxes = tubes.iter().enumerate().flat_map(|(run, tube)| {
        leg_boxes(tube).map(move |(leg, around)| {
            let run = run as u32;
            (LegKey { run, leg }, around)
        })
    });
    let index = LegIndex::build(boxes);
    let asked: Vec<usize> = (0..tubes.len())
        .filter(|&run| tubes[run].vertices.len() == 41)
        .take(500)
        .collect();
    let (mut met, mut micros) = (0, Vec::new());
    for &run in &asked {
        let mut least = f64::INFINITY;
        for _ in 0..3 {
            let start = Instant::now();
            let own = (run as u32, &tubes[run]);
            let found = meetings_of_one(own, &index, |run| tubes.get(run as usize), WITHIN_M).unwrap();
            least = least.min(start.elapsed().as_secs_f64() * 1e6);
            met += black_box(found)
                .iter()
                .map(|(_, places)| places.len())
                .sum::<usize>();
        }
        micros.push(least);
    }
    micros.sort_by(f64::total_cmp);
    println!(
        "  one run of 40 legs against all, full answer    median {:.0} us   p99 {:.0} us   {:.1} places a run",
        micros[micros.len() / 2],
        micros[micros.len() * 99 / 100],
        met as f64 / (3 * asked.len()) as f64
    );
    let start = Instant::now();
    let all = all_meetings(&tubes.iter().collect::<Vec<_>>(), WITHIN_M, 1).unwrap();
    let places: usize = all.iter().map(|met| met.meetings.len()).sum();
    println!(
        "  all meetings within 0.5 m in plan, grown       {:9.1} ms   {} places of {} pairs of runs",
        start.elapsed().as_secs_f64() * 1e3,
        places,
        all.len()
    );
}

fn main() {
    let asked: Vec<usize> = std::env::args()
        .skip(1)
        .filter_map(|word| word.parse().ok())
        .collect();
    for count in if asked.is_empty() {
        vec![100_000, 1_000_000]
    } else {
        asked
    } {
        bench(count);
    }
}

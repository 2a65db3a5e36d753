//! Points measured twice: positions within a few millimetres of each other under different labels.

use crate::plausibility::Place;
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// Positions nearer than this are asked about, metres.
pub(crate) const TWIN_M: f64 = 0.005;
/// How many points of one 5 mm square are compared: only a stack of them one above the other has more.
const MOST_IN_A_CELL: usize = 64;

/// Returns, for each point that lies within 5 mm (in space) of an earlier one, both their indices.
///
/// Squares of 5 mm are hashed, so the work grows with the number of points whatever their arrangement.
pub(crate) fn near_twins(places: &[Place]) -> Vec<(usize, usize)> {
    let mut cells: HashMap<(i64, i64), Vec<u32>, BuildHasherDefault<CellHasher>> =
        HashMap::with_capacity_and_hasher(places.len(), BuildHasherDefault::default());
    let cell = |metres: f64| (metres / TWIN_M).floor() as i64;
    let mut twins = Vec::new();
    for (index, place) in places.iter().enumerate() {
        let (east, north) = (cell(place.at[0]), cell(place.at[1]));
        let around =
            (-1..=1).flat_map(|e| (-1..=1).map(move |n| (east.saturating_add(e), north.saturating_add(n))));
        let earlier = around
            .filter_map(|key| cells.get(&key))
            .flatten()
            .find(|&&other| is_near(&places[other as usize], place));
        if let Some(&earlier) = earlier {
            twins.push((earlier as usize, index));
        }
        let here = cells.entry((east, north)).or_default();
        if here.len() < MOST_IN_A_CELL {
            here.push(index as u32);
        }
    }
    twins
}

fn is_near(a: &Place, b: &Place) -> bool {
    let off = |axis: usize| a.at[axis] - b.at[axis];
    off(0).hypot(off(1)).hypot(off(2)) <= TWIN_M + 1e-9
}

/// Mixes two cell numbers; speed matters here and nobody gains by making cells collide.
#[derive(Default)]
struct CellHasher(u64);

impl Hasher for CellHasher {
    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 29)
    }
    fn write(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.write_i64(i64::from(byte));
        }
    }
    fn write_i64(&mut self, value: i64) {
        self.0 = (self.0 ^ value as u64)
            .wrapping_mul(0x9e37_79b9_7f4a_7c15)
            .rotate_left(26);
    }
}

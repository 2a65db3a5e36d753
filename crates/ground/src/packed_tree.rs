//! A static tree over plan boxes: sorted once along a space-filling curve, packed into full blocks, never changed.
//!
//! Boxes are kept as 32-bit floats rounded outward, sixteen to a block, so that a block is tested in one sweep. The
//! order is that of Hilbert's curve (D. Hilbert, Mathematische Annalen 38, 1891); packing sorted boxes into full
//! nodes is due to Kamel and Faloutsos, "On packing R-trees", CIKM 1993 (both from memory).

use crate::facet::PlanBox;
use crate::index::LegKey;

const WIDTH: usize = 16;

/// Sixteen boxes side by side; unused places hold a box that meets nothing.
#[derive(Debug, Clone, Copy)]
struct Block {
    min_e: [f32; WIDTH],
    min_n: [f32; WIDTH],
    max_e: [f32; WIDTH],
    max_n: [f32; WIDTH],
}

const EMPTY: Block = Block {
    min_e: [f32::INFINITY; WIDTH],
    min_n: [f32::INFINITY; WIDTH],
    max_e: [f32::NEG_INFINITY; WIDTH],
    max_n: [f32::NEG_INFINITY; WIDTH],
};

/// A plan box in 32-bit floats, never smaller than the box it was made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SmallBox {
    min: [f32; 2],
    max: [f32; 2],
}

impl SmallBox {
    pub(crate) fn around(b: &PlanBox) -> SmallBox {
        SmallBox {
            min: [down(b.min.x), down(b.min.y)],
            max: [up(b.max.x), up(b.max.y)],
        }
    }

    pub(crate) fn meets(&self, other: &SmallBox) -> bool {
        self.min[0] <= other.max[0]
            && self.min[1] <= other.max[1]
            && self.max[0] >= other.min[0]
            && self.max[1] >= other.min[1]
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "rounded outward in the same breath"
)]
pub(crate) fn down(value: f64) -> f32 {
    let near = value as f32;
    if f64::from(near) > value {
        near.next_down()
    } else {
        near
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "rounded outward in the same breath"
)]
pub(crate) fn up(value: f64) -> f32 {
    let near = value as f32;
    if f64::from(near) < value {
        near.next_up()
    } else {
        near
    }
}

/// The tree. Level 0 holds the boxes themselves; place `j` of block `i` on level `k` is block `16 i + j` below it.
#[derive(Debug, Clone, Default)]
pub(crate) struct PackedTree {
    keys: Vec<LegKey>,
    levels: Vec<Vec<Block>>,
}

impl PackedTree {
    /// Packs entries; their order does not matter.
    pub(crate) fn pack(entries: &[(LegKey, SmallBox)]) -> PackedTree {
        let order = along_the_curve(entries);
        let mut keys = Vec::with_capacity(entries.len());
        let mut lowest = Vec::with_capacity(entries.len().div_ceil(WIDTH));
        for places in order.chunks(WIDTH) {
            let mut block = EMPTY;
            for (j, &place) in places.iter().enumerate() {
                let (key, b) = entries[(place & 0xFFFF_FFFF) as usize];
                keys.push(key);
                block.set(j, &b);
            }
            lowest.push(block);
        }
        let mut levels = Vec::new();
        while lowest.len() > 1 {
            let above = lowest.chunks(WIDTH).map(|blocks| {
                let mut block = EMPTY;
                for (j, below) in blocks.iter().enumerate() {
                    block.set(j, &below.whole());
                }
                block
            });
            let above: Vec<Block> = above.collect();
            levels.push(std::mem::replace(&mut lowest, above));
        }
        levels.push(lowest);
        PackedTree { keys, levels }
    }

    pub(crate) fn len(&self) -> usize {
        self.keys.len()
    }

    /// Returns every entry again.
    pub(crate) fn entries(&self) -> impl Iterator<Item = (LegKey, SmallBox)> + '_ {
        self.keys
            .iter()
            .enumerate()
            .map(|(i, &key)| (key, self.levels[0][i / WIDTH].get(i % WIDTH)))
    }

    /// Visits the key of every box that meets another.
    pub(crate) fn visit(&self, within: &SmallBox, mut visit: impl FnMut(LegKey)) {
        if !self.keys.is_empty() {
            self.descend(self.levels.len() - 1, 0, within, &mut visit);
        }
    }

    fn descend(&self, level: usize, block: usize, within: &SmallBox, visit: &mut impl FnMut(LegKey)) {
        let mut met = self.levels[level][block].meeting(within);
        while met != 0 {
            let place = block * WIDTH + met.trailing_zeros() as usize;
            met &= met - 1;
            if level == 0 {
                visit(self.keys[place]);
            } else {
                self.descend(level - 1, place, within, visit);
            }
        }
    }
}

impl Block {
    fn set(&mut self, j: usize, b: &SmallBox) {
        self.min_e[j] = b.min[0];
        self.min_n[j] = b.min[1];
        self.max_e[j] = b.max[0];
        self.max_n[j] = b.max[1];
    }

    fn get(&self, j: usize) -> SmallBox {
        SmallBox {
            min: [self.min_e[j], self.min_n[j]],
            max: [self.max_e[j], self.max_n[j]],
        }
    }

    fn whole(&self) -> SmallBox {
        let least = |values: &[f32; WIDTH]| values.iter().copied().fold(f32::INFINITY, f32::min);
        let most = |values: &[f32; WIDTH]| values.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        SmallBox {
            min: [least(&self.min_e), least(&self.min_n)],
            max: [most(&self.max_e), most(&self.max_n)],
        }
    }

    /// Returns one bit for each place whose box meets another.
    fn meeting(&self, other: &SmallBox) -> u32 {
        let mut met = 0;
        for j in 0..WIDTH {
            let meets = (self.min_e[j] <= other.max[0])
                & (self.min_n[j] <= other.max[1])
                & (self.max_e[j] >= other.min[0])
                & (self.max_n[j] >= other.min[1]);
            met |= u32::from(meets) << j;
        }
        met
    }
}

/// Returns the places of the entries in the order of Hilbert's curve, each in the low half of a word.
fn along_the_curve(entries: &[(LegKey, SmallBox)]) -> Vec<u64> {
    let middle = |b: &SmallBox| [(b.min[0] + b.max[0]) / 2.0, (b.min[1] + b.max[1]) / 2.0];
    let (mut low, mut high) = ([f32::INFINITY; 2], [f32::NEG_INFINITY; 2]);
    for (_, b) in entries {
        let m = middle(b);
        for d in 0..2 {
            low[d] = low[d].min(m[d]);
            high[d] = high[d].max(m[d]);
        }
    }
    let scale = [0, 1].map(|d| {
        if high[d] > low[d] {
            65_535.0 / (high[d] - low[d])
        } else {
            0.0
        }
    });
    let curve = Curve::new();
    let mut order: Vec<u64> = entries
        .iter()
        .enumerate()
        .map(|(i, (_, b))| {
            let m = middle(b);
            let cell = [0, 1].map(|d| ((m[d] - low[d]) * scale[d]) as u32);
            (u64::from(curve.along(cell[0].min(65_535), cell[1].min(65_535))) << 32) | i as u64
        })
        .collect();
    order.sort_unstable();
    order
}

/// Four levels of Hilbert's curve at once: for each way the curve may lie (swapped, turned about) and four bits of
/// each axis, the eight bits along it, and above them the way it lies from there on.
struct Curve([[u16; 256]; 4]);

impl Curve {
    fn new() -> Curve {
        let mut table = [[0; 256]; 4];
        for (way, row) in table.iter_mut().enumerate() {
            for (cell, entry) in row.iter_mut().enumerate() {
                let (mut swapped, mut turned) = (way & 1 != 0, way & 2 != 0);
                let mut along = 0;
                for bit in (0..4).rev() {
                    let (e, n) = (cell >> (4 + bit) & 1 != 0, cell >> bit & 1 != 0);
                    let (e, n) = if swapped { (n, e) } else { (e, n) };
                    let (e, n) = (e != turned, n != turned);
                    // Quadrants in the order south-west, north-west, north-east, south-east; in the first and the
                    // last the curve is swapped about the diagonal, in the last turned about as well.
                    along = (along << 2) | ((3 * u16::from(e)) ^ u16::from(n));
                    if !n {
                        turned ^= e;
                        swapped = !swapped;
                    }
                }
                *entry = along | (u16::from(swapped) | u16::from(turned) << 1) << 8;
            }
        }
        Curve(table)
    }

    /// Returns how far along the curve a cell of a 65,536 by 65,536 grid lies.
    fn along(&self, e: u32, n: u32) -> u32 {
        let (mut along, mut way) = (0, 0);
        for shift in [12, 8, 4, 0] {
            let cell = (e >> shift & 15) << 4 | (n >> shift & 15);
            let entry = self.0[way][cell as usize];
            along = (along << 8) | u32::from(entry & 0xFF);
            way = usize::from(entry >> 8);
        }
        along
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hilbert_neighbours_on_the_curve_are_neighbours_on_the_ground() {
        // The defining property of the curve, on its first 64 by 64 cells.
        let curve = Curve::new();
        let mut cells: Vec<(u32, i64, i64)> = (0..64 * 64)
            .map(|i| (curve.along(i / 64, i % 64), i64::from(i / 64), i64::from(i % 64)))
            .collect();
        cells.sort_unstable();
        for pair in cells.windows(2) {
            assert_eq!(pair[1].0, pair[0].0 + 1);
            assert_eq!((pair[1].1 - pair[0].1).abs() + (pair[1].2 - pair[0].2).abs(), 1);
        }
    }

    #[test]
    fn rounding_goes_outward() {
        let exact = PlanBox {
            min: crate::Vec2::new(0.1, -0.1),
            max: crate::Vec2::new(9_999.999_9, 0.3),
        };
        let small = SmallBox::around(&exact);
        assert!(f64::from(small.min[0]) <= 0.1 && f64::from(small.min[1]) <= -0.1);
        assert!(f64::from(small.max[0]) >= 9_999.999_9 && f64::from(small.max[1]) >= 0.3);
    }
}

//! All pairs of legs of different runs that come near one another, found through cells of ground.
//!
//! Each leg's box, grown by its own reach and half the distance asked for, is put into every cell that it meets; two
//! legs can only be near when their boxes share a cell. A pair is looked at in one cell alone, that of the south-west
//! corner which the two boxes have in common. Cells are folded onto a table of bounded size, so that a stray leg a
//! thousand kilometres off costs nothing; a leg over very many cells is asked of a packed tree instead.

use std::ops::Range;

use crate::Vec3;
use crate::facet::PlanBox;
use crate::index::LegKey;
use crate::packed_tree::{PackedTree, SmallBox, down, up};
use crate::segment::segments_apart;

/// A leg as this search sees it: a straight, and how far the run reaches out from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SweptLeg {
    /// Both ends of its axis.
    pub ends: [Vec3; 2],
    /// How far it reaches out all round, metres.
    pub reach_m: f64,
    /// Its run: legs of one run make no pair.
    pub run: u32,
}

/// How the distance of two legs is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Apart {
    /// In space.
    InSpace,
    /// In plan, at any depth.
    InPlan,
}

/// Two legs that are near.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegPair {
    /// Places in the list of legs, the lesser first.
    pub legs: [u32; 2],
    /// Distance of the axes less both reaches, metres: a proven lower bound, negative where the two overlap.
    pub gap_m: f64,
}

/// A leg whose box meets more cells than this is asked of the tree.
const MOST_CELLS: u64 = 24;
/// Room for rounding when boxes are made, metres.
const SLACK_M: f64 = 1e-9;

/// Returns every pair of legs of different runs whose gap is at most `within_m`: none is missed, touching ones count.
///
/// Coordinates are minus the site's origin; boxes are 32-bit floats rounded outward, the gaps are exact. `threads` share
/// the cells; the pairs come in no order, but the same for the same input and number of threads.
pub fn near_pairs(legs: &[SweptLeg], within_m: f64, apart: Apart, threads: usize) -> Vec<LegPair> {
    if legs.len() < 2 || within_m.is_nan() {
        return Vec::new();
    }
    let boxes: Vec<Box3> = legs
        .iter()
        .map(|leg| Box3::around(leg, within_m, apart))
        .collect();
    let search = Search {
        legs,
        boxes: &boxes,
        within_m,
        apart,
    };
    let cells = Cells::of(&boxes);
    let threads = threads.clamp(1, 64).min(cells.count());
    let mut found = if threads == 1 {
        search.in_cells(&cells, 0..cells.count())
    } else {
        let share = cells.count().div_ceil(threads);
        std::thread::scope(|scope| {
            let parts: Vec<_> = (0..threads)
                .map(|i| {
                    let (search, cells) = (&search, &cells);
                    let range = (i * share).min(cells.count())..((i + 1) * share).min(cells.count());
                    scope.spawn(move || search.in_cells(cells, range))
                })
                .collect();
            parts
                .into_iter()
                .flat_map(|part| match part.join() {
                    Ok(pairs) => pairs,
                    Err(panic) => std::panic::resume_unwind(panic),
                })
                .collect()
        })
    };
    search.of_long_legs(&cells.long, &mut found);
    found
}

/// Returns the gap of two legs, metres: the distance of their axes less both reaches; a proven lower bound.
pub fn leg_gap_m(one: &SweptLeg, two: &SweptLeg, apart: Apart) -> f64 {
    let flat = |ends: [Vec3; 2]| match apart {
        Apart::InSpace => ends,
        Apart::InPlan => ends.map(|p| Vec3::new(p.x, p.y, 0.0)),
    };
    segments_apart(flat(one.ends), flat(two.ends)).lower_m - one.reach_m - two.reach_m
}

/// A box in 32-bit floats, rounded outward.
#[derive(Debug, Clone, Copy)]
struct Box3 {
    min: [f32; 3],
    max: [f32; 3],
    run: u32,
}

impl Box3 {
    fn around(leg: &SweptLeg, within_m: f64, apart: Apart) -> Box3 {
        let [a, b] = &leg.ends;
        let out = leg.reach_m + within_m / 2.0 + SLACK_M;
        let (low, high) = (a.inf(b), a.sup(b));
        let mut own = Box3 {
            min: [down(low.x - out), down(low.y - out), down(low.z - out)],
            max: [up(high.x + out), up(high.y + out), up(high.z + out)],
            run: leg.run,
        };
        if apart == Apart::InPlan {
            (own.min[2], own.max[2]) = (0.0, 0.0);
        }
        own
    }

    fn meets(&self, other: &Box3) -> bool {
        (self.min[0] <= other.max[0])
            & (other.min[0] <= self.max[0])
            & (self.min[1] <= other.max[1])
            & (other.min[1] <= self.max[1])
            & (self.min[2] <= other.max[2])
            & (other.min[2] <= self.max[2])
            & (self.run != other.run)
    }

    fn plan(&self) -> PlanBox {
        let point = |of: [f32; 3]| crate::Vec2::new(f64::from(of[0]), f64::from(of[1]));
        PlanBox {
            min: point(self.min),
            max: point(self.max),
        }
    }
}

/// The cells, each with the legs whose boxes meet it.
struct Cells {
    per_metre: f32,
    low: [f32; 2],
    /// Columns and rows of the table, powers of two: a cell is folded onto it.
    bits: [u32; 2],
    starts: Vec<u32>,
    legs: Vec<u32>,
    /// Legs that are in no cell.
    long: Vec<u32>,
}

impl Cells {
    fn of(boxes: &[Box3]) -> Cells {
        let (mut low, mut high, mut sides) = ([f32::INFINITY; 2], [f32::NEG_INFINITY; 2], 0.0);
        for own in boxes {
            for d in 0..2 {
                low[d] = low[d].min(own.min[d]);
                high[d] = high[d].max(own.max[d]);
                sides += f64::from(own.max[d] - own.min[d]);
            }
        }
        let side = (sides / (2 * boxes.len()) as f64).max(0.01);
        let per_metre = (1.0 / side) as f32;
        // About as many cells as legs, in the shape of the ground, unless fewer cover it.
        let most = (boxes.len() as u64 * 2)
            .next_power_of_two()
            .trailing_zeros()
            .max(4);
        let wanted = [0, 1].map(|d| {
            let cells = (f64::from(high[d] - low[d]) / side).ceil().clamp(1.0, 1e9) as u64 + 1;
            cells.next_power_of_two().trailing_zeros()
        });
        let mut bits = wanted;
        while bits[0] + bits[1] > most {
            let wider = usize::from(bits[1] >= bits[0]);
            bits[wider] -= 1;
        }
        let mut cells = Cells {
            per_metre,
            low,
            bits,
            starts: vec![0; (1 << (bits[0] + bits[1])) + 1],
            legs: Vec::new(),
            long: Vec::new(),
        };
        let mut spans = Vec::with_capacity(boxes.len());
        for (i, own) in boxes.iter().enumerate() {
            let (from, to) = (cells.cell(own.min), cells.cell(own.max));
            let many = (u64::from(to[0] - from[0]) + 1) * (u64::from(to[1] - from[1]) + 1);
            let folds = (0..2).any(|d| to[d] - from[d] >= 1 << bits[d]);
            if many > MOST_CELLS || folds {
                cells.long.push(i as u32);
                spans.push(([1, 1], [0, 0]));
                continue;
            }
            spans.push((from, to));
            for row in from[1]..=to[1] {
                for column in from[0]..=to[0] {
                    let at = cells.folded(column, row);
                    cells.starts[at + 1] += 1;
                }
            }
        }
        for i in 1..cells.starts.len() {
            cells.starts[i] += cells.starts[i - 1];
        }
        let mut next = cells.starts.clone();
        cells.legs = vec![0; cells.starts[cells.starts.len() - 1] as usize];
        for (i, (from, to)) in spans.into_iter().enumerate() {
            for row in from[1]..=to[1] {
                for column in from[0]..=to[0] {
                    let place = &mut next[cells.folded(column, row)];
                    cells.legs[*place as usize] = i as u32;
                    *place += 1;
                }
            }
        }
        cells
    }

    fn count(&self) -> usize {
        self.starts.len() - 1
    }

    /// Returns the cell of a place; a monotone function of either coordinate.
    fn cell(&self, p: [f32; 3]) -> [u32; 2] {
        [0, 1].map(|d| ((p[d] - self.low[d]) * self.per_metre) as u32)
    }

    fn folded(&self, column: u32, row: u32) -> usize {
        let (columns, rows) = ((1 << self.bits[0]) - 1, (1 << self.bits[1]) - 1);
        ((row & rows) as usize) << self.bits[0] | (column & columns) as usize
    }
}

struct Search<'a> {
    legs: &'a [SweptLeg],
    boxes: &'a [Box3],
    within_m: f64,
    apart: Apart,
}

impl Search<'_> {
    fn in_cells(&self, cells: &Cells, range: Range<usize>) -> Vec<LegPair> {
        let mut found = Vec::new();
        let mut here: Vec<Box3> = Vec::new();
        for cell in range {
            let legs = &cells.legs[cells.starts[cell] as usize..cells.starts[cell + 1] as usize];
            if legs.len() < 2 {
                continue;
            }
            here.clear();
            here.extend(legs.iter().map(|&leg| self.boxes[leg as usize]));
            for (i, one) in here.iter().enumerate() {
                for (j, two) in here.iter().enumerate().skip(i + 1) {
                    if one.meets(two) {
                        let corner = [one.min[0].max(two.min[0]), one.min[1].max(two.min[1]), 0.0];
                        let [column, row] = cells.cell(corner);
                        if cells.folded(column, row) == cell {
                            self.measure(legs[i], legs[j], &mut found);
                        }
                    }
                }
            }
        }
        found
    }

    fn of_long_legs(&self, long: &[u32], found: &mut Vec<LegPair>) {
        if long.is_empty() {
            return;
        }
        let entries: Vec<_> = (self.boxes.iter().enumerate())
            .map(|(i, own)| {
                let key = LegKey {
                    run: own.run,
                    leg: i as u32,
                };
                (key, SmallBox::around(&own.plan()))
            })
            .collect();
        let tree = PackedTree::pack(&entries);
        let mut is_long = vec![false; self.legs.len()];
        for &leg in long {
            is_long[leg as usize] = true;
        }
        for &leg in long {
            let own = &self.boxes[leg as usize];
            tree.visit(&SmallBox::around(&own.plan()), |key| {
                let met = own.meets(&self.boxes[key.leg as usize]);
                if met && !(is_long[key.leg as usize] && key.leg <= leg) {
                    self.measure(leg, key.leg, found);
                }
            });
        }
    }

    fn measure(&self, one: u32, two: u32, found: &mut Vec<LegPair>) {
        let legs = [one.min(two), one.max(two)];
        let [a, b] = legs.map(|leg| &self.legs[leg as usize]);
        let gap_m = leg_gap_m(a, b, self.apart);
        if gap_m <= self.within_m {
            found.push(LegPair { legs, gap_m });
        }
    }
}

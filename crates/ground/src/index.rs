//! An index of legs by their plan boxes: packed once, with a short list of what came since.
//!
//! A box is kept as 32-bit floats rounded outward (0.5 mm at 8 km from the origin), so a query may name a leg that
//! is that little too far away and never leaves one out; the exact figures are tested afterwards anyway.

use std::collections::HashSet;

use crate::facet::PlanBox;
use crate::packed_tree::{PackedTree, SmallBox};

/// The list of what came since is packed when it grows to this many.
const MOST_LOOSE: usize = 512;
/// A small tree up to this size is packed again together with the list: about a millisecond.
const MOST_REPACKED: usize = 8_192;

/// Which leg, or which stretch of legs, of which run. The caller numbers both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct LegKey {
    /// The run.
    pub run: u32,
    /// The leg, or the first leg of the stretch.
    pub leg: u32,
}

/// Legs by their plan boxes, metres, minus the site's origin.
///
/// Give the boxes of the *grown* legs: then what is near at worst is found.
#[derive(Debug, Clone, Default)]
pub struct LegIndex {
    trees: Vec<Tree>,
    loose: Vec<(LegKey, SmallBox)>,
}

#[derive(Debug, Clone, Default)]
struct Tree {
    packed: PackedTree,
    /// Runs replaced or removed since it was packed.
    stale: HashSet<u32>,
}

impl Tree {
    fn live(&self, key: LegKey) -> bool {
        self.stale.is_empty() || !self.stale.contains(&key.run)
    }
}

impl LegIndex {
    /// Builds the index of many legs at once.
    pub fn build(legs: impl IntoIterator<Item = (LegKey, PlanBox)>) -> LegIndex {
        let entries: Vec<_> = legs
            .into_iter()
            .map(|(key, b)| (key, SmallBox::around(&b)))
            .collect();
        LegIndex {
            trees: vec![Tree {
                packed: PackedTree::pack(&entries),
                stale: HashSet::new(),
            }],
            loose: Vec::new(),
        }
    }

    /// Puts the legs of one run in, in place of any that the run had. Costs no rebuild of the whole.
    pub fn put_run(&mut self, run: u32, legs: impl IntoIterator<Item = (u32, PlanBox)>) {
        self.remove_run(run);
        self.loose.extend(
            legs.into_iter()
                .map(|(leg, b)| (LegKey { run, leg }, SmallBox::around(&b))),
        );
        if self.loose.len() >= MOST_LOOSE {
            let mut entries = std::mem::take(&mut self.loose);
            if self.trees.len() > 1
                && let Some(last) = self.trees.pop_if(|tree| tree.packed.len() <= MOST_REPACKED)
            {
                entries.extend(last.packed.entries().filter(|(key, _)| last.live(*key)));
            }
            self.trees.push(Tree {
                packed: PackedTree::pack(&entries),
                stale: HashSet::new(),
            });
        }
    }

    /// Takes the legs of one run out; a run that is not in changes nothing.
    pub fn remove_run(&mut self, run: u32) {
        self.loose.retain(|(key, _)| key.run != run);
        for tree in &mut self.trees {
            tree.stale.insert(run);
        }
    }

    /// Packs everything into one tree again: for a quiet moment, on a copy if nobody may wait.
    pub fn repack(&mut self) {
        let mut entries = std::mem::take(&mut self.loose);
        for tree in &self.trees {
            entries.extend(tree.packed.entries().filter(|(key, _)| tree.live(*key)));
        }
        self.trees = vec![Tree {
            packed: PackedTree::pack(&entries),
            stale: HashSet::new(),
        }];
    }

    /// Visits the key of every leg whose box meets a plan box, in no order; each once.
    pub fn visit(&self, within: &PlanBox, mut visit: impl FnMut(LegKey)) {
        let within = SmallBox::around(within);
        for tree in &self.trees {
            tree.packed.visit(&within, |key| {
                if tree.live(key) {
                    visit(key);
                }
            });
        }
        for (key, b) in &self.loose {
            if b.meets(&within) {
                visit(*key);
            }
        }
    }

    /// Returns the runs with a leg whose box meets a plan box, in ascending order, each once.
    pub fn runs_in(&self, within: &PlanBox) -> Vec<u32> {
        let mut runs = Vec::new();
        self.visit(within, |key| {
            if runs.last() != Some(&key.run) {
                runs.push(key.run);
            }
        });
        runs.sort_unstable();
        runs.dedup();
        runs
    }

    /// Returns how many legs are held outside the first tree: when many, [`LegIndex::repack`] pays.
    pub fn loose_count(&self) -> usize {
        self.loose.len()
            + self
                .trees
                .iter()
                .skip(1)
                .map(|tree| tree.packed.len())
                .sum::<usize>()
    }
}

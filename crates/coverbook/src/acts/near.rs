//! Runs in the ground by their plan boxes, in memory: what a server answers digs from.
//!
//! The same boxes as in the store, made by the same function, so both find the same runs.

use super::{ActError, rows};
use ground::Vec2;
use ground::facet::PlanBox;
use ground::index::{LegIndex, LegKey};
use register::run_record::RunRecord;
use register::site::Site;
use std::collections::HashMap;
use std::sync::Arc;

/// With so many boxes outside the packed tree it is packed anew.
const MOST_OUTSIDE: usize = 65_536;

/// Runs in the ground, found by their boxes.
#[derive(Debug, Clone, Default)]
pub(crate) struct NearRuns {
    index: LegIndex,
    numbers: HashMap<String, u32>,
    records: Vec<Option<Arc<RunRecord>>>,
}

impl NearRuns {
    /// Packs every run of a site that is in the ground.
    pub(crate) fn of(site: &Site) -> Result<NearRuns, ActError> {
        let mut near = NearRuns::default();
        let mut boxes = Vec::new();
        for record in site.runs.values().flat_map(|run| run.in_the_ground()) {
            let run = near.number(record);
            boxes.extend(
                rows::boxes_of(record)?
                    .iter()
                    .map(|b| (LegKey { run, leg: b.chunk }, plan_box(b))),
            );
        }
        near.index = LegIndex::build(boxes);
        Ok(near)
    }

    /// Takes a run in, in place of what stood under its key.
    pub(crate) fn put(&mut self, record: &Arc<RunRecord>, boxes: &[store::PlanBox]) {
        let run = self.number(record);
        self.index
            .put_run(run, boxes.iter().map(|b| (b.chunk, plan_box(b))));
        if self.index.loose_count() > MOST_OUTSIDE {
            self.index.repack();
        }
    }

    /// Takes a run out.
    pub(crate) fn remove(&mut self, key: &str) {
        if let Some(&run) = self.numbers.get(key) {
            self.index.remove_run(run);
            self.records[run as usize] = None;
        }
    }

    /// Returns the runs with a box that meets another.
    pub(crate) fn within(&self, within: &PlanBox) -> Vec<Arc<RunRecord>> {
        let runs = self.index.runs_in(within);
        runs.into_iter()
            .filter_map(|run| self.records[run as usize].clone())
            .collect()
    }

    fn number(&mut self, record: &Arc<RunRecord>) -> u32 {
        let next = self.records.len() as u32;
        let run = *self.numbers.entry(record.key.clone()).or_insert(next);
        if run == next {
            self.records.push(None);
        }
        self.records[run as usize] = Some(Arc::clone(record));
        run
    }
}

fn plan_box(b: &store::PlanBox) -> PlanBox {
    PlanBox {
        min: Vec2::new(b.min_e, b.min_n),
        max: Vec2::new(b.max_e, b.max_n),
    }
}

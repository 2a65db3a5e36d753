//! All runs against all: the meetings of every two tubes that come near, found through an index.

use crate::facet::PlanBox;
use crate::gap::GapError;
use crate::index::{LegIndex, LegKey};
use crate::leg::Legs;
use crate::leg_pairs::{Apart, SweptLeg, near_pairs};
use crate::meeting::{LegsMet, Meeting, PairOfTubes, leg_growth_m, meetings, section_reach_m};
use crate::tube::Tube;

/// The meetings of two tubes of a list.
#[derive(Debug, Clone, PartialEq)]
pub struct Met {
    /// Their places in the list, the lesser first.
    pub tubes: [usize; 2],
    /// Where they meet, in the order of the first one's chainage.
    pub meetings: Vec<Meeting>,
}

/// A tube whose separations cannot be taken.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{why}")]
pub struct SeparationError {
    /// Its place in the list, from 0.
    pub tube: usize,
    /// Why.
    #[source]
    pub why: GapError,
}

/// Returns the meetings of every two tubes that come within a distance in plan, both grown, at any depth.
///
/// In ascending order of the two places. The same as [`meetings`] of every two, without asking all of them.
/// # Errors
/// [`SeparationError`] names the first tube that has no leg or a size that is not finite.
pub fn all_meetings(tubes: &[&Tube], within_m: f64, threads: usize) -> Result<Vec<Met>, SeparationError> {
    let mut legs = Vec::new();
    let mut number: Vec<[u32; 2]> = Vec::new();
    for (run, tube) in tubes.iter().enumerate() {
        Legs::of(tube).map_err(|why| SeparationError { tube: run, why })?;
        for (leg, own) in swept_legs(tube, run as u32).enumerate() {
            number.push([run as u32, leg as u32]);
            legs.push(own);
        }
    }
    let mut near: Vec<[u32; 4]> = near_pairs(&legs, within_m, Apart::InPlan, threads)
        .into_iter()
        .map(|pair| {
            let [a, b] = pair.legs.map(|leg| number[leg as usize]);
            [a[0], b[0], a[1], b[1]]
        })
        .collect();
    near.sort_unstable();
    let mut found = Vec::new();
    for same in near.chunk_by(|a, b| a[..2] == b[..2]) {
        let [one, two] = [same[0][0] as usize, same[0][1] as usize];
        let met: Vec<LegsMet> = same.iter().map(|k| [k[2] as usize, k[3] as usize]).collect();
        let pair = PairOfTubes::of(tubes[one], tubes[two], within_m)
            .map_err(|why| SeparationError { tube: one, why })?;
        found.push(Met {
            tubes: [one, two],
            meetings: pair.meetings(&met),
        });
    }
    Ok(found)
}

/// Returns a tube's legs as the search sees them: its section and its growth in plan about a straight.
pub fn swept_legs(tube: &Tube, run: u32) -> impl Iterator<Item = SweptLeg> + '_ {
    tube.legs().enumerate().map(move |(leg, (a, b))| SweptLeg {
        ends: [a.axis, b.axis],
        reach_m: section_reach_m(&tube.section) + leg_growth_m(tube, leg),
        run,
    })
}

/// Returns the boxes of a tube's grown legs: what an index of runs holds.
pub fn leg_boxes(tube: &Tube) -> impl Iterator<Item = (u32, PlanBox)> + '_ {
    swept_legs(tube, 0).enumerate().map(|(leg, own)| {
        let [a, b] = own.ends.map(|p| p.xy());
        let around = PlanBox {
            min: a.inf(&b),
            max: a.sup(&b),
        };
        (leg as u32, around.grown(own.reach_m))
    })
}

/// Returns the runs of an index with a leg near one of a tube's, in ascending order, each once.
pub fn runs_near(tube: &Tube, index: &LegIndex, within_m: f64) -> Vec<u32> {
    let mut runs = Vec::new();
    for (_, around) in leg_boxes(tube) {
        index.visit(&around.grown(within_m), |key: LegKey| {
            if runs.last() != Some(&key.run) {
                runs.push(key.run);
            }
        });
    }
    runs.sort_unstable();
    runs.dedup();
    runs
}

/// Returns the meetings of one tube with every other that an index finds near it.
///
/// The tube's own number is left out. `tube_of` hands out a tube by its number.
/// # Errors
/// [`SeparationError`] names the tube that has no leg or a size that is not finite.
pub fn meetings_of_one<'t>(
    (own, tube): (u32, &Tube),
    index: &LegIndex,
    tube_of: impl Fn(u32) -> Option<&'t Tube>,
    within_m: f64,
) -> Result<Vec<(u32, Vec<Meeting>)>, SeparationError> {
    let mut found = Vec::new();
    for run in runs_near(tube, index, within_m) {
        let Some(other) = (run != own).then(|| tube_of(run)).flatten() else {
            continue;
        };
        let met = meetings(tube, other, within_m).map_err(|why| SeparationError {
            tube: run as usize,
            why,
        })?;
        if !met.is_empty() {
            found.push((run, met));
        }
    }
    Ok(found)
}

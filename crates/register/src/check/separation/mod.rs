//! Separation between runs: met, short or not proved, place by place, by which rule, and where.
//!
//! Each run counts with the whole of its own 95 %: two shot from one station share its error, and taking both bounds off
//! whole errs to the safe side whatever they share. No figure means not proved, never a pass.

mod joints;
mod judge;
mod say;
#[cfg(test)]
mod tests;

use crate::rules::Adopted;
use crate::run_record::RunRecord;
use crate::service::Service;
use crate::site::{Frame, Refusal, Site};
use crate::view::{SeparationAnswer, SeparationPlace, SeparationSummary};
use crate::words::SeparationVerdict;
use ground::facet::PlanBox;
use ground::lay::LaidTube;
use ground::meeting::{Meeting, MeetingKind, meetings};
use ground::separation::{Met, all_meetings};
use ground::tube::Tube;
use std::collections::BTreeSet;
use std::sync::Arc;
use survey::uncertainty::radial95;

/// Within this distance of a joint, along each run, runs of one service that join are no conflict. The program's own.
pub(crate) const JOINT_M: f64 = 0.5;
/// Side by side, places are told when nearer than their figure and this; without a figure, when nearer than this. The
/// program's own.
pub(crate) const BEYOND_M: f64 = 0.5;
/// More places than these are counted and not listed.
const MOST_LISTED: usize = 2_000;

/// A run and the tube laid for it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Laid<'a> {
    pub(crate) record: &'a RunRecord,
    pub(crate) laid: &'a LaidTube,
}

impl Laid<'_> {
    fn placed(&self) -> bool {
        self.laid.tube.vertices.iter().all(|v| v.growth.is_some())
    }
}

/// A place with what it is sorted by.
struct Listed {
    place: SeparationPlace,
    margin_m: f64,
}

impl Site {
    /// Checks the separation of one run from all others: what changes when that run does.
    ///
    /// `near` are the records that may come near it: those with a box that meets one of
    /// [`Site::separation_boxes`]; others do no harm. Without them every run of the site is laid and asked.
    /// # Errors
    /// A read-only site, a run that is not recorded or not in the ground, or one that cannot be laid.
    pub fn check_separation(
        &self,
        run: &str,
        near: Option<&[Arc<RunRecord>]>,
    ) -> Result<SeparationAnswer, Refusal> {
        if let Some(why) = &self.read_only {
            let says = format!("the site is read-only and answers no check: {why}");
            return Err(Refusal::new("read-only", says));
        }
        let rules = self.rules.as_deref();
        let own: Vec<&RunRecord> = self.known_run(run)?.in_the_ground().map(Arc::as_ref).collect();
        let laid = lay_all(&own, rules)?;
        self.separation_from_others(&with(&own, &laid), near)
    }

    /// Returns the boxes to look in for whatever may come near a run: round its legs, with what the figures ask and what
    /// class defaults may add to either.
    ///
    /// # Errors
    /// A run that is not recorded, or one that cannot be laid.
    pub fn separation_boxes(&self, run: &str) -> Result<Vec<PlanBox>, Refusal> {
        let default_m = radial95(self.rules.as_deref().map_or(0.0, Adopted::largest_sigma_h_m));
        let margin_m = self.separation_reach_m() + 2.0 * default_m;
        let mut boxes = Vec::new();
        for record in self.known_run(run)?.in_the_ground() {
            let own = record
                .plan_boxes()
                .map_err(|e| Refusal::about("run", &record.key, e.to_string()))?;
            boxes.extend(own.iter().map(|around| around.grown(margin_m)));
        }
        Ok(boxes)
    }

    /// How far apart in plan, both grown, two runs can be and still be told: the largest figure that counts, and
    /// half a metre. Metres.
    pub fn separation_reach_m(&self) -> f64 {
        self.rules.as_deref().map_or(0.0, Adopted::largest_separation_m) + BEYOND_M
    }

    /// Judges some runs, each against the others.
    fn separation_of_some(&self, own: &[Laid<'_>], others: &[Laid<'_>]) -> Result<SeparationAnswer, Refusal> {
        let within_m = self.separation_reach_m();
        let mut listed = Vec::new();
        let mut compared = own.to_vec();
        for other in others {
            let mut near = false;
            for run in own.iter().filter(|run| run.record.run != other.record.run) {
                let met = meetings(&run.laid.tube, &other.laid.tube, within_m)
                    .map_err(|e| Refusal::about("run", &other.record.key, e.to_string()))?;
                self.judge_pair([run, other], &met, &mut listed)?;
                near |= !met.is_empty();
            }
            // What is not placed may lie here, wherever it was recorded.
            if near || !other.placed() {
                compared.push(*other);
            }
        }
        let mine = own.iter().map(|run| run.record.service).collect();
        self.separation_answer(listed, &compared, &mine)
    }

    /// Judges every run of the site against every other.
    pub(crate) fn separation_of_site(&self) -> Result<SeparationAnswer, Refusal> {
        let records: Vec<&RunRecord> = (self.runs.values())
            .flat_map(|of| of.in_the_ground().map(Arc::as_ref))
            .collect();
        let laid = lay_all(&records, self.rules.as_deref())?;
        self.separation_of_all(&with(&records, &laid))
    }

    /// Judges every run against every other.
    pub(crate) fn separation_of_all(&self, all: &[Laid<'_>]) -> Result<SeparationAnswer, Refusal> {
        let tubes: Vec<&Tube> = all.iter().map(|run| &run.laid.tube).collect();
        let found = all_meetings(&tubes, self.separation_reach_m(), 1)
            .map_err(|e| Refusal::about("run", &all[e.tube].record.key, e.to_string()))?;
        let mut listed = Vec::new();
        for Met { tubes, meetings } in &found {
            let pair = [&all[tubes[0]], &all[tubes[1]]];
            // Two versions of one run stand where one run lies.
            if pair[0].record.run != pair[1].record.run {
                self.judge_pair(pair, meetings, &mut listed)?;
            }
        }
        let services = all.iter().map(|run| run.record.service).collect();
        self.separation_answer(listed, all, &services)
    }

    /// Judges the runs of a cover check: all, or the one asked for against those that may come near it.
    pub(crate) fn separation_among(
        &self,
        records: &[&RunRecord],
        checked: &[super::Checked],
        run: Option<&str>,
    ) -> Result<SeparationAnswer, Refusal> {
        let own: Vec<Laid<'_>> = (records.iter().zip(checked))
            .map(|(record, of)| Laid {
                record,
                laid: &of.laid,
            })
            .collect();
        if run.is_none() {
            return self.separation_of_all(&own);
        }
        self.separation_from_others(&own, None)
    }

    fn separation_from_others(
        &self,
        own: &[Laid<'_>],
        near: Option<&[Arc<RunRecord>]>,
    ) -> Result<SeparationAnswer, Refusal> {
        let other = |record: &&RunRecord| own.iter().all(|run| run.record.run != record.run);
        let mut others: Vec<&RunRecord> = match near {
            Some(near) => near.iter().map(Arc::as_ref).filter(other).collect(),
            None => (self.runs.values())
                .flat_map(|of| of.in_the_ground().map(Arc::as_ref))
                .filter(other)
                .collect(),
        };
        others.sort_by(|a, b| a.key.cmp(&b.key));
        others.dedup_by(|a, b| a.key == b.key);
        let laid = lay_all(&others, self.rules.as_deref())?;
        self.separation_of_some(own, &with(&others, &laid))
    }

    fn judge_pair(
        &self,
        pair: [&Laid<'_>; 2],
        met: &[Meeting],
        listed: &mut Vec<Listed>,
    ) -> Result<(), Refusal> {
        let rules = self.rules.as_deref();
        let frame = self.frame()?;
        let services = pair.map(|run| run.record.service);
        let suspect = pair
            .iter()
            .any(|run| run.record.shots.iter().any(|shot| shot.suspect));
        let joints = joints::joints(pair[0], pair[1]);
        let put = |met: &Meeting, listed: &mut Vec<Listed>| {
            if let Some(judged) = judge::judge(met, services, rules, suspect) {
                listed.push(say::place(pair, met, &judged, rules, &frame));
            }
        };
        for place in met {
            let here: Vec<joints::Joint> = joints
                .iter()
                .copied()
                .filter(|joint| joints::holds(place, joint))
                .collect();
            if here.is_empty() {
                put(place, listed);
                continue;
            }
            // Ends in one structure are often far enough apart to be no matter at all.
            let nearest = place.worst_shortest.unwrap_or(place.shortest);
            if place.kind == MeetingKind::Crossing || nearest.gap_m < BEYOND_M {
                listed.push(say::joint(pair, place, &frame));
            }
            let figures = rules.is_some_and(|r| {
                r.separations(services[0], services[1])
                    .any(|(rule, _)| r.counts(&rule.cited))
            });
            if !figures {
                continue;
            }
            // Beyond the joint every crossing is told, and the worst of what lies side by side.
            let mut rest = Vec::new();
            let tubes = pair.map(|run| &run.laid.tube);
            for [one, two] in joints::beyond(tubes, &here) {
                let found = meetings(&one, &two, self.separation_reach_m())
                    .map_err(|e| Refusal::about("run", &pair[0].record.key, e.to_string()))?;
                found.iter().for_each(|met| put(met, &mut rest));
            }
            rest.sort_by(worst_first);
            let mut told = false;
            rest.retain(|own| {
                let crossing = own.place.kind == CROSSING;
                let keep = crossing || !told;
                told |= !crossing;
                keep
            });
            listed.extend(rest);
        }
        Ok(())
    }

    fn separation_answer(
        &self,
        mut listed: Vec<Listed>,
        compared: &[Laid<'_>],
        services: &BTreeSet<Service>,
    ) -> Result<SeparationAnswer, Refusal> {
        listed.sort_by(worst_first);
        let mut summary = SeparationSummary::default();
        for own in &listed {
            match own.place.verdict {
                SeparationVerdict::Met => summary.met += 1,
                SeparationVerdict::Joins => summary.joins += 1,
                SeparationVerdict::NotProved => summary.not_proved += 1,
                SeparationVerdict::Short => summary.short += 1,
            }
        }
        let mut not_placed: Vec<String> = compared
            .iter()
            .filter(|run| !run.placed())
            .map(|run| run.record.key.clone())
            .collect();
        not_placed.sort();
        not_placed.dedup();
        let without_figure = self.without_figure(services);
        // What is not placed or suspect may lie nearer to others than it is recorded; no figure, or no run at all, proves
        // nothing at any distance.
        let suspect = |run: &Laid<'_>| run.record.shots.iter().any(|shot| shot.suspect);
        let proves_nothing = !not_placed.is_empty()
            || !without_figure.is_empty()
            || self.rules.is_none()
            || compared.is_empty()
            || compared.iter().any(suspect);
        let unplaced = proves_nothing.then_some(SeparationVerdict::NotProved);
        let verdict = (listed.first().map(|own| own.place.verdict))
            .into_iter()
            .chain(unplaced)
            .max()
            .unwrap_or(SeparationVerdict::Met);
        let not_listed = listed.len().saturating_sub(MOST_LISTED) as u32;
        listed.truncate(MOST_LISTED);
        Ok(SeparationAnswer {
            verdict,
            says: say::answer(&summary, &not_placed, &without_figure, self.rules.as_deref()),
            summary,
            places: listed.into_iter().map(|own| own.place).collect(),
            not_listed,
            not_placed,
            without_figure: without_figure
                .into_iter()
                .map(|pair| pair.map(|service| service.style().slug.to_owned()).to_vec())
                .collect(),
            joint_m: JOINT_M,
            beyond_m: BEYOND_M,
        })
    }

    /// Returns the pairs of different services, one of them among those given and both in the ground on this site, on
    /// which no figure counts.
    fn without_figure(&self, services: &BTreeSet<Service>) -> Vec<[Service; 2]> {
        let there: BTreeSet<Service> = (self.runs.values())
            .flat_map(|of| of.in_the_ground().map(|record| record.service))
            .collect();
        let mut pairs = BTreeSet::new();
        for &one in services {
            for &two in there.iter().filter(|&&two| two != one) {
                let counts = self.rules.as_deref().is_some_and(|rules| {
                    rules
                        .separations(one, two)
                        .any(|(rule, _)| rules.counts(&rule.cited))
                });
                if !counts {
                    pairs.insert([one.min(two), one.max(two)]);
                }
            }
        }
        pairs.into_iter().collect()
    }
}

const CROSSING: &str = "crossing";

fn kind_words(kind: MeetingKind) -> &'static str {
    match kind {
        MeetingKind::Crossing => CROSSING,
        MeetingKind::SideBySide => "side-by-side",
    }
}

fn worst_first(a: &Listed, b: &Listed) -> std::cmp::Ordering {
    (b.place.verdict.cmp(&a.place.verdict))
        .then(a.margin_m.total_cmp(&b.margin_m))
        .then_with(|| a.place.runs.cmp(&b.place.runs))
}

fn lay_all(records: &[&RunRecord], rules: Option<&Adopted>) -> Result<Vec<LaidTube>, Refusal> {
    let lay = |record: &&RunRecord| {
        record
            .lay(rules)
            .map_err(|e| Refusal::about("run", &record.key, e.to_string()))
    };
    records.iter().map(lay).collect()
}

fn with<'a>(records: &[&'a RunRecord], laid: &'a [LaidTube]) -> Vec<Laid<'a>> {
    let both = records.iter().zip(laid);
    both.map(|(record, laid)| Laid { record, laid }).collect()
}

/// What the words of a place need of the frame.
type At<'a> = &'a Frame;

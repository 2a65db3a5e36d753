//! One run against a planned dig: its gaps, its verdict, and what to know about it.

use super::verdict::verdict_of;
use super::{OPEN_END_M, PlannedDig};
use crate::rules::Adopted;
use crate::run_record::{RunRecord, RunStatus};
use crate::site::{Refusal, Site};
use crate::time::{date_of, earlier_first};
use crate::unshot_words::NO_BOUND;
use crate::view::{At, CoverRange, DigPart, DigRun, Down, LevelRange, Near, RuleSpoken, Up, Why};
use crate::words::DigVerdict;
use ground::Vec3;
use ground::gap::{Gap, NoNumber, Stretch, TubeGaps, tube_gaps};
use ground::lay::LaidTube;
use ground::tube::{Section, Tube, TubeVertex};
use std::collections::BTreeMap;

/// A run's view with the unrounded numbers that it is sorted by.
pub(super) struct Measured {
    pub(super) view: DigRun,
    pub(super) order: (DigVerdict, f64),
    pub(super) newest: String,
    pub(super) near: bool,
}

impl PlannedDig<'_> {
    /// Measures one run of a site whose frame lies `shift` from this dig's.
    pub(super) fn measure(&self, record: &RunRecord, asked: &Site, shift: Vec3) -> Result<Measured, Refusal> {
        let rules = self.rules_for(asked);
        let refuse = |says: String| Refusal::about("run", &record.key, says);
        let mut laid = record.lay(rules).map_err(|e| refuse(e.to_string()))?;
        for vertex in &mut laid.tube.vertices {
            vertex.axis += shift;
        }
        let whole_known = record.known();
        let (near_seen_m, near_unseen_m) = self.near_for(asked);
        let near_m = if whole_known.is_seen() {
            near_seen_m
        } else {
            near_unseen_m
        };
        let gaps = tube_gaps(&laid.tube, &self.dig, near_m).map_err(|e| refuse(e.to_string()))?;
        let legs = near_legs(&laid, &gaps);
        let (first, last) = shots_of(&laid, legs);
        let known = if gaps.near.is_empty() {
            whole_known
        } else {
            record.known_between(first, last)
        };
        let rule = self.dig_rule_for(asked);
        let verdict = rule.map(|(_, dig)| verdict_of(&gaps, dig, known));
        let mut why = Why::new();
        if verdict.is_none() {
            let no_rule = if rules.is_some() {
                "the adopted rule set has no dig figures that count; confirm them, or adopt a set that has"
            } else {
                "no rule set is adopted, so no verdict is given"
            };
            why.insert("verdict".into(), no_rule.into());
        }
        let mut at = BTreeMap::new();
        at.insert("gap_m".into(), self.at(&gaps.shortest));
        at.insert("horizontal_gap_m".into(), self.at(&gaps.horizontal));
        let mut figure = |name: &str, gap: &Result<Gap, NoNumber>| match gap {
            Ok(gap) => {
                at.insert(name.into(), self.at(gap));
                Some(Down(gap.gap_m))
            }
            Err(no) => {
                why.insert(name.into(), no_number(*no).into());
                None
            }
        };
        let worst_gap_m = figure("worst_gap_m", &gaps.worst_shortest);
        let worst_horizontal_gap_m = figure("worst_horizontal_gap_m", &gaps.worst_horizontal);
        let vertical_gap_m = figure("vertical_gap_m", &gaps.vertical);
        let worst_vertical_gap_m = figure("worst_vertical_gap_m", &gaps.worst_vertical);
        let near_vertices = &laid.tube.vertices[legs.0..=legs.1 + 1];
        let top_of = |vertex: &TubeVertex| vertex.axis.z + top_height(&laid.tube.section);
        let (lowest, highest) = gaps.top_level_m.unwrap_or_else(|| {
            let tops = laid.tube.vertices.iter().map(top_of);
            tops.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), top| {
                (low.min(top), high.max(top))
            })
        });
        let (cover_m, no_surface_m) = self.cover_over(&laid.tube, &gaps.near, &mut why);
        let largest = |of: fn(&ground::tube::Growth) -> f64| {
            near_vertices
                .iter()
                .map(|v| v.growth.as_ref().map(of))
                .try_fold(0.0, |a: f64, b| Some(a.max(b?)))
        };
        let (u95_h, u95_v) = (largest(|g| g.horizontal_m), largest(|g| g.vertical_m));
        for (name, value) in [("u95_h_m", u95_h), ("u95_v_m", u95_v)] {
            if value.is_none() {
                why.insert(name.into(), no_number(NoNumber::NotPlaced).into());
            }
        }
        let unshot = record.unshot_part(&laid, (legs.0, legs.1 + 1));
        let unshot_m = laid.unshot_m[legs.0..=legs.1 + 1]
            .iter()
            .fold(0.0, |a: f64, b| a.max(*b));
        if !unshot_m.is_finite() {
            why.insert("unshot_m".into(), NO_BOUND.into());
        }
        let part_chainages = laid.shot_chainage_m[first..=last].windows(2);
        let longest_m = part_chainages.map(|pair| pair[1] - pair[0]).fold(0.0, f64::max);
        let bow_m = record.stated_bow(longest_m, &mut why);
        let part_shots = &record.shots[first..=last];
        let times = || part_shots.iter().map(|s| s.observed_at.as_str());
        let mut cautions = self.cautions_of(record, &laid, rules, (first, last), near_unseen_m);
        if verdict == Some(DigVerdict::NotPlaced) || (verdict.is_none() && worst_gap_m.is_none()) {
            cautions.insert(
                0,
                "no uncertainty is known for it: where it lies is not placed, find it by hand".into(),
            );
        }
        cautions.extend(unshot.clone());
        if no_surface_m > 0.0 && cover_m.min.is_some() {
            cautions.push(format!(
                "no surface here over {} m of the part near the dig: its cover there is not known",
                Up(no_surface_m).text()
            ));
        }
        let order_gap = worst_gap_m.map_or(gaps.shortest.gap_m, |g| g.0);
        let part = gaps
            .near
            .iter()
            .map(|stretch| DigPart {
                from_m: Near(stretch.from_m),
                to_m: Near(stretch.to_m),
                line: self.line_between(&laid.tube, stretch.from_m, stretch.to_m),
            })
            .collect();
        let style = record.service.style();
        let says = self.sentence(
            record,
            verdict,
            &gaps,
            (lowest, highest),
            times().min_by(|a, b| earlier_first(a, b)).unwrap_or_default(),
        );
        Ok(Measured {
            order: (verdict.unwrap_or(DigVerdict::InTheWay), order_gap),
            newest: record
                .shots
                .iter()
                .map(|s| s.observed_at.as_str())
                .max_by(|a, b| earlier_first(a, b))
                .unwrap_or_default()
                .to_string(),
            near: !gaps.near.is_empty(),
            view: DigRun {
                site: asked.opened.as_ref().map(|o| o.name.clone()).unwrap_or_default(),
                head: asked.head_text(),
                run: record.key.clone(),
                service: style.slug.into(),
                letters: style.letters.into(),
                section: record.section.words.clone(),
                outside_m: Near(record.section.height_m),
                status: record.status.words().into(),
                verdict,
                known,
                gap_m: Down(gaps.shortest.gap_m),
                worst_gap_m,
                horizontal_gap_m: Down(gaps.horizontal.gap_m),
                worst_horizontal_gap_m,
                vertical_gap_m,
                worst_vertical_gap_m,
                overlap_m: Up(gaps.overlap_m),
                cover_m,
                top_level_m: LevelRange {
                    min: Near(lowest),
                    max: Near(highest),
                },
                u95_h_m: u95_h.map(Up),
                u95_v_m: u95_v.map(Up),
                unshot_m: unshot_m.is_finite().then_some(Up(unshot_m)),
                unshot_says: unshot,
                bow_m,
                at,
                rule: rule.map(|(rules, dig)| spoken(rules, &dig.cited, dig.hand_dig_m)),
                observed_at: times()
                    .min_by(|a, b| earlier_first(a, b))
                    .unwrap_or_default()
                    .to_string(),
                part,
                cautions,
                says,
                why,
            },
        })
    }

    fn at(&self, gap: &Gap) -> At {
        At {
            on_run: self.grid(gap.on_run),
            on_dig: self.grid(gap.on_dig),
            chainage_m: Near(gap.chainage_m),
        }
    }

    pub(super) fn grid(&self, local: Vec3) -> [Near; 3] {
        let p = self.frame.grid(local);
        [Near(p.x), Near(p.y), Near(p.z)]
    }

    /// Cover over the part near the dig, and the length of it over which there is no surface.
    fn cover_over(&self, tube: &Tube, near: &[Stretch], why: &mut Why) -> (CoverRange, f64) {
        let mut none = |says: String, unknown_m: f64| {
            why.insert("cover_m".into(), says);
            (CoverRange { min: None, max: None }, unknown_m)
        };
        if near.is_empty() {
            return none(
                "no part of it is near this dig; its card tells its cover".into(),
                0.0,
            );
        }
        let Some(surface) = self.surface else {
            let says = self
                .surface_why_not
                .clone()
                .unwrap_or_else(|| "no surface is recorded".into());
            return none(says, 0.0);
        };
        let (mut least, mut greatest, mut unknown_m) = (None::<f64>, None::<f64>, 0.0);
        for stretch in near {
            let Some(part) = clipped(tube, *stretch) else {
                continue;
            };
            let Ok(cover) = ground::cover::cover(&part, &surface.surface, surface.u95_m) else {
                return none("the cover could not be measured".into(), 0.0);
            };
            for leg in &cover.legs {
                unknown_m += leg.unknown_m;
                let lesser = leg.least.map(|c| least.map_or(c.cover_m, |l| l.min(c.cover_m)));
                let larger = leg
                    .greatest
                    .map(|c| greatest.map_or(c.cover_m, |g| g.max(c.cover_m)));
                (least, greatest) = (lesser.or(least), larger.or(greatest));
            }
        }
        match (least, greatest) {
            (Some(min), Some(max)) => (
                CoverRange {
                    min: Some(Down(min)),
                    max: Some(Up(max)),
                },
                unknown_m,
            ),
            _ => none(
                format!("no surface here: {} does not reach over this part", surface.name),
                unknown_m,
            ),
        }
    }

    fn line_between(&self, tube: &Tube, from_m: f64, to_m: f64) -> Vec<[Near; 3]> {
        let top = top_height(&tube.section);
        let mut line = Vec::new();
        let mut put = |axis: Vec3| line.push(self.grid(axis + Vec3::new(0.0, 0.0, top)));
        for (a, b) in tube.legs() {
            if b.chainage_m < from_m || a.chainage_m > to_m {
                continue;
            }
            let length = b.chainage_m - a.chainage_m;
            let along = |chainage: f64| {
                let t = if length > 0.0 {
                    ((chainage - a.chainage_m) / length).clamp(0.0, 1.0)
                } else {
                    0.0
                };
                a.axis + (b.axis - a.axis) * t
            };
            if a.chainage_m <= from_m {
                put(along(from_m));
            }
            put(if length > 0.0 {
                along(to_m.min(b.chainage_m))
            } else {
                b.axis
            });
        }
        line
    }

    fn cautions_of(
        &self,
        record: &RunRecord,
        laid: &LaidTube,
        rules: Option<&Adopted>,
        (first, last): (usize, usize),
        near_m: f64,
    ) -> Vec<String> {
        let mut cautions = Vec::new();
        cautions.extend(record.status_says.clone());
        if record.status == RunStatus::Held {
            cautions.push(
                "two versions of this run stand; both are in this answer until a person settles which".into(),
            );
        }
        if record.service == crate::service::Service::Unknown {
            cautions.push("nobody knows what this is: treat it as live".into());
        }
        let part = &record.shots[first..=last];
        if part.iter().any(|s| s.known.is_none()) {
            cautions.push("how it is known was not stated at every point: counted as assumed".into());
        }
        if let Some(worst) = part
            .iter()
            .map(|s| s.known_or_assumed())
            .max()
            .filter(|known| !known.is_seen())
        {
            cautions.push(format!(
                "not seen when recorded ({worst}): it may lie elsewhere; find it by hand"
            ));
        }
        if part.iter().any(|s| s.sigmas_m(rules).2) {
            cautions.push("its uncertainty is a class default of the rule set, not measured".into());
        }
        let mut doubts: Vec<String> = part.iter().flat_map(|s| s.doubts.iter().cloned()).collect();
        doubts.sort();
        doubts.dedup();
        cautions.extend(doubts);
        if record.section.assumed {
            cautions.push(format!("its outside is assumed: {}", record.section.words));
        }
        cautions.extend(laid.findings.iter().map(|finding| record.says_of(finding)));
        for (end, at, next) in [
            (0, 0, 1),
            (1, laid.tube.vertices.len() - 1, laid.tube.vertices.len() - 2),
        ] {
            if record.ends[end].is_open() && self.extension_is_near(&laid.tube, at, next, near_m) {
                let which = if end == 0 { "start" } else { "end" };
                cautions.push(format!(
                    "its {which} ({}) is {}: carried on straight it comes near this dig",
                    record.shots[if end == 0 { 0 } else { record.shots.len() - 1 }].point,
                    record.ends[end]
                ));
            }
        }
        cautions
    }

    fn sentence(
        &self,
        record: &RunRecord,
        verdict: Option<DigVerdict>,
        gaps: &TubeGaps,
        tops: (f64, f64),
        oldest: &str,
    ) -> String {
        let what = format!("{} ({})", record.key, record.service.style().name);
        let worst = gaps.worst_horizontal.as_ref().map(|g| Down(g.gap_m).text());
        let unplaced = if worst.is_err() { ", not placed" } else { "" };
        let place = match (&worst, gaps.horizontal.gap_m) {
            (_, 0.0) if gaps.overlap_m > 0.0 => format!("passes through the dig{unplaced}"),
            (_, 0.0) => match (&gaps.vertical, &gaps.worst_vertical) {
                (Ok(gap), worst) if gap.gap_m > 0.0 => {
                    let gap = Down(gap.gap_m).text();
                    let worst = match worst {
                        Ok(worst) => format!(", {} m at 95 %", Down(worst.gap_m).text()),
                        Err(NoNumber::NotPlaced) => unplaced.into(),
                        Err(_) => ", not known at 95 %".into(),
                    };
                    match self.question.bore {
                        Some(_) => format!("passes {gap} m below the bore{worst}"),
                        None => format!("passes {gap} m below the floor of the dig{worst}"),
                    }
                }
                _ => format!("passes under or over the dig{unplaced}"),
            },
            (Ok(worst), gap) => format!(
                "is {} m from the dig in plan, {worst} m at 95 %",
                Down(gap).text()
            ),
            (Err(_), gap) => format!(
                "is recorded {} m from the dig in plan, not placed",
                Down(gap).text()
            ),
        };
        let tops = if Near(tops.0).text() == Near(tops.1).text() {
            format!("outside top at level {}", Near(tops.1).text())
        } else {
            format!(
                "outside top between levels {} and {}",
                Near(tops.0).text(),
                Near(tops.1).text()
            )
        };
        let verdict = match verdict {
            Some(verdict) => format!("{verdict}: "),
            None => String::new(),
        };
        format!("{verdict}{what} {place}, {tops}, measured {}", date_of(oldest))
    }

    /// Tells whether the end of a run, or that end carried on straight, comes near the dig.
    fn extension_is_near(&self, tube: &Tube, at: usize, next: usize, near_m: f64) -> bool {
        let (end, inner) = (tube.vertices[at], tube.vertices[next]);
        let Some(direction) = (end.axis - inner.axis).try_normalize(1e-9) else {
            return true;
        };
        let far = TubeVertex {
            axis: end.axis + direction * OPEN_END_M,
            chainage_m: end.chainage_m + OPEN_END_M,
            growth: end.growth,
        };
        let extension = Tube {
            section: tube.section,
            vertices: vec![end, far],
        };
        match tube_gaps(&extension, &self.dig, near_m) {
            Ok(gaps) => !gaps.near.is_empty(),
            Err(_) => true,
        }
    }
}

pub(crate) fn spoken(rules: &Adopted, cited: &crate::rules::Citation, minimum: f64) -> RuleSpoken {
    let confirmed = if cited.status != crate::rules::Status::Seen && rules.confirmed.contains(&cited.id) {
        format!(", confirmed when adopted by entry {}", rules.entry)
    } else {
        String::new()
    };
    RuleSpoken {
        id: Some(cited.id.clone()),
        minimum: Some(minimum),
        source: format!("{}, {}, {}", cited.source, cited.edition, cited.clause),
        status: format!("{}{confirmed}", cited.status.words()),
    }
}

/// Returns the stretch of a tube between two chainages, growth included; none when it has no length.
pub(crate) fn clipped(tube: &Tube, stretch: Stretch) -> Option<Tube> {
    let mut vertices: Vec<TubeVertex> = Vec::new();
    for (a, b) in tube.legs() {
        let length = b.chainage_m - a.chainage_m;
        // A plumb leg has no chainage of its own and comes whole.
        let share = |chainage: f64, plumb: f64| {
            if length > 0.0 {
                ((chainage - a.chainage_m) / length).clamp(0.0, 1.0)
            } else {
                plumb
            }
        };
        if b.chainage_m < stretch.from_m || a.chainage_m > stretch.to_m {
            continue;
        }
        for t in [share(stretch.from_m, 0.0), share(stretch.to_m, 1.0)] {
            let mix = |x: f64, y: f64| x + (y - x) * t;
            let vertex = TubeVertex {
                axis: a.axis + (b.axis - a.axis) * t,
                chainage_m: mix(a.chainage_m, b.chainage_m),
                growth: a.growth.zip(b.growth).map(|(a, b)| ground::tube::Growth {
                    horizontal_m: mix(a.horizontal_m, b.horizontal_m),
                    vertical_m: mix(a.vertical_m, b.vertical_m),
                }),
            };
            if vertices
                .last()
                .is_none_or(|last| (last.axis - vertex.axis).norm() > 1e-6)
            {
                vertices.push(vertex);
            }
        }
    }
    (vertices.len() >= 2).then_some(Tube {
        section: tube.section,
        vertices,
    })
}

fn no_number(why: NoNumber) -> &'static str {
    match why {
        NoNumber::NotPlaced => "no uncertainty is known for it, so no worst case can be told",
        NoNumber::NotUnder => "no part of it lies over or under the dig in plan",
        NoNumber::FloorUnknown => "the floor of the dig is not known over it",
    }
}

/// Height of the outside top above the axis of a level leg.
fn top_height(section: &Section) -> f64 {
    match section {
        Section::Round { radius_m } => *radius_m,
        Section::Bank { half_height_m, .. } => *half_height_m,
    }
}

/// First and last leg of the tube that any near stretch touches; all of them when none does.
fn near_legs(laid: &LaidTube, gaps: &TubeGaps) -> (usize, usize) {
    let touched = laid.tube.legs().enumerate().filter(|(_, (a, b))| {
        gaps.near
            .iter()
            .any(|part| part.from_m <= b.chainage_m && part.to_m >= a.chainage_m)
    });
    let mut touched = touched.map(|(i, _)| i);
    match touched.next() {
        Some(first) => (first, touched.last().unwrap_or(first)),
        None => (0, laid.tube.vertices.len() - 2),
    }
}

/// First and last shot of the legs.
fn shots_of(laid: &LaidTube, legs: (usize, usize)) -> (usize, usize) {
    let last_shot = laid.shot_axis.len() - 1;
    let first = (laid.among_shots[legs.0].floor() as usize).min(last_shot);
    let last = (laid.among_shots[legs.1 + 1].ceil() as usize).min(last_shot);
    (first, last.max(first))
}

//! The cover check: can it be covered? Met, short, not proved or missing, by which rule, and where.

pub(crate) mod completeness;
mod falls;
pub(crate) mod separation;

use crate::dig::spoken;
use crate::rules::{Adopted, CoverMeasure};
use crate::run_record::RunRecord;
use crate::site::{RecordedSurface, Refusal, Site};
use crate::unshot_words::NO_BOUND;
use crate::view::{
    CAUTIONS, CoverAnswer, CoverLeg, CoverRun, CoverSummary, Down, HeadView, Near, RuleSpoken, Up, Why,
};
use crate::words::{CheckVerdict, SeparationVerdict};
use ground::cover::{Cover, CoverAt, CoverVerdict, NoCover, least_cover};
use ground::lay::LaidTube;

pub(crate) use falls::{ShotInvert, fall_view, inverts_of};

/// Measures one run against a surface and judges it by the site's rules.
pub(crate) struct Checked {
    pub(crate) axis_gaps: Vec<(&'static str, String)>,
    pub(crate) laid: LaidTube,
    pub(crate) cover: Option<Cover>,
    pub(crate) inverts: Vec<ShotInvert>,
    pub(crate) run: CoverRun,
}

impl Site {
    /// Checks every run of the site, or one, against the surface named or the only one.
    ///
    /// # Errors
    /// A surface that is not recorded, several of which none is named, a run that is not recorded, or a
    /// read-only site. No surface at all is no refusal: the answer then says so and nothing is proved.
    pub fn check_cover(&self, surface: Option<&str>, run: Option<&str>) -> Result<CoverAnswer, Refusal> {
        if let Some(why) = &self.read_only {
            return Err(Refusal::new(
                "read-only",
                format!("the site is read-only and answers no check: {why}"),
            ));
        }
        let (below, no_surface) = match self.surface_for(surface, None, false) {
            Ok(below) => (Some(below), None),
            Err(choice) if choice.refused => return Err(Refusal::new("surface", choice.says)),
            Err(choice) => (None, Some(choice.says)),
        };
        if let Some(name) = run {
            self.known_run(name)?;
        }
        let rules = self.rules.as_deref();
        let (mut records, mut checked) = (Vec::new(), Vec::new());
        for (name, of) in &self.runs {
            if run.is_none_or(|wanted| wanted == name) {
                for record in of.in_the_ground() {
                    checked.push(check_run(record, below, no_surface.as_deref(), rules)?);
                    records.push(record.as_ref());
                }
            }
        }
        let separation = self.separation_among(&records, &checked, run)?;
        let inverts = checked
            .iter()
            .flat_map(|c| falls::schedule(c, below, no_surface.as_deref()))
            .collect();
        let mut gaps: Vec<_> = checked
            .iter()
            .flat_map(|c| completeness::of_run(c, below))
            .collect();
        let expected = if run.is_some() {
            Vec::new()
        } else {
            self.expected_runs()
        };
        if run.is_none() {
            gaps.extend(completeness::of_site(self, &expected));
        }
        let mut runs: Vec<CoverRun> = checked.into_iter().map(|c| c.run).collect();
        runs.sort_by(|a, b| {
            severity(b.verdict)
                .cmp(&severity(a.verdict))
                .then(a.run.cmp(&b.run))
        });
        let mut summary = CoverSummary::default();
        let missing = expected
            .iter()
            .filter(|e| !e.recorded)
            .map(|_| CheckVerdict::Missing);
        let verdicts: Vec<CheckVerdict> = runs.iter().map(|r| r.verdict).chain(missing).collect();
        for verdict in &verdicts {
            match verdict {
                CheckVerdict::Met => summary.met += 1,
                CheckVerdict::Short => summary.short += 1,
                CheckVerdict::NotProved => summary.not_proved += 1,
                CheckVerdict::Missing => summary.missing += 1,
            }
        }
        let apart = match separation.verdict {
            SeparationVerdict::Met | SeparationVerdict::Joins => None,
            SeparationVerdict::NotProved => Some(CheckVerdict::NotProved),
            SeparationVerdict::Short => Some(CheckVerdict::Short),
        };
        // Nothing recorded proves nothing.
        let verdict = verdicts
            .iter()
            .copied()
            .chain(apart)
            .max_by_key(|v| severity(*v))
            .unwrap_or(CheckVerdict::NotProved);
        let mut why = Why::new();
        if let Some(says) = &no_surface {
            why.insert("below".into(), says.clone());
        }
        if rules.is_none() {
            why.insert(
                "rules".into(),
                "no rule set is adopted: nothing can be met".into(),
            );
        }
        Ok(CoverAnswer {
            format: "coverbook.cover/1".into(),
            site: self.opened.as_ref().map(|o| o.name.clone()).unwrap_or_default(),
            head: self.head_view(),
            below: below.map(RecordedSurface::says),
            rules: self.rules_in_force(),
            says: answer_sentence(&summary, rules.is_some(), no_surface.as_deref(), &separation.says),
            verdict,
            summary,
            runs,
            expected,
            gaps,
            inverts,
            separation,
            cautions: CAUTIONS.iter().map(|c| c.to_string()).collect(),
            why,
        })
    }

    /// Returns the head, for a screen.
    pub fn head_view(&self) -> HeadView {
        HeadView {
            n: self.n,
            hex: crate::chain::hex(&self.head),
            recorded_at: self.recorded_at.clone(),
        }
    }
}

/// How badly a verdict reads: short before missing before not proved before met.
fn severity(verdict: CheckVerdict) -> u8 {
    match verdict {
        CheckVerdict::Met => 0,
        CheckVerdict::NotProved => 1,
        CheckVerdict::Missing => 2,
        CheckVerdict::Short => 3,
    }
}

fn answer_sentence(
    summary: &CoverSummary,
    has_rules: bool,
    no_surface: Option<&str>,
    separation: &str,
) -> String {
    let total = summary.met + summary.short + summary.not_proved + summary.missing;
    if total == 0 {
        return "Nothing is recorded and nothing is expected: nothing is proved.".into();
    }
    let mut parts = Vec::new();
    for (count, word) in [
        (summary.short, "short"),
        (summary.missing, "missing"),
        (summary.not_proved, "not proved"),
        (summary.met, "met"),
    ] {
        if count > 0 {
            parts.push(format!("{count} {word}"));
        }
    }
    let mut says = format!("Of {total} runs: {}.", parts.join(", "));
    if !has_rules {
        says += " No rule set is adopted, so nothing can be met.";
    }
    if let Some(no_surface) = no_surface {
        says += &format!(" Depth is not known: {no_surface}.");
    }
    format!("{says} {separation}")
}

/// Checks one run. `no_surface` says why there is none when `below` is absent.
pub(crate) fn check_run(
    record: &RunRecord,
    below: Option<&RecordedSurface>,
    no_surface: Option<&str>,
    rules: Option<&Adopted>,
) -> Result<Checked, Refusal> {
    let refuse = |says: String| Refusal::about("run", &record.key, says);
    let laid = record.lay(rules).map_err(|e| refuse(e.to_string()))?;
    let measured = below
        .map(|below| least_cover(&laid.tube, &below.surface, below.u95_m))
        .transpose()
        .map_err(|e| refuse(e.to_string()))?;
    let style = record.service.style();
    let inverts = inverts_of(record, &laid, rules);
    let rule = rules.and_then(|rules| rules.cover(record.service).map(|rule| (rules, rule)));
    let fall_rule = rules.and_then(|rules| {
        rules
            .fall(record.service, record.section.size_mm)
            .map(|r| (rules, r))
    });
    let measure = rule.map_or(CoverMeasure::Vertical, |(_, rule)| rule.measure);
    let minimum = rule.map(|(_, rule)| rule.minimum_m);
    let mut why = Why::new();
    let (least, worst) = whole_cover(measured.as_ref(), measure, no_surface, &mut why);
    let cover_verdict = match (&measured, minimum) {
        (Some(cover), Some(minimum)) => match cover.judge(minimum, ground_measure(measure)) {
            CoverVerdict::Met => CheckVerdict::Met,
            CoverVerdict::Short => CheckVerdict::Short,
            CoverVerdict::NotProved => CheckVerdict::NotProved,
        },
        _ => CheckVerdict::NotProved,
    };
    // What a failed or missing check leaves suspect can be short, and can never be met.
    let suspect = record.shots.iter().any(|shot| shot.suspect);
    let unless_suspect = |verdict: CheckVerdict| match verdict {
        CheckVerdict::Met if suspect => CheckVerdict::NotProved,
        verdict => verdict,
    };
    let cover_verdict = unless_suspect(cover_verdict);
    let mut legs = legs_of(
        record,
        &laid,
        measured.as_ref(),
        &inverts,
        (minimum, measure),
        fall_rule.map(|(_, r)| r.minimum),
        no_surface,
    );
    for leg in &mut legs {
        leg.cover_verdict = unless_suspect(leg.cover_verdict);
        if let Some(fall) = &mut leg.fall {
            fall.verdict = unless_suspect(fall.verdict);
        }
    }
    let fall_verdict = style.gravity.then(|| {
        let falls = legs
            .iter()
            .filter(|leg| !leg.riser)
            .map(|leg| leg.fall.as_ref().map(|f| f.verdict));
        falls
            .map(|v| v.unwrap_or(CheckVerdict::NotProved))
            .max_by_key(|v| severity(*v))
            .unwrap_or(CheckVerdict::NotProved)
    });
    let verdict = fall_verdict
        .into_iter()
        .chain([cover_verdict])
        .max_by_key(|v| severity(*v))
        .unwrap_or(cover_verdict);
    let none_adopted = || RuleSpoken {
        id: None,
        minimum: None,
        source: if rules.is_some() {
            "no figure of the adopted rule set speaks of it"
        } else {
            "no rule adopted"
        }
        .into(),
        status: "none".into(),
    };
    let emerges = measured.as_ref().map(|cover| {
        let risers = cover.risers.iter().map(|r| r.from_m);
        risers
            .chain(cover.emerges.iter().map(|e| e.chainage_m))
            .map(Near)
            .collect()
    });
    let mut findings: Vec<String> = laid.findings.iter().map(|f| record.says_of(f)).collect();
    findings.extend(record.status_says.clone());
    findings.extend(
        record
            .shots
            .iter()
            .flat_map(|s| s.doubts.iter().map(move |d| format!("{}: {d}", s.point))),
    );
    if record.section.assumed {
        findings.push(format!("section assumed: {}", record.section.words));
    }
    let rule_view = rule.map_or_else(none_adopted, |(rules, rule)| {
        spoken(rules, &rule.cited, rule.minimum_m)
    });
    let unknown_m = measured.as_ref().map_or(length_m(&laid), |cover| cover.unknown_m);
    let mut says = run_sentence(cover_verdict, fall_verdict, &rule_view, least, worst, &why, &legs);
    if unknown_m > 0.0 && least.is_some() {
        says += &format!("; no surface over {} m of it", Up(unknown_m).text());
    }
    let longest = laid
        .shot_chainage_m
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(0.0, f64::max);
    let run = CoverRun {
        run: record.key.clone(),
        service: style.slug.into(),
        letters: style.letters.into(),
        verdict,
        says,
        cover_verdict,
        fall_verdict,
        least_cover_m: least.map(|c| Down(c.cover_m)),
        worst_cover_m: worst.map(|c| Down(c.cover_m)),
        at_chainage_m: least.map(|c| Near(c.chainage_m)),
        at: None,
        cover_unknown_m: Up(unknown_m),
        rule: rule_view,
        fall_rule: style.gravity.then(|| {
            fall_rule.map_or_else(none_adopted, |(rules, rule)| {
                spoken(rules, &rule.cited, rule.minimum)
            })
        }),
        legs,
        emerges_at_m: emerges.unwrap_or_default(),
        longest_leg_m: Up(longest),
        bow_m: record.stated_bow(longest, &mut why),
        findings,
        why,
    };
    let axis_gaps = laid
        .findings
        .iter()
        .map(|f| (RunRecord::code_of(f), record.says_of(f)))
        .collect();
    Ok(Checked {
        axis_gaps,
        laid,
        cover: measured,
        inverts,
        run,
    })
}

pub(crate) fn length_m(laid: &LaidTube) -> f64 {
    laid.tube.vertices.last().map_or(0.0, |v| v.chainage_m)
}

fn ground_measure(measure: CoverMeasure) -> ground::cover::CoverMeasure {
    match measure {
        CoverMeasure::Vertical => ground::cover::CoverMeasure::Vertical,
        CoverMeasure::Shortest => ground::cover::CoverMeasure::Shortest,
    }
}

/// Least and worst cover of the whole run by the rule's measure, with reasons for what is not known.
fn whole_cover(
    measured: Option<&Cover>,
    measure: CoverMeasure,
    no_surface: Option<&str>,
    why: &mut Why,
) -> (Option<CoverAt>, Option<CoverAt>) {
    let Some(cover) = measured else {
        let says = no_surface.unwrap_or("no surface is recorded").to_string();
        why.insert("least_cover_m".into(), says.clone());
        why.insert("worst_cover_m".into(), says);
        return (None, None);
    };
    let (least, worst) = match measure {
        CoverMeasure::Vertical => (&cover.least, &cover.worst),
        CoverMeasure::Shortest => (&cover.shortest, &cover.worst_shortest),
    };
    let mut known = |name: &str, of: &Result<CoverAt, NoCover>| match of {
        Ok(at) => Some(*at),
        Err(no) => {
            why.insert(name.into(), no_cover(no).into());
            None
        }
    };
    (known("least_cover_m", least), known("worst_cover_m", worst))
}

pub(crate) fn no_cover(no: &NoCover) -> &'static str {
    match no {
        NoCover::NoSurface => "no surface here",
        NoCover::OnlyRisers => "it is a riser all along, and risers are left out of the cover rule",
        NoCover::NotPlaced { .. } => "no uncertainty is known for it, so no worst case can be told",
        NoCover::NotMeasured => "it was not asked for",
        NoCover::SurfaceNotSure => "the surface's uncertainty is not stated; record it with sigma_v_mm",
    }
}

fn legs_of(
    record: &RunRecord,
    laid: &LaidTube,
    measured: Option<&Cover>,
    inverts: &[ShotInvert],
    (minimum, measure): (Option<f64>, CoverMeasure),
    least_fall: Option<f64>,
    no_surface: Option<&str>,
) -> Vec<CoverLeg> {
    let gravity = record.service.style().gravity;
    (0..record.shots.len() - 1)
        .map(|leg| {
            let mut why = Why::new();
            let mine: Vec<usize> = (0..laid.tube.vertices.len() - 1)
                .filter(|t| laid.shot_leg(*t) == leg)
                .collect();
            let parts: Vec<_> = measured
                .map(|cover| mine.iter().map(|t| &cover.legs[*t]).collect())
                .unwrap_or_default();
            let lowest = |of: fn(&ground::cover::LegCover) -> Option<CoverAt>| {
                parts
                    .iter()
                    .filter_map(|leg| of(leg))
                    .min_by(|a, b| a.cover_m.total_cmp(&b.cover_m))
            };
            let (least, worst) = match measure {
                CoverMeasure::Vertical => (lowest(|l| l.least), lowest(|l| l.worst)),
                CoverMeasure::Shortest => (lowest(|l| l.shortest), lowest(|l| l.worst_shortest)),
            };
            let all_known = !parts.is_empty() && parts.iter().all(|l| l.unknown_m == 0.0);
            let worst = worst.filter(|_| {
                parts
                    .iter()
                    .all(|l| l.worst.is_some() && l.worst_unknown_m == Some(0.0))
            });
            if least.is_none() {
                why.insert(
                    "least_cover_m".into(),
                    no_surface.unwrap_or("no surface here").into(),
                );
            }
            if worst.is_none() {
                let says = match (&no_surface, all_known) {
                    (Some(says), _) => says,
                    (None, false) => "no surface here over part of it",
                    (None, true) => "an uncertainty is not known",
                };
                why.insert("worst_cover_m".into(), says.into());
            }
            let riser = !parts.is_empty() && parts.iter().all(|l| l.riser);
            let cover_verdict = match (least, worst, minimum) {
                (Some(least), _, Some(minimum)) if least.cover_m < minimum => CheckVerdict::Short,
                (_, Some(worst), Some(minimum)) if all_known && worst.cover_m >= minimum => CheckVerdict::Met,
                _ => CheckVerdict::NotProved,
            };
            let fall = if gravity && !riser {
                let straight = mine.iter().all(|t| !laid.on_bend[*t]);
                match fall_view(&inverts[leg], &inverts[leg + 1], straight, least_fall) {
                    Ok(fall) => Some(fall),
                    Err(says) => {
                        why.insert("fall".into(), says);
                        None
                    }
                }
            } else {
                None
            };
            let unshot_m = laid.unshot[leg].all_m();
            if !unshot_m.is_finite() {
                why.insert("unshot_m".into(), NO_BOUND.into());
            }
            CoverLeg {
                from: record.shots[leg].point.clone(),
                to: record.shots[leg + 1].point.clone(),
                length_m: Near(laid.shot_chainage_m[leg + 1] - laid.shot_chainage_m[leg]),
                least_cover_m: least.map(|c| Down(c.cover_m)),
                worst_cover_m: worst.map(|c| Down(c.cover_m)),
                at_chainage_m: least.map(|c| Near(c.chainage_m)),
                riser,
                unshot_m: unshot_m.is_finite().then_some(Up(unshot_m)),
                unshot_says: record.unshot_leg(laid, leg),
                fall,
                cover_verdict,
                why,
            }
        })
        .collect()
}

fn run_sentence(
    cover: CheckVerdict,
    fall: Option<CheckVerdict>,
    rule: &RuleSpoken,
    least: Option<CoverAt>,
    worst: Option<CoverAt>,
    why: &Why,
    legs: &[CoverLeg],
) -> String {
    let figures = match (least, worst) {
        (Some(least), Some(worst)) => format!(
            "least cover {} m at chainage {}, {} m at 95 %",
            Down(least.cover_m).text(),
            Near(least.chainage_m).text(),
            Down(worst.cover_m).text()
        ),
        (Some(least), None) => format!(
            "least cover {} m at chainage {}; no worst case: {}",
            Down(least.cover_m).text(),
            Near(least.chainage_m).text(),
            why.get("worst_cover_m").map_or("", |w| w)
        ),
        (None, _) => why
            .get("least_cover_m")
            .cloned()
            .unwrap_or_else(|| "no cover is known".into()),
    };
    let against = match rule.minimum {
        Some(minimum) => format!("cover {cover} against {minimum:.3} m"),
        None => format!("cover {cover}, {}", rule.source),
    };
    let mut says = format!("{against}: {figures}");
    if let Some(fall) = fall {
        let wrong: Vec<String> = legs
            .iter()
            .filter(|leg| leg.fall.as_ref().is_some_and(|f| f.wrong_way))
            .map(|leg| format!("{} to {}", leg.from, leg.to))
            .collect();
        says += &format!("; fall {fall}");
        if !wrong.is_empty() {
            says += &format!(", falls the wrong way from {}", wrong.join(", from "));
        }
    }
    says
}

#[cfg(test)]
pub(crate) mod tests;

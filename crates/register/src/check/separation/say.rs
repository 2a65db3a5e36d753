//! A judged place, put into words and figures.

use super::judge::{Judged, Spoken};
use super::{At, JOINT_M, Laid, Listed, kind_words};
use crate::dig::spoken;
use crate::rules::{Adopted, SeparationMeasure};
use crate::service::Service;
use crate::view::{Down, Near, RuleSpoken, SeparationAt, SeparationPlace, SeparationSummary, Why};
use crate::words::SeparationVerdict;
use ground::gap::NoNumber;
use ground::meeting::{Between, Meeting, MeetingKind, Which};
use std::collections::BTreeMap;

/// Puts a judged place into words.
pub(super) fn place(
    pair: [&Laid<'_>; 2],
    met: &Meeting,
    judged: &Judged<'_>,
    rules: Option<&Adopted>,
    frame: At<'_>,
) -> Listed {
    let rule = match (&judged.figure, rules) {
        (Some(figure), Some(rules)) => spoken(rules, &figure.rule.cited, figure.rule.minimum_m),
        _ => no_rule(&judged.no_figure),
    };
    // Where it lies as recorded: the worst may lie anywhere within the growth.
    let decided = judged
        .figure
        .and_then(|figure| figure.gap)
        .unwrap_or(met.shortest);
    let mut own = bare(pair, met, &decided, rule, frame);
    own.verdict = judged.verdict;
    own.says = sentence(pair, met, judged, &decided);
    if let Some(figure) = &judged.figure {
        own.measure = Some(figure.rule.measure.words().into());
        own.unless.clone_from(&figure.rule.unless);
    } else {
        own.why.insert("measure".into(), judged.no_figure.clone());
    }
    Listed {
        place: own,
        margin_m: judged.figure.map_or(decided.gap_m, |figure| figure.margin_m()),
    }
}

/// Says that two runs of one service join here.
pub(super) fn joint(pair: [&Laid<'_>; 2], met: &Meeting, frame: At<'_>) -> Listed {
    let says = "runs of one service that join";
    let mut own = bare(pair, met, &met.shortest, no_rule(says), frame);
    own.verdict = SeparationVerdict::Joins;
    own.says = format!(
        "joins: {} and {} are of one service and join here; within {JOINT_M} m of the joint that is no conflict",
        pair[0].record.key, pair[1].record.key
    );
    own.why.insert("measure".into(), says.into());
    Listed {
        place: own,
        margin_m: met.shortest.gap_m,
    }
}

fn no_rule(source: &str) -> RuleSpoken {
    RuleSpoken {
        id: None,
        minimum: None,
        source: source.into(),
        status: "none".into(),
    }
}

/// The figures of a place, without verdict or words.
fn bare(
    pair: [&Laid<'_>; 2],
    met: &Meeting,
    decided: &Between,
    rule: RuleSpoken,
    frame: At<'_>,
) -> SeparationPlace {
    let grid = |p| {
        let p = frame.grid(p);
        [Near(p.x), Near(p.y), Near(p.z)]
    };
    let (mut at, mut why) = (BTreeMap::new(), Why::new());
    let mut figure = |name: &str, gap: Result<Between, NoNumber>| match gap {
        Ok(gap) => {
            let found = SeparationAt {
                points: gap.at.map(grid).to_vec(),
                chainage_m: gap.chainage_m.map(Near).to_vec(),
            };
            at.insert(name.to_owned(), found);
            Some(Down(gap.gap_m))
        }
        Err(no) => {
            why.insert(name.to_owned(), no_number(no, pair));
            None
        }
    };
    let gap_m = figure("gap_m", Ok(met.shortest));
    let worst_gap_m = figure("worst_gap_m", met.worst_shortest);
    let horizontal_gap_m = figure("horizontal_gap_m", Ok(met.horizontal));
    let worst_horizontal_gap_m = figure("worst_horizontal_gap_m", met.worst_horizontal);
    let vertical_gap_m = figure("vertical_gap_m", met.vertical);
    let worst_vertical_gap_m = figure("worst_vertical_gap_m", met.worst_vertical);
    let above = met.above.map(|which| match which {
        Which::First => pair[0].record.key.clone(),
        Which::Second => pair[1].record.key.clone(),
    });
    if above.is_none() {
        let says = match met.kind {
            MeetingKind::Crossing => "they share levels where one crosses the other",
            MeetingKind::SideBySide => "neither lies over the other",
        };
        why.insert("above".into(), says.into());
    }
    SeparationPlace {
        runs: pair.map(|run| run.record.key.clone()).to_vec(),
        services: pair
            .map(|run| run.record.service.style().slug.to_owned())
            .to_vec(),
        letters: pair
            .map(|run| run.record.service.style().letters.to_owned())
            .to_vec(),
        kind: kind_words(met.kind).into(),
        verdict: SeparationVerdict::NotProved,
        says: String::new(),
        above,
        gap_m: gap_m.unwrap_or_default(),
        worst_gap_m,
        horizontal_gap_m: horizontal_gap_m.unwrap_or_default(),
        worst_horizontal_gap_m,
        vertical_gap_m,
        worst_vertical_gap_m,
        measure: None,
        rule,
        unless: Vec::new(),
        place: grid(decided.at[0]),
        at,
        along_m: met.stretch.map(|s| [Near(s.from_m), Near(s.to_m)]).to_vec(),
        why,
    }
}

fn no_number(no: NoNumber, pair: [&Laid<'_>; 2]) -> String {
    match no {
        NoNumber::NotPlaced => {
            let names: Vec<_> = pair
                .iter()
                .filter(|run| !run.placed())
                .map(|run| run.record.key.as_str())
                .collect();
            format!(
                "no uncertainty is known for {}, so no worst case can be told",
                names.join(" and ")
            )
        }
        _ => "neither lies over the other, seen in plan".into(),
    }
}

/// `short: 0.212 m as recorded, 0.180 m at 95 %, 0.300 m asked the shortest way; W1 above at chainage 12.300 m`.
fn sentence(pair: [&Laid<'_>; 2], met: &Meeting, judged: &Judged<'_>, decided: &Between) -> String {
    let metres = |gap: Option<Between>| gap.map(|gap| format!("{} m", Down(gap.gap_m).text()));
    let known = |worst: Result<Between, NoNumber>| {
        metres(worst.ok()).map_or("not known at 95 %".to_owned(), |m| format!("{m} at 95 %"))
    };
    let mut says = match &judged.figure {
        Some(Spoken { rule, gap: None, .. }) => format!(
            "{}: side by side as recorded, and at 95 % one may lie over the other; {:.3} m asked between underside and top",
            judged.verdict, rule.minimum_m
        ),
        Some(figure) => {
            let way = match figure.rule.measure {
                SeparationMeasure::Shortest => "the shortest way",
                SeparationMeasure::Horizontal => "in plan",
                SeparationMeasure::VerticalCrossing => "between underside and top",
            };
            format!(
                "{}: {} as recorded, {}, {:.3} m asked {way}",
                judged.verdict,
                metres(figure.gap).unwrap_or_default(),
                known(figure.worst),
                figure.rule.minimum_m
            )
        }
        None => format!(
            "{}: {} as recorded, {}, the shortest way; {}",
            judged.verdict,
            metres(Some(met.shortest)).unwrap_or_default(),
            known(met.worst_shortest),
            judged.no_figure
        ),
    };
    says += &match met.above {
        Some(Which::First) => format!("; {} above {}", pair[0].record.key, pair[1].record.key),
        Some(Which::Second) => format!("; {} above {}", pair[1].record.key, pair[0].record.key),
        None if met.kind == MeetingKind::Crossing => "; neither is above the other".to_owned(),
        None => "; side by side".to_owned(),
    };
    says += &format!(
        ", at chainage {} m of {} and {} m of {}",
        Near(decided.chainage_m[0]).text(),
        pair[0].record.key,
        Near(decided.chainage_m[1]).text(),
        pair[1].record.key
    );
    if let Some(figure) = &judged.figure {
        if judged.verdict != SeparationVerdict::Short {
            for also in &figure.rule.also {
                says += &format!("; it asks besides, and a person must see, that {also}");
            }
        }
        if judged.verdict != SeparationVerdict::Met && !figure.rule.unless.is_empty() {
            says += &format!(
                "; unless {}: that needs a person's word",
                figure.rule.unless.join(", or ")
            );
        }
    }
    says
}

/// The whole in a sentence; it never says that anything is clear.
pub(super) fn answer(
    summary: &SeparationSummary,
    not_placed: &[String],
    without_figure: &[[Service; 2]],
    rules: Option<&Adopted>,
) -> String {
    let total = summary.met + summary.joins + summary.not_proved + summary.short;
    let mut parts = Vec::new();
    for (count, word) in [
        (summary.short, "short"),
        (summary.not_proved, "not proved"),
        (summary.met, "met"),
        (summary.joins, "joins"),
    ] {
        if count > 0 {
            parts.push(format!("{count} {word}"));
        }
    }
    let mut says = match total {
        0 => "No two recorded runs were found to cross, or nearer than their figure.".to_owned(),
        1 => format!("Of 1 place where recorded runs meet: {}.", parts.join(", ")),
        _ => format!(
            "Of {total} places where recorded runs meet: {}.",
            parts.join(", ")
        ),
    };
    if rules.is_none() {
        says += " No rule set is adopted, so no separation is proved.";
    } else if let Some([one, two]) = without_figure.first() {
        says += &format!(
            " No figure that counts speaks of {} beside {}",
            one.style().name,
            two.style().name
        );
        if without_figure.len() > 1 {
            says += &format!(", nor of {} more such pairs", without_figure.len() - 1);
        }
        says += ": that is not proved at any distance.";
    }
    if !not_placed.is_empty() {
        says += &format!(
            " No uncertainty is known for {}: how near it comes is not proved.",
            not_placed.join(", ")
        );
    }
    says
}

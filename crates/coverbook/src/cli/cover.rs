//! `cover`: is it met, short, not proved or missing.

use super::args::{Cli, Cover};
use super::output::Output;
use super::table::Table;
use super::{Ended, Outcome, register_file};
use register::view::{CoverAnswer, Down, Near, SeparationAnswer, Up};
use register::words::{CheckVerdict, SeparationVerdict};

/// Checks cover, fall, separation and completeness.
pub(crate) fn cover(cli: &Cli, args: &Cover, output: &Output) -> Outcome {
    let register = register_file::to_read(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let answer = register.cover(site, args.surface.as_deref(), args.run.as_deref())?;
    output.result(&answer, text)?;
    Ok(if answer.verdict == CheckVerdict::Met {
        Ended::Done
    } else {
        Ended::NotPassed
    })
}

fn text(answer: &CoverAnswer) -> String {
    let down = |figure: Option<Down>| figure.map_or("-".to_owned(), Down::text);
    let near = |figure: Option<Near>| figure.map_or("-".to_owned(), Near::text);
    let mut text = format!("{}\n", answer.says);
    if let Some(below) = &answer.below {
        text += &format!("Covers are below {below}\n");
    }
    let mut table = Table::with(&[
        "verdict",
        "run",
        "service",
        "least m",
        "95 % m",
        "rule m",
        "at chainage m",
        "fall",
    ]);
    for run in &answer.runs {
        table.row([
            run.verdict.to_string(),
            run.run.clone(),
            run.service.clone(),
            down(run.least_cover_m),
            down(run.worst_cover_m),
            run.rule.minimum.map_or("-".to_owned(), |m| format!("{m:.3}")),
            near(run.at_chainage_m),
            run.fall_verdict.map_or(String::new(), |v| v.to_string()),
        ]);
    }
    let rows = table.text();
    if !rows.is_empty() {
        text += &format!("\n{rows}\n");
    }
    for run in &answer.runs {
        text += &format!(
            "{}: {} ({}, {})\n",
            run.run, run.says, run.rule.source, run.rule.status
        );
    }
    text += &separation(&answer.separation);
    let missing: Vec<_> = answer.expected.iter().filter(|run| !run.recorded).collect();
    if !missing.is_empty() {
        text += "\nExpected and not recorded\n";
        for run in missing {
            text += &format!("  {}: {}\n", run.run, run.says);
        }
    }
    if !answer.gaps.is_empty() {
        text += "\nNot complete\n";
        for gap in &answer.gaps {
            text += &format!("  {}: {} [{}]\n", gap.about, gap.says, gap.code);
        }
    }
    let mut inverts = Table::with(&[
        "run",
        "point",
        "chainage m",
        "invert m",
        "± m",
        "depth m",
        "fall to next",
    ]);
    for row in &answer.inverts {
        inverts.row([
            row.run.clone(),
            row.point.clone(),
            row.chainage_m.text(),
            near(row.invert_level_m),
            row.u95_m.map_or("-".to_owned(), Up::text),
            row.depth_to_invert_m.map_or("-".to_owned(), Up::text),
            row.fall_to_next
                .as_ref()
                .map_or(String::new(), |fall| fall.says.clone()),
        ]);
    }
    let rows = inverts.text();
    if !rows.is_empty() {
        text += &format!("\n{rows}");
    }
    if let Some(rules) = &answer.rules {
        text += &format!("\nRules: {} ({})\n", rules.title, rules.says);
    }
    text += &format!("Head {}:{}\n", answer.head.n, answer.head.hex);
    text
}

/// Without a figure this many places are written out; the rest is counted.
const MOST_WITHOUT_FIGURE: usize = 20;

fn separation(answer: &SeparationAnswer) -> String {
    let mut text = format!("\nSeparation\n{}\n", answer.says);
    let mut table = Table::with(&[
        "verdict", "runs", "where", "gap m", "95 % m", "rule m", "easting", "northing", "level",
    ]);
    let mut silent = 0;
    for place in answer
        .places
        .iter()
        .filter(|place| place.verdict != SeparationVerdict::Joins)
    {
        silent += usize::from(place.verdict == SeparationVerdict::NotProved && place.rule.id.is_none());
        if place.rule.id.is_none() && silent > MOST_WITHOUT_FIGURE {
            continue;
        }
        let (gap, worst) = match place.measure.as_deref() {
            Some("horizontal") => (Some(place.horizontal_gap_m), place.worst_horizontal_gap_m),
            Some("vertical-crossing") => (place.vertical_gap_m, place.worst_vertical_gap_m),
            _ => (Some(place.gap_m), place.worst_gap_m),
        };
        let down = |figure: Option<Down>| figure.map_or("-".to_owned(), Down::text);
        let [easting, northing, level] = place.place.map(|n| n.text());
        table.row([
            place.verdict.to_string(),
            place.runs.join(", "),
            place
                .measure
                .as_deref()
                .map_or(place.kind.clone(), |measure| format!("{}, {measure}", place.kind)),
            down(gap),
            down(worst),
            place.rule.minimum.map_or("-".to_owned(), |m| format!("{m:.3}")),
            easting,
            northing,
            level,
        ]);
    }
    let rows = table.text();
    if !rows.is_empty() {
        text += &format!("{rows}\n");
    }
    if silent > MOST_WITHOUT_FIGURE {
        text += &format!(
            "and {} more places on which no figure speaks\n",
            silent - MOST_WITHOUT_FIGURE
        );
    }
    if answer.summary.joins > 0 {
        text += &format!(
            "{} where runs of one service join: no conflict within {} m of the joint\n",
            answer.summary.joins, answer.joint_m
        );
    }
    if answer.not_listed > 0 {
        text += &format!("{} more places are counted and not listed\n", answer.not_listed);
    }
    for place in answer.places.iter().filter(|place| place.rule.id.is_some()) {
        text += &format!(
            "{}, {}: {} ({}, {})\n",
            place.runs[0], place.runs[1], place.says, place.rule.source, place.rule.status
        );
    }
    text
}

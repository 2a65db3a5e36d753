//! `hold` and `attach`: can it be covered, what was decided, and photos of what is about to be covered.

use super::args::{Attach, Cli, Hold};
use super::output::Output;
use super::table::Table;
use super::{Ended, Outcome, area, register_file};
use crate::acts::{ActError, AttachAsk, ReleaseAsk};
use register::body::Accepted;
use register::hold::HoldQuestion;
use register::view::HoldAnswer;
use register::words::{HoldState, HoldVerdict};
use survey::Decimal;

/// Shows the list of a hold point, and records a decision on it when one is given.
pub(crate) fn hold(cli: &Cli, args: &Hold, output: &Output) -> Outcome {
    let (question, accepted) = (question(args)?, accepted(&args.accepted)?);
    if !(args.release || args.refuse) {
        let register = register_file::to_read(cli)?;
        let site = register_file::site(&register, args.of.site.as_deref())?;
        let answer = register.hold(site, &question, &accepted)?;
        output.result(&answer, text)?;
        return Ok(if answer.verdict == HoldVerdict::Open {
            Ended::NotPassed
        } else {
            Ended::Done
        });
    }
    let author = register_file::author(args.by.by.as_deref())?;
    let register = register_file::to_write(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let ask = ReleaseAsk {
        question,
        accepted,
        refused: args.refuse,
        head: args.head.clone(),
        statement: args.statement.clone(),
        ..ReleaseAsk::default()
    };
    let answer = register.release(site, &ask, &author)?;
    let decided = register.releases(site)?.into_iter().next();
    if let Some(decided) = &decided {
        output.says(&format!(
            "{}: {} (entry {})",
            decided.area, decided.says, decided.entry
        ));
    }
    output.result(&answer, text)?;
    Ok(Ended::Done)
}

/// Attaches a file.
pub(crate) fn attach(cli: &Cli, args: &Attach, output: &Output) -> Outcome {
    let author = register_file::author(args.by.by.as_deref())?;
    let bytes = std::fs::read(&args.file).map_err(|e| ActError::File {
        file: args.file.display().to_string(),
        why: format!("{e}; give a file that is there"),
    })?;
    let register = register_file::to_write(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let name = args
        .file
        .file_name()
        .map(|name| name.to_string_lossy().into_owned());
    let ask = AttachAsk {
        file: name.unwrap_or_default(),
        about: args.about.clone(),
        id: None,
        observed_at: args.observed_at.clone(),
    };
    let receipt = register.attach(site, &ask, bytes, &author)?;
    output.says(&format!("attached to {} as entry {}", args.about, receipt.head.n));
    Ok(Ended::Done)
}

fn question(args: &Hold) -> Result<HoldQuestion, ActError> {
    let decimal = |number: f64| {
        let text = number.to_string();
        text.parse::<Decimal>()
            .map_err(|e| ActError::asked("decimal", format!("corner {text:?}: {e}")))
    };
    let ring = match &args.ring {
        None => None,
        Some(given) => {
            let corners = area::corners(given)?.into_iter();
            let corners = corners.map(|[e, n]| Ok([decimal(e)?, decimal(n)?]));
            Some(corners.collect::<Result<_, ActError>>()?)
        }
    };
    Ok(HoldQuestion {
        area: args.area.clone(),
        ring,
        runs: args.runs.clone(),
        surface: args.surface.clone(),
    })
}

fn accepted(given: &[String]) -> Result<Vec<Accepted>, ActError> {
    let one = |text: &String| match text.split_once('=') {
        Some((item, reason)) => Ok(Accepted {
            item: item.trim().to_owned(),
            reason: reason.trim().to_owned(),
        }),
        None => {
            let says = format!(
                "{text:?} gives no reason; write ITEM=REASON, such as rules=\"judged by the engineer\""
            );
            Err(ActError::asked("accept", says))
        }
    };
    given.iter().map(one).collect()
}

/// The list as a person reads it: what is open first.
fn text(answer: &HoldAnswer) -> String {
    let mut text = format!("{}: {}\n", answer.area, answer.says);
    if let Some(below) = &answer.below {
        text += &format!("Covers are below {below}\n");
    }
    let mut table = Table::with(&["state", "item", "found"]);
    for item in &answer.items {
        let state = match (&item.accepted, item.state) {
            (Some(_), _) => "accepted".to_owned(),
            (None, state) => state.to_string(),
        };
        table.row([state, format!("[{}]", item.key), item.says.clone()]);
    }
    text += &format!("\n{}", table.text());
    for item in answer.items.iter().filter(|item| item.state != HoldState::Passes) {
        if let Some(reason) = &item.accepted {
            text += &format!("[{}] accepted: {reason}\n", item.key);
        }
    }
    for release in &answer.releases {
        text += &format!("\nEntry {}: {} {}\n", release.entry, release.area, release.says);
        if let Some(why) = &release.withdrawn {
            text += &format!("  withdrawn: {why}\n");
        }
        for changed in &release.changed {
            text += &format!("  ! since: {changed}\n");
        }
    }
    if let Some(rules) = &answer.rules {
        text += &format!("\nRules: {} ({})\n", rules.title, rules.says);
    }
    text += &format!("Head {}:{}\n", answer.head.n, answer.head.hex);
    text
}

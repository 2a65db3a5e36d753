//! `dig` and `sheet`: a planned dig, answered on screen or on paper.

use super::args::{Cli, Dig, Question, SheetArgs};
use super::output::Output;
use super::table::Table;
use super::{Ended, Outcome, area, register_file};
use crate::acts::{ActError, SheetAsk, SheetMade, paper_named};
use register::dig::DigQuestion;
use register::view::{DigAnswer, DigRun, Down, Up};
use sheets::Paper;

/// Asks what is recorded near a planned dig.
pub(crate) fn dig(cli: &Cli, args: &Dig, output: &Output) -> Outcome {
    let question = question(&args.question)?;
    let author = if args.keep {
        Some(register_file::author(args.by.by.as_deref())?)
    } else {
        None
    };
    let register = match author {
        Some(_) => register_file::to_write(cli)?,
        None => register_file::to_read(cli)?,
    };
    let site = register_file::site(&register, args.question.of.site.as_deref())?;
    let answer = register.dig(site, &question)?;
    if let Some(author) = author {
        let receipt = register.keep_dig(site, &question, &answer, &author, None)?;
        output.says(&format!("kept as entry {}", receipt.head.n));
    }
    output.result(&answer, text)?;
    Ok(Ended::Done)
}

/// Lays out the dig plan.
pub(crate) fn sheet(cli: &Cli, args: &SheetArgs, output: &Output) -> Outcome {
    let paper = paper_named(&args.paper)?;
    match args.kind.as_str() {
        "dig" => {}
        "hold" => return certificate(cli, args, paper, output),
        other => {
            let says = format!("sheet {other:?} cannot be laid out; choose dig or hold");
            return Err(ActError::asked("sheet", says));
        }
    }
    let ask = SheetAsk {
        paper,
        question: question(&args.question)?,
        recheck_by: args.recheck_by.clone(),
        emergency: args.emergency.clone(),
    };
    let author = args
        .by
        .as_deref()
        .map(|by| register_file::author(Some(by)))
        .transpose()?;
    let register = match author {
        Some(_) => register_file::to_write(cli)?,
        None => register_file::to_read(cli)?,
    };
    let site = register_file::site(&register, args.question.of.site.as_deref())?;
    let SheetMade { pdf, receipt } = register.dig_sheet(site, &ask, author.as_ref(), None)?;
    let write = || super::upkeep::write_file(&args.output, &pdf, output);
    match receipt {
        Some(receipt) => receipt.shown(write)?,
        None => write()?,
    };
    output.says(&format!("{}: {} bytes", args.output.display(), pdf.len()));
    Ok(Ended::Done)
}

/// Lays out the certificate of a decision at a hold point.
fn certificate(cli: &Cli, args: &SheetArgs, paper: Paper, output: &Output) -> Outcome {
    let Some(release) = &args.release else {
        let says = "nothing says which decision; give --release ENTRY, the number in the book";
        return Err(ActError::asked("sheet", says));
    };
    let register = register_file::to_read(cli)?;
    let site = register_file::site(&register, args.question.of.site.as_deref())?;
    let pdf = register.certificate(site, release, paper)?;
    super::upkeep::write_file(&args.output, &pdf, output)?;
    output.says(&format!("{}: {} bytes", args.output.display(), pdf.len()));
    Ok(Ended::Done)
}

fn question(args: &Question) -> Result<DigQuestion, ActError> {
    let mut question = DigQuestion {
        width_m: args.width,
        radius_m: args.radius,
        deviation_m: args.deviation,
        depth_m: args.depth,
        floor_level_m: args.floor,
        surface: args.surface.clone(),
        batter: args.batter,
        over_dig_m: args.over_dig,
        set_out_m: args.set_out,
        ..DigQuestion::default()
    };
    if let Some(given) = &args.area {
        let corners = Some(area::corners(given)?);
        match args.width {
            Some(_) => question.line = corners,
            None => question.area = corners,
        }
    }
    if let Some(given) = &args.point {
        question.point = area::positions(given, "easting,northing")?.first().copied();
    }
    if let Some(given) = &args.bore {
        question.bore = Some(area::positions(given, "easting,northing,level")?);
    }
    Ok(question)
}

/// The answer as a person reads it: what is not known first.
fn text(answer: &DigAnswer) -> String {
    let mut text = format!("{}\n\n", answer.says);
    text += &format!("{}\n", asked(answer));
    let mut table = Table::with(&[
        "verdict",
        "run",
        "service",
        "top m",
        "± m",
        "cover m",
        "gap m",
        "worst m",
        "known",
        "chainage m",
    ]);
    for run in &answer.runs {
        table.row(row(run));
    }
    let rows = table.text();
    if !rows.is_empty() {
        text.push('\n');
        text += &rows;
        if let Some(surface) = &answer.dig.surface {
            text += &format!("cover is below {surface}; ± and worst are at 95 %\n");
        }
        text.push('\n');
        for run in &answer.runs {
            text += &format!("{}: {}\n", run.run, run.says);
            for caution in &run.cautions {
                text += &format!("  ! {caution}\n");
            }
        }
    }
    let searched: Vec<String> = answer
        .searched
        .by_service
        .iter()
        .map(|(service, share)| format!("{service} {} %", share.share.whole()))
        .collect();
    if !searched.is_empty() {
        text += &format!("\nSearched: {}\n", searched.join(", "));
    }
    for other in &answer.not_compared {
        text += &format!("Not compared: {}: {}\n", other.site, other.why);
    }
    if let Some(rules) = &answer.rules {
        text += &format!("Rules: {} ({})\n", rules.title, rules.says);
    } else {
        text += "Rules: none adopted, so no verdicts\n";
    }
    text.push('\n');
    for caution in &answer.cautions {
        text += &format!("! {caution}\n");
    }
    text += &format!(
        "\nHead {}:{}, answered {}\n",
        answer.head.n, answer.head.hex, answer.as_at
    );
    text
}

fn asked(answer: &DigAnswer) -> String {
    let dig = &answer.dig;
    let floor = match (dig.depth_m, dig.floor_level_m) {
        (Some(depth), _) => format!(
            "{} m below {}",
            depth.text(),
            dig.surface.as_deref().unwrap_or("the surface")
        ),
        (None, Some(level)) => format!("floor at level {} m", level.text()),
        (None, None) => "along its axis".to_owned(),
    };
    let floors = dig
        .floor_levels_m
        .as_ref()
        .map(|levels| format!(" (floor {} to {} m)", levels.min.text(), levels.max.text()))
        .unwrap_or_default();
    let assumed = if dig.allowances_assumed { ", assumed" } else { "" };
    format!(
        "{} dig on {}: {floor}{floors}, {} m2; allowing {} m for over-digging and {} m for setting out{assumed}",
        dig.kind,
        answer.site,
        dig.area_m2.text(),
        dig.over_dig_m.text(),
        dig.set_out_m.text()
    )
}

fn row(run: &DigRun) -> [String; 10] {
    let down = |figure: Option<Down>| figure.map_or("-".to_owned(), Down::text);
    let chainage = run
        .at
        .values()
        .next()
        .map_or("-".to_owned(), |at| at.chainage_m.text());
    [
        run.verdict.map_or("-".to_owned(), |verdict| verdict.to_string()),
        format!("{} [{}]", run.run, run.letters),
        run.service.clone(),
        run.top_level_m.max.text(),
        run.u95_v_m.map_or("-".to_owned(), Up::text),
        down(run.cover_m.min),
        run.gap_m.text(),
        down(run.worst_gap_m),
        run.known.to_string(),
        chainage,
    ]
}

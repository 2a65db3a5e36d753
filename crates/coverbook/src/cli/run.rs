//! `run`: laid, amended, retired, shown.

use super::args::{Cli, RunAmend, RunArgs, RunCommand, RunDetails, RunLay, RunRetire, RunShow};
use super::import::{decimal, word};
use super::output::Output;
use super::table::Table;
use super::{Ended, Outcome, register_file};
use crate::acts::{ActError, Register};
use register::body::{Act, RunAmended, RunEnd, RunLaid, RunRetired};
use register::service::Service;
use register::view::{Down, Near, RunCard, Up};
use register::words::Retirement;
use uuid::Uuid;

/// Lays, amends, retires or shows a run.
pub(crate) fn run(cli: &Cli, args: &RunArgs, output: &Output) -> Outcome {
    match &args.what {
        RunCommand::Lay(args) => lay(cli, args, output),
        RunCommand::Amend(args) => amend(cli, args, output),
        RunCommand::Retire(args) => retire(cli, args, output),
        RunCommand::Show(args) => show(cli, args, output),
    }
}

fn lay(cli: &Cli, args: &RunLay, output: &Output) -> Outcome {
    let author = register_file::author(args.by.by.as_deref())?;
    let service = word(&args.details.service, "service", Service::from_slug)?.ok_or_else(|| {
        ActError::asked(
            "service",
            "nothing says what the run carries; give --service, unknown is an answer too",
        )
    })?;
    let mut laid = RunLaid {
        run: args.run.clone(),
        service,
        points: Vec::new(),
        section: Default::default(),
        ends: [RunEnd::NotStated, RunEnd::NotStated],
        bow_mm: None,
        owner: None,
        note: None,
        import_id: None,
    };
    take_details(&mut laid, &args.details)?;
    let register = register_file::to_write(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let receipt = register.append(site, &author, vec![Act::RunLaid(laid).into()])?;
    receipt.shown(|| card(&register, site, &args.run, None, output))
}

fn amend(cli: &Cli, args: &RunAmend, output: &Output) -> Outcome {
    let author = register_file::author(args.by.by.as_deref())?;
    let register = register_file::to_write(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let (newest, mut becomes) = register.run_as_laid(site, &args.run)?;
    take_details(&mut becomes, &args.details)?;
    let saw = args.saw.unwrap_or(newest);
    if saw != newest {
        output.says(&format!(
            "the newest revision is entry {newest}: this amendment is held beside it until a person settles it"
        ));
    }
    let amended = RunAmended {
        saw,
        reason: args.reason.clone(),
        becomes,
    };
    let receipt = register.append(site, &author, vec![Act::RunAmended(amended).into()])?;
    receipt.shown(|| card(&register, site, &args.run, None, output))
}

fn retire(cli: &Cli, args: &RunRetire, output: &Output) -> Outcome {
    let author = register_file::author(args.by.by.as_deref())?;
    let how = Retirement::from_slug(&args.how).ok_or_else(|| {
        ActError::asked(
            "how",
            format!("{:?} is not one of abandoned, removed, superseded", args.how),
        )
    })?;
    let retired = RunRetired {
        run: args.run.clone(),
        how,
        removal_seen: args.removal_seen,
        successors: args.successors.clone(),
        reason: args.reason.clone(),
    };
    let register = register_file::to_write(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let receipt = register.append(site, &author, vec![Act::RunRetired(retired).into()])?;
    receipt.shown(|| card(&register, site, &args.run, None, output))
}

fn show(cli: &Cli, args: &RunShow, output: &Output) -> Outcome {
    let register = register_file::to_read(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    card(&register, site, &args.run, args.surface.as_deref(), output)
}

fn card(register: &Register, site: Uuid, run: &str, surface: Option<&str>, output: &Output) -> Outcome {
    output.result(&register.run_card(site, run, surface)?, text)?;
    Ok(Ended::Done)
}

fn take_details(laid: &mut RunLaid, details: &RunDetails) -> Result<(), ActError> {
    if !details.points.is_empty() {
        laid.points = details
            .points
            .iter()
            .map(|label| label.trim().to_owned())
            .collect();
    }
    if let Some(service) = word(&details.service, "service", Service::from_slug)? {
        laid.service = service;
    }
    let section = &mut laid.section;
    for (field, given, name) in [
        (&mut section.size_mm, &details.size_mm, "size-mm"),
        (&mut section.outside_mm, &details.outside_mm, "outside-mm"),
        (&mut section.wall_mm, &details.wall_mm, "wall-mm"),
        (&mut section.spacing_mm, &details.spacing_mm, "spacing-mm"),
        (&mut laid.bow_mm, &details.bow_mm, "bow-mm"),
    ] {
        if let Some(value) = decimal(given, name)? {
            *field = Some(value);
        }
    }
    section.rows = details.rows.or(section.rows);
    section.columns = details.columns.or(section.columns);
    section.material = details.material.clone().or(section.material.take());
    laid.owner = details.owner.clone().or(laid.owner.take());
    laid.note = details.note.clone().or(laid.note.take());
    for (at, given) in [&details.begins, &details.ends].into_iter().enumerate() {
        if let Some(given) = given {
            laid.ends[at] = end_of(given)?;
        }
    }
    Ok(())
}

fn end_of(given: &str) -> Result<RunEnd, ActError> {
    match given.split_once(':').map_or((given.trim(), None), |(how, what)| {
        (how.trim(), Some(what.trim()))
    }) {
        ("capped", None) => Ok(RunEnd::Capped),
        ("continues" | "continues-unrecorded", None) => Ok(RunEnd::ContinuesUnrecorded),
        ("not-stated", None) => Ok(RunEnd::NotStated),
        ("joins", Some(run)) if !run.is_empty() => Ok(RunEnd::Joins { run: run.to_owned() }),
        ("enters", Some(structure)) if !structure.is_empty() => Ok(RunEnd::Enters {
            structure: structure.to_owned(),
        }),
        _ => Err(ActError::asked(
            "end",
            format!("{given:?} says no end; write capped, continues, joins:RUN or enters:STRUCTURE"),
        )),
    }
}

fn text(card: &RunCard) -> String {
    let near = |figure: Option<Near>| figure.map_or("-".to_owned(), Near::text);
    let up = |figure: Option<Up>| figure.map_or("-".to_owned(), Up::text);
    let mut text = format!(
        "{} [{}], {}, {}, {}\nbegins: {}; ends: {}; length {} m\n",
        card.run,
        card.letters,
        card.section,
        card.status,
        card.known,
        card.ends[0],
        card.ends[1],
        card.length_m.text()
    );
    match &card.below {
        Some(below) => text += &format!("covers are below {below}\n"),
        None => {
            text += &format!(
                "no covers: {}\n",
                card.why.get("below").map_or("", String::as_str)
            )
        }
    }
    let mut table = Table::with(&[
        "point",
        "touched",
        "chainage m",
        "top m",
        "invert m",
        "± plan m",
        "± level m",
        "cover m",
        "± cover m",
        "known",
        "by",
    ]);
    for vertex in &card.vertices {
        table.row([
            vertex.point.clone(),
            vertex.touched.clone(),
            vertex.chainage_m.text(),
            vertex.top_level_m.text(),
            near(vertex.invert_level_m),
            up(vertex.u95_h_m),
            up(vertex.u95_v_m),
            vertex.cover_m.map_or("-".to_owned(), Down::text),
            up(vertex.cover_u95_m),
            vertex.known.clone(),
            vertex.by.clone(),
        ]);
    }
    text += &format!("\n{}\u{b1} is 95 % at each point, not between them", table.text());
    text += &match (card.bow_m, card.why.get("bow_m")) {
        (Some(bow_m), _) => format!("; a leg may bow {} m off the line, as stated\n", bow_m.text()),
        (None, Some(why)) => format!("; {why}\n"),
        (None, None) => "\n".to_owned(),
    };
    for leg in &card.legs {
        if let Some(because) = &leg.cover.unshot_says {
            let wider = leg.cover.unshot_m.map_or("without a bound".to_owned(), |m| {
                format!("\u{b1} {} m more", m.text())
            });
            text += &format!(
                "{} to {}: {wider} because {because}\n",
                leg.cover.from, leg.cover.to
            );
        }
    }
    for vertex in &card.vertices {
        text += &format!("{}: {}\n", vertex.point, vertex.how);
    }
    for finding in &card.findings {
        text += &format!("! {finding}\n");
    }
    text
}

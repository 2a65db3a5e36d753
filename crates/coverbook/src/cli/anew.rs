//! `set-anew`: a station set anew by the readings it has, tried or recorded.

use super::args::{By, Cli, OfSite};
use super::output::Output;
use super::table::Table;
use super::{Ended, Outcome, register_file};
use crate::acts::{ActError, AnewEdits, ControlEdit, ControlEdits, NewEntry};
use clap::Args;
use register::body::Act;
use register::view::AnewView;
use register::words::CheckOutcome;
use survey::Decimal;

/// What is different when a station is set anew.
#[derive(Debug, Args)]
pub(crate) struct AnewArgs {
    /// The station
    station: String,
    #[command(flatten)]
    of: OfSite,
    /// A point sighted that takes no part any more
    #[arg(long, value_name = "POINT")]
    leave_out: Vec<String>,
    /// A check that takes part in finding the station now
    #[arg(long, value_name = "POINT")]
    take_in: Vec<String>,
    /// A point that is kept as check now
    #[arg(long, value_name = "POINT")]
    keep_as_check: Vec<String>,
    /// The prism constant of a point sighted, millimetres
    #[arg(long, value_name = "POINT=MM")]
    prism: Vec<String>,
    /// The target height over a point sighted, metres
    #[arg(long, value_name = "POINT=M")]
    target_height: Vec<String>,
    /// A control point put right: "POINT,EASTING,NORTHING,LEVEL"; a blank figure stays as recorded
    #[arg(long, value_name = "POINT,E,N,LEVEL", allow_hyphen_values = true)]
    control: Vec<String>,
    /// Why it is used without a passed check
    #[arg(long, value_name = "REASON")]
    unchecked_reason: Option<String>,
    /// Tell what would move, and record nothing
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    by: By,
}

/// Sets a station anew, or tells what that would move.
pub(crate) fn set_anew(cli: &Cli, args: &AnewArgs, output: &Output) -> Outcome {
    let edits = AnewEdits {
        leave_out: args.leave_out.clone(),
        take_in: args.take_in.clone(),
        keep_as_check: args.keep_as_check.clone(),
        prism_mm: figures(&args.prism, "prism", "SK1=-34.4")?,
        target_height_m: figures(&args.target_height, "target-height", "SK1=1.600")?,
        unchecked_reason: args.unchecked_reason.clone(),
    };
    let points: Result<Vec<_>, _> = args.control.iter().map(|text| control(text)).collect();
    let control = ControlEdits {
        id: None,
        points: points?,
    };
    let author = (!args.dry_run)
        .then(|| register_file::author(args.by.by.as_deref()))
        .transpose()?;
    let register = match author {
        Some(_) => register_file::to_write(cli)?,
        None => register_file::to_read(cli)?,
    };
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let set = edits.applied(&*register.site(site)?, &args.station)?;
    // Told before it is recorded: afterwards nothing moves any more.
    let view = register.try_anew(site, set.clone(), control.clone())?;
    if let Some(author) = author {
        let entry = NewEntry::from(Act::StationSet(Box::new(set)));
        register.set_station(site, &author, entry, control)?;
    }
    let recorded = !args.dry_run;
    output.result(&view, |view| text(view, recorded))?;
    Ok(if view.after.fits && view.after.check == CheckOutcome::Passed {
        Ended::Done
    } else {
        Ended::NotPassed
    })
}

fn figures(texts: &[String], what: &str, like: &str) -> Result<Vec<(String, Decimal)>, ActError> {
    let read = |text: &String| {
        let (point, figure) = text.rsplit_once('=')?;
        Some((point.trim().to_owned(), figure.trim().parse().ok()?))
    };
    let wrong = |text: &String| {
        ActError::asked(
            "figure",
            format!("--{what} {text:?} does not read; write it like {like}"),
        )
    };
    texts
        .iter()
        .map(|text| read(text).ok_or_else(|| wrong(text)))
        .collect()
}

fn control(text: &str) -> Result<ControlEdit, ActError> {
    let wrong = |says: &str| {
        ActError::asked(
            "control",
            format!("--control {text:?} {says}; write it like SK1,431003.912,5093058.347,4.386"),
        )
    };
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    let [point, figures @ ..] = parts.as_slice() else {
        return Err(wrong("is blank"));
    };
    if point.is_empty() || figures.is_empty() || figures.len() > 3 {
        return Err(wrong("is not a point with up to three figures"));
    }
    let figure = |k: usize| match figures.get(k) {
        None | Some(&"") => Ok(None),
        Some(text) => text
            .parse::<Decimal>()
            .map(Some)
            .map_err(|error| wrong(&format!("does not read ({error})"))),
    };
    Ok(ControlEdit {
        point: (*point).to_owned(),
        easting_m: figure(0)?,
        northing_m: figure(1)?,
        level_m: figure(2)?,
        sigma_h_mm: None,
        sigma_v_mm: None,
        note: None,
    })
}

fn text(view: &AnewView, recorded: bool) -> String {
    let state = if recorded {
        "recorded"
    } else {
        "tried; nothing is recorded"
    };
    let mut text = format!("{}\n{}\n({state})\n\n", view.says, view.after.says);
    for changed in &view.changed {
        text += &format!("different: {changed}\n");
    }
    let mut table = Table::with(&[
        "setting",
        "easting",
        "northing",
        "level",
        "\u{b1} m plan",
        "check",
    ]);
    for (name, station) in [("before", &view.before), ("after", &view.after)] {
        table.row([
            name.to_owned(),
            station.at[0].text(),
            station.at[1].text(),
            station.level_m.map_or("-".into(), |level| level.text()),
            station.u95_h_m.text(),
            station.check.slug().to_owned(),
        ]);
    }
    text += &format!("\n{}", table.text());
    if !view.runs.is_empty() {
        let mut table = Table::with(&["run", "points", "plan m", "level m"]);
        for run in &view.runs {
            table.row([
                run.run.clone(),
                run.points.to_string(),
                run.plan_m.text(),
                run.level_m.text(),
            ]);
        }
        text += &format!("\n{}", table.text());
    }
    text
}

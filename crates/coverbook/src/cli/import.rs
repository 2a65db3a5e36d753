//! `import`: a file into a site.

use super::args::{Cli, Import};
use super::output::Output;
use super::table::Table;
use super::{Ended, Outcome, register_file};
use crate::acts::{ActError, ImportAsk, ImportKind, ImportProgress, unit_of};
use register::service::Service;
use register::view::{FindingView, ImportPreview, Severity};
use register::words::{Known, SurfaceKind, Touched};
use std::io::Read;
use survey::{Decimal, LengthUnit};

/// Reads a file into a site.
pub(crate) fn import(cli: &Cli, args: &Import, output: &Output) -> Outcome {
    let ask = asked(args)?;
    let bytes = read(args)?;
    let bar = output.progress("reading", bytes.len() as u64, true);
    let mut progress = |at: ImportProgress| match at {
        ImportProgress::Reading(done) => bar.set_position(done),
        ImportProgress::Writing => bar.set_prefix("recording"),
    };
    let preview = if args.dry_run {
        let register = register_file::to_read(cli)?;
        let site = register_file::site(&register, args.of.site.as_deref())?;
        register.preview_import(site, &bytes, &ask, &mut progress)?
    } else {
        let author = register_file::author(args.by.by.as_deref())?;
        let register = register_file::to_write(cli)?;
        let site = register_file::site(&register, args.of.site.as_deref())?;
        register.import(site, &bytes, &ask, &author, &mut progress)?
    };
    bar.finish_and_clear();
    for finding in &preview.findings {
        output.says(&said(finding));
    }
    if preview.findings_left_off > 0 {
        output.says(&format!("and {} more", preview.findings_left_off));
    }
    output.result(&preview, text)?;
    Ok(if preview.accepted {
        Ended::Done
    } else {
        Ended::Refused
    })
}

fn asked(args: &Import) -> Result<ImportAsk, ActError> {
    let mut ask = ImportAsk::new(ImportKind::named(&args.kind)?, file_name(args));
    ask.order = args.order.as_deref().map(order);
    ask.unit = args
        .unit
        .as_deref()
        .map(|text| unit(&text.to_owned()))
        .transpose()?;
    ask.stated.touched = word(&args.touched, "touched", Touched::from_slug)?;
    ask.stated.known = word(&args.known, "known", Known::from_slug)?;
    ask.stated.service = word(&args.service, "service", Service::from_slug)?;
    ask.stated.run = args.run.clone();
    ask.stated.sigma_h_mm = decimal(&args.sigma_h_mm, "sigma-h-mm")?;
    ask.stated.sigma_v_mm = decimal(&args.sigma_v_mm, "sigma-v-mm")?;
    ask.prefix = args.prefix.clone();
    ask.observed_at = args.observed_at.clone();
    ask.measured = args.measured.asked()?;
    ask.surface_name = args.name.clone();
    ask.surface_kind = word(&args.kind_of_surface, "kind-of-surface", SurfaceKind::from_slug)?;
    Ok(ask)
}

fn file_name(args: &Import) -> String {
    let name = args
        .file
        .file_name()
        .map(|name| name.to_string_lossy().into_owned());
    name.filter(|name| name != "-")
        .unwrap_or_else(|| "standard input".into())
}

fn read(args: &Import) -> Result<Vec<u8>, ActError> {
    if args.file.as_os_str() == "-" {
        let mut bytes = Vec::new();
        let read = std::io::stdin().lock().read_to_end(&mut bytes);
        return read.map(|_| bytes).map_err(|e| ActError::File {
            file: "standard input".into(),
            why: e.to_string(),
        });
    }
    std::fs::read(&args.file).map_err(|error| ActError::File {
        file: args.file.display().to_string(),
        why: format!("{error}; check the path"),
    })
}

/// Reads the columns of a headerless file.
pub(crate) fn order(text: &str) -> Vec<String> {
    text.split(',').map(|column| column.trim().to_owned()).collect()
}

/// Reads a unit by its sign.
pub(crate) fn unit(text: &String) -> Result<LengthUnit, ActError> {
    unit_of(text).ok_or_else(|| {
        ActError::asked(
            "unit",
            format!("{text:?} is no unit; choose one of m, mm, in, ft, usft"),
        )
    })
}

/// Reads a word of a closed list.
pub(crate) fn word<T>(
    text: &Option<String>,
    what: &str,
    read: impl Fn(&str) -> Option<T>,
) -> Result<Option<T>, ActError> {
    match text {
        None => Ok(None),
        Some(text) => match read(text) {
            Some(word) => Ok(Some(word)),
            None => Err(ActError::asked(
                "unknown-word",
                format!("{what} {text:?} is not one of its words; see the help"),
            )),
        },
    }
}

/// Reads a decimal.
pub(crate) fn decimal(text: &Option<String>, what: &str) -> Result<Option<Decimal>, ActError> {
    let read = |text: &String| {
        text.trim()
            .parse::<Decimal>()
            .map_err(|e| ActError::asked("decimal", format!("{what} {text:?}: {e}")))
    };
    text.as_ref().map(read).transpose()
}

fn said(finding: &FindingView) -> String {
    let weight = match finding.severity {
        Severity::Refusal => "refused",
        Severity::Doubt => "doubt",
        Severity::Note => "note",
    };
    let row = finding.row.map(|row| format!(", row {row}")).unwrap_or_default();
    let column = finding
        .column
        .as_ref()
        .map(|column| format!(", column {column}"))
        .unwrap_or_default();
    format!("{weight}: {}{row}{column}: {}", finding.file, finding.says)
}

fn text(preview: &ImportPreview) -> String {
    let mut text = format!("{}: {}\n", preview.file, preview.says);
    let mut columns = Table::with(&["column", "read as", "first values"]);
    for column in &preview.columns {
        columns.row([
            column.header.clone(),
            column.read_as.clone().unwrap_or_else(|| "kept as note".into()),
            column
                .samples
                .iter()
                .take(3)
                .cloned()
                .collect::<Vec<_>>()
                .join(" | "),
        ]);
    }
    if preview.import_id.is_none() {
        text += &columns.text();
    }
    let mut runs = Table::with(&["run", "service", "points"]);
    for run in preview.runs.iter().take(40) {
        runs.row([
            run.run.clone(),
            run.service.clone().unwrap_or_else(|| "-".into()),
            run.points.to_string(),
        ]);
    }
    if let Some(station) = &preview.station {
        text += &super::measured::station_text(station);
    }
    if let Some(levels) = &preview.levels {
        text += &super::measured::levels_text(levels);
    }
    text += &runs.text();
    if preview.runs.len() > 40 {
        text += &format!("and {} more runs\n", preview.runs.len() - 40);
    }
    if let (Some(min), Some(max)) = (&preview.min, &preview.max) {
        let range = |i: usize| format!("{} to {} m", min[i].text(), max[i].text());
        text += &format!("easting {}, northing {}", range(0), range(1));
        // Searched areas have no levels.
        if preview.kind != ImportKind::Searched.slug() {
            text += &format!(", level {}", range(2));
        }
        text += "\n";
    }
    text
}

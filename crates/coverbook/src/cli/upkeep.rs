//! `export`, `verify`, `backup`, `restore`.

use super::args::{Cli, Export, FileArg, Verify};
use super::output::Output;
use super::{Ended, Outcome, register_file};
use crate::acts::{ActError, ExportKind, HeldHead, Register, system_clock};
use register::view::VerifyView;
use std::path::Path;
use std::sync::Arc;
use store::{Access, SqliteStore, Store};

/// Writes a site out.
pub(crate) fn export(cli: &Cli, args: &Export, output: &Output) -> Outcome {
    let kind = ExportKind::named(&args.to)?;
    let register = register_file::to_read(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let bar = output.progress("writing runs", 0, false);
    let bytes = register.export(site, kind, &mut |done, total| {
        bar.set_length(total);
        bar.set_position(done);
    })?;
    bar.finish_and_clear();
    write_file(&args.output, &bytes, output)?;
    output.says(&format!("{}: {} bytes", args.output.display(), bytes.len()));
    Ok(Ended::Done)
}

/// Verifies one site, or all of a register.
pub(crate) fn verify(cli: &Cli, args: &Verify, output: &Output) -> Outcome {
    let held = args.head.as_deref().map(str::parse::<HeldHead>).transpose();
    let held = held.map_err(|says| ActError::asked("head", says))?;
    let register = match &args.pack {
        Some(pack) => Register::new(Arc::new(SqliteStore::open(pack, Access::Read)?), system_clock()),
        None => register_file::to_read(cli)?,
    };
    let sites = match &args.of.site {
        Some(named) => vec![register.find_site(named)?],
        None => {
            let ids = register
                .sites()?
                .into_iter()
                .map(|site| register.find_site(&site.id));
            ids.collect::<Result<Vec<_>, _>>()?
        }
    };
    if held.is_some() && sites.len() != 1 {
        return Err(ActError::asked(
            "site",
            "a head belongs to one site; name it with --site",
        ));
    }
    let mut views = Vec::new();
    if args.rebuild {
        let writer = match &args.pack {
            Some(pack) => Register::new(Arc::new(SqliteStore::open(pack, Access::Append)?), system_clock()),
            None => register_file::to_write(cli)?,
        };
        for site in &sites {
            let runs = writer.rebuild(*site)?;
            output.says(&format!("rows of {runs} runs made again from the journal"));
        }
    }
    for site in sites {
        let bar = output.progress("verifying", 0, false);
        views.push(register.verify(site, held, &mut |done, total| {
            bar.set_length(total);
            bar.set_position(done);
        })?);
        bar.finish_and_clear();
    }
    let holds = views.iter().all(|view| view.holds);
    match views.as_slice() {
        [one] => output.result(one, verify_text)?,
        several => output.result(&several, |views| {
            views.iter().map(verify_text).collect::<Vec<_>>().join("\n")
        })?,
    }
    Ok(if holds { Ended::Done } else { Ended::NotPassed })
}

fn verify_text(view: &VerifyView) -> String {
    let mut text = if view.holds {
        format!("{}: the chain holds, {} entries\n", view.site, view.head.n)
    } else {
        format!("{}: the chain does not hold\n", view.site)
    };
    for (heading, lines) in [
        ("Wrong", &view.faults),
        ("Proven", &view.proven),
        ("Not proven", &view.not_proven),
    ] {
        if !lines.is_empty() {
            text += &format!("{heading}\n");
        }
        for line in lines {
            text += &format!("  {line}\n");
        }
    }
    text += &format!("head {}:{}\n", view.head.n, view.head.hex);
    text
}

/// Copies the register, whole.
pub(crate) fn backup(cli: &Cli, args: &FileArg, output: &Output) -> Outcome {
    let register = register_file::to_read(cli)?;
    register.store().backup(&args.file)?;
    output.says(&format!("copied to {}", args.file.display()));
    Ok(Ended::Done)
}

/// Brings a backup back as the register.
pub(crate) fn restore(cli: &Cli, args: &FileArg, output: &Output) -> Outcome {
    let to = register_file::path(cli);
    store::restore(&args.file, &to)?;
    // A copy that cannot be opened is told now, not when it is needed.
    let sites = SqliteStore::open(&to, Access::Read)?.sites()?;
    output.says(&format!(
        "{} restored to {}: {} sites",
        args.file.display(),
        to.display(),
        sites.len()
    ));
    Ok(Ended::Done)
}

/// Writes a file, or standard output for `-`.
pub(crate) fn write_file(path: &Path, bytes: &[u8], output: &Output) -> Result<(), ActError> {
    if path.as_os_str() == "-" {
        return output.bytes(bytes);
    }
    std::fs::write(path, bytes).map_err(|error| ActError::File {
        file: path.display().to_string(),
        why: format!("{error}; check that the folder exists and may be written"),
    })
}

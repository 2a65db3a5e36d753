//! Which register a command works on, and how it is opened.

use super::args::Cli;
use crate::acts::{ActError, Author, Register, system_clock};
use std::path::PathBuf;
use std::sync::Arc;
use store::{Access, SqliteStore};
use uuid::Uuid;

/// The register used when nobody names one.
const DEFAULT: &str = "coverbook.db";

/// Returns the register's file: as named, from the environment, or the default.
pub(crate) fn path(cli: &Cli) -> PathBuf {
    let from_environment = || {
        std::env::var_os("COVERBOOK_REGISTER")
            .filter(|value| !value.is_empty())
            .map(PathBuf::from)
    };
    cli.register
        .clone()
        .or_else(from_environment)
        .unwrap_or_else(|| PathBuf::from(DEFAULT))
}

/// Opens the register for reading.
pub(crate) fn to_read(cli: &Cli) -> Result<Register, ActError> {
    open(cli, Access::Read, false)
}

/// Opens the register for writing in single transactions, beside a server if there is one.
pub(crate) fn to_write(cli: &Cli) -> Result<Register, ActError> {
    open(cli, Access::Append, false)
}

/// Opens the register for writing, or begins one.
pub(crate) fn to_begin(cli: &Cli) -> Result<Register, ActError> {
    open(cli, Access::Append, true)
}

/// Opens the register as its one server, beginning one if need be.
pub(crate) fn to_serve(cli: &Cli) -> Result<Register, ActError> {
    open(cli, Access::Serve, true)
}

fn open(cli: &Cli, access: Access, create: bool) -> Result<Register, ActError> {
    let path = path(cli);
    let store = if create {
        SqliteStore::open_or_create(&path, access)?
    } else {
        SqliteStore::open(&path, access)?
    };
    Ok(Register::new(Arc::new(store), system_clock()))
}

/// Finds the site that a command names; the only one when it names none.
pub(crate) fn site(register: &Register, named: Option<&str>) -> Result<Uuid, ActError> {
    if let Some(named) = named {
        return register.find_site(named);
    }
    let sites = register.sites()?;
    match sites.as_slice() {
        [one] => register.find_site(&one.id),
        [] => Err(ActError::NotThere(
            "this register holds no site; open one first".into(),
        )),
        several => {
            let names: Vec<_> = several.iter().map(|s| s.name.as_str()).collect();
            let says = format!(
                "name the site with --site; this register holds: {}",
                names.join(", ")
            );
            Err(ActError::asked("site", says))
        }
    }
}

/// Returns who acts.
pub(crate) fn author(by: Option<&str>) -> Result<Author, ActError> {
    let from_environment = || {
        std::env::var("COVERBOOK_BY")
            .ok()
            .filter(|by| !by.trim().is_empty())
    };
    match by.map(str::to_owned).or_else(from_environment) {
        Some(by) => Ok(Author {
            by,
            device: "command line".into(),
        }),
        None => Err(ActError::asked(
            "no-name",
            "nobody is named; say by whom with --by NAME (or COVERBOOK_BY), since the book shows who wrote it",
        )),
    }
}

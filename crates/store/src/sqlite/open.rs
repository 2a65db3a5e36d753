//! Opens a register, checks that it is one, and sets up its connections.

use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};

use rusqlite::{Connection, ErrorCode, OpenFlags};

use crate::{Access, StoreError};

use super::blobs::{BlobFolder, sync_folder, with_suffix};
use super::fail::{at_file, while_doing};
use super::group::GroupCommit;
use super::migrate::{self, Layout, MIGRATIONS};
use super::read::Readers;
use super::{BUSY_WAIT, SqliteStore};

/// How to open a register.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Opening {
    /// For reading, for appending, or as its server.
    pub access: Access,
    /// Begins an empty register when there is none; not with [`Access::Read`].
    pub create: bool,
    /// How much it may hold.
    pub limits: Limits,
}

impl Opening {
    /// Opens an existing register with the usual limits.
    pub fn new(access: Access) -> Opening {
        Opening {
            access,
            create: false,
            limits: Limits::default(),
        }
    }
}

/// How much a register may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most bytes of one blob; 256 MiB unless told otherwise.
    pub max_blob_bytes: u64,
    /// Most bytes of the register's file, to leave others some of the disk; reaching it is [`StoreError::DiskFull`].
    pub max_register_bytes: Option<u64>,
}

impl Default for Limits {
    fn default() -> Limits {
        Limits {
            max_blob_bytes: 256 << 20,
            max_register_bytes: None,
        }
    }
}

pub(crate) fn open(path: &Path, opening: &Opening) -> Result<SqliteStore, StoreError> {
    let create = opening.create && opening.access != Access::Read;
    let path = resolve(path, create)?;
    // Looked at before anything is locked or set, so that a file of another program stays as it is.
    if path.exists() {
        let looked = reading_connection(&path).and_then(|reader| migrate::look(&reader, &path, MIGRATIONS));
        match looked {
            Ok(Layout::Empty) if !create => return Err(empty(&path)),
            Ok(Layout::Older(found)) if opening.access == Access::Read => {
                return Err(StoreError::OlderRegister {
                    path,
                    found,
                    known: MIGRATIONS.len() as i64,
                });
            }
            Ok(_) => {}
            Err(refused @ (StoreError::NotARegister { .. } | StoreError::NewerRegister { .. })) => {
                return Err(refused);
            }
            // Opening for writing may mend what reading cannot, such as a change broken off by a power cut.
            Err(_) if opening.access != Access::Read => {}
            Err(failed) => return Err(failed),
        }
    }
    let serving = match opening.access {
        Access::Serve => Some(lock(&path)?),
        Access::Read | Access::Append => None,
    };
    let writer = match opening.access {
        Access::Read => None,
        Access::Append | Access::Serve => Some(open_writer(&path, create, opening, serving.is_some())?),
    };
    let reader = reading_connection(&path)?;
    Ok(SqliteStore {
        access: opening.access,
        limits: opening.limits,
        readers: Readers::new(path.clone(), reader),
        writer: writer.map(GroupCommit::new),
        blobs: BlobFolder::beside(&path),
        _serving: serving,
        path,
    })
}

/// Opens one more connection for reading.
pub(crate) fn reading_connection(path: &Path) -> Result<Connection, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let failed = while_doing("open the register for reading");
    let connection = Connection::open_with_flags(path, flags).map_err(&failed)?;
    match set_up_reader(&connection) {
        Ok(()) => Ok(connection),
        // In a folder that cannot be written SQLite cannot share a log; without one it need not.
        Err(error) if needs_its_folder(&error) && !with_suffix(path, "-wal").exists() => {
            let connection =
                Connection::open_with_flags(unchanging(path), flags | OpenFlags::SQLITE_OPEN_URI)
                    .map_err(&failed)?;
            set_up_reader(&connection).map_err(&failed)?;
            Ok(connection)
        }
        Err(error) => match &error {
            rusqlite::Error::SqliteFailure(failure, _) if failure.code == ErrorCode::NotADatabase => {
                Err(StoreError::NotARegister {
                    path: path.to_owned(),
                    why: "it is not an SQLite file".to_owned(),
                })
            }
            _ => Err(failed(error)),
        },
    }
}

fn set_up_reader(connection: &Connection) -> rusqlite::Result<()> {
    connection.busy_timeout(BUSY_WAIT)?;
    connection.set_prepared_statement_cache_capacity(64);
    connection.execute_batch("pragma query_only = on; pragma cache_size = -16384;")?;
    // The first read of the file; the settings above do not touch it.
    connection.query_row("select count(*) from sqlite_schema", [], |_| Ok(()))
}

fn open_writer(
    path: &Path,
    create: bool,
    opening: &Opening,
    serving: bool,
) -> Result<Connection, StoreError> {
    let failed = while_doing("open the register for writing");
    let mut flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    if create {
        flags |= OpenFlags::SQLITE_OPEN_CREATE;
    }
    let connection = Connection::open_with_flags(path, flags).map_err(&failed)?;
    connection.busy_timeout(BUSY_WAIT).map_err(&failed)?;
    connection.set_prepared_statement_cache_capacity(64);
    let layout = migrate::look(&connection, path, MIGRATIONS)?;
    if layout == Layout::Empty && !create {
        return Err(empty(path));
    }
    let set_up = || {
        // The log mode is kept in the file; the answer says what it is now.
        let mode: String = connection.query_row("pragma journal_mode = wal", [], |row| row.get(0))?;
        connection.execute_batch(
            "pragma synchronous = full;
             pragma foreign_keys = on;
             pragma recursive_triggers = on;
             pragma trusted_schema = off;
             pragma secure_delete = on;
             pragma cache_size = -65536;
             pragma temp_store = memory;",
        )?;
        connection.query_row("pragma journal_size_limit = 67108864", [], |_| Ok(()))?;
        Ok(mode)
    };
    let mode: String = set_up().map_err(&failed)?;
    if mode != "wal" {
        return Err(StoreError::ReadOnly {
            why: format!("its folder does not allow a write-ahead log, the mode stays {mode}"),
        });
    }
    if layout != Layout::Current {
        // Nobody may answer from the old layout while it changes.
        let alone = if serving { None } else { Some(lock(path)?) };
        migrate::bring_up_to_date(&connection, path, MIGRATIONS)?;
        path.parent().map_or(Ok(()), sync_folder)?;
        drop(alone);
    }
    if let Some(most) = opening.limits.max_register_bytes {
        let limit = || {
            let page: u64 = connection.query_row("pragma page_size", [], |row| row.get(0))?;
            let pages = (most / page.max(1)).clamp(1, 4_294_967_294);
            connection.query_row(&format!("pragma max_page_count = {pages}"), [], |_| Ok(()))
        };
        limit().map_err(&failed)?;
    }
    Ok(connection)
}

/// Takes the lock of the register's server, or says that another has it.
fn lock(path: &Path) -> Result<File, StoreError> {
    let lock_path = with_suffix(path, ".lock");
    let file = File::options()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&lock_path)
        .map_err(at_file(&lock_path))?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(StoreError::InUse {
            path: path.to_owned(),
        }),
        Err(TryLockError::Error(error)) => Err(at_file(&lock_path)(error)),
    }
}

/// Resolves links, so that one register has one lock whatever name it is opened by.
fn resolve(path: &Path, create: bool) -> Result<PathBuf, StoreError> {
    match path.canonicalize() {
        Ok(found) if found.is_file() => Ok(found),
        Ok(found) => Err(StoreError::NotARegister {
            path: found,
            why: "it is not a file".to_owned(),
        }),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound && create => {
            let folder = match path.parent() {
                Some(folder) if !folder.as_os_str().is_empty() => folder,
                _ => Path::new("."),
            };
            let folder = folder.canonicalize().map_err(at_file(folder))?;
            let name = path.file_name().ok_or_else(|| StoreError::NotARegister {
                path: path.to_owned(),
                why: "the path has no file name".to_owned(),
            })?;
            Ok(folder.join(name))
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Err(StoreError::NoSuchRegister {
            path: path.to_owned(),
        }),
        Err(error) => Err(at_file(path)(error)),
    }
}

fn empty(path: &Path) -> StoreError {
    StoreError::NotARegister {
        path: path.to_owned(),
        why: "it is empty".to_owned(),
    }
}

fn needs_its_folder(error: &rusqlite::Error) -> bool {
    matches!(error, rusqlite::Error::SqliteFailure(failure, _)
        if matches!(failure.code, ErrorCode::CannotOpen | ErrorCode::ReadOnly))
}

/// Returns the address under which SQLite reads a file that nobody can change.
pub(crate) fn unchanging(path: &Path) -> String {
    let mut address = String::from("file:");
    for byte in path.to_string_lossy().bytes() {
        match byte {
            b'?' | b'#' | b'%' => address.push_str(&format!("%{byte:02X}")),
            _ => address.push(char::from(byte)),
        }
    }
    address + "?immutable=1"
}

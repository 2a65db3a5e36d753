//! Blobs as files named by their hash: `<register>.blobs/aa/bb...`, where `aabb...` is the SHA-256.

use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use rusqlite::{Connection, params};
use sha2::{Digest, Sha256};

use crate::error::hex;
use crate::{Batch, BlobHash, BlobUse, SiteId, StoreError};

use super::fail::{at_file, while_doing};
use super::read;

/// The folder of blobs beside a register.
#[derive(Debug, Clone)]
pub(crate) struct BlobFolder {
    folder: PathBuf,
}

impl BlobFolder {
    pub(crate) fn beside(register: &Path) -> BlobFolder {
        BlobFolder {
            folder: with_suffix(register, ".blobs"),
        }
    }

    pub(crate) fn folder(&self) -> &Path {
        &self.folder
    }

    pub(crate) fn file(&self, hash: BlobHash) -> PathBuf {
        self.folder.join(hex(&hash[..1])).join(hex(&hash[1..]))
    }

    /// Writes a blob whose hash is known, whole or not at all, and returns once it is on the disk.
    pub(crate) fn put(&self, hash: BlobHash, bytes: &[u8]) -> Result<(), StoreError> {
        let path = self.file(hash);
        let shelf = self.folder.join(hex(&hash[..1]));
        fs::create_dir_all(&shelf).map_err(at_file(&shelf))?;
        // A damaged file is written anew rather than trusted.
        let whole = fs::metadata(&path).is_ok_and(|file| file.len() == bytes.len() as u64)
            && fs::read(&path).is_ok_and(|there| there == bytes);
        if !whole {
            let draft = shelf.join(format!("{}.part", uuid::Uuid::now_v7()));
            let written = write_whole(&draft, bytes).and_then(|()| fs::rename(&draft, &path));
            if let Err(error) = written {
                // The draft is worthless now, and failing to remove it changes nothing.
                let _ = fs::remove_file(&draft);
                return Err(at_file(&path)(error));
            }
        }
        // Also when the file was there: whoever wrote it may not have come this far.
        sync_folder(&shelf)?;
        sync_folder(&self.folder)?;
        self.folder.parent().map_or(Ok(()), sync_folder)
    }

    /// Reads a blob and checks it against its hash.
    pub(crate) fn get(&self, hash: BlobHash, limit: u64) -> Result<Vec<u8>, StoreError> {
        let path = self.file(hash);
        let file = File::open(&path).map_err(|error| missing(hash, &path, error))?;
        let mut bytes = Vec::new();
        // A file that has grown past the limit is damaged; do not read all of it into memory to see that.
        file.take(limit + 1)
            .read_to_end(&mut bytes)
            .map_err(at_file(&path))?;
        if sha256(&bytes) == hash {
            Ok(bytes)
        } else {
            Err(StoreError::BlobDamaged { hash })
        }
    }

    /// Checks a blob against its hash without holding it in memory.
    pub(crate) fn check_whole(&self, hash: BlobHash) -> Result<(), StoreError> {
        let path = self.file(hash);
        let mut file = File::open(&path).map_err(|error| missing(hash, &path, error))?;
        let mut hasher = Sha256::new();
        let mut piece = vec![0; 1 << 16];
        loop {
            let count = file.read(&mut piece).map_err(at_file(&path))?;
            if count == 0 {
                break;
            }
            hasher.update(&piece[..count]);
        }
        if BlobHash::from(hasher.finalize()) == hash {
            Ok(())
        } else {
            Err(StoreError::BlobDamaged { hash })
        }
    }

    /// Checks that each blob's file is there; its bytes are checked when it is read.
    pub(crate) fn check_there(&self, hashes: &[BlobHash]) -> Result<(), StoreError> {
        match hashes.iter().find(|hash| !self.file(**hash).is_file()) {
            None => Ok(()),
            Some(hash) => Err(StoreError::NoSuchBlob { hash: *hash }),
        }
    }

    /// Removes a blob's file, if it is there.
    pub(crate) fn remove(&self, hash: BlobHash) -> Result<(), StoreError> {
        let path = self.file(hash);
        match fs::remove_file(&path) {
            Ok(()) => path.parent().map_or(Ok(()), sync_folder),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(()),
            Err(error) => Err(at_file(&path)(error)),
        }
    }
}

/// Returns the path with `suffix` added to its whole name.
pub(crate) fn with_suffix(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}

pub(crate) fn sha256(bytes: &[u8]) -> BlobHash {
    Sha256::digest(bytes).into()
}

/// Makes the names in a folder last; without it a new file can vanish with the power.
pub(crate) fn sync_folder(folder: &Path) -> Result<(), StoreError> {
    if cfg!(windows) {
        // Folders cannot be opened there; the file system journals names by itself.
        return Ok(());
    }
    let folder = if folder.as_os_str().is_empty() {
        Path::new(".")
    } else {
        folder
    };
    File::open(folder)
        .and_then(|folder| folder.sync_all())
        .map_err(at_file(folder))
}

/// Notes which blobs the batch's entries name.
pub(crate) fn note_use(
    connection: &Connection,
    site_key: i64,
    before: u64,
    batch: &Batch,
) -> Result<(), StoreError> {
    for hash in &batch.blobs {
        if is_erased(connection, *hash)? {
            return Err(StoreError::BlobErased { hash: *hash });
        }
        connection
            .prepare_cached(
                "insert into blob_use (site_key, hash, first_n) values (?1, ?2, ?3) on conflict do nothing",
            )
            .and_then(|mut note| {
                note.execute(params![
                    site_key,
                    hash,
                    before + u64::from(!batch.entries.is_empty())
                ])
            })
            .map_err(while_doing("note a blob"))?;
    }
    Ok(())
}

pub(crate) fn is_erased(connection: &Connection, hash: BlobHash) -> Result<bool, StoreError> {
    connection
        .prepare_cached("select exists (select 1 from blob_erased where hash = ?1)")
        .and_then(|mut find| find.query_row([hash], |row| row.get(0)))
        .map_err(while_doing("look for an erased blob"))
}

pub(crate) fn mark_erased(connection: &Connection, hash: BlobHash) -> Result<(), StoreError> {
    connection
        .prepare_cached("insert into blob_erased (hash) values (?1) on conflict do nothing")
        .and_then(|mut mark| mark.execute([hash]))
        .map(|_| ())
        .map_err(while_doing("mark a blob as erased"))
}

pub(crate) fn blobs(connection: &Connection, site: SiteId) -> Result<Vec<BlobUse>, StoreError> {
    let (site_key, _) = read::head(connection, site)?;
    let read = || {
        connection
            .prepare_cached(
                "select hash, first_n, exists (select 1 from blob_erased e where e.hash = u.hash)
                 from blob_use u where site_key = ?1 order by first_n, hash",
            )?
            .query_map([site_key], |row| {
                Ok(BlobUse {
                    hash: row.get(0)?,
                    first_n: row.get(1)?,
                    erased: row.get(2)?,
                })
            })?
            .collect::<Result<_, _>>()
    };
    read().map_err(while_doing("list blobs"))
}

fn write_whole(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut file = File::create_new(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

fn missing(hash: BlobHash, path: &Path, error: std::io::Error) -> StoreError {
    if error.kind() == std::io::ErrorKind::NotFound {
        StoreError::NoSuchBlob { hash }
    } else {
        at_file(path)(error)
    }
}

//! What the SQLite store adds to the suite: its file, its folder, and other processes.
//!
//! The oracles are the file itself, read with plain SQLite or as bytes, and the state before a refused call.

use std::fs;

use rusqlite::Connection;

use crate::RunChange;
use crate::conformance::{SITE, batch, conformance, entry, mark, start};

use super::*;

fn begin(folder: &tempfile::TempDir) -> (PathBuf, SqliteStore) {
    let path = folder.path().join("r.db");
    let store = SqliteStore::open_or_create(&path, Access::Serve).unwrap();
    store.create_site(SITE, start(SITE).hash).unwrap();
    (path, store)
}

fn names_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|f| f.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// A batch with an entry, a run with a box, and a blob.
fn full_batch(store: &SqliteStore) -> (Batch, Head) {
    let (mut first, head) = batch(SITE, start(SITE), &["a"]);
    first.blobs = vec![store.put_blob(b"a photograph").unwrap()];
    let boxes = vec![PlanBox {
        min_e: 0.1,
        min_n: -0.1,
        max_e: 12.3,
        max_n: 0.3,
        chunk: 5,
    }];
    first.runs = vec![RunChange::Put {
        run: "r".into(),
        bytes: b"encoded".to_vec(),
        boxes,
    }];
    (first, head)
}

#[test]
fn it_passes_the_conformance_suite() {
    let folder = tempfile::tempdir().unwrap();
    let count = std::cell::Cell::new(0);
    conformance(&|| {
        count.set(count.get() + 1);
        let path = folder.path().join(format!("{}.db", count.get()));
        Box::new(SqliteStore::open_or_create(&path, Access::Serve).unwrap())
    });
}

#[test]
fn a_register_read_back_after_closing_is_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let (path, store) = begin(&folder);
    let (first, head) = full_batch(&store);
    assert_eq!(store.append(SITE, start(SITE), &first), Ok(Appended::Written));
    drop(store);
    for access in [Access::Read, Access::Append, Access::Serve] {
        let store = SqliteStore::open(&path, access).unwrap();
        assert_eq!(store.head(SITE), Ok(head));
        assert_eq!(store.entries(SITE, 1, 9), Ok(first.entries.clone()));
        assert_eq!(store.get_blob(first.blobs[0]), Ok(b"a photograph".to_vec()));
    }
}

#[test]
fn each_commit_is_synced_to_the_disk() {
    let folder = tempfile::tempdir().unwrap();
    let (_, store) = begin(&folder);
    // 2 is FULL and 1 is on: SQLite's documentation of the two pragmas.
    let settings = store.writer().unwrap().write_and_settle(|c| {
        let number = |sql| c.query_row(sql, [], |row| row.get::<_, i64>(0)).unwrap();
        let mode: String = c.query_row("pragma journal_mode", [], |row| row.get(0)).unwrap();
        Ok((number("pragma synchronous"), number("pragma foreign_keys"), mode))
    });
    assert_eq!(settings, Ok((2, 1, "wal".to_owned())));
}

#[test]
fn the_file_itself_refuses_to_change_or_remove_entries() {
    let folder = tempfile::tempdir().unwrap();
    let (path, store) = begin(&folder);
    let (first, head) = batch(SITE, start(SITE), &["a", "b"]);
    assert_eq!(store.append(SITE, start(SITE), &first), Ok(Appended::Written));
    let plain = Connection::open(&path).unwrap();
    let check = |sql: &str, name: &str| {
        let error = plain.execute(sql, []).unwrap_err();
        let refused = StoreError::NeverChanged {
            what: name.to_owned(),
        };
        assert_eq!(fail::from_sqlite("try", &error), refused, "{sql}");
    };
    check(
        "update entry set body = x'00' where n = 1",
        "entry_is_never_changed",
    );
    check("delete from entry where n = 2", "entry_is_never_removed");
    check(
        "insert or replace into entry select * from entry where n = 1",
        "entry_is_never_replaced",
    );
    check("update site set n = 1", "site_head_never_goes_back");
    check("update site set head = zeroblob(32)", "site_head_never_goes_back");
    check("delete from site", "site_is_never_removed");
    assert_eq!(store.entries(SITE, 1, 9), Ok(first.entries));
    assert_eq!(store.head(SITE), Ok(head));
}

#[test]
fn a_flipped_byte_in_a_blob_is_found_by_reading_and_mended_by_putting_it_again() {
    let folder = tempfile::tempdir().unwrap();
    let (_, store) = begin(&folder);
    let (first, _) = full_batch(&store);
    assert_eq!(store.append(SITE, start(SITE), &first), Ok(Appended::Written));
    let hash = first.blobs[0];
    let file = store.blobs.file(hash);
    let mut bytes = fs::read(&file).unwrap();
    bytes[3] ^= 1;
    fs::write(&file, &bytes).unwrap();
    assert_eq!(store.get_blob(hash), Err(StoreError::BlobDamaged { hash }));
    assert_eq!(store.integrity_check().unwrap().len(), 1);
    assert_eq!(
        store.backup(&folder.path().join("copy")),
        Err(StoreError::BlobDamaged { hash })
    );
    assert_eq!(
        names_in(folder.path()),
        ["r.db", "r.db-shm", "r.db-wal", "r.db.blobs", "r.db.lock"]
    );
    assert_eq!(store.put_blob(b"a photograph"), Ok(hash));
    assert_eq!(store.get_blob(hash), Ok(b"a photograph".to_vec()));
    fs::remove_file(&file).unwrap();
    assert_eq!(store.get_blob(hash), Err(StoreError::NoSuchBlob { hash }));
    assert_eq!(store.integrity_check().unwrap().len(), 1);
}

#[test]
fn a_blob_over_the_limit_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let limits = Limits {
        max_blob_bytes: 4,
        max_register_bytes: None,
    };
    let opening = Opening {
        create: true,
        limits,
        ..Opening::new(Access::Serve)
    };
    let store = SqliteStore::open_with(&folder.path().join("r.db"), &opening).unwrap();
    assert_eq!(
        store.put_blob(b"12345"),
        Err(StoreError::BlobTooLarge { bytes: 5, limit: 4 })
    );
    let hash = store.put_blob(b"1234").unwrap();
    assert_eq!(store.get_blob(hash), Ok(b"1234".to_vec()));
}

#[test]
fn a_full_disk_keeps_what_was_acknowledged_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let (path, store) = begin(&folder);
    drop(store);
    let limits = Limits {
        max_register_bytes: Some(400_000),
        ..Limits::default()
    };
    let opening = Opening {
        limits,
        ..Opening::new(Access::Serve)
    };
    let store = SqliteStore::open_with(&path, &opening).unwrap();
    let (small, small_head) = batch(SITE, start(SITE), &["small"]);
    let ticket = store.submit(SITE, start(SITE), &small).unwrap();
    let (mut large, _) = batch(SITE, small_head, &["large"]);
    large.entries[0].body = vec![b' '; 500_000];
    assert_eq!(
        store.submit(SITE, small_head, &large).unwrap_err(),
        StoreError::DiskFull
    );
    // Whether the small one in the same group was lost with it or not, the answer and the file agree.
    let (kept, head) = match store.settle(ticket) {
        Ok(_) => (small.entries.clone(), small_head),
        Err(error) => {
            assert_eq!(error, StoreError::DiskFull);
            (vec![], start(SITE))
        }
    };
    assert_eq!(store.entries(SITE, 1, 9), Ok(kept.clone()));
    assert_eq!(store.head(SITE), Ok(head));
    let after = entry(SITE, head, "Noted", "after");
    let one = Batch {
        entries: vec![after.clone()],
        ..Batch::default()
    };
    assert_eq!(
        store.append(SITE, head, &one),
        Ok(Appended::Written),
        "a small one still fits"
    );
    drop(store);
    let store = SqliteStore::open(&path, Access::Read).unwrap();
    let all: Vec<_> = kept.into_iter().chain([after]).collect();
    assert_eq!(store.entries(SITE, 1, 9), Ok(all));
    assert_eq!(store.integrity_check(), Ok(vec![]));
}

#[test]
fn batches_submitted_together_share_a_group_and_show_only_when_settled() {
    let folder = tempfile::tempdir().unwrap();
    let (_, store) = begin(&folder);
    let (first, after_first) = batch(SITE, start(SITE), &["a"]);
    let (second, after_second) = batch(SITE, after_first, &["b"]);
    let one = store.submit(SITE, start(SITE), &first).unwrap();
    let two = store.submit(SITE, after_first, &second).unwrap();
    let refused = store.submit(SITE, start(SITE), &batch(SITE, start(SITE), &["c"]).0);
    assert_eq!(
        refused.unwrap_err(),
        StoreError::StaleHead { actual: after_second }
    );
    assert_eq!(one.group, two.group);
    assert_eq!(store.head(SITE), Ok(start(SITE)), "not acknowledged, not visible");
    assert_eq!(store.settle(two), Ok(Appended::Written));
    assert_eq!(store.head(SITE), Ok(after_second));
    assert_eq!(store.settle(one), Ok(Appended::Written));
}

#[test]
fn work_that_panics_takes_its_group_with_it_and_nothing_more() {
    let folder = tempfile::tempdir().unwrap();
    let (_, store) = begin(&folder);
    let (first, head) = batch(SITE, start(SITE), &["a"]);
    let ticket = store.submit(SITE, start(SITE), &first).unwrap();
    let broken = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        store.writer().unwrap().write(|c| -> Result<(), StoreError> {
            c.execute("insert into person values (zeroblob(16), 'half', '')", [])
                .unwrap();
            panic!("on purpose");
        })
    }));
    assert!(broken.is_err());
    assert!(matches!(store.settle(ticket), Err(StoreError::Database { .. })));
    assert_eq!(store.head(SITE), Ok(start(SITE)));
    assert_eq!(store.person([0; 16]), Ok(None));
    assert_eq!(store.append(SITE, start(SITE), &first), Ok(Appended::Written));
    assert_eq!(store.head(SITE), Ok(head));
}

#[test]
fn one_server_with_readers_and_appenders_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let (path, server) = begin(&folder);
    let in_use = StoreError::InUse {
        path: server.path().to_owned(),
    };
    assert_eq!(SqliteStore::open(&path, Access::Serve).unwrap_err(), in_use);
    #[cfg(unix)]
    {
        let link = folder.path().join("other name.db");
        std::os::unix::fs::symlink(&path, &link).unwrap();
        assert_eq!(
            SqliteStore::open(&link, Access::Serve).unwrap_err(),
            in_use,
            "by another name"
        );
    }
    let reader = SqliteStore::open(&path, Access::Read).unwrap();
    let appender = SqliteStore::open(&path, Access::Append).unwrap();
    let (first, head) = batch(SITE, start(SITE), &["from elsewhere"]);
    assert_eq!(appender.append(SITE, start(SITE), &first), Ok(Appended::Written));
    assert_eq!(reader.head(SITE), Ok(head));
    assert_eq!(server.head(SITE), Ok(head));
    let (late, _) = batch(SITE, start(SITE), &["late"]);
    assert_eq!(
        server.append(SITE, start(SITE), &late),
        Err(StoreError::StaleHead { actual: head })
    );
    drop(server);
    SqliteStore::open(&path, Access::Serve).unwrap();
}

#[test]
fn a_register_opened_for_reading_refuses_to_write() {
    let folder = tempfile::tempdir().unwrap();
    let (path, store) = begin(&folder);
    drop(store);
    let store = SqliteStore::open(&path, Access::Read).unwrap();
    let (first, _) = batch(SITE, start(SITE), &["a"]);
    let read_only = |result: Result<(), StoreError>| {
        assert!(matches!(result, Err(StoreError::ReadOnly { .. })), "{result:?}");
    };
    read_only(store.append(SITE, start(SITE), &first).map(|_| ()));
    read_only(store.put_blob(b"x").map(|_| ()));
    read_only(store.put_person([1; 16], "x", ""));
    read_only(store.create_site([1; 16], [0; 32]));
    let raw = store
        .readers
        .with(|c| c.execute("delete from run", []).map_err(fail::while_doing("try")));
    read_only(raw.map(|_| ()));
}

#[test]
fn a_register_is_read_where_nothing_can_be_written() {
    let folder = tempfile::tempdir().unwrap();
    let (path, store) = begin(&folder);
    drop(store);
    // What SQLite is asked when the folder refuses a log; the path has every character that needs care.
    let odd = folder.path().join("50% of #1?.db");
    fs::copy(&path, &odd).unwrap();
    let flags = rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY | rusqlite::OpenFlags::SQLITE_OPEN_URI;
    let connection = Connection::open_with_flags(open::unchanging(&odd), flags).unwrap();
    assert_eq!(read::sites(&connection).unwrap().len(), 1);
    assert!(!folder.path().join("50% of #1?.db-shm").exists());
}

#[test]
fn what_is_not_a_register_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::write(at("text"), "point,easting,northing\n".repeat(100)).unwrap();
    fs::write(at("empty"), "").unwrap();
    fs::create_dir(at("folder")).unwrap();
    let other = Connection::open(at("other")).unwrap();
    other
        .execute_batch("create table t (x); pragma user_version = 1;")
        .unwrap();
    other.close().unwrap();
    let before = fs::read(at("other")).unwrap();
    for name in ["text", "empty", "folder", "other"] {
        for access in [Access::Read, Access::Append, Access::Serve] {
            let error = SqliteStore::open(&at(name), access).unwrap_err();
            assert!(
                matches!(error, StoreError::NotARegister { .. }),
                "{name} {access:?}: {error}"
            );
        }
    }
    for name in ["text", "folder", "other"] {
        let error = SqliteStore::open_or_create(&at(name), Access::Serve).unwrap_err();
        assert!(
            matches!(error, StoreError::NotARegister { .. }),
            "{name}: {error}"
        );
    }
    for access in [Access::Read, Access::Append, Access::Serve] {
        let error = SqliteStore::open(&at("missing"), access).unwrap_err();
        assert_eq!(error, StoreError::NoSuchRegister { path: at("missing") });
    }
    assert!(matches!(
        SqliteStore::open_or_create(&at("missing"), Access::Read),
        Err(StoreError::NoSuchRegister { .. })
    ));
    assert_eq!(fs::read(at("other")).unwrap(), before);
    assert_eq!(names_in(folder.path()), ["empty", "folder", "other", "text"]);
}

#[test]
fn a_newer_register_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let (path, store) = begin(&folder);
    drop(store);
    let plain = Connection::open(&path).unwrap();
    plain.pragma_update(None, "user_version", 99).unwrap();
    plain.close().unwrap();
    let before = fs::read(&path).unwrap();
    for access in [Access::Read, Access::Append, Access::Serve] {
        let error = SqliteStore::open(&path, access).unwrap_err();
        assert!(
            matches!(error, StoreError::NewerRegister { found: 99, .. }),
            "{error}"
        );
    }
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn a_damaged_file_is_called_damaged() {
    let folder = tempfile::tempdir().unwrap();
    let (path, store) = begin(&folder);
    let (many, head) = batch(SITE, start(SITE), &["a", "b", "c", "d", "e"]);
    assert_eq!(store.append(SITE, start(SITE), &many), Ok(Appended::Written));
    let root: usize = store
        .readers
        .with(|c| {
            Ok(c.query_row(
                "select rootpage from sqlite_schema where name = 'entry'",
                [],
                |r| r.get(0),
            )
            .unwrap())
        })
        .unwrap();
    drop(store);
    let mut bytes = fs::read(&path).unwrap();
    bytes[(root - 1) * 4096..][..64].fill(0xEE);
    fs::write(&path, &bytes).unwrap();
    let store = SqliteStore::open(&path, Access::Append).unwrap();
    assert!(matches!(
        store.entries(SITE, 1, 9),
        Err(StoreError::Damaged { .. })
    ));
    let next = batch(SITE, head, &["f"]).0;
    assert!(matches!(
        store.append(SITE, head, &next),
        Err(StoreError::Damaged { .. })
    ));
    assert_ne!(store.integrity_check().unwrap(), Vec::<String>::new());
    let restored = restore(&path, &folder.path().join("restored"));
    assert!(matches!(restored, Err(StoreError::Damaged { .. })));
    assert!(!folder.path().join("restored").exists());
}

#[test]
fn the_check_sees_an_index_a_journal_and_a_head_that_disagree() {
    let check = |sql: &str, part: &str| {
        let folder = tempfile::tempdir().unwrap();
        let (path, store) = begin(&folder);
        let (first, _) = full_batch(&store);
        assert_eq!(store.append(SITE, start(SITE), &first), Ok(Appended::Written));
        assert_eq!(store.integrity_check(), Ok(vec![]));
        Connection::open(&path).unwrap().execute_batch(sql).unwrap();
        let found = store.integrity_check().unwrap();
        assert!(
            found.iter().any(|line| line.starts_with(part)),
            "{sql}: {found:?}"
        );
    };
    check("delete from run_box", "index of boxes");
    check("update run_box set max_e = 12", "index of boxes");
    check("update run_box set max_e = 13", "index of boxes");
    check("update run_box set min_site = 4, max_site = 5", "index of boxes");
    check(
        "insert into run_box values (9, 0, 1, 0, 1, 2, 3)",
        "index of boxes",
    );
    check(
        "drop trigger entry_is_never_removed; delete from entry",
        "journal",
    );
    check(
        "drop trigger site_head_never_goes_back; update site set head = zeroblob(32)",
        "journal",
    );
    check("insert into blob_erased select hash from blob_use", "blob");
}

#[test]
fn a_backup_restores_to_the_same_register() {
    let folder = tempfile::tempdir().unwrap();
    let (path, store) = begin(&folder);
    let (first, head) = full_batch(&store);
    assert_eq!(store.append(SITE, start(SITE), &first), Ok(Appended::Written));
    let gone = store.put_blob(b"to be erased").unwrap();
    let (mut second, head) = batch(SITE, head, &["b"]);
    second.blobs = vec![gone];
    assert_eq!(
        store.append(
            SITE,
            Head {
                n: 1,
                hash: first.entries[0].head
            },
            &second
        ),
        Ok(Appended::Written)
    );
    store.erase_blob(gone).unwrap();
    store.put_person([1; 16], "A. Surveyor", "").unwrap();
    let (copy, back) = (folder.path().join("copy.db"), folder.path().join("back.db"));
    store.backup(&copy).unwrap();
    assert_eq!(
        store.backup(&copy),
        Err(StoreError::AlreadyExists { path: copy.clone() })
    );
    let (third, _) = batch(SITE, head, &["after the backup"]);
    assert_eq!(store.append(SITE, head, &third), Ok(Appended::Written));
    restore(&copy, &back).unwrap();
    assert_eq!(restore(&copy, &path), Err(StoreError::AlreadyExists { path }));
    let restored = SqliteStore::open(&back, Access::Serve).unwrap();
    assert_eq!(restored.integrity_check(), Ok(vec![]));
    assert_eq!(restored.head(SITE), Ok(head));
    assert_eq!(
        restored.entries(SITE, 1, 9).unwrap(),
        [first.entries, second.entries].concat()
    );
    assert_eq!(restored.boxes(SITE), store.boxes(SITE));
    assert_eq!(restored.blobs(SITE), store.blobs(SITE));
    assert_eq!(restored.get_blob(first.blobs[0]), Ok(b"a photograph".to_vec()));
    assert_eq!(
        restored.get_blob(gone),
        Err(StoreError::BlobErased { hash: gone })
    );
    assert_eq!(restored.person([1; 16]), store.person([1; 16]));
    assert_eq!(
        restored.append(SITE, head, &third),
        Ok(Appended::Written),
        "it can be written on"
    );
}

#[test]
fn an_erased_name_is_nowhere_in_the_files() {
    let folder = tempfile::tempdir().unwrap();
    let (path, store) = begin(&folder);
    let holds = |needle: &str| {
        let copies = names_in(folder.path())
            .into_iter()
            .filter(|name| name.starts_with("r.db"));
        let files = copies
            .map(|name| folder.path().join(name))
            .filter(|path| path.is_file());
        files.into_iter().any(|path| {
            fs::read(path)
                .unwrap()
                .windows(needle.len())
                .any(|piece| piece == needle.as_bytes())
        })
    };
    store
        .put_person([1; 16], "Quillon Marchbanks", "0555 0101 999")
        .unwrap();
    store.put_person([2; 16], "Somebody Else", "").unwrap();
    assert!(holds("Quillon Marchbanks"), "it is found while it is there");
    store.erase_person([1; 16]).unwrap();
    assert!(!holds("Quillon Marchbanks") && !holds("0555 0101 999"));
    drop(store);
    assert!(!holds("Quillon Marchbanks") && holds("Somebody Else"));
    let store = SqliteStore::open(&path, Access::Read).unwrap();
    assert_eq!(store.person([1; 16]), Ok(Some(Person::Erased)));
}

#[test]
fn migrations_run_from_empty_one_by_one_and_all_or_none() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("m.db");
    let connection = Connection::open(&path).unwrap();
    let tables = || -> i64 {
        connection
            .query_row("select count(*) from sqlite_schema", [], |row| row.get(0))
            .unwrap()
    };
    let one = ["create table a (x)"];
    let broken = ["create table a (x)", "create table b (x)", "create table a (x)"];
    let two = [
        "create table a (x)",
        "insert into a values (1); create table b (x)",
    ];
    assert_eq!(
        migrate::look(&connection, &path, &one),
        Ok(migrate::Layout::Empty)
    );
    assert!(migrate::bring_up_to_date(&connection, &path, &broken).is_err());
    assert_eq!(
        migrate::look(&connection, &path, &one),
        Ok(migrate::Layout::Empty)
    );
    migrate::bring_up_to_date(&connection, &path, &one).unwrap();
    assert_eq!(
        (migrate::look(&connection, &path, &one), tables()),
        (Ok(migrate::Layout::Current), 1)
    );
    assert_eq!(
        migrate::look(&connection, &path, &two),
        Ok(migrate::Layout::Older(1))
    );
    assert!(migrate::bring_up_to_date(&connection, &path, &broken).is_err());
    assert_eq!(
        (migrate::look(&connection, &path, &two), tables()),
        (Ok(migrate::Layout::Older(1)), 1)
    );
    migrate::bring_up_to_date(&connection, &path, &two).unwrap();
    migrate::bring_up_to_date(&connection, &path, &two).unwrap();
    assert_eq!(
        (migrate::look(&connection, &path, &two), tables()),
        (Ok(migrate::Layout::Current), 2)
    );
    assert!(matches!(
        migrate::look(&connection, &path, &one),
        Err(StoreError::NewerRegister { .. })
    ));
    for upto in 1..=migrate::MIGRATIONS.len() {
        let fresh = Connection::open_in_memory().unwrap();
        migrate::bring_up_to_date(&fresh, &path, &migrate::MIGRATIONS[..upto]).unwrap();
        migrate::bring_up_to_date(&fresh, &path, migrate::MIGRATIONS).unwrap();
    }
}

#[test]
fn messages_say_how_to_mend_and_end_without_a_full_stop() {
    let path = PathBuf::from("r.db");
    for error in [
        StoreError::StaleHead { actual: start(SITE) },
        StoreError::SameIdOtherBytes {
            entry_id: [1; 16],
            n: 3,
        },
        StoreError::DiskFull,
        StoreError::InUse { path: path.clone() },
        StoreError::NewerRegister {
            path,
            found: 9,
            known: 1,
        },
        StoreError::BlobDamaged { hash: mark("x") },
    ] {
        let message = error.to_string();
        assert!(
            message.contains(';') && !message.ends_with('.') && !message.contains('\n'),
            "{message}"
        );
    }
}

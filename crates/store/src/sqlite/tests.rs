//! What the SQLite store adds to the suite: the file, its folder, and other processes.

use super::*;

#[test]
fn it_passes_the_conformance_suite() {
    let folder = tempfile::tempdir().unwrap();
    let count = std::cell::Cell::new(0);
    crate::conformance::conformance(&|| {
        count.set(count.get() + 1);
        let path = folder.path().join(format!("{}.db", count.get()));
        Box::new(SqliteStore::open_or_create(&path, Access::Serve).unwrap())
    });
}

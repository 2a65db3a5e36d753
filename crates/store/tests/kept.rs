//! Registers kept from each released layout still open, read the same and can be written on.
//!
//! The oracle is what `examples/keep_layout.rs` put into them when they were made. Never make one again.
#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

use std::ops::ControlFlow;
use std::path::Path;

use coverbook_store::{Access, Appended, Batch, Head, Person, PlanBox, SqliteStore, Store};

#[test]
fn every_kept_layout_reads_the_same_and_can_be_written_on() {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/kept");
    let files: Vec<_> = std::fs::read_dir(kept)
        .unwrap()
        .map(|file| file.unwrap().path())
        .collect();
    assert!(!files.is_empty());
    for file in files {
        let folder = tempfile::tempdir().unwrap();
        let copy = folder.path().join("copy.db");
        std::fs::copy(&file, &copy).unwrap();
        // Opening for writing brings an older layout up to date.
        look(&SqliteStore::open(&copy, Access::Serve).unwrap());
        look(&SqliteStore::open(&copy, Access::Read).unwrap());
        append(&SqliteStore::open(&copy, Access::Append).unwrap());
    }
}

fn look(store: &SqliteStore) {
    let site = [1; 16];
    assert_eq!(store.integrity_check(), Ok(vec![]));
    assert_eq!(store.head(site), Ok(Head { n: 2, hash: [32; 32] }));
    let entries = store.entries(site, 1, 9).unwrap();
    assert_eq!(entries.len(), 2);
    assert_eq!(entries[1].tag, "Kind2");
    assert_eq!(entries[1].entry_id, [12; 16]);
    assert_eq!(entries[1].recorded_at, "2026-01-02T00:00:00.000Z");
    assert_eq!(entries[1].body, b"body 2");
    assert_eq!(entries[1].body_hash, [22; 32]);
    assert_eq!(store.entries_tagged(site, &["Kind1"]).unwrap(), entries[..1]);
    let within = PlanBox {
        min_e: 13.0,
        min_n: 1.0,
        max_e: 14.0,
        max_n: 2.0,
        chunk: 0,
    };
    let mut hits = Vec::new();
    let each = &mut |run: &str, bytes: &[u8], chunks: &[u32]| {
        hits.push((run.to_owned(), bytes.to_vec(), chunks.to_vec()));
        ControlFlow::Continue(())
    };
    store.runs_in_boxes(site, &within, each).unwrap();
    assert_eq!(hits, [("run one".to_owned(), b"encoded".to_vec(), vec![1])]);
    let known = Person::Known {
        name: "A. Surveyor".to_owned(),
        phone: String::new(),
    };
    assert_eq!(store.person([3; 16]), Ok(Some(known)));
    assert_eq!(store.person([4; 16]), Ok(Some(Person::Erased)));
}

fn append(store: &SqliteStore) {
    let site = [1; 16];
    let mut next = store.entries(site, 2, 1).unwrap().remove(0);
    (next.n, next.entry_id, next.head) = (3, [13; 16], [33; 32]);
    let batch = Batch {
        entries: vec![next],
        ..Batch::default()
    };
    let at = Head { n: 2, hash: [32; 32] };
    assert_eq!(store.append(site, at, &batch), Ok(Appended::Written));
}

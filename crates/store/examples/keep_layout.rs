//! Writes a small register, to be kept when a layout is released and read by every later version.
//!
//! `cargo run -p coverbook-store --example keep_layout -- crates/store/tests/kept/layout_001.register`, once
//! for each layout; `tests/kept.rs` says what is in it.

use std::path::Path;

use coverbook_store::{Access, Appended, Batch, EntryRow, Head, PlanBox, RunChange, SqliteStore, Store};

fn main() {
    let to = std::env::args().nth(1).expect("the file to write");
    let folder = tempfile::tempdir().expect("a folder");
    let store = SqliteStore::open_or_create(&folder.path().join("r.db"), Access::Serve).expect("a register");
    let site = [1; 16];
    store.create_site(site, [2; 32]).expect("a site");
    let entry = |n: u8| EntryRow {
        site,
        n: u64::from(n),
        tag: format!("Kind{n}"),
        entry_id: [10 + n; 16],
        recorded_at: format!("2026-01-0{n}T00:00:00.000Z"),
        body: format!("body {n}").into_bytes(),
        body_hash: [20 + n; 32],
        head: [30 + n; 32],
    };
    let boxes = vec![
        PlanBox {
            min_e: 0.1,
            min_n: -0.1,
            max_e: 12.3,
            max_n: 0.3,
            chunk: 0,
        },
        PlanBox {
            min_e: 12.3,
            min_n: 0.0,
            max_e: 20.0,
            max_n: 5.0,
            chunk: 1,
        },
    ];
    let batch = Batch {
        entries: vec![entry(1), entry(2)],
        runs: vec![RunChange::Put {
            run: "run one".to_owned(),
            bytes: b"encoded".to_vec(),
            boxes,
        }],
        blobs: vec![],
    };
    let start = Head { n: 0, hash: [2; 32] };
    assert_eq!(store.append(site, start, &batch), Ok(Appended::Written));
    store.put_person([3; 16], "A. Surveyor", "").expect("a person");
    store.put_person([4; 16], "Somebody", "1").expect("a person");
    store.erase_person([4; 16]).expect("erased");
    store.backup(Path::new(&to)).expect("a copy");
}

//! Appends to a register from several threads until it is killed, and says what was acknowledged.
//!
//! `append_until_killed REGISTER SITES ROUND`: each thread appends to a site of its own and to one shared by
//! all. A line `site n head` (bytes as digits) on standard output follows each acknowledged append, never
//! goes before it. `crash.rs` reads the lines, kills this program and looks at what is left.

use std::io::Write;
use std::path::Path;
use std::sync::Mutex;

use store::{
    Access, Appended, Batch, EntryRow, Head, PlanBox, RunChange, SiteId, SqliteStore, Store, StoreError,
};

/// The site that all threads append to.
const SHARED: u8 = 200;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let [_, register, sites, round] = &arguments[..] else {
        panic!("usage: append_until_killed REGISTER SITES ROUND");
    };
    let sites: u8 = sites.parse().expect("a number of sites");
    let store = SqliteStore::open_or_create(Path::new(register), Access::Serve).expect("a register");
    for site in (1..=sites).chain([SHARED]) {
        match store.create_site([site; 16], [site; 32]) {
            Ok(()) | Err(StoreError::SiteExists { .. }) => {}
            Err(error) => panic!("{error}"),
        }
    }
    let shared = Mutex::new(store.head([SHARED; 16]).expect("a head"));
    std::thread::scope(|scope| {
        for site in 1..=sites {
            let (store, shared) = (&store, &shared);
            scope.spawn(move || append_for_ever(store, site, shared, round));
        }
    });
}

fn append_for_ever(store: &SqliteStore, own: u8, shared: &Mutex<Head>, round: &str) -> ! {
    let mut head = store.head([own; 16]).expect("a head");
    loop {
        let (batch, next) = batch(store, [own; 16], head, &format!("{round} {own} {}", head.n));
        assert_eq!(store.append([own; 16], head, &batch), Ok(Appended::Written));
        acknowledge(own, next);
        head = next;

        let mut at = shared.lock().expect("the shared head");
        let name = format!("{round} {own} {} shared", at.n);
        let (batch, next) = self::batch(store, [SHARED; 16], *at, &name);
        let ticket = store.submit([SHARED; 16], *at, &batch).expect("a ticket");
        *at = next;
        drop(at);
        assert_eq!(store.settle(ticket), Ok(Appended::Written));
        acknowledge(SHARED, next);
    }
}

/// Makes two entries with a run, and now and then a blob: all of it must be there or none.
fn batch(store: &SqliteStore, site: SiteId, after: Head, name: &str) -> (Batch, Head) {
    let mut batch = Batch::default();
    let mut head = after;
    for half in ["first", "second"] {
        let body = format!("{name} {half} {}", ".".repeat(head.n as usize % 3000)).into_bytes();
        let n = head.n + 1;
        let mut entry_id = [site[0]; 16];
        entry_id[8..].copy_from_slice(&n.to_be_bytes());
        let body_hash = digest(&[&body]);
        head = Head {
            n,
            hash: digest(&[&head.hash, &body_hash]),
        };
        batch.entries.push(EntryRow {
            site,
            n,
            tag: half.to_owned(),
            entry_id,
            recorded_at: name.to_owned(),
            body,
            body_hash,
            head: head.hash,
        });
    }
    let at = head.n as f64;
    let boxes = vec![PlanBox {
        min_e: at,
        min_n: at,
        max_e: at + 0.5,
        max_n: at + 0.5,
        chunk: 0,
    }];
    batch.runs = vec![RunChange::Put {
        run: head.n.to_string(),
        bytes: head.hash.to_vec(),
        boxes,
    }];
    if head.n.is_multiple_of(16) {
        batch.blobs = vec![store.put_blob(&head.hash).expect("a blob")];
    }
    (batch, head)
}

/// Mixes bytes into 32; it only has to tell things apart (FNV-1a, four times with different beginnings).
fn digest(parts: &[&[u8]]) -> [u8; 32] {
    let mut out = [0; 32];
    for (lane, eight) in (0u64..).zip(out.chunks_mut(8)) {
        let mut hash = 0xcbf2_9ce4_8422_2325 ^ lane;
        for byte in parts.iter().flat_map(|part| part.iter()) {
            hash = (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        }
        eight.copy_from_slice(&hash.to_be_bytes());
    }
    out
}

fn acknowledge(site: u8, head: Head) {
    let digits: String = head.hash.iter().map(|byte| format!("{byte:02x}")).collect();
    // One write for each line, so that lines of several threads do not mix.
    let line = format!("{site} {} {digits}\n", head.n);
    std::io::stdout()
        .lock()
        .write_all(line.as_bytes())
        .expect("a reader");
}

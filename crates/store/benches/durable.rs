//! Times durable appends beside plain SQLite on the same disk in the same run; prints a table.
//!
//! `cargo bench -p coverbook-store`. Medians; the two are taken in turns, since the disk's pace drifts.
#![expect(clippy::print_stdout, reason = "a bench prints its figures")]

use std::ops::ControlFlow;
use std::path::Path;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use coverbook_store::{
    Access, Appended, Batch, EntryRow, Head, PlanBox, RunChange, SiteId, SqliteStore, Store,
};
use rusqlite::Connection;

const BODY: usize = 128;

fn main() {
    let folder = tempfile::tempdir_in(".").expect("a folder on a real disk");
    single_appends(folder.path());
    many_clients(folder.path());
    bulk(folder.path());
}

fn open(path: &Path) -> SqliteStore {
    SqliteStore::open_or_create(path, Access::Serve).expect("a register")
}

fn site(store: &SqliteStore, number: u8) -> (SiteId, Head) {
    let site = [number; 16];
    store.create_site(site, site_start(number).hash).expect("a site");
    (site, site_start(number))
}

fn site_start(number: u8) -> Head {
    Head {
        n: 0,
        hash: [number; 32],
    }
}

/// Makes a batch with marks in place of hashes: making hashes is the caller's time, not the store's.
fn batch(site: SiteId, after: Head, count: u64, body: usize) -> (Batch, Head) {
    let mark = |n: u64| {
        let mut mark = [site[0]; 32];
        mark[..8].copy_from_slice(&n.wrapping_mul(0x9e37_79b9_7f4a_7c15).to_le_bytes());
        mark
    };
    let entry = |n: u64| {
        // The first bytes rise, as in a UUIDv7.
        let mut entry_id = [site[0]; 16];
        entry_id[..8].copy_from_slice(&n.to_be_bytes());
        EntryRow {
            site,
            n,
            tag: "PointsRecorded".to_owned(),
            entry_id,
            recorded_at: "2026-01-01T00:00:00.000Z".to_owned(),
            body: vec![n as u8; body],
            body_hash: mark(n),
            head: mark(n),
        }
    };
    let last = after.n + count;
    let entries = (after.n + 1..=last).map(entry).collect();
    (
        Batch {
            entries,
            ..Batch::default()
        },
        Head {
            n: last,
            hash: mark(last),
        },
    )
}

fn plain(path: &Path) -> Connection {
    let connection = Connection::open(path).expect("a database");
    connection
        .execute_batch(
            "pragma journal_mode = wal; pragma synchronous = full;
             create table t (n integer primary key, body blob not null) strict;",
        )
        .expect("a table");
    connection
}

fn insert(connection: &Connection, body: &[u8]) {
    let mut insert = connection
        .prepare_cached("insert into t (body) values (?1)")
        .expect("a statement");
    insert.execute([body]).expect("a row");
}

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort();
    times[times.len() / 2].as_secs_f64() * 1e3
}

fn single_appends(folder: &Path) {
    let bare = plain(&folder.join("plain.db"));
    let store = open(&folder.join("single.db"));
    let (site, mut head) = site(&store, 1);
    let body = vec![7; BODY];
    let (mut bare_times, mut store_times) = (Vec::new(), Vec::new());
    // Until both logs have been filled and begun again: a log that still grows is slower to sync.
    for _ in 0..1000 {
        insert(&bare, &body);
        let (batch, next) = batch(site, head, 1, BODY);
        assert_eq!(store.append(site, head, &batch), Ok(Appended::Written));
        head = next;
    }
    for _ in 0..20 {
        for _ in 0..50 {
            let began = Instant::now();
            insert(&bare, &body);
            bare_times.push(began.elapsed());
        }
        for _ in 0..50 {
            let (batch, next) = batch(site, head, 1, BODY);
            let began = Instant::now();
            assert_eq!(store.append(site, head, &batch), Ok(Appended::Written));
            store_times.push(began.elapsed());
            head = next;
        }
    }
    let (bare, ours) = (median(bare_times), median(store_times));
    println!(
        "one durable append: plain SQLite {bare:.3} ms, store {ours:.3} ms, ratio {:.2} (goal 1.3)",
        ours / bare
    );
}

fn many_clients(folder: &Path) {
    const EACH: u64 = 200;
    let store = open(&folder.join("clients.db"));
    let rate = |clients: u8, first: u8| {
        let heads: Vec<_> = (0..clients).map(|client| site(&store, first + client)).collect();
        let began = Instant::now();
        std::thread::scope(|scope| {
            for (site, mut head) in heads {
                let store = &store;
                scope.spawn(move || {
                    for _ in 0..EACH {
                        let (batch, next) = batch(site, head, 1, BODY);
                        assert_eq!(store.append(site, head, &batch), Ok(Appended::Written));
                        head = next;
                    }
                });
            }
        });
        f64::from(clients) * EACH as f64 / began.elapsed().as_secs_f64()
    };
    let mut ratios = Vec::new();
    for turn in 0..5 {
        let one = rate(1, 1 + turn * 17);
        let sixteen = rate(16, 2 + turn * 17);
        ratios.push((sixteen / one, one, sixteen));
    }
    ratios.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (ratio, one, sixteen) = ratios[2];
    println!("own sites: 1 client {one:.0}/s, 16 clients {sixteen:.0}/s, ratio {ratio:.1} (goal 6)");

    let (site, head) = site(&store, 250);
    let head = Mutex::new(head);
    let began = Instant::now();
    std::thread::scope(|scope| {
        for _ in 0..16 {
            scope.spawn(|| {
                for _ in 0..EACH {
                    let mut at = head.lock().expect("the head");
                    let (batch, next) = batch(site, *at, 1, BODY);
                    let ticket = store.submit(site, *at, &batch).expect("a ticket");
                    *at = next;
                    drop(at);
                    assert_eq!(store.settle(ticket), Ok(Appended::Written));
                }
            });
        }
    });
    let sixteen = 16.0 * EACH as f64 / began.elapsed().as_secs_f64();
    println!(
        "one site, submit and settle: 16 clients {sixteen:.0}/s, ratio {:.1}",
        sixteen / one
    );
}

fn bulk(folder: &Path) {
    let store = open(&folder.join("bulk.db"));
    let (site, head) = site(&store, 1);

    let bare = plain(&folder.join("plain bulk.db"));
    let body = vec![7; BODY];
    let began = Instant::now();
    bare.execute_batch("begin").expect("begin");
    (0..200_000).for_each(|_| insert(&bare, &body));
    bare.execute_batch("commit").expect("commit");
    let bare = began.elapsed().as_secs_f64();
    let (small, head) = {
        let (batch, next) = batch(site, head, 200_000, BODY);
        let began = Instant::now();
        assert_eq!(store.append(site, head, &batch), Ok(Appended::Written));
        (began.elapsed().as_secs_f64(), next)
    };
    println!("200,000 small entries in one append: {small:.2} s (bare rows, no index {bare:.2} s)");

    let (batch_of_large, head) = {
        let (batch, next) = batch(site, head, 100, 1_000_000);
        (batch, (head, next))
    };
    let began = Instant::now();
    assert_eq!(store.append(site, head.0, &batch_of_large), Ok(Appended::Written));
    println!(
        "100 entries of 1 MB in one append: {:.2} s",
        began.elapsed().as_secs_f64()
    );
    let head = head.1;

    // Streets of runs in random order, two boxes each.
    let runs = (0..50_000u64)
        .map(|i| {
            let at = i.wrapping_mul(7_919) % 50_000;
            let (e, n) = ((at % 250) as f64 * 20.0, (at / 250) as f64 * 25.0);
            let piece = |chunk: u32| {
                let min_e = e + f64::from(chunk) * 10.0;
                PlanBox {
                    min_e,
                    min_n: n,
                    max_e: min_e + 10.0,
                    max_n: n + 1.0,
                    chunk,
                }
            };
            RunChange::Put {
                run: format!("{i:032x}"),
                bytes: vec![1; 900],
                boxes: vec![piece(0), piece(1)],
            }
        })
        .collect();
    let began = Instant::now();
    assert_eq!(
        store.append(
            site,
            head,
            &Batch {
                runs,
                ..Batch::default()
            }
        ),
        Ok(Appended::Written)
    );
    println!(
        "50,000 runs with 100,000 boxes in one append: {:.2} s",
        began.elapsed().as_secs_f64()
    );

    let mut times = Vec::new();
    let mut hits = 0;
    for i in 0..2_000u64 {
        let (e, n) = ((i * 37 % 5000) as f64, (i * 53 % 5000) as f64);
        let within = PlanBox {
            min_e: e,
            min_n: n,
            max_e: e + 20.0,
            max_n: n + 20.0,
            chunk: 0,
        };
        let began = Instant::now();
        let count = &mut |_: &str, _: &[u8], _: &[u32]| {
            hits += 1;
            ControlFlow::Continue(())
        };
        store.runs_in_boxes(site, &within, count).expect("a query");
        times.push(began.elapsed());
    }
    println!(
        "runs in a 20 m box: {:.3} ms, {:.1} runs",
        median(times),
        f64::from(hits) / 2_000.0
    );
    let began = Instant::now();
    let mut bytes = 0;
    let each = &mut |_: &str, run: &[u8]| {
        bytes += run.len();
        ControlFlow::Continue(())
    };
    store.for_each_run(site, each).expect("runs");
    println!(
        "all runs read: {:.3} s, {} MB",
        began.elapsed().as_secs_f64(),
        bytes / 1_000_000
    );
}

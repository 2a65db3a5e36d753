//! Promise 7: what was acknowledged survives kill -9, whole and in order.
//!
//! The oracle is the killed program's own output: every line it managed to write names an entry that must
//! be there. Killing a process cannot show that the disk was synced before the answer; that a commit is
//! made with a full sync is checked beside the store.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::ops::ControlFlow;
use std::path::Path;
use std::process::{Command, Stdio};

use store::{Access, Appended, Batch, Head, SqliteStore, Store};

const SITES: u8 = 6;

#[test]
fn acknowledged_entries_survive_kill_9_again_and_again() {
    let folder = tempfile::tempdir().unwrap();
    let register = folder.path().join("r.db");
    let mut acknowledged: BTreeMap<u8, BTreeMap<u64, String>> = BTreeMap::new();
    // Killed early, late, and soon after the log was moved into the file (about every 1,000 pages).
    for (round, lines) in [1, 40, 333, 900].into_iter().enumerate() {
        for (site, n, head) in lines_until_killed(&register, round, lines) {
            acknowledged.entry(site).or_default().insert(n, head);
        }
        look(&register, &acknowledged);
    }
    assert_eq!(
        acknowledged.len(),
        usize::from(SITES) + 1,
        "every thread was at work"
    );
}

/// Runs the program, kills it after `lines` lines, and returns all that it wrote.
fn lines_until_killed(register: &Path, round: usize, lines: usize) -> Vec<(u8, u64, String)> {
    let mut child = Command::new(env!("CARGO_BIN_EXE_append_until_killed"))
        .arg(register)
        .args([SITES.to_string(), round.to_string()])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut output = BufReader::new(child.stdout.take().unwrap());
    let mut text = String::new();
    for _ in 0..lines {
        assert_ne!(
            output.read_line(&mut text).unwrap(),
            0,
            "the program ended by itself"
        );
    }
    // SIGKILL on Unix; it cannot be caught.
    child.kill().unwrap();
    child.wait().unwrap();
    // What it had written before it died is still in the pipe.
    while output.read_line(&mut text).unwrap() > 0 {}
    let whole = &text[..text.rfind('\n').unwrap() + 1];
    let parse = |line: &str| {
        let mut words = line.split(' ');
        let mut next = || words.next().unwrap().to_owned();
        (next().parse().unwrap(), next().parse().unwrap(), next())
    };
    whole.lines().map(parse).collect()
}

fn look(register: &Path, acknowledged: &BTreeMap<u8, BTreeMap<u64, String>>) {
    // The dead server's lock is gone with it.
    let store = SqliteStore::open(register, Access::Serve).unwrap();
    assert_eq!(store.integrity_check(), Ok(vec![]));
    for (&site, acknowledged) in acknowledged {
        let site = [site; 16];
        let entries = store.entries(site, 1, usize::MAX).unwrap();
        let head = store.head(site).unwrap();
        let last = entries.last().unwrap();
        assert_eq!(
            head,
            Head {
                n: last.n,
                hash: last.head
            }
        );
        assert!(
            entries.iter().map(|entry| entry.n).eq(1..=head.n),
            "a chain without gaps"
        );
        // Batches hold two entries: never one of them alone.
        assert_eq!(head.n % 2, 0);
        for (&n, digits) in acknowledged {
            let entry = entries.get(n as usize - 1).expect("an acknowledged entry");
            let found: String = entry.head.iter().map(|byte| format!("{byte:02x}")).collect();
            assert_eq!(&found, digits, "entry {n} as acknowledged");
        }
        // The cached rows and blobs are those of the entries, no more and no fewer.
        let mut runs = 0;
        let each = &mut |run: &str, bytes: &[u8]| {
            runs += 1;
            let n: usize = run.parse().unwrap();
            assert_eq!(bytes, entries[n - 1].head);
            ControlFlow::Continue(())
        };
        store.for_each_run(site, each).unwrap();
        assert_eq!(runs, head.n / 2);
        let blobs = store.blobs(site).unwrap();
        assert_eq!(blobs.len() as u64, head.n / 16);
        for blob in blobs {
            assert_eq!(
                store.get_blob(blob.hash).unwrap(),
                entries[blob.first_n as usize].head
            );
        }
        // Sending the last batch again, as a device does that got no answer, changes nothing.
        let again = Batch {
            entries: entries[entries.len() - 2..].to_vec(),
            ..Batch::default()
        };
        let before = Head {
            n: head.n - 2,
            hash: [0; 32],
        };
        assert_eq!(
            store.append(site, before, &again),
            Ok(Appended::AlreadyThere {
                n: vec![head.n - 1, head.n]
            })
        );
    }
}

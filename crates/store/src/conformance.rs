//! The suite that every store behind the trait must pass.
//!
//! Each check gets a store of its own and panics with what it found. The oracle is the trait's own wording;
//! hashes here are made only to be told apart, since a store does not know how they are made.

use std::collections::BTreeSet;
use std::ops::ControlFlow;

use sha2::{Digest, Sha256};

use crate::{
    Appended, Batch, EntryRow, Head, MAX_BODY_BYTES, Person, PlanBox, RunChange, SiteId, Store, StoreError,
};

/// A site that the checks use.
pub const SITE: SiteId = [7; 16];

/// Runs every check, each on a store that `fresh` makes empty.
///
/// # Panics
/// When a check fails.
pub fn conformance(fresh: &dyn Fn() -> Box<dyn Store>) {
    let checks: [fn(&dyn Store); 14] = [
        a_site_is_created_once_and_starts_at_its_first_hash,
        what_is_appended_is_read_back_as_it_was,
        a_stale_head_is_refused_and_names_the_actual_one,
        sending_again_changes_nothing_and_says_where_it_is,
        an_id_taken_by_other_bytes_is_refused,
        a_refused_batch_leaves_nothing_behind,
        badly_numbered_or_oversized_entries_are_refused,
        tags_and_ids_find_entries_in_order,
        a_reader_can_stop_and_can_nest,
        runs_are_found_by_their_boxes_and_only_by_them,
        runs_are_replaced_and_dropped_with_their_boxes,
        blobs_come_back_whole_and_must_be_put_before_they_are_named,
        people_can_be_erased_and_stay_erased,
        many_threads_each_get_their_place,
    ];
    for check in checks {
        check(&*fresh());
    }
}

/// Returns a hash to tell things apart by.
pub fn mark(of: &str) -> [u8; 32] {
    Sha256::digest(of).into()
}

/// Returns the head at which [`SITE`] and others start in the checks.
pub fn start(site: SiteId) -> Head {
    Head {
        n: 0,
        hash: mark(&format!("start {site:?}")),
    }
}

/// Makes the entry that follows `after`, with an id made from `name`.
pub fn entry(site: SiteId, after: Head, tag: &str, name: &str) -> EntryRow {
    let mut entry_id = [0; 16];
    entry_id.copy_from_slice(&mark(name)[..16]);
    let body = format!("{{\"name\":\"{name}\"}}").into_bytes();
    EntryRow {
        site,
        n: after.n + 1,
        tag: tag.to_owned(),
        entry_id,
        recorded_at: format!("2026-01-01T00:00:00.{:03}Z", after.n % 1000),
        body_hash: Sha256::digest(&body).into(),
        head: mark(&format!("{:?} then {name}", after.hash)),
        body,
    }
}

/// Makes a batch of entries that follow `after`, one for each name, and the head it leads to.
pub fn batch(site: SiteId, after: Head, names: &[&str]) -> (Batch, Head) {
    let mut head = after;
    let mut batch = Batch::default();
    for name in names {
        let next = entry(site, head, "Noted", name);
        head = Head {
            n: next.n,
            hash: next.head,
        };
        batch.entries.push(next);
    }
    (batch, head)
}

fn open_site(store: &dyn Store, site: SiteId) -> Head {
    store.create_site(site, start(site).hash).expect("a new site");
    start(site)
}

#[track_caller]
fn write(store: &dyn Store, site: SiteId, at: Head, batch: &Batch) {
    assert_eq!(store.append(site, at, batch), Ok(Appended::Written));
}

fn square(e: f64, n: f64, side: f64, chunk: u32) -> PlanBox {
    PlanBox {
        min_e: e,
        min_n: n,
        max_e: e + side,
        max_n: n + side,
        chunk,
    }
}

fn found(store: &dyn Store, site: SiteId, within: PlanBox) -> Vec<(String, Vec<u8>, Vec<u32>)> {
    let mut hits = Vec::new();
    store
        .runs_in_boxes(site, &within, &mut |run, bytes, chunks| {
            hits.push((run.to_owned(), bytes.to_vec(), chunks.to_vec()));
            ControlFlow::Continue(())
        })
        .expect("a query");
    hits.sort();
    hits
}

fn put(run: &str, bytes: &[u8], boxes: Vec<PlanBox>) -> Batch {
    let change = RunChange::Put {
        run: run.to_owned(),
        bytes: bytes.to_vec(),
        boxes,
    };
    Batch {
        runs: vec![change],
        ..Batch::default()
    }
}

fn a_site_is_created_once_and_starts_at_its_first_hash(store: &dyn Store) {
    assert_eq!(store.sites(), Ok(vec![]));
    assert_eq!(store.head(SITE), Err(StoreError::NoSuchSite { site: SITE }));
    let at = open_site(store, SITE);
    assert_eq!(store.head(SITE), Ok(at));
    assert_eq!(
        store.create_site(SITE, [1; 32]),
        Err(StoreError::SiteExists { site: SITE })
    );
    assert_eq!(store.head(SITE), Ok(at));
    let other = [1; 16];
    open_site(store, other);
    let sites: Vec<_> = store.sites().expect("sites").iter().map(|row| row.site).collect();
    assert_eq!(sites, [SITE, other], "in the order of creation");
}

fn what_is_appended_is_read_back_as_it_was(store: &dyn Store) {
    let at = open_site(store, SITE);
    let (mut first, head) = batch(SITE, at, &["a", "b"]);
    first.entries[0].body = vec![0, 255, b'\n', 0];
    first.entries[1].recorded_at = String::from("any text, ± as it is");
    write(store, SITE, at, &first);
    assert_eq!(store.head(SITE), Ok(head));
    let (second, head) = batch(SITE, head, &["c"]);
    write(
        store,
        SITE,
        Head {
            n: 2,
            hash: first.entries[1].head,
        },
        &second,
    );
    assert_eq!(store.head(SITE), Ok(head));
    let all: Vec<_> = first.entries.iter().chain(&second.entries).cloned().collect();
    assert_eq!(store.entries(SITE, 0, 10), Ok(all.clone()));
    assert_eq!(store.entries(SITE, 1, 2), Ok(all[..2].to_vec()));
    assert_eq!(store.entries(SITE, 3, 10), Ok(all[2..].to_vec()));
    assert_eq!(store.entries(SITE, 4, 10), Ok(vec![]));
    assert_eq!(store.entries(SITE, u64::MAX, 10), Ok(vec![]));
    assert_eq!(
        store.entries([9; 16], 0, 10),
        Err(StoreError::NoSuchSite { site: [9; 16] })
    );
}

fn a_stale_head_is_refused_and_names_the_actual_one(store: &dyn Store) {
    let at = open_site(store, SITE);
    let (first, head) = batch(SITE, at, &["a"]);
    write(store, SITE, at, &first);
    let (late, _) = batch(SITE, at, &["b"]);
    assert_eq!(
        store.append(SITE, at, &late),
        Err(StoreError::StaleHead { actual: head })
    );
    // The right number on another chain is stale too.
    let (forked, _) = batch(
        SITE,
        Head {
            hash: [9; 32],
            ..head
        },
        &["b"],
    );
    let wrong = Head {
        n: head.n,
        hash: [9; 32],
    };
    assert_eq!(
        store.append(SITE, wrong, &forked),
        Err(StoreError::StaleHead { actual: head })
    );
    assert_eq!(
        store.append(SITE, at, &Batch::default()),
        Err(StoreError::StaleHead { actual: head })
    );
    assert_eq!(store.head(SITE), Ok(head));
}

fn sending_again_changes_nothing_and_says_where_it_is(store: &dyn Store) {
    let at = open_site(store, SITE);
    let (first, head) = batch(SITE, at, &["a", "b", "c"]);
    write(store, SITE, at, &first);
    let again = Ok(Appended::AlreadyThere { n: vec![1, 2, 3] });
    assert_eq!(store.append(SITE, at, &first), again, "on the old head");
    let (renumbered, _) = batch(SITE, head, &["c", "a"]);
    assert_eq!(
        store.append(SITE, head, &renumbered),
        Ok(Appended::AlreadyThere { n: vec![3, 1] })
    );
    let (mixed, _) = batch(SITE, head, &["new", "b", "newer"]);
    assert_eq!(
        store.append(SITE, head, &mixed),
        Err(StoreError::PartlyThere { there: vec![(1, 2)] })
    );
    assert_eq!(
        store.append(SITE, at, &batch(SITE, at, &["b", "x"]).0),
        Err(StoreError::PartlyThere { there: vec![(0, 2)] })
    );
    assert_eq!(store.head(SITE), Ok(head));
    assert_eq!(store.entries(SITE, 0, 10), Ok(first.entries.clone()));
    // Another site has a chain, and so ids, of its own.
    let other = [8; 16];
    let there = open_site(store, other);
    write(store, other, there, &batch(other, there, &["a"]).0);
}

fn an_id_taken_by_other_bytes_is_refused(store: &dyn Store) {
    let at = open_site(store, SITE);
    let (first, head) = batch(SITE, at, &["a", "b"]);
    write(store, SITE, at, &first);
    let (mut forged, _) = batch(SITE, head, &["new", "b"]);
    forged.entries[1].body = b"other".to_vec();
    forged.entries[1].body_hash = mark("other");
    let entry_id = forged.entries[1].entry_id;
    let refused = Err(StoreError::SameIdOtherBytes { entry_id, n: 2 });
    assert_eq!(store.append(SITE, head, &forged), refused);
    assert_eq!(store.head(SITE), Ok(head));
    let (mut old, _) = batch(SITE, at, &["x", "b"]);
    old.entries[1].body_hash = mark("other");
    assert_eq!(store.append(SITE, at, &old), refused, "on an old head too");
    let (twice, _) = batch(SITE, head, &["n", "n"]);
    let entry_id = twice.entries[0].entry_id;
    assert_eq!(
        store.append(SITE, head, &twice),
        Err(StoreError::TwiceInBatch { entry_id })
    );
    assert_eq!(store.entries(SITE, 0, 10), Ok(first.entries));
}

fn a_refused_batch_leaves_nothing_behind(store: &dyn Store) {
    let at = open_site(store, SITE);
    let (first, head) = batch(SITE, at, &["a"]);
    write(store, SITE, at, &first);
    let (mut refused, _) = batch(SITE, head, &["b", "a"]);
    refused.runs = put("r", b"run", vec![square(0.0, 0.0, 1.0, 0)]).runs;
    assert_eq!(
        store.append(SITE, head, &refused),
        Err(StoreError::PartlyThere { there: vec![(1, 1)] })
    );
    let (mut refused, _) = batch(SITE, head, &["b"]);
    refused.runs = put("r", b"run", vec![square(f64::NAN, 0.0, 1.0, 0)]).runs;
    assert!(matches!(
        store.append(SITE, head, &refused),
        Err(StoreError::BadBox { index: 0, .. })
    ));
    let (mut refused, _) = batch(SITE, head, &["b"]);
    refused.runs = put("r", b"run", vec![]).runs;
    refused.blobs = vec![[3; 32]];
    assert_eq!(
        store.append(SITE, head, &refused),
        Err(StoreError::NoSuchBlob { hash: [3; 32] })
    );
    assert_eq!(store.head(SITE), Ok(head));
    assert_eq!(store.entries(SITE, 0, 10), Ok(first.entries));
    assert_eq!(store.run_bytes(SITE, "r"), Ok(None));
    assert_eq!(found(store, SITE, square(-9.0, -9.0, 99.0, 0)), []);
    assert_eq!(store.blobs(SITE), Ok(vec![]));
    assert_eq!(store.integrity_check(), Ok(vec![]));
}

fn badly_numbered_or_oversized_entries_are_refused(store: &dyn Store) {
    let at = open_site(store, SITE);
    let (mut skipped, _) = batch(SITE, at, &["a", "b"]);
    skipped.entries[1].n = 3;
    assert_eq!(
        store.append(SITE, at, &skipped),
        Err(StoreError::Misnumbered {
            expected: 2,
            found: 3
        })
    );
    let (elsewhere, _) = batch([8; 16], at, &["a"]);
    assert!(matches!(
        store.append(SITE, at, &elsewhere),
        Err(StoreError::Misnumbered { .. })
    ));
    let (mut large, _) = batch(SITE, at, &["a"]);
    large.entries[0].body = vec![b' '; MAX_BODY_BYTES + 1];
    let bytes = MAX_BODY_BYTES + 1;
    let refused = StoreError::BodyTooLarge {
        n: 1,
        bytes,
        limit: MAX_BODY_BYTES,
    };
    assert_eq!(store.append(SITE, at, &large), Err(refused));
    large.entries[0].body.pop();
    write(store, SITE, at, &large);
    assert_eq!(store.entries(SITE, 1, 1), Ok(large.entries));
}

fn tags_and_ids_find_entries_in_order(store: &dyn Store) {
    let at = open_site(store, SITE);
    let (mut all, _) = batch(SITE, at, &["a", "b", "c", "d"]);
    for (entry, tag) in all.entries.iter_mut().zip(["X", "Y", "X", "Z"]) {
        entry.tag = tag.to_owned();
    }
    write(store, SITE, at, &all);
    let numbers = |tags: &[&str]| -> Vec<u64> {
        store
            .entries_tagged(SITE, tags)
            .expect("entries")
            .iter()
            .map(|entry| entry.n)
            .collect()
    };
    assert_eq!(numbers(&["X"]), [1, 3]);
    assert_eq!(numbers(&["Z", "X", "Z"]), [1, 3, 4]);
    assert_eq!(numbers(&["x"]), [0; 0], "tags are compared byte by byte");
    assert_eq!(numbers(&[]), [0; 0]);
    assert_eq!(store.tags(SITE), Ok(["X", "Y", "Z"].map(str::to_owned).to_vec()));
    let third = &all.entries[2];
    assert_eq!(store.entry_by_id(SITE, third.entry_id), Ok(Some(third.clone())));
    assert_eq!(store.entry_by_id(SITE, [0; 16]), Ok(None));
}

fn a_reader_can_stop_and_can_nest(store: &dyn Store) {
    let at = open_site(store, SITE);
    let (all, head) = batch(SITE, at, &["a", "b", "c"]);
    write(store, SITE, at, &all);
    let mut seen = Vec::new();
    store
        .for_each_entry(SITE, 2, &mut |entry| {
            assert_eq!(store.head(SITE), Ok(head), "another read from within");
            seen.push(entry.n);
            ControlFlow::Break(())
        })
        .expect("entries");
    assert_eq!(seen, [2]);
}

fn runs_are_found_by_their_boxes_and_only_by_them(store: &dyn Store) {
    let at = open_site(store, SITE);
    let other = [8; 16];
    let there = open_site(store, other);
    write(
        store,
        SITE,
        at,
        &put(
            "bend",
            b"1",
            vec![
                square(0.0, 0.0, 1.0, 0),
                square(10.0, 0.0, 1.0, 1),
                square(0.5, 0.5, 1.0, 2),
            ],
        ),
    );
    write(
        store,
        SITE,
        at,
        &put("far", b"2", vec![square(500.25, 500.25, 0.125, 0)]),
    );
    write(store, SITE, at, &put("nowhere", b"3", vec![]));
    write(
        store,
        other,
        there,
        &put("bend", b"4", vec![square(0.0, 0.0, 1.0, 9)]),
    );
    assert_eq!(
        found(store, SITE, square(0.25, 0.25, 0.5, 0)),
        [("bend".into(), b"1".to_vec(), vec![0, 2])]
    );
    assert_eq!(
        found(store, SITE, square(11.0, 1.0, 5.0, 0)),
        [("bend".into(), b"1".to_vec(), vec![1])],
        "touching"
    );
    assert_eq!(
        found(store, SITE, square(11.0 + 1e-9, 1.0, 5.0, 0)),
        [],
        "a nanometre past"
    );
    assert_eq!(
        found(store, SITE, square(2.0, 0.0, 7.0, 0)),
        [],
        "between two boxes of one run"
    );
    assert_eq!(
        found(store, other, square(0.0, 0.0, 0.0, 0)),
        [("bend".into(), b"4".to_vec(), vec![9])]
    );
    let all: Vec<_> = found(store, SITE, square(-1e3, -1e3, 1e4, 0))
        .into_iter()
        .map(|hit| hit.0)
        .collect();
    assert_eq!(all, ["bend", "far"]);
    assert!(
        store
            .runs_in_boxes(SITE, &square(f64::NAN, 0.0, 1.0, 0), &mut |_, _, _| {
                ControlFlow::Continue(())
            })
            .is_err()
    );
    // Against every box one by one, on a grid where many sides coincide.
    let boxes: Vec<PlanBox> = (0..400u32)
        .map(|i| square(f64::from(i % 20) * 0.1, f64::from(i / 20) * 0.1, 0.1, i))
        .collect();
    let runs = boxes
        .iter()
        .map(|b| put(&format!("g{}", b.chunk), b"g", vec![*b]).runs.remove(0))
        .collect();
    let third = [9; 16];
    let at = open_site(store, third);
    write(
        store,
        third,
        at,
        &Batch {
            runs,
            ..Batch::default()
        },
    );
    for within in boxes.iter().step_by(37) {
        let by_hand: BTreeSet<_> = boxes
            .iter()
            .filter(|b| b.meets(within))
            .map(|b| b.chunk)
            .collect();
        let by_store = found(store, third, *within)
            .into_iter()
            .map(|hit| hit.2[0])
            .collect();
        assert_eq!(by_hand, by_store);
    }
    assert_eq!(store.integrity_check(), Ok(vec![]));
}

fn runs_are_replaced_and_dropped_with_their_boxes(store: &dyn Store) {
    let at = open_site(store, SITE);
    write(
        store,
        SITE,
        at,
        &put(
            "r",
            b"old",
            vec![square(0.0, 0.0, 1.0, 0), square(5.0, 0.0, 1.0, 1)],
        ),
    );
    let moved = vec![square(100.0, 0.0, 1.0, 4)];
    write(store, SITE, at, &put("r", b"new", moved.clone()));
    assert_eq!(found(store, SITE, square(0.0, 0.0, 9.0, 0)), []);
    assert_eq!(
        found(store, SITE, square(99.0, 0.0, 9.0, 0)),
        [("r".into(), b"new".to_vec(), vec![4])]
    );
    assert_eq!(store.run_bytes(SITE, "r"), Ok(Some(b"new".to_vec())));
    write(store, SITE, at, &put("a", b"", vec![]));
    assert_eq!(
        store.boxes(SITE),
        Ok(vec![("a".into(), vec![]), ("r".into(), moved)])
    );
    let mut runs = Vec::new();
    store
        .for_each_run(SITE, &mut |run, bytes| {
            runs.push((run.to_owned(), bytes.to_vec()));
            ControlFlow::Continue(())
        })
        .expect("runs");
    assert_eq!(
        runs,
        [("a".to_owned(), vec![]), ("r".to_owned(), b"new".to_vec())]
    );
    let drop = |run: &str| RunChange::Drop { run: run.to_owned() };
    write(
        store,
        SITE,
        at,
        &Batch {
            runs: vec![drop("r"), drop("never there")],
            ..Batch::default()
        },
    );
    assert_eq!(store.run_bytes(SITE, "r"), Ok(None));
    assert_eq!(found(store, SITE, square(99.0, 0.0, 9.0, 0)), []);
    assert_eq!(store.integrity_check(), Ok(vec![]));
}

fn blobs_come_back_whole_and_must_be_put_before_they_are_named(store: &dyn Store) {
    let at = open_site(store, SITE);
    // SHA-256 of "abc": FIPS 180-4 example, digest from NIST's "Examples with intermediate values" (from memory).
    let abc = store.put_blob(b"abc").expect("a blob");
    let digits: String = abc.iter().map(|b| format!("{b:02x}")).collect();
    assert_eq!(
        digits,
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
    assert_eq!(store.put_blob(b"abc"), Ok(abc), "putting it again");
    assert_eq!(store.get_blob(abc), Ok(b"abc".to_vec()));
    assert_eq!(
        store.get_blob([0; 32]),
        Err(StoreError::NoSuchBlob { hash: [0; 32] })
    );
    let empty = store.put_blob(b"").expect("a blob");
    assert_eq!(store.get_blob(empty), Ok(vec![]));
    let (mut naming, head) = batch(SITE, at, &["a"]);
    naming.blobs = vec![abc, abc];
    write(store, SITE, at, &naming);
    let used = store.blobs(SITE).expect("blobs");
    assert_eq!(
        (used.len(), used[0].hash, used[0].first_n, used[0].erased),
        (1, abc, 1, false)
    );
    store.erase_blob(abc).expect("erased");
    store.erase_blob(abc).expect("erased again");
    let erased = StoreError::BlobErased { hash: abc };
    assert_eq!(store.get_blob(abc), Err(erased.clone()));
    assert_eq!(store.put_blob(b"abc"), Err(erased));
    assert!(store.blobs(SITE).expect("blobs")[0].erased);
    assert_eq!(
        store.erase_blob([0; 32]),
        Err(StoreError::NoSuchBlob { hash: [0; 32] })
    );
    assert_eq!(store.head(SITE), Ok(head));
    assert_eq!(store.integrity_check(), Ok(vec![]));
}

fn people_can_be_erased_and_stay_erased(store: &dyn Store) {
    let id = [5; 16];
    assert_eq!(store.person(id), Ok(None));
    store.put_person(id, "A. Surveyor", "555").expect("a person");
    store
        .put_person(id, "A. N. Surveyor", "")
        .expect("the person again");
    let known = Person::Known {
        name: "A. N. Surveyor".into(),
        phone: String::new(),
    };
    assert_eq!(store.person(id), Ok(Some(known)));
    store.erase_person(id).expect("erased");
    store.erase_person(id).expect("erased again");
    assert_eq!(store.person(id), Ok(Some(Person::Erased)));
    assert_eq!(
        store.put_person(id, "back", ""),
        Err(StoreError::PersonErased { id })
    );
    assert_eq!(
        store.erase_person([6; 16]),
        Err(StoreError::NoSuchPerson { id: [6; 16] })
    );
}

fn many_threads_each_get_their_place(store: &dyn Store) {
    const THREADS: u8 = 8;
    const EACH: usize = 12;
    let at = open_site(store, SITE);
    for thread in 0..THREADS {
        open_site(store, [100 + thread; 16]);
    }
    std::thread::scope(|scope| {
        for thread in 0..THREADS {
            scope.spawn(move || {
                let own = [100 + thread; 16];
                let mut own_head = start(own);
                for i in 0..EACH {
                    // Its own site never moves by anyone else.
                    let (batch_own, next) = batch(own, own_head, &[&format!("{i}")]);
                    write(store, own, own_head, &batch_own);
                    own_head = next;
                    // On the shared site it tries until its turn comes.
                    let mut head = store.head(SITE).expect("a head");
                    loop {
                        let (shared, _) = batch(SITE, head, &[&format!("{thread} {i}")]);
                        match store.append(SITE, head, &shared) {
                            Ok(appended) => {
                                assert_eq!(appended, Appended::Written);
                                break;
                            }
                            Err(StoreError::StaleHead { actual }) => head = actual,
                            Err(other) => panic!("{other}"),
                        }
                    }
                }
                assert_eq!(store.head(own), Ok(own_head));
            });
        }
    });
    let all = store.entries(SITE, 1, usize::MAX).expect("entries");
    assert_eq!(all.len(), usize::from(THREADS) * EACH);
    let mut head = at;
    for (entry, n) in all.iter().zip(1..) {
        assert_eq!(entry.n, n);
        let name = String::from_utf8_lossy(&entry.body)
            .replace("{\"name\":\"", "")
            .replace("\"}", "");
        assert_eq!(
            entry.head,
            mark(&format!("{:?} then {name}", head.hash)),
            "each follows the one before"
        );
        head = Head { n, hash: entry.head };
    }
    assert_eq!(store.head(SITE), Ok(head));
}

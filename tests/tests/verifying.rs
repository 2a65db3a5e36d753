//! `verify` names what was changed behind the program's back, and the program's own figures agree with another way.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

mod common;

use common::{Demo, register_in};
use coverbook::acts::{Register, system_clock};
use std::sync::Arc;
use store::{Access, SqliteStore};

/// Closes the demonstration, changes its file with SQL, and verifies what is there.
fn after(sql: &str) -> register::view::VerifyView {
    let demo = Demo::new();
    let path = register_in(&demo.folder);
    let site = demo.site.parse().unwrap();
    let folder = demo.folder;
    drop((demo.router, demo.register));
    // Whoever can write the file can drop its triggers.
    let file = rusqlite::Connection::open(&path).unwrap();
    let triggers: Vec<String> = file
        .prepare("select name from sqlite_master where type = 'trigger'")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    for trigger in triggers {
        file.execute_batch(&format!("drop trigger \"{trigger}\""))
            .unwrap();
    }
    file.execute_batch(sql).unwrap();
    drop(file);
    let register = Register::new(
        Arc::new(SqliteStore::open(&path, Access::Read).unwrap()),
        system_clock(),
    );
    let view = register.verify(site, None, &mut |_, _| {}).unwrap();
    drop(folder);
    view
}

#[track_caller]
fn names(view: &register::view::VerifyView, what: &str) {
    assert!(!view.holds);
    assert!(
        view.faults.iter().any(|fault| fault.contains(what)),
        "{:#?}",
        view.faults
    );
}

#[test]
fn an_untouched_register_holds() {
    let view = after("");
    assert!(view.holds, "{:#?}", view.faults);
    assert!(view.proven[0].contains("entries 1 to 50"), "{}", view.proven[0]);
    assert!(view.not_proven.iter().any(|says| says.contains("--head")));
}

#[test]
fn one_changed_digit_names_its_entry() {
    // A level of the first point of the slab, in place; the length stays.
    let view = after(
        "update entry set body = cast(replace(cast(body as text), '\"4.351\"', '\"4.357\"') as blob)
         where tag = 'PointsRecorded' and n = (select min(n) from entry where tag = 'PointsRecorded')",
    );
    names(&view, "entry 8: its body is not the one that was hashed");
    names(&view, "cached row of run E01");
    // Nothing else of the chain is accused.
    assert_eq!(
        view.faults
            .iter()
            .filter(|f| f.contains("its body is not"))
            .count(),
        1
    );
    assert!(!view.faults.iter().any(|f| f.contains("its head does not follow")));
}

#[test]
fn a_changed_time_names_its_entry() {
    let view = after("update entry set recorded_at = '2001-01-01T00:00:00.000Z' where n = 5");
    names(&view, "entry 5: its head does not follow");
    names(&view, "entry 5: its time of recording goes back");
}

#[test]
fn a_changed_cached_row_names_its_run() {
    let view = after(
        "update run set bytes = cast(replace(cast(bytes as text), '\"gas\"', '\"water\"') as blob) where run = 'G1'",
    );
    names(&view, "cached row of run G1");
}

#[test]
fn a_missing_cached_row_names_its_run() {
    let view = after("delete from run where run = 'HV1'");
    names(&view, "cached row of run HV1: it is missing");
}

#[test]
fn entries_cut_off_the_end_show_against_a_head_that_somebody_holds() {
    let demo = Demo::new();
    let site = demo.site.parse().unwrap();
    let held = demo.head().parse().unwrap();
    assert!(
        demo.register
            .verify(site, Some(held), &mut |_, _| {})
            .unwrap()
            .holds
    );
    let mut later = held;
    later.n += 1;
    let view = demo.register.verify(site, Some(later), &mut |_, _| {}).unwrap();
    names(&view, "entries were cut off, or this is an older copy");
}

#[test]
fn nothing_is_answered_from_an_entry_that_is_not_what_was_hashed() {
    let demo = Demo::new();
    let path = register_in(&demo.folder);
    let site = demo.site.parse().unwrap();
    let folder = demo.folder;
    drop((demo.router, demo.register));
    let file = rusqlite::Connection::open(&path).unwrap();
    file.execute_batch("drop trigger entry_is_never_changed").unwrap();
    let changed = "update entry set body = cast(replace(cast(body as text), '\"4.351\"', '\"3.351\"') as blob) where n = 8";
    assert_eq!(file.execute(changed, []).unwrap(), 1);
    drop(file);
    let register = Register::new(
        Arc::new(SqliteStore::open(&path, Access::Read).unwrap()),
        system_clock(),
    );
    let refused = register
        .cover(site, Some("Finished surface"), None)
        .unwrap_err()
        .to_string();
    assert!(
        refused.contains("entry 8") && refused.contains("not the one that was hashed"),
        "{refused}"
    );
    drop(folder);
}

//! Writes over HTTP that are sent again, come late, come in crowds or race with another: never recorded twice, never
//! said not to be recorded when they were.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

mod common;

use axum::http::StatusCode;
use common::{Demo, PERSON, trench};
use coverbook::acts::{Author, Register, SheetAsk, system_clock};
use register::dig::DigQuestion;
use serde_json::{Value, json};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use store::{Access, SqliteStore};
use uuid::Uuid;

fn with(mut body: Value, name: &str, value: Value) -> Value {
    body[name] = value;
    body
}

#[tokio::test]
async fn every_act_sent_again_under_its_id_changes_nothing() {
    let demo = Demo::new();
    let id = |n: u32| json!(format!("01900000-0000-7000-8000-0000000001{n:02}"));
    let lid = json!({"name": "Lid", "surface_kind": "finished-built", "observed_at": "2031-05-03T12:00:00Z",
        "level_m": "4.200", "sigma_v_mm": "3", "by": PERSON, "id": id(1)});
    let pit = json!({"area": "pit", "ring": [["431040", "5093010"], ["431042", "5093010"], ["431042", "5093012"]],
        "services": null, "method": "hand pit", "level_m": "2.5", "outcome": "all-found-recorded",
        "observed_at": "2031-05-03", "by": PERSON, "id": id(2)});
    let rules = json!({"id": "gb-site-practice", "confirmed": [], "by": PERSON, "entry_id": id(3)});
    let note = json!({"text": "pit lid is loose", "by": PERSON, "id": id(4)});
    // What was recorded above is taken back by the id of its entry.
    let withdrawal = json!({"entry": id(1), "reason": "wrong lid", "by": PERSON, "id": id(5)});
    let kept = with(
        with(with(trench(), "keep", true.into()), "by", PERSON.into()),
        "id",
        id(6),
    );
    let sheet = json!({"kind": "dig", "paper": "A4", "question": trench(), "by": PERSON, "id": id(7)});
    let sent = [
        ("surfaces", lid, ("level_m", json!("4.300"))),
        ("searched", pit, ("method", json!("another"))),
        ("rules", rules, ("left_out", json!(["nothing-of-that-name"]))),
        ("notes", note, ("text", json!("it is not"))),
        ("withdraw", withdrawal, ("reason", json!("another"))),
        ("dig", kept, ("depth_m", json!(1.0))),
        ("sheet", sheet, ("paper", json!("A3"))),
    ];
    let mut again = Vec::new();
    for (route, body, other) in &sent {
        let before = demo.head();
        let first = demo.post(&format!("SITE/{route}"), body).await;
        let told = String::from_utf8_lossy(&first.bytes).into_owned();
        assert_eq!(first.status, StatusCode::OK, "{route}: {told}");
        assert_ne!(demo.head(), before, "{route}");
        again.push((route, body, other, first));
    }
    // All of them once more when the book has gone on, as a phone does that came out of a tunnel.
    let head = demo.head();
    for (route, body, (name, value), first) in again {
        let path = format!("SITE/{route}");
        let second = demo.post(&path, body).await;
        assert_eq!(second.status, StatusCode::OK, "{route}");
        if *route == "dig" || *route == "sheet" {
            assert!(
                second.bytes == first.bytes,
                "{route}: what was issued comes again"
            );
        }
        let other = with((*body).clone(), name, value.clone());
        let refused = demo.post(&path, &other).await;
        assert_eq!(
            (refused.status, &refused.json()["code"]),
            (StatusCode::CONFLICT, &json!("same-id")),
            "{route} with other content"
        );
        let nobody = with((*body).clone(), "by", "Somebody Else".into());
        assert_eq!(
            demo.post(&path, &nobody).await.status,
            StatusCode::CONFLICT,
            "{route} by another"
        );
        assert_eq!(demo.head(), head, "{route}");
    }
    assert_eq!(demo.get("SITE/verify").await.json()["holds"], true);
}

#[tokio::test]
async fn a_write_that_cannot_be_shown_is_not_told_as_refused() {
    let demo = Demo::new();
    let points = "point,easting,northing,level,touched,sigma_h_mm,sigma_v_mm,known\n\
        T1,431040.000,5093010.000,3.200,outside-top,5,3,seen\n\
        T2,431045.000,5093010.000,3.190,outside-top,5,3,seen\n";
    let imported = demo.import("as=points&file=t.csv&by=Tess", points).await;
    assert_eq!(imported.status, StatusCode::OK);
    let run = json!({
        "run": "T", "service": "gas", "points": ["T1", "T2"], "section": {"outside_mm": "63"},
        "ends": [{"how": "capped"}, {"how": "capped"}], "by": PERSON, "id": "01900000-0000-7000-8000-000000000201"
    });
    assert_eq!(demo.post("SITE/runs", &run).await.status, StatusCode::OK);
    let laid = demo.head();
    let n = laid.split(':').next().unwrap();
    let withdrawal = json!({"entry": run["id"], "reason": "another trench", "by": PERSON});
    assert_eq!(
        demo.post("SITE/withdraw", &withdrawal).await.status,
        StatusCode::OK
    );
    // Sent again it is in the book, and there is no such run to show.
    let again = demo.post("SITE/runs", &run).await;
    assert_eq!(again.json()["code"], "recorded");
    assert!(
        again.status.is_server_error(),
        "a page takes only those as not known"
    );
    let message = again.json()["message"].as_str().unwrap().to_owned();
    assert!(
        message.starts_with(&format!("recorded as entry {n}")),
        "{message}"
    );
}

#[tokio::test]
async fn large_imports_take_turns_and_small_ones_do_not_wait() {
    let demo = Demo::new();
    let header = "point,easting,northing,level,touched,note\n";
    let small = format!("{header}S1,431040.000,5093010.000,3.200,ground,x\n");
    let large = format!(
        "{header}L1,431040.000,5093010.000,3.200,ground,{}\n",
        "x".repeat(1 << 20)
    );
    let places = Arc::clone(&demo.limits.imports);
    let all = places.available_permits();
    let taken = places.clone().acquire_many_owned(all as u32).await.unwrap();
    let before = demo.head();
    let refused = demo.import("as=points&file=l.csv&dry_run=1", &large).await;
    assert_eq!(
        (refused.status, &refused.json()["code"]),
        (StatusCode::TOO_MANY_REQUESTS, &json!("busy"))
    );
    assert_eq!(demo.head(), before);
    assert_eq!(
        demo.import("as=points&file=s.csv&by=Tess", &small).await.status,
        StatusCode::OK
    );
    drop(taken);
    let shown = demo.import("as=points&file=l.csv&dry_run=1", &large).await;
    assert_ne!(shown.status, StatusCode::TOO_MANY_REQUESTS);
    assert_eq!(places.available_permits(), all, "the place is given back");
}

#[tokio::test]
async fn no_more_pages_listen_than_there_are_places() {
    let demo = Demo::new();
    let places = Arc::clone(&demo.limits.listeners);
    let all = places.available_permits();
    let taken = places.clone().acquire_many_owned(all as u32).await.unwrap();
    let refused = demo.get("SITE/events").await;
    assert_eq!(
        (refused.status, &refused.json()["code"]),
        (StatusCode::TOO_MANY_REQUESTS, &json!("busy"))
    );
    drop(taken);
    let listening = demo.open("SITE/events").await;
    assert_eq!(listening.status(), StatusCode::OK);
    assert_eq!(places.available_permits(), all - 1);
    drop(listening);
    for _ in 0..200 {
        if places.available_permits() == all {
            return;
        }
        tokio::time::sleep(std::time::Duration::from_millis(10)).await;
    }
    panic!("a page that went away still takes a place");
}

/// The clock is read between a dig and the rest of its sheet: there another program writes.
#[test]
fn a_sheet_is_of_one_moment_though_the_book_goes_on_meanwhile() {
    let folder = tempfile::tempdir().unwrap();
    let store = Arc::new(SqliteStore::open_or_create(&common::register_in(&folder), Access::Serve).unwrap());
    let other = Arc::new(Register::new(store.clone(), system_clock()));
    let site: Uuid = coverbook::demo::load(&other, &mut |_| {}).unwrap();
    let author = Author {
        by: PERSON.into(),
        device: "test".into(),
    };
    let armed = Arc::new(AtomicBool::new(false));
    let clock = {
        let (armed, other, author) = (armed.clone(), other.clone(), author.clone());
        Box::new(move || {
            if armed.swap(false, Ordering::SeqCst) {
                other
                    .note(site, "written meanwhile", None, &author, None)
                    .unwrap();
            }
            system_clock()()
        })
    };
    let register = Register::new(store, clock);
    register.warm().unwrap();
    let ask = SheetAsk {
        paper: sheets::Paper::A4,
        question: serde_json::from_value::<DigQuestion>(trench()).unwrap(),
        recheck_by: None,
        emergency: None,
    };
    armed.store(true, Ordering::SeqCst);
    let made = register.dig_sheet(site, &ask, Some(&author), None).unwrap();
    assert!(!armed.load(Ordering::SeqCst), "nothing was written meanwhile");
    let entry = made.receipt.unwrap().entries[0];
    let book = serde_json::to_value(register.journal(site, None, 2).unwrap()).unwrap();
    assert_eq!(book["entries"][1]["kind"], "NoteAdded");
    let rests_on = book["entries"][0]["body"]["head"].as_str().unwrap().to_owned();
    assert!(
        rests_on.starts_with(&format!("{}:", entry - 1)),
        "sheet {entry} rests on {rests_on}"
    );
}

/// The clock is read between the head and the write: there another program writes, every time.
#[test]
fn a_write_given_up_leaves_no_name_behind() {
    let folder = tempfile::tempdir().unwrap();
    let file = common::register_in(&folder);
    let store = Arc::new(SqliteStore::open_or_create(&file, Access::Serve).unwrap());
    let other = Arc::new(Register::new(store.clone(), system_clock()));
    let site: Uuid = coverbook::demo::load(&other, &mut |_| {}).unwrap();
    let author = |by: &str| Author {
        by: by.into(),
        device: "test".into(),
    };
    let clock = {
        let (other, busy) = (other.clone(), author(PERSON));
        Box::new(move || {
            other.note(site, "written meanwhile", None, &busy, None).unwrap();
            system_clock()()
        })
    };
    let register = Register::new(store, clock);
    let refused = register.note(site, "too late", None, &author("Nora New"), None);
    assert_eq!(refused.unwrap_err().code(), "busy");
    let beside = rusqlite::Connection::open(file).unwrap();
    let count = |name: &str| -> u32 {
        let sql = "select count(*) from person where name = ?1";
        beside.query_row(sql, [name], |row| row.get(0)).unwrap()
    };
    assert_eq!((count(PERSON), count("Nora New")), (1, 0));
}

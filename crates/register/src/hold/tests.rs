//! The list of a hold point against records made for it: each item is turned from open to passing and back.

use super::*;
use crate::body::{
    Act, CoverReleased, EntryCorrected, EntryWithdrawn, ExpectedRow, FileAttached, ReleaseWithdrawn,
    ResultIssued, RulesAdopted, RunsExpected,
};
use crate::check::tests::{rules, sure_surface};
use crate::service::Service;
use crate::site::station_tests::{check_of_c4, shoot, shot, with_station};
use crate::site::tests::{Book, decimal, point, run};
use crate::words::{ReleaseOutcome, SearchOutcome, Touched};

const RING: [[&str; 2]; 4] = [
    ["430995", "5711995"],
    ["431015", "5711995"],
    ["431015", "5712005"],
    ["430995", "5712005"],
];

fn question() -> HoldQuestion {
    HoldQuestion {
        area: "pour 1".into(),
        ring: Some(RING.iter().map(|[e, n]| [decimal(e), decimal(n)]).collect()),
        ..HoldQuestion::default()
    }
}

fn nobody(_: Uuid) -> String {
    "Ada Quill".into()
}

fn list(book: &Book) -> HoldAnswer {
    book.site
        .hold(&question(), &[], "2031-05-03T09:00:00Z", &nobody)
        .unwrap()
}

fn state(book: &Book, key: &str) -> Option<HoldState> {
    let answer = list(book);
    let item = answer.items.iter().find(|item| item.key == key);
    item.map(|item| item.state)
}

fn photo(book: &mut Book, about: &str, file: &str) {
    book.write(Act::FileAttached(FileAttached {
        file: file.into(),
        sha256: "00".repeat(32),
        bytes: 3,
        about: about.into(),
    }))
    .unwrap();
}

fn expect(book: &mut Book, runs: &[&str]) {
    let row = |run: &&str| ExpectedRow {
        run: run.to_string(),
        service: Service::ElectricLv,
        from: None,
        to: None,
        size_mm: None,
        count: None,
    };
    book.write(Act::RunsExpected(RunsExpected {
        import: None,
        runs: runs.iter().map(row).collect(),
    }))
    .unwrap();
}

#[test]
fn every_item_turns_with_the_record_and_missing_is_never_a_pass() {
    use HoldState::{Fails, NeedsReason, Passes};
    let mut book = Book::with_a_run();
    for key in [
        "expected", "surface", "rules", "searched", "readings", "photo:E1", "cover:E1",
    ] {
        assert_eq!(state(&book, key), Some(NeedsReason), "{key}");
    }
    assert_eq!(state(&book, "known:E1"), Some(Passes));
    assert_eq!(state(&book, "end:E1"), Some(Passes));

    expect(&mut book, &["E1", "E2"]);
    assert_eq!(state(&book, "expected:E2"), Some(Fails));
    assert_eq!(state(&book, "expected:recorded"), Some(Passes));

    // Outside top 9.500: 0.320 m below 9.820, at 95 % less by 1.960 x (2 + 5) mm; 0.300 is the minimum.
    sure_surface(&mut book, "9.820");
    assert_eq!(state(&book, "surface"), Some(Passes));
    assert_eq!(state(&book, "cover:E1"), Some(NeedsReason));
    book.write(rules(0.3, 0.0)).unwrap();
    assert_eq!(state(&book, "rules"), Some(Passes));
    assert_eq!(state(&book, "cover:E1"), Some(Passes));
    sure_surface(&mut book, "9.790");
    let answer = list(&book);
    let cover = answer.items.iter().find(|item| item.key == "cover:E1").unwrap();
    assert_eq!(cover.state, Fails);
    assert!(cover.says.contains("0.290 m"), "{}", cover.says);
    assert_eq!(cover.at.unwrap()[1].text(), "5712000.000");
    assert_eq!(answer.verdict, HoldVerdict::Open);

    photo(&mut book, "E1", "list.csv");
    assert_eq!(state(&book, "photo:E1"), Some(NeedsReason));
    photo(&mut book, "E1", "Trench.JPG");
    assert_eq!(state(&book, "photo:E1"), Some(Passes));
    let entry = book.newest();
    book.write(Act::EntryWithdrawn(EntryWithdrawn {
        entry,
        reason: "another trench".into(),
    }))
    .unwrap();
    assert_eq!(state(&book, "photo:E1"), Some(NeedsReason));

    let half = [
        ["430995", "5711990"],
        ["431005", "5711990"],
        ["431005", "5712010"],
        ["430995", "5712010"],
    ];
    book.search(half, "8.0", SearchOutcome::AllFoundRecorded);
    let says = list(&book)
        .items
        .into_iter()
        .find(|i| i.code == "searched")
        .unwrap();
    // Half of the outline, less 95 % of 10 mm along the edge: 9.9755 of 20 m, rounded down.
    assert!(says.says.starts_with("49 %"), "{}", says.says);
    let more = [
        ["430990", "5711990"],
        ["431020", "5711990"],
        ["431020", "5712010"],
        ["430990", "5712010"],
    ];
    book.search(more, "8.0", SearchOutcome::SomeNotRecorded);
    assert_eq!(state(&book, "searched"), Some(NeedsReason));
    book.search(more, "8.0", SearchOutcome::AllFoundRecorded);
    assert_eq!(state(&book, "searched"), Some(Passes));
}

#[test]
fn the_outline_takes_in_what_may_lie_in_it_and_nothing_else() {
    let mut book = Book::with_a_run();
    book.points(vec![
        point("3", "431015.020", "5711900", "9.5", Touched::OutsideTop),
        point("4", "431015.020", "5712100", "9.5", Touched::OutsideTop),
        point("5", "431015.040", "5711900", "9.5", Touched::OutsideTop),
        point("6", "431015.040", "5712100", "9.5", Touched::OutsideTop),
    ])
    .unwrap();
    // 20 mm outside the edge: the radius of 25 mm reaches in. 40 mm outside: 25 mm and 95 % of 3 mm do not.
    for (name, points) in [("IN", ["3", "4"]), ("OUT", ["5", "6"])] {
        book.write(Act::RunLaid(run(name, Service::ElectricLv, &points, "50.0")))
            .unwrap();
    }
    assert_eq!(list(&book).runs, ["E1", "IN"]);
    let everything = HoldQuestion {
        area: "all".into(),
        ..HoldQuestion::default()
    };
    let answer = book
        .site
        .hold(&everything, &[], "2031-05-03T09:00:00Z", &nobody)
        .unwrap();
    assert_eq!(answer.runs, ["E1", "IN", "OUT"]);
    let named = HoldQuestion {
        runs: vec!["OUT".into()],
        ..question()
    };
    let answer = book
        .site
        .hold(&named, &[], "2031-05-03T09:00:00Z", &nobody)
        .unwrap();
    assert_eq!(answer.runs, ["E1", "IN", "OUT"]);
}

#[test]
fn a_reason_is_taken_for_an_open_item_and_for_no_other() {
    let mut book = Book::with_a_run();
    photo(&mut book, "E1", "trench.jpg");
    let ask = |item: &str, reason: &str| {
        let accepted = [Accepted {
            item: item.into(),
            reason: reason.into(),
        }];
        book.site
            .hold(&question(), &accepted, "2031-05-03T09:00:00Z", &nobody)
    };
    let answer = ask("rules", "judged by the engineer, letter of 2 May").unwrap();
    let rules = answer.items.iter().find(|item| item.key == "rules").unwrap();
    assert_eq!(
        rules.accepted.as_deref(),
        Some("judged by the engineer, letter of 2 May")
    );
    assert!(ask("rules", " ").unwrap_err().says.contains("blank"));
    assert!(
        ask("photo:E1", "why")
            .unwrap_err()
            .says
            .contains("no item of that name is open")
    );
    assert!(ask("cover:E7", "why").unwrap_err().says.contains("cover:E1"));
}

fn released(book: &Book, outcome: ReleaseOutcome) -> CoverReleased {
    CoverReleased {
        area: "pour 1".into(),
        ring: question().ring,
        runs: vec!["E1".into()],
        outcome,
        accepted: vec![Accepted {
            item: "rules".into(),
            reason: "judged by the engineer".into(),
        }],
        statement: None,
        result: ResultIssued {
            question: "{}".into(),
            answer: "{}".into(),
            engine: "test".into(),
            rules_sha256: None,
            head: book.site.head_text(),
        },
    }
}

#[test]
fn a_release_holds_for_the_record_it_saw_and_later_changes_stand_beside_it() {
    let mut book = Book::with_a_run();
    let release = released(&book, ReleaseOutcome::WithExceptions);
    expect(&mut book, &["E1"]);
    let stale = book.write(Act::CoverReleased(Box::new(release))).unwrap_err();
    assert!(stale.says.contains("look at the list as it is now"), "{stale}");
    let plain = released(&book, ReleaseOutcome::Released);
    let refusal = book.write(Act::CoverReleased(Box::new(plain))).unwrap_err();
    assert!(refusal.says.contains("released with exceptions"), "{refusal}");

    let release = released(&book, ReleaseOutcome::WithExceptions);
    book.write(Act::CoverReleased(Box::new(release))).unwrap();
    let id = book.newest();
    let shown = |book: &Book| list(book).releases[0].clone();
    assert!(shown(&book).changed.is_empty());
    assert!(
        shown(&book).says.contains("Ada Quill on 2031-05-03"),
        "{}",
        shown(&book).says
    );

    let entry = book
        .site
        .entries
        .iter()
        .find(|(_, mark)| mark.n == 2)
        .map(|(id, _)| *id)
        .unwrap();
    book.write(Act::EntryCorrected(EntryCorrected {
        entry,
        reason: "the pole had sunk".into(),
        points: vec![point(
            "1",
            "431000.000",
            "5712000.000",
            "9.480",
            Touched::OutsideTop,
        )],
    }))
    .unwrap();
    book.points(vec![
        point("7", "431001", "5712001", "9.5", Touched::OutsideTop),
        point("8", "431002", "5712001", "9.5", Touched::OutsideTop),
    ])
    .unwrap();
    book.write(Act::RunLaid(run("NEW", Service::Water, &["7", "8"], "50.0")))
        .unwrap();
    let changed = shown(&book).changed.join("; ");
    assert!(
        changed.contains("1 point of run E1 moved, by 0.000 m in plan and 0.020 m in level at most"),
        "{changed}"
    );
    assert!(
        changed.contains("run NEW came into the area by entry 8"),
        "{changed}"
    );
    let card = book.site.run_card("E1", None, &nobody).unwrap();
    assert!(card.releases[0].contains("changed since"), "{:?}", card.releases);

    let withdraw = |reason: &str| {
        Act::ReleaseWithdrawn(ReleaseWithdrawn {
            release: id,
            reason: reason.into(),
        })
    };
    assert!(book.write(withdraw(" ")).is_err());
    book.write(withdraw("the run was moved")).unwrap();
    assert_eq!(shown(&book).withdrawn.as_deref(), Some("the run was moved"));
    assert!(book.write(withdraw("again")).is_err());
}

#[test]
fn what_a_release_rests_on_is_told_when_it_changes() {
    let mut book = Book::with_a_run();
    sure_surface(&mut book, "9.820");
    let floor = book.newest();
    let whole = CoverReleased {
        ring: None,
        ..released(&book, ReleaseOutcome::WithExceptions)
    };
    book.write(Act::CoverReleased(Box::new(whole))).unwrap();
    let changed = |book: &Book| book.site.release_views(&nobody)[0].changed.join("; ");
    assert_eq!(changed(&book), "");
    book.write(rules(0.5, 0.0)).unwrap();
    assert!(
        changed(&book).contains("another rule set was adopted by entry 6"),
        "{}",
        changed(&book)
    );
    expect(&mut book, &["E9"]);
    assert!(
        changed(&book).contains("expected were stated anew by entry 7"),
        "{}",
        changed(&book)
    );
    book.write(Act::EntryWithdrawn(EntryWithdrawn {
        entry: floor,
        reason: "another floor".into(),
    }))
    .unwrap();
    let says = changed(&book);
    assert!(
        says.contains("entry 4 (SurfaceRecorded) was withdrawn by entry 8: another floor"),
        "{says}"
    );
    // The release was for the whole site, so a run laid anywhere later came into it.
    book.points(vec![
        point("7", "431101", "5712001", "9.5", Touched::OutsideTop),
        point("8", "431102", "5712001", "9.5", Touched::OutsideTop),
    ])
    .unwrap();
    book.write(Act::RunLaid(run("FAR", Service::Water, &["7", "8"], "50.0")))
        .unwrap();
    assert!(
        changed(&book).contains("run FAR came into the area by entry 10"),
        "{}",
        changed(&book)
    );
}

#[test]
fn stations_their_checks_and_what_they_leave_suspect_are_items() {
    use HoldState::{Fails, NeedsReason, Passes};
    let mut book = with_station();
    let site = book.site.clone();
    let at = |e: f64| [431_000.0 + e, 5_712_000.0, 9.5];
    let rows = vec![shot(&site, "A", at(0.0)), shot(&site, "B", at(10.0))];
    shoot(&mut book, rows, Vec::new()).unwrap();
    book.write(Act::RunLaid(run("E1", Service::ElectricLv, &["A", "B"], "50.0")))
        .unwrap();
    assert_eq!(state(&book, "station:S1"), Some(Passes));
    assert_eq!(state(&book, "recheck:S1"), Some(NeedsReason));
    assert_eq!(state(&book, "readings"), None);
    // A point taped from shot ones hangs on their station, however it lies on the run.
    let checks = vec![check_of_c4(&site, 0, 0.0)];
    shoot(&mut book, Vec::new(), checks).unwrap();
    assert_eq!(state(&book, "recheck:S1"), Some(Passes));
    let checks = vec![check_of_c4(&site, 1, 0.05)];
    shoot(&mut book, vec![shot(&site, "C", at(11.0))], checks).unwrap();
    assert_eq!(state(&book, "recheck:S1"), Some(Fails));
    // C alone was shot since the last good check, and it is on no run here.
    assert_eq!(state(&book, "suspect:S1"), None);
    book.write(Act::RunLaid(run("E2", Service::ElectricLv, &["B", "C"], "50.0")))
        .unwrap();
    assert_eq!(state(&book, "suspect:S1"), Some(Fails));
    assert_eq!(state(&book, "cover:E2"), Some(NeedsReason));
}

#[test]
fn runs_too_near_each_other_are_an_item_with_its_place() {
    use HoldState::{Fails, NeedsReason};
    let mut book = Book::with_a_run();
    book.points(vec![
        point("3", "431000.000", "5712000.120", "9.500", Touched::OutsideTop),
        point("4", "431010.000", "5712000.120", "9.500", Touched::OutsideTop),
    ])
    .unwrap();
    book.write(Act::RunLaid(run("W1", Service::Water, &["3", "4"], "50.0")))
        .unwrap();
    assert_eq!(state(&book, "separation:no-figure"), Some(NeedsReason));
    let cited = "source = \"site decision\"\nedition = \"1\"\nclause = \"c\"\nstatus = \"seen\"";
    book.write(Act::RulesAdopted(RulesAdopted {
        text: format!(
            "format = \"coverbook.rules/1\"\nid = \"own\"\ntitle = \"own\"\njurisdiction = \"this site\"\n\
             [[separation]]\nid = \"s\"\nbetween = [[\"electric-lv\"], [\"water\"]]\nwhere = \"anywhere\"\n\
             measure = \"3d\"\nminimum_m = 0.1\n{cited}\n"
        ),
        confirmed: Vec::new(),
        left_out: Vec::new(),
    }))
    .unwrap();
    // Axes 0.120 m apart, 25 mm each: 0.070 m between the outsides, where 0.100 m is asked.
    let answer = list(&book);
    let item = answer
        .items
        .iter()
        .find(|item| item.code == "separation")
        .unwrap();
    assert_eq!((item.key.as_str(), item.state), ("separation:E1:W1", Fails));
    assert!(item.says.contains("0.070 m"), "{}", item.says);
    assert!(item.at.is_some());
}

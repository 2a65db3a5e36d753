//! The certificate of a hold point: what was decided stands on it whole, and what came after is louder.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

mod fixture;

use coverbook_sheets::{CertificateInput, Paper, certificate};
use register::view::{HeadView, HoldAnswer, HoldItem, Near, ReleaseView, Why};
use register::words::{HoldState, HoldVerdict, ReleaseOutcome};

fn item(code: &str, about: &str, state: HoldState, says: &str, accepted: Option<&str>) -> HoldItem {
    HoldItem {
        key: format!("{code}:{about}"),
        code: code.into(),
        about: about.into(),
        state,
        says: says.into(),
        at: None,
        accepted: accepted.map(Into::into),
    }
}

fn answer() -> HoldAnswer {
    let ring = [
        [431_000.0, 5_712_000.0],
        [431_020.0, 5_712_000.0],
        [431_020.0, 5_712_010.0],
    ];
    let known = |run: &str| item("known", run, HoldState::Passes, "known as seen", None);
    HoldAnswer {
        format: "coverbook.hold/1".into(),
        site: "Skerry Quay".into(),
        head: HeadView {
            n: 41,
            hex: "ab".repeat(32),
            recorded_at: None,
        },
        as_at: "2031-05-03T09:00:00Z".into(),
        area: "Pour 3".into(),
        ring: ring.iter().map(|c| c.map(Near)).collect(),
        runs: vec!["E1".into(), "E2".into()],
        below: None,
        rules: None,
        verdict: HoldVerdict::WithReasons,
        says: "2 runs: 1 item stands on a reason, 2 items pass.".into(),
        items: vec![
            item(
                "cover",
                "E2",
                HoldState::Fails,
                "cover short by 12 mm",
                Some("engineer agreed"),
            ),
            known("E1"),
            known("E2"),
        ],
        releases: Vec::new(),
        why: Why::from([("below".into(), "no surface is recorded".into())]),
        cautions: Vec::new(),
    }
}

fn release() -> ReleaseView {
    ReleaseView {
        entry: 42,
        id: "0".into(),
        area: "Pour 3".into(),
        ring: Vec::new(),
        runs: vec!["E1".into(), "E2".into()],
        outcome: ReleaseOutcome::WithExceptions,
        by: "Ada Quill".into(),
        observed_at: "2031-05-03T09:01:00Z".into(),
        accepted: 1,
        says: "released-with-exceptions by Ada Quill on 2031-05-03".into(),
        changed: Vec::new(),
        withdrawn: None,
    }
}

/// Every text of the certificate, lines joined by blanks.
fn texts(answer: &HoldAnswer, release: &ReleaseView, statement: Option<&str>) -> (Vec<String>, Vec<u8>) {
    let made = fixture::rich();
    let input = CertificateInput {
        answer,
        release,
        statement,
        site: &made.site,
        map: &made.map,
        engine: "coverbook test",
        printed_at: "2031-05-04T07:00:00Z",
    };
    let sheet = certificate(&input, Paper::A4).unwrap();
    let pages = sheet.pages.iter().map(|page| {
        let lines: Vec<&str> = page.texts().map(|(_, text)| text.text.as_str()).collect();
        lines.join(" ")
    });
    (pages.collect(), sheet.pdf().unwrap())
}

#[test]
fn the_decision_its_exceptions_and_what_it_rests_on_stand_on_it() {
    let (pages, pdf) = texts(&answer(), &release(), Some("Poured in two lifts."));
    let all = pages.join(" ");
    for wanted in [
        "RELEASED WITH EXCEPTIONS",
        "Ada Quill",
        "cover short by 12 mm",
        "Reason: engineer agreed",
        "E1, E2",
        "Poured in two lifts.",
        "none adopted",
        "no surface is recorded",
        "local codes, inspection and licensed practice govern",
        &format!("41:{}", "ab".repeat(32)),
    ] {
        assert!(all.contains(wanted), "{wanted}: {all}");
    }
    assert!(!all.contains("WITHDRAWN"));
    for (i, page) in pages.iter().enumerate() {
        let count = format!("sheet {} of {}", i + 1, pages.len());
        assert!(page.contains(&count), "{page}");
    }
    let (_, again) = texts(&answer(), &release(), Some("Poured in two lifts."));
    assert!(pdf == again, "the same certificate is not the same bytes");
    let words = all.to_lowercase();
    assert!(!words.contains("safe") && !words.contains("all clear"), "{words}");
}

#[test]
fn what_came_after_a_release_is_said_first() {
    let changed = ReleaseView {
        changed: vec!["run E1 was changed by entry 50".into()],
        ..release()
    };
    let (pages, _) = texts(&answer(), &changed, None);
    assert!(
        pages[0].contains("which it did not see: run E1 was changed by entry 50"),
        "{}",
        pages[0]
    );
    let withdrawn = ReleaseView {
        withdrawn: Some("E1 was moved".into()),
        ..changed
    };
    let (pages, _) = texts(&answer(), &withdrawn, None);
    let (gone, decided) = (
        pages[0].find("WITHDRAWN: E1 was moved"),
        pages[0].find("RELEASED"),
    );
    assert!(gone.unwrap() < decided.unwrap());
}

#[test]
fn every_item_of_a_long_list_is_printed_over_as_many_sheets_as_it_needs() {
    let items = (0..300).map(|i| {
        item(
            "cover",
            &format!("R{i:03}"),
            HoldState::NeedsReason,
            &format!("found {i:03}"),
            None,
        )
    });
    let long = HoldAnswer {
        items: items.collect(),
        ..answer()
    };
    let (pages, _) = texts(&long, &release(), None);
    let all = pages.join(" ");
    for i in 0..300 {
        assert!(all.contains(&format!("found {i:03}")), "item {i}");
    }
    assert!(pages.len() > 3);
}

use crate::body::{Act, PointRow, RulesAdopted, RunEnd, RunLaid};
use crate::rules::SHIPPED;
use crate::service::Service;
use crate::site::tests::{Book, point, run};
use crate::view::{SeparationAnswer, SeparationPlace};
use crate::words::{CheckVerdict, SeparationVerdict, Touched};
use std::sync::Arc;

const CITED: &str =
    "source = \"site decision\"\nedition = \"1\"\nclause = \"c\"\nstatus = \"seen\"\nwhere = \"anywhere\"";

fn adopt(book: &mut Book, text: String, confirmed: &[&str]) {
    book.write(Act::RulesAdopted(RulesAdopted {
        text,
        confirmed: confirmed.iter().map(|id| id.to_string()).collect(),
        left_out: vec![],
    }))
    .unwrap();
}

/// Figures between two services, each a measure and a minimum.
fn figures(between: &str, all: &[(&str, f64)]) -> String {
    let mut text =
        "format = \"coverbook.rules/1\"\nid = \"own\"\ntitle = \"own\"\njurisdiction = \"this site\"\n"
            .to_string();
    for (i, (measure, minimum_m)) in all.iter().enumerate() {
        text += &format!(
            "[[separation]]\nid = \"s{i}\"\nbetween = {between}\nmeasure = \"{measure}\"\nminimum_m = {minimum_m}\n{CITED}\n"
        );
    }
    text
}

/// A run through points on its axis, metres from the corner of the site, sigma 3 mm in plan and 2 mm in level.
fn lay(book: &mut Book, name: &str, service: Service, at: &[(f64, f64, f64)], outside_mm: &str) {
    lay_as(book, name, service, at, outside_mm, |_, _| {});
}

fn lay_as(
    book: &mut Book,
    name: &str,
    service: Service,
    at: &[(f64, f64, f64)],
    outside_mm: &str,
    change: impl Fn(&mut Vec<PointRow>, &mut RunLaid),
) {
    let mut points: Vec<PointRow> = (at.iter().enumerate())
        .map(|(i, (e, n, z))| {
            let (e, n) = (format!("{:.3}", 431_000.0 + e), format!("{:.3}", 5_712_000.0 + n));
            point(
                &format!("{name}-{i}"),
                &e,
                &n,
                &format!("{z:.4}"),
                Touched::Centre,
            )
        })
        .collect();
    let labels: Vec<String> = points.iter().map(|p| p.point.clone()).collect();
    let names: Vec<&str> = labels.iter().map(String::as_str).collect();
    let mut laid = run(name, service, &names, outside_mm);
    change(&mut points, &mut laid);
    book.points(points).unwrap();
    book.write(Act::RunLaid(laid)).unwrap();
}

fn check(book: &Book) -> SeparationAnswer {
    book.site.check_cover(None, None).unwrap().separation
}

fn only(book: &Book) -> SeparationPlace {
    let answer = check(book);
    assert_eq!(answer.places.len(), 1, "{}: {:#?}", answer.says, answer.places);
    answer.places[0].clone()
}

/// Water square over a sewer, axes `apart_m` in level: 80 mm and 31.5 mm are the radii.
fn crossing(apart_m: f64) -> Book {
    let mut book = Book::opened();
    lay(
        &mut book,
        "S1",
        Service::Sewer,
        &[(0.0, -5.0, 9.0), (0.0, 5.0, 9.0)],
        "160",
    );
    lay(
        &mut book,
        "W1",
        Service::Water,
        &[(-5.0, 0.0, 9.0 + apart_m), (5.0, 0.0, 9.0 + apart_m)],
        "63",
    );
    book
}

/// Closed form: 0.6 m less both radii is 0.4885 m; both uncertainties off, 2 x 1.959964 x 2 mm, it is 0.480660 m.
#[track_caller]
fn verdict_at(minimum_m: f64, expected: SeparationVerdict) {
    let mut book = crossing(0.6);
    adopt(
        &mut book,
        figures("[[\"water\"], [\"sewer\"]]", &[("vertical-crossing", minimum_m)]),
        &[],
    );
    let place = only(&book);
    assert_eq!(place.verdict, expected, "{}", place.says);
    assert!((place.vertical_gap_m.unwrap().0 - 0.4885).abs() < 1e-5);
    let worst = place.worst_vertical_gap_m.unwrap().0;
    assert!(worst <= 0.480_661 && worst > 0.480_560, "{worst}");
    assert_eq!(
        (place.kind.as_str(), place.above.as_deref()),
        ("crossing", Some("W1"))
    );
    assert_eq!(place.rule.id.as_deref(), Some("s0"));
    let at = &place.at["vertical_gap_m"];
    assert_eq!(
        at.chainage_m.iter().map(|c| c.text()).collect::<Vec<_>>(),
        ["5.000", "5.000"]
    );
    assert_eq!(place.place[0].text(), "431000.000");
}

#[test]
fn a_crossing_is_met_only_when_its_worst_case_is() {
    verdict_at(0.480, SeparationVerdict::Met);
    verdict_at(0.481, SeparationVerdict::NotProved);
    verdict_at(0.488, SeparationVerdict::NotProved);
    verdict_at(0.489, SeparationVerdict::Short);
}

#[test]
fn no_figure_is_not_proved_and_never_a_pass() {
    let mut book = crossing(1.5);
    let bare = check(&book);
    assert_eq!(
        (bare.verdict, bare.places[0].verdict),
        (SeparationVerdict::NotProved, SeparationVerdict::NotProved)
    );
    assert_eq!(bare.places[0].rule.source, "no rule adopted");
    assert!(bare.says.contains("no separation is proved"), "{}", bare.says);
    // A set that speaks of others only.
    adopt(
        &mut book,
        figures("[[\"gas\"], [\"sewer\"]]", &[("3d", 0.3)]),
        &[],
    );
    let silent = check(&book);
    assert_eq!(silent.places[0].verdict, SeparationVerdict::NotProved);
    assert!(
        silent.places[0]
            .says
            .contains("no figure of the adopted rule set speaks of it")
    );
    assert_eq!(silent.without_figure, [["water", "sewer"]]);
    assert_eq!(
        book.site.check_cover(None, None).unwrap().verdict,
        CheckVerdict::NotProved
    );
    // Far apart and without a figure: no place to tell, and still no pass.
    let mut far = Book::opened();
    lay(
        &mut far,
        "S1",
        Service::Sewer,
        &[(0.0, 0.0, 9.0), (0.0, 5.0, 9.0)],
        "160",
    );
    lay(
        &mut far,
        "G1",
        Service::Gas,
        &[(50.0, 0.0, 9.0), (50.0, 5.0, 9.0)],
        "63",
    );
    let far = check(&far);
    assert_eq!((far.places.len(), far.verdict), (0, SeparationVerdict::NotProved));
}

#[test]
fn a_figure_that_nobody_saw_counts_only_once_confirmed() {
    let text = SHIPPED.iter().find(|s| s.id == "au-nz-separation").unwrap().text;
    let mut book = Book::opened();
    lay(
        &mut book,
        "E1",
        Service::ElectricLv,
        &[(0.0, 0.0, 9.0), (9.0, 0.0, 9.0)],
        "50",
    );
    lay(
        &mut book,
        "G1",
        Service::Gas,
        &[(0.0, 0.12, 9.0), (9.0, 0.12, 9.0)],
        "50",
    );
    adopt(&mut book, text.to_string(), &[]);
    let place = only(&book);
    assert_eq!(place.verdict, SeparationVerdict::NotProved);
    assert!(
        place.says.contains("confirm asnzs3000-other-services by name"),
        "{}",
        place.says
    );
    adopt(&mut book, text.to_string(), &["asnzs3000-other-services"]);
    let place = only(&book);
    // 120 mm between axes less 50 mm is 70 mm; AS/NZS 3000 cl. 3.11.5, seen quoted, asks 100 mm.
    assert_eq!(
        (place.verdict, place.gap_m.text()),
        (SeparationVerdict::Short, "0.070".into())
    );
    assert!(
        place.says.contains("unless the wiring is separately enclosed"),
        "{}",
        place.says
    );
    assert_eq!(check(&book).verdict, SeparationVerdict::Short);
}

/// 10 NYCRR Appendix 75-A.5 (seen): 10 ft beside; crossing 12 in with the water above, 18 in with it below.
#[test]
fn which_lies_above_decides_which_figure_governs() {
    let text = SHIPPED
        .iter()
        .find(|s| s.id == "us-ny-water-separation")
        .unwrap()
        .text;
    for (apart_m, figure, verdict) in [
        (0.45, "ny-75a-water-above", SeparationVerdict::Met),
        (-0.45, "ny-75a-water-below", SeparationVerdict::Short),
        (-0.60, "ny-75a-water-below", SeparationVerdict::Met),
    ] {
        let mut book = crossing(apart_m);
        adopt(&mut book, text.to_string(), &[]);
        let place = only(&book);
        assert_eq!(
            (place.rule.id.as_deref(), place.verdict),
            (Some(figure), verdict),
            "{}",
            place.says
        );
    }
    // Sharing levels, neither is above and both figures are failed: the larger speaks.
    let mut book = crossing(0.05);
    adopt(&mut book, text.to_string(), &[]);
    let place = only(&book);
    assert_eq!(
        (place.above.as_deref(), place.verdict),
        (None, SeparationVerdict::Short)
    );
    assert_eq!(place.rule.id.as_deref(), Some("ny-75a-water-below"));
}

#[test]
fn a_distance_in_plan_is_asked_side_by_side_and_not_of_a_square_crossing() {
    let rules = figures(
        "[[\"water\"], [\"sewer\"]]",
        &[("horizontal", 3.0), ("vertical-crossing", 0.3)],
    );
    let mut book = crossing(0.6);
    adopt(&mut book, rules.clone(), &[]);
    assert_eq!(only(&book).measure.as_deref(), Some("vertical-crossing"));
    // Side by side 2 m apart in plan and 2 m lower: 2 m less both radii.
    let mut book = Book::opened();
    lay(
        &mut book,
        "S1",
        Service::Sewer,
        &[(0.0, 0.0, 7.0), (20.0, 0.0, 7.0)],
        "160",
    );
    lay(
        &mut book,
        "W1",
        Service::Water,
        &[(0.0, 2.0, 9.0), (20.0, 2.0, 9.0)],
        "63",
    );
    adopt(&mut book, rules.clone(), &[]);
    let place = only(&book);
    assert_eq!(
        (place.verdict, place.measure.as_deref()),
        (SeparationVerdict::Short, Some("horizontal"))
    );
    assert_eq!(place.horizontal_gap_m.text(), "1.888");
    assert!(place.why["vertical_gap_m"].contains("neither lies over the other"));
    // One over the other all along: the crossing is high enough, and they lie together.
    let mut book = Book::opened();
    lay(
        &mut book,
        "S1",
        Service::Sewer,
        &[(0.0, 0.0, 7.0), (20.0, 0.0, 7.0)],
        "160",
    );
    lay(
        &mut book,
        "W1",
        Service::Water,
        &[(0.0, 0.0, 9.0), (20.0, 0.0, 9.0)],
        "63",
    );
    adopt(&mut book, rules, &[]);
    let place = only(&book);
    assert_eq!(
        (place.verdict, place.measure.as_deref()),
        (SeparationVerdict::Short, Some("horizontal"))
    );
}

#[test]
fn what_a_figure_asks_besides_keeps_it_from_being_met() {
    let text = SHIPPED.iter().find(|s| s.id == "au-nz-separation").unwrap().text;
    let mut book = Book::opened();
    lay(
        &mut book,
        "S1",
        Service::Sewer,
        &[(0.0, 0.0, 9.0), (9.0, 0.0, 9.0)],
        "100",
    );
    lay(
        &mut book,
        "W1",
        Service::Water,
        &[(0.0, 0.3, 9.3), (9.0, 0.3, 9.3)],
        "50",
    );
    adopt(&mut book, text.to_string(), &[]);
    let place = only(&book);
    assert!(place.worst_horizontal_gap_m.unwrap().0 > 0.05);
    assert_eq!(place.verdict, SeparationVerdict::NotProved);
    assert!(place.says.contains("a person must see"), "{}", place.says);
}

/// A branch comes square onto a main, its end on the main's axis; a figure of 0.2 m holds between sewers.
fn branch(joined: bool, ruled: bool) -> Book {
    let mut book = Book::opened();
    lay(
        &mut book,
        "S1",
        Service::Sewer,
        &[(-9.0, 0.0, 9.0), (9.0, 0.0, 9.0)],
        "160",
    );
    lay_as(
        &mut book,
        "S2",
        Service::Sewer,
        &[(0.0, 6.0, 9.1), (0.0, 0.0, 9.0)],
        "110",
        |_, laid| {
            if joined {
                laid.ends[1] = RunEnd::Joins { run: "S1".into() };
            }
        },
    );
    if ruled {
        adopt(
            &mut book,
            figures("[[\"sewer\"], [\"sewer\"]]", &[("3d", 0.2)]),
            &[],
        );
    }
    book
}

#[test]
fn runs_of_one_service_that_join_are_no_conflict_at_the_joint() {
    let place = only(&branch(true, false));
    assert_eq!(place.verdict, SeparationVerdict::Joins);
    assert!(place.says.contains("within 0.5 m of the joint"), "{}", place.says);
    // With a figure the rest is judged, beyond half a metre along each: 0.5 m less both radii is 0.365 m.
    let answer = check(&branch(true, true));
    let verdicts: Vec<_> = answer.places.iter().map(|p| p.verdict).collect();
    assert_eq!(
        verdicts,
        [SeparationVerdict::Joins, SeparationVerdict::Met],
        "{:#?}",
        answer.places
    );
    assert!(
        (answer.places[1].gap_m.0 - 0.365).abs() < 1e-3,
        "{:?}",
        answer.places[1].gap_m
    );
    assert_eq!(answer.verdict, SeparationVerdict::Joins);
    // Nobody said that it joins: then it touches.
    let place = only(&branch(false, true));
    assert_eq!(
        (place.verdict, place.gap_m.text()),
        (SeparationVerdict::Short, "0.000".into())
    );
}

#[test]
fn an_end_that_says_it_joins_and_comes_nowhere_near_is_no_joint() {
    let mut book = Book::opened();
    lay(
        &mut book,
        "S1",
        Service::Sewer,
        &[(-9.0, 0.0, 9.0), (9.0, 0.0, 9.0)],
        "160",
    );
    lay_as(
        &mut book,
        "S2",
        Service::Sewer,
        &[(-5.0, 6.0, 10.0), (-5.0, -6.0, 10.0)],
        "110",
        |_, laid| laid.ends[1] = RunEnd::Joins { run: "S1".into() },
    );
    adopt(
        &mut book,
        figures("[[\"sewer\"], [\"sewer\"]]", &[("3d", 0.9)]),
        &[],
    );
    assert_eq!(only(&book).verdict, SeparationVerdict::Short);
}

#[test]
fn a_shared_point_and_a_structure_entered_by_both_are_joints() {
    let mut book = Book::opened();
    lay(
        &mut book,
        "E1",
        Service::ElectricLv,
        &[(0.0, 0.0, 9.0), (6.0, 0.0, 9.0)],
        "50",
    );
    lay_as(
        &mut book,
        "E2",
        Service::ElectricLv,
        &[(6.0, 0.0, 9.0), (6.0, 6.0, 9.0)],
        "50",
        |points, laid| {
            points.remove(0);
            laid.points[0] = "E1-1".into();
        },
    );
    assert_eq!(only(&book).verdict, SeparationVerdict::Joins);
    let board = |_: &mut Vec<PointRow>, laid: &mut RunLaid| {
        laid.ends[0] = RunEnd::Enters {
            structure: "board DB1".into(),
        };
    };
    let mut book = Book::opened();
    lay_as(
        &mut book,
        "E1",
        Service::ElectricLv,
        &[(0.0, 0.0, 9.0), (6.0, 2.0, 9.0)],
        "50",
        board,
    );
    lay_as(
        &mut book,
        "E2",
        Service::ElectricLv,
        &[(0.0, 0.06, 9.0), (6.0, -2.0, 9.0)],
        "50",
        board,
    );
    assert_eq!(only(&book).verdict, SeparationVerdict::Joins);
    // Two services share a board and are a conflict all the same.
    let mut book = Book::opened();
    lay_as(
        &mut book,
        "E1",
        Service::ElectricLv,
        &[(0.0, 0.0, 9.0), (6.0, 2.0, 9.0)],
        "50",
        board,
    );
    lay_as(
        &mut book,
        "C1",
        Service::Comms,
        &[(0.0, 0.06, 9.0), (6.0, -2.0, 9.0)],
        "50",
        board,
    );
    assert_eq!(only(&book).verdict, SeparationVerdict::NotProved);
}

#[test]
fn what_is_not_placed_can_be_short_and_never_met() {
    for (apart_m, verdict) in [
        (0.6, SeparationVerdict::NotProved),
        (0.3, SeparationVerdict::Short),
    ] {
        let mut book = Book::opened();
        lay(
            &mut book,
            "S1",
            Service::Sewer,
            &[(0.0, -5.0, 9.0), (0.0, 5.0, 9.0)],
            "160",
        );
        let at = [(-5.0, 0.0, 9.0 + apart_m), (5.0, 0.0, 9.0 + apart_m)];
        lay_as(&mut book, "W1", Service::Water, &at, "63", |points, _| {
            points[1].sigma_v_mm = None;
        });
        adopt(
            &mut book,
            figures("[[\"water\"], [\"sewer\"]]", &[("3d", 0.3)]),
            &[],
        );
        let answer = check(&book);
        assert_eq!(answer.places[0].verdict, verdict, "{}", answer.places[0].says);
        assert!(answer.places[0].why["worst_gap_m"].contains("no uncertainty is known for W1"));
        assert_eq!(
            (answer.not_placed.as_slice(), answer.verdict),
            (["W1".to_string()].as_slice(), verdict)
        );
    }
}

#[test]
fn a_service_nobody_could_name_is_held_to_every_figure() {
    let mut book = Book::opened();
    lay(
        &mut book,
        "S1",
        Service::Sewer,
        &[(0.0, -5.0, 9.0), (0.0, 5.0, 9.0)],
        "160",
    );
    lay(
        &mut book,
        "X1",
        Service::Unknown,
        &[(-5.0, 0.0, 9.4), (5.0, 0.0, 9.4)],
        "63",
    );
    let mut text = figures("[[\"water\"], [\"sewer\"]]", &[("3d", 0.1)]);
    text += &format!(
        "[[separation]]\nid = \"gas\"\nbetween = [[\"sewer\"], [\"gas\"]]\nmeasure = \"3d\"\nminimum_m = 0.5\n{CITED}\n"
    );
    adopt(&mut book, text, &[]);
    let place = only(&book);
    assert_eq!(
        (place.rule.id.as_deref(), place.verdict),
        (Some("gas"), SeparationVerdict::Short)
    );
}

#[test]
fn one_run_alone_is_told_as_among_all() {
    let mut book = crossing(0.6);
    lay(
        &mut book,
        "G1",
        Service::Gas,
        &[(-4.0, 0.3, 9.6), (4.0, 0.35, 9.6)],
        "32",
    );
    lay(
        &mut book,
        "E1",
        Service::ElectricLv,
        &[(60.0, 0.0, 9.6), (70.0, 0.0, 9.6)],
        "32",
    );
    let every = "[\"water\", \"sewer\", \"gas\", \"electric-lv\"]";
    adopt(
        &mut book,
        figures(&format!("[{every}, {every}]"), &[("3d", 0.4)]),
        &[],
    );
    let all = check(&book);
    assert_eq!(all.places.len(), 3, "{}", all.says);
    for name in ["S1", "W1", "G1", "E1"] {
        let alone = book.site.check_cover(None, Some(name)).unwrap().separation;
        let theirs = |answer: &SeparationAnswer| {
            let mut gaps: Vec<_> = (answer.places.iter())
                .filter(|place| place.runs.iter().any(|run| run == name))
                .map(|place| {
                    let mut runs = place.runs.clone();
                    runs.sort();
                    (runs, place.verdict, place.gap_m.text())
                })
                .collect();
            gaps.sort();
            gaps
        };
        assert_eq!(theirs(&alone), theirs(&all), "{name}");
        assert_eq!(alone.places.len(), theirs(&all).len());
        // The same from a handful that an index found near.
        let near = ["S1", "W1", "G1"].map(|n| Arc::clone(&book.site.runs[n].record));
        let of_index = book.site.check_separation(name, Some(&near)).unwrap();
        assert_eq!(of_index.places, alone.places);
        assert_eq!(
            book.site.check_separation(name, None).unwrap().places,
            alone.places
        );
        // The three meet one another's boxes, and the fourth is in none.
        let boxes = book.site.separation_boxes(name).unwrap();
        for (other, run) in &book.site.runs {
            let theirs = run.record.plan_boxes().unwrap();
            let meets = boxes
                .iter()
                .any(|own| theirs.iter().any(|their| own.meets(their)));
            assert_eq!(
                meets,
                other == name || (name != "E1" && other != "E1"),
                "{name} {other}"
            );
        }
    }
}

#[test]
fn a_figure_on_separation_that_could_mislead_is_refused_by_name() {
    let good = figures("[[\"water\"], [\"sewer\"]]", &[("horizontal", 3.0)]);
    for (from, to, says) in [
        ("minimum_m = 3", "minimum_m = -3", "s0: minimum_m is -3"),
        ("minimum_m = 3", "minimum_m = 3000", "no more than 50 m"),
        ("[\"water\"]", "[]", "two lists of services, neither empty"),
        ("[[\"water\"], [\"sewer\"]]", "[[\"water\"]]", "between"),
        ("\"horizontal\"", "\"sideways\"", "sideways"),
        (
            "minimum_m",
            "above = \"first\"\nminimum_m",
            "left out unless the measure is vertical-crossing",
        ),
    ] {
        let refused = crate::rules::RuleSet::read(&good.replace(from, to))
            .unwrap_err()
            .to_string();
        assert!(refused.contains(says), "{refused}");
    }
}

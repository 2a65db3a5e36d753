//! A station set anew: what it says would move is what moves, and every setting stays. Oracles: a set-up carried along
//! with its control moves by just as much (closed form), a level rises by what the target was higher (closed form).

use super::station_tests::{CONTROL, check_of_c4, set, shoot, shot, with_control, with_station};
use super::tests::{Book, decimal, run};
use super::*;
use crate::body::{AirRow, ControlRecorded, ControlRow, KnownSight, StationSet};
use crate::screens::{entry_view, station_view};
use crate::service::Service;
use crate::words::{CheckOutcome, SightKind};

fn with_shots() -> Book {
    let mut book = with_station();
    let rows = vec![
        shot(&book.site, "P1", [431_040.0, 5_712_000.0, 9.5]),
        shot(&book.site, "P2", [431_045.0, 5_712_003.0, 9.6]),
    ];
    shoot(&mut book, rows, vec![]).unwrap();
    book.write(Act::RunLaid(run("E1", Service::ElectricLv, &["P1", "P2"], "50")))
        .unwrap();
    book
}

/// Every control point carried by the same amount, metres.
fn carried(by: [f64; 3]) -> Act {
    let points = CONTROL.map(|(name, at)| ControlRow {
        point: name.into(),
        easting_m: decimal(&format!("{:.3}", at[0] + by[0])),
        northing_m: decimal(&format!("{:.3}", at[1] + by[1])),
        level_m: decimal(&format!("{:.3}", at[2] + by[2])),
        sigma_h_mm: Some(decimal("1")),
        sigma_v_mm: Some(decimal("1")),
        note: None,
    });
    Act::ControlRecorded(ControlRecorded {
        import: None,
        points: points.to_vec(),
    })
}

fn again(book: &Book, change: impl Fn(&mut StationSet)) -> StationSet {
    let station = &book.site.stations["S1"];
    let mut set = station.solved.set.clone();
    set.saw = station.entries.last().copied();
    change(&mut set);
    set
}

#[test]
fn a_set_up_carried_along_with_its_control_moves_its_points_and_runs_by_just_as_much() {
    let mut book = with_shots();
    let before = book.site.clone();
    book.write(carried([0.050, -0.020, 0.030])).unwrap();
    assert_eq!(
        book.site.points["P1"].placed, before.points["P1"].placed,
        "better control alone moves nothing: the station stands as solved"
    );
    let set = again(&book, |_| {});
    book.write(Act::StationSet(Box::new(set))).unwrap();
    let view = book.site.anew_view(&before, "S1").unwrap();
    assert_eq!((view.points, view.moved), (2, 2));
    let plan = 0.050f64.hypot(0.020);
    for moved in [
        view.largest_plan.clone().unwrap(),
        view.largest_level.clone().unwrap(),
    ] {
        assert!((moved.plan_m.0 - plan).abs() < 1e-5, "{}", moved.plan_m.0);
        assert!((moved.level_m.0 - 0.030).abs() < 1e-5, "{}", moved.level_m.0);
    }
    assert!(
        (view.station_plan_m.0 - plan).abs() < 1e-5 && (view.station_level_m.unwrap().0 - 0.030).abs() < 1e-5
    );
    assert_eq!(view.runs.len(), 1);
    assert_eq!((view.runs[0].run.as_str(), view.runs[0].points), ("E1", 2));
    assert!(
        view.says.contains("2 of the 2 points") && view.says.contains("0.054 m"),
        "{}",
        view.says
    );
    assert!(
        view.changed
            .iter()
            .any(|says| says.starts_with("C1 is known 53.9 mm elsewhere in plan and +30.0 mm in level")),
        "{:?}",
        view.changed
    );
}

#[test]
fn a_target_that_stood_higher_lifts_the_station_and_nothing_moves_in_plan() {
    let mut book = with_shots();
    let before = book.site.clone();
    let set = again(&book, |set| {
        for known in &mut set.sights {
            known.sight.target_height_m = decimal("1.600");
        }
    });
    book.write(Act::StationSet(Box::new(set))).unwrap();
    let view = book.site.anew_view(&before, "S1").unwrap();
    let level = view.largest_level.unwrap();
    assert!((level.level_m.0 - 0.100).abs() < 2e-4, "{}", level.level_m.0);
    assert!(view.station_plan_m.0 < 1e-4);
    assert!(
        view.changed
            .contains(&"target height at C1: 1.600 m, was 1.500 m".to_string()),
        "{:?}",
        view.changed
    );
}

#[test]
fn every_setting_stays_with_its_figures_on_the_card_and_in_the_book() {
    let mut book = with_shots();
    let first = book.site.station_views()[0].clone();
    book.write(carried([0.050, -0.020, 0.030])).unwrap();
    let set = again(&book, |set| set.sights.retain(|s| s.target != "C3"));
    book.write(Act::StationSet(Box::new(set))).unwrap();
    let view = &book.site.station_views()[0];
    let [old, new] = view.revisions.as_slice() else {
        panic!("{} revisions", view.revisions.len());
    };
    assert_eq!((old.entry, new.entry), (first.entries[0], book.site.n));
    assert_eq!(
        (old.at, old.level_m, old.u95_h_m),
        (first.at, first.level_m, first.u95_h_m)
    );
    assert_eq!((new.at, new.level_m), (view.at, view.level_m));
    assert_eq!(
        (old.control.join(" "), new.control.join(" ")),
        ("C1 C2 C3".into(), "C1 C2".into())
    );
    assert!(old.moved_plan_m.is_none() && old.why.contains_key("moved_plan_m"));
    assert!((new.moved_plan_m.unwrap().0 - 0.050f64.hypot(0.020)).abs() < 1e-4);
    assert!(
        new.changed
            .iter()
            .any(|says| says == "C3 is left out (took part before)"),
        "{:?}",
        new.changed
    );
    let set = again(&book, |_| {});
    let body = book.body(Act::StationSet(Box::new(set)));
    let bytes = crate::entry::write_body(&body).unwrap();
    let entry = crate::entry::Entry {
        n: book.site.n + 1,
        recorded_at: "2031-05-03T10:00:00.000Z".into(),
        head: book.site.head,
        attached: Default::default(),
        body: Ok(body),
    };
    book.site.apply(&entry).unwrap();
    let says = entry_view(&book.site, &entry, &bytes, &|_| "Ada Quill".into()).says;
    assert!(
        says.starts_with("Set again station S1 by C1, C2, from 431020.050 E, 5712014.980 N"),
        "{says}"
    );
    assert!(says.contains(&format!("(entry {})", new.entry)), "{says}");
}

#[test]
fn a_check_that_fails_from_the_new_place_is_told_before_anything_is_recorded() {
    let mut book = with_shots();
    let good = check_of_c4(&book.site, 0, 0.0);
    shoot(&mut book, vec![], vec![good]).unwrap();
    let mut after = book.site.clone();
    let set = again(&book, |set| {
        // Two points trade places: the control kept as check is the one that was knocked.
        for known in set.sights.iter_mut().filter(|s| s.target != "C4") {
            known.sight.target_height_m = decimal("1.700");
        }
        set.unchecked_reason = Some("tried".into());
    });
    let body = book.body(Act::StationSet(Box::new(set)));
    let entry = crate::entry::Entry {
        n: after.n + 1,
        recorded_at: "2031-05-03T10:00:00.000Z".into(),
        head: after.head,
        attached: Default::default(),
        body: Ok(body),
    };
    after.apply(&entry).unwrap();
    let view = after.anew_view(&book.site, "S1").unwrap();
    assert_eq!(view.after.check, CheckOutcome::Failed);
    assert_eq!(view.before.check, CheckOutcome::Passed);
    assert_eq!(book.site.stations["S1"].entries.len(), 1, "a trial was recorded");
}

#[test]
fn air_that_the_instrument_had_already_is_not_reckoned_with_twice() {
    let book = with_control();
    let air = |entered: Option<&str>| AirRow {
        temperature_c: decimal("25"),
        pressure_hpa: decimal("990"),
        humidity_pct: decimal("60"),
        wavelength_um: decimal("0.658"),
        reference_ppm: decimal("286.34"),
        entered_ppm: entered.map(decimal),
    };
    let solve = |change: &dyn Fn(&mut StationSet)| {
        let mut set = set(&book.site, 0.0, None);
        change(&mut set);
        book.site.try_station(&set, 0)
    };
    let plain = solve(&|_| {}).unwrap();
    let applied = solve(&|set| set.air = Some(air(None))).unwrap();
    // Common practice: warm, thin air asks for some tens of ppm over a reference of 12 degrees and 1013 hPa.
    assert!(
        applied.air_ppm > 10.0 && applied.air_ppm < 40.0,
        "{}",
        applied.air_ppm
    );
    let same = format!("{:.6}", applied.air_ppm);
    let cancelled = solve(&|set| set.air = Some(air(Some(&same)))).unwrap();
    assert!(cancelled.air_ppm.abs() < 1e-6);
    let place = |s: &crate::station::SolvedStation| {
        (s.report.solution.fix.easting_m, s.report.solution.fix.northing_m)
    };
    assert!((place(&cancelled).0 - place(&plain).0).abs() < 1e-9);
    let view = station_view(&cancelled, &book.site.frame().unwrap());
    assert!(
        view.air_says.contains("set in the instrument already"),
        "{}",
        view.air_says
    );
    let twice = solve(&|set| {
        set.air = Some(air(None));
        set.air_in_instrument = Some("25 C and 990 hPa".into());
    });
    assert!(twice.unwrap_err().says.contains("count it twice"));
    let plain = station_view(&plain, &book.site.frame().unwrap());
    assert!(plain.air_says.starts_with("Nobody said"), "{}", plain.air_says);
}

#[test]
fn the_danger_circle_is_told_with_its_centre_and_how_near_the_station_is() {
    // Three marks of a circle of 40 m about 431000, 5712000, by hand: east, north and west of its centre. The
    // instrument stands 41 m south of it: 1 m outside.
    let mut book = Book::opened();
    let at: [(&str, f64, f64); 3] = [("W", -40.0, 0.0), ("N", 0.0, 40.0), ("E", 40.0, 0.0)];
    let rows = at.map(|(name, e, n)| ControlRow {
        point: name.into(),
        easting_m: decimal(&format!("{:.3}", 431_000.0 + e)),
        northing_m: decimal(&format!("{:.3}", 5_712_000.0 + n)),
        level_m: decimal("10.000"),
        sigma_h_mm: Some(decimal("1")),
        sigma_v_mm: Some(decimal("1")),
        note: None,
    });
    book.write(Act::ControlRecorded(ControlRecorded {
        import: None,
        points: rows.to_vec(),
    }))
    .unwrap();
    let sights = at.map(|(name, e, n)| KnownSight {
        target: name.into(),
        sighted_as: SightKind::Control,
        sight: crate::body::SightRow {
            direction: Some(format!("{:.6}", e.atan2(n + 41.0).to_degrees().rem_euclid(360.0))),
            zenith: None,
            slope_m: None,
            target_height_m: decimal("0"),
            prism_mm: decimal("0"),
            face: None,
            row: None,
        },
    });
    let mut set = set(&with_control().site, 0.0, Some("no fourth point"));
    set.sights = sights.to_vec();
    let solved = book.site.try_station(&set, 0).unwrap();
    let geometry = station_view(&solved, &book.site.frame().unwrap()).geometry;
    let circle = geometry.circle.unwrap();
    assert_eq!(
        circle.centre.map(|c| c.text()),
        ["431000.000".to_string(), "5712000.000".to_string()]
    );
    assert!(
        (circle.radius_m.0 - 40.0).abs() < 1e-9 && (circle.off_m.0 - 1.0).abs() < 2e-3,
        "{:?}",
        circle
    );
    assert!(circle.near && circle.directions_only);
    // Seen from 41 m south: west and east marks 2 atan(40 / 41) apart, by hand.
    assert!((geometry.sector_deg - 2.0 * (40.0f64 / 41.0).atan().to_degrees()).abs() < 0.06);
    assert!(!geometry.narrow && geometry.one_side && !geometry.on_one_line);
}

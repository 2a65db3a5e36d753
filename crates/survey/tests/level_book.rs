//! Level books against `data/levelling.json`.
//!
//! Two bookings are public worked examples (one with a wrong last level in its source), the others made up;
//! all were recomputed with exact decimals, as each row of the file says. The limits k there are "seen
//! quoted". Levels and sums must be equal, not close.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use coverbook_survey::level_book::{LevelBook, LevelBookError, LevelRow, ReducedBook, reduce_level_book};
use coverbook_survey::level_closure::{
    Allowable, Closure, ClosureVerdict, Distribution, LevelPrecision, LevellingOptions, Misclosure,
    spread_misclosure,
};
use coverbook_survey::pipe_levels::{PipeSection, SectionError, SectionFeature};
use coverbook_survey::{Decimal, Exact, Finding, LengthUnit};
use serde_json::Value;

fn data() -> Value {
    serde_json::from_str(include_str!("data/levelling.json")).unwrap()
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap()
}

fn decimal(text: &str) -> Decimal {
    text.parse().unwrap()
}

/// The shortest text of a JSON number, which is how the file wrote it.
fn optional(value: &Value) -> Option<Decimal> {
    value.as_f64().map(|number| decimal(&number.to_string()))
}

fn exact(value: &Value, key: &str) -> Exact {
    optional(&value[key]).unwrap().exact()
}

#[track_caller]
fn close(name: &str, got: f64, expected: f64, tolerance: f64) {
    let off = got - expected;
    assert!(off.abs() <= tolerance, "{name}: {got} against {expected}");
}

fn book(case: &Value) -> LevelBook {
    let rows = case["rows"].as_array().unwrap();
    let row = |(index, row): (usize, &Value)| LevelRow {
        row: index + 2,
        point: row["point"].as_str().unwrap().to_owned(),
        back: optional(&row["bs_m"]),
        inter: optional(&row["is_m"]),
        fore: optional(&row["fs_m"]),
        known_level: None,
        distance: None,
        booked_level: optional(&row["rl_m"]),
    };
    let mut rows: Vec<LevelRow> = rows.iter().enumerate().map(row).collect();
    rows[0].known_level = optional(&case["start_rl_m"]);
    if !case["closing"].is_null() {
        rows.last_mut().unwrap().known_level = optional(&case["closing"]["known_end_rl_m"]);
    }
    LevelBook {
        unit: LengthUnit::Metre,
        rows,
    }
}

fn case(id: &str) -> Value {
    let data = data();
    let cases = data["cases"].as_array().unwrap();
    cases.iter().find(|case| case["id"] == id).unwrap().clone()
}

fn per_root_km(k_mm: &str, length_km: &str) -> LevellingOptions {
    LevellingOptions {
        allowable: Some(Allowable::PerRootKilometre { k_mm: decimal(k_mm) }),
        length_km: Some(decimal(length_km)),
        distribution: Distribution::BySetups,
        precision: Some(LevelPrecision::PerSetup { sigma_mm: 1.0 }),
    }
}

fn misclosure(reduced: &ReducedBook) -> &Misclosure {
    match &reduced.closure {
        Closure::Closed(closed) => closed,
        Closure::Open => panic!("the run is open"),
    }
}

fn codes(findings: &[Finding]) -> Vec<&str> {
    findings.iter().map(|f| f.code).collect()
}

#[test]
fn both_bookings_give_every_published_level_rise_fall_and_sum() {
    let data = data();
    let cases = data["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 6);
    for case in cases {
        let id = case["id"].as_str().unwrap();
        let (reduced, findings) = reduce_level_book(&book(case), &LevellingOptions::default()).unwrap();
        let rows = case["rows"].as_array().unwrap();
        assert_eq!(rows.len(), reduced.rows.len(), "{id}");
        for (got, row) in reduced.rows.iter().zip(rows) {
            assert_eq!(got.level, exact(row, "rl_m"), "{id} {}", got.point);
            assert_eq!(got.collimation, exact(row, "collimation_m"), "{id} {}", got.point);
            let rise = optional(&row["rise_m"]).map(|d| d.exact());
            let fall = optional(&row["fall_m"]).map(|d| d.exact());
            assert_eq!((got.rise, got.fall), (rise, fall), "{id} {}", got.point);
        }
        let sums = &case["expected_checks"];
        let checks = &reduced.checks;
        assert_eq!(checks.sum_back, exact(sums, "sum_bs_m"), "{id}");
        assert_eq!(checks.sum_fore, exact(sums, "sum_fs_m"), "{id}");
        assert_eq!(checks.sum_rise, exact(sums, "sum_rise_m"), "{id}");
        assert_eq!(checks.sum_fall, exact(sums, "sum_fall_m"), "{id}");
        assert_eq!(
            checks.last_minus_first,
            exact(sums, "last_minus_first_rl_m"),
            "{id}"
        );
        assert!(checks.hold(), "{id}");
        assert!(!codes(&findings).contains(&"booked-level-differs"), "{id}");
    }
}

#[test]
fn misclosures_are_judged_and_spread_as_published() {
    for (id, verdict) in [
        ("lev-closed-ok", ClosureVerdict::Within),
        ("lev-closed-bad", ClosureVerdict::Over),
        ("lev-exact-limit", ClosureVerdict::Within),
    ] {
        let case = case(id);
        let closing = &case["closing"];
        let options = per_root_km(
            &closing["k_mm_per_sqrt_km"].to_string(),
            &closing["length_km"].to_string(),
        );
        let (reduced, findings) = reduce_level_book(&book(&case), &options).unwrap();
        let closed = misclosure(&reduced);
        close(id, closed.misclosure_mm, number(closing, "misclosure_mm"), 1e-9);
        close(
            id,
            closed.allowable_mm.unwrap(),
            number(closing, "allowable_mm"),
            1e-9,
        );
        assert_eq!(closed.verdict, verdict, "{id}");
        assert_eq!(verdict == ClosureVerdict::Within, closing["accepted"], "{id}");
        assert_eq!(reduced.setups as u64, closing["setups"].as_u64().unwrap(), "{id}");
        let spread = spread_misclosure(&reduced, closed.misclosure, Distribution::BySetups).unwrap();
        let adjusted = case["adjusted_by_setups"].as_array().unwrap();
        assert_eq!(adjusted.len(), spread.len());
        for (got, row) in spread.iter().zip(adjusted) {
            close(id, *got, number(row, "adjusted_rl_m"), 1e-12);
        }
        let is_over = verdict == ClosureVerdict::Over;
        assert_eq!(
            codes(&findings).contains(&"misclosure-over-limit"),
            is_over,
            "{id}"
        );
        for (row, spread) in reduced.rows.iter().zip(spread) {
            // Over the limit nothing is spread, and no level is said to be known.
            assert_eq!(row.adjusted, (!is_over).then_some(spread), "{id}");
            let expected_m = if is_over { row.level.to_f64() } else { spread };
            assert_eq!(row.level_m, expected_m, "{id}");
            assert_eq!(row.sigma_m.is_none(), is_over, "{id}");
        }
    }
}

#[test]
fn exactly_on_the_limit_is_within_and_a_hundredth_of_a_millimetre_more_is_over() {
    let mut book = book(&case("lev-exact-limit"));
    let (reduced, _) = reduce_level_book(&book, &per_root_km("12", "1.0")).unwrap();
    assert_eq!(misclosure(&reduced).verdict, ClosureVerdict::Within);
    book.rows[2].fore = Some(decimal("1.58799"));
    let (reduced, _) = reduce_level_book(&book, &per_root_km("12", "1.0")).unwrap();
    assert_eq!(misclosure(&reduced).verdict, ClosureVerdict::Over);
    // The same run in international feet and in US survey feet; 12 mm is no round figure there.
    for unit in [LengthUnit::InternationalFoot, LengthUnit::UsSurveyFoot] {
        book.unit = unit;
        let (reduced, _) = reduce_level_book(&book, &per_root_km("3.66096", "1")).unwrap();
        let expected_mm = 0.01201 * unit.metres() * 1000.0;
        close("feet", misclosure(&reduced).misclosure_mm, expected_mm, 1e-9);
    }
    // 0.01201 ft is 3.660648 mm, exactly.
    book.unit = LengthUnit::InternationalFoot;
    for (k, verdict) in [
        ("3.660648", ClosureVerdict::Within),
        ("3.660647999", ClosureVerdict::Over),
    ] {
        let (reduced, _) = reduce_level_book(&book, &per_root_km(k, "1")).unwrap();
        assert_eq!(misclosure(&reduced).verdict, verdict, "{k}");
    }
}

#[test]
fn limits_have_the_published_sizes() {
    let data = data();
    let rows = data["allowable_misclosure"]["cases"].as_array().unwrap();
    assert_eq!(rows.len(), 20);
    for row in rows {
        let options = per_root_km(
            &row["k_mm_per_sqrt_km"].to_string(),
            &row["length_km"].to_string(),
        );
        let (reduced, _) = reduce_level_book(&book(&case("lev-closed-ok")), &options).unwrap();
        let limit_mm = misclosure(&reduced).allowable_mm.unwrap();
        close("limit", limit_mm, number(row, "allowable_mm"), 1e-9);
    }
    // Common practice, from memory: 5 mm times the root of the set-ups on a building site.
    let options = LevellingOptions {
        allowable: Some(Allowable::PerRootSetup { k_mm: decimal("5") }),
        ..LevellingOptions::default()
    };
    let (reduced, _) = reduce_level_book(&book(&case("lev-closed-ok")), &options).unwrap();
    assert_eq!(misclosure(&reduced).allowable_mm, Some(10.0));
}

#[test]
fn the_level_that_was_published_wrong_is_pointed_at() {
    let case = case("lev-pub-2-corrected");
    let mut book = book(&case);
    book.rows[4].booked_level = optional(&case["wrong_published_last_rl_m"]);
    let (reduced, findings) = reduce_level_book(&book, &LevellingOptions::default()).unwrap();
    assert_eq!(reduced.rows[4].level.to_string(), "101.305");
    let wrong: Vec<_> = findings
        .iter()
        .filter(|f| f.code == "booked-level-differs")
        .collect();
    assert_eq!(wrong.len(), 1);
    assert_eq!(wrong[0].place, "row 6");
    assert!(
        wrong[0]
            .sentence
            .contains("booked at 100.415 m and comes to 101.305 m")
    );
}

#[test]
fn a_misread_of_a_metre_or_a_decimetre_is_guessed_at() {
    // A common field failure: the wrong hundred.
    for (fore, size) in [("1.914", "1000 mm"), ("0.814", "100 mm")] {
        let mut book = book(&case("lev-closed-ok"));
        book.rows.last_mut().unwrap().fore = Some(decimal(fore));
        let (_, findings) = reduce_level_book(&book, &per_root_km("12", "0.42")).unwrap();
        let over = findings
            .iter()
            .find(|f| f.code == "misclosure-over-limit")
            .unwrap();
        assert!(over.sentence.contains(size), "{over}");
    }
}

fn with_distances(distances: [&str; 4]) -> LevelBook {
    let mut book = book(&case("lev-closed-ok"));
    let fores = book.rows.iter_mut().filter(|row| row.fore.is_some());
    for (row, distance) in fores.zip(distances) {
        row.distance = Some(decimal(distance));
    }
    book
}

#[test]
fn misclosure_is_spread_by_distance_and_the_length_is_their_sum() {
    let options = LevellingOptions {
        length_km: None,
        distribution: Distribution::ByDistance,
        ..per_root_km("12", "1")
    };
    let book = with_distances(["84", "168", "42", "126"]);
    let (reduced, _) = reduce_level_book(&book, &options).unwrap();
    close(
        "limit",
        misclosure(&reduced).allowable_mm.unwrap(),
        7.776_888_838_09,
        1e-9,
    );
    // 5 mm over 420 m: shares 1/5, 3/5, 7/10 and 1 at the change points.
    for (row, share) in [(3, 0.2), (5, 0.6), (8, 0.7), (9, 1.0)] {
        let got = reduced.rows[row].level.to_f64() - reduced.rows[row].adjusted.unwrap();
        close("share", got, 0.005 * share, 1e-12);
    }
    let mut missing = book.clone();
    missing.rows[5].distance = None;
    assert_eq!(
        reduce_level_book(&missing, &per_distance_with_length()).unwrap_err(),
        LevelBookError::DistanceMissing { row: 7 }
    );
    let (reduced, findings) = reduce_level_book(&missing, &options).unwrap();
    assert_eq!(misclosure(&reduced).verdict, ClosureVerdict::NotJudged);
    assert!(codes(&findings).contains(&"misclosure-not-judged"));
}

fn per_distance_with_length() -> LevellingOptions {
    LevellingOptions {
        distribution: Distribution::ByDistance,
        ..per_root_km("12", "0.42")
    }
}

#[test]
fn an_inverted_staff_puts_the_soffit_above_the_line_of_sight() {
    let (reduced, _) =
        reduce_level_book(&book(&case("lev-inverted-staff")), &LevellingOptions::default()).unwrap();
    let soffit = &reduced.rows[2];
    assert_eq!(soffit.point, "soffit beam");
    assert!(soffit.level > soffit.collimation);
    assert!(reduced.rows[1].level < reduced.rows[1].collimation);
}

#[test]
fn a_change_point_on_two_lines_is_the_same_change_point() {
    let one_line = book(&case("lev-pub-1"));
    let mut two_lines = one_line.clone();
    let back = two_lines.rows[2].back.take();
    let second = LevelRow {
        row: 99,
        back,
        fore: None,
        booked_level: None,
        ..two_lines.rows[2].clone()
    };
    two_lines.rows.insert(3, second);
    let options = LevellingOptions::default();
    let (one, _) = reduce_level_book(&one_line, &options).unwrap();
    let (two, _) = reduce_level_book(&two_lines, &options).unwrap();
    assert_eq!(one.checks, two.checks);
    let levels = |book: &ReducedBook| book.rows.iter().map(|r| r.level).collect::<Vec<_>>();
    assert_eq!(levels(&one), levels(&two));
}

/// Every sigma, by carrying each set-up's and each reading's error through the reduction itself.
#[test]
fn sigmas_agree_with_moving_each_reading() {
    let sigma_m = 0.002;
    for distribution in [Distribution::BySetups, Distribution::ByDistance] {
        let options = LevellingOptions {
            allowable: Some(Allowable::PerRootKilometre {
                k_mm: decimal("1000"),
            }),
            length_km: None,
            distribution,
            precision: Some(LevelPrecision::PerSetup { sigma_mm: 2.0 }),
        };
        let book = with_distances(["84", "168", "42", "126"]);
        let (base, _) = reduce_level_book(&book, &options).unwrap();
        let step = 1e-3;
        let levels_with = |row: usize, is_inter: bool| {
            let mut moved = book.clone();
            let cell = &mut moved.rows[row];
            let cell = if is_inter { &mut cell.inter } else { &mut cell.fore };
            let reading = cell.as_ref().unwrap().exact() - decimal("0.001").exact();
            *cell = Some(reading.to_decimal().unwrap());
            let (reduced, _) = reduce_level_book(&moved, &options).unwrap();
            reduced.rows.iter().map(|r| r.level_m).collect::<Vec<_>>()
        };
        let mut variances = vec![0.0; base.rows.len()];
        for (row, line) in book.rows.iter().enumerate() {
            if row == 0 {
                continue;
            }
            let moved = levels_with(row, line.inter.is_some());
            for ((variance, got), was) in variances.iter_mut().zip(&moved).zip(&base.rows) {
                *variance += ((got - was.level_m) / step * sigma_m).powi(2);
            }
        }
        for (row, variance) in base.rows.iter().zip(variances) {
            close(&row.point, row.sigma_m.unwrap(), variance.sqrt(), 1e-9);
        }
    }
}

#[test]
fn an_open_run_grows_with_the_root_of_its_set_ups_and_says_it_is_open() {
    let mut book = book(&case("lev-closed-ok"));
    book.rows.last_mut().unwrap().known_level = None;
    let (reduced, findings) = reduce_level_book(&book, &per_root_km("12", "0.42")).unwrap();
    assert_eq!(reduced.closure, Closure::Open);
    assert!(codes(&findings).contains(&"run-not-closed"));
    close(
        "end",
        reduced.rows[9].sigma_m.unwrap(),
        0.001 * 4f64.sqrt(),
        1e-12,
    );
    close("first", reduced.rows[1].sigma_m.unwrap(), 0.001, 1e-12);
    // A kilometre's precision over 0.42 km in four equal set-ups.
    let options = LevellingOptions {
        precision: Some(LevelPrecision::PerRootKilometre { sigma_mm: 3.0 }),
        ..per_root_km("12", "0.42")
    };
    let (reduced, _) = reduce_level_book(&book, &options).unwrap();
    close(
        "end",
        reduced.rows[9].sigma_m.unwrap(),
        0.003 * 0.42f64.sqrt(),
        1e-12,
    );
}

#[test]
fn a_misclosure_left_in_the_levels_is_part_of_what_they_are_worth() {
    let options = LevellingOptions {
        distribution: Distribution::NotSpread,
        ..per_root_km("12", "0.42")
    };
    let (reduced, _) = reduce_level_book(&book(&case("lev-closed-ok")), &options).unwrap();
    assert_eq!(reduced.rows[5].adjusted, None);
    // CP2 after two of four set-ups: root of two millimetres squared, and half of 5 mm.
    let expected = (2e-6f64 + 0.0025f64.powi(2)).sqrt();
    close("CP2", reduced.rows[5].sigma_m.unwrap(), expected, 1e-12);
}

#[test]
fn without_a_precision_no_level_has_an_uncertainty() {
    let (reduced, findings) =
        reduce_level_book(&book(&case("lev-closed-ok")), &LevellingOptions::default()).unwrap();
    assert!(reduced.rows.iter().all(|row| row.sigma_m.is_none()));
    assert!(codes(&findings).contains(&"sigma-not-known"));
    assert!(codes(&findings).contains(&"misclosure-not-judged"));
}

#[test]
fn a_run_back_to_its_own_start_closes_there() {
    let mut book = book(&case("lev-closed-bad"));
    book.rows.last_mut().unwrap().known_level = None;
    let (reduced, _) = reduce_level_book(&book, &per_root_km("12", "0.18")).unwrap();
    assert_eq!(misclosure(&reduced).misclosure.to_string(), "-0.027");
}

#[test]
fn doubtful_readings_are_shown_back() {
    let mut book = book(&case("lev-closed-ok"));
    book.rows[1].inter = Some(decimal("11.02"));
    book.rows[4].point = "B".to_owned();
    book.rows[3].known_level = Some(decimal("53.2"));
    let (_, findings) = reduce_level_book(&book, &per_root_km("12", "0.42")).unwrap();
    for (code, place) in [
        ("reading-beyond-staff", "row 3"),
        ("repeat-differs", "row 6"),
        ("known-level-differs", "row 5"),
    ] {
        assert!(
            findings.iter().any(|f| f.code == code && f.place == place),
            "{code}"
        );
    }
}

#[track_caller]
fn refused(change: impl Fn(&mut LevelBook), expected_start: &str) {
    let mut book = book(&case("lev-closed-ok"));
    change(&mut book);
    let error = reduce_level_book(&book, &per_root_km("12", "0.42")).unwrap_err();
    let message = error.to_string();
    assert!(message.starts_with(expected_start), "{message}");
}

#[test]
fn books_that_cannot_be_reduced_name_the_row() {
    refused(|b| b.rows[0].known_level = None, "row 2: BM1 starts the book but");
    refused(
        |b| b.rows[0].inter = Some(decimal("1")),
        "row 2: BM1 starts the book and",
    );
    refused(|b| b.rows[1].inter = None, "row 3: A has no reading");
    refused(
        |b| b.rows[1].fore = Some(decimal("1")),
        "row 3: A has an intermediate sight beside",
    );
    refused(
        |b| b.rows[3].back = None,
        "row 6: C was read after the fore sight of row 5",
    );
    refused(
        |b| b.rows[3].fore = None,
        "row 5: CP1 has a back sight but no fore sight",
    );
    refused(
        |b| b.rows[2].point = " ".to_owned(),
        "row 4: the point has no name",
    );
    refused(
        |b| b.rows[9].back = Some(decimal("1")),
        "row 11: the set-up after BM2 has no reading",
    );
    refused(
        |b| b.rows[3].distance = Some(decimal("-3")),
        "row 5: a distance of -3",
    );
    refused(|b| b.rows.truncate(1), "a level book needs a back sight");
}

#[test]
fn limits_and_precisions_of_nought_are_refused() {
    let book = book(&case("lev-closed-ok"));
    for (k, km, sigma) in [("0", "1", 1.0), ("12", "-1", 1.0), ("12", "1", f64::NAN)] {
        let options = LevellingOptions {
            precision: Some(LevelPrecision::PerSetup { sigma_mm: sigma }),
            ..per_root_km(k, km)
        };
        let refused = reduce_level_book(&book, &options);
        assert!(matches!(refused, Err(LevelBookError::BadOption { .. })));
    }
}

#[test]
fn a_pipe_s_levels_follow_from_the_staff_on_its_invert() {
    let data = data();
    let cases = data["invert_levels"]["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 3);
    for case in cases {
        let id = case["id"].as_str().unwrap();
        let foot = exact(case, "collimation_m") - exact(case, "staff_reading_m");
        let invert_m = (foot - exact(case, "staff_foot_above_invert_m")).to_f64();
        let pipe = PipeSection {
            outside_m: number(case, "outside_diameter_m"),
            wall_m: Some(number(case, "wall_thickness_m")),
            slope_rad: 0.0,
        };
        let expected = &case["expected"];
        close(id, invert_m, number(expected, "invert_level_m"), 1e-9);
        // The file's crown is our outside top.
        for (feature, key) in [
            (SectionFeature::Obvert, "obvert_soffit_level_m"),
            (SectionFeature::OutsideTop, "crown_top_of_pipe_level_m"),
            (SectionFeature::Centre, "pipe_centre_level_m"),
        ] {
            let level_m = pipe.level_m(SectionFeature::Invert, invert_m, feature).unwrap();
            close(id, level_m, number(expected, key), 1e-9);
            let back_m = pipe.level_m(feature, level_m, SectionFeature::Invert).unwrap();
            close(id, back_m, invert_m, 1e-12);
        }
        let surface_m = number(case, "finished_surface_level_m");
        let top = SectionFeature::OutsideTop;
        let top_m = pipe.level_m(SectionFeature::Invert, invert_m, top).unwrap();
        close(id, surface_m - top_m, number(expected, "cover_to_crown_m"), 1e-9);
        close(
            id,
            surface_m - invert_m,
            number(expected, "depth_to_invert_m"),
            1e-9,
        );
    }
}

#[test]
fn a_section_takes_the_slope_and_never_a_wall_of_nought() {
    // Closed form: top 10.000, outside 110.2 mm, wall 3.2 mm, level.
    let mut pipe = PipeSection {
        outside_m: 0.1102,
        wall_m: Some(0.0032),
        slope_rad: 0.0,
    };
    let from_top = |pipe: &PipeSection, wanted| pipe.level_m(SectionFeature::OutsideTop, 10.0, wanted);
    close(
        "obvert",
        from_top(&pipe, SectionFeature::Obvert).unwrap(),
        9.9968,
        1e-9,
    );
    close(
        "centre",
        from_top(&pipe, SectionFeature::Centre).unwrap(),
        9.9449,
        1e-9,
    );
    close(
        "invert",
        from_top(&pipe, SectionFeature::Invert).unwrap(),
        9.8930,
        1e-9,
    );
    pipe.slope_rad = 1f64.atan2(2.0);
    let half_plumb = 0.0551 * 5f64.sqrt() / 2.0;
    close(
        "sloped",
        from_top(&pipe, SectionFeature::Centre).unwrap(),
        10.0 - half_plumb,
        1e-12,
    );
    pipe.slope_rad = 50f64.to_radians();
    assert!(matches!(
        from_top(&pipe, SectionFeature::Centre),
        Err(SectionError::TooSteep { .. })
    ));
    pipe = PipeSection {
        wall_m: None,
        slope_rad: 0.0,
        ..pipe
    };
    assert!(from_top(&pipe, SectionFeature::Centre).is_ok());
    assert_eq!(
        from_top(&pipe, SectionFeature::Invert),
        Err(SectionError::NoWall("invert"))
    );
}

#[test]
fn readings_of_the_greatest_length_neither_stop_nor_mislead() {
    let mut book = with_distances(["84.000000000000001", "168", "42", "126"]);
    let long = "123456789012345.123456789012345";
    book.rows[0].known_level = Some(decimal(long));
    book.rows[9].known_level = Some(decimal("123456789012344.400456789012345"));
    let options = LevellingOptions {
        length_km: None,
        distribution: Distribution::ByDistance,
        ..per_root_km("12", "1")
    };
    let (reduced, _) = reduce_level_book(&book, &options).unwrap();
    assert_eq!(misclosure(&reduced).misclosure.to_string(), "0.005000000000000");
    assert_eq!(misclosure(&reduced).verdict, ClosureVerdict::Within);
    assert!(reduced.rows[9].adjusted.unwrap().is_finite());
}

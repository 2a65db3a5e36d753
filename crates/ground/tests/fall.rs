//! Falls against closed forms, made-up runs recomputed independently, and the trade's worked sums.

use coverbook_ground::fall::{Fall, FallError, FallVerdict, Invert, RunFall, falls};

fn run(points: &[(f64, f64)], sigma_v_m: Option<f64>) -> RunFall {
    let inverts: Vec<Invert> = points
        .iter()
        .map(|&(chainage_m, level_m)| Invert {
            chainage_m,
            level_m,
            sigma_v_m,
        })
        .collect();
    falls(&inverts).expect("inverts in order make a run")
}

#[track_caller]
fn relative(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance * expected.abs().max(f64::MIN_POSITIVE),
        "{found} for {expected}"
    );
}

/// Closed form, recomputed independently: fall, plan length, percent, one in n. The relative tolerance is what twelve
/// printed digits allow.
#[test]
fn gradients_in_every_spelling() {
    for (fall, length, percent, one_in) in [
        (0.25, 10.0, 2.5, Some(40.0)),
        (0.1, 6.0, 1.66666666667, Some(60.0)),
        (0.0165, 1.0, 1.65, Some(60.6060606061)),
        (1.0, 40.0, 2.5, Some(40.0)),
        (0.125, 10.0, 1.25, Some(80.0)),
        (0.0, 8.0, 0.0, None),
        (-0.04, 5.0, -0.8, Some(-125.0)),
        (0.635, 30.48, 2.08333333333, Some(48.0)),
        (2.0, 4.0, 50.0, Some(2.0)),
        (0.0667, 10.0, 0.667, Some(149.925037481)),
    ] {
        let leg = Fall {
            from_m: 0.0,
            to_m: length,
            plan_length_m: length,
            drop_m: fall,
            drop_u95_m: None,
        };
        relative(leg.percent(), percent, 5e-12);
        assert_eq!(leg.one_in().is_some(), one_in.is_some());
        if let (Some(found), Some(expected)) = (leg.one_in(), one_in) {
            relative(found, expected, 5e-12);
        }
        assert_eq!(leg.is_back_fall(), fall < 0.0);
    }
}

/// Made-up runs (minimum 1.65 % and 2.5 %), closed form: every leg and the whole.
#[test]
fn runs_show_the_leg_that_a_good_average_hides() {
    let good = run(
        &[(0.0, 24.31), (12.5, 24.1), (25.0, 23.89), (40.0, 23.64)],
        Some(0.0),
    );
    for (leg, percent) in good.legs.iter().zip([1.68, 1.68, 1.66666666667]) {
        relative(leg.percent(), percent, 1e-10);
    }
    relative(good.whole.percent(), 1.675, 1e-10);
    assert_eq!(good.judge(0.0165), FallVerdict::Met);

    let back = run(&[(0.0, 10.0), (5.0, 9.9), (10.0, 9.915), (20.0, 9.7)], Some(0.0));
    for (leg, (percent, one_in)) in
        back.legs
            .iter()
            .zip([(2.0, 50.0), (-0.3, -333.333333333), (2.15, 46.511627907)])
    {
        relative(leg.percent(), percent, 1e-10);
        relative(leg.one_in().unwrap(), one_in, 1e-10);
    }
    relative(back.whole.percent(), 1.5, 1e-10);
    assert_eq!(
        back.legs.iter().map(Fall::is_back_fall).collect::<Vec<_>>(),
        vec![false, true, false]
    );
    assert_eq!(
        back.legs.iter().map(|leg| leg.judge(0.0165)).collect::<Vec<_>>(),
        vec![FallVerdict::Met, FallVerdict::Short, FallVerdict::Met]
    );
    assert_eq!(back.judge(0.0165), FallVerdict::Short);

    let flat = run(&[(0.0, 5.0), (8.0, 4.85), (14.0, 4.72)], Some(0.0));
    for (leg, percent) in flat.legs.iter().zip([1.875, 2.16666666667]) {
        relative(leg.percent(), percent, 1e-10);
        assert_eq!(leg.judge(0.025), FallVerdict::Short);
    }
    relative(flat.whole.percent(), 2.0, 1e-10);
}

/// Trade brief 4.4: 9.842 to 9.612 over 12.000 m is 1.917 %, 1 in 52.2; with 1.5 mm each end U of the drop is 4.2 mm.
#[test]
fn the_trades_worked_sum() {
    let leg = run(&[(0.0, 9.842), (12.0, 9.612)], Some(0.0015)).whole;
    assert_eq!((leg.percent() * 1000.0).round(), 1917.0);
    assert_eq!((leg.one_in().unwrap() * 10.0).round(), 522.0);
    assert_eq!((leg.drop_u95_m.unwrap() * 10_000.0).round(), 42.0);
}

/// Trade brief 4.4: two metres at 1 in 60 drop 33 mm, known to about 12 %: too short to prove 1 in 60.
#[test]
fn two_metres_are_too_short_to_prove() {
    let leg = run(&[(0.0, 5.0 + 2.0 / 60.0), (2.0, 5.0)], Some(0.0015)).whole;
    let share = leg.drop_u95_m.unwrap() / leg.drop_m;
    assert!((0.12..0.13).contains(&share), "{share}");
    assert_eq!(leg.judge(1.0 / 60.0 - 1e-9), FallVerdict::NotProved);
    // Measured below the minimum by less than its doubt: not proved either way.
    assert_eq!(leg.judge(1.0 / 58.0), FallVerdict::NotProved);
    assert_eq!(leg.judge(1.0 / 50.0), FallVerdict::Short);
    // The same gradient against 1 in 65 is proved from the length at which U of the drop, 4.158 mm whatever the length,
    // is what is to spare: 4.158 mm / (1/60 - 1/65) = 3.243 m.
    let minimum = 1.0 / 65.0;
    assert_eq!(leg.judge(minimum), FallVerdict::NotProved);
    let length = 1.959_963_984_540_054 * 0.0015 * 2f64.sqrt() / (1.0 / 60.0 - minimum);
    let longer = |l: f64| {
        run(&[(0.0, l / 60.0), (l, 0.0)], Some(0.0015))
            .whole
            .judge(minimum)
    };
    assert_eq!(longer(length * 1.001), FallVerdict::Met);
    assert_eq!(longer(length * 0.999), FallVerdict::NotProved);
}

#[test]
fn an_unknown_uncertainty_proves_nothing() {
    let mut inverts = [
        Invert {
            chainage_m: 0.0,
            level_m: 10.0,
            sigma_v_m: Some(0.0),
        },
        Invert {
            chainage_m: 10.0,
            level_m: 9.0,
            sigma_v_m: None,
        },
    ];
    let leg = falls(&inverts).unwrap().whole;
    assert_eq!(leg.drop_u95_m, None);
    assert_eq!(leg.judge(0.01), FallVerdict::NotProved);
    assert_eq!(leg.judge(0.2), FallVerdict::Short);
    inverts[1].sigma_v_m = Some(0.0);
    assert_eq!(falls(&inverts).unwrap().whole.judge(0.01), FallVerdict::Met);
}

#[test]
fn inverts_without_length_or_number_are_refused_by_name() {
    let at = |chainage_m, level_m| Invert {
        chainage_m,
        level_m,
        sigma_v_m: None,
    };
    assert_eq!(falls(&[at(0.0, 1.0)]), Err(FallError::TooFew { found: 1 }));
    assert_eq!(
        falls(&[at(0.0, 1.0), at(5.0, 0.9), at(5.0, 0.8)]),
        Err(FallError::NoLength { invert: 2, next: 3 })
    );
    assert_eq!(
        falls(&[at(0.0, 1.0), at(5.0, f64::NAN)]),
        Err(FallError::NotANumber {
            invert: 2,
            what: "level"
        })
    );
}

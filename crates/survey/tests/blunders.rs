//! Blunders put in on purpose, at every control point and of every kind, must be found and rightly named.
//!
//! Oracle: the error that was put in. Rightly named: the likeliest cause is at the point that was spoilt, its kind is among
//! those named, and no other point is accused. At least 99 % at 10 sigma.

mod support;

use coverbook_survey::blunder::{Suspect, find_blunders};
use coverbook_survey::observation::{Quantity, SetUp};
use coverbook_survey::reduction::Curvature;
use support::{DISTANCE_SIGMA, Noise, Truth, ZENITH_SIGMA, disturb, errorless};

const TRUTH: Truth = Truth {
    station: [1050.0, 2040.0, 102.0],
    orientation_rad: 4.0,
    instrument_height_m: 1.6,
    curvature: Curvature::standard(),
    grid_scale: 1.0,
};

const OFFSETS: [[f64; 3]; 6] = [
    [-50.0, 60.0, 1.9],
    [12.0, 71.0, -0.7],
    [70.0, 22.0, -1.4],
    [36.0, -66.0, 0.6],
    [-44.0, -52.0, 2.2],
    [-75.0, 8.0, 0.1],
];

fn clean(noise: &mut Noise) -> SetUp {
    let mut set_up = errorless(&TRUTH, &OFFSETS, 1.5);
    disturb(&mut set_up, noise);
    set_up
}

fn spoil(set_up: &mut SetUp, target: usize, quantity: Quantity, change: impl Fn(f64, f64) -> f64) {
    for o in &mut set_up.observations {
        if o.to == target && o.quantity == quantity {
            o.value = change(o.value, o.sigma);
        }
    }
}

/// An error of all distances, and how it changes each.
type Common = (Suspect, fn(f64) -> f64);
/// Spoils a clean set-up at one target.
type Spoiling = fn(&mut SetUp, usize, f64);

fn sign(noise: &mut Noise) -> f64 {
    if noise.even() < 0.5 { -1.0 } else { 1.0 }
}

/// Returns (found and rightly named, trials) over all targets.
fn rate(seed: u64, trials: usize, spoil: Spoiling, kind: fn(usize) -> Suspect) -> (usize, usize) {
    let mut noise = Noise::seeded(seed);
    let (mut right, mut all) = (0, 0);
    for target in 0..OFFSETS.len() {
        for _ in 0..trials {
            let mut set_up = clean(&mut noise);
            spoil(&mut set_up, target, sign(&mut noise));
            all += 1;
            right += usize::from(rightly_named(&set_up, target, kind(target)));
        }
    }
    (right, all)
}

fn rightly_named(set_up: &SetUp, target: usize, kind: Suspect) -> bool {
    let Some(blunder) = find_blunders(set_up, 1).pop() else {
        return false;
    };
    let named: Vec<Suspect> = blunder.named().collect();
    named.contains(&kind)
        && named.iter().all(|s| s.targets() == [target])
        && blunder.finding.place == set_up.control[target].id
}

#[track_caller]
fn at_least_99(what: &str, (right, all): (usize, usize)) {
    assert!(
        right as f64 >= 0.99 * all as f64,
        "{what}: {right} of {all} found and rightly named"
    );
}

#[test]
fn single_readings_ten_sigma_out_are_found_and_named() {
    at_least_99(
        "distance",
        rate(
            1,
            100,
            |s, t, sign| spoil(s, t, Quantity::SlopeDistance, |v, sigma| v + sign * 10.0 * sigma),
            |target| Suspect::Distance { target },
        ),
    );
    at_least_99(
        "direction",
        rate(
            2,
            100,
            |s, t, sign| spoil(s, t, Quantity::Direction, |v, sigma| v + sign * 10.0 * sigma),
            |target| Suspect::Direction { target },
        ),
    );
    at_least_99(
        "zenith",
        rate(
            3,
            100,
            |s, t, sign| spoil(s, t, Quantity::Zenith, |v, sigma| v + sign * 10.0 * sigma),
            |target| Suspect::Zenith { target },
        ),
    );
}

#[test]
fn wrong_heights_and_places_ten_sigma_out_are_found_and_named() {
    // Ten sigma of what a zenith angle says about a level at 75 m.
    at_least_99(
        "target height",
        rate(
            4,
            100,
            |s, t, sign| {
                for o in s.observations.iter_mut().filter(|o| o.to == t) {
                    o.target_height_m += sign * 10.0 * ZENITH_SIGMA * 75.0;
                }
            },
            |target| Suspect::TargetHeight { target },
        ),
    );
    at_least_99(
        "level of the point",
        rate(
            5,
            100,
            |s, t, sign| {
                let level = s.control[t].level_m.unwrap();
                s.control[t].level_m = Some(level + sign * 10.0 * ZENITH_SIGMA * 75.0);
            },
            |target| Suspect::TargetHeight { target },
        ),
    );
    // Moved slantwise to the sight: ten sigma of a distance along it and as much across.
    at_least_99(
        "place of the point",
        rate(
            6,
            100,
            |s, t, sign| {
                let [e, n, _] = OFFSETS[t];
                let far = e.hypot(n);
                let size = sign * 10.0 * DISTANCE_SIGMA;
                s.control[t].easting_m += size * (e + n) / far;
                s.control[t].northing_m += size * (n - e) / far;
            },
            |target| Suspect::PlanPosition { target },
        ),
    );
}

#[test]
fn gross_causes_are_named_at_every_point() {
    at_least_99(
        "feet",
        rate(
            7,
            25,
            |s, t, _| spoil(s, t, Quantity::SlopeDistance, |v, _| v / 0.3048),
            |target| Suspect::DistanceInFeet { target },
        ),
    );
    at_least_99(
        "face",
        rate(
            8,
            25,
            |s, t, sign| spoil(s, t, Quantity::Direction, |v, _| v + sign * std::f64::consts::PI),
            |target| Suspect::Face { target },
        ),
    );
    at_least_99(
        "another control point",
        rate(
            9,
            25,
            |s, t, _| {
                // A point that is in the control list but was not set up on: the nail next to it.
                let mut nail = s.control[t].clone();
                nail.id = "NAIL".into();
                nail.easting_m += 0.7;
                nail.northing_m -= 0.4;
                std::mem::swap(&mut nail, &mut s.control[t]);
                let id = s.control[t].id.clone();
                s.control[t].id = nail.id.clone();
                nail.id = id;
                s.control.push(nail);
            },
            |target| Suspect::OtherPoint {
                target,
                actually: OFFSETS.len(),
            },
        ),
    );
}

#[test]
fn swapped_points_are_named_for_every_pair() {
    let mut noise = Noise::seeded(10);
    let (mut right, mut all) = (0, 0);
    for first in 0..OFFSETS.len() {
        for second in first + 1..OFFSETS.len() {
            for _ in 0..8 {
                let mut set_up = clean(&mut noise);
                for o in &mut set_up.observations {
                    if o.to == first {
                        o.to = second;
                    } else if o.to == second {
                        o.to = first;
                    }
                }
                all += 1;
                let named = find_blunders(&set_up, 1).pop();
                right += usize::from(named.is_some_and(|b| {
                    b.best.suspect == Suspect::Swapped { first, second } && b.also.is_empty()
                }));
            }
        }
    }
    at_least_99("swapped points", (right, all));
}

#[test]
fn errors_of_all_distances_are_named() {
    let mut noise = Noise::seeded(14);
    let changes: [Common; 4] = [
        (Suspect::CommonConstant, |v| v + 0.034),
        (Suspect::CommonScale, |v| v * 1.0006),
        (Suspect::AllDistancesInFeet, |v| v / 0.3048),
        (Suspect::ControlInFeet, |v| v * 0.3048),
    ];
    for (kind, change) in changes {
        let (mut right, mut all) = (0, 0);
        for _ in 0..50 {
            let mut set_up = clean(&mut noise);
            // Points at different ranges: only so are a constant and a scale told apart.
            let mut offsets = OFFSETS;
            offsets[0] = [-9.0, 8.0, 0.3];
            offsets[3] = [13.0, -17.0, 0.2];
            if matches!(kind, Suspect::CommonConstant | Suspect::CommonScale) {
                set_up = errorless(&TRUTH, &offsets, 1.5);
                disturb(&mut set_up, &mut noise);
            }
            for o in set_up.observations.iter_mut().filter(|o| o.quantity.is_length()) {
                o.value = change(o.value);
            }
            all += 1;
            let named = find_blunders(&set_up, 1).pop();
            right += usize::from(named.is_some_and(|b| b.best.suspect == kind));
        }
        at_least_99(&format!("{kind:?}"), (right, all));
    }
}

#[test]
fn good_readings_are_seldom_accused() {
    // The tests run at 5 % for the whole and 0.1 % for each of 18 readings and 6 points; what they raise is mostly dropped
    // again, because no cause is worth its price.
    let mut noise = Noise::seeded(15);
    let accused = (0..400)
        .filter(|_| !find_blunders(&clean(&mut noise), 1).is_empty())
        .count();
    assert!(accused < 20, "{accused} of 400");
}

#[test]
fn a_blunder_is_said_in_words_a_person_can_act_on() {
    let mut set_up = errorless(&TRUTH, &OFFSETS, 1.5);
    spoil(&mut set_up, 2, Quantity::SlopeDistance, |v, _| v + 0.098);
    let found = find_blunders(&set_up, 3);
    assert_eq!(found.len(), 1);
    assert_eq!(
        found[0].finding.sentence,
        "the distance to C3 disagrees by 98 mm: wrong prism constant or wrong point?"
    );
    assert!(found[0].best.explains());
}

#[test]
fn a_pole_a_metre_longer_than_booked_is_named() {
    for target in 0..OFFSETS.len() {
        let mut set_up = errorless(&TRUTH, &OFFSETS, 1.5);
        for o in set_up.observations.iter_mut().filter(|o| o.to == target) {
            o.target_height_m -= 1.0;
        }
        let blunder = find_blunders(&set_up, 1).remove(0);
        assert_eq!(blunder.best.suspect, Suspect::TargetHeight { target });
        assert!(blunder.best.explains());
        // On a flat sight a zenith angle says the same, and the sentence then says so too.
        let start = format!(
            "the level of C{} disagrees by 1000 mm: wrong target height, or wrong level of the point?",
            target + 1
        );
        let sentence = &blunder.finding.sentence;
        assert!(sentence.starts_with(&start), "{sentence}");
    }
}

#[test]
fn two_blunders_are_found_one_after_the_other() {
    let mut set_up = errorless(&TRUTH, &OFFSETS, 1.5);
    spoil(&mut set_up, 0, Quantity::SlopeDistance, |v, _| v + 0.12);
    spoil(&mut set_up, 3, Quantity::Direction, |v, sigma| v + 40.0 * sigma);
    let named: Vec<Suspect> = find_blunders(&set_up, 3).iter().map(|b| b.best.suspect).collect();
    assert_eq!(named.len(), 2);
    assert!(named.contains(&Suspect::Distance { target: 0 }), "{named:?}");
    assert!(named.contains(&Suspect::Direction { target: 3 }), "{named:?}");
}

#[test]
fn among_many_points_a_swap_and_a_wrong_name_are_still_found() {
    let mut noise = Noise::seeded(16);
    let offsets: Vec<[f64; 3]> = (0..31)
        .map(|k| {
            let azimuth = f64::from(k) * 0.2;
            let far = 30.0 + 60.0 * noise.even();
            [far * azimuth.sin(), far * azimuth.cos(), 3.0 * noise.even()]
        })
        .collect();
    let mut set_up = errorless(&TRUTH, &offsets, 1.5);
    disturb(&mut set_up, &mut noise);
    let booked_as = |name: fn(usize) -> usize| {
        let mut booked = set_up.clone();
        // The last point is control that nobody sighted.
        booked.observations.retain(|o| o.to != 30);
        for o in &mut booked.observations {
            o.to = name(o.to);
        }
        find_blunders(&booked, 1)[0].best.suspect
    };
    let swapped = booked_as(|to| match to {
        4 => 21,
        21 => 4,
        other => other,
    });
    assert_eq!(swapped, Suspect::Swapped { first: 4, second: 21 });
    let misnamed = booked_as(|to| if to == 4 { 30 } else { to });
    assert_eq!(
        misnamed,
        Suspect::OtherPoint {
            target: 30,
            actually: 4
        }
    );
}

#[test]
fn two_points_can_say_that_but_not_which() {
    let mut set_up = errorless(&TRUTH, &OFFSETS[..2], 1.5);
    spoil(&mut set_up, 1, Quantity::SlopeDistance, |v, _| v + 0.098);
    // With a base of one line only its length is checked in plan: either distance may be wrong.
    let found = find_blunders(&set_up, 1);
    let named: Vec<Suspect> = found.iter().flat_map(|b| b.named().collect::<Vec<_>>()).collect();
    for target in [0, 1] {
        assert!(named.contains(&Suspect::Distance { target }), "{named:?}");
    }
    assert!(
        found[0].finding.sentence.contains("fit as well if"),
        "{}",
        found[0].finding
    );
}

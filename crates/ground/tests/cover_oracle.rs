//! Cover against dense sampling: an independent second method that looks up the surface point by point.
//!
//! The sampler knows neither facets nor convexity: it walks the axis, lays rings of points on each section's upper side, and
//! asks a plain scan of the triangles for the level over each. It can only miss the extreme, so the exact figure must be at
//! most the sampled one and within what the sampling step lets it miss.

#![expect(clippy::unwrap_used, reason = "a helper of a test may fail the test")]

use coverbook_ground::cover::{Cover, cover};
use coverbook_ground::surface::Surface;
use coverbook_ground::tin::from_triangles;
use coverbook_ground::tube::{Growth, Section, Tube, TubeVertex};
use coverbook_ground::{Vec2, Vec3};
use proptest::prelude::*;

/// A small generator of even numbers from 0 to 1, so that each case is the same on every machine.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.roll()
    }
}

struct Ground {
    points: Vec<Vec3>,
    triangles: Vec<[usize; 3]>,
    surface: Surface,
}

/// A rough grid of triangles over 12 m by 12 m, corners moved about, steps up to 1.5 m.
fn ground(dice: &mut Dice, offset: Vec2, rough_m: f64) -> Ground {
    let across = 9;
    let mut points = Vec::new();
    for row in 0..across {
        for column in 0..across {
            let (e, n) = (1.5 * f64::from(column), 1.5 * f64::from(row));
            points.push(Vec3::new(
                e + dice.between(-0.4, 0.4) + offset.x,
                n + dice.between(-0.4, 0.4) + offset.y,
                0.1 * e - 0.05 * n + dice.between(-rough_m, rough_m),
            ));
        }
    }
    let across = across as usize;
    let mut triangles = Vec::new();
    for row in 0..across - 1 {
        for column in 0..across - 1 {
            let sw = row * across + column;
            let (se, nw, ne) = (sw + 1, sw + across, sw + across + 1);
            triangles.push([sw, se, ne]);
            triangles.push([sw, ne, nw]);
        }
    }
    let surface = from_triangles(&points, &triangles, None).unwrap();
    Ground {
        points,
        triangles,
        surface,
    }
}

/// The level over a plan position by scanning every triangle; the lowest where several hold it.
fn scanned(ground: &Ground, p: Vec2) -> Option<f64> {
    let mut lowest: Option<f64> = None;
    for triangle in &ground.triangles {
        let [a, b, c] = triangle.map(|i| ground.points[i]);
        if p.x < a.x.min(b.x).min(c.x) || p.x > a.x.max(b.x).max(c.x) {
            continue;
        }
        let whole = (b - a).xy().perp(&(c - a).xy());
        let v = (p - a.xy()).perp(&(c - a).xy()) / whole;
        let w = (b - a).xy().perp(&(p - a.xy())) / whole;
        if v >= -1e-12 && w >= -1e-12 && v + w <= 1.0 + 1e-12 {
            let level = a.z + v * (b.z - a.z) + w * (c.z - a.z);
            lowest = Some(lowest.map_or(level, |l| l.min(level)));
        }
    }
    lowest
}

/// Points on the upper side of a section about an axis point, relative to it.
fn upper_side(section: Section, along: Vec3, growth: Growth, fine: usize) -> Vec<Vec3> {
    let mut points = Vec::new();
    let turns = 4 * fine;
    match section {
        Section::Round { radius_m } => {
            for ring in 0..=fine {
                let tilt = std::f64::consts::FRAC_PI_2 * ring as f64 / fine as f64;
                for turn in 0..turns {
                    let way = std::f64::consts::TAU * turn as f64 / turns as f64;
                    let flat = Vec3::new(way.cos(), way.sin(), 0.0);
                    // On a ball grown by an upright cylinder: out over the ball, then anywhere over the flat cap.
                    points.push(
                        flat * (radius_m * tilt.sin() + growth.horizontal_m)
                            + Vec3::z() * (radius_m * tilt.cos() + growth.vertical_m),
                    );
                    points.push(
                        flat * (growth.horizontal_m * ring as f64 / fine as f64)
                            + Vec3::z() * (radius_m + growth.vertical_m),
                    );
                }
            }
        }
        Section::Bank {
            half_width_m,
            half_height_m,
        } => {
            let across = Vec3::new(along.y, -along.x, 0.0).normalize();
            let upright = across.cross(&along.normalize());
            for i in 0..=2 * fine {
                let x = i as f64 / fine as f64 - 1.0;
                for turn in 0..turns {
                    let way = std::f64::consts::TAU * turn as f64 / turns as f64;
                    let out = Vec3::new(way.cos(), way.sin(), 0.0) * growth.horizontal_m
                        + Vec3::z() * growth.vertical_m;
                    points.push(across * (x * half_width_m) + upright * half_height_m + out);
                    points.push(across * half_width_m + upright * (x * half_height_m) + out);
                    points.push(across * -half_width_m + upright * (x * half_height_m) + out);
                }
            }
        }
    }
    points
}

struct Sampled {
    least_m: f64,
    greatest_m: f64,
}

fn sampled(ground: &Ground, tube: &Tube, grown: bool, steps: usize, fine: usize) -> Sampled {
    let (a, b) = (&tube.vertices[0], &tube.vertices[1]);
    let still = Growth {
        horizontal_m: 0.0,
        vertical_m: 0.0,
    };
    let mut found = Sampled {
        least_m: f64::INFINITY,
        greatest_m: f64::NEG_INFINITY,
    };
    for step in 0..=steps {
        let t = step as f64 / steps as f64;
        let axis = a.axis + (b.axis - a.axis) * t;
        let growth = match (a.growth, b.growth) {
            (Some(p), Some(q)) if grown => Growth {
                horizontal_m: p.horizontal_m + (q.horizontal_m - p.horizontal_m) * t,
                vertical_m: p.vertical_m + (q.vertical_m - p.vertical_m) * t,
            },
            _ => still,
        };
        let mut here = f64::INFINITY;
        for off in upper_side(tube.section, b.axis - a.axis, growth, fine) {
            let q = axis + off;
            if let Some(level) = scanned(ground, q.xy()) {
                here = here.min(level - q.z);
            }
        }
        if here.is_finite() {
            found.least_m = found.least_m.min(here);
            found.greatest_m = found.greatest_m.max(here);
        }
    }
    found
}

fn random_tube(dice: &mut Dice, section: Section, offset: Vec2, slope: f64) -> Tube {
    let start = Vec3::new(
        dice.between(2.0, 10.0) + offset.x,
        dice.between(2.0, 10.0) + offset.y,
        dice.between(-2.5, -0.5),
    );
    let way = dice.between(0.0, std::f64::consts::TAU);
    let length = dice.between(0.5, 2.0);
    let end = start + Vec3::new(way.cos() * length, way.sin() * length, slope * length);
    let mut growth = || {
        Some(Growth {
            horizontal_m: dice.between(0.0, 0.2),
            vertical_m: dice.between(0.0, 0.1),
        })
    };
    let vertices = vec![
        TubeVertex {
            axis: start,
            chainage_m: 0.0,
            growth: growth(),
        },
        TubeVertex {
            axis: end,
            chainage_m: length,
            growth: growth(),
        },
    ];
    Tube { section, vertices }
}

#[track_caller]
fn agrees(exact: &Cover, ground: &Ground, tube: &Tube, case: usize) {
    let leg = &exact.legs[0];
    // Steps of at most 2 m / 60 along and 0.4 m x 6 degrees round, on slopes up to about 2: the sampler misses less
    // than 60 mm of a sloping edge, and never finds less than there is.
    let miss_m = 0.06;
    let measured = sampled(ground, tube, false, 60, 15);
    let (least, greatest) = (leg.least.unwrap().cover_m, leg.greatest.unwrap().cover_m);
    assert!(
        least <= measured.least_m + 1e-9 && least >= measured.least_m - miss_m,
        "case {case}: {least} sampled {}",
        measured.least_m
    );
    assert!(
        greatest >= measured.greatest_m - miss_m && greatest <= measured.greatest_m + miss_m,
        "case {case}: {greatest} sampled {}",
        measured.greatest_m
    );
    let worst = leg.worst.unwrap().cover_m;
    let grown = sampled(ground, tube, true, 60, 15);
    assert!(
        worst <= grown.least_m + 1e-9 && worst >= grown.least_m - miss_m,
        "case {case}: worst {worst} sampled {}",
        grown.least_m
    );
    // The place named is on the tube and gives the figure named: so the figure is attained, and nothing sampled is less.
    for (at, grown) in [(leg.least.unwrap(), false), (leg.worst.unwrap(), true)] {
        let level = scanned(ground, at.on_tube.xy()).unwrap_or(f64::NAN);
        assert!(
            (level - at.on_tube.z - at.cover_m).abs() < 1e-4,
            "case {case}: {level} over {at:?}"
        );
        assert!(
            is_in_tube(tube, at.on_tube, at.chainage_m, grown),
            "case {case}: {at:?}"
        );
    }
}

/// Whether a point lies in the section at a chainage; at any height of a plumb leg.
fn is_in_tube(tube: &Tube, q: Vec3, chainage_m: f64, grown: bool) -> bool {
    let [a, b] = [tube.vertices[0], tube.vertices[1]];
    let along = b.axis - a.axis;
    let share = if b.chainage_m > a.chainage_m && along.xy().norm() > 0.0 {
        chainage_m / b.chainage_m
    } else {
        ((q.z - a.axis.z) / along.z).clamp(0.0, 1.0)
    };
    let mix = |p: f64, q: f64| if grown { p + (q - p) * share } else { 0.0 };
    let (ga, gb) = (a.growth.unwrap(), b.growth.unwrap());
    let (out_m, up_m) = (
        mix(ga.horizontal_m, gb.horizontal_m),
        mix(ga.vertical_m, gb.vertical_m),
    );
    let off = q - (a.axis + along * share);
    let slack = 1e-5;
    match tube.section {
        Section::Round { radius_m } => {
            let flat = (off.xy().norm() - out_m).max(0.0);
            flat.hypot((off.z.abs() - up_m).max(0.0)) <= radius_m + slack
        }
        Section::Bank {
            half_width_m,
            half_height_m,
        } => {
            // Only the top can be the place, so the height is known, and what the box leaves over in plan is growth.
            let across = Vec3::new(along.y, -along.x, 0.0).normalize();
            let upright = across.cross(&along.normalize());
            let core = off - Vec3::z() * up_m;
            (0..=400).any(|i| {
                let y = half_height_m * (f64::from(i) / 200.0 - 1.0);
                let left = core - upright * y;
                let x = left.dot(&across).clamp(-half_width_m, half_width_m);
                let rest = left - across * x;
                rest.xy().norm() <= out_m + 5e-3 && rest.z.abs() <= 5e-3
            })
        }
    }
}

#[test]
fn least_greatest_and_worst_agree_with_dense_sampling() {
    let mut dice = Dice(11);
    for case in 0..48 {
        let offset = if case % 3 == 0 {
            Vec2::new(10_000.0, -8_000.0)
        } else {
            Vec2::zeros()
        };
        let ground = ground(&mut dice, offset, if case % 2 == 0 { 0.3 } else { 0.75 });
        let section = if case % 4 == 3 {
            Section::Bank {
                half_width_m: dice.between(0.05, 0.4),
                half_height_m: dice.between(0.05, 0.3),
            }
        } else {
            Section::Round {
                radius_m: dice.between(0.01, 0.4),
            }
        };
        let slope = [0.0, 0.02, 0.5, 0.9999, -0.3, 1.0][case % 6];
        let tube = random_tube(&mut dice, section, offset, slope);
        let exact = cover(&tube, &ground.surface, Some(0.0)).unwrap();
        agrees(&exact, &ground, &tube, case);
    }
}

/// A riser is left out of the whole, but its own figures are as exact as any.
#[test]
fn steep_and_plumb_legs_agree_with_dense_sampling() {
    let mut dice = Dice(5);
    for (case, slope) in [1.5_f64, 6.0, -3.0, 1e9, -2.0, 1e9].into_iter().enumerate() {
        let ground = ground(&mut dice, Vec2::zeros(), 0.5);
        let mut tube = random_tube(
            &mut dice,
            Section::Round { radius_m: 0.2 },
            Vec2::zeros(),
            slope.min(8.0),
        );
        if slope > 1e6 {
            tube.vertices[1].axis = tube.vertices[0].axis + Vec3::new(0.0, 0.0, 1.2);
        }
        let exact = cover(&tube, &ground.surface, Some(0.0)).unwrap();
        assert!(exact.legs[0].riser);
        agrees(&exact, &ground, &tube, case);
    }
}

/// The section along an edge and through corners of the triangles: closed coincidences that rounding likes to lose.
#[test]
fn legs_that_run_along_edges_agree_with_dense_sampling() {
    let mut dice = Dice(77);
    for case in 0..12 {
        let ground = ground(&mut dice, Vec2::zeros(), 0.5);
        let [a, b] = [ground.points[30 + case], ground.points[31 + case]];
        if (b - a).norm() > 4.0 {
            continue;
        }
        let down = Vec3::new(0.0, 0.0, 1.0);
        let growth = Some(Growth {
            horizontal_m: 0.05,
            vertical_m: 0.02,
        });
        let vertices = vec![
            TubeVertex {
                axis: a - down,
                chainage_m: 0.0,
                growth,
            },
            TubeVertex {
                axis: b - down,
                chainage_m: (b - a).xy().norm(),
                growth,
            },
        ];
        let tube = Tube {
            section: Section::Round { radius_m: 0.15 },
            vertices,
        };
        let exact = cover(&tube, &ground.surface, Some(0.0)).unwrap();
        agrees(&exact, &ground, &tube, case);
    }
}

/// Shortest distance: the nearest of many sampled surface points to the axis, less the radius.
#[test]
fn the_shortest_distance_agrees_with_dense_sampling() {
    let mut dice = Dice(23);
    for case in 0..20 {
        let ground = ground(&mut dice, Vec2::zeros(), 0.5);
        let tube = random_tube(&mut dice, Section::Round { radius_m: 0.1 }, Vec2::zeros(), 0.1);
        let leg = cover(&tube, &ground.surface, Some(0.0)).unwrap().legs[0];
        let (a, b) = (tube.vertices[0].axis, tube.vertices[1].axis);
        let mut nearest = f64::INFINITY;
        let mut through = false;
        for triangle in &ground.triangles {
            let [p, q, r] = triangle.map(|i| ground.points[i]);
            let cells = 80;
            for i in 0..=cells {
                for j in 0..=cells - i {
                    let x = p
                        + (q - p) * (f64::from(i) / f64::from(cells))
                        + (r - p) * (f64::from(j) / f64::from(cells));
                    let share = ((x - a).dot(&(b - a)) / (b - a).norm_squared()).clamp(0.0, 1.0);
                    nearest = nearest.min((a + (b - a) * share - x).norm());
                }
            }
            through |= leg.least.unwrap().cover_m <= 0.0;
        }
        let found = leg.shortest.unwrap().cover_m;
        let sampled = if through { 0.0 } else { (nearest - 0.1).max(0.0) };
        // Cells of 2 m / 80: no point of the surface is farther than 20 mm from a sample.
        assert!(
            found <= sampled + 1e-7 && found >= sampled - 0.02,
            "case {case}: {found} sampled {sampled}"
        );
        assert!(leg.worst_shortest.unwrap().cover_m <= found + 1e-7);
        assert!(found <= leg.least.unwrap().cover_m.max(0.0) + 1e-9);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Moving and turning the site about the vertical changes no cover.
    #[test]
    fn turning_the_site_changes_no_cover(seed in 0u64..1_000_000, turn in 0.0..std::f64::consts::TAU, east in -10_000.0..10_000.0, up in -100.0..100.0) {
        let mut dice = Dice(seed);
        let ground = ground(&mut dice, Vec2::zeros(), 0.5);
        let tube = random_tube(&mut dice, Section::Round { radius_m: 0.15 }, Vec2::zeros(), 0.2);
        let moved = |p: Vec3| Vec3::new(
            p.x * turn.cos() - p.y * turn.sin() + east,
            p.x * turn.sin() + p.y * turn.cos() - east / 3.0,
            p.z + up,
        );
        let there = from_triangles(&ground.points.iter().map(|p| moved(*p)).collect::<Vec<_>>(), &ground.triangles, None).unwrap();
        let mut carried = tube.clone();
        for vertex in &mut carried.vertices {
            vertex.axis = moved(vertex.axis);
        }
        let one = cover(&tube, &ground.surface, Some(0.02)).unwrap().legs[0];
        let two = cover(&carried, &there, Some(0.02)).unwrap().legs[0];
        prop_assert!((one.least.unwrap().cover_m - two.least.unwrap().cover_m).abs() < 1e-6);
        prop_assert!((one.greatest.unwrap().cover_m - two.greatest.unwrap().cover_m).abs() < 1e-4);
        prop_assert!((one.worst.unwrap().cover_m - two.worst.unwrap().cover_m).abs() < 1e-6);
        prop_assert!((one.shortest.unwrap().cover_m - two.shortest.unwrap().cover_m).abs() < 1e-6);
        prop_assert!((one.unknown_m - two.unknown_m).abs() < 1e-6);
    }

    /// More doubt never gives more cover, and the worst is never above the least.
    #[test]
    fn more_doubt_never_gives_more_cover(seed in 0u64..1_000_000, more in 0.0..0.3f64) {
        let mut dice = Dice(seed);
        let ground = ground(&mut dice, Vec2::zeros(), 0.5);
        let tube = random_tube(&mut dice, Section::Bank { half_width_m: 0.2, half_height_m: 0.1 }, Vec2::zeros(), 0.1);
        let mut doubtful = tube.clone();
        for growth in doubtful.vertices.iter_mut().filter_map(|v| v.growth.as_mut()) {
            growth.horizontal_m += more;
            growth.vertical_m += more;
        }
        let one = cover(&tube, &ground.surface, Some(0.0)).unwrap().legs[0];
        let two = cover(&doubtful, &ground.surface, Some(more)).unwrap().legs[0];
        prop_assert!(one.worst.unwrap().cover_m <= one.least.unwrap().cover_m + 1e-7);
        prop_assert!(two.worst.unwrap().cover_m <= one.worst.unwrap().cover_m - 2.0 * more + 1e-6);
        prop_assert!(two.worst_unknown_m.unwrap() >= one.worst_unknown_m.unwrap() - 1e-9);
    }
}

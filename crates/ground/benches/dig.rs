//! Times the dig query and the full answer on a synthetic register, beside a packed static tree from a crate.
//!
//! `cargo bench -p coverbook-ground -- 10000 100000 1000000`. The simple rule is the plain one: keep a leg within
//! 1 m of the excavation in plan whose top is no more than 1 m under the floor. Both sides run the same exact test
//! and must return the same legs. The peer keeps 64-bit boxes.

#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a bench prints, and a panic is how a check fails"
)]

extern crate coverbook_ground as ground;

mod streets;

use std::hint::black_box;
use std::time::Instant;

use ground::Vec2;
use ground::dig::{Dig, DigShape, DigSpec, Floor, Form};
use ground::facet::PlanBox;
use ground::gap::tube_gaps_if_near;
use ground::index::{LegIndex, LegKey};
use ground::tube::{Section, Tube};
use static_aabb2d_index::{StaticAABB2DIndex, StaticAABB2DIndexBuilder};
use streets::{Dice, register, surface_m, to_mm};

fn spec(tubes: &[Tube], half: f64, dice: &mut Dice) -> DigSpec<'static> {
    let near = dice.roll() < 0.8;
    let at = if near {
        let tube = &tubes[dice.whole(0, tubes.len() - 1)];
        let p = tube.vertices[dice.whole(0, tube.vertices.len() - 1)].axis;
        Vec2::new(p.x + dice.between(-3.0, 3.0), p.y + dice.between(-3.0, 3.0))
    } else {
        Vec2::new(dice.between(-half, half), dice.between(-half, half))
    };
    let size = dice.between(3.0, 30.0) / 2.0;
    let turn = dice.between(0.0, std::f64::consts::TAU);
    let placed =
        |e: f64, n: f64| at + Vec2::new(turn.cos() * e - turn.sin() * n, turn.sin() * e + turn.cos() * n);
    let shape = match dice.whole(0, 5) {
        0 => {
            let w = size * dice.between(0.3, 1.0);
            DigShape::Area {
                outline: vec![
                    placed(-size, -w),
                    placed(size, -w),
                    placed(size, w),
                    placed(-size, w),
                ],
                holes: vec![],
            }
        }
        1 => DigShape::Area {
            outline: [
                (-1.0, -1.0),
                (1.0, -1.0),
                (1.0, -0.4),
                (-0.4, -0.4),
                (-0.4, 1.0),
                (-1.0, 1.0),
            ]
            .map(|(e, n)| placed(e * size, n * size))
            .to_vec(),
            holes: vec![],
        },
        2 => {
            let corners = dice.whole(4, 8) * 2;
            let outline = (0..corners).map(|i| {
                let angle = std::f64::consts::TAU * i as f64 / corners as f64;
                let out = size * if i % 2 == 0 { 1.0 } else { 0.55 };
                placed(out * angle.cos(), out * angle.sin())
            });
            DigShape::Area {
                outline: outline.collect(),
                holes: vec![],
            }
        }
        _ => {
            let count = dice.whole(2, 4);
            let step = dice.between(6.0, 60.0) / (count - 1) as f64;
            let points = (0..count).map(|i| placed(step * i as f64, dice.between(-1.0, 1.0) * step * 0.3));
            DigShape::Line {
                points: points.collect(),
                width_m: dice.between(0.3, 1.5),
            }
        }
    };
    let floor = Floor::Level(to_mm(surface_m(at.x, at.y) - dice.between(0.3, 2.5)));
    DigSpec {
        shape,
        floor: Some(floor),
        surface: None,
        batter: None,
        set_out_m: 0.3,
        over_dig_m: 0.3,
        surface_u95_m: 0.0,
    }
}

/// The rings of the plan as edges, for the simple rule's own exact test.
struct Plan {
    edges: Vec<[Vec2; 2]>,
    area: bool,
    half_width_m: f64,
    floor_m: f64,
    around: PlanBox,
}

impl Plan {
    fn of(spec: &DigSpec<'_>) -> Plan {
        let Some(Floor::Level(floor_m)) = spec.floor else {
            panic!("level floors only")
        };
        let (points, area, half_width_m) = match &spec.shape {
            DigShape::Area { outline, .. } => (outline.clone(), true, 0.0),
            DigShape::Line { points, width_m } => (points.clone(), false, width_m / 2.0),
            _ => panic!("areas and lines only"),
        };
        let mut edges: Vec<_> = points.windows(2).map(|pair| [pair[0], pair[1]]).collect();
        if area {
            edges.push([points[points.len() - 1], points[0]]);
        }
        let around = PlanBox::around(points).unwrap().grown(half_width_m);
        Plan {
            edges,
            area,
            half_width_m,
            floor_m,
            around,
        }
    }

    fn keeps(&self, leg: &FlatLeg) -> bool {
        let reach = 1.0 + self.half_width_m + leg.radius_m;
        if self.floor_m - (leg.top_m + leg.radius_m) > 1.0 {
            return false;
        }
        if self
            .edges
            .iter()
            .any(|&[p, q]| segments_within(leg.a, leg.b, p, q, reach))
        {
            return true;
        }
        self.area && {
            let mut inside = false;
            for &[a, b] in &self.edges {
                if (a.y > leg.a.y) != (b.y > leg.a.y)
                    && leg.a.x < a.x + (leg.a.y - a.y) / (b.y - a.y) * (b.x - a.x)
                {
                    inside = !inside;
                }
            }
            inside
        }
    }
}

fn segments_within(a: Vec2, b: Vec2, p: Vec2, q: Vec2, reach: f64) -> bool {
    let near = |x: Vec2, s: Vec2, e: Vec2| {
        let d = e - s;
        let t = ((x - s).dot(&d) / d.norm_squared()).clamp(0.0, 1.0);
        (x - s - d * t).norm_squared() <= reach * reach
    };
    if near(a, p, q) || near(b, p, q) || near(p, a, b) || near(q, a, b) {
        return true;
    }
    let (u, w) = (b - a, q - p);
    let side = |s: f64, t: f64| (s > 0.0) != (t > 0.0);
    side(u.perp(&(p - a)), u.perp(&(q - a))) && side(w.perp(&(a - p)), w.perp(&(b - p)))
}

#[derive(Clone, Copy)]
struct FlatLeg {
    a: Vec2,
    b: Vec2,
    top_m: f64,
    radius_m: f64,
    run: u32,
}

fn report(what: &str, mut micros: Vec<f64>) {
    micros.sort_by(f64::total_cmp);
    let at = |share: f64| micros[((micros.len() - 1) as f64 * share) as usize];
    println!("  {what:<46} median {:8.2} us   p99 {:8.2} us", at(0.5), at(0.99));
}

fn timed<T>(rounds: usize, count: usize, mut run: impl FnMut(usize) -> T) -> Vec<f64> {
    let mut best = vec![f64::INFINITY; count];
    for _ in 0..rounds {
        for (i, least) in best.iter_mut().enumerate() {
            let start = Instant::now();
            black_box(run(i));
            *least = least.min(start.elapsed().as_secs_f64() * 1e6);
        }
    }
    best
}

fn bench(count: usize) {
    let mut dice = Dice(2024);
    let (tubes, half) = register(count, &mut dice);
    let specs: Vec<_> = (0..2000).map(|_| spec(&tubes, half, &mut dice)).collect();
    let plans: Vec<_> = specs.iter().map(Plan::of).collect();
    let mut legs: Vec<FlatLeg> = Vec::new();
    let mut boxes: Vec<(LegKey, PlanBox)> = Vec::new();
    for (run, tube) in tubes.iter().enumerate() {
        let Section::Round { radius_m } = tube.section else {
            panic!("round tubes only")
        };
        for (a, b) in tube.legs() {
            let grown_m = radius_m + a.growth.unwrap().horizontal_m;
            let run = u32::try_from(run).unwrap();
            let key = LegKey {
                run,
                leg: u32::try_from(legs.len()).unwrap(),
            };
            let (p, q) = (a.axis.xy(), b.axis.xy());
            boxes.push((
                key,
                PlanBox {
                    min: p.inf(&q),
                    max: p.sup(&q),
                }
                .grown(grown_m),
            ));
            legs.push(FlatLeg {
                a: p,
                b: q,
                top_m: a.axis.z.max(b.axis.z),
                radius_m,
                run,
            });
        }
    }
    println!("{} legs in {} runs", legs.len(), tubes.len());

    let start = Instant::now();
    let index = LegIndex::build(boxes.iter().copied());
    println!("  index built in {:.1} ms", start.elapsed().as_secs_f64() * 1e3);
    let start = Instant::now();
    let mut builder = StaticAABB2DIndexBuilder::new(boxes.len());
    for (_, b) in &boxes {
        builder.add(b.min.x, b.min.y, b.max.x, b.max.y);
    }
    let peer: StaticAABB2DIndex<f64> = builder.build().unwrap();
    println!("  peer built in {:.1} ms", start.elapsed().as_secs_f64() * 1e3);

    let ours = |i: usize| {
        let mut kept = Vec::new();
        index.visit(&plans[i].around.grown(1.0), |key| {
            if plans[i].keeps(&legs[key.leg as usize]) {
                kept.push(key.leg);
            }
        });
        kept
    };
    let theirs = |i: usize| {
        let mut kept = Vec::new();
        let w = plans[i].around.grown(1.0);
        peer.visit_query(w.min.x, w.min.y, w.max.x, w.max.y, &mut |leg: usize| {
            if plans[i].keeps(&legs[leg]) {
                kept.push(u32::try_from(leg).unwrap());
            }
        });
        kept
    };
    let mut kept = 0;
    for i in 0..plans.len() {
        let (mut one, mut two) = (ours(i), theirs(i));
        one.sort_unstable();
        two.sort_unstable();
        assert_eq!(one, two, "dig {i}");
        kept += one.len();
    }
    println!("  both keep {:.1} legs a dig", kept as f64 / plans.len() as f64);
    report("simple rule, this index", timed(5, plans.len(), ours));
    report("simple rule, peer index", timed(5, plans.len(), theirs));

    report(
        "excavation made",
        timed(5, specs.len(), |i| Dig::new(&specs[i]).unwrap()),
    );
    let digs: Vec<Dig> = specs.iter().map(|spec| Dig::new(spec).unwrap()).collect();
    let mut answered = 0;
    let full = |i: usize| {
        let near_m = 1.0;
        let runs = index.runs_in(&digs[i].plan_box(Form::Grown).grown(near_m));
        let all = runs
            .iter()
            .filter_map(|&run| tube_gaps_if_near(&tubes[run as usize], &digs[i], near_m).unwrap());
        all.collect::<Vec<_>>().len()
    };
    for i in 0..digs.len() {
        answered += full(i);
    }
    println!("  {:.2} runs answered a dig", answered as f64 / digs.len() as f64);
    report("full answer: all gaps of all runs", timed(3, digs.len(), full));

    let mut grown = index.clone();
    let run: Vec<(u32, PlanBox)> = boxes.iter().take(40).map(|(key, b)| (key.leg, *b)).collect();
    let first = legs.last().unwrap().run + 1;
    report(
        "one run of 40 legs put in",
        timed(1, 2000, |i| grown.put_run(first + i as u32, run.iter().copied())),
    );
}

fn main() {
    let asked: Vec<usize> = std::env::args()
        .skip(1)
        .filter_map(|word| word.parse().ok())
        .collect();
    for count in if asked.is_empty() {
        vec![10_000, 100_000]
    } else {
        asked
    } {
        bench(count);
    }
}

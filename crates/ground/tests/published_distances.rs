//! Distances in space and in plan against figures computed in 80-digit arithmetic; the files say how.

#![expect(clippy::unwrap_used, reason = "a panic is how a check fails")]

extern crate coverbook_ground as ground;

use ground::dig::{Dig, DigShape, DigSpec, Floor};
use ground::gap::{TubeGaps, tube_gaps};
use ground::meeting::meetings;
use ground::segment::segments_apart;
use ground::tube::{Growth, Section, Tube, TubeVertex};
use ground::{Vec2, Vec3};

fn rows(text: &'static str) -> impl Iterator<Item = Vec<&'static str>> {
    text.lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| line.split('|').map(str::trim).collect())
}

fn numbers(text: &str) -> Vec<f64> {
    text.split_whitespace()
        .map(|word| word.parse().unwrap())
        .collect()
}

fn tube(points: &[Vec3]) -> Tube {
    let mut chainage_m = 0.0;
    let vertices = points.iter().enumerate().map(|(i, &axis)| {
        chainage_m += if i > 0 {
            (axis - points[i - 1]).xy().norm()
        } else {
            0.0
        };
        TubeVertex {
            axis,
            chainage_m,
            growth: Some(Growth {
                horizontal_m: 0.0,
                vertical_m: 0.0,
            }),
        }
    });
    Tube {
        vertices: vertices.collect(),
        section: Section::Round { radius_m: 0.0 },
    }
}

fn gaps(points: &[Vec3], shape: DigShape, floor: Option<Floor>, near_m: f64) -> TubeGaps {
    let spec = DigSpec {
        shape,
        floor,
        surface: None,
        batter: None,
        set_out_m: 0.0,
        over_dig_m: 0.0,
        surface_u95_m: 0.0,
    };
    tube_gaps(&tube(points), &Dig::new(&spec).unwrap(), near_m).unwrap()
}

#[test]
fn a_thread_and_a_thread_like_bore_are_as_far_apart_as_two_segments() {
    const THREAD_M: f64 = 1e-7;
    let mut count = 0;
    for row in rows(include_str!("data/segment_distances.txt")) {
        let v = numbers(row[1]);
        // The site frame: coordinates minus an origin near by.
        let origin = Vec3::new(v[0], v[1], v[2]);
        let point = |i: usize| Vec3::new(v[3 * i], v[3 * i + 1], v[3 * i + 2]) - origin;
        let expected: f64 = row[2].parse().unwrap();
        let (from, mut to) = (point(2), point(3));
        if from == to {
            to.x += 1e-10; // a bore has a length
        }
        let bore = DigShape::Bore {
            axis: vec![from, to],
            radius_m: THREAD_M,
            deviation_m: 0.0,
        };
        let ours = gaps(&[point(0), point(1)], bore, None, 1.0).shortest.gap_m;
        assert!(
            (ours - (expected - THREAD_M).max(0.0)).abs() < 3e-8,
            "{}: {ours} for {expected}",
            row[0]
        );
        count += 1;
    }
    assert_eq!(count, 30);
}

#[test]
fn lines_lie_as_near_a_polygon_and_for_as_long_as_computed() {
    let mut count = 0;
    for row in rows(include_str!("data/lines_near_polygons.txt")) {
        let plan = |text: &str| {
            numbers(text)
                .chunks(2)
                .map(|p| Vec2::new(p[0], p[1]))
                .collect::<Vec<_>>()
        };
        let line: Vec<Vec3> = plan(row[2]).iter().map(|p| Vec3::new(p.x, p.y, 0.0)).collect();
        let (buffer_m, distance_m): (f64, f64) = (row[3].parse().unwrap(), row[4].parse().unwrap());
        let shape = DigShape::Area {
            outline: plan(row[1]),
            holes: vec![],
        };
        let ours = gaps(&line, shape, Some(Floor::Level(5.0)), buffer_m);
        assert!(
            (ours.horizontal.gap_m - distance_m).abs() < 3e-8,
            "{}: {:?}",
            row[0],
            ours.horizontal
        );
        let length_m: f64 = ours
            .near
            .iter()
            .map(|stretch| stretch.to_m - stretch.from_m)
            .sum();
        match row[5].parse::<f64>() {
            // The last leg of this line runs exactly 1 m from a side and leaves round a corner, where the rounding of
            // the source shows: halving 60 times between in and out gives 14.487806159, ours is 14.487806144.
            Ok(expected) if row[0] == "buffer-dig-l-shape-bent-1" => {
                assert!((expected - 14.487_807_558_6).abs() < 1e-12);
                assert!((length_m - 14.487_806_159).abs() < 1e-7, "{length_m}");
            }
            Ok(expected) => assert!(
                (length_m - expected).abs() < 1e-6,
                "{}: {length_m} for {expected}",
                row[0]
            ),
            Err(_) => assert_eq!(row[5], "-"),
        }
        count += 1;
    }
    assert_eq!(count, 63);
}

/// The figures print twelve digits, so a place along a segment is told to half a unit of the twelfth times its length.
#[test]
fn segments_are_as_far_apart_and_nearest_where_computed() {
    let mut count = 0;
    for row in rows(include_str!("data/segment_distances.txt")) {
        let v = numbers(row[1]);
        let point = |i: usize| Vec3::new(v[3 * i], v[3 * i + 1], v[3 * i + 2]);
        let (p, q) = ([point(0), point(1)], [point(2), point(3)]);
        let expected: f64 = row[2].parse().unwrap();
        let ours = segments_apart(p, q);
        assert!((ours.upper_m - expected).abs() < 1e-9, "{}: {ours:?}", row[0]);
        assert!((ours.lower_m - expected).abs() < 1e-9, "{}: {ours:?}", row[0]);
        if row[3] != "-" {
            let places = numbers(row[3]);
            for (k, side) in [p, q].into_iter().enumerate() {
                let off_m = (ours.along[k] - places[k]).abs() * (side[1] - side[0]).norm();
                let printed_m = 5e-13 * (side[1] - side[0]).norm();
                assert!(off_m < 1e-9 + printed_m, "{}: {ours:?}", row[0]);
            }
        }
        count += 1;
    }
    assert_eq!(count, 30);
}

/// Two tubes about the segments: clearance is the distance less both outside radii; overlapping ones have no gap.
#[test]
fn two_tubes_are_as_clear_of_one_another_as_computed() {
    let mut count = 0;
    for row in rows(include_str!("data/segment_distances.txt")) {
        let v = numbers(row[1]);
        // The site frame: coordinates minus an origin near by.
        let origin = Vec3::new(v[0], v[1], v[2]);
        let point = |i: usize| Vec3::new(v[3 * i], v[3 * i + 1], v[3 * i + 2]) - origin;
        let sizes = numbers(row[4]);
        let round = |ends: [Vec3; 2], radius_m: f64| Tube {
            section: Section::Round { radius_m },
            ..tube(&ends)
        };
        let one = round([point(0), point(1)], sizes[0]);
        let two = round([point(2), point(3)], sizes[1]);
        let met = meetings(&one, &two, 50.0).unwrap();
        assert_eq!(met.len(), 1, "{}", row[0]);
        let gap_m = met[0].shortest.gap_m;
        assert!((gap_m - sizes[2].max(0.0)).abs() < 1e-9, "{}: {gap_m}", row[0]);
        // Grown by nothing the worst is the same, from the iterated bound: within 0.1 mm, and never more.
        let worst_m = met[0].worst_shortest.unwrap().gap_m;
        assert!(
            worst_m <= gap_m + 1e-9 && worst_m >= gap_m - 1e-5,
            "{}: {worst_m}",
            row[0]
        );
        count += 1;
    }
    assert_eq!(count, 30);
}

#[test]
fn a_point_is_as_near_a_polyline_as_computed() {
    let line = [
        [0.0, 0.0, 1.0],
        [4.0, 0.0, 1.1],
        [4.0, 3.0, 1.2],
        [10.0, 3.0, 0.9],
        [10.0, 3.0, 0.4],
    ]
    .map(Vec3::from);
    let mut count = 0;
    for row in rows(include_str!("data/point_to_polyline.txt")) {
        let point = Vec3::from_iterator(numbers(row[1]));
        let nearest = |flat: f64| {
            let at = |p: Vec3| Vec3::new(p.x, p.y, p.z * flat);
            let legs = line.windows(2).map(|leg| {
                let apart = segments_apart([at(point); 2], [at(leg[0]), at(leg[1])]);
                (apart.lower_m, leg[0] + (leg[1] - leg[0]) * apart.along[1])
            });
            legs.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap()
        };
        let (distance_m, place) = nearest(1.0);
        assert!(
            (distance_m - row[2].parse::<f64>().unwrap()).abs() < 1e-9,
            "{}",
            row[0]
        );
        assert!(
            (place - Vec3::from_iterator(numbers(row[3]))).norm() < 1e-9,
            "{}: {place}",
            row[0]
        );
        assert!(
            (nearest(0.0).0 - row[4].parse::<f64>().unwrap()).abs() < 1e-9,
            "{}",
            row[0]
        );
        count += 1;
    }
    assert_eq!(count, 7);
}

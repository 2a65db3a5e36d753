//! Whether positions can be what they claim: near the site, the right way round, in the right unit.

use crate::findings::Findings;
use crate::options::{KnownPoint, SiteFrame};
use register::view::Near;
use std::collections::BTreeMap;
use survey::quantity::INTERNATIONAL_FOOT_M;

/// A position as read, and where it stands.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    pub row: u64,
    /// Easting, northing, level, metres.
    pub at: [f64; 3],
}

/// Returns the two corners of the extent; `None` without a position.
pub(crate) fn corners(places: &[Place]) -> [Option<[Near; 3]>; 2] {
    let corner = |pick: fn(f64, f64) -> f64| {
        let all = places.iter().map(|place| place.at);
        let corner = all.reduce(|a, b| std::array::from_fn(|axis| pick(a[axis], b[axis])))?;
        Some(corner.map(Near))
    };
    [corner(f64::min), corner(f64::max)]
}

/// Headers of easting, northing and level.
pub(crate) type Headers<'a> = [&'a str; 3];

/// Undoes a slip: easting and northing as they may have been meant.
type Undo = fn(f64, f64) -> [f64; 2];

/// How a far position comes near the site: the likely slip, the mend, and what it would have been.
const SLIPS: [(&str, &str, Undo); 8] = [
    (
        "swapped",
        "with easting and northing swapped they would: name the columns the other way round",
        |e, n| [n, e],
    ),
    (
        "feet",
        "read as feet they would: end the column's name in _ft or _usft, whichever foot it is",
        |e, n| [e * INTERNATIONAL_FOOT_M, n * INTERNATIONAL_FOOT_M],
    ),
    (
        "feet-swapped",
        "read as feet with easting and northing swapped they would: name the columns the other way round, with _ft \
         or _usft",
        |e, n| [n * INTERNATIONAL_FOOT_M, e * INTERNATIONAL_FOOT_M],
    ),
    (
        "metres-as-feet",
        "read as metres they would: take _ft off the column's name",
        |e, n| [e / INTERNATIONAL_FOOT_M, n / INTERNATIONAL_FOOT_M],
    ),
    (
        "millimetres",
        "read as millimetres they would: end the column's name in _mm",
        |e, n| [e / 1000.0, n / 1000.0],
    ),
    (
        "mirrored",
        "with the sign of the easting turned they would, so this is a mirror image: write eastings, not westings",
        |e, n| [-e, n],
    ),
    (
        "mirrored",
        "with the sign of the northing turned they would, so this is a mirror image: write northings, not southings",
        |e, n| [e, -n],
    ),
    (
        "turned",
        "with both signs turned they would: write eastings and northings, not westings and southings",
        |e, n| [-e, -n],
    ),
];

/// Refuses positions outside the site's reach, and says which slip would explain them.
pub(crate) fn check_plan(places: &[Place], frame: &SiteFrame, headers: Headers<'_>, findings: &mut Findings) {
    let off = |e: f64, n: f64| (e - frame.near_easting_m).hypot(n - frame.near_northing_m);
    // Written so that what cannot be compared counts as far.
    let is_near = |e: f64, n: f64| off(e, n) <= frame.reach_m;
    let mut far: BTreeMap<usize, Vec<Place>> = BTreeMap::new();
    const DEGREES: usize = SLIPS.len();
    const UNEXPLAINED: usize = SLIPS.len() + 1;
    for place in places {
        let [e, n, _] = place.at;
        if is_near(e, n) {
            continue;
        }
        let degrees = |lon: f64, lat: f64| {
            lon.abs() <= 180.0 && lat.abs() <= 90.0 && lon.fract() != 0.0 && lat.fract() != 0.0
        };
        let slip = SLIPS.iter().position(|(_, _, undo)| {
            let [e, n] = undo(e, n);
            is_near(e, n)
        });
        let class = match slip {
            Some(slip) => slip,
            None if degrees(e, n) || degrees(n, e) => DEGREES,
            None => UNEXPLAINED,
        };
        far.entry(class).or_default().push(*place);
    }
    for (class, rows) in far {
        let (code, mend) = match SLIPS.get(class) {
            Some((code, mend, _)) => (*code, *mend),
            None if class == DEGREES => (
                "degrees",
                "they look like longitude and latitude in degrees: bring them into the site's grid first",
            ),
            None => (
                "out-of-reach",
                "look at the readings, at the grid they are in, or at the reach the site was opened with",
            ),
        };
        let says = |place: &Place, who: &str| {
            format!(
                "{who} {:.0} m from the middle of the site and its reach is {:.0} m; {mend}",
                off(place.at[0], place.at[1]),
                frame.reach_m
            )
        };
        if rows.len() > 1 && 2 * rows.len() >= places.len() {
            let who = format!(
                "{} of {} rows do not lie near the site, this first one",
                rows.len(),
                places.len()
            );
            findings.refuse(code, Some(rows[0].row), Some(headers[0]), says(&rows[0], &who));
        } else {
            for place in &rows {
                findings.refuse(
                    code,
                    Some(place.row),
                    Some(headers[0]),
                    says(place, "the position lies"),
                );
            }
        }
    }
    doubt_degrees(places, headers, findings);
}

/// Doubts a whole file that lies within a hundredth of a metre, between -180 and 180: that is a street in degrees.
fn doubt_degrees(places: &[Place], headers: Headers<'_>, findings: &mut Findings) {
    if places.len() < 3 {
        return;
    }
    let spread = |axis: usize| {
        let values = places.iter().map(|place| place.at[axis]);
        let least = values.clone().fold(f64::INFINITY, f64::min);
        let most = values.fold(f64::NEG_INFINITY, f64::max);
        (most - least, least.abs().max(most.abs()))
    };
    let ((east, largest_east), (north, largest_north)) = (spread(0), spread(1));
    if east < 0.01 && north < 0.01 && largest_east <= 180.0 && largest_north <= 180.0 && east + north > 0.0 {
        let says = "all positions lie within 10 mm of one another and may be longitude and latitude in degrees; give \
                    eastings and northings of the site's grid";
        findings.doubt("degrees", Some(places[0].row), Some(headers[0]), says);
    }
}

/// Least distance from a file's usual level at which one stands out, metres.
const OUTLYING_M: f64 = 3.0;
/// How many median distances from the usual level one must lie to stand out.
const OUTLYING_TIMES: f64 = 12.0;
/// Most outlying levels told one by one.
const MOST_OUTLYING: usize = 20;

/// Doubts levels that lie far from all the others of a file, and a nought among levels that are not near nought.
fn doubt_outlying_levels(places: &[Place], headers: Headers<'_>, findings: &mut Findings) {
    if places.len() < 4 {
        return;
    }
    let median = |values: &mut Vec<f64>| {
        values.sort_unstable_by(f64::total_cmp);
        values[values.len() / 2]
    };
    let usual = median(&mut places.iter().map(|place| place.at[2]).collect());
    let spread = median(&mut places.iter().map(|place| (place.at[2] - usual).abs()).collect());
    let far_m = (spread * OUTLYING_TIMES).max(OUTLYING_M);
    let outlying = |place: &&Place| {
        let is_nought = place.at[2] == 0.0 && usual.abs() > 1.0;
        is_nought || (place.at[2] - usual).abs() > far_m
    };
    for place in places.iter().filter(outlying).take(MOST_OUTLYING) {
        let says = format!(
            "the level {:.3} stands apart: the file's usual level is {usual:.3}; look whether it was read, or stands for one \
             that is missing",
            place.at[2]
        );
        findings.doubt("level-stands-apart", Some(place.row), Some(headers[2]), says);
    }
}

/// Refuses levels outside the site's reach, and says when feet or millimetres would explain them.
pub(crate) fn check_levels(
    places: &[Place],
    frame: &SiteFrame,
    headers: Headers<'_>,
    findings: &mut Findings,
) {
    let is_near = |level: f64| (level - frame.near_level_m).abs() <= frame.level_reach_m;
    doubt_outlying_levels(places, headers, findings);
    let far: Vec<&Place> = places.iter().filter(|place| !is_near(place.at[2])).collect();
    let says = |place: &Place, who: &str| {
        let level = place.at[2];
        let hint = if is_near(level * INTERNATIONAL_FOOT_M) {
            "; read as feet it would lie within: if it is, end the column's name in _ft or _usft"
        } else if is_near(level / 1000.0) {
            "; read as millimetres it would lie within: if it is, end the column's name in _mm"
        } else {
            ""
        };
        format!(
            "{who} {level:.3} m and the site's usual level is {:.3} m, reach {:.3} m; look at the reading, at its level \
             datum (a height above the ellipsoid is not a site level) and at the reach the site was opened with{hint}",
            frame.near_level_m, frame.level_reach_m
        )
    };
    if far.len() > 1 && 2 * far.len() >= places.len() {
        let who = format!(
            "{} of {} levels are out of reach, the first is",
            far.len(),
            places.len()
        );
        findings.refuse(
            "level-out-of-reach",
            Some(far[0].row),
            Some(headers[2]),
            says(far[0], &who),
        );
        return;
    }
    for place in far {
        findings.refuse(
            "level-out-of-reach",
            Some(place.row),
            Some(headers[2]),
            says(place, "the level is"),
        );
    }
}

/// Refuses a file whose positions of known control are a mirror image of it (swapped axes are one), and doubts
/// control that is not where it was.
///
/// Both fits are similarities, solved in closed form: `w = a z + b` and `w = a conj(z) + b` over complex numbers.
pub(crate) fn check_control(
    labelled: &[(&str, Place)],
    control: &[KnownPoint],
    headers: Headers<'_>,
    findings: &mut Findings,
) {
    let known: BTreeMap<&str, &KnownPoint> = control.iter().map(|c| (c.point.as_str(), c)).collect();
    let shared: Vec<(&str, Place, [f64; 2])> = labelled
        .iter()
        .filter_map(|(label, place)| {
            let point = known.get(label)?;
            Some((*label, *place, [point.easting_m, point.northing_m]))
        })
        .collect();
    let read: Vec<[f64; 2]> = shared
        .iter()
        .map(|(_, place, _)| [place.at[0], place.at[1]])
        .collect();
    let turned: Vec<[f64; 2]> = read.iter().map(|[e, n]| [*e, -*n]).collect();
    let wanted: Vec<[f64; 2]> = shared.iter().map(|(_, _, at)| *at).collect();
    if shared.len() >= 3 {
        let (straight, mirrored) = (misfit_m(&read, &wanted), misfit_m(&turned, &wanted));
        if straight > 0.1 && mirrored < 0.2 * straight {
            let says = format!(
                "{} control points fit the site {mirrored:.3} m well as a mirror image and only {straight:.3} m as \
                 read; easting and northing are swapped or a sign is turned: name the columns the other way round",
                shared.len()
            );
            findings.refuse("mirrored", Some(shared[0].1.row), Some(headers[0]), says);
            return;
        }
    }
    for (label, place, at) in &shared {
        let off = (place.at[0] - at[0]).hypot(place.at[1] - at[1]);
        if off > 0.1 {
            let says =
                format!("{label} is control of the site and lies {off:.3} m from where the site has it");
            findings.doubt("control-moved", Some(place.row), Some(headers[0]), says);
        }
    }
}

/// Returns the root mean square misfit of the best similarity that takes `from` to `to`, metres.
fn misfit_m(from: &[[f64; 2]], to: &[[f64; 2]]) -> f64 {
    let count = from.len() as f64;
    let centre = |points: &[[f64; 2]]| {
        let sum = points.iter().fold([0.0, 0.0], |s, p| [s[0] + p[0], s[1] + p[1]]);
        [sum[0] / count, sum[1] / count]
    };
    let (from_centre, to_centre) = (centre(from), centre(to));
    let (mut dot, mut cross, mut size) = (0.0, 0.0, 0.0);
    let pairs = || {
        from.iter().zip(to).map(|(f, t)| {
            let z = [f[0] - from_centre[0], f[1] - from_centre[1]];
            let w = [t[0] - to_centre[0], t[1] - to_centre[1]];
            (z, w)
        })
    };
    for (z, w) in pairs() {
        dot += z[0] * w[0] + z[1] * w[1];
        cross += z[0] * w[1] - z[1] * w[0];
        size += z[0] * z[0] + z[1] * z[1];
    }
    if size <= 0.0 {
        return 0.0;
    }
    let (a, b) = (dot / size, cross / size);
    let square = |(z, w): ([f64; 2], [f64; 2])| {
        let off = [w[0] - (a * z[0] - b * z[1]), w[1] - (b * z[0] + a * z[1])];
        off[0] * off[0] + off[1] * off[1]
    };
    (pairs().map(square).sum::<f64>() / count).sqrt()
}

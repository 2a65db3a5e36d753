//! Which column of a headerless file is which: looked at, proposed, never taken silently.

use crate::columns::written_name;
use crate::options::ReadOptions;
use crate::table::{Kind, number};
use csv::StringRecord;
use register::words::Touched;
use survey::LengthUnit;

/// Share of the looked-at rows that must lie near the site for an order to be proposed.
const SHARE: f64 = 0.9;

/// Proposes an order when exactly one puts the rows near the site, and says what was found either way.
pub(crate) fn propose(
    head: &[StringRecord],
    separator: u8,
    options: &ReadOptions,
    kind: Kind,
) -> (Option<Vec<String>>, String) {
    let ask = "give the order of its columns, such as point,easting,northing,level";
    let Some(position) = kind.position else {
        return (
            None,
            format!("the file has no header; name its columns in a first row, or {ask}"),
        );
    };
    let width = head.first().map_or(0, StringRecord::len);
    let fits = fitting_orders(
        head,
        separator,
        options,
        options.unit.unwrap_or(LengthUnit::Metre),
    );
    let name = |order: &[usize; 3]| full_order(head, width, order, position, kind);
    match fits.as_slice() {
        [only] => {
            let order = name(only);
            let says = format!(
                "the file has no header; only the order {} puts its rows near the site: confirm it or give another",
                order.join(",")
            );
            (Some(order), says)
        }
        [] => {
            let feet = fitting_orders(head, separator, options, LengthUnit::InternationalFoot);
            let says = match feet.first() {
                Some(order) => format!(
                    "the file has no header and its rows lie near the site only in feet, as {}; give the order and \
                     say which foot",
                    name(order).join(",")
                ),
                None => format!("the file has no header and no order puts its rows near the site; {ask}"),
            };
            (None, says)
        }
        several => {
            let orders: Vec<String> = several
                .iter()
                .take(4)
                .map(|order| name(order).join(","))
                .collect();
            let says = format!(
                "the file has no header and its rows fit the site in more than one order ({}); say which",
                orders.join(" or ")
            );
            (None, says)
        }
    }
}

/// Returns every choice of three columns as easting, northing and level that puts the rows near the site.
fn fitting_orders(
    head: &[StringRecord],
    separator: u8,
    options: &ReadOptions,
    unit: LengthUnit,
) -> Vec<[usize; 3]> {
    let frame = &options.frame;
    let width = head.first().map_or(0, StringRecord::len).min(12);
    let column = |index: usize| -> Option<Vec<f64>> {
        let read = |record: &StringRecord| number(record.get(index)?, separator).map(|v| v * unit.metres());
        head.iter().map(read).collect()
    };
    let columns: Vec<Option<Vec<f64>>> = (0..width).map(column).collect();
    let mut fits = Vec::new();
    for (e, eastings) in columns.iter().enumerate() {
        for (n, northings) in columns.iter().enumerate() {
            for (l, levels) in columns.iter().enumerate() {
                let (Some(eastings), Some(northings), Some(levels)) = (eastings, northings, levels) else {
                    continue;
                };
                if e == n || n == l || e == l {
                    continue;
                }
                let near = (0..head.len()).filter(|&row| {
                    let (east, north) = (
                        eastings[row] - frame.near_easting_m,
                        northings[row] - frame.near_northing_m,
                    );
                    east.hypot(north) <= frame.reach_m
                        && (levels[row] - frame.near_level_m).abs() <= frame.level_reach_m
                });
                if near.count() as f64 >= SHARE * head.len() as f64 {
                    fits.push([e, n, l]);
                }
            }
        }
    }
    fits
}

fn full_order(
    head: &[StringRecord],
    width: usize,
    order: &[usize; 3],
    position: [usize; 3],
    kind: Kind,
) -> Vec<String> {
    let mut names = vec!["-".to_owned(); width];
    for (&index, &field) in order.iter().zip(&position) {
        names[index] = written_name(&kind.specs[field]);
    }
    let has = |wanted: &str| kind.specs.iter().any(|spec| spec.name == wanted);
    if has("point")
        && let Some(free) = names.iter_mut().find(|name| *name == "-")
    {
        *free = "point".into();
    }
    if has("touched") {
        let all_touched = |index: usize| {
            head.iter().all(|record| {
                record
                    .get(index)
                    .is_some_and(|value| Touched::from_slug(value).is_some())
            })
        };
        if let Some(index) = (0..width).find(|&index| names[index] == "-" && all_touched(index)) {
            names[index] = "touched".into();
        }
    }
    names
}

//! Grid crosses, ticks with values, and the arrow to grid north.

use super::frame::{Frame, clip_segment};
use crate::page::{Anchor, Ink, Look, Page, Rect, Role, Stroke, pt};

fn nice_interval(frame: &Frame) -> f64 {
    [1.0, 2.0, 5.0, 10.0, 20.0, 50.0]
        .into_iter()
        .find(|step| frame.mm(*step) >= 38.0)
        .unwrap_or(50.0)
}

fn multiples(low: f64, high: f64, step: f64) -> impl Iterator<Item = f64> {
    ((low / step).ceil() as i64..=(high / step).floor() as i64).map(move |k| k as f64 * step)
}

/// Draws a cross at every grid value.
pub fn crosses(frame: &Frame, page: &mut Page) {
    let (seen, step) = (frame.seen(), nice_interval(frame));
    for e in multiples(seen.min[0], seen.max[0], step) {
        for n in multiples(seen.min[1], seen.max[1], step) {
            let at = frame.place(e, n);
            for (dx, dy) in [(1.5, 0.0), (0.0, 1.5)] {
                let arm = clip_segment(pt(at.x - dx, at.y - dy), pt(at.x + dx, at.y + dy), &frame.view);
                if let Some(arm) = arm {
                    page.line(Role::Grid, &arm, Stroke::solid(0.25, Ink::BLACK));
                }
            }
        }
    }
}

/// Draws the ticks and values round the plan: eastings under it, northings to its left.
pub fn values(frame: &Frame, page: &mut Page) {
    let (seen, step) = (frame.seen(), nice_interval(frame));
    let view = &frame.view;
    let value = |letter: &str, v: f64| format!("{letter} {v:.0}");
    for e in multiples(seen.min[0], seen.max[0], step) {
        let x = frame.place(e, frame.centre[1]).x;
        for (from, to) in [(view.bottom(), view.bottom() + 1.5), (view.y, view.y + 1.5)] {
            page.line(
                Role::Grid,
                &[pt(x, from), pt(x, to)],
                Stroke::solid(0.25, Ink::BLACK),
            );
        }
        if x - view.x > 12.0 && view.right() - x > 12.0 {
            let at = pt(x, view.bottom() + 4.8);
            page.anchored(Role::Grid, at, &value("E", e), Look::NOTE, Anchor::Middle, 0.0);
        }
    }
    for n in multiples(seen.min[1], seen.max[1], step) {
        let y = frame.place(frame.centre[0], n).y;
        for (from, to) in [(view.x - 1.5, view.x), (view.right() - 1.5, view.right())] {
            page.line(
                Role::Grid,
                &[pt(from, y), pt(to, y)],
                Stroke::solid(0.25, Ink::BLACK),
            );
        }
        if y - view.y > 12.0 && view.bottom() - y > 12.0 {
            let at = pt(view.x - 2.2, y);
            page.anchored(Role::Grid, at, &value("N", n), Look::NOTE, Anchor::Middle, 90.0);
        }
    }
}

/// Returns where the north arrow stands.
pub fn north_arrow_place(view: &Rect) -> Rect {
    Rect::new(view.right() - 13.0, view.y + 2.0, 11.0, 21.0)
}

/// Draws the arrow to grid north.
pub fn north_arrow(place: Rect, page: &mut Page) {
    page.area(Role::North, &place.corners(), Some(Ink::WHITE), None);
    let x = place.middle().x;
    let (tip, foot) = (pt(x, place.y + 5.5), place.bottom() - 0.8);
    page.anchored(
        Role::North,
        pt(x, place.y + 4.3),
        "N",
        Look::HEAD,
        Anchor::Middle,
        0.0,
    );
    page.area(
        Role::North,
        &[tip, pt(x + 3.0, foot), pt(x, foot - 3.0)],
        Some(Ink::BLACK),
        Some(Stroke::solid(0.25, Ink::BLACK)),
    );
    page.area(
        Role::North,
        &[tip, pt(x, foot - 3.0), pt(x - 3.0, foot)],
        Some(Ink::WHITE),
        Some(Stroke::solid(0.25, Ink::BLACK)),
    );
}

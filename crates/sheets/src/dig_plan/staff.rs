//! The staff: surface, floor and every service at its level, true to a scale of its own.

use super::blocks::is_near;
use super::frame::circle;
use super::words::{plus_minus, surface_name};
use crate::DigPlanInput;
use crate::page::{Anchor, Ink, Look, Page, Pt, Role, Stroke, pt};
use register::service::Service;
use register::view::DigRun;

const SLOT_MM: f64 = 23.0;
const TAG_MM: f64 = 15.0;
const STAFF_MM: f64 = 21.0;
const TALLEST_MM: f64 = 92.0;

/// Returns how many services one staff of this width shows.
pub fn slots(width: f64) -> usize {
    (((width - STAFF_MM - TAG_MM) / SLOT_MM).floor() as usize).max(1)
}

/// The levels that a staff spans, and its scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Lowest level in metres.
    pub low: f64,
    /// Highest level in metres.
    pub high: f64,
    /// 20 for 1:20.
    pub scale: u32,
}

/// Returns the span that holds surface, floor and every service with its 95 %.
pub fn span(input: &DigPlanInput) -> Option<Span> {
    let dig = &input.answer.dig;
    let mut levels = Vec::new();
    for range in [&dig.surface_levels_m, &dig.floor_levels_m].into_iter().flatten() {
        levels.extend([range.min.0, range.max.0]);
    }
    levels.extend(dig.floor_level_m.map(|l| l.0));
    for run in input.answer.runs.iter().filter(|run| is_near(run)) {
        let u = run.u95_v_m.map_or(0.0, |u| u.0);
        levels.extend([
            run.top_level_m.min.0 - u.max(run.outside_m.0),
            run.top_level_m.max.0 + u,
        ]);
    }
    let low = levels.iter().copied().reduce(f64::min)?;
    let high = levels.iter().copied().reduce(f64::max)?;
    let margin = ((high - low) * 0.06).max(0.05);
    let (low, high) = (low - margin, high + margin);
    let scale = [5, 10, 20, 25, 50, 100, 200, 500, 1000]
        .into_iter()
        .find(|s| (high - low) * 1000.0 / f64::from(*s) <= TALLEST_MM)?;
    Some(Span { low, high, scale })
}

/// Draws one staff with some of the runs, downward from `top`; returns where it ends.
pub fn draw(input: &DigPlanInput, runs: &[&DigRun], span: Span, top: Pt, width: f64, page: &mut Page) -> f64 {
    let dig = &input.answer.dig;
    let title = format!(
        "Levels and depths, 1:{} up and down; side by side, not to scale",
        span.scale
    );
    let mut y = page.paragraph(Role::Staff, top, width, &title, Look::HEAD);
    y = page.paragraph(
        Role::Staff,
        pt(top.x, y),
        width,
        "Metres. Each mark is the outside top, lowest to highest near the dig; the whisker is 95 %; cover is the least.",
        Look::NOTE,
    );
    let surface = dig.surface_levels_m.as_ref().map(|r| (r.min.0, r.max.0));
    let floor = dig
        .floor_levels_m
        .as_ref()
        .map(|r| (r.min, r.max))
        .or(dig.floor_level_m.map(|l| (l, l)));
    let mut says = Vec::new();
    if let Some(range) = &dig.surface_levels_m {
        let name = dig.surface.as_deref().map_or("not named", surface_name);
        says.push(format!(
            "Surface {name} {}.",
            range_text(range.min.text(), range.max.text())
        ));
    }
    match floor {
        Some((low, high)) => says.push(format!(
            "Floor of the dig {}, dashed.",
            range_text(low.text(), high.text())
        )),
        None => says.push("Floor of the dig not known.".into()),
    }
    let floor = floor.map(|(low, high)| (low.0, high.0));
    y = page.paragraph(Role::Staff, pt(top.x, y), width, &says.join(" "), Look::STRONG);
    y += 8.5;
    let mm = |metres: f64| metres * 1000.0 / f64::from(span.scale);
    let height = mm(span.high - span.low);
    let at_level = |level: f64| y + mm(span.high - level);
    let left = top.x + STAFF_MM;
    let right = top.x + width - TAG_MM;
    scale_ticks(span, left, y, page);
    let line = |role: Role, level: f64, stroke: Stroke, page: &mut Page| {
        page.line(
            role,
            &[pt(left, at_level(level)), pt(right, at_level(level))],
            stroke,
        );
    };
    let tag = |text: &str, level: f64, page: &mut Page| {
        page.text(
            Role::Staff,
            pt(right + 1.5, at_level(level) + 1.2),
            text,
            Look::STRONG,
        );
    };
    if let Some((low, high)) = surface {
        for level in [low, high] {
            line(Role::StaffSurface, level, Stroke::solid(0.5, Ink::BLACK), page);
        }
        tag("surface", high, page);
    }
    if let Some((low, high)) = floor {
        for level in [low, high] {
            let stroke = Stroke::dashed(0.5, &[5.0, 1.5], Ink::BLACK);
            line(Role::StaffFloor, level, stroke, page);
        }
        // Never over the other tag.
        let clash = surface.is_some_and(|(_, top)| (at_level(low) - at_level(top)).abs() < 4.0);
        if !clash {
            tag("floor", low, page);
        }
    }
    let foot = y + height + 2.0;
    let mut end = foot;
    for (i, run) in runs.iter().enumerate() {
        let x = left + SLOT_MM * (i as f64 + 0.5);
        mark(run, x, &at_level, mm(run.outside_m.0), page);
        let style = Service::from_slug(&run.service)
            .unwrap_or(Service::Unknown)
            .style();
        let letters_at = pt(x, y - 1.6);
        let ink = Ink::from_hex(style.colour);
        page.anchored(
            Role::StaffMark(run.run.clone()),
            letters_at,
            style.letters,
            Look::BIG.in_ink(ink),
            Anchor::Middle,
            0.0,
        );
        let (w, x0) = (SLOT_MM - 2.0, x - SLOT_MM / 2.0 + 1.0);
        let role = Role::Staff;
        let mut down = page.paragraph(role.clone(), pt(x0, foot), w, &run.run, Look::STRONG);
        let top = range_text(run.top_level_m.min.text(), run.top_level_m.max.text());
        down = page.paragraph(role.clone(), pt(x0, down), w, &top, Look::SMALL);
        down = page.paragraph(
            role.clone(),
            pt(x0, down),
            w,
            &plus_minus(run.u95_v_m),
            Look::SMALL,
        );
        let cover = run.cover_m.min.map_or_else(
            || "cover not known".to_string(),
            |c| format!("cover {}", c.text()),
        );
        down = page.paragraph(role, pt(x0, down), w, &cover, Look::STRONG);
        end = end.max(down);
    }
    end + 2.0
}

fn range_text(min: String, max: String) -> String {
    if min == max {
        format!("RL {min}")
    } else {
        format!("RL {min} to {max}")
    }
}

fn scale_ticks(span: Span, left: f64, top: f64, page: &mut Page) {
    let mm = |metres: f64| metres * 1000.0 / f64::from(span.scale);
    let height = mm(span.high - span.low);
    let fine = Stroke::solid(0.35, Ink::BLACK);
    page.line(Role::Staff, &[pt(left, top), pt(left, top + height)], fine);
    let step = [0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|s| mm(*s) >= 5.5)
        .unwrap_or(10.0);
    let (first, last) = ((span.low / step).ceil() as i64, (span.high / step).floor() as i64);
    for k in first..=last {
        let level = k as f64 * step;
        let y = top + mm(span.high - level);
        // A staff's own look: filled and empty fields by turns.
        if k < last {
            let field = crate::page::Rect::new(left - 2.0, y - mm(step), 2.0, mm(step));
            let fill = if k % 2 == 0 { Ink::BLACK } else { Ink::WHITE };
            page.area(
                Role::Staff,
                &field.corners(),
                Some(fill),
                Some(Stroke::solid(0.18, Ink::BLACK)),
            );
        }
        page.anchored(
            Role::Staff,
            pt(left - 3.2, y + 0.95),
            &format!("{level:.2}"),
            Look::SMALL,
            Anchor::End,
            0.0,
        );
    }
}

fn mark(run: &DigRun, x: f64, at_level: &dyn Fn(f64) -> f64, outside_mm: f64, page: &mut Page) {
    let role = Role::StaffMark(run.run.clone());
    let style = Service::from_slug(&run.service)
        .unwrap_or(Service::Unknown)
        .style();
    let ink = Ink::from_hex(style.colour);
    let (low, high) = (at_level(run.top_level_m.min.0), at_level(run.top_level_m.max.0));
    // The section to scale, hung under the lowest and the highest top.
    if outside_mm >= 1.0 {
        for y in if low == high { vec![low] } else { vec![low, high] } {
            let ring = circle(pt(x, y + outside_mm / 2.0), outside_mm / 2.0);
            page.area(
                role.clone(),
                &ring,
                Some(Ink::WHITE),
                Some(Stroke::solid(0.35, ink)),
            );
        }
    }
    if let Some(u) = run.u95_v_m {
        let (bottom, top) = (
            at_level(run.top_level_m.min.0 - u.0),
            at_level(run.top_level_m.max.0 + u.0),
        );
        let fine = Stroke::solid(0.35, Ink::BLACK);
        page.line(role.clone(), &[pt(x, bottom), pt(x, top)], fine.clone());
        for y in [bottom, top] {
            page.line(role.clone(), &[pt(x - 1.6, y), pt(x + 1.6, y)], fine.clone());
        }
    } else {
        let at = pt(x + 5.5, (low + high) / 2.0 + 1.2);
        page.text(role.clone(), at, "?", Look::HEAD);
    }
    for y in [low, high] {
        page.line(
            role.clone(),
            &[pt(x - 5.0, y), pt(x + 5.0, y)],
            Stroke::solid(0.9, ink),
        );
    }
    page.line(role, &[pt(x, low), pt(x, high)], Stroke::solid(0.9, ink));
}

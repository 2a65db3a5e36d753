//! What stands round the plan: head line, title block, bars to measure.

use crate::cells::{Cell, cell, rows};
use crate::page::{Anchor, Ink, Look, Page, Pt, Rect, Role, Stroke, pt};
use crate::{DigPlanInput, Paper};
use register::time::date_of;

/// Height of the head line.
pub const HEAD_MM: f64 = 8.0;

/// Draws the head line of a sheet: what it is, and which of how many.
pub fn head_line(input: &DigPlanInput, area: &Rect, part: &str, number: usize, of: usize, page: &mut Page) {
    let baseline = area.y + 4.6;
    let count = format!("sheet {number} of {of}");
    let look = Look::HEAD;
    page.anchored(
        Role::Furniture,
        pt(area.right(), baseline),
        &count,
        look,
        Anchor::End,
        0.0,
    );
    let room = area.w - crate::font::text_width_mm(&count, look.face, look.cap_mm) - 6.0;
    let title = format!("DIG PLAN {}  {part}", input.issued.sheet_id);
    let first = crate::font::wrap(&title, look.face, look.cap_mm, room).swap_remove(0);
    page.text(Role::Furniture, pt(area.x, baseline), &first, look);
    let y = area.y + 6.6;
    page.line(
        Role::Furniture,
        &[pt(area.x, y), pt(area.right(), y)],
        Stroke::solid(0.7, Ink::BLACK),
    );
}

/// Draws the whole title block downward from `top`; returns where it ends.
pub fn title_block(
    input: &DigPlanInput,
    paper: Paper,
    scale: u32,
    count: &str,
    top: Pt,
    width: f64,
    page: &mut Page,
) -> f64 {
    let (site, issued, answer) = (input.site, input.issued, input.answer);
    let grid = &site.grid;
    let epsg = grid.epsg.map_or_else(
        || "untied: no longitude or latitude".to_string(),
        |code| format!("EPSG:{code}"),
    );
    let (n, hex) = (answer.head.n, answer.head.hex.as_str());
    let first: String = hex.chars().take(16).collect();
    let wide = width > 240.0;
    let who = vec![
        cell("SITE", site.name.clone(), 2.8).strong(),
        cell("DIG PLAN", issued.sheet_id.clone(), 2.2).strong(),
        cell("SHEET", count, 1.3).strong(),
        cell("SCALE", format!("1:{scale} on {}", paper.name()), 2.1).strong(),
    ];
    let when = vec![
        cell("ISSUED", issued.issued_at.clone(), 2.2),
        cell("BY", issued.issued_by.clone(), 1.7),
        cell("ASK AGAIN BY", issued.recheck_by.clone().unwrap_or_default(), 1.6),
        cell("GROUND AS AT", date_of(&answer.as_at), 1.4),
    ];
    let place = vec![
        cell(
            "GRID, north is up",
            format!("{epsg}, {}; {} distances", grid.name, grid.distances),
            3.0,
        ),
        cell(
            "LEVELS ABOVE",
            format!("{}, bench mark {}", grid.level_datum, grid.bench_mark),
            2.4,
        ),
        cell(
            "DEPTHS BELOW",
            answer
                .dig
                .surface
                .clone()
                .unwrap_or_else(|| "no surface named: use levels".into()),
            2.6,
        ),
    ];
    let proof = vec![
        cell("JOURNAL HEAD", format!("{n}:{first}"), 1.25),
        cell("WHOLE HEAD", hex, 3.2),
    ];
    let call = vec![
        cell(
            "IF STRUCK, CALL",
            issued.emergency.clone().unwrap_or_default(),
            1.0,
        )
        .strong(),
        cell("SITE CONTACT", site.contact.clone().unwrap_or_default(), 1.6).strong(),
    ];
    let engine = cell("ENGINE", input.engine, 1.6);
    page.line(
        Role::Furniture,
        &[top, pt(top.x + width, top.y)],
        Stroke::solid(0.7, Ink::BLACK),
    );
    let all = if wide {
        let mut one = call;
        one.extend(who);
        one[0].share = 1.8;
        one[1].share = 2.6;
        let mut proof = proof;
        proof.push(Cell { share: 0.8, ..engine });
        let mut two = when;
        two.extend(place);
        vec![one, two, proof]
    } else {
        let mut proof = proof;
        proof[0].share = 1.3;
        let mut when = when;
        when.push(engine);
        vec![call, who, when, place, proof]
    };
    rows(all, top, width, page)
}

/// Draws the short title block of sheets without a plan; returns where it ends.
pub fn title_strip(input: &DigPlanInput, count: &str, top: Pt, width: f64, page: &mut Page) -> f64 {
    let (issued, head) = (input.issued, &input.answer.head);
    let first: String = head.hex.chars().take(16).collect();
    page.line(
        Role::Furniture,
        &[top, pt(top.x + width, top.y)],
        Stroke::solid(0.7, Ink::BLACK),
    );
    let row = vec![
        cell("SITE", input.site.name.clone(), 2.0),
        cell("DIG PLAN", issued.sheet_id.clone(), 1.6),
        cell("SHEET", count, 0.9),
        cell(
            "ISSUED, BY",
            format!("{}, {}", issued.issued_at, issued.issued_by),
            2.6,
        ),
        cell("JOURNAL HEAD", format!("{}:{first}", head.n), 2.0),
    ];
    rows(vec![row], top, width, page)
}

/// Draws a bar of exactly 100 mm along the sheet, its left end at `start`, divided in metres of ground.
pub fn bar_along(scale: u32, start: Pt, page: &mut Page) {
    bar(scale, start, false, page);
}

/// Draws a bar of exactly 100 mm up the sheet, its lower end at `start`.
pub fn bar_up(scale: u32, start: Pt, page: &mut Page) {
    bar(scale, start, true, page);
}

fn bar(scale: u32, start: Pt, up: bool, page: &mut Page) {
    // At every standard scale 100 mm is a whole number of metres.
    let metres = f64::from(scale) / 10.0;
    let place = |along: f64, across: f64| {
        if up {
            pt(start.x + across, start.y - along)
        } else {
            pt(start.x + along, start.y + across)
        }
    };
    let angle = if up { 90.0 } else { 0.0 };
    let parts = 5;
    let fine = Stroke::solid(0.18, Ink::BLACK);
    for k in 0..parts {
        let (a, b) = (20.0 * f64::from(k), 20.0 * f64::from(k + 1));
        let ring = [place(a, 0.0), place(b, 0.0), place(b, 1.8), place(a, 1.8)];
        let fill = if k % 2 == 0 { Ink::BLACK } else { Ink::WHITE };
        page.area(Role::Furniture, &ring, Some(fill), Some(fine.clone()));
    }
    for end in [0.0, 100.0] {
        page.line(
            Role::Furniture,
            &[place(end, -1.2), place(end, 3.0)],
            fine.clone(),
        );
    }
    page.line(Role::CheckBar, &[place(0.0, 0.9), place(100.0, 0.9)], fine);
    let text_at = if up { 5.6 } else { 5.4 };
    for k in 0..=parts {
        let value = metres * f64::from(k) / f64::from(parts);
        let text = if k == parts {
            format!("{value} m")
        } else {
            format!("{value}")
        };
        let at = place(20.0 * f64::from(k), text_at);
        page.anchored(Role::Furniture, at, &text, Look::SMALL, Anchor::Middle, angle);
    }
    let words = "measure 100 mm here; if not 100, do not scale";
    page.anchored(
        Role::Furniture,
        place(0.0, -2.0),
        words,
        Look::SMALL,
        Anchor::Start,
        angle,
    );
}

//! The dig plan: what is recorded near a planned dig, how deep, how sure, and where nobody looked.
//!
//! First the plan, true to a standard scale, on one sheet or several; then cautions, the staff of levels, the table
//! of runs, the measured points, the legend and the rules, in as many columns and sheets as they need.

mod frame;
mod hatch;
mod label;
mod words;

mod drawing;
mod furniture;
mod grid;
mod staff;

mod blocks;

use crate::flow::{self, Column};
use crate::page::{Look, Page, Pt, Rect, Role, pt};
use crate::{DigPlanInput, Orientation, Paper, Sheet, SheetError};
use frame::{SCALES, closed};

pub(crate) use frame::{Extent, Frame, clip_line};
pub(crate) use grid::north_arrow;

/// Most sheets that one plan is spread over.
const MOST_PARTS: usize = 12;
/// Paper kept free round the dig for labels, in millimetres.
const LABEL_ROOM_MM: f64 = 24.0;
/// Strip under the plan: eastings and the bar.
const UNDER_MM: f64 = 20.0;
/// Strip left of the plan: northings; and right of it: the upright bar.
const LEFT_MM: f64 = 5.5;
const RIGHT_MM: f64 = 11.5;

/// Lays out the dig plan for paper.
///
/// The scale is the largest standard one at which the whole dig fits; a dig too long for 1:200 on one sheet is
/// spread over several where a dozen suffice.
///
/// # Errors
/// [`SheetError::NoOutline`] when the dig has no ring, [`SheetError::NotFinite`] for a position that is no number,
/// [`SheetError::TooLarge`] when the plan would need too many sheets, [`SheetError::NoRoom`] when a fixed text
/// leaves no room for it.
pub fn dig_plan(input: &DigPlanInput, paper: Paper) -> Result<Sheet, SheetError> {
    if input.answer.dig.plan.iter().all(|ring| ring.len() < 3) {
        return Err(SheetError::NoOutline);
    }
    check_finite(input)?;
    let layout = choose(input, paper)?;
    let mut pages = Vec::new();
    let mut labels_left = 0;
    for centre in &layout.centres {
        let mut page = Page::new(layout.size.0, layout.size.1);
        let frame = Frame {
            view: layout.view,
            scale: layout.scale,
            centre: *centre,
        };
        labels_left += drawing::draw(input, &frame, &mut page);
        grid::values(&frame, &mut page);
        let view = layout.view;
        furniture::bar_along(layout.scale, pt(view.x, view.bottom() + 11.0), &mut page);
        furniture::bar_up(layout.scale, pt(view.right() + 5.5, view.bottom()), &mut page);
        pages.push(page);
    }
    let blocks = blocks::all(input, labels_left);
    let columns = |k: usize| column(&layout, k);
    let placed = flow::flow(&blocks, &columns);
    let count = placed
        .iter()
        .map(|(page, _)| page + 1)
        .max()
        .unwrap_or(0)
        .max(pages.len());
    pages.resize_with(count, || Page::new(layout.size.0, layout.size.1));
    for (number, items) in placed {
        pages[number].stamp(&items, Pt::default());
    }
    let parts = layout.centres.len();
    for (i, page) in pages.iter_mut().enumerate() {
        let sheet = format!("{} of {count}", i + 1);
        let part = match (i < parts, parts) {
            (true, 1) => String::new(),
            (true, _) => format!("plan, part {} of {parts}", i + 1),
            (false, _) => "continued".into(),
        };
        furniture::head_line(input, &layout.area, &part, i + 1, count, page);
        let (left, width) = (layout.area.x, layout.area.w);
        if i < parts {
            opening(input, &layout, page);
            furniture::title_block(
                input,
                paper,
                layout.scale,
                &sheet,
                pt(left, layout.title_y),
                width,
                page,
            );
        } else {
            furniture::title_strip(input, &sheet, pt(left, layout.strip_y), width, page);
        }
    }
    Ok(Sheet {
        title: format!("Dig plan {}, {}", input.issued.sheet_id, input.site.name),
        author: input.issued.issued_by.clone(),
        scale: layout.scale,
        pages,
    })
}

/// Where everything goes.
struct Layout {
    size: (f64, f64),
    area: Rect,
    view: Rect,
    side: Option<Rect>,
    title_y: f64,
    strip_y: f64,
    says: Look,
    scale: u32,
    centres: Vec<[f64; 2]>,
}

/// Returns the k-th column after the plan: beside it first, where there is room, then on sheets of their own.
fn column(layout: &Layout, k: usize) -> Column {
    let beside = usize::from(layout.side.is_some());
    if let (Some(side), 0) = (layout.side, k) {
        return Column { page: 0, area: side };
    }
    let area = layout.area;
    let top = area.y + furniture::HEAD_MM + 2.0;
    let many = if area.w > 350.0 { 2 } else { 1 };
    let k = k - beside;
    let gutter = 8.0;
    let width = (area.w - gutter * (many - 1) as f64) / many as f64;
    Column {
        page: layout.centres.len() + k / many,
        area: Rect::new(
            area.x + (k % many) as f64 * (width + gutter),
            top,
            width,
            layout.strip_y - 2.0 - top,
        ),
    }
}

fn notices(input: &DigPlanInput) -> Vec<String> {
    let answer = input.answer;
    let mut out = Vec::new();
    if input.zones.is_empty() {
        out.push("Hand-dig zone not set.".into());
    }
    if answer.rules.is_none() {
        out.push("No rule set adopted: no verdicts.".into());
    }
    match answer.not_compared.len() {
        0 => {}
        1 => out.push("1 other site not compared.".into()),
        n => out.push(format!("{n} other sites not compared.")),
    }
    out.push("Nothing drawn is not proof of nothing there: read the cautions.".into());
    out
}

/// Draws the first sentence and what must be known beside it; returns where they end.
fn opening(input: &DigPlanInput, layout: &Layout, page: &mut Page) -> f64 {
    let top = pt(layout.area.x, layout.area.y + furniture::HEAD_MM);
    let y = page.paragraph(Role::Says, top, layout.area.w, &input.answer.says, layout.says);
    let text = notices(input).join(" ");
    page.paragraph(
        Role::Caution,
        pt(top.x, y + 0.5),
        layout.area.w,
        &text,
        Look::HEAD,
    )
}

fn choose(input: &DigPlanInput, paper: Paper) -> Result<Layout, SheetError> {
    let orientations = match paper {
        Paper::A3 => [Orientation::Landscape, Orientation::Portrait],
        _ => [Orientation::Portrait, Orientation::Landscape],
    };
    let dig = &input.answer.dig;
    let extent = Extent::of(dig.plan.iter().flatten()).ok_or(SheetError::NoOutline)?;
    let extent = extent.grown(dig.over_dig_m.0.max(0.0) + dig.set_out_m.0.max(0.0));
    let mut layouts = Vec::new();
    for orientation in orientations {
        layouts.push(room(input, paper, orientation)?);
    }
    let fits = |layout: &Layout, scale: u32| {
        let [w, h] = extent
            .size()
            .map(|m| m * 1000.0 / f64::from(scale) + 2.0 * LABEL_ROOM_MM);
        w <= layout.view.w && h <= layout.view.h
    };
    let single = SCALES
        .iter()
        .find_map(|s| layouts.iter().position(|l| fits(l, *s)).map(|i| (*s, i)));
    if let Some((scale, i)) = single
        && scale <= 200
    {
        let mut layout = layouts.swap_remove(i);
        layout.scale = scale;
        layout.centres = vec![extent.middle()];
        return Ok(layout);
    }
    let mut fewest = usize::MAX;
    for scale in [200, 250, 500] {
        for i in 0..layouts.len() {
            let centres = parts(input, &layouts[i], extent, scale);
            fewest = fewest.min(centres.len());
            let enough = if single.is_some() {
                MOST_PARTS / 2
            } else {
                MOST_PARTS
            };
            if centres.len() <= enough {
                let mut layout = layouts.swap_remove(i);
                layout.scale = scale;
                layout.centres = centres;
                return Ok(layout);
            }
        }
    }
    if let Some((scale, i)) = single {
        let mut layout = layouts.swap_remove(i);
        layout.scale = scale;
        layout.centres = vec![extent.middle()];
        return Ok(layout);
    }
    let [width_m, height_m] = extent.size();
    Err(SheetError::TooLarge {
        width_m,
        height_m,
        sheets: fewest,
        scale: 500,
        most: MOST_PARTS,
    })
}

/// Returns the centres of the parts that some of the dig lies in, north to south, west to east.
fn parts(input: &DigPlanInput, layout: &Layout, extent: Extent, scale: u32) -> Vec<[f64; 2]> {
    let metres = |mm: f64| mm * f64::from(scale) / 1000.0;
    let step = [
        metres(layout.view.w - 2.0 * LABEL_ROOM_MM),
        metres(layout.view.h - 2.0 * LABEL_ROOM_MM),
    ];
    let size = extent.size();
    let many = |axis: usize| ((size[axis] / step[axis]).ceil()).max(1.0);
    let (columns, rows) = (many(0), many(1));
    // More than can ever be drawn: the count alone matters, and no outline is walked for it.
    if columns * rows > 4000.0 {
        return vec![extent.middle(); 4001];
    }
    let middle = extent.middle();
    let mut centres = Vec::new();
    for row in 0..rows as u32 {
        for column in 0..columns as u32 {
            let centre = [
                middle[0] + (f64::from(column) - (columns - 1.0) / 2.0) * step[0],
                middle[1] - (f64::from(row) - (rows - 1.0) / 2.0) * step[1],
            ];
            let frame = Frame {
                view: layout.view,
                scale,
                centre,
            };
            let inner = layout.view.grown(-LABEL_ROOM_MM);
            let touched = input.answer.dig.plan.iter().any(|ring| {
                let ring = frame.places(ring);
                !clip_line(&closed(&ring), &inner).is_empty() || hatch::holds(&ring, inner.middle())
            });
            if touched {
                centres.push(centre);
            }
        }
    }
    centres
}

/// Returns the room for the plan on paper lying so; scale and parts are still open.
fn room(input: &DigPlanInput, paper: Paper, orientation: Orientation) -> Result<Layout, SheetError> {
    let size = paper.size_mm(orientation);
    // 20 mm to bind by, 10 mm elsewhere.
    let area = Rect::new(20.0, 10.0, size.0 - 30.0, size.1 - 20.0);
    let mut scratch = Page::new(size.0, size.1);
    let title = furniture::title_block(input, paper, 500, "99 of 99", pt(0.0, 0.0), area.w, &mut scratch);
    let strip = furniture::title_strip(input, "99 of 99", pt(0.0, 0.0), area.w, &mut scratch);
    let (title_y, strip_y) = (area.bottom() - title, area.bottom() - strip);
    let mut layout = Layout {
        size,
        area,
        view: area,
        side: None,
        title_y,
        strip_y,
        says: Look::BIG,
        scale: 500,
        centres: Vec::new(),
    };
    if crate::font::wrap(&input.answer.says, Look::BIG.face, 5.0, area.w).len() > 3 {
        layout.says = Look::HEAD;
    }
    let opened = opening(input, &layout, &mut scratch) + 1.0;
    let mut width = area.w;
    if area.w > 350.0 {
        let side = 132.0;
        width -= side + 6.0;
        layout.side = Some(Rect::new(
            area.right() - side,
            opened + 1.0,
            side,
            title_y - opened - 3.0,
        ));
    }
    layout.view = Rect::new(
        area.x + LEFT_MM,
        opened + 1.0,
        width - LEFT_MM - RIGHT_MM,
        title_y - opened - UNDER_MM - 1.0,
    );
    if layout.view.h < 2.0 * LABEL_ROOM_MM + 6.0 {
        // On landscape paper the other way up may still do.
        if orientation == Orientation::Portrait || paper == Paper::A3 {
            return Err(SheetError::NoRoom {
                what: "the text above and below the plan".into(),
                paper: paper.name(),
            });
        }
        layout.view.h = 0.0;
    }
    Ok(layout)
}

fn check_finite(input: &DigPlanInput) -> Result<(), SheetError> {
    let fault = |what: String| Err(SheetError::NotFinite { what });
    let finite = |values: &[register::view::Near]| values.iter().all(|v| v.0.is_finite());
    if !input.answer.dig.plan.iter().flatten().all(|p| finite(p)) {
        return fault("the outline of the dig".into());
    }
    if !input
        .answer
        .searched
        .unsearched
        .iter()
        .flatten()
        .flatten()
        .all(|p| finite(p))
    {
        return fault("the unsearched part of the dig".into());
    }
    for run in &input.answer.runs {
        let levels = finite(&[run.top_level_m.min, run.top_level_m.max, run.outside_m]);
        if !levels || !run.part.iter().flat_map(|p| &p.line).all(|p| finite(p)) {
            return fault(format!("run {}", run.run));
        }
    }
    for run in &input.map.runs {
        if !finite(&[run.width_m]) || !run.line.iter().all(|p| finite(p)) {
            return fault(format!("run {}", run.run));
        }
    }
    for area in &input.map.searched {
        if !area.ring.iter().all(|p| finite(p)) {
            return fault(format!("searched area {}", area.area));
        }
    }
    for point in &input.map.control {
        if !finite(&point.at) {
            return fault(format!("control point {}", point.point));
        }
    }
    for card in input.cards {
        if !card
            .vertices
            .iter()
            .all(|v| finite(&v.axis) && finite(&[v.top_level_m]))
        {
            return fault(format!("run {}", card.run));
        }
    }
    Ok(())
}

//! The hold-point certificate: what was decided, on what list, by whom, and what it rests on.

use crate::cells::{cell, rows};
use crate::dig_plan::{Extent, Frame, north_arrow};
use crate::flow::{Block, Column, flow};
use crate::font::Face;
use crate::page::{Anchor, Ink, Look, Page, Pt, Rect, Role, Stroke, pt};
use crate::{Orientation, Paper, Sheet, SheetError};
use register::service::Service;
use register::view::{
    CAUTION_95, CAUTION_AS_MEASURED, CAUTION_LIVE, CAUTION_RECORDED, HoldAnswer, HoldItem, Near, ReleaseView,
    SiteMap, SiteView,
};
use register::words::{HoldState, ReleaseOutcome};

/// What a certificate shows. The list is printed as it was decided on, whatever was changed since.
#[derive(Debug, Clone, Copy)]
pub struct CertificateInput<'a> {
    /// The list as it was decided on.
    pub answer: &'a HoldAnswer,
    /// The decision, with what was changed since.
    pub release: &'a ReleaseView,
    /// The person's own words.
    pub statement: Option<&'a str>,
    /// The site: grid, level datum, contact.
    pub site: &'a SiteView,
    /// Where the runs lay when it was decided.
    pub map: &'a SiteMap,
    /// Version of the program that worked the list out.
    pub engine: &'a str,
    /// When it is printed.
    pub printed_at: &'a str,
}

/// Filing margin on the left and the margin elsewhere, in millimetres (ISO 5457, from memory).
const MARGINS_MM: (f64, f64) = (20.0, 10.0);
/// Height kept at the foot for the title strip, in millimetres.
const STRIP_MM: f64 = 14.0;
/// Tallest plan, in millimetres.
const PLAN_MM: f64 = 100.0;
/// Paper kept free round the outline, in millimetres.
const ROOM_MM: f64 = 8.0;
/// Scales of the small plan: 1:1, 1:2, 1:5 steps.
const SCALES: [u32; 10] = [20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000];
/// Cautions that belong on a certificate.
const CAUTIONS_HERE: [&str; 4] = [CAUTION_RECORDED, CAUTION_AS_MEASURED, CAUTION_95, CAUTION_LIVE];

/// Lays out the certificate of a decision at a hold point.
///
/// # Errors
/// [`SheetError::NotFinite`] for a corner that is no number.
pub fn certificate(input: &CertificateInput, paper: Paper) -> Result<Sheet, SheetError> {
    for [e, n] in &input.answer.ring {
        if !(e.0.is_finite() && n.0.is_finite()) {
            let what = format!("the outline of {}", input.answer.area);
            return Err(SheetError::NotFinite { what });
        }
    }
    let (width, height) = paper.size_mm(Orientation::Portrait);
    let area = Rect {
        x: MARGINS_MM.0,
        y: MARGINS_MM.1,
        w: width - MARGINS_MM.0 - MARGINS_MM.1,
        h: height - 2.0 * MARGINS_MM.1,
    };
    let mut first = Page::new(width, height);
    let top = opening(input, &area, &mut first);
    let (top, scale) = plan(input, &area, top, &mut first);
    let blocks = blocks(input);
    let columns = |k: usize| {
        let y = if k == 0 { top + 2.0 } else { area.y + 10.0 };
        Column {
            page: k,
            area: Rect {
                y,
                h: area.bottom() - STRIP_MM - y,
                ..area
            },
        }
    };
    let placed = flow(&blocks, &columns);
    let count = placed.iter().map(|(page, _)| page + 1).max().unwrap_or(1);
    let mut pages = vec![first];
    pages.resize_with(count, || Page::new(width, height));
    for (number, items) in placed {
        pages[number].stamp(&items, Pt::default());
    }
    for (i, page) in pages.iter_mut().enumerate() {
        head_line(input, &area, i + 1, count, page);
        strip(input, &area, page);
    }
    Ok(Sheet {
        title: format!("Hold point {}, {}", input.answer.area, input.answer.site),
        author: input.release.by.clone(),
        scale,
        pages,
    })
}

fn head_line(input: &CertificateInput, area: &Rect, number: usize, of: usize, page: &mut Page) {
    let look = Look::HEAD;
    let baseline = area.y + 4.6;
    let count = format!("sheet {number} of {of}");
    let right = pt(area.right(), baseline);
    page.anchored(Role::Furniture, right, &count, look, Anchor::End, 0.0);
    let room = area.w - crate::font::text_width_mm(&count, look.face, look.cap_mm) - 6.0;
    let title = format!("HOLD POINT  {}", input.answer.area);
    let title = crate::font::wrap(&title, look.face, look.cap_mm, room).swap_remove(0);
    page.text(Role::Furniture, pt(area.x, baseline), &title, look);
    let y = area.y + 6.6;
    let rule = [pt(area.x, y), pt(area.right(), y)];
    page.line(Role::Furniture, &rule, Stroke::solid(0.7, Ink::BLACK));
}

fn strip(input: &CertificateInput, area: &Rect, page: &mut Page) {
    let head = &input.answer.head;
    let first: String = head.hex.chars().take(16).collect();
    let top = pt(area.x, area.bottom() - STRIP_MM + 2.0);
    let rule = [top, pt(area.right(), top.y)];
    page.line(Role::Furniture, &rule, Stroke::solid(0.7, Ink::BLACK));
    let row = vec![
        cell("SITE", input.answer.site.clone(), 2.0),
        cell("DECISION", format!("entry {}", input.release.entry), 1.2),
        cell("LIST RESTS ON HEAD", format!("{}:{first}", head.n), 2.2),
        cell("PRINTED", input.printed_at, 2.2),
    ];
    rows(vec![row], top, area.w, page);
}

fn outcome_words(outcome: ReleaseOutcome) -> &'static str {
    match outcome {
        ReleaseOutcome::Released => "RELEASED",
        ReleaseOutcome::WithExceptions => "RELEASED WITH EXCEPTIONS",
        ReleaseOutcome::NotReleased => "NOT RELEASED",
    }
}

/// What was decided, loud; what ended it or came after it, louder; then who, when and on what it rests.
fn opening(input: &CertificateInput, area: &Rect, page: &mut Page) -> f64 {
    let (answer, release) = (input.answer, input.release);
    let mut y = area.y + 9.5;
    let mut say = |text: &str, look: Look, page: &mut Page| {
        y = page.paragraph(Role::Says, pt(area.x, y), area.w, text, look) + 1.0;
    };
    if let Some(why) = &release.withdrawn {
        say(&format!("WITHDRAWN: {why}"), Look::BIG, page);
    }
    say(outcome_words(release.outcome), Look::BIG, page);
    say(&release.says, Look::FIELD, page);
    say(&answer.says, Look::FIELD, page);
    if !release.changed.is_empty() && release.withdrawn.is_none() {
        let says = format!(
            "Changed since it was decided, which it did not see: {}",
            release.changed.join("; ")
        );
        say(&says, Look::HEAD, page);
    }
    let grid = &input.site.grid;
    let epsg = grid
        .epsg
        .map_or_else(|| "untied".to_owned(), |code| format!("EPSG:{code}"));
    let no_rules = || "none adopted".to_owned();
    let who = vec![
        cell("SITE", answer.site.clone(), 2.0).strong(),
        cell("AREA OF WORK", answer.area.clone(), 2.0).strong(),
        cell("RUNS", answer.runs.len().to_string(), 0.6).strong(),
    ];
    let decided = vec![
        cell("DECIDED BY", release.by.clone(), 1.6),
        cell("WHEN", release.observed_at.clone(), 1.6),
        cell("LIST AS AT", answer.as_at.clone(), 1.6),
    ];
    let on = vec![
        cell("GRID, north is up", format!("{epsg}, {}", grid.name), 1.6),
        cell(
            "LEVELS ABOVE",
            format!("{}, bench mark {}", grid.level_datum, grid.bench_mark),
            1.6,
        ),
        cell(
            "COVERS BELOW",
            answer
                .below
                .clone()
                .or_else(|| answer.why.get("below").cloned())
                .unwrap_or_default(),
            1.6,
        ),
    ];
    let rules = vec![
        cell(
            "RULES",
            answer
                .rules
                .as_ref()
                .map_or_else(no_rules, |rules| format!("{}; {}", rules.title, rules.says)),
            3.0,
        ),
        cell("WORKED OUT BY", input.engine, 1.0),
    ];
    let proof = vec![cell(
        "WHOLE HEAD",
        format!("{}:{}", answer.head.n, answer.head.hex),
        1.0,
    )];
    rows(
        vec![who, decided, on, rules, proof],
        pt(area.x, y + 1.0),
        area.w,
        page,
    )
}

/// The outline and the runs as they lay; returns where it ends, and its scale.
fn plan(input: &CertificateInput, area: &Rect, top: f64, page: &mut Page) -> (f64, u32) {
    let here = |run: &&register::view::MapRun| input.answer.runs.contains(&run.run);
    let runs: Vec<_> = input.map.runs.iter().filter(here).collect();
    let corners: Vec<[Near; 2]> = if input.answer.ring.is_empty() {
        let of_runs = runs.iter().flat_map(|run| &run.line);
        of_runs.map(|p| [p[0], p[1]]).collect()
    } else {
        input.answer.ring.clone()
    };
    let without = |says: &str, page: &mut Page| {
        let at = pt(area.x, top + 2.0);
        (
            page.paragraph(Role::Furniture, at, area.w, says, Look::NOTE),
            SCALES[0],
        )
    };
    let Some(extent) = Extent::of(&corners) else {
        return without("No plan: nothing is recorded to draw.", page);
    };
    let size = extent.size();
    let fits = |scale: &&u32| {
        let mm = 1000.0 / f64::from(**scale);
        size[0] * mm + 2.0 * ROOM_MM <= area.w && size[1] * mm + 2.0 * ROOM_MM <= PLAN_MM
    };
    let Some(&scale) = SCALES.iter().find(fits) else {
        return without("No plan: the area of work is too large to be drawn here.", page);
    };
    let tall = (size[1] * 1000.0 / f64::from(scale) + 2.0 * ROOM_MM).max(30.0);
    let view = Rect {
        x: area.x,
        y: top + 2.5,
        w: area.w,
        h: tall,
    };
    let frame = Frame {
        view,
        scale,
        centre: extent.middle(),
    };
    let corners_of = |rect: &Rect| {
        let mut ring = rect.corners().to_vec();
        ring.push(ring[0]);
        ring
    };
    if !input.answer.ring.is_empty() {
        let mut ring = frame.places(&input.answer.ring);
        ring.push(ring[0]);
        let stroke = Stroke::dashed(0.5, &[4.0, 1.5], Ink::BLACK);
        page.line(Role::Searched(input.answer.area.clone()), &ring, stroke);
    }
    let mut labelled: Vec<Rect> = Vec::new();
    let mut left_off = 0;
    for run in runs {
        let style = Service::from_slug(&run.service)
            .unwrap_or(Service::Unknown)
            .style();
        let line = frame.places_3d(&run.line);
        let ink = Ink::from_hex(style.colour);
        for part in crate::dig_plan::clip_line(&line, &view) {
            let stroke = Stroke::dashed(0.5, style.dash_mm, ink);
            page.line(Role::RunAxis(run.run.clone()), &part, stroke);
        }
        let words = format!("{} {}", style.letters, run.run);
        match label_place(&line, &words, &view, &labelled) {
            Some((at, bounds)) => {
                page.text(Role::Label, at, &words, Look::SMALL);
                labelled.push(bounds);
            }
            None => left_off += 1,
        }
    }
    page.line(
        Role::PlanFrame,
        &corners_of(&view),
        Stroke::solid(0.25, Ink::RULE),
    );
    let arrow = Rect {
        x: view.right() - 14.0,
        y: view.y + 2.0,
        w: 12.0,
        h: 16.0,
    };
    north_arrow(arrow, page);
    let mut note =
        format!("Scale 1:{scale}. Dashed: the outline of the area of work. For finding the place only.");
    if left_off > 0 {
        note += &format!(" Names left off for want of room: {left_off}.");
    }
    let end = page.paragraph(
        Role::Furniture,
        pt(view.x, view.bottom() + 0.5),
        view.w,
        &note,
        Look::NOTE,
    );
    (end, scale)
}

/// Returns where a run's name can stand by one of its vertices, its far end first, without covering another name.
fn label_place(line: &[Pt], words: &str, view: &Rect, taken: &[Rect]) -> Option<(Pt, Rect)> {
    let look = Look::SMALL;
    let (w, h) = (
        crate::font::text_width_mm(words, look.face, look.cap_mm),
        look.cap_mm,
    );
    let beside = [
        (1.0, h / 2.0),
        (-w - 1.0, h / 2.0),
        (-w / 2.0, -1.0),
        (-w / 2.0, h + 1.0),
    ];
    let places = line
        .iter()
        .rev()
        .flat_map(|p| beside.map(|(dx, dy)| pt(p.x + dx, p.y + dy)));
    let mut with_bounds = places.map(|at| {
        let bounds = Rect {
            x: at.x,
            y: at.y - h,
            w,
            h,
        };
        (at, bounds.grown(0.4))
    });
    with_bounds.find(|(_, bounds)| view.holds(bounds) && !taken.iter().any(|other| other.overlaps(bounds)))
}

/// Passing items that say the same of several things, as one.
fn joined(passed: &[&HoldItem]) -> Vec<HoldItem> {
    let mut rows: Vec<HoldItem> = Vec::new();
    for item in passed {
        match rows.last_mut() {
            Some(last) if last.code == item.code && last.says == item.says => {
                last.about = format!("{}, {}", last.about, item.about);
            }
            _ => rows.push((*item).clone()),
        }
    }
    rows
}

fn blocks<'a>(input: &'a CertificateInput<'a>) -> Vec<Block<'a>> {
    let items = &input.answer.items;
    let mut blocks = Vec::new();
    let accepted: Vec<&HoldItem> = items.iter().filter(|item| item.accepted.is_some()).collect();
    let is_open = |item: &&HoldItem| item.state != HoldState::Passes && item.accepted.is_none();
    let open: Vec<&HoldItem> = items.iter().filter(is_open).collect();
    let passed: Vec<&HoldItem> = items
        .iter()
        .filter(|item| item.state == HoldState::Passes)
        .collect();
    if !open.is_empty() {
        blocks.push(list("Open", open.into_iter().cloned()));
    }
    if !accepted.is_empty() {
        let title = "Exceptions, each accepted for the reason given";
        blocks.push(list(title, accepted.into_iter().cloned()));
    }
    if !passed.is_empty() {
        blocks.push(list("Met", joined(&passed)));
    }
    let mut runs = Block::new("Runs", 60.0);
    let names = if input.answer.runs.is_empty() {
        "none recorded".to_owned()
    } else {
        input.answer.runs.join(", ")
    };
    runs.says(names, Look::SMALL);
    blocks.push(runs);
    if let Some(words) = input.statement {
        let mut block = Block::new("In the person's own words", 60.0);
        block.says(words, Look::FIELD);
        blocks.push(block);
    }
    let mut signed = Block::new("Signed", 60.0);
    signed.row(|top, width, page| {
        let row = vec![
            cell("WHO INSTALLED IT, LICENCE", "", 1.0),
            cell("WHO DECIDED", "", 1.0),
            cell("WHO LOOKED ON", "", 1.0),
        ];
        rows(vec![row], pt(top.x, top.y + 1.0), width, page)
    });
    blocks.push(signed);
    let mut cautions = Block::new("Cautions", 60.0);
    for caution in CAUTIONS_HERE {
        cautions.says(caution, Look::SMALL);
    }
    cautions.says(
        "A release tells what was recorded and who decided on it. It is no approval by an authority and no judgement of \
         workmanship: local codes, inspection and licensed practice govern. It is never edited; a change after it, or \
         its withdrawal, stands in the book under a later entry.",
        Look::SMALL,
    );
    cautions.says(
        "Hold this head against the book with: coverbook verify --head N:HEX. A chain proves only against a head that \
         somebody else holds, so keep this sheet.",
        Look::SMALL,
    );
    blocks.push(cautions);
    blocks
}

fn list<'a>(title: &'a str, items: impl IntoIterator<Item = HoldItem>) -> Block<'a> {
    let mut block = Block::new(title, 60.0);
    for item in items {
        block.row(move |top, width, page| {
            let state = match item.state {
                HoldState::Passes => "met",
                HoldState::NeedsReason => "not proved",
                HoldState::Fails => "fails",
            };
            let named = 46.0;
            page.paragraph(Role::Table, top, 20.0, state, Look::STRONG);
            let about = if item.about.is_empty() {
                item.code.clone()
            } else {
                format!("{} {}", item.code, item.about)
            };
            let left = page.paragraph(Role::Table, pt(top.x + 21.0, top.y), named, &about, Look::SMALL);
            let x = top.x + 21.0 + named + 1.0;
            let room = width - (x - top.x);
            let mut end = page.paragraph(Role::Table, pt(x, top.y), room, &item.says, Look::SMALL);
            if let Some(reason) = &item.accepted {
                let reason = format!("Reason: {reason}");
                let look = Look::new(2.5, Face::Bold, Ink::BLACK);
                end = page.paragraph(Role::Table, pt(x, end), room, &reason, look);
            }
            let end = end.max(left) + 0.6;
            let rule = [pt(top.x, end), pt(top.x + width, end)];
            page.line(Role::Furniture, &rule, Stroke::solid(0.18, Ink::RULE));
            end + 0.6
        });
    }
    block
}

//! What follows the plan: tables, legend, cautions, each in rows that flow from column to column.

use super::drawing::triangle;
use super::frame::circle;
use super::hatch::SPACING_MM;
use super::staff;
use super::words::{plus_minus, service_name, surface_name, verdict};
use crate::DigPlanInput;
use crate::flow::Block;
use crate::font::Face;
use crate::page::{Anchor, Ink, Look, Page, Pt, Role, Shape, Stroke, pt};
use register::service::Service;
use register::time::date_of;
use register::view::{DigRun, Down, Why};
use std::collections::BTreeSet;

/// Returns every block in the order read.
pub fn all<'a>(input: &'a DigPlanInput<'a>, labels_left: usize) -> Vec<Block<'a>> {
    let mut blocks = vec![cautions(input)];
    blocks.push(searched(input));
    blocks.extend(staffs(input));
    blocks.push(runs(input));
    if input.cards.iter().any(|c| !c.vertices.is_empty()) {
        blocks.push(points(input, labels_left));
    }
    blocks.push(legend(input));
    blocks.push(rules(input));
    blocks
}

fn cautions<'a>(input: &'a DigPlanInput) -> Block<'a> {
    let mut block = Block::new("Cautions: read aloud before work", 100.0);
    for (i, text) in register::view::CAUTIONS.iter().enumerate() {
        block.row(move |top, width, page| {
            let number = format!("{}", i + 1);
            page.text(
                Role::Caution,
                pt(top.x, top.y + Look::HEAD.rise_mm()),
                &number,
                Look::HEAD,
            );
            let look = Look::new(3.0, Face::Regular, Ink::BLACK);
            page.paragraph(Role::Caution, pt(top.x + 9.0, top.y), width - 9.0, text, look) + 1.2
        });
    }
    let own = input
        .answer
        .cautions
        .iter()
        .chain(&input.site.cautions)
        .filter(|c| !register::view::CAUTIONS.contains(&c.as_str()));
    for text in own.collect::<BTreeSet<_>>() {
        block.row(move |top, width, page| {
            page.text(
                Role::Caution,
                pt(top.x, top.y + Look::HEAD.rise_mm()),
                "!",
                Look::HEAD,
            );
            page.paragraph(
                Role::Caution,
                pt(top.x + 9.0, top.y),
                width - 9.0,
                text,
                Look::HEAD,
            ) + 1.2
        });
    }
    block
}

fn staffs<'a>(input: &'a DigPlanInput<'a>) -> Option<Block<'a>> {
    let span = staff::span(input)?;
    let runs: Vec<&DigRun> = input.answer.runs.iter().filter(|run| is_near(run)).collect();
    let mut block = Block::new("", 108.0);
    // How many runs a row shows must not hang on the column it comes to stand in.
    let narrow = staff::slots(108.0);
    let most = if runs.len() <= narrow {
        narrow
    } else {
        staff::slots(175.0)
    };
    if most > narrow {
        block.least_width = 175.0;
    }
    // Spread evenly, so that no run stands alone.
    let many = runs.len().div_ceil(runs.len().div_ceil(most).max(1)).max(1);
    let mut parts: Vec<Vec<&DigRun>> = runs.chunks(many).map(<[&DigRun]>::to_vec).collect();
    if parts.is_empty() {
        parts.push(Vec::new());
    }
    for part in parts {
        block.row(move |top, width, page| staff::draw(input, &part, span, top, width, page));
    }
    Some(block)
}

fn known_or(value: Option<String>, why: &Why, field: &str) -> String {
    value.unwrap_or_else(|| match why.get(field) {
        Some(reason) => format!("not known: {reason}"),
        None => "not known".into(),
    })
}

fn runs<'a>(input: &'a DigPlanInput) -> Block<'a> {
    let mut block = Block::new("Recorded near the dig", 165.0);
    let answer = input.answer;
    if answer.rules.is_none() {
        block.says("No rule set adopted: no verdicts.", Look::HEAD);
    }
    if answer.runs.is_empty() {
        block.says(answer.says.as_str(), Look::HEAD);
    }
    for run in answer.runs.iter().filter(|run| is_near(run)) {
        let other_site = (run.site != answer.site).then_some(run.site.as_str());
        let zone = input.zones.iter().find(|z| z.run == run.run);
        let zone = zone.map_or_else(
            || "hand-dig zone not set".to_string(),
            |z| {
                format!(
                    "hand-dig zone {:.2} m each side of the 95 % band ({})",
                    z.each_side_m, z.source
                )
            },
        );
        block.row(move |top, width, page| run_row(run, other_site, &zone, top, width, page));
    }
    let far: Vec<String> = answer
        .runs
        .iter()
        .filter(|run| !is_near(run))
        .map(far_run)
        .collect();
    if !far.is_empty() {
        block.says(
            format!("Also recorded, farther off in plan: {}.", far.join("; ")),
            Look::SMALL,
        );
    }
    block
}

/// A run that no part of the answer lies near is named with its distance, and not drawn to scale.
fn far_run(run: &DigRun) -> String {
    let distance = run.worst_horizontal_gap_m.map_or_else(
        || format!("{} m, not placed", run.horizontal_gap_m.text()),
        |worst| format!("{} m at 95 %", worst.text()),
    );
    format!("{} {} {distance}", run.letters, run.run)
}

/// Whether some part of a run is near the dig.
pub(super) fn is_near(run: &DigRun) -> bool {
    !run.part.is_empty()
}

fn run_row(run: &DigRun, other_site: Option<&str>, zone: &str, top: Pt, width: f64, page: &mut Page) -> f64 {
    let style = Service::from_slug(&run.service)
        .unwrap_or(Service::Unknown)
        .style();
    let x = |share: f64| top.x + width * share;
    let wide = |from: f64, to: f64| width * (to - from) - 2.0;
    let role = Role::Table;
    let ink = Ink::from_hex(style.colour);
    let letters_top = pt(top.x, top.y + 0.6);
    page.paragraph(
        role.clone(),
        letters_top,
        wide(0.0, 0.09),
        style.letters,
        Look::BIG.in_ink(ink),
    );
    let stack = |from: f64, to: f64, parts: &[(String, Look)], page: &mut Page| {
        let mut y = top.y + 0.6;
        for (text, look) in parts.iter().filter(|(text, _)| !text.is_empty()) {
            y = page.paragraph(role.clone(), pt(x(from), y), wide(from, to), text, *look);
        }
        y
    };
    let range = |min: Option<String>, max: Option<String>| match (min, max) {
        (Some(min), Some(max)) if min == max => Some(format!("{min} m")),
        (Some(min), Some(max)) => Some(format!("{min} to {max} m")),
        (min, max) => min.or(max).map(|v| format!("{v} m")),
    };
    let gap = |worst: Option<Down>, field: &str| {
        known_or(worst.map(|d| format!("{} m", d.text())), &run.why, field)
    };
    let mut end = stack(
        0.09,
        0.33,
        &[
            (run.run.clone(), Look::HEAD),
            (service_name(&run.service).to_string(), Look::SMALL),
            (run.section.clone(), Look::SMALL),
            (
                other_site.map(|s| format!("of site {s}")).unwrap_or_default(),
                Look::SMALL,
            ),
        ],
        page,
    );
    let no_verdict = run
        .verdict
        .is_none()
        .then(|| run.why.get("verdict").cloned())
        .flatten();
    end = end.max(stack(
        0.33,
        0.55,
        &[
            (verdict(run.verdict), Look::HEAD),
            (no_verdict.unwrap_or_default(), Look::SMALL),
            (format!("{}, treat as live", run.status), Look::SMALL),
            (format!("known: {}", run.known), Look::SMALL),
            (format!("measured {}", date_of(&run.observed_at)), Look::SMALL),
        ],
        page,
    ));
    let (low, high) = (run.top_level_m.min.text(), run.top_level_m.max.text());
    let levels = if low == high {
        low
    } else {
        format!("{low} to {high}")
    };
    let cover = range(
        run.cover_m.min.map(|v| v.text()),
        run.cover_m.max.map(|v| v.text()),
    );
    end = end.max(stack(
        0.55,
        0.76,
        &[
            ("top level, RL".into(), Look::NOTE),
            (levels, Look::STRONG),
            (plus_minus(run.u95_v_m), Look::SMALL),
            ("cover to outside top".into(), Look::NOTE),
            (known_or(cover, &run.why, "cover_m"), Look::STRONG),
        ],
        page,
    ));
    end = end.max(stack(
        0.76,
        1.01,
        &[
            ("worst gap at 95 %".into(), Look::NOTE),
            (gap(run.worst_gap_m, "worst_gap_m"), Look::STRONG),
            ("in plan".into(), Look::NOTE),
            (
                gap(run.worst_horizontal_gap_m, "worst_horizontal_gap_m"),
                Look::STRONG,
            ),
            ("below the floor".into(), Look::NOTE),
            (
                gap(run.worst_vertical_gap_m, "worst_vertical_gap_m"),
                Look::STRONG,
            ),
        ],
        page,
    ));
    let from = 0.09;
    for text in [run.says.as_str(), zone].into_iter().filter(|t| !t.is_empty()) {
        end = page.paragraph(
            role.clone(),
            pt(x(from), end + 0.4),
            wide(from, 1.0),
            text,
            Look::SMALL,
        );
    }
    for caution in &run.cautions {
        let text = format!("! {caution}");
        end = page.paragraph(
            role.clone(),
            pt(x(from), end + 0.4),
            wide(from, 1.0),
            &text,
            Look::STRONG,
        );
    }
    rule(top.x, width, end + 0.8, page)
}

fn rule(x: f64, width: f64, y: f64, page: &mut Page) -> f64 {
    page.line(
        Role::Table,
        &[pt(x, y), pt(x + width, y)],
        Stroke::solid(0.18, Ink::RULE),
    );
    y + 0.8
}

fn searched<'a>(input: &'a DigPlanInput) -> Block<'a> {
    let mut block = Block::new("Where somebody looked", 100.0);
    let searched = &input.answer.searched;
    block.says(
        format!(
            "{} % of the dig was searched for every service that counts. Hatched ground is not recorded here.",
            searched.share.whole()
        ),
        Look::STRONG,
    );
    for (service, share) in &searched.by_service {
        let oldest = share.oldest.as_deref().map_or_else(
            || "no search".to_string(),
            |d| format!("oldest search {}", date_of(d)),
        );
        let mut text = format!("{}: {} %, {oldest}", service_name(service), share.share.whole());
        for note in &share.says {
            text.push_str(&format!("; {note}"));
        }
        block.says(text, Look::SMALL);
    }
    for text in &searched.not_counted {
        block.says(format!("does not count: {text}"), Look::SMALL);
    }
    if input.answer.floor_unknown_area_m2.0 > 0.0 {
        let area = input.answer.floor_unknown_area_m2.text();
        block.says(
            format!("The floor is not known over {area} m² of the dig."),
            Look::STRONG,
        );
    }
    for area in &input.map.searched {
        block.says(format!("{}: {}", area.area, area.says), Look::SMALL);
    }
    block
}

const POINT_COLUMNS: [(&str, f64, Anchor); 8] = [
    ("run", 0.0, Anchor::Start),
    ("point", 0.15, Anchor::Start),
    ("easting", 0.42, Anchor::End),
    ("northing", 0.57, Anchor::End),
    ("RL top", 0.68, Anchor::End),
    ("cover", 0.78, Anchor::End),
    ("± plan", 0.89, Anchor::End),
    ("± level", 1.0, Anchor::End),
];

fn points<'a>(input: &'a DigPlanInput, labels_left: usize) -> Block<'a> {
    let mut block = Block::new("Measured points: set out from these, not off the paper", 165.0);
    if labels_left > 0 {
        block.says(
            format!("{labels_left} labels found no room on the plan: their figures are here."),
            Look::STRONG,
        );
    }
    let below: BTreeSet<&str> = input.cards.iter().filter_map(|c| c.below.as_deref()).collect();
    if !below.is_empty() {
        let names = below.into_iter().collect::<Vec<_>>().join("; ");
        block.says(
            format!("Cover is below {names}. Metres; ± at 95 %; * assumed for the class."),
            Look::SMALL,
        );
    }
    block.names = Some(Box::new(|top: Pt, width: f64, page: &mut Page| {
        let baseline = top.y + Look::NOTE.rise_mm();
        for (text, share, anchor) in POINT_COLUMNS {
            let at = pt(top.x + width * share, baseline);
            page.anchored(Role::Table, at, text, Look::NOTE, anchor, 0.0);
        }
        rule(top.x, width, top.y + Look::NOTE.step_mm() + 0.4, page)
    }));
    for card in input.cards {
        for vertex in &card.vertices {
            block.row(move |top, width, page| {
                let star = if vertex.u95_assumed { "*" } else { "" };
                let u = |v: Option<register::view::Up>| {
                    v.map_or_else(|| "?".to_string(), |u| format!("{}{star}", u.text()))
                };
                let cover = vertex.cover_m.map_or_else(|| "?".to_string(), |c| c.text());
                let values = [
                    format!("{} {}", card.letters, card.run),
                    vertex.point.clone(),
                    vertex.axis[0].text(),
                    vertex.axis[1].text(),
                    vertex.top_level_m.text(),
                    cover,
                    u(vertex.u95_h_m),
                    u(vertex.u95_v_m),
                ];
                let mut end = top.y;
                for (i, value) in values.iter().enumerate() {
                    let (_, share, anchor) = POINT_COLUMNS[i];
                    let x = top.x + width * share;
                    if anchor == Anchor::Start {
                        let room = width * (if i == 0 { 0.15 } else { 0.12 }) - 1.5;
                        end = end.max(page.paragraph(Role::Table, pt(x, top.y), room, value, Look::SMALL));
                    } else {
                        let at = pt(x, top.y + Look::SMALL.rise_mm());
                        page.anchored(Role::Table, at, value, Look::SMALL, anchor, 0.0);
                    }
                }
                if vertex.cover_m.is_none()
                    && let Some(why) = vertex.why.get("cover_m")
                {
                    let text = format!("cover not known: {why}");
                    end = page.paragraph(Role::Table, pt(top.x, end), width, &text, Look::SMALL);
                }
                end + 0.3
            });
        }
    }
    block
}

fn legend<'a>(input: &'a DigPlanInput) -> Block<'a> {
    let mut block = Block::new("Legend", 100.0);
    let mut entry = |text: String, sample: fn(Pt, &mut Page)| {
        block.row(move |top, width, page| {
            sample(pt(top.x, top.y + 2.6), page);
            page.paragraph(
                Role::Legend,
                pt(top.x + 28.0, top.y),
                width - 28.0,
                &text,
                Look::SMALL,
            )
            .max(top.y + 5.2)
                + 0.8
        });
    };
    entry(
        "planned dig, as asked; over-dig and setting out are allowed for in the gaps".into(),
        |at, page| {
            page.line(
                Role::Legend,
                &[at, pt(at.x + 24.0, at.y)],
                Stroke::solid(1.4, Ink::BLACK),
            );
        },
    );
    entry(
        "not recorded here: nobody looked, or not deep enough".into(),
        |at, page| {
            let mut segments = Vec::new();
            let step = SPACING_MM * std::f64::consts::SQRT_2;
            for k in 0..5 {
                let x = at.x + 1.0 + step * f64::from(k);
                segments.push([pt(x, at.y + 2.2), pt(x + 4.4, at.y - 2.2)]);
            }
            let stroke = Stroke::solid(0.18, Ink(0x70, 0x70, 0x70));
            page.put(Role::Legend, Shape::Strokes { segments, stroke });
        },
    );
    entry(
        "edge of a searched area; dotted where the search does not count".into(),
        |at, page| {
            let dash = Stroke::dashed(0.5, &[9.0, 2.0], Ink::GREY);
            page.line(Role::Legend, &[at, pt(at.x + 24.0, at.y)], dash);
        },
    );
    entry(
        "95 % band of a run in plan; a pipe's outside edges inside it, where wide enough to draw".into(),
        |at, page| {
            for (dy, stroke) in [
                (1.8, Stroke::dashed(0.25, &[1.0, 0.8], Ink::BLACK)),
                (0.9, Stroke::solid(0.25, Ink::BLACK)),
            ] {
                for side in [-dy, dy] {
                    page.line(
                        Role::Legend,
                        &[pt(at.x, at.y + side), pt(at.x + 24.0, at.y + side)],
                        stroke.clone(),
                    );
                }
            }
        },
    );
    if input.zones.is_empty() {
        block.says("Hand-dig zone not set: no edge is drawn.", Look::STRONG);
    } else {
        let text = "edge of the hand-dig zone, from the 95 % band outward; runs without one: zone not set"
            .to_string();
        block.row(move |top, width, page| {
            let dash = Stroke::dashed(0.35, &[4.0, 1.2, 0.6, 1.2], Ink::BLACK);
            let y = top.y + 2.6;
            page.line(Role::Legend, &[pt(top.x, y), pt(top.x + 24.0, y)], dash);
            page.paragraph(
                Role::Legend,
                pt(top.x + 28.0, top.y),
                width - 28.0,
                &text,
                Look::SMALL,
            ) + 0.8
        });
    }
    block.row(|top, width, page| {
        let (x, y) = (top.x + 4.0, top.y + 2.8);
        let ring = circle(pt(x, y), 0.9);
        page.area(
            Role::Legend,
            &ring,
            Some(Ink::WHITE),
            Some(Stroke::solid(0.5, Ink::BLACK)),
        );
        triangle(Role::Legend, pt(x + 12.0, y), page);
        let text = "measured point of a run; control point";
        page.paragraph(
            Role::Legend,
            pt(top.x + 28.0, top.y),
            width - 28.0,
            text,
            Look::SMALL,
        ) + 0.8
    });
    let slugs = input
        .map
        .runs
        .iter()
        .map(|r| &r.service)
        .chain(input.answer.runs.iter().map(|r| &r.service));
    let services: BTreeSet<Service> = slugs
        .map(|s| Service::from_slug(s).unwrap_or(Service::Unknown))
        .collect();
    for service in services {
        block.row(move |top, width, page| {
            let style = service.style();
            let ink = Ink::from_hex(style.colour);
            let y = top.y + 2.6;
            let stroke = Stroke::dashed(0.9, style.dash_mm, ink);
            page.line(Role::Legend, &[pt(top.x, y), pt(top.x + 24.0, y)], stroke);
            let w = crate::font::text_width_mm(style.letters, Face::Bold, 3.5) / 2.0 + 0.8;
            let ring = crate::page::Rect::new(top.x + 12.0 - w, y - 2.2, 2.0 * w, 4.4).corners();
            page.area(Role::Legend, &ring, Some(Ink::WHITE), None);
            let at = pt(top.x + 12.0, y + 1.75);
            page.anchored(
                Role::Legend,
                at,
                style.letters,
                Look::HEAD.in_ink(ink),
                Anchor::Middle,
                0.0,
            );
            page.paragraph(
                Role::Legend,
                pt(top.x + 28.0, top.y),
                width - 28.0,
                style.name,
                Look::SMALL,
            ) + 0.8
        });
    }
    block.says(
        "Read the letters: colour only helps, and copies lose it.",
        Look::STRONG,
    );
    block
}

fn rules<'a>(input: &'a DigPlanInput) -> Block<'a> {
    let mut block = Block::new("Rules, surfaces and other sites", 100.0);
    let answer = input.answer;
    match &answer.rules {
        Some(rules) => {
            block.says(format!("{} ({})", rules.title, rules.id), Look::STRONG);
            block.says(
                format!("{} Entry {}, SHA-256 {}", rules.says, rules.entry, rules.sha256),
                Look::SMALL,
            );
        }
        None => block.says("No rule set adopted: no verdicts.", Look::STRONG),
    }
    let dig = &answer.dig;
    let assumed = if dig.allowances_assumed {
        " (the program's own, no rule's)"
    } else {
        ""
    };
    block.says(
        format!(
            "Allowed for over-digging {} m, for setting out {} m{assumed}. Area of the dig {} m².",
            dig.over_dig_m.text(),
            dig.set_out_m.text(),
            dig.area_m2.text()
        ),
        Look::SMALL,
    );
    if let Some(surface) = &dig.surface {
        let u = plus_minus(dig.surface_u95_m);
        block.says(
            format!("Surface {surface}: level {u} at {}.", surface_name(surface)),
            Look::SMALL,
        );
    }
    for (field, why) in &dig.why {
        block.says(format!("{field}: {why}"), Look::SMALL);
    }
    if answer.not_compared.is_empty() {
        block.says("Every other site of the register was compared.", Look::SMALL);
    }
    for other in &answer.not_compared {
        block.says(
            format!("Not compared: {}: {}", other.site, other.why),
            Look::STRONG,
        );
    }
    block
}

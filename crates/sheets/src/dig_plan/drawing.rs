//! The plan itself: dig, runs, bands, searched areas, control, grid.

use super::frame::{Frame, beside, circle, clip_line, closed, without_repeats};
use super::grid;
use super::hatch::{self, Ground};
use super::label::{Hatched, Label, Placer};
use super::words::{plus_minus, surface_name};
use crate::DigPlanInput;
use crate::page::{Anchor, Ink, Look, Page, Pt, Rect, Role, Stroke, around, pt};
use register::service::Service;
use register::view::{MapRun, RunCardVertex};

/// A run ready to draw.
struct Drawn {
    name: String,
    letters: String,
    stroke: Stroke,
    axis: Vec<Pt>,
    radius_mm: f64,
    band_mm: Option<Vec<f64>>,
    zone_mm: Option<f64>,
    abandoned: bool,
}

/// Draws one part of the plan; returns how many labels found no place.
pub fn draw(input: &DigPlanInput, frame: &Frame, page: &mut Page) -> usize {
    let mut placer = Placer::new(frame.view, ground(input, frame, page));
    let north = grid::north_arrow_place(&frame.view);
    placer.take(north);
    let runs = runs(input, frame);
    draw_runs(&runs, frame, page);
    draw_dig(input, frame, page, &mut placer);
    let mut labels = not_recorded(input, frame);
    labels.extend(dig_labels(input, frame));
    labels.extend(vertices(input, frame, page, &mut placer));
    labels.extend(crossings(input, frame));
    labels.extend(control(input, frame, page, &mut placer));
    labels.extend(ground_labels(input, frame));
    labels.retain(|l| frame.view.has(l.at));
    grid::crosses(frame, page);
    // Every run has its letters once; then labels; then letters again wherever room is left.
    let mut written = vec![Vec::new(); runs.len()];
    for (run, written) in runs.iter().zip(&mut written) {
        placer.avoid(&run.axis);
        letters(run, frame, page, &mut placer, written, true);
    }
    let left = placer.place_all(labels, page);
    // Words on the hatch carry no figure: the hatch itself speaks, and the legend.
    let left = left.iter().filter(|l| l.on_hatch.is_none()).count();
    for (run, written) in runs.iter().zip(&mut written) {
        letters(run, frame, page, &mut placer, written, false);
    }
    grid::north_arrow(north, page);
    page.area(
        Role::PlanFrame,
        &frame.view.corners(),
        None,
        Some(Stroke::solid(0.35, Ink::BLACK)),
    );
    left
}

/// Draws hatch and searched areas; returns what decides where the hatch goes.
fn ground(input: &DigPlanInput, frame: &Frame, page: &mut Page) -> Ground {
    let rings = |rings: &Vec<Vec<_>>| rings.iter().map(|r| frame.places(r)).collect::<Vec<_>>();
    let whole_searches = input
        .map
        .searched
        .iter()
        .filter(|a| a.counts && a.services.is_empty());
    let ground = Ground {
        dig: rings(&input.answer.dig.plan),
        unsearched: input.answer.searched.unsearched.iter().map(rings).collect(),
        searched: whole_searches.map(|a| frame.places(&a.ring)).collect(),
    };
    page.put(
        Role::Unsearched,
        crate::page::Shape::Strokes {
            segments: hatch::strokes(&ground, &frame.view),
            stroke: Stroke::solid(0.18, Ink(0x70, 0x70, 0x70)),
        },
    );
    for area in &input.map.searched {
        let dash: &[f64] = if area.counts { &[9.0, 2.0] } else { &[0.8, 1.6] };
        for piece in clip_line(&closed(&frame.places(&area.ring)), &frame.view) {
            let stroke = Stroke::dashed(0.5, dash, Ink::GREY);
            page.line(Role::Searched(area.area.clone()), &piece, stroke);
        }
    }
    ground
}

fn runs(input: &DigPlanInput, frame: &Frame) -> Vec<Drawn> {
    let answer = input.answer;
    let near = |run: &MapRun| {
        answer
            .runs
            .iter()
            .find(|r| r.run == run.run && r.site == answer.site)
    };
    let zone = |name: &str, widest: f64| {
        let each_side = input.zones.iter().find(|z| z.run == name)?.each_side_m;
        Some(frame.mm(each_side) + widest)
    };
    let mut out = Vec::new();
    for run in &input.map.runs {
        let radius_mm = frame.mm(run.width_m.0 / 2.0);
        let axis = frame.places_3d(&run.line);
        let band_mm = (!run.u95_h_m.is_empty()).then(|| {
            let last = run.u95_h_m.len() - 1;
            let u = |i: usize| radius_mm + frame.mm(run.u95_h_m[i.min(last)].0);
            (0..axis.len()).map(u).collect::<Vec<_>>()
        });
        let widest = band_mm.iter().flatten().copied().fold(radius_mm, f64::max);
        let style = Service::from_slug(&run.service)
            .unwrap_or(Service::Unknown)
            .style();
        let width = if near(run).is_some() { 0.9 } else { 0.7 };
        out.push(Drawn {
            name: run.run.clone(),
            letters: style.letters.to_string(),
            stroke: Stroke::dashed(width, style.dash_mm, Ink::from_hex(style.colour)),
            axis,
            radius_mm,
            band_mm,
            zone_mm: zone(&run.run, widest),
            abandoned: run.status == "abandoned",
        });
    }
    // Runs of other sites are drawn as far as the answer brings them into this grid.
    let drawn = |name: &str| input.map.runs.iter().any(|m| m.run == name);
    for run in answer
        .runs
        .iter()
        .filter(|r| r.site != answer.site || !drawn(&r.run))
    {
        let style = Service::from_slug(&run.service)
            .unwrap_or(Service::Unknown)
            .style();
        let radius_mm = frame.mm(run.outside_m.0 / 2.0);
        for part in &run.part {
            let axis = frame.places_3d(&part.line);
            let band_mm = run.u95_h_m.map(|u| vec![radius_mm + frame.mm(u.0); axis.len()]);
            let widest = band_mm.iter().flatten().copied().fold(radius_mm, f64::max);
            out.push(Drawn {
                name: run.run.clone(),
                letters: style.letters.to_string(),
                stroke: Stroke::dashed(0.9, style.dash_mm, Ink::from_hex(style.colour)),
                axis,
                radius_mm,
                band_mm,
                zone_mm: zone(&run.run, widest),
                abandoned: run.status == "abandoned",
            });
        }
    }
    out
}

fn draw_runs(runs: &[Drawn], frame: &Frame, page: &mut Page) {
    let view = &frame.view;
    for run in runs {
        for piece in clip_line(&run.axis, view) {
            let role = Role::RunBand(run.name.clone());
            page.line(role, &piece, Stroke::solid(2.6, Ink::WHITE));
        }
    }
    for run in runs {
        if let Some(zone) = run.zone_mm {
            let stroke = Stroke::dashed(0.35, &[4.0, 1.2, 0.6, 1.2], run.stroke.ink);
            let off = vec![zone; run.axis.len()];
            outline(run, &off, Role::ZoneEdge(run.name.clone()), &stroke, view, page);
        }
        if let Some(band) = &run.band_mm {
            let stroke = Stroke::dashed(0.25, &[1.0, 0.8], Ink::BLACK);
            outline(run, band, Role::RunBand(run.name.clone()), &stroke, view, page);
        }
        if run.radius_mm >= 0.9 {
            let off = vec![run.radius_mm; run.axis.len()];
            let stroke = Stroke::solid(0.25, run.stroke.ink);
            outline(run, &off, Role::RunEdge(run.name.clone()), &stroke, view, page);
        }
    }
    for run in runs {
        for piece in clip_line(&run.axis, view) {
            page.line(Role::RunAxis(run.name.clone()), &piece, run.stroke.clone());
        }
        let line = without_repeats(&run.axis);
        if let [only] = line[..]
            && view.has(only)
        {
            let ring = circle(only, run.radius_mm.max(1.4));
            page.area(
                Role::RunEdge(run.name.clone()),
                &ring,
                None,
                Some(Stroke::solid(0.7, run.stroke.ink)),
            );
        }
        if run.abandoned {
            for piece in clip_line(&run.axis, view) {
                for (at, _) in stations(&piece, 9.0, 4.5) {
                    for d in [1.0, -1.0] {
                        let cross = [pt(at.x - 1.1, at.y - d * 1.1), pt(at.x + 1.1, at.y + d * 1.1)];
                        page.line(
                            Role::RunAxis(run.name.clone()),
                            &cross,
                            Stroke::solid(0.35, Ink::BLACK),
                        );
                    }
                }
            }
        }
    }
}

fn outline(run: &Drawn, off: &[f64], role: Role, stroke: &Stroke, view: &Rect, page: &mut Page) {
    let line = without_repeats(&run.axis);
    let ring = match line[..] {
        [] => return,
        [only] => circle(only, off.iter().copied().fold(0.0, f64::max)),
        // A riser's repeated places share a width: the first is as good as the last only when they agree, so the
        // widest is taken.
        _ => {
            let widths: Vec<f64> = line
                .iter()
                .map(|p| {
                    let here = run.axis.iter().zip(off).filter(|(q, _)| q.distance(*p) <= 0.01);
                    here.map(|(_, w)| *w).fold(0.0, f64::max)
                })
                .collect();
            let mut ring = beside(&line, &widths, 1.0);
            ring.extend(beside(&line, &widths, -1.0).into_iter().rev());
            ring
        }
    };
    for piece in clip_line(&closed(&ring), view) {
        page.line(role.clone(), &piece, stroke.clone());
    }
}

fn draw_dig(input: &DigPlanInput, frame: &Frame, page: &mut Page, placer: &mut Placer) {
    for (i, ring) in input.answer.dig.plan.iter().enumerate() {
        for piece in clip_line(&closed(&frame.places(ring)), &frame.view) {
            page.line(Role::DigOutline(i), &piece, Stroke::solid(1.4, Ink::BLACK));
            placer.wall(&piece);
        }
    }
}

/// Returns places along a line every `every` millimetres from `first`, with the angle of travel in degrees.
fn stations(line: &[Pt], every: f64, first: f64) -> Vec<(Pt, f64)> {
    let mut out = Vec::new();
    let mut wanted = first;
    let mut done = 0.0;
    for pair in line.windows(2) {
        let length = pair[0].distance(pair[1]);
        while length > 0.0 && wanted <= done + length {
            let t = (wanted - done) / length;
            let (dx, dy) = (pair[1].x - pair[0].x, pair[1].y - pair[0].y);
            out.push((
                pt(pair[0].x + t * dx, pair[0].y + t * dy),
                (-dy).atan2(dx).to_degrees(),
            ));
            wanted += every;
        }
        done += length;
    }
    out
}

/// Writes a run's letters along it: once, or wherever room is left. `written` holds where: piece, and how far along.
fn letters(
    run: &Drawn,
    frame: &Frame,
    page: &mut Page,
    placer: &mut Placer,
    written: &mut Vec<(usize, f64)>,
    once: bool,
) {
    let text = if run.abandoned {
        format!("{} abandoned", run.letters)
    } else {
        run.letters.clone()
    };
    let look = Look::HEAD.in_ink(run.stroke.ink);
    let width = crate::font::text_width_mm(&text, look.face, look.cap_mm);
    let mut places = Vec::new();
    for (k, piece) in clip_line(&run.axis, &frame.view).iter().enumerate() {
        let length: f64 = piece.windows(2).map(|p| p[0].distance(p[1])).sum();
        for (i, (at, angle)) in stations(piece, 3.0, length.min(6.0) / 2.0)
            .into_iter()
            .enumerate()
        {
            let along = length.min(6.0) / 2.0 + 3.0 * i as f64;
            let off_middle = (along - length / 2.0).abs();
            places.push((k, along, off_middle, at, angle));
        }
    }
    if once {
        places.sort_by(|a, b| a.2.total_cmp(&b.2));
    }
    // Crossing the dig's outline is better than no letters at all.
    let tries: &[bool] = if once { &[true, false] } else { &[true] };
    for uncrossed in tries {
        for (k, along, _, at, angle) in &places {
            let too_near = |(piece, at): &(usize, f64)| piece == k && (along - at).abs() < 30.0 + width;
            if written.iter().any(too_near) {
                continue;
            }
            let upright = if (-90.0..=90.0).contains(angle) {
                *angle
            } else {
                angle + 180.0
            };
            let (sin, cos) = upright.to_radians().sin_cos();
            let corner = |x: f64, y: f64| pt(at.x + x * cos - y * sin, at.y - x * sin - y * cos);
            let (w, h) = (width / 2.0 + 0.8, look.cap_mm / 2.0 + 0.7);
            let ring = [corner(-w, h), corner(w, h), corner(w, -h), corner(-w, -h)];
            let bounds = around(&ring);
            if !placer.is_free(&bounds) || (*uncrossed && !placer.is_uncrossed(&bounds)) {
                continue;
            }
            placer.take(bounds);
            written.push((*k, *along));
            let role = Role::RunLetters(run.name.clone());
            page.area(role.clone(), &ring, Some(Ink::WHITE), None);
            let baseline = corner(0.0, -look.cap_mm / 2.0);
            page.anchored(role, baseline, &text, look, Anchor::Middle, upright);
            if once {
                return;
            }
        }
    }
}

fn dig_labels(input: &DigPlanInput, frame: &Frame) -> Vec<Label> {
    let dig = &input.answer.dig;
    let Some(outer) = dig.plan.first() else {
        return Vec::new();
    };
    let ring = frame.places(outer);
    let Some(corner) = ring.iter().copied().find(|p| frame.view.has(*p)) else {
        return Vec::new();
    };
    let mut lines = vec![("planned dig".to_string(), Look::HEAD)];
    match (&dig.floor_levels_m, &dig.floor_level_m) {
        (Some(range), _) if range.min.text() == range.max.text() => {
            lines.push((format!("floor RL {}", range.min.text()), Look::BIG));
        }
        (Some(range), _) => lines.push((
            format!("floor RL {} to {}", range.min.text(), range.max.text()),
            Look::HEAD,
        )),
        (None, Some(level)) => lines.push((format!("floor RL {}", level.text()), Look::BIG)),
        (None, None) => lines.push(("floor level not known".into(), Look::HEAD)),
    }
    if let Some(depth) = dig.depth_m {
        let below = dig.surface.as_deref().map_or("surface not named", surface_name);
        lines.push((format!("{} m below {below}", depth.text()), Look::SMALL));
    }
    vec![Label {
        at: corner,
        lines,
        short: Vec::new(),
        leader: true,
        framed: true,
        on_hatch: None,
    }]
}

fn vertices(input: &DigPlanInput, frame: &Frame, page: &mut Page, placer: &mut Placer) -> Vec<Label> {
    let mut labels = Vec::new();
    let middle = frame.view.middle();
    for card in input.cards {
        let below = card.below.as_deref().map(surface_name);
        for vertex in &card.vertices {
            let at = frame.place(vertex.axis[0].0, vertex.axis[1].0);
            if !frame.view.has(at) {
                continue;
            }
            let role = Role::Vertex(card.run.clone(), vertex.point.clone());
            let ring = circle(at, 0.9);
            page.area(
                role,
                &ring,
                Some(Ink::WHITE),
                Some(Stroke::solid(0.5, Ink::BLACK)),
            );
            placer.take(Rect::new(at.x - 1.2, at.y - 1.2, 2.4, 2.4));
            let name = format!("{} {}  {}", card.letters, card.run, vertex.point);
            labels.push((
                at.distance(middle),
                Label {
                    at,
                    lines: vertex_lines(name, vertex, below),
                    short: short_lines(vertex),
                    leader: true,
                    framed: true,
                    on_hatch: None,
                },
            ));
        }
    }
    labels.sort_by(|a, b| a.0.total_cmp(&b.0));
    labels.into_iter().map(|(_, label)| label).collect()
}

fn vertex_lines(name: String, vertex: &RunCardVertex, below: Option<&str>) -> Vec<(String, Look)> {
    let mut lines = vec![(format!("RL {}", vertex.top_level_m.text()), Look::BIG)];
    match (vertex.cover_m, below) {
        (Some(cover), Some(below)) => {
            lines.push((format!("{} m", cover.text()), Look::BIG));
            let u = plus_minus(vertex.cover_u95_m);
            lines.push((format!("below {below} {u}"), Look::SMALL));
        }
        _ => lines.push(("cover not known".into(), Look::STRONG)),
    }
    let assumed = if vertex.u95_assumed { ", assumed" } else { "" };
    lines.push((
        format!(
            "level {}  plan {}{assumed}",
            plus_minus(vertex.u95_v_m),
            plus_minus(vertex.u95_h_m)
        ),
        Look::SMALL,
    ));
    lines.push((name, Look::STRONG));
    lines
}

fn short_lines(vertex: &RunCardVertex) -> Vec<(String, Look)> {
    let mut lines = vec![(format!("RL {}", vertex.top_level_m.text()), Look::BIG)];
    if let Some(cover) = vertex.cover_m {
        lines.push((format!("{} m", cover.text()), Look::BIG));
    }
    lines.push((
        format!("{} {}", vertex.point, plus_minus(vertex.u95_v_m)),
        Look::SMALL,
    ));
    lines
}

/// A label where a run comes nearest the dig, for runs with no vertex in the view.
fn crossings(input: &DigPlanInput, frame: &Frame) -> Vec<Label> {
    let mut labels = Vec::new();
    for run in &input.answer.runs {
        let measured_here = input
            .cards
            .iter()
            .filter(|c| c.run == run.run)
            .flat_map(|c| &c.vertices);
        let seen = |v: &RunCardVertex| frame.view.has(frame.place(v.axis[0].0, v.axis[1].0));
        if measured_here.clone().any(seen) {
            continue;
        }
        let axis = run
            .part
            .iter()
            .flat_map(|p| clip_line(&frame.places_3d(&p.line), &frame.view));
        let Some(longest) = axis.max_by(|a, b| {
            around(a)
                .w
                .hypot(around(a).h)
                .total_cmp(&around(b).w.hypot(around(b).h))
        }) else {
            continue;
        };
        let at = stations(
            &longest,
            f64::INFINITY,
            longest.windows(2).map(|p| p[0].distance(p[1])).sum::<f64>() / 2.0,
        )
        .first()
        .map_or(longest[0], |s| s.0);
        let range = &run.top_level_m;
        let mut lines = vec![if range.min.text() == range.max.text() {
            (format!("RL {}", range.min.text()), Look::BIG)
        } else {
            (
                format!("RL {} to {}", range.min.text(), range.max.text()),
                Look::HEAD,
            )
        }];
        if let Some(least) = run.cover_m.min {
            lines.push((format!("cover at least {} m", least.text()), Look::HEAD));
        } else {
            lines.push(("cover not known".into(), Look::STRONG));
        }
        lines.push((
            format!(
                "level {}  plan {}",
                plus_minus(run.u95_v_m),
                plus_minus(run.u95_h_m)
            ),
            Look::SMALL,
        ));
        lines.push((
            format!("{} {}, between measured points", run.letters, run.run),
            Look::STRONG,
        ));
        labels.push(Label {
            at,
            lines,
            short: Vec::new(),
            leader: true,
            framed: true,
            on_hatch: None,
        });
    }
    labels
}

fn control(input: &DigPlanInput, frame: &Frame, page: &mut Page, placer: &mut Placer) -> Vec<Label> {
    let mut labels = Vec::new();
    for point in &input.map.control {
        let at = frame.place(point.at[0].0, point.at[1].0);
        if !frame.view.grown(-2.5).has(at) {
            continue;
        }
        let role = Role::Control(point.point.clone());
        triangle(role, at, page);
        placer.take(Rect::new(at.x - 2.2, at.y - 2.6, 4.4, 4.4));
        labels.push(Label {
            at,
            lines: vec![
                (point.point.clone(), Look::STRONG),
                (format!("RL {}", point.at[2].text()), Look::SMALL),
            ],
            short: Vec::new(),
            leader: true,
            framed: false,
            on_hatch: None,
        });
    }
    labels
}

/// Draws the mark of a control point.
pub fn triangle(role: Role, at: Pt, page: &mut Page) {
    let ring = [
        pt(at.x, at.y - 2.3),
        pt(at.x + 2.0, at.y + 1.2),
        pt(at.x - 2.0, at.y + 1.2),
    ];
    page.area(
        role.clone(),
        &ring,
        Some(Ink::WHITE),
        Some(Stroke::solid(0.5, Ink::BLACK)),
    );
    page.area(role, &circle(at, 0.35), Some(Ink::BLACK), None);
}

fn words(at: Pt, text: &str, look: Look) -> Label {
    Label {
        at,
        lines: vec![(text.to_string(), look)],
        short: Vec::new(),
        leader: false,
        framed: false,
        on_hatch: None,
    }
}

/// The words on the hatch: in each unsearched part of the dig, and once outside it.
fn not_recorded(input: &DigPlanInput, frame: &Frame) -> Vec<Label> {
    let mut places = Vec::new();
    for polygon in &input.answer.searched.unsearched {
        let Some(outer) = polygon.first() else { continue };
        let clipped: Vec<Pt> = clip_line(&closed(&frame.places(outer)), &frame.view).concat();
        let part = around(&clipped);
        // Slivers are hatched; the words stand where they can be read.
        if part.w > 8.0 && part.h > 8.0 {
            places.push((part.middle(), Hatched::InDig));
        }
    }
    places.push((
        pt(frame.view.x + 26.0, frame.view.bottom() - 6.0),
        Hatched::Around,
    ));
    let label = |(at, which)| Label {
        short: ["not", "recorded", "here"]
            .map(|word| (word.to_string(), Look::HEAD))
            .to_vec(),
        on_hatch: Some(which),
        ..words(at, "not recorded here", Look::HEAD)
    };
    places.into_iter().map(label).collect()
}

fn ground_labels(input: &DigPlanInput, frame: &Frame) -> Vec<Label> {
    let mut labels = Vec::new();
    for area in &input.map.searched {
        let clipped: Vec<Pt> = clip_line(&closed(&frame.places(&area.ring)), &frame.view).concat();
        if let Some(first) = clipped.first() {
            let text = match (area.counts, area.services.is_empty()) {
                (true, true) => format!("searched: {}", area.area),
                (true, false) => format!("searched for {}: {}", area.services.join(", "), area.area),
                (false, _) => format!("search that does not count: {}", area.area),
            };
            labels.push(words(*first, &text, Look::SMALL));
        }
    }
    labels
}

//! The dig plan as placed: true to scale, legible, nothing over anything, nothing promised.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod fixture;

use coverbook_sheets::page::{Ink, Page, Pt, Rect, Role, Shape};
use coverbook_sheets::{Paper, Sheet, SheetError, dig_plan};
use fixture::{Fixture, empty, place, rich};
use register::view::{CAUTIONS, Near};

fn laid_out(fixture: &Fixture) -> Vec<(Paper, Sheet)> {
    Paper::ALL
        .into_iter()
        .map(|paper| (paper, dig_plan(&fixture.input(), paper).unwrap()))
        .collect()
}

fn lines(page: &Page, wanted: impl Fn(&Role) -> bool) -> Vec<&[Pt]> {
    page.items
        .iter()
        .filter(|item| wanted(&item.role))
        .filter_map(|item| match &item.shape {
            Shape::Line { points, .. } => Some(points.as_slice()),
            Shape::Area { ring, .. } => Some(ring.as_slice()),
            _ => None,
        })
        .collect()
}

fn middle(ring: &[Pt]) -> Pt {
    let n = ring.len() as f64;
    Pt {
        x: ring.iter().map(|p| p.x).sum::<f64>() / n,
        y: ring.iter().map(|p| p.y).sum::<f64>() / n,
    }
}

fn words(sheet: &Sheet) -> String {
    let all: Vec<&str> = sheet
        .pages
        .iter()
        .flat_map(Page::texts)
        .map(|(_, t)| t.text.as_str())
        .collect();
    // Spaces that do not break are spaces.
    all.join(" ").replace('\u{a0}', " ")
}

/// Plan distances from the fixture's own coordinates, Pythagoras; nothing of the program's.
#[test]
fn placed_vertices_lie_apart_as_in_the_ground() {
    let fixture = rich();
    for (paper, sheet) in laid_out(&fixture) {
        let page = &sheet.pages[0];
        let mut seen = Vec::new();
        for card in &fixture.cards {
            for v in &card.vertices {
                let role = Role::Vertex(card.run.clone(), v.point.clone());
                for ring in lines(page, |r| *r == role) {
                    seen.push((v.axis, middle(ring)));
                }
            }
        }
        assert!(seen.len() >= 5, "{paper:?}");
        for (a, at) in &seen {
            for (b, bt) in &seen {
                let ground_mm = (a[0].0 - b[0].0).hypot(a[1].0 - b[1].0) * 1000.0 / f64::from(sheet.scale);
                assert!((at.distance(*bt) - ground_mm).abs() < 0.01, "{paper:?}");
                // East is right, north is up.
                assert!(((bt.x - at.x) * (b[0].0 - a[0].0)) >= -1e-6);
                assert!(((bt.y - at.y) * (b[1].0 - a[1].0)) <= 1e-6);
            }
        }
    }
}

#[test]
fn the_outline_of_the_dig_is_true_to_scale() {
    let fixture = rich();
    for (paper, sheet) in laid_out(&fixture) {
        let ring = lines(&sheet.pages[0], |r| *r == Role::DigOutline(0))[0];
        let plan = &fixture.answer.dig.plan[0];
        assert_eq!(ring.len(), plan.len() + 1, "{paper:?}");
        for i in 0..plan.len() {
            let j = (i + 1) % plan.len();
            let metres = (plan[i][0].0 - plan[j][0].0).hypot(plan[i][1].0 - plan[j][1].0);
            let drawn = ring[i].distance(ring[i + 1]) * f64::from(sheet.scale) / 1000.0;
            assert!((drawn - metres).abs() * 1000.0 / f64::from(sheet.scale) < 0.01);
        }
    }
}

#[test]
fn outside_width_and_band_are_drawn_at_true_width() {
    let sheet = dig_plan(&rich().input(), Paper::A3).unwrap();
    assert_eq!(sheet.scale, 50);
    // HV1 is 0.45 m wide, 95 % is 0.034 m: edges 9 mm apart at 1:50, the band 0.68 mm wider each side.
    for (role, half) in [
        (Role::RunEdge("HV1".into()), 4.5),
        (Role::RunBand("HV1".into()), 4.5 + 0.68),
    ] {
        let axis = lines(&sheet.pages[0], |r| *r == Role::RunAxis("HV1".into()));
        let off = |p: Pt| {
            let to_leg = |w: &[Pt]| {
                let (dx, dy) = (w[1].x - w[0].x, w[1].y - w[0].y);
                let t = ((p.x - w[0].x) * dx + (p.y - w[0].y) * dy) / (dx * dx + dy * dy);
                // Where the view cuts them, an edge and the axis end at different chainages: a fiftieth of a leg may be run past.
                let t = if t.abs() < 0.02 || (t - 1.0).abs() < 0.02 {
                    t
                } else {
                    t.clamp(0.0, 1.0)
                };
                (p.x - w[0].x - t * dx).hypot(p.y - w[0].y - t * dy)
            };
            axis[0].windows(2).map(to_leg).fold(f64::INFINITY, f64::min)
        };
        // The casing under a run has its band's role and two places; the band itself bends with the axis.
        let edges: Vec<&[Pt]> = lines(&sheet.pages[0], |r| *r == role)
            .into_iter()
            .filter(|l| l.iter().all(|p| off(*p) > 0.1))
            .collect();
        assert_eq!(edges.len(), 2);
        for p in edges.concat() {
            assert!((off(p) - half).abs() < 0.02, "{} {half}", off(p));
        }
    }
}

#[test]
fn both_bars_are_100_mm_one_along_one_up() {
    for (_, sheet) in laid_out(&rich()) {
        let bars = lines(&sheet.pages[0], |r| *r == Role::CheckBar);
        assert_eq!(bars.len(), 2);
        for bar in &bars {
            assert!((bar[0].distance(bar[1]) - 100.0).abs() < 1e-9);
        }
        assert!((bars[0][0].y - bars[0][1].y).abs() < 1e-9);
        assert!((bars[1][0].x - bars[1][1].x).abs() < 1e-9);
    }
}

#[test]
fn the_staff_is_true_to_its_own_scale() {
    let sheet = dig_plan(&rich().input(), Paper::A4).unwrap();
    let scale: f64 = words(&sheet)
        .split("Levels and depths, 1:")
        .nth(1)
        .and_then(|rest| rest.split(' ').next())
        .unwrap()
        .parse()
        .unwrap();
    let page = sheet
        .pages
        .iter()
        .find(|p| !lines(p, |r| *r == Role::StaffSurface).is_empty())
        .unwrap();
    let surface: Vec<f64> = lines(page, |r| *r == Role::StaffSurface)
        .iter()
        .map(|l| l[0].y)
        .collect();
    let floor: Vec<f64> = lines(page, |r| *r == Role::StaffFloor)
        .iter()
        .map(|l| l[0].y)
        .collect();
    // Surface 99.932 to 99.971, floor 98.732 to 98.771: 1.2 m between the lowest two.
    assert!(((floor[0] - surface[0]) * scale / 1000.0 - 1.2).abs() < 1e-9);
    let mark = Role::StaffMark("C-OLD".into());
    let ys: Vec<f64> = lines(page, |r| *r == mark).concat().iter().map(|p| p.y).collect();
    let (top, bottom) = (
        ys.iter().copied().fold(f64::INFINITY, f64::min),
        ys.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    );
    // Tops 99.45 to 99.48, 95 % 0.25: the whisker spans 99.20 to 99.73.
    assert!(((bottom - top) * scale / 1000.0 - 0.53).abs() < 1e-9);
    assert!(((top - surface[0]) * scale / 1000.0 - (99.932 - 99.73)).abs() < 1e-9);
}

#[test]
fn no_text_is_small_off_the_paper_or_green() {
    for fixture in [rich(), empty()] {
        for (paper, sheet) in laid_out(&fixture) {
            for page in &sheet.pages {
                let inner = Rect::new(0.0, 0.0, page.width_mm, page.height_mm).grown(-5.0);
                for (_, text) in page.texts() {
                    assert!(text.cap_mm >= 2.5, "{}", text.text);
                    assert!(inner.holds(&text.bounds()), "{paper:?}: {}", text.text);
                }
                for item in &page.items {
                    let inks: Vec<Ink> = match &item.shape {
                        Shape::Text(text) => vec![text.ink],
                        Shape::Line { stroke, .. } | Shape::Strokes { stroke, .. } => vec![stroke.ink],
                        Shape::Area { fill, stroke, .. } => {
                            fill.iter().copied().chain(stroke.iter().map(|s| s.ink)).collect()
                        }
                    };
                    assert!(inks.iter().all(|ink| !ink.is_green()), "{:?}", item.role);
                }
            }
        }
    }
}

/// WCAG 2.2, success criterion 1.4.6 and its definition of contrast ratio: 7:1 on white for every text.
#[test]
fn every_text_is_dark_enough_for_figures_or_carries_only_letters() {
    let linear = |v: u8| {
        let v = f64::from(v) / 255.0;
        if v <= 0.04045 {
            v / 12.92
        } else {
            ((v + 0.055) / 1.055).powf(2.4)
        }
    };
    for (_, sheet) in laid_out(&rich()) {
        for (role, text) in sheet.pages.iter().flat_map(Page::texts) {
            let Ink(r, g, b) = text.ink;
            let ratio = 1.05 / (0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b) + 0.05);
            let figures = text.text.chars().any(|c| c.is_ascii_digit());
            let least = if figures { 7.0 } else { 4.5 };
            assert!(ratio >= least, "{role:?} {} {ratio}", text.text);
        }
    }
}

#[test]
fn no_text_lies_over_another() {
    for fixture in [rich(), empty()] {
        for (paper, sheet) in laid_out(&fixture) {
            for (number, page) in sheet.pages.iter().enumerate() {
                let texts: Vec<_> = page
                    .texts()
                    .map(|(role, t)| (role, t, t.bounds().grown(-0.15)))
                    .collect();
                for (i, (_, a, ra)) in texts.iter().enumerate() {
                    for (_, b, rb) in &texts[i + 1..] {
                        // Upright bounds of letters along a slanting line are wider than the letters: they too must
                        // keep apart.
                        assert!(
                            !ra.overlaps(rb),
                            "{paper:?} sheet {}: {} / {}",
                            number + 1,
                            a.text,
                            b.text
                        );
                    }
                }
            }
        }
    }
}

#[test]
fn levels_and_covers_stand_at_the_vertices_in_5_mm() {
    let fixture = rich();
    for (_, sheet) in laid_out(&fixture) {
        let labels: Vec<_> = sheet.pages[0]
            .texts()
            .filter(|(r, _)| **r == Role::Label)
            .collect();
        let big = |wanted: &str| labels.iter().any(|(_, t)| t.text == wanted && t.cap_mm >= 5.0);
        // W103, from the fixture: top 99.226; ground 99.92 + 0.004 * 12.4 - 0.002 * 7.9 = 99.9538; cover 0.7278.
        assert!(big("RL 99.226"));
        assert!(big("0.727 m"), "a cover is rounded down");
    }
}

#[test]
fn every_vertex_on_the_plan_is_in_the_table() {
    let fixture = rich();
    for (_, sheet) in laid_out(&fixture) {
        let table: Vec<_> = sheet
            .pages
            .iter()
            .flat_map(Page::texts)
            .filter(|(r, _)| **r == Role::Table)
            .collect();
        for vertex in fixture.cards.iter().flat_map(|c| &c.vertices) {
            assert!(
                table.iter().any(|(_, t)| t.text == vertex.point),
                "{}",
                vertex.point
            );
        }
    }
}

#[test]
fn all_ten_cautions_and_the_first_sentence_are_printed_whole() {
    let fixture = rich();
    for (paper, sheet) in laid_out(&fixture) {
        let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let printed = flat(&words(&sheet));
        for caution in CAUTIONS {
            assert!(printed.contains(&flat(caution)), "{paper:?}: {caution}");
        }
        assert!(printed.contains(&flat(&fixture.answer.says)));
    }
}

#[test]
fn the_title_block_names_what_the_sheet_hangs_on() {
    let fixture = rich();
    for (paper, sheet) in laid_out(&fixture) {
        let first: Vec<&str> = sheet.pages[0].texts().map(|(_, t)| t.text.as_str()).collect();
        let first = first.join(" ");
        let scale = format!("1:{} on {}", sheet.scale, paper.name());
        for wanted in [
            "Millrace Yard",
            "MY-DP-017",
            "2026-04-20 07:30 +10:00",
            "R. Quill",
            &scale,
            "EPSG:32755",
            "214:7c0f5e9a1b2d3c4f",
            &fixture.answer.head.hex,
        ] {
            assert!(first.contains(wanted), "{paper:?}: {wanted}");
        }
        let count = sheet.pages.len();
        for (i, page) in sheet.pages.iter().enumerate() {
            let wanted = format!("sheet {} of {count}", i + 1);
            assert!(page.texts().any(|(_, t)| t.text == wanted), "{wanted}");
        }
    }
}

#[test]
fn an_empty_answer_says_how_much_was_searched_and_hatches_the_rest() {
    let fixture = empty();
    for (_, sheet) in laid_out(&fixture) {
        let printed = words(&sheet);
        let of = |role: Role| {
            let texts = sheet.pages.iter().flat_map(Page::texts);
            let lines: Vec<_> = texts
                .filter(|(r, _)| **r == role)
                .map(|(_, t)| t.text.as_str())
                .collect();
            lines.join(" ").replace('\u{a0}', " ")
        };
        // The program's own sentence, on top and where the runs would stand; nothing else speaks of what is recorded.
        assert_eq!(of(Role::Says), fixture.answer.says);
        assert_eq!(printed.matches("Nothing is recorded").count(), 2);
        assert!(!of(Role::Caution).contains("recorded in"));
        assert!(printed.contains("No rule set adopted: no verdicts."));
        assert!(printed.contains("Hand-dig zone not set."));
        assert!(printed.contains("not recorded here"));
        // In the dig, the words stand on the hatch: between its western side and the edge of the search, which
        // runs from 10.9 to 11.3 m east. Those outside stand west of the searched area.
        let outline = lines(&sheet.pages[0], |r| *r == Role::DigOutline(0))[0];
        let page_x = |e: f64| outline[0].x + (e - 8.4) / (14.6 - 8.4) * (outline[1].x - outline[0].x);
        let spoken = |wanted: &str| -> Vec<Rect> {
            let texts = sheet.pages[0]
                .texts()
                .filter(|(r, t)| **r == Role::Label && t.text == wanted);
            texts.map(|(_, t)| t.bounds()).collect()
        };
        let in_dig = |b: &&Rect| b.x > page_x(8.4) && b.right() < page_x(11.3);
        let all = [spoken("not recorded here"), spoken("recorded")].concat();
        assert_eq!(all.iter().filter(in_dig).count(), 1);
        assert!(all.iter().any(|b| b.right() < page_x(10.8) && !in_dig(&b)));
        let strokes = sheet.pages[0]
            .items
            .iter()
            .filter(|i| i.role == Role::Unsearched)
            .find_map(|i| match &i.shape {
                Shape::Strokes { segments, .. } => Some(segments.len()),
                _ => None,
            });
        assert!(strokes.unwrap() > 20);
    }
}

#[test]
fn nothing_of_ours_says_safe_or_clear() {
    for fixture in [rich(), empty()] {
        for (_, sheet) in laid_out(&fixture) {
            let printed = words(&sheet).to_lowercase();
            for word in printed.split(|c: char| !c.is_alphabetic()) {
                assert!(!["safe", "safely", "clear", "cleared"].contains(&word), "{word}");
            }
        }
    }
}

#[test]
fn a_long_dig_is_spread_over_sheets_and_a_huge_one_is_refused() {
    let mut fixture = rich();
    fixture.answer.dig.plan = vec![vec![
        place(0.0, 0.0),
        place(90.0, 0.0),
        place(90.0, 0.8),
        place(0.0, 0.8),
    ]];
    let sheet = dig_plan(&fixture.input(), Paper::A4).unwrap();
    let parts = sheet
        .pages
        .iter()
        .filter(|p| !lines(p, |r| *r == Role::PlanFrame).is_empty())
        .count();
    assert!(parts > 1, "{parts}");
    assert!(sheet.scale >= 200);
    fixture.answer.dig.plan = vec![vec![
        place(0.0, 0.0),
        place(9000.0, 0.0),
        place(9000.0, 9000.0),
        place(0.0, 9000.0),
    ]];
    let refused = dig_plan(&fixture.input(), Paper::A4).unwrap_err();
    assert!(matches!(refused, SheetError::TooLarge { .. }), "{refused}");
}

#[test]
fn a_dig_without_outline_or_with_a_position_that_is_no_number_is_refused() {
    let mut fixture = rich();
    fixture.map.runs[0].line[0][0] = Near(f64::NAN);
    let refused = dig_plan(&fixture.input(), Paper::A4).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "run W2 has a coordinate that is not a finite number: record it again before issuing a sheet"
    );
    fixture.answer.dig.plan.clear();
    assert_eq!(
        dig_plan(&fixture.input(), Paper::A4).unwrap_err(),
        SheetError::NoOutline
    );
}

#[test]
fn long_names_and_unknown_letters_neither_fail_nor_leave_the_paper() {
    let mut fixture = rich();
    fixture.site.name = "水門ヤード ".repeat(12);
    fixture.site.grid.name = "an extremely long name of a local grid ".repeat(4);
    for card in &mut fixture.cards {
        card.vertices[0].point = "POINTWITHAVERYLONGLABELTHATGOESON".into();
    }
    for paper in Paper::ALL {
        let sheet = dig_plan(&fixture.input(), paper).unwrap();
        for page in &sheet.pages {
            let paper = Rect::new(0.0, 0.0, page.width_mm, page.height_mm);
            for (_, text) in page.texts() {
                assert!(paper.holds(&text.bounds()), "{}", text.text);
            }
        }
        assert!(sheet.pdf().unwrap().starts_with(b"%PDF"));
    }
}

//! Title blocks: rows of labelled cells.

use crate::page::{Ink, Look, Page, Pt, Role, Stroke, pt};

/// A cell of a title block: a small label over its value.
pub struct Cell {
    /// What it holds.
    pub label: &'static str,
    /// What is printed.
    pub value: String,
    /// Share of the row's width.
    pub share: f64,
    /// How.
    pub look: Look,
}

/// Returns a cell; an empty value leaves a rule to write on.
pub fn cell(label: &'static str, value: impl Into<String>, share: f64) -> Cell {
    Cell {
        label,
        value: value.into(),
        share,
        look: Look::SMALL,
    }
}

impl Cell {
    /// Returns it larger and bold.
    pub fn strong(self) -> Cell {
        Cell {
            look: Look::HEAD,
            ..self
        }
    }
}

/// Draws rows of cells downward from `top`; returns where they end.
pub fn rows(rows: Vec<Vec<Cell>>, top: Pt, width: f64, page: &mut Page) -> f64 {
    let mut y = top.y;
    for row in rows {
        let all: f64 = row.iter().map(|c| c.share).sum();
        let mut x = top.x;
        let mut end = y;
        let mut dividers = Vec::new();
        for c in &row {
            let w = width * c.share / all;
            let inner = pt(x + 1.2, y + 0.6);
            let below = page.paragraph(Role::Furniture, inner, w - 2.4, c.label, Look::NOTE);
            let bottom = if c.value.trim().is_empty() {
                // A rule to write on.
                let rule = below + 6.5;
                let line = [pt(x + 1.2, rule), pt(x + w - 1.2, rule)];
                page.line(Role::Furniture, &line, Stroke::solid(0.35, Ink::BLACK));
                rule
            } else {
                page.paragraph(Role::Furniture, pt(x + 1.2, below), w - 2.4, &c.value, c.look)
            };
            end = end.max(bottom + 0.8);
            x += w;
            dividers.push(x);
        }
        dividers.pop();
        for x in dividers {
            page.line(
                Role::Furniture,
                &[pt(x, y), pt(x, end)],
                Stroke::solid(0.18, Ink::RULE),
            );
        }
        let rule = [pt(top.x, end), pt(top.x + width, end)];
        page.line(Role::Furniture, &rule, Stroke::solid(0.18, Ink::RULE));
        y = end;
    }
    y
}

//! Blocks of rows, and how they flow through columns, from sheet to sheet.

use crate::page::{Item, Look, Page, Pt, Rect, Role, pt};

/// Draws one row downward from a place, so wide; returns where it ends.
pub type Row<'a> = Box<dyn Fn(Pt, f64, &mut Page) -> f64 + 'a>;

/// Rows under a heading.
pub struct Block<'a> {
    /// Heading, repeated where the block goes on in another column.
    pub title: &'a str,
    /// Narrowest column it can stand in, in millimetres.
    pub least_width: f64,
    /// Row under the heading, repeated with it.
    pub names: Option<Row<'a>>,
    /// Rows.
    pub rows: Vec<Row<'a>>,
}

impl<'a> Block<'a> {
    /// Returns a block without rows.
    pub fn new(title: &'a str, least_width: f64) -> Block<'a> {
        Block {
            title,
            least_width,
            names: None,
            rows: Vec::new(),
        }
    }
    /// Adds a row.
    pub fn row(&mut self, row: impl Fn(Pt, f64, &mut Page) -> f64 + 'a) {
        self.rows.push(Box::new(row));
    }
    /// Adds a row of text.
    pub fn says(&mut self, text: impl Into<String>, look: Look) {
        let text = text.into();
        self.row(move |top, width, page| page.paragraph(Role::Table, top, width, &text, look) + 0.8);
    }
}

/// A column: on which page, and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Page number from 0.
    pub page: usize,
    /// Where.
    pub area: Rect,
}

/// What goes onto a page: items already in place.
pub type Placed = Vec<(usize, Vec<Item>)>;

/// Places every block; `column(k)` gives the k-th column, and there is always one more.
///
/// A row taller than an empty column goes in all the same, alone; its caller keeps rows short.
pub fn flow(blocks: &[Block], column: &dyn Fn(usize) -> Column) -> Placed {
    let mut out = Vec::new();
    let mut k = 0;
    let mut y = column(0).area.y;
    for block in blocks {
        let (mut headed, mut begun) = (false, false);
        for row in &block.rows {
            loop {
                let at = column(k);
                let fresh = y <= at.area.y + 1e-9;
                let top = if fresh || headed { y } else { y + 3.0 };
                let mut scratch = Page::new(0.0, 0.0);
                let fits_width = at.area.w >= block.least_width;
                let mut start = top;
                if !headed && !block.title.is_empty() {
                    let continued = if begun { ", continued" } else { "" };
                    let title = format!("{}{continued}", block.title);
                    start = page_title(&title, pt(at.area.x, top), at.area.w, &mut scratch);
                }
                if let (false, true, Some(names)) = (headed, fits_width, &block.names) {
                    start = names(pt(at.area.x, start), at.area.w, &mut scratch);
                }
                let end = if fits_width {
                    row(pt(at.area.x, start), at.area.w, &mut scratch)
                } else {
                    f64::INFINITY
                };
                let last_resort = fresh && fits_width && at.area.h > 120.0;
                if end <= at.area.bottom() || last_resort {
                    out.push((at.page, scratch.items));
                    y = end;
                    (headed, begun) = (true, true);
                    break;
                }
                k += 1;
                y = column(k).area.y;
                headed = false;
            }
        }
    }
    out
}

fn page_title(text: &str, top: Pt, width: f64, page: &mut Page) -> f64 {
    page.paragraph(Role::Table, top, width, text, Look::HEAD) + 1.0
}

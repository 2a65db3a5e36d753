//! The dig plan: what is recorded near a planned dig, how deep, how sure, and where nobody looked.

use crate::font::{Face, wrap};
use crate::page::{Ink, Page, Role, pt};
use crate::{DigPlanInput, Orientation, Paper, Sheet, SheetError};

/// Lays out the dig plan for paper.
///
/// # Errors
/// [`SheetError::NoOutline`] when the dig has no ring.
pub fn dig_plan(input: &DigPlanInput, paper: Paper) -> Result<Sheet, SheetError> {
    if input.answer.dig.plan.iter().all(|ring| ring.len() < 3) {
        return Err(SheetError::NoOutline);
    }
    let (width, height) = paper.size_mm(Orientation::Portrait);
    let mut page = Page::new(width, height);
    for (i, line) in wrap(&input.answer.says, Face::Bold, 5.0, width - 30.0)
        .iter()
        .enumerate()
    {
        page.text(
            Role::Says,
            pt(20.0, 20.0 + 9.0 * i as f64),
            line,
            5.0,
            Face::Bold,
            Ink::BLACK,
        );
    }
    Ok(Sheet {
        title: format!("Dig plan {}", input.issued.sheet_id),
        author: input.issued.issued_by.clone(),
        scale: 50,
        pages: vec![page],
    })
}

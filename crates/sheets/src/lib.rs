//! Sheets: the register's answers laid out on paper, as PDF and SVG.
//!
//! Compose, then print: [`dig_plan`] and [`certificate`] place items in millimetres on [`page::Page`]s; the writers only read
//! those. Knows no files, clock, network or database, and computes no figure: it prints the register's.

pub mod font;
pub mod page;

mod cells;
mod error;
mod flow;
mod input;
mod paper;

mod certificate;
mod dig_plan;

mod pdf;
mod svg;

pub use certificate::{CertificateInput, certificate};
pub use dig_plan::dig_plan;
pub use error::SheetError;
pub use input::{DigPlanInput, HandDigZone, IssueInfo};
pub use paper::{Orientation, Paper};

/// A document of one or more pages.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Title, as a PDF reader shows it.
    pub title: String,
    /// Who issued it.
    pub author: String,
    /// Scale of the plan: 50 for 1:50.
    pub scale: u32,
    /// Pages in order.
    pub pages: Vec<page::Page>,
}

impl Sheet {
    /// Returns the sheet as a PDF file: the same bytes every time.
    ///
    /// # Errors
    /// [`SheetError::Writer`] when a face or the PDF library fails.
    pub fn pdf(&self) -> Result<Vec<u8>, SheetError> {
        pdf::write(self)
    }

    /// Returns one SVG document for each page.
    pub fn svg(&self) -> Vec<String> {
        self.pages.iter().map(svg::write).collect()
    }
}

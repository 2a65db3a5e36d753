//! Why a sheet could not be laid out.

/// Why a sheet could not be laid out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SheetError {
    /// The dig has no outline.
    #[error(
        "the dig has no outline to draw: give at least three corners, a line with a width, or a point with a radius"
    )]
    NoOutline,
    /// A position is not a number.
    #[error("{what} has a coordinate that is not a finite number: record it again before issuing a sheet")]
    NotFinite {
        /// Where it was found.
        what: String,
    },
    /// Too wide for the largest number of sheets at the smallest scale.
    #[error(
        "the dig is {width_m:.0} m by {height_m:.0} m and needs {sheets} sheets at 1:{scale}, more than {most}: plan it in parts, or on larger paper"
    )]
    TooLarge {
        /// East-west extent.
        width_m: f64,
        /// North-south extent.
        height_m: f64,
        /// Sheets needed.
        sheets: usize,
        /// Smallest scale tried.
        scale: u32,
        /// Most sheets drawn.
        most: usize,
    },
    /// A fixed part of the sheet leaves no room.
    #[error("{what} is too long for {paper} paper: shorten it, or print on larger paper")]
    NoRoom {
        /// The text that takes the room.
        what: String,
        /// The paper.
        paper: &'static str,
    },
    /// A fault of the program: a font or the PDF library.
    #[error("the sheet could not be written: {0}")]
    Writer(String),
}

//! Paper sizes and how a sheet lies on them.

/// A paper that a crew can print on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    A4,
    /// 297 by 420 mm (ISO 216).
    A3,
    /// 8.5 by 11 inches: 215.9 by 279.4 mm (ANSI/ASME Y14.1).
    Letter,
}

impl Paper {
    /// Every paper.
    pub const ALL: [Paper; 3] = [Paper::A4, Paper::A3, Paper::Letter];

    /// Returns the shorter and the longer side in millimetres.
    pub const fn sides_mm(self) -> (f64, f64) {
        match self {
            Paper::A4 => (210.0, 297.0),
            Paper::A3 => (297.0, 420.0),
            Paper::Letter => (215.9, 279.4),
        }
    }

    /// Returns its name.
    pub const fn name(self) -> &'static str {
        match self {
            Paper::A4 => "A4",
            Paper::A3 => "A3",
            Paper::Letter => "Letter",
        }
    }

    /// Returns the paper named `text`, any case.
    pub fn from_name(text: &str) -> Option<Paper> {
        let wanted = text.trim();
        Paper::ALL
            .into_iter()
            .find(|p| p.name().eq_ignore_ascii_case(wanted))
    }
}

/// How the paper lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Orientation {
    /// Longer side upright.
    Portrait,
    /// Longer side across.
    Landscape,
}

impl Paper {
    /// Returns width and height in millimetres, lying so.
    pub const fn size_mm(self, orientation: Orientation) -> (f64, f64) {
        let (short, long) = self.sides_mm();
        match orientation {
            Orientation::Portrait => (short, long),
            Orientation::Landscape => (long, short),
        }
    }
}

//! The embedded faces: which glyph a character is, and how wide.
//!
//! No shaping: Latin, Greek and Cyrillic stand as they are; any other character is the face's visible box.

use crate::SheetError;
use printpdf::ParsedFont;
use std::sync::OnceLock;

/// Height of a capital as a share of the em, both faces (OS/2 `sCapHeight` 714 of 1000).
pub const CAP_SHARE: f64 = 0.714;

/// A face.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Face {
    /// For reading.
    Regular,
    /// For figures and warnings.
    Bold,
}

impl Face {
    /// Both faces.
    pub const ALL: [Face; 2] = [Face::Regular, Face::Bold];

    /// Returns the bytes of its TrueType file.
    pub fn bytes(self) -> &'static [u8] {
        match self {
            Face::Regular => include_bytes!("../fonts/NotoSans-Regular.ttf"),
            Face::Bold => include_bytes!("../fonts/NotoSans-Bold.ttf"),
        }
    }

    /// Returns the parsed face, or nothing when its file is damaged.
    pub(crate) fn parsed(self) -> Option<&'static ParsedFont> {
        static REGULAR: OnceLock<Option<ParsedFont>> = OnceLock::new();
        static BOLD: OnceLock<Option<ParsedFont>> = OnceLock::new();
        let cell = match self {
            Face::Regular => &REGULAR,
            Face::Bold => &BOLD,
        };
        cell.get_or_init(|| ParsedFont::from_bytes(self.bytes(), 0, &mut Vec::new()))
            .as_ref()
    }

    /// Returns the parsed face.
    pub(crate) fn required(self) -> Result<&'static ParsedFont, SheetError> {
        self.parsed()
            .ok_or_else(|| SheetError::Writer(format!("the embedded face {self:?} cannot be read")))
    }

    /// Returns the glyph of a character; 0, the visible box, when the face lacks it.
    pub(crate) fn glyph(self, character: char) -> u16 {
        self.parsed()
            .and_then(|f| f.lookup_glyph_index(u32::from(character)))
            .unwrap_or(0)
    }
}

/// Returns `text` with signs that the faces lack written in signs they have, and control characters as spaces.
pub fn printable(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '≥' => out.push_str(">="),
            '≤' => out.push_str("<="),
            '→' => out.push_str("->"),
            '←' => out.push_str("<-"),
            '≈' => out.push_str("about "),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    // A figure and its sign stay on one line.
    out.replace(" %", "\u{a0}%")
}

/// Returns the width of a line of text in millimetres; `cap_mm` is the height of a capital.
pub fn text_width_mm(text: &str, face: Face, cap_mm: f64) -> f64 {
    let Some(font) = face.parsed() else {
        return 0.0;
    };
    let units: u32 = text
        .chars()
        .map(|c| u32::from(font.get_glyph_width(face.glyph(c)).unwrap_or(600)))
        .sum();
    f64::from(units) / f64::from(font.units_per_em) * cap_mm / CAP_SHARE
}

/// Returns `text` in lines no wider than `width_mm`; a word that is too wide is broken.
pub fn wrap(text: &str, face: Face, cap_mm: f64, width_mm: f64) -> Vec<String> {
    let mut lines = Vec::new();
    for paragraph in text.split('\n') {
        let mut line = String::new();
        for word in paragraph.split(' ').filter(|word| !word.is_empty()) {
            let joined = if line.is_empty() {
                word.to_string()
            } else {
                format!("{line} {word}")
            };
            if text_width_mm(&joined, face, cap_mm) <= width_mm {
                line = joined;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for character in word.chars() {
                let longer = format!("{line}{character}");
                if !line.is_empty() && text_width_mm(&longer, face, cap_mm) > width_mm {
                    lines.push(std::mem::take(&mut line));
                    line.push(character);
                } else {
                    line = longer;
                }
            }
        }
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_faces_have_what_a_sheet_is_written_with() {
        for face in Face::ALL {
            for c in printable("±ØČŠŽéß–—’…²³°×≥≤→≈−ΩДж€").chars() {
                assert_ne!(face.glyph(c), 0, "{c}");
            }
        }
    }

    #[test]
    fn a_character_the_face_lacks_is_a_box_with_a_width() {
        assert_eq!(Face::Regular.glyph('水'), 0);
        assert!(text_width_mm("水", Face::Regular, 2.5) > 1.0);
    }

    #[test]
    fn widths_come_from_the_face() {
        // Advance widths of Noto Sans Regular, from its hmtx table: A 639, 0 572, of 1000 units.
        let em = 2.5 / CAP_SHARE;
        assert!((text_width_mm("A", Face::Regular, 2.5) - 0.639 * em).abs() < 1e-9);
        assert!((text_width_mm("00", Face::Regular, 2.5) - 1.144 * em).abs() < 1e-9);
    }

    #[test]
    fn no_wrapped_line_is_too_wide() {
        let text = "a long sentence with averyveryveryverylongwordthatdoesnotfitonanyline at all";
        let lines = wrap(text, Face::Regular, 2.5, 30.0);
        assert!(lines.len() > 3);
        for line in &lines {
            assert!(text_width_mm(line, Face::Regular, 2.5) <= 30.0, "{line}");
        }
        let letters = |s: &str| s.chars().filter(|c| !c.is_whitespace()).collect::<String>();
        assert_eq!(letters(&lines.join("")), letters(text));
    }
}

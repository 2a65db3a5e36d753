//! Writes a placed page as SVG, in millimetres.

use crate::font::{CAP_SHARE, Face};
use crate::page::{Ink, Page, Pt, Shape, Stroke};
use std::fmt::Write;

/// Returns the page as an SVG document whose user unit is the millimetre.
///
/// Text asks for Noto Sans and is set to the width that the page reckoned with, whatever face answers.
pub fn write(page: &Page) -> String {
    let (w, h) = (number(page.width_mm), number(page.height_mm));
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" \
         font-family=\"'Noto Sans', sans-serif\" fill=\"none\" stroke-linejoin=\"round\">\n\
         <rect width=\"{w}\" height=\"{h}\" fill=\"#fff\"/>\n"
    );
    for item in &page.items {
        // Writing to a String cannot fail.
        let _ = match &item.shape {
            Shape::Text(text) => {
                let at = text.start();
                let (x, y) = (number(at.x), number(at.y));
                let weight = match text.face {
                    Face::Regular => "",
                    Face::Bold => " font-weight=\"700\"",
                };
                let turn = if text.angle_deg == 0.0 {
                    String::new()
                } else {
                    format!(" transform=\"rotate({} {x} {y})\"", number(-text.angle_deg))
                };
                writeln!(
                    out,
                    "<text x=\"{x}\" y=\"{y}\" font-size=\"{}\"{weight} fill=\"{}\" textLength=\"{}\" \
                     lengthAdjust=\"spacingAndGlyphs\"{turn}>{}</text>",
                    number(text.cap_mm / CAP_SHARE),
                    hex(text.ink),
                    number(text.width_mm()),
                    escape(&text.text),
                )
            }
            Shape::Line { points, stroke } => {
                writeln!(out, "<path d=\"{}\"{}/>", path(points), drawn(stroke))
            }
            Shape::Strokes { segments, stroke } => {
                let all: Vec<String> = segments.iter().map(|s| path(s)).collect();
                writeln!(out, "<path d=\"{}\"{}/>", all.join(""), drawn(stroke))
            }
            Shape::Area { ring, fill, stroke } => {
                let fill = fill
                    .map(|ink| format!(" fill=\"{}\"", hex(ink)))
                    .unwrap_or_default();
                let stroke = stroke.as_ref().map(drawn).unwrap_or_default();
                writeln!(out, "<path d=\"{}Z\"{fill}{stroke}/>", path(ring))
            }
        };
    }
    out.push_str("</svg>\n");
    out
}

fn number(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".into()
    } else {
        text.to_string()
    }
}

fn hex(ink: Ink) -> String {
    format!("#{:02x}{:02x}{:02x}", ink.0, ink.1, ink.2)
}

fn drawn(stroke: &Stroke) -> String {
    let mut out = format!(
        " stroke=\"{}\" stroke-width=\"{}\"",
        hex(stroke.ink),
        number(stroke.width_mm)
    );
    if !stroke.dash_mm.is_empty() {
        let dash: Vec<String> = stroke.dash_mm.iter().map(|v| number(*v)).collect();
        let _ = write!(out, " stroke-dasharray=\"{}\"", dash.join(" "));
    }
    out
}

fn path(places: &[Pt]) -> String {
    let mut out = String::new();
    for (i, p) in places.iter().enumerate() {
        let _ = write!(
            out,
            "{}{} {}",
            if i == 0 { "M" } else { "L" },
            number(p.x),
            number(p.y)
        );
    }
    out
}

fn escape(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '&' => "&amp;".to_string(),
            '<' => "&lt;".to_string(),
            '>' => "&gt;".to_string(),
            // Not allowed in XML at all.
            c if c.is_control() => "\u{fffd}".to_string(),
            c => c.to_string(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::page::{Look, Role, pt};

    #[test]
    fn text_is_escaped_and_sized_in_millimetres() {
        let mut page = Page::new(210.0, 297.0);
        page.text(Role::Label, pt(10.0, 20.0), "a<b & c", Look::SMALL);
        let svg = write(&page);
        assert!(svg.contains("width=\"210mm\" height=\"297mm\" viewBox=\"0 0 210 297\""));
        assert!(svg.contains(">a&lt;b &amp; c</text>"));
        assert!(svg.contains("font-size=\"3.5014\""));
    }
}

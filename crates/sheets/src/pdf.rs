//! Writes placed pages as PDF: the same bytes every time, faces cut down to the glyphs used.

use crate::font::{CAP_SHARE, Face};
use crate::page::{Ink, Item, Page, Pt, Shape, Stroke, Text};
use crate::{Sheet, SheetError};
use printpdf::{
    Codepoint, Color, FontId, Line, LineCapStyle, LineDashPattern, LineJoinStyle, LinePoint, Mm, Op,
    PaintMode, ParsedFont, PdfDocument, PdfFont, PdfFontHandle, PdfPage, PdfSaveOptions, Point, Polygon,
    PolygonRing, Rgb, TextItem, TextMatrix, WindingOrder,
};
use std::collections::{BTreeMap, BTreeSet};
use subsetter::GlyphRemapper;

const PT_PER_MM: f64 = 72.0 / 25.4;

/// Returns the sheet as a PDF file.
///
/// The document carries no clock and no random number: its identifier is made from its content.
///
/// # Errors
/// [`SheetError::Writer`] when a face cannot be cut down or the library warns of a fault.
pub fn write(sheet: &Sheet) -> Result<Vec<u8>, SheetError> {
    let mut document = PdfDocument::new(&sheet.title);
    document.metadata.info.producer = "Coverbook".into();
    document.metadata.info.creator = "Coverbook".into();
    document.metadata.info.author = sheet.author.clone();
    let mut fonts = BTreeMap::new();
    for face in Face::ALL {
        let used = glyphs_used(&sheet.pages, face);
        if used.is_empty() {
            continue;
        }
        let (font, remapper) = cut_down(face, &used)?;
        let id = FontId(format!("{face:?}"));
        document
            .resources
            .fonts
            .map
            .insert(id.clone(), PdfFont::new(font));
        fonts.insert(face, (id, remapper));
    }
    let pages = sheet
        .pages
        .iter()
        .map(|page| {
            let mut ops = vec![
                Op::SetLineCapStyle {
                    cap: LineCapStyle::Butt,
                },
                Op::SetLineJoinStyle {
                    join: LineJoinStyle::Round,
                },
            ];
            for item in &page.items {
                write_item(item, page, &fonts, &mut ops);
            }
            PdfPage::new(Mm(page.width_mm as f32), Mm(page.height_mm as f32), ops)
        })
        .collect();
    let mut warnings = Vec::new();
    let options = PdfSaveOptions::default();
    let mut bytes = document.with_pages(pages).save(&options, &mut warnings);
    if let Some(fault) = warnings
        .iter()
        .find(|w| w.severity == printpdf::PdfParseErrorSeverity::Error)
    {
        return Err(SheetError::Writer(fault.msg.clone()));
    }
    fix_identifier(&mut bytes)?;
    Ok(bytes)
}

fn glyphs_used(pages: &[Page], face: Face) -> BTreeSet<u16> {
    let texts = pages.iter().flat_map(Page::texts).map(|(_, text)| text);
    texts
        .filter(|text| text.face == face)
        .flat_map(|text| text.text.chars())
        .map(|c| face.glyph(c))
        .collect()
}

fn cut_down(face: Face, used: &BTreeSet<u16>) -> Result<(ParsedFont, GlyphRemapper), SheetError> {
    let whole = face.required()?;
    let remapper = GlyphRemapper::new_from_glyphs_sorted(&used.iter().copied().collect::<Vec<_>>());
    let bytes = subsetter::subset(face.bytes(), 0, &remapper)
        .map_err(|e| SheetError::Writer(format!("cutting down {face:?}: {e}")))?;
    let new = |old: u16| remapper.get(old).unwrap_or(0);
    let font = ParsedFont {
        original_bytes: bytes,
        font_index: 0,
        // Six letters and a plus sign mark a subset (ISO 32000-1, 9.6.4).
        font_name: Some(format!("CVRBKA+NotoSans-{face:?}")),
        codepoint_to_glyph: BTreeMap::new(),
        glyph_widths: used
            .iter()
            .chain([&0])
            .map(|&g| (new(g), whole.get_glyph_width(g).unwrap_or(600)))
            .collect(),
        ..whole.clone()
    };
    Ok((font, remapper))
}

/// Puts an identifier made from the content in place of the library's random one.
///
/// Both are 32 characters long, so that no offset moves.
fn fix_identifier(bytes: &mut [u8]) -> Result<(), SheetError> {
    let missing = || SheetError::Writer("the document has no identifier of the form expected".into());
    let tail = bytes.windows(3).rposition(|w| w == b"/ID").ok_or_else(missing)?;
    let (mut first, mut second) = (0xcbf2_9ce4_8422_2325_u64, 0x8422_2325_cbf2_9ce4_u64);
    for byte in &bytes[..tail] {
        // FNV-1a, twice with different starts: an identifier, not a proof.
        first = (first ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        second = (second ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
    }
    let identifier = format!("{first:016x}{second:016x}");
    let mut place = tail;
    for _ in 0..2 {
        let open = place
            + bytes[place..]
                .iter()
                .position(|b| *b == b'(')
                .ok_or_else(missing)?;
        let close = open
            + bytes[open..]
                .iter()
                .position(|b| *b == b')')
                .ok_or_else(missing)?;
        if close - open - 1 != identifier.len() {
            return Err(missing());
        }
        bytes[open + 1..close].copy_from_slice(identifier.as_bytes());
        place = close;
    }
    Ok(())
}

fn colour(ink: Ink) -> Color {
    let part = |v: u8| f32::from(v) / 255.0;
    Color::Rgb(Rgb {
        r: part(ink.0),
        g: part(ink.1),
        b: part(ink.2),
        icc_profile: None,
    })
}

fn points(places: &[Pt], page: &Page) -> Vec<LinePoint> {
    places
        .iter()
        .map(|p| LinePoint {
            p: Point {
                x: printpdf::Pt((p.x * PT_PER_MM) as f32),
                y: printpdf::Pt(((page.height_mm - p.y) * PT_PER_MM) as f32),
            },
            bezier: false,
        })
        .collect()
}

fn set_stroke(stroke: &Stroke, ops: &mut Vec<Op>) {
    ops.push(Op::SetOutlineColor {
        col: colour(stroke.ink),
    });
    ops.push(Op::SetOutlineThickness {
        pt: printpdf::Pt((stroke.width_mm * PT_PER_MM) as f32),
    });
    ops.push(Op::SetLineDashPattern {
        dash: LineDashPattern {
            offset: 0.0,
            pattern: stroke
                .dash_mm
                .iter()
                .map(|mm| (mm * PT_PER_MM) as f32)
                .collect::<Vec<_>>()
                .into(),
        },
    });
}

fn write_item(item: &Item, page: &Page, fonts: &BTreeMap<Face, (FontId, GlyphRemapper)>, ops: &mut Vec<Op>) {
    let open_line = |places: &[Pt]| Op::DrawLine {
        line: Line {
            points: points(places, page),
            is_closed: false,
        },
    };
    match &item.shape {
        Shape::Text(text) => write_text(text, page, fonts, ops),
        Shape::Line { points, stroke } => {
            set_stroke(stroke, ops);
            ops.push(open_line(points));
        }
        Shape::Strokes { segments, stroke } => {
            set_stroke(stroke, ops);
            ops.extend(segments.iter().map(|s| open_line(s)));
        }
        Shape::Area { ring, fill, stroke } => {
            if let Some(ink) = fill {
                ops.push(Op::SetFillColor { col: colour(*ink) });
            }
            if let Some(stroke) = stroke {
                set_stroke(stroke, ops);
            }
            let mode = match (fill, stroke) {
                (Some(_), Some(_)) => PaintMode::FillStroke,
                (Some(_), None) => PaintMode::Fill,
                _ => PaintMode::Stroke,
            };
            ops.push(Op::DrawPolygon {
                polygon: Polygon {
                    rings: vec![PolygonRing {
                        points: points(ring, page),
                    }],
                    mode,
                    winding_order: WindingOrder::NonZero,
                },
            });
        }
    }
}

fn write_text(text: &Text, page: &Page, fonts: &BTreeMap<Face, (FontId, GlyphRemapper)>, ops: &mut Vec<Op>) {
    let Some((font, remapper)) = fonts.get(&text.face) else {
        return;
    };
    let start = text.start();
    let (sin, cos) = text.angle_deg.to_radians().sin_cos();
    let glyphs = text
        .text
        .chars()
        .map(|c| Codepoint {
            gid: remapper.get(text.face.glyph(c)).unwrap_or(0),
            offset: 0.0,
            cid: Some(c.to_string()),
        })
        .collect();
    ops.extend([
        Op::StartTextSection,
        Op::SetFillColor {
            col: colour(text.ink),
        },
        Op::SetFont {
            font: PdfFontHandle::External(font.clone()),
            size: printpdf::Pt((text.cap_mm / CAP_SHARE * PT_PER_MM) as f32),
        },
        Op::SetTextMatrix {
            matrix: TextMatrix::Raw([
                cos as f32,
                sin as f32,
                -sin as f32,
                cos as f32,
                (start.x * PT_PER_MM) as f32,
                ((page.height_mm - start.y) * PT_PER_MM) as f32,
            ]),
        },
        Op::ShowText {
            items: vec![TextItem::GlyphIds(glyphs)],
        },
        Op::EndTextSection,
    ]);
}

//! The written PDF, read by poppler: sizes, fonts, bars as they come out of a printer.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod fixture;

use coverbook_sheets::{Paper, dig_plan};
use fixture::rich;
use std::path::Path;
use std::process::Command;

/// Runs one of poppler's tools; a machine without them is a failure, never a skip.
fn poppler(tool: &str, arguments: &[&str]) -> Vec<u8> {
    let output = Command::new(tool)
        .args(arguments)
        .output()
        .unwrap_or_else(|e| panic!("{tool} did not start ({e}): install poppler-utils"));
    assert!(
        output.status.success(),
        "{tool}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    output.stdout
}

fn write(paper: Paper, folder: &Path) -> (String, usize) {
    let sheet = dig_plan(&rich().input(), paper).unwrap();
    let file = folder.join("sheet.pdf");
    std::fs::write(&file, sheet.pdf().unwrap()).unwrap();
    (file.to_str().unwrap().to_string(), sheet.pages.len())
}

#[test]
fn the_same_sheet_gives_the_same_bytes() {
    let once = dig_plan(&rich().input(), Paper::A4).unwrap().pdf().unwrap();
    let again = dig_plan(&rich().input(), Paper::A4).unwrap().pdf().unwrap();
    assert!(once == again);
    assert!(once.len() < 200_000, "{} bytes", once.len());
    let mut other = rich();
    other.issued.sheet_id.push('B');
    let other = dig_plan(&other.input(), Paper::A4).unwrap().pdf().unwrap();
    let id = |bytes: &[u8]| {
        let at = bytes.windows(3).rposition(|w| w == b"/ID").unwrap();
        bytes[at..at + 40].to_vec()
    };
    assert_ne!(id(&once), id(&other));
}

/// Sizes: ISO 216 (A4 210 by 297 mm, A3 297 by 420 mm); Letter 8.5 by 11 inches.
#[test]
fn pages_have_the_exact_size_of_the_paper() {
    for paper in Paper::ALL {
        let folder = tempfile::tempdir().unwrap();
        let (file, count) = write(paper, folder.path());
        let text = String::from_utf8(poppler("pdfinfo", &[&file])).unwrap();
        let value = |name: &str| {
            let line = text.lines().find(|l| l.starts_with(name)).unwrap();
            line.split(':').nth(1).unwrap().trim().to_string()
        };
        assert_eq!(value("Pages"), count.to_string());
        let size = value("Page size");
        let mut sides: Vec<f64> = size.split_whitespace().filter_map(|w| w.parse().ok()).collect();
        sides.sort_by(f64::total_cmp);
        let wanted = match paper {
            Paper::A4 => [210.0, 297.0],
            Paper::A3 => [297.0, 420.0],
            Paper::Letter => [8.5 * 25.4, 11.0 * 25.4],
        };
        for (got, mm) in sides.iter().zip(wanted) {
            assert!((got - mm * 72.0 / 25.4).abs() < 0.01, "{paper:?}: {size}");
        }
    }
}

#[test]
fn every_font_is_embedded_and_cut_down() {
    let folder = tempfile::tempdir().unwrap();
    let (file, _) = write(Paper::A4, folder.path());
    let text = String::from_utf8(poppler("pdffonts", &[&file])).unwrap();
    let fonts: Vec<&str> = text.lines().skip(2).collect();
    assert_eq!(fonts.len(), 2, "{text}");
    for font in fonts {
        let columns: Vec<&str> = font.split_whitespace().collect();
        // name, type (two words), encoding, emb, sub, uni
        assert_eq!(&columns[4..7], ["yes", "yes", "yes"], "{font}");
    }
}

#[test]
fn text_can_be_read_back() {
    let folder = tempfile::tempdir().unwrap();
    let (file, _) = write(Paper::A4, folder.path());
    let text = String::from_utf8(poppler("pdftotext", &[&file, "-"])).unwrap();
    assert!(text.contains("RL 99.226"));
    assert!(text.contains("±"));
}

/// Renders the first page at 600 dots an inch and measures the bars in dots: 100 mm are 2362.2 of them.
#[test]
fn both_bars_come_out_100_mm_long() {
    let dots_per_mm = 600.0 / 25.4;
    for paper in Paper::ALL {
        let sheet = dig_plan(&rich().input(), paper).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let (file, _) = write(paper, folder.path());
        let bytes = poppler(
            "pdftoppm",
            &["-r", "600", "-gray", "-aa", "no", "-f", "1", "-l", "1", &file],
        );
        let (width, pixels) = grey_map(&bytes);
        let dark = |x: usize, y: usize| pixels[y * width + x] < 128;
        use coverbook_sheets::page::{Role, Shape};
        let bars = sheet.pages[0].items.iter().filter(|i| i.role == Role::CheckBar);
        let mut measured = 0;
        for item in bars {
            let Shape::Line { points, .. } = &item.shape else {
                panic!("a bar is a line")
            };
            let middle = (
                ((points[0].x + points[1].x) / 2.0 * dots_per_mm) as usize,
                ((points[0].y + points[1].y) / 2.0 * dots_per_mm) as usize,
            );
            let along = (points[0].y - points[1].y).abs() < 1e-9;
            // The dark run through the bar's middle, on the row or column where it is longest.
            let longest = (0..24)
                .map(|k| {
                    let at = |i: usize| {
                        if along {
                            dark(i, middle.1 + k - 12)
                        } else {
                            dark(middle.0 + k - 12, i)
                        }
                    };
                    let from = if along { middle.0 } else { middle.1 };
                    let mut low = from;
                    let mut high = from;
                    while at(low) && at(low - 1) {
                        low -= 1;
                    }
                    while at(high) && at(high + 1) {
                        high += 1;
                    }
                    high - low + 1
                })
                .max()
                .unwrap();
            // The end ticks are 0.18 mm wide and stand half outside the bar.
            let mm = longest as f64 / dots_per_mm - 0.18;
            // A dot is 0.042 mm; each end may fall either way.
            assert!((mm - 100.0).abs() < 0.09, "{paper:?} along {along}: {mm} mm");
            measured += 1;
        }
        assert_eq!(measured, 2);
    }
}

/// Reads a binary grey map (netpbm P5): width and pixels.
fn grey_map(bytes: &[u8]) -> (usize, &[u8]) {
    let mut at = 0;
    let mut fields = Vec::new();
    while fields.len() < 4 {
        let end = at + bytes[at..].iter().position(u8::is_ascii_whitespace).unwrap();
        fields.push(std::str::from_utf8(&bytes[at..end]).unwrap());
        at = end + 1;
    }
    assert_eq!(fields[0], "P5");
    (fields[1].parse().unwrap(), &bytes[at..])
}

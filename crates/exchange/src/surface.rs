//! A surface's points and breaklines out of a table.

use crate::columns::{ColumnSpec, Holds, spec};
use crate::drafts::SurfaceDraft;
use crate::findings::Findings;
use crate::numbers::NumberStyle;
use crate::options::ReadOptions;
use crate::plausibility::{Place, check_levels, check_plan, corners};
use crate::points::{MOST_SIGMA_MM, check_stated};
use crate::reading::{Preview, Reading};
use crate::row::Row;
use crate::table::{Kind, open};
use register::body::TinBlob;
use register::view::{Near, PreviewPoint, PreviewRun};
use std::collections::HashMap;
use survey::{Decimal, Exact};

const EASTING: usize = 0;
const NORTHING: usize = 1;
const LEVEL: usize = 2;
const SIGMA_V: usize = 3;
const BREAKLINE: usize = 4;
const BOUNDARY: usize = 5;
const HOLE: usize = 6;

const SURFACE_COLUMNS: &[ColumnSpec] = &[
    spec("easting", Holds::Metres),
    spec("northing", Holds::Metres),
    spec("level", Holds::Metres),
    spec("sigma_v", Holds::Millimetres),
    spec("breakline", Holds::Text),
    spec("boundary", Holds::Text),
    spec("hole", Holds::Text),
    // A label helps the person who measured and has no part in a surface.
    spec("point", Holds::Text),
];

/// Reads the points of a surface; rows with the same breakline, in file order, are a chain that triangles follow.
///
/// Rows with the same boundary or hole are the corners of a ring, which closes by itself. Two rows at one place are
/// refused, unless both are on lines or rings and agree in level: lines that meet or close.
/// The surface's standard deviation is the largest of its rows, and none unless every row (or a person) states one.
pub fn read_surface(
    bytes: &[u8],
    options: &ReadOptions,
    progress: &mut dyn FnMut(u64),
) -> Reading<SurfaceDraft> {
    let kind = Kind {
        specs: SURFACE_COLUMNS,
        required: &[EASTING, NORTHING, LEVEL],
        position: Some([EASTING, NORTHING, LEVEL]),
    };
    let mut opened = open(bytes, options, kind);
    let findings = &mut opened.findings;
    check_stated(options, findings);
    let mut surface = Surface::default();
    let mut rows = 0;
    if let Some(table) = opened.table.take() {
        rows = table.read_rows(findings, progress, |row, numbers, findings| {
            surface.take(row, options, numbers, findings);
        });
        let headers = [EASTING, NORTHING, LEVEL].map(|field| table.columns.header(field));
        check_plan(&surface.places, &options.frame, headers, findings);
        check_levels(&surface.places, &options.frame, headers, findings);
        surface.look_over(findings);
    }
    let [min, max] = corners(&surface.places);
    let preview = Preview {
        min,
        max,
        points: surface.drawn_points(),
        runs: surface.drawn_lines(),
    };
    let sigma_v_mm = surface.sigma(findings);
    let draft = SurfaceDraft {
        import: options.import.clone(),
        blob: TinBlob {
            outlines: surface.rings(Use::Boundary),
            holes: surface.rings(Use::Hole),
            breaklines: surface
                .lines
                .into_iter()
                .filter(|line| line.used == Use::Breakline)
                .map(|line| line.points)
                .collect(),
            points: surface.points,
            faces: Vec::new(),
        },
        sigma_v_mm,
    };
    opened.close(rows, preview, draft)
}

/// What a line of points does for the surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Use {
    Breakline,
    Boundary,
    Hole,
}

impl Use {
    const ALL: [(Use, usize, &str); 3] = [
        (Use::Breakline, BREAKLINE, "breakline"),
        (Use::Boundary, BOUNDARY, "boundary"),
        (Use::Hole, HOLE, "hole"),
    ];

    fn word(self) -> &'static str {
        Use::ALL
            .iter()
            .find(|(used, ..)| *used == self)
            .map_or("line", |(.., word)| *word)
    }
}

struct Line {
    used: Use,
    name: String,
    first_row: u64,
    points: Vec<u32>,
}

impl Line {
    /// Returns the points of a line, or the corners of a ring without the first one given again at the end.
    fn corners(&self) -> &[u32] {
        match self.points.split_last() {
            Some((last, rest)) if self.used != Use::Breakline && rest.first() == Some(last) => rest,
            _ => &self.points,
        }
    }
}

#[derive(Default)]
struct Surface {
    points: Vec<[Decimal; 3]>,
    places: Vec<Place>,
    on_line: Vec<bool>,
    by_place: HashMap<[Exact; 2], usize>,
    lines: Vec<Line>,
    lines_by_name: HashMap<(Use, String), usize>,
    largest_sigma: Option<Decimal>,
    row_without_sigma: Option<u64>,
}

impl Surface {
    fn take(
        &mut self,
        row: &Row<'_>,
        options: &ReadOptions,
        numbers: &mut NumberStyle,
        findings: &mut Findings,
    ) {
        let mut converted = Vec::new();
        let easting = row.need_decimal(EASTING, numbers, &mut converted, findings);
        let northing = row.need_decimal(NORTHING, numbers, &mut converted, findings);
        let level = row.need_decimal(LEVEL, numbers, &mut converted, findings);
        let sigma = row.positive(SIGMA_V, MOST_SIGMA_MM, numbers, &mut converted, findings);
        let lines = Use::ALL.map(|(used, field, _)| Some((used, row.text(field)?)));
        let (Some(easting), Some(northing), Some(level)) = (easting, northing, level) else {
            return;
        };
        match sigma.or_else(|| options.stated.sigma_v_mm.clone()) {
            Some(sigma) => {
                let larger = self.largest_sigma.as_ref().is_none_or(|largest| *largest < sigma);
                self.largest_sigma = if larger {
                    Some(sigma)
                } else {
                    self.largest_sigma.take()
                };
            }
            None => self.row_without_sigma = self.row_without_sigma.or(Some(row.number)),
        }
        let Some(index) = self.place(
            [easting, northing, level],
            row,
            lines.iter().any(Option::is_some),
            findings,
        ) else {
            return;
        };
        for (used, name) in lines.into_iter().flatten() {
            let at = *self
                .lines_by_name
                .entry((used, name.to_owned()))
                .or_insert_with(|| {
                    self.lines.push(Line {
                        used,
                        name: name.to_owned(),
                        first_row: row.number,
                        points: Vec::new(),
                    });
                    self.lines.len() - 1
                });
            // A surface of more points than this fits in no file that is read.
            self.lines[at].points.push(index as u32);
        }
    }

    /// Returns the rings of one use; a first corner given again at the end is left out.
    fn rings(&self, used: Use) -> Vec<Vec<[Decimal; 2]>> {
        let of_use = self.lines.iter().filter(|line| line.used == used);
        let corner = |at: &u32| {
            let [easting, northing, _] = &self.points[*at as usize];
            [easting.clone(), northing.clone()]
        };
        of_use
            .map(|ring| ring.corners().iter().map(corner).collect())
            .collect()
    }

    fn place(
        &mut self,
        point: [Decimal; 3],
        row: &Row<'_>,
        on_line: bool,
        findings: &mut Findings,
    ) -> Option<usize> {
        let index = self.points.len();
        let earlier = *self
            .by_place
            .entry([point[0].exact(), point[1].exact()])
            .or_insert(index);
        if earlier != index {
            let first_row = self.places[earlier].row;
            let first_level = &self.points[earlier][2];
            if first_level.exact() != point[2].exact() {
                let says = format!(
                    "row {first_row} has level {first_level} and row {} has level {} at one place; a surface has one \
                     level there: move one of the points, as for a kerb or a wall",
                    row.number, point[2]
                );
                row.refuse(LEVEL, "two-levels", says, findings);
                return None;
            }
            if !(on_line && self.on_line[earlier]) {
                let says = format!(
                    "row {first_row} and row {} are the same point; leave one",
                    row.number
                );
                row.refuse(EASTING, "place-twice", says, findings);
                return None;
            }
            return Some(earlier);
        }
        self.places.push(Place {
            row: row.number,
            at: [point[0].to_f64(), point[1].to_f64(), point[2].to_f64()],
        });
        self.points.push(point);
        self.on_line.push(on_line);
        Some(index)
    }

    fn look_over(&self, findings: &mut Findings) {
        for line in &self.lines {
            let (word, name) = (line.used.word(), &line.name);
            let (least, needs) = match line.used {
                Use::Breakline => (2, "two"),
                Use::Boundary | Use::Hole => (3, "three"),
            };
            let corners = line.corners();
            if corners.len() < least {
                let says = match corners.len() {
                    1 => format!("{word} {name} has one point and needs {needs}"),
                    several => format!("{word} {name} has {several} points and needs {needs}"),
                };
                findings.refuse(
                    &format!("{word}-too-short"),
                    Some(line.first_row),
                    Some(word),
                    says,
                );
            }
            if line.points.windows(2).any(|pair| pair[0] == pair[1]) {
                let says = format!("{word} {name} goes twice through one point in a row; leave one");
                findings.refuse("place-twice", Some(line.first_row), Some(word), says);
            }
        }
        if !self.has_area() {
            let says = format!(
                "{} points that do not span an area make no surface; give three or more that are not in one line",
                self.points.len()
            );
            findings.refuse("no-area", None, None, says);
        }
    }

    /// Returns true when some point lies more than a millimetre off the line through the two ends of the extent.
    fn has_area(&self) -> bool {
        let Some(first) = self.places.first().map(|place| place.at) else {
            return false;
        };
        let reach = |place: &&Place| (place.at[0] - first[0]).hypot(place.at[1] - first[1]);
        let Some(far) = self.places.iter().max_by(|a, b| reach(a).total_cmp(&reach(b))) else {
            return false;
        };
        let (east, north, length) = (far.at[0] - first[0], far.at[1] - first[1], reach(&far));
        let off = |place: &Place| ((place.at[0] - first[0]) * north - (place.at[1] - first[1]) * east).abs();
        length > 0.0 && self.places.iter().any(|place| off(place) > 0.001 * length)
    }

    fn sigma(&self, findings: &mut Findings) -> Option<Decimal> {
        if let (Some(_), Some(row)) = (&self.largest_sigma, self.row_without_sigma) {
            let says = "a row states no standard deviation, so none is taken for the surface; state one for all rows";
            findings.doubt("sigma-not-everywhere", Some(row), Some("sigma_v_mm"), says);
            return None;
        }
        self.largest_sigma.clone()
    }

    fn drawn_points(&self) -> Vec<PreviewPoint> {
        let draw = |place: &Place| PreviewPoint {
            point: format!("row {}", place.row),
            at: place.at.map(Near),
            row: place.row,
            touched: None,
            run: None,
        };
        self.places.iter().take(crate::PREVIEW_POINTS).map(draw).collect()
    }

    fn drawn_lines(&self) -> Vec<PreviewRun> {
        let mut left = crate::PREVIEW_POINTS;
        let mut draw = |line: &Line| {
            let drawn = line.points.iter().take(left);
            let drawn: Vec<_> = drawn.map(|&at| self.places[at as usize].at.map(Near)).collect();
            left -= drawn.len();
            PreviewRun {
                run: line.name.clone(),
                service: None,
                points: line.points.len() as u64,
                line: drawn,
            }
        };
        self.lines.iter().map(&mut draw).collect()
    }
}

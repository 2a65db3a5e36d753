//! Searched areas out of a table: one row for each corner, in order.

use crate::columns::{ColumnSpec, Holds, spec};
use crate::drafts::{SearchedArea, SearchedDraft};
use crate::findings::Findings;
use crate::numbers::NumberStyle;
use crate::options::ReadOptions;
use crate::plausibility::{Place, check_plan, corners};
use crate::points::{MOST_SIGMA_MM, check_stated, slugs};
use crate::reading::{Preview, Reading};
use crate::ring::crossing;
use crate::row::Row;
use crate::said::{Said, Speaker};
use crate::table::{Kind, open};
use register::body::{AreaSearched, DownTo};
use register::service::Service;
use register::view::{Near, PreviewRun};
use register::words::SearchOutcome;
use std::collections::HashMap;
use survey::Decimal;

const AREA: usize = 0;
const EASTING: usize = 1;
const NORTHING: usize = 2;
const SERVICES: usize = 3;
const METHOD: usize = 4;
const DOWN_TO_DEPTH: usize = 5;
const SURFACE: usize = 6;
const DOWN_TO_LEVEL: usize = 7;
const OUTCOME: usize = 8;
const SIGMA_H: usize = 9;
const OBSERVED_AT: usize = 10;

const SEARCHED_COLUMNS: &[ColumnSpec] = &[
    spec("area", Holds::Text),
    spec("easting", Holds::Metres),
    spec("northing", Holds::Metres),
    spec("services", Holds::Text),
    spec("method", Holds::Text),
    spec("down_to_depth", Holds::Metres),
    spec("surface", Holds::Text),
    spec("down_to_level", Holds::Metres),
    spec("outcome", Holds::Text),
    spec("sigma_h", Holds::Millimetres),
    spec("observed_at", Holds::Text),
    spec("by", Holds::Text),
];

/// Most corners of one ring; its entry stays well under the journal's limit.
const MOST_CORNERS: usize = 5_000;
/// Deepest search believed, metres.
const MOST_DEPTH_M: f64 = 100.0;

/// Reads searched areas. What holds for an area is said in any of its rows, and where several say it they agree.
///
/// Services are parted by `;`, or `all`. Nothing is assumed of a search: services, method, outcome and how deep it
/// looked (a depth below a named surface, or a level) are refused when missing.
pub fn read_searched(
    bytes: &[u8],
    options: &ReadOptions,
    progress: &mut dyn FnMut(u64),
) -> Reading<SearchedDraft> {
    let kind = Kind {
        specs: SEARCHED_COLUMNS,
        required: &[AREA, EASTING, NORTHING, SERVICES, METHOD, OUTCOME],
        position: None,
    };
    let mut opened = open(bytes, options, kind);
    let findings = &mut opened.findings;
    check_stated(options, findings);
    let mut areas = Areas::default();
    let mut rows = 0;
    let mut headers = None;
    if let Some(table) = opened.table.take() {
        rows = table.read_rows(findings, progress, |row, numbers, findings| {
            areas.take(row, options, numbers, findings);
        });
        headers = Some([EASTING, NORTHING, NORTHING].map(|field| table.columns.header(field).to_owned()));
    }
    let places: Vec<Place> = areas
        .areas
        .iter()
        .flat_map(|area| area.places.iter().copied())
        .collect();
    if let Some(headers) = &headers {
        check_plan(
            &places,
            &options.frame,
            headers.each_ref().map(String::as_str),
            findings,
        );
    }
    let [min, max] = corners(&places);
    let mut left = crate::PREVIEW_POINTS;
    let mut draw = |area: &Area| {
        let line: Vec<_> = area
            .places
            .iter()
            .take(left)
            .map(|place| place.at.map(Near))
            .collect();
        left -= line.len();
        PreviewRun {
            run: area.name.clone(),
            service: None,
            points: area.places.len() as u64,
            line,
        }
    };
    let preview = Preview {
        min,
        max,
        points: Vec::new(),
        runs: areas.areas.iter().map(&mut draw).collect(),
    };
    let areas = areas
        .areas
        .into_iter()
        .filter_map(|area| area.finish(options, findings))
        .collect();
    opened.close(rows, preview, SearchedDraft { areas })
}

#[derive(Default)]
struct Area {
    name: String,
    first_row: u64,
    ring: Vec<[Decimal; 2]>,
    places: Vec<Place>,
    services: Option<Said<String>>,
    method: Option<Said<String>>,
    surface: Option<Said<String>>,
    outcome: Option<Said<String>>,
    observed_at: Option<Said<String>>,
    depth: Option<Said<Decimal>>,
    level: Option<Said<Decimal>>,
    sigma: Option<Said<Decimal>>,
}

#[derive(Default)]
struct Areas {
    areas: Vec<Area>,
    by_name: HashMap<String, usize>,
}

impl Areas {
    fn take(
        &mut self,
        row: &Row<'_>,
        options: &ReadOptions,
        numbers: &mut NumberStyle,
        findings: &mut Findings,
    ) {
        let mut converted = Vec::new();
        let name = row.need_text(AREA, findings).map(|name| options.prefixed(name));
        let name = row.label(AREA, name, findings);
        let easting = row.need_decimal(EASTING, numbers, &mut converted, findings);
        let northing = row.need_decimal(NORTHING, numbers, &mut converted, findings);
        let depth = row.positive(DOWN_TO_DEPTH, MOST_DEPTH_M, numbers, &mut converted, findings);
        let level = row.decimal(DOWN_TO_LEVEL, numbers, &mut converted, findings);
        let sigma = row.positive(SIGMA_H, MOST_SIGMA_MM, numbers, &mut converted, findings);
        let outcomes = || slugs(SearchOutcome::ALL, SearchOutcome::slug);
        row.word(OUTCOME, SearchOutcome::from_slug, outcomes, findings);
        let observed_at = row.time(OBSERVED_AT, findings);
        let (Some(name), Some(easting), Some(northing)) = (name, easting, northing) else {
            return;
        };
        let at = *self.by_name.entry(name.clone()).or_insert_with(|| {
            self.areas.push(Area {
                name: name.clone(),
                first_row: row.number,
                ..Area::default()
            });
            self.areas.len() - 1
        });
        let area = &mut self.areas[at];
        area.places.push(Place {
            row: row.number,
            at: [easting.to_f64(), northing.to_f64(), 0.0],
        });
        area.ring.push([easting, northing]);
        let speaker = Speaker {
            kind: "area",
            name: &name,
            row,
        };
        for (said, field) in [
            (&mut area.services, SERVICES),
            (&mut area.method, METHOD),
            (&mut area.surface, SURFACE),
            (&mut area.outcome, OUTCOME),
        ] {
            speaker.says(field, said, row.text(field).map(str::to_owned), findings);
        }
        speaker.says(OBSERVED_AT, &mut area.observed_at, observed_at, findings);
        for (said, field, value) in [
            (&mut area.depth, DOWN_TO_DEPTH, depth),
            (&mut area.level, DOWN_TO_LEVEL, level),
            (&mut area.sigma, SIGMA_H, sigma),
        ] {
            speaker.says(field, said, value, findings);
        }
    }
}

impl Area {
    fn finish(mut self, options: &ReadOptions, findings: &mut Findings) -> Option<SearchedArea> {
        self.close_ring(findings);
        let down_to = self.down_to(findings);
        let missing = |what: &str, mend: &str, findings: &mut Findings| {
            let says = format!(
                "area {} does not say {mend}; nothing is assumed of a search",
                self.name
            );
            findings.refuse("value-missing", Some(self.first_row), Some(what), says);
        };
        if self.services.is_none() {
            missing(
                "services",
                "which services were looked for; write them with ; between, or all",
                findings,
            );
        }
        if self.method.is_none() {
            missing("method", "how it was searched", findings);
        }
        if self.outcome.is_none() {
            missing("outcome", "how the search ended", findings);
        }
        let services = self.services(findings);
        let outcome = self
            .outcome
            .as_ref()
            .and_then(|said| SearchOutcome::from_slug(&said.value));
        let sigma_h_mm = self.sigma.map(|said| said.value);
        Some(SearchedArea {
            searched: AreaSearched {
                area: self.name,
                ring: self.ring,
                services: services?,
                method: self.method?.value,
                down_to: down_to?,
                outcome: outcome?,
                sigma_h_mm: sigma_h_mm.or_else(|| options.stated.sigma_h_mm.clone()),
                import: Some(options.import.clone()),
            },
            observed_at: self
                .observed_at
                .map(|said| said.value)
                .or_else(|| options.observed_at.clone()),
            row: self.first_row,
        })
    }

    /// Takes the repeated first corner off, and refuses a ring that is none.
    fn close_ring(&mut self, findings: &mut Findings) {
        let exact = |corner: &[Decimal; 2]| [corner[0].exact(), corner[1].exact()];
        if self.ring.len() > 1 && self.ring.first().map(exact) == self.ring.last().map(exact) {
            self.ring.pop();
            self.places.pop();
        }
        let mut refuse = |code: &str, row: u64, says: String| {
            findings.refuse(code, Some(row), Some("easting"), says);
        };
        if self.ring.len() < 3 {
            let says = format!(
                "area {} has {} corners and needs three",
                self.name,
                self.ring.len()
            );
            refuse("no-area", self.first_row, says);
        } else if self.ring.len() > MOST_CORNERS {
            let says = format!(
                "area {} has {} corners and at most {MOST_CORNERS} are kept; leave some out or part it",
                self.name,
                self.ring.len()
            );
            refuse("too-many-corners", self.first_row, says);
        } else if let Some((first, second)) = crossing(&self.places) {
            let says = format!(
                "the ring of area {} meets itself: its side from row {} and its side from row {}; put its corners in \
                 order",
                self.name, self.places[first].row, self.places[second].row
            );
            refuse("ring-crosses", self.places[second].row, says);
        }
    }

    fn down_to(&self, findings: &mut Findings) -> Option<DownTo> {
        let name = &self.name;
        let (code, column, says) = match (&self.depth, &self.surface, &self.level) {
            (Some(depth), Some(surface), None) => {
                return Some(DownTo::Depth {
                    depth_m: depth.value.clone(),
                    surface: surface.value.clone(),
                });
            }
            (None, _, Some(level)) => {
                return Some(DownTo::Level {
                    level_m: level.value.clone(),
                });
            }
            (Some(_), None, None) => (
                "value-missing",
                "surface",
                format!("area {name} has a depth and does not say below which surface; name the surface"),
            ),
            (Some(_), _, Some(_)) => (
                "area-disagrees",
                "down_to_level",
                format!("area {name} has a depth and a level; leave the one that was not searched to"),
            ),
            (None, _, None) => (
                "value-missing",
                "down_to_level",
                format!(
                    "area {name} does not say how deep it was searched; give down_to_depth and surface, or \
                         down_to_level"
                ),
            ),
        };
        findings.refuse(code, Some(self.first_row), Some(column), says);
        None
    }

    /// Returns the services looked for; `Some(None)` is all of them.
    fn services(&self, findings: &mut Findings) -> Option<Option<Vec<Service>>> {
        let Said { value: text, row, .. } = self.services.as_ref()?;
        if text.eq_ignore_ascii_case("all") {
            return Some(None);
        }
        let mut services = Vec::new();
        for word in text.split(';').map(str::trim).filter(|word| !word.is_empty()) {
            match Service::from_slug(word) {
                Some(service) if services.contains(&service) => {}
                Some(service) => services.push(service),
                None => {
                    let allowed = slugs(&Service::ALL, |service: Service| service.style().slug);
                    let says = format!("{word:?} is not one of all, {}", allowed.join(", "));
                    findings.refuse("unknown-word", Some(*row), Some("services"), says);
                    return None;
                }
            }
        }
        if services.is_empty() {
            let says = format!(
                "area {} names no service; write them with ; between, or all",
                self.name
            );
            findings.refuse("value-missing", Some(*row), Some("services"), says);
            return None;
        }
        services.sort();
        Some(Some(services))
    }
}

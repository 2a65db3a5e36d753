//! The items of a hold point's list: one kind of question a function.

use super::{Area, polygon_of};
use crate::check::{Checked, check_run, completeness};
use crate::levels::Closes;
use crate::run_record::{RunRecord, RunStatus};
use crate::site::{Frame, RecordedSurface, Refusal, Site, StationEvent};
use crate::station::{SolvedStation, station_of};
use crate::view::{HoldItem, Near, Percent};
use crate::words::{CheckOutcome, CheckVerdict, HoldState, Known, SearchOutcome, SightKind, SurfaceKind};
use geo::MultiPolygon;
use ground::searched::{SearchedArea, searched_share};
use ground::{Vec2, Vec3};
use std::collections::{BTreeMap, BTreeSet};

/// Names of photos end in one of these.
const PHOTOS: [&str; 6] = [".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif"];

/// Gaps that other items speak of.
const SAID_ELSEWHERE: [&str; 2] = ["no-surface", "no-uncertainty"];

fn item(code: &str, about: &str, state: HoldState, says: impl Into<String>) -> HoldItem {
    let key = if about.is_empty() {
        code.to_owned()
    } else {
        format!("{code}:{about}")
    };
    HoldItem {
        key,
        code: code.into(),
        about: about.into(),
        state,
        says: says.into(),
        at: None,
        accepted: None,
    }
}

fn state_of(verdict: CheckVerdict) -> HoldState {
    match verdict {
        CheckVerdict::Met => HoldState::Passes,
        CheckVerdict::NotProved => HoldState::NeedsReason,
        CheckVerdict::Short | CheckVerdict::Missing => HoldState::Fails,
    }
}

impl Site {
    /// Returns every item of the list, unsorted.
    pub(super) fn hold_items(
        &self,
        area: &Area,
        below: Option<&RecordedSurface>,
        no_surface: Option<&str>,
    ) -> Result<Vec<HoldItem>, Refusal> {
        let frame = self.frame()?;
        let rules = self.rules.as_deref();
        let mut items = self.of_area(area, below, no_surface);
        for record in &area.records {
            let checked = check_run(record, below, no_surface, rules)?;
            items.extend(self.of_run(record, &checked, below, &frame));
        }
        items.extend(self.of_stations(area));
        items.extend(self.of_level_books(area));
        Ok(items)
    }

    /// The area as a whole: what was expected, the surface, the rules, and whether somebody looked.
    fn of_area(
        &self,
        area: &Area,
        below: Option<&RecordedSurface>,
        no_surface: Option<&str>,
    ) -> Vec<HoldItem> {
        use HoldState::{Fails, NeedsReason, Passes};
        let mut items = Vec::new();
        if area.records.is_empty() {
            let says = "no run is recorded here; record what is about to be covered, or say why nothing is";
            items.push(item("runs", "", NeedsReason, says));
        }
        let expected = self.expected_runs();
        let here: BTreeSet<&str> = area.records.iter().map(|r| r.key.as_str()).collect();
        if expected.is_empty() {
            let says = "nobody gave a list of the runs expected, so nothing shows that one is missing; import the list";
            items.push(item("expected", "", NeedsReason, says));
        }
        let mut counted = 0;
        for run in &expected {
            let laid = self.runs.contains_key(&run.run);
            if run.recorded {
                counted += usize::from(here.contains(run.run.as_str()));
            } else if !laid {
                // What is not recorded has no place, so it counts in every area until somebody says otherwise.
                let says = format!("{}; record it, or say why it is not part of this", run.says);
                items.push(item("expected", &run.run, Fails, says));
            } else if here.contains(run.run.as_str()) {
                items.push(item("expected", &run.run, Fails, &*run.says));
            }
        }
        if counted > 0 {
            let says = format!("{counted} of the runs here were expected and are recorded as expected");
            items.push(item("expected", "recorded", Passes, says));
        }
        items.push(match (below, no_surface) {
            (Some(below), _) if below.kind == SurfaceKind::FinishedDesign => {
                let says = format!(
                    "covers hang on {}: what is built may differ until it is measured",
                    below.says()
                );
                item("surface", "", Passes, says)
            }
            (Some(below), _) => item("surface", "", Passes, format!("covers hang on {}", below.says())),
            (None, says) => item(
                "surface",
                "",
                NeedsReason,
                says.unwrap_or("no surface is recorded"),
            ),
        });
        items.push(match &self.rules {
            Some(rules) => {
                let says = format!("judged by {}; local codes and licensed practice govern", rules.set.title);
                item("rules", "", Passes, says)
            }
            None => {
                let says = "no rule set is adopted, so no cover and no fall can be met; adopt one, or state by whom it \
                            was judged";
                item("rules", "", NeedsReason, says)
            }
        });
        items.push(self.searched_item(area));
        items
    }

    /// Whether the outline stands as searched for everything: only then will a later dig read it so.
    fn searched_item(&self, area: &Area) -> HoldItem {
        let needs = |says: String| item("searched", "", HoldState::NeedsReason, says);
        let Some(ring) = &area.ring else {
            let says =
                "no outline is drawn, so nothing shows where somebody looked; draw it, and record the search";
            return needs(says.into());
        };
        let counts = |s: &&crate::site::Searched| {
            s.area.outcome == SearchOutcome::AllFoundRecorded && s.area.services.is_none()
        };
        // The share is for a person to act on; how deep a search went is asked when somebody digs.
        let areas: Vec<SearchedArea> = (self.searched.iter().filter(counts))
            .map(|searched| SearchedArea {
                rings: vec![searched.ring.clone()],
                shrink_m: 0.0,
            })
            .collect();
        let plan = MultiPolygon(vec![polygon_of(ring)]);
        let share = searched_share(&plan, &areas).map_or(0.0, |share| share.share);
        let whole = Percent(share).whole();
        if whole == 100 {
            let says = "the whole outline was searched for all services, and all that was found is recorded";
            return item("searched", "", HoldState::Passes, says);
        }
        needs(format!(
            "{whole} % of the outline was searched for all services with all found recorded; a later dig reads the rest \
             as not searched. Record the search before it is covered"
        ))
    }

    /// One run: cover, fall, ends, gaps, uncertainty, how it is known, amendments in dispute, photos.
    fn of_run(
        &self,
        record: &RunRecord,
        checked: &Checked,
        below: Option<&RecordedSurface>,
        frame: &Frame,
    ) -> Vec<HoldItem> {
        use HoldState::{Fails, NeedsReason, Passes};
        let name = record.key.as_str();
        let run = &checked.run;
        let place = |chainage_m: f64| {
            let at = axis_at(&checked.laid.tube.vertices, chainage_m)?;
            let at = frame.grid_plan(at);
            Some([Near(at.x), Near(at.y)])
        };
        let first = place(0.0);
        let mut items = Vec::new();
        let says = match run.rule.minimum {
            Some(_) => format!("{} (by {})", run.says, run.rule.source),
            None => run.says.clone(),
        };
        let mut cover = item("cover", name, state_of(run.cover_verdict), says);
        cover.at = run.at_chainage_m.and_then(|c| place(c.0)).or(first);
        items.push(cover);
        if let Some(verdict) = run.fall_verdict {
            let worst = run
                .legs
                .iter()
                .filter(|leg| !leg.riser)
                .filter_map(|leg| leg.fall.as_ref().map(|fall| (leg, fall)))
                .max_by_key(|(_, fall)| (state_of(fall.verdict), fall.wrong_way));
            let says = match worst {
                Some((leg, fall)) if verdict != CheckVerdict::Met => {
                    format!("fall {verdict}: {} to {}, {}", leg.from, leg.to, fall.says)
                }
                _ => format!("fall {verdict}"),
            };
            items.push(HoldItem {
                at: first,
                ..item("fall", name, state_of(verdict), says)
            });
        }
        let open = ["start", "end"].into_iter().zip(&record.ends);
        let open: Vec<HoldItem> = open
            .filter(|(_, end)| end.is_open())
            .map(|(which, end)| {
                let says = format!("its {which} is {end}; say where it goes, or cap it");
                item("end", &format!("{name}:{which}"), NeedsReason, says)
            })
            .collect();
        if open.is_empty() {
            let says = format!("it begins and ends: {}; {}", record.ends[0], record.ends[1]);
            items.push(item("end", name, Passes, says));
        }
        items.extend(open);
        for gap in completeness::of_run(checked, below) {
            if !SAID_ELSEWHERE.contains(&gap.code.as_str()) {
                items.push(HoldItem {
                    at: first,
                    ..item("gap", &format!("{name}:{}", gap.code), NeedsReason, gap.says)
                });
            }
        }
        let unplaced: Vec<&str> = record
            .shots
            .iter()
            .filter(|shot| {
                let (h, v, _) = shot.sigmas_m(self.rules.as_deref());
                h.is_none() || v.is_none()
            })
            .map(|shot| shot.point.as_str())
            .collect();
        if !unplaced.is_empty() {
            let says = format!("no uncertainty is known at {}; state it", few(&unplaced));
            items.push(item("uncertainty", name, NeedsReason, says));
        }
        let known = record.known();
        items.push(if known.is_seen() {
            item("known", name, Passes, format!("known as {known}"))
        } else {
            let worse: Vec<&str> = record
                .shots
                .iter()
                .filter(|shot| !shot.known_or_assumed().is_seen())
                .map(|shot| shot.point.as_str())
                .collect();
            let says = match known {
                Known::Assumed => format!("{} not stated as seen before cover", few(&worse)),
                _ => format!("known as {known} at {}", few(&worse)),
            };
            item("known", name, NeedsReason, says)
        });
        if record.status == RunStatus::Held {
            let says = "an amendment did not see the newest revision; settle which version stands";
            items.push(item("held", name, Fails, says));
        }
        let photo = |(file, _): &&(crate::body::FileAttached, u64)| {
            let lower = file.file.to_ascii_lowercase();
            file.about == name && PHOTOS.iter().any(|ending| lower.ends_with(ending))
        };
        let photos = self.files.iter().filter(photo).count();
        items.push(if photos > 0 {
            item("photo", name, Passes, format!("photos attached: {photos}"))
        } else {
            item("photo", name, NeedsReason, "no photo of it is attached")
        });
        items
    }

    /// The stations that the points hang on: checked before, checked after, and nothing suspect.
    fn of_stations(&self, area: &Area) -> Vec<HoldItem> {
        use HoldState::{Fails, NeedsReason, Passes};
        let mut shot_from: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        let mut bare: BTreeSet<&str> = BTreeSet::new();
        for shot in area.records.iter().flat_map(|record| &record.shots) {
            let Some(point) = self.points.get(&shot.point) else {
                continue;
            };
            match station_of(&point.row.measured) {
                Some(station) => shot_from.entry(station).or_default().push(&shot.point),
                None if point.row.measured.is_none() => {
                    bare.insert(&shot.point);
                }
                None => {}
            }
        }
        let mut items = Vec::new();
        if !bare.is_empty() {
            let bare: Vec<&str> = bare.into_iter().collect();
            let says = format!(
                "{} came as coordinates alone: no station, check or reading of this book stands behind them; say where \
                 the set-up and its check are kept",
                few(&bare)
            );
            items.push(item("readings", "", NeedsReason, says));
        }
        for (name, labels) in shot_from {
            let Some(station) = self.stations.get(name) else {
                continue;
            };
            let solved = &station.solved;
            items.push(match (solved.unchecked(), solved.report.passes()) {
                (Some(says), _) => item("station", name, Fails, says),
                (None, false) => item("station", name, NeedsReason, "its readings do not fit each other"),
                (None, true) => item("station", name, Passes, set_up_says(solved)),
            });
            let is_here = |label: &str| labels.contains(&label);
            let last_shot = station
                .events
                .iter()
                .rposition(|event| matches!(event, StationEvent::Shot { label, .. } if is_here(label)));
            let after = station.events.iter().skip(last_shot.map_or(0, |at| at + 1));
            let checked = after.rev().find_map(|event| match event {
                StationEvent::Check { target, outcome, .. } => Some((target, *outcome)),
                StationEvent::Shot { .. } => None,
            });
            items.push(match checked {
                Some((target, CheckOutcome::Passed)) => {
                    item("recheck", name, Passes, format!("checked again on {target} after the last shot"))
                }
                Some((target, _)) => {
                    item("recheck", name, Fails, format!("the check on {target} after the last shot failed"))
                }
                None => {
                    let says = "not checked again after the last shot; nothing shows that the instrument still stood";
                    item("recheck", name, NeedsReason, says)
                }
            });
            let suspect: Vec<&str> = labels
                .iter()
                .copied()
                .filter(|label| station.suspect.contains(*label))
                .collect();
            if !suspect.is_empty() {
                let says = format!(
                    "a failed check leaves {} suspect; shoot them again from a checked station",
                    few(&suspect)
                );
                items.push(item("suspect", name, Fails, says));
            }
        }
        items
    }

    /// The level books that levels hang on: each closes within its limit.
    fn of_level_books(&self, area: &Area) -> Vec<HoldItem> {
        let mut books: BTreeMap<&str, Closes> = BTreeMap::new();
        for shot in area.records.iter().flat_map(|record| &record.shots) {
            if let Some((level, book)) = self.booked.get(&shot.point) {
                books.insert(book, level.closes);
            }
        }
        let told = |(book, closes): (&str, Closes)| match closes {
            Closes::Within => item(
                "levels",
                book,
                HoldState::Passes,
                "the book closes within its limit",
            ),
            Closes::Over => {
                let says = "the book does not close within its limit, so its levels prove nothing";
                item("levels", book, HoldState::Fails, says)
            }
            Closes::NotChecked => {
                let says = "the book closes on nothing known, so its levels prove nothing";
                item("levels", book, HoldState::NeedsReason, says)
            }
        };
        books.into_iter().map(told).collect()
    }
}

/// Tells what a checked station stands on: its control, and how far its check was off.
fn set_up_says(solved: &SolvedStation) -> String {
    let control: BTreeSet<&str> = (solved.set.sights.iter())
        .filter(|sight| sight.sighted_as == SightKind::Control)
        .map(|sight| sight.target.as_str())
        .collect();
    let control: Vec<&str> = control.into_iter().collect();
    let checks: Vec<String> = (solved.checks.iter())
        .map(|check| {
            let level = check.level_m.map_or_else(
                || "level not compared".to_owned(),
                |level| format!("{:.1} mm in level", level.abs() * 1000.0),
            );
            format!(
                "{} off by {:.1} mm in plan, {level}",
                check.point,
                check.plan_m * 1000.0
            )
        })
        .collect();
    format!(
        "set by {}, its readings fit; checked: {}",
        control.join(", "),
        checks.join("; ")
    )
}

/// Returns the plan position of an axis at a chainage.
fn axis_at(vertices: &[ground::tube::TubeVertex], chainage_m: f64) -> Option<Vec2> {
    let plan = |at: Vec3| Vec2::new(at.x, at.y);
    let after = vertices.iter().position(|v| v.chainage_m >= chainage_m);
    let after = after.unwrap_or(vertices.len().checked_sub(1)?);
    let (from, to) = (&vertices[after.saturating_sub(1)], &vertices[after]);
    let span = to.chainage_m - from.chainage_m;
    let share = if span > 0.0 {
        ((chainage_m - from.chainage_m) / span).clamp(0.0, 1.0)
    } else {
        0.0
    };
    Some(plan(from.axis) + (plan(to.axis) - plan(from.axis)) * share)
}

/// Names the first few of a list.
fn few(labels: &[&str]) -> String {
    const SHOWN: usize = 6;
    let first = labels.iter().take(SHOWN).copied().collect::<Vec<_>>().join(", ");
    match labels.len().checked_sub(SHOWN) {
        Some(more) if more > 0 => format!("{first} and {more} more"),
        _ => first,
    }
}

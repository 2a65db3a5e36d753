//! The items of a hold point's list: one kind of question a function.

use super::{Area, polygon_of};
use crate::body::{LevelFrom, MeasuredFrom};
use crate::check::{Checked, check_run, completeness};
use crate::dig::outline;
use crate::levels::Closes;
use crate::rules::Adopted;
use crate::run_record::{RunRecord, RunStatus};
use crate::service::Service;
use crate::site::{Frame, RecordedSurface, Refusal, Searched, Site, StationEvent};
use crate::station::{SolvedStation, station_of};
use crate::time::{date_of, earlier_first};
use crate::view::{HoldItem, Near, Percent};
use crate::words::{
    CheckOutcome, CheckVerdict, HoldState, Known, SearchOutcome, SeparationVerdict, SightKind, SurfaceKind,
};
use geo::MultiPolygon;
use ground::searched::{SearchedArea, searched_share};
use ground::{Vec2, Vec3};
use std::cmp::Ordering;
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
        let hangs = self.hangs(area);
        items.extend(self.of_stations(&hangs));
        items.extend(self.of_level_books(&hangs));
        items.extend(self.of_separation(area)?);
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
        let services: BTreeSet<Service> = area.records.iter().map(|record| record.service).collect();
        let counts = |rules: &Adopted| services.iter().any(|service| rules.cover(*service).is_some());
        items.push(match &self.rules {
            Some(rules) if !services.is_empty() && !counts(rules) => {
                let says = format!(
                    "no figure of {} counts for a cover here; confirm those that hold, or state by whom it was judged",
                    rules.set.title
                );
                item("rules", "", NeedsReason, says)
            }
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

    /// Whether the outline stands as searched for everything since the newest shot; how deep is asked when somebody digs.
    fn searched_item(&self, area: &Area) -> HoldItem {
        let needs = |says: String| item("searched", "", HoldState::NeedsReason, says);
        let Some(ring) = &area.ring else {
            let says =
                "no outline is drawn, so nothing shows where somebody looked; draw it, and record the search";
            return needs(says.into());
        };
        let shots = area.records.iter().flat_map(|record| &record.shots);
        let newest = shots
            .map(|shot| shot.observed_at.as_str())
            .max_by(|a, b| earlier_first(a, b));
        let since = |s: &&Searched| {
            newest.is_none_or(|newest| {
                earlier_first(date_of(&s.observed_at), date_of(newest)) != Ordering::Less
            })
        };
        let counts =
            |s: &&Searched| s.area.outcome == SearchOutcome::AllFoundRecorded && s.area.services.is_none();
        let share = |areas: Vec<SearchedArea>| {
            let plan = MultiPolygon(vec![polygon_of(ring)]);
            Percent(searched_share(&plan, &areas).map_or(0.0, |share| share.share)).whole()
        };
        let counting: Vec<&Searched> = self.searched.iter().filter(counts).collect();
        let whole = share(counting.iter().copied().filter(since).map(outline).collect());
        if whole == 100 {
            let says = "the whole outline was searched for all services, and all that was found is recorded";
            return item("searched", "", HoldState::Passes, says);
        }
        let before = if share(counting.into_iter().map(outline).collect()) > whole {
            "; some of it only before the newest shot here"
        } else {
            ""
        };
        needs(format!(
            "{whole} % of the outline, less the searches' own uncertainty, was searched for all services with all found \
             recorded{before}; a later dig reads the rest as not searched. Record the search before it is covered"
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
        let by = match run.rule.minimum {
            Some(_) => format!(" (by {})", run.rule.source),
            None => String::new(),
        };
        let longest = run.longest_leg_m.text();
        let says = format!("{}{by}; longest between shots {longest} m", run.says);
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
        let photos: BTreeSet<&str> = (self.files.iter())
            .filter(photo)
            .map(|(file, _)| file.sha256.as_str())
            .collect();
        let photos = photos.len();
        items.push(if photos > 0 {
            item("photo", name, Passes, format!("photos attached: {photos}"))
        } else {
            item("photo", name, NeedsReason, "no photo of it is attached")
        });
        items
    }

    /// Follows every point to what it hangs on, through the known points that it was taped or levelled from.
    fn hangs<'s>(&'s self, area: &'s Area) -> Hangs<'s> {
        let mut hangs = Hangs::default();
        let shots = area.records.iter().flat_map(|record| &record.shots);
        let mut wanted: Vec<&str> = shots.map(|shot| shot.point.as_str()).collect();
        while let Some(label) = wanted.pop() {
            let Some(point) = self.points.get(label) else {
                continue;
            };
            if !hangs.points.insert(label) {
                continue;
            }
            match &point.row.measured {
                None => hangs.bare.insert(label),
                Some(MeasuredFrom::Coordinates(_) | MeasuredFrom::Satellite(_)) => {
                    hangs.unchecked.insert(label)
                }
                Some(measured) if matches!(measured.level(), Some(LevelFrom::Stated { .. })) => {
                    hangs.unchecked.insert(label)
                }
                Some(_) => false,
            };
            if let Some(station) = station_of(&point.row.measured) {
                hangs.stations.entry(station).or_default().push(label);
            } else if point.placed.suspect {
                hangs.suspect.insert(label);
            }
            wanted.extend(point.row.measured.iter().flat_map(MeasuredFrom::hangs_on));
        }
        for labels in hangs.stations.values_mut() {
            labels.sort_unstable();
        }
        hangs
    }

    /// The stations that the points hang on: checked before, checked after, and nothing suspect.
    fn of_stations(&self, hangs: &Hangs<'_>) -> Vec<HoldItem> {
        use HoldState::{Fails, NeedsReason, Passes};
        let Hangs {
            bare,
            unchecked,
            suspect,
            ..
        } = hangs;
        let mut items = Vec::new();
        if !bare.is_empty() {
            let bare: Vec<&str> = bare.iter().copied().collect();
            let says = format!(
                "{} came as coordinates alone: no station, check or reading of this book stands behind them; say where \
                 the set-up and its check are kept",
                few(&bare)
            );
            items.push(item("readings", "", NeedsReason, says));
        }
        if !unchecked.is_empty() {
            let unchecked: Vec<&str> = unchecked.iter().copied().collect();
            let says = format!(
                "nothing checks where {} lies: a position or level as somebody stated it, or a satellite fix; check it by \
                 another way, or say why it is enough",
                few(&unchecked)
            );
            items.push(item("readings", "unchecked", NeedsReason, says));
        }
        if !suspect.is_empty() {
            let suspect: Vec<&str> = suspect.iter().copied().collect();
            let says = format!(
                "{} hangs on what a failed check leaves suspect, or does not fit",
                few(&suspect)
            );
            items.push(item("suspect", "taped", Fails, says));
        }
        for (&name, labels) in &hangs.stations {
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

    /// How far the runs here lie from all others of the site.
    fn of_separation(&self, area: &Area) -> Result<Vec<HoldItem>, Refusal> {
        let answer = self.separation_of_site()?;
        let here: BTreeSet<&str> = area.records.iter().map(|record| record.key.as_str()).collect();
        let mut items: Vec<HoldItem> = Vec::new();
        let mut places = 0;
        for place in &answer.places {
            if !place.runs.iter().any(|run| here.contains(run.as_str())) {
                continue;
            }
            places += 1;
            let state = match place.verdict {
                SeparationVerdict::Met | SeparationVerdict::Joins => continue,
                SeparationVerdict::NotProved => HoldState::NeedsReason,
                SeparationVerdict::Short => HoldState::Fails,
            };
            // Worst first, so that a pair's first place stands for it.
            let about = place.runs.join(":");
            if items.iter().any(|item| item.about == about) {
                continue;
            }
            items.push(HoldItem {
                at: Some([place.place[0], place.place[1]]),
                ..item(
                    "separation",
                    &about,
                    state,
                    format!("{} (by {})", place.says, place.rule.source),
                )
            });
        }
        let services: BTreeSet<&str> = (area.records.iter())
            .map(|record| record.service.style().slug)
            .collect();
        let without: Vec<String> = (answer.without_figure.iter())
            .filter(|pair| pair.iter().any(|service| services.contains(service.as_str())))
            .map(|pair| pair.join(" with "))
            .collect();
        if !without.is_empty() {
            let without: Vec<&str> = without.iter().map(String::as_str).collect();
            let says = format!(
                "no figure counts for {}, so nothing is proved at any distance",
                few(&without)
            );
            items.push(item("separation", "no-figure", HoldState::NeedsReason, says));
        }
        if answer.not_listed > 0 {
            let says = format!(
                "{} places where runs meet are not listed; ask for a smaller site",
                answer.not_listed
            );
            items.push(item("separation", "not-listed", HoldState::NeedsReason, says));
        }
        let unplaced: Vec<&str> = (answer.not_placed.iter())
            .map(String::as_str)
            .filter(|run| !here.contains(run))
            .collect();
        if !unplaced.is_empty() {
            let near: Vec<&str> = unplaced
                .into_iter()
                .filter(|run| self.may_come_near(run, area).unwrap_or(true))
                .collect();
            if !near.is_empty() {
                let says = format!("{} is not placed, and may come near", few(&near));
                items.push(item("separation", "not-placed", HoldState::NeedsReason, says));
            }
        }
        if items.is_empty() && !area.records.is_empty() {
            let says = format!("places where runs meet here, each met or a joint: {places}");
            items.push(item("separation", "", HoldState::Passes, says));
        }
        Ok(items)
    }

    /// Whether a run that is not placed may come near one of the area.
    fn may_come_near(&self, run: &str, area: &Area) -> Result<bool, Refusal> {
        let boxes = |record: &RunRecord| {
            record
                .plan_boxes()
                .map_err(|e| Refusal::about("run", &record.key, e.to_string()))
        };
        let mut mine = Vec::new();
        for record in &area.records {
            mine.extend(boxes(record)?.iter().map(|b| b.grown(self.separation_reach_m())));
        }
        let standing = run.split(" (held ").next().unwrap_or(run);
        for record in self.known_run(standing)?.in_the_ground() {
            for theirs in boxes(record)? {
                if mine.iter().any(|own| own.meets(&theirs)) {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    }

    /// The level books that levels hang on: each closes within its limit.
    fn of_level_books(&self, hangs: &Hangs<'_>) -> Vec<HoldItem> {
        let mut books: BTreeMap<&str, Closes> = BTreeMap::new();
        for label in &hangs.points {
            if let Some((level, book)) = self.booked.get(*label) {
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

/// What the points of an area hang on.
#[derive(Default)]
struct Hangs<'s> {
    /// Every point, those that others were taped from included.
    points: BTreeSet<&'s str>,
    /// Points that came as coordinates alone.
    bare: BTreeSet<&'s str>,
    /// Points whose position or level nothing checks.
    unchecked: BTreeSet<&'s str>,
    /// Suspect points that were not shot from a station themselves.
    suspect: BTreeSet<&'s str>,
    /// Points by the station that they were shot from.
    stations: BTreeMap<&'s str, Vec<&'s str>>,
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

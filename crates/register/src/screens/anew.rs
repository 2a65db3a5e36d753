//! A station set anew: how its settings differ, and what moves with it.

use crate::body::KnownSight;
use crate::site::{Frame, Refusal, Site, Station};
use crate::station::SolvedStation;
use crate::view::{AnewView, CircleView, GeometryView, MoveView, Near, RevisionView, RunMoveView, Up, Why};
use crate::words::SightKind;
use ground::{Vec2, Vec3};
use std::collections::{BTreeMap, BTreeSet};
use survey::resection::danger_circle;
use survey::station_geometry::{StationLimits, geometry};

/// A point that lies less than this from where it lay has not moved. Metres; positions are written so.
const SAME_M: f64 = 0.0001;

/// Returns every setting of a station, oldest first.
pub(super) fn revisions(station: &Station, frame: &Frame) -> Vec<RevisionView> {
    let all: Vec<&SolvedStation> = station
        .earlier
        .iter()
        .chain([&station.solved])
        .map(|solved| solved.as_ref())
        .collect();
    let before = std::iter::once(None).chain(all.iter().copied().map(Some));
    all.iter()
        .zip(before)
        .map(|(solved, before)| revision(solved, before, frame))
        .collect()
}

fn revision(solved: &SolvedStation, before: Option<&SolvedStation>, frame: &Frame) -> RevisionView {
    let fix = &solved.report.solution.fix;
    let at = frame.grid_plan(Vec2::new(fix.easting_m, fix.northing_m));
    let mut why = Why::new();
    let mut absent = |field: &str, says: &str| why.insert(field.into(), says.into());
    if fix.level_m.is_none() {
        absent("level_m", "only its plan was solved");
        absent("u95_v_m", "it has no level");
    }
    let moved = before.map(|before| moved(before, solved));
    if moved.is_none() {
        absent("moved_plan_m", "it is the first setting");
    }
    let moved_level = moved.and_then(|(_, level)| level);
    if moved_level.is_none() {
        absent(
            "moved_level_m",
            "it is the first setting, or has no level on one side",
        );
    }
    RevisionView {
        entry: solved.entry,
        at: [Near(at.x), Near(at.y)],
        level_m: fix.level_m.map(Near),
        u95_h_m: Up(solved.report.plan_u95_m()),
        u95_v_m: solved.report.level_u95_m().map(Up),
        fits: solved.report.passes(),
        check: solved.check,
        control: sighted(solved, SightKind::Control)
            .into_iter()
            .map(str::to_owned)
            .collect(),
        changed: before.map(|before| changes(before, solved)).unwrap_or_default(),
        moved_plan_m: moved.map(|(plan, _)| Up(plan)),
        moved_level_m: moved_level.map(Near),
        why,
    }
}

/// How far a station moves: in plan, and in level where both have one.
fn moved(before: &SolvedStation, after: &SolvedStation) -> (f64, Option<f64>) {
    let (a, b) = (&before.report.solution.fix, &after.report.solution.fix);
    let plan = (b.easting_m - a.easting_m).hypot(b.northing_m - a.northing_m);
    (plan, a.level_m.zip(b.level_m).map(|(a, b)| b - a))
}

fn sighted(solved: &SolvedStation, kind: SightKind) -> BTreeSet<&str> {
    let of_kind = solved.set.sights.iter().filter(|s| s.sighted_as == kind);
    of_kind.map(|s| s.target.as_str()).collect()
}

/// Tells how one setting of a station differs from the one before it, as sentences.
pub(super) fn changes(before: &SolvedStation, after: &SolvedStation) -> Vec<String> {
    let mut said = Vec::new();
    let role = |solved: &SolvedStation, target: &str| {
        solved
            .set
            .sights
            .iter()
            .find(|s| s.target == target)
            .map(|s| s.sighted_as)
    };
    let word = |role: Option<SightKind>| match role {
        Some(SightKind::Control) => "takes part",
        Some(SightKind::Check) => "is kept as check",
        None => "is left out",
    };
    let targets: BTreeSet<&str> = [before, after]
        .iter()
        .flat_map(|solved| solved.set.sights.iter().map(|s| s.target.as_str()))
        .collect();
    for target in targets {
        let (was, is) = (role(before, target), role(after, target));
        if was != is {
            said.push(format!("{target} {} ({} before)", word(is), past(was)));
        }
        let rows = |solved: &SolvedStation| -> Vec<KnownSight> {
            let of_it = solved.set.sights.iter().filter(|s| s.target == target);
            of_it.cloned().collect()
        };
        let (old, new) = (rows(before), rows(after));
        if old.is_empty() || new.is_empty() {
            continue;
        }
        let figure = |of: fn(&KnownSight) -> &survey::Decimal, name: &str, unit: &str| {
            let texts = |rows: &[KnownSight]| -> Vec<String> {
                let mut texts: Vec<String> = rows.iter().map(|s| of(s).to_string()).collect();
                texts.dedup();
                texts
            };
            let (was, is) = (texts(&old), texts(&new));
            (was != is).then(|| {
                format!(
                    "{name} at {target}: {} {unit}, was {} {unit}",
                    is.join(" and "),
                    was.join(" and ")
                )
            })
        };
        said.extend(figure(|s| &s.sight.target_height_m, "target height", "m"));
        said.extend(figure(|s| &s.sight.prism_mm, "prism constant", "mm"));
        let readings = |rows: &[KnownSight]| -> Vec<_> {
            let of = |s: &KnownSight| {
                (
                    s.sight.direction.clone(),
                    s.sight.zenith.clone(),
                    s.sight.slope_m.clone(),
                )
            };
            rows.iter().map(of).collect()
        };
        if readings(&old) != readings(&new) {
            said.push(format!("readings to {target} are not those of before"));
        }
    }
    for point in &after.set_up.control {
        let Some(old) = before.set_up.control.iter().find(|old| old.id == point.id) else {
            continue;
        };
        let plan = (point.easting_m - old.easting_m).hypot(point.northing_m - old.northing_m);
        let level = point.level_m.zip(old.level_m).map_or(0.0, |(new, old)| new - old);
        if plan > SAME_M || level.abs() > SAME_M {
            let level = if level.abs() > SAME_M {
                format!(" and {:+.1} mm in level", level * 1000.0)
            } else {
                String::new()
            };
            said.push(format!(
                "{} is known {:.1} mm elsewhere in plan{level}",
                point.id,
                plan * 1000.0
            ));
        } else if point.covariance != old.covariance {
            said.push(format!("{} is known with another uncertainty", point.id));
        }
    }
    let (a, b) = (&before.set, &after.set);
    for (is_other, what) in [
        (a.instrument != b.instrument, "the instrument's figures"),
        (
            a.air != b.air || a.air_in_instrument != b.air_in_instrument,
            "the air",
        ),
        (
            a.instrument_height_m != b.instrument_height_m,
            "the height of the instrument",
        ),
        (a.angles != b.angles, "how angles are written"),
        (a.tolerance_mm != b.tolerance_mm, "what is accepted at the check"),
    ] {
        if is_other {
            said.push(format!("{what} differ from before"));
        }
    }
    said
}

fn past(role: Option<SightKind>) -> &'static str {
    match role {
        Some(SightKind::Control) => "took part",
        Some(SightKind::Check) => "was the check",
        None => "not sighted",
    }
}

/// Tells, for the book, where a setting moved its station to; nothing for a first one.
pub(super) fn moved_sentence(site: &Site, entry: u64) -> Option<String> {
    let (station, at) = site.stations.values().find_map(|station| {
        let mut all = station.earlier.iter().chain([&station.solved]);
        let at = all.position(|solved| solved.entry == entry)?;
        Some((station, at))
    })?;
    let all: Vec<_> = station.earlier.iter().chain([&station.solved]).collect();
    let (before, after) = (all.get(at.checked_sub(1)?)?, all.get(at)?);
    let frame = site.frame().ok()?;
    let place = |solved: &SolvedStation| {
        let fix = &solved.report.solution.fix;
        let at = frame.grid_plan(Vec2::new(fix.easting_m, fix.northing_m));
        let level = fix.level_m.map_or("no level".into(), |l| Near(l).text());
        format!("{} E, {} N, {level}", Near(at.x).text(), Near(at.y).text())
    };
    let why = changes(before, after).join("; ");
    let why = if why.is_empty() {
        String::new()
    } else {
        format!(" ({why})")
    };
    Some(format!(
        "from {} (entry {}) to {}{why}",
        place(before),
        before.entry,
        place(after)
    ))
}

impl Site {
    /// Returns what setting a station anew moved between two states of a site; this is the later one.
    ///
    /// # Errors
    /// A station that stands in neither, or only in one.
    pub fn anew_view(&self, before: &Site, station: &str) -> Result<AnewView, Refusal> {
        let frame = self.frame()?;
        let of = |site: &Site| {
            site.stations
                .get(station)
                .cloned()
                .ok_or_else(|| Refusal::about("no-such-station", station, "it is not set; set it first"))
        };
        let (old, new) = (of(before)?, of(self)?);
        let view = |station: &Station| {
            let mut view = super::station_view(&station.solved, &frame);
            view.suspect = station.suspect.iter().cloned().collect();
            view
        };
        let mut was = view(&old);
        was.entries.clone_from(&old.entries);
        was.revisions = revisions(&old, &frame);
        let mut moves: BTreeMap<&str, Vec3> = BTreeMap::new();
        for (label, point) in &self.points {
            let Some(there) = before.points.get(label) else {
                continue;
            };
            let by = point.placed.at - there.placed.at;
            if by.norm() > SAME_M {
                moves.insert(label, by);
            }
        }
        let hang = self.hang_on(station, before);
        let largest = |size: fn(&Vec3) -> f64| {
            let most = moves.iter().max_by(|a, b| size(a.1).total_cmp(&size(b.1)));
            most.filter(|(_, by)| size(by) > SAME_M / 2.0)
                .map(|(label, by)| MoveView {
                    point: (*label).to_owned(),
                    plan_m: Up(by.xy().norm()),
                    level_m: Near(by.z),
                })
        };
        let largest_plan = largest(|by| by.xy().norm());
        let largest_level = largest(|by| by.z.abs());
        let runs = self.run_moves(&moves);
        let (station_plan, station_level) = moved(&old.solved, &new.solved);
        let mut why = Why::new();
        for (field, is_null) in [
            ("largest_plan", largest_plan.is_none()),
            ("largest_level", largest_level.is_none()),
        ] {
            if is_null {
                why.insert(field.into(), "no point moves so".into());
            }
        }
        if station_level.is_none() {
            why.insert("station_level_m".into(), "one of the two has no level".into());
        }
        Ok(AnewView {
            format: "coverbook.station-anew/1".into(),
            says: says(
                station,
                hang,
                moves.len(),
                largest_plan.as_ref(),
                largest_level.as_ref(),
                &runs,
            ),
            changed: changes(&old.solved, &new.solved),
            before: was,
            after: view(&new),
            station_plan_m: Up(station_plan),
            station_level_m: station_level.map(Near),
            points: hang as u64,
            moved: moves.len() as u64,
            largest_plan,
            largest_level,
            runs,
            why,
        })
    }

    /// Counts the points that hang on a station, and those that moved with corrected control.
    fn hang_on(&self, station: &str, before: &Site) -> usize {
        let mut labels = self.measured_from(station);
        let corrected = self.control.iter().filter(|(name, states)| {
            let there = before.control.get(*name).map_or(0, Vec::len);
            states.len() > there
        });
        labels.extend(corrected.map(|(name, _)| name.clone()));
        self.with_hanging_on(&labels).map_or(0, |all| all.len())
    }

    fn run_moves(&self, moves: &BTreeMap<&str, Vec3>) -> Vec<RunMoveView> {
        let mut runs: Vec<(f64, RunMoveView)> = Vec::new();
        for (name, run) in &self.runs {
            let of_it: Vec<&Vec3> = run
                .laid
                .points
                .iter()
                .filter_map(|label| moves.get(label.as_str()))
                .collect();
            let Some(most) = of_it.iter().map(|by| by.norm()).max_by(f64::total_cmp) else {
                continue;
            };
            let plan = of_it.iter().map(|by| by.xy().norm()).fold(0.0, f64::max);
            let level = of_it
                .iter()
                .map(|by| by.z)
                .fold(0.0, |most: f64, z| if z.abs() > most.abs() { z } else { most });
            let view = RunMoveView {
                run: name.clone(),
                points: of_it.len() as u64,
                plan_m: Up(plan),
                level_m: Near(level),
            };
            runs.push((most, view));
        }
        runs.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.run.cmp(&b.1.run)));
        runs.into_iter().map(|(_, view)| view).collect()
    }
}

fn says(
    station: &str,
    hang: usize,
    moved: usize,
    plan: Option<&MoveView>,
    level: Option<&MoveView>,
    runs: &[RunMoveView],
) -> String {
    if hang == 0 {
        return format!("Nothing hangs on {station}: no point moves.");
    }
    if moved == 0 {
        return format!("None of the points that hang on {station} moves ({hang} in all).");
    }
    let most = |word: &str, of: Option<(&str, String)>| {
        of.map_or(format!("none in {word}"), |(point, by)| {
            format!("the most in {word} {by} m ({point})")
        })
    };
    let plan = most("plan", plan.map(|m| (m.point.as_str(), m.plan_m.text())));
    let level = most("level", level.map(|m| (m.point.as_str(), m.level_m.text())));
    let runs = match runs.len() {
        0 => "no run moves".to_owned(),
        1 => format!("run {} moves", runs[0].run),
        n => format!("{n} runs move"),
    };
    let all = if hang == 1 {
        "the one point that hangs".to_owned()
    } else {
        format!("{moved} of the {hang} points that hang")
    };
    format!("Moves {all} on {station}: {plan}, {level}; {runs}.")
}

/// Returns how the control of a solved station lies about it.
pub(super) fn geometry_view(solved: &SolvedStation, frame: &Frame) -> GeometryView {
    let limits = StationLimits::default();
    let fix = &solved.report.solution.fix;
    let place = [fix.easting_m, fix.northing_m];
    let found = geometry(&solved.set_up, place);
    let directions_only = !solved.set_up.observations.iter().any(|o| o.quantity.is_length());
    let points: Vec<_> = solved
        .set_up
        .control
        .iter()
        .map(|p| [p.easting_m, p.northing_m])
        .collect();
    let near = found
        .circle_share
        .is_some_and(|share| share < limits.circle_share);
    // With more than three points there is a danger circle only where all of them lie on one with the station.
    let circle = match points.as_slice() {
        [a, b, c] => danger_circle([*a, *b, *c]),
        [a, b, c, ..] if near => danger_circle([*a, *b, *c]),
        _ => None,
    };
    let circle = circle.map(|circle| {
        let centre = frame.grid_plan(Vec2::new(circle.centre_m[0], circle.centre_m[1]));
        CircleView {
            centre: [Near(centre.x), Near(centre.y)],
            radius_m: Near(circle.radius_m),
            off_m: Near(circle.distance_from_m(place)),
            near,
            directions_only,
        }
    });
    let mut why = Why::new();
    if circle.is_none() {
        why.insert("circle".into(), "no one circle holds all the control".into());
    }
    GeometryView {
        sector_deg: (found.sector_rad.to_degrees() * 10.0).round() / 10.0,
        narrow: found.sector_rad < limits.narrow_rad,
        one_side: found.points > 2 && found.sector_rad < limits.one_side_rad,
        on_one_line: found.points > 2 && found.line_share < limits.line_share,
        circle,
        why,
    }
}

//! The book: each entry as a sentence.

use crate::body::{Act, Body, DownTo, SurfaceShape};
use crate::chain;
use crate::entry::Entry;
use crate::site::Site;
use crate::view::EntryView;
use uuid::Uuid;

/// Tells the name behind a person's id.
pub type Who<'a> = &'a dyn Fn(Uuid) -> String;

/// Returns an entry as the book shows it; `bytes` are its stored body.
pub fn entry_view(site: &Site, entry: &Entry, bytes: &[u8], who: Who<'_>) -> EntryView {
    let raw = serde_json::from_slice(bytes).unwrap_or(serde_json::Value::Null);
    let text = |field: &str| {
        raw.get(field)
            .and_then(|v| v.as_str())
            .unwrap_or_default()
            .to_string()
    };
    let (by, says) = match &entry.body {
        Ok(body) => (who(body.by), sentence(body) + &moved(site, entry, body)),
        Err(unreadable) => (text("by"), unreadable.to_string()),
    };
    let mark = entry
        .body
        .as_ref()
        .ok()
        .and_then(|body| site.entries.get(&body.id));
    let withdrawn = mark.and_then(|mark| mark.withdrawn.as_ref());
    EntryView {
        n: entry.n,
        id: text("id"),
        kind: text("kind"),
        recorded_at: entry.recorded_at.clone(),
        observed_at: text("observed_at"),
        by,
        device: text("device"),
        says,
        head: chain::hex(&entry.head),
        withdrawn: withdrawn.map(|(n, reason)| format!("by entry {n}: {reason}")),
        body: raw,
    }
}

/// What the book adds of a station that was set again: where it stood and where it stands.
fn moved(site: &Site, entry: &Entry, body: &Body) -> String {
    match &body.act {
        Act::StationSet(set) if set.saw.is_some() => super::anew::moved_sentence(site, entry.n)
            .map(|says| format!(", {says}"))
            .unwrap_or_default(),
        _ => String::new(),
    }
}

fn count(n: usize, one: &str, many: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {many}")
    }
}

fn sentence(body: &Body) -> String {
    match &body.act {
        Act::SiteOpened(o) => format!("Opened the site {} on levels of {}", o.name, o.level_datum),
        Act::RulesAdopted(r) => {
            let id = r
                .text
                .lines()
                .find_map(|line| line.strip_prefix("id = "))
                .unwrap_or("a rule set")
                .trim_matches('"');
            format!(
                "Adopted the rule set {id}, vouching for {}",
                count(r.confirmed.len(), "figure", "figures")
            )
        }
        Act::ControlRecorded(c) => format!(
            "Recorded {}",
            count(c.points.len(), "control point", "control points")
        ),
        Act::StationSet(s) => {
            let control = s
                .sights
                .iter()
                .filter(|k| k.sighted_as == crate::words::SightKind::Control);
            let names: std::collections::BTreeSet<&str> = control.map(|k| k.target.as_str()).collect();
            let again = if s.saw.is_some() { "Set again" } else { "Set" };
            let names: Vec<&str> = names.into_iter().collect();
            format!("{again} station {} by {}", s.station, names.join(", "))
        }
        Act::LevelsBooked(l) => format!(
            "Booked levels in {}: {}",
            l.book,
            count(l.rows.len(), "row", "rows")
        ),
        Act::GridTied(t) => {
            format!(
                "Tied the grid to EPSG:{} by {}",
                t.epsg,
                count(t.common.len(), "common point", "common points")
            )
        }
        Act::PointsRecorded(p) => {
            let from = p
                .import
                .as_ref()
                .map(|i| format!(" from {}", i.file))
                .unwrap_or_default();
            format!("Recorded {}{from}", count(p.points.len(), "point", "points"))
        }
        Act::RunsExpected(e) => format!("Expects {}", count(e.runs.len(), "run", "runs")),
        Act::RunLaid(r) => {
            let service = r.service.style().name;
            format!(
                "Laid run {} ({service}) through {}",
                r.run,
                count(r.points.len(), "point", "points")
            )
        }
        Act::RunAmended(a) => format!("Amended run {}: {}", a.becomes.run, a.reason),
        Act::RunRetired(r) => format!("Retired run {} ({}): {}", r.run, r.how, r.reason),
        Act::SurfaceRecorded(s) => {
            let shape = match &s.shape {
                SurfaceShape::Level { level_m } => format!("level {level_m}"),
                SurfaceShape::Plane { points } => {
                    format!("a plane through {}", count(points.len(), "point", "points"))
                }
                SurfaceShape::Tin { points, .. } => format!("a triangulation of {points} points"),
            };
            format!("Recorded the surface {} ({}): {shape}", s.surface, s.surface_kind)
        }
        Act::AreaSearched(a) => {
            let deep = match &a.down_to {
                DownTo::Depth { depth_m, surface } => format!("{depth_m} m below {surface}"),
                DownTo::Level { level_m } => format!("level {level_m}"),
            };
            format!("Searched area {} down to {deep}: {}", a.area, a.outcome)
        }
        Act::FileAttached(f) => format!("Attached {} ({} bytes) to {}", f.file, f.bytes, f.about),
        Act::CoverChecked(c) => format!("Kept a cover check at head {}", short_head(&c.head)),
        Act::CoverReleased(r) => {
            let runs = count(r.runs.len(), "run", "runs");
            let reasons = match r.accepted.len() {
                0 => String::new(),
                n => format!(", with a reason for {}", count(n, "open item", "open items")),
            };
            format!("Hold point of {} ({runs}): {}{reasons}", r.area, r.outcome)
        }
        Act::ReleaseWithdrawn(w) => format!("Withdrew a release: {}", w.reason),
        Act::DigPlanned(d) => format!("Kept a planned dig at head {}", short_head(&d.head)),
        Act::SheetIssued(s) => format!("Issued a sheet ({}) at head {}", s.sheet, short_head(&s.head)),
        Act::NoteAdded(n) => n
            .about
            .as_ref()
            .map_or_else(|| n.text.clone(), |about| format!("{about}: {}", n.text)),
        Act::EntryCorrected(c) => format!(
            "Corrected {}: {}",
            count(c.points.len(), "point", "points"),
            c.reason
        ),
        Act::EntryWithdrawn(w) => format!("Withdrew an entry: {}", w.reason),
        Act::ContentErased(e) => format!("Erased content kept beside the chain: {}", e.reason),
    }
}

/// The number and the first digits of a head `n:hex`.
fn short_head(head: &str) -> String {
    let (n, hex) = head.split_once(':').unwrap_or((head, ""));
    format!("{n}:{}", hex.get(..12).unwrap_or(hex))
}

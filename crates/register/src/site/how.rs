//! How a point came about, in a sentence: the raw readings, and what they hang on.

use super::{Point, Site};
use crate::body::{DetectorRow, LevelFrom, MeasuredFrom, TieRow};
use crate::words::{HeightAbove, SurfaceKind};

impl Site {
    /// Returns how a point was measured, in words with its readings.
    pub fn how(&self, point: &Point) -> String {
        let row = &point.row;
        let plan = match &row.measured {
            None => "by coordinates, as given".to_owned(),
            Some(MeasuredFrom::Station { station, sights }) => {
                let faces = if sights.len() > 1 { " on both faces" } else { "" };
                format!("sighted from station {station}{faces}")
            }
            Some(MeasuredFrom::Ties { ties, side, .. }) => {
                let marks: Vec<&str> = ties.iter().take(2).map(|tie| tie.from.as_str()).collect();
                let taped: Vec<String> = ties.iter().map(tie_words).collect();
                format!("taped {}, {side} of {}", taped.join(", "), marks.join(" to "))
            }
            Some(MeasuredFrom::Offset(taped)) => {
                let off = if taped.side == "on-line" {
                    "on the line".to_owned()
                } else {
                    format!("{} m to the {}", taped.offset_m, taped.side)
                };
                format!(
                    "taped {} m along the line from {} to {}, {off}",
                    taped.chainage_m, taped.from, taped.to
                )
            }
            Some(MeasuredFrom::Satellite(shown)) => format!("by satellite, solution {}", shown.fix),
            Some(MeasuredFrom::Coordinates(_)) => "at a plan position as given".to_owned(),
        };
        let level = row.measured.as_ref().and_then(MeasuredFrom::level);
        let level = level.map(|level| self.level_words(level, point.observed_at()));
        let booked = self
            .booked
            .get(&row.point)
            .filter(|(level, _)| {
                level.touched == Some(row.touched) && level.closes != crate::levels::Closes::Over
            })
            .map(|(_, book)| format!("level by level book {book}"));
        let parts = [Some(plan), level, booked].into_iter().flatten();
        let again = point.placed.again.iter().cloned();
        let same = row.same_as.iter().map(|first| format!("measures {first} again"));
        parts.chain(again).chain(same).collect::<Vec<_>>().join("; ")
    }

    fn level_words(&self, from: &LevelFrom, day: &str) -> String {
        match from {
            LevelFrom::Stated { level_m, .. } => format!("level {level_m} m, stated"),
            LevelFrom::Staff {
                mark, back_m, fore_m, ..
            } => format!("level by staff from {mark}: {back_m} m on it, {fore_m} m here"),
            LevelFrom::Depth {
                surface,
                surface_kind,
                depth_m,
                ..
            } => format!(
                "taped {depth_m} m below {}",
                self.surface_words(surface, *surface_kind, day)
            ),
            LevelFrom::Detector(shown) => {
                let DetectorRow {
                    surface,
                    surface_kind,
                    depth_m,
                    method,
                    percent,
                    constant_mm,
                    ..
                } = shown.as_ref();
                format!(
                    "detected ({method}), not seen, {depth_m} m below {} as displayed, stated to {percent} % and \
                     {constant_mm} mm",
                    self.surface_words(surface, *surface_kind, day)
                )
            }
            LevelFrom::Receiver {
                height_m,
                above,
                antenna_m,
            } => {
                let above = match above {
                    HeightAbove::SiteDatum => "the site's datum",
                    HeightAbove::Ellipsoid => "the ellipsoid",
                };
                format!("level by the receiver: {height_m} m above {above}, less {antenna_m} m of antenna")
            }
        }
    }

    /// Returns the state of a surface that a depth of a day hangs on, with its date.
    fn surface_words(&self, name: &str, kind: SurfaceKind, day: &str) -> String {
        let state = self.surface_on_day(name, kind, day);
        state.map_or_else(|_gone| format!("{name}, {kind}"), |state| state.says())
    }
}

fn tie_words(tie: &TieRow) -> String {
    let slope = tie
        .rise_m
        .as_ref()
        .map(|rise| format!(" along a slope of {rise} m"))
        .unwrap_or_default();
    format!("{} m{slope} from {}", tie.distance_m, tie.from)
}

//! A run as recorded: its shots in the site frame, its section and ends; the tube is laid from these.
//!
//! This is what the store keeps of a run beside its index boxes, so that a planned dig needs no points. It is a
//! cache: replaying the journal gives the same bytes.

use crate::body::{RunEnd, RunLaid, SectionRow};
use crate::rules::Adopted;
use crate::service::Service;
use crate::site::{Point, Refusal};
use crate::sizes;
use crate::words::{Fitting, Known, Touched};
use ground::Vec3;
use ground::axis::{Shot, Sizes};
use ground::bend::{BendMark, BendPart};
use ground::lay::{LaidTube, lay_tube};
use ground::tube::Section;
use serde::{Deserialize, Serialize};
use survey::Decimal;

/// Whether a run is in use.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RunStatus {
    /// In use, or nobody said otherwise.
    InUse,
    /// Left in the ground; treat as live.
    Abandoned,
    /// Said to be removed, but nobody saw it go: it stays in every answer.
    RemovalNotSeen,
    /// Replaced by others, which are named; it stays in every answer.
    Superseded,
    /// An amendment that did not see the newest revision: kept beside it until a person settles it.
    Held,
}

impl RunStatus {
    /// Returns the word for a screen.
    pub fn words(&self) -> &'static str {
        match self {
            RunStatus::InUse => "in-use",
            RunStatus::Abandoned => "abandoned",
            RunStatus::RemovalNotSeen => "removal-not-seen",
            RunStatus::Superseded => "superseded",
            RunStatus::Held => "held",
        }
    }
}

/// The outside of a run and what of it was taken from a table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SectionFacts {
    /// Outside width, metres.
    pub width_m: f64,
    /// Outside height, metres; equal to the width of a round run.
    pub height_m: f64,
    /// True for a bank of ways in its enclosing box.
    pub bank: bool,
    /// How many ways.
    pub ways: u32,
    /// Inside diameter, metres; absent when the wall is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bore_m: Option<f64>,
    /// Nominal size, millimetres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size_mm: Option<f64>,
    /// True when an outside or a spacing was assumed.
    pub assumed: bool,
    /// The section in words.
    pub words: String,
}

impl SectionFacts {
    /// Works out the outside from what was stated.
    ///
    /// A nominal size alone gives the largest outside listed for it; a spacing not stated gives touching ways;
    /// both are marked as assumed.
    ///
    /// # Errors
    /// When neither an outside nor a listed size is given, or a figure is out of reason.
    pub fn of(section: &SectionRow) -> Result<SectionFacts, String> {
        let mm = |value: &Option<Decimal>| value.as_ref().map(Decimal::to_f64);
        let (size, stated, wall) = (
            mm(&section.size_mm),
            mm(&section.outside_mm),
            mm(&section.wall_mm),
        );
        let (outside_mm, from_table) = match (stated, size) {
            (Some(outside), _) => (outside, None),
            (None, Some(size)) => match sizes::largest_outside_mm(size) {
                Some((outside, family)) => (outside, Some(family.name)),
                None => {
                    return Err(format!(
                        "size {size} mm is in no table; give outside_mm, measured"
                    ));
                }
            },
            (None, None) => return Err("no size; give outside_mm, measured, or size_mm".into()),
        };
        if !(1.0..=6000.0).contains(&outside_mm) {
            return Err(format!(
                "an outside of {outside_mm} mm is out of reason; give millimetres from 1 to 6000"
            ));
        }
        if let Some(wall) = wall
            && !(wall > 0.0 && wall * 2.0 < outside_mm)
        {
            return Err(format!(
                "a wall of {wall} mm does not fit in an outside of {outside_mm} mm; check both"
            ));
        }
        let (rows, columns) = (section.rows.unwrap_or(1), section.columns.unwrap_or(1));
        if !(1..=50).contains(&rows) || !(1..=50).contains(&columns) {
            return Err(format!(
                "a bank of {rows} rows by {columns} columns is out of reason; give 1 to 50 of each"
            ));
        }
        let bank = rows * columns > 1;
        let spacing = mm(&section.spacing_mm);
        if let Some(spacing) = spacing
            && bank
            && spacing < outside_mm
        {
            return Err(format!(
                "ways {outside_mm} mm outside cannot be {spacing} mm apart; give the centre spacing in millimetres"
            ));
        }
        let pitch = spacing.unwrap_or(outside_mm);
        let span = |count: u32| (f64::from(count - 1) * pitch + outside_mm) / 1000.0;
        let mut words = if bank {
            format!("{rows} x {columns} ways, each ")
        } else {
            String::new()
        };
        words += &format!("{outside_mm} mm outside");
        if let Some(family) = from_table {
            words += &format!(
                " (assumed for size {}: largest listed, {family})",
                size.unwrap_or_default()
            );
        } else if let Some(size) = size {
            words += &format!(", size {size}");
        }
        match wall {
            Some(wall) => words += &format!(", {wall} mm wall"),
            None if !bank => words += ", wall not stated",
            None => {}
        }
        if let Some(material) = &section.material {
            words += &format!(", {material}");
        }
        if bank && spacing.is_none() {
            words += ", spacing not stated: touching ways assumed";
        }
        Ok(SectionFacts {
            width_m: span(columns),
            height_m: span(rows),
            bank,
            ways: rows * columns,
            bore_m: wall
                .filter(|_| !bank)
                .map(|wall| (outside_mm - 2.0 * wall) / 1000.0),
            size_mm: size,
            assumed: from_table.is_some() || (bank && spacing.is_none()),
            words,
        })
    }

    fn sizes(&self) -> Sizes {
        let section = if self.bank {
            Section::Bank {
                half_width_m: self.width_m / 2.0,
                half_height_m: self.height_m / 2.0,
            }
        } else {
            Section::Round {
                radius_m: self.width_m / 2.0,
            }
        };
        Sizes {
            section,
            inside_radius_m: self.bore_m.map(|bore| bore / 2.0),
        }
    }
}

/// One shot of a run, in the site frame.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunShot {
    /// Its point's label.
    pub point: String,
    /// Easting, northing, level in the site frame, metres.
    pub at: [f64; 3],
    /// What was touched.
    pub touched: Touched,
    /// Direction from axis to side, degrees from grid north.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub side_bearing_deg: Option<f64>,
    /// What it is on the run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fitting: Option<Fitting>,
    /// Radius of its bend, metres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bend_radius_m: Option<f64>,
    /// Standard deviation in plan, each axis, metres, as stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sigma_h_m: Option<f64>,
    /// Standard deviation in level, metres, as stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sigma_v_m: Option<f64>,
    /// How it is known, as stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub known: Option<Known>,
    /// What is doubtful about where it is.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<String>,
    /// True when a failed check of its station leaves it suspect.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub suspect: bool,
    /// True when no class default may stand in for a missing uncertainty.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub not_defaulted: bool,
    /// When it was measured.
    pub observed_at: String,
}

impl RunShot {
    /// How it is known; not stated counts as assumed.
    pub fn known_or_assumed(&self) -> Known {
        self.known.unwrap_or(Known::Assumed)
    }

    /// Returns the standard deviations to use, and whether any is a class default of the rule set.
    pub fn sigmas_m(&self, rules: Option<&Adopted>) -> (Option<f64>, Option<f64>, bool) {
        let stated = [self.sigma_h_m, self.sigma_v_m];
        sigmas_m(rules, self.known_or_assumed(), stated, self.not_defaulted)
    }
}

/// Returns stated standard deviations in plan and level (metres), the class default of the rule set where one is
/// missing and may stand in, and whether any is a default.
pub(crate) fn sigmas_m(
    rules: Option<&Adopted>,
    known: Known,
    [sigma_h_m, sigma_v_m]: [Option<f64>; 2],
    not_defaulted: bool,
) -> (Option<f64>, Option<f64>, bool) {
    let default = rules.filter(|_| !not_defaulted);
    let default = default.and_then(|rules| rules.sigma_m(known));
    let assumed = default.is_some() && (sigma_h_m.is_none() || sigma_v_m.is_none());
    (
        sigma_h_m.or(default.map(|d| d.0)),
        sigma_v_m.or(default.map(|d| d.1)),
        assumed,
    )
}

/// How records are made and laid: raised with every change of sizes, axis, bends, doubts or fields, so that rows kept by an
/// older program are made again and never answered from.
pub const RECORD_VERSION: u32 = 5;

/// A run as recorded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunRecord {
    /// [`RECORD_VERSION`] of the program that made it.
    pub record_version: u32,
    /// Unique in the site: the name, or `NAME (held N)`.
    pub key: String,
    /// Its name.
    pub run: String,
    /// What it carries.
    pub service: Service,
    /// Its outside.
    pub section: SectionFacts,
    /// How it begins and ends.
    pub ends: [RunEnd; 2],
    /// Whether it is in use.
    pub status: RunStatus,
    /// More about the status: who replaced it, why it is held.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub status_says: Option<String>,
    /// How far a leg may bow off its chord, metres, when stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bow_m: Option<f64>,
    /// Whose it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub owner: Option<String>,
    /// Remarks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The entry that laid this revision.
    pub entry: u64,
    /// Its shots in order.
    pub shots: Vec<RunShot>,
}

impl RunRecord {
    /// Makes the record of a run through points.
    ///
    /// # Errors
    /// A [`Refusal`] names the run, the point and the mend.
    pub(crate) fn of(
        laid: &RunLaid,
        key: String,
        entry: u64,
        point: impl Fn(&str) -> Option<Point>,
    ) -> Result<RunRecord, Refusal> {
        let refuse = |code, says: String| Refusal::about(code, &laid.run, says);
        let section = SectionFacts::of(&laid.section).map_err(|says| refuse("section", says))?;
        let mut shots = Vec::with_capacity(laid.points.len());
        for label in &laid.points {
            let Some(found) = point(label) else {
                return Err(refuse(
                    "no-such-point",
                    format!("point {label} is not recorded; import it first"),
                ));
            };
            shots.push(shot_of(&found).map_err(|says| refuse("touched", says))?);
        }
        let bow_m = laid.bow_mm.as_ref().map(|mm| mm.to_f64() / 1000.0);
        if let Some(bow_m) = bow_m
            && !(0.0..=5.0).contains(&bow_m)
        {
            return Err(refuse(
                "bow",
                format!("a bow of {bow_m} m is out of reason; give bow_mm from 0 to 5000"),
            ));
        }
        let record = RunRecord {
            record_version: RECORD_VERSION,
            key,
            run: laid.run.clone(),
            service: laid.service,
            section,
            ends: laid.ends.clone(),
            status: RunStatus::InUse,
            status_says: None,
            bow_m,
            owner: laid.owner.clone(),
            note: laid.note.clone(),
            entry,
            shots,
        };
        match record.lay(None) {
            Ok(_) => Ok(record),
            Err(error) => {
                let at = error
                    .shot()
                    .and_then(|shot| laid.points.get(shot.wrapping_sub(1)));
                let row = at.and_then(|label| point(label)).and_then(|found| found.row.row);
                Err(refuse("axis", format!("{error} ({})", record.shot_names())).at_row(row))
            }
        }
    }

    /// Lays the tube, with growth from stated uncertainty or the rule set's class defaults.
    ///
    /// # Errors
    /// As [`lay_tube`]; a record made by the fold was laid once already and does not fail.
    pub fn lay(&self, rules: Option<&Adopted>) -> Result<LaidTube, ground::axis::AxisError> {
        let shots: Vec<Shot> = self.shots.iter().map(|shot| ground_shot(shot, rules)).collect();
        let bows = vec![self.bow_m.unwrap_or_default(); self.shots.len().saturating_sub(1)];
        lay_tube(&shots, &self.section.sizes(), &bows)
    }

    /// Returns the worst way of knowing of the shots from `first` to `last`.
    pub fn known_between(&self, first: usize, last: usize) -> Known {
        let part = self.shots[first.min(self.shots.len() - 1)..=last.min(self.shots.len() - 1)].iter();
        part.map(RunShot::known_or_assumed)
            .max()
            .unwrap_or(Known::Assumed)
    }

    /// Returns the worst way of knowing of the whole run.
    pub fn known(&self) -> Known {
        self.known_between(0, self.shots.len() - 1)
    }

    fn shot_names(&self) -> String {
        let names: Vec<_> = self
            .shots
            .iter()
            .enumerate()
            .map(|(i, s)| format!("{} is {}", i + 1, s.point))
            .collect();
        let shown = names.len().min(12);
        let more = if names.len() > shown { ", ..." } else { "" };
        format!("shot {}{more}", names[..shown].join(", "))
    }
}

fn shot_of(point: &Point) -> Result<RunShot, String> {
    let row = &point.row;
    match row.touched {
        Touched::Ground | Touched::Other => {
            return Err(format!(
                "point {} touched {}; a run needs points on its outside-top, invert, centre, outside-bottom or side",
                row.point, row.touched
            ));
        }
        Touched::Side if row.side_bearing_deg.is_none() => {
            return Err(format!(
                "point {} touched a side without side_bearing_deg; give the direction from the axis to the side",
                row.point
            ));
        }
        _ => {}
    }
    let placed = &point.placed;
    let metres = |mm: &Option<Decimal>| mm.as_ref().map(|v| v.to_f64() / 1000.0);
    Ok(RunShot {
        point: row.point.clone(),
        at: [placed.at.x, placed.at.y, placed.at.z],
        touched: row.touched,
        side_bearing_deg: row.side_bearing_deg.as_ref().map(Decimal::to_f64),
        fitting: row.fitting,
        bend_radius_m: metres(&row.bend_radius_mm),
        sigma_h_m: placed.sigma_h_m,
        sigma_v_m: placed.sigma_v_m,
        doubts: placed.doubts.clone(),
        suspect: placed.suspect,
        known: placed.known,
        not_defaulted: placed.not_defaulted,
        observed_at: row
            .observed_at
            .clone()
            .unwrap_or_else(|| point.observed_at.clone()),
    })
}

fn ground_shot(shot: &RunShot, rules: Option<&Adopted>) -> Shot {
    let part = match shot.fitting {
        Some(Fitting::BendStart) => Some(BendPart::Start),
        Some(Fitting::BendMid) => Some(BendPart::Mid),
        Some(Fitting::BendEnd) => Some(BendPart::End),
        Some(Fitting::BendPi) => Some(BendPart::Pi),
        // A run turns inside a pit or at a branch, and leaves it straight.
        Some(Fitting::Pit | Fitting::Tee) => Some(BendPart::Corner),
        _ => None,
    };
    let touched = match shot.touched {
        Touched::OutsideTop => ground::axis::Touched::OutsideTop,
        Touched::Invert => ground::axis::Touched::Invert,
        Touched::OutsideBottom => ground::axis::Touched::OutsideBottom,
        Touched::Side => ground::axis::Touched::Side {
            bearing_rad: shot.side_bearing_deg.unwrap_or_default().to_radians(),
        },
        // Ground and other never reach a run record.
        Touched::Centre | Touched::Ground | Touched::Other => ground::axis::Touched::Centre,
    };
    let (sigma_h_m, sigma_v_m, _) = shot.sigmas_m(rules);
    Shot {
        position: Vec3::new(shot.at[0], shot.at[1], shot.at[2]),
        touched,
        bend: part.map(|part| BendMark {
            part,
            radius_m: shot.bend_radius_m,
        }),
        sigma_h_m,
        sigma_v_m,
    }
}

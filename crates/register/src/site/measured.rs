//! Points in the fold by tape, satellite and detector: the plan position, and how the sources cap what is known.

use super::placing::Fresh;
use super::{Placed, Refusal, Site};
use crate::body::{CoordinatesRow, LevelFrom, MeasuredFrom, OffsetRow, PointRow, SatelliteRow, TieRow};
use crate::words::{Known, SatelliteFix, Touched};
use ground::{Vec2, Vec3};
use survey::satellite::Solution;
use survey::stated_accuracy::plan_sigma_m;
use survey::taped_offset::{Ends, LineEnd, SQUARE_BY_EYE_DEG, TapedOffset, fix_by_offset};
use survey::ties::{RISE_SIGMA_M, Side, SwingTie, fix_by_ties, level_distance_m, level_sigma_m};
use survey::{Decimal, PlanCovariance};

/// A point that others are measured from.
pub(super) struct KnownAt {
    /// In the site frame.
    pub(super) at: Vec3,
    pub(super) plan: Option<PlanCovariance>,
    pub(super) sigma_v_m: Option<f64>,
    pub(super) suspect: bool,
    is_control: bool,
}

/// A plan position from one source.
pub(super) struct Plan {
    /// In the site frame.
    pub(super) at: Vec2,
    pub(super) covariance: Option<PlanCovariance>,
    pub(super) sure: Sure,
}

/// What a source says of how good it is, beside its sigmas.
#[derive(Default)]
pub(super) struct Sure {
    pub(super) doubts: Vec<String>,
    pub(super) suspect: bool,
    /// The best that it may be known as, and why.
    pub(super) cap: Option<(Known, &'static str)>,
    pub(super) not_defaulted: bool,
}

impl Sure {
    pub(super) fn cap(&mut self, at: Known, why: &'static str) {
        if self.cap.is_none_or(|(known, _)| known < at) {
            self.cap = Some((at, why));
        }
    }

    /// Takes over what is suspect in a point that this hangs on.
    pub(super) fn hang_on(&mut self, name: &str, known: &KnownAt) {
        if known.suspect {
            self.suspect = true;
            self.doubts
                .push(format!("measured from {name}, which is suspect"));
        }
    }
}

/// Refuses readings of one point.
pub(super) struct Refuse<'a> {
    row: &'a PointRow,
}

impl Refuse<'_> {
    pub(super) fn says(&self, code: &'static str, says: impl AsRef<str>) -> Refusal {
        Refusal::about(code, &format!("point {}", self.row.point), says).at_row(self.row.row)
    }

    /// Returns a figure that must lie between two bounds.
    pub(super) fn within(
        &self,
        name: &str,
        value: &Decimal,
        least: f64,
        most: f64,
        mend: &str,
    ) -> Result<f64, Refusal> {
        let figure = value.to_f64();
        if (least..=most).contains(&figure) {
            return Ok(figure);
        }
        Err(self.says("figure", format!("{name} is {value}; {mend}")))
    }

    /// Returns a standard deviation in metres.
    pub(super) fn sigma_m(&self, name: &str, mm: &Decimal) -> Result<f64, Refusal> {
        let figure = mm.to_f64();
        if figure > 0.0 && figure <= 100_000.0 {
            return Ok(figure / 1000.0);
        }
        let says = format!(
            "{name} is {mm}; an accuracy is more than 0 and at most 100000 mm, and nothing stands in for it"
        );
        Err(self.says("figure", says))
    }
}

impl Site {
    pub(super) fn known_at(&self, name: &str, fresh: Fresh<'_>) -> Option<KnownAt> {
        let metres = |mm: &Option<Decimal>| mm.as_ref().map(|mm| mm.to_f64() / 1000.0);
        if let Some(control) = self.control_point(name) {
            let row = &control.row;
            let frame = self.frame().ok()?;
            return Some(KnownAt {
                at: frame.local(&row.easting_m, &row.northing_m, &row.level_m),
                plan: metres(&row.sigma_h_mm).and_then(|sigma| PlanCovariance::circle(sigma).ok()),
                sigma_v_m: metres(&row.sigma_v_mm),
                suspect: false,
                is_control: true,
            });
        }
        let placed = fresh(name).or_else(|| self.points.get(name).map(|point| point.placed.clone()))?;
        Some(KnownAt {
            at: placed.at,
            plan: placed.plan,
            sigma_v_m: placed.sigma_v_m,
            suspect: placed.suspect,
            is_control: false,
        })
    }

    pub(super) fn need_known(
        &self,
        name: &str,
        fresh: Fresh<'_>,
        refuse: &Refuse<'_>,
    ) -> Result<KnownAt, Refusal> {
        let known = if name == refuse.row.point {
            None
        } else {
            self.known_at(name, fresh)
        };
        known.ok_or_else(|| {
            refuse.says(
                "not-known",
                format!(
                    "{name} is neither control nor a recorded point; record it first, or put its row before this one"
                ),
            )
        })
    }

    /// Places a point by its readings: plan and level each from its own source.
    pub(super) fn by_sources(
        &self,
        row: &PointRow,
        measured: &MeasuredFrom,
        observed_at: &str,
        fresh: Fresh<'_>,
    ) -> Result<Placed, Refusal> {
        let refuse = Refuse { row };
        let plan = match measured {
            MeasuredFrom::Ties { ties, side, level } => {
                // Written without a level, ties are grid distances.
                let scale = if level.is_some() { self.grid_scale() } else { 1.0 };
                self.plan_by_ties(ties, side, scale, fresh, &refuse)?
            }
            MeasuredFrom::Offset(taped) => self.plan_by_offset(taped, fresh, &refuse)?,
            MeasuredFrom::Satellite(satellite) => self.plan_by_satellite(satellite, &refuse)?,
            MeasuredFrom::Coordinates(stated) => self.plan_stated(stated, &refuse)?,
            MeasuredFrom::Station { .. } => {
                return Err(refuse.says("station", "it is sighted from a station; place it by its sights"));
            }
        };
        let Some(from) = measured.level() else {
            let frame = self.frame()?;
            let stated = super::placing::by_coordinates(row, &frame);
            let level = super::measured_level::Level {
                level_m: stated.at.z,
                sigma_m: stated.sigma_v_m,
                across_sigma_m: None,
                sure: Sure::default(),
            };
            return Ok(together(row, plan, level));
        };
        if let LevelFrom::Detector(_) = from {
            check_detected(row, &refuse)?;
        }
        let satellite = match measured {
            MeasuredFrom::Satellite(row) => Some(row.as_ref()),
            _ => None,
        };
        let level = self.level_from(from, &plan, satellite, observed_at, fresh, &refuse)?;
        Ok(together(row, plan, level))
    }

    fn plan_by_ties(
        &self,
        ties: &[TieRow],
        side: &str,
        scale: f64,
        fresh: Fresh<'_>,
        refuse: &Refuse<'_>,
    ) -> Result<Plan, Refusal> {
        let side = match side {
            "left" => Side::Left,
            "right" => Side::Right,
            other => {
                let says = format!(
                    "side is {other:?}; write left or right of the line from the first mark to the second"
                );
                return Err(refuse.says("ties", says));
            }
        };
        let mut swing = Vec::new();
        let mut sure = Sure::default();
        for tie in ties {
            let known = self.need_known(&tie.from, fresh, refuse)?;
            sure.hang_on(&tie.from, &known);
            if known.plan.is_none() {
                sure.doubts.push(no_sigma(&tie.from));
            }
            let taped_m = tie.distance_m.to_f64();
            let tape_sigma_m = refuse.sigma_m("sigma_mm", &tie.sigma_mm)?;
            let (level_m, sigma_m) = match &tie.rise_m {
                None if tie.rise_sigma_mm.is_some() => {
                    let says = format!(
                        "tie from {}: rise_sigma_mm is given and no rise; give rise_m, or leave it out for a level tape",
                        tie.from
                    );
                    return Err(refuse.says("ties", says));
                }
                None => (taped_m, tape_sigma_m),
                Some(rise) => {
                    let rise_m = rise.to_f64();
                    let rise_sigma_m = match &tie.rise_sigma_mm {
                        Some(mm) => refuse.sigma_m("rise_sigma_mm", mm)?,
                        None => {
                            sure.doubts.push(format!(
                                "how well the rise of the tape from {} is known is not stated: {:.0} mm (1 sigma) is \
                                 assumed; state rise_sigma_mm",
                                tie.from,
                                RISE_SIGMA_M * 1000.0
                            ));
                            RISE_SIGMA_M
                        }
                    };
                    level_distance_m(taped_m, rise_m)
                        .and_then(|level_m| {
                            let sigma = level_sigma_m([taped_m, tape_sigma_m], [rise_m, rise_sigma_m]);
                            sigma.map(|sigma_m| (level_m, sigma_m))
                        })
                        .map_err(|e| refuse.says("ties", format!("tie from {}: {e}", tie.from)))?
                }
            };
            swing.push(SwingTie {
                object: tie.from.clone(),
                at_m: [known.at.x, known.at.y],
                object_sigma_m: known.plan.map(|c| c.ellipse().semi_major_sigma_m),
                distance_m: level_m * scale,
                sigma_m: Some(sigma_m),
            });
        }
        let (tied, findings) = fix_by_ties(&swing, side).map_err(|e| refuse.says("ties", e.to_string()))?;
        if ties.len() < 3 {
            sure.cap(Known::Seen, "no third tie checks it");
        }
        for finding in findings {
            match finding.code {
                "third-tie-off" | "wrong-side" => {
                    sure.suspect = true;
                    sure.cap(Known::Seen, "its check tie does not agree");
                }
                "third-tie-not-judged" => sure.cap(Known::Seen, "its check tie could not be judged"),
                _ => {}
            }
            sure.doubts.push(finding.sentence);
        }
        Ok(Plan {
            at: tied.position_m.into(),
            covariance: tied.covariance,
            sure,
        })
    }

    fn plan_by_offset(
        &self,
        taped: &OffsetRow,
        fresh: Fresh<'_>,
        refuse: &Refuse<'_>,
    ) -> Result<Plan, Refusal> {
        let mend = "write it as a length, and the side in words";
        let offset_m = refuse.within("offset_m", &taped.offset_m, 0.0, 1000.0, mend)?;
        let chainage_m = refuse.within(
            "chainage_m",
            &taped.chainage_m,
            -1000.0,
            10_000.0,
            "give -1000 to 10000 m; below 0 lies before the beginning of the line",
        )?;
        let right = match (taped.side.as_str(), offset_m > 0.0) {
            ("right", _) => 1.0,
            ("left", _) => -1.0,
            ("on-line", false) => 0.0,
            (other, _) => {
                let says = format!(
                    "side is {other:?}; write left or right, looking from {} to {}, or on-line for an offset of 0",
                    taped.from, taped.to
                );
                return Err(refuse.says("offset", says));
            }
        };
        let mut sure = Sure::default();
        let mut ends = Vec::new();
        let mut control = true;
        for name in [&taped.from, &taped.to] {
            let known = self.need_known(name, fresh, refuse)?;
            sure.hang_on(name, &known);
            if known.plan.is_none() {
                sure.doubts.push(no_sigma(name));
            }
            control &= known.is_control;
            ends.push(LineEnd {
                at_m: [known.at.x, known.at.y],
                covariance: known.plan,
            });
        }
        let square_deg = match &taped.square_sigma_deg {
            Some(stated) => {
                let mend = "a right angle's standard deviation is more than 0 and at most 45 degrees";
                refuse.within("square_sigma_deg", stated, f64::MIN_POSITIVE, 45.0, mend)?
            }
            None => {
                sure.doubts.push(format!(
                    "how square the offset was set is not stated: by eye, {SQUARE_BY_EYE_DEG} degree (1 sigma) is taken"
                ));
                SQUARE_BY_EYE_DEG
            }
        };
        let scale = self.grid_scale();
        let reckoned = TapedOffset {
            chainage_m: chainage_m * scale,
            chainage_sigma_m: refuse.sigma_m("chainage_sigma_mm", &taped.chainage_sigma_mm)?,
            offset_m: right * offset_m * scale,
            offset_sigma_m: refuse.sigma_m("offset_sigma_mm", &taped.offset_sigma_mm)?,
            square_sigma_rad: square_deg.to_radians(),
        };
        // Recorded points may hang on one station, and then its error is theirs together.
        let shared = if control {
            Ends::Independent
        } else {
            Ends::MayShare
        };
        let (at, covariance) = fix_by_offset(&ends[0], &ends[1], &reckoned, shared)
            .map_err(|e| refuse.says("offset", format!("line from {} to {}: {e}", taped.from, taped.to)))?;
        let along = [0, 1].map(|i| ends[1].at_m[i] - ends[0].at_m[i]);
        let length_m = along[0].hypot(along[1]);
        if !(0.0..=length_m).contains(&reckoned.chainage_m) {
            sure.doubts.push(format!(
                "its chainage lies on the extension of the line from {} to {}, which is {length_m:.2} m long",
                taped.from, taped.to
            ));
        }
        sure.cap(Known::Seen, "nothing checks an offset");
        Ok(Plan {
            at: at.into(),
            covariance,
            sure,
        })
    }

    fn plan_by_satellite(&self, shown: &SatelliteRow, refuse: &Refuse<'_>) -> Result<Plan, Refusal> {
        let frame = self.frame()?;
        let at = frame.local_plan(shown.easting_m.to_f64(), shown.northing_m.to_f64());
        if (shown.horizontal_mm.is_some() || shown.vertical_mm.is_some()) && shown.means.is_none() {
            let says = "the receiver's figures are given and not what they mean; say means: sigma, 95 or 50";
            return Err(refuse.says("means", says));
        }
        let mut sure = Sure::default();
        let solution = solution_of(shown.fix);
        let stated = match (&shown.horizontal_mm, shown.means) {
            (Some(mm), Some(means)) => {
                Some(plan_sigma_m(refuse.sigma_m("horizontal_mm", mm)?, means.stated()))
            }
            _ => None,
        };
        let sigma_m = match (stated, solution) {
            (stated, Some(solution)) => Some(believed(
                stated,
                solution.least().plan_m,
                solution.assumed().plan_m,
                ("in plan", shown.fix),
                &mut sure,
            )),
            (Some(stated), None) => Some(believed_of_any_kind(stated, &mut sure)),
            (None, None) => {
                sure.not_defaulted = true;
                sure.doubts.push(
                    "the quality of the satellite position is not stated, so it is not placed; state fix, or the \
                     receiver's own figures"
                        .into(),
                );
                None
            }
        };
        sure.cap(Known::Seen, "nothing checks a satellite position taken once");
        Ok(Plan {
            at,
            covariance: sigma_m.and_then(|sigma| PlanCovariance::circle(sigma).ok()),
            sure,
        })
    }

    fn plan_stated(&self, stated: &CoordinatesRow, refuse: &Refuse<'_>) -> Result<Plan, Refusal> {
        let frame = self.frame()?;
        let sigma_m = match &stated.sigma_h_mm {
            Some(mm) => Some(refuse.sigma_m("sigma_h_mm", mm)?),
            None => None,
        };
        let mut sure = Sure::default();
        if sigma_m.is_none() {
            sure.not_defaulted = true;
            sure.doubts.push(
                "how well its plan position was found is not stated, so it is not placed; state sigma_h_mm"
                    .into(),
            );
        }
        Ok(Plan {
            at: frame.local_plan(stated.easting_m.to_f64(), stated.northing_m.to_f64()),
            covariance: sigma_m.and_then(|sigma| PlanCovariance::circle(sigma).ok()),
            sure,
        })
    }
}

/// Returns the solution that a word names, if it names one.
pub(super) fn solution_of(fix: SatelliteFix) -> Option<Solution> {
    match fix {
        SatelliteFix::Fixed => Some(Solution::Fixed),
        SatelliteFix::Float => Some(Solution::Float),
        SatelliteFix::Differential => Some(Solution::Differential),
        SatelliteFix::Single => Some(Solution::Single),
        SatelliteFix::NotStated => None,
    }
}

/// Returns a stated sigma, never below the least of its kind; or what stands in for it. Either is said.
pub(super) fn believed(
    stated: Option<f64>,
    least_m: f64,
    assumed_m: f64,
    (what, fix): (&str, SatelliteFix),
    sure: &mut Sure,
) -> f64 {
    match stated {
        Some(stated) if stated >= least_m => stated,
        Some(stated) => {
            sure.doubts.push(format!(
                "{:.1} mm {what} (1 sigma) is more than a {fix} solution can promise: {:.0} mm is taken",
                stated * 1000.0,
                least_m * 1000.0
            ));
            least_m
        }
        None => {
            sure.doubts.push(format!(
                "the receiver's figure {what} is not stated: {:.0} mm (1 sigma) is assumed for a {fix} solution",
                assumed_m * 1000.0
            ));
            assumed_m
        }
    }
}

/// Returns the stated sigma in plan of a solution whose kind is not stated: it may be of the best kind, and is never
/// believed below the least of that one.
fn believed_of_any_kind(stated_m: f64, sure: &mut Sure) -> f64 {
    let least_m = Solution::Fixed.least().plan_m;
    sure.doubts.push(
        "the kind of satellite solution is not stated, so nothing tells whether the receiver's figure can be \
         believed; state fix"
            .into(),
    );
    believed(
        Some(stated_m),
        least_m,
        least_m,
        ("in plan", SatelliteFix::Fixed),
        sure,
    )
}

fn no_sigma(name: &str) -> String {
    format!("{name} has no stated uncertainty, so what is measured from it has none; state its sigma_h_mm")
}

fn check_detected(row: &PointRow, refuse: &Refuse<'_>) -> Result<(), Refusal> {
    if let Some(known) = row.known.filter(|known| known.is_seen()) {
        let says = format!(
            "it was found with a detector and known is {known}; what a detector finds is traced and never seen"
        );
        return Err(refuse.says("detected-not-seen", says));
    }
    if !matches!(row.touched, Touched::Centre | Touched::OutsideTop) {
        let says = format!(
            "touched is {}; a detector finds the centre of a line or its outside-top: say which its maker states",
            row.touched
        );
        return Err(refuse.says("detected-touched", says));
    }
    Ok(())
}

/// Puts plan and level together. What caps the one caps the point.
fn together(row: &PointRow, plan: Plan, level: super::measured_level::Level) -> Placed {
    let across = level.across_sigma_m.map(PlanCovariance::circle);
    let covariance = match across {
        None => plan.covariance,
        Some(across) => plan
            .covariance
            .zip(across.ok())
            .map(|(plan, across)| plan.plus(across)),
    };
    let detected = level.across_sigma_m.is_some();
    let mut sure = plan.sure;
    sure.doubts.extend(level.sure.doubts);
    if let Some((known, why)) = level.sure.cap {
        sure.cap(known, why);
    }
    let known = match (row.known, sure.cap) {
        (Some(stated), Some((cap, why))) if stated < cap => {
            sure.doubts
                .push(format!("stated {stated}; {why}: counted as {cap}"));
            Some(cap)
        }
        (None, cap) if detected => {
            let (known, why) = cap.unwrap_or((Known::Traced, "found with a detector and not seen"));
            if known > Known::Traced {
                sure.doubts
                    .push(format!("found with a detector; {why}: counted as {known}"));
            }
            Some(known)
        }
        (stated, _) => stated,
    };
    Placed {
        at: Vec3::new(plan.at.x, plan.at.y, level.level_m),
        plan: covariance,
        sigma_h_m: covariance.map(|c| c.ellipse().semi_major_sigma_m),
        sigma_v_m: level.sigma_m,
        known,
        not_defaulted: sure.not_defaulted || level.sure.not_defaulted,
        again: Vec::new(),
        doubts: sure.doubts,
        suspect: sure.suspect || level.sure.suspect,
    }
}

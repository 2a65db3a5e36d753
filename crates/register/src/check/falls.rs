//! Inverts at shots, the fall of each leg in its direction of flow, and the invert schedule.

use super::Checked;
use crate::rules::Adopted;
use crate::run_record::RunRecord;
use crate::site::RecordedSurface;
use crate::view::{FallView, InvertRow, Near, Up, Why};
use crate::words::{CheckVerdict, Touched};
use ground::Vec2;
use ground::fall::{FallVerdict, Invert, falls};
use ground::lay::LaidTube;

/// The invert at one shot.
#[derive(Debug, Clone)]
pub(crate) struct ShotInvert {
    /// Chainage of the shot.
    pub(crate) chainage_m: f64,
    /// Where in plan it was touched, or lies plumb below the axis; on a slope the two differ.
    pub(crate) plan: Vec2,
    /// True when the invert itself was touched.
    pub(crate) touched: bool,
    /// Level of the invert, or why it is not known.
    pub(crate) level_m: Result<f64, String>,
    /// Standard deviation of the level, when known.
    pub(crate) sigma_v_m: Option<f64>,
}

/// Returns the invert at each shot: as measured where an invert was touched, else from the axis and the bore.
pub(crate) fn inverts_of(record: &RunRecord, laid: &LaidTube, rules: Option<&Adopted>) -> Vec<ShotInvert> {
    let last = record.shots.len() - 1;
    (0..=last)
        .map(|i| {
            let shot = &record.shots[i];
            let axis = laid.shot_axis[i];
            let (from, to) = if i < last { (i, i + 1) } else { (i - 1, i) };
            let along = laid.shot_axis[to] - laid.shot_axis[from];
            let slope = along.z / along.xy().norm();
            let level_m = if shot.touched == Touched::Invert {
                Ok(shot.at[2])
            } else if record.section.bank {
                Err("a bank has no one invert".into())
            } else if slope.is_nan() || slope.abs() > 1.0 {
                Err("the leg is steeper than 45 degrees, where an invert has no meaning".into())
            } else {
                // Straight down from the axis to the inside bottom of a sloping pipe.
                let bore = record
                    .section
                    .bore_m
                    .ok_or("wall not stated, so the invert cannot be told; give wall_mm");
                bore.map(|bore| axis.z - bore / 2.0 * slope.hypot(1.0))
                    .map_err(String::from)
            };
            let plan = if shot.touched == Touched::Invert {
                Vec2::new(shot.at[0], shot.at[1])
            } else {
                axis.xy()
            };
            ShotInvert {
                chainage_m: laid.shot_chainage_m[i],
                plan,
                touched: shot.touched == Touched::Invert,
                level_m,
                sigma_v_m: shot.sigmas_m(rules).1,
            }
        })
        .collect()
}

/// Returns the plan length that a fall is taken over.
///
/// On a straight leg between two touched inverts that is the distance between them. Otherwise it is the longer of that
/// and the way along the axis: flatter is the safe side.
fn length_between(from: &ShotInvert, to: &ShotInvert, straight: bool) -> f64 {
    let apart = (to.plan - from.plan).norm();
    if straight && from.touched && to.touched {
        apart
    } else {
        apart.max(to.chainage_m - from.chainage_m)
    }
}

/// Returns the fall from one invert to the next in the direction of flow; `straight` when no bend lies between.
///
/// # Errors
/// Why there is none.
pub(crate) fn fall_view(
    from: &ShotInvert,
    to: &ShotInvert,
    straight: bool,
    least_fall: Option<f64>,
) -> Result<FallView, String> {
    let invert = |of: &ShotInvert, chainage_m: f64| -> Result<Invert, String> {
        Ok(Invert {
            chainage_m,
            level_m: of.level_m.clone()?,
            sigma_v_m: of.sigma_v_m,
        })
    };
    let both = [
        invert(from, 0.0)?,
        invert(to, length_between(from, to, straight))?,
    ];
    let fall = falls(&both).map_err(|e| e.to_string())?.whole;
    let wrong_way = fall.is_back_fall();
    let verdict = match least_fall {
        _ if wrong_way => CheckVerdict::Short,
        Some(minimum) => match fall.judge(minimum) {
            FallVerdict::Met => CheckVerdict::Met,
            FallVerdict::Short => CheckVerdict::Short,
            FallVerdict::NotProved => CheckVerdict::NotProved,
        },
        None => CheckVerdict::NotProved,
    };
    // Flatter is the safe side: percent down, 1 in N up.
    let percent = (fall.percent() * 100.0 + 1e-7).floor() / 100.0;
    let percent_u95 = fall
        .gradient_u95()
        .map(|g| (g * 100.0 * 100.0 - 1e-7).ceil() / 100.0);
    let one_in = fall
        .one_in()
        .filter(|n| *n > 0.0)
        .map(|n| (n * 10.0 - 1e-7).ceil() / 10.0);
    let plus_minus = percent_u95.map_or("uncertainty not known".into(), |u| format!("\u{b1} {u:.2} %"));
    let says = match one_in {
        Some(n) => format!("1:{n} ({percent:.2} %) {plus_minus}"),
        None if wrong_way => format!("falls the wrong way ({percent:.2} %) {plus_minus}"),
        None => format!("level (0.00 %) {plus_minus}"),
    };
    Ok(FallView {
        drop_m: Near(fall.drop_m),
        drop_u95_m: fall.drop_u95_m.map(Up),
        percent,
        percent_u95,
        one_in,
        wrong_way,
        verdict,
        says,
    })
}

/// Returns the rows of the invert schedule for one run; none for a service that does not flow by gravity.
pub(super) fn schedule(
    checked: &Checked,
    below: Option<&RecordedSurface>,
    no_surface: Option<&str>,
) -> Vec<InvertRow> {
    if checked.run.fall_verdict.is_none() {
        return Vec::new();
    }
    let legs = &checked.run.legs;
    (0..checked.inverts.len())
        .map(|i| {
            let invert = &checked.inverts[i];
            let mut why = Why::new();
            let level = invert
                .level_m
                .as_ref()
                .map_err(|says| why.insert("invert_level_m".into(), says.clone()))
                .ok();
            let surface = below.and_then(|below| below.surface.level_at(invert.plan));
            if surface.is_none() {
                why.insert(
                    "depth_to_invert_m".into(),
                    no_surface.unwrap_or("no surface here").into(),
                );
            } else if level.is_none() {
                why.insert("depth_to_invert_m".into(), "the invert is not known".into());
            }
            if invert.sigma_v_m.is_none() {
                why.insert(
                    "u95_m".into(),
                    "no uncertainty was stated, and no class default counts".into(),
                );
            }
            let fall_to_next = legs.get(i).and_then(|leg| leg.fall.clone());
            if let Some(says) = legs.get(i).and_then(|leg| leg.why.get("fall")) {
                why.insert("fall_to_next".into(), says.clone());
            } else if i + 1 == checked.inverts.len() {
                why.insert("fall_to_next".into(), "the last point of the run".into());
            } else if fall_to_next.is_none() {
                why.insert("fall_to_next".into(), "the leg is a riser".into());
            }
            let point = legs
                .get(i)
                .map(|leg| &leg.from)
                .or(legs.last().map(|leg| &leg.to));
            InvertRow {
                run: checked.run.run.clone(),
                point: point.cloned().unwrap_or_default(),
                chainage_m: Near(invert.chainage_m),
                invert_level_m: level.copied().map(Near),
                u95_m: invert
                    .sigma_v_m
                    .map(|sigma| Up(survey::uncertainty::u95_from_sigma(sigma))),
                depth_to_invert_m: surface.zip(level).map(|(surface, level)| Up(surface - level)),
                fall_to_next,
                why,
            }
        })
        .collect()
}

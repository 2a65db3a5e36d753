//! `point`: recorded by tape, satellite or detector, and shown.

use super::args::Cli;
use super::import::{decimal, word};
use super::output::Output;
use super::point_args::{PointArgs, PointCommand, PointMeasure, PointShow};
use super::{Ended, Outcome, register_file};
use crate::acts::{ActError, MeasuredPoint, Register};
use register::body::{CoordinatesRow, DetectorRow, LevelFrom, MeasuredFrom, OffsetRow, SatelliteRow, TieRow};
use register::view::{PointCard, Up};
use register::words::{DetectorMethod, FigureMeans, HeightAbove, Known, SatelliteFix, Touched};
use survey::Decimal;
use uuid::Uuid;

/// Records or shows a point.
pub(crate) fn point(cli: &Cli, args: &PointArgs, output: &Output) -> Outcome {
    match &args.what {
        PointCommand::Measure(args) => measure(cli, args, output),
        PointCommand::Show(args) => show(cli, args, output),
    }
}

fn show(cli: &Cli, args: &PointShow, output: &Output) -> Outcome {
    let register = register_file::to_read(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    output.result(&register.point_card(site, &args.point)?, text)?;
    Ok(Ended::Done)
}

fn measure(cli: &Cli, args: &PointMeasure, output: &Output) -> Outcome {
    let touched = need(
        word(&Some(args.touched.clone()), "touched", Touched::from_slug)?,
        "touched",
    )?;
    let known = word(&args.known, "known", Known::from_slug)?;
    let of = |register: &Register, site: Uuid| -> Result<Vec<MeasuredPoint>, ActError> {
        let level = level_of(args, register, site)?;
        Ok(vec![MeasuredPoint {
            point: args.point.clone(),
            touched,
            measured: plan_of(args, level)?,
            known,
            side_bearing_deg: None,
            fitting: None,
            bend_radius_mm: None,
            same_as: args.same_as.clone(),
            note: args.note.clone(),
        }])
    };
    if args.dry_run {
        let register = register_file::to_read(cli)?;
        let site = register_file::site(&register, args.of.site.as_deref())?;
        let points = of(&register, site)?;
        for card in register.try_points(site, &points, args.observed_at.as_deref())? {
            output.result(&card, text)?;
        }
        return Ok(Ended::Done);
    }
    let author = register_file::author(args.by.by.as_deref())?;
    let register = register_file::to_write(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let points = of(&register, site)?;
    let receipt = register.record_points(site, &points, &author, None, args.observed_at.clone())?;
    receipt.shown(|| {
        output.result(&register.point_card(site, &args.point)?, text)?;
        Ok(Ended::Done)
    })
}

fn need<T>(given: Option<T>, option: &str) -> Result<T, ActError> {
    given.ok_or_else(|| {
        ActError::asked(
            "missing",
            format!("nothing says --{option}; nothing stands in for it"),
        )
    })
}

fn need_decimal(given: &Option<String>, option: &str) -> Result<Decimal, ActError> {
    need(decimal(given, option)?, option)
}

fn plan_of(args: &PointMeasure, level: LevelFrom) -> Result<MeasuredFrom, ActError> {
    let side = || need(args.side.as_deref().map(str::to_ascii_lowercase), "side");
    if !args.tie.is_empty() {
        let sigma_mm = need_decimal(&args.tape_sigma_mm, "tape-sigma-mm")?;
        let rise_sigma_mm = decimal(&args.rise_sigma_mm, "rise-sigma-mm")?;
        let ties = args
            .tie
            .iter()
            .map(|text| tie(text, &sigma_mm, rise_sigma_mm.as_ref()))
            .collect::<Result<_, _>>()?;
        return Ok(MeasuredFrom::Ties {
            ties,
            side: side()?,
            level: Some(Box::new(level)),
        });
    }
    if let Some(line) = &args.line {
        let Some((from, to)) = line.split_once(',') else {
            let says = format!("{line:?} is no line; give its two ends, FROM,TO");
            return Err(ActError::asked("line", says));
        };
        let sigma_mm = need_decimal(&args.tape_sigma_mm, "tape-sigma-mm")?;
        return Ok(MeasuredFrom::Offset(Box::new(OffsetRow {
            from: from.trim().to_owned(),
            to: to.trim().to_owned(),
            chainage_m: need_decimal(&args.chainage, "chainage")?,
            chainage_sigma_mm: sigma_mm.clone(),
            offset_m: need_decimal(&args.offset, "offset")?,
            offset_sigma_mm: sigma_mm,
            side: side()?,
            square_sigma_deg: decimal(&args.square_sigma_deg, "square-sigma-deg")?,
            level,
        })));
    }
    let Some(at) = &args.at else {
        let says = "nothing says where the point is; give --tie twice or more, --line with --chainage and --offset, or \
                    --at E,N (of a satellite position with --fix)";
        return Err(ActError::asked("place", says));
    };
    let Some((easting, northing)) = at.split_once(',') else {
        return Err(ActError::asked("at", format!("{at:?} is no place; give E,N")));
    };
    let easting_m = need_decimal(&Some(easting.to_owned()), "at")?;
    let northing_m = need_decimal(&Some(northing.to_owned()), "at")?;
    match word(&args.fix, "fix", SatelliteFix::from_slug)? {
        Some(fix) => Ok(MeasuredFrom::Satellite(Box::new(SatelliteRow {
            easting_m,
            northing_m,
            fix,
            horizontal_mm: decimal(&args.horizontal_mm, "horizontal-mm")?,
            vertical_mm: decimal(&args.vertical_mm, "vertical-mm")?,
            means: word(&args.means, "means", FigureMeans::from_slug)?,
            level,
        }))),
        None => Ok(MeasuredFrom::Coordinates(Box::new(CoordinatesRow {
            easting_m,
            northing_m,
            sigma_h_mm: decimal(&args.sigma_h_mm, "sigma-h-mm")?,
            level,
        }))),
    }
}

fn tie(text: &str, sigma_mm: &Decimal, rise_sigma_mm: Option<&Decimal>) -> Result<TieRow, ActError> {
    let mut parts = text.split('=').map(str::trim);
    let (Some(from), Some(distance), rise, None) = (parts.next(), parts.next(), parts.next(), parts.next())
    else {
        let says =
            format!("{text:?} is no tie; write FROM=METRES, or FROM=METRES=RISE for a tape along a slope");
        return Err(ActError::asked("tie", says));
    };
    Ok(TieRow {
        from: from.to_owned(),
        distance_m: need_decimal(&Some(distance.to_owned()), "tie")?,
        sigma_mm: sigma_mm.clone(),
        rise_m: decimal(&rise.map(str::to_owned), "tie")?,
        rise_sigma_mm: rise.and(rise_sigma_mm).cloned(),
    })
}

fn level_of(args: &PointMeasure, register: &Register, site: Uuid) -> Result<LevelFrom, ActError> {
    let ways = [
        ("--level", args.level.is_some()),
        ("--staff", args.staff.is_some()),
        ("--depth", args.depth.is_some()),
        ("--height", args.height.is_some()),
    ];
    let given: Vec<&str> = ways.iter().filter(|way| way.1).map(|way| way.0).collect();
    let [way] = given.as_slice() else {
        let says = if given.is_empty() {
            "nothing says its level; give --level, --staff MARK,BACK,FORE, --depth with --below, or a satellite's --height"
                .to_owned()
        } else {
            format!(
                "its level is given in several ways ({}); leave one",
                given.join(", ")
            )
        };
        return Err(ActError::asked("level-missing", says));
    };
    let sigma = || need_decimal(&args.sigma_v_mm, "sigma-v-mm");
    match *way {
        "--level" => Ok(LevelFrom::Stated {
            level_m: need_decimal(&args.level, "level")?,
            sigma_mm: sigma()?,
        }),
        "--staff" => {
            let text = args.staff.as_deref().unwrap_or_default();
            let parts: Vec<&str> = text.split(',').map(str::trim).collect();
            let [mark, back, fore] = parts.as_slice() else {
                let says = format!("{text:?} is no staff; give MARK,READING ON THE MARK,READING HERE");
                return Err(ActError::asked("staff", says));
            };
            Ok(LevelFrom::Staff {
                mark: (*mark).to_owned(),
                back_m: need_decimal(&Some((*back).to_owned()), "staff")?,
                fore_m: need_decimal(&Some((*fore).to_owned()), "staff")?,
                sigma_mm: sigma()?,
            })
        }
        "--height" => Ok(LevelFrom::Receiver {
            height_m: need_decimal(&args.height, "height")?,
            above: need(
                word(&args.height_above, "height-above", HeightAbove::from_slug)?,
                "height-above",
            )?,
            antenna_m: need_decimal(&args.antenna, "antenna")?,
        }),
        _ => {
            let below = args.below.as_deref().unwrap_or_default();
            let (surface, surface_kind) = register.surface_named(site, below)?;
            let depth_m = need_decimal(&args.depth, "depth")?;
            let Some(method) = word(&args.method, "method", DetectorMethod::from_slug)? else {
                return Ok(LevelFrom::Depth {
                    surface,
                    surface_kind,
                    depth_m,
                    sigma_mm: sigma()?,
                });
            };
            Ok(LevelFrom::Detector(Box::new(DetectorRow {
                surface,
                surface_kind,
                depth_m,
                method,
                percent: need_decimal(&args.percent, "percent")?,
                constant_mm: need_decimal(&args.constant_mm, "constant-mm")?,
                across_mm: need_decimal(&args.across_mm, "across-mm")?,
                means: need(word(&args.means, "means", FigureMeans::from_slug)?, "means")?,
            })))
        }
    }
}

/// Writes a point for a person.
fn text(card: &PointCard) -> String {
    let u95 =
        |figure: Option<Up>| figure.map_or_else(|| "not known".to_owned(), |u| format!("{} m", u.text()));
    let mut text = format!(
        "{}: easting {} northing {} level {} m on its {}; \u{b1} {} in plan, {} in level (95 %); {}\n{}\n",
        card.point,
        card.at[0].text(),
        card.at[1].text(),
        card.at[2].text(),
        card.touched,
        u95(card.u95_h_m),
        u95(card.u95_v_m),
        card.known,
        card.how
    );
    if card.entry.is_none() {
        text += "not recorded\n";
    }
    for doubt in &card.doubts {
        text += &format!("! {doubt}\n");
    }
    text
}

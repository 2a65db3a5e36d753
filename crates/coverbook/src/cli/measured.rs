//! `station` and `levels`: one set-up adjusted, one level book reduced, without a register.

use super::args::{LevelsArgs, MeasuredArgs, StationArgs};
use super::output::Output;
use super::table::Table;
use super::{Ended, Outcome};
use crate::acts::{ActError, MeasuredAsk};
use exchange::{ReadOptions, Reading, SiteFrame};
use register::body::ImportRef;
use register::levels::reduce_book;
use register::screens::{levels_view, station_view};
use register::site::Frame;
use register::station::solve_station;
use register::view::{LevelsView, Severity, StationView};
use register::words::CheckOutcome;
use std::collections::BTreeMap;
use std::path::Path;
use survey::PointCovariance;
use survey::observation::ControlPoint;
use uuid::Uuid;

impl MeasuredArgs {
    /// Returns what was said, read.
    pub(crate) fn asked(&self) -> Result<MeasuredAsk, ActError> {
        let mut said = BTreeMap::new();
        let mut put = |name: &str, text: &Option<String>| {
            if let Some(text) = text {
                said.insert(name.to_owned(), text.clone());
            }
        };
        put("station", &self.station);
        put("angles", &self.angles);
        put("tolerance_mm", &self.tolerance_mm);
        put("air_in_instrument", &self.air_in_instrument);
        put("unchecked_reason", &self.unchecked_reason);
        put("book", &self.book);
        put("allowable_k_mm", &self.allowable_k_mm);
        put("spread", &self.spread);
        put("setup_sigma_mm", &self.setup_sigma_mm);
        if let Some(instrument) = &self.instrument {
            let figures: Vec<&str> = instrument.split(',').map(str::trim).collect();
            let [mm, ppm, direction, zenith] = figures.as_slice() else {
                let says = format!(
                    "{instrument:?} is no instrument; give mm,ppm,direction seconds,zenith seconds, like 1,1.5,1,1"
                );
                return Err(ActError::asked("instrument", says));
            };
            for (name, text) in [
                ("distance_mm", mm),
                ("distance_ppm", ppm),
                ("direction_sec", direction),
                ("zenith_sec", zenith),
            ] {
                said.insert(name.to_owned(), (*text).to_owned());
            }
        }
        if let Some(air) = &self.air {
            let figures: Vec<&str> = air.split(',').map(str::trim).collect();
            if !(5..=6).contains(&figures.len()) {
                let says = format!(
                    "{air:?} is no air; give degrees C,hPa,humidity %,wavelength in micrometres,refractivity at 0 ppm and, \
                     where one was set in the instrument, its ppm: like 24,1004,60,0.658,281.8"
                );
                return Err(ActError::asked("air", says));
            }
            let names = [
                "temperature_c",
                "pressure_hpa",
                "humidity_pct",
                "wavelength_um",
                "reference_ppm",
                "entered_ppm",
            ];
            for (name, text) in names.into_iter().zip(figures) {
                said.insert(name.to_owned(), text.to_owned());
            }
        }
        if self.by_setups {
            said.insert("by_setups".to_owned(), "1".to_owned());
        }
        MeasuredAsk::read(&mut said)
    }
}

fn read_file(path: &Path) -> Result<(Vec<u8>, String), ActError> {
    let bytes = std::fs::read(path).map_err(|error| ActError::File {
        file: path.display().to_string(),
        why: format!("{error}; check the path"),
    })?;
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned());
    Ok((bytes, name.unwrap_or_else(|| path.display().to_string())))
}

/// Options for a file that belongs to no site: anywhere on any grid.
fn anywhere(file: &str) -> ReadOptions {
    let frame = SiteFrame {
        near_easting_m: 0.0,
        near_northing_m: 0.0,
        near_level_m: 0.0,
        reach_m: 1e9,
        level_reach_m: 1e5,
    };
    let import = ImportRef {
        import_id: Uuid::nil(),
        file: file.to_owned(),
        sha256: String::new(),
    };
    ReadOptions::new(file, frame, import)
}

/// Says what was found in a file, and hands out its draft.
fn drafted<T>(reading: Reading<T>, output: &Output) -> Result<T, Ended> {
    for finding in &reading.findings {
        let weight = if finding.severity == Severity::Refusal {
            "refused"
        } else {
            "doubt"
        };
        let row = finding.row.map(|row| format!(", row {row}")).unwrap_or_default();
        let column = finding
            .column
            .as_ref()
            .map(|c| format!(", column {c}"))
            .unwrap_or_default();
        output.says(&format!(
            "{weight}: {}{row}{column}: {}",
            finding.file, finding.says
        ));
    }
    reading.draft.ok_or(Ended::Refused)
}

/// Adjusts one set-up.
pub(crate) fn station(args: &StationArgs, output: &Output) -> Outcome {
    let (bytes, file) = read_file(&args.file)?;
    let (control_bytes, control_file) = read_file(&args.control)?;
    let reading = exchange::read_control(&control_bytes, &anywhere(&control_file), &mut |_| {});
    let control = match drafted(reading, output) {
        Ok(control) => control.points,
        Err(ended) => return Ok(ended),
    };
    let (stated, assumed) = args.measured.asked()?.of_set_up()?;
    if let Some(assumed) = assumed {
        output.says(&assumed);
    }
    let reading = exchange::read_observations(&bytes, &anywhere(&file), &stated, &mut |_| {});
    let draft = match drafted(reading, output) {
        Ok(draft) => draft,
        Err(ended) => return Ok(ended),
    };
    let [setup] = draft.setups.as_slice() else {
        let says = format!(
            "{file} holds {} set-ups; this command adjusts one",
            draft.setups.len()
        );
        return Err(ActError::asked("set-ups", says));
    };
    // Reckoned from the first control point, so that millimetres keep their digits.
    let first = control
        .first()
        .map_or([0.0; 2], |c| [c.easting_m.to_f64(), c.northing_m.to_f64()]);
    let frame = Frame {
        origin: first.into(),
        near_level_m: 0.0,
        reach_m: 1e9,
        level_reach_m: 1e5,
    };
    let known = |name: &str| {
        let row = control.iter().find(|c| c.point == name)?;
        let at = frame.local(&row.easting_m, &row.northing_m, &row.level_m);
        let sigma = |mm: &Option<survey::Decimal>| mm.as_ref().map_or(0.0, |mm| mm.to_f64() / 1000.0);
        let covariance =
            PointCovariance::from_sigmas(sigma(&row.sigma_h_mm), sigma(&row.sigma_v_mm)).unwrap_or_default();
        Some(ControlPoint {
            covariance,
            ..ControlPoint::exact(name, at.x, at.y, Some(at.z))
        })
    };
    let solved = solve_station(&setup.station, 0, &known, args.grid_scale)?;
    let view = station_view(&solved, &frame);
    output.result(&view, station_text)?;
    Ok(if view.fits && view.check == CheckOutcome::Passed {
        Ended::Done
    } else {
        Ended::NotPassed
    })
}

/// Reduces one level book.
pub(crate) fn levels(args: &LevelsArgs, output: &Output) -> Outcome {
    let (bytes, file) = read_file(&args.file)?;
    let reading = exchange::read_levels(
        &bytes,
        &anywhere(&file),
        &args.measured.asked()?.of_book(&file),
        &mut |_| {},
    );
    let draft = match drafted(reading, output) {
        Ok(draft) => draft,
        Err(ended) => return Ok(ended),
    };
    let view = levels_view(&reduce_book(&draft.booked, 0)?);
    output.result(&view, levels_text)?;
    Ok(if view.closes && view.checks_hold {
        Ended::Done
    } else {
        Ended::NotPassed
    })
}

/// Writes a station for a person.
pub(crate) fn station_text(view: &StationView) -> String {
    let level = view.level_m.map_or("not known".into(), |l| l.text());
    let u95_v = view.u95_v_m.map_or("not known".into(), |u| u.text());
    let mut text = format!(
        "{}\n\nstation {}: easting {} northing {} level {} m; \u{b1} {} m in plan, {u95_v} m in level (95 %)\n",
        view.says,
        view.station,
        view.at[0].text(),
        view.at[1].text(),
        level,
        view.u95_h_m.text()
    );
    for cause in &view.causes {
        text += &format!("likely cause: {cause}\n");
    }
    for check in &view.checks {
        let level = check.level_m.map_or("-".into(), |l| l.text());
        text += &format!(
            "check {}: {} m in plan, {level} m in level: {}\n",
            check.point,
            check.plan_m.text(),
            check.says
        );
    }
    for finding in &view.findings {
        text += &format!("look: {finding}\n");
    }
    let mut table = Table::with(&["to", "reading", "residual", "unit", "redundancy", "w"]);
    for reading in &view.readings {
        table.row([
            reading.point.clone(),
            reading.what.clone(),
            format!("{:.2}", reading.residual),
            reading.unit.clone(),
            format!("{:.2}", reading.redundancy),
            reading.w.map_or("-".into(), |w| {
                format!("{w:.2}{}", if reading.rejected { " rejected" } else { "" })
            }),
        ]);
    }
    text + "\n" + &table.text()
}

/// Writes a level book for a person.
pub(crate) fn levels_text(view: &LevelsView) -> String {
    let mut text = format!("{}: {}\n", view.book, view.says);
    let checks = if view.checks_hold { "hold" } else { "do not hold" };
    text += &format!(
        "arithmetic checks {checks}: back {} - fore {}; rise {} - fall {}; last - first {}\n\n",
        view.sums[0], view.sums[1], view.sums[2], view.sums[3], view.sums[4]
    );
    let mut table = Table::with(&[
        "row",
        "point",
        "rise",
        "fall",
        "collimation",
        "level",
        "known",
        "adjusted",
        "\u{b1} m",
    ]);
    let or_dash = |text: &Option<String>| text.clone().unwrap_or_else(|| "-".into());
    for row in &view.rows {
        table.row([
            row.row.to_string(),
            row.point.clone(),
            or_dash(&row.rise),
            or_dash(&row.fall),
            row.collimation.clone(),
            row.level.clone(),
            or_dash(&row.known_level),
            row.adjusted_m.map_or("-".into(), |a| a.text()),
            row.u95_m.map_or("-".into(), |u| u.text()),
        ]);
    }
    text += &table.text();
    for finding in &view.findings {
        text += &format!("look: {finding}\n");
    }
    text
}

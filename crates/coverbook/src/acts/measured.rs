//! Observations and level books: solved and shown before they are recorded.

use super::append::NewEntry;
use super::import::{ImportAsk, doubt, refuse};
use super::{ActError, Register};
use exchange::{LevelOptions, ObservationOptions, ReadOptions, SetUpDraft};
use register::body::{Act, AirRow, CheckRow, InstrumentRow};
use register::faces::pair_faces;
use register::levels::reduce_book;
use register::screens::{levels_view, station_view};
use register::site::Site;
use register::station::fill_positions;
use register::view::{ImportPreview, Near, PreviewPoint};
use register::words::{AngleRead, CheckOutcome, SightKind, Spread};
use std::collections::BTreeMap;
use std::sync::Arc;
use survey::Decimal;

/// What a person says of a set-up or a level book.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct MeasuredAsk {
    /// Name of the station.
    pub station: Option<String>,
    /// How angles were read.
    pub angles: Option<AngleRead>,
    /// What the instrument's maker states; common practice stands in, and is said, where it is not given.
    pub instrument: Option<InstrumentRow>,
    /// The air along the sights, to be reckoned with here.
    pub air: Option<AirRow>,
    /// What the instrument reckoned with itself, as it was set.
    pub air_in_instrument: Option<String>,
    /// The largest difference accepted at a check.
    pub tolerance_mm: Option<Decimal>,
    /// Why a station is used without a passed check.
    pub unchecked_reason: Option<String>,
    /// Name of the level book.
    pub book: Option<String>,
    /// k of the allowable misclosure.
    pub allowable_k_mm: Option<Decimal>,
    /// True when k is for each root of a set-up.
    pub by_setups: bool,
    /// How the misclosure is spread.
    pub spread: Option<Spread>,
    /// Standard deviation of one set-up's height difference.
    pub setup_sigma_mm: Option<Decimal>,
}

impl MeasuredAsk {
    /// Reads what is said, by name, as command line and query have it; what is read is taken out.
    ///
    /// # Errors
    /// A word or figure that does not read.
    pub fn read(said: &mut BTreeMap<String, String>) -> Result<MeasuredAsk, ActError> {
        let mut take = |name: &str| said.remove(name).filter(|text| !text.trim().is_empty());
        let station = take("station");
        let book = take("book");
        let unchecked_reason = take("unchecked_reason");
        let air_in_instrument = take("air_in_instrument");
        let angles = match take("angles") {
            None => None,
            Some(text) => Some(AngleRead::from_slug(&text).ok_or_else(|| {
                let known: Vec<_> = AngleRead::ALL.iter().map(|a| a.slug()).collect();
                ActError::asked(
                    "angles",
                    format!("angles cannot be {text:?}; choose one of {}", known.join(", ")),
                )
            })?),
        };
        let spread = match take("spread") {
            None => None,
            Some(text) => Some(Spread::from_slug(&text).ok_or_else(|| {
                let known: Vec<_> = Spread::ALL.iter().map(|a| a.slug()).collect();
                ActError::asked(
                    "spread",
                    format!("spread cannot be {text:?}; choose one of {}", known.join(", ")),
                )
            })?),
        };
        let by_setups = match take("by_setups").as_deref() {
            None | Some("0" | "false") => false,
            Some("1" | "true") => true,
            Some(other) => {
                return Err(ActError::asked(
                    "by_setups",
                    format!("by_setups is {other:?}; give 1 or 0"),
                ));
            }
        };
        let mut decimal = |name: &'static str| match take(name) {
            None => Ok(None),
            Some(text) => {
                let read = text.trim().parse::<Decimal>();
                read.map(Some)
                    .map_err(|e| ActError::asked("decimal", format!("{name} {text:?}: {e}")))
            }
        };
        let sigmas = [decimal("target_height_sigma_mm")?, decimal("centring_sigma_mm")?];
        let given = [
            decimal("distance_mm")?,
            decimal("distance_ppm")?,
            decimal("direction_sec")?,
            decimal("zenith_sec")?,
        ];
        let tolerance_mm = decimal("tolerance_mm")?;
        let allowable_k_mm = decimal("allowable_k_mm")?;
        let setup_sigma_mm = decimal("setup_sigma_mm")?;
        let entered_ppm = decimal("entered_ppm")?;
        let air = match [
            decimal("temperature_c")?,
            decimal("pressure_hpa")?,
            decimal("humidity_pct")?,
            decimal("wavelength_um")?,
            decimal("reference_ppm")?,
        ] {
            [None, None, None, None, None] if entered_ppm.is_none() => None,
            [
                Some(temperature_c),
                Some(pressure_hpa),
                Some(humidity_pct),
                Some(wavelength_um),
                Some(reference_ppm),
            ] => Some(AirRow {
                temperature_c,
                pressure_hpa,
                humidity_pct,
                wavelength_um,
                reference_ppm,
                entered_ppm,
            }),
            _ => {
                let says = "give all five figures of the air: temperature_c, pressure_hpa, humidity_pct, and of the \
                            instrument's manual wavelength_um, reference_ppm";
                return Err(ActError::asked("air", says));
            }
        };
        let common = common_instrument()?;
        let instrument = match given {
            [None, None, None, None] if sigmas == [None, None] => None,
            [
                Some(distance_mm),
                Some(distance_ppm),
                Some(direction_sec),
                Some(zenith_sec),
            ] => Some(InstrumentRow {
                distance_mm,
                distance_ppm,
                direction_sec,
                zenith_sec,
                target_height_sigma_mm: sigmas[0].clone().unwrap_or(common.target_height_sigma_mm),
                centring_sigma_mm: sigmas[1].clone().unwrap_or(common.centring_sigma_mm),
                name: None,
            }),
            _ => {
                let says = "give all four figures of the instrument: distance_mm, distance_ppm, direction_sec, zenith_sec";
                return Err(ActError::asked("instrument", says));
            }
        };
        Ok(MeasuredAsk {
            station,
            angles,
            instrument,
            air,
            air_in_instrument,
            tolerance_mm,
            unchecked_reason,
            book,
            allowable_k_mm,
            by_setups,
            spread,
            setup_sigma_mm,
        })
    }

    /// Returns what the reader of observations is told, and what was assumed.
    pub(crate) fn of_set_up(&self) -> Result<(ObservationOptions, Option<String>), ActError> {
        let Some(angles) = self.angles else {
            let known: Vec<_> = AngleRead::ALL.iter().map(|a| a.slug()).collect();
            let says = format!(
                "nothing says how the angles were read; state angles: {}",
                known.join(", ")
            );
            return Err(ActError::asked("angles", says));
        };
        let assumed = self.instrument.is_none().then(|| {
            "the instrument's figures are not stated: 2 mm + 2 ppm and 5\" are assumed (common practice), 1 mm for target \
             height and centring"
                .to_owned()
        });
        let options = ObservationOptions {
            station: self.station.clone(),
            angles,
            instrument: match &self.instrument {
                Some(instrument) => instrument.clone(),
                None => common_instrument()?,
            },
            air: self.air.clone(),
            air_in_instrument: self.air_in_instrument.clone(),
            tolerance_mm: self.tolerance_mm.clone(),
            unchecked_reason: self.unchecked_reason.clone(),
            set_already: Vec::new(),
        };
        Ok((options, assumed))
    }

    /// Returns what the reader of a level book is told.
    pub(crate) fn of_book(&self, file: &str) -> LevelOptions {
        LevelOptions {
            book: self.book.clone().unwrap_or_else(|| file.to_owned()),
            allowable_k_mm: self.allowable_k_mm.clone(),
            by_setups: self.by_setups,
            spread: self.spread.unwrap_or(Spread::NotSpread),
            setup_sigma_mm: self.setup_sigma_mm.clone(),
        }
    }
}

/// An instrument as common practice has it, where nobody states its figures.
fn common_instrument() -> Result<InstrumentRow, ActError> {
    let decimal = |text: &str| {
        text.parse::<Decimal>()
            .map_err(|e| ActError::Fault(e.to_string()))
    };
    Ok(InstrumentRow {
        name: None,
        distance_mm: decimal("2")?,
        distance_ppm: decimal("2")?,
        direction_sec: decimal("5")?,
        zenith_sec: decimal("5")?,
        target_height_sigma_mm: decimal("1")?,
        centring_sigma_mm: decimal("1")?,
    })
}

impl Register {
    pub(super) fn draft_observations(
        &self,
        site: &Site,
        bytes: &[u8],
        ask: &ImportAsk,
        options: &ReadOptions,
        read: &mut dyn FnMut(u64),
    ) -> Result<(ImportPreview, Vec<NewEntry>), ActError> {
        let (mut stated, assumed) = ask.measured.of_set_up()?;
        stated.set_already = site.stations.keys().cloned().collect();
        let reading = exchange::read_observations(bytes, options, &stated, read);
        let mut preview = reading.to_view(ask.kind.slug(), &options.import);
        if let Some(says) = assumed {
            preview.add(doubt("instrument-assumed", &ask.file, &says));
        }
        let Some(draft) = reading.draft else {
            return Ok((preview, Vec::new()));
        };
        let frame = site.frame()?;
        let mut entries = Vec::new();
        for mut setup in draft.setups {
            let no_control = setup
                .station
                .sights
                .iter()
                .all(|s| s.sighted_as == SightKind::Check);
            let standing = site.stations.get(&setup.station.station).filter(|_| no_control);
            let solved = match standing {
                Some(standing) => Ok(Arc::clone(&standing.solved)),
                None => site.try_station(&setup.station, 0).map(Arc::new),
            };
            let solved = match solved {
                Ok(solved) => solved,
                Err(refused) => {
                    refuse(&mut preview, vec![refused]);
                    continue;
                }
            };
            if standing.is_some() {
                check_before_shots(&mut setup);
            }
            let view = station_view(&solved, &frame);
            for says in view.causes.iter().chain(&view.findings) {
                let says = format!("station {}: {says}", view.station);
                preview.add(doubt("station", &ask.file, &says));
            }
            let passes = view.fits && view.check == CheckOutcome::Passed;
            if preview.station.is_none() || !passes {
                preview.station = Some(view);
            }
            if let Err(refused) = fill_positions(&mut setup.points, &solved, &frame) {
                refuse(&mut preview, vec![refused]);
                continue;
            }
            for point in &setup.points {
                if preview.points.len() < exchange::PREVIEW_POINTS {
                    preview.points.push(PreviewPoint {
                        point: point.point.clone(),
                        at: [&point.easting_m, &point.northing_m, &point.level_m].map(|d| Near(d.to_f64())),
                        row: point.row.unwrap_or(0),
                        touched: Some(point.touched.slug().into()),
                        run: None,
                    });
                }
            }
            let acts = exchange::split_set_up(setup, standing.is_some(), &options.import);
            entries.extend(acts.into_iter().map(NewEntry::from));
        }
        entries.extend(
            draft
                .runs
                .into_iter()
                .map(|run| NewEntry::from(Act::RunLaid(run))),
        );
        Ok((preview, entries))
    }
}

/// Makes the checks that lead a file of shots from a standing station into checks between shots.
fn check_before_shots(setup: &mut SetUpDraft) {
    let station = &setup.station;
    let sights = station
        .sights
        .iter()
        .map(|known| (known.target.as_str(), &known.sight));
    let leading = pair_faces(sights, station.angles)
        .into_iter()
        .map(|(target, sights)| CheckRow {
            station: station.station.clone(),
            after: 0,
            target: target.to_owned(),
            sights,
        });
    let leading: Vec<CheckRow> = leading.collect();
    setup.station.sights.clear();
    setup.checks.splice(0..0, leading);
}

pub(super) fn draft_levels(
    bytes: &[u8],
    ask: &ImportAsk,
    options: &ReadOptions,
    read: &mut dyn FnMut(u64),
) -> Result<(ImportPreview, Vec<NewEntry>), ActError> {
    let reading = exchange::read_levels(bytes, options, &ask.measured.of_book(&ask.file), read);
    let mut preview = reading.to_view(ask.kind.slug(), &options.import);
    let Some(draft) = reading.draft else {
        return Ok((preview, Vec::new()));
    };
    match reduce_book(&draft.booked, 0) {
        Ok(book) => {
            for says in &book.findings {
                preview.add(doubt("level-book", &ask.file, says));
            }
            preview.levels = Some(levels_view(&book));
            Ok((preview, vec![Act::LevelsBooked(draft.booked).into()]))
        }
        Err(refused) => {
            refuse(&mut preview, vec![refused]);
            Ok((preview, Vec::new()))
        }
    }
}

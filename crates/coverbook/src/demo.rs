//! The demonstration: an invented site, recorded by the same acts as a person's own.
//!
//! `demo-data/demo.toml` lists what was recorded, by whom, when and in what order; this reads it and does it.

use crate::acts::{
    ActError, Author, ImportAsk, ImportKind, MeasuredAsk, Near, NewEntry, OpenSite, Register, SurfaceAsk,
};
use register::body::{Act, Distances, RulesAdopted, RunRetired};
use register::words::{Retirement, SurfaceKind};
use rust_embed::RustEmbed;
use serde::Deserialize;
use std::collections::BTreeMap;
use survey::Decimal;
use uuid::Uuid;

#[derive(RustEmbed)]
#[folder = "$CARGO_MANIFEST_DIR/../../demo-data"]
struct Files;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Scenario {
    format: String,
    site: SiteStep,
    rules: RulesStep,
    #[serde(default)]
    import: Vec<ImportStep>,
    #[serde(default)]
    level_surface: Vec<LevelStep>,
    #[serde(default)]
    retire: Vec<RetireStep>,
    /// Questions to try; none is part of the record.
    #[serde(default)]
    dig: Vec<toml::Table>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct SiteStep {
    name: String,
    epsg: Option<u32>,
    level_datum: String,
    bench_mark: String,
    distances: Distances,
    near_easting: Decimal,
    near_northing: Decimal,
    near_level: Decimal,
    reach_m: Decimal,
    level_reach_m: Decimal,
    contact: Option<String>,
    by: String,
    observed_at: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RulesStep {
    file: String,
    #[serde(default)]
    confirmed: Vec<String>,
    by: String,
    observed_at: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ImportStep {
    step: u32,
    file: String,
    r#as: String,
    surface: Option<String>,
    surface_kind: Option<SurfaceKind>,
    /// What is said of a set-up or a level book.
    #[serde(default)]
    said: BTreeMap<String, String>,
    by: String,
    observed_at: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct LevelStep {
    step: u32,
    surface: String,
    surface_kind: SurfaceKind,
    level_m: Decimal,
    sigma_v_mm: Option<Decimal>,
    ring: Vec<[Decimal; 2]>,
    by: String,
    observed_at: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RetireStep {
    step: u32,
    run: String,
    how: Retirement,
    #[serde(default)]
    removal_seen: bool,
    #[serde(default)]
    successors: Vec<String>,
    reason: String,
    by: String,
    observed_at: String,
}

/// Loads the demonstration into a register and returns its site.
///
/// # Errors
/// A scenario that is refused, which is our own fault.
pub fn load(register: &Register, says: &mut dyn FnMut(&str)) -> Result<Uuid, ActError> {
    let fault = |what: &str, why: String| ActError::Fault(format!("demo-data/{what}: {why}"));
    let text = |file: &str| {
        let bytes = Files::get(file).ok_or_else(|| fault(file, "it is not embedded".into()))?;
        String::from_utf8(bytes.data.into_owned()).map_err(|e| fault(file, e.to_string()))
    };
    let scenario: Scenario =
        toml::from_str(&text("demo.toml")?).map_err(|e| fault("demo.toml", e.to_string()))?;
    if scenario.format != "coverbook.demo/1" {
        return Err(fault("demo.toml", format!("its format is {:?}", scenario.format)));
    }
    tracing::debug!(
        digs = scenario.dig.len(),
        "the demonstration holds questions to try"
    );
    let site = open(register, scenario.site)?;
    says("rules.toml");
    let rules = scenario.rules;
    let act = Act::RulesAdopted(RulesAdopted {
        text: text(&rules.file)?,
        confirmed: rules.confirmed,
        left_out: Vec::new(),
    });
    let entry = NewEntry {
        act,
        id: None,
        observed_at: Some(rules.observed_at),
    };
    register.append(site, &author(&rules.by), vec![entry])?;
    let last = scenario
        .import
        .iter()
        .map(|s| s.step)
        .chain(scenario.level_surface.iter().map(|s| s.step));
    let last = last
        .chain(scenario.retire.iter().map(|s| s.step))
        .max()
        .unwrap_or(0);
    for step in 1..=last {
        for import in scenario.import.iter().filter(|s| s.step == step) {
            says(&import.file);
            let mut ask = ImportAsk::new(ImportKind::named(&import.r#as)?, import.file.clone());
            ask.surface_name = import.surface.clone();
            ask.surface_kind = import.surface_kind;
            ask.observed_at = Some(import.observed_at.clone());
            ask.measured = MeasuredAsk::read(&mut import.said.clone())?;
            let bytes = text(&import.file)?.into_bytes();
            let preview = register.import(site, &bytes, &ask, &author(&import.by), &mut |_| {})?;
            if !preview.accepted {
                let first = preview
                    .findings
                    .first()
                    .map(|f| f.says.clone())
                    .unwrap_or(preview.says);
                return Err(fault(&import.file, first));
            }
        }
        for level in scenario.level_surface.iter().filter(|s| s.step == step) {
            let ask = SurfaceAsk {
                name: level.surface.clone(),
                kind: level.surface_kind,
                id: None,
                observed_at: Some(level.observed_at.clone()),
                level_m: Some(level.level_m.clone()),
                points: Vec::new(),
                within: Some(level.ring.clone()),
                sigma_v_mm: level.sigma_v_mm.clone(),
            };
            register.record_surface(site, ask, &author(&level.by))?;
        }
        for retire in scenario.retire.iter().filter(|s| s.step == step) {
            let act = Act::RunRetired(RunRetired {
                run: retire.run.clone(),
                how: retire.how,
                removal_seen: retire.removal_seen,
                successors: retire.successors.clone(),
                reason: retire.reason.clone(),
            });
            let entry = NewEntry {
                act,
                id: None,
                observed_at: Some(retire.observed_at.clone()),
            };
            register.append(site, &author(&retire.by), vec![entry])?;
        }
    }
    Ok(site)
}

fn open(register: &Register, site: SiteStep) -> Result<Uuid, ActError> {
    let ask = OpenSite {
        name: site.name,
        epsg: site.epsg,
        level_datum: site.level_datum,
        bench_mark: site.bench_mark,
        distances: Some(site.distances),
        near: Near {
            easting: site.near_easting,
            northing: site.near_northing,
            level: site.near_level,
        },
        reach_m: Some(site.reach_m),
        level_reach_m: Some(site.level_reach_m),
        contact: site.contact,
        observed_at: Some(site.observed_at),
    };
    register.open_site(ask, &author(&site.by)).map(|(site, _)| site)
}

fn author(by: &str) -> Author {
    Author {
        by: by.to_owned(),
        device: "demonstration".into(),
    }
}

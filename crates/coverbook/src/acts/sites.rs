//! Sites: opened, listed, found by name.

use super::trial::trial;
use super::{ActError, Author, NewEntry, Receipt, Register};
use register::body::{Act, Distances, SiteOpened};
use register::chain;
use register::entry::{Attached, read_body};
use register::site::Site;
use register::view::{HeadView, SiteSummary};
use serde::Deserialize;
use survey::Decimal;
use utoipa::ToSchema;
use uuid::Uuid;

/// How far from its middle a site reaches, unless told otherwise.
pub const REACH_M: &str = "2000";
/// How far above and below its usual level a site reaches, unless told otherwise.
pub const LEVEL_REACH_M: &str = "100";

/// What a person says to open a site.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OpenSite {
    /// Its name.
    pub name: String,
    /// EPSG code of the projected grid; null for a grid tied to nothing.
    #[serde(default)]
    pub epsg: Option<u32>,
    /// The named level datum.
    pub level_datum: String,
    /// The bench mark the levels hang on.
    pub bench_mark: String,
    /// Distances on the grid, or on the ground.
    #[serde(default)]
    pub distances: Option<Distances>,
    /// Roughly where: easting, northing, level, as decimals.
    pub near: Near,
    /// How far a point may lie from there; 2000 m when not stated.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub reach_m: Option<Decimal>,
    /// How far above or below there a level may lie; 100 m when not stated.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub level_reach_m: Option<Decimal>,
    /// Whom to ring.
    #[serde(default)]
    pub contact: Option<String>,
    /// When it was opened; now when not stated.
    #[serde(default)]
    pub observed_at: Option<String>,
}

/// Roughly where a site is, as decimals.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Near {
    /// Easting, metres.
    #[schema(value_type = String)]
    pub easting: Decimal,
    /// Northing, metres.
    #[schema(value_type = String)]
    pub northing: Decimal,
    /// Level, metres.
    #[schema(value_type = String)]
    pub level: Decimal,
}

impl Register {
    /// Opens a site and returns its id.
    ///
    /// # Errors
    /// A name that is taken or blank, an unknown grid, a reach that cannot be.
    pub fn open_site(&self, open: OpenSite, author: &Author) -> Result<(Uuid, Receipt), ActError> {
        super::people::checked_name(&author.by)?;
        let name = open.name.trim().to_owned();
        if let Some(there) = self
            .sites()?
            .into_iter()
            .find(|s| s.name.eq_ignore_ascii_case(&name))
        {
            let says = format!(
                "a site named {:?} is in this register already ({}); choose another name",
                there.name, there.id
            );
            return Err(ActError::asked("name-taken", says));
        }
        let decimal = |text: &str| {
            text.parse::<Decimal>()
                .map_err(|e| ActError::Fault(e.to_string()))
        };
        let site = Uuid::now_v7();
        let opened = SiteOpened {
            site,
            name,
            epsg: open.epsg,
            level_datum: open.level_datum.trim().to_owned(),
            bench_mark: open.bench_mark.trim().to_owned(),
            distances: open.distances.unwrap_or(Distances::Grid),
            near_easting_m: open.near.easting,
            near_northing_m: open.near.northing,
            near_level_m: open.near.level,
            reach_m: open.reach_m.map_or_else(|| decimal(REACH_M), Ok)?,
            level_reach_m: open.level_reach_m.map_or_else(|| decimal(LEVEL_REACH_M), Ok)?,
            contact: open
                .contact
                .map(|c| c.trim().to_owned())
                .filter(|c| !c.is_empty()),
        };
        let act = Act::SiteOpened(opened);
        // Tried first, so that a refusal leaves no empty site behind.
        let mut nothing = Site::empty(site);
        let tried = trial(&nothing, act.clone(), self.now(), &Attached::new());
        nothing.apply(&tried)?;
        self.store
            .create_site(site.into_bytes(), chain::head_of_nothing(site))?;
        let receipt = self.append(
            site,
            author,
            vec![NewEntry {
                act,
                id: None,
                observed_at: open.observed_at,
            }],
        )?;
        Ok((site, receipt))
    }

    /// Returns every open site of the register: name and head, without folding any.
    pub fn sites(&self) -> Result<Vec<SiteSummary>, ActError> {
        let mut summaries = Vec::new();
        for row in self.store.sites()? {
            // A site that was created and never opened holds nothing.
            if row.head.n == 0 {
                continue;
            }
            let id = Uuid::from_bytes(row.site);
            summaries.push(SiteSummary {
                id: id.to_string(),
                name: self.name_of(id)?,
                head: self.stored_head(id)?,
            });
        }
        Ok(summaries)
    }

    /// Finds a site by name (any case), by id, or by the beginning of its id.
    ///
    /// # Errors
    /// None of that name, or several.
    pub fn find_site(&self, given: &str) -> Result<Uuid, ActError> {
        let sites = self.sites()?;
        let given = given.trim();
        let named: Vec<&SiteSummary> = match sites
            .iter()
            .filter(|s| s.name.eq_ignore_ascii_case(given))
            .collect::<Vec<_>>()
        {
            by_name if !by_name.is_empty() => by_name,
            _ => sites
                .iter()
                .filter(|s| given.len() >= 4 && s.id.starts_with(&given.to_ascii_lowercase()))
                .collect(),
        };
        match named.as_slice() {
            [one] => one
                .id
                .parse()
                .map_err(|e| ActError::Fault(format!("site id {}: {e}", one.id))),
            [] => {
                let known: Vec<_> = sites.iter().map(|s| s.name.as_str()).collect();
                let known = if known.is_empty() {
                    "none; open one first".to_owned()
                } else {
                    known.join(", ")
                };
                Err(ActError::NotThere(format!(
                    "no site is named {given:?}; this register holds: {known}"
                )))
            }
            several => Err(ActError::asked(
                "several-sites",
                format!(
                    "{given:?} could mean {} sites; give more of the id",
                    several.len()
                ),
            )),
        }
    }

    /// Returns a site's name from its opening entry.
    pub(crate) fn name_of(&self, id: Uuid) -> Result<String, ActError> {
        let rows = self.store.entries_tagged(id.into_bytes(), &["SiteOpened"])?;
        let opened = rows.first().and_then(|row| read_body(&row.body).ok());
        Ok(match opened.map(|body| body.act) {
            Some(Act::SiteOpened(opened)) => opened.name,
            _ => "(not readable)".to_owned(),
        })
    }

    /// Returns the head of a site as stored.
    pub(crate) fn stored_head(&self, id: Uuid) -> Result<HeadView, ActError> {
        let head = self.store.head(id.into_bytes())?;
        let recorded_at = match head.n {
            0 => None,
            n => self
                .store
                .entries(id.into_bytes(), n, 1)?
                .into_iter()
                .next()
                .map(|row| row.recorded_at),
        };
        Ok(HeadView {
            n: head.n,
            hex: chain::hex(&head.hash),
            recorded_at,
        })
    }
}

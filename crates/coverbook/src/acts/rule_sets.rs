//! Rule sets: those that ship, switched off, and the adoption of one.

use super::{ActError, Author, NewEntry, Receipt, Register};
use register::body::{Act, RulesAdopted};
use register::rules::{Citation, RuleSet, SHIPPED, SeparationMeasure, Side, Status};
use register::service::Service;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// A rule set that a site can adopt.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RuleSetView {
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// Where it holds.
    pub jurisdiction: String,
    /// What else to know.
    pub note: String,
    /// Its figures.
    pub figures: Vec<FigureView>,
}

/// One figure of a rule set.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FigureView {
    /// Its id.
    pub id: String,
    /// The figure in a sentence.
    pub says: String,
    /// Source, edition and clause.
    pub source: String,
    /// `seen | second-hand | from memory`; what was not seen counts once the adopting person confirms it.
    pub status: String,
}

/// Returns the rule sets that ship.
///
/// # Errors
/// One that does not read, which is our own fault.
pub fn shipped_views() -> Result<Vec<RuleSetView>, ActError> {
    SHIPPED.iter().map(|set| view_of(set.text)).collect()
}

/// Returns the text of a rule set that ships.
///
/// # Errors
/// None has that id.
pub fn shipped_text(id: &str) -> Result<&'static str, ActError> {
    SHIPPED
        .iter()
        .find(|set| set.id == id)
        .map(|set| set.text)
        .ok_or_else(|| {
            let known: Vec<_> = SHIPPED.iter().map(|set| set.id).collect();
            ActError::NotThere(format!(
                "no rule set {id:?} ships; there are: {}",
                known.join(", ")
            ))
        })
}

/// Returns a rule set's text as a view.
pub(crate) fn view_of(text: &str) -> Result<RuleSetView, ActError> {
    let set = RuleSet::read(text).map_err(|e| ActError::asked("rules", e.to_string()))?;
    let mut figures = Vec::new();
    let names = |services: &[Service]| {
        services
            .iter()
            .map(|s| s.style().name)
            .collect::<Vec<_>>()
            .join(", ")
    };
    for rule in &set.cover {
        let how = match rule.measure {
            register::rules::CoverMeasure::Vertical => "straight up",
            register::rules::CoverMeasure::Shortest => "the shortest way",
        };
        let says = format!(
            "cover of at least {} m, {how}: {} ({})",
            rule.minimum_m,
            names(&rule.services),
            rule.situation
        );
        figures.push(figure(&rule.cited, says));
    }
    for rule in &set.fall {
        let size = match (rule.size_mm_min, rule.size_mm_max) {
            (Some(min), Some(max)) => format!(", sizes {min} to {max} mm"),
            (Some(min), None) => format!(", sizes from {min} mm"),
            (None, Some(max)) => format!(", sizes up to {max} mm"),
            (None, None) => String::new(),
        };
        let says = format!(
            "fall of at least {:.2} %: {}{size}",
            rule.minimum * 100.0,
            names(&rule.services)
        );
        figures.push(figure(&rule.cited, says));
    }
    for rule in &set.separation {
        let how = match (rule.measure, rule.above) {
            (SeparationMeasure::Shortest, _) => "the shortest way".to_owned(),
            (SeparationMeasure::Horizontal, _) => "in plan, side by side".to_owned(),
            (SeparationMeasure::VerticalCrossing, None) => "in height where they cross".to_owned(),
            (SeparationMeasure::VerticalCrossing, Some(side)) => {
                let above = &rule.between[usize::from(side == Side::Second)];
                format!("in height where {} crosses above", names(above))
            }
        };
        let mut says = format!(
            "separation of at least {} m, {how}: {} from {} ({})",
            rule.minimum_m,
            names(&rule.between[0]),
            names(&rule.between[1]),
            rule.situation
        );
        for unless in &rule.unless {
            says += &format!("; unless {unless}: leave it out if so");
        }
        for also in &rule.also {
            says += &format!("; it asks besides that {also}");
        }
        figures.push(figure(&rule.cited, says));
    }
    if let Some(dig) = &set.dig {
        let says = format!(
            "dig by hand within {} m, near within {} m; allow {} m for setting out and {} m for over-digging",
            dig.hand_dig_m, dig.near_m, dig.set_out_m, dig.over_dig_m
        );
        figures.push(figure(&dig.cited, says));
    }
    for rule in &set.uncertainty {
        let says = format!(
            "where nothing is stated, {} counts as {} mm in plan and {} mm in level (1 sigma)",
            rule.known, rule.sigma_h_mm, rule.sigma_v_mm
        );
        figures.push(figure(&rule.cited, says));
    }
    Ok(RuleSetView {
        id: set.id,
        title: set.title,
        jurisdiction: set.jurisdiction,
        note: set.note.trim().to_owned(),
        figures,
    })
}

fn figure(cited: &Citation, says: String) -> FigureView {
    FigureView {
        id: cited.id.clone(),
        says,
        source: format!("{}, {}, {}", cited.source, cited.edition, cited.clause),
        status: cited.status.words().to_owned(),
    }
}

impl Register {
    /// Adopts a rule set, by its whole text.
    ///
    /// # Errors
    /// A text that is none; a figure confirmed or left out that it does not have.
    pub fn adopt_rules(
        &self,
        site: Uuid,
        text: &str,
        confirmed: Vec<String>,
        left_out: Vec<String>,
        author: &Author,
        id: Option<Uuid>,
    ) -> Result<Receipt, ActError> {
        let act = Act::RulesAdopted(RulesAdopted {
            text: text.to_owned(),
            confirmed,
            left_out,
        });
        self.append(site, author, vec![NewEntry { id, ..act.into() }])
    }

    /// Returns the rule set in force on a site, with its figures; none when none is adopted.
    pub fn adopted_rules(&self, site: Uuid) -> Result<Option<RuleSetView>, ActError> {
        let site = self.site(site)?;
        let Some(adopted) = &site.rules else {
            return Ok(None);
        };
        let row = self
            .store
            .entries(site.id.into_bytes(), adopted.entry, 1)?
            .into_iter()
            .next();
        let body = row.and_then(|row| register::entry::read_body(&row.body).ok());
        let Some(Act::RulesAdopted(of)) = body.map(|body| body.act) else {
            return Err(ActError::Journal {
                n: adopted.entry,
                why: "the adopted rules do not read".into(),
            });
        };
        let mut view = view_of(&of.text)?;
        for figure in &mut view.figures {
            if adopted.left_out.contains(&figure.id) {
                figure.status += "; left out";
            } else if adopted.confirmed.contains(&figure.id) {
                figure.status += "; confirmed";
            } else if figure.status != Status::Seen.words() {
                figure.status += "; does not count, since nobody confirmed it";
            }
        }
        Ok(Some(view))
    }
}

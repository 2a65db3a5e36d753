//! Sheets: an answer on paper, and the entry that says it left the office.

use super::append::{NewEntry, Writing};
use super::people::Names;
use super::{ActError, Author, ENGINE, Receipt, Register};
use register::body::{Act, SheetIssued};
use register::chain;
use register::dig::DigQuestion;
use register::site::Site;
use register::view::DigAnswer;
use sheets::{DigPlanInput, HandDigZone, IssueInfo, Paper, SheetError};
use std::sync::Arc;
use uuid::Uuid;

/// What a dig plan is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetAsk {
    /// The paper.
    pub paper: Paper,
    /// The dig.
    pub question: DigQuestion,
    /// When to ask again, as printed.
    pub recheck_by: Option<String>,
    /// Emergency services, as dialled on this site.
    pub emergency: Option<String>,
}

/// A sheet that was laid out.
#[derive(Debug, Clone)]
pub struct SheetMade {
    /// The sheet.
    pub pdf: Vec<u8>,
    /// The entry that says it was issued, when this made one.
    pub receipt: Option<Receipt>,
}

/// How often a sheet is begun again because the book went on meanwhile.
const TRIES: usize = 20;

impl Register {
    /// Lays out the dig plan of a planned dig as PDF.
    ///
    /// With an author the sheet is entered in the book as issued, and kept; without one it is a print, and says
    /// that nobody issued it. A sheet issued before under the same entry id is not laid out again: the kept one is
    /// returned, and nothing changes.
    ///
    /// # Errors
    /// As [`Register::dig`]; a dig too large for its paper; an entry id that is taken by anything else.
    pub fn dig_sheet(
        &self,
        id: Uuid,
        ask: &SheetAsk,
        author: Option<&Author>,
        entry_id: Option<Uuid>,
    ) -> Result<SheetMade, ActError> {
        let kept = || match author {
            None => Ok(None),
            Some(author) => self.kept_sheet(id, ask, author, entry_id),
        };
        if let Some(made) = kept()? {
            return Ok(made);
        }
        // Everything on a sheet is of one moment, so that its head tells what it was made from.
        for _ in 0..TRIES {
            let answer = self.dig(id, &ask.question)?;
            let site = self.site(id)?;
            if site.head_view().hex != answer.head.hex {
                continue;
            }
            return match self.issue(&site, answer, ask, author, entry_id) {
                // The same came twice at once, and the other was first.
                Err(error @ ActError::SameIdOtherBytes { .. }) => kept()?.ok_or(error),
                made => made,
            };
        }
        Err(store::StoreError::Busy { waited_ms: 0 }.into())
    }

    /// Returns the sheet that was issued before under an id.
    fn kept_sheet(
        &self,
        id: Uuid,
        ask: &SheetAsk,
        author: &Author,
        entry_id: Option<Uuid>,
    ) -> Result<Option<SheetMade>, ActError> {
        let issued = self.issued_before(id, entry_id, author, |act| match act {
            Act::SheetIssued(issued) => {
                let (n, hex) = issued.head.split_once(':')?;
                let number = number_of(ask, n, hex).ok()?;
                (issued.sheet == entered_as(&number)).then_some(issued.sha256)
            }
            _ => None,
        })?;
        let Some(hash) = issued.as_deref().and_then(chain::from_hex) else {
            return Ok(None);
        };
        Ok(Some(SheetMade {
            pdf: self.store.get_blob(hash)?,
            receipt: None,
        }))
    }

    fn issue(
        &self,
        site: &Site,
        answer: DigAnswer,
        ask: &SheetAsk,
        author: Option<&Author>,
        entry_id: Option<Uuid>,
    ) -> Result<SheetMade, ActError> {
        let names = Names::of(self.store.as_ref());
        let mut cards = Vec::new();
        let mut zones = Vec::new();
        for run in &answer.runs {
            if run.site == answer.site && !run.part.is_empty() {
                let surface = ask.question.surface.as_deref();
                cards.push(site.run_card(&run.run, surface, &|id| names.name(id))?);
            }
            if let Some(rule) = &run.rule
                && let Some(each_side_m) = rule.minimum
            {
                zones.push(HandDigZone {
                    run: run.run.clone(),
                    each_side_m,
                    source: rule.source.clone(),
                });
            }
        }
        let issued = IssueInfo {
            sheet_id: number_of(ask, &answer.head.n.to_string(), &answer.head.hex)?,
            issued_at: answer.as_at.clone(),
            issued_by: author.map(|a| a.by.trim().to_owned()).unwrap_or_default(),
            recheck_by: ask.recheck_by.clone(),
            emergency: ask.emergency.clone(),
        };
        let (view, map) = (site.site_view(), site.map_view()?);
        let input = DigPlanInput {
            answer: &answer,
            site: &view,
            map: &map,
            cards: &cards,
            zones: &zones,
            issued: &issued,
            engine: ENGINE,
        };
        let refused = |error: SheetError| match error {
            SheetError::Writer(_) => ActError::Fault(error.to_string()),
            _ => ActError::asked("sheet", error.to_string()),
        };
        let pdf = sheets::dig_plan(&input, ask.paper)
            .and_then(|sheet| sheet.pdf())
            .map_err(refused)?;
        let mut receipt = None;
        if let Some(author) = author {
            let act = Act::SheetIssued(SheetIssued {
                sheet: entered_as(&issued.sheet_id),
                sha256: chain::sha256_hex(&pdf),
                engine: ENGINE.to_owned(),
                rules_sha256: answer.rules.as_ref().map(|rules| rules.sha256.clone()),
                head: format!("{}:{}", answer.head.n, answer.head.hex),
            });
            let file: Arc<[u8]> = pdf.as_slice().into();
            let entry = NewEntry {
                id: entry_id,
                ..act.into()
            };
            let writing = Writing {
                entries: vec![entry],
                files: vec![file],
                ..Writing::default()
            };
            receipt = Some(self.write(site.id, author, writing)?);
        }
        Ok(SheetMade { pdf, receipt })
    }
}

/// Returns the paper of a name.
///
/// # Errors
/// A name of none.
pub fn paper_named(name: &str) -> Result<Paper, ActError> {
    Paper::from_name(name)
        .ok_or_else(|| ActError::asked("paper", format!("{name:?} is no paper; choose A4, A3 or Letter")))
}

/// Returns a sheet's number: of the head it was made from, and of everything it was asked for.
fn number_of(ask: &SheetAsk, n: &str, hex: &str) -> Result<String, ActError> {
    let paper = format!("{:?}", ask.paper);
    let asked = (&ask.question, paper, &ask.recheck_by, &ask.emergency, hex);
    let asked = serde_json::to_vec(&asked).map_err(|e| ActError::Fault(e.to_string()))?;
    let number = chain::sha256_hex(&asked);
    Ok(format!("{n}-{}", number[..8].to_uppercase()))
}

fn entered_as(sheet: &str) -> String {
    format!("dig plan {sheet}")
}

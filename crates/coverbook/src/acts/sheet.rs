//! Sheets: an answer on paper, and the entry that says it left the office.

use super::append::Writing;
use super::{ActError, Author, ENGINE, Register};
use register::body::{Act, SheetIssued};
use register::chain;
use register::dig::DigQuestion;
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

impl Register {
    /// Lays out the dig plan of a planned dig and returns it as PDF.
    ///
    /// With an author the sheet is entered in the book as issued, and kept; without one it is a print, and says
    /// that nobody issued it.
    ///
    /// # Errors
    /// As [`Register::dig`]; a dig too large for its paper.
    pub fn dig_sheet(&self, id: Uuid, ask: &SheetAsk, author: Option<&Author>) -> Result<Vec<u8>, ActError> {
        let answer = self.dig(id, &ask.question)?;
        let site = self.site(id)?;
        let mut cards = Vec::new();
        let mut zones = Vec::new();
        for run in &answer.runs {
            if run.site == answer.site && !run.part.is_empty() {
                cards.push(self.run_card(id, &run.run, answer_surface(&ask.question))?);
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
        let question = serde_json::to_string(&ask.question).map_err(|e| ActError::Fault(e.to_string()))?;
        let number = chain::sha256_hex(format!("{question}{}", answer.head.hex).as_bytes());
        let issued = IssueInfo {
            sheet_id: format!("{}-{}", answer.head.n, &number[..8].to_uppercase()),
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
        if let Some(author) = author {
            let act = Act::SheetIssued(SheetIssued {
                sheet: format!("dig plan {}", issued.sheet_id),
                sha256: chain::sha256_hex(&pdf),
                engine: ENGINE.to_owned(),
                rules_sha256: answer.rules.as_ref().map(|rules| rules.sha256.clone()),
                head: format!("{}:{}", answer.head.n, answer.head.hex),
            });
            let file: Arc<[u8]> = pdf.as_slice().into();
            self.write(
                id,
                author,
                Writing {
                    entries: vec![act.into()],
                    files: vec![file],
                    ..Writing::default()
                },
            )?;
        }
        Ok(pdf)
    }
}

fn answer_surface(question: &DigQuestion) -> Option<&str> {
    question.surface.as_deref()
}

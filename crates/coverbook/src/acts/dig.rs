//! A planned dig: asked of every site that can be brought into its grid, from boxes and cached runs.
//!
//! Nothing is folded for it but what a dig needs besides runs, so one question to a register of a million legs
//! reads only what lies near.

use super::append::NewEntry;
use super::{ActError, Author, ENGINE, Receipt, Register, fold, rows};
use register::body::{Act, ResultIssued};
use register::dig::{Asked, DigQuestion, PlannedDig};
use register::entry::KINDS;
use register::site::Site;
use register::view::{DigAnswer, HeadView, NotCompared};
use std::ops::ControlFlow;
use std::sync::{Arc, PoisonError};
use store::{Head, PlanBox};
use uuid::Uuid;

/// How often a question is asked again because another program wrote meanwhile.
const TRIES: usize = 20;

impl Register {
    /// Answers a planned dig.
    ///
    /// # Errors
    /// A question that leaves open what is asked; a site that cannot be read: the answer could be short of a service.
    pub fn dig(&self, site: Uuid, question: &DigQuestion) -> Result<DigAnswer, ActError> {
        // The index is read after the heads; an answer stands only when no head moved in between.
        for _ in 0..TRIES {
            let before = self.store.sites()?;
            let answer = self.dig_once(site, question)?;
            if self.store.sites()? == before {
                return Ok(answer);
            }
        }
        Err(store::StoreError::Busy { waited_ms: 0 }.into())
    }

    fn dig_once(&self, id: Uuid, question: &DigQuestion) -> Result<DigAnswer, ActError> {
        let site = self.frame(id)?;
        let planned = PlannedDig::of(&site, question)?;
        let mut others = Vec::new();
        let mut not_compared = Vec::new();
        for row in self.store.sites()? {
            let other = Uuid::from_bytes(row.site);
            if other == id || row.head.n == 0 {
                continue;
            }
            let frame = self.frame(other)?;
            match planned.cannot_compare(&frame) {
                Some(why) => not_compared.push(NotCompared {
                    site: self.name_of(other)?,
                    why,
                }),
                None => others.push(frame),
            }
        }
        let mut asked = vec![self.ask(&planned, &site)?];
        for other in &others {
            asked.push(self.ask(&planned, other)?);
        }
        Ok(planned.answer(&asked, not_compared, &self.now())?)
    }

    /// Brings the runs of one site that may matter.
    fn ask<'s>(&self, planned: &PlannedDig<'_>, site: &'s Site) -> Result<Asked<'s>, ActError> {
        let head: HeadView = self.stored_head(site.id)?;
        let within = planned.search_box(site)?;
        let within = PlanBox {
            min_e: within.min.x,
            min_n: within.min.y,
            max_e: within.max.x,
            max_n: within.max.y,
            chunk: 0,
        };
        let mut runs = Vec::new();
        let mut failed = None;
        self.store.runs_in_boxes(
            site.id.into_bytes(),
            &within,
            &mut |key, bytes, _| match rows::read_row(key, bytes) {
                Ok(record) => {
                    runs.push(Arc::new(record));
                    ControlFlow::Continue(())
                }
                Err(error) => {
                    failed = Some(error);
                    ControlFlow::Break(())
                }
            },
        )?;
        match failed {
            Some(error) => Err(error),
            None => Ok(Asked { site, head, runs }),
        }
    }

    /// Returns what a dig needs of a site besides its runs: the fold if it is at hand, else that part alone.
    fn frame(&self, id: Uuid) -> Result<Arc<Site>, ActError> {
        if let Some(site) = self.at_hand(id)? {
            return Ok(site);
        }
        let head = self.store.head(id.into_bytes())?;
        let mut frames = self.frames.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((at, frame)) = frames.get(&id)
            && *at == head
        {
            return Ok(Arc::clone(frame));
        }
        // An entry of a kind that nobody here knows could hide a service: the whole fold says what to do about it.
        let unknown = self
            .store
            .tags(id.into_bytes())?
            .into_iter()
            .any(|tag| !KINDS.contains(&tag.as_str()));
        if unknown {
            return self.site(id);
        }
        let frame = Arc::new(fold::frame_of(self.store.as_ref(), id)?);
        frames.insert(id, (head, Arc::clone(&frame)));
        Ok(frame)
    }

    /// Keeps an answer in the journal as it was issued.
    pub fn keep_dig(
        &self,
        site: Uuid,
        question: &DigQuestion,
        answer: &DigAnswer,
        author: &Author,
    ) -> Result<Receipt, ActError> {
        let text = |json: serde_json::Result<String>| json.map_err(|e| ActError::Fault(e.to_string()));
        let act = Act::DigPlanned(ResultIssued {
            question: text(serde_json::to_string(question))?,
            answer: text(serde_json::to_string(answer))?,
            engine: ENGINE.to_owned(),
            rules_sha256: answer.rules.as_ref().map(|rules| rules.sha256.clone()),
            head: format!("{}:{}", answer.head.n, answer.head.hex),
        });
        self.append(site, author, vec![NewEntry::from(act)])
    }
}

/// Frames that were read for digs, with the heads they stand at.
pub(crate) type Frames = std::collections::HashMap<Uuid, (Head, Arc<Site>)>;

//! A planned dig: asked of every site that can be brought into its grid, from boxes and cached runs.
//!
//! Nothing is folded for it but what a dig needs besides runs, so one question to a register of a million legs
//! reads only what lies near.

use super::near::NearRuns;
use super::{ActError, Register, fold, rows};
use register::dig::{Asked, DigQuestion, PlannedDig};
use register::entry::KINDS;
use register::site::Site;
use register::view::{DigAnswer, NotCompared};
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
        // What is in memory is of one moment. The store's index is read after its heads, so an answer from there
        // stands only when no head moved in between.
        for _ in 0..TRIES {
            let before = self.store.sites()?;
            let (answer, from_memory) = self.dig_once(site, question)?;
            if from_memory || self.store.sites()? == before {
                return Ok(answer);
            }
        }
        Err(store::StoreError::Busy { waited_ms: 0 }.into())
    }

    /// Answers once, and tells whether everything came from memory.
    fn dig_once(&self, id: Uuid, question: &DigQuestion) -> Result<(DigAnswer, bool), ActError> {
        let source = self.source(id)?;
        let planned = PlannedDig::of(&source.site, question)?;
        let mut others = Vec::new();
        let mut not_compared = Vec::new();
        for row in self.store.sites()? {
            let other = Uuid::from_bytes(row.site);
            if other == id || row.head.n == 0 {
                continue;
            }
            let other = self.source(other)?;
            match planned.cannot_compare(&other.site) {
                Some(why) => not_compared.push(NotCompared {
                    site: other.site.summary().name,
                    why,
                }),
                None => others.push(other),
            }
        }
        let mut asked = vec![self.ask(&planned, &source)?];
        for other in &others {
            asked.push(self.ask(&planned, other)?);
        }
        let from_memory = source.near.is_some() && others.iter().all(|other| other.near.is_some());
        Ok((planned.answer(&asked, not_compared, &self.now())?, from_memory))
    }

    /// Brings the runs of one site that may matter.
    fn ask<'s>(&self, planned: &PlannedDig<'_>, source: &'s Source) -> Result<Asked<'s>, ActError> {
        let site = source.site.as_ref();
        let within = planned.search_box(site)?;
        if let Some(near) = &source.near {
            return Ok(Asked {
                site,
                head: site.head_view(),
                runs: near.within(&within),
            });
        }
        let head = self.stored_head(site.id)?;
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

    /// Returns what a dig is answered from: the fold if it is at hand, else what a dig needs besides runs alone.
    fn source(&self, id: Uuid) -> Result<Source, ActError> {
        if let Some((site, near)) = self.at_hand(id)? {
            return Ok(Source {
                site,
                near: Some(near),
            });
        }
        let head = self.store.head(id.into_bytes())?;
        let mut frames = self.frames.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((at, frame)) = frames.get(&id)
            && *at == head
        {
            return Ok(Source {
                site: Arc::clone(frame),
                near: None,
            });
        }
        // An entry of a kind that nobody here knows could hide a service: the whole fold says what to do about it.
        let unknown = self
            .store
            .tags(id.into_bytes())?
            .into_iter()
            .any(|tag| !KINDS.contains(&tag.as_str()));
        if unknown {
            return Ok(Source {
                site: self.site(id)?,
                near: None,
            });
        }
        let frame = Arc::new(fold::frame_of(self.store.as_ref(), id)?);
        frames.insert(id, (head, Arc::clone(&frame)));
        Ok(Source {
            site: frame,
            near: None,
        })
    }
}

/// What a dig is answered from.
struct Source {
    /// The site, or what a dig needs of it besides runs.
    site: Arc<Site>,
    /// Its runs in memory; in the store when there is none.
    near: Option<Arc<NearRuns>>,
}

/// Frames that were read for digs, with the heads they stand at.
pub(crate) type Frames = std::collections::HashMap<Uuid, (Head, Arc<Site>)>;

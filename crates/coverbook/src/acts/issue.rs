//! Answers as issued: a dig that is kept, and what was issued before under the same id.

use super::append::NewEntry;
use super::{ActError, Author, ENGINE, Receipt, Register};
use register::body::{Act, ResultIssued};
use register::dig::DigQuestion;
use register::entry::read_body;
use register::view::DigAnswer;
use store::Person;
use uuid::Uuid;

impl Register {
    /// Keeps an answer in the journal as it was issued.
    ///
    /// # Errors
    /// Nobody named, or a store that cannot take it.
    pub fn keep_dig(
        &self,
        site: Uuid,
        question: &DigQuestion,
        answer: &DigAnswer,
        author: &Author,
        id: Option<Uuid>,
    ) -> Result<Receipt, ActError> {
        let act = Act::DigPlanned(ResultIssued {
            question: text_of(question)?,
            answer: text_of(answer)?,
            engine: ENGINE.to_owned(),
            rules_sha256: answer.rules.as_ref().map(|rules| rules.sha256.clone()),
            head: format!("{}:{}", answer.head.n, answer.head.hex),
        });
        self.append(site, author, vec![NewEntry { id, ..act.into() }])
    }

    /// Answers a planned dig, keeps the answer and returns it as kept, in JSON.
    ///
    /// A question kept before under the same id is not asked again: what was issued then is returned, and nothing
    /// changes.
    ///
    /// # Errors
    /// As [`Register::dig`]; an id that is taken by anything else.
    pub fn dig_and_keep(
        &self,
        site: Uuid,
        question: &DigQuestion,
        author: &Author,
        id: Option<Uuid>,
    ) -> Result<String, ActError> {
        let asked = text_of(question)?;
        let kept = || {
            self.issued_before(site, id, author, |act| match act {
                Act::DigPlanned(kept) if kept.question == asked => Some(kept.answer),
                _ => None,
            })
        };
        if let Some(answer) = kept()? {
            return Ok(answer);
        }
        let answer = self.dig(site, question)?;
        match self.keep_dig(site, question, &answer, author, id) {
            Ok(_) => text_of(&answer),
            // The same came twice at once, and the other was first.
            Err(error @ ActError::SameIdOtherBytes { .. }) => kept()?.ok_or(error),
            Err(error) => Err(error),
        }
    }

    /// Returns what `same` takes from the act that was sent before under an id; `None` when nothing was.
    ///
    /// # Errors
    /// The id is taken by an act that is not the same, or of another author.
    pub(crate) fn issued_before<T>(
        &self,
        site: Uuid,
        id: Option<Uuid>,
        author: &Author,
        same: impl FnOnce(Act) -> Option<T>,
    ) -> Result<Option<T>, ActError> {
        let Some(id) = id else { return Ok(None) };
        let Some(row) = self.store.entry_by_id(site.into_bytes(), id.into_bytes())? else {
            return Ok(None);
        };
        let found = match read_body(&row.body) {
            Ok(body) => match self.store.person(body.by.into_bytes())? {
                Some(Person::Known { name, .. }) if name == author.by.trim() => same(body.act),
                _ => None,
            },
            Err(_) => None,
        };
        found.map(Some).ok_or(ActError::SameIdOtherBytes { id, n: row.n })
    }
}

pub(crate) fn text_of(value: &impl serde::Serialize) -> Result<String, ActError> {
    serde_json::to_string(value).map_err(|e| ActError::Fault(e.to_string()))
}

//! The hold point: its list, what a person decides on it, and files attached to what is about to be covered.

use super::append::{NewEntry, Writing};
use super::issue::text_of;
use super::people::Names;
use super::{ActError, Author, ENGINE, Receipt, Register};
use register::body::{Accepted, Act, CoverReleased, FileAttached, ResultIssued};
use register::chain;
use register::hold::HoldQuestion;
use register::view::{HoldAnswer, ReleaseView};
use register::words::{HoldState, HoldVerdict, ReleaseOutcome};
use sheets::{CertificateInput, Paper, SheetError};
use std::sync::Arc;
use uuid::Uuid;

/// Largest file that is attached, bytes.
pub const MOST_ATTACHED_BYTES: usize = 64 << 20;
/// Most open items named in one refusal.
const MOST_NAMED: usize = 8;

/// What a person decides at a hold point.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReleaseAsk {
    /// What it is about.
    pub question: HoldQuestion,
    /// Open items that the person accepts, with the reasons.
    pub accepted: Vec<Accepted>,
    /// True when it may not be covered.
    pub refused: bool,
    /// The head of the list that the person looked at, `n:hex`; a release is of that list and of no other.
    pub head: Option<String>,
    /// The person's own words.
    pub statement: Option<String>,
    /// The entry's id, when the author's device made one.
    pub id: Option<Uuid>,
    /// When it was decided.
    pub observed_at: Option<String>,
}

/// A file that belongs to a run, a point or another thing of the record.
#[derive(Debug, Clone, PartialEq)]
pub struct AttachAsk {
    /// Its name.
    pub file: String,
    /// The run, point, station or searched area that it is about.
    pub about: String,
    /// The entry's id, when the author's device made one.
    pub id: Option<Uuid>,
    /// When it was taken.
    pub observed_at: Option<String>,
}

impl Register {
    /// Returns the list of a hold point as it stands.
    ///
    /// # Errors
    /// An area, run or surface that is none; a reason for an item that is not open.
    pub fn hold(
        &self,
        site: Uuid,
        question: &HoldQuestion,
        accepted: &[Accepted],
    ) -> Result<HoldAnswer, ActError> {
        let names = Names::of(self.store.as_ref());
        let site = self.site(site)?;
        Ok(site.hold(question, accepted, &self.now(), &|id| names.name(id))?)
    }

    /// Records a decision at a hold point, and returns the list as it was decided on.
    ///
    /// What was decided before under the same id is returned as it was issued, and nothing changes.
    ///
    /// # Errors
    /// Open items without a reason, unless it is not released; nobody named; a book that went on meanwhile.
    pub fn release(&self, site: Uuid, ask: &ReleaseAsk, author: &Author) -> Result<HoldAnswer, ActError> {
        let asked = text_of(&ask.question)?;
        let statement = ask.statement.as_deref().map(str::trim);
        let statement = statement.filter(|words| !words.is_empty()).map(str::to_owned);
        let before = || {
            self.issued_before(site, ask.id, author, |act| match act {
                Act::CoverReleased(made)
                    if made.result.question == asked
                        && made.accepted == ask.accepted
                        && made.statement == statement
                        && (made.outcome == ReleaseOutcome::NotReleased) == ask.refused =>
                {
                    Some(made.result.answer)
                }
                _ => None,
            })
        };
        if let Some(answer) = before()? {
            return read_answer(&answer);
        }
        let answer = self.hold(site, &ask.question, &ask.accepted)?;
        let head = format!("{}:{}", answer.head.n, answer.head.hex);
        match &ask.head {
            Some(seen) if *seen == head => {}
            None if ask.refused => {}
            Some(seen) => {
                let says = format!(
                    "the list that was looked at rests on head {seen}, and the book stands at {head}; look at the list as it \
                     is now, and decide on that"
                );
                return Err(ActError::asked("stale", says));
            }
            None => {
                let says = "nothing says which list was looked at; give the head that stands under it";
                return Err(ActError::asked("head", says));
            }
        }
        let outcome = match (ask.refused, answer.verdict) {
            (true, _) => ReleaseOutcome::NotReleased,
            (false, HoldVerdict::AllMet) => ReleaseOutcome::Released,
            (false, HoldVerdict::WithReasons) => ReleaseOutcome::WithExceptions,
            (false, HoldVerdict::Open) => return Err(open_items(&answer)),
        };
        let act = Act::CoverReleased(Box::new(CoverReleased {
            area: answer.area.clone(),
            ring: ask.question.ring.clone(),
            runs: answer.runs.clone(),
            outcome,
            accepted: ask.accepted.clone(),
            statement: statement.clone(),
            result: ResultIssued {
                question: asked.clone(),
                answer: text_of(&answer)?,
                engine: ENGINE.to_owned(),
                rules_sha256: answer.rules.as_ref().map(|rules| rules.sha256.clone()),
                head,
            },
        }));
        let entry = NewEntry {
            act,
            id: ask.id,
            observed_at: ask.observed_at.clone(),
        };
        match self.append(site, author, vec![entry]) {
            Ok(_) => Ok(answer),
            // The same came twice at once, and the other was first.
            Err(error @ ActError::SameIdOtherBytes { .. }) => match before()? {
                Some(answer) => read_answer(&answer),
                None => Err(error),
            },
            Err(error) => Err(error),
        }
    }

    /// Returns every decision at a hold point, newest first, with what was changed since.
    pub fn releases(&self, site: Uuid) -> Result<Vec<ReleaseView>, ActError> {
        let names = Names::of(self.store.as_ref());
        Ok(self.site(site)?.release_views(&|id| names.name(id)))
    }

    /// Lays out the certificate of a decision, given by its entry's number or id, as PDF.
    ///
    /// The list stands on it as it was decided on, and the plan as the runs lay then; what came after is said.
    ///
    /// # Errors
    /// No decision of that number or id.
    pub fn certificate(&self, id: Uuid, release: &str, paper: Paper) -> Result<Vec<u8>, ActError> {
        let entry = self.entry_id(id, release)?;
        let site = self.site(id)?;
        let Some(made) = site.releases.iter().find(|made| made.id == entry) else {
            let says = format!("entry {release} decides no hold point; take its number from the book");
            return Err(ActError::NotThere(says));
        };
        let then = self.site_at(id, made.entry - 1)?;
        let names = Names::of(self.store.as_ref());
        let views = site.release_views(&|id| names.name(id));
        let view = views.iter().find(|view| view.entry == made.entry);
        let view = view.ok_or_else(|| ActError::Fault("a decision has no view".into()))?;
        let input = CertificateInput {
            answer: &read_answer(&made.released.result.answer)?,
            release: view,
            statement: made.released.statement.as_deref(),
            site: &then.site_view(),
            map: &then.map_view()?,
            engine: &made.released.result.engine,
            printed_at: &self.now(),
        };
        sheets::certificate(&input, paper)
            .and_then(|sheet| sheet.pdf())
            .map_err(|error| match error {
                SheetError::Writer(_) => ActError::Fault(error.to_string()),
                _ => ActError::asked("sheet", error.to_string()),
            })
    }

    /// Attaches a file, such as a photo, to something in the record; its bytes are kept as they are.
    ///
    /// # Errors
    /// Nothing of that name is recorded; an empty file, or one that is too large.
    pub fn attach(
        &self,
        site: Uuid,
        ask: &AttachAsk,
        bytes: Vec<u8>,
        author: &Author,
    ) -> Result<Receipt, ActError> {
        let (file, about) = (ask.file.trim(), ask.about.trim());
        let refuse = |says: String| Err(ActError::asked("attach", says));
        if file.is_empty() {
            return refuse("the file has no name; give it one".into());
        }
        if bytes.is_empty() {
            return refuse(format!("{file} is empty; attach a file that holds something"));
        }
        if bytes.len() > MOST_ATTACHED_BYTES {
            let most = MOST_ATTACHED_BYTES >> 20;
            return refuse(format!("{file} is larger than {most} MiB; attach a smaller one"));
        }
        if let Some(says) = no_picture(file, &bytes) {
            return refuse(says);
        }
        let of = self.site(site)?;
        let known = of.runs.contains_key(about)
            || of.points.contains_key(about)
            || of.stations.contains_key(about)
            || of.searched.iter().any(|searched| searched.area.area == about);
        if !known {
            return refuse(format!(
                "no run, point, station or searched area is named {about:?}; attach the file to one that is recorded"
            ));
        }
        let act = Act::FileAttached(FileAttached {
            file: file.to_owned(),
            sha256: chain::sha256_hex(&bytes),
            bytes: bytes.len() as u64,
            about: about.to_owned(),
        });
        let writing = Writing {
            entries: vec![NewEntry {
                act,
                id: ask.id,
                observed_at: ask.observed_at.clone(),
            }],
            files: vec![Arc::from(bytes)],
            ..Writing::default()
        };
        self.write(site, author, writing)
    }

    /// Returns a file that is attached in a site, with its name.
    ///
    /// # Errors
    /// No file of that hash is attached here.
    pub fn attached(&self, site: Uuid, sha256: &str) -> Result<(String, Vec<u8>), ActError> {
        let of = self.site(site)?;
        let found = of.files.iter().find(|(file, _)| file.sha256 == sha256);
        let hash = chain::from_hex(sha256);
        let (Some((file, _)), Some(hash)) = (found, hash) else {
            let says = format!("no file {sha256:?} is attached here; take the hash from the book");
            return Err(ActError::NotThere(says));
        };
        Ok((file.file.clone(), self.store.get_blob(hash)?))
    }
}

/// Says what is wrong with a file whose name is that of a picture and whose bytes are not.
fn no_picture(file: &str, bytes: &[u8]) -> Option<String> {
    let ending = file.rsplit('.').next().unwrap_or_default().to_ascii_lowercase();
    // First bytes of each kind of file: JPEG (ISO/IEC 10918-1), PNG (ISO/IEC 15948), WebP and HEIF (their containers).
    let begins = match ending.as_str() {
        "jpg" | "jpeg" => bytes.starts_with(&[0xff, 0xd8, 0xff]),
        "png" => bytes.starts_with(b"\x89PNG\r\n\x1a\n"),
        "webp" => bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP"),
        "heic" | "heif" => bytes.get(4..8) == Some(b"ftyp"),
        _ => true,
    };
    (!begins).then(|| format!("{file} is named like a picture and holds none; attach the picture itself"))
}

fn open_items(answer: &HoldAnswer) -> ActError {
    let open: Vec<&str> = answer
        .items
        .iter()
        .filter(|item| item.state != HoldState::Passes && item.accepted.is_none())
        .map(|item| item.key.as_str())
        .collect();
    let named = open
        .iter()
        .take(MOST_NAMED)
        .copied()
        .collect::<Vec<_>>()
        .join(", ");
    let more = if open.len() > MOST_NAMED { ", ..." } else { "" };
    let says = format!(
        "{} {} open: {named}{more}; mend the record, give a reason for each, or decide that it is not released",
        open.len(),
        if open.len() == 1 { "item is" } else { "items are" },
    );
    ActError::asked("open-items", says)
}

/// Reads an answer as it was issued.
///
/// # Errors
/// A text that is none: only a fault of our own wrote it.
pub(crate) fn read_answer(text: &str) -> Result<HoldAnswer, ActError> {
    serde_json::from_str(text).map_err(|e| ActError::Fault(e.to_string()))
}

//! Writes entries: number, seal, apply, commit, then publish and acknowledge.

use super::fold::Book;
use super::near::NearRuns;
use super::people::{self, Author, PersonId};
use super::trial::files_of;
use super::{ActError, HeadMoved, Register, clock, rows};
use register::body::{Act, Body};
use register::entry::{Attached, Sealed, Unwritable, Written, read_body, seal_written, write_checked};
use register::site::Change;
use register::view::HeadView;
use std::collections::HashMap;
use std::sync::Arc;
use store::{Appended, Batch, EntryRow, Head, RunChange, StoreError};
use uuid::Uuid;

/// How often an append is tried again when another program writes in the same journal.
const TRIES: usize = 5;

/// An act to be written.
#[derive(Debug, Clone)]
pub struct NewEntry {
    /// The act.
    pub act: Act,
    /// Its id, when the author's device made one: sending it twice then changes nothing.
    pub id: Option<Uuid>,
    /// When it was done or observed, RFC 3339; now when nobody says.
    pub observed_at: Option<String>,
}

impl From<Act> for NewEntry {
    fn from(act: Act) -> NewEntry {
        NewEntry {
            act,
            id: None,
            observed_at: None,
        }
    }
}

/// What was acknowledged.
#[derive(Debug, Clone, PartialEq)]
pub struct Receipt {
    /// The entries' numbers.
    pub entries: Vec<u64>,
    /// The entries' ids.
    pub ids: Vec<Uuid>,
    /// The head after them.
    pub head: HeadView,
    /// True when all of them were there already.
    pub was_there: bool,
}

impl Receipt {
    /// Reads what is shown of an act that is recorded already.
    ///
    /// # Errors
    /// [`ActError::Recorded`], so that nobody takes a failure to show it for a refusal.
    pub fn shown<T>(self, read: impl FnOnce() -> Result<T, ActError>) -> Result<T, ActError> {
        read().map_err(|why| ActError::Recorded {
            entries: self.entries,
            why: Box::new(why),
        })
    }
}

/// The entries of one act, and the files they name.
#[derive(Debug, Default)]
pub(crate) struct Writing {
    pub(crate) entries: Vec<NewEntry>,
    /// Files to keep beside the journal.
    pub(crate) files: Vec<Arc<[u8]>>,
    /// Files that the fold needs, by their hexadecimal SHA-256.
    pub(crate) attached: Attached,
}

impl Register {
    /// Writes entries in one piece: all of them or none.
    ///
    /// # Errors
    /// A refusal by the fold, or a store that cannot take it; nothing is changed then.
    pub fn append(&self, site: Uuid, author: &Author, entries: Vec<NewEntry>) -> Result<Receipt, ActError> {
        self.write(
            site,
            author,
            Writing {
                entries,
                ..Writing::default()
            },
        )
    }

    pub(crate) fn write(&self, id: Uuid, author: &Author, writing: Writing) -> Result<Receipt, ActError> {
        let held = self.held(id)?;
        let mut state = held.write();
        let mut pending = writing.entries;
        let mut person = None;
        for _ in 0..TRIES {
            let mut book = self.newest(id, state.take())?;
            let stated: Vec<Stated> = pending.iter().map(Stated::of).collect();
            let author_id = match &person {
                Some(author_id) => Ok(author_id),
                None => people::id_of(self.store.as_ref(), &book, &author.by).map(|id| &*person.insert(id)),
            };
            let bodies = author_id.and_then(|author_id| self.bodies(author, author_id.id, pending));
            let bodies = match bodies {
                Ok(bodies) => bodies,
                Err(error) => {
                    *state = Some(book);
                    return Err(error);
                }
            };
            let expected = Head {
                n: book.site.n,
                hash: book.site.head,
            };
            if let Some(resent) = self.sent_before(&book, &bodies, &stated) {
                *state = Some(book);
                return resent;
            }
            if let Err(refusal) = book.site.writable() {
                *state = Some(book);
                return Err(refusal.into());
            }
            let recorded_at = clock::recorded_at((self.clock)(), book.site.recorded_at.as_deref());
            // From here on a failure may leave the book half changed: it is then read again next time.
            let (batch, ids) = match self.apply(&mut book, bodies, &recorded_at, &writing.attached) {
                Ok(applied) => applied,
                Err(error) => {
                    // A refusal of the first entry changed nothing.
                    if book.site.n == expected.n {
                        *state = Some(book);
                    }
                    return Err(error);
                }
            };
            let batch = Batch {
                blobs: self.keep(&writing.files, &writing.attached)?,
                ..batch
            };
            if let Some(new) = person.as_ref().filter(|person| person.is_new) {
                self.store.put_person(new.id.into_bytes(), author.by.trim(), "")?;
            }
            match self.store.append(id.into_bytes(), expected, &batch) {
                Ok(Appended::Written) => {
                    let receipt = Receipt {
                        entries: batch.entries.iter().map(|entry| entry.n).collect(),
                        ids,
                        head: book.site.head_view(),
                        was_there: false,
                    };
                    book.people.extend(person.map(|person| person.id));
                    *state = Some(book);
                    // Nobody listening is no failure.
                    let _ = self.heads.send(HeadMoved {
                        site: id,
                        head: receipt.head.clone(),
                    });
                    return Ok(receipt);
                }
                // Another program wrote meanwhile: read on and try again.
                Ok(Appended::AlreadyThere { .. }) | Err(StoreError::StaleHead { .. }) => {
                    pending = batch.entries.iter().map(entry_again).collect::<Result<_, _>>()?;
                }
                Err(error) => {
                    self.forget(person.as_ref());
                    return Err(error.into());
                }
            }
        }
        self.forget(person.as_ref());
        Err(StoreError::Busy { waited_ms: 0 }.into())
    }

    /// Erases the name of somebody new whose entry was not recorded: no journal names that person.
    fn forget(&self, person: Option<&PersonId>) {
        if let Some(new) = person.filter(|person| person.is_new) {
            // The refusal is what is told; a name that could not be erased stands under an id that nothing names.
            let _ = self.store.erase_person(new.id.into_bytes());
        }
    }

    /// Returns the bodies of the entries.
    fn bodies(&self, author: &Author, by: Uuid, entries: Vec<NewEntry>) -> Result<Vec<Body>, ActError> {
        let now = clock::written((self.clock)());
        let body = |entry: NewEntry| {
            let observed_at = entry
                .observed_at
                .as_deref()
                .map_or_else(|| Ok(now.clone()), clock::observed_at)?;
            Ok(Body {
                act: entry.act,
                v: 1,
                id: entry.id.unwrap_or_else(Uuid::now_v7),
                by,
                device: author.device.clone(),
                observed_at,
            })
        };
        entries.into_iter().map(body).collect()
    }

    /// Finds out whether the entries are in the journal already, by the ids their device gave them.
    ///
    /// What was not stated (by whom, when) cannot disagree.
    fn sent_before(
        &self,
        book: &Book,
        bodies: &[Body],
        stated: &[Stated],
    ) -> Option<Result<Receipt, ActError>> {
        let there = |(body, stated): (&Body, &Stated)| stated.id && book.site.entries.contains_key(&body.id);
        if !bodies.iter().zip(stated).any(there) {
            return None;
        }
        let mut numbers = Vec::new();
        for (body, stated) in bodies.iter().zip(stated) {
            let row = match self
                .store
                .entry_by_id(book.site.id.into_bytes(), body.id.into_bytes())
            {
                Ok(Some(row)) => row,
                Ok(None) => {
                    let says = "some of these entries are in the journal already and others are not; send only those that are not";
                    return Some(Err(ActError::asked("partly-there", says)));
                }
                Err(error) => return Some(Err(error.into())),
            };
            let mut same = body.clone();
            if let Ok(there) = read_body(&row.body) {
                if !stated.observed_at {
                    same.observed_at = there.observed_at.clone();
                }
                if same == there {
                    numbers.push(row.n);
                    continue;
                }
            }
            return Some(Err(ActError::SameIdOtherBytes {
                id: body.id,
                n: row.n,
            }));
        }
        Some(Ok(Receipt {
            entries: numbers,
            ids: bodies.iter().map(|body| body.id).collect(),
            head: book.site.head_view(),
            was_there: true,
        }))
    }

    /// Seals and applies every body, and gathers what is to be stored.
    fn apply(
        &self,
        book: &mut Book,
        bodies: Vec<Body>,
        recorded_at: &str,
        attached: &Attached,
    ) -> Result<(Batch, Vec<Uuid>), ActError> {
        let site = Arc::make_mut(&mut book.site);
        let mut entries = Vec::with_capacity(bodies.len());
        let mut ids = Vec::with_capacity(bodies.len());
        let mut changed = Changed::default();
        for written in written(bodies)? {
            let written = written?;
            let (tag, id) = (tag_of(&written.body), written.body.id);
            let files = files_of(&written.body.act, attached);
            let Sealed {
                entry,
                bytes,
                body_hash,
            } = seal_written(
                site.id,
                site.n + 1,
                &site.head,
                recorded_at.to_owned(),
                written,
                files,
            );
            for change in site.apply(&entry)? {
                changed.take(change);
            }
            ids.push(id);
            entries.push(EntryRow {
                site: site.id.into_bytes(),
                n: entry.n,
                tag,
                entry_id: id.into_bytes(),
                recorded_at: entry.recorded_at,
                body: bytes,
                body_hash,
                head: entry.head,
            });
        }
        Ok((
            Batch {
                entries,
                runs: changed.rows(book.near.as_mut())?,
                blobs: Vec::new(),
            },
            ids,
        ))
    }

    fn keep(&self, files: &[Arc<[u8]>], attached: &Attached) -> Result<Vec<store::BlobHash>, ActError> {
        let mut hashes = Vec::new();
        for bytes in files.iter().chain(attached.values()) {
            hashes.push(self.store.put_blob(bytes)?);
        }
        hashes.sort_unstable();
        hashes.dedup();
        Ok(hashes)
    }
}

/// How many bodies are worth a second thread.
const BODIES_A_THREAD: usize = 8;

/// Writes, reads back and hashes bodies, which do not hang on each other, and returns them in order.
fn written(bodies: Vec<Body>) -> Result<Vec<Result<Written, Unwritable>>, ActError> {
    let count = bodies.len();
    let threads = std::thread::available_parallelism().map_or(1, |n| n.get());
    let threads = threads.min(count / BODIES_A_THREAD);
    if threads < 2 {
        return Ok(bodies.into_iter().map(write_checked).collect());
    }
    // Dealt out in turn, since the large ones stand together.
    let mut dealt: Vec<Vec<Body>> = (0..threads).map(|_| Vec::new()).collect();
    for (at, body) in bodies.into_iter().enumerate() {
        dealt[at % threads].push(body);
    }
    let done: Vec<_> = std::thread::scope(|scope| {
        let work = |share: Vec<Body>| share.into_iter().map(write_checked).collect::<Vec<_>>();
        let running: Vec<_> = dealt
            .into_iter()
            .map(|share| scope.spawn(move || work(share)))
            .collect();
        running.into_iter().map(|thread| thread.join()).collect()
    });
    let mut shares = Vec::with_capacity(threads);
    for share in done {
        let share =
            share.map_err(|_panic| ActError::Fault("a thread that writes entries ended early".into()))?;
        shares.push(share.into_iter());
    }
    Ok((0..count).filter_map(|at| shares[at % threads].next()).collect())
}

/// The tag of an entry: its kind, with the version of its body from 2 on, so that a newer body is not taken for one
/// that is known.
fn tag_of(body: &Body) -> String {
    match body.v {
        1 => body.act.kind().to_owned(),
        v => format!("{}/{v}", body.act.kind()),
    }
}

/// What an author said of an entry beside its act.
struct Stated {
    id: bool,
    observed_at: bool,
}

impl Stated {
    fn of(entry: &NewEntry) -> Stated {
        Stated {
            id: entry.id.is_some(),
            observed_at: entry.observed_at.is_some(),
        }
    }
}

fn entry_again(row: &EntryRow) -> Result<NewEntry, ActError> {
    let body = read_body(&row.body).map_err(|e| ActError::Fault(e.to_string()))?;
    Ok(NewEntry {
        act: body.act,
        id: Some(body.id),
        observed_at: Some(body.observed_at),
    })
}

/// The newest change of each run, in the order in which runs were first changed.
#[derive(Default)]
pub(crate) struct Changed {
    order: Vec<String>,
    newest: HashMap<String, Change>,
}

impl Changed {
    pub(crate) fn take(&mut self, change: Change) {
        let key = match &change {
            Change::RunRecorded(record) => record.key.clone(),
            Change::RunGone(key) => key.clone(),
        };
        if self.newest.insert(key.clone(), change).is_none() {
            self.order.push(key);
        }
    }

    /// Returns how many runs stand.
    pub(crate) fn count(&self) -> u64 {
        let standing = self
            .newest
            .values()
            .filter(|change| matches!(change, Change::RunRecorded(_)));
        standing.count() as u64
    }

    /// Returns the rows that the changes imply, and changes what is kept in memory alike.
    pub(crate) fn rows(self, near: Option<&mut Arc<NearRuns>>) -> Result<Vec<RunChange>, ActError> {
        let Changed { order, mut newest } = self;
        // Copied only while a dig still reads it; left alone when no run changed.
        let mut near = near.filter(|_| !order.is_empty()).map(Arc::make_mut);
        let mut made = Vec::with_capacity(order.len());
        for change in order.into_iter().filter_map(|key| newest.remove(&key)) {
            made.push(match change {
                Change::RunRecorded(record) => {
                    let row = rows::row_of(&record)?;
                    if let (Some(near), RunChange::Put { boxes, .. }) = (near.as_deref_mut(), &row) {
                        near.put(&record, boxes);
                    }
                    row
                }
                Change::RunGone(run) => {
                    if let Some(near) = near.as_deref_mut() {
                        near.remove(&run);
                    }
                    RunChange::Drop { run }
                }
            });
        }
        Ok(made)
    }
}

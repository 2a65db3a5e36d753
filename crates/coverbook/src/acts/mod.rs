//! Acts: load, fold, answer, append. One layer under both faces.
//!
//! A [`Register`] keeps folded sites at hand. Whatever it answers, it first compares the head of its fold with the
//! store's, since another program may have written; whatever it writes is on the disk before anybody sees it.

mod anew;
mod append;
mod clock;
mod dig;
mod error;
mod export;
mod fold;
mod hold;
mod import;
mod issue;
mod measured;
mod near;
mod people;
mod points;
mod rebuild;
mod record;
mod rows;
mod rule_sets;
mod sheet;
mod show;
mod sites;
mod trial;
mod verify;

pub use anew::{AnewEdits, ControlEdit, ControlEdits};
pub use append::{NewEntry, Receipt};
pub use clock::{Clock, observed_at, system_clock, written};
pub use error::{ActError, Place, Weight};
pub use export::ExportKind;
pub use hold::{AttachAsk, MOST_ATTACHED_BYTES, ReleaseAsk};
pub use import::{ImportAsk, ImportKind, ImportProgress, unit_of};
pub use measured::MeasuredAsk;
pub use people::Author;
pub use points::MeasuredPoint;
pub use record::{SearchAsk, SurfaceAsk};
pub use rule_sets::{FigureView, RuleSetView, shipped_text, shipped_views};
pub use sheet::{SheetAsk, SheetMade, paper_named};
pub use show::MOST_ENTRIES;
pub use sites::{Near, OpenSite};
pub use verify::HeldHead;

use fold::Book;
use near::NearRuns;
use register::site::Site;
use register::view::HeadView;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};
use store::{Store, StoreError};
use tokio::sync::broadcast;
use uuid::Uuid;

/// Version of this program, kept with every answer as issued.
pub const ENGINE: &str = concat!("coverbook ", env!("CARGO_PKG_VERSION"));

/// A head that moved.
#[derive(Debug, Clone, PartialEq)]
pub struct HeadMoved {
    /// The site.
    pub site: Uuid,
    /// Its new head.
    pub head: HeadView,
}

/// A register: its store, and the sites folded from it so far.
pub struct Register {
    store: Arc<dyn Store>,
    clock: Clock,
    sites: Mutex<HashMap<Uuid, Arc<HeldSite>>>,
    frames: Mutex<dig::Frames>,
    heads: broadcast::Sender<HeadMoved>,
}

impl std::fmt::Debug for Register {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Register").finish_non_exhaustive()
    }
}

/// One site's fold, when it is at hand.
#[derive(Debug, Default)]
pub(crate) struct HeldSite {
    book: RwLock<Option<Book>>,
}

impl HeldSite {
    fn read(&self) -> RwLockReadGuard<'_, Option<Book>> {
        // A book is put back only when it is whole, so a panic elsewhere leaves none or a whole one.
        self.book.read().unwrap_or_else(PoisonError::into_inner)
    }

    fn write(&self) -> RwLockWriteGuard<'_, Option<Book>> {
        self.book.write().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A site and its runs by their boxes.
type AtHand = (Arc<Site>, Arc<NearRuns>);

impl Register {
    /// Takes a store and a clock.
    pub fn new(store: Arc<dyn Store>, clock: Clock) -> Register {
        let (heads, _) = broadcast::channel(256);
        Register {
            store,
            clock,
            sites: Mutex::default(),
            frames: Mutex::default(),
            heads,
        }
    }

    /// Returns the store.
    pub fn store(&self) -> &dyn Store {
        self.store.as_ref()
    }

    /// Returns the time now as the journal writes it.
    pub fn now(&self) -> String {
        written((self.clock)())
    }

    /// Listens for heads that move.
    pub fn listen(&self) -> broadcast::Receiver<HeadMoved> {
        self.heads.subscribe()
    }

    /// Returns a site folded up to the store's head.
    ///
    /// # Errors
    /// No such site, or a journal that cannot be followed.
    pub fn site(&self, id: Uuid) -> Result<Arc<Site>, ActError> {
        let held = self.held(id)?;
        let head = self.store.head(id.into_bytes())?;
        if let Some(book) = held.read().as_ref()
            && (book.site.n, book.site.head) == (head.n, head.hash)
        {
            return Ok(Arc::clone(&book.site));
        }
        let mut state = held.write();
        let book = self.newest(id, state.take())?;
        let site = Arc::clone(&book.site);
        *state = Some(book);
        Ok(site)
    }

    /// Returns a site as the book knew it after an entry; folded for the question and not kept.
    ///
    /// # Errors
    /// No such entry, or a journal that cannot be followed.
    pub fn site_at(&self, id: Uuid, n: u64) -> Result<Arc<Site>, ActError> {
        let site = self.site(id)?;
        if n > site.n {
            let says = format!(
                "the book has {} entries and no entry {n}; give an entry that is there",
                site.n
            );
            return Err(ActError::NotThere(says));
        }
        if n == site.n {
            return Ok(site);
        }
        let mut book = Book::empty(id);
        book.read_until(self.store.as_ref(), n)?;
        Ok(book.site)
    }

    /// Returns the site and its runs by their boxes if its fold is at hand, up to the store's head.
    fn at_hand(&self, id: Uuid) -> Result<Option<AtHand>, ActError> {
        let held = self.held(id)?;
        if held.read().is_none() {
            return Ok(None);
        }
        self.site(id)?;
        if let Some(Book {
            site,
            near: Some(near),
            ..
        }) = held.read().as_ref()
        {
            return Ok(Some((Arc::clone(site), Arc::clone(near))));
        }
        let mut state = held.write();
        let Some(book) = state.as_mut() else {
            return Ok(None);
        };
        let near = match &book.near {
            Some(near) => Arc::clone(near),
            None => Arc::clone(book.near.insert(Arc::new(NearRuns::of(&book.site)?))),
        };
        Ok(Some((Arc::clone(&book.site), near)))
    }

    /// Folds every site and packs its runs, so that the first question waits for nothing.
    ///
    /// # Errors
    /// A site that cannot be read; the others are read all the same, and the first error is returned.
    pub fn warm(&self) -> Result<(), ActError> {
        let mut first = Ok(());
        for site in self.sites()? {
            let warmed = self.find_site(&site.id).and_then(|id| {
                self.site(id)?;
                self.at_hand(id).map(|_| ())
            });
            first = first.and(warmed);
        }
        first
    }

    fn held(&self, id: Uuid) -> Result<Arc<HeldSite>, ActError> {
        let mut sites = self.sites.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(held) = sites.get(&id) {
            return Ok(Arc::clone(held));
        }
        match self.store.head(id.into_bytes()) {
            Ok(_) => Ok(Arc::clone(sites.entry(id).or_default())),
            Err(StoreError::NoSuchSite { .. }) => Err(ActError::NotThere(format!(
                "no site {id} in this register; list the sites it holds"
            ))),
            Err(error) => Err(error.into()),
        }
    }

    /// Brings a book up to the store's head, reading it anew when it does not lie on the store's chain.
    fn newest(&self, id: Uuid, book: Option<Book>) -> Result<Book, ActError> {
        let head = self.store.head(id.into_bytes())?;
        let mut book = book.unwrap_or_else(|| Book::empty(id));
        if (book.site.n, book.site.head) == (head.n, head.hash) {
            return Ok(book);
        }
        let on_chain = match book.site.n {
            0 => true,
            n => self
                .store
                .entries(id.into_bytes(), n, 1)?
                .first()
                .is_some_and(|row| row.head == book.site.head),
        };
        if !on_chain {
            book = Book::empty(id);
        }
        book.read_on(self.store.as_ref())?;
        Ok(book)
    }
}

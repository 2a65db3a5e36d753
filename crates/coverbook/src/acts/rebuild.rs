//! Makes the cached rows of runs again from the journal, as after a change in how runs are laid.

use super::fold::Book;
use super::{ActError, Register, rows};
use std::collections::BTreeSet;
use std::ops::ControlFlow;
use store::{Appended, Batch, Head, RunChange};
use uuid::Uuid;

impl Register {
    /// Writes every cached row of a site anew and returns how many runs it holds.
    ///
    /// # Errors
    /// A journal that cannot be folded, or a store that cannot take the rows; the journal itself is not touched.
    pub fn rebuild(&self, id: Uuid) -> Result<usize, ActError> {
        let mut book = Book::empty(id);
        book.read_on(self.store.as_ref())?;
        let records: Vec<_> = book
            .site
            .runs
            .values()
            .flat_map(|run| run.in_the_ground())
            .collect();
        let mut stale = BTreeSet::new();
        self.store.for_each_run(id.into_bytes(), &mut |key, _| {
            stale.insert(key.to_owned());
            ControlFlow::Continue(())
        })?;
        for record in &records {
            stale.remove(&record.key);
        }
        let made = records.iter().map(|record| rows::row_of(record));
        let gone = stale.into_iter().map(|run| Ok(RunChange::Drop { run }));
        let batch = Batch {
            runs: made.chain(gone).collect::<Result<_, ActError>>()?,
            ..Batch::default()
        };
        let at = Head {
            n: book.site.n,
            hash: book.site.head,
        };
        match self.store.append(id.into_bytes(), at, &batch)? {
            Appended::Written | Appended::AlreadyThere { .. } => Ok(records.len()),
        }
    }
}

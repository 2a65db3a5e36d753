//! Group commit: threads that write at the same time share one transaction and one sync of the disk.
//!
//! Each thread runs its own work, in its own savepoint, on the one writing connection. It then waits for
//! the group's commit, which falls to whichever thread finds nobody queueing behind it. So a lone writer
//! commits at once without another thread being woken, and while a sync runs the next group forms.
//!
//! After a group of many the next one is given half the time of the last sync to gather as many again:
//! their threads have only just been answered. After a group of one nobody waits.

use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use rusqlite::Connection;

use crate::StoreError;

use super::fail::while_doing;

/// Most members of one group, so that a steady stream of writers cannot put off the commit.
const MAX_MEMBERS: usize = 64;

/// The writing connection and the group that is forming on it.
#[derive(Debug)]
pub(crate) struct GroupCommit {
    /// Threads on their way to the connection.
    queueing: AtomicUsize,
    state: Mutex<State>,
    finished: Condvar,
}

#[derive(Debug)]
struct State {
    connection: Connection,
    /// The group whose transaction is open.
    open: Option<u64>,
    members: usize,
    began: Instant,
    last_group: u64,
    /// Members of the last group that was committed, and how long that took.
    last_members: usize,
    last_sync: Duration,
    /// Work is running; still set on arrival only when that work panicked.
    working: bool,
    /// Groups that could not be committed, and how many of their members do not know it yet.
    failed: HashMap<u64, (StoreError, usize)>,
}

impl GroupCommit {
    pub(crate) fn new(connection: Connection) -> GroupCommit {
        GroupCommit {
            queueing: AtomicUsize::new(0),
            state: Mutex::new(State {
                connection,
                open: None,
                members: 0,
                began: Instant::now(),
                last_group: 0,
                last_members: 0,
                last_sync: Duration::ZERO,
                working: false,
                failed: HashMap::new(),
            }),
            finished: Condvar::new(),
        }
    }

    /// Runs `work` in the group's transaction and returns the group; nothing of it is on the disk yet.
    pub(crate) fn write<T>(
        &self,
        work: impl FnOnce(&Connection) -> Result<T, StoreError>,
    ) -> Result<(u64, T), StoreError> {
        let mut state = self.enter();
        let done = self.work(&mut state, work);
        if self.queueing.load(Ordering::Acquire) == 0 {
            // A member that slept because this thread was queueing must look again.
            self.finished.notify_one();
        }
        done
    }

    /// Runs `work` in the group's transaction and returns once the group is on the disk.
    ///
    /// A refusal waits as well when others are in the group: it may rest on what they wrote.
    pub(crate) fn write_and_settle<T>(
        &self,
        work: impl FnOnce(&Connection) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let mut state = self.enter();
        match self.work(&mut state, work) {
            Ok((group, value)) => self.finish(state, group).map(|()| value),
            Err(refusal) => match state.open {
                None => Err(refusal),
                Some(group) => {
                    state.members += 1;
                    self.finish(state, group)?;
                    Err(refusal)
                }
            },
        }
    }

    /// Returns once the group is on the disk, or why it is not.
    pub(crate) fn settle(&self, group: u64) -> Result<(), StoreError> {
        let state = self.lock();
        self.finish(state, group)
    }

    /// Moves the log's content into the file and cuts the log to nothing, so that erased text is in neither.
    pub(crate) fn empty_the_log(&self) -> Result<(), StoreError> {
        let mut state = self.lock();
        self.commit(&mut state);
        let busy: i64 = state
            .connection
            .query_row("pragma wal_checkpoint(truncate)", [], |row| row.get(0))
            .map_err(while_doing("empty the log"))?;
        if busy == 0 {
            Ok(())
        } else {
            Err(StoreError::Busy {
                waited_ms: super::BUSY_WAIT.as_millis() as u64,
            })
        }
    }

    fn enter(&self) -> MutexGuard<'_, State> {
        self.queueing.fetch_add(1, Ordering::AcqRel);
        let mut state = self.lock();
        self.queueing.fetch_sub(1, Ordering::AcqRel);
        if state.members >= MAX_MEMBERS {
            self.commit(&mut state);
        }
        state
    }

    fn work<T>(
        &self,
        state: &mut State,
        work: impl FnOnce(&Connection) -> Result<T, StoreError>,
    ) -> Result<(u64, T), StoreError> {
        let done = state.work(work);
        if state.open.is_none() {
            // The failure took the group with it.
            self.finished.notify_all();
        }
        done
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        if state.working {
            // The thread before panicked half-way: give up its group rather than keep half of its work.
            state.working = false;
            state.give_up(StoreError::Database {
                doing: "write",
                detail: "another thread's write broke off in the same group".to_owned(),
            });
            self.finished.notify_all();
        }
        state
    }

    fn finish(&self, mut state: MutexGuard<'_, State>, group: u64) -> Result<(), StoreError> {
        while state.open == Some(group) {
            let queueing = self.queueing.load(Ordering::Acquire) > 0;
            let gathering = (state.last_sync / 2).saturating_sub(state.began.elapsed());
            let complete = !queueing && (state.members >= state.last_members || gathering.is_zero());
            if complete || state.members >= MAX_MEMBERS {
                self.commit(&mut state);
            } else {
                // The first timeout only guards against a queueing thread that the system does not run.
                let at_most = if queueing {
                    Duration::from_millis(20)
                } else {
                    gathering
                };
                let waited = self.finished.wait_timeout(state, at_most);
                state = waited.unwrap_or_else(PoisonError::into_inner).0;
            }
        }
        let Some((error, unaware)) = state.failed.get_mut(&group) else {
            return Ok(());
        };
        let error = error.clone();
        *unaware = unaware.saturating_sub(1);
        if *unaware == 0 {
            state.failed.remove(&group);
        }
        Err(error)
    }

    fn commit(&self, state: &mut State) {
        if state.open.is_none() {
            return;
        }
        let began = Instant::now();
        match state.execute("commit", "commit") {
            Ok(()) => {
                state.last_members = state.members;
                state.last_sync = began.elapsed();
                state.open = None;
                state.members = 0;
            }
            Err(error) => state.give_up(error),
        }
        self.finished.notify_all();
    }
}

impl State {
    fn work<T>(
        &mut self,
        work: impl FnOnce(&Connection) -> Result<T, StoreError>,
    ) -> Result<(u64, T), StoreError> {
        if self.open.is_none() {
            self.execute("begin immediate", "begin to write")?;
            self.last_group += 1;
            self.open = Some(self.last_group);
            self.began = Instant::now();
        }
        self.execute("savepoint batch", "begin a batch")?;
        self.working = true;
        let result = work(&self.connection);
        self.working = false;
        let result = result.and_then(|value| self.execute("release batch", "end a batch").map(|()| value));
        match result {
            Ok(value) => {
                self.members += 1;
                Ok((self.last_group, value))
            }
            Err(refusal) => {
                self.undo_batch(&refusal);
                Err(refusal)
            }
        }
    }

    /// Takes back one batch; when SQLite has dropped the whole transaction, the group is given up.
    fn undo_batch(&mut self, refusal: &StoreError) {
        let undone = !self.connection.is_autocommit()
            && self.execute("rollback to batch", "undo a batch").is_ok()
            && self.execute("release batch", "undo a batch").is_ok();
        // Alone in the group there is nothing to keep, so let the lock go too.
        if !undone || self.members == 0 {
            self.give_up(refusal.clone());
        }
    }

    fn give_up(&mut self, error: StoreError) {
        if !self.connection.is_autocommit() && self.execute("rollback", "undo a group").is_err() {
            // Only a broken connection refuses this, and it refuses all that follows too.
        }
        if let Some(group) = self.open.take()
            && self.members > 0
        {
            self.failed.insert(group, (error, self.members));
        }
        self.members = 0;
    }

    fn execute(&self, sql: &str, doing: &'static str) -> Result<(), StoreError> {
        let run = || self.connection.prepare_cached(sql)?.execute([]);
        run().map(|_| ()).map_err(while_doing(doing))
    }
}

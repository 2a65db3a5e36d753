//! Verifies a site: the chain from its stored bytes, the fold, the cached rows, the files.

use super::append::Changed;
use super::{ActError, Register, fold};
use register::chain::{self, Hash};
use register::entry::read_body;
use register::site::Site;
use register::view::{HeadView, VerifyView};
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use store::{PlanBox, RunChange, StoreError};
use uuid::Uuid;

/// Most faults that are told; the rest are counted.
const MOST_FAULTS: usize = 100;

/// A head that somebody else holds: `N:HEX`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HeldHead {
    /// Its entry.
    pub n: u64,
    /// Its hash.
    pub hash: Hash,
}

impl std::str::FromStr for HeldHead {
    type Err = String;

    fn from_str(text: &str) -> Result<HeldHead, String> {
        let mend = "write it as printed on the sheet, N:HEX with 64 hexadecimal digits";
        let (n, hex) = text
            .trim()
            .split_once(':')
            .ok_or_else(|| format!("{text:?} is no head; {mend}"))?;
        let n = n
            .parse()
            .map_err(|e| format!("{n:?} is no entry number ({e}); {mend}"))?;
        let hash = chain::from_hex(&hex.to_ascii_lowercase())
            .ok_or_else(|| format!("{hex:?} is no hash; {mend}"))?;
        Ok(HeldHead { n, hash })
    }
}

#[derive(Default)]
struct Faults {
    told: Vec<String>,
    more: u64,
}

impl Faults {
    fn add(&mut self, fault: String) {
        if self.told.len() < MOST_FAULTS {
            self.told.push(fault);
        } else {
            self.more += 1;
        }
    }
}

impl Register {
    /// Recomputes everything that can be recomputed, and says what that proves and what it does not.
    ///
    /// # Errors
    /// A store that cannot be read at all; what is damaged or changed is a fault in the answer.
    pub fn verify(
        &self,
        id: Uuid,
        held: Option<HeldHead>,
        progress: &mut dyn FnMut(u64, u64),
    ) -> Result<VerifyView, ActError> {
        let stored = self.store.head(id.into_bytes())?;
        let mut faults = Faults::default();
        let mut walk = Walk::new(id);
        self.store.for_each_entry(id.into_bytes(), 1, &mut |row| {
            if let Some(held) = held
                && row.n == held.n
            {
                walk.at_held = Some(row.head);
            }
            walk.take(self, &row, &mut faults);
            if walk.n.is_multiple_of(512) {
                progress(walk.n, stored.n);
            }
            ControlFlow::Continue(())
        })?;
        if (walk.n, walk.head) != (stored.n, stored.hash) {
            faults.add(format!(
                "the site's head is stored as {}:{}, and its entries lead to {}:{}",
                stored.n,
                chain::hex(&stored.hash),
                walk.n,
                chain::hex(&walk.head)
            ));
        }
        if let Some(held) = held {
            match walk.at_held {
                Some(hash) if hash == held.hash => {}
                Some(hash) => faults.add(format!(
                    "the head you hold for entry {} is not this chain's: yours is {}, here it is {}; entries up to {} are not the ones it was printed from",
                    held.n, chain::hex(&held.hash), chain::hex(&hash), held.n
                )),
                None => faults.add(format!(
                    "the head you hold is of entry {}, and this chain has only {}: entries were cut off, or this is an older copy",
                    held.n, walk.n
                )),
            }
        }
        let Walk {
            n,
            head,
            recorded_at,
            site,
            rows,
            broken_at,
            ..
        } = walk;
        let rows_count = rows.as_ref().map_or(0, |rows| rows.count());
        match rows {
            Some(rows) => self.compare_rows(id, rows, &mut faults)?,
            None => faults.add(format!(
                "entries from {} on could not be replayed, so the cached rows could not be compared",
                broken_at.unwrap_or(0)
            )),
        }
        let files = self.check_files(id, &mut faults)?;
        for says in self.store.integrity_check()? {
            faults.add(format!("the store: {says}"));
        }
        progress(n, stored.n);
        let mut told = faults.told;
        if faults.more > 0 {
            told.push(format!("and {} more", faults.more));
        }
        let holds = told.is_empty();
        let name = site.opened.as_ref().map(|o| o.name.clone()).unwrap_or_default();
        let (proven, not_proven) = words(holds, n, rows_count, files, held);
        Ok(VerifyView {
            format: "coverbook.verify/1".into(),
            site: name,
            head: HeadView {
                n,
                hex: chain::hex(&head),
                recorded_at,
            },
            holds,
            faults: told,
            proven,
            not_proven,
        })
    }

    fn compare_rows(&self, id: Uuid, made: Changed, faults: &mut Faults) -> Result<(), ActError> {
        let mut expected: BTreeMap<String, (Vec<u8>, Vec<PlanBox>)> = BTreeMap::new();
        for change in made.rows(None)? {
            if let RunChange::Put { run, bytes, boxes } = change {
                expected.insert(run, (bytes, boxes));
            }
        }
        let boxes: BTreeMap<String, Vec<PlanBox>> = self.store.boxes(id.into_bytes())?.into_iter().collect();
        self.store.for_each_run(id.into_bytes(), &mut |key, bytes| {
            match expected.remove(key) {
                None => faults.add(format!("cached row of run {key}: the journal has no such run")),
                Some((again, _)) if again != bytes => {
                    faults.add(format!(
                        "cached row of run {key}: it is not what the journal makes of the run"
                    ));
                }
                Some((_, again)) if boxes.get(key) != Some(&again) => {
                    faults.add(format!(
                        "index boxes of run {key}: they are not what the journal makes of the run"
                    ));
                }
                Some(_) => {}
            }
            ControlFlow::Continue(())
        })?;
        for key in expected.into_keys() {
            faults.add(format!(
                "cached row of run {key}: it is missing, so a planned dig would not show the run"
            ));
        }
        Ok(())
    }

    fn check_files(&self, id: Uuid, faults: &mut Faults) -> Result<u64, ActError> {
        let mut whole = 0;
        for file in self
            .store
            .blobs(id.into_bytes())?
            .into_iter()
            .filter(|file| !file.erased)
        {
            match self.store.get_blob(file.hash) {
                Ok(_) => whole += 1,
                Err(error @ (StoreError::NoSuchBlob { .. } | StoreError::BlobDamaged { .. })) => {
                    faults.add(format!("entry {}: {error}", file.first_n));
                }
                Err(error) => return Err(error.into()),
            }
        }
        Ok(whole)
    }
}

/// The chain and the fold as they are recomputed, entry by entry.
struct Walk {
    id: Uuid,
    n: u64,
    head: Hash,
    recorded_at: Option<String>,
    at_held: Option<Hash>,
    site: Site,
    /// `None` once an entry could not be replayed.
    rows: Option<Changed>,
    broken_at: Option<u64>,
}

impl Walk {
    fn new(id: Uuid) -> Walk {
        Walk {
            id,
            n: 0,
            head: chain::head_of_nothing(id),
            recorded_at: None,
            at_held: None,
            site: Site::empty(id),
            rows: Some(Changed::default()),
            broken_at: None,
        }
    }

    fn take(&mut self, register: &Register, row: &store::EntryRow, faults: &mut Faults) {
        if row.n != self.n + 1 {
            faults.add(format!(
                "entry {} follows entry {}: entries are missing",
                row.n, self.n
            ));
        }
        let body_hash = chain::body_hash(&row.body);
        if body_hash != row.body_hash {
            faults.add(format!(
                "entry {}: its body is not the one that was hashed",
                row.n
            ));
        }
        let head = chain::next_head(self.id, row.n, &self.head, &row.recorded_at, &row.body_hash);
        if head != row.head {
            faults.add(format!(
                "entry {}: its head does not follow from the entry before it, its time and its body's hash",
                row.n
            ));
        }
        if self
            .recorded_at
            .as_ref()
            .is_some_and(|last| *last > row.recorded_at)
        {
            faults.add(format!("entry {}: its time of recording goes back", row.n));
        }
        match read_body(&row.body) {
            Ok(body) => {
                if body.act.kind() != row.tag {
                    faults.add(format!(
                        "entry {}: it is filed as {} and is a {}",
                        row.n,
                        row.tag,
                        body.act.kind()
                    ));
                }
                if body.id.into_bytes() != row.entry_id {
                    faults.add(format!(
                        "entry {}: it is filed under another id than its own",
                        row.n
                    ));
                }
            }
            Err(unreadable) => faults.add(format!("entry {}: {unreadable}", row.n)),
        }
        self.replay(register, row, faults);
        // The chain goes on from what is stored, so that one changed byte names one entry and not all that follow.
        self.n = row.n;
        self.head = row.head;
        self.recorded_at = Some(row.recorded_at.clone());
    }

    fn replay(&mut self, register: &Register, row: &store::EntryRow, faults: &mut Faults) {
        let Some(rows) = self.rows.as_mut() else { return };
        let entry = match fold::entry_as_stored(register.store(), row) {
            Ok(entry) => entry,
            Err(error) => {
                faults.add(format!("entry {}: {error}", row.n));
                (self.rows, self.broken_at) = (None, Some(row.n));
                return;
            }
        };
        match self.site.apply(&entry) {
            Ok(changes) => {
                for change in changes {
                    rows.take(change);
                }
                if entry.body.is_err() {
                    (self.rows, self.broken_at) = (None, Some(row.n));
                }
            }
            Err(refusal) => {
                faults.add(format!(
                    "entry {}: replayed, it is refused: {}",
                    row.n, refusal.says
                ));
                (self.rows, self.broken_at) = (None, Some(row.n));
            }
        }
    }
}

fn words(holds: bool, n: u64, runs: u64, files: u64, held: Option<HeldHead>) -> (Vec<String>, Vec<String>) {
    let mut proven = Vec::new();
    let mut not_proven = Vec::new();
    if holds {
        proven.push(format!(
            "entries 1 to {n} are whole and in order: every head was made again from the stored bytes and agrees"
        ));
        proven.push(format!(
            "replayed, the journal gives the same answers: {runs} cached runs and their index boxes agree byte for byte"
        ));
        proven.push(format!(
            "{files} attached files still have the bytes that the entries name"
        ));
        match held {
            Some(held) => proven.push(format!(
                "the head {}:{} that you hold is in this chain: entries 1 to {} are the ones it was printed from",
                held.n,
                chain::hex(&held.hash),
                held.n
            )),
            None => not_proven.push(
                "that nobody wrote the whole journal anew: that takes a head that somebody else holds; compare one printed on a sheet, with --head N:HEX"
                    .into(),
            ),
        }
        if let Some(held) = held
            && held.n < n
        {
            not_proven.push(format!(
                "that entries {} to {n} are as they were: no head was compared for them",
                held.n + 1
            ));
        }
    } else {
        not_proven
            .push("anything, until each fault is explained: keep a copy of the register as it is".into());
    }
    not_proven
        .push("that what was measured and entered is true, or that everything there was entered".into());
    not_proven.push("when things were observed: those times are the authors' own".into());
    (proven, not_proven)
}

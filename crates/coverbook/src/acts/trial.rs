//! Entries that are only tried: applied to a copy of a site to see what it refuses, and never stored.

use register::body::{Act, Body};
use register::entry::{Attached, Entry};
use register::site::Site;
use uuid::Uuid;

/// Returns the entry that an act would be, next after those of a site.
pub(crate) fn trial(site: &Site, act: Act, observed_at: String, attached: &Attached) -> Entry {
    Entry {
        n: site.n + 1,
        recorded_at: String::new(),
        head: site.head,
        attached: files_of(&act, attached),
        body: Ok(Body {
            act,
            v: 1,
            // Each its own, since a site takes no id twice.
            id: Uuid::now_v7(),
            by: Uuid::nil(),
            device: String::new(),
            observed_at,
        }),
    }
}

/// Returns the files that the fold of one act needs, of those that came with it.
pub(crate) fn files_of(act: &Act, attached: &Attached) -> Attached {
    match act {
        Act::SurfaceRecorded(_) => attached.clone(),
        _ => Attached::new(),
    }
}

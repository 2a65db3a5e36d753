//! An entry: a body in its place in the chain, read from and written to its canonical bytes.

use crate::body::Body;
use crate::canonical;
use crate::chain::{self, Hash};
use std::collections::BTreeMap;
use std::sync::Arc;
use uuid::Uuid;

/// Largest body, in bytes.
pub const LARGEST_BODY: usize = 1 << 20;

/// Bytes of blobs that an entry names, by their hexadecimal SHA-256.
pub type Attached = BTreeMap<String, Arc<[u8]>>;

/// A body in its place in the chain.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Its number, from 1.
    pub n: u64,
    /// When the server recorded it: RFC 3339, UTC, milliseconds.
    pub recorded_at: String,
    /// The head after it.
    pub head: Hash,
    /// The body, or why this program cannot read it.
    pub body: Result<Body, Unreadable>,
    /// The blobs it names that the fold needs (surfaces).
    pub attached: Attached,
}

/// A body that this program cannot read. Skipping it could hide a service, so the site becomes read-only.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Unreadable {
    /// Not JSON, or not an object.
    #[error("the body is not a JSON object: {0}")]
    NotJson(String),
    /// A kind or version that a later program wrote.
    #[error("kind {kind} version {v} is not known to this program; open the site with a newer one")]
    NewerKind {
        /// The kind as written.
        kind: String,
        /// The version as written.
        v: u64,
    },
    /// A known kind with fields missing, unknown or of the wrong type.
    #[error("a body of kind {kind} does not read: {why}")]
    Malformed {
        /// The kind as written.
        kind: String,
        /// What is wrong.
        why: String,
    },
}

/// A body that cannot be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Unwritable {
    /// Too large for one entry.
    #[error("the entry is {0} bytes, and the limit is {LARGEST_BODY}; split it")]
    TooLarge(usize),
    /// It could not be serialised.
    #[error("the entry cannot be written: {0}")]
    Serialise(String),
}

/// Writes a body as canonical JSON (RFC 8785).
pub fn write_body(body: &Body) -> Result<Vec<u8>, Unwritable> {
    let bytes = canonical::to_vec(body).map_err(|e| Unwritable::Serialise(e.to_string()))?;
    if bytes.len() > LARGEST_BODY {
        Err(Unwritable::TooLarge(bytes.len()))
    } else {
        Ok(bytes)
    }
}

/// Reads a stored body.
///
/// # Errors
/// [`Unreadable`] when any part of it would be dropped: an unknown kind, version or field.
pub fn read_body(bytes: &[u8]) -> Result<Body, Unreadable> {
    // Nearly all read at once; what does not is looked at again, to say what is wrong with it.
    match serde_json::from_slice::<Body>(bytes) {
        Ok(body) if body.v == 1 && write_body(&body).is_ok_and(|again| again == bytes) => Ok(body),
        _ => read_strange(bytes),
    }
}

fn read_strange(bytes: &[u8]) -> Result<Body, Unreadable> {
    let value: serde_json::Value =
        serde_json::from_slice(bytes).map_err(|e| Unreadable::NotJson(e.to_string()))?;
    let kind = value
        .get("kind")
        .and_then(|k| k.as_str())
        .unwrap_or("(none)")
        .to_string();
    let v = value.get("v").and_then(serde_json::Value::as_u64).unwrap_or(0);
    if v != 1 || !KINDS.contains(&kind.as_str()) {
        return Err(Unreadable::NewerKind { kind, v });
    }
    let malformed = |why: String| Unreadable::Malformed {
        kind: kind.clone(),
        why,
    };
    let body: Body = serde_json::from_value(value).map_err(|e| malformed(e.to_string()))?;
    // Written again it must be the same bytes; otherwise a field was unknown, and dropped.
    match write_body(&body) {
        Ok(again) if again == bytes => Ok(body),
        _ => Err(malformed("a field is unknown or not in canonical form".into())),
    }
}

/// Every kind that this program reads and folds.
pub const KINDS: [&str; 23] = [
    "SiteOpened",
    "RulesAdopted",
    "ControlRecorded",
    "StationSet",
    "LevelsBooked",
    "GridTied",
    "PointsRecorded",
    "RunsExpected",
    "RunLaid",
    "RunAmended",
    "RunRetired",
    "SurfaceRecorded",
    "AreaSearched",
    "FileAttached",
    "CoverChecked",
    "CoverReleased",
    "ReleaseWithdrawn",
    "DigPlanned",
    "SheetIssued",
    "NoteAdded",
    "EntryCorrected",
    "EntryWithdrawn",
    "ContentErased",
];

/// A body sealed into its place in the chain, ready to be stored.
#[derive(Debug, Clone)]
pub struct Sealed {
    /// The entry.
    pub entry: Entry,
    /// The body's canonical bytes.
    pub bytes: Vec<u8>,
    /// Their hash.
    pub body_hash: Hash,
}

/// A body written, read back and hashed: all of sealing that does not hang on its place in the chain.
#[derive(Debug, Clone)]
pub struct Written {
    /// The body.
    pub body: Body,
    /// Its canonical bytes.
    pub bytes: Vec<u8>,
    /// Their hash.
    pub body_hash: Hash,
}

/// Writes a body, reads it back and hashes it.
///
/// # Errors
/// A body too large, or one that this program could not read back: it would make the site read-only for ever.
pub fn write_checked(body: Body) -> Result<Written, Unwritable> {
    let bytes = write_body(&body)?;
    match read_body(&bytes) {
        Ok(again) if again == body => {}
        Ok(_) => {
            return Err(Unwritable::Serialise(
                "it reads back otherwise than it was written".into(),
            ));
        }
        Err(unreadable) => return Err(Unwritable::Serialise(unreadable.to_string())),
    }
    let body_hash = chain::body_hash(&bytes);
    Ok(Written {
        body,
        bytes,
        body_hash,
    })
}

/// Seals a written body as entry `n` of a site's chain, after `before`.
pub fn seal_written(
    site: Uuid,
    n: u64,
    before: &Hash,
    recorded_at: String,
    written: Written,
    attached: Attached,
) -> Sealed {
    let Written {
        body,
        bytes,
        body_hash,
    } = written;
    let head = chain::next_head(site, n, before, &recorded_at, &body_hash);
    Sealed {
        entry: Entry {
            n,
            recorded_at,
            head,
            body: Ok(body),
            attached,
        },
        bytes,
        body_hash,
    }
}

/// Seals a body as entry `n` of a site's chain, after `before`.
///
/// # Errors
/// As [`write_checked`].
pub fn seal(
    site: Uuid,
    n: u64,
    before: &Hash,
    recorded_at: String,
    body: Body,
    attached: Attached,
) -> Result<Sealed, Unwritable> {
    let written = write_checked(body)?;
    Ok(seal_written(site, n, before, recorded_at, written, attached))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::{Act, NoteAdded};

    fn note(text: &str) -> Body {
        Body {
            act: Act::NoteAdded(NoteAdded {
                about: None,
                text: text.into(),
            }),
            v: 1,
            id: Uuid::from_u128(7),
            by: Uuid::from_u128(8),
            device: "test".into(),
            observed_at: "2031-05-03T07:00:00Z".into(),
        }
    }

    #[test]
    fn a_body_is_written_in_canonical_order_and_read_back() {
        let bytes = write_body(&note("pit lid is loose")).unwrap();
        assert_eq!(
            std::str::from_utf8(&bytes).unwrap(),
            r#"{"by":"00000000-0000-0000-0000-000000000008","device":"test","id":"00000000-0000-0000-0000-000000000007","kind":"NoteAdded","observed_at":"2031-05-03T07:00:00Z","text":"pit lid is loose","v":1}"#
        );
        assert_eq!(read_body(&bytes), Ok(note("pit lid is loose")));
    }

    #[test]
    fn a_newer_kind_or_version_is_not_skipped() {
        let newer = br#"{"kind":"TunnelBored","v":1}"#;
        assert_eq!(
            read_body(newer),
            Err(Unreadable::NewerKind {
                kind: "TunnelBored".into(),
                v: 1
            })
        );
        let bytes = write_body(&Body { v: 2, ..note("x") }).unwrap();
        assert!(matches!(
            read_body(&bytes),
            Err(Unreadable::NewerKind { v: 2, .. })
        ));
    }

    #[test]
    fn an_unknown_field_is_never_dropped_in_silence() {
        let mut value: serde_json::Value = serde_json::from_slice(&write_body(&note("x")).unwrap()).unwrap();
        value["depth_m"] = "0.4".into();
        let bytes = serde_jcs::to_vec(&value).unwrap();
        assert!(matches!(read_body(&bytes), Err(Unreadable::Malformed { .. })));
    }

    #[test]
    fn every_kind_of_act_is_listed_as_readable() {
        for kind in crate::body::Act::FRAME_KINDS {
            assert!(KINDS.contains(&kind));
        }
        assert!(KINDS.contains(&note("x").act.kind()));
    }

    #[test]
    fn a_body_over_a_mebibyte_is_refused() {
        assert!(matches!(
            write_body(&note(&"a".repeat(LARGEST_BODY))),
            Err(Unwritable::TooLarge(_))
        ));
    }
}

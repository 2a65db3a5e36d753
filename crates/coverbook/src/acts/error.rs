//! Why an act was refused or failed: one enum for both faces.

use register::entry::Unwritable;
use register::site::Refusal;
use serde::Serialize;
use store::StoreError;
use utoipa::ToSchema;

/// Where in a file something is wrong.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct Place {
    /// File name.
    pub file: Option<String>,
    /// Row, counted from 1, the header included.
    pub row: Option<u64>,
    /// Column name or number.
    pub column: Option<String>,
}

/// Why an act was refused or failed. Nothing was changed, but for [`ActError::Recorded`].
#[derive(Debug, thiserror::Error)]
pub enum ActError {
    /// The register's rules refuse it.
    #[error("{}", refusal.says)]
    Refused {
        /// What is wrong and how to mend it.
        refusal: Refusal,
        /// The file it came from.
        file: Option<String>,
    },
    /// What was asked does not make sense.
    #[error("{says}")]
    Asked {
        /// Short code.
        code: &'static str,
        /// What is wrong and how to mend it.
        says: String,
        /// Where.
        place: Option<Place>,
    },
    /// What is asked for is not there.
    #[error("{0}")]
    NotThere(String),
    /// The same id came with other bytes.
    #[error(
        "entry id {id} is taken by entry {n} with other content; nothing was recorded: give the new entry an id of its own"
    )]
    SameIdOtherBytes {
        /// The id.
        id: uuid::Uuid,
        /// The entry that has it.
        n: u64,
    },
    /// The store refused or failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The journal cannot be folded.
    #[error(
        "entry {n} of the journal cannot be followed: {why}; run verify, and restore a backup if it names a fault"
    )]
    Journal {
        /// The entry.
        n: u64,
        /// Why.
        why: String,
    },
    /// A file of the person's own could not be read or written.
    #[error("{file}: {why}")]
    File {
        /// Its name.
        file: String,
        /// What the system said, and the mend.
        why: String,
    },
    /// The act is recorded; what was to be shown of it could not be read.
    #[error(
        "recorded as entry {}, but it could not be shown: {why}; look in the book and do not send it again",
        numbers(entries)
    )]
    Recorded {
        /// The entries' numbers.
        entries: Vec<u64>,
        /// Why it could not be shown.
        why: Box<ActError>,
    },
    /// Our own fault.
    #[error("{0}")]
    Fault(String),
}

fn numbers(entries: &[u64]) -> String {
    match entries {
        [first, .., last] => format!("{first} to {last}"),
        one => one.iter().map(u64::to_string).collect(),
    }
}

/// How an error weighs, for exit codes and HTTP status.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// The input was refused.
    Refused,
    /// What was asked for is not there.
    NotThere,
    /// It stands against what is there already.
    Conflict,
    /// Too large.
    TooLarge,
    /// No room, or busy: try again.
    Unavailable,
    /// Our own fault, or damage.
    Fault,
}

impl ActError {
    /// Makes a refusal of what was asked.
    pub fn asked(code: &'static str, says: impl Into<String>) -> ActError {
        ActError::Asked {
            code,
            says: says.into(),
            place: None,
        }
    }

    /// Returns how it weighs.
    pub fn weight(&self) -> Weight {
        match self {
            ActError::Refused { refusal, .. } => match refusal.code {
                "no-such-run" | "no-such-entry" => Weight::NotThere,
                "read-only" => Weight::Conflict,
                _ => Weight::Refused,
            },
            ActError::Asked { .. } | ActError::File { .. } => Weight::Refused,
            ActError::NotThere(_) => Weight::NotThere,
            ActError::SameIdOtherBytes { .. } => Weight::Conflict,
            ActError::Journal { .. } | ActError::Recorded { .. } | ActError::Fault(_) => Weight::Fault,
            ActError::Store(error) => match error {
                StoreError::NoSuchSite { .. }
                | StoreError::NoSuchPerson { .. }
                | StoreError::NoSuchRegister { .. } => Weight::NotThere,
                StoreError::SameIdOtherBytes { .. }
                | StoreError::PartlyThere { .. }
                | StoreError::SiteExists { .. }
                | StoreError::AlreadyExists { .. }
                | StoreError::InUse { .. }
                | StoreError::StaleHead { .. } => Weight::Conflict,
                StoreError::BodyTooLarge { .. } | StoreError::BlobTooLarge { .. } => Weight::TooLarge,
                StoreError::DiskFull | StoreError::Busy { .. } | StoreError::ReadOnly { .. } => {
                    Weight::Unavailable
                }
                StoreError::NotARegister { .. }
                | StoreError::NewerRegister { .. }
                | StoreError::OlderRegister { .. }
                | StoreError::PersonErased { .. }
                | StoreError::BlobErased { .. }
                | StoreError::File { .. } => Weight::Refused,
                _ => Weight::Fault,
            },
        }
    }

    /// Returns a short code for programs.
    pub fn code(&self) -> &str {
        match self {
            ActError::Refused { refusal, .. } => refusal.code,
            ActError::Asked { code, .. } => code,
            ActError::NotThere(_) => "not-there",
            ActError::SameIdOtherBytes { .. } => "same-id",
            ActError::Journal { .. } => "journal",
            ActError::File { .. } => "file",
            ActError::Recorded { .. } => "recorded",
            ActError::Fault(_) => "fault",
            ActError::Store(error) => match error {
                StoreError::StaleHead { .. } => "stale-head",
                StoreError::DiskFull => "disk-full",
                StoreError::Busy { .. } => "busy",
                StoreError::ReadOnly { .. } => "read-only",
                StoreError::InUse { .. } => "in-use",
                StoreError::AlreadyExists { .. } => "already-exists",
                StoreError::NoSuchRegister { .. } => "no-such-register",
                StoreError::NotARegister { .. } => "not-a-register",
                StoreError::NoSuchSite { .. } => "no-such-site",
                StoreError::BodyTooLarge { .. } | StoreError::BlobTooLarge { .. } => "too-large",
                _ => "store",
            },
        }
    }

    /// Returns where in a file it is, when it came from one.
    pub fn place(&self) -> Option<Place> {
        match self {
            ActError::Refused { refusal, file } if file.is_some() || refusal.row.is_some() => Some(Place {
                file: file.clone(),
                row: refusal.row,
                column: None,
            }),
            ActError::Asked { place, .. } => place.clone(),
            ActError::File { file, .. } => Some(Place {
                file: Some(file.clone()),
                ..Place::default()
            }),
            _ => None,
        }
    }
}

impl From<Refusal> for ActError {
    fn from(refusal: Refusal) -> ActError {
        ActError::Refused { refusal, file: None }
    }
}

impl From<Unwritable> for ActError {
    fn from(unwritable: Unwritable) -> ActError {
        match unwritable {
            Unwritable::TooLarge(_) => ActError::asked("too-large", unwritable.to_string()),
            _ => ActError::Fault(unwritable.to_string()),
        }
    }
}

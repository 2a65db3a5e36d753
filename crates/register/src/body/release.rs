//! The hold point: cover released, or not, by a named person; and a release taken back.

use super::ResultIssued;
use crate::words::ReleaseOutcome;
use serde::{Deserialize, Serialize};
use survey::Decimal;
use uuid::Uuid;

/// An open item of a hold point's list that a person accepts, with the reason.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Accepted {
    /// The item's key.
    pub item: String,
    /// Why it is accepted.
    pub reason: String,
}

/// What somebody decided at the hold point of an area of work. It is never edited, only withdrawn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CoverReleased {
    /// The pour, trench length or other area of work.
    pub area: String,
    /// Its outline, easting, northing, not repeated at the end; absent where runs are named alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ring: Option<Vec<[Decimal; 2]>>,
    /// The runs that it is about.
    pub runs: Vec<String>,
    /// What was decided.
    pub outcome: ReleaseOutcome,
    /// Open items that the person accepted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub accepted: Vec<Accepted>,
    /// The person's own words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub statement: Option<String>,
    /// The list as it stood, and the head that it rests on.
    #[serde(flatten)]
    pub result: ResultIssued,
}

/// A release taken back, with the reason; it stays readable.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReleaseWithdrawn {
    /// The entry that released.
    pub release: Uuid,
    /// Why.
    pub reason: String,
}

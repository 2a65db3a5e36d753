//! Runs: expected, laid, amended, retired.

use super::ImportRef;
use crate::service::Service;
use crate::words::Retirement;
use serde::{Deserialize, Serialize};
use survey::Decimal;
use uuid::Uuid;

/// Runs that somebody expects to be recorded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunsExpected {
    /// Where they came from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub import: Option<ImportRef>,
    /// The expected runs.
    pub runs: Vec<ExpectedRow>,
}

/// One expected run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "fields are the columns of the expected file")]
pub struct ExpectedRow {
    pub run: String,
    pub service: Service,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size_mm: Option<Decimal>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
}

/// Size and arrangement of a run, as stated.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct SectionRow {
    /// Nominal size: a name, not a measurement.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size_mm: Option<Decimal>,
    /// Outside diameter, sleeve or insulation included.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outside_mm: Option<Decimal>,
    /// Wall thickness.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wall_mm: Option<Decimal>,
    /// Material or family, as stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub material: Option<String>,
    /// Rows of a bank.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rows: Option<u32>,
    /// Columns of a bank.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub columns: Option<u32>,
    /// Centre spacing of a bank.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spacing_mm: Option<Decimal>,
}

/// How a run ends.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(tag = "how", rename_all = "kebab-case")]
pub enum RunEnd {
    /// Closed with a cap.
    Capped,
    /// Joins another recorded run.
    Joins {
        /// That run.
        run: String,
    },
    /// Enters a building, pit, board or other structure.
    Enters {
        /// That structure.
        structure: String,
    },
    /// Goes on beyond what was recorded.
    ContinuesUnrecorded,
    /// Nobody said.
    NotStated,
}

impl std::fmt::Display for RunEnd {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            RunEnd::Capped => f.write_str("capped"),
            RunEnd::Joins { run } => write!(f, "joins {run}"),
            RunEnd::Enters { structure } => write!(f, "enters {structure}"),
            RunEnd::ContinuesUnrecorded => f.write_str("continues-unrecorded"),
            RunEnd::NotStated => f.write_str("not-stated"),
        }
    }
}

impl RunEnd {
    /// True when the run may go on beyond its recorded end.
    pub fn is_open(&self) -> bool {
        matches!(self, RunEnd::ContinuesUnrecorded | RunEnd::NotStated)
    }
}

/// A run through recorded points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunLaid {
    /// Its name, unique in the site.
    pub run: String,
    /// What it carries.
    pub service: Service,
    /// Labels of its points in order; for a gravity service in the direction of flow.
    pub points: Vec<String>,
    /// Size and arrangement.
    pub section: SectionRow,
    /// How it begins and ends.
    pub ends: [RunEnd; 2],
    /// How far a leg may bow off its chord.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bow_mm: Option<Decimal>,
    /// Whose it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub owner: Option<String>,
    /// Remarks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The import it came with.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub import_id: Option<Uuid>,
}

/// A new revision of a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunAmended {
    /// The entry number of the revision the author saw; another one now makes this amendment held.
    pub saw: u64,
    /// Why.
    pub reason: String,
    /// The run as it is to be.
    #[serde(rename = "as")]
    pub becomes: RunLaid,
}

/// A run that is no longer in use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunRetired {
    /// Which.
    pub run: String,
    /// How.
    pub how: Retirement,
    /// True when the author saw it taken out of the ground.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub removal_seen: bool,
    /// The runs that take its place.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub successors: Vec<String>,
    /// Why.
    pub reason: String,
}

//! The gaps between one tube and one excavation, measured and at worst.

use crate::Vec3;

/// Why a gap has no number. Missing never acts as zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoNumber {
    /// The tube has a vertex without a known uncertainty.
    NotPlaced,
    /// No part of the tube lies over, in or under the excavation, seen in plan.
    NotUnder,
    /// Part of the tube lies, in plan, where the floor of the excavation is not known.
    FloorUnknown,
}

/// A gap, and where it was found: two points a person can check it by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// The gap, metres; a proven lower bound within 0.1 mm of the exact value.
    pub gap_m: f64,
    /// The point on the tube (on the grown tube for a worst gap).
    pub on_run: Vec3,
    /// The point on the excavation (on the grown one for a worst gap).
    pub on_dig: Vec3,
    /// The chainage of that place on the tube, metres.
    pub chainage_m: f64,
}

/// A stretch of a tube between two chainages, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Where it starts.
    pub from_m: f64,
    /// Where it ends.
    pub to_m: f64,
}

/// Everything measured between one tube and one excavation.
#[derive(Debug, Clone, PartialEq)]
pub struct TubeGaps {
    /// Shortest distance from tube to excavation; 0 exactly when they touch.
    pub shortest: Gap,
    /// The same from the grown tube to the grown excavation; never more than `shortest`.
    pub worst_shortest: Result<Gap, NoNumber>,
    /// Distance in plan from the tube to the excavation at its top; 0 is under, through or over it.
    pub horizontal: Gap,
    /// The same, both grown.
    pub worst_horizontal: Result<Gap, NoNumber>,
    /// Least height of the floor above the tube's top where they lie over one another; negative when the tube
    /// stands above the floor.
    pub vertical: Result<Gap, NoNumber>,
    /// The same, both grown.
    pub worst_vertical: Result<Gap, NoNumber>,
    /// Length of axis, metres, from which the tube reaches into the excavation.
    pub overlap_m: f64,
    /// The stretches of the grown tube within the asked distance, in plan, of the grown excavation at its top.
    ///
    /// A leg that is not placed counts whole.
    pub near: Vec<Stretch>,
    /// Lowest and highest level of the tube's top along `near`; `None` when nothing is near.
    pub top_level_m: Option<(f64, f64)>,
}

/// A tube whose gaps cannot be taken.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GapError {
    /// Fewer than two vertices.
    #[error("the tube has no leg; give at least two different vertices")]
    NoLeg,
    /// A coordinate, radius or growth is not a finite number, or is negative where it cannot be.
    #[error(
        "vertex {vertex} of the tube, its section or its growth is not a finite size; measure it again or withdraw it"
    )]
    NotFinite {
        /// Vertex, counted from 1.
        vertex: usize,
    },
}

//! Which readings are the two faces of one sight.
//!
//! Rows of one target are one sight only where they stand on opposite faces; anything else is a sight of its own, so
//! that no average ever hides a check or makes one point of two.

use crate::body::SightRow;
use crate::words::{AngleRead, FaceRead};

/// Returns true for sights read on opposite sides of the circle with the same target on the same prism.
pub fn are_two_faces(one: &SightRow, other: &SightRow, angles: AngleRead) -> bool {
    let alike = one.target_height_m.exact() == other.target_height_m.exact()
        && one.prism_mm.exact() == other.prism_mm.exact();
    alike && are_opposite(one, other, angles)
}

/// Returns true for sights read on opposite sides of the circle.
pub fn are_opposite(one: &SightRow, other: &SightRow, angles: AngleRead) -> bool {
    let side = |sight: &SightRow| sight.face.or_else(|| side_by_zenith(sight, angles));
    match (side(one), side(other)) {
        (Some(one), Some(other)) => one != other,
        _ => false,
    }
}

/// Returns the side of the circle that a zenith angle tells.
pub fn side_by_zenith(sight: &SightRow, angles: AngleRead) -> Option<FaceRead> {
    let zenith = angles.unit().read(sight.zenith.as_deref()?).ok()?;
    Some(if zenith.to_radians() > std::f64::consts::PI {
        FaceRead::Right
    } else {
        FaceRead::Left
    })
}

/// Puts sights together that are the two faces of one: neighbours of one target on opposite faces, two at most.
pub fn pair_faces<'a>(
    sights: impl IntoIterator<Item = (&'a str, &'a SightRow)>,
    angles: AngleRead,
) -> Vec<(&'a str, Vec<SightRow>)> {
    let mut pairs: Vec<(&str, Vec<SightRow>)> = Vec::new();
    for (target, sight) in sights {
        match pairs.last_mut() {
            Some((last, rows))
                if *last == target && rows.len() == 1 && are_two_faces(&rows[0], sight, angles) =>
            {
                rows.push(sight.clone());
            }
            _ => pairs.push((target, vec![sight.clone()])),
        }
    }
    pairs
}

//! Nominal sizes and the outside diameters they may stand for.
//!
//! A nominal size is a name, not a measurement. When it is all that is known, the largest outside diameter
//! listed for it is taken (the safe side for a dig) and marked as assumed.

/// How far a listed figure can be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reliance {
    /// Seen second-hand, not in the standard itself.
    SecondHand,
    /// From memory of the trade.
    FromMemory,
}

/// One family of sizes: the standard, and pairs of nominal size and outside diameter in millimetres.
#[derive(Debug, Clone, Copy)]
pub struct SizeFamily {
    /// Material and standard.
    pub name: &'static str,
    /// How far to rely on it.
    pub reliance: Reliance,
    /// Nominal size, outside diameter, both in millimetres.
    pub outside_mm: &'static [(f64, f64)],
}

/// The families, in the order of the trade's own tables. None is a rule; a measured outside replaces them.
pub const FAMILIES: [SizeFamily; 11] = [
    SizeFamily {
        name: "rigid PVC conduit, AS/NZS 2053.2",
        reliance: Reliance::SecondHand,
        outside_mm: &[
            (16.0, 16.0),
            (20.0, 20.0),
            (25.0, 25.0),
            (32.0, 32.0),
            (40.0, 40.0),
            (50.0, 50.0),
            (63.0, 63.0),
        ],
    },
    SizeFamily {
        name: "rigid PVC conduit, large, AS/NZS 2053.2",
        reliance: Reliance::FromMemory,
        outside_mm: &[(80.0, 88.9), (100.0, 114.3), (125.0, 140.2), (150.0, 160.2)],
    },
    SizeFamily {
        name: "PVC drain, AS/NZS 1260",
        reliance: Reliance::FromMemory,
        outside_mm: &[
            (40.0, 42.9),
            (50.0, 55.9),
            (65.0, 68.9),
            (80.0, 82.5),
            (100.0, 110.2),
            (150.0, 160.3),
            (225.0, 250.4),
            (300.0, 315.5),
        ],
    },
    SizeFamily {
        name: "PVC pressure series 1, AS/NZS 1477",
        reliance: Reliance::FromMemory,
        outside_mm: &[
            (20.0, 26.8),
            (25.0, 33.6),
            (32.0, 42.3),
            (40.0, 48.3),
            (50.0, 60.4),
            (80.0, 88.9),
            (100.0, 114.3),
            (150.0, 160.3),
        ],
    },
    SizeFamily {
        name: "PVC pressure series 2 (ductile-iron outside), AS/NZS 1477",
        reliance: Reliance::FromMemory,
        outside_mm: &[(100.0, 121.9), (150.0, 177.4), (200.0, 232.2)],
    },
    SizeFamily {
        name: "PVC drain, EN 1401",
        reliance: Reliance::SecondHand,
        outside_mm: &[(110.0, 110.0), (160.0, 160.0)],
    },
    SizeFamily {
        name: "polyethylene, EN 12201 and ISO 4427",
        reliance: Reliance::FromMemory,
        outside_mm: &[
            (20.0, 20.0),
            (25.0, 25.0),
            (32.0, 32.0),
            (40.0, 40.0),
            (50.0, 50.0),
            (63.0, 63.0),
            (90.0, 90.0),
            (110.0, 110.0),
            (125.0, 125.0),
            (160.0, 160.0),
        ],
    },
    SizeFamily {
        name: "copper, EN 1057",
        reliance: Reliance::SecondHand,
        outside_mm: &[
            (15.0, 15.0),
            (22.0, 22.0),
            (28.0, 28.0),
            (35.0, 35.0),
            (42.0, 42.0),
            (54.0, 54.0),
            (108.0, 108.0),
        ],
    },
    SizeFamily {
        name: "steel, EN 10255",
        reliance: Reliance::FromMemory,
        outside_mm: &[
            (15.0, 21.3),
            (20.0, 26.9),
            (25.0, 33.7),
            (32.0, 42.4),
            (40.0, 48.3),
            (50.0, 60.3),
            (80.0, 88.9),
            (100.0, 114.3),
        ],
    },
    SizeFamily {
        name: "copper, AS 1432",
        reliance: Reliance::FromMemory,
        outside_mm: &[
            (32.0, 31.75),
            (40.0, 38.1),
            (50.0, 50.8),
            (65.0, 63.5),
            (80.0, 76.2),
            (100.0, 101.6),
        ],
    },
    SizeFamily {
        name: "vitrified clay (nominal size about the bore)",
        reliance: Reliance::FromMemory,
        outside_mm: &[(100.0, 130.0)],
    },
];

/// Returns the largest outside diameter listed for a nominal size, with the family that lists it.
pub fn largest_outside_mm(nominal_mm: f64) -> Option<(f64, &'static SizeFamily)> {
    let listed = FAMILIES.iter().flat_map(|family| {
        family
            .outside_mm
            .iter()
            .filter(move |(nominal, _)| (nominal - nominal_mm).abs() < 0.05)
            .map(move |(_, outside)| (*outside, family))
    });
    listed.max_by(|a, b| a.0.total_cmp(&b.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_100_mm_pipe_may_be_130_mm_outside() {
        // Common practice: clay of nominal 100 is about 130 outside.
        assert_eq!(largest_outside_mm(100.0).map(|(mm, _)| mm), Some(130.0));
    }

    #[test]
    fn a_size_in_no_table_has_no_outside() {
        assert!(largest_outside_mm(97.0).is_none());
    }

    #[test]
    fn no_listed_outside_is_below_nine_tenths_of_its_name() {
        for family in FAMILIES {
            for (nominal, outside) in family.outside_mm {
                assert!(outside / nominal > 0.9, "{}: {nominal}", family.name);
            }
        }
    }
}

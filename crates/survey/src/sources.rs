//! Where the formulas come from: papers, standards and manuals, one item each.
//!
//! An item is linked from the formula that uses it, with its section or equation. "Seen quoted" means the
//! figure was read in somebody else's text; the original was not opened.

/// A published work that a formula or a figure was taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Source {
    /// Who wrote or issued it.
    pub author: &'static str,
    /// What it is called, with its edition or number.
    pub title: &'static str,
    /// How we know it: seen, seen quoted, or from memory.
    pub seen: &'static str,
}

/// Ghilani, *Adjustment Computations*: similarity transformation (chapter 18), error ellipses (chapter 19).
pub const GHILANI: Source = Source {
    author: "C. D. Ghilani",
    title: "Adjustment Computations: Spatial Data Analysis",
    seen: "numbers of example 18.1 seen in public programs",
};

/// FGDC-STD-007.3: factors from root mean square errors to 95 % (1.9600 for a level, 2.4477 for a circle).
pub const FGDC_STD_007_3: Source = Source {
    author: "Federal Geographic Data Committee",
    title: "Geospatial Positioning Accuracy Standards, Part 3 (FGDC-STD-007.3-1998)",
    seen: "from memory; the factors are chi-square quantiles and recomputed as such",
};

/// IOGP Guidance Note 7-2: map projection formulas and worked examples.
pub const IOGP_373_7_2: Source = Source {
    author: "International Association of Oil & Gas Producers",
    title: "Geomatics Guidance Note 7, part 2: coordinate conversions and transformations (373-7-2)",
    seen: "worked examples seen quoted",
};

/// The EPSG Geodetic Parameter Dataset: codes, names, parameters and areas of use of reference systems.
pub const EPSG_DATASET: Source = Source {
    author: "International Association of Oil & Gas Producers",
    title: "EPSG Geodetic Parameter Dataset",
    seen: "seen as distributed with PROJ 9.5.1",
};

/// The GDA technical manuals: Flinders Peak worked example.
pub const GDA_MANUAL: Source = Source {
    author: "Intergovernmental Committee on Surveying and Mapping",
    title: "Geocentric Datum of Australia, technical manual",
    seen: "worked example seen quoted in public test suites",
};

/// The usual textbook rules of differential levelling: both bookings, their checks, and limits of misclosure.
pub const LEVELLING_PRACTICE: Source = Source {
    author: "common practice",
    title: "Differential levelling: rise and fall, height of collimation, misclosure k sqrt(K)",
    seen: "limits seen quoted; the arithmetic needs no source",
};

/// Snedecor's F with two degrees of freedom in the numerator has the tail (1 + 2 f / d)^(-d/2).
pub const F_TWO_DEGREES: Source = Source {
    author: "closed form",
    title: "Tail of the F distribution with 2 and d degrees of freedom",
    seen: "derived; follows from the beta integral",
};

/// Baarda: redundancy numbers, standardized residuals and reliability.
pub const BAARDA_1968: Source = Source {
    author: "W. Baarda",
    title: "A Testing Procedure for Use in Geodetic Networks (Netherlands Geodetic Commission, 1968)",
    seen: "from memory; figures checked against two independent programs",
};

/// The closed formula for the group refractivity of air, and the vapour pressure formula that goes with it.
pub const IAG_1999: Source = Source {
    author: "International Association of Geodesy; J. M. Rueger",
    title: "Resolution 3 (1999); Electronic Distance Measurement, equations 5.12, 5.27 and 6.11 to 6.13",
    seen: "seen quoted in a public geodesy library, which cites the equations",
};

/// What a theodolite's stated standard deviation means: a direction read once on both faces.
pub const ISO_17123_3: Source = Source {
    author: "International Organization for Standardization",
    title: "ISO 17123-3: field procedures for testing theodolites",
    seen: "from memory",
};

/// What the trade expects of set-ups: ranges, sectors, tolerances, free scale for diagnosis only.
pub const SET_UP_PRACTICE: Source = Source {
    author: "common practice",
    title: "Free stations and check shots on building sites",
    seen: "from memory of the trade; every limit can be set",
};

/// The guide to the expression of uncertainty in measurement: propagation by derivatives, and by drawn errors.
pub const GUM: Source = Source {
    author: "Joint Committee for Guides in Metrology",
    title: "Evaluation of measurement data: Guide to the expression of uncertainty (JCGM 100), supplement 1 (JCGM 101)",
    seen: "from memory; the law of propagation is derived where it is used",
};

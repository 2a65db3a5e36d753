//! Geodetic reference systems: the ellipsoid under a projection, and the way from it to WGS 84.
//!
//! Shifts and accuracies are [`crate::sources::EPSG_DATASET`]'s; the remarks on drift are common knowledge of
//! the trade and give sizes only. No shift grid is carried, so a better way may exist: each says so.

/// A geodetic reference system under a projection.
#[derive(Debug, PartialEq)]
pub struct GeodeticBase {
    /// Its name in the register.
    pub name: &'static str,
    /// Its ellipsoid.
    pub ellipsoid: Ellipsoid,
    /// How its latitude and longitude are brought to WGS 84.
    pub to_wgs84: ToWgs84,
}

/// An ellipsoid of revolution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipsoid {
    /// Its equatorial half-axis, m.
    pub semi_major_m: f64,
    /// One over its flattening.
    pub inverse_flattening: f64,
}

impl std::fmt::Display for Ellipsoid {
    /// Writes it as proj parameters.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "+a={} +rf={}", self.semi_major_m, self.inverse_flattening)
    }
}

/// How a system's own latitude and longitude are brought to WGS 84.
#[derive(Debug, PartialEq)]
pub enum ToWgs84 {
    /// Taken as equal: the register's null transformation, good to `accuracy_m`.
    Same {
        /// The accuracy that the register gives it, m.
        accuracy_m: f64,
        /// What the difference consists of.
        note: &'static str,
    },
    /// Moved, turned and scaled in space by seven parameters, good to `accuracy_m`.
    Helmert {
        /// Shifts (m), turns (arc seconds, position vector sense) and scale (ppm).
        parameters: [f64; 7],
        /// The accuracy that the register gives it, m.
        accuracy_m: f64,
        /// What a better way would be.
        note: &'static str,
    },
    /// Only a shift grid that is not carried here would do.
    NeedsGrid {
        /// What a person should do instead.
        note: &'static str,
    },
}

const fn ellipsoid(semi_major_m: f64, inverse_flattening: f64) -> Ellipsoid {
    Ellipsoid {
        semi_major_m,
        inverse_flattening,
    }
}

const GRS80: Ellipsoid = ellipsoid(6_378_137.0, 298.257_222_101);
const MODIFIED_AIRY: Ellipsoid = ellipsoid(6_377_340.189, 299.324_964_6);
const BESSEL: Ellipsoid = ellipsoid(6_377_397.155, 299.152_812_8);

const fn same_on_grs80(name: &'static str, accuracy_m: f64, note: &'static str) -> GeodeticBase {
    GeodeticBase {
        name,
        ellipsoid: GRS80,
        to_wgs84: ToWgs84::Same { accuracy_m, note },
    }
}

pub(crate) static WGS84: GeodeticBase = GeodeticBase {
    name: "WGS 84",
    ellipsoid: ellipsoid(6_378_137.0, 298.257_223_563),
    to_wgs84: ToWgs84::Same {
        accuracy_m: 2.0,
        note: "WGS 84 names several realisations and moves with the plates; epoch not stated",
    },
};
pub(crate) static ETRS89: GeodeticBase = same_on_grs80(
    "ETRS89",
    1.0,
    "taken as WGS 84; the two drift apart by about 2.5 cm a year since 1989",
);
pub(crate) static GDA94: GeodeticBase = same_on_grs80(
    "GDA94",
    3.0,
    "taken as WGS 84; Australia has moved about 7 cm a year since 1994",
);
pub(crate) static GDA2020: GeodeticBase = same_on_grs80(
    "GDA2020",
    3.0,
    "taken as WGS 84; Australia moves about 7 cm a year, counted from 2020",
);
pub(crate) static NZGD2000: GeodeticBase = same_on_grs80(
    "NZGD2000",
    1.0,
    "taken as WGS 84; New Zealand deforms by some cm a year since 2000",
);
pub(crate) static RGF93: GeodeticBase = same_on_grs80(
    "RGF93 v1",
    1.0,
    "taken as WGS 84; RGF93 stands still on Europe and drifts from it by some cm a year",
);
pub(crate) static IRENET95: GeodeticBase = same_on_grs80(
    "IRENET95",
    1.0,
    "taken as WGS 84; IRENET95 stands still on Europe and drifts from it by some cm a year",
);
pub(crate) static NAD83: GeodeticBase = same_on_grs80(
    "NAD83",
    4.0,
    "taken as WGS 84; they differ by 1 to 2 m, and realisation and epoch are not stated",
);
pub(crate) static NAD83_2011: GeodeticBase = same_on_grs80(
    "NAD83(2011)",
    2.0,
    "taken as WGS 84; they differ by 1 to 2 m, and the epoch is not stated",
);
pub(crate) static OSGB36: GeodeticBase = GeodeticBase {
    name: "OSGB36",
    ellipsoid: ellipsoid(6_377_563.396, 299.324_964_6),
    to_wgs84: ToWgs84::Helmert {
        parameters: [446.448, -125.157, 542.06, 0.15, 0.247, 0.842, -20.489],
        accuracy_m: 2.0,
        note: "seven parameters for the whole country; the national shift grid, better than 1 m, is not used",
    },
};
const IRISH_TO_WGS84: ToWgs84 = ToWgs84::Helmert {
    parameters: [482.5, -130.6, 564.6, -1.042, -0.214, -0.631, 8.15],
    accuracy_m: 1.0,
    note: "seven parameters for the whole island",
};
pub(crate) static TM65: GeodeticBase = GeodeticBase {
    name: "TM65",
    ellipsoid: MODIFIED_AIRY,
    to_wgs84: IRISH_TO_WGS84,
};
pub(crate) static TM75: GeodeticBase = GeodeticBase {
    name: "TM75",
    ellipsoid: MODIFIED_AIRY,
    to_wgs84: IRISH_TO_WGS84,
};
pub(crate) static CH1903_PLUS: GeodeticBase = GeodeticBase {
    name: "CH1903+",
    ellipsoid: BESSEL,
    to_wgs84: ToWgs84::Helmert {
        parameters: [674.374, 15.056, 405.346, 0.0, 0.0, 0.0, 0.0],
        accuracy_m: 1.0,
        note: "three shifts for the whole country",
    },
};
pub(crate) static CH1903: GeodeticBase = GeodeticBase {
    name: "CH1903",
    ellipsoid: BESSEL,
    to_wgs84: ToWgs84::Helmert {
        parameters: [674.374, 15.056, 405.346, 0.0, 0.0, 0.0, 0.0],
        accuracy_m: 1.5,
        note: "three shifts for the whole country; the strains of the old network are left in",
    },
};
pub(crate) static NAD27: GeodeticBase = GeodeticBase {
    name: "NAD27",
    ellipsoid: ellipsoid(6_378_206.4, 294.978_698_213_898),
    to_wgs84: ToWgs84::NeedsGrid {
        note: "convert the control to NAD83 with the published shift grid first; without it the place is off by tens of metres and more",
    },
};

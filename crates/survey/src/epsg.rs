//! A short table of projected reference systems, by EPSG code.
//!
//! Only what a site is likely to be set out on: parameters, unit, area of use and how far the system's own
//! latitude and longitude lie from WGS 84. Everything is [`crate::sources::EPSG_DATASET`]'s, compared row by
//! row with PROJ 9.5.1 in `tests/projection.rs`. A code that is not here is refused, not approximated.

use crate::geodetic_base::{
    CH1903, CH1903_PLUS, ETRS89, GDA94, GDA2020, GeodeticBase, IRENET95, NAD27, NAD83, NAD83_2011, NZGD2000,
    OSGB36, RGF93, TM65, TM75, WGS84,
};
use crate::quantity::LengthUnit;

/// A projected reference system: how plan coordinates hang on the earth.
#[derive(Debug, Clone, PartialEq)]
pub struct ProjectedCrs {
    /// The EPSG code.
    pub code: u32,
    /// Its name in the register.
    pub name: String,
    /// The geodetic system that its latitudes and longitudes belong to.
    pub base: &'static GeodeticBase,
    /// The projection as a proj string, always in metres.
    pub proj: String,
    /// The unit its eastings and northings are published in.
    pub unit: LengthUnit,
    /// Roughly where it is meant to be used.
    pub area: AreaOfUse,
    /// Whether small shapes keep their form, so that one scale factor holds in every direction.
    pub conformal: bool,
}

/// A rough area of use, degrees of the base system; west is greater than east across the 180th meridian.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AreaOfUse {
    /// The western edge.
    pub west_deg: f64,
    /// The southern edge.
    pub south_deg: f64,
    /// The eastern edge.
    pub east_deg: f64,
    /// The northern edge.
    pub north_deg: f64,
}

impl AreaOfUse {
    /// Returns whether a place lies inside, or less than `margin_deg` outside.
    pub fn contains(&self, longitude_deg: f64, latitude_deg: f64, margin_deg: f64) -> bool {
        let width = (self.east_deg - self.west_deg).rem_euclid(360.0);
        let from_west = (longitude_deg - self.west_deg + margin_deg).rem_euclid(360.0);
        from_west <= width + 2.0 * margin_deg
            && latitude_deg >= self.south_deg - margin_deg
            && latitude_deg <= self.north_deg + margin_deg
    }
}

/// A code was given that no projected system here carries.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum UnknownCrs {
    /// A code that is not in the table.
    #[error(
        "EPSG:{0} is not in the table of projected systems; choose a system that is, or leave the site untied and keep its grid as it is"
    )]
    NotInTable(u32),
    /// A latitude and longitude system, in which nothing can be set out.
    #[error(
        "EPSG:{0} is latitude and longitude, not a grid in metres or feet; give the projected system the site is set out on"
    )]
    Geographic(u32),
    /// The projection of map tiles, in which a metre is not a metre.
    #[error(
        "EPSG:{0} is for drawing map tiles: its metres are stretched by up to half and more; give the projected system the site is set out on"
    )]
    MapTiles(u32),
}

/// Returns the projected system with an EPSG code.
///
/// # Errors
/// [`UnknownCrs`] with what to do instead. Nothing is guessed from a similar code.
pub fn projected_crs(code: u32) -> Result<ProjectedCrs, UnknownCrs> {
    if let Some(crs) = zone_of_a_family(code) {
        return Ok(crs);
    }
    if let Some(row) = SINGLE.iter().find(|row| row.code == code) {
        return Ok(row.crs());
    }
    Err(match code {
        4326 | 4979 | 4258 | 4269 | 4277 | 4283 | 7844 | 4167 | 4171 | 6318 => UnknownCrs::Geographic(code),
        3857 | 900_913 | 3785 => UnknownCrs::MapTiles(code),
        _ => UnknownCrs::NotInTable(code),
    })
}

/// Returns every code of the table, ascending.
pub fn known_codes() -> Vec<u32> {
    let mut codes: Vec<u32> = SINGLE.iter().map(|row| row.code).collect();
    for family in FAMILIES {
        codes.extend(family.first_code..=family.last_code);
    }
    codes.sort_unstable();
    codes
}

/// A run of codes that differ only by a zone.
struct Family {
    first_code: u32,
    last_code: u32,
    first_zone: u32,
    base: &'static GeodeticBase,
    kind: Zoned,
    south_deg: f64,
    north_deg: f64,
}

#[derive(Clone, Copy)]
enum Zoned {
    UtmNorth(&'static str),
    UtmSouth(&'static str),
    Mga(&'static str),
    FrenchNineZones,
}

const fn utm(
    codes: (u32, u32),
    first_zone: u32,
    base: &'static GeodeticBase,
    kind: Zoned,
    latitudes_deg: (f64, f64),
) -> Family {
    Family {
        first_code: codes.0,
        last_code: codes.1,
        first_zone,
        base,
        kind,
        south_deg: latitudes_deg.0,
        north_deg: latitudes_deg.1,
    }
}

const FAMILIES: &[Family] = &[
    utm((32601, 32660), 1, &WGS84, Zoned::UtmNorth("WGS 84"), (0.0, 84.0)),
    utm((32701, 32760), 1, &WGS84, Zoned::UtmSouth("WGS 84"), (-80.0, 0.0)),
    utm(
        (25828, 25838),
        28,
        &ETRS89,
        Zoned::UtmNorth("ETRS89"),
        (24.0, 85.0),
    ),
    utm((28348, 28358), 48, &GDA94, Zoned::Mga("GDA94"), (-60.0, -8.0)),
    utm((7846, 7859), 46, &GDA2020, Zoned::Mga("GDA2020"), (-60.0, -8.0)),
    utm((26901, 26923), 1, &NAD83, Zoned::UtmNorth("NAD83"), (14.0, 84.0)),
    utm(
        (6328, 6329),
        59,
        &NAD83_2011,
        Zoned::UtmNorth("NAD83(2011)"),
        (14.0, 84.0),
    ),
    utm(
        (6330, 6348),
        1,
        &NAD83_2011,
        Zoned::UtmNorth("NAD83(2011)"),
        (14.0, 84.0),
    ),
    utm((3942, 3950), 42, &RGF93, Zoned::FrenchNineZones, (41.0, 51.6)),
];

fn zone_of_a_family(code: u32) -> Option<ProjectedCrs> {
    let family = FAMILIES
        .iter()
        .find(|family| (family.first_code..=family.last_code).contains(&code))?;
    let zone = family.first_zone + (code - family.first_code);
    let ellipsoid = family.base.ellipsoid;
    let central_deg = 6.0 * f64::from(zone) - 183.0;
    let (mut west_deg, mut east_deg) = (central_deg - 3.0, central_deg + 3.0);
    let (name, proj) = match family.kind {
        Zoned::UtmNorth(base) => (
            format!("{base} / UTM zone {zone}N"),
            format!("+proj=utm +zone={zone} {ellipsoid}"),
        ),
        Zoned::UtmSouth(base) => (
            format!("{base} / UTM zone {zone}S"),
            format!("+proj=utm +zone={zone} +south {ellipsoid}"),
        ),
        Zoned::Mga(base) => (
            format!("{base} / MGA zone {zone}"),
            format!("+proj=utm +zone={zone} +south {ellipsoid}"),
        ),
        Zoned::FrenchNineZones => {
            (west_deg, east_deg) = (-9.9, 10.4);
            let latitude = f64::from(zone);
            (
                format!("RGF93 v1 / CC{zone}"),
                format!(
                    "+proj=lcc +lat_0={zone} +lon_0=3 +lat_1={} +lat_2={} +x_0=1700000 +y_0={} {ellipsoid}",
                    latitude - 0.75,
                    latitude + 0.75,
                    (zone - 42) * 1_000_000 + 1_200_000,
                ),
            )
        }
    };
    Some(ProjectedCrs {
        code,
        name,
        base: family.base,
        proj,
        unit: LengthUnit::Metre,
        area: AreaOfUse {
            west_deg,
            south_deg: family.south_deg,
            east_deg,
            north_deg: family.north_deg,
        },
        conformal: true,
    })
}

/// A system of its own.
struct Single {
    code: u32,
    name: &'static str,
    base: &'static GeodeticBase,
    proj: &'static str,
    unit: LengthUnit,
    /// West, south, east, north, degrees.
    area: [f64; 4],
}

impl Single {
    fn crs(&self) -> ProjectedCrs {
        let [west_deg, south_deg, east_deg, north_deg] = self.area;
        ProjectedCrs {
            code: self.code,
            name: self.name.to_owned(),
            base: self.base,
            proj: format!("{} {}", self.proj, self.base.ellipsoid),
            unit: self.unit,
            area: AreaOfUse {
                west_deg,
                south_deg,
                east_deg,
                north_deg,
            },
            conformal: !self.proj.contains("laea"),
        }
    }
}

const fn metric(
    code: u32,
    name: &'static str,
    base: &'static GeodeticBase,
    proj: &'static str,
    area: [f64; 4],
) -> Single {
    Single {
        code,
        name,
        base,
        proj,
        unit: LengthUnit::Metre,
        area,
    }
}

const fn us_feet(
    code: u32,
    name: &'static str,
    base: &'static GeodeticBase,
    proj: &'static str,
    area: [f64; 4],
) -> Single {
    Single {
        code,
        name,
        base,
        proj,
        unit: LengthUnit::UsSurveyFoot,
        area,
    }
}

const SINGLE: &[Single] = &[
    metric(
        27700,
        "OSGB36 / British National Grid",
        &OSGB36,
        "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000",
        [-9.01, 49.75, 2.01, 61.01],
    ),
    metric(
        29902,
        "TM65 / Irish Grid",
        &TM65,
        "+proj=tmerc +lat_0=53.5 +lon_0=-8 +k=1.000035 +x_0=200000 +y_0=250000",
        [-10.56, 51.39, -5.93, 55.43],
    ),
    metric(
        29903,
        "TM75 / Irish Grid",
        &TM75,
        "+proj=tmerc +lat_0=53.5 +lon_0=-8 +k=1.000035 +x_0=200000 +y_0=250000",
        [-10.56, 51.39, -5.34, 55.43],
    ),
    metric(
        2157,
        "IRENET95 / Irish Transverse Mercator",
        &IRENET95,
        "+proj=tmerc +lat_0=53.5 +lon_0=-8 +k=0.99982 +x_0=600000 +y_0=750000",
        [-10.56, 51.39, -5.34, 55.43],
    ),
    metric(
        2056,
        "CH1903+ / LV95",
        &CH1903_PLUS,
        "+proj=somerc +lat_0=46.9524055555556 +lon_0=7.43958333333333 +k_0=1 +x_0=2600000 +y_0=1200000",
        [5.96, 45.82, 10.49, 47.81],
    ),
    metric(
        21781,
        "CH1903 / LV03",
        &CH1903,
        "+proj=somerc +lat_0=46.9524055555556 +lon_0=7.43958333333333 +k_0=1 +x_0=600000 +y_0=200000",
        [5.96, 45.82, 10.49, 47.81],
    ),
    metric(
        2154,
        "RGF93 v1 / Lambert-93",
        &RGF93,
        "+proj=lcc +lat_0=46.5 +lon_0=3 +lat_1=49 +lat_2=44 +x_0=700000 +y_0=6600000",
        [-9.86, 41.15, 10.38, 51.56],
    ),
    metric(
        3035,
        "ETRS89-extended / LAEA Europe",
        &ETRS89,
        "+proj=laea +lat_0=52 +lon_0=10 +x_0=4321000 +y_0=3210000",
        [-35.58, 24.6, 44.83, 84.73],
    ),
    metric(
        3067,
        "ETRS89 / TM35FIN(E,N)",
        &ETRS89,
        "+proj=utm +zone=35",
        [19.08, 58.84, 31.59, 70.09],
    ),
    metric(
        2193,
        "NZGD2000 / New Zealand Transverse Mercator 2000",
        &NZGD2000,
        "+proj=tmerc +lat_0=0 +lon_0=173 +k=0.9996 +x_0=1600000 +y_0=10000000",
        [166.37, -47.33, 178.63, -34.1],
    ),
    metric(
        6423,
        "NAD83(2011) / California zone 5",
        &NAD83_2011,
        "+proj=lcc +lat_0=33.5 +lon_0=-118 +lat_1=35.4666666666667 +lat_2=34.0333333333333 +x_0=2000000 +y_0=500000",
        [-121.42, 32.76, -114.12, 35.81],
    ),
    us_feet(
        6424,
        "NAD83(2011) / California zone 5 (ftUS)",
        &NAD83_2011,
        "+proj=lcc +lat_0=33.5 +lon_0=-118 +lat_1=35.4666666666667 +lat_2=34.0333333333333 +x_0=2000000.0001016 +y_0=500000.0001016",
        [-121.42, 32.76, -114.12, 35.81],
    ),
    us_feet(
        2225,
        "NAD83 / California zone 1 (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=39.3333333333333 +lon_0=-122 +lat_1=41.6666666666667 +lat_2=40 +x_0=2000000.0001016 +y_0=500000.0001016",
        [-124.45, 39.59, -119.99, 42.01],
    ),
    us_feet(
        2226,
        "NAD83 / California zone 2 (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=37.6666666666667 +lon_0=-122 +lat_1=39.8333333333333 +lat_2=38.3333333333333 +x_0=2000000.0001016 +y_0=500000.0001016",
        [-124.06, 38.02, -119.54, 40.16],
    ),
    us_feet(
        2227,
        "NAD83 / California zone 3 (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=36.5 +lon_0=-120.5 +lat_1=38.4333333333333 +lat_2=37.0666666666667 +x_0=2000000.0001016 +y_0=500000.0001016",
        [-123.02, 36.73, -117.83, 38.71],
    ),
    us_feet(
        2228,
        "NAD83 / California zone 4 (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=35.3333333333333 +lon_0=-119 +lat_1=37.25 +lat_2=36 +x_0=2000000.0001016 +y_0=500000.0001016",
        [-122.01, 35.78, -115.62, 37.58],
    ),
    us_feet(
        2229,
        "NAD83 / California zone 5 (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=33.5 +lon_0=-118 +lat_1=35.4666666666667 +lat_2=34.0333333333333 +x_0=2000000.0001016 +y_0=500000.0001016",
        [-121.42, 32.76, -114.12, 35.81],
    ),
    us_feet(
        2230,
        "NAD83 / California zone 6 (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=32.1666666666667 +lon_0=-116.25 +lat_1=33.8833333333333 +lat_2=32.7833333333333 +x_0=2000000.0001016 +y_0=500000.0001016",
        [-118.15, 32.53, -114.42, 34.08],
    ),
    us_feet(
        2236,
        "NAD83 / Florida East (ftUS)",
        &NAD83,
        "+proj=tmerc +lat_0=24.3333333333333 +lon_0=-81 +k=0.999941177 +x_0=200000.0001016 +y_0=0",
        [-82.33, 24.41, -79.97, 30.83],
    ),
    us_feet(
        2249,
        "NAD83 / Massachusetts Mainland (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=41 +lon_0=-71.5 +lat_1=42.6833333333333 +lat_2=41.7166666666667 +x_0=200000.0001016 +y_0=750000",
        [-73.5, 41.46, -69.86, 42.89],
    ),
    us_feet(
        2263,
        "NAD83 / New York Long Island (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=40.1666666666667 +lon_0=-74 +lat_1=41.0333333333333 +lat_2=40.6666666666667 +x_0=300000 +y_0=0",
        [-74.26, 40.47, -71.8, 41.3],
    ),
    us_feet(
        2272,
        "NAD83 / Pennsylvania South (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=39.3333333333333 +lon_0=-77.75 +lat_1=40.9666666666667 +lat_2=39.9333333333333 +x_0=600000 +y_0=0",
        [-80.53, 39.71, -74.72, 41.18],
    ),
    us_feet(
        2277,
        "NAD83 / Texas Central (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=29.6666666666667 +lon_0=-100.333333333333 +lat_1=31.8833333333333 +lat_2=30.1166666666667 +x_0=699999.9998984 +y_0=3000000",
        [-106.66, 29.78, -93.5, 32.27],
    ),
    us_feet(
        2278,
        "NAD83 / Texas South Central (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=27.8333333333333 +lon_0=-99 +lat_1=30.2833333333333 +lat_2=28.3833333333333 +x_0=600000 +y_0=3999999.9998984",
        [-105.0, 27.78, -93.76, 30.67],
    ),
    us_feet(
        2285,
        "NAD83 / Washington North (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=47 +lon_0=-120.833333333333 +lat_1=48.7333333333333 +lat_2=47.5 +x_0=500000.0001016 +y_0=0",
        [-124.79, 47.08, -117.02, 49.05],
    ),
    us_feet(
        2286,
        "NAD83 / Washington South (ftUS)",
        &NAD83,
        "+proj=lcc +lat_0=45.3333333333333 +lon_0=-120.5 +lat_1=47.3333333333333 +lat_2=45.8333333333333 +x_0=500000.0001016 +y_0=0",
        [-124.4, 45.54, -116.91, 47.61],
    ),
    us_feet(
        3435,
        "NAD83 / Illinois East (ftUS)",
        &NAD83,
        "+proj=tmerc +lat_0=36.6666666666667 +lon_0=-88.3333333333333 +k=0.999975 +x_0=300000 +y_0=0",
        [-89.27, 37.06, -87.02, 42.5],
    ),
    us_feet(
        6588,
        "NAD83(2011) / Texas South Central (ftUS)",
        &NAD83_2011,
        "+proj=lcc +lat_0=27.8333333333333 +lon_0=-99 +lat_1=30.2833333333333 +lat_2=28.3833333333333 +x_0=600000 +y_0=3999999.9998984",
        [-105.0, 27.78, -93.76, 30.67],
    ),
    us_feet(
        32040,
        "NAD27 / Texas South Central",
        &NAD27,
        "+proj=lcc +lat_0=27.8333333333333 +lon_0=-99 +lat_1=28.3833333333333 +lat_2=30.2833333333333 +x_0=609601.219202438 +y_0=0",
        [-105.0, 27.78, -93.41, 30.67],
    ),
];

//! Numbers rounded to the safe side, to the millimetre, wherever they leave the program.
//!
//! Comparisons are made before rounding. An allowance of one nanometre keeps binary noise from turning 0.600
//! into 0.599.

use serde::{Deserialize, Serialize, Serializer};

const NOISE_MM: f64 = 1e-6;

fn write<S: Serializer>(millimetres: f64, serializer: S) -> Result<S::Ok, S::Error> {
    // Dividing a whole number by 1000 gives the double nearest to the three-decimal figure.
    serializer.serialize_f64(millimetres / 1000.0 + 0.0)
}

macro_rules! rounded {
    ($(#[$doc:meta])* $name:ident, $mm:expr) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Deserialize)]
        pub struct $name(pub f64);
        impl $name {
            /// The rounded figure in metres.
            pub fn rounded_m(self) -> f64 {
                let mm: fn(f64) -> f64 = $mm;
                mm(self.0) / 1000.0 + 0.0
            }
            /// The rounded figure with three decimals.
            pub fn text(self) -> String {
                format!("{:.3}", self.rounded_m())
            }
        }
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                let mm: fn(f64) -> f64 = $mm;
                write(mm(self.0), serializer)
            }
        }
        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
                f64::schema()
            }
        }
        impl utoipa::ToSchema for $name {}
    };
}

rounded! {
    /// Rounded down: covers, gaps, falls.
    Down, |metres| (metres * 1000.0 + NOISE_MM).floor()
}
rounded! {
    /// Rounded up: uncertainties, maximum depths.
    Up, |metres| (metres * 1000.0 - NOISE_MM).ceil()
}
rounded! {
    /// Rounded to the nearest: positions and levels as they are.
    Near, |metres| (metres * 1000.0).round()
}

/// A share as a whole percent, rounded down: 99.96 % is 99.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Percent(pub f64);

impl Percent {
    /// The whole percent of a share between 0 and 1.
    pub fn whole(self) -> u32 {
        (self.0.clamp(0.0, 1.0) * 100.0 + 1e-9).floor() as u32
    }
}

impl Serialize for Percent {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u32(self.whole())
    }
}
impl utoipa::PartialSchema for Percent {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        u32::schema()
    }
}
impl utoipa::ToSchema for Percent {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cover_of_598_mm_never_prints_600() {
        assert_eq!(Down(0.5989).text(), "0.598");
        assert_eq!(Down(0.3 * 2.0).text(), "0.600");
        assert_eq!(Down(-0.0004).text(), "-0.001");
    }

    #[test]
    fn an_uncertainty_is_rounded_up() {
        assert_eq!(Up(0.0041).text(), "0.005");
        assert_eq!(Up(0.004).text(), "0.004");
    }

    #[test]
    fn almost_all_searched_is_not_all_searched() {
        assert_eq!(Percent(0.9996).whole(), 99);
        assert_eq!(Percent(1.0).whole(), 100);
    }

    #[test]
    fn json_says_what_the_text_says() {
        assert_eq!(
            serde_json::to_string(&[Down(0.5989), Down(12.0)]).unwrap(),
            "[0.598,12.0]"
        );
        assert_eq!(serde_json::to_string(&Near(-0.0001)).unwrap(), "0.0");
    }
}

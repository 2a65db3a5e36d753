//! Decimals as they were read, digit for digit, and exact sums of them.
//!
//! `12.340` booked in the field is not the binary number nearest to 12.34: its last nought is evidence, and
//! sums of such readings must close to the last digit. [`Decimal`] keeps the text; [`Exact`] is the number
//! it stands for, an integer over a power of ten. A decimal comma is the file reader's business, not ours.

use std::cmp::Ordering;
use std::fmt;
use std::ops::{Add, Neg, Sub};
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// The most digits a reading may have before the decimal point.
pub const MAX_WHOLE_DIGITS: usize = 15;
/// The most digits a reading may have after the decimal point.
pub const MAX_PLACES: u32 = 15;

/// Text that is not a plain decimal was given where a reading was wanted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DecimalError {
    /// Nothing was written.
    #[error("a number is missing here; write it with digits and a point, like 12.340")]
    Empty,
    /// A character that has no place in a plain decimal.
    #[error("{text:?} is not a plain decimal (see {found:?}); write digits with one point, like 12.340")]
    NotPlain {
        /// The text as it was read.
        text: String,
        /// The first character that has no place there.
        found: String,
    },
    /// More digits than any instrument gives.
    #[error(
        "{text:?} has too many digits; at most {MAX_WHOLE_DIGITS} before and {MAX_PLACES} after the point"
    )]
    TooLong {
        /// The text as it was read.
        text: String,
    },
}

/// A decimal number exactly as it was read: `[+-]digits[.digits]` or `[+-].digits`, no exponent.
///
/// Equality is of the text: `12.340` and `12.34` are two readings with one [`Decimal::exact`] value.
/// Serialises as a JSON string, and is read from one only.
///
/// ```
/// use coverbook_survey::decimal::Decimal;
/// let level: Decimal = "12.340".parse().unwrap();
/// assert_eq!(level.as_str(), "12.340");
/// assert_eq!(level.to_f64(), 12.34);
/// assert!("12,340".parse::<Decimal>().is_err());
/// assert!("1e3".parse::<Decimal>().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Decimal {
    text: Box<str>,
    exact: Exact,
}

impl Decimal {
    /// Returns the text as it was read.
    pub fn as_str(&self) -> &str {
        &self.text
    }
    /// Returns the number the text stands for.
    pub fn exact(&self) -> Exact {
        self.exact
    }
    /// Returns the binary number nearest to it.
    pub fn to_f64(&self) -> f64 {
        self.exact.to_f64()
    }
    /// Returns how many digits stand after the point.
    pub fn places(&self) -> u32 {
        self.exact.places
    }
}

impl FromStr for Decimal {
    type Err = DecimalError;

    fn from_str(text: &str) -> Result<Decimal, DecimalError> {
        if text.is_empty() {
            return Err(DecimalError::Empty);
        }
        let unsigned = text.strip_prefix(['-', '+']).unwrap_or(text);
        let (whole, fraction) = match unsigned.split_once('.') {
            Some((whole, fraction)) => (whole, Some(fraction)),
            None => (unsigned, None),
        };
        let not_plain = |found: &str| DecimalError::NotPlain {
            text: text.to_owned(),
            found: found.to_owned(),
        };
        let stray = |part: &str| {
            let stray = part.chars().find(|c| !c.is_ascii_digit());
            stray.map(|c| not_plain(c.encode_utf8(&mut [0; 4])))
        };
        if let Some(error) = stray(whole).or_else(|| fraction.and_then(stray)) {
            return Err(error);
        }
        match fraction {
            None if whole.is_empty() => return Err(not_plain(text)),
            Some("") => return Err(not_plain(".")),
            _ => {}
        }
        let fraction = fraction.unwrap_or("");
        if whole.len() > MAX_WHOLE_DIGITS || fraction.len() > MAX_PLACES as usize {
            return Err(DecimalError::TooLong {
                text: text.to_owned(),
            });
        }
        let magnitude = whole
            .bytes()
            .chain(fraction.bytes())
            .fold(0i128, |sum, digit| sum * 10 + i128::from(digit - b'0'));
        let negative = text.starts_with('-');
        Ok(Decimal {
            text: text.into(),
            exact: Exact {
                scaled: if negative { -magnitude } else { magnitude },
                places: fraction.len() as u32,
            },
        })
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Not padded: a width or a precision in the format must never cut a digit off.
        f.write_str(&self.text)
    }
}

/// Equal values written differently stay different readings, so the order is that of the values first.
impl PartialOrd for Decimal {
    fn partial_cmp(&self, other: &Decimal) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Decimal {
    fn cmp(&self, other: &Decimal) -> Ordering {
        let by_value = self.exact.cmp(&other.exact);
        by_value.then_with(|| self.text.cmp(&other.text))
    }
}

impl Serialize for Decimal {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.text)
    }
}

impl<'de> Deserialize<'de> for Decimal {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Decimal, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

/// An exact decimal number: an integer number of `10^-places`.
///
/// Sums and differences are exact and keep the finer of the two last places. Equality and order are of the
/// value, so 0.10 equals 0.1. Sums of readings fit by far (10^7 of the greatest size); products may not, and
/// what follows on a product is checked.
#[derive(Clone, Copy)]
pub struct Exact {
    scaled: i128,
    places: u32,
}

impl Exact {
    /// Nought.
    pub const ZERO: Exact = Exact { scaled: 0, places: 0 };

    /// Returns the whole number `value`.
    pub fn whole(value: i64) -> Exact {
        Exact {
            scaled: i128::from(value),
            places: 0,
        }
    }
    /// Returns the number of `10^-places`.
    pub fn scaled(self) -> i128 {
        self.scaled
    }
    /// Returns how many digits stand after the point.
    pub fn places(self) -> u32 {
        self.places
    }
    /// Returns the sign: -1, 0 or 1.
    pub fn signum(self) -> i32 {
        self.scaled.signum() as i32
    }
    /// Returns the number without its sign.
    pub fn abs(self) -> Exact {
        Exact {
            scaled: self.scaled.abs(),
            places: self.places,
        }
    }
    /// Returns the exact product, or `None` if it does not fit.
    pub fn checked_mul(self, other: Exact) -> Option<Exact> {
        Some(Exact {
            scaled: self.scaled.checked_mul(other.scaled)?,
            places: self.places + other.places,
        })
    }
    /// Returns the exact difference, or `None` if it does not fit.
    pub fn checked_sub(self, other: Exact) -> Option<Exact> {
        let places = self.places.max(other.places);
        let scaled = self.checked_at(places)?.checked_sub(other.checked_at(places)?)?;
        Some(Exact { scaled, places })
    }
    /// Returns whether `self <= other`, or `None` if the two cannot be brought to one scale.
    pub fn checked_le(self, other: Exact) -> Option<bool> {
        let places = self.places.max(other.places);
        Some(self.checked_at(places)? <= other.checked_at(places)?)
    }
    /// Returns the binary number nearest to it.
    pub fn to_f64(self) -> f64 {
        const EXACT_IN_F64: i128 = 1 << 53;
        if self.scaled.abs() < EXACT_IN_F64 && self.places <= 22 {
            // Both are exact in binary, so one division rounds once.
            self.scaled as f64 / 10f64.powi(self.places as i32)
        } else {
            // The text is digits and a point, which always reads.
            self.to_string().parse().unwrap_or(f64::NAN)
        }
    }
    /// Returns it as a decimal with all its places, or an error if it is too long for one.
    pub fn to_decimal(self) -> Result<Decimal, DecimalError> {
        self.to_string().parse()
    }

    fn checked_at(self, places: u32) -> Option<i128> {
        let factor = 10i128.checked_pow(places - self.places)?;
        self.scaled.checked_mul(factor)
    }
    fn at(self, places: u32) -> i128 {
        self.scaled * 10i128.pow(places - self.places)
    }
    fn trimmed(self) -> (i128, u32) {
        let (mut scaled, mut places) = (self.scaled, self.places);
        while places > 0 && scaled % 10 == 0 {
            scaled /= 10;
            places -= 1;
        }
        (scaled, places)
    }
}

impl Add for Exact {
    type Output = Exact;
    fn add(self, other: Exact) -> Exact {
        let places = self.places.max(other.places);
        Exact {
            scaled: self.at(places) + other.at(places),
            places,
        }
    }
}
impl Neg for Exact {
    type Output = Exact;
    fn neg(self) -> Exact {
        Exact {
            scaled: -self.scaled,
            places: self.places,
        }
    }
}
impl Sub for Exact {
    type Output = Exact;
    fn sub(self, other: Exact) -> Exact {
        self + -other
    }
}
impl std::iter::Sum for Exact {
    fn sum<I: Iterator<Item = Exact>>(numbers: I) -> Exact {
        numbers.fold(Exact::ZERO, Add::add)
    }
}
impl PartialEq for Exact {
    fn eq(&self, other: &Exact) -> bool {
        self.trimmed() == other.trimmed()
    }
}
impl Eq for Exact {}
impl std::hash::Hash for Exact {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        self.trimmed().hash(state);
    }
}
impl PartialOrd for Exact {
    fn partial_cmp(&self, other: &Exact) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Exact {
    fn cmp(&self, other: &Exact) -> Ordering {
        let places = self.places.max(other.places);
        self.at(places).cmp(&other.at(places))
    }
}

impl fmt::Display for Exact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.scaled < 0 { "-" } else { "" };
        let digits = self.scaled.unsigned_abs().to_string();
        let places = self.places as usize;
        if places == 0 {
            return write!(f, "{sign}{digits}");
        }
        let padded = format!("{digits:0>width$}", width = places + 1);
        let (whole, fraction) = padded.split_at(padded.len() - places);
        write!(f, "{sign}{whole}.{fraction}")
    }
}
impl fmt::Debug for Exact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn decimal(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    #[test]
    fn the_text_comes_back_as_it_was_read() {
        for text in ["12.340", "-0.000", "+1.5", "007", "-.5", ".25", "0"] {
            assert_eq!(decimal(text).as_str(), text);
            assert_eq!(format!("{:.1}", decimal(text)), text);
        }
    }

    #[test]
    fn what_is_not_a_plain_decimal_is_refused_and_says_why() {
        for text in [
            "",
            "-",
            "+",
            ".",
            "5.",
            "1,5",
            "1e3",
            " 1",
            "1 ",
            "1.2.3",
            "--1",
            "NaN",
            "inf",
            "\u{2212}1",
            "0x10",
            "1_000",
            "\u{661}",
        ] {
            assert!(text.parse::<Decimal>().is_err(), "{text:?} was taken");
        }
        let message = "1,5".parse::<Decimal>().unwrap_err().to_string();
        assert_eq!(
            message,
            "\"1,5\" is not a plain decimal (see \",\"); write digits with one point, like 12.340"
        );
        assert!("1234567890123456".parse::<Decimal>().is_err());
        assert!("0.1234567890123456".parse::<Decimal>().is_err());
    }

    #[test]
    fn a_hundred_tenths_make_ten_exactly() {
        // In binary 0.1 added up a hundred times is 9.99999999999998.
        let sum: Exact = (0..100).map(|_| decimal("0.1").exact()).sum();
        assert_eq!(sum, Exact::whole(10));
        assert_eq!(
            (decimal("0.3").exact() - decimal("0.1").exact()).to_string(),
            "0.2"
        );
        assert_eq!(
            (decimal("1").exact() - decimal("1.050").exact()).to_string(),
            "-0.050"
        );
    }

    #[test]
    fn value_and_text_are_compared_apart() {
        assert_ne!(decimal("12.340"), decimal("12.34"));
        assert_eq!(decimal("12.340").exact(), decimal("12.34").exact());
        assert!(decimal("-2").exact() < decimal("-1.999").exact());
    }

    #[test]
    fn json_is_a_string_and_never_a_number() {
        use serde::de::IntoDeserializer;
        use serde::de::value::{Error, F64Deserializer, StrDeserializer};
        let text: StrDeserializer<'_, Error> = "12.340".into_deserializer();
        assert_eq!(Decimal::deserialize(text).unwrap(), decimal("12.340"));
        let number: F64Deserializer<Error> = 12.34.into_deserializer();
        assert!(Decimal::deserialize(number).is_err());
    }

    proptest! {
        #[test]
        fn the_binary_value_is_the_nearest_one(text in "-?[0-9]{1,15}(\\.[0-9]{1,15})?") {
            // Oracle: the standard library's correctly rounded reading of the same text.
            let expected: f64 = text.parse().unwrap();
            prop_assert_eq!(decimal(&text).to_f64(), expected);
        }

        #[test]
        fn adding_and_taking_away_returns_the_number(a in "-?[0-9]{1,9}\\.[0-9]{0,6}1", b in "-?[0-9]{1,9}") {
            let (a, b) = (decimal(&a).exact(), decimal(&b).exact());
            prop_assert_eq!(a + b - b, a);
        }
    }
}

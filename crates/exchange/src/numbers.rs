//! Numbers as files write them: decimal commas, and units brought to metres or millimetres without loss.

use crate::findings::Findings;
use survey::{Decimal, LengthUnit};

/// Decimal places added when a unit has no finite decimal factor (the US survey foot): a millionth of the last
/// place read, so that going back and rounding returns the reading.
const EXTRA_PLACES: u32 = 6;

/// How the numbers of one file are written, learnt as they are read.
#[derive(Debug)]
pub(crate) struct NumberStyle {
    separator: u8,
    comma: Option<(u64, String)>,
    point: Option<(u64, String)>,
}

impl NumberStyle {
    pub(crate) fn new(separator: u8) -> NumberStyle {
        NumberStyle {
            separator,
            comma: None,
            point: None,
        }
    }

    /// Reads a number digit for digit; a decimal comma becomes a point. The error is a code and a sentence.
    pub(crate) fn read(&mut self, text: &str, row: u64) -> Result<Decimal, (&'static str, String)> {
        let bare = text.trim_start_matches(['+', '-']);
        if bare
            .get(..3)
            .is_some_and(|start| start.eq_ignore_ascii_case("nan") || start.eq_ignore_ascii_case("inf"))
        {
            let says = format!("{text:?} is not a number; write the reading, or leave the row out");
            return Err(("not-a-number", says));
        }
        let plain = |text: &str| {
            text.parse::<Decimal>()
                .map_err(|error| ("not-a-number", error.to_string()))
        };
        match text.matches(',').count() {
            0 => {
                if self.point.is_none() && text.contains('.') {
                    self.point = Some((row, text.to_owned()));
                }
                plain(text)
            }
            1 if self.separator != b',' && !text.contains('.') => {
                if self.comma.is_none() {
                    self.comma = Some((row, text.to_owned()));
                }
                plain(&text.replace(',', "."))
            }
            _ => Err((
                "comma-in-number",
                format!(
                    "{text:?} may mean thousands or a decimal; write it with one point and no other marks"
                ),
            )),
        }
    }

    /// Refuses a file that writes some numbers with a comma and some with a point.
    pub(crate) fn settle(&self, findings: &mut Findings) {
        if let (Some((comma_row, comma)), Some((point_row, point))) = (&self.comma, &self.point) {
            let says = format!(
                "row {comma_row} writes {comma} with a comma and row {point_row} writes {point} with a point, so \
                 one of the marks may be for thousands; write all numbers with one mark"
            );
            findings.refuse("two-decimal-marks", Some(*comma_row), None, says);
        }
    }
}

/// Brings a length from one unit to another.
///
/// Exact for metres, millimetres, inches and international feet. A US survey foot is 1200/3937 m, which no
/// decimal can hold: six places are added and the last is rounded half away from nought, so a conversion back,
/// rounded to the places read, returns the reading. `None` when the digits do not fit a [`Decimal`].
pub(crate) fn convert(value: &Decimal, from: LengthUnit, to: LengthUnit) -> Option<Decimal> {
    if from == to {
        return Some(value.clone());
    }
    let (from_over, from_under) = from.metres_as_fraction();
    let (to_over, to_under) = to.metres_as_fraction();
    let over = from_over * to_under;
    let under = from_under * to_over;
    let exact = value.exact();
    let extra = (0..=EXTRA_PLACES).find(|&k| (over * 10i128.pow(k)) % under == 0);
    let extra = extra.unwrap_or(EXTRA_PLACES);
    let product = exact.scaled().checked_mul(over * 10i128.pow(extra))?;
    let (quotient, rest) = (product / under, product % under);
    let rounded = if rest.abs() * 2 >= under {
        quotient + product.signum()
    } else {
        quotient
    };
    let places = (exact.places() + extra) as usize;
    let digits = format!("{:0>width$}", rounded.unsigned_abs(), width = places + 1);
    let (whole, fraction) = digits.split_at(digits.len() - places);
    let sign = if rounded < 0 { "-" } else { "" };
    let point = if places == 0 { "" } else { "." };
    format!("{sign}{whole}{point}{fraction}").parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn metres(text: &str, unit: LengthUnit) -> String {
        let value = text.parse().unwrap();
        convert(&value, unit, LengthUnit::Metre).unwrap().to_string()
    }

    #[test]
    fn the_foot_the_inch_and_the_millimetre_are_exact() {
        // Definitions: the international foot is 0.3048 m and the inch 0.0254 m, both exactly.
        assert_eq!(metres("1", LengthUnit::InternationalFoot), "0.3048");
        assert_eq!(metres("-10.00", LengthUnit::InternationalFoot), "-3.048000");
        assert_eq!(metres("12", LengthUnit::Inch), "0.3048");
        assert_eq!(metres("1250.5", LengthUnit::Millimetre), "1.2505");
    }

    #[test]
    fn the_us_survey_foot_is_1200_over_3937_of_a_metre() {
        // Definition: 1 m is 3937/1200 US survey feet, exactly.
        assert_eq!(metres("3937", LengthUnit::UsSurveyFoot), "1200.000000");
        assert_eq!(metres("3937.00", LengthUnit::UsSurveyFoot), "1200.00000000");
        assert_eq!(metres("1", LengthUnit::UsSurveyFoot), "0.304801"); // 0.3048006096...
        assert_eq!(metres("-1.000", LengthUnit::UsSurveyFoot), "-0.304800610");
    }

    #[test]
    fn digits_that_do_not_fit_are_refused() {
        let long: Decimal = "0.123456789012345".parse().unwrap();
        assert_eq!(convert(&long, LengthUnit::UsSurveyFoot, LengthUnit::Metre), None);
    }

    proptest! {
        #[test]
        fn both_feet_come_back_digit_for_digit(text in "-?[1-9][0-9]{0,7}\\.[0-9]{0,5}[1-9]", us in any::<bool>()) {
            let unit = if us { LengthUnit::UsSurveyFoot } else { LengthUnit::InternationalFoot };
            let read: Decimal = text.parse().unwrap();
            let metres = convert(&read, unit, LengthUnit::Metre).unwrap().exact();
            // Back by cross multiplication in whole numbers: feet = metres * under / over.
            let (over, under) = unit.metres_as_fraction();
            let drop = 10i128.pow(metres.places() - read.places());
            let twice = 2 * metres.scaled() * under / (over * drop);
            let nearest = (twice + twice.signum()) / 2;
            prop_assert_eq!(nearest, read.exact().scaled());
        }
    }
}

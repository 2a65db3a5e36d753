//! One row, asked for values by what they mean.

use crate::columns::{Columns, Holds};
use crate::findings::Findings;
use crate::numbers::{NumberStyle, convert};
use csv::StringRecord;
use survey::{Decimal, LengthUnit};

/// Longest label, characters.
pub(crate) const LONGEST_LABEL: usize = 200;

/// A row of a table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row<'a> {
    record: &'a StringRecord,
    /// Row in the file, counted from 1, the header included.
    pub number: u64,
    columns: &'a Columns,
}

impl<'a> Row<'a> {
    pub(crate) fn new(record: &'a StringRecord, number: u64, columns: &'a Columns) -> Row<'a> {
        Row {
            record,
            number,
            columns,
        }
    }

    /// Returns a value without the blanks around it; `None` when it is blank or has no column.
    pub(crate) fn text(&self, field: usize) -> Option<&'a str> {
        let located = self.columns.at[field].as_ref()?;
        let value = self.record.get(located.index)?.trim();
        (!value.is_empty()).then_some(value)
    }

    /// Returns a value with the blanks around it; `None` when it is empty or has no column.
    pub(crate) fn whole_text(&self, field: usize) -> Option<&'a str> {
        let located = self.columns.at[field].as_ref()?;
        self.record.get(located.index).filter(|value| !value.is_empty())
    }

    /// Returns a text that must be there.
    pub(crate) fn need_text(&self, field: usize, findings: &mut Findings) -> Option<&'a str> {
        let text = self.text(field);
        if text.is_none() {
            self.refuse_empty(field, findings);
        }
        text
    }

    /// Returns a label as it will be recorded, its prefix before it; a longer one than is kept is refused.
    pub(crate) fn label(
        &self,
        field: usize,
        label: Option<String>,
        findings: &mut Findings,
    ) -> Option<String> {
        let label = label?;
        if label.chars().count() > LONGEST_LABEL {
            let says = format!("the label is longer than {LONGEST_LABEL} characters; shorten it");
            self.refuse(field, "text-too-long", says, findings);
            return None;
        }
        Some(label)
    }

    /// Returns the header of a column as the file calls it.
    pub(crate) fn header(&self, field: usize) -> &'a str {
        self.columns.header(field)
    }

    /// Refuses the value of a column.
    pub(crate) fn refuse(&self, field: usize, code: &str, says: impl Into<String>, findings: &mut Findings) {
        findings.refuse(code, Some(self.number), Some(self.header(field)), says);
    }

    /// Reads a number in metres, millimetres or none, as its column is kept. `None` after a refusal or when blank.
    ///
    /// What was converted from another unit is added to `notes` as it was read.
    pub(crate) fn decimal(
        &self,
        field: usize,
        numbers: &mut NumberStyle,
        notes: &mut Vec<String>,
        findings: &mut Findings,
    ) -> Option<Decimal> {
        let text = self.text(field)?;
        let read = match numbers.read(text, self.number) {
            Ok(read) => read,
            Err((code, says)) => {
                self.refuse(field, code, says, findings);
                return None;
            }
        };
        let located = self.columns.at[field].as_ref()?;
        let spec = self.columns.specs[field];
        let kept_in = match spec.holds {
            Holds::Metres => LengthUnit::Metre,
            Holds::Millimetres => LengthUnit::Millimetre,
            Holds::Number | Holds::Text => return Some(read),
        };
        if kept_in == located.unit {
            return Some(read);
        }
        let converted = convert(&read, located.unit, kept_in);
        if converted.is_none() {
            let says = format!(
                "{text} has too many digits to be brought to {}; leave some out",
                kept_in.symbol()
            );
            self.refuse(field, "too-many-digits", says, findings);
        }
        notes.push(format!("{}_{}={text}", spec.name, located.unit.symbol()));
        converted
    }

    /// Reads a number that must be there.
    pub(crate) fn need_decimal(
        &self,
        field: usize,
        numbers: &mut NumberStyle,
        notes: &mut Vec<String>,
        findings: &mut Findings,
    ) -> Option<Decimal> {
        if self.text(field).is_none() {
            self.refuse_empty(field, findings);
            return None;
        }
        self.decimal(field, numbers, notes, findings)
    }

    /// Reads a number that must lie above nought and at most at `most`.
    pub(crate) fn positive(
        &self,
        field: usize,
        most: f64,
        numbers: &mut NumberStyle,
        notes: &mut Vec<String>,
        findings: &mut Findings,
    ) -> Option<Decimal> {
        let value = self.decimal(field, numbers, notes, findings)?;
        let size = value.to_f64();
        if size > 0.0 && size <= most {
            return Some(value);
        }
        let says = if size <= 0.0 {
            format!("{value} is not above nought; leave it blank when it is not known")
        } else {
            format!("{value} is more than {most}, which is not believed; look at its unit")
        };
        self.refuse(field, "absurd-size", says, findings);
        None
    }

    /// Reads a whole number from 1 to `most`.
    pub(crate) fn count(&self, field: usize, most: u32, findings: &mut Findings) -> Option<u32> {
        let text = self.text(field)?;
        match text.parse::<u32>() {
            Ok(count) if (1..=most).contains(&count) => Some(count),
            _ => {
                let says = format!("{text:?} is not a whole number from 1 to {most}");
                self.refuse(field, "absurd-size", says, findings);
                None
            }
        }
    }

    /// Reads a word of a closed list; another word is refused with the list that `allowed` makes.
    pub(crate) fn word<T>(
        &self,
        field: usize,
        read: impl Fn(&str) -> Option<T>,
        allowed: impl Fn() -> Vec<&'static str>,
        findings: &mut Findings,
    ) -> Option<T> {
        let text = self.text(field)?;
        let word = read(text);
        if word.is_none() {
            let says = format!("{text:?} is not one of {}", allowed().join(", "));
            self.refuse(field, "unknown-word", says, findings);
        }
        word
    }

    /// Reads when something was observed.
    pub(crate) fn time(&self, field: usize, findings: &mut Findings) -> Option<String> {
        let read = register::time::observed(self.text(field)?);
        read.inspect_err(|e| self.refuse(field, "not-a-time", e.to_string(), findings))
            .ok()
    }

    /// Returns what unknown columns hold, as `header=value`.
    pub(crate) fn notes(&self) -> impl Iterator<Item = String> + '_ {
        let values = self.columns.notes.iter().filter_map(|(index, header)| {
            let value = self.record.get(*index)?;
            (!value.trim().is_empty()).then_some((header, value))
        });
        values.map(|(header, value)| format!("{header}={value}"))
    }

    fn refuse_empty(&self, field: usize, findings: &mut Findings) {
        let says = format!(
            "the {} is missing; nothing stands in for it",
            self.columns.specs[field].name
        );
        self.refuse(field, "value-missing", says, findings);
    }
}

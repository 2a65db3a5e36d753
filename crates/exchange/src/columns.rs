//! Columns by name: which header is which, in which unit.

use crate::findings::Findings;
use survey::LengthUnit;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Holds {
    /// Text or a word of a closed list.
    Text,
    /// A length kept in metres; metres unless the name or a person says another unit.
    Metres,
    /// A length kept in millimetres; the name must say its unit.
    Millimetres,
    /// A number without a unit of length.
    Number,
}

/// One column of a kind of file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ColumnSpec {
    /// Its name without a unit.
    pub name: &'static str,
    /// What it holds.
    pub holds: Holds,
}

/// Returns a column's spec, for the tables of columns.
pub(crate) const fn spec(name: &'static str, holds: Holds) -> ColumnSpec {
    ColumnSpec { name, holds }
}

/// A column of the file that was recognised.
#[derive(Debug, Clone)]
pub(crate) struct Located {
    /// Which one in a row, from 0.
    pub index: usize,
    /// Its unit.
    pub unit: LengthUnit,
    /// As the file calls it.
    pub header: String,
}

/// The columns of one file.
#[derive(Debug, Clone)]
pub(crate) struct Columns {
    /// What the kind of file knows.
    pub specs: &'static [ColumnSpec],
    /// For each spec, where it is.
    pub at: Vec<Option<Located>>,
    /// Columns that are kept as notes.
    pub notes: Vec<(usize, String)>,
    /// How many values a row has.
    pub width: usize,
}

/// What a name stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Meaning {
    /// A known column, and its unit when the name says one.
    Known(usize, Option<LengthUnit>),
    /// A known column that needs a unit in its name.
    NeedsUnit(usize),
    /// None of ours.
    Unknown,
}

const UNITS: [LengthUnit; 5] = [
    LengthUnit::UsSurveyFoot,
    LengthUnit::InternationalFoot,
    LengthUnit::Inch,
    LengthUnit::Millimetre,
    LengthUnit::Metre,
];

/// Returns what a header's text stands for; case, spaces and hyphens do not matter.
pub(crate) fn meaning(specs: &[ColumnSpec], header: &str) -> Meaning {
    let name: String = header
        .trim()
        .chars()
        .map(|c| match c {
            ' ' | '-' => '_',
            c => c.to_ascii_lowercase(),
        })
        .collect();
    let find = |wanted: &str| specs.iter().position(|spec| spec.name == wanted);
    if let Some(at) = find(&name) {
        return match specs[at].holds {
            Holds::Millimetres => Meaning::NeedsUnit(at),
            _ => Meaning::Known(at, None),
        };
    }
    for unit in UNITS {
        let base = name
            .strip_suffix(unit.symbol())
            .and_then(|base| base.strip_suffix('_'));
        if let Some(at) = base.and_then(find)
            && matches!(specs[at].holds, Holds::Metres | Holds::Millimetres)
        {
            return Meaning::Known(at, Some(unit));
        }
    }
    Meaning::Unknown
}

/// Returns a column's name as our own files write it.
pub(crate) fn written_name(spec: &ColumnSpec) -> String {
    match spec.holds {
        Holds::Millimetres => format!("{}_mm", spec.name),
        _ => spec.name.to_owned(),
    }
}

/// Returns all names that a kind of file knows, for a sentence.
pub(crate) fn names(specs: &[ColumnSpec]) -> String {
    specs.iter().map(written_name).collect::<Vec<_>>().join(", ")
}

impl Columns {
    /// Matches headers against what the kind of file knows; doubles, missing units and missing columns are refused.
    pub(crate) fn from_headers(
        specs: &'static [ColumnSpec],
        required: &[usize],
        headers: &[String],
        unit: Option<LengthUnit>,
        findings: &mut Findings,
    ) -> Columns {
        let mut columns = Columns {
            specs,
            at: vec![None; specs.len()],
            notes: Vec::new(),
            width: headers.len(),
        };
        let mut unitless = Vec::new();
        for (index, header) in headers.iter().enumerate() {
            match meaning(specs, header) {
                Meaning::Known(at, stated) => {
                    let default = match specs[at].holds {
                        Holds::Metres => unit.unwrap_or(LengthUnit::Metre),
                        _ => LengthUnit::Millimetre,
                    };
                    columns.place(at, index, stated.unwrap_or(default), header, findings);
                }
                Meaning::NeedsUnit(at) => {
                    unitless.push(at);
                    let says = format!(
                        "the column {header} does not say its unit; name it {name}_mm or {name}_in",
                        name = specs[at].name
                    );
                    findings.refuse("unit-missing", Some(1), Some(header), says);
                }
                Meaning::Unknown => columns.note(index, header, findings),
            }
        }
        let missing = required
            .iter()
            .filter(|&&at| columns.at[at].is_none() && !unitless.contains(&at));
        for &at in missing {
            let found: Vec<&str> = headers.iter().map(String::as_str).collect();
            let says = format!(
                "there is no column {}; the file has {}; name that column in the header",
                specs[at].name,
                found.join(", ")
            );
            findings.refuse("column-missing", Some(1), Some(specs[at].name), says);
        }
        columns
    }

    fn place(&mut self, at: usize, index: usize, unit: LengthUnit, header: &str, findings: &mut Findings) {
        if let Some(first) = &self.at[at] {
            let says = format!(
                "columns {} ({}) and {} ({header}) both mean {}; leave one",
                first.index + 1,
                first.header,
                index + 1,
                self.specs[at].name
            );
            findings.refuse("column-twice", Some(1), Some(header), says);
            return;
        }
        self.at[at] = Some(Located {
            index,
            unit,
            header: header.to_owned(),
        });
    }

    fn note(&mut self, index: usize, header: &str, findings: &mut Findings) {
        let header = header.trim();
        if header == "-" {
            return;
        }
        if header.is_empty() {
            self.notes.push((index, format!("column {}", index + 1)));
            return;
        }
        let says = format!("the column {header} is none of ours and is kept with each row as a note");
        findings.note("kept-as-note", Some(1), Some(header), says);
        self.notes.push((index, header.to_owned()));
    }

    /// Returns the header of a column, or its own name where the file has none.
    pub(crate) fn header(&self, field: usize) -> &str {
        match &self.at[field] {
            Some(located) => &located.header,
            None => self.specs[field].name,
        }
    }
}

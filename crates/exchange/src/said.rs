//! What several rows say of one thing: kept as said first, and refused where they disagree.

use crate::findings::Findings;
use crate::row::Row;
use survey::Decimal;

/// A value, the row that said it first, and how it is written there.
#[derive(Debug, Clone)]
pub(crate) struct Said<T> {
    pub value: T,
    pub row: u64,
    written: String,
}

/// A row that speaks of a thing which has one of everything: a run, an area.
pub(crate) struct Speaker<'a> {
    /// `run` or `area`.
    pub kind: &'static str,
    pub name: &'a str,
    pub row: &'a Row<'a>,
}

impl Speaker<'_> {
    /// Keeps what was said first; another value is refused with both rows.
    pub(crate) fn says<T: Alike>(
        &self,
        field: usize,
        said: &mut Option<Said<T>>,
        value: Option<T>,
        findings: &mut Findings,
    ) {
        let Some(value) = value else { return };
        let written = self.row.text(field).unwrap_or("");
        match said {
            None => {
                *said = Some(Said {
                    value,
                    row: self.row.number,
                    written: written.to_owned(),
                });
            }
            Some(first) if !first.value.alike(&value) => {
                let Speaker { kind, name, row } = self;
                let article = if *kind == "area" { "an" } else { "a" };
                let says = format!(
                    "{kind} {name} has {} in row {} and {written} in row {}; {article} {kind} has one, so put one right or \
                     make two {kind}s",
                    first.written, first.row, row.number
                );
                row.refuse(field, &format!("{kind}-disagrees"), says, findings);
            }
            Some(_) => {}
        }
    }
}

/// Tells whether two values say the same.
pub(crate) trait Alike {
    fn alike(&self, other: &Self) -> bool;
}

impl Alike for Decimal {
    /// 110 and 110.0 are one number.
    fn alike(&self, other: &Decimal) -> bool {
        self.exact() == other.exact()
    }
}

impl Alike for String {
    fn alike(&self, other: &String) -> bool {
        self == other
    }
}

impl Alike for u32 {
    fn alike(&self, other: &u32) -> bool {
        self == other
    }
}

impl Alike for register::service::Service {
    fn alike(&self, other: &register::service::Service) -> bool {
        self == other
    }
}

//! Findings: what a careful person would ask about a result that is not wrong enough to refuse.

use std::fmt;

/// A doubt about a result: a code for programs, a place and a sentence for people.
///
/// An error means nothing was computed; a finding travels beside a result, and a person decides.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// What kind of doubt it is, in kebab case and stable between versions (`misclosure-over-limit`).
    pub code: &'static str,
    /// Where it lies: a row, a point or a set-up as the person named it.
    pub place: String,
    /// What was seen and what to do, in one sentence: lower case, no full stop.
    pub sentence: String,
}

impl Finding {
    /// Returns a finding made of its three parts.
    pub fn new(code: &'static str, place: impl Into<String>, sentence: impl Into<String>) -> Finding {
        Finding {
            code,
            place: place.into(),
            sentence: sentence.into(),
        }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {} [{}]", self.place, self.sentence, self.code)
    }
}
